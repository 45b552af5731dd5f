package statistics

import (
	"fmt"
	"math"
)

// Suspect is a reading that stands apart from the others of its flute.
type Suspect struct {
	Flute int // from 1
	// Repeat is the round in which it was read, from 1; nought when two rounds differ and nothing tells which of
	// them is wrong.
	Repeat int
}

func (s Suspect) String() string {
	if s.Repeat == 0 {
		return fmt.Sprintf("the two readings of flute %d lie too far apart: read it again", s.Flute)
	}
	return fmt.Sprintf("reading %d of flute %d stands apart from its others: read it again", s.Repeat, s.Flute)
}

// suspectLevel is how often clean readings of all flutes together are called suspect.
const suspectLevel = 0.02

// suspect looks for a misreading: the largest residual r of all n readings, against the spread that the others leave,
// pooled over all flutes and with the gauge's studies:
//
//	t = r / sqrt((s^2 + q^2/12) (1 - leverage)),  suspect when P(|t(nu)| > t) < 2 %/n (Bonferroni)
//
// The step is added to the spread, or readings that are steady but for one that fell on the next step would be
// called wrong. Source: externally studentized residuals, textbook regression; the step is our own, confirmed
// by simulation.
func (h *Heights) suspect(all []taken) {
	n := len(h.readings.Flutes)
	m, squares, slope, df := drifting(all, n, -1)
	worst, at := 0.0, -1
	var flute int
	for i, t := range all {
		left := t.y - m.heights[t.flute] - slope*t.at
		share := m.shares[t.flute]
		if m.sxx > 0 {
			d := t.at - m.at[t.flute]
			share += d * d / m.sxx
		}
		if t.closing || share > 1-1e-9 {
			continue
		}
		without := Repeatability{}
		if df > 1 {
			without.DF = df - 1
			without.Micrometres = math.Sqrt(math.Max(0, squares-left*left/(1-share)) / float64(df-1))
		}
		without = without.With(h.readings.Studied)
		if !without.Known() {
			return
		}
		s := math.Sqrt((without.Micrometres*without.Micrometres + h.readings.steady()) * (1 - share))
		if s == 0 {
			continue
		}
		ratio := math.Abs(left) / s / TQuantile(1-suspectLevel/2/float64(len(all)), float64(without.DF))
		if ratio > worst*(1+1e-9) {
			worst, at, flute = ratio, i, t.flute
		}
	}
	if worst <= 1 {
		return
	}
	h.Suspect = &Suspect{flute + 1, all[at].round + 1}
	pair := len(h.readings.Flutes[flute]) == 2
	if pair {
		h.Suspect.Repeat = 0
	}
	// What is decided must hold with the reading and without it, or without either of a pair.
	for i, t := range all {
		if i != at && !(pair && t.flute == flute && !t.closing) {
			continue
		}
		without, left, _, dfLeft := drifting(all, n, i)
		without.noise = h.spreadOf(left, dfLeft)
		if without.noise.Known() {
			h.models = append(h.models, without)
		}
	}
}

// Outlier is the result of Grubbs' test on one set of values. It flags; nothing is dropped by it.
type Outlier struct {
	Index       int // of the value farthest from the mean, counted from nought
	G, Critical float64
	Flagged     bool
}

// Grubbs tests the value farthest from the mean, on either side, at 5 %:
//
//	G = max |v[i] - mean| / s,   flagged when G > (n-1)/sqrt(n) sqrt(t^2 / (n-2+t^2)),   t = t(1 - 0.05/(2n), n-2)
//
// v holds at least three repeats of one thing. resolution is the step in which they were read, in the unit
// of v, nought when they are not rounded: s^2 = sd^2 + resolution^2/12, since of three readings 5, 5, 6 the
// last would else always be an outlier. It returns ErrTooFew for fewer than three values and ErrNotFinite
// for NaN and infinities. Source: Grubbs 1969, Technometrics 11(1); NIST/SEMATECH e-Handbook 1.3.5.17.1; the
// resolution is our own, confirmed by simulation.
func Grubbs(v []float64, resolution float64) (Outlier, error) {
	if err := check(v, 3); err != nil {
		return Outlier{}, err
	}
	if !(resolution >= 0) || math.IsInf(resolution, 1) {
		return Outlier{}, fmt.Errorf("resolution %v: %w", resolution, ErrNotFinite)
	}
	mean, err := Mean(v)
	if err != nil {
		return Outlier{}, err
	}
	sd, err := StandardDeviation(v)
	if err != nil {
		return Outlier{}, err
	}
	o := Outlier{Critical: grubbsCritical(float64(len(v)))}
	farthest := 0.0
	for i, x := range v {
		if d := math.Abs(x - mean); d > farthest {
			o.Index, farthest = i, d
		}
	}
	if spread := math.Hypot(sd, resolution/math.Sqrt(12)); spread > 0 {
		o.G = farthest / spread
	}
	o.Flagged = o.G > o.Critical
	return o, nil
}

func grubbsCritical(n float64) float64 {
	t := TQuantile(1-0.05/(2*n), n-2)
	return (n - 1) / math.Sqrt(n) * math.Sqrt(t*t/(n-2+t*t))
}
