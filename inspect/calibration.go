package inspect

import (
	"maps"
	"slices"
)

// calibration notes each gauge whose calibration was overdue when it was read. A gauge is good through the day
// it is due; days are those of UTC, as the readings' are. Where readings do not say which gauge they were
// taken with, every overdue gauge of the bench is named.
func (w *judging) calibration() {
	last := map[string]string{} // the day of each gauge's last reading
	unnamed := ""               // that of readings with none of the bench's gauges
	for _, r := range w.in.Readings {
		day := r.At[:min(len(r.At), len("2006-01-02"))]
		if _, known := w.in.Basis.Gauges[r.Gauge]; known {
			last[r.Gauge] = max(last[r.Gauge], day)
		} else {
			unnamed = max(unnamed, day)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(w.in.Basis.Gauges)) {
		due := w.in.Basis.Gauges[name].CalibrationDue
		switch {
		case due == "":
		case last[name] > due:
			w.note(Note{What: CalibrationPast, Gauge: name, Due: due, Day: last[name]})
		case unnamed > due:
			w.note(Note{What: CalibrationUnsure, Gauge: name, Due: due, Day: unnamed})
		}
	}
}
