package inspect

import (
	"slices"
	"strings"
	"testing"

	"flutelog/inspect/length"
)

// worn is an inspection of a worn tool with plain lands.
func worn(change func(*Tool)) Inspection {
	t := testTool()
	change(&t)
	in := Inspection{ID: "T-1.1", Tool: t, Stage: Before, Holding: InFixture, Basis: DefaultBasis(t)}
	in.Basis.Feed.Division = 2 * length.Thou
	for flute := 1; flute <= t.Flutes; flute++ {
		for f, v := range map[Feature]string{WearLand: "0.015", PrimaryLand: "0.020", Land: "0.080", EndPrimaryLand: "0.010", EndLand: "0.055"} {
			r := readings(f, 1, v)[0]
			r.Flute = flute
			if r.Check(t) == nil {
				in.Readings = append(in.Readings, r)
			}
		}
	}
	return in
}

func stepOf(t *testing.T, j Judgement, do Do, where Where) Step {
	t.Helper()
	i := slices.IndexFunc(j.Steps, func(s Step) bool { return s.Do == do && s.Where == where })
	if i < 0 {
		t.Fatalf("no step %s %s in %+v", do, where, j.Steps)
	}
	return j.Steps[i]
}

// A step is set up and fed: half an inch and 8 degrees want the rest .25 sin 8 = .034793 down; the flutes are ground in the
// bench's order, the last round half a turn on; carbide is sparked out three times.
func TestStepIsSetUp(t *testing.T) {
	in := worn(func(t *Tool) {})
	s := stepOf(t, Judge(in), DoPrimary, OnFlutes)
	if s.Rest == nil || s.Rest.Format(length.In, 6) != "0.034793" || *s.Angle != 8*length.Degree {
		t.Errorf("rest %v, angle %v; want 0.034793 in for 8 degrees", s.Rest, s.Angle)
	}
	if !slices.Equal(s.Order, []int{1, 2, 3, 4}) || !slices.Equal(s.Last, []int{3, 4, 1, 2}) || s.SparkOuts != 1 {
		t.Errorf("order %v, last round %v, %d without feed", s.Order, s.Last, s.SparkOuts)
	}
	if s.Divisions == nil || *s.Divisions != 1 || s.Amount.Format(length.In, 9) != "0.001645116" {
		t.Errorf("got %v divisions, %v; want one, .001645116 in (worn_tooth.csv)", s.Divisions, s.Amount)
	}
	if s.Normal != nil {
		t.Errorf("a straight edge has another relief square to it: %v", s.Normal)
	}
	// tan 8 / cos 40 is tan 10.397.
	helical := stepOf(t, Judge(worn(func(t *Tool) { t.Helix = 40 * length.Degree })), DoPrimary, OnFlutes)
	if helical.Normal == nil || helical.Normal.Format(2) != "10.40" {
		t.Errorf("square to an edge of 40 degrees helix: %v, want 10.40", helical.Normal)
	}
	in = worn(func(t *Tool) { t.Material = Carbide })
	in.Basis.GrindOrder = []int{1, 3, 2, 4}
	s = stepOf(t, Judge(in), DoPrimary, OnFlutes)
	if !slices.Equal(s.Order, []int{1, 3, 2, 4}) || !slices.Equal(s.Last, []int{2, 4, 1, 3}) || s.SparkOuts != 3 {
		t.Errorf("order %v, last round %v, %d without feed", s.Order, s.Last, s.SparkOuts)
	}
}

