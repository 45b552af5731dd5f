package inspect

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Judge judges an inspection: each feature that was read gets a finding, and the findings together call for
// work. It judges what is there; what release rests on and was not read is named. It is pure: the same
// inspection, with the basis kept in it, always comes to the same judgement.
func Judge(in Inspection) Judgement {
	w := judging{in: in, sets: in.sets()}
	for _, s := range w.sets {
		switch s.feature {
		case ShankRunout, RadialRunout, AxialRunout:
			w.runout(s)
		case PrimaryLand, EndPrimaryLand:
			w.lands(s)
		case Land, EndLand:
			w.landAlone(s)
		case WearLand:
			w.wear(s)
		case ReliefDrop, SecondaryDrop, EndReliefDrop, EndSecondaryDrop, Dish:
			w.relief(s)
		case Diameter:
			w.diameter(s)
		case Master:
			w.comparison(s)
		case Length:
			w.length(s)
		}
	}
	w.planes()
	w.out.Unread = w.unread()
	if in.Stage == Before {
		w.plan()
	}
	w.notes()
	w.out.decide(in)
	return w.out
}

// judging is one inspection on its way to a judgement.
type judging struct {
	in   Inspection
	sets []set
	out  Judgement
}

func (w *judging) add(f Finding) { w.out.Findings = append(w.out.Findings, f) }

func (w *judging) note(format string, args ...any) {
	if n := fmt.Sprintf(format, args...); !slices.Contains(w.out.Notes, n) {
		w.out.Notes = append(w.out.Notes, n)
	}
}

// rule is the decision rule in force at the stage.
func (w *judging) rule() statistics.Rule {
	if w.in.Stage == After {
		return w.in.Basis.ReleaseRule
	}
	return w.in.Basis.WorkRule
}

// workRule is the rule for what decides work and not acceptance, lands and wear: the one in force where the
// readings tell how good they are, else the simple one.
func (w *judging) workRule(known bool) statistics.Rule {
	if known {
		return w.rule()
	}
	return statistics.Simple
}

// gauge is what is known of the gauge a set was read with. A resolution that is not stated is taken from the
// decimals that were read.
func (w *judging) gauge(s set) statistics.Gauge {
	known := w.in.Basis.Gauges[s.gauge]
	g := statistics.Gauge{
		Resolution:       known.Resolution,
		PermissibleError: known.PermissibleError,
		Studied:          statistics.Repeatability{Micrometres: known.Repeatability, DF: known.RepeatabilityDF},
	}
	if g.Resolution == 0 {
		g.Resolution = s.step
	}
	return g
}

// name is a figure's name with where it was read.
func (w *judging) name(what string, s set) string {
	if s.fromEnd == nil {
		return what
	}
	return what + ", " + s.fromEnd.In(w.in.Basis.Unit) + " from the end"
}

func (w *judging) in_(l length.Length) string { return l.In(w.in.Basis.Unit) }

// notJudged adds a finding for what cannot be judged.
func (w *judging) notJudged(s set, name, reason string) {
	w.add(Finding{Feature: s.feature, FromEnd: s.fromEnd, Name: name, Verdict: NotJudged, Reason: name + ": " + reason})
}

// finding adds a finding from a decision on a length.
func (w *judging) finding(s set, name, source string, flute int, e statistics.Estimate, d statistics.LengthDecision) {
	value := LengthQuantity(d.Value)
	f := Finding{
		Feature: s.feature, FromEnd: s.fromEnd, Name: name, Flute: flute, Value: &value, Source: source,
		Least: lengthQuantity(d.Lower), Most: lengthQuantity(d.Upper), Verdict: d.Verdict, Rule: d.Rule, Probability: d.Probability,
	}
	if u, known := e.Uncertainty(); known {
		f.Uncertainty = lengthQuantity(&u)
	}
	f.Reason = w.reason(f, d.Decision)
	w.add(f)
}

func lengthQuantity(l *length.Length) *Quantity {
	if l == nil {
		return nil
	}
	q := LengthQuantity(*l)
	return &q
}

