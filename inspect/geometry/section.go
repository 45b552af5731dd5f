package geometry

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/length"
)

// Hand is a hand: of the cut, or of the helix.
type Hand bool

const (
	Right Hand = false
	Left  Hand = true
)

// Teeth is what is known of the teeth of a tool, on its flutes or on its end, and how they are ground. Widths are
// measured square to the edge and counted from where the edge stood before it wore; they come one per flute, or one
// for all, as wear lands do.
type Teeth struct {
	// Diameter is the cutting diameter; 0 is not known, and of end teeth, which wear in a plane, there is none. OverWorn
	// says that it was read over the worn edges; else the edges stood there before they wore.
	Diameter length.Length
	OverWorn bool

	PrimaryRelief, SecondaryRelief, Rake length.Angle  // radial, in the section; rake positive leans back under the edge
	Form                                 Form          // of the facets; behind an eccentric primary the secondary is flat
	Wheel                                length.Length // diameter of the disc wheel that grinds them Hollow
	Helix                                length.Angle  // 0 up to 90 degrees
	HelixHand, Cut                       Hand

	Primary, Land []length.Length
	Wear          []length.Length // deepest wear land, the corner included; nil is none
	// WearRead is the wear land where diameter and heights were read, which is less than the deepest; nil takes the
	// deepest.
	WearRead []length.Length
	Heights  []length.Length // of the edges as they are, read in the grinding fixture; nil when they were not
}

// Section is the teeth of a tool in the section square to its axis, as one value: the cutting circle, and on each
// flute the rake face, the primary, the secondary, the end of the land and the arc that wear has left. What is ground
// makes another Section. Infeed, recession, diameter, shares of the land, clearance and drops are read off it and
// stand nowhere else, so that two of them cannot contradict each other.
//
// The worn surface of a tooth follows the cutting circle, for the tool wore while it turned: the edge has gone back
// to a circle R', and the arc of that from the new edge to the land is the wear land (our model). Without a
// diameter the circle is its tangent. Teeth that were not read for their heights are taken as even before they wore.
type Section struct {
	cut      Teeth
	teeth    []tooth
	outer    float64 // radius at which the offset of a tooth is 0; of no meaning without a diameter
	cosHelix float64
}

// Section lays the teeth out. Errors: angles or widths no tooth has, a count of values that differs, wear that is
// wider than the land, each naming the flute.
func (t Teeth) Section() (Section, error) {
	s, err := t.lay()
	if err != nil {
		return Section{}, fmt.Errorf("tooth in section: %w", err)
	}
	return s, nil
}

func (t Teeth) check() error {
	switch {
	case !between0and90(t.PrimaryRelief) || !between0and90(t.SecondaryRelief):
		return fmt.Errorf("reliefs are %v and %v; want between 0 and 90 degrees", t.PrimaryRelief, t.SecondaryRelief)
	case t.SecondaryRelief <= t.PrimaryRelief:
		return fmt.Errorf("secondary relief %v is not steeper than the primary's %v", t.SecondaryRelief, t.PrimaryRelief)
	case t.Rake <= -90*length.Degree || t.Rake+t.SecondaryRelief >= 90*length.Degree:
		return fmt.Errorf("rake %v and secondary relief %v leave no tooth between them", t.Rake, t.SecondaryRelief)
	case t.Helix < 0:
		return fmt.Errorf("helix is %v; want no less than 0, and its hand apart", t.Helix)
	case t.Diameter < 0 || t.OverWorn && t.Diameter == 0:
		return fmt.Errorf("diameter is %v; want more than zero", t.Diameter)
	}
	if err := checkForm(t.Form, t.Wheel, t.Diameter); err != nil {
		return err
	}
	return checkHelix(t.Helix)
}

// checkForm refuses a hollow form without the wheel that grinds it.
func checkForm(form Form, wheel, diameter length.Length) error {
	if form == Hollow && (wheel <= 0 || wheel < 2*diameter) {
		return fmt.Errorf("a hollow relief is ground by the rim of a disc wheel of %v; want at least twice the tool's diameter", wheel)
	}
	return nil
}

