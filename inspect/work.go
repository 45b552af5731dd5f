package inspect

import (
	"slices"
)

// decide turns findings, what was seen and what is open into the work they call for, and the verdict on the whole.
//
//	locked, withdrawn        nothing else is told
//	what is over a limit     the work that mends it; the cheapest that does comes first
//	what is open             only where nothing is over: read on
//	none, go on, release     only where nothing is over and nothing open
func (w *judging) decide() {
	defer func() { w.out.Verdict = w.whole() }()
	if w.locked() || w.withdrawn() {
		return
	}
	w.overLimits()
	if len(w.out.Work) == 0 {
		w.untroubled()
	}
	if w.in.Stage == Between && !w.out.Calls(ReadOn) {
		w.stillToGrind()
	}
	slices.SortStableFunc(w.out.Work, func(a, b Work) int {
		return slices.Index(urgency, a.What) - slices.Index(urgency, b.What)
	})
}

// dull says whether a part's edges were to be ground and are not told as ground.
func (w *judging) dull(where Where) bool {
	return !w.unworn() && slices.ContainsFunc(w.in.Dull(), func(s Step) bool { return s.Where == where })
}

// stillToGrind calls between the grinds for what was called for before them and is not told as ground: the part that was read
// may be done, and another not begun.
func (w *judging) stillToGrind() {
	for _, where := range []Where{OnEnds, OnFlutes} {
		again := slices.ContainsFunc(w.out.Work, func(had Work) bool {
			return had.Where == where && slices.Contains([]Task{GrindFace, GrindBoth, GrindPrimary, GrindAgain}, had.What)
		})
		if again || !w.dull(where) {
			continue
		}
		what := GrindPrimary
		var findings []int
		for _, s := range w.in.Owed() {
			switch {
			case s.Where != where:
			case s.Do == DoFace:
				what = GrindFace
			case s.Do == DoSecondary:
				what = GrindBoth
			}
		}
		w.out.Work = slices.DeleteFunc(w.out.Work, func(had Work) bool {
			if had.What == GrindSecondary && had.Where == where {
				what, findings = GrindBoth, had.Findings
				return true
			}
			return had.What == GoOn
		})
		w.call(what, where, StillToGrind, findings)
	}
}

// call adds to the work: the same thing on the same part is called for once, with all that calls for it.
func (w *judging) call(what Task, where Where, because Because, findings []int, sights ...Seen) {
	for i := range w.out.Work {
		if had := &w.out.Work[i]; had.What == what && had.Where == where {
			for _, f := range findings {
				if !slices.Contains(had.Findings, f) {
					had.Findings = append(had.Findings, f)
				}
			}
			had.Sights = append(had.Sights, sights...)
			return
		}
	}
	w.out.Work = append(w.out.Work, Work{What: what, Where: where, Because: because, Findings: slices.Clone(findings), Sights: sights})
}

// seen returns the answer to a visual question where it is yes.
func (w *judging) seen(s Sight) (Seen, bool) {
	for _, seen := range slices.Backward(w.in.Seen) {
		if seen.Sight == s {
			return seen, seen.Yes
		}
	}
	return Seen{}, false
}

// locked locks the tool for a crack at any stage, and for a burn once it is ground: before, a burn is ground out.
func (w *judging) locked() bool {
	var sights []Seen
	for _, s := range []Sight{Cracks, Burn} {
		if seen, yes := w.seen(s); yes && s.Locks(w.in.Stage) {
			sights = append(sights, seen)
		}
	}
	if sights != nil {
		w.call(Withdraw, "", Locked, nil, sights...)
	}
	return sights != nil
}

// withdrawn calls for the tool to be withdrawn where nothing can be made of it.
func (w *judging) withdrawn() bool {
	bent, yes := w.seen(BentShank)
	if yes {
		w.call(Withdraw, OnShank, SeenSo, nil, bent)
	}
	return yes
}

// with returns the places of the findings of some features that have a verdict and whose limits are judged.
func (w *judging) with(v Verdict, features ...Feature) []int {
	var is []int
	for i, f := range w.out.Findings {
		if f.Verdict == v && !f.Advice && slices.Contains(features, f.Feature) {
			is = append(is, i)
		}
	}
	return is
}

// sides splits findings into those over their most and those under their least.
func (w *judging) sides(is []int) (over, under []int) {
	for _, i := range is {
		f := w.out.Findings[i]
		if f.Most == nil || f.Least != nil && f.Most.Over(*f.Value) {
			under = append(under, i)
		} else {
			over = append(over, i)
		}
	}
	return over, under
}

