package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"
)

// README's unit is hardened: systemd's own rating of what a service is exposed to, 10 at the worst.
func TestUnitIsHardened(t *testing.T) {
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		if os.Getenv("FLUTELOG_TEST_NEEDS_ALL") != "" {
			t.Fatal("no systemd-analyze here, and it is required")
		}
		t.Skip("no systemd-analyze (Debian: systemd) here to rate the unit with")
	}
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	block := regexp.MustCompile("(?s)```ini\n(.*?)```").FindSubmatch(text)
	if block == nil {
		t.Fatal("README has no unit")
	}
	unit := filepath.Join(t.TempDir(), "flutelog.service")
	if err := os.WriteFile(unit, block[1], 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("systemd-analyze", "security", "--offline=true", "--no-pager", unit).CombinedOutput()
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
