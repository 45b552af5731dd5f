package geometry

import (
	"math"
	"slices"
	"testing"

	"flutelog/inspect/length"
)

// edgesAt fits the edges at a distance from the end.
func edgesAt(t *testing.T, heights []length.Length, angles []length.Angle, fromEnd, diameter length.Length, helix length.Angle) Edges {
	t.Helper()
	e, err := FitEdges(heights, angles, fromEnd, diameter, helix)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// A cutter made in space: a helix of edges whose axis starts off centre and leans, a radius that grows; each
// edge is followed along the helix and read at both planes.
func TestFitPlanesAgainstCutterInSpace(t *testing.T) {
	r := seeded(10)
	for range 300 {
		flutes := 3 + r.IntN(10)
		d := diameters[r.IntN(len(diameters))]
		helix := degrees(between(r, -60, 60))
		first, apart := d/3, d
		start := Offset{micrometres(between(r, -20, 20)), micrometres(between(r, -20, 20))}
		lean := Offset{micrometres(between(r, -20, 20)), micrometres(between(r, -20, 20))} // over the distance apart
		taper := micrometres(between(r, -20, 20))
		angles := unevenPitch(flutes, func() float64 { return between(r, -9, 9) })

		var near0, far []length.Length
		for _, a := range angles {
			turn := func(z length.Length) float64 {
				return z.Micrometres() / (d.Micrometres() / 2) * math.Tan(helix.Radians())
			}
			near0 = append(near0, readEdge(a.Radians()+turn(first), start, 0))
			far = append(far, readEdge(a.Radians()+turn(first+apart), Offset{start.X + lean.X, start.Y + lean.Y}, taper))
		}
		p, err := FitPlanes(edgesAt(t, near0, angles, first, d, helix), edgesAt(t, far, angles, first+apart, d, helix))
		if err != nil {
			t.Fatal(err)
		}
		near(t, "taper", p.Taper, 2*taper, length.Nanometre)
		near(t, "shift x", p.Shift.X, lean.X, length.Nanometre)
		near(t, "shift y", p.Shift.Y, lean.Y, length.Nanometre)
		nearFloat(t, "tilt", math.Tan(p.Tilt.Radians())*apart.Micrometres(), math.Hypot(lean.X.Micrometres(), lean.Y.Micrometres()), 0.001)
	}
}

// readEdge is the height, over the mean, of an edge at an angle on a circle that stands off centre.
func readEdge(angle float64, centre Offset, higher length.Length) length.Length {
	return higher + micrometres(centre.X.Micrometres()*math.Cos(angle)+centre.Y.Micrometres()*math.Sin(angle))
}

// Two flutes have a taper and no tilt.
func TestFitPlanesTwoFlutes(t *testing.T) {
	p, err := FitPlanes(edgesAt(t, in(t, length.Um, "0 6"), nil, 0, length.Inch/2, 30*length.Degree), edgesAt(t, in(t, length.Um, "8 14"), nil, length.Inch, length.Inch/2, 30*length.Degree))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "taper", p.Taper, 16*length.Micrometre, length.Picometre)
	if p.HasTilt || p.Tilt != 0 {
		t.Errorf("got a tilt of %v", p.Tilt)
	}
}

func TestFitPlanesRefuses(t *testing.T) {
	three, two := edgesAt(t, in(t, length.Um, "0 1 2"), nil, 0, length.Inch, 0), edgesAt(t, in(t, length.Um, "0 1"), nil, length.Inch, length.Inch, 0)
	_, err := FitPlanes(three, two)
	wantError(t, err, "3 and 2 flutes")
	_, err = FitPlanes(three, three)
	wantError(t, err, "apart")
	_, err = FitEdges(three.Heights, nil, length.Inch, 0, 0)
	wantError(t, err, "edges", "diameter")
	_, err = FitEdges(three.Heights, []length.Angle{0, 1}, length.Inch, length.Inch, 0)
	wantError(t, err, "edges", "2 angles for 3 flutes")
}

// A shank that leans: its axis is a straight line in space.
func TestShankAt(t *testing.T) {
	axis := func(z length.Length) Offset { return Offset{z / 1000, 5*length.Micrometre - z/2000} }
	at := 10 * length.Millimetre
	plane := func(z length.Length) ShankPlane { return ShankPlane{z, axis(z)} }
	two, err := ShankAt(at, plane(40*length.Millimetre), plane(60*length.Millimetre))
	if err != nil || two != axis(at) {
		t.Errorf("two distances: got %+v, %v, want %+v", two, err, axis(at))
	}
	one, err := ShankAt(at, plane(40*length.Millimetre))
	if err != nil || one != axis(40*length.Millimetre) {
		t.Errorf("one distance: got %+v, %v, want it as it was read", one, err)
	}
	_, err = ShankAt(at)
	wantError(t, err, "0 planes")
	_, err = ShankAt(at, plane(at), plane(at))
	wantError(t, err, "10mm from the end")
}

