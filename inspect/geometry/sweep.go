package geometry

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"flutelog/inspect/length"
)

// ErrUnclear is wrapped by every error of Sweep.Read that says that the trace does not tell the flutes'
// heights, and why; the tool is then turned again.
var ErrUnclear = errors.New("the sweep is unclear")

func unclear(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrUnclear}, args...)...)
}

// Sweep says how a trace was taken: a streaming gauge on a tool turned by hand. The trace is a saw, which
// climbs or falls along the land of a tooth, is highest at the edge, and falls or climbs at once at the face.
type Sweep struct {
	Flutes     int
	Backwards  bool          // turned against the cut, to spare edge and contact: flutes pass in falling order
	Resolution length.Length // of the gauge
	Mark       int           // sample taken with the contact on flute 1; 0 when the sweep begins there
}

// Swept is the height of each flute averaged over the revolutions.
type Swept struct {
	Heights []length.Length // flute 1 first; where the gauge drifts, as at the middle of the sweep
	Spread  []length.Length // largest less smallest high point of each flute, drift taken off
	Passes  []int           // high points averaged for each flute
	// High are the high points themselves, drift taken off, in the order in which each flute passed: how far they scatter
	// says how well the heights are known.
	High [][]length.Length
	// Step is by how much the land moved between two samples at the edge, on average: the edge goes by somewhere between two
	// samples, so a high point is off by up to half of it.
	Step []length.Length
}

// SweepPace returns how slowly a tool is to be turned, as the time of one turn, so that heights averaged over so many turns are
// known to within a standard deviation, with a gauge that sends so many values a second:
//
//	time = 2 pi R tan(relief) / (perSecond within sqrt(12 turns))
//
// since the edge passes anywhere between two samples, and a land falls by R tan(relief) per radian. It refuses numbers that are
// not above zero.
func SweepPace(diameter length.Length, relief length.Angle, within length.Length, perSecond float64, turns int) (time.Duration, error) {
	if diameter <= 0 || relief <= 0 || relief >= 90*length.Degree || within <= 0 || !(perSecond > 0) || turns < 1 {
		return 0, fmt.Errorf("pace of a sweep: diameter %v, relief %v, within %v, %v values a second, %d turns; want all above zero", diameter, relief, within, perSecond, turns)
	}
	falls := math.Pi * diameter.Micrometres() * math.Tan(relief.Radians()) // in a turn, along the land's slope
	seconds := falls / (perSecond * within.Micrometres() * math.Sqrt(12*float64(turns)))
	return time.Duration(seconds * float64(time.Second)), nil
}

const (
	// A tooth is entered above and left below these shares of the trace's range, so that a stop between them
	// makes no teeth of noise.
	enterShare = 0.6
	leaveShare = 0.4
	// The flanks of a tooth are told apart from the first of these shares up to the second under its high point.
	flankShare = 0.25
	nearTop    = 0.05
	flankBins  = 12

	leastClimb = 0.1 // share of the range by which a trace climbs when it is turned up a land

	leastRange   = 20 // of the trace, in resolutions
	fewestPasses = 2  // of each flute
	mostSpread   = 2  // of one flute's high points, in resolutions, and one step of the land

	carriedOn    = 0.75 // steps from the mean of the highest three samples to the edge
	slopeReach   = 9    // resolutions under the high point within which the land's slope is fitted
	slopeSamples = 20   // at most: a hand that stops on the land would flatten it
)

// Read finds the high point of each flute in a trace of values sampled at a steady rate, and averages it over
// the revolutions. Speed may vary, and the hand may stop or turn back: whether a tooth was passed, and which
// way, is told from its two flanks, as the trace stays long on the land and hardly at all on the face. A drift
// that is even over the sweep is taken off by least squares.
//
// Errors: a count of flutes or a resolution that no trace has. Errors that wrap ErrUnclear say what hides the
// flutes: a trace that hardly moves, the contact not on a tooth at the mark, flanks too much alike, a
// tool turned the other way, fewer than two high points of a flute, and high points of one flute that differ
// by more than two resolutions and what the pace explains: between two samples the edge may pass anywhere, and with it
// the last of the land.
func (s Sweep) Read(trace []length.Length) (Swept, error) {
	if err := checkFlutes(s.Flutes, 2); err != nil {
		return Swept{}, fmt.Errorf("sweep: %w", err)
	}
	if s.Resolution <= 0 || s.Mark < 0 || s.Mark >= len(trace) {
		return Swept{}, fmt.Errorf("sweep: resolution %v, flute 1 marked at sample %d of %d; want a resolution and a mark in the trace", s.Resolution, s.Mark, len(trace))
	}
	t := newSaw(trace)
	if t.reach < leastRange*s.Resolution {
		return Swept{}, unclear("the trace moves by %v only; is the contact on the teeth?", t.reach)
	}
	visits := t.visits()
	if err := s.number(t, visits); err != nil {
		return Swept{}, err
	}
	return s.average(trace, visits)
}

