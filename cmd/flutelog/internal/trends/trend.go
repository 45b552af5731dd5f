// Package trends is the command that shows how the bench does over time: a chart of plain values or of what the
// ledger holds.
package trends

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/paper"
	"flutelog/inspect/trend"
)

// trendFlags are the flags of a trend: of plain values, or of what the ledger holds.
type trendFlags struct {
	command.Places
	command.Units
	values, chart        string
	size, last           int
	least, most          string
	csv                  bool
	svg, print           string
	what                 string
	choice               Choice
	paired, fix, compute bool
}

func Trend() command.Command {
	var t trendFlags
	return command.Command{
		Name: "trend", Summary: "how the bench does over time: chart, signals, performance, wear of the wheel",
		Example: "trend --values tir.txt --chart individuals",
		Flags:   t.flags,
		Run:     func(e command.Env, f *command.Flags) error { return t.run(e, f) },
	}
}

func (t *trendFlags) flags(f *command.Flags) {
	f.WordVar(&t.what, "what", "", "of the ledger's inspections: "+strings.Join(subjectNames(), ", "))
	f.StringVar(&t.values, "values", "", "of a file, - for standard input: a plain number a line, no unit")
	f.StringVar(&t.chart, "chart", string(trend.Individuals), "individuals, mean-range or mean-s")
	f.IntVar(&t.size, "size", 0, "values in a subgroup, for mean-range and mean-s (default 5)")
	f.IntVar(&t.last, "last", 100, "how many of the last points are drawn and searched for signals; limits rest on all")
	f.StringVar(&t.least, "least", "", "lower limit that the performance is held against (default: that of the inspections)")
	f.StringVar(&t.most, "most", "", "upper limit that the performance is held against (default: that of the inspections)")
	t.choice.flags(f)
	f.BoolVar(&t.paired, "paired", false, "what a regrind changes: each tool after the grind against before it")
	f.BoolVar(&t.fix, "fix-limits", false, "keep the limits of this chart and use them from now on")
	f.BoolVar(&t.compute, "compute-limits", false, "use limits computed from the inspections again")
	f.BoolVar(&t.csv, "csv", false, "print the points as CSV")
	f.StringVar(&t.svg, "svg", "", "draw the chart into this file")
	f.StringVar(&t.print, "print", "", "write the chart as a page to print into this file")
	t.Places.Flags(f)
	t.Units.Flags(f)
}

func (t *trendFlags) run(e command.Env, f *command.Flags) error {
	switch {
	case (t.what == "") == (t.values == ""):
		return command.Usagef("%s: give either --what, to look at the ledger, or --values FILE", f.Path)
	case t.last < 10 || t.last > mostDrawn:
		return command.Usagef("--last %d: want 10 to %d", t.last, mostDrawn)
	case t.JSON && t.csv:
		return command.Usagef("--json and --csv: choose one")
	case t.fix && t.compute:
		return command.Usagef("--fix-limits and --compute-limits: choose one")
	case t.values != "":
		return t.ofValues(e, f)
	}
	return t.ofLedger(e)
}

// mostDrawn bounds the points that are drawn, so that a trend needs no more memory however long it is.
const mostDrawn = 10_000

// accumulator returns an empty chart of the kind asked for.
func (t *trendFlags) accumulator(keep int) (*trend.Accumulator, error) {
	kind := trend.Kind(t.chart)
	size := t.size
	switch {
	case size == 0 && kind == trend.Individuals:
		size = 1
	case size == 0:
		size = 5
	}
	a, err := trend.NewAccumulator(kind, size, keep)
	if err != nil {
		return nil, command.Usage(err)
	}
	return a, nil
}

// ledgerOnly are the flags that mean nothing to plain values.
var ledgerOnly = append([]string{"paired", "fix-limits", "compute-limits", "unit", "bench", "ledger"}, selectionFlags...)

func (t *trendFlags) ofValues(e command.Env, f *command.Flags) error {
	for _, name := range ledgerOnly {
		if f.Changed(name) {
			return command.Usagef("--%s does not go with --values: it is about the ledger", name)
		}
	}
	values, err := command.ReadNumbers(e, t.values)
	if err != nil {
		return err
	}
	keep := len(values)
	if f.Changed("last") {
		keep = t.last
	}
	a, err := t.accumulator(max(keep, 1))
	if err != nil {
		return err
	}
	for _, x := range values {
		if err := a.Add(x); err != nil {
			return command.Usage(fmt.Errorf("%s: %w", t.values, err))
		}
	}
	r := trendResult{decimals: 6}
	if r.Chart, err = a.Chart(nil); err != nil {
		return command.Usage(fmt.Errorf("%s: %w", t.values, err))
	}
	least, most, err := t.plainLimits()
	if err != nil {
		return err
	}
	if err := r.perform(a, least, most); err != nil {
		return err
	}
	return t.show(e, r)
}

func (t *trendFlags) plainLimits() (least, most *float64, err error) {
	if least, err = plainLimit("least", t.least); err != nil {
		return nil, nil, err
	}
	most, err = plainLimit("most", t.most)
	return least, most, err
}

// plainLimit reads a limit without a unit; left out it is nil.
func plainLimit(flag, text string) (*float64, error) {
	if text == "" {
		return nil, nil
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !(x-x == 0) {
		return nil, command.Usagef("--%s %q: want a plain number", flag, text)
	}
	return &x, nil
}

// trendResult is what a trend comes to. Figures are in its unit.
type trendResult struct {
	What string `json:"what,omitempty"`
	Unit string `json:"unit,omitempty"` // in, mm, deg, or 1 for a share
	trend.Chart
	Life        bool              `json:"life,omitempty"`        // a diameter: it only shrinks, and has no limits of its own
	Left        *trend.LifeLeft   `json:"life_left,omitempty"`   // of one tool
	Points      []trendPoint      `json:"inspections,omitempty"` // those that are drawn
	FixedOn     string            `json:"frozen_on,omitempty"`
	FixedBy     string            `json:"frozen_by,omitempty"`
	Performance *performance      `json:"performance,omitempty"`
	Paired      *trend.Paired     `json:"paired,omitempty"`
	Wheel       *trend.WheelTrend `json:"wheel,omitempty"`
	Notes       []string          `json:"notes,omitempty"`

	decimals int
	words    string         // the wheel, in words
	life     *paper.Charted // of one tool, drawn
}

// performance is how well the values keep within limits.
type performance struct {
	Least *float64 `json:"least,omitempty"`
	Most  *float64 `json:"most,omitempty"`
	trend.Performance
}

// trendPoint says which inspection a value is of.
type trendPoint struct {
	Inspection string          `json:"inspection"`
	Closed     string          `json:"closed"`
	Verdict    inspect.Verdict `json:"verdict,omitempty"` // on the figure, where it was judged
}

func (r *trendResult) note(format string, args ...any) {
	if n := fmt.Sprintf(format, args...); !slices.Contains(r.Notes, n) {
		r.Notes = append(r.Notes, n)
	}
}

// perform holds the values against their limits, where there are any.
func (r *trendResult) perform(a *trend.Accumulator, least, most *float64) error {
	if least == nil && most == nil {
		return nil
	}
	p, err := a.Performance(least, most)
	if err != nil {
		r.note("%v", err)
		return nil
	}
	r.Performance = &performance{Least: least, Most: most, Performance: p}
	return nil
}
