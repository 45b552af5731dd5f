// Package board is what waits at a bench, on one screen, and one tool's card: both are worked out from what stands in
// the ledger, and drawn as lines of text that need no colour and move no cursor.
package board

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
)

// Board is what waits, for a program and for drawing.
type Board struct {
	Waiting []Waiting `json:"waiting"` // what must not be used first, then in the order of a tool's way through the shop
	Jobs    []Job     `json:"jobs"`    // that are not released
	Gauges  []Due     `json:"gauges"`  // whose calibration is due within 30 days, or was
	Open    []Open    `json:"open"`    // inspections that are half read
	Week    Week      `json:"week"`

	Empty bool `json:"-"` // no tool is on record
}

// Waiting is one tool that waits for something.
type Waiting struct {
	Tool     string          `json:"tool"`
	Standing record.Standing `json:"standing"`
	What     string          `json:"what"`  // is to be done, or why it must not be used
	Since    string          `json:"since"` // RFC 3339, UTC; "" where no clock was set
	Job      string          `json:"-"`     // that it came with last
}

// Job is one job and what each of its tools lacks.
type Job struct {
	Job      string  `json:"job"`
	Customer string  `json:"customer,omitempty"`
	Settled  int     `json:"settled"`
	Quantity int     `json:"quantity"`
	Lacks    []Lacks `json:"lacks"`
	Count    string  `json:"-"` // record.OpenJob.Count
	Waits    string  `json:"-"` // record.OpenJob.Waits
}

// Lacks is what one tool of a job lacks.
type Lacks struct {
	Tool string `json:"tool"`
	What string `json:"what"`
}

// Due is a gauge whose calibration is due.
type Due struct {
	Name string `json:"name"`
	Due  string `json:"due"` // YYYY-MM-DD
	days int    // from today; below zero it was due
}

// Open is an inspection that is half read.
type Open struct {
	Inspection string        `json:"inspection"`
	Tool       string        `json:"tool"`
	Stage      inspect.Stage `json:"stage"`
	Answered   int           `json:"answered"` // of what the stage requires, as far as it can be read
	Of         int           `json:"of"`
	Damaged    string        `json:"damaged,omitempty"`
	By         string        `json:"-"` // who inspects
}

// Week is what the tools of the ledger came to in the last seven days, by what they stand at now.
type Week struct {
	Released  int `json:"released"`
	Conceded  int `json:"conceded"`
	Withdrawn int `json:"withdrawn"`
	ToGrind   int `json:"to_grind"`
	Other     int `json:"other"` // read, ground or received, and waiting
}

// dueWithin is how long before its day a gauge stands on the board; common practice, no source.
const dueWithin = 30

// way is the order of the standings that wait.
var way = []record.Standing{
	record.StandsLocked, record.StandsRecalled,
	record.StandsToGrind, record.StandsToFinish, record.StandsToInspect, record.StandsToSign, record.StandsReceived,
}

// Calibrated is a gauge of the bench with the day its calibration is due, "" where none is stated.
type Calibrated struct{ Name, CalibrationDue string }

// Gather reads what waits. Damage is fenced: the board holds all that can be read, and the error says what cannot.
func Gather(l *ledger.Ledger, gauges []Calibrated, now time.Time) (Board, error) {
	b := Board{Waiting: []Waiting{}, Jobs: []Job{}, Gauges: []Due{}, Open: []Open{}, Empty: true}
	var errs []error
	tools := map[string]record.Listed{}
	week := now.UTC().AddDate(0, 0, -7).Format(time.RFC3339)
	for t, err := range record.List(l) {
		if err != nil {
			errs = append(errs, err)
			continue
		}
		b.Empty = false
		tools[t.ID] = t
		if t.Since.Time >= week {
			b.Week.count(t.Standing)
		}
		if slices.Contains(way, t.Standing) {
			b.Waiting = append(b.Waiting, Waiting{t.ID, t.Standing, what(l, t), t.Since.Time, t.Job})
		}
	}
	// List gives them by id already: a stable sort keeps that within a standing.
	slices.SortStableFunc(b.Waiting, func(a, c Waiting) int {
		return cmp.Compare(slices.Index(way, a.Standing), slices.Index(way, c.Standing))
	})
	for j, err := range record.OpenJobs(l, func([]string) (map[string]record.Listed, error) { return tools, nil }) {
		if err != nil {
			errs = append(errs, err)
			continue
		}
		job := Job{Job: j.ID, Customer: j.Customer, Settled: j.Settled, Quantity: j.Quantity, Lacks: []Lacks{}, Count: j.Count(), Waits: j.Waits()}
		for _, t := range j.Lacking {
			job.Lacks = append(job.Lacks, Lacks{t.Tool, t.Lacks})
		}
		b.Jobs = append(b.Jobs, job)
	}
	for _, g := range gauges {
		due, err := time.Parse(time.DateOnly, g.CalibrationDue)
		if err != nil {
			continue
		}
		// A gauge is good through its day: on that day 0 are left.
		if days := int(due.Sub(now.UTC().Truncate(24*time.Hour)).Hours() / 24); days <= dueWithin {
			b.Gauges = append(b.Gauges, Due{g.Name, g.CalibrationDue, days})
		}
	}
	slices.SortStableFunc(b.Gauges, func(a, c Due) int { return cmp.Compare(a.Due, c.Due) })
	open, err := record.Open(l)
	if err != nil {
		errs = append(errs, err)
	}
	for _, d := range open {
		b.Open = append(b.Open, half(d))
	}
	return b, errors.Join(errs...)
}

