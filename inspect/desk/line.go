package desk

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// line takes a line: an answer, or a word that does something. A burst of keys that ends in Enter is one line, from
// whatever typed it.
func (d *Desk) line(l Line) []Effect {
	text := strings.TrimSpace(l.Text)
	switch {
	case len(text) > longestLine:
		return d.refuse("That is more than a line. Type it again.")
	case !printable(text):
		return d.refuse("That holds a sign that cannot be printed. Type it again.")
	case l.Of != "" && l.Of != d.Ticket():
		return d.refuse("That question was dealt with meanwhile. Look at what is asked now.")
	case text == "" && !d.settled():
		return nil // it was meant for the screen before
	case len(text) > len(tagMark) && strings.EqualFold(text[:len(tagMark)], tagMark) && text[len(tagMark)] != ' ': // with a blank it is a name
		return d.scanned(text[len(tagMark):])
	case d.wrong != "":
		return d.wrongTool(text)
	}
	if d.overlay != none {
		d.overlay, d.refused = none, ""
		if text == "" {
			return nil
		}
	}
	switch d.state {
	case closing:
		return nil
	case answered, signing:
		return d.answeredLine(l, text)
	}
	offered, shifted := d.offer, d.shifted
	d.offer, d.shifted = nil, nil
	if strings.EqualFold(text, "y") && offered != nil {
		return d.take(l, offered)
	}
	if strings.EqualFold(text, "x") && shifted != nil {
		return d.moveOn(shifted)
	}
	if d.sweep != nil {
		return d.sweeping(text)
	}
	switch {
	case !d.asked:
		return d.allReadings(l, text)
	case d.at.Ground:
		return d.howGround(l, text)
	case d.at.Sight != "":
		return d.sights(l, text)
	}
	return d.value(l, text)
}

const (
	longestLine = 1000
	tagMark     = "T."
)

// scanned takes the code of a tool's tag: that of the tool in hand goes on, another stops the hand.
func (d *Desk) scanned(id string) []Effect {
	if strings.EqualFold(id, d.tool().ID) {
		d.wrong = ""
		return d.tell("%s: that is the tool in hand. Go on.", d.tool().ID)
	}
	d.wrong = cmp.Or(id, "nothing")
	return d.refuse("THAT IS %s. In hand here: %s. Put one down. Nothing goes on till the right tag is scanned, or y.", d.wrong, d.tool().ID)
}

func (d *Desk) wrongTool(text string) []Effect {
	switch strings.ToLower(text) {
	case "y":
		d.wrong = ""
		return d.tell("%s is in hand. Go on.", d.tool().ID)
	case "q":
		d.wrong = ""
		return []Effect{Stop{}}
	}
	return d.refuse("THAT IS %s. In hand here: %s. Scan the right tag, or y: the tool in hand is %s.", d.wrong, d.tool().ID, d.tool().ID)
}

// key does one of the keys that act at once.
func (d *Desk) key(k Key) []Effect {
	switch k.Key {
	case Backspace:
		if d.state != asking || d.wrong != "" {
			return nil
		}
		hung := d.hangs()
		d.offer, d.minus, d.shifted, d.doubted, d.overlay = nil, nil, nil, Question{}, none
		d.ground = d.groundAsked()
		if hung {
			return d.tell("not taken: what was typed last")
		}
		return d.takeBack(k.By)
	case Interrupt:
		return d.quit()
	case End:
		d.over = true
		if d.state == asking && !d.asked {
			return []Effect{Close{}}
		}
		return d.quit()
	}
	return nil
}

// hangs says whether it was asked what the last line meant: then it is that line that Backspace takes back.
func (d *Desk) hangs() bool {
	return d.offer != nil || d.minus != nil || d.shifted != nil || d.asked && (d.doubted == d.at || d.at.Ground && !sameGround(d.ground, d.groundAsked()))
}