func TestOffset(t *testing.T) {
	run := mustFit(t, in(t, length.Um, "0 3 10 5"), nil)
	o := run.Offset() // by hand: (0-10)/2, (3-5)/2
	near(t, "x", o.X, -5*length.Micrometre, length.Picometre)
	near(t, "y", o.Y, -length.Micrometre, length.Picometre)
	near(t, "size", o.Size(), run.Eccentricity, 2*length.Picometre)
	direction, ok := o.Direction()
	nearAngle(t, "direction", direction, run.Direction, degrees(0.0001))
	if _, none := (Offset{}).Direction(); !ok || none {
		t.Errorf("has a direction: %v, and on the axis %v", ok, none)
	}
}

// A tool held off centre and leaning, its edges true to its shank: once the shank is taken off, every plane reads alike,
// whatever the hand of the cut and of the helix. The tool is made in space, edge by edge.
func TestShankTakenOffAtEveryPlane(t *testing.T) {
	r := seeded(30)
	for range 300 {
		flutes := 3 + r.IntN(10)
		d := diameters[r.IntN(len(diameters))]
		helix := degrees(between(r, 0, 60))
		start := Offset{micrometres(between(r, -40, 40)), micrometres(between(r, -40, 40))}
		lean := Offset{micrometres(between(r, -40, 40)), micrometres(between(r, -40, 40))} // over one diameter
		angles := unevenPitch(flutes, func() float64 { return between(r, -9, 9) })
		at := func(z length.Length) Offset {
			part := float64(z) / float64(d)
			return Offset{start.X + length.Length(part*float64(lean.X)), start.Y + length.Length(part*float64(lean.Y))}
		}
		shank := []ShankPlane{{2 * d, at(2 * d)}, {3 * d, at(3 * d)}}
		for _, hands := range [][2]Hand{{Right, Right}, {Left, Left}, {Right, Left}, {Left, Right}} {
			for _, z := range []length.Length{d / 10, d, d * 3 / 2} {
				// A flute climbs the helix toward the next cut where both hands are one.
				along := z.Micrometres() / (d.Micrometres() / 2) * math.Tan(helix.Radians())
				if hands[0] != hands[1] {
					along = -along
				}
				var heights []length.Length
				for _, a := range angles {
					heights = append(heights, readEdge(a.Radians()+along, at(z), 0))
				}
				e, err := FitEdges(heights, angles, z, d, SignedHelix(helix, hands[0], hands[1]))
				if err != nil {
					t.Fatal(err)
				}
				offset, err := ShankAt(z, shank...)
				if err != nil {
					t.Fatal(err)
				}
				under, err := e.Under(offset)
				if err != nil {
					t.Fatal(err)
				}
				left := slices.Clone(heights)
				for i := range left {
					left[i] -= under[i]
				}
				near(t, "run-out to the shank", TIR(left), 0, length.Nanometre)
				near(t, "offset x", e.Offset().X, at(z).X, length.Nanometre)
				near(t, "offset y", e.Offset().Y, at(z).Y, length.Nanometre)
			}
		}
	}
}

// A left-hand tool is the mirror image of a right-hand one: read in the order in which it cuts, it comes to the same
// figures, and an offset alone shows no tilt.
func TestHandsMirror(t *testing.T) {
	heights := in(t, length.Um, "0 7 3 9 2")
	right, err := FitEdges(heights, nil, length.Inch, length.Inch/2, SignedHelix(30*length.Degree, Right, Right))
	if err != nil {
		t.Fatal(err)
	}
	left, err := FitEdges(heights, nil, length.Inch, length.Inch/2, SignedHelix(30*length.Degree, Left, Left))
	if err != nil {
		t.Fatal(err)
	}
	if right.Direction != left.Direction || right.Eccentricity != left.Eccentricity {
		t.Errorf("right hand %v at %v, left hand %v at %v", right.Eccentricity, right.Direction, left.Eccentricity, left.Direction)
	}
	// D 0.5, helix 30, .75 along: 99.24 degrees.
	phase, err := HelixTurn(length.Inch*3/4, length.Inch/2, SignedHelix(30*length.Degree, Left, Left))
	if err != nil {
		t.Fatal(err)
	}
	nearAngle(t, "phase", phase, degrees(99.24), degrees(0.005))
	back, _ := HelixTurn(length.Inch*3/4, length.Inch/2, SignedHelix(30*length.Degree, Left, Right))
	nearAngle(t, "phase of a helix against the cut", back, -phase, 0)
}

// 1 degree per side over 1 in is .0349 in on the diameter (2 tan 1 deg = .034910).
func TestTaperOf(t *testing.T) {
	change, err := TaperOf(length.Inch, length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "taper", change, in(t, length.In, "0.034910")[0], length.Inch/1_000_000)
	_, err = TaperOf(length.Inch, 90*length.Degree)
	wantError(t, err, "taper")
}
