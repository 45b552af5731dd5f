package record

import (
	"errors"
	"iter"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// Regrind is one closed inspection in short, as it stands, with what was read before the grind that it is after.
type Regrind struct {
	Figures
	Bench  string
	Seq    uint64   // of its record
	Before *Figures // nil where it is not after a grind, or nothing was read before it; its divisions are those told between the grinds
}

// Regrinds gives every closed inspection in the order of the ledger, but for those that were given up or read with a
// practice gauge, and those of benches that are left out. It keeps no more than the tools that are in a grind. What
// cannot be read of a damaged ledger comes last, as an error.
func Regrinds(l Source) iter.Seq2[Regrind, error] {
	return func(yield func(Regrind, error) bool) {
		ix, err := readIndex(l)
		if err != nil && !damaged(err) {
			yield(Regrind{}, err)
			return
		}
		in := inGrind{}
		stop := errors.New("enough")
		err = l.ScanKinds([]string{KindFigures}, func(r ledger.Record) error {
			f, err := ReadFigures(r.Body)
			if err != nil {
				return recordError(r, err)
			}
			if f.Corrects || r.About == nil || slices.Contains(ix.LeftOut, r.Bench) {
				return nil // they stand in the place of those that were corrected
			}
			if ix.Corrected[keyOf(*r.About)] {
				_, t, err := readTool(l, f.Tool, nil)
				if err != nil {
					return err
				}
				if h := t.bySummary[*r.About]; h != nil {
					f = *h.now
				}
			}
			if f.Discarded || f.Practice {
				return nil
			}
			if !yield(Regrind{f, r.Bench, r.Seq, in.before(r.Bench, f)}, nil) {
				return stop
			}
			return nil
		})
		if err != nil && err != stop {
			yield(Regrind{}, err)
		}
	}
}

// inGrind keeps of each tool what was read before the grind it is in.
type inGrind map[string]Figures

// before returns what was read before the grind that f was read after.
func (g inGrind) before(bench string, f Figures) *Figures {
	key := bench + " " + f.Tool
	before, begun := g[key]
	switch f.Stage {
	case inspect.Before:
		g[key] = f
	case inspect.Between:
		if begun && f.Divisions > 0 {
			before.Divisions = f.Divisions
			g[key] = before
		}
	case inspect.After:
		delete(g, key)
		if begun {
			return &before
		}
	}
	return nil
}

// Dresses returns the dresses of a wheel, the oldest first.
func Dresses(l Source, wheel string) ([]ledger.Record, error) {
	var all []ledger.Record
	for r, err := range l.History(wheelPrefix + wheel) {
		if err != nil {
			return all, err
		}
		if r.Kind == KindDress {
			all = append(all, r)
		}
	}
	slices.Reverse(all)
	return all, nil
}

// Wheels returns the names of the wheels that were ever dressed, as people sort them.
func Wheels(l Source) ([]string, error) {
	subjects, err := l.Subjects(wheelPrefix)
	for i, s := range subjects {
		subjects[i] = strings.TrimPrefix(s, wheelPrefix)
	}
	slices.SortFunc(subjects, Natural)
	return subjects, err
}