// reason puts a finding into words: the figure, the limit, and why the verdict is not plain.
func (w *judging) reason(f Finding, d statistics.Decision) string {
	unit := w.in.Basis.Unit
	text := f.Name + " " + f.Value.In(unit)
	if f.Flute > 0 {
		text = fmt.Sprintf("flute %d %s", f.Flute, text)
	}
	switch {
	case f.Least != nil && f.Most != nil:
		text += fmt.Sprintf(", limits %s to %s", f.Least.In(unit), f.Most.In(unit))
	case f.Most != nil:
		text += ", limit " + f.Most.In(unit)
	case f.Least != nil:
		text += ", at least " + f.Least.In(unit)
	}
	if f.Verdict == Undecided || f.Verdict == NotJudged {
		text += ": " + d.Reason
	}
	return text
}

// runout judges one set of heights: TIR against its limit, and concentricity where it has one.
func (w *judging) runout(s set) {
	name := w.name(s.feature.Name()+" (TIR)", s)
	if missing := s.missing(); missing != "" {
		w.notJudged(s, name, missing)
		return
	}
	g := w.gauge(s)
	e, err := statistics.TIR(s.flutes, g)
	if err != nil {
		w.notJudged(s, name, err.Error())
		return
	}
	w.fit(s)
	if void := w.drift(s, e.Noise, g); void != "" {
		w.notJudged(s, name, void)
		return
	}
	limit := w.runoutLimit(s.feature)
	d, err := statistics.Decide(e, nil, limit.Most, w.rule())
	if err != nil {
		w.notJudged(s, name, err.Error())
		return
	}
	if limit.Most != nil {
		w.finding(s, name, limit.Source, 0, e, d)
	}
	if above, known := e.AboveNoise(); known && !above {
		w.note("%s: not distinguishable from gauge noise", name)
	}
	w.outliers(s, name)
	if d.Verdict != Accept {
		w.causes(s, meanNoise(e.Noise, s.smallest(), g), e.Noise.DF)
	}
}

// meanNoise returns the standard uncertainty of a flute's mean from noise and resolution alone:
//
//	u^2 = sp^2/m + q^2/12
func meanNoise(noise statistics.Repeatability, repeats int, g statistics.Gauge) length.Length {
	if !noise.Known() {
		return 0
	}
	u, err := length.FromMicrometres(math.Hypot(noise.Micrometres/math.Sqrt(float64(repeats)), g.Resolution.Micrometres()/math.Sqrt(12)))
	if err != nil {
		return 0
	}
	return u
}

func (w *judging) runoutLimit(f Feature) LengthBand {
	switch f {
	case AxialRunout:
		return w.in.Basis.Limits.AxialRunout
	case ShankRunout:
		return w.in.Basis.Limits.ShankRunout
	}
	return w.in.Basis.Limits.RadialRunout
}

// fit keeps the fitted circle of a run-out, and judges the concentricity where a limit is set.
func (w *judging) fit(s set) {
	var angles []length.Angle
	if s.feature != ShankRunout {
		angles = w.in.Tool.Angles
	}
	heights := s.means()
	r, err := geometry.FitRunout(heights, angles)
	if err != nil {
		w.notJudged(s, w.name("concentricity", s), err.Error())
		return
	}
	figures := RunoutFigures{Feature: s.feature, FromEnd: s.fromEnd, Heights: heights, TIR: r.TIR, Concentricity: r.Concentricity, Residuals: r.Residuals, Fit: r}
	if r.HasDirection {
		figures.Direction = &r.Direction
	}
	w.out.Runouts = append(w.out.Runouts, figures)
	limit := w.in.Basis.Limits.Concentricity
	if s.feature != RadialRunout || limit.Most == nil {
		return
	}
	value := LengthQuantity(r.Concentricity)
	f := Finding{Feature: Concentricity, FromEnd: s.fromEnd, Name: w.name("concentricity (twice the offset)", s), Value: &value, Most: lengthQuantity(limit.Most), Source: limit.Source, Verdict: Accept, Rule: statistics.Simple}
	if r.Concentricity > *limit.Most {
		f.Verdict = Reject
	}
	f.Reason = w.reason(f, statistics.Decision{})
	w.add(f)
}

