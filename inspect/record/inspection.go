package record

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// ErrNoInspection says that the ledger holds no closed inspection of an id.
var ErrNoInspection = errors.New("no such closed inspection in the ledger")

// ErrAmbiguous says that benches that were merged each have an inspection of an id.
var ErrAmbiguous = errors.New("several benches have an inspection of this id")

// Inspection is a closed inspection as it stands: its readings and sights with every correction applied, what it came
// to when it was closed while it is uncorrected, and else what the last correction made of it.
type Inspection struct {
	inspect.Inspection
	Judgement   inspect.Judgement
	Figures     Figures // of that
	Stands      State   // how its tool stands
	Opened      string
	Closed      string
	Discarded   string // why, when it was given up
	Skipped     []Skipped
	Corrections []Corrected // oldest first
	Rulings     []Ruled     // all on it, oldest first
	Conflict    bool        // corrected at two benches that did not know of each other: judged anew with both

	Record ledger.Record // the summary, without its body
	Taken  ledger.Record // the readings, without theirs
	Newest ledger.Record // the newest record that counts: of the summary, the corrections and rulings
}

// Corrected is a correction with the record that it is.
type Corrected struct {
	Correction
	Record ledger.Record
}

// What says which reading or sight is corrected.
func (c Correction) What() string {
	if c.Seen != nil {
		return strings.ReplaceAll(string(c.Seen.Sight), "-", " ")
	}
	return c.Reading.Key().Words(c.Reading.Unit)
}

// Ruling returns the newest ruling on the inspection, nil for none.
func (in *Inspection) Ruling() *Ruled {
	if len(in.Rulings) == 0 {
		return nil
	}
	return &in.Rulings[len(in.Rulings)-1]
}

// Find returns a closed inspection as it stands. Where several benches have one of the id it is ErrAmbiguous, and
// ID@BENCH names one, BENCH being the first letters of a bench's id.
func Find(l Source, id string) (Inspection, error) {
	_, _, in, err := find(l, id)
	return in, err
}

// find returns the tool of an inspection with it, as the fold holds it and as it stands.
func find(l Source, id string) (wholeTool, *held, Inspection, error) {
	wanted, bench, _ := strings.Cut(id, "@")
	tool, _ := splitID(wanted)
	t, err := readWhole(l, tool)
	if known := ""; err == nil && len(t.inspections) == 0 {
		if known = spelled(l, toolPrefix, tool); known != "" && known != tool {
			wanted = known + wanted[len(tool):]
			t, err = readWhole(l, known)
		}
	}
	if err != nil {
		return t, nil, Inspection{}, err
	}
	var found []*held
	for _, h := range t.inspections {
		if strings.EqualFold(h.now.Inspection, wanted) && strings.HasPrefix(h.closed.Bench, bench) {
			found = append(found, h)
		}
	}
	switch len(found) {
	case 0:
		if n := len(t.inspections); n > 0 {
			newest := t.inspections[n-1].now.Inspection
			if of, _ := splitID(newest); strings.EqualFold(of, wanted) {
				return t, nil, Inspection{}, fmt.Errorf("inspection %q: %w: that is a tool; its newest one is %s", id, ErrNoInspection, newest)
			}
		}
		return t, nil, Inspection{}, fmt.Errorf("inspection %q: %w", id, ErrNoInspection)
	case 1:
		in, err := t.inspection(found[0])
		return t, found[0], in, err
	}
	var names []string
	for _, h := range found {
		names = append(names, benchsOwn(wanted, h.closed.Bench))
	}
	return t, nil, Inspection{}, fmt.Errorf("inspection %q: %w: say which, %s", id, ErrAmbiguous, strings.Join(names, " or "))
}

// wholeTool is a tool with the bodies of its summaries and readings.
type wholeTool struct {
	Tool
	*folding
	bodies map[ledger.Ref][]byte
}

func readWhole(l Source, id string) (wholeTool, error) {
	w := wholeTool{bodies: map[ledger.Ref][]byte{}}
	var err error
	w.Tool, w.folding, err = readTool(l, id, func(r ledger.Record) {
		if r.Kind == KindSummary || r.Kind == KindReadings {
			w.bodies[r.Ref()] = r.Body
		}
	})
	return w, err
}

// inspection puts an inspection together from its records.
func (t wholeTool) inspection(h *held) (Inspection, error) {
	in := t.begun(h)
	if err := in.read(t.bodies[h.summary()], t.bodies[in.Taken.Ref()]); err != nil {
		return in, fmt.Errorf("inspection %s: %w", h.now.Inspection, err)
	}
	if err := h.check(&in); err != nil {
		return in, err
	}
	for _, x := range h.corrections {
		in.correct(Corrected{*x.body.(*Correction), x.Record})
	}
	in.settle(h.conflict)
	if !h.conflict {
		in.Figures = *h.now
	}
	t.rule(&in, h)
	return in, nil
}

