package report

import (
	"fmt"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

func TestBeforeAfterBars(t *testing.T) {
	stages := []StageFigures{
		{inspect.Before, []geometry.Ratio{*ratio(22, 40), *ratio(18, 40)}, at(12 * length.Micrometre)},
		{inspect.Between, []geometry.Ratio{*ratio(24, 40), *ratio(21, 40)}, nil},
		{inspect.After, []geometry.Ratio{*ratio(10, 40), *ratio(11, 40)}, at(3 * length.Micrometre)},
	}
	n := parse(t, BeforeAfter{Title: "invented", Stages: stages, Limit: at(6 * length.Micrometre), Unit: length.Mm}.figure().SVG)
	half := places(t, n.one(t, "half").attr("d"))[0][1]
	limit := places(t, n.one(t, "limit").attr("d"))[0][0]
	for _, s := range stages {
		bars := n.all(string(s.Stage))
		for i, r := range s.Ratios {
			bar := bars[i]
			foot := bar.number(t, "y") + bar.number(t, "height")
			near(t, fmt.Sprintf("%s flute %s", s.Stage, bar.attr("data-flute")), 0.5*bar.number(t, "height")/(foot-half), float64(r.Primary)/float64(r.Land), 0.001)
		}
		bars = bars[len(s.Ratios):]
		if s.TIR == nil {
			if len(bars) > 0 {
				t.Errorf("%s has a TIR that was not read", s.Stage)
			}
			continue
		}
		rect := bars[0].Children[0]
		shown := float(t, bars[0].one(t, "value").Text)
		near(t, string(s.Stage)+" TIR", rect.number(t, "width")/(limit-rect.number(t, "x")), shown/0.006, 0.001)
		near(t, string(s.Stage)+" TIR as shown", shown, s.TIR.Micrometres()/1000, 1e-9)
	}
}

func number64(f float64) *float64 { return &f }

func TestChartValuesStandAmongTheirLines(t *testing.T) {
	values := []float64{0.31, 0.42, 0.18, 0.29, 0.77}
	n := parse(t, Chart{Title: "invented", Unit: "thou", Decimals: 2, Values: values, From: "2026-01-02", To: "2026-03-04",
		Centre: number64(0.30), Lower: number64(0.10), Upper: number64(0.50), Signals: []int{5}}.Draw())
	level := func(kind string) (y, value float64) {
		g := n.one(t, kind)
		return places(t, g.Children[0].attr("d"))[0][1], float(t, g.Children[1].Text)
	}
	lowY, low := level("lower")
	highY, high := level("upper")
	centreY, centre := level("centre")
	toValue := func(y float64) float64 { return low + (high-low)*(lowY-y)/(lowY-highY) }
	near(t, "centre", toValue(centreY), centre, 0.001)
	line := places(t, n.one(t, "values").attr("d"))
	for i, p := range line {
		near(t, fmt.Sprintf("value %d", i+1), toValue(p[1]), values[i], 0.001)
		near(t, fmt.Sprintf("place of value %d", i+1), (p[0]-line[0][0])/(line[4][0]-line[0][0]), float64(i)/4, 0.001)
	}
	if signals := n.all("signal"); len(signals) != 1 || signals[0].attr("data-number") != "5" || signals[0].XMLName.Local != "rect" {
		t.Errorf("signals %+v, want the fifth value as a diamond", signals)
	}
	if dots := n.all("dot"); len(dots) != 4 {
		t.Errorf("%d dots, want 4", len(dots))
	}
	for _, want := range []string{"2026-01-02", "2026-03-04", "values read: 5, the last 0.77 thou", "no. 5"} {
		if !strings.Contains(n.words(), want) {
			t.Errorf("want %q in %s", want, n.words())
		}
	}
}

func TestChartOfLittle(t *testing.T) {
	for _, tt := range []struct {
		name   string
		values []float64
		dots   int
		want   string
	}{
		{"none", nil, 0, "no values yet"},
		{"one", []float64{0.3}, 1, "values read: 1, the last 0.3 mm"},
		{"alike", []float64{0.3, 0.3, 0.3}, 3, "values read: 3"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			n := parse(t, Chart{Title: "invented", Unit: "mm", Decimals: 1, Values: tt.values}.Draw())
			if got := len(n.all("dot")); got != tt.dots {
				t.Errorf("%d dots, want %d", got, tt.dots)
			}
			if !strings.Contains(n.words(), tt.want) {
				t.Errorf("want %q in %s", tt.want, n.words())
			}
		})
	}
}