func (d *Desk) quit() []Effect {
	if d.state == asking {
		return []Effect{Stop{}}
	}
	if d.state == closing {
		return nil
	}
	return []Effect{Leave{}}
}

// takeBack takes the last answer back and asks for it again. It goes by the order in which they were given; a row was one answer.
func (d *Desk) takeBack(by string) []Effect {
	if d.sweep != nil {
		d.sweep = nil
		return []Effect{EndSweep{Drop: true}}
	}
	last, text := d.lastAnswer()
	if last == nil {
		return d.refuse("Nothing to take back yet.")
	}
	var effects []Effect
	for _, q := range slices.Backward(last) {
		effects = append(effects, Keep{What: TakenBack, Question: q, At: d.now, By: by})
	}
	d.tell("taken back: %s", text)
	return effects
}

// lastAnswer is what Backspace takes back, in the order in which it was given, and in words: the reading or the row that was taken
// last, what was left out in one answer, all that was seen, or how the tool was ground where that was asked.
func (d *Desk) lastAnswer() (qs []Question, text string) {
	given := d.given
	if d.plan.Ground == nil {
		given = slices.DeleteFunc(slices.Clone(given), func(g Given) bool { return g.Of.Ground })
	}
	if len(given) == 0 {
		return nil, ""
	}
	last := given[len(given)-1]
	switch {
	case last.Of.Ground:
		return []Question{last.Of}, "how it was ground"
	case last.Of.Sight != "":
		for _, s := range d.in.Seen {
			qs = append(qs, Question{Sight: s.Sight})
		}
		return qs, "what was seen"
	}
	g, _ := d.groupOf(last.Of)
	swept := slices.ContainsFunc(d.skipped, func(k Skipped) bool { return k.Question == last.Of && k.Reason == sweptReason })
	if swept && len(given) > 1 { // it belongs to the sweep before it
		qs, last = []Question{last.Of}, given[len(given)-2]
		given = given[:len(given)-1]
	}
	r, read := d.reading(last.Of)
	var row []string
	for _, o := range slices.Backward(given) {
		was, also := d.reading(o.Of)
		if o.At != last.At || also != read || read && !slices.Contains(g.boxes, o.Of) || !read && o.Of.Key.Feature != last.Of.Key.Feature {
			break
		}
		qs, row = append(qs, o.Of), append(row, d.withUnit(was))
	}
	slices.Reverse(qs)
	slices.Reverse(row)
	switch {
	case !read && len(qs) > 1:
		return qs, fmt.Sprintf("%d of %s, left out", len(qs), short(last.Of.Key))
	case !read:
		return qs, d.named(last.Of) + ", left out"
	}
	return qs, strings.Replace(d.answerWords(qs[:len(row)], row, r.Unit), "  ", " ", 1)
}

// withUnit is a reading of a row as it was typed, with its unit where that is not the one in force.
func (d *Desk) withUnit(r inspect.Reading) string {
	if unitOf(r.Unit) == unitOf(d.in.Basis.Unit) && (r.Unit == length.In || r.Unit == length.Mm) {
		return r.Text
	}
	return r.Text + " " + string(r.Unit)
}

// answerWords names what a line answered, with its numbers.
func (d *Desk) answerWords(qs []Question, numbers []string, unit length.Unit) string {
	if len(qs) == 1 {
		return d.named(qs[0]) + "  " + numbers[0] + " " + string(unit)
	}
	what := short(qs[0].Key)
	if k := qs[0].Key; width(k.Feature) {
		what = k.Feature.Spot(k.Flute)
	}
	return what + "  " + strings.Join(numbers, " ")
}

