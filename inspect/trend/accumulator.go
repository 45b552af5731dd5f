package trend

import (
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/statistics"
)

// Accumulator takes the values of a chart one by one. It keeps sums of all of them and the last points only,
// so its size does not grow with their number.
type Accumulator struct {
	kind    Kind
	size    int
	skewed  bool
	waiting []float64 // values of a subgroup that is not full yet
	before  float64   // the value before, for the moving range
	values  series
	spread  series
	scales  []scale // of the points: one, or those that a skewed figure may be told on
	singles scale   // of the single values
	within  float64 // sum of the squares within subgroups
}

// scale is a power of the values on which they may scatter evenly, with the sums of all of them so far and what was made
// of the last points as they came.
type scale struct {
	power              float64
	n                  int
	mean, square, cube float64   // mean, and sums of the squares and cubes about it
	ewma               float64   // of the standardized points
	standardized       []float64 // of the last points, as each came
	averages           []float64 // and their moving averages
}

func (s *scale) of(x float64) float64 {
	if s.power == 1 {
		return x
	}
	return math.Pow(x, s.power)
}

// add takes a value into the sums. Source: Chan, Golub and LeVeque 1983; the third moment likewise.
func (s *scale) add(y float64) {
	s.n++
	n := float64(s.n)
	d := y - s.mean
	step := d / n
	s.cube += d*step*step*(n-1)*(n-2) - 3*step*s.square
	s.square += d * step * (n - 1)
	s.mean += step
}

func (s *scale) sd() float64 { return math.Sqrt(s.square / float64(s.n-1)) }

// lopsided is the size of the skewness of the values so far.
func (s *scale) lopsided() float64 {
	if s.square == 0 {
		return 0
	}
	n := float64(s.n)
	return math.Abs(s.cube / n / math.Pow(s.square/n, 1.5))
}

// NewAccumulator returns an empty accumulator for a chart of a kind, with subgroups of size values (1 for
// individuals, else 2 to 25), that keeps the last keep points to be drawn.
func NewAccumulator(kind Kind, size, keep int) (*Accumulator, error) {
	switch {
	case kind != Individuals && kind != MeanRange && kind != MeanS:
		return nil, fmt.Errorf("chart %q: want %s, %s or %s", kind, Individuals, MeanRange, MeanS)
	case kind == Individuals && size != 1:
		return nil, fmt.Errorf("subgroups of %d: a chart of individuals has single values", size)
	case kind != Individuals && (size < 2 || size > 25):
		return nil, fmt.Errorf("subgroups of %d: want 2 to 25 values", size)
	case keep < 1:
		return nil, fmt.Errorf("%d points to be drawn: want at least 1", keep)
	}
	return &Accumulator{
		kind: kind, size: size, values: series{keep: keep}, spread: series{keep: keep},
		scales: []scale{{power: 1}}, singles: scale{power: 1},
	}, nil
}

// NewSkewed returns an empty accumulator for a chart of individuals of a figure that is never below zero and has its long
// tail upward, as a run-out has: it is told on that power of itself, two thirds, a half or a third, which scatters most
// evenly.
func NewSkewed(keep int) (*Accumulator, error) {
	a, err := NewAccumulator(Individuals, 1, keep)
	if err != nil {
		return nil, err
	}
	a.skewed = true
	a.scales = []scale{{power: 2.0 / 3}, {power: 0.5}, {power: 1.0 / 3}}
	return a, nil
}

