package record

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// A shop writes the records of one tool at several benches and merges them, with no ledger under it.
type shop struct {
	r       *rand.Rand
	benches []*shopBench
}

type shopBench struct {
	name    string
	seq     uint64
	facts   []*fact // all that it knows
	counter uint64
	ids     int
}

// write records a body at a bench. Its clock is as wrong as clocks can be.
func (s *shop) write(b *shopBench, about *ledger.Ref, body any) ledger.Ref {
	b.seq++
	b.counter++
	x := &fact{Record: ledger.Record{Bench: b.name, Seq: b.seq, Counter: b.counter, Hash: fmt.Sprintf("%s%d", b.name, b.seq), About: about}, body: body}
	x.Time.UTC = time.Unix(s.r.Int64N(4e9), 0)
	b.facts = append(b.facts, x)
	return x.Ref()
}

// merge takes into a bench what another knows.
func (s *shop) merge(into, from *shopBench) {
	for _, x := range from.facts {
		if !slices.ContainsFunc(into.facts, func(y *fact) bool { return y.Ref() == x.Ref() }) {
			into.facts = append(into.facts, x)
		}
	}
	into.counter = max(into.counter, from.counter)
}

// inspection records one with its work and returns its summary.
func (s *shop) inspection(b *shopBench, stage inspect.Stage, work ...inspect.Task) ledger.Ref {
	b.ids++
	id := fmt.Sprintf("%s.%d", b.name, b.ids)
	summary := s.write(b, nil, nil)
	s.write(b, &summary, &Figures{Inspection: id, Stage: stage, Work: work})
	return summary
}

// correction records one that makes an inspection come to some work.
func (s *shop) correction(b *shopBench, summary ledger.Ref, worse bool, work ...inspect.Task) ledger.Ref {
	var after []ledger.Ref
	var f Figures
	for _, x := range b.facts {
		if y, ok := x.body.(*Figures); ok && refOf(x.About) == summary {
			f = *y
		}
		if _, ok := x.body.(*Correction); ok && refOf(x.About) == summary {
			after = append(after, x.Ref())
		}
	}
	c := s.write(b, &summary, &Correction{Inspection: f.Inspection, After: after, Worse: worse})
	f.Work = work
	s.write(b, &c, &f)
	return c
}

// ruling records one that knows all that the bench knows.
func (s *shop) ruling(b *shopBench, word Word, summary ledger.Ref, recalls ...ledger.Ref) ledger.Ref {
	return s.write(b, &summary, &Ruling{Word: word, By: "A", Seen: seenOf(b.facts), Recalls: recalls})
}

func (b *shopBench) stands() Standing { _, s := fold(b.facts, nil); return s.Standing }

func newShop(seed uint64, benches int) *shop {
	s := &shop{r: rand.New(rand.NewPCG(seed, 7))}
	for i := range benches {
		s.benches = append(s.benches, &shopBench{name: string(rune('a' + i))})
	}
	return s
}

// merged returns two benches that know the same, each having taken in the other, in either order.
func (s *shop) merged() []*shopBench {
	a, b := *s.benches[0], *s.benches[1]
	a.facts, b.facts = slices.Clone(a.facts), slices.Clone(b.facts)
	s.merge(&a, s.benches[1])
	s.merge(&b, s.benches[0])
	return []*shopBench{&a, &b}
}

