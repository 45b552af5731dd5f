package study

import (
	"encoding/json"
	"errors"
	"math"
	"testing"

	"flutelog/inspect/statistics"
)

func TestSummarise(t *testing.T) {
	tests := []struct {
		name       string
		values     []float64
		resolution float64
		want       string
	}{
		// NIST StRD NumAcc1: mean 10000002, standard deviation 1, lag-1 autocorrelation -0.5, all exact.
		{"NumAcc1", []float64{10000001, 10000003, 10000002}, 0,
			`{"n":3,"mean":10000002,"sd":1,"lag1":-0.5,"outliers":[]}`},
		{"all alike", []float64{0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1}, 0,
			`{"n":7,"mean":0.1,"sd":0,"lag1":null,"outliers":[]}`},
		{"two", []float64{1, 3}, 0, `{"n":2,"mean":2,"sd":1.4142135623730951,"lag1":-0.5,"outliers":[]}`},
	}
	for _, test := range tests {
		s, err := Summarise(test.values, test.resolution)
		if err != nil {
			t.Fatal(err)
		}
		got, err := json.Marshal(s)
		if err != nil || string(got) != test.want {
			t.Errorf("%s: got %s, %v, want %s", test.name, got, err, test.want)
		}
	}
}

// The uranium example of NIST/SEMATECH e-Handbook 1.3.5.17.1: 245.57 is an outlier.
func TestSummariseNamesTheOutlier(t *testing.T) {
	uranium := []float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}
	s, err := Summarise(uranium, 0)
	if err != nil || len(s.Outliers) != 1 || s.Outliers[0] != 8 {
		t.Errorf("got %+v, %v, want value 8 as the outlier", s, err)
	}
	s, err = Summarise(uranium, 100)
	if err != nil || len(s.Outliers) != 0 {
		t.Errorf("read in steps of 100: got %+v, %v, want no outlier", s, err)
	}
}

func TestSummariseRefuses(t *testing.T) {
	if _, err := Summarise([]float64{1}, 0); !errors.Is(err, statistics.ErrTooFew) {
		t.Errorf("one value: got %v, want %v", err, statistics.ErrTooFew)
	}
	for _, values := range [][]float64{{1, math.NaN(), 2}, {1, math.Inf(-1), 2}} {
		if s, err := Summarise(values, 0); err == nil {
			t.Errorf("%v: got %+v, want an error", values, s)
		}
	}
}
