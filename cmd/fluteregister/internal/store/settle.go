package store

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// dirty tells Settling that there is something to settle.
func (s *Store) dirty() {
	select {
	case s.dirt <- struct{}{}:
	default:
	}
}

// settleAgain is how long after something went wrong it is tried again.
const settleAgain = 10 * time.Second

// Settling settles whatever is taken until the context ends. What goes wrong is said, and tried again.
func (s *Store) Settling(ctx context.Context, say func(error)) {
	s.dirty()
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.dirt:
		}
		if err := s.Settle(ctx); err != nil && ctx.Err() == nil {
			say(err)
			time.AfterFunc(settleAgain, s.dirty)
		}
	}
}

// settlers is the lock that one settler at a time holds, so that nothing older is written over what is newer.
const settlers = 0x666c757465 // "flute"

// Settle makes the inspections, findings and tools of all lines that are taken and not settled yet, and notes which lines
// cannot be understood.
func (s *Store) Settle(ctx context.Context) error {
	if err := s.understand(ctx); err != nil {
		return fmt.Errorf("lines that cannot be understood: %w", down(err))
	}
	for {
		rows, err := s.pool.Query(ctx, "select distinct subject from (select subject from subject where settled < seq limit 256) as unsettled")
		if err != nil {
			return down(err)
		}
		subjects, err := pgx.CollectRows(rows, pgx.RowTo[string])
		if err != nil || len(subjects) == 0 {
			return down(err)
		}
		for _, subject := range subjects {
			err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error { return s.settle(ctx, tx, subject) })
			if err != nil {
				return fmt.Errorf("settling %s: %w", subject, down(err))
			}
		}
	}
}

