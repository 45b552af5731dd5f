package trend

import (
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/statistics"
)

// Interval is a value with its two-sided 95 % limits.
type Interval struct {
	Value float64 `json:"value"`
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
}

// Line is a straight line fitted by least squares.
type Line struct {
	Intercept   float64 `json:"intercept"`
	InterceptSD float64 `json:"intercept_sd"`
	Slope       float64 `json:"slope"`
	SlopeSD     float64 `json:"slope_sd"`
	ResidualSD  float64 `json:"residual_sd"`
	N           int     `json:"n"`
	NU          int     `json:"nu"` // degrees of freedom of ResidualSD

	growing             bool // the variance grows in proportion to x
	meanX, sxx, weights float64
}

// FitLine fits y = intercept + slope x:
//
//	slope     = sum (x - mean x)(y - mean y) / sum (x - mean x)^2
//	intercept = mean y - slope mean x
//	residual  = sqrt(sum (y - intercept - slope x)^2 / (n - 2))
//
// x and y belong together by index. It returns statistics.ErrTooFew for fewer than three points and refuses
// values that are not finite and points all at one x. Source: NIST/SEMATECH e-Handbook 4.4.3.1.
func FitLine(x, y []float64) (Line, error) {
	meanX, meanY, err := means(x, y, 3)
	if err != nil {
		return Line{}, fmt.Errorf("fitting line: %w", err)
	}
	n := float64(len(x))
	l := Line{N: len(x), NU: len(x) - 2, meanX: meanX}
	var sxy float64
	for i := range x {
		dx := x[i] - l.meanX
		l.sxx += dx * dx
		sxy += dx * (y[i] - meanY)
	}
	if l.sxx == 0 {
		return Line{}, fmt.Errorf("fitting line: all %d points lie at %v", len(x), x[0])
	}
	l.Slope = sxy / l.sxx
	l.Intercept = meanY - l.Slope*l.meanX
	var rss float64
	for i := range x {
		r := (y[i] - meanY) - l.Slope*(x[i]-l.meanX)
		rss += r * r
	}
	l.ResidualSD = math.Sqrt(rss / float64(l.NU))
	l.SlopeSD = l.ResidualSD / math.Sqrt(l.sxx)
	l.InterceptSD = l.ResidualSD * math.Sqrt(1/n+l.meanX*l.meanX/l.sxx)
	return l, l.check()
}

// FitGrowing fits y = intercept + slope x where the spread grows with x, its variance in proportion to it: each of x steps
// adds a spread of its own. It is the least squares line with weights 1/x,
//
//	residual = sqrt(sum (y - intercept - slope x)^2/x / (n - 2)), the standard deviation at x = 1
//
// Arguments and errors are those of FitLine; x must be above zero. Source: NIST/SEMATECH e-Handbook 4.4.5.2, weighted least
// squares.
func FitGrowing(x, y []float64) (Line, error) {
	if _, _, err := means(x, y, 3); err != nil {
		return Line{}, fmt.Errorf("fitting line: %w", err)
	}
	l := Line{N: len(x), NU: len(x) - 2, growing: true}
	var meanY float64
	for i := range x {
		if x[i] <= 0 {
			return Line{}, fmt.Errorf("fitting line: point %d lies at %v, want more than zero", i+1, x[i])
		}
		w := 1 / x[i]
		l.weights += w
		l.meanX += w * x[i]
		meanY += w * y[i]
	}
	l.meanX /= l.weights
	meanY /= l.weights
	var sxy, rss float64
	for i := range x {
		dx := x[i] - l.meanX
		l.sxx += dx * dx / x[i]
		sxy += dx * (y[i] - meanY) / x[i]
	}
	if slices.Min(x) == slices.Max(x) {
		return Line{}, fmt.Errorf("fitting line: all %d points lie at %v", len(x), x[0])
	}
	l.Slope = sxy / l.sxx
	l.Intercept = meanY - l.Slope*l.meanX
	for i := range x {
		r := y[i] - l.Intercept - l.Slope*x[i]
		rss += r * r / x[i]
	}
	l.ResidualSD = math.Sqrt(rss / float64(l.NU))
	l.SlopeSD = l.ResidualSD / math.Sqrt(l.sxx)
	l.InterceptSD = l.ResidualSD * math.Sqrt(1/l.weights+l.meanX*l.meanX/l.sxx)
	return l, l.check()
}

// check refuses what numbers beyond any size leave of a fit.
func (l Line) check() error {
	for _, x := range []float64{l.Intercept, l.InterceptSD, l.Slope, l.SlopeSD, l.ResidualSD, l.sxx} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("fitting line: numbers too large or too close to each other: %w", statistics.ErrNotFinite)
		}
	}
	return nil
}

// means checks pairs of values and returns their means.
func means(x, y []float64, least int) (meanX, meanY float64, err error) {
	if len(x) != len(y) {
		return 0, 0, fmt.Errorf("%d and %d values, want as many of both", len(x), len(y))
	}
	if len(x) < least {
		return 0, 0, fmt.Errorf("%d points, want at least %d: %w", len(x), least, statistics.ErrTooFew)
	}
	if meanX, err = statistics.Mean(x); err != nil {
		return 0, 0, err
	}
	meanY, err = statistics.Mean(y)
	return meanX, meanY, err
}

// Predict returns what one further value at x is expected to be, with the limits that contain it in 95 %:
//
//	intercept + slope x ± t(0.975, n-2) residual sqrt(1 + 1/n + (x - mean x)^2 / sum (x - mean x)^2)
//
// and where the spread grows with x, with the weights w = 1/x,
//
//	intercept + slope x ± t(0.975, n-2) residual sqrt(x + 1/sum w + (x - mean x)^2 / sum w (x - mean x)^2)
//
// Source: NIST/SEMATECH e-Handbook 4.5.1.2.
func (l Line) Predict(x float64) Interval {
	t := statistics.TQuantile(0.975, float64(l.NU))
	dx := x - l.meanX
	spread := 1 + 1/float64(l.N) + dx*dx/l.sxx
	if l.growing {
		spread = x + 1/l.weights + dx*dx/l.sxx
	}
	value := l.Intercept + l.Slope*x
	half := t * l.ResidualSD * math.Sqrt(spread)
	return Interval{value, value - half, value + half}
}

func (i Interval) widened(by float64) Interval {
	return Interval{i.Value, i.Lower - by, i.Upper + by}
}
