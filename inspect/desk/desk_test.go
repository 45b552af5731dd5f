package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// bench is a desk with a disk that takes everything, and a clock that a test moves.
type bench struct {
	t       *testing.T
	d       *Desk
	now     time.Time
	kept    []Keep
	effects []Effect
	keys    int // typed, each Enter one
	fail    func(Effect) error
}

func half(thou int) inspect.Tool {
	return inspect.Tool{ID: "EM-0412", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
}

func at(ms int) time.Time {
	return time.Date(2026, 11, 27, 8, 0, 0, 0, time.UTC).Add(time.Duration(ms) * time.Millisecond)
}

func newBench(t *testing.T, change func(*Start)) *bench {
	t.Helper()
	tool := half(0)
	s := Start{
		Inspection: inspect.Inspection{ID: "EM-0412.1", Tool: tool, Stage: inspect.Before, Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)},
		Plan: Plan{Sights: true, Rounds: 1, Backward: true, Features: []inspect.Feature{
			inspect.RadialRunout, inspect.WearLand, inspect.PrimaryLand, inspect.Land, inspect.EndPrimaryLand, inspect.EndLand, inspect.Diameter}},
		Known: Known{About: "1/2 in  4 flutes  HSS  square end", Dials: func(f inspect.Feature) (length.Length, bool) {
			if f == inspect.Diameter {
				return length.Tenth, false
			}
			if width(f) {
				return length.Thou, true
			}
			return length.Tenth, true
		}, Guide: func(in inspect.Inspection, k inspect.Key) Guide {
			limit := 5 * length.Tenth
			switch {
			case k.Feature.Heights():
				return Guide{Most: &limit, Expect: "+-.0005 of flute 1", Limit: "limit .0005", FromEnd: ".100"}
			case k.Feature.Drop():
				least, most := 23*length.Tenth, 34*length.Tenth
				return Guide{Least: &least, Most: &most, Expect: ".0023 to .0034", Distance: 20 * length.Thou, Turn: "4.6", Steepest: 160 * length.Tenth, FromEnd: ".100"}
			case k.Feature == inspect.Diameter:
				return Guide{}
			}
			most := 20 * length.Thou
			return Guide{Most: &most, Expect: "0 to .020"}
		}},
		At: at(0),
	}
	if change != nil {
		change(&s)
	}
	return &bench{t: t, d: New(s), now: at(0)}
}

func (b *bench) do(e Event) {
	b.t.Helper()
	for _, effect := range b.d.Do(e) {
		if b.fail != nil {
			if err := b.fail(effect); err != nil {
				b.d.Failed(effect, err)
				return
			}
		}
		b.effects = append(b.effects, effect)
		if k, ok := effect.(Keep); ok {
			b.kept = append(b.kept, k)
		}
		b.d.Done(effect)
	}
}

func (b *bench) types(lines ...string) {
	b.t.Helper()
	for _, line := range lines {
		b.now = b.now.Add(3 * time.Second)
		b.keys += len([]rune(line)) + 1
		b.do(Line{At: b.now, Text: line})
	}
}

// took types lines of which every one must be taken.
func (b *bench) took(lines ...string) {
	b.t.Helper()
	for _, line := range lines {
		b.types(line)
		if p := b.d.Prompt(); p.Refused != "" {
			b.t.Fatalf("%q refused: %s", line, p.Refused)
		}
	}
}

// refused types a line that must be refused with words, and keeps nothing.
func (b *bench) refused(line string, words ...string) {
	b.t.Helper()
	n := len(b.kept)
	b.types(line)
	p := b.d.Prompt()
	for _, w := range words {
		if !strings.Contains(p.Refused, w) {
			b.t.Errorf("%q: refused %q, want %q", line, p.Refused, w)
		}
	}
	if len(b.kept) != n {
		b.t.Errorf("%q: kept %+v", line, b.kept[n:])
	}
}

func (b *bench) asks(text string) {
	b.t.Helper()
	if p := b.d.Prompt(); !strings.Contains(p.Ask, text) {
		b.t.Fatalf("asks %q, want %q", p.Ask, text)
	}
}

// The script of keys for one plain good tool before the grind, divisions typed, rows taken.
func TestBeforeByRows(t *testing.T) {
	b := newBench(t, nil)
	b.asks("LOOK")
	b.took("5")
	b.asks("Flute 1: how high")
	b.took("0 -1 1 1 0")
	b.asks("Flute 1: how wide is the wear")
	b.took("7 17 70", "8 17 70", "7 17 70", "9 18 71")
	b.asks("End tooth 1: how wide is the primary")
	b.took("12 48", "12 48", "12 48", "12 48")
	b.asks("How big is it")
	b.took(".4962")
	b.asks("All is read")
	b.took("")
	if b.keys > 79 {
		t.Errorf("%d keys, want 79 at most", b.keys)
	}
	if _, ok := b.effects[len(b.effects)-1].(Close); !ok {
		t.Errorf("the last effect is %T", b.effects[len(b.effects)-1])
	}
	in := b.d.Inspection()
	got := fmt.Sprint(len(in.Seen), len(in.Readings))
	if got != fmt.Sprint(len(inspect.Sights), 5+12+8+1) {
		t.Errorf("sights and readings %s", got)
	}
	for _, r := range in.Readings {
		if r.Feature == inspect.RadialRunout && r.Flute == 4 && r.Value != -length.Tenth {
			t.Errorf("flute 4: %s, want -.0001 in", r.Value)
		}
		if r.Feature == inspect.WearLand && r.Flute == 2 && (r.Value != 9*length.Thou || r.Text != "0.009") {
			t.Errorf("flute 2 wear: %s %q, want .009", r.Value, r.Text)
		}
	}
}

