package statistics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"flutelog/inspect/length"
)

// The simulations draw inspections of tools whose true heights are known, read them with a gauge that
// repeats, steps and errs as stated, and count how often what is said of them is wrong. Seeds are fixed. The reference
// is the drawn truth, not a formula.

// conditions are those a simulated gauge reads under: its standard deviation, its step, and its permissible error.
type conditions struct {
	name                 string
	sigma, q, e          length.Length
	exact                bool // nothing rounds, so that a bound of 5 % is reached and not only kept
	independent, stretch bool // how it errs: each reading by itself, or odd flutes against even ones
}

var manyConditions = []conditions{
	{name: "fine gauge", sigma: 1000, exact: true},
	{name: "step half of sigma", sigma: 1000, q: 500},
	{name: "step twice sigma", sigma: 1000, q: 2000},
	{name: "steady within its step", q: 1000},
	{name: "small error", sigma: 1000, q: 500, e: 1000, stretch: true},
	{name: "error, steady", q: 1000, e: 2000, stretch: true},
	{name: "large error", sigma: 1000, q: 500, e: 8000, stretch: true},
	{name: "large error, each reading", sigma: 1000, q: 500, e: 8000, independent: true},
}

// fewConditions are the telling ones of them.
var fewConditions = []conditions{manyConditions[0], manyConditions[1], manyConditions[3], manyConditions[5]}

func (c conditions) gauge() Gauge { return Gauge{Resolution: c.q, PermissibleError: c.e} }

// u is the standard uncertainty of a mean of m, permissible error aside.
func (c conditions) u(m int) float64 {
	return math.Sqrt(float64(c.sigma*c.sigma)/float64(m) + float64(c.q*c.q)/12)
}

// drawing draws sets of repeats under its conditions, into memory that it uses again.
type drawing struct {
	*rand.Rand
	conditions
	sets [][]length.Length
	at   []float64 // what the gauge adds to each set; any two differ by at most e
}

func newDrawing(rng *rand.Rand, c conditions, sets, repeats int) *drawing {
	d := &drawing{rng, c, make([][]length.Length, sets), make([]float64, sets)}
	for k := range d.sets {
		d.sets[k] = make([]length.Length, repeats)
	}
	return d
}

// err draws what the gauge adds.
func (d *drawing) err() {
	one := (2*d.Float64() - 1) * float64(d.e)
	for k := range d.at {
		switch {
		case d.independent:
			d.at[k] = (d.Float64() - 0.5) * float64(d.e)
		case d.stretch && k%2 == 1:
			d.at[k] = one
		}
	}
}

// read draws the repeats of set k.
func (d *drawing) read(k int, truth float64) {
	for i := range d.sets[k] {
		x := truth + d.at[k] + float64(d.sigma)*d.NormFloat64()
		if d.q > 0 {
			x = math.Floor(x/float64(d.q)+0.5) * float64(d.q)
		}
		d.sets[k][i] = length.Length(math.Floor(x + 0.5))
	}
}

func (d *drawing) noise(t *testing.T) Repeatability {
	noise, err := d.gauge().Noise(d.sets...)
	if err != nil {
		t.Fatal(err)
	}
	return noise
}

// inspections is how many are drawn per cell, and most the share of them that may be wrong.
func inspections() int {
	if testing.Short() {
		return 400
	}
	return 20_000
}

// A bound of 5 % that is reached exactly comes out above 5 % in half of all simulations. Only there, and in short
// runs, four standard errors of the count are allowed: 0.62 % on 20,000.
func most(c conditions) float64 {
	if c.exact || testing.Short() {
		return 0.05 + 4*math.Sqrt(0.05*0.95/float64(inspections()))
	}
	return 0.05
}

// what can be said wrongly of an inspection.
const (
	intervalMisses = iota
	acceptedWrongly
	rejectedWrongly
	toldFromNoise
	voidWithoutDrift
	kinds
)

var kindNames = [kinds]string{
	"interval misses", "non-conforming accepted", "conforming rejected", "perfect tool told from noise", "void without drift",
}

