package geometry

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"flutelog/inspect/length"
)

// Worked apart from the formulas, by intersecting the facets' lines (inch).
func TestPlanWorkedValues(t *testing.T) {
	g := Grind{
		Primary: in(t, length.In, "0.020"), Land: in(t, length.In, "0.080"),
		PrimaryRelief: 8 * length.Degree, SecondaryRelief: 16 * length.Degree, Rake: 5 * length.Degree,
	}
	stock, err := g.Plan(Feed{Division: 2 * length.Thou}, 3)
	if err != nil {
		t.Fatal(err)
	}
	const printed = length.Inch / 2_000_000 // half of the last digit below
	primary := in(t, length.In, "0.020 0.033635 0.047270 0.060905")
	land := in(t, length.In, "0.080 0.079404 0.078809 0.078213")
	for n, ratio := range []float64{0.25, 0.4236, 0.5998, 0.7787} {
		step := stock.Steps[n]
		near(t, fmt.Sprintf("primary after %d", n), step.Lands.Worst().Primary, primary[n], printed)
		near(t, fmt.Sprintf("land after %d", n), step.Lands.Worst().Land, land[n], printed)
		nearFloat(t, fmt.Sprintf("ratio after %d", n), step.Lands.Worst().Value(), ratio, 0.00005)
		near(t, fmt.Sprintf("edge after %d", n), step.DiameterLoss/2, length.Length(n)*in(t, length.In, "0.002025")[0], length.Length(n+1)*printed)
	}
	if stock.LastUnderHalf != 1 || stock.ClearWear != 0 || stock.Infeed != 0 {
		t.Errorf("got %d divisions under the half, %d to clear %v; want 1, 0 to clear nothing", stock.LastUnderHalf, stock.ClearWear, stock.Infeed)
	}
}

func TestPlanWorkedValuesWithHelixAndWear(t *testing.T) {
	g := Grind{
		Primary: in(t, length.In, "0.012"), Land: in(t, length.In, "0.050"), Wear: in(t, length.In, "0.010"),
		PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree, Rake: 10 * length.Degree, Helix: 30 * length.Degree,
	}
	stock, err := g.Plan(Feed{Division: length.Thou / 2}, 5)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "infeed", stock.Infeed, in(t, length.In, "0.00183")[0], length.Inch/200_000)
	if stock.ClearWear != 4 || stock.LastUnderHalf != 4 {
		t.Errorf("got %d divisions to clear, %d under the half; want 4 and 4", stock.ClearWear, stock.LastUnderHalf)
	}
	for n, want := range []float64{0.2400, 0.2921, 0.3446, 0.3975, 0.4508, 0.5044} {
		nearFloat(t, fmt.Sprintf("ratio after %d", n), stock.Steps[n].Lands.Worst().Value(), want, 0.00005)
	}
	near(t, "diameter after 4", stock.Steps[4].DiameterLoss, in(t, length.In, "0.004115")[0], length.Inch/2_000_000)
}

type point struct{ x, y float64 }

// cut returns what is left of a polygon below the line through q along d, and the ends of the new side.
func cut(polygon []point, q, d point) (left []point, side []point) {
	above := func(p point) float64 { return d.y*(p.x-q.x) - d.x*(p.y-q.y) }
	for i, p := range polygon {
		next := polygon[(i+1)%len(polygon)]
		if above(p) <= 0 {
			left = append(left, p)
		}
		if above(p)*above(next) < 0 {
			part := above(p) / (above(p) - above(next))
			x := point{p.x + part*(next.x-p.x), p.y + part*(next.y-p.y)}
			left, side = append(left, x), append(side, x)
		}
	}
	return left, side
}

// squareToEdge returns the length, square to an edge at the helix, of a vector in the section whose longest
// part runs along the tangent: the cross product with the edge's direction, facet by facet.
func squareToEdge(width, helix float64) float64 {
	v := [3]float64{width, 0, 0}
	e := [3]float64{math.Sin(helix), math.Cos(helix), 0}
	return math.Abs(v[0]*e[1] - v[1]*e[0])
}

