package inspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// relief judges a relief or a dish from indicator drops. The limits, which are angles, are turned into drops,
// so that what is compared is what was read; the flute that falls farthest short decides. A drop of zero or a climb is
// no relief, and is rejected whatever the limits; one read past the heel of the primary is not judged, for it was
// not the primary that was read.
func (w *judging) relief(s set) {
	missing := s.missing()
	before := len(w.out.Findings)
	w.drops(s)
	if missing == nil || s.feature == ReliefDrop && w.in.Basis.ReliefFlutes == 2 && w.opposite(s) {
		return
	}
	if len(w.out.Findings) > before && w.out.Findings[before].Verdict == Reject {
		return
	}
	w.out.Findings = w.out.Findings[:before]
	w.notRead(s, s.feature, missing)
}

func (w *judging) drops(s set) {
	for i, repeats := range s.flutes {
		if len(repeats) > 0 && statistics.MeanLength(repeats) <= 0 {
			w.noRelief(s, i)
			return
		}
	}
	g := w.gauge(s)
	read := slices.DeleteFunc(slices.Clone(s.flutes), func(repeats []length.Length) bool { return len(repeats) == 0 })
	noise, err := g.Noise(read...)
	if err != nil {
		w.notJudged(s, s.feature, impossible(err))
		return
	}
	band := w.in.Basis.Limits.Of(s.feature)
	leastAngle, mostAngle := band.Angles()
	var worst deciding
	for i, repeats := range s.flutes {
		if len(repeats) == 0 {
			continue
		}
		check, err := w.reliefCheck(s, i)
		if err != nil {
			why := impossible(err)
			if err == errNoPrimary {
				why = Reason{What: NoPrimary}
			}
			w.notJudged(s, s.feature, why)
			return
		}
		if heel, past := w.pastHeel(s, i, check.Distance); past {
			w.notJudged(s, s.feature, Reason{What: PastHeel, Flutes: []int{i + 1}, Length: &heel, Limit: &check.Distance})
			return
		}
		least, err1 := limitDrop(check, leastAngle)
		most, err2 := limitDrop(check, mostAngle)
		// The indicator is set to zero at the edge: that zero is read as often as the drop.
		e, err3 := statistics.Difference(repeats, make([]length.Length, len(repeats)), noise, g)
		for _, err := range []error{err1, err2, err3} {
			if err != nil {
				w.notJudged(s, s.feature, impossible(err))
				return
			}
		}
		e = e.Together(len(s.flutes)) // all flutes are judged, and the 5 % holds for the tool
		if s.feature == ReliefDrop && tooNarrow(least, most) {
			least, most = nil, nil
			w.note(Note{What: TooNarrowDrop, Feature: s.feature})
		}
		d, err := statistics.Decide(e, least, most, w.ruleFor(s.feature, noise.Known()))
		if err != nil {
			w.notJudged(s, s.feature, impossible(err))
			return
		}
		worst.take(i+1, e, d)
	}
	w.reliefFinding(s, worst)
}

// narrowBand is how far apart the drops of a band's two ends must lie for an indicator to tell them apart (common
// practice, no source).
const narrowBand = 3 * length.Tenth

func tooNarrow(least, most *length.Length) bool {
	return least != nil && most != nil && *most-*least < narrowBand
}

// noRelief rejects a drop of zero or a climb, whether the limits are judged or advice.
func (w *judging) noRelief(s set, i int) {
	f := w.blank(s, s.feature)
	drop := statistics.MeanLength(s.flutes[i])
	f.Advice, f.Flute, f.Verdict, f.Rule, f.Why = false, i+1, Reject, statistics.Simple, &Reason{What: NoRelief}
	f.Drop = &DropTaken{Drop: drop, Distance: w.distance(s, i), By: w.dropBy(s, i)}
	f.Value = angleQuantity(0)
	if check, err := w.reliefCheck(s, i); err == nil {
		if a, err := check.Angle(drop); err == nil {
			f.Value = angleQuantity(a)
		}
	}
	w.add(f)
}