// saw is a trace with single spikes taken out: each sample is the median of itself and its two neighbours.
type saw struct {
	smooth        []length.Length
	lowest, reach length.Length
}

func newSaw(trace []length.Length) saw {
	smooth := slices.Clone(trace)
	for i := 1; i+1 < len(trace); i++ {
		a, b, c := trace[i-1], trace[i], trace[i+1]
		smooth[i] = max(min(a, b), min(max(a, b), c))
	}
	return saw{smooth, slices.Min(smooth), TIR(smooth)}
}

func (t saw) share(part float64) length.Length { return length.Length(part * float64(t.reach)) }

// visit is a stretch of the trace in which the contact stands on one tooth.
type visit struct {
	from, to    int     // samples, to not included
	top         int     // sample of the high point
	entry, exit float64 // dwell on the flanks
	whole       bool    // entered and left within the trace
	passed      bool    // entered over one flank and left over the other
	tooth       int     // counted in the direction of turning; flute 1 is 0 once numbered
}

// visits cuts the trace into visits and measures their flanks.
func (t saw) visits() []visit {
	enter, leave := t.lowest+t.share(enterShare), t.lowest+t.share(leaveShare)
	var all []visit
	on := false
	for i, l := range t.smooth {
		switch {
		case !on && l > enter:
			on = true
			all = append(all, visit{from: i, to: len(t.smooth), top: i})
		case on && l < leave:
			on = false
			last := &all[len(all)-1]
			last.to, last.whole = i, last.from > 0
		case on && l > t.smooth[all[len(all)-1].top]:
			all[len(all)-1].top = i
		}
	}
	for i := range all {
		after, before := 0, len(t.smooth)
		if i > 0 {
			after = all[i-1].to
		}
		if i+1 < len(all) {
			before = all[i+1].from
		}
		t.measureFlanks(&all[i], after, before)
	}
	return all
}

// measureFlanks measures how long the trace stays on each flank of a visit, within the samples between its
// neighbours.
func (t saw) measureFlanks(v *visit, after, before int) {
	low, high := t.lowest+t.share(flankShare), t.smooth[v.top]-t.share(nearTop)
	entered, left := v.from, v.to
	for entered > after && t.smooth[entered-1] >= low {
		entered--
	}
	for left < before && t.smooth[left] >= low {
		left++
	}
	first, last := v.from, v.to-1
	for t.smooth[first] < high {
		first++
	}
	for t.smooth[last] < high {
		last--
	}
	v.entry = dwell(t.smooth[entered:first], low, high)
	v.exit = dwell(t.smooth[last+1:left], low, high)
}

// dwell returns how many samples a flank spends in one of the bins its height is cut into. A bin counts for no
// more than one sample and twice the middle bin, as the hand may have stopped in it.
func dwell(flank []length.Length, low, high length.Length) float64 {
	counts := make([]int, flankBins)
	for _, l := range flank {
		if l >= low && l < high {
			counts[(l-low)*flankBins/(high-low)]++
		}
	}
	slices.Sort(counts)
	sum := 0
	for _, n := range counts {
		sum += min(n, 1+2*counts[flankBins/2])
	}
	return float64(sum) / flankBins
}

// oneSample is the dwell of one sample; it is added before dwells are compared, so that a face between two
// samples counts for something.
const oneSample = 1.0 / flankBins

// leastLean is the lean of a visit under which its flanks are too much alike for a land and a face.
var leastLean = math.Log(2.5)

// lean compares the flanks of a visit by the logarithm of their dwells' ratio; it is positive when they lie as the
// stated way of turning has them.
func (s Sweep) lean(v visit) float64 {
	lean := math.Log((v.entry + oneSample) / (v.exit + oneSample))
	if !s.Backwards {
		return -lean
	}
	return lean
}

