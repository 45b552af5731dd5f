package statistics

import (
	"errors"
	"math"
	"strings"
	"testing"

	"flutelog/inspect/length"

	"gonum.org/v1/gonum/stat/distuv"
)

const um = length.Micrometre

// around returns three readings of standard deviation exactly 1 um about x.
func around(x length.Length) []length.Length { return []length.Length{x - um, x, x + um} }

func mustTIR(t *testing.T, g Gauge, flutes ...[]length.Length) Estimate {
	t.Helper()
	e, err := TIR(flutes, g)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func mustDecide(t *testing.T, e Estimate, lower, upper *length.Length, rule Rule) LengthDecision {
	t.Helper()
	d, err := Decide(e, lower, upper, rule)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func at(l length.Length) *length.Length { return &l }

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

func near(got length.Length, wantMicrometres, within float64) bool {
	return math.Abs(got.Micrometres()-wantMicrometres) <= within
}

// Bands by hand from printed quantiles: t(0.95, 8) = 1.859548 and t(0.975, 8) = 2.306004 (any table), q(0.95; 4, 8) =
// 4.52881 (studentized range table), with sp = 1 um, m = 3, nu = 8.
func TestBandsByHand(t *testing.T) {
	four := [][]length.Length{around(0), around(2 * um), around(7 * um), around(3 * um)}
	steady := [][]length.Length{{0, 0, 0}, {2 * um, 2 * um, 2 * um}, {7 * um, 7 * um, 7 * um}, {3 * um, 3 * um, 3 * um}}
	const fine = length.Picometre
	tests := []struct {
		name                 string
		flutes               [][]length.Length
		gauge                Gauge
		accept, reject, both float64 // micrometres
	}{
		// u = sqrt(1/3): t sqrt(2) u = 1.518315, q u = 2.614710.
		{"noise alone", four, Gauge{Resolution: fine}, 1.518315, 2.614710, 2.614710},
		// u = sqrt(1/3 + 1/12) = 0.6454972: 1.697528, 2.923334.
		{"noise and step", four, Gauge{Resolution: um}, 1.697528, 2.923334, 2.923334},
		// sqrt(1.518315^2 + 1.9^2) = 2.432135; 2.614710 + 1.9.
		{"noise and error", four, Gauge{Resolution: fine, PermissibleError: 2 * um}, 2.432135, 4.514710, 4.514710},
		// All within one step: t sqrt(2/12) = 0.759157 is under the step itself; q sqrt(1/12) = 1.307355.
		{"steady", steady, Gauge{Resolution: um}, 1, 1.307355, 1.307355},
		{"steady, with error", steady, Gauge{Resolution: um, PermissibleError: 2 * um}, 2.9, 3.207355, 3.207355},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			e := mustTIR(t, test.gauge, test.flutes...)
			if e.Value != 7*um {
				t.Errorf("TIR = %v, want 7 um", e.Value)
			}
			accept, reject := bandsOf(t, e)
			u, known := e.Uncertainty()
			if !known || !near(accept, test.accept, 1e-5) || !near(reject, test.reject, 1e-5) || !near(u, test.both, 1e-5) {
				t.Errorf("accept %v, reject %v, U %v (known %v); want %v, %v, %v um",
					accept, reject, u, known, test.accept, test.reject, test.both)
			}
		})
	}
}

// One flute with a single reading makes u that of a single reading for all: nu = 6, t(0.95, 6) = 1.943180,
// times sqrt(2); q(0.95; 4, 6) = 4.89560.
func TestUnequalRepeats(t *testing.T) {
	e := mustTIR(t, Gauge{Resolution: 1}, around(0), around(2*um), around(7*um), []length.Length{3 * um})
	accept, reject := bandsOf(t, e)
	if e.Noise != (Repeatability{1, 6, 4}) || !near(accept, 2.748072, 1e-5) || !near(reject, 4.89560, 1e-5) {
		t.Errorf("noise %+v, accept %v, reject %v", e.Noise, accept, reject)
	}
}

// t(0.95, 4) = 2.131847, t(0.975, 4) = 2.776445, sp = 1 um, u = sqrt(2/3).
func TestDifferenceByHand(t *testing.T) {
	tests := []struct {
		name          string
		gauge         Gauge
		one, twoSided float64
	}{
		{"noise", Gauge{Resolution: 1}, 1.740646, 2.266958},
		// sqrt(2/3 + 3^2/3) = 1.914854
		{"noise and error", Gauge{Resolution: 1, PermissibleError: 3 * um}, 4.082175, 5.316486},
	}
	for _, test := range tests {
		noise, err := test.gauge.Noise(around(9*um), around(2*um))
		if err != nil {
			t.Fatal(err)
		}
		e, err := Difference(around(9*um), around(2*um), noise, test.gauge)
		if err != nil {
			t.Fatal(err)
		}
		accept, reject := bandsOf(t, e)
		u, _ := e.Uncertainty()
		if e.Value != 7*um || !near(accept, test.one, 1e-5) || reject != accept+1 || !near(u, test.twoSided, 1e-5) {
			t.Errorf("%s: value %v, bands %v, %v, %v; want %v, %v um", test.name, e.Value, accept, reject, u, test.one, test.twoSided)
		}
	}
}