// dropBy is how a flute's drop was taken: on the ends the tool is held still.
func (w *judging) dropBy(s set, i int) DropBy {
	switch {
	case s.feature.OnEnds():
		return BySliding
	case s.by[i] != "":
		return s.by[i]
	}
	return w.in.DropBy()
}

// distance is the distance behind the edge over which a flute's drop was read.
func (w *judging) distance(s set, i int) length.Length {
	if s.over[i] != nil {
		return *s.over[i]
	}
	if s.feature == Dish {
		return w.in.Basis.DishDistance
	}
	return w.in.CheckingDistance()
}

// CheckingDistance returns the distance behind the edge over which a relief drop is read: what the bench states; else
// that of the handbook's table where every primary read is at least as wide in the section, and else the largest
// whole thou (0.02 mm in a metric shop) that is a thou under the narrowest. Where no primary was read, the least usual
// width stands for them.
func (in Inspection) CheckingDistance() length.Length {
	if d := in.Basis.CheckingDistance; d > 0 {
		return d
	}
	distance := reliefRow(in.Tool.Diameter).distance * length.Thou
	narrowest := length.Length(0)
	for _, r := range in.Readings {
		if r.Feature == PrimaryLand && (narrowest == 0 || r.Value < narrowest) {
			narrowest = r.Value
		}
	}
	if narrowest == 0 {
		narrowest, _ = sizes(in.Tool.Diameter).primary()
	}
	narrow, err := geometry.InSection(narrowest, in.Tool.Helix)
	if err != nil || narrow >= distance {
		return distance
	}
	step := length.Thou
	if in.Basis.Unit == length.Mm {
		step = 20 * length.Micrometre
	}
	return max(step, (narrow-length.Thou)/step*step)
}

// leastDistance is the shortest distance over which a drop can be read at all (common practice, no source).
const leastDistance = 2 * length.Thou

// unreadableDrop says whether no indicator tells the relief of the tool's primary, so that it stands as it was set.
func (w *judging) unreadableDrop() bool {
	d := w.in.CheckingDistance()
	if d >= leastDistance {
		return false
	}
	least, most := w.in.Basis.Limits[ReliefDrop].Angles()
	diameter, _ := w.cutting()
	check := geometry.Relief{Diameter: diameter, Distance: d}
	low, err1 := limitDrop(check, least)
	high, err2 := limitDrop(check, most)
	return err1 == nil && err2 == nil && tooNarrow(low, high)
}

// pastHeel says whether a drop on the primary was read past its heel, with where the heel stands in the section.
func (w *judging) pastHeel(s set, i int, distance length.Length) (heel length.Length, past bool) {
	part := s.feature.part()
	primary, ok := find(w.sets, part.primary, nil)
	if s.feature != part.relief || !ok || len(primary.flutes[i]) == 0 {
		return 0, false
	}
	heel = statistics.MeanLength(primary.flutes[i])
	if !s.feature.OnEnds() {
		heel = w.section(heel)
	}
	return heel, distance > heel
}

var errNoPrimary = fmt.Errorf("the primary's width is needed: a secondary is checked from the primary's heel")

// reliefCheck returns how a flute's drop was taken: on the flutes by turning the tool under the indicator or by sliding
// it across, on the ends by sliding along.
func (w *judging) reliefCheck(s set, i int) (geometry.Relief, error) {
	r := geometry.Relief{Diameter: w.diameterAt(s.fromEnd), Distance: w.distance(s, i), Form: geometry.Flat, Motion: geometry.Turned}
	if w.dropBy(s, i) == BySliding {
		r.Motion = geometry.Slid
	}
	switch s.feature {
	case ReliefDrop:
		r.Form, r.Wheel = w.form()
	case SecondaryDrop:
		primary, ok := find(w.sets, PrimaryLand, nil)
		if !ok || len(primary.flutes[i]) == 0 {
			return r, errNoPrimary
		}
		r.Form, r.Wheel = w.form()
		r.Heel = w.section(statistics.MeanLength(primary.flutes[i]))
		r.PrimaryRelief, _ = angleOr(w.in.Tool.PrimaryRelief, w.in.Basis.Limits[ReliefDrop])
	}
	return r, nil
}

