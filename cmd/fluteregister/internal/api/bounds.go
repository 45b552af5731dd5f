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

// patience is how long a body waits for another of the same token that is being taken, or for its turn among all.
const patience = 20 * time.Second

// bodiesAtMost is how many bodies are taken at a time: each may want MostBody of memory, and a connection to the database.
const bodiesAtMost = 12

// bounds keep one bench from taking what all need.
type bounds struct {
	mu    sync.Mutex
	busy  map[string]chan struct{} // by token; holds something while a body is taken
	all   chan struct{}            // holds something for each body that is taken
	spent map[string]*spending     // by bench
}

// spending is what a bench has sent since it had caught up last.
type spending struct {
	since time.Time
	bytes int64
}

func newBounds() bounds {
	return bounds{busy: map[string]chan struct{}{}, all: make(chan struct{}, bodiesAtMost), spent: map[string]*spending{}}
}

// body waits for its turn: one body of a token is taken at a time, and some of all.
func (b *bounds) body(q *question) (done func(), err error) {
	one, err := b.turn(q, b.of(q.who.Token))
	if err != nil {
		return nil, err
	}
	all, err := b.turn(q, b.all)
	if err != nil {
		one()
		return nil, err
	}
	return func() { all(); one() }, nil
}

// stream waits for its turn: one stream of a token is given at a time.
func (b *bounds) stream(q *question) (done func(), err error) {
	return b.turn(q, b.of(q.who.Token+" stream"))
}

// of returns where those wait that must not be at once.
func (b *bounds) of(what string) chan struct{} {
	b.mu.Lock()
	defer b.mu.Unlock()
	turn := b.busy[what]
	if turn == nil {
		turn = make(chan struct{}, 1)
		b.busy[what] = turn
	}
	return turn
}

func (b *bounds) turn(q *question, turn chan struct{}) (done func(), err error) {
	wait := time.NewTimer(patience)
	defer wait.Stop()
	select {
	case turn <- struct{}{}:
		return func() { <-turn }, nil
	case <-q.Done():
		return nil, q.Err()
	case <-wait.C:
	}
	x := refuse(http.StatusTooManyRequests, register.Wait, "the register is busy with others, or with another question of this bench")
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
