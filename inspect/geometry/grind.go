package geometry

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"flutelog/inspect/length"
)

// infeed returns the radial infeed of one division in micrometres: the facet moves in by G sin(FaceAngle)
// square to itself, which is that over cos a1 along the radius.
func (f Feed) infeed(primaryRelief float64) (float64, error) {
	if f.Division <= 0 {
		return 0, fmt.Errorf("one division is %v; want more than zero", f.Division)
	}
	if f.FaceAngle < 0 || f.FaceAngle > 90*length.Degree {
		return 0, fmt.Errorf("the feed stands at %v to the face; want 0 to 90 degrees", f.FaceAngle)
	}
	g := f.Division.Micrometres()
	if f.Diameter {
		g /= 2
	}
	if f.FaceAngle > 0 {
		g *= math.Sin(f.FaceAngle.Radians()) / math.Cos(primaryRelief)
	}
	return g, nil
}

// Grind is the teeth as they stand before the primary is ground, and the angles they are ground to. Widths
// are measured square to the edge, one per flute or one for all, and counted from where the edge stood
// before it wore.
type Grind struct {
	Primary, Land                        []length.Length
	PrimaryRelief, SecondaryRelief, Rake length.Angle
	Helix                                length.Angle
	Wear                                 []length.Length // deepest wear land, the corner included; nil is none
	Heights                              []length.Length // of the edges, read in the grinding fixture; nil when not
}

// Step is the teeth after a number of divisions from the wheel's first touch on the highest tooth.
type Step struct {
	Divisions    int
	Lands        Lands         // each flute's own; the worst decides
	DiameterLoss length.Length // of the highest tooth, from where its edge stood before it wore
}

// Stock is the plan of a regrind.
type Stock struct {
	Infeed        length.Length // along the radius, that clears the wear on every tooth
	ClearWear     int           // divisions for it
	LastUnderHalf int           // the last division that leaves every primary at or under half its land; -1 when one is over already
	Steps         []Step        // from no division up; they end early where nothing would be left of a land
}

// Plan works a regrind out, division by division.
//
// The infeed that clears the wear V on every tooth, with r the heights read in the grinding fixture, is
//
//	f = max(r[k] + V[k] tan a1) - min r[k]
//
// and without heights max V tan a1, when uneven teeth will need more. With heights each tooth is ground only
// from where the wheel reaches it. An infeed f moves the edge in by s along the radius, the diameter falls by
// 2 s, the primary grows by dw, and the secondary shrinks by dv until it is used up:
//
//	s = f / (1 - tan a1 tan g), along the old radius: 2 s is too much by (s tan g)^2 / R of diameter
//	dw = (f / (tan a2 - tan a1) - s tan g) / cos a1
//	dv = f / (tan a2 - tan a1) / cos a2
//
// After that the primary is the whole land: the ratio stays 1, and the land loses only s tan g / cos a1
// at the face. That takes the back of the tooth to fall off square, so a sloping back leaves it wider. Widths
// in the section are the measured ones over cos L.
//
// Errors: more than 200 passes, angles or widths no tooth has, naming the flute. Source: plane geometry of
// straight facets.
func (g Grind) Plan(feed Feed, passes int) (Stock, error) {
	p, err := g.prepare(feed)
	if err != nil {
		return Stock{}, fmt.Errorf("stock: %w", err)
	}
	if passes < 0 || passes > maxPasses {
		return Stock{}, fmt.Errorf("stock: %d passes; want 0 to %d", passes, maxPasses)
	}
	var out results
	stock := Stock{Infeed: out.length(p.clear)}
	division := out.length(p.division)
	if out.err != nil || division == 0 {
		return Stock{}, fmt.Errorf("stock: one division moves the wheel in by %v", division)
	}
	stock.ClearWear = int((stock.Infeed + division - 1) / division)
	stock.LastUnderHalf = sort.Search(p.divisionsToUseUp(), func(n int) bool {
		step, err := p.step(n)
		return err != nil || step.Lands.Worst().OverHalf()
	}) - 1
	for n := range passes + 1 {
		step, err := p.step(n)
		if err != nil {
			break // nothing is left of a land
		}
		stock.Steps = append(stock.Steps, step)
	}
	return stock, nil
}

