package desk

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// Prompt is what a person sees: everything a screen is drawn from, in words, and nothing of how it is drawn.
type Prompt struct {
	Screen  Screen `json:"screen"`
	Tool    string `json:"tool"`
	About   string `json:"about"`
	Stage   string `json:"stage"`
	At, Of  int    `json:"-"` // which feature is asked, of how many
	Title   string `json:"title,omitempty"`
	Held    string `json:"held,omitempty"`
	Flute   int    `json:"flute,omitempty"`
	Ask     string `json:"ask"`
	Waiting string `json:"waiting,omitempty"` // why nothing can be read now

	Told    []Told    `json:"told,omitempty"`
	Table   Table     `json:"table"`
	Notes   []string  `json:"notes,omitempty"`
	Lines   []string  `json:"-"`
	Sights  []string  `json:"-"`
	How     string    `json:"-"` // how what is seen, or how it was ground, is answered
	Rows    []Row     `json:"-"` // of all readings
	Answer  Answer    `json:"-"`
	Trouble []string  `json:"trouble,omitempty"`
	Caution []string  `json:"caution,omitempty"`
	Said    string    `json:"said,omitempty"`
	Refused string    `json:"refused,omitempty"`
	Gauge   string    `json:"gauge,omitempty"`
	Shown   string    `json:"shown,omitempty"` // what a stream shows
	Keys    []KeyHelp `json:"keys"`
	Label   string    `json:"label"`
	Secret  bool      `json:"secret,omitempty"` // what is typed is not shown
	Ticket  string    `json:"ticket"`
	Enters  bool      `json:"enters"`         // a bare Enter does something
	Settled bool      `json:"settled"`        // a bare Enter counts
	Yes     bool      `json:"yes"`            // y takes something
	Last    string    `json:"last,omitempty"` // what Backspace would take back

	// What Told tells of a reading, taken apart for a screen that draws it.
	Where, Expect, Before, Stands string         `json:"-"`
	SoFar, Most                   *length.Length `json:"-"` // the TIR of the round so far, and the most it may be
	Choices                       []Choice       `json:"-"` // what the refused line may have meant
	Wrong                         string         `json:"-"` // the tag of another tool that was scanned
	GaugeName                     string         `json:"-"` // of the gauge that reads what is asked
	GaugeAway, GaugeHeld          bool           `json:"-"` // it is not there; it gives nothing more before it was seen to
	LastSeen                      string         `json:"-"` // what was seen the last time
	Boxes                         []Box          `json:"-"` // of the round that is asked, in the order in which they are read
}

// Box is one reading of a round: what is asked there, and what stands, "" for nothing.
type Box struct {
	Of   Question
	Text string
}

// Choice is something that a refused line may have meant: the line that says so, what it comes to and in which words.
type Choice struct{ Line, Text, Says string }

// PracticeNote stands beside every question that a practice gauge reads.
const PracticeNote = "PRACTICE: nothing read here can be released."

// Screen says which screen it is.
type Screen string

// The screens.
const (
	SightsScreen   Screen = "sights"
	ReadingScreen  Screen = "reading"
	ReadingsScreen Screen = "readings"
	HelpScreen     Screen = "help"
	AnswerScreen   Screen = "answer"
	ClosingScreen  Screen = "closing"
	PlainScreen    Screen = "plain" // Lines as they are
)

// Told is something told beside a question, under its name.
type Told struct{ Name, Text string }

// Table is what was read of what is asked, round by round.
type Table struct {
	Columns []string
	Lines   []TableLine
	Spots   string // what its columns are: flute, tooth, place
	Tails   string // what the tails of its lines are
}

// TableLine is one line of it.
type TableLine struct {
	Name  string
	Cells []string
	Now   int // the cell that is asked, from 1; 0 for none
	Tail  string
}

// KeyHelp is a key or word and what it does.
type KeyHelp struct{ Key, Does string }

// Ticket names what is asked, for a form or a device that answers it.
func (d *Desk) Ticket() string { return d.ticket() }

