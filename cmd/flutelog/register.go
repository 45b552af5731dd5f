package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/ledger"
	"flutelog/inspect/register"
)

// sendMemory is what a sending tries to stay under: it runs beside the bench on a small board.
const sendMemory = 12 << 20

// exampleEnrolment is what fluteregister enrol prints, of a register that is not there.
const exampleEnrolment = "flute-register://kOJq0Zb4o6l3m1cVYx7sDgW5uTnA2hRfEiPpQvXy8Bw@register.shop:8443/5ecc38b3b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"

func registerCommands() command.Command {
	var join, send command.Places
	var status struct {
		command.Places
		json bool
	}
	return command.Command{Name: "register", Summary: "the register of many benches: join it, send to it, what it knows of a tool, a lost or forked ledger", Sub: []command.Command{
		{
			Name: "join", Args: "[LINE]",
			Summary: "join a register: paste the line that fluteregister enrol printed, or give a file of it on standard input",
			Example: "register join " + exampleEnrolment,
			Flags:   join.Flags,
			Run:     func(e command.Env, f *command.Flags) error { return joinRegister(e, &join, f.Args) },
		},
		{
			Name: "send", Summary: "send what the register does not have; what is recorded is sent by itself too",
			Example: "register send",
			Flags:   send.Flags,
			Run:     func(e command.Env, f *command.Flags) error { return sendToRegister(e, &send) },
		},
		{
			Name: "status", Summary: "how the sending stands, and what a person must do", Example: "register status",
			Flags: func(f *command.Flags) {
				f.BoolVar(&status.json, "json", false, "print the result as JSON")
				status.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error { return registerStatus(e, &status.Places, status.json) },
		},
	}}
}

func joinRegister(e command.Env, p *command.Places, args []string) error {
	b, err := p.ReadBench(e)
	if err != nil {
		return err
	}
	dir, err := p.LedgerFolder(e, b)
	if err != nil {
		return err
	}
	line := strings.Join(args, "")
	if line == "" || line == "-" {
		if command.TerminalOf(e) != nil {
			fmt.Fprint(e.Stderr, "Paste the line that fluteregister enrol printed: ")
			line, err = command.ReadLine(command.TerminalOf(e))
		} else {
			var all []byte
			all, err = io.ReadAll(io.LimitReader(e.Stdin, 4096))
			line = string(all)
		}
		if err != nil {
			return err
		}
	}
	enrolment, err := register.ParseEnrolment(line)
	if err != nil {
		return command.Usage(err)
	}
	if err := register.Join(dir, enrolment); err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "joined the register at %s\n", enrolment.Address)
	if _, err := os.Stat(dir + "/bench"); errors.Is(err, os.ErrNotExist) {
		fmt.Fprintf(e.Stdout, "there is no ledger at %s yet: flutelog register recover BENCH brings a lost bench's back; else the next record begins one\n", dir)
		return nil
	}
	return sendToRegister(e, p)
}

// joined opens the ledger and what its bench knows of its register.
func joined(e command.Env, p *command.Places) (*ledger.Ledger, register.Enrolment, error) {
	e.Sender, e.Stderr = nil, io.Discard // what is sent, and what keeps it, is said here anyway
	_, l, err := p.Open(e)
	if err != nil {
		return nil, register.Enrolment{}, err
	}
	enrolment, ok, err := register.Joined(l.Dir())
	if err == nil && !ok {
		err = command.Hint(command.Usagef("this bench has joined no register"), "fluteregister enrol, at the register, prints a line to paste behind flutelog register join")
	}
	return l, enrolment, err
}

func sendToRegister(e command.Env, p *command.Places) error {
	l, enrolment, err := joined(e, p)
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	debug.SetMemoryLimit(sendMemory)
	sent, err := register.Sync(ctx, l, enrolment, e.Now)
	if sent.Lines > 0 {
		fmt.Fprintf(e.Stdout, "sent %s; the register has all up to number %d\n", counted(sent.Lines, "line", "lines"), sent.Acknowledged.Seq)
	} else if err == nil {
		fmt.Fprintf(e.Stdout, "nothing to send; the register has all up to number %d\n", sent.Acknowledged.Seq)
	}
	return err
}

func registerStatus(e command.Env, p *command.Places, asJSON bool) error {
	l, enrolment, err := joined(e, p)
	if err != nil {
		return err
	}
	own, err := l.Head()
	if err != nil {
		return err
	}
	s := register.ReadStatus(l.Dir())
	if asJSON {
		return command.PrintJSON(e, struct {
			register.Status
			Own  ledger.Head `json:"own"`
			Line string      `json:"line"`
		}{s, own, s.Line(own, e.Now().Local())})
	}
	fmt.Fprintf(e.Stdout, "%s\n  this bench is %s; the register is at %s\n", s.Line(own, e.Now().Local()), own.Bench, enrolment.Address)
	if s.Answered != "" {
		fmt.Fprintf(e.Stdout, "  it answered last at %s, and has number %d; this ledger ends at number %d\n", localTime(s.Answered), s.Sent.Seq, own.Seq)
	}
	if s.Failure != "" {
		fmt.Fprintf(e.Stdout, "  the last try, at %s: %s\n", localTime(s.Tried), s.Failure)
	}
	receipts, err := register.Receipts(l.Dir())
	if err != nil {
		return err
	}
	if n := len(receipts); n > 0 {
		r := receipts[n-1]
		fmt.Fprintf(e.Stdout, "  its last receipt, of %s: %s\n", localTime(r.Date), r.Head)
		if r.Witness != "" {
			fmt.Fprintf(e.Stdout, "  and what its own ledger ended with then: %s\n", r.Witness)
		}
	}
	if s.Trouble != "" {
		return command.StatusFallsShort
	}
	return nil
}

// localTime prints a time as it is kept, by the clock on the wall.
func localTime(stamp string) string {
	at, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return stamp
	}
	return at.Local().Format("2006-01-02 15:04")
}