func TestStepsOfKinds(t *testing.T) {
	left := stepOf(t, Judge(worn(func(t *Tool) { t.Cut, t.Helix = LeftHand, 30*length.Degree })), DoPrimary, OnFlutes)
	if !left.Left || !left.Lock {
		t.Errorf("left-hand cut, right-hand helix: left %v, locked %v", left.Left, left.Lock)
	}
	both := stepOf(t, Judge(worn(func(t *Tool) { t.Cut, t.Hand, t.Helix = LeftHand, LeftHand, 30*length.Degree })), DoPrimary, OnFlutes)
	if !both.Left || both.Lock {
		t.Errorf("left-hand cut and helix: left %v, locked %v", both.Left, both.Lock)
	}
	taper := stepOf(t, Judge(worn(func(t *Tool) { t.Taper = 2 * length.Degree })), DoPrimary, OnFlutes)
	if taper.Swivel == nil || *taper.Swivel != 2*length.Degree {
		t.Errorf("taper: swivelled %v", taper.Swivel)
	}
	// Half an inch at the end, 2 degrees a side over an inch of edges: .534921 in the middle, so the rest .267460 sin 8 = .037223
	// down; over it the end (.25) has 8.5626 degrees, and where the edges end (.284920) 7.5066.
	taper = stepOf(t, Judge(worn(func(t *Tool) {
		inch := length.Inch
		t.Taper, t.Edges = 2*length.Degree, &inch
	})), DoPrimary, OnFlutes)
	if taper.Rest == nil || taper.Rest.Format(length.In, 6) != "0.037223" || taper.AtEnd == nil || taper.AtEnd.Format(3) != "8.563" || taper.AtBack.Format(3) != "7.507" {
		t.Errorf("taper: rest %v, %v at the end, %v at the back", taper.Rest, taper.AtEnd, taper.AtBack)
	}
	uneven := stepOf(t, Judge(worn(func(t *Tool) {
		t.Angles = []length.Angle{0, 88 * length.Degree, 180 * length.Degree, 268 * length.Degree}
	})), DoPrimary, OnFlutes)
	if !uneven.Plate {
		t.Error("unequal pitch is not indexed by the plate")
	}
	// The faces of a rougher of .75 in and a rake of 10 degrees: the wheel .375 sin 10 = .065118 off the centre, .015 off each.
	face := stepOf(t, Judge(worn(func(t *Tool) {
		rake := 10 * length.Degree
		t.Diameter, t.Teeth, t.Sharpened, t.Rake = length.Inch*3/4, ChipBreakerTeeth, OnFace, &rake
	})), DoFace, OnFlutes)
	if face.Rest == nil || face.Rest.Format(length.In, 6) != "0.065118" || face.Amount == nil || *face.Amount != 15*length.Thou || !face.Plate {
		t.Errorf("face: %+v", face)
	}
	in := worn(func(t *Tool) {})
	in.Seen = []Seen{{Sight: BluntCorner, Yes: true}}
	ends := stepOf(t, Judge(in), DoPrimary, OnEnds)
	if ends.Tilt == nil || *ends.Tilt != 6*length.Degree || ends.Swivel == nil || *ends.Swivel != 2*length.Degree || ends.Rest != nil {
		t.Errorf("ends: tilt %v, swivel %v, rest %v", ends.Tilt, ends.Swivel, ends.Rest)
	}
}

// A drop on a taper is of the diameter where it was read: .8 in from the end of half an inch at 2 degrees a side it is
// .555873, and 8 degrees fall .0020735 over .020 (theta .0719589; .277936 (1 - cos 8 / cos 3.87706)), where they fall .0019922 at the end.
func TestDropOnATaper(t *testing.T) {
	tool := testTool()
	tool.Taper = 2 * length.Degree
	for _, c := range []struct{ at, drop string }{{"0.8", "0.0020735"}, {"0", "0.0019922"}} {
		in := Inspection{Tool: tool, Stage: After, Basis: DefaultBasis(tool)}
		in.Basis.CheckingDistance = 20 * length.Thou
		from := readings(Length, 1, c.at)[0].Value
		for _, r := range readings(ReliefDrop, 1, c.drop, c.drop, c.drop, c.drop) {
			r.FromEnd = &from
			in.Readings = append(in.Readings, r)
		}
		if a := in.MeasuredRelief(ReliefDrop, 1); a == nil || a.Format(2) != "8.00" {
			t.Errorf("%s from the end: %v, want 8.00 degrees", c.at, a)
		}
	}
}

