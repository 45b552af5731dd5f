package statistics

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// Order says in which order the heights of all flutes were read.
type Order string

const (
	ByRounds Order = "rounds" // every flute once, then every flute again
	ByFlutes Order = "flutes" // all readings of flute 1, then all of flute 2
)

// Readings are the heights of all flutes at one place, with how they were read.
type Readings struct {
	Flutes   [][]length.Length // flute 1 first, the repeats of each in the order in which they were read
	Radians  []float64         // where each flute stands about the axis; nil is equal pitch
	Order    Order             // by rounds when empty
	Taken    []int             // the flute of each reading, from nought, in the order in which they were taken; nil goes by Order
	Closing  *length.Length    // flute 1 read once more when all else was read
	AtOnce   bool              // the repeats come from sweeps of all flutes, from which drift was taken already
	Reseated bool              // the tool was taken out and seated again before each round
	Holding  Repeatability     // of seating the tool, per axis, where it was studied for this kind of holding
	Looks    bool              // rounds were read one by one and the verdict tried after each
	Accuracy
}

// Heights is what readings tell of the flutes.
type Heights struct {
	Means []length.Length // of each flute's repeats, as they were read
	Noise Repeatability   // of one reading: pooled over the flutes, drift taken out, with the gauge's studies
	Drift Drift
	// Suspect is a reading that stands apart by more than chance allows; nil when there is none. It is never dropped: a
	// verdict that hangs on it is left undecided until it has been read again.
	Suspect *Suspect
	// AsHeld says that the error of holding the tool is neither in the readings nor studied: what is said of the
	// tool holds as it was held, and no further.
	AsHeld bool
	// Void says why nothing is to be decided from these readings; "" when something is.
	Void string

	readings Readings
	cos, sin []float64
	models   []model
	seating  Repeatability // of the first harmonic of one round, per axis, where rounds were reseated
}

// Drift is what a common movement of gauge and tool did to the readings.
type Drift struct {
	// PerReading is the movement from one reading to the next, by least squares over all repeats and the closing
	// reading. It is taken out of every comparison.
	PerReading float64 // micrometres
	Readings   int     // over which it went on
	Shown      bool    // it is above the noise, at 1 %
	Jumped     bool    // the level moved between rounds, and not evenly
}

// Over returns the movement from the first reading to the last.
func (d Drift) Over() length.Length {
	l, err := length.FromMicrometres(d.PerReading * float64(d.Readings-1))
	if err != nil {
		return 0
	}
	return l
}

// model is one way to understand the readings: heights with what their differences are known by.
type model struct {
	heights []float64 // micrometres from the first reading
	shares  []float64 // one over the readings behind each
	at      []float64 // mean time of each flute's readings
	sxx     float64   // sum of the squares of the times about them; nought where no drift was fitted
	noise   Repeatability
	own     int // degrees of freedom that another round adds
}

type taken struct {
	flute, round int
	at, y        float64
	closing      bool
}

