package hand

import (
	"errors"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// begun is an inspection of a tool in hand, in a ledger of its own that others open too.
func begun(t *testing.T) (dir string, h *Hand) {
	t.Helper()
	dir = t.TempDir()
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	tool := testTool()
	if _, err := record.SaveTool(l, tool); err != nil {
		t.Fatal(err)
	}
	in := inspect.Inspection{ID: killed, Tool: tool, Stage: inspect.Between, Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)}
	h, err = Begin(Config{Ledger: l, Now: time.Now, Watches: true}, in, manyRounds())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.PutDown() })
	h.Do(desk.Line{At: time.Now(), Text: "0.0001"})
	return dir, h
}

// Another place that takes an inspection gets it with all that was read, and the place that had it says so and lets go.
func TestTakenOver(t *testing.T) {
	dir, h := begun(t)
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c := Config{Ledger: l, Now: time.Now}
	if _, _, err := TakeUp(c, killed); !errors.Is(err, ledger.ErrLocked) {
		t.Fatalf("it was taken up where it is in hand elsewhere: %v", err)
	}
	there, _, err := TakeOver(c, killed, "the tablet")
	if err != nil {
		t.Fatal(err)
	}
	defer there.PutDown()
	if out := h.Wait(); !out.Stopped {
		t.Errorf("where it was: %+v", out)
	}
	if p := h.Prompt(); !strings.Contains(p.Refused, "goes on at another place (the tablet)") {
		t.Errorf("where it was: %q", p.Refused)
	}
	if in, q, _ := there.Inspection(); len(in.Readings) != 1 || q.Key.Flute == 1 {
		t.Errorf("taken over with %d readings, asked %v", len(in.Readings), q.Key)
	}
	if r, err := ledger.Verify(dir, nil, nil); err != nil || len(r.Damage) > 0 {
		t.Errorf("the ledger: %v, %v", r.Damage, err)
	}
}

// A tool that is locked elsewhere while it is in hand stops the hand.
func TestLockedElsewhere(t *testing.T) {
	dir, h := begun(t)
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	other := inspect.Inspection{ID: "EM 1/2.9", Tool: testTool(), Stage: inspect.After, Inspector: "R. Vale"}
	opened, err := record.Open(l)
	if err != nil || len(opened) != 1 {
		t.Fatalf("%v, %v", opened, err)
	}
	head, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	about := ledger.Ref(head)
	if err := record.LockNow(l, other, inspect.Seen{Sight: inspect.Cracks, Yes: true}, about, stamp(time.Now())); err != nil {
		t.Fatal(err)
	}
	if out := h.Wait(); !out.Stopped {
		t.Errorf("%+v", out)
	}
	if p := h.Prompt(); !strings.Contains(p.Refused, "THE TOOL WAS LOCKED by R. Vale") {
		t.Errorf("said %q", p.Refused)
	}
}
