package draw

import (
	"math"
	"slices"
	"strconv"

	"flutelog/inspect/length"
	"flutelog/inspect/mark"
)

// Chart is values in the order in which they came, with the tolerance that they are held to and, shaded, where those of
// this bench fall.
type Chart struct {
	Name      string // for those who do not see it
	Decimals  int    // of the values as printed
	Points    []Point
	Tolerance []Level     // full lines
	Process   *[2]float64 // the limits of what is usual, lower and upper
	Centre    *float64
	Least     *float64 // that a value can be at all: 0 of a run-out; limits under it are not drawn
	Wide      bool     // for paper and wide screens: the letters are smaller beside the chart
}

// Point is one value of a chart.
type Point struct {
	Value  float64
	At     string     // the day, for the axis
	Mark   *mark.Mark // what it is drawn as; nil is a dot
	Name   string     // written beside it; "" for none
	Ringed bool       // a signal
}

// Level is a line across a chart with its name.
type Level struct {
	Value float64
	Name  string
}

// frame is the axes of a chart.
type frame struct {
	left, right, top, bottom px
	least, most              float64
}

func (f frame) y(v float64) px {
	return f.bottom - (f.bottom-f.top)*px((v-f.least)/(f.most-f.least))
}

func newFrame(wide bool) (f frame, across, high px) {
	if wide {
		return frame{left: 66, right: 626, top: 16, bottom: 206}, 640, 236
	}
	return frame{left: 76, right: 330, top: 18, bottom: 160}, width, 192
}

func wide(class string, is bool) string {
	if is {
		return class + " wide"
	}
	return class
}

// span widens the axis to hold all values, never to nothing.
func (f *frame) span(least *float64, values ...float64) {
	f.least, f.most = slices.Min(values), slices.Max(values)
	room := 0.08 * (f.most - f.least)
	if room == 0 {
		room = max(math.Abs(f.most)/10, 1e-9)
	}
	f.most += room
	if f.least -= room; least != nil {
		f.least = max(f.least, *least)
	}
}

// axes draws both axes, and round numbers at the upright one.
func (f frame) axes(s *svg, number func(float64) string) {
	s.path("line", path(point{f.left, f.top - 8}, point{f.left, f.bottom}, point{f.right, f.bottom}))
	step := roundUp((f.most - f.least) / 5)
	for k := math.Ceil(f.least/step - 1e-9); k*step <= f.most; k++ {
		y := f.y(k * step)
		s.path("fine", path(point{f.left - 5, y}, point{f.left, y}))
		s.text("small", "end", point{f.left - 8, y + 4}, number(k*step+0)) // never minus nought
	}
}

// letter is about how wide a letter of a name is, in px, in the widest usual face.
const letter = 10

// SVG draws the chart; "" for fewer than two values, of which a sentence says more.
func (c Chart) SVG() mark.HTML {
	if len(c.Points) < 2 {
		return ""
	}
	f, across, high := newFrame(c.Wide)
	var all []float64
	for _, p := range c.Points {
		all = append(all, p.Value)
	}
	for _, l := range c.Tolerance {
		all = append(all, l.Value)
	}
	if c.Process != nil {
		all = append(all, c.Process[0], c.Process[1])
	}
	f.span(c.Least, all...)
	s := newSVG(wide("chart", c.Wide), across, high, c.Name)
	if c.Process != nil {
		upper, lower := f.y(c.Process[1]), f.y(max(c.Process[0], f.least))
		s.path("band", path(point{f.left, upper}, point{f.right, upper}, point{f.right, lower}, point{f.left, lower})+"Z")
		s.path("dot", path(point{f.left, upper}, point{f.right, upper}))
		if c.Process[0] > f.least {
			s.path("dot", path(point{f.left, lower}, point{f.right, lower}))
		}
	}
	if c.Centre != nil {
		s.path("fine", path(point{f.left, f.y(*c.Centre)}, point{f.right, f.y(*c.Centre)}))
	}
	f.axes(s, func(v float64) string { return strconv.FormatFloat(v, 'f', c.Decimals, 64) })
	step := (f.right - f.left - 16) / px(len(c.Points)-1)
	at := func(i int) px { return f.left + 8 + step*px(i) }
	for _, l := range c.Tolerance {
		y := f.y(l.Value)
		s.path("line limit", path(point{f.left, y}, point{f.right, y}))
		wide := px(len(l.Name)) * letter
		crossed := func(left, baseline px) bool { // a point, or its name over it, lies where the limit's name would
			for i, p := range c.Points {
				up := px(8)
				if p.Name != "" {
					up = 30
				}
				if x, py := at(i), f.y(p.Value); x > left-8 && x < left+wide+8 && py-up < baseline && py+8 > baseline-14 {
					return true
				}
			}
			return false
		}
		anchor, name := "end", point{f.right, y - 5}
		switch {
		case !crossed(f.right-wide, y-5):
		case !crossed(f.left+4, y-5):
			anchor, name = "start", point{f.left + 4, y - 5}
		case y+20 < f.bottom && !crossed(f.right-wide, y+16):
			name = point{f.right, y + 16}
		}
		s.text("small strong halo", anchor, name, l.Name)
	}
	named := px(math.Inf(-1)) // where the last name ends: of two that would lie over each other the first is written
	for i, p := range c.Points {
		if half := px(len(p.Name)) * letter / 2; at(i)-half > named {
			if p.Name == "" {
				continue
			}
			y := f.y(p.Value)
			covers := func(up px) bool { // the name, so far over the point, another point
				for k, o := range c.Points {
					if k != i && math.Abs(float64(at(k)-at(i))) < float64(2*half) && math.Abs(float64(f.y(o.Value)-(y-up))) < 14 {
						return true
					}
				}
				return false
			}
			if up := px(16); covers(up) && !covers(-up) && y+2*up < f.bottom {
				y += 2*up + 2
			}
			p.name(s, point{at(i), y}, f)
			named = at(i) + half
		}
	}
	for i, p := range c.Points {
		p.draw(s, point{at(i), f.y(p.Value)})
	}
	labels := 3
	if c.Wide {
		labels = 6
	}
	for i := range labels {
		k := (len(c.Points) - 1) * i / (labels - 1)
		if i > 0 && k == (len(c.Points)-1)*(i-1)/(labels-1) {
			continue
		}
		anchor := "middle"
		switch k {
		case 0:
			anchor = "start"
		case len(c.Points) - 1:
			anchor = "end"
		}
		s.path("fine", path(point{at(k), f.bottom}, point{at(k), f.bottom + 5}))
		s.text("small", anchor, point{at(k), f.bottom + 20}, c.Points[k].At)
	}
	return s.done()
}