// The wheel of a step is the one told, else the bench's only one for the material; its speed is held against what is marked
// on it and what is usual, and a plain grind with a wheel that must not is not clear. A cup of 6 in at 3600 turns a minute runs at
// pi 6/12 3600 = 5655 ft/min, under the 6500 usual of a vitrified bond; at 4500 at 7069.
func TestWheelOfAStep(t *testing.T) {
	in := worn(func(t *Tool) {})
	in.Basis.SpindleRPM = 3600
	in.Basis.Wheels = []Wheel{
		{Name: "cup 6", Diameter: 6 * length.Inch, MarkedRPM: 3800, Bond: "vitrified", Materials: []Material{HSS}},
		{Name: "diamond", Diameter: 4 * length.Inch, MarkedRPM: 5000, Bond: "resin", Materials: []Material{Carbide}},
	}
	clear := Judge(in)
	s := stepOf(t, clear, DoPrimary, OnFlutes)
	if s.Wheel == nil || s.Wheel.Name != "cup 6" || s.Wheel.Wrong() || int(s.Wheel.Speed.FeetPerMinute()+.5) != 5655 || clear.Outcome() != Clear {
		t.Fatalf("wheel %+v, outcome %v", s.Wheel, clear.Outcome())
	}
	if steps, g := clear.Planned(), GroundBy(clear.Planned()); g.Wheel != "cup 6" || len(steps) != 1 || g.Divisions != 1 || !slices.Equal(g.Last, []int{3, 4, 1, 2}) {
		t.Errorf("planned %+v by %d steps", g, len(steps))
	}
	for name, c := range map[string]struct {
		change func(*Inspection)
		wrong  func(WheelUse) bool
	}{
		"over the marked": {func(in *Inspection) { in.Basis.SpindleRPM = 3801 }, func(u WheelUse) bool { return u.OverMarked && !u.OverUsual }},
		"over the usual":  {func(in *Inspection) { in.Basis.SpindleRPM, in.Basis.Wheels[0].MarkedRPM = 4500, 5000 }, func(u WheelUse) bool { return !u.OverMarked && u.OverUsual }},
		"not for it":      {func(in *Inspection) { in.Wheel = "diamond" }, func(u WheelUse) bool { return u.NotFor }},
	} {
		wrong := in
		wrong.Basis.Wheels = slices.Clone(in.Basis.Wheels)
		c.change(&wrong)
		j := Judge(wrong)
		if s := stepOf(t, j, DoPrimary, OnFlutes); s.Wheel == nil || !c.wrong(*s.Wheel) || j.Outcome() != FallsShort {
			t.Errorf("%s: %+v, outcome %v", name, s.Wheel, j.Outcome())
		}
	}
	in.Basis.Wheels = append(in.Basis.Wheels, Wheel{Name: "other", Diameter: length.Inch, MarkedRPM: 9000})
	if s := stepOf(t, Judge(in), DoPrimary, OnFlutes); s.Wheel != nil || len(s.Either) != 2 || s.Either[0].Name != "cup 6" || s.Either[1].Name != "other" {
		t.Errorf("of two wheels for the material %+v was chosen, of %+v", s.Wheel, s.Either)
	}
	in.Basis.SpindleRPM = 4500 // the cup of 6 in is marked 3800: the other alone may turn
	if j := Judge(in); stepOf(t, j, DoPrimary, OnFlutes).Wheel.Name != "other" || j.WrongWheel() {
		t.Errorf("of two wheels the one that is too fast was not left out: %+v", stepOf(t, j, DoPrimary, OnFlutes))
	}
	in.Basis.SpindleRPM = 9500
	if j := Judge(in); !j.WrongWheel() || j.Outcome() != FallsShort {
		t.Error("both wheels are too fast, and it is not said")
	}
	in.Basis.Wheels, in.Basis.SpindleRPM = in.Basis.Wheels[:1], 0
	if s := stepOf(t, Judge(in), DoPrimary, OnFlutes); s.Wheel == nil || s.Wheel.Wrong() || s.Wheel.Speed != 0 {
		t.Errorf("without a spindle's speed: %+v", s.Wheel)
	}
}

