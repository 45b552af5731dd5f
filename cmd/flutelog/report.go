package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/export"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

// reportFlags are the flags of a quality report.
type reportFlags struct {
	command.Places
	command.Units
	as, out                                                    string
	tool, job, benchID, stage, verdict, standing, since, until string
	comma                                                      bool
}

func reportCommand() command.Command {
	var r reportFlags
	return command.Command{
		Name:    "report",
		Summary: "write the quality report as CSV",
		Example: "report --as readings",
		Flags:   r.flags,
		Run:     func(e command.Env, f *command.Flags) error { return r.run(e) },
	}
}

func (r *reportFlags) flags(f *command.Flags) {
	f.StringVar(&r.as, "as", "readings", "a row for each of: readings, inspections (a row a finding), tools")
	f.StringVarP(&r.out, "output", "o", "", "file to write (default: standard output)")
	f.StringVar(&r.tool, "tool", "", "only this tool")
	f.StringVar(&r.job, "job", "", "only this job")
	f.StringVar(&r.benchID, "of-bench", "", "only what was inspected at the bench of this id, whichever bench ruled on it or put it right since")
	f.StringVar(&r.stage, "stage", "", "only this stage: before, between or after")
	f.StringVar(&r.verdict, "verdict", "", "only this verdict: accept, reject, undecided or \"not judged\"")
	f.StringVar(&r.standing, "standing", "", "only what stands so: released, to sign, recalled …")
	f.StringVar(&r.since, "since", "", "only what was closed on this day or later: yesterday, monday, 2026-01-31, in the bench's own zone")
	f.StringVar(&r.until, "until", "", "only what was closed on this day or earlier")
	f.BoolVar(&r.comma, "decimal-comma", false, "write decimal commas, and semicolons between cells")
	r.Places.Flags(f)
	f.StringVar(&r.Units.Name, "unit", "", "unit of lengths, in or mm (default: the bench file's)")
}

func (r *reportFlags) filter(now time.Time) (record.Filter, error) {
	f := record.Filter{Standing: record.Standing(r.standing), Tool: r.tool, Job: r.job, Bench: r.benchID, Verdict: inspect.Verdict(r.verdict)}
	var err error
	if r.stage != "" {
		if f.Stage, err = inspect.ParseStage(r.stage); err != nil {
			return f, command.Usage(fmt.Errorf("--stage: %w", err))
		}
	}
	switch f.Verdict {
	case "", inspect.Accept, inspect.Reject, inspect.Undecided, inspect.NotJudged:
	default:
		return f, command.Usagef("--verdict %q: want accept, reject, undecided or \"not judged\"", r.verdict)
	}
	if f.Standing != "" && !slices.Contains(record.Standings, f.Standing) {
		return f, command.Usagef("--standing %q: want one of %v", r.standing, record.Standings)
	}
	if f.From, err = command.Day("since", r.since, now); err != nil {
		return f, err
	}
	if f.To, err = command.Day("until", r.until, now); err != nil {
		return f, err
	}
	if !f.To.IsZero() {
		f.To = f.To.AddDate(0, 0, 1)
	}
	return f, nil
}

func (r *reportFlags) run(e command.Env) error {
	at, err := r.OpenIn(e, &r.Units)
	if err != nil {
		return err
	}
	filter, err := r.filter(e.Now())
	if err != nil {
		return err
	}
	kind := report.Kind(r.as)
	if report.Columns(kind) == nil {
		return command.Usagef("--as %q: want readings, inspections or tools", r.as)
	}
	if err := known(at.Ledger, &filter); err != nil {
		return err
	}
	format := report.Format{Unit: at.Unit, DecimalComma: r.comma}
	err = command.WriteWhole(e, r.out, func(w io.Writer) error { return command.Damaged(e, writeReport(e, w, at.Ledger, kind, filter, format)) })
	if info, gone := os.Stat(r.out); err != nil || gone != nil || !info.Mode().IsRegular() {
		return err
	}
	described, err := export.Metadata([]export.CSV{{URL: filepath.Base(r.out), Kind: r.as, Columns: report.Columns(kind)}}, r.comma)
	if err != nil {
		return err
	}
	return command.WriteWhole(e, export.MetadataName(r.out), func(w io.Writer) error { _, err := w.Write(described); return err })
}

// writeReport writes a report of a kind.
func writeReport(e command.Env, w io.Writer, l *ledger.Ledger, kind report.Kind, filter record.Filter, format report.Format) error {
	c := &countedWriter{w, command.NewProgress(e), 0}
	defer c.End()
	var err error
	switch kind {
	case report.ReadingRows:
		err = report.ReadingsCSV(c, record.Readings(l, filter), format)
	case report.InspectionRows:
		err = report.InspectionsCSV(c, record.Inspections(l, filter), format)
	default:
		err = report.ToolsCSV(c, record.Tools(l, filter), format)
	}
	var d *ledger.DamageError
	if errors.As(err, &d) && !slices.ContainsFunc(d.Damage, func(d ledger.Damage) bool {
		return filter.Tool != "" && (d.Subject == "" || d.Subject == record.ToolSubject(filter.Tool))
	}) {
		return command.Damaged(e, err) // it passed another tool's
	}
	return err
}

// known refuses a filter for what the ledger has never heard of: an empty report would say that all is well. It spells
// the rest as the ledger does.
func known(l *ledger.Ledger, f *record.Filter) error {
	if f.Tool != "" {
		t, err := record.FindTool(l, f.Tool)
		if errors.Is(err, record.ErrNoTool) {
			return command.Usage(err)
		}
		f.Tool = cmp.Or(t.ID, f.Tool)
	}
	if f.Job != "" {
		j, err := record.FindJob(l, f.Job)
		if errors.Is(err, record.ErrNoJob) {
			return command.Usage(err)
		}
		f.Job = cmp.Or(j.ID, f.Job)
	}
	if f.Bench != "" {
		benches, err := l.Benches()
		if err != nil {
			return err
		}
		if !slices.Contains(benches, f.Bench) {
			return command.Usagef("bench %q: the ledger has records of %s", f.Bench, strings.Join(benches, ", "))
		}
	}
	return nil
}

// countedWriter is a writer that says how far it is when it takes long.
type countedWriter struct {
	io.Writer
	*command.Progress
	n int64
}

func (c *countedWriter) Write(p []byte) (int, error) {
	n, err := c.Writer.Write(p)
	c.n += int64(n)
	c.Say(func() string { return fmt.Sprintf("%d kB written", c.n/1000) })
	return n, err
}
