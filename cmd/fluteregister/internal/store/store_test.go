package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"

	"flutelog/cmd/fluteregister/internal/cluster/clustertest"
	"flutelog/cmd/fluteregister/internal/invented"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/report"
)

func TestMain(m *testing.M) { clustertest.Main(m) }

// open returns a register that is set up and empty.
func open(t testing.TB) *Store {
	t.Helper()
	url := clustertest.Database(t)
	s, err := Open(t.Context(), url, t.TempDir())
	if !errors.Is(err, ErrEmpty) {
		t.Fatalf("an empty database: %v, want ErrEmpty", err)
	}
	if err := s.SetUp(t.Context()); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if s, err = Open(t.Context(), url, t.TempDir()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

func bench(t testing.TB, label string, seed uint64) *invented.Bench {
	t.Helper()
	b, err := invented.New(filepath.Join(t.TempDir(), label), label, seed)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func enrol(t testing.TB, s *Store, bench string) {
	t.Helper()
	must(t, s.Enrol(t.Context(), Enrolled{Token: "token of " + bench, Bench: bench, Label: "label of " + bench}))
}

// send sends what a bench has and the register has not, so many lines at a time.
func send(t testing.TB, s *Store, l *ledger.Ledger, lines int) register.Head {
	t.Helper()
	own, err := l.Head()
	must(t, err)
	h, err := s.Head(t.Context(), own.Bench, Asked{Own: own})
	must(t, err)
	var body []byte
	n := 0
	post := func() {
		if h, _, err = s.Take(t.Context(), own.Bench, h.Ledger(), body); err != nil {
			t.Fatal(err)
		}
		body, n = body[:0], 0
	}
	for line, err := range l.Lines(own.Bench, h.Seq) {
		must(t, err)
		body = append(body, line.Text...)
		if n++; n == lines || len(body) > register.Batch {
			post()
		}
	}
	if n > 0 {
		post()
	}
	return h
}

// csv returns a report of each kind.
func csv(t testing.TB, src record.Source, f record.Filter) map[report.Kind]string {
	t.Helper()
	all := map[report.Kind]string{}
	for _, unit := range []length.Unit{length.In, length.Mm} {
		format := report.Format{Unit: unit}
		for kind, write := range map[report.Kind]func(io.Writer) error{
			report.ReadingRows:    func(w io.Writer) error { return report.ReadingsCSV(w, record.Readings(src, f), format) },
			report.InspectionRows: func(w io.Writer) error { return report.InspectionsCSV(w, record.Inspections(src, f), format) },
			report.ToolRows:       func(w io.Writer) error { return report.ToolsCSV(w, record.Tools(src, f), format) },
		} {
			var b bytes.Buffer
			must(t, write(&b))
			all[kind] += b.String()
		}
	}
	return all
}

// merged returns a ledger that some benches' were merged into, as a person would look at all of them without a register. Its
// own bench has recorded nothing.
func merged(t testing.TB, benches ...*invented.Bench) *ledger.Ledger {
	t.Helper()
	l, err := ledger.Open(t.TempDir(), ledger.Options{Bench: "all"})
	must(t, err)
	for _, b := range benches {
		_, err := l.Merge(b.Dir(), ledger.MergeOptions{Check: record.Check})
		must(t, err)
	}
	return l
}

func names(prefix string, n int) []string {
	all := make([]string, n)
	for i := range all {
		all[i] = fmt.Sprintf("%s-%02d", prefix, i+1)
	}
	return all
}

// shop sends the lines of three benches, of which two share tools, in turns and small batches.
func shop(t testing.TB, s *Store) []*invented.Bench {
	t.Helper()
	benches := []*invented.Bench{bench(t, "north", 1), bench(t, "south", 2), bench(t, "east", 3)}
	for _, b := range benches {
		own, err := b.Head()
		must(t, err)
		enrol(t, s, own.Bench)
	}
	for range 6 { // more than a segment's worth
		_, err := benches[0].Append(ledger.Entry{Kind: "note", Body: json.RawMessage(`{"text":"` + strings.Repeat("a", 900_000) + `"}`)})
		must(t, err)
	}
	for round := range 3 {
		must(t, benches[0].Day(names("EM", 4+round)...))
		must(t, benches[1].Day(append(names("BN", 3), "EM-02", "EM-03")...))
		must(t, benches[2].Day(names("SL", 5)...))
		for i, b := range benches {
			send(t, s, b.Ledger, 1+4*i)
		}
	}
	must(t, benches[0].Job("J-1", 2, "EM-01", "EM-02", "EM-03"))
	must(t, benches[1].Crack("EM-03"))
	for _, b := range benches {
		send(t, s, b.Ledger, 3)
	}
	return benches
}

// The register's report is, byte for byte and for every kind, that of a ledger which all benches' were merged into; of one
// tool and one bench too. So are the tools and the jobs as they stand.
func TestReportIsTheBenchs(t *testing.T) {
	s := open(t)
	benches := shop(t, s)
	all := merged(t, benches...)
	own, err := benches[1].Head()
	must(t, err)
	for name, f := range map[string]record.Filter{"all": {}, "a tool": {Tool: "EM-02"}, "a bench": {Bench: own.Bench}, "conceded": {Standing: record.StandsConceded}} {
		want := csv(t, all, f)
		must(t, s.Read(t.Context(), func(src *Source) error {
			got := csv(t, src, f)
			if f.Tool != "" {
				if only := csv(t, src.Only(record.ToolSubject(f.Tool)), f); fmt.Sprint(only) != fmt.Sprint(got) {
					t.Errorf("%s: from its own lines alone the report is another", name)
				}
			}
			for kind := range want {
				if strings.Count(want[kind], "\n") < 4 {
					t.Errorf("%s: %s: only %q to compare with", name, kind, want[kind])
				}
				if got[kind] != want[kind] {
					t.Errorf("%s: the register's report of %s is not the ledger's", name, kind)
				}
			}
			return nil
		}))
	}
	must(t, s.Read(t.Context(), func(src *Source) error {
		want, err := record.FindJob(all, "J-1")
		must(t, err)
		got, err := record.FindJob(src, "J-1")
		must(t, err)
		if fmt.Sprint(got.Lacks, len(got.Of), got.Of[2].State.Standing) != fmt.Sprint(want.Lacks, len(want.Of), record.StandsLocked) {
			t.Errorf("job: %+v, want %+v", got, want)
		}
		return nil
	}))
}

// dump returns all rows of what is made of the lines.
func dump(t testing.TB, s *Store) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	for _, table := range []string{"inspection", "finding", "tool", "unread"} {
		rows, err := s.pool.Query(t.Context(), "select t::text from "+table+" t")
		must(t, err)
		lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
		must(t, err)
		slices.Sort(lines)
		all[table] = lines
	}
	return all
}

// What is made of lines waits while a bench sends what it said it has, and is made when the last of it has come. A bench that
// breaks off is not waited for.
func TestWaitsForTheRest(t *testing.T) {
	s := open(t)
	b := bench(t, "north", 1)
	must(t, b.Day(names("EM", 3)...))
	own, err := b.Head()
	must(t, err)
	enrol(t, s, own.Bench)
	go s.Settling(t.Context(), func(err error) {
		if t.Context().Err() == nil {
			t.Error(err)
		}
	})
	h, err := s.Head(t.Context(), own.Bench, Asked{Own: own})
	must(t, err)
	for line, err := range b.Lines(own.Bench, 0) {
		must(t, err)
		if !s.awaits() {
			t.Fatalf("before number %d of %d nothing is waited for", line.Seq, own.Seq)
		}
		h, _, err = s.Take(t.Context(), own.Bench, h.Ledger(), line.Text)
		must(t, err)
	}
	if s.awaits() {
		t.Error("all has come, and more is waited for")
	}
	for tools := 0; tools < 3; { // the context of a test that hangs ends
		must(t, s.pool.QueryRow(t.Context(), "select count(*) from tool").Scan(&tools))
	}
	_, err = s.Head(t.Context(), own.Bench, Asked{Own: ledger.Head{Bench: own.Bench, Seq: own.Seq + 9, Hash: own.Hash}})
	must(t, err)
	if !s.awaits() {
		t.Error("a bench that has more is not waited for")
	}
	s.mu.Lock()
	s.catching[own.Bench] = catching{own.Seq + 9, time.Now().Add(-settleLatest - time.Second)}
	s.mu.Unlock()
	if s.awaits() {
		t.Error("a bench that broke off is waited for")
	}
}

// What is made of the lines while they come, in many steps, is what is made of them at once, as they stand over all benches.
func TestRebuild(t *testing.T) {
	s := open(t)
	settling, stop := context.WithCancel(t.Context())
	settled := make(chan struct{})
	go func() {
		defer close(settled)
		for settling.Err() == nil {
			if err := s.Settle(settling); err != nil && settling.Err() == nil {
				t.Error(err)
			}
		}
	}()
	benches := shop(t, s)
	stop()
	<-settled
	must(t, s.Settle(t.Context()))
	was := dump(t, s)
	must(t, s.Rebuild(t.Context()))
	for table, want := range was {
		if got := dump(t, s)[table]; !slices.Equal(got, want) {
			t.Errorf("%s: %d rows made anew are not the %d that there were:", table, len(got), len(want))
			for i := range min(len(got), len(want)) {
				if got[i] != want[i] {
					t.Errorf("%s\n%s", got[i], want[i])
				}
			}
		}
	}
	all := merged(t, benches...)
	tools, inspections := 0, 0
	for tool, err := range record.Tools(all, record.Filter{}) {
		must(t, err)
		tools++
		var standing string
		var diameter *int64
		must(t, s.pool.QueryRow(t.Context(), "select standing, last_diameter_pm from tool where tool = $1", tool.ID).Scan(&standing, &diameter))
		if standing != string(tool.Standing) {
			t.Errorf("%s stands %q, and in the database %q", tool.ID, tool.Standing, standing)
		}
	}
	for in, err := range record.Inspections(all, record.Filter{}) {
		must(t, err)
		inspections++
		var verdict, standing, by, corrected string
		var tir int64
		must(t, s.pool.QueryRow(t.Context(), "select verdict, standing, ruled_by, corrected_by, coalesce(tir_pm, -1) from open.inspections where bench = $1 and seq = $2", in.Record.Bench, in.Record.Seq).
			Scan(&verdict, &standing, &by, &corrected, &tir))
		want := int64(-1)
		if f, err := record.ReadFigure(in.Figures.TIR); err == nil && f != nil {
			want = int64(f.Value.Length())
		}
		brief := in.Brief()
		wantBy, wantCorrected := "", ""
		if brief.Ruling != nil {
			wantBy = brief.Ruling.By
		}
		if brief.Corrected != nil {
			wantCorrected = brief.Corrected.By
		}
		tool, err := record.FindTool(all, in.Tool.ID)
		must(t, err)
		if verdict != string(in.Judgement.Verdict) || standing != string(tool.Standing) || by != wantBy || corrected != wantCorrected || tir != want {
			t.Errorf("%s: %s, %s, by %q, corrected by %q, TIR %d; want %s, %s, %q, %q, %d", in.ID, verdict, standing, by, corrected, tir, in.Judgement.Verdict, tool.Standing, wantBy, wantCorrected, want)
		}
	}
	if len(was["tool"]) != tools || len(was["inspection"]) != inspections || inspections < 40 || len(was["finding"]) < 40 || len(was["unread"]) != 0 {
		t.Errorf("%d tools, %d inspections, %d findings, %d unread; want %d and %d", len(was["tool"]), len(was["inspection"]), len(was["finding"]), len(was["unread"]), tools, inspections)
	}
}

// What rows are made of an inspection in short is what they would be made of it as a whole; and only that is read which is not
// written yet.
func TestOutlines(t *testing.T) {
	s := open(t)
	all := merged(t, shop(t, s)...)
	tools, corrected := 0, 0
	for tool, err := range record.Tools(all, record.Filter{}) {
		must(t, err)
		tools++
		_, want, err := record.Whole(all, tool.ID)
		must(t, err)
		asked := map[ledger.Ref]int{}
		_, got, err := record.Outlines(all, tool.ID, func(summary ledger.Ref, records int) bool {
			asked[summary] = records
			return true
		})
		must(t, err)
		var whole, short made
		for i := range want {
			whole.add(&want[i])
			short.add(&got[i])
			if n := len(want[i].Corrections); n > 0 {
				corrected++
			}
			if n := recordsOf(&want[i]); asked[want[i].Record.Ref()] != n {
				t.Errorf("%s is told to be made of %d records, want %d", want[i].ID, asked[want[i].Record.Ref()], n)
			}
		}
		if diff := cmp.Diff(whole, short, cmp.AllowUnexported(made{})); diff != "" {
			t.Errorf("%s: -whole +in short:\n%s", tool.ID, diff)
		}
		if _, none, err := record.Outlines(all, tool.ID, func(ledger.Ref, int) bool { return false }); err != nil || len(none) > 0 {
			t.Errorf("%s: %d inspections that nobody wanted, %v", tool.ID, len(none), err)
		}
	}
	if tools < 9 || corrected == 0 {
		t.Errorf("%d tools, %d corrected inspections: too few to compare", tools, corrected)
	}
}

// A chain comes out of the register as it went in: restored, the folder is the bench's byte for byte.
func TestRestore(t *testing.T) {
	s := open(t)
	benches := shop(t, s)
	own, err := benches[0].Head()
	must(t, err)
	dir := t.TempDir()
	tail, err := ledger.Restore(dir, own.Bench, true, s.Lines(t.Context(), own.Bench, 0))
	must(t, err)
	if tail.Head() != own {
		t.Errorf("restored up to %v, want %v", tail.Head(), own)
	}
	files, err := filepath.Glob(filepath.Join(benches[0].Dir(), own.Bench, "*.jsonl"))
	must(t, err)
	if len(files) < 2 {
		t.Errorf("%d segments, want several", len(files))
	}
	for _, name := range append(files, filepath.Join(benches[0].Dir(), "bench")) {
		rel, err := filepath.Rel(benches[0].Dir(), name)
		must(t, err)
		want, err := os.ReadFile(name)
		must(t, err)
		if got, err := os.ReadFile(filepath.Join(dir, rel)); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s: %v, or not the same", rel, err)
		}
	}
	if r, err := ledger.Verify(dir, []string{own.String()}, nil); err != nil || len(r.Damage) > 0 {
		t.Errorf("verify: %v, %v", r.Damage, err)
	}
}

// What does not follow, or is not as it was written, is not taken, and nothing of its batch is kept.
func TestRefused(t *testing.T) {
	s := open(t)
	b := bench(t, "north", 1)
	own, err := b.Head()
	must(t, err)
	enrol(t, s, own.Bench)
	must(t, b.Day(names("EM", 2)...))
	head := send(t, s, b.Ledger, 5)
	must(t, b.Day(names("EM", 1)...))
	var lines [][]byte
	for line, err := range b.Lines(own.Bench, 0) {
		must(t, err)
		lines = append(lines, bytes.Clone(line.Text))
	}
	next := lines[head.Seq:]
	joined := func(lines ...[]byte) []byte { return bytes.Join(lines, nil) }
	flipped := bytes.Clone(next[1])
	flipped[len(flipped)/2] ^= 1
	at := func(seq uint64) ledger.Head {
		var h string
		if seq > 0 {
			must(t, s.pool.QueryRow(t.Context(), "select encode(sha256, 'hex') from line where seq = $1", seq).Scan(&h))
		}
		return ledger.Head{Bench: own.Bench, Seq: seq, Hash: h}
	}
	wrongHash := head.Ledger()
	wrongHash.Hash = strings.Repeat("5", 64)
	farAhead := ledger.Head{Bench: own.Bench, Seq: head.Seq + 3, Hash: strings.Repeat("5", 64)}
	for name, x := range map[string]struct {
		after ledger.Head
		body  []byte
		want  error
	}{
		"repeated":             {at(head.Seq - 1), joined(lines[head.Seq-1:]...), ErrMoved},
		"from the beginning":   {at(0), joined(lines...), ErrMoved},
		"a gap":                {farAhead, joined(next[3:]...), ErrMoved},
		"behind another line":  {wrongHash, joined(next...), ErrParted},
		"a byte changed":       {head.Ledger(), joined(next[0], flipped), nil},
		"a line left out":      {head.Ledger(), joined(next[0], next[2]), nil},
		"a line twice":         {head.Ledger(), joined(next[0], next[0]), nil},
		"cut off":              {head.Ledger(), bytes.TrimSuffix(joined(next...), []byte("\n")), nil},
		"no lines of a ledger": {head.Ledger(), []byte("line\n"), nil},
	} {
		got, _, err := s.Take(t.Context(), own.Bench, x.after, x.body)
		var damaged *DamagedError
		if x.want != nil && !errors.Is(err, x.want) || x.want == nil && !errors.As(err, &damaged) {
			t.Errorf("%s: %v, want %v", name, err, x.want)
		}
		if got.Seq != head.Seq || got.SHA256 != head.SHA256 {
			t.Errorf("%s: the head is told as %v, want %v", name, got, head)
		}
		var n uint64
		must(t, s.pool.QueryRow(t.Context(), "select count(*) from line").Scan(&n))
		if n != head.Seq {
			t.Fatalf("%s: %d lines are here, want %d", name, n, head.Seq)
		}
	}
	if _, _, err := s.Take(t.Context(), "a000000000000000", ledger.Head{}, joined(lines...)); !errors.Is(err, ErrNone) {
		t.Errorf("a bench that is not enrolled: %v", err)
	}
	if got, _, err := s.Take(t.Context(), own.Bench, head.Ledger(), joined(next...)); err != nil || got.Seq != uint64(len(lines)) {
		t.Errorf("what follows: %v, %v", got, err)
	}
	must(t, s.CloseBench(t.Context(), own.Bench))
	if _, _, err := s.Take(t.Context(), own.Bench, ledger.Head{Bench: own.Bench, Seq: uint64(len(lines))}, nil); !errors.Is(err, ErrShut) {
		t.Errorf("a closed chain: %v", err)
	}
}

// A copy of a bench that wrote on is found where the chains part; its line is kept as evidence, the bench's own lines are
// taken all the same, and the alarm stands until a person has ruled.
func TestFork(t *testing.T) {
	s := open(t)
	b := bench(t, "north", 1)
	own, err := b.Head()
	must(t, err)
	enrol(t, s, own.Bench)
	must(t, b.Day(names("EM", 2)...))
	send(t, s, b.Ledger, 50)
	common, err := b.Head()
	must(t, err)
	copied := t.TempDir()
	must(t, os.CopyFS(copied, os.DirFS(b.Dir())))
	other, err := invented.New(copied, "north", 9)
	must(t, err)
	must(t, b.Day("EM-01"))
	must(t, other.Day("EM-02"))
	true1 := send(t, s, b.Ledger, 50)
	theirs, err := other.Head()
	must(t, err)
	if h, err := s.Head(t.Context(), own.Bench, Asked{Own: theirs}); err != nil || h.Yours != register.Other {
		t.Errorf("the copy's head: %v, %v", h.Yours, err)
	}
	var first, second []byte
	for line, err := range other.Lines(own.Bench, common.Seq) {
		must(t, err)
		if line.Seq == common.Seq+1 {
			first = bytes.Clone(line.Text)
		}
		if line.Seq == common.Seq+2 {
			second = bytes.Clone(line.Text)
		}
	}
	for name, line := range map[string][]byte{"the second that differs": second, "no line": []byte("x\n"), "nothing": nil} {
		if _, err := s.AddFork(t.Context(), own.Bench, line, "here", func(Evidence) error { return nil }); err == nil {
			t.Errorf("%s was taken as a fork", name)
		}
	}
	for range 2 {
		if h, err := s.AddFork(t.Context(), own.Bench, first, "10.0.0.9", func(Evidence) error { return nil }); err != nil || h.State != register.Forked || h.Seq != true1.Seq {
			t.Errorf("fork: %+v, %v", h, err)
		}
	}
	must(t, b.Day("EM-02"))
	if h := send(t, s, b.Ledger, 50); h.State != register.Forked || h.Seq <= true1.Seq {
		t.Errorf("the true bench's lines: %+v", h)
	}
	forks, err := s.Forks(t.Context(), "")
	if err != nil || len(forks) != 1 || forks[0].Seq != common.Seq+1 || forks[0].Line+"\n" != string(first) {
		t.Errorf("forks %+v, %v", forks, err)
	}
	state := func(want register.State, forks int) {
		t.Helper()
		all, err := s.Benches(t.Context())
		if err != nil || all[0].State != want || all[0].Forks != forks {
			t.Errorf("the bench is %s with %d forks, %v; want %s with %d", all[0].State, all[0].Forks, err, want, forks)
		}
	}
	if n, waits, err := s.Rule(t.Context(), own.Bench, Ruling{Truth: Here}, "R. Moss", "an old card", forks[0].Since); err != nil || n != 1 || waits != 1 {
		t.Errorf("%d ruled on, %d wait, %v", n, waits, err)
	}
	state(register.Forked, 1) // the copy has not gone on under another id, and is not gone
	if n, waits, err := s.Rule(t.Context(), own.Bench, Ruling{Truth: Here, Gone: true}, "R. Moss", "it is destroyed", forks[0].Since); err != nil || n != 1 || waits != 0 {
		t.Errorf("%d ruled on, %d wait, %v", n, waits, err)
	}
	state(register.Open, 0)
	if n, _, err := s.Rule(t.Context(), own.Bench, Ruling{Truth: Refused}, "T. Hill", "no", forks[0].Since); err != nil || n != 0 {
		t.Errorf("what is settled was ruled on again: %d, %v", n, err)
	}
	state(register.Open, 0)
	if h, err := s.Head(t.Context(), own.Bench, Asked{}); err != nil || h.State != register.Open {
		t.Errorf("after the ruling: %v, %v", h.State, err)
	}
}

// Check finds nothing in what was taken, and whatever was changed behind the register's back.
func TestCheck(t *testing.T) {
	s := open(t)
	benches := shop(t, s)
	must(t, s.Settle(t.Context()))
	own, err := benches[0].Head()
	must(t, err)
	ok := func(what string, want bool) {
		t.Helper()
		all, err := s.Check(t.Context(), benches[0].Ledger, []ledger.Head{own})
		must(t, err)
		wrong := 0
		for _, c := range all {
			wrong += len(c.Wrong)
		}
		if len(all) != 3 || wrong == 0 != want {
			t.Errorf("%s: %+v", what, all)
		}
	}
	ok("as it was taken", true)
	as := func(sql string, args ...any) {
		t.Helper()
		must(t, pgx.BeginFunc(t.Context(), s.pool, func(tx pgx.Tx) error {
			if _, err := tx.Exec(t.Context(), "reset role"); err != nil {
				return err
			}
			_, err := tx.Exec(t.Context(), sql, args...)
			return err
		}))
	}
	for _, sql := range []string{
		"update line set raw = set_byte(raw, 200, get_byte(raw, 200) # 1) where bench = $1 and seq = 5",
		"update line set subject = 'tool:another' where bench = $1 and seq = 5",
		"delete from line where bench = $1 and seq = 5",
		"delete from line where bench = $1 and seq > 20",
		"update bench set head_seq = head_seq - 1 where bench = $1",
	} {
		as("create table kept as select * from line where bench = $1", own.Bench)
		as("create table keptbench as select * from bench")
		as(sql, own.Bench)
		ok(sql, false)
		as("delete from line where bench = $1", own.Bench)
		as("insert into line select * from kept")
		as("update bench b set head_seq = k.head_seq from keptbench k where b.bench = k.bench")
		as("drop table kept")
		as("drop table keptbench")
		ok("put back", true)
	}
	for _, sql := range []string{
		"update tool set standing = 'withdrawn' where tool = $1",
		"update tool set last_diameter_pm = coalesce(last_diameter_pm, 0) + 1 where tool = $1",
		"delete from tool where tool = $1",
		"insert into tool select bench, 'EM-none', seq, counter, benches, standing, decided_bench, decided_seq, inspection, work, lacks, job, away, retired, material, flutes, nominal_pm, last_diameter_pm, wheel, unclear from tool where tool = $1",
	} {
		ids, err := s.IDs(t.Context())
		must(t, err)
		as(sql, ids[0])
		ok(sql, false)
		must(t, s.Rebuild(t.Context()))
		ok("rebuilt", true)
	}
	// A past that is rewritten as a whole, and sound by itself, is found by a head that was told before.
	as("delete from line where bench = $1", own.Bench)
	as("update bench set head_seq = 0, head_sha256 = '', counter = 0, segment = 0, segment_end = 0, more = 0, whole = 0 where bench = $1", own.Bench)
	ok("all taken away", false)
}

// The role that the register works as cannot change or delete a line, and a reader sees only what is open.
func TestRoles(t *testing.T) {
	s := open(t)
	shop(t, s)
	for _, sql := range []string{"update line set raw = ''", "delete from line", "truncate line", "drop table line", "delete from fork", "update fork set raw = ''", "delete from bench"} {
		if _, err := s.pool.Exec(t.Context(), sql); err == nil || !strings.Contains(err.Error(), "permission denied") && !strings.Contains(err.Error(), "must be owner") {
			t.Errorf("%s: %v", sql, err)
		}
	}
	reader := func(sql string) error {
		return pgx.BeginFunc(t.Context(), s.pool, func(tx pgx.Tx) error {
			_, err := tx.Exec(t.Context(), "reset role; set local role fluteregister_reader; "+sql)
			return err
		})
	}
	for _, view := range []string{"benches", "inspections", "findings", "tools"} {
		must(t, reader("select * from open."+view))
	}
	readme, err := os.ReadFile("../../README.md")
	must(t, err)
	queries := regexp.MustCompile(`psql fluteregister -c "([^"]+)"`).FindAllStringSubmatch(string(readme), -1)
	if len(queries) < 3 {
		t.Errorf("README shows %d queries, want two, and what makes a reader", len(queries))
	}
	undone := errors.New("undone")
	for _, q := range queries {
		if strings.HasPrefix(q[1], "select ") {
			must(t, reader(q[1]))
			continue
		}
		if err := pgx.BeginFunc(t.Context(), s.pool, func(tx pgx.Tx) error { // as who keeps the database
			_, err := tx.Exec(t.Context(), "reset role; "+q[1]+"; set local role planning; select * from open.tools")
			if err == nil {
				err = undone
			}
			return err
		}); err != undone {
			t.Errorf("%s: %v", q[1], err)
		}
	}
	for _, table := range []string{"line", "token", "fork"} {
		if reader("select * from public."+table) == nil {
			t.Errorf("a reader sees %s", table)
		}
	}
}

// shape returns what a database is made of: columns, constraints, indexes, views, and who may what.
func shape(t testing.TB, s *Store) []string {
	t.Helper()
	rows, err := s.pool.Query(t.Context(), `select concat_ws(' ', table_schema, table_name, ordinal_position, column_name, data_type, collation_name, is_nullable, column_default) from information_schema.columns where table_schema in ('public', 'open')
		union all select concat_ws(' ', conrelid::regclass, pg_get_constraintdef(oid)) from pg_constraint where connamespace = 'public'::regnamespace
		union all select indexdef from pg_indexes where schemaname = 'public'
		union all select definition from pg_views where schemaname = 'open'
		union all select concat_ws(' ', grantee, table_schema, table_name, privilege_type) from information_schema.table_privileges where table_schema in ('public', 'open')
		order by 1`)
	must(t, err)
	all, err := pgx.CollectRows(rows, pgx.RowTo[string])
	must(t, err)
	return all
}

// Tables of an older version are not used before they are brought up: then they are what an empty database is set up with, and
// all that was in them is there. Those of a newer version are left alone. testdata/schema-1.sql is version 1 as it was.
func TestVersions(t *testing.T) {
	url := clustertest.Database(t)
	old, err := os.ReadFile("testdata/schema-1.sql")
	must(t, err)
	s, err := Open(t.Context(), url, "")
	if !errors.Is(err, ErrEmpty) {
		t.Fatal(err)
	}
	if _, err := s.BringUp(t.Context()); !errors.Is(err, ErrEmpty) {
		t.Errorf("an empty database brought up: %v", err)
	}
	must(t, pgx.BeginFunc(t.Context(), s.pool, func(tx pgx.Tx) error {
		_, err := tx.Exec(t.Context(), "reset role;"+string(old))
		return err
	}))
	s.Close()
	of := func(want int) *Store {
		t.Helper()
		s, err := Open(t.Context(), url, "")
		var v *VersionError
		if got := Version; !errors.As(err, &v) && err != nil || v != nil && v.Tables != want || v == nil && got != want {
			t.Fatalf("%v, want tables of version %d", err, want)
		}
		t.Cleanup(s.Close)
		return s
	}
	s = of(1)
	b := bench(t, "north", 1)
	must(t, b.Day(names("EM", 2)...))
	own, err := b.Head()
	must(t, err)
	enrol(t, s, own.Bench)
	send(t, s, b.Ledger, 50)
	var each sync.WaitGroup
	var from [2]int
	for i := range from { // two at once: one of them finds nothing to do
		each.Go(func() {
			var err error
			if from[i], err = s.BringUp(t.Context()); err != nil {
				t.Error(err)
			}
		})
	}
	each.Wait()
	if from[0]+from[1] != 1+Version {
		t.Errorf("brought up from versions %v, want 1 and %d", from, Version)
	}
	s = of(Version)
	if diff := cmp.Diff(shape(t, open(t)), shape(t, s)); diff != "" {
		t.Errorf("-set up +brought up:\n%s", diff)
	}
	must(t, s.Settle(t.Context()))
	if h, err := s.Head(t.Context(), own.Bench, Asked{Own: own}); err != nil || h.Yours != register.Same {
		t.Errorf("after that the bench's head is %+v, %v", h, err)
	}
	must(t, pgx.BeginFunc(t.Context(), s.pool, func(tx pgx.Tx) error {
		_, err := tx.Exec(t.Context(), "reset role; update version set version = version + 1")
		return err
	}))
	s = of(Version + 1)
	if _, err := s.BringUp(t.Context()); err == nil || !strings.Contains(err.Error(), "newer program") {
		t.Errorf("brought up from a newer version: %v", err)
	}
	if err := s.SetUp(t.Context()); err != nil {
		t.Errorf("set up where tables are: %v", err)
	}
	if n := len(dump(t, s)["inspection"]); n == 0 {
		t.Error("nothing is left of what was there")
	}
}

// A trend of a figure comes with what each inspection held it against, of every figure that is held against something. What is
// wanted is what the tool's own limits say: 0.0005 in of run-out, nine tenths of the diameter, a tenth to a half of the land.
func TestTrendLimits(t *testing.T) {
	s := open(t)
	b := bench(t, "north", 1)
	must(t, b.Add("EM-1"))
	tool := invented.Tool("EM-1")
	in := inspect.Inspection{ID: "EM-1.1", Tool: tool, Stage: inspect.After, Inspector: "A. Vale", Holding: inspect.InVee, Basis: inspect.DefaultBasis(tool), Wheel: "cup 46"}
	in.Basis.Gauges = map[string]inspect.Instrument{"dial": {Resolution: length.Tenth / 10}}
	w, err := record.Begin(b.Ledger, in, nil, time.Now)
	must(t, err)
	for feature, v := range map[inspect.Feature]length.Length{inspect.RadialRunout: 0, inspect.PrimaryLand: 12 * length.Thou, inspect.Land: 60 * length.Thou, inspect.ReliefDrop: 5 * length.Micrometre, inspect.Diameter: 496 * length.Thou} {
		for repeat := 1; repeat <= 3; repeat++ {
			for flute := 1; flute <= 4; flute++ {
				r := inspect.Reading{Feature: feature, Flute: flute, Repeat: repeat, Value: v, Text: strings.TrimSuffix(v.In(length.In), " in"), Unit: length.In, Gauge: "dial"}
				if feature == inspect.Diameter {
					if r.Flute = 0; flute > 1 {
						continue
					}
				}
				must(t, w.Read(r))
			}
		}
	}
	_, _, err = w.Close()
	must(t, err)
	own, err := b.Head()
	must(t, err)
	enrol(t, s, own.Bench)
	send(t, s, b.Ledger, 50)
	must(t, s.Settle(t.Context()))
	least, most := in.Basis.Limits[inspect.ReliefDrop].Angles()
	degrees := func(a *length.Angle) float64 { return float64(*a) / float64(length.Degree) }
	for what, want := range map[string][2]string{
		"tir": {"none", "0.0127"}, "residual": {"none", "none"}, "ratio": {"0.1", "0.5"}, "diameter": {"11.43", "none"}, "relief": {fmt.Sprint(degrees(least)), fmt.Sprint(degrees(most))},
	} {
		values, _, err := s.Values(t.Context(), Trend{What: what, By: "wheel", Of: "cup 46", Stage: inspect.After}, 10)
		if err != nil || len(values) != 1 {
			t.Errorf("%s: %v, %v", what, values, err)
			continue
		}
		text := func(v *float64) string {
			if v == nil {
				return "none"
			}
			return fmt.Sprint(*v)
		}
		if got := [2]string{text(values[0].Least), text(values[0].Most)}; got != want {
			t.Errorf("%s is held against %v, want %v", what, got, want)
		}
		rejected := 0
		if what == "relief" {
			rejected = 1 // the others are as they should be
		}
		if months, _, err := s.Months(t.Context(), Trend{What: what, By: "wheel", Of: "cup 46"}); err != nil || len(months) != 1 || months[0].Rejected != rejected {
			t.Errorf("%s: %+v, %v; want %d rejected for it", what, months, err, rejected)
		}
	}
}

// Every primary key of a table with a bench begins with it, and there is no other unique key and no foreign key.
func TestSpread(t *testing.T) {
	s := open(t)
	rows, err := s.pool.Query(t.Context(), `select c.conrelid::regclass::text, c.contype::text, (select attname from pg_attribute where attrelid = c.conrelid and attnum = c.conkey[1])
		from pg_constraint c where c.connamespace = 'public'::regnamespace and c.contype in ('p', 'u', 'f')
		union all select i.indrelid::regclass::text, 'u', '' from pg_index i join pg_class r on r.oid = i.indrelid
		where i.indisunique and not i.indisprimary and r.relnamespace = 'public'::regnamespace`)
	must(t, err)
	keyed := map[string]bool{}
	var table, kind, first string
	_, err = pgx.ForEachRow(rows, []any{&table, &kind, &first}, func() error {
		if kind != "p" || first != "bench" && table != "token" && table != "dictionary" {
			t.Errorf("table %s: constraint %s begins with %s", table, kind, first)
		}
		keyed[table] = true
		return nil
	})
	must(t, err)
	for _, table := range []string{"bench", "line", "subject", "inspection", "finding", "tool", "fork", "unread", "line_15"} {
		if !keyed[table] {
			t.Errorf("%s has no primary key", table)
		}
	}
}

// Of an append that came in halves nothing counts, for the register or for other benches, until it is here as a whole.
func TestHalfAnAppend(t *testing.T) {
	s := open(t)
	b := bench(t, "north", 1)
	own, err := b.Head()
	must(t, err)
	enrol(t, s, own.Bench)
	must(t, b.Day(names("EM", 3)...))
	halves, whole := 0, uint64(0)
	for seq := uint64(1); ; seq++ {
		h, err := s.Head(t.Context(), own.Bench, Asked{})
		must(t, err)
		next, more := []byte(nil), uint64(0)
		for line, err := range b.Lines(own.Bench, h.Seq) {
			must(t, err)
			next, more = bytes.Clone(line.Text), line.More
			break
		}
		if next == nil {
			break
		}
		_, _, err = s.Take(t.Context(), own.Bench, h.Ledger(), next)
		must(t, err)
		if more == 0 {
			whole = seq
			continue
		}
		halves++
		must(t, s.Settle(t.Context()))
		var tools, lines int
		must(t, s.Read(t.Context(), func(src *Source) error {
			return src.ScanKinds(nil, func(r ledger.Record) error {
				if lines++; r.Seq > whole {
					t.Errorf("line %d is read, of an append of which %d more are to come", r.Seq, more)
				}
				return nil
			})
		}))
		for line, err := range s.SubjectLines(t.Context(), []string{"tool:EM-01", "tool:EM-02", "tool:EM-03"}) {
			must(t, err)
			r, err := ledger.ReadLine(own.Bench, line[len(own.Bench)+1:])
			must(t, err)
			if tools++; r.Seq > whole {
				t.Errorf("line %d is given to other benches, of an append of which %d more are to come", r.Seq, more)
			}
		}
	}
	if halves < 5 {
		t.Errorf("only %d halves", halves)
	}
}

// Whatever a ledger takes and its verify calls sound is taken, and comes out as it went in; what it means may not be told.
func TestAnySoundLine(t *testing.T) {
	s := open(t)
	dir := t.TempDir()
	now := time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC)
	l, err := ledger.Open(dir, ledger.Options{Bench: "odd", Clock: func() ledger.Time { return ledger.Time{UTC: now} }})
	must(t, err)
	own, err := l.Head()
	must(t, err)
	enrol(t, s, own.Bench)
	deep := strings.Repeat("[", 1000) + strings.Repeat("]", 1000)
	kinds := []string{"opened", "readings", "summary", "figures", "tool", "lock", "unlock", "ruling", "correction", "recall", "ground", "away", "note", "job", "inspected", "study", "limits", "wheel", "leave-out", "continues", "segments", "never-heard-of"}
	bodies := []string{
		`null`, `{}`, `[]`, `0`, `"\u0000"`, `"\ud800"`, `{"by":"\u0000\udfff"}`, `{"id":"EM-1","tool":{"id":"EM-1\u0000"}}`, `1e999`, `-0`, deep,
		`{"inspection":{"id":"EM-1.1","tool":{"id":"EM-1"}},"judgement":{"findings":[{"value":"99999999999999999999mm"}]},"closed":"never"}`,
		`"` + strings.Repeat("a", ledger.MaxLine-2000) + `"`,
		"\"\xff\xfe\"",
	}
	if r, err := record.SaveTool(l, invented.Tool("EM-1")); err != nil || r.Seq == 0 {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 0))
	tried := 0
	for _, kind := range kinds {
		for i, body := range bodies {
			if len(body) > 1<<16 && kind != "summary" {
				continue
			}
			now = []time.Time{now, time.Date(9999, 12, 31, 23, 59, 59, 999999000, time.UTC), time.Date(2026, 2, 29, 0, 0, 0, 0, time.UTC)}[i%3]
			subject := []string{"tool:EM-1", "", "tool:", "job:J-1", "tool:\u20ac \U0001F600", "'; drop table line; --"}[random.IntN(6)]
			e := ledger.Entry{Kind: kind, Subject: subject, Body: json.RawMessage(body)}
			if _, err := l.Append(e); err != nil {
				continue // the ledger takes no such thing
			}
			tried++
		}
	}
	if found, err := ledger.Verify(dir, nil, nil); err != nil || len(found.Damage) > 0 || tried < 200 {
		t.Fatalf("%d lines: %v, %v", tried, found.Damage, err)
	}
	send(t, s, l, 7)
	if own, err = l.Head(); err != nil {
		t.Fatal(err)
	}
	copied := t.TempDir()
	if tail, err := ledger.Restore(copied, own.Bench, true, s.Lines(t.Context(), own.Bench, 0)); err != nil || tail.Head() != own {
		t.Errorf("%v, %v, want %v", tail.Head(), err, own)
	}
	must(t, s.Settle(t.Context()))
	unread, err := s.Unread(t.Context())
	if err != nil || len(unread) < 50 {
		t.Errorf("%d lines are told to be unread, %v", len(unread), err)
	}
	rows := dump(t, s)
	must(t, s.Rebuild(t.Context()))
	if again := dump(t, s); fmt.Sprint(again) != fmt.Sprint(rows) {
		t.Error("what is made of them anew is not what there was")
	}
}

