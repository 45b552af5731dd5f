package export

import (
	"errors"
	"fmt"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// ErrPractice says that an inspection was read with a practice gauge.
var ErrPractice = errors.New("it was read with a practice gauge: it stands for nothing, and is not handed on")

// Of returns an inspection as it stands, for the writers. Words are in the unit of the bench that inspected, so that whoever
// exports it gets the same bytes. It is an error of ErrPractice where a practice gauge was read.
func Of(a record.Account) (Inspection, error) {
	in, j, b := a.Inspection, a.Judgement, a.Basis
	if in.Figures.Practice {
		return Inspection{}, fmt.Errorf("inspection %s: %w", in.ID, ErrPractice)
	}
	newest := a.Rests[len(a.Rests)-1]
	out := Inspection{
		ID: in.ID, Tool: in.Tool, ToolBench: a.First.Bench, Bench: in.Record.Bench, Job: in.Job, Inspector: in.Inspector,
		Stage: in.Stage, Holding: in.Holding, Reseated: in.Reseated, Wheel: in.Wheel, Divisions: in.Divisions, EndsFed: in.EndsFed, GivenUp: in.Discarded != "",
		Opened: in.Opened, Closed: in.Closed, ClockSet: in.Record.Time.Synchronised, JudgedBy: b.Revision,
		Verdict: j.Verdict, Answer: words.Headline(in.Inspection, j, b.Unit), Calls: calls(j), TrueIn: j.TrueIn,
		Readings: in.Inspection.Readings, Seen: in.Seen, Gauges: map[string]Instrument{},
		Standing: a.Of.Standing, NotReground: a.Of.NotReground && a.Of.Inspection == in.ID, Corrected: len(in.Corrections) > 0,
		Head: head(in.Newest.Bench, in.Newest.Seq, in.Newest.Hash), SummaryHead: head(in.Record.Bench, in.Record.Seq, in.Record.Hash),
		ReadingsHead: head(in.Taken.Bench, in.Taken.Seq, in.Taken.Hash),
		NewestAt:     newest.Time.UTC.UTC().Format("2006-01-02T15:04:05.000000Z"), NewestSet: newest.Time.Synchronised,
	}
	for _, r := range a.Rests {
		out.Records = append(out.Records, r.Hash)
	}
	if r := in.Ruling(); r != nil {
		out.Ruling = &Ruling{Word: string(r.Word), By: r.By, Why: r.Why, At: r.At}
		for _, x := range a.Rests {
			if x.Ref() == r.Ref {
				out.Ruling.ClockSet = x.Time.Synchronised
			}
		}
	}
	for name, g := range b.Gauges {
		out.Gauges[name] = Instrument{Serial: g.Serial, Resolution: g.Resolution, PermissibleError: g.PermissibleError, CalibrationDue: g.CalibrationDue}
	}
	for _, f := range j.Findings {
		out.Figures = append(out.Figures, figureOf(in.Inspection, f))
	}
	worst := length.Length(-1)
	for _, r := range j.Runouts {
		switch {
		case r.Feature == inspect.RadialRunout && !r.OnShank && r.TIR > worst:
			worst, out.Radial = r.TIR, r.Heights
		case r.Feature == inspect.AxialRunout:
			out.Axial = r.Heights
		}
	}
	return out, nil
}

func head(bench string, seq uint64, hash string) string {
	return fmt.Sprintf("%s-%d-%s", bench, seq, hash)
}

// calls sorts what is called for by who has to do with the tool next.
func calls(j inspect.Judgement) Calls {
	c := CallsNothing
	for _, w := range j.Work {
		switch w.What {
		case inspect.NoWork, inspect.GoOn, inspect.Release:
		case inspect.Withdraw, inspect.Downgrade:
			return CallsPerson
		case inspect.ReadOn, inspect.Reseat:
			if c == CallsNothing {
				c = CallsForReading
			}
		default:
			c = CallsGrind
		}
	}
	if len(j.Work) == 0 {
		return CallsForReading
	}
	return c
}

// readAs is the feature that a figure is worked out from, where it has another name.
var readAs = map[inspect.Feature]inspect.Feature{
	inspect.Concentricity: inspect.RadialRunout, inspect.RunoutToShank: inspect.RadialRunout, inspect.Taper: inspect.RadialRunout,
	inspect.PrimaryWidth: inspect.PrimaryLand, inspect.ShareTarget: inspect.PrimaryLand, inspect.Heel: inspect.PrimaryLand,
}

func figureOf(in inspect.Inspection, f inspect.Finding) Figure {
	out := Figure{
		Feature: f.Feature, FromEnd: f.FromEnd, Name: words.Figure(f.Feature), Flute: f.Flute, Value: f.Value, Uncertainty: f.Uncertainty, Standard: f.Standard, GaugeError: f.GaugeError, RejectBand: f.RejectBand, AcceptBand: f.AcceptBand, Risk: f.Risk,
		DF: f.DF, Least: f.Least, Most: f.Most, Advice: f.Advice, Source: f.Source, Verdict: f.Verdict, Rule: string(f.Rule), Probability: f.Probability,
		Carried: f.Carried,
	}
	if f.Why != nil {
		out.Why = string(f.Why.What)
	}
	if f.Drop != nil {
		out.Over = &f.Drop.Distance
	}
	read := f.Feature
	if other, ok := readAs[read]; ok {
		read = other
	}
	master := false
	for _, r := range in.Readings {
		if r.Feature == read && r.Gauge != "" {
			out.Gauge = r.Gauge
		}
		if r.Feature == inspect.Master && r.Gauge != "" && read == inspect.Diameter && (out.Gauge == "" || master) {
			out.Gauge, master = r.Gauge, true // a diameter by comparison with the master
		}
	}
	switch t := in.Tool; f.Feature {
	case inspect.Diameter:
		q := inspect.LengthQuantity(t.Diameter)
		out.Target = &q
	case inspect.ReliefDrop:
		out.Target = angle(t.PrimaryRelief)
	case inspect.SecondaryDrop:
		out.Target = angle(t.SecondaryRelief)
	case inspect.PrimaryLand, inspect.EndPrimaryLand:
		least, most := in.Basis.Limits.Target()
		q := inspect.Share{Num: least.Num*most.Den + most.Num*least.Den, Den: 2 * least.Den * most.Den}.Quantity()
		out.Target = &q
	}
	return out
}

func angle(a *length.Angle) *inspect.Quantity {
	if a == nil {
		return nil
	}
	q := inspect.AngleQuantity(*a)
	return &q
}

// AssetOf returns what an asset says of a tool by its newest inspection. earlier are those before it in the same regrind,
// the oldest first, from which the forecast of regrinds comes; all are the tool's, the oldest first, from which sizes come that
// the newest did not read.
func AssetOf(a record.Account, earlier, all []record.Inspection) (Asset, error) {
	in, err := Of(a)
	if err != nil {
		return Asset{}, err
	}
	out := Asset{Inspection: in}
	for _, life := range a.Of.Inspections {
		out.Regrinds = max(out.Regrinds, life.Regrind)
	}
	for _, e := range earlier {
		if e.Stage == inspect.Before && e.Judgement.Plan != nil {
			out.RegrindsLeft = e.Judgement.Plan.RegrindsLeft
		}
	}
	for _, size := range []inspect.Feature{inspect.Diameter, inspect.Length} {
		if a.Inspection.Judgement.Figure(size) == nil {
			out.older(a, size, all)
		}
	}
	return out, nil
}

// older takes a size from the newest inspection before this one that read it and stands. One that was read before the tool was
// ground is no longer the tool's: then only where it was read is kept.
func (out *Asset) older(a record.Account, size inspect.Feature, all []record.Inspection) {
	ground := a.Inspection.Stage != inspect.Before
	for _, in := range slices.Backward(all) {
		if in.Record.Ref() == a.Inspection.Record.Ref() || in.Discarded != "" || in.Figures.Practice {
			continue
		}
		i := slices.IndexFunc(in.Judgement.Findings, func(f inspect.Finding) bool { return f.Feature == size && f.Value != nil })
		if i >= 0 {
			out.Older = append(out.Older, OlderSize{figureOf(in.Inspection, in.Judgement.Findings[i]), in.ID, ground && in.Stage == inspect.Before})
			return
		}
		ground = ground || in.Stage != inspect.Before
	}
}
