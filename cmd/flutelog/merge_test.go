package main

import (
	"bufio"
	"context"
	"io"
	"strings"
	"testing"
	"time"

	"flutelog/cmd/flutelog/internal/command"
)

// A folder that benches share is merged at once and again later; one that is away is said, and keeps nothing else from
// being merged.
func TestKeepMerging(t *testing.T) {
	theirs, ours := t.TempDir(), t.TempDir()
	add := func(id string) {
		t.Helper()
		if status, _, errs := commandLine(theirs, "tool", "add", id, "--diameter", "0.5in", "--flutes", "4", "--material", "hss"); status != 0 {
			t.Fatal(errs)
		}
	}
	add("EM-1")
	ctx, stop := context.WithCancel(t.Context())
	out, stdout := io.Pipe()
	errs, stderr := io.Pipe()
	ended := make(chan error, 1)
	go func() {
		e := command.Env{Stdin: strings.NewReader(""), Stdout: stdout, Stderr: stderr, Getenv: func(string) string { return "" }, Now: time.Now}
		ended <- keepMerging(ctx, e, &command.Places{Ledger: ours}, []string{theirs + "-away", theirs}, time.Millisecond, false)
		stdout.Close()
		stderr.Close()
	}()
	said := bufio.NewScanner(errs)
	if !said.Scan() || !strings.Contains(said.Text(), "-away") || !strings.Contains(said.Text(), "tried again") {
		t.Errorf("of the folder that is away: %q", said.Text())
	}
	go io.Copy(io.Discard, errs)
	lines := bufio.NewScanner(out)
	next := func(want string) {
		t.Helper()
		for lines.Scan() {
			if strings.Contains(lines.Text(), want) {
				return
			}
		}
		t.Fatalf("it ended without %q", want)
	}
	next("1 new record")
	add("EM-2")
	next("1 new record")
	stop()
	go io.Copy(io.Discard, out)
	if err := <-ended; err != nil {
		t.Errorf("stopped: %v", err)
	}
	if status, out, _ := commandLine(ours, "tool", "list"); status != 0 || !strings.Contains(out, "EM-1") || !strings.Contains(out, "EM-2") {
		t.Errorf("merged: status %d, %s", status, out)
	}
}
