// Package trend follows a bench over time: control charts and their run rules, performance against limits,
// before and after, the wear of the wheel, and what the bench's own records say about its settings.
// Results are in the unit of the values given unless they are lengths, and ready to be written as JSON.
package trend

import (
	"fmt"
	"math"

	"flutelog/inspect/statistics"
)

// Kind is a kind of control chart, by what is plotted: the values and their spread.
type Kind string

const (
	Individuals Kind = "individuals" // single values and the moving range of two
	MeanRange   Kind = "mean-range"  // means and ranges of subgroups
	MeanS       Kind = "mean-s"      // means and standard deviations of subgroups
)

// Limits are the centre and the limits of a chart. A point equal to a limit lies within it.
type Limits struct {
	Center float64 `json:"center"`
	Lower  float64 `json:"lower"`
	Upper  float64 `json:"upper"`
}

func (l Limits) check() error {
	if !(l.Lower < l.Upper && l.Lower <= l.Center && l.Center <= l.Upper) || math.IsInf(l.Upper-l.Lower, 0) {
		return fmt.Errorf("limits %v to %v about %v are not in order", l.Lower, l.Upper, l.Center)
	}
	return nil
}

// Frozen are limits that hold until they are set anew, of the values and of their spread. They have the
// form of a chart's own limits, so those of a good stretch can be kept.
type Frozen struct {
	Limits
	Spread Limits `json:"spread"`
}

// Series is one line of points with its limits. Points are the last ones of the series; the number of the
// first of them is First, counted from 1.
type Series struct {
	Limits
	First  int       `json:"first"`
	Points []float64 `json:"points"`
}

// Chart is a control chart.
type Chart struct {
	Kind   Kind `json:"chart"`
	Frozen bool `json:"frozen"` // the limits were given, not computed from the values
	Series
	Spread  Series   `json:"spread"`
	Waiting int      `json:"waiting"` // values of an unfinished subgroup, not charted yet
	Signals []Signal `json:"signals"`
}

// constants turn the mean spread into limits.
type constants struct {
	values float64 // half the width of the limits of the values, per mean spread
	spread float64 // the same of the spread
}

// constantsOf computes what printed tables call E2 and D4 - 1, A2 and D4 - 1, A3 and B4 - 1:
//
//	values 3 / (d2 sqrt(n)),  spread 3 d3 / d2            from ranges
//	values 3 / (c4 sqrt(n)),  spread 3 sqrt(1 - c4^2)/c4  from standard deviations
//
// A moving range is the range of two, of values charted singly.
func constantsOf(kind Kind, size int) constants {
	root := math.Sqrt(float64(size))
	if kind == MeanS {
		c4 := statistics.C4(size)
		return constants{3 / (c4 * root), 3 * math.Sqrt(1-c4*c4) / c4}
	}
	d2, d3 := statistics.RangeMoments(max(size, 2))
	return constants{3 / (d2 * root), 3 * d3 / d2}
}

// Chart returns the chart of all values added. Its limits are those given, or, when frozen is nil, computed:
//
//	mean of the points ± constant × mean spread
//
// where those of the spread do not go below zero. The points, and the signals found in them, are those kept
// to be drawn. It returns statistics.ErrTooFew for fewer than two points, one when the limits are frozen, and
// refuses frozen limits that are not in order. Source: ISO 7870-2, NIST/SEMATECH e-Handbook 6.3.2.
func (a *Accumulator) Chart(frozen *Frozen) (Chart, error) {
	c := Chart{Kind: a.kind, Waiting: len(a.waiting)}
	values, spread := a.computedLimits()
	least := 2
	if frozen != nil {
		c.Frozen, least = true, 1
		values, spread = frozen.Limits, frozen.Spread
		if err := values.check(); err != nil {
			return Chart{}, fmt.Errorf("charting: values: %w", err)
		}
		if err := spread.check(); err != nil {
			return Chart{}, fmt.Errorf("charting: spread: %w", err)
		}
	}
	if a.values.count < least {
		return Chart{}, fmt.Errorf("charting: %d points, want at least %d: %w", a.values.count, least, statistics.ErrTooFew)
	}
	c.Series = a.values.line(values)
	c.Spread = a.spread.line(spread)
	c.Spread.First += a.values.count - a.spread.count // a moving range belongs to the later of its two values
	c.Signals = signals(c)
	return c, nil
}

func (a *Accumulator) computedLimits() (values, spread Limits) {
	center, s := a.values.mean, a.spread.mean
	half, wide := a.constants.values*s, a.constants.spread*s
	return Limits{center, center - half, center + half}, Limits{s, max(0, s-wide), s + wide}
}

// Freeze returns the limits of c, to be given to later charts.
func (c Chart) Freeze() Frozen { return Frozen{Limits: c.Limits, Spread: c.Spread.Limits} }
