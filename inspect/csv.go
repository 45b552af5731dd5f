package inspect

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect/length"
)

// readingsHeader is the first line of a readings file.
var readingsHeader = []string{"feature", "flute", "from_end", "repeat", "value", "unit"}

// ReadCSV reads readings taken elsewhere from a comma-separated file with the header
//
//	feature,flute,from_end,repeat,value,unit
//
// feature is a feature's name, or that of something looked for (cracks, burn, …) with yes, no or unsure as its
// value, of a chip also its length, and the flute where it is told; flute is empty where the feature is not read flute by flute; from_end is empty where it does not
// apply and carries its own unit or is in the row's; repeat counts from 1 (empty is 1), and close is the
// closing re-read of flute 1. A diameter may be told how it was read, as in 0.4962 vee. unit may be empty when def is in force.
//
// Errors begin with name:line. A value given twice for the same flute, place and repeat is an error.
func ReadCSV(r io.Reader, name string, t Tool, def length.Unit) ([]Reading, []Seen, error) {
	in := csv.NewReader(r)
	in.FieldsPerRecord = len(readingsHeader)
	head, err := in.Read()
	if err == io.EOF {
		return nil, nil, fmt.Errorf("%s:1: empty; the first line must be %s", name, strings.Join(readingsHeader, ","))
	}
	if err != nil {
		return nil, nil, csvError(name, err)
	}
	head[0] = strings.TrimPrefix(head[0], "\ufeff")
	if !slices.Equal(head, readingsHeader) {
		return nil, nil, fmt.Errorf("%s:1: header %q: want %s", name, strings.Join(head, ","), strings.Join(readingsHeader, ","))
	}
	f := readingsFile{in: Inspection{Tool: t}, unit: def, lines: map[Key]int{}}
	for {
		row, err := in.Read()
		if err == io.EOF {
			return f.in.Readings, f.in.Seen, nil
		}
		if err != nil {
			return nil, nil, csvError(name, err)
		}
		line, _ := in.FieldPos(0)
		if err := f.row(row, line); err != nil {
			return nil, nil, fmt.Errorf("%s:%d: %w", name, line, err)
		}
	}
}

func csvError(name string, err error) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return fmt.Errorf("%s:%d: %w", name, p.Line, p.Err)
	}
	return fmt.Errorf("reading %s: %w", name, err)
}

// readingsFile gathers the rows of a readings file.
type readingsFile struct {
	in    Inspection // the tool, and what was read so far
	unit  length.Unit
	lines map[Key]int // the line each was given on
}

func (f *readingsFile) row(row []string, line int) error {
	if sight, ok := ParseSight(row[0]); ok {
		return f.sight(sight, row, line)
	}
	r, err := f.reading(row)
	if err != nil {
		return err
	}
	if err := f.once(r.Key(), line); err != nil {
		return err
	}
	if err := f.in.Check(r); err != nil {
		return err
	}
	f.in.Readings = append(f.in.Readings, r)
	return nil
}

// sight reads the answer to a visual question: yes, no, unsure, or the length of a chip, which is a yes.
func (f *readingsFile) sight(s Sight, row []string, line int) error {
	seen := Seen{Sight: s}
	var err error
	if seen.Flute, err = count("flute", row[1], 0); err != nil {
		return err
	}
	switch value := strings.ToLower(row[4]); value {
	case "yes", "no":
		seen.Yes = value == "yes"
	case "unsure":
		seen.Yes, seen.Unsure = true, true
	default:
		if !s.Chip() {
			return fmt.Errorf("%s: value %q: want yes, no or unsure", s, value)
		}
		unit := f.unit
		if row[5] != "" {
			if unit, err = length.ParseUnit(row[5]); err != nil {
				return err
			}
		}
		long, _, err := length.ParseWithUnit(value, unit)
		if err != nil {
			return fmt.Errorf("%s: value %q: want yes, no, unsure or how long the chip is: %w", s, value, err)
		}
		seen.Yes, seen.Length = true, &long
	}
	if err := seen.Check(f.in.Tool); err != nil {
		return err
	}
	f.in.Seen = append(f.in.Seen, seen)
	return f.once(Key{Feature: Feature(s)}, line)
}

func (f *readingsFile) once(k Key, line int) error {
	if first, twice := f.lines[k]; twice {
		return fmt.Errorf("%s: already given on line %d", k, first)
	}
	f.lines[k] = line
	return nil
}

func (f *readingsFile) reading(row []string) (Reading, error) {
	feature, err := ParseFeature(row[0])
	if err != nil {
		return Reading{}, err
	}
	r := Reading{Feature: feature}
	if r.Flute, err = count("flute", row[1], 0); err != nil {
		return Reading{}, err
	}
	if row[3] == "close" {
		r.Closing = true
	} else if r.Repeat, err = count("repeat", row[3], 1); err != nil {
		return Reading{}, err
	}
	unit := f.unit
	if row[5] != "" {
		if unit, err = length.ParseUnit(row[5]); err != nil {
			return Reading{}, err
		}
	}
	value := row[4]
	if feature == Diameter { // it may be told how it was read: 0.4962 vee
		if number, how, told := strings.Cut(strings.TrimSpace(value), " "); told && slices.Contains(Hows, How(how)) {
			value, r.How = number, How(how)
		}
	}
	typed, err := length.Entry{Unit: unit}.Parse(value)
	if err != nil {
		return Reading{}, fmt.Errorf("value: %w", err)
	}
	r.Value, r.Unit, r.Text = typed.Value, typed.Unit, typed.Text
	if row[2] != "" {
		from, err := length.Parse(row[2], unit)
		if err != nil {
			return Reading{}, fmt.Errorf("from_end: %w", err)
		}
		if from < 0 {
			return Reading{}, fmt.Errorf("from_end %s: it cannot be less than zero", row[2])
		}
		r.FromEnd = &from
	}
	return r, nil
}

// count reads a whole number; empty is what stands for it.
func count(name, text string, empty int) (int, error) {
	if text == "" {
		return empty, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		return 0, fmt.Errorf("%s %q: want a whole number from 1", name, text)
	}
	return n, nil
}
