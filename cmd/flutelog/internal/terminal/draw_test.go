package terminal

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/length"
)

var began = time.Date(2026, 11, 27, 8, 0, 0, 0, time.UTC)

// start is an inspection of an invented tool after the grind, all that can be asked of it.
func start(flutes int) desk.Start {
	tool := inspect.Tool{ID: "EM-0412", Diameter: length.Inch / 2, Flutes: flutes, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
	limit := 5 * length.Tenth
	return desk.Start{
		Inspection: inspect.Inspection{ID: "EM-0412.2", Tool: tool, Stage: inspect.After, Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)},
		Plan: desk.Plan{Sights: true, Rounds: 2, Most: 10, Backward: true, Once: []inspect.Feature{inspect.ReliefDrop, inspect.Diameter}, Features: []inspect.Feature{
			inspect.RadialRunout, inspect.PrimaryLand, inspect.Land, inspect.ReliefDrop, inspect.AxialRunout, inspect.EndPrimaryLand, inspect.EndLand, inspect.Diameter}},
		Known: desk.Known{
			About:    "1/2 in  4 flutes  HSS  square end",
			LastSeen: "5 blunt corner, flutes 2 and 4 (12 Aug, before)",
			Dials:    func(inspect.Feature) (length.Length, bool) { return length.Tenth, true },
			Last:     func(inspect.Key) (string, bool) { return "-.0002 (14 Aug)", true },
			Guide: func(_ inspect.Inspection, k inspect.Key) desk.Guide {
				return desk.Guide{Expect: "+-.0005 of flute 1", Most: &limit, Limit: "limit .0005", FromEnd: ".100", Distance: 20 * length.Thou, Turn: "4.6",
					Further: []string{"The primary here is .026 wide (.030 round the tool): .020 is still on it."}}
			},
		},
		Gauges: []desk.Device{{Name: "indicator 2", Mode: desk.Button, Features: []inspect.Feature{inspect.RadialRunout}, Resolution: length.Tenth, Unit: length.In}},
		At:     began,
	}
}

func do(d *desk.Desk, events ...desk.Event) {
	for _, e := range events {
		d.Run(e, func(desk.Effect) error { return nil })
	}
}

func line(text string) desk.Event { return desk.Line{At: began, Text: text} }

// Every screen of an inspection is whole on 80 x 24: the question, what was refused and where one types never fall off.
func TestScreensFit(t *testing.T) {
	for _, size := range []struct{ columns, rows int }{{80, 24}, {80, 25}, {120, 40}, {40, 24}} {
		for _, flutes := range []int{2, 4, 6, 12} {
			s := start(flutes)
			d := desk.New(s)
			check := func(when string, want ...string) {
				t.Helper()
				p := d.Prompt()
				lines := Draw(p, size.columns, size.rows)
				text := strings.Join(lines, "\n")
				if len(lines) != size.rows {
					t.Errorf("%dx%d, %d flutes, %s: %d lines\n%s", size.columns, size.rows, flutes, when, len(lines), text)
				}
				for _, l := range lines {
					if utf8.RuneCountInString(l) > size.columns {
						t.Errorf("%d flutes, %s: %d columns: %q", flutes, when, utf8.RuneCountInString(l), l)
					}
				}
				if size.columns < 80 {
					return
				}
				for _, w := range append(want, p.Refused) {
					if !strings.Contains(strings.Join(strings.Fields(text), " "), strings.Join(strings.Fields(w), " ")) {
						t.Errorf("%d flutes, %s: %q is not on\n%s", flutes, when, w, text)
					}
				}
				if !strings.HasSuffix(lines[len(lines)-1], "> ") {
					t.Errorf("%s: the last line is %q", when, lines[len(lines)-1])
				}
				if testing.Verbose() && size.columns == 80 && size.rows == 24 {
					t.Logf("%s\n%s", when, text)
				}
			}
			check("sights", "AFTER", "crack", "ALL CLEAR", "CAUTION")
			do(d, line(""))
			check("refused sights", "Not taken: Enter alone")
			do(d, line("c"))
			check("run-out", "F L U T E", "how high", "BACKWARDS", "CAUTION", "limit .0005")
			do(d, line("3,5"))
			check("refused", "-> A comma in inches")
			row := strings.TrimSpace(strings.Repeat("1 ", flutes))
			do(d, line(row))
			check("round 2", "round 2", "TIR so far", ".0000")
			do(d, desk.Plug{At: began, Gauge: "indicator 2"})
			check("unplugged", "UNPLUGGED", "the gauge is away")
			do(d, desk.Plug{At: began, Gauge: "indicator 2", In: true})
			if flutes == 2 {
				do(d, line(row)) // of so few readings two rounds do not tell the scatter
			}
			do(d, line(row+" 1"))
			check("widths", "how wide is the primary")
			do(d, line("t"))
			check("readings", "run-out")
			do(d, line("?"))
			check("help", "Backspace")
			do(d, line(""), line("T.EM-0413"))
			check("wrong tool", "THAT IS EM-0413")
		}
	}
}

// Of an answer that does not fit no step is shown in part: what is left out stands behind a key.
func TestAnswerIsCutBetweenSteps(t *testing.T) {
	p := desk.Prompt{Screen: desk.AnswerScreen, Tool: "EM-0412", Answer: desk.Answer{Headline: "GRIND PRIMARY"}}
	for range 9 {
		p.Answer.Lines = append(p.Answer.Lines, desk.AnswerLine{Text: []string{"1 Primary of the ends, 6.00 deg of relief: cup wheel, rest .0431 under the", "  centre; first touch on tooth 3, then all", "  alike."}})
	}
	for rows := 14; rows < 30; rows++ {
		lines := Draw(p, 80, rows)
		for i, l := range lines {
			if strings.Contains(l, "w the whole route") && !strings.Contains(lines[i-1], "alike.") {
				t.Errorf("%d rows: cut in a step:\n%s", rows, strings.Join(lines, "\n"))
			}
		}
	}
}