// diameterAt is the diameter the tool cuts at a distance from its end; nil is at the end.
func (w *judging) diameterAt(fromEnd *length.Length) length.Length {
	diameter, _ := w.cutting()
	if fromEnd == nil || w.in.Tool.Taper == 0 || *fromEnd <= 0 {
		return diameter
	}
	more, err := geometry.TaperOf(*fromEnd, w.in.Tool.Taper)
	if err != nil {
		return diameter
	}
	return diameter + more
}

// angleOr returns a nominal angle, or the middle of its limits; assumed says the latter.
func angleOr(nominal *length.Angle, band Limit) (a length.Angle, assumed bool) {
	if nominal != nil {
		return *nominal, false
	}
	least, most := band.Angles()
	switch {
	case least == nil && most == nil:
		return 0, true
	case least == nil:
		return *most, true
	case most == nil:
		return *least, true
	}
	return (*least + *most) / 2, true
}

func limitDrop(r geometry.Relief, limit *length.Angle) (*length.Length, error) {
	if limit == nil {
		return nil, nil
	}
	d, err := r.Drop(*limit)
	return &d, err
}

// distanceError is the half-width of the checking distance as it is set.
func (w *judging) distanceError(by DropBy) length.Length {
	switch {
	case w.in.Basis.DistanceError > 0:
		return w.in.Basis.DistanceError
	case by == BySliding:
		return length.Thou
	}
	return 3 * length.Thou
}

// reliefFinding turns the drop that decides back into the angle that a person knows, with the distance's error in its
// uncertainty beside the gauge's.
func (w *judging) reliefFinding(s set, v deciding) {
	check, err := w.reliefCheck(s, v.flute-1)
	if err != nil {
		w.notJudged(s, s.feature, impossible(err))
		return
	}
	angle, err := check.Angle(v.decision.Value)
	if err != nil {
		w.notJudged(s, s.feature, impossible(err))
		return
	}
	f := w.blank(s, s.feature)
	by := w.dropBy(s, v.flute-1)
	f.Flute, f.Value = v.flute, angleQuantity(angle)
	f.Drop = &DropTaken{Drop: v.decision.Value, Distance: check.Distance, By: by}
	least, most := w.in.Basis.Limits.Of(s.feature).Angles()
	f.Drop.Least, _ = limitDrop(check, least)
	f.Drop.Most, _ = limitDrop(check, most)
	if turn, err := check.Turn(); err == nil && by == ByTurning {
		f.Drop.Turn = &turn
	}
	if v.decision.Lower == nil && v.decision.Upper == nil {
		f.Least, f.Most = nil, nil // too narrow for an indicator: only the sign is judged
	}
	half := w.distanceError(by)
	if u, df, known := v.estimate.StandardUncertainty(); known {
		if parts, err := check.Uncertainty(v.decision.Value, u, half*1000/1732); err == nil {
			f.Standard, f.DF = angleQuantity(parts.Angle), df
			if own, err := check.Uncertainty(v.decision.Value, v.estimate.GaugeError(), 0); err == nil {
				f.GaugeError = angleQuantity(own.Angle)
			}
			expanded, _ := v.estimate.Uncertainty()
			if wide, err := check.Uncertainty(v.decision.Value, expanded, half); err == nil {
				f.Uncertainty = angleQuantity(wide.Angle)
			}
		}
	}
	if f.Standard != nil && v.decision.RejectBand != 0 {
		f.RejectBand, f.AcceptBand = reliefBands(check, v.decision)
	}
	f = ruled(f, v.decision.Decision, v.estimate.Noise.Known())
	if f.Standard != nil && f.Uncertainty != nil && f.Probability != nil {
		f.Probability = conforming(angle, least, most, f)
	}
	if s.feature == ReliefDrop && f.Least != nil && f.Most != nil && f.Verdict == Accept {
		if coarse := w.turnedTooShort(s, *least, *most); coarse != nil {
			f.Verdict, f.Why = Undecided, &Reason{What: DistanceCoarse}
			if !slices.Contains(coarse, f.Flute) {
				f.Why.Flutes = coarse
			}
		}
	}
	w.add(f)
}

