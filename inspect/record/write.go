package record

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// Writer is an inspection that is being written: a draft whose every line is on disk before it is acknowledged, so
// that a kill or a power cut loses nothing that was.
type Writer struct {
	Draft  // what the lines so far come to
	ledger *ledger.Ledger
	draft  *ledger.Draft // nil while nothing is recorded
	events []json.RawMessage
	kept   int // of the events, on disk
	now    func() time.Time
}

// Begin begins an inspection, of which nothing is recorded before its first answer, or its close. Its id must be set; NextID gives
// one. plan is what is asked, for who asks; carried is what it goes on with, which is recorded with the first answer.
func Begin(l *ledger.Ledger, in inspect.Inspection, plan any, now func() time.Time, carried ...Event) (*Writer, error) {
	asked, err := json.Marshal(plan)
	if err != nil {
		return nil, err
	}
	w := &Writer{ledger: l, now: now}
	for _, e := range append([]Event{{What: "begun", At: Stamp(now()), Inspection: &in, Plan: asked}}, carried...) {
		line, err := json.Marshal(e)
		if err != nil {
			return nil, err
		}
		if err := w.take(line); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// Recorded says whether anything of the inspection is recorded.
func (w *Writer) Recorded() bool { return w.draft != nil }

// ErrOvertaken says that the tool was inspected elsewhere since an inspection began of which nothing is recorded.
var ErrOvertaken = errors.New("it was inspected at another place meanwhile; stop here, and begin anew")

// Overtaken says of an inspection of which nothing is recorded whether another one of the tool was begun since.
func (w *Writer) Overtaken() bool {
	next, err := NextID(w.ledger, w.Inspection.Tool.ID)
	return w.draft == nil && err == nil && next != w.Inspection.ID
}

// Open records that the inspection was begun, and what it goes on with, where that is not recorded yet.
func (w *Writer) Open() error {
	if w.draft == nil {
		in := w.Inspection
		if w.Overtaken() {
			return fmt.Errorf("tool %q: %w", in.Tool.ID, ErrOvertaken)
		}
		draft, err := w.ledger.NewDraft(in.ID, ledger.Entry{Kind: KindOpened, Subject: ToolSubject(in.Tool.ID), Body: w.events[0]})
		if errors.Is(err, fs.ErrExist) && w.Overtaken() {
			return fmt.Errorf("tool %q: %w", in.Tool.ID, ErrOvertaken)
		}
		if err != nil {
			return err
		}
		w.draft, w.kept = draft, 1
	}
	for ; w.kept < len(w.events); w.kept++ {
		if err := w.draft.Append(w.events[w.kept]); err != nil {
			return err
		}
	}
	return nil
}

// Resume opens an inspection that was stopped or cut off, and reads its plan. Lost are the lines of its draft that cannot be
// read any more; what was being written when the power went was never acknowledged and is not among them.
func Resume(l *ledger.Ledger, inspection string, plan any, now func() time.Time) (w *Writer, lost []ledger.Damage, err error) {
	draft, content, err := l.OpenDraft(inspection)
	if err != nil {
		return nil, nil, err
	}
	w = &Writer{ledger: l, draft: draft, now: now}
	for i, line := range append([][]byte{content.Opened.Body}, content.Lines...) {
		if err := w.take(line); err != nil {
			return nil, nil, errors.Join(fmt.Errorf("taking up %s: line %d of its draft: %w", inspection, i+1, err), draft.Release())
		}
	}
	w.kept = len(w.events)
	var begun Event
	if err := json.Unmarshal(w.events[0], &begun); err != nil || plan != nil && json.Unmarshal(begun.Plan, plan) != nil {
		return nil, nil, errors.Join(fmt.Errorf("taking up %s: what it asks for cannot be read", inspection), draft.Release())
	}
	return w, content.Damage, nil
}

func (w *Writer) take(line json.RawMessage) error {
	e, err := ReadEvent(line)
	if err != nil {
		return err
	}
	if err := w.Draft.Take(e); err != nil {
		return err
	}
	w.events = append(w.events, line)
	return nil
}

// Write keeps one event. It returns once the event is on disk.
func (w *Writer) Write(e Event) error {
	line, err := json.Marshal(e)
	if err != nil {
		return err
	}
	if err := w.Open(); err != nil {
		return err
	}
	if err := w.draft.Append(line); err != nil {
		return err
	}
	w.kept++
	return w.take(line)
}

// Answered is a question that was answered or left out, and when.
type Answered struct {
	Question Question
	At       string
}

// Answers returns what was answered, in the order in which it was last.
func (w *Writer) Answers() []Answered {
	var all []Answered
	for _, line := range w.events {
		e, err := ReadEvent(line)
		if err != nil {
			continue // none was taken that cannot be read
		}
		q, at := Question{}, e.At
		switch {
		case e.Reading != nil:
			q, at = Question{Key: e.Reading.Key()}, e.Reading.At
		case e.Seen != nil:
			q.Sight = e.Seen.Sight
		case e.Ground != nil:
			q.Ground = true
		case e.Question != nil:
			q = *e.Question
		default:
			continue
		}
		all = slices.DeleteFunc(all, func(a Answered) bool { return a.Question == q })
		if e.What != "retake" {
			all = append(all, Answered{q, at})
		}
	}
	return all
}

// Read keeps a reading that can be. One of the same feature, flute, place and repeat replaces the earlier one, which
// stays in the record.
func (w *Writer) Read(r inspect.Reading) error {
	if err := w.Inspection.Check(r); err != nil {
		return err
	}
	if r.At == "" {
		r.At = Stamp(w.now())
	}
	return w.Write(Event{What: "reading", Reading: &r})
}

// See keeps what was seen. What locks the tool is recorded as a lock before it.
func (w *Writer) See(seen inspect.Seen) error {
	if err := seen.Check(w.Inspection.Tool); err != nil {
		return err
	}
	at := Stamp(w.now())
	if LocksTool(seen, w.Inspection.Stage) {
		if err := w.Lock(seen, "", at); err != nil {
			return err
		}
	}
	return w.Saw(seen, "", at)
}

// Saw keeps what was seen, and by whom where it is known, where the tool was locked for it already. A lock that it takes back
// stands, and says that it was a slip.
func (w *Writer) Saw(seen inspect.Seen, by, at string) error {
	if err := w.slipped(seen.Sight, seen.Yes, at); err != nil {
		return err
	}
	return w.Write(Event{What: "seen", At: at, Seen: &seen, By: by})
}

// Lock records that something was seen that locks the tool.
func (w *Writer) Lock(seen inspect.Seen, by, at string) error {
	if err := w.Open(); err != nil {
		return err
	}
	in := w.Inspection
	in.Inspector = cmp.Or(by, in.Inspector)
	return LockNow(w.ledger, in, seen, w.draft.Opened().Ref(), at)
}

// TakeBack takes an answer back. A lock stands, and says that it was a slip.
func (w *Writer) TakeBack(q Question, reason, by, at string) error {
	if err := w.slipped(q.Sight, false, at); err != nil {
		return err
	}
	return w.Write(Event{What: "retake", At: at, Question: &q, Reason: reason, By: by})
}

// slipped notes on the lock of a sight that the answer behind it is not given any more.
func (w *Writer) slipped(sight inspect.Sight, still bool, at string) error {
	if sight == "" || still {
		return nil
	}
	i := slices.IndexFunc(w.Inspection.Seen, func(s inspect.Seen) bool { return s.Sight == sight })
	if i < 0 || !LocksTool(w.Inspection.Seen[i], w.Inspection.Stage) {
		return nil
	}
	return TakenBack(w.ledger, w.Inspection, sight, at)
}

// Skip leaves a question unanswered, for a reason that is kept.
func (w *Writer) Skip(q Question, reason, by, at string) error {
	if strings.TrimSpace(reason) == "" {
		return errors.New("what is left out needs a reason")
	}
	if err := w.slipped(q.Sight, false, at); err != nil {
		return err
	}
	return w.Write(Event{What: "skip", At: at, Question: &q, Reason: reason, By: by})
}

// Ground keeps how the tool was ground: with the inspection, and as a record of its own from which the tool stands as ground.
func (w *Writer) Ground(g inspect.Ground, by, at string) error {
	if err := g.Check(w.Inspection.Tool); err != nil {
		return err
	}
	if err := w.Open(); err != nil {
		return err
	}
	t, err := FindTool(w.ledger, w.Inspection.Tool.ID)
	if err != nil {
		return err
	}
	if t.Standing != StandsWithdrawn && len(t.Locks) == 0 { // those are not ground, whatever is told
		if _, err := RecordGround(w.ledger, t.ID, Ground{
			Order: g.Order, Last: g.Last, Wheel: g.Wheel, Divisions: g.Divisions, EndsFed: g.EndsFed, Offset: g.Offset, Faces: g.Faces, By: by, At: at}); err != nil {
			return err
		}
	}
	return w.Write(Event{What: "ground", At: at, Ground: &g, By: by})
}

// Release lets go of the inspection without closing it; Resume takes it up again where anything was recorded.
func (w *Writer) Release() error {
	if w.draft == nil {
		return nil
	}
	return w.draft.Release()
}

// Close judges the inspection and records what it came to. It returns the record of its summary.
func (w *Writer) Close() (inspect.Judgement, ledger.Record, error) {
	j := inspect.Judge(w.Inspection)
	r, err := w.close(j, "")
	return j, r, err
}

// Discard closes the inspection as given up, for a reason that is kept with what was read.
func (w *Writer) Discard(reason string) (ledger.Record, error) {
	if strings.TrimSpace(reason) == "" {
		return ledger.Record{}, errors.New("giving an inspection up needs a reason")
	}
	return w.close(inspect.Judgement{Stage: w.Inspection.Stage, Verdict: inspect.NotJudged}, reason)
}

func (w *Writer) close(j inspect.Judgement, discarded string) (ledger.Record, error) {
	if err := w.Open(); err != nil {
		return ledger.Record{}, err
	}
	entries, err := Close(w.Draft, w.events, j, Stamp(w.now()), discarded)
	if err != nil {
		return ledger.Record{}, err
	}
	records, err := w.draft.Close(entries...)
	if err != nil {
		return ledger.Record{}, err
	}
	return records[1], nil
}
