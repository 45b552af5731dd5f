package ledger

import (
	"bytes"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// mustOpen opens a ledger in a memory, with segments of a few lines.
func mustOpen(t *testing.T, m *memory, dir, bench string) *Ledger {
	t.Helper()
	l, err := Open(dir, Options{Bench: bench, Clock: fixedClock(), fsys: m, segmentSize: 1500})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func mustAppend(t *testing.T, l *Ledger, subject string, n int) {
	t.Helper()
	for i := range n {
		if _, err := l.Append(entry("tool", subject, i)); err != nil {
			t.Fatal(err)
		}
	}
}

// copyFolder copies a folder as a person does.
func (m *memory) copyFolder(from, to string) {
	for name, n := range maps.Clone(m.nodes) {
		if rest, ok := strings.CutPrefix(name, from); ok && (rest == "" || rest[0] == '/') {
			m.nodes[to+rest] = &node{n.folder, bytes.Clone(n.data)}
		}
	}
}

func mustMerge(t *testing.T, l *Ledger, from string) MergeReport {
	t.Helper()
	report, err := l.Merge(from, MergeOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return report
}

func TestMerge(t *testing.T) {
	m := newMemory()
	a, b := mustOpen(t, m, "a", "bench a"), mustOpen(t, m, "b", "bench b")
	mustAppend(t, a, "tool:EM-1", 9)
	mustAppend(t, b, "tool:EM-1", 7)
	steps := []struct {
		name    string
		before  func()
		records int // new of bench b
	}{
		{"first time", func() {}, 7},
		{"again", func() {}, 0},
		{"after more in the same segment", func() { mustAppend(t, b, "tool:EM-1", 1) }, 1},
		{"after more segments", func() { mustAppend(t, b, "tool:EM-2", 12) }, 12},
		{"after work here", func() { mustAppend(t, a, "tool:EM-1", 3) }, 0},
	}
	for _, step := range steps {
		t.Run(step.name, func(t *testing.T) {
			step.before()
			report := mustMerge(t, a, "b")
			got := report.Benches[0]
			if len(report.Benches) != 1 || got.Bench != b.own || got.Label != "bench b" || got.Records != step.records || got.Kinds["tool"] != step.records || report.Short() {
				t.Errorf("got %+v, want %d records of bench b", report, step.records)
			}
			checkCopy(t, m, "b/"+b.own, "a/"+b.own)
		})
	}
	verified, err := verify(m, "a", nil, nil)
	if err != nil || len(verified.Damage) > 0 || verified.Records != 9+7+1+12+3 || len(verified.Benches) != 2 {
		t.Errorf("verify gave %+v, %v, want 32 records of 2 benches and no damage", verified, err)
	}
	if n := countHistory(t, a, "tool:EM-1"); n != 9+7+1+3 {
		t.Errorf("history of both benches has %d records, want 20", n)
	}
	subjects, err := a.Subjects("tool:")
	if err != nil || !slices.Equal(subjects, []string{"tool:EM-1", "tool:EM-2"}) {
		t.Errorf("subjects %v, %v", subjects, err)
	}
}

func countHistory(t *testing.T, l *Ledger, subject string) (n int) {
	t.Helper()
	for _, err := range l.History(subject) {
		if err != nil {
			t.Fatal(err)
		}
		n++
	}
	return n
}

// checkCopy wants the segments of two folders to be the same.
func checkCopy(t *testing.T, m *memory, from, to string) {
	t.Helper()
	for _, name := range m.files() {
		if !isSegment(name) || filepath.Dir(name) != from {
			continue
		}
		copied := m.nodes[to+"/"+filepath.Base(name)]
		if copied == nil || !bytes.Equal(copied.data, m.nodes[name].data) {
			t.Errorf("%s is not copied", name)
		}
	}
}

// TestMergeOldCopy brings back a copy of this bench's own ledger from an hour before.
func TestMergeOldCopy(t *testing.T) {
	m := newMemory()
	a := mustOpen(t, m, "a", "bench a")
	mustAppend(t, a, "tool:EM-1", 9)
	m.copyFolder("a", "copy")
	mustAppend(t, a, "tool:EM-1", 5)
	before := m.copied()
	report := mustMerge(t, a, "copy")
	if got := report.Benches[0]; len(report.Benches) != 1 || !got.Own || got.Records != 0 || got.Ahead != 0 || report.Short() {
		t.Errorf("got %+v, want nothing of bench a", report)
	}
	for _, name := range before.files() {
		if isSegment(name) && !bytes.Equal(before.nodes[name].data, m.nodes[name].data) {
			t.Errorf("%s has changed", name)
		}
	}
}

// TestMergeThroughThird takes a bench's chain from a copy that a third bench holds, an old one first.
func TestMergeThroughThird(t *testing.T) {
	m := newMemory()
	a, b, c := mustOpen(t, m, "a", "a"), mustOpen(t, m, "b", "b"), mustOpen(t, m, "c", "c")
	mustAppend(t, a, "tool:EM-1", 2)
	mustAppend(t, b, "tool:EM-1", 3)
	mustMerge(t, c, "b")
	mustAppend(t, b, "tool:EM-1", 9)
	mustMerge(t, a, "b")
	if report := mustMerge(t, a, "c"); len(report.Forks)+len(report.DamageHere)+len(report.DamageThere) > 0 {
		t.Errorf("an old copy: got %+v, want nothing wrong", report)
	}
	if n := countHistory(t, a, "tool:EM-1"); n != 14 {
		t.Errorf("history has %d records, want 14", n)
	}
}

// TestFork clones a bench's card, writes to both, and merges.
func TestFork(t *testing.T) {
	tests := []struct {
		name        string
		here, there int // records after the cloning
	}{
		{"both in one segment", 1, 1},
		{"here goes on to another segment", 9, 1},
		{"there goes on to another segment", 1, 9},
		{"both go on to another segment", 9, 9},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			m := newMemory()
			mustAppend(t, mustOpen(t, m, "card", "b"), "tool:EM-1", 3)
			m.copyFolder("card", "clone")
			here, there := mustOpen(t, m, "card", "b"), mustOpen(t, m, "clone", "b")
			mustAppend(t, here, "tool:here", test.here)
			mustAppend(t, there, "tool:there", test.there)
			report := mustMerge(t, here, "clone")
			want := []Fork{{here.own, 5, here.own + "/" + segmentName(1), 5}}
			if !slices.Equal(report.Forks, want) {
				t.Errorf("forks %v, want %v", report.Forks, want)
			}
			if n := countHistory(t, here, "tool:here"); n != test.here {
				t.Errorf("%d records here, want %d", n, test.here)
			}
			if n := countHistory(t, here, "tool:there"); n != 0 {
				t.Errorf("%d records of the clone were taken in", n)
			}
		})
	}
}

// TestForkAtSegmentEnd clones a card when the next record begins a segment on one side only.
func TestForkAtSegmentEnd(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "card", "b")
	for len(m.segments("card")) < 2 {
		m.copyFolder("card", "clone")
		mustAppend(t, l, "tool:EM-1", 1)
	}
	clone := mustOpen(t, m, "clone", "b")
	clone.opt.segmentSize = 1 << 20
	mustAppend(t, clone, "tool:there", 1)
	for _, pair := range []struct {
		into *Ledger
		from string
	}{{l, "clone"}, {clone, "card"}} {
		if report := mustMerge(t, pair.into, pair.from); len(report.Forks) != 1 {
			t.Errorf("merging %s: forks %v, want one", pair.from, report.Forks)
		}
	}
}

