package ledger

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// mixedLedger records n rounds over subjects whose spelling is awkward, with heads.json written in between.
func mixedLedger(t *testing.T, m *memory, n int) *Ledger {
	t.Helper()
	l := mustOpen(t, m, "ledger", "b")
	subjects := []string{"tool:A", "tool:A ", `tool:A"`, `tool:A\`, "tool:AB", "tool:a", `tool:1/2" <mill> & é`, "job:1", ":", `"`}
	for i := range n {
		mustAppend(t, l, subjects[i*i%len(subjects)], 1)
	}
	return l
}

// headsPath is where heads.json of a ledger's own bench is.
func headsPath(l *Ledger) string { return l.dir + "/" + l.own + "/" + headsName }

// TestHeads compares the histories and subjects found with heads.json, at every age of it and without it,
// with those found by reading everything.
func TestHeads(t *testing.T) {
	for n := 0; n < 40; n += min(stride(), 3) {
		m := newMemory()
		l := mixedLedger(t, m, n)
		for _, what := range []string{"as written", "by another program", "without heads.json"} {
			switch what {
			case "by another program":
				l = mustOpen(t, m, "ledger", "b")
			case "without heads.json":
				delete(m.nodes, headsPath(l))
				l = mustOpen(t, m, "ledger", "b")
			}
			if err := checkHistories(l); err != nil {
				t.Errorf("%d records, %s: %v", n, what, err)
			}
			checkSubjects(t, l)
		}
	}
}

func checkSubjects(t *testing.T, l *Ledger) {
	t.Helper()
	for _, prefix := range []string{"", "tool:", "tool:A", `tool:A"`, `tool:A\`, "x", ":"} {
		var want []string
		err := l.Scan(func(r Record) error {
			if strings.HasPrefix(r.Subject, prefix) {
				want = append(want, r.Subject)
			}
			return nil
		})
		slices.Sort(want)
		want = slices.Compact(want)
		if old := bytes.Count(l.chain(l.own).heads.old, []byte("\n")); prefix == "" && old > len(want) {
			t.Errorf("heads.json has %d lines for %d subjects", old, len(want))
		}
		got, gotErr := l.Subjects(prefix)
		if err != nil || gotErr != nil || !slices.Equal(got, want) {
			t.Errorf("subjects with %q: %q, %v, %v, want %q", prefix, got, err, gotErr, want)
		}
	}
}