// turnedTooShort returns the flutes of whose relief a drop turned by eye does not tell enough, whichever of them decides.
func (w *judging) turnedTooShort(s set, least, most length.Angle) []int {
	var flutes []int
	for i, repeats := range s.flutes {
		if len(repeats) == 0 || w.dropBy(s, i) != ByTurning {
			continue
		}
		if check, err := w.reliefCheck(s, i); err == nil && w.tooShort(check, statistics.MeanLength(repeats), least, most) {
			flutes = append(flutes, i+1)
		}
	}
	return flutes
}

// tooShort says whether a drop that is turned by eye cannot settle a relief: its distance is so short that what it is uncertain by
// moves the angle by more than half the band.
func (w *judging) tooShort(check geometry.Relief, drop length.Length, least, most length.Angle) bool {
	parts, err := check.Uncertainty(drop, 0, w.distanceError(ByTurning))
	return err == nil && parts.FromDistance > (most-least)/2
}

// reliefBands turns the bands of a drop round the limit that it comes nearest to into those of the relief; nil is that no
// relief lies so far off.
func reliefBands(check geometry.Relief, d statistics.LengthDecision) (reject, accept *Quantity) {
	limit, out := d.Upper, length.Length(1)
	if limit == nil || d.Lower != nil && d.Value-*d.Lower < *d.Upper-d.Value {
		limit, out = d.Lower, -1
	}
	at, err := check.Angle(*limit)
	if err != nil {
		return nil, nil
	}
	band := func(by length.Length) *Quantity {
		a, err := check.Angle(*limit + by)
		if err != nil {
			return nil
		}
		return angleQuantity(max(a-at, at-a))
	}
	return band(out * d.RejectBand), band(-out * d.AcceptBand)
}

// conforming returns the probability that a relief lies within its limits, the distance's error counted in as it is in the
// uncertainty beside it.
func conforming(angle length.Angle, least, most *length.Angle, f Finding) *float64 {
	df := math.Inf(1)
	if f.DF != nil {
		df = float64(*f.DF)
	}
	own := 0.0
	if f.GaugeError != nil {
		own = float64(f.GaugeError.Angle())
	}
	p := 1.0
	if least != nil {
		p -= 1 - statistics.Conformance(float64(angle-*least), float64(f.Standard.Angle()), own, df)
	}
	if most != nil {
		p -= 1 - statistics.Conformance(float64(*most-angle), float64(f.Standard.Angle()), own, df)
	}
	p = max(0, p)
	return &p
}

// withinADegree says whether the reliefs of two flutes, by index, differ by less than a degree.
func (w *judging) withinADegree(s set, i, k int) bool {
	var angles [2]length.Angle
	for at, flute := range []int{i, k} {
		check, err := w.reliefCheck(s, flute)
		if err != nil {
			return false
		}
		if angles[at], err = check.Angle(statistics.MeanLength(s.flutes[flute])); err != nil {
			return false
		}
	}
	return max(angles[0], angles[1])-min(angles[0], angles[1]) < length.Degree
}

// Look is how a drop is to be read and what it should come to.
type Look struct {
	Feature     Feature
	Distance    length.Length // behind the edge
	By          DropBy
	Turn        *length.Angle  // that distance as degrees the tool is turned; nil where it is slid
	Least, Most *length.Length // the drops of the band's two ends
	TooNarrow   bool           // the two lie too close for an indicator to tell them apart: only the sign is judged
	TooShort    bool           // turned by eye, the distance is not known well enough to settle a relief in the middle of the band: slide it
	Steepest    length.Length  // the drop of 40 degrees: no tool's relief is steeper
}

