package geometry

import (
	"fmt"
	"math"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/published"
)

// The cutters every construction below is made for: 1/16 to 2 in.
var diameters = []length.Length{length.Inch / 16, length.Inch / 8, length.Inch / 4, length.Inch / 2, length.Inch, 2 * length.Inch}

// profile is half of a section, made of points and nothing else: place 0 is the edge, larger places lie
// behind it; x points from the axis to the edge, y along the tangent.
type profile func(place float64) (x, y float64)

func flatProfile(R, a float64) profile {
	return func(u float64) (x, y float64) { return R - u*math.Sin(a), u * math.Cos(a) }
}

// twoFacets bends from the primary to the secondary at width w.
func twoFacets(R, w, a1, a2 float64) profile {
	return func(u float64) (x, y float64) {
		first := math.Min(u, w)
		x, y = R-first*math.Sin(a1), first*math.Cos(a1)
		return x - (u-first)*math.Sin(a2), y + (u-first)*math.Cos(a2)
	}
}

// evenFall loses the same height with every degree about the axis.
func evenFall(R, a float64) profile {
	return func(u float64) (x, y float64) {
		phi := u / R
		rho := R - phi*R*math.Tan(a)
		return rho * math.Cos(phi), rho * math.Sin(phi)
	}
}

// hollowed lies on the rim of a wheel of radius W that meets the edge at the relief, off the tool.
func hollowed(R, a, W float64) profile {
	return func(u float64) (x, y float64) {
		turn := u / W // about the wheel's centre
		cx, cy := R+W*math.Cos(a), W*math.Sin(a)
		return cx - W*math.Cos(a-turn), cy - W*math.Sin(a-turn)
	}
}

// highest rotates the section by -turn, or moves it by -slide, under a ball of radius p that slides along x,
// and returns the height of the ball's lowest point when it rests: the largest over all points touched.
func highest(f profile, p, turn, slide, reach float64) float64 {
	rest := func(u float64) float64 {
		x, y := f(u)
		x, y = x*math.Cos(turn)+y*math.Sin(turn), y*math.Cos(turn)-x*math.Sin(turn)-slide
		if math.Abs(y) > p {
			return math.Inf(-1)
		}
		return x + math.Sqrt(p*p-y*y) - p
	}
	// A coarse look, then closer around the best by golden ratio.
	const steps = 4000
	best := 0
	for i := range steps + 1 {
		if rest(reach*float64(i)/steps) > rest(reach*float64(best)/steps) {
			best = i
		}
	}
	lo, hi := reach*math.Max(0, float64(best-1))/steps, reach*float64(best+1)/steps
	for range 90 {
		m1, m2 := hi-(hi-lo)/math.Phi, lo+(hi-lo)/math.Phi
		if rest(m1) > rest(m2) {
			hi = m2
		} else {
			lo = m1
		}
	}
	return rest((lo + hi) / 2)
}

