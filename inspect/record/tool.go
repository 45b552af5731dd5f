package record

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/text"
)

// ErrNoTool says that the ledger holds no tool of an id.
var ErrNoTool = errors.New("no such tool in the ledger")

// Tool is a tool as it stands, with what is recorded of it, the oldest first.
type Tool struct {
	inspect.Tool
	State
	Inspections []Life // those that were closed and not given up
	Rulings     []Ruled
	Lifted      []Lifted // locks that stand no more
	Notes       []Note
	Grounds     []Ground
	facts       []*fact
}

// Lifted is a lock that a person lifted, with who did and how they knew.
type Lifted struct {
	Lock
	Unlocking Unlocking
}

// Life is one closed inspection in a tool's life, as it stands.
type Life struct {
	Figures
	TIR       *inspect.Quantity // radial run-out
	Share     *inspect.Quantity // primary of the land, the worst flute
	Diameter  *inspect.Quantity
	Bench     string
	Told      bool   // it is a register's word: no chain here holds it
	Where     string // the bench, in words
	Summary   ledger.Ref
	Corrected bool
	Conflict  bool           // corrected at two benches that did not know of each other
	Ruling    *Ruled         // the newest on it
	Removed   *length.Length // off the diameter since the last one read
	Regrind   int            // releases and concessions after a grind so far
	Reground  bool           // after a grind: it was told, or the tool was to be ground
}

// Ruled is a ruling with the record that it is.
type Ruled struct {
	Ruling
	Ref ledger.Ref
}

// Of says what was ruled on.
func (r Ruling) Of() string {
	if r.Inspection == "" {
		return "the tool"
	}
	return r.Inspection
}

// lightKinds are the kinds that a standing rests on, and what else a tool's card shows. Readings and summaries are not
// among them: figures say in short what they say.
var lightKinds = []string{
	KindOpened, KindFigures, KindTool, KindJob, KindLock, KindUnlock, KindRuling, KindCorrection, KindRecall, KindGround, KindAway, KindNote,
}

// FindTool returns a tool as it stands, or ErrNoTool. What can be read of a damaged ledger comes with the
// *ledger.DamageError.
func FindTool(l Source, id string) (Tool, error) {
	t, _, err := readTool(l, id, nil)
	if t.ID == "" {
		if known := spelled(l, toolPrefix, id); known != "" && known != id {
			return FindTool(l, known)
		}
		return t, cmp.Or(err, fmt.Errorf("tool %q: %w", id, ErrNoTool))
	}
	return t, err
}

// readTool reads a tool's records; without an id where none says what the tool is.
// keep, where it is given, sees every record with its body.
func readTool(l Source, id string, keep func(ledger.Record)) (Tool, *folding, error) {
	leftOut, was, err := benchesOf(l)
	if err != nil {
		return Tool{}, nil, err
	}
	kinds := lightKinds
	if keep != nil {
		kinds = nil
	}
	var facts []*fact
	var failed error
	for r, err := range l.History(ToolSubject(id), kinds...) {
		if err != nil {
			failed = fmt.Errorf("tool %q: %w", id, err)
			break
		}
		if keep != nil {
			keep(r)
		}
		x := &fact{Record: r, was: was[r.Bench]}
		if slices.Contains(lightKinds, r.Kind) {
			x.body, x.unread = decode(r)
		}
		x.Body = nil
		facts = append(facts, x)
	}
	if err := unread(facts, leftOut); err != nil && failed == nil {
		failed = fmt.Errorf("tool %q: %w", id, err)
	}
	if err := readDrafts(l, facts); err != nil && failed == nil {
		failed = err
	}
	t, f := newTool(facts, leftOut)
	var err2 error
	if t.Elsewhere.Told, err2 = toldOf(l, ToolSubject(id)); failed == nil {
		failed = err2
	}
	return t, f, failed
}

// readDrafts looks into the drafts that are still open for what locks the tool.
func readDrafts(l Source, facts []*fact) error {
	for _, x := range facts {
		o, ok := x.body.(*Opened)
		if !ok || x.Opens == "" || slices.ContainsFunc(facts, func(y *fact) bool { return y.Closes == x.Opens && y.Bench == x.Bench }) {
			continue
		}
		if head, err := l.Head(); err != nil || head.Bench != x.Bench {
			continue // the drafts of other benches do not come with a merge
		}
		content, err := l.ReadDraft(x.Opens)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		d, err := foldDraft(content)
		if err != nil {
			return fmt.Errorf("draft of %s: %w", o.Inspection.ID, err)
		}
		o.locks, o.lockedAt = Locks(d.Inspection), d.lockedAt
	}
	return nil
}

