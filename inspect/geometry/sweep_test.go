package geometry

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"flutelog/inspect/length"
)

// cutter is a section under a ball contact, in micrometres: a primary and a secondary behind each edge, a back, a
// face before it, and a stop that the plunger reaches between the teeth.
type cutter struct {
	radius, primary, land, tip, stop float64
	a1, a2                           float64 // radians
	heights                          []float64
}

func randomCutter(r *rand.Rand, flutes int) cutter {
	c := cutter{
		radius: between(r, 2000, 12000), tip: between(r, 20, 150), stop: between(r, 300, 1500),
		a1: between(r, 6, 14) * math.Pi / 180,
	}
	c.a2 = c.a1 + 9*math.Pi/180
	c.land = 2 * math.Pi * c.radius / float64(flutes) * between(r, 0.15, 0.35)
	c.primary = c.land * between(r, 0.15, 0.6)
	for range flutes {
		c.heights = append(c.heights, between(r, -20, 20))
	}
	return c
}

// read returns what the contact reads at an angle, and the nearest flute, from 0. Flute k's edge is at 2 pi k/N,
// its land behind it at larger angles.
func (c cutter) read(angle float64) (height float64, flute int) {
	n := len(c.heights)
	pitch := 2 * math.Pi / float64(n)
	turn := math.Mod(math.Mod(angle, 2*math.Pi)+2*math.Pi, 2*math.Pi)
	behind := int(turn/pitch) % n
	ahead := (behind + 1) % n
	past := turn - math.Floor(turn/pitch)*pitch
	height = max(-c.stop, c.heights[behind]-c.fall(past*c.radius), c.heights[ahead]-c.round((pitch-past)*c.radius))
	if past < pitch/2 {
		return height, behind
	}
	return height, ahead
}

// fall is the drop behind an edge: the ball rounds the edge until it lies on the primary.
func (c cutter) fall(behind float64) float64 {
	if behind < c.tip*math.Sin(c.a1) {
		return c.round(behind)
	}
	d := min(behind, c.primary)*math.Tan(c.a1) + max(0, min(behind, c.land)-c.primary)*math.Tan(c.a2) + max(0, behind-c.land)*1.5
	return d - c.tip*(1/math.Cos(c.a1)-1)
}

// round is the drop of a ball whose centre stands beside the edge it rests on.
func (c cutter) round(beside float64) float64 {
	if beside >= c.tip {
		return math.Inf(1)
	}
	return c.tip - math.Sqrt(c.tip*c.tip-beside*beside)
}

// hand is how a tool is turned.
type hand struct {
	name             string
	stops, reversals int
}

// halt is a place where the hand waits for some samples and may then turn back by an angle.
type halt struct {
	at, back float64
	samples  int
}

func (h hand) halts(r *rand.Rand, whole, pitch float64) []halt {
	var all []halt
	for range h.stops {
		all = append(all, halt{at: between(r, 0, whole), samples: 20 + r.IntN(200)})
	}
	for range h.reversals {
		all = append(all, halt{at: between(r, 0.1, 0.8) * whole, back: between(r, 0.05, 1.6) * pitch})
	}
	slices.SortFunc(all, func(a, b halt) int { return int(math.Copysign(1, a.at-b.at)) })
	return all
}

// trace is what the gauge sent, and the flute nearest to the contact at each sample.
type trace struct {
	values []length.Length
	flutes []int
}

// turn sweeps the cutter from the land of flute 1: at a speed that varies by 5 to 1, with a drift of up to two
// resolutions a turn, and noise of half a resolution before the gauge rounds. At the middle speed the land falls by 0.4 of a
// resolution between samples.
func (c cutter) turn(r *rand.Rand, h hand, backwards bool, resolution, revolutions float64) trace {
	return c.turnAt(r, h, backwards, resolution, revolutions, 0.4, 5)
}

