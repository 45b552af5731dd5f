package length

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// Angle is an angle in billionths of a degree, so that every angle a person types is exact: a base unit of
// radians could not hold one whole degree.
type Angle int64

// Degree is one degree; a full turn is 360 of them.
const Degree Angle = 1_000_000_000

// ParseAngle reads one angle in degrees, such as 9, 9.5, 9.5deg or 9.5°. It refuses what Parse refuses for
// lengths, and more than nine decimals.
func ParseAngle(s string) (Angle, error) {
	text := strings.TrimSpace(s)
	for _, unit := range []string{"°", "degrees", "deg", "DEG"} {
		if number, ok := strings.CutSuffix(text, unit); ok {
			text = strings.TrimSpace(number)
			break
		}
	}
	n := numberEnd(text)
	if n < len(text) {
		why := "not an angle in degrees"
		switch rest := strings.TrimSpace(text[n:]); {
		case n > 0 && rest[0] == ',':
			why = "decimal comma; write a point, as in 9.5"
		case n > 0 && (rest[0] == 'e' || rest[0] == 'E'):
			why = "exponents are not taken; write the number out"
		}
		return 0, fmt.Errorf("angle %q: %s", s, why)
	}
	v, err := scaled(text, uint64(Degree))
	if err != nil {
		if errors.Is(err, errTooFine) {
			err = errors.New("more than nine decimals of a degree")
		}
		return 0, fmt.Errorf("angle %q: %w", s, err)
	}
	return Angle(v), nil
}

// Format prints a in degrees with a fixed number of decimals and without a unit.
func (a Angle) Format(decimals int) string { return formatScaled(int64(a), uint64(Degree), decimals) }

// String prints a exactly, in degrees without trailing zeros: "9.5deg".
func (a Angle) String() string {
	s := a.Format(9)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".") + "deg"
}

// MarshalText writes a as String does.
func (a Angle) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// UnmarshalText reads an angle in degrees.
func (a *Angle) UnmarshalText(text []byte) error {
	v, err := ParseAngle(string(text))
	if err == nil {
		*a = v
	}
	return err
}

// Degrees returns a in degrees, for trigonometry and printing of rounded results only.
func (a Angle) Degrees() float64 { return float64(a) / float64(Degree) }

// Radians returns a in radians, for trigonometry only.
func (a Angle) Radians() float64 { return a.Degrees() * math.Pi / 180 }

// FromRadians takes the result of a calculation back to an Angle, rounded to a billionth of a degree. It
// refuses NaN, infinities and values an Angle cannot hold.
func FromRadians(f float64) (Angle, error) {
	v := math.Round(f * 180 / math.Pi * float64(Degree))
	if math.IsNaN(v) || math.Abs(v) > most {
		return 0, fmt.Errorf("%v rad is not an angle", f)
	}
	return Angle(v), nil
}
