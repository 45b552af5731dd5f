package desk

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

func backspace(b *bench) {
	b.t.Helper()
	b.do(Key{At: b.now, Key: Backspace})
}

// Backspace goes back through what was answered in the order in which it was: readings, rows, what was left out, sights, how it was
// ground. What is read again goes to the end.
func TestBackspaceGoesByTheOrderOfAnswers(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan.Ground = &Grind{inspect.Ground{Divisions: 1}, "primary of the flutes"}
	})
	b.took("", "c", "0 -1 1 1 0", "s no loupe", "17 70", "s all no loupe", "b")
	for _, want := range []string{
		"3 of wear, left out", "flute 1 0.017 0.070", "wear, flute 1, left out", "run-out 0.0000 -0.0001 0.0001 0.0001 0.0000", "what was seen", "how it was ground",
	} {
		if p := b.d.Prompt(); p.Last != want {
			t.Errorf("Backspace would take back %q, want %q", p.Last, want)
		}
		backspace(b)
		if p := b.d.Prompt(); p.Said != "taken back: "+want {
			t.Errorf("said %q %q", p.Said, p.Refused)
		}
	}
	if q, _ := b.d.Asked(); !q.Ground || len(b.d.Inspection().Readings)+len(b.d.Skipped()) > 0 {
		t.Errorf("at %+v, with %+v and %+v", q, b.d.Inspection().Readings, b.d.Skipped())
	}
	if backspace(b); !strings.Contains(b.d.Prompt().Refused, "Nothing to take back") {
		t.Errorf("%q", b.d.Prompt().Refused)
	}
}

// How a tool was ground that was told at the table, and not asked, is told anew there: Backspace takes back what was asked.
func TestBackspaceLeavesWhatWasNotAsked(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 1, Features: []inspect.Feature{inspect.Diameter}}
	})
	b.took(".4962", "2 wheel cup")
	if backspace(b); len(b.d.Inspection().Readings) != 0 || b.d.Inspection().Wheel != "cup" {
		t.Errorf("%+v", b.d.Inspection())
	}
}

// An inspection that is taken up again takes back in the order in which it was answered, and reads drops as it last did.
func TestTakenUpAsItWasLeft(t *testing.T) {
	drops := func(s *Start) {
		s.Plan = Plan{Rounds: 1, Once: Once, Features: []inspect.Feature{inspect.ReliefDrop, inspect.Diameter}}
	}
	b := newBench(t, drops)
	b.took("d .015", "slide", "20", "20", "s bent", "20")
	var given []Given
	for _, k := range b.kept {
		q := k.Question
		if k.What == Read {
			q = Question{Key: k.Reading.Key()}
		}
		given = append(given, Given{q, stamp(k.At)})
	}
	for _, known := range []bool{true, false} {
		again := newBench(t, func(s *Start) {
			drops(s)
			s.Inspection, s.Skipped = b.d.Inspection(), b.d.Skipped()
			if known {
				s.Given = given
			}
		})
		backspace(again)
		if q, _ := again.d.Asked(); known && q.Key.Flute != 4 || !known && q.Key.Flute != 3 { // where the order is not known what was left out goes first
			t.Errorf("known %v: flute %d is asked again", known, q.Key.Flute)
		}
		again.took("20")
		all := again.d.Inspection().Readings
		if r := all[len(all)-1]; r.Over == nil || *r.Over != 15*length.Thou || r.DropBy != inspect.BySliding {
			t.Errorf("known %v: read over %v, %q, want .015 slid", known, r.Over, r.DropBy)
		}
	}
	back := newBench(t, func(s *Start) {
		drops(s)
		s.Inspection, s.Over = b.d.Inspection(), 12*length.Thou
		s.Inspection.Readings = s.Inspection.Readings[:2]
	})
	back.took("20")
	if all := back.d.Inspection().Readings; *all[len(all)-1].Over != 12*length.Thou {
		t.Errorf("what was chosen does not stand over what was read: %+v", all)
	}
}

// The table of all readings says which reliefs the drops come to. By hand, turned over .020 of a half-inch tool: the circle falls
// .020 times .020 over .500, .0008; .0027 and that over .020 is atan(.175), 9.93 degrees, and .0030 and that atan(.190), 10.76.
func TestTableSaysTheRelief(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Stage, s.Inspection.Basis.CheckingDistance = inspect.After, 20*length.Thou
		s.Plan = Plan{Rounds: 1, Once: Once, Features: []inspect.Feature{inspect.ReliefDrop}}
	})
	b.took("27", "30")
	var least, most float64
	if n, err := fmt.Sscanf(b.d.Rows()[0].Tail, "%f to %f deg", &least, &most); n != 2 || math.Abs(least-9.93) > 0.15 || math.Abs(most-10.76) > 0.15 {
		t.Errorf("%q, %v", b.d.Rows()[0].Tail, err)
	}
}