// under finds by halving the height at which a pointed tip meets the section.
func under(f profile, turn, slide, reach float64) float64 {
	at := func(u float64) (x, y float64) {
		x, y = f(u)
		return x*math.Cos(turn) + y*math.Sin(turn), y*math.Cos(turn) - x*math.Sin(turn) - slide
	}
	lo, hi := 0.0, reach
	for range 90 {
		mid := (lo + hi) / 2
		if _, y := at(mid); y < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	x, _ := at((lo + hi) / 2)
	return x
}

func constructedDrop(f profile, r Relief, zeroTurn, zeroSlide float64) float64 {
	R, s, p := r.Diameter.Micrometres()/2, r.Distance.Micrometres(), r.Tip.Micrometres()
	radius := R
	if r.Heel > 0 {
		w, a1 := r.Heel.Micrometres(), r.PrimaryRelief.Radians()
		radius = math.Hypot(R-w*math.Sin(a1), w*math.Cos(a1))
	}
	turn, slide := zeroTurn+s/radius, zeroSlide
	if r.Motion == Slid {
		turn, slide = zeroTurn, zeroSlide+s
	}
	reach := R / 2
	if p == 0 {
		return under(f, zeroTurn, zeroSlide, reach) - under(f, turn, slide, reach)
	}
	return highest(f, p, zeroTurn, zeroSlide, reach) - highest(f, p, turn, slide, reach)
}

// Every form and motion, with pointed and ball tips, against a section turned or slid under a probe.
func TestReliefAgainstConstruction(t *testing.T) {
	for _, form := range []Form{Flat, Hollow, Eccentric} {
		for _, motion := range []Motion{Turned, Slid} {
			for _, d := range diameters {
				for _, tip := range []length.Length{0, d / 50, d / 20} {
					for a := 2.0; a <= 25; a += 4.6 {
						relief := degrees(a)
						r := Relief{Diameter: d, Distance: d / 14, Form: form, Motion: motion, Tip: tip}
						f := flatProfile(d.Micrometres()/2, relief.Radians())
						switch form {
						case Eccentric:
							f = evenFall(d.Micrometres()/2, relief.Radians())
						case Hollow:
							r.Wheel = 12 * d
							f = hollowed(d.Micrometres()/2, relief.Radians(), 6*d.Micrometres())
						}
						name := fmt.Sprintf("form %d motion %d D %v tip %v %v", form, motion, d, tip, relief)
						checkRelief(t, name, r, relief, constructedDrop(f, r, 0, 0))
					}
				}
			}
		}
	}
}

func TestSecondaryAgainstConstruction(t *testing.T) {
	for _, motion := range []Motion{Turned, Slid} {
		for _, d := range diameters {
			for _, tip := range []length.Length{0, d / 60} {
				for _, a1 := range []float64{2, 5, 9, 16, 25} {
					w := d / 25
					relief := degrees(a1 + 9)
					r := Relief{Diameter: d, Distance: d / 14, Motion: motion, Tip: tip, Heel: w, PrimaryRelief: degrees(a1)}
					R, rad := d.Micrometres()/2, degrees(a1).Radians()
					back, up := w.Micrometres()*math.Cos(rad), R-w.Micrometres()*math.Sin(rad)
					zeroTurn, zeroSlide := math.Atan2(back, up), 0.0
					if motion == Slid {
						zeroTurn, zeroSlide = 0, back
					}
					f := twoFacets(R, w.Micrometres(), rad, relief.Radians())
					name := fmt.Sprintf("motion %d D %v tip %v %v behind %v", motion, d, tip, relief, degrees(a1))
					checkRelief(t, name, r, relief, constructedDrop(f, r, zeroTurn, zeroSlide))
				}
			}
		}
	}
}

// checkRelief compares drop and angle, both ways, with the drop constructed in micrometres.
func checkRelief(t *testing.T, name string, r Relief, relief length.Angle, constructed float64) {
	t.Helper()
	drop, err := r.Drop(relief)
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	near(t, name+" drop", drop, micrometres(constructed), length.Nanometre)
	back, err := r.Angle(micrometres(constructed))
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	// An angle off by what a nanometre at the checking distance makes.
	nearAngle(t, name+" angle", back, relief, degrees(180/math.Pi*float64(2*length.Nanometre)/float64(r.Distance)))
}

// Handbook drops, printed to 0.0001 in and remembered: the formula must stay within their rounding doubled.
func TestReliefHandbookTable(t *testing.T) {
	var largest length.Length
	for _, row := range table(t, "indicator_drop_table.csv") {
		r := Relief{Diameter: in(t, length.In, row["diameter_in"])[0], Distance: in(t, length.In, row["checking_distance_in"])[0]}
		drop, err := r.Drop(degrees(published.Number(t, row["relief_deg"])))
		if err != nil {
			t.Fatal(err)
		}
		printed := in(t, length.In, row["remembered_drop_in"])[0]
		largest = max(largest, (drop - printed).Abs())
		near(t, fmt.Sprintf("D %s, %s deg", row["diameter_in"], row["relief_deg"]), drop, printed, length.Tenth)
	}
	t.Logf("largest deviation from the remembered handbook drops: %s", largest.Format(length.In, 6))
}

// Drops worked apart from the formula, by intersecting lines and circles numerically (inch).
func TestReliefWorkedValues(t *testing.T) {
	for _, tt := range []struct {
		diameter, distance, drop string
		relief                   length.Angle
	}{
		{"0.5", "0.020", "0.0023426", 9 * length.Degree},
		{"0.25", "0.015", "0.0017158", 10 * length.Degree},
		{"1", "0.020", "0.0020467", 7 * length.Degree},
	} {
		r := Relief{Diameter: in(t, length.In, tt.diameter)[0], Distance: in(t, length.In, tt.distance)[0]}
		drop, err := r.Drop(tt.relief)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "drop on "+tt.diameter, drop, in(t, length.In, tt.drop)[0], length.Inch/20_000_000)
	}
}

// End teeth, and any flat facet slid: tan a = d/s, whatever the diameter; 45 degrees drops its distance.
func TestReliefOfEndTeeth(t *testing.T) {
	r := Relief{Distance: length.Millimetre, Motion: Slid}
	a, err := r.Angle(length.Millimetre)
	if err != nil {
		t.Fatal(err)
	}
	nearAngle(t, "45 degrees", a, 45*length.Degree, 1)
}

