package papers

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"flutelog/inspect"
	"flutelog/inspect/draw"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
	"flutelog/inspect/words"
)

// Sheet returns the sheet of a closed inspection as it stands. Where several benches have one of the id it is
// record.ErrAmbiguous.
func (s Source) Sheet(id string) (paper.Sheet, error) {
	found, err := record.Find(s.Ledger, id)
	if err != nil {
		return paper.Sheet{}, err
	}
	t, err := s.tool(found.Tool.ID)
	if err != nil {
		return paper.Sheet{}, err
	}
	return s.sheet(&t, &found), nil
}

func (s Source) sheet(t *tool, in *record.Inspection) paper.Sheet {
	a := words.Of(in.Inspection, in.Judgement, s.Unit)
	r := s.rulingOn(t, in)
	sheet := paper.Sheet{
		Inspection: in.ID, Tool: in.Tool.ID, Ruling: r, Corner: []string{in.Stage.Words()}, Facts: s.facts(t, in),
		Unread: s.unread(a), Figures: s.figures(in, a), FiguresIn: "What decided. " + s.unitWord() + "; uncertainty at 95\u00a0%",
		ReadingsIn: "What was read, flute by flute, as it was read", Sights: s.sights(in),
		Drawings: s.drawings(in), How: s.how(t, in, a), Proof: s.proof(in.Newest), Practice: in.Figures.Practice, Back: s.Back,
		Signed: []paper.Signature{{What: "Inspected", Who: listed(in.Inspector, day(in.Closed))}, {What: "Ruled"}, {What: "Received"}},
	}
	for _, c := range in.Corrections {
		sheet.Corrections = append(sheet.Corrections, Correction(c.Correction, s.Unit))
	}
	if in.Job != "" {
		sheet.Corner = append(sheet.Corner, "job "+in.Job)
	}
	if len(sheet.Unread) == 0 {
		sheet.AllRead = "Everything that this bench requires was read and looked at."
	}
	if !in.Judgement.Releases() {
		sheet.Answer = s.tidy(strings.TrimSuffix(a.Headline, words.NotReleased))
	}
	decides := t.deciding()
	if decides != nil && decides.Record.Ref() == in.Record.Ref() && t.Standing != record.StandsWithdrawn && t.Standing != record.StandsRetired && !r.Usable() && in.Judgement.Outcome() != inspect.Clear {
		for _, step := range a.Steps {
			sheet.Work = append(sheet.Work, s.tidy(step))
		}
	}
	if sheet.Answer != "" && !r.Usable() && decides != nil && decides.Record.Ref() == in.Record.Ref() {
		switch t.Standing { // the answer says why
		case record.StandsToGrind, record.StandsToInspect, record.StandsToSign, record.StandsReceived:
			sheet.Ruling.Under = "read by " + listed(in.Inspector, moment(in.Closed))
		case record.StandsRecalled:
			sheet.Ruling.Under = "get the tool back, wherever it is"
		}
	}
	if x := in.Ruling(); x != nil {
		sheet.Signed[1].Who = x.By + ", " + day(x.At)
		if t.Standing == record.StandsRecalled {
			sheet.Signed[1].Who += "; recalled since"
		}
	}
	if in.Judgement.ToGrinder() && len(sheet.Work) > 0 {
		sheet.Cautions = []string{grinding}
	}
	s.readings(in, &sheet)
	if svg, _, err := draw.Symbol(shortHead(in.Newest), 0.5, 24); err == nil {
		sheet.Symbol = svg
	}
	return sheet
}

// grinding is what is told wherever a paper sends someone to the grinder.
const grinding = "Not over the speed marked on the wheel. Guard on. The wheel must push the tooth onto its rest. Eyes covered, dust and mist drawn off, no gloves, no loose sleeve."

// unread is what was not read or not looked at; what cannot be decided stands among the figures.
func (s Source) unread(a words.Answer) []string {
	var all []string
	for _, line := range a.Open {
		if !slices.ContainsFunc(a.Findings, func(f words.Finding) bool { return f.Reason == line }) {
			all = append(all, sentence(s.tidy(line)))
		}
	}
	if a.NotAsked != "" {
		all = append(all, "Not read at this bench: "+a.NotAsked+".")
	}
	return all
}