// newTool folds a tool's records, newest first or in any order.
func newTool(facts []*fact, leftOut map[string]bool) (Tool, *folding) {
	slices.SortFunc(facts, func(a, b *fact) int { return ledger.Compare(a.Record, b.Record) })
	t := Tool{facts: facts}
	f, state := fold(facts, leftOut)
	t.State = state
	t.Elsewhere.count(facts)
	for _, x := range facts {
		if leftOut[x.Bench] && !stops(x.body) {
			continue
		}
		switch b := x.body.(type) {
		case *inspect.Tool:
			retired := t.Retired
			t.Tool = *b
			t.Retired = cmp.Or(b.Retired, retired) // out of use once is out of use for good
		case *Note:
			t.Notes = append(t.Notes, *b)
		case *Ground:
			t.Grounds = append(t.Grounds, *b)
		case *Ruling:
			t.Rulings = append(t.Rulings, Ruled{*b, x.Ref()})
		case *Unlocking:
			if i := slices.IndexFunc(f.locks, func(l *fact) bool { return x.About != nil && l.Ref() == *x.About }); i >= 0 {
				t.Lifted = append(t.Lifted, Lifted{*f.locks[i].body.(*Lock), *b})
			}
		}
	}
	var last *length.Length
	reground := f.reground()
	regrinds := 0
	t.Inspections = slices.Grow(t.Inspections, len(f.inspections))
	for _, h := range f.inspections {
		if h.now.Discarded {
			continue
		}
		e := Life{Figures: *h.now, Bench: h.closed.Bench, Told: h.closed.Told, Where: h.closed.At(), Summary: h.summary(), Corrected: len(h.corrections) > 0, Conflict: h.conflict, Reground: reground[h]}
		letOut := false
		for _, x := range f.rulings {
			if f.ruledOn(x) == h {
				e.Ruling = &Ruled{*x.body.(*Ruling), x.Ref()}
				letOut = letOut || e.Ruling.Word != Withdraw
			}
		}
		e.TIR, e.Share, e.Diameter = quantityOf(h.now.TIR), quantityOf(h.now.Ratio), quantityOf(h.now.Diameter)
		if e.Diameter != nil {
			d := e.Diameter.Length()
			if last != nil {
				removed := *last - d
				e.Removed = &removed
			}
			last = &d
		}
		if letOut && e.Stage == inspect.After && !e.Practice {
			regrinds++
		}
		e.Regrind = regrinds
		t.Inspections = append(t.Inspections, e)
	}
	return t, f
}

// Ruling returns the ruling that decides how the tool stands: its withdrawal, else the newest on those of its inspections that
// are here; nil for none.
func (t Tool) Ruling() *Ruled {
	var newest *Ruled
	for _, e := range t.Inspections {
		newest = cmp.Or(e.Ruling, newest)
	}
	if i := slices.IndexFunc(t.Rulings, func(r Ruled) bool { return r.Word == Withdraw }); i >= 0 && t.Standing == StandsWithdrawn {
		newest = &t.Rulings[i]
	}
	return newest
}

// Named returns what tells an inspection of a bench from all others of the tool: its id, with the beginning of the bench's own
// where another bench has one of that id.
func (t Tool) Named(inspection, bench string) string {
	if slices.ContainsFunc(t.Inspections, func(e Life) bool { return e.Inspection == inspection && e.Bench != bench }) {
		return benchsOwn(inspection, bench)
	}
	return inspection
}

// benchsOwn is the name of an inspection of an id that several benches have.
func benchsOwn(inspection, bench string) string { return inspection + "@" + bench[:min(len(bench), 6)] }

// LastDiameter returns the diameter that was last read of the tool, as it stands; nil when none was.
func (t Tool) LastDiameter() *length.Length {
	for _, e := range slices.Backward(t.Inspections) {
		if e.Diameter != nil && !e.Practice {
			d := e.Diameter.Length()
			return &d
		}
	}
	return nil
}

// NextID returns the id of a tool's next inspection: the tool's, a point and a running number that no bench known here
// has used.
func NextID(l Source, tool string) (string, error) {
	t, _, err := readTool(l, tool, nil)
	var damaged *ledger.DamageError
	if err != nil && !errors.As(err, &damaged) {
		return "", err
	}
	last := 0
	for _, x := range t.facts {
		if o, ok := x.body.(*Opened); ok {
			_, n := splitID(o.Inspection.ID)
			last = max(last, n)
		}
	}
	return fmt.Sprintf("%s.%d", tool, last+1), nil
}

// SubjectOf returns the subject of the tool that an inspection is of, by the inspection's id; of a tool's own id it is
// that tool's.
func SubjectOf(inspection string) string {
	inspection, _, _ = strings.Cut(inspection, "@")
	tool, _ := splitID(inspection)
	return ToolSubject(tool)
}

// splitID takes an inspection's id apart into the tool's and the running number.
func splitID(inspection string) (tool string, n int) {
	i := strings.LastIndexByte(inspection, '.')
	if i < 0 {
		return inspection, 0
	}
	n, err := strconv.Atoi(inspection[i+1:])
	if err != nil {
		return inspection, 0
	}
	return inspection[:i], n
}

