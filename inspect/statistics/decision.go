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
	// Settle is the number of rounds that would settle an undecided verdict if the value stayed as it is;
	// nought when it is not undecided, or when none will because the gauge is too coarse.
	Settle int
	// TooCoarse says that no number of rounds that anyone reads will settle it with this gauge.
	TooCoarse bool
}

// LengthDecision is a Decision on a length between limits, either of which may be nil.
type LengthDecision struct {
	Decision
	Value        length.Length
	Low, High    length.Length // the band of the two-sided 95 % statement, when Known
	Lower, Upper *length.Length
	// RejectBand is by how much the value must lie beyond its limit to be rejected by the guarded rule, the gauge's own error
	// included; nought by any other rule. It is not the band that accepts: a TIR picks the extremes of its flutes.
	RejectBand length.Length
	// AcceptBand is by how much it must lie inside of its limit to be accepted by that rule, likewise.
	AcceptBand length.Length
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
	core, err := decide(&e, &e, lower, upper, rule)
	if err != nil {
		return LengthDecision{}, err
	}
	d := LengthDecision{Decision: core, Value: e.Value, Lower: lower, Upper: upper}
	if u, known := e.Uncertainty(); known {
		d.Low, d.High = e.Value-u, e.Value+u
		if e.kind == spread || e.kind == distance {
			d.Low = max(d.Low, 0) // neither is ever negative
		}
	}
	if core.Known && rule == Guarded {
		d.RejectBand, d.AcceptBand = e.bands(lower != nil, upper != nil)
	}
	return d, nil
}

// bands returns by how much an estimate must lie beyond its limit to be rejected by the guarded rule, and inside of it to be
// accepted; nought where no look is spent, or nothing limits it.
func (e *Estimate) bands(lower, upper bool) (reject, accept length.Length) {
	if e.risk(e.repeats) == 0 || !lower && !upper {
		return 0, 0
	}
	away := e.away(e.repeats, lower && upper)
	if upper {
		most, _ := e.most(e.risk(e.repeats), e.repeats)
		return e.Value - e.least(away, e.repeats), most - e.Value
	}
	most, _ := e.most(away, e.repeats)
	return most - e.Value, e.Value - e.least(e.risk(e.repeats), e.repeats)
}

// away returns the chance of rejecting wrongly that one limit is given, of one or of two: of n estimates judged together an nth.
func (e *Estimate) away(rounds int, both bool) float64 {
	away := e.risk(rounds) / float64(max(1, e.family))
	if both {
		away /= 2
	}
	return away
}

const oneReading = "one reading decides work, never acceptance"

// decide holds an estimate against each of its limits; low and high are the same but where a ratio makes another
// linear figure for each of them.
func decide(low, high *Estimate, lower, upper *length.Length, rule Rule) (Decision, error) {
	e := high
	if upper == nil {
		e = low
	}
	known := e.known()
	d := Decision{Verdict: NotJudged, Rule: rule, Known: known}
	if _, err := ParseRule(string(rule)); err != nil {
		return Decision{}, err
	}
	if lower == nil && upper == nil {
		d.Reason = "no limit given"
		return d, nil
	}
	repeated := e.Noise.Known()
	if known {
		p := 1.0
		if upper != nil {
			p -= 1 - high.conformance(*upper-high.Value)
		}
		if lower != nil {
			p -= 1 - low.conformance(low.Value-*lower)
		}
		p = math.Max(0, p)
		d.Probability = &p
	}
	switch {
	case e.void:
		d.Reason = e.stops
	case rule == Simple:
		d.Verdict, d.Reason = Accept, "the value compared with the limit"
		if lower != nil && low.Value < *lower || upper != nil && high.Value > *upper {
			d.Verdict = Reject
		}
		if !repeated || e.Noise.ByStep {
			d.Reason += "; " + oneReading
		}
	case !repeated:
		d.Reason = "no repeats and no studied repeatability: " + oneReading
	case !known:
		d.Reason = "the readings are all alike and no resolution is known: they do not tell how good they are"
	default:
		d.guard(low, high, lower, upper)
		if e.Noise.ByStep {
			d.Reason += "; one reading, known to the gauge's step alone"
		}
	}
	return d, nil
}

