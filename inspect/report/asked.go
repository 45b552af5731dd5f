package report

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/record"
)

// Asked is what is asked of a report, in a person's words; an empty field is any, and of As the readings.
type Asked struct {
	As, Tool, Job, Inspection, Bench, Stage, Verdict, Standing string
	From, To                                                   time.Time // days of closing, both included
}

// Refused says which field of what was asked cannot be, by its name in small letters, and why.
type Refused struct {
	Field string
	error
}

// Unwrap returns why.
func (r *Refused) Unwrap() error { return r.error }

// Verdicts are those that a report can be asked for.
var Verdicts = []inspect.Verdict{inspect.Accept, inspect.Reject, inspect.Undecided, inspect.NotJudged}

// Filter holds what is asked against a ledger with its benches, spelled as the ledger spells it. What the ledger has never
// heard of is a *Refused: an empty report would say that all is well. Damage keeps nothing from being asked for.
func (a Asked) Filter(l record.Source, benches []string) (Kind, record.Filter, error) {
	kind := Kind(a.As)
	if a.As == "" {
		kind = ReadingRows
	}
	f := record.Filter{Tool: a.Tool, Job: a.Job, Bench: a.Bench, Verdict: inspect.Verdict(a.Verdict), Standing: record.Standing(a.Standing), From: a.From, To: a.To}
	if !f.To.IsZero() {
		f.To = f.To.AddDate(0, 0, 1)
	}
	refused := func(field, format string, args ...any) (Kind, record.Filter, error) {
		return kind, f, &Refused{field, fmt.Errorf(format, args...)}
	}
	if Columns(kind) == nil {
		return refused("as", "%q: want readings, inspections or tools", a.As)
	}
	var err error
	if a.Stage != "" {
		if f.Stage, err = inspect.ParseStage(a.Stage); err != nil {
			return refused("stage", "%w", err)
		}
	}
	if f.Verdict != "" && !slices.Contains(Verdicts, f.Verdict) {
		return refused("verdict", "%q: want accept, reject, undecided or \"not judged\"", a.Verdict)
	}
	if f.Standing != "" && !slices.Contains(record.Standings, f.Standing) {
		return refused("standing", "%q: want one of %v", a.Standing, record.Standings)
	}
	if a.Tool != "" {
		t, err := record.FindTool(l, a.Tool)
		if errors.Is(err, record.ErrNoTool) {
			return refused("tool", "%w", err)
		}
		if t.ID != "" {
			f.Tool = t.ID
		}
	}
	if a.Job != "" {
		j, err := record.FindJob(l, a.Job)
		if errors.Is(err, record.ErrNoJob) {
			return refused("job", "%w", err)
		}
		if j.ID != "" {
			f.Job = j.ID
		}
	}
	if f.Bench != "" && !slices.Contains(benches, f.Bench) {
		return refused("bench", "bench %q: the ledger has records of %s", f.Bench, strings.Join(benches, ", "))
	}
	if a.Inspection != "" {
		in, err := record.Find(l, a.Inspection)
		if err != nil {
			return refused("inspection", "%w", err)
		}
		if f.Bench != "" && f.Bench != in.Record.Bench {
			return refused("inspection", "%s was inspected at bench %s", in.ID, in.Record.Bench)
		}
		f.Inspection, f.Bench = in.ID, in.Record.Bench
	}
	return kind, f, nil
}

// Write writes a report of what a filter means.
func Write(w io.Writer, l record.Source, kind Kind, f record.Filter, format Format) error {
	switch kind {
	case ReadingRows:
		return ReadingsCSV(w, record.Readings(l, f), format)
	case InspectionRows:
		return InspectionsCSV(w, record.Inspections(l, f), format)
	}
	return ToolsCSV(w, record.Tools(l, f), format)
}
