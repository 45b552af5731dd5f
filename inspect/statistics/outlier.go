package statistics

import (
	"fmt"
	"math"
)

// Outlier is the result of Grubbs' test on one set of values. It flags; nothing is dropped by it.
type Outlier struct {
	Index       int // of the value farthest from the mean, counted from nought
	G, Critical float64
	Flagged     bool
}

// Grubbs tests the value farthest from the mean, on either side, at 5 %:
//
//	G = max |v[i] - mean| / s,   flagged when G > (n-1)/sqrt(n) sqrt(t^2 / (n-2+t^2)),   t = t(1 - 0.05/(2n), n-2)
//
// v holds at least three repeats of one thing. resolution is the step in which they were read, in the unit
// of v, nought when they are not rounded: s^2 = sd^2 + resolution^2/12, since of three readings 5, 5, 6 the
// last would else always be an outlier. It returns ErrTooFew for fewer than three values and ErrNotFinite
// for NaN and infinities. Source: Grubbs 1969, Technometrics 11(1); NIST/SEMATECH e-Handbook 1.3.5.17.1; the
// resolution is our own, confirmed by simulation.
func Grubbs(v []float64, resolution float64) (Outlier, error) {
	if err := check(v, 3); err != nil {
		return Outlier{}, err
	}
	if !(resolution >= 0) || math.IsInf(resolution, 1) {
		return Outlier{}, fmt.Errorf("resolution %v: %w", resolution, ErrNotFinite)
	}
	mean, err := Mean(v)
	if err != nil {
		return Outlier{}, err
	}
	sd, err := StandardDeviation(v)
	if err != nil {
		return Outlier{}, err
	}
	o := Outlier{Critical: grubbsCritical(len(v))}
	farthest := 0.0
	for i, x := range v {
		if d := math.Abs(x - mean); d > farthest {
			o.Index, farthest = i, d
		}
	}
	if spread := math.Hypot(sd, resolution/math.Sqrt(12)); spread > 0 {
		o.G = farthest / spread
	}
	o.Flagged = o.G > o.Critical
	return o, nil
}

func grubbsCritical(n int) float64 {
	size := float64(n)
	t := TQuantile(1-0.05/(2*size), size-2)
	return (size - 1) / math.Sqrt(size) * math.Sqrt(t*t/(size-2+t*t))
}
