package inspect

import (
	"strings"
	"testing"

	"flutelog/inspect/length"
)

// Widths that cannot be, one at a time and beside what was read before; a primary as wide as its land can.
func TestInspectionCheck(t *testing.T) {
	width := func(f Feature, flute int, value length.Length) Reading {
		return Reading{Feature: f, Flute: flute, Repeat: 1, Value: value, Text: "text", Unit: length.In}
	}
	tool := testTool()
	in := Inspection{Tool: tool, Readings: []Reading{width(PrimaryLand, 1, 20*length.Thou), width(EndLand, 2, 20*length.Thou), width(Land, 4, 60*length.Thou)}}
	tests := []struct {
		name string
		r    Reading
		want string
	}{
		{"a width", width(WearLand, 1, 5*length.Thou), ""},
		{"as much as the diameter", width(Land, 3, tool.Diameter), "decimal point"},
		{"round to the next edge", width(Land, 3, 393*length.Thou), "from one edge to the next"}, // half an inch, four flutes: pi/8, 0.3927
		{"just under that", width(EndLand, 3, 392*length.Thou), ""},
		{"wear over its land", width(WearLand, 4, 61*length.Thou), "wider than the whole land"},
		{"half the fall of a cliff", width(ReliefDrop, 3, 17*length.Thou), "more than 40 degrees"}, // over .020
		{"as deep a climb", width(ReliefDrop, 3, -17*length.Thou), "more than 40 degrees"},
		{"a fall", width(ReliefDrop, 3, 3*length.Thou), ""},
		{"a length", Reading{Feature: Length, Repeat: 1, Value: 3 * length.Inch}, ""},
		{"a length as of a yard more", Reading{Feature: Length, Repeat: 1, Value: 75 * length.Inch}, "cannot be a tool's"},
		{"a length as of a burr", Reading{Feature: Length, Repeat: 1, Value: length.Inch / 10}, "cannot be a tool's"},
		{"a height is no width", Reading{Feature: RadialRunout, Flute: 1, Repeat: 1, Value: 2 * tool.Diameter}, ""},
		{"land as wide as its primary", width(Land, 1, 20*length.Thou), ""},
		{"land under its primary", width(Land, 1, 20*length.Thou-1), "wider than the whole land"},
		{"land of another flute", width(Land, 2, 10*length.Thou), ""},
		{"primary over its land", width(EndPrimaryLand, 2, 20*length.Thou+1), "wider than the whole land"},
		{"primary as wide as its land", width(EndPrimaryLand, 2, 20*length.Thou), ""},
		{"flutes are not ends", width(PrimaryLand, 2, 30*length.Thou), ""},
		{"what a reading alone shows", width(Land, 9, 30*length.Thou), "has flutes 1 to"},
	}
	for _, tt := range tests {
		err := in.Check(tt.r)
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: got %v, want %q", tt.name, err, tt.want)
		}
	}
}
