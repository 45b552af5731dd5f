package session

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// testTool is invented; its id holds what no file name may.
func testTool() inspect.Tool {
	return inspect.Tool{
		ID: "EM 1/2", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
}

func openLedger(t *testing.T, dir string) *ledger.Ledger {
	t.Helper()
	l, err := ledger.Open(dir, ledger.Options{Bench: "test"})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func begin(t *testing.T, l *ledger.Ledger, stage inspect.Stage, p Plan) *Session {
	t.Helper()
	tool := testTool()
	id, err := record.NextID(l, tool.ID)
	if err != nil {
		t.Fatal(err)
	}
	s, err := Begin(l, inspect.Inspection{ID: id, Tool: tool, Stage: stage, Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)}, p, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// answer gives a question an answer: no to what is looked for, a width to what is read.
func answer(t *testing.T, s *Session, q Question, value length.Length) {
	t.Helper()
	var err error
	if q.Sight != "" {
		err = s.See(inspect.Seen{Sight: q.Sight})
	} else {
		k := q.Key
		err = s.Record(inspect.Reading{Feature: k.Feature, Flute: k.Flute, Repeat: k.Repeat, Closing: k.Closing, Value: value, Text: value.String(), Unit: length.Mm})
	}
	if err != nil {
		t.Fatalf("%v: %v", q, err)
	}
}

func TestQuestionsInOrder(t *testing.T) {
	texts := func(p Plan) []string {
		var out []string
		for _, q := range p.Questions(testTool()) {
			out = append(out, q.Text(length.In))
		}
		return out
	}
	tests := []struct {
		name string
		plan Plan
		want []string
	}{
		{"widths of a flute together", Plan{Features: []inspect.Feature{inspect.Land, inspect.PrimaryLand}, Repeats: 3}, []string{
			"Flute 1: primary land", "Flute 1: whole land", "Flute 2: primary land", "Flute 2: whole land",
			"Flute 3: primary land", "Flute 3: whole land", "Flute 4: primary land", "Flute 4: whole land"}},
		{"backwards, twice, closed", Plan{Features: []inspect.Feature{inspect.AxialRunout}, Repeats: 2, Backward: true}, []string{
			"Flute 1: axial run-out", "Flute 4: axial run-out", "Flute 3: axial run-out", "Flute 2: axial run-out",
			"Flute 1: axial run-out, reading 2", "Flute 4: axial run-out, reading 2", "Flute 3: axial run-out, reading 2", "Flute 2: axial run-out, reading 2",
			"Flute 1: axial run-out, flute 1 once more to close the round"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := texts(tt.plan); !slices.Equal(got, tt.want) {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
	if got := texts(Plan{Features: []inspect.Feature{inspect.Diameter}, Sights: true, Repeats: 1}); len(got) != 8 || !strings.HasPrefix(got[0], "Look: any crack") || got[7] != "diameter" {
		t.Errorf("got %q, want what is looked for first", got)
	}
}

func TestRetakeBackSkip(t *testing.T) {
	l := openLedger(t, t.TempDir())
	s := begin(t, l, inspect.Before, Plan{Features: []inspect.Feature{inspect.WearLand, inspect.Diameter}, Repeats: 1})
	next := func(want string) Question {
		t.Helper()
		q, ok := s.Next()
		if got := q.Text(length.In); !ok && want != "" || ok && got != want {
			t.Fatalf("asked %q (%v), want %q", got, ok, want)
		}
		return q
	}
	if _, ok, _ := s.Retake(); ok {
		t.Error("something was taken back before anything was answered")
	}
	answer(t, s, next("Flute 1: wear land"), 100)
	answer(t, s, next("Flute 2: wear land"), 200)
	if q, ok, err := s.Retake(); !ok || err != nil || q.Key.Flute != 2 {
		t.Errorf("took back %v, %v, %v, want flute 2", q, ok, err)
	}
	answer(t, s, next("Flute 2: wear land"), 250)
	s.Back()
	s.Back()
	answer(t, s, next("Flute 1: wear land"), 150)
	q := next("Flute 3: wear land")
	if err := s.Skip(q, " "); err == nil {
		t.Error("skipped without a reason")
	}
	if err := s.Skip(q, "chipped away"); err != nil {
		t.Fatal(err)
	}
	answer(t, s, next("Flute 4: wear land"), 400)
	answer(t, s, next("diameter"), 12*length.Millimetre)
	next("")
	if _, _, err := s.Close(); err != nil {
		t.Fatal(err)
	}
	c, err := record.Find(l, "EM 1/2.1")
	if err != nil {
		t.Fatal(err)
	}
	var got []length.Length
	for _, r := range c.Inspection.Readings {
		got = append(got, r.Value)
	}
	if want := []length.Length{250, 150, 400, 12 * length.Millimetre}; !slices.Equal(got, want) {
		t.Errorf("readings %v, want %v", got, want)
	}
	if len(c.Skipped) != 1 || c.Skipped[0].Reason != "chipped away" {
		t.Errorf("left out %v, want flute 3 with its reason", c.Skipped)
	}
}

// A crack stops the job at any stage, a burn after the grind; a burn before it is ground out.
func TestCracksStopTheJob(t *testing.T) {
	for _, test := range []struct {
		stage inspect.Stage
		sight inspect.Sight
		stops bool
	}{
		{inspect.Before, inspect.Cracks, true}, {inspect.Between, inspect.Cracks, true}, {inspect.After, inspect.Cracks, true},
		{inspect.Before, inspect.Burn, false}, {inspect.After, inspect.Burn, true}, {inspect.Before, inspect.ChippedCorner, false}, {inspect.After, inspect.BentShank, false},
	} {
		l := openLedger(t, t.TempDir())
		s := begin(t, l, test.stage, Plan{Features: []inspect.Feature{inspect.Diameter}, Sights: true, Repeats: 1})
		if err := s.See(inspect.Seen{Sight: test.sight, Yes: true}); err != nil {
			t.Fatal(err)
		}
		if _, more := s.Next(); more == test.stops {
			t.Errorf("%s seen %s: asks on %v, want %v", test.sight, test.stage, more, !test.stops)
		}
		if tool, _ := record.FindTool(l, testTool().ID); (tool.Standing == record.StandsLocked) != test.stops {
			t.Errorf("%s seen %s, the draft still open: the tool stands %s", test.sight, test.stage, tool.Standing)
		}
	}
}

// A crack that was a slip is taken back: that is noted on its lock, which stands until one who may sign lifts it.
func TestCrackTakenBack(t *testing.T) {
	l := openLedger(t, t.TempDir())
	if _, err := record.SaveTool(l, testTool()); err != nil {
		t.Fatal(err)
	}
	s := begin(t, l, inspect.Before, Plan{Features: []inspect.Feature{inspect.Diameter}, Sights: true, Repeats: 1})
	if err := s.See(inspect.Seen{Sight: inspect.Cracks, Yes: true}); err != nil {
		t.Fatal(err)
	}
	if err := s.See(inspect.Seen{Sight: inspect.Cracks}); err != nil {
		t.Fatal(err)
	}
	tool, _ := record.FindTool(l, testTool().ID)
	if tool.Standing != record.StandsLocked || len(tool.Locks) != 1 || !tool.Locks[0].TakenBack {
		t.Errorf("taken back, the tool stands %s, locks %+v", tool.Standing, tool.Locks)
	}
	if _, more := s.Next(); !more {
		t.Error("nothing more is asked, though the crack was a slip")
	}
	if _, _, err := record.Unlock(l, testTool().ID, record.Who{By: "Vale", Why: "a slip", At: time.Now()}); err != nil {
		t.Fatal(err)
	}
	if tool, _ := record.FindTool(l, testTool().ID); tool.Standing == record.StandsLocked {
		t.Error("lifted, and still locked")
	}
}

func TestResume(t *testing.T) {
	dir := t.TempDir()
	l := openLedger(t, dir)
	s := begin(t, l, inspect.Before, Plan{Features: []inspect.Feature{inspect.WearLand}, Repeats: 1})
	q, _ := s.Next()
	answer(t, s, q, 100)
	if _, _, err := Resume(l, "EM 1/2.1", time.Now); !errors.Is(err, ledger.ErrLocked) {
		t.Errorf("a second holder: got %v, want %v", err, ledger.ErrLocked)
	}
	if err := s.Release(); err != nil {
		t.Fatal(err)
	}
	open, err := record.Open(l)
	if err != nil || len(open) != 1 || open[0].Inspection.ID != "EM 1/2.1" {
		t.Fatalf("open: %v, %v", open, err)
	}
	s, lost, err := Resume(openLedger(t, dir), "EM 1/2.1", time.Now)
	if err != nil || lost != nil {
		t.Fatal(err, lost)
	}
	if q, _ := s.Next(); q.Key.Flute != 2 || len(s.Inspection().Readings) != 1 {
		t.Errorf("goes on with flute %d and %d readings, want 2 and 1", q.Key.Flute, len(s.Inspection().Readings))
	}
	if _, err := s.Discard("wrong tool on the bench"); err != nil {
		t.Fatal(err)
	}
	if open, err := record.Open(l); err != nil || len(open) != 0 {
		t.Errorf("still open: %v, %v", open, err)
	}
	if id, err := record.NextID(l, testTool().ID); err != nil || id != "EM 1/2.2" {
		t.Errorf("next id %q, %v, want EM 1/2.2: a number is not given twice", id, err)
	}
}

// A draft of a later version is refused with its line, and left as it is.
func TestResumeRefusesWhatItDoesNotKnow(t *testing.T) {
	dir := t.TempDir()
	l := openLedger(t, dir)
	s := begin(t, l, inspect.Before, Plan{Features: []inspect.Feature{inspect.WearLand}, Repeats: 1})
	if err := s.draft.Append([]byte(`{"what":"weighed","at":""}`)); err != nil {
		t.Fatal(err)
	}
	s.Release()
	before := readAll(t, filepath.Join(dir, "open"))
	if _, _, err := Resume(l, "EM 1/2.1", time.Now); err == nil || !strings.Contains(err.Error(), `line 2 of its draft: event "weighed" is not known`) {
		t.Errorf("got %v", err)
	}
	if readAll(t, filepath.Join(dir, "open")) != before {
		t.Error("the draft was changed")
	}
}

func readAll(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		all.Write(text)
	}
	return all.String()
}

// An inspection knows what diameter was last read of its tool, of those that were not given up.
func TestLastDiameter(t *testing.T) {
	l := openLedger(t, t.TempDir())
	plan := Plan{Features: []inspect.Feature{inspect.Diameter}, Repeats: 1}
	for i, step := range []struct {
		want, read length.Length // want 0: none was read before
		giveUp     bool
	}{{0, 12500 * length.Micrometre, false}, {12500 * length.Micrometre, 12400 * length.Micrometre, true}, {12500 * length.Micrometre, 12450 * length.Micrometre, false}, {12450 * length.Micrometre, 0, false}} {
		s := begin(t, l, inspect.After, plan)
		last := s.Inspection().LastDiameter
		if step.want == 0 && last != nil || step.want != 0 && (last == nil || *last != step.want) {
			t.Errorf("inspection %d: last diameter %v, want %v", i+1, last, step.want)
		}
		if step.read == 0 {
			break
		}
		for q, more := s.Next(); more; q, more = s.Next() {
			answer(t, s, q, step.read)
		}
		var err error
		if step.giveUp {
			_, err = s.Discard("another tool")
		} else {
			_, _, err = s.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}
