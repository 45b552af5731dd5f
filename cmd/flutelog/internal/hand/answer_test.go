package hand

import (
	"math"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/terminal"
	"flutelog/inspect"
	"flutelog/inspect/answers"
	"flutelog/inspect/desk"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/words"
)

// worn is an inspection of a worn tool of half an inch before the grind; its figures are invented.
func worn() inspect.Inspection {
	tool := testTool()
	tool.Flutes = 4
	in := inspect.Inspection{ID: "EM 1/2.1", Tool: tool, Stage: inspect.Before, Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)}
	for flute := range 4 {
		for f, thou := range map[inspect.Feature]length.Length{inspect.WearLand: 10, inspect.PrimaryLand: 20, inspect.Land: 80} {
			in.Readings = append(in.Readings, inspect.Reading{Feature: f, Flute: flute + 1, Repeat: 1, Value: thou * length.Thou, Text: ".0", Unit: length.In})
		}
		in.Readings = append(in.Readings, inspect.Reading{Feature: inspect.RadialRunout, Flute: flute + 1, Repeat: 1, Value: length.Length(flute) * length.Tenth, Text: ".0", Unit: length.In})
	}
	return in
}

// The picture is to scale: in 52 columns of .080 in of land .010 of wear are 6 or 7, and .020 of primary 13; a height of .0003 stands
// at 3/5 of the way to the most of .0005, column 40.
func TestPictureIsToScale(t *testing.T) {
	in := worn()
	picture := Picture(in, inspect.Judge(in), length.In)
	for _, want := range []string{
		"flute 4   " + strings.Repeat("#", 24) + strings.Repeat(" ", 16) + "|",
		"flute 1   " + strings.Repeat(" ", 40) + "|",
		"flute 2   xxxxxxx======.............|", " 0.25",
	} {
		if !strings.Contains(picture, want) {
			t.Errorf("no %q in\n%s", want, picture)
		}
	}
	for line := range strings.Lines(picture) {
		if utf8.RuneCountInString(line) > 79 {
			t.Errorf("more than a line: %q", line)
		}
	}
}

// What a person acts on is on the first screen: of every tool that a master answered, each step at a machine stands there with its
// settings, on 80 x 24, and none behind a key; so does all that was not read, and the first figure that decides.
func TestFirstScreenSaysWhatToDo(t *testing.T) {
	cases, err := answers.Read("../../../../testdata/answers.txt")
	if err != nil {
		t.Fatal(err)
	}
	all := worn() // both faces of both parts, and worn flutes
	for i, r := range all.Readings {
		if r.Feature == inspect.PrimaryLand {
			all.Readings[i].Value = 38 * length.Thou
		}
	}
	for flute := range 4 {
		for f, thou := range map[inspect.Feature]length.Length{inspect.EndPrimaryLand: 40, inspect.EndLand: 60} {
			all.Readings = append(all.Readings, inspect.Reading{Feature: f, Flute: flute + 1, Repeat: 1, Value: thou * length.Thou, Text: ".0", Unit: length.In})
		}
	}
	for _, s := range inspect.Sights {
		all.Seen = append(all.Seen, inspect.Seen{Sight: s, Yes: s == inspect.BluntCorner})
	}
	left := all
	left.Tool.Cut, left.Tool.Ends = inspect.LeftHand, inspect.ChamferedEnd
	cases = append(cases, answers.Case{Name: "all four faces", Inspection: all}, answers.Case{Name: "all four faces and corners, cut to the left against its helix", Inspection: left})
	most := 0
	for _, c := range cases {
		for _, unit := range []length.Unit{length.In, length.Mm} {
			in := c.Inspection
			j := inspect.Judge(in)
			a := Answer(in, j, unit, mark.Console{}, nil)
			b := desk.New(desk.Start{Inspection: in, Plan: desk.Plan{Rounds: 1}})
			b.Do(desk.Closed{ID: in.ID, Answer: a})
			p := b.Prompt()
			p.About = About(in.Tool, unit)
			lines := terminal.Draw(p, 80, 24)
			screen := strings.Join(lines, "\n")
			flat := strings.Join(strings.Fields(screen), " ")
			n := 0
			for i, s := range j.Steps {
				brief := words.StepBrief(s, unit)
				for do, what := range map[inspect.Do]string{inspect.DoStone: "Fine stone round the shank", inspect.DoSeat: "Take the tool out", inspect.DoLockAway: "Red tag"} {
					if s.Do == do && !strings.Contains(flat, what) {
						t.Errorf("%s: %s is not said on\n%s", c.Name, do, screen)
					}
				}
				if brief == "" {
					continue
				}
				n++
				own := strings.Join(strings.Fields(words.Of(in, j, unit).Steps[i]), " ")
				if own = own[:min(len(own), 24)]; !strings.Contains(flat, brief) && !strings.Contains(flat, own) {
					t.Errorf("%s, %s: step %d, %s, is not on\n%s", c.Name, unit, i+1, brief, screen)
				}
			}
			if keys := strings.Join(lines[20:], " "); a.Doing != "" && !strings.Contains(keys, "Enter "+a.Doing) {
				t.Errorf("%s: what Enter does is not on\n%s", c.Name, screen)
			}
			for _, s := range j.Steps {
				if careful := words.StepHand(s); careful != "" && !strings.Contains(strings.ToLower(flat), strings.ToLower(careful[:13])) {
					t.Errorf("%s: %q is not on\n%s", c.Name, careful, screen)
				}
			}
			most = max(most, n)
			if len(lines) != 24 {
				t.Errorf("%s: %d lines", c.Name, len(lines))
			}
			if open := words.Of(in, j, unit).Open; len(open) > 0 && !strings.Contains(flat, "1 "+open[0][:min(len(open[0]), 20)]) {
				t.Errorf("%s: what is open is not on\n%s", c.Name, screen)
			}
		}
	}
	if most < 4 {
		t.Errorf("no tool has more than %d steps at a machine", most)
	}
}

