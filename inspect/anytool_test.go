package inspect

import (
	"math/rand/v2"
	"testing"

	"flutelog/inspect/length"
)

// anyInspection makes an inspection of any kind of tool at any stage, with what Check takes of random readings.
func anyInspection(r *rand.Rand) (Inspection, bool) {
	between := func(a, b float64) length.Length {
		l, _ := length.FromMicrometres(a + (b-a)*r.Float64())
		return l
	}
	hands := []Hand{RightHand, LeftHand}
	tool := Tool{
		ID: "T-1", Diameter: between(400, 50000), Flutes: 1 + r.IntN(12), Material: Materials[r.IntN(3)], Duty: Finishing,
		Helix: length.Angle(r.IntN(60)) * length.Degree, Hand: hands[r.IntN(2)], Cut: hands[r.IntN(2)],
		Ends: []Ends{SquareEnd, ChamferedEnd, RadiusEnd, BallEnd}[r.IntN(4)], Teeth: []Teeth{PlainTeeth, ChipBreakerTeeth}[r.IntN(2)],
		Form: []Form{FlatRelief, HollowRelief, EccentricRelief}[r.IntN(3)], Sharpened: []Sharpened{OnPeriphery, OnFace}[r.IntN(2)],
		Taper: length.Angle(r.IntN(10)) * length.Degree, CentreCutting: r.IntN(2) == 0,
	}
	if r.IntN(2) == 0 {
		a := length.Angle(1+r.IntN(29)) * length.Degree
		tool.PrimaryRelief = &a
	}
	if tool.Check() != nil {
		return Inspection{}, false
	}
	in := Inspection{ID: "T-1.1", Tool: tool, Stage: []Stage{Before, Between, After}[r.IntN(3)], Holding: InFixture, Basis: DefaultBasis(tool)}
	in.Basis.WheelDiameter = 12 * length.Inch
	if r.IntN(2) == 0 {
		in.Basis.Feed.Division = between(1, 100)
	}
	D := tool.Diameter.Micrometres()
	for _, f := range Features {
		if r.IntN(12) == 0 {
			continue
		}
		for flute := 1; flute <= tool.Flutes && !(f.Single() && flute > 1); flute++ {
			one := Reading{Feature: f, Flute: flute, Repeat: 1, Unit: length.Mm, Text: "0.1"}
			switch {
			case f.Heights():
				one.Value = between(-20, 20)
			case f == WearLand:
				one.Value = between(0, D*0.06*r.Float64())
			case f == PrimaryLand || f == EndPrimaryLand:
				one.Value = between(1, D*0.06*r.Float64())
			case f == Land || f == EndLand:
				one.Value = between(D*0.06, D*0.3)
			case f.Drop():
				one.Value = between(-D*0.02, D*0.05)
			case f == Diameter:
				one.Value = between(D*0.9, D*1.01)
			default:
				one.Value = between(1000, 100000)
			}
			if f.Single() {
				one.Flute = 0
			}
			if in.Check(one) == nil {
				in.Readings = append(in.Readings, one)
			}
		}
	}
	for _, s := range Sights {
		in.Seen = append(in.Seen, Seen{Sight: s, Yes: s != Cracks && r.IntN(6) == 0})
	}
	return in, true
}

// Whatever is read of whatever tool, no two figures of a judgement contradict each other: a plan whose heel rubs is no plan
// of the primary alone, a share is a part of the whole, and no step asks for more than the plan.
func TestNoContradiction(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 1))
	plans, inspections := 0, 3000
	if testing.Short() {
		inspections = 1000
	}
	for range inspections {
		in, ok := anyInspection(r)
		if !ok {
			continue
		}
		j := Judge(in)
		for _, p := range []*Grind{j.Plan, j.EndPlan} {
			if p == nil {
				continue
			}
			plans++
			if p.Infeed < 0 || p.RatioAfter == nil || *p.RatioAfter <= 0 || *p.RatioAfter > 1 {
				t.Fatalf("%+v\nfrom %+v", p, in)
			}
			if p.RubsAfter && !p.OverAfter {
				t.Fatalf("the heel rubs and the primary alone will do: %+v\nfrom %+v", p, in)
			}
			if p.LastWithoutSecondary != nil && !p.RubsAfter && (*p.LastWithoutSecondary >= *p.Divisions) == p.OverAfter {
				t.Fatalf("%d divisions, the last without a secondary is %d, over %v\nfrom %+v", *p.Divisions, *p.LastWithoutSecondary, p.OverAfter, in)
			}
			if (p.Divisions == nil) != (in.Basis.Feed.Division == 0) {
				t.Fatalf("divisions %v of a dial of %v", p.Divisions, in.Basis.Feed.Division)
			}
		}
		for _, s := range j.Steps {
			if s.Do == DoPrimary && s.Where == OnFlutes && s.Divisions != nil && j.Plan != nil && *s.Divisions != *j.Plan.Divisions {
				t.Fatalf("the step says %d divisions, the plan %d", *s.Divisions, *j.Plan.Divisions)
			}
		}
	}
	if plans < 200 {
		t.Errorf("%d plans only", plans)
	}
}
