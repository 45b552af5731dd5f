package geometry

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/length"
)

// Diameter is a cutter's diameter by comparison with a master.
type Diameter struct {
	Max          length.Length // over the highest tooth
	HasMax       bool          // false where the way of reading shows only a mean
	Mean         length.Length
	RadiusOffset length.Length // half of Max, or of Mean where there is no Max: what the machinist enters
}

// DiameterOverMaster returns the diameter read about one axis with the indicator that read a master pin there:
//
//	D = Dm + 2 (max r - master), and with the mean of r beside it
//
// heights holds the high point of each flute, 1 to 12 of them. Errors: a master that is not positive, a
// diameter that would not be.
func DiameterOverMaster(master, masterReading length.Length, heights []length.Length) (Diameter, error) {
	return compareDiameter(master, masterReading, heights, 2, true)
}

// DiameterInVee returns the diameter of a cutter seated on its teeth in a vee of included angle v, with the
// indicator on the tooth at the top, where it read a master pin:
//
//	D = Dm + 2 dh / (1 + 1/sin(v/2))
//
// heights holds the reading with each tooth at the top. A vee fits when teeth stand on both its sides and at the
// top: 180 - 360/N degrees fits an odd N (60 for 3, 108 for 5). Seated on its teeth a cutter has no axis, so the
// largest reading leaves an offset out; and in a vee of 60 degrees the three teeth that carry and are
// read stand 120 degrees apart and read alike at every position, so there only the mean exists. Errors:
// those of DiameterOverMaster, and a vee that does not fit the flutes. Source: plane geometry.
func DiameterInVee(master, masterReading length.Length, heights []length.Length, vee length.Angle) (Diameter, error) {
	if vee <= 0 || vee >= 180*length.Degree {
		return Diameter{}, fmt.Errorf("diameter: vee of %v; want between 0 and 180 degrees", vee)
	}
	// The sides are touched this far round from the top.
	touched := 90*length.Degree + vee/2
	between := touched.Degrees() / 360 * float64(len(heights))
	if offTooth := math.Abs(between-math.Round(between)) * 360 / float64(len(heights)); !(offTooth <= 0.5) {
		return Diameter{}, fmt.Errorf("diameter: %d flutes do not seat in a vee of %v with a tooth at the top; compare over a master pin, about an axis", len(heights), vee)
	}
	alike := (touched - 120*length.Degree).Degrees()
	return compareDiameter(master, masterReading, heights, 2/(1+1/math.Sin(vee.Radians()/2)), math.Abs(alike) > 0.5)
}

func compareDiameter(master, masterReading length.Length, heights []length.Length, perHeight float64, hasMax bool) (Diameter, error) {
	if err := checkFlutes(len(heights), 1); err != nil {
		return Diameter{}, fmt.Errorf("diameter: %w", err)
	}
	if master <= 0 {
		return Diameter{}, fmt.Errorf("diameter: master is %v; want more than zero", master)
	}
	above := length.Micrometres(less(heights, masterReading))
	sum := 0.0
	for _, h := range above {
		sum += h
	}
	var out results
	d := Diameter{HasMax: hasMax, Mean: master + out.length(perHeight*sum/float64(len(above)))}
	d.RadiusOffset = d.Mean / 2
	if hasMax {
		d.Max = master + out.length(perHeight*slices.Max(above))
		d.RadiusOffset = d.Max / 2
	}
	if out.err == nil && d.RadiusOffset <= 0 {
		out.err = errors.New("the readings lie farther under the master than its radius; check the sense of the indicator")
	}
	if out.err != nil {
		return Diameter{}, fmt.Errorf("diameter: %w", out.err)
	}
	return d, nil
}

// FittingVee returns the included angle of the vee that fits an odd number of flutes, from 3:
//
//	v = 180 - 360/N
//
// 60 degrees for 3, 108 for 5. It is false for an even number, which a two-anvil micrometer reads, and for one flute.
func FittingVee(flutes int) (length.Angle, bool) {
	if flutes < 3 || flutes%2 == 0 {
		return 0, false
	}
	return 180*length.Degree - 360*length.Degree/length.Angle(flutes), true
}

// LengthOverMaster returns a cutter's length offset by comparison with a master of known length, from the
// highest end tooth:
//
//	L = Lm + max r - master
//
// heights are read along the axis, plus away from the shank, at least one.
func LengthOverMaster(master, masterReading length.Length, heights []length.Length) length.Length {
	return master + slices.Max(heights) - masterReading
}
