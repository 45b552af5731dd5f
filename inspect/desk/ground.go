package desk

import (
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// howGround takes a line where it is asked how the tool was ground: Enter takes what stands, a change is shown before it is
// taken.
func (d *Desk) howGround(l Line, text string) []Effect {
	if text == "" {
		if d.told && sameGround(d.ground, d.in.Ground()) {
			d.goOn()
			return d.tell("kept as it was")
		}
		d.tell("taken: ground with %s", d.groundWords(d.ground))
		g := d.ground
		return []Effect{Keep{What: Ground, Ground: &g, At: d.now, By: l.By}, Ring{}}
	}
	if strings.EqualFold(text, "not") {
		not := Keep{What: LeftOut, Question: d.at, Reason: "not ground", By: l.By}
		d.offer = &offer{of: d.at, do: func() []Effect {
			d.tell("not ground; it is read as it is")
			not.At = d.now
			return []Effect{not}
		}}
		defer d.mayMean("q", "not ground yet", "it stays to be ground")
		defer d.mayMean("y", "not ground at all", "it is read as it is")
		return d.refuse("Not ground yet? q stops here, and it stays to be ground. Not to be ground at all? y: it is read %s as it is.", strings.ToUpper(string(d.in.Stage)))
	}
	g, refusal, mine := d.changeGround(d.ground, text)
	switch {
	case refusal != nil:
		return refusal
	case mine:
		d.ground = g
		return d.tell("%s. Enter takes it.", d.groundWords(g))
	}
	if effects, done := d.common(l, text); done {
		return effects
	}
	return d.refuse("Enter: it was ground so. Else what was different, as  2  for 2 divisions, or  order 1 4 3 2. not: it was not ground.")
}

// groundAsked is what Enter takes where nothing was said to be different: what stands, else what is planned.
func (d *Desk) groundAsked() inspect.Ground {
	if d.told || d.plan.Ground == nil {
		return d.in.Ground()
	}
	return d.plan.Ground.Ground
}

func sameGround(a, b inspect.Ground) bool {
	return a.Wheel == b.Wheel && a.Divisions == b.Divisions && a.EndsFed == b.EndsFed && sameOffset(a.Offset, b.Offset) && slices.Equal(a.Order, b.Order) && slices.Equal(a.Last, b.Last)
}

func sameOffset(a, b *length.Length) bool {
	return (a == nil) == (b == nil) && (a == nil || *a == *b)
}

// changeGround puts over how a tool was ground what a line says of it: 2, ends 2, wheel NAME, rest .0431, order 1 4 3 2, last 3 4 1 2.
// mine says that the line was of it at all.
func (d *Desk) changeGround(g inspect.Ground, text string) (changed inspect.Ground, refusal []Effect, mine bool) {
	word, rest, _ := strings.Cut(text, " ")
	rest = strings.TrimSpace(rest)
	switch lower := strings.ToLower(word); {
	case lower == "wheel":
		i := slices.IndexFunc(d.known.Wheels, func(w string) bool { return strings.EqualFold(w, rest) })
		switch {
		case rest == "":
			return g, d.refuse("Which one, as  wheel NAME"), true
		case i >= 0:
			rest = d.known.Wheels[i]
		case len(d.known.Wheels) > 0:
			return g, d.refuse("The bench file lists %s: type one of these, as  wheel NAME", strings.Join(d.known.Wheels, ", ")), true
		}
		g.Wheel = rest
	case lower == "rest" && !d.onRest():
		return g, d.refuse("This grind uses no tooth rest: what the wheel and the indexing were, as  wheel NAME  or  2  divisions."), true
	case lower == "rest":
		t, err := length.Entry{Unit: d.in.Basis.Unit}.Parse(rest)
		if err != nil {
			return g, d.slip(err), true
		}
		if t.Value <= 0 || t.Value >= d.tool().Diameter/2 {
			return g, d.refuse("The rest is set less than half the tool's diameter below its centre. Type it again, as  rest .0431"), true
		}
		g.Offset = &t.Value
	case lower == "order" || lower == "last":
		order, ok := flutesIn(rest, d.tool().Flutes)
		if !ok {
			return g, d.refuse("Each flute once, as they came to the wheel: %s %s", lower, spaced(inOrder(d.tool().Flutes))), true
		}
		if lower == "last" {
			g.Last = order
			break
		}
		if g.Last != nil && !slices.Equal(g.Order, order) {
			g.Last = nil // it followed from the order that it was not
		}
		g.Order = order
	case startsNumber(word), lower == "ends" && d.tool().HasEndTeeth():
		fed := &g.Divisions
		if lower == "ends" {
			fed = &g.EndsFed
			word, rest, _ = strings.Cut(rest, " ")
		}
		n, err := strconv.Atoi(word)
		if err != nil || n < 0 || n > 1000 || rest != "" && !strings.HasPrefix(strings.ToLower(rest), "div") {
			return g, d.refuse("Whole divisions, as  2  or  ends 2. Between two lines: type the nearer, and note it."), true
		}
		*fed = n
	default:
		return g, nil, false
	}
	return g, nil, true
}

// onRest says whether the grind that is told of is one over a tooth rest, set under the tool's centre: that of the flutes' lands. Faces are
// ground by the plate, and ends with the tooth level.
func (d *Desk) onRest() bool {
	if d.plan.Ground == nil || d.plan.Ground.Faces == nil {
		return d.tool().Sharpened != inspect.OnFace
	}
	return slices.ContainsFunc(d.plan.Ground.Faces, func(f inspect.Face) bool { return f.Where == inspect.OnFlutes && f.Do != inspect.DoFace })
}

// flutesIn reads each of n flutes once: 1 4 3 2, or 1432 where each has one digit.
func flutesIn(text string, n int) ([]int, bool) {
	fields := strings.Fields(strings.ReplaceAll(text, ",", " "))
	if len(fields) == 1 && len(fields[0]) == n && n < 10 {
		fields = strings.Split(fields[0], "")
	}
	var order []int
	for _, f := range fields {
		flute, err := strconv.Atoi(f)
		if err != nil || flute < 1 || flute > n || slices.Contains(order, flute) {
			return nil, false
		}
		order = append(order, flute)
	}
	return order, len(order) == n
}

func inOrder(n int) []int {
	order := make([]int, n)
	for i := range order {
		order[i] = i + 1
	}
	return order
}

// tellGround takes at the table of all readings how the tool was ground.
func (d *Desk) tellGround(l Line, text string) []Effect {
	if text == "" {
		rest := ""
		if d.onRest() {
			rest = "rest .0431, "
		}
		return d.refuse("As 2 divisions: the line's number and 2. Else: wheel NAME, "+rest+"order %s, or last and the last round's", spaced(inOrder(d.tool().Flutes)))
	}
	g, refusal, mine := d.changeGround(d.in.Ground(), text)
	switch {
	case refusal != nil:
		return refusal
	case !mine:
		return d.tellGround(l, "")
	}
	d.tell("ground with %s", d.groundWords(g))
	return []Effect{Keep{What: Ground, Ground: &g, At: d.now, By: l.By}}
}

func (d *Desk) groundWords(g inspect.Ground) string {
	var words []string
	if g.Wheel != "" {
		words = append(words, g.Wheel)
	}
	if fed := inspect.Fed(g.Divisions, g.EndsFed); fed != "" {
		words = append(words, fed)
	}
	if g.Offset != nil {
		words = append(words, "rest "+d.figure(*g.Offset, 4))
	}
	if len(g.Order) > 1 {
		words = append(words, "flutes "+spaced(g.Order))
	}
	if len(g.Last) > 1 {
		words = append(words, "last round "+spaced(g.Last))
	}
	if words == nil {
		return "not told"
	}
	return strings.Join(words, ", ")
}

// groundPrompt is the screen of the question how the tool was ground.
func (d *Desk) groundPrompt(p *Prompt) {
	p.Screen, p.Title, p.Ask = ReadingScreen, "HOW WAS IT GROUND?", "As planned? Enter. Else type what was different."
	if what := d.plan.Ground.What; what != "" {
		p.Told = append(p.Told, Told{"Ground", what})
	}
	name := "Planned"
	if !sameGround(d.ground, d.plan.Ground.Ground) {
		p.Told = append(p.Told, Told{name, d.groundWords(d.plan.Ground.Ground)})
		name = "Told"
	}
	rest := ""
	if d.onRest() {
		rest = " what the rest gives,"
	}
	p.Told = append(p.Told, Told{name, d.groundWords(d.ground)}, Told{"Stands", "Enter takes it so. What was really done is learned from: what a division takes off," + rest + " how the wheel wears."})
	order := spaced(inOrder(d.tool().Flutes))
	p.Keys = []KeyHelp{{"2", "it was 2 divisions"}}
	if d.plan.Ground.EndsFed > 0 || slices.ContainsFunc(d.plan.Ground.Faces, func(f inspect.Face) bool { return f.Where == inspect.OnEnds }) {
		p.Keys = append(p.Keys, KeyHelp{"ends 2", "on the ends"})
	}
	if d.tool().Flutes > 1 {
		p.Keys = append(p.Keys, KeyHelp{"order " + order, "the flutes as they came"}, KeyHelp{"last " + order, "in the last round"})
	}
	if d.onRest() {
		p.Keys = append(p.Keys, KeyHelp{"rest " + d.figure(d.tool().Diameter*7/100, 3), "the tooth rest"})
	}
	p.Keys = append(p.Keys, KeyHelp{"wheel NAME", "the wheel"}, KeyHelp{"not", "it was not ground"}, KeyHelp{"?", "help"}, KeyHelp{"q", "stop, all is kept"})
	p.How = "What was different, as 2 divisions: 2; or order " + order
	if d.onRest() {
		p.How += d.likeHere("; rest .0431")
	}
	p.How += "; wheel cup"
	p.Label, p.Enters = "ground", true
	if len(d.known.Wheels) > 0 {
		p.Told = append(p.Told, Told{"Wheels", strings.Join(d.known.Wheels, ", ")})
	}
}