// name names a finding's figure and its place, in the unit of the sheet.
func (s Source) name(f inspect.Finding) string {
	name := words.Figure(f.Feature)
	if f.FromEnd != nil {
		name += " at " + s.distance(*f.FromEnd)
	}
	return name
}

func (s Source) facts(t *tool, in *record.Inspection) []paper.Fact {
	facts := []paper.Fact{{Name: "Tool", Value: s.Full(in.Tool)}}
	add := func(name, value string) {
		if value != "" {
			facts = append(facts, paper.Fact{Name: name, Value: value})
		}
	}
	d := value(in, inspect.Diameter)
	if d != nil {
		add("Diameter", s.size(*d)+" "+string(s.Unit))
		add("Radius offset", s.size(*d/2)+" "+string(s.Unit))
	}
	add("Since it was last out", s.change(t, in, d, value(in, inspect.Length)))
	if least := s.smallest(t, in); least != nil {
		add("Smallest useful", s.size(*least)+" "+string(s.Unit))
	}
	if p := in.Judgement.Plan; p != nil && p.RegrindsLeft != nil {
		add("Regrinds left", strconv.Itoa(*p.RegrindsLeft))
	}
	return facts
}

// figures are the findings, the gravest first.
func (s Source) figures(in *record.Inspection, a words.Answer) []paper.Figure {
	order := []inspect.Verdict{inspect.Reject, inspect.Undecided, inspect.NotJudged, inspect.Accept}
	var all []paper.Figure
	for _, v := range order {
		for i, f := range in.Judgement.Findings {
			if f.Verdict != v {
				continue
			}
			w := a.Findings[i]
			one := paper.Figure{
				Mark: mark.Verdict(v), Verdict: w.Verdict, Name: s.name(f), Value: s.figure(f.Value), Limit: s.bare(w.Limit), Why: s.tidy(w.Why),
				Corrected: slices.ContainsFunc(in.Corrections, func(c record.Corrected) bool { return c.Reading != nil && c.Reading.Feature == f.Feature }),
			}
			if f.Flute > 0 {
				one.Name += fmt.Sprintf(", flute %d", f.Flute)
			}
			if f.Uncertainty != nil {
				one.Uncertainty = s.figure(f.Uncertainty)
			}
			all = append(all, one)
		}
	}
	return all
}

// readings sets every reading flute by flute, the rounds of a feature at a place under each other; of a feature that is
// read once on the tool the rounds stand beside each other.
func (s Source) readings(in *record.Inspection, sheet *paper.Sheet) {
	for i := range in.Tool.Flutes {
		sheet.Flutes = append(sheet.Flutes, strconv.Itoa(i+1))
	}
	type place struct {
		key    inspect.Key // without flute and round
		rounds []*paper.Round
		by     map[inspect.Key]*paper.Round
	}
	var places []*place
	for _, r := range in.Readings {
		k := r.Key()
		at, round := k, k
		at.Flute, at.Repeat, at.Closing = 0, 0, false
		round.Flute = 0
		if r.Feature.Single() {
			round = at
		}
		i := slices.IndexFunc(places, func(p *place) bool { return p.key == at })
		if i < 0 {
			i = len(places)
			places = append(places, &place{key: at, by: map[inspect.Key]*paper.Round{}})
		}
		row := places[i].by[round]
		if row == nil {
			later := len(places[i].rounds) > 0
			row = &paper.Round{Name: s.round(round, later), Again: later}
			places[i].rounds, places[i].by[round] = append(places[i].rounds, row), row
		}
		cell := paper.Cell{Text: s.asRead(r, in.Tool.Flutes > 6), Corrected: slices.ContainsFunc(in.Corrections, func(c record.Corrected) bool { return c.Reading != nil && c.Reading.Key() == k })}
		if r.Feature.Single() {
			if last := places[i].rounds[len(places[i].rounds)-1]; len(last.Cells) < max(in.Tool.Flutes, 4) {
				row = last
			} else {
				row = &paper.Round{Name: fmt.Sprintf("from round %d", k.Repeat), Again: true}
				places[i].rounds = append(places[i].rounds, row)
			}
			row.Cells = append(row.Cells, cell)
			continue
		}
		for len(row.Cells) < in.Tool.Flutes {
			row.Cells = append(row.Cells, paper.Cell{})
		}
		row.Cells[min(max(k.Flute, 1), in.Tool.Flutes)-1] = cell
	}
	for _, p := range places {
		for _, row := range p.rounds {
			sheet.Readings = append(sheet.Readings, *row)
		}
	}
}

