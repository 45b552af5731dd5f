package statistics

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// Accuracy is what judging needs to know of a gauge.
type Accuracy struct {
	Resolution length.Length // the step in which it reads
	// PermissibleError is the most by which a difference of two readings, or a size, may be wrong, to either side;
	// nought when none is stated. It is fixed and not drawn anew with each reading, so it enters a band in full.
	PermissibleError length.Length
	Studied          Repeatability // from studies of the gauge
}

func (g Accuracy) check() error {
	if g.Resolution < 0 || g.Resolution > mostReading {
		return fmt.Errorf("resolution %v: want nought to a kilometre", g.Resolution)
	}
	if g.PermissibleError < 0 || g.PermissibleError > mostReading {
		return fmt.Errorf("permissible error %v: want nought to a kilometre", g.PermissibleError)
	}
	return g.Studied.check()
}

// Noise returns the repeatability to judge these sets of repeats by: their own, pooled over the sets and with
// the gauge's studies. With neither the result is not Known. Errors are those of Pool.
func (g Accuracy) Noise(sets ...[]length.Length) (Repeatability, error) {
	noise, err := Pool(sets...)
	return noise.With(g.Studied), err
}

// steady returns the variance that rounding to the gauge's step alone gives a reading, in square micrometres.
func (g Accuracy) steady() float64 {
	q := g.Resolution.Micrometres()
	return q * q / 12
}

// Estimate is a value worked out from the means of readings, and what is needed to say how well it is known:
// the linear figures, such as differences of two flutes, of which it is the largest or the only one.
type Estimate struct {
	Value length.Length
	Noise Repeatability // of one reading

	kind    kind
	figures []figure
	// each variant is one way in which the readings can be understood, as a stretch of figures: a verdict holds
	// when it holds in all of them.
	variants [][2]int
	gauge    Accuracy
	own      float64 // the gauge's own error in the value, micrometres: it enters a band in full
	repeats  int     // fewest readings behind a mean
	family   int     // how many estimates are judged together
	looks    bool    // the verdict is tried after each round
	void     bool    // nothing is to be judged from the readings
	stops    string  // why that is, or why nothing may be decided yet: a suspect reading that both verdicts hang on
}

// A kind says how the value comes from the figures, and so by what factor of u the truth may lie beside it.
type kind int

const (
	single   kind = iota // the one figure
	spread               // the range of several: the largest figure without its sign
	topmost              // the largest figure
	distance             // the length of a vector: the one figure, along the vector
)

// part is one independent share of a figure's variance, in square micrometres.
type part struct {
	variance, df float64
	perRound     float64 // degrees of freedom that one more round adds
	shrinks      bool    // in proportion to the rounds; else they do not touch it
}

// figure is a linear combination of readings: its value and the variance of that.
type figure struct {
	value length.Length
	parts [2]part
	steps float64 // sum of the squares of the gauge's step as rounding errors of means count in it, square micrometres
	grid  float64 // how far apart the values lie that it can take where every mean is one reading, micrometres
	drift float64 // of its variance, what an even drift that was fitted with the heights makes
}

// precision is a figure's standard uncertainty in micrometres, with its effective degrees of freedom.
type precision struct{ u, df float64 }

// precision returns what is known of a figure after a number of rounds, of which repeats were read. A mean is never
// better than a reading that is steady within its step, u^2 = max(sum of parts, steps/12): repeats that all
// fall on one step do not say where in the step they lie. Only while rounds are read one by one, with a
// spread of at least 0.35 of the step known from 20 degrees of freedom, the repeats do average the rounding out.
func (e *Estimate) precision(f *figure, rounds int) precision {
	variance, df := e.parts(f, rounds)
	floor := f.steps / 12
	if e.looks && e.Noise.DF >= 20 && e.Noise.Micrometres >= 0.35*e.gauge.Resolution.Micrometres() {
		floor = 0
	}
	return precision{math.Sqrt(math.Max(variance, floor)), df}
}

// parts returns the variance that a figure's parts come to after a number of rounds, with its degrees of freedom.
func (e *Estimate) parts(f *figure, rounds int) (variance, df float64) {
	parts := f.parts
	if rounds != e.repeats {
		for i := range parts {
			if p := &parts[i]; p.shrinks && p.df > 0 {
				p.variance *= float64(e.repeats) / float64(rounds)
				p.df = math.Max(1, p.df+p.perRound*float64(rounds-e.repeats))
			}
		}
	}
	return together(parts[:])
}

