package trends

import (
	"encoding/json"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/trend"
)

// What a trend keeps does not grow with the inspections: the points to be drawn.
func TestTrendKeepsLittle(t *testing.T) {
	values, err := trend.NewAccumulator(trend.Individuals, 1, 100)
	if err != nil {
		t.Fatal(err)
	}
	s := &trendScan{picked: picked{Choice: Choice{Stage: "after"}}, subject: subjects[0], unit: length.In, values: values, last: 100}
	tir, err := json.Marshal(record.Figure{Value: inspect.LengthQuantity(3 * length.Tenth)})
	if err != nil {
		t.Fatal(err)
	}
	f := record.Figures{Tool: "EM-1", TIR: tir}
	for range 10_000 {
		for _, f.Stage = range []inspect.Stage{inspect.Before, inspect.After} {
			if err := s.visit(record.Regrind{Figures: f, Bench: "bench"}); err != nil {
				t.Fatal(err)
			}
		}
	}
	if n, _, _, _ := values.Overall(); n != 10_000 {
		t.Errorf("%d values, want 10000", n)
	}
	if len(s.points) > 200 || cap(s.points) > 1000 || s.before != nil {
		t.Errorf("%d points (room for %d) and %d pairs are kept, want at most 200, 1000 and 0", len(s.points), cap(s.points), len(s.before))
	}
}

// What regrinds took off one tool foresees how many it has left: 10 um each of 5, and 100 um left.
func TestLifeLeft(t *testing.T) {
	least := inspect.LengthQuantity(12 * length.Millimetre)
	s := &trendScan{unit: length.Mm, least: &least}
	for k := range 6 {
		s.loses("EM-1", 12*length.Millimetre+length.Length(150-10*k)*length.Micrometre)
	}
	var r trendResult
	if err := s.lifeLeft(&r); err != nil || r.Left == nil || r.Left.Regrinds != 10 || !r.Left.FromRecords {
		t.Errorf("%+v, %v; want ten regrinds left", r.Left, err)
	}
	s.loses("EM-1", 11*length.Millimetre)
	r = trendResult{}
	if err := s.lifeLeft(&r); err != nil || r.Left != nil || len(r.Notes) != 1 {
		t.Errorf("under the smallest: %+v, %v", r, err)
	}
}
