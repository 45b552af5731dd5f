package statistics

import (
	"fmt"
	"math"
	"sort"

	"flutelog/inspect/length"
)

// Decision is a verdict and what it rests on.
type Decision struct {
	Verdict Verdict
	Rule    Rule
	Reason  string // in words, without figures
	// Known says whether the readings tell how well the value is known; without it there is no band.
	Known bool
	// Probability is that of conformance; nil when it is not known, or no limit is given.
	Probability *float64
	// Settle is the number of repeats that would settle an undecided verdict if the value stayed as it is;
	// nought when it is not undecided, or when none will because the gauge is too coarse.
	Settle int
}

// LengthDecision is a Decision on a length between limits, either of which may be nil.
type LengthDecision struct {
	Decision
	Value        length.Length
	Low, High    length.Length // the band of the two-sided 95 % statement, when Known
	Lower, Upper *length.Length
}

// Decide holds an estimate against its limits, of which one may be nil. A value equal to its limit conforms.
// The simple rule compares the value. The guarded rule accepts when the true value conforms and rejects when
// it does not, each with at most 5 % risk of being wrong, else leaves it undecided; it does not judge single
// readings without a studied repeatability. Errors: limits the wrong way round or beyond a kilometre, an
// unknown rule. Source: JCGM 106:2012.
func Decide(e Estimate, lower, upper *length.Length, rule Rule) (LengthDecision, error) {
	for _, limit := range []*length.Length{lower, upper} {
		if limit != nil && beyondReadings(*limit) {
			return LengthDecision{}, fmt.Errorf("limit %v: more than a kilometre", *limit)
		}
	}
	if lower != nil && upper != nil && *lower > *upper {
		return LengthDecision{}, fmt.Errorf("limits %v to %v: the lower one is larger", *lower, *upper)
	}
	var bounds []bound
	if lower != nil {
		bounds = append(bounds, bound{e, e.Value - *lower, below, above})
	}
	if upper != nil {
		bounds = append(bounds, bound{e, *upper - e.Value, above, below})
	}
	core, err := decide(bounds, e.known(), rule)
	if err != nil {
		return LengthDecision{}, err
	}
	d := LengthDecision{Decision: core, Value: e.Value, Lower: lower, Upper: upper}
	if u, known := e.Uncertainty(); known {
		d.Low, d.High = e.Value-u, e.Value+u
		if e.flutes > 0 {
			d.Low = max(d.Low, 0) // a range is never negative
		}
	}
	return d, nil
}

// A bound is an estimate and its margin to one limit, negative when beyond it. toward is the side of the
// estimate on which the limit lies when the margin is positive, away the other one.
type bound struct {
	Estimate
	margin       length.Length
	toward, away side
}

const oneReading = "one reading decides work, never acceptance"

// decide holds one estimate, seen from each of its limits, against them all. known is Estimate.known.
func decide(bounds []bound, known bool, rule Rule) (Decision, error) {
	d := Decision{Verdict: NotJudged, Rule: rule, Known: known}
	if _, err := ParseRule(string(rule)); err != nil {
		return Decision{}, err
	}
	if len(bounds) == 0 {
		d.Reason = "no limit given"
		return d, nil
	}
	repeated := bounds[0].Noise.Known()
	if known {
		p := conformance(bounds)
		d.Probability = &p
	}
	switch {
	case rule == Simple:
		d.Verdict, d.Reason = compare(bounds), "the value compared with the limit"
		if !repeated {
			d.Reason += "; " + oneReading
		}
	case !repeated:
		d.Reason = "no repeats and no studied repeatability: " + oneReading
	case !known:
		d.Reason = "the readings are all alike and no resolution is known: they do not tell how good they are"
	default:
		d.guard(bounds)
	}
	return d, nil
}

func compare(bounds []bound) Verdict {
	for _, b := range bounds {
		if b.margin < 0 {
			return Reject
		}
	}
	return Accept
}

// guard decides by the guarded rule, and when it cannot, says what would settle it.
func (d *Decision) guard(bounds []bound) {
	d.Verdict = guarded(bounds, Estimate.now)
	switch d.Verdict {
	case Accept:
		d.Reason = "the value and its guard band are within the limit"
		return
	case Reject:
		d.Reason = "the value is beyond the limit by more than its guard band"
		return
	}
	d.Settle = settle(bounds)
	if d.Settle == 0 {
		d.Reason = fmt.Sprintf("the limit is inside the guard band, and not even %d repeats would settle it: gauge too coarse", manyRepeats)
		return
	}
	d.Reason = fmt.Sprintf("the limit is inside the guard band; %d repeats would settle it if the value stays", d.Settle)
}

// guarded rejects at 5 % in all: against one limit on that side, against two on both.
func guarded(bounds []bound, at func(Estimate) precision) Verdict {
	verdict := Accept
	for _, b := range bounds {
		away := b.away
		if len(bounds) > 1 {
			away = both
		}
		if b.margin < 0 && -b.margin > b.band(away, at(b.Estimate)) {
			return Reject
		}
		if b.margin < 0 || b.margin < b.band(b.toward, at(b.Estimate)) {
			verdict = Undecided
		}
	}
	return verdict
}

// manyRepeats is more repeats than anyone takes at a bench.
const manyRepeats = 50

// settle returns the least number of repeats at which the verdict would be decided if value and scatter
// stayed; nought when not even manyRepeats do. Bands shrink with repeats, so it can halve its way there.
func settle(bounds []bound) int {
	decided := func(m int) bool {
		return guarded(bounds, func(e Estimate) precision { return e.with(m) }) != Undecided
	}
	if !decided(manyRepeats) {
		return 0
	}
	least := max(2, bounds[0].repeats+1)
	return least + sort.Search(max(0, manyRepeats-least), func(i int) bool { return decided(least + i) })
}

// conformance returns the probability that the true value conforms, given the readings alone:
//
//	P(t(nu) <= margin / u),   u^2 = sum c^2 (sp^2/m + q^2/12) + E^2/3
//
// less, for two limits, what lies beyond the other one. Source: JCGM 106:2012 7.2 to 7.4, with Student's t
// for a repeatability that is itself estimated.
func conformance(bounds []bound) float64 {
	p := 1.0
	for _, b := range bounds {
		systematic := b.errors * b.gauge.PermissibleError.Micrometres()
		u := math.Sqrt(b.randomVariance(b.now()) + systematic*systematic/3)
		p -= 1 - TCDF(b.margin.Micrometres()/u, float64(b.Noise.DF))
	}
	return math.Max(0, p)
}
