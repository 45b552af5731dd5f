package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
)

// sendGarbage is how much of what a sending holds may be garbage beside it, in percent: it runs beside the bench on a small
// board.
const sendGarbage = 20

// exampleEnrolment is what fluteregister enrol prints, of a register that is not there.
const exampleEnrolment = "flute-register://kOJq0Zb4o6l3m1cVYx7sDgW5uTnA2hRfEiPpQvXy8Bw@register.shop:8423/5ecc38b3b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"

func registerCommands() command.Command {
	var join, send, fetch, recovers command.Places
	var renew struct {
		command.Places
		by, why string
	}
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
		{
			Name: "fetch", Args: "TOOL|JOB…", Summary: "ask what other benches recorded of tools and jobs, and keep it as the register's word",
			Example: "register fetch EM-0412",
			Flags:   fetch.Flags,
			Run:     func(e command.Env, f *command.Flags) error { return fetchFromRegister(e, &fetch, f.Args) },
		},
		{
			Name: "recover", Args: "[BENCH]",
			Summary: "bring an old copy of the ledger up to date; with a bench's id, make its lost ledger anew in an empty folder",
			Example: "register recover",
			Flags:   recovers.Flags,
			Run:     func(e command.Env, f *command.Flags) error { return recoverFromRegister(e, &recovers, f.Args) },
		},
		{
			Name: "renew", Args: "[LINE]",
			Summary: "after a fork, go on under a new id: what only this copy holds is recorded again, and what was recorded stays as it is, in forked; LINE is a new enrolment",
			Example: `register renew --by "R. Vale" --why "the card was copied"`,
			Flags: func(f *command.Flags) {
				f.StringVar(&renew.by, "by", "", "who decides this, for the record")
				f.StringVar(&renew.why, "why", "", "and why")
				renew.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error {
				return renewRegister(e, &renew.Places, f.Args, renew.by, renew.why)
			},
		},
	}}
}

// untilStopped is a context that ends when the program is told to end.
func untilStopped() (context.Context, context.CancelFunc) {
	return signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
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
	before, had, _ := register.Joined(dir)
	if err := register.Join(dir, enrolment); err != nil {
		return err
	}
	joined := fmt.Sprintf("joined the register at %s\n", enrolment.Address)
	if _, err := os.Stat(filepath.Join(dir, "bench")); errors.Is(err, os.ErrNotExist) {
		fmt.Fprintf(e.Stdout, joined+"there is no ledger at %s yet: flutelog register recover BENCH brings a lost bench's back; else the next record begins one\n", dir)
		return nil
	}
	err = sendToRegister(e, p)
	var refused register.Refusal
	switch {
	case !errors.As(err, &refused) || refused.Why != register.Stranger && refused.Why != register.NotYours:
		fmt.Fprint(e.Stdout, joined)
	case had: // what worked is not given for what does not
		if back := register.Join(dir, before); back != nil {
			return errors.Join(err, back)
		}
		return command.Hint(fmt.Errorf("not joined: %w", err), fmt.Sprintf("that line is another bench's or is ended; this bench goes on by the one from before, at %s", before.Address))
	default:
		return command.Hint(fmt.Errorf("not joined: %w", err), "that line is another bench's or is ended; fluteregister enrol prints this bench's")
	}
	return err
}

// joined opens the ledger and what its bench knows of its register. It makes no ledger where none has joined one.
func joined(e command.Env, p *command.Places) (*ledger.Ledger, register.Enrolment, error) {
	b, err := p.ReadBench(e)
	if err != nil {
		return nil, register.Enrolment{}, err
	}
	dir, err := p.LedgerFolder(e, b)
	if err != nil {
		return nil, register.Enrolment{}, err
	}
	enrolment, ok, err := register.Joined(dir)
	if err == nil && !ok {
		err = command.Hint(command.Usagef("%s has joined no register", dir), "fluteregister enrol, at the register, prints a line to paste behind flutelog register join")
	}
	if err != nil {
		return nil, enrolment, err
	}
	e.Sender, e.Stderr = nil, io.Discard // what is sent, and what keeps it, is said here anyway
	_, l, err := p.Open(e)
	return l, enrolment, err
}

func sendToRegister(e command.Env, p *command.Places) error {
	l, enrolment, err := joined(e, p)
	if err != nil {
		return err
	}
	ctx, stop := untilStopped()
	defer stop()
	debug.SetGCPercent(sendGarbage)
	sent, err := register.Sync(ctx, l, enrolment, e.Now)
	err = unanswered(err)
	if sent.Lines > 0 {
		fmt.Fprintf(e.Stdout, "sent %s; the register has all up to number %d\n", counted(sent.Lines, "line", "lines"), sent.Acknowledged.Seq)
	} else if err == nil {
		fmt.Fprintf(e.Stdout, "nothing to send; the register has all up to number %d\n", sent.Acknowledged.Seq)
	}
	return err
}