// Every value on its own line comes to the same readings.
func TestBeforeByValues(t *testing.T) {
	rows, single := newBench(t, nil), newBench(t, nil)
	for _, line := range []string{"5", "0 -1 1 1 0", "7 17 70", "8 17 70", "7 17 70", "9 18 71", "12 48", "12 48", "12 48", "12 48", ".4962"} {
		rows.took(line)
		if line == "5" {
			single.took(line)
			continue
		}
		single.took(strings.Fields(line)...)
	}
	a, b := rows.d.Inspection().Readings, single.d.Inspection().Readings
	if len(a) != len(b) {
		t.Fatalf("%d and %d readings", len(a), len(b))
	}
	for i := range a {
		a[i].At, b[i].At = "", ""
		if a[i] != b[i] {
			t.Errorf("%+v and %+v", a[i], b[i])
		}
	}
	rows.asks("All is read")
	single.asks("All is read")
}

// Everything that is refused, with what would be right.
func TestRefusals(t *testing.T) {
	plain := func(s *Start) { s.Known.Dials = nil }
	b := newBench(t, plain)
	b.refused("", "c", "crack and burn")
	b.refused("n", "note")
	b.refused("ok", "No to all is c")
	b.refused("3", "How far up")
	b.refused("4", "How long along the edge? 4 .015")
	b.refused("9 9", "number")
	b.refused("s because", "cannot be left out")
	b.took("c")
	b.refused("3", "3 what? Bare, it is 3 inches. For 3 divisions type .0003")
	b.refused("400", "400 what?")
	b.took("0")
	b.refused(".3", ".0003")
	b.refused("0.0l1", "letter l")
	b.refused(".00O2", "Letter O for nought")
	b.refused("--.0002", "Two minus signs")
	b.refused("0,0002", "y takes 0.0002 in")
	b.refused("", "never taken by Enter")
	b.refused(".0 .0001", "flute 1 again are asked. None taken")
	b.refused("1", "1 what? Bare, it is 1 inch. For 1 division type .0001")
	b.refused("ok", "A number is asked here")
	b.refused("T.EM-0413", "THAT IS EM-0413. In hand here: EM-0412")
	b.refused(".0001", "THAT IS EM-0413")
	b.took("T.em-0412")
	b.took("3t", ".0001", "1tenths", "0")
	b.asks("wear")
	b.refused("none", "No wear is 0")
	b.took("y")
	b.refused("-.017", "never minus")
	b.refused(".17", ".17 is a good part of the tool", "y takes it. .017in if that was meant")
	b.took(".017in")
	b.refused("0", "No land, no tooth")
	b.refused(".012", "y swaps them")
	b.took("y")
	in := b.d.Inspection()
	last := in.Readings[len(in.Readings)-2:]
	if last[0].Feature != inspect.Land || last[0].Value != 17*length.Thou || last[1].Feature != inspect.PrimaryLand || last[1].Value != 12*length.Thou {
		t.Errorf("swapped: %+v", last)
	}
	b.took("0 .017 .070", "0 .017 .070", "0 .017 .070", ".012 .048", ".012 .048", ".012 .048", ".012 .048")
	b.asks("How big")
	b.refused("12.58", "12.58 mm is .4953")
	b.refused("4954", ".4954")
	b.refused(".4962 .4960", "2 numbers")
	b.refused("2.5", "")
	b.took("12.58mm")
	b.asks("All is read")
}

// A burst that ends in Enter is a line: nothing in it acts as a single key.
func TestBurstIsOneLine(t *testing.T) {
	b := newBench(t, nil)
	b.took("c", "0")
	b.refused("r-12", "number")
	b.refused("b-12")
	b.refused("?12")
	if n := len(b.d.Inspection().Readings); n != 1 {
		t.Errorf("%d readings, want the one", n)
	}
}

