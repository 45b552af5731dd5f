package geometry

import (
	"errors"
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// Drops are worked out on facets between these reliefs, and to this share of the radius behind the edge on curved
// ones, where the place that a tip touches is one alone. A land that climbs has a relief below zero.
const (
	steepest       = 80 * math.Pi / 180
	steepestCurved = math.Pi / 4
	farthestCurved = 0.2
)

var errOnCorner = errors.New("the ball still rests on the edge; check farther behind it")

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
	Wheel    length.Length // diameter of the disc wheel of a Hollow facet
	Motion   Motion
	Tip      length.Length // radius of a ball tip; 0 is a pointed tip
	Lever    length.Angle  // of a lever-type indicator: between the lever and the square to the drop; 0 for a plunger

	// A secondary is checked from the heel of the primary, where the indicator is set to zero. Heel is the width of that
	// primary in the section (see InSection), 0 when the primary itself is checked.
	Heel          length.Length
	PrimaryRelief length.Angle
}

// Drop returns what the indicator shows for a relief angle, from the facet as it lies in the section: the tip is brought
// to the distance behind the edge, or behind the heel of the primary for a secondary, and stands on the facet there. A
// ball tip of radius p touches the facet before its centre is over the place; a lever-type indicator shows the drop over
// cos(lever). From straight facets and a pointed tip, with D = 2R the diameter and s the distance, that is
//
//	flat, turned      d = R (1 - cos a / cos(a - theta)), theta = s/R
//	flat, slid        d = s tan a
//	eccentric, turned d = s tan a
//
// A relief below zero is that of a land which climbs, and so is its drop. Errors: sizes that are not positive, a distance
// that does not leave the edge, a relief that no facet has. Source: plane geometry.
func (r Relief) Drop(relief length.Angle) (length.Length, error) {
	d, err := r.drop(relief.Radians(), r.Distance.Micrometres())
	if err != nil {
		return 0, fmt.Errorf("drop for a relief of %v: %w", relief, err)
	}
	var out results
	drop := out.length(d)
	return drop, out.err
}

// Turn returns how far the tool is turned for the distance: along the circle through the edge, or through the heel.
// Errors: those of Drop.
func (r Relief) Turn() (length.Angle, error) {
	if err := r.check(r.Distance.Micrometres()); err != nil {
		return 0, fmt.Errorf("turn for a distance of %v: %w", r.Distance, err)
	}
	z := r.zero()
	var out results
	turn := out.angle(float64(z.circle) * r.Distance.Micrometres() / z.circle.reach(z.at))
	return turn, out.err
}

// Angle returns the relief angle for an indicated drop (positive when the facet falls away): the one whose Drop it is.
// From straight facets and a pointed tip
//
//	flat, turned      tan a = (R - (R-d) cos theta) / ((R-d) sin theta), theta = s/R
//	flat, slid        tan a = d/s
//	eccentric, turned tan a = d/s; slid, near the edge, tan a = d/s - s/(2R)
//
// and a secondary turned is counted from the tangent at the edge again. Errors: those of Drop, and a drop no facet can
// give.
func (r Relief) Angle(drop length.Length) (length.Angle, error) {
	a, err := r.angle(drop.Micrometres(), r.Distance.Micrometres())
	if err != nil {
		return 0, fmt.Errorf("relief from a drop of %v: %w", drop, err)
	}
	var out results
	angle := out.angle(a)
	return angle, out.err
}

// ReliefUncertainty is the standard uncertainty of a relief angle and what makes it up.
type ReliefUncertainty struct{ Angle, FromDrop, FromDistance length.Angle }

// Uncertainty carries the standard uncertainties of drop and distance through to the angle, first order:
//
//	u(a) = hypot(da/dd u(d), da/ds u(s))
//
// Source: JCGM 100:2008, 5.1.2.
func (r Relief) Uncertainty(drop, uDrop, uDistance length.Length) (ReliefUncertainty, error) {
	u, err := r.uncertainty(drop, uDrop, uDistance)
	if err != nil {
		return ReliefUncertainty{}, fmt.Errorf("uncertainty of a relief: %w", err)
	}
	return u, nil
}

