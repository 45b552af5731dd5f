package page

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/draw"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
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
	Practice   bool
	Waits      bool   // Enter reads the gauge, or goes on after it was seen to
	Mine       bool   // the viewer's device has it in hand; another's looks on
	Typed      string // was refused last, as it was typed
	Everything []desk.Row
	HolderSays string           // who has it in hand, where it is not the viewer's device
	Decided    inspect.Key      // of a closed inspection: the run-out that decided
	Elsewhere  []gaugeElsewhere // gauges that are there and do not serve this inspection
}

// gaugeElsewhere is such a gauge, with the inspection that it serves, "" for none.
type gaugeElsewhere struct{ Name, Serves string }

// view returns what there is to see of an inspection, and the number of what happened last; false when it is not
// in hand.
func (h *hub) view(id string) (v view, said []line, seq uint64, ok bool) {
	h.mu.Lock()
	n, seq := h.hands[id], h.seq
	typed := ""
	if n != nil {
		said, typed = slices.Clone(n.said), n.typed
	}
	h.mu.Unlock()
	if n == nil {
		return view{}, nil, seq, false
	}
	v = view{Prompt: n.Prompt(), Unit: h.unit, Everything: n.Rows()}
	v.Inspection, v.Question, v.Asked = n.Inspection()
	v.Waits = v.Gauge != "" && (v.Enters || len(v.Trouble) > 0)
	if v.Refused != "" {
		v.Typed = typed
	}
	if wired := h.wired(); len(n.set.Open) < len(wired) {
		for _, name := range wired {
			if !n.has(name) {
				v.Elsewhere = append(v.Elsewhere, gaugeElsewhere{name, h.serves(name)})
			}
		}
	}
	return v, said, seq, true
}

// reads says whether a reading is asked.
func (v view) reads() bool { return v.Asked && v.Question.Sight == "" && !v.Question.Ground }

// readOf is how much was read of what the stage requires.
type readOf struct{ Read, Of int }

// Counted is the count that the board and the card have of it.
func (v view) Counted() readOf {
	read, of := desk.Counted(v.Inspection)
	return readOf{read, of}
}

// AllRead says whether nothing more is asked, and all that the stage requires is read.
func (v view) AllRead() bool {
	n := v.Counted()
	return !v.Asked && n.Read == n.Of
}

// AsksGauge says whether what is asked comes from a gauge with a line, and the screen changes without anything being typed.
func (v view) AsksGauge() bool { return v.reads() && v.Gauge != "" }

// What names what is asked: the feature, and the round where there are several.
func (v view) What() string {
	if !v.reads() {
		return capital(strings.ToLower(v.Title))
	}
	k := v.Question.Key
	name := capital(k.Feature.Name())
	switch {
	case k.Closing:
		return name + ", once more"
	case k.Repeat > 1:
		return fmt.Sprintf("%s, round %d", name, k.Repeat)
	}
	return name
}

// Numeral is what the numeral counts: flutes, end teeth, places on the shank.
func (v view) Numeral() string {
	switch f := v.Question.Key.Feature; {
	case f == inspect.ShankRunout:
		return "Place"
	case f.OnEnds():
		return "Tooth"
	}
	return "Flute"
}

// Limit is what the figure that is read for must keep to, with what the figure is called.
func (v view) Limit() (limit struct{ Name, Value string }) {
	f := v.Question.Key.Feature
	if !v.reads() {
		return limit
	}
	of := f
	switch f {
	case inspect.Land:
		of = inspect.PrimaryLand
	case inspect.EndLand:
		of = inspect.EndPrimaryLand
	}
	limits := v.Inspection.Basis.Limits.Of(of)
	limit.Name = capital(words.Figure(of))
	if f.Heights() && !f.Single() {
		limit.Name = "TIR"
	}
	if of == inspect.PrimaryLand || of == inspect.EndPrimaryLand {
		l := v.Inspection.Basis.Limits
		limit.Name, limit.Value = "Share", fmt.Sprintf("%.2f to %.2f of the land", l.LeastShare().Value(), l.MostShare().Value())
	} else if most := limits.MostLength(); most != nil && f.Heights() {
		limit.Value = "at most " + v.figure(*most) + " " + string(v.Unit)
	} else if limits.Set() {
		limit.Value = words.Band(limits.Least, limits.Most, v.Unit)
	} else {
		limit.Name = capital(f.Name())
		limit.Value = "no limit is set"
	}
	return limit
}

