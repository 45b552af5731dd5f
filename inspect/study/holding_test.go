package study

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Four flutes seated three times with offsets of (3, 0), (-3, 0) and (0, 0) um: s1^2 = (9 + 9)/(2 x 2) = 4.5.
func TestAnalyseHoldingByHand(t *testing.T) {
	const um = length.Micrometre
	rounds := [][]length.Length{{13 * um, 20 * um, -13 * um, 5 * um}, {7 * um, 20 * um, -7 * um, 5 * um}, {10 * um, 20 * um, -10 * um, 5 * um}}
	h, err := AnalyseHolding(rounds, statistics.Repeatability{})
	if err != nil || math.Abs(h.SD-math.Sqrt(4.5)) > 1e-9 || h.NU != 4 || h.Seats != 3 || h.Noise {
		t.Errorf("%+v, %v; want %v with 4 degrees of freedom", h, err, math.Sqrt(4.5))
	}
	// A studied repeatability of 1 um makes up 2/4 of it.
	h, err = AnalyseHolding(rounds, statistics.Repeatability{Micrometres: 1, DF: 1000})
	if err != nil || math.Abs(h.SD-2) > 1e-9 || h.NU != 3 {
		t.Errorf("%+v, %v; want 2 um", h, err)
	}
	// Of one that scatters as much as the seats nothing more shows.
	if h, err = AnalyseHolding(rounds, statistics.Repeatability{Micrometres: 3, DF: 1000}); err != nil || !h.Noise {
		t.Errorf("%+v, %v; want noise", h, err)
	}
}

func TestAnalyseHoldingRefuses(t *testing.T) {
	two := [][]length.Length{{0, 0, 0}, {1, 0, 0}}
	for _, test := range []struct {
		rounds [][]length.Length
		want   string
	}{
		{nil, "at least 3 times"}, {two, "at least 3 times"}, {[][]length.Length{{0, 1}, {0, 1}, {0, 1}}, "three flutes"},
		{append(two, []length.Length{0}), "a round of 1 flutes"}, {[][]length.Length{{0, 1, 2}, {0, 1, 2}, {0, 1, 2}}, "resolution hides"},
	} {
		if _, err := AnalyseHolding(test.rounds, statistics.Repeatability{}); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%v: %v, want %q", test.rounds, err, test.want)
		}
	}
}

// The interval contains the error of holding that the readings were made with.
func TestHoldingIntervalsCover(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	const studies = 600
	for _, n := range []int{4, 6} {
		missed := 0
		for range studies {
			var rounds [][]length.Length
			for range 8 {
				x, y := 3*random.NormFloat64(), 3*random.NormFloat64()
				var round []length.Length
				for k := range n {
					angle := 2 * math.Pi * float64(k) / float64(n)
					round = append(round, length.Length(1e6*(x*math.Cos(angle)+y*math.Sin(angle)+random.NormFloat64())))
				}
				rounds = append(rounds, round)
			}
			h, err := AnalyseHolding(rounds, statistics.Repeatability{Micrometres: 1, DF: 100_000})
			if err != nil {
				t.Fatal(err)
			}
			if 3 < h.Lower || 3 > h.Upper {
				missed++
			}
		}
		if share := float64(missed) / studies; share > 0.05+4*math.Sqrt(0.05*0.95/studies) {
			t.Errorf("%d flutes: outside the interval in %.3f", n, share)
		}
	}
}
