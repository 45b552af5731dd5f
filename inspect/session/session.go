// Package session is one inspection as a conversation: what to ask next, what was answered, retake, skip,
// stop and resume, and the close. The command line and the bench page both speak through it. An answer is
// acknowledged only once it is synced to the inspection's draft, so that a kill or a power cut loses
// nothing that was acknowledged.
package session

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// Session is an inspection that is open.
type Session struct {
	ledger    *ledger.Ledger
	so        record.Draft // what the events so far come to
	plan      Plan
	questions []Question
	answered  map[Question]bool
	at        int // the question to ask next
	events    []json.RawMessage
	draft     *ledger.Draft
	now       func() time.Time
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000Z") }

// Begin opens an inspection, and tells it the diameter that was last read of its tool. Its id must be set; NextID gives
// one.
func Begin(l *ledger.Ledger, in inspect.Inspection, p Plan, now func() time.Time) (*Session, error) {
	if err := p.Check(in.Tool); err != nil {
		return nil, fmt.Errorf("inspecting %s: %w", in.Tool.ID, err)
	}
	s := &Session{ledger: l, now: now}
	in.LastDiameter, in.Regrind = record.Known(l, in.Tool.ID, in.Stage)
	plan, err := json.Marshal(p)
	if err != nil {
		return nil, err
	}
	begun, err := json.Marshal(record.Event{What: "begun", At: stamp(now()), Inspection: &in, Plan: plan})
	if err != nil {
		return nil, err
	}
	s.draft, err = l.NewDraft(in.ID, ledger.Entry{Kind: record.KindOpened, Subject: record.ToolSubject(in.Tool.ID), Body: begun})
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
	s = &Session{ledger: l, draft: draft, now: now}
	for i, line := range append([][]byte{content.Opened.Body}, content.Lines...) {
		if err := s.take(line); err != nil {
			draft.Release()
			return nil, nil, fmt.Errorf("resuming %s: line %d of its draft: %w", inspection, i+1, err)
		}
	}
	return s, content.Damage, nil
}

// write syncs an event to the draft and then takes it.
func (s *Session) write(e record.Event) error {
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
	e, err := record.ReadEvent(line)
	if err != nil {
		return err
	}
	if err := s.so.Take(e); err != nil {
		return err
	}
	s.events = append(s.events, line)
	switch e.What {
	case "begun":
		if err := json.Unmarshal(e.Plan, &s.plan); err != nil {
			return err
		}
		s.questions = s.plan.Questions(s.so.Inspection.Tool)
		s.answered = map[Question]bool{}
	case "reading":
		s.answer(Question{Key: e.Reading.Key()})
	case "seen":
		s.answer(Question{Sight: e.Seen.Sight})
	case "retake":
		delete(s.answered, Question(*e.Question))
		s.at = s.position(Question(*e.Question))
	case "skip":
		s.answer(Question(*e.Question))
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

// Inspection returns the inspection as it stands: what was read so far.
func (s *Session) Inspection() inspect.Inspection {
	in := s.so.Inspection
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

// Stopped returns why nothing more is asked: what was seen locks the tool. "" when nothing stops the job.
func (s *Session) Stopped() string { return string(record.Locks(s.so.Inspection)) }

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
	if err := s.so.Inspection.Check(r); err != nil {
		return err
	}
	if r.At == "" {
		r.At = stamp(s.now())
	}
	return s.write(record.Event{What: "reading", Reading: &r})
}

// See takes the answer to a visual question.
func (s *Session) See(seen inspect.Seen) error {
	if err := seen.Check(s.so.Inspection.Tool); err != nil {
		return err
	}
	if err := s.slip(Question{Sight: seen.Sight}, seen.Yes); err != nil {
		return err
	}
	if record.LocksTool(seen, s.so.Inspection.Stage) {
		if err := record.LockNow(s.ledger, s.so.Inspection, seen, s.draft.Opened().Ref(), stamp(s.now())); err != nil {
			return err
		}
	}
	return s.write(record.Event{What: "seen", Seen: &seen})
}

// slip notes on the lock that an answer which locked the tool is taken back, unless it is only said again.
func (s *Session) slip(q Question, again bool) error {
	for _, seen := range s.so.Inspection.Seen {
		if seen.Sight == q.Sight && !again && record.LocksTool(seen, s.so.Inspection.Stage) {
			return record.TakenBack(s.ledger, s.so.Inspection, seen.Sight, stamp(s.now()))
		}
	}
	return nil
}

// Skip leaves a question unanswered for a reason, which is kept.
func (s *Session) Skip(q Question, reason string) error {
	if strings.TrimSpace(reason) == "" {
		return errors.New("skipping needs a reason")
	}
	if !slices.Contains(s.questions, q) {
		return errors.New("that was not asked")
	}
	if err := s.slip(q, false); err != nil {
		return err
	}
	return s.write(record.Event{What: "skip", Question: (*record.Question)(&q), Reason: reason})
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
			if err := s.slip(q, false); err != nil {
				return q, true, err
			}
			return q, true, s.write(record.Event{What: "retake", Question: (*record.Question)(&q)})
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
func (s *Session) Judge() inspect.Judgement { return inspect.Judge(s.so.Inspection) }

// Release lets go of the inspection without closing it; Resume takes it up again.
func (s *Session) Release() error { return s.draft.Release() }

// Close judges the inspection and records what it came to. It returns the newest of the records.
func (s *Session) Close() (inspect.Judgement, ledger.Record, error) {
	j := s.Judge()
	r, err := s.close(j, "")
	return j, r, err
}

// Discard closes the inspection as given up, for a reason that is kept with what was read.
func (s *Session) Discard(reason string) (ledger.Record, error) {
	if strings.TrimSpace(reason) == "" {
		return ledger.Record{}, errors.New("giving an inspection up needs a reason")
	}
	return s.close(inspect.Judgement{Stage: s.so.Inspection.Stage, Verdict: inspect.NotJudged}, reason)
}

func (s *Session) close(j inspect.Judgement, discarded string) (ledger.Record, error) {
	entries, err := record.Close(s.so, s.events, j, stamp(s.now()), discarded)
	if err != nil {
		return ledger.Record{}, err
	}
	records, err := s.draft.Close(entries...)
	if err != nil {
		return ledger.Record{}, err
	}
	return records[1], nil
}