func (w *Week) count(s record.Standing) {
	switch s {
	case record.StandsReleased:
		w.Released++
	case record.StandsConceded:
		w.Conceded++
	case record.StandsWithdrawn, record.StandsRetired:
		w.Withdrawn++
	case record.StandsToGrind:
		w.ToGrind++
	default:
		w.Other++
	}
}

// half says how much of what a stage requires an open inspection has read.
func half(d record.Draft) Open {
	in := d.Inspection
	o := Open{Inspection: in.ID, Tool: in.Tool.ID, Stage: in.Stage, By: in.Inspector}
	o.Answered, o.Of = desk.Counted(in)
	return o
}

// what says what is to be done with a tool that waits, or why it must not be used.
func what(l *ledger.Ledger, t record.Listed) string {
	var words string
	switch t.Standing {
	case record.StandsLocked, record.StandsRecalled:
		words = t.Lacks()
		// Few are locked or recalled: of those the card's own words are read.
		if full, err := record.FindTool(l, t.ID); err == nil {
			words = stopped(full.State)
		}
	case record.StandsToSign:
		words = "all read; wants a signature"
		if t.NotReground {
			words = "no grind needed; wants a signature"
		}
	case record.StandsReceived:
		words = "not looked at yet"
	case record.StandsToFinish:
		words = "primary ground and read, the tool still held"
	case record.StandsToInspect:
		words = "ground, or its reading is not whole"
	default:
		words = t.Lacks()
	}
	if t.Damaged != "" {
		words = "a record of it cannot be read: flutelog tool show " + t.ID + " says which"
	}
	if t.ToldAt != "" {
		words += ", the register's word"
	}
	if t.Away != nil {
		words += "; sent out"
		if t.Away.Where != "" {
			words += " to " + t.Away.Where
		}
	}
	return words
}

// stopped says what stops a tool.
func stopped(s record.State) string {
	if len(s.Locks) > 0 {
		k := s.Locks[0]
		words := k.What() + " seen in " + k.Inspection
		if k.By != "" {
			words += ", " + k.By
		}
		if k.Note != "" {
			words += ": " + k.Note
		}
		return words
	}
	return s.Inspection + " was corrected after it was let out; get it back"
}

// Found are the tools that words mean, in the order of their ids, and how many there are in all.
type Found struct {
	Tools []record.Listed
	Of    int
}

// Find returns the tools of which each of some words is a part: of their id, job, customer, note, material, standing or
// end, whatever the case. Damage is fenced, as by Gather.
func Find(l *ledger.Ledger, words ...string) (Found, error) {
	customer := map[string]string{}
	var errs []error
	for j, err := range record.ToldJobs(l) {
		if err != nil {
			errs = append(errs, err)
			continue
		}
		customer[j.ID] = j.Customer + " " + j.Reference
	}
	var found Found
	for t, err := range record.List(l) {
		if err != nil {
			errs = append(errs, err)
			continue
		}
		found.Of++
		all := strings.ToLower(strings.Join([]string{t.ID, t.Job, customer[t.Job], t.Note, string(t.Material), string(t.Standing), string(t.Ends)}, "\n"))
		if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(all, strings.ToLower(strings.TrimPrefix(w, TagPrefix))) }) {
			found.Tools = append(found.Tools, t)
		}
	}
	return found, errors.Join(errs...)
}

// TagPrefix begins what the code on a tag says; a tool's id follows.
const TagPrefix = "T."

// Near returns the ids that something typed is near to, the nearest first.
func Near(l *ledger.Ledger, typed string) ([]string, error) {
	var ids []string
	var errs []error
	for t, err := range record.List(l) {
		if err != nil {
			errs = append(errs, err)
			continue
		}
		ids = append(ids, t.ID)
	}
	return text.Near(typed, ids), errors.Join(errs...)
}

// Match returns the tools that something typed or scanned from a tag may mean: the one of that id, or those whose id
// holds it, whatever the case.
func Match(l *ledger.Ledger, typed string) ([]string, error) {
	var found []string
	typed = strings.ToLower(strings.TrimPrefix(typed, TagPrefix))
	for t, err := range record.List(l) {
		if err != nil {
			continue // what cannot be read cannot be meant
		}
		id := strings.ToLower(t.ID)
		if id == typed {
			return []string{t.ID}, nil
		}
		if strings.Contains(id, typed) {
			found = append(found, t.ID)
		}
	}
	if len(found) == 0 {
		return nil, fmt.Errorf("%q: %w", typed, record.ErrNoTool)
	}
	return found, nil
}
