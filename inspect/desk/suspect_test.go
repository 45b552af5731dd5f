package desk

import (
	"slices"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

func rounds(n int) func(*Start) {
	return func(s *Start) {
		s.Plan.Features, s.Plan.Sights, s.Plan.Rounds = []inspect.Feature{inspect.RadialRunout}, false, n
	}
}

// A reading that stands apart from its fellows is asked again by itself, that very one and before anything else; the one in
// its place is kept, the one before stays on record, and Enter lets it stand. It is asked once.
func TestSuspectIsAskedAgain(t *testing.T) {
	key := inspect.Key{Feature: inspect.RadialRunout, Flute: 4, Repeat: 2}
	for _, again := range []string{"1", ""} {
		b := newBench(t, rounds(4))
		b.took("0 1 0 1", "0 12 0 1")
		if q, ok := b.d.Asked(); !ok || q.Key != key {
			t.Fatalf("asked %v, want %v", q.Key, key)
		}
		if p := b.d.Prompt(); !strings.Contains(strings.Join(p.Notes, " "), "Flute 4, round 2 stands apart from its fellows: +.0012") {
			t.Errorf("told: %q", p.Notes)
		}
		b.took(again)
		if q, ok := b.d.Asked(); !ok || q.Key.Repeat != 3 || q.Key.Flute != 1 {
			t.Errorf("after %q: asked %v, want flute 1 of round 3", again, q.Key)
		}
		want := map[string]length.Length{"1": length.Tenth, "": 12 * length.Tenth}[again]
		if r, ok := b.d.reading(Question{Key: key}); !ok || r.Value != want {
			t.Errorf("after %q: %v stands, want %v", again, r.Value, want)
		}
		b.took("0 1 0 1", "1 1 0 1")
		if q, _ := b.d.Asked(); !q.Key.Closing {
			t.Errorf("after %q and round 4: asked %v, want flute 1 again", again, q.Key)
		}
	}
}

// A round read one tooth on is asked about when it is whole: y takes it, x moves each flute to where it belongs. Nothing of a row
// is taken before that. Heights by flute: 0, 4, -3, 1.
func TestRoundMovedByOne(t *testing.T) {
	heights := func(b *bench, repeat int) string {
		var all []string
		for flute := 1; flute <= 4; flute++ {
			r, ok := b.d.reading(Question{Key: inspect.Key{Feature: inspect.RadialRunout, Flute: flute, Repeat: repeat}})
			if !ok {
				return "unread"
			}
			all = append(all, r.Text)
		}
		return strings.Join(all, " ")
	}
	// In the order 1 4 3 2 the heights are 0 1 -3 4; what stands at flute 2 read as flute 1 and so on, 4 0 1 -3.
	b := newBench(t, rounds(2))
	b.took("0 1 -3 4")
	b.refused("4 0 1 -3", "None taken yet", "flutes moved by one", "x moves each to flute after it")
	b.took("x")
	if got := heights(b, 2); got != "0.0000 0.0004 -0.0003 0.0001" {
		t.Errorf("moved: %s", got)
	}
	b = newBench(t, rounds(2))
	b.took("0 1 -3 4", "4", "0", "1")
	b.types("-3")
	if p := b.d.Prompt(); !strings.Contains(p.Refused, "moved by one") || len(p.Choices) != 2 {
		t.Fatalf("one by one: %q, %v", p.Refused, p.Choices)
	}
	b.took("y")
	if got := heights(b, 2); got != "0.0004 -0.0003 0.0001 0.0000" {
		t.Errorf("taken as it is: %s", got)
	}
}

// How the tool was ground is asked first: Enter takes the plan, a change is shown before Enter takes it, what cannot be is
// refused, and at the table of all readings it can still be told otherwise.
func TestHowItWasGround(t *testing.T) {
	rest := 35 * length.Thou
	asks := func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan.Features, s.Plan.Sights = []inspect.Feature{inspect.Diameter}, false
		s.Plan.Ground = &Grind{inspect.Ground{Divisions: 1, Offset: &rest, Order: []int{1, 2, 3, 4}, Last: []int{3, 4, 1, 2}}, "primary of the flutes"}
		s.Known.Wheels = []string{"cup 4"}
	}
	b := newBench(t, asks)
	b.asks("As planned?")
	b.refused("1.5", "Whole divisions")
	b.refused("order 1 2 3 3", "Each flute once")
	b.refused("rest .3", "less than half")
	b.refused("wheel dish", "cup 4")
	b.refused("maybe", "not: it was not ground")
	b.refused("s no", "not: it was not ground")
	b.took("2", "order 1432", "last 1 4 3 2", "rest .036", "wheel CUP 4")
	if len(b.kept) != 0 {
		t.Fatalf("kept before Enter: %+v", b.kept)
	}
	b.took("")
	g := b.d.Inspection().Ground()
	if g.Divisions != 2 || g.Wheel != "cup 4" || *g.Offset != 36*length.Thou || !slices.Equal(g.Order, []int{1, 4, 3, 2}) || !slices.Equal(g.Last, []int{1, 4, 3, 2}) {
		t.Errorf("told %+v", g)
	}
	b.asks("How big is it")
	b.do(Key{At: b.now, Key: Backspace, By: "R. Vale"})
	b.asks("As planned?")
	if k := b.kept[len(b.kept)-1]; k.What != TakenBack || !k.Question.Ground || k.By != "R. Vale" {
		t.Errorf("taken back: %+v", k)
	}
	b.took("", ".4954", "2 3")
	if n := b.d.Inspection().Divisions; n != 3 {
		t.Errorf("told at the table: %d divisions", n)
	}
	b = newBench(t, asks)
	b.took("")
	if g := b.d.Inspection().Ground(); g.Divisions != 1 || !slices.Equal(g.Last, []int{3, 4, 1, 2}) {
		t.Errorf("as planned: %+v", g)
	}
	b = newBench(t, asks)
	b.refused("not", "q stops here, and it stays to be ground", "y: it is read AFTER as it is")
	b.took("y")
	if k := b.kept[0]; k.What != LeftOut || k.Reason != "not ground" || b.d.Inspection().Divisions != 0 {
		t.Errorf("not ground: %+v", k)
	}
	b.asks("How big is it")
	b = newBench(t, asks)
	b.types("not") // a slip goes by
	b.took("")
	if g := b.d.Inspection().Ground(); g.Divisions != 1 {
		t.Errorf("ground after all: %+v", g)
	}
}