// guard decides by the guarded rule, and when it cannot, says what would settle it.
func (d *Decision) guard(low, high *Estimate, lower, upper *length.Length) {
	e := high
	if upper == nil {
		e = low
	}
	verdict := func(rounds int) Verdict { return guarded(low, high, lower, upper, rounds) }
	d.Verdict = verdict(e.repeats)
	if d.Verdict != Undecided && e.stops != "" && len(e.variants) == 1 {
		d.Verdict = Undecided // there is no second way to look at the readings that would confirm it
	}
	switch {
	case d.Verdict == Accept:
		d.Reason = "the value and its guard band are within the limit"
	case d.Verdict == Reject:
		d.Reason = "the value is beyond the limit by more than its guard band"
	case e.stops != "":
		d.Reason = e.stops
	default:
		most := manyRepeats
		if e.looks {
			most = MostLooks
		}
		least := max(2, e.repeats+1)
		decided := func(i int) bool { return verdict(least+i) != Undecided }
		i := 0
		if e.looks { // the risk spent falls from look to look, so an earlier one may do where a later one does not
			for i <= most-least && !decided(i) {
				i++
			}
		} else if i = most - least + 1; i > 0 && decided(i-1) {
			i = sort.Search(i, decided)
		}
		if i <= most-least {
			d.Settle = least + i
			d.Reason = fmt.Sprintf("the limit is inside the guard band; %d rounds in all would settle it if the value stays", d.Settle)
			return
		}
		d.TooCoarse = true
		d.Reason = fmt.Sprintf("the limit is inside the guard band, and not even %d rounds would settle it: gauge too coarse", most)
	}
}

// manyRepeats is more repeats than anyone takes at a bench.
const manyRepeats = 50

// guarded accepts where the true value conforms but for the risk spent, and rejects where it does not: against one
// limit at that risk, against two at half of it on each, and of n estimates judged together at an nth of it.
func guarded(low, high *Estimate, lower, upper *length.Length, rounds int) Verdict {
	e := high
	if upper == nil {
		e = low
	}
	risk := e.risk(rounds)
	if risk == 0 {
		return Undecided
	}
	outside := lower != nil && low.Value < *lower || upper != nil && high.Value > *upper
	away := e.away(rounds, lower != nil && upper != nil)
	if upper != nil && high.Value > *upper && high.least(away, rounds) > *upper {
		return Reject
	}
	if lower != nil && low.Value < *lower {
		if most, _ := low.most(away, rounds); most < *lower {
			return Reject
		}
	}
	if outside {
		return Undecided
	}
	if upper != nil {
		if most, _ := high.most(risk, rounds); most > *upper {
			return Undecided
		}
	}
	if lower != nil && low.least(risk, rounds) < *lower {
		return Undecided
	}
	return Accept
}

// conformance returns the probability that the true value conforms to a limit at this margin, given the readings alone:
//
//	P(t(nu) <= margin / sqrt(u^2 + E^2/3))
//
// Source: JCGM 106:2012 7.2 to 7.4, with Student's t for a repeatability that is itself estimated.
func (e *Estimate) conformance(margin length.Length) float64 {
	_, by := e.most(0.05, e.repeats)
	p := e.precision(by, e.repeats)
	return Conformance(margin.Micrometres(), p.u, e.own, p.df)
}

// Conformance returns the probability that a true value conforms to a limit that lies a margin away from it, from its
// standard uncertainty u with its degrees of freedom, +Inf for unlimited, and the gauge's own error E, all in one unit:
//
//	P(t(nu) <= margin / sqrt(u^2 + E^2/3))
//
// Source: JCGM 106:2012 7.2 to 7.4.
func Conformance(margin, u, gauge, df float64) float64 {
	return TCDF(margin/math.Sqrt(u*u+gauge*gauge/3), df)
}

// LeastLimit returns the smallest limit that a tool of n flutes without any run-out could be accepted against, however
// many rounds are read, with this gauge and, where the tool stays as it is held, this studied holding. A limit
// under it cannot be settled, which is worth knowing before the first round. A gauge that nobody studied is
// given the best spread that it could have.
func LeastLimit(flutes int, g Accuracy, holding Repeatability, looks bool) length.Length {
	q := g.Resolution.Micrometres()
	best := math.Inf(1)
	last := manyRepeats
	if looks {
		last = MostLooks
	}
	for rounds := 2; rounds <= last; rounds++ {
		sp, df := g.Studied.Micrometres, float64(g.Studied.DF+flutes*(rounds-1)-1)
		if !g.Studied.Known() {
			sp = 0.35 * q
		}
		variance := 2 * sp * sp / float64(rounds)
		if !(looks && df >= 20 && sp >= 0.35*q) {
			variance = math.Max(variance, 2*g.steady())
		}
		if holding.Known() {
			held := 4 * holding.Micrometres * holding.Micrometres // at the most, of two flutes that face each other
			if flutes%2 == 1 {
				held = 3 * holding.Micrometres * holding.Micrometres
			}
			df = math.Max(1, math.Floor((variance+held)*(variance+held)/(variance*variance/df+held*held/float64(holding.DF))))
			variance += held
		}
		risk := 0.05
		if looks {
			risk = Look(rounds)
		}
		best = math.Min(best, TQuantile(1-risk, math.Max(1, df))*math.Sqrt(variance))
	}
	return outward(best + g.PermissibleError.Micrometres())
}
