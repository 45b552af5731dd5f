package command

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/register"
	"flutelog/inspect/text"
)

// Places are the --bench and --ledger flags: where the bench file and the ledger are.
type Places struct{ Bench, Ledger string }

func (p *Places) Flags(f *Flags) {
	p.BenchFlag(f)
	f.StringVar(&p.Ledger, "ledger", "", "the ledger's folder (or FLUTELOG_LEDGER, or the bench file, or flutelog-ledger at home)")
}

func (p *Places) BenchFlag(f *Flags) {
	f.StringVar(&p.Bench, "bench", "", "the bench file (or FLUTELOG_BENCH; none is the defaults)")
}

// ReadBench reads the bench file in force.
func (p *Places) ReadBench(e Env) (*bench.File, error) {
	path := p.Bench
	if path == "" {
		path = e.Getenv("FLUTELOG_BENCH")
	}
	if path == "" {
		return bench.Default(), nil
	}
	f, err := bench.Read(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, Usage(err)
	}
	return f, err
}

// OpenLedger opens the ledger in force, making it on first use.
func (p *Places) OpenLedger(e Env, b *bench.File) (*ledger.Ledger, error) {
	dir, err := p.LedgerFolder(e, b)
	if err != nil {
		return nil, err
	}
	o := ledger.Options{Bench: b.Name, Holder: text.Show("flutelog " + strings.Join(os.Args[1:min(2, len(os.Args))], "")), Waiting: func(holder string) {
		fmt.Fprintf(e.Stderr, "flutelog: waiting for the ledger, which is held by %s\n", text.Show(holder))
	}}
	if register.Joins(dir) {
		if trouble := register.ReadStatus(dir).Warning(); trouble != "" {
			fmt.Fprintf(e.Stderr, "flutelog: register: %s\n", text.Show(trouble))
		}
		o.Allow = func(own ledger.Head) error { return register.Refuses(dir, own) }
		if e.Sender != nil {
			e.Sender.bind(dir, p.Bench)
			o.Recorded = e.Sender.wake
		}
	}
	return ledger.Open(dir, o)
}

func (p *Places) LedgerFolder(e Env, b *bench.File) (string, error) {
	for _, dir := range []string{p.Ledger, e.Getenv("FLUTELOG_LEDGER"), b.Ledger} {
		if dir != "" {
			return dir, nil
		}
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", Usagef("no ledger: give --ledger FOLDER or set FLUTELOG_LEDGER")
	}
	return filepath.Join(home, "flutelog-ledger"), nil
}

// Opened is a ledger and the bench file that go together, and the unit that lengths are shown in.
type Opened struct {
	*ledger.Ledger
	Bench *bench.File
	Unit  length.Unit
}

// OpenIn opens both; u says the unit, or else the bench file does.
func (p *Places) OpenIn(e Env, u *Units) (Opened, error) {
	b, l, err := p.Open(e)
	if err != nil {
		return Opened{}, err
	}
	unit, err := u.UnitOr(b.Unit)
	return Opened{l, b, unit}, err
}

// Open opens both.
func (p *Places) Open(e Env) (*bench.File, *ledger.Ledger, error) {
	b, err := p.ReadBench(e)
	if err != nil {
		return nil, nil, err
	}
	l, err := p.OpenLedger(e, b)
	return b, l, err
}
