package record

import (
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

func writing(t *testing.T, stage inspect.Stage) (*ledger.Ledger, *Writer) {
	t.Helper()
	l, err := ledger.Open(t.TempDir(), ledger.Options{Bench: "test"})
	if err != nil {
		t.Fatal(err)
	}
	tool := inspect.Tool{ID: "W-1", Diameter: length.Inch / 2, Flutes: 2, Material: inspect.HSS, Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
	if _, err := SaveTool(l, tool); err != nil {
		t.Fatal(err)
	}
	w, err := Begin(l, inspect.Inspection{ID: "W-1.1", Tool: tool, Stage: stage, Basis: inspect.DefaultBasis(tool)}, map[string]int{"rounds": 1}, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	return l, w
}

// A crack that was a slip is taken back: that is noted on its lock, which stands until one who may sign lifts it.
func TestCrackTakenBack(t *testing.T) {
	for _, back := range []func(*Writer) error{
		func(w *Writer) error { return w.See(inspect.Seen{Sight: inspect.Cracks}) },
		func(w *Writer) error { return w.TakeBack(Question{Sight: inspect.Cracks}, "", "", Stamp(time.Now())) },
	} {
		l, w := writing(t, inspect.Before)
		if err := w.See(inspect.Seen{Sight: inspect.Cracks, Yes: true}); err != nil {
			t.Fatal(err)
		}
		if tool, _ := FindTool(l, "W-1"); tool.Standing != StandsLocked {
			t.Fatalf("a crack was seen, and the tool stands %s", tool.Standing)
		}
		if err := back(w); err != nil {
			t.Fatal(err)
		}
		tool, _ := FindTool(l, "W-1")
		if tool.Standing != StandsLocked || len(tool.Locks) != 1 || !tool.Locks[0].TakenBack {
			t.Errorf("taken back, the tool stands %s, locks %+v", tool.Standing, tool.Locks)
		}
		if _, _, err := Unlock(l, "W-1", Who{By: "Vale", Why: "a slip", At: time.Now()}); err != nil {
			t.Fatal(err)
		}
		if tool, _ := FindTool(l, "W-1"); tool.Standing == StandsLocked {
			t.Error("lifted, and still locked")
		}
	}
}

// What was written is taken up again with its plan; what cannot be is refused and keeps nothing.
func TestWriterResumes(t *testing.T) {
	l, w := writing(t, inspect.After)
	r := inspect.Reading{Feature: inspect.Diameter, Repeat: 1, Value: length.Inch / 2, Text: "0.5", Unit: length.In}
	bad := r
	bad.Value = -1
	if err := w.Read(bad); err == nil {
		t.Error("a diameter below zero was taken")
	}
	if err := w.Read(r); err != nil {
		t.Fatal(err)
	}
	if err := w.Skip(Question{Key: inspect.Key{Feature: inspect.Length, Repeat: 1}}, " ", "", ""); err == nil {
		t.Error("left out without a reason")
	}
	if err := w.Release(); err != nil {
		t.Fatal(err)
	}
	var plan map[string]int
	again, lost, err := Resume(l, "W-1.1", &plan, time.Now)
	if err != nil || lost != nil || plan["rounds"] != 1 || len(again.Inspection.Readings) != 1 || again.Inspection.Readings[0].Value != r.Value {
		t.Fatalf("%+v, plan %v, lost %v, %v", again, plan, lost, err)
	}
	if _, err := again.Discard(" "); err == nil {
		t.Error("given up without a reason")
	}
	if _, _, err := again.Close(); err != nil {
		t.Fatal(err)
	}
	if in, err := Find(l, "W-1.1"); err != nil || len(in.Readings) != 1 {
		t.Errorf("%d readings, %v", len(in.Readings), err)
	}
}