// overLimits calls for the work that mends what is over a limit, or was seen.
func (w *judging) overLimits() {
	if seen, yes := w.seen(BurredShank); yes {
		w.call(StoneShank, OnShank, SeenSo, nil, seen)
	}
	if out := w.with(Reject, ShankRunout); out != nil {
		w.call(Reseat, OnShank, ShankOut, out)
	}
	large, small := w.sides(w.with(Reject, Diameter))
	if small != nil {
		w.call(Downgrade, "", OverLimit, small)
	}
	chip, chipped := w.seen(ChippedCorner)
	if chipped {
		w.call(CutBack, OnEnds, SeenSo, nil, chip)
		w.out.Work[len(w.out.Work)-1].Amount = chip.Length
	}
	w.faces(OnFlutes, large)
	w.faces(OnEnds, nil)
	if p := w.out.Plan; p != nil && p.SmallAfter && (w.out.Calls(GrindPrimary) || w.out.Calls(GrindBoth)) {
		w.call(Downgrade, "", SmallAfter, nil)
	}
	w.mended()
}

// mended sees to it that nothing that is over its limit calls for nothing: what no work mends is for a lesser job.
func (w *judging) mended() {
	for i, f := range w.out.Findings {
		if f.Verdict == Reject && !f.Advice && !slices.ContainsFunc(w.out.Work, func(had Work) bool { return slices.Contains(had.Findings, i) }) {
			w.call(Downgrade, "", OverLimit, []int{i})
		}
	}
}

// A face is what calls for work on the flutes or on the ends.
type face struct {
	dull      []int  // findings that a primary mends
	seen      []Seen // and what was seen
	secondary []int  // findings that a secondary mends
	undecided []int  // shares that cannot be told from the limit
	narrow    []int  // a primary that has vanished
}

// faces calls for the grinds of the flutes or of the ends.
func (w *judging) faces(where Where, also []int) {
	var f face
	part := partOf(where)
	runout, worn := []Feature{part.stand, RunoutToShank, Concentricity}, []Feature{WearLand, part.relief, part.secondary, Taper}
	sights := []Sight{ChippedEdge, Burn}
	if !w.in.Tool.HasEndTeeth() {
		sights = append(sights, BluntCorner) // a piece out of it is under the form of the end, where no flute's grind reaches
	}
	if where == OnEnds {
		runout, worn = []Feature{part.stand}, []Feature{part.relief, part.secondary, Dish}
		sights = []Sight{BluntCorner}
		if !w.in.Tool.HasEndTeeth() {
			return
		}
	}
	f.secondary, f.narrow = w.sides(w.with(Reject, part.primary))
	f.undecided = w.with(Undecided, part.primary)
	if where == OnFlutes {
		wide, thin := w.sides(w.with(Reject, PrimaryWidth))
		f.secondary = append(append(f.secondary, w.with(Reject, Heel, LandClearance)...), wide...)
		f.narrow = append(f.narrow, thin...)
	}
	f.dull = append(w.with(Reject, worn...), also...)
	for _, s := range sights {
		if seen, yes := w.seen(s); yes {
			f.seen = append(f.seen, seen)
		}
	}
	held := w.holding(where, w.with(Reject, runout...))
	f.dull = append(f.dull, held...)
	slices.Sort(f.dull)
	if w.in.Stage == Before {
		w.grindBefore(where, f)
	} else {
		w.grindAgain(where, f)
	}
}

// holding calls for a reseat where the run-out is how the tool is held, and returns the findings that a grind mends. A
// burr comes before both, and so does a shank that runs out: what was read over them proves nothing of the teeth.
func (w *judging) holding(where Where, out []int) []int {
	if out == nil {
		return nil
	}
	if _, burred := w.seen(BurredShank); burred {
		w.call(StoneShank, OnShank, SeenSo, out)
		return nil
	}
	if shank := w.with(Reject, ShankRunout); shank != nil {
		w.call(Reseat, OnShank, ShankOut, append(shank, out...)) // no grind mends how the shank is held
		return nil
	}
	var held, ground []int
	for _, i := range out {
		if w.heldOff(w.out.Findings[i]) {
			held = append(held, i)
		} else {
			ground = append(ground, i)
		}
	}
	if held != nil {
		because := OneOffset
		if w.in.Regrind != nil && w.in.Regrind.Reseats >= mostReseats {
			because = ReseatedTwice
		}
		w.call(Reseat, where, because, held)
	}
	return ground
}

// mostReseats is how often a tool is seated anew before the shank is read.
const mostReseats = 2

// heldOff says whether a run-out is explained by how the tool is held: by one offset and nothing else, or by the shank
// that was read beside it.
func (w *judging) heldOff(f Finding) bool {
	if f.Feature == Concentricity {
		return false
	}
	if f.Feature == RadialRunout {
		for _, to := range w.out.Findings {
			if to.Feature == RunoutToShank && sameLength(to.FromEnd, f.FromEnd) {
				return to.Verdict == Accept
			}
		}
	}
	for _, c := range w.out.Causes {
		if c.Feature == f.Feature && sameLength(c.FromEnd, f.FromEnd) && c.Held() {
			return true
		}
	}
	return false
}