// A crack is locked, then on disk, then drawn; nothing more is asked.
func TestCrackLocksFirst(t *testing.T) {
	for _, line := range []string{"1 f2 dark line, 3/16 long", "u 1"} {
		b := newBench(t, nil)
		b.took(line)
		if _, ok := b.effects[0].(Lock); !ok {
			t.Fatalf("%q: first effect %T", line, b.effects[0])
		}
		if k, ok := b.effects[1].(Keep); !ok || k.Seen == nil || k.Seen.Sight != inspect.Cracks || !k.Seen.Yes {
			t.Errorf("second effect %+v", b.effects[1])
		}
		b.asks("Nothing more is read")
		b.refused("2 f1", "Nothing more is read")
		b.took("")
		if _, ok := b.effects[len(b.effects)-1].(Close); !ok {
			t.Errorf("it does not close")
		}
	}
	b := newBench(t, nil)
	b.took("2 f1 straw")
	for _, e := range b.effects {
		if _, ok := e.(Lock); ok {
			t.Error("a burn before the grind is no lock")
		}
	}
	b.asks("Flute 1: how high")
}

// What could not be kept is not acknowledged, and what was kept before it on the line stays.
func TestNotRecorded(t *testing.T) {
	b := newBench(t, nil)
	b.took("c")
	n := 0
	b.fail = func(e Effect) error {
		if _, ok := e.(Keep); ok {
			if n++; n == 3 {
				return fmt.Errorf("the disk is full")
			}
		}
		return nil
	}
	b.types("0 -1 1 1 0")
	if p := b.d.Prompt(); !strings.Contains(p.Refused, "NOT RECORDED: the disk is full") || p.Said != "" {
		t.Errorf("said %q, refused %q", p.Said, p.Refused)
	}
	b.asks("Flute 3: how high")
	if got := len(b.d.Inspection().Readings); got != 2 {
		t.Errorf("%d readings, want 2", got)
	}
}

func TestBackspaceAndBack(t *testing.T) {
	b := newBench(t, nil)
	b.took("c", "0", "-1", "2")
	b.now = b.now.Add(time.Second)
	b.do(Key{At: b.now, Key: Backspace})
	if p := b.d.Prompt(); !strings.Contains(p.Said, "taken back: run-out, flute 3") {
		t.Errorf("said %q", p.Said)
	}
	b.asks("Flute 3")
	b.took("1", "b")
	b.asks("Flute 3")
	b.took("") // keeps
	b.asks("Flute 2")
	b.took("b", "0.0002")
	b.asks("Flute 2")
}

// Flute 1 read again far off is asked once more, and then its round is set aside.
func TestMoved(t *testing.T) {
	b := newBench(t, nil)
	b.took("c", "0 -1 1 1")
	b.refused("5", "Flute 1 was .0000, now .0005")
	b.types("5")
	if p := b.d.Prompt(); !strings.Contains(p.Refused, "Something moved") {
		t.Errorf("refused %q", p.Refused)
	}
	b.asks("Flute 1: how high")
	if n := len(b.d.Inspection().Readings); n != 0 {
		t.Errorf("%d readings stand, want none", n)
	}
	b.took("0 -1 1 1 0")
	b.asks("wear")
}

// After the grind a round more is asked while the verdict is undecided, and no longer.
func TestRoundsWhileNeeded(t *testing.T) {
	after := func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 2, Most: 10, Backward: true, Features: []inspect.Feature{inspect.RadialRunout, inspect.ReliefDrop}, Once: []inspect.Feature{inspect.ReliefDrop}}
		s.Inspection.Basis.Gauges = map[string]inspect.Instrument{"keyboard": {Resolution: length.Tenth / 100}}
	}
	b := newBench(t, after)
	b.took("0 -1 1 1", "0 -1 0 1 0")
	b.asks("how far does it fall")
	b.took("27 28 27 26")
	b.asks("All is read")

	b = newBench(t, after)
	b.took("0 -.00021 .00022 .0001", ".00004 -.00022 .00025 .00008 0")
	b.asks("Flute 1: how high") // undecided: a third round
	if p := b.d.Prompt(); !strings.Contains(p.Title, "round 3") {
		t.Errorf("title %q", p.Title)
	}
}

func TestDrops(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 1, Backward: true, Features: []inspect.Feature{inspect.ReliefDrop}}
	})
	p := b.d.Prompt()
	for _, want := range []string{".100 from the end", "4.6 deg THE WAY IT CUTS", ".020 back on the primary"} {
		if !strings.Contains(p.Told[0].Text, want) {
			t.Errorf("where %q, want %q", p.Told[0].Text, want)
		}
	}
	b.refused(".020", "how far back")
	b.refused(".030", "more than 40 degrees")
	b.refused("-24", "fall or climb")
	b.took("f")
	b.took("-26") // known now: a fall
	b.took("up 4")
	b.took("d .015")
	b.took("19")
	in := b.d.Inspection()
	for i, want := range []length.Length{24 * length.Tenth, 26 * length.Tenth, -4 * length.Tenth, 19 * length.Tenth} {
		if in.Readings[i].Value != want {
			t.Errorf("reading %d: %s, want %s", i+1, in.Readings[i].Value, want)
		}
	}
}

