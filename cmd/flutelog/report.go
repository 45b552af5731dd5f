package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/export"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

// reportFlags are the flags of a quality report.
type reportFlags struct {
	command.Places
	command.Units
	as, out                                                                string
	tool, job, inspection, benchID, stage, verdict, standing, since, until string
	comma                                                                  bool
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
	f.WordVar(&r.as, "as", "readings", "a row for each of: readings, inspections (a row a finding), tools")
	f.StringVarP(&r.out, "output", "o", "", "file to write (default: standard output)")
	f.StringVar(&r.tool, "tool", "", "only this tool")
	f.StringVar(&r.job, "job", "", "only this job")
	f.StringVar(&r.inspection, "inspection", "", "only this inspection")
	f.StringVar(&r.benchID, "of-bench", "", "only what was inspected at the bench of this id, whichever bench ruled on it or put it right since")
	f.WordVar(&r.stage, "stage", "", "only this stage: before, between or after")
	f.WordVar(&r.verdict, "verdict", "", "only this verdict: accept, reject, undecided or \"not judged\"")
	f.WordVar(&r.standing, "standing", "", "only what stands so: released, to sign, recalled …")
	f.StringVar(&r.since, "since", "", "only what was closed on this day or later: yesterday, monday, 2026-01-31, in the bench's own zone")
	f.StringVar(&r.until, "until", "", "only what was closed on this day or earlier")
	f.BoolVar(&r.comma, "decimal-comma", false, "write decimal commas, and semicolons between cells")
	r.Places.Flags(f)
	f.WordVar(&r.Units.Name, "unit", "", "unit of lengths, in or mm (default: the bench file's)")
}

// asked is what the flags ask for.
func (r *reportFlags) asked(now time.Time) (report.Asked, error) {
	a := report.Asked{As: r.as, Tool: r.tool, Job: r.job, Inspection: r.inspection, Bench: r.benchID, Stage: r.stage, Verdict: r.verdict, Standing: r.standing}
	var err error
	if a.From, err = command.Day("since", r.since, now); err == nil {
		a.To, err = command.Day("until", r.until, now)
	}
	return a, err
}

func (r *reportFlags) run(e command.Env) error {
	at, err := r.OpenIn(e, &r.Units)
	if err != nil {
		return err
	}
	asked, err := r.asked(e.Now())
	if err != nil {
		return err
	}
	benches, err := at.Ledger.Benches()
	if err != nil {
		return err
	}
	kind, filter, err := asked.Filter(at.Ledger, benches)
	if refused := (*report.Refused)(nil); errors.As(err, &refused) && slices.Contains([]string{"as", "stage", "verdict", "standing"}, refused.Field) {
		return command.Usage(fmt.Errorf("--%s %w", refused.Field, err))
	}
	if err != nil {
		return command.Usage(err)
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
	err := report.Write(c, l, kind, filter, format)
	var d *ledger.DamageError
	if errors.As(err, &d) && !slices.ContainsFunc(d.Damage, func(d ledger.Damage) bool {
		return filter.Tool != "" && (d.Subject == "" || d.Subject == record.ToolSubject(filter.Tool))
	}) {
		return command.Damaged(e, err) // it passed another tool's
	}
	return err
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
