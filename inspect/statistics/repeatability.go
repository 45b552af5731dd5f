package statistics

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// Repeatability is the standard deviation of one reading, in micrometres, and the degrees of freedom behind
// it. No degrees of freedom: not known. Sets is the number of sets of repeats it was pooled over, nought when
// it comes from a study of the gauge.
type Repeatability struct {
	Micrometres float64
	DF          int
	Sets        int
}

// Known says whether there is a standard deviation at all.
func (r Repeatability) Known() bool { return r.DF > 0 }

func (r Repeatability) check() error {
	if !(r.Micrometres >= 0 && r.Micrometres <= mostReading.Micrometres()) || r.DF < 0 {
		return fmt.Errorf("repeatability %v um with %d degrees of freedom: want a standard deviation and degrees of freedom of nought or more", r.Micrometres, r.DF)
	}
	return nil
}

// What is computed with is bounded, readings as length.Parse bounds them, so that no sum or band can overflow.
const (
	mostReading = 1_000_000 * length.Millimetre
	mostRepeats = 1000
)

func beyondReadings(l length.Length) bool { return l < -mostReading || l > mostReading }

func checkReadings(repeats []length.Length) error {
	if len(repeats) == 0 {
		return fmt.Errorf("no reading: %w", ErrTooFew)
	}
	if len(repeats) > mostRepeats {
		return fmt.Errorf("%d repeats: more than %d", len(repeats), mostRepeats)
	}
	for _, l := range repeats {
		if beyondReadings(l) {
			return fmt.Errorf("reading %v: more than a kilometre", l)
		}
	}
	return nil
}

// Pool returns the repeatability of one reading, pooled over sets of repeats of which each has its own true
// value, such as the flutes of one tool:
//
//	sp^2 = sum over sets, repeats of (x - mean of its set)^2 / nu,   nu = sum over sets of (m - 1)
//
// The sets may differ in size; sets of one add nothing. With nothing but sets of one the result is not
// Known. It returns ErrTooFew for an empty set. Source: JCGM 100:2008 4.2.4.
func Pool(sets ...[]length.Length) (Repeatability, error) {
	squares, nu := 0.0, 0
	for i, repeats := range sets {
		if err := checkReadings(repeats); err != nil {
			return Repeatability{}, fmt.Errorf("set %d: %w", i+1, err)
		}
		squares += squaresAbout(repeats)
		nu += len(repeats) - 1
	}
	if nu == 0 {
		return Repeatability{}, nil
	}
	return Repeatability{math.Sqrt(squares / float64(nu)), nu, len(sets)}, nil
}

// squaresAbout returns the sum of squares about the mean, in square micrometres. Differences from the first
// reading are exact, so nothing is lost to a large common part.
func squaresAbout(repeats []length.Length) float64 {
	var sum length.Length
	for _, l := range repeats {
		sum += l - repeats[0]
	}
	mean := sum.Micrometres() / float64(len(repeats))
	squares := 0.0
	for _, l := range repeats {
		d := (l - repeats[0]).Micrometres() - mean
		squares += d * d
	}
	return squares
}

// MeanLength returns the mean of one or more readings to the nearest picometre, halves upward: always
// upward, so that means that differ by whole picometres still do, whatever their signs.
func MeanLength(repeats []length.Length) length.Length {
	var sum length.Length
	for _, l := range repeats {
		sum += l - repeats[0]
	}
	n := length.Length(len(repeats))
	mean := (2*sum + n) / (2 * n)
	if (2*sum+n)%(2*n) < 0 {
		mean-- // Go divides toward nought
	}
	return repeats[0] + mean
}

// A Component is one contribution to an uncertainty budget: a standard uncertainty and its degrees of
// freedom, which may be infinite.
type Component struct{ Uncertainty, DF float64 }

// EffectiveDegrees returns the combined standard uncertainty of independent components and its effective
// degrees of freedom (Welch and Satterthwaite), cut to a whole number, never rounded up:
//
//	u^2 = sum u_i^2,   nu = u^4 / sum (u_i^4 / nu_i)
//
// nu is infinite when no component has finite degrees of freedom. It is for gauge budgets. Source: JCGM
// 100:2008 G.4.
func EffectiveDegrees(components []Component) (u, nu float64, err error) {
	largest := 0.0
	for i, c := range components {
		if !(c.Uncertainty >= 0 && c.Uncertainty <= math.MaxFloat64 && c.DF >= 1) {
			return 0, 0, fmt.Errorf("component %d: uncertainty %v with %v degrees of freedom", i+1, c.Uncertainty, c.DF)
		}
		largest = math.Max(largest, c.Uncertainty)
	}
	if largest == 0 {
		return 0, 0, fmt.Errorf("no component of uncertainty: %w", ErrTooFew)
	}
	squares, fourths := 0.0, 0.0
	for _, c := range components {
		share := c.Uncertainty / largest
		squares += share * share
		fourths += math.Pow(share, 4) / c.DF
	}
	u = largest * math.Sqrt(squares)
	if math.IsInf(u, 1) {
		return 0, 0, fmt.Errorf("combined uncertainty: %w", ErrNotFinite)
	}
	if fourths == 0 {
		return u, math.Inf(1), nil
	}
	return u, math.Floor(squares * squares / fourths), nil
}
