package session

import (
	"fmt"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/record"
)

// mostTraced bounds the traces of one inspection, in bytes, so that the record that holds them all stays within the
// longest line of a ledger.
const mostTraced = 600_000

// Swept takes a sweep and the readings worked out from it, and returns once they are synced. The closing reading of
// the same set is left out: a sweep passes flute 1 in every turn, and takes the drift off.
func (s *Session) Swept(sweep record.Sweep, readings []inspect.Reading) error {
	if s.so.Traced+len(sweep.Trace) > mostTraced {
		return fmt.Errorf("sweep of %d kB: with it the traces of this inspection are more than a record holds; turn fewer times round, or read flute by flute", len(sweep.Trace)/1000)
	}
	if err := s.write(record.Event{What: "sweep", Sweep: &sweep}); err != nil {
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
