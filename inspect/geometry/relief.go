package geometry

import (
	"errors"
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// Curved facets are taken up to this relief and to this share of the radius behind the edge, where the place
// that a tip touches is one alone.
const (
	steepestCurved = math.Pi / 4
	farthestCurved = 0.2
)

var errOnCorner = errors.New("the ball still rests on the edge; check farther behind it")

// Form is the shape of the facet that is checked, in the section square to the axis.
type Form int

const (
	Flat   Form = iota // a straight line
	Curved             // falls evenly with every degree of turning, as cam and eccentric relief do
)

// Motion is how the facet is brought along under the indicator.
type Motion int

const (
	Turned Motion = iota // about the tool's axis, under an indicator that points at the axis
	Slid                 // straight, along the tangent at the edge
)

// Relief says how an angle of relief is checked with an indicator: zero at the edge, then the drop at a
// distance behind it. End teeth are checked as Flat and Slid, which needs no diameter; the distance is then
// along the path of the corner and the drop along the axis.
type Relief struct {
	Diameter length.Length
	Distance length.Length // behind the edge, or behind the heel: along the circle when turned, straight when slid
	Form     Form
	Motion   Motion
	Tip      length.Length // radius of a ball tip; 0 is a pointed tip
	Lever    length.Angle  // of a lever-type indicator: between the lever and the square to the drop; 0 for a plunger

	// A secondary is checked from the heel of a flat primary, where the indicator is set to zero. Heel is
	// the width of that primary in the section (see InSection), 0 when the primary itself is checked.
	Heel          length.Length
	PrimaryRelief length.Angle
}

// Angle returns the relief angle for an indicated drop (positive when the facet falls away):
//
//	flat, turned      tan a = (R - (R-d) cos theta) / ((R-d) sin theta), theta = s/R
//	flat, slid        tan a = d/s
//	curved, turned    tan a = d/s
//	curved, slid      tan a = (1 - rho/R)/phi, where rho and phi are the polar place of the point touched:
//	                  near the edge tan a = d/s - s/(2R)
//
// with D = 2R the diameter, s the distance and d the drop. A ball tip of radius p touches the facet before
// its centre is over the place: the formulas above are then taken on the curve p outside the facet. A
// lever-type indicator shows d / cos(lever). A secondary turned is taken with the radius at the heel,
// and its angle counted from the tangent at the edge again:
//
//	Rh = hypot(R - w sin a1, w cos a1), th = atan2(w cos a1, R - w sin a1), a2 = local angle + th
//
// A secondary slid with the tool held still is tan a2 = d/s from the heel. Errors: sizes that are not
// positive, a distance that does not leave the edge, a drop no facet can give. Source: plane geometry.
func (r Relief) Angle(drop length.Length) (length.Angle, error) {
	a, err := r.angle(drop.Micrometres(), r.Distance.Micrometres())
	if err != nil {
		return 0, fmt.Errorf("relief from a drop of %v: %w", drop, err)
	}
	var out results
	angle := out.angle(a)
	return angle, out.err
}

// Drop returns what the indicator shows for a relief angle: the inverse of Angle.
//
//	flat, turned      d = R (1 - cos a / cos(a - theta))
//	flat, slid        d = s tan a
//	curved, turned    d = s tan a
//
// with the corrections of Angle for tip, lever and heel.
func (r Relief) Drop(relief length.Angle) (length.Length, error) {
	d, err := r.drop(relief.Radians(), r.Distance.Micrometres())
	if err != nil {
		return 0, fmt.Errorf("drop for a relief of %v: %w", relief, err)
	}
	var out results
	drop := out.length(d)
	return drop, out.err
}

// ReliefUncertainty is the standard uncertainty of a relief angle and what makes it up.
type ReliefUncertainty struct{ Angle, FromDrop, FromDistance length.Angle }

// Uncertainty carries the standard uncertainties of drop and distance through to the angle, first order:
//
//	u(a) = hypot(da/dd u(d), da/ds u(s))
//
// Source: JCGM 100:2008, 5.1.2.
func (r Relief) Uncertainty(drop, uDrop, uDistance length.Length) (ReliefUncertainty, error) {
	const step = 0.01 // um: the formulas are smooth, so the central difference is good to nine digits
	d, s := drop.Micrometres(), r.Distance.Micrometres()
	slope := func(dd, ds float64) (float64, error) {
		hi, err := r.angle(d+dd, s+ds)
		if err != nil {
			return 0, err
		}
		lo, err := r.angle(d-dd, s-ds)
		return (hi - lo) / (2 * step), err
	}
	perDrop, err := slope(step, 0)
	if err != nil {
		return ReliefUncertainty{}, fmt.Errorf("uncertainty of a relief: %w", err)
	}
	perDistance, err := slope(0, step)
	if err != nil {
		return ReliefUncertainty{}, fmt.Errorf("uncertainty of a relief: %w", err)
	}
	var out results
	fromDrop := math.Abs(perDrop) * uDrop.Micrometres()
	fromDistance := math.Abs(perDistance) * uDistance.Micrometres()
	u := ReliefUncertainty{
		Angle:        out.angle(math.Hypot(fromDrop, fromDistance)),
		FromDrop:     out.angle(fromDrop),
		FromDistance: out.angle(fromDistance),
	}
	return u, out.err
}

// corner is the edge or heel that a facet starts from, as the indicator meets it.
type corner struct {
	radius float64 // from the axis
	polar  float64 // its place behind the edge, about the axis
	zero   float64 // height of the tip's centre over the axis when the indicator is set to zero
	tip    float64
}

func (r Relief) corner() corner {
	R, p := r.Diameter.Micrometres()/2, r.Tip.Micrometres()
	if r.Heel == 0 {
		return corner{radius: R, zero: R + p, tip: p}
	}
	w, a1 := r.Heel.Micrometres(), r.PrimaryRelief.Radians()
	back, up := w*math.Cos(a1), R-w*math.Sin(a1)
	if r.Motion == Slid {
		// The tool stays as it was for the primary, on which a ball over the heel still rests.
		return corner{radius: up, zero: up + p/math.Cos(a1), tip: p}
	}
	c := corner{radius: math.Hypot(up, back), polar: math.Atan2(back, up), tip: p}
	c.zero = c.radius + p/math.Cos(max(0, a1-c.polar))
	return c
}

// check refuses what no check of relief can be; distance is in micrometres.
func (r Relief) check(distance float64) error {
	needsDiameter := r.Motion == Turned || r.Form == Curved
	switch {
	case needsDiameter && r.Diameter <= 0:
		return fmt.Errorf("diameter is %v; want more than zero", r.Diameter)
	case distance <= 0:
		return fmt.Errorf("checking distance is %v; want more than zero", r.Distance)
	case needsDiameter && distance >= r.Diameter.Micrometres()/2:
		return fmt.Errorf("checking distance %v is no less than the radius; check nearer to the edge", r.Distance)
	case r.Form == Curved && distance > farthestCurved*r.Diameter.Micrometres()/2:
		return fmt.Errorf("checking distance %v is more than a fifth of the radius; check a curved facet nearer to the edge", r.Distance)
	case r.Tip < 0 || r.Heel < 0:
		return fmt.Errorf("tip radius %v, heel %v: want no less than zero", r.Tip, r.Heel)
	case r.Heel > 0 && r.Form == Curved:
		return errors.New("a curved secondary has no angle that can be taken from the heel; check it as flat")
	case r.Heel > 0 && needsDiameter && r.Heel >= r.Diameter/2:
		return fmt.Errorf("heel %v behind the edge is no less than the radius", r.Heel)
	case r.Heel > 0 && !between0and90(r.PrimaryRelief):
		return fmt.Errorf("primary relief is %v; want between 0 and 90 degrees", r.PrimaryRelief)
	case r.Lever != 0 && !between0and90(r.Lever):
		return fmt.Errorf("lever angle is %v; want from 0 to under 90 degrees", r.Lever)
	}
	return nil
}

func between0and90(a length.Angle) bool { return a > 0 && a < 90*length.Degree }

// angle is Angle in micrometres and radians.
func (r Relief) angle(indicated, distance float64) (float64, error) {
	if err := r.check(distance); err != nil {
		return 0, err
	}
	if r.Form == Curved {
		return r.curvedAngle(indicated, distance)
	}
	c := r.corner()
	height := c.zero - indicated*math.Cos(r.Lever.Radians())
	up, back := c.centre(height, distance, r.Motion)
	reach := math.Hypot(up, back)
	switch {
	case back <= 0:
		return 0, errors.New("no flat facet gives it")
	case reach < c.tip:
		return 0, errOnCorner
	}
	local := math.Atan2(back, up) - math.Acos(c.tip/reach)
	return local + c.polar, nil
}

// centre returns where the tip's centre stands seen from the corner, up along the corner's radius and back
// along its tangent, when it is at height over the axis and distance behind the corner.
func (c corner) centre(height, distance float64, motion Motion) (up, back float64) {
	if motion == Slid {
		return height - c.radius, distance
	}
	theta := distance / c.radius
	return height*math.Cos(theta) - c.radius, height * math.Sin(theta)
}

// drop is Drop in micrometres and radians.
func (r Relief) drop(relief, distance float64) (float64, error) {
	if err := r.check(distance); err != nil {
		return 0, err
	}
	if relief <= 0 || relief >= math.Pi/2 {
		return 0, errors.New("want between 0 and 90 degrees")
	}
	lever := math.Cos(r.Lever.Radians())
	if r.Form == Curved {
		if relief > steepestCurved {
			return 0, errors.New("want no more than 45 degrees on a curved facet")
		}
		d, phi := r.curvedDrop(relief, distance)
		if phi < 0 {
			return 0, errOnCorner
		}
		return d / lever, nil
	}
	c := r.corner()
	a := relief - c.polar
	height := c.radius + (c.tip-distance*math.Sin(a))/math.Cos(a)
	if r.Motion == Turned {
		height = (c.radius*math.Cos(a) + c.tip) / math.Cos(a-distance/c.radius)
	}
	if up, back := c.centre(height, distance, r.Motion); back*math.Cos(a)-up*math.Sin(a) < 0 {
		return 0, errOnCorner
	}
	return (c.zero - height) / lever, nil
}

// curvedAngle finds the angle whose curvedDrop is the indicated one.
func (r Relief) curvedAngle(indicated, distance float64) (float64, error) {
	d := indicated * math.Cos(r.Lever.Radians())
	short := func(a float64) float64 { drop, _ := r.curvedDrop(a, distance); return drop - d }
	if short(0) > 0 || short(steepestCurved) < 0 {
		return 0, errors.New("no curved facet with a relief of 0 to 45 degrees gives it")
	}
	a := root(0, steepestCurved, short)
	if _, phi := r.curvedDrop(a, distance); phi < 0 {
		return 0, errOnCorner
	}
	return a, nil
}

// curvedDrop returns the drop on the curve that lies the tip's radius outside a land falling evenly:
//
//	rho = R (1 - phi tan a)
//
// and the place phi where the tip touches that has come the distance behind the edge; below zero it would be
// ahead of the edge.
func (r Relief) curvedDrop(relief, distance float64) (drop, phi float64) {
	R, p, k := r.Diameter.Micrometres()/2, r.Tip.Micrometres(), math.Tan(relief)
	centre := func(phi float64) (x, y float64) {
		rho := R * (1 - phi*k)
		lean := phi + math.Atan(R*k/rho) // of the outward normal: tan = -(d rho/d phi)/rho
		return rho*math.Cos(phi) + p*math.Cos(lean), rho*math.Sin(phi) + p*math.Sin(lean)
	}
	past := func(phi float64) float64 {
		x, y := centre(phi)
		if r.Motion == Slid {
			return y - distance
		}
		return math.Atan2(y, x) - distance/R
	}
	phi = root(-0.5, 0.5, past)
	x, y := centre(phi)
	if r.Motion == Slid {
		return R + p - x, phi
	}
	return R + p - math.Hypot(x, y), phi
}

// root returns where f, which rises from lo to hi, passes zero, by halving; to the last bits of a float.
func root(lo, hi float64, f func(float64) float64) float64 {
	for range 60 {
		mid := (lo + hi) / 2
		if f(mid) < 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
