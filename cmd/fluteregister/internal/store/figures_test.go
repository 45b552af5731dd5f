package store_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"flutelog/cmd/fluteregister/internal/api"
	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/cluster"
	"flutelog/cmd/fluteregister/internal/cluster/clustertest"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/report"
)

// ledgerVariable names a bench's ledger that figures are measured with.
const ledgerVariable = "FLUTEREGISTER_FIGURES"

// best returns the shortest of three times that something takes, each behind what makes it ready.
func best(t *testing.T, f func(), ready ...func()) time.Duration {
	t.Helper()
	shortest := time.Duration(0)
	for range 3 {
		for _, make := range ready {
			make()
		}
		begun := time.Now()
		f()
		if d := time.Since(begun); shortest == 0 || d < shortest {
			shortest = d
		}
	}
	return shortest
}

// TestFigures measures what a register costs, with a ledger that cmd/figures gives it, and prints a row for each figure: what,
// figure, yardstick, bar and whether it is met, with tabs between.
func TestFigures(t *testing.T) {
	dir := os.Getenv(ledgerVariable)
	if dir == "" {
		t.Skip("it measures, and go run ./cmd/figures runs it")
	}
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	row := func(what, got, yardstick, bar string, met bool) {
		fmt.Printf("figure\t%s\t%s\t%s\t%s\t%v\n", what, got, yardstick, bar, met)
	}
	times := func(what string, d, of time.Duration, yardstick string, bar float64) {
		ratio := d.Seconds() / of.Seconds()
		row(what, fmt.Sprintf("%.2f times, %v", ratio, d.Round(time.Millisecond)), fmt.Sprintf("%s %v", yardstick, of.Round(time.Millisecond)), fmt.Sprintf("%g times", bar), ratio <= bar)
	}
	db, err := cluster.New("shared_buffers=256MB", "max_wal_size=4GB")
	clustertest.Need(t, err)
	defer db.Remove()
	must(db.Start())
	fresh := func(name string) *store.Store {
		t.Helper()
		must(db.Create(name))
		s, err := store.Open(t.Context(), db.URL(name), t.TempDir())
		if !errors.Is(err, store.ErrEmpty) {
			t.Fatal(err)
		}
		must(s.SetUp(t.Context()))
		return s
	}
	l, err := ledger.Open(dir, ledger.Options{Bench: "measured"})
	must(err)
	own, err := l.Head()
	must(err)
	var lines [][]byte
	size := 0
	for line, err := range l.Lines(own.Bench, 0) {
		must(err)
		lines = append(lines, bytes.Clone(line.Text))
		size += len(line.Text)
	}
	s := fresh("copied")
	defer s.Close()
	const batch = 256
	copied := func(table string, columns []string, row func(i int) []any) time.Duration {
		return best(t, func() {
			for from := 0; from < len(lines); from += batch {
				n := min(batch, len(lines)-from)
				must(pgx.BeginFunc(t.Context(), s.Pool(), func(tx pgx.Tx) error {
					_, err := tx.CopyFrom(t.Context(), pgx.Identifier{table}, columns, pgx.CopyFromSlice(n, func(i int) ([]any, error) { return row(from + i), nil }))
					return err
				}))
			}
		}, func() {
			_, err := s.Pool().Exec(t.Context(), "reset role; truncate "+table)
			must(err)
		})
	}
	_, err = s.Pool().Exec(t.Context(), "reset role; create table bare (raw bytea compression lz4 not null)")
	must(err)
	records := make([]ledger.Record, len(lines))
	checking := best(t, func() {
		tail := ledger.Tail{Bench: own.Bench}
		for i, text := range lines {
			if records[i], err = tail.Take(text); err != nil {
				t.Fatal(err)
			}
		}
	})
	bare := copied("bare", []string{"raw"}, func(i int) []any { return []any{lines[i]} })
	straight := copied("line", []string{"bench", "seq", "counter", "kind", "subject", "utc", "sha256", "raw"}, func(i int) []any {
		r := records[i]
		hash, _ := hex.DecodeString(r.Hash)
		return []any{own.Bench, int64(r.Seq), int64(r.Counter), r.Kind, r.Subject, r.Time.UTC, hash, lines[i]}
	})
	times(fmt.Sprintf("register: %d lines, %d MB, straight into the table", len(lines), size/1e6), straight, bare, "the bytes alone by COPY", 1.3)
	times("register: checking them on arrival", checking, straight, "the table", 1)
	var table int64
	must(s.Pool().QueryRow(t.Context(), "select sum(pg_total_relation_size(inhrelid)) from pg_inherits where inhparent = 'line'::regclass").Scan(&table))
	ratio := float64(table) / float64(size)
	row("register: bytes of the lines with their indexes", fmt.Sprintf("%.2f times", ratio), fmt.Sprintf("the ledger's %d MB", size/1e6), "0.6 times", ratio <= 0.6)

	// The whole way: a bench's own sender over TLS, all checked, taken and settled.
	whole := fresh("whole")
	defer whole.Close()
	b, err := book.Open(filepath.Join(t.TempDir(), "ledger"))
	must(err)
	server := httptest.NewTLSServer(api.New(whole, b, time.Now, func(format string, args ...any) { t.Logf(format, args...) }, func() {}))
	defer server.Close()
	token, key := sha256.Sum256([]byte("a token")), sha256.Sum256(server.Certificate().RawSubjectPublicKeyInfo)
	e := register.Enrolment{Address: server.Listener.Addr().String(), Token: base64.RawURLEncoding.EncodeToString(token[:]), Key: hex.EncodeToString(key[:])}
	sum := sha256.Sum256([]byte(e.Token))
	must(b.Enrol(t.Context(), whole, store.Enrolled{Token: hex.EncodeToString(sum[:]), Label: "measured"}))
	c := &register.Conn{Enrolment: e}
	defer c.Close()
	begun := time.Now()
	_, err = c.Send(t.Context(), l)
	must(err)
	taken := time.Since(begun)
	must(whole.Settle(t.Context()))
	all := time.Since(begun)
	times("register: sent by the bench over TLS, checked and taken", taken, straight, "the table", 6)
	times("register: the same, and all inspections and findings made", all, straight, "the table", 12)

	format := report.Format{Unit: length.In}
	bench := best(t, func() { must(report.ReadingsCSV(io.Discard, record.Readings(l, record.Filter{}), format)) })
	here := best(t, func() {
		must(whole.Read(t.Context(), func(src *store.Source) error {
			return report.ReadingsCSV(io.Discard, record.Readings(src, record.Filter{}), format)
		}))
	})
	times("register: report of all readings", here, bench, "the bench's own", 1.5)
	packed, err := whole.Pack(t.Context(), time.Now().Add(time.Hour))
	must(err)
	ratio = float64(packed.Kept) / float64(packed.Plain)
	row("register: bytes of old lines, packed", fmt.Sprintf("%.3f times", ratio), fmt.Sprintf("the ledger's %d MB", packed.Plain/1e6), "0.15 times", ratio <= 0.15)
	tools, _, err := whole.Tools(t.Context(), store.Found{})
	must(err)
	if len(tools) == 0 {
		t.Fatal("no tools")
	}
	one := best(t, func() {
		must(whole.Read(t.Context(), func(src *store.Source) error {
			_, err := record.FindTool(src, tools[len(tools)/2].ID)
			return err
		}))
	})
	row(fmt.Sprintf("register: one tool as it stands, of %d", len(tools)), one.Round(10*time.Microsecond).String(), "-", "50ms", one <= 50*time.Millisecond)
}
