package geometry

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// EndTilt returns the tilt of the plane of the end teeth against the axis. The first harmonic of heights read
// along the axis at radius q is a tilt, not an offset:
//
//	atan(e / q)
//
// run is FitRunout of the axial heights, all read at that radius near the corner. Errors: a radius that is
// not positive.
func EndTilt(run Runout, radius length.Length) (length.Angle, error) {
	if radius <= 0 {
		return 0, fmt.Errorf("tilt of the end: radius is %v; want more than zero", radius)
	}
	var out results
	tilt := out.angle(math.Atan2(float64(run.Eccentricity), float64(radius)))
	return tilt, out.err
}

// Dish returns the angle by which an end tooth falls from the corner towards the axis, from its heights along
// the axis at two radii:
//
//	tan = (r outer - r inner) / (q outer - q inner)
//
// Heights are plus away from the shank, so that a dished end is positive. Errors: an outer radius that is not
// larger than the inner one, an inner one below zero.
func Dish(outer, inner, outerRadius, innerRadius length.Length) (length.Angle, error) {
	if innerRadius < 0 || outerRadius <= innerRadius {
		return 0, fmt.Errorf("dish: radii %v outer and %v inner; want the outer larger and none below zero", outerRadius, innerRadius)
	}
	var out results
	dish := out.angle(math.Atan2(float64(outer-inner), float64(outerRadius-innerRadius)))
	return dish, out.err
}
