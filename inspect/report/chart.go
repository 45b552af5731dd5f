package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
)

// Chart is a line of values in the order in which they came, with a centre and limits where there are any.
type Chart struct {
	Title    string
	Unit     string // the unit's name, or what a number without one is of
	Decimals int    // of the values as printed
	Values   []float64
	From, To string // what stands under the first and the last value: a date, a number
	Centre   *float64
	Lower    *float64
	Upper    *float64
	Least    *float64 // the tolerance, drawn as a line of its own
	Most     *float64
	Signals  []int // values marked as signals, numbered from 1
}

// Sizes of the chart.
const (
	chartLeft, chartRight = 64, width - 12
	chartTop, chartBottom = 30, 130
)

// A dot is one value.
type dot struct {
	point
	Number int // from 1
	Signal bool
}

// A level is a line across the chart, named at the left.
type level struct {
	Kind string
	Y    px
	Name label
}

type chartDrawing struct {
	Title, Desc string
	Left, Right px
	Top, Bottom px
	Line        string
	Dots        []dot
	Levels      []level
	From, To    label
	Captions    []label
	Height      px
}

// Draw returns the chart as an inline SVG. Signals are diamonds, other values dots. Without values it says
// that there are none.
func (c Chart) Draw() template.HTML { return c.figure().SVG }

func (c Chart) figure() figure {
	d := chartDrawing{
		Title: c.Title, Left: chartLeft, Right: chartRight, Top: chartTop, Bottom: chartBottom,
		From: label{point{chartLeft, chartBottom + 16}, c.From, "start"},
		To:   label{point{chartRight, chartBottom + 16}, c.To, "end"},
	}
	words := c.words()
	if len(c.Values) > 0 {
		c.plot(&d)
	}
	d.Captions, d.Height = captions(chartBottom+32, words...)
	for _, w := range words {
		d.Desc += w + ". "
	}
	return draw("chart", d.Height, d)
}

func (c Chart) plot(d *chartDrawing) {
	least, most := c.span()
	y := func(v float64) px { return px(chartBottom - (chartBottom-chartTop)*(v-least)/(most-least)) }
	step := float64(chartRight-chartLeft) / float64(max(len(c.Values)-1, 1))
	var line []point
	for i, v := range c.Values {
		p := point{px(chartLeft + step*float64(i)), y(v)}
		line = append(line, p)
		d.Dots = append(d.Dots, dot{p, i + 1, slices.Contains(c.Signals, i+1)})
	}
	d.Line = path(line...)
	for _, l := range []struct {
		kind  string
		value *float64
	}{{"upper", c.Upper}, {"centre", c.Centre}, {"lower", c.Lower}, {"most", c.Most}, {"least", c.Least}} {
		if l.value != nil {
			at := y(*l.value)
			d.Levels = append(d.Levels, level{l.kind, at, label{point{chartLeft - 5, at + 4}, c.number(*l.value), "end"}})
		}
	}
	if len(d.Levels) == 0 {
		for _, v := range []float64{least, most} {
			d.Levels = append(d.Levels, level{"edge", y(v), label{point{chartLeft - 5, y(v) + 4}, c.number(v), "end"}})
		}
	}
}

// span returns the least and the largest of all that is drawn, never alike.
func (c Chart) span() (least, most float64) {
	all := slices.Clone(c.Values)
	for _, v := range []*float64{c.Centre, c.Lower, c.Upper, c.Least, c.Most} {
		if v != nil {
			all = append(all, *v)
		}
	}
	least, most = slices.Min(all), slices.Max(all)
	if least == most {
		room := math.Pow10(-c.Decimals)
		return least - room, most + room
	}
	return least, most
}

func (c Chart) number(v float64) string { return strconv.FormatFloat(v, 'f', c.Decimals, 64) }

func (c Chart) words() []string {
	if len(c.Values) == 0 {
		return []string{"no values yet"}
	}
	last := c.Values[len(c.Values)-1]
	words := []string{fmt.Sprintf("values read: %d, the last %s %s", len(c.Values), c.number(last), c.Unit)}
	limits := ""
	for _, l := range []struct {
		name  string
		value *float64
	}{{"upper", c.Upper}, {"centre", c.Centre}, {"lower", c.Lower}, {"at most", c.Most}, {"at least", c.Least}} {
		if l.value != nil {
			limits += ", " + l.name + " " + c.number(*l.value)
		}
	}
	if limits != "" {
		words = append(words, limits[2:])
	}
	if len(c.Signals) > 0 {
		words = append(words, "signals (diamonds): "+ordinals(c.Signals))
	}
	return words
}

// ordinals lists at most eight of the numbers of values.
func ordinals(ns []int) string {
	const most = 8
	s := ""
	for _, n := range ns[:min(len(ns), most)] {
		s += fmt.Sprintf(", no. %d", n)
	}
	if len(ns) > most {
		s += " \u2026"
	}
	return s[2:]
}
