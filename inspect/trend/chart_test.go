package trend

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/stat/distuv"

	"flutelog/inspect/published"
	"flutelog/inspect/statistics"
)

func accumulate(t testing.TB, kind Kind, size, keep int, values []float64) *Accumulator {
	t.Helper()
	a, err := NewAccumulator(kind, size, keep)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range values {
		if err := a.Add(x); err != nil {
			t.Fatal(err)
		}
	}
	return a
}

func chart(t testing.TB, kind Kind, size int, values []float64, fixed *Fixed) Chart {
	t.Helper()
	c, err := accumulate(t, kind, size, 1000, values).Chart(fixed)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// standard are limits known to be those of a mean of 0 and a standard deviation of 1.
var standard = Fixed{N: 1 << 40, SD: 1, DF: math.Inf(1), Power: 1}

// points returns the first point of each signal of a rule.
func points(c Chart, rule string) string {
	var points []string
	for _, s := range c.Signals {
		if s.Rule == rule {
			points = append(points, fmt.Sprint(s.Points[0]))
		}
	}
	return strings.Join(points, " ")
}

// The individuals of NIST/SEMATECH e-Handbook 6.3.2.2: their centre and mean moving range. Ten points are in control, and
// the limits of the eleventh are those of a prediction: mean +- t sd sqrt(1 + 1/10), with t at the chance of 3.35 standard
// deviations and 9 degrees of freedom.
func TestIndividualsAgainstHandbook(t *testing.T) {
	want := make(map[string]string)
	for _, row := range published.Rows(t, "testdata/individuals_flow.csv") {
		want[row[1]] = row[2]
	}
	data := numbers(t, want["data"])
	c := chart(t, Individuals, 1, data, nil)
	near(t, "centre", c.Center, published.Number(t, want["mean"]), 1e-12)
	near(t, "mean moving range", c.Spread.Center, published.Number(t, want["mean_moving_range"]), 2e-5)
	squares := 0.0
	for _, x := range data {
		squares += (x - c.Center) * (x - c.Center)
	}
	half := distuv.StudentsT{Sigma: 1, Nu: 9}.Quantile(distuv.UnitNormal.CDF(3.35)) * math.Sqrt(squares/9*1.1)
	near(t, "upper", c.Upper, c.Center+half, 1e-9)
	near(t, "lower", c.Lower, c.Center-half, 1e-9)
	if diff := cmp.Diff(data, c.Points); diff != "" || len(c.Spread.Points) != 9 || c.Spread.First != 2 || len(c.Signals) != 0 {
		t.Errorf("points (-want +got):\n%s\nspread %+v, signals %+v", diff, c.Spread, c.Signals)
	}
}

// The centres of mean-and-range and mean-and-s charts of 20 days (NIST Dataplot's CC1.DAT), and the days that stand out: day
// 20 on the mean, 19 and 20 on the spread.
func TestSubgroupChartsAgainstThickness(t *testing.T) {
	want := quantities(t, "subgroups_thickness_expected.csv")
	_, data := columns(t, "subgroups_thickness.csv")
	ranges := chart(t, MeanRange, 5, data, nil)
	deviations := chart(t, MeanS, 5, data, nil)
	near(t, "grand mean", ranges.Center, published.Number(t, want["grand_mean"]), 1e-8)
	near(t, "grand mean", deviations.Center, published.Number(t, want["grand_mean"]), 1e-8)
	// A standard deviation pooled over the days, of squares, lies above the one from mean ranges where days differ.
	if sd := ranges.Spread.Center; sd < published.Number(t, want["mean_range"]) || deviations.Spread.Center < published.Number(t, want["mean_sd"]) {
		t.Errorf("spread centres %v and %v", sd, deviations.Spread.Center)
	}
	if got := points(ranges, beyondRule); !strings.HasSuffix(got, "20") {
		t.Errorf("days beyond the limits: %q, want 20 among them", got)
	}
}

// Run lengths of charts with known limits, by the Markov chain of the moving average. Published (from memory): 370.4 for 3
// standard deviations and no average; 500 for an average of weight 0.2 with 2.962 and no outer limit (Lucas and Saccucci
// 1990, Technometrics 32). The pair in use: 519, and 11.6 at a shift of one standard deviation.
func TestRunLengths(t *testing.T) {
	for _, test := range []struct {
		outer, moved, shift, want, within float64
	}{
		{3, 1e3, 0, 370.4, 0.5}, {1e3, 2.962, 0, 500, 3}, {outer, moved, 0, 519, 4}, {outer, moved, 1, 11.6, 0.2},
	} {
		if got := runLength(test.outer, test.moved, test.shift); math.Abs(got-test.want) > test.within {
			t.Errorf("limits %v and %v, shift %v: a run of %.1f, want %.1f", test.outer, test.moved, test.shift, got, test.want)
		}
	}
}

// runLength solves the run lengths of a chart from each of many values of its moving average:
//
//	L(z) = 1 + integral of L((1-w) z + w x) phi(x - shift) over what passes neither limit
func runLength(outer, moved, shift float64) float64 {
	const n = 401
	w := 0.2
	edge := math.Min(moved*math.Sqrt(w/(2-w)), 6*math.Sqrt(w/(2-w))+shift)
	step := 2 * edge / n
	at := func(i int) float64 { return -edge + (float64(i)+0.5)*step }
	rows := make([][]float64, n)
	for i := range rows {
		rows[i] = make([]float64, n+1)
		rows[i][n] = 1
		for j := range n {
			low, high := (at(j)-step/2-(1-w)*at(i))/w, (at(j)+step/2-(1-w)*at(i))/w
			low, high = math.Max(low, -outer), math.Min(high, outer)
			p := 0.0
			if high > low {
				p = distuv.UnitNormal.CDF(high-shift) - distuv.UnitNormal.CDF(low-shift)
			}
			rows[i][j] = -p
		}
		rows[i][i]++
	}
	for i := range rows {
		for k := i + 1; k < n; k++ {
			if f := rows[k][i] / rows[i][i]; f != 0 {
				for j := i; j <= n; j++ {
					rows[k][j] -= f * rows[i][j]
				}
			}
		}
	}
	x := make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		x[i] = rows[i][n]
		for j := i + 1; j < n; j++ {
			x[i] -= rows[i][j] * x[j]
		}
		x[i] /= rows[i][i]
	}
	return x[n/2]
}

