package geometry

import (
	"cmp"
	"fmt"
	"math"
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

// Candidate is a cause with the size of its pattern.
type Candidate struct {
	Cause Cause
	// Size is the eccentricity when held off centre, the rise from the first flute ground to the last, the
	// difference between alternate flutes, or how far the one flute stands from the mean of the others.
	Size  length.Length
	Flute int // of OneFlute
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
	Parts      []Candidate // the one cause, or the two together, that explain the heights as nothing else does; else none
	Candidates []Candidate // where no cause is named: the single ones that may be it, likeliest first
	Mixed      bool        // more than one thing is wrong, and the heights do not tell which
	// Or is what makes the same heights as the one cause named, where the flutes are four, which differ in three ways: an offset has
	// two sizes, and whatever second cause goes with it has the third, so it stands alone here; else two causes that leave no more
	// than the noise. Only a reading of the shank tells them apart.
	Or     []Candidate
	flutes int
}

// Hint puts the finding in words, with what to try first.
func (l Likely) Hint() string {
	switch {
	case !l.AboveNoise:
		return "no cause is named: the flutes are alike within the noise of the readings"
	case len(l.Parts) == 1 && len(l.Or) == 1:
		return fmt.Sprintf("%s; or %v and something else together, which %d flutes do not tell from it: read the shank", l.Parts[0].Hint(), l.Or[0], l.flutes)
	case len(l.Parts) == 1 && len(l.Or) == 2:
		return fmt.Sprintf("%s; or %v and %v together, which %d flutes do not tell from it: read the shank", l.Parts[0].Hint(), l.Or[0], l.Or[1], l.flutes)
	case len(l.Parts) == 1:
		return l.Parts[0].Hint()
	case len(l.Parts) == 2:
		return l.Parts[0].Hint() + "; and " + l.Parts[1].Hint()
	case l.flutes < fewestFlutes:
		return "no cause is named: with fewer than four flutes an offset, a ramp in grinding order and one bad flute cannot be told apart; reseat the tool and read again"
	case l.Mixed && len(l.Candidates) > 0:
		return fmt.Sprintf("more than one thing, or perhaps %v; %d flutes cannot tell which: read the shank", l.Candidates[0], l.flutes)
	case l.Mixed:
		return fmt.Sprintf("more than one thing; %d flutes cannot tell which: read the shank", l.flutes)
	case len(l.Candidates) == 0:
		return "no cause is named: the teeth scatter, and no pattern explains the heights"
	}
	if len(l.Candidates) == 1 {
		return fmt.Sprintf("no cause is named: perhaps %v, but scatter of the teeth explains the heights as well; more repeats may tell", l.Candidates[0])
	}
	var names []string
	for _, c := range l.Candidates {
		names = append(names, c.String())
	}
	return "no cause is named: these cannot be told apart, and more repeats may tell: " + strings.Join(names, "; ")
}

const (
	fewestFlutes = 4 // that tell any cause
	pairsFrom    = 6 // flutes that tell two causes together

	noneLevel = 0.05 // no cause at all is given up when noise alone makes such heights this seldom
	namedFrom = 0.5  // of all explanations' weight that a named cause carries
	pairFrom  = 0.6  // and a named pair
	worthSay  = 0.1  // the weight from which a cause is listed

	// What is believed of a tool before its heights are seen, in noises u of a flute mean: any size of a cause up to
	// largest, as likely as any other; scatter of the teeth about as likely as all causes; two causes together not
	// seldom, for real grinds are mixtures. Found by simulation: these keep the shares that DEVELOPERS.md states.
	largest       = 25.0
	scatterWeight = 8.0
	pairWeight    = 0.2
)

// scatters are standard deviations of tooth scatter, in noises, with how likely they are among scatters.
var scatters = func() [][2]float64 {
	s := [][2]float64{{1, 1}, {2, 1}, {3, 2}, {5, 0.1}, {8, 0.05}, {13, 0.025}, {20, 0.0125}, {34, 0.00625}}
	sum := 0.0
	for _, w := range s {
		sum += w[1]
	}
	for i := range s {
		s[i][1] *= scatterWeight / sum
	}
	return s
}()

// LikelyCauses tells what the heights of 2 to 12 flutes say of the cause of a runout. Explanations compete: no cause,
// plain scatter of the teeth, each cause alone, and two together. Every one is fitted by least squares, and weighed by
//
//	(1 + rss/(df u^2))^(-(df+N-1)/2)  (2 pi)^(p/2) / sqrt(det X'X)  / room
//
// with rss what it leaves, X its p patterns and room the volume of the sizes that it may have: of two that fit alike, the
// one that can fit less. Of one flute alone each of the N has an Nth of the room. Scatter needs no pattern:
// it is heights of N - 1 degrees of freedom that scatter 1, 2, 3 ... times as far as the noise.
//
// A cause is named when the heights are above the noise at 5 % and it alone carries half of all weight, two together, from
// six flutes, when they carry six tenths. With four flutes an offset and any second cause fit whatever was read,
// with five nearly so: there a mixture is told, and not what it is made of. With fewer nothing is named.
//
// u is the noise of a flute mean, known with df degrees of freedom. order holds the flute numbers in the order in which
// they were ground, the last round, nil for 1 to N; angles is nil for equal pitch. Errors: noise that is not positive,
// an order that does not hold every flute once. Source: comparison of linear models by their marginal likelihood,
// textbook Bayesian statistics; the weights are our own.
func LikelyCauses(heights []length.Length, angles []length.Angle, order []int, u length.Length, df float64) (Likely, error) {
	if err := checkPitch(len(heights), angles); err != nil {
		return Likely{}, fmt.Errorf("likely cause: %w", err)
	}
	if u <= 0 || !(df >= 1) {
		return Likely{}, fmt.Errorf("likely cause: noise of a flute mean %v with %v degrees of freedom; want noise above zero and at least one degree", u, df)
	}
	place, err := placeInOrder(order, len(heights))
	if err != nil {
		return Likely{}, fmt.Errorf("likely cause: %w", err)
	}
	r := length.Micrometres(less(heights, heights[0]))
	for i := range r {
		r[i] /= u.Micrometres()
	}
	w := newWeighing(r, pitch(len(heights), angles), place, math.Min(df, 1e6))
	likely := Likely{flutes: len(heights)}
	n := float64(len(heights))
	if 1-statistics.FCDF(w.squares/(n-1), n-1, w.df) > noneLevel {
		return likely, nil
	}
	likely.AboveNoise = true
	if err := w.judge(&likely, u); err != nil {
		return Likely{}, fmt.Errorf("likely cause: %w", err)
	}
	return likely, nil
}

// weighing holds heights, in noises, against patterns.
type weighing struct {
	df, squares float64 // squares of the heights about their mean
	patterns    [][]float64
	products    [][]float64 // of the patterns with each other
	onto        []float64   // of the heights with each
	singles     []explanation
}

// explanation is one cause or two: the patterns it is made of.
type explanation struct {
	causes   []Candidate
	patterns []int
	room     float64 // logarithm of the volume of the sizes it may have
	weight   float64 // logarithm
	rest     float64 // squares that it leaves
	sizes    []float64
}

func newWeighing(r, radians []float64, place []int, df float64) *weighing {
	n := len(r)
	w := &weighing{df: df}
	add := func(shape func(i int) float64) int {
		v, mean := make([]float64, n), 0.0
		for i := range v {
			v[i] = shape(i)
			mean += v[i] / float64(n)
		}
		for i := range v {
			v[i] -= mean
		}
		w.patterns = append(w.patterns, v)
		return len(w.patterns) - 1
	}
	single := func(c Candidate, room float64, patterns ...int) {
		w.singles = append(w.singles, explanation{causes: []Candidate{c}, patterns: patterns, room: room})
	}
	line := math.Log(2 * largest)
	cos := add(func(i int) float64 { return math.Cos(radians[i]) })
	sin := add(func(i int) float64 { return math.Sin(radians[i]) })
	if n == 2 {
		single(Candidate{Cause: HeldOffCentre}, line, cos)
	} else {
		single(Candidate{Cause: HeldOffCentre}, math.Log(math.Pi*largest*largest/4), cos, sin)
	}
	single(Candidate{Cause: RisingInOrder}, line, add(func(i int) float64 { return float64(place[i]) / float64(n-1) }))
	if n >= fewestFlutes && n%2 == 0 {
		single(Candidate{Cause: AlternateFlutes}, line, add(func(i int) float64 { return float64(i % 2) }))
	}
	for k := range n {
		one := add(func(i int) float64 {
			if i == k {
				return 1
			}
			return 0
		})
		single(Candidate{Cause: OneFlute, Flute: k + 1}, line+math.Log(float64(n)), one)
	}
	mean := 0.0
	for _, x := range r {
		mean += x / float64(n)
	}
	for _, x := range r {
		w.squares += (x - mean) * (x - mean)
	}
	for _, a := range w.patterns {
		row, onto := make([]float64, len(w.patterns)), 0.0
		for j, b := range w.patterns {
			for i := range a {
				row[j] += a[i] * b[i]
			}
		}
		for i, x := range r {
			onto += a[i] * x
		}
		w.products, w.onto = append(w.products, row), append(w.onto, onto)
	}
	return w
}

// leaves returns the logarithm of the weight of what an explanation leaves.
func (w *weighing) leaves(squares float64) float64 {
	return -(w.df + float64(len(w.patterns[0])) - 1) / 2 * math.Log1p(math.Max(0, squares)/w.df)
}

// weigh fits an explanation by the Cholesky factor of its normal equations. One whose patterns are not independent
// weighs nothing.
func (w *weighing) weigh(e *explanation) {
	var factor [4][4]float64
	var z [4]float64
	p := len(e.patterns)
	explained, determinant := 0.0, 0.0
	for i, a := range e.patterns {
		for j, b := range e.patterns[:i+1] {
			sum := w.products[a][b]
			for k := range j {
				sum -= factor[i][k] * factor[j][k]
			}
			if i != j {
				factor[i][j] = sum / factor[j][j]
				continue
			}
			if sum < 1e-9 {
				e.weight = math.Inf(-1)
				return
			}
			factor[i][i] = math.Sqrt(sum)
		}
		z[i] = w.onto[a]
		for k := range i {
			z[i] -= factor[i][k] * z[k]
		}
		z[i] /= factor[i][i]
		explained += z[i] * z[i]
		determinant += 2 * math.Log(factor[i][i])
	}
	e.rest = math.Max(0, w.squares-explained)
	e.weight = w.leaves(e.rest) + float64(p)/2*math.Log(2*math.Pi) - determinant/2 - e.room
	e.sizes = make([]float64, p)
	for i := p - 1; i >= 0; i-- {
		x := z[i]
		for k := i + 1; k < p; k++ {
			x -= factor[k][i] * e.sizes[k]
		}
		e.sizes[i] = x / factor[i][i]
	}
}

// judge weighs all explanations and says what stands out.
func (w *weighing) judge(l *Likely, u length.Length) error {
	all := slices.Clone(w.singles)
	for i, a := range w.singles {
		for _, b := range w.singles[i+1:] {
			if l.flutes < fewestFlutes || a.causes[0].Cause == OneFlute {
				break // two bad flutes are scatter
			}
			all = append(all, explanation{
				causes:   []Candidate{a.causes[0], b.causes[0]},
				patterns: append(slices.Clone(a.patterns), b.patterns...),
				room:     a.room + b.room - math.Log(pairWeight),
			})
		}
	}
	none := w.leaves(w.squares)
	heaviest := none
	for i := range all {
		w.weigh(&all[i])
		heaviest = math.Max(heaviest, all[i].weight)
	}
	total := math.Exp(none - heaviest)
	for _, s := range scatters {
		wider := 1 + s[0]*s[0]
		total += s[1] * math.Exp(w.leaves(w.squares/wider)-float64(l.flutes-1)/2*math.Log(wider)-heaviest)
	}
	mixed := 0.0
	for i := range all {
		share := math.Exp(all[i].weight - heaviest)
		total += share
		if len(all[i].causes) == 2 {
			mixed += share
		}
	}
	slices.SortStableFunc(all, func(a, b explanation) int { return cmp.Compare(b.weight, a.weight) })
	var out results
	carries := func(e explanation) float64 { return math.Exp(e.weight-heaviest) / total }
	best := all[0]
	switch {
	case l.flutes < fewestFlutes:
	case len(best.causes) == 1 && carries(best) >= namedFrom, len(best.causes) == 2 && l.flutes >= pairsFrom && carries(best) >= pairFrom:
		l.Parts = best.sized(u, &out)
		if l.flutes == fewestFlutes {
			l.Or = w.otherwise(all, u, &out)
		}
		return out.err
	case mixed/total >= namedFrom:
		l.Mixed = true
	}
	for _, e := range all {
		if len(e.causes) == 1 && (l.flutes < fewestFlutes || carries(e) >= worthSay) {
			if l.Mixed && len(l.Candidates) > 0 {
				break
			}
			l.Candidates = append(l.Candidates, e.sized(u, &out)...)
		}
	}
	return out.err
}

// otherwise returns what else makes the heights of four flutes, the first of all explanations left aside: an offset and whatever goes
// with it, or, where that is the first, the likeliest two causes that leave no more of the heights than the noise does at 5 %.
func (w *weighing) otherwise(all []explanation, u length.Length, out *results) []Candidate {
	named := all[0].causes[0]
	for _, e := range all[1:] {
		if len(e.causes) != 2 || named.Cause != HeldOffCentre && e.causes[0].Cause != HeldOffCentre || slices.ContainsFunc(e.causes, func(c Candidate) bool { return c.Cause == named.Cause }) {
			continue
		}
		left := float64(len(w.patterns[0]) - 1 - len(e.patterns))
		if left <= 0 || e.rest <= left*statistics.FQuantile(1-noneLevel, left, w.df) {
			pair := e.sized(u, out)
			if named.Cause != HeldOffCentre {
				pair = slices.DeleteFunc(pair, func(c Candidate) bool { return c.Cause != HeldOffCentre })
			}
			return pair
		}
	}
	return nil
}

// sized returns the causes of an explanation with their sizes.
func (e explanation) sized(u length.Length, out *results) []Candidate {
	causes := slices.Clone(e.causes)
	at := 0
	for i := range causes {
		size := e.sizes[at]
		at++
		switch c := &causes[i]; {
		case c.Cause == HeldOffCentre && len(e.patterns) > len(causes):
			size = math.Hypot(size, e.sizes[at])
			at++
		case c.Cause == HeldOffCentre:
			size = math.Abs(size)
		case c.Cause == RisingInOrder && size < 0:
			c.Cause, size = FallingInOrder, -size
		}
		causes[i].Size = out.length(size * u.Micrometres())
	}
	return causes
}

// LastRound returns the order in which the flutes are ground in the last round at the wheel, which a wearing wheel is
// read from, given the order of the rounds before it: it begins half a turn on, so that what the wheel lost is shared
// out. nil is 1 to flutes. Source: US Navy, Machinery Repairman, chapter 10.
func LastRound(order []int, flutes int) []int {
	if order == nil {
		for k := range flutes {
			order = append(order, k+1)
		}
	}
	half := len(order) / 2
	return append(slices.Clone(order[half:]), order[:half]...)
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
