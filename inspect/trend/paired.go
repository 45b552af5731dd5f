package trend

import (
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/statistics"
)

// Paired is what changed between two values of each of the same tools.
type Paired struct {
	N          int      `json:"n"`
	Difference Interval `json:"difference"` // mean of after less before
	SD         float64  `json:"sd"`         // of the differences
	T          float64  `json:"t"`
	NU         int      `json:"nu"`
	P          float64  `json:"p"` // two-sided
	// Changed says that the limits of the difference do not contain zero.
	Changed bool `json:"changed"`
}

// Compare returns what changed between before and after, which belong together by index:
//
//	mean d ± t(0.975, n-1) sd / sqrt(n),  d = after - before
//
// It returns statistics.ErrTooFew for fewer than two pairs and statistics.ErrNoSpread when all
// differences are alike, so that there is no scatter to judge by; it refuses values that are not finite and
// unequal counts. Source: Student 1908; NIST/SEMATECH e-Handbook 7.3.1.
func Compare(before, after []float64) (Paired, error) {
	if len(before) != len(after) {
		return Paired{}, fmt.Errorf("comparing pairs: %d values before, %d after", len(before), len(after))
	}
	d := make([]float64, len(before))
	for i := range d {
		d[i] = after[i] - before[i]
	}
	sd, err := statistics.StandardDeviation(d)
	if err != nil {
		return Paired{}, fmt.Errorf("comparing pairs: %w", err)
	}
	if sd == 0 || slices.Max(d) == slices.Min(d) {
		return Paired{}, fmt.Errorf("comparing pairs: differences: %w", statistics.ErrNoSpread)
	}
	mean, err := statistics.Mean(d)
	if err != nil {
		return Paired{}, fmt.Errorf("comparing pairs: %w", err)
	}
	nu := float64(len(d) - 1)
	ofMean := sd / math.Sqrt(float64(len(d)))
	half := statistics.TQuantile(0.975, nu) * ofMean
	return Paired{
		N: len(d), Difference: Interval{mean, mean - half, mean + half}, SD: sd,
		T: mean / ofMean, NU: len(d) - 1, P: 2 * statistics.TCDF(-math.Abs(mean/ofMean), nu),
		Changed: math.Abs(mean) > half,
	}, nil
}
