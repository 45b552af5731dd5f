package geometry

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"flutelog/inspect/length"
)

const maxPasses = 200

// InSection returns the width in the section square to the axis of a width measured square to the edge:
//
//	w / cos L
//
// Infeed and relief work in the section; every width shown and stored is the measured kind.
func InSection(measured length.Length, helix length.Angle) (length.Length, error) {
	if err := checkHelix(helix); err != nil {
		return 0, fmt.Errorf("width in the section: %w", err)
	}
	var out results
	w := out.length(measured.Micrometres() / math.Cos(helix.Radians()))
	return w, out.err
}

// NormalRelief returns a radial relief as it stands in the plane square to a helical edge, where it is steeper:
//
//	tan an = tan ar / cos L
//
// 10 degrees at 45 degrees of helix are 14.0. Errors: a relief outside 0 to 90 degrees, a helix not inside 90 degrees.
func NormalRelief(radial, helix length.Angle) (length.Angle, error) {
	if err := checkHelix(helix); err != nil {
		return 0, fmt.Errorf("normal relief: %w", err)
	}
	if !between0and90(radial) {
		return 0, fmt.Errorf("normal relief: relief is %v; want between 0 and 90 degrees", radial)
	}
	var out results
	a := out.angle(math.Atan(math.Tan(radial.Radians()) / math.Cos(helix.Radians())))
	return a, out.err
}

// Feed is what one division of the dial does.
type Feed struct {
	Division  length.Length // as marked
	Diameter  bool          // the dial reads diameter, so that half of it goes in
	FaceAngle length.Angle  // between the feed and the face being ground; 0 when it feeds along the radius
}

// Infeed returns the radial infeed of one division on a facet of a relief: the facet moves in by G sin(FaceAngle) square
// to itself, which is that over cos a along the radius. Errors: a division that is not positive or moves nothing, a
// feed that does not go into the face.
func (f Feed) Infeed(relief length.Angle) (length.Length, error) {
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
		g *= math.Sin(f.FaceAngle.Radians()) / math.Cos(relief.Radians())
	}
	var out results
	infeed := out.length(g)
	if out.err == nil && infeed == 0 {
		return 0, fmt.Errorf("one division of %v moves the wheel in by nothing", f.Division)
	}
	return infeed, out.err
}

// Pass is the teeth after a number of divisions from the wheel's first touch.
type Pass struct {
	Divisions    int
	Section      Section
	Lands        Lands // each flute's own; the worst decides
	DiameterLoss length.Length
}

// Plan is the plan of grinding the primary, division by division.
type Plan struct {
	Infeed    length.Length // along the radius from first touch, that clears the wear on every tooth
	ClearWear int           // divisions for it: the first after which no wear should be left
	LastUnder int           // the last division that leaves every primary at or under the limit; -1 when one is over already
	Passes    []Pass        // from no division up; they end early where nothing would be left of a land
}

// Plan works a regrind of the primary out in divisions counted from the wheel's first touch on what is left of any tooth,
// as far as passes and beyond them to the division that clears the wear. limit is the share of the land over which a
// secondary is needed. Errors: more than 200 divisions, a feed that moves nothing.
func (s Section) Plan(feed Feed, limit Ratio, passes int) (Plan, error) {
	if passes < 0 || passes > maxPasses {
		return Plan{}, fmt.Errorf("stock: %d passes; want 0 to %d", passes, maxPasses)
	}
	division, err := feed.Infeed(s.cut.PrimaryRelief)
	if err != nil {
		return Plan{}, fmt.Errorf("stock: %w", err)
	}
	var plan Plan
	if plan.Infeed, err = s.Infeed(); err != nil {
		return Plan{}, fmt.Errorf("stock: %w", err)
	}
	plan.ClearWear = int((plan.Infeed + division - 1) / division)
	plan.LastUnder = sort.Search(s.usesUp(division), func(n int) bool {
		lands, err := s.Ground(length.Length(n) * division).Lands()
		return err != nil || lands.Worst().Compare(limit) > 0
	}) - 1
	last := max(passes, plan.ClearWear)
	if last > maxPasses {
		last = passes
	}
	for n := range last + 1 {
		pass := Pass{Divisions: n, Section: s.Ground(length.Length(n) * division)}
		if pass.Lands, err = pass.Section.Lands(); err != nil {
			break // nothing is left of a land
		}
		if pass.DiameterLoss, err = pass.Section.DiameterLoss(); err != nil {
			return Plan{}, fmt.Errorf("stock: %w", err)
		}
		plan.Passes = append(plan.Passes, pass)
	}
	return plan, nil
}

// usesUp returns a number of divisions after which the first flute has no secondary left.
func (s Section) usesUp(division length.Length) int {
	t := s.teeth[0]
	touch, _ := s.span()
	end := t.offset + t.primary.level(t.end()) - touch
	return int(min(1e6, math.Ceil(max(0, end)/division.Micrometres()))) + 2
}

// widest returns the tooth with the widest primary: its secondary stands out farthest, and a wheel set for the
// secondary touches it first.
func (s Section) widest() (tooth, int) {
	k := 0
	for i, t := range s.teeth {
		if t.offset+t.level2 < s.teeth[k].offset+s.teeth[k].level2 {
			k = i
		}
	}
	return s.teeth[k], k + 1
}

