package inspect

import (
	"slices"
	"testing"

	"flutelog/inspect/length"
)

// A tool the primary of whose flutes was to be ground by .0035 in, and of which diameter and width of the primary are what they
// were, is not taken for ground whatever was told: .0070 off the diameter is all of it, .0035 the half. A primary that grew wider
// tells that it was ground though the diameter, read over the wear before, is what it was; the wear, read again and within its
// limit, settles it. Invented.
func TestReadingsTellWhetherItWasGround(t *testing.T) {
	tool := testTool()
	flutes, behind := Face{DoPrimary, OnFlutes}, Face{DoSecondary, OnFlutes}
	for _, c := range []struct {
		diameter, primary, wear string
		told                    []Face
		asks                    bool
	}{
		{"0.4960", "0.016", "", []Face{flutes}, true},
		{"0.4962", "0.015", "", nil, true},
		{"0.4930", "0.016", "", []Face{flutes}, true},
		{"0.4924", "0.016", "", []Face{flutes}, false},
		{"0.4890", "0.016", "", []Face{flutes}, false},
		{"0.4960", "0.033", "", []Face{flutes}, false},
		{"0.4960", "0.016", "", []Face{flutes, behind}, false},
		{"0.4960", "0.016", "0.0005", []Face{flutes}, false},
		{"0.4960", "0.016", "0.0150", []Face{flutes}, true},
	} {
		in := Inspection{ID: "T-1.2", Tool: tool, Stage: After, Basis: DefaultBasis(tool), GroundFaces: c.told,
			Regrind: &Regrind{Before: true, Untouched: &Untouched{4960 * length.Tenth, 16 * length.Thou, 35 * length.Tenth}}}
		in.Readings = append(readings(Diameter, 1, c.diameter), readings(PrimaryLand, 1, c.primary, c.primary, c.primary, c.primary)...)
		in.Readings[0].Flute = 0
		if c.wear != "" {
			in.Readings = append(in.Readings, readings(WearLand, 1, c.wear, c.wear, c.wear, c.wear)...)
		}
		if asks := slices.Contains(Judge(in).Unread, flutes.item()); asks != c.asks {
			t.Errorf("%+v: asks for the wear %v, want %v", c, asks, c.asks)
		}
		in.Regrind.Untouched = nil // the primary of the flutes was not called for, or not alone
		if slices.Contains(Judge(in).Unread, flutes.item()) {
			t.Errorf("%+v, with nothing called for: asks for the wear", c)
		}
	}
}