// common does the words that are the same on every screen; done says that it was one.
func (d *Desk) common(l Line, text string) (effects []Effect, done bool) {
	word, rest, _ := strings.Cut(text, " ")
	rest = strings.TrimSpace(rest)
	alone := rest == ""
	switch strings.ToLower(word) {
	case "?", "help":
		if alone {
			d.overlay, d.refused = help, ""
			return nil, true
		}
	case "t":
		if alone {
			d.overlay, d.refused = readings, ""
			return nil, true
		}
	case "b":
		if alone {
			return d.back(), true
		}
	case "q":
		if alone {
			return []Effect{Stop{}}, true
		}
	case "s":
		return d.leaveOut(l, rest), true
	case "n":
		if alone {
			return d.refuse("Write the note after it, as in: n used dry in 4140"), true
		}
		d.tell("noted")
		return []Effect{Keep{What: Noted, Text: rest, At: d.now, By: l.By}}, true
	}
	return nil, false
}

// again asks a question that was picked, answered or not.
func (d *Desk) again(e Again) []Effect {
	switch {
	case d.state != asking || d.wrong != "" || d.sweep != nil:
		return nil
	case !slices.Contains(d.questions(), e.Of):
		return d.refuse("That is not asked any more. Answer what is asked now, or pick another.")
	case d.stopped().Sight != "" && e.Of.Sight == "":
		return d.refuse("Nothing more is read of this tool. Enter closes.")
	}
	d.overlay, d.offer, d.minus = none, nil, nil
	d.at, d.asked, d.said = e.Of, true, ""
	return nil
}

// back goes one question back; its answer stands until another replaces it.
func (d *Desk) back() []Effect {
	qs := d.questions()
	i := slices.Index(qs, d.at)
	if !d.asked {
		i = len(qs)
	}
	if i <= 0 || len(qs) == 0 {
		return d.refuse("This is the first question. Answer it; q stops.")
	}
	d.at, d.asked, d.said, d.refused = qs[i-1], true, "", ""
	if qs[i-1].Sight != "" {
		d.at = qs[slices.IndexFunc(qs, func(q Question) bool { return q.Sight != "" })]
	}
	return nil
}

// leaveOut leaves a question out, or with "all" what is left of its feature.
func (d *Desk) leaveOut(l Line, reason string) []Effect {
	all := false
	if rest, ok := strings.CutPrefix(reason, "all "); ok {
		reason, all = strings.TrimSpace(rest), true
	}
	switch {
	case !d.asked:
		return d.refuse("Nothing is asked that could be left out. A line and flute, as 2 f3, asks that again.")
	case d.at.Ground:
		return d.refuse("Enter: it was ground so. not: it was not ground.")
	case d.at.Sight != "":
		return d.refuse("What is looked for cannot be left out: look, and say c or what you see. u N if you are not sure.")
	case reason == "" || reason == "all":
		return d.refuse("Write the reason after it, as in: s no flat left to read on")
	}
	var effects []Effect
	for _, q := range d.questions() {
		if q == d.at || all && q.Sight == "" && q.Key.Feature == d.at.Key.Feature && !d.dealt(q) {
			effects = append(effects, Keep{What: LeftOut, Question: q, Reason: reason, At: d.now, By: l.By})
		}
	}
	why := ""
	if d.in.Stage == inspect.After {
		why = ". What is left out bars a release; a concession can still be signed"
	}
	d.tell("left out: %s%s", d.named(d.at), why)
	return effects
}

// named names a question for a person.
func (d *Desk) named(q Question) string {
	switch {
	case q.Ground:
		return "how it was ground"
	case q.Sight != "":
		return "the sights"
	}
	k := q.Key
	if d.study != nil {
		return d.study.named(k)
	}
	name := words.Named(k)
	if k.Stated {
		name = strings.Replace(name, short(k), short(k)+" "+d.figure(k.FromEnd, 3)+" from the end", 1)
	}
	return name
}

