// Package trend follows a bench over time: control charts with one budget of false alarms, performance against limits,
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

// One budget of false alarms, of points in control one in 500: the outer limit and the moving average together, with
// limits that are known, signal once in 519 points on average, and in 11.6 when the mean has shifted by one
// standard deviation. Charts of subgroups spend a little more on their spread.
const (
	outer      = 3.35   // standard deviations, of a point
	moved      = 3.12   // of the moving average
	weight     = 0.2    // of the newest point in the moving average (EWMA)
	wideSpread = 0.0001 // chance that a subgroup's spread is beyond its limit
	// On the power that suits them, fitted to the same points, skewed figures do not reach as far as normal ones; found by
	// simulation.
	skewedShare = 0.93

	// FixedFrom is from how many points limits may be fixed.
	FixedFrom = 30
	// ToldFrom is from how many points on it can be said that a chart shows no signal.
	ToldFrom = 8
)

// ControlLimits are the centre and the limits of a chart. A point equal to a limit lies within it.
type ControlLimits struct {
	Center float64 `json:"center"`
	Lower  float64 `json:"lower"`
	Upper  float64 `json:"upper"`
}

// Fixed are limits that hold until they are set anew: what they rest on, on the scale on which the points scatter evenly.
type Fixed struct {
	N      int           `json:"n"` // points that they rest on
	Mean   float64       `json:"mean"`
	SD     float64       `json:"sd"`
	DF     float64       `json:"df"`    // behind SD
	Power  float64       `json:"power"` // of the values, 1 for the values as they are
	Spread ControlLimits `json:"spread"`
}

func (f Fixed) check() error {
	ok := f.N >= 2 && f.SD > 0 && f.DF >= 1 && f.Power > 0 && f.Power <= 1 && !math.IsInf(f.SD, 1) && math.Abs(f.Mean) <= 1e100
	if !ok || f.Power != 1 && f.Mean < 0 {
		return fmt.Errorf("fixed limits %+v are none", f)
	}
	return nil
}

// Times returns the limits of a chart whose values are all multiplied by k, as in another unit.
func (f Fixed) Times(k float64) Fixed {
	scaled := math.Pow(k, f.Power)
	f.Mean, f.SD = f.Mean*scaled, f.SD*scaled
	f.Spread = ControlLimits{f.Spread.Center * k, f.Spread.Lower * k, f.Spread.Upper * k}
	return f
}

// widths returns how far a point, and a moving average, may lie from the mean: as a prediction is widened while it rests on
// few points,
//
//	t(p; nu) sd sqrt(1 + 1/n)   and   t(p; nu) sd sqrt(w/(2-w) + 1/n)
//
// with the chances p of the outer limit and the moving average of known limits.
func (f Fixed) widths() (point, average float64) {
	t := func(sigmas float64) float64 { return statistics.TQuantile(statistics.NormalCDF(sigmas), f.DF) }
	n := float64(f.N)
	point, average = t(outer)*f.SD*math.Sqrt(1+1/n), t(moved)*f.SD*math.Sqrt(weight/(2-weight)+1/n)
	if f.Power != 1 {
		point, average = skewedShare*point, skewedShare*average
	}
	return point, average
}

// Limits returns the limits as they are drawn, in the unit of the values. A skewed figure has no lower one: it can be as
// small as it likes.
func (f Fixed) Limits() ControlLimits {
	point, _ := f.widths()
	if f.Power == 1 {
		return ControlLimits{f.Mean, f.Mean - point, f.Mean + point}
	}
	return ControlLimits{math.Pow(f.Mean, 1/f.Power), 0, math.Pow(f.Mean+point, 1/f.Power)}
}

// Series is one line of points with its limits. Points are the last ones of the series; the number of the
// first of them is First, counted from 1.
type Series struct {
	ControlLimits
	First  int       `json:"first"`
	Points []float64 `json:"points"`
}

// Chart is a control chart.
type Chart struct {
	Kind   Kind `json:"chart"`
	Skewed bool `json:"skewed,omitempty"` // limits of a figure with a long tail upward, never below zero
	Fixed  bool `json:"frozen"`           // the limits were given, not computed from the values
	Count  int  `json:"count"`            // points in all
	Series
	Spread  Series   `json:"spread"`
	Waiting int      `json:"waiting"` // values of an unfinished subgroup, not charted yet
	Signals []Signal `json:"signals"`
	// Lag1 is the correlation of each drawn point with the one before; nil for fewer than ten points. Dependent says that it
	// is more than chance allows, at 1 %: points that follow each other make signals come too often, or too seldom.
	Lag1      *float64 `json:"lag1,omitempty"`
	Dependent bool     `json:"dependent,omitempty"`

	rests Fixed // what the computed limits rest on
}