// turnAt sweeps at a middle speed at which the land falls by pace resolutions between samples; it varies by varies to 1.
func (c cutter) turnAt(r *rand.Rand, h hand, backwards bool, resolution, revolutions, pace, varies float64) trace {
	whole := 2 * math.Pi * revolutions
	way := 1.0
	if backwards {
		way = -1
	}
	start := between(r, 0, 0.5) * c.primary / c.radius
	drift, phase, rate := between(r, -2, 2)*resolution, between(r, 0, 2*math.Pi), between(r, 0.5, 3)
	middle := pace * resolution / math.Tan(c.a1) / c.radius
	halts := h.halts(r, whole, 2*math.Pi/float64(len(c.heights)))

	var t trace
	sample := func(along float64) {
		v, flute := c.read(start + way*along)
		v += drift*float64(len(t.values))/(2*math.Pi/middle) + r.NormFloat64()*resolution/2
		t.values = append(t.values, micrometres(math.Round(v/resolution)*resolution))
		t.flutes = append(t.flutes, flute)
	}
	along, until := 0.0, 0.0 // until: how far the hand turns back before it goes on
	for along < whole {
		step := middle * math.Pow(varies, 0.5*math.Sin(phase+rate*along))
		if until > 0 {
			along, until = along-step, until-step
		} else {
			along += step
		}
		sample(along)
		if len(halts) > 0 && along >= halts[0].at {
			for range halts[0].samples {
				sample(along)
			}
			until = halts[0].back
			halts = halts[1:]
		}
	}
	return t
}

// Simulated sweeps: every tooth passed must be given its own flute, and every height found within the resolution,
// or the sweep be called unclear.
func TestSweepSimulated(t *testing.T) {
	trials := 270
	if testing.Short() {
		trials = 60
	}
	r := seeded(20)
	sweeps, misread := 0, 0
	for _, h := range []hand{{"steady way", 0, 0}, {"stops", 4, 0}, {"a reversal", 0, 1}, {"stops and a reversal", 4, 1}} {
		unclear, worst, squares, heights := 0, 0.0, 0.0, 0
		for trial := range trials {
			c := randomCutter(r, 2+trial%11)
			resolution := []float64{5, 10, 12.7}[trial%3]
			s := Sweep{Flutes: len(c.heights), Backwards: trial%2 == 0, Resolution: micrometres(resolution)}
			tr := c.turn(r, h, s.Backwards, resolution, between(r, 3.2, 5))
			swept, plain, right := s.tried(t, tr)
			if !plain {
				unclear++
				continue
			}
			if !right {
				misread++
				continue
			}
			for _, off := range offLevel(length.Micrometres(swept.Heights), c.heights) {
				worst = max(worst, math.Abs(off)/resolution)
				squares += off * off / resolution / resolution
				heights++
			}
		}
		sweeps += trials
		t.Logf("%s: %d sweeps, %d unclear; heights off by %.2f of the resolution rms, %.2f at most", h.name, trials, unclear, math.Sqrt(squares/float64(heights)), worst)
		if worst >= 1 {
			t.Errorf("%s: a height is off by %.2f of the resolution", h.name, worst)
		}
		// A method that calls everything unclear is none.
		if most := trials / 10 * (1 + 3*h.reversals); unclear > most {
			t.Errorf("%s: %d of %d sweeps unclear, want %d at most", h.name, unclear, trials, most)
		}
	}
	if misread*1000 > sweeps {
		t.Errorf("%d of %d sweeps misread, want 1 in 1000 at most", misread, sweeps)
	}
}

// tried reads a turn: whether the sweep was clear, and whether every tooth passed was given its own flute.
func (s Sweep) tried(t *testing.T, tr trace) (swept Swept, plain, right bool) {
	t.Helper()
	swept, err := s.Read(tr.values)
	if errors.Is(err, ErrUnclear) {
		return swept, false, false
	}
	if err != nil {
		t.Fatal(err)
	}
	return swept, true, s.rightlyNumbered(t, tr)
}

