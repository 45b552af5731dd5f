// Flutelog records what a dial indicator and a loupe say of an end mill before and after it is reground,
// judges it and says what work it calls for.
//
// Where output goes: results a person or a program asked for go to standard output; prompts, progress,
// cautions and errors go to standard error, errors as "flutelog: …" and advice as "flutelog: hint: …".
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/pflag"

	"flutelog/inspect/record"
	"flutelog/inspect/text"
)

// env is the world a command runs in; tests give it their own streams, variables and clock.
type env struct {
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
	getenv func(string) string
	now    func() time.Time
}

func main() {
	os.Exit(int(run(env{stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, getenv: os.Getenv, now: time.Now}, os.Args[1:])))
}

// outcome is an exit status, as README lists them. It is also how a command that did its work ends with a status other
// than 0: there is nothing to print.
type outcome int

const (
	statusDone       outcome = iota
	statusFailed             // files, devices or the ledger would not do the work
	statusUsage              // wrong use or impossible values
	statusFallsShort         // work called for, limits not met, damage found
	statusOpen               // undecided or not judged
)

func (o outcome) Error() string { return fmt.Sprintf("status %d", int(o)) }

// usageError is wrong use or an impossible value: status 2.
type usageError struct{ err error }

func (u usageError) Error() string { return u.err.Error() }
func (u usageError) Unwrap() error { return u.err }

func usage(err error) error { return usageError{err} }

func usagef(format string, args ...any) error { return usage(fmt.Errorf(format, args...)) }

// hinted is an error with advice, printed on a line of its own.
type hinted struct {
	error
	hint string
}

func (h hinted) Unwrap() error { return h.error }

func hint(err error, advice string) error { return hinted{err, advice} }

// run carries out one command line and returns its exit status.
func run(e env, args []string) outcome { return runTable(e, commands, args) }

// runTable carries out one command line of the commands in a table and returns its exit status.
func runTable(e env, table []command, args []string) outcome {
	e.stdout = text.Shown(e.stdout) // whatever a merged record holds
	err := dispatch(e, table, "flutelog", args)
	var o outcome
	var h hinted
	switch {
	case err == nil, errors.Is(err, pflag.ErrHelp):
		return statusDone
	case errors.As(err, &o):
		return o
	}
	fmt.Fprintf(e.stderr, "flutelog: %s\n", text.ShowLines(err.Error()))
	if errors.As(err, &h) {
		fmt.Fprintf(e.stderr, "flutelog: hint: %s\n", h.hint)
	}
	if errors.As(err, new(usageError)) || errors.Is(err, record.ErrAmbiguous) {
		return statusUsage
	}
	return statusFailed
}
