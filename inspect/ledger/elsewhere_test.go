package ledger

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"
)

// tellOf returns the lines of a subject in a ledger's own chain, as a register tells them.
func tellOf(t *testing.T, l *Ledger, subject string) (lines [][]byte) {
	t.Helper()
	for _, text := range chainLines(t, l, l.own, 0) {
		if r, err := ReadLine(l.own, text); err != nil {
			t.Fatal(err)
		} else if r.Subject == subject {
			lines = append(lines, append([]byte(l.own+" "), text...))
		}
	}
	return lines
}

func historyOf(t *testing.T, l *Ledger, subject string) (records []Record) {
	t.Helper()
	for r, err := range l.History(subject) {
		if err != nil {
			t.Fatal(err)
		}
		records = append(records, r)
	}
	return records
}

// What is told of a subject stands in its history among what was recorded here, newest first, and what is recorded from
// then on comes behind it.
func TestTold(t *testing.T) {
	m := newMemory()
	here, there := mustOpen(t, m, "here", "b"), mustOpen(t, m, "there", "c")
	mustAppend(t, there, "tool:1", 9)
	mustAppend(t, here, "tool:1", 1)
	asked := []Told{{"tool:1", "register:8443", "2026-11-27T08:00:00Z"}, {"tool:nobody has it", "register:8443", "2026-11-27T08:00:00Z"}}
	fresh, err := here.KeepTold(asked, given(tellOf(t, there, "tool:1")))
	if err != nil || fresh != 9 {
		t.Fatalf("%d, %v; want 9 that are new", fresh, err)
	}
	if again, err := here.KeepTold(asked[:1], given(tellOf(t, there, "tool:1")[:3])); err != nil || again != 0 {
		t.Errorf("told less the next time: %d, %v", again, err)
	}
	mustAppend(t, here, "tool:1", 1)
	after, err := here.Head()
	if err != nil {
		t.Fatal(err)
	}
	all := historyOf(t, here, "tool:1")
	if len(all) != 11 || all[0].Hash != after.Hash || !slices.IsSortedFunc(all, func(a, b Record) int { return Compare(b, a) }) {
		t.Errorf("%d records, %v first; want 11, the one that was recorded last first", len(all), all[0].Ref())
	}
	for _, r := range all {
		if r.Told != (r.Bench == there.own) {
			t.Errorf("number %d of bench %s: told is %v", r.Seq, r.Bench, r.Told)
		}
	}
	if subjects, err := here.Subjects("tool:"); err != nil || !slices.Equal(subjects, []string{"tool:1"}) {
		t.Errorf("%q, %v; what nobody knows is not listed", subjects, err)
	}
	if got, err := here.Told("tool:1"); err != nil || got != asked[0] {
		t.Errorf("%v, %v, want %v", got, err, asked[0])
	}

	// What is merged in later is no register's word any more.
	m.copyFolder("there", "stick")
	if _, err := here.Merge("stick", MergeOptions{}); err != nil {
		t.Fatal(err)
	}
	for _, r := range historyOf(t, here, "tool:1") {
		if r.Told {
			t.Errorf("number %d of bench %s is here and is called told", r.Seq, r.Bench)
		}
	}
	if v, err := verify(m, "here", nil, nil); err != nil || len(v.Damage) > 0 {
		t.Errorf("%+v, %v", v, err)
	}
}

// What is told in halves, wrongly, or of something else is not kept, none of it.
func TestToldWrongly(t *testing.T) {
	m := newMemory()
	here, there := mustOpen(t, m, "here", "b"), mustOpen(t, m, "there", "c")
	mustAppend(t, there, "tool:1", 1)
	mustAppend(t, there, "tool:2", 1)
	asked := []Told{{"tool:1", "register:8443", "2026-11-27T08:00:00Z"}}
	one := tellOf(t, there, "tool:1")[0]
	ahead := there.chain(there.own)
	ahead.tail.counter = furthestCounter + 100
	mustAppend(t, there, "tool:1", 1)
	lines := map[string][][]byte{
		"a byte changed":         {bytes.Replace(one, []byte(`"body":`), []byte(`"bodi":`), 1)},
		"without its bench":      {one[len(there.own)+1:]},
		"of what nobody asked":   {one, tellOf(t, there, "tool:2")[0]},
		"not a line":             {one, []byte(there.own + " hello\n")},
		"a counter from nowhere": tellOf(t, there, "tool:1"),
	}
	for name, lines := range lines {
		if _, err := here.KeepTold(asked, given(lines)); err == nil {
			t.Errorf("%s: kept", name)
		}
	}
	cut := func(yield func([]byte, error) bool) {
		if yield(one, nil) {
			yield(nil, errors.New("cut off"))
		}
	}
	if _, err := here.KeepTold(asked, cut); err == nil {
		t.Error("cut off: kept")
	}
	if got := historyOf(t, here, "tool:1"); len(got) > 0 {
		t.Errorf("%d records were kept", len(got))
	}
}

// A byte that has changed in what was kept is named as the subject's damage; asking again mends it.
func TestToldDamaged(t *testing.T) {
	m := newMemory()
	here, there := mustOpen(t, m, "here", "b"), mustOpen(t, m, "there", "c")
	mustAppend(t, there, "tool:1", 3)
	asked := []Told{{"tool:1", "register:8443", "2026-11-27T08:00:00Z"}}
	told := tellOf(t, there, "tool:1")
	if _, err := here.KeepTold(asked, given(told)); err != nil {
		t.Fatal(err)
	}
	data := m.nodes["here/elsewhere/tool%3A1.jsonl"].data
	data[len(data)-4] ^= 1
	good := 0
	var damage *DamageError
	for _, err := range here.History("tool:1") {
		if err == nil {
			good++
		} else if !errors.As(err, &damage) {
			t.Fatal(err)
		}
	}
	if good != 2 || damage == nil || len(damage.Damage) != 1 || damage.Damage[0].Line != 4 || !strings.Contains(damage.Error(), "register fetch") {
		t.Fatalf("%d records and %v; want two, and line 4 named with what to do", good, damage)
	}
	if _, err := here.KeepTold(asked, given(told)); err != nil {
		t.Fatal(err)
	}
	if got := historyOf(t, here, "tool:1"); len(got) != 3 {
		t.Errorf("%d records after it was asked again, want 3", len(got))
	}
}

// Every subject has a file of its own, from whose name it can be told.
func TestToldNames(t *testing.T) {
	seen := map[string]bool{}
	for _, subject := range []string{"tool:EM-1", "tool:em-1", "tool:../../etc", "tool:A%41", "tool:AA", "job:ä 7", "tool:a/b", "tool:.", "gauge:"} {
		name, err := toldName(subject)
		if back, ok := subjectOfTold(name); err != nil || !ok || back != subject || seen[name] || strings.ContainsAny(name, "/\\:") {
			t.Errorf("%q: %q, back %q, %v", subject, name, back, err)
		}
		seen[name] = true
	}
	if _, err := toldName(strings.Repeat("é", 100)); err == nil {
		t.Error("a name longer than a file's can be")
	}
}
