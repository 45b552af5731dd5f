package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/pflag"

	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/register"
)

// enrolFlags are what is told of a bench that is enrolled.
type enrolFlags struct {
	places
	address, plant, bench, out, until string
	read                              bool
}

func enrolCommand() command {
	var x enrolFlags
	return command{
		name: "enrol", args: "LABEL", summary: "let a bench send: prints one line to paste there",
		example: `enrol "bench 3" --plant north --address register.shop:8423`,
		flags: func(f *pflag.FlagSet) {
			f.StringVar(&x.address, "address", "", "host:port at which benches reach this register (default: this machine's name)")
			f.StringVar(&x.plant, "plant", "", "which plant it stands in")
			f.StringVar(&x.bench, "bench", "", "the bench's id, where it is known: a lost bench that is to go on (default: that of the bench which uses the line first)")
			f.BoolVar(&x.read, "read", false, "no bench: a program that reads everything, and sends nothing")
			f.StringVar(&x.until, "until", "", "the day on which it ends, such as 2027-01-31 (default: never)")
			f.StringVarP(&x.out, "output", "o", "", "file to write the line to, readable by you alone (default: print it)")
			x.places.flags(f)
		},
		run: func(e env, args []string) error { return enrol(e, &x, args[0]) },
	}
}

func enrol(e env, x *enrolFlags, label string) error {
	made := store.Enrolled{Bench: x.bench, Reads: x.read, Label: label, Plant: x.plant, Since: e.now().UTC().Truncate(time.Microsecond)}
	if x.until != "" {
		until, err := time.ParseInLocation(time.DateOnly, x.until, time.Local)
		if err != nil {
			return usagef("--until %q: want a date such as 2027-01-31", x.until)
		}
		made.Until = until.AddDate(0, 0, 1)
	}
	address, err := reachedAt(x.address)
	if err != nil {
		return err
	}
	s, b, dir, err := x.open(e)
	if err != nil {
		return err
	}
	defer s.Close()
	if x.bench != "" {
		found, err := find(e, s, x.bench)
		if err != nil {
			return err
		}
		made.Bench = found.Bench
	}
	_, key, err := registerKey(dir, e.now())
	if err != nil {
		return err
	}
	line, err := letAsk(e, s, b, address, key, made)
	if err != nil {
		return err
	}
	if x.out != "" {
		if err := os.WriteFile(x.out, []byte(line.String()+"\n"), 0o600); err != nil {
			return err
		}
		fmt.Fprintf(e.stderr, "the line is in %s; on the bench: flutelog register join < FILE\n", x.out)
		return nil
	}
	fmt.Fprintln(e.stdout, line)
	if x.read {
		fmt.Fprintf(e.stderr, "a program shows what stands before the @, behind //, as its token: Authorization: Bearer …\n")
		return nil
	}
	fmt.Fprintf(e.stderr, "on the bench, once: flutelog register join, and paste the line. It is secret, and is not shown again.\n")
	return nil
}

// reachedAt returns the host and port at which benches reach this register.
func reachedAt(address string) (string, error) {
	if address == "" {
		host, err := os.Hostname()
		if err != nil {
			return "", err
		}
		address = host
	}
	if _, _, err := net.SplitHostPort(address); err != nil {
		address = net.JoinHostPort(strings.Trim(address, "[]"), defaultPort)
	}
	if _, err := register.ParseEnrolment(register.Enrolment{Address: address, Token: newToken(), Key: strings.Repeat("0", 64)}.String()); err != nil {
		return "", usagef("--address %q: want host:port", address)
	}
	return address, nil
}

// letAsk lets a bench, or a program that reads, ask with a token of its own.
func letAsk(ctx context.Context, s *store.Store, b *book.Book, address, key string, made store.Enrolled) (register.Enrolment, error) {
	line := register.Enrolment{Address: address, Token: newToken(), Key: key}
	sum := sha256.Sum256([]byte(line.Token))
	made.Token = hex.EncodeToString(sum[:])
	return line, b.Enrol(ctx, s, made)
}

