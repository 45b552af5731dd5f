package statistics

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// Ratio is a width as a share of another, such as the primary of the whole land, from repeats of both.
type Ratio struct {
	part, whole Estimate
}

// NewRatio is the share of two widths, each as Width estimates it, with the step and the error of the gauge that it was read
// with. It refuses a part below nought, a whole of nought or less, and widths beyond a metre.
func NewRatio(part, whole Estimate) (Ratio, error) {
	const most = 1000 * length.Millimetre
	if part.Value < 0 || part.Value > most || whole.Value <= 0 || whole.Value > most {
		return Ratio{}, fmt.Errorf("ratio of %v to %v: want widths above nought, up to a metre", part.Value, whole.Value)
	}
	return Ratio{part, whole}, nil
}

// Value returns the ratio as a number, for printing.
func (r Ratio) Value() float64 { return float64(r.part.Value) / float64(r.whole.Value) }

// combination is all but the value of an estimate of a part - b whole. The gauge may err on the one width in one
// direction and on the other in the other. Where one repeatability is known of both, it is one part of the variance, else two.
func (r Ratio) combination(a, b float64) Estimate {
	e := r.part
	e.repeats = min(r.part.repeats, r.whole.repeats)
	e.own = a*r.part.own + b*r.whole.own
	f, w := r.part.figures[0], r.whole.figures[0]
	f.parts[0].variance *= a * a
	w.parts[0].variance *= b * b
	if r.part.Noise == r.whole.Noise {
		e.Noise.Sets = max(2, e.Noise.Sets)
		f.parts[0].variance += w.parts[0].variance
		f.parts[0].perRound = float64(e.Noise.Sets)
	} else {
		f.parts[1] = w.parts[0]
		if !r.whole.Noise.Known() || r.whole.Noise.ByStep {
			e.Noise = r.whole.Noise
		}
	}
	f.steps = a*a*f.steps + b*b*w.steps
	f.grid = math.Hypot(a*f.grid, b*w.grid) / math.Sqrt2
	e.figures = []figure{f}
	return e
}

// Uncertainty returns the band of the statement "ratio plus or minus U, 95 %", to first order:
//
//	U = (t(0.975, nu) sqrt(u_part^2 + ratio^2 u_whole^2) + (1 + ratio) E) / whole
//
// and false when the readings do not tell it. Source: JCGM 100:2008 5.1.2.
func (r Ratio) Uncertainty() (float64, bool) {
	e := r.combination(1, r.Value())
	e.figures[0].value = e.Value
	u, known := e.Uncertainty()
	return float64(u) / float64(r.whole.Value), known
}

// StandardUncertainty returns the ratio's standard uncertainty with its degrees of freedom; false when the readings do not tell.
func (r Ratio) StandardUncertainty() (u float64, df *int, known bool) {
	e := r.combination(1, r.Value())
	e.figures[0].value = e.Value
	l, df, known := e.StandardUncertainty()
	return float64(l) / float64(r.whole.Value), df, known
}

// GaugeError returns how much of the ratio's band is the gauge's own error, (1 + ratio) E / whole.
func (r Ratio) GaugeError() float64 {
	e := r.combination(1, r.Value())
	return float64(e.GaugeError()) / float64(r.whole.Value)
}

// Together says that n ratios are judged together; see Estimate.Together.
func (r Ratio) Together(n int) Ratio {
	r.part.family = n
	return r
}

// Fraction is an exact limit of a ratio, Num/Den.
type Fraction struct{ Num, Den int64 }

func (f Fraction) check() error {
	if f.Num < 0 || f.Num > 1_000_000 || f.Den < 1 || f.Den > 1_000_000 {
		return fmt.Errorf("ratio %d/%d: want a numerator from nought and a denominator from one, up to a million", f.Num, f.Den)
	}
	return nil
}

// RatioDecision is a Decision on a ratio between limits, either of which may be nil.
type RatioDecision struct {
	Decision
	Value        float64
	Low, High    float64 // the band of the two-sided 95 % statement, when Known
	Lower, Upper *Fraction
	// By how much the ratio must lie beyond its one limit to be rejected by the guarded rule, and inside of it to be accepted;
	// nought by any other rule, and where it has both limits.
	RejectBand, AcceptBand float64
}

// DecideRatio is Decide for a ratio. The simple rule compares by cross-multiplication; the guarded rule puts
// the band on the difference
//
//	den part - num whole
//
// which is linear in what was read, so that no first-order step is left in the decision. Errors: those of
// Decide, and limits that are no fraction.
func DecideRatio(r Ratio, lower, upper *Fraction, rule Rule) (RatioDecision, error) {
	for _, f := range []*Fraction{lower, upper} {
		if f == nil {
			continue
		}
		if err := f.check(); err != nil {
			return RatioDecision{}, err
		}
	}
	if lower != nil && upper != nil && lower.Num*upper.Den > upper.Num*lower.Den {
		return RatioDecision{}, fmt.Errorf("limits %d/%d to %d/%d: the lower one is larger", lower.Num, lower.Den, upper.Num, upper.Den)
	}
	var low, high Estimate
	var least, most *length.Length
	var zero length.Length
	if lower != nil {
		low, least = r.against(*lower), &zero
	}
	if upper != nil {
		high, most = r.against(*upper), &zero
	}
	core, err := decide(&low, &high, least, most, rule)
	if err != nil {
		return RatioDecision{}, err
	}
	d := RatioDecision{Decision: core, Value: r.Value(), Lower: lower, Upper: upper}
	if u, known := r.Uncertainty(); known {
		d.Low, d.High = d.Value-u, d.Value+u
	}
	if one, f := &high, upper; core.Known && rule == Guarded && (lower == nil) != (upper == nil) {
		if f == nil {
			one, f = &low, lower
		}
		reject, accept := one.bands(lower != nil, upper != nil)
		whole := float64(f.Den) * float64(r.whole.Value)
		d.RejectBand, d.AcceptBand = float64(reject)/whole, float64(accept)/whole
	}
	return d, nil
}

// against estimates den part - num whole, exactly: widths are at most a metre and fractions of a million.
func (r Ratio) against(f Fraction) Estimate {
	e := r.combination(float64(f.Den), float64(f.Num))
	e.Value = length.Length(f.Den)*r.part.Value - length.Length(f.Num)*r.whole.Value
	e.figures[0].value = e.Value
	return e
}
