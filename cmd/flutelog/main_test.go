package main

import (
	"errors"
	"os"
	"os/exec"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"flutelog/cmd/flutelog/internal/command"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"flutelog": main})
}

// Each script in testdata/script runs commands as a person would and checks what they print and leave.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("FLUTELOG_LEDGER", e.WorkDir+"/ledger")
			e.Setenv("HOME", e.WorkDir)
			return nil
		},
		Cmds:          map[string]func(*testscript.TestScript, bool, []string){"status": status},
		UpdateScripts: os.Getenv("FLUTELOG_TEST_UPDATE") != "",
	})
}

// status runs flutelog and checks its exit status: status 3 flutelog land …
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 || len(args[0]) != 1 {
		ts.Fatalf("usage: status N command args…")
	}
	want := command.Status(args[0][0] - '0')
	got := command.StatusDone
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		got = exitStatus(err)
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

func exitStatus(err error) command.Status {
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return command.Status(exit.ExitCode())
	}
	return -1
}
