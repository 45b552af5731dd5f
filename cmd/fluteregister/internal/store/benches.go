package store

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
)

// Enrolled is what is known of a token.
type Enrolled struct {
	Token string    `json:"token_sha256"`    // SHA-256 of the token, 64 hex digits
	Bench string    `json:"bench,omitempty"` // "" until the token is used first
	Reads bool      `json:"reads,omitempty"` // it is no bench's: it may read everything, and send nothing
	Label string    `json:"label,omitempty"`
	Plant string    `json:"plant,omitempty"`
	Since time.Time `json:"since"`
	Until time.Time `json:"until,omitzero"` // zero where it does not end

	EndedBy  string `json:"ended_by,omitempty"` // who has ended it before its time, and why; kept in the register's own ledger alone
	EndedWhy string `json:"ended_why,omitempty"`
}

// Ended says whether it may not ask any more.
func (e Enrolled) Ended(now time.Time) bool { return !e.Until.IsZero() && !e.Until.After(now) }

// ErrStranger says that there is no such token, or that it has ended.
var ErrStranger = errors.New("no such token, or it has ended")

// Enrol notes a token. One that is known already is left as it is, but for its end and its bench, where they are told.
func (s *Store) Enrol(ctx context.Context, e Enrolled) error {
	return down(pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error { // who finds the token bound finds its bench
		_, err := tx.Exec(ctx, `insert into token (sha256, bench, reads, label, plant, since, until) values ($1, nullif($2, ''), $7, $3, $4, $5, $6)
			on conflict (sha256) do update set until = coalesce(least(excluded.until, token.until), token.until), bench = coalesce(token.bench, excluded.bench)`,
			e.Token, e.Bench, e.Label, e.Plant, e.Since, orNull(e.Until), e.Reads)
		if err == nil && e.Bench != "" {
			_, err = tx.Exec(ctx, "insert into bench (bench, label, plant, since) values ($1, $2, $3, $4) on conflict (bench) do nothing", e.Bench, e.Label, e.Plant, e.Since)
		}
		return err
	}))
}

// Waiting returns the tokens of benches that no bench has used yet, and that have not ended.
func (s *Store) Waiting(ctx context.Context) ([]Enrolled, error) {
	return s.enrolled(ctx, "bench is null and not reads and (until is null or until > $1)", s.Now())
}

// Tokens returns those, ended ones too, of a bench whose id is name or begins so, of a label, or that begin so themselves.
func (s *Store) Tokens(ctx context.Context, name string) ([]Enrolled, error) {
	return s.enrolled(ctx, "lower(label) = lower($1) or length($1) >= 4 and starts_with(bench, $1) or length($1) >= 8 and starts_with(sha256, $1)", name)
}

func (s *Store) enrolled(ctx context.Context, where string, arg any) ([]Enrolled, error) {
	rows, err := s.pool.Query(ctx, "select sha256, coalesce(bench, ''), reads, label, plant, since, until from token where "+where+" order by since", arg)
	if err != nil {
		return nil, down(err)
	}
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (e Enrolled, err error) {
		var until *time.Time
		if err = row.Scan(&e.Token, &e.Bench, &e.Reads, &e.Label, &e.Plant, &e.Since, &until); until != nil {
			e.Until = *until
		}
		return e, err
	})
	return all, down(err)
}

