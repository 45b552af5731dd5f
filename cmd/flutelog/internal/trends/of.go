package trends

import (
	"errors"
	"math"
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

// Choice says of which inspections trends are; an empty field is any, but the stage, which is after the grind.
type Choice struct {
	Stage       inspect.Stage
	Tool, Wheel string
}

// charted are the subjects that trends are drawn of at each stage: what release rests on, and what is found before.
var charted = map[inspect.Stage][]string{
	inspect.Before: {"tir", "ratio"}, inspect.Between: {"ratio"}, inspect.After: {"tir", "ratio", "relief", "residual"},
}

// Charts are the trends of what a ledger holds, each the sentence first, with the words that say what was chosen. The
// ledger is read once. Of a subject with too few values it is a sentence alone. Damage is fenced: with an error stands all
// that can be read.
func Charts(l *ledger.Ledger, unit length.Unit, now time.Time, c Choice) (all []paper.Charted, words string, err error) {
	if c.Stage == "" {
		c.Stage = inspect.After
	}
	var flags []*trendFlags
	var scans []*trendScan
	for _, what := range charted[c.Stage] {
		t := &trendFlags{what: what, chart: string(trend.Individuals), last: 60, selection: selection{tool: c.Tool, wheel: c.Wheel, stage: string(c.Stage)}}
		s, err := t.newScan(unit, now)
		if err != nil {
			return nil, "", err
		}
		if s.dresses, err = t.wheelDresses(l, s); err != nil {
			return nil, "", err
		}
		flags, scans = append(flags, t), append(scans, s)
		words = s.words()
	}
	var damage error
	for r, err := range record.Regrinds(l) {
		for _, s := range scans {
			if err == nil {
				err = s.visit(r)
			}
		}
		if err != nil {
			damage = err
		}
	}
	for i, s := range scans {
		s.dressed(s.bench, math.MaxUint64)
		r, err := flags[i].result(l, s)
		switch {
		case errors.Is(err, statistics.ErrTooFew):
			all = append(all, paper.Charted{Sentence: s.title + ": " + s.tooFew()})
		case err != nil:
			return all, words, err
		default:
			r.What = s.title
			for i, n := range r.Notes {
				r.Notes[i] = strings.TrimSuffix(strings.TrimSuffix(n, benchHint), limitHint) // a page has no flags
			}
			all = append(all, r.noted(false))
		}
	}
	return all, words, damage
}
