package bench

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Choices are what the person says of an inspection before it begins. What is left out is as the bench file
// says, or else the stage's default.
type Choices struct {
	Stage     inspect.Stage
	Job       string
	Inspector string
	Holding   inspect.Holding
	Reseated  bool
	Unit      length.Unit
	Rule      statistics.Rule
	Features  []inspect.Feature
	Repeats   int
	FromEnds  []length.Length

	AtDesk    bool            // somebody is there to be asked
	Continues *inspect.Judged // read on with what this one left open, the tool still held as it was; nil goes by the ledger

	CheckingDistance length.Length  // over which a drop is read; 0 is as the bench file says, or by diameter and width
	DropBy           inspect.DropBy // empty is as the bench file says

	// How the tool was ground, between and after: the wheel may be told before too.
	Regrind   *inspect.Regrind // what the earlier inspections of the regrind left to this one
	Wheel     string
	Divisions int            // of the feed dial, fed to the flutes since the wheel's first touch; 0 is not told
	EndsFed   int            // of the divisions fed to the ends
	Offset    *length.Length // of the tooth rest below the tool's centre, at a cup wheel
}

// Inspection puts together what is inspected, what it is judged by and what is asked. Its errors are about
// choices that cannot be.
func (f *File) Inspection(t inspect.Tool, c Choices) (inspect.Inspection, desk.Plan, error) {
	in := inspect.Inspection{
		Tool: t, Stage: c.Stage, Job: c.Job, Inspector: c.Inspector, Reseated: c.Reseated,
		Holding: cmp.Or(c.Holding, f.Holding), Basis: f.Basis(t, c.Stage),
		Regrind: c.Regrind, Grinder: f.Grinder.Name, Wheel: c.Wheel, Divisions: c.Divisions, EndsFed: c.EndsFed, Offset: c.Offset,
	}
	in.Basis.Unit = cmp.Or(c.Unit, f.Unit)
	if w, err := f.Wheel(c.Wheel); err == nil && t.Form == inspect.HollowRelief {
		in.Basis.WheelDiameter = w.Diameter
	}
	in.Basis.CheckingDistance = cmp.Or(c.CheckingDistance, in.Basis.CheckingDistance)
	in.Basis.DropBy = cmp.Or(c.DropBy, in.Basis.DropBy)
	if c.Rule != "" {
		in.Basis.WorkRule, in.Basis.ReleaseRule = c.Rule, c.Rule
	}
	if !slices.Contains(inspect.Holdings, in.Holding) {
		return in, desk.Plan{}, fmt.Errorf("holding %q: want one of %v", c.Holding, inspect.Holdings)
	}
	if err := f.CheckInspector(c.Inspector); err != nil && c.Inspector != "" { // who reads need not be told; who signs must
		return in, desk.Plan{}, err
	}
	if err := f.checkGround(in); err != nil {
		return in, desk.Plan{}, err
	}
	p := f.Plan(t, c.Stage, c.Regrind)
	if c.Features != nil {
		p.Features = c.Features
	}
	if c.Repeats > 0 { // as often as that, whatever the verdict needs, and drops and diameters too
		p.Rounds, p.Most, p.Once = c.Repeats, c.Repeats, nil
	}
	tied := in.Basis.Tie == inspect.TieShank && in.Holding == inspect.InFixture && c.Stage == inspect.After
	if at := slices.Index(p.Features, inspect.RadialRunout); tied && at >= 0 && !slices.Contains(p.Features, inspect.ShankRunout) {
		p.Features = slices.Insert(slices.Clone(p.Features), at+1, inspect.ShankRunout)
	}
	if c.FromEnds != nil {
		p.FromEnds = c.FromEnds
	}
	return in, p, p.Check(t)
}

// checkGround refuses what cannot have been done at the grinder.
func (f *File) checkGround(in inspect.Inspection) error {
	switch {
	case in.Divisions < 0 || in.EndsFed < 0:
		return fmt.Errorf("divisions %d: want 1 or more", min(in.Divisions, in.EndsFed))
	case in.Offset != nil && (*in.Offset <= 0 || *in.Offset >= in.Tool.Diameter/2):
		return fmt.Errorf("offset %s: want more than zero and less than half the tool's diameter of %s", in.Offset.In(in.Basis.Unit), in.Tool.Diameter.In(in.Basis.Unit))
	case (in.Divisions > 0 || in.EndsFed > 0 || in.Offset != nil) && in.Stage == inspect.Before:
		return errors.New("divisions and offset tell how a tool was ground; give them between or after the grind")
	}
	return f.CheckWheel(in.Wheel)
}

// CheckInspector refuses a name that is not among those who may sign.
func (f *File) CheckInspector(name string) error {
	if len(f.Inspectors) > 0 && !slices.Contains(f.Inspectors, name) {
		return fmt.Errorf("inspector %q: the bench file lists %s; name one of these, or add the name there", name, strings.Join(f.Inspectors, ", "))
	}
	return nil
}