// What a person is not sure of is told so, and locks.
func TestNotSureIsToldSo(t *testing.T) {
	b := newBench(t, nil)
	b.took("u 1 f2 faint line")
	p := b.d.Prompt()
	if len(p.Trouble) != 1 || !strings.HasPrefix(p.Trouble[0], "LOCKED: PERHAPS A CRACK, taken as one till one who may sign has looked. DO NOT GRIND.") {
		t.Errorf("%q", p.Trouble)
	}
	if p.Said != "taken: crack (not sure); the others looked for and not seen" || p.Rows[0].Cells[0] != "cracks? flute 2 (faint line)" {
		t.Errorf("%q, %q", p.Said, p.Rows[0].Cells)
	}
	if _, locks := b.effects[0].(Lock); !locks {
		t.Errorf("%+v", b.effects)
	}
	sure := newBench(t, nil)
	if sure.took("1"); !strings.HasPrefix(sure.d.Prompt().Trouble[0], "LOCKED: CRACK seen.") {
		t.Errorf("%q", sure.d.Prompt().Trouble)
	}
}

// A tooth rest is offered and taken where one is used: not for faces, which are ground by the plate, nor for ends alone.
func TestRestIsAskedWhereOneIsUsed(t *testing.T) {
	for _, one := range []struct {
		faces []inspect.Face
		rest  bool
	}{
		{[]inspect.Face{{Do: inspect.DoPrimary, Where: inspect.OnFlutes}}, true},
		{[]inspect.Face{{Do: inspect.DoPrimary, Where: inspect.OnEnds}, {Do: inspect.DoSecondary, Where: inspect.OnFlutes}}, true},
		{[]inspect.Face{{Do: inspect.DoFace, Where: inspect.OnFlutes}}, false},
		{[]inspect.Face{{Do: inspect.DoPrimary, Where: inspect.OnEnds}, {Do: inspect.DoFace, Where: inspect.OnFlutes}}, false},
		{[]inspect.Face{{Do: inspect.DoPrimary, Where: inspect.OnEnds}}, false},
	} {
		b := newBench(t, func(s *Start) {
			s.Inspection.Stage, s.Plan.Ground = inspect.After, &Grind{inspect.Ground{Faces: one.faces}, "it"}
		})
		p := b.d.Prompt()
		offered := slices.ContainsFunc(p.Keys, func(k KeyHelp) bool { return strings.HasPrefix(k.Key, "rest") })
		told := slices.ContainsFunc(p.Told, func(told Told) bool { return strings.Contains(told.Text, "what the rest gives") })
		if offered != one.rest || told != one.rest {
			t.Errorf("%v: the rest is offered %v, spoken of %v", one.faces, offered, told)
		}
		if one.rest {
			b.took("rest .0431")
		} else {
			b.refused("rest .0431", "no tooth rest")
		}
	}
	table := newBench(t, func(s *Start) {
		s.Inspection.Stage, s.Inspection.Tool.Sharpened = inspect.After, inspect.OnFace
		s.Plan = Plan{Rounds: 1, Features: []inspect.Feature{inspect.Diameter}}
	})
	table.took(".4962")
	if table.refused("2", "wheel NAME"); strings.Contains(table.d.Prompt().Refused, "rest") {
		t.Errorf("%q", table.d.Prompt().Refused)
	}
}

// What was told between the grinds stands with the inspection after, where nothing was ground since; what is told now stands alone.
func TestGroundAsToldBetween(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan = Plan{Rounds: 1, Features: []inspect.Feature{inspect.Diameter}}
		s.Known.Between = inspect.Ground{Wheel: "cup 4", Divisions: 2}
	})
	ground := func() string { rows := b.d.Rows(); return rows[1].Name + ": " + rows[1].Cells[0] }
	if got := ground(); got != "ground with: cup 4, 2 divisions (told between)" {
		t.Error(got)
	}
	b.took(".4962", "2 wheel cup")
	if got := ground(); got != "ground with: cup" {
		t.Error(got)
	}
}

var inInches = regexp.MustCompile(`(^|[\s(])\.\d|\b(thou|tenths?|inch(es)?)\b`)