// together returns the variance of independent parts and its effective degrees of freedom, by Welch and Satterthwaite,
// cut to a whole number and at least one; parts without degrees of freedom are left out:
//
//	nu = (sum u^2)^2 / sum (u^4 / nu)
//
// Source: JCGM 100:2008 G.4.
func together(parts []part) (variance, df float64) {
	fourths := 0.0
	df = 1
	for _, p := range parts {
		if p.df > 0 {
			variance += p.variance
			fourths += p.variance * p.variance / p.df
			df = math.Max(df, p.df)
		}
	}
	if fourths > 0 {
		df = math.Max(1, math.Floor(variance*variance/fourths+1e-9))
	} else if variance > 0 {
		df = math.Inf(1)
	}
	return variance, df
}

// known says whether the readings tell how well the value is known. Readings all alike of a gauge without a
// stated resolution do not.
func (e *Estimate) known() bool {
	return e.Noise.Known() && len(e.figures) > 0 && e.precision(&e.figures[0], e.repeats).u > 0
}

// risk returns the chance of being wrong that is spent on the verdict after so many rounds, of 5 % in all.
func (e *Estimate) risk(rounds int) float64 {
	if e.looks {
		return Look(rounds)
	}
	return 0.05
}

// Look returns the share of the 5 % that is spent when the verdict is tried after each round, and reading stops
// when it is sure: 2.5 % at the second round, 1.2 % at the third, and the rest even over the fourth to the tenth.
// By Bonferroni's inequality all looks together are wrong in at most 5 %. At other rounds nothing is tried.
func Look(round int) float64 {
	switch {
	case round == 2:
		return 0.025
	case round == 3:
		return 0.012
	case round >= 4 && round <= MostLooks:
		return (0.05 - 0.025 - 0.012) / (MostLooks - 3)
	}
	return 0
}

// MostLooks is the last round after which a verdict is tried.
const MostLooks = 10

// above returns by what factor of u the truth exceeds a figure in at most a share risk: whatever the kind, the
// truth exceeds the value only if one given figure, that of the true extremes, was misread.
func above(risk float64, p precision) float64 { return TQuantile(1-risk, p.df) }

// below returns by what factor of u the value exceeds the truth in at most a share risk:
//
//	single    t(1 - risk)
//	spread    studentized range of N / sqrt(2), since u is that of a difference
//	topmost   t(1 - risk/N)
//	distance  sqrt(2 F(1 - risk; 2, df)), the length of the error vector
func (e *Estimate) below(risk float64, p precision) float64 {
	n := e.variants[0][1] - e.variants[0][0]
	switch e.kind {
	case spread:
		flutes := int(math.Round((1 + math.Sqrt(1+8*float64(n))) / 2)) // whose pairs the figures are
		return StudentizedRangeQuantile(1-risk, flutes, p.df) / math.Sqrt2
	case topmost:
		return TQuantile(1-risk/float64(n), p.df)
	case distance:
		if math.IsInf(p.df, 1) {
			return math.Sqrt(-2 * math.Log(risk))
		}
		return math.Sqrt(p.df * (math.Pow(risk, -2/p.df) - 1))
	}
	return TQuantile(1-risk, p.df)
}

// size returns a figure's value as it counts: without its sign where a range is made of it.
func (e *Estimate) size(f *figure) length.Length {
	if e.kind == spread {
		return f.value.Abs()
	}
	return f.value
}

// comb is what a band of factor u is given in addition for where the limit stands between two means that can be read. Means
// of m readings lie a step over m apart, d, so that the chance of accepting wrongly swings about its mean as the limit moves from
// one to the next, by d/pi times the density at the limit: the first harmonic of a lattice's distribution. What else varies with the inspection,
// a fitted drift (f.drift) and the band itself ((factor u)^2 / 2 df), smooths that as any variance s^2 does,
//
//	comb = (d/pi) exp(-2 pi^2 s^2/d^2)
//
// so that it is next to nothing but for a coarse step of a gauge that is well known. Source: the characteristic function of a
// lattice distribution, as in textbooks of probability.
func (e *Estimate) comb(f *figure, factor float64, rounds int) float64 {
	d := f.grid / float64(rounds)
	if d == 0 || e.Noise.ByStep {
		return 0 // of one reading and no study the step is all that is told, and stands for itself
	}
	variance, df := e.parts(f, rounds)
	varies := f.drift*float64(e.repeats)/float64(rounds) + factor*factor*variance/(2*df)
	return d / math.Pi * math.Exp(-2*math.Pi*math.Pi*varies/(d*d))
}

// GaugeError returns how much of a band is the gauge's own error, the same on both sides.
func (e *Estimate) GaugeError() length.Length { return outward(e.own) }

// Risk returns the chance of being wrong that the verdict is given now: 0.05, or a look's share of it.
func (e *Estimate) Risk() float64 { return e.risk(e.repeats) }

