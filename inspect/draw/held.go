package draw

import (
	"fmt"
	"html"
	"math"
	"strconv"

	"flutelog/inspect/mark"
)

// Held is a tool as it lies before whoever reads it: seen from its end and turned until the flute that is read is under what
// reads it, or that flute's land in section, with what is read of it marked. Teeth are links to their readings.
type Held struct {
	End            // as it is drawn elsewhere; its texts are what was read, "" of a flute that is not read yet
	Now     int    // the flute that is read; 0 for none
	Reads   Reads  // what
	Turn    Turn   // the way the tool is turned while it is read
	FromEnd string // how far from the tool's end, with its unit; "" where that is not told
	OnEnd   bool   // an end tooth is read
	Links   []Link // of the flutes, flute 1 first; nil for none
}

// Link leads from a tooth of the drawing to its reading.
type Link struct{ Href, Name string }

// Reads says what is read.
type Reads string

// What is read of a flute, or of the tool.
const (
	ReadsHeight        Reads = "height"
	ReadsPrimary       Reads = "primary"
	ReadsLand          Reads = "land"
	ReadsWear          Reads = "wear"
	ReadsDrop          Reads = "drop"
	ReadsSecondaryDrop Reads = "secondary drop"
	ReadsDiameter      Reads = "diameter"
)

// Turn is a way to turn a tool.
type Turn int

// The ways a tool is turned.
const (
	TurnNone     Turn = 0
	TurnBackward Turn = 1
	TurnCutting  Turn = -1
)

// Sizes of the view of a held tool.
const (
	heldWide, heldHigh = 390, 306
	heldRadius         = 92
)

// SVG draws it.
func (h Held) SVG() mark.HTML {
	s := newHeld(h.Name)
	switch h.Reads {
	case ReadsPrimary, ReadsLand, ReadsWear, ReadsDrop, ReadsSecondaryDrop:
		h.land(s)
	case ReadsDiameter:
		h.over(s)
	default:
		h.under(s)
	}
	return s.done()
}

func newHeld(name string) *svg {
	s := new(svg)
	fmt.Fprintf(s, `<svg class="drawing held" viewBox="0 0 %d %d" role="group" aria-label="%s" xmlns="http://www.w3.org/2000/svg">`, heldWide, heldHigh, html.EscapeString(name))
	return s
}

// section is the tool from its end, turned until a flute stands at a place, clockwise from twelve o'clock in degrees.
func (h Held) section(s *svg, centre point, radius float64, at float64) {
	turned := at
	if h.Now > 0 {
		turned -= h.angle(h.Now-1) * 180 / math.Pi
	}
	fmt.Fprintf(s, `<g class="turn" data-turn="%s" transform="rotate(%s %v)">`, px(turned), px(turned), centre)
	flat := h.End
	flat.Heights = nil
	s.path("body", flat.body(centre, func(int) float64 { return radius }))
	if h.Now > 0 {
		a, pitch := h.angle(h.Now-1), 2*math.Pi/float64(len(h.Texts))
		if h.LeftCut {
			pitch = -pitch
		}
		s.path("heavy", path(centre.polar(radius, a), centre.polar(0.985*radius, a+0.1*pitch), centre.polar(0.9*radius, a+0.3*pitch)))
	}
	s.WriteString("</g>")
}

