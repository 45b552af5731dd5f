package people

import (
	"fmt"
	"testing"
	"time"
)

// Behind the tries comes a wait, for the one who tried and for nobody else; what was right before it counts as no try.
func TestTries(t *testing.T) {
	now := time.Date(2026, 11, 27, 8, 0, 0, 0, time.UTC)
	tries := NewTries(3, 5*time.Minute, func() time.Time { return now })
	take := func(by string, left int, wait time.Duration) {
		t.Helper()
		if l, w := tries.Take(by); l != left || w != wait {
			t.Errorf("%s has %d left and waits %v, want %d and %v", by, l, w, left, wait)
		}
	}
	take("a", 2, 0)
	tries.Right("a")
	take("a", 2, 0)
	take("a", 1, 0)
	take("a", 0, 0)
	now = now.Add(time.Minute)
	take("a", 0, 4*time.Minute)
	take("b", 2, 0)
	if tries.Left("a") != 0 || tries.Left("b") != 2 || tries.Left("c") != 3 {
		t.Errorf("left are %d, %d, %d", tries.Left("a"), tries.Left("b"), tries.Left("c"))
	}
	now = now.Add(4 * time.Minute)
	take("a", 2, 0)
	for i := range 2 * mostTriers { // who tries one name after the other fills no memory
		tries.Take(fmt.Sprint("name ", i))
	}
	if n := len(tries.by); n > mostTriers {
		t.Errorf("%d triers are remembered", n)
	}
}
