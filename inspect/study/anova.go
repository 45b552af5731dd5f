package study

import (
	"errors"
	"fmt"
	"math"

	"flutelog/inspect/statistics"
)

// Row is one line of a table of the analysis of variance. F and P are nil where there is nothing to
// compare with: the repeats themselves, and the total.
type Row struct {
	Source string   `json:"source"`
	DF     int      `json:"df"`
	SS     float64  `json:"ss"`
	MS     float64  `json:"ms"`
	F      *float64 `json:"f"`
	P      *float64 `json:"p"`
}

func newRow(source string, df int, ss float64) Row {
	return Row{Source: source, DF: df, SS: ss, MS: ss / float64(df)}
}

// against fills in F and P of r from the row it is compared with. It turns the ratio over, so that a small
// probability keeps its digits instead of being lost in a difference from one. It refuses noise of zero,
// and ratios that no readings of one quantity can have.
func (r *Row) against(noise Row) error {
	if noise.MS == 0 {
		return errors.New("no repeat differs from another: the resolution hides their scatter; read finer")
	}
	f, p := r.MS/noise.MS, 1.0
	if !(f < 1e15) {
		return fmt.Errorf("mean square %v of %s is out of all proportion to %v of %s", r.MS, r.Source, noise.MS, noise.Source)
	}
	if f > 0 {
		p = statistics.FCDF(noise.MS/r.MS, float64(noise.DF), float64(r.DF))
	}
	r.F, r.P = &f, &p
	return nil
}

// OneWay is a one-way analysis of variance: do groups (inspectors, benches, wheels) differ by more than the
// values within each.
type OneWay struct {
	Rows       []Row   `json:"anova"` // between, within, total
	ResidualSD float64 `json:"residual_sd"`
	RSquared   float64 `json:"r_squared"`
}

// AnalyseGroups returns the one-way analysis of variance of groups of values, which may differ in size:
//
//	between = sum n_g (mean_g - mean)^2     with groups - 1 degrees of freedom
//	within  = sum (value - mean_g)^2        with values - groups
//	F       = (between/df) / (within/df)
//
// All values share one unit. It refuses fewer than two groups, an empty group, groups without any repeat,
// values that are not finite, and groups whose values do not differ at all within any of them. Source:
// NIST/SEMATECH e-Handbook 7.4.3.
func AnalyseGroups(groups [][]float64) (OneWay, error) {
	if len(groups) < 2 {
		return OneWay{}, fmt.Errorf("analysing groups: %d given, at least 2 needed", len(groups))
	}
	n := 0
	for i, g := range groups {
		if err := checkValues(g); err != nil {
			return OneWay{}, fmt.Errorf("analysing groups: group %d: %w", i+1, err)
		}
		n += len(g)
	}
	if n == len(groups) {
		return OneWay{}, errors.New("analysing groups: one value in each; repeats are needed to know the noise")
	}
	between, within := betweenAndWithin(groups)
	rows := []Row{
		newRow("between", len(groups)-1, between),
		newRow("within", n-len(groups), within),
		newRow("total", n-1, between+within),
	}
	if err := rows[0].against(rows[1]); err != nil {
		return OneWay{}, fmt.Errorf("analysing groups: %w", err)
	}
	return OneWay{
		Rows:       rows,
		ResidualSD: math.Sqrt(rows[1].MS),
		RSquared:   between / (between + within),
	}, nil
}

// betweenAndWithin shifts all values by the first of them, exactly, so that the leading digits they share cost
// no precision.
func betweenAndWithin(groups [][]float64) (between, within float64) {
	var all []float64
	means := make([]float64, len(groups))
	for i, g := range groups {
		s := make([]float64, len(g))
		for k, x := range g {
			s[k] = x - groups[0][0]
		}
		means[i] = mean(s)
		within += squares(s, means[i])
		all = append(all, s...)
	}
	centre := mean(all)
	for i, g := range groups {
		between += float64(len(g)) * (means[i] - centre) * (means[i] - centre)
	}
	return between, within
}

// most bounds values far beyond any size, so that their squares stay finite.
const most = 1e100

func checkValues(xs []float64) error {
	if len(xs) == 0 {
		return statistics.ErrTooFew
	}
	for i, x := range xs {
		if !(math.Abs(x) <= most) {
			return fmt.Errorf("value %d is %v: %w", i+1, x, statistics.ErrNotFinite)
		}
	}
	return nil
}

// mean is exact where all values are alike, so that their scatter comes out as zero.
func mean(xs []float64) float64 {
	var sum float64
	for _, x := range xs {
		sum += x - xs[0]
	}
	return xs[0] + sum/float64(len(xs))
}

// squares returns the sum of the squared distances from m.
func squares(xs []float64, m float64) float64 {
	var sum float64
	for _, x := range xs {
		sum += (x - m) * (x - m)
	}
	return sum
}