// Heights works out what the readings tell. The movement of gauge and tool is taken to be even over the readings,
// and fitted together with the heights h of the flutes k:
//
//	y = h[k] + b time,  var(h[j] - h[k]) = sp^2 (1/m[j] + 1/m[k] + (time[j] - time[k])^2 / sum (time - time[k])^2)
//
// so that drift does not look like run-out, read round by round or flute by flute. Read round by round, each round's
// common level is tested against that line. Where it may have jumped, at 10 %, or where only two rounds and no
// closing reading leave the choice between a jump and a drift, a verdict must hold with the levels taken out and the
// drift taken out alike. Read flute by flute, flute 1 must be read again at the end, or the set is void.
//
// Where the tool was reseated before each round, all flutes move together: the first harmonic of each round is one
// draw, with 2(m-1) degrees of freedom, and what it leaves another, with (N-3)(m-1).
//
// It returns ErrTooFew for fewer than two flutes or a flute without a reading, and refuses reseated readings whose
// rounds are not whole, or that were read flute by flute. Source: analysis of covariance with time as the
// covariate, as in textbooks of the design of experiments.
func (r Readings) Heights() (Heights, error) {
	n := len(r.Flutes)
	if n < 2 {
		return Heights{}, fmt.Errorf("%d flutes: %w", n, ErrTooFew)
	}
	if err := r.Accuracy.check(); err != nil {
		return Heights{}, err
	}
	if err := r.Holding.check(); err != nil {
		return Heights{}, fmt.Errorf("holding: %w", err)
	}
	if r.Radians != nil && len(r.Radians) != n {
		return Heights{}, fmt.Errorf("%d angles for %d flutes", len(r.Radians), n)
	}
	if err := r.checkTaken(); err != nil {
		return Heights{}, err
	}
	h := Heights{readings: r, AsHeld: !r.Reseated && !r.Holding.Known()}
	whole := true
	for k, repeats := range r.Flutes {
		if err := checkReadings(repeats); err != nil {
			return Heights{}, fmt.Errorf("flute %d: %w", k+1, err)
		}
		h.Means = append(h.Means, MeanLength(repeats))
		whole = whole && len(repeats) == len(r.Flutes[0])
		angle := 2 * math.Pi * float64(k) / float64(n)
		if r.Radians != nil {
			angle = r.Radians[k]
		}
		h.cos, h.sin = append(h.cos, math.Cos(angle)), append(h.sin, math.Sin(angle))
	}
	if r.Closing != nil {
		if err := checkReadings([]length.Length{*r.Closing}); err != nil {
			return Heights{}, fmt.Errorf("closing: %w", err)
		}
	}
	if r.Reseated {
		if !whole || r.byFlutes() {
			return Heights{}, fmt.Errorf("reseated readings: want every flute read once in each round, round by round")
		}
		h.reseated()
		return h, nil
	}
	if r.AtOnce {
		all := r.timed()
		for i := range all {
			all[i].at = 0
		}
		m, squares, _, df := drifting(all, n, -1)
		m.noise = h.spreadOf(squares, df)
		h.Noise, h.models = m.noise, []model{m}
		return h, nil
	}
	h.held(whole)
	return h, nil
}

// checkTaken holds the order in which readings were taken against how many there are of each flute.
func (r Readings) checkTaken() error {
	if r.Taken == nil {
		return nil
	}
	count := make([]int, len(r.Flutes))
	for _, k := range r.Taken {
		if k < 0 || k >= len(count) {
			return fmt.Errorf("order taken: flute %d of %d", k+1, len(count))
		}
		count[k]++
	}
	for k, repeats := range r.Flutes {
		if count[k] != len(repeats) {
			return fmt.Errorf("order taken: %d readings of flute %d, want %d", count[k], k+1, len(repeats))
		}
	}
	return nil
}

// byFlutes says whether a flute's repeats were read one after the other, where there are any.
func (r Readings) byFlutes() bool {
	if r.Taken == nil {
		return r.Order == ByFlutes && len(r.Flutes[0]) > 1
	}
	again := 0
	for i := 1; i < len(r.Taken); i++ {
		if r.Taken[i] == r.Taken[i-1] {
			again++
		}
	}
	return 2*again > len(r.Taken)-len(r.Flutes) // more than half of all repeats; a flute or two may be read once more
}

// timed returns the readings in the order in which they were taken, in micrometres from the first.
func (r Readings) timed() []taken {
	var all []taken
	add := func(k, i int) {
		y := (r.Flutes[k][i] - r.Flutes[0][0]).Micrometres()
		all = append(all, taken{flute: k, round: i, at: float64(len(all)), y: y})
	}
	switch {
	case r.Taken != nil:
		next := make([]int, len(r.Flutes))
		for _, k := range r.Taken {
			add(k, next[k])
			next[k]++
		}
	case r.Order == ByFlutes:
		for k := range r.Flutes {
			for i := range r.Flutes[k] {
				add(k, i)
			}
		}
	default:
		for i, more := 0, true; more; i++ {
			more = false
			for k := range r.Flutes {
				if i < len(r.Flutes[k]) {
					add(k, i)
					more = true
				}
			}
		}
	}
	if r.Closing != nil {
		all = append(all, taken{at: float64(len(all)), y: (*r.Closing - r.Flutes[0][0]).Micrometres(), closing: true})
	}
	return all
}

