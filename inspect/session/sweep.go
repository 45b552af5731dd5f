package session

import (
	"fmt"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

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

// mostTraced bounds the traces of one inspection, in bytes, so that the record that holds them all stays within the
// longest line of a ledger.
const mostTraced = 600_000

// Swept takes a sweep and the readings worked out from it, and returns once they are synced. The closing reading of
// the same set is left out: a sweep passes flute 1 in every turn, and takes the drift off.
func (s *Session) Swept(sweep Sweep, readings []inspect.Reading) error {
	if s.traced+len(sweep.Trace) > mostTraced {
		return fmt.Errorf("sweep of %d kB: with it the traces of this inspection are more than a record holds; turn fewer times round, or read flute by flute", len(sweep.Trace)/1000)
	}
	if err := s.write(Event{What: "sweep", Sweep: &sweep}); err != nil {
		return err
	}
	for _, r := range readings {
		if err := s.Record(r); err != nil {
			return err
		}
	}
	closing := Question{Key: sweep.Of}
	closing.Key.Flute, closing.Key.Repeat, closing.Key.Closing = 1, 0, true
	if !slices.Contains(s.questions, closing) || s.answered[closing] {
		return nil
	}
	return s.Skip(closing, "swept: each turn passed flute 1 again, and drift is taken off")
}
