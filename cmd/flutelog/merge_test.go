package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"io"
	"os"
	"path/filepath"
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

// An inspection is of the bench at which it was read, whichever bench ruled on it: so a report of that bench has it, and
// one of the other has not. The tools of a report say which inspection the ruling is of.
func TestReportOfTheBenchThatInspected(t *testing.T) {
	ours, theirs, dir := t.TempDir(), t.TempDir(), t.TempDir()
	file := func(name, content string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	lax := file("bench.toml", "[stage.before]\nrequired = []\n[stage.after]\nrequired = []\n")
	good := file("good.csv", "feature,flute,from_end,repeat,value,unit\nradial-runout,1,,1,0,in\nradial-runout,2,,1,0.0001,in\nradial-runout,1,,2,0,in\nradial-runout,2,,2,0.0001,in\nradial-runout,1,,3,0,in\nradial-runout,2,,3,0.0001,in\n")
	run := func(ledger string, args ...string) string {
		t.Helper()
		status, out, errs := commandLine(ledger, args...)
		if status != 0 {
			t.Fatalf("%v: status %d: %s", args, status, errs)
		}
		return out
	}
	id := func(ledger string) string {
		t.Helper()
		text, err := os.ReadFile(filepath.Join(ledger, "bench"))
		if err != nil {
			t.Fatal(err)
		}
		_, id, _ := strings.Cut(strings.TrimSpace(string(text)), " ")
		return id
	}
	run(ours, "tool", "add", "EM-1", "--diameter", "0.5in", "--flutes", "2", "--material", "hss")
	run(ours, "inspect", "EM-1", "--stage", "after", "--readings", good, "--bench", lax)
	run(theirs, "ledger", "merge", ours)
	run(theirs, "tool", "release", "EM-1.1", "--by", "Vale")
	run(ours, "ledger", "merge", theirs)
	run(ours, "inspect", "EM-1", "--stage", "before", "--readings", good, "--bench", lax)
	for _, as := range []string{"readings", "inspections", "tools"} {
		if rows := run(ours, "report", "--as", as, "--of-bench", id(ours)); !strings.Contains(rows, "EM-1") {
			t.Errorf("%s of the bench that inspected: %s", as, rows)
		}
		if rows := run(ours, "report", "--as", as, "--of-bench", id(theirs)); strings.Contains(rows, "EM-1") {
			t.Errorf("%s of the bench that ruled: %s", as, rows)
		}
	}
	first := func(as string) map[string]string {
		t.Helper()
		rows, err := csv.NewReader(strings.NewReader(run(ours, "report", "--as", as))).ReadAll()
		if err != nil || len(rows) < 2 {
			t.Fatal(rows, err)
		}
		row := map[string]string{}
		for i, name := range rows[0] {
			row[name] = rows[1][i]
		}
		return row
	}
	for _, as := range []string{"readings", "inspections"} {
		if r := first(as); r["inspection"] != "EM-1.1" || r["bench"] != id(theirs) || r["inspected_at_bench"] != id(ours) {
			t.Errorf("%s: inspection %s, newest record at %s, inspected at %s", as, r["inspection"], r["bench"], r["inspected_at_bench"])
		}
	}
	if r := first("tools"); r["last_inspection"] != "EM-1.2" || r["ruling"] != "release" || r["ruling_of"] != "EM-1.1" {
		t.Errorf("tools: last %s, ruling %s of %q", r["last_inspection"], r["ruling"], r["ruling_of"])
	}
}
