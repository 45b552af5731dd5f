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
	ByStep      bool // one reading and no study: the gauge's step is all that is known
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
	return Repeatability{Micrometres: math.Sqrt(squares / float64(nu)), DF: nu, Sets: len(sets)}, nil
}

// With returns the repeatability of r and another that was found apart from it, such as a study's, together:
//
//	sp^2 = (nu1 sp1^2 + nu2 sp2^2) / (nu1 + nu2)
//
// unless they disagree at 1 % by the F test of two variances; then the larger one stands alone, with its own
// degrees of freedom. Either may be unknown. Source: NIST/SEMATECH e-Handbook 1.3.5.9 for the test.
func (r Repeatability) With(other Repeatability) Repeatability {
	switch {
	case !other.Known():
		return r
	case !r.Known():
		return Repeatability{Micrometres: other.Micrometres, DF: other.DF, Sets: r.Sets}
	}
	large, small := r, other
	if other.Micrometres > r.Micrometres {
		large, small = other, r
	}
	large.Sets = r.Sets
	if large.Micrometres > 0 {
		f := small.Micrometres / large.Micrometres
		if FCDF(f*f, float64(small.DF), float64(large.DF)) < 0.005 {
			return large
		}
	}
	n1, n2 := float64(r.DF), float64(other.DF)
	return Repeatability{
		Micrometres: math.Sqrt((n1*r.Micrometres*r.Micrometres + n2*other.Micrometres*other.Micrometres) / (n1 + n2)),
		DF:          r.DF + other.DF, Sets: r.Sets,
	}
}

// Step returns the step in which readings were taken where nobody stated it: the coarsest step of a gauge that all their
// differences are whole numbers of. It is never finer than the gauge's own step, as the last decimal is for a dial in fives,
// and three readings of which two happen to lie 30 tenths apart make no gauge in thirties. Where so many differences are
// whole numbers of a step that no gauge is known to have, that it would come of itself in fewer than one of 25, it is the step.
// Readings that are all alike have no difference to tell it by: nought, and the caller goes by how finely they were written.
func Step(sets ...[]length.Length) length.Length {
	var apart, first length.Length
	begun, differ := false, map[length.Length]bool{}
	for _, repeats := range sets {
		for _, l := range repeats {
			if !begun {
				first, begun = l, true
			}
			if l != first {
				differ[l] = true
			}
			for b := l - first; b != 0; { // Euclid's algorithm
				apart, b = b, apart%b
			}
		}
	}
	apart = apart.Abs()
	step := gaugeStep(apart)
	if step > 0 && math.Pow(float64(apart/step), float64(len(differ))) >= 25 && len(differ) > 2 {
		return apart
	}
	return step
}

// gaugeStep returns the coarsest step of a gauge that divides a length: 1, 2, 2.5 or 5, with as many noughts or decimals as
// it takes, of an inch or a millimetre (common practice; ISO 463 grades dial gauges by 1, 2 and 5).
func gaugeStep(apart length.Length) length.Length {
	if apart == 0 {
		return 0
	}
	best := length.Picometre
	for _, unit := range []length.Length{length.Inch, length.Millimetre} {
		for size := unit; size%10 == 0; size /= 10 {
			for _, step := range []length.Length{size, size / 2, size / 4, size / 5} {
				if apart%step == 0 {
					best = max(best, step)
				}
			}
		}
	}
	return best
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
