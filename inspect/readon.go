package inspect

import (
	"cmp"
	"slices"
)

// Carried is what of an inspection that calls for reading on still stands: what it left open is not in it and is asked again.
type Carried struct {
	Readings []Reading
	Seen     []Seen
	Rounds   map[Feature]int // how many rounds of a feature are wanted now, where those that were read did not settle it
	DropBy   DropBy          // how drops on the flutes are read from now on; what was read otherwise says so
}

// Carry returns what of an inspection stands when it is read on; false where its judgement j does not call for that. A
// reading that stands apart is read again; of a width or drop that is undecided those of the flute that decides; of a run-out
// one round more, and all of it where the tool was taken out since (seated is false), for rounds of two seatings do not lie side
// by side. A diameter that is over the last one is read a second time. A drop that turning by eye cannot settle is slid. What stands
// keeps how it was read, however the inspection that goes on with it reads.
func (in Inspection) Carry(j Judgement, seated bool) (Carried, bool) {
	s := Carried{Rounds: map[Feature]int{}, DropBy: in.DropBy()}
	open := false
	again := func(Reading) bool { return false }
	or := func(more func(Reading) bool) {
		before := again
		again = func(r Reading) bool { return before(r) || more(r) }
	}
	or(func(r Reading) bool { return slices.Contains(j.Suspects, r.Key()) })
	for _, w := range j.Work {
		if w.What != ReadOn {
			continue
		}
		open = true
		for _, i := range w.Findings {
			f := j.Findings[i]
			why := MoreRounds
			if f.Why != nil {
				why = f.Why.What
			}
			switch read := f.ReadAs(); {
			case why == DistanceCoarse:
				s.DropBy = BySliding
				or(func(r Reading) bool { return r.Feature == f.Feature && cmp.Or(r.DropBy, in.DropBy()) == ByTurning })
			case slices.Contains(asksByItself, why):
			case f.Feature == Diameter:
				s.Rounds[Diameter] = in.rounds(Diameter) + 1
			case !read[0].Heights():
				flutes := []int{f.Flute}
				if f.Why != nil && f.Why.Flutes != nil {
					flutes = f.Why.Flutes
				}
				or(func(r Reading) bool {
					return slices.Contains(read, r.Feature) && (slices.Contains(flutes, r.Flute) || flutes[0] == 0)
				})
			case !seated || why == Unsteady:
				or(func(r Reading) bool { return r.Feature.Heights() && !r.Feature.Single() })
			case f.Verdict == Undecided && why != Suspect:
				s.Rounds[read[0]] = in.rounds(read[0]) + 1
			}
		}
		if !seated && slices.ContainsFunc(j.Unread, func(i Item) bool { return Feature(i).Heights() }) {
			or(func(r Reading) bool { return r.Feature.Heights() && !r.Feature.Single() })
		}
	}
	if !open {
		return Carried{}, false
	}
	for _, r := range in.Readings {
		if again(r) {
			continue
		}
		if over := in.CheckingDistance(); r.Feature.Drop() && !r.Feature.OnEnds() {
			r.DropBy = cmp.Or(r.DropBy, in.DropBy())
			if r.Over == nil {
				r.Over = &over
			}
		}
		s.Readings = append(s.Readings, r)
	}
	s.Seen = slices.Clone(in.Seen)
	return s, true
}

// asksByItself are the reasons that no reading that was taken is wrong for: what is missing is asked as it is, and what a gauge
// cannot settle no further reading does.
var asksByItself = []What{NotRead, NoWholeLand, NoPrimary, NoClosing, OnePlane, TooCoarse, NoResolution, MasterOff}

// ReadingSettles says whether reading on can settle any of what is open: where all that was asked was read, and what is open lies
// inside the doubt of a gauge that is too coarse, only another gauge or a person can.
func (j Judgement) ReadingSettles() bool {
	if len(j.Suspects) > 0 || slices.ContainsFunc(j.Unread, func(i Item) bool { return i != EndForm }) {
		return true
	}
	return slices.ContainsFunc(j.Work, func(w Work) bool {
		return w.What == ReadOn && (w.Because == NothingRead || slices.ContainsFunc(w.Findings, func(i int) bool { return !j.Findings[i].tooCoarse() }))
	})
}

// tooCoarse says whether no number of rounds with the gauge that was used settles a figure.
func (f Finding) tooCoarse() bool { return f.Why != nil && f.Why.What == TooCoarse }

// rounds is how many rounds of a feature were read.
func (in Inspection) rounds(f Feature) int {
	n := 0
	for _, r := range in.Readings {
		if r.Feature == f && !r.Closing && !r.OnShank {
			n = max(n, r.Repeat)
		}
	}
	return n
}

// ReadAs returns the features that are read for a finding.
func (f Finding) ReadAs() []Feature {
	switch f.Feature {
	case RunoutToShank, Concentricity, Taper:
		return []Feature{RadialRunout}
	case PrimaryLand, Land, PrimaryWidth, Heel, LandClearance, ShareTarget, EndPrimaryLand, EndLand:
		p := f.Feature.part()
		return []Feature{p.primary, p.land}
	}
	return []Feature{f.Feature}
}
