package record

import (
	"fmt"
	"runtime"
	"strings"
	"testing"

	"flutelog/inspect/ledger"
)

// Everything in this file is invented.

// mostOfEach is the most bytes that a reader of a whole ledger may hold of each inspection that it has passed or will pass, where
// each is ruled on: the place of the ruling, and no record. A ruling's record has a kilobyte.
const mostOfEach = 100

// A report of twice the inspections, of as many tools, holds no more but where the rulings on them stand.
func TestReportsTakeNoMemory(t *testing.T) {
	pattern := openAt(t, t.TempDir())
	add(t, pattern, "T")
	if _, err := Rule(pattern, []string{inspectedQuietly(t, pattern, "T")}, Release, by("Ash", "")); err != nil {
		t.Fatal(err)
	}
	var records []ledger.Record
	if err := pattern.Scan(func(r ledger.Record) error { records = append(records, r); return nil }); err != nil {
		t.Fatal(err)
	}
	const few = 800 // so many fill a segment, of which one is in memory
	var ledgers [2]*ledger.Ledger
	for i := range ledgers {
		ledgers[i] = openAt(t, t.TempDir())
		for n := 0; n < few*(i+1); {
			var entries []ledger.Entry
			for range few / 4 {
				tool := fmt.Sprintf("T%d", n%10)
				as := strings.NewReplacer(`"T"`, `"`+tool+`"`, `"T.1"`, fmt.Sprintf(`"%s.%d"`, tool, n/10+1), ToolSubject("T"), ToolSubject(tool))
				n++
				for _, r := range records {
					e := ledger.Entry{Kind: r.Kind, Subject: as.Replace(r.Subject), Body: []byte(as.Replace(string(r.Body)))}
					if r.About != nil {
						e.AboutBack = int(r.Seq - r.About.Seq)
					}
					entries = append(entries, e)
				}
			}
			if _, err := ledgers[i].Append(entries...); err != nil {
				t.Fatal(err)
			}
		}
		for range List(ledgers[i]) { // the index is made
		}
	}
	live := func() int {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return int(m.HeapAlloc)
	}
	// what a reader holds when the last of the ledger is before it
	held := func(l *ledger.Ledger, inspections int, read func(yield func(ruled bool) bool)) int {
		before, seen, held := live(), 0, 0
		read(func(ruled bool) bool {
			if !ruled {
				t.Fatal("one that is not ruled on: nothing is tried here")
			}
			if seen++; seen == inspections {
				held = live() - before
			}
			return true
		})
		if seen != inspections {
			t.Fatalf("%d inspections, want %d", seen, inspections)
		}
		runtime.KeepAlive(l)
		return held
	}
	for name, read := range map[string]func(l *ledger.Ledger) func(yield func(bool) bool){
		"readings": func(l *ledger.Ledger) func(func(bool) bool) {
			return func(yield func(bool) bool) {
				for r, err := range Readings(l, Filter{}) {
					if err != nil {
						t.Fatal(err)
					}
					if r.First && !yield(r.Ruling != nil) {
						return
					}
				}
			}
		},
		"inspections": func(l *ledger.Ledger) func(func(bool) bool) {
			return func(yield func(bool) bool) {
				for in, err := range Inspections(l, Filter{}) {
					if err != nil {
						t.Fatal(err)
					}
					if !yield(in.Ruling() != nil) {
						return
					}
				}
			}
		},
	} {
		one, two := held(ledgers[0], few, read(ledgers[0])), held(ledgers[1], 2*few, read(ledgers[1]))
		t.Logf("%s: %d bytes held over %d inspections, %d over %d", name, one, few, two, 2*few)
		if two-one > mostOfEach*few {
			t.Errorf("%s: %d bytes are held over %d inspections, %d over %d: %d of each", name, one, few, two, 2*few, (two-one)/few)
		}
	}
}
