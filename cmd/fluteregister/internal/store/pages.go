package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"flutelog/inspect/record"
)

// Counted returns how many of the tools that are looked for stand how, whatever standing is asked for.
func (s *Store) Counted(ctx context.Context, f Found) (map[record.Standing]int, error) {
	rows, err := s.pool.Query(ctx, `select standing, count(*) from tool
		where ($1 = '' or strpos(lower(tool), lower($1)) > 0 or strpos(lower(job), lower($1)) > 0) and $2 in ('', bench) group by 1`, f.Text, f.Bench)
	if err != nil {
		return nil, down(err)
	}
	counts := map[record.Standing]int{}
	var standing string
	var n int
	_, err = pgx.ForEachRow(rows, []any{&standing, &n}, func() error {
		counts[record.Standing(standing)] = n
		return nil
	})
	return counts, down(err)
}

// Unclear is a tool of which not all can be told, and why.
type Unclear struct{ Tool, Why string }

// Unclear returns those of all benches.
func (s *Store) Unclear(ctx context.Context) ([]Unclear, error) {
	rows, err := s.pool.Query(ctx, "select tool, unclear from tool where unclear <> '' order by tool")
	if err != nil {
		return nil, down(err)
	}
	all, err := pgx.CollectRows(rows, pgx.RowToStructByPos[Unclear])
	return all, down(err)
}

// IDs returns the ids of all tools.
func (s *Store) IDs(ctx context.Context) ([]string, error) {
	rows, err := s.pool.Query(ctx, "select tool from tool order by tool")
	if err != nil {
		return nil, down(err)
	}
	all, err := pgx.CollectRows(rows, pgx.RowTo[string])
	return all, down(err)
}