func (r Relief) uncertainty(drop, uDrop, uDistance length.Length) (ReliefUncertainty, error) {
	s := r.Distance.Micrometres()
	a, err := r.angle(drop.Micrometres(), s)
	if err != nil {
		return ReliefUncertainty{}, err
	}
	// Central differences of the drop, which is smooth: good to nine digits.
	const turn, slide = 1e-5, 0.01 // rad, um
	d1, err1 := r.drop(a-turn, s)
	d2, err2 := r.drop(a+turn, s)
	d3, err3 := r.drop(a, s-slide)
	d4, err4 := r.drop(a, s+slide)
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return ReliefUncertainty{}, err
	}
	perAngle, perDistance := (d2-d1)/(2*turn), (d4-d3)/(2*slide)
	fromDrop, fromDistance := uDrop.Micrometres()/math.Abs(perAngle), math.Abs(perDistance/perAngle)*uDistance.Micrometres()
	var out results
	u := ReliefUncertainty{out.angle(math.Hypot(fromDrop, fromDistance)), out.angle(fromDrop), out.angle(fromDistance)}
	return u, out.err
}

// zero is where the indicator is set to zero: the edge, or the heel of the primary.
type zero struct {
	at     point   // the corner in the section
	under  float64 // what the tip's centre stands under the edge's circle, or tangent when slid, at zero
	behind float64 // how far the corner stands behind the edge, along the circle or the tangent
	circle circle
}

// zero returns where the tip is set to zero. A ball over the heel of a primary still rests on the primary.
func (r Relief) zero() zero {
	z := zero{under: -r.Tip.Micrometres()}
	if r.Diameter > 0 {
		z.circle = circle(2 / r.Diameter.Micrometres())
	}
	if r.Heel == 0 {
		return z
	}
	primary := newFacet(r.Form, r.PrimaryRelief.Radians(), r.Wheel.Micrometres()/2, z.circle)
	z.at = primary.along(0, point{}, r.Heel.Micrometres())
	leans := math.Atan(primary.slope(z.at)) // of the primary, from the tangent of the motion
	if r.Motion == Slid {
		z.under, z.behind = z.at.x-r.Tip.Micrometres()/math.Cos(leans), z.at.y
		return z
	}
	leans -= float64(z.circle) * z.circle.around(z.at)
	z.under = z.circle.under(z.at) - r.Tip.Micrometres()/math.Cos(max(0, leans))
	z.behind = z.circle.around(z.at)
	return z
}

// drop is Drop in micrometres and radians.
func (r Relief) drop(relief, distance float64) (float64, error) {
	if err := r.check(distance); err != nil {
		return 0, err
	}
	z := r.zero()
	form := r.Form
	if form == Eccentric && r.Heel > 0 {
		form = Flat
	}
	most := steepest
	if form != Flat {
		most = steepestCurved
	}
	if !(math.Abs(relief) <= most) {
		return 0, fmt.Errorf("want a relief of %.0f degrees at most", most*180/math.Pi)
	}
	f := newFacet(form, relief, r.Wheel.Micrometres()/2, z.circle)
	level := f.level(z.at)
	p := r.Tip.Micrometres()
	centre := func(y float64) point { // of a tip that touches the facet at y
		t := f.at(level, y)
		sin, cos := math.Sincos(math.Atan(f.slope(t)))
		return point{t.x - p*cos, y + p*sin}
	}
	// Turned, the distance is along the circle through the corner.
	place, behind, under := z.behind+distance, func(c point) float64 { return c.y }, func(c point) float64 { return c.x }
	if r.Motion == Turned {
		place = z.behind + distance/z.circle.reach(z.at)
		behind, under = z.circle.around, z.circle.under
	}
	off := func(y float64) float64 { return behind(centre(y)) - place }
	from, to := z.at.y-distance, z.at.y+distance
	for n := 0; off(to) < 0; n++ {
		if from, to = to, to+distance; n > 40 {
			return 0, errors.New("no facet lies under the tip there")
		}
	}
	for n := 0; off(from) > 0; n++ {
		if from -= distance; n > 40 {
			return 0, errOnCorner
		}
	}
	y := solve(from, to, off)
	if y < z.at.y {
		return 0, errOnCorner
	}
	return (under(centre(y)) - z.under) / math.Cos(r.Lever.Radians()), nil
}

