package record

import (
	"encoding/json"
	"fmt"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// Event is one line of a draft: one thing that happened in an inspection.
type Event struct {
	What       string              `json:"what"`                 // begun, reading, sweep, seen, ground, retake, skip
	At         string              `json:"at,omitempty"`         // a reading carries its own
	Inspection *inspect.Inspection `json:"inspection,omitempty"` // begun
	Plan       json.RawMessage     `json:"plan,omitempty"`       // begun: what is asked, for who asks
	Reading    *inspect.Reading    `json:"reading,omitempty"`
	Sweep      *Sweep              `json:"sweep,omitempty"`
	Seen       *inspect.Seen       `json:"seen,omitempty"`
	Ground     *inspect.Ground     `json:"ground,omitempty"`
	Question   *Question           `json:"question,omitempty"` // retake, skip
	Reason     string              `json:"reason,omitempty"`   // skip
	By         string              `json:"by,omitempty"`       // who answered, where it is known
}

// Question is one thing asked of the person at the bench: something to look for, or a reading.
type Question struct {
	Sight  inspect.Sight `json:"sight,omitempty"`  // what to look for; empty for a reading
	Key    inspect.Key   `json:"key"`              // which reading
	Ground bool          `json:"ground,omitempty"` // how the tool was ground
}

// Skipped is a question that was not answered, and why.
type Skipped struct {
	Question Question `json:"question"`
	Reason   string   `json:"reason"`
}

// Sweep is a trace of a tool that was turned by hand under a streaming gauge. What it came to stands in the readings
// that follow it; the trace is kept so that they can be worked out again.
type Sweep struct {
	Of         inspect.Key   `json:"of"` // the first reading worked out from it
	Gauge      string        `json:"gauge"`
	Unit       length.Unit   `json:"unit"` // that the gauge showed
	Resolution length.Length `json:"resolution"`
	Backward   bool          `json:"backward"` // how the tool was turned; it began on flute 1
	Trace      string        `json:"trace_mm"` // every value in order, exactly, in millimetres, plus is high, spaces between
}

// Opened is the body of the record that begins an inspection: the first event of its draft. Only what names the
// inspection is read here.
type Opened struct {
	Inspection inspect.Inspection
	locks      inspect.Seen // in the draft, which is still open, what locks the tool; of the body nothing
	lockedAt   string       // when that was seen
}

// Taken is the body of the record that holds a whole draft.
type Taken struct {
	ID     string            `json:"id"`
	Events []json.RawMessage `json:"events"`
}

// Draft is an inspection as its events so far leave it: what was answered again has replaced the answer before, and
// what was taken back is gone.
type Draft struct {
	Inspection inspect.Inspection
	Skipped    []Skipped
	Opened     string // when
	Traced     int    // bytes of traces
	Told       bool   // how the tool was ground was told
	begun      bool
	lockedAt   string // when what locks the tool was seen last
}

// ReadEvent reads a line of a draft.
func ReadEvent(line []byte) (e Event, err error) {
	err = json.Unmarshal(line, &e)
	return e, err
}

// check returns why an event cannot come in a draft, begun or not, or nil.
func (e *Event) check(begun bool) error {
	if (e.What == "begun") == begun {
		return fmt.Errorf("event %q: a draft begins once, with what is inspected", e.What)
	}
	var there bool
	switch e.What {
	case "begun":
		there = e.Inspection != nil
	case "reading":
		there = e.Reading != nil
	case "sweep":
		there = e.Sweep != nil
	case "seen":
		there = e.Seen != nil
	case "ground":
		there = e.Ground != nil
	case "retake", "skip":
		there = e.Question != nil
	}
	if !there {
		return fmt.Errorf("event %q is not known to this version, or has nothing in it", e.What)
	}
	return nil
}

// Take makes an event part of the inspection. Live answers and those read back come through here alike.
func (d *Draft) Take(e Event) error {
	if err := e.check(d.begun); err != nil {
		return err
	}
	switch e.What {
	case "begun":
		d.Inspection, d.Opened, d.begun = *e.Inspection, e.At, true
	case "reading":
		d.forget(Question{Key: e.Reading.Key()})
		d.Inspection.Readings = append(d.Inspection.Readings, *e.Reading)
	case "sweep":
		d.Traced += len(e.Sweep.Trace)
	case "seen":
		d.forget(Question{Sight: e.Seen.Sight})
		if d.Inspection.Seen = append(d.Inspection.Seen, *e.Seen); LocksTool(*e.Seen, d.Inspection.Stage) {
			d.lockedAt = e.At
		}
	case "ground":
		d.Inspection.TellGround(*e.Ground)
		d.Told = true
	case "retake":
		d.forget(*e.Question)
	case "skip":
		d.forget(*e.Question)
		d.Skipped = append(d.Skipped, Skipped{*e.Question, e.Reason})
	}
	return nil
}

// forget takes back whatever was said to a question.
func (d *Draft) forget(q Question) {
	if q.Ground {
		d.Told = false
	}
	if q == (Question{Key: q.Key}) {
		d.Inspection.Readings = slices.DeleteFunc(d.Inspection.Readings, func(r inspect.Reading) bool { return r.Flute == q.Key.Flute && r.Key() == q.Key })
	}
	d.Inspection.Seen = slices.DeleteFunc(d.Inspection.Seen, func(s inspect.Seen) bool { return q.Sight != "" && s.Sight == q.Sight })
	d.Skipped = slices.DeleteFunc(d.Skipped, func(k Skipped) bool { return k.Question == q })
}

// Fold returns what a readings record comes to.
func (r Taken) Fold() (Draft, error) {
	var d Draft
	for i, line := range r.Events {
		var e Event
		err := unmarshal(line, &e)
		if err == nil {
			err = d.Take(e)
		}
		if err != nil {
			return Draft{}, fmt.Errorf("readings of %s, event %d: %w", r.ID, i+1, err)
		}
	}
	return d, nil
}

// folds says whether the body of a readings record is spelled as a writer does, and can be folded: Fold says of any other what is
// wrong with it.
func folds(body []byte) bool {
	var t struct {
		ID     string  `json:"id"`
		Events []Event `json:"events"`
	}
	if !ledger.IsCompactJSON(body) || !plain(string(body), &t) {
		return false
	}
	for i := range t.Events {
		if t.Events[i].check(i > 0) != nil {
			return false
		}
	}
	return true
}

// Locks returns what was seen that locks the tool: a crack at any stage, a burn between or after; empty for nothing.
func Locks(in inspect.Inspection) inspect.Seen {
	for _, s := range in.Seen {
		if LocksTool(s, in.Stage) {
			return s
		}
	}
	return inspect.Seen{}
}
