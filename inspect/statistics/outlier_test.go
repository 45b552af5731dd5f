package statistics

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"flutelog/inspect/published"
)

func numbers(t *testing.T, s string) []float64 {
	t.Helper()
	var v []float64
	for _, f := range strings.Fields(s) {
		v = append(v, published.Number(t, f))
	}
	return v
}

func TestGrubbsCritical(t *testing.T) {
	for _, row := range published.Rows(t, "testdata/grubbs_critical.csv") {
		n := int(published.Number(t, row[0]))
		if got, want := grubbsCritical(float64(n)), published.Number(t, row[2]); math.Abs(got-want) > 6e-7 {
			t.Errorf("n = %d: %.6f, want %v", n, got, want)
		}
	}
}

func TestGrubbsExamples(t *testing.T) {
	copper := published.Rows(t, "testdata/outlier_copper.csv")[0][1]
	tests := []struct {
		name    string
		data    string
		index   int
		g       float64
		flagged bool
	}{
		{"copper wire, Grubbs 1969", copper, 9, 2.390121, true},
		// NIST/SEMATECH e-Handbook 1.3.5.17.1 prints G = 2.468765 for the mass spectrometer's readings.
		{"uranium, NIST e-Handbook 1.3.5.17.1", "199.31 199.53 200.19 200.82 201.92 201.95 202.18 245.57", 7, 2.468765, true},
		// Without its outlier: mean 200.842857, sd 1.202356, recomputed with Python's statistics module.
		{"uranium without it", "199.31 199.53 200.19 200.82 201.92 201.95 202.18", 0, 1.274879, false},
	}
	for _, test := range tests {
		o, err := Grubbs(numbers(t, test.data), 0)
		if err != nil {
			t.Fatal(err)
		}
		if o.Index != test.index || math.Abs(o.G-test.g) > 2e-6 || o.Flagged != test.flagged {
			t.Errorf("%s: %+v, want index %d, G %v, flagged %v", test.name, o, test.index, test.g, test.flagged)
		}
	}
}

func TestGrubbsKnowsTheStep(t *testing.T) {
	tests := []struct {
		v          []float64
		resolution float64
		flagged    bool
	}{
		{[]float64{5, 5, 6}, 0, true},  // G is always 2/sqrt(3) when two are alike
		{[]float64{5, 5, 6}, 1, false}, // but the step says how alike
		{[]float64{5, 5, 40}, 1, true},
		{[]float64{5, 5, 5}, 0, false},
		{[]float64{5, 5, 5}, 1, false},
	}
	for _, test := range tests {
		if o, err := Grubbs(test.v, test.resolution); err != nil || o.Flagged != test.flagged {
			t.Errorf("%v in steps of %v: %+v, %v, want flagged %v", test.v, test.resolution, o, err, test.flagged)
		}
	}
}

// Good readings are flagged in at most 5 %, in whatever step they were read (four standard errors of the count are
// allowed without one, where 5 % is exact).
func TestGrubbsFalseAlarms(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 5))
	runs := draws()
	for _, n := range []int{3, 5, 10} {
		for _, step := range []float64{0, 0.5, 1, 3} {
			flagged := 0
			for range runs {
				v := make([]float64, n)
				base := 10 * rng.Float64()
				for i := range v {
					v[i] = base + rng.NormFloat64()
					if step > 0 {
						v[i] = step * math.Round(v[i]/step)
					}
				}
				o, err := Grubbs(v, step)
				if err != nil {
					t.Fatal(err)
				}
				if o.Flagged {
					flagged++
				}
			}
			share := float64(flagged) / float64(runs)
			t.Logf("%d repeats in steps of %v sd: %.4f flagged", n, step, share)
			limit := 0.05
			if step == 0 || testing.Short() {
				limit += 4 * math.Sqrt(0.05*0.95/float64(runs))
			}
			if share > limit {
				t.Errorf("%d repeats in steps of %v: %.4f flagged", n, step, share)
			}
		}
	}
}

func TestGrubbsRefuses(t *testing.T) {
	if _, err := Grubbs([]float64{1, 2}, 0); !errors.Is(err, ErrTooFew) {
		t.Errorf("two values: %v", err)
	}
	if _, err := Grubbs([]float64{1, 2, math.NaN()}, 0); !errors.Is(err, ErrNotFinite) {
		t.Errorf("NaN: %v", err)
	}
	for _, resolution := range []float64{-1, math.NaN(), math.Inf(1)} {
		if _, err := Grubbs([]float64{1, 2, 3}, resolution); !errors.Is(err, ErrNotFinite) {
			t.Errorf("resolution %v: %v", resolution, err)
		}
	}
}