// The way of a tool through one shop, a step at a time, by the words of the trade; the standing that each step leaves
// is common practice, no source.
func TestStandingOnItsWay(t *testing.T) {
	s := newShop(1, 1)
	b := s.benches[0]
	is := func(want Standing) {
		t.Helper()
		if got := b.stands(); got != want {
			t.Fatalf("stands %q, want %q", got, want)
		}
	}
	is(StandsReceived)
	s.write(b, nil, &inspect.Tool{ID: "T"})
	is(StandsReceived)
	s.inspection(b, inspect.Before, inspect.GrindPrimary)
	is(StandsToGrind)
	s.write(b, nil, &Ground{})
	is(StandsToInspect)
	s.inspection(b, inspect.Between, inspect.GrindSecondary)
	is(StandsToGrind)
	s.inspection(b, inspect.Between, inspect.GoOn)
	is(StandsToFinish)
	s.inspection(b, inspect.After, inspect.ReadOn)
	is(StandsToInspect)
	s.inspection(b, inspect.After, inspect.GrindAgain)
	is(StandsToGrind)
	clear := s.inspection(b, inspect.After, inspect.Release)
	is(StandsToSign)
	s.ruling(b, Release, clear)
	is(StandsReleased)
	c := s.correction(b, clear, true, inspect.GrindAgain)
	s.write(b, &c, &Recall{})
	is(StandsRecalled)
	s.correction(b, clear, false, inspect.Release)
	is(StandsRecalled) // until it is released anew
	s.ruling(b, Release, clear)
	is(StandsRecalled) // that did not name the recall
	recall := b.facts[slices.IndexFunc(b.facts, func(x *fact) bool { _, ok := x.body.(*Recall); return ok })].Ref()
	s.ruling(b, Release, clear, recall)
	is(StandsReleased)
	s.write(b, nil, &Received{Job: "J"})
	is(StandsReceived)
	s.inspection(b, inspect.Before, inspect.Downgrade)
	is(StandsToSign)
	bad := s.inspection(b, inspect.After, inspect.GrindAgain)
	s.ruling(b, Concession, bad)
	is(StandsConceded)
	none := s.inspection(b, inspect.Before, inspect.NoWork)
	if _, state := fold(b.facts, nil); state.Standing != StandsToSign || !state.NotReground {
		t.Fatalf("%+v, want to sign, not reground", state)
	}
	s.ruling(b, Release, none)
	if _, state := fold(b.facts, nil); state.Standing != StandsReleased || !state.NotReground {
		t.Fatalf("%+v, want released, not reground", state)
	}
	lock := s.write(b, nil, &Lock{Sight: inspect.Cracks})
	is(StandsLocked)
	s.inspection(b, inspect.After, inspect.Release)
	is(StandsLocked)
	s.ruling(b, Release, clear)
	is(StandsLocked)
	s.write(b, &lock, &Unlocking{By: "A", Why: "a scratch"})
	is(StandsToSign)
	s.write(b, nil, &inspect.Tool{ID: "T", Retired: "small"})
	is(StandsRetired)
	s.write(b, nil, &inspect.Tool{ID: "T"})
	is(StandsRetired)
	s.ruling(b, Withdraw, clear)
	is(StandsWithdrawn)
	s.write(b, &lock, &Unlocking{By: "A"})
	s.ruling(b, Release, s.inspection(b, inspect.After, inspect.Release))
	is(StandsWithdrawn)
}