// Turned by hand at a natural pace, the land moves by several resolutions between samples. The sweep is not refused for that: the
// heights are told with the scatter that the pace leaves, and lie within four standard errors of it.
func TestSweepAtANaturalPace(t *testing.T) {
	trials := 60
	if os.Getenv("FLUTELOG_LONG") != "" {
		trials = 600
	}
	r := seeded(21)
	for _, pace := range []float64{2, 4, 8} {
		unclear, misread, far, heights := 0, 0, 0, 0
		for trial := range trials {
			c := randomCutter(r, 2+trial%5)
			const resolution = 2.54
			s := Sweep{Flutes: len(c.heights), Backwards: trial%2 == 0, Resolution: micrometres(resolution)}
			tr := c.turnAt(r, hand{}, s.Backwards, resolution, 8, pace, 2)
			swept, plain, right := s.tried(t, tr)
			if !plain {
				unclear++
				continue
			}
			if !right {
				misread++
				continue
			}
			for k, off := range offLevel(length.Micrometres(swept.Heights), c.heights) {
				heights++
				points := length.Micrometres(swept.High[k])
				squares := 0.0
				for _, x := range points {
					squares += (x - mean(points)) * (x - mean(points))
				}
				step := swept.Step[k].Micrometres()
				se := math.Sqrt((squares/float64(len(points)-1) + step*step/12) / float64(len(points)))
				if math.Abs(off) > 4*se+resolution {
					far++
				}
			}
		}
		t.Logf("pace %v resolutions: %d of %d unclear, %d misread, %d of %d heights far off", pace, unclear, trials, misread, far, heights)
		if unclear*5 > trials || misread*50 > trials || far*50 > heights {
			t.Errorf("pace %v resolutions: %d of %d unclear, %d misread, %d of %d heights far off", pace, unclear, trials, misread, far, heights)
		}
	}
}

// By hand: 1/2 in, 9 deg, ten values a second, heights to a tenth over five turns: pi 12700 tan 9 deg / (10 x 2.54 sqrt 60) s.
func TestSweepPace(t *testing.T) {
	got, err := SweepPace(length.Inch/2, 9*length.Degree, length.Tenth, 10, 5)
	if err != nil || math.Abs(got.Seconds()-32.12) > 0.01 {
		t.Errorf("pace %v, %v; want 32.12 s", got, err)
	}
	for _, bad := range []func() (time.Duration, error){
		func() (time.Duration, error) { return SweepPace(0, length.Degree, 1, 1, 1) },
		func() (time.Duration, error) { return SweepPace(1, 0, 1, 1, 1) },
		func() (time.Duration, error) { return SweepPace(1, length.Degree, 0, 1, 1) },
		func() (time.Duration, error) { return SweepPace(1, length.Degree, 1, math.NaN(), 1) },
		func() (time.Duration, error) { return SweepPace(1, length.Degree, 1, 1, 0) },
	} {
		if d, err := bad(); err == nil {
			t.Errorf("pace %v, want an error", d)
		}
	}
}

// rightlyNumbered says whether every high point was given the flute that stood under the contact.
func (s Sweep) rightlyNumbered(t *testing.T, tr trace) bool {
	t.Helper()
	saw := newSaw(tr.values)
	visits := saw.visits()
	if err := s.number(saw, visits); err != nil {
		t.Fatal(err)
	}
	for _, v := range visits {
		if v.passed && s.flute(v) != tr.flutes[v.top] {
			return false
		}
	}
	return true
}

// offLevel returns how far heights are off those wanted when both are counted from their means, as the level of a
// comparison gauge is nobody's.
func offLevel(got, want []float64) []float64 {
	off := make([]float64, len(got))
	for k := range got {
		off[k] = got[k] - mean(got) - want[k] + mean(want)
	}
	return off
}

// steady is a sweep without drift or stops to alter in the tests below: four flutes, backwards, 4 turns.
func steady(t *testing.T) (Sweep, []length.Length) {
	t.Helper()
	r := seeded(30)
	c := cutter{
		radius: 6350, primary: 400, land: 2000, tip: 50, stop: 800,
		a1: 9 * math.Pi / 180, a2: 18 * math.Pi / 180, heights: []float64{0, 30, -10, 15},
	}
	s := Sweep{Flutes: 4, Backwards: true, Resolution: 5 * length.Micrometre}
	return s, c.turn(r, hand{}, true, 5, 4).values
}

func TestSweepReportsPassesAndSpread(t *testing.T) {
	s, values := steady(t)
	swept, err := s.Read(values)
	if err != nil {
		t.Fatal(err)
	}
	for k, passes := range swept.Passes {
		// Four turns pass each flute four times, flute 1 once more or less at the ends, which are left out.
		if passes < 3 || passes > 4 {
			t.Errorf("flute %d: %d high points", k+1, passes)
		}
		if swept.Spread[k] > 2*s.Resolution {
			t.Errorf("flute %d: spread %v on a steady sweep", k+1, swept.Spread[k])
		}
	}
}

