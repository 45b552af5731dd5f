package desk

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000Z") }

// doubt refuses a reading that cannot be, with what would be right, and asks twice of one that hardly can. Nil is no
// doubt. in has what stands before it on the same line.
func (d *Desk) doubt(in inspect.Inspection, q Question, r inspect.Reading, v length.Typed, l Line, row []length.Typed) []Effect {
	k := q.Key
	f := k.Feature
	g := d.guide(k)
	unit := d.in.Basis.Unit
	offered := func(why string, meant length.Typed) []Effect {
		effects := d.refuse("%s", why)
		if len(row) == 1 {
			d.offer = &offer{of: d.at, values: []length.Typed{meant}}
			d.refused += " y takes " + strings.TrimPrefix(meant.Text, "0") + " " + string(meant.Unit) + "."
			d.mayMean("y", meant.Text+" "+string(meant.Unit), "")
		}
		return effects
	}
	if v.Whole && v.Bare && r.Value != 0 && f != inspect.Diameter && f != inspect.Length {
		step, decimals := d.usualStep(f)
		meant := length.Typed{Value: r.Value / sizeOf(v.Unit) * step, Unit: unit}
		meant.Text = meant.Value.Format(unit, decimals)
		bare := strings.TrimLeft(v.Text, "+-")
		effects := d.refuse("%s what? Bare, it is %s. For %s type %s", v.Text, counted(bare, unitWord(v.Unit)), counted(bare, "divisions"), d.trimmed(meant.Value))
		if len(row) == 1 {
			d.wholeMeans(r, bare, step)
		}
		return effects
	}
	if f.Drop() && g.Distance > 0 && r.Value == g.Distance {
		return d.refuse("That is how far back. How far did it FALL over it?")
	}
	steep := f.Drop() && g.Steepest > 0 && r.Value > g.Steepest
	if err := d.check(in, r); err != nil || steep {
		over40 := fmt.Sprintf("%s over %s would be more than 40 degrees of relief.", r.Text, d.figure(g.Distance, 3))
		if land, ok := d.swapped(in, r); ok {
			swap := *land
			if len(row) == 1 {
				d.offer = &offer{of: d.at, do: func() []Effect { return d.swap(l, r, swap) }}
				defer d.mayMean("y", "swap them", "primary "+d.primaryOf(r, swap)+", land "+d.landOf(r, swap))
				return d.refuse("Primary %s would be wider than the land %s. y swaps them.", d.primaryOf(r, swap), d.landOf(r, swap))
			}
			return d.refuse("Primary %s is wider than the land %s. Typed the wrong way round? Type the row again.", d.primaryOf(r, swap), d.landOf(r, swap))
		}
		if meant, why := d.meant(in, r, g); meant != nil {
			if steep {
				why = over40
			}
			return offered(why, *meant)
		}
		if steep {
			return d.refuse("%s Type it again.", over40)
		}
		return d.refuse("%s", d.whyNot(r, err))
	}
	if (d.doubted == q || d.doubted == d.at) && d.sameAgain(f, row) {
		return nil // asked already
	}
	asks := func(format string, args ...any) []Effect {
		d.doubted, d.doubtful = d.at, row
		effects := d.refuse(format, args...)
		d.offer = &offer{of: d.at, values: row}
		d.refused += " y takes it."
		d.mayMean("y", v.Text+" "+string(v.Unit), "as typed")
		return effects
	}
	switch {
	case f.Heights() && !f.Single() && !k.Closing:
		first, ok := d.first(in, k)
		if !ok && r.Value.Abs() > inspect.FarthestHeight {
			return asks("%s is a long way from nought. Set the dial to 0 on flute 1. Is a point missing?", r.Text)
		}
		switch apart := (r.Value - first).Abs(); {
		case g.Most == nil || apart <= 5**g.Most:
		case k.Flute != 1:
			return d.orMeant(in, r, g, asks("%s", d.farOff(k, apart)))
		case !ok:
			return d.orMeant(in, r, g, asks("%s where the dial is set to 0?", r.Text))
		}
		if step, _ := d.usualStep(f); unit.Metric() && v.Bare && r.Value != 0 && r.Value.Abs() < step {
			return d.orMeant(in, r, g, asks("%s mm is less than a division of %s.", r.Text, d.trimmed(step)))
		}
	case (f == inspect.PrimaryLand || f == inspect.EndPrimaryLand || f == inspect.WearLand) && r.Value > d.tool().Diameter/5:
		return d.orMeant(in, r, g, asks("%s is a good part of the tool. Is the point in its place?", r.Text))
	case (f == inspect.Land || f == inspect.EndLand) && d.tool().Flutes > 1 && r.Value > d.tool().Diameter*3/2/length.Length(d.tool().Flutes):
		return d.orMeant(in, r, g, asks("%s is half the way to the next edge, and behind the land is the flute. Is the point in its place?", r.Text))
	case (f == inspect.Land || f == inspect.EndLand) && r.Value < d.tool().Diameter/leastLand, (f == inspect.PrimaryLand || f == inspect.EndPrimaryLand) && r.Value < d.tool().Diameter/leastPrimary:
		other, named := length.Mm, "millimetres"
		if unit.Metric() {
			other, named = length.In, "inches"
		}
		return d.orMeant(in, r, g, asks("%s %s is a hair on this tool. Read in %s? Say so: %s%s.", r.Text, r.Unit, named, r.Text, other))
	case f.Drop() && g.Least != nil && g.Most != nil && r.Value > 0 && (r.Value > *g.Most*3/2 || r.Value < *g.Least/2):
		return d.orMeant(in, r, g, asks("%s is far from what is looked for, %s. Is the distance as is said?", r.Text, g.Expect))
	case width(f) && g.Most != nil && *g.Most > 0 && r.Value > 5**g.Most:
		return asks("%s is far over what is usual here, %s. Is the point in its place?", r.Text, d.figure(*g.Most, 3))
	case f == inspect.Diameter && (r.Value > d.tool().Diameter*mostOfNominal/100 || r.Value < d.tool().Diameter*leastOfNominal/100):
		return d.orMeant(in, r, g, asks("%s is not near the %s that the tool was made with.", r.Text, d.trimmed(d.tool().Diameter)))
	case f == inspect.Diameter && d.in.LastDiameter != nil && r.Value > *d.in.LastDiameter+sameDiameter:
		return asks("%s, but %s was read before: a grind takes off and puts nothing on. Read again; the same again is taken, and the release waits for the signer to see both.", r.Text, d.figure(*d.in.LastDiameter, 4))
	}
	return nil
}