// The first caution of a sitting is told in full where the hand goes there, and not again.
func TestCautionsOnceASitting(t *testing.T) {
	b := newBench(t, nil)
	if p := b.d.Prompt(); len(p.Caution) != 3 || !strings.Contains(strings.Join(p.Caution, " "), "Local codes") {
		t.Errorf("first caution %q", p.Caution)
	}
	b.took("c")
	p := b.d.Prompt()
	if len(p.Caution) != 1 || !strings.Contains(p.Caution[0], "Wheel stopped and isolated") {
		t.Errorf("caution %q", p.Caution)
	}
	if p = b.d.Prompt(); len(p.Caution) != 1 {
		t.Errorf("drawn again it is gone: %q", p.Caution)
	}
	b.took("0")
	if p = b.d.Prompt(); len(p.Caution) != 0 {
		t.Errorf("told twice: %q", p.Caution)
	}
}

// A bare Enter that was on its way when the screen changed answers nothing.
func TestSettle(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Settle = 250 * time.Millisecond
		s.Plan.Features, s.Plan.Sights = []inspect.Feature{inspect.Diameter}, false
	})
	b.took(".4962")
	b.asks("All is read")
	b.do(Line{At: b.now.Add(100 * time.Millisecond)})
	for _, e := range b.effects {
		if _, ok := e.(Close); ok {
			t.Fatal("a double Enter closed the inspection")
		}
	}
	wake := b.d.Wake()
	b.do(Clock{At: wake})
	if !b.d.Prompt().Settled {
		t.Error("not settled when it is woken")
	}
	b.do(Line{At: wake})
	if _, ok := b.effects[len(b.effects)-1].(Close); !ok {
		t.Error("a later Enter does not close")
	}
}

// Two devices: an answer to a question that was dealt with meanwhile is not taken for the next.
func TestTwoDevices(t *testing.T) {
	b := newBench(t, nil)
	b.took("c")
	of := b.d.Ticket()
	b.do(Line{At: b.now, Text: "0", Of: of})
	b.do(Line{At: b.now, Text: "0", Of: of})
	if n := len(b.d.Inspection().Readings); n != 1 || !strings.Contains(b.d.Prompt().Refused, "dealt with meanwhile") {
		t.Errorf("%d readings, refused %q", n, b.d.Prompt().Refused)
	}
	b.do(Other{At: b.now, What: LockedElsewhere, Who: "R. Osei"})
	if !b.d.Ended() {
		t.Error("it goes on after the tool was locked elsewhere")
	}
}

// Two anvils never meet two edges of an odd number of flutes: how it was read is asked, and kept.
func TestOddFlutes(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Tool.Flutes = 3
		s.Plan = Plan{Rounds: 1, Features: []inspect.Feature{inspect.Diameter}}
	})
	b.refused(".4962", "Two anvils cannot read 3 flutes")
	b.took("v", ".4962")
	if r := b.d.Inspection().Readings[0]; r.How != inspect.ByVee {
		t.Errorf("%+v", r)
	}
	b.took("b", "r .4961")
	if r := b.d.Inspection().Readings[0]; r.How != inspect.ByRing || r.Value != 4961*length.Tenth {
		t.Errorf("%+v", r)
	}
}

// Before the close what would stay open is told, and m asks for one round more of what rounds can settle.
func TestOpenThingsBeforeTheClose(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 2, Most: 2, Backward: true, Features: []inspect.Feature{inspect.RadialRunout, inspect.ReliefDrop}, Once: Once}
		s.Inspection.Basis.Gauges = map[string]inspect.Instrument{"keyboard": {Resolution: length.Tenth / 100}}
	})
	b.took("0 -.00022 .00023 .0001", ".00004 -.00023 .00026 .00008 0")
	b.took("27", "s point bent", "27 26")
	b.asks("What was read is on disk; 1 left out.")
	notes := strings.Join(b.d.Prompt().Notes, " ")
	for _, want := range []string{"Open: not looked at: cracks", "Left out: relief drop, flute 4 (point bent)"} {
		if !strings.Contains(strings.ToLower(notes), strings.ToLower(want)) {
			t.Errorf("%q is not in %q", want, notes)
		}
	}
	b.took("m")
	b.asks("Flute 1: how high")
	if p := b.d.Prompt(); !strings.Contains(p.Title, "round 3") {
		t.Errorf("title %q", p.Title)
	}
	b.took("0 -.00018 .00022 .0001 0")
	b.asks("What was read is on disk; 1 left out.")

	sure := newBench(t, func(s *Start) {
		s.Plan = Plan{Rounds: 1, Most: 1, Features: []inspect.Feature{inspect.Diameter}}
	})
	sure.took(".4962")
	sure.refused("m", "Nothing is undecided")
}

