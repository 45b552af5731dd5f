package trend

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"flutelog/inspect/published"
	"flutelog/inspect/statistics"
)

// NIST/SEMATECH e-Handbook 6.1.6: limits 8 and 20, mean 16, standard deviation 2. Confidence limits were computed
// with the chi-square and noncentral t of scipy 1.10.
func TestPerformAgainstHandbook(t *testing.T) {
	want := make(map[string]string)
	for _, row := range published.Rows(t, "testdata/../../../testdata/published/capability_cases.csv") {
		want[row[0]] = row[2]
	}
	lower, upper := 8.0, 20.0
	for n, name := range map[int]string{10: "n10", 30: "n30", 50: "n50", 100: "n100"} {
		p, err := Perform(n, 16, 2, &lower, &upper)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "pp", p.Pp.Value, published.Number(t, want["cp"]), 1e-6)
		near(t, "ppu", p.Ppu.Value, published.Number(t, want["cpu"]), 1e-6)
		near(t, "ppl", p.Ppl.Value, published.Number(t, want["cpl"]), 1e-6)
		near(t, "ppk", p.Ppk.Value, published.Number(t, want["cpk"]), 1e-6)
		pp, ppu := numbers(t, want["pp_95_interval_"+name]), numbers(t, want["ppu_95_interval_"+name])
		near(t, name+" pp lower", p.Pp.Lower, pp[0], 2e-6)
		near(t, name+" pp upper", p.Pp.Upper, pp[1], 2e-6)
		near(t, name+" ppu lower", p.Ppu.Lower, ppu[0], 2e-6)
		near(t, name+" ppu upper", p.Ppu.Upper, ppu[1], 2e-6)
		if *p.Ppk != *p.Ppu {
			t.Errorf("%s: ppk %+v, want that of the nearer limit %+v", name, *p.Ppk, *p.Ppu)
		}
	}
}

// Values mirrored about zero have the same indices on the other side; so has a mean beyond its limit, with the sign
// changed.
func TestPerformSides(t *testing.T) {
	limit, mirrored := 20.0, -20.0
	up, err := Perform(10, 16, 2, nil, &limit)
	if err != nil {
		t.Fatal(err)
	}
	down, err := Perform(10, -16, 2, &mirrored, nil)
	if err != nil {
		t.Fatal(err)
	}
	if up.Pp != nil || up.Ppl != nil || down.Pp != nil || down.Ppu != nil {
		t.Errorf("one limit gave %+v and %+v", up, down)
	}
	if *up.Ppk != *up.Ppu || *down.Ppl != *up.Ppu || *down.Ppk != *down.Ppl {
		t.Errorf("ppu %+v, ppl %+v", *up.Ppu, *down.Ppl)
	}
	beyond, err := Perform(10, 24, 2, nil, &limit)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "beyond", beyond.Ppu.Value, -up.Ppu.Value, 1e-12)
	near(t, "beyond, lower", beyond.Ppu.Lower, -up.Ppu.Upper, 1e-9)
	near(t, "beyond, upper", beyond.Ppu.Upper, -up.Ppu.Lower, 1e-9)
}

// For many values the limits approach those of the normal approximation, e-Handbook 6.1.6:
//
//	Ppu ± 1.96 sqrt(1/(9 n) + Ppu^2 / (2 (n-1)))
func TestPerformOfManyValues(t *testing.T) {
	upper := 20.0
	start := time.Now()
	p, err := Perform(100_000, 14, 2, nil, &upper)
	if err != nil {
		t.Fatal(err)
	}
	half := 1.959964 * math.Sqrt(1.0/900_000+1/(2*99_999.0))
	near(t, "lower", p.Ppu.Lower, 1-half, 1e-5)
	near(t, "upper", p.Ppu.Upper, 1+half, 1e-5)
	if took := time.Since(start); took > time.Second {
		t.Errorf("took %v, want less than a second", took)
	}
}

func TestPerformRefuses(t *testing.T) {
	lower, upper, far, nan := 8.0, 20.0, 1e6, math.NaN()
	tests := []struct {
		name         string
		n            int
		mean, sd     float64
		lower, upper *float64
		want         string
	}{
		{"one value", 1, 16, 2, &lower, &upper, statistics.ErrTooFew.Error()},
		{"no scatter", 5, 16, 0, &lower, &upper, statistics.ErrNoSpread.Error()},
		{"negative scatter", 5, 16, -1, &lower, &upper, "standard deviation -1"},
		{"scatter not a number", 5, 16, nan, &lower, &upper, "standard deviation NaN"},
		{"no limit", 5, 16, 2, nil, nil, "no limit"},
		{"limits crossed", 5, 16, 2, &upper, &lower, "lower limit 20 is not below"},
		{"limit not a number", 5, 16, 2, nil, &nan, "limit NaN"},
		{"mean not a number", 5, nan, 2, nil, &upper, "mean NaN"},
		{"out of proportion", 5, 16, 2, nil, &far, "out of proportion"},
	}
	for _, test := range tests {
		_, err := Perform(test.n, test.mean, test.sd, test.lower, test.upper)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got error %v, want one with %q", test.name, err, test.want)
		}
	}
	if _, err := Perform(1, 16, 2, nil, &upper); !errors.Is(err, statistics.ErrTooFew) {
		t.Errorf("one value: got %v", err)
	}
}

func TestCompareAgainstR(t *testing.T) {
	want := quantities(t, "paired_sleep_expected.csv")
	var before, after []float64
	for _, row := range published.Rows(t, "testdata/../../../testdata/published/paired_sleep.csv") {
		before = append(before, published.Number(t, row[1]))
		after = append(after, published.Number(t, row[2]))
	}
	got, err := Compare(before, after)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "n", float64(got.N), published.Number(t, want["n"]), 0)
	near(t, "df", float64(got.NU), published.Number(t, want["df"]), 0)
	near(t, "mean", got.Difference.Value, published.Number(t, want["mean_difference"]), 1e-8)
	near(t, "sd", got.SD, published.Number(t, want["sd_difference"]), 1e-8)
	near(t, "t", got.T, published.Number(t, want["t"]), 1e-8)
	near(t, "p", got.P, published.Number(t, want["p_two_sided"]), 1e-8)
	near(t, "lower", got.Difference.Lower, published.Number(t, want["lower_95"]), 1e-8)
	near(t, "upper", got.Difference.Upper, published.Number(t, want["upper_95"]), 1e-8)
	if !got.Changed {
		t.Error("not changed, though zero is outside the limits")
	}
	swapped, err := Compare(after[:3], []float64{1.9, 0.7, 1.2})
	if err != nil || swapped.Changed {
		t.Errorf("differences within the noise: %+v, %v", swapped, err)
	}
}

func TestCompareRefuses(t *testing.T) {
	tests := []struct {
		name          string
		before, after []float64
		want          string
	}{
		{"unequal", []float64{1, 2}, []float64{1}, "2 values before, 1 after"},
		{"one pair", []float64{1}, []float64{2}, statistics.ErrTooFew.Error()},
		{"all alike", []float64{1, 2, 3}, []float64{2, 3, 4}, statistics.ErrNoSpread.Error()},
		{"not a number", []float64{1, 2}, []float64{1, math.NaN()}, "value 2 is NaN"},
	}
	for _, test := range tests {
		_, err := Compare(test.before, test.after)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got error %v, want one with %q", test.name, err, test.want)
		}
	}
}
