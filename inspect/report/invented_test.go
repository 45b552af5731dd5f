package report

import (
	"fmt"
	"math/rand/v2"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// Everything in this file is invented: no tool was read.

func at(l length.Length) *length.Length { return &l }

func heights(tenths ...float64) []length.Length {
	var hs []length.Length
	for _, t := range tenths {
		hs = append(hs, length.Length(t*float64(length.Tenth)))
	}
	return hs
}

func pointers(ls []length.Length) []*length.Length {
	var ps []*length.Length
	for i := range ls {
		ps = append(ps, &ls[i])
	}
	return ps
}

// inventedHeights are heights of 2 to 12 flutes, in tenths of a thou.
var inventedHeights = heights(0, 2.4, -1.7, 0.8, 1.9, -0.6, 3.1, 1.2, -2, 0.3, 2.2, -1.1)

func inventedLands(flutes int, ends bool) inspect.LandFigures {
	l := inspect.LandFigures{Ends: ends}
	for i := range flutes {
		l.Primary = append(l.Primary, length.Length(9+i)*length.Thou)
		l.Land = append(l.Land, 36*length.Thou)
	}
	judged, err := geometry.JudgeLands(l.Primary, l.Land)
	if err != nil {
		panic(err)
	}
	l.Worst, l.Mean = judged.WorstFlute, judged.Mean
	return l
}

func inventedRunout(f inspect.Feature, flutes int) inspect.RunoutFigures {
	hs := inventedHeights[:flutes]
	return inspect.RunoutFigures{Feature: f, FromEnd: at(length.Inch / 5), Heights: hs, TIR: geometry.TIR(hs)}
}

func lengthOf(l length.Length) *inspect.Quantity {
	q := inspect.LengthQuantity(l)
	return &q
}

func inventedFindings(flutes int) []inspect.Finding {
	probability := 0.973
	share, half := inspect.ShareQuantity(0.333), inspect.ShareQuantity(0.5)
	relief, least, most := inspect.AngleQuantity(10*length.Degree), inspect.AngleQuantity(9*length.Degree), inspect.AngleQuantity(12*length.Degree)
	return []inspect.Finding{
		{Feature: inspect.RadialRunout, FromEnd: at(length.Inch / 5), Value: lengthOf(geometry.TIR(inventedHeights[:flutes])),
			Uncertainty: lengthOf(length.Tenth), Most: lengthOf(8 * length.Tenth), Verdict: inspect.Accept, Probability: &probability, Rule: "guarded"},
		{Feature: inspect.Concentricity, FromEnd: at(length.Inch / 5), Verdict: inspect.NotJudged, Why: &inspect.Reason{What: inspect.NotRead, Flutes: []int{2}}},
		{Feature: inspect.PrimaryWidth, Flute: 2, Value: lengthOf(18 * length.Thou), Least: lengthOf(15 * length.Thou), Most: lengthOf(20 * length.Thou), Verdict: inspect.Accept, Rule: "guarded"},
		{Feature: inspect.PrimaryLand, Flute: 2, Value: &share, Most: &half, Verdict: inspect.Accept, Rule: "guarded"},
		{Feature: inspect.ReliefDrop, Flute: 1, Value: &relief, Least: &least, Most: &most, Verdict: inspect.Undecided, Rule: "guarded", Why: &inspect.Reason{What: inspect.MoreRounds, Rounds: 6}},
		{Feature: inspect.Diameter, Value: lengthOf(length.Inch * 49 / 100), Least: lengthOf(length.Inch * 9 / 20), Verdict: inspect.Accept, Rule: "guarded"},
	}
}

// invented is a sheet of a tool after its grind, with the stage before it.
func invented(flutes int) SheetInput {
	tool := inspect.Tool{ID: "EM-0500-17", Diameter: length.Inch / 2, Flutes: flutes, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
	basis := inspect.DefaultBasis(tool)
	basis.Limits.Set(inspect.RadialRunout, inspect.Limit{Most: lengthOf(8 * length.Tenth), Judged: true})
	basis.Gauges = map[string]inspect.Instrument{"dial": {Resolution: length.Tenth / 2, Serial: "1234", CalibrationDue: "2027-01-31"}}
	before := inspect.Judgement{
		Lands:   []inspect.LandFigures{inventedLands(flutes, false)},
		Runouts: []inspect.RunoutFigures{inventedRunout(inspect.RadialRunout, flutes)},
	}
	return SheetInput{
		Unit: length.In,
		Inspection: inspect.Inspection{
			ID: "EM-0500-17.4", Tool: tool, Stage: inspect.After, Job: "invented job 7", Inspector: "A. Nobody (invented)",
			Holding: inspect.InFixture, Basis: basis,
			Seen:     []inspect.Seen{{Sight: inspect.Cracks}, {Sight: inspect.Burn}, {Sight: inspect.ChippedCorner}},
			Readings: []inspect.Reading{{Feature: inspect.WearLand, Flute: flutes, Value: 2 * length.Thou, Gauge: "dial"}},
		},
		Judgement: inspect.Judgement{
			Stage:    inspect.After,
			Verdict:  inspect.Undecided,
			Work:     []inspect.Work{{What: inspect.ReadOn, Because: inspect.ThingsOpen, Findings: []int{4}}},
			Findings: inventedFindings(flutes),
			Lands:    []inspect.LandFigures{inventedLands(flutes, false), inventedLands(flutes, true)},
			Runouts:  []inspect.RunoutFigures{inventedRunout(inspect.RadialRunout, flutes)},
			Causes:   []inspect.Cause{{Feature: inspect.RadialRunout, Parts: []inspect.CausePart{{What: inspect.HeldOffCentre, Size: length.Tenth}}}},
		},
		Earlier:  []EarlierStage{{inspect.Before, before}},
		Opened:   Moment{"2026-03-04 08:15:30", true},
		Closed:   Moment{"2026-03-04 08:31:02", false},
		Bench:    "invented bench",
		Standing: record.StandsToInspect,
		Decides:  true,
		Sequence: 4711,
		Head:     strings.Repeat("0123456789abcdef", 4),
		Offsets:  Offsets{Radius: at(length.Inch * 49 / 200), RadiusChange: at(-2 * length.Thou), Length: at(3 * length.Inch)},
	}
}

// before is a worn tool before its grind: no earlier stage, a plan.
func before(flutes int) SheetInput {
	in := invented(flutes)
	in.Inspection.Stage = inspect.Before
	in.Standing = record.StandsToGrind
	in.Earlier = nil
	j := &in.Judgement
	j.Stage, j.Verdict = inspect.Before, inspect.WorthGrinding
	j.Work = []inspect.Work{
		{What: inspect.GrindBoth, Where: inspect.OnFlutes, Because: inspect.PlanNeedsBoth},
		{What: inspect.GrindPrimary, Where: inspect.OnEnds, Because: inspect.SeenSo, Sights: []inspect.Seen{{Sight: inspect.BluntCorner, Yes: true}}},
	}
	divisions, last, ratio, relief := 4, 2, 0.6, inspect.AngleQuantity(10*length.Degree+length.Degree/2)
	j.Plan = &inspect.Grind{
		Infeed: 183 * length.Tenth / 10, Division: at(5 * length.Tenth), Divisions: &divisions, LastWithoutSecondary: &last, RatioAfter: &ratio, OverAfter: true,
		DiameterAfter: at(length.Inch * 49 / 100), SecondaryInfeed: at(3 * length.Thou),
		Assumed: []inspect.Assumption{{What: inspect.AssumedPrimaryRelief, Value: &relief}, {What: inspect.AssumedEvenTeeth}},
	}
	return in
}

// bare is a tool of which hardly anything is known.
func bare() SheetInput {
	in := invented(3)
	return SheetInput{
		Unit:       length.Mm,
		Standing:   record.StandsToInspect,
		Decides:    true,
		Inspection: inspect.Inspection{ID: in.Inspection.ID, Tool: in.Inspection.Tool, Stage: inspect.After},
		Judgement: inspect.Judgement{
			Stage: inspect.After, Verdict: inspect.NotJudged, Work: []inspect.Work{{What: inspect.ReadOn, Because: inspect.NothingRead}},
			Unread: []inspect.Item{"radial-runout"}, Coverage: []inspect.Covered{{Item: "radial-runout", Is: inspect.Missing}},
		},
	}
}

// worst has as much of everything as there can be, and all of it long.
func worst(flutes int, long string) SheetInput {
	in := before(flutes)
	in.Earlier = invented(flutes).Earlier
	in.Earlier = append(in.Earlier, EarlierStage{inspect.Between, in.Earlier[0].Judgement})
	i, j := &in.Inspection, &in.Judgement
	i.Stage = inspect.After
	i.Tool.ID, i.ID = strings.Repeat("W", 60), strings.Repeat("W", 60)+".1234"
	i.Job, i.Inspector, i.Basis.Revision, in.Bench = long, long, long, long
	i.Reseated = true
	i.Basis.Gauges = map[string]inspect.Instrument{}
	for n := range 6 {
		name := fmt.Sprint(n, long)
		i.Basis.Gauges[name] = inspect.Instrument{Resolution: length.Tenth, Serial: long}
		i.Readings = append(i.Readings, inspect.Reading{Feature: inspect.WearLand, Flute: 1, Gauge: name})
	}
	i.Seen = nil
	for _, s := range inspect.Sights {
		i.Seen = append(i.Seen, inspect.Seen{Sight: s, Yes: true, Note: long})
	}
	j.Work = nil
	for range 9 {
		j.Work = append(j.Work, inspect.Work{What: inspect.GrindBoth, Where: inspect.OnFlutes, Sights: []inspect.Seen{{Sight: inspect.Burn, Yes: true, Note: long}}})
		j.Causes = append(j.Causes, inspect.Cause{Feature: inspect.RadialRunout, Few: true})
		j.Notes = append(j.Notes, inspect.Note{What: inspect.NoPlan, Detail: long})
	}
	j.Findings = nil
	for _, f := range inspect.Features {
		j.Findings = append(j.Findings, inspect.Finding{Feature: f, Flute: flutes, FromEnd: at(length.Inch / 5), Value: lengthOf(-length.Inch * 2),
			Uncertainty: lengthOf(length.Inch), Least: lengthOf(length.Inch * 12 / 10), Most: lengthOf(2 * length.Inch), Verdict: inspect.NotJudged, Rule: "guarded", Probability: new(float64), Why: &inspect.Reason{What: inspect.Impossible, Detail: long}})
	}
	j.Findings = append(j.Findings, j.Findings[:4]...)
	for _, f := range inspect.Features {
		j.Unread = append(j.Unread, inspect.Item(f))
		j.Coverage = append(j.Coverage, inspect.Covered{Item: inspect.Item(f), Is: inspect.Missing})
	}
	in.Rulings = []Ruled{{What: "concession", Who: long, Why: long, When: in.Closed}}
	return in
}

// arbitrary has some of everything, of any length up to the worst.
func arbitrary(seed uint64) SheetInput {
	r := rand.New(rand.NewPCG(seed, 0))
	text := func() string {
		words := []string{"wide", "words", "MERCY", "0.00450", "a", "in", "undecided", "(flutes)"}
		s := "x: "
		for n := r.IntN(1 + []int{10, 40, 90, 200}[r.IntN(4)]); len(s) < n; {
			s += words[r.IntN(len(words))] + " "
		}
		return s
	}
	in := invented(2 + r.IntN(11))
	if r.IntN(2) == 0 {
		in = before(in.Inspection.Tool.Flutes)
	}
	all := worst(in.Inspection.Tool.Flutes, text())
	if r.IntN(3) == 0 {
		in.Earlier = all.Earlier
	}
	j := &in.Judgement
	j.Work = all.Judgement.Work[:1+r.IntN(7)]
	for i := range j.Work {
		j.Work[i].Sights[0].Note = text()
	}
	j.Findings = all.Judgement.Findings[:r.IntN(len(all.Judgement.Findings))]
	for i := range j.Findings {
		j.Findings[i].Why = &inspect.Reason{What: inspect.Impossible, Detail: text()}
		if r.IntN(3) == 0 {
			j.Findings[i].Value = nil
		}
	}
	for range r.IntN(7) {
		j.Notes = append(j.Notes, inspect.Note{What: inspect.NoPlan, Detail: text()})
	}
	in.Inspection.Job, in.Inspection.Inspector = text(), text()
	in.Inspection.Tool.ID = text()
	in.Inspection.Tool.ID = in.Inspection.Tool.ID[:min(len(in.Inspection.Tool.ID), 60)]
	if r.IntN(2) == 0 {
		in.Rulings = []Ruled{{What: "released", Who: "nobody", Why: text()}}
	}
	return in
}