// Where release wants the edges tied to the shank, one round read after the tool was seated on it does in place of the shank's
// run-out, and the judgement takes it for that.
func TestSeatedOnTheShank(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Inspection.Basis.Tie = inspect.TieShank
		s.Inspection.Basis.Required = []inspect.Item{inspect.Item(inspect.RadialRunout)}
		s.Plan.Features, s.Plan.Sights, s.Plan.Rounds = []inspect.Feature{inspect.RadialRunout, inspect.ShankRunout}, false, 2
	})
	b.took("0 1 0 1", "0 1 0 1 0")
	b.asks("Shank, place 1")
	b.took("o")
	if q, _ := b.d.Asked(); !q.Key.OnShank || q.Key.Feature != inspect.RadialRunout {
		t.Fatalf("asked %v", q.Key)
	}
	if p := b.d.Prompt(); !strings.Contains(p.Title, "SEATED ON THE SHANK") || !strings.Contains(strings.Join(p.Caution, " "), "before a hand goes to the collet") {
		t.Errorf("title %q, caution %q", p.Title, p.Caution)
	}
	b.took("2")
	b.refused("o", "read already")
	b.took("3 2 3", "2")
	if _, asked := b.d.Asked(); asked {
		t.Error("something more is asked")
	}
	if j := inspect.Judge(b.d.Inspection()); slices.Contains(j.Unread, inspect.Item(inspect.RadialRunout)) {
		t.Errorf("not tied: %+v", j.Coverage)
	}
	// Taken up again, the same is asked and nothing more.
	again := New(Start{Inspection: b.d.Inspection(), Plan: b.d.Plan(), Known: b.d.known, At: b.now})
	if q, asked := again.Asked(); asked {
		t.Errorf("taken up again it asks %v", q.Key)
	}
}
