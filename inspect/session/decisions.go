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
	"flutelog/inspect/words"
)

// Kinds of the records that follow an inspection after it is closed: nothing in it is changed.
const (
	KindDecision   = "decision"
	KindCorrection = "correction"
)

// Ruling is what a person decides about a tool after its inspection.
type Ruling string

const (
	Released   Ruling = "release"    // the inspector signs what the verdict says
	Concession Ruling = "concession" // released although it does not conform, for a reason
	Withdrawn  Ruling = "withdraw"
)

// Words says what a ruling means to the person who makes it.
func (r Ruling) Words() string {
	switch r {
	case Released:
		return "release: it conforms, and I sign for it"
	case Concession:
		return "concession: released although it does not conform"
	case Withdrawn:
		return "withdraw: out of use for good"
	}
	return string(r)
}

// Decision is a ruling with who and why.
type Decision struct {
	Inspection string `json:"inspection"`
	Ruling     Ruling `json:"ruling"`
	By         string `json:"by"`
	Why        string `json:"why,omitempty"`
	At         string `json:"at"`
}

// Correction is a reading of a closed inspection put right, with what the inspection comes to then. The
// inspection itself stays as it was closed.
type Correction struct {
	Inspection string            `json:"inspection"`
	Reading    inspect.Reading   `json:"reading"`
	By         string            `json:"by"`
	Why        string            `json:"why"`
	At         string            `json:"at"`
	Judgement  inspect.Judgement `json:"judgement"`
}

// Standing is how an inspection stands: as it was closed, corrected, and ruled on since.
type Standing struct {
	Closed
	Corrections []Correction // oldest first
	Decision    *Decision    // the newest
}

// Judgement is the newest: that of the last correction, or the one it was closed with.
func (s Standing) Judgement() inspect.Judgement {
	if n := len(s.Corrections); n > 0 {
		return s.Corrections[n-1].Judgement
	}
	return s.Closed.Judgement
}

// Settled says whether nothing is left to decide: released by verdict or concession, or withdrawn.
func (s Standing) Settled() bool {
	return s.Decision != nil || s.Judgement().Verdict == inspect.Accept
}

// String says how the inspection stands in words.
func (s Standing) String() string {
	if s.Decision == nil {
		return words.Headline(s.Inspection, s.Judgement(), s.Inspection.Basis.Unit)
	}
	words := fmt.Sprintf("%s by %s", s.Decision.Ruling, s.Decision.By)
	if s.Decision.Why != "" {
		words += ": " + s.Decision.Why
	}
	return words
}

// StandingOf returns how a closed inspection stands.
func StandingOf(l *ledger.Ledger, id string) (Standing, error) {
	c, err := Find(l, id)
	if err != nil {
		return Standing{}, err
	}
	s := Standing{Closed: c}
	for r, err := range l.History(c.Record.Subject) {
		if err != nil {
			return s, err
		}
		if r.Bench == c.Record.Bench && r.Seq == c.Record.Seq {
			break
		}
		if err := s.take(r); err != nil {
			return s, err
		}
	}
	slices.Reverse(s.Corrections)
	for _, correction := range s.Corrections {
		s.Inspection.Correct(correction.Reading)
	}
	return s, nil
}

// take adds a later record of the tool, the newest first.
func (s *Standing) take(r ledger.Record) error {
	switch r.Kind {
	case KindDecision:
		var d Decision
		if err := json.Unmarshal(r.Body, &d); err != nil {
			return fmt.Errorf("record %d of bench %s: %w", r.Seq, r.Bench, err)
		}
		if d.Inspection == s.Inspection.ID && s.Decision == nil {
			s.Decision = &d
		}
	case KindCorrection:
		var c Correction
		if err := json.Unmarshal(r.Body, &c); err != nil {
			return fmt.Errorf("record %d of bench %s: %w", r.Seq, r.Bench, err)
		}
		if c.Inspection == s.Inspection.ID {
			s.Corrections = append(s.Corrections, c)
		}
	}
	return nil
}

// Rulings returns what can be ruled on the inspection.
func (s Standing) Rulings() []Ruling {
	return slices.DeleteFunc([]Ruling{Released, Concession, Withdrawn}, func(r Ruling) bool { return s.allows(r) != nil })
}

// allows returns why a ruling cannot be made, or nil.
func (s Standing) allows(ruling Ruling) error {
	id := s.Inspection.ID
	switch {
	case !slices.Contains([]Ruling{Released, Concession, Withdrawn}, ruling):
		return fmt.Errorf("ruling %q: want release, concession or withdraw", ruling)
	case s.Discarded != "":
		return fmt.Errorf("inspection %q was given up: %s", id, s.Discarded)
	case ruling != Withdrawn && s.Inspection.Stage != inspect.After:
		return fmt.Errorf("inspection %q is from %s: a tool is released by one after it", id, s.Inspection.Stage.Words())
	case ruling == Released && s.Judgement().Verdict != inspect.Accept:
		return fmt.Errorf("inspection %q does not conform (%s): it can be released by concession only", id, words.Headline(s.Inspection, s.Judgement(), s.Inspection.Basis.Unit))
	case ruling == Concession && s.Judgement().Verdict == inspect.Accept:
		return fmt.Errorf("inspection %q conforms: it needs no concession; release it", id)
	}
	return nil
}

// Decide rules on a closed inspection. A release needs the verdict behind it; a concession and a withdrawal
// need a reason. A withdrawn tool is out of use.
func Decide(l *ledger.Ledger, id string, ruling Ruling, by, why string, now time.Time) (ledger.Record, error) {
	s, err := StandingOf(l, id)
	if err != nil {
		return ledger.Record{}, err
	}
	switch {
	case strings.TrimSpace(by) == "":
		return ledger.Record{}, errors.New("who decides must be said")
	case ruling != Released && strings.TrimSpace(why) == "":
		return ledger.Record{}, fmt.Errorf("a %s needs a reason", ruling)
	}
	if err := s.allows(ruling); err != nil {
		return ledger.Record{}, err
	}
	r, err := save(l, KindDecision, ToolSubject(s.Inspection.Tool.ID), Decision{id, ruling, by, why, stamp(now)})
	if err != nil || ruling != Withdrawn {
		return r, err
	}
	tool, err := FindTool(l, s.Inspection.Tool.ID)
	if err != nil {
		return r, err
	}
	tool.Retired = why
	_, err = SaveTool(l, tool)
	return r, err
}

// Correct puts one reading of a closed inspection right and judges anew by what the inspection was judged
// by. The reading must be one that was taken.
func Correct(l *ledger.Ledger, id string, reading inspect.Reading, by, why string, now time.Time) (inspect.Judgement, ledger.Record, error) {
	s, err := StandingOf(l, id)
	if err != nil {
		return inspect.Judgement{}, ledger.Record{}, err
	}
	if strings.TrimSpace(by) == "" || strings.TrimSpace(why) == "" {
		return inspect.Judgement{}, ledger.Record{}, errors.New("a correction needs who and why")
	}
	if err := s.Inspection.Check(reading); err != nil {
		return inspect.Judgement{}, ledger.Record{}, err
	}
	if !s.Inspection.Correct(reading) {
		return inspect.Judgement{}, ledger.Record{}, fmt.Errorf("inspection %q has no reading %s", id, reading.Key())
	}
	c := Correction{Inspection: id, Reading: reading, By: by, Why: why, At: stamp(now), Judgement: inspect.Judge(s.Inspection)}
	r, err := save(l, KindCorrection, ToolSubject(s.Inspection.Tool.ID), c)
	return c.Judgement, r, err
}
