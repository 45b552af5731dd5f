package ledger

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"path/filepath"
	"slices"
	"strings"
)

// History gives a subject's records of all benches, newest first, in the order of Compare. It follows the
// pointers from record to record, so it costs as much as the subject has records, however many the ledger
// holds. Where a pointer leads nowhere, it reads that bench's whole chain instead. After the records comes
// an error: a DamageError when lines could not be read that are the subject's, or of which that cannot be told; or
// what kept it from reading on; none when all is well. Damage of other subjects is not among it. Among the records are those
// that a register has told of and that no chain here holds. Where kinds are given, the bodies and hashes of other kinds are left out.
func (l *Ledger) History(subject string, kinds ...string) iter.Seq2[Record, error] {
	return func(yield func(Record, error) bool) {
		trails, told, err := l.trails(subject, kinds)
		defer func() {
			for _, t := range trails {
				t.lines.close()
			}
		}()
		var damage []Damage
		if d := new(DamageError); errors.As(err, &d) {
			damage, err = d.Damage, nil
		}
		if err != nil {
			yield(Record{}, fmt.Errorf("history of %q: %w", subject, err))
			return
		}
		for {
			t := newest(trails)
			for ; len(told) > 0 && (t == nil || Compare(told[0], t.c.record(t.line)) > 0); told = told[1:] {
				if !yield(told[0], nil) {
					return
				}
			}
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

// Subjects returns the subjects of all benches that begin with prefix, sorted, those told of from elsewhere among them.
func (l *Ledger) Subjects(prefix string) ([]string, error) {
	chains, err := l.snapshot()
	if err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	var subjects []string
	for _, c := range chains {
		subjects = append(subjects, c.heads.subjects(prefix)...)
	}
	told, err := l.toldSubjects(prefix)
	if err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	subjects = append(subjects, told...)
	slices.SortFunc(subjects, strings.Compare)
	return slices.Compact(subjects), nil
}

// Unfinished returns the records that opened a draft which no record has closed: the drafts still open, of
// this bench and, as of their merging, of others, and those that were thrown away. Where records cannot be
// read it gives the others and a DamageError.
func (l *Ledger) Unfinished() ([]Record, error) {
	chains, err := l.snapshot()
	if err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	var records []Record
	var damage []Damage
	for _, c := range chains {
		for _, at := range c.heads.open {
			line, err := readLine(c.fsys, c.dir, at)
			if err != nil {
				damage = append(damage, Damage{Segment: c.segmentFile(at.Segment), What: fmt.Sprintf("the record at byte %d, which opened a draft: %v", at.Offset, err)})
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

// Gone says whether the draft that a record of this bench opened, and that is not closed, has no file any more.
func (l *Ledger) Gone(opened Record) bool {
	if opened.Bench != l.own || opened.Opens == "" {
		return false
	}
	_, err := readFrom(l.opt.fsys, l.draftPath(opened.Opens), 0, 0)
	return errors.Is(err, fs.ErrNotExist)
}

// trail is the way back through one subject's records in one bench.
type trail struct {
	c       chain
	subject string
	lines   lineReader
	line    line // the record reached
	end     bool // there is none
	scanned bool // the places come from the whole chain
	places  []position
	damage  []Damage
}

// backRead is how many bytes before a record a trail reads with it: those of one inspection stand together.
const backRead = 24 << 10

// trails starts a trail in every bench, to be closed, and returns what was told from elsewhere. A DamageError is of that.
func (l *Ledger) trails(subject string, kinds []string) (trails []*trail, told []Record, err error) {
	chains, err := l.snapshot()
	if err != nil {
		return nil, nil, err
	}
	for _, c := range chains {
		t := &trail{c: c, subject: subject, lines: lineReader{fsys: c.fsys, dir: c.dir, only: kinds, back: backRead}}
		trails = append(trails, t)
		t.line.seq = c.tail.seq + 1
		if at, ok := c.heads.last(subject); ok {
			t.line.Earlier = &at
		}
		for _, at := range c.heads.lost {
			t.damage = append(t.damage, c.damageAt(at))
		}
		for _, d := range c.replaced {
			if d.Subject == subject {
				t.damage = append(t.damage, d)
			}
		}
		if err := t.step(); err != nil {
			return trails, nil, err
		}
	}
	told, err = l.toldOf(subject, chains)
	return trails, told, err
}

// damageAt describes a line that cannot be read.
func (c *chain) damageAt(at position) Damage {
	_, err := readLine(c.fsys, c.dir, at)
	number := 0
	if data, err := readFrom(c.fsys, c.segmentPath(at.Segment), 0, at.Offset); err == nil {
		number = strings.Count(string(data), "\n") + 1
	}
	what := "it was damaged when it was last looked at"
	if err != nil {
		what = err.Error()
	}
	return Damage{Segment: c.segmentFile(at.Segment), Line: number, What: what}
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
		at := *t.line.Earlier
		l, err := t.lines.read(at)
		if err == nil && l.Subject == t.subject && l.seq < t.line.seq {
			t.line = l
			return nil
		}
		if err := t.scan(at, err); err != nil {
			return err
		}
	}
	if len(t.places) == 0 {
		t.end = true
		return nil
	}
	last := len(t.places) - 1
	l, err := t.lines.read(t.places[last])
	t.line, t.places = l, t.places[:last]
	return err
}

// scan finds the places of the records before the one reached by reading the whole chain, since what stands at a
// place where one should cannot be read, or is not one. Of lines that cannot be read it names the one at that
// place, and others before it unless it can be told that they are not the subject's.
func (t *trail) scan(at position, cause error) error {
	t.scanned = true
	known := len(t.damage)
	if cause == nil { // a pointer that leads to another's record
		d := t.c.damageAt(at)
		d.What, d.Subject = "the record behind it in the history is not one of it", t.subject
		t.damage = append(t.damage, d)
	}
	err := t.c.walk(0, func(l line, err error) error {
		switch {
		case err == nil && l.Subject == t.subject && l.seq < t.line.seq:
			t.places = append(t.places, l.at)
		case err != nil && (l.at == at || before(l.at, at) && t.mayOwn(l)):
			d := t.c.damage(l, err)
			if d.Subject = t.subject; !slices.Contains(t.damage, d) {
				t.damage = append(t.damage, d)
			}
		}
		return nil
	})
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: %w", filepath.Base(t.c.dir), err)
	}
	if err == nil && cause != nil && len(t.damage) == known { // its segment ends before that place
		d := t.c.damageAt(at)
		d.Subject = t.subject
		t.damage = append(t.damage, d)
	}
	return err
}

func before(a, b position) bool {
	return a.Segment < b.Segment || a.Segment == b.Segment && a.Offset < b.Offset
}

// mayOwn says whether a line that cannot be read may be the subject's.
func (t *trail) mayOwn(l line) bool {
	if was, ok := repair(l.body); ok {
		return was.Subject == t.subject
	}
	subject := subjectOf(l.body)
	return subject == "" || subject == t.subject
}
