package geometry

import (
	"math"
	"testing"

	"flutelog/inspect/length"
)

// A cutter made in space: a helix of edges whose axis starts off centre and leans, a radius that grows; each
// edge is followed along the helix and read at both planes.
func TestFitPlanesAgainstCutterInSpace(t *testing.T) {
	r := seeded(10)
	for range 300 {
		flutes := 3 + r.IntN(10)
		d := diameters[r.IntN(len(diameters))]
		helix := degrees(between(r, -60, 60))
		apart := d
		start := Offset{micrometres(between(r, -20, 20)), micrometres(between(r, -20, 20))}
		lean := Offset{micrometres(between(r, -20, 20)), micrometres(between(r, -20, 20))} // over the distance apart
		taper := micrometres(between(r, -20, 20))
		angles := unevenPitch(flutes, func() float64 { return between(r, -9, 9) })

		var near0, far []length.Length
		for _, a := range angles {
			near0 = append(near0, readEdge(a.Radians(), start, 0))
			turn := apart.Micrometres() / (d.Micrometres() / 2) * math.Tan(helix.Radians())
			far = append(far, readEdge(a.Radians()+turn, Offset{start.X + lean.X, start.Y + lean.Y}, taper))
		}
		p, err := FitPlanes(near0, far, angles, apart, d, helix)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "taper", p.Taper, taper, length.Nanometre)
		near(t, "shift x", p.Shift.X, lean.X, length.Nanometre)
		near(t, "shift y", p.Shift.Y, lean.Y, length.Nanometre)
		nearFloat(t, "tilt", math.Tan(p.Tilt.Radians())*apart.Micrometres(), math.Hypot(lean.X.Micrometres(), lean.Y.Micrometres()), 0.001)

		mirrored, err := FitPlanes(near0, far, angles, apart, d, -helix)
		if err != nil {
			t.Fatal(err)
		}
		if mirrored.Phase != -p.Phase {
			t.Errorf("mirrored hand: phase %v, want %v", mirrored.Phase, -p.Phase)
		}
	}
}

// readEdge is the height, over the mean, of an edge at an angle on a circle that stands off centre.
func readEdge(angle float64, centre Offset, higher length.Length) length.Length {
	return higher + micrometres(centre.X.Micrometres()*math.Cos(angle)+centre.Y.Micrometres()*math.Sin(angle))
}

// A mirrored tool of the other hand, read in the mirrored order, leans to the mirrored side by as much.
func TestFitPlanesMirrored(t *testing.T) {
	near1, far1 := in(t, length.Um, "0 7 3 9 2"), in(t, length.Um, "4 1 8 2 6")
	near2, far2 := in(t, length.Um, "0 2 9 3 7"), in(t, length.Um, "4 6 2 8 1")
	a, err := FitPlanes(near1, far1, nil, length.Inch, length.Inch/2, 30*length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	b, err := FitPlanes(near2, far2, nil, length.Inch, length.Inch/2, -30*length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "taper", b.Taper, a.Taper, length.Picometre)
	near(t, "shift x", b.Shift.X, a.Shift.X, 10*length.Picometre)
	near(t, "shift y", b.Shift.Y, -a.Shift.Y, 10*length.Picometre)
	nearAngle(t, "tilt", b.Tilt, a.Tilt, 10)
}

func TestFitPlanesTwoFlutes(t *testing.T) {
	p, err := FitPlanes(in(t, length.Um, "0 6"), in(t, length.Um, "10 12"), nil, length.Inch, length.Inch/2, 30*length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "taper", p.Taper, 8*length.Micrometre, length.Picometre)
	if p.HasTilt || p.Tilt != 0 {
		t.Errorf("got a tilt of %v", p.Tilt)
	}
}

func TestFitPlanesRefuses(t *testing.T) {
	three := in(t, length.Um, "0 1 2")
	_, err := FitPlanes(three, three[:2], nil, length.Inch, length.Inch, 0)
	wantError(t, err, "3 and 2 flutes")
	_, err = FitPlanes(three, three, nil, 0, length.Inch, 0)
	wantError(t, err, "apart")
	_, err = FitPlanes(three, three, nil, length.Inch, 0, 0)
	wantError(t, err, "diameter")
	_, err = FitPlanes(three, three, []length.Angle{0, 1}, length.Inch, length.Inch, 0)
	wantError(t, err, "near plane", "2 angles for 3 flutes")
}

// A shank that leans: its axis is a straight line in space, on which the edges' own offset is set.
func TestCorrectForShank(t *testing.T) {
	axis := func(z length.Length) Offset { return Offset{z / 1000, 5*length.Micrometre - z/2000} }
	own := Offset{3 * length.Micrometre, -2 * length.Micrometre}
	at := 10 * length.Millimetre
	edges := Offset{axis(at).X + own.X, axis(at).Y + own.Y}
	plane := func(z length.Length) ShankPlane { return ShankPlane{z, axis(z)} }

	two, err := CorrectForShank(edges, at, plane(40*length.Millimetre), plane(60*length.Millimetre))
	if err != nil {
		t.Fatal(err)
	}
	if two.Offset != own || !two.TiltSeen {
		t.Errorf("two distances: got %+v, want %+v with the tilt seen", two, own)
	}
	one, err := CorrectForShank(edges, at, plane(40*length.Millimetre))
	if err != nil {
		t.Fatal(err)
	}
	// The 30 mm not seen leave 30 um in X, 15 in Y.
	if want := (Offset{own.X - 30*length.Micrometre, own.Y + 15*length.Micrometre}); one.Offset != want || one.TiltSeen {
		t.Errorf("one distance: got %+v, want %+v without the tilt", one, want)
	}
	_, err = CorrectForShank(edges, at)
	wantError(t, err, "0 planes")
	_, err = CorrectForShank(edges, at, plane(at), plane(at))
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
				left, err := e.Less(offset)
				if err != nil {
					t.Fatal(err)
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