// Any tooth that was read is read again in the middle of a round; its answer stands until another replaces it, and the round
// then goes on where it was.
func TestAnyReadingIsPickedAgain(t *testing.T) {
	b := newBench(t, nil)
	b.took("c", "0", "-.0001") // flutes 1 and 4, by the order of a tool that turns backwards
	one := Question{Key: inspect.Key{Feature: inspect.RadialRunout, Flute: 1, Repeat: 1}}
	if b.do(Again{At: b.now, Of: one}); b.d.Prompt().Flute != 1 || b.d.Prompt().Stands != "0.0000 in" {
		t.Fatalf("asked: flute %d, stands %q", b.d.Prompt().Flute, b.d.Prompt().Stands)
	}
	b.took(".0002")
	if p := b.d.Prompt(); p.Flute != 3 || p.SoFar == nil || *p.SoFar != 3*length.Tenth {
		t.Errorf("then flute %d, TIR so far %v; want 3 and .0003", p.Flute, p.SoFar)
	}
	b.do(Again{At: b.now, Of: Question{Key: inspect.Key{Feature: inspect.Dish, Flute: 1, Repeat: 1}}})
	if p := b.d.Prompt(); p.Flute != 3 || p.Refused == "" {
		t.Errorf("what is not asked for was picked: flute %d, refused %q", p.Flute, p.Refused)
	}
}

// A refusal offers what may have been meant, each as a line that is taken, and offers nothing any more afterwards.
func TestRefusalOffersWhatWasMeant(t *testing.T) {
	for _, test := range []struct {
		before []string
		typed  string
		means  []string
	}{
		{[]string{"c"}, "12", []string{"0.0012", "0.012"}}, // of a dial of .0001; tenths are its divisions
		{[]string{"c"}, "0,0001", []string{"y"}},
	} {
		b := newBench(t, func(s *Start) {
			s.Known.Dials = func(inspect.Feature) (length.Length, bool) { return length.Tenth, false }
		})
		b.took(test.before...)
		b.refused(test.typed)
		var got []string
		for _, c := range b.d.Prompt().Choices {
			got = append(got, c.Line)
		}
		if strings.Join(got, " ") != strings.Join(test.means, " ") {
			t.Errorf("%q may mean %q, want %q", test.typed, got, test.means)
			continue
		}
		b.took(test.means[0])
		if c := b.d.Prompt().Choices; c != nil {
			t.Errorf("%q: still offered: %v", test.typed, c)
		}
	}
}

// shows returns the rows of the table of all readings whose name or part holds a text.
func (b *bench) shows(text string) []Row {
	var found []Row
	for _, r := range b.d.Rows() {
		if strings.Contains(r.Name+" "+r.Part, text) {
			found = append(found, r)
		}
	}
	return found
}

// A round that is begun is read to its end and shown, at this sitting and when the inspection is taken up again: its readings are
// judged with the rest.
func TestBegunRoundIsAskedToItsEnd(t *testing.T) {
	after := func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 2, Most: 2, Backward: true, Features: []inspect.Feature{inspect.RadialRunout, inspect.ReliefDrop}, Once: Once}
		s.Inspection.Basis.Gauges = map[string]inspect.Instrument{"keyboard": {Resolution: length.Tenth / 100}}
	}
	b := newBench(t, after)
	b.took("0 -.00022 .00023 .0001", ".00004 -.00023 .00026 .00008 0", "27 28 27 26", "m", "0")
	third := inspect.Key{Feature: inspect.RadialRunout, Flute: 4, Repeat: 3}
	taken := func(s *Start) {
		after(s)
		s.Inspection.Readings = b.d.Inspection().Readings
	}
	for name, at := range map[string]*bench{"at once": b, "taken up again": newBench(t, taken)} {
		if q, _ := at.d.Asked(); q.Key != third {
			t.Errorf("%s: asked %v, want %v", name, q.Key, third)
		}
		if rows := at.shows("round 3"); len(rows) != 1 || rows[0].Cells[0] != ".00000" {
			t.Errorf("%s: the third round is not shown: %+v", name, rows)
		}
		at.took("-.0001", ".0001", ".0001", "0")
		at.asks("All is read")
	}
}

// What was read beside what is asked, as at another place or a second time with the loupe, is judged, and so it is shown and can be
// read again.
func TestReadBesideThePlan(t *testing.T) {
	inch := length.Inch
	b := newBench(t, func(s *Start) {
		for i, r := range []inspect.Reading{
			{Feature: inspect.PrimaryLand, Flute: 2, Repeat: 2, Value: 17 * length.Thou, Text: ".017"},
			{Feature: inspect.RadialRunout, Flute: 3, Repeat: 1, FromEnd: &inch, Value: length.Tenth, Text: ".0001"},
			{Feature: inspect.ShankRunout, Flute: 1, Repeat: 1, Text: "0"},
		} {
			r.Unit, r.At = length.In, fmt.Sprint(i)
			s.Inspection.Readings = append(s.Inspection.Readings, r)
		}
	})
	for _, name := range []string{"primary land round 2", "run-out 1.000", "shank run-out"} {
		if rows := b.shows(name); len(rows) != 1 {
			t.Errorf("%s: %d rows of %+v", name, len(rows), b.d.Rows())
		}
	}
	if b.do(Again{At: b.now, Of: Question{Key: b.d.Inspection().Readings[0].Key()}}); b.d.Prompt().Stands != ".017 in" {
		t.Errorf("picked again: %+v", b.d.Prompt())
	}
}

