package study

import (
	"errors"
	"fmt"
	"math"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Repeatability is how far one person's repeats with one gauge scatter: the standard deviation of one reading with
// its two-sided 95 % confidence limits, in micrometres.
type Repeatability struct {
	SD    float64 `json:"sd_um"`
	Lower float64 `json:"lower_um"`
	Upper float64 `json:"upper_um"`
	NU    int     `json:"nu"` // degrees of freedom
	// Coarse says that no repeat differs from another: the scatter is below the gauge's resolution, and SD
	// is zero for that reason alone.
	Coarse bool `json:"coarse"`
}

// AnalyseRepeats returns the repeatability of one person from repeats on one or more parts (or on a
// master), pooled over the parts, with the limits
//
//	sd sqrt(nu / chi2(0.975, nu))  to  sd sqrt(nu / chi2(0.025, nu))
//
// A part with a single reading adds nothing. It refuses no repeats at all, and what statistics.Pool refuses.
// Source: NIST/SEMATECH e-Handbook 2.4.4.1, and 7.2.3 for the limits.
func AnalyseRepeats(parts ...[]length.Length) (Repeatability, error) {
	r, err := statistics.Pool(parts...)
	if err != nil {
		return Repeatability{}, fmt.Errorf("analysing repeats: %w", err)
	}
	if !r.Known() {
		return Repeatability{}, errors.New("analysing repeats: no part was read more than once")
	}
	sd, nu := r.Micrometres, float64(r.DF)
	return Repeatability{
		SD:     sd,
		Lower:  sd * math.Sqrt(nu/statistics.ChiSquareQuantile(0.975, nu)),
		Upper:  sd * math.Sqrt(nu/statistics.ChiSquareQuantile(0.025, nu)),
		NU:     r.DF,
		Coarse: sd == 0,
	}, nil
}

// Bias is how far a gauge's mean lies from the master it was read on, with two-sided 95 % confidence limits, in
// micrometres.
type Bias struct {
	Bias  float64 `json:"bias_um"`
	Lower float64 `json:"lower_um"`
	Upper float64 `json:"upper_um"`
	// Significant says that the limits do not contain zero: the gauge reads wrong by more than its noise.
	Significant   bool          `json:"significant"`
	Repeatability Repeatability `json:"repeatability"`
}

// AnalyseBias returns the bias of n repeats on a master of known size:
//
//	mean - master ± t(0.975, n-1) sd / sqrt(n)
//
// The limits hold the scatter of the repeats only; the uncertainty of the master comes on top. It refuses what
// AnalyseRepeats refuses of one part. Source: NIST/SEMATECH e-Handbook 2.4.5 and 1.3.5.2.
func AnalyseBias(repeats []length.Length, master length.Length) (Bias, error) {
	r, err := AnalyseRepeats(repeats)
	if err != nil {
		return Bias{}, fmt.Errorf("analysing bias: %w", err)
	}
	var sum length.Length
	for _, l := range repeats {
		sum += l - master
	}
	n := float64(len(repeats))
	bias := sum.Micrometres() / n
	half := statistics.TQuantile(0.975, float64(r.NU)) * r.SD / math.Sqrt(n)
	return Bias{
		Bias: bias, Lower: bias - half, Upper: bias + half,
		Significant:   math.Abs(bias) > half,
		Repeatability: r,
	}, nil
}

// FineEnough says whether a gauge's resolution divides the tolerance into ten parts or more:
//
//	resolution <= tolerance / 10
//
// tolerance is its whole width, or a single limit. It refuses lengths that are not above zero. Source: common
// practice.
func FineEnough(resolution, tolerance length.Length) (bool, error) {
	if resolution <= 0 || tolerance <= 0 {
		return false, fmt.Errorf("resolution %v, tolerance %v: both must be above zero", resolution, tolerance)
	}
	return resolution <= tolerance/10, nil // of whole numbers, the same without overflow
}
