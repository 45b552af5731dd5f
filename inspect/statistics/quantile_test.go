package statistics

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"flutelog/inspect/published"
)

func nearly(got, want, within float64) bool {
	return math.Abs(got-want) <= within*math.Max(1, math.Abs(want))
}

var (
	probabilities = []float64{0.001, 0.01, 0.05, 0.3, 0.5, 0.6, 0.95, 0.975, 0.9875, 0.999}
	degrees       = []float64{1, 2, 3, 4, 8, 12.5, 24, 60, 500}
)

// References: gonum's distuv, to its own accuracy.
func TestAgainstDistuv(t *testing.T) {
	check := func(name string, p, got, want float64) {
		t.Helper()
		if !nearly(got, want, 2e-9) { // its F quantiles are that good
			t.Errorf("%s at %v = %v, want %v", name, p, got, want)
		}
	}
	for _, nu := range degrees {
		student := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}
		chi := distuv.ChiSquared{K: nu}
		for _, p := range probabilities {
			check("t quantile", p, TQuantile(p, nu), student.Quantile(p))
			check("t", p, TCDF(student.Quantile(p), nu), p)
			check("chi-square quantile", p, ChiSquareQuantile(p, nu), chi.Quantile(p))
			check("chi-square", p, ChiSquareCDF(chi.Quantile(p), nu), p)
			for _, d := range []float64{1, 3, 10, 40} {
				f := distuv.F{D1: d, D2: nu}
				check("F", p, FCDF(f.Quantile(p), d, nu), p)
				if p > 1e-6 && p < 1-1e-6 {
					check("F quantile", p, FQuantile(p, d, nu), f.Quantile(p))
				}
			}
		}
	}
	for _, p := range probabilities {
		check("normal quantile", p, NormalQuantile(p), distuv.UnitNormal.Quantile(p))
		check("normal", p, NormalCDF(distuv.UnitNormal.Quantile(p)), p)
	}
}

// With one and two degrees of freedom Student's t has a closed form: tan(pi (p - 1/2)) and
// (2p - 1) sqrt(2 / (4p (1-p))). It checks the far tail, which distuv misses by 4e-9.
func TestTQuantileClosedForms(t *testing.T) {
	for _, p := range []float64{0.55, 0.75, 0.975, 1 - 0x1p-20, 1 - 0x1p-30} {
		if got, want := TQuantile(p, 1), 1/math.Tan(math.Pi*(1-p)); !nearly(got/want, 1, 1e-12) {
			t.Errorf("TQuantile(%v, 1) = %v, want %v", p, got, want)
		}
		if got, want := TQuantile(p, 2), (2*p-1)*math.Sqrt(2/(4*p*(1-p))); !nearly(got/want, 1, 1e-12) {
			t.Errorf("TQuantile(%v, 2) = %v, want %v", p, got, want)
		}
		if TQuantile(1-p, 2) != -TQuantile(p, 2) {
			t.Errorf("TQuantile(%v, 2) is not symmetrical", p)
		}
	}
	if got, want := TQuantile(1e-200, 2), -1/math.Sqrt(2e-200); !nearly(got/want, 1, 1e-12) {
		t.Errorf("TQuantile(1e-200, 2) = %v, want %v", got, want)
	}
}

// With many degrees of freedom, z + (z^3 + z)/(4 nu) + (5 z^5 + 16 z^3 + 3 z)/(96 nu^2) with z the normal quantile
// (Abramowitz and Stegun 26.7.5); what is left out is below 1e-15.
func TestTQuantileOfManyDegrees(t *testing.T) {
	z := distuv.UnitNormal.Quantile(0.95)
	for _, nu := range []float64{9.9e4, 1.01e5, 1e6, 1e9, 1e14, 1e18, math.MaxFloat64} {
		want := z + (z*z*z+z)/4/nu + (5*math.Pow(z, 5)+16*z*z*z+3*z)/96/nu/nu
		if got := TQuantile(0.95, nu); !nearly(got, want, 1e-11) {
			t.Errorf("TQuantile(0.95, %v) = %v, want %v", nu, got, want)
		}
		// The studentized range of two is sqrt(2) times that at (1+p)/2.
		if got, want := StudentizedRangeCDF(math.Sqrt2*want, 2, nu), 0.9; !nearly(got, want, 1e-10) {
			t.Errorf("StudentizedRangeCDF with %v degrees = %v, want %v", nu, got, want)
		}
	}
}

