package ledger

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestOrderIsCausal merges two benches of which one has a clock at 2106. Whatever a bench records stands behind all that it
// had seen, and before what has seen it; no clock changes that.
func TestOrderIsCausal(t *testing.T) {
	m := newMemory()
	far := setClock{Time{UTC: at("2106-02-07T06:28:16Z")}}
	near := setClock{Time{UTC: at("1970-01-01T00:00:09Z")}}
	a, err := Open("a", Options{Clock: near.time, fsys: m})
	if err != nil {
		t.Fatal(err)
	}
	b, err := Open("b", Options{Clock: far.time, fsys: m})
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	record := func(l *Ledger, kind string) Record {
		t.Helper()
		records, err := l.Append(entry(kind, "tool:EM-1", len(want)))
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, kind)
		return records[0]
	}
	for range 3 {
		record(b, "b-says")
	}
	mustMerge(t, a, "b")
	record(a, "a-retires")
	mustMerge(t, b, "a")
	record(b, "b-takes-back")
	mustMerge(t, a, "b")
	last := record(a, "a-says-again")
	mustMerge(t, b, "a")
	slices.Reverse(want)
	for _, l := range []*Ledger{a, b} {
		var got []string
		var before *Record
		for r, err := range l.History("tool:EM-1") {
			if err != nil {
				t.Fatal(err)
			}
			if got = append(got, r.Kind); before != nil && Compare(r, *before) >= 0 {
				t.Errorf("%d of %s is given behind %d of %s", r.Seq, r.Bench, before.Seq, before.Bench)
			}
			before = &r
		}
		if !slices.Equal(got, want) {
			t.Errorf("history %v, want %v", got, want)
		}
	}
	if r, ok, err := b.Latest("tool:EM-1", "a-says-again"); err != nil || !ok || r.Ref() != last.Ref() {
		t.Errorf("%v, %v, %v, want %v", r.Ref(), ok, err, last.Ref())
	}
}

// TestCounterForged refuses a bench that would use the counter up.
func TestCounterForged(t *testing.T) {
	m := newMemory()
	a, b := mustOpen(t, m, "a", "a"), mustOpen(t, m, "b", "b")
	mustAppend(t, b, "tool:EM-1", 2)
	c := b.chain(b.own)
	if _, err := c.append([]Entry{entry("tool", "tool:EM-1", 1)}, 1<<61, Time{UTC: at("2026-11-12T10:00:00Z")}, "b", segmentSize, nil); err != nil {
		t.Fatal(err)
	}
	report := mustMerge(t, a, "b")
	if report.Benches[0].Records != 2 || len(report.DamageThere) != 1 || !strings.Contains(report.DamageThere[0].What, "counter") {
		t.Errorf("%+v, want 2 records, and the counter of the third named", report)
	}
	if records, err := a.Append(entry("tool", "tool:EM-1", 1)); err != nil || records[0].Counter > 100 {
		t.Errorf("%v, %v, want a small counter", records, err)
	}
}

// TestAbout records what is about another record, of the same append and of another bench, and looks those up.
func TestAbout(t *testing.T) {
	m := newMemory()
	a, b := mustOpen(t, m, "a", "a"), mustOpen(t, m, "b", "b")
	theirs, err := b.Append(entry("summary", "tool:EM-1", 7))
	if err != nil {
		t.Fatal(err)
	}
	ref := theirs[0].Ref()
	if _, err := a.Lookup(ref); !errors.Is(err, ErrNoRecord) {
		t.Errorf("before merging: %v, want %v", err, ErrNoRecord)
	}
	mustMerge(t, a, "b")
	correction, recall := entry("correction", "tool:EM-1", 8), entry("recall", "tool:EM-1", 9)
	correction.About, recall.AboutBack = &ref, 1
	records, err := a.Append(correction, recall)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []Ref{ref, records[0].Ref()} {
		if got := records[i].About; got == nil || *got != want {
			t.Errorf("record %d is about %v, want %v", i, got, want)
		}
		if r, err := a.Lookup(*records[i].About); err != nil || r.Ref() != want {
			t.Errorf("looked up: %v, %v, want %v", r.Ref(), err, want)
		}
	}
	wrong := ref
	wrong.Hash = strings.Repeat("0", 64)
	if _, err := a.Lookup(wrong); !errors.Is(err, ErrNoRecord) {
		t.Errorf("with another hash: %v, want %v", err, ErrNoRecord)
	}
	for _, back := range []int{-1, 1} {
		first := entry("recall", "tool:EM-1", 1)
		if first.AboutBack = back; back == 1 {
			first.About = &ref
		}
		if _, err := a.Append(first); err == nil {
			t.Errorf("about the record %d places before the first was recorded", back)
		}
	}
	data := m.nodes["a/"+b.own+"/"+segmentName(1)].data
	data[len(data)-20] ^= 1
	var damaged *DamageError
	if _, err := mustOpen(t, m, "a", "a").Lookup(ref); !errors.As(err, &damaged) {
		t.Errorf("damaged: %v", err)
	}
}

// TestDecide decides from what is the newest there is, in several programs at once: each number is given once.
func TestDecide(t *testing.T) {
	dir := t.TempDir()
	const programs, each = 4, 12
	done := make(chan error, programs)
	for range programs {
		go func() {
			l, err := Open(dir, Options{patience: time.Minute})
			for i := 0; i < each && err == nil; i++ {
				_, err = l.Decide([]string{"tool:EM-1"}, func() ([]Entry, error) {
					n := 0
					for _, err := range l.History("tool:EM-1") {
						if err != nil {
							return nil, err
						}
						n++
					}
					return []Entry{entry("tool", "tool:EM-1", n)}, nil
				})
			}
			done <- err
		}()
	}
	for range programs {
		if err := <-done; err != nil {
			t.Fatal(err)
		}
	}
	l, err := Open(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	n := programs * each
	for r, err := range l.History("tool:EM-1") {
		if n--; err != nil || string(r.Body) != string(entry("", "", n).Body) {
			t.Fatalf("%s, %v, want %d", r.Body, err, n)
		}
	}
	refused := errors.New("refused")
	if _, err := l.Decide(nil, func() ([]Entry, error) { return nil, refused }); err != refused {
		t.Errorf("Decide gave %v, want %v", err, refused)
	}
	if records, err := l.Decide(nil, func() ([]Entry, error) { return nil, nil }); err != nil || len(records) > 0 {
		t.Errorf("Decide gave %v, %v, want nothing", records, err)
	}
}

// TestDecideDamaged decides nothing from what is damaged, and all else.
func TestDecideDamaged(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	mustAppend(t, l, "tool:1", 1)
	mustAppend(t, l, "tool:2", 1)
	data := m.nodes[m.segments("ledger")[0]].data
	data[strings.Index(string(data), "tool:1")-40] ^= 1
	l = mustOpen(t, m, "ledger", "b")
	decide := func() ([]Entry, error) { return []Entry{entry("tool", "tool:2", 9)}, nil }
	var damaged *DamageError
	if _, err := l.Decide([]string{"tool:2", "tool:1"}, decide); !errors.As(err, &damaged) || damaged.Damage[0].Subject != "tool:1" {
		t.Errorf("Decide gave %v, want the damage of tool:1", err)
	}
	if _, err := l.Decide([]string{"tool:2"}, decide); err != nil {
		t.Error(err)
	}
	if n := countHistory(t, l, "tool:2"); n != 2 {
		t.Errorf("%d records of tool:2, want 2", n)
	}
}