func charts() int {
	if os.Getenv("FLUTELOG_LONG") != "" {
		return 20_000
	}
	return 150
}

// Fixed at 30 points, at most 18 % of charts in control signal in the next 100, and a shift of one and a half standard
// deviations is found within 15 points in 80 %. Charts that start themselves keep the same budget. So it is with figures with a long
// tail upward: the offsets of tools, the ranges of their teeth.
func TestBudgetOfFalseAlarms(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	normal := random.NormFloat64
	figures := map[string]simulated{
		"normal":          {func() float64 { return 10 + normal() }, 1, false},
		"normal, as TIR":  {func() float64 { return 10 + normal() }, 1, true},
		"offset of tools": {func() float64 { return math.Hypot(normal(), normal()) }, 0.6551, true}, // Rayleigh: sqrt(2 - pi/2)
		"range of four teeth": {func() float64 {
			low, high := math.Inf(1), math.Inf(-1)
			for range 4 {
				x := normal()
				low, high = math.Min(low, x), math.Max(high, x)
			}
			return high - low
		}, 0.8798, true}, // d3 of four
	}
	for _, name := range slices.Sorted(maps.Keys(figures)) {
		f := figures[name]
		for _, fix := range []bool{true, false} {
			alarms, found := 0, 0
			for range charts() {
				if f.signals(t, fix, 0, 100) {
					alarms++
				}
				if f.signals(t, fix, 1.5*f.sd, 15) {
					found++
				}
			}
			n := float64(charts())
			t.Logf("%s, fixed %v: %.1f %% signal in 100 points in control, %.1f %% find the shift", name, fix, 100*float64(alarms)/n, 100*float64(found)/n)
			if share := float64(alarms) / n; share > 0.18+3*math.Sqrt(0.18*0.82/n) {
				t.Errorf("%s, fixed %v: %.3f of charts in control signal in 100 points", name, fix, share)
			}
			if share := float64(found) / n; fix && share < 0.80-3*math.Sqrt(0.16/n) {
				t.Errorf("%s, fixed %v: a shift is found within 15 points in %.3f", name, fix, share)
			}
		}
	}
}