// Master read 3 times at nought; sp = 1 um; two flutes, nu = 6: t(0.95, 6) = 1.943180, t(0.975, 6) =
// 2.446912; shared by two differences, t(1 - 0.05/2, 6) is the same 2.446912; by three, it comes from distuv.
func TestDiameterByHand(t *testing.T) {
	size := length.Inch / 2
	flutes := [][]length.Length{around(4 * um), around(10 * um)}
	g := Gauge{Resolution: 1}
	largest, err := LargestDiameter(size, around(0), flutes, g)
	if err != nil {
		t.Fatal(err)
	}
	mean, err := MeanDiameter(size, around(0), flutes, g)
	if err != nil {
		t.Fatal(err)
	}
	if largest.Value != size+20*um || mean.Value != size+14*um {
		t.Errorf("largest %v, mean %v", largest.Value, mean.Value)
	}
	// u = 2 sqrt(2/3) = 1.632993 and 2 sqrt(1/6 + 1/3) = 1.414214.
	shared := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: 6}.Quantile(1 - 0.05/3)
	accept, reject := bandsOf(t, largest)
	u, _ := largest.Uncertainty()
	if !near(accept, 1.632993*1.943180, 1e-5) || !near(reject, 1.632993*2.446912, 1e-5) || !near(u, 1.632993*shared, 1e-5) {
		t.Errorf("largest: %v, %v, %v", accept, reject, u)
	}
	accept, reject = bandsOf(t, mean)
	u, _ = mean.Uncertainty()
	if !near(accept, 1.414214*1.943180, 1e-5) || reject != accept+1 || !near(u, 1.414214*2.446912, 1e-5) {
		t.Errorf("mean: %v, %v, %v", accept, reject, u)
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
		e := mustTIR(t, Gauge{}, []length.Length{0}, []length.Length{test.value})
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
	d := mustDecide(t, mustTIR(t, Gauge{Resolution: um}, single...), nil, limit, Guarded)
	if d.Verdict != NotJudged || d.Known || d.Probability != nil || !strings.Contains(d.Reason, "never acceptance") {
		t.Errorf("one reading: %+v", d)
	}
	// With a studied sd of 1 um on 30 degrees, t(0.95, 30) = 1.697261, u = sqrt(2).
	studied := Gauge{Resolution: 1, Studied: Repeatability{Micrometres: 1, DF: 30}}
	e := mustTIR(t, studied, single...)
	if accept, _ := bandsOf(t, e); !near(accept, 1.697261*math.Sqrt2, 1e-5) {
		t.Errorf("studied: accept %v", accept)
	}
	if d := mustDecide(t, e, nil, limit, Guarded); d.Verdict != Accept || !d.Known {
		t.Errorf("studied: %+v", d)
	}
	// Repeats of the tool itself come before the study.
	if e := mustTIR(t, studied, around(0), around(um)); e.Noise.DF != 4 {
		t.Errorf("repeated: %+v", e.Noise)
	}
}

func TestReadingsThatTellNothing(t *testing.T) {
	alike := [][]length.Length{{0, 0}, {um, um}}
	d := mustDecide(t, mustTIR(t, Gauge{}, alike...), nil, at(2*um), Guarded)
	if d.Verdict != NotJudged || d.Probability != nil || !strings.Contains(d.Reason, "no resolution") {
		t.Errorf("no resolution: %+v", d)
	}
	d = mustDecide(t, mustTIR(t, Gauge{Resolution: um}, alike...), nil, nil, Guarded)
	if d.Verdict != NotJudged || d.Probability != nil || d.Reason != "no limit given" || !d.Known || d.High == 0 {
		t.Errorf("no limit: %+v", d)
	}
}

