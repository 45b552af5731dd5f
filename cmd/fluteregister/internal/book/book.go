// Package book is the register's own ledger: whom it let send, what a person ruled of a fork, and, as a witness, where the
// chain of each bench ended at what time. It is a ledger as a bench's is, and what it holds is on the medium before the
// database is told of it, so that a lost database is made again from the book and the benches.
package book

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"sync"
	"time"

	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/ledger"
	"flutelog/inspect/register"
)

// Kinds of the book's records.
const (
	KindEnrolled = "enrolled" // store.Enrolled; the newest of a token counts
	KindForked   = "forked"   // store.Evidence
	KindRuled    = "ruled"    // Ruled
	KindClosed   = "closed"   // Closed
	KindHeads    = "heads"    // Heads
)

// Ruled is what a person decided of the forks of a bench.
type Ruled struct {
	Bench string    `json:"bench"`
	By    string    `json:"by"`
	Why   string    `json:"why"`
	At    time.Time `json:"at"`
	store.Ruling
}

// Closed says that no more is taken of a bench.
type Closed Ruled

// Heads says where the chains of benches ended: of those that had grown since the record of this kind before. Each is a
// ledger.Head in print.
type Heads struct {
	Heads []string `json:"heads"`
}

// Book is an open book. It may be used by several goroutines, and its folder by several processes.
type Book struct {
	l  *ledger.Ledger
	mu sync.Mutex // held while a witness is recorded
}

// Open opens the book in a folder.
func Open(dir string) (*Book, error) {
	l, err := ledger.Open(dir, ledger.Options{Bench: "register", Holder: "fluteregister"})
	if err != nil {
		return nil, fmt.Errorf("the register's own ledger: %w", err)
	}
	return &Book{l: l}, nil
}

// Head returns the last line of the book in print; "" before the first.
func (b *Book) Head() (string, error) {
	h, err := b.l.Head()
	if err != nil || h.Seq == 0 {
		return "", err
	}
	return h.String(), nil
}

func (b *Book) append(kind, subject string, body any) error {
	text, err := json.Marshal(body)
	if err == nil {
		_, err = b.l.Append(ledger.Entry{Kind: kind, Subject: subject, Body: text})
	}
	if err != nil {
		return fmt.Errorf("the register's own ledger: %w", err)
	}
	return nil
}

// Enrol notes a token, or that one is bound to a bench or ends.
func (b *Book) Enrol(ctx context.Context, s *store.Store, e store.Enrolled) error {
	if err := b.append(KindEnrolled, "token:"+e.Token, e); err != nil {
		return err
	}
	return s.Enrol(ctx, e)
}

// End notes that a token ends, by whom and why.
func (b *Book) End(ctx context.Context, s *store.Store, e store.Enrolled, at time.Time, by, why string) error {
	e.Until, e.EndedBy, e.EndedWhy = at, by, why
	return b.Enrol(ctx, s, e)
}

// Fork notes that a copy of a bench was refused, with the line that differs.
func (b *Book) Fork(ctx context.Context, s *store.Store, bench string, line []byte, address string) (register.Head, error) {
	return s.AddFork(ctx, bench, line, address, func(e store.Evidence) error { return b.append(KindForked, "bench:"+bench, e) })
}

// Rule notes what a person found of the forks of a bench, and returns how many they were and how many wait for their copy.
func (b *Book) Rule(ctx context.Context, s *store.Store, r Ruled) (ruled, waits int, _ error) {
	if err := b.append(KindRuled, "bench:"+r.Bench, r); err != nil {
		return 0, 0, err
	}
	return s.Rule(ctx, r.Bench, r.Ruling, r.By, r.Why, r.At)
}

// Close notes that no more is taken of a bench.
func (b *Book) Close(ctx context.Context, s *store.Store, c Closed) error {
	if err := b.append(KindClosed, "bench:"+c.Bench, c); err != nil {
		return err
	}
	return s.CloseBench(ctx, c.Bench)
}

// Apply tells the database all that the book holds; what it knows already it leaves as it is. What it takes from then on is
// held against the heads that the book has told.
func (b *Book) Apply(ctx context.Context, s *store.Store) error {
	err := b.l.ScanKinds([]string{KindEnrolled, KindForked, KindRuled, KindClosed}, func(r ledger.Record) error {
		switch r.Kind {
		case KindEnrolled:
			var e store.Enrolled
			if err := json.Unmarshal(r.Body, &e); err != nil {
				return err
			}
			return s.Enrol(ctx, e)
		case KindForked:
			var e store.Evidence
			if err := json.Unmarshal(r.Body, &e); err != nil {
				return err
			}
			return s.TellFork(ctx, e)
		case KindRuled:
			var x Ruled
			if err := json.Unmarshal(r.Body, &x); err != nil {
				return err
			}
			if x.Truth == "" { // before that was said, a ruling settled all
				x.Gone = true
			}
			_, _, err := s.Rule(ctx, x.Bench, x.Ruling, x.By, x.Why, x.At)
			return err
		}
		var x Closed
		if err := json.Unmarshal(r.Body, &x); err != nil {
			return err
		}
		return s.CloseBench(ctx, x.Bench)
	})
	if err != nil {
		return fmt.Errorf("the register's own ledger: %w", err)
	}
	return b.Hold(ctx, s)
}

// Hold has what the database takes held against the heads that the book has told.
func (b *Book) Hold(ctx context.Context, s *store.Store) error {
	heads, err := b.Witnessed()
	if err != nil {
		return err
	}
	return s.Hold(ctx, heads)
}

// Witnessed returns all heads that the book has ever told, the oldest first.
func (b *Book) Witnessed() ([]ledger.Head, error) {
	var all []ledger.Head
	err := b.l.ScanKinds([]string{KindHeads}, func(r ledger.Record) error {
		var heads Heads
		if err := json.Unmarshal(r.Body, &heads); err != nil {
			return err
		}
		for _, text := range heads.Heads {
			h, err := ledger.ParseHead(text)
			if err != nil {
				return err
			}
			all = append(all, h)
		}
		return nil
	})
	if err != nil {
		return all, fmt.Errorf("the register's own ledger: %w", err)
	}
	return all, nil
}

// headsAtMost is how many heads one record tells: a line has at most a mebibyte.
const headsAtMost = 2000

// Witness records where the chain of each bench ends, of those that have grown, and returns how many they are.
func (b *Book) Witness(ctx context.Context, s *store.Store) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	told, err := b.Witnessed()
	if err != nil {
		return 0, err
	}
	last := map[string]ledger.Head{}
	for _, h := range told {
		last[h.Bench] = h
	}
	benches, err := s.Benches(ctx)
	if err != nil {
		return 0, err
	}
	var heads []string
	for _, bench := range benches {
		if h := (ledger.Head{Bench: bench.Bench, Seq: bench.Seq, Hash: bench.SHA256}); h.Seq > 0 && h != last[h.Bench] {
			heads = append(heads, h.String())
		}
	}
	for some := range slices.Chunk(heads, headsAtMost) {
		if err := b.append(KindHeads, "", Heads{some}); err != nil {
			return 0, err
		}
	}
	return len(heads), nil
}
