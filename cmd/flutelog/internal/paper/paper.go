// Package paper gathers from the ledger what the sheet and the tag of an inspection are made of.
package paper

import (
	"fmt"
	"slices"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

// Of returns what the sheet and the tag of a closed inspection show, as it stands, in unit. bench is the bench's name.
func Of(l *ledger.Ledger, bench, id string, unit length.Unit) (report.SheetInput, error) {
	in, err := record.Find(l, id)
	if err != nil {
		return report.SheetInput{}, err
	}
	tool, err := record.FindTool(l, in.Tool.ID)
	if err != nil {
		return report.SheetInput{}, err
	}
	earlier, err := record.Earlier(l, &in)
	if err != nil {
		return report.SheetInput{}, err
	}
	clockSet, locked := in.Record.Time.Synchronised, ""
	for _, l := range in.Stands.Locks {
		locked = l.String()
	}
	s := report.SheetInput{
		Inspection: in.Inspection, Judgement: in.Judgement, Unit: unit, Bench: bench, Standing: in.Stands.Standing, Locked: locked,
		Decides: in.Stands.Inspection == in.ID, NotReground: in.Stands.NotReground, Practice: in.Figures.Practice,
		Opened: moment(in.Opened, clockSet), Closed: moment(in.Closed, clockSet),
		Sequence: in.Newest.Seq, Head: headOf(in.Newest), Offsets: offsets(tool, &in),
	}
	for _, r := range in.Rulings {
		s.Rulings = append(s.Rulings, report.Ruled{What: ruled[r.Word], Who: r.By, Why: r.Why, When: moment(r.At, clockSet)})
	}
	for _, c := range in.Corrections {
		s.Corrections = append(s.Corrections, "Corrected: "+Correction(c.Correction, unit))
	}
	for _, e := range earlier {
		s.Earlier = append(s.Earlier, report.EarlierStage{Stage: e.Stage, Judgement: e.Judgement})
	}
	return s, nil
}

var ruled = map[record.Word]string{record.Release: "released", record.Concession: "concession", record.Withdraw: "withdrawn"}

// Correction says in one line what was put right.
func Correction(c record.Correction, unit length.Unit) string {
	was, is := "not answered", ""
	answer := map[bool]string{true: "yes", false: "no"}
	if c.Seen != nil {
		is = answer[c.Seen.Yes]
		if c.WasSeen != nil {
			was = answer[c.WasSeen.Yes]
		}
	} else {
		was, is = c.Was.Value.In(unit), c.Reading.Value.In(unit)
	}
	return fmt.Sprintf("%s was %s, is %s, by %s on %.10s: %s", c.What(), was, is, c.By, c.At, c.Why)
}

// moment prints a time of the ledger to the second.
func moment(stamp string, synchronised bool) report.Moment {
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return report.Moment{Text: stamp}
	}
	return report.Moment{Text: t.UTC().Format("2006-01-02 15:04:05 UTC"), ClockSet: synchronised}
}

// offsets returns what a machinist enters for the tool as it was read, and how that changed since the machinist last had
// it: since the newest inspection before this one by which it was released, or else the newest before the grind, in
// which the same was read.
func offsets(t record.Tool, in *record.Inspection) report.Offsets {
	var o report.Offsets
	o.Radius, o.Length = radius(in.Judgement.Figure(inspect.Diameter)), read(in.Judgement, inspect.Length)
	before := slices.IndexFunc(t.Inspections, func(e record.Life) bool { return e.Summary == in.Record.Ref() })
	if before < 0 {
		return o
	}
	for _, e := range slices.Backward(t.Inspections[:before]) {
		had := e.Ruling != nil && e.Ruling.Word != record.Withdraw || e.Stage == inspect.Before
		if had && !e.Practice {
			change(&o.RadiusChange, o.Radius, radius(e.Diameter))
		}
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

func radius(d *inspect.Quantity) *length.Length {
	if d == nil {
		return nil
	}
	r := d.Length() / 2
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