// round names a round of readings; of a later one the place is not said again.
func (s Source) round(k inspect.Key, later bool) string {
	name := k.Feature.Name()
	if k.Stated {
		name += " at " + s.distance(k.FromEnd)
	}
	if k.OnShank {
		name += ", seated on the shank"
	}
	switch {
	case k.Closing:
		return "flute 1 again"
	case later:
		return fmt.Sprintf("round %d", k.Repeat)
	}
	return name
}

// asRead prints a reading in the gauge's own digits where they are in the unit of the sheet; tight leaves the nought
// before the point out.
func (s Source) asRead(r inspect.Reading, tight bool) string {
	text := r.Text
	plain := strings.IndexFunc(text, func(c rune) bool { return !strings.ContainsRune("+-.0123456789", c) }) < 0
	if r.Unit != s.Unit || text == "" || !plain {
		text = s.size(r.Value)
	}
	text = strings.Replace(text, "-", "\u2212", 1)
	if tight && !s.Unit.Metric() {
		text = strings.Replace(text, "0.", ".", 1)
	}
	return text
}

// sights tells what was looked for by eye, what was seen first.
func (s Source) sights(in *record.Inspection) []string {
	var seen, not []string
	for _, x := range in.Seen {
		name := strings.ReplaceAll(string(x.Sight), "-", " ")
		if !x.Yes {
			not = append(not, name)
			continue
		}
		if x.Unsure {
			name = "perhaps " + name
		}
		if x.Flute > 0 {
			name += fmt.Sprintf(" of flute %d", x.Flute)
		}
		if x.Length != nil {
			name += ", " + x.Length.In(s.Unit) + " long"
		}
		if x.Note != "" {
			name += " (" + x.Note + ")"
		}
		seen = append(seen, name)
	}
	var all []string
	if len(seen) > 0 {
		all = append(all, "Seen: "+strings.Join(seen, "; ")+".")
	}
	if len(not) > 0 {
		all = append(all, "Not there: "+strings.Join(not, ", ")+".")
	}
	return all
}

// Correction says in one line what was put right.
func Correction(c record.Correction, unit length.Unit) string {
	what, was, is := Corrected(c, unit)
	return fmt.Sprintf("%s: %s, was %s. %s, %s: %s", what, is, was, c.By, day(c.At), c.Why)
}

// Corrected says what was put right, what stood before and what stands now.
func Corrected(c record.Correction, unit length.Unit) (what, was, is string) {
	was = "not answered"
	if c.Seen == nil {
		if c.Was != nil {
			was = c.Was.Value.In(unit)
		}
		return c.Reading.Key().Words(unit), was, c.Reading.Value.In(unit)
	}
	if c.WasSeen != nil {
		was = words.Answered(*c.WasSeen, unit)
	}
	return c.What(), was, words.Answered(*c.Seen, unit)
}

// how tells who read it with what, how it was ground, and what it was judged by.
func (s Source) how(t *tool, in *record.Inspection, a words.Answer) []string {
	text := listed(in.Inspector, over(in.Opened, in.Closed)+clock(in.Record)) + "."
	if in.Holding != "" {
		text += " Held in the " + string(in.Holding)
		if in.Reseated {
			text += ", reseated between the rounds"
		}
		text += "."
	}
	if with := strings.Join(s.gauges(in), "; "); with != "" {
		text += " " + with + "."
	}
	all := []string{text}
	if g := s.ground(t, in); g != "" {
		all = append(all, g)
	}
	all = append(all, "Limits: "+listed(strings.Join(sources(in.Basis.Limits), "; "), "revision "+in.Basis.Revision)+".")
	if by := ruledBy(in.Judgement); by != "" {
		all = append(all, by+".")
	}
	for i, r := range in.Rulings {
		recalled := ""
		if t.Standing == record.StandsRecalled && i == len(in.Rulings)-1 {
			recalled = "; recalled since"
		}
		all = append(all, fmt.Sprintf("Ruled: %s by %s, %s%s%s.", ruled[r.Word], r.By, moment(r.At), prefixed(": ", r.Why), recalled))
	}
	for _, n := range append(slices.Clone(a.Causes), a.Notes...) {
		all = append(all, sentence(s.tidy(n)))
	}
	return all
}