// With the mark one tooth later, what was flute 4 backwards from flute 1 is flute 1.
func TestSweepMark(t *testing.T) {
	s, values := steady(t)
	base, err := s.Read(values)
	if err != nil {
		t.Fatal(err)
	}
	visits := newSaw(values).visits()
	s.Mark = visits[1].top
	marked, err := s.Read(values)
	if err != nil {
		t.Fatal(err)
	}
	for k := range base.Heights {
		near(t, "height", marked.Heights[(k+1)%4], base.Heights[k], 0)
	}
	s.Mark = (visits[1].to + visits[2].from) / 2
	_, err = s.Read(values)
	wantError(t, err, "unclear", "begin on flute 1")
}

func TestSweepUnclear(t *testing.T) {
	base, values := steady(t)
	visits := newSaw(values).visits()
	for _, tt := range []struct {
		name   string
		change func(*Sweep, []length.Length) []length.Length
		say    string
	}{
		{"gauge not on the teeth", func(_ *Sweep, v []length.Length) []length.Length { return slices.Repeat(v[:1], 1000) }, "only"},
		{"begun between teeth", func(_ *Sweep, v []length.Length) []length.Length { return v[visits[0].to:] }, "begin on flute 1"},
		{"turned the other way", func(s *Sweep, v []length.Length) []length.Length { s.Backwards = false; return v }, "other way round"},
		{"one turn", func(_ *Sweep, v []length.Length) []length.Length { return v[:len(v)/5] }, "teeth are passed"},
		{"a turn and a half", func(_ *Sweep, v []length.Length) []length.Length { return v[:len(v)*3/8] }, "turn on"},
		{"tool moved in its holding", func(_ *Sweep, v []length.Length) []length.Length {
			moved := slices.Clone(v)
			for i := visits[6].from - 1; i < visits[6].to; i++ {
				moved[i] += 40 * length.Micrometre
			}
			return moved
		}, "holding"},
		{"a tooth passed in a jerk", func(_ *Sweep, v []length.Length) []length.Length {
			// Its land goes by in two samples, as the face does.
			return slices.Concat(v[:visits[5].from-40], v[visits[5].top-2:])
		}, "turn steadily"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := base
			_, err := s.Read(tt.change(&s, values))
			if !errors.Is(err, ErrUnclear) {
				t.Errorf("got %v, want it unclear", err)
			}
			wantError(t, err, tt.say)
		})
	}
}

func TestSweepRefuses(t *testing.T) {
	s, values := steady(t)
	for _, change := range []func(*Sweep){
		func(s *Sweep) { s.Flutes = 1 },
		func(s *Sweep) { s.Resolution = 0 },
		func(s *Sweep) { s.Mark = len(values) },
		func(s *Sweep) { s.Mark = -1 },
	} {
		wrong := s
		change(&wrong)
		_, err := wrong.Read(values)
		if err == nil || errors.Is(err, ErrUnclear) {
			t.Errorf("%+v: got %v, want it refused", wrong, err)
		}
	}
	_, err := s.Read(nil)
	wantError(t, err, "sample 0 of 0")
}

// No trace breaks the reading: it gives every flute or says why not.
func FuzzSweep(f *testing.F) {
	f.Add([]byte{0, 200, 100, 0, 200, 100, 0, 200, 100, 0, 200, 100, 0}, 2, true, 0)
	f.Add([]byte{200, 0, 0, 0, 200}, 12, false, 4)
	f.Add([]byte{7}, 3, true, 0)
	f.Fuzz(func(t *testing.T, samples []byte, flutes int, backwards bool, mark int) {
		s := Sweep{Flutes: flutes, Backwards: backwards, Resolution: length.Micrometre, Mark: mark}
		values := make([]length.Length, len(samples))
		for i, b := range samples {
			values[i] = length.Length(b) * length.Micrometre
		}
		swept, err := s.Read(values)
		if err == nil && len(swept.Heights) != flutes {
			t.Errorf("got %d heights of %d flutes", len(swept.Heights), flutes)
		}
	})
}