// sameAgain says whether a line that was asked about is given once more: each number within two divisions of what it was.
func (d *Desk) sameAgain(f inspect.Feature, row []length.Typed) bool {
	step, _ := d.usualStep(f)
	return slices.EqualFunc(row, d.doubtful, func(a, b length.Typed) bool { return (a.Value - b.Value).Abs() <= 2*step })
}

// outside says whether a reading lies outside what is told to expect there. Of a worn tool nothing is expected of its wear and its
// primary: they are what it is ground for.
func (d *Desk) outside(in inspect.Inspection, r inspect.Reading) bool {
	f, value := r.Feature, r.Value
	if d.study != nil || r.Closing || d.in.Stage == inspect.Before && width(f) {
		return false
	}
	g := d.guide(r.Key())
	if f.Heights() {
		value = value.Abs()
	}
	if f.Heights() && !f.Single() {
		first, _ := d.first(in, r.Key())
		value = (r.Value - first).Abs()
	}
	return g.Least != nil && value < *g.Least || g.Most != nil && value > *g.Most
}

// wholeMeans adds what a bare whole number may mean: so many divisions, tenths or thou, or as many millimetres' worth of them.
func (d *Desk) wholeMeans(r inspect.Reading, bare string, step length.Length) {
	unit := d.in.Basis.Unit
	n := r.Value / sizeOf(r.Unit)
	steps := []struct {
		size length.Length
		says string
	}{{step, "divisions"}, {length.Tenth, "tenths"}, {length.Thou, "thou"}}
	if unit.Metric() {
		steps = steps[:1]
		steps = append(steps, struct {
			size length.Length
			says string
		}{length.Micrometre, "micrometres"})
	}
	for i, s := range steps {
		if i > 0 && s.size == step {
			continue
		}
		try := r
		if try.Value = n * s.size; d.check(d.Inspection(), try) != nil {
			continue
		}
		text := strings.TrimSuffix(strings.TrimRight(try.Value.Format(unit, 6), "0"), ".")
		d.mayMean(text, text+" "+string(unit), counted(bare, s.says))
	}
}