// DropBy returns how a drop on the flutes is read.
func (in Inspection) DropBy() DropBy {
	if in.Basis.DropBy == BySliding {
		return BySliding
	}
	return ByTurning
}

// DropLook returns how a drop or a dish is to be read, from the widths that were read, and the drops that stand for the
// two ends of the band it is held against. Errors: a secondary without its primary's width; how it is read is returned
// all the same.
func (in Inspection) DropLook(k Key) (Look, error) {
	w := judging{in: in, sets: in.sets()}
	s := set{feature: k.Feature, flutes: make([][]length.Length, in.Tool.Flutes), over: make([]*length.Length, in.Tool.Flutes), by: make([]DropBy, in.Tool.Flutes)}
	if k.Stated {
		s.fromEnd = &k.FromEnd
	}
	check, noWidth := w.reliefCheck(s, k.Flute-1)
	look := Look{Feature: k.Feature, Distance: check.Distance, By: w.dropBy(s, k.Flute-1)}
	if look.By == ByTurning {
		turn, err := check.Turn()
		if err != nil {
			return look, err
		}
		look.Turn = &turn
	}
	if noWidth != nil {
		return look, noWidth
	}
	least, most := in.Basis.Limits.Of(k.Feature).Angles()
	var err1, err2, err3 error
	look.Least, err1 = limitDrop(check, least)
	look.Most, err2 = limitDrop(check, most)
	look.Steepest, err3 = check.Drop(40 * length.Degree)
	look.TooNarrow = tooNarrow(look.Least, look.Most)
	if k.Feature == ReliefDrop && look.By == ByTurning && look.Least != nil && look.Most != nil && !look.TooNarrow {
		look.TooShort = w.tooShort(check, (*look.Least+*look.Most)/2, *least, *most)
	}
	return look, cmp.Or(err1, err2, err3)
}

// MeasuredRelief returns the relief that the drops read on one flute come to, by the mean of its repeats; nil where none
// was read. f is one of the drops.
func (in Inspection) MeasuredRelief(f Feature, flute int) *length.Angle {
	return in.MeasuredReliefAt(Key{Feature: f, Flute: flute})
}

// MeasuredReliefAt is MeasuredRelief at the flute and the place of a reading; a place that is not stated is the first one.
func (in Inspection) MeasuredReliefAt(k Key) *length.Angle {
	w := judging{in: in, sets: in.sets()}
	var fromEnd *length.Length
	if k.Stated {
		fromEnd = &k.FromEnd
	}
	flute := k.Flute
	s, ok := find(w.sets, k.Feature, fromEnd)
	if !ok || flute < 1 || flute > len(s.flutes) || len(s.flutes[flute-1]) == 0 {
		return nil
	}
	check, err := w.reliefCheck(s, flute-1)
	if err != nil {
		return nil
	}
	a, err := check.Angle(statistics.MeanLength(s.flutes[flute-1]))
	if err != nil {
		return nil
	}
	return &a
}

// NominalOutside returns the nominal reliefs of a tool that lie outside the band they will be held against, as findings.
func NominalOutside(t Tool, l Limits) []Finding {
	var out []Finding
	for _, a := range []struct {
		feature Feature
		nominal *length.Angle
	}{{ReliefDrop, t.PrimaryRelief}, {SecondaryDrop, t.SecondaryRelief}} {
		limit := l.Of(a.feature)
		least, most := limit.Angles()
		if a.nominal != nil && (least != nil && *a.nominal < *least || most != nil && *a.nominal > *most) {
			out = append(out, Finding{
				Feature: a.feature, Value: angleQuantity(*a.nominal), Least: limit.Least, Most: limit.Most, Advice: !limit.Judged,
				Source: limit.Source, Verdict: Reject,
			})
		}
	}
	return out
}
