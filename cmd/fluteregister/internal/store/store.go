// Package store keeps the lines of many benches in PostgreSQL, and what is made of them. It is the only package that knows
// of the database.
//
// The lines are the truth. They are taken by one transaction a batch, under the lock of their bench's row, and are on the
// medium when Take returns. What is made of them, inspections, findings and tools as they stand over all benches, is
// settled behind that, tool by tool, in transactions of its own: a line that cannot be understood keeps no other from being
// taken, and a bench never waits for another's.
package store

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"

	"flutelog/inspect/record"
)

// Schema is the SQL that sets up an empty database.
//
//go:embed schema.sql
var Schema string

// Version is that of the tables that this program works with, as Schema notes it. Tables without a note are of version 1.
const Version = 4

// steps bring tables up, each from the version before its number; what they come to is what Schema makes.
//
//go:embed steps
var steps embed.FS

// VersionError says that a database's tables are of another version than this program works with.
type VersionError struct{ Tables int }

func (v *VersionError) Error() string {
	if v.Tables > Version {
		return fmt.Sprintf("the register's tables are of version %d, and this program works with version %d: a newer program has been here, and that one must go on; nothing was changed", v.Tables, Version)
	}
	return fmt.Sprintf("the register's tables are of version %d, and this program works with version %d; nothing was changed", v.Tables, Version)
}

// Oldest is the oldest version of PostgreSQL that the schema runs on.
const Oldest = 15

// taker is the role that the register works as, where it is there: it can change and delete no line.
const taker = "fluteregister_taker"

// Store is a register's database. It may be used by several goroutines.
type Store struct {
	Now func() time.Time // the register's clock, which all it notes goes by

	pool *pgxpool.Pool
	dir  string
	dirt chan struct{} // told that there is something to settle

	mu           sync.Mutex
	dictionaries map[int16][]byte       // by codec
	missing      map[string][]witnessed // by bench, by number
	catching     map[string]catching    // by bench
}

// ErrEmpty says that the database holds no register.
var ErrEmpty = errors.New("the database holds no register yet")

// ErrDown says that the database did not answer, or not in time.
var ErrDown = errors.New("the database does not answer")

// connections is how many the register keeps to its database, unless the URL says so with pool_max_conns.
const connections = 16

// Open connects to the database of a URL or of keywords and values, as psql takes them. dir is a folder for an index of all
// tools, which can be deleted at any time; "" for none. Without the register's tables it returns ErrEmpty, with those of another
// version a *VersionError, each with a store that can only be set up, or brought up.
func Open(ctx context.Context, url, dir string) (*Store, error) {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, fmt.Errorf("database: %w", err)
	}
	config.ConnConfig.ConnectTimeout = 10 * time.Second
	if !strings.Contains(url, "pool_max_conns") {
		config.MaxConns = connections
	}
	for name, value := range map[string]string{
		"application_name":                    "fluteregister",
		"synchronous_commit":                  "on", // an answer is an acknowledgement, whatever the server's default
		"timezone":                            "UTC",
		"lock_timeout":                        "30s",
		"idle_in_transaction_session_timeout": "120s",
	} {
		config.ConnConfig.RuntimeParams[name] = value
	}
	config.AfterConnect = func(ctx context.Context, c *pgx.Conn) error {
		var may bool
		err := c.QueryRow(ctx, "select exists (select from pg_roles where rolname = $1) and coalesce((select pg_has_role(oid, 'member') from pg_roles where rolname = $1), false)", taker).Scan(&may)
		if err == nil && may {
			_, err = c.Exec(ctx, "set role "+taker)
		}
		return err
	}
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, fmt.Errorf("database: %w", err)
	}
	s := &Store{Now: time.Now, pool: pool, dir: dir, dirt: make(chan struct{}, 1), catching: map[string]catching{}}
	var server int
	var there bool
	err = pool.QueryRow(ctx, "select current_setting('server_version_num')::int / 10000, to_regclass('public.line') is not null").Scan(&server, &there)
	switch {
	case err != nil:
		pool.Close()
		return nil, fmt.Errorf("database: %w", down(err))
	case server < Oldest:
		pool.Close()
		return nil, fmt.Errorf("database: PostgreSQL %d: want %d or later", server, Oldest)
	case !there:
		return s, ErrEmpty
	}
	tables, err := version(ctx, pool)
	if err != nil {
		pool.Close()
		return nil, fmt.Errorf("database: %w", down(err))
	}
	if tables != Version {
		return s, &VersionError{tables}
	}
	return s, nil
}