// under is the tool with the contact over the flute that is read.
func (h Held) under(s *svg) {
	n := len(h.Texts)
	centre := point{heldWide / 2, 160}
	s.circle("dot", centre, heldRadius)
	h.section(s, centre, heldRadius, 0)
	top := centre.y - heldRadius
	s.path("solid", path(point{centre.x - 7, top - 15}, point{centre.x + 7, top - 15}, point{centre.x, top})+"Z")
	s.path("stem", path(point{centre.x, top - 14}, point{centre.x, top - 40}))
	s.path("solid", path(point{centre.x - 12, 0}, point{centre.x + 12, 0}, point{centre.x + 12, top - 36}, point{centre.x - 12, top - 36})+"Z")
	h.arrow(s, centre)
	size, apart, aside := 26.0, 123.0, 28.0
	switch {
	case n > 8:
		size, apart, aside = 14, 122, 13
	case n > 5:
		size, apart, aside = 20, 122, 20
	}
	for i, text := range h.Texts {
		a := h.angle(i)
		if h.Now > 0 {
			a -= h.angle(h.Now - 1)
		}
		a = math.Mod(a+4*math.Pi, 2*math.Pi)
		now := i+1 == h.Now
		if now {
			a = aside * math.Pi / 180 // beside the contact
		}
		at := centre.polar(apart, a)
		class := "tooth"
		switch {
		case now:
			class += " is-now"
		case text != "":
			class += " is-read"
		}
		link := Link{}
		if i < len(h.Links) {
			link = h.Links[i]
		}
		tag := "g"
		if link.Href != "" {
			tag = "a"
			fmt.Fprintf(s, `<a class="%s" href="%s" aria-label="%s">`, class, html.EscapeString(link.Href), html.EscapeString(link.Name))
		} else {
			fmt.Fprintf(s, `<g class="%s">`, class)
		}
		s.circle("disc", at, px(size))
		s.text("num", "middle", point{at.x, at.y + 6}, strconv.Itoa(i+1))
		fmt.Fprintf(s, "</%s>", tag)
		if n <= 4 && !now && text != "" {
			anchor, value := "middle", point{at.x, at.y + px(size) + 18}
			if math.Abs(math.Sin(a)) < 0.5 { // under the tool, or over it
				anchor, value = "start", point{at.x + px(size) + 5, at.y + 6}
			}
			s.text("val", anchor, value, text)
		}
	}
	h.side(s)
}

// arrow is the way that the tool is turned. A tool of right-hand cut turns counterclockwise as it is seen from its end.
func (h Held) arrow(s *svg, centre point) {
	if h.Turn == TurnNone {
		return
	}
	way := 1.0
	if (h.Turn == TurnCutting) != h.LeftCut {
		way = -1
	}
	const r = 30
	from, to := centre.polar(r, way*-1.2), centre.polar(r, way*3.5)
	sweep := 1
	if way < 0 {
		sweep = 0
	}
	s.path("line", fmt.Sprintf("M%vA%d %d 0 1 %d %v", from, r, r, sweep, to))
	tip, ahead := to, way*3.5+way*math.Pi/2
	back := tip.polar(14, ahead+math.Pi)
	s.path("solid", path(tip.polar(9, ahead), back.polar(9, ahead+math.Pi/2), back.polar(9, ahead-math.Pi/2))+"Z")
}

// side is the tool from its side, with how far from its end it is read.
func (h Held) side(s *svg) {
	if h.FromEnd == "" && !h.OnEnd {
		return
	}
	s.path("body", "M2 268H44L48 266H104V294H48L44 292H2z")
	for _, x := range []px{48, 66, 84} {
		s.path("fine", fmt.Sprintf("M%v 294C%v 286 %v 274 %v 266", x, x+6, x+8, x+18))
	}
	if h.OnEnd {
		s.path("solid", "M120 270v14L105 277z")
		s.path("line", "M120 277H134")
		if h.FromEnd == "" {
			return
		}
		s.text("val strong", "start", point{140, 283}, h.FromEnd)
		return
	}
	s.path("solid", "M52 252h12L58 266z")
	s.path("line", "M58 252V234M58 240H104M104 234V266M65 236l-7 4 7 4M97 236l7 4-7 4")
	s.text("val strong", "middle", point{81, 230}, h.FromEnd)
}