// Prompt returns what a person sees now.
func (d *Desk) Prompt() Prompt {
	t := d.tool()
	p := Prompt{Tool: t.ID, About: d.known.About, Stage: strings.ToUpper(string(d.in.Stage)), Said: d.said, Refused: d.refused,
		Ticket: d.ticket(), Settled: d.settled(), Yes: d.offer != nil || d.minus != nil, Choices: d.choices, Wrong: d.wrong}
	p.At, p.Of = d.Progress()
	if _, p.Last = d.lastAnswer(); d.hangs() {
		p.Last = "what was typed last, which is not taken"
	}
	if d.wrong != "" {
		p.Trouble = []string{fmt.Sprintf("THAT IS %s. In hand here: %s. Put one down.", d.wrong, t.ID), "Nothing goes on till the right tag is scanned, or y: the tool in hand is " + t.ID + "."}
	}
	switch {
	case d.overlay == help:
		d.helpPrompt(&p)
	case d.overlay == readings:
		d.rowsPrompt(&p)
		p.Keys, p.Label = []KeyHelp{{"Enter", "back to the question"}}, "back"
	case d.state == closing:
		p.Screen, p.Ask, p.Label = ClosingScreen, "Closing. What was read is on disk; one moment.", ""
	case d.state == answered || d.state == signing:
		d.answerPrompt(&p)
	case !d.asked:
		d.rowsPrompt(&p)
	case d.at.Ground:
		d.groundPrompt(&p)
	case d.at.Sight != "":
		d.sightsPrompt(&p)
	default:
		d.readingPrompt(&p)
	}
	return p
}

var everywhere = []KeyHelp{{"Backspace", "take the last back"}, {"t", "all readings"}, {"b", "one back"}, {"s WHY", "leave out"}, {"n TEXT", "note"}, {"?", "help"}, {"q", "stop, all is kept"}}

func (d *Desk) sightsPrompt(p *Prompt) {
	p.Screen, p.Title, p.Label = SightsScreen, "LOOK at the tool with the loupe. What do you see?", ""
	p.Ask = p.Title
	for i, s := range words.SightsAsked() {
		where := s.Where
		if s.Sight == inspect.ChippedCorner && (d.tool().Ends == inspect.BallEnd || d.tool().Ends == inspect.RadiusEnd) {
			where = words.ChippedRound
		}
		p.Sights = append(p.Sights, fmt.Sprintf("%d  %-15s %s", i+1, s.Name, d.likeHere(where)))
	}
	if p.LastSeen = d.known.LastSeen; p.LastSeen != "" {
		p.Told = append(p.Told, Told{"Last time", d.known.LastSeen})
	}
	if d.sightsDealt() {
		p.Told = append(p.Told, Told{"Stands", d.seenWords() + ". Enter keeps it; a new answer replaces it."})
	}
	p.How = d.likeHere("Type what you see, as  5  or  4 .015  or  5 7.  What you do not type goes down as looked for and not seen.")
	p.Caution = append(d.caution([]words.Care{words.CareLoupe}, words.Slots{}), "Crack or burn seen: say so here and stop. The tool is locked at once.")
	if d.in.Stage == inspect.Before {
		p.Caution[len(p.Caution)-1] = "Crack seen: say so here and stop. The tool is locked at once."
	}
	p.Keys = []KeyHelp{{"c", "ALL CLEAR: I looked for crack, burn and the others and saw none"}, {"u N", "unsure"}, {"n TEXT", "note"}, {"b", "back"}, {"?", "help"}, {"q", "stop, all is kept"}}
}

// caution returns what is said of the cares that were not told at this sitting before; the first of all with whom it defers
// to. It stays on the screen of the question that it was told with.
func (d *Desk) caution(cares []words.Care, s words.Slots) []string {
	var lines []string
	tell := func(what, text string) {
		if d.sitting.Cautions[what] && d.shown[what] != d.ticket() {
			return
		}
		d.sitting.Cautions[what], d.shown[what] = true, d.ticket()
		lines = append(lines, text)
	}
	for _, c := range cares {
		tell(string(c), c.Caution(s))
	}
	if lines != nil {
		tell("deference", words.Deference)
	}
	return lines
}

