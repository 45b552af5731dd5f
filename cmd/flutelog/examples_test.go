package main

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"flutelog/cmd/flutelog/internal/command"
)

// runArgs runs the program in-process and returns its status and what it printed.
func runArgs(t *testing.T, args ...string) (status command.Status, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	getenv := func(string) string { return "" }
	status = run(command.Env{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Getenv: getenv, Now: time.Now}, args)
	return status, out.String(), errs.String()
}

// The commands that need no ledger run their own example, in words and as JSON, and help shows it.
func TestExamplesOfCommandsWithoutLedger(t *testing.T) {
	for _, name := range []string{"runout", "land", "relief", "setup", "stock", "chipload", "diameter"} {
		t.Run(name, func(t *testing.T) {
			i := slices.IndexFunc(commands, func(c command.Command) bool { return c.Name == name })
			if i < 0 {
				t.Fatal("not in the table of commands")
			}
			example := strings.Fields(commands[i].Example)
			if status, stdout, stderr := runArgs(t, example...); status != command.StatusDone || stdout == "" || stderr != "" {
				t.Errorf("status %d, stdout %q, stderr %q; want an answer", status, stdout, stderr)
			}
			if _, stdout, _ := runArgs(t, append(example, "--json")...); !json.Valid([]byte(stdout)) {
				t.Errorf("with --json: got %q", stdout)
			}
			status, help, _ := runArgs(t, name, "--help")
			for _, want := range []string{commands[i].Summary, "usage: flutelog " + name, "flutelog " + commands[i].Example} {
				if status != command.StatusDone || !strings.Contains(help, want) {
					t.Errorf("--help, status %d: got %q, want %q in it", status, help, want)
				}
			}
		})
	}
}