// Every step that grinds at this bench has its wheel, and one that must not turn bars all of them: a chamfered tool, a ball ground
// here, and a chip that is cut back. A gash has a thin one of its own, which the bench does not list.
func TestEveryStepThatGrindsHasItsWheel(t *testing.T) {
	for name, tool := range map[string]func(*Tool){
		"square": func(t *Tool) { t.CentreCutting = true }, "chamfered": func(t *Tool) { t.Ends = ChamferedEnd }, "ball": func(t *Tool) { t.Ends = BallEnd },
		"face": func(t *Tool) { t.Sharpened = OnFace },
	} {
		in := worn(tool)
		in.Basis.SendsOut, in.Basis.SpindleRPM = nil, 3600
		in.Basis.Wheels = []Wheel{{Name: "cup 6", Diameter: 6 * length.Inch, MarkedRPM: 3800, Bond: "vitrified"}}
		size := 10 * length.Thou
		in.Seen = []Seen{{Sight: ChippedCorner, Yes: true, Length: &size}}
		j := Judge(in)
		ground := 0
		for _, s := range j.Steps {
			switch s.Do {
			case DoCutBack, DoFace, DoPrimary, DoSecondary, DoCorner, DoForm:
				ground++
				if s.Wheel == nil || s.Wheel.Name != "cup 6" || s.Wheel.RPM != 3600 {
					t.Errorf("%s, %s of the %s: wheel %+v", name, s.Do, s.Where, s.Wheel)
				}
			default:
				if s.Wheel != nil {
					t.Errorf("%s, %s: wheel %s", name, s.Do, s.Wheel.Name)
				}
			}
		}
		if ground < 2 || j.WrongWheel() {
			t.Errorf("%s: %d steps grind, a wrong wheel %v", name, ground, j.WrongWheel())
		}
		in.Basis.SpindleRPM = 3900
		if j := Judge(in); !j.WrongWheel() || j.Outcome() != FallsShort {
			t.Errorf("%s: a wheel over its mark", name)
		}
		in.Basis.SendsOut = []Do{DoCorner, DoForm}
		for _, s := range Judge(in).Steps {
			if s.Away && s.Wheel != nil {
				t.Errorf("%s: %s is sent out, and has a wheel of this bench", name, s.Do)
			}
		}
	}
}