// Lines that were packed read as before, everywhere; each comes out by itself.
func TestPack(t *testing.T) {
	s := open(t)
	benches := shop(t, s)
	must(t, s.Settle(t.Context()))
	was := dump(t, s)
	if p, err := s.Pack(t.Context(), time.Now().Add(-time.Hour)); err != nil || p.Lines != 0 {
		t.Errorf("nothing is an hour old: %+v, %v", p, err)
	}
	must(t, benches[2].Day("SL-01"))
	p, err := s.Pack(t.Context(), time.Now().Add(time.Hour))
	must(t, err)
	send(t, s, benches[2].Ledger, 100) // some are not packed
	var packed, plain int
	must(t, s.pool.QueryRow(t.Context(), "select count(*) filter (where codec > 0), count(*) filter (where codec = 0) from line").Scan(&packed, &plain))
	if packed != p.Lines || plain == 0 || p.Kept*4 > p.Plain {
		t.Errorf("%+v; %d lines are packed, %d not", p, packed, plain)
	}
	if again, err := s.Pack(t.Context(), time.Now().Add(time.Hour)); err != nil || again.Lines != plain {
		t.Errorf("packed again: %+v, %v, want %d lines", again, err, plain)
	}
	all, err := s.Check(t.Context(), benches[0].Ledger, nil)
	must(t, err)
	for _, c := range all {
		if len(c.Wrong) > 0 {
			t.Errorf("%+v", c)
		}
	}
	for _, b := range benches {
		own, err := b.Head()
		must(t, err)
		if tail, err := ledger.Restore(t.TempDir(), own.Bench, true, s.Lines(t.Context(), own.Bench, 0)); err != nil || tail.Head() != own {
			t.Errorf("restored: %v, %v", tail.Head(), err)
		}
	}
	want := csv(t, merged(t, benches...), record.Filter{})
	must(t, s.Read(t.Context(), func(src *Source) error {
		if fmt.Sprint(csv(t, src, record.Filter{})) != fmt.Sprint(want) {
			t.Error("the report of packed lines is another")
		}
		return nil
	}))
	for line, err := range s.SubjectLines(t.Context(), []string{"tool:EM-01"}) {
		must(t, err)
		if _, err := ledger.ReadLine(string(line[:16]), line[17:]); err != nil {
			t.Error(err)
		}
	}
	must(t, s.Rebuild(t.Context()))
	if now := dump(t, s); len(now["inspection"]) != len(was["inspection"])+1 {
		t.Errorf("%d inspections made anew, want one more than %d", len(now["inspection"]), len(was["inspection"]))
	}
	if _, err := s.pool.Exec(t.Context(), "update line set codec = 0"); err == nil {
		t.Error("the register may change lines after it has packed some")
	}
}
