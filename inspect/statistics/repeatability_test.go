package statistics

import (
	"errors"
	"math"
	"strings"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/published"
)

func TestPool(t *testing.T) {
	tests := []struct {
		name string
		sets [][]length.Length
		want Repeatability
	}{
		// By hand: squares 2 + 0.5 + 0 on 2 + 1 + 0 degrees, variance 2.5/3.
		{"unequal", [][]length.Length{around(7 * um), {0, um}, {99 * um}}, Repeatability{math.Sqrt(2.5 / 3), 3, 3, false}},
		{"alike", [][]length.Length{{5, 5}, {9, 9}}, Repeatability{0, 2, 2, false}},
		{"single readings", [][]length.Length{{5}, {9}}, Repeatability{}},
		{"far from nought", [][]length.Length{around(mostReading - um)}, Repeatability{1, 2, 1, false}},
	}
	for _, test := range tests {
		got, err := Pool(test.sets...)
		if err != nil || got.DF != test.want.DF || got.Sets != test.want.Sets || !nearly(got.Micrometres, test.want.Micrometres, 1e-14) {
			t.Errorf("%s: %+v, %v, want %+v", test.name, got, err, test.want)
		}
	}
	if _, err := Pool([]length.Length{1}, nil); !errors.Is(err, ErrTooFew) || !strings.Contains(err.Error(), "set 2") {
		t.Errorf("empty set: %v", err)
	}
}

// JCGM 100:2008, 4.4.3: twenty readings of a temperature, printed 100.145, 1.489 and 0.333. Here a degree is a
// micrometre, so that pooling one set gives the sample standard deviation.
func TestTypeA(t *testing.T) {
	rows := uncertaintyCases(t, "type_a_temperature")
	v := numbers(t, rows["readings"][0])
	mean, err := Mean(v)
	if err != nil {
		t.Fatal(err)
	}
	readings := make([]length.Length, len(v))
	for i, x := range v {
		readings[i] = length.Length(math.Round(x * float64(um)))
	}
	noise, err := Pool(readings)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{
		"mean":       mean,
		"sd":         noise.Micrometres,
		"sd_of_mean": noise.Micrometres / math.Sqrt(float64(len(v))),
		"df":         float64(noise.DF),
	}
	for quantity, x := range got {
		if want := published.Number(t, rows[quantity][1]); !nearly(x, want, 1e-8) {
			t.Errorf("%s = %v, want %v", quantity, x, want)
		}
		if printed := published.Number(t, rows[quantity][0]); math.Abs(x-printed) > 6e-4 {
			t.Errorf("%s = %v, printed %v", quantity, x, printed)
		}
	}
	if MeanLength(readings) != 100*um+145_000 {
		t.Errorf("MeanLength = %v", MeanLength(readings))
	}
}

// uncertaintyCases returns printed and computed values of one case, by quantity.
func uncertaintyCases(t *testing.T, name string) map[string][2]string {
	t.Helper()
	rows := map[string][2]string{}
	for _, row := range published.Rows(t, "testdata/uncertainty_cases.csv") {
		if row[0] == name {
			rows[row[1]] = [2]string{row[2], row[3]}
		}
	}
	if len(rows) == 0 {
		t.Fatalf("no case %s", name)
	}
	return rows
}

// JCGM 100:2008, H.1: the end gauge. Degrees of freedom are cut to 16 from 16.8; t(0.995, 16) = 2.92, and
// U = 2.92 u, 92.5 nm where the guide prints 93 from rounded intermediate values.
func TestEndGauge(t *testing.T) {
	for _, name := range []string{"end_gauge", "end_gauge_difference"} {
		rows := uncertaintyCases(t, name)
		var parts []part
		for _, field := range strings.Fields(rows["components_nm_and_df"][0]) {
			u, df, _ := strings.Cut(field, ":")
			parts = append(parts, part{variance: published.Number(t, u) * published.Number(t, u), df: published.Number(t, df)})
		}
		variance, nu := together(parts)
		u := math.Sqrt(variance)
		if want := published.Number(t, rows["combined_nm"][1]); math.Abs(u-want) > 6e-5 {
			t.Errorf("%s: u = %v, want %v", name, u, want)
		}
		if want := math.Floor(published.Number(t, rows["effective_df"][1])); nu != want {
			t.Errorf("%s: nu = %v, want %v", name, nu, want)
		}
		if name != "end_gauge" {
			continue
		}
		if nu != published.Number(t, rows["df_used"][0]) {
			t.Errorf("nu = %v, the guide uses %s", nu, rows["df_used"][0])
		}
		factor := TQuantile(0.995, nu)
		if !nearly(factor, published.Number(t, rows["t_99"][1]), 2e-6) || !nearly(factor*u, published.Number(t, rows["expanded_99_nm"][1]), 1e-5) {
			t.Errorf("t = %v, U = %v", factor, factor*u)
		}
	}
}