// Flutes and ends that are both ground have each their divisions, as their plans have them.
func TestPlannedTellsBothDivisions(t *testing.T) {
	in := worn(func(*Tool) {})
	in.Seen = []Seen{{Sight: BluntCorner, Yes: true}}
	for i, r := range in.Readings {
		if r.Feature == EndLand { // so wide that the primary alone will do
			in.Readings[i].Value, in.Readings[i].Text = 100*length.Thou, "0.100"
		}
	}
	j := Judge(in)
	flutes, ends := stepOf(t, j, DoPrimary, OnFlutes), stepOf(t, j, DoPrimary, OnEnds)
	if flutes.Divisions == nil || ends.Divisions == nil {
		t.Fatalf("flutes %+v, ends %+v", flutes, ends)
	}
	// The wear of .015 in is cleared by .001645 in on the flutes (worn_tooth.csv), so by one division; on the ends at 6 degrees it goes
	// .015 tan 6 = .001577 deep, by one too.
	g := GroundBy(j.Planned())
	if g.Divisions != 1 || g.EndsFed != 1 || Fed(g.Divisions, g.EndsFed) != "1 division, ends 1 division" {
		t.Errorf("planned %d divisions, ends %d", g.Divisions, g.EndsFed)
	}
	// Where the ends want their secondary too they are read between, and the flutes come after: of the whole route both are told, and of
	// each the primary's.
	both := worn(func(*Tool) {})
	both.Seen = in.Seen
	j = Judge(both)
	if g := GroundBy(j.Planned()); g.Divisions != 0 || g.EndsFed != 1 || len(g.Faces) != 1 {
		t.Errorf("up to what is read between: %+v", g)
	}
	if g := GroundBy(j.Grinds()); g.Divisions != 1 || g.EndsFed != 1 || len(g.Faces) != 3 {
		t.Errorf("of the whole route: %+v", g)
	}
	in.TellGround(Ground{Divisions: 3, EndsFed: 2})
	if g := in.Ground(); g.Divisions != 3 || g.EndsFed != 2 || Fed(3, 2) != "3 divisions, ends 2 divisions" || Fed(0, 0) != "" {
		t.Errorf("told %+v", g)
	}
}

// What is told of the last round is what a wearing wheel is read from: heights that rise as the flutes really came are its wear.
func TestCauseGoesByWhatWasTold(t *testing.T) {
	tool := testTool()
	tool.Flutes = 6
	in := Inspection{Tool: tool, Stage: After, Holding: InFixture, Basis: DefaultBasis(tool), GroundLast: []int{1, 4, 2, 5, 3, 6}}
	for _, heights := range [][]string{{"0", "0.0004", "0.0008", "0.0002", "0.0006", "0.0010"}, {"0", "0.0004", "0.0008", "0.0002", "0.0006", "0.0011"}} {
		in.Readings = append(in.Readings, readings(RadialRunout, 1+len(in.Readings)/6, heights...)...)
	}
	j := Judge(in)
	if len(j.Causes) != 1 || len(j.Causes[0].Parts) != 1 || j.Causes[0].Parts[0].What != RisingInOrder {
		t.Errorf("as told: %+v", j.Causes)
	}
	in.GroundLast = nil
	if j := Judge(in); len(j.Causes) == 1 && len(j.Causes[0].Parts) == 1 && j.Causes[0].Parts[0].What == RisingInOrder {
		t.Error("the same is told for another order")
	}
	if err := (Ground{Order: []int{1, 2, 3, 3, 5, 6}}).Check(tool); err == nil {
		t.Error("a flute twice is an order")
	}
}

// What a bench does not do is sent out: by default the form of balls and corner radii, and what the bench file adds.
func TestSentOut(t *testing.T) {
	j := Judge(worn(func(t *Tool) { t.Ends = BallEnd }))
	if !stepOf(t, j, DoForm, OnEnds).Away {
		t.Error("the form of a ball is ground here")
	}
	if !slices.ContainsFunc(j.Notes, func(n Note) bool { return n.What == BlendBroken }) {
		t.Error("the blend of a ball that is ground on the flutes is not told of")
	}
	in := worn(func(t *Tool) {})
	chip := 15 * length.Thou
	in.Seen = []Seen{{Sight: ChippedCorner, Yes: true, Length: &chip}}
	cut := stepOf(t, Judge(in), DoCutBack, OnEnds)
	// The chip, and the wear of the corner: at 6 degrees on the ends .015 tan 6 = .001577 by the tangent, for ends have no circle.
	if cut.Away || cut.Amount == nil || cut.Amount.Format(length.In, 5) != "0.01658" {
		t.Errorf("cut back %v, sent out %v; want .01658", cut.Amount, cut.Away)
	}
	in.Basis.SendsOut = []Do{DoCutBack, DoGash}
	j = Judge(in)
	if !stepOf(t, j, DoCutBack, OnEnds).Away || !stepOf(t, j, DoGash, OnEnds).Away {
		t.Errorf("cut back and gash are done here: %+v", j.Steps)
	}
}

