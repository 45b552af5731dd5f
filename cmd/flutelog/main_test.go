package main

import (
	"context"
	"errors"
	"flag"
	"os"
	"os/exec"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"flutelog/inspect/ledger"
	"flutelog/inspect/register/registertest"

	"flutelog/cmd/flutelog/internal/command"
)

func TestMain(m *testing.M) {
	flag.Set("test.parallel", "8") // most wait for a terminal, a gauge or a hand, and not for a processor
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
		Cmds:          map[string]func(*testscript.TestScript, bool, []string){"status": status, "register": registerFor},
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

// registerFor starts a register in memory for a script, whose enrolment is then in ENROLMENT, and says what becomes of it:
// register start, down, up, sent (once it holds all of the ledger's own chain), name LEDGER NAME (what its bench is called).
func registerFor(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 && (len(args) != 3 || args[0] != "name") {
		ts.Fatalf("usage: register start|down|up|sent|name LEDGER NAME")
	}
	if args[0] == "start" {
		r := registertest.Start()
		ts.Defer(r.Close)
		ts.Setenv("ENROLMENT", r.String())
		registers.Store(ts, r)
		ts.Defer(func() { registers.Delete(ts) })
		return
	}
	known, ok := registers.Load(ts)
	if !ok {
		ts.Fatalf("no register was started")
	}
	r := known.(*registertest.Register)
	switch args[0] {
	case "down", "up":
		r.Down(args[0] == "down")
	case "name":
		l, err := ledger.Open(ts.MkAbs(args[1]), ledger.Options{})
		ts.Check(err)
		head, err := l.Head()
		ts.Check(err)
		r.Name(head.Bench, args[2])
	case "sent":
		l, err := ledger.Open(ts.Getenv("FLUTELOG_LEDGER"), ledger.Options{})
		ts.Check(err)
		head, err := l.Head()
		ts.Check(err)
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		ts.Check(r.Await(ctx, head))
	default:
		ts.Fatalf("register %s", args[0])
	}
}

// registers holds the register of each script that runs.
var registers sync.Map

func exitStatus(err error) command.Status {
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return command.Status(exit.ExitCode())
	}
	return -1
}
