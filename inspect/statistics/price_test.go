package statistics

import (
	"math"
	"math/rand/v2"
	"testing"

	"flutelog/inspect/length"
)

// rounds returns what reading so many rounds of r leaves.
func first(r Readings, rounds int) Readings {
	out := r
	out.Flutes = make([][]length.Length, len(r.Flutes))
	for k := range r.Flutes {
		out.Flutes[k] = r.Flutes[k][:rounds]
	}
	return out
}

// oneByOne reads rounds until the verdict is sure, ten at the most, and returns it with the rounds that it took.
func oneByOne(t *testing.T, r Readings, limit length.Length) (Verdict, int) {
	t.Helper()
	r.Looks = true
	for m := 2; ; m++ {
		if v := verdictOf(t, first(r, m), limit); v != Undecided || m == MostLooks {
			return v, m
		}
	}
}

func verdictOf(t *testing.T, r Readings, limit length.Length) Verdict {
	t.Helper()
	h, err := r.Heights()
	if err != nil {
		t.Fatal(err)
	}
	d, err := Decide(h.TIR(), nil, &limit, Guarded)
	if err != nil {
		t.Fatal(err)
	}
	return d.Verdict
}

// offset is a tool held off toward an angle, in radians, with a TIR of two radii.
func offset(n int, tir, toward float64) []float64 {
	h := make([]float64, n)
	for k := range h {
		h[k] = tir / 2 * math.Cos(2*math.Pi*float64(k)/float64(n)-toward)
	}
	return h
}

// The price of the guard: how often a good tool is left undecided, with a dial of 100 microinches that repeats to 50,
// studied with 50 degrees of freedom, on four flutes.
func TestPrice(t *testing.T) {
	b := bench{sigma: 50 * microinch, step: 100 * microinch, studyDF: 50}
	for _, test := range []struct {
		name       string
		tir, limit float64 // microinches
		heights    func(rng *rand.Rand, tir float64) []float64
		three, ten float64 // share left undecided after three rounds, and after up to ten
	}{
		{"offset toward flute 1, 80 % of 500", 400, 500, func(_ *rand.Rand, tir float64) []float64 { return offset(4, tir, 0) }, 0.40, 0.20},
		{"offset toward flute 1, 60 % of 300", 180, 300, func(_ *rand.Rand, tir float64) []float64 { return offset(4, tir, 0) }, 0.22, 0.08},
		{"any offset, 80 % of 500", 400, 500, anyOffset, 0.41, 0.20},
		{"any offset, 60 % of 300", 180, 300, anyOffset, 0.28, 0.08},
		{"two tied at one end, 80 % of 500", 400, 500, tied, 1, 0.35},
		{"two tied at one end, 60 % of 300", 180, 300, tied, 1, 0.15},
	} {
		rng := rand.New(rand.NewPCG(7, 7))
		var three, ten float64
		for range draws() {
			r := b.take(rng, test.heights(rng, test.tir*microinch), MostLooks)
			limit := length.Length(math.Round(test.limit * microinch * 1e6))
			if verdictOf(t, first(r, 3), limit) != Accept {
				three++
			}
			if v, _ := oneByOne(t, r, limit); v != Accept {
				ten++
			}
		}
		three /= float64(draws())
		ten /= float64(draws())
		t.Logf("%s: undecided %.3f after three rounds, %.3f after ten looks", test.name, three, ten)
		if three > within(test.three) || ten > within(test.ten) {
			t.Errorf("%s: undecided %.3f after three rounds, %.3f after ten looks; want at most %.2f and %.2f", test.name, three, ten, test.three, test.ten)
		}
	}
}

func anyOffset(rng *rand.Rand, tir float64) []float64 {
	h := offset(4, tir, 2*math.Pi*rng.Float64())
	low, high := math.Inf(1), math.Inf(-1)
	for _, x := range h {
		low, high = min(low, x), max(high, x)
	}
	for k := range h {
		h[k] *= tir / (high - low)
	}
	return h
}

func tied(_ *rand.Rand, tir float64) []float64 { return []float64{tir, 0, 0, tir / 2} }

// A plain good tool, at 40 % of its limit, needs two rounds in 95 % with a study of the gauge of 10 degrees of
// freedom, and three without any.
func TestGoodToolsNeedFewRounds(t *testing.T) {
	for _, test := range []struct{ studyDF, rounds int }{{10, 2}, {0, 3}} {
		b := bench{sigma: 50 * microinch, step: 100 * microinch, studyDF: test.studyDF}
		rng := rand.New(rand.NewPCG(8, 8))
		soon := 0.0
		limit := length.Length(500 * microinch * 1e6)
		for range draws() {
			r := b.take(rng, offset(4, 200*microinch, 0), MostLooks)
			if v, m := oneByOne(t, r, limit); v == Accept && m <= test.rounds {
				soon++
			}
		}
		soon /= float64(draws())
		t.Logf("study of %d degrees of freedom: settled within %d rounds in %.3f", test.studyDF, test.rounds, soon)
		if soon < 0.95-4*math.Sqrt(0.05*0.95/float64(draws())) {
			t.Errorf("study of %d degrees of freedom: settled within %d rounds in %.3f only", test.studyDF, test.rounds, soon)
		}
	}
}

// Reading on until the verdict is sure accepts a tool just over its limit in at most 5.5 %.
func TestSimulatedStopping(t *testing.T) {
	const sigma = 50 * microinch
	flutes := []int{4}
	if long() {
		flutes, _ = sizes()
	}
	worst := 0.0
	for _, b := range []bench{
		{sigma: sigma, step: sigma / 10}, {sigma: sigma, step: sigma}, {sigma: sigma, step: 2 * sigma, studyDF: 50},
		{sigma: sigma, step: 2.5 * sigma, studyDF: 20}, {sigma: sigma, step: 4 * sigma, studyDF: 20}, {sigma: sigma, step: 2 * sigma, noise: "t3"}, {sigma: sigma, step: sigma, noise: "uniform"},
		{sigma: sigma, step: sigma, reseat: 2 * sigma}, {sigma: sigma, step: sigma, drift: 4 * sigma},
	} {
		for _, n := range flutes {
			rng := rand.New(rand.NewPCG(uint64(n), 9))
			wrong := 0.0
			const tir = 500 * microinch
			limit := length.Length(math.Round(tir*1e6)) - 1
			for range draws() {
				r := b.take(rng, shapes["two extremes"](rng, n, tir), MostLooks)
				if v, _ := oneByOne(t, r, limit); v == Accept {
					wrong++
				}
			}
			wrong /= float64(draws())
			if wrong > worst {
				worst = wrong
			}
			if wrong > within(0.055) {
				t.Errorf("%+v, %d flutes: accepted wrongly in %.4f", b, n, wrong)
			}
		}
	}
	t.Logf("accepted wrongly at most %.4f", worst)
}
