package store

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"maps"
	"runtime"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
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

// A bench that catches up sends body after body, and what is made of a tool would be made anew after each: until all is here that
// it said it has, making waits, at most so long from the first of them on, and for one that is silent so long no more.
const settleLatest = 5 * time.Second

// catching is a bench that catches up.
type catching struct {
	end  uint64 // of its chain, as it said
	last time.Time
}

// catchesUp notes how far a bench said that its chain goes, and how far it is here.
func (s *Store) catchesUp(bench string, end, here uint64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if end = max(end, s.catching[bench].end); here >= end {
		delete(s.catching, bench)
		return
	}
	s.catching[bench] = catching{end, time.Now()}
}

// awaits says whether some bench catches up.
func (s *Store) awaits() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	maps.DeleteFunc(s.catching, func(_ string, c catching) bool { return time.Since(c.last) > settleLatest })
	return len(s.catching) > 0
}

// Settling settles whatever is taken until the context ends. What goes wrong is said, and tried again.
func (s *Store) Settling(ctx context.Context, say func(error)) {
	s.dirty()
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.dirt:
		}
		latest, stop := context.WithTimeout(ctx, settleLatest)
		for latest.Err() == nil && s.awaits() {
			select {
			case <-latest.Done():
			case <-s.dirt:
			}
		}
		stop()
		if err := s.Settle(ctx); err != nil && ctx.Err() == nil {
			say(err)
			time.AfterFunc(settleAgain, s.dirty)
		}
	}
}

// Locks that one at a time holds who settles, or who notes what cannot be understood, so that nothing older is written over
// what is newer; who changes the tables; and who serves.
const (
	settlers        = 0x666c757465 // "flute"
	understanders   = settlers + 1
	changers        = settlers + 2
	servers         = settlers + 3
	settledTogether = 64   // tools, at most
	rowsTogether    = 4096 // of them; the last tools may have more
)

// Settle makes the inspections, findings and tools of all lines that are taken and not settled yet, and notes which lines
// cannot be understood.
func (s *Store) Settle(ctx context.Context) error {
	understood := ahead(func() error { return s.understand(ctx) })
	err := s.behind(ctx, settlers, s.settleSome)
	if failed := understood(); failed != nil {
		err = errors.Join(err, fmt.Errorf("lines that cannot be understood: %w", down(failed)))
	}
	return err
}

// behind does some of the work that is behind the taking under a lock, in one transaction after another, until there is no
// more. None is waited for until it is on the medium: what is lost in a crash is done again.
func (s *Store) behind(ctx context.Context, lock int64, some func(context.Context, pgx.Tx) (more bool, err error)) error {
	for more := true; more; {
		err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) (err error) {
			for _, sql := range []string{"set local synchronous_commit = off", inOrder, fmt.Sprintf("select pg_advisory_xact_lock(%d)", lock)} {
				if _, err := tx.Exec(ctx, sql); err != nil {
					return err
				}
			}
			more, err = some(ctx, tx)
			return err
		})
		if err != nil {
			return down(err)
		}
	}
	return nil
}

// understand notes of all lines that have come since it did so last, but for those of tools, which cannot be understood.
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
		err := s.behind(ctx, understanders, func(ctx context.Context, tx pgx.Tx) (bool, error) { return s.understandSome(ctx, tx, bench) })
		if err != nil {
			return err
		}
	}
	return nil
}

// understandSome does so of the next lines of a bench, and says whether there may be more.
func (s *Store) understandSome(ctx context.Context, tx pgx.Tx, bench string) (more bool, err error) {
	var whole int64 // what comes behind it meanwhile is not asked for
	if err := tx.QueryRow(ctx, "select whole from bench where bench = $1", bench).Scan(&whole); err != nil {
		return false, err
	}
	lines, err := s.source(ctx, tx).lines("select "+lineColumns+" from line join bench using (bench) where bench = $1 and seq > understood and seq <= $4 and not starts_with(subject, $3) order by seq limit $2", bench, chunk, toolPrefix, whole)
	if err != nil {
		return false, err
	}
	more = len(lines) == chunk
	for _, line := range lines {
		if line.wrong == nil && line.record.Kind == register.KindContinues {
			if err := renewed(ctx, tx, line.record); err != nil {
				return false, err
			}
		}
	}
	if err := note(ctx, tx, misread(lines, nil)); err != nil {
		return false, err
	}
	if more {
		_, err = tx.Exec(ctx, "update bench set understood = $2 where bench = $1", bench, lines[chunk-1].Seq)
	} else {
		_, err = tx.Exec(ctx, "update bench set understood = $2 where bench = $1 and understood < $2", bench, whole)
	}
	return more, err
}

