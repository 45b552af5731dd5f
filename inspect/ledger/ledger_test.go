package ledger

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

// fixedClock goes on by a second with each look.
func fixedClock() func() Time {
	at := time.Date(2026, 11, 12, 8, 15, 30, 0, time.UTC)
	up := time.Duration(0)
	return func() Time {
		at, up = at.Add(time.Second), up+time.Second
		return Time{UTC: at, SinceBoot: up, Boot: "boot-1", Synchronised: true}
	}
}

func entry(kind, subject string, n int) Entry {
	return Entry{Kind: kind, Subject: subject, Body: json.RawMessage(fmt.Sprintf(`{"n":%d}`, n))}
}

func TestRoundTrip(t *testing.T) {
	dir := t.TempDir() + "/a/b"
	l, err := Open(dir, Options{Bench: "bench 1", Clock: fixedClock(), segmentSize: 2000})
	if err != nil {
		t.Fatal(err)
	}
	d, err := l.NewDraft("i-1", entry("opened", "tool:EM-1", 0))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 5 {
		if err := d.Append(fmt.Appendf(nil, `{"r":%d}`, i)); err != nil {
			t.Fatal(err)
		}
	}
	d.Release()
	d, c, err := l.OpenDraft("i-1")
	if err != nil || len(c.Lines) != 5 {
		t.Fatal(err, c)
	}
	if _, err := d.Close(entry("readings", "tool:EM-1", 1), entry("summary", "tool:EM-1", 2)); err != nil {
		t.Fatal(err)
	}
	for i := range 30 {
		if _, err := l.Append(entry("tool", fmt.Sprintf("tool:EM-%d", i%3), i)); err != nil {
			t.Fatal(err)
		}
	}
	l, err = Open(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	scanned := 0
	err = l.Scan(func(r Record) error {
		scanned++
		again, err := l.Again(Record{Bench: r.Bench, Seq: r.Seq, Segment: r.Segment, Offset: r.Offset})
		if err != nil || !reflect.DeepEqual(again, r) {
			t.Errorf("again: %+v, %v, want %+v", again, err, r)
		}
		damage := new(DamageError)
		for _, elsewhere := range []Record{{Bench: r.Bench, Seq: r.Seq + 1, Segment: r.Segment, Offset: r.Offset}, {Bench: r.Bench, Seq: r.Seq, Segment: r.Segment, Offset: r.Offset + 1}} {
			if _, err := l.Again(elsewhere); !errors.As(err, &damage) {
				t.Errorf("again what does not stand there: %v, want damage", err)
			}
		}
		if _, err := l.Again(Record{Bench: "a000000000000000", Seq: r.Seq, Segment: r.Segment, Offset: r.Offset}); !errors.Is(err, ErrNoRecord) {
			t.Errorf("again of a bench that is not here: %v", err)
		}
		return nil
	})
	if err != nil || scanned != 33 {
		t.Errorf("Scan gave %d records, %v, want 33", scanned, err)
	}
	var bodies []string
	for r, err := range l.History("tool:EM-1") {
		if err != nil {
			t.Fatal(err)
		}
		bodies = append(bodies, r.Kind+string(r.Body))
	}
	want := []string{"tool{\"n\":28}", "tool{\"n\":25}", "tool{\"n\":22}", "tool{\"n\":19}", "tool{\"n\":16}", "tool{\"n\":13}", "tool{\"n\":10}", "tool{\"n\":7}", "tool{\"n\":4}", "tool{\"n\":1}", "summary{\"n\":2}", "readings{\"n\":1}", "opened{\"n\":0}"}
	if !slices.Equal(bodies, want) {
		t.Errorf("History gave %v, want %v", bodies, want)
	}
}

func TestEntriesRefused(t *testing.T) {
	tests := []struct {
		name  string
		entry Entry
	}{
		{"no kind", Entry{Body: []byte("1")}},
		{"kind with a space", Entry{Kind: "a b", Body: []byte("1")}},
		{"kind of the ledger's own", Entry{Kind: "segment", Body: []byte("1")}},
		{"kind of the ledger's own", Entry{Kind: "clock", Body: []byte("1")}},
		{"subject with an end of line", Entry{Kind: "tool", Subject: "a\nb", Body: []byte("1")}},
		{"subject not UTF-8", Entry{Kind: "tool", Subject: "\xff", Body: []byte("1")}},
		{"subject too long", Entry{Kind: "tool", Subject: strings.Repeat("x", maxText+1), Body: []byte("1")}},
		{"no body", Entry{Kind: "tool"}},
		{"body not JSON", Entry{Kind: "tool", Body: []byte("{")}},
		{"two bodies", Entry{Kind: "tool", Body: []byte("1 2")}},
		{"body not UTF-8", Entry{Kind: "tool", Body: []byte("\"\xff\"")}},
		{"body too long", Entry{Kind: "tool", Body: []byte(`"` + strings.Repeat("x", maxBody) + `"`)}},
	}
	l := mustOpen(t, newMemory(), "ledger", "b")
	for _, test := range tests {
		if _, err := l.Append(entry("tool", "tool:A", 1), test.entry); err == nil {
			t.Errorf("%s was recorded", test.name)
		}
	}
	if head, err := l.Head(); err != nil || head.Seq != 1 {
		t.Errorf("head %v, %v, want that of the first segment", head, err)
	}
}

// TestLargestLine records a body of the most bytes under the longest of everything else.
func TestLargestLine(t *testing.T) {
	l := mustOpen(t, newMemory(), "ledger", "b")
	l.opt.Clock = func() Time {
		return Time{UTC: at("2026-11-12T10:00:00Z"), SinceBoot: 1<<63 - 1, Boot: strings.Repeat("x", 64)}
	}
	e := Entry{
		Kind: strings.Repeat("k", 32), Subject: strings.Repeat(`"`, maxText), Body: []byte(`"` + strings.Repeat("x", maxBody-2) + `"`),
		opens: strings.Repeat(`"`, maxText), closes: &closing{strings.Repeat(`"`, maxText), 1 << 62, digest{}.String()},
		About: &Ref{"a0b1c2d3e4f50617", 1<<64 - 1, digest{}.String()},
	}
	for range 2 {
		l.mu.Lock()
		_, err := l.append([]Entry{e}, nil)
		l.mu.Unlock()
		if err != nil {
			t.Fatal(err)
		}
	}
	if n := countHistory(t, l, e.Subject); n != 2 {
		t.Errorf("%d records, want 2", n)
	}
	longest := 0
	for _, name := range l.opt.fsys.(*memory).segments("ledger") {
		for line := range bytes.Lines(l.opt.fsys.(*memory).nodes[name].data) {
			longest = max(longest, len(line))
		}
	}
	if longest > MaxLine {
		t.Errorf("a line has %d bytes, want at most %d", longest, MaxLine)
	}
}

// TestSegments fills segments and wants none to be larger than it may be, nor much smaller.
func TestSegments(t *testing.T) {
	m := newMemory()
	l, err := Open("ledger", Options{Clock: fixedClock(), fsys: m})
	if err != nil {
		t.Fatal(err)
	}
	e := Entry{Kind: "readings", Subject: "tool:A", Body: []byte(`"` + strings.Repeat("x", 250_000) + `"`)}
	for range 9 {
		if _, err := l.Append(e); err != nil {
			t.Fatal(err)
		}
	}
	names := m.segments("ledger")
	for i, name := range names {
		if size := len(m.nodes[name].data); size > 1<<20 || i+1 < len(names) && size < 3<<18 {
			t.Errorf("%s has %d bytes, want at most 1 MiB and little less", name, size)
		}
	}
	if len(names) != 3 {
		t.Errorf("%d segments, want 3", len(names))
	}
	if n := countHistory(t, l, "tool:A"); n != 9 {
		t.Errorf("%d records, want 9", n)
	}
}

// TestReadingChangesNothing wants the commands that read to leave every byte as it is.
func TestReadingChangesNothing(t *testing.T) {
	m, head := smallLedger(t)
	before := m.copied()
	if _, err := verify(m, "ledger", []string{head.String()}, nil); err != nil {
		t.Fatal(err)
	}
	if len(m.nodes) != len(before.nodes) {
		t.Errorf("verify has left %d files and folders, want %d", len(m.nodes), len(before.nodes))
	}
	if _, err := readable(m, "t:1"); err != nil {
		t.Fatal(err)
	}
	l := mustOpen(t, m, "ledger", "b")
	_, err1 := l.Subjects("")
	_, err2 := l.Drafts()
	_, err3 := l.ReadDraft("d")
	_, err4 := l.Unfinished()
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		t.Fatal(err)
	}
	for _, name := range before.files() {
		if !bytes.Equal(m.nodes[name].data, before.nodes[name].data) {
			t.Errorf("%s has changed", name)
		}
	}
}

