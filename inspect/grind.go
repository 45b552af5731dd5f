package inspect

import (
	"errors"
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// The rake taken where a tool's is not known (common practice, no source).
const (
	steelRake   = 10 * length.Degree
	carbideRake = 5 * length.Degree
)

// mostDivisions bounds a plan: who needs more should cut the tool back.
const mostDivisions = 200

// Grinding is what a grind is planned from: the teeth in section, how the wheel is fed, and what the tool must keep.
type Grinding struct {
	Teeth  geometry.Teeth
	Feed   geometry.Feed // without a division the plan speaks in lengths
	Limits Limits
	From   From           // where the diameter comes from, "" where there is none
	Target *length.Length // width of the primary that a secondary restores; nil is the middle of the target share
	// Whether the reliefs are known, read or nominal: a heel is judged only by an angle that is, and the end of the land.
	PrimaryKnown, SecondaryKnown bool
	Assumed                      []Assumption

	laid *laid // the section, laid out once
}

type laid struct {
	section geometry.Section
	err     error
}

// Section lays the teeth out, once.
func (g *Grinding) Section() (geometry.Section, error) {
	if g.laid == nil {
		s, err := g.Teeth.Section()
		g.laid = &laid{s, err}
	}
	return g.laid.section, g.laid.err
}

func (g *Grinding) assume(what Assumed, value *Quantity) {
	g.Assumed = append(g.Assumed, Assumption{what, value})
}

// lay returns what the grind of a face is planned from, where primary and land were read on every flute.
func (w *judging) lay(where Where) (*Grinding, bool) {
	if g, done := w.laid[where]; done {
		return g, g != nil
	}
	if w.laid == nil {
		w.laid = map[Where]*Grinding{}
	}
	w.laid[where] = w.layFace(where)
	return w.laid[where], w.laid[where] != nil
}

func (w *judging) layFace(where Where) *Grinding {
	primary, ok1 := find(w.sets, partOf(where).primary, nil)
	land, ok2 := find(w.sets, partOf(where).land, nil)
	if !ok1 || !ok2 || !primary.whole() || !land.whole() {
		return nil
	}
	g := Grinding{Teeth: geometry.Teeth{Primary: primary.means(), Land: land.means()}, Limits: w.in.Basis.Limits}
	if wear, ok := find(w.sets, WearLand, nil); ok && wear.whole() {
		g.Teeth.Wear = wear.means()
	}
	w.layAngles(where, &g)
	return &g
}

// layAngles adds what is known of a part beside its lands: the angles and how its teeth stand.
func (w *judging) layAngles(where Where, g *Grinding) {
	if where == OnEnds {
		w.layEnds(g)
	} else {
		w.layFlutes(g)
	}
}

// layFlutes adds the cutting circle, the angles and the heights of the flutes.
func (w *judging) layFlutes(g *Grinding) {
	tool, t := w.in.Tool, &g.Teeth
	t.Helix, t.HelixHand, t.Cut = tool.Helix, hand(tool.Hand), hand(tool.Cut)
	t.Form, t.Wheel = w.form()
	g.Feed = w.in.Basis.Feed
	t.PrimaryRelief, t.SecondaryRelief = w.anglesOf(g, ReliefDrop, SecondaryDrop, tool.PrimaryRelief, tool.SecondaryRelief)
	t.Rake = w.rake()
	if tool.Rake == nil {
		g.assume(AssumedRake, angleQuantity(t.Rake))
	}
	t.Diameter, g.From = w.cutting()
	switch g.From {
	case ReadNow:
		t.OverWorn = t.Wear != nil
	case Nominal:
		g.assume(AssumedDiameter, lengthQuantity(t.Diameter))
	}
	// Wear read at a place, beside the deepest, is what the micrometer touched.
	for _, s := range w.sets {
		if deepest, ok := find(w.sets, WearLand, nil); ok && s.feature == WearLand && s.fromEnd != nil && deepest.fromEnd == nil && s.whole() {
			t.WearRead = s.means()
		}
	}
	// Heights of a tool that is held off centre are not those of its teeth: it is seated first.
	held := slices.ContainsFunc(w.with(Reject, RadialRunout), func(i int) bool { return w.heldOff(w.out.Findings[i]) })
	if s, ok := find(w.sets, RadialRunout, nil); ok && s.whole() && w.in.Holding == InFixture && tool.Flutes > 1 && !held {
		t.Heights = s.means()
	} else if tool.Flutes > 1 {
		g.assume(AssumedEvenTeeth, nil)
	}
}

// rake is the tool's, else the usual one of its material.
func (w *judging) rake() length.Angle {
	switch {
	case w.in.Tool.Rake != nil:
		return *w.in.Tool.Rake
	case w.in.Tool.Material == Carbide:
		return carbideRake
	}
	return steelRake
}

// layEnds adds the angles and the heights of the end teeth. They move in a plane, so that they have no cutting circle;
// their face leans back along the helix, and they are taken as worn as the deepest place, the corner included.
func (w *judging) layEnds(g *Grinding) {
	t := &g.Teeth
	g.Feed = geometry.Feed{Division: w.in.Basis.Feed.Division}
	t.PrimaryRelief, t.SecondaryRelief = w.anglesOf(g, EndReliefDrop, EndSecondaryDrop, nil, nil)
	t.Rake = min(w.helix(), 60*length.Degree)
	if t.Wear != nil && slices.Max(t.Wear) > 0 {
		g.assume(AssumedEndWear, nil)
	}
	if s, ok := find(w.sets, AxialRunout, nil); ok && s.whole() && w.in.Holding == InFixture && w.in.Tool.Flutes > 1 {
		t.Heights = s.means()
	}
}

func hand(h Hand) geometry.Hand { return h == LeftHand }

// form returns the shape of the tool's relief, and the wheel that makes a hollow one: without its diameter it is taken
// as flat, which differs by s^2/2W over a distance s.
func (w *judging) form() (geometry.Form, length.Length) {
	switch {
	case w.in.Tool.Form == EccentricRelief:
		return geometry.Eccentric, 0
	case w.in.Tool.Form == HollowRelief && w.in.Basis.WheelDiameter >= 2*w.in.Tool.Diameter:
		return geometry.Hollow, w.in.Basis.WheelDiameter
	}
	return geometry.Flat, 0
}

// anglesOf returns the reliefs of a face: as they were read, else nominal, else the middle of their limits. What was read
// is the mean of the flutes, for the wheel is set once for all.
func (w *judging) anglesOf(g *Grinding, primary, secondary Feature, nominal1, nominal2 *length.Angle) (a1, a2 length.Angle) {
	one := func(f Feature, nominal *length.Angle, what Assumed) length.Angle {
		if read, ok := w.reliefRead(f); ok && nominal == nil {
			return read
		}
		a, assumed := angleOr(nominal, w.in.Basis.Limits[f])
		if assumed {
			g.assume(what, angleQuantity(a))
		}
		return a
	}
	taken := len(g.Assumed)
	a1 = one(primary, nominal1, AssumedPrimaryRelief)
	g.PrimaryKnown, taken = len(g.Assumed) == taken, len(g.Assumed)
	a2 = one(secondary, nominal2, AssumedSecondaryRelief)
	g.SecondaryKnown = len(g.Assumed) == taken
	if a2 <= a1 {
		a2, g.SecondaryKnown = a1+usualStep, false
		g.assume(AssumedSecondaryRelief, angleQuantity(a2))
	}
	return a1, a2
}

// usualStep is how much steeper a secondary is than its primary (common practice, no source).
const usualStep = 9 * length.Degree

// reliefRead returns the mean relief read of a feature, over the flutes that were read.
func (w *judging) reliefRead(f Feature) (length.Angle, bool) {
	s, ok := find(w.sets, f, nil)
	if !ok || f == f.part().secondary {
		return 0, false
	}
	var sum, n length.Angle
	for i, repeats := range s.flutes {
		if len(repeats) == 0 {
			continue
		}
		check, err := w.reliefCheck(s, i)
		if err != nil {
			return 0, false
		}
		a, err := check.Angle(repeats[0])
		if err != nil || a <= 0 {
			return 0, false
		}
		sum, n = sum+a, n+1
	}
	return sum / max(n, 1), n > 0
}

// plan works out the grinds of flutes and ends, where their lands were read on every flute and the wear was.
func (w *judging) plan() {
	if wear, ok := find(w.sets, WearLand, nil); !ok || !wear.whole() {
		return
	}
	plan := func(where Where) *Grind {
		g, ok := w.lay(where)
		if !ok {
			return nil
		}
		p, err := g.Plan()
		switch {
		case errors.Is(err, ErrNothingLeft):
			w.note(Note{What: NothingLeft})
		case err != nil:
			w.note(Note{What: NoPlan, Detail: err.Error()})
		default:
			return &p
		}
		return nil
	}
	if w.in.Tool.Sharpened != OnFace {
		w.out.Plan = plan(OnFlutes)
	}
	if w.in.Tool.HasEndTeeth() {
		w.out.EndPlan = plan(OnEnds)
	}
}

// ErrNothingLeft says that clearing the wear would leave nothing of a land: the tool is cut back.
var ErrNothingLeft = errors.New("clearing the wear would leave nothing of a land: cut the tool back")

// fed returns the infeed of the primary that clears the wear: whole divisions of it where the dial is stated.
func (g *Grinding) fed(s geometry.Section) (length.Length, error) {
	infeed, err := s.Infeed()
	if err != nil || g.Feed.Division == 0 {
		return infeed, err
	}
	division, err := g.Feed.Infeed(g.Teeth.PrimaryRelief)
	if err != nil {
		return 0, err
	}
	return (infeed + division - 1) / division * division, nil
}

// touch returns the flute that the wheel touches first; 0 where the teeth were not read for their heights, which stand
// alike then.
func (g *Grinding) touch(s geometry.Section) int {
	if g.Teeth.Heights == nil && s.Flutes() > 1 {
		return 0
	}
	return s.FirstTouch()
}

// Plan reads the grind that clears the wear off the section: in divisions where the dial is stated, else in lengths.
// Errors: ErrNothingLeft, teeth that cannot be.
func (g *Grinding) Plan() (Grind, error) {
	s, err := g.Section()
	switch {
	case errors.Is(err, geometry.ErrWornAway):
		return Grind{}, ErrNothingLeft
	case err != nil:
		return Grind{}, err
	}
	p := Grind{Touch: g.touch(s), Uneven: s.UnevenTeeth(), Assumed: g.Assumed}
	fed, err := g.fed(s)
	if err == nil {
		p.Infeed, err = s.Infeed()
	}
	if err == nil && g.Feed.Division > 0 {
		var plan geometry.Plan
		plan, err = s.Plan(g.Feed, ratioOf(g.Limits.MostShare()), 0)
		p.Division, p.Divisions, p.LastWithoutSecondary = &g.Feed.Division, &plan.ClearWear, &plan.LastUnder
		if plan.ClearWear > mostDivisions {
			err = ErrNothingLeft
		}
	}
	if err != nil {
		return Grind{}, err
	}
	return p, g.after(&p, s.Ground(fed), fed)
}

// After reads off what the tool will be after a pass, in the place of what clearing the wear comes to. Errors as Plan.
func (g *Grinding) After(p *Grind, pass geometry.Pass) error {
	division, err := g.Feed.Infeed(g.Teeth.PrimaryRelief)
	if err != nil {
		return err
	}
	p.RubsAfter = false
	return g.after(p, pass.Section, length.Length(pass.Divisions)*division)
}

// after reads off what the tool will be once the wheel was fed so far.
func (g *Grinding) after(p *Grind, after geometry.Section, fed length.Length) error {
	lands, err := after.Lands()
	if err != nil {
		return ErrNothingLeft
	}
	ratio := lands.Worst().Value()
	p.RatioAfter = &ratio
	p.HeelAfter = nil
	if g.Teeth.Diameter > 0 {
		if err := g.diameterAfter(p, after, fed); err != nil {
			return err
		}
		for flute := range after.Flutes() {
			c, err := after.Clearance(flute + 1)
			if err != nil {
				return err
			}
			if heel := min(c.Heel, c.End); p.HeelAfter == nil || heel < *p.HeelAfter {
				p.HeelAfter = &heel
			}
			p.RubsAfter = p.RubsAfter || g.PrimaryKnown && c.Heel <= 0 || g.PrimaryKnown && g.SecondaryKnown && c.End <= 0
		}
	}
	p.OverAfter = over(lands.Worst(), g.Limits.MostShare()) || p.RubsAfter
	if p.OverAfter || g.Target != nil {
		return g.Behind(p, after)
	}
	return nil
}

// Behind plans the secondary of teeth as they stand: the infeed that brings the widest primary to its target, and the
// divisions whose share comes nearest that. Errors: a target wider than the primary.
func (g *Grinding) Behind(p *Grind, s geometry.Section) error {
	lands, err := s.Lands()
	if err != nil {
		return ErrNothingLeft
	}
	least, most := g.Limits.Target()
	worst := lands.Worst()
	target := length.Length(float64(worst.Land) * (least.Value() + most.Value()) / 2)
	if g.Target != nil {
		target = *g.Target
	}
	infeed, err := s.SecondaryInfeed(target)
	switch {
	case err != nil && g.Target != nil:
		return err
	case err != nil:
		return nil // the primary is no wider than what is aimed at, and its heel rubs all the same
	}
	p.SecondaryInfeed, p.SecondaryTouch = &infeed, s.FirstTouchBehind()
	if g.Feed.Division == 0 {
		return nil
	}
	// Too coarse a feed leaves the infeed alone.
	if pass, err := s.SecondaryDivisions(g.Feed, geometry.Ratio{Primary: target, Land: worst.Land}); err == nil {
		ratio := pass.Lands.Worst().Value()
		p.SecondaryDivisions, p.SecondaryRatio = &pass.Divisions, &ratio
	}
	return nil
}

// diameterAfter says what the tool will measure. A diameter read over worn edges loses what is ground beyond the wear at
// its place: where that was not read, the deepest wear and none stand for the two ends.
func (g *Grinding) diameterAfter(p *Grind, after geometry.Section, fed length.Length) error {
	d, _ := after.Diameter()
	p.DiameterAfter, p.DiameterFrom = &d, g.From
	small := d
	if t := g.Teeth; t.OverWorn && t.WearRead == nil && slices.Max(t.Wear) > 0 {
		t.WearRead = make([]length.Length, len(t.Wear))
		s, err := t.Section()
		if err != nil {
			return err
		}
		if least, ok := s.Ground(fed).Diameter(); ok && least < d {
			p.DiameterAfterLeast, small = &least, least
		}
	}
	least, _ := g.Limits[Diameter].Lengths()
	if least == nil {
		return nil
	}
	// A nominal diameter is no ground to downgrade a tool on.
	p.SmallAfter = small < *least && d < *least && g.From != Nominal
	p.MaySmallAfter = !p.SmallAfter && small < *least && g.From != Nominal
	loss, err := after.RegrindLoss()
	if err == nil && loss > 0 {
		var n int
		n, err = geometry.RegrindsLeft(d, *least, loss)
		p.RegrindsLeft = &n
	}
	return err
}

func ratioOf(s Share) geometry.Ratio {
	return geometry.Ratio{Primary: length.Length(s.Num), Land: length.Length(s.Den)}
}

// over says whether a ratio is more than a share, exactly.
func over(r geometry.Ratio, s Share) bool { return r.Compare(ratioOf(s)) > 0 }