// drift returns why a set is void: flute 1 read again at its end differs by more than the noise.
func (w *judging) drift(s set, noise statistics.Repeatability, g statistics.Gauge) string {
	if s.closing == nil {
		return ""
	}
	d, err := statistics.CheckDrift(s.flutes[0], []length.Length{*s.closing}, noise, g)
	if err != nil {
		return err.Error()
	}
	if !d.Void {
		return ""
	}
	return fmt.Sprintf("flute 1 read again last differs by %s, more than the noise of %s: something moved; read the set again", w.in_(d.Error), w.in_(d.Allowed))
}

// outliers notes any repeat that stands out among its flute's; nothing is dropped.
func (w *judging) outliers(s set, name string) {
	for i, repeats := range s.flutes {
		o, err := statistics.Grubbs(length.Micrometres(repeats), w.gauge(s).Resolution.Micrometres())
		if err == nil && o.Flagged {
			w.note("%s: reading %d of flute %d stands out (Grubbs, 5 %%); it was kept", name, o.Index+1, i+1)
		}
	}
}

// lands judges the primary's share of the land: over the half, a secondary is needed. The shares of the
// flutes are compared exactly; the worst decides, for all are ground alike.
func (w *judging) lands(primary set) {
	name := primary.feature.Name() + " share of the whole land"
	partner := Land
	if primary.feature == EndPrimaryLand {
		partner = EndLand
	}
	land, ok := find(w.sets, partner, primary.fromEnd)
	if !ok {
		w.notJudged(primary, name, "the whole land was not read")
		return
	}
	if missing := strings.Trim(primary.missing()+"; "+land.missing(), "; "); missing != "" {
		w.notJudged(primary, name, missing)
		return
	}
	lands, err := geometry.JudgeLands(primary.means(), land.means())
	if err != nil {
		w.notJudged(primary, name, err.Error())
		return
	}
	w.out.Lands = append(w.out.Lands, landFigures(primary, land, lands))
	w.primaryWidth(primary)
	w.share(primary, land, name, lands)
}

// landAlone notes a whole land that was read without its primary.
func (w *judging) landAlone(s set) {
	for primary, land := range map[Feature]Feature{PrimaryLand: Land, EndPrimaryLand: EndLand} {
		if _, ok := find(w.sets, primary, s.fromEnd); land == s.feature && !ok {
			w.note("the %s was read and not the primary, so its share is not known", s.feature.Name())
		}
	}
}

func landFigures(primary, land set, lands geometry.Lands) LandFigures {
	f := LandFigures{Ends: primary.feature.OnEnds(), Primary: primary.means(), Land: land.means(), Mean: lands.Mean, Worst: lands.WorstFlute}
	for _, r := range lands.Ratios {
		f.Ratios = append(f.Ratios, r.Value())
	}
	return f
}

func (w *judging) share(primary, land set, name string, lands geometry.Lands) {
	g := w.gauge(primary)
	i := lands.WorstFlute - 1
	noise, err := g.Noise(append(slices.Clone(primary.flutes), land.flutes...)...)
	if err != nil {
		w.notJudged(primary, name, err.Error())
		return
	}
	ratio, err := statistics.NewRatio(primary.flutes[i], land.flutes[i], noise, g)
	if err != nil {
		w.notJudged(primary, name, err.Error())
		return
	}
	limits := w.in.Basis.Limits
	most := statistics.Fraction(limits.SecondaryOver)
	d, err := statistics.DecideRatio(ratio, nil, &most, w.workRule(noise.Known()))
	if err != nil {
		w.notJudged(primary, name, err.Error())
		return
	}
	value, limit := ShareQuantity(d.Value), ShareQuantity(limits.SecondaryOver.Value())
	f := Finding{
		Feature: primary.feature, FromEnd: primary.fromEnd, Name: "primary share of the land", Flute: lands.WorstFlute,
		Value: &value, Most: &limit, Source: limits.SecondarySource, Verdict: d.Verdict, Rule: d.Rule, Probability: d.Probability,
	}
	if primary.feature.OnEnds() {
		f.Name = "end primary share of the land"
	}
	if u, known := ratio.Uncertainty(); known {
		q := ShareQuantity(u)
		f.Uncertainty = &q
	}
	f.Reason = w.reason(f, d.Decision)
	w.add(f)
	if target := limits.TargetMost; d.Verdict == Accept && w.in.Stage == After && d.Value > target.Value() {
		w.note("%s is %s of the land; right after a secondary aim for %s to %s", f.Name, value.In(length.None), ShareQuantity(limits.TargetLeast.Value()).In(length.None), ShareQuantity(target.Value()).In(length.None))
	}
}

