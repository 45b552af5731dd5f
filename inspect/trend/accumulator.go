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
	kind      Kind
	size      int
	constants constants
	waiting   []float64 // values of a subgroup that is not full yet
	previous  float64   // the value before, for the moving range
	values    series
	spread    series

	n              int // of single values
	mean, sumOfSqs float64
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
		kind: kind, size: size, constants: constantsOf(kind, size),
		values: series{keep: keep}, spread: series{keep: keep},
	}, nil
}

// Add takes the next value. It refuses NaN, infinities and numbers beyond any size.
func (a *Accumulator) Add(x float64) error {
	if !(math.Abs(x) <= 1e100) {
		return fmt.Errorf("value %d is %v: %w", a.n+1, x, statistics.ErrNotFinite)
	}
	a.n++
	before := x - a.mean
	a.mean += before / float64(a.n)
	a.sumOfSqs += before * (x - a.mean)
	if a.kind == Individuals {
		if a.n > 1 {
			a.spread.add(math.Abs(x - a.previous))
		}
		a.previous = x
		a.values.add(x)
		return nil
	}
	a.waiting = append(a.waiting, x)
	if len(a.waiting) < a.size {
		return nil
	}
	return a.addSubgroup()
}

func (a *Accumulator) addSubgroup() error {
	mean, err := statistics.Mean(a.waiting)
	if err != nil {
		return err
	}
	spread := slices.Max(a.waiting) - slices.Min(a.waiting)
	if a.kind == MeanS {
		if spread, err = statistics.StandardDeviation(a.waiting); err != nil {
			return err
		}
	}
	a.values.add(mean)
	a.spread.add(spread)
	a.waiting = a.waiting[:0]
	return nil
}

// Overall returns how many values were added, their mean and their standard deviation about it, for the
// performance. It returns statistics.ErrTooFew for fewer than two values.
func (a *Accumulator) Overall() (n int, mean, sd float64, err error) {
	if a.n < 2 {
		return a.n, a.mean, 0, fmt.Errorf("%d values, want at least 2: %w", a.n, statistics.ErrTooFew)
	}
	return a.n, a.mean, math.Sqrt(a.sumOfSqs / float64(a.n-1)), nil
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

func (s *series) line(l Limits) Series {
	last := s.points[max(0, len(s.points)-s.keep):]
	return Series{Limits: l, First: s.count - len(last) + 1, Points: append([]float64{}, last...)}
}
