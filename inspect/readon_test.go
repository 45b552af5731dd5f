package inspect

import (
	"slices"
	"testing"

	"flutelog/inspect/length"
)

// Reading on carries what stands, and leaves out just what was left open: an undecided run-out wants a round more while the tool
// is held as it was, and is read anew once it was taken out; a diameter over the last is read a second time; a drop past the heel is
// read again on its flute.
func TestCarry(t *testing.T) {
	tool := testTool()
	last := readings(Diameter, 1, "0.4950")[0].Value
	in := Inspection{Tool: tool, Stage: After, Holding: InFixture, Basis: DefaultBasis(tool), LastDiameter: &last}
	in.Basis.CheckingDistance = 20 * length.Thou
	in.Basis.Gauges = map[string]Instrument{"": {Resolution: length.Tenth / 5, PermissibleError: length.Tenth * 7 / 10}}
	in.Readings = slices.Concat(
		readings(RadialRunout, 1, "0", "0.0004", "0.0001", "0.0002"), readings(RadialRunout, 2, "0.0001", "0.0004", "0.0001", "0.0002"),
		readings(PrimaryLand, 1, "0.025", "0.025", "0.018", "0.025"), readings(Land, 1, "0.070", "0.070", "0.070", "0.070"),
		readings(ReliefDrop, 1, "0.0030", "0.0030", "0.0030", "0.0030"), readings(Diameter, 1, "0.4970"))
	for _, s := range Sights {
		in.Seen = append(in.Seen, Seen{Sight: s})
	}
	j := Judge(in)
	if !j.Calls(ReadOn) {
		t.Fatalf("work %+v", j.Work)
	}
	has := func(c Carried, f Feature, flute int) bool {
		return slices.ContainsFunc(c.Readings, func(r Reading) bool { return r.Feature == f && r.Flute == flute })
	}
	for _, seated := range []bool{true, false} {
		c, ok := in.Carry(j, seated)
		if !ok || len(c.Seen) != len(Sights) || !has(c, Land, 3) || !has(c, Diameter, 0) || c.Rounds[Diameter] != 2 {
			t.Fatalf("seated %v: %+v", seated, c)
		}
		if has(c, ReliefDrop, 3) || !has(c, ReliefDrop, 1) {
			t.Errorf("seated %v: the drop past the heel of flute 3 stands, or that of flute 1 does not", seated)
		}
		if has(c, RadialRunout, 1) != seated {
			t.Errorf("seated %v: run-out carried %v", seated, has(c, RadialRunout, 1))
		}
		if seated && c.Rounds[RadialRunout] != 3 {
			t.Errorf("%d rounds of run-out wanted, want 3", c.Rounds[RadialRunout])
		}
	}
	in.Stage = Before
	if _, ok := in.Carry(Judgement{Work: []Work{{What: Release}}}, true); ok {
		t.Error("what is released is read on")
	}
}

// Where all was read and the gauge is too coarse for the limit, another gauge is the next step, and no reading is asked; anything
// else that is open is read on.
func TestReadingSettlesNothingWithACoarseGauge(t *testing.T) {
	tool := testTool()
	in := Inspection{Tool: tool, Stage: After, Holding: InFixture, Basis: DefaultBasis(tool)}
	in.Basis.Required = []Item{Item(RadialRunout)}
	in.Basis.Gauges = map[string]Instrument{"": {Resolution: length.Tenth, PermissibleError: 4 * length.Tenth}}
	for _, repeat := range []int{1, 2, 3} {
		in.Readings = append(in.Readings, readings(RadialRunout, repeat, "0", "0.0003", "0.0001", "0.0002")...)
	}
	j := Judge(in)
	if !j.Calls(ReadOn) || j.ReadingSettles() || len(j.Steps) != 1 || j.Steps[0].Do != DoFiner {
		t.Fatalf("work %+v, steps %+v, settles %v", j.Work, j.Steps, j.ReadingSettles())
	}
	in.Basis.Required = append(in.Basis.Required, Item(Diameter))
	if j = Judge(in); !j.ReadingSettles() || j.Steps[0].Do != DoRead {
		t.Errorf("with a diameter unread: steps %+v", j.Steps)
	}
}