func orNull(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// Token returns what is known of a token that has not ended.
func (s *Store) Token(ctx context.Context, sha256 string) (Enrolled, error) {
	e := Enrolled{Token: sha256}
	err := s.pool.QueryRow(ctx, "select coalesce(bench, ''), reads, label, plant, since from token where sha256 = $1 and (until is null or until > $2)", sha256, s.Now()).Scan(&e.Bench, &e.Reads, &e.Label, &e.Plant, &e.Since)
	if errors.Is(err, pgx.ErrNoRows) {
		return e, ErrStranger
	}
	return e, down(err)
}

// Bench is how a bench stands at the register.
type Bench struct {
	Bench     string         `json:"bench"`
	Name      string         `json:"-"` // as people know it from the others
	Label     string         `json:"label,omitempty"`
	Plant     string         `json:"plant,omitempty"`
	State     register.State `json:"state"`
	Continues string         `json:"continues,omitempty"` // the id that it had before a fork
	Seq       uint64         `json:"seq"`
	SHA256    string         `json:"sha256,omitempty"`
	Since     time.Time      `json:"since"`
	Seen      *time.Time     `json:"seen,omitempty"`
	Behind    int64          `json:"behind"`                // how many lines it said that it has and that are not here
	Missing   uint64         `json:"missing,omitempty"`     // how many lines were here once, by the register's own ledger, and are not any more
	Ahead     *float64       `json:"clock_ahead,omitempty"` // its clock, in seconds, as it last said
	Forks     int            `json:"forks,omitempty"`       // that nobody has ruled on
	Unread    int            `json:"unread,omitempty"`
	Ends      *time.Time     `json:"token_until,omitempty"` // of the token that lasts longest; nil where it does not end
	Tokens    int            `json:"tokens"`
}

// Benches returns all benches, by plant, label and id.
func (s *Store) Benches(ctx context.Context) ([]Bench, error) {
	rows, err := s.pool.Query(ctx, `select b.bench, label, plant, state, coalesce(continues, ''), head_seq, head_sha256, since, seen, coalesce(told_seq - head_seq, 0),
		extract(epoch from clock_ahead)::float8, (select count(*) from unsettled f where f.bench = b.bench), (select count(*) from unread u where u.bench = b.bench),
		(select case when bool_or(until is null) then null else max(until) end from token t where t.bench = b.bench),
		(select count(*) from token t where t.bench = b.bench and (until is null or until > $1))
		from bench b order by plant, label, bench`, s.Now())
	if err != nil {
		return nil, down(err)
	}
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (b Bench, err error) {
		var seq int64
		err = row.Scan(&b.Bench, &b.Label, &b.Plant, &b.State, &b.Continues, &seq, &b.SHA256, &b.Since, &b.Seen, &b.Behind, &b.Ahead, &b.Forks, &b.Unread, &b.Ends, &b.Tokens)
		b.Seq = uint64(seq)
		return b, err
	})
	labels := map[string]string{}
	for _, b := range all {
		labels[b.Bench] = b.Label
	}
	names := named(labels)
	for i := range all {
		all[i].Name = names[all[i].Bench]
		if missing := s.missingOf(all[i].Bench, all[i].Seq); len(missing) > 0 {
			all[i].Missing = missing[len(missing)-1].seq - all[i].Seq
		}
	}
	return all, down(err)
}

// Names returns what people know all benches by, by their ids.
func (s *Store) Names(ctx context.Context) (map[string]string, error) {
	rows, err := s.pool.Query(ctx, "select bench, label from bench")
	if err != nil {
		return nil, down(err)
	}
	labels := map[string]string{}
	var bench, label string
	_, err = pgx.ForEachRow(rows, []any{&bench, &label}, func() error {
		labels[bench] = label
		return nil
	})
	return named(labels), down(err)
}

// NamesOf returns what people know those benches by that recorded of some subjects.
func (s *Store) NamesOf(ctx context.Context, subjects []string) (map[string]string, error) {
	rows, err := s.pool.Query(ctx, "select distinct bench from subject where subject = any($1)", subjects)
	if err != nil {
		return nil, down(err)
	}
	benches, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, down(err)
	}
	names, err := s.Names(ctx)
	maps.DeleteFunc(names, func(bench, _ string) bool { return !slices.Contains(benches, bench) })
	return names, err
}

// named turns labels into names: a label that several benches have comes with as much of the id as tells them apart.
func named(labels map[string]string) map[string]string {
	alike := map[string]int{}
	for _, label := range labels {
		alike[strings.ToLower(label)]++
	}
	names := map[string]string{}
	for bench, label := range labels {
		switch {
		case label == "":
			names[bench] = "bench " + bench
		case alike[strings.ToLower(label)] > 1:
			names[bench] = label + " (" + bench[:6] + ")"
		default:
			names[bench] = label
		}
	}
	return names
}

// CloseBench closes a bench's chain: no more of it is taken.
func (s *Store) CloseBench(ctx context.Context, bench string) error {
	_, err := s.pool.Exec(ctx, "update bench set state = 'closed' where bench = $1", bench)
	return down(err)
}