// TestScanKinds wants the records of some kinds in order, and damage in a record of another kind named all the
// same.
func TestScanKinds(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	for i := range 20 {
		if _, err := l.Append(entry("summary", "t:1", i), entry("readings", "t:1", i), entry("wheel", "w:1", i)); err != nil {
			t.Fatal(err)
		}
	}
	scan := func() (got []string, err error) {
		err = mustOpen(t, m, "ledger", "b").ScanKinds([]string{"wheel", "summary"}, func(r Record) error {
			got = append(got, r.Kind+string(r.Body))
			return nil
		})
		return got, err
	}
	var want []string
	for i := range 20 {
		want = append(want, fmt.Sprintf(`summary{"n":%d}`, i), fmt.Sprintf(`wheel{"n":%d}`, i))
	}
	if got, err := scan(); err != nil || !slices.Equal(got, want) {
		t.Fatalf("%v, %v, want %v", got, err, want)
	}
	first := m.nodes[m.segments("ledger")[0]]
	at := bytes.Index(first.data, []byte("readings"))
	first.data[at] ^= 1
	var damaged *DamageError
	if got, err := scan(); !errors.As(err, &damaged) || len(damaged.Damage) != 1 || !slices.Equal(got, want) {
		t.Errorf("%v, %v, want one place of damage and all records of the kinds", got, err)
	}
}

