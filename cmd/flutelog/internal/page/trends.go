package page

import (
	"html/template"
	"strconv"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
	"flutelog/inspect/trend"
)

// leastForLimits is how many values a chart has before limits are worked out from them (common practice, no
// source); fewer say little of what is usual.
const leastForLimits = 8

// mostCharted is how many of the last values a chart shows.
const mostCharted = 30

// charted says what kind of figure a chart is of.
type charted int

const (
	plain  charted = iota
	skewed         // never below zero, with its long tail upward
	life           // it only shrinks, and has no limits
)

// trends charts what a tool's life has of each figure: the run-out after each grind, the primary's share before it,
// and the diameter.
func trends(lives []record.Life, unit length.Unit) []template.HTML {
	var tirs, shares, diameters []inspect.Quantity
	for _, l := range lives {
		if l.TIR != nil && l.Stage == inspect.After {
			tirs = append(tirs, *l.TIR)
		}
		if l.Share != nil && l.Stage == inspect.Before {
			shares = append(shares, *l.Share)
		}
		if l.Diameter != nil {
			diameters = append(diameters, *l.Diameter)
		}
	}
	var all []template.HTML
	for _, c := range []struct {
		chart  report.Chart
		values []inspect.Quantity
		kind   charted
	}{
		{report.Chart{Title: "Radial run-out (TIR) after the grind", Unit: string(unit), Decimals: unit.Decimals()}, tirs, skewed},
		{report.Chart{Title: "Primary share before the grind", Unit: "of the land", Decimals: 3}, shares, plain},
		{report.Chart{Title: "Diameter", Unit: string(unit), Decimals: unit.Decimals()}, diameters, life},
	} {
		if len(c.values) > 0 {
			all = append(all, drawTrend(c.chart, c.values, c.kind, unit))
		}
	}
	return all
}

// drawTrend draws the last values, with the limits of all of them once there are enough.
func drawTrend(c report.Chart, values []inspect.Quantity, kind charted, unit length.Unit) template.HTML {
	a, err := trend.NewAccumulator(trend.Individuals, 1, mostCharted)
	if kind == skewed {
		a, err = trend.NewSkewed(mostCharted)
	}
	if err != nil {
		panic(err) // a chart of individuals is a chart
	}
	for _, q := range values {
		v, err := strconv.ParseFloat(string(q.Number(unit)), 64)
		if err == nil {
			err = a.Add(v)
		}
		if err != nil {
			panic(err) // a figure is a number
		}
		c.Values = append(c.Values, v)
	}
	first := max(0, len(values)-mostCharted)
	c.Values = c.Values[first:]
	c.From, c.To = strconv.Itoa(first+1), strconv.Itoa(len(values))
	if len(values) < leastForLimits || kind == life {
		return c.Draw()
	}
	limits, err := a.Chart(nil)
	if err != nil {
		panic(err) // there are enough values
	}
	c.Centre, c.Lower, c.Upper = &limits.Center, &limits.Lower, &limits.Upper
	for _, s := range limits.Signals {
		for _, p := range s.Points {
			if !s.Spread && p > first {
				c.Signals = append(c.Signals, p-first)
			}
		}
	}
	return c.Draw()
}