// value takes a line where readings are asked: one number or a row of them, or a word.
func (d *Desk) value(l Line, text string) []Effect {
	f := d.at.Key.Feature
	if text == "" {
		return d.enter()
	}
	if d.minus != nil {
		switch of := d.minus; strings.ToLower(text) {
		case "f", "u":
			d.minus = nil
			d.sitting.MinusIs = 1
			if strings.ToLower(text) == "u" {
				d.sitting.MinusIs = -1
			}
			return d.take(l, of)
		}
		d.minus = nil
	}
	word, rest, _ := strings.Cut(text, " ")
	rest = strings.TrimSpace(rest)
	switch lower := strings.ToLower(word); {
	case lower == "up" && f.Drop():
		values, refusal := d.parse(rest)
		if refusal != nil {
			return refusal
		}
		for i, v := range values {
			values[i].Value, values[i].Text = -v.Value.Abs(), "-"+strings.TrimPrefix(v.Text, "-")
		}
		return d.accept(l, values, nil, true)
	case lower == "o" && rest == "" && (f == inspect.ShankRunout || d.at.Key.OnShank):
		return d.seatOnShank()
	case d.odd() && d.howOf(lower) != "":
		d.how = d.howOf(lower)
		if rest == "" {
			return d.tell("diameter %s; type the size that it comes to", howWords[d.how])
		}
		values, refusal := d.parse(rest)
		if refusal != nil {
			return refusal
		}
		return d.accept(l, values, nil, false)
	case lower == "d" && f.Drop() && rest != "":
		return d.setDistance(rest)
	case dropsBy[lower] != "" && rest == "" && onFlutes(f):
		return d.setDropBy(dropsBy[lower])
	case lower == "k" && rest == "":
		return d.readByEye()
	case lower == "g":
		return d.otherGauge(rest)
	case startsNumber(text):
		if g := d.gaugeAsked(); g != nil && g.away && !d.byEye {
			return d.gaugeIsAway()
		}
		values, refusal := d.parse(text)
		if refusal != nil {
			return refusal
		}
		return d.accept(l, values, nil, false)
	}
	if effects, done := d.common(l, text); done {
		return effects
	}
	switch strings.ToLower(text) {
	case "ok", "yes", "no", "none":
		if f == inspect.WearLand && strings.EqualFold(text, "none") {
			zero := length.Typed{Unit: d.in.Basis.Unit, Text: "0"}
			d.offer = &offer{of: d.at, values: []length.Typed{zero}}
			return d.refuse("No wear is 0. Type 0, or y.")
		}
	}
	return d.refuse("A number is asked here. ? shows the keys.")
}

// seatOnShank ties the edges to the shank by a round read after the tool was taken out and seated on it, in place of the shank's
// own run-out; or the other way round.
func (d *Desk) seatOnShank() []Effect {
	if d.read(d.at) || slices.ContainsFunc(d.in.Readings, func(r inspect.Reading) bool {
		return r.OnShank && !r.Closing || r.Feature == inspect.ShankRunout
	}) {
		return d.refuse("Part of it is read already. Backspace takes that back first.")
	}
	d.onShank, d.grouped = !d.onShank, nil
	d.goOn()
	if !d.onShank {
		return d.tell("the shank is read as the tool is held")
	}
	return d.tell("one round with the tool taken out and seated on its shank")
}

// hows are the letters that say how the diameter of an odd number of flutes was read.
var hows = map[string]inspect.How{"v": inspect.ByVee, "m": inspect.ByMaster, "r": inspect.ByRing}

// howOf is how a letter says that the diameter was read; "" for none. A vee and a ring hold no single flute.
func (d *Desk) howOf(letter string) inspect.How {
	if d.tool().Flutes == 1 && letter != "m" {
		return ""
	}
	return hows[letter]
}

var howWords = map[inspect.How]string{inspect.ByVee: "in the vee that fits the flutes", inspect.ByMaster: "over the master pin", inspect.ByRing: "in a ring"}

// odd says whether the diameter of an odd number of flutes is asked, which two anvils cannot read.
func (d *Desk) odd() bool {
	return d.asked && d.study == nil && d.at.Key.Feature == inspect.Diameter && d.tool().Flutes%2 == 1
}

