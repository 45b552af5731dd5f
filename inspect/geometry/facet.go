package geometry

import "math"

// Form is the shape of a relieved facet in the section square to the axis.
type Form int

const (
	Flat      Form = iota // a straight line
	Hollow                // an arc of the disc wheel whose rim ground it
	Eccentric             // falls evenly with every degree of turning, as cam and eccentric relief do
)

func (f Form) String() string { return [...]string{"flat", "hollow", "eccentric"}[f] }

// point is a place in the section, seen from where the edge stood before it wore: x down along the edge's
// radius, y back behind it along the tangent, in micrometres.
type point struct{ x, y float64 }

// circle is the cutting circle by its curvature 1/R, so that no circle at all, a straight path, is 0.
type circle float64

// under returns how far p lies under the cutting circle, R - hypot(R - x, y).
func (c circle) under(p point) float64 {
	k := float64(c)
	return (2*p.x - k*(p.x*p.x+p.y*p.y)) / (1 + c.reach(p))
}

// reach returns the distance of p from the axis, over R.
func (c circle) reach(p point) float64 { return math.Hypot(1-float64(c)*p.x, float64(c)*p.y) }

// around returns how far p lies behind the edge along the cutting circle: R times its angle about the axis.
func (c circle) around(p point) float64 {
	if c == 0 {
		return p.y
	}
	return math.Atan2(float64(c)*p.y, 1-float64(c)*p.x) / float64(c)
}

// facet is what a wheel set to one relief leaves of a tooth, at any infeed: depth(level, y) is how deep the
// facet lies at y when the wheel stands at that infeed, counted along the edge's radius from where the
// facet passes through the unworn edge.
//
//	flat        x = level + y tan a
//	hollow      x = level + sqrt(W^2 - (y - W sin a)^2) - W cos a, with W the wheel's radius
//	eccentric   under = level + around tan a, in the measures of the cutting circle
type facet struct {
	form     Form
	sin, cos float64
	tan      float64
	wheel    float64
	circle   circle
}

func newFacet(form Form, relief, wheel float64, c circle) facet {
	sin, cos := math.Sincos(relief)
	return facet{form, sin, cos, math.Tan(relief), wheel, c}
}

// hollow returns the depth of the wheel's rim at y.
func (f facet) hollow(y float64) float64 {
	off := y - f.wheel*f.sin
	return math.Sqrt((f.wheel-off)*(f.wheel+off)) - f.wheel*f.cos
}

// level returns the infeed at which the wheel reaches p.
func (f facet) level(p point) float64 {
	switch f.form {
	case Hollow:
		return p.x - f.hollow(p.y)
	case Eccentric:
		return f.circle.under(p) - f.circle.around(p)*f.tan
	}
	return p.x - p.y*f.tan
}

func (f facet) depth(level, y float64) float64 {
	switch f.form {
	case Hollow:
		return level + f.hollow(y)
	case Eccentric:
		k := float64(f.circle)
		x := level + y*f.tan
		for range 20 {
			h := f.circle.reach(point{x, y})
			step := (f.level(point{x, y}) - level) / ((1-k*x)/h - f.tan*k*y/(h*h))
			x -= step
			if math.Abs(step) < 1e-11*(1+math.Abs(x)) {
				break
			}
		}
		return x
	}
	return level + y*f.tan
}

// at returns the facet's point at y.
func (f facet) at(level, y float64) point { return point{f.depth(level, y), y} }

// slope returns how fast the facet deepens at p, which lies on it: dx/dy.
func (f facet) slope(p point) float64 {
	switch f.form {
	case Hollow:
		return (f.wheel*f.sin - p.y) / (f.hollow(p.y) + f.wheel*f.cos)
	case Eccentric:
		k := float64(f.circle)
		h := f.circle.reach(p)
		return (k*p.y/h + f.tan*(1-k*p.x)/(h*h)) / ((1-k*p.x)/h - f.tan*k*p.y/(h*h))
	}
	return f.tan
}