// unanswered says with an error what to do where the register did not answer.
func unanswered(err error) error {
	none := new(register.NoAnswer)
	if !errors.As(err, &none) {
		return err
	}
	return command.Hint(err, fmt.Sprintf("all that is recorded stays here, and is sent by itself once the register answers. Look whether this bench has its network, and whether fluteregister serve runs at %s; where it moved, join it with a new line of fluteregister enrol --bench", none.Address))
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
	line, _, _ := strings.Cut(s.Line(own, e.Now().Local()), "; see") // what must be done stands below
	fmt.Fprintf(e.Stdout, "%s\n  this bench is %s; the register is at %s\n", line, own.Bench, enrolment.Address)
	if s.Answered != "" {
		fmt.Fprintf(e.Stdout, "  it answered last at %s, and has number %d; this ledger ends at number %d\n", localTime(s.Answered), s.Sent.Seq, own.Seq)
	}
	if s.Words != "" && s.Words != s.Failure {
		fmt.Fprintf(e.Stdout, "  %s\n", s.Words)
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

func fetchFromRegister(e command.Env, p *command.Places, ids []string) error {
	l, enrolment, err := joined(e, p)
	if err != nil {
		return err
	}
	ctx, stop := untilStopped()
	defer stop()
	for _, id := range ids {
		for _, subject := range []string{record.ToolSubject(id), record.JobSubject(id)} {
			fresh, err := register.Ask(ctx, l, enrolment, e.Now, subject)
			if err != nil {
				return unanswered(err)
			}
			all, told := 0, map[string]int{}
			for r, err := range l.History(subject) {
				if err != nil {
					return err
				}
				if all++; r.Told {
					told[r.At()]++
				}
			}
			if all == 0 {
				continue
			}
			fmt.Fprintf(e.Stdout, "%s: %s, %d new here\n", subject, counted(all, "record", "records"), fresh)
			for _, bench := range slices.Sorted(maps.Keys(told)) {
				fmt.Fprintf(e.Stdout, "  %d of %s, by the register's word\n", told[bench], bench)
			}
		}
	}
	return nil
}

func recoverFromRegister(e command.Env, p *command.Places, bench []string) error {
	ctx, stop := untilStopped()
	defer stop()
	if len(bench) == 1 {
		return restoreFromRegister(ctx, e, p, bench[0])
	}
	l, enrolment, err := joined(e, p)
	if err != nil {
		return err
	}
	came, err := register.Recover(ctx, l, enrolment, e.Now)
	if came > 0 || err == nil {
		head, headErr := l.Head()
		if headErr != nil {
			return headErr
		}
		fmt.Fprintf(e.Stdout, "%s came back; this ledger ends at %s\n", counted(came, "line", "lines"), head)
	}
	return unanswered(err)
}

func restoreFromRegister(ctx context.Context, e command.Env, p *command.Places, bench string) error {
	b, err := p.ReadBench(e)
	if err != nil {
		return err
	}
	dir, err := p.LedgerFolder(e, b)
	if err != nil {
		return err
	}
	enrolment, ok, err := register.Joined(dir)
	if err == nil && !ok {
		err = command.Usagef("%s has joined no register: give it a line that fluteregister enrol --bench %s printed, with flutelog register join", dir, bench)
	}
	if err != nil {
		return err
	}
	tail, err := register.Restore(ctx, dir, bench, enrolment)
	if err != nil {
		if tail.Seq > 0 {
			err = command.Hint(err, fmt.Sprintf("%d lines are here already: flutelog register recover, without the bench, goes on", tail.Seq))
		}
		return err
	}
	fmt.Fprintf(e.Stdout, "%s of bench %s are here, up to %s\n", counted(int(tail.Seq), "line", "lines"), bench, tail.Head())
	fmt.Fprintln(e.Stdout, "What was half read when its disk was lost is not among them. Nobody may record on the lost one any more.")
	return nil
}

func renewRegister(e command.Env, p *command.Places, line []string, by, why string) error {
	if strings.TrimSpace(by) == "" || strings.TrimSpace(why) == "" {
		return command.Usagef("--by and --why are needed: who decides this, and why")
	}
	var enrolment register.Enrolment
	if len(line) == 1 {
		var err error
		if enrolment, err = register.ParseEnrolment(line[0]); err != nil {
			return command.Usage(err)
		}
	}
	l, joined, err := joined(e, p)
	if err != nil {
		return err
	}
	ctx, stop := untilStopped()
	defer stop()
	if _, err := register.Sync(ctx, l, joined, e.Now); errors.As(err, new(*register.NoAnswer)) {
		fmt.Fprintf(e.Stderr, "flutelog: %v; what was known before is gone by\n", err)
	} else if errors.As(err, new(*register.Behind)) {
		return err // nothing is lost by taking back what the register has
	}
	own, err := l.Head()
	if err != nil {
		return err
	}
	s := register.ReadStatus(l.Dir())
	common := s.Common
	switch s.Trouble {
	case register.TroubleFork:
	case register.TroubleBehind:
		common = own
	default:
		return command.Usagef("this ledger is no fork, as far as the register is known to say: nothing is to be renewed; flutelog register status says how it stands")
	}
	first, err := register.First(l, record.BenchSubject(own.Bench), own, common, by, why, e.Now())
	if err != nil {
		return err
	}
	n, err := l.Renew(common, first, func(r ledger.Record, renamed map[ledger.Ref]ledger.Ref) (json.RawMessage, error) {
		return record.Renamed(r, renamed, common)
	})
	if err != nil {
		return err
	}
	if err := register.Forget(l.Dir()); err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "this bench goes on as %s in place of %s\n", n.New.Bench, n.Old.Bench)
	fmt.Fprintf(e.Stdout, "  %s behind number %d, which both copies have, are recorded again; the chain ends at %s\n", counted(n.Again, "record", "records"), n.Common.Seq, n.New)
	fmt.Fprintf(e.Stdout, "  all that was recorded before is kept unchanged in %s, where its printed heads prove it\n", n.Folder)
	if len(line) == 0 {
		fmt.Fprintln(e.Stdout, "  the register knows the new id once this bench joins it anew: fluteregister enrol prints the line for flutelog register join")
		return nil
	}
	if err := register.Join(l.Dir(), enrolment); err != nil {
		return err
	}
	return sendToRegister(e, p)
}