// sameDiameter is how far two readings of the diameter of one tool may lie apart before one is doubted (common practice,
// no source).
const sameDiameter = 2 * length.Tenth

// Under these parts of the diameter a land, or its primary, is more likely a slip of the unit or the point (common practice, no source).
const leastLand, leastPrimary = 50, 500

// Between these percentages of what it was made with a tool's diameter is no slip: no grind puts anything on, and one that has lost
// more is past use (common practice, no source).
const leastOfNominal, mostOfNominal = 80, 102

// check says why a reading cannot be.
func (d *Desk) check(in inspect.Inspection, r inspect.Reading) error {
	if d.study != nil {
		return nil // whatever a gauge shows of a part is what is studied
	}
	return in.Check(r)
}

// first returns the height of flute 1 in the round of k, or else of the round before.
func (d *Desk) first(in inspect.Inspection, k inspect.Key) (length.Length, bool) {
	var found *inspect.Reading
	for i, r := range in.Readings {
		o := r.Key()
		if o.Flute == 1 && !o.Closing && samePlace(o, k) && o.Repeat <= max(k.Repeat, 1) {
			found = &in.Readings[i]
		}
	}
	if found == nil {
		return 0, false
	}
	return found.Value, true
}

// usualStep returns one division of what a feature is read with, for a hint, and the decimals that show it.
func (d *Desk) usualStep(f inspect.Feature) (step length.Length, decimals int) {
	if d.known.Dials != nil {
		step, _ = d.known.Dials(f)
	}
	metric := d.in.Basis.Unit.Metric()
	switch {
	case step > 0:
		return step, 4
	case width(f) && metric:
		return 10 * length.Micrometre, 2
	case width(f):
		return length.Thou, 3
	case metric:
		return length.Micrometre, 3
	}
	return length.Tenth, 4
}

func sizeOf(u length.Unit) length.Length {
	if u.Metric() {
		return length.Millimetre
	}
	return length.Inch
}

// counted is so many of what is named in the plural.
func counted(n, things string) string {
	if n == "1" {
		things = strings.TrimSuffix(strings.Replace(things, "inches", "inch", 1), "s")
	}
	return n + " " + things
}

func unitWord(u length.Unit) string {
	switch u {
	case length.In:
		return "inches"
	case length.Mm:
		return "millimetres"
	}
	return string(u)
}

// likely says of a value whether it is a likely one in the place of a reading.
func (d *Desk) likely(in inspect.Inspection, r inspect.Reading, g Guide) func(length.Length) bool {
	f := r.Feature
	return func(value length.Length) bool {
		try := r
		try.Value = value
		if d.check(in, try) != nil {
			return false
		}
		switch {
		case f == inspect.Diameter:
			return value > d.tool().Diameter*8/10 && value < d.tool().Diameter*11/10
		case f.Heights():
			return g.Most != nil && value.Abs() <= 5**g.Most
		case g.Least != nil && g.Most != nil:
			return value >= *g.Least/3 && value <= 3**g.Most
		case g.Most != nil:
			return value <= 3**g.Most
		}
		return value < d.tool().Diameter/5
	}
}

