package looktest

import (
	"sync/atomic"
	"time"
)

// Clock is a clock that a test turns.
type Clock struct{ turned atomic.Int64 }

// Now is the time by the clock.
func (c *Clock) Now() time.Time { return time.Now().Add(time.Duration(c.turned.Load())) }

// Turn turns it on.
func (c *Clock) Turn(d time.Duration) { c.turned.Add(int64(d)) }