// readingPrompt is the screen of a question for a reading.
func (d *Desk) readingPrompt(p *Prompt) {
	q := d.at
	k := q.Key
	g, _ := d.groupOf(q)
	guide := d.guide(k)
	slots := words.Slots{
		Flute: k.Flute, N: strconv.Itoa(d.tool().Flutes), Turn: guide.Turn, FromEnd: guide.FromEnd, Distance: d.figure(guide.Distance, 3),
	}
	if k.Stated {
		slots.FromEnd = d.figure(k.FromEnd, 3)
	}
	asked := words.Ask(k, d.tool().Flutes, g.place, guide.Slid, slots)
	p.Screen, p.Title, p.Flute, p.Ask = ReadingScreen, asked.Title, k.Flute, asked.Question
	if g.round > 1 || g.round == 1 && !g.last {
		p.Title += ", round " + strconv.Itoa(g.round)
	}
	switch {
	case k.OnShank:
		p.Held = "as held: on the shank"
	case d.in.Holding != "" && !width(k.Feature) && !k.Feature.Single():
		p.Held = "as held: " + string(d.in.Holding)
	}
	p.Told = append(p.Told, Told{asked.Contact, asked.Where})
	p.Where, p.Expect, p.Before = words.Brief(k, d.tool().Flutes, g.place, guide.Slid, slots), guide.Expect, d.lastTime(k, g)
	if k.Feature.Heights() && !k.Feature.Single() {
		p.Most = guide.Most
		if tir, ok := d.tir(g); ok {
			p.SoFar = &tir
		}
	}
	if guide.Expect != "" {
		p.Told = append(p.Told, Told{"Expect", strings.Join(append([]string{guide.Expect + "; it is there to catch a slip, not to be matched."}, guide.Further...), " ")})
	} else if len(guide.Further) > 0 {
		p.Told = append(p.Told, Told{"Note", strings.Join(guide.Further, " ")})
	}
	if p.Before != "" {
		p.Told = append(p.Told, Told{"Last time", p.Before})
	}
	if r, ok := d.reading(q); ok && !d.recheck && d.study == nil {
		p.Stands = r.Text + " " + string(r.Unit)
		p.Told = append(p.Told, Told{"Stands", p.Stands + ". Enter keeps it; a new reading replaces it."})
	}
	p.Notes = d.readingNotes(k, g)
	p.Table = d.table(g, guide)
	p.Boxes = d.boxesOf(g, k.Feature)
	p.Caution = d.caution(asked.Cares, slots)
	p.Keys = append(d.readingKeys(k, guide), everywhere...)
	p.Label = d.label(k)
	if d.study != nil {
		d.studyPrompt(p)
	}
	if gauge := d.gaugeAsked(); gauge != nil {
		d.gaugePrompt(p, gauge)
	}
}

// readingNotes are what is said of a reading beside where and how it is taken.
func (d *Desk) readingNotes(k inspect.Key, g group) []string {
	var notes []string
	if short := d.shortTurn(k); short != "" {
		notes = append(notes, short)
	}
	if g.round == 1 && d.study == nil {
		name := ""
		if g := d.gaugeReading(k.Feature); g != nil {
			name = g.Name
		}
		if limit, least, cannot := d.in.CannotSettle(k.Feature, name); cannot {
			notes = append(notes, words.CannotSettle(limit, least, d.in.Basis.Unit))
		}
	}
	if note := d.suspectNote(); note != "" {
		notes = append(notes, note)
	}
	if order := d.order(k.Feature); d.study == nil && d.plan.Backward && len(order) > 2 && (!d.sitting.Order || d.shown["order"] == string(k.Feature)) {
		d.sitting.Order, d.shown["order"] = true, string(k.Feature)
		notes = append(notes, words.BackwardOrder(spaced(order)))
	}
	switch {
	case d.odd() && d.tool().Flutes == 1:
		notes = append(notes, d.likeHere("One flute: m says that it was read over the master pin, then the size, as  m .4962"))
	case d.odd():
		notes = append(notes, d.likeHere("Odd flutes: v, m or r says how it was read, then the size, as  v .4962"))
	}
	if k.Feature.Drop() {
		notes = append(notes, "A fall is typed without a sign. If the pointer CLIMBS there is no relief: type  up 4  and so on; it is taken, and rejected.")
	}
	return notes
}