// startsNumber says whether a line is a reading: it begins with a digit, a sign, a point or a fraction.
func startsNumber(text string) bool {
	return text != "" && strings.ContainsRune("+-−–.,0123456789½¼¾⅛⅜⅝⅞", []rune(text)[0])
}

// enter is Enter alone: it never takes a typed reading. It keeps an answer that stands, reads a gauge that is read so, or
// goes on after a gauge was seen to.
func (d *Desk) enter() []Effect {
	g := d.gaugeAsked()
	switch {
	case g != nil && g.trouble != nil && g.trouble.held():
		return d.seenTo(g)
	case d.sweepNow(g):
		return d.beginSweep(g)
	case g != nil && !g.away && g.Mode != Button:
		d.said, d.refused = "", ""
		return []Effect{Ask{g.Name}}
	case d.read(d.at):
		d.letStand()
		d.goOn()
		return d.tell("kept as it was")
	case g != nil && g.away && !d.byEye:
		return d.gaugeIsAway()
	case g != nil && !g.away:
		return d.refuse("Nothing typed. Press the button of %s, or type the reading.", g.Name)
	}
	return d.refuse("Nothing typed. A reading is never taken by Enter: type the number.")
}

// gaugeIsAway refuses what would be read with a gauge that is not there.
func (d *Desk) gaugeIsAway() []Effect {
	defer d.mayMean("k", "read by eye", "what is typed is marked so")
	return d.refuse("The gauge is away. k reads on by eye, and what is typed is marked so.")
}

// entry says how a number is read for a feature.
func (d *Desk) entry(f inspect.Feature) length.Entry {
	e := length.Entry{Unit: d.in.Basis.Unit}
	if d.known.Dials != nil {
		e.Division, e.Whole = d.known.Dials(f)
	}
	return e
}

// parse reads the numbers of a line: one, or a row.
func (d *Desk) parse(text string) ([]length.Typed, []Effect) {
	entry := d.entry(d.at.Key.Feature)
	one, err := entry.Parse(text)
	if err == nil {
		return []length.Typed{one}, nil
	}
	fields := joined(strings.Fields(text))
	if len(fields) < 2 {
		return nil, d.slip(err)
	}
	var values []length.Typed
	for i, field := range fields {
		v, err := entry.Parse(strings.TrimSuffix(field, ","))
		if err != nil {
			d.slip(err)
			d.offer = nil
			return nil, d.refuse("%d numbers; of the %s: %s None taken.", len(fields), ordinal(i+1), d.refused)
		}
		values = append(values, v)
	}
	return values, nil
}

// joined puts units that stand by themselves behind their numbers.
func joined(fields []string) []string {
	var out []string
	for _, f := range fields {
		if len(out) > 0 && !startsNumber(f) {
			out[len(out)-1] += " " + f
			continue
		}
		out = append(out, f)
	}
	return out
}

func ordinal(n int) string {
	return strconv.Itoa(n) + map[bool]string{true: map[int]string{1: "st", 2: "nd", 3: "rd"}[n], false: "th"}[n <= 3]
}

// slip refuses what cannot be read, and keeps what it most likely means for a yes.
func (d *Desk) slip(err error) []Effect {
	var slip *length.Slip
	if !errors.As(err, &slip) {
		return d.refuse("%s", sentence(err.Error()))
	}
	effects := d.refuse("%s", sentence(slip.Why))
	if slip.Meant != nil {
		d.offer = &offer{of: d.at, values: []length.Typed{*slip.Meant}}
		d.refused += " y takes " + slip.Meant.Text + " " + string(slip.Meant.Unit) + "."
		d.mayMean("y", slip.Meant.Text+" "+string(slip.Meant.Unit), "")
	}
	return effects
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	s = strings.ToUpper(string(r[:1])) + string(r[1:])
	if !strings.ContainsAny(s[len(s)-1:], ".?!") {
		s += "."
	}
	return s
}

