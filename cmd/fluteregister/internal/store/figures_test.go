package store_test

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"flutelog/cmd/fluteregister/internal/cluster"
	"flutelog/cmd/fluteregister/internal/cluster/clustertest"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/report"
)

// ledgersVariable names a folder with what figures are measured with: one, the ledger of a bench, and benches, those of many
// that send at once. In rowsVariable stands how many inspections stand in the tables that are asked.
const (
	ledgersVariable = "FLUTEREGISTER_FIGURES"
	rowsVariable    = "FLUTEREGISTER_FIGURES_ROWS"
)

// figures measures on a database of its own, and prints a row for each figure: what, figure, yardstick, bar and whether it is
// met, with tabs between.
type figures struct {
	*testing.T
	db  *cluster.Cluster
	dir string
}

func (f figures) row(what, got, yardstick, bar string, met bool) {
	fmt.Printf("figure\tregister: %s\t%s\t%s\t%s\t%v\n", what, got, yardstick, bar, met)
}

// times is a row of how often a yardstick goes into something.
func (f figures) times(what string, d, of time.Duration, yardstick string, bar float64) {
	ratio := d.Seconds() / of.Seconds()
	f.row(what, fmt.Sprintf("%.2f times, %v", ratio, short(d)), fmt.Sprintf("%s %v", yardstick, short(of)), fmt.Sprintf("%g times", bar), ratio <= bar)
}

// short is a duration to three digits or so.
func short(d time.Duration) time.Duration {
	return d.Round(max(d/500, time.Microsecond).Truncate(time.Microsecond))
}

func (f figures) must(err error) {
	f.Helper()
	if err != nil {
		f.Fatal(err)
	}
}

// fresh returns a register in a new database.
func (f figures) fresh(name string) *store.Store {
	f.Helper()
	f.must(f.db.Create(name))
	s, err := store.Open(f.Context(), f.db.URL(name), f.TempDir())
	if !errors.Is(err, store.ErrEmpty) {
		f.Fatal(err)
	}
	f.must(s.SetUp(f.Context()))
	f.Cleanup(s.Close)
	return s
}

// sql carries out statements with the rights of who set the database up.
func (f figures) sql(s *store.Store, statements ...string) {
	f.Helper()
	f.must(pgx.BeginFunc(f.Context(), s.Pool(), func(tx pgx.Tx) error {
		for _, sql := range append([]string{"reset role"}, statements...) {
			if _, err := tx.Exec(f.Context(), sql); err != nil {
				return fmt.Errorf("%s: %w", sql, err)
			}
		}
		return nil
	}))
}

// best returns the shortest of some times that each of several things takes, in turns, so that what else the machine does
// bears on all of them.
func best(tries int, things ...func() time.Duration) []time.Duration {
	shortest := make([]time.Duration, len(things))
	for range tries {
		for i, f := range things {
			if d := f(); shortest[i] == 0 || d < shortest[i] {
				shortest[i] = d
			}
		}
	}
	return shortest
}

// timed returns how long something takes.
func timed(f func()) time.Duration {
	begun := time.Now()
	f()
	return time.Since(begun)
}

// clocked makes something a thing for best.
func clocked(f func()) func() time.Duration { return func() time.Duration { return timed(f) } }

// TestFigures measures what a register costs, with ledgers that cmd/figures gives it.
func TestFigures(t *testing.T) {
	dir := os.Getenv(ledgersVariable)
	if dir == "" {
		t.Skip("it measures, and go run ./cmd/figures runs it")
	}
	db, err := cluster.New("shared_buffers=256MB", "max_wal_size=4GB", "max_connections=200")
	clustertest.Need(t, err)
	defer db.Remove()
	f := figures{t, db, dir}
	f.must(db.Start())
	l, err := ledger.Open(filepath.Join(dir, "one"), ledger.Options{Bench: "measured"})
	f.must(err)
	straight := f.taking(l)
	f.wholeWay(l, straight)
	f.together()
	f.tables()
}

