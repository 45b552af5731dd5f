package ledger

import (
	"errors"
	"runtime"
	"testing"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Where a service manager refuses the question whether the clock is set, as it does to a hardened service, the
// machine's clocks are read all the same. The thread that the question is refused on ends with its goroutine.
func TestClockUnderFilter(t *testing.T) {
	result := make(chan error)
	var got Time
	go func() {
		runtime.LockOSThread()
		err := refuse(unix.SYS_ADJTIMEX)
		if err == nil {
			var tx unix.Timex
			if _, asked := unix.Adjtimex(&tx); !errors.Is(asked, unix.EPERM) {
				err = errors.New("the question is not refused")
			}
			got = systemTime()
		}
		result <- err
	}()
	if err := <-result; errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) {
		t.Skipf("this kernel, or the emulator that stands for it, has no filters: %v", err)
	} else if err != nil {
		t.Fatal(err)
	}
	if got.UTC.IsZero() || got.SinceBoot == 0 || got.Boot == "" {
		t.Errorf("got %+v", got)
	}
	if want := unix.Access("/run/systemd/timesync/synchronized", unix.F_OK) == nil; got.Synchronised != want {
		t.Errorf("synchronised: %v, want %v as the time service's file says", got.Synchronised, want)
	}
}

// refuse makes the kernel answer one system call of this thread with EPERM.
func refuse(call uint32) error {
	const number = 0 // where seccomp_data has the call's number
	program := []unix.SockFilter{
		{Code: unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, K: number},
		{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, Jt: 0, Jf: 1, K: call},
		{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_ERRNO | uint32(unix.EPERM)},
		{Code: unix.BPF_RET | unix.BPF_K, K: unix.SECCOMP_RET_ALLOW},
	}
	filter := unix.SockFprog{Len: uint16(len(program)), Filter: &program[0]}
	if err := unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0); err != nil {
		return err
	}
	if _, _, errno := unix.Syscall(unix.SYS_PRCTL, unix.PR_SET_SECCOMP, unix.SECCOMP_MODE_FILTER, uintptr(unsafe.Pointer(&filter))); errno != 0 {
		return errno
	}
	return nil
}
