package study

import (
	"errors"
	"fmt"
	"math"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Interval is a value with its two-sided 95 % confidence limits.
type Interval struct {
	Value float64 `json:"value"`
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
}

// Repeatability is how far one person's repeats with one gauge scatter.
type Repeatability struct {
	SD Interval `json:"sd"`
	NU int      `json:"nu"` // degrees of freedom
	// Coarse says that no repeat differs from another: the scatter is below the gauge's resolution, and SD
	// is zero for that reason alone.
	Coarse bool `json:"coarse"`
}

// AnalyseRepeats returns the repeatability of one person from repeats on one or more parts (or on a
// master), pooled over the parts:
//
//	nu = sum (m_k - 1)
//	sd = sqrt(sum (value - mean_k)^2 / nu)
//	sd sqrt(nu / chi2(0.975, nu))  to  sd sqrt(nu / chi2(0.025, nu))
//
// Each part holds its repeats, in one unit; a part with a single value adds nothing. It refuses values that
// are not finite, and no repeats at all. Source: NIST/SEMATECH e-Handbook 2.4.4.1, and 7.2.3 for the limits.
func AnalyseRepeats(parts [][]float64) (Repeatability, error) {
	var sum float64
	nu := 0
	for i, repeats := range parts {
		if _, err := statistics.Mean(repeats); err != nil {
			return Repeatability{}, fmt.Errorf("analysing repeats of part %d: %w", i+1, err)
		}
		s := shifted(repeats, repeats[0])
		sum += squares(s, mean(s))
		nu += len(repeats) - 1
	}
	if nu == 0 {
		return Repeatability{}, errors.New("analysing repeats: no part was read more than once")
	}
	n := float64(nu)
	sd := math.Sqrt(sum / n)
	return Repeatability{
		SD: Interval{
			Value: sd,
			Lower: sd * math.Sqrt(n/statistics.ChiSquareQuantile(0.975, n)),
			Upper: sd * math.Sqrt(n/statistics.ChiSquareQuantile(0.025, n)),
		},
		NU:     nu,
		Coarse: sum == 0,
	}, nil
}

// Bias is how far a gauge's mean lies from the master it was read on.
type Bias struct {
	N    int      `json:"n"`
	Mean float64  `json:"mean"`
	SD   float64  `json:"sd"`
	Bias Interval `json:"bias"`
	// Significant says that the limits do not contain zero: the gauge reads wrong by more than its noise.
	Significant bool `json:"significant"`
	// Coarse says that no repeat differs from another, so that the limits say nothing about the scatter.
	Coarse bool `json:"coarse"`
}

// AnalyseBias returns the bias of repeats on a master whose value is known:
//
//	mean - master ± t(0.975, n-1) sd / sqrt(n)
//
// Repeats and master are in one unit. The limits hold the scatter of the repeats only; the uncertainty of the
// master comes on top. It refuses fewer than two repeats and values that are not finite. Source:
// NIST/SEMATECH e-Handbook 2.4.5.3 and 1.3.5.2.
func AnalyseBias(repeats []float64, master float64) (Bias, error) {
	if math.IsNaN(master) || math.IsInf(master, 0) {
		return Bias{}, fmt.Errorf("analysing bias: master is %v", master)
	}
	r, err := AnalyseRepeats([][]float64{repeats})
	if err != nil {
		return Bias{}, fmt.Errorf("analysing bias: %w", err)
	}
	bias := mean(shifted(repeats, master))
	half := statistics.TQuantile(0.975, float64(r.NU)) * r.SD.Value / math.Sqrt(float64(len(repeats)))
	return Bias{
		N: len(repeats), Mean: master + bias, SD: r.SD.Value,
		Bias:        Interval{bias, bias - half, bias + half},
		Significant: math.Abs(bias) > half,
		Coarse:      r.Coarse,
	}, nil
}

// FineEnough says whether a gauge's resolution divides the tolerance into ten parts or more:
//
//	10 resolution <= tolerance
//
// tolerance is its whole width, or a single limit. It refuses lengths that are not above zero. Source: common
// practice.
func FineEnough(resolution, tolerance length.Length) (bool, error) {
	if resolution <= 0 || tolerance <= 0 {
		return false, fmt.Errorf("resolution %v, tolerance %v: both must be above zero", resolution, tolerance)
	}
	return 10*resolution <= tolerance, nil
}
