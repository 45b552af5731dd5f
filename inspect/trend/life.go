package trend

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// LifeLeft is how many more regrinds a tool is good for: 95 % of tools last from Least to Most of them.
type LifeLeft struct {
	Regrinds int `json:"regrinds"`
	Least    int `json:"least"`
	Most     int `json:"most"`
	Footing
}

// mostRegrinds bounds what is foreseen.
const mostRegrinds = 1000

// EstimateLife returns how many more regrinds take a tool from the diameter now to the smallest useful one, by what
// regrinds of the bench have taken off: of k more, 95 % take off within
//
//	k mean ± t(0.975, n-1) sd sqrt(k + k^2/n)
//
// With fewer than five losses it is by the loss that geometry foresees, and the note says so. It refuses a diameter already
// under the smallest, and losses that are not above zero on average. Source: prediction of a sum, from NIST/SEMATECH
// e-Handbook 7.2.2.1's interval of a mean.
func EstimateLife(losses []length.Length, now, smallest, geometry length.Length) (LifeLeft, error) {
	left := (now - smallest).Micrometres()
	if left < 0 {
		return LifeLeft{}, fmt.Errorf("life left: %v is under the smallest useful %v already", now, smallest)
	}
	um := length.Micrometres(losses)
	mean, sd, n := geometry.Micrometres(), 0.0, float64(len(um))
	e := LifeLeft{Footing: tooFewRecords(len(um))}
	t := 0.0
	if len(um) >= leastRecords {
		var err error
		if mean, err = statistics.Mean(um); err != nil {
			return LifeLeft{}, fmt.Errorf("life left: %w", err)
		}
		if sd, err = statistics.StandardDeviation(um); err != nil {
			return LifeLeft{}, fmt.Errorf("life left: %w", err)
		}
		t = statistics.TQuantile(0.975, n-1)
		e.Footing = fromRecords(len(um))
	}
	if !(mean > 0) {
		return LifeLeft{}, fmt.Errorf("life left: a regrind takes off %g um on average, want more than zero", mean)
	}
	// lasts is how many whole regrinds fit when each set of k takes off k mean and so many widths more.
	lasts := func(widths float64) int {
		k := 0
		for k < mostRegrinds {
			next := float64(k + 1)
			if next*mean+widths*sd*math.Sqrt(next+next*next/math.Max(n, 1)) > left {
				break
			}
			k++
		}
		return k
	}
	e.Regrinds, e.Least, e.Most = lasts(0), lasts(t), lasts(-t)
	return e, nil
}
