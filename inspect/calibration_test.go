package inspect

import (
	"fmt"
	"strings"
	"testing"

	"flutelog/inspect/length"
)

func TestCalibrationOverdue(t *testing.T) {
	for _, test := range []struct {
		name, due, gauge, at string
		want                 string // in a note; "" when nothing is overdue
	}{
		{"on the day it is due", "2026-03-31", "indicator", "2026-03-31T23:59:59.000000Z", ""},
		{"the day after", "2026-03-31", "indicator", "2026-04-01T00:00:00.000000Z", `"indicator" was due on 2026-03-31 and it was read on 2026-04-01`},
		{"no date", "", "indicator", "2026-04-01T00:00:00.000000Z", ""},
		{"typed", "2026-03-31", "keyboard", "2026-04-01T00:00:00.000000Z", "readings of 2026-04-01 do not say which gauge"},
		{"from a file", "2026-03-31", "", "2026-04-01T00:00:00.000000Z", "readings of 2026-04-01 do not say which gauge"},
		{"from a file, in time", "2026-03-31", "", "2026-03-01T00:00:00.000000Z", ""},
		{"no time", "2026-03-31", "indicator", "", ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			tool := Tool{ID: "EM-1", Diameter: length.Inch / 2, Flutes: 2, Material: HSS}
			in := Inspection{Tool: tool, Stage: Before, Basis: DefaultBasis(tool)}
			in.Basis.Gauges = map[string]Instrument{"indicator": {CalibrationDue: test.due}, "loupe": {CalibrationDue: "2099-01-01"}}
			for flute := 1; flute <= 2; flute++ {
				in.Readings = append(in.Readings, Reading{Feature: RadialRunout, Flute: flute, Repeat: 1, Text: "0.0000", Unit: length.In, Gauge: test.gauge, At: test.at})
			}
			got := ""
			for _, n := range Judge(in).Notes {
				switch n.What {
				case CalibrationPast:
					got = fmt.Sprintf("%q was due on %s and it was read on %s", n.Gauge, n.Due, n.Day)
				case CalibrationUnsure:
					got = fmt.Sprintf("readings of %s do not say which gauge", n.Day)
				}
			}
			if test.want == "" && got != "" || !strings.Contains(got, test.want) {
				t.Errorf("note %q, want %q", got, test.want)
			}
		})
	}
}
