package command

import (
	"cmp"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"flutelog/inspect/length"
)

// Units are the --unit and --json flags and what is read and printed by them.
type Units struct {
	Name string
	JSON bool
}

func (u *Units) Flags(f *Flags) {
	f.WordVar(&u.Name, "unit", "", "unit of bare numbers and of the output: in or mm")
	f.BoolVar(&u.JSON, "json", false, "print the result as JSON")
}

// unit returns the unit in force, None where none was given.
func (u *Units) unit() (length.Unit, error) {
	switch unit := length.Unit(u.Name); unit {
	case length.None, length.In, length.Mm:
		return unit, nil
	}
	return length.None, Usagef("--unit %q: want in or mm", u.Name)
}

// UnitOr returns the unit in force, def where none was given.
func (u *Units) UnitOr(def length.Unit) (length.Unit, error) {
	unit, err := u.unit()
	return cmp.Or(unit, def), err
}

// A reader takes the text of flags to values and keeps the first error, so that a command reads its flags
// in one breath.
type Reader struct {
	Unit length.Unit
	Err  error
}

func (u *Units) Reader() *Reader {
	unit, err := u.unit()
	return &Reader{unit, err}
}

func (r *Reader) Fail(flag string, err error) {
	if r.Err == nil {
		r.Err = Usage(fmt.Errorf("--%s: %w", flag, err))
	}
}

// One reads one length. When no unit is in force yet, the first value that carries one sets it.
func (r *Reader) One(text string) (length.Length, error) {
	l, unit, err := length.ParseWithUnit(text, r.Unit)
	if err == nil && r.Unit == length.None {
		r.Unit = length.In
		if unit.Metric() {
			r.Unit = length.Mm
		}
	}
	return l, err
}

// Length reads a flag's length.
func (r *Reader) Length(flag, text string) length.Length {
	l, err := r.One(text)
	if err != nil {
		r.Fail(flag, err)
	}
	return l
}

// Optional reads a length that may be left out.
func (r *Reader) Optional(flag, text string) *length.Length {
	if text == "" {
		return nil
	}
	l := r.Length(flag, text)
	return &l
}

// Needed reads a length that may not be left out.
func (r *Reader) Needed(flag, text string) length.Length {
	if text == "" {
		r.Fail(flag, fmt.Errorf("it is needed"))
		return 0
	}
	return r.Length(flag, text)
}

// Lengths reads lengths with commas between them; none is nil.
func (r *Reader) Lengths(flag, text string) []length.Length {
	if err := twoWays(text); err != nil {
		r.Fail(flag, err)
		return nil
	}
	var ls []length.Length
	for i, part := range Parts(text) {
		l, err := r.One(part)
		if err != nil {
			r.Fail(flag, fmt.Errorf("value %d: %w", i+1, err))
			return nil
		}
		ls = append(ls, l)
	}
	return ls
}

var (
	oneOrTwo   = regexp.MustCompile(`^ *[+-]?[0-9]+,[0-9]+ *[a-z"]*$`)     // 1,5
	decimals   = regexp.MustCompile(`(^|[ ,;])[+-]?[0-9]*,0[0-9]`)         // 0,0005
	commaSpace = regexp.MustCompile(`[0-9],[0-9]+, |, +[+-]?[0-9]+,[0-9]`) // 1,5, 2,5
)

// twoWays refuses a list whose commas may be decimal ones, and names both spellings. 0,0 can only be two.
func twoWays(text string) error {
	if text == "0,0" || !oneOrTwo.MatchString(text) && !decimals.MatchString(text) && !commaSpace.MatchString(text) {
		return nil
	}
	first, second, _ := strings.Cut(strings.TrimSpace(text), ",")
	second, _, _ = strings.Cut(second, ",")
	return fmt.Errorf("%q could mean two things: write %s.%s for a decimal point, or %s.0,%s.0 for two values", strings.TrimSpace(text), first, second, first, strings.TrimRight(second, `abcdefghijklmnopqrstuvwxyz" `))
}

// NeededLengths reads lengths of which there must be at least one.
func (r *Reader) NeededLengths(flag, text string) []length.Length {
	ls := r.Lengths(flag, text)
	if len(ls) == 0 {
		r.Fail(flag, fmt.Errorf("it is needed"))
	}
	return ls
}

// Size reads a length that is needed and is more than zero.
func (r *Reader) Size(flag, text string) length.Length {
	l := r.Needed(flag, text)
	if l <= 0 {
		r.Fail(flag, fmt.Errorf("%q: want more than zero", text))
	}
	return l
}

// OptionalSize reads a length that may be left out and else is more than zero.
func (r *Reader) OptionalSize(flag, text string) *length.Length {
	if text == "" {
		return nil
	}
	l := r.Size(flag, text)
	return &l
}

// OneOf lists words of which one is wanted: hss, cobalt or carbide.
func OneOf(words ...string) string {
	last := len(words) - 1
	if last < 1 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// Choice reads a word out of a few; left out it is the first of them.
func (r *Reader) Choice(flag, text string, known ...string) string {
	if text == "" {
		return known[0]
	}
	if !slices.Contains(known, text) {
		r.Fail(flag, fmt.Errorf("%q: want %s", text, OneOf(known...)))
	}
	return text
}

func Parts(text string) []string {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	return strings.Split(text, ",")
}

// Angle reads one angle in degrees; left out it is nil.
func (r *Reader) Angle(flag, text string) *length.Angle {
	if text == "" {
		return nil
	}
	a, err := length.ParseAngle(text)
	if err != nil {
		r.Fail(flag, err)
		return nil
	}
	return &a
}

// NeededAngle reads an angle that may not be left out.
func (r *Reader) NeededAngle(flag, text string) length.Angle {
	a := r.Angle(flag, text)
	if a == nil {
		r.Fail(flag, fmt.Errorf("it is needed"))
		return 0
	}
	return *a
}

// Angles reads angles in degrees with commas between them; none is nil.
func (r *Reader) Angles(flag, text string) []length.Angle {
	var as []length.Angle
	for i, part := range Parts(text) {
		a, err := length.ParseAngle(part)
		if err != nil {
			r.Fail(flag, fmt.Errorf("value %d: %w", i+1, err))
			return nil
		}
		as = append(as, a)
	}
	return as
}

// PrintJSON prints v on one line of standard output.
func PrintJSON(e Env, v any) error {
	enc := json.NewEncoder(e.Stdout)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// Number is a length as a JSON number; nil stays nil, which JSON writes as null or leaves out.
func Number(l *length.Length, u length.Unit) *length.Number {
	if l == nil {
		return nil
	}
	n := l.Number(u)
	return &n
}

func Numbers(ls []length.Length, u length.Unit) []length.Number {
	ns := make([]length.Number, len(ls))
	for i, l := range ls {
		ns[i] = l.Number(u)
	}
	return ns
}

// DegreesNumber is an angle as a JSON number of degrees.
func DegreesNumber(a length.Angle) length.Number { return length.Number(a.Format(9)) }

// AngleNumber is DegreesNumber of an angle that may not be there.
func AngleNumber(a *length.Angle) *length.Number {
	if a == nil {
		return nil
	}
	n := DegreesNumber(*a)
	return &n
}