// Fork is a place where two copies of a bench wrote on.
type Fork struct {
	Bench   string     `json:"bench"`
	Seq     uint64     `json:"seq"` // of the first line that differs
	Ours    string     `json:"ours"`
	Theirs  string     `json:"theirs"`
	Line    string     `json:"line"` // that was refused
	Address string     `json:"address"`
	Since   time.Time  `json:"since"`
	RuledBy string     `json:"ruled_by,omitempty"`
	Why     string     `json:"ruled_why,omitempty"`
	Ruled   *time.Time `json:"ruled_at,omitempty"`
	Truth   Truth      `json:"true,omitempty"`    // which copy is the bench, as a person said
	Gone    bool       `json:"gone,omitempty"`    // the refused copy is destroyed
	Renewed string     `json:"renewed,omitempty"` // the id that the refused copy goes on under
}

// Truth says which of two copies of a bench is the bench.
type Truth string

// The copies.
const (
	Here    Truth = "here"    // the one whose lines are here
	Refused Truth = "refused" // the one that was refused
)

// Settled says that a person has ruled on it, and that the refused copy goes on under an id of its own or is no more.
func (f Fork) Settled() bool { return f.Ruled != nil && (f.Gone || f.Renewed != "") }

// AddFork keeps the first line of another copy of a bench that differs, as evidence, and marks the bench. A line that is no
// fork is a *DamagedError. What is kept is told to keep first.
func (s *Store) AddFork(ctx context.Context, bench string, raw []byte, address string, keep func(Evidence) error) (register.Head, error) {
	var c chain
	r, err := ledger.ReadLine(bench, raw)
	if err != nil {
		return c.head(), &DamagedError{err}
	}
	err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		if err := c.scan(tx.QueryRow(ctx, "select "+chainColumns+" from bench where bench = $1 for update", bench)); err != nil {
			return noBench(err)
		}
		missing := s.missingOf(bench, c.Seq)
		known := func(seq uint64) (string, error) {
			hash, err := hashAt(ctx, tx, bench, seq)
			return cmp.Or(hash, toldAt(missing, seq)), err
		}
		ours, err := known(r.Seq)
		if err != nil {
			return err
		}
		before, err := known(r.Seq - 1)
		if err != nil {
			return err
		}
		if r.Seq == 1 {
			before = strings.Repeat("0", 64)
		}
		previous := strings.Fields(string(raw))[4]
		if ours == "" || ours == r.Hash || previous != before {
			return &DamagedError{fmt.Errorf("bench %s, number %d: not the first line that differs from what is here", bench, r.Seq)}
		}
		e := Evidence{bench, r.Seq, ours, r.Hash, raw, address, s.Now().UTC().Truncate(time.Microsecond)}
		fresh, err := addFork(ctx, tx, e)
		if err != nil || !fresh {
			return err
		}
		if c.state == register.Open {
			c.state = register.Forked
		}
		return keep(e)
	})
	return c.head(), down(err)
}

// Evidence is the first line of a copy of a bench that differs.
type Evidence struct {
	Bench   string    `json:"bench"`
	Seq     uint64    `json:"seq"`
	Ours    string    `json:"ours"`
	Theirs  string    `json:"theirs"`
	Line    []byte    `json:"line"`
	Address string    `json:"address"`
	Since   time.Time `json:"since"`
}

// TellFork tells of evidence that was kept before; what is here already stays as it is.
func (s *Store) TellFork(ctx context.Context, e Evidence) error {
	return down(pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		_, err := addFork(ctx, tx, e)
		return err
	}))
}

func addFork(ctx context.Context, tx pgx.Tx, e Evidence) (fresh bool, _ error) {
	tag, err := tx.Exec(ctx, "insert into fork (bench, seq, ours, theirs, raw, address, since) values ($1, $2, $3, $4, $5, $6, $7) on conflict do nothing", e.Bench, int64(e.Seq), e.Ours, e.Theirs, e.Line, e.Address, e.Since)
	if err != nil || tag.RowsAffected() == 0 {
		return false, err
	}
	_, err = tx.Exec(ctx, "update bench set state = 'forked' where bench = $1 and state = 'open'", e.Bench)
	return true, err
}

