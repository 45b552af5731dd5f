package statistics

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func TestTQuantileAgainstDistuv(t *testing.T) {
	for _, nu := range []float64{1, 2, 3, 4, 8, 12, 24, 60} {
		for _, p := range []float64{0.01, 0.3, 0.5, 0.6, 0.95, 0.975, 0.999} {
			want := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(p)
			if got := TQuantile(p, nu); math.Abs(got-want) > 1e-11*(1+math.Abs(want)) {
				t.Errorf("TQuantile(%v, %v) = %v, want %v", p, nu, got, want)
			}
		}
	}
}