// deepens returns how fast the facet falls away from the cutting circle at p, which lies on it: d under/dy.
func (f facet) deepens(p point) float64 {
	k := float64(f.circle)
	return ((1-k*p.x)*f.slope(p) - k*p.y) / f.circle.reach(p)
}

// onFace returns where the facet meets a face that leans back by tan.
func (f facet) onFace(level, tan float64) point {
	x := level / (1 - f.tan*tan)
	if f.form != Flat {
		x = newton(x, func(x float64) (float64, float64) {
			p := f.at(level, x*tan)
			return x - p.x, 1 - f.slope(p)*tan
		})
	}
	return point{x, x * tan}
}

// along returns the point of the facet at a straight distance behind from.
func (f facet) along(level float64, from point, width float64) point {
	y := from.y + width*f.cos
	if f.form == Flat {
		return f.at(level, y)
	}
	y = newton(y, func(y float64) (float64, float64) {
		p := f.at(level, y)
		return (p.x-from.x)*(p.x-from.x) + (y-from.y)*(y-from.y) - width*width,
			2 * ((p.x-from.x)*f.slope(p) + y - from.y)
	})
	return f.at(level, y)
}

// meets returns where the facet, at its level, gives way to a steeper one behind it.
func (f facet) meets(level float64, steeper facet, steeperLevel float64) point {
	y := (level - steeperLevel) / (steeper.tan - f.tan)
	if f.form != Flat || steeper.form != Flat {
		y = newton(y, func(y float64) (float64, float64) {
			p, q := f.at(level, y), steeper.at(steeperLevel, y)
			return q.x - p.x, steeper.slope(q) - f.slope(p)
		})
	}
	return f.at(level, y)
}

// reaches returns the first point of the facet from one y to another that lies as deep under the cutting circle
// as depth. It is false when there is none; low is then the deepest point on the way.
func (f facet) reaches(level, depth, from, to float64) (p point, ok bool) {
	low := f.deepest(level, from, to)
	if f.circle.under(low) < depth {
		return low, false
	}
	y := solve(from, low.y, func(y float64) float64 { return f.circle.under(f.at(level, y)) - depth })
	return f.at(level, y), true
}

// deepest returns the point of the facet between two y that lies deepest under the cutting circle: its end, unless
// the circle, which falls away ever faster, comes back to it before that.
func (f facet) deepest(level, from, to float64) point {
	end := f.at(level, to)
	if f.deepens(end) >= 0 {
		return end
	}
	start := f.at(level, from)
	if f.deepens(start) <= 0 {
		return start
	}
	return f.at(level, solve(from, to, func(y float64) float64 { return f.deepens(f.at(level, y)) }))
}

// newton returns where f, given with its slope, is zero, starting close by.
func newton(x float64, f func(x float64) (value, slope float64)) float64 {
	for range 30 {
		value, slope := f(x)
		step := value / slope
		x -= step
		if math.Abs(step) <= 1e-12*math.Abs(x) {
			break
		}
	}
	return x
}

// solve returns where f, of opposite signs at a and b, is zero, to the last digits of a float: by false
// position that halves the weight of an end that stays (the Illinois rule), and by halves where that is slow.
func solve(a, b float64, f func(x float64) float64) float64 {
	fa, fb := f(a), f(b)
	switch {
	case fa == 0:
		return a
	case fb == 0:
		return b
	}
	last, stays := a, 0
	for n := range 200 {
		x := (a*fb - b*fa) / (fb - fa)
		if n%8 == 7 || !(x >= min(a, b) && x <= max(a, b)) {
			x = (a + b) / 2
		}
		if math.Abs(x-last) <= 2e-15*math.Abs(x) {
			return x
		}
		last = x
		switch fx := f(x); {
		case fx == 0:
			return x
		case (fx > 0) == (fb > 0):
			b, fb = x, fx
			if stays == -1 {
				fa /= 2
			}
			stays = -1
		default:
			a, fa = x, fx
			if stays == 1 {
				fb /= 2
			}
			stays = 1
		}
	}
	return last
}
