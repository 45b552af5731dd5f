package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"slices"
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
			f.StringVar(&x.address, "address", "", "host:port at which benches reach this register (default: where serve listens, else this machine's name)")
			f.StringVar(&x.plant, "plant", "", "which plant it stands in")
			f.StringVar(&x.bench, "bench", "", "the bench's id, where it is known: a lost bench that is to go on; its earlier lines end (default: that of the bench which uses the line first)")
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
	if _, err := reachedAt(x.address, ""); err != nil {
		return err
	}
	return x.with(e, func(s *store.Store, b *book.Book, dir string) error {
		served, err := os.ReadFile(filepath.Join(dir, addressName))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		address, err := reachedAt(x.address, string(served))
		if err != nil {
			return err
		}
		var before []store.Enrolled
		if x.bench != "" {
			found, err := find(e, s, x.bench)
			if err != nil {
				return err
			}
			made.Bench = found.Bench
			if before, err = s.Tokens(e, found.Bench); err != nil {
				return err
			}
		}
		alike, err := s.Tokens(e, label)
		if err != nil {
			return err
		}
		alike = slices.DeleteFunc(alike, func(t store.Enrolled) bool {
			return t.Ended(made.Since) || !strings.EqualFold(t.Label, label) || made.Bench != "" && t.Bench == made.Bench
		})
		_, key, err := registerKey(dir, e.now())
		if err != nil {
			return err
		}
		line, err := letAsk(e, s, b, address, key, made)
		if err != nil {
			return err
		}
		ended := 0
		for _, t := range before {
			if t.Bench == made.Bench && !t.Ended(made.Since) {
				if err := b.End(e, s, t, made.Since, "fluteregister enrol", "a new line was made for the bench"); err != nil {
					return err
				}
				ended++
			}
		}
		use := "on the bench, once: flutelog register join, and paste the line. It is secret, and is not shown again."
		if x.out == "" {
			fmt.Fprintln(e.stdout, line)
		} else {
			if err := os.WriteFile(x.out, []byte(line.String()+"\n"), 0o600); err != nil {
				return err
			}
			fmt.Fprintf(e.stderr, "the line is in %s\n", x.out)
			use = "on the bench, once: flutelog register join < FILE"
		}
		if x.read {
			use = "a program shows what stands before the @, behind //, as its token: Authorization: Bearer …"
		}
		fmt.Fprintln(e.stderr, use)
		if len(alike) > 0 {
			fmt.Fprintf(e.stderr, "%q is what others are called already, and this is one more; what is not wanted is ended by its id (fluteregister end ID):%s\n", label, listTokens(alike))
		}
		if ended > 0 {
			fmt.Fprintf(e.stderr, "what the bench was let ask with before is ended, %d in all: a card that was lost or stolen can send and read no more\n", ended)
		}
		return nil
	})
}

// addressName is the file in the register's folder that says at which host and port benches reach what serves.
const addressName = "address"

// reachedAt returns the host and port at which benches reach this register: as it was told, else where it serves, else by this
// machine's name.
func reachedAt(told, served string) (string, error) {
	address := cmp.Or(told, served)
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
	return p.with(e, func(s *store.Store, book *book.Book, _ string) error {
		if err := book.Hold(e, s); err != nil {
			return err
		}
		all, err := s.Benches(e)
		if err != nil {
			return err
		}
		status := error(nil)
		for _, b := range all {
			if b.Forks > 0 || b.Missing > 0 {
				status = outcome(statusFallsShort)
			}
		}
		if asJSON {
			return cmp.Or(printJSON(e, all), status)
		}
		waiting, err := s.Waiting(e)
		if err != nil {
			return err
		}
		if len(all) == 0 {
			fmt.Fprintln(e.stdout, "no bench has sent anything yet; fluteregister enrol lets one")
		} else {
			w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
			fmt.Fprintln(w, "bench\tlabel\tplant\tlines\tseen\tstands")
			for _, b := range all {
				fmt.Fprintf(w, "%s\t%s\t%s\t%d\t%s\t%s\n", b.Bench, b.Label, b.Plant, b.Seq, ago(b.Seen, e.now()), stands(b))
			}
			if err := w.Flush(); err != nil {
				return err
			}
		}
		if len(waiting) > 0 {
			fmt.Fprintf(e.stdout, "enrolled, nothing sent yet:%s\n", listTokens(waiting))
		}
		return status
	})
}

