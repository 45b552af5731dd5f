package geometry

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Cause is a likely cause of runout, known by the pattern it leaves in the heights of the flutes.
type Cause int

const (
	HeldOffCentre  Cause = iota // heights rise and fall once round the tool
	RisingInOrder               // later flutes in grinding order stand higher
	FallingInOrder              // later flutes in grinding order stand lower
	AlternateFlutes
	OneFlute
)

func (c Cause) String() string {
	return [...]string{"held off centre", "rising in grinding order", "falling in grinding order", "alternate flutes", "one flute alone"}[c]
}

// Candidate is a cause that the heights do not contradict, with the size of its pattern.
type Candidate struct {
	Cause Cause
	// Size is the eccentricity when held off centre, the rise from the first flute ground to the last, the
	// difference between alternate flutes, or how far the one flute stands from the mean of the others.
	Size  length.Length
	Flute int // of OneFlute

	chance float64 // that noise alone leaves as much unexplained
}

func (c Candidate) String() string {
	if c.Cause == OneFlute {
		return fmt.Sprintf("flute %d alone", c.Flute)
	}
	return c.Cause.String()
}

// Hint says what the cause suggests and what to try first.
func (c Candidate) Hint() string {
	switch c.Cause {
	case HeldOffCentre:
		return "perhaps held off centre: clean and reseat the tool, look for a burr on the shank, then read again"
	case RisingInOrder:
		return "perhaps the wheel wore while grinding: dress it, and grind all flutes again in light passes"
	case FallingInOrder:
		return "not wheel wear, which leaves later flutes high: look for slack in the feed or a slide that creeps in"
	case AlternateFlutes:
		return "perhaps every other flute is indexed or rested differently: check the index and the tooth rest"
	}
	return fmt.Sprintf("flute %d stands alone: look for a chip, dirt under the rest, or a pass missed on it", c.Flute)
}

// Likely is what the heights tell of the cause of a runout.
type Likely struct {
	AboveNoise bool        // false: the heights are alike within the noise, and nothing is to be explained
	Candidates []Candidate // what the heights do not contradict, likeliest first; none when no single cause explains them
	fewFlutes  bool
}

// Named returns the one cause that the heights leave. It is false when they leave several or none, and with
// fewer than four flutes, whose heights any offset explains.
func (l Likely) Named() (Candidate, bool) {
	if len(l.Candidates) != 1 || l.fewFlutes {
		return Candidate{}, false
	}
	return l.Candidates[0], true
}

// Hint puts the finding in words, with what to try first.
func (l Likely) Hint() string {
	c, named := l.Named()
	switch {
	case !l.AboveNoise:
		return "no cause is named: the flutes are alike within the noise of the readings"
	case named:
		return c.Hint()
	case l.fewFlutes:
		return "no cause is named: with fewer than four flutes an offset, a ramp in grinding order and one bad flute cannot be told apart; reseat the tool and read again"
	case len(l.Candidates) == 0:
		return "no cause is named: no single one explains the heights"
	}
	var names []string
	for _, c := range l.Candidates {
		names = append(names, c.String())
	}
	return "no cause is named: these cannot be told apart, and more repeats may tell: " + strings.Join(names, "; ")
}

// The heights contradict a pattern when noise alone would reach its misfit this seldom: for no cause at all,
// for a cause, and for a cause when all of them are contradicted at that.
const (
	noneLevel   = 0.05
	causeLevel  = 0.03
	lenientFits = 0.001
)

// LikelyCauses returns the causes that the heights of 2 to 12 flutes do not contradict. Every pattern is fitted
// by least squares and its misfit held against the noise of a flute mean u, known with df degrees of freedom:
//
//	F = sum (r[k] - fit[k])^2 / (N - p) / u^2,  contradicted when P(F(N - p, df) > F) is small
//
// where p counts what was fitted, the mean included: 1 for no cause at all, 3 for an offset, 2 for a ramp in
// grinding order, for alternate flutes (an even number, from 4) and for each flute alone. Only when "no cause"
// is contradicted at 5 % are there candidates: the causes not contradicted at 3 %, or, when that leaves none,
// at 0.1 %. So a cause is named in at most 5 % of tools without any, and a wrong one in at most 3 % of tools
// with one, whatever its size.
//
// order holds the flute numbers in the order in which they were ground, nil for 1 to N; angles is nil
// for equal pitch. Errors: noise that is not positive, an order that does not hold every flute once. Source:
// lack of fit against a separate estimate of error, textbook analysis of variance.
func LikelyCauses(heights []length.Length, angles []length.Angle, order []int, u length.Length, df float64) (Likely, error) {
	if err := checkPitch(len(heights), angles); err != nil {
		return Likely{}, fmt.Errorf("likely cause: %w", err)
	}
	if u <= 0 || !(df > 0) {
		return Likely{}, fmt.Errorf("likely cause: noise of a flute mean %v with %v degrees of freedom; want both more than zero", u, df)
	}
	place, err := placeInOrder(order, len(heights))
	if err != nil {
		return Likely{}, fmt.Errorf("likely cause: %w", err)
	}
	noise := noise{u.Micrometres(), df}
	r := length.Micrometres(less(heights, heights[0]))
	likely := Likely{fewFlutes: len(heights) < 4}
	if _, misfit := fitPattern(r, make([]float64, len(r))); noise.chance(misfit, len(r)-1) > noneLevel {
		return likely, nil
	}
	likely.AboveNoise = true
	all, err := noise.candidates(r, heights, angles, place)
	if err != nil {
		return Likely{}, fmt.Errorf("likely cause: %w", err)
	}
	for _, level := range []float64{causeLevel, lenientFits} {
		likely.Candidates = slices.DeleteFunc(slices.Clone(all), func(c Candidate) bool { return c.chance <= level })
		if len(likely.Candidates) > 0 {
			break
		}
	}
	return likely, nil
}

