//go:build unix

package main

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"regexp"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"flutelog/cmd/flutelog/internal/command"
)

const (
	hostileSeed  = 20261125
	hostileLimit = 20 * time.Second // what no case takes, on any machine
)

// attempt is one hostile command line with what is typed at it, and what came of it.
type attempt struct {
	args           []string
	stdin          string
	status         command.Status
	stdout, stderr string
}

func (a attempt) String() string {
	return fmt.Sprintf("flutelog %q < %.200q\nstatus %d\nstdout %.300q\nstderr %.2000q", a.args, a.stdin, a.status, a.stdout, a.stderr)
}

// Ten thousand hostile inputs come by flags, files and HTTP. None makes the program panic, hang, end with a status
// that README does not list, print a value that is no number, or harm a ledger.
func TestHostileInputs(t *testing.T) {
	lines, files, processes, requests := 4000, 3000, 600, 2400
	if testing.Short() {
		lines, files, processes, requests = 400, 300, 60, 240
	}
	binary, err := exec.LookPath("flutelog")
	if err != nil {
		t.Fatal(err)
	}
	work := filepath.Join(t.TempDir(), "work")
	if err := os.Mkdir(work, 0o700); err != nil {
		t.Fatal(err)
	}
	t.Chdir(work)
	for _, name := range []string{"HOME", "TMPDIR"} { // where a command goes that is told nothing else
		t.Setenv(name, ".")
	}
	t.Setenv("FLUTELOG_LEDGER", "ledger")
	t.Setenv("FLUTELOG_BENCH", "")
	h := &hostile{rand.New(rand.NewPCG(hostileSeed, 0))}
	h.prepare(t)
	stopSelf := bearInterrupts(t)

	statuses := map[command.Status]int{}
	for i := range lines + files {
		a := h.line()
		if i >= lines {
			a = h.file(t)
		}
		runHere(t, &a, stopSelf)
		a.check(t)
		statuses[a.status]++
	}
	for i := range processes {
		a := h.line()
		if i%2 == 0 {
			a = h.file(t)
		}
		runProcess(t, &a, binary)
		a.check(t)
		statuses[a.status]++
	}
	answers := h.requests(t, binary, requests)
	t.Logf("seed %d: %d command lines and %d files in this process, %d in processes of their own, %d requests", hostileSeed, lines, files, processes, requests)
	t.Logf("exit statuses: %v; HTTP statuses: %v", statuses, answers)
	for status := command.StatusDone; status <= command.StatusOpen; status++ {
		if statuses[status] == 0 {
			t.Errorf("no input led to status %d: the inputs try too little", status)
		}
	}
	verifyAll(t)
}

var (
	stackTrace = regexp.MustCompile(`panic:|goroutine \d|runtime error|SIGSEGV`)
	notANumber = regexp.MustCompile(`\b(NaN|Inf)\b`)
)

// waits says whether what a command printed says that it works until a person ends it.
func waits(stderr string) bool {
	return strings.Contains(stderr, "the page is at") || strings.Contains(stderr, "Listening.")
}

func (a attempt) check(t *testing.T) {
	t.Helper()
	given := strings.Join(append(a.args, a.stdin), " ")
	switch {
	case a.status < command.StatusDone || a.status > command.StatusOpen:
		t.Fatalf("a status that README does not list: %s", a)
	case stackTrace.MatchString(a.stdout + a.stderr):
		t.Fatalf("a panic: %s", a)
	case calculates(a.args) && notANumber.MatchString(a.stdout) && !notANumber.MatchString(given):
		t.Errorf("no number: %s", a)
	case (a.status == command.StatusFailed || a.status == command.StatusUsage) && !strings.Contains(a.stderr, "flutelog: "):
		t.Errorf("nothing says what is wrong: %s", a)
	}
}

// calculates says whether a line's command prints what it was given and what follows from it, and no names that were
// recorded before.
func calculates(args []string) bool {
	return len(args) > 0 && slices.Contains([]string{"runout", "land", "relief", "setup", "stock", "chipload", "diameter", "gauge"}, args[0])
}

// watched gathers what a command prints on standard error, and calls once when that says that it waits.
type watched struct {
	mu   sync.Mutex
	b    bytes.Buffer
	call func()
	said bool
}

func (w *watched) Write(b []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.b.Write(b)
	if !w.said && waits(w.b.String()) {
		w.said = true
		time.AfterFunc(20*time.Millisecond, w.call)
	}
	return len(b), nil
}

func (w *watched) String() string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.b.String()
}

// bearInterrupts lets this process bear the interrupt that ends a command that waits for a person, and returns what
// sends it.
func bearInterrupts(t *testing.T) func() {
	interrupts := make(chan os.Signal, 1)
	signal.Notify(interrupts, os.Interrupt)
	t.Cleanup(func() { signal.Stop(interrupts) })
	return func() { syscall.Kill(os.Getpid(), syscall.SIGINT) }
}

// runHere runs an attempt in this process. What waits until a person ends it is ended as by Ctrl-C.
func runHere(t *testing.T, a *attempt, stop func()) {
	t.Helper()
	var stdout bytes.Buffer
	stderr := &watched{call: stop}
	done := make(chan string, 1)
	go func() {
		defer func() {
			trace := ""
			if p := recover(); p != nil {
				trace = fmt.Sprintf("panic: %v\n%s", p, debug.Stack())
			}
			done <- trace
		}()
		a.status = run(command.Env{Stdin: strings.NewReader(a.stdin), Stdout: &stdout, Stderr: stderr, Getenv: os.Getenv, Now: time.Now}, a.args)
	}()
	select {
	case trace := <-done:
		a.stdout, a.stderr = stdout.String(), stderr.String()+trace
	case <-time.After(hostileLimit):
		stacks := make([]byte, 1<<20)
		t.Fatalf("it hangs: %s\nsays %q\n%s", a, stderr, stacks[:runtime.Stack(stacks, true)])
	}
}

// runProcess runs an attempt as a process of its own.
func runProcess(t *testing.T, a *attempt, binary string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), hostileLimit)
	defer cancel()
	a.args = slices.DeleteFunc(a.args, func(arg string) bool { return strings.Contains(arg, "\x00") }) // no process can be given one
	for i, arg := range a.args {
		a.args[i] = arg[:min(len(arg), 100_000)] // nor more than this
	}
	cmd := exec.CommandContext(ctx, binary, a.args...)
	var stdout bytes.Buffer
	stderr := &watched{call: func() { cmd.Process.Signal(os.Interrupt) }}
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(a.stdin), &stdout, stderr
	err := cmd.Run()
	if ctx.Err() != nil {
		t.Fatalf("it hangs: %s\nsays %q", a, stderr)
	}
	a.stdout, a.stderr = stdout.String(), stderr.String()
	if err != nil {
		a.status = exitStatus(err)
	}
}

// verifyAll verifies every ledger that was written to. What was damaged on purpose is in the folder broken.
func verifyAll(t *testing.T) {
	t.Helper()
	ledgers := 0
	err := filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.Name() == brokenFolder {
			return fs.SkipDir
		}
		if d.Name() != "bench" || d.IsDir() {
			return nil
		}
		ledgers++
		if status, stdout, stderr := runArgs(t, "ledger", "verify", "--ledger", filepath.Dir(path)); status != command.StatusDone {
			t.Errorf("ledger %q after hostile inputs: status %d\n%s%s", filepath.Dir(path), status, stdout, stderr)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if ledgers < 2 {
		t.Errorf("%d ledgers, want the one that lines write to and the page's at least", ledgers)
	}
}