// misread returns those of lines which cannot be understood, of each bench's those behind a number.
func misread(lines []line, behind map[string]int64) (all []Unread) {
	for _, line := range lines {
		if line.Seq <= behind[line.Bench] {
			continue
		}
		err := line.wrong
		if err == nil {
			err = record.Check(line.record)
		}
		if err != nil {
			all = append(all, Unread{line.Bench, uint64(line.Seq), shown(err.Error())})
		}
	}
	return all
}

// note notes lines that cannot be understood.
func note(ctx context.Context, tx pgx.Tx, all []Unread) error {
	if len(all) == 0 {
		return nil
	}
	b := &pgx.Batch{}
	for _, u := range all {
		b.Queue("insert into unread (bench, seq, why) values ($1, $2, $3) on conflict do nothing", u.Bench, int64(u.Seq), u.Why)
	}
	return tx.SendBatch(ctx, b).Close()
}

// unsettled is a subject of which something came that is not settled.
type unsettled struct {
	subject string
	benches []string         // that have lines of it, and
	seqs    []int64          // the newest of each
	settled map[string]int64 // up to where those of each bench are settled
}

// settleSome makes what is made of the lines of some tools, and says whether there may be more.
func (s *Store) settleSome(ctx context.Context, tx pgx.Tx) (more bool, err error) {
	src := s.source(ctx, tx)
	var all []unsettled
	var ids []string
	var subject, bench string
	var seq, settled int64
	rows, err := tx.Query(ctx, `select subject, bench, seq, settled from subject where subject in (select distinct subject from (select subject from subject where settled < seq limit $1) as unsettled)
		order by subject, bench`, settledTogether)
	if err != nil {
		return false, err
	}
	if _, err := pgx.ForEachRow(rows, []any{&subject, &bench, &seq, &settled}, func() error {
		if n := len(all); n == 0 || all[n-1].subject != subject {
			all = append(all, unsettled{subject: subject, settled: map[string]int64{}})
			ids = append(ids, strings.TrimPrefix(subject, toolPrefix))
		}
		u := &all[len(all)-1]
		u.benches, u.seqs, u.settled[bench] = append(u.benches, bench), append(u.seqs, seq), settled
		return nil
	}); err != nil || len(all) == 0 {
		return false, err
	}
	was, err := writtenOf(ctx, tx, ids)
	if err != nil {
		return false, err
	}
	var tools []made
	var unread []Unread
	written := 0
	var making []func() made // what is made of the tools that were read last, meanwhile
	finish := func(leave int) {
		for ; len(making) > leave; making = making[1:] {
			m := making[0]()
			tools, unread = append(tools, m), append(unread, m.unread...)
			written += len(m.inspections) + len(m.findings)
		}
	}
	for i := 0; i < len(all) && written < rowsTogether; i++ {
		u := all[i]
		found := src.about(u.subject)
		if found.err != nil {
			finish(0)
			return false, found.err
		}
		making = append(making, ahead(func() made {
			m := s.make(src, ids[i], found.lines, len(u.benches), was[ids[i]])
			m.unread = misread(found.lines, u.settled)
			return m
		}))
		finish(runtime.GOMAXPROCS(0))
	}
	finish(0)
	if err := note(ctx, tx, unread); err != nil {
		return false, err
	}
	// What is made of lines that say impossible things may be refused: then each is written by itself, what is refused is
	// said, and the next tool's turn comes.
	put := func(tools ...made) error {
		return pgx.BeginFunc(ctx, tx, func(tx pgx.Tx) error { return put(ctx, tx, tools) })
	}
	if err := put(tools...); err != nil {
		for _, m := range tools {
			if down(err) != err {
				return false, err
			}
			if err = put(m); err == nil || down(err) != err {
				continue
			}
			if err = put(m.unclear(err)); err != nil {
				return false, err
			}
		}
	}
	var subjects, benches []string
	var seqs []int64
	for _, u := range all[:len(tools)] {
		for i := range u.benches {
			subjects, benches, seqs = append(subjects, u.subject), append(benches, u.benches[i]), append(seqs, u.seqs[i])
		}
	}
	// Taking holds rows of this table too, in the same order.
	_, err = tx.Exec(ctx, `with held as materialized (select bench, subject from subject where subject = any($1) order by subject, bench for update)
		update subject s set settled = n.seq from unnest($1::text[], $2::text[], $3::bigint[]) as n(subject, bench, seq) join held using (subject, bench)
		where s.subject = n.subject and s.bench = n.bench and s.settled < n.seq`, subjects, benches, seqs)
	return true, err
}

