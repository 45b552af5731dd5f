package study

import (
	"encoding/csv"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// published returns the rows of a table in testdata, without its header.
func published(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.Comment = '#'
	rows, err := in.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// digits returns how many decimal digits got and want share, 15 at most.
func digits(got, want float64) float64 {
	if got == want {
		return 15
	}
	return min(15, -math.Log10(math.Abs(got-want)/math.Abs(want)))
}

// less returns text - shift, the difference taken on decimal digits.
func less(t *testing.T, text, shift string) float64 {
	t.Helper()
	x, ok1 := new(big.Rat).SetString(text)
	s, ok2 := new(big.Rat).SetString(shift)
	if !ok1 || !ok2 {
		t.Fatalf("%q less %q: not numbers", text, shift)
	}
	f, _ := x.Sub(x, s).Float64()
	return f
}

// The certified values are NIST's. Values that share many leading digits are the hard part: in SmLs07 they
// share 13, of which a float64 keeps the values themselves to about four digits of their differences. With
// the shared part taken off before the numbers become floats, as a study of readings near a nominal size
// does, nothing is lost.
func TestAnalyseGroupsAgainstNIST(t *testing.T) {
	tests := []struct {
		set, file, shift string
		least            float64 // digits
	}{
		{"SiRstv", "strd_sirstv.csv", "0", 12},
		{"SmLs01", "strd_smls01.csv", "0", 13.9},
		{"SmLs04", "strd_smls04.csv", "0", 9},
		{"SmLs07", "strd_smls07.csv", "0", 3},
		{"SiRstv", "strd_sirstv.csv", "196", 13},
		{"SmLs04", "strd_smls04.csv", "1000000", 13.9},
		{"SmLs07", "strd_smls07.csv", "1000000000000", 13.9},
	}
	certified := make(map[string][]string)
	for _, row := range published(t, "strd_anova_certified.csv") {
		certified[row[0]] = row
	}
	for _, test := range tests {
		t.Run(test.set+" less "+test.shift, func(t *testing.T) {
			var groups [][]float64
			last := ""
			for _, row := range published(t, test.file) {
				if row[0] != last {
					groups, last = append(groups, nil), row[0]
				}
				g := &groups[len(groups)-1]
				*g = append(*g, less(t, row[1], test.shift))
			}
			got, err := AnalyseGroups(groups)
			if err != nil {
				t.Fatal(err)
			}
			between, within, total := got.Rows[0], got.Rows[1], got.Rows[2]
			results := []float64{float64(between.DF), between.SS, between.MS, *between.F,
				float64(within.DF), within.SS, within.MS, got.RSquared, got.ResidualSD}
			worst := 15.0
			for i, r := range results {
				worst = min(worst, digits(r, number(t, certified[test.set][i+1])))
			}
			t.Logf("%.1f digits at worst", worst)
			if worst < test.least {
				t.Errorf("%+v: %.1f digits of the certified values %v, want %v", got, worst, certified[test.set], test.least)
			}
			if total.DF != between.DF+within.DF || total.F != nil {
				t.Errorf("total %+v", total)
			}
		})
	}
}

func TestAnalyseGroupsRefuses(t *testing.T) {
	tests := []struct {
		name   string
		groups [][]float64
		want   string
	}{
		{"one group", [][]float64{{1, 2}}, "1 given"},
		{"empty group", [][]float64{{1, 2}, {}}, "group 2"},
		{"no repeats", [][]float64{{1}, {2}, {3}}, "one value in each"},
		{"not a number", [][]float64{{1, 2}, {3, math.NaN()}}, "group 2: value 2 is NaN"},
		{"infinite", [][]float64{{1, math.Inf(1)}, {3, 2}}, "group 1: value 2 is +Inf"},
		{"all alike within", [][]float64{{0.1, 0.1, 0.1}, {0.2, 0.2, 0.2}}, "read finer"},
	}
	for _, test := range tests {
		_, err := AnalyseGroups(test.groups)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got error %v, want one with %q", test.name, err, test.want)
		}
	}
}
