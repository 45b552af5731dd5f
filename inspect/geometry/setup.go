package geometry

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// ClearanceOffset returns how far the grinder is set off to grind a radial relief a:
//
//	(D/2) sin a
//
// With a cup wheel D is the cutter's diameter and the offset is the tooth rest below the cutter's centre. With
// a disc wheel D is the wheel's and the offset is the wheel's centre above the cutter's. Errors: a diameter
// that is not positive, a relief outside 0 to 90 degrees. Source: plane geometry; US Navy "Machinery
// Repairman" gives the small-angle rule for it.
func ClearanceOffset(diameter length.Length, relief length.Angle) (length.Length, error) {
	if err := checkOffset(diameter, relief); err != nil {
		return 0, fmt.Errorf("clearance offset: %w", err)
	}
	var out results
	offset := out.length(diameter.Micrometres() / 2 * math.Sin(relief.Radians()))
	return offset, out.err
}

// OffsetRelief returns the radial relief that an offset of ClearanceOffset grinds:
//
//	asin(offset / (D/2))
//
// Errors: a diameter that is not positive, an offset outside zero to half of it.
func OffsetRelief(diameter, offset length.Length) (length.Angle, error) {
	if diameter <= 0 || offset < 0 || offset > diameter/2 {
		return 0, fmt.Errorf("relief of an offset: offset %v at diameter %v; want zero to half the diameter", offset, diameter)
	}
	var out results
	relief := out.angle(math.Asin(float64(offset) / (float64(diameter) / 2)))
	return relief, out.err
}

// OffsetSensitivity returns how much the relief ground changes when the offset of ClearanceOffset is off by an
// error, to first order:
//
//	da = error / ((D/2) cos a)
func OffsetSensitivity(diameter length.Length, relief length.Angle, off length.Length) (length.Angle, error) {
	if err := checkOffset(diameter, relief); err != nil {
		return 0, fmt.Errorf("sensitivity of the clearance offset: %w", err)
	}
	var out results
	change := out.angle(off.Micrometres() / (diameter.Micrometres() / 2 * math.Cos(relief.Radians())))
	return change, out.err
}

func checkOffset(diameter length.Length, relief length.Angle) error {
	if diameter <= 0 {
		return fmt.Errorf("diameter is %v; want more than zero", diameter)
	}
	if !between0and90(relief) {
		return fmt.Errorf("relief is %v; want between 0 and 90 degrees", relief)
	}
	return nil
}

// HelixTurn returns the angle about the axis that a helical edge turns through over a distance along it:
//
//	x tan L / R
//
// It is also how far a tooth is turned by a rest fixed to the wheelhead that stands x along the axis from
// the wheel's contact, and the phase of the flutes between two planes. The helix is signed as SignedHelix does. Errors: a diameter that is not positive, a helix
// not inside 90 degrees either way. Source: development of the helix.
func HelixTurn(along, diameter length.Length, helix length.Angle) (length.Angle, error) {
	if diameter <= 0 {
		return 0, fmt.Errorf("turn of the helix: diameter is %v; want more than zero", diameter)
	}
	if err := checkHelix(helix); err != nil {
		return 0, fmt.Errorf("turn of the helix: %w", err)
	}
	var out results
	turn := out.angle(along.Micrometres() * math.Tan(helix.Radians()) / (diameter.Micrometres() / 2))
	return turn, out.err
}

// SignedHelix returns a helix with the sign that HelixTurn takes: positive when helix and cut are of the same hand, as on
// a right-hand cutter with a right-hand helix. The flutes then stand later, at larger angles, the farther they are
// from the end. A left-hand tool is the mirror image of a right-hand one and has the same sign.
func SignedHelix(helix length.Angle, hand, cut Hand) length.Angle {
	if hand != cut {
		return -helix
	}
	return helix
}

func checkHelix(helix length.Angle) error {
	if helix <= -90*length.Degree || helix >= 90*length.Degree {
		return fmt.Errorf("helix is %v; want within 90 degrees", helix)
	}
	return nil
}

// Speed is a surface speed in metres per second.
type Speed float64

// FeetPerMinute returns s in feet per minute, as speeds stand on inch wheels.
func (s Speed) FeetPerMinute() float64 { return float64(s) * 60 / 0.3048 }

// SurfaceSpeed returns the speed of a wheel's rim at turns per minute:
//
//	v = pi D n
//
// The speed marked on the wheel is never exceeded, in turns per minute or as surface speed, whichever is
// marked. Errors: a diameter or speed that is not positive.
func SurfaceSpeed(wheel length.Length, rpm float64) (Speed, error) {
	if wheel <= 0 || !(rpm > 0) || math.IsInf(rpm, 0) {
		return 0, fmt.Errorf("surface speed: wheel %v at %v turns a minute; want both more than zero", wheel, rpm)
	}
	return Speed(math.Pi * wheel.Micrometres() / 1e6 * rpm / 60), nil
}

// TaperedRest is a tooth rest set for the middle of a tapered tool: it gives more relief at the small end and less at
// the large one.
type TaperedRest struct {
	Rest       length.Length // below the cutter's centre
	End, Shank length.Angle  // the relief that it gives at the end of the tool and at the other end of its edges
}

// RestOfTaper returns the tooth rest that grinds a radial relief in the middle of a taper, at a cup wheel, and the relief
// that it gives at both ends:
//
//	rest = (D middle / 2) sin a;  sin a' = 2 rest / D
//
// diameter is that at the end of the tool, along the length of the edges along the axis, taper that per side, less than
// zero where the tool is smaller toward the shank. Errors: sizes that are not positive, a taper that leaves no tool.
func RestOfTaper(diameter, along length.Length, taper, relief length.Angle) (TaperedRest, error) {
	if along <= 0 {
		return TaperedRest{}, fmt.Errorf("rest of a taper: %v along the edges; want more than zero", along)
	}
	more, err := TaperOf(along, taper)
	if err != nil {
		return TaperedRest{}, fmt.Errorf("rest of a taper: %w", err)
	}
	var t TaperedRest
	if t.Rest, err = ClearanceOffset(diameter+more/2, relief); err == nil {
		t.End, err = OffsetRelief(diameter, t.Rest)
	}
	if err == nil {
		t.Shank, err = OffsetRelief(diameter+more, t.Rest)
	}
	if err != nil {
		return TaperedRest{}, fmt.Errorf("rest of a taper: %w", err)
	}
	return t, nil
}

// UsualSpeed returns the surface speed over which wheels of a bond are not usually run: 6500 ft/min for a vitrified
// straight wheel and for a bond that is not stated, 9500 for resin. The speed marked on the wheel always governs. Source:
// ANSI B7.1, from memory, unverified.
func UsualSpeed(bond string) Speed {
	const footPerMinute = Speed(0.3048 / 60)
	if bond == "resin" {
		return 9500 * footPerMinute
	}
	return 6500 * footPerMinute
}