// taking measures what it costs to put lines into the table, and returns how long that takes at the best.
func (f figures) taking(l *ledger.Ledger) time.Duration {
	own, err := l.Head()
	f.must(err)
	var lines [][]byte
	size := 0
	for line, err := range l.Lines(own.Bench, 0) {
		f.must(err)
		lines = append(lines, bytes.Clone(line.Text))
		size += len(line.Text)
	}
	s := f.fresh("copied")
	f.sql(s, "create table bare (raw bytea compression lz4 not null)", "grant all on bare to public")
	const batch = 256
	copied := func(table string, columns []string, row func(i int) []any) time.Duration {
		f.sql(s, "truncate "+table)
		return timed(func() {
			for from := 0; from < len(lines); from += batch {
				n := min(batch, len(lines)-from)
				f.must(pgx.BeginFunc(f.Context(), s.Pool(), func(tx pgx.Tx) error {
					_, err := tx.CopyFrom(f.Context(), pgx.Identifier{table}, columns, pgx.CopyFromSlice(n, func(i int) ([]any, error) { return row(from + i), nil }))
					return err
				}))
			}
		})
	}
	records := make([]ledger.Record, len(lines))
	fastest := best(4, func() time.Duration {
		return timed(func() {
			tail := ledger.Tail{Bench: own.Bench}
			for i, text := range lines {
				if records[i], err = tail.Take(text); err != nil {
					f.Fatal(err)
				}
			}
		})
	}, func() time.Duration {
		return copied("bare", []string{"raw"}, func(i int) []any { return []any{lines[i]} })
	}, func() time.Duration {
		return copied("line", []string{"bench", "seq", "counter", "kind", "subject", "utc", "sha256", "raw"}, func(i int) []any {
			r := records[i]
			hash, _ := hex.DecodeString(r.Hash)
			return []any{own.Bench, int64(r.Seq), int64(r.Counter), r.Kind, r.Subject, r.Time.UTC, hash, lines[i]}
		})
	})
	checking, bare, straight := fastest[0], fastest[1], fastest[2]
	f.times(fmt.Sprintf("%d lines, %d MB, straight into the table by COPY", len(lines), size/1e6), straight, bare, "the bytes alone by COPY", 1.3)
	f.times("checking them on arrival", checking, straight, "the table", 1)
	var table int64
	f.must(s.Pool().QueryRow(f.Context(), "select sum(pg_total_relation_size(inhrelid)) from pg_inherits where inhparent = 'line'::regclass").Scan(&table))
	ratio := float64(table) / float64(size)
	f.row("bytes of the lines with their indexes", fmt.Sprintf("%.2f times", ratio), fmt.Sprintf("the ledger's %d MB", size/1e6), "0.6 times", ratio <= 0.6)
	return straight
}

// server is the register's program, which serves.
type server struct {
	figures
	store *store.Store
	cmd   *exec.Cmd
	register.Enrolment
}

var listening = regexp.MustCompile(`listening at (\S+); this register's key is ([0-9a-f]+)`)

// serve starts the register's program on a new database.
func (f figures) serve(name string) *server {
	f.Helper()
	v := &server{figures: f, store: f.fresh(name)}
	program := filepath.Join(f.TempDir(), "fluteregister")
	if out, err := exec.Command("go", "build", "-trimpath", "-o", program, "flutelog/cmd/fluteregister").CombinedOutput(); err != nil {
		f.Fatalf("%v: %s", err, out)
	}
	v.cmd = exec.Command(program, "serve", "--listen", "127.0.0.1:0", "--folder", f.TempDir(), "--database", f.db.URL(name))
	said, err := v.cmd.StderrPipe()
	f.must(err)
	f.must(v.cmd.Start())
	f.Cleanup(v.end)
	for lines := bufio.NewScanner(said); lines.Scan(); {
		if found := listening.FindStringSubmatch(lines.Text()); found != nil {
			v.Address, v.Key = found[1], found[2]
			go io.Copy(io.Discard, said)
			return v
		}
	}
	f.Fatal("the register does not listen")
	return nil
}

