package trend

import (
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// unit limits: the centre at 0, one sigma is 1.
var unit = Frozen{Limits: Limits{0, -3, 3}, Spread: Limits{50, 0, 100}}

// Each rule is tested by a run that just makes a signal and one that just does not.
func TestRules(t *testing.T) {
	const (
		one         = "one point beyond the limits"
		nine        = "nine in a row on one side"
		rising      = "six in a row rising"
		falling     = "six in a row falling"
		alternate   = "fourteen in a row up and down in turn"
		two         = "two of three near one limit"
		four        = "four of five well to one side"
		close       = "fifteen in a row close to the centre"
		none        = "eight in a row with none close to the centre"
		l, h        = 0.5, 1.5 // close to the centre, well to one side
		beyondTwo   = 2.1
		notBeyond   = 2.0
		justOutside = 3.1
	)
	tests := []struct {
		name   string
		values []float64
		want   map[string][]int
	}{
		{"outside", []float64{0, justOutside, 0, -justOutside}, map[string][]int{one + "2": {2}, one + "4": {4}}},
		{"eight on one side", []float64{-l, l, h, l, l, h, l, l, l, -l}, nil},
		{"nine on one side", []float64{-l, l, h, l, l, h, l, l, l, l, -l}, map[string][]int{nine + "2": {2, 3, 4, 5, 6, 7, 8, 9, 10}}},
		{"ten below", []float64{l, -l, -h, -l, -l, -h, -l, -l, -l, -l, -h}, map[string][]int{nine + "2": {2, 3, 4, 5, 6, 7, 8, 9, 10, 11}}},
		{"on the centre", []float64{l, h, l, l, 0, h, l, l, l, l}, nil},
		{"five rising", []float64{0, -1.4, -1, -0.5, 0, 0.5, 0.2}, nil},
		{"six rising", []float64{0, -1.4, -1, -0.5, 0, 0.5, 0.7, 0.2}, map[string][]int{rising + "2": {2, 3, 4, 5, 6, 7}}},
		{"six rising but one level", []float64{0, -1.4, -1, -0.5, -0.5, 0.5, 0.7, 0.2}, nil},
		{"seven falling", []float64{0, 1.4, 1, 0.5, 0, -0.5, -0.7, -1.2}, map[string][]int{falling + "2": {2, 3, 4, 5, 6, 7, 8}}},
		{"thirteen in turn", []float64{h, -l, h, -l, h, -l, h, -l, h, -l, h, -l, h, h}, nil},
		{"fourteen in turn", []float64{h, -l, h, -l, h, -l, h, -l, h, -l, h, -l, h, -l, -l},
			map[string][]int{alternate + "1": {1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14}}},
		{"two of three at two sigma", []float64{0, notBeyond, 0, notBeyond}, nil},
		{"two of three", []float64{0, beyondTwo, 0, beyondTwo, 0}, map[string][]int{two + "2": {2, 4}}},
		{"two of three, both sides", []float64{0, beyondTwo, 0, -beyondTwo, 0}, nil},
		{"two of four", []float64{0, -beyondTwo, 0, 0, -beyondTwo}, nil},
		{"three near the lower limit", []float64{0, -beyondTwo, 0, -beyondTwo, -beyondTwo}, map[string][]int{two + "2": {2, 4, 5}}},
		{"four of five", []float64{0, h, h, -l, h, h, 0}, map[string][]int{four + "2": {2, 3, 5, 6}}},
		{"four of six", []float64{0, -h, -h, l, -l, -h, -h, 0}, nil},
		{"four of five below", []float64{0, -h, -h, -h, -h, 0}, map[string][]int{four + "2": {2, 3, 4, 5}}},
		{"fourteen close", []float64{l, l, -l, -l, l, l, -l, -l, l, l, -l, -l, l, l, -h}, nil},
		{"fifteen close", []float64{h, l, l, -l, -l, l, l, -l, -l, l, l, -l, -l, l, l, -l, -h},
			map[string][]int{close + "2": {2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}}},
		{"seven with none close", []float64{0, h, h, -h, -h, h, h, -h, 0}, nil},
		{"eight with none close", []float64{0, h, h, -h, -h, h, h, -h, -h, 0}, map[string][]int{none + "2": {2, 3, 4, 5, 6, 7, 8, 9}}},
	}
	for _, test := range tests {
		got := make(map[string][]int)
		for _, s := range chart(t, Individuals, 1, test.values, &unit).Signals {
			got[s.Rule+string(rune('0'+s.Points[0]))] = s.Points
		}
		if len(got) == 0 && len(test.want) == 0 {
			continue
		}
		if diff := cmp.Diff(test.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
	}
}

func TestSignalText(t *testing.T) {
	c := chart(t, Individuals, 1, []float64{0, 2.5, 0, 2.5, -200, 0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.3}, &unit)
	var got []string
	for _, s := range c.Signals {
		got = append(got, s.Text)
	}
	want := []string{
		"points 2 and 4 are close to the upper limit or above it: likely a shift, look before it grows",
		"point 5 is below the lower limit: find out what was different there",
		"points 5 to 11 are each higher than the one before: something wears, warms or works loose",
		"spread of point 5 is above the upper limit: find out what was different there",
		"spread of point 6 is above the upper limit: find out what was different there",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("texts (-want +got):\n%s", diff)
	}
}

// Of normal values 0.27 % lie beyond three sigma: NIST/SEMATECH e-Handbook 6.3.1. A run rule may not cry
// much oftener than that, or nobody listens.
func TestFalseAlarms(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	const n = 20_000
	values := make([]float64, n)
	for i := range values {
		values[i] = random.NormFloat64()
	}
	c, err := accumulate(t, Individuals, 1, n, values).Chart(&unit)
	if err != nil {
		t.Fatal(err)
	}
	count := make(map[string]int)
	for _, s := range c.Signals {
		count[s.Rule]++
	}
	// 54 are expected beyond the limits, with a standard deviation of 7.
	if got := count[limitRules[0].name]; got < 54-29 || got > 54+29 {
		t.Errorf("%d of %d points beyond the limits, want about 54", got, n)
	}
	for _, r := range runRules {
		if got := count[r.name]; got < 1 || got > 150 {
			t.Errorf("%s: %d false alarms in %d points, want 1 to 150", r.name, got, n)
		}
	}
}