// readingKeys are the keys that a reading has beside those of every question.
func (d *Desk) readingKeys(k inspect.Key, guide Guide) []KeyHelp {
	var keys []KeyHelp
	switch {
	case k.Feature == inspect.ShankRunout:
		keys = []KeyHelp{{"o", "take it out, seat it on the shank, read the edges"}}
	case k.OnShank:
		keys = []KeyHelp{{"o", "read the shank as held"}}
	case d.odd() && d.tool().Flutes == 1:
		keys = []KeyHelp{{"m", "over the master"}}
	case d.odd():
		keys = []KeyHelp{{"v", "in the vee"}, {"m", "over the master"}, {"r", "in a ring"}}
	case k.Feature.Drop():
		keys = []KeyHelp{{"d DIST", "other distance"}}
		switch {
		case !onFlutes(k.Feature):
		case guide.Slid:
			keys = append(keys, KeyHelp{"turn", "turn the tool instead"})
		default:
			keys = append(keys, KeyHelp{"slide", "slide the table instead"})
		}
	}
	return keys
}

// gaugePrompt is what the screen of a reading says of the gauge that it is read with.
func (d *Desk) gaugePrompt(p *Prompt, gauge *gauge) {
	p.Gauge, p.GaugeName, p.Shown = gauge.Name, gauge.Name, gauge.shown
	p.GaugeAway = gauge.away && !d.byEye
	p.GaugeHeld = gauge.trouble != nil && gauge.trouble.held()
	if gauge.Resolution > 0 {
		p.Gauge = "step " + d.trimmed(gauge.Resolution) + "    " + gauge.Name
	}
	if gauge.Practice {
		p.Notes = append(p.Notes, PracticeNote)
	}
	if gauge.PastDue > 0 && !d.sitting.Due[gauge.Name] {
		p.Notes = append(p.Notes, fmt.Sprintf("%s is %d days past its calibration. Readings are taken, marked, and said on paper.", gauge.Name, gauge.PastDue))
	}
	if t := gauge.trouble; t != nil && !(d.byEye && t.what == Unplugged) {
		p.Trouble = append(p.Trouble, t.says, "Press: "+t.do+".")
		p.Waiting = map[bool]string{true: "waiting: the gauge is away", false: "waiting: see to the gauge"}[gauge.away]
	}
	for _, other := range d.gauges {
		if t := other.trouble; t != nil && t.what == wrongGauge {
			p.Trouble = append(p.Trouble, t.says, "Press: "+t.do+".")
		}
	}
	switch {
	case gauge.away: // Enter takes nothing of it
	case d.sweepNow(gauge):
		p.Ask = "Sweep, all flutes: set the contact on flute 1, then Enter."
		if d.sweep != nil {
			p.Ask = "Turn, three times round or more, slowly over each edge. Then Enter."
		}
		p.Label, p.Enters = "sweep", true
	case gauge.Mode == Stream:
		p.Keys, p.Enters = append([]KeyHelp{{"Enter", "take what it shows"}}, p.Keys...), true
	case gauge.Mode == Poll:
		p.Keys, p.Enters = append([]KeyHelp{{"Enter", "read the gauge"}}, p.Keys...), true
	}
	p.Keys = append(slices.Clone(p.Keys), KeyHelp{"g", "other gauge"})
}

func spaced(ns []int) string {
	var s []string
	for _, n := range ns {
		s = append(s, strconv.Itoa(n))
	}
	return strings.Join(s, " ")
}

func (d *Desk) label(k inspect.Key) string {
	unit := string(d.in.Basis.Unit)
	if e := d.entry(k.Feature); e.Whole && e.Division > 0 {
		unit = "divisions of " + d.trimmed(e.Division)
	}
	switch {
	case d.study != nil:
		return d.study.named(k) + ", " + unit
	case k.Flute == 0:
		return k.Feature.Name() + ", " + unit
	}
	return k.Feature.Spot(k.Flute) + ", " + unit
}

// lastTime says what was read there in the round before and at the last inspection.
func (d *Desk) lastTime(k inspect.Key, g group) string {
	var times []string
	before := k
	before.Repeat--
	if k.Closing {
		before.Repeat, before.Closing = g.round, false
	}
	if r, ok := d.reading(Question{Key: before}); ok && before.Repeat > 0 {
		times = append(times, fmt.Sprintf("%s (round %d)", d.cell(Question{Key: r.Key()}), before.Repeat))
	}
	if d.known.Last != nil && !k.Closing {
		if text, ok := d.known.Last(k); ok {
			times = append(times, text)
		}
	}
	return strings.Join(times, "    ")
}