func (v *server) end() {
	v.cmd.Process.Kill()
	v.cmd.Wait()
}

// enrol lets a bench send.
func (v *server) enrol(label string) register.Enrolment {
	v.Helper()
	random := sha256.Sum256([]byte(label))
	e := v.Enrolment
	e.Token = base64.RawURLEncoding.EncodeToString(random[:])
	sum := sha256.Sum256([]byte(e.Token))
	v.must(v.store.Enrol(v.Context(), store.Enrolled{Token: hex.EncodeToString(sum[:]), Label: label, Since: time.Now()}))
	return e
}

// mebibytes returns the most memory that the server has had.
func (v *server) mebibytes() float64 {
	v.Helper()
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", v.cmd.Process.Pid))
	v.must(err)
	_, most, _ := strings.Cut(string(status), "VmHWM:")
	var kb float64
	if _, err := fmt.Sscan(most, &kb); err != nil {
		v.Fatal(err)
	}
	return kb / 1024
}

// settled waits until all is made of what was taken: the server makes it meanwhile, and so does this.
func (v *server) settled() { v.must(v.store.Settle(v.Context())) }

// wholeWay measures a bench's own sender over TLS to the register's program, which checks, takes and settles; and what is read
// of that.
func (f figures) wholeWay(l *ledger.Ledger, straight time.Duration) {
	own, err := l.Head()
	f.must(err)
	var taken, all time.Duration
	var v *server
	for n := range 3 {
		if v != nil {
			v.end()
			v.store.Close()
		}
		v = f.serve(fmt.Sprintf("whole%d", n))
		c := &register.Conn{Enrolment: v.enrol("measured")}
		begun := time.Now()
		sent, err := c.Send(f.Context(), l)
		f.must(err)
		if sent.Head.Seq != own.Seq {
			f.Fatalf("%d lines are acknowledged, want %d", sent.Head.Seq, own.Seq)
		}
		took := time.Since(begun)
		v.settled()
		if d := time.Since(begun); all == 0 || d < all {
			taken, all = took, d
		}
		c.Close()
	}
	f.times("sent by the bench over TLS, checked and acknowledged", taken, straight, "the table by COPY", 6)
	f.times("the same, and all inspections, findings and tools made", all, straight, "the table by COPY", 6)
	f.row("memory of the register's program after that", fmt.Sprintf("%.0f MiB", v.mebibytes()), "-", "64 MiB", v.mebibytes() <= 64)
	f.bombs(v)

	f.must(f.db.Run("pg_dump", "-Fc", "-Z1", "-f", "dump", "-d", f.db.URL(v.store.Pool().Config().ConnConfig.Database))) // in the server's folder
	f.must(f.db.Create("restored"))
	restored := timed(func() { f.must(f.db.Run("pg_restore", "-d", f.db.URL("restored"), "dump")) })
	f.times("a lost register made again by the bench's sending", all, restored, "pg_restore of all tables", 4)
	rebuilt := timed(func() { f.must(v.store.Rebuild(f.Context())) })
	f.times("all that is made of the lines made anew", rebuilt, restored, "pg_restore of all tables", 4)

	format := report.Format{Unit: length.In}
	reports := best(3, clocked(func() { f.must(report.ReadingsCSV(io.Discard, record.Readings(l, record.Filter{}), format)) }), clocked(func() {
		f.must(v.store.Read(f.Context(), func(src *store.Source) error {
			return report.ReadingsCSV(io.Discard, record.Readings(src, record.Filter{}), format)
		}))
	}))
	f.times("report of all readings", reports[1], reports[0], "the bench's own", 1.5)
	tools, _, err := v.store.Tools(f.Context(), store.Found{})
	f.must(err)
	if len(tools) == 0 {
		f.Fatal("no tools")
	}
	one := best(5, clocked(func() {
		f.must(v.store.Read(f.Context(), func(src *store.Source) error {
			_, err := record.FindTool(src, tools[len(tools)/2].ID)
			return err
		}))
	}))[0]
	f.row(fmt.Sprintf("one tool as it stands, from its lines, of %d", len(tools)), short(one).String(), "-", "50ms", one <= 50*time.Millisecond)
	packed, err := v.store.Pack(f.Context(), time.Now().Add(time.Hour))
	f.must(err)
	ratio := float64(packed.Kept) / float64(packed.Plain)
	f.row("bytes of old lines, packed", fmt.Sprintf("%.3f times", ratio), fmt.Sprintf("the ledger's %d MB", packed.Plain/1e6), "0.15 times", ratio <= 0.15)
}

