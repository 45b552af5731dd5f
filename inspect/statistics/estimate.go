package statistics

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// Gauge is what judging needs to know of a gauge.
type Gauge struct {
	Resolution length.Length // the step in which it reads
	// PermissibleError is the most by which a difference of two readings may be wrong, to either side; nought
	// when none is stated. It is taken as equally likely anywhere within (JCGM 100:2008 4.3.7).
	PermissibleError length.Length
	Studied          Repeatability // from a study, for readings that were not repeated
}

func (g Gauge) check() error {
	if g.Resolution < 0 || g.Resolution > mostReading {
		return fmt.Errorf("resolution %v: want nought to a kilometre", g.Resolution)
	}
	if g.PermissibleError < 0 || g.PermissibleError > mostReading {
		return fmt.Errorf("permissible error %v: want nought to a kilometre", g.PermissibleError)
	}
	return nil
}

// Noise returns the repeatability to judge these sets of repeats by: their own, pooled, or the gauge's
// studied one when nothing was repeated. Without either the result is not Known. Errors are those of Pool.
func (g Gauge) Noise(sets ...[]length.Length) (Repeatability, error) {
	noise, err := Pool(sets...)
	if err == nil && !noise.Known() {
		noise = g.Studied
	}
	return noise, err
}

// Estimate is a value worked out from the means of repeated readings, and what is needed to say how well it
// is known. Every band rests on a standard uncertainty in which sp is the repeatability, q the resolution, m
// the repeats behind a mean and c what the mean counts in the value:
//
//	u^2 = sum c^2 (sp^2/m + q^2/12)
//
// A band is never less than what rounding alone can do: readings that all fall on one step say nothing of
// where in the step they lie, whatever their number. (Without that floor, a gauge that repeats within its
// step accepted wrongly in up to 23 % of simulated inspections.)
type Estimate struct {
	Value length.Length
	Noise Repeatability
	gauge Gauge

	repeats    int     // fewest readings behind a mean
	sets       int     // sets of repeats that more repeats would be pooled over
	squares    float64 // sum c^2
	perReading float64 // sum c^2/m
	rounding   float64 // sum |c|/2
	errors     float64 // what the permissible error counts in the value
	extremes   bool    // the value rests on the highest or lowest of several
	flutes     int     // whose range it is; nought when it is no range
	tails      [3]int  // by side: the 5 % risk is shared by that many differences
}

// A side says where the true value may lie.
type side int

const (
	above side = iota // above the estimate, at most 5 %
	below             // below it, at most 5 %
	both              // outside plus or minus the band, at most 5 %
)

// precision is what more repeats would change.
type precision struct{ perReading, df float64 }

func (e Estimate) now() precision { return precision{e.perReading, float64(e.Noise.DF)} }

// with foresees m repeats of every mean.
func (e Estimate) with(m int) precision {
	return precision{e.squares / float64(m), float64(e.sets * (m - 1))}
}

// known says whether the readings tell how well the value is known. Readings all alike of a gauge without a
// stated resolution do not.
func (e Estimate) known() bool { return e.Noise.Known() && e.randomVariance(e.now()) > 0 }

// randomVariance returns u^2, in square micrometres.
func (e Estimate) randomVariance(p precision) float64 {
	sp, q := e.Noise.Micrometres, e.gauge.Resolution.Micrometres()
	return p.perReading*sp*sp + e.squares*q*q/12
}

// factor returns what u is multiplied by: Student's t, or for a range the studentized range over sqrt(2),
// since u is that of a difference of two means.
func (e Estimate) factor(s side, df float64) float64 {
	if e.flutes > 0 && s != above {
		return StudentizedRangeQuantile(0.95, e.flutes, df) / math.Sqrt2
	}
	return TQuantile(1-0.05/float64(e.tails[s]), df)
}

