package ledger

import (
	"encoding/json"
	"fmt"
	"slices"
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
	if err := l.Scan(func(Record) error { scanned++; return nil }); err != nil || scanned != 33 {
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