// Backspace takes a row back as it was given, and one number alone; what it would take stands beside the question.
func TestBackspaceTakesTheRow(t *testing.T) {
	b := newBench(t, nil)
	b.took("c", "0", "-1 1 1 0")
	b.asks("wear")
	b.now = b.now.Add(time.Second)
	b.took("7 17 70")
	if p := b.d.Prompt(); p.Last != "flute 1 0.007 0.017 0.070" {
		t.Errorf("Backspace would take back %q", p.Last)
	}
	for _, asks := range []string{"Flute 1: how wide is the wear", "Flute 4: how high", "Flute 1: how high"} {
		b.do(Key{At: b.now, Key: Backspace})
		b.asks(asks)
	}
	if n := len(b.d.Inspection().Readings); n != 0 {
		t.Errorf("%d readings stand", n)
	}
}

// The table of a round has a place for flute 1 again where the round takes it, and nowhere else.
func TestFlute1AgainIsShownWhereItIsTaken(t *testing.T) {
	b := newBench(t, rounds(2))
	if c := b.d.Prompt().Table.Columns; len(c) != 4 {
		t.Errorf("round 1: %q", c)
	}
	b.refused("0 -1 1 1 0", "5 numbers")
	b.took("0 -1 1 1")
	if c := b.d.Prompt().Table.Columns; len(c) != 5 {
		t.Errorf("round 2: %q", c)
	}
	b.took("0 -1 1 1 0")
	b.asks("All is read")
}

// Slips of a point and of a unit are asked about at every run-out and diameter, with what was likely meant.
func TestSlipsOfPointAndUnit(t *testing.T) {
	for _, test := range []struct {
		of      inspect.Feature
		unit    length.Unit
		before  string
		typed   string
		means   string // the line that says what was likely meant
		refuses string
	}{
		{inspect.RadialRunout, length.In, "0", ".004", ".0004in", "Flute 4 is .0040 off flute 1"},
		{inspect.ShankRunout, length.In, "0", ".004", ".0004in", "Place 4 is .0040 off the first"},
		{inspect.AxialRunout, length.In, "0", ".004", ".0004in", "Tooth 4 is .0040 off tooth 1"},
		{inspect.ShankRunout, length.In, "0", ".013", ".013mm", "Place 4"},
		{inspect.AxialRunout, length.In, "0", ".013", ".013mm", "Tooth 4"},
		{inspect.ShankRunout, length.Mm, "0", ".0004", ".0004in", "less than a division"},
		{inspect.AxialRunout, length.Mm, "0", ".0004", ".0004in", "less than a division"},
		{inspect.Diameter, length.In, "", ".04962", "y", "y takes .4962 in"},
		{inspect.Diameter, length.In, "", "4.962", "y", "y takes .4962 in"},
		{inspect.Diameter, length.In, "", "12.6", "y", ".4961"},
		{inspect.Diameter, length.Mm, "", ".4962", "y", "12.603"},
		{inspect.Diameter, length.In, "", ".5462", "y", "not near"},
		{inspect.Diameter, length.In, "", ".3962", "y", "not near"},
	} {
		b := newBench(t, func(s *Start) {
			s.Plan.Features, s.Plan.Sights = []inspect.Feature{test.of}, false
			s.Inspection.Basis.Unit, s.Known.Dials = test.unit, nil
		})
		if test.before != "" {
			b.took(test.before)
		}
		b.refused(test.typed, test.refuses)
		var got []string
		for _, c := range b.d.Prompt().Choices {
			got = append(got, c.Line)
		}
		if !slices.Contains(got, test.means) {
			t.Errorf("%s, %s: may mean %q, want %q: %s", test.of, test.typed, got, test.means, b.d.Prompt().Refused)
			continue
		}
		b.took(test.means)
	}
}

// A drop is slid instead of turned, at once or when the inspection is taken up again: the reading says so, and is judged so.
func TestSlideInstead(t *testing.T) {
	drops := func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 1, Backward: true, Once: Once, Features: []inspect.Feature{inspect.ReliefDrop}}
		s.Inspection.Basis.CheckingDistance = 20 * length.Thou
		s.Known.Guide = func(in inspect.Inspection, _ inspect.Key) Guide {
			return Guide{Slid: in.Basis.DropBy == inspect.BySliding}
		}
	}
	b := newBench(t, drops)
	b.took("27", "slide")
	if p := b.d.Prompt(); !strings.Contains(p.Told[0].Text, "Slide the table across") || !slices.ContainsFunc(p.Keys, func(k KeyHelp) bool { return k.Key == "turn" }) {
		t.Errorf("%+v", p)
	}
	b.took("27", "turn", "27")
	again := newBench(t, func(s *Start) {
		drops(s)
		s.Inspection.Readings, s.DropBy, s.Over = b.d.Inspection().Readings, inspect.BySliding, 15*length.Thou
	})
	again.took("19")
	in := again.d.Inspection()
	for i, want := range []inspect.DropBy{"", inspect.BySliding, "", inspect.BySliding} {
		if r := in.Readings[i]; r.DropBy != want || (r.Over != nil) != (i == 3) {
			t.Errorf("reading %d: %+v, want %q", i+1, r, want)
		}
	}
	// Worked out by hand: slid by .020 a fall of .0027 is atan(27/200), 7.69 degrees; turned, the fall of the circle over that chord,
	// .020 times .020 over .500, stands to it: atan(35/200), 9.93 degrees.
	for flute, want := range map[int]float64{1: 9.93, 4: 7.69} {
		if got := in.MeasuredRelief(inspect.ReliefDrop, flute); got == nil || math.Abs(got.Degrees()-want) > 0.1 {
			t.Errorf("flute %d: %v, want %.2f", flute, got, want)
		}
	}
}