// simulated is a figure in control, with its standard deviation.
type simulated struct {
	draw   func() float64
	sd     float64
	skewed bool
}

// signals draws thirty points in control and then so many with a shift, and says whether one of those signals.
func (f simulated) signals(t *testing.T, fix bool, shift float64, points int) bool {
	t.Helper()
	empty := func() *Accumulator {
		a, err := NewAccumulator(Individuals, 1, 1000)
		if f.skewed {
			a, err = NewSkewed(1000)
		}
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	a := empty()
	add := func(a *Accumulator, x float64) {
		if err := a.Add(x); err != nil {
			t.Fatal(err)
		}
	}
	for range FixedFrom {
		add(a, f.draw())
	}
	var fixed *Fixed
	first := FixedFrom + 1
	if fix {
		c, err := a.Chart(nil)
		if err != nil {
			t.Fatal(err)
		}
		limits, err := c.Fix()
		if err != nil {
			t.Fatal(err)
		}
		fixed, first, a = &limits, 1, empty()
	}
	for range points {
		add(a, f.draw()+shift)
	}
	c, err := a.Chart(fixed)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range c.Signals {
		if s.Points[len(s.Points)-1] >= first {
			return true
		}
	}
	return false
}

func TestFixedLimits(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	var data []float64
	for range 40 {
		data = append(data, 5+random.NormFloat64())
	}
	if _, err := chart(t, Individuals, 1, data[:29], nil).Fix(); err == nil || !strings.Contains(err.Error(), "30 points") {
		t.Errorf("fixed from 29 points: %v", err)
	}
	good := chart(t, Individuals, 1, data, nil)
	fixed, err := good.Fix()
	if err != nil {
		t.Fatal(err)
	}
	later := chart(t, Individuals, 1, []float64{5, 5, 12}, &fixed)
	if later.ControlLimits != good.ControlLimits || !later.Fixed || good.Fixed || points(later, beyondRule) != "3" {
		t.Errorf("limits %+v, want those of %+v; signals %+v", later.ControlLimits, good.ControlLimits, later.Signals)
	}
	text, err := json.Marshal(fixed)
	if err != nil {
		t.Fatal(err)
	}
	var read Fixed
	if err := json.Unmarshal(text, &read); err != nil || read != fixed {
		t.Errorf("limits read back: %+v, %v, want %+v", read, err, fixed)
	}
	// In another unit the same points stand out, of plain and of skewed figures.
	inches := fixed.Times(1 / 25.4)
	near(t, "upper limit in another unit", inches.Limits().Upper, good.Upper/25.4, 1e-12)
	skewed := Fixed{N: 40, Mean: 2, SD: 0.3, DF: 39, Power: 0.5}
	near(t, "skewed upper limit in another unit", skewed.Times(4).Limits().Upper, 4*skewed.Limits().Upper, 1e-12)
	if skewed.Limits().Lower != 0 {
		t.Errorf("a skewed figure has a lower limit of %v", skewed.Limits().Lower)
	}
	alike := make([]float64, 40)
	if _, err := chart(t, Individuals, 1, alike, nil).Fix(); !errors.Is(err, statistics.ErrNoSpread) {
		t.Errorf("points all alike: %v", err)
	}
}

// A point equal to a limit lies within it, a point beyond does not; the average moves by points that none of them is
// beyond; a spread beyond its limit is told of subgroups.
func TestSignals(t *testing.T) {
	for value, want := range map[float64]string{3.349: "", 3.351: "1", -3.351: "1"} {
		if got := points(chart(t, Individuals, 1, []float64{value}, &standard), beyondRule); got != want {
			t.Errorf("%v: points %q outside, want %q", value, got, want)
		}
	}
	// By hand: of points of 2, the average is 2 (1 - 0.8^n): 1.18 after four and 0.976 after three; the limit is 3.12/3.
	c := chart(t, Individuals, 1, []float64{0, 2, 2, 2, 2, 2, 0}, &standard)
	if got := points(c, movedRule); got != "5" || len(c.Signals) != 1 || c.Signals[0].Text != "points 5 to 7 have moved the average above the centre by more than chance: something has shifted or drifts, look what changed before" {
		t.Errorf("signals %+v", c.Signals)
	}
	values := make([]float64, 0, 64)
	for range 15 {
		values = append(values, 1, 2, 3, 2)
	}
	if got := points(chart(t, MeanRange, 4, append(values, 2, 12, -8, 2), nil), spreadRule); got != "16" {
		t.Errorf("spreads beyond the limit: %q, want 16", got)
	}
	many := Fixed{N: 1 << 40, SD: 1, DF: math.Inf(1), Power: 1}
	text := chart(t, Individuals, 1, []float64{0, 4, 4.5, 0, -4}, &many).Signals
	if text[0].Text != "points 2 and 3 are above the upper limit: find out what was different there" {
		t.Errorf("text %q", text[0].Text)
	}
}

// Points that follow each other are told: of a random walk's steps pulled back by half the lag-1 correlation is one half.
func TestAutocorrelation(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 9))
	x, walk, alone := 0.0, []float64{}, []float64{}
	for range 200 {
		x = x/2 + random.NormFloat64()
		walk = append(walk, x)
		alone = append(alone, random.NormFloat64())
	}
	if c := chart(t, Individuals, 1, walk, nil); !c.Dependent || math.Abs(*c.Lag1-0.5) > 0.15 {
		t.Errorf("walk: lag 1 %v, dependent %v", *c.Lag1, c.Dependent)
	}
	if c := chart(t, Individuals, 1, alone, nil); c.Dependent {
		t.Errorf("independent points: lag 1 %v", *c.Lag1)
	}
	if c := chart(t, Individuals, 1, []float64{1, 2}, nil); c.Told() || c.Lag1 != nil {
		t.Error("two points tell that there is no signal")
	}
}