// stands says how a bench stands, in words.
func stands(b store.Bench) string {
	var all []string
	say := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	if b.Forks > 0 {
		say("FORKED: two copies of it wrote on (fluteregister forks)")
	}
	if b.Missing > 0 {
		say("%d lines that were here are MISSING: it sends them again; leave its ledger as it is until then", b.Missing)
	}
	if b.State == register.Closed {
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
		name: "forks", summary: "where two copies of a bench wrote on, and what the line that was refused is", example: "forks",
		flags: func(f *pflag.FlagSet) {
			f.BoolVar(&asJSON, "json", false, "print the result as JSON")
			p.flags(f)
		},
		run: func(e env, _ []string) error { return listForks(e, &p, asJSON) },
	}
}

func listForks(e env, p *places, asJSON bool) error {
	return p.with(e, func(s *store.Store, _ *book.Book, _ string) error {
		all, err := s.Forks(e, "")
		if err != nil {
			return err
		}
		names, err := s.Names(e)
		if err != nil {
			return err
		}
		status := error(nil)
		if slices.ContainsFunc(all, func(f store.Fork) bool { return !f.Settled() }) {
			status = outcome(statusFallsShort)
		}
		if asJSON {
			return cmp.Or(printJSON(e, append([]store.Fork{}, all...)), status)
		}
		if len(all) == 0 {
			fmt.Fprintln(e.stdout, "no forks")
		}
		for _, f := range all {
			fmt.Fprintf(e.stdout, "%s, id %s, parts at number %d\n  here:    %s\n  refused: %s, from %s at %s\n", names[f.Bench], f.Bench, f.Seq, f.Ours, f.Theirs, f.Address, f.Since.Format(time.RFC3339))
			for _, said := range f.Tells() {
				fmt.Fprintf(e.stdout, "  %s\n", said)
			}
			if f.Renewed != "" {
				fmt.Fprintf(e.stdout, "  The copy that was refused goes on as %s, id %s.\n", names[f.Renewed], f.Renewed)
			}
			if f.Ruled != nil {
				fmt.Fprintf(e.stdout, "  ruled by %s at %s: %s\n", f.RuledBy, f.Ruled.Format(time.RFC3339), f.Why)
			}
			for _, said := range f.Found() {
				fmt.Fprintf(e.stdout, "  %s\n", said)
			}
			if f.Ruled == nil {
				fmt.Fprintf(e.stdout, "  Find both copies of the bench. What follows the line here is still taken. Then say which of them is the bench:\n    fluteregister rule %s --true here --by NAME --why WHY      the one that still sends; --gone: the other is destroyed\n    fluteregister rule %[1]s --true refused --by NAME --why WHY   the one that was refused\n", f.Bench)
			} else if !f.Settled() {
				fmt.Fprintf(e.stdout, "  There: flutelog register renew --by NAME --why WHY, with a new line of fluteregister enrol.%s\n", destroyed(f))
			}
		}
		return status
	})
}

