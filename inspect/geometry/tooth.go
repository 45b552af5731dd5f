package geometry

import (
	"errors"
	"math"
)

// tooth is one tooth in section: the cutting circle, the rake face, the primary, the secondary, the end of the
// land, and the arc that wear has left, all in one frame, that of the edge before it wore. Nothing about a
// tooth is kept beside it: every figure is read off where these lines meet.
type tooth struct {
	circle             circle
	offset             float64 // of the unworn edge under that of the tool's sections; see Section
	face               float64 // tangent of the rake
	primary, secondary facet
	level1, level2     float64 // where the two facets stand
	back               float64 // y at which the land ends; what is ground beyond it falls off square
	worn               float64 // how deep under the cutting circle the worn arc lies; 0 is a sharp tooth
	wornEnd            point   // where the arc meets what is left of the land
	onSecondary        bool    // the arc has eaten the primary
}

// newTooth lays a tooth out from its widths in the section. A land no wider than its primary has no secondary.
func newTooth(c circle, face float64, primary, secondary facet, width, behind float64) tooth {
	t := tooth{circle: c, face: face, primary: primary, secondary: secondary}
	heel := primary.along(0, point{}, width)
	t.level2, t.back = secondary.level(heel), heel.y
	if behind > 0 {
		t.back = secondary.along(t.level2, heel, behind).y
	}
	return t
}

// sharp returns where the primary, carried on over what is worn off, meets the face.
func (t tooth) sharp() point { return t.primary.onFace(t.level1, t.face) }

// edge returns the edge as it is: worn, or sharp.
func (t tooth) edge() point {
	if t.worn == 0 {
		return t.sharp()
	}
	return t.faceUnder(t.worn)
}

// faceUnder returns the point of the face that lies so deep under the cutting circle.
func (t tooth) faceUnder(depth float64) point {
	k := float64(t.circle)
	q := depth * (2 - k*depth)
	x := q / (1 + math.Sqrt(1-k*q*(1+t.face*t.face)))
	return point{x, x * t.face}
}

// heel returns where the primary ends: at the secondary, or at the end of the land once that is used up.
func (t tooth) heel() point {
	if end := t.primary.at(t.level1, t.back); t.secondary.level(end) >= t.level2 {
		return end
	}
	return t.primary.meets(t.level1, t.secondary, t.level2)
}

// end returns where the land ends.
func (t tooth) end() point {
	heel := t.heel()
	if heel.y >= t.back {
		return heel
	}
	return t.secondary.at(t.level2, t.back)
}

// widths returns the primary and the secondary, each along its facet; the primary from the sharp edge.
func (t tooth) widths() (primary, secondary float64) {
	sharp, heel, end := t.sharp(), t.heel(), t.end()
	return math.Copysign(math.Hypot(heel.x-sharp.x, heel.y-sharp.y), heel.y-sharp.y), math.Hypot(end.x-heel.x, end.y-heel.y)
}

// ErrWornAway says that the wear is wider than the land: nothing is left of it.
var ErrWornAway = errors.New("the wear is wider than the land")

// wear wears the tooth down to the circle whose arc, from the face to what is left of the land, is as long as the
// wear land: the tool wore while it turned, so that what is worn follows the cutting circle and not its tangent.
func (t tooth) wear(arc float64) (tooth, error) {
	if arc == 0 {
		return t, nil
	}
	sharp, heel := t.sharp(), t.heel()
	length := func(far point) float64 {
		depth := t.circle.under(far)
		return (1 - float64(t.circle)*depth) * (t.circle.around(far) - t.circle.around(t.faceUnder(depth)))
	}
	low := t.primary.deepest(t.level1, sharp.y, heel.y)
	if length(low) >= arc {
		y := solve(sharp.y, low.y, func(y float64) float64 { return length(t.primary.at(t.level1, y)) - arc })
		t.wornEnd = t.primary.at(t.level1, y)
		t.worn = t.circle.under(t.wornEnd)
		return t, nil
	}
	t.onSecondary = true
	end := t.end()
	if end == heel {
		return t, ErrWornAway
	}
	start := heel
	if low != heel {
		// The circle comes back to the primary before its heel: the arc runs on to where the secondary is as deep.
		var ok bool
		if start, ok = t.secondary.reaches(t.level2, t.circle.under(low), heel.y, end.y); !ok {
			return t, ErrWornAway
		}
	}
	deepest := t.secondary.deepest(t.level2, start.y, end.y)
	if length(deepest) < arc {
		return t, ErrWornAway
	}
	t.wornEnd = start
	if length(start) < arc {
		y := solve(start.y, deepest.y, func(y float64) float64 { return length(t.secondary.at(t.level2, y)) - arc })
		t.wornEnd = t.secondary.at(t.level2, y)
	}
	t.worn = t.circle.under(t.wornEnd)
	return t, nil
}

// touch returns the level at which the wheel, set for the primary, first touches what is left of the tooth: the
// sound primary, or, once the arc has eaten that, the far end of the arc or the part of it that stands out most.
func (t tooth) touch() float64 {
	if t.worn == 0 || !t.onSecondary {
		return t.level1
	}
	leans := func(p point) float64 { // the arc deepens more slowly than the wheel there
		k := float64(t.circle)
		return t.primary.slope(p) - k*p.y/(1-k*p.x)
	}
	highest := t.wornEnd
	if edge := t.edge(); leans(highest) < 0 && leans(edge) > 0 {
		y := solve(edge.y, highest.y, func(y float64) float64 { return leans(t.onArc(y)) })
		highest = t.onArc(y)
	}
	return t.primary.level(highest)
}

// onArc returns the point of the worn arc at y.
func (t tooth) onArc(y float64) point {
	k := float64(t.circle)
	if k == 0 {
		return point{t.worn, y}
	}
	r := 1 - k*t.worn
	return point{(1 - math.Sqrt((r-k*y)*(r+k*y))) / k, y}
}

// clear returns the level at which the wheel, set for the primary, reaches the edge: no wear is left.
func (t tooth) clear() float64 { return t.primary.level(t.edge()) }

// ground returns the tooth after the wheel has stood at a level of the primary.
func (t tooth) ground(level float64) tooth {
	if level <= t.touch() {
		return t
	}
	if t.worn != 0 && level >= t.clear() {
		t.worn, t.onSecondary = 0, false
	}
	t.level1 = max(level, t.level1)
	if t.worn != 0 { // the far end of the arc is another where the wheel has taken a part of it
		if p, ok := t.primary.reaches(t.level1, t.worn, t.edge().y, t.heel().y); ok {
			t.wornEnd, t.onSecondary = p, false
		}
	}
	return t
}

// groundBehind returns the tooth after the wheel has stood at a level of the secondary.
func (t tooth) groundBehind(level float64) tooth {
	if level > t.level2 {
		t.level2 = level
	}
	return t
}
