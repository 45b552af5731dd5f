package desk

import (
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// A Row is one line of the table of all readings.
type Row struct {
	Number int        `json:"number"`
	Name   string     `json:"name"`
	Part   string     `json:"part,omitempty"` // round 1, 1 again
	Cells  []string   `json:"cells"`          // one a flute, in the order of their numbers; one where it is not read flute by flute
	Tail   string     `json:"tail,omitempty"` // what they come to
	Boxes  []Question `json:"-"`              // behind the cells
}

// Rows returns everything that was asked, as it stands, each line with its number.
func (d *Desk) Rows() []Row {
	var rows []Row
	if d.study != nil {
		for _, g := range d.groups() {
			r := Row{Number: g.round, Name: "round " + strconv.Itoa(g.round), Boxes: g.boxes}
			for _, q := range g.boxes {
				r.Cells = append(r.Cells, d.cell(q))
			}
			rows = append(rows, r)
		}
		return rows
	}
	add := func(r Row) {
		r.Number = len(rows) + 1
		rows = append(rows, r)
	}
	named := map[string]bool{}
	widths := map[inspect.Key]int{}
	for _, g := range d.groups() {
		switch first := g.boxes[0]; {
		case g.ground:
		case g.sights:
			r := Row{Name: "sights", Cells: []string{d.seenWords()}, Boxes: []Question{first}}
			add(r)
		case width(first.Key.Feature):
			for _, q := range g.boxes {
				of := q.Key
				of.Flute = 0
				i, ok := widths[of]
				if !ok {
					r := Row{Name: d.placed(q.Key), Cells: make([]string, d.tool().Flutes), Boxes: make([]Question, d.tool().Flutes)}
					if of.Repeat > 1 {
						r.Part = "round " + strconv.Itoa(of.Repeat)
					}
					add(r)
					i = len(rows) - 1
					widths[of] = i
				}
				rows[i].Cells[q.Key.Flute-1], rows[i].Boxes[q.Key.Flute-1] = d.cell(q), q
			}
		default:
			name := d.placed(first.Key)
			r := Row{Cells: make([]string, max(d.tool().Flutes, 1)), Boxes: make([]Question, max(d.tool().Flutes, 1))}
			if first.Key.Feature.Single() {
				r.Cells, r.Boxes = r.Cells[:1], r.Boxes[:1]
			}
			if !named[name] {
				r.Name = name
			}
			named[name] = true
			if g.round > 1 || !g.last {
				r.Part = "round " + strconv.Itoa(g.round)
			}
			for _, q := range g.boxes {
				if !q.Key.Closing {
					r.Cells[max(q.Key.Flute, 1)-1], r.Boxes[max(q.Key.Flute, 1)-1] = d.cell(q), q
				}
			}
			if tir, ok := d.tir(g); ok {
				r.Tail = "TIR " + d.figure(tir, d.decimals(first.Key.Feature))
			}
			if first.Key.Feature.Drop() {
				r.Tail = d.reliefs(g)
			}
			if !first.Key.Closing {
				add(r)
			}
			if last := g.boxes[len(g.boxes)-1]; last.Key.Closing {
				add(Row{Part: "1 again", Cells: []string{d.cell(last)}, Boxes: []Question{last}})
			}
		}
	}
	for i, r := range rows {
		if len(r.Boxes) > 0 && (r.Boxes[0].Key.Feature == inspect.Land || r.Boxes[0].Key.Feature == inspect.EndLand) {
			rows[i].Tail = d.shares(r)
		}
	}
	if d.in.Stage != inspect.Before {
		name, told := "ground with", d.groundWords(d.in.Ground())
		switch unsaid := sameGround(d.in.Ground(), inspect.Ground{}); {
		case unsaid && !sameGround(d.known.Between, inspect.Ground{}):
			told = d.groundWords(d.known.Between) + " (told between)"
		case unsaid:
			name = "how ground" // that it was ground may be told all the same
		}
		add(Row{Name: name, Cells: []string{told}})
	}
	return rows
}

// placed names a feature in the table of all readings with where it was read.
func (d *Desk) placed(k inspect.Key) string {
	name := short(k)
	if k.OnShank {
		name = "on the shank"
	}
	if k.Stated {
		name += " " + d.figure(k.FromEnd, 3)
	}
	return name
}

func (d *Desk) seenWords() string {
	if len(d.in.Seen) == 0 {
		return "not looked yet"
	}
	var seen []string
	for _, s := range d.in.Seen {
		if s.Yes {
			text := strings.ReplaceAll(string(s.Sight), "-", " ")
			if s.Unsure {
				text += "?"
			}
			if s.Length != nil {
				text += " " + d.figure(*s.Length, 3)
			}
			if s.Flute > 0 {
				text += " flute " + strconv.Itoa(s.Flute)
			}
			if s.Note != "" {
				text += " (" + s.Note + ")"
			}
			seen = append(seen, text)
		}
	}
	if seen == nil {
		return "all clear; " + strconv.Itoa(len(d.in.Seen)) + " looked for"
	}
	return strings.Join(seen, "; ")
}

// LeftOutCell stands in a box that was left out.
const LeftOutCell = "left out"

// cell is what stands in a box.
func (d *Desk) cell(q Question) string {
	if r, ok := d.reading(q); ok {
		text := d.figure(r.Value, d.decimals(q.Key.Feature))
		if q.Key.Feature.Heights() && r.Value > 0 {
			text = "+" + text
		}
		return text
	}
	if slices.ContainsFunc(d.skipped, func(k Skipped) bool { return k.Question == q }) {
		return LeftOutCell
	}
	return ""
}

// decimals is how many decimals of the unit in force a feature is shown with: as many as were read.
func (d *Desk) decimals(f inspect.Feature) int {
	n := 3
	if !width(f) {
		n = 4
	}
	for _, r := range d.in.Readings {
		if r.Feature != f || r.Unit != length.In || d.in.Basis.Unit.Metric() {
			continue
		}
		_, fraction, _ := strings.Cut(r.Text, ".")
		n = max(n, min(len(fraction), 6))
	}
	if d.in.Basis.Unit.Metric() {
		return 4
	}
	return n
}

// tir is the span of what a round of heights has so far.
func (d *Desk) tir(g group) (length.Length, bool) {
	var least, most length.Length
	n := 0
	for _, q := range g.boxes {
		r, ok := d.reading(q)
		if !ok || q.Key.Closing || !q.Key.Feature.Heights() || q.Key.Feature.Single() {
			continue
		}
		if n == 0 {
			least, most = r.Value, r.Value
		}
		least, most = min(least, r.Value), max(most, r.Value)
		n++
	}
	return most - least, n > 1
}

// reliefs says which reliefs the drops of a group come to; "" for none.
func (d *Desk) reliefs(g group) string {
	var all []length.Angle
	for _, q := range g.boxes {
		if a := d.in.MeasuredReliefAt(q.Key); a != nil && d.read(q) {
			all = append(all, *a)
		}
	}
	if all == nil {
		return ""
	}
	text := slices.Min(all).Format(1)
	if to := slices.Max(all).Format(1); to != text {
		text += " to " + to
	}
	return text + " deg"
}

// shares says which shares of the land the primaries have, once both are read.
func (d *Desk) shares(land Row) string {
	least, most := 2.0, -1.0
	for _, q := range land.Boxes {
		p := q
		p.Key.Feature = inspect.PrimaryLand
		if q.Key.Feature == inspect.EndLand {
			p.Key.Feature = inspect.EndPrimaryLand
		}
		whole, ok1 := d.reading(q)
		primary, ok2 := d.reading(p)
		if !ok1 || !ok2 || whole.Value == 0 {
			return ""
		}
		share := float64(primary.Value) / float64(whole.Value)
		least, most = min(least, share), max(most, share)
	}
	text := strings.TrimPrefix(strconv.FormatFloat(least, 'f', 2, 64), "0")
	if to := strings.TrimPrefix(strconv.FormatFloat(most, 'f', 2, 64), "0"); to != text {
		text += " to " + to
	}
	return "share " + text
}

// allReadings takes a line where nothing more is asked and all readings are shown: Enter closes, a line's number picks.
func (d *Desk) allReadings(l Line, text string) []Effect {
	if text == "" {
		return []Effect{Close{}}
	}
	if startsNumber(text) {
		return d.pick(l, strings.Fields(text))
	}
	if strings.EqualFold(text, "m") {
		return d.moreRounds()
	}
	if effects, done := d.common(l, text); done {
		return effects
	}
	return d.refuse("Enter closes and judges. A line and flute, as 2 f3, reads that again. m: one round more.")
}

// moreRounds asks for one round more of each run-out that is undecided, as far as rounds can settle it.
func (d *Desk) moreRounds() []Effect {
	var asked []string
	coarse := false
	for _, g := range d.groups() {
		k := g.boxes[0].Key
		if g.sights || g.ground || !g.last || !k.Feature.Heights() || k.Feature.Single() {
			continue
		}
		switch verdict, settles := d.verdict(k); {
		case verdict != inspect.Undecided:
		case settles && g.round < mostRounds:
			d.more[k.Feature] = g.round + 1 - d.plan.Rounds
			asked = append(asked, short(k))
		default:
			coarse = true
		}
	}
	switch {
	case asked == nil && coarse:
		return d.refuse("No number of rounds settles it with this gauge. A finer one may: g reads with another. Enter closes it as it is.")
	case asked == nil || d.stopped().Sight != "":
		return d.refuse("Nothing is undecided that a round more would settle. Enter closes.")
	}
	d.grouped = nil
	d.goOn()
	return d.tell("one round more: %s", strings.Join(asked, ", "))
}

// pick asks one box again, or tells how the tool was ground.
func (d *Desk) pick(l Line, fields []string) []Effect {
	rows := d.Rows()
	n, err := strconv.Atoi(fields[0])
	if err != nil || n < 1 || n > len(rows) {
		return d.refuse("The lines are numbered 1 to %d: its number and the flute, as 2 f3", len(rows))
	}
	row := rows[n-1]
	if row.Boxes == nil {
		return d.tellGround(l, strings.Join(fields[1:], " "))
	}
	if d.stopped().Sight != "" && row.Boxes[0].Sight == "" {
		return d.refuse("Nothing more is read of this tool. Enter closes.")
	}
	flute := 1
	if len(fields) > 1 {
		text := strings.TrimPrefix(strings.ToLower(fields[1]), "f")
		if flute, err = strconv.Atoi(text); err != nil || len(fields) > 2 {
			return d.refuse("Line and flute, as %d f2", n)
		}
	} else if len(row.Boxes) > 1 {
		return d.refuse("Which flute? As %d f2", n)
	}
	if flute < 1 || flute > len(row.Boxes) || row.Boxes[flute-1] == (Question{}) {
		return d.refuse("Line %d has no flute %d. Pick one that it has, as 2 f3", n, flute)
	}
	d.at, d.asked, d.said, d.refused = row.Boxes[flute-1], true, "", ""
	return nil
}

// answeredLine takes a line on the last screen.
func (d *Desk) answeredLine(l Line, text string) []Effect {
	a := d.answer
	lower := strings.ToLower(text)
	if d.state == signing {
		d.state = answered
		if lower == "q" {
			return d.tell("not signed")
		}
		who := d.signer
		d.signer = ""
		return []Effect{Sign{Who: who, PIN: text}}
	}
	switch lower {
	case "":
		switch {
		case a.Sign:
			return d.refuse("Who signs? k leaves it to sign.")
		case a.Next != "":
			return []Effect{Next{a.Next}}
		}
		return []Effect{Leave{}}
	case "q", "k":
		return []Effect{Leave{}}
	case "t":
		d.overlay, d.refused = readings, ""
		return nil
	case "?":
		d.overlay, d.refused = help, ""
		return nil
	case "v":
		return []Effect{Show{Picture}}
	case "p":
		return []Effect{Show{Paper}}
	case "w":
		return []Effect{Show{Route}}
	case "d":
		return []Effect{Show{Detail}}
	}
	if !a.Sign {
		return d.refuse("? shows the keys. q goes.")
	}
	who := text
	if n, err := strconv.Atoi(text); err == nil && n >= 1 && n <= len(a.Signers) {
		who = a.Signers[n-1]
	}
	if len(a.Signers) > 0 && !slices.ContainsFunc(a.Signers, func(s string) bool { return strings.EqualFold(s, who) }) {
		return d.refuse("%s may not sign here: %s may. k leaves it to sign.", text, strings.Join(a.Signers, ", "))
	}
	d.signer, d.state = who, signing
	d.said, d.refused = "", ""
	return nil
}

// signed takes how a signature went.
func (d *Desk) signed(s Signed) []Effect {
	if s.Why != "" {
		return d.refuse("NOT SIGNED: %s", sentence(s.Why))
	}
	d.answer.Sign = false
	d.tell("RELEASED, signed %s", s.Who)
	return []Effect{Ring{}}
}