// SecondaryInfeed returns the radial infeed on the secondary that narrows a primary to its target:
//
//	f2 = (w - w*) cos a1 (tan a2 - tan a1)
//
// Both widths are measured square to the edge. Errors: a target that is not between zero and the primary.
func (g Grind) SecondaryInfeed(primary, target length.Length) (length.Length, error) {
	if err := g.checkAngles(); err != nil {
		return 0, fmt.Errorf("secondary infeed: %w", err)
	}
	if target <= 0 || target > primary {
		return 0, fmt.Errorf("secondary infeed: target width %v; want more than zero and no more than the primary %v", target, primary)
	}
	s := g.section()
	var out results
	infeed := out.length((primary - target).Micrometres() / s.cosHelix * s.cos1 * (s.tan2 - s.tan1))
	return infeed, out.err
}

func (g Grind) checkAngles() error {
	switch {
	case !between0and90(g.PrimaryRelief) || !between0and90(g.SecondaryRelief):
		return fmt.Errorf("reliefs are %v and %v; want between 0 and 90 degrees", g.PrimaryRelief, g.SecondaryRelief)
	case g.SecondaryRelief <= g.PrimaryRelief:
		return fmt.Errorf("secondary relief %v is not steeper than the primary's %v", g.SecondaryRelief, g.PrimaryRelief)
	case g.Rake <= -90*length.Degree || g.Rake+g.SecondaryRelief >= 90*length.Degree:
		return fmt.Errorf("rake %v and secondary relief %v leave no tooth between them", g.Rake, g.SecondaryRelief)
	}
	return checkHelix(g.Helix)
}

// section holds the functions of a grind's angles.
type section struct{ tan1, cos1, tan2, cos2, tanRake, cosHelix float64 }

func (g Grind) section() section {
	a1, a2 := g.PrimaryRelief.Radians(), g.SecondaryRelief.Radians()
	return section{
		math.Tan(a1), math.Cos(a1), math.Tan(a2), math.Cos(a2),
		math.Tan(g.Rake.Radians()), math.Cos(g.Helix.Radians()),
	}
}

// recede returns how far the edge moves in along the radius.
func (s section) recede(infeed float64) float64 { return infeed / (1 - s.tan1*s.tanRake) }

// heelMoves returns how far the heel moves back along the tangent, while there is a secondary.
func (s section) heelMoves(infeed float64) float64 { return infeed / (s.tan2 - s.tan1) }

// usedUp returns the infeed that takes a whole measured secondary.
func (s section) usedUp(secondary float64) float64 {
	return secondary / s.cosHelix * s.cos2 * (s.tan2 - s.tan1)
}

// grow returns the measured widths after a radial infeed.
func (s section) grow(primary, secondary, infeed float64) (float64, float64) {
	heel := s.heelMoves(min(infeed, s.usedUp(secondary)))
	primary += s.cosHelix * (heel - s.recede(infeed)*s.tanRake) / s.cos1
	secondary -= s.cosHelix * heel / s.cos2
	return primary, secondary
}

// plan is a Grind checked and brought to one value per flute, in micrometres.
type plan struct {
	section
	primary, secondary []float64
	late               []float64 // infeed before the wheel reaches the tooth
	clear              float64   // infeed that clears the wear
	division           float64   // radial infeed of one division
}

