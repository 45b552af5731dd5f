package statistics

import (
	"math"
	"testing"

	"flutelog/inspect/length"
)

// Whatever readings, gauge and limits come in, what goes out is an error or a finite, consistent decision.
func FuzzDecide(f *testing.F) {
	f.Add(int64(0), int64(1_000_000), int64(7_000_000), int64(2_000_000), int64(500_000), int64(0), 0.0, 0, int64(8_000_000), true)
	f.Add(int64(0), int64(0), int64(0), int64(0), int64(0), int64(0), 0.0, 0, int64(0), false)
	f.Add(int64(mostReading), int64(-mostReading), int64(mostReading), int64(-mostReading), int64(1), int64(mostReading), 1e9, 1, int64(-mostReading), true)
	f.Add(int64(math.MinInt64), int64(math.MaxInt64), int64(3), int64(4), int64(-5), int64(6), math.NaN(), -1, int64(math.MinInt64), true)
	f.Add(int64(5), int64(5), int64(5), int64(5), int64(0), int64(0), 5e-324, 1, int64(0), true)
	f.Fuzz(func(t *testing.T, a, b, c, d, q, e int64, sd float64, df int, limit int64, guardedRule bool) {
		g := Accuracy{length.Length(q), length.Length(e), Repeatability{Micrometres: sd, DF: df}}
		first, second := []length.Length{length.Length(a), length.Length(b)}, []length.Length{length.Length(c), length.Length(d)}
		rule := Simple
		if guardedRule {
			rule = Guarded
		}
		upper := length.Length(limit)
		for _, flutes := range [][][]length.Length{{first, second}, {first[:1], second[:1]}, {first, second[:1], second, first}} {
			checkEstimate(t, upper, rule)(tir(flutes, g))
			checkEstimate(t, upper, rule)(LargestDiameter(length.Length(c), second, flutes, g))
			for _, order := range []Order{ByRounds, ByFlutes} {
				r := Readings{Flutes: flutes, Order: order, Closing: &first[0], Holding: g.Studied, Looks: guardedRule, Accuracy: g}
				r.Reseated = order == ByRounds && guardedRule
				if h, err := r.Heights(); err == nil {
					checkEstimate(t, upper, rule)(h.TIR(), nil)
					checkEstimate(t, upper, rule)(h.Concentricity(), nil)
				}
			}
		}
		checkEstimate(t, upper, rule)(Difference(first, second, g.Studied, g))
		checkEstimate(t, upper, rule)(Width(first, g.Studied, g))
		checkRatio(t, first, second, g, Fraction{a, b}, rule)
		checkRatio(t, first, second, g, Fraction{1, 2}, rule)
	})
}

func checkEstimate(t *testing.T, limit length.Length, rule Rule) func(Estimate, error) {
	return func(e Estimate, err error) {
		t.Helper()
		if err != nil {
			return
		}
		for _, limits := range [][2]*length.Length{{nil, &limit}, {&limit, nil}, {&limit, &limit}, {nil, nil}} {
			d, err := Decide(e, limits[0], limits[1], rule)
			if err != nil {
				continue
			}
			checkDecision(t, d.Decision)
			if d.Known && !(d.Low <= d.Value && d.Value < d.High) {
				t.Errorf("value %d, band %d to %d", d.Value, d.Low, d.High)
			}
			if !d.Known && (d.Low != 0 || d.High != 0) {
				t.Errorf("unknown, yet a band %d to %d", d.Low, d.High)
			}
			conforms := (limits[0] == nil || d.Value >= limit) && (limits[1] == nil || d.Value <= limit)
			if d.Verdict == Accept && !conforms || d.Verdict == Reject && conforms {
				t.Errorf("%v, though value %d and limit %d", d.Verdict, d.Value, limit)
			}
		}
	}
}

func checkRatio(t *testing.T, part, whole []length.Length, g Accuracy, limit Fraction, rule Rule) {
	t.Helper()
	p, err1 := Width(part, g.Studied, g)
	w, err2 := Width(whole, g.Studied, g)
	r, err := NewRatio(p, w)
	if err1 != nil || err2 != nil || err != nil {
		return
	}
	d, err := DecideRatio(r, nil, &limit, rule)
	if err != nil {
		return
	}
	checkDecision(t, d.Decision)
	if d.Known && !(d.Low < d.Value && d.Value < d.High && d.High < math.Inf(1)) {
		t.Errorf("ratio %v, band %v to %v", d.Value, d.Low, d.High)
	}
}

func checkDecision(t *testing.T, d Decision) {
	t.Helper()
	if p := d.Probability; p != nil && !(*p >= 0 && *p <= 1) {
		t.Errorf("probability %v", *p)
	}
	if d.Probability != nil && !d.Known {
		t.Error("a probability, though not known")
	}
	if d.Reason == "" || d.Settle < 0 || d.Settle > 0 && d.Verdict != Undecided {
		t.Errorf("%+v", d)
	}
	if d.Rule == Simple && d.Verdict == Undecided || !d.Known && d.Rule == Guarded && d.Verdict != NotJudged {
		t.Errorf("%+v", d)
	}
}

// Whatever values and step, Grubbs' test gives finite numbers or an error.
func FuzzGrubbs(f *testing.F) {
	f.Add(5.0, 5.0, 6.0, 1.0)
	f.Add(5e-324, 0.0, 0.0, 0.0)
	f.Add(math.MaxFloat64, -math.MaxFloat64, 0.0, 1.0)
	f.Fuzz(func(t *testing.T, a, b, c, resolution float64) {
		o, err := Grubbs([]float64{a, b, c}, resolution)
		if err == nil && !(o.G >= 0 && o.G <= 2 && o.Critical > 1 && o.Index >= 0 && o.Index < 3) {
			t.Errorf("Grubbs of %v, %v, %v in %v: %+v", a, b, c, resolution, o)
		}
	})
}

// Quantiles grow with probability, and Student's t and the studentized range shrink with degrees of freedom.
func TestQuantilesAreMonotone(t *testing.T) {
	for k := 2; k <= 12; k += 5 {
		last := math.Inf(1)
		for _, nu := range []float64{1, 2, 5, 10, 40, 1000, math.Inf(1)} {
			q := StudentizedRangeQuantile(0.95, k, nu)
			if !(q < last) || !(StudentizedRangeQuantile(0.9, k, nu) < q) || !(q < StudentizedRangeQuantile(0.95, k+1, nu)) {
				t.Errorf("studentized range of %d with %v degrees: %v after %v", k, nu, q, last)
			}
			last = q
		}
	}
	last := math.Inf(1)
	for _, nu := range []float64{1, 1.5, 2, 5, 10, 40, 1000, 1e6, math.Inf(1)} {
		q := TQuantile(0.95, nu)
		if !(q < last) || !(TQuantile(0.9, nu) < q) {
			t.Errorf("t with %v degrees: %v after %v", nu, q, last)
		}
		last = q
	}
}