// Expected is what is expected, short: to catch a slip, not to be matched.
func (v view) Expected() string {
	if v.Most != nil {
		return "±" + v.figure(*v.Most)
	}
	return v.Expect
}

// figure is a length as short as it stands in the row of teeth.
func (v view) figure(l length.Length) string { return desk.Figure(l, v.Unit, 4) }

// Care is what a hand is told before it goes near the machine, and what else is to be known of the reading.
func (v view) Care() []string {
	all := v.Caution
	if v.Screen == desk.SightsScreen && len(all) > 0 {
		all = all[:len(all)-1] // what locks the tool stands at its button
	}
	for _, note := range v.Notes {
		if note != desk.PracticeNote { // which stands above all of it
			all = append(slices.Clone(all), note)
		}
	}
	return all
}

// Does says what the reading does.
func (v view) Does() string { return words.Does(v.Question.Key.Feature) }

// TIR is the run-out of the round so far, or the share of the land, beside its limit, as a bar of a hundred; false where there
// is nothing to say of it yet.
type soFar struct {
	Name, Value, Limit string
	Part, At           int // of a bar of 300 whose limit stands at 216
	Over               bool
}

// SoFar is what was read so far comes to.
func (v view) SoFar() *soFar {
	k := v.Question.Key
	switch {
	case !v.reads():
		return nil
	case v.Prompt.SoFar != nil && v.Most != nil && *v.Most > 0:
		tir, most := *v.Prompt.SoFar, *v.Most
		return bar("TIR so far", v.figure(tir), v.figure(most), float64(tir)/float64(most), tir > most)
	case k.Feature.Heights() && !k.Feature.Single() && v.Most != nil:
		return bar("TIR so far", "–", v.figure(*v.Most), 0, false)
	}
	primary, land := inspect.PrimaryLand, inspect.Land
	if k.Feature.OnEnds() {
		primary, land = inspect.EndPrimaryLand, inspect.EndLand
	}
	if k.Feature != primary && k.Feature != land {
		return nil
	}
	ps, ls := means(v.Inspection, inspect.Key{Feature: primary}), means(v.Inspection, inspect.Key{Feature: land})
	most := v.Inspection.Basis.Limits.MostShare()
	worst, at := inspect.Share{}, 0
	for i := range ps {
		if ps[i] == nil || ls[i] == nil || *ls[i] <= 0 {
			continue
		}
		if share := (inspect.Share{Num: int64(*ps[i]), Den: int64(*ls[i])}); at == 0 || share.Over(worst) {
			worst, at = share, i+1
		}
	}
	if at == 0 {
		return bar("of the land", "–", fmt.Sprintf("%.2f", most.Value()), 0, false)
	}
	return bar("of the land", fmt.Sprintf("%.2f", worst.Value()), fmt.Sprintf("%.2f", most.Value()), worst.Value()/most.Value(), worst.Over(most))
}

// barLimit is where the limit stands in a bar of 298.
const barLimit = 216

func bar(name, value, limit string, of float64, over bool) *soFar {
	return &soFar{name, value, limit, min(int(of*(barLimit-1)), 298), barLimit, over}
}

// tooth is one tooth of the row of teeth, in the order in which they are read.
type tooth struct {
	Number    string
	Text      string
	Name      string // for who does not see it
	Key       string // of its reading
	Now, Read bool
}

// Teeth are the readings of the round that is asked.
func (v view) Teeth() []tooth {
	var all []tooth
	for _, b := range v.Boxes {
		k := b.Of.Key
		if k.Flute == 0 {
			continue
		}
		t := tooth{Number: fmt.Sprint(k.Flute), Text: b.Text, Key: questionKey(b.Of), Now: b.Of == v.Question, Read: b.Text != ""}
		t.Name = fmt.Sprintf("%s %d", strings.ToLower(v.Numeral()), k.Flute)
		if k.Closing {
			t.Name += " once more, to close the round"
		}
		switch {
		case t.Now:
			t.Text = "now"
		case t.Read:
			t.Name += ", read it again"
		case k.Closing:
			t.Text = "close"
		default:
			t.Text = "–"
			t.Name += ", not read yet"
		}
		if v.Crowded() {
			t.Text = strings.TrimPrefix(t.Text, "+")
		}
		all = append(all, t)
	}
	return all
}