// meant returns what a reading that cannot be most likely means: in the other unit, or with its point moved. Nil where
// nothing is likely.
func (d *Desk) meant(in inspect.Inspection, r inspect.Reading, g Guide) (*length.Typed, string) {
	likely := d.likely(in, r, g)
	moved, other := d.pointMoved(r, likely), d.otherUnit(r, likely)
	switch {
	case other != nil && (moved == nil || r.Value.Abs() >= sizeOf(d.in.Basis.Unit)):
		return other, fmt.Sprintf("%s %s is not this tool. %s %s is %s:", r.Text, r.Unit, r.Text, other.Unit, d.figure(other.Value, 4))
	case moved != nil:
		return moved, r.Text + " is not this tool."
	}
	return nil, ""
}

// pointMoved is a reading with its point where it is likely; nil for none. It is one that can be read: no finer than what reads such
// a feature. A size may also lack a nought too many.
func (d *Desk) pointMoved(r inspect.Reading, likely func(length.Length) bool) *length.Typed {
	step := length.Tenth
	switch {
	case width(r.Feature) && r.Unit.Metric():
		step = 5 * length.Micrometre
	case width(r.Feature):
		step = length.Thou / 2
	case r.Unit.Metric():
		step = length.Micrometre
	}
	for by := length.Length(10); by <= 100_000; by *= 10 {
		for _, v := range []length.Length{r.Value / by, r.Value * by} {
			if v/by != r.Value && v*by != r.Value || v > r.Value && !r.Feature.Single() || v%step != 0 || !likely(v) {
				continue
			}
			return &length.Typed{Value: v, Unit: r.Unit, Text: strings.TrimSuffix(strings.TrimRight(v.Format(r.Unit, 9), "0"), ".")}
		}
	}
	return nil
}

// otherUnit is a reading with its number in the other unit, where that is likely; nil else.
func (d *Desk) otherUnit(r inspect.Reading, likely func(length.Length) bool) *length.Typed {
	other := length.Mm
	if d.in.Basis.Unit.Metric() {
		other = length.In
	}
	if v, err := length.Parse(r.Text, other); r.Unit == d.in.Basis.Unit && err == nil && likely(v) {
		return &length.Typed{Value: v, Unit: other, Text: r.Text}
	}
	return nil
}

// orMeant adds to what is asked of a doubtful reading what else it may mean: with its point moved, or in the other unit. A row is
// typed again.
func (d *Desk) orMeant(in inspect.Inspection, r inspect.Reading, g Guide, asks []Effect) []Effect {
	if len(d.doubtful) > 1 {
		return asks
	}
	likely := d.likely(in, r, g)
	for _, m := range []*length.Typed{d.pointMoved(r, likely), d.otherUnit(r, likely)} {
		if m == nil {
			continue
		}
		text := strings.TrimPrefix(m.Text, "0") + string(m.Unit)
		d.refused += fmt.Sprintf(" %s if that was meant.", text)
		d.mayMean(text, text, "meant so")
	}
	return asks
}

// farOff asks of a height that lies far from the first one what went wrong there.
func (d *Desk) farOff(k inspect.Key, apart length.Length) string {
	if k.Feature == inspect.ShankRunout {
		return fmt.Sprintf("Place %d is %s off the first. On the flat or in a mark? Slide along and read again.", k.Flute, d.figure(apart, 4))
	}
	why := "Did the contact drop into the flute?"
	if k.Feature.OnEnds() {
		why = "Did the contact run off the tooth?"
	}
	return sentence(fmt.Sprintf("%s is %s off %s. %s Take the highest point.", k.Feature.Spot(k.Flute), d.figure(apart, 4), k.Feature.Spot(1), why))
}

// whyNot puts into shop words why a reading cannot be.
func (d *Desk) whyNot(r inspect.Reading, err error) string {
	f := r.Feature
	first, ok := d.first(d.in, r.Key())
	switch {
	case ok && f.Heights() && !f.Single() && r.Flute != 1 && (r.Value-first).Abs() > inspect.FarthestHeight:
		return d.farOff(r.Key(), (r.Value-first).Abs()) + " Or is a point missing?"
	case width(f) && r.Value < 0:
		return "A width is never minus. Type it without."
	case f.Single() && r.Value < 0:
		return "A size is never minus. Type it without."
	case f == inspect.WearLand:
	case width(f) && r.Value == 0 && (f == inspect.Land || f == inspect.EndLand):
		return "No land, no tooth. s WHY leaves it out."
	case width(f) && r.Value == 0:
		return "No width is nothing to read. s WHY leaves it out."
	}
	return sentence(err.Error())
}

