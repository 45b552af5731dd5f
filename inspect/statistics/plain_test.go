package statistics

import (
	"errors"
	"math"
	"math/big"
	"testing"

	"github.com/montanaflynn/stats"

	"flutelog/inspect/published"
)

func column(t *testing.T, name string) []float64 {
	t.Helper()
	var v []float64
	for _, row := range published.Rows(t, "testdata/"+name+".csv") {
		v = append(v, published.Number(t, row[0]))
	}
	return v
}

// digits returns how many decimal digits of got agree with want, at most 15: the certified values have no more.
func digits(got, want float64) float64 {
	if got == want {
		return 15
	}
	return math.Min(15, -math.Log10(math.Abs(got-want)/math.Abs(want)))
}

// Thirteen digits of the mean and twelve of the rest are asked for. Less is allowed only where the decimal
// data themselves are not doubles: one rounding of 10000000.2 is 2e-10 of the spread of NumAcc4.
func TestCertified(t *testing.T) {
	least := map[string][3]float64{"numacc3": {13, 9.4, 12}, "numacc4": {13, 8.2, 10.9}}
	for _, row := range published.Rows(t, "testdata/nist_certified.csv") {
		name := row[0]
		v := column(t, "nist_"+name)
		if n := published.Number(t, row[1]); len(v) != int(n) {
			t.Errorf("%s: %d values, want %v", name, len(v), n)
		}
		want, ok := least[name]
		if !ok {
			want = [3]float64{13, 12, 12}
		}
		for i, f := range []func([]float64) (float64, error){Mean, StandardDeviation, Lag1} {
			got, err := f(v)
			if err != nil {
				t.Fatal(err)
			}
			d := digits(got, published.Number(t, row[2+i]))
			t.Logf("%-8s %-4s %4.1f certified digits", name, [...]string{"mean", "sd", "lag1"}[i], d)
			if d < want[i] {
				t.Errorf("%s: %v has %.1f certified digits, want %v", name, got, d, want[i])
			}
		}
	}
}

// exact returns mean, standard deviation and lag-1 autocorrelation of the stored doubles, in rational arithmetic.
func exact(v []float64) (mean, sd, lag1 float64) {
	n := new(big.Rat).SetInt64(int64(len(v)))
	sum := new(big.Rat)
	for _, x := range v {
		sum.Add(sum, new(big.Rat).SetFloat64(x))
	}
	m := sum.Quo(sum, n)
	squares, products := new(big.Rat), new(big.Rat)
	var before *big.Rat
	for _, x := range v {
		d := new(big.Rat).SetFloat64(x)
		d.Sub(d, m)
		squares.Add(squares, new(big.Rat).Mul(d, d))
		if before != nil {
			products.Add(products, new(big.Rat).Mul(d, before))
		}
		before = d
	}
	variance := new(big.Rat).Quo(squares, new(big.Rat).SetInt64(int64(len(v)-1)))
	root, _ := new(big.Float).SetPrec(200).SetRat(variance).Float64()
	mean, _ = m.Float64()
	lag1, _ = products.Quo(products, squares).Float64()
	return mean, math.Sqrt(root), lag1
}

// Against the exact result for the doubles as stored, no set loses digits, and the library alone does.
func TestExactForStoredValues(t *testing.T) {
	for _, row := range published.Rows(t, "testdata/nist_certified.csv") {
		v := column(t, "nist_"+row[0])
		mean, sd, lag1 := exact(v)
		gotMean, err1 := Mean(v)
		gotSD, err2 := StandardDeviation(v)
		gotLag1, err3 := Lag1(v)
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		plain, _ := stats.StandardDeviationSample(v)
		t.Logf("%-8s mean %4.1f, sd %4.1f (library alone %4.1f), lag1 %4.1f digits", row[0],
			digits(gotMean, mean), digits(gotSD, sd), digits(plain, sd), digits(gotLag1, lag1))
		if digits(gotMean, mean) < 15 || digits(gotSD, sd) < 14 || digits(gotLag1, lag1) < 13 {
			t.Errorf("%s: mean %v, sd %v, lag1 %v; want %v, %v, %v", row[0], gotMean, gotSD, gotLag1, mean, sd, lag1)
		}
	}
}

// The library's sample standard deviation of NumAcc4 is why the values are centred first.
func TestLibraryLosesDigits(t *testing.T) {
	v := column(t, "nist_numacc4")
	_, want, _ := exact(v)
	got, err := stats.StandardDeviationSample(v)
	if err != nil {
		t.Fatal(err)
	}
	if digits(got, want) > 13 {
		t.Errorf("library alone keeps %.1f digits of NumAcc4: centring is no longer needed", digits(got, want))
	}
}

func TestPlainRefuses(t *testing.T) {
	functions := []struct {
		name  string
		f     func([]float64) (float64, error)
		least int
	}{
		{"Mean", Mean, 1},
		{"StandardDeviation", StandardDeviation, 2},
		{"Lag1", Lag1, 2},
	}
	for _, f := range functions {
		if _, err := f.f(make([]float64, f.least-1)); !errors.Is(err, ErrTooFew) {
			t.Errorf("%s of %d values: %v, want ErrTooFew", f.name, f.least-1, err)
		}
		for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			if _, err := f.f([]float64{1, bad, 2}); !errors.Is(err, ErrNotFinite) {
				t.Errorf("%s with %v: %v, want ErrNotFinite", f.name, bad, err)
			}
		}
	}
	if _, err := Lag1([]float64{2, 2, 2}); !errors.Is(err, ErrNoSpread) {
		t.Errorf("Lag1 of equal values: %v, want ErrNoSpread", err)
	}
}

// Whatever three numbers are given, the result is finite or an error.
func FuzzPlain(f *testing.F) {
	f.Add(1.0, 2.0, 3.0)
	f.Add(math.MaxFloat64, -math.MaxFloat64, math.MaxFloat64)
	f.Add(math.NaN(), 0.0, 0.0)
	f.Add(5e-324, 0.0, -5e-324)
	f.Add(1e308, 1e-308, 1e308)
	f.Fuzz(func(t *testing.T, a, b, c float64) {
		v := []float64{a, b, c}
		for i, g := range []func([]float64) (float64, error){Mean, StandardDeviation, Lag1} {
			x, err := g(v)
			if err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) {
				t.Errorf("function %d of %v = %v without an error", i, v, x)
			}
		}
	})
}
