package answers_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// invented makes an inspection in which each thing may be good, over, unread in part, unread, or seen.
func invented(r *rand.Rand) inspect.Inspection {
	t := inspect.Tool{
		ID: "EM-1", Diameter: length.Inch / 2, Flutes: 2 + r.IntN(5), Material: inspect.Materials[r.IntN(3)], Hand: inspect.RightHand,
		Ends: []inspect.Ends{inspect.SquareEnd, inspect.ChamferedEnd, inspect.BallEnd}[r.IntN(3)], Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
		Helix: length.Angle(r.IntN(2)*30) * length.Degree,
	}
	in := inspect.Inspection{ID: "EM-1.1", Tool: t, Stage: []inspect.Stage{inspect.Before, inspect.Between, inspect.After}[r.IntN(3)], Basis: inspect.DefaultBasis(t)}
	in.Holding = inspect.Holdings[r.IntN(3)]
	in.Basis.Tie = []inspect.Tie{inspect.TieNone, inspect.TieShank}[r.IntN(2)]
	if r.IntN(3) == 0 {
		in.Basis.Required = []inspect.Item{"radial-runout", "wear-land"}
	}
	rounds := 1 + r.IntN(3)
	sound := r.IntN(3) == 0 // all of it read and good
	if sound {
		rounds = 3
	}
	good := map[inspect.Feature]length.Length{
		inspect.Diameter: 496 * length.Thou, inspect.WearLand: 2 * length.Thou, inspect.PrimaryLand: 22 * length.Thou, inspect.Land: 80 * length.Thou,
		inspect.ReliefDrop: 27 * length.Tenth, inspect.SecondaryDrop: 60 * length.Tenth, inspect.EndReliefDrop: 20 * length.Tenth,
		inspect.EndSecondaryDrop: 45 * length.Tenth, inspect.Length: 3 * length.Inch, inspect.EndPrimaryLand: 15 * length.Thou, inspect.EndLand: 55 * length.Thou, inspect.Dish: 4 * length.Thou,
	}
	bad := map[inspect.Feature]length.Length{
		inspect.Diameter: 440 * length.Thou, inspect.WearLand: 12 * length.Thou, inspect.PrimaryLand: 50 * length.Thou, inspect.Land: 80 * length.Thou,
		inspect.ReliefDrop: -2 * length.Tenth, inspect.EndPrimaryLand: 40 * length.Thou, inspect.EndLand: 55 * length.Thou, inspect.Dish: -length.Thou,
	}
	for _, f := range inspect.Features {
		state := r.IntN(6) // 0 unread, 1 in part, 2 bad, else good
		if sound {
			state = 3
		}
		if state == 0 {
			continue
		}
		for round := 1; round <= rounds; round++ {
			for flute := 1; flute <= t.Flutes; flute++ {
				if state == 1 && flute == t.Flutes {
					continue
				}
				v := good[f]
				if f.Heights() {
					v = length.Length(r.IntN(3)) * length.Tenth
					if sound {
						v = length.Length(flute%2) * length.Tenth / 2
					}
				}
				if state == 2 && flute == 2 {
					if v = bad[f]; f.Heights() {
						v = 30 * length.Tenth
					}
				}
				one := inspect.Reading{Feature: f, Flute: flute, Repeat: round, Value: v, Text: v.Format(length.In, 5), Unit: length.In}
				if f.Single() {
					if flute > 2 {
						break
					}
					one.Flute = 0
					if flute == 1 && state == 2 {
						continue
					}
					if flute == 2 && state != 2 {
						break
					}
				}
				if in.Check(one) == nil {
					in.Readings = append(in.Readings, one)
				}
			}
		}
	}
	for _, s := range inspect.Sights {
		state := r.IntN(12)
		if sound {
			state = 2
		}
		if state > 0 {
			in.Seen = append(in.Seen, inspect.Seen{Sight: s, Yes: state == 1})
		}
	}
	return in
}