// swapped returns the other of primary and land where a reading makes the primary the wider.
func (d *Desk) swapped(in inspect.Inspection, r inspect.Reading) (*inspect.Reading, bool) {
	partners := map[inspect.Feature]inspect.Feature{
		inspect.PrimaryLand: inspect.Land, inspect.Land: inspect.PrimaryLand,
		inspect.EndPrimaryLand: inspect.EndLand, inspect.EndLand: inspect.EndPrimaryLand,
	}
	other, ok := partners[r.Feature]
	if !ok || r.Value <= 0 || r.Value >= d.tool().Diameter/2 {
		return nil, false
	}
	k := r.Key()
	k.Feature = other
	i := slices.IndexFunc(in.Readings, func(o inspect.Reading) bool { return o.Key() == k })
	if i < 0 {
		return nil, false
	}
	primary, land := r.Value, in.Readings[i].Value
	if r.Feature == inspect.Land || r.Feature == inspect.EndLand {
		primary, land = land, primary
	}
	return &in.Readings[i], primary > land
}

func (d *Desk) primaryOf(a, b inspect.Reading) string {
	if a.Feature == inspect.PrimaryLand || a.Feature == inspect.EndPrimaryLand {
		return a.Text
	}
	return b.Text
}

func (d *Desk) landOf(a, b inspect.Reading) string {
	if d.primaryOf(a, b) == a.Text {
		return b.Text
	}
	return a.Text
}

// swap keeps two readings of one flute the other way round.
func (d *Desk) swap(l Line, r, stands inspect.Reading) []Effect {
	a, b := r, stands
	a.Value, a.Text, a.Unit, b.Value, b.Text, b.Unit = b.Value, b.Text, b.Unit, a.Value, a.Text, a.Unit
	d.tell("taken: primary %s, land %s", d.primaryOf(a, b), d.landOf(a, b))
	return []Effect{
		Keep{What: TakenBack, Question: Question{Key: stands.Key()}, At: d.now, By: l.By},
		Keep{What: Read, Reading: &a, At: d.now, By: l.By}, Keep{What: Read, Reading: &b, At: d.now, By: l.By}, Ring{},
	}
}

// moved says whether flute 1, read again at the end, shows that something moved. Then the round starts again, the old one
// set aside.
func (d *Desk) moved(l Line, in inspect.Inspection, q Question, r inspect.Reading) []Effect {
	k := q.Key
	k.Closing, k.Repeat = false, mostRounds+1
	was, ok := d.first(in, k)
	if !ok || (r.Value-was).Abs() <= d.mayMove(q.Key) {
		return nil
	}
	now := sentence(fmt.Sprintf("%s was %s, now %s", k.Feature.Spot(1), d.figure(was, 4), d.figure(r.Value, 4)))
	if d.doubted != q {
		d.doubted = q
		effects := d.refuse("%s Read it once more: the same again, and the round starts afresh.", now)
		return effects
	}
	d.doubted = Question{}
	g, _ := d.groupOf(q)
	effects := []Effect{Keep{What: Read, Reading: &r, At: d.now, By: l.By}}
	for _, box := range slices.Backward(g.boxes) {
		if box == q || d.read(box) {
			effects = append(effects, Keep{What: TakenBack, Question: box, Reason: "set aside: flute 1 read again did not agree", At: d.now, By: l.By})
		}
	}
	d.refuse("%s Something moved: stand, clamp or tool. Tighten; this round starts again, the old one stays on record, set aside.", now)
	return append(effects, Ring{Refused: true})
}

// mayMove is how far flute 1 read again may lie from before: two steps of its gauge, and not less than a fifth of the
// limit (common practice, no source).
func (d *Desk) mayMove(k inspect.Key) length.Length {
	step, _ := d.usualStep(k.Feature)
	if g := d.gaugeReading(k.Feature); g != nil && g.Resolution > 0 {
		step = g.Resolution
	}
	allowed := 2 * step
	if g := d.guide(k); g.Most != nil {
		allowed = max(allowed, *g.Most/5)
	}
	return allowed
}

