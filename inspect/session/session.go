// Package session is one inspection as a conversation: what to ask next, what was answered, retake, skip,
// stop and resume, and the close. The command line and the bench page both speak through it. An answer is
// acknowledged only once it is synced to the inspection's draft, so that a kill or a power cut loses
// nothing that was acknowledged.
package session

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// Kinds of the records that a session leaves in the ledger, all under the tool's subject.
const (
	KindOpened   = "opened"
	KindReadings = "readings"
	KindSummary  = "summary"
)

// ToolSubject returns the subject that all records of a tool stand under.
func ToolSubject(id string) string { return "tool:" + id }

// Event is one line of a draft: one thing that happened in an inspection.
type Event struct {
	What       string              `json:"what"`                 // begun, reading, seen, retake, skip
	At         string              `json:"at,omitempty"`         // a reading carries its own
	Inspection *inspect.Inspection `json:"inspection,omitempty"` // begun
	Plan       *Plan               `json:"plan,omitempty"`       // begun
	Reading    *inspect.Reading    `json:"reading,omitempty"`
	Sweep      *Sweep              `json:"sweep,omitempty"`
	Seen       *inspect.Seen       `json:"seen,omitempty"`
	Question   *Question           `json:"question,omitempty"` // retake, skip
	Reason     string              `json:"reason,omitempty"`   // skip
}

// Summary is the body of the record that closes an inspection: what it came to and what that rests on.
type Summary struct {
	Figures    Figures            `json:"figures"`
	Inspection inspect.Inspection `json:"inspection"` // without its readings
	Judgement  inspect.Judgement  `json:"judgement"`
	Readings   int                `json:"readings"`
	Hash       string             `json:"readings_sha256"` // of the body of the readings record
	Opened     string             `json:"opened"`
	Closed     string             `json:"closed"`
	Skipped    []Skipped          `json:"skipped,omitempty"`
	Discarded  string             `json:"discarded,omitempty"` // why, when the inspection was given up
}

// Skipped is a question that was not answered, and why.
type Skipped struct {
	Question Question `json:"question"`
	Reason   string   `json:"reason"`
}

// Readings is the body of the record that holds a whole draft.
type Readings struct {
	ID     string            `json:"id"`
	Events []json.RawMessage `json:"events"`
}