// band returns how far the true value may lie on side s, rounded outward. With E the permissible error, the
// larger of
//
//	one difference:                       factor sqrt(u^2 + E^2/3)
//	extremes, the true value above:       sqrt((factor u)^2 + (0.95 E)^2)
//	extremes, the true value below, both: factor u + 0.95 E
//
// and of what a steady gauge still hides, sum |c| q/2 + 0.95 E. An extreme of several readings is off to one
// side already, so there E is added: joined in quadrature, up to 10 % of simulated rejections were wrong.
func (e Estimate) band(s side, p precision) length.Length {
	factor := e.factor(s, p.df)
	random := factor * math.Sqrt(e.randomVariance(p))
	systematic := e.errors * e.gauge.PermissibleError.Micrometres()
	least := e.rounding*e.gauge.Resolution.Micrometres() + 0.95*systematic
	var wide float64
	switch {
	case !e.extremes:
		wide = math.Hypot(random, factor*systematic/math.Sqrt(3))
	case s == above:
		wide = math.Hypot(random, 0.95*systematic)
	default:
		wide = random + 0.95*systematic
	}
	return outward(math.Max(wide, least))
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
// do not tell it.
func (e Estimate) Uncertainty() (length.Length, bool) {
	if !e.known() {
		return 0, false
	}
	return e.band(both, e.now()), true
}

// AboveNoise says whether the value can be told from nought at all: a TIR that is within its uncertainty is
// not distinguishable from gauge noise, though it may well be accepted. A perfect tool is called
// distinguishable in at most 5 %. known is false when the readings do not tell.
func (e Estimate) AboveNoise() (distinguishable, known bool) {
	u, known := e.Uncertainty()
	return known && e.Value.Abs() > u, known
}

// newEstimate checks what every estimate is made of, and fills in what they share.
func newEstimate(noise Repeatability, g Gauge, sets ...[]length.Length) (Estimate, error) {
	if err := noise.check(); err != nil {
		return Estimate{}, err
	}
	if err := g.check(); err != nil {
		return Estimate{}, err
	}
	e := Estimate{Noise: noise, gauge: g, repeats: mostRepeats, sets: max(noise.Sets, len(sets)), tails: [3]int{1, 1, 2}}
	for i, repeats := range sets {
		if err := checkReadings(repeats); err != nil {
			return Estimate{}, fmt.Errorf("set %d: %w", i+1, err)
		}
		e.repeats = min(e.repeats, len(repeats))
	}
	return e, nil
}

// TIR estimates the total indicator reading from the repeats of each flute:
//
//	max over flutes of mean - min over flutes of mean
//
// Its bands hold whatever the true heights: the true TIR exceeds the reading only if one given difference was
// misread, t(0.95, nu); the reading exceeds the true TIR by no more than the range of the flutes' errors,
// q(0.95; N, nu) (studentized range). With unequal repeats the flute with the fewest counts for all. It
// returns ErrTooFew for fewer than two flutes, or for a flute without a reading.
func TIR(flutes [][]length.Length, g Gauge) (Estimate, error) {
	if len(flutes) < 2 {
		return Estimate{}, fmt.Errorf("%d flutes: %w", len(flutes), ErrTooFew)
	}
	noise, err := g.Noise(flutes...)
	if err != nil {
		return Estimate{}, err
	}
	e, err := newEstimate(noise, g, flutes...)
	if err != nil {
		return Estimate{}, err
	}
	low, high := extremes(flutes)
	e.Value = high - low
	e.squares, e.perReading, e.rounding, e.errors = 2, 2/float64(e.repeats), 1, 1
	e.extremes, e.flutes = true, len(flutes)
	return e, nil
}

func extremes(flutes [][]length.Length) (low, high length.Length) {
	low = MeanLength(flutes[0])
	high = low
	for _, repeats := range flutes[1:] {
		mean := MeanLength(repeats)
		low, high = min(low, mean), max(high, mean)
	}
	return low, high
}

// Difference estimates the mean of from less the mean of to, such as the drop from the edge to a point behind
// it. noise is what Noise gives for all that was read alike. It returns ErrTooFew when either is empty.
func Difference(from, to []length.Length, noise Repeatability, g Gauge) (Estimate, error) {
	e, err := newEstimate(noise, g, from, to)
	if err != nil {
		return Estimate{}, err
	}
	e.Value = MeanLength(from) - MeanLength(to)
	e.squares, e.perReading, e.rounding, e.errors = 2, 1/float64(len(from))+1/float64(len(to)), 1, 1
	return e, nil
}

// Width estimates one quantity that is read directly, such as the width of a land, as the mean of its
// repeats. noise is as for Difference. It returns ErrTooFew when there is no reading.
func Width(repeats []length.Length, noise Repeatability, g Gauge) (Estimate, error) {
	e, err := newEstimate(noise, g, repeats)
	if err != nil {
		return Estimate{}, err
	}
	e.Value = MeanLength(repeats)
	e.squares, e.perReading, e.rounding, e.errors = 1, 1/float64(len(repeats)), 0.5, 1
	return e, nil
}

// LargestDiameter estimates the cutting diameter by comparison with a master pin whose size is taken as true:
//
//	size + 2 (max over flutes of mean - mean on the master)
//
// The true diameter exceeds the reading only if one given difference was misread, t(0.95, nu); the reading
// exceeds it when any of N differences from the master was, t(1 - 0.05/N, nu) (Bonferroni). It returns
// ErrTooFew without a flute, or when a flute or the master has no reading.
func LargestDiameter(size length.Length, master []length.Length, flutes [][]length.Length, g Gauge) (Estimate, error) {
	e, err := againstMaster(size, master, flutes, g)
	if err != nil {
		return Estimate{}, err
	}
	n := len(flutes)
	_, high := extremes(flutes)
	e.Value = size + 2*(high-MeanLength(master))
	e.squares, e.perReading = 8, 4*(1/float64(e.repeats)+1/float64(len(master)))
	e.extremes, e.tails = true, [3]int{1, n, n + 1}
	return e, nil
}

// MeanDiameter estimates the mean diameter over the flutes by comparison with a master pin whose size is taken
// as true:
//
//	size + 2 (mean over flutes of mean - mean on the master)
//
// Errors are those of LargestDiameter.
func MeanDiameter(size length.Length, master []length.Length, flutes [][]length.Length, g Gauge) (Estimate, error) {
	e, err := againstMaster(size, master, flutes, g)
	if err != nil {
		return Estimate{}, err
	}
	n := float64(len(flutes))
	means := make([]length.Length, len(flutes))
	shares := 0.0
	for i, repeats := range flutes {
		means[i] = MeanLength(repeats)
		shares += 1 / float64(len(repeats))
	}
	e.Value = size + 2*(MeanLength(means)-MeanLength(master))
	e.squares, e.perReading = 4*(1/n+1), 4*(shares/(n*n)+1/float64(len(master)))
	return e, nil
}

func againstMaster(size length.Length, master []length.Length, flutes [][]length.Length, g Gauge) (Estimate, error) {
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
	e.rounding, e.errors = 2, 2
	return e, err
}

// StandardUncertainty returns the standard uncertainty of the value with the degrees of freedom behind it, and false
// when the readings do not tell it:
//
//	u^2 = sum c^2/m sp^2 + sum c^2 q^2/12 + (c E)^2/3
//
// Source: JCGM 100:2008 4.3.7 for step and permissible error as rectangular distributions.
func (e Estimate) StandardUncertainty() (u length.Length, df int, known bool) {
	if !e.known() {
		return 0, 0, false
	}
	systematic := e.errors * e.gauge.PermissibleError.Micrometres()
	return outward(math.Sqrt(e.randomVariance(e.now()) + systematic*systematic/3)), e.Noise.DF, true
}
