package words_test

import (
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// What a machine is set to is shown as it is set: a rest to a tenth of a thou or a micrometre, whole divisions.
func TestStepFigures(t *testing.T) {
	rest, angle, two := 38*length.Thou+length.Tenth/2, 9*length.Degree, 2
	s := inspect.Step{Do: inspect.DoPrimary, Where: inspect.OnFlutes, Rest: &rest, Angle: &angle, Divisions: &two, Touch: 3}
	for unit, want := range map[length.Unit][]words.Fact{
		length.In: {{"rest below centre", "0.0381 in"}, {"relief", "9.0°"}, {"divisions from first touch", "2"}, {"touches first", "flute 3"}},
		length.Mm: {{"rest below centre", "0.966 mm"}, {"relief", "9.0°"}, {"divisions from first touch", "2"}, {"touches first", "flute 3"}},
	} {
		got := words.StepFigures(s, unit)
		if len(got) != len(want) {
			t.Fatalf("%s: %v", unit, got)
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("%s: %v, want %v", unit, got[i], want[i])
			}
		}
	}
	if got := words.StepName(s); got != "Primary, flutes" {
		t.Errorf("named %q", got)
	}
}

// A step that grinds says its wheel, with its mark; of several that may, none is taken in silence; one that must not turn is said
// first. What was taken for the length of a taper's edges is said.
func TestStepSaysItsWheel(t *testing.T) {
	angle := 8 * length.Degree
	tool := inspect.Tool{ID: "T-1", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Ends: inspect.ChamferedEnd, Teeth: inspect.PlainTeeth, Taper: 2 * length.Degree}
	cup := inspect.Wheel{Name: "cup 6", Diameter: 6 * length.Inch, MarkedRPM: 3800}
	other := inspect.Wheel{Name: "other", Diameter: 4 * length.Inch, MarkedRPM: 5000}
	said := func(s inspect.Step) string {
		return words.Of(inspect.Inspection{Tool: tool}, inspect.Judgement{Steps: []inspect.Step{s}}, length.In).Steps[0]
	}
	for _, do := range []inspect.Do{inspect.DoCutBack, inspect.DoGash, inspect.DoFace, inspect.DoPrimary, inspect.DoSecondary, inspect.DoCorner, inspect.DoForm} {
		for _, sight := range []inspect.Sight{"", inspect.ChippedCorner} {
			use := cup.Runs(3600, inspect.HSS)
			s := inspect.Step{Do: do, Where: inspect.OnEnds, Wheel: &use, Sight: sight}
			if got := said(s); !strings.Contains(got, "Wheel cup 6 at 3600 turns a minute, marked 3800.") {
				t.Errorf("%s: %q", do, got)
			}
			use = cup.Runs(3900, inspect.HSS)
			if got := said(s); !strings.HasPrefix(got, "TOO FAST for cup 6") {
				t.Errorf("%s, too fast: %q", do, got)
			}
			s.Wheel, s.Either = nil, []inspect.WheelUse{cup.Runs(3600, inspect.HSS), other.Runs(3600, inspect.HSS)}
			if got := said(s); !strings.Contains(got, "Wheel cup 6, marked 3800, or other, marked 5000, at 3600 turns a minute: say which") {
				t.Errorf("%s, of two: %q", do, got)
			}
		}
	}
	taper := inspect.Step{Do: inspect.DoPrimary, Where: inspect.OnFlutes, Angle: &angle, AtEnd: &angle, AtBack: &angle}
	if got := said(taper); !strings.Contains(got, "edges taken as two diameters long, 1.00000 in") {
		t.Errorf("taper: %q", got)
	}
	edges := 2 * length.Inch
	tool.Edges = &edges
	if got := said(taper); strings.Contains(got, "taken as") {
		t.Errorf("taper with its edges told: %q", got)
	}
}
