package study

import (
	"errors"
	"fmt"

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

// most bounds values far beyond any size, so that their squares stay finite.
const most = 1e100

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
