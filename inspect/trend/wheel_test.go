package trend

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"flutelog/inspect/length"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

func wheel(t testing.TB, resolution length.Length, tools ...[]length.Length) WheelTrend {
	t.Helper()
	var w Wheel
	for _, heights := range tools {
		if err := w.Add(heights, resolution); err != nil {
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

// The slopes of the tools by gonum's linear regression, their mean and its t interval by gonum's distribution.
func TestWheelAgainstGonum(t *testing.T) {
	tools := [][]float64{{100, 101.2, 101.9, 103.5}, {0.4, 0, 1.6, 2.2}, {-5, -4.1, -3.9, -1.2, -1.5, 0.3}, {2, 3.5}, {7, 7, 9}}
	var slopes []float64
	var read [][]length.Length
	for _, tool := range tools {
		_, slope := stat.LinearRegression([]float64{0, 1, 2, 3, 4, 5}[:len(tool)], tool, nil, false)
		slopes = append(slopes, slope)
		read = append(read, heights(t, tool))
	}
	mean, sd := stat.MeanStdDev(slopes, nil)
	half := distuv.StudentsT{Sigma: 1, Nu: 4}.Quantile(0.975) * sd / math.Sqrt(5)
	got := wheel(t, length.Micrometre/10, read...)
	near(t, "slope", got.Slope.Value, mean, 1e-9)
	near(t, "lower", got.Slope.Lower, mean-half, 1e-9)
	near(t, "upper", got.Slope.Upper, mean+half, 1e-9)
	if got.State != WheelWearing || got.Tools != 5 {
		t.Errorf("got %+v, want a wheel wearing over 5 tools", got)
	}
}

func TestWheelTrend(t *testing.T) {
	rising := []length.Length{0, length.Micrometre, 2 * length.Micrometre, 3 * length.Micrometre}
	falling := []length.Length{3 * length.Micrometre, 2 * length.Micrometre, length.Micrometre, 0}
	oneStep := []length.Length{0, 0, 0, length.Tenth}
	tests := []struct {
		name       string
		resolution length.Length
		tools      [][]length.Length
		state      WheelState
		text       string
	}{
		{"two tools", 0, [][]length.Length{rising, rising}, WheelNotJudged, "2 tools since the last dress: too few to judge the wheel, 3 are needed"},
		{"rising", 0, [][]length.Length{rising, rising, rising}, WheelWearing,
			"for the last 3 tools each flute came out higher than the one ground before it, by 1.0 um on average: the wheel is wearing during the round, dress it"},
		{"falling", 0, [][]length.Length{falling, falling, falling}, WheelFalling, "by 1.0 um on average: that is not wear of the wheel"},
		{"both ways", 0, [][]length.Length{rising, falling, rising, falling}, WheelSteady, "for the last 4 tools no wear of the wheel shows above the noise"},
		// The mean slope is 0.3 tenths; by hand, the rounding alone gives it t(0.975, 2) sqrt(1/12/5/3) = 0.32.
		{"one step of the gauge", length.Tenth, [][]length.Length{oneStep, oneStep, oneStep}, WheelSteady, "no wear"},
		{"the same read finer", length.Tenth / 10, [][]length.Length{oneStep, oneStep, oneStep}, WheelWearing, "by 0.8 um"},
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

func TestWheelRefuses(t *testing.T) {
	var w Wheel
	if err := w.Add([]length.Length{0}, 0); err == nil {
		t.Error("a tool of one flute was taken")
	}
	if err := w.Add([]length.Length{0, 0}, -1); err == nil {
		t.Error("a resolution below zero was taken")
	}
	if got := w.Trend(); got.Tools != 0 {
		t.Errorf("refused tools were counted: %+v", got)
	}
}

// Tools held off-centre in a different direction each time, rounded to the gauge: the interval must hold the slope
// put in at least as often as it says, and a wheel that does not wear may not be blamed in more than 2.5 %.
func TestWheelSimulated(t *testing.T) {
	trials := 4000
	if testing.Short() {
		trials = 1000
	}
	random := rand.New(rand.NewPCG(9, 10))
	for _, slope := range []float64{0, 0.5} {
		held, wearing := 0, 0
		for range trials {
			var tools [][]length.Length
			for range 8 {
				offset, direction := 3*random.Float64(), 2*math.Pi*random.Float64()
				tool := make([]float64, 4)
				for k := range tool {
					h := slope*float64(k) + offset*math.Cos(direction+float64(k)*math.Pi/2) + 0.7*random.NormFloat64()
					tool[k] = math.Round(h)
				}
				tools = append(tools, heights(t, tool))
			}
			got := wheel(t, length.Micrometre, tools...)
			if got.Slope.Lower <= slope && slope <= got.Slope.Upper {
				held++
			}
			if got.State == WheelWearing {
				wearing++
			}
		}
		n := float64(trials)
		margin := 3 * math.Sqrt(0.05*0.95/n)
		t.Logf("slope %v: interval holds it in %.2f %%, wearing in %.2f %%", slope, 100*float64(held)/n, 100*float64(wearing)/n)
		if float64(held)/n < 0.95-margin {
			t.Errorf("slope %v: interval holds it in %d of %d", slope, held, trials)
		}
		if slope == 0 && float64(wearing)/n > 0.025+margin {
			t.Errorf("a wheel that does not wear was blamed in %d of %d", wearing, trials)
		}
		if slope > 0 && float64(wearing)/n < 0.2 {
			t.Errorf("a wheel that wears was found in %d of %d only", wearing, trials)
		}
	}
}
