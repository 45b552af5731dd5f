package page

import (
	"fmt"
	"io"
	"sync"
	"time"
)

// teller tells on the recorder's own terminal what happens at the page. Strangers cannot flood it: of what they cause it
// tells so many lines a minute, and then how many more there were.
type teller struct {
	to  io.Writer
	now func() time.Time

	mu     sync.Mutex
	minute time.Time
	told   int
	more   int
}

// mostTold lines a minute.
const mostTold = 20

func newTeller(to io.Writer, now func() time.Time) *teller {
	if to == nil {
		to = io.Discard
	}
	return &teller{to: to, now: now}
}

// say tells something that others may cause as often as they like.
func (t *teller) say(format string, args ...any) { t.tell(false, format, args...) }

// must tells something whatever was told before.
func (t *teller) must(format string, args ...any) { t.tell(true, format, args...) }

func (t *teller) tell(must bool, format string, args ...any) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if now := t.now(); now.Sub(t.minute) >= time.Minute {
		if t.more > 0 {
			fmt.Fprintf(t.to, "flutelog: %d more of that\n", t.more)
		}
		t.minute, t.told, t.more = now, 0, 0
	}
	if !must {
		if t.told++; t.told > mostTold {
			t.more++
			return
		}
	}
	fmt.Fprintf(t.to, "flutelog: "+format+"\n", args...)
}
