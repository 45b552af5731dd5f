package inspect

import (
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// runout judges one set of heights: TIR against its limit, and concentricity where it has one. Flutes that were read
// decide where they alone are over, whatever the others would show: a TIR only grows.
func (w *judging) runout(s set) {
	if len(s.flutes) < 2 && s.feature != ShankRunout {
		return // one flute has none
	}
	if missing := s.missing(); missing != nil {
		w.partRunout(s, missing)
		return
	}
	feature := s.feature
	if s.onShank {
		feature = RunoutToShank
	}
	f, h, ok := w.tir(s, feature)
	if !ok {
		return
	}
	if !s.onShank {
		w.fit(s, h)
	}
	w.add(f)
	if s.onShank {
		return
	}
	if f.Verdict != Accept && f.Uncertainty != nil && f.Value.Length() <= f.Uncertainty.Length() {
		w.note(Note{What: InTheNoise, Feature: s.feature, FromEnd: s.fromEnd})
	}
	if f.Verdict == Reject || f.Verdict == Undecided {
		w.causes(s, h)
	}
}

// partRunout judges heights of which some flutes are missing.
func (w *judging) partRunout(s set, missing []int) {
	part := s
	part.taken = nil
	part.flutes = slices.DeleteFunc(slices.Clone(s.flutes), func(repeats []length.Length) bool { return len(repeats) == 0 })
	if len(part.flutes) > 1 && len(s.flutes[0]) > 0 {
		before := len(w.out.Findings)
		if f, _, ok := w.tir(part, s.feature); ok && f.Verdict == Reject {
			w.add(f)
			return
		}
		w.out.Findings = w.out.Findings[:before]
	}
	w.notRead(s, s.feature, missing)
}

// readings are the heights of a set with all that is known of how they were read.
func (w *judging) readings(s set) statistics.Readings {
	r := statistics.Readings{Flutes: s.flutes, Taken: s.taken, Closing: s.closing, Accuracy: w.gauge(s)}
	if len(s.flutes) == w.in.Tool.Flutes && s.feature != ShankRunout {
		for _, a := range w.in.Tool.Angles {
			r.Radians = append(r.Radians, a.Radians())
		}
	}
	rounds := s.smallest()
	r.Looks = rounds > 1 && w.in.Basis.Looks
	// On the ends a tool held off tilts them, by no amount that a study of the holding at the flutes tells.
	if s.feature != AxialRunout && !s.onShank {
		r.Reseated = w.in.Reseated && rounds > 1 && s.feature == RadialRunout
		if h, ok := w.in.Basis.Seatings[w.in.Holding]; ok {
			r.Holding = statistics.Repeatability{Micrometres: h.SD, DF: h.DF}
		}
	}
	if held, ok := find(w.sets, s.feature, nil); ok && s.onShank {
		// One round is read seated on the shank: how well it repeats is known from those in the fixture.
		read := slices.DeleteFunc(slices.Clone(held.flutes), func(repeats []length.Length) bool { return len(repeats) == 0 })
		if noise, err := r.Accuracy.Noise(read...); err == nil && noise.Known() {
			r.Accuracy.Studied = noise
		}
	}
	return r
}

// tir judges the TIR of a set, under the limit of a feature. It adds a finding itself where the set cannot be judged,
// and returns false then.
func (w *judging) tir(s set, feature Feature) (Finding, statistics.Heights, bool) {
	h, err := w.readings(s).Heights()
	if err != nil {
		w.notJudged(s, feature, impossible(err))
		return Finding{}, h, false
	}
	w.suspects(s, h)
	if h.Void != "" {
		why := Reason{What: Unsteady}
		if s.closing == nil {
			why.What = NoClosing
		}
		w.notJudged(s, feature, why)
		return Finding{}, h, false
	}
	blank := w.blank(s, feature)
	_, most := Limit{Most: blank.Most}.Lengths()
	e := h.TIR()
	d, err := statistics.Decide(e, nil, most, w.rule(feature))
	if err != nil {
		w.notJudged(s, feature, impossible(err))
		return Finding{}, h, false
	}
	f := decided(blank, e, d)
	if h.Suspect != nil && f.Verdict == Undecided {
		f.Why = &Reason{What: Suspect, Flutes: []int{h.Suspect.Flute}, Rounds: h.Suspect.Repeat}
	}
	return f, h, true
}

// fit keeps the fitted circle of a run-out, and judges the concentricity where a limit is set.
func (w *judging) fit(s set, h statistics.Heights) {
	var angles []length.Angle
	if s.feature != ShankRunout {
		angles = w.in.Tool.Angles
	}
	heights := h.Corrected()
	r, err := geometry.FitRunout(heights, angles)
	if err != nil {
		w.note(Note{What: OffAxis, Feature: s.feature, FromEnd: s.fromEnd, Detail: err.Error()})
		return
	}
	figures := RunoutFigures{Feature: s.feature, FromEnd: s.fromEnd, Heights: heights, TIR: r.TIR, Concentricity: r.Concentricity, Residuals: r.Residuals, Fit: r}
	if r.HasDirection {
		figures.Direction = &r.Direction
	}
	e := h.Concentricity()
	if u, known := e.Uncertainty(); known {
		figures.ConcentricityDoubt = &u
	}
	if tooth, ok := h.ToothError(); ok {
		if u, known := tooth.Uncertainty(); known {
			figures.ToothDoubt = &u
		}
	}
	if h.Drift.Shown {
		over := h.Drift.Over()
		figures.Drift = &over
	}
	w.out.Runouts = append(w.out.Runouts, figures)
	if s.feature != RadialRunout || !w.in.Basis.Limits[Concentricity].Set() {
		return
	}
	blank := w.blank(s, Concentricity)
	_, most := Limit{Most: blank.Most}.Lengths()
	e.Value = r.Concentricity
	d, err := statistics.Decide(e, nil, most, w.ruleFor(Concentricity, h.Noise.Known()))
	if err != nil {
		w.notJudged(s, Concentricity, impossible(err))
		return
	}
	w.add(decided(blank, e, d))
}

// suspects names the reading that stands apart from the others of its flute; nothing is dropped. Of two readings that
// differ both are named.
func (w *judging) suspects(s set, h statistics.Heights) {
	if h.Suspect == nil {
		return
	}
	k := Key{Feature: s.feature, Flute: h.Suspect.Flute, Repeat: h.Suspect.Repeat, OnShank: s.onShank}
	if s.fromEnd != nil {
		k.FromEnd, k.Stated = *s.fromEnd, true
	}
	if k.Repeat > 0 {
		w.out.Suspects = append(w.out.Suspects, k)
		return
	}
	for k.Repeat = 1; k.Repeat <= 2; k.Repeat++ {
		w.out.Suspects = append(w.out.Suspects, k)
	}
}

// CannotSettle says whether the limit of a run-out lies under what this gauge can settle, however many rounds are read, which
// is said before the first of them. It returns the limit, and the smallest one that could be settled.
func (in Inspection) CannotSettle(f Feature, gauge string) (limit, least length.Length, cannot bool) {
	w := judging{in: in}
	_, most := Limit{Most: in.Basis.Limits.Of(f).Most}.Lengths()
	if most == nil || !f.Heights() || w.rule(f) != statistics.Guarded {
		return 0, 0, false
	}
	least = in.LeastLimit(f, gauge)
	return *most, least, least > *most
}

// LeastLimit returns the smallest limit that a run-out could be accepted against by this inspection's gauge, however
// many rounds are read: 0 where nothing is known of the gauge. A limit under it is said before the first round.
func (in Inspection) LeastLimit(f Feature, gauge string) length.Length {
	w := judging{in: in}
	g := w.gauge(set{feature: f, gauge: gauge})
	if g.Resolution == 0 && !g.Studied.Known() || in.Tool.Flutes < 2 {
		return 0
	}
	var holding statistics.Repeatability
	if h, ok := in.Basis.Seatings[in.Holding]; ok && f == RadialRunout && !in.Reseated {
		holding = statistics.Repeatability{Micrometres: h.SD, DF: h.DF}
	}
	return statistics.LeastLimit(in.Tool.Flutes, g, holding, in.Basis.Looks)
}

var causesOf = map[geometry.Cause]CauseOf{
	geometry.HeldOffCentre: HeldOffCentre, geometry.RisingInOrder: RisingInOrder, geometry.FallingInOrder: FallingInOrder,
	geometry.AlternateFlutes: AlternateFlutes, geometry.OneFlute: OneFlute,
}

// assumedDF are the degrees of freedom of a noise that is assumed: as good as unlimited.
const assumedDF = 1000

// causes names the likely cause, or the two together, of a run-out that is not accepted, where one explanation stands out
// above the noise; else it keeps what cannot be told apart. One round without a studied gauge does not tell its noise: a
// tenth of the limit stands for it then (our own choice), for what a cause is good for at the bench is whether to reseat
// before a grind.
func (w *judging) causes(s set, h statistics.Heights) {
	if s.feature == ShankRunout || s.onShank {
		return
	}
	noise, df, known := h.MeanNoise()
	if most := w.in.Basis.Limits[s.feature].MostLength(); !known && most != nil {
		noise, df = max(*most/10, w.gauge(s).Resolution/3), assumedDF
	}
	if noise <= 0 {
		return
	}
	likely, err := geometry.LikelyCauses(h.Corrected(), w.in.Tool.Angles, w.in.LastRound(), noise, float64(df))
	if err != nil || !likely.AboveNoise {
		return
	}
	part := func(c geometry.Candidate) CausePart {
		p := CausePart{What: causesOf[c.Cause], Size: c.Size}
		if c.Cause == geometry.OneFlute {
			p.Flute = c.Flute
		}
		return p
	}
	cause := Cause{Feature: s.feature, FromEnd: s.fromEnd, Few: len(s.flutes) < 4, Mixed: likely.Mixed}
	for _, c := range likely.Parts {
		cause.Parts = append(cause.Parts, part(c))
	}
	for _, c := range likely.Or {
		cause.Or = append(cause.Or, part(c))
	}
	for _, c := range likely.Candidates {
		cause.Likely = append(cause.Likely, part(c))
	}
	w.out.Causes = append(w.out.Causes, cause)
}

// LastRound returns the flutes as they came to the wheel in the last round: as it is told, else as the bench file says; nil is 1 to
// all of them. A wheel that wears is read from it.
func (in Inspection) LastRound() []int {
	order := in.Basis.GrindOrder
	if in.GroundOrder != nil {
		order = in.GroundOrder
	}
	if in.GroundLast != nil {
		order = in.GroundLast
	}
	switch {
	case len(order) != in.Tool.Flutes:
		order = nil
	case in.GroundLast != nil:
		return order
	}
	if in.Basis.FromFirst {
		return order
	}
	return geometry.LastRound(order, in.Tool.Flutes)
}

// smallest returns the fewest repeats of any flute.
func (s set) smallest() int {
	return len(slices.MinFunc(s.flutes, func(a, b []length.Length) int { return len(a) - len(b) }))
}
