package study

import (
	"errors"
	"fmt"
	"math"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Holding is how far off centre a tool comes to sit from one seating to the next: the standard deviation per axis with its
// two-sided 95 % confidence limits, in micrometres.
type Holding struct {
	SD    float64 `json:"sd_um"`
	Lower float64 `json:"lower_um"`
	Upper float64 `json:"upper_um"`
	NU    int     `json:"nu"`    // degrees of freedom
	Seats int     `json:"seats"` // how often the tool was seated
	// Noise says that no more shows than the noise of the readings: SD is what they could hide.
	Noise bool `json:"noise"`
}

// leastSeats is how often a tool is seated at least.
const leastSeats = 3

// AnalyseHolding returns the error of holding from one tool that was taken out and seated again before each round, every flute
// read once a round. The first harmonic of a round is where the tool came to sit:
//
//	s1^2 = sum over rounds of |(a, b) - mean|^2 / (2 (m - 1)),   sd^2 = s1^2 - 2 sp^2/N
//
// with sp the repeatability of the gauge, from its studies or, from five flutes on, from what the harmonics leave; unknown it
// is nought, which makes the holding look no better than it is. rounds holds the heights of all flutes of each round;
// at least three flutes and three rounds. Where no more than noise shows, SD is s1. It refuses rounds that are not whole, and
// readings all alike.
func AnalyseHolding(rounds [][]length.Length, studied statistics.Repeatability) (Holding, error) {
	if len(rounds) < leastSeats || len(rounds[0]) < 3 {
		return Holding{}, fmt.Errorf("analysing holding: a tool of three flutes or more, seated at least %d times, is needed", leastSeats)
	}
	n, m := len(rounds[0]), len(rounds)
	xs, ys, rest := make([]float64, m), make([]float64, m), make([]float64, 0, n*m)
	mean := make([]float64, n)
	for _, round := range rounds {
		if len(round) != n {
			return Holding{}, fmt.Errorf("analysing holding: a round of %d flutes among rounds of %d", len(round), n)
		}
		for k, l := range round {
			mean[k] += (l - rounds[0][0]).Micrometres() / float64(m)
		}
	}
	for i, round := range rounds {
		level := 0.0
		for k, l := range round {
			level += ((l - rounds[0][0]).Micrometres() - mean[k]) / float64(n)
		}
		left := make([]float64, n)
		for k, l := range round {
			left[k] = (l - rounds[0][0]).Micrometres() - mean[k] - level
			angle := 2 * math.Pi * float64(k) / float64(n)
			xs[i] += left[k] * math.Cos(angle) * 2 / float64(n)
			ys[i] += left[k] * math.Sin(angle) * 2 / float64(n)
		}
		for k := range left {
			angle := 2 * math.Pi * float64(k) / float64(n)
			rest = append(rest, left[k]-xs[i]*math.Cos(angle)-ys[i]*math.Sin(angle))
		}
	}
	nu := 2 * float64(m-1)
	harmonic := (squares(xs, 0) + squares(ys, 0)) / nu // the mean of all rounds is taken out of each
	if harmonic == 0 {
		return Holding{}, errors.New("analysing holding: no round differs from another: the resolution hides it")
	}
	noise := statistics.Repeatability{}
	if df := (n - 3) * (m - 1); n >= 5 {
		noise = statistics.Repeatability{Micrometres: math.Sqrt(squares(rest, 0) / float64(df)), DF: df}
	}
	noise = noise.With(studied)
	h := Holding{Seats: m, NU: int(nu), SD: math.Sqrt(harmonic)}
	ofNoise := noise.Micrometres * noise.Micrometres * 2 / float64(n)
	if noise.Known() && harmonic > ofNoise*statistics.FQuantile(0.95, nu, float64(noise.DF)) {
		variance := harmonic - ofNoise
		h.SD = math.Sqrt(variance)
		h.NU = max(1, int(variance*variance/(harmonic*harmonic/nu+ofNoise*ofNoise/float64(noise.DF))))
	} else {
		h.Noise = noise.Known()
	}
	i := ofVariance(h.SD*h.SD, float64(h.NU))
	h.Lower, h.Upper = i.Lower, i.Upper
	return h, nil
}
