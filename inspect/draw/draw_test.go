package draw

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/mark"
)

const tenth = length.Thou / 10

func ptr[T any](v T) *T { return &v }

// edges returns how far from the centre and where each tooth's edge stands: a tooth begins at each point of the outline
// that a line leads to from the face of the one before.
func edges(t *testing.T, e End) (radii, clockwise []float64) {
	t.Helper()
	n := parse(t, e.SVG())
	d := n.one(t, "body").attr("d")
	centre := [2]float64{width / 2, endHigh / 2}
	n0 := len(e.Texts)
	var starts []string
	starts = append(starts, d[1:strings.IndexByte(d, 'L')])
	rest := d
	for range n0 - 1 {
		rest = rest[strings.IndexByte(rest, 'Q'):]
		rest = rest[strings.IndexByte(rest, 'L')+1:]
		starts = append(starts, rest[:strings.IndexByte(rest, 'L')])
	}
	for _, s := range starts {
		p := places(t, s)[0]
		radii = append(radii, apart(p, centre))
		clockwise = append(clockwise, math.Mod(math.Atan2(p[0]-centre[0], centre[1]-p[1])*180/math.Pi+360, 360))
	}
	return radii, clockwise
}

// The edges stand apart as the heights do, all times one round number: 1/2 in is 104 px, so that the 0.0005 in that the
// limit allows is 0.104 px, and 100 times that is within the 11 px there are, 200 times is not.
func TestEndStandsAsRead(t *testing.T) {
	e := End{Name: "run-out", Texts: []string{"0", "1", "3", "2"}, Heights: []length.Length{0, tenth, 3 * tenth, 2 * tenth}, Diameter: length.Inch / 2, Limit: ptr(5 * tenth)}
	if got := e.Exaggeration(); got != 100 {
		t.Fatalf("heights are drawn at %v times, want 100", got)
	}
	radii, clockwise := edges(t, e)
	perTenth := 100 * 0.0001 / 0.5 * 104
	for i, h := range []float64{0, 1, 3, 2} {
		near(t, fmt.Sprintf("radius of flute %d", i+1), radii[i], 52+h*perTenth, 0.02)
		near(t, fmt.Sprintf("angle of flute %d", i+1), clockwise[i], float64(90*i), 0.05)
	}
	n := parse(t, e.SVG())
	near(t, "the most that the TIR may be", n.one(t, "dash").number(t, "r"), 52+5*perTenth, 0.02)
	e.LeftCut = true
	if _, clockwise = edges(t, e); math.Abs(clockwise[1]-270) > 0.05 {
		t.Errorf("flute 2 of a left-hand cutter stands at %v degrees, want 270", clockwise[1])
	}
}

func TestEndRingsWhatDecided(t *testing.T) {
	n := parse(t, End{Texts: []string{"+.0001", "", "-.0002"}, Worst: []int{3}}.SVG())
	if got := len(n.all("worst")); got != 1 {
		t.Errorf("%d flutes are ringed, want 1", got)
	}
	if got := len(n.all("open")); got != 1 {
		t.Errorf("%d flutes are shown as not read, want 1", got)
	}
	if got := n.one(t, "strong").Text; got != "-.0002" {
		t.Errorf("the value in bold is %q", got)
	}
}

// Square to the edge of a helix of 30 degrees a radial relief of 10 degrees is atan(tan 10/cos 30) = 11.51 degrees and
// one of 21 degrees is 23.91, by hand.
func TestSectionIsToScale(t *testing.T) {
	s := Section{Name: "land", Diameter: length.Inch / 2, Helix: 30 * length.Degree, Primary: 20 * length.Thou, Land: 80 * length.Thou, Wear: ptr(10 * length.Thou),
		PrimaryRelief: Relief{10 * length.Degree, true}, SecondaryRelief: Relief{21 * length.Degree, false}, Unit: length.In}
	n := parse(t, s.SVG())
	heavy := n.all("heavy")
	if len(heavy) != 2 { // the primary and the bar of the scale
		t.Fatalf("%d heavy lines", len(heavy))
	}
	primary, bar := places(t, heavy[0].attr("d")), places(t, heavy[1].attr("d"))
	var secondary [][2]float64
	for _, l := range n.all("dash") { // not measured
		secondary = places(t, l.attr("d"))
	}
	wear := places(t, n.one(t, "wear").attr("d"))
	arc := 0.0
	for i := range wear[1:] {
		arc += apart(wear[i], wear[i+1])
	}
	slope := func(p [][2]float64) float64 {
		return math.Atan2(p[1][1]-p[0][1], p[1][0]-p[0][0]) * 180 / math.Pi
	}
	near(t, "slope of the primary", slope(primary), 11.51, 0.05)
	near(t, "slope of the secondary", slope(secondary), 23.91, 0.05)
	perThou := apart(bar[0], bar[1]) / 20
	// A width lies along its facet in the section: square to the edge it is longer by hypot(cos a, sin a / cos L), 1.0211 here.
	near(t, "secondary, thou", apart(secondary[0], secondary[1])/perThou, 60*1.0211, 0.1)
	// The worn arc and what is left of the primary behind it: .010 of the circle, then to the heel.
	near(t, "wear, thou", arc/perThou, 10, 0.1)
	near(t, "the arc meets the primary", apart(wear[len(wear)-1], primary[0]), 0, 0.01)
	if text := n.words(); !strings.Contains(text, "0.02 in") {
		t.Fatalf("the scale says: %s", text)
	}
	s.Wear = nil
	sharp := places(t, parse(t, s.SVG()).all("heavy")[0].attr("d"))
	near(t, "primary, thou", apart(sharp[0], sharp[1])/perThou, 20, 0.2)
}