func benchesCommand() command {
	var p places
	var asJSON bool
	return command{
		name: "benches", summary: "the benches: up to where each is here, since when it is silent, what is wrong", example: "benches",
		flags: func(f *pflag.FlagSet) {
			f.BoolVar(&asJSON, "json", false, "print the result as JSON")
			p.flags(f)
		},
		run: func(e env, _ []string) error { return listBenches(e, &p, asJSON) },
	}
}

func listBenches(e env, p *places, asJSON bool) error {
	s, _, _, err := p.open(e)
	if err != nil {
		return err
	}
	defer s.Close()
	all, err := s.Benches(e)
	if err != nil {
		return err
	}
	status := error(nil)
	for _, b := range all {
		if b.State == register.Forked {
			status = outcome(statusFallsShort)
		}
	}
	if asJSON {
		if err := printJSON(e, all); err != nil {
			return err
		}
		return status
	}
	if len(all) == 0 {
		fmt.Fprintln(e.stdout, "no bench has sent anything yet; fluteregister enrol lets one")
		return nil
	}
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "bench\tlabel\tplant\tlines\tseen\tstands")
	for _, b := range all {
		fmt.Fprintf(w, "%s\t%s\t%s\t%d\t%s\t%s\n", b.Bench, b.Label, b.Plant, b.Seq, ago(b.Seen, e.now()), stands(b))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return status
}

// stands says how a bench stands, in words.
func stands(b store.Bench) string {
	var all []string
	say := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	switch b.State {
	case register.Forked:
		say("FORKED: two copies of it write on (fluteregister forks)")
	case register.Closed:
		say("closed")
	}
	if b.Continues != "" {
		say("goes on in place of %s", b.Continues)
	}
	if b.Behind > 0 {
		say("%d lines behind", b.Behind)
	}
	if b.Ahead != nil && (*b.Ahead > 120 || *b.Ahead < -120) {
		say("its clock is off by %v", (time.Duration(*b.Ahead) * time.Second).Round(time.Minute))
	}
	if b.Unread > 0 {
		say("%d lines of it cannot be understood by this version", b.Unread)
	}
	if b.Tokens == 0 && b.State != register.Closed {
		say("it may not send: its token has ended")
	}
	return cmp.Or(strings.Join(all, "; "), "well")
}

