package main

import (
	"fmt"
	"io"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/report"
)

// reportFlags are the flags of a quality report.
type reportFlags struct {
	places
	units
	as, out                                          string
	tool, job, benchID, stage, verdict, since, until string
	comma                                            bool
}

func reportCommand() command {
	var r reportFlags
	return command{
		name:    "report",
		summary: "write the quality report as CSV",
		example: "report --as readings",
		flags:   r.flags,
		run:     func(e env, f *flags) error { return r.run(e) },
	}
}

func (r *reportFlags) flags(f *flags) {
	f.StringVar(&r.as, "as", "readings", "a row for each of: readings, inspections (a row a finding), tools")
	f.StringVarP(&r.out, "output", "o", "", "file to write (default: standard output)")
	f.StringVar(&r.tool, "tool", "", "only this tool")
	f.StringVar(&r.job, "job", "", "only this job")
	f.StringVar(&r.benchID, "of-bench", "", "only the bench of this id")
	f.StringVar(&r.stage, "stage", "", "only this stage: before, between or after")
	f.StringVar(&r.verdict, "verdict", "", "only this verdict: accept, reject, undecided or \"not judged\"")
	f.StringVar(&r.since, "since", "", "only what was closed on this day or later, 2026-01-31 (UTC)")
	f.StringVar(&r.until, "until", "", "only what was closed on this day or earlier (UTC)")
	f.BoolVar(&r.comma, "decimal-comma", false, "write decimal commas, and semicolons between cells")
	r.places.flags(f)
	f.StringVar(&r.units.name, "unit", "", "unit of lengths, in or mm (default: the bench file's)")
}

func (r *reportFlags) filter() (report.Filter, error) {
	f := report.Filter{Tool: r.tool, Job: r.job, Bench: r.benchID, Verdict: inspect.Verdict(r.verdict)}
	var err error
	if r.stage != "" {
		if f.Stage, err = inspect.ParseStage(r.stage); err != nil {
			return f, usageError{fmt.Errorf("--stage: %w", err)}
		}
	}
	switch f.Verdict {
	case "", inspect.Accept, inspect.Reject, inspect.Undecided, inspect.NotJudged:
	default:
		return f, usagef("--verdict %q: want accept, reject, undecided or \"not judged\"", r.verdict)
	}
	if f.From, err = day("since", r.since); err != nil {
		return f, err
	}
	if f.To, err = day("until", r.until); err != nil {
		return f, err
	}
	if !f.To.IsZero() {
		f.To = f.To.AddDate(0, 0, 1)
	}
	return f, nil
}

// day reads a date; none is the zero time.
func day(flag, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return t, usagef("--%s %q: want a date such as 2026-01-31", flag, text)
	}
	return t, nil
}

func (r *reportFlags) run(e env) error {
	at, err := r.openIn(e, &r.units)
	if err != nil {
		return err
	}
	filter, err := r.filter()
	if err != nil {
		return err
	}
	kind := report.Kind(r.as)
	if report.Columns(kind) == nil {
		return usagef("--as %q: want readings, inspections or tools", r.as)
	}
	format := report.Format{Unit: at.unit, DecimalComma: r.comma}
	return writeWhole(e, r.out, func(w io.Writer) error {
		return report.CSV(w, kind, withProgress(e, at.Ledger), filter, format)
	})
}

// withProgress returns the ledger's Scan, of some kinds where any are given, which says how far it is when it takes
// long.
func withProgress(e env, l *ledger.Ledger, kinds ...string) func(func(ledger.Record) error) error {
	return func(visit func(ledger.Record) error) error {
		var n int64
		p := newProgress(e)
		defer p.end()
		return l.ScanKinds(kinds, func(r ledger.Record) error {
			n++
			p.say(func() string { return fmt.Sprintf("%d records read", n) })
			return visit(r)
		})
	}
}