// drifting fits heights and an even drift; it leaves out the reading skip, none below nought. squares and df are those of
// the residuals, and slope is the drift.
func drifting(all []taken, flutes, skip int) (m model, squares, slope float64, df int) {
	m = model{heights: make([]float64, flutes), shares: make([]float64, flutes), at: make([]float64, flutes)}
	count := make([]float64, flutes)
	for i, t := range all {
		if i != skip {
			count[t.flute]++
			m.at[t.flute] += t.at
			m.heights[t.flute] += t.y
		}
	}
	for k := range count {
		m.at[k] /= count[k]
		m.heights[k] /= count[k]
		m.shares[k] = 1 / count[k]
	}
	var sxy float64
	for i, t := range all {
		if i != skip {
			m.sxx += (t.at - m.at[t.flute]) * (t.at - m.at[t.flute])
			sxy += (t.at - m.at[t.flute]) * (t.y - m.heights[t.flute])
		}
	}
	df = len(all) - flutes
	if skip >= 0 {
		df--
	}
	if m.sxx > 0 {
		slope = sxy / m.sxx
		df--
	}
	for i, t := range all {
		if i != skip {
			left := t.y - m.heights[t.flute] - slope*(t.at-m.at[t.flute])
			squares += left * left
		}
	}
	for k := range m.heights {
		m.heights[k] -= slope * m.at[k]
	}
	m.own = flutes
	return m, squares, slope, max(0, df)
}

// levelled fits heights and a level of each round, in whole rounds: differences of means need no more, and what is
// left has (N-1)(m-1) degrees of freedom.
func (h *Heights) levelled() (m model, squares float64, df int, levels []float64) {
	flutes := h.readings.Flutes
	n, rounds := len(flutes), len(flutes[0])
	m = model{heights: make([]float64, n), shares: make([]float64, n), at: make([]float64, n), own: n - 1}
	levels = make([]float64, rounds)
	mean := 0.0
	for k := range flutes {
		for i, l := range flutes[k] {
			y := (l - flutes[0][0]).Micrometres()
			m.heights[k] += y / float64(rounds)
			levels[i] += y / float64(n)
			mean += y / float64(n*rounds)
		}
		m.shares[k] = 1 / float64(rounds)
	}
	for k := range flutes {
		for i, l := range flutes[k] {
			left := (l - flutes[0][0]).Micrometres() - m.heights[k] - levels[i] + mean
			squares += left * left
		}
	}
	return m, squares, (n - 1) * (rounds - 1), levels
}

// spreadOf returns the repeatability that residuals tell, with what the gauge's studies tell.
func (h *Heights) spreadOf(squares float64, df int) Repeatability {
	own := Repeatability{Sets: len(h.readings.Flutes)}
	if df > 0 {
		own.Micrometres, own.DF = math.Sqrt(squares/float64(df)), df
	}
	return own.With(h.readings.Studied)
}

const (
	testLevel  = 0.01 // of what is tested of the readings before they are believed
	doubtLevel = 0.10 // from which a jump between rounds is reckoned with, though it is not shown
)

// held works out readings of a tool that stayed as it was held.
func (h *Heights) held(whole bool) {
	r := h.readings
	all := r.timed()
	n := len(r.Flutes)
	m, squares, slope, df := drifting(all, n, -1)
	m.noise = h.spreadOf(squares, df)
	h.Noise = m.noise
	h.Drift = Drift{PerReading: slope, Readings: len(all)}
	h.models = []model{m}
	if h.Noise.Known() && m.sxx > 0 {
		se := math.Sqrt(math.Max(h.Noise.Micrometres*h.Noise.Micrometres, r.steady()) / m.sxx)
		h.Drift.Shown = math.Abs(slope) > TQuantile(1-testLevel/2, float64(h.Noise.DF))*se
	}
	if len(all) > n {
		h.suspect(all)
	}
	if r.byFlutes() {
		if r.Closing == nil {
			h.Void = "read flute by flute, where drift looks like run-out: flute 1 must be read again at the end"
			return
		}
		h.uneven(all, squares, df)
		return
	}
	if whole && len(r.Flutes[0]) > 1 {
		h.levels(squares, df)
	}
}

