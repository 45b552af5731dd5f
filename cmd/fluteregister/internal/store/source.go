package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"sync"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// querier is a connection, a pool of them or a transaction.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
}

// Source reads what stands from all lines of all benches, or from those of some subjects, as record reads it from a ledger
// that all of them were merged into. Lines of an append that is not here as a whole do not count, as in a ledger.
type Source struct {
	s    *Store
	ctx  context.Context
	q    querier
	mu   *sync.Mutex // held while q is asked: lines are read ahead
	dir  string
	only []string // subjects; nil for all

	again []line // that were read by Again last, in order
}

func (s *Store) source(ctx context.Context, q querier) *Source {
	return &Source{s: s, ctx: ctx, q: q, mu: new(sync.Mutex)}
}

// inOrder has the next lines of a chain read from where the ones before ended. Where the database does not know yet how many lines
// there are it would rather find all that follow, each time, and sort them.
const inOrder = "set local enable_bitmapscan = off"

// Read calls read with all lines as they are at one moment.
func (s *Store) Read(ctx context.Context, read func(*Source) error) error {
	err := pgx.BeginTxFunc(ctx, s.pool, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, inOrder); err != nil {
			return err
		}
		src := s.source(ctx, tx)
		src.dir = s.dir
		return read(src)
	})
	return down(err)
}

// Only returns the source of the lines of some subjects.
func (s *Source) Only(subjects ...string) *Source {
	only := *s
	only.only, only.dir = subjects, ""
	if subjects == nil {
		only.only = []string{}
	}
	return &only
}

// Dir returns the folder for an index of all tools.
func (s *Source) Dir() string { return s.dir }

var errNoBench = errors.New("a register is no bench")

// Head fails: a register is no bench.
func (s *Source) Head() (ledger.Head, error) { return ledger.Head{}, errNoBench }

// ReadDraft fails: no drafts are here.
func (s *Source) ReadDraft(string) (ledger.DraftContent, error) {
	return ledger.DraftContent{}, errNoBench
}

// Unfinished returns none: no drafts are here.
func (s *Source) Unfinished() ([]ledger.Record, error) { return nil, nil }

// rawLine is a line as it is kept.
type rawLine struct {
	Bench   string
	Seq     int64
	Counter int64
	Codec   int16
	Raw     []byte
}

// line is a line that is kept, and what it says.
type line struct {
	rawLine
	record ledger.Record
	wrong  error // why it cannot be read; nil where it can
}

const lineColumns = "line.bench, seq, line.counter, codec, raw"

// ask collects what a query gives.
func ask[T any](s *Source, sql string, args []any, row pgx.RowToFunc[T]) ([]T, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	rows, err := s.q.Query(s.ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, row)
}

// lines reads what a query gives. Each line is proven to be as it was written here, and nowhere behind.
func (s *Source) lines(sql string, args ...any) ([]line, error) {
	kept, err := ask(s, sql, args, pgx.RowToStructByPos[rawLine])
	all := make([]line, len(kept))
	for i, l := range kept {
		if err == nil {
			l.Raw, err = s.s.plain(s.ctx, l.Codec, l.Raw)
		}
		all[i].rawLine = l
		all[i].record, all[i].wrong = ledger.ReadLine(l.Bench, l.Raw)
	}
	return all, err
}

// damage says that the line cannot be read.
func (l line) damage() ledger.Damage {
	return ledger.Damage{Segment: fmt.Sprintf("the register's line %d of bench %s", l.Seq, l.Bench), What: l.wrong.Error()}
}

// ahead begins to do something, and returns what waits for it.
func ahead[T any](do func() T) (wait func() T) {
	done := make(chan T, 1)
	go func() { done <- do() }()
	return sync.OnceValue(func() T { return <-done })
}

// read is what reading lines came to.
type read struct {
	lines []line
	err   error
}

// about reads a subject's lines of all benches, the newest first.
func (s *Source) about(subject string) read {
	lines, err := s.lines("select "+lineColumns+" from line join bench using (bench) where subject = $1 and subject <> '' and seq <= whole order by line.counter desc, bench desc, seq desc", subject)
	if err != nil {
		err = fmt.Errorf("history of %q: %w", subject, err)
	}
	return read{lines, err}
}

// History gives a subject's records of all benches, newest first.
func (s *Source) History(subject string, _ ...string) iter.Seq2[ledger.Record, error] {
	return func(yield func(ledger.Record, error) bool) { s.about(subject).records(yield) }
}

// records gives the lines as records.
func (r read) records(yield func(ledger.Record, error) bool) {
	if r.err != nil {
		yield(ledger.Record{}, r.err)
		return
	}
	var damage []ledger.Damage
	for _, line := range r.lines {
		if line.wrong != nil {
			damage = append(damage, line.damage())
		} else if !yield(line.record, nil) {
			return
		}
	}
	if len(damage) > 0 {
		yield(ledger.Record{}, &ledger.DamageError{Damage: damage})
	}
}