// A lever at 60 degrees shows twice the drop (cos 60 = 1/2).
func TestReliefLever(t *testing.T) {
	straight := Relief{Diameter: length.Inch / 2, Distance: length.Inch / 50}
	lever := straight
	lever.Lever = 60 * length.Degree
	a, err := straight.Drop(9 * length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	b, err := lever.Drop(9 * length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "shown by the lever", b, 2*a, 2*length.Picometre)
	angle, err := lever.Angle(b)
	if err != nil {
		t.Fatal(err)
	}
	nearAngle(t, "angle by the lever", angle, 9*length.Degree, 100)
}

// For tan a = d/s the derivatives are known: da/dd = s/(s^2+d^2), da/ds = -d/(s^2+d^2).
func TestReliefUncertainty(t *testing.T) {
	r := Relief{Distance: 500 * length.Micrometre, Motion: Slid}
	u, err := r.Uncertainty(80*length.Micrometre, 2*length.Micrometre, 25*length.Micrometre)
	if err != nil {
		t.Fatal(err)
	}
	const squares = 500.0*500 + 80*80
	fromDrop, fromDistance := 2*500/squares, 25*80/squares
	nearAngle(t, "from the drop", u.FromDrop, degrees(fromDrop*180/math.Pi), 100)
	nearAngle(t, "from the distance", u.FromDistance, degrees(fromDistance*180/math.Pi), 100)
	nearAngle(t, "both", u.Angle, degrees(math.Hypot(fromDrop, fromDistance)*180/math.Pi), 100)
}

// In every form the angle per drop is one over the drop per angle, taken here from Drop.
func TestReliefUncertaintyIsTheSlopeOfDrop(t *testing.T) {
	for _, r := range []Relief{
		{Diameter: length.Inch / 2, Distance: length.Inch / 50},
		{Diameter: length.Inch / 2, Distance: length.Inch / 50, Tip: length.Millimetre / 2},
		{Diameter: length.Inch / 2, Distance: length.Inch / 50, Form: Eccentric, Motion: Slid},
		{Diameter: length.Inch / 2, Distance: length.Inch / 50, Heel: length.Inch / 40, PrimaryRelief: 5 * length.Degree},
	} {
		drops := make([]length.Length, 3)
		for i, a := range []float64{13.9, 14, 14.1} {
			var err error
			if drops[i], err = r.Drop(degrees(a)); err != nil {
				t.Fatal(err)
			}
		}
		u, err := r.Uncertainty(drops[1], drops[2]-drops[0], 0)
		if err != nil {
			t.Fatal(err)
		}
		nearAngle(t, "angle for the drop of 0.2 degrees", u.Angle, degrees(0.2), degrees(0.0001))
	}
}

func TestReliefRefuses(t *testing.T) {
	const mm = length.Millimetre
	good := Relief{Diameter: 10 * mm, Distance: mm / 2}
	for _, tt := range []struct {
		name   string
		change func(*Relief)
		drop   length.Length
		say    string
	}{
		{"no diameter", func(r *Relief) { r.Diameter = 0 }, mm / 10, "diameter"},
		{"no distance", func(r *Relief) { r.Distance = 0 }, mm / 10, "checking distance"},
		{"half way round", func(r *Relief) { r.Distance = 5 * mm }, mm / 10, "radius"},
		{"below the axis", func(r *Relief) {}, 6 * mm, "no flat facet"},
		{"far on a curved land", func(r *Relief) { r.Form, r.Distance = Eccentric, 2*mm }, mm / 10, "fifth"},
		{"too steep for a curved land", func(r *Relief) { r.Form = Eccentric }, mm, "no eccentric facet"},
		{"hollow without its wheel", func(r *Relief) { r.Form = Hollow }, mm / 10, "disc wheel"},
		{"heel without a primary relief", func(r *Relief) { r.Heel = mm / 2 }, mm / 10, "primary relief"},
		{"lever upright", func(r *Relief) { r.Lever = 90 * length.Degree }, mm / 10, "lever"},
		{"ball on the edge", func(r *Relief) { r.Tip, r.Distance = 3*mm, mm/2 }, mm / 10, "rests on the edge"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := good
			tt.change(&r)
			_, err := r.Angle(tt.drop)
			wantError(t, err, tt.say, "drop")
		})
	}
	for _, a := range []length.Angle{81 * length.Degree, 90 * length.Degree, -81 * length.Degree} {
		_, err := good.Drop(a)
		wantError(t, err, "80 degrees at most")
	}
	ball := Relief{Diameter: 10 * mm, Distance: mm / 2, Tip: 3 * mm}
	for _, form := range []Form{Flat, Eccentric} {
		ball.Form = form
		_, err := ball.Drop(20 * length.Degree)
		wantError(t, err, "rests on the edge")
	}
}

// .020 in behind the edge of a half-inch tool are .020/.25 radians, 4.584 degrees.
func TestReliefTurn(t *testing.T) {
	turn, err := Relief{Diameter: length.Inch / 2, Distance: length.Inch / 50}.Turn()
	if err != nil {
		t.Fatal(err)
	}
	nearAngle(t, "turn", turn, degrees(4.583662), degrees(0.000001))
	_, err = Relief{Distance: length.Inch / 50}.Turn()
	wantError(t, err, "turn", "diameter")
}