func TestChartRefuses(t *testing.T) {
	for _, test := range []struct {
		kind       Kind
		size, keep int
		want       string
	}{
		{"pie", 1, 1, `chart "pie": want individuals, mean-range or mean-s`},
		{Individuals, 2, 1, "single values"},
		{MeanRange, 1, 1, "subgroups of 1"},
		{MeanS, 26, 1, "subgroups of 26"},
		{MeanS, 2, 0, "0 points"},
	} {
		_, err := NewAccumulator(test.kind, test.size, test.keep)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%+v: got error %v", test, err)
		}
	}
	a := accumulate(t, Individuals, 1, 1, []float64{1})
	for _, x := range []float64{math.NaN(), math.Inf(1), -1e101} {
		if err := a.Add(x); !errors.Is(err, statistics.ErrNotFinite) {
			t.Errorf("adding %v: got %v", x, err)
		}
	}
	if _, err := a.Chart(nil); !errors.Is(err, statistics.ErrTooFew) {
		t.Errorf("one point: got %v", err)
	}
	if _, _, _, err := a.Overall(); !errors.Is(err, statistics.ErrTooFew) {
		t.Errorf("one value: got %v", err)
	}
	for _, wrong := range []Fixed{{}, {N: 1, SD: 1, DF: 1, Power: 1}, {N: 9, SD: math.NaN(), DF: 8, Power: 1}, {N: 9, SD: 1, DF: 8, Power: 2}, {N: 9, Mean: -1, SD: 1, DF: 8, Power: 0.5}} {
		if _, err := a.Chart(&wrong); err == nil || !strings.Contains(err.Error(), "fixed limits") {
			t.Errorf("limits %+v: got %v", wrong, err)
		}
	}
	skewed, err := NewSkewed(9)
	if err != nil {
		t.Fatal(err)
	}
	if err := skewed.Add(-1); err == nil || !strings.Contains(err.Error(), "below zero") {
		t.Errorf("a run-out below zero: %v", err)
	}
}