// teeth is what is typical of the visits of one sweep.
type teeth struct {
	leastLand float64 // dwell under which no land is passed, however fast
	mostFace  float64 // longest dwell on a face
}

func (s Sweep) typical(visits []visit) (teeth, error) {
	var leans, lands []float64
	mostFace := 0.0
	for _, v := range visits {
		if !v.whole {
			continue
		}
		leans, lands = append(leans, s.lean(v)), append(lands, max(v.entry, v.exit))
		if math.Abs(s.lean(v)) >= leastLean {
			mostFace = max(mostFace, min(v.entry, v.exit))
		}
	}
	if len(leans) < s.Flutes {
		return teeth{}, unclear("%d teeth are passed whole; turn the tool three times round", len(leans))
	}
	if middle(leans) < leastLean {
		return teeth{}, unclear("lands and faces look alike, or lie the other way round; turn the way stated, with a pointed contact")
	}
	// Speed varies by 5 to 1, and a land may lie as much as that from the middle one, by few samples.
	return teeth{middle(lands) / 12, mostFace}, nil
}

func middle(v []float64) float64 {
	slices.Sort(v)
	return v[len(v)/2]
}

// number follows the contact from tooth to tooth and gives each visit its tooth.
func (s Sweep) number(t saw, visits []visit) error {
	usual, err := s.typical(visits)
	if err != nil {
		return err
	}
	next := 0 // the tooth ahead of the contact
	for i := range visits {
		v := &visits[i]
		v.tooth = next
		lean, longest := s.lean(*v), max(v.entry, v.exit)
		switch {
		case v.from == 0:
			if s.turnedAway(t, *v, usual) {
				return unclear("at the start the tool was turned the other way; begin on flute 1 and turn the way stated")
			}
			next++
		case !v.whole:
		case lean >= leastLean && usual.isLand(longest):
			v.passed = true
			next++
		case lean <= -leastLean && usual.isLand(longest):
			v.passed = true
			next--
			v.tooth = next
		case !usual.turnedBack(*v):
			return unclear("at sample %d it cannot be told whether a tooth was passed or the hand turned back on it; turn steadily", v.top)
		}
	}
	return s.countFromMark(visits)
}

// turnedAway says whether a sweep that begins on a tooth left it against the stated way of turning.
func (s Sweep) turnedAway(t saw, first visit, usual teeth) bool {
	if s.Backwards {
		return first.exit > max(usual.leastLand, usual.mostFace)
	}
	return t.smooth[0] < t.smooth[first.top]-t.share(leastClimb)
}

// isLand says whether a dwell is longer than any face of the sweep keeps the contact.
func (u teeth) isLand(dwell float64) bool {
	return dwell >= max(u.leastLand, u.mostFace+2*oneSample)
}

// turnedBack says whether the hand surely turned back on a tooth and left it where it came, by a margin of
// samples: both flanks are lands; or both are faces, and the contact was longer on the tooth than a land passed
// in haste would keep it.
func (u teeth) turnedBack(v visit) bool {
	lands := min(v.entry, v.exit) > 3*(u.mostFace+oneSample)
	faces := max(v.entry, v.exit) < u.leastLand && u.leastLand > 3*oneSample
	return lands || faces && float64(v.to-v.from) > 2*u.leastLand*flankBins
}

// countFromMark counts teeth from the one the contact stands on at the mark.
func (s Sweep) countFromMark(visits []visit) error {
	i := slices.IndexFunc(visits, func(v visit) bool { return v.from <= s.Mark && s.Mark < v.to })
	if i < 0 || i > 0 && !visits[i].passed {
		return unclear("the contact does not stand on a tooth that is passed at sample %d; begin on flute 1", s.Mark)
	}
	first := visits[i].tooth
	for i := range visits {
		visits[i].tooth -= first
	}
	return nil
}

// flute returns the flute of a visit, counted from 0.
func (s Sweep) flute(v visit) int {
	tooth := v.tooth % s.Flutes
	if s.Backwards {
		tooth = -tooth
	}
	return (tooth + s.Flutes) % s.Flutes
}

