package inspect

import (
	"slices"
	"strings"

	"flutelog/inspect/length"
)

// Item is one thing that a stage requires: a feature to be read or a sight to be looked for, by its name, or EndForm.
type Item string

// EndForm is the form of a ball or corner-radius end, which is not looked at here: it always stays open.
const EndForm Item = "end-form"

// ParseItem reads the name of what can be required.
func ParseItem(s string) (Item, error) {
	if slices.Contains(Sights, Sight(s)) || Item(s) == EndForm {
		return Item(s), nil
	}
	f, err := ParseFeature(s)
	return Item(f), err
}

// Name returns the item as a person reads it.
func (i Item) Name() string {
	if i == EndForm {
		return "form of the end"
	}
	if i.ungrounded() {
		return strings.ReplaceAll(string(i), "-", " ")
	}
	return Feature(i).Name()
}

// ungrounded says whether the item is a face that is not told as ground.
func (i Item) ungrounded() bool { return strings.Contains(string(i), ofThe) }

// Sight returns the sight that the item is, "" for none.
func (i Item) Sight() Sight {
	if slices.Contains(Sights, Sight(i)) {
		return Sight(i)
	}
	return ""
}

// Covered is how one required item stands.
type Covered struct {
	Item   Item  `json:"item"`
	Is     Cover `json:"is"`
	Flutes []int `json:"flutes,omitempty"` // of a missing feature that was read in part: those that were not
}

// Cover says whether an item was read.
type Cover string

const (
	Read          Cover = "read"
	NotApplicable Cover = "not applicable" // the tool has nothing to be read
	Missing       Cover = "missing"
	Untied        Cover = "not tied to the shank" // run-out was read in the grinding fixture only
	Untold        Cover = "not told as ground"    // a face that was called for before the grind
	AsItWas       Cover = "not ground away"       // such a face, told as ground or not, of a tool whose diameter is as it was
)

// DefaultRequired returns what a stage requires where the bench file does not say, in the order in which it is asked.
// The end teeth are required before; later where the inspection before called for work on them, or nothing is
// known of it; between the grinds only where it did.
func DefaultRequired(t Tool, stage Stage, r *Regrind) []Item {
	var items []Item
	if stage != Between {
		for _, s := range Sights {
			items = append(items, Item(s))
		}
	}
	var fs []Feature
	ends := t.HasEndTeeth()
	switch stage {
	case Before:
		fs = []Feature{RadialRunout, Diameter, WearLand, PrimaryLand, Land}
	case Between:
		fs = []Feature{PrimaryLand, Land}
		ends = ends && r != nil && r.Ends
	case After:
		fs = []Feature{RadialRunout, Diameter, PrimaryLand, Land, ReliefDrop}
		ends = ends && (r == nil || !r.Before || r.Ends)
		if ends {
			fs = append(fs, AxialRunout)
		}
	}
	if ends {
		fs = append(fs, EndPrimaryLand, EndLand)
	}
	for _, f := range fs {
		items = append(items, Item(f))
	}
	if stage == After && !t.HasEndTeeth() {
		items = append(items, EndForm)
	}
	return items
}

// cover finds how each required item stands, and what this bench leaves out of the usual list, unless it was read all
// the same. A burn that was seen before the grind is looked for again whatever the list says.
func (w *judging) cover() {
	in := w.in
	usual := DefaultRequired(in.Tool, in.Stage, in.Regrind)
	items := slices.Clone(in.Basis.Required)
	if in.Basis.Required == nil {
		items = usual
	}
	if in.Regrind != nil && in.Regrind.Burn && in.Stage != Before && !slices.Contains(items, Item(Burn)) {
		items = append([]Item{Item(Burn)}, items...)
	}
	for _, item := range usual {
		if !slices.Contains(items, item) && w.covered(item).Is != Read {
			w.out.NotAsked = append(w.out.NotAsked, item)
		}
	}
	if in.Stage == After && !w.unworn() {
		for _, s := range in.Dull() {
			w.out.Coverage = append(w.out.Coverage, Covered{Item: s.Face().item(), Is: Untold})
			w.out.Unread = append(w.out.Unread, s.Face().item())
		}
		flutes := Face{DoPrimary, OnFlutes}
		if w.untouched() && !slices.Contains(w.out.Unread, flutes.item()) {
			w.out.Coverage = append(w.out.Coverage, Covered{Item: flutes.item(), Is: AsItWas})
			w.out.Unread = append(w.out.Unread, flutes.item())
		}
	}
	for _, item := range items {
		c := w.covered(item)
		w.out.Coverage = append(w.out.Coverage, c)
		if c.Is == Missing || c.Is == Untied {
			w.out.Unread = append(w.out.Unread, item)
		}
	}
}

