package trend

import (
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"flutelog/inspect/length"

	"gonum.org/v1/gonum/mat"
)

func wheel(t testing.TB, resolution length.Length, tools ...[]length.Length) WheelTrend {
	t.Helper()
	var w Wheel
	for _, heights := range tools {
		if err := w.Add(heights, nil, resolution); err != nil {
			t.Fatal(err)
		}
	}
	return w.Trend()
}

func heights(t testing.TB, micrometres []float64) []length.Length {
	t.Helper()
	hs := make([]length.Length, len(micrometres))
	for i, um := range micrometres {
		h, err := length.FromMicrometres(um)
		if err != nil {
			t.Fatal(err)
		}
		hs[i] = h
	}
	return hs
}

// The slope of a tool is that of a regression on cosine, sine and place together, solved by gonum, so that an offset is no part
// of it.
func TestWheelAgainstGonum(t *testing.T) {
	for _, tool := range [][]float64{{100, 101.2, 101.9, 103.5}, {0.4, 0, 1.6, 2.2, 5}, {-5, -4.1, -3.9, -1.2, -1.5, 0.3}} {
		n := len(tool)
		var half []int // the round begins half a turn on
		for k := range n {
			half = append(half, (k+n/2)%n+1)
		}
		for _, order := range [][]int{nil, half} {
			place := make([]float64, n)
			for k := range n {
				if order == nil {
					place[k] = float64(k)
				} else {
					place[order[k]-1] = float64(k)
				}
			}
			x := mat.NewDense(n, 4, nil)
			for k := range n {
				angle := 2 * math.Pi * float64(k) / float64(n)
				x.SetRow(k, []float64{1, math.Cos(angle), math.Sin(angle), place[k]})
			}
			var beta mat.VecDense
			if err := beta.SolveVec(x, mat.NewVecDense(n, tool)); err != nil {
				t.Fatal(err)
			}
			var w Wheel
			if err := w.Add(heights(t, tool), order, length.Micrometre/10); err != nil {
				t.Fatal(err)
			}
			near(t, "slope", w.mean, beta.AtVec(3), 1e-5)
		}
	}
}

func TestWheelTrend(t *testing.T) {
	rising := []length.Length{0, length.Micrometre, 2 * length.Micrometre, 3 * length.Micrometre}
	falling := []length.Length{3 * length.Micrometre, 2 * length.Micrometre, length.Micrometre, 0}
	off := []length.Length{20 * length.Micrometre, 0, -20 * length.Micrometre, 0}
	oneStep := []length.Length{0, 0, 0, length.Tenth}
	tests := []struct {
		name       string
		resolution length.Length
		tools      [][]length.Length
		state      WheelState
		text       string
	}{
		{"two tools", 0, [][]length.Length{rising, rising}, WheelNotJudged, "2 tools of four flutes and more since the last dress: too few to judge the wheel, 3 are needed"},
		{"three flutes tell nothing", 0, [][]length.Length{rising[:3], rising[:3], rising[:3]}, WheelNotJudged, "0 tools"},
		{"rising", 0, [][]length.Length{rising, rising, rising}, WheelWearing,
			"for the last 3 tools each flute came out higher than the one ground before it, by 1.0 um on average: the wheel is wearing during the round, dress it"},
		{"falling", 0, [][]length.Length{falling, falling, falling}, WheelFalling, "by 1.0 um on average: that is not wear of the wheel"},
		{"both ways", 0, [][]length.Length{rising, falling, rising, falling}, WheelSteady, "for the last 4 tools no wear of the wheel shows above the noise"},
		{"always held off the same way", 0, [][]length.Length{off, off, off, off, off}, WheelSteady, "no wear"},
		{"one step of the gauge", length.Tenth, [][]length.Length{oneStep, oneStep, oneStep}, WheelSteady, "no wear"},
	}
	for _, test := range tests {
		got := wheel(t, test.resolution, test.tools...)
		text, err := got.Text(length.Um)
		if err != nil {
			t.Fatal(err)
		}
		if got.State != test.state || !strings.Contains(text, test.text) {
			t.Errorf("%s: got %+v, %q, want %s, %q", test.name, got, text, test.state, test.text)
		}
	}
}

// What is spent on all looks together is five per cent: the sum of 2/(n (n-1)) from three on is one.
func TestWheelLooksSpendFivePerCent(t *testing.T) {
	sum := 0.0
	for n := leastWheelTools; n < 100_000; n++ {
		sum += risk(n)
	}
	if math.Abs(sum-0.05) > 1e-5 {
		t.Errorf("looks spend %v", sum)
	}
}

func TestWheelRefuses(t *testing.T) {
	var w Wheel
	if err := w.Add([]length.Length{0}, nil, 0); err == nil {
		t.Error("a tool of one flute was taken")
	}
	if err := w.Add([]length.Length{0, 0}, nil, -1); err == nil {
		t.Error("a resolution below zero was taken")
	}
	for _, order := range [][]int{{1}, {1, 1, 2, 3}, {0, 1, 2, 3}} {
		if err := w.Add(make([]length.Length, 4), order, 0); err == nil {
			t.Errorf("order %v was taken", order)
		}
	}
	if got := w.Trend(); got.Tools != 0 {
		t.Errorf("refused tools were counted: %+v", got)
	}
}

// Tools held off-centre, always the same way or in a different direction each time, rounded to the gauge, looked at after
// each of thirty: a wheel that does not wear is blamed in at most 5 % of dresses, and one that does is found.
func TestWheelSimulated(t *testing.T) {
	trials := 100
	if os.Getenv("FLUTELOG_LONG") != "" {
		trials = 20_000
	}
	random := rand.New(rand.NewPCG(9, 10))
	for _, n := range []int{4, 6} {
		for _, same := range []bool{false, true} {
			for _, slope := range []float64{0, 1} {
				wearing, wrong := 0, 0
				for range trials {
					var w Wheel
					direction := 2 * math.Pi * random.Float64()
					for range 30 {
						if !same {
							direction = 2 * math.Pi * random.Float64()
						}
						tool := make([]float64, n)
						for k := range tool {
							tool[k] = math.Round(slope*float64(k) + 5*math.Cos(direction+2*math.Pi*float64(k)/float64(n)) + 0.7*random.NormFloat64())
						}
						if err := w.Add(heights(t, tool), nil, length.Micrometre); err != nil {
							t.Fatal(err)
						}
					}
					switch w.Trend().State {
					case WheelWearing:
						wearing++
					case WheelFalling:
						wrong++
					}
				}
				share := float64(wearing) / float64(trials)
				t.Logf("%d flutes, always held the same way %v, slope %v: wearing in %.3f, falling in %.3f", n, same, slope, share, float64(wrong)/float64(trials))
				if slope == 0 && float64(wearing+wrong)/float64(trials) > 0.05+3*math.Sqrt(0.05*0.95/float64(trials)) {
					t.Errorf("%d flutes, held the same way %v: a wheel that does not wear was blamed in %d of %d dresses", n, same, wearing+wrong, trials)
				}
				if slope > 0 && share < 0.8 {
					t.Errorf("%d flutes, held the same way %v: a wheel that wears was found in %.3f only", n, same, share)
				}
			}
		}
	}
}