// Two benches, or two processes, that did not know of each other, merged in either order: what is tighter stands.
func TestStandingOfTwoBenches(t *testing.T) {
	for _, test := range []struct {
		name string
		a, b func(s *shop, at *shopBench, clear ledger.Ref)
		want Standing
	}{
		{"released, and locked elsewhere",
			func(s *shop, at *shopBench, clear ledger.Ref) { s.ruling(at, Release, clear) },
			func(s *shop, at *shopBench, _ ledger.Ref) { s.write(at, nil, &Lock{Sight: inspect.Cracks}) }, StandsLocked},
		{"released, and rejected elsewhere",
			func(s *shop, at *shopBench, clear ledger.Ref) { s.ruling(at, Release, clear) },
			func(s *shop, at *shopBench, _ ledger.Ref) { s.inspection(at, inspect.After, inspect.GrindAgain) }, StandsToGrind},
		{"released, and withdrawn elsewhere",
			func(s *shop, at *shopBench, clear ledger.Ref) { s.ruling(at, Release, clear) },
			func(s *shop, at *shopBench, clear ledger.Ref) { s.ruling(at, Withdraw, clear) }, StandsWithdrawn},
		{"released, and corrected to a reject elsewhere, where nobody knew of a release to recall",
			func(s *shop, at *shopBench, clear ledger.Ref) { s.ruling(at, Release, clear) },
			func(s *shop, at *shopBench, clear ledger.Ref) { s.correction(at, clear, true, inspect.GrindAgain) }, StandsRecalled},
		{"conceded, and a verdict made worse elsewhere",
			func(s *shop, at *shopBench, clear ledger.Ref) { s.ruling(at, Concession, clear) },
			func(s *shop, at *shopBench, clear ledger.Ref) { s.correction(at, clear, true, inspect.GrindAgain) }, StandsRecalled},
		{"released, and two corrections that did not know of each other, each harmless",
			func(s *shop, at *shopBench, clear ledger.Ref) {
				s.ruling(at, Release, clear)
				s.correction(at, clear, false, inspect.Release)
			},
			func(s *shop, at *shopBench, clear ledger.Ref) { s.correction(at, clear, false, inspect.Release) }, StandsRecalled},
		{"each released at its own bench by its own inspection",
			func(s *shop, at *shopBench, _ ledger.Ref) {
				s.ruling(at, Release, s.inspection(at, inspect.After, inspect.Release))
			},
			func(s *shop, at *shopBench, _ ledger.Ref) {
				s.ruling(at, Release, s.inspection(at, inspect.After, inspect.Release))
			}, StandsToSign},
		{"released, and ground elsewhere",
			func(s *shop, at *shopBench, clear ledger.Ref) { s.ruling(at, Release, clear) },
			func(s *shop, at *shopBench, _ ledger.Ref) { s.write(at, nil, &Ground{}) }, StandsToInspect},
		{"released at both, by the same inspection",
			func(s *shop, at *shopBench, clear ledger.Ref) { s.ruling(at, Release, clear) },
			func(s *shop, at *shopBench, clear ledger.Ref) { s.ruling(at, Release, clear) }, StandsReleased},
		{"unlocked, and locked anew elsewhere",
			func(s *shop, at *shopBench, _ ledger.Ref) {
				lock := s.write(at, nil, &Lock{Sight: inspect.Cracks})
				s.write(at, &lock, &Unlocking{By: "A", Why: "a scratch"})
			},
			func(s *shop, at *shopBench, _ ledger.Ref) { s.write(at, nil, &Lock{Sight: inspect.Cracks}) }, StandsLocked},
		{"retired, and changed elsewhere",
			func(s *shop, at *shopBench, _ ledger.Ref) { s.write(at, nil, &inspect.Tool{ID: "T", Retired: "small"}) },
			func(s *shop, at *shopBench, _ ledger.Ref) { s.write(at, nil, &inspect.Tool{ID: "T"}) }, StandsRetired},
	} {
		for _, swapped := range []bool{false, true} {
			s := newShop(2, 2)
			a, b := s.benches[0], s.benches[1]
			clear := s.inspection(a, inspect.After, inspect.Release)
			s.merge(b, a)
			if swapped {
				a, b = b, a
			}
			test.a(s, a, clear)
			test.b(s, b, clear)
			for i, m := range s.merged() {
				if got := m.stands(); got != test.want {
					t.Errorf("%s, swapped %v, merged into %d: %q, want %q", test.name, swapped, i, got, test.want)
				}
			}
		}
	}
}

// What a left-out bench released does not count, and what it locked does.
func TestStandingLeftOut(t *testing.T) {
	s := newShop(3, 2)
	a, b := s.benches[0], s.benches[1]
	s.inspection(a, inspect.After, inspect.GrindAgain)
	s.merge(b, a)
	s.ruling(b, Release, s.inspection(b, inspect.After, inspect.Release))
	s.merge(a, b)
	if _, state := fold(a.facts, map[string]bool{"b": true}); a.stands() != StandsReleased || state.Standing != StandsToGrind {
		t.Errorf("%q and, left out, %q", a.stands(), state.Standing)
	}
	s.write(b, nil, &Lock{Sight: inspect.Cracks})
	s.merge(a, b)
	if _, state := fold(a.facts, map[string]bool{"b": true}); state.Standing != StandsLocked {
		t.Errorf("%q of a bench that is left out and locked it, want locked", state.Standing)
	}
}

