package ledger

import (
	"os"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// systemTime reads the machine's clocks.
func systemTime() Time {
	t := Time{UTC: time.Now(), Synchronised: synchronised()}
	var up unix.Timespec
	if unix.ClockGettime(unix.CLOCK_BOOTTIME, &up) == nil {
		t.SinceBoot = time.Duration(up.Nano())
	}
	if id, err := os.ReadFile("/proc/sys/kernel/random/boot_id"); err == nil {
		t.Boot = strings.TrimSpace(string(id))
	}
	return t
}

// synchronised asks the kernel, and where a service manager forbids that, looks for the file that the
// usual time service leaves when it has set the clock.
func synchronised() bool {
	var tx unix.Timex
	state, err := unix.Adjtimex(&tx)
	if err == nil {
		return state != unix.TIME_ERROR && tx.Status&unix.STA_UNSYNC == 0
	}
	_, err = os.Stat("/run/systemd/timesync/synchronized")
	return err == nil
}