// primaryWidth holds the widths of the primary against their limits where the bench has set some; the usual
// widths of the trade are a note, no limit.
func (w *judging) primaryWidth(s set) {
	band := w.in.Basis.Limits.PrimaryWidth
	if s.feature != PrimaryLand || !band.Set() {
		return
	}
	if band.Source != commonPractice {
		width := s
		width.feature = PrimaryWidth
		w.each(width, "primary width", band)
		return
	}
	for i, width := range s.means() {
		if w.in.Stage == After && (width < *band.Least || width > *band.Most) {
			w.note("flute %d primary is %s wide; usual for the size is %s to %s (%s)", i+1, w.in_(width), w.in_(*band.Least), w.in_(*band.Most), band.Source)
		}
	}
}

// wear holds the wear land against the width at which a tool is reground.
func (w *judging) wear(s set) { w.each(s, "wear land", w.in.Basis.Limits.Wear) }

// each judges a width read flute by flute; the flute that falls farthest short decides.
func (w *judging) each(s set, name string, band LengthBand) {
	if missing := s.missing(); missing != "" {
		w.notJudged(s, name, missing)
		return
	}
	g := w.gauge(s)
	noise, err := g.Noise(s.flutes...)
	if err != nil {
		w.notJudged(s, name, err.Error())
		return
	}
	var worst verdictOf
	for i, repeats := range s.flutes {
		e, err := statistics.Width(repeats, noise, g)
		if err != nil {
			w.notJudged(s, name, err.Error())
			return
		}
		d, err := statistics.Decide(e, band.Least, band.Most, w.workRule(noise.Known()))
		if err != nil {
			w.notJudged(s, name, err.Error())
			return
		}
		worst.take(i+1, e, d)
	}
	w.finding(s, name, band.Source, worst.flute, worst.estimate, worst.decision)
}

// verdictOf is the flute of a set that decides for it.
type verdictOf struct {
	flute    int
	estimate statistics.Estimate
	decision statistics.LengthDecision
}

var severity = map[Verdict]int{Accept: 0, NotJudged: 1, Undecided: 2, Reject: 3}

// take keeps the worse of two flutes: by verdict, then by how little room is left to a limit.
func (v *verdictOf) take(flute int, e statistics.Estimate, d statistics.LengthDecision) {
	if v.flute == 0 || severity[d.Verdict] > severity[v.decision.Verdict] ||
		d.Verdict == v.decision.Verdict && room(d) < room(v.decision) {
		*v = verdictOf{flute, e, d}
	}
}

// room returns how far a value lies inside the nearer of its limits; below zero it is outside.
func room(d statistics.LengthDecision) length.Length {
	r := length.Length(1) << 62
	if d.Lower != nil {
		r = min(r, d.Value-*d.Lower)
	}
	if d.Upper != nil {
		r = min(r, *d.Upper-d.Value)
	}
	return r
}

// diameter judges a diameter read outright.
func (w *judging) diameter(s set) {
	g := w.gauge(s)
	noise, err := g.Noise(s.flutes...)
	if err != nil || len(s.flutes[0]) == 0 {
		w.notJudged(s, "diameter", "it was not read")
		return
	}
	e, err := statistics.Width(s.flutes[0], noise, g)
	if err != nil {
		w.notJudged(s, "diameter", err.Error())
		return
	}
	w.decideDiameter(s, "diameter", e, noise.Known())
}

