package statistics

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/published"
)

const um = length.Micrometre

// around returns three readings of standard deviation exactly 1 um about x.
func around(x length.Length) []length.Length { return []length.Length{x - um, x, x + um} }

// even returns four readings about x that show no drift, of which the squares add up to 4 um^2.
func even(x length.Length) []length.Length { return []length.Length{x - um, x + um, x + um, x - um} }

func mustHeights(t *testing.T, r Readings) Heights {
	t.Helper()
	h, err := r.Heights()
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func at(l length.Length) *length.Length { return &l }

func near(got length.Length, wantMicrometres, within float64) bool {
	return math.Abs(got.Micrometres()-wantMicrometres) <= within
}

// tir reads flutes round by round.
func tir(flutes [][]length.Length, g Accuracy) (Estimate, error) {
	h, err := Readings{Flutes: flutes, Accuracy: g}.Heights()
	if err != nil {
		return Estimate{}, err
	}
	return h.TIR(), nil
}

func mustTIR(t *testing.T, g Accuracy, flutes ...[]length.Length) Estimate {
	t.Helper()
	e, err := tir(flutes, g)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func mustWidth(t *testing.T, repeats []length.Length, noise Repeatability, g Accuracy) Estimate {
	t.Helper()
	e, err := Width(repeats, noise, g)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func mustRatio(t *testing.T, part, whole Estimate) Ratio {
	t.Helper()
	r, err := NewRatio(part, whole)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func mustDecide(t *testing.T, e Estimate, lower, upper *length.Length, rule Rule) LengthDecision {
	t.Helper()
	d, err := Decide(e, lower, upper, rule)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// bandsOf finds the bands of e from outside, as the margins at which its verdict changes: accepted at the band
// itself, rejected beyond it.
func bandsOf(t *testing.T, e Estimate) (accept, reject length.Length) {
	t.Helper()
	find := func(verdict Verdict, sign length.Length) length.Length {
		low, high := length.Length(0), 1000*um
		for high-low > 1 {
			middle := (low + high) / 2
			if mustDecide(t, e, nil, at(e.Value+sign*middle), Guarded).Verdict == verdict {
				high = middle
			} else {
				low = middle
			}
		}
		return high
	}
	return find(Accept, 1), find(Reject, -1)
}

// Four flutes read four times round by round, 0, 2, 7 and 3 um high, with 4 um^2 about each and no drift: sp^2 = 16/11 with
// 4 x 3 - 1 = 11 degrees of freedom. Flutes are N = 4 readings apart, sum (time - mean)^2 = 4 x 16 x 5 = 320; flutes 1 and
// 3, which decide, are known by u^2 = sp^2 (1/2 + 2^2/320), the widest pair, 1 and 4, by sp^2 (1/2 + 3^2/320).
// t(0.95, 11) = 1.795885 (any table), q(0.95; 4, 11) = 4.25612 (from memory; printed tables have 4.26).
func TestBandsByHand(t *testing.T) {
	sp2 := 16.0 / 11
	accept := 1.795885 * math.Sqrt(sp2*(0.5+4.0/320))
	reject := 4.25612 / math.Sqrt2 * math.Sqrt(sp2*(0.5+9.0/320))
	const fine = length.Picometre
	flutes := [][]length.Length{even(0), even(2 * um), even(7 * um), even(3 * um)}
	steady := [][]length.Length{{0, 0, 0}, {2 * um, 2 * um, 2 * um}, {7 * um, 7 * um, 7 * um}, {3 * um, 3 * um, 3 * um}}
	tests := []struct {
		name           string
		flutes         [][]length.Length
		gauge          Accuracy
		accept, reject float64 // micrometres
	}{
		{"noise alone", flutes, Accuracy{Resolution: fine}, accept, reject},
		{"a step under the noise adds nothing", flutes, Accuracy{Resolution: um}, accept, reject},
		{"the gauge's error in full", flutes, Accuracy{Resolution: fine, PermissibleError: 2 * um}, accept + 2, reject + 2},
		// All within one step, u^2 = 2 q^2/12, 4 x 2 - 1 = 7 degrees: t(0.95, 7) = 1.894579, q(0.95; 4, 7) = 4.68124 (printed: 4.68);
		// and since nothing scatters, all of the swing between means a third of a step apart, q/3 / pi.
		{"steady", steady, Accuracy{Resolution: um}, 1.894579/math.Sqrt(6) + 1/(3*math.Pi), 4.68124/math.Sqrt(12) + 1/(3*math.Pi)},
	}
	for _, test := range tests {
		e := mustTIR(t, test.gauge, test.flutes...)
		if e.Value != 7*um {
			t.Errorf("%s: TIR = %v, want 7 um", test.name, e.Value)
		}
		gotAccept, gotReject := bandsOf(t, e)
		u, known := e.Uncertainty()
		if !known || !near(gotAccept, test.accept, 2e-5) || !near(gotReject, test.reject, 2e-4) || !near(u, test.reject, 2e-4) {
			t.Errorf("%s: accept %v, reject %v, U %v (known %v); want %v, %v um", test.name, gotAccept, gotReject, u, known, test.accept, test.reject)
		}
		// What a program is told that cannot work out a studentized range is the band that rejects.
		limit := length.Length(um)
		if d, err := Decide(e, nil, &limit, Guarded); err != nil || !near(d.RejectBand, test.reject, 2e-4) {
			t.Errorf("%s: rejected from %v over the limit, %v; want %v um", test.name, d.RejectBand, err, test.reject)
		}
		// Another program comes to the same limit: value + t u + E.
		su, df, known := e.StandardUncertainty()
		if again := TQuantile(0.95, float64(*df))*su.Micrometres() + test.gauge.PermissibleError.Micrometres(); !known || math.Abs(again-test.accept) > 1e-4 {
			t.Errorf("%s: from u %v with %v degrees: %v, want %v", test.name, su, *df, again, test.accept)
		}
	}
}

// An even drift is taken out whichever way the flutes are read; what is left is exact where nothing scatters.
func TestDriftIsTakenOut(t *testing.T) {
	heights := []length.Length{0, 5 * um, 9 * um, 2 * um}
	const drift = um / 2 // from one reading to the next
	for _, order := range []Order{ByRounds, ByFlutes} {
		r := Readings{Flutes: make([][]length.Length, 4), Order: order, Accuracy: Accuracy{Resolution: 1, Studied: Repeatability{Micrometres: 0.01, DF: 30}}}
		time := length.Length(0)
		read := func(k int) length.Length { time++; return heights[k] + drift*time }
		for i := range 12 {
			k := i % 4
			if order == ByFlutes {
				k = i / 3
			}
			r.Flutes[k] = append(r.Flutes[k], read(k))
		}
		if order == ByFlutes {
			if h := mustHeights(t, r); h.Void == "" {
				t.Error("flute by flute without a closing reading is not void")
			} else if d := mustDecide(t, h.TIR(), nil, at(100*um), Guarded); d.Verdict != NotJudged || !strings.Contains(d.Reason, "flute 1") {
				t.Errorf("flute by flute without a closing reading: %+v", d.Decision)
			}
		}
		r.Closing = at(read(0))
		h := mustHeights(t, r)
		if e := h.TIR(); h.Void != "" || !h.Drift.Shown || (e.Value-9*um).Abs() > 1 || (h.Drift.Over()-6*um).Abs() > 1 {
			t.Errorf("%s: TIR %v of %+v, void %q; want 9 um, and 6 um of drift", order, e.Value, h.Drift, h.Void)
		}
		if c := h.Corrected(); (c[2]-c[0]-9*um).Abs() > 1 || (c[3]-c[0]-2*um).Abs() > 1 {
			t.Errorf("%s: corrected %v", order, c)
		}
		// A closing reading that does not fit the rest says that something moved.
		r.Closing = at(*r.Closing + 20*um)
		if h := mustHeights(t, r); h.Void == "" {
			t.Errorf("%s: a closing reading 20 um off leaves the set as it is: %+v", order, h.Drift)
		}
	}
}

// The level that moves between rounds is no run-out; with two rounds nothing tells a jump from a drift, so a verdict must
// hold either way.
func TestJumpBetweenRounds(t *testing.T) {
	g := Accuracy{Resolution: 1, Studied: Repeatability{Micrometres: 0.1, DF: 30}}
	r := Readings{Accuracy: g, Flutes: [][]length.Length{{0, 0, 40 * um}, {um, um, 41 * um}, {4 * um, 4 * um, 44 * um}, {2 * um, 2 * um, 42 * um}}}
	h := mustHeights(t, r)
	if e := h.TIR(); !h.Drift.Jumped || e.Value != 4*um {
		t.Errorf("three rounds: TIR %v, %+v", e.Value, h.Drift)
	}
	for k := range r.Flutes {
		r.Flutes[k] = r.Flutes[k][1:]
	}
	// As a drift the 10 um from reading to reading make 20 um of the 4; as a jump the TIR is 4 um.
	e := func() Estimate { h := mustHeights(t, r); return h.TIR() }()
	for limit, want := range map[length.Length]Verdict{5 * um: Undecided, 60 * um: Accept} {
		if d := mustDecide(t, e, nil, at(limit), Guarded); d.Verdict != want && e.Value <= limit {
			t.Errorf("two rounds, limit %v: %v, want %v", limit, d.Verdict, want)
		}
	}
}

// One difference of two means, read three times each: t(0.95, 4) = 2.131847, t(0.975, 4) = 2.776445, sp = 1 um, u = sqrt(2/3);
// the gauge's error of 3 um comes on top in full.
func TestDifferenceByHand(t *testing.T) {
	for _, err := range []length.Length{0, 3 * um} {
		g := Accuracy{Resolution: 1, PermissibleError: err}
		noise, e1 := g.Noise(around(9*um), around(2*um))
		e, e2 := Difference(around(9*um), around(2*um), noise, g)
		if err := errors.Join(e1, e2); err != nil {
			t.Fatal(err)
		}
		accept, reject := bandsOf(t, e)
		u, _ := e.Uncertainty()
		if more := err.Micrometres(); e.Value != 7*um || !near(accept, 1.740646+more, 1e-5) || reject != accept+1 || !near(u, 2.266958+more, 1e-5) {
			t.Errorf("error %v: value %v, bands %v, %v, %v", err, e.Value, accept, reject, u)
		}
	}
}

// Judged together, n estimates are accepted each at 5 % and rejected each at 5 %/n: t(1 - 0.05/4, 4) = 3.495406 (R: qt(0.9875, 4)).
func TestFamilyByHand(t *testing.T) {
	g := Accuracy{Resolution: 1}
	noise, e1 := g.Noise(around(9*um), around(2*um))
	e, e2 := Difference(around(9*um), around(2*um), noise, g)
	if err := errors.Join(e1, e2); err != nil {
		t.Fatal(err)
	}
	accept, reject := bandsOf(t, e.Together(4))
	if u := math.Sqrt(2.0 / 3); !near(accept, 1.740646, 1e-5) || !near(reject, 3.495406*u, 2e-5) {
		t.Errorf("accept %v, reject %v", accept, reject)
	}
}

// Master read 3 times at nought; sp = 1 um; two flutes, nu = 6: t(0.95, 6) = 1.943180, t(0.975, 6) = 2.446912;
// u = 2 sqrt(2/3) = 1.632993.
func TestDiameterByHand(t *testing.T) {
	size := length.Inch / 2
	largest, err := LargestDiameter(size, around(0), [][]length.Length{around(4 * um), around(10 * um)}, Accuracy{Resolution: 1, PermissibleError: um})
	if err != nil {
		t.Fatal(err)
	}
	accept, reject := bandsOf(t, largest)
	if largest.Value != size+20*um || !near(accept, 2+1.632993*1.943180, 1e-5) || !near(reject, 2+1.632993*2.446912, 1e-5) {
		t.Errorf("largest %v: %v, %v", largest.Value, accept, reject)
	}
}

// A size that was read once, with no study, is known to its step: u = q/sqrt(12), 1.644854 of it one-sided.
func TestOneReadingOfASize(t *testing.T) {
	w, err := Width([]length.Length{50 * um}, Repeatability{}, Accuracy{Resolution: 12 * um})
	if err != nil {
		t.Fatal(err)
	}
	su, df, known := w.StandardUncertainty()
	if accept, _ := bandsOf(t, w); !known || df != nil || !near(su, math.Sqrt(12), 1e-5) || !near(accept, 1.644854*math.Sqrt(12), 1e-5) {
		t.Errorf("u %v with %v degrees, accept %v", su, df, accept)
	}
	if d := mustDecide(t, w, nil, at(60*um), Simple); !strings.Contains(d.Reason, "never acceptance") {
		t.Errorf("one reading is not said: %s", d.Reason)
	}
}

// Reseated each round, four flutes: opposite flutes differ by the first harmonic alone. Its two draws along the flutes are
// +2 and -2 um of offset, across them nought: s1^2 = (2^2 + 2^2)/2 = 4 with 2 degrees of freedom; the difference of
// flutes 1 and 3 counts it 2^2 times: u^2 = 4 x 4/2 = 8, t(0.95, 2) = 2.919986.
func TestReseatedByHand(t *testing.T) {
	r := Readings{Reseated: true, Accuracy: Accuracy{Resolution: 1}, Flutes: [][]length.Length{{12 * um, 8 * um}, {0, 0}, {-12 * um, -8 * um}, {0, 0}}}
	h := mustHeights(t, r)
	e := h.TIR()
	if h.AsHeld || e.Value != 20*um {
		t.Fatalf("TIR %v, as held %v", e.Value, h.AsHeld)
	}
	if accept, _ := bandsOf(t, e); !near(accept, 2.919986*math.Sqrt(8), 1e-3) {
		t.Errorf("accept %v, want %v", accept, 2.919986*math.Sqrt(8))
	}
	r.Flutes[0] = r.Flutes[0][:1]
	if _, err := r.Heights(); err == nil {
		t.Error("rounds that are not whole: no error")
	}
}

// Held once, the studied error of holding, 3 um per axis, joins the band: flutes 1 and 3 of four lie two radii apart, so u^2 =
// 2 x 1/1 + 4 x 9 = 38 on one reading with sp = 1 um; t(0.95, 1000000) = 1.644854.
func TestHoldingByHand(t *testing.T) {
	many := 1_000_000
	r := Readings{
		Accuracy: Accuracy{Resolution: 1, Studied: Repeatability{Micrometres: 1, DF: many}},
		Holding:  Repeatability{Micrometres: 3, DF: many},
		Flutes:   [][]length.Length{{20 * um}, {10 * um}, {0}, {10 * um}},
	}
	h := mustHeights(t, r)
	if accept, _ := bandsOf(t, h.TIR()); h.AsHeld || !near(accept, 1.644854*math.Sqrt(38), 1e-3) {
		t.Errorf("accept %v, want %v; as held %v", accept, 1.644854*math.Sqrt(38), h.AsHeld)
	}
	// Twice the offset: u(2e) = 2 u sqrt(2/N) = 2 sqrt(1/2), and the holding twice over: u^2 = 2 + 36.
	if accept, _ := bandsOf(t, h.Concentricity()); !near(accept, 1.644854*math.Sqrt(38), 1e-3) {
		t.Errorf("concentricity: accept %v, want %v", accept, 1.644854*math.Sqrt(38))
	}
	// The teeth themselves do not feel the holding: two neighbours' residuals differ by u^2 = 2 - 2 x 2/4 = 1.
	tooth, ok := h.ToothError()
	if accept, _ := bandsOf(t, tooth); !ok || tooth.Value > 1 || !near(accept, 1.644854, 1e-3) {
		t.Errorf("tooth error %v: accept %v, want 1.644854", tooth.Value, accept)
	}
	r.Holding = Repeatability{}
	if h := mustHeights(t, r); !h.AsHeld {
		t.Error("a holding that nobody studied: not as held")
	}
}

// The concentricity of an offset is twice the offset, and a tool is rejected by the length of an error vector with two
// degrees of freedom: sqrt(2 F(0.95; 2, 30)) = sqrt(2 x 3.315830) (R: qf(0.95, 2, 30)).
func TestConcentricityByHand(t *testing.T) {
	h := mustHeights(t, Readings{
		Accuracy: Accuracy{Resolution: 1, Studied: Repeatability{Micrometres: 1, DF: 30}},
		Flutes:   [][]length.Length{{20 * um}, {10 * um}, {0}, {10 * um}},
	})
	e := h.Concentricity()
	u := 2 * math.Sqrt(2.0/4)
	accept, reject := bandsOf(t, e)
	if e.Value != 20*um || !near(accept, 1.697261*u, 1e-4) || !near(reject, math.Sqrt(2*3.315830)*u, 1e-4) {
		t.Errorf("value %v, accept %v, reject %v", e.Value, accept, reject)
	}
}

func TestSuspectIsNamed(t *testing.T) {
	// Three rounds of four flutes with 1 um of scatter; round 2 of flute 3 is 15 um off.
	r := Readings{Accuracy: Accuracy{Resolution: um / 2}, Flutes: [][]length.Length{
		{0, um, um / 2}, {3 * um, 3*um - um/2, 3*um + um/2}, {5 * um, 20 * um, 5*um + um}, {2 * um, 3 * um, 2 * um},
	}}
	h := mustHeights(t, r)
	if h.Suspect == nil || *h.Suspect != (Suspect{3, 2}) {
		t.Fatalf("suspect %+v, want round 2 of flute 3", h.Suspect)
	}
	d := mustDecide(t, h.TIR(), nil, at(11*um), Guarded)
	if d.Verdict != Undecided || !strings.Contains(d.Reason, "reading 2 of flute 3") {
		t.Errorf("%+v", d.Decision)
	}
	// Whatever that reading was, the tool is far within a wide limit.
	if d := mustDecide(t, h.TIR(), nil, at(200*um), Guarded); d.Verdict != Accept {
		t.Errorf("wide limit: %+v", d.Decision)
	}
	r.Flutes[2][1] = 5 * um
	if h := mustHeights(t, r); h.Suspect != nil {
		t.Errorf("clean readings: %+v", h.Suspect)
	}
	// Of two readings that differ nothing tells which is wrong.
	r.Accuracy.Studied = Repeatability{Micrometres: 1, DF: 30}
	for k := range r.Flutes {
		r.Flutes[k] = r.Flutes[k][:2]
	}
	r.Flutes[1][1] += 20 * um
	if h := mustHeights(t, r); h.Suspect == nil || *h.Suspect != (Suspect{2, 0}) {
		t.Errorf("two rounds: %+v", h.Suspect)
	}
}

// Clean readings are called suspect in at most 2 %, in whatever step they were read; one off by ten spreads is found by
// three rounds, and named rightly.
func TestSimulatedSuspect(t *testing.T) {
	const sigma = 50 * microinch
	for _, step := range []float64{0.1, 1, 2, 4, 10} {
		for _, n := range []int{2, 4, 6} {
			for _, m := range []int{2, 3, 5} {
				rng := rand.New(rand.NewPCG(3, uint64(n*m)))
				b := bench{sigma: sigma, step: step * sigma}
				flagged := 0.0
				for range draws() {
					if h := mustHeights(t, b.take(rng, shapes["offset"](rng, n, 300*microinch), m)); h.Suspect != nil {
						flagged++
					}
				}
				if share := flagged / float64(draws()); share > within(0.025) {
					t.Errorf("step %v, %d flutes, %d rounds: %.4f of clean sets hold a suspect reading", step, n, m, share)
				}
			}
		}
	}
	for _, n := range []int{4, 6} {
		rng := rand.New(rand.NewPCG(4, uint64(n)))
		b := bench{sigma: sigma, step: sigma, slip: 12 * sigma}
		found := 0.0
		for range draws() {
			if h := mustHeights(t, b.take(rng, shapes["offset"](rng, n, 300*microinch), 3)); h.Suspect != nil && *h.Suspect == (Suspect{n, 3}) {
				found++
			}
		}
		if share := found / float64(draws()); share < 0.8 {
			t.Errorf("%d flutes: a reading twelve spreads off is named in %.3f", n, share)
		}
	}
}

func TestStep(t *testing.T) {
	five := 5 * um
	for _, test := range []struct {
		sets [][]length.Length
		want length.Length
	}{
		{[][]length.Length{{3 * five, 7 * five}, {-2 * five, 0}}, five}, // 0.015, 0.035, -0.010 mm: a dial in fives
		{[][]length.Length{{10 * um, 10 * um}, {10 * um}}, 0},           // all alike: nothing tells
		{[][]length.Length{{0, 0}}, 0},
		{nil, 0},
		{[][]length.Length{{three(um), three(um) + 2*um}}, 2 * um},                        // zero set beside a line
		{[][]length.Length{{0, 30 * length.Tenth, 60 * length.Tenth}}, 10 * length.Tenth}, // no dial reads in thirties
		{[][]length.Length{{0, 3 * length.Tenth, 9 * length.Tenth}, {15 * length.Tenth, 6 * length.Tenth}}, 3 * length.Tenth}, // four whole numbers of three
		{[][]length.Length{{0, 7 * length.Tenth}}, length.Tenth},
		{[][]length.Length{{0, 8 * length.Tenth}}, 2 * length.Tenth},
		{[][]length.Length{{0, 75 * length.Tenth / 100}, {25 * length.Tenth / 10}}, 25 * length.Tenth / 100}, // a dial in quarters of a tenth
		{[][]length.Length{{0, 60 * um, 180 * um}}, 20 * um},                                                 // a vernier in fiftieths
		{[][]length.Length{{0, 1}, {3}}, 1},
	} {
		if got := Step(test.sets...); got != test.want {
			t.Errorf("step of %v: %v, want %v", test.sets, got, test.want)
		}
	}
}

func three(l length.Length) length.Length { return 3 * l }

// F(0.005; 4, 40) = 0.0505 to 0.05 (any table of F: 1/F(0.995; 40, 4) = 1/19.75): a fifth of the study's standard deviation
// disagrees, a half does not.
func TestRepeatabilityWithStudy(t *testing.T) {
	study := Repeatability{Micrometres: 2, DF: 40}
	for _, test := range []struct {
		own, want Repeatability
	}{
		{Repeatability{}, Repeatability{Micrometres: 2, DF: 40}},
		{Repeatability{Micrometres: 1, DF: 4, Sets: 4}, Repeatability{Micrometres: math.Sqrt((4*1 + 40*4) / 44.0), DF: 44, Sets: 4}},
		{Repeatability{Micrometres: 0.4, DF: 4, Sets: 4}, Repeatability{Micrometres: 2, DF: 40, Sets: 4}}, // the larger stands
		{Repeatability{Micrometres: 6, DF: 4, Sets: 4}, Repeatability{Micrometres: 6, DF: 4, Sets: 4}},
	} {
		if got := test.own.With(study); got.DF != test.want.DF || got.Sets != test.want.Sets || math.Abs(got.Micrometres-test.want.Micrometres) > 1e-12 {
			t.Errorf("%+v with a study: %+v, want %+v", test.own, got, test.want)
		}
	}
}

func TestLooksSpendFivePerCent(t *testing.T) {
	sum := 0.0
	for m := range 30 {
		sum += Look(m)
	}
	if math.Abs(sum-0.05) > 1e-15 || Look(1) != 0 || Look(2) != 0.025 || Look(3) != 0.012 || Look(11) != 0 {
		t.Errorf("looks spend %v", sum)
	}
}

// The least limit is what a tool that reads alike on every flute is accepted against, and no smaller one.
func TestLeastLimit(t *testing.T) {
	g := Accuracy{Resolution: um / 100, Studied: Repeatability{Micrometres: 1, DF: 40}, PermissibleError: um}
	least := LeastLimit(4, g, Repeatability{}, false)
	// u = sqrt(2/50), t(0.95, 40 + 4 x 49 - 1 = 235) = 1.651364 (R: qt(0.95, 235)).
	if !near(least, 1+1.651364*math.Sqrt(2.0/50), 1e-4) {
		t.Errorf("least limit %v", least)
	}
	if coarse := LeastLimit(4, Accuracy{Resolution: 10 * um}, Repeatability{}, true); coarse < 4*um || coarse > 10*um {
		t.Errorf("coarse gauge: %v", coarse)
	}
	if held := LeastLimit(4, g, Repeatability{Micrometres: 5, DF: 20}, true); held < 15*um {
		t.Errorf("with a holding that is off: %v", held)
	}
}

// A reading equal to its limit conforms, in inch and in mm, and one picometre more does not.
func TestSimpleRuleIsExact(t *testing.T) {
	limit, err := length.Parse("0.0005in", length.None)
	if err != nil {
		t.Fatal(err)
	}
	reading, err := length.Parse("0.0127mm", length.None)
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		value        length.Length
		lower, upper *length.Length
		want         Verdict
	}{
		{reading, nil, &limit, Accept},
		{reading + 1, nil, &limit, Reject},
		{reading, &limit, nil, Accept},
		{reading - 1, &limit, nil, Reject},
		{reading, &limit, &limit, Accept},
		{reading + 1, &limit, &limit, Reject},
	}
	for _, test := range tests {
		e := mustTIR(t, Accuracy{}, []length.Length{0}, []length.Length{test.value})
		if d := mustDecide(t, e, test.lower, test.upper, Simple); d.Verdict != test.want || !strings.Contains(d.Reason, "never acceptance") {
			t.Errorf("%v within %v, %v: %v (%s), want %v", test.value, test.lower, test.upper, d.Verdict, d.Reason, test.want)
		}
	}
}

// Means that fall between picometres keep their differences, whatever their signs.
func TestMeanLengthKeepsDifferences(t *testing.T) {
	tests := []struct {
		repeats []length.Length
		want    length.Length
	}{
		{[]length.Length{7}, 7},
		{[]length.Length{-1, 0}, 0}, // -0.5, up
		{[]length.Length{0, 1}, 1},  // 0.5, up
		{[]length.Length{-2, -1}, -1},
		{[]length.Length{-1, -1, 0}, -1},
		{[]length.Length{0, 0, 1}, 0},
		{[]length.Length{0, -1, -1}, -1},
		{[]length.Length{1, 0, -1, -1}, 0},
		{[]length.Length{mostReading, mostReading, mostReading}, mostReading},
		{[]length.Length{-mostReading, mostReading}, 0},
	}
	for _, test := range tests {
		if got := MeanLength(test.repeats); got != test.want {
			t.Errorf("MeanLength(%v) = %d, want %d", test.repeats, got, test.want)
		}
	}
}

func TestOneReading(t *testing.T) {
	single := [][]length.Length{{0}, {3 * um}}
	limit := at(100 * um)
	d := mustDecide(t, mustTIR(t, Accuracy{Resolution: um}, single...), nil, limit, Guarded)
	if d.Verdict != NotJudged || d.Known || d.Probability != nil || !strings.Contains(d.Reason, "never acceptance") {
		t.Errorf("one reading: %+v", d)
	}
	// With a studied sd of 1 um on 30 degrees, t(0.95, 30) = 1.697261, u = sqrt(2).
	studied := Accuracy{Resolution: 1, Studied: Repeatability{Micrometres: 1, DF: 30}}
	e := mustTIR(t, studied, single...)
	if accept, _ := bandsOf(t, e); !near(accept, 1.697261*math.Sqrt2, 1e-5) {
		t.Errorf("studied: accept %v", accept)
	}
	if d := mustDecide(t, e, nil, limit, Guarded); d.Verdict != Accept || !d.Known {
		t.Errorf("studied: %+v", d)
	}
	// Repeats of the tool and the study are one: 4 - 1 of drift and 30.
	if e := mustTIR(t, studied, []length.Length{0, um, 0}, []length.Length{um, 0, um}); e.Noise.DF != 33 {
		t.Errorf("repeated: %+v", e.Noise)
	}
}

func TestReadingsThatTellNothing(t *testing.T) {
	alike := [][]length.Length{{0, 0}, {um, um}}
	d := mustDecide(t, mustTIR(t, Accuracy{}, alike...), nil, at(2*um), Guarded)
	if d.Verdict != NotJudged || d.Probability != nil || !strings.Contains(d.Reason, "no resolution") {
		t.Errorf("no resolution: %+v", d)
	}
	d = mustDecide(t, mustTIR(t, Accuracy{Resolution: um}, alike...), nil, nil, Guarded)
	if d.Verdict != NotJudged || d.Probability != nil || d.Reason != "no limit given" || !d.Known || d.High == 0 {
		t.Errorf("no limit: %+v", d)
	}
}

func TestTooCoarse(t *testing.T) {
	tests := []struct {
		name  string
		gauge Accuracy
	}{
		{"step", Accuracy{Resolution: 2 * um}},
		{"permissible error", Accuracy{Resolution: um / 10, PermissibleError: 3 * um}},
	}
	for _, test := range tests {
		e := mustTIR(t, test.gauge, around(0), around(6*um), around(2*um))
		d := mustDecide(t, e, nil, at(7*um), Guarded)
		if d.Verdict != Undecided || d.Settle != 0 || !strings.Contains(d.Reason, "too coarse") {
			t.Errorf("%s: %+v", test.name, d)
		}
	}
}

// Lower limits mirror upper ones: a difference read the other way round gives the same verdict.
func TestLowerLimitMirrorsUpper(t *testing.T) {
	g := Accuracy{Resolution: um, PermissibleError: um}
	from, to := around(9*um), around(2*um)
	noise, err := g.Noise(from, to)
	if err != nil {
		t.Fatal(err)
	}
	forward, err1 := Difference(from, to, noise, g)
	backward, err2 := Difference(to, from, noise, g)
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	seen := map[Verdict]bool{}
	for limit := length.Length(0); limit < 15*um; limit += um / 4 {
		up := mustDecide(t, forward, nil, at(limit), Guarded)
		down := mustDecide(t, backward, at(-limit), nil, Guarded)
		if up.Verdict != down.Verdict || *up.Probability != *down.Probability || up.Settle != down.Settle {
			t.Errorf("limit %v: %+v, mirrored %+v", limit, up.Decision, down.Decision)
		}
		seen[up.Verdict] = true
	}
	if len(seen) != 3 {
		t.Errorf("verdicts seen: %v, want three", seen)
	}
}

func TestBothLimits(t *testing.T) {
	w, err := Width(around(20*um), Repeatability{Micrometres: 1, DF: 30, Sets: 1}, Accuracy{Resolution: 1})
	if err != nil {
		t.Fatal(err)
	}
	// u = sqrt(1/3); t(0.95, 30) u = 0.979914, t(0.975, 30) u = 1.179106 um.
	tests := []struct {
		lower, upper length.Length
		want         Verdict
	}{
		{18 * um, 22 * um, Accept},
		{20*um - 979_000, 22 * um, Undecided},
		{18 * um, 20*um + 979_000, Undecided},
		{20*um - 980_000, 20*um + 980_000, Accept},
		{21*um + 180_000, 25 * um, Reject},
		{21 * um, 25 * um, Undecided}, // beyond 0.98, which would reject at one limit, but not at two
		{15 * um, 19*um - 180_000, Reject},
		{19 * um, 21 * um, Accept},
		{20 * um, 20 * um, Undecided},
	}
	for _, test := range tests {
		if d := mustDecide(t, w, &test.lower, &test.upper, Guarded); d.Verdict != test.want {
			t.Errorf("20 um within %v to %v: %v, want %v", test.lower, test.upper, d.Verdict, test.want)
		}
	}
}

func TestRatioDecision(t *testing.T) {
	half := Fraction{1, 2}
	ratio := func(g Accuracy, part, whole []length.Length) Ratio {
		noise, err := g.Noise(part, whole)
		if err != nil {
			t.Fatal(err)
		}
		return mustRatio(t, mustWidth(t, part, noise, g), mustWidth(t, whole, noise, g))
	}
	decide := func(r Ratio, lower, upper *Fraction, rule Rule) RatioDecision {
		d, err := DecideRatio(r, lower, upper, rule)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	// Exactly half is not more than half; a picometre more is.
	whole := []length.Length{length.Inch / 20}
	for extra, want := range map[length.Length]Verdict{-1: Accept, 0: Accept, 1: Reject} {
		r := ratio(Accuracy{}, []length.Length{length.Inch/40 + extra}, whole)
		if d := decide(r, nil, &half, Simple); d.Verdict != want {
			t.Errorf("half %+d pm: %v, want %v", extra, d.Verdict, want)
		}
	}
	// 500/1000 um with sp = 1 um, m = 3, nu = 4: U = t(0.975, 4) sqrt(1/3 + 0.25/3) / 1000 = 0.001792187.
	g := Accuracy{Resolution: 1}
	r := ratio(g, around(500*um), around(1000*um))
	d := decide(r, nil, &half, Guarded)
	if d.Verdict != Undecided || math.Abs(d.High-d.Value-0.001792187) > 1e-8 || math.Abs(*d.Probability-0.5) > 1e-12 {
		t.Errorf("half: %+v", d)
	}
	// One-sided: 2 part - whole has u = sqrt(5/3), t(0.95, 4) u = 2.752200 um.
	for margin, want := range map[length.Length]Verdict{2_752_100: Undecided, 2_752_300: Accept, -2_752_100: Undecided, -2_752_300: Reject} {
		r := ratio(g, around(500*um), around(1000*um+margin))
		if d := decide(r, nil, &half, Guarded); d.Verdict != want {
			t.Errorf("margin %v: %v, want %v", margin, d.Verdict, want)
		}
	}
	target := [2]Fraction{{15, 100}, {35, 100}}
	for share, want := range map[length.Length]Verdict{100: Reject, 150: Undecided, 250: Accept, 350: Undecided, 400: Reject} {
		r := ratio(g, around(share*um), around(1000*um))
		if d := decide(r, &target[0], &target[1], Guarded); d.Verdict != want {
			t.Errorf("share %v: %v, want %v", share, d.Verdict, want)
		}
	}
	if d := decide(ratio(Accuracy{}, around(500 * um)[:1], whole), nil, &half, Guarded); d.Verdict != NotJudged {
		t.Errorf("one reading of a gauge without a known step: %v", d.Verdict)
	}
}

// Each width has the step and the error of its own gauge. Read once each and nobody studied either, by hand
//
//	U = (1.959964 sqrt(q1^2/12 + ratio^2 q2^2/12) + E1 + ratio E2) / whole
//
// and studied apart, with 10 and 30 degrees of freedom, Welch and Satterthwaite's of both (JCGM 100:2008 G.4): variances 4 and
// 0.25 * 16 = 4, so 8^2 / (4^2/10 + 4^2/30) = 30.
func TestRatioOfTwoGauges(t *testing.T) {
	fine, coarse := Accuracy{Resolution: 2 * um, PermissibleError: um}, Accuracy{Resolution: 24 * um, PermissibleError: 12 * um}
	part, whole := []length.Length{500 * um}, []length.Length{1000 * um}
	r := mustRatio(t, mustWidth(t, part, Repeatability{}, fine), mustWidth(t, whole, Repeatability{}, coarse))
	want := (1.959964*math.Sqrt(4.0/12+0.25*576/12) + 1 + 0.5*12) / 1000
	if u, known := r.Uncertainty(); !known || math.Abs(u-want) > 1e-8 {
		t.Errorf("U %v, want %v", u, want)
	}
	r = mustRatio(t, mustWidth(t, part, Repeatability{Micrometres: 2, DF: 10}, Accuracy{Resolution: 1}), mustWidth(t, whole, Repeatability{Micrometres: 4, DF: 30}, Accuracy{Resolution: 1}))
	if u, df, known := r.StandardUncertainty(); !known || df == nil || *df != 30 || math.Abs(u-math.Sqrt(8)/1000) > 1e-8 {
		t.Errorf("u %v, %v degrees of freedom; want %v and 30", u, df, math.Sqrt(8)/1000)
	}
	if r = mustRatio(t, mustWidth(t, part, Repeatability{}, fine), mustWidth(t, whole, Repeatability{}, Accuracy{})); func() bool { _, known := r.Uncertainty(); return known }() {
		t.Error("known, though nothing tells how good the whole is")
	}
}

// Probabilities of JCGM 106:2012, section 7.3.3, and constructed ones: a known standard uncertainty is one with many
// degrees of freedom. Values are scaled to micrometres; a ratio is one of lengths.
func TestConformance(t *testing.T) {
	for _, row := range published.Rows(t, "testdata/conformity_cases.csv") {
		unit := float64(length.Millimetre)
		w, err := Width([]length.Length{length.Length(published.Number(t, row[1]) * unit)},
			Repeatability{Micrometres: published.Number(t, row[2]) * 1000, DF: 1_000_000_000}, Accuracy{Resolution: 1})
		if err != nil {
			t.Fatal(err)
		}
		limit := func(s string) *length.Length {
			if s == "" {
				return nil
			}
			return at(length.Length(math.Round(published.Number(t, s) * unit)))
		}
		d := mustDecide(t, w, limit(row[3]), limit(row[4]), Guarded)
		if want := published.Number(t, row[6]); math.Abs(*d.Probability-want) > 2e-6 {
			t.Errorf("%s: %.6f, want %s", row[0], *d.Probability, row[6])
		}
	}
	// Between two limits, each one standard uncertainty off: 0.6826895 (normal distribution).
	w, err := Width([]length.Length{0}, Repeatability{Micrometres: 1, DF: 1_000_000_000}, Accuracy{Resolution: 1})
	if err != nil {
		t.Fatal(err)
	}
	if d := mustDecide(t, w, at(-um), at(um), Guarded); math.Abs(*d.Probability-0.6826895) > 1e-6 {
		t.Errorf("two limits: %v", *d.Probability)
	}
}

func TestRefused(t *testing.T) {
	good := [][]length.Length{around(0), around(um)}
	huge := [][]length.Length{{2 * mostReading}, {0}}
	estimate := func(_ Estimate, err error) error { return err }
	ratio := func(part, whole length.Length) error {
		_, err := NewRatio(mustWidth(t, []length.Length{part}, Repeatability{}, Accuracy{}), mustWidth(t, []length.Length{whole}, Repeatability{}, Accuracy{}))
		return err
	}
	decide := func(lower, upper *length.Length, rule Rule) error {
		_, err := Decide(mustTIR(t, Accuracy{}, good...), lower, upper, rule)
		return err
	}
	tests := []struct {
		name string
		err  error
		want string
	}{
		{"no flute", estimate(tir(nil, Accuracy{})), "0 flutes"},
		{"one flute", estimate(tir(good[:1], Accuracy{})), "1 flutes"},
		{"empty flute", estimate(tir([][]length.Length{around(0), {}}, Accuracy{})), "flute 2: no reading"},
		{"huge reading", estimate(tir(huge, Accuracy{})), "kilometre"},
		{"many repeats", estimate(Width(make([]length.Length, 1001), Repeatability{}, Accuracy{})), "1001 repeats"},
		{"negative step", estimate(tir(good, Accuracy{Resolution: -1})), "resolution"},
		{"negative error", estimate(tir(good, Accuracy{PermissibleError: -1})), "permissible error"},
		{"noise NaN", estimate(Width(good[0], Repeatability{Micrometres: math.NaN(), DF: 3}, Accuracy{})), "repeatability NaN"},
		{"noise infinite", estimate(Width(good[0], Repeatability{Micrometres: math.Inf(1), DF: 3}, Accuracy{})), "repeatability +Inf"},
		{"no master", estimate(LargestDiameter(0, good[0], good, Accuracy{})), "master"},
		{"no flutes on master", estimate(LargestDiameter(um, good[0], nil, Accuracy{})), "no flute"},
		{"angles", func() error { _, err := Readings{Flutes: good, Radians: []float64{0}}.Heights(); return err }(), "1 angles"},
		{"land nought", ratio(1, 0), "widths above nought"},
		{"primary negative", ratio(-1, 5), "widths above nought"},
		{"limits crossed", decide(at(2), at(1), Simple), "lower one is larger"},
		{"limit huge", decide(nil, at(math.MinInt64), Simple), "kilometre"},
		{"rule", decide(nil, at(1), "shared"), "want simple or guarded"},
	}
	for _, test := range tests {
		if test.err == nil || !strings.Contains(test.err.Error(), test.want) {
			t.Errorf("%s: %v, want %q", test.name, test.err, test.want)
		}
	}
	r := mustRatio(t, mustWidth(t, around(5*um), Repeatability{}, Accuracy{}), mustWidth(t, around(9*um), Repeatability{}, Accuracy{}))
	for _, f := range []Fraction{{1, 0}, {-1, 2}, {1, 2_000_000}} {
		if _, err := DecideRatio(r, nil, &f, Simple); err == nil {
			t.Errorf("limit %v: no error", f)
		}
	}
	if _, err := DecideRatio(r, &Fraction{1, 2}, &Fraction{1, 3}, Simple); err == nil {
		t.Error("crossed ratios: no error")
	}
}

// A tool that turns backwards shows its flutes 1, 4, 3, 2: with the order told, the drift is taken out as well.
func TestOrderTaken(t *testing.T) {
	heights := []length.Length{0, 5 * um, 9 * um, 2 * um}
	r := Readings{Flutes: make([][]length.Length, 4), Accuracy: Accuracy{Resolution: 1, Studied: Repeatability{Micrometres: 0.01, DF: 30}}}
	for i := range 12 {
		k := []int{0, 3, 2, 1}[i%4]
		r.Taken = append(r.Taken, k)
		r.Flutes[k] = append(r.Flutes[k], heights[k]+length.Length(i)*um)
	}
	h := mustHeights(t, r)
	if e := h.TIR(); !h.Drift.Shown || (e.Value-9*um).Abs() > 1 {
		t.Errorf("TIR %v, %+v; want 9 um", e.Value, h.Drift)
	}
	for _, taken := range [][]int{{0}, {0, 1, 2, 4}, r.Taken[1:]} {
		r.Taken = taken
		if _, err := r.Heights(); err == nil {
			t.Errorf("order %v: no error", taken)
		}
	}
}