// wrong counts what was said wrongly, and keeps the largest share over the cells.
type wrong struct {
	counts [kinds]int
	worst  [kinds]float64
	where  [kinds]string
}

// close ends a cell: its counts become shares.
func (w *wrong) close(cell string) {
	for kind, count := range w.counts {
		if share := float64(count) / float64(inspections()); share >= w.worst[kind] {
			w.worst[kind], w.where[kind] = share, cell
		}
	}
	w.counts = [kinds]int{}
}

// add counts what is wrong in what e says.
func (w *wrong) add(e Estimate, truth length.Length) {
	if u, known := e.Uncertainty(); !known || (e.Value-truth).Abs() > u {
		w.counts[intervalMisses]++
	}
	w.addVerdicts(e, truth)
}

// addVerdicts counts wrong verdicts, at the limits nearest to the truth.
func (w *wrong) addVerdicts(e Estimate, truth length.Length) {
	verdict := func(limit length.Length) Verdict {
		return guarded([]bound{{e, limit - e.Value, above, below}}, Estimate.now)
	}
	if verdict(truth-1) == Accept {
		w.counts[acceptedWrongly]++
	}
	if verdict(truth) == Reject {
		w.counts[rejectedWrongly]++
	}
}

func (w *wrong) check(t *testing.T, c conditions) {
	t.Helper()
	for kind, share := range w.worst {
		t.Logf("%-26s %-28s %.4f, most at %s", c.name, kindNames[kind], share, w.where[kind])
		if share > most(c) {
			t.Errorf("%s: %s in %.4f of inspections at %s, want at most %.4f", c.name, kindNames[kind], share, w.where[kind], most(c))
		}
	}
}

var (
	fluteCounts  = []int{2, 3, 4, 6}
	repeatCounts = []int{2, 3, 5}
)

func forEachSize(visit func(flutes, repeats int)) {
	for _, n := range fluteCounts {
		for _, m := range repeatCounts {
			visit(n, m)
		}
	}
}

func TestSimulatedTIR(t *testing.T) {
	for seed, c := range manyConditions {
		rng := rand.New(rand.NewPCG(uint64(seed), 1))
		var w wrong
		forEachSize(func(n, m int) {
			d := newDrawing(rng, c, n, m)
			for _, us := range []float64{0, 1.3, 4, 20} {
				tir := length.Length(us * c.u(m))
				for i := range inspections() {
					e := simulatedTIR(t, d, float64(tir), i%2 == 0)
					w.add(e, tir)
					if above, _ := e.AboveNoise(); above && tir == 0 {
						w.counts[toldFromNoise]++
					}
				}
				w.close(fmt.Sprintf("%d flutes, %d repeats, TIR %v u", n, m, us))
			}
		})
		w.check(t, c)
	}
}