// noise is the standard uncertainty of a flute mean in micrometres and the degrees of freedom behind it.
type noise struct{ u, df float64 }

// chance returns how often noise alone gives a sum of squares of at least misfit on so many degrees of freedom;
// a pattern that leaves none fits always.
func (n noise) chance(misfit float64, left int) float64 {
	if left == 0 {
		return 1
	}
	return 1 - statistics.FCDF(misfit/float64(left)/(n.u*n.u), float64(left), n.df)
}

// candidates returns every cause with the chance of its misfit, the likeliest first.
func (n noise) candidates(r []float64, heights []length.Length, angles []length.Angle, place []int) ([]Candidate, error) {
	run, err := FitRunout(heights, angles)
	if err != nil {
		return nil, err
	}
	misfit := 0.0
	for _, l := range run.Residuals {
		misfit += l.Micrometres() * l.Micrometres()
	}
	all := []Candidate{{Cause: HeldOffCentre, Size: run.Eccentricity, chance: n.chance(misfit, run.ResidualDF)}}
	var out results
	for _, p := range patterns(place) {
		slope, misfit := fitPattern(r, p.shape)
		c := Candidate{Cause: p.cause, Size: out.length(slope), Flute: p.flute, chance: n.chance(misfit, len(r)-2)}
		if c.Cause == RisingInOrder && slope < 0 {
			c.Cause, c.Size = FallingInOrder, -c.Size
		}
		all = append(all, c)
	}
	slices.SortStableFunc(all, func(a, b Candidate) int { return cmp.Compare(b.chance, a.chance) })
	return all, out.err
}

// placeInOrder returns when each flute was ground, counted from 0.
func placeInOrder(order []int, flutes int) ([]int, error) {
	place := make([]int, flutes)
	if order == nil {
		for i := range place {
			place[i] = i
		}
		return place, nil
	}
	numbers := slices.Sorted(slices.Values(order))
	for i := range place {
		if len(numbers) != flutes || numbers[i] != i+1 {
			return nil, fmt.Errorf("grinding order %v does not hold each of %d flutes once", order, flutes)
		}
		place[order[i]-1] = i
	}
	return place, nil
}

// pattern is a shape of heights whose slope is the size of its cause.
type pattern struct {
	cause Cause
	flute int
	shape []float64
}

func patterns(place []int) []pattern {
	n := len(place)
	ramp := pattern{cause: RisingInOrder}
	alternate := pattern{cause: AlternateFlutes}
	for i, at := range place {
		ramp.shape = append(ramp.shape, float64(at)/float64(n-1))
		alternate.shape = append(alternate.shape, float64(i%2))
	}
	all := []pattern{ramp}
	if n >= 4 && n%2 == 0 {
		all = append(all, alternate)
	}
	for i := range n {
		one := pattern{cause: OneFlute, flute: i + 1, shape: make([]float64, n)}
		one.shape[i] = 1
		all = append(all, one)
	}
	return all
}

// fitPattern fits mean + slope x shape by least squares and returns the slope with the sum of squares left. A
// shape of zeros leaves the squares about the mean.
func fitPattern(r, shape []float64) (slope, misfit float64) {
	n := float64(len(r))
	var rm, sm float64
	for i := range r {
		rm += r[i] / n
		sm += shape[i] / n
	}
	var ss, sr float64
	for i := range r {
		ss += (shape[i] - sm) * (shape[i] - sm)
		sr += (shape[i] - sm) * (r[i] - rm)
	}
	if ss > 0 {
		slope = sr / ss
	}
	for i := range r {
		left := r[i] - rm - slope*(shape[i]-sm)
		misfit += left * left
	}
	return slope, misfit
}