// ago says how long ago something was.
func ago(t *time.Time, now time.Time) string {
	if t == nil {
		return "never"
	}
	d := now.Sub(*t)
	switch {
	case d < 2*time.Minute:
		return "now"
	case d < 2*time.Hour:
		return fmt.Sprintf("%d minutes ago", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d hours ago", int(d.Hours()))
	}
	return fmt.Sprintf("%d days ago", int(d.Hours()/24))
}

func forksCommand() command {
	var p places
	var asJSON bool
	return command{
		name: "forks", summary: "where two copies of a bench wrote on, with the line that was refused", example: "forks",
		flags: func(f *pflag.FlagSet) {
			f.BoolVar(&asJSON, "json", false, "print the result as JSON")
			p.flags(f)
		},
		run: func(e env, _ []string) error {
			s, _, _, err := p.open(e)
			if err != nil {
				return err
			}
			defer s.Close()
			all, err := s.Forks(e, "")
			if err != nil {
				return err
			}
			status := error(nil)
			for _, f := range all {
				if f.Ruled == nil {
					status = outcome(statusFallsShort)
				}
			}
			if asJSON {
				if err := printJSON(e, all); err != nil {
					return err
				}
				return status
			}
			if len(all) == 0 {
				fmt.Fprintln(e.stdout, "no forks")
			}
			for _, f := range all {
				fmt.Fprintf(e.stdout, "bench %s parts at number %d\n  here:    %s\n  refused: %s, from %s at %s\n  %s\n", f.Bench, f.Seq, f.Ours, f.Theirs, f.Address, f.Since.Format(time.RFC3339), f.Line)
				if f.Ruled != nil {
					fmt.Fprintf(e.stdout, "  ruled by %s at %s: %s\n", f.RuledBy, f.Ruled.Format(time.RFC3339), f.Why)
				} else {
					fmt.Fprintf(e.stdout, "  Find both copies of the bench. What follows the line here is still taken. The other copy keeps its record and goes on under a new id: flutelog register renew --by NAME --why WHY, there, and then a new line of fluteregister enrol.\n  Then: fluteregister rule %s --by NAME --why WHY\n", f.Bench)
				}
			}
			return status
		},
	}
}

// ruling is who decides of a bench, and why.
type ruling struct {
	places
	by, why string
}

func (r *ruling) flags(f *pflag.FlagSet) {
	f.StringVar(&r.by, "by", "", "who decides (required)")
	f.StringVar(&r.why, "why", "", "why (required)")
	r.places.flags(f)
}

// check says what is missing of who decides and why.
func (r *ruling) check() error {
	if strings.TrimSpace(r.by) == "" || strings.TrimSpace(r.why) == "" {
		return usagef("--by and --why: who decides, and why, must be said")
	}
	return nil
}

// open opens the register and finds the bench, once it is said who decides and why.
func (r *ruling) open(e env, name string) (*store.Store, *book.Book, book.Ruled, error) {
	if err := r.check(); err != nil {
		return nil, nil, book.Ruled{}, err
	}
	s, b, _, err := r.places.open(e)
	if err != nil {
		return nil, nil, book.Ruled{}, err
	}
	bench, err := find(e, s, name)
	if err != nil {
		s.Close()
		return nil, nil, book.Ruled{}, err
	}
	return s, b, book.Ruled{Bench: bench.Bench, By: r.by, Why: r.why, At: e.now().UTC().Truncate(time.Microsecond)}, nil
}

func ruleCommand() command {
	var r ruling
	return command{
		name: "rule", args: "BENCH", summary: "say what was found of a bench's forks, and take the alarm back",
		example: `rule "bench 3" --by "R. Moss" --why "an old card was put back; it is destroyed"`,
		flags:   r.flags,
		run: func(e env, args []string) error {
			s, b, x, err := r.open(e, args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			n, err := b.Rule(e, s, x)
			if err != nil {
				return err
			}
			fmt.Fprintf(e.stdout, "bench %s: %d forks ruled on\n", x.Bench, n)
			return nil
		},
	}
}

func closeCommand() command {
	var r ruling
	return command{
		name: "close", args: "BENCH", summary: "take no more of a bench: it is gone, or goes on under another id",
		example: `close "bench 3" --by "R. Moss" --why "scrapped"`,
		flags:   r.flags,
		run: func(e env, args []string) error {
			s, b, x, err := r.open(e, args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			if err := b.Close(e, s, book.Closed(x)); err != nil {
				return err
			}
			fmt.Fprintf(e.stdout, "bench %s is closed; what it sent stays\n", x.Bench)
			return nil
		},
	}
}

func endCommand() command {
	var r ruling
	return command{
		name: "end", args: "NAME", summary: "end the lines that enrol printed for a bench or a program, by its id or label: its card was stolen or copied",
		example: `end "bench 3" --by "R. Moss" --why "its card was stolen"`,
		flags:   r.flags,
		run:     func(e env, args []string) error { return end(e, &r, args[0]) },
	}
}

func end(e env, r *ruling, name string) error {
	if err := r.check(); err != nil {
		return err
	}
	s, b, _, err := r.places.open(e)
	if err != nil {
		return err
	}
	defer s.Close()
	tokens, err := s.Tokens(e, name)
	if err != nil {
		return err
	}
	if len(tokens) == 0 {
		return hinted{usagef("%q: nothing that was enrolled has this id or label, and may still ask", name), "fluteregister benches lists the benches"}
	}
	for _, token := range tokens {
		token.Until, token.EndedBy, token.EndedWhy = e.now().UTC().Truncate(time.Microsecond), r.by, r.why
		if err := b.Enrol(e, s, token); err != nil {
			return err
		}
	}
	fmt.Fprintf(e.stdout, "%d ended\n", len(tokens))
	if bench := tokens[0].Bench; bench != "" {
		fmt.Fprintf(e.stderr, "the bench itself needs a new line: fluteregister enrol %q --bench %s\n", tokens[0].Label, bench)
	}
	return nil
}
