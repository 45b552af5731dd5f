package trend

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"flutelog/inspect/published"
	"flutelog/inspect/statistics"
)

// quantities returns a published table of names and values.
func quantities(t *testing.T, name string) map[string]string {
	t.Helper()
	q := make(map[string]string)
	for _, row := range published.Rows(t, "testdata/"+name) {
		q[row[0]] = row[1]
	}
	return q
}

func numbers(t *testing.T, text string) []float64 {
	t.Helper()
	var xs []float64
	for _, field := range strings.Fields(text) {
		xs = append(xs, published.Number(t, field))
	}
	return xs
}

// near fails the test when got is not within a relative distance of want.
func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within*math.Abs(want)) {
		t.Errorf("%s: got %.15g, want %.15g", what, got, want)
	}
}

func columns(t *testing.T, name string) (first, second []float64) {
	t.Helper()
	for _, row := range published.Rows(t, "testdata/"+name) {
		first = append(first, published.Number(t, row[0]))
		second = append(second, published.Number(t, row[1]))
	}
	return first, second
}

func TestFitAgainstNIST(t *testing.T) {
	for _, row := range published.Rows(t, "testdata/strd_linear_certified.csv") {
		set := row[0]
		if set != "Norris" {
			continue // NoInt1 is a line through the origin
		}
		y, x := columns(t, "strd_"+strings.ToLower(set)+".csv")
		l, err := FitLine(x, y)
		if err != nil {
			t.Fatal(err)
		}
		worst := 15.0
		for i, got := range []float64{l.Intercept, l.InterceptSD, l.Slope, l.SlopeSD, l.ResidualSD} {
			want := published.Number(t, row[i+3])
			if got != want {
				worst = min(worst, -math.Log10(math.Abs(got-want)/math.Abs(want)))
			}
		}
		t.Logf("%s: %.1f digits at worst", set, worst)
		if worst < 12 || l.N != len(x) || strconv.Itoa(l.N) != row[2] {
			t.Errorf("%s: %+v has %.1f certified digits, want 12", set, l, worst)
		}
	}
}

func TestPredictAgainstR(t *testing.T) {
	y, x := columns(t, "strd_norris.csv")
	l, err := FitLine(x, y)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range published.Rows(t, "testdata/strd_norris_prediction.csv") {
		got := l.Predict(published.Number(t, row[0]))
		near(t, "value at "+row[0], got.Value, published.Number(t, row[1]), 1e-8)
		near(t, "lower at "+row[0], got.Lower, published.Number(t, row[2]), 1e-8)
		near(t, "upper at "+row[0], got.Upper, published.Number(t, row[3]), 1e-8)
	}
}

// A spread that grows with x, by hand: weights 1, 1/2, 1/4 at x of 1, 2, 4 and y of 1, 3, 4. With m = 3/1.75 and mean y 3.5/1.75 = 2,
// slope = sum w (x - m)(y - 2) / sum w (x - m)^2 = 2 / (13/7) = 14/13.
func TestFitGrowing(t *testing.T) {
	l, err := FitGrowing([]float64{1, 2, 4}, []float64{1, 3, 4})
	if err != nil {
		t.Fatal(err)
	}
	m := 3 / 1.75
	sxx := (1-m)*(1-m) + (2-m)*(2-m)/2 + (4-m)*(4-m)/4
	sxy := (1-m)*(1-2) + (2-m)*(3-2)/2 + (4-m)*(4-2)/4
	near(t, "slope", l.Slope, sxy/sxx, 1e-12)
	near(t, "intercept", l.Intercept, 2-sxy/sxx*m, 1e-12)
	// One degree of freedom: t(0.975, 1) = 12.706205.
	p := l.Predict(3)
	near(t, "half width", p.Upper-p.Value, 12.706205*l.ResidualSD*math.Sqrt(3+1/1.75+(3-m)*(3-m)/sxx), 1e-5)
}

func TestFitRefuses(t *testing.T) {
	tests := []struct {
		name    string
		x, y    []float64
		growing bool
		want    string
	}{
		{"unequal", []float64{1, 2, 3}, []float64{1, 2}, false, "3 and 2 values"},
		{"two points", []float64{1, 2}, []float64{1, 2}, false, statistics.ErrTooFew.Error()},
		{"one place", []float64{2, 2, 2}, []float64{1, 2, 3}, false, "all 3 points lie at 2"},
		{"not a number", []float64{1, 2, math.NaN()}, []float64{1, 2, 3}, false, "value 3 is NaN"},
		{"infinite", []float64{1, 2, 3}, []float64{1, math.Inf(1), 3}, false, "value 2 is +Inf"},
		{"too large", []float64{1e200, 2e200, 4e200}, []float64{1, 2, 3}, false, "too large"},
		{"growing, too large", []float64{1e-200, 2e200, 3e200}, []float64{1e200, 2e200, 3}, true, "too large"},
		{"growing, two points", []float64{1, 2}, []float64{1, 2}, true, statistics.ErrTooFew.Error()},
		{"growing, one at zero", []float64{0, 1, 2}, []float64{1, 2, 3}, true, "point 1 lies at 0"},
		{"growing, one place", []float64{2, 2, 2}, []float64{1, 2, 3}, true, "all 3 points lie at 2"},
	}
	for _, test := range tests {
		fit := FitLine
		if test.growing {
			fit = FitGrowing
		}
		_, err := fit(test.x, test.y)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got error %v, want one with %q", test.name, err, test.want)
		}
	}
	if _, err := FitLine([]float64{1}, []float64{1}); !errors.Is(err, statistics.ErrTooFew) {
		t.Errorf("one point: got %v, want %v", err, statistics.ErrTooFew)
	}
}
