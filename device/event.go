package device

import (
	"fmt"
	"time"
)

// EventKind says what an Event is about.
type EventKind string

const (
	Silence        EventKind = "silence"      // nothing has come for a while
	Disconnected   EventKind = "disconnected" // the line went away; a frame in progress is dropped
	StillAway      EventKind = "still away"   // reopening failed in a new way
	Reconnected    EventKind = "reconnected"  // the line is back; Take waits for Confirm
	Rejected       EventKind = "refused"      // a frame was refused while nobody waited for it
	Duplicate      EventKind = "duplicate"    // the button bounced: an identical frame was dropped
	LateAnswer     EventKind = "late answer"  // an answer came when nobody waited for it
	Dropped        EventKind = "dropped"      // presses not taken yet were dropped
	ResolutionSeen EventKind = "resolution"   // the resolution is taken from the decimals seen
)

// eventsApart is how far apart two events of one kind are told, so that a flood of bytes does not become a
// flood of messages; those between are counted.
const eventsApart = time.Second

// Event is something a person at the gauge should see. It is never a reading.
type Event struct {
	Kind  EventKind
	At    time.Time
	Count int    // events of this kind since the last one told, this one included
	Text  string // in plain words
	Err   error  // the cause, for Disconnected, StillAway and Rejected
}

// String returns the event in one line.
func (e Event) String() string {
	if e.Count > 1 {
		return fmt.Sprintf("%s (%d times)", e.Text, e.Count)
	}
	return e.Text
}

// teller hands events on; of those that a flood of bytes can bring about, one of a kind in eventsApart.
type teller struct {
	tell    func(Event)
	last    map[EventKind]time.Time
	waiting map[EventKind]int
}

func newTeller(tell func(Event)) *teller {
	if tell == nil {
		tell = func(Event) {}
	}
	return &teller{tell: tell, last: map[EventKind]time.Time{}, waiting: map[EventKind]int{}}
}

func (t *teller) event(e Event) {
	t.waiting[e.Kind]++
	switch e.Kind {
	case Rejected, Duplicate, LateAnswer, Dropped:
		if last, told := t.last[e.Kind]; told && e.At.Sub(last) < eventsApart {
			return
		}
	}
	e.Count = t.waiting[e.Kind]
	t.last[e.Kind], t.waiting[e.Kind] = e.At, 0
	t.tell(e)
}
