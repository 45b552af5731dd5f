package hand

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// Prepare puts together what is inspected, with all that the ledger knows of the tool, its gauges and its job, and what is
// asked of it. A tool that came with a job is inspected for that job, until the job is released. What was chosen and cannot be
// is a ChoiceError.
func Prepare(l *ledger.Ledger, b *bench.File, t record.Tool, c bench.Choices) (inspect.Inspection, desk.Plan, error) {
	var diameter *length.Length
	var last *inspect.Judged
	if c.Job == "" && t.Job != "" {
		if _, err := record.ForJob(l, t.Job); err == nil {
			c.Job = t.Job
		}
	}
	diameter, c.Regrind, last = record.Known(l, t.ID, c.Stage)
	in, plan, err := b.Inspection(t.Tool, c)
	if err != nil {
		return in, plan, ChoiceError{err}
	}
	in.LastDiameter = diameter
	if c.AtDesk {
		howGround(&in, &plan, t, last)
		if c.Continues != nil || c.Features == nil && c.Repeats == 0 {
			readOn(&in, &plan, t, last, c.Continues)
		}
		if c.Features == nil && in.Stage == inspect.After && plan.Ground == nil && len(in.Dull()) > 0 && !slices.Contains(plan.Features, inspect.WearLand) {
			// Whether it was ground is not told: the wear tells.
			at := max(slices.Index(plan.Features, inspect.PrimaryLand), 0)
			plan.Features = slices.Insert(slices.Clone(plan.Features), at, inspect.WearLand)
		}
	}
	if err := record.UseStudies(l, in.Basis.Gauges); err != nil {
		return in, plan, err
	}
	if in.Basis.Seatings, err = record.UseSeatings(l); err != nil {
		return in, plan, err
	}
	if in.Job != "" {
		first, err := record.ForJob(l, in.Job)
		if err != nil {
			return in, plan, err
		}
		// The master comes before a job's first tool where the bench has one.
		if first && in.Basis.MasterDiameter > 0 && !slices.Contains(plan.Features, inspect.Master) {
			plan.Features = append([]inspect.Feature{inspect.Master}, plan.Features...)
		}
	}
	in.Basis.Looks = plan.Most > plan.Rounds // the verdict is tried after each round, and the 5 % spent over all looks
	in.ID, err = record.NextID(l, t.ID)
	return in, plan, err
}

// ground is what was told of how a tool was ground since it was last read, nil where it was not told that it was.
func ground(t record.Tool) *record.Ground {
	n := len(t.Grounds)
	if n == 0 || len(t.Inspections) > 0 && t.Grounds[n-1].At <= t.Inspections[len(t.Inspections)-1].Closed {
		return nil
	}
	return &t.Grounds[n-1]
}

// howGround asks, where the last inspection sent the tool to the grinder, how it was really ground; what is told already stands
// with the inspection. That it was ground alone says nothing of how.
func howGround(in *inspect.Inspection, plan *desk.Plan, t record.Tool, last *inspect.Judged) {
	over := func(g inspect.Ground) inspect.Ground { // what was chosen for this inspection stands over it
		return inspect.Ground{Wheel: cmp.Or(in.Wheel, g.Wheel), Divisions: cmp.Or(in.Divisions, g.Divisions), EndsFed: cmp.Or(in.EndsFed, g.EndsFed), Offset: cmp.Or(in.Offset, g.Offset), Order: g.Order, Last: g.Last, Faces: g.Faces}
	}
	if in.Stage == inspect.Before || last == nil {
		return
	}
	if told := ground(t); t.Standing == record.StandsToInspect && told != nil {
		g := inspect.Ground{Wheel: told.Wheel, Divisions: told.Divisions, EndsFed: told.EndsFed, Offset: told.Offset, Order: told.Order, Last: told.Last}
		if said := g.Wheel != "" || g.Divisions+g.EndsFed > 0 || g.Offset != nil || len(g.Order)+len(g.Last) > 0; said {
			if g = over(g); g.Check(in.Tool) == nil {
				in.TellGround(g)
			}
			return
		}
	} else if t.Standing != record.StandsToGrind && t.Standing != record.StandsToFinish {
		return
	}
	steps := last.Judgement.Planned()
	if len(steps) == 0 {
		return
	}
	if in.Stage == inspect.After {
		steps = last.Judgement.Grinds() // nothing is left to grind
	}
	g := inspect.GroundBy(steps)
	var what []string
	for _, f := range g.Faces {
		what = append(what, f.Name())
	}
	plan.Ground = &desk.Grind{Ground: over(g), What: strings.Join(what, ", ")}
}

// readOn carries into an inspection what the last one read, where that left something open and nothing was done to the tool
// since: only what was left open is asked. continued is the inspection before the person now; else the tool was laid down since.
func readOn(in *inspect.Inspection, plan *desk.Plan, t record.Tool, last, continued *inspect.Judged) {
	of := continued
	if of == nil && t.Standing == record.StandsToInspect && in.Divisions == 0 && ground(t) == nil {
		of = last
	}
	if of == nil || of.Inspection.Stage != in.Stage || of.Inspection.Holding != in.Holding {
		return
	}
	carried, ok := of.Inspection.Carry(of.Judgement, continued != nil)
	if !ok || len(carried.Readings)+len(carried.Seen) == 0 {
		return
	}
	in.Continues, in.Readings, in.Seen, in.LastDiameter = of.Inspection.ID, carried.Readings, carried.Seen, of.Inspection.LastDiameter
	in.TellGround(of.Inspection.Ground())
	plan.Ground, plan.Wanted = nil, carried.Rounds
	if carried.DropBy == inspect.BySliding {
		in.Basis.DropBy = inspect.BySliding
	}
	for _, r := range carried.Readings { // what was read beside the usual is asked for no less
		if f := r.Feature; !slices.Contains(plan.Features, f) {
			plan.Features = append(plan.Features, f)
		}
		if r.FromEnd != nil && r.Feature == inspect.RadialRunout && !slices.Contains(plan.FromEnds, *r.FromEnd) {
			plan.FromEnds = append(plan.FromEnds, *r.FromEnd)
		}
	}
	for _, n := range carried.Rounds {
		plan.Most = max(plan.Most, n)
	}
}

// at names a closed inspection so that no other bench's is meant.
func at(life record.Life) string { return life.Inspection + "@" + life.Bench }

// ChoiceError is about something chosen for an inspection that cannot be.
type ChoiceError struct{ error }

// Unwrap returns what is wrong.
func (e ChoiceError) Unwrap() error { return e.error }

// mostBefore is how many earlier inspections are looked into for what was read the last time.
const mostBefore = 3

// Earlier returns a tool's last inspections, newest first, for what was read the last time. What cannot be read is left out.
func Earlier(l *ledger.Ledger, t record.Tool) []Before {
	var all []Before
	for _, life := range slices.Backward(t.Inspections) {
		if len(all) == mostBefore {
			break
		}
		in, err := record.Find(l, at(life))
		if err != nil || life.Practice {
			continue
		}
		when := life.Closed
		if len(when) >= 10 {
			when = day(when[:10])
		}
		all = append(all, Before{Inspection: in.Inspection, When: when})
	}
	return all
}

var months = []string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}

// day prints a date as people say it: 2026-08-14 is 14 Aug.
func day(date string) string {
	var y, m, d int
	if n, err := fmt.Sscanf(date, "%d-%d-%d", &y, &m, &d); err != nil || n != 3 || m < 1 || m > 12 {
		return date
	}
	return fmt.Sprintf("%d %s", d, months[m-1])
}
