package inspect

import (
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// planes notes what run-outs read at different places tell together: taper and tilt from two distances from
// the end, the run-out that is the grind's own once the shank's is taken off, and the tilt of the end.
func (w *judging) planes() {
	var radial []RunoutFigures
	var shank []geometry.ShankPlane
	for _, r := range w.out.Runouts {
		switch {
		case r.Feature == RadialRunout && r.FromEnd != nil:
			radial = append(radial, r)
		case r.Feature == ShankRunout && r.FromEnd != nil:
			shank = append(shank, geometry.ShankPlane{FromEnd: *r.FromEnd, Offset: r.Fit.Offset()})
		case r.Feature == AxialRunout && r.Fit.HasDirection:
			w.endTilt(r)
		}
	}
	if len(radial) > 1 {
		w.twoPlanes(radial[0], radial[len(radial)-1])
	}
	if len(shank) > 2 {
		shank = []geometry.ShankPlane{shank[0], shank[len(shank)-1]}
	}
	if len(shank) > 0 {
		for _, r := range radial {
			w.lessShank(r, shank)
		}
	}
}

// twoPlanes compares the nearest with the farthest distance from the end.
func (w *judging) twoPlanes(near, far RunoutFigures) {
	t := w.in.Tool
	helix := t.Helix
	if t.Hand == LeftHand {
		helix = -helix
	}
	p, err := geometry.FitPlanes(near.Heights, far.Heights, t.Angles, *far.FromEnd-*near.FromEnd, w.cutting(), helix)
	if err != nil {
		w.note("taper and tilt: %v", err)
		return
	}
	w.note("between %s and %s from the end the radius changes by %s (taper)", w.in_(*near.FromEnd), w.in_(*far.FromEnd), w.in_(p.Taper))
	if p.HasTilt {
		w.note("between the two the offset changes by %s: the edges stand tilted to the axis by %s degrees", w.in_(p.Shift.Size()), p.Tilt.Format(3))
	}
}

// lessShank notes the offset of the edges from the shank's own axis.
func (w *judging) lessShank(r RunoutFigures, shank []geometry.ShankPlane) {
	c, err := geometry.CorrectForShank(r.Fit.Offset(), *r.FromEnd, shank...)
	if err != nil {
		w.note("shank: %v", err)
		return
	}
	tilt := ""
	if !c.TiltSeen {
		tilt = "; the shank was read at one distance, so its tilt is not seen"
	}
	w.note("%s from the end the concentricity to the shank's own axis is %s%s", w.in_(*r.FromEnd), w.in_(2*c.Offset.Size()), tilt)
}

// endTilt notes the tilt of the plane of the end teeth.
func (w *judging) endTilt(r RunoutFigures) {
	tilt, err := geometry.EndTilt(r.Fit, w.in.Basis.EndRadius)
	if err != nil {
		w.note("tilt of the end: %v", err)
		return
	}
	w.note("the end teeth, read %s from the axis, stand tilted by %s degrees", w.in_(w.in.Basis.EndRadius), tilt.Format(3))
}

// causes names the likely cause of a run-out that is not accepted, where the readings tell how good they are
// and one cause stands out; else, above the noise, it says why none is named.
func (w *judging) causes(s set, noise length.Length, df int) {
	if s.feature == ShankRunout || noise <= 0 || df < 1 {
		return
	}
	likely, err := geometry.LikelyCauses(s.means(), w.in.Tool.Angles, nil, noise, float64(df))
	if err != nil || !likely.AboveNoise {
		return
	}
	c, named := likely.Named()
	if !named {
		w.note("%s: %s", w.name(s.feature.Name(), s), likely.Hint())
		return
	}
	cause := Cause{Feature: s.feature, FromEnd: s.fromEnd, What: c.String(), Try: c.Hint()}
	if s.feature == AxialRunout && c.Cause == geometry.HeldOffCentre {
		cause.What = "held tilted"
		cause.Try = "perhaps held tilted: clean and reseat the tool, look for a burr on the shank, then read again"
	}
	w.out.Causes = append(w.out.Causes, cause)
}

// smallest returns the fewest repeats of any flute.
func (s set) smallest() int {
	return len(slices.MinFunc(s.flutes, func(a, b []length.Length) int { return len(a) - len(b) }))
}