// check returns why the figures of an inspection cannot be those of what its summary says, or nil.
func (h *held) check(in *Inspection) error {
	if h.forged || len(h.corrections) == 0 && !agrees(h.now, in.Judgement) {
		return fmt.Errorf("inspection %s: its figures, record %d of bench %s, do not say what its summary says: one of them was forged or damaged", in.ID, h.closed.Seq, h.closed.Bench)
	}
	return nil
}

// rule notes the rulings on an inspection.
func (t wholeTool) rule(in *Inspection, h *held) {
	for _, x := range t.rulings {
		if t.ruledOn(x) == h {
			in.Rulings = append(in.Rulings, Ruled{*x.body.(*Ruling), x.Ref()})
			in.newer(x.Record)
		}
	}
}

// begun is an inspection of which nothing is read but which records it is made of.
func (t wholeTool) begun(h *held) Inspection {
	in := Inspection{Stands: t.State}
	for _, x := range t.facts {
		switch {
		case x.Ref() == h.summary():
			in.Record, in.Newest = x.Record, x.Record
		case x.Kind == KindReadings && x.Bench == h.closed.Bench && x.Seq < h.summary().Seq:
			in.Taken = x.Record
		}
	}
	return in
}

func (in *Inspection) newer(r ledger.Record) {
	if ledger.Compare(r, in.Newest) > 0 {
		in.Newest = r
	}
}

// correct applies a correction.
func (in *Inspection) correct(c Corrected) {
	in.Corrections = append(in.Corrections, c)
	in.Judgement = c.Judgement
	in.newer(c.Record)
	if c.Reading != nil {
		in.Inspection.Correct(*c.Reading)
		return
	}
	in.Seen = slices.DeleteFunc(slices.Clone(in.Seen), func(s inspect.Seen) bool { return s.Sight == c.Seen.Sight })
	in.Seen = append(in.Seen, *c.Seen)
	order := func(s inspect.Seen) int { return slices.Index(inspect.Sights, s.Sight) }
	slices.SortStableFunc(in.Seen, func(a, b inspect.Seen) int { return cmp.Compare(order(a), order(b)) })
}

// agrees says whether figures call for the same work as the judgement that they are of.
func agrees(f *Figures, j inspect.Judgement) bool {
	return f.Verdict == j.Verdict && slices.EqualFunc(f.Work, j.Work, func(t inspect.Task, w inspect.Work) bool { return t == w.What })
}

// Earlier returns what came before an inspection in the same regrind, back to the last inspection before a grind,
// the oldest first.
func Earlier(l Source, in *Inspection) ([]Inspection, error) {
	t, err := readWhole(l, in.Tool.ID)
	if err != nil {
		return nil, err
	}
	var earlier []Inspection
	after := false
	for _, h := range slices.Backward(t.inspections) {
		if h.summary() == in.Record.Ref() {
			after = true
			continue
		}
		if !after || h.now.Discarded {
			continue
		}
		if in.Stage == inspect.Before || h.now.Stage == inspect.After && in.Stage != inspect.After {
			break
		}
		e, err := t.inspection(h)
		if err != nil {
			return nil, err
		}
		earlier = append(earlier, e)
		if h.now.Stage == inspect.Before {
			break
		}
	}
	slices.Reverse(earlier)
	return earlier, nil
}

// Known returns what earlier inspections of a tool leave to one at a stage: the diameter that was last read of it, nil
// when none was, what those of the same regrind came to, as they stand, and the last of all, nil for none. What cannot be
// read of a damaged ledger is passed over: it must not keep an inspection from beginning.
func Known(l Source, tool string, stage inspect.Stage) (diameter *length.Length, r *inspect.Regrind, last *inspect.Judged) {
	t, _ := readWhole(l, tool)
	if t.folding == nil {
		return nil, nil, nil
	}
	var earlier []inspect.Judged
	var before *held
	for _, h := range slices.Backward(t.inspections) {
		if h.now.Discarded || h.now.Practice {
			continue
		}
		if in, err := t.inspection(h); err == nil {
			earlier = append(earlier, inspect.Judged{Inspection: in.Inspection, Judgement: in.Judgement})
		}
		if h.now.Stage == inspect.Before {
			before = h
			break // nothing older is of this regrind
		}
	}
	if len(earlier) > 0 {
		last = &earlier[0]
	}
	if r = inspect.RegrindOf(earlier, stage); r != nil && r.Before {
		r.Owed = t.owed(before, earlier[len(earlier)-1].Judgement.Grinds())
	}
	return t.LastDiameter(), r, last
}

// owed returns those of the steps that an inspection before the grind called for that no grind told since is of.
func (f *folding) owed(before *held, called []inspect.Step) []inspect.Step {
	since := slices.IndexFunc(f.flow, func(x *fact) bool { return x.Ref() == before.closed.Ref() })
	for _, x := range f.flow[since+1:] {
		g, is := x.body.(*Ground)
		switch {
		case !is:
		case g.Faces == nil:
			return nil
		default:
			called = slices.DeleteFunc(called, func(s inspect.Step) bool { return slices.Contains(g.Faces, s.Face()) })
		}
	}
	return called
}