func (t Teeth) lay() (Section, error) {
	if err := t.check(); err != nil {
		return Section{}, err
	}
	flutes := max(len(t.Primary), len(t.Land), len(t.Wear), len(t.WearRead), len(t.Heights))
	primary, err1 := perFlute("primary widths", t.Primary, flutes)
	land, err2 := perFlute("land widths", t.Land, flutes)
	wear, err3 := perFlute("wear lands", orNone(t.Wear), flutes)
	wearRead, err4 := perFlute("wear lands where the diameter was read", orElse(t.WearRead, orNone(t.Wear)), flutes)
	heights, err5 := perFlute("heights", orNone(t.Heights), flutes)
	if err := errors.Join(err1, err2, err3, err4, err5); err != nil {
		return Section{}, err
	}
	if _, err := JudgeLands(primary, land); err != nil {
		return Section{}, err
	}
	s := Section{cut: t, cosHelix: math.Cos(t.Helix.Radians()), outer: t.Diameter.Micrometres() / 2}
	above := length.Micrometres(less(heights, slices.Max(heights))) // none is above 0
	radii := make([]float64, flutes)                                // of the unworn edges
	for k := range radii {
		radii[k] = s.outer
	}
	// With a diameter, the radius of a tooth depends on how far it wore, which depends a little on its radius: each
	// round gives four digits more.
	for range 20 {
		was := slices.Clone(radii)
		recessions := make([]float64, flutes)
		s.teeth = s.teeth[:0]
		for k := range flutes {
			one, err := s.tooth(radii[k], primary[k], land[k], wear[k])
			if err == nil {
				recessions[k] = one.worn
				if t.WearRead != nil {
					var read tooth
					read, err = s.tooth(radii[k], primary[k], land[k], wearRead[k])
					recessions[k] = read.worn
				}
			}
			if err != nil {
				return Section{}, fmt.Errorf("flute %d: %w", k+1, err)
			}
			s.teeth = append(s.teeth, one)
		}
		for k, recession := range recessions {
			switch {
			case t.Heights != nil:
				radii[k] = above[k] + recession
			case t.OverWorn:
				radii[k] = slices.Min(recessions)
			default:
				radii[k] = 0
			}
		}
		shift := s.outer
		if t.Heights != nil && !t.OverWorn {
			shift -= slices.Max(radii)
		}
		moved := 0.0
		for k := range radii {
			radii[k] += shift
			moved = max(moved, math.Abs(radii[k]-was[k]))
		}
		if moved < 1e-4 || t.Diameter == 0 {
			break // what is left moves an edge by less than a millionth of that
		}
	}
	for k := range s.teeth {
		s.teeth[k].offset = s.outer - radii[k]
	}
	return s, nil
}

// tooth lays one tooth of a radius out, from what was measured.
func (s Section) tooth(radius float64, primary, land, wear length.Length) (tooth, error) {
	if wear < 0 {
		return tooth{}, fmt.Errorf("wear land is %v; want no less than zero", wear)
	}
	var c circle
	if radius > 0 {
		c = circle(1 / radius)
	}
	wheel := s.cut.Wheel.Micrometres() / 2
	behind := s.cut.Form
	if behind == Eccentric {
		behind = Flat
	}
	t := newTooth(c, math.Tan(s.cut.Rake.Radians()),
		newFacet(s.cut.Form, s.cut.PrimaryRelief.Radians(), wheel, c), newFacet(behind, s.cut.SecondaryRelief.Radians(), wheel, c),
		primary.Micrometres()/s.cosHelix, (land-primary).Micrometres()/s.cosHelix)
	if heel := t.heel(); radius > 0 && !(heel.y < radius && t.end().y < radius) {
		return t, fmt.Errorf("a land of %v reaches past the radius of a tool of %v", land, s.cut.Diameter)
	}
	t, err := t.wear(wear.Micrometres() / s.cosHelix)
	if err != nil {
		return t, fmt.Errorf("%w: wear %v, land %v", err, wear, land)
	}
	return t, nil
}

func orNone(ls []length.Length) []length.Length { return orElse(ls, []length.Length{0}) }

func orElse(ls, other []length.Length) []length.Length {
	if ls == nil {
		return other
	}
	return ls
}

// perFlute returns one value per flute of a list that holds as many, or one for all.
func perFlute(what string, ls []length.Length, flutes int) ([]length.Length, error) {
	if len(ls) == 1 {
		return slices.Repeat(ls, flutes), nil
	}
	if len(ls) != flutes {
		return nil, fmt.Errorf("%d %s for %d flutes; want one each, or one for all", len(ls), what, flutes)
	}
	return ls, nil
}

