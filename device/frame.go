package device

import (
	"errors"
	"fmt"
	"math/big"
	"regexp"
	"slices"
	"strings"
	"time"

	"flutelog/inspect/length"
)

// Frame is one reading as the gauge sent it.
type Frame struct {
	Raw        string        // the bytes, without what ends the frame
	Text       string        // the gauge's own digits, with its sign
	Value      length.Length // with the profile's scale and sense
	Unit       length.Unit   // the unit the gauge showed
	Resolution length.Length // the profile's, or one step of the last decimal
	At         time.Time     // when the last byte was read
}

// Why a frame is refused. A refused frame is never a reading; what was refused and why comes as a *Refused.
var (
	ErrNoMatch    = errors.New("the frame does not match the pattern")
	ErrOverRange  = errors.New("the gauge is out of its range")
	ErrLowBattery = errors.New("the gauge's battery is low")
	ErrStatus     = errors.New("the gauge sends a status that is not good")
	ErrUnit       = errors.New("the gauge shows another unit")
	ErrDecimals   = errors.New("the number of decimals has changed")
	ErrTooSoon    = errors.New("two different readings within the quiet time")
	ErrTooLong    = errors.New("the frame does not end")
	ErrUnfinished = errors.New("the frame broke off")
	ErrNumber     = errors.New("the number cannot be taken")
)

// Refused is a frame that was refused. It unwraps to one of the reasons above.
type Refused struct {
	Raw string
	At  time.Time
	Err error
}

// Error quotes the frame and says why it was refused.
func (r *Refused) Error() string { return fmt.Sprintf("frame %q refused: %v", r.Raw, r.Err) }

// Unwrap returns the reason.
func (r *Refused) Unwrap() error { return r.Err }

// Decoder makes frames of a gauge's bytes.
type Decoder struct {
	profile                   Profile
	pattern                   *regexp.Regexp
	value, sign, unit, status int // numbers of the groups, below 0 where the pattern has none
	scale                     *big.Rat
	scaleDecimals             int
}

// NewDecoder returns a decoder for the gauge that p describes, or says what is wrong with p.
func NewDecoder(p Profile) (*Decoder, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	p = p.WithDefaults()
	re, err := compile(p.Pattern)
	if err != nil {
		return nil, err
	}
	d := &Decoder{
		profile: p,
		pattern: re,
		value:   re.SubexpIndex("value"),
		sign:    re.SubexpIndex("sign"),
		unit:    re.SubexpIndex("unit"),
		status:  re.SubexpIndex("status"),
	}
	if p.Scale != "1" {
		d.scale, _ = decimal(p.Scale)
		d.scaleDecimals = decimalsOf(p.Scale)
	}
	return d, nil
}

// Decode makes a frame of raw, which is the bytes without what ends a frame. It returns a *Refused that says
// why there is none.
func (d *Decoder) Decode(raw []byte, at time.Time) (Frame, error) {
	f := Frame{Raw: string(raw), At: at}
	if err := d.decode(&f); err != nil {
		return Frame{}, &Refused{Raw: f.Raw, At: at, Err: err}
	}
	return f, nil
}

func (d *Decoder) decode(f *Frame) error {
	m := d.pattern.FindStringSubmatchIndex(f.Raw)
	if m == nil {
		return ErrNoMatch
	}
	group := func(i int) string {
		if i < 0 || m[2*i] < 0 {
			return ""
		}
		return f.Raw[m[2*i]:m[2*i+1]]
	}
	if err := d.checkStatus(strings.TrimSpace(group(d.status))); err != nil {
		return err
	}
	unit, err := d.unitOf(group(d.unit))
	if err != nil {
		return err
	}
	f.Unit = unit
	f.Text = strings.TrimSpace(group(d.sign)) + group(d.value)
	return d.setValue(f)
}

func (d *Decoder) checkStatus(status string) error {
	is := func(list []string) bool {
		return slices.ContainsFunc(list, func(s string) bool { return strings.TrimSpace(s) == status })
	}
	switch {
	case is(d.profile.OverRangeStatus):
		return ErrOverRange
	case is(d.profile.LowBatteryStatus):
		return ErrLowBattery
	case is(d.profile.GoodStatus), d.status < 0:
		return nil
	}
	return fmt.Errorf("%w: %q; see the gauge, or list it under good-status", ErrStatus, status)
}

func (d *Decoder) unitOf(text string) (length.Unit, error) {
	text = strings.TrimSpace(text)
	stated := d.profile.Unit
	if u, ok := d.profile.Units[text]; ok {
		return u, nil
	}
	switch shown := length.Unit(strings.ToLower(text)); {
	case text == "" && stated == length.None:
		return length.None, fmt.Errorf("%w: none, and the profile states none", ErrUnit)
	case text == "" || shown == stated:
		return stated, nil
	case stated == length.None:
		if _, err := length.ParseUnit(string(shown)); err != nil {
			return length.None, fmt.Errorf(`%w: %q; map it with units = { %q = "in" } or what it is`, ErrUnit, text, text)
		}
		return shown, nil
	}
	return length.None, fmt.Errorf("%w: %q, not %s; switch the gauge, or map the unit under units", ErrUnit, text, stated)
}

func (d *Decoder) setValue(f *Frame) error {
	number := f.Text
	if d.profile.DecimalMark == "," {
		if strings.Contains(number, ".") {
			return fmt.Errorf("%w: %q has a point, and decimal-mark is a comma", ErrNumber, number)
		}
		number = strings.Replace(number, ",", ".", 1)
	}
	decimals := decimalsOf(number)
	step := "1"
	if decimals > 0 {
		step = "0." + strings.Repeat("0", decimals-1) + "1"
	}
	if d.scale != nil {
		number, step = d.scaled(number, decimals), d.scaled(step, decimals)
	}
	v, err := length.ParsePlain(number, f.Unit)
	if err != nil {
		return fmt.Errorf("%w: %v", ErrNumber, err)
	}
	f.Value = v
	if d.profile.Sense == PlusOut {
		f.Value = -v
	}
	f.Resolution = d.profile.Resolution
	if f.Resolution == 0 {
		f.Resolution, err = length.ParsePlain(step, f.Unit)
	}
	if err != nil {
		return fmt.Errorf("%w: one step of its last decimal is %v", ErrNumber, err)
	}
	return nil
}

// scaled multiplies number by the scale, exactly. What is no number stays as it is and is refused by
// length.ParsePlain.
func (d *Decoder) scaled(number string, decimals int) string {
	v, ok := decimal(strings.TrimLeft(number, "+-"))
	if !ok {
		return number
	}
	sign := number[:len(number)-len(strings.TrimLeft(number, "+-"))]
	return sign + v.Mul(v, d.scale).FloatString(decimals+d.scaleDecimals)
}

// decimalsOf counts the digits after the decimal mark.
func decimalsOf(number string) int {
	mark := strings.IndexAny(number, ".,")
	if mark < 0 {
		return 0
	}
	return len(number) - mark - 1
}
