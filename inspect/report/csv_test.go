//go:build unix

package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// inventedLedger makes a ledger of invented inspections, thirty readings each, of four tools.
func inventedLedger(t testing.TB, inspections int) *ledger.Ledger {
	t.Helper()
	l, err := ledger.Open(t.TempDir(), ledger.Options{Bench: "invented"})
	if err != nil {
		t.Fatal(err)
	}
	var batch []ledger.Entry
	for i := range inspections {
		batch = append(batch, inventedRecords(t, i)...)
		if len(batch) >= 400 || i == inspections-1 {
			if _, err := l.Append(batch...); err != nil {
				t.Fatal(err)
			}
			batch = nil
		}
	}
	return l
}

func inventedRecords(t testing.TB, i int) []ledger.Entry {
	tool := inspect.Tool{
		ID: fmt.Sprintf("EM-%d", i%4), Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
	in := inspect.Inspection{ID: fmt.Sprintf("%s.%d", tool.ID, i/4+1), Tool: tool, Stage: inspect.After, Inspector: "invented", Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)}
	at := time.Date(2026, 1, 1, 0, 0, i, 0, time.UTC).Format("2006-01-02T15:04:05.000000Z")
	in.Basis.Gauges = map[string]inspect.Instrument{}
	d := record.Draft{Inspection: in, Opened: at}
	events := []json.RawMessage{marshal(t, record.Event{What: "begun", At: at, Inspection: &in, Plan: json.RawMessage(`{"repeats":7}`)})}
	for n := range 30 {
		r := inspect.Reading{Feature: inspect.RadialRunout, Flute: n%4 + 1, Repeat: n/4 + 1, Value: length.Length(n*i) * length.Nanometre, Text: "0.00010", Unit: length.In, Gauge: "indicator", At: at}
		d.Inspection.Readings = append(d.Inspection.Readings, r)
		events = append(events, marshal(t, record.Event{What: "reading", Reading: &r}))
	}
	entries, err := record.Close(d, events, inspect.Judgement{Verdict: inspect.Accept}, at, "")
	if err != nil {
		t.Fatal(err)
	}
	return entries
}

