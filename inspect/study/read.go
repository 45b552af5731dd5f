package study

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

var crossedHeader = []string{"part", "inspector", "trial", "value"}

// ReadCrossed reads the readings of a crossed study, in any order, from CSV (RFC 4180) with the columns
//
//	part,inspector,trial,value
//
// named in its first line. Trials are whole numbers from 1 and values plain numbers without a unit. Empty
// lines and lines that begin with # are passed over. Errors name the line.
func ReadCrossed(r io.Reader) ([]Trial, error) {
	in := csv.NewReader(r)
	in.Comment = '#'
	in.FieldsPerRecord = len(crossedHeader)
	in.TrimLeadingSpace = true
	header, err := in.Read()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("no lines; want the header %s and readings", strings.Join(crossedHeader, ","))
	}
	if err != nil {
		return nil, err
	}
	if !slices.Equal(header, crossedHeader) {
		line, _ := in.FieldPos(0)
		return nil, fmt.Errorf("line %d: header %q: want %s", line, strings.Join(header, ","), strings.Join(crossedHeader, ","))
	}
	var readings []Trial
	for {
		fields, err := in.Read()
		if errors.Is(err, io.EOF) {
			return readings, nil
		}
		if err != nil {
			return nil, err
		}
		reading, err := parseReading(fields)
		if err != nil {
			line, _ := in.FieldPos(0)
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		readings = append(readings, reading)
	}
}

func parseReading(fields []string) (Trial, error) {
	for i := range fields {
		fields[i] = strings.TrimSpace(fields[i])
		if fields[i] == "" {
			return Trial{}, fmt.Errorf("%s is empty", crossedHeader[i])
		}
	}
	trial, err := strconv.Atoi(fields[2])
	if err != nil || trial < 1 {
		return Trial{}, fmt.Errorf("trial %q: want a whole number from 1", fields[2])
	}
	value, err := parseNumber(fields[3])
	return Trial{Part: fields[0], Inspector: fields[1], Trial: trial, Value: value}, err
}

// ReadNumbers reads plain numbers without a unit, one a line, to full double precision. Empty lines and lines
// that begin with # are passed over. Errors name the line.
func ReadNumbers(r io.Reader) ([]float64, error) {
	var xs []float64
	in := bufio.NewScanner(r)
	for line := 1; in.Scan(); line++ {
		text := strings.TrimSpace(in.Text())
		if text == "" || text[0] == '#' {
			continue
		}
		x, err := parseNumber(text)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		xs = append(xs, x)
	}
	return xs, in.Err()
}

func parseNumber(text string) (float64, error) {
	x, err := strconv.ParseFloat(text, 64)
	switch {
	case errors.Is(err, strconv.ErrRange):
		return 0, fmt.Errorf("value %q: too large", text)
	case strings.Contains(text, ","):
		return 0, fmt.Errorf("value %q: decimal comma; write a point, as in 0.01", text)
	case err != nil, math.IsNaN(x), math.IsInf(x, 0), strings.ContainsAny(text, "xX_"):
		return 0, fmt.Errorf("value %q: want one plain number without a unit", text)
	}
	return x, nil
}