// untouched says whether the primary of the flutes was to be ground and what is read says that it was not: a primary ground alone
// grows wider, and less than half of the infeed came off the radius, whatever the doubt of the two diameters (common practice, no
// source). Either alone tells nothing: a diameter read over the wear comes out as it was, and a secondary takes the width back.
func (w *judging) untouched() bool {
	if w.in.Regrind == nil || w.in.Regrind.Untouched == nil || slices.Contains(w.in.GroundFaces, Face{DoSecondary, OnFlutes}) {
		return false
	}
	was, primary := w.in.Regrind.Untouched, w.in.mean(PrimaryLand)
	return primary != nil && *primary <= was.Primary+w.in.Step(PrimaryLand) && slices.ContainsFunc(w.out.Findings, func(f Finding) bool {
		return f.Feature == Diameter && f.Value != nil && f.Uncertainty != nil && was.Diameter-f.Value.Length()+2*f.Uncertainty.Length() < was.Infeed
	})
}

// unworn says whether the wear was read anew and is within its limit: whatever was told, the edges are ground.
func (w *judging) unworn() bool {
	return slices.ContainsFunc(w.out.Findings, func(f Finding) bool { return f.Feature == WearLand && f.FromEnd == nil && f.Verdict == Accept })
}

func (w *judging) covered(item Item) Covered {
	in := w.in
	if s := item.Sight(); s != "" {
		if slices.ContainsFunc(in.Seen, func(seen Seen) bool { return seen.Sight == s }) {
			return Covered{Item: item, Is: Read}
		}
		return Covered{Item: item, Is: Missing}
	}
	if item == EndForm {
		return Covered{Item: item, Is: Missing}
	}
	f := Feature(item)
	if !w.applies(f) {
		return Covered{Item: item, Is: NotApplicable}
	}
	if f == ReliefDrop && in.Regrind != nil && len(in.Regrind.Relief) > 0 {
		return Covered{Item: item, Is: Read}
	}
	read := Covered{Item: item, Is: Missing}
	for _, s := range w.sets {
		if s.feature != f || s.onShank {
			continue
		}
		missing := s.missing()
		if f == ReliefDrop && in.Basis.ReliefFlutes == 2 && w.opposite(s) {
			missing = nil
		}
		if len(missing) == 0 {
			read = Covered{Item: item, Is: Read}
			break
		}
		read.Flutes = missing
	}
	if f == Diameter && read.Is == Missing {
		if slices.ContainsFunc(w.out.Findings, func(f Finding) bool { return f.Feature == Diameter && f.Value != nil }) {
			read = Covered{Item: item, Is: Read} // by comparison with the master
		}
	}
	if f == RadialRunout && read.Is == Read && in.Stage == After && in.Basis.Tie == TieShank && !w.tied() {
		read.Is = Untied
	}
	return read
}

// applies says whether the tool has anything to be read of a feature.
func (w *judging) applies(f Feature) bool {
	t := w.in.Tool
	r := Reading{Feature: f, Repeat: 1, Value: length.Micrometre}
	if !f.Single() {
		r.Flute = 1
	}
	switch {
	case r.Check(t) != nil:
		return false
	case f == RadialRunout || f == AxialRunout:
		return t.Flutes > 1
	case f == ReliefDrop:
		return !w.unreadableDrop()
	}
	return true
}

// tied says whether the edges were read to the shank: held on it, or the shank read in the same fixture, or a round
// read after the tool was taken out and seated on its shank.
func (w *judging) tied() bool {
	if w.in.Holding == InVee || w.in.Holding == InCollet {
		return true
	}
	return slices.ContainsFunc(w.sets, func(s set) bool {
		return (s.feature == ShankRunout || s.feature == RadialRunout && s.onShank) && len(s.missing()) == 0
	})
}

// opposite says whether a drop was read on an opposite pair of flutes, alike within a degree.
func (w *judging) opposite(s set) bool {
	n := len(s.flutes)
	if n%2 != 0 {
		return false
	}
	for i := range n / 2 {
		if a, b := s.flutes[i], s.flutes[i+n/2]; len(a) > 0 && len(b) > 0 {
			return w.withinADegree(s, i, i+n/2)
		}
	}
	return false
}