// An answer to what a practice gauge read says so, and is signed by nobody.
func TestPracticeIsSaid(t *testing.T) {
	cases, err := answers.Read("../../../../testdata/answers.txt")
	if err != nil {
		t.Fatal(err)
	}
	released := 0
	for _, c := range cases {
		in := c.Inspection
		j := inspect.Judge(in)
		if in.Stage != inspect.After || !j.Releases() || len(in.Readings) == 0 {
			continue
		}
		released++
		if a := Answer(in, j, length.In, mark.Console{}, nil); !a.Sign || strings.Contains(a.Lines[0].Text[0], "PRACTICE") {
			t.Errorf("%s: %+v", c.Name, a)
		}
		in.Readings = slices.Clone(in.Readings)
		in.Readings[0].Gauge = "practice"
		if a := Answer(in, j, length.In, mark.Console{}, nil); a.Sign || !strings.Contains(a.Lines[0].Text[0], desk.PracticeNote) {
			t.Errorf("%s, with a practice gauge: %+v", c.Name, a)
		}
	}
	if released == 0 {
		t.Error("no tool is released")
	}
}

// Where a route has more than one reading between its grinds, Enter goes on with the next of them: the ends are read before the flutes
// are ground, and those before their secondary.
func TestReadBetweenTwice(t *testing.T) {
	before := worn()
	for i, r := range before.Readings {
		if r.Feature == inspect.PrimaryLand {
			before.Readings[i].Value = 38 * length.Thou
		}
	}
	for flute := range 4 {
		for f, thou := range map[inspect.Feature]length.Length{inspect.EndPrimaryLand: 40, inspect.EndLand: 60} {
			before.Readings = append(before.Readings, inspect.Reading{Feature: f, Flute: flute + 1, Repeat: 1, Value: thou * length.Thou, Text: ".0", Unit: length.In})
		}
	}
	j := inspect.Judge(before)
	if a := Answer(before, j, length.In, mark.Console{}, nil); a.Next != inspect.Between {
		t.Fatalf("Enter begins %q", a.Next)
	}
	between := before
	between.Stage = inspect.Between
	between.Readings = slices.DeleteFunc(slices.Clone(before.Readings), func(r inspect.Reading) bool { return r.Feature == inspect.WearLand || r.Feature.Heights() })
	between.Regrind = inspect.RegrindOf([]inspect.Judged{{Inspection: before, Judgement: j}}, inspect.Between)
	for owed, want := range map[bool]inspect.Stage{true: inspect.Between, false: inspect.After} {
		if between.Regrind.Owed = nil; owed {
			for _, s := range j.Grinds() {
				if s.Where == inspect.OnFlutes {
					between.Regrind.Owed = append(between.Regrind.Owed, s)
				}
			}
		}
		if a := Answer(between, inspect.Judge(between), length.In, mark.Console{}, nil); a.Next != want {
			t.Errorf("the flutes owed %v: Enter begins %q, want %q", owed, a.Next, want)
		}
	}
}

// The route is a step a page, each that goes near a wheel with its caution; a page is never more than a screen of 80 x 24.
func TestRouteIsAStepAPage(t *testing.T) {
	in := worn()
	j := inspect.Judge(in)
	pages := strings.Split(Route(in, j, length.In), "\f\n")
	if len(pages) != len(j.Steps) || len(pages) < 3 {
		t.Fatalf("%d pages of %d steps", len(pages), len(j.Steps))
	}
	for i, page := range pages {
		if s := j.Steps[i]; s.Do == inspect.DoPrimary && !strings.Contains(page, "Guard on") {
			t.Errorf("page %d goes to the wheel without its caution:\n%s", i+1, page)
		}
		if n := strings.Count(page, "\n"); n > 22 {
			t.Errorf("page %d has %d lines", i+1, n)
		}
	}
}

// After the grind of the primary alone it can only be wider than it was: that is what is looked for. The flat formula for the growth,
// infeed over the difference of the tangents of 19.5 and 10.5 degrees, stands beside it; it leaves out that the edge goes back.
func TestPrimaryIsLookedForAsPlanned(t *testing.T) {
	was := worn()
	now := was
	now.Stage, now.Readings = inspect.After, nil
	key := inspect.Key{Feature: inspect.PrimaryLand, Flute: 2, Repeat: 1}
	g := Known(&bench.File{}, now, []Before{{Inspection: was}}).Guide(now, key)
	grows := float64(inspect.Judge(was).Plan.Infeed) / float64(length.Inch) / 0.1688
	if *g.Least != 20*length.Thou || math.Abs(float64(*g.Most)/float64(length.Inch)-(0.020+2*grows)) > grows/3 || !strings.HasPrefix(g.Expect, ".020 to .0") {
		t.Errorf("%s: %v to %v, want .020 to about %.4f", g.Expect, g.Least, g.Most, 0.020+2*grows)
	}
	if g := Known(&bench.File{}, was, []Before{{Inspection: was}}).Guide(was, key); *g.Least != 15*length.Thou {
		t.Errorf("of a worn tool %s is looked for", g.Expect)
	}
}