// An unfinished subgroup waits; values that never differ have limits on one line and no signals.
func TestChartEdges(t *testing.T) {
	c := chart(t, MeanS, 2, []float64{1, 1, 1, 1, 5}, nil)
	if c.Waiting != 1 || len(c.Points) != 2 {
		t.Errorf("waiting %d, points %v", c.Waiting, c.Points)
	}
	c = chart(t, Individuals, 1, []float64{0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1}, nil)
	if (c.ControlLimits != ControlLimits{0.1, 0.1, 0.1}) || len(c.Signals) != 0 {
		t.Errorf("values all alike: %+v", c)
	}
}

// Only the last points are kept and carry their numbers in the whole series; limits are those of all values.
func TestAccumulatorKeepsTheLast(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	values := make([]float64, 1003)
	for i := range values {
		values[i] = random.NormFloat64()
	}
	values[1000] = 9
	all := chart(t, Individuals, 1, values, nil)
	c, err := accumulate(t, Individuals, 1, 10, values).Chart(nil)
	if err != nil {
		t.Fatal(err)
	}
	if c.ControlLimits != all.ControlLimits || c.Spread.ControlLimits != all.Spread.ControlLimits {
		t.Errorf("limits %+v, want %+v", c.ControlLimits, all.ControlLimits)
	}
	if diff := cmp.Diff(values[993:], c.Points); diff != "" || c.First != 994 || c.Spread.First != 994 || len(c.Spread.Points) != 10 {
		t.Errorf("first %d, %d, points (-want +got):\n%s", c.First, c.Spread.First, diff)
	}
	if got := points(c, beyondRule); got != "1001" {
		t.Errorf("points %q outside, want 1001", got)
	}
}

// The mean and standard deviation of NIST StRD NumAcc4: ten million and a fifth, and a tenth.
func TestOverallOnNumAcc4(t *testing.T) {
	a := accumulate(t, Individuals, 1, 1, []float64{10000000.2})
	for range 500 {
		for _, x := range []float64{10000000.1, 10000000.3} {
			if err := a.Add(x); err != nil {
				t.Fatal(err)
			}
		}
	}
	n, mean, sd, err := a.Overall()
	if n != 1001 || err != nil {
		t.Fatalf("%d values, %v", n, err)
	}
	near(t, "mean", mean, 10000000.2, 1e-15)
	near(t, "standard deviation", sd, 0.1, 1e-8)
}

func TestHundredThousandInspections(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	for _, kind := range []Kind{Individuals, MeanRange} {
		size := map[Kind]int{Individuals: 1, MeanRange: 5}[kind]
		a := accumulate(t, kind, size, 200, nil)
		heap := func() uint64 {
			var m runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&m)
			return m.HeapAlloc
		}
		var early uint64
		for i := range 100_000 {
			if i == 5000 {
				early = heap()
			}
			if err := a.Add(random.NormFloat64()); err != nil {
				t.Fatal(err)
			}
		}
		late := heap()
		c, err := a.Chart(nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(c.Points) != 200 || math.Abs(c.Center) > 0.02 {
			t.Errorf("%s: %d points about %v", kind, len(c.Points), c.Center)
		}
		if late > early+64<<10 {
			t.Errorf("%s: memory grew from %d to %d bytes", kind, early, late)
		}
	}
}
