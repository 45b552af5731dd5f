// Package length holds exact lengths and angles: integers in a base unit so small that whatever a person
// can type and a gauge can show is a whole number of it. Nothing here is a float except the accessors
// that hand a value to statistics or trigonometry and the two functions that take the result back.
package length

import (
	"errors"
	"fmt"
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// Length is a length in picometres. One inch is 25 400 000 000 pm, so every inch value of up to eight
// decimals and every millimetre value of up to nine is exact. Zero is a real length: "no reading" is a
// missing element or a bool, never Length(0).
type Length int64

const (
	Picometre  Length = 1
	Nanometre         = 1000 * Picometre
	Micrometre        = 1000 * Nanometre
	Millimetre        = 1000 * Micrometre
	Inch              = 25_400 * Micrometre
	Thou              = Inch / 1000  // a thousandth of an inch
	Tenth             = Inch / 10000 // a tenth of a thou
)

// Unit is a unit that lengths are typed and printed in. The zero Unit is no unit: parsing with it as the
// default refuses a bare number.
type Unit string

const (
	None   Unit = ""
	In     Unit = "in"
	Mm     Unit = "mm"
	Um     Unit = "um"
	Thous  Unit = "thou"
	Tenths Unit = "tenths" // ten-thousandths of an inch
)

const unitNames = "in, mm, um, thou or tenths"

// ParseUnit reads a unit's name: in, mm, um, thou or tenths, and how a shop writes them.
func ParseUnit(s string) (Unit, error) {
	u := unitWords[strings.ToLower(signs.Replace(s))]
	if u.Size() == 0 {
		return None, fmt.Errorf("unit %q: want %s", s, unitNames)
	}
	return u, nil
}

// Size returns how long one of a unit is; 0 of no unit.
func (u Unit) Size() Length {
	switch u {
	case In:
		return Inch
	case Mm:
		return Millimetre
	case Um:
		return Micrometre
	case Thous:
		return Thou
	case Tenths:
		return Tenth
	}
	return 0
}

// Metric says whether u is a metric unit.
func (u Unit) Metric() bool { return u == Mm || u == Um }

// Decimals returns how many decimals a value in u is printed with, so that columns line up: fine enough
// for a tenth of the resolution of the gauges used at a bench (0.00001 in, 0.1 um).
func (u Unit) Decimals() int {
	switch u {
	case In:
		return 5
	case Mm:
		return 4
	case Um:
		return 1
	case Thous:
		return 2
	case Tenths:
		return 1
	}
	return 9
}

// UCUM returns the unit's code in the Unified Code for Units of Measure, case-sensitive form; a thou is UCUM's mil, and
// tenths, which have none of their own, are given as multiples of the inch.
func (u Unit) UCUM() string {
	switch u {
	case In:
		return "[in_i]"
	case Thous:
		return "[mil_i]"
	case Tenths:
		return "10*-4.[in_i]"
	}
	return string(u)
}

// Parse reads one length as Entry does, a bare number in def; with None a number without a unit is refused. It
// refuses exponents, words such as NaN, more than one number, values that are not a whole number of picometres and
// values beyond a kilometre.
func Parse(s string, def Unit) (Length, error) {
	v, _, err := ParseWithUnit(s, def)
	return v, err
}

// ParsePlain reads a number as gauges and programs write it, in unit: an optional sign, digits and at most one point.
func ParsePlain(number string, unit Unit) (Length, error) {
	if unit.Size() == 0 {
		return 0, fmt.Errorf("no unit; want %s", unitNames)
	}
	v, err := scaled(number, uint64(unit.Size()))
	return Length(v), err
}

// ParseWithUnit is Parse that also returns the unit the number was given in.
func ParseWithUnit(s string, def Unit) (Length, Unit, error) {
	// What a program wrote is read at once; all else is read as Entry does.
	n := numberEnd(s)
	unit := def
	if n < len(s) {
		unit = Unit(s[n:])
	}
	if unit != Tenths {
		if v, err := ParsePlain(s[:n], unit); err == nil {
			return v, unit, nil
		}
	}
	t, err := Entry{Unit: def}.Parse(s)
	if err != nil {
		return 0, None, err
	}
	return t.Value, t.Unit, nil
}

func numberEnd(s string) int {
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= '0' && c <= '9' || c == '.' || i == 0 && (c == '-' || c == '+') {
			continue
		}
		return i
	}
	return len(s)
}

var errTooFine = errors.New("too fine")

// most bounds what is parsed: a kilometre, a million degrees. Sums and differences of thousands of parsed
// values then cannot overflow.
const most = 1_000_000_000_000_000

