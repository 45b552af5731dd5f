package store

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// Tool is a tool as it stands over all benches, in short.
type Tool struct {
	record.Listed
	Bench   string `json:"bench"`   // that recorded of it last
	Label   string `json:"label"`   // of that
	Benches int    `json:"benches"` // that have recorded of it
	Lacks   string `json:"lacks,omitempty"`
}

// Found says which tools are looked for; an empty field is any.
type Found struct {
	Text     string // that the id or the job holds, whatever the case
	Standing record.Standing
	Bench    string // that recorded of it last
	Most     int    // 0 for all
}

// Tools returns the tools that are looked for, as people sort them, and how many there are of them. What was taken last may
// be missing for a moment.
func (s *Store) Tools(ctx context.Context, f Found) (all []Tool, of int, err error) {
	return s.tools(ctx, `where ($1 = '' or strpos(lower(tool), lower($1)) > 0 or strpos(lower(job), lower($1)) > 0) and $2 in ('', standing) and $3 in ('', t.bench)
		order by regexp_replace(lower(tool), '[0-9]+', '', 'g'), length(tool), lower(tool), tool limit nullif($4, 0)`, f.Text, string(f.Standing), f.Bench, f.Most)
}

// ToolsNamed returns tools by their ids, as they stand, and as a board wants them.
func (s *Store) ToolsNamed(ctx context.Context, ids []string) (map[string]Tool, map[string]record.Listed, error) {
	all, _, err := s.tools(ctx, "where tool = any($1)", ids)
	tools, listed := make(map[string]Tool, len(all)), make(map[string]record.Listed, len(all))
	for _, t := range all {
		tools[t.ID], listed[t.ID] = t, t.Listed
	}
	return tools, listed, err
}

func (s *Store) tools(ctx context.Context, where string, args ...any) (all []Tool, of int, err error) {
	rows, err := s.pool.Query(ctx, `select tool, t.bench, b.label, benches, standing, decided_bench, decided_seq, inspection, work, lacks, job, away, retired, material, flutes, nominal_pm, last_diameter_pm, wheel, unclear,
		count(*) over () from tool t join bench b using (bench) `+where, args...)
	if err != nil {
		return nil, 0, down(err)
	}
	all, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (t Tool, err error) {
		var seq, nominal int64
		var last *int64
		var work, away string
		err = row.Scan(&t.ID, &t.Bench, &t.Label, &t.Benches, &t.Standing, &t.Since.Bench, &seq, &t.Inspection, &work, &t.Lacks, &t.Job, &away, &t.Retired, &t.Material, &t.Flutes, &nominal, &last, &t.Wheel, &t.Damaged, &of)
		t.Since.Seq, t.Diameter = uint64(seq), length.Length(nominal)
		if last != nil {
			d := length.Length(*last)
			t.Last = &d
		}
		if away != "" {
			t.Away = &record.Away{Where: away}
			if away == out {
				t.Away.Where = ""
			}
		}
		for _, w := range strings.FieldsFunc(work, func(r rune) bool { return r == ',' }) {
			t.What = append(t.What, inspect.Task(w))
		}
		return t, err
	})
	return all, of, down(err)
}

// Double is an inspection's id that several benches gave.
type Double struct {
	Inspection string   `json:"inspection"`
	Benches    []string `json:"benches"`
}

// Doubles returns the ids that several benches gave to inspections of theirs: they name different inspections.
func (s *Store) Doubles(ctx context.Context) ([]Double, error) {
	rows, err := s.pool.Query(ctx, "select inspection, array_agg(distinct bench order by bench) from inspection group by inspection having count(distinct bench) > 1 order by inspection")
	if err != nil {
		return nil, down(err)
	}
	all, err := pgx.CollectRows(rows, pgx.RowToStructByPos[Double])
	return all, down(err)
}

// figures are what a trend is of, the column that it is kept in, and the feature whose findings say what it was held against.
var figures = map[string]struct {
	column  string
	feature inspect.Feature // "" for one that is not judged
	kind    string          // of that feature's findings
	unit    string
}{
	"tir": {"tir_pm", inspect.RadialRunout, "length", "mm"}, "residual": {"residual_pm", "", "length", "mm"}, "ratio": {"share_ppb", inspect.PrimaryLand, "share", "1"},
	"diameter": {"diameter_pm", inspect.Diameter, "length", "mm"}, "relief": {"relief_ndeg", inspect.ReliefDrop, "angle", "deg"},
}

