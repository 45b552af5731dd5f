package inspect

import (
	"math"
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
	} else {
		w.fit(s)
	}
	f, noise, ok := w.tir(s, feature)
	if !ok {
		return
	}
	w.add(f)
	if s.onShank {
		return
	}
	if f.Uncertainty != nil && f.Value.Length() <= f.Uncertainty.Length() {
		w.note(Note{What: InTheNoise, Feature: s.feature, FromEnd: s.fromEnd})
	}
	w.suspects(s)
	if f.Verdict == Reject || f.Verdict == Undecided {
		w.causes(s, meanNoise(noise, s.smallest(), w.gauge(s)), noise.DF)
	}
}

// partRunout judges heights of which some flutes are missing.
func (w *judging) partRunout(s set, missing []int) {
	part := s
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

// tir judges the TIR of a set, under the limit of a feature. It adds a finding itself where the set cannot be judged,
// and returns false then.
func (w *judging) tir(s set, feature Feature) (Finding, statistics.Repeatability, bool) {
	g := w.gauge(s)
	if held, ok := find(w.sets, s.feature, nil); ok && s.onShank {
		// One round is read seated on the shank: how well it repeats is known from those in the fixture.
		read := slices.DeleteFunc(slices.Clone(held.flutes), func(repeats []length.Length) bool { return len(repeats) == 0 })
		if noise, err := g.Noise(read...); err == nil && noise.Known() {
			g.Studied = noise
		}
	}
	e, err := statistics.TIR(s.flutes, g)
	if err != nil {
		w.notJudged(s, feature, impossible(err))
		return Finding{}, e.Noise, false
	}
	if why := drift(s, e.Noise, g); why != nil {
		w.notJudged(s, feature, *why)
		return Finding{}, e.Noise, false
	}
	blank := w.blank(s, feature)
	_, most := Limit{Most: blank.Most}.Lengths()
	d, err := statistics.Decide(e, nil, most, w.rule(feature))
	if err != nil {
		w.notJudged(s, feature, impossible(err))
		return Finding{}, e.Noise, false
	}
	return decided(blank, e, d), e.Noise, true
}

// meanNoise returns the standard uncertainty of a flute's mean from noise and resolution alone:
//
//	u^2 = sp^2/m + q^2/12
func meanNoise(noise statistics.Repeatability, repeats int, g statistics.Gauge) length.Length {
	if !noise.Known() {
		return 0
	}
	u, err := length.FromMicrometres(math.Hypot(noise.Micrometres/math.Sqrt(float64(repeats)), g.Resolution.Micrometres()/math.Sqrt(12)))
	if err != nil {
		return 0
	}
	return u
}

// fit keeps the fitted circle of a run-out, and judges the concentricity where a limit is set.
func (w *judging) fit(s set) {
	var angles []length.Angle
	if s.feature != ShankRunout {
		angles = w.in.Tool.Angles
	}
	heights := s.means()
	r, err := geometry.FitRunout(heights, angles)
	if err != nil {
		w.note(Note{What: OffAxis, Feature: s.feature, FromEnd: s.fromEnd, Detail: err.Error()})
		return
	}
	figures := RunoutFigures{Feature: s.feature, FromEnd: s.fromEnd, Heights: heights, TIR: r.TIR, Concentricity: r.Concentricity, Residuals: r.Residuals, Fit: r}
	if r.HasDirection {
		figures.Direction = &r.Direction
	}
	w.out.Runouts = append(w.out.Runouts, figures)
	if s.feature != RadialRunout || !w.in.Basis.Limits[Concentricity].Set() {
		return
	}
	f := w.blank(s, Concentricity)
	f.Value, f.Verdict, f.Rule = lengthQuantity(r.Concentricity), Accept, statistics.Simple
	if most := f.Most; most != nil && r.Concentricity > most.Length() {
		f.Verdict = Reject
	}
	w.add(f)
}

// drift returns why a set is void: flute 1 read again at its end differs by more than the noise.
func drift(s set, noise statistics.Repeatability, g statistics.Gauge) *Reason {
	if s.closing == nil || len(s.flutes[0]) == 0 {
		return nil
	}
	d, err := statistics.CheckDrift(s.flutes[0], []length.Length{*s.closing}, noise, g)
	if err != nil {
		why := impossible(err)
		return &why
	}
	if !d.Void {
		return nil
	}
	return &Reason{What: Moved, Length: &d.Error, Limit: &d.Allowed}
}

// suspects names any repeat that stands out among its flute's (Grubbs, 5 %); nothing is dropped.
func (w *judging) suspects(s set) {
	for i, repeats := range s.flutes {
		o, err := statistics.Grubbs(length.Micrometres(repeats), w.gauge(s).Resolution.Micrometres())
		if err == nil && o.Flagged {
			k := Key{Feature: s.feature, Flute: i + 1, Repeat: o.Index + 1, OnShank: s.onShank}
			if s.fromEnd != nil {
				k.FromEnd, k.Stated = *s.fromEnd, true
			}
			w.out.Suspects = append(w.out.Suspects, k)
		}
	}
}

var causesOf = map[geometry.Cause]CauseOf{
	geometry.HeldOffCentre: HeldOffCentre, geometry.RisingInOrder: RisingInOrder, geometry.FallingInOrder: FallingInOrder,
	geometry.AlternateFlutes: AlternateFlutes, geometry.OneFlute: OneFlute,
}

// causes names the likely cause of a run-out that is not accepted, where the readings tell how good they are
// and one cause stands out; else, above the noise, it keeps what cannot be told apart.
func (w *judging) causes(s set, noise length.Length, df int) {
	if s.feature == ShankRunout || s.onShank || noise <= 0 || df < 1 {
		return
	}
	likely, err := geometry.LikelyCauses(s.means(), w.in.Tool.Angles, nil, noise, float64(df))
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
	cause := Cause{Feature: s.feature, FromEnd: s.fromEnd, Few: len(s.flutes) < 4}
	if c, named := likely.Named(); named {
		cause.Parts = []CausePart{part(c)}
	} else {
		for _, c := range likely.Candidates {
			cause.Likely = append(cause.Likely, part(c))
		}
	}
	w.out.Causes = append(w.out.Causes, cause)
}

// smallest returns the fewest repeats of any flute.
func (s set) smallest() int {
	return len(slices.MinFunc(s.flutes, func(a, b []length.Length) int { return len(a) - len(b) }))
}
