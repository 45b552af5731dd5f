//go:build unix

package ledger

import (
	"errors"
	"os"
	"syscall"
)

// plainOnly keeps an opening from following a link and from waiting for the other end of a pipe.
const plainOnly = syscall.O_NOFOLLOW | syscall.O_NONBLOCK

func tryLock(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return errHeld
	}
	return os.NewSyscallError("flock", err)
}

// syncFolder makes the names in a folder durable.
func syncFolder(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}