// FirstTouchBehind returns the flute that a wheel set for the secondary touches first: that with the widest primary.
func (s Section) FirstTouchBehind() int {
	_, flute := s.widest()
	return flute
}

// SecondaryInfeed returns the infeed along the radius on the secondary, from first touch, that narrows the widest primary
// to a target, measured square to the edge; from two flat facets
//
//	f2 = (w - w*) cos a1 (tan a2 - tan a1)
//
// Errors: a target that is not between zero and the widest primary.
func (s Section) SecondaryInfeed(target length.Length) (length.Length, error) {
	t, _ := s.widest()
	var out results
	width, _ := t.widths()
	if primary := out.length(width * s.cosHelix); target <= 0 || target > primary {
		return 0, fmt.Errorf("secondary infeed: target width %v; want more than zero and no more than the primary %v", target, primary)
	}
	heel := t.primary.along(t.level1, t.sharp(), target.Micrometres()/s.cosHelix)
	infeed := out.length(t.secondary.level(heel) - t.level2)
	return infeed, out.err
}

// GroundBehind returns the teeth after the secondary was ground by an infeed from first touch.
func (s Section) GroundBehind(infeed length.Length) Section {
	t, _ := s.widest()
	touch := t.offset + t.level2
	s.teeth = slices.Clone(s.teeth)
	for k, t := range s.teeth {
		s.teeth[k] = t.groundBehind(touch + infeed.Micrometres() - t.offset)
	}
	return s
}

var errReachesEdge = errors.New("one division of the secondary would reach the edge; a finer feed is needed")

// SecondaryDivisions returns the divisions of the secondary, from first touch on the widest primary, that bring the
// largest share of the land nearest to the target, and the teeth after them: never rounded up, for one too many
// can halve the primary, and never so many that the secondary reaches an edge. Errors: a feed that moves nothing, or
// whose first division reaches an edge.
func (s Section) SecondaryDivisions(feed Feed, target Ratio) (Pass, error) {
	division, err := feed.Infeed(s.cut.SecondaryRelief)
	if err != nil {
		return Pass{}, fmt.Errorf("secondary: %w", err)
	}
	var best Pass
	nearest := math.Inf(1)
	for n := 1; n <= 10*maxPasses; n++ {
		pass := Pass{Divisions: n, Section: s.GroundBehind(length.Length(n) * division)}
		if pass.Lands, err = pass.Section.Lands(); err != nil {
			break // the secondary has reached an edge
		}
		worst := pass.Lands.Worst()
		if off := math.Abs(worst.Value() - target.Value()); off < nearest {
			best, nearest = pass, off
		}
		if worst.Compare(target) <= 0 {
			break
		}
	}
	if best.Divisions == 0 {
		return Pass{}, fmt.Errorf("secondary: %w", errReachesEdge)
	}
	best.DiameterLoss, err = best.Section.DiameterLoss()
	return best, err
}

// RegrindsLeft returns how many more regrinds, each taking loss off the diameter, leave at least the smallest
// useful diameter. It is 0 at and below that diameter. Errors: a loss that is not positive.
func RegrindsLeft(diameter, smallest, loss length.Length) (int, error) {
	if loss <= 0 {
		return 0, fmt.Errorf("regrinds left: a regrind takes %v; want more than zero", loss)
	}
	return int(max(0, diameter-smallest) / loss), nil
}

// Clearance is how the land of one flute clears the work behind the edge. Widths are measured square to the edge.
type Clearance struct {
	Heel, End length.Length  // of the primary's heel and of the end of the land under the cutting circle; below zero they stand out
	Gains     *length.Length // width up to which the primary gains clearance: R sin a on a flat one; nil where it always does
	Rubs      *length.Length // width at which the primary is back on the cutting circle: D sin a on a flat one
}

var errNoDiameter = errors.New("no diameter is known, and a straight path has no heel that rubs")

// Clearance returns how a flute's land clears the cutting circle of its edge as it is. Errors: no diameter. Source: plane
// geometry.
func (s Section) Clearance(flute int) (Clearance, error) {
	t := s.teeth[flute-1]
	if t.circle == 0 {
		return Clearance{}, fmt.Errorf("heel clearance: %w", errNoDiameter)
	}
	var out results
	edge, sharp, heel := t.edge(), t.sharp(), t.heel()
	depth := t.circle.under(edge)
	c := Clearance{
		Heel: out.length(t.circle.under(heel) - depth),
		End:  out.length(t.circle.under(t.end()) - depth),
	}
	if s.cut.Form == Eccentric {
		return c, out.err
	}
	// How the primary would go on without a secondary.
	far := 0.99 / float64(t.circle)
	low := t.primary.deepest(t.level1, sharp.y, far)
	width := func(p point) *length.Length {
		w := out.length(math.Hypot(p.x-sharp.x, p.y-sharp.y) * s.cosHelix)
		return &w
	}
	if low.y < far {
		c.Gains = width(low)
		above := func(y float64) float64 { return t.circle.under(t.primary.at(t.level1, y)) - t.circle.under(sharp) }
		if above(far) < 0 {
			c.Rubs = width(t.primary.at(t.level1, solve(low.y, far, above)))
		}
	}
	if out.err != nil {
		return Clearance{}, fmt.Errorf("heel clearance: %w", out.err)
	}
	return c, nil
}
