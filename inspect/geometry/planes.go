package geometry

import (
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/length"
)

// Offset is where a centre stands from the axis of reading: X towards angle 0, Y towards 90 degrees.
type Offset struct{ X, Y length.Length }

// Offset returns the eccentricity with its direction.
func (r Runout) Offset() Offset {
	sin, cos := math.Sincos(r.Direction.Radians())
	e := float64(r.Eccentricity)
	return Offset{length.Length(math.Round(e * cos)), length.Length(math.Round(e * sin))}
}

// Size returns how far the centre stands off the axis.
func (o Offset) Size() length.Length {
	return length.Length(math.Round(math.Hypot(float64(o.X), float64(o.Y))))
}

// Direction returns where the centre stands off to, from 0 up to 360 degrees, and false when it is on the axis.
func (o Offset) Direction() (length.Angle, bool) {
	if o == (Offset{}) {
		return 0, false
	}
	var out results
	return out.direction(math.Atan2(float64(o.Y), float64(o.X))), true
}

func (o Offset) minus(p Offset) Offset { return Offset{o.X - p.X, o.Y - p.Y} }

// Edges is the runout of the edges at one distance from the end, in the angles that shank and edges share: 0 is flute 1 at
// the end face, and larger angles come later under the indicator.
type Edges struct {
	FromEnd length.Length
	Heights []length.Length
	Angles  []length.Angle // where each edge stands there: at the end face, and turned on along the helix
	Runout
}

// FitEdges returns the runout of the edges at a distance from the end, where each has turned on along the helix:
//
//	t[k] = t0[k] + z tan L / R
//
// angles are those at the end face, nil for equal pitch; the helix is signed as in HelixTurn. Errors: those of FitRunout
// and HelixTurn.
func FitEdges(heights []length.Length, angles []length.Angle, fromEnd, diameter length.Length, helix length.Angle) (Edges, error) {
	phase, err := HelixTurn(fromEnd, diameter, helix)
	if err != nil {
		return Edges{}, fmt.Errorf("edges %v from the end: %w", fromEnd, err)
	}
	there := slices.Clone(angles)
	if angles == nil {
		there = EqualAngles(len(heights))
	}
	for i := range there {
		there[i] = turned(there[i] + phase)
	}
	run, err := FitRunout(heights, there)
	if err != nil {
		return Edges{}, fmt.Errorf("edges %v from the end: %w", fromEnd, err)
	}
	return Edges{fromEnd, heights, there, run}, nil
}

// Under returns what an offset of the shank puts under each edge:
//
//	x cos t[k] + y sin t[k]
//
// Edges that run true to the shank, all of them off centre in the holding, come to one height once it is taken off them.
func (e Edges) Under(shank Offset) ([]length.Length, error) {
	var out results
	var under []length.Length
	for _, a := range e.Angles {
		sin, cos := math.Sincos(a.Radians())
		under = append(under, out.length(shank.X.Micrometres()*cos+shank.Y.Micrometres()*sin))
	}
	return under, out.err
}

// TaperOf returns by how much the diameter changes over a distance along the axis at a nominal taper per side:
//
//	2 z tan(taper)
func TaperOf(apart length.Length, perSide length.Angle) (length.Length, error) {
	if perSide <= -90*length.Degree || perSide >= 90*length.Degree {
		return 0, fmt.Errorf("taper of %v per side: want within 90 degrees", perSide)
	}
	var out results
	change := out.length(2 * apart.Micrometres() * math.Tan(perSide.Radians()))
	return change, out.err
}

// Planes compares the edges at two distances from the end.
type Planes struct {
	Taper   length.Length // on the diameter: twice the mean height at the far plane less that at the near one
	Shift   Offset        // eccentricity at the far plane less at the near one
	Tilt    length.Angle  // of the axis of the edges, shift over the distance between the planes
	HasTilt bool          // false for two flutes, which then have neither Shift nor Tilt
}

// FitPlanes compares the edges at two planes, the far one nearer to the shank:
//
//	taper = 2 (r0 far - r0 near);  tilt = atan(|e far - e near| / z)
//
// Two flutes show only the component along the line through both edges, and the helix turns that line: they have no
// tilt. Errors: other numbers of flutes, planes that are not apart.
func FitPlanes(near, far Edges) (Planes, error) {
	if len(near.Heights) != len(far.Heights) {
		return Planes{}, fmt.Errorf("two planes: %d and %d flutes read; want the same at both", len(near.Heights), len(far.Heights))
	}
	apart := far.FromEnd - near.FromEnd
	if apart <= 0 {
		return Planes{}, fmt.Errorf("two planes: %v apart; want more than zero", apart)
	}
	p := Planes{Taper: 2 * (far.Mean - near.Mean)}
	if near.Partial {
		return p, nil
	}
	p.HasTilt = true
	p.Shift = far.Offset().minus(near.Offset())
	var out results
	p.Tilt = out.angle(math.Atan2(float64(p.Shift.Size()), float64(apart)))
	return p, out.err
}

// ShankPlane is the offset of the shank at a distance from the end, from FitRunout of readings round it.
type ShankPlane struct {
	FromEnd length.Length
	Offset  Offset
}

// ShankAt returns the shank's offset carried on to a distance from the end, from one plane or two:
//
//	s1 + (s2 - s1) (z - z1) / (z2 - z1)
//
// With one plane it is that of the plane, and a tilted shank is not seen. Only a shank read in the same set-up and
// counted from the same angle 0 can be taken off the edges. Errors: no plane or more than two, two at one distance.
func ShankAt(fromEnd length.Length, shank ...ShankPlane) (Offset, error) {
	switch {
	case len(shank) == 1:
		return shank[0].Offset, nil
	case len(shank) != 2:
		return Offset{}, fmt.Errorf("shank correction: %d planes; want one or two", len(shank))
	case shank[0].FromEnd == shank[1].FromEnd:
		return Offset{}, fmt.Errorf("shank correction: both planes are %v from the end", shank[0].FromEnd)
	}
	one, change := shank[0].Offset, shank[1].Offset.minus(shank[0].Offset)
	part := float64(fromEnd-shank[0].FromEnd) / float64(shank[1].FromEnd-shank[0].FromEnd)
	return Offset{
		one.X + length.Length(math.Round(float64(change.X)*part)),
		one.Y + length.Length(math.Round(float64(change.Y)*part)),
	}, nil
}
