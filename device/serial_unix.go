//go:build unix

package device

import (
	"errors"
	"fmt"
	"io"
	"os"
	"sync"

	"golang.org/x/sys/unix"
)

// lockPort locks a port by an advisory lock on a descriptor of its own. The library's exclusive open alone is not
// enough: a privileged program passes it, and its close clears it.
func lockPort(name string) (io.Closer, error) {
	f, err := os.OpenFile(name, os.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	switch {
	case errors.Is(err, unix.EBUSY):
		return nil, ErrInUse
	case err != nil:
		return nil, err
	}
	fd := int(f.Fd())
	if err := unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB); err != nil {
		f.Close()
		if errors.Is(err, unix.EWOULDBLOCK) {
			return nil, ErrInUse
		}
		return nil, fmt.Errorf("locking: %w", err)
	}
	return f, nil
}

// selectMost is how many descriptors the system's select can wait on; the serial library waits by it and
// panics at a descriptor beyond.
const selectMost = 1024

// limitDescriptors lowers this process's limit of open files so far that no port gets a descriptor that the serial
// library cannot wait on. A program that opens no serial port is left as it is.
var limitDescriptors = sync.OnceValue(func() error {
	var limit unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_NOFILE, &limit); err != nil {
		return fmt.Errorf("reading the limit of open files: %w", err)
	}
	if limit.Cur <= selectMost {
		return nil
	}
	limit.Cur = selectMost
	if err := unix.Setrlimit(unix.RLIMIT_NOFILE, &limit); err != nil {
		return fmt.Errorf("lowering the limit of open files to %d: %w", selectMost, err)
	}
	return nil
})

func lacksModemLines(err error) bool {
	return errors.Is(err, unix.ENOTTY) || errors.Is(err, unix.EINVAL)
}
