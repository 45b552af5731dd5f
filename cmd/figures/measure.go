//go:build linux

package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"time"

	"golang.org/x/sys/unix"
)

func median[T time.Duration | float64](values []T) T {
	values = slices.Sorted(slices.Values(values))
	return values[len(values)/2]
}

// processor returns how long this process has kept processors busy.
func processor() time.Duration {
	var u unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
		panic(err) // it has no reason to
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// child runs a command on one core and returns how long it kept it busy.
func child(name string, args ...string) (time.Duration, error) {
	cmd := exec.Command(name, args...)
	cmd.Env = append(os.Environ(), "GOMAXPROCS=1")
	if out, err := cmd.CombinedOutput(); err != nil {
		return 0, fmt.Errorf("%s: %v\n%.300s", cmd, err, out)
	}
	return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime(), nil
}

// residentWhileRunning runs a command on one core and returns the most memory in kB that it was seen to have had. It
// looks every few milliseconds: what the system tells after the end counts this process's memory in.
func residentWhileRunning(name string, args ...string) (most int, err error) {
	cmd := exec.Command(name, args...)
	cmd.Env = append(os.Environ(), "GOMAXPROCS=1")
	if err := cmd.Start(); err != nil {
		return 0, err
	}
	ended := make(chan error)
	go func() { ended <- cmd.Wait() }()
	for {
		select {
		case err := <-ended:
			return most, err
		case <-time.After(2 * time.Millisecond):
			if kB, err := resident(cmd.Process); err == nil { // else it is ending
				most = kB
			}
		}
	}
}

var highWater = regexp.MustCompile(`VmHWM:\s+(\d+) kB`)

// resident returns the most memory in kB that a running process has had.
func resident(p *os.Process) (int, error) {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.Pid))
	if err != nil {
		return 0, err
	}
	found := highWater.FindSubmatch(status)
	if found == nil {
		return 0, errors.New("the system does not tell the memory of a process")
	}
	return strconv.Atoi(string(found[1]))
}

// exponent returns how what was measured grows with its size: 1 is in proportion, 0 not at all. It is the slope of
// the least-squares line through the logarithms.
func exponent(sizes []int, took []time.Duration) float64 {
	var mx, my float64
	for i, n := range sizes {
		mx += math.Log(float64(n)) / float64(len(sizes))
		my += math.Log(took[i].Seconds()) / float64(len(sizes))
	}
	var sxy, sxx float64
	for i, n := range sizes {
		dx := math.Log(float64(n)) - mx
		sxy += dx * (math.Log(took[i].Seconds()) - my)
		sxx += dx * dx
	}
	return sxy / sxx
}

// short prints a duration with three digits.
func short(d time.Duration) string {
	unit := time.Duration(1)
	for d >= 1000*unit {
		unit *= 10
	}
	return d.Round(unit).String()
}