// TestHeadsOfOther puts heads.json of another ledger, of another time, and forged ones in the place of the right one.
// None is believed, all are found by verifying but one that was right once, and the right one is made anew.
func TestHeadsOfOther(t *testing.T) {
	m, other := newMemory(), newMemory()
	l, stranger := mixedLedger(t, m, 20), mixedLedger(t, other, 25)
	earlier := bytes.Clone(m.nodes[headsPath(l)].data)
	mustAppend(t, l, "tool:A", 9)
	right := m.nodes[headsPath(l)].data
	wrong := map[string][]byte{
		"other ledger":  other.nodes[headsPath(stranger)].data,
		"empty":         nil,
		"cut":           right[:100],
		"not JSON":      []byte("x\n"),
		"earlier":       earlier,
		"without one":   regexp.MustCompile(`"tool:A":\[[0-9]+,[0-9]+\],\n`).ReplaceAll(right, nil),
		"points past":   regexp.MustCompile(`("tool:A":\[)[0-9]+,[0-9]+`).ReplaceAll(right, []byte("${1}1,700")),
		"later segment": bytes.Replace(right, []byte(`"segment":`), []byte(`"segment":9`), 1),
	}
	for name, data := range wrong {
		changed := m.copied()
		changed.nodes[headsPath(l)].data = data
		report, err := verify(changed, "ledger", nil, nil)
		if err != nil || (len(report.Damage) == 0) != (name == "earlier") {
			t.Errorf("%s: %v, damage %v", name, err, report.Damage)
		}
		if bytes.Equal(data, right) {
			t.Errorf("%s: nothing is changed", name)
		}
		l := mustOpen(t, changed, "ledger", "b")
		if err := checkHistories(l); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if !bytes.Equal(changed.nodes[headsPath(l)].data, right) {
			t.Errorf("%s: not made anew", name)
		}
		mustAppend(t, l, "tool:A", 1)
		if err := checkSound(l, Head{}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestHeadsOfDamaged puts an earlier heads.json in its place, and damages the end of the segment that it is of so that it
// cannot be told which number follows: what is appended stands behind all that there is.
func TestHeadsOfDamaged(t *testing.T) {
	for name, damage := range map[string]func(data []byte){
		"torn": func(data []byte) { data[len(data)-1] = 'x' },
		"two lines in one": func(data []byte) {
			between := bytes.LastIndexByte(data[:len(data)-1], '\n')
			data[between-30], data[between], data[between+30] = 'x', 'x', 'x'
		},
	} {
		m := newMemory()
		l := mixedLedger(t, m, 20)
		earlier := bytes.Clone(m.nodes[headsPath(l)].data)
		of := slices.Max(m.segments("ledger"))
		mustAppend(t, l, "tool:Z", 40)
		segments := m.segments("ledger")
		head, err := l.Head()
		if err != nil {
			t.Fatal(err)
		}
		damage(m.nodes[of].data)
		m.nodes[headsPath(l)].data = earlier
		l = mustOpen(t, m, "ledger", "b")
		r, err := l.Append(entry("tool", "tool:Z", 41))
		if err != nil || r[0].Seq != head.Seq+1 {
			t.Errorf("%s: appended as %v, %v, want number %d", name, r, err, head.Seq+1)
		}
		if now := m.segments("ledger"); len(now) < len(segments) || !slices.Equal(now[:len(segments)], segments) {
			t.Errorf("%s: segments %v, want those that were there, %v", name, now, segments)
		}
	}
}

// TestHeadsBound wants no more than one segment to be read at the start.
func TestHeadsBound(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	mustAppend(t, l, "tool:A", 40)
	segments := m.segments("ledger")
	for _, name := range segments[:len(segments)-1] {
		m.nodes[name].data = bytes.Repeat([]byte("rubbish\n"), 10)
	}
	head, err := mustOpen(t, m, "ledger", "b").Head()
	if want := l.chain(l.own).tail; err != nil || head.Seq != want.seq || head.Hash != want.hash.String() {
		t.Errorf("head %v, %v, want number %d", head, err, want.seq)
	}
}

// TestHistoryDamage damages each line of a tool's history in turn, with heads.json and without. The others
// are given all the same, and the error names the place.
func TestHistoryDamage(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	for i := range 21 {
		mustAppend(t, l, fmt.Sprintf("tool:%d", i%2), 1)
	}
	var places []Record
	if err := l.Scan(func(r Record) error { places = append(places, r); return nil }); err != nil {
		t.Fatal(err)
	}
	for _, place := range places {
		changed := m.copied()
		changed.nodes["ledger/"+place.Segment].data[place.Offset+12] ^= 2
		damagedHistory(t, mustOpen(t, changed, "ledger", "b"), place)
		delete(changed.nodes, headsPath(l))
		damagedHistory(t, mustOpen(t, changed, "ledger", "b"), place)
		l := mustOpen(t, changed, "ledger", "b")
		mustAppend(t, l, "tool:other", 9) // into another segment
		damagedHistory(t, l, place)
		delete(changed.nodes, headsPath(l))
		damagedHistory(t, mustOpen(t, changed, "ledger", "b"), place)
	}
}

// damagedHistory reads the ten records of tool:1 in a ledger with damage at a place.
func damagedHistory(t *testing.T, l *Ledger, place Record) {
	t.Helper()
	var damaged *DamageError
	n := 0
	for r, err := range l.History("tool:1") {
		if err == nil && (r.Hash == place.Hash || r.Subject != "tool:1") {
			t.Errorf("gave record %d of %s", r.Seq, r.Subject)
		}
		if err == nil {
			n++
		} else if !errors.As(err, &damaged) {
			t.Fatal(err)
		}
	}
	want := 10
	if place.Subject == "tool:1" {
		want = 9
	}
	if n != want {
		t.Errorf("with %s at byte %d damaged: %d records, want %d", place.Segment, place.Offset, n, want)
	}
	if want == 10 && damaged != nil {
		t.Errorf("with %s at byte %d damaged, of another tool: %v", place.Segment, place.Offset, damaged)
	}
	if want == 9 && (damaged == nil || damaged.Damage[0].Segment != place.Segment) {
		t.Errorf("with %s at byte %d damaged: %v, want the place", place.Segment, place.Offset, damaged)
	}
}

// TestHistoryStops reads no further than is asked for.
func TestHistoryStops(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	mustAppend(t, l, "tool:A", 20)
	n := 0
	for range l.History("tool:A") {
		if n++; n == 3 {
			break
		}
	}
	if n != 3 {
		t.Errorf("%d records, want 3", n)
	}
	for range l.History("tool:none") {
		t.Error("a tool without records has a history")
	}
}

func TestLatest(t *testing.T) {
	l := mustOpen(t, newMemory(), "ledger", "b")
	for i, kind := range []string{"tool", "summary", "tool", "correction"} {
		if _, err := l.Append(entry(kind, "tool:A", i)); err != nil {
			t.Fatal(err)
		}
	}
	tests := []struct {
		subject, kind, want string
	}{
		{"tool:A", "tool", `{"n":2}`},
		{"tool:A", "summary", `{"n":1}`},
		{"tool:A", "job", ""},
		{"tool:B", "tool", ""},
	}
	for _, test := range tests {
		r, ok, err := l.Latest(test.subject, test.kind)
		if err != nil || ok != (test.want != "") || string(r.Body) != test.want {
			t.Errorf("%s of %s: %s, %v, %v, want %q", test.kind, test.subject, r.Body, ok, err, test.want)
		}
	}
}