// version returns that of the tables; 0 where there are none.
func version(ctx context.Context, q querier) (v int, err error) {
	var there, noted bool
	err = q.QueryRow(ctx, "select to_regclass('public.line') is not null, to_regclass('public.version') is not null").Scan(&there, &noted)
	switch {
	case err != nil || !there:
		return 0, err
	case !noted:
		return 1, nil
	}
	return v, q.QueryRow(ctx, "select version from version").Scan(&v)
}

// SetUp makes the register's tables in an empty database. Where another program has done so meanwhile it does nothing.
func (s *Store) SetUp(ctx context.Context) error {
	err := s.change(ctx, func(tx pgx.Tx, is int) error {
		if is > 0 {
			return nil
		}
		_, err := tx.Exec(ctx, Schema)
		return err
	})
	if err != nil {
		return fmt.Errorf("setting up the database: %w", err)
	}
	return nil
}

// BringUp brings the tables of an older version up, step by step, in one transaction, and returns which version they were of.
func (s *Store) BringUp(ctx context.Context) (from int, err error) {
	err = s.change(ctx, func(tx pgx.Tx, is int) error {
		if from = is; is == 0 {
			return ErrEmpty
		} else if is > Version {
			return &VersionError{is}
		}
		for v := is + 1; v <= Version; v++ {
			step, err := steps.ReadFile(fmt.Sprintf("steps/%d.sql", v))
			if err == nil {
				_, err = tx.Exec(ctx, string(step))
			}
			if err == nil {
				_, err = tx.Exec(ctx, "update version set version = $1", v)
			}
			if err != nil {
				return fmt.Errorf("from version %d to %d: %w", v-1, v, err)
			}
		}
		return nil
	})
	if err != nil {
		return from, fmt.Errorf("bringing the database up: %w", err)
	}
	return from, nil
}

// change changes the tables, whose version it tells, with the rights of who set them up. One program at a time does so.
func (s *Store) change(ctx context.Context, do func(tx pgx.Tx, version int) error) error {
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "reset role"); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, "select pg_advisory_xact_lock($1)", int64(changers)); err != nil {
			return err
		}
		is, err := version(ctx, tx)
		if err != nil {
			return err
		}
		return do(tx, is)
	})
	s.pool.Reset() // every connection works as the role, and with the tables, that are there now
	return err
}

// Unsafe says in words what of the database's settings an acknowledgement cannot rest on; "" for nothing.
func (s *Store) Unsafe(ctx context.Context) (string, error) {
	var fsync, pages string
	err := s.pool.QueryRow(ctx, "select current_setting('fsync'), current_setting('full_page_writes')").Scan(&fsync, &pages)
	if err == nil && (fsync != "on" || pages != "on") {
		return fmt.Sprintf("the database runs with fsync %s and full_page_writes %s: what it acknowledges can be lost in a power cut", fsync, pages), nil
	}
	return "", down(err)
}

// ErrServed says that another register serves the database.
var ErrServed = errors.New("another fluteregister serves this database")

// serverLeaves is how long one that was ended may still seem to serve.
const serverLeaves = 5 * time.Second

// Serve takes the lock of the one register that serves the database, and returns what gives it back.
func (s *Store) Serve(ctx context.Context) (end func(), err error) {
	c, err := pgx.ConnectConfig(ctx, s.pool.Config().ConnConfig)
	if err != nil {
		return nil, down(err)
	}
	end = func() { c.Close(context.WithoutCancel(ctx)) }
	for until := time.Now().Add(serverLeaves); ; {
		var mine bool
		if err := c.QueryRow(ctx, "select pg_try_advisory_lock($1)", int64(servers)).Scan(&mine); err != nil {
			end()
			return nil, down(err)
		}
		if mine {
			return end, nil
		}
		if time.Now().After(until) {
			end()
			return nil, ErrServed
		}
		select {
		case <-ctx.Done():
		case <-time.After(100 * time.Millisecond):
		}
	}
}

// Close ends all connections.
func (s *Store) Close() { s.pool.Close() }

// down marks an error as the database's silence, unless the database has answered.
func down(err error) error {
	var answered *pgconn.PgError
	switch {
	case err == nil, errors.Is(err, ErrDown), errors.As(err, new(*DamagedError)):
		return err
	case errors.As(err, &answered) && answered.Code[:2] != "57" && answered.Code[:2] != "53" && answered.Code[:2] != "08" && answered.Code[:2] != "55":
		return err // 57: it is being shut down; 53: it is out of something; 08: the connection; 55: a lock
	}
	for _, ours := range []error{ErrMoved, ErrParted, ErrShut, ErrNone, ErrStranger, record.ErrNoTool, record.ErrNoJob, record.ErrNoInspection, record.ErrAmbiguous} {
		if errors.Is(err, ours) {
			return err // what was found
		}
	}
	return fmt.Errorf("%w: %w", ErrDown, err)
}