// bombs sends small bodies that unpack to 300 MB, as many at a time as the register takes.
func (f figures) bombs(v *server) {
	var bomb bytes.Buffer
	z, _ := gzip.NewWriterLevel(&bomb, gzip.BestCompression)
	for range 300 {
		z.Write(make([]byte, 1e6))
	}
	f.must(z.Close())
	const at = 12
	var all sync.WaitGroup
	for n := range at {
		bench := fmt.Sprintf("b%015x", n)
		e := v.enrol("bomb " + bench)
		all.Go(func() {
			status, _, err := post(f.Context(), e, bench, ledger.Head{Bench: bench}, bomb.Bytes())
			if err != nil || status != http.StatusRequestEntityTooLarge {
				f.Errorf("a body that unpacks to 300 MB: status %d, %v, want %d", status, err, http.StatusRequestEntityTooLarge)
			}
		})
	}
	all.Wait()
	f.row(fmt.Sprintf("memory of the register's program after %d bodies at once of 300 MB in %d kB", at, bomb.Len()/1000), fmt.Sprintf("%.0f MiB", v.mebibytes()), "all refused", "128 MiB", v.mebibytes() <= 128)
}

// post sends lines as they are, compressed.
func post(ctx context.Context, e register.Enrolment, bench string, after ledger.Head, compressed []byte) (status int, h register.Head, err error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, "https://"+e.Address+register.LinesPath(bench, after), bytes.NewReader(compressed))
	if err != nil {
		return 0, h, err
	}
	r.Header.Set("Authorization", "Bearer "+e.Token)
	r.Header.Set("Content-Encoding", "gzip")
	answer, err := client.Do(r)
	if err != nil {
		return 0, h, err
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err == nil && answer.StatusCode == http.StatusOK {
		err = json.Unmarshal(text, &h)
	}
	return answer.StatusCode, h, err
}

// client believes anybody: only the loopback is asked.
var client = &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}, MaxIdleConnsPerHost: 100}}

