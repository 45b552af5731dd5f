package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/text"
)

// places are the --bench and --ledger flags: where the bench file and the ledger are.
type places struct{ bench, ledger string }

func (p *places) flags(f *flags) {
	p.benchFlag(f)
	f.StringVar(&p.ledger, "ledger", "", "the ledger's folder (or FLUTELOG_LEDGER, or the bench file, or flutelog-ledger at home)")
}

func (p *places) benchFlag(f *flags) {
	f.StringVar(&p.bench, "bench", "", "the bench file (or FLUTELOG_BENCH; none is the defaults)")
}

// readBench reads the bench file in force.
func (p *places) readBench(e env) (*bench.File, error) {
	path := p.bench
	if path == "" {
		path = e.getenv("FLUTELOG_BENCH")
	}
	if path == "" {
		return bench.Default(), nil
	}
	f, err := bench.Read(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, usage(err)
	}
	return f, err
}

// openLedger opens the ledger in force, making it on first use.
func (p *places) openLedger(e env, b *bench.File) (*ledger.Ledger, error) {
	dir, err := p.ledgerFolder(e, b)
	if err != nil {
		return nil, err
	}
	return ledger.Open(dir, ledger.Options{Bench: b.Name, Holder: text.Show("flutelog " + strings.Join(os.Args[1:min(2, len(os.Args))], "")), Waiting: func(holder string) {
		fmt.Fprintf(e.stderr, "flutelog: waiting for the ledger, which is held by %s\n", text.Show(holder))
	}})
}

func (p *places) ledgerFolder(e env, b *bench.File) (string, error) {
	for _, dir := range []string{p.ledger, e.getenv("FLUTELOG_LEDGER"), b.Ledger} {
		if dir != "" {
			return dir, nil
		}
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", usagef("no ledger: give --ledger FOLDER or set FLUTELOG_LEDGER")
	}
	return filepath.Join(home, "flutelog-ledger"), nil
}

// opened is a ledger and the bench file that go together, and the unit that lengths are shown in.
type opened struct {
	*ledger.Ledger
	bench *bench.File
	unit  length.Unit
}

// openIn opens both; u says the unit, or else the bench file does.
func (p *places) openIn(e env, u *units) (opened, error) {
	b, l, err := p.open(e)
	if err != nil {
		return opened{}, err
	}
	unit, err := u.unitOr(b.Unit)
	return opened{l, b, unit}, err
}

// open opens both.
func (p *places) open(e env) (*bench.File, *ledger.Ledger, error) {
	b, err := p.readBench(e)
	if err != nil {
		return nil, nil, err
	}
	l, err := p.openLedger(e, b)
	return b, l, err
}