// Undecided names the number of repeats that would settle it, and that number does: with these readings
// repeated so often, to the same means and scatter, the verdict is no longer undecided; with one fewer it is.
func TestUndecidedSettles(t *testing.T) {
	flutes := func(m int) [][]length.Length {
		sets := [][]length.Length{{}, {}, {}}
		for k := range sets {
			// Plus and minus d about the mean, d such that the pooled sd is 1 um.
			d := length.Length(math.Round(math.Sqrt(float64(m-1)/float64(m)) * float64(um)))
			for i := range m {
				sets[k] = append(sets[k], length.Length(k)*5*um+d*length.Length(1-2*(i%2)))
			}
		}
		return sets
	}
	g := Gauge{Resolution: um / 10}
	for _, limit := range []length.Length{10*um + 900_000, 10*um + 700_000, 10*um - 900_000} {
		d := mustDecide(t, mustTIR(t, g, flutes(2)...), nil, &limit, Guarded)
		if d.Verdict != Undecided || d.Settle < 4 {
			t.Fatalf("limit %v: %+v", limit, d)
		}
		if !strings.Contains(d.Reason, "would settle it") {
			t.Errorf("limit %v: %s", limit, d.Reason)
		}
		even := (d.Settle + 1) / 2 * 2
		if later := mustDecide(t, mustTIR(t, g, flutes(even)...), nil, &limit, Guarded); later.Verdict == Undecided {
			t.Errorf("limit %v: undecided after %d repeats still", limit, even)
		}
		if before := mustDecide(t, mustTIR(t, g, flutes(even-2)...), nil, &limit, Guarded); before.Verdict != Undecided {
			t.Errorf("limit %v: %v with %d repeats already, %d were asked for", limit, before.Verdict, even-2, d.Settle)
		}
	}
}

// Three flutes read twice, sp = 1 um; t(0.95, nu) sqrt(2/m) is 2.353 for 2 repeats (nu = 3), 1.587 for 3 (nu =
// 6), 1.296 for 4 (nu = 9), 1.127 for 5 (nu = 12), with t from any table.
func TestSettleByHand(t *testing.T) {
	pair := func(x length.Length) []length.Length { return []length.Length{x - 707_107, x + 707_107} }
	e := mustTIR(t, Gauge{Resolution: 1}, pair(0), pair(5*um), pair(10*um))
	for margin, want := range map[length.Length]int{1_590_000: 3, 1_580_000: 4, 1_300_000: 4, 1_290_000: 5, 1_120_000: 6} {
		d := mustDecide(t, e, nil, at(e.Value+margin), Guarded)
		if d.Verdict != Undecided || d.Settle != want {
			t.Errorf("margin %v: %+v, want %d repeats", margin, d.Decision, want)
		}
	}
}

