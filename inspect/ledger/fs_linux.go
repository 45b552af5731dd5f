package ledger

import (
	"os"

	"golang.org/x/sys/unix"
)

// syncData syncs the data and the length, which is all that reading back needs; fsync would also write
// the times of the file.
func syncData(f *os.File) error {
	for {
		err := unix.Fdatasync(int(f.Fd()))
		if err != unix.EINTR {
			return os.NewSyscallError("fdatasync", err)
		}
	}
}