// Add takes the next value. It refuses NaN, infinities and numbers beyond any size, and of a skewed figure those below
// zero.
func (a *Accumulator) Add(x float64) error {
	if !(math.Abs(x) <= 1e100) {
		return fmt.Errorf("value %d is %v: %w", a.singles.n+1, x, statistics.ErrNotFinite)
	}
	if a.skewed && x < 0 {
		return fmt.Errorf("value %d is %v: a run-out is never below zero", a.singles.n+1, x)
	}
	a.singles.add(x)
	if a.kind == Individuals {
		if a.singles.n > 1 {
			a.spread.add(math.Abs(x - a.before))
		}
		a.before = x
		a.point(x)
		return nil
	}
	a.waiting = append(a.waiting, x)
	if len(a.waiting) < a.size {
		return nil
	}
	mean, err := statistics.Mean(a.waiting)
	if err != nil {
		return err
	}
	sd, err := statistics.StandardDeviation(a.waiting)
	if err != nil {
		return err
	}
	a.point(mean) // against what was within the subgroups before it
	a.within += sd * sd * float64(a.size-1)
	if a.kind == MeanS {
		a.spread.add(sd)
	} else {
		a.spread.add(slices.Max(a.waiting) - slices.Min(a.waiting))
	}
	a.waiting = a.waiting[:0]
	return nil
}

// manyPoints is from how many degrees of freedom on Student's t is as good as normal for a chart.
const manyPoints = 1000

// point takes the next point, standardized by those before it: the chart starts itself. With the points all from one
// normal distribution the standardized ones are independent and standard normal, whatever its mean and standard
// deviation:
//
//	q = normal quantile of T((x - mean of those before) / (sd of those before sqrt(1 + 1/n)); nu)
//
// Source: Quesenberry 1991, Journal of Quality Technology 23.
func (a *Accumulator) point(x float64) {
	a.values.add(x)
	for i := range a.scales {
		s := &a.scales[i]
		y, q := s.of(x), 0.0
		if sd, nu := a.scatter(s); nu >= 1 && sd > 0 {
			q = (y - s.mean) / sd / math.Sqrt(1+1/float64(s.n))
			if nu < manyPoints {
				q = statistics.NormalQuantile(math.Min(math.Max(statistics.TCDF(q, nu), 1e-12), 1-1e-12))
			}
		}
		s.ewma += weight * (q - s.ewma)
		s.standardized = a.last(append(s.standardized, q))
		s.averages = a.last(append(s.averages, s.ewma))
		s.add(y)
	}
}

// scatter returns the standard deviation of a point on a scale, from the points so far or from within the subgroups, with
// its degrees of freedom.
func (a *Accumulator) scatter(s *scale) (sd, nu float64) {
	if a.kind == Individuals {
		if s.n < 2 {
			return 0, 0
		}
		return s.sd(), float64(s.n - 1)
	}
	nu = float64(s.n * (a.size - 1))
	if nu == 0 {
		return 0, 0
	}
	return math.Sqrt(a.within / nu / float64(a.size)), nu
}

func (a *Accumulator) last(points []float64) []float64 {
	if len(points) >= 2*a.values.keep {
		return slices.Delete(points, 0, a.values.keep)
	}
	return points
}

// best is the scale on which the points scatter most evenly.
func (a *Accumulator) best() *scale {
	best := &a.scales[0]
	for i := range a.scales {
		if a.scales[i].lopsided() < best.lopsided() {
			best = &a.scales[i]
		}
	}
	return best
}

// Overall returns how many values were added, their mean and their standard deviation about it. It returns
// statistics.ErrTooFew for fewer than two values.
func (a *Accumulator) Overall() (n int, mean, sd float64, err error) {
	if a.singles.n < 2 {
		return a.singles.n, a.singles.mean, 0, fmt.Errorf("%d values, want at least 2: %w", a.singles.n, statistics.ErrTooFew)
	}
	return a.singles.n, a.singles.mean, a.singles.sd(), nil
}

// series is one line of points: the mean of all and the last few.
type series struct {
	keep, count int
	mean        float64
	points      []float64
}

func (s *series) add(x float64) {
	s.count++
	s.mean += (x - s.mean) / float64(s.count)
	s.points = append(s.points, x)
	if len(s.points) >= 2*s.keep {
		s.points = slices.Delete(s.points, 0, s.keep)
	}
}

func (s *series) line(l ControlLimits) Series {
	last := s.points[max(0, len(s.points)-s.keep):]
	return Series{ControlLimits: l, First: s.count - len(last) + 1, Points: append([]float64{}, last...)}
}