// reads says what is drawn as read of each feature.
var reads = map[inspect.Feature]draw.Reads{
	inspect.PrimaryLand: draw.ReadsPrimary, inspect.EndPrimaryLand: draw.ReadsPrimary, inspect.Land: draw.ReadsLand, inspect.EndLand: draw.ReadsLand,
	inspect.WearLand: draw.ReadsWear, inspect.ReliefDrop: draw.ReadsDrop, inspect.EndReliefDrop: draw.ReadsDrop,
	inspect.SecondaryDrop: draw.ReadsSecondaryDrop, inspect.EndSecondaryDrop: draw.ReadsSecondaryDrop, inspect.Diameter: draw.ReadsDiameter,
}

// Picture is the tool as it is held while the reading that is asked is taken.
func (v view) Picture() mark.HTML {
	if !v.reads() {
		return ""
	}
	k, t := v.Question.Key, v.Inspection.Tool
	h := draw.Held{
		End:   draw.End{Diameter: t.Diameter, Angles: t.Angles, LeftCut: t.Cut == inspect.LeftHand, Texts: make([]string, t.Flutes)},
		Reads: reads[k.Feature], Now: k.Flute, OnEnd: k.Feature.OnEnds(),
	}
	if h.Reads == "" {
		h.Reads, h.Turn = draw.ReadsHeight, draw.TurnBackward
	}
	if k.Feature == inspect.ShankRunout {
		h.Angles = nil // it is read at equal steps of a turn
	}
	h.Name = fmt.Sprintf("The end of %s", t.ID)
	if k.Flute > 0 {
		h.Name += fmt.Sprintf(", turned so that %s %d is under what reads it", strings.ToLower(v.Numeral()), k.Flute)
	}
	if h.Turn == draw.TurnBackward {
		h.Name += "; turn it backwards"
	}
	if k.Stated {
		h.FromEnd = k.FromEnd.In(v.Unit)
	}
	h.Links = make([]draw.Link, t.Flutes)
	for _, b := range v.Boxes {
		if f := b.Of.Key.Flute; f > 0 && f <= t.Flutes && !b.Of.Key.Closing {
			h.Texts[f-1] = b.Text
			name := fmt.Sprintf("%d: not read yet", f)
			if b.Text != "" {
				name = fmt.Sprintf("%d, %s: read it again", f, b.Text)
			}
			if v.Mine {
				h.Links[f-1] = draw.Link{Href: link("/readings", v.Inspection.ID) + "#" + rowAnchor(b.Of), Name: name}
			}
		}
	}
	return h.SVG()
}

// rowAnchor is where a reading stands on the page of all readings.
func rowAnchor(q desk.Question) string { return strings.ReplaceAll(questionKey(q), " ", "-") }

// readRow is one line of all readings.
type readRow struct {
	Name   string
	Values []value
	Tail   string
}

// value is one reading of it.
type value struct {
	Text, Key, Anchor, Name string
	Read, Out               bool
}

// AllRows are all readings, each to be read again.
func (v view) AllRows() []readRow {
	var all []readRow
	last := ""
	for _, r := range v.Everything {
		if r.Name != "" {
			last = r.Name
		}
		one := readRow{Name: capital(strings.TrimSpace(last + " " + r.Part)), Tail: r.Tail}
		for i, cell := range r.Cells {
			x := value{Text: cell, Read: cell != "", Out: cell == desk.LeftOutCell}
			if i < len(r.Boxes) && r.Boxes[i] != (desk.Question{}) {
				x.Key, x.Anchor = questionKey(r.Boxes[i]), rowAnchor(r.Boxes[i])
				x.Name = one.Name
				if f := r.Boxes[i].Key.Flute; f > 0 {
					x.Name += fmt.Sprintf(", flute %d", f)
				}
			}
			one.Values = append(one.Values, x)
		}
		all = append(all, one)
	}
	return all
}

// Columns are the numbers over the columns of all readings.
func (v view) Columns() int { return v.Inspection.Tool.Flutes }

// Open is what would stay open if the inspection were closed now.
func (v view) Open() []string { return v.Answer().Open }