// uneven voids a set read flute by flute whose closing reading does not lie on the line that the repeats of the
// flutes drift along.
func (h *Heights) uneven(all []taken, squares float64, df int) {
	_, within, _, left := drifting(all[:len(all)-1], len(h.readings.Flutes), -1)
	noise := h.spreadOf(within, left)
	if !noise.Known() {
		return
	}
	variance := math.Max(noise.Micrometres*noise.Micrometres, h.readings.steady())
	if h.Suspect == nil && df-left == 1 && variance > 0 && 1-FCDF(math.Max(0, squares-within)/variance, 1, float64(noise.DF)) < testLevel {
		h.Void = "flute 1 read again at the end does not fit the drift seen within the flutes: something moved; read the set again"
	}
}

// levels holds the level of each round against an even drift. Where they do not agree, or nothing tells which it was, the
// heights with the levels taken out are another model that a verdict must hold in.
func (h *Heights) levels(squares float64, df int) {
	free, left, dfLeft, _ := h.levelled()
	free.noise = h.spreadOf(left, dfLeft)
	if !free.noise.Known() {
		return
	}
	variance := math.Max(free.noise.Micrometres*free.noise.Micrometres, h.readings.steady())
	doubtful := len(h.readings.Flutes[0]) == 2 && h.readings.Closing == nil // a jump or a drift: nothing tells
	if extra := df - dfLeft; extra > 0 && variance > 0 {
		f := math.Max(0, squares-left) / float64(extra) / variance
		chance := 1 - FCDF(f, float64(extra), float64(free.noise.DF))
		h.Drift.Jumped, doubtful = chance < testLevel, chance < doubtLevel
	}
	if !doubtful {
		return
	}
	h.models = append(h.models, free)
	if h.Drift.Jumped {
		h.Noise = free.noise
	}
	if h.Drift.Jumped && h.readings.Closing != nil && h.Suspect == nil {
		last := h.readings.Flutes[0]
		moved := (*h.readings.Closing - last[len(last)-1]).Micrometres()
		if math.Abs(moved) > TQuantile(1-testLevel/2, float64(free.noise.DF))*math.Sqrt(2*variance) {
			h.Void = "the level moved between rounds and within the last one: something is loose; read the set again"
		}
	}
}

// reseated works out readings of a tool that was seated anew before each round.
func (h *Heights) reseated() {
	flutes := h.readings.Flutes
	n, rounds := len(flutes), len(flutes[0])
	m, _, _, levels := h.levelled()
	axes, rest := 2, n-3
	if n == 2 {
		axes, rest = 1, 0 // the one line through both edges
	}
	var harmonics, squares float64
	left := make([]float64, n)
	mean := 0.0
	for _, l := range levels {
		mean += l / float64(rounds)
	}
	for i := range rounds {
		for k := range flutes {
			left[k] = (flutes[k][i] - flutes[0][0]).Micrometres() - m.heights[k] - levels[i] + mean
		}
		level, a, b := harmonic(left, h.cos, h.sin)
		harmonics += a*a + b*b
		for k := range left {
			d := left[k] - level - a*h.cos[k] - b*h.sin[k]
			squares += d * d
		}
	}
	h.Noise = h.spreadOf(squares, rest*(rounds-1))
	if !h.Noise.Known() && rounds > 1 {
		// Up to three flutes leave nothing but the harmonic to tell the noise by.
		h.Noise = Repeatability{Micrometres: math.Sqrt(harmonics / float64(axes*(rounds-1)) * float64(n) / 2), DF: axes * (rounds - 1), Sets: n}
	}
	own := Repeatability{Sets: axes}
	if rounds > 1 {
		own.DF = axes * (rounds - 1)
		own.Micrometres = math.Sqrt(harmonics / float64(own.DF))
	}
	if studied := h.readings.Holding; studied.Known() && h.Noise.Known() {
		ofNoise := h.Noise.Micrometres * h.Noise.Micrometres * 2 / float64(n)
		studied.Micrometres = math.Sqrt(studied.Micrometres*studied.Micrometres + ofNoise)
		own = own.With(studied)
	}
	h.seating = own
	m.noise = h.Noise
	h.models = []model{m}
	if !own.Known() {
		h.Noise = Repeatability{}
	}
}