// written is an inspection as it was written before.
type written struct {
	records  int // that it is made of: none is ever taken away
	standing string
}

// writtenOf returns what was written of each of some tools.
func writtenOf(ctx context.Context, tx pgx.Tx, tools []string) (map[string]map[ledger.Ref]written, error) {
	rows, err := tx.Query(ctx, "select tool, bench, seq, records, standing from inspection where tool = any($1)", tools)
	if err != nil {
		return nil, err
	}
	was := map[string]map[ledger.Ref]written{}
	var tool, bench string
	var seq int64
	var w written
	_, err = pgx.ForEachRow(rows, []any{&tool, &bench, &seq, &w.records, &w.standing}, func() error {
		if was[tool] == nil {
			was[tool] = map[ledger.Ref]written{}
		}
		was[tool][ledger.Ref{Bench: bench, Seq: uint64(seq)}] = w
		return nil
	})
	return was, err
}

// made is what is made of a tool's lines, as rows of the tables.
type made struct {
	id, standing          string
	tool                  []any        // nil where no line is here as a whole
	inspections, findings [][]any      // that are new, or not as they were
	again                 []ledger.Ref // those of the inspections that were written before
	unread                []Unread
	moved                 bool // the standing, from what was written with an inspection
}

// of gives the lines of one tool as its history, and knows of nothing else.
type of struct {
	*Source
	read
}

func (o of) History(string, ...string) iter.Seq2[ledger.Record, error] { return o.records }
func (o of) Subjects(string) ([]string, error)                         { return nil, nil }

// make makes what is made of a tool's lines, the newest of which comes first.
func (s *Store) make(src *Source, id string, lines []line, benches int, was map[ledger.Ref]written) made {
	t, all, unclear := record.Outlines(of{src, read{lines: lines}}, id, func(summary ledger.Ref, records int) bool {
		return was[ledger.Ref{Bench: summary.Bench, Seq: summary.Seq}].records != records
	})
	m := made{id: id, standing: shown(string(t.Standing))}
	for _, w := range was {
		m.moved = m.moved || w.standing != m.standing
	}
	for i := range all {
		m.add(&all[i])
		if summary := all[i].Record; was[ledger.Ref{Bench: summary.Bench, Seq: summary.Seq}].records > 0 {
			m.again = append(m.again, summary.Ref())
		}
	}
	if len(lines) > 0 {
		m.tool = toolRow(lines[0].rawLine, benches, id, t, unclear)
	}
	return m
}

// unclear is what is made of a tool of which what else is made is refused.
func (m made) unclear(refused error) made {
	newest := rawLine{Bench: m.tool[0].(string), Seq: m.tool[2].(int64), Counter: m.tool[3].(int64)}
	return made{id: m.id, tool: toolRow(newest, m.tool[4].(int), m.id, record.Tool{}, refused), moved: true}
}

var toolColumns = []string{"bench", "tool", "seq", "counter", "benches", "standing", "decided_bench", "decided_seq", "inspection", "work", "lacks", "job", "away", "retired", "material", "flutes",
	"nominal_pm", "last_diameter_pm", "wheel", "unclear"}

// toolRow returns a tool as it stands, whose newest line is that.
func toolRow(newest rawLine, benches int, id string, t record.Tool, unclear error) []any {
	why := ""
	if unclear != nil {
		why = unclear.Error()
	}
	return []any{
		newest.Bench, id, newest.Seq, newest.Counter, benches, shown(string(t.Standing)), t.Decided.Bench, int64(t.Decided.Seq), shown(t.State.Inspection), shown(joined(t.What)), shown(t.Lacks()),
		shown(t.State.Job), away(t.Away), shown(t.Retired), shown(string(t.Material)), t.Flutes, int64(t.Diameter), picometres(t.LastDiameter()), shown(lastWheel(t)), shown(why),
	}
}