// table is what was read so far of the feature that is asked, in the order in which its flutes come.
func (d *Desk) table(g group, guide Guide) Table {
	first := g.boxes[0].Key
	order := d.order(first.Feature)
	var t Table
	if first.Feature.Single() {
		return t
	}
	t.Spots, _, _ = strings.Cut(first.Feature.Spot(1), " ")
	for _, flute := range order {
		t.Columns = append(t.Columns, strconv.Itoa(flute))
	}
	if width(first.Feature) {
		for _, q := range g.boxes {
			line := TableLine{Name: short(q.Key)}
			for i, flute := range order {
				box := q
				box.Key.Flute = flute
				line.Cells = append(line.Cells, d.cell(box))
				if box == d.at {
					line.Now = i + 1
				}
			}
			t.Lines = append(t.Lines, line)
		}
		return t
	}
	if first.Feature.Heights() {
		t.Tails = "TIR so far"
	}
	for _, other := range d.groups() {
		if !samePlace(other.boxes[0].Key, first) || other.round > g.round {
			continue
		}
		line := TableLine{Name: "round " + strconv.Itoa(other.round)}
		if first.Feature.Drop() && other.last && other.round == 1 {
			line.Name = "drop"
		}
		for i, q := range other.boxes {
			line.Cells = append(line.Cells, d.cell(q))
			if q == d.at {
				line.Now = i + 1
			}
			if i == len(t.Columns) { // the round is the last as far as is known
				t.Columns = append(t.Columns, "1 again")
			}
		}
		if tir, ok := d.tir(other); ok {
			line.Tail = d.figure(tir, d.decimals(first.Feature))
		}
		t.Lines = append(t.Lines, line)
	}
	if first.Feature.Drop() {
		line := TableLine{Name: "relief", Tail: guide.Limit}
		for _, q := range g.boxes {
			cell := ""
			if a := d.in.MeasuredReliefAt(q.Key); a != nil {
				cell = a.Format(1)
			}
			line.Cells = append(line.Cells, cell)
		}
		t.Lines = append(t.Lines, line)
	} else if guide.Limit != "" && len(t.Lines) > 0 {
		t.Lines = append(t.Lines, TableLine{Tail: guide.Limit})
	}
	return t
}

// boxesOf are the readings of the round that is asked, in the order in which they are read; of widths, which are read flute by
// flute, those of the one that is asked.
func (d *Desk) boxesOf(g group, f inspect.Feature) []Box {
	var all []Box
	if width(f) {
		for _, flute := range d.order(f) {
			q := d.at
			q.Key.Flute = flute
			all = append(all, Box{q, d.cell(q)})
		}
		return all
	}
	for _, q := range g.boxes {
		all = append(all, Box{q, d.cell(q)})
	}
	return all
}

// short names a feature in a table.
func short(k inspect.Key) string { return words.Short(k.Feature) }

func (d *Desk) rowsPrompt(p *Prompt) {
	p.Screen, p.Title, p.Ask = ReadingsScreen, "all asked is read", "All is read and on disk."
	if done, of := d.Counted(); d.asked {
		p.Title, p.Ask = fmt.Sprintf("%d of %d read so far", done, of), ""
	} else if left := len(slices.DeleteFunc(d.Skipped(), func(k Skipped) bool { return k.Reason == sweptReason })); left > 0 {
		p.Title, p.Ask = "nothing more is asked", fmt.Sprintf("What was read is on disk; %d left out.", left)
	}
	p.Rows = d.Rows()
	p.Notes = []string{"Nothing can be taken back after closing, only corrected with your name to it."}
	for i, k := range d.skipped {
		if i == 2 {
			p.Notes = append(p.Notes, fmt.Sprintf("And %d more left out.", len(d.skipped)-2))
			break
		}
		p.Notes = append(p.Notes, "Left out: "+d.named(k.Question)+" ("+k.Reason+").")
	}
	p.Label, p.Enters = "close", true
	if !d.asked {
		d.openThings(p)
	}
	p.Keys = []KeyHelp{{"Enter", "close and judge"}, {"2 f3", "read line 2, flute 3 again"}, {"m", "a round more"}, {"b", "back"}, {"?", "help"}, {"q", "stop, all is kept"}}
	if seen := d.stopped(); seen.Sight != "" {
		p.Title = "nothing more is read"
		what := strings.ToUpper(words.SightsAsked()[slices.Index(inspect.Sights, seen.Sight)].Name)
		if seen.Unsure {
			what = "PERHAPS A " + what + ", taken as one till one who may sign has looked"
		} else {
			what += " seen"
		}
		p.Trouble = append(p.Trouble, "LOCKED: "+what+". DO NOT GRIND. DO NOT RUN. It was on disk before this was shown.")
		p.Ask = "Nothing more is read of this tool."
		p.Keys = []KeyHelp{{"Enter", "close"}, {"Backspace", "it was a slip: take it back; the lock stays till one who may sign lifts it"}, {"q", "stop, all is kept"}}
	}
}

