package api

import (
	"context"

	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/trend"
)

// TrendOf works out a trend over all benches.
func TrendOf(ctx context.Context, s *store.Store, t store.Trend) (Trended, error) {
	answer := Trended{What: t.What, By: t.By}
	var err error
	if answer.Months, answer.Unit, err = s.Months(ctx, t); err != nil || t.Of == "" {
		return answer, err
	}
	if answer.Values, _, err = s.Values(ctx, t, valuesAtMost); err != nil {
		return answer, err
	}
	points, err := trend.NewAccumulator(trend.Individuals, 1, max(len(answer.Values), 1))
	if err != nil {
		return answer, err
	}
	for _, v := range answer.Values {
		if err := points.Add(v.Value); err != nil {
			return answer, err
		}
	}
	if chart, err := points.Chart(nil); err == nil { // else there is too little to draw
		answer.Chart = &chart
	}
	return answer, nil
}
