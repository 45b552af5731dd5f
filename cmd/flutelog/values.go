package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// units are the --unit and --json flags and what is read and printed by them.
type units struct {
	name string
	json bool
}

func (u *units) flags(f *flags) {
	f.StringVar(&u.name, "unit", "", "unit of bare numbers and of the output: in or mm")
	f.BoolVar(&u.json, "json", false, "print the result as JSON")
}

// unit returns the unit in force, None where none was given.
func (u *units) unit() (length.Unit, error) {
	switch unit := length.Unit(u.name); unit {
	case length.None, length.In, length.Mm:
		return unit, nil
	}
	return length.None, usagef("--unit %q: want in or mm", u.name)
}

// unitOr returns the unit in force, def where none was given.
func (u *units) unitOr(def length.Unit) (length.Unit, error) {
	unit, err := u.unit()
	return cmp.Or(unit, def), err
}

// A reader takes the text of flags to values and keeps the first error, so that a command reads its flags
// in one breath.
type reader struct {
	unit length.Unit
	err  error
}

func (u *units) reader() *reader {
	unit, err := u.unit()
	return &reader{unit, err}
}

func (r *reader) fail(flag string, err error) {
	if r.err == nil {
		r.err = usage(fmt.Errorf("--%s: %w", flag, err))
	}
}

// one reads one length. When no unit is in force yet, the first value that carries one sets it.
func (r *reader) one(text string) (length.Length, error) {
	l, unit, err := length.ParseWithUnit(text, r.unit)
	if err == nil && r.unit == length.None {
		r.unit = length.In
		if unit.Metric() {
			r.unit = length.Mm
		}
	}
	return l, err
}

// length reads a flag's length.
func (r *reader) length(flag, text string) length.Length {
	l, err := r.one(text)
	if err != nil {
		r.fail(flag, err)
	}
	return l
}

// optional reads a length that may be left out.
func (r *reader) optional(flag, text string) *length.Length {
	if text == "" {
		return nil
	}
	l := r.length(flag, text)
	return &l
}

// needed reads a length that may not be left out.
func (r *reader) needed(flag, text string) length.Length {
	if text == "" {
		r.fail(flag, fmt.Errorf("it is needed"))
		return 0
	}
	return r.length(flag, text)
}

// lengths reads lengths with commas between them; none is nil.
func (r *reader) lengths(flag, text string) []length.Length {
	if err := twoWays(text); err != nil {
		r.fail(flag, err)
		return nil
	}
	var ls []length.Length
	for i, part := range parts(text) {
		l, err := r.one(part)
		if err != nil {
			r.fail(flag, fmt.Errorf("value %d: %w", i+1, err))
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

// neededLengths reads lengths of which there must be at least one.
func (r *reader) neededLengths(flag, text string) []length.Length {
	ls := r.lengths(flag, text)
	if len(ls) == 0 {
		r.fail(flag, fmt.Errorf("it is needed"))
	}
	return ls
}

// size reads a length that is needed and is more than zero.
func (r *reader) size(flag, text string) length.Length {
	l := r.needed(flag, text)
	if l <= 0 {
		r.fail(flag, fmt.Errorf("%q: want more than zero", text))
	}
	return l
}

// optionalSize reads a length that may be left out and else is more than zero.
func (r *reader) optionalSize(flag, text string) *length.Length {
	if text == "" {
		return nil
	}
	l := r.size(flag, text)
	return &l
}

// choice reads a word out of a few; left out it is the first of them.
func (r *reader) choice(flag, text string, known ...string) string {
	if text == "" {
		return known[0]
	}
	if !slices.Contains(known, text) {
		r.fail(flag, fmt.Errorf("%q: want %s", text, strings.Join(known, " or ")))
	}
	return text
}

func parts(text string) []string {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	return strings.Split(text, ",")
}

// angle reads one angle in degrees; left out it is nil.
func (r *reader) angle(flag, text string) *length.Angle {
	if text == "" {
		return nil
	}
	a, err := length.ParseAngle(text)
	if err != nil {
		r.fail(flag, err)
		return nil
	}
	return &a
}

// neededAngle reads an angle that may not be left out.
func (r *reader) neededAngle(flag, text string) length.Angle {
	a := r.angle(flag, text)
	if a == nil {
		r.fail(flag, fmt.Errorf("it is needed"))
		return 0
	}
	return *a
}

// angles reads angles in degrees with commas between them; none is nil.
func (r *reader) angles(flag, text string) []length.Angle {
	var as []length.Angle
	for i, part := range parts(text) {
		a, err := length.ParseAngle(part)
		if err != nil {
			r.fail(flag, fmt.Errorf("value %d: %w", i+1, err))
			return nil
		}
		as = append(as, a)
	}
	return as
}

// printJSON prints v on one line of standard output.
func printJSON(e env, v any) error {
	enc := json.NewEncoder(e.stdout)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// number is a length as a JSON number; nil stays nil, which JSON writes as null or leaves out.
func number(l *length.Length, u length.Unit) *length.Number {
	if l == nil {
		return nil
	}
	n := l.Number(u)
	return &n
}

func numbers(ls []length.Length, u length.Unit) []length.Number {
	ns := make([]length.Number, len(ls))
	for i, l := range ls {
		ns[i] = l.Number(u)
	}
	return ns
}

// degreesNumber is an angle as a JSON number of degrees.
func degreesNumber(a length.Angle) length.Number { return length.Number(a.Format(9)) }

// angleNumber is degreesNumber of an angle that may not be there.
func angleNumber(a *length.Angle) *length.Number {
	if a == nil {
		return nil
	}
	n := degreesNumber(*a)
	return &n
}

// form reads the shape of a relief, with the diameter of the disc wheel that grinds a hollow one.
func (r *reader) form(form, wheel, wheelFlag string) (geometry.Form, length.Length) {
	if form == "curved" { // another word for it
		form = "eccentric"
	}
	shape := geometry.Flat
	switch r.choice("form", form, "flat", "hollow", "eccentric") {
	case "hollow":
		return geometry.Hollow, r.size(wheelFlag, wheel)
	case "eccentric":
		shape = geometry.Eccentric
	}
	if wheel != "" {
		r.fail(wheelFlag, fmt.Errorf("it goes with --form hollow"))
	}
	return shape, 0
}