func (m *memory) segments(dir string) []string {
	return slices.DeleteFunc(m.files(), func(name string) bool {
		return !isSegment(name) || !strings.HasPrefix(name, dir+"/")
	})
}

// TestMergeDamage takes in what stands before the damage, and the rest from a copy that is whole.
func TestMergeDamage(t *testing.T) {
	m := newMemory()
	a, b := mustOpen(t, m, "a", "a"), mustOpen(t, m, "b", "b")
	mustAppend(t, b, "tool:EM-1", 12)
	m.copyFolder("b", "bad")
	name := m.segments("bad")[1]
	third := bytes.IndexByte(m.nodes[name].data, '\n') + 1
	third += bytes.IndexByte(m.nodes[name].data[third:], '\n') + 20
	m.nodes[name].data[third] ^= 1
	report := mustMerge(t, a, "bad")
	if len(report.DamageThere) == 0 || report.DamageThere[0].Line != 3 || report.Benches[0].Records >= 12 {
		t.Errorf("got %+v, want damage in line 3", report)
	}
	first := report.Benches[0].Records
	report = mustMerge(t, a, "b")
	if len(report.DamageThere)+len(report.DamageHere)+len(report.Forks) > 0 || report.Benches[0].Records != 12-first {
		t.Errorf("got %+v, want %d records", report, 12-first)
	}
	m.nodes["a/"+b.own+"/"+segmentName(1)].data[600] ^= 1
	if report = mustMerge(t, a, "b"); len(report.DamageHere) != 1 || len(report.Forks) > 0 {
		t.Errorf("got %+v, want damage here", report)
	}
}

// TestMergeTorn takes in a chain whose last line is torn, and goes on when that bench has gone on.
func TestMergeTorn(t *testing.T) {
	m := newMemory()
	a, b := mustOpen(t, m, "a", "a"), mustOpen(t, m, "b", "b")
	mustAppend(t, b, "tool:EM-1", 2)
	n := m.nodes[m.segments("b")[0]]
	n.data = append(n.data, "0badc0de 4 tool"...)
	if report := mustMerge(t, a, "b"); report.Benches[0].Records != 2 || report.Short() {
		t.Errorf("got %+v, want 2 records and nothing wrong: the torn line is no part of the chain", report)
	}
	mustAppend(t, b, "tool:EM-1", 2)
	report := mustMerge(t, a, "b")
	if report.Benches[0].Records != 2 || len(report.DamageThere)+len(report.DamageHere)+len(report.Forks) > 0 {
		t.Errorf("got %+v, want 2 records", report)
	}
	if err := checkHistories(a); err != nil {
		t.Error(err)
	}
}

func TestMergeNothing(t *testing.T) {
	m := newMemory()
	a := mustOpen(t, m, "a", "a")
	if err := m.Mkdir("empty"); err != nil {
		t.Fatal(err)
	}
	for _, from := range []string{"empty", "missing"} {
		if _, err := a.Merge(from, MergeOptions{}); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("%q", from)) {
			t.Errorf("merging %q: %v, want an error that names it", from, err)
		}
	}
}