// destroyed says what to do where a copy that was refused will never go on.
func destroyed(f store.Fork) string {
	if f.Truth == store.Refused {
		return ""
	}
	return fmt.Sprintf(" Where it is destroyed: fluteregister rule %s --true here --gone --by NAME --why WHY", f.Bench)
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

// on carries out what is decided of a bench, once it is said who decides and why.
func (r *ruling) on(e env, name string, decide func(s *store.Store, b *book.Book, of store.Bench, x book.Ruled) error) error {
	if err := r.check(); err != nil {
		return err
	}
	return r.places.with(e, func(s *store.Store, b *book.Book, _ string) error {
		of, err := find(e, s, name)
		if err != nil {
			return err
		}
		return decide(s, b, of, book.Ruled{Bench: of.Bench, By: r.by, Why: r.why, At: e.now().UTC().Truncate(time.Microsecond)})
	})
}

func ruleCommand() command {
	var r ruling
	var found store.Ruling
	return command{
		name: "rule", args: "BENCH", summary: "say which copy of a forked bench is the bench; the alarm is taken back once the other goes on under a new id, or is gone",
		example: `rule "bench 3" --true here --gone --by "R. Moss" --why "an old card was put back; it is destroyed"`,
		flags: func(f *pflag.FlagSet) {
			f.StringVar((*string)(&found.Truth), "true", "", "which copy is the bench: here, the one that still sends, or refused, the one that was refused (required)")
			f.BoolVar(&found.Gone, "gone", false, "the refused copy is destroyed, and is never heard again")
			r.flags(f)
		},
		run: func(e env, args []string) error {
			if err := found.Check(); err != nil {
				return usagef("--true and --gone: %w", err)
			}
			return r.on(e, args[0], func(s *store.Store, b *book.Book, of store.Bench, x book.Ruled) error {
				if of.Forks == 0 {
					return hinted{usagef("%s: it has no fork that is not settled", of.Name), "fluteregister forks lists all forks"}
				}
				x.Ruling = found
				n, waits, err := b.Rule(e, s, x)
				if err != nil {
					return err
				}
				fmt.Fprintf(e.stdout, "%s: %d ruled on\n", of.Name, n)
				switch {
				case waits == 0:
					fmt.Fprintln(e.stdout, "the alarm is taken back")
				case found.Truth == store.Refused:
					fmt.Fprintf(e.stdout, "no more is taken under the id %s. The alarm stays until the copy that was refused goes on under a new id: there, flutelog register renew --by NAME --why WHY, with a new line: fluteregister enrol %q\n", of.Bench, of.Label)
				default:
					fmt.Fprintf(e.stdout, "the alarm stays until the copy that was refused goes on under a new id: there, flutelog register renew --by NAME --why WHY, with a new line of fluteregister enrol. Where it is destroyed: this again with --gone\n")
				}
				return nil
			})
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
			return r.on(e, args[0], func(s *store.Store, b *book.Book, of store.Bench, x book.Ruled) error {
				if err := b.Close(e, s, book.Closed(x)); err != nil {
					return err
				}
				fmt.Fprintf(e.stdout, "%s is closed; what it sent stays\n", of.Name)
				return nil
			})
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
	return r.places.with(e, func(s *store.Store, b *book.Book, _ string) error {
		found, err := s.Tokens(e, name)
		if err != nil {
			return err
		}
		if len(found) == 0 {
			return hinted{usagef("%q: nothing was enrolled of this id or label", name), "fluteregister benches lists the benches"}
		}
		now := e.now().UTC().Truncate(time.Microsecond)
		live := slices.DeleteFunc(slices.Clone(found), func(t store.Enrolled) bool { return t.Ended(now) })
		if len(live) == 0 {
			last := slices.MaxFunc(found, func(a, b store.Enrolled) int { return a.Until.Compare(b.Until) })
			fmt.Fprintf(e.stdout, "%q: nothing is left to end; its last line ended on %s\n", name, last.Until.Local().Format("2006-01-02 15:04"))
			return nil
		}
		for _, t := range live[1:] {
			if t.Bench != live[0].Bench || t.Bench == "" {
				return hinted{usagef("%q: several are meant, and nothing is ended:%s", name, listTokens(live)), "give one of the ids"}
			}
		}
		for _, t := range live {
			if err := b.End(e, s, t, now, r.by, r.why); err != nil {
				return err
			}
		}
		fmt.Fprintf(e.stdout, "%d ended\n", len(live))
		if bench := live[0].Bench; bench != "" {
			fmt.Fprintf(e.stderr, "the bench itself needs a new line: fluteregister enrol %q --bench %s\n", live[0].Label, bench)
		}
		return nil
	})
}

// listTokens lists what may be meant, a line each: a bench by its id, what no bench has used yet by the beginning of its token's hash.
func listTokens(all []store.Enrolled) string {
	var b strings.Builder
	for _, t := range all {
		id, what := t.Bench, "a bench"
		if id == "" {
			id, what = t.Token[:12], "a line that no bench has used yet"
			if t.Reads {
				what = "a program that reads"
			}
		}
		fmt.Fprintf(&b, "\n  %s  %s, %s, enrolled on %s", id, strings.Trim(t.Label+", "+t.Plant, ", "), what, t.Since.Local().Format(time.DateOnly))
	}
	return b.String()
}
