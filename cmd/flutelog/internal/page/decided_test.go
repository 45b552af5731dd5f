package page

import (
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// A closed inspection shows the run-out that its sheet shows, whichever was read last.
func TestClosedShowsTheRunoutThatDecided(t *testing.T) {
	tool := inspect.Tool{ID: "T-1", Diameter: length.Inch / 2, Flutes: 2, Material: inspect.HSS, Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
	in := inspect.Inspection{ID: "T-1.1", Tool: tool, Stage: inspect.Before, Basis: inspect.DefaultBasis(tool)}
	for _, f := range []inspect.Feature{inspect.RadialRunout, inspect.AxialRunout} {
		for flute := 1; flute <= 2; flute++ {
			in.Readings = append(in.Readings, inspect.Reading{Feature: f, Flute: flute, Repeat: 1, Value: length.Length(flute) * length.Tenth, Text: "0.0001", Unit: length.In})
		}
	}
	k := decided(inspect.Judge(in))
	if k.Feature != inspect.RadialRunout {
		t.Fatalf("decided: %+v", k)
	}
	shown := drawings(in, inspect.Key{}, k, length.In)
	if want := teeth(in, k, length.In); len(shown) == 0 || shown[0] != want {
		t.Errorf("shown %q, want %q", shown, want)
	}
}
