package api

import (
	"cmp"
	"errors"
	"io"
	"net/http"
	"slices"
	"strconv"
	"time"

	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/report"
	"flutelog/inspect/trend"
)

// reader refuses who may not read everything.
func reader(q *question) error {
	if q.who.Reads {
		return nil
	}
	return refuse(http.StatusForbidden, register.NotYours, "a bench's token sends its own lines and asks for subjects, no more; fluteregister enrol --read makes one that reads")
}

func unclear(format string, args ...any) error {
	return refuse(http.StatusBadRequest, register.Unclear, format, args...)
}

func nothing(err error) error {
	if errors.Is(err, record.ErrNoTool) || errors.Is(err, record.ErrNoJob) {
		return refuse(http.StatusNotFound, register.Nothing, "%v", err)
	}
	return err
}

func (a *API) benches(q *question) error {
	if err := reader(q); err != nil {
		return err
	}
	all, err := a.store.Benches(q)
	if err != nil {
		return err
	}
	return answerJSON(q, all)
}

func (a *API) forks(q *question) error {
	if err := reader(q); err != nil {
		return err
	}
	all, err := a.store.Forks(q, q.URL.Query().Get("bench"))
	if err != nil {
		return err
	}
	return answerJSON(q, all)
}

func (a *API) unread(q *question) error {
	if err := reader(q); err != nil {
		return err
	}
	all, err := a.store.Unread(q)
	if err != nil {
		return err
	}
	return answerJSON(q, all)
}

func (a *API) tools(q *question) error {
	if err := reader(q); err != nil {
		return err
	}
	unit, err := unitOf(q)
	if err != nil {
		return err
	}
	query := q.URL.Query()
	all, _, err := a.store.Tools(q, store.Found{Text: query.Get("find"), Standing: record.Standing(query.Get("standing")), Bench: query.Get("bench")})
	if err != nil {
		return err
	}
	answer := []Tool{}
	for _, t := range all {
		answer = append(answer, Tool{Tool: report.NewTool(t.Listed, unit), Lacks: t.Lacks, DecidesAt: t.Since.Bench, Wheel: t.Wheel, Bench: t.Bench, Label: t.Label, Benches: t.Benches})
	}
	return answerJSON(q, answer)
}

// unitOf reads the unit that lengths are wanted in.
func unitOf(q *question) (length.Unit, error) {
	unit, err := length.ParseUnit(cmp.Or(q.URL.Query().Get("unit"), "in"))
	if err != nil {
		return unit, unclear("unit: %v", err)
	}
	return unit, nil
}

// Tool is a tool as it stands over all benches: as a bench's list tells it, and what only a register knows.
type Tool struct {
	report.Tool
	Lacks     string `json:"lacks,omitempty"`
	DecidesAt string `json:"decides_bench,omitempty"` // the bench of the record that the standing rests on
	Wheel     string `json:"wheel,omitempty"`         // that it was ground with last
	Bench     string `json:"bench"`                   // that recorded of it last
	Label     string `json:"label"`                   // of that
	Benches   int    `json:"benches"`                 // that have recorded of it
}

// Life is a tool's life over all benches.
type Life struct {
	inspect.Tool
	Standing    record.Standing `json:"standing"`
	What        []inspect.Task  `json:"what,omitempty"`
	Lacks       string          `json:"lacks,omitempty"`
	Decides     string          `json:"decides,omitempty"` // the inspection that the standing rests on
	DecidesAt   string          `json:"decides_bench,omitempty"`
	Job         string          `json:"job,omitempty"`
	Away        *record.Away    `json:"away,omitempty"`
	Inspections []Lived         `json:"inspections"`
	Notes       []record.Note   `json:"notes,omitempty"`
	Unclear     string          `json:"unclear,omitempty"` // what of it cannot be told
}

