package api

import (
	"net/http"
	"sync"
	"time"

	"flutelog/inspect/register"
)

// dayShare is how many bytes of lines a bench may send in a day once it has caught up: a thousand times what a bench with
// sixty inspections a day records. A bench that was away has the share of each day since.
const dayShare = 64 << 20

// patience is how long a body waits for another of the same token that is being taken.
const patience = 5 * time.Second

// bounds keep one bench from taking what all need.
type bounds struct {
	mu    sync.Mutex
	busy  map[string]chan struct{} // by token; holds something while a body is taken
	spent map[string]*spending     // by bench
}

// spending is what a bench has sent since it had caught up last.
type spending struct {
	since time.Time
	bytes int64
}

func newBounds() bounds {
	return bounds{busy: map[string]chan struct{}{}, spent: map[string]*spending{}}
}

// begin waits for its turn: one body of a token is taken at a time.
func (b *bounds) begin(q *question, token string) (done func(), err error) {
	b.mu.Lock()
	turn := b.busy[token]
	if turn == nil {
		turn = make(chan struct{}, 1)
		b.busy[token] = turn
	}
	b.mu.Unlock()
	wait := time.NewTimer(patience)
	defer wait.Stop()
	select {
	case turn <- struct{}{}:
		return func() { <-turn }, nil
	case <-q.Done():
		return nil, q.Err()
	case <-wait.C:
	}
	x := refuse(http.StatusTooManyRequests, register.Wait, "another body of this bench is being taken")
	x.after = patience
	return nil, x
}

// caughtUp notes that a bench has nothing more to send.
func (b *bounds) caughtUp(bench string, now time.Time) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if s := b.spent[bench]; s == nil || now.Sub(s.since) >= 24*time.Hour {
		b.spent[bench] = &spending{since: now}
	}
}

// spend takes a body from a bench's share. Before a bench has caught up it may send what it has.
func (b *bounds) spend(bench string, bytes int, now time.Time) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	s := b.spent[bench]
	if s == nil {
		return nil
	}
	days := int64(now.Sub(s.since)/(24*time.Hour)) + 1
	if s.bytes+int64(bytes) > days*dayShare {
		x := refuse(http.StatusTooManyRequests, register.Wait, "bench %s has sent %d MiB since %s: more than its share, %d MiB a day; what is at the bench stays there, and is sent later",
			bench, s.bytes>>20, s.since.UTC().Format(time.RFC3339), dayShare>>20)
		x.after = s.since.Add(time.Duration(days) * 24 * time.Hour).Sub(now)
		return x
	}
	s.bytes += int64(bytes)
	return nil
}
