package command

import (
	"errors"
	"fmt"

	"github.com/spf13/pflag"

	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
)

// Status is an exit status, as README lists them. It is also how a command that did its work ends with a status other
// than 0: there is nothing to print.
type Status int

const (
	StatusDone       Status = iota
	StatusFailed            // files, devices or the ledger would not do the work
	StatusUsage             // wrong use or impossible values
	StatusFallsShort        // work called for, limits not met, damage found
	StatusOpen              // undecided or not judged
)

func (o Status) Error() string { return fmt.Sprintf("status %d", int(o)) }

// usageError is wrong use or an impossible value: status 2.
type usageError struct{ err error }

func (u usageError) Error() string { return u.err.Error() }
func (u usageError) Unwrap() error { return u.err }

func Usage(err error) error { return usageError{err} }

func Usagef(format string, args ...any) error { return Usage(fmt.Errorf(format, args...)) }

// hinted is an error with advice, printed on a line of its own.
type hinted struct {
	error
	hint string
}

func (h hinted) Unwrap() error { return h.error }

func Hint(err error, advice string) error { return hinted{err, advice} }

// Run carries out one command line of the commands in a table and returns its exit status.
func Run(e Env, table []Command, args []string) Status {
	e.Stdout = text.Shown(e.Stdout) // whatever a merged record holds
	defer e.Sender.end()
	err := dispatch(e, table, "flutelog", args)
	var o Status
	var h hinted
	switch {
	case err == nil, errors.Is(err, pflag.ErrHelp):
		return StatusDone
	case errors.As(err, &o):
		return o
	}
	fmt.Fprintf(e.Stderr, "flutelog: %s\n", text.ShowLines(err.Error()))
	if errors.As(err, &h) {
		fmt.Fprintf(e.Stderr, "flutelog: hint: %s\n", h.hint)
	} else if errors.Is(err, record.ErrNoTool) && e.Sender.sends() {
		fmt.Fprintln(e.Stderr, "flutelog: hint: flutelog register fetch TOOL asks whether another bench knows it")
	}
	if errors.As(err, new(usageError)) || errors.Is(err, record.ErrAmbiguous) {
		return StatusUsage
	}
	return StatusFailed
}

// Damaged splits what was read of a damaged ledger from an error that stops the work.
func Damaged(e Env, err error) error {
	var d *ledger.DamageError
	if errors.As(err, &d) {
		fmt.Fprintf(e.Stderr, "flutelog: %v\nflutelog: hint: flutelog ledger verify names every place\n", d)
		return nil
	}
	return err
}
