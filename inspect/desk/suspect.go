package desk

import (
	"fmt"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// suspect returns the reading of a run-out that stands apart from its fellows and was not asked again yet, once the round of a
// reading that was just taken is whole. Of two readings that differ the later one is asked first.
func (d *Desk) suspect(k inspect.Key) (Question, bool) {
	if d.study != nil || !k.Feature.Heights() || k.Feature.Single() || !d.wholeRound(d.in, k) {
		return Question{}, false
	}
	in := d.in
	in.Readings = slices.DeleteFunc(slices.Clone(in.Readings), func(r inspect.Reading) bool { return r.Feature != k.Feature || r.OnShank != k.OnShank })
	for _, s := range slices.Backward(inspect.Judge(in).Suspects) {
		q := Question{Key: s}
		if samePlace(s, k) && d.read(q) && !d.reread[s] {
			return q, true
		}
	}
	return Question{}, false
}

// letStand lets a reading stand that was asked again for it stands apart.
func (d *Desk) letStand() {
	if d.suspected != nil && *d.suspected == d.at.Key {
		d.reread[d.at.Key], d.suspected = true, nil
	}
}

// wholeRound says whether every flute of the round of k was read.
func (d *Desk) wholeRound(in inspect.Inspection, k inspect.Key) bool {
	read := 0
	for _, r := range in.Readings {
		if o := r.Key(); samePlace(o, k) && !o.Closing && o.Repeat == k.Repeat {
			read++
		}
	}
	return read == d.tool().Flutes
}

// suspectNote says of the question that is asked why it is asked again; "" where it is not for that.
func (d *Desk) suspectNote() string {
	r, ok := d.reading(d.at)
	if !ok || d.suspected == nil || *d.suspected != d.at.Key {
		return ""
	}
	return sentence(fmt.Sprintf("%s, round %d stands apart from its fellows: %s. Read that very one again; Enter lets it stand.", r.Feature.Spot(r.Flute), r.Repeat, d.cell(d.at)))
}

// movedRound is a round that looks as if its flutes were read one tooth on.
type movedRound struct {
	readings []inspect.Reading // moved to where they belong
	by       string
}

// movedOn asks, where a round that a reading makes whole looks like the same edges moved by one tooth, which they are.
func (d *Desk) movedOn(l Line, in inspect.Inspection, k inspect.Key, values []length.Typed, f *Frame) []Effect {
	if d.study != nil || d.recheck || d.doubted == d.at && d.sameAgain(k.Feature, values) || k.Closing || !d.wholeRound(in, k) {
		return nil
	}
	step, _ := d.usualStep(k.Feature)
	if g := d.gaugeReading(k.Feature); g != nil && g.Resolution > 0 {
		step = g.Resolution
	}
	by := in.MovedByOne(k, step)
	if by == 0 {
		return nil
	}
	m := &movedRound{by: l.By}
	n := d.tool().Flutes
	for _, r := range in.Readings {
		if o := r.Key(); samePlace(o, k) && !o.Closing && o.Repeat == k.Repeat {
			r.Flute = (r.Flute-1+by+n)%n + 1
			m.readings = append(m.readings, r)
		}
	}
	what := "the round before"
	if k.Repeat == 1 {
		what = "the edges at the other place"
	}
	effects := d.refuse("This round looks like %s with the flutes moved by one. Same edges? y takes it as it is; x moves each to flute %s.", what, map[int]string{1: "after it", -1: "before it"}[by])
	d.offer, d.shifted = &offer{of: d.at, values: values, frame: f}, m
	d.mayMean("y", "the same edges", "as it was read")
	d.mayMean("x", "move the flutes", "by one")
	return effects
}

// moveOn keeps a round with its flutes moved.
func (d *Desk) moveOn(m *movedRound) []Effect {
	var effects []Effect
	for _, r := range m.readings {
		effects = append(effects, Keep{What: Read, Reading: &r, At: d.now, By: m.by})
	}
	d.tell("taken: the round, its flutes moved by one")
	return append(effects, Ring{})
}