// most returns what the true value exceeds in at most a share risk of inspections, and the figure that says so.
func (e *Estimate) most(risk float64, rounds int) (length.Length, *figure) {
	var bound length.Length
	var by *figure
	for i := range e.figures {
		f := &e.figures[i]
		p := e.precision(f, rounds)
		factor := above(risk, p)
		if b := e.size(f) + outward(factor*p.u+e.comb(f, factor, rounds)+e.own); by == nil || b > bound {
			bound, by = b, f
		}
	}
	return bound, by
}

// least returns what the true value falls under in at most a share risk of inspections: in each variant by its
// widest figure, and of the variants the lowest.
func (e *Estimate) least(risk float64, rounds int) length.Length {
	var bound length.Length
	for v, stretch := range e.variants {
		wide, highest := 0.0, length.Length(0)
		for i := stretch[0]; i < stretch[1]; i++ {
			f := &e.figures[i]
			p := e.precision(f, rounds)
			factor := e.below(risk, p)
			wide = math.Max(wide, factor*p.u+e.comb(f, factor, rounds))
			if size := e.size(f); i == stretch[0] || size > highest {
				highest = size
			}
		}
		if b := highest - outward(wide+e.own); v == 0 || b < bound {
			bound = b
		}
	}
	return bound
}

// outward rounds a band up to a whole picometre. One that no length can hold becomes larger than any margin.
func outward(micrometres float64) length.Length {
	const beyond = 4000 * mostReading
	if up := math.Ceil(micrometres * float64(length.Micrometre)); up < float64(beyond) {
		return length.Length(up)
	}
	return beyond
}

// Uncertainty returns the band U of the statement "value plus or minus U, 95 %", and false when the readings
// do not tell it. Where several estimates are judged together, the 5 % holds for all of them.
func (e *Estimate) Uncertainty() (length.Length, bool) {
	if !e.known() {
		return 0, false
	}
	risk := 0.05 / float64(max(1, e.family))
	var least, most length.Length
	switch e.kind {
	case spread, distance: // the error's range, or length, bounds both sides at once
		least = e.least(risk, e.repeats)
		most, _ = e.most(risk/2, e.repeats)
		most = max(most, 2*e.Value-least)
	case topmost:
		n := float64(len(e.figures))
		least = e.least(risk*n/(n+1), e.repeats)
		most, _ = e.most(risk/(n+1), e.repeats)
	default:
		least = e.least(risk/2, e.repeats)
		most, _ = e.most(risk/2, e.repeats)
	}
	return max(e.Value-least, most-e.Value), true
}

// StandardUncertainty returns the standard uncertainty u and the degrees of freedom with which
//
//	value + t(1 - risk, df) u + gauge error
//
// is the upper end that the guarded rule compares with a limit, so that another program comes to the same verdict; false
// when the readings do not tell. df is nil where it is unlimited, as for one reading of a size.
func (e *Estimate) StandardUncertainty() (u length.Length, df *int, known bool) {
	if !e.known() {
		return 0, nil, false
	}
	risk := e.Risk()
	if risk == 0 {
		risk = 0.05
	}
	upper, by := e.most(risk, e.repeats)
	p := e.precision(by, e.repeats)
	margin := (upper - e.Value).Micrometres() - e.own
	if !math.IsInf(p.df, 1) {
		whole := int(p.df)
		df = &whole
	}
	return outward(math.Max(0, margin) / above(risk, p)), df, true
}

// AboveNoise says whether the value can be told from nought at all: a TIR that is within its uncertainty is
// not distinguishable from gauge noise, though it may well be accepted. A perfect tool is called
// distinguishable in at most 5 %. known is false when the readings do not tell.
func (e *Estimate) AboveNoise() (distinguishable, known bool) {
	u, known := e.Uncertainty()
	return known && e.Value.Abs() > u, known
}

// newEstimate checks what every estimate is made of.
func newEstimate(noise Repeatability, g Accuracy, sets ...[]length.Length) (Estimate, error) {
	if err := noise.check(); err != nil {
		return Estimate{}, err
	}
	if err := g.check(); err != nil {
		return Estimate{}, err
	}
	e := Estimate{Noise: noise, gauge: g, repeats: mostRepeats, own: g.PermissibleError.Micrometres(), variants: [][2]int{{0, 1}}}
	for i, repeats := range sets {
		if err := checkReadings(repeats); err != nil {
			return Estimate{}, fmt.Errorf("set %d: %w", i+1, err)
		}
		e.repeats = min(e.repeats, len(repeats))
	}
	return e, nil
}