func TestTable(t *testing.T) {
	for _, row := range published.Rows(t, "testdata/student_t_0975.csv") {
		if got, want := TQuantile(0.975, published.Number(t, row[0])), published.Number(t, row[1]); math.Abs(got-want) > 5.1e-7 {
			t.Errorf("TQuantile(0.975, %s) = %v, want %v", row[0], got, want)
		}
	}
	for _, row := range published.Rows(t, "testdata/guard_factors.csv") {
		if got, want := NormalQuantile(published.Number(t, row[0])), published.Number(t, row[1]); math.Abs(got-want) > 5.1e-7 {
			t.Errorf("NormalQuantile(%s) = %v, want %v", row[0], got, want)
		}
	}
}

func TestStudentizedRangeTable(t *testing.T) {
	for i, row := range published.Rows(t, "testdata/studentized_range_095.csv") {
		if testing.Short() && i%5 != 0 {
			continue
		}
		k, err := strconv.Atoi(row[0])
		if err != nil {
			t.Fatal(err)
		}
		nu, want := published.Number(t, row[1]), published.Number(t, row[2])
		if got := StudentizedRangeQuantile(0.95, k, nu); math.Abs(got-want) > 6e-6 {
			t.Errorf("studentized range of %d, %v degrees = %.6f, want %.5f", k, nu, got, want)
		}
	}
}

// The studentized range of two values is sqrt(2) |t|: a second way to its distribution, over all its parts.
func TestStudentizedRangeOfTwo(t *testing.T) {
	for _, nu := range append(degrees, math.Inf(1)) {
		for _, q := range []float64{0, 0.01, 0.5, 2, 3, 5, 20} {
			want := 2*TCDF(q/math.Sqrt2, nu) - 1
			if got := StudentizedRangeCDF(q, 2, nu); math.Abs(got-want) > 1e-11 {
				t.Errorf("StudentizedRangeCDF(%v, 2, %v) = %v, want %v", q, nu, got, want)
			}
		}
	}
}

// The range of three normal values has mean 3/sqrt(pi); that of two has mean 2/sqrt(pi) and mean square 2.
func TestRangeMoments(t *testing.T) {
	for _, row := range published.Rows(t, "testdata/../../../testdata/published/control_chart_constants.csv") {
		n, err := strconv.Atoi(row[0])
		if err != nil {
			t.Fatal(err)
		}
		d2, d3 := RangeMoments(n)
		for i, got := range []float64{d2, d3, C4(n)} {
			if want := published.Number(t, row[1+i]); !nearly(got, want, 6e-7) {
				t.Errorf("n = %d: constant %d = %.7f, want %.7f", n, i+1, got, want)
			}
		}
	}
	d2, d3 := RangeMoments(2)
	if want := 2 / math.Sqrt(math.Pi); !nearly(d2, want, 1e-10) || !nearly(d3, math.Sqrt(2-want*want), 1e-8) {
		t.Errorf("two values: %.12f, %.12f", d2, d3)
	}
	if d2, _ := RangeMoments(3); !nearly(d2, 3/math.Sqrt(math.Pi), 1e-9) {
		t.Errorf("three values: d2 = %.12f", d2)
	}
	// 25 values: 3.931 and 0.708 in ASTM E2587's table (from memory).
	if d2, d3 := RangeMoments(25); !nearly(d2, 3.931, 2e-4) || math.Abs(d3-0.708) > 6e-4 {
		t.Errorf("25 values: %.4f, %.4f", d2, d3)
	}
}