var ruled = map[record.Word]string{record.Release: "signed for use", record.Concession: "conceded", record.Withdraw: "withdrawn"}

func prefixed(before, text string) string {
	if text == "" {
		return ""
	}
	return before + text
}

// ground tells wheel, rest and divisions, from the inspection and from what was recorded of the grind.
func (s Source) ground(t *tool, in *record.Inspection) string {
	var parts []string
	if in.Wheel != "" {
		parts = append(parts, "wheel "+in.Wheel)
	}
	if fed := inspect.Fed(in.Divisions, in.EndsFed); fed != "" {
		parts = append(parts, fed)
	}
	if in.Offset != nil {
		parts = append(parts, "rest "+in.Offset.In(s.Unit)+" under the centre")
	}
	if in.Stage != inspect.Before {
		for _, g := range slices.Backward(t.Grounds) {
			if g.At > in.Closed {
				continue
			}
			if fed := inspect.Fed(g.Divisions, g.EndsFed); in.Divisions+in.EndsFed == 0 && fed != "" {
				parts = append(parts, fed)
			}
			if in.Wheel == "" && g.Wheel != "" {
				parts = append(parts, "wheel "+g.Wheel)
			}
			if len(g.Order) > 0 {
				parts = append(parts, "flutes in the order "+strings.Trim(fmt.Sprint(g.Order), "[]"))
			}
			if g.LastRound != "" {
				parts = append(parts, "last round "+g.LastRound)
			}
			if g.By != "" {
				parts = append(parts, "by "+g.By)
			}
			break
		}
	}
	if parts == nil {
		return ""
	}
	return "Ground: " + strings.Join(parts, ", ") + "."
}

// gauges are those that were read with, and how far they can be trusted.
func (s Source) gauges(in *record.Inspection) []string {
	var names []string
	for _, r := range in.Readings {
		names = append(names, r.Gauge)
	}
	slices.Sort(names)
	var all []string
	for _, name := range slices.Compact(names) {
		all = append(all, s.gauge(in, name))
	}
	return all
}

func (s Source) gauge(in *record.Inspection, name string) string {
	if name == "" {
		return "A gauge that was not stated"
	}
	g := in.Basis.Gauges[name]
	text := strings.TrimSuffix(sentence(name), ".")
	if g.Serial != "" {
		text += " no. " + g.Serial
	}
	if g.Resolution > 0 {
		text += ", step " + s.size(g.Resolution)
	}
	if g.CalibrationDue == "" {
		return text + ", calibration not stated"
	}
	return text + ", calibration due " + day(g.CalibrationDue+"T00:00:00Z")
}

// ruledBy says by which rule each figure was judged: a release rests on no more than that.
func ruledBy(j inspect.Judgement) string {
	by := map[statistics.Rule][]string{}
	for _, f := range j.Findings {
		name := words.Figure(f.Feature)
		if judged(f) && f.Rule != "" && !slices.Contains(by[f.Rule], name) {
			by[f.Rule] = append(by[f.Rule], name)
		}
	}
	var all []string
	if names := by[statistics.Guarded]; names != nil {
		all = append(all, "by the guarded rule, at most 5\u00a0% risk of deciding wrongly: "+strings.Join(names, ", "))
	}
	if names := by[statistics.Simple]; names != nil {
		all = append(all, "by the simple rule, the figure against its limit: "+strings.Join(names, ", "))
	}
	text := strings.Join(all, "; ")
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// judged says whether a figure was held against a limit that counts.
func judged(f inspect.Finding) bool {
	return f.Value != nil && !f.Advice && (f.Least != nil || f.Most != nil) && f.Verdict != inspect.NotJudged
}

// sources are where the limits in force come from.
func sources(l inspect.Limits) []string {
	var all []string
	for _, limit := range l {
		if limit.Set() && limit.Judged && limit.Source != "" {
			all = append(all, limit.Source)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func divisions(n int) string { return plural(n, "division") }

// sentence makes a clause one.
func sentence(clause string) string {
	r, size := utf8.DecodeRuneInString(clause)
	return string(unicode.ToUpper(r)) + clause[size:] + "."
}