// Forks returns the forks of a bench, or of all with "", the newest first.
func (s *Store) Forks(ctx context.Context, bench string) ([]Fork, error) {
	rows, err := s.pool.Query(ctx, "select bench, seq, ours, theirs, raw, address, since, ruled_by, ruled_why, ruled_at, truth, gone, renewed from fork where $1 in ('', bench) order by since desc, bench, seq", bench)
	if err != nil {
		return nil, down(err)
	}
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (f Fork, err error) {
		var seq int64
		var raw []byte
		err = row.Scan(&f.Bench, &seq, &f.Ours, &f.Theirs, &raw, &f.Address, &f.Since, &f.RuledBy, &f.Why, &f.Ruled, &f.Truth, &f.Gone, &f.Renewed)
		f.Seq, f.Line = uint64(seq), strings.ToValidUTF8(strings.TrimSuffix(string(raw), "\n"), "\uFFFD")
		return f, err
	})
	return all, down(err)
}

// KindWords are the kinds of a tool's records, in words.
var KindWords = map[string]string{
	record.KindOpened: "an inspection begins", record.KindReadings: "its readings", record.KindSummary: "it is closed", record.KindFigures: "its figures", record.KindTool: "what the tool is",
	record.KindLock: "locked", record.KindUnlock: "a lock is lifted", record.KindRuling: "a ruling", record.KindCorrection: "a correction", record.KindRecall: "recalled", record.KindGround: "ground",
	record.KindAway: "sent out, or back", record.KindNote: "a note", record.KindJob: "received with a job",
}

// Tells says what the line that was refused is, of which tool, and what it lets out; a sentence each.
func (f Fork) Tells() []string {
	r, err := ledger.ReadLine(f.Bench, []byte(f.Line+"\n"))
	if err != nil {
		return []string{"What the line that was refused says cannot be read."}
	}
	of := r.Subject
	if id, is := strings.CutPrefix(r.Subject, toolPrefix); is {
		of = "tool " + id
	}
	said := fmt.Sprintf("The line that was refused is of %s: %s", cmp.Or(of, "the bench"), cmp.Or(KindWords[r.Kind], r.Kind))
	var x record.Ruling
	switch {
	case r.Kind == record.KindRuling && json.Unmarshal(r.Body, &x) == nil:
		said += fmt.Sprintf(", %s, by %s", strings.ToUpper(string(x.Word)), x.By)
		if x.Inspection != "" {
			said += ", of " + x.Inspection
		}
	case r.Kind == record.KindUnlock && json.Unmarshal(r.Body, &x) == nil:
		said += ", by " + x.By
	}
	if x.Why != "" {
		said += ": " + x.Why
	}
	all := []string{strings.TrimSuffix(said, ".") + "."}
	if r.Kind == record.KindUnlock || r.Kind == record.KindRuling && x.Word != record.Withdraw {
		all = append(all, "By it the copy LET A TOOL GO, of which nothing counts here: find the "+of+".")
	}
	return append(all, "What the copy wrote behind it is not here, and may have let tools go too: see there how its tools stand (flutelog tool list) before any of them is used.")
}

// Ruling is what a person found of the forks of a bench.
type Ruling struct {
	Truth Truth `json:"true,omitempty"`
	Gone  bool  `json:"gone,omitempty"` // the refused copy is destroyed
}

// Check says what is wrong with it, or nil.
func (r Ruling) Check() error {
	switch {
	case r.Truth != Here && r.Truth != Refused:
		return fmt.Errorf("which copy is the bench must be said: %s, the one that still sends, or %s, the one that was refused", Here, Refused)
	case r.Gone && r.Truth == Refused:
		return errors.New("the refused copy cannot be both the bench and gone")
	}
	return nil
}

// Found says what a person found, a sentence each; nil before that.
func (f Fork) Found() (all []string) {
	switch {
	case f.Ruled == nil:
		return nil
	case f.Truth == Here:
		all = append(all, "The bench is the copy whose lines are here.")
	case f.Truth == Refused:
		all = append(all, "The bench is the copy that was refused; no more is taken of the other.")
	}
	switch {
	case f.Gone:
		all = append(all, "The refused copy is gone.")
	case f.Renewed == "":
		all = append(all, "The refused copy has not gone on under a new id yet.")
	}
	return all
}