// looksAlike says whether a run-out of three flutes is over with the shank unread: off centre and wheel wear then look
// alike.
func (w *judging) looksAlike(is []int) bool {
	_, shank := find(w.sets, ShankRunout, nil)
	return !shank && slices.ContainsFunc(w.out.Causes, func(c Cause) bool {
		return c.Few && w.in.Tool.Flutes == 3 && slices.ContainsFunc(is, func(i int) bool { return w.out.Findings[i].Feature == c.Feature })
	})
}

// grindBefore says what a worn tool needs. Being worn is no fault.
func (w *judging) grindBefore(where Where, f face) {
	dull := len(f.dull)+len(f.seen) > 0
	because := OverLimit
	switch {
	case f.dull == nil:
		because = SeenSo
	case w.looksAlike(f.dull):
		because = LooksAlike
	}
	switch {
	case dull && where == OnFlutes && w.in.Tool.Sharpened == OnFace:
		w.call(GrindFace, where, because, f.dull, f.seen...)
		for _, i := range w.with(Reject, WearLand) {
			amount := w.out.Findings[i].Value.Length()
			w.out.Work[len(w.out.Work)-1].Amount = &amount
		}
	case f.secondary != nil && dull:
		w.call(GrindBoth, where, OverLimit, append(slices.Clone(f.secondary), f.dull...), f.seen...)
	case f.secondary != nil:
		w.call(GrindSecondary, where, OverLimit, f.secondary)
	case f.undecided != nil && dull:
		w.call(GrindBoth, where, CostsAMinute, append(slices.Clone(f.undecided), f.dull...), f.seen...)
	case f.undecided != nil:
		w.call(GrindSecondary, where, CostsAMinute, f.undecided)
	case dull && w.out.PlanOf(where) != nil && w.out.PlanOf(where).OverAfter:
		w.call(GrindBoth, where, PlanNeedsBoth, f.dull, f.seen...)
	case dull:
		w.call(GrindPrimary, where, because, f.dull, f.seen...)
	}
}

// grindAgain says what a face needs that was ground and does not conform. A secondary mends a primary that is too wide
// or rubs; a primary one that has vanished; anything else is ground again.
func (w *judging) grindAgain(where Where, f face) {
	if f.secondary != nil {
		w.call(GrindSecondary, where, OverLimit, f.secondary)
	} else if f.undecided != nil {
		w.call(GrindSecondary, where, CostsAMinute, f.undecided)
	}
	if f.narrow != nil {
		w.call(GrindPrimary, where, Vanished, f.narrow)
	}
	if len(f.dull)+len(f.seen) == 0 {
		return
	}
	because := OverLimit
	switch {
	case f.dull == nil:
		because = SeenSo
	case w.looksAlike(f.dull):
		because = LooksAlike
	}
	w.call(GrindAgain, where, because, f.dull, f.seen...)
}

// untroubled says what comes of an inspection in which nothing is over: read on while anything is open, else none, go
// on or release.
func (w *judging) untroubled() {
	var open []int
	for i, f := range w.out.Findings {
		if !f.Advice && (f.Verdict == Undecided || f.Verdict == NotJudged) {
			open = append(open, i)
		}
	}
	if len(w.in.Readings)+len(w.in.Seen) == 0 {
		w.call(ReadOn, "", NothingRead, nil)
		return
	}
	if open != nil || w.out.Unread != nil {
		w.call(ReadOn, "", ThingsOpen, open)
		return
	}
	w.call(map[Stage]Task{Before: NoWork, Between: GoOn, After: Release}[w.in.Stage], "", AllConform, nil)
	if w.in.Stage == After && w.in.Holding == InFixture && !w.tied() && w.applies(RadialRunout) {
		w.out.TrueIn = InFixture
	}
}

// whole is the verdict on the whole. Before the grind a worn tool is not rejected; it is worth grinding, or it is not.
func (w *judging) whole() Verdict {
	switch first := w.out.Work[0]; {
	case first.What == ReadOn:
		return w.open()
	case w.in.Stage == Before && (first.What == Withdraw || first.What == Downgrade):
		return NotWorthGrinding
	case first.What == NoWork:
		return NoGrindNeeded
	case w.in.Stage == Before:
		return WorthGrinding
	case first.What == GoOn || first.What == Release:
		return Accept
	}
	return Reject
}

// open is the verdict where something must be read again: not judged where nothing but lack of readings
// stands in the way.
func (w *judging) open() Verdict {
	if slices.ContainsFunc(w.out.Findings, func(f Finding) bool { return f.Verdict == Undecided && !f.Advice }) {
		return Undecided
	}
	return NotJudged
}