// A chip in a ball or a corner radius lies under its form: that is ground back by as much, the chip is looked for after it, and
// flutes that need nothing are left alone.
func TestChippedForm(t *testing.T) {
	chip := 20 * length.Thou
	for _, ends := range []Ends{BallEnd, RadiusEnd} {
		tool := testTool()
		tool.Ends = ends
		in := Inspection{Tool: tool, Stage: Before, Basis: DefaultBasis(tool), Seen: []Seen{{Sight: ChippedCorner, Yes: true, Length: &chip}}}
		for _, away := range []bool{true, false} {
			if !away {
				in.Basis.SendsOut = nil
			}
			j := Judge(in)
			var done []Do
			for _, s := range j.Steps {
				done = append(done, s.Do)
			}
			if want := []Do{DoForm, DoLook, DoDeburr, DoInspect}; !slices.Equal(done, want) {
				t.Fatalf("%s: %v, want %v", ends, done, want)
			}
			form, look := j.Steps[0], j.Steps[1]
			if form.Away != away || form.Amount == nil || *form.Amount != chip || look.Sight != ChippedCorner {
				t.Errorf("%s: %+v, then %+v", ends, form, look)
			}
			if slices.ContainsFunc(j.Notes, func(n Note) bool { return n.What == BlendBroken }) {
				t.Errorf("%s: a blend is broken by flutes that are not ground", ends)
			}
		}
	}
}

// A left-hand tool is the mirror image of a right-hand one: read in the order in which it cuts, every figure of its
// judgement is the same, in all pairs of hands.
func TestJudgementMirrors(t *testing.T) {
	for _, pair := range [][2]Tool{
		{{Cut: RightHand, Hand: RightHand}, {Cut: LeftHand, Hand: LeftHand}},
		{{Cut: RightHand, Hand: LeftHand}, {Cut: LeftHand, Hand: RightHand}},
	} {
		var said [2]string
		for i, hands := range pair {
			in := worn(func(t *Tool) { t.Cut, t.Hand, t.Helix = hands.Cut, hands.Hand, 30*length.Degree })
			for n, heights := range [][]string{{"0", "0.0003", "-0.0001", "0.0002"}, {"0.0002", "0.0001", "-0.0002", "0.0004"}} {
				rs := readings(RadialRunout, 1, heights...)
				at := length.Length(n+1) * length.Inch / 2
				for k := range rs {
					rs[k].FromEnd = &at
				}
				in.Readings = append(in.Readings, rs...)
			}
			shank := readings(ShankRunout, 1, "0", "0.0001", "0.0002", "0.0001")
			in.Readings = append(in.Readings, shank...)
			j := Judge(in)
			var all []string
			for _, f := range j.Findings {
				if f.Value != nil {
					all = append(all, string(f.Feature)+" "+f.Value.In(length.In))
				}
			}
			for _, n := range j.Notes {
				if n.Value != nil {
					all = append(all, string(n.What)+" "+n.Value.In(length.In))
				}
			}
			if j.Plan == nil {
				t.Fatal("no plan")
			}
			said[i] = strings.Join(append(all, j.Plan.Infeed.String(), j.Plan.DiameterAfter.String()), "\n")
		}
		if said[0] != said[1] {
			t.Errorf("%v:\n%s\nits mirror image:\n%s", pair[0], said[0], said[1])
		}
	}
}

