package geometry

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/published"
)

var half = Ratio{1, 2}

// A billionth of an inch, to which every figure is held against constructions.
const billionth = length.Inch / 1_000_000_000

func lay(t *testing.T, teeth Teeth) Section {
	t.Helper()
	s, err := teeth.Section()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// inches reads a number of inches that has more digits than a length typed may have.
func inches(t *testing.T, s string) length.Length {
	t.Helper()
	return micrometres(published.Number(t, s) * 25400)
}

// teethOf returns a row of worn_tooth.csv as one tooth, its widths square to the edge.
func teethOf(t *testing.T, row map[string]string) Teeth {
	t.Helper()
	inch := func(column string) length.Length { return in(t, length.In, row[column])[0] }
	angle := func(column string) length.Angle { return degrees(published.Number(t, row[column])) }
	return Teeth{
		Diameter: inch("diameter_in"), PrimaryRelief: angle("primary_deg"), SecondaryRelief: angle("secondary_deg"),
		Rake: angle("rake_deg"), Helix: angle("helix_deg"),
		Primary: []length.Length{inch("primary_in")}, Land: []length.Length{inch("land_in")}, Wear: []length.Length{inch("wear_in")},
	}
}

// Worn teeth worked apart from the program, lines and circles intersected numerically; to the table's digits.
func TestWornTeeth(t *testing.T) {
	for n, row := range table(t, "worn_tooth.csv") {
		t.Run(fmt.Sprint(n+1), func(t *testing.T) {
			digit := func(what string, got length.Length, column string) {
				t.Helper()
				near(t, what, got, inches(t, row[column]), length.Inch/1_900_000_000)
			}
			teeth := teethOf(t, row)
			feed := Feed{Division: in(t, length.In, row["division_in"])[0]}
			s := lay(t, teeth)
			worn, err := s.Worn(1)
			if err != nil {
				t.Fatal(err)
			}
			digit("recession", worn.Recession, "recession_in")
			digit("infeed of the tooth", worn.Infeed, "infeed_from_touch_in")
			if got, want := worn.OnSecondary, row["arc_ends_on"] == "secondary"; got != want {
				t.Errorf("the arc ends on the secondary: %v, want %v", got, want)
			}
			before, _ := s.Diameter()
			digit("worn diameter", before, "worn_diameter_in")
			plan, err := s.Plan(feed, half, 0)
			if err != nil {
				t.Fatal(err)
			}
			digit("infeed", plan.Infeed, "infeed_from_touch_in")
			if want := int(published.Number(t, row["divisions"])); plan.ClearWear != want {
				t.Errorf("got %d divisions, want %d", plan.ClearWear, want)
			}
			pass := plan.Passes[plan.ClearWear]
			if pass.Section.Outline(1).Worn != nil || plan.Passes[plan.ClearWear-1].Section.Outline(1).Worn == nil {
				t.Fatal("the last division does not clear the wear, or the one before does")
			}
			worst := pass.Lands.Worst()
			digit("primary after", worst.Primary, "primary_after_in")
			digit("land after", worst.Land, "land_after_in")
			nearFloat(t, "share after", worst.Value(), published.Number(t, row["share_after"]), 0.00000051)
			after, _ := pass.Section.Diameter()
			digit("diameter after", after, "diameter_after_in")
			near(t, "diameter loss", pass.DiameterLoss, teeth.Diameter-after, 0)

			// The same tool, its diameter read over the worn edges instead.
			teeth.Diameter, teeth.OverWorn = before, true
			again := lay(t, teeth)
			f, err := again.Infeed()
			if err != nil {
				t.Fatal(err)
			}
			near(t, "infeed from the worn diameter", f, plan.Infeed, billionth)
			read, _ := again.Diameter()
			near(t, "diameter as read", read, before, length.Picometre)
			left, _ := again.Ground(length.Length(plan.ClearWear) * feed.Division).Diameter()
			near(t, "diameter after, from the worn one", left, after, billionth)

			// Without a diameter the tangent rule stands.
			teeth.Diameter, teeth.OverWorn = 0, false
			tangent, err := lay(t, teeth).Infeed()
			if err != nil {
				t.Fatal(err)
			}
			if row["arc_ends_on"] == "primary" {
				digit("tangent rule", tangent, "tangent_rule_in")
			}
		})
	}
}

// Worked apart from the formulas, by intersecting the facets' lines (inch).
func TestPlanWorkedValues(t *testing.T) {
	s := lay(t, Teeth{
		Primary: in(t, length.In, "0.020"), Land: in(t, length.In, "0.080"),
		PrimaryRelief: 8 * length.Degree, SecondaryRelief: 16 * length.Degree, Rake: 5 * length.Degree,
	})
	plan, err := s.Plan(Feed{Division: 2 * length.Thou}, half, 3)
	if err != nil {
		t.Fatal(err)
	}
	const printed = length.Inch / 2_000_000 // half of the last digit below
	primary := in(t, length.In, "0.020 0.033635 0.047270 0.060905")
	land := in(t, length.In, "0.080 0.079404 0.078809 0.078213")
	for n, ratio := range []float64{0.25, 0.4236, 0.5998, 0.7787} {
		pass := plan.Passes[n]
		near(t, fmt.Sprintf("primary after %d", n), pass.Lands.Worst().Primary, primary[n], printed)
		near(t, fmt.Sprintf("land after %d", n), pass.Lands.Worst().Land, land[n], printed)
		nearFloat(t, fmt.Sprintf("ratio after %d", n), pass.Lands.Worst().Value(), ratio, 0.00005)
		near(t, fmt.Sprintf("edge after %d", n), pass.DiameterLoss/2, length.Length(n)*in(t, length.In, "0.002025")[0], length.Length(n+1)*printed)
	}
	if plan.LastUnder != 1 || plan.ClearWear != 0 || plan.Infeed != 0 {
		t.Errorf("got %d divisions under the half, %d to clear %v; want 1, 0 to clear nothing", plan.LastUnder, plan.ClearWear, plan.Infeed)
	}
}

// cutTool is a tool made in the plane of points, lines and circles alone: the axis at the origin, the edge before it wore
// on the x axis at the radius, in micrometres and radians.
type cutTool struct {
	R, a1, a2, rake, w, v float64
	land                  func(u float64) (x, y float64) // from the edge back, by the way along the facets
}

func newCutTool(R, a1, a2, rake, w, v float64) cutTool {
	s1, c1 := math.Sincos(a1)
	s2, c2 := math.Sincos(a2)
	return cutTool{R, a1, a2, rake, w, v, func(u float64) (x, y float64) {
		first := math.Min(u, w)
		return R - first*s1 - (u-first)*s2, first*c1 + (u-first)*c2
	}}
}

// halve returns where f, that rises, passes zero.
func halve(lo, hi float64, f func(float64) float64) float64 {
	for range 70 {
		if mid := (lo + hi) / 2; f(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// wornTo wears the tool until the arc between face and land is as long as V, and returns the way down the radius of the
// new edge, its radius, and the place on the land where the arc ends.
func (c cutTool) wornTo(V float64) (s, radius, ends float64) {
	worn := func(s float64) (arc, radius, ends float64) {
		ex, ey := c.R-s, s*math.Tan(c.rake)
		radius = math.Hypot(ex, ey)
		ends = halve(0, c.w+c.v, func(u float64) float64 { x, y := c.land(u); return radius - math.Hypot(x, y) })
		x, y := c.land(ends)
		return radius * (math.Atan2(y, x) - math.Atan2(ey, ex)), radius, ends
	}
	s = halve(0, c.R-math.Hypot(c.land(c.w+c.v)), func(s float64) float64 { arc, _, _ := worn(s); return arc - V })
	_, radius, ends = worn(s)
	return s, radius, ends
}

// reach returns how far out along the x axis a line at the primary's relief stands when it touches a point.
func (c cutTool) reach(x, y float64) float64 { return x + y*math.Tan(c.a1) }

// cut returns what is left of a polygon below the line through q along d, and the ends of the new side.
func cut(polygon [][2]float64, q, d [2]float64) (left, side [][2]float64) {
	above := func(p [2]float64) float64 { return d[1]*(p[0]-q[0]) - d[0]*(p[1]-q[1]) }
	for i, p := range polygon {
		next := polygon[(i+1)%len(polygon)]
		if above(p) <= 0 {
			left = append(left, p)
		}
		if above(p)*above(next) < 0 {
			part := above(p) / (above(p) - above(next))
			x := [2]float64{p[0] + part*(next[0]-p[0]), p[1] + part*(next[1]-p[1])}
			left, side = append(left, x), append(side, x)
		}
	}
	return left, side
}

// groundTo cuts the sharp tooth by the wheel's plane where it stands at X on the x axis, and returns the primary and the
// land that are left, and the radius of the edge. The back falls off along x.
func (c cutTool) groundTo(X float64) (primary, land, edge float64) {
	hx, hy := c.land(c.w)
	bx, by := c.land(c.w + c.v)
	deep := c.R / 2
	tooth := [][2]float64{{c.R, 0}, {hx, hy}, {bx, by}, {bx - deep, by}, {c.R - deep, deep * math.Tan(c.rake)}}
	s1, c1 := math.Sincos(c.a1)
	left, side := cut(tooth, [2]float64{X, 0}, [2]float64{-s1, c1})
	slices.SortFunc(side, func(a, b [2]float64) int { return int(math.Copysign(1, a[1]-b[1])) })
	primary = math.Hypot(side[1][0]-side[0][0], side[1][1]-side[0][1])
	secondary := 0.0
	if slices.Contains(left, [2]float64{bx, by}) {
		secondary = math.Hypot(bx-side[1][0], by-side[1][1])
	}
	return primary, primary + secondary, math.Hypot(side[0][0], side[0][1])
}

// randomTool makes a tool of one to eight teeth that stand unevenly, each worn by its own amount, and what is measured of it.
func randomTool(r *rand.Rand) (teeth Teeth, made []cutTool, worn []float64) {
	D := between(r, 1.0/16, 2) * 25400
	a1 := between(r, 5, 20)
	teeth = Teeth{
		PrimaryRelief: degrees(a1), SecondaryRelief: degrees(a1 + between(r, 5, 12)), Rake: degrees(between(r, -5, 18)), Helix: degrees(between(r, 0, 55)),
	}
	cosHelix := math.Cos(teeth.Helix.Radians())
	flutes := 1 + r.IntN(8)
	for range flutes {
		w := D * between(r, 0.01, 0.7*math.Sin(a1*math.Pi/180)/2)
		v := D * between(r, 0.03, 0.1)
		// A land whose end comes back to the circle is left to the tests of heels.
		even := newCutTool(D/2, a1*math.Pi/180, teeth.SecondaryRelief.Radians(), 0, w, v)
		for math.Hypot(even.land(w+v)) > math.Hypot(even.land(w+0.95*v)) {
			v *= 0.9
		}
		V := (w + v) * between(r, 0.02, 0.55)
		if r.IntN(10) == 0 {
			V = 0
		}
		width := func(section float64) length.Length { return micrometres(section * cosHelix) }
		teeth.Primary, teeth.Land, teeth.Wear = append(teeth.Primary, width(w)), append(teeth.Land, width(w+v)), append(teeth.Wear, width(V))
		made = append(made, newCutTool(D/2-between(r, 0, 0.002)*D, teeth.PrimaryRelief.Radians(), teeth.SecondaryRelief.Radians(), teeth.Rake.Radians(),
			teeth.Primary[len(teeth.Primary)-1].Micrometres()/cosHelix, (width(w+v)-width(w)).Micrometres()/cosHelix))
		worn = append(worn, width(V).Micrometres()/cosHelix)
	}
	return teeth, made, worn
}

// Ten thousand tools, worn, uneven, ground and ground behind, against the construction of points, lines and circles.
func TestRandomToolsAgainstConstruction(t *testing.T) {
	tools := 10_000
	if testing.Short() {
		tools = 400
	}
	r := seeded(20)
	eaten := 0
	for n := range tools {
		teeth, made, worn := randomTool(r)
		var recession, radius, ends, touch, clear []float64
		for k, c := range made {
			s, R, u := 0.0, c.R, 0.0
			if worn[k] > 0 {
				s, R, u = c.wornTo(worn[k])
			}
			if u > c.w {
				eaten++
			}
			x, y := c.land(u)
			recession, radius, ends = append(recession, s), append(radius, R), append(ends, u)
			first := c.reach(x, y)
			if worn[k] > 0 && u > c.w { // a line at the primary's relief touches a circle at that angle, where the arc is
				at := math.Max(math.Atan2(s*math.Tan(c.rake), c.R-s), math.Min(c.a1, math.Atan2(y, x)))
				first = math.Max(first, c.reach(R*math.Cos(at), R*math.Sin(at)))
			}
			touch, clear = append(touch, first), append(clear, c.reach(c.R-s, s*math.Tan(c.rake)))
		}
		teeth.Diameter, teeth.OverWorn = micrometres(2*slices.Max(radius)), true
		for _, R := range radius {
			teeth.Heights = append(teeth.Heights, micrometres(R-slices.Max(radius)+7))
		}
		s := lay(t, teeth)
		infeed, err := s.Infeed()
		if err != nil {
			t.Fatal(err)
		}
		name := func(what string, k int) string { return fmt.Sprintf("tool %d flute %d %s", n, k+1, what) }
		near(t, name("infeed", 0), infeed, micrometres(slices.Max(touch)-slices.Min(clear)), billionth)
		for k := range made {
			w, err := s.Worn(k + 1)
			if err != nil {
				t.Fatal(err)
			}
			near(t, name("recession", k), w.Recession, micrometres(recession[k]), billionth)
			near(t, name("infeed alone", k), w.Infeed, micrometres(touch[k]-clear[k]), billionth)
			if w.OnSecondary != (ends[k] > made[k].w) && math.Abs(ends[k]-made[k].w) > 1e-3 {
				t.Errorf("%s: %v, the arc ends at %v of %v", name("on the secondary", k), w.OnSecondary, ends[k], made[k].w)
			}
		}
		checkGround(t, r, name, s, made, worn, touch, clear, infeed)
		if t.Failed() {
			t.Fatalf("%+v", teeth)
		}
	}
	if eaten*20 < tools {
		t.Errorf("the wear has eaten the primary on %d teeth only of %d tools", eaten, tools)
	}
}

func checkGround(t *testing.T, r *rand.Rand, name func(string, int) string, s Section, made []cutTool, worn, touch, clear []float64, infeed length.Length) {
	t.Helper()
	fed := infeed + micrometres(between(r, 1, 20)) // beyond the wear, so that every tooth was reached
	ground := s.Ground(fed)
	lands, err := ground.Lands()
	if err != nil {
		return // nothing was left of a land
	}
	cosHelix := s.cosHelix
	largest := 0.0
	for k, c := range made {
		X := slices.Max(touch) - fed.Micrometres()
		primary, land, edge := c.groundTo(X)
		largest = math.Max(largest, edge)
		near(t, name("primary", k), lands.Ratios[k].Primary, micrometres(primary*cosHelix), billionth)
		near(t, name("land", k), lands.Ratios[k].Land, micrometres(land*cosHelix), billionth)
		// The heel, by the point the polygon leaves, under the circle of the edge.
		hx := X - math.Sin(c.a1)*primary - (X - edgeX(c, X))
		hy := edgeY(c, X) + math.Cos(c.a1)*primary
		clearance, err := ground.Clearance(k + 1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, name("heel", k), clearance.Heel, micrometres(edge-math.Hypot(hx, hy)), billionth)
	}
	after, _ := ground.Diameter()
	near(t, name("diameter", 0), after, micrometres(2*largest), billionth)
}

// edgeX and edgeY are where the wheel's line through X on the x axis meets the face.
func edgeX(c cutTool, X float64) float64 { return c.R - edgeDown(c, X) }
func edgeY(c cutTool, X float64) float64 { return edgeDown(c, X) * math.Tan(c.rake) }

func edgeDown(c cutTool, X float64) float64 {
	return halve(0, c.R, func(s float64) float64 { return X - c.reach(c.R-s, s*math.Tan(c.rake)) })
}

// Hollow and eccentric primaries, worn and ground, against points of their curves.
func TestCurvedFormsAgainstConstruction(t *testing.T) {
	r := seeded(21)
	for range 300 {
		D := between(r, 1.0/8, 1.5) * 25400
		a1 := between(r, 6, 15)
		teeth := Teeth{
			Diameter: micrometres(D), Form: Hollow, Wheel: micrometres(D * between(r, 3, 12)),
			PrimaryRelief: degrees(a1), SecondaryRelief: degrees(a1 + between(r, 7, 12)), Rake: degrees(between(r, -5, 15)),
			Primary: []length.Length{micrometres(D * between(r, 0.02, 0.035))},
		}
		teeth.Land = []length.Length{teeth.Primary[0] + micrometres(D*between(r, 0.04, 0.08))}
		teeth.Wear = []length.Length{teeth.Primary[0] * length.Length(10+r.IntN(70)) / 100}
		R, W, tanRake := teeth.Diameter.Micrometres()/2, teeth.Wheel.Micrometres()/2, math.Tan(teeth.Rake.Radians())
		primary := hollowed(R, teeth.PrimaryRelief.Radians(), W)
		moved := func(f float64) profile { // the primary once the wheel stands in by f
			return func(u float64) (x, y float64) { x, y = primary(u); return x - f, y }
		}
		if r.IntN(2) == 0 {
			teeth.Form, teeth.Wheel = Eccentric, 0
			k := math.Tan(teeth.PrimaryRelief.Radians())
			primary = evenFall(R, teeth.PrimaryRelief.Radians())
			moved = func(f float64) profile {
				return func(u float64) (x, y float64) {
					rho := R - f - u*k
					return rho * math.Cos(u/R), rho * math.Sin(u/R)
				}
			}
		}
		w := teeth.Primary[0].Micrometres()
		heel := halve(0, 2*w, func(u float64) float64 { x, y := primary(u); return math.Hypot(x-R, y) - w })
		hx, hy := primary(heel)
		secondary := func(u float64) (x, y float64) { // by the way behind the old heel along the tangent
			s2 := teeth.SecondaryRelief.Radians()
			if teeth.Form == Eccentric {
				return hx - u*math.Tan(s2), hy + u
			}
			rim := hollowed(R, s2, W)
			at := func(y float64) float64 {
				v := halve(-W/2, W/2, func(v float64) float64 { _, got := rim(v); return got - y })
				x, _ := rim(v)
				return x
			}
			return hx + at(hy+u) - at(hy), hy + u
		}
		V := teeth.Wear[0].Micrometres()
		// Worn: the circle through the face at s, to where the primary is as near to the axis.
		arc := func(s float64) float64 {
			ex, ey := R-s, s*tanRake
			radius := math.Hypot(ex, ey)
			u := halve(0, heel, func(u float64) float64 { x, y := primary(u); return radius - math.Hypot(x, y) })
			x, y := primary(u)
			return radius * (math.Atan2(y, x) - math.Atan2(ey, ex))
		}
		s := halve(0, R-math.Hypot(hx, hy), func(s float64) float64 { return arc(s) - V })
		onFace := func(s float64, f float64) float64 { // how far the face at s stands behind the primary moved in by f
			u := halve(-R/10, R/10, func(u float64) float64 { _, y := moved(f)(u); return y - s*tanRake })
			x, _ := moved(f)(u)
			return x - (R - s)
		}
		infeed := halve(0, R/10, func(f float64) float64 { return -onFace(s, f) })

		section := lay(t, teeth)
		worn, err := section.Worn(1)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "recession", worn.Recession, micrometres(s), billionth)
		near(t, "infeed", worn.Infeed, micrometres(infeed), billionth)

		f := infeed * 1.3
		lands, err := section.Ground(micrometres(f)).Lands()
		if err != nil {
			t.Fatal(err)
		}
		f = micrometres(f).Micrometres()
		edge := halve(0, R/5, func(s float64) float64 { return onFace(s, f) })
		meet := halve(heel, heel+4*f/(math.Tan(teeth.SecondaryRelief.Radians())-math.Tan(teeth.PrimaryRelief.Radians())), func(u float64) float64 {
			x, y := moved(f)(u)
			sx, _ := secondary(y - hy)
			return x - sx
		})
		mx, my := moved(f)(meet)
		if lands.Ratios[0].Primary == lands.Ratios[0].Land {
			continue // no secondary left
		}
		near(t, fmt.Sprintf("%v primary", teeth.Form), lands.Ratios[0].Primary, micrometres(math.Hypot(mx-(R-edge), my-edge*tanRake)), billionth)
		if t.Failed() {
			t.Fatalf("%+v", teeth)
		}
	}
}

// A tool of the other hand is the mirror image, and every figure of its section is the same.
func TestSectionMirrored(t *testing.T) {
	r := seeded(22)
	for range 200 {
		teeth, _, _ := randomTool(r)
		teeth.Diameter = 25 * length.Millimetre
		a := teeth
		a.Cut, a.HelixHand = Left, Left
		s1, err1 := teeth.Section()
		s2, err2 := a.Section()
		if (err1 == nil) != (err2 == nil) {
			t.Fatalf("one hand %v, the other %v", err1, err2)
		}
		if err1 != nil {
			continue
		}
		f1, _ := s1.Infeed()
		f2, _ := s2.Infeed()
		l1, _ := s1.Ground(f1).Lands()
		l2, _ := s2.Ground(f2).Lands()
		if f1 != f2 || !slices.Equal(l1.Ratios, l2.Ratios) {
			t.Errorf("infeed %v and %v, lands %v and %v", f1, f2, l1, l2)
		}
	}
}

// The infeed is followed tooth by tooth on flat paper, without a diameter: by first touch and lowest worn edge.
func TestUnevenTeeth(t *testing.T) {
	teeth := Teeth{
		PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree,
		Primary: in(t, length.In, "0.02"), Land: in(t, length.In, "0.08"),
		Heights: in(t, length.In, "0.0010 -0.0002 0 0.0004"),
	}
	s := lay(t, teeth)
	f, err := s.Infeed()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "sharp: from the highest to the lowest", f, in(t, length.In, "0.0012")[0], length.Picometre)
	if !s.UnevenTeeth() || s.FirstTouch() != 1 {
		t.Errorf("uneven %v, first touch on %d; want true, flute 1", s.UnevenTeeth(), s.FirstTouch())
	}
	// Worn by .010 the facet stands .010 tan 9 = .001584 over the edge.
	teeth.Wear = in(t, length.In, "0 0 0.010 0")
	s = lay(t, teeth)
	if s.FirstTouch() != 3 {
		t.Errorf("first touch on %d; want flute 3, whose facet stands at .001584", s.FirstTouch())
	}
	f, _ = s.Infeed()
	near(t, "from facet 3 to edge 2", f, micrometres((0.010*math.Tan(9*math.Pi/180)+0.0002)*25400), length.Picometre)
	if lay(t, Teeth{PrimaryRelief: teeth.PrimaryRelief, SecondaryRelief: teeth.SecondaryRelief, Primary: teeth.Primary, Land: teeth.Land, Wear: teeth.Wear}).UnevenTeeth() {
		t.Error("teeth without heights are called uneven")
	}
	// Only teeth that the wheel has reached are ground.
	ground := s.Ground(f / 4)
	lands, err := ground.Lands()
	if err != nil {
		t.Fatal(err)
	}
	for k, grown := range []bool{true, false, true, false} { // .00045 in: facets at .001, -.0002, .001584, .0004
		if reached := lands.Ratios[k].Primary > teeth.Primary[0]; k != 0 && reached != grown {
			t.Errorf("flute %d grown %v, want %v", k+1, reached, grown)
		}
	}
}

// Read where it is worn less than at the corner, a diameter stands for less of the unworn tool.
func TestDiameterReadElsewhere(t *testing.T) {
	teeth := Teeth{
		Diameter: in(t, length.In, "0.4967")[0], OverWorn: true,
		PrimaryRelief: 8 * length.Degree, SecondaryRelief: 16 * length.Degree, Rake: 5 * length.Degree,
		Primary: in(t, length.In, "0.02"), Land: in(t, length.In, "0.08"), Wear: in(t, length.In, "0.015"),
	}
	deepest := lay(t, teeth)
	teeth.WearRead = in(t, length.In, "0")
	unworn := lay(t, teeth)
	f := length.Inch / 500
	a, _ := deepest.Ground(f).Diameter()
	b, _ := unworn.Ground(f).Diameter()
	// Unworn where it was read, the whole recession of .0040498 comes off; else only what is beyond the wear.
	near(t, "unworn where read", b, in(t, length.In, "0.4967")[0]-micrometres(2*0.0020248345*25400), 30*length.Nanometre)
	if !(b < a && a < teeth.Diameter) {
		t.Errorf("after the grind %v and %v from %v", b, a, teeth.Diameter)
	}
	loss, _ := deepest.Ground(f).DiameterLoss()
	near(t, "loss from what was read", loss, teeth.Diameter-a, 0)
}

func TestPlanKeepsRatioOneAfterTheSecondary(t *testing.T) {
	for _, rake := range []length.Angle{-10 * length.Degree, 0, 20 * length.Degree} {
		plan, err := lay(t, Teeth{
			Primary: in(t, length.Mm, "0.4"), Land: in(t, length.Mm, "0.9"),
			PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree, Rake: rake, Helix: 30 * length.Degree,
		}).Plan(Feed{Division: 50 * length.Micrometre}, half, 20)
		if err != nil {
			t.Fatal(err)
		}
		last := plan.Passes[len(plan.Passes)-1].Lands.Worst()
		before := plan.Passes[len(plan.Passes)-2].Lands.Worst()
		if last.Primary != last.Land {
			t.Errorf("rake %v: ratio %v after the secondary is used up, want exactly 1", rake, last.Value())
		}
		// Ratio and land go the way of the face: it takes land away, none, or gives some.
		if got, want := sign(last.Land-before.Land), -sign(length.Length(rake)); got != want {
			t.Errorf("rake %v: land goes from %v to %v", rake, before.Land, last.Land)
		}
	}
}

func sign(l length.Length) int {
	switch {
	case l < 0:
		return -1
	case l > 0:
		return 1
	}
	return 0
}

// The last division under a limit is told by that limit, whatever it is.
func TestPlanLastUnderDecides(t *testing.T) {
	r := seeded(9)
	for range 200 {
		teeth := Teeth{PrimaryRelief: degrees(between(r, 4, 15)), SecondaryRelief: degrees(between(r, 17, 28)), Rake: degrees(between(r, -10, 20))}
		for range 4 {
			primary := micrometres(between(r, 100, 800))
			teeth.Primary, teeth.Land = append(teeth.Primary, primary), append(teeth.Land, primary+micrometres(between(r, 300, 1500)))
		}
		limit := Ratio{length.Length(1 + r.IntN(3)), 4}
		plan, err := lay(t, teeth).Plan(Feed{Division: 10 * length.Micrometre}, limit, maxPasses)
		if err != nil {
			t.Fatal(err)
		}
		for _, pass := range plan.Passes {
			over := false
			for _, ratio := range pass.Lands.Ratios {
				over = over || limit.Land*ratio.Primary > limit.Primary*ratio.Land
			}
			if over != (pass.Divisions > plan.LastUnder) {
				t.Fatalf("division %d is over %v: %v; last under it is %d", pass.Divisions, limit, over, plan.LastUnder)
			}
		}
	}
}

func TestFeed(t *testing.T) {
	infeed := func(f Feed) length.Length {
		t.Helper()
		g, err := f.Infeed(9 * length.Degree)
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	near(t, "20 um of diameter", infeed(Feed{Division: 20 * length.Micrometre, Diameter: true}), 10*length.Micrometre, 0)
	// A feed along the radius stands at 90 - 9 degrees to the primary.
	near(t, "feed along the radius by its angle", infeed(Feed{Division: 10 * length.Micrometre, FaceAngle: 81 * length.Degree}), 10*length.Micrometre, length.Picometre)
	// At 30 degrees the facet moves in by half the division, square to itself.
	near(t, "feed at 30 degrees", infeed(Feed{Division: 10 * length.Micrometre, FaceAngle: 30 * length.Degree}), micrometres(5/math.Cos(9*math.Pi/180)), length.Picometre)
}

// Moving the secondary in until it meets the primary at the target, by two lines.
func TestSecondaryInfeed(t *testing.T) {
	s := lay(t, Teeth{
		PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree, Helix: 30 * length.Degree,
		Primary: in(t, length.Um, "600 500"), Land: in(t, length.Um, "1500 1500"),
	})
	infeed, err := s.SecondaryInfeed(250 * length.Micrometre)
	if err != nil {
		t.Fatal(err)
	}
	at := func(width float64) (x, y float64) { // along the primary, in the section
		u := width / math.Cos(30*math.Pi/180)
		return -u * math.Sin(9*math.Pi/180), u * math.Cos(9*math.Pi/180)
	}
	x1, y1 := at(600)
	x2, y2 := at(250)
	// The secondary through the old heel stands this far above the new one.
	above := x1 + (y1-y2)*math.Tan(18*math.Pi/180) - x2
	near(t, "infeed", infeed, micrometres(above), length.Nanometre)
	if s.FirstTouchBehind() != 1 {
		t.Errorf("the secondary touches flute %d first, want the widest primary's, 1", s.FirstTouchBehind())
	}
	lands, err := s.GroundBehind(infeed).Lands()
	if err != nil {
		t.Fatal(err)
	}
	for _, ratio := range lands.Ratios {
		near(t, "primary after", ratio.Primary, 250*length.Micrometre, length.Nanometre)
	}
	_, err = s.SecondaryInfeed(601 * length.Micrometre)
	wantError(t, err, "secondary infeed", "0.601mm", "0.6mm")
	if f, err := s.SecondaryInfeed(600 * length.Micrometre); f != 0 || err != nil {
		t.Errorf("nothing to narrow: got %v, %v", f, err)
	}
}

// The count of divisions whose share lies nearest the target, tried one by one; never up to the edge.
func TestSecondaryDivisions(t *testing.T) {
	r := seeded(23)
	for range 300 {
		teeth := Teeth{PrimaryRelief: degrees(between(r, 5, 12)), SecondaryRelief: degrees(between(r, 15, 22)), Rake: degrees(between(r, 0, 12))}
		for range 3 {
			primary := micrometres(between(r, 600, 800))
			teeth.Primary, teeth.Land = append(teeth.Primary, primary), append(teeth.Land, primary+micrometres(between(r, 300, 700)))
		}
		s := lay(t, teeth)
		feed := Feed{Division: micrometres(between(r, 10, 50))}
		pass, err := s.SecondaryDivisions(feed, Ratio{1, 4})
		if err != nil {
			t.Fatal(err)
		}
		off := func(n int) float64 {
			lands, err := s.GroundBehind(length.Length(n) * feed.Division).Lands()
			if err != nil {
				return math.Inf(1)
			}
			return math.Abs(lands.Worst().Value() - 0.25)
		}
		for n := 1; n < 60; n++ {
			if off(n) < off(pass.Divisions)-1e-12 {
				t.Fatalf("%d divisions leave %v off the target, %d leave %v", pass.Divisions, off(pass.Divisions), n, off(n))
			}
		}
	}
	coarse := lay(t, Teeth{PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree, Primary: in(t, length.Um, "100"), Land: in(t, length.Um, "150")})
	_, err := coarse.SecondaryDivisions(Feed{Division: 50 * length.Micrometre}, Ratio{1, 4})
	wantError(t, err, "reach the edge")
}

func TestRegrindsLeft(t *testing.T) {
	for _, tt := range []struct {
		diameter, smallest, loss string
		want                     int
	}{
		{"0.5", "0.45", "0.005", 10}, // exactly ten, in integers
		{"0.5", "0.45", "0.0050001", 9},
		{"0.45", "0.45", "0.005", 0},
		{"0.44", "0.45", "0.005", 0},
	} {
		sizes := in(t, length.In, tt.diameter+" "+tt.smallest+" "+tt.loss)
		got, err := RegrindsLeft(sizes[0], sizes[1], sizes[2])
		if err != nil || got != tt.want {
			t.Errorf("%+v: got %d, %v", tt, got, err)
		}
	}
	_, err := RegrindsLeft(length.Inch, 0, 0)
	wantError(t, err, "regrinds left")
}

func TestClearance(t *testing.T) {
	for _, d := range diameters {
		for _, a := range []float64{2, 9, 25} {
			for _, helix := range []float64{0, 30, 60} {
				s := lay(t, Teeth{
					Diameter: d, PrimaryRelief: degrees(a), SecondaryRelief: degrees(a + 9), Helix: degrees(helix),
					Primary: []length.Length{d / 50}, Land: []length.Length{d / 25},
				})
				h, err := s.Clearance(1)
				if err != nil {
					t.Fatal(err)
				}
				R, cosHelix := d.Micrometres()/2, math.Cos(helix*math.Pi/180)
				clear := func(measured float64) float64 {
					x, y := flatProfile(R, a*math.Pi/180)(measured / cosHelix)
					return R - math.Hypot(x, y)
				}
				near(t, "heel", h.Heel, micrometres(clear((d / 50).Micrometres())), length.Nanometre)
				x, y := twoFacets(R, (d/50).Micrometres()/cosHelix, a*math.Pi/180, (a+9)*math.Pi/180)((d / 25).Micrometres() / cosHelix)
				near(t, "end of the land", h.End, micrometres(R-math.Hypot(x, y)), length.Nanometre)
				gains, rubs := h.Gains.Micrometres(), h.Rubs.Micrometres()
				if most := clear(gains); clear(gains*0.99) > most || clear(gains*1.01) > most {
					t.Errorf("D %v, %v deg: clearance is not largest at %v", d, a, h.Gains)
				}
				near(t, "clearance where it rubs", micrometres(clear(rubs)), 0, length.Nanometre)
			}
		}
	}
	// Half an inch, 9 degrees, helix 30, primary .080: proud by .0026 in.
	s := lay(t, Teeth{
		Diameter: length.Inch / 2, PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree, Helix: 30 * length.Degree,
		Primary: in(t, length.In, "0.080"), Land: in(t, length.In, "0.082"),
	})
	h, err := s.Clearance(1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "a proud heel", h.Heel, in(t, length.In, "-0.0026")[0], length.Tenth/2)
}

func TestSectionRefuses(t *testing.T) {
	good := Teeth{
		Diameter: 12 * length.Millimetre,
		Primary:  in(t, length.Mm, "0.4 0.4"), Land: in(t, length.Mm, "1.5 1.5"),
		PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree,
	}
	for _, tt := range []struct {
		name   string
		change func(*Teeth)
		say    string
	}{
		{"secondary flatter", func(g *Teeth) { g.SecondaryRelief = 9 * length.Degree }, "not steeper"},
		{"no primary relief", func(g *Teeth) { g.PrimaryRelief = 0 }, "reliefs"},
		{"no tooth left", func(g *Teeth) { g.Rake = 72 * length.Degree }, "no tooth"},
		{"helix", func(g *Teeth) { g.Helix = 90 * length.Degree }, "helix"},
		{"helix of a hand", func(g *Teeth) { g.Helix = -length.Degree }, "hand"},
		{"diameter", func(g *Teeth) { g.Diameter = -1 }, "diameter"},
		{"worn, of no diameter", func(g *Teeth) { g.Diameter, g.OverWorn = 0, true }, "diameter"},
		{"hollow by no wheel", func(g *Teeth) { g.Form = Hollow }, "disc wheel"},
		{"counts", func(g *Teeth) { g.Wear = in(t, length.Mm, "0.1 0.1 0.1") }, "2 primary widths for 3 flutes"},
		{"no widths", func(g *Teeth) { g.Primary, g.Land = nil, nil }, "0 flutes"},
		{"primary wider", func(g *Teeth) { g.Land = in(t, length.Mm, "1.5 0.3") }, "flute 2"},
		{"wear below zero", func(g *Teeth) { g.Wear = in(t, length.Mm, "0.1 -0.1") }, "flute 2: wear"},
		{"wear wider than the land", func(g *Teeth) { g.Wear = in(t, length.Mm, "0.1 1.6") }, "flute 2: the wear is wider"},
		{"land past the radius", func(g *Teeth) { g.Land = in(t, length.Mm, "1.5 7") }, "flute 2: a land of 7mm"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			g := good
			tt.change(&g)
			_, err := g.Section()
			wantError(t, err, "section", tt.say)
		})
	}
	s := lay(t, good)
	for _, tt := range []struct {
		feed   Feed
		passes int
		say    string
	}{
		{Feed{Division: 10 * length.Micrometre}, 201, "201 passes"},
		{Feed{Division: 10 * length.Micrometre}, -1, "-1 passes"},
		{Feed{}, 1, "division"},
		{Feed{Division: 1, FaceAngle: length.Degree}, 1, "division"},
		{Feed{Division: 10 * length.Micrometre, FaceAngle: 91 * length.Degree}, 1, "to the face"},
	} {
		_, err := s.Plan(tt.feed, half, tt.passes)
		wantError(t, err, "stock", tt.say)
	}
	straight := good
	straight.Diameter = 0
	_, err := lay(t, straight).Clearance(1)
	wantError(t, err, "heel clearance", "diameter")
	_, err = InSection(length.Inch, 90*length.Degree)
	wantError(t, err, "helix")
}

// 10 degrees at 45 degrees of helix are 14.0 in the plane square to the edge.
func TestNormalRelief(t *testing.T) {
	a, err := NormalRelief(10*length.Degree, 45*length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	nearAngle(t, "normal relief", a, 14*length.Degree, length.Degree/20)
	_, err = NormalRelief(0, 0)
	wantError(t, err, "normal relief")
}

// The outline drawn is the tooth that the figures are read from: the worn arc lies on the circle of the worn edge and is as
// long as the wear land, the facets are as wide as the lands.
func TestOutline(t *testing.T) {
	for _, row := range table(t, "worn_tooth.csv") {
		teeth := teethOf(t, row)
		s := lay(t, teeth)
		o := s.Outline(1)
		worn := published.Number(t, row["worn_diameter_in"]) * 25400 / 2
		cosHelix, arc := math.Cos(teeth.Helix.Radians()), 0.0
		for i, p := range o.Worn {
			nearFloat(t, "worn radius", math.Hypot(o.Radius-p.Down, p.Back), worn, 2e-5)
			if i > 0 {
				arc += math.Hypot(p.Back-o.Worn[i-1].Back, p.Down-o.Worn[i-1].Down)
			}
		}
		nearFloat(t, "wear land", arc*cosHelix, teeth.Wear[0].Micrometres(), 0.001*arc)
		same := func(what string, a, b Place) {
			t.Helper()
			nearFloat(t, what, math.Hypot(a.Back-b.Back, a.Down-b.Down), 0, 1e-9)
		}
		same("the arc begins at the edge", o.Worn[0], o.Edge)
		ground := s.Ground(10 * length.Thou).Outline(1)
		if ground.Worn != nil {
			t.Errorf("ground by .010, worn still: %v", ground.Worn)
		}
		same("the primary begins at the edge", ground.Primary[0], ground.Edge)
		same("the primary ends at the heel", ground.Primary[len(ground.Primary)-1], ground.Heel)
	}
}