// In a metric shop no example is in inches, whatever is asked and whatever is refused.
func TestExamplesAreInTheUnitInForce(t *testing.T) {
	for _, flutes := range []int{1, 3, 4} {
		b := newBench(t, func(s *Start) {
			everything(s)
			s.Inspection.Basis.Unit, s.Gauges, s.Inspection.Tool.Flutes = length.Mm, nil, flutes
			s.Known.Guide, s.Known.Dials, s.Plan.Ground.Order, s.Plan.DropsAt = nil, nil, nil, nil
		})
		for range 200 {
			p := b.d.Prompt()
			texts := append([]string{p.Title, p.Ask, p.How, p.Said, p.Refused, p.Label}, slices.Concat(p.Sights, p.Notes, p.Caution, p.Trouble)...)
			for _, told := range p.Told {
				texts = append(texts, told.Text)
			}
			for _, k := range p.Keys {
				texts = append(texts, k.Key, k.Does)
			}
			for _, text := range texts {
				if w := inInches.FindString(text); w != "" {
					t.Errorf("%d flutes, %s: %q says %q", flutes, p.Ticket, text, w)
				}
			}
			q, asked := b.d.Asked()
			if !asked {
				break
			}
			for _, line := range []string{"?", "", "rest 400", "4", "4 900", "3", "f2", "9", "400", "d 400", "ok", "-0.02", "7 7 7 7 7 7 7", "2 f9"} {
				if !q.Ground || line != "" { // Enter takes it
					b.types(line)
				}
				if w := inInches.FindString(b.d.Prompt().Refused); w != "" {
					t.Errorf("%d flutes, %s, %q: %q", flutes, p.Ticket, line, b.d.Prompt().Refused)
				}
			}
			switch {
			case q.Ground:
				b.types("")
			case q.Sight != "":
				b.types("c")
			default:
				b.types("s all invented")
			}
		}
		if _, asked := b.d.Asked(); asked {
			t.Fatalf("%d flutes: not to the end", flutes)
		}
		b.types("9", "2 f9", "99 f1")
	}
}

// Widths typed in the other unit are no hair of a land: it is asked, and the same again is taken. A narrow primary is a reading.
func TestWidthsInTheOtherUnit(t *testing.T) {
	metric := func(s *Start) {
		s.Inspection.Basis.Unit, s.Known.Dials, s.Known.Guide = length.Mm, nil, nil
		s.Plan = Plan{Rounds: 1, Features: []inspect.Feature{inspect.WearLand, inspect.PrimaryLand, inspect.Land}}
	}
	b := newBench(t, metric)
	b.refused(".008 .014 .063", "Primary land, flute 1. .014 mm is a hair on this tool. Read in inches? Say so: .014in.", "y takes it", "None taken")
	b.took("y", ".008in .014in .063in")
	b = newBench(t, metric)
	b.took("0.04", "0.05")
	b.refused(".063", ".063 mm is a hair on this tool. Read in inches? Say so: .063in.")
	if p := b.d.Prompt(); len(p.Choices) < 2 {
		t.Errorf("it may mean %+v", p.Choices)
	}
	inch := newBench(t, func(s *Start) {
		s.Plan = Plan{Rounds: 1, Features: []inspect.Feature{inspect.PrimaryLand, inspect.Land}}
	})
	inch.took(".001", ".070")
	inch.refused(".0009 .070", ".0009 in is a hair on this tool. Read in millimetres?")
	inch.refused(".005 .009", ".009 in is a hair on this tool")
}

// What was typed of a grind by a slip goes again before it is taken: by Backspace all of it, by 0 the divisions that were not fed.
func TestGroundIsUnsaid(t *testing.T) {
	b := newBench(t, func(s *Start) {
		s.Inspection.Stage = inspect.After
		s.Plan.Ground = &Grind{inspect.Ground{Wheel: "cup 4", Divisions: 2}, "primary of the flutes"}
	})
	b.took("ends 1", "3", "wheel other")
	if p := b.d.Prompt(); p.Last != "what was typed last, which is not taken" {
		t.Errorf("Backspace would take back %q", p.Last)
	}
	backspace(b)
	b.took("ends 1", "ends 0", "")
	if g := b.kept[0].Ground; len(b.kept) != 1 || g.Wheel != "cup 4" || g.Divisions != 2 || g.EndsFed != 0 {
		t.Errorf("%+v", b.kept)
	}
	backspace(b)
	if q, _ := b.d.Asked(); !q.Ground || len(b.kept) != 2 || b.kept[1].What != TakenBack {
		t.Errorf("%+v, %+v", q, b.kept)
	}
}
