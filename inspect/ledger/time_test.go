package ledger

import (
	"encoding/json"
	"testing"
	"time"
)

// setClock is a clock that says what it is set to.
type setClock struct{ now Time }

func (c *setClock) time() Time { return c.now }

func at(text string) time.Time {
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		panic(err)
	}
	return t
}

// TestClock records under clocks that go wrong. Order stays that of the numbers, and what the clock said
// stands as it was said.
func TestClock(t *testing.T) {
	cet := time.FixedZone("CET", 3600)
	cest := time.FixedZone("CEST", 2*3600)
	tests := []struct {
		name   string
		clock  Time
		utc    string
		clocks []int64 // shift in microseconds of each clock record so far
	}{
		{"no clock at boot", Time{at("1970-01-01T00:00:09Z"), 9 * time.Second, "b1", false}, "1970-01-01T00:00:09Z", nil},
		{"stepped forward by hand", Time{at("2026-11-12T08:00:20Z"), 20 * time.Second, "b1", false}, "2026-11-12T08:00:20Z", nil},
		{"stepped back by hand", Time{at("2026-11-12T07:00:30Z"), 30 * time.Second, "b1", false}, "2026-11-12T07:00:30Z", nil},
		{"first synchronisation", Time{at("2026-11-12T09:00:42.000007Z"), 40 * time.Second, "b1", true}, "2026-11-12T09:00:42.000007Z", []int64{7202_000_007}},
		{"still synchronised, stepped back", Time{at("2026-11-12T08:59:00Z"), 50 * time.Second, "b1", true}, "2026-11-12T08:59:00Z", []int64{7202_000_007}},
		{"synchronisation lost", Time{at("2026-11-12T08:59:10Z"), 60 * time.Second, "b1", false}, "2026-11-12T08:59:10Z", []int64{7202_000_007}},
		{"synchronised again", Time{at("2026-11-12T08:59:18Z"), 70 * time.Second, "b1", true}, "2026-11-12T08:59:18Z", []int64{7202_000_007, -2_000_000}},
		{"started anew, not synchronised", Time{at("2026-11-12T09:30:00Z"), 5 * time.Second, "b2", false}, "2026-11-12T09:30:00Z", []int64{7202_000_007, -2_000_000}},
		{"started anew, synchronised at once", Time{at("2026-11-12T10:00:00Z"), 5 * time.Second, "b3", true}, "2026-11-12T10:00:00Z", []int64{7202_000_007, -2_000_000}},
		{"nothing known of the start", Time{at("2026-11-12T10:00:00Z"), 0, "", true}, "2026-11-12T10:00:00Z", []int64{7202_000_007, -2_000_000}},
		{"last second of summer time", Time{time.Date(2026, 10, 25, 2, 59, 59, 0, cest), 0, "", true}, "2026-10-25T00:59:59Z", []int64{7202_000_007, -2_000_000}},
		{"the same hour again in winter time", Time{time.Date(2026, 10, 25, 2, 0, 0, 0, cet), 0, "", true}, "2026-10-25T01:00:00Z", []int64{7202_000_007, -2_000_000}},
		{"nanoseconds are cut off", Time{at("2026-11-12T10:00:00.123456789Z"), 1999, "", true}, "2026-11-12T10:00:00.123456Z", []int64{7202_000_007, -2_000_000}},
		{"last second of 32 bits", Time{at("2038-01-19T03:14:07Z"), 0, "", true}, "2038-01-19T03:14:07Z", []int64{7202_000_007, -2_000_000}},
		{"first second beyond 32 bits", Time{at("2038-01-19T03:14:08Z"), 0, "", true}, "2038-01-19T03:14:08Z", []int64{7202_000_007, -2_000_000}},
		{"2106, beyond 32 unsigned bits", Time{at("2106-02-07T06:28:16Z"), 3_000_000 * time.Second, "", true}, "2106-02-07T06:28:16Z", []int64{7202_000_007, -2_000_000}},
	}
	m := newMemory()
	var clock setClock
	l, err := Open("ledger", Options{Clock: clock.time, fsys: m})
	if err != nil {
		t.Fatal(err)
	}
	for i, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			clock.now = test.clock
			if i%2 == 1 { // as another program would
				if l, err = Open("ledger", Options{Clock: clock.time, fsys: m}); err != nil {
					t.Fatal(err)
				}
			}
			records, err := l.Append(entry("tool", "tool:EM-1", i))
			if err != nil || len(records) != 1 {
				t.Fatalf("%d records, %v, want 1", len(records), err)
			}
			last, clocks := readClocks(t, l)
			want := test.clock
			want.UTC, want.SinceBoot = at(test.utc), want.SinceBoot/1000*1000
			if got := last.Time; got != want || last.Hash != records[0].Hash {
				t.Errorf("got %+v, want %+v", got, want)
			}
			if got, want := asJSON(t, clocks), asJSON(t, test.clocks); got != want {
				t.Errorf("clock records with shifts %s, want %s", got, want)
			}
		})
	}
	if n := countHistory(t, l, "tool:EM-1"); n != len(tests) {
		t.Errorf("history has %d records, want %d", n, len(tests))
	}
	checkOrder(t, l, len(tests))
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// readClocks returns the last record and the shifts of all clock records.
func readClocks(t *testing.T, l *Ledger) (last Record, shifts []int64) {
	t.Helper()
	err := l.Scan(func(r Record) error {
		if last = r; r.Kind != kindClock {
			return nil
		}
		var set clockSet
		err := json.Unmarshal(r.Body, &set)
		shifts = append(shifts, set.ShiftMicroseconds)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return last, shifts
}

// checkOrder wants the history to give the records in the order they were made, newest first.
func checkOrder(t *testing.T, l *Ledger, n int) {
	t.Helper()
	for r, err := range l.History("tool:EM-1") {
		n--
		if want := string(entry("", "", n).Body); err != nil || string(r.Body) != want {
			t.Errorf("history gives %s, %v, want %s", r.Body, err, want)
		}
	}
}

// TestClockWrong refuses what cannot be written in the one spelling of a time.
func TestClockWrong(t *testing.T) {
	tests := []Time{
		{UTC: time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC)},
		{UTC: time.Date(-1, 1, 1, 0, 0, 0, 0, time.UTC)},
		{UTC: at("2026-11-12T10:00:00Z"), SinceBoot: -time.Second},
		{UTC: at("2026-11-12T10:00:00Z"), Boot: `"`},
	}
	for _, now := range tests {
		clock := setClock{Time{UTC: at("2026-11-12T10:00:00Z")}}
		l, err := Open("ledger", Options{Clock: clock.time, fsys: newMemory()})
		if err != nil {
			t.Fatal(err)
		}
		clock.now = now
		if _, err := l.Append(entry("tool", "tool:EM-1", 1)); err == nil {
			t.Errorf("%+v was recorded", now)
		}
	}
}

// TestSystemTime compares the machine's clocks with those that package time reads.
func TestSystemTime(t *testing.T) {
	before := time.Now()
	a := systemTime()
	b := systemTime()
	if a.UTC.Before(before) || b.UTC.Before(a.UTC) || time.Since(a.UTC) > time.Minute {
		t.Errorf("clock says %v, then %v, want about %v", a.UTC, b.UTC, before)
	}
	if a.Boot != b.Boot || b.SinceBoot < a.SinceBoot || b.SinceBoot-a.SinceBoot > time.Minute {
		t.Errorf("start %q and %v, then %q and %v", a.Boot, a.SinceBoot, b.Boot, b.SinceBoot)
	}
}
