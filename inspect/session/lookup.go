package session

import (
	"encoding/json"
	"errors"
	"fmt"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// Closed is an inspection as the ledger holds it.
type Closed struct {
	Summary
	Record ledger.Record // of the summary
}

// ErrNoInspection says that the ledger holds no closed inspection of an id.
var ErrNoInspection = errors.New("no such closed inspection in the ledger")

// Inspections returns a tool's closed inspections, newest first, most at the most; 0 is all. What can be read
// of a damaged ledger comes with the DamageError.
func Inspections(l *ledger.Ledger, tool string, most int) ([]Closed, error) {
	var all []Closed
	for r, err := range l.History(ToolSubject(tool)) {
		if err != nil {
			return all, err
		}
		if r.Kind != KindSummary {
			continue
		}
		c := Closed{Record: r}
		if err := json.Unmarshal(r.Body, &c.Summary); err != nil {
			return all, fmt.Errorf("record %d of bench %s: %w", r.Seq, r.Bench, err)
		}
		if all = append(all, c); len(all) == most {
			break
		}
	}
	return all, nil
}

// known returns what earlier inspections of a tool leave to one at a stage: the diameter that was last read of it, nil
// when none was, and what those of the same regrind came to. What cannot be read of a damaged ledger is passed over: it
// must not keep an inspection from beginning.
func known(l *ledger.Ledger, tool string, stage inspect.Stage) (last *length.Length, r *inspect.Regrind) {
	all, _ := Inspections(l, tool, 0)
	var earlier []inspect.Judged
	for _, c := range all {
		if c.Discarded != "" {
			continue
		}
		if d := c.Judgement.Figure(inspect.Diameter); d != nil && last == nil {
			l := d.Length()
			last = &l
		}
		earlier = append(earlier, inspect.Judged{Inspection: c.Inspection, Judgement: c.Judgement})
	}
	return last, inspect.RegrindOf(earlier, stage)
}

// Find returns a closed inspection with its readings. Where merged ledgers hold several of the id it is
// the newest.
func Find(l *ledger.Ledger, id string) (Closed, error) {
	tool, _ := splitID(id)
	var found *Closed
	var readings []byte
	for r, err := range l.History(ToolSubject(tool)) {
		if err != nil {
			return Closed{}, fmt.Errorf("inspection %q: %w", id, err)
		}
		switch r.Kind {
		case KindSummary:
			c := Closed{Record: r}
			if err := json.Unmarshal(r.Body, &c.Summary); err != nil {
				return Closed{}, fmt.Errorf("record %d of bench %s: %w", r.Seq, r.Bench, err)
			}
			if found == nil && c.Inspection.ID == id {
				found = &c
			}
		case KindReadings:
			if found != nil && r.Bench == found.Record.Bench {
				readings = r.Body
			}
		}
		if readings != nil {
			break
		}
	}
	if found == nil {
		return Closed{}, fmt.Errorf("inspection %q: %w", id, ErrNoInspection)
	}
	return *found, found.read(readings)
}

// read puts the readings back into the inspection.
func (c *Closed) read(body []byte) error {
	var r Readings
	if err := json.Unmarshal(body, &r); err != nil {
		return fmt.Errorf("readings of %s: %w", c.Inspection.ID, err)
	}
	in, err := r.Fold()
	if err != nil {
		return err
	}
	c.Inspection = in
	return nil
}

// Earlier returns the inspections of the same regrind that came before one: back to the last inspection
// before a grind, newest first.
func Earlier(all []Closed, c Closed) []Closed {
	var earlier []Closed
	after := false
	for _, e := range all {
		if e.Inspection.ID == c.Inspection.ID && e.Record.Bench == c.Record.Bench {
			after = true
			continue
		}
		if !after || e.Discarded != "" {
			continue
		}
		if c.Inspection.Stage == inspect.Before || e.Inspection.Stage == inspect.After && c.Inspection.Stage != inspect.After {
			break
		}
		earlier = append(earlier, e)
		if e.Inspection.Stage == inspect.Before {
			break
		}
	}
	return earlier
}
