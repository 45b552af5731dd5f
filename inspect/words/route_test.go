package words_test

import (
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