// mostOpen is how many open things the screen of all readings has room for.
const mostOpen = 3

// openThings says what would stay open if the inspection were closed now, so that it is read first, and marks readings that
// stand far from their fellows.
func (d *Desk) openThings(p *Prompt) {
	if d.study != nil {
		return
	}
	j := inspect.Judge(d.in)
	open := words.Of(d.in, j, d.in.Basis.Unit).Open
	for i, text := range open {
		if i == mostOpen {
			p.Notes = append(p.Notes, fmt.Sprintf("And %d more open.", len(open)-mostOpen))
			break
		}
		p.Notes = append(p.Notes, "Open: "+text+".")
	}
	for _, k := range j.Suspects {
		for _, row := range p.Rows {
			for i, q := range row.Boxes {
				if q.Key == k && row.Cells[i] != "" {
					row.Cells[i] += "?"
				}
			}
		}
	}
	if len(j.Suspects) > 0 {
		p.Notes = append(p.Notes, "? marks a reading far from its fellows: read it again, or let it stand.")
	}
}

func (d *Desk) answerPrompt(p *Prompt) {
	a := d.answer
	p.Screen, p.Answer, p.Caution, p.Title = AnswerScreen, a, a.Caution, a.Headline
	p.Ask = a.Headline
	p.Label, p.Enters = "next", true
	common := []KeyHelp{{"t", "all readings"}, {"v", "picture"}, {"p", "paper"}, {"d", "details"}}
	switch {
	case d.state == signing:
		p.Ask, p.Label, p.Secret = "PIN of "+d.signer+"? Who has none presses Enter.", "PIN", true
		p.Keys = []KeyHelp{{"Enter", "signs"}, {"q", "does not"}}
		return
	case a.Sign:
		p.Ask, p.Label = "Who signs?", "who signs"
		for i, s := range a.Signers {
			p.Ask += fmt.Sprintf("   %d %s", i+1, s)
		}
		if len(a.Signers) == 0 {
			p.Ask += " A name."
		}
		p.Keys = append(common, KeyHelp{"k", "leave it TO SIGN"}, KeyHelp{"q", "go"})
	case a.Next != "":
		p.Keys = append(append([]KeyHelp{{"Enter", a.Doing}, {"w", "whole route"}}, common...), KeyHelp{"q", "go"})
	default:
		p.Keys = append(append([]KeyHelp{{"Enter", "go"}}, common...), KeyHelp{"q", "go"})
	}
}

func (d *Desk) helpPrompt(p *Prompt) {
	p.Screen, p.Title, p.Ask = HelpScreen, "KEYS", "Enter goes back to the question."
	at := *d
	at.overlay = none
	under := at.Prompt()
	p.Told = under.Told
	p.Keys = []KeyHelp{
		{"a number", d.likeHere("the reading; its unit behind it where it is another: 3t, 12.7um, 0.5\", 13/32")},
		{"a row", "several numbers fill the next boxes in the order shown, all or none"},
		{"Enter alone", "never takes a typed reading; keeps an answer that stands; reads a gauge that is asked"},
		{"Backspace", "on an empty line: take the last answer back and read it again"},
		{"b", "one question back; its answer stands until another replaces it"},
		{"t", "all readings so far"},
		{"s WHY", "leave this out, for the reason; s all WHY: the rest of this feature"},
		{"n TEXT", "a note"},
		{"d DIST", "at a drop: another distance behind the edge; slide, turn: how it is read"},
		{"up N", "at a drop: the pointer climbed"},
		{"k, g NAME", "gauge away: read by eye; another gauge"},
		{"T. and a tag", "a scan: the tool in hand goes on, another stops the hand"},
		{"q, Ctrl-C", "stop; what is read is kept and the inspection can be taken up"},
	}
	p.Label = "back"
}