func (g Grind) prepare(feed Feed) (plan, error) {
	if err := g.checkAngles(); err != nil {
		return plan{}, err
	}
	p := plan{section: g.section()}
	var err error
	if p.division, err = feed.infeed(g.PrimaryRelief.Radians()); err != nil {
		return plan{}, err
	}
	flutes := max(len(g.Primary), len(g.Land), len(g.Wear), len(g.Heights))
	primary, err1 := perFlute("primary widths", g.Primary, flutes)
	land, err2 := perFlute("land widths", g.Land, flutes)
	wear, err3 := perFlute("wear lands", orZero(g.Wear), flutes)
	heights, err4 := perFlute("heights", orZero(g.Heights), flutes)
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return plan{}, err
	}
	if _, err := JudgeLands(primary, land); err != nil {
		return plan{}, err
	}
	p.primary = length.Micrometres(primary)
	for i := range land {
		if wear[i] < 0 {
			return plan{}, fmt.Errorf("flute %d: wear land is %v; want no less than zero", i+1, wear[i])
		}
		p.secondary = append(p.secondary, (land[i] - primary[i]).Micrometres())
	}
	p.clearing(length.Micrometres(less(heights, slices.Min(heights))), length.Micrometres(wear))
	return p, nil
}

// clearing sets what heights, counted from the lowest edge, and wear lands decide: the wheel first touches the
// tooth whose sound facet, V tan a1 above its worn edge, is highest.
func (p *plan) clearing(heights, wear []float64) {
	facets := make([]float64, len(heights))
	for i := range facets {
		facets[i] = heights[i] + wear[i]/p.cosHelix*p.tan1
	}
	p.clear = slices.Max(facets)
	p.late = make([]float64, len(heights))
	for i := range facets {
		p.late[i] = p.clear - facets[i]
	}
}

func orZero(ls []length.Length) []length.Length {
	if ls == nil {
		return []length.Length{0}
	}
	return ls
}

// divisionsToUseUp returns a number of divisions after which flute 1 has no secondary left.
func (p plan) divisionsToUseUp() int {
	return int(math.Ceil((p.usedUp(p.secondary[0])+p.late[0])/p.division)) + 1
}

func (p plan) step(n int) (Step, error) {
	infeed := float64(n) * p.division
	var out results
	step := Step{Divisions: n, DiameterLoss: out.length(2 * p.recede(infeed))}
	var primary, land []length.Length
	for i := range p.primary {
		w, v := p.grow(p.primary[i], p.secondary[i], max(0, infeed-p.late[i]))
		primary = append(primary, out.length(w))
		land = append(land, primary[i]+out.length(v))
	}
	if out.err != nil {
		return Step{}, out.err
	}
	var err error
	step.Lands, err = JudgeLands(primary, land)
	return step, err
}

// Heel is how a flat primary clears the work behind the edge.
type Heel struct {
	Clearance length.Length // of the heel under the cutting circle; below zero it stands out
	Gains     length.Length // measured width up to which the facet gains clearance: R sin a1
	Rubs      length.Length // measured width at which the heel is back on the circle: D sin a1
}

// HeelClearance returns how far the heel of a flat primary lies under the cutting circle:
//
//	R - hypot(R - w sin a1, w cos a1)
//
// with the widths at which it stops growing, to warn at, and at which the heel rubs, to reject at. primary and
// the widths are measured square to the edge. Errors: sizes that are not positive, a relief outside 0 to 90
// degrees. Source: plane geometry.
func HeelClearance(diameter, primary length.Length, relief, helix length.Angle) (Heel, error) {
	if err := errors.Join(checkOffset(diameter, relief), checkHelix(helix)); err != nil {
		return Heel{}, fmt.Errorf("heel clearance: %w", err)
	}
	if primary <= 0 {
		return Heel{}, fmt.Errorf("heel clearance: primary is %v; want more than zero", primary)
	}
	R, a, cosHelix := diameter.Micrometres()/2, relief.Radians(), math.Cos(helix.Radians())
	w := primary.Micrometres() / cosHelix
	var out results
	heel := Heel{
		Clearance: out.length(R - math.Hypot(R-w*math.Sin(a), w*math.Cos(a))),
		Gains:     out.length(R * math.Sin(a) * cosHelix),
		Rubs:      out.length(2 * R * math.Sin(a) * cosHelix),
	}
	return heel, out.err
}
