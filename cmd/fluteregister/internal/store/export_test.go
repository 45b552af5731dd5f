package store

import "github.com/jackc/pgx/v5/pgxpool"

// Pool is the store's connections, for what is measured beside them.
func (s *Store) Pool() *pgxpool.Pool { return s.pool }
