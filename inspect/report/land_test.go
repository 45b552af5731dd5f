package report

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// section is a land in section read back.
type section struct {
	node
	scale            float64 // millimetres to a px, from the scale bar
	edge, heel, back [2]float64
}

func readSection(t *testing.T, in LandSection) section {
	t.Helper()
	s := section{node: parse(t, in.Draw())}
	bar := s.one(t, "scale")
	ends := places(t, bar.Children[0].attr("d"))
	number, unit, _ := strings.Cut(bar.Children[1].Text, " ")
	size, err := length.Parse(number, length.Unit(unit))
	if err != nil {
		t.Fatal(err)
	}
	s.scale = size.Micrometres() / 1000 / apart(ends[0], ends[1])
	first, second := places(t, s.one(t, "primary").attr("d")), places(t, s.one(t, "secondary").attr("d"))
	s.edge, s.heel, s.back = first[0], first[1], second[1]
	if second[0] != s.heel {
		t.Errorf("the secondary begins at %v, the primary ends at %v", second[0], s.heel)
	}
	return s
}

func slope(a, b [2]float64) float64 { return math.Atan2(b[1]-a[1], b[0]-a[0]) * 180 / math.Pi }

func degreesOf(d float64) *length.Angle {
	a := length.Angle(d * float64(length.Degree))
	return &a
}

func TestLandSectionIsToScale(t *testing.T) {
	for _, tt := range []struct {
		name                 string
		diameter             length.Length
		primary, land        length.Length
		first, second, helix float64
		unit                 length.Unit
	}{
		{"half inch, over the half", length.Inch / 2, 20 * length.Thou, 35 * length.Thou, 9, 18, 0, length.In},
		{"quarter of the land", length.Inch / 2, 12 * length.Thou, 48 * length.Thou, 8, 16, 0, length.Mm},
		{"small", length.Inch / 16, 4 * length.Thou, 12 * length.Thou, 15, 25, 0, length.Mm},
		{"helix", 20 * length.Millimetre, 500 * length.Micrometre, 2 * length.Millimetre, 8, 17, 40, length.Mm},
		{"no secondary left", length.Inch, 30 * length.Thou, 30 * length.Thou, 7, 15, 0, length.In},
	} {
		t.Run(tt.name, func(t *testing.T) {
			land := LandSection{Title: "invented", Flute: 2, Diameter: tt.diameter, Helix: *degreesOf(tt.helix), Primary: tt.primary, Land: tt.land,
				PrimaryRelief: degreesOf(tt.first), SecondaryRelief: degreesOf(tt.second), Unit: tt.unit}
			s := readSection(t, land)
			wear := tt.primary / 3
			land.Wear = &wear
			mm := func(l length.Length) float64 { return l.Micrometres() / 1000 }
			within := 0.03 * s.scale
			// A width lies along its facet in the section; square to the edge it is longer by hypot(cos a, sin a / cos L).
			square := func(a float64) float64 {
				sin, cos := math.Sincos(a * math.Pi / 180)
				return math.Hypot(cos, sin/math.Cos(tt.helix*math.Pi/180))
			}
			near(t, "primary", apart(s.edge, s.heel)*s.scale, mm(tt.primary)*square(tt.first), within+0.001*mm(tt.primary))
			near(t, "secondary", apart(s.heel, s.back)*s.scale, mm(tt.land-tt.primary)*square(tt.second), within+0.001*mm(tt.land))
			worn := readSection(t, land)
			arc := places(t, worn.one(t, "wear").attr("d"))
			near(t, "wear", apart(arc[0], arc[len(arc)-1])*worn.scale, mm(wear), within+0.01*mm(wear))
			if gap := apart(arc[len(arc)-1], worn.edge); gap > 0.1 {
				t.Errorf("the worn arc ends %.2f px from what is left of the primary", gap)
			}

			// A plane square to the edge of a helix L lies at L to the section square to the axis: the drop
			// behind the edge is the same, the way to it shorter by cos L.
			cos := math.Cos(tt.helix * math.Pi / 180)
			normal := func(a float64) float64 { return math.Atan(math.Tan(a*math.Pi/180)/cos) * 180 / math.Pi }
			near(t, "primary relief", slope(s.edge, s.heel), normal(tt.first), 0.3)
			if tt.primary < tt.land {
				near(t, "secondary relief", slope(s.heel, s.back), normal(tt.second), 0.3)
			}
			// The cylinder cut square to the edge is an ellipse with half axes R and R/cos L, whose radius of
			// curvature at the edge is R/cos^2 L.
			radius := mm(tt.diameter) / 2 / (cos * cos) / s.scale
			for _, p := range places(t, s.one(t, "circle").attr("d")) {
				near(t, "cutting circle", apart(p, [2]float64{s.edge[0], s.edge[1] + radius}), radius, 0.03+0.001*radius)
			}
			for _, m := range []struct {
				class string
				share float64
			}{{"quarter", 0.25}, {"half", 0.5}} {
				at := places(t, s.one(t, m.class).Children[0].attr("d"))
				foot := [2]float64{at[1][0], at[1][1] - 6} // the tick ends 6 px under the land
				along := apart(s.edge, foot)
				if foot[0] > s.heel[0] {
					along = apart(s.edge, s.heel) + apart(s.heel, foot)
				}
				near(t, m.class, along*s.scale/mm(tt.land), m.share, 0.01)
			}
			if want := fmt.Sprintf("%.3f", float64(tt.primary)/float64(tt.land)); !strings.Contains(s.words(), want) {
				t.Errorf("want share %s in %s", want, s.words())
			}
			if strings.Contains(s.words(), "typical") {
				t.Error("known angles are called typical")
			}
		})
	}
}