// Lived is one inspection in a tool's life.
type Lived struct {
	record.Figures
	Bench     string         `json:"bench"`
	Summary   ledger.Ref     `json:"summary"`
	Corrected bool           `json:"corrected,omitempty"`
	Conflict  bool           `json:"conflict,omitempty"`
	Ruling    *record.Ruling `json:"ruling,omitempty"`
	RuledAt   string         `json:"ruled_bench,omitempty"` // the bench of the ruling
}

// LifeOf returns a tool's life.
func LifeOf(src record.Source, id string) (Life, error) {
	t, err := record.FindTool(src, id)
	var damaged *ledger.DamageError
	if err != nil && (!errors.As(err, &damaged) || t.ID == "") {
		return Life{}, err
	}
	l := Life{
		Tool: t.Tool, Standing: t.Standing, What: t.What, Lacks: t.Lacks(), Decides: t.State.Inspection, DecidesAt: t.Decided.Bench, Job: t.State.Job, Away: t.Away, Notes: t.Notes, Inspections: []Lived{},
	}
	if err != nil {
		l.Unclear = err.Error()
	}
	for _, i := range t.Inspections {
		one := Lived{Figures: i.Figures, Bench: i.Bench, Summary: i.Summary, Corrected: i.Corrected, Conflict: i.Conflict}
		if i.Ruling != nil {
			one.Ruling, one.RuledAt = &i.Ruling.Ruling, i.Ruling.Ref.Bench
		}
		l.Inspections = append(l.Inspections, one)
	}
	return l, nil
}

func (a *API) tool(q *question) error {
	if err := reader(q); err != nil {
		return err
	}
	var l Life
	err := a.store.Read(q, func(src *store.Source) (err error) {
		l, err = LifeOf(src, q.PathValue("id"))
		return err
	})
	if err != nil {
		return nothing(err)
	}
	return answerJSON(q, l)
}

func (a *API) jobs(q *question) error {
	if err := reader(q); err != nil {
		return err
	}
	all := []report.Job{}
	err := a.store.Read(q, func(src *store.Source) error {
		for j, err := range record.OpenJobs(src, func(ids []string) (map[string]record.Listed, error) {
			_, listed, err := a.store.ToolsNamed(q, ids)
			return listed, err
		}) {
			if err != nil {
				return err
			}
			all = append(all, report.NewJob(j.Standing()))
		}
		return nil
	})
	if err != nil {
		return err
	}
	return answerJSON(q, all)
}

func (a *API) job(q *question) error {
	if err := reader(q); err != nil {
		return err
	}
	var s report.Job
	err := a.store.Read(q, func(src *store.Source) error {
		j, err := record.FindJob(src, q.PathValue("id"))
		if err != nil {
			return err
		}
		s = report.NewJob(j)
		for i, t := range j.Of {
			s.Of[i].Bench = t.State.Decided.Bench
		}
		return nil
	})
	if err != nil {
		return nothing(err)
	}
	return answerJSON(q, s)
}

// day reads a day, or a moment; the zero time for none.
func day(q *question, name string) (time.Time, error) {
	text := q.URL.Query().Get(name)
	if text == "" {
		return time.Time{}, nil
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return t, unclear("%s=%q: want a date such as 2026-01-31, or a moment as RFC 3339 has it", name, text)
	}
	return t, nil
}

// ReportOf writes a report of what a filter means.
func ReportOf(w io.Writer, src *store.Source, kind report.Kind, f record.Filter, format report.Format, tools []string) error {
	if tools != nil {
		subjects := make([]string, len(tools))
		for i, tool := range tools {
			subjects[i] = record.ToolSubject(tool)
		}
		src = src.Only(subjects...)
	}
	switch kind {
	case report.ReadingRows:
		return report.ReadingsCSV(w, record.Readings(src, f), format)
	case report.InspectionRows:
		return report.InspectionsCSV(w, record.Inspections(src, f), format)
	}
	return report.ToolsCSV(w, record.Tools(src, f), format)
}

