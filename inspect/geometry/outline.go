package geometry

import "math"

// Place is a place in the section, to be drawn: micrometres back along the tangent and down along the radius from where the
// edge stood before it wore.
type Place struct{ Back, Down float64 }

// Outline is one tooth in section, to be drawn. Lines run from the edge back; a flat facet has two places.
type Outline struct {
	Radius             float64 // of the cutting circle before the edge wore, micrometres; 0 is none
	Edge, Heel, End    Place
	Primary, Secondary []Place // what is left of them; Secondary is nil where there is none
	Worn               []Place // along the worn arc from the edge to the land; nil on a sharp tooth
}

const placesOfCurve = 12

// Outline returns a flute's tooth as it lies in the section. Square to the edge of a helix the ways back are shorter by
// cos L, and those down are the same.
func (s Section) Outline(flute int) Outline {
	t := s.teeth[flute-1]
	place := func(p point) Place { return Place{p.y, p.x} }
	along := func(f facet, level, from, to float64) []Place {
		if from >= to {
			return nil
		}
		n := 1
		if f.form != Flat {
			n = placesOfCurve
		}
		var ps []Place
		for i := range n + 1 {
			ps = append(ps, place(f.at(level, from+(to-from)*float64(i)/float64(n))))
		}
		return ps
	}
	edge, heel, end := t.edge(), t.heel(), t.end()
	o := Outline{Edge: place(edge), Heel: place(heel), End: place(end)}
	if t.circle != 0 {
		o.Radius = 1 / float64(t.circle)
	}
	primary, secondary := t.sharp().y, heel.y
	if t.worn != 0 {
		for i := range placesOfCurve + 1 {
			o.Worn = append(o.Worn, place(t.onArc(edge.y+(t.wornEnd.y-edge.y)*float64(i)/placesOfCurve)))
		}
		primary, secondary = t.wornEnd.y, math.Max(heel.y, t.wornEnd.y)
	}
	o.Primary, o.Secondary = along(t.primary, t.level1, primary, heel.y), along(t.secondary, t.level2, secondary, end.y)
	return o
}