// A tooth as a polygon, cut by the wheel's plane: the sides left are the widths, the corner on the face is the
// edge. Its back falls off square, along x.
func TestPlanAgainstPolygon(t *testing.T) {
	r := seeded(7)
	for range 3000 {
		D := between(r, 1.0/16, 2) * 25400
		a1, step := between(r, 2, 25), between(r, 4, 12)
		g := Grind{
			PrimaryRelief: degrees(a1), SecondaryRelief: degrees(a1 + step),
			Rake: degrees(between(r, -10, 20)), Helix: degrees(between(r, 0, 60)),
			Primary: []length.Length{micrometres(D * between(r, 0.01, 0.04))},
		}
		g.Land = []length.Length{g.Primary[0] + micrometres(D*between(r, 0.01, 0.12))}
		feed := Feed{Division: micrometres(D * between(r, 0.0005, 0.004))}
		stock, err := g.Plan(feed, 6)
		if err != nil {
			t.Fatal(err)
		}
		for n := 1; n <= 6; n++ {
			primary, land, edge := cutTooth(g, D/2, float64(n)*feed.Division.Micrometres())
			got := stock.Steps[n]
			near(t, "primary", got.Lands.Worst().Primary, micrometres(primary), length.Nanometre)
			near(t, "land", got.Lands.Worst().Land, micrometres(land), length.Nanometre)
			near(t, "edge", got.DiameterLoss/2, micrometres(D/2-edge), length.Nanometre)
		}
	}
}

func cutTooth(g Grind, R, infeed float64) (primary, land, edge float64) {
	helix := g.Helix.Radians()
	w := g.Primary[0].Micrometres() / squareToEdge(1, helix)
	v := (g.Land[0] - g.Primary[0]).Micrometres() / squareToEdge(1, helix)
	sin1, cos1 := math.Sincos(g.PrimaryRelief.Radians())
	sin2, cos2 := math.Sincos(g.SecondaryRelief.Radians())
	heel := point{R - w*sin1, w * cos1}
	back := point{heel.x - v*sin2, heel.y + v*cos2}
	deep := R // far below anything the wheel reaches
	rake := math.Tan(g.Rake.Radians())
	tooth := []point{{R, 0}, heel, back, {R - deep, back.y}, {R - deep, deep * rake}}
	left, side := cut(tooth, point{R - infeed, 0}, point{-sin1, cos1})
	slices.SortFunc(side, func(a, b point) int { return int(math.Copysign(1, a.y-b.y)) })
	new, heelNow := side[0], side[1]
	primary = math.Hypot(heelNow.x-new.x, heelNow.y-new.y)
	secondary := 0.0
	if slices.Contains(left, back) {
		secondary = math.Hypot(back.x-heelNow.x, back.y-heelNow.y)
	}
	return squareToEdge(primary, helix), squareToEdge(primary+secondary, helix), new.x
}

