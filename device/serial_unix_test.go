//go:build unix

package device

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

func TestPortIsLocked(t *testing.T) {
	p := quick(Button)
	gauge := practice(t, p, nil)
	p.Port = gauge.Port()
	first, err := OpenSerial(p)()
	if err != nil {
		t.Fatal(err)
	}
	// The lock is the kernel's own: another descriptor cannot take it, whoever asks.
	f, err := os.OpenFile(p.Port, os.O_RDONLY|unix.O_NOCTTY|unix.O_NONBLOCK, 0)
	if err == nil {
		if err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); !errors.Is(err, unix.EWOULDBLOCK) {
			t.Errorf("locking an open port: got %v, want EWOULDBLOCK", err)
		}
		f.Close()
	} else if !errors.Is(err, unix.EBUSY) { // without privilege the exclusive open stands in the way
		t.Error(err)
	}
	if _, err := OpenSerial(p)(); err == nil || !strings.Contains(err.Error(), "in use") {
		t.Errorf("opening an open port: got %v, want in use", err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := OpenSerial(p)()
	if err != nil {
		t.Fatalf("opening a closed port: %v", err)
	}
	again.Close()
}

func TestOpenSerialRefuses(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for port, want := range map[string]string{"": "no port", file: "not a serial port", file + "x": "plugged in"} {
		if _, err := OpenSerial(Profile{Port: port})(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want an error with %q", port, err, want)
		}
	}
	if _, err := OpenSerial(Profile{Port: file + "x"})(); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("got %v, want it to be fs.ErrNotExist", err)
	}
}

// With every descriptor below the limit in use the library still cannot be given one it panics at.
func TestDescriptorLimit(t *testing.T) {
	gauge := practice(t, quick(Button), nil)
	l, err := gauge.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	var open []*os.File
	defer func() {
		for _, f := range open {
			f.Close()
		}
	}()
	for len(open) <= selectMost {
		f, err := os.Open(os.DevNull)
		if errors.Is(err, unix.EMFILE) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if f.Fd() >= selectMost {
			t.Fatalf("descriptor %d can be had", f.Fd())
		}
		open = append(open, f)
	}
}

// A pseudo-terminal has no modem lines: a profile that sets them reads it all the same.
func TestModemLinesWherePortHasNone(t *testing.T) {
	p := quick(Poll)
	p.DTR, p.RTS = "on", "off"
	gauge := practice(t, p, []Step{{tenths(3), NoFault}})
	g := gaugeOn(t, gauge.Open, p, nil)
	if f, err := g.Take(inTime(t)); err != nil || f.Value != tenths(3) {
		t.Errorf("got %s, %v", f.Value, err)
	}
}