// simulatedTIR draws one inspection: two flutes at the ends of the TIR, the others between them or, what overstates
// a TIR most, at its ends as well. The tool lies anywhere within a step of the gauge.
func simulatedTIR(t *testing.T, d *drawing, tir float64, atEnds bool) Estimate {
	base := d.Float64() * 1e6
	d.err()
	for k := range d.sets {
		height := tir * float64(k%2)
		if k > 1 && !atEnds {
			height = tir * d.Float64()
		}
		d.read(k, base+height)
	}
	e, err := TIR(d.sets, d.gauge())
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// Drops are read at the edge and behind it on every flute; the repeatability is pooled over all of them, and one
// drop is judged. Its edge is read once more at the end.
func TestSimulatedDropAndDrift(t *testing.T) {
	for seed, c := range fewConditions {
		rng := rand.New(rand.NewPCG(uint64(seed), 2))
		var w wrong
		forEachSize(func(n, m int) {
			d, last := newDrawing(rng, c, 2*n, m), newDrawing(rng, c, 1, 1)
			for _, part := range []float64{0.1, 0.7} { // of a step
				drop := math.Floor(50_000 + part*float64(c.q))
				for range inspections() {
					base := d.Float64() * 1e6
					d.err()
					for k := range d.sets {
						d.read(k, base+drop*float64(1-k%2))
					}
					noise := d.noise(t)
					e, err := Difference(d.sets[0], d.sets[1], noise, c.gauge())
					if err != nil {
						t.Fatal(err)
					}
					w.add(e, length.Length(drop))
					last.at[0] = d.at[0]
					last.read(0, base+drop)
					drift, err := CheckDrift(d.sets[0], last.sets[0], noise, c.gauge())
					if err != nil {
						t.Fatal(err)
					}
					if drift.Void {
						w.counts[voidWithoutDrift]++
					}
				}
				w.close(fmt.Sprintf("%d flutes, %d repeats, %v of a step", n, m, part))
			}
		})
		w.check(t, c)
	}
}

func TestSimulatedDiameter(t *testing.T) {
	for seed, c := range fewConditions {
		rng := rand.New(rand.NewPCG(uint64(seed), 3))
		var largest, mean wrong
		forEachSize(func(n, m int) {
			d := newDrawing(rng, c, n+1, m)
			for _, us := range []float64{0, 3} {
				for range inspections() {
					simulatedDiameter(t, d, us*c.u(m), &largest, &mean)
				}
				cell := fmt.Sprintf("%d flutes, %d repeats, TIR %v u", n, m, us)
				largest.close("largest, " + cell)
				mean.close("mean, " + cell)
			}
		})
		largest.check(t, c)
		mean.check(t, c)
	}
}

// simulatedDiameter draws one comparison with a master, which is read first; the gauge errs alike on all flutes.
func simulatedDiameter(t *testing.T, d *drawing, tir float64, largest, mean *wrong) {
	const size = 10 * length.Millimetre
	base, high := d.Float64()*1e6, d.Float64()*1e5
	d.err()
	d.read(0, base)
	sum := 0.0
	for k := range d.sets[1:] {
		height := high
		if k > 0 {
			height -= tir * d.Float64()
		}
		d.at[k+1] = d.at[1]
		d.read(k+1, base+height)
		sum += height
	}
	flutes := d.sets[1:]
	e, err := LargestDiameter(size, d.sets[0], flutes, d.gauge())
	if err != nil {
		t.Fatal(err)
	}
	largest.add(e, size+length.Length(math.Round(2*high)))
	if e, err = MeanDiameter(size, d.sets[0], flutes, d.gauge()); err != nil {
		t.Fatal(err)
	}
	mean.add(e, size+length.Length(math.Round(2*sum/float64(len(flutes)))))
}

// Widths are read on every flute, primary and land; a land is at least forty standard deviations, steps and
// errors wide.
func TestSimulatedRatio(t *testing.T) {
	for seed, c := range fewConditions {
		rng := rand.New(rand.NewPCG(uint64(seed), 4))
		var w wrong
		forEachSize(func(n, m int) {
			d := newDrawing(rng, c, 2*n, m)
			for _, f := range []Fraction{{1, 4}, {1, 2}} {
				ratio := float64(f.Num) / float64(f.Den)
				for range inspections() {
					r := simulatedRatio(t, d, ratio)
					w.addVerdicts(r.against(f), 0) // den part - num whole
					// The interval that is printed is that of the first-order formula.
					if u, known := r.Uncertainty(); !known || math.Abs(r.Value()-ratio) > u {
						w.counts[intervalMisses]++
					}
				}
				w.close(fmt.Sprintf("%d flutes, %d repeats, ratio %v", n, m, ratio))
			}
		})
		w.check(t, c)
	}
}

func simulatedRatio(t *testing.T, d *drawing, ratio float64) Ratio {
	land := float64(40*max(d.sigma, d.q, d.e)) * (1 + d.Float64())
	d.err()
	for k := range d.sets {
		width := land
		if k%2 == 0 {
			width *= ratio
		}
		d.read(k, width)
	}
	r, err := NewRatio(d.sets[0], d.sets[1], d.noise(t), d.gauge())
	if err != nil {
		t.Fatal(err)
	}
	return r
}
