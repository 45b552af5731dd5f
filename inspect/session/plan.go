package session

import (
	"fmt"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Plan says what an inspection asks for.
type Plan struct {
	Features []inspect.Feature `json:"features"`
	Sights   bool              `json:"sights"`              // begin with what is looked for by eye
	Repeats  int               `json:"repeats"`             // of run-outs, drops and diameters at release; widths are read once
	FromEnds []length.Length   `json:"from_ends,omitempty"` // where radial run-out is read; none is one unstated place
	Backward bool              `json:"backward,omitempty"`  // the tool is turned backwards: flute 1 is followed by the last
}

// Limits of a plan.
const (
	mostRepeats  = 20
	mostFromEnds = 5
)

// Check returns what is wrong with the plan for the tool, or nil.
func (p Plan) Check(t inspect.Tool) error {
	if p.Repeats < 1 || p.Repeats > mostRepeats {
		return fmt.Errorf("%d repeats: want 1 to %d", p.Repeats, mostRepeats)
	}
	if len(p.FromEnds) > mostFromEnds {
		return fmt.Errorf("%d distances from the end: want at most %d", len(p.FromEnds), mostFromEnds)
	}
	for i, d := range p.FromEnds {
		if d < 0 || slices.Contains(p.FromEnds[:i], d) {
			return fmt.Errorf("distance %s from the end: want different ones from zero up", d)
		}
	}
	for _, f := range p.Features {
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

// DefaultPlan returns what is asked at a stage where neither the bench file nor the person says: run-out,
// wear and lands before; lands between; all that release rests on after, run-outs three times over so that
// the repeatability shows. What a tool's ends or teeth do not allow is left out.
func DefaultPlan(t inspect.Tool, stage inspect.Stage) Plan {
	p := Plan{Repeats: 1, Sights: stage != inspect.Between}
	switch stage {
	case inspect.Before:
		p.Features = []inspect.Feature{inspect.RadialRunout, inspect.WearLand, inspect.PrimaryLand, inspect.Land, inspect.EndPrimaryLand, inspect.EndLand, inspect.Diameter}
	case inspect.Between:
		p.Features = []inspect.Feature{inspect.PrimaryLand, inspect.Land, inspect.EndPrimaryLand, inspect.EndLand}
	case inspect.After:
		p.Repeats = 3
		p.Features = []inspect.Feature{inspect.RadialRunout, inspect.PrimaryLand, inspect.Land, inspect.ReliefDrop, inspect.AxialRunout, inspect.EndPrimaryLand, inspect.EndLand, inspect.Diameter}
	}
	p.Features = slices.DeleteFunc(p.Features, func(f inspect.Feature) bool {
		return Plan{Features: []inspect.Feature{f}, Repeats: 1}.Check(t) != nil
	})
	return p
}

// Question is one thing asked of the person at the bench: something to look for, or a reading.
type Question struct {
	Sight inspect.Sight `json:"sight,omitempty"` // what to look for; empty for a reading
	Key   inspect.Key   `json:"key"`             // which reading
}

// Text returns the question in plain words, the flute first.
func (q Question) Text(unit length.Unit) string {
	if q.Sight != "" {
		return "Look: " + q.Sight.Question() + "?"
	}
	text := q.Key.Feature.Name()
	if q.Key.Stated {
		text += ", " + q.Key.FromEnd.In(unit) + " from the end"
	}
	switch {
	case q.Key.Closing:
		text += ", flute 1 once more to close the round"
	case q.Key.Repeat > 1:
		text += fmt.Sprintf(", reading %d", q.Key.Repeat)
	}
	if q.Key.Flute > 0 {
		return fmt.Sprintf("Flute %d: %s", q.Key.Flute, text)
	}
	return text
}

// repeated says whether a plan's repeats apply to a feature: heights, drops and diameters are read again
// and again; widths once.
func repeated(f inspect.Feature) bool {
	switch f {
	case inspect.RadialRunout, inspect.AxialRunout, inspect.ShankRunout, inspect.Master, inspect.Diameter,
		inspect.ReliefDrop, inspect.SecondaryDrop, inspect.EndReliefDrop, inspect.EndSecondaryDrop:
		return true
	}
	return false
}

// partner is the width read on the same flute straight after another, the loupe still on it.
var partner = map[inspect.Feature]inspect.Feature{
	inspect.PrimaryLand:    inspect.Land,
	inspect.EndPrimaryLand: inspect.EndLand,
}

// Questions returns everything the plan asks for, in order: what is looked for, then feature by feature
// and round by round, each run-out closed by reading flute 1 again.
func (p Plan) Questions(t inspect.Tool) []Question {
	var qs []Question
	if p.Sights {
		for _, s := range inspect.Sights {
			qs = append(qs, Question{Sight: s})
		}
	}
	for _, f := range p.Features {
		if p.readWithPartner(f) {
			continue
		}
		places := []inspect.Key{{Feature: f}}
		if f == inspect.RadialRunout && len(p.FromEnds) > 0 {
			places = nil
			for _, d := range p.FromEnds {
				places = append(places, inspect.Key{Feature: f, FromEnd: d, Stated: true})
			}
		}
		for _, place := range places {
			qs = append(qs, p.rounds(t, place)...)
		}
	}
	return qs
}

// readWithPartner says whether f is asked for together with the primary width it is the whole of.
func (p Plan) readWithPartner(f inspect.Feature) bool {
	for first, second := range partner {
		if f == second && slices.Contains(p.Features, first) {
			return true
		}
	}
	return false
}

// rounds returns the questions of one feature at one place.
func (p Plan) rounds(t inspect.Tool, place inspect.Key) []Question {
	repeats := 1
	if repeated(place.Feature) {
		repeats = p.Repeats
	}
	var qs []Question
	for repeat := 1; repeat <= repeats; repeat++ {
		for _, flute := range p.fluteOrder(t, place.Feature) {
			k := place
			k.Flute, k.Repeat = flute, repeat
			qs = append(qs, Question{Key: k})
			if second, ok := partner[k.Feature]; ok && slices.Contains(p.Features, second) {
				k.Feature = second
				qs = append(qs, Question{Key: k})
			}
		}
	}
	if place.Feature.Heights() && !place.Feature.Single() {
		k := place
		k.Flute, k.Closing = 1, true
		qs = append(qs, Question{Key: k})
	}
	return qs
}

// fluteOrder returns the flutes in the order they come under the contact. Flutes are numbered in the order
// they cut; a tool turned backwards shows them the other way round.
func (p Plan) fluteOrder(t inspect.Tool, f inspect.Feature) []int {
	if f.Single() {
		return []int{0}
	}
	order := make([]int, t.Flutes)
	for i := range order {
		order[i] = i + 1
		if p.Backward && i > 0 {
			order[i] = t.Flutes - i + 1
		}
	}
	return order
}