func marshal(t testing.TB, v any) json.RawMessage {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestReadingsReport(t *testing.T) {
	l := inventedLedger(t, 8)
	var out bytes.Buffer
	filter := record.Filter{Tool: "EM-2", From: time.Date(2026, 1, 1, 0, 0, 3, 0, time.UTC)}
	if err := ReadingsCSV(&out, record.Readings(l, filter), Format{Unit: length.Mm}); err != nil {
		t.Fatal(err)
	}
	if strings.Count(out.String(), "\r\n") != 31 || strings.Count(out.String(), "\n") != 31 {
		t.Errorf("got %d lines with CRLF of %d, want 31", strings.Count(out.String(), "\r\n"), strings.Count(out.String(), "\n"))
	}
	rows, err := csv.NewReader(&out).ReadAll() // refuses rows of unequal length
	if err != nil {
		t.Fatal(err)
	}
	cell := func(row int, name string) string {
		for i, column := range rows[0] {
			if column == name {
				return rows[row][i]
			}
		}
		t.Fatalf("no column %q", name)
		return ""
	}
	// inspection 6 of the ledger is EM-2's second; its reading 29 is 29 x 6 nm
	if cell(30, "inspection") != "EM-2.2" || cell(30, "value") != "0.000174" || cell(30, "unit") != "mm" || cell(30, "as_read") != "0.00010" || cell(30, "read_at_utc") != "2026-01-01 00:00:06" {
		t.Errorf("last row %q", rows[30])
	}
}

// Rows of one inspection after another hold what is of their own.
func TestReadingsOfAllInspections(t *testing.T) {
	var out bytes.Buffer
	if err := ReadingsCSV(&out, record.Readings(inventedLedger(t, 3), record.Filter{}), Format{Unit: length.Mm}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil || len(rows) != 1+3*30 {
		t.Fatalf("%d rows, %v, want 91", len(rows), err)
	}
	for i, row := range rows[1:] {
		inspection, flute := fmt.Sprintf("EM-%d.1", i/30), strconv.Itoa(i%30%4+1)
		if row[3] != inspection || row[9] != flute {
			t.Errorf("row %d: inspection %q, flute %s, want %s, %s", i+1, row[3], row[9], inspection, flute)
		}
	}
}

// Only what a person wrote is guarded against evaluation (CWE-1236), whatever a number looks like.
func TestGuard(t *testing.T) {
	for text, want := range map[string]string{"": "", "=1+1": "'=1+1", "+1": "'+1", "-x": "'-x", "@x": "'@x", "\tx": "'\tx", "Vale": "Vale", "a=1": "a=1"} {
		if got := Guarded(text); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
	var out bytes.Buffer
	tab := newTable(&out, Format{Unit: length.In, DecimalComma: true})
	tab.length(-300 * length.Tenth)
	tab.text("=1;2")
	tab.row()
	if err := tab.end(); err != nil {
		t.Fatal(err)
	}
	if want := "-0,03;\"'=1;2\"\r\n"; out.String() != want {
		t.Errorf("got %q, want %q", out.String(), want)
	}
}

// A row of cells is spelled as encoding/csv spells it.
func FuzzCells(f *testing.F) {
	for _, text := range []string{"", "0.0001", "a,b", "a;b", `say "so"`, "two\nlines", "two\r\nlines", "\r", " led by a space", "\u00a0x", "\xff", `\`, `"`} {
		f.Add(text, "Vale", false)
	}
	f.Fuzz(func(t *testing.T, first, second string, decimalComma bool) {
		if first == `\.` || second == `\.` {
			return // encoding/csv quotes this one for the sake of a database, which RFC 4180 does not ask
		}
		var got, want bytes.Buffer
		tab := newTable(&got, Format{DecimalComma: decimalComma})
		std := csv.NewWriter(&want)
		std.UseCRLF, std.Comma = true, rune(tab.comma)
		tab.cell(first)
		tab.cell(second)
		tab.row()
		if err := errors.Join(tab.end(), std.Write([]string{first, second})); err != nil {
			t.Fatal(err)
		}
		std.Flush()
		if got.String() != want.String() {
			t.Errorf("got %q, want %q", got.String(), want.String())
		}
	})
}

// The report streams: a ledger ten times as long takes no more memory, and a million readings take under
// five seconds on one core. Debian's sqlite3 exports the same rows for comparison.
//
// Processor time is no clock: where other programs share caches and memory, the same work has been seen to take
// half as long again, and a slower machine takes longer at all times, sqlite3 too. So much is allowed.
func TestReportIsQuickAndFlat(t *testing.T) {
	inspections := 2_000 // 60,000 readings
	if os.Getenv("FLUTELOG_LONG") != "" {
		inspections = 33_334
	}
	if testing.Short() {
		inspections = 200
	}
	l := inventedLedger(t, inspections)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	file := filepath.Join(t.TempDir(), "readings.csv")
	took, heap := reportTo(t, l, file)
	readings := inspections * 30
	perMillion := time.Duration(float64(took) * 1e6 / float64(readings))
	sqlite := sqliteExport(t, file)
	t.Logf("%d readings in %v of processor time, %v a million, heap at most %d kB over the start; sqlite3 %v (0: not installed), ours %.2f times that", readings, took, perMillion, heap>>10, sqlite, float64(took)/float64(sqlite))
	if heap > 32<<20 {
		t.Errorf("heap grew by %d MB", heap>>20)
	}
	if perMillion > 7500*time.Millisecond && (sqlite == 0 || took > 2*sqlite) {
		t.Errorf("%v a million readings", perMillion)
	}
}

// reportTo writes a report and returns how long it took and how far the heap grew meanwhile.
func reportTo(t *testing.T, l *ledger.Ledger, file string) (time.Duration, uint64) {
	t.Helper()
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	before, most, n := m.HeapAlloc, uint64(0), 0
	began := cpuTime(t)
	err = ReadingsCSV(f, func(yield func(*record.Row, error) bool) {
		for r, err := range record.Readings(l, record.Filter{}) {
			if n++; n%60_000 == 0 {
				runtime.ReadMemStats(&m)
				most = max(most, m.HeapAlloc)
			}
			if !yield(r, err) {
				return
			}
		}
	}, Format{Unit: length.In})
	if err != nil {
		t.Fatal(err)
	}
	return cpuTime(t) - began, max(most, before) - before
}

// cpuTime returns the processor time this process has used: on a busy machine the clock on the wall says little.
func cpuTime(t *testing.T) time.Duration {
	t.Helper()
	var u unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// sqliteExport loads the report into sqlite3 and returns the processor time of its export of the same rows; 0 where
// it is not installed.
func sqliteExport(t *testing.T, file string) time.Duration {
	t.Helper()
	if _, err := exec.LookPath("sqlite3"); err != nil {
		return 0
	}
	db := filepath.Join(t.TempDir(), "readings.db")
	if out, err := exec.Command("sqlite3", db, ".mode csv", ".import "+file+" readings").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	cmd := exec.Command("sqlite3", "-header", "-csv", db, "select * from readings")
	cmd.Stdout = io.Discard
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
}