func (p Point) draw(s *svg, at point) {
	if p.Mark != nil {
		s.shape("halo-mark", p.Mark.Shape(), at, 14)
	} else {
		s.circle("solid", at, 3.4)
	}
	if p.Ringed {
		s.circle("ring signal", at, 8)
	}
}

func (p Point) name(s *svg, at point, f frame) {
	anchor := "middle"
	switch {
	case at.x < f.left+50:
		anchor = "start"
	case at.x > f.right-50:
		anchor = "end"
	}
	s.text("small strong", anchor, point{at.x, at.y - 12}, p.Name)
}

// Life is the diameter of one tool from grind to grind, and how far it can still go.
type Life struct {
	Name         string // for those who do not see it
	Unit         length.Unit
	Points       []LifePoint
	Smallest     *length.Length // the smallest useful diameter
	Left         *[2]int        // regrinds from the last point to the smallest, least and most
	SmallestName string         // written at its line
	Wide         bool
}

// LifePoint is a diameter that was read after so many regrinds.
type LifePoint struct {
	Regrind  int
	Diameter length.Length
}

// SVG draws the life, "" where nothing was read of it.
func (l Life) SVG() mark.HTML {
	if len(l.Points) == 0 {
		return ""
	}
	f, across, high := newFrame(l.Wide)
	in := func(d length.Length) float64 {
		if l.Unit.Metric() {
			return d.Micrometres() / 1000
		}
		return d.Micrometres() / 25400
	}
	last := l.Points[len(l.Points)-1]
	end := last.Regrind + 1
	var all []float64
	for _, p := range l.Points {
		all = append(all, in(p.Diameter))
	}
	wedge := l.Smallest != nil && l.Left != nil && last.Diameter > *l.Smallest
	if l.Smallest != nil {
		all = append(all, in(*l.Smallest))
	}
	if wedge {
		end = max(end, last.Regrind+l.Left[1]+1)
	}
	f.span(nil, all...)
	x := func(regrind float64) px {
		return f.left + 8 + (f.right-f.left-16)*px(regrind/float64(end))
	}
	s := newSVG(wide("life", l.Wide), across, high, l.Name)
	if wedge {
		from := point{x(float64(last.Regrind)), f.y(in(last.Diameter))}
		least := point{x(float64(last.Regrind + l.Left[0])), f.y(in(*l.Smallest))}
		most := point{x(float64(last.Regrind + l.Left[1])), least.y}
		s.path("band", path(from, least, most)+"Z")
		s.path("dot", path(least, from, most))
	}
	decimals := 3
	if l.Unit.Metric() {
		decimals = 2
	}
	f.axes(s, func(v float64) string { return strconv.FormatFloat(v, 'f', decimals, 64) })
	if l.Smallest != nil {
		y := f.y(in(*l.Smallest))
		s.path("dash limit", path(point{f.left, y}, point{f.right, y}))
		s.text("small strong halo", "start", point{f.left + 8, y - 5}, l.SmallestName)
	}
	var line []point
	for _, p := range l.Points {
		line = append(line, point{x(float64(p.Regrind)), f.y(in(p.Diameter))})
	}
	s.path("line", path(line...))
	for _, p := range line {
		s.circle("solid", p, 3.4)
	}
	now := line[len(line)-1]
	const room = 44 // for the mark with its word
	if now.x+room > f.right {
		now.x -= room
	}
	s.shape("halo-mark", mark.Now.Shape(), point{now.x + 10, now.y - 16}, 10)
	s.text("small strong halo", "start", point{now.x + 18, now.y - 12}, "now")
	step := max(1, int(roundUp(float64(end)/8)))
	for k := 0; k <= end; k += step {
		s.path("fine", path(point{x(float64(k)), f.bottom}, point{x(float64(k)), f.bottom + 5}))
		s.text("small", "middle", point{x(float64(k)), f.bottom + 20}, strconv.Itoa(k))
	}
	return s.done()
}