// together measures many benches that send at once: an inspection a body, as at the end of each, and all that a week left behind.
func (f figures) together() {
	dirs, err := filepath.Glob(filepath.Join(f.dir, "benches", "*"))
	f.must(err)
	type body struct {
		compressed []byte
		last       ledger.Head
	}
	bodies := make([][]body, len(dirs))
	ledgers := make([]*ledger.Ledger, len(dirs))
	lines, inspections := 0, 0
	for i, dir := range dirs {
		ledgers[i], err = ledger.Open(dir, ledger.Options{Bench: filepath.Base(dir)})
		f.must(err)
		own, err := ledgers[i].Head()
		f.must(err)
		var plain []byte
		for line, err := range ledgers[i].Lines(own.Bench, 0) {
			f.must(err)
			lines++
			plain = append(plain, line.Text...)
			if r, err := ledger.ReadLine(own.Bench, line.Text); err != nil {
				f.Fatal(err)
			} else if r.Kind == record.KindFigures {
				inspections++
			}
			if line.More == 0 && len(plain) > 4096 {
				var packed bytes.Buffer
				z, _ := gzip.NewWriterLevel(&packed, gzip.BestSpeed)
				z.Write(plain)
				f.must(z.Close())
				bodies[i], plain = append(bodies[i], body{packed.Bytes(), ledger.Head{Bench: own.Bench, Seq: line.Seq, Hash: line.Hash}}), nil
			}
		}
	}
	v := f.serve("each")
	var mu sync.Mutex
	var took []time.Duration
	var all sync.WaitGroup
	begun := time.Now()
	for i := range dirs {
		e := v.enrol(fmt.Sprint("bench ", i))
		all.Go(func() {
			after := ledger.Head{}
			for _, b := range bodies[i] {
				at := time.Now()
				status, h, err := post(f.Context(), e, b.last.Bench, after, b.compressed)
				if err != nil || status != http.StatusOK || h.Ledger() != b.last {
					f.Errorf("status %d, head %v, %v; want %v", status, h.Ledger(), err, b.last)
					return
				}
				after = b.last
				mu.Lock()
				took = append(took, time.Since(at))
				mu.Unlock()
			}
		})
	}
	all.Wait()
	acknowledged := time.Since(begun)
	v.settled()
	settled := time.Since(begun)
	if len(took) == 0 {
		f.Fatal("nothing was sent")
	}
	slices.Sort(took)
	day := 500 * 60 / (24 * time.Hour).Seconds() // inspections a second
	rate := float64(inspections) / acknowledged.Seconds()
	yardstick := fmt.Sprintf("500 benches of 60 a day: %.2f/s", day)
	f.row(fmt.Sprintf("%d benches at once, an inspection a body, %d inspections", len(dirs), inspections), fmt.Sprintf("%.0f/s, median %v, 95 %% within %v", rate, short(took[len(took)/2]), short(took[len(took)*95/100])), yardstick, "100 times", rate >= 100*day)
	rate = float64(inspections) / settled.Seconds()
	f.row("the same, until all is made of them", fmt.Sprintf("%.0f/s", rate), yardstick, "100 times", rate >= 100*day)

	v = f.serve("backlogs")
	begun = time.Now()
	for i := range dirs {
		c := &register.Conn{Enrolment: v.enrol(fmt.Sprint("backlog ", i))}
		all.Go(func() {
			defer c.Close()
			if _, err := c.Send(f.Context(), ledgers[i]); err != nil {
				f.Error(err)
			}
		})
	}
	all.Wait()
	acknowledged = time.Since(begun)
	v.settled()
	settled = time.Since(begun)
	rate = float64(inspections) / settled.Seconds()
	f.row("the same benches, all that they have at once", fmt.Sprintf("%.0f lines/s, %.0f inspections/s with all made", float64(lines)/acknowledged.Seconds(), rate), yardstick, "100 times", rate >= 100*day)
	f.row("memory of the register's program meanwhile", fmt.Sprintf("%.0f MiB", v.mebibytes()), "-", "128 MiB", v.mebibytes() <= 128)
}

