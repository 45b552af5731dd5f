package store

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
)

// toolPrefix begins the subject of a tool's lines.
var toolPrefix = record.ToolSubject("")

// ErrMoved, ErrParted, ErrShut and ErrNone say why a batch is not taken; nothing of it is kept.
var (
	ErrMoved  = errors.New("the batch does not begin behind the last line that is here")
	ErrParted = errors.New("the line that the batch follows is another one here")
	ErrShut   = errors.New("the chain is closed")
	ErrNone   = errors.New("no such bench")
)

// DamagedError says that a line is not as it was written, or does not follow the one before.
type DamagedError struct{ Err error }

func (d *DamagedError) Error() string { return d.Err.Error() }
func (d *DamagedError) Unwrap() error { return d.Err }

// chain is a bench's row.
type chain struct {
	ledger.Tail
	whole uint64 // the last line of the last append that is here as a whole
	state register.State
}

const chainColumns = "bench, head_seq, head_sha256, counter, segment, segment_end, more, whole, state"

func (c *chain) scan(row pgx.Row) error {
	var seq, counter, segment, more, whole int64
	err := row.Scan(&c.Bench, &seq, &c.Hash, &counter, &segment, &c.End, &more, &whole, &c.state)
	c.Seq, c.Counter, c.Segment, c.More, c.whole = uint64(seq), uint64(counter), uint64(segment), uint64(more), uint64(whole)
	return err
}

func (c *chain) head() register.Head {
	return register.Head{Bench: c.Bench, Seq: c.Seq, SHA256: c.Hash, State: c.state}
}

// Take takes the lines of a bench's chain that follow the line after, all or none, and returns where the chain ends once they
// are on the medium, and whether a person ruled in them. The head comes with ErrMoved, ErrParted and ErrShut too.
func (s *Store) Take(ctx context.Context, bench string, after ledger.Head, body []byte) (_ register.Head, ruled bool, _ error) {
	var c chain
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		if err := c.scan(tx.QueryRow(ctx, "select "+chainColumns+" from bench where bench = $1 for update", bench)); err != nil {
			return noBench(err)
		}
		if err := follows(ctx, tx, &c, after); err != nil {
			return err
		}
		var err error
		ruled, err = c.take(ctx, tx, body, s.Now(), s.missingOf(bench, c.Seq))
		return err
	})
	var parted *partedError
	if errors.As(err, &parted) {
		h := c.head()
		h.Seq, h.SHA256 = parted.Seq, parted.Hash
		return h, false, err
	}
	if err != nil {
		return c.head(), false, down(err)
	}
	s.came(bench, c.Seq)
	s.catchesUp(bench, 0, c.Seq)
	s.dirty()
	return c.head(), ruled, nil
}

func noBench(err error) error {
	if errors.Is(err, pgx.ErrNoRows) {
		return ErrNone
	}
	return err
}

// follows says why a batch behind a line cannot be taken now, or nil.
func follows(ctx context.Context, tx pgx.Tx, c *chain, after ledger.Head) error {
	ours := c.Hash
	if after.Seq < c.Seq {
		var err error
		if ours, err = hashAt(ctx, tx, c.Bench, after.Seq); err != nil {
			return err
		}
	}
	switch {
	case c.state == register.Closed:
		return ErrShut
	case after.Seq <= c.Seq && after.Hash != ours:
		return ErrParted
	case after.Seq != c.Seq:
		return ErrMoved
	}
	return nil
}

// hashAt returns the hash of a line; "" for number 0 and where there is none.
func hashAt(ctx context.Context, q querier, bench string, seq uint64) (string, error) {
	var hash []byte
	err := q.QueryRow(ctx, "select sha256 from line where bench = $1 and seq = $2", bench, int64(seq)).Scan(&hash)
	if errors.Is(err, pgx.ErrNoRows) {
		return "", nil
	}
	return hex.EncodeToString(hash), err
}

