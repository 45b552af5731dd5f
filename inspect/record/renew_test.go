package record

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// A card is copied while an inspection is half read, its tool was ground, and a bench is left out. The copy closes it, rules, corrects the ruling's
// ground and goes on under a new id: each tool stands as it stood, half read is nothing, and what was left out is.
func TestRenewed(t *testing.T) {
	l, w := writing(t, inspect.After)
	other := openAt(t, t.TempDir())
	add(t, other, "X-1")
	if _, err := l.Merge(other.Dir(), ledger.MergeOptions{}); err != nil {
		t.Fatal(err)
	}
	left, err := other.Head()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := LeaveOutBench(l, left.Bench, by("Vale", "its gauge was off")); err != nil {
		t.Fatal(err)
	}
	if err := w.Read(inspect.Reading{Feature: inspect.RadialRunout, Flute: 1, Repeat: 1, Text: "0", Unit: "in"}); err != nil {
		t.Fatal(err)
	}
	if err := w.Release(); err != nil {
		t.Fatal(err)
	}
	if _, err := RecordGround(l, "W-1", Ground{By: "Vale", At: Stamp(at)}); err != nil {
		t.Fatal(err)
	}
	common, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "copy")
	if err := os.CopyFS(dir, os.DirFS(l.Dir())); err != nil {
		t.Fatal(err)
	}
	add(t, l, "true")
	copied := openAt(t, dir)
	resumed, _, err := Resume(copied, "W-1.1", nil, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	for repeat := range 3 {
		for flute := range 2 {
			r := inspect.Reading{Feature: inspect.RadialRunout, Flute: flute + 1, Repeat: repeat + 1, Value: 0, Text: "0", Unit: "in"}
			if err := resumed.Read(r); err != nil {
				t.Fatal(err)
			}
		}
	}
	if _, _, err := resumed.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Rule(copied, []string{"W-1.1"}, Concession, by("Vale", "roughing only")); err != nil {
		t.Fatal(err)
	}
	fix := Fix{Reading: &inspect.Reading{Feature: inspect.RadialRunout, Flute: 2, Repeat: 1, Value: 254_000_000, Text: "0.01", Unit: "in"}}
	if _, err := Correct(copied, "W-1.1", fix, by("Vale", "misread")); err != nil {
		t.Fatal(err)
	}
	add(t, copied, "late")
	stands := func() (s []string) {
		t.Helper()
		for _, id := range []string{"W-1", "late"} {
			tool, err := FindTool(copied, id)
			if err != nil {
				t.Fatal(err)
			}
			s = append(s, fmt.Sprintf("%s %s %v %s, %d inspections, %d rulings, %d recalls, open %v", id, tool.Standing, tool.What, tool.State.Inspection, len(tool.Inspections), len(tool.Rulings), len(tool.Recalls), tool.Open))
		}
		for listed, err := range List(copied) {
			if err != nil {
				t.Fatal(err)
			}
			s = append(s, fmt.Sprint(listed.ID, listed.Standing, listed.Open))
		}
		return s
	}
	before := stands()
	old, err := copied.Head()
	if err != nil {
		t.Fatal(err)
	}
	first := ledger.Entry{Kind: KindContinues, Subject: BenchSubject(old.Bench), Body: json.RawMessage(`{}`)}
	n, err := copied.Renew(common, first, func(r ledger.Record, renamed map[ledger.Ref]ledger.Ref) (json.RawMessage, error) {
		return Renamed(r, renamed, common)
	})
	if err != nil || n.Again < 6 {
		t.Fatalf("%+v, %v", n, err)
	}
	for name, l := range map[string]*ledger.Ledger{"the same program": copied, "another": openAt(t, dir)} {
		copied = l
		if after := stands(); !reflect.DeepEqual(after, before) {
			t.Errorf("%s: %q\nbefore: %q", name, after, before)
		}
	}
	if _, err := FindTool(copied, "X-1"); err == nil {
		t.Error("what was left out is back")
	}
	in, err := Find(copied, "W-1.1")
	if err != nil || len(in.Corrections) != 1 || len(in.Rulings) != 1 || in.Conflict {
		t.Errorf("W-1.1: %d corrections, %d rulings, conflict %v, %v", len(in.Corrections), len(in.Rulings), in.Conflict, err)
	}
	if open, err := Open(copied); err != nil || len(open) > 0 {
		t.Errorf("half read: %d, %v", len(open), err)
	}
}