// Whatever was read: what is over decides, a gap never comes to none, go on or release, advice decides nothing, a crack
// locks, and before the grind nothing is accepted or rejected.
func TestRulesOfAnswers(t *testing.T) {
	r := rand.New(rand.NewPCG(20, 26))
	seen := map[inspect.Task]int{}
	inspections := 4_000
	if testing.Short() {
		inspections = 1_000
	}
	for range inspections {
		in := invented(r)
		j := inspect.Judge(in)
		for _, w := range j.Work {
			seen[w.What]++
		}
		clear := j.Calls(inspect.NoWork) || j.Calls(inspect.GoOn) || j.Calls(inspect.Release)
		over := slices.ContainsFunc(j.Findings, func(f inspect.Finding) bool { return f.Verdict == inspect.Reject && !f.Advice })
		open := slices.ContainsFunc(j.Findings, func(f inspect.Finding) bool {
			return !f.Advice && (f.Verdict == inspect.Undecided || f.Verdict == inspect.NotJudged)
		})
		trouble := slices.ContainsFunc(in.Seen, func(s inspect.Seen) bool { return s.Yes })
		fail := func(what string) { t.Fatalf("%s: %+v\n%+v", what, j.Work, in) }
		switch {
		case len(j.Work) == 0:
			fail("no work at all")
		case clear && (over || open || trouble || len(j.Unread) > 0 || len(j.Work) > 1):
			fail("clear, and something is over, seen, open or unread")
		case j.Calls(inspect.ReadOn) && (over || len(j.Work) > 1):
			fail("read on, and something is over")
		case over && j.Outcome() == inspect.Open:
			fail("over, and left open")
		case !clear && !over && !open && !trouble && len(j.Unread) == 0 && !j.Calls(inspect.Downgrade) && !shares(j):
			fail("nothing is wrong, and it is not clear")
		case in.Stage == inspect.Before && (j.Verdict == inspect.Accept || j.Verdict == inspect.Reject):
			fail("accepted or rejected before the grind")
		case in.Stage == inspect.After && j.Verdict == inspect.Accept && !j.Calls(inspect.Release):
			fail("accepted and not released")
		case j.TrueIn != "" && (in.Holding != inspect.InFixture || !j.Releases() || in.Basis.Tie == inspect.TieShank):
			fail("true in the fixture")
		}
		for _, s := range in.Seen {
			if s.Yes && s.Sight.Locks(in.Stage) != (j.Locks() && slices.ContainsFunc(j.Work[0].Sights, func(o inspect.Seen) bool { return o.Sight == s.Sight })) {
				fail("locked for " + string(s.Sight))
			}
		}
		if j.Locks() && len(j.Work) > 1 {
			fail("locked and ground")
		}
		urgencyHolds(t, j)
	}
	for _, task := range []inspect.Task{inspect.NoWork, inspect.GrindPrimary, inspect.GrindSecondary, inspect.GrindBoth, inspect.CutBack, inspect.StoneShank, inspect.Reseat,
		inspect.Downgrade, inspect.Withdraw, inspect.Release, inspect.GrindAgain, inspect.ReadOn, inspect.GoOn} {
		if seen[task] == 0 {
			t.Errorf("%s was never called for, so nothing was tested of it", task)
		}
	}
}

// shares says whether a share could not be told from its limit, which calls for a secondary.
func shares(j inspect.Judgement) bool {
	return slices.ContainsFunc(j.Work, func(w inspect.Work) bool { return w.Because == inspect.CostsAMinute })
}

// urgencyHolds fails unless works stand in the order in which they are told.
func urgencyHolds(t *testing.T, j inspect.Judgement) {
	t.Helper()
	order := []inspect.Task{inspect.Withdraw, inspect.Downgrade, inspect.StoneShank, inspect.Reseat, inspect.CutBack, inspect.GrindFace, inspect.GrindBoth,
		inspect.GrindSecondary, inspect.GrindPrimary, inspect.GrindAgain, inspect.ReadOn, inspect.GoOn, inspect.NoWork, inspect.Release}
	last := -1
	for _, w := range j.Work {
		at := slices.Index(order, w.What)
		if at < last {
			t.Fatalf("works stand as %+v", j.Work)
		}
		last = at
	}
}

// A limit decides by its own field and by no word of its source.
func TestTheSourceOfALimitDecidesNothing(t *testing.T) {
	for _, c := range cases(t) {
		in := c.Inspection
		before := inspect.Judge(in)
		limits := inspect.Limits{}
		for f, l := range in.Basis.Limits {
			l.Source = "common practice, no source"
			if strings.HasPrefix(string(f), "p") {
				l.Source = "a customer"
			}
			limits[f] = l
		}
		in.Basis.Limits = limits
		after := inspect.Judge(in)
		if len(before.Work) != len(after.Work) || before.Verdict != after.Verdict {
			t.Errorf("%s: %v, %s; with other sources %v, %s", c.Name, before.Work, before.Verdict, after.Work, after.Verdict)
		}
	}
}

// Every finding that is sure of itself says how: a standard uncertainty, and a rule.
func TestFindingsCarryTheirDoubt(t *testing.T) {
	judged := 0
	for _, c := range cases(t) {
		for _, f := range inspect.Judge(c.Inspection).Findings {
			if f.Uncertainty == nil {
				continue
			}
			judged++
			if f.Standard == nil || f.Rule != statistics.Simple && f.Rule != statistics.Guarded && (f.Least != nil || f.Most != nil) {
				t.Errorf("%s: %s has uncertainty %v, standard %v, rule %q", c.Name, f.Feature, *f.Uncertainty, f.Standard, f.Rule)
			}
		}
	}
	if judged < 50 {
		t.Errorf("%d findings with an uncertainty", judged)
	}
}

// Advice accepts what is usual, says what is not, and rejects nothing.
func TestRulesOfAdvice(t *testing.T) {
	seen := map[inspect.Verdict]int{}
	for _, c := range cases(t) {
		for _, f := range inspect.Judge(c.Inspection).Findings {
			if !f.Advice {
				continue
			}
			seen[f.Verdict]++
			inside := !(f.Most != nil && f.Value.Over(*f.Most)) && !(f.Least != nil && f.Least.Over(*f.Value))
			outside := f.Verdict == inspect.NotJudged && f.Why != nil && f.Why.What == inspect.OutsideAdvice
			if inside != (f.Verdict == inspect.Accept) || inside == outside {
				t.Errorf("%s: %s %v of %v to %v: %s, %+v", c.Name, f.Feature, *f.Value, f.Least, f.Most, f.Verdict, f.Why)
			}
		}
	}
	if seen[inspect.Accept] == 0 || seen[inspect.NotJudged] == 0 {
		t.Errorf("advice came to %v", seen)
	}
}