// put writes what is made of some tools.
func put(ctx context.Context, tx pgx.Tx, all []made) error {
	var ids, moved, standings, benches []string
	var seqs []int64
	var tools, inspections, findings [][]any
	for _, m := range all {
		ids = append(ids, m.id)
		if m.moved {
			moved, standings = append(moved, m.id), append(standings, m.standing)
		}
		if m.tool != nil {
			tools = append(tools, m.tool)
		}
		for _, summary := range m.again {
			benches, seqs = append(benches, summary.Bench), append(seqs, int64(summary.Seq))
		}
		inspections, findings = append(inspections, m.inspections...), append(findings, m.findings...)
	}
	b := &pgx.Batch{}
	b.Queue("delete from tool where tool = any($1)", ids)
	if len(seqs) > 0 {
		for _, table := range []string{"inspection", "finding"} {
			b.Queue("delete from "+table+" t using unnest($1::text[], $2::bigint[]) as n(bench, seq) where t.bench = n.bench and t.seq = n.seq", benches, seqs)
		}
	}
	if len(moved) > 0 {
		b.Queue("update inspection i set standing = n.standing from unnest($1::text[], $2::text[]) as n(tool, standing) where i.tool = n.tool and i.standing <> n.standing", moved, standings)
	}
	if err := tx.SendBatch(ctx, b).Close(); err != nil {
		return err
	}
	for _, to := range []struct {
		table   string
		columns []string
		rows    [][]any
	}{{"inspection", inspectionColumns, inspections}, {"finding", findingColumns, findings}, {"tool", toolColumns, tools}} {
		if len(to.rows) == 0 {
			continue
		}
		if _, err := tx.CopyFrom(ctx, pgx.Identifier{to.table}, to.columns, pgx.CopyFromRows(to.rows)); err != nil {
			return err
		}
	}
	return nil
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

// out is kept of a tool that is out where nobody told where.
const out = "out"

// away returns where a tool is out.
func away(a *record.Away) string {
	if a == nil {
		return ""
	}
	return shown(cmp.Or(a.Where, out))
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

var inspectionColumns = []string{"bench", "seq", "readings_seq", "records", "counter", "inspection", "tool", "job", "stage", "opened", "closed", "clock_set", "inspector", "wheel", "grinder", "verdict",
	"work", "practice", "given_up", "revision", "material", "nominal_pm", "flutes", "divisions", "tir_pm", "tir_most_pm", "tir_gauge", "residual_pm", "share_ppb", "diameter_pm", "relief_ndeg",
	"standing", "corrected_by", "conflict", "ruling", "ruled_by", "ruled_at", "ruled_why"}

var findingColumns = []string{"bench", "seq", "n", "feature", "flute", "from_end_pm", "quantity", "value", "uncertainty", "least", "most", "advice", "verdict", "rule", "probability", "source"}

// add adds an inspection as it stands, with its findings.
func (m *made) add(in *record.Inspection) {
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
	row := []any{
		in.Record.Bench, int64(in.Record.Seq), int64(in.Taken.Seq), recordsOf(in), int64(in.Record.Counter), in.ID, in.Tool.ID, in.Job, string(in.Stage),
		in.Opened, in.Closed, in.Record.Time.Synchronised, in.Inspector, in.Wheel, in.Grinder, string(in.Judgement.Verdict), joined(in.Figures.Work), in.Figures.Practice, in.Discarded,
		in.Basis.Revision, string(in.Tool.Material), int64(in.Tool.Diameter), in.Tool.Flutes, in.Divisions, tir, tirMost, tirGauge, residual, share, diameter, relief,
		string(in.Stands.Standing), corrected, in.Conflict, string(ruling.Word), ruling.By, ruling.At, ruling.Why,
	}
	for i, v := range row {
		if text, ok := v.(string); ok {
			row[i] = shown(text)
		}
	}
	m.inspections = append(m.inspections, row)
	for n, f := range in.Judgement.Findings {
		value, quantity := whole(f.Value)
		least, limit := whole(f.Least)
		most, limit2 := whole(f.Most)
		uncertainty, _ := whole(f.Uncertainty)
		m.findings = append(m.findings, []any{
			row[0], row[1], n + 1, shown(string(f.Feature)), f.Flute, picometres(f.FromEnd), cmp.Or(quantity, limit, limit2), value, uncertainty, least, most,
			f.Advice, shown(string(f.Verdict)), shown(string(f.Rule)), f.Probability, shown(f.Source),
		})
	}
}

// Rebuild makes all that is made of the lines anew. Lines are taken meanwhile.
func (s *Store) Rebuild(ctx context.Context) error {
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, "select pg_advisory_xact_lock($1), pg_advisory_xact_lock($2)", int64(settlers), int64(understanders))
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