// angle is Angle in micrometres and radians.
func (r Relief) angle(indicated, distance float64) (float64, error) {
	if err := r.check(distance); err != nil {
		return 0, err
	}
	most := steepest
	if r.Form == Hollow || r.Form == Eccentric && r.Heel == 0 {
		most = steepestCurved
	}
	// The drop rises with the relief: from a relief near by, on to one that drops more and one that drops less.
	short := func(a float64) (float64, error) {
		d, err := r.drop(a, distance)
		return d - indicated, err
	}
	const step = 3 * math.Pi / 180
	z := r.zero()
	near := math.Atan2(indicated*math.Cos(r.Lever.Radians()), distance)
	if r.Motion == Turned {
		near += float64(z.circle) * z.behind // the tangent at the heel leans by this
	}
	near = max(-most, min(most, near))
	at, err := short(near)
	for n := 0; errors.Is(err, errOnCorner) && n < 40; n++ {
		near = max(-most, near-step)
		at, err = short(near)
	}
	if err != nil {
		return 0, err
	}
	other, beyond := near, at
	for beyond != 0 && (beyond > 0) == (at > 0) {
		next := max(-most, min(most, other-math.Copysign(step, at)))
		if next == other {
			return 0, fmt.Errorf("no %s facet with a relief of %.0f degrees or less gives it", r.Form, most*180/math.Pi)
		}
		other = next
		if beyond, err = short(other); err != nil {
			return 0, err
		}
	}
	if other == near {
		return near, nil
	}
	return solve(near, other, func(a float64) float64 { d, _ := short(a); return d }), nil
}

// check refuses what no check of relief can be; distance is in micrometres.
func (r Relief) check(distance float64) error {
	needsDiameter := r.Motion == Turned || r.Form == Eccentric
	switch {
	case r.Diameter < 0 || needsDiameter && r.Diameter == 0:
		return fmt.Errorf("diameter is %v; want more than zero", r.Diameter)
	case distance <= 0:
		return fmt.Errorf("checking distance is %v; want more than zero", r.Distance)
	case needsDiameter && distance >= r.Diameter.Micrometres()/2:
		return fmt.Errorf("checking distance %v is no less than the radius; check nearer to the edge", r.Distance)
	case r.Form != Flat && r.Diameter > 0 && distance > farthestCurved*r.Diameter.Micrometres()/2:
		return fmt.Errorf("checking distance %v is more than a fifth of the radius; check a curved facet nearer to the edge", r.Distance)
	case r.Tip < 0 || r.Heel < 0:
		return fmt.Errorf("tip radius %v, heel %v: want no less than zero", r.Tip, r.Heel)
	case r.Heel > 0 && r.Diameter > 0 && r.Heel >= r.Diameter/2:
		return fmt.Errorf("heel %v behind the edge is no less than the radius", r.Heel)
	case r.Heel > 0 && !between0and90(r.PrimaryRelief):
		return fmt.Errorf("primary relief is %v; want between 0 and 90 degrees", r.PrimaryRelief)
	case r.Lever != 0 && !between0and90(r.Lever):
		return fmt.Errorf("lever angle is %v; want from 0 to under 90 degrees", r.Lever)
	}
	return checkForm(r.Form, r.Wheel, r.Diameter)
}

func between0and90(a length.Angle) bool { return a > 0 && a < 90*length.Degree }