// Latest returns a subject's newest record of a kind, and whether there is one.
func (s *Source) Latest(subject, kind string) (ledger.Record, bool, error) {
	lines, err := s.lines("select "+lineColumns+" from line join bench using (bench) where subject = $1 and subject <> '' and kind = $2 and seq <= whole order by line.counter desc, bench desc, seq desc limit 1", subject, kind)
	if err != nil || len(lines) == 0 {
		return ledger.Record{}, false, err
	}
	r, err := lines[0].read()
	return r, err == nil, err
}

// read returns what the line says, or that it is damaged.
func (l line) read() (ledger.Record, error) {
	if l.wrong != nil {
		return ledger.Record{}, &ledger.DamageError{Damage: []ledger.Damage{l.damage()}}
	}
	return l.record, nil
}

// Again reads a record again that was given before, by its bench and number. It is asked of corrections and rulings one after
// another, more or less in the order of the chain, so that some that follow are read with it.
func (s *Source) Again(r ledger.Record) (ledger.Record, error) {
	find := func() (i int, found bool) {
		i, found = slices.BinarySearchFunc(s.again, int64(r.Seq), func(l line, seq int64) int { return cmp.Compare(l.Seq, seq) })
		return i, found && s.again[i].Bench == r.Bench // all are of one
	}
	i, found := find()
	if !found {
		var err error
		s.again, err = s.lines("select "+lineColumns+" from line where bench = $1 and seq >= $2 and (seq = $2 or kind = any($3)) order by seq limit $4",
			r.Bench, int64(r.Seq), []string{record.KindCorrection, record.KindRuling}, chunk)
		if err != nil {
			return r, err
		}
		if i, found = find(); !found {
			return r, fmt.Errorf("bench %s, number %d: %w", r.Bench, r.Seq, ledger.ErrNoRecord)
		}
	}
	return s.again[i].read()
}

// Subjects returns the subjects of all benches that begin with prefix, sorted.
func (s *Source) Subjects(prefix string) ([]string, error) {
	if s.only == nil {
		return ask(s, "select distinct subject from subject where starts_with(subject, $1) order by subject", []any{prefix}, pgx.RowTo[string])
	}
	return ask(s, "select distinct subject from subject where subject = any($2) and starts_with(subject, $1) order by subject", []any{prefix, s.only}, pgx.RowTo[string])
}

// ScanKinds calls visit with every record of some kinds, nil for all, bench after bench.
func (s *Source) ScanKinds(kinds []string, visit func(ledger.Record) error) error {
	return s.ScanAfter(nil, kinds, visit)
}

// chunk is how many lines are read at a time: visit may ask on the same connection meanwhile.
const chunk = 64

// ScanAfter is ScanKinds of what stands behind a number in the chain of each bench. The next lines are read while visit has
// these.
func (s *Source) ScanAfter(after map[string]uint64, kinds []string, visit func(ledger.Record) error) error {
	benches, args := "select bench from bench where head_seq > 0 order by bench", []any{}
	sql := "select " + lineColumns + " from line where bench = $1 and seq > $2 and seq <= (select whole from bench where bench = $1) and kind <> 'segment'"
	if s.only != nil {
		benches, args = "select distinct bench from subject where subject = any($1) order by bench", []any{s.only}
		sql += " and subject = any($3) and subject <> ''"
	}
	all, err := ask(s, benches, args, pgx.RowTo[string])
	if err != nil {
		return err
	}
	if kinds != nil {
		args = append(args, kinds)
		sql += fmt.Sprintf(" and kind = any($%d)", 2+len(args))
	}
	sql += fmt.Sprintf(" order by seq limit %d", chunk)
	var damage []ledger.Damage
	var next func() read
	defer func() {
		if next != nil {
			next() // nobody asks on the connection any more
		}
	}()
	for _, bench := range all {
		behind := func(seq int64) {
			next = ahead(func() read {
				lines, err := s.lines(sql, append([]any{bench, seq}, args...)...)
				return read{lines, err}
			})
		}
		behind(int64(after[bench]))
		for more := true; more; {
			found := next()
			if found.err != nil {
				return found.err
			}
			if more = len(found.lines) == chunk; more {
				behind(found.lines[chunk-1].Seq)
			}
			for _, line := range found.lines {
				if line.wrong != nil {
					damage = append(damage, line.damage())
				} else if err := visit(line.record); err != nil {
					return err
				}
			}
		}
	}
	if len(damage) > 0 {
		return &ledger.DamageError{Damage: damage}
	}
	return nil
}