// Two anvils never meet two edges of three flutes; the vee, a master or a ring does, and it is told which.
func TestOddDiameter(t *testing.T) {
	tool := testTool()
	tool.Flutes = 3
	header := "feature,flute,from_end,repeat,value,unit\n"
	_, _, err := ReadCSV(strings.NewReader(header+"diameter,,,1,0.4962 micrometer,in\n"), "x.csv", tool, length.In)
	if err == nil || !strings.Contains(err.Error(), "two anvils never meet two edges of 3 flutes") || !strings.Contains(err.Error(), "vee of 60 degrees") {
		t.Errorf("two anvils on three flutes: %v", err)
	}
	for text, want := range map[string]NoteOf{"0.4962": OddDiameter, "0.4962 vee": MeanDiameter, "0.4962 ring": ""} {
		rs, _, err := ReadCSV(strings.NewReader(header+"diameter,,,1,"+text+",in\n"), "x.csv", tool, length.In)
		if err != nil {
			t.Fatal(err)
		}
		in := Inspection{Tool: tool, Stage: After, Basis: DefaultBasis(tool), Readings: rs}
		var got NoteOf
		for _, n := range Judge(in).Notes {
			if n.Feature == Diameter {
				got = n.What
			}
		}
		if got != want || rs[0].Text != "0.4962" {
			t.Errorf("%s: note %q, want %q; text %q", text, got, want, rs[0].Text)
		}
	}
	tool.Flutes = 4
	if _, _, err := ReadCSV(strings.NewReader(header+"diameter,,,1,0.4962 micrometer,in\n"), "x.csv", tool, length.In); err != nil {
		t.Error(err)
	}
}

// A relief that was ground too steep is brought back to the middle of its band, not ground again as it is: 14.12 degrees
// on a quarter inch (10 to 14) want the rest .125 sin 12 = .025989 down.
func TestReliefIsBroughtBack(t *testing.T) {
	tool := testTool()
	tool.Diameter, tool.PrimaryRelief, tool.SecondaryRelief = length.Inch/4, nil, nil
	in := Inspection{ID: "T-1.1", Tool: tool, Stage: After, Holding: InFixture, Basis: DefaultBasis(tool), Readings: slices.Concat(
		readings(PrimaryLand, 1, "0.010", "0.010", "0.010", "0.010"), readings(Land, 1, "0.035", "0.035", "0.035", "0.035"),
		readings(ReliefDrop, 1, "0.0019", "0.0019", "0.0019", "0.0019"))}
	s := stepOf(t, Judge(in), DoPrimary, OnFlutes)
	if s.Angle == nil || *s.Angle != 12*length.Degree || s.Rest == nil || s.Rest.Format(length.In, 6) != "0.025989" {
		t.Errorf("angle %v, rest %v; want 12 degrees, .025989 in", s.Angle, s.Rest)
	}
}

// No one plane meets every crest of chip-breaker teeth: in the planes at .1 and .2 in the crests stand at 0, .0001, .0002 and
// 0 at their highest, TIR .0002, though either plane alone shows .0060. In one plane they are not judged.
func TestCrests(t *testing.T) {
	tool := testTool()
	tool.Teeth = ChipBreakerTeeth
	in := Inspection{Tool: tool, Stage: After, Holding: InFixture, Basis: DefaultBasis(tool)}
	at := func(place string, heights ...string) {
		from := readings(Diameter, 1, place)[0].Value
		for _, r := range readings(RadialRunout, 1, heights...) {
			r.FromEnd = &from
			if err := in.Check(r); err != nil {
				t.Fatal(err)
			}
			in.Readings = append(in.Readings, r)
		}
	}
	has := func(what NoteOf) bool {
		return slices.ContainsFunc(Judge(in).Notes, func(n Note) bool { return n.What == what })
	}
	if !has(CrestsUnread) {
		t.Error("crests that were not read are not told of")
	}
	at("0.1", "0", "-0.0060", "0.0002", "-0.0060")
	if f := find1(t, Judge(in), RadialRunout); f.Verdict != NotJudged || f.Why == nil || f.Why.What != OnePlane {
		t.Errorf("in one plane: %+v", f)
	}
	at("0.2", "-0.0060", "0.0001", "-0.0060", "0")
	if f := find1(t, Judge(in), RadialRunout); f.Value == nil || f.Value.Length() != 2*length.Tenth || f.Verdict == Reject {
		t.Errorf("in two planes: %+v; want a TIR of .0002", f)
	}
	if has(CrestsUnread) {
		t.Error("crests that were read are told of as unread")
	}
}

