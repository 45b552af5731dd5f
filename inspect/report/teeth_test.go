package report

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

var exaggeration = regexp.MustCompile(`heights drawn at ([0-9.]+) times`)

// plot is a polar plot read back.
type plot struct {
	node
	centre [2]float64
	scale  float64 // millimetres of height to a px, from the radius of the ring and the words of the drawing
	ring   float64 // radius through the lowest flute, px
}

func readPlot(t *testing.T, in Teeth) plot {
	t.Helper()
	n := parse(t, in.Draw())
	ring := n.one(t, "lowest")
	p := plot{node: n, centre: [2]float64{ring.number(t, "cx"), ring.number(t, "cy")}, ring: ring.number(t, "r")}
	if m := exaggeration.FindStringSubmatch(n.words()); m != nil {
		p.scale = in.Diameter.Micrometres() / 2000 / p.ring / float(t, m[1])
	}
	return p
}

// tip returns where the tip of a flute is drawn: angle clockwise from the top in degrees, and distance from
// the centre in px.
func (p plot) tip(t *testing.T, tooth node) (degrees, radius float64) {
	t.Helper()
	at := places(t, tooth.one(t, "tip").attr("transform"))[0]
	x, y := at[0]-p.centre[0], p.centre[1]-at[1]
	return math.Mod(math.Atan2(x, y)*180/math.Pi+360, 360), math.Hypot(x, y)
}

func TestTeethStandWhereTheirNumbersSay(t *testing.T) {
	for n := 2; n <= 12; n++ {
		for _, limit := range []*length.Length{nil, at(3 * length.Tenth)} {
			t.Run(fmt.Sprintf("%d flutes, limit %v", n, limit), func(t *testing.T) {
				in := Teeth{Title: "invented", Diameter: length.Inch / 2, Heights: pointers(inventedHeights[:n]), Limit: limit, Unit: length.Mm}
				p := readPlot(t, in)
				teeth := p.all("tooth")
				if len(teeth) != n {
					t.Fatalf("%d teeth, want %d", len(teeth), n)
				}
				lowest := 0.0
				for i, tooth := range teeth {
					degrees, radius := p.tip(t, tooth)
					near(t, fmt.Sprintf("angle of flute %d", i+1), degrees, 360*float64(i)/float64(n), 0.02)
					shown := float(t, tooth.one(t, "value").Text)
					near(t, fmt.Sprintf("height of flute %d", i+1), (radius-p.ring)*p.scale, shown, 0.02*p.scale+0.00005)
					if tooth.one(t, "number").Text != fmt.Sprint(i+1) {
						t.Errorf("tooth %d is named %q", i+1, tooth.one(t, "number").Text)
					}
					diamond := tooth.one(t, "tip").XMLName.Local == "rect"
					if over := limit != nil && shown > limit.Micrometres()/1000; diamond != over {
						t.Errorf("flute %d at %v: diamond %v, want %v", i+1, shown, diamond, over)
					}
					lowest = max(lowest, shown)
				}
				near(t, "TIR shown against the highest flute", float(t, regexp.MustCompile(`TIR ([0-9.]+) mm`).FindStringSubmatch(p.words())[1]), lowest, 1e-9)
				if limit != nil {
					near(t, "limit ring", (p.one(t, "limit").number(t, "r")-p.ring)*p.scale, limit.Micrometres()/1000, 0.02*p.scale)
				} else if len(p.all("limit")) > 0 {
					t.Error("a limit ring without a limit")
				}
			})
		}
	}
}

// Heights built from an offset alone, h = e cos(t - d), lie on the fitted circle whatever fits it, and the
// arrow points at d.
func TestTeethOfAnOffsetLieOnTheFittedCircle(t *testing.T) {
	const offset, direction = 5.0, 110.0 // micrometres, degrees
	angles := []length.Angle{0, 80 * length.Degree, 190 * length.Degree, 275 * length.Degree}
	var hs []length.Length
	for _, a := range angles {
		hs = append(hs, length.Length(math.Round(offset*1e6*math.Cos((a.Degrees()-direction)*math.Pi/180))))
	}
	p := readPlot(t, Teeth{Title: "invented", Diameter: 10 * length.Millimetre, Heights: pointers(hs), Angles: angles, Unit: length.Um})
	curve := places(t, p.one(t, "fit").attr("d"))
	for i, tooth := range p.all("tooth") {
		degrees, _ := p.tip(t, tooth)
		near(t, fmt.Sprintf("angle of flute %d", i+1), degrees, angles[i].Degrees(), 0.02)
		tip := places(t, tooth.one(t, "tip").attr("transform"))[0]
		nearest := math.Inf(1)
		for k := range curve {
			nearest = min(nearest, toLine(tip, curve[k], curve[(k+1)%len(curve)]))
		}
		near(t, fmt.Sprintf("flute %d to the fitted circle, px", i+1), nearest, 0, 0.08)
	}
	arrow := places(t, p.one(t, "arrow").attr("d"))
	got := math.Atan2(arrow[1][0]-p.centre[0], p.centre[1]-arrow[1][1]) * 180 / math.Pi
	near(t, "arrow", got, direction, 0.1)
	if want := "concentricity (twice offset) 10.0 um, high at 110"; !strings.Contains(p.words(), want) {
		t.Errorf("want %q in %s", want, p.words())
	}
}

