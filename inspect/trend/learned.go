package trend

import (
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// leastRecords is how many records a setting is learned from at least (common practice).
const leastRecords = 5

// Footing says what an estimate rests on.
type Footing struct {
	Records     int    `json:"records"`
	FromRecords bool   `json:"from_records"` // false: geometry's value, whose error is not known
	Note        string `json:"note"`         // the same in words
}

func fromRecords(n int) Footing { return Footing{n, true, fmt.Sprintf("from %d records", n)} }

func fromGeometry(n int, why string) Footing { return Footing{n, false, why + ": geometry used"} }

func tooFewRecords(n int) Footing {
	return fromGeometry(n, fmt.Sprintf("too few records (%d, %d are needed)", n, leastRecords))
}

// StockRecord is what one grind really took off.
type StockRecord struct {
	Divisions int           // of the feed dial
	Removed   length.Length // radially
}

// StockEstimate is the stock that a number of divisions is expected to remove: 95 % of further grinds lie from
// Lower to Upper. From geometry both are the value itself.
type StockEstimate struct {
	Removed length.Length `json:"removed"`
	Lower   length.Length `json:"lower"`
	Upper   length.Length `json:"upper"`
	Footing
}

// EstimateStock returns what divisions of the feed will remove, by the least squares line of the records of one bench and
// wheel, with its prediction interval: with an intercept, for the first division may be lost in backlash or the wheel's
// spring, and with a spread that grows with the divisions. Records that are all of one number of divisions tell about that
// number alone, by their mean. The interval is wider on both sides by half of step, the smallest step in which removed
// stock is read. With fewer than five records, or divisions outside of theirs, it is the value that geometry gives, and
// the note says why. It refuses divisions below one, here and in the records, and a negative step. Source:
// NIST/SEMATECH e-Handbook 4.5.1.2.
func EstimateStock(records []StockRecord, divisions int, step, geometry length.Length) (StockEstimate, error) {
	if divisions < 1 || step < 0 {
		return StockEstimate{}, fmt.Errorf("estimating stock of %d divisions read in steps of %v: want at least one and no negative step",
			divisions, step)
	}
	var x, y []float64
	for i, r := range records {
		if r.Divisions < 1 {
			return StockEstimate{}, fmt.Errorf("estimating stock: record %d has %d divisions", i+1, r.Divisions)
		}
		x = append(x, float64(r.Divisions))
		y = append(y, r.Removed.Micrometres())
	}
	e := StockEstimate{Removed: geometry, Lower: geometry, Upper: geometry}
	if len(records) < leastRecords {
		e.Footing = tooFewRecords(len(records))
		return e, nil
	}
	at, low, high := float64(divisions), slices.Min(x), slices.Max(x)
	if at < low || at > high {
		e.Footing = fromGeometry(len(records), fmt.Sprintf("%d records, all of %g to %g divisions", len(records), low, high))
		return e, nil
	}
	var p Interval
	if low == high {
		mean, err := statistics.Mean(y)
		if err != nil {
			return StockEstimate{}, fmt.Errorf("estimating stock: %w", err)
		}
		sd, err := statistics.StandardDeviation(y)
		if err != nil {
			return StockEstimate{}, fmt.Errorf("estimating stock: %w", err)
		}
		n := float64(len(y))
		half := statistics.TQuantile(0.975, n-1) * sd * math.Sqrt(1+1/n)
		p = Interval{mean, mean - half, mean + half}
	} else {
		line, err := FitGrowing(x, y)
		if err != nil {
			return StockEstimate{}, fmt.Errorf("estimating stock: %w", err)
		}
		p = line.Predict(at)
	}
	e.Footing = fromRecords(len(records))
	p = p.widened(step.Micrometres() / 2)
	for _, v := range []struct {
		of *length.Length
		um float64
	}{{&e.Removed, p.Value}, {&e.Lower, p.Lower}, {&e.Upper, p.Upper}} {
		var err error
		if *v.of, err = length.FromMicrometres(v.um); err != nil {
			return StockEstimate{}, fmt.Errorf("estimating stock: %w", err)
		}
	}
	return e, nil
}

// ReliefRecord is the relief that one setting of the grinder really gave.
type ReliefRecord struct {
	Geometry length.Angle // what the offset set gives by geometry, for that tool and wheel
	Obtained length.Angle
}

// ReliefEstimate is the relief that a setting is expected to give: 95 % of further tools lie from Lower to Upper.
// From geometry both are the value itself.
type ReliefEstimate struct {
	Relief length.Angle `json:"relief"`
	Lower  length.Angle `json:"lower"`
	Upper  length.Angle `json:"upper"`
	Footing
}

// EstimateRelief returns the relief that an offset will give, by the least squares line of the records of one
// bench, with its prediction interval. An offset is told by the relief that it gives by geometry, so that
// tools and wheels of every diameter speak together: offsets themselves would not. The interval is wider on
// both sides by half of step, the smallest step in which relief is read. With fewer than five records, or outside
// of them, it is geometry's relief, and the note says why. It refuses a negative step. Source: NIST/SEMATECH
// e-Handbook 4.5.1.2.
func EstimateRelief(records []ReliefRecord, step, geometry length.Angle) (ReliefEstimate, error) {
	if step < 0 {
		return ReliefEstimate{}, fmt.Errorf("estimating relief: step %v is negative", step)
	}
	var x, y []float64
	for _, r := range records {
		x = append(x, r.Geometry.Degrees())
		y = append(y, r.Obtained.Degrees())
	}
	e := ReliefEstimate{Relief: geometry, Lower: geometry, Upper: geometry}
	if len(records) < leastRecords {
		e.Footing = tooFewRecords(len(records))
		return e, nil
	}
	at, low, high := geometry.Degrees(), slices.Min(x), slices.Max(x)
	if at < low || at > high || low == high {
		e.Footing = fromGeometry(len(records),
			fmt.Sprintf("%d records, all of offsets for %g to %g deg", len(records), low, high))
		return e, nil
	}
	line, err := FitLine(x, y)
	if err != nil {
		return ReliefEstimate{}, fmt.Errorf("estimating relief: %w", err)
	}
	e.Footing = fromRecords(len(records))
	p := line.Predict(at).widened(step.Degrees() / 2)
	for _, v := range []struct {
		of  *length.Angle
		deg float64
	}{{&e.Relief, p.Value}, {&e.Lower, p.Lower}, {&e.Upper, p.Upper}} {
		if *v.of, err = length.FromRadians(v.deg * math.Pi / 180); err != nil {
			return ReliefEstimate{}, fmt.Errorf("estimating relief: %w", err)
		}
	}
	return e, nil
}
