package words

import (
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// A gash wants a thin wheel of its own: no wheel of the bench is named for it, and the speed it turns at here is.
func TestGashNamesNoWheelOfTheBench(t *testing.T) {
	tool := inspect.Tool{ID: "W-1", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree, Hand: inspect.RightHand,
		Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing, CentreCutting: true}
	in := inspect.Inspection{Tool: tool, Stage: inspect.Before, Basis: inspect.DefaultBasis(tool)}
	in.Basis.SendsOut, in.Basis.SpindleRPM = nil, 3600
	in.Basis.Wheels = []inspect.Wheel{{Name: "cup 4", Diameter: 4 * length.Inch, MarkedRPM: 5000, Bond: "vitrified"}}
	size := 10 * length.Thou
	in.Seen = []inspect.Seen{{Sight: inspect.ChippedCorner, Yes: true, Length: &size}}
	j := inspect.Judge(in)
	found := false
	for i, text := range Of(in, j, length.In).Steps {
		if j.Steps[i].Do != inspect.DoGash {
			continue
		}
		if found = true; strings.Contains(text, "cup 4") || !strings.Contains(text, "thin wheel") || !strings.Contains(text, "It turns at 3600 a minute here") {
			t.Errorf("%q", text)
		}
	}
	if !found {
		t.Errorf("nothing is gashed: %+v", j.Steps)
	}
}