// Where turning by eye cannot settle the relief over so short a distance, the drop is slid from the start and it is said why; turn turns
// it all the same, and what that leaves open is said before. A distance that is long enough is turned again.
func TestSlidWhereTurningSettlesNothing(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 1, Once: Once, Features: []inspect.Feature{inspect.PrimaryLand, inspect.ReliefDrop}}
		s.Known.Guide = func(in inspect.Inspection, _ inspect.Key) Guide {
			return Guide{Slid: in.Basis.DropBy == inspect.BySliding}
		}
	})
	says := func(want string) {
		t.Helper()
		p := b.d.Prompt()
		if !slices.ContainsFunc(p.Notes, func(n string) bool { return strings.Contains(n, "too short a way") && strings.Contains(n, want) }) {
			t.Errorf("want a note that says %q: %q", want, p.Notes)
		}
	}
	b.took(".012", ".012", ".012", ".012")
	says(".012 is too short a way to settle the relief: the table is slid")
	b.took(".0018", "turn")
	says("what is read stays open.  slide")
	if p := b.d.Prompt(); !strings.Contains(p.Notes[0], "too short") || !strings.Contains(p.Said, "what is read stays open") { // what falls off a small screen is the last note
		t.Errorf("%q, %q", p.Notes, p.Said)
	}
	b.took(".0018", "slid", ".0018")
	in := b.d.Inspection()
	for i, want := range []inspect.DropBy{inspect.BySliding, "", inspect.BySliding} {
		if r := in.Readings[4+i]; r.DropBy != want {
			t.Errorf("drop of flute %d: read by %q, want %q", r.Flute, r.DropBy, want)
		}
	}
	long := newBench(t, func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 1, Once: Once, Features: []inspect.Feature{inspect.PrimaryLand, inspect.ReliefDrop}}
	})
	long.took(".012", ".012", ".012", ".012", "d .020", "27")
	if r := long.d.Inspection().Readings[4]; r.DropBy != "" {
		t.Errorf("over .020 it is read by %q", r.DropBy)
	}
}

// Only the same line again, or y, takes what was asked about; a line that is quite different is asked about anew.
func TestSameAgainOnly(t *testing.T) {
	run := func(s *Start) {
		s.Plan.Features, s.Plan.Sights, s.Known.Dials = []inspect.Feature{inspect.RadialRunout}, false, nil
	}
	b := newBench(t, run)
	b.refused("0 .03 .02 0 0", "Flute 4 is .0300 off flute 1", "None taken")
	b.refused("0 .04 -.03 0 0", "Flute 4 is .0400 off flute 1", "None taken")
	if p := b.d.Prompt(); len(p.Choices) != 1 {
		t.Errorf("a row may mean %+v", p.Choices)
	}
	b.took("0 .0401 -.0299 0 0")
	b = newBench(t, run)
	b.refused("0 .03 .02 0 0", "None taken")
	b.took("y")
	if n := len(b.d.Inspection().Readings); n != 5 {
		t.Errorf("%d readings", n)
	}
	b = newBench(t, run)
	b.refused(".01", "where the dial is set to 0", ".001in if that was meant")
	b.took("y")
	b = newBench(t, func(s *Start) {
		s.Plan.Features, s.Plan.Sights, s.Known.Dials = []inspect.Feature{inspect.EndLand}, false, nil
	})
	b.refused(".4918", ".4918 in is not this tool")
	b.refused(".21", "half the way to the next edge")
	b.took(".06")
}

// Backspace where it was asked what a line meant takes that line back, and not the answer before it.
func TestBackspaceDropsTheQuestion(t *testing.T) {
	b := newBench(t, func(s *Start) {
		last := 4960 * length.Tenth
		s.Inspection.LastDiameter = &last
		s.Plan.Features, s.Plan.Sights, s.Known.Dials = []inspect.Feature{inspect.EndLand, inspect.Diameter, inspect.ReliefDrop}, false, nil
	})
	back := func(said string, readings int) {
		t.Helper()
		b.do(Key{At: b.now, Key: Backspace})
		if p := b.d.Prompt(); !strings.Contains(p.Said, said) || len(b.d.Inspection().Readings) != readings {
			t.Errorf("%q, %d readings; want %q and %d", p.Said, len(b.d.Inspection().Readings), said, readings)
		}
	}
	b.took(".06", ".06", ".06", ".06")
	b.refused(".4981", "was read before")
	if p := b.d.Prompt(); !strings.Contains(p.Last, "not taken") {
		t.Errorf("Backspace is told to take back %q", p.Last)
	}
	back("not taken", 4)
	b.refused(".4981", "was read before") // it is asked about anew
	back("not taken", 4)
	back("taken back: end land, tooth 2", 3)
	b.took(".06", ".4959")
	b.refused("-.0024", "fall or climb")
	back("not taken", 5)
}

