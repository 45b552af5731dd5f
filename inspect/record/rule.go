package record

import (
	"cmp"
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// Who is a person who decides something, why, and when.
type Who struct {
	By, Why string
	At      time.Time
}

// ErrNoReason says that a decision was given no reason.
var ErrNoReason = errors.New("it needs a reason")

// inWords is a reason of one word at the least: a letter, a sign or an "ok" alone says nothing to who reads it later. A word has three
// letters; in scripts without capitals, where a character is a syllable or a vowel goes unwritten, two. Marks over and under letters count.
var inWords = regexp.MustCompile(`[\pL\pM]{3}|\p{Lo}[\p{Lo}\pM]`)

func (w Who) check(what string, why bool) error {
	switch {
	case strings.TrimSpace(w.By) == "":
		return fmt.Errorf("%s: who decides must be said", what)
	case why && strings.TrimSpace(w.Why) == "":
		return fmt.Errorf("%s: %w", what, ErrNoReason)
	case why && !inWords.MatchString(w.Why):
		return fmt.Errorf("%s: %w in words, for who reads it later: %q is none", what, ErrNoReason, strings.TrimSpace(w.Why))
	}
	return nil
}

// Rule rules on inspections, all of them or, where one cannot be, none. A concession and a withdrawal need a reason.
// A tool that was never inspected can be withdrawn by its own id. What is decided from is the newest there is: nothing
// is recorded between its reading and the ruling.
func Rule(l *ledger.Ledger, ids []string, word Word, who Who) ([]ledger.Record, error) {
	if !slices.Contains([]Word{Release, Concession, Withdraw}, word) {
		return nil, fmt.Errorf("ruling %q: want release, concession or withdraw", word)
	}
	if err := who.check(string(word), word != Release); err != nil {
		return nil, err
	}
	return l.Decide(nil, func() ([]ledger.Entry, error) { return rulings(l, ids, word, who) })
}

// MayRule returns why inspections cannot be ruled on now, whoever does it, or nil.
func MayRule(l Source, ids []string, word Word) error {
	_, err := rulings(l, ids, word, Who{})
	return err
}

// rulings makes the entries of a ruling on each of inspections.
func rulings(l Source, ids []string, word Word, who Who) ([]ledger.Entry, error) {
	var entries []ledger.Entry
	var refused []error
	ruled := map[string]bool{}
	for _, id := range ids {
		e, err := ruling(l, id, word, who)
		if err == nil && ruled[e.Subject] {
			err = fmt.Errorf("%s: its tool is ruled on already in this", id)
		}
		ruled[e.Subject] = true
		refused, entries = append(refused, err), append(entries, e)
	}
	return entries, errors.Join(refused...)
}

// ruling makes the entry of one ruling.
func ruling(l Source, id string, word Word, who Who) (ledger.Entry, error) {
	r := Ruling{Inspection: id, Word: word, By: who.By, Why: who.Why, At: Stamp(who.At)}
	t, h, in, err := find(l, id)
	if errors.Is(err, ErrNoInspection) && word == Withdraw {
		if tool, err := FindTool(l, id); err == nil {
			r.Inspection, r.Seen = "", seenOf(tool.facts)
			if tool.Standing == StandsWithdrawn {
				return ledger.Entry{}, tool.ruledAlready(Withdraw)
			}
			return entry(KindRuling, ToolSubject(tool.ID), r)
		}
	}
	if err == nil {
		err = t.allows(h, &in, word)
	}
	if err != nil {
		return ledger.Entry{}, err
	}
	r.Inspection, r.Seen = in.ID, seenOf(t.facts)
	for _, recall := range t.Recalls {
		if t.byCorrection[refOf(recall.About)] == h {
			r.Recalls = append(r.Recalls, recall.Ref())
		}
	}
	e, err := entry(KindRuling, ToolSubject(t.ID), r)
	about := h.summary()
	e.About = &about
	return e, err
}

// Allowed returns what can be ruled on an inspection now.
func Allowed(l Source, id string) ([]Word, error) {
	t, h, in, err := find(l, id)
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc([]Word{Release, Concession, Withdraw}, func(w Word) bool { return t.allows(h, &in, w) != nil }), nil
}

// ruledAlready says who made a ruling that is not made twice.
func (t Tool) ruledAlready(word Word) error {
	for _, r := range slices.Backward(t.Rulings) {
		if r.Word == word {
			return fmt.Errorf("%s: %s was ruled by %s on %s already; nothing is recorded", cmp.Or(r.Inspection, t.ID), word, r.By, r.At[:min(10, len(r.At))])
		}
	}
	return nil
}

// allows returns why a ruling cannot be made on an inspection, or nil.
func (t wholeTool) allows(h *held, in *Inspection, word Word) error {
	refuse := func(format string, args ...any) error {
		return fmt.Errorf("inspection %s: %s", in.ID, fmt.Sprintf(format, args...))
	}
	switch {
	case in.Discarded != "":
		return refuse("it was given up: %s", in.Discarded)
	case t.Standing == StandsWithdrawn:
		return t.ruledAlready(Withdraw)
	case word == Withdraw:
		return nil
	case in.Figures.Practice:
		return refuse("it was read with a practice gauge; practice readings are never released")
	case len(t.Locks) > 0:
		return refuse("the tool is locked, %s: lift the lock of %s first", t.Locks[0], t.ID)
	case t.Standing == StandsRetired:
		return refuse("the tool is out of use: %s", t.Retired)
	case len(t.Open) > 0:
		return refuse("inspection %s of this tool is half read: finish it, or give it up", t.Open[0])
	case in.Stage == inspect.Between || in.Stage == inspect.Before && (word == Concession || !h.now.clear()):
		return refuse("it is from %s: a tool is released by one after the grind", in.Stage.Words())
	}
	if newest := t.flow[len(t.flow)-1]; newest.Ref() != h.closed.Ref() && !t.practises(newest) {
		return refuse("it is not the newest of this tool: %s", newest.says())
	}
	recalled := slices.ContainsFunc(t.Recalls, func(r ledger.Record) bool { return t.byCorrection[refOf(r.About)] == h })
	last := in.Ruling()
	switch {
	case last != nil && last.Word == word && !recalled && t.Standing != StandsRecalled:
		return t.ruledAlready(word)
	case word == Release && h.conflict:
		return refuse("it was corrected at two benches that did not know of each other: correct it once more, or inspect again")
	case word == Concession && in.Figures.Locks != "":
		return refuse("it found %s, which nobody concedes: correct it if it was none, or inspect the tool again", Lock{Sight: in.Figures.Locks}.What())
	case word == Release && !h.now.clear():
		return refuse("it does not conform (%s): it can be released by concession only", works(h.now.Work))
	case word == Concession && h.now.clear() && !h.conflict:
		return refuse("it conforms and needs no concession; release it")
	}
	return nil
}

// practises says whether a record closes an inspection that stands for nothing.
func (f *folding) practises(x *fact) bool {
	h := f.inspection(x)
	return h != nil && (h.now.Practice || h.now.Discarded)
}

// says tells in words what a record that moves a tool on is.
func (x *fact) says() string {
	switch b := x.body.(type) {
	case *Figures:
		return "inspection " + b.Inspection + " came later"
	case *Opened:
		return "inspection " + b.Inspection.ID + " is half read"
	case *Received:
		return "it came back since, with job " + b.Job
	}
	return "it was ground since"
}

func works(work []inspect.Task) string {
	if len(work) == 0 {
		return "nothing was read"
	}
	var names []string
	for _, w := range work {
		names = append(names, string(w))
	}
	return strings.Join(names, ", ")
}

// Unlock lifts the locks that stand on a tool, each by a record that names it, and returns them.
func Unlock(l *ledger.Ledger, tool string, who Who) ([]StandingLock, []ledger.Record, error) {
	if err := who.check("unlock", true); err != nil {
		return nil, nil, err
	}
	var lifted []StandingLock
	records, err := l.Decide(nil, func() ([]ledger.Entry, error) {
		t, err := lockedTool(l, tool)
		if err != nil {
			return nil, err
		}
		var entries []ledger.Entry
		for _, lock := range t.Locks {
			e, err := entry(KindUnlock, ToolSubject(t.ID), Unlocking{who.By, who.Why, Stamp(who.At)})
			if err != nil {
				return nil, err
			}
			e.About = &lock.Ref
			entries = append(entries, e)
		}
		lifted = t.Locks
		return entries, nil
	})
	return lifted, records, err
}

// MayUnlock returns why no lock of a tool can be lifted now, whoever does it, or nil.
func MayUnlock(l Source, tool string) error {
	_, err := lockedTool(l, tool)
	return err
}

// lockedTool returns a tool on which a lock stands that can be lifted.
func lockedTool(l Source, id string) (Tool, error) {
	t, err := FindTool(l, id)
	switch {
	case err != nil:
		return t, err
	case t.Standing == StandsWithdrawn:
		return t, t.ruledAlready(Withdraw)
	case len(t.Locks) == 0:
		return t, fmt.Errorf("tool %q is not locked", id)
	}
	return t, nil
}

// Fix is what a correction puts right: one of the two.
type Fix struct {
	Reading *inspect.Reading
	Seen    *inspect.Seen
}

// Correct puts a reading or a sight of a closed inspection right and judges anew by what the inspection was judged by.
// A released tool that does not conform any more, or a conceded one of which a verdict is worse, is recalled in the same
// append; a crack locks. It returns the inspection as it stands then; what it was is in its last correction.
func Correct(l *ledger.Ledger, id string, fix Fix, who Who) (Inspection, error) {
	if err := who.check("correction", true); err != nil {
		return Inspection{}, err
	}
	_, err := l.Decide(nil, func() ([]ledger.Entry, error) {
		t, h, in, err := find(l, id)
		if err != nil {
			return nil, err
		}
		return t.correction(h, in, fix, who)
	})
	if err != nil {
		return Inspection{}, err
	}
	return Find(l, id)
}

// correction makes the entries of a correction.
func (t wholeTool) correction(h *held, in Inspection, fix Fix, who Who) ([]ledger.Entry, error) {
	c := Correction{Inspection: in.ID, Reading: fix.Reading, Seen: fix.Seen, By: who.By, Why: who.Why, At: Stamp(who.At)}
	if in.Discarded != "" {
		return nil, fmt.Errorf("inspection %s was given up: %s", in.ID, in.Discarded)
	}
	if err := c.was(&in); err != nil {
		return nil, fmt.Errorf("inspection %s: %w", in.ID, err)
	}
	for _, x := range h.corrections {
		c.After = append(c.After, x.Ref())
	}
	before := in
	in.correct(Corrected{Correction: c})
	c.Judgement = inspect.Judge(in.Inspection)
	c.Worse = worse(before.Judgement, c.Judgement)
	f := figuresOf(in.Inspection, c.Judgement, in.Closed)
	f.Corrects = true
	subject, about := ToolSubject(in.Tool.ID), h.summary()
	var entries []ledger.Entry
	var failed error
	add := func(kind string, body any, back int) {
		e, err := entry(kind, subject, body)
		failed = cmp.Or(failed, err)
		e.AboutBack = back
		entries = append(entries, e)
	}
	add(KindCorrection, c, 0)
	entries[0].About = &about
	add(KindFigures, f, 1)
	if f.Locks != "" && before.Figures.Locks != f.Locks {
		lock := Lock{Inspection: in.ID, Stage: in.Stage, Sight: f.Locks, By: who.By, At: c.At}
		if c.Seen != nil {
			lock.Flute, lock.Note = c.Seen.Flute, c.Seen.Note
		}
		add(KindLock, lock, 2)
	}
	if r := in.Ruling(); r != nil && t.relies(h) && (r.Word == Release && !f.clear() || r.Word == Concession && c.Worse) {
		add(KindRecall, Recall{in.ID, works(f.Work), c.At}, len(entries))
	}
	return entries, failed
}

// relies says whether a tool in use, or once more in the shop, may still be out on the strength of an inspection: no
// later one after the grind was released since.
func (t wholeTool) relies(h *held) bool {
	return !slices.ContainsFunc(t.rulings, func(x *fact) bool {
		other := t.bySummary[refOf(x.About)]
		return other != nil && other != h && other.now.Stage == inspect.After && ledger.Compare(other.closed.Record, h.closed.Record) > 0 && x.body.(*Ruling).Word != Withdraw
	})
}

// was takes into a correction what stood before it, and returns why there is nothing to correct.
func (c *Correction) was(in *Inspection) error {
	if c.Seen != nil {
		i := slices.IndexFunc(in.Seen, func(s inspect.Seen) bool { return s.Sight == c.Seen.Sight })
		switch {
		case !c.Seen.Yes:
			c.Seen.Flute = 0
		case c.Seen.Flute == 0 && i >= 0: // where it was seen stays
			c.Seen.Flute = in.Seen[i].Flute
		}
		if err := c.Seen.Check(in.Tool); err != nil {
			return err
		}
		switch {
		case i >= 0 && reflect.DeepEqual(in.Seen[i], *c.Seen):
			return fmt.Errorf("%s was answered so already", c.What())
		case i >= 0:
			was := in.Seen[i]
			c.WasSeen = &was
		case !c.Seen.Yes:
			return fmt.Errorf("%s was not looked for; what nobody looked for cannot be corrected to no", c.What())
		}
		return nil
	}
	i := slices.IndexFunc(in.Readings, func(r inspect.Reading) bool { return r.Key() == c.Reading.Key() })
	if i < 0 {
		return cmp.Or(in.Check(*c.Reading), fmt.Errorf("it has no reading of %s", c.What()))
	}
	was := in.Readings[i]
	if was.Value == c.Reading.Value {
		return fmt.Errorf("%s is %s %s already", c.What(), was.Text, was.Unit)
	}
	fixed := was // how and with what it was read stays
	fixed.Value, fixed.Text, fixed.Unit = c.Reading.Value, c.Reading.Text, c.Reading.Unit
	c.Was, c.Reading = &was, &fixed
	return in.Check(fixed)
}

// worse says whether some verdict is worse in a judgement than in another, or a person must decide who need not before.
func worse(was, is inspect.Judgement) bool {
	rank := func(v inspect.Verdict) int {
		return slices.Index([]inspect.Verdict{inspect.Accept, inspect.Undecided, inspect.NotJudged, inspect.Reject}, v)
	}
	if rank(is.Verdict) > rank(was.Verdict) {
		return true
	}
	for _, f := range is.Findings {
		for _, g := range was.Findings {
			if f.Feature == g.Feature && equal(f.FromEnd, g.FromEnd) && rank(f.Verdict) > rank(g.Verdict) {
				return true
			}
		}
	}
	return slices.ContainsFunc(is.Work, func(w inspect.Work) bool {
		return slices.Contains(asksPerson, w.What) && !slices.ContainsFunc(was.Work, func(o inspect.Work) bool { return o.What == w.What })
	})
}

// RecordGround, RecordAway, RecordNote and LeaveOutBench record what is told of a tool, or of a bench.
func RecordGround(l *ledger.Ledger, tool string, g Ground) (ledger.Record, error) {
	if g.Faces == nil {
		if _, _, last := Known(l, tool, inspect.Between); last != nil {
			steps := last.Judgement.Planned()
			g.Faces = inspect.Faces(steps)
		}
	}
	return tell(l, KindGround, tool, g)
}

// RecordAway is documented with RecordGround.
func RecordAway(l *ledger.Ledger, tool string, a Away) (ledger.Record, error) {
	return tell(l, KindAway, tool, a)
}

// RecordNote is documented with RecordGround.
func RecordNote(l *ledger.Ledger, tool string, n Note) (ledger.Record, error) {
	if strings.TrimSpace(n.Text) == "" {
		return ledger.Record{}, errors.New("a note needs words")
	}
	return tell(l, KindNote, tool, n)
}

// tell records what is told of a tool that there is.
func tell(l *ledger.Ledger, kind, tool string, body any) (ledger.Record, error) {
	t, err := FindTool(l, tool)
	if err != nil {
		return ledger.Record{}, err
	}
	if kind == KindGround && (t.Standing == StandsWithdrawn || len(t.Locks) > 0) {
		return ledger.Record{}, fmt.Errorf("tool %q is %s: it is not ground", tool, t.Standing)
	}
	return save(l, kind, ToolSubject(t.ID), body)
}

// LeaveOutBench is documented with RecordGround.
func LeaveOutBench(l *ledger.Ledger, bench string, who Who) (ledger.Record, error) {
	if err := who.check("leave-out", true); err != nil {
		return ledger.Record{}, err
	}
	head, err := l.Head()
	if err != nil {
		return ledger.Record{}, err
	}
	if head.Bench == bench {
		return ledger.Record{}, errors.New("a bench cannot leave out its own records")
	}
	return save(l, KindLeaveOut, benchPrefix+bench, LeaveOut{bench, who.By, who.Why, Stamp(who.At)})
}

// Succeed records a new tool in the place of one that was withdrawn by a slip: withdrawn is for good, and the new one
// begins its own life.
func Succeed(l *ledger.Ledger, t inspect.Tool, was string, who Who) (ledger.Record, error) {
	if err := t.Check(); err != nil {
		return ledger.Record{}, err
	}
	if err := who.check("tool "+t.ID, false); err != nil {
		return ledger.Record{}, err
	}
	if err := alike(l, toolPrefix, t.ID); err != nil {
		return ledger.Record{}, err
	}
	records, err := l.Decide(nil, func() ([]ledger.Entry, error) {
		old, err := FindTool(l, was)
		if err != nil {
			return nil, err
		}
		if old.Standing != StandsWithdrawn && old.Standing != StandsRetired {
			return nil, fmt.Errorf("tool %q is %s: only one that was withdrawn or retired is succeeded by another", was, old.Standing)
		}
		e, err := entry(KindTool, ToolSubject(t.ID), t)
		if err != nil {
			return nil, err
		}
		n, err := entry(KindNote, ToolSubject(t.ID), Note{Text: "was " + was, By: who.By, At: Stamp(who.At)})
		m, err2 := entry(KindNote, ToolSubject(was), Note{Text: "goes on as " + t.ID, By: who.By, At: Stamp(who.At)})
		return []ledger.Entry{e, n, m}, cmp.Or(err, err2)
	})
	if err != nil {
		return ledger.Record{}, err
	}
	return records[0], nil
}
