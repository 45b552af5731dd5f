// Package paper gathers from the ledger what the sheet and the tag of an inspection are made of.
package paper

import (
	"slices"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/report"
	"flutelog/inspect/session"
)

// Of returns what the sheet and the tag of a closed inspection show, in unit. bench is the bench's name.
func Of(l *ledger.Ledger, bench, id string, unit length.Unit) (report.SheetInput, error) {
	s, err := session.StandingOf(l, id)
	if err != nil {
		return report.SheetInput{}, err
	}
	c := s.Closed
	all, err := session.Inspections(l, c.Inspection.Tool.ID, 0)
	if err != nil {
		return report.SheetInput{}, err
	}
	synchronised := c.Record.Time.Synchronised
	in := report.SheetInput{
		Inspection: c.Inspection, Judgement: s.Judgement(), Decision: decision(s), Unit: unit, Bench: bench,
		Opened: moment(c.Opened, synchronised), Closed: moment(c.Closed, synchronised),
		Sequence: c.Record.Seq, Head: headOf(c.Record), Offsets: offsets(all, c),
	}
	for _, e := range slices.Backward(session.Earlier(all, c)) {
		in.Earlier = append(in.Earlier, report.EarlierStage{Stage: e.Inspection.Stage, Judgement: e.Judgement})
	}
	return in, nil
}

var ruled = map[session.Ruling]string{session.Released: "released", session.Concession: "concession", session.Withdrawn: "withdrawn"}

// decision returns what a person has decided since, nil for nothing.
func decision(s session.Standing) *report.Decision {
	d := s.Decision
	if d == nil {
		return nil
	}
	return &report.Decision{What: ruled[d.Ruling], Who: d.By, Why: d.Why, When: moment(d.At, s.Record.Time.Synchronised)}
}

// moment prints a time of the ledger to the second.
func moment(stamp string, synchronised bool) report.Moment {
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return report.Moment{Text: stamp}
	}
	return report.Moment{Text: t.UTC().Format("2006-01-02 15:04:05 UTC"), ClockSet: synchronised}
}

// offsets returns what a machinist enters for the tool as it was read, and how that changed since the inspection
// before in which the same was read.
func offsets(all []session.Closed, c session.Closed) report.Offsets {
	var o report.Offsets
	o.Radius, o.Length = radius(c.Judgement), read(c.Judgement, inspect.Length)
	before := slices.IndexFunc(all, func(e session.Closed) bool { return e.Record.Hash == c.Record.Hash })
	for _, e := range all[before+1:] {
		if e.Discarded != "" {
			continue
		}
		change(&o.RadiusChange, o.Radius, radius(e.Judgement))
		change(&o.LengthChange, o.Length, read(e.Judgement, inspect.Length))
	}
	return o
}

// change sets the difference of two lengths that are both known, unless it is set already.
func change(c **length.Length, now, before *length.Length) {
	if *c == nil && now != nil && before != nil {
		d := *now - *before
		*c = &d
	}
}

func radius(j inspect.Judgement) *length.Length {
	d := read(j, inspect.Diameter)
	if d == nil {
		return nil
	}
	r := *d / 2
	return &r
}

// read returns the length that a judgement has of a feature, nil for none.
func read(j inspect.Judgement, feature inspect.Feature) *length.Length {
	q := j.Figure(feature)
	if q == nil {
		return nil
	}
	l := q.Length()
	return &l
}

// headOf is the head as "ledger verify" takes it from paper.
func headOf(r ledger.Record) string {
	return ledger.Head{Bench: r.Bench, Seq: r.Seq, Hash: r.Hash}.String()
}
