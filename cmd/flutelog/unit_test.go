package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"flutelog/cmd/flutelog/internal/command"
)

// unitFile returns the unit for systemd, and the command that it starts.
func unitFile(t *testing.T) (unit []byte, command []string) {
	t.Helper()
	unit, err := os.ReadFile("flutelog.service")
	if err != nil {
		t.Fatal(err)
	}
	start := regexp.MustCompile(`(?m)^ExecStart=(.*)$`).FindSubmatch(unit)
	if start == nil {
		t.Fatal("the unit starts nothing")
	}
	return unit, strings.Fields(string(start[1]))
}

// What the unit starts is a command with flags that it has, and is let do what it must: a refused question to
// the kernel is an error that the ledger copes with, where a killed program would record nothing.
func TestUnitStarts(t *testing.T) {
	unit, starts := unitFile(t)
	if status, _, stderr := runArgs(t, append(starts[1:], "--help")...); status != command.StatusDone {
		t.Errorf("%v: status %d: %s", starts, status, stderr)
	}
	if !bytes.Contains(unit, []byte("\nSystemCallErrorNumber=EPERM\n")) {
		t.Error("a refused system call kills the program; want SystemCallErrorNumber=EPERM")
	}
	if bytes.Contains(unit, []byte("\nProcSubset=pid\n")) {
		t.Error("with ProcSubset=pid no record says which start of the board it is of")
	}
}

// The unit is hardened: systemd's own rating of what a service is exposed to, 10 at the worst. Nothing in it is
// unknown to systemd.
func TestUnitIsHardened(t *testing.T) {
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		if os.Getenv("FLUTELOG_TEST_NEEDS_ALL") != "" {
			t.Fatal("no systemd-analyze here, and it is required")
		}
		t.Skip("no systemd-analyze (Debian: systemd) here to rate the unit with")
	}
	unit, starts := unitFile(t)
	here, err := os.Executable() // stands for the program, which is not installed here
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "flutelog.service")
	if err := os.WriteFile(path, bytes.Replace(unit, []byte(starts[0]), []byte(here), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("systemd-analyze", "verify", path).CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("systemd-analyze verify: %v\n%s", err, out)
	}
	out, err := exec.Command("systemd-analyze", "security", "--offline=true", "--no-pager", path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	level := regexp.MustCompile(`Overall exposure level for .*: ([0-9.]+) `).FindSubmatch(out)
	if level == nil {
		t.Fatalf("no level in %s", out)
	}
	if exposed, err := strconv.ParseFloat(string(level[1]), 64); err != nil || exposed > 2 {
		t.Errorf("exposed to %s, want 2 at most", level[1])
	}
}