// harmonic fits l + a cos + b sin by least squares; two points leave a line of solutions, of which it returns the
// shortest (a, b).
func harmonic(r, cos, sin []float64) (level, a, b float64) {
	n := float64(len(r))
	var rm, cm, sm float64
	for i := range r {
		rm, cm, sm = rm+r[i]/n, cm+cos[i]/n, sm+sin[i]/n
	}
	var cc, cs, ss, rc, rs float64
	for i := range r {
		c, s, d := cos[i]-cm, sin[i]-sm, r[i]-rm
		cc, cs, ss = cc+c*c, cs+c*s, ss+s*s
		rc, rs = rc+d*c, rs+d*s
	}
	if len(r) == 2 {
		a, b = rc/(cc+ss), rs/(cc+ss)
	} else if det := cc*ss - cs*cs; det != 0 {
		a, b = (rc*ss-rs*cs)/det, (rs*cc-rc*cs)/det
	}
	return rm - a*cm - b*sm, a, b
}

// combined returns a figure, the sum of c[k] times the heights of a model, with its variance:
//
//	readings:  sp^2 (sum c^2/m + (sum c time)^2 / sxx)
//	reseated:  (s1^2 |sum c e|^2 + sp^2 (sum c^2 - |sum c e|^2 2/N)) / m, e the direction of each flute
//	held once: in addition the studied variance of holding |sum c e|^2
func (h *Heights) combined(m *model, c []float64) figure {
	var value, squares, perReading, drift, x, y float64
	for k, ck := range c {
		value += ck * m.heights[k]
		squares += ck * ck
		perReading += ck * ck * m.shares[k]
		drift += ck * m.at[k]
		x, y = x+ck*h.cos[k], y+ck*h.sin[k]
	}
	q := h.readings.Resolution.Micrometres()
	f := figure{steps: squares * q * q, grid: q * math.Sqrt(squares/2)}
	f.value = length.Length(math.Round(value * float64(length.Micrometre)))
	chord := x*x + y*y
	sp := m.noise.Micrometres * m.noise.Micrometres
	if h.readings.Reseated {
		axes := 2.0
		if len(c) == 2 {
			axes = 1
		}
		rest := math.Max(0, squares-chord*2/float64(len(c)))
		if len(c) == 2 {
			rest = 0
		}
		s := h.seating
		f.parts = [2]part{
			{variance: chord * s.Micrometres * s.Micrometres * m.shares[0], df: float64(s.DF), perRound: axes, shrinks: true},
			{variance: rest * sp * m.shares[0], df: float64(m.noise.DF), perRound: float64(max(0, len(c)-3)), shrinks: true},
		}
		return f
	}
	if m.sxx > 0 {
		perReading += drift * drift / m.sxx
		f.drift = drift * drift / m.sxx * sp
	}
	f.parts[0] = part{variance: perReading * sp, df: float64(m.noise.DF), perRound: float64(m.own), shrinks: true}
	if s := h.readings.Holding; s.Known() {
		f.parts[1] = part{variance: chord * s.Micrometres * s.Micrometres, df: float64(s.DF)}
	}
	return f
}

// estimate returns an empty estimate of these readings.
func (h *Heights) estimate(k kind) Estimate {
	e := Estimate{Noise: h.Noise, kind: k, gauge: h.readings.Accuracy, own: h.readings.PermissibleError.Micrometres(), repeats: mostRepeats, looks: h.readings.Looks}
	for _, repeats := range h.readings.Flutes {
		e.repeats = min(e.repeats, len(repeats))
	}
	switch {
	case h.Void != "":
		e.stops, e.void = h.Void, true
	case h.Suspect != nil:
		e.stops = h.Suspect.String()
	}
	return e
}

// pairs adds the differences of all pairs of rows, each a combination of the heights, in every model.
func (h *Heights) pairs(e *Estimate, rows [][]float64) {
	n := len(rows)
	e.figures = make([]figure, 0, n*(n-1)/2*len(h.models))
	c := make([]float64, len(h.Means))
	for i := range h.models {
		from := len(e.figures)
		for a := range rows {
			for b := range a {
				for k := range c {
					c[k] = rows[a][k] - rows[b][k]
				}
				e.figures = append(e.figures, h.combined(&h.models[i], c))
			}
		}
		e.variants = append(e.variants, [2]int{from, len(e.figures)})
	}
}