// A drop that turning by eye cannot settle is read again, by sliding, on every flute that was turned; what stands keeps how and over
// which distance it was read, however the inspection that goes on reads.
func TestCarrySlides(t *testing.T) {
	tool := testTool()
	in := Inspection{Tool: tool, Stage: After, Holding: InFixture, Basis: DefaultBasis(tool)}
	in.Basis.Required = []Item{Item(ReliefDrop)}
	in.Basis.Gauges = map[string]Instrument{"": {Resolution: length.Tenth / 5, PermissibleError: length.Tenth / 5}}
	in.Readings = slices.Concat(readings(PrimaryLand, 1, "0.012", "0.012", "0.012", "0.012"), readings(ReliefDrop, 1, "0.0016", "0.0016", "0.0016", "0.0020"))
	in.Readings[7].DropBy = BySliding
	c, ok := in.Carry(Judge(in), false)
	if !ok || c.DropBy != BySliding || len(c.Readings) != 5 || c.Readings[4].Flute != 4 {
		t.Fatalf("carried %v: %+v", ok, c)
	}
	in.Readings = slices.Concat(readings(PrimaryLand, 1, "0.025", "0.025", "0.025", "0.025"), readings(ReliefDrop, 1, "0.0028", "0.0028", "0.0028", "0.0028"))
	in.Basis.Required = append(in.Basis.Required, Item(Diameter)) // what is open
	if c, ok = in.Carry(Judge(in), false); !ok || c.DropBy != ByTurning {
		t.Fatalf("carried %v: %+v", ok, c)
	}
	was := *in.MeasuredRelief(ReliefDrop, 1)
	in.Readings, in.Basis.DropBy, in.Basis.CheckingDistance = c.Readings, BySliding, 10*length.Thou
	if got := in.MeasuredRelief(ReliefDrop, 1); got == nil || *got != was {
		t.Errorf("carried into an inspection that slides the drop is %v, and was %v", got, was)
	}
}

// Of drops that are slid and turned each that was turned is tried for too short a distance, not the one alone that decides.
func TestEachTurnedDropIsTried(t *testing.T) {
	tool := testTool()
	in := Inspection{Tool: tool, Stage: After, Holding: InFixture, Basis: DefaultBasis(tool)}
	in.Basis.Required = []Item{Item(ReliefDrop)}
	in.Basis.Gauges = map[string]Instrument{"": {Resolution: length.Tenth / 5, PermissibleError: length.Tenth / 5}}
	judged := func(turned int) Finding {
		t.Helper()
		in.Readings = slices.Concat(readings(PrimaryLand, 1, "0.012", "0.012", "0.012", "0.012"), readings(ReliefDrop, 1, "0.00208", "0.00208", "0.00208", "0.00200"))
		for i := range in.Readings[4:] {
			if in.Readings[4+i].DropBy = BySliding; i+1 == turned {
				in.Readings[4+i].DropBy, in.Readings[4+i].Value = ByTurning, 18*length.Tenth
			}
		}
		for _, f := range Judge(in).Findings {
			if f.Feature == ReliefDrop {
				return f
			}
		}
		t.Fatal("no relief is judged")
		return Finding{}
	}
	if f := judged(0); f.Verdict != Accept || f.Flute != 4 {
		t.Fatalf("all slid: %s, flute %d decides", f.Verdict, f.Flute)
	}
	for turned := 1; turned <= 3; turned++ {
		f := judged(turned)
		if f.Flute != 4 || f.Verdict != Undecided || f.Why == nil || f.Why.What != DistanceCoarse || !slices.Equal(f.Why.Flutes, []int{turned}) {
			t.Errorf("flute %d turned: %s of flute %d, %+v", turned, f.Verdict, f.Flute, f.Why)
		}
	}
	if f := judged(4); f.Verdict != Undecided || f.Why == nil || f.Why.What != DistanceCoarse {
		t.Errorf("flute 4 turned: %s, %+v", f.Verdict, f.Why)
	}
}