// take checks lines one by one, those that are missing against how they were told before, and stores them, those that are checked
// while the next are.
func (c *chain) take(ctx context.Context, tx pgx.Tx, body []byte, now time.Time, missing []witnessed) (ruled bool, _ error) {
	tail, whole := c.Tail, c.whole
	continues := ""
	var subjects []string // of the lines, and
	var seqs []int64      // their numbers
	rest := body
	var wrong error // the database says of it only that no more rows came
	next := func() (row []any, _ error) {
		text := rest
		if i := bytes.IndexByte(rest, '\n'); i >= 0 {
			text = rest[:i+1]
		}
		if rest = rest[len(text):]; len(text) == 0 {
			return nil, nil
		}
		r, err := tail.Take(text)
		if err != nil {
			return nil, &DamagedError{err}
		}
		if told := toldAt(missing, r.Seq); told != "" && told != r.Hash {
			return nil, &partedError{ledger.Head{Bench: c.Bench, Seq: r.Seq, Hash: told}}
		}
		hash, err := hex.DecodeString(r.Hash)
		if err != nil {
			return nil, err
		}
		if tail.More == 0 {
			whole = r.Seq
		}
		ruled = ruled || r.Kind == record.KindRuling
		if r.Kind == register.KindContinues {
			continues = shown(continued(r).Bench)
		}
		if r.Subject != "" {
			subjects, seqs = append(subjects, r.Subject), append(seqs, int64(r.Seq))
		}
		return []any{c.Bench, int64(r.Seq), int64(r.Counter), r.Kind, r.Subject, r.Time.UTC, now, hash, text}, nil
	}
	columns := []string{"bench", "seq", "counter", "kind", "subject", "utc", "arrived", "sha256", "raw"}
	_, err := tx.CopyFrom(ctx, pgx.Identifier{"line"}, columns, pgx.CopyFromFunc(func() (row []any, _ error) {
		row, wrong = next()
		return row, wrong
	}))
	if wrong != nil {
		return false, wrong
	} else if err != nil {
		return false, fmt.Errorf("lines: %w", err)
	}
	// What came of an append before its rest is among the lines already.
	b := &pgx.Batch{}
	b.Queue(`insert into subject (bench, subject, seq, settled)
		select $1, subject, max(seq), case when starts_with(subject, $4) then 0 else max(seq) end from (
			select subject, seq from line where bench = $1 and seq > $2 and seq <= $3 and subject <> ''
			union all select subject, seq from unnest($5::text[], $6::bigint[]) as here (subject, seq) where seq <= $7) as whole group by subject order by subject
		on conflict (bench, subject) do update set seq = excluded.seq, settled = case when starts_with(excluded.subject, $4) then subject.settled else excluded.seq end`,
		c.Bench, int64(c.whole), int64(min(c.Seq, whole)), toolPrefix, subjects, seqs, int64(whole))
	b.Queue(`update bench set head_seq = $2, head_sha256 = $3, counter = $4, segment = $5, segment_end = $6, more = $7, whole = $8, seen = $10,
		continues = coalesce(nullif($9, ''), continues) where bench = $1`,
		c.Bench, int64(tail.Seq), tail.Hash, int64(tail.Counter), int64(tail.Segment), tail.End, int64(tail.More), int64(whole), continues, now)
	if err := tx.SendBatch(ctx, b).Close(); err != nil {
		return false, fmt.Errorf("head: %w", err)
	}
	c.Tail, c.whole = tail, whole
	return ruled, nil
}

// shown is text as the database can hold it.
func shown(text string) string {
	return strings.ReplaceAll(strings.ToValidUTF8(text, "\uFFFD"), "\x00", "\uFFFD")
}

// Asked is what a bench tells of itself when it asks what is had of it.
type Asked struct {
	Own   ledger.Head // a line of its chain; its number is 0 for none
	Clock time.Time   // zero where it is not told
	Ended bool        // Own is the end of its chain
}

// Head returns where a bench's chain ends, and what is known here of the line that the bench named.
func (s *Store) Head(ctx context.Context, bench string, asked Asked) (register.Head, error) {
	var c chain
	if err := c.scan(s.pool.QueryRow(ctx, "select "+chainColumns+" from bench where bench = $1", bench)); err != nil {
		return c.head(), down(noBench(err))
	}
	h := c.head()
	if asked.Own.Seq > 0 {
		ours := c.Hash
		if asked.Own.Seq != c.Seq {
			var err error
			if ours, err = hashAt(ctx, s.pool, bench, asked.Own.Seq); err != nil {
				return h, down(err)
			}
		}
		if told := toldAt(s.missingOf(bench, c.Seq), asked.Own.Seq); ours == "" && told != "" {
			if ours = told; told != asked.Own.Hash { // where its lines part from what is known of the chain
				h.Seq, h.SHA256 = asked.Own.Seq, told
			}
		}
		switch ours {
		case "":
			h.Yours = register.Unknown
		case asked.Own.Hash:
			h.Yours = register.Same
		default:
			h.Yours = register.Other
		}
	}
	if h.Yours == register.Unknown && c.state != register.Closed {
		s.catchesUp(bench, asked.Own.Seq, c.Seq)
	}
	var ahead *time.Duration
	if !asked.Clock.IsZero() {
		d := asked.Clock.Sub(s.Now())
		ahead = &d
	}
	// A batch that is being taken holds the row, and says itself that the bench was seen.
	_, err := s.pool.Exec(ctx, `update bench set seen = $4, clock_ahead = coalesce($2, clock_ahead), told_seq = greatest($3, head_seq)
		where bench = (select bench from bench where bench = $1 for update skip locked)`, bench, ahead, int64(asked.Own.Seq), s.Now())
	return h, down(err)
}
