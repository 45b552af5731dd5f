package people

import (
	"sync"
	"time"
)

// Tries counts what was tried and was not right, by who tried: after so many the same one waits.
type Tries struct {
	most int
	wait time.Duration
	now  func() time.Time

	mu sync.Mutex
	by map[string]tried
}

type tried struct {
	wrong int
	last  time.Time
}

// mostTriers are remembered at once.
const mostTriers = 1024

// NewTries returns a counter of most tries, behind which one waits.
func NewTries(most int, wait time.Duration, now func() time.Time) *Tries {
	return &Tries{most: most, wait: wait, now: now, by: map[string]tried{}}
}

// Take uses one try up, before what is tried is looked at, so that tries at the same moment count too. left are those that
// remain behind it; wait is how long there is none: then nothing may be tried.
func (t *Tries) Take(by string) (left int, wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	now := t.now()
	one := t.by[by]
	if one.wrong > 0 && now.Sub(one.last) >= t.wait {
		one = tried{}
	}
	if one.wrong >= t.most {
		return 0, t.wait - now.Sub(one.last)
	}
	if _, known := t.by[by]; !known && len(t.by) >= mostTriers {
		t.forget(now)
	}
	one.wrong++
	one.last = now
	t.by[by] = one
	return t.most - one.wrong, 0
}

// forget makes room: of those that need not wait any more all, else of the one that tried longest ago.
func (t *Tries) forget(now time.Time) {
	oldest := ""
	for by, one := range t.by {
		if now.Sub(one.last) >= t.wait {
			delete(t.by, by)
		} else if oldest == "" || one.last.Before(t.by[oldest].last) {
			oldest = by
		}
	}
	if len(t.by) >= mostTriers {
		delete(t.by, oldest)
	}
}

// Right forgets what was wrong before.
func (t *Tries) Right(by string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.by, by)
}

// Left returns how many tries somebody has.
func (t *Tries) Left(by string) int {
	t.mu.Lock()
	defer t.mu.Unlock()
	one := t.by[by]
	if t.now().Sub(one.last) >= t.wait {
		return t.most
	}
	return max(t.most-one.wrong, 0)
}
