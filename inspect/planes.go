package inspect

import (
	"cmp"
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// planes judges what run-outs read at different places tell together: the taper from two distances from the end, the
// run-out to the shank once its offset is taken off. It notes tilt and the tilt of the end.
func (w *judging) planes() {
	var radial, shank []RunoutFigures
	for _, r := range w.out.Runouts {
		switch {
		case r.Feature == RadialRunout:
			radial = append(radial, r)
		case r.Feature == ShankRunout:
			shank = append(shank, r)
		case r.Feature == AxialRunout && r.Fit.HasDirection:
			w.endTilt(r)
		}
	}
	stated := slices.DeleteFunc(slices.Clone(radial), func(r RunoutFigures) bool { return r.FromEnd == nil })
	if len(stated) > 1 {
		w.twoPlanes(stated[0], stated[len(stated)-1])
	}
	if len(shank) == 0 {
		return
	}
	planes := shankPlanes(shank)
	for _, r := range radial {
		w.toShank(r, planes)
	}
}

// shankPlanes returns the offset of the shank at one place, or at the two farthest apart.
func shankPlanes(shank []RunoutFigures) []geometry.ShankPlane {
	var planes []geometry.ShankPlane
	for _, r := range shank {
		if r.FromEnd != nil {
			planes = append(planes, geometry.ShankPlane{FromEnd: *r.FromEnd, Offset: r.Fit.Offset()})
		}
	}
	switch {
	case len(planes) == 0:
		return []geometry.ShankPlane{{Offset: shank[0].Fit.Offset()}}
	case len(planes) > 2:
		return []geometry.ShankPlane{planes[0], planes[len(planes)-1]}
	}
	return planes
}

// crests takes the run-outs of chip-breaker teeth together: a tooth is as high as its highest crest in all the planes that
// were read, for no one plane meets them all. Read in one plane they are not judged; not read, that is said after the grind.
func (w *judging) crests() {
	if w.in.Tool.Teeth != ChipBreakerTeeth || w.in.Tool.Flutes < 2 {
		return
	}
	var planes []set
	w.sets = slices.DeleteFunc(w.sets, func(s set) bool {
		crest := s.feature == RadialRunout && !s.onShank
		if crest {
			planes = append(planes, s)
		}
		return crest
	})
	switch len(planes) {
	case 0:
		if w.in.Stage == After {
			w.note(Note{What: CrestsUnread, Feature: RadialRunout})
		}
		return
	case 1:
		w.notJudged(planes[0], RadialRunout, Reason{What: OnePlane})
		return
	}
	all := planes[0]
	all.fromEnd, all.closing, all.flutes = nil, nil, make([][]length.Length, w.in.Tool.Flutes)
	for i := range all.flutes {
		rounds := len(planes[0].flutes[i])
		for _, p := range planes {
			rounds = min(rounds, len(p.flutes[i]))
		}
		for m := range rounds {
			highest := planes[0].flutes[i][m]
			for _, p := range planes[1:] {
				highest = max(highest, p.flutes[i][m])
			}
			all.flutes[i] = append(all.flutes[i], highest)
		}
	}
	w.sets = append([]set{all}, w.sets...)
}

// edges fits a run-out in the angles that shank and edges share: 0 is that of flute 1 at the end face.
func (w *judging) edges(r RunoutFigures) (geometry.Edges, error) {
	var fromEnd length.Length
	if r.FromEnd != nil {
		fromEnd = *r.FromEnd
	}
	diameter, _ := w.cutting()
	return geometry.FitEdges(r.Heights, w.in.Tool.Angles, fromEnd, diameter, w.helix())
}

// twoPlanes judges the taper between the nearest and the farthest distance from the end, less the tool's nominal one,
// and notes the tilt.
func (w *judging) twoPlanes(near, far RunoutFigures) {
	e1, err1 := w.edges(near)
	e2, err2 := w.edges(far)
	var p geometry.Planes
	err := cmp.Or(err1, err2)
	if err == nil {
		p, err = geometry.FitPlanes(e1, e2)
	}
	nominal, err3 := geometry.TaperOf(*far.FromEnd-*near.FromEnd, w.in.Tool.Taper)
	if err = cmp.Or(err, err3); err != nil {
		w.note(Note{What: OffAxis, Feature: Taper, Detail: err.Error()})
		return
	}
	f := w.blank(set{fromEnd: far.FromEnd}, Taper)
	taper := p.Taper - nominal
	f.Value = lengthQuantity(taper)
	if f.Least != nil || f.Most != nil {
		f.Verdict, f.Rule = Accept, statistics.Simple
		if f.Least != nil && taper < f.Least.Length() || f.Most != nil && taper > f.Most.Length() {
			f.Verdict = Reject
		}
	}
	w.add(f)
	features := []Feature{RadialRunout, RunoutToShank, Taper}
	if p.HasTilt && len(w.with(Reject, features...))+len(w.with(Undecided, features...)) > 0 { // the tilt bears on the answer
		w.note(Note{What: TiltSeen, Value: angleQuantity(p.Tilt), Other: lengthQuantity(p.Shift.Size())})
	}
}

// toShank judges the TIR of the edges less the offset of the shank under each.
func (w *judging) toShank(r RunoutFigures, shank []geometry.ShankPlane) {
	e, err := w.edges(r)
	var at geometry.Offset
	if err == nil {
		at, err = geometry.ShankAt(e.FromEnd, shank...)
	}
	var under []length.Length
	if err == nil {
		under, err = e.Under(at)
	}
	if err != nil {
		w.note(Note{What: OffAxis, Feature: RunoutToShank, FromEnd: r.FromEnd, Detail: err.Error()})
		return
	}
	own := geometry.Offset{X: e.Offset().X - at.X, Y: e.Offset().Y - at.Y}
	n := Note{What: ToShank, FromEnd: r.FromEnd, Value: lengthQuantity(2 * own.Size())}
	if len(shank) == 1 {
		n.Detail = "one place"
	}
	w.note(n)
	s, ok := find(w.sets, RadialRunout, r.FromEnd)
	if !ok {
		return
	}
	s.closing = nil // the fixture's own set was voided by it already
	flutes := make([][]length.Length, len(s.flutes))
	for i, repeats := range s.flutes {
		for _, h := range repeats {
			flutes[i] = append(flutes[i], h-under[i])
		}
	}
	s.flutes = flutes
	if f, _, ok := w.tir(s, RunoutToShank); ok {
		w.add(f)
	}
}

// endTilt notes the tilt of the plane of the end teeth.
func (w *judging) endTilt(r RunoutFigures) {
	tilt, err := geometry.EndTilt(r.Fit, w.in.Basis.EndRadius)
	if err != nil {
		w.note(Note{What: OffAxis, Feature: AxialRunout, Detail: err.Error()})
		return
	}
	if len(w.with(Reject, AxialRunout))+len(w.with(Undecided, AxialRunout)) == 0 {
		return // true enough: its tilt bears on nothing
	}
	w.note(Note{What: EndTilted, Value: angleQuantity(tilt), Other: lengthQuantity(w.in.Basis.EndRadius)})
}