func TestPlanKeepsRatioOneAfterTheSecondary(t *testing.T) {
	for _, rake := range []length.Angle{-10 * length.Degree, 0, 20 * length.Degree} {
		g := Grind{
			Primary: in(t, length.Mm, "0.4"), Land: in(t, length.Mm, "0.9"),
			PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree, Rake: rake, Helix: 30 * length.Degree,
		}
		stock, err := g.Plan(Feed{Division: 50 * length.Micrometre}, 20)
		if err != nil {
			t.Fatal(err)
		}
		last := stock.Steps[len(stock.Steps)-1].Lands.Worst()
		before := stock.Steps[len(stock.Steps)-2].Lands.Worst()
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

// The infeed is followed tooth by tooth: from the wheel's first touch until the lowest worn edge is reached.
func TestPlanClearsEveryTooth(t *testing.T) {
	r := seeded(8)
	for range 300 {
		flutes := 2 + r.IntN(11)
		g := Grind{
			Primary: []length.Length{300 * length.Micrometre}, Land: []length.Length{1500 * length.Micrometre},
			PrimaryRelief: degrees(between(r, 4, 20)), SecondaryRelief: 28 * length.Degree, Helix: degrees(between(r, 0, 45)),
		}
		var facet, worn []float64 // heights of the sound facet carried on to the edge, and of the worn edge
		for range flutes {
			height, wear := micrometres(between(r, -20, 20)), micrometres(between(r, 0, 250))
			g.Heights, g.Wear = append(g.Heights, height), append(g.Wear, wear)
			behind := wear.Micrometres() / squareToEdge(1, g.Helix.Radians())
			worn = append(worn, height.Micrometres())
			facet = append(facet, height.Micrometres()+behind*math.Tan(g.PrimaryRelief.Radians()))
		}
		stock, err := g.Plan(Feed{Division: 10 * length.Micrometre}, 30)
		if err != nil {
			t.Fatal(err)
		}
		want := slices.Max(facet) - slices.Min(worn)
		near(t, "infeed", stock.Infeed, micrometres(want), length.Nanometre)
		if got := 10 * float64(stock.ClearWear); got < want-1e-5 || got >= want+10 {
			t.Errorf("%d divisions of 10 um for %v um", stock.ClearWear, want)
		}
		for _, step := range stock.Steps {
			for k, ratio := range step.Lands.Ratios {
				reached := float64(step.Divisions)*10 > slices.Max(facet)-facet[k]+1e-3
				if grown := ratio.Primary > g.Primary[0]; grown != reached {
					t.Errorf("flute %d after %d divisions: grown %v, reached by the wheel %v", k+1, step.Divisions, grown, reached)
				}
			}
		}
	}
}

func TestPlanLastUnderHalfDecides(t *testing.T) {
	r := seeded(9)
	for range 300 {
		g := Grind{
			PrimaryRelief: degrees(between(r, 4, 15)), SecondaryRelief: degrees(between(r, 17, 28)), Rake: degrees(between(r, -10, 20)),
		}
		for range 4 {
			primary := micrometres(between(r, 100, 800))
			g.Primary, g.Land = append(g.Primary, primary), append(g.Land, primary+micrometres(between(r, 300, 1500)))
		}
		stock, err := g.Plan(Feed{Division: 10 * length.Micrometre}, maxPasses)
		if err != nil {
			t.Fatal(err)
		}
		for _, step := range stock.Steps {
			over := false
			for _, ratio := range step.Lands.Ratios {
				over = over || 2*ratio.Primary > ratio.Land
			}
			if over != (step.Divisions > stock.LastUnderHalf) {
				t.Fatalf("division %d is over the half: %v; last under it is %d", step.Divisions, over, stock.LastUnderHalf)
			}
		}
	}
}

func TestFeed(t *testing.T) {
	g := Grind{
		Primary: in(t, length.Mm, "0.4"), Land: in(t, length.Mm, "1.5"), Wear: in(t, length.Mm, "0.3"),
		PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree,
	}
	plan := func(f Feed) Step {
		t.Helper()
		stock, err := g.Plan(f, 4)
		if err != nil {
			t.Fatal(err)
		}
		return stock.Steps[4]
	}
	radius := plan(Feed{Division: 10 * length.Micrometre})
	if got := plan(Feed{Division: 20 * length.Micrometre, Diameter: true}); got.DiameterLoss != radius.DiameterLoss {
		t.Errorf("20 um of diameter: loss %v, want that of 10 um of radius, %v", got.DiameterLoss, radius.DiameterLoss)
	}
	// A feed along the radius stands at 90 - 9 degrees to the primary.
	near(t, "feed along the radius by its angle", plan(Feed{Division: 10 * length.Micrometre, FaceAngle: 81 * length.Degree}).DiameterLoss, radius.DiameterLoss, length.Picometre)
	// At 30 degrees the facet moves in by half the division, square to itself.
	facet := plan(Feed{Division: 10 * length.Micrometre, FaceAngle: 30 * length.Degree}).DiameterLoss
	near(t, "feed at 30 degrees", facet, micrometres(2*4*5/math.Cos(9*math.Pi/180)), length.Nanometre)
}

// Moving the secondary in until it meets the primary at the target, by two lines.
func TestSecondaryInfeed(t *testing.T) {
	g := Grind{PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree, Helix: 30 * length.Degree}
	infeed, err := g.SecondaryInfeed(600*length.Micrometre, 250*length.Micrometre)
	if err != nil {
		t.Fatal(err)
	}
	at := func(width float64) (x, y float64) { // along the primary, in the section
		u := width / squareToEdge(1, 30*math.Pi/180)
		return -u * math.Sin(9*math.Pi/180), u * math.Cos(9*math.Pi/180)
	}
	x1, y1 := at(600)
	x2, y2 := at(250)
	// The secondary through the old heel stands this far above the new one.
	above := x1 + (y1-y2)*math.Tan(18*math.Pi/180) - x2
	near(t, "infeed", infeed, micrometres(above), length.Nanometre)

	_, err = g.SecondaryInfeed(250*length.Micrometre, 251*length.Micrometre)
	wantError(t, err, "secondary infeed", "0.251mm", "0.25mm")
	if f, err := g.SecondaryInfeed(250*length.Micrometre, 250*length.Micrometre); f != 0 || err != nil {
		t.Errorf("nothing to narrow: got %v, %v", f, err)
	}
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

func TestHeelClearance(t *testing.T) {
	for _, d := range diameters {
		for _, a := range []float64{2, 9, 25} {
			for _, helix := range []float64{0, 30, 60} {
				h, err := HeelClearance(d, d/50, degrees(a), degrees(helix))
				if err != nil {
					t.Fatal(err)
				}
				R := d.Micrometres() / 2
				clear := func(measured float64) float64 {
					x, y := flatProfile(R, a*math.Pi/180)(measured / squareToEdge(1, helix*math.Pi/180))
					return R - math.Hypot(x, y)
				}
				near(t, "clearance", h.Clearance, micrometres(clear(d.Micrometres()/50)), length.Nanometre)
				gains, rubs := h.Gains.Micrometres(), h.Rubs.Micrometres()
				if most := clear(gains); clear(gains*0.99) > most || clear(gains*1.01) > most {
					t.Errorf("D %v, %v deg: clearance is not largest at %v", d, a, h.Gains)
				}
				near(t, "clearance where it rubs", micrometres(clear(rubs)), 0, length.Nanometre)
			}
		}
	}
}

func TestStockRefuses(t *testing.T) {
	good := Grind{
		Primary: in(t, length.Mm, "0.4 0.4"), Land: in(t, length.Mm, "1.5 1.5"),
		PrimaryRelief: 9 * length.Degree, SecondaryRelief: 18 * length.Degree,
	}
	feed := Feed{Division: 10 * length.Micrometre}
	for _, tt := range []struct {
		name   string
		change func(*Grind, *Feed)
		passes int
		say    string
	}{
		{"too many passes", func(*Grind, *Feed) {}, 201, "201 passes"},
		{"passes below zero", func(*Grind, *Feed) {}, -1, "-1 passes"},
		{"secondary flatter", func(g *Grind, _ *Feed) { g.SecondaryRelief = 9 * length.Degree }, 1, "not steeper"},
		{"no primary relief", func(g *Grind, _ *Feed) { g.PrimaryRelief = 0 }, 1, "reliefs"},
		{"no tooth left", func(g *Grind, _ *Feed) { g.Rake = 72 * length.Degree }, 1, "no tooth"},
		{"helix", func(g *Grind, _ *Feed) { g.Helix = 90 * length.Degree }, 1, "helix"},
		{"counts", func(g *Grind, _ *Feed) { g.Wear = in(t, length.Mm, "0.1 0.1 0.1") }, 1, "2 primary widths for 3 flutes"},
		{"no widths", func(g *Grind, _ *Feed) { g.Primary, g.Land = nil, nil }, 1, "0 flutes"},
		{"primary wider", func(g *Grind, _ *Feed) { g.Land = in(t, length.Mm, "1.5 0.3") }, 1, "flute 2"},
		{"wear below zero", func(g *Grind, _ *Feed) { g.Wear = in(t, length.Mm, "0.1 -0.1") }, 1, "flute 2: wear"},
		{"no division", func(_ *Grind, f *Feed) { f.Division = 0 }, 1, "division"},
		{"division under a picometre", func(_ *Grind, f *Feed) { f.Division, f.FaceAngle = 1, length.Degree }, 1, "division"},
		{"feed away from the face", func(_ *Grind, f *Feed) { f.FaceAngle = 91 * length.Degree }, 1, "to the face"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			g, f := good, feed
			tt.change(&g, &f)
			_, err := g.Plan(f, tt.passes)
			wantError(t, err, "stock", tt.say)
		})
	}
	_, err := HeelClearance(0, length.Millimetre, 9*length.Degree, 0)
	wantError(t, err, "heel clearance", "diameter")
	_, err = HeelClearance(length.Inch, 0, 9*length.Degree, 0)
	wantError(t, err, "heel clearance", "primary")
	_, err = InSection(length.Inch, 90*length.Degree)
	wantError(t, err, "helix")
}

// A face at 45 degrees takes the whole land of 1 mm away in steps of 0.2 mm and less: after that no step follows.
func TestPlanEndsWithTheLand(t *testing.T) {
	g := Grind{
		Primary: in(t, length.Mm, "0.9"), Land: in(t, length.Mm, "1"),
		PrimaryRelief: 2 * length.Degree, SecondaryRelief: 12 * length.Degree, Rake: 45 * length.Degree,
	}
	stock, err := g.Plan(Feed{Division: 200 * length.Micrometre}, maxPasses)
	if err != nil {
		t.Fatal(err)
	}
	// Back of the land along the tangent over what the face takes per division.
	back := 0.9*math.Cos(2*math.Pi/180) + 0.1*math.Cos(12*math.Pi/180)
	perDivision := 0.2 / (1 - math.Tan(2*math.Pi/180))
	if want := 1 + int(back/perDivision); len(stock.Steps) != want {
		t.Errorf("got %d steps, want %d", len(stock.Steps), want)
	}
}

// At 60 degrees the section is twice as wide (cos 60 = 1/2).
func TestInSection(t *testing.T) {
	w, err := InSection(length.Millimetre, -60*length.Degree)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "width in the section", w, 2*length.Millimetre, 1)
}
