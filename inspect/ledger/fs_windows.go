package ledger

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// plainOnly adds nothing here: a link is found before it is opened.
const plainOnly = 0

// tryLock locks one byte far behind any data, since a lock here also keeps others from reading.
func tryLock(f *os.File) error {
	at := windows.Overlapped{OffsetHigh: 1 << 30}
	const flags = windows.LOCKFILE_EXCLUSIVE_LOCK | windows.LOCKFILE_FAIL_IMMEDIATELY
	err := windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, &at)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return errHeld
	}
	return os.NewSyscallError("LockFileEx", err)
}

// syncFolder does nothing: this system has no way to sync a folder, and orders its names itself.
func syncFolder(string) error { return nil }
