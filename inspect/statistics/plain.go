// Package statistics says how well a reading is known and what may be decided from it: plain statistics,
// quantiles, the repeatability of an inspection, bands, verdicts and outliers. Values are plain float64
// numbers or micrometres in here; what is decided is decided on exact lengths.
package statistics

import (
	"errors"
	"fmt"
	"math"

	"github.com/montanaflynn/stats"
)

var (
	// ErrTooFew means that there are too few values for the statistic asked for.
	ErrTooFew = errors.New("too few values")
	// ErrNotFinite means that a value is NaN or infinite, or so large that the result would be.
	ErrNotFinite = errors.New("not a finite number")
	// ErrNoSpread means that all values are alike, which leaves the statistic undefined.
	ErrNoSpread = errors.New("all values are alike")
)

// check refuses what the library takes without an error: NaN and infinities give NaN and a nil error there.
func check(v []float64, least int) error {
	if len(v) < least {
		return fmt.Errorf("%d values, want at least %d: %w", len(v), least, ErrTooFew)
	}
	for i, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("value %d is %v: %w", i+1, x, ErrNotFinite)
		}
	}
	return nil
}

// centred returns a centre close to the mean and what is left of each value after taking it away.
//
// The library's own mean and standard deviation sum the values as they stand. On NIST's NumAcc4 (ten
// million plus or minus a tenth) that keeps 12.3 digits of the standard deviation of the stored numbers.
// Taking a centre away first is exact for values so close to it, and the library's statistics of what is
// left keep 15 (Chan, Golub and LeVeque 1983, shifted and corrected sums).
func centred(v []float64) (centre float64, rest []float64, err error) {
	if centre, err = stats.Mean(v); err != nil {
		return 0, nil, err
	}
	rest = make([]float64, len(v))
	for i, x := range v {
		rest[i] = x - centre
	}
	if err := check(rest, 0); err != nil {
		return 0, nil, fmt.Errorf("spread too large: %w", err)
	}
	return centre, rest, nil
}

// Mean returns the arithmetic mean of v:
//
//	sum v[i] / n
//
// It returns ErrTooFew for no values and ErrNotFinite for NaN and infinities.
func Mean(v []float64) (float64, error) {
	if err := check(v, 1); err != nil {
		return 0, err
	}
	centre, rest, err := centred(v)
	if err != nil {
		return 0, err
	}
	correction, err := stats.Mean(rest)
	return centre + correction, err
}

// StandardDeviation returns the sample standard deviation of v:
//
//	sqrt(sum (v[i] - mean)^2 / (n - 1))
//
// It returns ErrTooFew for fewer than two values and ErrNotFinite for NaN and infinities.
func StandardDeviation(v []float64) (float64, error) {
	if err := check(v, 2); err != nil {
		return 0, err
	}
	_, rest, err := centred(v)
	if err != nil {
		return 0, err
	}
	return stats.StandardDeviationSample(rest)
}

// Lag1 returns the lag-1 autocorrelation of v, in the order in which the values were taken:
//
//	sum over i=2..n of (v[i] - mean)(v[i-1] - mean) / sum (v[i] - mean)^2
//
// It returns ErrTooFew for fewer than two values, ErrNoSpread when all are alike and ErrNotFinite for NaN and
// infinities. Source: NIST/SEMATECH e-Handbook 1.3.5.12.
func Lag1(v []float64) (float64, error) {
	if err := check(v, 2); err != nil {
		return 0, err
	}
	_, rest, err := centred(v)
	if err != nil {
		return 0, err
	}
	r, err := stats.AutoCorrelation(rest, 1)
	if errors.Is(err, stats.ErrZero) {
		return 0, ErrNoSpread
	}
	return r, err
}