// Report answers one who was let in otherwise with a report. What is refused comes back with its status, and nothing is
// written then.
func (a *API) Report(w http.ResponseWriter, r *http.Request) (int, error) {
	err := a.report(&question{r.Context(), w, r, store.Enrolled{Reads: true}})
	if err == nil {
		return http.StatusOK, nil
	}
	w.Header().Del("Content-Disposition")
	return refusalOf(err).status, err
}

func (a *API) report(q *question) error {
	if err := reader(q); err != nil {
		return err
	}
	query := q.URL.Query()
	kind := report.Kind(cmp.Or(query.Get("as"), string(report.ReadingRows)))
	if report.Columns(kind) == nil {
		return unclear("as=%q: want readings, inspections or tools", kind)
	}
	unit, err := unitOf(q)
	if err != nil {
		return err
	}
	f := record.Filter{
		Tool: query.Get("tool"), Job: query.Get("job"), Bench: query.Get("of-bench"), Stage: inspect.Stage(query.Get("stage")), Verdict: inspect.Verdict(query.Get("verdict")), Standing: record.Standing(query.Get("standing")),
	}
	if f.Stage != "" {
		if f.Stage, err = inspect.ParseStage(string(f.Stage)); err != nil {
			return unclear("stage: %v", err)
		}
	}
	if f.Standing != "" && !slices.Contains(record.Standings, f.Standing) {
		return unclear("standing=%q: want one of %v", f.Standing, record.Standings)
	}
	if f.From, err = day(q, "since"); err != nil {
		return err
	}
	if f.To, err = day(q, "until"); err != nil {
		return err
	}
	if !f.To.IsZero() {
		f.To = f.To.AddDate(0, 0, 1)
	}
	comma, _ := strconv.ParseBool(query.Get("decimal-comma"))
	q.ResponseWriter.Header().Set("Content-Disposition", `attachment; filename="`+string(kind)+`.csv"`)
	return a.store.Read(q, func(src *store.Source) error {
		var tools []string
		switch {
		case f.Tool != "":
			t, err := record.FindTool(src, f.Tool)
			if errors.Is(err, record.ErrNoTool) {
				return nothing(err)
			}
			f.Tool = cmp.Or(t.ID, f.Tool)
			tools = []string{f.Tool}
		case f.Job != "":
			j, err := record.FindJob(src, f.Job)
			if err != nil {
				return nothing(err)
			}
			f.Job, tools = j.ID, []string{}
			for _, t := range j.Of {
				tools = append(tools, t.Tool)
			}
		}
		return a.streamed(q, "text/csv; charset=utf-8", func(w io.Writer) error {
			return ReportOf(w, src, kind, f, report.Format{Unit: unit, DecimalComma: comma}, tools)
		})
	})
}

// valuesAtMost is how many values a chart is made of.
const valuesAtMost = 10_000

func (a *API) trend(q *question) error {
	if err := reader(q); err != nil {
		return err
	}
	query := q.URL.Query()
	t := store.Trend{What: cmp.Or(query.Get("what"), "tir"), By: cmp.Or(query.Get("by"), "bench"), Of: query.Get("of"), Stage: inspect.Stage(cmp.Or(query.Get("stage"), string(inspect.After)))}
	var err error
	if t.From, err = day(q, "since"); err != nil {
		return err
	}
	if t.To, err = day(q, "until"); err != nil {
		return err
	}
	answer, err := TrendOf(q, a.store, t)
	if errors.Is(err, store.ErrNoTrend) {
		return unclear("%v", err)
	} else if err != nil {
		return err
	}
	return answerJSON(q, answer)
}

// Trended is a trend: months by group, and of one group its chart.
type Trended struct {
	What   string        `json:"what"`
	By     string        `json:"by"`
	Unit   string        `json:"unit"` // mm, deg, or 1 for a share
	Months []store.Month `json:"months"`
	Chart  *trend.Chart  `json:"chart,omitempty"` // of one group, where it has two values or more
	Values []store.Value `json:"values,omitempty"`
}
