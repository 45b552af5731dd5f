package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/pflag"

	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/ledger"
)

func checkCommand() command {
	var p places
	var folder string
	var asJSON bool
	return command{
		name: "check", summary: "read all lines and hold them against each other, the witness and, where it is given, a bench's own ledger",
		example: "check --bench /media/card/ledger",
		flags: func(f *pflag.FlagSet) {
			f.StringVar(&folder, "bench", "", "the ledger folder of a bench to compare with")
			f.BoolVar(&asJSON, "json", false, "print the result as JSON")
			p.flags(f)
		},
		run: func(e env, _ []string) error { return check(e, &p, folder, asJSON) },
	}
}

func check(e env, p *places, folder string, asJSON bool) error {
	var theirs *ledger.Ledger
	if folder != "" {
		report, err := ledger.Verify(folder, nil, nil)
		if err != nil {
			return err
		}
		if len(report.Benches) == 0 {
			return usagef("--bench %q: there is no bench's ledger", folder)
		}
		if theirs, err = ledger.Open(folder, ledger.Options{Holder: "fluteregister check"}); err != nil {
			return err
		}
	}
	return p.with(e, func(s *store.Store, b *book.Book, dir string) error {
		heads, err := b.Witnessed()
		if err != nil {
			return err
		}
		all, err := s.Check(e, theirs, heads)
		if err != nil {
			return err
		}
		own, err := ledger.Verify(dir+"/ledger", nil, nil)
		if err != nil {
			return err
		}
		wrong := len(own.Damage)
		for _, c := range all {
			wrong += len(c.Wrong)
		}
		if asJSON {
			err = printJSON(e, struct {
				Benches []store.Checked `json:"benches"`
				Own     []ledger.Damage `json:"own_ledger_damage"`
			}{all, append([]ledger.Damage{}, own.Damage...)})
		} else {
			for _, c := range all {
				fmt.Fprintf(e.stdout, "bench %s %s: %d lines", c.Bench, c.Label, c.Lines)
				if c.ToCome > 0 {
					fmt.Fprintf(e.stdout, ", %d more at the bench", c.ToCome)
				}
				if len(c.Wrong) == 0 {
					fmt.Fprintln(e.stdout, ": SOUND")
					continue
				}
				fmt.Fprintln(e.stdout, ": WRONG")
				for _, w := range c.Wrong {
					fmt.Fprintln(e.stdout, "  "+w)
				}
			}
			for _, d := range own.Damage {
				fmt.Fprintf(e.stdout, "the register's own ledger: %v\n", d)
			}
			fmt.Fprintf(e.stdout, "held against %d heads that the register's own ledger has told\n", len(heads))
		}
		if err == nil && wrong > 0 {
			return outcome(statusFallsShort)
		}
		return err
	})
}

func restoreCommand() command {
	var p places
	return command{
		name: "restore", args: "BENCH FOLDER", summary: "make a lost bench's ledger folder again, byte for byte",
		example: `restore "bench 3" /media/card/ledger`,
		flags:   p.flags,
		run: func(e env, args []string) error {
			return p.with(e, func(s *store.Store, _ *book.Book, _ string) error { return restore(e, s, args[0], args[1]) })
		},
	}
}

func restore(e env, s *store.Store, name, folder string) error {
	bench, err := find(e, s, name)
	if err != nil {
		return err
	}
	if _, err := os.Lstat(filepath.Join(folder, "bench")); err == nil {
		return hinted{usagef("%s holds a ledger already, and nothing is written there", folder), "give a folder that is empty or not there yet; flutelog ledger verify says what a ledger holds"}
	}
	tail, err := ledger.Restore(folder, bench.Bench, true, s.Lines(e, bench.Bench, 0))
	if err != nil {
		return hinted{err, "what is half restored is no ledger: remove " + folder + ", or give another folder"}
	}
	fmt.Fprintf(e.stdout, "%s: %d lines of %s, id %s, up to %s\n", folder, tail.Seq, bench.Name, bench.Bench, tail.Head())
	fmt.Fprintf(e.stderr, "The lost card must never be written to again. The new one needs a line of its own, which ends the lost card's: fluteregister enrol %q --bench %s\n", bench.Label, bench.Bench)
	return nil
}

func rebuildCommand() command {
	var p places
	return command{
		name: "rebuild", summary: "make all that is made of the lines anew: after a new version, or for doubt", example: "rebuild",
		flags: p.flags,
		run: func(e env, _ []string) error {
			return p.with(e, func(s *store.Store, b *book.Book, _ string) error {
				if err := b.Apply(e, s); err != nil {
					return err
				}
				return s.Rebuild(e)
			})
		},
	}
}

func witnessCommand() command {
	var p places
	return command{
		name: "witness", summary: "record now where each bench's chain ends, in the register's own ledger; serve does it each hour and at each ruling", example: "witness",
		flags: p.flags,
		run: func(e env, _ []string) error {
			return p.with(e, func(s *store.Store, b *book.Book, _ string) error {
				n, err := b.Witness(e, s)
				if err != nil {
					return err
				}
				head, err := b.Head()
				if err != nil {
					return err
				}
				fmt.Fprintf(e.stdout, "benches that have grown: %d; the register's own ledger ends with\n%s\n", n, head)
				return nil
			})
		},
	}
}

func schemaCommand() command {
	var p places
	var bringUp bool
	return command{
		name: "schema", summary: "print the SQL that sets up a database, for whom serve may not make tables; or bring the tables of an older version up", example: "schema --bring-up",
		flags: func(f *pflag.FlagSet) {
			f.BoolVar(&bringUp, "bring-up", false, "bring the tables up to this program's version, in one transaction; needs the rights of who set the database up")
			f.StringVar(&p.database, "database", "", "with --bring-up: the PostgreSQL database (default: $FLUTEREGISTER_DATABASE)")
		},
		run: func(e env, _ []string) error {
			if !bringUp {
				_, err := fmt.Fprint(e.stdout, store.Schema)
				return err
			}
			url, err := p.url(e)
			if err != nil {
				return err
			}
			s, err := store.Open(e, url, "")
			if s == nil {
				return err
			}
			defer s.Close()
			from, err := s.BringUp(e)
			switch {
			case err != nil:
				return err
			case from == store.Version:
				fmt.Fprintf(e.stdout, "the tables are of version %d already\n", from)
			default:
				fmt.Fprintf(e.stdout, "the tables were of version %d, and are of version %d\n", from, store.Version)
			}
			return nil
		},
	}
}

func packCommand() command {
	var p places
	var days int
	return command{
		name: "pack", summary: "keep the lines that are older than a quarter in a tenth of their space; needs the rights of who set the database up", example: "pack --days 90",
		flags: func(f *pflag.FlagSet) {
			f.IntVar(&days, "days", 90, "how many days ago they were taken, or more")
			p.flags(f)
		},
		run: func(e env, _ []string) error {
			if days < 0 || days > 100_000 {
				return usagef("--days %d: want 0 to 100000", days)
			}
			return p.with(e, func(s *store.Store, _ *book.Book, _ string) error {
				packed, err := s.Pack(e, e.now().AddDate(0, 0, -days))
				fmt.Fprintf(e.stdout, "%d lines packed: %d kB in place of %d\n", packed.Lines, packed.Kept/1000, packed.Plain/1000)
				return err
			})
		},
	}
}