// Flutes returns how many teeth there are.
func (s Section) Flutes() int { return len(s.teeth) }

// Worn is what wear has done to one tooth.
type Worn struct {
	Recession   length.Length // of the edge, along the radius it had
	Infeed      length.Length // along the radius, from the wheel's first touch of what is left of this tooth, that clears it
	OnSecondary bool          // the wear has eaten the primary
}

// Worn returns what wear has done to a flute.
func (s Section) Worn(flute int) (Worn, error) {
	t := s.teeth[flute-1]
	var out results
	w := Worn{out.length(t.edge().x), out.length(t.clear() - t.touch()), t.onSecondary}
	return w, out.err
}

// Infeed returns how far the wheel, set for the primary, is fed along the radius from its first touch on any tooth until
// no tooth is worn:
//
//	f = max F[k] - min (F[k] - f[k])
//
// with F[k] the radius at which the wheel first touches tooth k and f[k] the infeed that clears that tooth alone. Source:
// plane geometry.
func (s Section) Infeed() (length.Length, error) {
	touch, clear := s.span()
	var out results
	f := out.length(clear - touch)
	return f, out.err
}

// span returns the infeeds at which the wheel first touches a tooth and at which it has cleared the last one.
func (s Section) span() (touch, clear float64) {
	touch, clear = math.Inf(1), math.Inf(-1)
	for _, t := range s.teeth {
		touch, clear = min(touch, t.offset+t.touch()), max(clear, t.offset+t.clear())
	}
	return touch, clear
}

// FirstTouch returns the flute that a wheel set for the primary touches first.
func (s Section) FirstTouch() int {
	return 1 + slices.IndexFunc(s.teeth, func(t tooth) bool {
		touch, _ := s.span()
		return t.offset+t.touch() == touch
	})
}

// UnevenTeeth says that the run-out and not the wear sets the infeed: most of it brings the wheel from the
// highest tooth to the lowest.
func (s Section) UnevenTeeth() bool {
	touch, clear := s.span()
	worn := 0.0
	for _, t := range s.teeth {
		worn = max(worn, t.clear()-t.touch())
	}
	return clear-touch > 2*worn && clear-touch > 1e-6
}

// Ground returns the teeth after the primary was ground by an infeed from first touch.
func (s Section) Ground(infeed length.Length) Section { return s.ground(infeed.Micrometres()) }

func (s Section) ground(infeed float64) Section {
	touch, _ := s.span()
	s.teeth = slices.Clone(s.teeth)
	for k, t := range s.teeth {
		s.teeth[k] = t.ground(touch + infeed - t.offset)
	}
	return s
}

// Lands returns the widths of each flute, square to its edge, and the primary's share of them. Errors: nothing is left
// of a land.
func (s Section) Lands() (Lands, error) {
	var out results
	var primary, land []length.Length
	for _, t := range s.teeth {
		w, v := t.widths()
		p := out.length(w * s.cosHelix)
		primary, land = append(primary, p), append(land, p+out.length(v*s.cosHelix))
	}
	if out.err != nil {
		return Lands{}, out.err
	}
	return JudgeLands(primary, land)
}

// DiameterLoss returns by how much the highest tooth is smaller in diameter than what was given: than the edges were
// before they wore, or, where the diameter was read over the worn edges, than that.
func (s Section) DiameterLoss() (length.Length, error) {
	var out results
	loss := out.length(2 * s.under())
	return loss, out.err
}

// under returns how far the highest edge lies under the radius that was given, or under the highest edge before it wore.
func (s Section) under() float64 {
	least := math.Inf(1)
	for _, t := range s.teeth {
		least = min(least, t.offset+t.circle.under(t.edge()))
	}
	return least
}

// Diameter returns the cutting diameter over the highest edge as it is. It is false where none was given.
func (s Section) Diameter() (length.Length, bool) {
	if s.cut.Diameter == 0 {
		return 0, false
	}
	loss, err := s.DiameterLoss()
	return s.cut.Diameter - loss, err == nil
}

// RegrindLoss returns by how much the highest tooth is smaller in diameter than its edge was before it wore: what wear and
// grind together took.
func (s Section) RegrindLoss() (length.Length, error) {
	unworn := math.Inf(1)
	for _, t := range s.teeth {
		unworn = min(unworn, t.offset)
	}
	var out results
	loss := out.length(2 * (s.under() - unworn))
	return loss, out.err
}
