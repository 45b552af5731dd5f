package study

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"flutelog/inspect/length"
	"flutelog/inspect/published"
)

// micrometres reads published values as if they were lengths.
func micrometres(t *testing.T, text string) length.Length {
	t.Helper()
	l, err := length.Parse(text, length.Um)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// The day-to-day standard deviations of NIST/SEMATECH e-Handbook 2.4.4.2: printed 0.02728 and 0.02756 with 5
// degrees of freedom for the two runs, and 0.02742 with 10 for both together.
func TestAnalyseRepeatsAgainstHandbook(t *testing.T) {
	runs := make(map[string][]length.Length)
	for _, row := range published.Rows(t, "testdata/gauge_nested.csv") {
		runs[row[0]] = append(runs[row[0]], micrometres(t, row[7]))
	}
	tests := []struct {
		name  string
		parts [][]length.Length
		sd    float64
		nu    int
	}{
		{"run 1", [][]length.Length{runs["1"]}, 0.02728, 5},
		{"run 2", [][]length.Length{runs["2"]}, 0.02756, 5},
		{"both", [][]length.Length{runs["1"], runs["2"]}, 0.02742, 10},
		{"one reading adds nothing", [][]length.Length{runs["1"], {96 * length.Micrometre}, runs["2"]}, 0.02742, 10},
	}
	for _, test := range tests {
		got, err := AnalyseRepeats(test.parts...)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(got.SD-test.sd) > 0.000005 || got.NU != test.nu || got.Coarse {
			t.Errorf("%s: got %+v, want %v with %d degrees of freedom", test.name, got, test.sd, test.nu)
		}
		chi := distuv.ChiSquared{K: float64(test.nu)}
		lower := got.SD * math.Sqrt(chi.K/chi.Quantile(0.975))
		upper := got.SD * math.Sqrt(chi.K/chi.Quantile(0.025))
		if math.Abs(got.Lower-lower) > 1e-9 || math.Abs(got.Upper-upper) > 1e-9 {
			t.Errorf("%s: limits %+v, want %v and %v", test.name, got, lower, upper)
		}
	}
}

func TestAnalyseRepeatsCoarse(t *testing.T) {
	got, err := AnalyseRepeats([]length.Length{1, 1, 1}, []length.Length{3, 3})
	if err != nil {
		t.Fatal(err)
	}
	if want := (Repeatability{NU: 3, Coarse: true}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestAnalyseRepeatsRefuses(t *testing.T) {
	tests := []struct {
		name  string
		parts [][]length.Length
		want  string
	}{
		{"nothing", nil, "no part was read more than once"},
		{"no repeats", [][]length.Length{{1}, {2}}, "no part was read more than once"},
		{"empty part", [][]length.Length{{1, 2}, {}}, "set 2"},
		{"beyond any size", [][]length.Length{{1, math.MaxInt64}}, "more than a kilometre"},
	}
	for _, test := range tests {
		_, err := AnalyseRepeats(test.parts...)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got error %v, want one with %q", test.name, err, test.want)
		}
	}
}

// The differences of Student's sleep data against zero; R 4.2 t.test gives mean 1.58, sd 1.22999548 and the
// interval 0.700114237 to 2.45988576. A master of 1000 moves the readings, not the bias.
func TestAnalyseBias(t *testing.T) {
	for _, master := range []length.Length{0, length.Millimetre} {
		var repeats []length.Length
		for _, row := range published.Rows(t, "testdata/../../../testdata/published/paired_sleep.csv") {
			repeats = append(repeats, master+micrometres(t, row[2])-micrometres(t, row[1]))
		}
		got, err := AnalyseBias(repeats, master)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range []struct{ got, want float64 }{
			{got.Bias, 1.58}, {got.Lower, 0.700114237}, {got.Upper, 2.45988576}, {got.Repeatability.SD, 1.22999548},
		} {
			if math.Abs(r.got-r.want) > 1e-8 {
				t.Errorf("master %v: got %v, want %v", master, r.got, r.want)
			}
		}
		if got.Repeatability.NU != 9 || !got.Significant || got.Repeatability.Coarse {
			t.Errorf("master %v: %+v", master, got)
		}
	}
	got, err := AnalyseBias([]length.Length{90, 110, 100, 100}, 101)
	if err != nil || got.Significant {
		t.Errorf("bias within noise: %+v, %v", got, err)
	}
	if _, err := AnalyseBias([]length.Length{9}, 9); err == nil {
		t.Error("one repeat was taken")
	}
}

func TestFineEnough(t *testing.T) {
	tests := []struct {
		resolution, tolerance length.Length
		want, wrong           bool
	}{
		{50 * length.Micrometre, 500 * length.Micrometre, true, false},
		{50*length.Micrometre + 1, 500 * length.Micrometre, false, false},
		{length.Tenth / 2, 5 * length.Tenth, true, false},
		{length.Tenth, 5 * length.Tenth, false, false},
		{0, length.Thou, false, true},
		{length.Thou, -length.Thou, false, true},
	}
	for _, test := range tests {
		got, err := FineEnough(test.resolution, test.tolerance)
		if got != test.want || (err != nil) != test.wrong {
			t.Errorf("resolution %v, tolerance %v: got %v, %v", test.resolution, test.tolerance, got, err)
		}
	}
}
