package draw

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"flutelog/inspect/length"
)

// The flute that is read stands under the contact, whatever flute it is, of tools that cut either way and of teeth that are
// not equally spaced: turned by as much as the drawing says, its edge is at twelve o'clock.
func TestHeldTurnsToTheFlute(t *testing.T) {
	for _, e := range []End{
		{Texts: make([]string, 4)}, {Texts: make([]string, 4), LeftCut: true}, {Texts: make([]string, 12)},
		{Texts: make([]string, 3), Angles: []length.Angle{0, 100 * length.Degree, 230 * length.Degree}},
	} {
		for flute := 1; flute <= len(e.Texts); flute++ {
			n := parse(t, Held{End: e, Now: flute, Reads: ReadsHeight}.SVG())
			edge := places(t, n.one(t, "heavy").attr("d"))[0]
			turned := n.one(t, "turn").number(t, "data-turn") * math.Pi / 180
			x, y := edge[0]-heldWide/2, edge[1]-160
			near(t, "edge of flute "+strconv.Itoa(flute)+", x", x*math.Cos(turned)-y*math.Sin(turned), 0, 0.05)
			near(t, "edge of flute "+strconv.Itoa(flute)+", y", x*math.Sin(turned)+y*math.Cos(turned), -heldRadius, 0.05)
		}
	}
}

// Teeth that lead to their readings are links with a name; no two discs lie over each other, with up to twelve flutes.
func TestHeldTeethAreApart(t *testing.T) {
	for n := 1; n <= 12; n++ {
		for now := 1; now <= n; now++ {
			h := Held{End: End{Texts: make([]string, n)}, Now: now, Reads: ReadsHeight}
			for range n {
				h.Links = append(h.Links, Link{"/again", "read it again"})
			}
			drawn := parse(t, h.SVG())
			discs := drawn.all("disc")
			if len(discs) != n || strings.Count(string(h.SVG()), `aria-label="read it again"`) != n {
				t.Fatalf("%d discs of %d flutes", len(discs), n)
			}
			for i, a := range discs {
				for _, b := range discs[:i] {
					between := math.Hypot(a.number(t, "cx")-b.number(t, "cx"), a.number(t, "cy")-b.number(t, "cy"))
					if between < 2*a.number(t, "r") {
						t.Errorf("%d flutes, flute %d read: two discs are %.0f apart", n, now, between)
					}
				}
			}
		}
	}
}

// A tool of right-hand cut turns counterclockwise to cut, as it is seen from its end; backwards is the other way.
func TestHeldArrow(t *testing.T) {
	for _, test := range []struct {
		left bool
		turn Turn
		want string // the sweep of the arc: 1 is clockwise on the screen (SVG 2, 9.3.8)
	}{{false, TurnBackward, "1"}, {false, TurnCutting, "0"}, {true, TurnBackward, "0"}, {true, TurnCutting, "1"}} {
		h := Held{End: End{Texts: make([]string, 4), LeftCut: test.left}, Now: 1, Reads: ReadsHeight, Turn: test.turn}
		_, arc, _ := strings.Cut(string(h.SVG()), "A30 30 0 1 ")
		if got := arc[:1]; got != test.want {
			t.Errorf("%+v: sweep %s", test, got)
		}
	}
}