// groups are what a trend is looked at by.
var groups = map[string]string{"wheel": "wheel", "grinder": "grinder", "gauge": "tir_gauge", "person": "inspector", "plant": "plant", "bench": "i.bench", "tool": "tool"}

// Trend says what a trend is of.
type Trend struct {
	What, By string // a figure, and what it is grouped by
	Of       string // one of those; "" for all
	Stage    inspect.Stage
	From, To time.Time // of closing; To is not included. Zero is any
}

// Month is what a figure came to in a month.
type Month struct {
	Of          string   `json:"of"`
	Month       string   `json:"month"` // 2026-01, by the benches' clocks
	Inspections int      `json:"inspections"`
	Mean        float64  `json:"mean"`
	SD          *float64 `json:"sd,omitempty"` // sample; nil for one inspection
	Least       float64  `json:"least"`
	Most        float64  `json:"most"`
	Rejected    int      `json:"rejected"` // for this figure
}

// Value is one inspection's figure.
type Value struct {
	Inspection string   `json:"inspection"`
	Bench      string   `json:"bench"`
	Closed     string   `json:"closed"`
	Of         string   `json:"of"`
	Value      float64  `json:"value"`
	Least      *float64 `json:"least,omitempty"` // that it may be, as it was judged
	Most       *float64 `json:"most,omitempty"`
}

// ErrNoTrend says that there is no trend of that, or not by that.
var ErrNoTrend = fmt.Errorf("want what=tir, residual, ratio, diameter or relief, and by=wheel, grinder, gauge, person, plant, bench or tool")

// query returns the inspections that a trend is of, and the unit of its figure: what was given up or read in practice is not
// among them.
func (t Trend) query() (from, value, group, unit string, args []any, err error) {
	figure, known := figures[t.What]
	by, grouped := groups[t.By]
	if !known || !grouped {
		return "", "", "", "", nil, ErrNoTrend
	}
	from = fmt.Sprintf(`from inspection i join bench b using (bench) where %s is not null and given_up = '' and not practice and ($1 = '' or %s = $1) and $2 in ('', stage)
		and ($3 = '' or closed >= $3) and ($4 = '' or closed < $4)`, figure.column, by)
	day := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return t.UTC().Format("2006-01-02T15:04:05.000000Z")
	}
	return from, figure.column + " / 1e9::float8", by, figure.unit, []any{t.Of, string(t.Stage), day(t.From), day(t.To)}, nil
}

// Months returns what a figure came to month by month in each group, and its unit: mm, deg, or 1 for a share.
func (s *Store) Months(ctx context.Context, t Trend) ([]Month, string, error) {
	from, value, group, unit, args, err := t.query()
	if err != nil {
		return nil, "", err
	}
	rows, err := s.pool.Query(ctx, fmt.Sprintf(`select %[1]s, left(closed, 7), count(*), avg(%[2]s), stddev_samp(%[2]s), min(%[2]s), max(%[2]s), count(*) filter (where verdict = 'reject' and exists (
			select from finding f where f.bench = i.bench and f.seq = i.seq and feature = $5 and quantity = $6 and not advice and f.verdict = 'reject')) %[3]s
		group by 1, 2 order by 1, 2`, group, value, from), append(args, string(figures[t.What].feature), figures[t.What].kind)...)
	if err != nil {
		return nil, unit, down(err)
	}
	all, err := pgx.CollectRows(rows, pgx.RowToStructByPos[Month])
	return all, unit, down(err)
}

// Values returns the figure of each inspection in the order of their records, which no clock decides; the last ones where there
// are more than most.
func (s *Store) Values(ctx context.Context, t Trend, most int) ([]Value, string, error) {
	from, value, group, unit, args, err := t.query()
	if err != nil {
		return nil, "", err
	}
	rows, err := s.pool.Query(ctx, fmt.Sprintf(`select inspection, bench, closed, of, value, held.least / 1e9::float8, held.most / 1e9::float8
		from (select inspection, i.bench, closed, %s as of, %s as value, i.counter, i.seq %s order by i.counter desc, i.bench desc, i.seq desc limit $5) as last
		left join lateral (select max(least) as least, min(most) as most from finding f where f.bench = last.bench and f.seq = last.seq and feature = $6 and quantity = $7 and not advice) as held on true
		order by counter, bench, seq`, group, value, from), append(args, most, string(figures[t.What].feature), figures[t.What].kind)...)
	if err != nil {
		return nil, unit, down(err)
	}
	all, err := pgx.CollectRows(rows, pgx.RowToStructByPos[Value])
	return all, unit, down(err)
}
