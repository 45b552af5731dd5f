package main

import (
	"fmt"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/session"
	"flutelog/inspect/trend"
)

// inventedInspections fills a ledger with inspections after the grind, n of a few hundred tools.
func inventedInspections(tb testing.TB, dir string, n int) {
	tb.Helper()
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		tb.Fatal(err)
	}
	for done := 0; done < n; {
		var batch []ledger.Entry
		for ; done < n && len(batch) < 1000; done++ {
			f := session.Figures{
				Inspection: fmt.Sprintf("EM-%d.%d", done%300, done/300+1), Tool: fmt.Sprintf("EM-%d", done%300), Stage: inspect.After,
				Closed: "2026-01-02T03:04:05.000000Z", Nominal: length.Inch / 2, Material: inspect.HSS, Inspector: "invented", Wheel: "cup",
			}
			f.TIR = written(tb, inspect.LengthQuantity(length.Length(30+done%7)*length.Tenth/10))
			f.Ratio = written(tb, inspect.ShareQuantity(0.3))
			f.Diameter = written(tb, inspect.LengthQuantity(498*length.Thou))
			f.Relief = written(tb, inspect.AngleQuantity(10*length.Degree))
			batch = append(batch, closedWith(tb, f))
		}
		if _, err := l.Append(batch...); err != nil {
			tb.Fatal(err)
		}
	}
}

// What a trend keeps does not grow with the inspections: the points to be drawn, and the tools in a grind.
func TestTrendKeepsLittle(t *testing.T) {
	values, err := trend.NewAccumulator(trend.Individuals, 1, 100)
	if err != nil {
		t.Fatal(err)
	}
	s := &trendScan{picked: picked{selection: selection{stage: "after"}}, subject: subjects[0], unit: length.In, values: values, last: 100, regrinds: regrinds{}}
	f := session.Figures{Tool: "EM-1", TIR: written(t, inspect.LengthQuantity(3*length.Tenth))}
	for range 10_000 {
		for _, f.Stage = range []inspect.Stage{inspect.Before, inspect.After} {
			if err := s.inspection("bench", f); err != nil {
				t.Fatal(err)
			}
		}
	}
	if n, _, _, _ := values.Overall(); n != 10_000 {
		t.Errorf("%d values, want 10000", n)
	}
	if len(s.points) > 200 || cap(s.points) > 1000 || len(s.regrinds) != 0 || s.before != nil {
		t.Errorf("%d points (room for %d), %d tools in a grind and %d pairs are kept, want at most 200, 1000, 0 and 0", len(s.points), cap(s.points), len(s.regrinds), len(s.before))
	}
}

// BenchmarkTrend draws the trend of 100,000 inspections.
func BenchmarkTrend(b *testing.B) {
	dir := b.TempDir()
	inventedInspections(b, dir, 100_000)
	for b.Loop() {
		if status, _, errs := commandLine(dir, "trend", "--what", "tir"); status != 0 {
			b.Fatalf("status %d: %s", status, errs)
		}
	}
}
