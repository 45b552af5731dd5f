package geometry

import (
	"math"
	"testing"

	"flutelog/inspect/length"
)

// Heights of a plane through the origin, tilted about a line: z = q tan(tilt) cos(angle - direction).
func TestEndTilt(t *testing.T) {
	const radius = 5000.0
	for flutes := 3; flutes <= maxFlutes; flutes++ {
		for _, tilt := range []float64{0.01, 0.1, 1} {
			heights := make([]length.Length, flutes)
			for k, a := range EqualAngles(flutes) {
				heights[k] = micrometres(radius * math.Tan(tilt*math.Pi/180) * math.Cos(a.Radians()-1))
			}
			got, err := EndTilt(mustFit(t, heights, nil), micrometres(radius))
			if err != nil {
				t.Fatal(err)
			}
			nearAngle(t, "tilt", got, degrees(tilt), degrees(1e-7))
		}
	}
	_, err := EndTilt(Runout{}, 0)
	wantError(t, err, "radius")
}
