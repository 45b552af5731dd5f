package ledger

import (
	"bytes"
	"errors"
	"fmt"
	"iter"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// longLedger returns a ledger of several segments, with appends of several records, a torn append and an open draft.
func longLedger(t *testing.T, m *memory) *Ledger {
	t.Helper()
	l := mustOpen(t, m, "ledger", "b")
	for i := range 12 {
		e := []Entry{entry("tool", fmt.Sprintf("tool:%d", i%3), i), entry("note", "", i), entry("ruling", "tool:1", i)}
		e[2].AboutBack = 2
		if _, err := l.Append(e[:1+i%3]...); err != nil {
			t.Fatal(err)
		}
		if i == 6 {
			n := m.nodes[m.lastSegment()]
			n.data = append(n.data, "0badc0de 4 tool"...)
			l = mustOpen(t, m, "ledger", "b")
		}
	}
	mustDraft(t, l, "open", "one").Release()
	return l
}

func chainLines(t *testing.T, l *Ledger, bench string, after uint64) (lines [][]byte) {
	t.Helper()
	for line, err := range l.Lines(bench, after) {
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, bytes.Clone(line.Text))
	}
	return lines
}

func given(lines [][]byte) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		for _, text := range lines {
			if !yield(text, nil) {
				return
			}
		}
	}
}

// TestLines gives a chain's lines behind every number, checks them as they arrive, and makes the chain's folder of them
// again: the segments are the same, but for what was void.
func TestLines(t *testing.T) {
	m := newMemory()
	l := longLedger(t, m)
	all := chainLines(t, l, l.own, 0)
	head, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	tail := Tail{Bench: l.own}
	for i, text := range all {
		if got := chainLines(t, l, l.own, uint64(i)); !slices.EqualFunc(got, all[i:], bytes.Equal) {
			t.Fatalf("behind number %d: %d lines, want %d", i, len(got), len(all)-i)
		}
		r, err := tail.Take(text)
		if err != nil || r.Seq != uint64(i+1) {
			t.Fatalf("number %d, %v, want %d", r.Seq, err, i+1)
		}
		if alone, err := ReadLine(l.own, text); err != nil || !reflect.DeepEqual(alone, r) {
			t.Fatalf("number %d by itself: %+v, %v, want %+v", i+1, alone, err, r)
		}
		torn := bytes.Clone(text)
		torn[len(torn)/2] ^= 1
		if alone, err := ReadLine(l.own, torn); err == nil {
			t.Fatalf("number %d with a wrong byte was read: %+v", i+1, alone)
		}
	}
	if tail.Head() != head || tail.More != 0 {
		t.Errorf("tail %v, want %v", tail, head)
	}
	end, err := restore(m, "copy", l.own, true, given(all))
	if err != nil || end != tail {
		t.Fatalf("%v, %v, want %v", end, err, tail)
	}
	for _, name := range m.segments("ledger") {
		copied := m.nodes["copy"+strings.TrimPrefix(name, "ledger")]
		if copied == nil || !bytes.HasPrefix(m.nodes[name].data, copied.data) || len(m.nodes[name].data)-len(copied.data) > len("0badc0de 4 tool") {
			t.Errorf("%s is not the same", name)
		}
	}
	report, err := verify(m, "copy", []string{head.String()}, nil)
	if err != nil || len(report.Benches) != 1 || report.Benches[0].Proven != head.Seq || len(report.Damage) != 1 || !report.Open[0].Gone {
		t.Errorf("%+v, %v, want all proven, and the open draft gone", report, err)
	}
	if _, err := restore(m, "copy", l.own, true, given(all)); err == nil {
		t.Error("a chain was restored over another")
	}
	again := mustOpen(t, m, "copy", "b")
	mustAppend(t, again, "tool:1", 1)
	if head, err := again.Head(); err != nil || head.Seq != tail.Seq+1 {
		t.Errorf("head %v, %v, want number %d", head, err, tail.Seq+1)
	}
}

// TestTail refuses every line that does not follow, and stays where it was.
func TestTail(t *testing.T) {
	m := newMemory()
	l := longLedger(t, m)
	all := chainLines(t, l, l.own, 0)
	other := longLedger(t, newMemory())
	stranger := chainLines(t, other, other.own, 0)
	tail := Tail{Bench: l.own}
	for i, text := range all {
		wrong := map[string][]byte{
			"torn":      text[:len(text)-1],
			"changed":   bytes.Replace(text, []byte("body"), []byte("bod\x79 "), 1),
			"repeated":  all[max(i-1, 0)],
			"skipped":   all[min(i+1, len(all)-1)],
			"two lines": append(bytes.Clone(text), text...),
			"nothing":   nil,
		}
		if i < len(stranger) {
			wrong["another bench's"] = stranger[i]
		}
		if counter := bytes.Fields(text)[2]; i > 0 {
			wrong["counter back"] = withCheck(bytes.Replace(text[9:len(text)-1], append([]byte{' '}, append(counter, ' ')...), fmt.Appendf(nil, " %d ", i), 1))
		}
		before := tail
		for name, line := range wrong {
			if bytes.Equal(line, text) {
				continue
			}
			if _, err := tail.Take(line); err == nil || tail != before {
				t.Fatalf("number %d: %s was taken", i+1, name)
			}
		}
		if _, err := tail.Take(text); err != nil {
			t.Fatal(err)
		}
	}
}

// TestLinesDamaged stops before a line that cannot be read.
func TestLinesDamaged(t *testing.T) {
	m := newMemory()
	l := longLedger(t, m)
	all := chainLines(t, l, l.own, 0)
	data := m.nodes[m.segments("ledger")[0]].data
	data[len(all[0])+len(all[1])+30] ^= 1
	var damaged *DamageError
	n := 0
	for _, err := range mustOpen(t, m, "ledger", "b").Lines(l.own, 0) {
		if err != nil {
			errors.As(err, &damaged)
			break
		}
		n++
	}
	if n != 2 || damaged == nil || damaged.Damage[0].Line != 3 {
		t.Errorf("%d lines, damage %v, want 2 lines and the third damaged", n, damaged)
	}
}
