package geometry

import (
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/length"
)

// closestFlutes is the least angle between two flutes that is believed. Teeth of an end mill never stand so
// close (common practice, no source); angles typed in radians do.
const closestFlutes = 5 * length.Degree

// Runout is what one high point per flute, all at one distance from the end, tells of how the edges run
// about the axis.
type Runout struct {
	TIR           length.Length
	Mean          length.Length // height of the fitted circle: the mean reading when the pitch is equal
	Eccentricity  length.Length
	Concentricity length.Length   // twice the eccentricity
	Direction     length.Angle    // where the fit is highest, from flute 1's angle 0; 0 up to 360 degrees
	HasDirection  bool            // false when there is no eccentricity to point anywhere
	Residuals     []length.Length // height above the fit, per flute: the tooth-to-tooth error
	ResidualTIR   length.Length
	ResidualDF    int  // degrees of freedom of the residuals: flutes - 3, and 0 for 2 flutes
	Partial       bool // two flutes: only the component along the line through both edges is seen
}

// EqualAngles returns the angles of equally spaced flutes in degrees: 0, 360/flutes and so on, rounded to
// a billionth of a degree.
func EqualAngles(flutes int) []length.Angle {
	angles := make([]length.Angle, flutes)
	n := length.Angle(flutes)
	for i := range angles {
		angles[i] = (360*length.Degree*length.Angle(i) + n/2) / n
	}
	return angles
}

// TIR returns the total indicator reading of one full turn:
//
//	max r[k] - min r[k]
//
// heights holds one reading per flute at one distance from the end, in any order, at least one. Source:
// circular run-out of ISO 1101, taken on the edges only.
func TIR(heights []length.Length) length.Length {
	return slices.Max(heights) - slices.Min(heights)
}

// FitRunout returns TIR and eccentricity of 2 to 12 flutes by least squares:
//
//	r[k] = r0 + a cos t[k] + b sin t[k]
//	eccentricity hypot(a, b), direction atan2(b, a), concentricity 2 hypot(a, b)
//
// heights holds the high point of each flute, angles where each flute stands about the axis; nil is equal
// pitch. Two flutes give the smallest eccentricity that explains both. Three fit exactly, so an offset
// cannot be told from an error of the teeth, and the concentricity can reach 4/3 of the TIR; the residuals
// mean something from four on. An eccentricity below half a picometre is none and has no direction.
//
// Errors name the flute. Source: least-squares first harmonic, as in ISO 12181.
func FitRunout(heights []length.Length, angles []length.Angle) (Runout, error) {
	if err := checkPitch(len(heights), angles); err != nil {
		return Runout{}, fmt.Errorf("runout: %w", err)
	}
	radians := pitch(len(heights), angles)
	above := length.Micrometres(less(heights, heights[0]))
	r0, a, b := firstHarmonic(above, radians)

	var out results
	e := math.Hypot(a, b)
	run := Runout{
		TIR:           TIR(heights),
		Mean:          heights[0] + out.length(r0),
		Eccentricity:  out.length(e),
		Concentricity: out.length(2 * e),
		ResidualDF:    max(0, len(heights)-3),
		Partial:       len(heights) == 2,
	}
	if run.Eccentricity > 0 {
		run.Direction, run.HasDirection = out.direction(math.Atan2(b, a)), true
	} else {
		run.Concentricity = 0
	}
	for i, t := range radians {
		run.Residuals = append(run.Residuals, out.length(above[i]-r0-a*math.Cos(t)-b*math.Sin(t)))
	}
	run.ResidualTIR = TIR(run.Residuals)
	if out.err != nil {
		return Runout{}, fmt.Errorf("runout: %w", out.err)
	}
	return run, nil
}

// checkPitch checks the count of flutes, and angles against it; nil angles are equal pitch.
func checkPitch(flutes int, angles []length.Angle) error {
	if err := checkFlutes(flutes, 2); err != nil || angles == nil {
		return err
	}
	if len(angles) != flutes {
		return fmt.Errorf("%d angles for %d flutes", len(angles), flutes)
	}
	for i, a := range angles {
		for j, b := range angles[:i] {
			apart := turned(a - b)
			if min(apart, 360*length.Degree-apart) < closestFlutes {
				return fmt.Errorf("flute %d at %v stands within %v of flute %d at %v; give angles in degrees", i+1, a, closestFlutes, j+1, b)
			}
		}
	}
	return nil
}

// pitch returns the angle of each flute in radians; nil angles are equal pitch, to the last bit.
func pitch(flutes int, angles []length.Angle) []float64 {
	radians := make([]float64, flutes)
	for i := range radians {
		if angles == nil {
			radians[i] = 2 * math.Pi * float64(i) / float64(flutes)
		} else {
			radians[i] = angles[i].Radians()
		}
	}
	return radians
}

// less returns each length with zero taken off it: exact, so that a large common height costs no digits.
func less(ls []length.Length, zero length.Length) []length.Length {
	out := make([]length.Length, len(ls))
	for i, l := range ls {
		out[i] = l - zero
	}
	return out
}

// firstHarmonic fits r0 + a cos t + b sin t by least squares: the normal equations of the cosines and sines
// taken from their means. Two points leave a line of solutions, of which it returns the shortest (a, b).
func firstHarmonic(r, t []float64) (r0, a, b float64) {
	n := float64(len(r))
	var rm, cm, sm float64
	for i := range r {
		rm += r[i] / n
		cm += math.Cos(t[i]) / n
		sm += math.Sin(t[i]) / n
	}
	var cc, cs, ss, rc, rs float64
	for i := range r {
		c, s, h := math.Cos(t[i])-cm, math.Sin(t[i])-sm, r[i]-rm
		cc, cs, ss = cc+c*c, cs+c*s, ss+s*s
		rc, rs = rc+h*c, rs+h*s
	}
	if len(r) == 2 {
		// The matrix has rank one and its trace is the one eigenvalue that is not zero.
		a, b = rc/(cc+ss), rs/(cc+ss)
	} else {
		det := cc*ss - cs*cs
		a, b = (rc*ss-rs*cs)/det, (rs*cc-rc*cs)/det
	}
	return rm - a*cm - b*sm, a, b
}