// Told says whether there are points enough to say that there is no signal.
func (c Chart) Told() bool { return c.Count >= ToldFrom }

// rests returns what limits computed from all points so far rest on.
func (a *Accumulator) rests() (Fixed, bool) {
	s := a.best()
	sd, nu := a.scatter(s)
	if nu < 1 || sd == 0 || s.n < 2 {
		return Fixed{}, false
	}
	return Fixed{N: s.n, Mean: s.mean, SD: sd, DF: nu, Power: s.power, Spread: a.spreadLimits()}, true
}

// spreadLimits are those of ranges or standard deviations of subgroups, whose upper one is passed once in ten thousand, and of
// moving ranges, which are drawn and not judged: they say nothing that the points do not.
//
//	center d2 sd or c4 sd
func (a *Accumulator) spreadLimits() ControlLimits {
	switch {
	case a.kind == Individuals:
		d2, _ := statistics.RangeMoments(2)
		upper := a.spread.mean / d2 * math.Sqrt2 * statistics.NormalQuantile(1-wideSpread/2)
		return ControlLimits{Center: a.spread.mean, Upper: upper}
	case a.spread.count == 0:
		return ControlLimits{}
	}
	sd := math.Sqrt(a.within / float64(a.spread.count*(a.size-1)))
	if a.kind == MeanS {
		nu := float64(a.size - 1)
		return ControlLimits{Center: statistics.C4(a.size) * sd, Upper: sd * math.Sqrt(statistics.ChiSquareQuantile(1-wideSpread, nu)/nu)}
	}
	d2, _ := statistics.RangeMoments(a.size)
	return ControlLimits{Center: d2 * sd, Upper: sd * statistics.StudentizedRangeQuantile(1-wideSpread, a.size, math.Inf(1))}
}

// Chart returns the chart of all values added. Without fixed limits each point is held against those before it, so the
// chart starts itself, and the limits drawn are those of the next point. With them every point is held against
// what was fixed. The points, and the signals found in them, are those kept to be drawn. It returns
// statistics.ErrTooFew for fewer than two points, one when the limits are fixed, and refuses fixed limits that are none.
// Source: ISO 7870-2 and -6 for the charts, NIST/SEMATECH e-Handbook 6.3.2; the budget is our own.
func (a *Accumulator) Chart(fixed *Fixed) (Chart, error) {
	c := Chart{Kind: a.kind, Skewed: a.skewed, Waiting: len(a.waiting), Count: a.values.count, Signals: []Signal{}}
	least := 2
	if fixed != nil {
		c.Fixed, least = true, 1
		if err := fixed.check(); err != nil {
			return Chart{}, fmt.Errorf("charting: %w", err)
		}
	}
	if a.values.count < least {
		return Chart{}, fmt.Errorf("charting: %d points, want at least %d: %w", a.values.count, least, statistics.ErrTooFew)
	}
	rests, known := a.rests()
	drawn := ControlLimits{a.values.mean, a.values.mean, a.values.mean}
	if fixed != nil {
		rests, known = *fixed, true
	}
	if known {
		drawn = rests.Limits()
	} else {
		rests.Spread = a.spreadLimits()
	}
	c.rests = rests
	c.Series, c.Spread = a.values.line(drawn), a.spread.line(rests.Spread)
	c.Spread.First += a.values.count - a.spread.count // a moving range belongs to the later of its two values
	a.signals(&c, fixed)
	if len(c.Points) >= 10 {
		if r, err := statistics.Lag1(c.Points); err == nil {
			c.Lag1 = &r
			c.Dependent = math.Abs(r) > statistics.NormalQuantile(0.995)/math.Sqrt(float64(len(c.Points)))
		}
	}
	return c, nil
}

// Fix returns the limits of c, to be given to later charts. It refuses fewer than 30 points, and points that are all
// alike.
func (c Chart) Fix() (Fixed, error) {
	if c.Count < FixedFrom {
		return Fixed{}, fmt.Errorf("limits are fixed from %d points on, and there are %d: go on until there are enough", FixedFrom, c.Count)
	}
	if c.rests.SD == 0 {
		return Fixed{}, fmt.Errorf("fixing limits: %w", statistics.ErrNoSpread)
	}
	return c.rests, nil
}