// decideDiameter holds a diameter against the smallest one. Whether a tool is still big enough is work at the
// bench, a question of tenths of a millimetre: one reading decides it.
func (w *judging) decideDiameter(s set, name string, e statistics.Estimate, known bool) {
	limit := w.in.Basis.Limits.Diameter
	d, err := statistics.Decide(e, limit.Least, limit.Most, w.workRule(known))
	if err != nil {
		w.notJudged(s, name, err.Error())
		return
	}
	w.finding(s, name, limit.Source, 0, e, d)
	if last := w.in.LastDiameter; last != nil && d.Value > *last+sameDiameter {
		w.note("%s %s is %s over the %s that was last read of this tool, and no grind adds to one: read it again, and see that it is this tool",
			name, w.in_(d.Value), w.in_(d.Value-*last), w.in_(*last))
	}
}

// sameDiameter is how far two readings of the diameter of one tool may lie apart before one is doubted. A micrometer
// across two edges repeats within it; common practice, no source.
const sameDiameter = length.Thou

// comparison judges the diameter by comparison of the radial run-out with a master pin.
func (w *judging) comparison(master set) {
	w.masterCheck(master)
	const name = "largest diameter, compared with the master"
	heights, ok := find(w.sets, RadialRunout, master.fromEnd)
	switch {
	case w.in.Basis.MasterDiameter <= 0:
		w.note("the bench file does not say the master's diameter, so the tool's is not worked out from it")
		return
	case !ok || heights.missing() != "":
		w.note("the tool's diameter was not worked out from the master: it needs every flute's radial run-out at the same setting")
		return
	}
	g := w.gauge(master)
	e, err := statistics.LargestDiameter(w.in.Basis.MasterDiameter, master.flutes[0], heights.flutes, g)
	if err != nil {
		w.notJudged(master, name, err.Error())
		return
	}
	compared := master
	compared.feature = Diameter
	w.decideDiameter(compared, name, e, e.Noise.Known())
}

// masterCheck holds the indicator's reading on the master against its zero: a job begins with it.
func (w *judging) masterCheck(s set) {
	within := w.in.Basis.MasterWithin
	if within <= 0 {
		return
	}
	reads := statistics.MeanLength(s.flutes[0])
	least, value := -within, LengthQuantity(reads)
	f := Finding{Feature: s.feature, FromEnd: s.fromEnd, Name: "indicator on the master", Value: &value, Least: lengthQuantity(&least), Most: lengthQuantity(&within), Source: "bench file", Verdict: Accept, Rule: statistics.Simple}
	if reads.Abs() > within {
		f.Verdict = NotJudged
	}
	f.Reason = w.reason(f, statistics.Decision{Reason: "set the indicator to zero on the master and read the tool again"})
	w.add(f)
}

// length reports a length; nothing limits it.
func (w *judging) length(s set) {
	value := LengthQuantity(statistics.MeanLength(s.flutes[0]))
	w.add(Finding{Feature: s.feature, Name: "length", Value: &value, Verdict: Accept, Reason: "length " + value.In(w.in.Basis.Unit) + "; nothing limits it"})
}

func (w *judging) unread() []Feature {
	if w.in.Stage != After {
		return nil
	}
	var fs []Feature
	for _, f := range w.in.Basis.Required {
		if _, ok := find(w.sets, f, nil); !ok {
			fs = append(fs, f)
		}
	}
	return fs
}

// notes says what a reader of the verdict must know of how the readings were made.
func (w *judging) notes() {
	heights := false
	repeated := false
	for _, s := range w.sets {
		if s.feature.Heights() && !s.feature.Single() {
			heights = true
			repeated = repeated || len(s.flutes[0]) > 1
		}
	}
	if heights && w.in.Holding == InFixture {
		w.note("read untouched in the grinding fixture: an error of the grind to the shank does not show")
	}
	if repeated && !w.in.Reseated {
		w.note("the tool was not reseated between repeats: the error of holding it is not in the repeatability")
	}
	w.calibration()
}
