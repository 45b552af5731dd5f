package study

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"flutelog/inspect/published"
)

func readCrossedFile(t *testing.T, name string) []Trial {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	readings, err := ReadCrossed(f)
	if err != nil {
		t.Fatal(err)
	}
	return readings
}

// Components of variance from R 4.2 (see testdata), printed to 10 digits.
func TestAnalyseCrossedAgainstR(t *testing.T) {
	for _, set := range []string{"crossed_11", "crossed_77"} {
		c, err := AnalyseCrossed(readCrossedFile(t, set+".csv"), 0)
		if err != nil {
			t.Fatal(err)
		}
		got := map[string]float64{
			"equipment_sd": c.EquipmentSD, "appraiser_sd": c.AppraiserSD, "interaction_sd": c.InteractionSD,
			"part_sd": c.PartSD, "gauge_sd": c.GaugeSD, "total_sd": c.TotalSD,
			"ndc_raw": 1.41 * c.PartSD / c.GaugeSD,
		}
		seen := 0
		for _, row := range published.Rows(t, "testdata/crossed_expected.csv") {
			if row[0] != set {
				continue
			}
			seen++
			want := published.Number(t, row[2])
			if math.Abs(got[row[1]]-want) > 5e-7*(1+want*1e-3) {
				t.Errorf("%s: %s %.9f, want %s", set, row[1], got[row[1]], row[2])
			}
			if row[1] == "ndc_raw" && c.Categories != int(want) {
				t.Errorf("%s: %d categories, want %v cut off", set, c.Categories, want)
			}
		}
		if seen != len(got) {
			t.Errorf("%s: %d expected values, want %d", set, seen, len(got))
		}
		if want := set == "crossed_77"; c.Pooled != want {
			t.Errorf("%s: pooled %v, want %v", set, c.Pooled, want)
		}
	}
}

// The table is checked against its definition, written out over all readings, and against the F
// distribution of gonum.
func TestAnalyseCrossedTable(t *testing.T) {
	readings := readCrossedFile(t, "crossed_11.csv")
	c, err := AnalyseCrossed(readings, 0)
	if err != nil {
		t.Fatal(err)
	}
	meanOf := func(same func(Trial) bool) float64 {
		sum, n := 0.0, 0.0
		for _, r := range readings {
			if same(r) {
				sum, n = sum+r.Value, n+1
			}
		}
		return sum / n
	}
	all := meanOf(func(Trial) bool { return true })
	var part, inspector, interaction, equipment float64
	for _, r := range readings {
		p := meanOf(func(q Trial) bool { return q.Part == r.Part })
		i := meanOf(func(q Trial) bool { return q.Inspector == r.Inspector })
		cell := meanOf(func(q Trial) bool { return q.Part == r.Part && q.Inspector == r.Inspector })
		part += math.Pow(p-all, 2)
		inspector += math.Pow(i-all, 2)
		interaction += math.Pow(cell-p-i+all, 2)
		equipment += math.Pow(r.Value-cell, 2)
	}
	want := []struct {
		source string
		df     int
		ss     float64
		noise  int // row it is compared with; -1 for none
	}{
		{"part", 7, part, 2},
		{"inspector", 2, inspector, 2},
		{"interaction", 14, interaction, 3},
		{"equipment", 48, equipment, -1},
		{"total", 71, part + inspector + interaction + equipment, -1},
	}
	for k, w := range want {
		got := c.Anova[k]
		if got.Source != w.source || got.DF != w.df || math.Abs(got.SS-w.ss) > 1e-8*w.ss {
			t.Errorf("row %d: %+v, want %+v", k, got, w)
		}
		if w.noise < 0 {
			if got.F != nil || got.P != nil {
				t.Errorf("row %s has F or p", w.source)
			}
			continue
		}
		noise := want[w.noise]
		f := w.ss / float64(w.df) / (noise.ss / float64(noise.df))
		p := distuv.F{D1: float64(w.df), D2: float64(noise.df)}.Survival(f)
		if math.Abs(*got.F-f) > 1e-8*f || math.Abs(*got.P-p) > 1e-9+1e-6*p {
			t.Errorf("row %s: F %v, p %v, want %v, %v", w.source, *got.F, *got.P, f, p)
		}
	}
}

// Worked by hand. Cell means 11 13 21 23, mean 17: sums of squares part 4 (5^2 + 5^2) = 200, inspector
// 4 (1 + 1) = 8, interaction 0, equipment 8 at 1 = 8 with 4 degrees of freedom. Pooled 8 / 5 = 1.6:
// appraiser (8 - 1.6)/4 = 1.6, part (200 - 1.6)/4 = 49.6.
var byHand = []Trial{
	{"1", "A", 1, 10}, {"1", "A", 2, 12}, {"1", "B", 1, 12}, {"1", "B", 2, 14},
	{"2", "A", 1, 20}, {"2", "A", 2, 22}, {"2", "B", 1, 22}, {"2", "B", 2, 24},
}

