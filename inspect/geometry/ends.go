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