func TestSectionOfWhatIsNoLand(t *testing.T) {
	if got := (Section{Primary: 80 * length.Thou, Land: 20 * length.Thou}).SVG(); got != "" {
		t.Errorf("a primary wider than its land draws %s", got)
	}
}

func TestChart(t *testing.T) {
	c := Chart{Decimals: 4, Least: ptr(0.0), Tolerance: []Level{{0.0005, "limit"}}, Process: &[2]float64{-0.0002, 0.0004},
		Points: []Point{{Value: 0.0001, At: "1 Oct"}, {Value: 0.0007, At: "2 Oct", Mark: &mark.Reject, Name: "EM-0390"}, {Value: 0.0003, At: "3 Oct", Ringed: true}}}
	n := parse(t, c.SVG())
	dots := n.all("solid")
	if len(dots) != 2 {
		t.Fatalf("%d dots, want 2 beside the rejected one", len(dots))
	}
	limit := places(t, n.one(t, "limit").attr("d"))[0][1]
	rejected := places(t, n.one(t, "halo-mark").attr("transform"))[0][1] + 7
	low, high := dots[0].number(t, "cy"), dots[1].number(t, "cy")
	// 0.0001 and 0.0003 lie 0.0004 and 0.0002 under the limit, 0.0007 lies 0.0002 over it.
	near(t, "limit over the third point", (low-high)/(high-limit), 1, 0.01)
	near(t, "rejected point over the limit", (limit-rejected)/(high-limit), 1, 0.01)
	if got := len(n.all("dot")); got != 1 {
		t.Errorf("%d limits of what is usual are drawn; the one under nought is none", got)
	}
	if text := n.words(); !strings.Contains(text, "1 Oct") || !strings.Contains(text, "3 Oct") || !strings.Contains(text, "EM-0390") || strings.Contains(text, "-0.0") {
		t.Errorf("the chart says: %s", text)
	}
	if got := (Chart{Points: c.Points[:1]}).SVG(); got != "" {
		t.Error("one value makes a chart")
	}
}

// From 0.482 after four regrinds the wedge meets the smallest useful diameter five to eight regrinds on.
func TestLife(t *testing.T) {
	l := Life{Unit: length.In, Smallest: ptr(450 * length.Thou), SmallestName: "smallest", Left: &[2]int{5, 8},
		Points: []LifePoint{{0, 500 * length.Thou}, {2, 491 * length.Thou}, {4, 482 * length.Thou}}}
	n := parse(t, l.SVG())
	dots, wedge := n.all("solid"), places(t, n.one(t, "band").attr("d"))
	step := (dots[2].number(t, "cx") - dots[0].number(t, "cx")) / 4
	near(t, "wedge from", wedge[0][0], dots[2].number(t, "cx"), 0.02)
	near(t, "least regrinds", (wedge[1][0]-wedge[0][0])/step, 5, 0.02)
	near(t, "most regrinds", (wedge[2][0]-wedge[0][0])/step, 8, 0.02)
	near(t, "smallest", wedge[1][1], places(t, n.one(t, "limit").attr("d"))[0][1], 0.02)
	if got := (Life{}).SVG(); got != "" {
		t.Error("nothing read makes a life")
	}
}