// average takes the drift off the high points and averages them flute by flute.
func (s Sweep) average(trace []length.Length, visits []visit) (Swept, error) {
	high, at, steps := make([][]float64, s.Flutes), make([][]float64, s.Flutes), make([][]float64, s.Flutes)
	var every []float64
	for _, v := range visits {
		if v.passed {
			k := s.flute(v)
			h, step := s.highPoint(trace, v)
			high[k], at[k], steps[k] = append(high[k], h), append(at[k], float64(v.top)), append(steps[k], step)
			every = append(every, step)
		}
	}
	for k := range high {
		// The level is that of the highest samples, which lie a step over the mean of three: what the gauge showed.
		for i := range high[k] {
			high[k][i] += (1 - carriedOn) * mean(every)
		}
		if len(high[k]) < fewestPasses {
			return Swept{}, unclear("flute %d is passed %d times; turn on until each is passed %d times", k+1, len(high[k]), fewestPasses)
		}
	}
	takeDriftOff(high, at)
	var swept Swept
	var out results
	for k := range high {
		swept.Heights = append(swept.Heights, out.length(mean(high[k])))
		swept.Spread = append(swept.Spread, out.length(slices.Max(high[k])-slices.Min(high[k])))
		swept.Passes = append(swept.Passes, len(high[k]))
		swept.Step = append(swept.Step, out.length(mean(steps[k])))
		var points []length.Length
		for _, h := range high[k] {
			points = append(points, out.length(h))
		}
		swept.High = append(swept.High, points)
	}
	if out.err != nil {
		return Swept{}, fmt.Errorf("sweep: %w", out.err)
	}
	return swept, s.checkSpread(swept, steps)
}

// highPoint returns the high point of a tooth in micrometres, and the step that the land moves by between two samples there.
//
// It is the largest mean of three samples in a row, since the gauge's noise would lift a single one the more, the longer the
// hand stops at the top, carried on to the edge by three quarters of a step. With a pointed contact the three lie on the land, the
// edge half a step beyond the first of them on average, a step and a half from their mean; over a contact so round that it rolls
// across the edge they lie on both sides of it. The step is the slope of the land by least squares, on as many samples as lie
// within slopeReach: one rule for every pace, so that turns at different paces agree. Of the shares of a step tried between a half
// and one and a half, three quarters had the least error over the simulated cutters of the tests, whose contacts are as often
// pointed as round.
func (s Sweep) highPoint(trace []length.Length, v visit) (high, step float64) {
	three := func(i int) length.Length { return trace[i-1] + trace[i] + trace[i+1] }
	best := v.from
	for i := v.from; i < v.to; i++ {
		if three(i) > three(best) {
			best = i
		}
	}
	toLand := 1 // which way the land lies in the trace
	if v.entry > v.exit {
		toLand = -1
	}
	var at, land []float64
	for i := best; i >= 1 && i+1 < len(trace) && len(land) < slopeSamples; i += toLand {
		if len(land) >= 3 && three(best)-three(i) > 3*slopeReach*s.Resolution {
			break
		}
		at, land = append(at, float64(len(at))), append(land, trace[i].Micrometres())
	}
	if len(land) > 1 {
		x, y := mean(at), mean(land)
		var xy, xx float64
		for i := range at {
			xy += (at[i] - x) * (land[i] - y)
			xx += (at[i] - x) * (at[i] - x)
		}
		step = math.Max(0, -xy/xx)
	}
	return three(best).Micrometres()/3 + carriedOn*step, step
}

// takeDriftOff fits one slope to the high points of all flutes, each about its own mean, and takes it off about
// the middle of the sweep.
func takeDriftOff(high, at [][]float64) {
	var xy, xx, centre float64
	for k := range high {
		h, x := mean(high[k]), mean(at[k])
		for i := range high[k] {
			xy += (at[k][i] - x) * (high[k][i] - h)
			xx += (at[k][i] - x) * (at[k][i] - x)
		}
		centre += x / float64(len(at))
	}
	for k := range high {
		for i := range high[k] {
			high[k][i] -= xy / xx * (at[k][i] - centre)
		}
	}
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

func (s Sweep) checkSpread(swept Swept, steps [][]float64) error {
	for k, spread := range swept.Spread {
		pace := slices.Max(steps[k])
		if pace <= s.Resolution.Micrometres() {
			pace = 0 // slow: it explains nothing
		}
		if spread.Micrometres() > mostSpread*s.Resolution.Micrometres()+1.3*pace {
			return unclear("the high points of flute %d differ by %v between turns; turn more slowly over the edges, or look to the holding", k+1, spread)
		}
	}
	return nil
}