func TestLandSectionSaysWhichAnglesAreTypical(t *testing.T) {
	for _, tt := range []struct {
		name          string
		first, second *length.Angle
		want          string
	}{
		{"none known", nil, nil, "relief 10.5° and 19.5° (typical, not known)"},
		{"primary known", degreesOf(8), nil, "relief 8.0° and 19.5° (secondary typical, not known)"},
		{"secondary known", nil, degreesOf(12), "relief 7.0° and 12.0° (primary typical, not known)"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			// For 1/2 inch the default limits are 9 to 12 and 17 to 22 degrees (sources beside them).
			n := parse(t, LandSection{Title: "invented", Flute: 1, Diameter: length.Inch / 2, Primary: 10 * length.Thou, Land: 40 * length.Thou,
				PrimaryRelief: tt.first, SecondaryRelief: tt.second, Unit: length.In}.Draw())
			if !strings.Contains(n.words(), tt.want) {
				t.Errorf("want %q in %s", tt.want, n.words())
			}
		})
	}
}

func ratio(primary, land length.Length) *geometry.Ratio {
	return &geometry.Ratio{Primary: primary, Land: land}
}

func TestLandBarsAreAsHighAsTheirShares(t *testing.T) {
	all := []*geometry.Ratio{ratio(10, 40), ratio(20, 40), ratio(200_000_001, 400_000_000), nil, ratio(40, 40)}
	n := parse(t, LandBars{Title: "invented", Ratios: all, Worst: 5, TargetLeast: inspect.Share{Num: 15, Den: 100}, TargetMost: inspect.Share{Num: 35, Den: 100}}.Draw())
	half := places(t, n.one(t, "half").attr("d"))[0][1]
	for i, b := range n.all("share") {
		r := all[i]
		if r == nil {
			if b.one(t, "value").Text != "–" || b.Children[0].XMLName.Local == "rect" {
				t.Errorf("flute %d was not read, and has a bar", i+1)
			}
			continue
		}
		rect := b.Children[0]
		foot := rect.number(t, "y") + rect.number(t, "height")
		share := 0.5 * rect.number(t, "height") / (foot - half)
		near(t, fmt.Sprintf("bar of flute %d", i+1), share, float64(r.Primary)/float64(r.Land), 0.001)
		near(t, fmt.Sprintf("number of flute %d", i+1), float(t, b.one(t, "value").Text), share, 0.006)
		if solid, over := rect.attr("class") == "solid", 2*r.Primary > r.Land; solid != over {
			t.Errorf("flute %d: solid %v, over the half %v", i+1, solid, over)
		}
		if strong := len(b.all("strong")) == 1; strong != (i == 4) {
			t.Errorf("flute %d: strong %v", i+1, strong)
		}
	}
	band := n.one(t, "band")
	foot := n.all("share")[0].Children[0].number(t, "y") + n.all("share")[0].Children[0].number(t, "height")
	perShare := (foot - half) / 0.5
	near(t, "top of the band aimed at", (foot-band.number(t, "y"))/perShare, 0.35, 0.001)
	near(t, "foot of the band aimed at", (foot-band.number(t, "y")-band.number(t, "height"))/perShare, 0.15, 0.001)
	if want := "flute 3 0.500, over the half"; !strings.Contains(n.Children[1].Text, want) {
		t.Errorf("want %q in %q", want, n.Children[1].Text)
	}
}