// rechecked says what follows from flute 1 read again after its gauge was away: within what it may move the round goes on, and
// else it starts afresh.
func (d *Desk) rechecked(l Line, v length.Typed) []Effect {
	was, ok := d.reading(d.at)
	if !ok || (v.Value-was.Value).Abs() <= d.mayMove(d.at.Key) {
		return nil
	}
	g, _ := d.groupOf(d.at)
	var effects []Effect
	for _, box := range g.boxes {
		if box != d.at && d.read(box) {
			effects = append(effects, Keep{What: TakenBack, Question: box, Reason: "set aside: the zero had moved", At: d.now, By: l.By})
		}
	}
	return effects
}

// guide returns what to tell of a reading.
func (d *Desk) guide(k inspect.Key) Guide {
	if d.known.Guide == nil || k.Feature == "" {
		return Guide{}
	}
	g := d.known.Guide(d.asRead(k), k)
	if over, set := d.distance[k.Feature]; set {
		g.Distance = over
	}
	return g
}

// asRead is the inspection as a drop is read now: over the distance that was set, slid or turned as was said. Where nobody said it and
// turning by eye cannot settle the relief over so short a distance, it is slid.
func (d *Desk) asRead(k inspect.Key) inspect.Inspection {
	in := d.in
	if over, set := d.distance[k.Feature]; set && k.Feature == inspect.Dish {
		in.Basis.DishDistance = over
	} else if set {
		in.Basis.CheckingDistance = over
	}
	in.Basis.DropBy = cmp.Or(d.dropBy, in.Basis.DropBy)
	if d.dropBy == "" && tooShort(in, k) {
		in.Basis.DropBy = inspect.BySliding
	}
	return in
}

// shortTurn says of a drop that turning by eye cannot settle it, and what is done instead; "" where it can, or where the bench slides.
func (d *Desk) shortTurn(k inspect.Key) string {
	in := d.asRead(k)
	slid := in.DropBy() == inspect.BySliding
	in.Basis.DropBy = inspect.ByTurning
	if d.study != nil || d.in.DropBy() == inspect.BySliding || !tooShort(in, k) {
		return ""
	}
	return words.TooShort(d.figure(in.CheckingDistance(), 3), slid)
}

func tooShort(in inspect.Inspection, k inspect.Key) bool {
	if !onFlutes(k.Feature) {
		return false
	}
	look, err := in.DropLook(k)
	return err == nil && look.TooShort
}

// figure prints a length for a screen: without the nought before the point in inches, in the unit in force.
func (d *Desk) figure(l length.Length, decimals int) string {
	return Figure(l, d.in.Basis.Unit, decimals)
}

// trimmed prints a length with no more decimals than it has.
func (d *Desk) trimmed(l length.Length) string {
	n := 2
	for n < 7 && l%(sizeOf(d.in.Basis.Unit)/pow10(n)) != 0 {
		n++
	}
	text := l.Format(unitOf(d.in.Basis.Unit), n)
	if !d.in.Basis.Unit.Metric() {
		text = strings.Replace(text, "0.", ".", 1)
	}
	return text
}

func pow10(n int) length.Length {
	p := length.Length(1)
	for range n {
		p *= 10
	}
	return p
}

func unitOf(u length.Unit) length.Unit {
	if u.Metric() {
		return length.Mm
	}
	return length.In
}

// Figure prints a length as a screen of the desk shows it.
func Figure(l length.Length, unit length.Unit, decimals int) string {
	if unit.Metric() {
		return l.Format(length.Mm, max(decimals-1, 2))
	}
	text := l.Format(length.In, decimals)
	if rest, ok := strings.CutPrefix(text, "0."); ok {
		return "." + rest
	}
	if rest, ok := strings.CutPrefix(text, "-0."); ok {
		return "-." + rest
	}
	return text
}
