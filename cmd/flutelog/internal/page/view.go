package page

import (
	"fmt"
	"html/template"
	"slices"
	"strings"

	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/draw"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
	"flutelog/inspect/words"
)

// view is what a viewer sees of an inspection in hand.
type view struct {
	desk.Prompt
	Inspection inspect.Inspection
	Unit       length.Unit
	Question   desk.Question
	Asked      bool
	Flutes     []fluteMark // of the round that is being read
	Practice   bool
	Waits      bool // Enter reads the gauge, or goes on after it was seen to
}

// fluteMark is one flute of a round.
type fluteMark struct {
	Flute     int
	Now, Read bool
	Text      string
}

// view returns what there is to see of an inspection, and the number of what happened last; false when it is not
// in hand.
func (h *hub) view(id string) (v view, said []line, seq uint64, ok bool) {
	h.mu.Lock()
	n, seq := h.hands[id], h.seq
	if n != nil {
		said = slices.Clone(n.said)
	}
	h.mu.Unlock()
	if n == nil {
		return view{}, nil, seq, false
	}
	v = view{Prompt: n.Prompt(), Unit: h.unit}
	v.Inspection, v.Question, v.Asked = n.Inspection()
	v.Flutes = v.round()
	v.Waits = v.Gauge != "" && (v.Enters || len(v.Trouble) > 0)
	return v, said, seq, true
}

// round marks the flutes of the round that the question belongs to.
func (v view) round() []fluteMark {
	k := v.Question.Key
	if v.Question.Sight != "" || k.Flute == 0 || k.Closing {
		return nil
	}
	marks := make([]fluteMark, v.Inspection.Tool.Flutes)
	for i := range marks {
		k.Flute = i + 1
		marks[i] = fluteMark{Flute: i + 1, Now: k == v.Question.Key}
		if r := v.find(k); r != nil {
			marks[i].Read, marks[i].Text = true, r.Text
		}
	}
	return marks
}