// NextAsked is the reading that is asked now, or the first that is not read.
func (v view) NextAsked() string {
	if !v.Asked {
		return ""
	}
	if v.Flute > 0 {
		return fmt.Sprintf("%s %d, %s", strings.ToLower(v.Numeral()), v.Flute, strings.ToLower(v.What()))
	}
	return v.What()
}

// Crowded says whether there are too many teeth for one row of a telephone.
func (v view) Crowded() bool { return v.Inspection.Tool.Flutes > 6 }

// EntryUnit is the unit of a number that is typed without one.
func (v view) EntryUnit() string { return string(v.Inspection.Basis.Unit) }

// Sizes says that what is read is never under nought, so that a telephone shows its pad of digits.
func (v view) Sizes() bool {
	f := v.Question.Key.Feature
	return !f.Heights() && !f.Drop()
}

// LastTaken is what the gauge sent last, as long as the question is of the round that it was sent for.
func (v view) LastTaken() string {
	if n := len(v.Inspection.Readings); n > 0 {
		if r := v.Inspection.Readings[n-1]; r.Feature == v.Question.Key.Feature && r.Gauge == v.GaugeName {
			return r.Text + " " + string(r.Unit)
		}
	}
	return ""
}

// Costs is what closing now comes to that could not be mended afterwards.
func (v view) Costs() string {
	if len(v.Open()) > 0 && v.Inspection.Stage == inspect.After {
		return "as it is: it cannot be released"
	}
	return ""
}

// LooksFor are the sights with their numbers, the grave ones apart.
func (v view) LooksFor(grave bool) []sightAsked {
	var all []sightAsked
	for i, s := range words.SightsAsked() {
		if (s.Sight == inspect.Cracks || s.Sight == inspect.Burn) == grave {
			all = append(all, sightAsked{i + 1, s, s.Sight == inspect.Cracks || s.Sight == inspect.Burn && v.Inspection.Stage != inspect.Before})
		}
	}
	return all
}

// sightAsked is a sight with its number, and whether it locks the tool.
type sightAsked struct {
	Number int
	words.SightAsked
	Locks bool
}

// Brief says where it is looked for.
func (s sightAsked) Brief() string { return words.LooksBrief(s.Sight) }

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

// Invented says whether what is read is, or was, of a practice gauge.
func (v view) Invented() bool {
	return v.Practice || v.Inspection.Practised()
}

// Answer is what was read so far, judged, in words.
func (v view) Answer() words.Answer {
	return words.Of(v.Inspection, inspect.Judge(v.Inspection), v.Unit)
}

// Table is what was read so far.
func (v view) Table() []tableRow { return tableOf(v.Inspection, v.Unit) }

// Drawings are the run-out that is being read, or decided, or was read last, and the lands as far as they are read.
func (v view) Drawings() []mark.HTML {
	return drawings(v.Inspection, v.Question.Key, v.Decided, v.Unit)
}

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

// drawings draws the run-out of the place of k, or else the one that decided or the last one read, and the lands.
func drawings(in inspect.Inspection, k, decided inspect.Key, unit length.Unit) []mark.HTML {
	var runouts, widths []mark.HTML
	asked := k.Feature
	if asked == "" || !asked.Heights() || asked.Single() {
		if k = decided; k.Feature == "" {
			k = lastHeights(in)
		}
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

// decided names the run-out of a judgement that a sheet of the same inspection draws, an empty key for none.
func decided(j inspect.Judgement) inspect.Key {
	r, _, ok := j.DecidedRunout()
	k := inspect.Key{Feature: r.Feature, OnShank: r.OnShank}
	if ok && r.FromEnd != nil {
		k.FromEnd, k.Stated = *r.FromEnd, true
	}
	return k
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
func teeth(in inspect.Inspection, k inspect.Key, unit length.Unit) mark.HTML {
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
	return e.SVG() + mark.HTML(tir)
}

// lands draws the shares of the lands as far as they are read, and the section of the flute that has the largest.
func lands(in inspect.Inspection, primary, land inspect.Feature, unit length.Unit) []mark.HTML {
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
	all := []mark.HTML{shares.SVG()}
	if !primary.OnEnds() {
		all = append(all, papers.Source{Unit: unit}.Section(in, false, shares.Worst, *ps[shares.Worst-1], *ls[shares.Worst-1]).SVG)
	}
	return all
}
