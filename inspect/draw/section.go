package draw

import (
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
)

// Section is one land in section, square to its edge and to scale: the cutting circle, the worn arc, the primary and the
// secondary as the tooth in section has them, and under it the whole land with its half and its first quarter.
type Section struct {
	Name            string // for those who do not see it
	Diameter        length.Length
	Helix           length.Angle
	Rake            length.Angle
	Primary, Land   length.Length  // square to the edge, the land whole
	Wear            *length.Length // nil is not read
	PrimaryRelief   Relief
	SecondaryRelief Relief
	Unit            length.Unit // of the scale
}

// Teeth is the tooth that is drawn, for geometry.
func (l Section) teeth() geometry.Teeth {
	t := geometry.Teeth{
		Diameter: l.Diameter, Helix: l.Helix, Rake: l.Rake, PrimaryRelief: l.PrimaryRelief.Angle, SecondaryRelief: l.SecondaryRelief.Angle,
		Primary: []length.Length{l.Primary}, Land: []length.Length{l.Land},
	}
	if l.Wear != nil {
		t.Wear = []length.Length{*l.Wear}
	}
	return t
}

// Relief is a radial relief that is drawn. What was not measured is drawn dashed.
type Relief struct {
	Angle    length.Angle
	Measured bool
}

// Sizes of the section.
const (
	edgeX, edgeY = 26, 50
	landLength   = 268 // the most that the land may take
	landDrop     = 84
	toothDepth   = 26 // of the tooth drawn under the heel
)

// landScale is how a land is laid out, in pixels. Square to the edge of a helix L the ways back are those of the section
// square to the axis times cos L, those down are the same; the cutting circle is there of radius R / cos^2 L.
type landScale struct {
	pxPerMicron              float64
	edge, heel, back         point // the edge before it wore
	worn, primary, secondary []point
	share                    float64 // of the primary
	radius                   float64 // of the cutting circle, px
}

// scaled lays the tooth out; false where it cannot be one.
func (l Section) scaled() (landScale, bool) {
	section, err := l.teeth().Section()
	if err != nil {
		return landScale{}, false
	}
	o := section.Outline(1)
	cosHelix := math.Cos(l.Helix.Radians())
	s := landScale{share: float64(l.Primary) / float64(l.Land), edge: point{edgeX, edgeY}}
	s.pxPerMicron = landLength / (o.End.Back * cosHelix)
	if o.End.Down > 0 {
		s.pxPerMicron = min(s.pxPerMicron, landDrop/o.End.Down)
	}
	at := func(p geometry.Place) point {
		return point{s.edge.x + px(p.Back*cosHelix*s.pxPerMicron), s.edge.y + px(p.Down*s.pxPerMicron)}
	}
	all := func(ps []geometry.Place) []point {
		var points []point
		for _, p := range ps {
			points = append(points, at(p))
		}
		return points
	}
	s.radius = o.Radius / (cosHelix * cosHelix) * s.pxPerMicron
	s.heel, s.back = at(o.Heel), at(o.End)
	s.worn, s.primary, s.secondary = all(o.Worn), all(o.Primary), all(o.Secondary)
	return s, true
}

// at returns the place on the land at a share of it behind the edge.
func (s landScale) at(share float64) point {
	from, to, part := s.edge, s.heel, share/s.share
	if share > s.share {
		from, to, part = s.heel, s.back, (share-s.share)/(1-s.share)
	}
	return point{from.x + px(part)*(to.x-from.x), from.y + px(part)*(to.y-from.y)}
}

// SVG draws it. Widths that no land has (a primary that is not within it) draw nothing.
func (l Section) SVG() mark.HTML {
	if l.Primary <= 0 || l.Land < l.Primary {
		return ""
	}
	s, ok := l.scaled()
	if !ok {
		return ""
	}
	bottom := max(s.back.y, s.edge.y+30) + toothDepth
	ruler := bottom + 14
	d := newSVG("section", width, ruler+50, l.Name)
	top := slices.Concat(s.worn, s.primary, s.secondary)
	d.path("body", path(append(top, point{s.back.x + 8, bottom}, point{s.edge.x + 10, bottom})...)+"Z")
	if circle := s.circle(); circle != "" {
		d.path("dot", circle)
	}
	if s.primary != nil {
		d.path(measured("heavy", l.PrimaryRelief), path(s.primary...))
	}
	if s.secondary != nil {
		d.path(measured("line", l.SecondaryRelief), path(s.secondary...))
		d.text("small", "end", point{s.back.x - 2, bottom - 6}, "secondary")
	}
	if s.worn != nil {
		d.path("wear", path(s.worn...))
	}
	// The primary between two ticks above it.
	over := s.edge.y - 22
	d.path("line", path(point{s.edge.x, over - 5}, point{s.edge.x, over + 9})+path(point{s.heel.x, over - 5}, point{s.heel.x, s.heel.y - 4})+path(point{s.edge.x, over}, point{s.heel.x, over}))
	d.text("small", "start", point{s.edge.x, over - 8}, "primary")
	// The whole land under it.
	marks := []struct {
		share  float64
		name   string
		anchor string
	}{{0, "", "start"}, {0.25, "quarter", "middle"}, {0.5, "half", "middle"}, {1, "land", "end"}}
	d.path("line", path(point{s.edge.x, ruler}, point{s.back.x, ruler}))
	for _, m := range marks {
		x := s.at(m.share).x
		d.path("line", path(point{x, ruler - 5}, point{x, ruler + 5}))
		if (s.back.x-s.edge.x) > 180 || m.share == 0 || m.share == 1 {
			d.text("small", m.anchor, point{x, ruler + 20}, m.name)
		}
	}
	l.bar(d, s, ruler+38)
	return d.done()
}

// measured returns the class of a facet: as given where its relief was measured, else dashed.
func measured(class string, r Relief) string {
	if r.Measured {
		return class
	}
	return "dash " + class
}

// circle returns the arc that the edge runs on, from a little ahead of it to the end of the land.
func (s landScale) circle() string {
	if s.radius <= 0 {
		return ""
	}
	var ps []point
	end := min(float64(s.back.x-s.edge.x)+10, 0.98*s.radius)
	for x := max(-20, -0.98*s.radius); x <= end; x += 2 {
		ps = append(ps, point{s.edge.x + px(x), s.edge.y + px(s.radius-math.Sqrt(s.radius*s.radius-x*x))})
	}
	return path(ps...)
}

// bar draws a scale of a round length.
func (l Section) bar(d *svg, s landScale, y px) {
	micrometres, name := 25400.0, "in"
	if l.Unit.Metric() {
		micrometres, name = 1000, "mm"
	}
	size := roundDown(70 / (micrometres * s.pxPerMicron))
	from, to := point{edgeX, y}, point{edgeX + px(size*micrometres*s.pxPerMicron), y}
	d.path("heavy", path(from, to))
	d.text("small", "start", point{to.x + 6, to.y + 5}, fmt.Sprintf("%s %s", plain(size), name))
}