// AddTools records new tools, all of them or, where one cannot be, none. One that is in the ledger is a *KnownError.
func AddTools(l *ledger.Ledger, tools []inspect.Tool) error {
	_, err := l.Decide(nil, func() ([]ledger.Entry, error) {
		all, err := readIDs(l, toolPrefix)
		if err != nil {
			return nil, err
		}
		var entries []ledger.Entry
		for _, t := range tools {
			if err := t.Check(); err != nil {
				return nil, err
			}
			if other, is := all.folded[text.Fold(t.ID)]; is { // or what is known of it is not what it is
				if old, err := FindTool(l, other); err == nil {
					return nil, &KnownError{old.ID}
				} else if !errors.Is(err, ErrNoTool) {
					return nil, err
				}
			}
			if err := all.alike(t.ID); err != nil {
				return nil, err
			}
			all.take(t.ID)
			e, err := entry(KindTool, ToolSubject(t.ID), t)
			if err != nil {
				return nil, err
			}
			entries = append(entries, e)
		}
		return entries, nil
	})
	return err
}

// SaveTool records a tool as it now stands: added, changed or retired.
func SaveTool(l *ledger.Ledger, t inspect.Tool) (ledger.Record, error) {
	if err := t.Check(); err != nil {
		return ledger.Record{}, err
	}
	if err := alike(l, toolPrefix, t.ID); err != nil {
		return ledger.Record{}, err
	}
	return save(l, KindTool, ToolSubject(t.ID), t)
}

// Retire takes a tool out of use, for a reason.
func Retire(l *ledger.Ledger, id, reason string) (ledger.Record, error) {
	if strings.TrimSpace(reason) == "" {
		return ledger.Record{}, errors.New("it needs a reason: why the tool is taken out of use")
	}
	t, err := FindTool(l, id)
	if err != nil {
		return ledger.Record{}, err
	}
	t.Retired = reason
	return SaveTool(l, t.Tool)
}

// benchesOf returns the benches that a record of this bench leaves out of what stands, none where it is not known which
// bench this is; and of each that goes on in place of another which that is.
func benchesOf(l Source) (leftOut map[string]bool, was map[string]string, err error) {
	subjects, err := l.Subjects(benchPrefix)
	if err != nil {
		return nil, nil, err
	}
	leftOut, was = map[string]bool{}, map[string]string{}
	by := map[string]string{}
	for _, subject := range subjects {
		about := strings.TrimPrefix(subject, benchPrefix)
		for r, err := range l.History(subject) {
			if err != nil {
				return nil, nil, err
			}
			switch {
			case r.Kind == KindContinues:
				was[r.Bench] = about
			case r.Kind == KindLeaveOut && by[about] == "":
				by[about] = r.Bench
			}
		}
	}
	head, err := l.Head()
	if err != nil {
		return leftOut, was, nil
	}
	own := map[string]bool{} // the ids that this bench has had
	for id := head.Bench; id != "" && !own[id]; id = was[id] {
		own[id] = true
	}
	for about, who := range by {
		if own[who] && !own[about] {
			leftOut[about] = true
		}
	}
	return leftOut, was, nil
}

// foldDraft folds what stands in a draft.
func foldDraft(content ledger.DraftContent) (Draft, error) {
	r := Taken{ID: "a draft", Events: []json.RawMessage{content.Opened.Body}}
	for _, line := range content.Lines {
		r.Events = append(r.Events, line)
	}
	return r.Fold()
}

// Tools gives the tools that a filter means as they stand, by id, each with those of its inspections that it means: where it
// asks of one inspection, bench, stage, verdict or days, none without such an inspection. Of
// a job it gives the tools that came with it or were inspected for it. A tool that cannot be read comes with its error.
func Tools(l Source, f Filter) iter.Seq2[Tool, error] {
	return func(yield func(Tool, error) bool) {
		subjects, err := l.Subjects(toolPrefix)
		if err != nil {
			yield(Tool{}, err)
			return
		}
		slices.SortFunc(subjects, Natural)
		for _, subject := range subjects {
			id := strings.TrimPrefix(subject, toolPrefix)
			if f.Tool != "" && f.Tool != id {
				continue
			}
			t, folded, err := readTool(l, id, nil)
			if t.ID == "" && err == nil || f.Standing != "" && t.Standing != f.Standing {
				continue
			}
			came := f.Job == "" || slices.ContainsFunc(folded.flow, func(x *fact) bool { r, ok := x.body.(*Received); return ok && r.Job == f.Job })
			t.Inspections = slices.DeleteFunc(t.Inspections, func(e Life) bool {
				b := Brief{ID: e.Inspection, Tool: e.Tool, Job: e.Job, Stage: e.Stage, Verdict: e.Verdict, Closed: e.Closed, Bench: e.Bench, Amended: Amended{Standing: f.Standing}}
				return !f.takes(&b)
			})
			if len(t.Inspections) == 0 && (!came || f.ofInspections()) {
				continue
			}
			if !yield(t, err) {
				return
			}
		}
	}
}