// only makes the value the estimate's one figure: c are what means of m readings count in it.
func (e *Estimate) only(value length.Length, c []float64, m []int) {
	e.Value = value
	var perReading, squares float64
	for i := range c {
		perReading += c[i] * c[i] / float64(m[i])
		squares += c[i] * c[i]
	}
	e.figures = []figure{e.figure(value, perReading, squares, len(c))}
}

// figure returns a figure of so many means, of which only repeatability makes the variance. Another round adds a degree of freedom for
// each set of repeats.
func (e *Estimate) figure(value length.Length, perReading, squares float64, means int) figure {
	sp, q := e.Noise.Micrometres, e.gauge.Resolution.Micrometres()
	return figure{value: value, steps: squares * q * q, grid: q * math.Sqrt(squares/float64(means)), parts: [2]part{
		{variance: perReading * sp * sp, df: float64(e.Noise.DF), perRound: float64(e.Noise.Sets), shrinks: true},
	}}
}

// Difference estimates the mean of from less the mean of to, such as the drop from the edge to a point behind
// it: u^2 = sum of max(sp^2/m, q^2/12) over both. noise is what Noise gives for all that was read alike. It
// returns ErrTooFew when either is empty.
func Difference(from, to []length.Length, noise Repeatability, g Accuracy) (Estimate, error) {
	e, err := newEstimate(noise, g, from, to)
	if err != nil {
		return Estimate{}, err
	}
	e.Noise.Sets = max(2, noise.Sets)
	e.only(MeanLength(from)-MeanLength(to), []float64{1, -1}, []int{len(from), len(to)})
	return e, nil
}

// Width estimates one quantity that is read directly, such as the width of a land, as the mean of its
// repeats: u^2 = max(sp^2/m, q^2/12). One reading without repeats or a study is known to its step alone, u = q/sqrt(12)
// with endless degrees of freedom. noise is as for Difference. It returns ErrTooFew when there is no reading.
func Width(repeats []length.Length, noise Repeatability, g Accuracy) (Estimate, error) {
	e, err := newEstimate(noise, g, repeats)
	if err != nil {
		return Estimate{}, err
	}
	e.Noise.Sets = max(1, noise.Sets)
	e.only(MeanLength(repeats), []float64{1}, []int{len(repeats)})
	e.alone()
	return e, nil
}

// alone gives the estimate of a size that was read once, with a gauge that nobody studied, the rounding as its whole
// uncertainty.
func (e *Estimate) alone() {
	if e.Noise.Known() || e.gauge.Resolution == 0 {
		return
	}
	e.Noise = Repeatability{Micrometres: math.Sqrt(e.gauge.steady()), DF: math.MaxInt32, Sets: e.Noise.Sets, ByStep: true}
	f := &e.figures[0]
	f.parts[0].variance, f.parts[0].df = f.steps/12, math.Inf(1)
}

// Together says that n estimates are judged together, such as the widths of n flutes. A tool is accepted when each
// of them is, which no single one can spoil, and rejected at 5 %/n each, so that both risks hold for the tool.
func (e Estimate) Together(n int) Estimate {
	e.family = n
	return e
}

// LargestDiameter estimates the cutting diameter by comparison with a master pin whose size is taken as true:
//
//	size + 2 (max over flutes of mean - mean on the master)
//
// The true diameter exceeds the reading only if one given difference was misread, t(0.95, nu); the reading
// exceeds it when any of N differences from the master was, t(1 - 0.05/N, nu) (Bonferroni). It returns
// ErrTooFew without a flute, or when a flute or the master has no reading.
func LargestDiameter(size length.Length, master []length.Length, flutes [][]length.Length, g Accuracy) (Estimate, error) {
	if len(flutes) == 0 {
		return Estimate{}, fmt.Errorf("no flute: %w", ErrTooFew)
	}
	if size <= 0 || size > mostReading {
		return Estimate{}, fmt.Errorf("master %v: want more than nought, at most a kilometre", size)
	}
	sets := append([][]length.Length{master}, flutes...)
	noise, err := g.Noise(sets...)
	if err != nil {
		return Estimate{}, err
	}
	e, err := newEstimate(noise, g, sets...)
	if err != nil {
		return Estimate{}, err
	}
	e.Noise.Sets = len(sets)
	e.kind, e.variants = topmost, [][2]int{{0, len(flutes)}}
	e.own *= 2
	zero := MeanLength(master)
	for k, repeats := range flutes {
		reads := size + 2*(MeanLength(repeats)-zero)
		if k == 0 || reads > e.Value {
			e.Value = reads
		}
		e.figures = append(e.figures, e.figure(reads, 4/float64(len(repeats))+4/float64(len(master)), 8, 2))
	}
	return e, nil
}
