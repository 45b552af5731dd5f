package inspect

import (
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// heights returns an inspection after the grind of four flutes, read in the order given by rounds of flute numbers from 1,
// with each value in tenths of a thou.
func heights(values [][2]float64, basis func(*Basis)) Inspection {
	tool := Tool{ID: "EM-1", Flutes: 4, Diameter: length.Inch / 2, Material: HSS, Helix: 30 * length.Degree, Hand: RightHand, Ends: SquareEnd, Teeth: PlainTeeth, Duty: Finishing}
	in := Inspection{ID: "EM-1.1", Tool: tool, Stage: After, Holding: InVee, Basis: DefaultBasis(tool)}
	in.Basis.Gauges = map[string]Instrument{"dial": {Resolution: length.Tenth / 10, PermissibleError: length.Tenth / 10, Repeatability: 0.254, RepeatabilityDF: 40}}
	if basis != nil {
		basis(&in.Basis)
	}
	count := map[int]int{}
	for _, v := range values {
		flute := int(v[0])
		r := Reading{Feature: RadialRunout, Flute: flute, Repeat: count[flute] + 1, Value: length.Length(v[1] * float64(length.Tenth)), Unit: length.In, Gauge: "dial", At: "2026-11-27T00:00:00Z"}
		if flute == 0 {
			r.Flute, r.Repeat, r.Closing = 1, 0, true
		}
		count[flute]++
		in.Readings = append(in.Readings, r)
	}
	return in
}

func radial(t *testing.T, in Inspection) (Finding, Judgement) {
	t.Helper()
	j := Judge(in)
	for _, f := range j.Findings {
		if f.Feature == RadialRunout {
			return f, j
		}
	}
	t.Fatalf("no run-out among %+v", j.Findings)
	return Finding{}, j
}

// Read flute by flute a drift of half a tenth a reading makes run-out; the closing reading takes it out, and without it nothing is
// judged. The true heights are 0, 1, 2, 1 tenths; the limit is five.
func TestJudgeFluteByFlute(t *testing.T) {
	var values [][2]float64
	true4 := []float64{0, 1, 2, 1}
	time := 0.0
	for k := range 4 {
		for range 3 {
			values = append(values, [2]float64{float64(k + 1), true4[k] + time})
			time += 0.5
		}
	}
	f, _ := radial(t, heights(values, nil))
	if f.Verdict != NotJudged || f.Why == nil || f.Why.What != NoClosing {
		t.Errorf("without a closing reading: %+v, %+v", f, f.Why)
	}
	f, j := radial(t, heights(append(values, [2]float64{0, time}), nil))
	if f.Verdict != Accept || (f.Value.Length()-2*length.Tenth).Abs() > length.Tenth/100 {
		t.Errorf("with it: %v %v %+v", f.Verdict, f.Value.In(length.In), f.Why)
	}
	if len(j.Runouts) != 1 || j.Runouts[0].Drift == nil || (*j.Runouts[0].Drift-6*length.Tenth).Abs() > length.Tenth/100 {
		t.Errorf("drift told: %+v", j.Runouts)
	}
	if f.Standard == nil || f.DF == nil || f.GaugeError == nil || f.GaugeError.Length() != length.Tenth/10 {
		t.Errorf("finding lacks what another program needs: %+v", f)
	}
}

func rounds(n int, at func(k, i int) float64) [][2]float64 {
	var values [][2]float64
	for i := range n {
		for k := range 4 {
			values = append(values, [2]float64{float64(k + 1), at(k, i)})
		}
	}
	return values
}

// The holding that was studied joins the band; a limit that stands that near is then left open.
func TestJudgeHolding(t *testing.T) {
	values := rounds(3, func(k, i int) float64 { return []float64{4, 2, 0, 2}[k] })
	f, _ := radial(t, heights(values, nil))
	if f.Verdict != Accept {
		t.Errorf("as held: %+v, %+v", f, f.Why)
	}
	f, _ = radial(t, heights(values, func(b *Basis) {
		b.Seatings = map[Holding]Seating{InVee: {SD: 2.54, DF: 20}} // a tenth per axis
	}))
	if f.Verdict != Undecided {
		t.Errorf("with the holding's error: %+v", f)
	}
}

// A reading that stands apart is named by its key, and what hangs on it is left open.
func TestJudgeSuspect(t *testing.T) {
	values := rounds(3, func(k, i int) float64 {
		if k == 2 && i == 1 {
			return 14
		}
		return []float64{2, 1, 0, 1}[k] + 0.1*float64((k+i)%2)
	})
	f, j := radial(t, heights(values, nil))
	if f.Verdict != Undecided || f.Why == nil || f.Why.What != Suspect || f.Why.Rounds != 2 {
		t.Errorf("%+v, %+v", f, f.Why)
	}
	if want := (Key{Feature: RadialRunout, Flute: 3, Repeat: 2}); len(j.Suspects) != 1 || j.Suspects[0] != want {
		t.Errorf("suspects %+v, want %+v", j.Suspects, want)
	}
}

// Looked at after each round, a verdict spends its share of the 5 % and says so.
func TestJudgeLooks(t *testing.T) {
	values := rounds(2, func(k, i int) float64 { return []float64{1, 1, 0, 1}[k] + 0.1*float64((k+i)%2) })
	f, _ := radial(t, heights(values, func(b *Basis) { b.Looks = true }))
	if f.Verdict != Accept || f.Risk != statistics.Look(2) {
		t.Errorf("%+v, %+v", f, f.Why)
	}
}

// A dial that cannot settle the limit says so before the first round.
func TestCannotSettle(t *testing.T) {
	in := heights(nil, nil)
	if _, least, cannot := in.CannotSettle(RadialRunout, "dial"); cannot || least <= 0 {
		t.Errorf("a fine dial cannot settle its limit: least %v", least)
	}
	in.Basis.Gauges["dial"] = Instrument{Resolution: length.Thou, PermissibleError: length.Thou}
	if limit, least, cannot := in.CannotSettle(RadialRunout, "dial"); !cannot || least <= limit {
		t.Errorf("a dial of a thou settles %v: least %v", limit, least)
	}
}

// One offset on six flutes is held off centre; the concentricity and the teeth come with their doubt.
func TestJudgeConcentricityDoubt(t *testing.T) {
	values := rounds(3, func(k, i int) float64 { return []float64{12, 6, 0, 6}[k] + 0.1*float64((k+i)%2) })
	_, j := radial(t, heights(values, nil))
	if r := j.Runouts[0]; r.ConcentricityDoubt == nil || r.ToothDoubt == nil || *r.ConcentricityDoubt <= 0 {
		t.Errorf("%+v", r)
	}
	if len(j.Causes) != 1 || len(j.Causes[0].Parts) != 1 || j.Causes[0].Parts[0].What != HeldOffCentre {
		t.Errorf("causes %+v", j.Causes)
	}
}
