package draw

import (
	"math"
	"slices"
	"strconv"

	"flutelog/inspect/length"
	"flutelog/inspect/mark"
)

// End is a tool seen from its end, with what was read of each flute beside it. Which flute decided is ringed.
type End struct {
	Name     string          // for those who do not see it
	Texts    []string        // what is printed beside each flute, flute 1 first; "" is not read
	Heights  []length.Length // as read, flute 1 first; nil where it is not heights that were read
	Diameter length.Length   // of the tool; 0 is not known
	Limit    *length.Length  // the most that the heights may differ; nil draws none
	Angles   []length.Angle  // of the flutes from flute 1, where they are not equally spaced
	LeftCut  bool            // flutes then run counterclockwise
	Worst    []int           // the flutes that decided
}

// Sizes of the end view.
const (
	endHigh    = 232
	endRadius  = 52 // of the edges
	discRadius = 80 // where the discs with the numbers stand
	disc       = 13
	endRelief  = 11 // the most that heights are drawn apart
)

// Exaggeration returns how many times larger than the tool its heights are drawn: a round number, 0 where there is
// nothing to draw.
func (e End) Exaggeration() float64 {
	if len(e.Heights) == 0 || e.Diameter <= 0 {
		return 0
	}
	apart := slices.Max(e.Heights) - slices.Min(e.Heights)
	if e.Limit != nil {
		apart = max(apart, *e.Limit)
	}
	if apart == 0 {
		return 0
	}
	pxPerMicron := endRadius / (e.Diameter.Micrometres() / 2)
	return max(1, roundDown(endRelief/(apart.Micrometres()*pxPerMicron)))
}

// SVG draws it. The edges stand where their heights put them, apart by Exaggeration; dotted is the circle of the lowest,
// dashed the most that the highest may stand at.
func (e End) SVG() mark.HTML {
	s := newSVG("end", width, endHigh, e.Name)
	centre := point{width / 2, endHigh / 2}
	perMicron := 0.0 // px
	if x := e.Exaggeration(); x > 0 {
		perMicron = x * endRadius / (e.Diameter.Micrometres() / 2)
	}
	radius := func(i int) float64 {
		if perMicron == 0 {
			return endRadius
		}
		return endRadius + perMicron*(e.Heights[i]-slices.Min(e.Heights)).Micrometres()
	}
	s.path("body", e.body(centre, radius))
	s.circle("dot", centre, endRadius)
	if e.Limit != nil && perMicron > 0 {
		s.circle("dash", centre, px(endRadius+perMicron*e.Limit.Micrometres()))
	}
	s.path("fine", path(point{centre.x - 6, centre.y}, point{centre.x + 6, centre.y})+path(point{centre.x, centre.y - 6}, point{centre.x, centre.y + 6}))
	for i, text := range e.Texts {
		a := e.angle(i)
		at := centre.polar(discRadius, a)
		worst := slices.Contains(e.Worst, i+1)
		class, value := "ring", "small"
		if worst {
			class, value = "worst", "small strong"
		}
		if text == "" {
			class, text = "open", "\u2013"
		}
		s.circle(class, at, disc)
		s.text("num", "middle", point{at.x, at.y + 5}, strconv.Itoa(i+1))
		anchor, beside := beside(at, a)
		s.text(value, anchor, beside, text)
	}
	return s.done()
}

// beside returns where the text of a disc stands: outside of it, clear of its neighbours with up to twelve flutes.
func beside(disk point, angle float64) (anchor string, at point) {
	side, up := math.Sin(angle), math.Cos(angle)
	if math.Abs(side) >= 0.3 {
		if side > 0 {
			return "start", point{disk.x + disc + 4, disk.y + 4}
		}
		return "end", point{disk.x - disc - 4, disk.y + 4}
	}
	y := disk.y + disc + 14
	if up > 0 {
		y = disk.y - disc - 6
	}
	switch {
	case side > 0.02:
		return "start", point{disk.x - 8, y}
	case side < -0.02:
		return "end", point{disk.x + 8, y}
	}
	return "middle", point{disk.x, y}
}

// angle returns where a flute stands, clockwise from twelve o'clock as the tool is seen from its end.
func (e End) angle(i int) float64 {
	a := 2 * math.Pi * float64(i) / float64(len(e.Texts))
	if len(e.Angles) == len(e.Texts) {
		a = e.Angles[i].Radians()
	}
	if e.LeftCut {
		return -a
	}
	return a
}

// body is the outline: for each tooth its land behind the edge, the flute, and the face of the next tooth. A tool of
// right-hand cut turns counterclockwise as it is seen from its end, so that the land lies clockwise of the edge.
func (e End) body(centre point, radius func(int) float64) string {
	n := len(e.Texts)
	root := 0.52 + 0.014*float64(n) // of the radius: more flutes are shallower
	d := ""
	for i := range n {
		next := (i + 1) % n
		from := e.angle(i)
		pitch := math.Remainder(e.angle(next)-from, 2*math.Pi)
		switch {
		case n == 1:
			pitch = 2 * math.Pi
			if e.LeftCut {
				pitch = -pitch
			}
		case e.LeftCut && pitch > 0:
			pitch -= 2 * math.Pi
		case !e.LeftCut && pitch < 0:
			pitch += 2 * math.Pi
		}
		r := radius(i)
		at := func(share, of float64) point { return centre.polar(of*r, from+share*pitch) }
		lead := "L"
		if i == 0 {
			lead = "M"
		}
		d += lead + at(0, 1).String() + "L" + at(0.1, 0.985).String() + "L" + at(0.3, 0.9).String()
		if n <= 2 {
			d += "L" + at(0.38, 0.72).String()
		}
		d += "C" + at(0.42, root+0.1).String() + " " + at(0.6, root-0.03).String() + " " + at(0.8, root).String()
		d += "Q" + at(0.94, root).String() + " " + centre.polar(0.75*radius(next), from+0.97*pitch).String()
	}
	return d + "Z"
}