// scaled returns number × size, exactly. number is an optional sign, digits and at most one point with
// at least one digit.
func scaled(number string, size uint64) (int64, error) {
	digits := number
	negative := false
	if digits != "" && (digits[0] == '-' || digits[0] == '+') {
		negative = digits[0] == '-'
		digits = digits[1:]
	}
	whole, fraction, _ := strings.Cut(digits, ".")
	if whole+fraction == "" {
		return 0, errors.New("not a number")
	}
	if strings.Contains(fraction, ".") {
		return 0, errors.New("more than one decimal point")
	}
	part, err := fractionOf(strings.TrimRight(fraction, "0"), size)
	if err != nil {
		return 0, err
	}
	n, err := strconv.ParseUint("0"+whole, 10, 64)
	if errors.Is(err, strconv.ErrSyntax) {
		return 0, errors.New("not a number")
	}
	high, low := bits.Mul64(n, size)
	if err != nil || high > 0 || low > most || low+part > most {
		return 0, errors.New("too large")
	}
	v := int64(low + part)
	if negative {
		v = -v
	}
	return v, nil
}

// fractionOf returns 0.digits × size, exactly. No size has more than twelve factors of ten to give.
func fractionOf(digits string, size uint64) (uint64, error) {
	if digits == "" {
		return 0, nil
	}
	if len(digits) > 12 {
		return 0, errTooFine
	}
	n, err := strconv.ParseUint(digits, 10, 64)
	if err != nil {
		return 0, errors.New("not a number")
	}
	high, low := bits.Mul64(n, size)
	part, rest := bits.Div64(high, low, powerOfTen(len(digits)))
	if rest != 0 {
		return 0, errTooFine
	}
	return part, nil
}

func powerOfTen(n int) uint64 {
	p := uint64(1)
	for range n {
		p *= 10
	}
	return p
}

// Format prints l in unit u with a fixed number of decimals, rounded half away from zero, and without the
// unit's name, so that columns line up: Format(In, 5) of 12.7 um is 0.00050.
func (l Length) Format(u Unit, decimals int) string {
	return formatScaled(int64(l), uint64(u.Size()), decimals)
}

// In returns l in unit u, with its usual decimals and the unit's name: "0.00050 in".
func (l Length) In(u Unit) string { return l.Format(u, u.Decimals()) + " " + string(u) }

// formatScaled prints v/size with up to 18 decimals, rounded half away from zero.
func formatScaled(v int64, size uint64, decimals int) string {
	magnitude := uint64(v)
	if v < 0 {
		magnitude = -magnitude
	}
	one := powerOfTen(decimals)
	whole := magnitude / size
	high, low := bits.Mul64(magnitude%size, one)
	fraction, rest := bits.Div64(high, low, size)
	if rest >= size-rest {
		fraction++
	}
	if fraction == one {
		whole, fraction = whole+1, 0
	}
	var text []byte
	if v < 0 && (whole > 0 || fraction > 0) {
		text = append(text, '-')
	}
	text = strconv.AppendUint(text, whole, 10)
	if decimals > 0 {
		// 1 and the fraction's digits: the 1 keeps the leading zeros and makes way for the point
		at := len(text)
		text = strconv.AppendUint(text, one+fraction, 10)
		text[at] = '.'
	}
	return string(text)
}

// String prints l exactly, in millimetres without trailing zeros: "0.0127mm". Parse reads it back.
func (l Length) String() string {
	s := l.Format(Mm, 9)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".") + "mm"
}

// MarshalText writes l as String does: this is how lengths stand in the ledger.
func (l Length) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads a length with its unit.
func (l *Length) UnmarshalText(text []byte) error {
	v, err := Parse(string(text), None)
	if err == nil {
		*l = v
	}
	return err
}

// Micrometres returns l in micrometres, for statistics and trigonometry only.
func (l Length) Micrometres() float64 { return float64(l) / float64(Micrometre) }

// Abs returns l without its sign.
func (l Length) Abs() Length {
	if l < 0 {
		return -l
	}
	return l
}

// Micrometres returns each length in micrometres, for statistics and trigonometry only.
func Micrometres(ls []Length) []float64 {
	fs := make([]float64, len(ls))
	for i, l := range ls {
		fs[i] = l.Micrometres()
	}
	return fs
}

// FromMicrometres takes the result of a calculation back to a Length, rounded to the nearest picometre.
// It refuses NaN, infinities and values a Length cannot hold.
func FromMicrometres(f float64) (Length, error) {
	v := math.Round(f * float64(Micrometre))
	if math.IsNaN(v) || math.Abs(v) > most {
		return 0, fmt.Errorf("%v um is not a length", f)
	}
	return Length(v), nil
}

// Number returns l in unit u as a JSON number with nine decimals.
func (l Length) Number(u Unit) Number { return Number(l.Format(u, 9)) }

// Number is a decimal number that stands in JSON as it is written, without passing through a float.
type Number string

// MarshalJSON writes the number's digits.
func (n Number) MarshalJSON() ([]byte, error) {
	if _, err := strconv.ParseFloat(string(n), 64); err != nil {
		return nil, fmt.Errorf("number %q: not a number", string(n))
	}
	return []byte(n), nil
}
