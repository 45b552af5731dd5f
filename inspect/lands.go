package inspect

import (
	"cmp"
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// lands judges the primary's share of the land. Over the limit a secondary is needed, and after the grind under the
// least the primary has vanished. The shares of the flutes are compared exactly; the worst decides, for all are ground
// alike. A tool sharpened on the face keeps its lands as they are.
func (w *judging) lands(primary set) {
	if primary.feature == PrimaryLand {
		w.primaryWidth(primary)
		w.heel(primary)
	}
	if w.in.Tool.Sharpened == OnFace && primary.feature == PrimaryLand {
		return
	}
	land, ok := find(w.sets, primary.feature.part().land, primary.fromEnd)
	if !ok {
		w.notJudged(primary, primary.feature, Reason{What: NoWholeLand})
		return
	}
	var flutes []int // that both were read on
	missing := primary.missing()
	for i := range primary.flutes {
		if len(primary.flutes[i]) > 0 && len(land.flutes[i]) > 0 {
			flutes = append(flutes, i)
		}
	}
	for _, flute := range land.missing() {
		if !slices.Contains(missing, flute) {
			missing = append(missing, flute)
		}
	}
	slices.Sort(missing)
	if len(flutes) == 0 {
		w.notRead(primary, primary.feature, missing)
		return
	}
	var ps, ls []length.Length
	for _, i := range flutes {
		ps, ls = append(ps, statistics.MeanLength(primary.flutes[i])), append(ls, statistics.MeanLength(land.flutes[i]))
	}
	lands, err := geometry.JudgeLands(ps, ls)
	if err != nil {
		w.notJudged(primary, primary.feature, impossible(err))
		return
	}
	if missing == nil {
		f := LandFigures{Ends: primary.feature.OnEnds(), Primary: ps, Land: ls, Mean: lands.Mean, Worst: lands.WorstFlute}
		for _, r := range lands.Ratios {
			f.Ratios = append(f.Ratios, r.Value())
		}
		w.out.Lands = append(w.out.Lands, f)
	}
	f, err := w.share(primary, land, flutes, lands)
	switch {
	case err != nil:
		w.notJudged(primary, primary.feature, impossible(err))
	case missing != nil && f.Verdict != Reject:
		w.notRead(primary, primary.feature, missing)
	default:
		w.add(f)
	}
}

// landAlone judges nothing: a whole land that was read without its primary has no share.
func (w *judging) landAlone(s set) {
	primary := s.feature.part().primary
	if _, ok := find(w.sets, primary, s.fromEnd); !ok {
		w.notJudged(s, primary, Reason{What: NoPrimary})
	}
}

// share judges the shares of some flutes, by their index, whose lands are given in the same order: the largest against
// the most, and after the grind the smallest against the least. Primary and land have each the step and the error of the gauge
// that they were read with; of one gauge they tell the repeatability together.
func (w *judging) share(primary, land set, flutes []int, lands geometry.Lands) (Finding, error) {
	widths := [2]set{primary, land}
	var gauges [2]statistics.Accuracy
	var noises [2]statistics.Repeatability
	for side, s := range widths {
		gauges[side] = w.gauge(s)
		var alike [][]length.Length
		for _, i := range flutes {
			for _, other := range widths {
				if other.gauge == s.gauge {
					alike = append(alike, other.flutes[i])
				}
			}
		}
		noise, err := gauges[side].Noise(alike...)
		if err != nil {
			return Finding{}, err
		}
		noises[side] = noise
	}
	known := noises[0].Known() && noises[1].Known()
	blank := w.blank(primary, primary.feature)
	judge := func(k int, least, most *Quantity) (Finding, error) { // by one of the limits
		i := flutes[k]
		part, err1 := statistics.Width(primary.flutes[i], noises[0], gauges[0])
		whole, err2 := statistics.Width(land.flutes[i], noises[1], gauges[1])
		ratio, err := statistics.NewRatio(part, whole)
		if err := cmp.Or(err1, err2, err); err != nil {
			return Finding{}, err
		}
		ratio = ratio.Together(len(flutes)) // all flutes are judged, and the 5 % holds for the tool
		d, err := statistics.DecideRatio(ratio, fraction(least), fraction(most), w.ruleFor(primary.feature, known))
		if err != nil {
			return Finding{}, err
		}
		both, err := statistics.DecideRatio(ratio, fraction(blank.Least), fraction(blank.Most), d.Rule)
		if err != nil {
			return Finding{}, err
		}
		d.Probability = both.Probability // what conforms is inside of both limits, whichever decides
		f := blank
		value := ShareQuantity(d.Value)
		f.Flute, f.Value = i+1, &value
		if u, known := ratio.Uncertainty(); known {
			q := ShareQuantity(u)
			f.Uncertainty = &q
		}
		if u, df, known := ratio.StandardUncertainty(); known {
			q := ShareQuantity(u)
			own := ShareQuantity(ratio.GaugeError())
			f.Standard, f.DF, f.GaugeError = &q, df, &own
			if d.RejectBand != 0 {
				away, inside := ShareQuantity(d.RejectBand), ShareQuantity(d.AcceptBand)
				f.RejectBand, f.AcceptBand = &away, &inside
			}
		}
		return ruled(f, d.Decision, known), nil
	}
	high, err := judge(lands.WorstFlute-1, nil, blank.Most)
	if err != nil || blank.Least == nil || high.Verdict == Reject {
		return high, err
	}
	smallest := 0
	for k, r := range lands.Ratios {
		if r.Compare(lands.Ratios[smallest]) < 0 {
			smallest = k
		}
	}
	low, err := judge(smallest, blank.Least, nil)
	if err != nil || severity[low.Verdict] > severity[high.Verdict] {
		return low, err
	}
	if most := w.in.Basis.Limits[ShareTarget].Most; most != nil && high.Verdict == Accept && high.Value.Share().Value() > most.Share().Value() {
		w.note(Note{What: OverTarget, Feature: primary.feature, Value: high.Value, Other: most})
	}
	return high, nil
}

func fraction(q *Quantity) *statistics.Fraction {
	if q == nil {
		return nil
	}
	f := statistics.Fraction(q.Share())
	return &f
}

// primaryWidth holds the widths of the primary against their limits, which are advice unless the bench set them, after
// the grind; before it and between, only a most that the bench set is held.
func (w *judging) primaryWidth(s set) {
	limit := w.in.Basis.Limits[PrimaryWidth]
	if !limit.Set() || w.in.Stage != After && !limit.Judged {
		return
	}
	w.each(s, PrimaryWidth)
}

// heel judges whether the land clears the work behind the edge, wherever its width is known and the relief is, read or
// nominal: past the width at which the facet gains no more clearance, R sin a1 on a flat one, it is noted; where its heel
// is back on the cutting circle, D sin a1, it rubs. The end of the whole land is judged likewise where the secondary's
// relief is known.
func (w *judging) heel(primary set) {
	reliefs, ok := w.reliefs()
	if !ok {
		return
	}
	t := geometry.Teeth{Helix: w.in.Tool.Helix}
	t.Diameter, _ = w.cutting()
	t.Form, t.Wheel = w.form()
	whole, landRead := find(w.sets, Land, primary.fromEnd)
	widestGain := Note{What: HeelGains}
	var widest length.Length
	for i, repeats := range primary.flutes {
		if len(repeats) == 0 || reliefs[i] <= 0 {
			continue
		}
		width := statistics.MeanLength(repeats)
		t.Primary, t.Land = []length.Length{width}, []length.Length{width}
		t.PrimaryRelief, t.SecondaryRelief = reliefs[i], reliefs[i]+usualStep
		end := false
		if nominal := w.in.Tool.SecondaryRelief; nominal != nil && *nominal > reliefs[i] && landRead && len(whole.flutes[i]) > 0 {
			if land := statistics.MeanLength(whole.flutes[i]); land > width {
				t.Land[0], t.SecondaryRelief, end = land, *nominal, true
			}
		}
		section, err := t.Section()
		var c geometry.Clearance
		if err == nil {
			c, err = section.Clearance(1)
		}
		switch {
		case err != nil:
			w.note(Note{What: OffAxis, Feature: Heel, Flute: i + 1, Detail: err.Error()})
			continue
		case c.Rubs != nil && width >= *c.Rubs:
			w.add(Finding{Feature: Heel, FromEnd: primary.fromEnd, Flute: i + 1, Value: lengthQuantity(width), Most: lengthQuantity(*c.Rubs), Source: "plane geometry", Verdict: Reject, Rule: statistics.Simple})
		case c.Gains != nil && width > *c.Gains && width > widest:
			widest, widestGain.Flute, widestGain.Value = width, i+1, lengthQuantity(*c.Gains)
		}
		if end && c.End <= 0 && c.Heel > 0 {
			w.add(Finding{Feature: LandClearance, FromEnd: primary.fromEnd, Flute: i + 1, Value: lengthQuantity(c.End), Least: lengthQuantity(length.Picometre), Source: "plane geometry", Verdict: Reject, Rule: statistics.Simple})
		}
	}
	if widest > 0 {
		w.note(widestGain)
	}
}

// reliefs returns the primary relief of each flute as it was read, else the nominal one; false where neither is known.
func (w *judging) reliefs() ([]length.Angle, bool) {
	as := make([]length.Angle, w.in.Tool.Flutes)
	known := false
	drops, read := find(w.sets, ReliefDrop, nil)
	for i := range as {
		if w.in.Tool.PrimaryRelief != nil {
			as[i], known = *w.in.Tool.PrimaryRelief, true
		}
		if read && len(drops.flutes[i]) > 0 {
			if statistics.MeanLength(drops.flutes[i]) <= 0 {
				as[i] = 0 // it has none, and is rejected for that
				continue
			}
			if check, err := w.reliefCheck(drops, i); err == nil {
				if a, err := check.Angle(statistics.MeanLength(drops.flutes[i])); err == nil {
					as[i], known = a, true
				}
			}
		}
	}
	return as, known
}