// toLine is the distance of a place from a piece of a line.
func toLine(p, a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	share := min(1, max(0, ((p[0]-a[0])*dx+(p[1]-a[1])*dy)/(dx*dx+dy*dy)))
	return apart(p, [2]float64{a[0] + share*dx, a[1] + share*dy})
}

func TestTeethAsReadingsArrive(t *testing.T) {
	heights := []*length.Length{at(2 * length.Micrometre), nil, at(0), nil, nil}
	p := readPlot(t, Teeth{Title: "invented", Diameter: 10 * length.Millimetre, Heights: heights, Limit: at(13 * length.Micrometre), Unit: length.Mm})
	for i, tooth := range p.all("tooth") {
		read := heights[i] != nil
		if got := len(tooth.all("tip")); (got == 1) != read {
			t.Errorf("flute %d: %d tips, read %v", i+1, got, read)
		}
		if got := len(tooth.all("hollow")); (got == 1) == read {
			t.Errorf("flute %d: %d hollow shapes, read %v", i+1, got, read)
		}
		if got := tooth.one(t, "value").Text == "not read"; got == read {
			t.Errorf("flute %d: %q, read %v", i+1, tooth.one(t, "value").Text, read)
		}
	}
	if len(p.all("fit")) > 0 || len(p.all("arrow")) > 0 {
		t.Error("a fitted circle before all flutes are read")
	}
	if !strings.Contains(p.words(), "2 of 5 flutes read, TIR so far 0.0020 mm") {
		t.Errorf("what is missing is not said: %s", p.words())
	}
}

func TestTeethWithNothingToDraw(t *testing.T) {
	none := parse(t, Teeth{Title: "invented", Diameter: length.Inch, Heights: make([]*length.Length, 4), Unit: length.In}.Draw())
	if got := len(none.all("lowest")); got != 0 {
		t.Errorf("%d rings without a reading", got)
	}
	level := pointers(heights(1, 1, 1, 1))
	p := readPlot(t, Teeth{Title: "invented", Diameter: length.Inch, Heights: level, Unit: length.In})
	for i, tooth := range p.all("tooth") {
		_, radius := p.tip(t, tooth)
		near(t, fmt.Sprintf("flute %d", i+1), radius, p.ring, 0.02)
	}
	if exaggeration.MatchString(p.words()) {
		t.Error("an exaggeration of nothing is stated")
	}
	if len(p.all("arrow")) > 0 {
		t.Error("an arrow without an offset")
	}
}

func TestTeethSayInWordsWhatTheyShow(t *testing.T) {
	n := parse(t, Teeth{Title: "invented <run-out>", Diameter: length.Inch / 2, Heights: pointers(inventedHeights[:3]), Limit: at(5 * length.Tenth), Unit: length.In}.Draw())
	if n.attr("role") != "img" || n.Children[0].XMLName.Local != "title" || n.Children[0].Text != "invented <run-out>" || n.Children[1].XMLName.Local != "desc" {
		t.Fatalf("not an image with title and desc: %+v", n)
	}
	for i, want := range []string{"flute 1 0.00017", "flute 2 0.00041", "flute 3 0.00000"} {
		if !strings.Contains(n.Children[1].Text, want) {
			t.Errorf("flute %d: want %q in %q", i+1, want, n.Children[1].Text)
		}
	}
	if tir := geometry.TIR(inventedHeights[:3]); !strings.Contains(n.Children[1].Text, "TIR "+tir.In(length.In)) {
		t.Errorf("no TIR in %q", n.Children[1].Text)
	}
}