// boxes returns the questions that a line of n numbers fills: the one asked, or all that are left of its group, a run-out's
// with flute 1 again or without.
func (d *Desk) boxes(n int) ([]Question, []Effect) {
	if n == 1 {
		return []Question{d.at}, nil
	}
	g, _ := d.groupOf(d.at)
	rest := g.boxes[slices.Index(g.boxes, d.at):]
	plain := rest
	if closed := len(rest) - 1; closed > 0 && rest[closed].Key.Closing {
		plain = rest[:closed]
	}
	switch n {
	case len(rest):
		return rest, nil
	case len(plain):
		return plain, nil
	}
	return nil, d.refuse("%d numbers, and %s. None taken.", n, d.wanted(plain, len(rest) > len(plain)))
}

// wanted names the boxes that a row would fill.
func (d *Desk) wanted(boxes []Question, closing bool) string {
	k := boxes[0].Key
	if width(k.Feature) {
		var names []string
		for _, q := range boxes {
			names = append(names, short(q.Key))
		}
		return "flute " + strconv.Itoa(k.Flute) + " asks " + strings.Join(names, ", ")
	}
	text := fmt.Sprintf("%d flutes are asked", len(boxes))
	if len(boxes) == 1 {
		text = d.named(boxes[0]) + " is asked"
	}
	if closing {
		text = strings.TrimSuffix(strings.TrimSuffix(text, " is asked"), " are asked") + " and flute 1 again are asked"
	}
	return text
}

// accept takes the numbers of a line whole, or none of them. climbs says that a fall below zero was meant so.
func (d *Desk) accept(l Line, values []length.Typed, f *Frame, climbs bool) []Effect {
	boxes, refusal := d.boxes(len(values))
	if refusal != nil {
		return refusal
	}
	if d.odd() && d.how == "" {
		effects := d.refuse("Two anvils cannot read %d flutes: they never meet two edges. v vee, m master pin, r ring, then the size, as v .4962", d.tool().Flutes)
		if d.tool().Flutes == 1 {
			effects = d.refuse("One flute has no edge across from it. m: over the master pin, twice the radius, as m .4962")
		}
		if len(values) == 1 {
			for _, key := range []string{"v", "m", "r"} {
				if how := d.howOf(key); how != "" {
					d.mayMean(key+" "+values[0].Text, howWords[how], values[0].Text)
				}
			}
		}
		return effects
	}
	in := d.Inspection()
	var effects []Effect
	var names, outside []string
	for i, v := range values {
		q := boxes[i]
		r := d.newReading(q, v, f)
		if q.Key.Feature.Drop() && r.Value < 0 && !climbs {
			if d.sitting.MinusIs == 0 {
				d.minus = &offer{of: d.at, values: values, frame: f}
				effects := d.refuse("Did the pointer fall or climb? f it fell %s; u it climbed: no relief.", strings.TrimPrefix(r.Text, "-"))
				d.mayMean("f", "it fell", strings.TrimPrefix(r.Text, "-"))
				d.mayMean("u", "it climbed", "no relief")
				return effects
			}
			if d.sitting.MinusIs > 0 {
				r.Value, r.Text = -r.Value, strings.TrimPrefix(r.Text, "-")
			}
		}
		if refusal := d.doubt(in, q, r, v, l, values); refusal != nil {
			if len(values) > 1 {
				d.refused = sentence(d.named(q)) + " " + d.refused + " None taken."
			}
			if d.offer != nil && slices.Equal(d.offer.values, values) {
				d.offer.frame = f
			}
			return refusal
		}
		if q.Key.Closing && !d.recheck {
			if moved := d.moved(l, in, q, r); moved != nil {
				return moved
			}
		}
		if d.outside(in, r) {
			outside = append(outside, r.Text)
		}
		in.Readings = append(slices.DeleteFunc(in.Readings, func(o inspect.Reading) bool { return o.Key() == r.Key() }), r)
		effects = append(effects, Keep{What: Read, Reading: &r, At: d.now, By: l.By})
		names = append(names, d.withUnit(r))
	}
	if moved := d.movedOn(l, in, boxes[0].Key, values, f); moved != nil {
		if len(values) > 1 {
			d.refused = "None taken yet. " + d.refused
		}
		return moved
	}
	if d.recheck && boxes[0] == d.at {
		if again := d.rechecked(l, values[0]); again != nil {
			effects = append(again, effects...)
		}
	}
	d.doubted, d.recheck = Question{}, false
	d.tell("taken: %s", d.answerWords(boxes, names, values[0].Unit))
	if outside != nil {
		d.said += fmt.Sprintf(". Outside what is expected: %s. If that is a slip, Backspace takes it back", strings.Join(outside, " "))
	}
	return append(effects, Ring{})
}