func TestAnalyseCrossedByHand(t *testing.T) {
	c, err := AnalyseCrossed(byHand, 100)
	if err != nil {
		t.Fatal(err)
	}
	got := []float64{c.EquipmentSD, c.AppraiserSD, c.InteractionSD, c.PartSD, c.GaugeSD, c.TotalSD,
		*c.PercentOfTolerance, float64(c.Categories), *c.Anova[0].F, *c.Anova[1].F}
	want := []float64{math.Sqrt(1.6), math.Sqrt(1.6), 0, math.Sqrt(49.6), math.Sqrt(3.2), math.Sqrt(52.8),
		6 * math.Sqrt(3.2), 5, 125, 5}
	for i := range want {
		if math.Abs(got[i]-want[i]) > 1e-12*want[i] {
			t.Errorf("result %d: got %v, want %v", i, got[i], want[i])
		}
	}
	if !c.Pooled || *c.Anova[2].P != 1 {
		t.Errorf("pooled %v, interaction %+v", c.Pooled, c.Anova[2])
	}
}

// The components found must be, on average, those the readings were made with.
func TestAnalyseCrossedFindsWhatWasPutIn(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	const equipment, appraiser, part, studies = 1.0, 2.0, 5.0, 2000
	var e2, a2, p2 float64
	for range studies {
		var readings []Trial
		inspectors := []float64{appraiser * random.NormFloat64(), appraiser * random.NormFloat64(), appraiser * random.NormFloat64()}
		for p := range 6 {
			size := part * random.NormFloat64()
			for i, off := range inspectors {
				for trial := 1; trial <= 2; trial++ {
					v := size + off + equipment*random.NormFloat64()
					readings = append(readings, Trial{fmt.Sprint(p), fmt.Sprint(i), trial, v})
				}
			}
		}
		c, err := AnalyseCrossed(readings, 0)
		if err != nil {
			t.Fatal(err)
		}
		// What an interaction by chance takes, it takes from the equipment.
		e2 += (c.EquipmentSD*c.EquipmentSD + c.InteractionSD*c.InteractionSD) / studies
		a2 += c.AppraiserSD * c.AppraiserSD / studies
		p2 += c.PartSD * c.PartSD / studies
	}
	// The mean of 2000 estimates of a variance with 2 degrees of freedom scatters by 2 %.
	if math.Abs(e2-1) > 0.05 || math.Abs(a2-4) > 0.4 || math.Abs(p2-25) > 1.5 {
		t.Errorf("variances %.2f, %.2f, %.2f, want about 1, 4, 25", e2, a2, p2)
	}
}

func TestAnalyseCrossedRefuses(t *testing.T) {
	change := func(i int, r Trial) []Trial {
		changed := append([]Trial(nil), byHand...)
		changed[i] = r
		return changed
	}
	var apart []Trial
	for p := range 4 {
		apart = append(apart, Trial{fmt.Sprint(p), fmt.Sprint(p), p + 1, float64(p)})
	}
	tests := []struct {
		name      string
		readings  []Trial
		tolerance float64
		want      string
	}{
		{"none", nil, 0, "0 parts, 0 inspectors and 0 trials"},
		{"one part", byHand[:4], 0, "1 parts"},
		{"a part not read", byHand[:6], 0, "not read: part 2 by B; every inspector reads every part"},
		{"many not read", apart, 0, "part 1 by 0; part 1 by 2 and more"},
		{"no repeats", []Trial{byHand[0], byHand[3], byHand[4], byHand[7]}, 0, "read twice"},
		{"twice", change(1, byHand[0]), 0, "part 1, inspector A, trial 1 is given twice"},
		{"not a number", change(2, Trial{"1", "B", 1, math.NaN()}), 0, "part 1, inspector B, trial 1: value is NaN"},
		{"too large", change(2, Trial{"1", "B", 1, -1e101}), 0, "value is -1e+101"},
		{"out of proportion", append(byHand[:4:4],
			Trial{"2", "A", 1, 1e90}, Trial{"2", "A", 2, 1e90}, Trial{"2", "B", 1, 1e90}, Trial{"2", "B", 2, 1e90}),
			0, "proportion"},
		{"tiny tolerance", byHand, 5e-324, "too small"},
		{"negative tolerance", byHand, -1, "tolerance -1"},
		{"endless tolerance", byHand, math.Inf(1), "tolerance +Inf"},
		{"no scatter", []Trial{
			{"1", "A", 1, 0.1}, {"1", "A", 2, 0.1}, {"1", "A", 3, 0.1}, {"1", "B", 1, 0.4}, {"1", "B", 2, 0.4}, {"1", "B", 3, 0.4},
			{"2", "A", 1, 0.3}, {"2", "A", 2, 0.3}, {"2", "A", 3, 0.3}, {"2", "B", 1, 0.7}, {"2", "B", 2, 0.7}, {"2", "B", 3, 0.7}}, 0, "read finer"},
	}
	for _, test := range tests {
		_, err := AnalyseCrossed(test.readings, test.tolerance)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got error %v, want one with %q", test.name, err, test.want)
		}
	}
}