func TestTooCoarse(t *testing.T) {
	tests := []struct {
		name  string
		gauge Gauge
	}{
		{"step", Gauge{Resolution: 2 * um}},
		{"permissible error", Gauge{Resolution: um / 10, PermissibleError: 3 * um}},
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
	g := Gauge{Resolution: um, PermissibleError: um}
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
	w, err := Width(around(20*um), Repeatability{1, 30, 1}, Gauge{Resolution: 1})
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
	ratio := func(g Gauge, part, whole []length.Length) Ratio {
		noise, err := g.Noise(part, whole)
		if err != nil {
			t.Fatal(err)
		}
		r, err := NewRatio(part, whole, noise, g)
		if err != nil {
			t.Fatal(err)
		}
		return r
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
		r := ratio(Gauge{}, []length.Length{length.Inch/40 + extra}, whole)
		if d := decide(r, nil, &half, Simple); d.Verdict != want {
			t.Errorf("half %+d pm: %v, want %v", extra, d.Verdict, want)
		}
	}
	// 500/1000 um with sp = 1 um, m = 3, nu = 4: U = t(0.975, 4) sqrt(1/3 + 0.25/3) / 1000 = 0.001792187.
	g := Gauge{Resolution: 1}
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
	if d := decide(ratio(g, around(500 * um)[:1], whole), nil, &half, Guarded); d.Verdict != NotJudged {
		t.Errorf("one reading: %v", d.Verdict)
	}
}

// Probabilities of JCGM 106:2012, section 7.3.3, and constructed ones: a known standard uncertainty is one with many
// degrees of freedom. Values are scaled to micrometres; a ratio is one of lengths.
func TestConformance(t *testing.T) {
	for _, row := range table(t, "conformity_cases") {
		unit := float64(length.Millimetre)
		w, err := Width([]length.Length{length.Length(number(t, row[1]) * unit)},
			Repeatability{Micrometres: number(t, row[2]) * 1000, DF: 1_000_000_000}, Gauge{Resolution: 1})
		if err != nil {
			t.Fatal(err)
		}
		limit := func(s string) *length.Length {
			if s == "" {
				return nil
			}
			return at(length.Length(math.Round(number(t, s) * unit)))
		}
		d := mustDecide(t, w, limit(row[3]), limit(row[4]), Guarded)
		if want := number(t, row[6]); math.Abs(*d.Probability-want) > 2e-6 {
			t.Errorf("%s: %.6f, want %s", row[0], *d.Probability, row[6])
		}
	}
	// Between two limits, each one standard uncertainty off: 0.6826895 (normal distribution).
	w, err := Width([]length.Length{0}, Repeatability{Micrometres: 1, DF: 1_000_000_000}, Gauge{Resolution: 1})
	if err != nil {
		t.Fatal(err)
	}
	if d := mustDecide(t, w, at(-um), at(um), Guarded); math.Abs(*d.Probability-0.6826895) > 1e-6 {
		t.Errorf("two limits: %v", *d.Probability)
	}
}

func TestAboveNoise(t *testing.T) {
	// q(0.95; 2, 4) sqrt(1/3) = 3.92649 x 0.5773503 = 2.266960 um.
	for tir, want := range map[length.Length]bool{0: false, 2_266_000: false, 2_267_900: true} {
		distinguishable, known := mustTIR(t, Gauge{Resolution: 1}, around(0), around(tir)).AboveNoise()
		if distinguishable != want || !known {
			t.Errorf("TIR %v: %v, %v, want %v", tir, distinguishable, known, want)
		}
	}
	if _, known := mustTIR(t, Gauge{Resolution: 1}, []length.Length{0}, []length.Length{um}).AboveNoise(); known {
		t.Error("one reading tells noise")
	}
}

func TestDriftByHand(t *testing.T) {
	// sp = 1 um, nu = 4; sqrt(1/3 + 1) t(0.975, 4) = 3.205962 um; the permissible error plays no part.
	g := Gauge{Resolution: 1, PermissibleError: 50 * um}
	noise := Repeatability{1, 4, 2}
	for closing, void := range map[length.Length]bool{0: false, 3_205_000: false, 3_206_500: true, -3_206_500: true} {
		d, err := CheckDrift(around(0), []length.Length{closing}, noise, g)
		if err != nil {
			t.Fatal(err)
		}
		if d.Error != closing || d.Void != void || !d.Known || !near(d.Allowed, 3.205962, 1e-5) {
			t.Errorf("closing %v: %+v", closing, d)
		}
	}
	if d, err := CheckDrift([]length.Length{0}, []length.Length{um}, Repeatability{}, g); err != nil || d.Known || d.Void {
		t.Errorf("unknown noise: %+v, %v", d, err)
	}
}

func TestRefused(t *testing.T) {
	good := [][]length.Length{around(0), around(um)}
	huge := [][]length.Length{{2 * mostReading}, {0}}
	estimate := func(_ Estimate, err error) error { return err }
	ratio := func(part, whole length.Length) error {
		_, err := NewRatio([]length.Length{part}, []length.Length{whole}, Repeatability{}, Gauge{})
		return err
	}
	decide := func(lower, upper *length.Length, rule Rule) error {
		_, err := Decide(mustTIR(t, Gauge{}, good...), lower, upper, rule)
		return err
	}
	tests := []struct {
		name string
		err  error
		want string
	}{
		{"no flute", estimate(TIR(nil, Gauge{})), "0 flutes"},
		{"one flute", estimate(TIR(good[:1], Gauge{})), "1 flutes"},
		{"empty flute", estimate(TIR([][]length.Length{around(0), {}}, Gauge{})), "set 2: no reading"},
		{"huge reading", estimate(TIR(huge, Gauge{})), "kilometre"},
		{"many repeats", estimate(Width(make([]length.Length, 1001), Repeatability{}, Gauge{})), "1001 repeats"},
		{"negative step", estimate(TIR(good, Gauge{Resolution: -1})), "resolution"},
		{"negative error", estimate(TIR(good, Gauge{PermissibleError: -1})), "permissible error"},
		{"noise NaN", estimate(Width(good[0], Repeatability{math.NaN(), 3, 0}, Gauge{})), "repeatability NaN"},
		{"noise infinite", estimate(Width(good[0], Repeatability{math.Inf(1), 3, 0}, Gauge{})), "repeatability +Inf"},
		{"no master", estimate(LargestDiameter(0, good[0], good, Gauge{})), "master"},
		{"no flutes on master", estimate(MeanDiameter(um, good[0], nil, Gauge{})), "no flute"},
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
	r, err := NewRatio(around(5*um), around(9*um), Repeatability{}, Gauge{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []Fraction{{1, 0}, {-1, 2}, {1, 2_000_000}} {
		if _, err := DecideRatio(r, nil, &f, Simple); err == nil {
			t.Errorf("limit %v: no error", f)
		}
	}
	if _, err := DecideRatio(r, &Fraction{1, 2}, &Fraction{1, 3}, Simple); err == nil {
		t.Error("crossed ratios: no error")
	}
}
