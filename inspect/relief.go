package inspect

import (
	"fmt"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// relief judges a relief or a dish from indicator drops. The limits, which are angles, are turned into drops,
// so that what is compared is what was read; the flute that falls farthest short decides.
func (w *judging) relief(s set) {
	name := reliefNames[s.feature]
	if missing := s.missing(); missing != "" {
		w.notJudged(s, name, missing)
		return
	}
	check, err := w.reliefCheck(s.feature)
	if err != nil {
		w.notJudged(s, name, err.Error())
		return
	}
	band := w.reliefBand(s.feature)
	least, err1 := limitDrop(check, band.Least)
	most, err2 := limitDrop(check, band.Most)
	g := w.gauge(s)
	noise, err3 := g.Noise(s.flutes...)
	for _, err := range []error{err1, err2, err3} {
		if err != nil {
			w.notJudged(s, name, err.Error())
			return
		}
	}
	var worst verdictOf
	for i, repeats := range s.flutes {
		// The indicator is set to zero at the edge: that zero is read as often as the drop.
		e, err := statistics.Difference(repeats, make([]length.Length, len(repeats)), noise, g)
		if err != nil {
			w.notJudged(s, name, err.Error())
			return
		}
		d, err := statistics.Decide(e, least, most, w.rule())
		if err != nil {
			w.notJudged(s, name, err.Error())
			return
		}
		worst.take(i+1, e, d)
	}
	w.reliefFinding(s, name, check, band, worst)
}

var reliefNames = map[Feature]string{
	ReliefDrop:       "primary relief",
	SecondaryDrop:    "secondary relief",
	EndReliefDrop:    "end primary relief",
	EndSecondaryDrop: "end secondary relief",
	Dish:             "dish",
}

func (w *judging) reliefBand(f Feature) AngleBand {
	l := w.in.Basis.Limits
	switch f {
	case ReliefDrop:
		return l.PrimaryRelief
	case SecondaryDrop:
		return l.SecondaryRelief
	case EndReliefDrop:
		return l.EndPrimaryRelief
	case EndSecondaryDrop:
		return l.EndSecondaryRelief
	}
	return l.Dish
}

// reliefCheck returns how a drop was taken: on the flutes by turning the tool under the indicator, on the ends
// by sliding along.
func (w *judging) reliefCheck(f Feature) (geometry.Relief, error) {
	basis := w.in.Basis
	r := geometry.Relief{Diameter: w.cutting(), Distance: basis.CheckingDistance, Form: geometry.Flat, Motion: geometry.Turned}
	switch f {
	case EndReliefDrop, EndSecondaryDrop:
		r.Motion = geometry.Slid
	case Dish:
		r.Motion, r.Distance = geometry.Slid, basis.DishDistance
	case SecondaryDrop:
		primary, ok := find(w.sets, PrimaryLand, nil)
		if !ok || primary.missing() != "" {
			return r, fmt.Errorf("the primary's width is needed: a secondary is checked from the primary's heel")
		}
		heel, err := geometry.InSection(statistics.MeanLength(primary.means()), w.in.Tool.Helix)
		if err != nil {
			return r, err
		}
		r.Heel = heel
		r.PrimaryRelief, _ = w.primaryRelief()
	}
	return r, nil
}

// cutting is the diameter the tool cuts now, as far as it was read; else its nominal one.
func (w *judging) cutting() length.Length {
	if s, ok := find(w.sets, Diameter, nil); ok && len(s.flutes[0]) > 0 {
		return statistics.MeanLength(s.flutes[0])
	}
	return w.in.Tool.Diameter
}

// primaryRelief is the tool's nominal primary relief, or the middle of its limits; assumed says the latter.
func (w *judging) primaryRelief() (a length.Angle, assumed bool) {
	return angleOr(w.in.Tool.PrimaryRelief, w.in.Basis.Limits.PrimaryRelief)
}

func (w *judging) secondaryRelief() (a length.Angle, assumed bool) {
	return angleOr(w.in.Tool.SecondaryRelief, w.in.Basis.Limits.SecondaryRelief)
}

func angleOr(nominal *length.Angle, band AngleBand) (a length.Angle, assumed bool) {
	if nominal != nil {
		return *nominal, false
	}
	return (*band.Least + *band.Most) / 2, true
}

func limitDrop(r geometry.Relief, limit *length.Angle) (*length.Length, error) {
	if limit == nil {
		return nil, nil
	}
	d, err := r.Drop(*limit)
	return &d, err
}

func (w *judging) reliefFinding(s set, name string, check geometry.Relief, band AngleBand, v verdictOf) {
	angle, err := check.Angle(v.decision.Value)
	if err != nil {
		w.notJudged(s, name, err.Error())
		return
	}
	value := AngleQuantity(angle)
	f := Finding{
		Feature: s.feature, FromEnd: s.fromEnd, Name: name, Flute: v.flute, Value: &value, Source: band.Source,
		Least: angleQuantity(band.Least), Most: angleQuantity(band.Most), Verdict: v.decision.Verdict, Rule: v.decision.Rule, Probability: v.decision.Probability,
	}
	if u, known := v.estimate.Uncertainty(); known {
		if steeper, err := check.Angle(v.decision.Value + u); err == nil {
			q := AngleQuantity(steeper - angle)
			f.Uncertainty = &q
		}
	}
	f.Reason = w.reason(f, v.decision.Decision)
	w.add(f)
	if s.feature == ReliefDrop {
		w.heel(angle)
	}
}

func angleQuantity(a *length.Angle) *Quantity {
	if a == nil {
		return nil
	}
	q := AngleQuantity(*a)
	return &q
}

// heel judges whether the heel of a flat primary clears the work: past R sin a1 the facet gains no more
// clearance, which is noted; past D sin a1 it rubs.
func (w *judging) heel(relief length.Angle) {
	primary, ok := find(w.sets, PrimaryLand, nil)
	if !ok || primary.missing() != "" {
		return
	}
	for i, width := range primary.means() {
		h, err := geometry.HeelClearance(w.cutting(), width, relief, w.in.Tool.Helix)
		if err != nil {
			w.note("heel of flute %d: %v", i+1, err)
			continue
		}
		switch {
		case width >= h.Rubs:
			value, most := LengthQuantity(width), LengthQuantity(h.Rubs)
			f := Finding{Feature: Heel, Name: "primary width at which the heel rubs", Flute: i + 1, Value: &value, Most: &most, Source: "plane geometry", Verdict: Reject, Rule: statistics.Simple}
			f.Reason = w.reason(f, statistics.Decision{})
			w.add(f)
		case width > h.Gains:
			w.note("flute %d primary is wider than %s: at this relief its heel gains no more clearance", i+1, w.in_(h.Gains))
		}
	}
}
