package ledger

import (
	"cmp"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
)

// History gives a subject's records of all benches, newest first, in the order of Compare. It follows the pointers from record to record, so it costs
// as much as the subject has records, however many the ledger holds. Where a pointer leads nowhere, or
// lines of a bench are known to be damaged, it reads that bench's whole chain instead. After the records
// comes an error: a DamageError when lines could not be read, or what kept it from reading on; none when
// all is well.
func (l *Ledger) History(subject string) iter.Seq2[Record, error] {
	return func(yield func(Record, error) bool) {
		trails, err := l.trails(subject)
		if err != nil {
			yield(Record{}, fmt.Errorf("history of %q: %w", subject, err))
			return
		}
		var damage []Damage
		for {
			t := newest(trails)
			if t == nil {
				break
			}
			if !yield(t.c.record(t.line), nil) {
				return
			}
			if err := t.step(); err != nil {
				yield(Record{}, fmt.Errorf("history of %q: %w", subject, err))
				return
			}
		}
		for _, t := range trails {
			damage = append(damage, t.damage...)
		}
		if len(damage) > 0 {
			yield(Record{}, &DamageError{damage})
		}
	}
}

// Latest returns a subject's newest record of a kind, and whether there is one.
func (l *Ledger) Latest(subject, kind string) (Record, bool, error) {
	var damaged *DamageError
	for r, err := range l.History(subject) {
		switch {
		case errors.As(err, &damaged):
		case err != nil:
			return Record{}, false, err
		case r.Kind == kind:
			return r, true, nil
		}
	}
	if damaged != nil {
		return Record{}, false, damaged
	}
	return Record{}, false, nil
}

// Subjects returns the subjects of all benches that begin with prefix, sorted.
func (l *Ledger) Subjects(prefix string) ([]string, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	chains, err := l.view()
	if err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	var subjects []string
	for _, c := range chains {
		subjects = append(subjects, c.heads.subjects(prefix)...)
	}
	slices.SortFunc(subjects, strings.Compare)
	return slices.Compact(subjects), nil
}

// Unfinished returns the records that opened a draft which no record has closed: the drafts still open,
// and those that were thrown away. Where records cannot be read it gives the others and a DamageError.
func (l *Ledger) Unfinished() ([]Record, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	chains, err := l.view()
	if err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	var records []Record
	var damage []Damage
	for _, c := range chains {
		for _, at := range c.heads.open {
			line, err := readLine(c.fsys, c.dir, at)
			if err != nil {
				damage = append(damage, Damage{c.segmentFile(at.Segment), 0, err.Error()})
				continue
			}
			records = append(records, c.record(line))
		}
	}
	slices.SortFunc(records, Compare)
	if len(damage) > 0 {
		return records, &DamageError{damage}
	}
	return records, nil
}

// trail is the way back through one subject's records in one bench.
type trail struct {
	c       chain
	subject string
	line    line // the record reached
	end     bool // there is none
	scanned bool // the places come from the whole chain
	places  []position
	damage  []Damage
}

// trails starts a trail in every bench.
func (l *Ledger) trails(subject string) ([]*trail, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	chains, err := l.view()
	if err != nil {
		return nil, err
	}
	var trails []*trail
	for _, c := range chains {
		t := &trail{c: *c, subject: subject}
		t.line.seq = c.tail.seq + 1
		if at, ok := c.heads.last(subject); ok {
			t.line.Earlier = &at
		}
		if c.heads.holes || c.bad { // any of them may have been the subject's
			if err := t.scan(); err != nil {
				return nil, err
			}
		}
		if err := t.step(); err != nil {
			return nil, err
		}
		trails = append(trails, t)
	}
	return trails, nil
}

// newest returns the trail whose record is the newest, nil when all have ended.
func newest(trails []*trail) *trail {
	var best *trail
	for _, t := range trails {
		if !t.end && (best == nil || compareLines(t, best) > 0) {
			best = t
		}
	}
	return best
}

func compareLines(a, b *trail) int {
	return cmp.Or(cmp.Compare(a.line.counter, b.line.counter), strings.Compare(a.c.bench, b.c.bench))
}

// step goes on to the record before.
func (t *trail) step() error {
	if !t.scanned {
		if t.line.Earlier == nil {
			t.end = true
			return nil
		}
		l, err := readLine(t.c.fsys, t.c.dir, *t.line.Earlier)
		if err == nil && l.Subject == t.subject && l.seq < t.line.seq {
			t.line = l
			return nil
		}
		if err := t.scan(); err != nil {
			return err
		}
	}
	if len(t.places) == 0 {
		t.end = true
		return nil
	}
	last := len(t.places) - 1
	l, err := readLine(t.c.fsys, t.c.dir, t.places[last])
	t.line, t.places = l, t.places[:last]
	return err
}

// scan finds the places of the records before the one reached by reading the whole chain.
func (t *trail) scan() error {
	t.scanned = true
	return t.c.walk(0, func(l line, err error) error {
		switch {
		case err != nil:
			t.damage = append(t.damage, t.c.damage(l, err))
		case l.Subject == t.subject && l.seq < t.line.seq:
			t.places = append(t.places, l.at)
		}
		return nil
	})
}
