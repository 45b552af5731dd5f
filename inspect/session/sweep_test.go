package session

import (
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// A sweep answers a whole round and its closing reading; its trace is in the draft, and resuming comes to the same.
func TestSwept(t *testing.T) {
	l := openLedger(t, t.TempDir())
	s := begin(t, l, inspect.Before, Plan{Features: []inspect.Feature{inspect.RadialRunout, inspect.WearLand}, Repeats: 1})
	q, _ := s.Next()
	var round []inspect.Reading
	for flute := 1; flute <= s.Inspection().Tool.Flutes; flute++ {
		round = append(round, inspect.Reading{Feature: q.Key.Feature, Flute: flute, Repeat: 1, Text: "0"})
	}
	sweep := record.Sweep{Of: q.Key, Gauge: "dial", Trace: "0.01 0.02"}
	if err := s.Swept(sweep, round); err != nil {
		t.Fatal(err)
	}
	if err := s.Release(); err != nil {
		t.Fatal(err)
	}
	s, _, err := Resume(l, s.Inspection().ID, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	if next, ok := s.Next(); !ok || next.Key.Feature == q.Key.Feature || len(s.Inspection().Readings) != len(round) {
		t.Errorf("next %+v, %d readings", next, len(s.Inspection().Readings))
	}
	sweep.Trace = strings.Repeat("0.01 ", mostTraced/5)
	if err := s.Swept(sweep, round); err == nil || !strings.Contains(err.Error(), "more than a record holds") {
		t.Errorf("got %v", err)
	}
}

// The rest of a feature is what has no answer yet, also where its questions stand between another's.
func TestSkipRestOfWidths(t *testing.T) {
	s := begin(t, openLedger(t, t.TempDir()), inspect.Between, Plan{Features: []inspect.Feature{inspect.PrimaryLand, inspect.Land}, Repeats: 1})
	first, _ := s.Next()
	if err := s.SkipRest(first, "loupe away"); err != nil {
		t.Fatal(err)
	}
	for _, flute := range []int{1, 2, 3, 4} {
		q, ok := s.Next()
		if !ok || q.Key.Feature != inspect.Land || q.Key.Flute != flute {
			t.Fatalf("asked for %v, want the whole land of flute %d", q.Key, flute)
		}
		answer(t, s, q, length.Millimetre)
	}
	if q, ok := s.Next(); ok {
		t.Errorf("asked for %v again", q.Key)
	}
}
