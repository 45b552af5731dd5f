package inspect

import (
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Judge judges an inspection: each feature that was read gets a finding, what the stage requires is covered or open,
// and both together call for work. What was read and is over a limit decides, whatever was not read; a gap never comes
// to none, go on or release. It is pure: the same inspection, with the basis kept in it, always comes to the same
// judgement.
func Judge(in Inspection) Judgement {
	w := judging{in: in, sets: in.sets()}
	w.out.Stage = in.Stage
	w.crests()
	for _, s := range w.sets {
		switch s.feature {
		case ShankRunout, RadialRunout, AxialRunout:
			w.runout(s)
		case PrimaryLand, EndPrimaryLand:
			w.lands(s)
		case Land, EndLand:
			w.landAlone(s)
		case ReliefDrop, SecondaryDrop, EndReliefDrop, EndSecondaryDrop, Dish:
			w.relief(s)
		case Diameter:
			w.diameter(s)
		case Master:
			w.comparison(s)
		default:
			w.each(s, s.feature)
		}
	}
	w.planes()
	if in.Regrind != nil && in.Stage == After {
		for _, f := range in.Regrind.Relief {
			f.Carried = true
			w.add(f)
		}
	}
	if in.Stage == Before {
		w.plan()
	}
	w.calibration()
	w.cover()
	w.decide()
	w.steps()
	return w.out
}

// judging is one inspection on its way to a judgement.
type judging struct {
	in   Inspection
	sets []set
	laid map[Where]*Grinding // the teeth in section, where they were read
	out  Judgement
}

func (w *judging) add(f Finding) { w.out.Findings = append(w.out.Findings, f) }

// note adds a note; the same of several flutes is said once.
func (w *judging) note(n Note) {
	same := func(o Note) bool {
		return o.What == n.What && o.Feature == n.Feature && o.Flute == n.Flute && o.Gauge == n.Gauge && o.Detail == n.Detail && sameLength(o.FromEnd, n.FromEnd)
	}
	if !slices.ContainsFunc(w.out.Notes, same) {
		w.out.Notes = append(w.out.Notes, n)
	}
}

func sameLength(a, b *length.Length) bool {
	return a == nil && b == nil || a != nil && b != nil && *a == *b
}

// rule is the decision rule of a feature at the stage: at release run-out and sizes are judged by the release rule,
// lands, widths and reliefs by the work rule, as everything is before it.
func (w *judging) rule(f Feature) statistics.Rule {
	if w.in.Stage == After {
		switch f {
		case RadialRunout, AxialRunout, ShankRunout, RunoutToShank, Concentricity, Diameter:
			return w.in.Basis.ReleaseRule
		}
	}
	return w.in.Basis.WorkRule
}

// ruleFor is the rule of a feature where the readings tell how good they are, else the simple one.
func (w *judging) ruleFor(f Feature, known bool) statistics.Rule {
	if known {
		return w.rule(f)
	}
	return statistics.Simple
}

// gauge is what is known of the gauge a set was read with. A step that is not stated is the coarsest of a gauge that
// what was read differs by whole numbers of, and else, or of few sizes, the least division that it was written in. The gauge's own error is its permissible error: within ten divisions the local one where it is stated;
// where neither is, half a division.
func (w *judging) gauge(s set) statistics.Accuracy {
	known := w.in.Basis.Gauges[s.gauge]
	g := statistics.Accuracy{
		Resolution:       known.Resolution,
		PermissibleError: known.PermissibleError,
		Studied:          statistics.Repeatability{Micrometres: known.Repeatability, DF: known.RepeatabilityDF},
	}
	local := s.indicated()
	if g.Resolution == 0 {
		g.Resolution = s.step
		for _, alike := range w.sets { // noughts without a decimal tell none: as finely as its like was written
			if s.step == 0 && alike.step > 0 && alike.gauge == s.gauge && alike.indicated() == local && (g.Resolution == 0 || alike.step < g.Resolution) {
				g.Resolution = alike.step
			}
		}
		if local || s.count() >= enoughForStep {
			g.Resolution = max(g.Resolution, statistics.Step(s.flutes...))
		}
		w.taken(s, StepNotStated, g.Resolution)
	}
	if local && known.LocalError > 0 && (g.PermissibleError == 0 || s.reach() <= 10*g.Resolution) {
		g.PermissibleError = known.LocalError
	}
	if g.PermissibleError == 0 {
		g.PermissibleError = g.Resolution / 2
		w.taken(s, ErrorNotStated, g.PermissibleError)
	}
	return g
}

// Step returns the step that a feature's readings are judged with: the gauge's where it is stated, else what was read tells
// it. 0 where neither does.
func (in Inspection) Step(f Feature) length.Length {
	w := judging{in: in, sets: in.sets()}
	s, ok := find(w.sets, f, nil)
	if !ok {
		s = set{feature: f}
	}
	return w.gauge(s).Resolution
}

// enoughForStep is how many sizes must have been read before what they have in common is a step and no accident (common
// practice, no source). Heights and drops, which lie close together, always are enough.
const enoughForStep = 8

func (s set) count() int {
	n := 0
	for _, repeats := range s.flutes {
		n += len(repeats)
	}
	return n
}

// taken notes what was taken of a gauge for want of a statement, and for what was read with it, where a release rests
// on it. What was taken alike is one note.
func (w *judging) taken(s set, what NoteOf, l length.Length) {
	if w.in.Stage != After || l <= 0 {
		return
	}
	i := slices.IndexFunc(w.out.Notes, func(n Note) bool { return n.What == what && n.Gauge == s.gauge })
	if i < 0 {
		i = len(w.out.Notes)
		w.out.Notes = append(w.out.Notes, Note{What: what, Gauge: s.gauge})
	}
	all := &w.out.Notes[i].Taken
	k := slices.IndexFunc(*all, func(t Taken) bool { return t.Value.Length() == l })
	if k < 0 {
		k = len(*all)
		*all = append(*all, Taken{Value: LengthQuantity(l)})
	}
	if t := &(*all)[k]; !slices.Contains(t.Of, s.feature) {
		t.Of = append(t.Of, s.feature)
	}
}

// indicated says whether an indicator read the set, of whose readings only differences mean something.
func (s set) indicated() bool { return s.feature.Heights() || s.feature.Drop() }

// reach is how far apart the readings of a set lie, of a drop from the zero at the edge.
func (s set) reach() length.Length {
	var low, high length.Length
	first := true
	for _, repeats := range s.flutes {
		for _, l := range repeats {
			if first && s.feature.Heights() {
				low, high = l, l
			}
			first = false
			low, high = min(low, l), max(high, l)
		}
	}
	return high - low
}

// blank is a finding of a feature at the place of a set, with the limit it is held against.
func (w *judging) blank(s set, f Feature) Finding {
	limit := w.in.Basis.Limits.Of(f)
	if w.in.Stage != After && (f == PrimaryWidth || f == PrimaryLand || f == EndPrimaryLand) {
		limit.Least = nil // a primary may be narrow until it has been ground
	}
	return Finding{
		Feature: f, FromEnd: s.fromEnd, Least: limit.Least, Most: limit.Most, Advice: limit.Set() && !limit.Judged, Source: limit.Source,
		Verdict: NotJudged,
	}
}

// notJudged adds a finding for what cannot be judged.
func (w *judging) notJudged(s set, f Feature, why Reason) {
	finding := w.blank(s, f)
	finding.Why = &why
	w.add(finding)
}

func (w *judging) notRead(s set, f Feature, flutes []int) {
	w.notJudged(s, f, Reason{What: NotRead, Flutes: flutes})
}

func impossible(err error) Reason { return Reason{What: Impossible, Detail: err.Error()} }

// decided puts a decision on a length into a finding.
func decided(f Finding, e statistics.Estimate, d statistics.LengthDecision) Finding {
	value := LengthQuantity(d.Value)
	f.Value = &value
	if u, known := e.Uncertainty(); known {
		f.Uncertainty = lengthQuantity(u)
	}
	if u, df, known := e.StandardUncertainty(); known {
		f.Standard, f.DF = lengthQuantity(u), df
		f.GaugeError = lengthQuantity(e.GaugeError())
		if d.RejectBand != 0 {
			f.RejectBand = lengthQuantity(d.RejectBand)
		}
		if risk := e.Risk(); risk != 0.05 {
			f.Risk = risk
		}
	}
	return ruled(f, d.Decision, e.Noise.Known())
}

// ruled puts the verdict of a decision into a finding. Advice rejects nothing.
func ruled(f Finding, d statistics.Decision, repeated bool) Finding {
	f.Verdict, f.Rule, f.Probability = d.Verdict, d.Rule, d.Probability
	switch {
	case f.Least == nil && f.Most == nil:
		f.Verdict, f.Rule = Accept, ""
	case f.Advice && d.Verdict != Accept:
		f.Verdict, f.Why = NotJudged, &Reason{What: OutsideAdvice}
	case d.Verdict == Undecided && d.Settle > 0:
		f.Why = &Reason{What: MoreRounds, Rounds: d.Settle}
	case d.Verdict == Undecided:
		f.Why = &Reason{What: TooCoarse}
	case d.Verdict == NotJudged && !repeated:
		f.Why = &Reason{What: NoRepeats}
	case d.Verdict == NotJudged:
		f.Why = &Reason{What: NoResolution}
	}
	return f
}

// each judges a width read flute by flute, of which the flute that falls farthest short decides, or a size of the tool. One
// that no limit is stated for is told.
func (w *judging) each(s set, feature Feature) {
	if feature.Single() && !w.in.Basis.Limits.Of(feature).Set() {
		value := LengthQuantity(statistics.MeanLength(s.flutes[0]))
		w.add(Finding{Feature: feature, Value: &value, Verdict: Accept})
		return
	}
	before := len(w.out.Findings)
	w.widths(s, feature)
	missing := s.missing()
	if missing == nil {
		return
	}
	if len(w.out.Findings) > before { // what is over decides, whatever was not read; else the set is not judged
		if f := w.out.Findings[before]; f.Verdict == Reject {
			return
		}
		w.out.Findings = w.out.Findings[:before]
	}
	w.notRead(s, feature, missing)
}

func (w *judging) widths(s set, feature Feature) {
	g := w.gauge(s)
	read := slices.DeleteFunc(slices.Clone(s.flutes), func(repeats []length.Length) bool { return len(repeats) == 0 })
	noise, err := g.Noise(read...)
	if err != nil {
		w.notJudged(s, feature, impossible(err))
		return
	}
	blank := w.blank(s, feature)
	least, most := Limit{Least: blank.Least, Most: blank.Most}.Lengths()
	var worst deciding
	for i, repeats := range s.flutes {
		if len(repeats) == 0 {
			continue
		}
		e, err := statistics.Width(repeats, noise, g)
		if err != nil {
			w.notJudged(s, feature, impossible(err))
			return
		}
		e = e.Together(len(read)) // all flutes are judged, and the 5 % holds for the tool
		d, err := statistics.Decide(e, least, most, w.ruleFor(feature, noise.Known()))
		if err != nil {
			w.notJudged(s, feature, impossible(err))
			return
		}
		worst.take(i+1, e, d)
	}
	f := decided(blank, worst.estimate, worst.decision)
	if !feature.Single() {
		f.Flute = worst.flute
	}
	w.add(f)
}

// deciding is the flute of a set that decides for it.
type deciding struct {
	flute    int
	estimate statistics.Estimate
	decision statistics.LengthDecision
}

var severity = map[Verdict]int{Accept: 0, NotJudged: 1, Undecided: 2, Reject: 3}

// take keeps the worse of two flutes: by verdict, then by how little room is left to a limit.
func (v *deciding) take(flute int, e statistics.Estimate, d statistics.LengthDecision) {
	if v.flute == 0 || severity[d.Verdict] > severity[v.decision.Verdict] ||
		d.Verdict == v.decision.Verdict && room(d) < room(v.decision) {
		*v = deciding{flute, e, d}
	}
}

// room returns how far a value lies inside the nearer of its limits; below zero it is outside.
func room(d statistics.LengthDecision) length.Length {
	r := length.Length(1) << 62
	if d.Lower != nil {
		r = min(r, d.Value-*d.Lower)
	}
	if d.Upper != nil {
		r = min(r, *d.Upper-d.Value)
	}
	return r
}

// diameter judges a diameter read outright.
func (w *judging) diameter(s set) {
	w.howRead()
	g := w.gauge(s)
	noise, err := g.Noise(s.flutes...)
	if err != nil {
		w.notJudged(s, Diameter, impossible(err))
		return
	}
	e, err := statistics.Width(s.flutes[0], noise, g)
	if err != nil {
		w.notJudged(s, Diameter, impossible(err))
		return
	}
	w.decideDiameter(s, e, noise.Known())
}

// howRead notes what the way of reading a diameter leaves open on an odd number of flutes, where a release rests on it.
func (w *judging) howRead() {
	vee, odd := geometry.FittingVee(w.in.Tool.Flutes)
	if !odd || w.in.Stage != After {
		return
	}
	for _, r := range w.in.Readings {
		switch {
		case r.Feature != Diameter:
		case r.How == "":
			w.note(Note{What: OddDiameter, Feature: Diameter, Value: angleQuantity(vee)})
		case r.How == ByVee && w.in.Tool.Flutes == 3:
			w.note(Note{What: MeanDiameter, Feature: Diameter})
		}
	}
}

// sameDiameter is how far two readings of the diameter of one tool may lie apart before one is doubted. A micrometer
// across two edges repeats within it; common practice, no source.
const sameDiameter = length.Thou

// decideDiameter holds a diameter against its limits. One over the last that was read of the tool is doubted, for no
// grind adds to one, until it has been read twice within the gauge's own band.
func (w *judging) decideDiameter(s set, e statistics.Estimate, known bool) {
	blank := w.blank(s, Diameter)
	least, most := Limit{Least: blank.Least, Most: blank.Most}.Lengths()
	d, err := statistics.Decide(e, least, most, w.ruleFor(Diameter, known))
	if err != nil {
		w.notJudged(s, Diameter, impossible(err))
		return
	}
	f := decided(blank, e, d)
	if last := w.in.LastDiameter; last != nil && d.Value > *last+sameDiameter {
		g := w.gauge(s)
		repeats := s.flutes[0]
		if len(repeats) > 1 && slices.Max(repeats)-slices.Min(repeats) <= max(g.Resolution, 2*g.PermissibleError) {
			w.note(Note{What: GrewTwice, Feature: Diameter, Value: f.Value, Other: lengthQuantity(*last)})
		} else if f.Verdict != Reject {
			f.Verdict, f.Why = Undecided, &Reason{What: Doubted, Length: last}
		}
	}
	w.add(f)
}

// comparison judges the diameter by comparison of the radial run-out with a master pin.
func (w *judging) comparison(master set) {
	w.masterCheck(master)
	heights, ok := find(w.sets, RadialRunout, master.fromEnd)
	switch {
	case w.in.Basis.MasterDiameter <= 0:
		w.note(Note{What: NoMasterSize})
		return
	case !ok || !heights.whole():
		w.note(Note{What: NoCompare})
		return
	}
	g := w.gauge(master)
	e, err := statistics.LargestDiameter(w.in.Basis.MasterDiameter, master.flutes[0], heights.flutes, g)
	if err != nil {
		w.notJudged(master, Diameter, impossible(err))
		return
	}
	w.decideDiameter(master, e, e.Noise.Known())
}

// masterCheck holds the indicator's reading on the master against its zero: a job begins with it.
func (w *judging) masterCheck(s set) {
	within := w.in.Basis.MasterWithin
	if within <= 0 {
		return
	}
	reads := statistics.MeanLength(s.flutes[0])
	f := Finding{Feature: Master, FromEnd: s.fromEnd, Value: lengthQuantity(reads), Least: lengthQuantity(-within), Most: lengthQuantity(within), Source: "bench file", Verdict: Accept, Rule: statistics.Simple}
	if reads.Abs() > within {
		f.Verdict, f.Why = NotJudged, &Reason{What: MasterOff}
	}
	w.add(f)
}

// cutting is the diameter the tool cuts now, as far as it was read; else the last that is known of it, else its
// nominal one.
func (w *judging) cutting() (length.Length, From) {
	if s, ok := find(w.sets, Diameter, nil); ok && len(s.flutes[0]) > 0 {
		return statistics.MeanLength(s.flutes[0]), ReadNow
	}
	if w.in.LastDiameter != nil {
		return *w.in.LastDiameter, LastKnown
	}
	return w.in.Tool.Diameter, Nominal
}

// Cutting returns the diameter the tool cuts now, and where it is known from: read in the inspection, the last that was read,
// or the nominal.
func (in Inspection) Cutting() (length.Length, From) {
	w := judging{in: in, sets: in.sets()}
	return w.cutting()
}

// helix returns the tool's helix, less than zero where the edge of a flute turns back toward the shank against the
// numbering of the flutes.
func (w *judging) helix() length.Angle {
	t := w.in.Tool
	return geometry.SignedHelix(t.Helix, hand(t.Hand), hand(t.Cut))
}

// section returns the width in the section square to the axis of a width measured square to the edge.
func (w *judging) section(width length.Length) length.Length {
	in, err := geometry.InSection(width, w.in.Tool.Helix)
	if err != nil {
		return width
	}
	return in
}
