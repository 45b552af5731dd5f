package hand

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// opening is a ledger with a tool, and an inspection of it to be.
func opening(t *testing.T) (string, Config, inspect.Inspection) {
	t.Helper()
	dir := t.TempDir()
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	tool := testTool()
	if _, err := record.SaveTool(l, tool); err != nil {
		t.Fatal(err)
	}
	id, err := record.NextID(l, tool.ID)
	if err != nil {
		t.Fatal(err)
	}
	return dir, Config{Ledger: l, Now: time.Now}, inspect.Inspection{ID: id, Tool: tool, Stage: inspect.Between, Basis: inspect.DefaultBasis(tool)}
}

// everyByte is all that stands in a folder.
func everyByte(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		all.WriteString(path + "\n" + string(text) + "\n")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all.String()
}

// Before the first answer nothing is recorded, whatever is looked at, refused and left again, and whatever an inspection carries;
// with it all is: how it began, what it carries, the answer.
func TestNothingRecordedBeforeTheFirstAnswer(t *testing.T) {
	dir, c, in := opening(t)
	in.Seen = []inspect.Seen{{Sight: inspect.BluntCorner, Yes: true}}
	in.Readings = []inspect.Reading{{Feature: inspect.RadialRunout, Flute: 1, Repeat: 1, Value: length.Tenth, Text: ".0001", Unit: length.In}}
	before := everyByte(t, dir)
	h, err := Begin(c, in, manyRounds())
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{"?", "", "t", "", "b", "", "400", "ok", "q"} {
		h.Do(desk.Line{At: time.Now(), Text: text})
	}
	if out := h.Wait(); !out.Stopped || !out.Nothing {
		t.Errorf("%+v", out)
	}
	if after := everyByte(t, dir); after != before {
		t.Errorf("recorded:\n%s", strings.TrimPrefix(after, before))
	}
	if h, err = Begin(c, in, manyRounds()); err != nil {
		t.Fatal(err)
	}
	h.Do(desk.Line{At: time.Now(), Text: ".0002"})
	if err := h.PutDown(); err != nil || h.Wait().Nothing {
		t.Errorf("%v, %+v", err, h.Wait())
	}
	w, lost, err := record.Resume(c.Ledger, in.ID, nil, time.Now)
	if err != nil || len(lost) > 0 || len(w.Inspection.Readings) != 2 || len(w.Inspection.Seen) != 1 {
		t.Errorf("%v, %v, %+v", err, lost, w.Inspection)
	}
}

// A device that others share records at once that it began, so that they find it.
func TestRecordedAtOnceWhereItIsShared(t *testing.T) {
	_, c, in := opening(t)
	c.AtOnce = true
	h, err := Begin(c, in, manyRounds())
	if err != nil {
		t.Fatal(err)
	}
	if err := h.PutDown(); err != nil {
		t.Fatal(err)
	}
	if open, err := record.Open(c.Ledger); err != nil || len(open) != 1 {
		t.Errorf("%v, %v", open, err)
	}
}

// Of two desks with one tool the one that answers first has it. The other records nothing, neither at an answer that comes before it
// is told nor after, and is told.
func TestTwoDesksOneTool(t *testing.T) {
	dir, c, in := opening(t)
	first, err := Begin(c, in, manyRounds())
	if err != nil {
		t.Fatal(err)
	}
	defer first.PutDown()
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	second, err := Begin(Config{Ledger: l, Now: time.Now, Watches: true}, in, manyRounds())
	if err != nil {
		t.Fatal(err)
	}
	first.Do(desk.Line{At: time.Now(), Text: ".0002"})
	before := everyByte(t, dir)
	second.Do(desk.Line{At: time.Now(), Text: ".0003"})
	if p := second.Prompt(); !strings.Contains(p.Refused, "at another place meanwhile") {
		t.Errorf("said %q", p.Refused)
	}
	if out := second.Wait(); !out.Stopped || !out.Nothing {
		t.Errorf("%+v", out)
	}
	if p := second.Prompt(); p.Refused != testTool().ID+" was inspected at another place meanwhile. Nothing was recorded here." {
		t.Errorf("said %q", p.Refused)
	}
	if err := second.PutDown(); err != nil || everyByte(t, dir) != before {
		t.Errorf("%v: the second desk recorded", err)
	}
	if got, _, _ := first.Inspection(); len(got.Readings) != 1 {
		t.Errorf("%+v", got.Readings)
	}
}