func TestCrossedJSON(t *testing.T) {
	c, err := AnalyseCrossed(byHand, 0)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"equipment_sd":1.26`, `"appraiser_sd":1.26`, `"interaction_sd":0,`, `"part_sd":7.04`,
		`"gauge_sd":1.78`, `"total_sd":7.26`, `"categories":5,`,
		`"anova":[{"source":"part","df":1,"ss":200,"ms":200,"f":125,"p":0.00`, `{"source":"equipment","df":4,"ss":8,"ms":2,"f":null,"p":null}`} {
		if !strings.Contains(string(text), want) {
			t.Errorf("JSON %s lacks %s", text, want)
		}
	}
	if strings.Contains(string(text), "percent_of_tolerance") {
		t.Errorf("JSON %s has a percentage of no tolerance", text)
	}
}

// A missing reading leaves the means of the cells as they are. By hand, without the first reading: the means are 12 13 21 23, of 2,
// 2, 2 and 1 readings, harmonic mean 4/2.5 = 1.6; mean 17.25; part 2 x 1.6 (2 x 4.75^2) = 144.4, inspector 2 x 1.6 (2 x 0.75^2) =
// 3.6, interaction 1.6 x 4 x 0.25^2 = 0.4, equipment 2 + 2 + 2 with 3 degrees of freedom.
func TestAnalyseCrossedWithMissing(t *testing.T) {
	c, err := AnalyseCrossed(byHand[1:], 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct {
		ss float64
		df int
	}{{144.4, 1}, {3.6, 1}, {0.4, 1}, {6, 3}} {
		if got := c.Anova[i]; math.Abs(got.SS-want.ss) > 1e-12*want.ss || got.DF != want.df {
			t.Errorf("row %+v, want %v with %d", got, want.ss, want.df)
		}
	}
	// Pooled 6.4/4 = 1.6: appraiser (3.6 - 1.6)/(2 x 1.6), part (144.4 - 1.6)/(2 x 1.6).
	if c.Missing != 1 || !c.Pooled || math.Abs(c.AppraiserSD-math.Sqrt(2/3.2)) > 1e-12 || math.Abs(c.PartSD-math.Sqrt(142.8/3.2)) > 1e-12 {
		t.Errorf("%+v", c)
	}
}

// The equipment's interval of the study worked by hand: 1.6 with 5 degrees of freedom, chi-square 0.831212 and 12.832502 (any
// table).
func TestCrossedIntervalByHand(t *testing.T) {
	c, err := AnalyseCrossed(byHand, 0)
	if err != nil {
		t.Fatal(err)
	}
	if i := c.Equipment; math.Abs(i.Lower-math.Sqrt(8/12.832502)) > 1e-6 || math.Abs(i.Upper-math.Sqrt(8/0.831212)) > 1e-5 {
		t.Errorf("equipment %+v", i)
	}
	if c.Interaction != nil || c.Part.Lower >= c.PartSD || c.Part.Upper <= c.PartSD || c.GaugeDF < 1 {
		t.Errorf("%+v", c)
	}
}

// Intervals contain what the readings were made with in 95 %, with a tenth of the readings missing too.
func TestCrossedIntervalsCover(t *testing.T) {
	studies := 400
	if os.Getenv("FLUTELOG_LONG") != "" {
		studies = 10_000
	}
	random := rand.New(rand.NewPCG(3, 4))
	const equipment, interaction, appraiser, part = 1.0, 1.5, 2.0, 5.0
	for _, missing := range []float64{0, 0.1} {
		missed := map[string]int{}
		for range studies {
			var readings []Trial
			inspectors := []float64{appraiser * random.NormFloat64(), appraiser * random.NormFloat64(), appraiser * random.NormFloat64()}
			for p := range 8 {
				size := part * random.NormFloat64()
				for i, off := range inspectors {
					together := interaction * random.NormFloat64()
					for trial := 1; trial <= 3; trial++ {
						if trial < 3 || random.Float64() >= 3*missing {
							readings = append(readings, Trial{fmt.Sprint(p), fmt.Sprint(i), trial, size + off + together + equipment*random.NormFloat64()})
						}
					}
				}
			}
			c, err := AnalyseCrossed(readings, 0)
			if err != nil {
				t.Fatal(err)
			}
			count := func(name string, i *Interval, truth float64) {
				if i != nil && (truth < i.Lower || truth > i.Upper) {
					missed[name]++
				}
			}
			if !c.Pooled {
				count("equipment", &c.Equipment, equipment)
			}
			count("appraiser", &c.Appraiser, appraiser)
			count("interaction", c.Interaction, interaction)
			count("part", &c.Part, part)
			count("gauge", &c.Gauge, math.Sqrt(equipment*equipment+interaction*interaction+appraiser*appraiser))
		}
		for name, n := range missed {
			share := float64(n) / float64(studies)
			t.Logf("missing %v: %s outside its interval in %.3f", missing, name, share)
			const bound = 0.055
			if share > bound+4*math.Sqrt(bound*(1-bound)/float64(studies)) {
				t.Errorf("missing %v: %s outside its interval in %.3f", missing, name, share)
			}
		}
	}
}