// Rule notes what a person found of the forks of a bench that are not settled, and returns how many they were and how many
// wait for their copy now. Where the refused copy is the bench, no more is taken of the other.
func (s *Store) Rule(ctx context.Context, bench string, r Ruling, by, why string, at time.Time) (ruled, waits int, _ error) {
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `update fork set ruled_by = $2, ruled_why = $3, ruled_at = $4, truth = $5, gone = $6
			where bench = $1 and since <= $4 and (ruled_at is null or not gone and renewed = '')`, bench, by, why, at, r.Truth, r.Gone)
		if err != nil {
			return err
		}
		ruled = int(tag.RowsAffected())
		if r.Truth == Refused && ruled > 0 {
			if _, err := tx.Exec(ctx, "update bench set state = 'closed' where bench = $1", bench); err != nil {
				return err
			}
		}
		if err := atRest(ctx, tx, bench); err != nil {
			return err
		}
		return tx.QueryRow(ctx, "select count(*) from unsettled where bench = $1", bench).Scan(&waits)
	})
	return ruled, waits, down(err)
}

// atRest takes the alarm of a bench back once none of its forks is left to settle.
func atRest(ctx context.Context, tx pgx.Tx, bench string) error {
	_, err := tx.Exec(ctx, "update bench set state = 'open' where bench = $1 and state = 'forked' and not exists (select from unsettled u where u.bench = $1)", bench)
	return err
}

// renewed notes that the copy of a bench that was refused goes on as another.
func renewed(ctx context.Context, tx pgx.Tx, r ledger.Record) error {
	c := continued(r)
	_, err := tx.Exec(ctx, "update fork set renewed = $1 where bench = $2 and seq = $3 and renewed = '' and $4 in ('', theirs)", r.Bench, shown(c.Bench), int64(c.Seq)+1, shown(c.First))
	if err == nil {
		err = atRest(ctx, tx, shown(c.Bench))
	}
	return err
}

// Unread is a line that was taken, and of which it cannot be told what it means.
type Unread struct {
	Bench string `json:"bench"`
	Seq   uint64 `json:"seq"`
	Why   string `json:"why"`
}

// Unread returns those of all benches.
func (s *Store) Unread(ctx context.Context) ([]Unread, error) {
	rows, err := s.pool.Query(ctx, "select bench, seq, why from unread order by bench, seq")
	if err != nil {
		return nil, down(err)
	}
	all, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (u Unread, err error) {
		var seq int64
		err = row.Scan(&u.Bench, &seq, &u.Why)
		u.Seq = uint64(seq)
		return u, err
	})
	return all, down(err)
}

// Lines gives the lines of a bench's chain behind a number, in order.
func (s *Store) Lines(ctx context.Context, bench string, after uint64) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		rows, err := s.pool.Query(ctx, "select codec, raw from line where bench = $1 and seq > $2 order by seq", bench, int64(after))
		if err != nil {
			yield(nil, down(err))
			return
		}
		defer rows.Close()
		for rows.Next() {
			var codec int16
			var raw []byte
			err := rows.Scan(&codec, &raw)
			if err == nil {
				raw, err = s.plain(ctx, codec, raw)
			}
			if err != nil {
				yield(nil, down(err))
				return
			}
			if !yield(raw, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(nil, down(err))
		}
	}
}

// SubjectLines gives the lines of subjects, of all benches, each behind its bench's id and a space, in the order of the benches
// and their chains.
func (s *Store) SubjectLines(ctx context.Context, subjects []string) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		rows, err := s.pool.Query(ctx, "select bench, codec, raw from line join bench using (bench) where subject = any($1) and subject <> '' and seq <= whole order by bench, seq", subjects)
		if err != nil {
			yield(nil, down(err))
			return
		}
		defer rows.Close()
		var line []byte
		for rows.Next() {
			var bench string
			var codec int16
			var raw []byte
			err := rows.Scan(&bench, &codec, &raw)
			if err == nil {
				raw, err = s.plain(ctx, codec, raw)
			}
			if err != nil {
				yield(nil, down(err))
				return
			}
			line = append(append(append(line[:0], bench...), ' '), raw...)
			if !yield(line, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(nil, down(err))
		}
	}
}

// continued returns what a chain goes on in place of.
func continued(r ledger.Record) (c register.Continues) {
	if json.Unmarshal(r.Body, &c) != nil {
		return register.Continues{}
	}
	return c
}