// What was called for before the grind and is not told as ground stays called for: between the grinds on the route, as it was
// planned; after, open, so that a dull tool that reads as it did before is not released. Looking at the wear again, or telling it,
// settles it.
func TestCalledForAndNotGround(t *testing.T) {
	before := worn(func(t *Tool) {})
	for i, r := range before.Readings {
		if r.Feature == EndPrimaryLand { // wide: ends and flutes are both ground, the ends first
			before.Readings[i].Value = 40 * length.Thou
		}
	}
	before.Seen = []Seen{{Sight: BluntCorner, Yes: true}}
	called := Judge(before)
	ends := Face{DoPrimary, OnEnds}
	if g := called.Grinds(); !slices.Contains(Faces(g), ends) || !slices.Contains(Faces(g), Face{DoPrimary, OnFlutes}) {
		t.Fatalf("before the grind %v", Faces(g))
	}
	read := func(stage Stage, told ...Face) Inspection {
		in := before
		in.Seen, in.Stage, in.GroundFaces, in.Regrind = nil, stage, told, &Regrind{Before: true, Ends: true, Owed: called.Grinds()}
		in.Readings = slices.DeleteFunc(slices.Clone(in.Readings), func(r Reading) bool { return r.Feature == WearLand })
		in.Basis.Required = []Item{Item(PrimaryLand), Item(Land), Item(EndPrimaryLand), Item(EndLand)}
		return in
	}

	between := Judge(read(Between, ends))
	flutes := stepOf(t, between, DoPrimary, OnFlutes)
	if planned := stepOf(t, called, DoPrimary, OnFlutes); flutes.Divisions == nil || *flutes.Divisions != *planned.Divisions || *flutes.Amount != *planned.Amount {
		t.Errorf("between the grinds %+v, planned %+v", flutes, planned)
	}
	if !between.Calls(GrindSecondary) || slices.Contains(Faces(between.Grinds()), ends) {
		t.Errorf("the ends were ground: %+v", between.Work)
	}

	sharp := func(in *Inspection) { // the shares conform
		for i, r := range in.Readings {
			if r.Feature == EndPrimaryLand || r.Feature == PrimaryLand {
				in.Readings[i].Value = 12 * length.Thou
			}
		}
	}
	done := read(Between, ends)
	sharp(&done)
	if j := Judge(done); j.Calls(GoOn) || !slices.Contains(Faces(j.Grinds()), Face{DoPrimary, OnFlutes}) {
		t.Errorf("shares conform and the flutes are not ground: %+v", j.Work)
	}

	after := read(After, ends)
	sharp(&after)
	if j := Judge(after); j.Releases() || len(j.Unread) != 1 || j.Unread[0].Name() != "primary of the flutes" || j.Coverage[0].Is != Untold {
		t.Errorf("the flutes were not ground, nor looked at: %+v, open %v", j.Work, j.Unread)
	}
	told := read(After, ends, Face{DoPrimary, OnFlutes})
	sharp(&told)
	if j := Judge(told); !j.Releases() {
		t.Errorf("all primaries are told: %+v, open %v", j.Work, j.Unread)
	}
	for wear, releases := range map[string]bool{"0.001": true, "0.015": false} {
		in := after
		in.Readings = slices.Clone(after.Readings)
		for flute := 1; flute <= in.Tool.Flutes; flute++ {
			r := readings(WearLand, 1, wear)[0]
			r.Flute = flute
			in.Readings = append(in.Readings, r)
		}
		if j := Judge(in); j.Releases() != releases {
			t.Errorf("wear %s: %+v, open %v", wear, j.Work, j.Unread)
		}
	}
}