// step lets a bench do one thing that people do, allowed or not.
func (s *shop) step(b *shopBench) {
	works := []inspect.Task{inspect.Release, inspect.GrindAgain, inspect.ReadOn, inspect.Withdraw, inspect.NoWork, inspect.GrindPrimary}
	work := func() inspect.Task { return works[s.r.IntN(len(works))] }
	pick := func(is func(*fact) bool) *ledger.Ref {
		var all []ledger.Ref
		for _, x := range b.facts {
			if is(x) {
				all = append(all, x.Ref())
			}
		}
		if all == nil {
			return nil
		}
		return &all[s.r.IntN(len(all))]
	}
	lock := func(x *fact) bool { _, ok := x.body.(*Lock); return ok }
	summary := pick(func(x *fact) bool { return x.body == nil })
	switch n := s.r.IntN(20); {
	case n < 4:
		s.inspection(b, []inspect.Stage{inspect.Before, inspect.Between, inspect.After}[s.r.IntN(3)], work())
	case n < 8:
		s.ruling(b, Release, s.inspection(b, inspect.After, inspect.Release))
	case n < 10 && summary != nil:
		s.ruling(b, []Word{Release, Concession}[s.r.IntN(2)], *summary)
	case n == 10:
		s.write(b, nil, &Lock{Sight: inspect.Cracks})
	case n < 13:
		if l := pick(lock); l != nil {
			s.write(b, l, &Unlocking{By: "A", Why: "looked again"})
		}
	case n == 13 && summary != nil && s.r.IntN(8) == 0:
		s.ruling(b, Withdraw, *summary)
	case n == 14 && summary != nil:
		c := s.correction(b, *summary, s.r.IntN(2) == 0, work())
		if s.r.IntN(2) == 0 {
			s.write(b, &c, &Recall{})
		}
	case n == 15:
		s.write(b, nil, &Ground{})
	default:
		s.merge(b, s.benches[s.r.IntN(len(s.benches))])
	}
}

// settle lets a bench take in all that the others know, lift every lock, inspect anew and release.
func (s *shop) settle(b *shopBench) {
	for _, other := range s.benches {
		s.merge(b, other)
	}
	var recalls []ledger.Ref
	for _, x := range slices.Clone(b.facts) {
		ref := x.Ref()
		switch x.body.(type) {
		case *Lock:
			s.write(b, &ref, &Unlocking{By: "A", Why: "looked again"})
		case *Recall:
			recalls = append(recalls, ref)
		}
	}
	s.ruling(b, Release, s.inspection(b, inspect.After, inspect.Release), recalls...)
}

// usable says from first principles whether a tool may be used, by what must be so and not by folding: nothing stops
// it, and somebody signed who knew all that was found of it.
func usable(facts []*fact) bool {
	about := map[ledger.Ref][]*fact{}
	for _, x := range facts {
		about[refOf(x.About)] = append(about[refOf(x.About)], x)
	}
	knows := func(r *Ruling, of ledger.Ref) bool {
		for _, s := range r.Seen {
			if s.Bench == of.Bench && of.Seq <= s.Seq {
				return true
			}
		}
		return false
	}
	for _, x := range facts {
		switch b := x.body.(type) {
		case *Lock:
			lifted := false
			for _, y := range about[x.Ref()] {
				_, unlock := y.body.(*Unlocking)
				lifted = lifted || unlock
			}
			if !lifted {
				return false
			}
		case *Ruling:
			if b.Word == Withdraw {
				return false
			}
		case *Recall:
			known := false
			for _, y := range facts {
				r, ok := y.body.(*Ruling)
				known = known || ok && knows(r, x.Ref())
			}
			if !known {
				return false
			}
		}
	}
	for _, x := range facts {
		r, ok := x.body.(*Ruling)
		if !ok {
			continue
		}
		all := true
		newest := &fact{}
		for _, y := range facts {
			_, ground := y.body.(*Ground)
			if f, ok := y.body.(*Figures); (ok && bodyOf(facts, *y.About) == nil && f != nil || ground) && (newest.Hash == "" || ledger.Compare(y.Record, newest.Record) > 0) {
				newest = y
			}
		}
		all = refOf(newest.About) == refOf(x.About)
		for _, y := range facts {
			switch y.body.(type) {
			case *Ground:
				all = all && knows(r, y.Ref())
			case *Figures:
				// of a correction it is known by what it makes of the inspection, below
				if _, corrects := bodyOf(facts, *y.About).(*Correction); !corrects {
					all = all && knows(r, *y.About)
				}
			case *Correction:
				if y.body.(*Correction).Worse && refOf(y.About) == refOf(x.About) {
					all = all && knows(r, y.Ref())
				}
			}
		}
		if all {
			return true
		}
	}
	return false
}

func bodyOf(facts []*fact, ref ledger.Ref) any {
	for _, x := range facts {
		if x.Ref() == ref {
			return x.body
		}
	}
	return nil
}

