package study

import (
	"errors"
	"fmt"

	"flutelog/inspect/statistics"
)

// Summary describes repeats of one thing, in the order in which they were read.
type Summary struct {
	N    int      `json:"n"`
	Mean float64  `json:"mean"`
	SD   float64  `json:"sd"`
	Lag1 *float64 `json:"lag1"` // lag-1 autocorrelation; nil when all values are alike
	// Outliers are the numbers, from 1, of values that Grubbs' test flags: none or one, since the test is made
	// for one and is not to be repeated on the rest.
	Outliers []int `json:"outliers"`
}

// Summarise returns the summary of values, which were read in steps of resolution (0 when it is not known). It
// returns statistics.ErrTooFew for fewer than two values and refuses values that are not finite.
func Summarise(values []float64, resolution float64) (Summary, error) {
	s := Summary{N: len(values), Outliers: []int{}}
	var err error
	if s.Mean, err = statistics.Mean(values); err != nil {
		return Summary{}, fmt.Errorf("summarising values: %w", err)
	}
	if s.SD, err = statistics.StandardDeviation(values); err != nil {
		return Summary{}, fmt.Errorf("summarising values: %w", err)
	}
	switch lag1, err := statistics.Lag1(values); {
	case err == nil:
		s.Lag1 = &lag1
	case !errors.Is(err, statistics.ErrNoSpread):
		return Summary{}, fmt.Errorf("summarising values: %w", err)
	}
	switch o, err := statistics.Grubbs(values, resolution); {
	case err == nil && o.Flagged:
		s.Outliers = append(s.Outliers, o.Index+1)
	case err != nil && !errors.Is(err, statistics.ErrTooFew):
		return Summary{}, fmt.Errorf("summarising values: %w", err)
	}
	return s, nil
}