// land is the land of the flute that is read in section, not to scale: the edge left, the primary, the secondary, and which of
// it is read.
func (h Held) land(s *svg) {
	h.section(s, point{328, 58}, 38, 0)
	s.text("num", "middle", point{328, 14}, strconv.Itoa(h.Now))
	edge, heel, back := point{30, 124}, point{112, 137}, point{301, 202}
	s.path("fine cut", path(point{8, edge.y}, point{382, edge.y}))
	s.path("body", path(edge, heel, back, point{317, 248}, point{317, 262}, point{46, 262})+"Z")
	s.path("heavy", path(edge, heel))
	s.text("small", "start", point{58, 164}, "primary")
	s.text("small", "end", point{298, 226}, "secondary")
	span := func(from, to point, name string) {
		y := min(from.y, to.y) - 34
		s.path("line", path(point{from.x, y - 6}, from)+path(point{to.x, y - 6}, to)+path(point{from.x, y}, point{to.x, y}))
		s.path("line", path(point{from.x + 8, y - 4}, point{from.x, y}, point{from.x + 8, y + 4})+path(point{to.x - 8, y - 4}, point{to.x, y}, point{to.x - 8, y + 4}))
		s.text("val strong", "middle", point{(from.x + to.x) / 2, y - 10}, name)
	}
	fall := func(from, to point) {
		s.path("solid", path(point{to.x - 7, to.y - 15}, point{to.x + 7, to.y - 15}, to)+"Z")
		s.path("stem", path(point{to.x, to.y - 14}, point{to.x, to.y - 44}))
		s.path("fine cut", path(from, point{to.x + 46, from.y}))
		s.path("line", path(point{to.x + 30, from.y}, point{to.x + 30, to.y}))
		s.text("val strong", "start", point{to.x + 38, (from.y+to.y)/2 - 4}, "fall")
	}
	switch h.Reads {
	case ReadsPrimary:
		span(edge, heel, "this")
	case ReadsLand:
		span(edge, back, "this")
	case ReadsWear:
		worn := point{66, 127}
		s.path("wear", path(edge, worn))
		span(edge, worn, "this")
	case ReadsDrop:
		fall(edge, point{96, 134})
	case ReadsSecondaryDrop:
		fall(heel, point{210, 171})
	}
}

// over is the tool between two anvils.
func (h Held) over(s *svg) {
	centre := point{heldWide / 2, 150}
	if len(h.Texts) > 1 {
		h.Now = 1
	}
	h.section(s, centre, heldRadius, 90)
	for _, side := range []px{-1, 1} {
		at := centre.x + side*heldRadius
		s.path("solid", path(point{at, centre.y - 22}, point{at + side*26, centre.y - 22}, point{at + side*26, centre.y + 22}, point{at, centre.y + 22})+"Z")
		s.path("line", path(point{at, centre.y + 30}, point{at, centre.y + 124}))
	}
	left, right, y := centre.x-heldRadius, centre.x+heldRadius, centre.y+116
	s.path("line", path(point{left, y}, point{right, y})+path(point{left + 8, y - 4}, point{left, y}, point{left + 8, y + 4})+path(point{right - 8, y - 4}, point{right, y}, point{right - 8, y + 4}))
	s.text("val strong", "middle", point{centre.x, y + 22}, "this, over the edges")
}

// Rest is a tool at the grinder seen from its end: the face of a tooth on its rest, its land against the wheel, and how far
// the rest lies below the centre. It is not to scale.
type Rest struct {
	End
	Below string // with its unit
}

// SVG draws it.
func (r Rest) SVG() mark.HTML {
	const sink = 24 // degrees that the edge lies below the centre
	name := "The edge lies " + r.Below + " below the centre of the tool, its face on the rest, its land against the wheel; not to scale"
	s := newHeld(name)
	centre := point{188, 146}
	side := px(1)
	turned := 90.0 + sink
	if r.LeftCut {
		side, turned = -1, 270-sink
	}
	wheel := centre.x + side*106
	s.path("body", path(point{wheel - 20, 8}, point{wheel + 20, 8}, point{wheel + 20, 278}, point{wheel - 20, 278})+"Z")
	s.text("small", "middle", point{wheel, 298}, "wheel")
	s.circle("dot", centre, heldRadius)
	Held{End: r.End, Now: 1}.section(s, centre, heldRadius, turned)
	edge := centre.polar(heldRadius, turned*math.Pi/180)
	s.path("solid", path(edge, point{edge.x - side*34, edge.y + 3}, point{edge.x - side*34, edge.y + 15}, point{edge.x - side*20, edge.y + 15}, point{edge.x - side*20, edge.y + 88}, point{edge.x - side*4, edge.y + 88}, point{edge.x - side*4, edge.y + 12})+"Z")
	s.text("small", "middle", point{edge.x - side*46, edge.y + 84}, "rest")
	s.path("fine cut", path(point{22, centre.y}, point{368, centre.y})+path(point{22, edge.y}, point{edge.x, edge.y}))
	s.path("line", path(point{40, centre.y - 28}, point{40, centre.y})+path(point{35, centre.y - 9}, point{40, centre.y}, point{45, centre.y - 9})+
		path(point{40, edge.y + 28}, point{40, edge.y})+path(point{35, edge.y + 9}, point{40, edge.y}, point{45, edge.y + 9}))
	s.text("val strong", "start", point{2, centre.y - 34}, r.Below)
	return s.done()
}
