package ledger

import "time"

// Time is what the bench's clocks said when a record was made. Order comes from the sequence and the
// hashes alone: the wall clock of a small board may be unset, step back or forward.
type Time struct {
	UTC          time.Time     // wall clock, whole microseconds
	SinceBoot    time.Duration // since the board started, whole microseconds; 0 when not known
	Boot         string        // names that start of the board; empty when not known
	Synchronised bool          // the wall clock was held to a reference
}

// stampLayout is UTC with six decimals, always: one spelling for one time.
const stampLayout = "2006-01-02T15:04:05.000000Z"

func (t Time) rounded() Time {
	t.UTC = t.UTC.UTC().Truncate(time.Microsecond)
	t.SinceBoot = t.SinceBoot.Truncate(time.Microsecond)
	return t
}

// clockSet is the body of a clock record: the wall clock has become synchronised since the board started.
// Shift is how far it stood behind a moment before (negative: ahead), so that the records of this start
// made before can be dated.
type clockSet struct {
	ShiftMicroseconds int64 `json:"shift_us"`
}

// becameSynchronised says whether the wall clock was set to a reference between two records of one start
// of the board, and by how much it moved.
func becameSynchronised(before, now Time) (clockSet, bool) {
	if before.Synchronised || !now.Synchronised || now.Boot == "" || before.Boot != now.Boot {
		return clockSet{}, false
	}
	shift := now.UTC.UnixMicro() - before.UTC.UnixMicro() - (now.SinceBoot - before.SinceBoot).Microseconds()
	return clockSet{shift}, true
}