// Capacities at level H, alphanumeric: 10 characters in 21 modules, 20 in 25, 64 in 37 (ISO/IEC 18004, the table of
// capacities, from memory). Four modules stay white on every side.
func TestSymbol(t *testing.T) {
	for text, modules := range map[string]int{"T.EM-0412": 21, "T.EM-0412X": 21, "T.EM-0412XX": 25, "T." + strings.Repeat("A", 18): 25, "T." + strings.Repeat("A", 60): 37} {
		svg, wide, err := Symbol(text, 0.8, 100)
		if err != nil {
			t.Fatal(err)
		}
		near(t, text+", mm", wide, 0.8*float64(modules+8), 1e-9)
		if want := mark.HTML(fmt.Sprintf(`viewBox="0 0 %d %[1]d"`, modules+8)); !strings.Contains(string(svg), string(want)) {
			t.Errorf("%s: not %s", text, want)
		}
		// The corner of the finder pattern is a row of seven, four in and four down.
		if !strings.Contains(string(svg), `d="M4 4h7v1h-7z`) {
			t.Errorf("%s: no finder pattern four modules from the corner", text)
		}
	}
	if _, wide, _ := Symbol("T.EM-0412", 0.8, 20); wide != 20 {
		t.Errorf("it is %v mm wide where there are 20", wide)
	}
	for _, bad := range []string{"T.\u05db\u05e8\u05e1", "T.EM 1", "T.\x07", strings.Repeat("A", 3000)} {
		if _, _, err := Symbol(bad, 0.8, 20); err == nil {
			t.Errorf("a symbol of %.20q", bad)
		}
	}
}

// A bar is as high as its share, and solid when it is over the limit in force, which need not be the half.
func TestShares(t *testing.T) {
	n := parse(t, Shares{Values: []*float64{ptr(0.2), nil, ptr(0.4)}, Most: 0.3, AimLeast: 0.15, AimMost: 0.25, Worst: 3}.SVG())
	bars := n.all("bar")
	if len(bars) != 2 || bars[0].attr("class") != "bar" || bars[1].attr("class") != "bar solid" {
		t.Fatalf("bars: %v", bars)
	}
	high := func(b node) float64 { p := places(t, b.attr("d")); return p[0][1] - p[1][1] }
	near(t, "share of flute 3 beside flute 1", high(bars[1])/high(bars[0]), 2, 0.01)
	limit := places(t, n.one(t, "dash").attr("d"))[0][1]
	p := places(t, bars[0].attr("d"))
	near(t, "limit", (p[0][1]-limit)/high(bars[0]), 1.5, 0.01)
}

// The last point of a life is where the tool stands now; a name that would lie on another point goes under its own.
func TestNowAndNames(t *testing.T) {
	life := string(Life{Unit: length.In, Points: []LifePoint{{0, 500 * length.Thou}, {1, 490 * length.Thou}}}.SVG())
	if strings.Count(life, mark.Now.Shape()) != 1 || !strings.Contains(life, ">now<") {
		t.Errorf("no mark of now: %s", life)
	}
	at := func(first float64) int { // the height of the name, beside a first point of some height; downwards
		points := make([]Point, 20)
		points[19].Value, points[9].Value, points[10] = 10, first, Point{Value: 3, Name: "EM-1"}
		svg := string(Chart{Decimals: 1, Points: points}.SVG())
		m := regexp.MustCompile(`y="([0-9.]+)"[^>]*>EM-1<`).FindStringSubmatch(svg)
		if m == nil {
			t.Fatalf("no name: %s", svg)
		}
		y, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		return int(y)
	}
	if over, under := at(9), at(4); under <= over {
		t.Errorf("the name lies at %d, and on another point at %d", over, under)
	}
}

// The name of a limit lies where no point does: over the line at its end, and at its beginning where a point over the limit
// is near the end.
func TestLimitIsNamedBesideThePoints(t *testing.T) {
	for at, want := range map[int]string{0: "end", 19: "start"} {
		c := Chart{Decimals: 4, Least: ptr(0.0), Tolerance: []Level{{0.0005, "limit 0.0005"}}}
		for i := range 20 {
			p := Point{Value: 0.0002, At: "1 Oct"}
			if i == at {
				p.Value = 0.00055
			}
			c.Points = append(c.Points, p)
		}
		if svg := string(c.SVG()); !strings.Contains(svg, `text-anchor="`+want+`">limit 0.0005<`) {
			t.Errorf("point %d of 20 over the limit: the limit's name does not begin at its %s: %s", at+1, want, svg)
		}
	}
}