// newReading makes a reading of a number in answer to a question.
func (d *Desk) newReading(q Question, v length.Typed, f *Frame) inspect.Reading {
	k := q.Key
	r := inspect.Reading{Feature: k.Feature, Flute: k.Flute, Repeat: k.Repeat, Closing: k.Closing, Value: v.Value, Text: v.Text, Unit: v.Unit, At: stamp(d.now)}
	if k.Stated {
		from := k.FromEnd
		r.FromEnd = &from
	}
	if over, set := d.distance[k.Feature]; set {
		r.Over = &over
	}
	if onFlutes(k.Feature) {
		if by := d.asRead(k).DropBy(); by != d.in.DropBy() {
			r.DropBy = by
		}
	}
	r.OnShank = k.OnShank
	if k.Feature == inspect.Diameter {
		r.How = d.how
	}
	if f != nil {
		r.Gauge, r.At = f.Gauge, stamp(f.At)
	} else {
		r.Gauge = d.typedAs(k.Feature)
	}
	return r
}

// take takes what a yes is said to.
func (d *Desk) take(l Line, o *offer) []Effect {
	if o.do != nil {
		return o.do()
	}
	if o.of != d.at {
		return d.refuse("That was of another question. Type it again.")
	}
	d.doubted, d.doubtful = d.at, o.values
	return d.accept(l, o.values, o.frame, false)
}

// setDistance sets another checking distance for the drops to come.
func (d *Desk) setDistance(text string) []Effect {
	t, err := length.Entry{Unit: d.in.Basis.Unit}.Parse(text)
	if err != nil {
		return d.slip(err)
	}
	if t.Value <= 0 || t.Value >= d.tool().Diameter/4 {
		return d.refuse("%s is no distance behind the edge of this tool. Some thou, as d .015", text)
	}
	d.distance[d.at.Key.Feature] = t.Value
	d.grouped = nil
	return d.tell("the drops are read %s behind the edge from here on", t.Text)
}

// onFlutes says whether a feature is a drop on the flutes, for which the tool is turned or the table slid.
func onFlutes(f inspect.Feature) bool { return f.Drop() && !f.OnEnds() }

// dropsBy are the words that say how a drop is read.
var dropsBy = map[string]inspect.DropBy{"slide": inspect.BySliding, "slid": inspect.BySliding, "turn": inspect.ByTurning, "turned": inspect.ByTurning}

// setDropBy says how the drops to come are read.
func (d *Desk) setDropBy(by inspect.DropBy) []Effect {
	d.dropBy = by
	if by == inspect.BySliding {
		return d.tell("the drops are slid from here on: the table is moved across, the tool held still")
	}
	d.tell("the drops are turned from here on: the tool is turned the way it cuts")
	if short := d.shortTurn(d.at.Key); short != "" {
		d.said += ". " + short
	}
	return nil
}