// What y takes is a reading that can be: no point is moved to where nobody reads.
func TestNothingIsMeantThatNobodyReads(t *testing.T) {
	for _, test := range []struct {
		of    inspect.Feature
		unit  length.Unit
		typed string
	}{
		{inspect.ReliefDrop, length.In, ".4981"}, {inspect.RadialRunout, length.In, ".4921"}, {inspect.ReliefDrop, length.Mm, "9.953"},
	} {
		b := newBench(t, func(s *Start) {
			s.Plan.Features, s.Plan.Sights, s.Known.Dials = []inspect.Feature{test.of}, false, nil
			s.Inspection.Basis.Unit = test.unit
		})
		b.refused(test.typed)
		for _, c := range b.d.Prompt().Choices {
			if c.Says != "as typed" {
				t.Errorf("%s %s: may mean %+v", test.of, test.typed, c)
			}
		}
	}
}

// What lies outside what is expected is taken, and it is said; far outside it is asked about. Of a worn tool nothing is expected.
func TestOutsideIsSaid(t *testing.T) {
	after := func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 1, Once: Once, Features: []inspect.Feature{inspect.RadialRunout, inspect.WearLand, inspect.ReliefDrop}}
		s.Known.Dials = nil
	}
	b := newBench(t, after)
	for _, test := range []struct {
		typed   string
		outside string // "" is nothing outside
	}{
		{"0 -.001 .0002 .0005 0", ": -.001."}, {".021", ": .021."}, {".020", ""}, {".019", ""}, {"0", ""},
		{".0023", ""}, {".0022", ": .0022."}, {".0035", ": .0035."},
	} {
		b.took(test.typed)
		said := b.d.Prompt().Said
		if outside := strings.Contains(said, "Outside what is expected"); outside != (test.outside != "") || !strings.Contains(said, test.outside) {
			t.Errorf("%s: %q, want %q", test.typed, said, test.outside)
		}
	}
	b.refused(".0052", "far from what is looked for, .0023 to .0034")
	b = newBench(t, func(s *Start) { after(s); s.Inspection.Stage = inspect.Before })
	b.took("0 0 0 0 0", ".021")
	if p := b.d.Prompt(); strings.Contains(p.Said, "Outside") {
		t.Errorf("of a worn tool: %q", p.Said)
	}
}

// A division in millimetres is told with all its decimals.
func TestDivisionsInMillimetres(t *testing.T) {
	for typed, want := range map[string]string{"1": "For 1 division type 0.001", "4": "type 0.004", "25": "type 0.025", "100": "type 0.10"} {
		b := newBench(t, func(s *Start) {
			s.Plan.Features, s.Plan.Sights, s.Known.Dials = []inspect.Feature{inspect.RadialRunout}, false, nil
			s.Inspection.Basis.Unit = length.Mm
		})
		b.refused(typed, want)
	}
}

// A shop in millimetres is given its examples in millimetres, and what is typed in another unit is told with it.
func TestExamplesInTheUnitTyped(t *testing.T) {
	b := newBench(t, func(s *Start) { s.Inspection.Basis.Unit = length.Mm; s.Known.Dials = nil })
	if text := strings.Join(b.d.Prompt().Sights, "\n"); strings.Contains(text, ".015") || !strings.Contains(text, "as  3 0.4") {
		t.Errorf("%s", text)
	}
	b.refused("4", "How long along the edge? 4 0.4")
	b.took("u 4") // who is unsure of a chip need not know its length
	if s := b.d.Inspection().Seen[slices.IndexFunc(b.d.Inspection().Seen, func(s inspect.Seen) bool { return s.Yes })]; s.Sight != inspect.ChippedEdge || !s.Unsure || s.Length != nil {
		t.Errorf("seen %+v", s)
	}
	b.took("0 .0001in 0.002 0 0")
	if said := b.d.Prompt().Said; !strings.Contains(said, "0 .0001 in 0.002 0 0") {
		t.Errorf("said %q", said)
	}
}

// On a ball there is no corner where end and flute meet: a chip's place is told by the round of the end, with its flute.
func TestChipOnABall(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Tool.Ends = inspect.BallEnd
		s.Plan.Features = []inspect.Feature{inspect.RadialRunout}
	})
	if text := b.d.Prompt().Sights[2]; !strings.Contains(text, "round of the end") || !strings.Contains(text, "f2") || strings.Contains(text, "meet") {
		t.Errorf("%s", text)
	}
}
