package desk

import (
	"fmt"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Question is one thing asked of the person at the bench: something to look for, or a reading.
type Question struct {
	Sight  inspect.Sight `json:"sight,omitempty"`  // what to look for; empty for a reading
	Key    inspect.Key   `json:"key"`              // which reading
	Ground bool          `json:"ground,omitempty"` // how the tool was ground
}

// Grind is how a tool was to be ground, for the question how it really was.
type Grind struct {
	inspect.Ground
	What string `json:"what,omitempty"` // was ground, in words: primary of the flutes
}

// Plan says what an inspection asks for.
type Plan struct {
	Features []inspect.Feature       `json:"features"`            // in the order in which they are asked
	Sights   bool                    `json:"sights"`              // begin with what is looked for by eye
	Rounds   int                     `json:"rounds"`              // of run-outs, drops and diameters, at least; widths are read once
	Most     int                     `json:"most,omitempty"`      // rounds of run-out while the verdict needs them; 0 is Rounds
	FromEnds []length.Length         `json:"from_ends,omitempty"` // where radial run-out is read; none is one unstated place
	DropsAt  []length.Length         `json:"drops_at,omitempty"`  // where relief drops are read; none is one unstated place
	Backward bool                    `json:"backward,omitempty"`  // the tool is turned backwards: flute 1 is followed by the last
	Once     []inspect.Feature       `json:"once,omitempty"`      // read in one round whatever Rounds says
	Wanted   map[inspect.Feature]int `json:"wanted,omitempty"`    // rounds of a feature where they are more than Rounds, or of one that is read once
	Ground   *Grind                  `json:"ground,omitempty"`    // ask first how the tool was ground; nil asks nothing
}

// Limits of a plan.
const (
	mostRounds   = 20
	mostFromEnds = 5
)

// Check returns what is wrong with the plan for the tool, or nil.
func (p Plan) Check(t inspect.Tool) error {
	if p.Rounds < 1 || p.Rounds > mostRounds || p.Most > mostRounds {
		return fmt.Errorf("%d rounds: want 1 to %d", max(p.Rounds, p.Most), mostRounds)
	}
	for _, ends := range [][]length.Length{p.FromEnds, p.DropsAt} {
		if len(ends) > mostFromEnds {
			return fmt.Errorf("%d distances from the end: want at most %d", len(ends), mostFromEnds)
		}
		for i, d := range ends {
			if d < 0 || slices.Contains(ends[:i], d) {
				return fmt.Errorf("distance %s from the end: want different ones from zero up", d.In(length.Mm))
			}
		}
	}
	for i, f := range p.Features {
		if slices.Contains(p.Features[:i], f) {
			return fmt.Errorf("%s is asked twice; name it once", f.Name())
		}
		r := inspect.Reading{Feature: f, Repeat: 1, Value: length.Millimetre}
		if !f.Single() {
			r.Flute = 1
		}
		if err := r.Check(t); err != nil {
			return err
		}
	}
	return nil
}

// askedOrder is the order in which features are asked where nobody says: what decides first, then what one setting of
// the loupe shows together.
var askedOrder = []inspect.Feature{
	inspect.RadialRunout, inspect.WearLand, inspect.PrimaryLand, inspect.Land, inspect.ReliefDrop,
	inspect.AxialRunout, inspect.EndPrimaryLand, inspect.EndLand, inspect.Diameter,
}

// mostLooks is how many rounds of a run-out are asked for at the most while the verdict needs them.
const mostLooks = 10

// DefaultPlan returns what is asked at a stage where neither the bench file nor the person says: what the stage requires of
// the tool, r being what the earlier inspections of its regrind left to it. After the grind run-outs are read in two
// rounds, so that the repeatability shows, and in more while the verdict needs them.
func DefaultPlan(t inspect.Tool, stage inspect.Stage, r *inspect.Regrind) Plan {
	p := Plan{Rounds: 1, Most: mostLooks, Sights: stage != inspect.Between}
	if stage == inspect.After {
		p.Rounds = 2
	}
	required := inspect.DefaultRequired(t, stage, r)
	for _, f := range askedOrder {
		alone := t.Flutes == 1 && (f == inspect.RadialRunout || f == inspect.AxialRunout)
		if slices.Contains(required, inspect.Item(f)) && !alone && (Plan{Features: []inspect.Feature{f}, Rounds: 1}).Check(t) == nil {
			p.Features = append(p.Features, f)
		}
	}
	if r != nil && r.Burn && stage == inspect.Between {
		p.Sights = true
	}
	p.Once = Once
	return p
}

// Once are the features that are read once: in one round, of however many the run-outs have.
var Once = []inspect.Feature{
	inspect.ReliefDrop, inspect.SecondaryDrop, inspect.EndReliefDrop, inspect.EndSecondaryDrop, inspect.Diameter, inspect.Master, inspect.Length, inspect.Dish,
}

// A group is what is read together: the boxes that one line can fill.
type group struct {
	boxes  []Question
	sights bool
	ground bool
	round  int
	place  int // of radial run-out: which distance from the end
	last   bool
}

// width says whether a feature is a width, which are read together flute by flute.
func width(f inspect.Feature) bool { return f.Width() }

// groups returns everything that is asked, in order, as far as what was read so far tells: a further round is asked for
// only where the verdict needs it.
func (d *Desk) groups() []group {
	if d.grouped != nil {
		return d.grouped
	}
	if d.study != nil {
		d.grouped = d.study.groups()
		return d.grouped
	}
	var all []group
	if d.plan.Ground != nil {
		all = append(all, group{ground: true, boxes: []Question{{Ground: true}}})
	}
	if d.plan.Sights {
		g := group{sights: true}
		for _, s := range inspect.Sights {
			g.boxes = append(g.boxes, Question{Sight: s})
		}
		all = append(all, g)
	}
	fs := d.plan.Features
	for i := 0; i < len(fs); i++ {
		f := fs[i]
		if !width(f) {
			all = append(all, d.rounds(f)...)
			continue
		}
		together := []inspect.Feature{f}
		for i+1 < len(fs) && width(fs[i+1]) && fs[i+1].OnEnds() == f.OnEnds() {
			i++
			together = append(together, fs[i])
		}
		for _, flute := range d.order(f) {
			var g group
			for _, w := range together {
				g.boxes = append(g.boxes, Question{Key: inspect.Key{Feature: w, Flute: flute, Repeat: 1}})
			}
			all = append(all, g)
		}
	}
	d.grouped = d.beside(all)
	return d.grouped
}

// beside adds to what the plan asks for what was read beside it: what is judged stands with the rest of what is shown.
func (d *Desk) beside(all []group) []group {
	asked := map[Question]bool{}
	for _, g := range all {
		for _, q := range g.boxes {
			asked[q] = true
		}
	}
	planned := len(all)
	for _, r := range d.in.Readings {
		q := Question{Key: r.Key()}
		if asked[q] {
			continue
		}
		with := slices.IndexFunc(all[planned:], func(g group) bool { return samePlace(g.boxes[0].Key, q.Key) && g.round == q.Key.Repeat })
		if with < 0 {
			all = append(all, group{round: q.Key.Repeat, last: true})
			with = len(all) - 1 - planned
		}
		all[planned+with].boxes = append(all[planned+with].boxes, q)
	}
	return all
}

// rounds returns the groups of one feature, place by place and round by round.
func (d *Desk) rounds(f inspect.Feature) []group {
	places := []inspect.Key{{Feature: f}}
	ends := map[inspect.Feature][]length.Length{inspect.RadialRunout: d.plan.FromEnds, inspect.ReliefDrop: d.plan.DropsAt}[f]
	switch {
	case f == inspect.ShankRunout && d.onShank:
		places = []inspect.Key{{Feature: inspect.RadialRunout, OnShank: true}}
	case len(ends) > 0:
		places = nil
		for _, from := range ends {
			places = append(places, inspect.Key{Feature: f, FromEnd: from, Stated: true})
		}
	}
	var all []group
	for place, at := range places {
		for round := 1; ; round++ {
			g := group{round: round, place: place}
			for _, flute := range d.order(at.Feature) {
				k := at
				k.Flute, k.Repeat = flute, round
				g.boxes = append(g.boxes, Question{Key: k})
			}
			g.last = !d.another(g)
			if g.last && at.Feature.Heights() && !at.Feature.Single() && d.tool().Flutes > 1 {
				k := at
				k.Flute, k.Closing = 1, true
				g.boxes = append(g.boxes, Question{Key: k})
			}
			all = append(all, g)
			if g.last {
				break
			}
		}
	}
	return all
}

// another says whether a further round is asked for after a group's: while the plan wants more, while one is begun, and then
// while the verdict is undecided. What is not read yet asks for nothing. A round that is begun is read to its end, whatever its first
// readings come to: they are judged with the rest.
func (d *Desk) another(g group) bool {
	first := g.boxes[0].Key
	f := first.Feature
	if g.round < mostRounds && slices.ContainsFunc(d.in.Readings, func(r inspect.Reading) bool { return samePlace(r.Key(), first) && r.Repeat > g.round }) {
		return true
	}
	if first.OnShank {
		return false // one round ties the edges to the shank
	}
	if g.round < d.plan.Wanted[f] {
		return true
	}
	if slices.Contains(d.plan.Once, f) || f == inspect.Length || f == inspect.Dish {
		return false
	}
	if g.round < d.plan.Rounds+d.more[f] {
		return true
	}
	if !f.Heights() || f.Single() || g.round >= d.plan.Most || slices.ContainsFunc(g.boxes, func(q Question) bool { return !d.read(q) }) {
		return false
	}
	verdict, settles := d.verdict(first)
	return verdict == inspect.Undecided && settles
}

// verdict judges one feature at one place by what was read of it so far, and says whether more rounds can settle what is
// undecided.
func (d *Desk) verdict(k inspect.Key) (v inspect.Verdict, settles bool) {
	in := d.in
	in.Readings = slices.DeleteFunc(slices.Clone(in.Readings), func(r inspect.Reading) bool { return r.Feature != k.Feature || r.Closing })
	for _, f := range inspect.Judge(in).Findings {
		if f.Feature == k.Feature && (f.FromEnd != nil) == k.Stated && (f.FromEnd == nil || *f.FromEnd == k.FromEnd) {
			return f.Verdict, f.Why == nil || f.Why.What != inspect.TooCoarse
		}
	}
	return inspect.NotJudged, false
}

// order returns the flutes in the order they come under the contact. Flutes are numbered in the order they cut; a
// tool turned backwards shows them the other way round.
func (d *Desk) order(f inspect.Feature) []int {
	if f.Single() {
		return []int{0}
	}
	order := make([]int, d.tool().Flutes)
	for i := range order {
		order[i] = i + 1
		if d.plan.Backward && i > 0 {
			order[i] = len(order) - i + 1
		}
	}
	return order
}

// questions returns every box of the groups in order.
func (d *Desk) questions() []Question {
	var all []Question
	for _, g := range d.groups() {
		all = append(all, g.boxes...)
	}
	return all
}

// groupOf returns the group that a question belongs to.
func (d *Desk) groupOf(q Question) (group, bool) {
	for _, g := range d.groups() {
		if slices.Contains(g.boxes, q) {
			return g, true
		}
	}
	return group{}, false
}