func (v view) find(k inspect.Key) *inspect.Reading {
	for i, r := range v.Inspection.Readings {
		if r.Key() == k {
			return &v.Inspection.Readings[i]
		}
	}
	return nil
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

// FluteNumbers are the numbers of the tool's flutes.
func (v view) FluteNumbers() []int {
	var ns []int
	for i := range v.Inspection.Tool.Flutes {
		ns = append(ns, i+1)
	}
	return ns
}

// Headline is what the inspection would come to if it were closed now.
func (v view) Headline() string {
	return words.Headline(v.Inspection, inspect.Judge(v.Inspection), v.Unit)
}

// Stands says whether what is asked has an answer already, which Enter keeps.
func (v view) Stands() bool {
	return slices.ContainsFunc(v.Told, func(t desk.Told) bool { return t.Name == "Stands" })
}

// Looks are the sights with their numbers, for the form that answers all of them.
func (v view) Looks() []words.SightAsked { return words.SightsAsked() }

// Practised says whether anything was read with a practice gauge.
func (v view) Practised() bool {
	return v.Inspection.Practised()
}

// Answer is what was read so far, judged, in words.
func (v view) Answer() words.Answer {
	return words.Of(v.Inspection, inspect.Judge(v.Inspection), v.Unit)
}

// Table is what was read so far.
func (v view) Table() []tableRow { return tableOf(v.Inspection, v.Unit) }

// Drawings are the run-out that is being read, or was last, and the lands as far as they are read.
func (v view) Drawings() []template.HTML { return drawings(v.Inspection, v.Question.Key, v.Unit) }

// tableRow is one round of one feature: a cell a flute, or one for the tool.
type tableRow struct {
	Name  string
	Cells []string
}

func tableOf(in inspect.Inspection, unit length.Unit) []tableRow {
	var keys []inspect.Key
	rows := map[inspect.Key]*tableRow{}
	for _, r := range in.Readings {
		k := r.Key()
		k.Flute = 0
		row := rows[k]
		if row == nil {
			n := in.Tool.Flutes
			if r.Feature.Single() {
				n = 1
			}
			row = &tableRow{Name: roundName(k, unit), Cells: make([]string, n)}
			rows[k] = row
			keys = append(keys, k)
		}
		row.Cells[max(r.Flute, 1)-1] = r.Text + " " + string(r.Unit)
	}
	var all []tableRow
	for _, k := range keys {
		all = append(all, *rows[k])
	}
	return all
}

func roundName(k inspect.Key, unit length.Unit) string {
	name := k.Feature.Name()
	if k.Stated {
		name += ", " + k.FromEnd.In(unit) + " from the end"
	}
	switch {
	case k.Closing:
		name += ", to close"
	case k.Repeat > 1:
		name += fmt.Sprintf(", reading %d", k.Repeat)
	}
	return name
}

// drawings draws the run-out of the place of k, or else the last one read, and the lands.
func drawings(in inspect.Inspection, k inspect.Key, unit length.Unit) []template.HTML {
	var runouts, widths []template.HTML
	asked := k.Feature
	if asked == "" || !asked.Heights() || asked.Single() {
		k = lastHeights(in)
	}
	if k.Feature != "" {
		runouts = append(runouts, teeth(in, k, unit))
	}
	for _, pair := range [][2]inspect.Feature{{inspect.PrimaryLand, inspect.Land}, {inspect.EndPrimaryLand, inspect.EndLand}} {
		widths = append(widths, lands(in, pair[0], pair[1], unit)...)
	}
	switch asked { // what is asked stands first
	case inspect.PrimaryLand, inspect.Land, inspect.WearLand, inspect.EndPrimaryLand, inspect.EndLand, inspect.ReliefDrop, inspect.SecondaryDrop:
		return append(widths, runouts...)
	}
	return append(runouts, widths...)
}

// lastHeights returns a reading of the run-out that was read last, an empty key for none.
func lastHeights(in inspect.Inspection) inspect.Key {
	for _, r := range slices.Backward(in.Readings) {
		if r.Feature.Heights() && !r.Feature.Single() {
			return r.Key()
		}
	}
	return inspect.Key{}
}

// means returns the mean of each flute's readings of a feature at a place; nil for a flute not read yet.
func means(in inspect.Inspection, k inspect.Key) []*length.Length {
	flutes := make([][]length.Length, in.Tool.Flutes)
	for _, r := range in.Readings {
		if o := r.Key(); o.Feature == k.Feature && o.Stated == k.Stated && o.FromEnd == k.FromEnd && !o.Closing {
			flutes[r.Flute-1] = append(flutes[r.Flute-1], r.Value)
		}
	}
	ms := make([]*length.Length, len(flutes))
	for i, values := range flutes {
		if values != nil {
			m := statistics.MeanLength(values)
			ms[i] = &m
		}
	}
	return ms
}

// teeth is the tool from its end, each flute with what was read of it last.
func teeth(in inspect.Inspection, k inspect.Key, unit length.Unit) template.HTML {
	k.Repeat, k.Closing = 1, false
	e := draw.End{Name: capital(roundName(k, unit)), Diameter: in.Tool.Diameter, Angles: in.Tool.Angles, Limit: in.Basis.Limits[k.Feature].MostLength(), LeftCut: in.Tool.Cut == inspect.LeftHand}
	if k.Feature == inspect.ShankRunout {
		e.Angles = nil // the shank is read at equal steps of a turn
	}
	for _, h := range means(in, k) {
		text := ""
		if h != nil {
			text = h.Format(unit, unit.Decimals())
			if !unit.Metric() {
				text = strings.Replace(text, "0.", ".", 1)
			}
			e.Heights = append(e.Heights, *h)
		}
		e.Texts = append(e.Texts, text)
	}
	tir := ""
	if len(e.Heights) > 1 {
		tir = "TIR " + (slices.Max(e.Heights) - slices.Min(e.Heights)).In(unit)
		if e.Limit != nil {
			tir += ", at most " + e.Limit.In(unit)
		}
		tir = "<figcaption>" + tir + "</figcaption>"
	}
	if len(e.Heights) < len(e.Texts) {
		e.Heights = nil // some are not read yet
	}
	return e.SVG() + template.HTML(tir)
}

// lands draws the shares of the lands as far as they are read, and the section of the flute that has the largest.
func lands(in inspect.Inspection, primary, land inspect.Feature, unit length.Unit) []template.HTML {
	ps, ls := means(in, inspect.Key{Feature: primary}), means(in, inspect.Key{Feature: land})
	least, most := in.Basis.Limits.Target()
	shares := draw.Shares{Name: "Lands of the flutes, the primary as a share of each", Values: make([]*float64, len(ps)), Most: in.Basis.Limits.MostShare().Value(), AimLeast: least.Value(), AimMost: most.Value()}
	if primary.OnEnds() {
		shares.Name = "Lands of the end teeth, the primary as a share of each"
	}
	for i := range ps {
		if ps[i] == nil || ls[i] == nil || *ps[i] > *ls[i] {
			continue
		}
		v := geometry.Ratio{Primary: *ps[i], Land: *ls[i]}.Value()
		shares.Values[i] = &v
		if shares.Worst == 0 || v > *shares.Values[shares.Worst-1] {
			shares.Worst = i + 1
		}
	}
	if shares.Worst == 0 {
		return nil
	}
	all := []template.HTML{shares.SVG()}
	if !primary.OnEnds() {
		all = append(all, papers.Source{Unit: unit}.Section(in, false, shares.Worst, *ps[shares.Worst-1], *ls[shares.Worst-1]).SVG)
	}
	return all
}