// Session is an inspection that is open.
type Session struct {
	inspection inspect.Inspection
	plan       Plan
	questions  []Question
	answered   map[Question]bool
	skipped    []Skipped
	traced     int // bytes of traces so far
	at         int // the question to ask next
	events     []json.RawMessage
	opened     string
	draft      *ledger.Draft
	now        func() time.Time
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000Z") }

// Begin opens an inspection, and tells it the diameter that was last read of its tool. Its id must be set; NextID gives
// one.
func Begin(l *ledger.Ledger, in inspect.Inspection, p Plan, now func() time.Time) (*Session, error) {
	if err := p.Check(in.Tool); err != nil {
		return nil, fmt.Errorf("inspecting %s: %w", in.Tool.ID, err)
	}
	s := &Session{now: now}
	in.LastDiameter, in.Regrind = known(l, in.Tool.ID, in.Stage)
	begun, err := json.Marshal(Event{What: "begun", At: stamp(now()), Inspection: &in, Plan: &p})
	if err != nil {
		return nil, err
	}
	s.draft, err = l.NewDraft(in.ID, ledger.Entry{Kind: KindOpened, Subject: ToolSubject(in.Tool.ID), Body: begun})
	if err != nil {
		return nil, err
	}
	return s, s.take(begun)
}

// Resume opens an inspection that was stopped or cut off. Lost are the lines of its draft that cannot be
// read any more; what was being written when the power went was never acknowledged and is not among them.
func Resume(l *ledger.Ledger, inspection string, now func() time.Time) (s *Session, lost []ledger.Damage, err error) {
	draft, content, err := l.OpenDraft(inspection)
	if err != nil {
		return nil, nil, err
	}
	s = &Session{draft: draft, now: now}
	for i, line := range append([][]byte{content.Opened.Body}, content.Lines...) {
		if err := s.take(line); err != nil {
			draft.Release()
			return nil, nil, fmt.Errorf("resuming %s: line %d of its draft: %w", inspection, i+1, err)
		}
	}
	return s, content.Damage, nil
}

// Open lists the inspections of a ledger that are open, as they began.
func Open(l *ledger.Ledger) ([]inspect.Inspection, error) {
	names, err := l.Drafts()
	if err != nil {
		return nil, err
	}
	var open []inspect.Inspection
	for _, name := range names {
		content, err := l.ReadDraft(name)
		if err != nil {
			return nil, err
		}
		var begun Event
		if err := json.Unmarshal(content.Opened.Body, &begun); err != nil || begun.Inspection == nil {
			return nil, fmt.Errorf("draft %q: it does not say what is inspected", name)
		}
		open = append(open, *begun.Inspection)
	}
	return open, nil
}

// NextID returns the id of a tool's next inspection: the tool's, a point and a running number.
func NextID(l *ledger.Ledger, tool string) (string, error) {
	for r, err := range l.History(ToolSubject(tool)) {
		if err != nil {
			return "", err
		}
		if r.Kind != KindOpened {
			continue
		}
		var begun Event
		if err := json.Unmarshal(r.Body, &begun); err != nil || begun.Inspection == nil {
			return "", fmt.Errorf("record %d of bench %s: it does not say what is inspected", r.Seq, r.Bench)
		}
		_, n := splitID(begun.Inspection.ID)
		return fmt.Sprintf("%s.%d", tool, n+1), nil
	}
	return tool + ".1", nil
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

// write syncs an event to the draft and then takes it.
func (s *Session) write(e Event) error {
	if e.Reading == nil {
		e.At = stamp(s.now())
	}
	line, err := json.Marshal(e)
	if err != nil {
		return err
	}
	if err := s.draft.Append(line); err != nil {
		return err
	}
	return s.take(line)
}

// take makes a line of the draft part of what the session knows. Live answers and resumed ones come
// through here alike.
func (s *Session) take(line json.RawMessage) error {
	var e Event
	if err := json.Unmarshal(line, &e); err != nil {
		return err
	}
	if (e.What == "begun") != (s.answered == nil) {
		return fmt.Errorf("event %q: a draft begins once, with what is inspected", e.What)
	}
	s.events = append(s.events, line)
	switch e.What {
	case "begun":
		s.inspection, s.plan, s.opened = *e.Inspection, *e.Plan, e.At
		s.questions = s.plan.Questions(s.inspection.Tool)
		s.answered = map[Question]bool{}
	case "reading":
		s.forget(Question{Key: e.Reading.Key()})
		s.inspection.Readings = append(s.inspection.Readings, *e.Reading)
		s.answer(Question{Key: e.Reading.Key()})
	case "sweep":
		s.traced += len(e.Sweep.Trace)
	case "seen":
		s.forget(Question{Sight: e.Seen.Sight})
		s.inspection.Seen = append(s.inspection.Seen, *e.Seen)
		s.answer(Question{Sight: e.Seen.Sight})
	case "retake":
		s.forget(*e.Question)
		s.at = s.position(*e.Question)
	case "skip":
		s.forget(*e.Question)
		s.skipped = append(s.skipped, Skipped{*e.Question, e.Reason})
		s.answer(*e.Question)
	default:
		return fmt.Errorf("event %q is not known to this version", e.What)
	}
	return nil
}

func (s *Session) position(q Question) int { return max(0, slices.Index(s.questions, q)) }

// answer marks a question as dealt with and moves on to the next that is not.
func (s *Session) answer(q Question) {
	s.answered[q] = true
	if i := slices.Index(s.questions, q); i >= 0 {
		s.at = i + 1
	}
	s.at = s.nextOpen(s.at)
}

func (s *Session) nextOpen(from int) int {
	for i := range s.questions {
		if j := (from + i) % len(s.questions); !s.answered[s.questions[j]] {
			return j
		}
	}
	return len(s.questions)
}

// forget takes back whatever was said to a question.
func (s *Session) forget(q Question) {
	if !s.answered[q] {
		return
	}
	delete(s.answered, q)
	s.inspection.Readings = slices.DeleteFunc(s.inspection.Readings, func(r inspect.Reading) bool { return q.Sight == "" && r.Key() == q.Key })
	s.inspection.Seen = slices.DeleteFunc(s.inspection.Seen, func(seen inspect.Seen) bool { return q.Sight != "" && seen.Sight == q.Sight })
	s.skipped = slices.DeleteFunc(s.skipped, func(k Skipped) bool { return k.Question == q })
}

// Inspection returns the inspection as it stands: what was read so far.
func (s *Session) Inspection() inspect.Inspection {
	in := s.inspection
	in.Readings = slices.Clone(in.Readings)
	in.Seen = slices.Clone(in.Seen)
	return in
}

// Next returns the question to ask; false when everything is answered, or when what was seen stops the job.
func (s *Session) Next() (Question, bool) {
	if s.Stopped() != "" || s.at >= len(s.questions) {
		return Question{}, false
	}
	return s.questions[s.at], true
}

// Stopped returns why nothing more is asked: a crack or burn was seen. "" when nothing stops the job.
func (s *Session) Stopped() string {
	for _, seen := range s.inspection.Seen {
		if seen.Yes && seen.Sight.Locks(s.inspection.Stage) {
			return string(seen.Sight)
		}
	}
	return ""
}

// Progress returns how many questions are dealt with, of how many.
func (s *Session) Progress() (done, of int) {
	for _, q := range s.questions {
		if s.answered[q] {
			done++
		}
	}
	return done, len(s.questions)
}

// Plan returns what the inspection asks for.
func (s *Session) Plan() Plan { return s.plan }

// Record takes a reading, in answer to any question or to none. It returns once the reading is synced; until
// then the reading has not been acknowledged. A reading of the same feature, flute, place and repeat
// replaces the earlier one, which stays in the record.
func (s *Session) Record(r inspect.Reading) error {
	if err := s.inspection.Check(r); err != nil {
		return err
	}
	if r.At == "" {
		r.At = stamp(s.now())
	}
	return s.write(Event{What: "reading", Reading: &r})
}

// See takes the answer to a visual question.
func (s *Session) See(seen inspect.Seen) error {
	if err := seen.Check(s.inspection.Tool); err != nil {
		return err
	}
	return s.write(Event{What: "seen", Seen: &seen})
}

// Skip leaves a question unanswered for a reason, which is kept.
func (s *Session) Skip(q Question, reason string) error {
	if strings.TrimSpace(reason) == "" {
		return errors.New("skipping needs a reason")
	}
	if !slices.Contains(s.questions, q) {
		return errors.New("that was not asked")
	}
	return s.write(Event{What: "skip", Question: &q, Reason: reason})
}

// SkipRest leaves a question unanswered, and with it all of the same feature that have no answer yet.
func (s *Session) SkipRest(q Question, reason string) error {
	for _, other := range slices.Backward(s.questions) { // q itself last: what follows it is asked next
		same := q.Sight == "" && other.Sight == "" && other.Key.Feature == q.Key.Feature
		if same && other != q && !s.answered[other] {
			if err := s.Skip(other, reason); err != nil {
				return err
			}
		}
	}
	return s.Skip(q, reason)
}

// Retake takes back the last answer before the question being asked and asks it again. It returns false
// when nothing has been answered.
func (s *Session) Retake() (Question, bool, error) {
	for i := s.at - 1; i >= 0; i-- {
		if q := s.questions[i]; s.answered[q] {
			return q, true, s.write(Event{What: "retake", Question: &q})
		}
	}
	return Question{}, false, nil
}

// Back goes one question back without taking its answer back; answering replaces it. It returns false at
// the first question.
func (s *Session) Back() bool {
	if s.at == 0 {
		return false
	}
	s.at--
	return true
}

// Keep leaves the answer that stands to the question being asked, and goes on to the next that has none. It returns
// false where there is no answer to keep.
func (s *Session) Keep() bool {
	q, ok := s.Next()
	if !ok || !s.answered[q] {
		return false
	}
	s.at = s.nextOpen(s.at)
	return true
}

// Judge judges the inspection as it stands.
func (s *Session) Judge() inspect.Judgement { return inspect.Judge(s.inspection) }

// Release lets go of the inspection without closing it; Resume takes it up again.
func (s *Session) Release() error { return s.draft.Release() }

// Close judges the inspection and appends its readings and summary to the ledger, and a line to its job's. It
// returns the records of readings and summary.
func (s *Session) Close() (inspect.Judgement, []ledger.Record, error) {
	j := s.Judge()
	records, err := s.close(j, "")
	return j, records, err
}

// Discard closes the inspection as given up, for a reason that is kept with what was read.
func (s *Session) Discard(reason string) ([]ledger.Record, error) {
	if strings.TrimSpace(reason) == "" {
		return nil, errors.New("giving an inspection up needs a reason")
	}
	return s.close(inspect.Judgement{Stage: s.inspection.Stage, Verdict: inspect.NotJudged}, reason)
}

func (s *Session) close(j inspect.Judgement, discarded string) ([]ledger.Record, error) {
	in := s.inspection
	sum := Summary{Judgement: j, Readings: len(in.Readings), Opened: s.opened, Closed: stamp(s.now()), Skipped: s.skipped, Discarded: discarded}
	sum.Figures = newFigures(in, j, sum.Closed)
	sum.Figures.Discarded = discarded != ""
	in.Readings = nil
	sum.Inspection = in
	readings, err := json.Marshal(Readings{ID: in.ID, Events: s.events})
	if err != nil {
		return nil, err
	}
	sum.Hash = fmt.Sprintf("%x", sha256.Sum256(readings))
	summary, err := json.Marshal(sum)
	if err != nil {
		return nil, err
	}
	subject := ToolSubject(in.Tool.ID)
	entries := []ledger.Entry{
		{Kind: KindReadings, Subject: subject, Body: readings},
		{Kind: KindSummary, Subject: subject, Body: summary},
	}
	if in.Job != "" && discarded == "" {
		inspected, err := json.Marshal(Inspected{in.ID, in.Tool.ID, in.Stage, j.Verdict})
		if err != nil {
			return nil, err
		}
		entries = append(entries, ledger.Entry{Kind: KindInspected, Subject: jobSubject(in.Job), Body: inspected})
	}
	records, err := s.draft.Close(entries...)
	if err != nil {
		return nil, err
	}
	return records[:2], nil
}

// Fold returns the readings that a readings record comes to: retakes taken back, answers replaced.
func (r Readings) Fold() (inspect.Inspection, error) {
	s := &Session{}
	for i, line := range r.Events {
		if err := s.take(line); err != nil {
			return inspect.Inspection{}, fmt.Errorf("readings of %s, event %d: %w", r.ID, i+1, err)
		}
	}
	return s.inspection, nil
}