// tables measures what is asked of the tables of many inspections, which are invented in SQL: 228 benches, 120 inspections a
// tool, 1140 wheels, two years.
func (f figures) tables() {
	n, err := strconv.Atoi(os.Getenv(rowsVariable))
	f.must(err)
	s := f.fresh("many")
	indexes := []string{ // as schema.sql has them
		"create index on %s (tool, counter desc)", "create index on %s (wheel, closed) where wheel <> ''", "create index on %s (job) include (bench, tool, stage, verdict) where job <> ''",
		"create index on %s (inspection)", "create index on %s (closed)",
	}
	const wheels, job = 1140, "J-00007"
	tool := fmt.Sprintf("EM-%06d", n/120/2)
	f.sql(s, "set local synchronous_commit = off", "create table parted (like inspection including defaults) partition by hash (bench)",
		"do $$ begin for i in 0..31 loop execute format('create table parted_%s partition of parted for values with (modulus 32, remainder %s)', i, i); end loop; end $$",
		"do $$ declare x text; begin for x in select indexname from pg_indexes where tablename = 'inspection' and indexname <> 'inspection_pkey' loop execute 'drop index ' || x; end loop; end $$",
		fmt.Sprintf(`insert into inspection select 'a' || lpad(to_hex(i %% 228), 15, '0'), i, i - 1, 2, i, tool || '.' || n, tool, case when i %% 20 = 0 then 'J-' || lpad((i / 20 %% 1003)::text, 5, '0') else '' end,
			(array['before', 'after', 'after', 'final'])[i %% 4 + 1], at, at, true, 'person ' || i %% 40, 'wheel ' || i %% %d, 'grinder ' || i %% 300, (array['accept', 'accept', 'reject'])[i %% 3 + 1], '', false, '', 'defaults', 'hss',
			12700000000, 4, 0, 1000000 + (i * 7919::bigint %% 9000000), 12700000, 'dial ' || i %% 50, null, null, 12600000000 - i %% 120 * 1000000, null, 'released', '', false, 'release', 'person', at, ''
			from (select i, 'EM-' || lpad((i / 120)::text, 6, '0') as tool, i %% 120 + 1 as n,
				to_char(timestamp '2024-01-01' + i * (interval '730 days' / %d), 'YYYY-MM-DD"T"HH24:MI:SS.US"Z"') as at from generate_series(1, %d) i) x`, wheels, n, n),
		"insert into bench (bench, label, plant) select 'a' || lpad(to_hex(i), 15, '0'), 'bench ' || i, 'plant ' || i % 5 from generate_series(0, 227) i",
		"insert into parted select * from inspection", "alter table parted add primary key (bench, seq)")
	for _, table := range []string{"inspection", "parted"} {
		for _, sql := range indexes {
			f.sql(s, fmt.Sprintf(sql, table))
		}
		f.sql(s, "grant select on "+table+" to public", "analyze "+table)
	}
	ask := func(sql string, want int, args ...any) func() {
		return func() {
			rows, err := s.Pool().Query(f.Context(), sql, args...)
			f.must(err)
			got := 0
			for rows.Next() {
				got++
			}
			f.must(rows.Err())
			if got != want {
				f.Fatalf("%s: %d rows, want %d", sql, got, want)
			}
		}
	}
	const history = "select * from %s where tool = $1 order by counter desc"
	both := best(9, clocked(ask(fmt.Sprintf(history, "inspection"), 120, tool)), clocked(ask(fmt.Sprintf(history, "parted"), 120, tool)))
	f.times(fmt.Sprintf("one tool's 120 inspections of %d, with 32 partitions", n), both[1], both[0], "without", 10)
	wheel := best(5, clocked(func() {
		months, _, err := s.Months(f.Context(), store.Trend{What: "tir", By: "wheel", Of: "wheel 7", From: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)})
		f.must(err)
		if len(months) != 12 {
			f.Fatalf("%d months of a year", len(months))
		}
	}))[0]
	f.row(fmt.Sprintf("trend of a wheel over a year by months, of %d inspections", n), short(wheel).String(), "-", "50ms", wheel <= 50*time.Millisecond)
	jobs := best(5, clocked(func() {
		rows, err := s.Pool().Query(f.Context(), "select distinct tool from inspection where job = $1 and job <> '' order by tool", job)
		f.must(err)
		defer rows.Close()
		if !rows.Next() {
			f.Fatal("a job without tools")
		}
	}))[0]
	f.row(fmt.Sprintf("tools of a job, of %d inspections", n), short(jobs).String(), "-", "50ms", jobs <= 50*time.Millisecond)
	every := best(2, clocked(func() {
		_, _, err := s.Months(f.Context(), store.Trend{What: "tir", By: "wheel"})
		f.must(err)
	}))[0]
	f.row(fmt.Sprintf("mean and spread of all %d wheels by months, of %d inspections", wheels, n), short(every).String(), "-", "10s", every <= 10*time.Second)
}
