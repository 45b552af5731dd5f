package trends

import (
	"errors"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
	"flutelog/inspect/trend"
)

// charted are the subjects that trends are drawn of at each stage: what release rests on, and what is found before.
var charted = map[inspect.Stage][]string{
	inspect.Before: {"tir", "ratio"}, inspect.Between: {"ratio"}, inspect.After: {"tir", "ratio", "relief", "residual", "stock"},
}

// Drawn is one of the trends of a choice.
type Drawn struct {
	paper.Charted
	What  string // its name, as KeepLimits takes it
	Fixed string // the day on which its limits were fixed; "" where they are computed from the inspections
	Loose error  // why its limits cannot be fixed, nil where they can
}

// Names are what can be chosen of the inspections of a stage, as people sort it.
type Names struct{ Benches, Grinders, Wheels, Gauges, Inspectors, Materials []string }

// ofStage begins the trends of a choice: a scan for each of some subjects.
func ofStage(l *ledger.Ledger, unit length.Unit, now time.Time, c Choice, what ...string) (flags []*trendFlags, scans []*trendScan, err error) {
	for _, what := range what {
		t := &trendFlags{what: what, chart: string(trend.Individuals), last: 60, choice: c}
		s, err := t.newScan(unit, now)
		if err != nil {
			return nil, nil, err
		}
		if s.dresses, err = t.wheelDresses(l, s); err != nil {
			return nil, nil, err
		}
		flags, scans = append(flags, t), append(scans, s)
	}
	return flags, scans, nil
}

// visit goes through the ledger once for all scans. Damage is fenced: the error says what could not be read.
func visit(l *ledger.Ledger, scans []*trendScan, each func(record.Regrind)) (damage error) {
	for r, err := range record.Regrinds(l) {
		if err == nil {
			each(r)
		}
		for _, s := range scans {
			if err == nil {
				err = s.visit(r)
			}
		}
		if err != nil {
			damage = err
		}
	}
	for _, s := range scans {
		s.dressed(s.bench, math.MaxUint64)
	}
	return damage
}

// Charts are the trends of what a ledger holds, each the sentence first, with what else could be chosen and the words that
// say what was. The ledger is read once. Of a subject with too few values it is a sentence alone. Damage is fenced: with an
// error stands all that can be read.
func Charts(l *ledger.Ledger, unit length.Unit, now time.Time, c Choice) (all []Drawn, names Names, words string, err error) {
	stage := inspect.Stage(c.Stage)
	if stage == "" {
		stage = inspect.After
	}
	flags, scans, err := ofStage(l, unit, now, c, charted[stage]...)
	if err != nil {
		return nil, names, "", err
	}
	gauges := map[string]bool{}
	for _, s := range scans {
		s.gauges, words = gauges, s.words()
	}
	benches, grinders, wheels, inspectors, materials := map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	damage := visit(l, scans, func(r record.Regrind) {
		if r.Stage == stage {
			benches[r.Bench], grinders[r.Grinder], wheels[r.Wheel], inspectors[r.Inspector], materials[string(r.Material)] = true, true, true, true, true
		}
	})
	sorted := func(names map[string]bool) []string {
		delete(names, "")
		return slices.SortedFunc(maps.Keys(names), record.Natural)
	}
	names = Names{sorted(benches), sorted(grinders), sorted(wheels), sorted(gauges), sorted(inspectors), sorted(materials)}
	for i, s := range scans {
		r, err := flags[i].result(l, s)
		one := Drawn{What: flags[i].what, Fixed: r.FixedOn}
		switch {
		case errors.Is(err, statistics.ErrTooFew):
			one.Charted, one.Loose = paper.Charted{Sentence: s.title + ": " + s.tooFew()}, err
		case err != nil:
			return all, names, words, err
		default:
			r.What = s.title
			for i, n := range r.Notes {
				r.Notes[i] = strings.TrimSuffix(strings.TrimSuffix(n, benchHint), limitHint) // a page has no flags
			}
			one.Charted = r.noted(false)
			_, one.Loose = s.fixed(r)
		}
		all = append(all, one)
	}
	return all, names, words, damage
}

// KeepLimits fixes the limits of the chart of a subject as they are computed from the inspections of a choice, and they
// are used from then on; or it lets them go, to be computed again. Limits are fixed for a choice, but for its days.
func KeepLimits(l *ledger.Ledger, unit length.Unit, now time.Time, c Choice, what, by string, fix bool) error {
	flags, scans, err := ofStage(l, unit, now, c, what)
	if err != nil {
		return err
	}
	t, s := flags[0], scans[0]
	if !fix {
		_, err := saveLimits(l, now, what, record.FixedLimits{Chart: t.named(s), By: by}, nil)
		return err
	}
	damage := (*ledger.DamageError)(nil)
	if err := visit(l, scans, func(record.Regrind) {}); err != nil && !errors.As(err, &damage) {
		return err
	}
	t.fix = true
	r, err := t.result(l, s)
	if err != nil {
		return err
	}
	limits, err := s.fixed(r)
	if err == nil {
		_, err = saveLimits(l, now, what, record.FixedLimits{Chart: t.named(s), Unit: r.Unit, By: by}, &limits)
	}
	return err
}