// Whatever three benches do and merge, in whatever order their records come together: all come to the same standing;
// no clock matters; a tool is used only where it may be; and taking in what another bench knows never loosens a lock
// or a withdrawal.
func TestStandingOverAllOrders(t *testing.T) {
	released, seeds := 0, uint64(2000)
	if testing.Short() {
		seeds = 400
	}
	for seed := range seeds {
		s := newShop(seed, 3)
		for range 25 {
			s.step(s.benches[s.r.IntN(3)])
		}
		if s.r.IntN(2) == 0 {
			s.settle(s.benches[0])
			for range s.r.IntN(3) {
				s.step(s.benches[s.r.IntN(3)])
			}
		}
		union := *s.benches[0]
		union.facts = slices.Clone(union.facts)
		for _, b := range s.benches[1:] {
			s.merge(&union, b)
		}
		_, want := fold(union.facts, nil)
		for range 4 {
			facts := slices.Clone(union.facts)
			s.r.Shuffle(len(facts), func(i, j int) { facts[i], facts[j] = facts[j], facts[i] })
			facts = append(facts, facts[0]) // twice is once
			if _, got := fold(facts, nil); got.Standing != want.Standing || !reflect.DeepEqual(got.Locks, want.Locks) || got.Decided.Ref != want.Decided.Ref {
				t.Fatalf("seed %d: in another order %+v, want %+v", seed, got, want)
			}
			for i, x := range facts {
				at := *x
				at.Time.UTC = time.Unix(s.r.Int64N(4e9), 0)
				facts[i] = &at
			}
			if _, got := fold(facts, nil); got.Standing != want.Standing {
				t.Fatalf("seed %d: by other clocks %+v, want %+v", seed, got, want)
			}
		}
		if want.Standing.Usable() {
			released++
			if !usable(union.facts) {
				t.Fatalf("seed %d: it stands %s and may not be used", seed, want.Standing)
			}
		}
		for i, b := range s.benches {
			_, alone := fold(b.facts, nil)
			if alone.Standing == StandsWithdrawn && want.Standing != StandsWithdrawn {
				t.Fatalf("seed %d: withdrawn at bench %d, and %s with the others", seed, i, want.Standing)
			}
			for _, l := range alone.Locks {
				lifted := slices.ContainsFunc(union.facts, func(x *fact) bool { _, ok := x.body.(*Unlocking); return ok && refOf(x.About) == l.Ref })
				stands := slices.ContainsFunc(want.Locks, func(o StandingLock) bool { return o.Ref == l.Ref })
				if stands == lifted {
					t.Fatalf("seed %d: lock %v at bench %d: stands with the others %v, lifted %v", seed, l.Ref, i, stands, lifted)
				}
			}
		}
	}
	if released < int(seeds)/5 {
		t.Errorf("%d of %d shops end with a usable tool: too few to prove anything", released, seeds)
	}
}

// A standing that stops a tool rests on what stopped it, not on what came before; that of a crack in a draft of which no
// lock was recorded stands since the crack was seen.
func TestStandsSinceWhatStoppedIt(t *testing.T) {
	s := newShop(1, 1)
	b := s.benches[0]
	s.write(b, nil, &inspect.Tool{ID: "T"})
	clear := s.inspection(b, inspect.After, inspect.Release)
	rests := func(want ledger.Ref) {
		t.Helper()
		if _, state := fold(b.facts, nil); state.Since.Ref != want {
			t.Errorf("%s rests on %v, want %v", state.Standing, state.Since.Ref, want)
		}
	}
	rests(s.ruling(b, Release, clear))
	rests(s.write(b, nil, &inspect.Tool{ID: "T", Retired: "small"}))
	lock := s.write(b, nil, &Lock{Sight: inspect.Cracks, Inspection: "a.1"})
	rests(lock)
	s.write(b, &lock, &Unlocking{By: "A"})
	opened := &fact{Record: ledger.Record{Bench: "a", Seq: 99, Counter: 99, Kind: KindOpened, Opens: "d"}, body: &Opened{Inspection: inspect.Inspection{ID: "a.2"}, locks: inspect.Seen{Sight: inspect.Cracks, Yes: true}, lockedAt: "2026-11-27T18:45:00+01:00"}}
	opened.Time.UTC = time.Date(2026, 11, 27, 17, 41, 0, 0, time.UTC)
	if _, state := fold(append(b.facts, opened), nil); state.Standing != StandsLocked || state.Since.Time != "2026-11-27T17:45:00.000000Z" {
		t.Errorf("%s since %q, want locked since the crack was seen", state.Standing, state.Since.Time)
	}
	rests(s.write(b, nil, &Ruling{Word: Withdraw}))
}