// understand notes of all lines that have come since it did so last which cannot be understood.
func (s *Store) understand(ctx context.Context) error {
	rows, err := s.pool.Query(ctx, "select bench from bench where understood < whole order by bench")
	if err != nil {
		return err
	}
	benches, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	for _, bench := range benches {
		for more := true; more; {
			err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) (err error) {
				more, err = s.understandSome(ctx, tx, bench)
				return err
			})
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// understandSome does so of the next lines of a bench, and says whether there may be more.
func (s *Store) understandSome(ctx context.Context, tx pgx.Tx, bench string) (more bool, err error) {
	if _, err := tx.Exec(ctx, "select pg_advisory_xact_lock($1)", int64(settlers)); err != nil {
		return false, err
	}
	src := &Source{s: s, ctx: ctx, q: tx}
	lines, err := src.lines("select l.bench, seq, codec, raw from line l join bench b using (bench) where bench = $1 and seq > understood and seq <= whole order by seq limit $2", bench, chunk)
	if err != nil || len(lines) == 0 {
		return false, err
	}
	for _, line := range lines {
		r, err := line.record()
		if err == nil {
			err = record.Check(r)
		}
		if err == nil {
			continue
		}
		if _, err := tx.Exec(ctx, "insert into unread (bench, seq, why) values ($1, $2, $3) on conflict do nothing", bench, line.Seq, shown(err.Error())); err != nil {
			return false, err
		}
	}
	_, err = tx.Exec(ctx, "update bench set understood = $2 where bench = $1", bench, lines[len(lines)-1].Seq)
	return len(lines) == chunk, err
}

// settle makes what is made of one tool's lines.
func (s *Store) settle(ctx context.Context, tx pgx.Tx, subject string) error {
	if _, err := tx.Exec(ctx, "select pg_advisory_xact_lock($1)", int64(settlers)); err != nil {
		return err
	}
	rows, err := tx.Query(ctx, "select bench, seq from subject where subject = $1", subject)
	if err != nil {
		return err
	}
	var benches []string
	var seqs []int64
	var bench string
	var seq int64
	if _, err := pgx.ForEachRow(rows, []any{&bench, &seq}, func() error {
		benches, seqs = append(benches, bench), append(seqs, seq)
		return nil
	}); err != nil {
		return err
	}
	id := strings.TrimPrefix(subject, toolPrefix)
	t, all, unclear := record.Whole((&Source{s: s, ctx: ctx, q: tx}).Only(subject), id)
	// What is made of lines that say impossible things may be refused: then that is said, and the next tool's turn comes.
	if err := pgx.BeginFunc(ctx, tx, func(tx pgx.Tx) error { return put(ctx, tx, id, t, all, unclear) }); err != nil {
		if down(err) != err {
			return err
		}
		if err := put(ctx, tx, id, record.Tool{}, nil, err); err != nil {
			return err
		}
	}
	_, err = tx.Exec(ctx, "update subject s set settled = n.seq from unnest($2::text[], $3::bigint[]) as n(bench, seq) where s.subject = $1 and s.bench = n.bench and s.settled < n.seq", subject, benches, seqs)
	return err
}

// put writes a tool as it stands, with its inspections.
func put(ctx context.Context, tx pgx.Tx, id string, t record.Tool, all []record.Inspection, unclear error) error {
	why := ""
	if unclear != nil {
		why = unclear.Error()
	}
	written := map[ledger.Ref]int{} // how many records it is made of: none is ever taken away
	rows, err := tx.Query(ctx, "select bench, seq, records from inspection where tool = $1", id)
	if err != nil {
		return err
	}
	var bench string
	var seq int64
	var records int
	if _, err := pgx.ForEachRow(rows, []any{&bench, &seq, &records}, func() error {
		written[ledger.Ref{Bench: bench, Seq: uint64(seq)}] = records
		return nil
	}); err != nil {
		return err
	}
	b := &pgx.Batch{}
	for i := range all {
		in := &all[i]
		if at, ok := written[ledger.Ref{Bench: in.Record.Bench, Seq: in.Record.Seq}]; ok && at == recordsOf(in) {
			continue
		}
		putInspection(b, in)
	}
	b.Queue("update inspection set standing = $2 where tool = $1 and standing <> $2", id, string(t.Standing))
	b.Queue("delete from tool where tool = $1", id)
	b.Queue(`insert into tool (bench, tool, seq, counter, benches, standing, decided_bench, decided_seq, inspection, work, lacks, job, away, retired, material, flutes, nominal_pm, last_diameter_pm, wheel, unclear)
		select bench, $1, seq, line.counter, (select count(*) from subject where subject = $2), $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17
		from line join bench using (bench) where subject = $2 and subject <> '' and seq <= whole order by line.counter desc, bench desc, seq desc limit 1`,
		id, record.ToolSubject(id), shown(string(t.Standing)), t.Decided.Bench, int64(t.Decided.Seq), shown(t.State.Inspection), shown(joined(t.What)), shown(t.Lacks()), shown(t.State.Job), away(t.Away),
		shown(t.Retired), shown(string(t.Material)), t.Flutes, int64(t.Diameter), picometres(t.LastDiameter()), shown(lastWheel(t)), shown(why))
	return tx.SendBatch(ctx, b).Close()
}

// joined returns what is called for as it is kept.
func joined(work []inspect.Task) string {
	all := make([]string, len(work))
	for i, w := range work {
		all[i] = string(w)
	}
	return strings.Join(all, ",")
}

// recordsOf returns how many records an inspection is made of.
func recordsOf(in *record.Inspection) int { return 1 + len(in.Corrections) + len(in.Rulings) }

// away returns where a tool is out.
func away(a *record.Away) string {
	if a == nil {
		return ""
	}
	return shown(cmp.Or(a.Where, "out"))
}

// lastWheel returns the wheel that a tool was ground with last.
func lastWheel(t record.Tool) (wheel string) {
	for _, i := range t.Inspections {
		wheel = cmp.Or(i.Wheel, wheel)
	}
	return wheel
}

func picometres(l *length.Length) *int64 {
	if l == nil {
		return nil
	}
	pm := int64(*l)
	return &pm
}

// whole returns a figure in the whole numbers that the ledger keeps it in, and what it is; nil and nil for none.
func whole(q *inspect.Quantity) (value *int64, quantity *string) {
	if q == nil {
		return nil, nil
	}
	kind, n := "length", int64(0)
	switch q.UnitName(length.Mm) {
	case "deg":
		kind, n = "angle", int64(q.Angle())
	case "1":
		kind = "share"
		s := q.Share()
		n = int64(s.Value()*1e9 + 0.5)
	default:
		n = int64(q.Length())
	}
	return &n, &kind
}

// stored returns a figure of a figures record, and what it was held against.
func stored(text json.RawMessage) (value, most *int64, gauge string) {
	f, err := record.ReadFigure(text)
	if f == nil || err != nil {
		return nil, nil, ""
	}
	value, _ = whole(&f.Value)
	most, _ = whole(f.Most)
	return value, most, f.Gauge
}

// putInspection queues an inspection as it stands, with its findings.
func putInspection(b *pgx.Batch, in *record.Inspection) {
	tir, tirMost, tirGauge := stored(in.Figures.TIR)
	residual, _, _ := stored(in.Figures.Residual)
	share, _, _ := stored(in.Figures.Ratio)
	diameter, _, _ := stored(in.Figures.Diameter)
	relief, _, _ := stored(in.Figures.Relief)
	corrected := ""
	if n := len(in.Corrections); n > 0 {
		corrected = in.Corrections[n-1].By
	}
	var ruling record.Ruled
	if r := in.Ruling(); r != nil {
		ruling = *r
	}
	practice := in.Figures.Practice
	row := []any{
		in.Record.Bench, int64(in.Record.Seq), int64(in.Taken.Seq), recordsOf(in), int64(in.Record.Counter), in.ID, in.Tool.ID, in.Job, string(in.Stage),
		in.Opened, in.Closed, in.Record.Time.Synchronised, in.Inspector, in.Wheel, in.Grinder, string(in.Judgement.Verdict), joined(in.Figures.Work), practice, in.Discarded,
		in.Basis.Revision, string(in.Tool.Material), int64(in.Tool.Diameter), in.Tool.Flutes, in.Divisions, tir, tirMost, tirGauge, residual, share, diameter, relief,
		string(in.Stands.Standing), corrected, in.Conflict, string(ruling.Word), ruling.By, ruling.At, ruling.Why,
	}
	for i, v := range row {
		if text, ok := v.(string); ok {
			row[i] = shown(text)
		}
	}
	b.Queue("delete from inspection where bench = $1 and seq = $2", row[0], row[1])
	b.Queue("delete from finding where bench = $1 and seq = $2", row[0], row[1])
	b.Queue(`insert into inspection (bench, seq, readings_seq, records, counter, inspection, tool, job, stage, opened, closed, clock_set, inspector, wheel, grinder, verdict, work, practice,
		given_up, revision, material, nominal_pm, flutes, divisions, tir_pm, tir_most_pm, tir_gauge, residual_pm, share_ppb, diameter_pm, relief_ndeg, standing, corrected_by, conflict,
		ruling, ruled_by, ruled_at, ruled_why) values (`+placeholders(len(row))+")", row...)
	for n, f := range in.Judgement.Findings {
		value, quantity := whole(f.Value)
		least, limit := whole(f.Least)
		most, limit2 := whole(f.Most)
		uncertainty, _ := whole(f.Uncertainty)
		b.Queue(`insert into finding (bench, seq, n, feature, flute, from_end_pm, quantity, value, uncertainty, least, most, advice, verdict, rule, probability, source)
			values (`+placeholders(16)+")", row[0], row[1], n+1, shown(string(f.Feature)), f.Flute, picometres(f.FromEnd), cmp.Or(quantity, limit, limit2), value, uncertainty, least, most,
			f.Advice, shown(string(f.Verdict)), shown(string(f.Rule)), f.Probability, shown(f.Source))
	}
}

// placeholders returns $1 to $n.
func placeholders(n int) string {
	all := make([]string, n)
	for i := range all {
		all[i] = fmt.Sprintf("$%d", i+1)
	}
	return strings.Join(all, ", ")
}

// Rebuild makes all that is made of the lines anew. Lines are taken meanwhile.
func (s *Store) Rebuild(ctx context.Context) error {
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, "select pg_advisory_xact_lock($1)", int64(settlers))
		for _, sql := range []string{"delete from inspection", "delete from finding", "delete from tool", "delete from unread", "update bench set understood = 0"} {
			if err == nil {
				_, err = tx.Exec(ctx, sql)
			}
		}
		if err == nil {
			_, err = tx.Exec(ctx, "update subject set settled = 0 where starts_with(subject, $1)", toolPrefix)
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("rebuilding: %w", down(err))
	}
	return s.Settle(ctx)
}