func TestParseHead(t *testing.T) {
	hash := strings.Repeat("0123456789abcdef", 4)
	head := Head{"c3f17c2da90490f3", 12, hash}
	if got, err := ParseHead(head.String()); err != nil || got != head {
		t.Errorf("got %v, %v, want %v", got, err, head)
	}
	if got, err := ParseHead("c3f17c2da90490f3-12-" + hash[:16]); err != nil || got.Hash != hash[:16] {
		t.Errorf("got %v, %v, want 16 digits of the hash", got, err)
	}
	if got, err := ParseHead(strings.ToUpper(head.String())); err != nil || got != head {
		t.Errorf("in capitals: got %v, %v, want %v", got, err, head)
	}
	for _, s := range []string{"", "c3f17c2da90490f3-12", "c3f17c2da90490f3-12-" + hash[:15], "c3f17c2da90490f3-0-" + hash, "c3f1-12-" + hash, "c3f17c2da90490f3-12-" + hash + "0", "c3f17c2da90490f3-x-" + hash} {
		if got, err := ParseHead(s); err == nil {
			t.Errorf("%q was read as %v", s, got)
		}
	}
}

// TestBenchFileDamaged reads a ledger whose bench file is damaged, and refuses to write until it is mended.
func TestBenchFileDamaged(t *testing.T) {
	m, _ := smallLedger(t)
	whole := bytes.Clone(m.nodes["ledger/bench"].data)
	m.nodes["ledger/bench"].data[10] ^= 1
	if _, err := readable(m, "t:1"); err != nil {
		t.Errorf("reading: %v", err)
	}
	l := mustOpen(t, m, "ledger", "b")
	if _, err := l.Append(entry("tool", "t:1", 1)); err == nil || !strings.Contains(err.Error(), "ledger/bench") {
		t.Errorf("Append gave %v, want an error that names the file", err)
	}
	m.nodes["ledger/bench"].data = whole
	if _, err := mustOpen(t, m, "ledger", "b").Append(entry("tool", "t:1", 1)); err != nil {
		t.Errorf("with the file put back: %v", err)
	}
}

// TestRewritten writes a chain anew from its middle. Nothing but a printed head tells.
func TestRewritten(t *testing.T) {
	m := newMemory()
	mustAppend(t, mustOpen(t, m, "ledger", "b"), "tool:A", 2)
	m.copyFolder("ledger", "forged")
	l, forger := mustOpen(t, m, "ledger", "b"), mustOpen(t, m, "forged", "b")
	mustAppend(t, l, "tool:A", 2)
	mustAppend(t, forger, "tool:B", 2)
	head, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	report, err := verify(m, "forged", nil, nil)
	if err != nil || len(report.Damage) != 0 {
		t.Fatalf("%v, damage %v", err, report.Damage)
	}
	report, err = verify(m, "forged", []string{head.String()}, nil)
	if err != nil || len(report.Damage) != 1 || report.Damage[0].Line != 5 {
		t.Errorf("with the head: %v, damage %v, want line 5", err, report.Damage)
	}
}

// A spreadsheet would take an id of digits, or of digits with one e, for a number.
func TestBenchIDsBeginWithALetter(t *testing.T) {
	for range 40 {
		l, err := Open(t.TempDir(), Options{})
		if err != nil {
			t.Fatal(err)
		}
		head, err := l.Head()
		if err != nil || head.Bench[0] < 'a' {
			t.Fatalf("bench %q, %v", head.Bench, err)
		}
	}
}
