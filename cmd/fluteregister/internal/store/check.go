package store

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"flutelog/inspect/ledger"
)

// Checked is what Check found of one bench.
type Checked struct {
	Bench  string   `json:"bench"`
	Label  string   `json:"label,omitempty"`
	Lines  uint64   `json:"lines"`
	ToCome uint64   `json:"to_come,omitempty"` // lines that the bench's own ledger has besides
	Wrong  []string `json:"wrong"`
}

// wrongAtMost bounds what is said of one bench: behind the first wrong line all others are wrong too.
const wrongAtMost = 10

// Check reads all lines of all benches and holds each against the one before, against what is kept beside it, and against the
// bench's head; and against the lines of a bench's own ledger, where theirs gives it, and heads that were told before.
func (s *Store) Check(ctx context.Context, theirs *ledger.Ledger, heads []ledger.Head) ([]Checked, error) {
	benches, err := s.Benches(ctx)
	if err != nil {
		return nil, err
	}
	var own ledger.Head
	if theirs != nil {
		if own, err = theirs.Head(); err != nil {
			return nil, err
		}
	}
	var all []Checked
	for _, b := range benches {
		told := map[uint64]string{}
		for _, h := range heads {
			if h.Bench == b.Bench {
				told[h.Seq] = h.Hash
			}
		}
		if theirs != nil && own.Bench == b.Bench {
			var damaged *ledger.DamageError
			for line, err := range theirs.Lines(own.Bench, 0) {
				if errors.As(err, &damaged) {
					break // the bench's own verify says it
				}
				if err != nil {
					return nil, err
				}
				if told[line.Seq] == "" {
					told[line.Seq] = line.Hash
				}
			}
		}
		c, err := s.check(ctx, b, told, heads)
		if err != nil {
			return nil, err
		}
		if own.Bench == b.Bench && own.Seq > c.Lines {
			c.ToCome = own.Seq - c.Lines
		}
		all = append(all, c)
	}
	return all, s.checkTools(ctx, all)
}

// checkTools holds the table of tools against what the lines say, of every tool that is settled: what it says wrong is said of
// the bench that the row stands under.
func (s *Store) checkTools(ctx context.Context, all []Checked) error {
	return s.Read(ctx, func(src *Source) error {
		ids, err := ask(src, `select tool from tool union select substr(subject, length($1) + 1) from subject where starts_with(subject, $1)
			except select substr(subject, length($1) + 1) from subject where settled < seq order by 1`, []any{toolPrefix}, pgx.RowTo[string])
		if err != nil {
			return err
		}
		for _, id := range ids {
			rows, err := ask(src, "select "+strings.Join(toolColumns, ", ")+" from tool where tool = $1", []any{id}, func(row pgx.CollectableRow) ([]any, error) { return row.Values() })
			if err != nil {
				return err
			}
			found := src.about(toolPrefix + id)
			if found.err != nil {
				continue // what is wrong with the lines is said of them
			}
			benches := map[string]bool{}
			for _, l := range found.lines {
				benches[l.Bench] = true
			}
			var want []any
			if m := s.make(src, id, found.lines, len(benches), nil); m.tool != nil {
				want = printed(m.tool)
			}
			bench, wrong := "", ""
			for _, row := range rows {
				for i, got := range printed(row) {
					if bench, _ = row[0].(string); wrong == "" && (want == nil || got != want[i]) {
						wrong = fmt.Sprintf("the table of tools has %s %v", toolColumns[i], got)
						if want != nil {
							wrong += fmt.Sprintf(", and its lines say %v", want[i])
						}
					}
				}
			}
			switch {
			case want != nil && len(rows) == 0:
				bench, wrong = found.lines[0].Bench, "it is not in the table of tools"
			case len(rows) > 1:
				wrong = fmt.Sprintf("it is in the table of tools %d times", len(rows))
			}
			if i := slices.IndexFunc(all, func(c Checked) bool { return c.Bench == bench }); i >= 0 && wrong != "" {
				all[i].say("tool %s: %s; fluteregister rebuild makes the tables anew", id, wrong)
			}
		}
		return nil
	})
}

// printed are the values of a row, as they compare.
func printed(row []any) []any {
	all := make([]any, len(row))
	for i, v := range row {
		if n, is := v.(*int64); is && n != nil {
			v = *n
		} else if is {
			v = nil
		}
		all[i] = fmt.Sprint(v)
	}
	return all
}

func (c *Checked) say(format string, args ...any) {
	if len(c.Wrong) < wrongAtMost {
		c.Wrong = append(c.Wrong, fmt.Sprintf(format, args...))
	}
}

func (s *Store) check(ctx context.Context, b Bench, told map[uint64]string, heads []ledger.Head) (Checked, error) {
	c := Checked{Bench: b.Bench, Label: b.Label, Wrong: []string{}}
	var want chain
	err := pgx.BeginTxFunc(ctx, s.pool, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		if err := want.scan(tx.QueryRow(ctx, "select "+chainColumns+" from bench where bench = $1", b.Bench)); err != nil {
			return err
		}
		rows, err := tx.Query(ctx, "select seq, counter, kind, subject, sha256, codec, raw from line where bench = $1 order by seq", b.Bench)
		if err != nil {
			return err
		}
		tail := ledger.Tail{Bench: b.Bench}
		broken := false
		var seq, counter int64
		var kind, subject string
		var hash, packed []byte
		var codec int16
		_, err = pgx.ForEachRow(rows, []any{&seq, &counter, &kind, &subject, &hash, &codec, &packed}, func() error {
			c.Lines++
			if broken {
				return nil
			}
			raw, err := s.plain(ctx, codec, packed)
			var r ledger.Record
			if err == nil {
				r, err = tail.Take(raw)
			}
			if err != nil {
				c.say("line %d: %v", seq, err)
				broken = true
				return nil
			}
			sum, _ := hex.DecodeString(r.Hash)
			if r.Seq != uint64(seq) || r.Counter != uint64(counter) || r.Kind != kind || r.Subject != subject || !bytes.Equal(sum, hash) {
				c.say("line %d: what is kept beside it is not what it says", seq)
			}
			if was, ok := told[r.Seq]; ok && was != r.Hash {
				c.say("line %d: it has the hash %s, and was told before with %s", seq, r.Hash, was)
			}
			return nil
		})
		if err != nil {
			return err
		}
		if !broken && tail != want.Tail {
			c.say("the lines end at number %d, and the bench's row says %d", tail.Seq, want.Seq)
		}
		for _, h := range heads {
			if h.Bench == b.Bench && h.Seq > c.Lines {
				c.say("line %d: it was told before, and is not here", h.Seq)
			}
		}
		return nil
	})
	return c, down(err)
}
