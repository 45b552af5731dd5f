package calculators

import (
	"cmp"
	"fmt"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
	"flutelog/inspect/words"
)

// repeated are the flags of readings that may have been repeated: how often, what is known of the gauge, and
// the rule that holds them against a limit.
type repeated struct {
	repeats                       int
	resolution, permissible, rule string
}

func (p *repeated) flags(f *command.Flags) {
	f.IntVar(&p.repeats, "repeats", 1, "how many rounds a list holds: every flute once, then every flute again, and so on")
	f.StringVar(&p.resolution, "resolution", "", "the step in which the gauge reads (default: what the values have in common; where they are alike, their last decimal)")
	f.StringVar(&p.permissible, "permissible-error", "", "the most by which the gauge itself may err; it is taken in full (default: none)")
	f.WordVar(&p.rule, "rule", "", "decision rule, simple or guarded (default: guarded with repeats, simple without)")
}

// rounds reads a list that holds every flute once a round, and returns the repeats of each flute.
func (p *repeated) rounds(r *command.Reader, flag, text string) [][]length.Length {
	all := r.NeededLengths(flag, text)
	if p.repeats < 1 {
		r.Fail("repeats", fmt.Errorf("%d: want 1 or more", p.repeats))
		return nil
	}
	if len(all)%p.repeats != 0 {
		r.Fail(flag, fmt.Errorf("%d values are not %d rounds of all flutes", len(all), p.repeats))
		return nil
	}
	flutes := make([][]length.Length, len(all)/p.repeats)
	for i, l := range all {
		flute := i % len(flutes)
		flutes[flute] = append(flutes[flute], l)
	}
	return flutes
}

// stated returns what was said of the gauge.
func (p *repeated) stated(r *command.Reader) statistics.Accuracy {
	var g statistics.Accuracy
	if step := r.OptionalSize("resolution", p.resolution); step != nil {
		g.Resolution = *step
	}
	if most := r.OptionalSize("permissible-error", p.permissible); most != nil {
		g.PermissibleError = *most
	}
	return g
}

// gauge returns what is known of the gauge that read the lists of heights. A step that is not stated is statistics.Step of
// the values where they differ, else the last decimal.
func (p *repeated) gauge(r *command.Reader, lists ...string) statistics.Accuracy {
	g := p.stated(r)
	if g.Resolution == 0 {
		var all []length.Length
		for _, list := range lists {
			for _, value := range command.Parts(list) {
				l, u, err := length.ParseWithUnit(value, r.Unit)
				if err != nil {
					continue // said where the list is read
				}
				all = append(all, l)
				if step := inspect.LastDecimal(value, u); g.Resolution == 0 || step < g.Resolution {
					g.Resolution = step
				}
			}
		}
		g.Resolution = max(g.Resolution, statistics.Step(all))
	}
	return g
}

func (p *repeated) decisionRule(r *command.Reader) statistics.Rule {
	def := statistics.Simple
	if p.repeats > 1 {
		def = statistics.Guarded
	}
	rule, err := statistics.ParseRule(cmp.Or(p.rule, string(def)))
	if err != nil {
		r.Fail("rule", err)
	}
	return rule
}

// means returns the mean of each flute's repeats.
func means(flutes [][]length.Length) []length.Length {
	ms := make([]length.Length, len(flutes))
	for i, repeats := range flutes {
		ms[i] = statistics.MeanLength(repeats)
	}
	return ms
}

// byFlutes reads a list that holds all repeats of flute 1 first, and returns the repeats of each flute.
func (p *repeated) byFlutes(r *command.Reader, flag, text string) [][]length.Length {
	rounds := p.rounds(r, flag, text)
	var all []length.Length
	for i := range p.repeats {
		for k := range rounds {
			all = append(all, rounds[k][i])
		}
	}
	for k := range rounds {
		rounds[k] = all[k*p.repeats : (k+1)*p.repeats]
	}
	return rounds
}

// decisionJSON is what a decision rests on, for a program.
type decisionJSON struct {
	Probability *float64        `json:"probability,omitempty"` // that the true value conforms
	Rule        statistics.Rule `json:"rule,omitempty"`
	Reason      string          `json:"reason,omitempty"`
	Settle      int             `json:"repeats_to_settle,omitempty"`
}

func newDecisionJSON(d statistics.Decision) decisionJSON {
	return decisionJSON{d.Probability, d.Rule, d.Reason, d.Settle}
}

// printDecision prints by which rule a value was held against its limit, and how sure that is.
func (p *repeated) printDecision(e command.Env, d statistics.Decision, g statistics.Accuracy, unit length.Unit) {
	fmt.Fprintf(e.Stdout, "decided by the %s rule: %s\n", d.Rule, d.Reason)
	if d.Probability != nil {
		fmt.Fprintf(e.Stdout, "probability of conformance %s\n", words.Percent(*d.Probability))
	}
	if !d.Known {
		return
	}
	p.printBand(e, g.Resolution.In(unit))
}

// printBand says what the band of a value rests on.
func (p *repeated) printBand(e command.Env, resolution string) {
	from := "as stated"
	if p.resolution == "" {
		from = "from the values given"
	}
	fmt.Fprintf(e.Stdout, "the band rests on %d rounds and a resolution of %s, %s\n", p.repeats, resolution, from)
}

// verdictStatus returns the status that a verdict ends a command with, where there was a limit to meet.
func verdictStatus(v statistics.Verdict) error {
	switch v {
	case statistics.Accept:
		return nil
	case statistics.Reject:
		return command.StatusFallsShort
	}
	return command.StatusOpen
}