// Exact 95 % limits of Ppu from n values: noncentral t at the observed index has probability 97.5 % below
// when the true index is the lower limit and 2.5 % when it is the upper one.
func TestNoncentralTOnCapability(t *testing.T) {
	ppu := 2.0 / 3
	found := 0
	for _, row := range published.Rows(t, "testdata/../../../testdata/published/capability_cases.csv") {
		size, ok := strings.CutPrefix(row[0], "ppu_95_interval_n")
		if !ok {
			continue
		}
		found++
		n := published.Number(t, size)
		root := 3 * math.Sqrt(n)
		for i, limit := range strings.Fields(row[2]) {
			want := [...]float64{0.975, 0.025}[i]
			got := NoncentralTCDF(root*ppu, n-1, root*published.Number(t, limit))
			if math.Abs(got-want) > 2e-6 { // the limits are printed to 1e-6
				t.Errorf("n = %v, limit %s: %v, want %v", n, limit, got, want)
			}
		}
	}
	if found != 4 {
		t.Errorf("%d cases, want 4", found)
	}
	for _, nu := range append(degrees, math.Inf(1)) {
		for _, x := range []float64{-30, -2, 0, 0.7, 9} {
			if got, want := NoncentralTCDF(x, nu, 0), TCDF(x, nu); math.Abs(got-want) > 1e-11 {
				t.Errorf("NoncentralTCDF(%v, %v, 0) = %v, want %v", x, nu, got, want)
			}
		}
	}
}

// Pp's exact limits: Pp sqrt(chi-square quantile / (n-1)).
func TestChiSquareOnCapability(t *testing.T) {
	found := 0
	for _, row := range published.Rows(t, "testdata/../../../testdata/published/capability_cases.csv") {
		size, ok := strings.CutPrefix(row[0], "pp_95_interval_n")
		if !ok {
			continue
		}
		found++
		n := published.Number(t, size)
		for i, limit := range strings.Fields(row[2]) {
			got := math.Sqrt(ChiSquareQuantile([...]float64{0.025, 0.975}[i], n-1) / (n - 1))
			if math.Abs(got-published.Number(t, limit)) > 6e-7 {
				t.Errorf("n = %v: %v, want %s", n, got, limit)
			}
		}
	}
	if found != 4 {
		t.Errorf("%d cases, want 4", found)
	}
}

func TestQuantilesRefuse(t *testing.T) {
	nan := math.NaN()
	calls := map[string]func(){
		"p 0":         func() { TQuantile(0, 3) },
		"p NaN":       func() { ChiSquareQuantile(nan, 3) },
		"nu 1/2":      func() { TQuantile(0.9, 0.5) },
		"nu NaN":      func() { StudentizedRangeQuantile(0.9, 3, nan) },
		"one value":   func() { StudentizedRangeCDF(1, 1, 3) },
		"x NaN":       func() { NormalCDF(nan) },
		"t NaN":       func() { TCDF(nan, math.Inf(1)) },
		"F below 0":   func() { FCDF(-1, 2, 2) },
		"delta NaN":   func() { NoncentralTCDF(1, 2, nan) },
		"subgroup 26": func() { RangeMoments(26) },
		"subgroup 1":  func() { C4(1) },
	}
	for name, call := range calls {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: want a panic", name)
				}
			}()
			call()
		}()
	}
}

// The memory of quantiles is emptied, not grown, and gives the same number again.
func TestRememberedIsBounded(t *testing.T) {
	first := TQuantile(0.95, 7)
	for i := range 5000 {
		TQuantile(0.95, 7+float64(i)/1000)
	}
	if n := len(memory.quantiles); n > 4096 {
		t.Errorf("%d quantiles remembered", n)
	}
	if again := TQuantile(0.95, 7); again != first {
		t.Errorf("got %v, then %v", first, again)
	}
}