// TIR estimates the total indicator reading, max - min over the flutes of their means. Its bands hold whatever the
// true heights, see above and below. The value is that of the means as they were read, unless a drift above the noise
// is to be taken out of it.
func (h *Heights) TIR() Estimate {
	e := h.estimate(spread)
	n := len(h.Means)
	rows := make([][]float64, n)
	all := make([]float64, n*n)
	low, high := h.Means[0], h.Means[0]
	for k, m := range h.Means {
		low, high = min(low, m), max(high, m)
		rows[k] = all[k*n : (k+1)*n]
		rows[k][k] = 1
	}
	h.pairs(&e, rows)
	e.Value = high - low
	if h.corrects() {
		e.Value = e.largest()
	}
	return e
}

// corrects says whether the drift is taken out of the values that are told, and not only of what is decided.
func (h *Heights) corrects() bool { return h.Drift.Shown && !h.Drift.Jumped && !h.readings.Reseated }

// Corrected returns the heights of the flutes as they are told: the means as they were read, or with the drift taken
// out where it is above the noise.
func (h *Heights) Corrected() []length.Length {
	if !h.corrects() {
		return h.Means
	}
	out := make([]length.Length, len(h.Means))
	for k, um := range h.models[0].heights {
		out[k] = h.readings.Flutes[0][0] + length.Length(math.Round(um*float64(length.Micrometre)))
	}
	return out
}

// largest is the largest size among the figures of the first model.
func (e *Estimate) largest() length.Length {
	var most length.Length
	for i := e.variants[0][0]; i < e.variants[0][1]; i++ {
		most = max(most, e.size(&e.figures[i]))
	}
	return most
}

// Concentricity estimates twice the offset of the circle that fits the heights best. Its standard uncertainty is, for
// equal pitch and more than two flutes,
//
//	u(2e) = 2 u sqrt(2/N)
//
// and that of the difference for two. Along the offset the error is one draw, which accepts; its whole length has
// two degrees of freedom, which rejects.
func (h *Heights) Concentricity() Estimate {
	e := h.estimate(distance)
	n := len(h.Means)
	if n > 2 {
		e.own *= math.Sqrt2 // the most by which errors of E between any two flutes move the circle, twice
	} else {
		e.kind = single
	}
	unit := make([]float64, n)
	ca, cb := make([]float64, n), make([]float64, n) // what each height counts in the offset
	for k := range unit {
		unit[k] = 1
		_, ca[k], cb[k] = harmonic(unit, h.cos, h.sin)
		unit[k] = 0
	}
	c := make([]float64, n)
	for i := range h.models {
		m := &h.models[i]
		_, a, b := harmonic(m.heights, h.cos, h.sin)
		long := math.Hypot(a, b)
		ua, ub := 1.0, 0.0
		if long > 0 {
			ua, ub = a/long, b/long
		}
		for k := range c {
			c[k] = 2 * (ua*ca[k] + ub*cb[k])
		}
		from := len(e.figures)
		e.figures = append(e.figures, h.combined(m, c))
		e.variants = append(e.variants, [2]int{from, from + 1})
	}
	e.Value = e.figures[0].value
	return e
}

// ToothError estimates the tooth-to-tooth error that the grind itself left: the TIR of what the heights leave over the
// circle that fits them best. Seating the tool does not touch it. With fewer than four flutes there is none, and
// it returns false.
func (h *Heights) ToothError() (Estimate, bool) {
	n := len(h.Means)
	if n < 4 {
		return Estimate{}, false
	}
	e := h.estimate(spread)
	rows := make([][]float64, n)
	unit := make([]float64, n)
	for k := range rows {
		rows[k] = make([]float64, n)
	}
	for j := range unit {
		unit[j] = 1
		level, a, b := harmonic(unit, h.cos, h.sin)
		for k := range rows {
			rows[k][j] = unit[k] - level - a*h.cos[k] - b*h.sin[k]
		}
		unit[j] = 0
	}
	h.pairs(&e, rows)
	e.Value = e.largest()
	return e, true
}

// MeanNoise returns the standard uncertainty of a flute's mean from noise and step alone, max(sp^2/m, q^2/12), with the
// degrees of freedom of sp; false when the readings do not tell it.
func (h *Heights) MeanNoise() (u length.Length, df int, known bool) {
	e := h.estimate(single)
	sp := h.Noise.Micrometres
	um := math.Sqrt(math.Max(sp*sp/float64(e.repeats), h.readings.steady()))
	if !h.Noise.Known() || um == 0 {
		return 0, 0, false
	}
	return outward(um), h.Noise.DF, true
}
