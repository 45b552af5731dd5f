// Fluteregister keeps the records of many benches in one place: it takes the lines of each bench's ledger as they stand,
// proves that they follow each other, and shows any tool's history over all benches.
//
// Results a person or a program asked for go to standard output; all else goes to standard error, errors as
// "fluteregister: …" and advice as "fluteregister: hint: …".
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"github.com/spf13/pflag"

	"flutelog/inspect/text"
)

// env is the world a command runs in; tests give it their own streams, variables and clock.
type env struct {
	context.Context
	stdout io.Writer
	stderr io.Writer
	getenv func(string) string
	now    func() time.Time
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := run(env{ctx, os.Stdout, os.Stderr, os.Getenv, time.Now}, os.Args[1:])
	stop()
	os.Exit(status)
}

// Exit statuses, as README lists them.
const (
	statusDone       = 0
	statusFailed     = 1 // files, the network or the database would not do the work
	statusUsage      = 2 // wrong use or impossible values
	statusFallsShort = 3 // something is not as it should be: a fork, a line that was changed
)

// outcome is how a command that did its work ends with a status other than 0; there is nothing to print.
type outcome int

func (o outcome) Error() string { return fmt.Sprintf("status %d", int(o)) }

// usageError is wrong use or an impossible value: status 2.
type usageError struct{ err error }

func (u usageError) Error() string { return u.err.Error() }
func (u usageError) Unwrap() error { return u.err }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// hinted is an error with advice, printed on a line of its own.
type hinted struct {
	error
	hint string
}

func (h hinted) Unwrap() error { return h.error }

// run carries out one command line and returns its exit status.
func run(e env, args []string) int {
	e.stdout = text.Shown(e.stdout) // whatever a bench has sent
	err := dispatch(e, args)
	var o outcome
	var h hinted
	switch {
	case err == nil, errors.Is(err, pflag.ErrHelp):
		return statusDone
	case errors.As(err, &o):
		return int(o)
	}
	fmt.Fprintf(e.stderr, "fluteregister: %s\n", text.ShowLines(err.Error()))
	if errors.As(err, &h) {
		fmt.Fprintf(e.stderr, "fluteregister: hint: %s\n", h.hint)
	}
	if errors.As(err, new(usageError)) {
		return statusUsage
	}
	return statusFailed
}
