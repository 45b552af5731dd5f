package trend

import (
	"errors"
	"fmt"
	"math"

	"flutelog/inspect/statistics"
)

// Performance is how well a process as it ran keeps within its limits. An index of 1 means that the nearer
// limit is three standard deviations away. Indices whose limit is missing are nil.
type Performance struct {
	N    int       `json:"n"`
	Mean float64   `json:"mean"`
	SD   float64   `json:"sd"`
	Pp   *Interval `json:"pp"`  // both limits; says nothing of the centring
	Ppk  *Interval `json:"ppk"` // the worse of Ppu and Ppl, or the one there is
	Ppu  *Interval `json:"ppu"` // upper limit alone, as for a run-out
	Ppl  *Interval `json:"ppl"` // lower limit alone
	// Beyond is the fraction beyond the limits that the fitted distribution has.
	Beyond float64 `json:"beyond"`
	// Power is that of the values on which they scatter evenly, and the indices are worked out: 1 for the values themselves.
	Power float64 `json:"power"`
}

// mostDeviations is how many standard deviations a limit may be away: beyond, the scatter is not one of readings
// fit to be judged.
const mostDeviations = 1000

// Perform returns the performance of n values with their mean and standard deviation against limits, of which
// one may be nil:
//
//	Pp  = (upper - lower) / (6 sd)
//	Ppu = (upper - mean) / (3 sd)
//	Ppl = (mean - lower) / (3 sd)
//	Ppk = min(Ppu, Ppl)
//
// with exact 95 % confidence limits for normal values: Pp sqrt(chi2(p, n-1)/(n-1)) at p of 0.025 and 0.975, and
// for one limit the indices whose noncentral t reaches 3 sqrt(n) Ppu with these probabilities. The lower
// limit of Ppk holds at least as well; its upper one may be too low in up to 5 %, when both limits are equally
// near.
//
// It returns statistics.ErrTooFew for fewer than two values and statistics.ErrNoSpread for a standard
// deviation of zero, and refuses limits that are missing, not finite or not in order. Source: ISO 22514-2,
// NIST/SEMATECH e-Handbook 6.1.6.
func Perform(n int, mean, sd float64, lower, upper *float64) (Performance, error) {
	if err := checkPerformance(n, mean, sd, lower, upper); err != nil {
		return Performance{}, fmt.Errorf("performance: %w", err)
	}
	p := Performance{N: n, Mean: mean, SD: sd, Power: 1}
	if upper != nil {
		p.Ppu = oneSided((*upper-mean)/(3*sd), n)
	}
	if lower != nil {
		p.Ppl = oneSided((mean-*lower)/(3*sd), n)
	}
	p.Ppk = p.Ppu
	if p.Ppk == nil || p.Ppl != nil && p.Ppl.Value < p.Ppk.Value {
		p.Ppk = p.Ppl
	}
	for _, i := range []*Interval{p.Ppu, p.Ppl} {
		if i != nil {
			p.Beyond += statistics.NormalCDF(-3 * i.Value)
		}
	}
	if upper != nil && lower != nil {
		p.Pp = twoSided((*upper-*lower)/(6*sd), n)
	}
	return p, nil
}

// Performance returns how well the values keep within limits. Those of a skewed figure are told by the fraction beyond
// the limit: the index of the normal distribution that has as much beyond it, on the power of the values that scatters most
// evenly,
//
//	Ppu = (upper^power - mean of x^power) / (3 sd of x^power)
//
// Errors are those of Perform, and a limit below zero on a skewed figure. Source: ISO 22514-2, indices of other distributions by
// their fraction beyond the limit.
func (a *Accumulator) Performance(lower, upper *float64) (Performance, error) {
	n, mean, sd, err := a.Overall()
	if err != nil {
		return Performance{}, fmt.Errorf("performance: %w", err)
	}
	if !a.skewed {
		return Perform(n, mean, sd, lower, upper)
	}
	s := a.best()
	on := func(limit *float64) *float64 {
		if limit == nil {
			return nil
		}
		x := s.of(*limit)
		return &x
	}
	if lower != nil && *lower < 0 || upper != nil && *upper < 0 {
		return Performance{}, errors.New("performance: a limit below zero on a run-out")
	}
	p, err := Perform(n, s.mean, s.sd(), on(lower), on(upper))
	if err != nil {
		return Performance{}, err
	}
	p.Mean, p.SD, p.Power = mean, sd, s.power
	return p, nil
}

func checkPerformance(n int, mean, sd float64, lower, upper *float64) error {
	switch {
	case n < 2:
		return fmt.Errorf("%d values, want at least 2: %w", n, statistics.ErrTooFew)
	case sd == 0:
		return statistics.ErrNoSpread
	case !(sd > 0) || math.IsInf(sd, 1):
		return fmt.Errorf("standard deviation %v: want a number above zero", sd)
	case lower == nil && upper == nil:
		return errors.New("no limit given")
	case lower != nil && upper != nil && !(*lower < *upper):
		return fmt.Errorf("lower limit %v is not below the upper one %v", *lower, *upper)
	}
	for _, limit := range []*float64{lower, upper} {
		if limit != nil && !(math.Abs(*limit-mean) <= mostDeviations*sd) {
			return fmt.Errorf("limit %v, mean %v and standard deviation %v are out of proportion: the resolution may hide the scatter",
				*limit, mean, sd)
		}
	}
	return nil
}

func twoSided(pp float64, n int) *Interval {
	nu := float64(n - 1)
	return &Interval{
		Value: pp,
		Lower: pp * math.Sqrt(statistics.ChiSquareQuantile(0.025, nu)/nu),
		Upper: pp * math.Sqrt(statistics.ChiSquareQuantile(0.975, nu)/nu),
	}
}

func oneSided(ppu float64, n int) *Interval {
	scale := 3 * math.Sqrt(float64(n))
	t := scale * ppu
	return &Interval{
		Value: ppu,
		Lower: noncentrality(t, n-1, 0.975) / scale,
		Upper: noncentrality(t, n-1, 0.025) / scale,
	}
}

// noncentrality returns the delta for which a noncentral t with nu degrees of freedom is at most t with
// probability p. That probability falls as delta grows: the bracket is widened until it holds p, then halved.
func noncentrality(t float64, nu int, p float64) float64 {
	above := func(delta float64) bool { return statistics.NoncentralTCDF(t, float64(nu), delta) > p }
	step := 1 + math.Abs(t)
	low, high := t-step, t+step
	for !above(low) {
		low -= step
	}
	for above(high) {
		high += step
	}
	for high-low > 1e-12*step {
		if middle := (low + high) / 2; above(middle) {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}
