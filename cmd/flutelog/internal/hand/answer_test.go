package hand

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect"
	"flutelog/inspect/length"
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
