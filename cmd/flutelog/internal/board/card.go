package board

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
	"flutelog/inspect/trend"
)

// Card is one tool as it stands, for the hand that has it.
type Card struct {
	record.Tool
	Basis   inspect.Basis
	Offsets record.Offsets
	Left    *trend.LifeLeft // regrinds to the smallest useful diameter; nil where nothing is known of it
	Half    []Open
	ToSign  *record.Inspection // what waits for a signature; nil for nothing
	Damage  error              // what of it cannot be read

	between bool // what waits is read between the primary and the secondary
}

// Step is what is done with a tool next.
type Step struct {
	Words string
	Stage inspect.Stage // an inspection at this stage; "" for none
	Sign  bool          // a person's word is wanted on State.Inspection
	Back  string        // of a tool that is let out: what is asked before the inspection begins
}

// GatherCard reads a tool's card; basis is what it is judged by.
func GatherCard(l *ledger.Ledger, id string, basis func(inspect.Tool, inspect.Stage) inspect.Basis) (Card, error) {
	t, err := record.FindTool(l, id)
	var damage *ledger.DamageError
	if err != nil && !errors.As(err, &damage) {
		return Card{}, err
	}
	c := Card{Tool: t, Basis: basis(t.Tool, inspect.After), Damage: err}
	if c.Offsets, err = record.FindOffsets(l, t.ID); err != nil && !errors.As(err, &damage) {
		return c, err
	}
	open, _ := record.Open(l) // a draft that cannot be read is told by the board and by ledger verify
	for _, d := range open {
		if d.Inspection.Tool.ID == t.ID {
			c.Half = append(c.Half, half(d))
		}
	}
	if c.Standing == record.StandsToGrind || c.Standing == record.StandsToFinish {
		_, _, last := record.Known(l, t.ID, inspect.Between)
		c.between = last != nil && last.Inspection.Stage != inspect.After && last.Judgement.Between()
	}
	if c.Standing == record.StandsToSign {
		if in, err := record.Find(l, c.Inspection); err == nil {
			c.ToSign = &in
		}
	}
	c.Left, err = c.regrindsLeft(l)
	return c, err
}

// Smallest is the smallest useful diameter, nil where none is set.
func (c Card) Smallest() *length.Length {
	if least := c.Basis.Limits[inspect.Diameter].Least; least != nil {
		d := least.Length()
		return &d
	}
	return nil
}

// regrindsLeft forecasts from what a regrind took off: of this tool where it was reground often enough, else of tools of
// its material at this ledger's benches.
func (c Card) regrindsLeft(l *ledger.Ledger) (*trend.LifeLeft, error) {
	now, smallest := c.Offsets.Diameter.Now, c.Smallest()
	if now == nil || smallest == nil {
		return nil, nil
	}
	var own, all []length.Length
	for r, err := range record.Regrinds(l) {
		if err != nil {
			break // what can be read is enough for a forecast
		}
		if r.Before == nil || r.Stage != inspect.After || r.Material != c.Material {
			continue
		}
		before, err1 := record.ReadFigure(r.Before.Diameter)
		after, err2 := record.ReadFigure(r.Diameter)
		if err := errors.Join(err1, err2); err != nil || before == nil || after == nil || after.Value.Length() >= before.Value.Length() {
			continue
		}
		took := before.Value.Length() - after.Value.Length()
		all = append(all, took)
		if r.Tool == c.ID {
			own = append(own, took)
		}
	}
	from := own
	if len(own) < leastRegrinds {
		from = all
	}
	if len(from) < leastRegrinds || *now < *smallest {
		return nil, nil
	}
	left, err := trend.EstimateLife(from, *now, *smallest, 0)
	return &left, err
}

// leastRegrinds is how many regrinds a forecast rests on at least, as a learned setting does (common practice).
const leastRegrinds = 5

// LeftWords say how many regrinds are left.
func (c Card) LeftWords() string {
	l := c.Left
	if l == nil {
		return "not known yet: fewer than five regrinds are on record"
	}
	return fmt.Sprintf("about %d (95 %%: %d to %d, %s)", l.Regrinds, l.Least, l.Most, l.Note)
}

// Stopped says what stops a tool that is locked or recalled.
func (c Card) Stopped() string { return stopped(c.State) }

// Next says what is done with the tool next.
func (c Card) Next() Step {
	if len(c.Half) > 0 && c.Standing != record.StandsLocked && c.Standing != record.StandsWithdrawn {
		return Step{Words: "go on with " + c.Half[0].Inspection + ", which is half read", Stage: c.Half[0].Stage}
	}
	switch c.Standing {
	case record.StandsReceived:
		return Step{Words: "begin the inspection before the grind", Stage: inspect.Before}
	case record.StandsToGrind, record.StandsToFinish:
		if c.between {
			return Step{Words: "primary ground, the tool still held: begin the inspection between the grinds", Stage: inspect.Between}
		}
		if c.Standing == record.StandsToFinish {
			return Step{Words: "begin the inspection after the grind", Stage: inspect.After}
		}
		return Step{Words: "ground: begin the inspection after the grind", Stage: inspect.After}
	case record.StandsToInspect, record.StandsRecalled:
		return Step{Words: "begin the inspection after the grind", Stage: inspect.After}
	case record.StandsToSign:
		return Step{Words: "sign, by one who may", Sign: true}
	case record.StandsReleased, record.StandsConceded:
		return Step{Words: "it is back, worn: begin the inspection before the grind", Stage: inspect.Before, Back: "It stands " + string(c.Standing) + ". Is it back, worn?"}
	}
	return Step{Words: "nothing is done with it"}
}

// curveWidth is how wide the life curve is drawn.
const curveWidth = 44

// curve draws the diameters of a life between the smallest useful and the nominal one, a mark for each that was read.
func (c Card) curve() string {
	smallest := c.Smallest()
	if smallest == nil {
		return ""
	}
	low, high := *smallest, c.Diameter
	var ds []length.Length
	for _, h := range c.Inspections {
		if h.Diameter != nil && !h.Practice {
			d := h.Diameter.Length()
			ds, low, high = append(ds, d), min(low, d), max(high, d)
		}
	}
	if len(ds) == 0 || high <= low {
		return ""
	}
	cells := []byte(strings.Repeat(".", curveWidth))
	at := func(d length.Length) int { return int((high - d) * (curveWidth - 1) / (high - low)) }
	cells[at(*smallest)] = '|'
	for _, d := range ds {
		cells[at(d)] = 'o'
	}
	cells[at(ds[len(ds)-1])] = '*'
	return string(cells)
}

// Lines draws the card, at most width columns wide.
func (c Card) Lines(unit length.Unit, marks mark.Console, width int) []string {
	w := width - 3
	t := c.Tool.Tool
	about := fmt.Sprintf("%s, %d flutes, %s, %s end, cuts %s, helix %s %s", t.Diameter.In(unit), t.Flutes, strings.ToUpper(string(t.Material)), t.Ends, cmp.Or(t.Cut, inspect.RightHand), t.Hand, t.Helix)
	if t.Material == inspect.Carbide || t.Material == inspect.Cobalt {
		about = strings.Replace(about, strings.ToUpper(string(t.Material)), string(t.Material), 1)
	}
	var lines []string
	say := func(s string) { lines = append(lines, text.Wrap(s, w, 0)...) }
	told := func(name, s string) {
		if s != "" {
			lines = append(lines, text.Wrap(fmt.Sprintf("%-17s %s", name, s), w, 18)...)
		}
	}
	say(text.Show(t.ID) + "   " + about)
	lines = append(lines, rule("=", w))
	standing := strings.ToUpper(string(c.Standing))
	switch c.Standing {
	case record.StandsLocked, record.StandsRecalled:
		if standing += ": " + stopped(c.State); c.ToldAt != "" {
			standing += ", at " + c.ToldAt + " by the register's word"
		}
	default:
		if lacks := c.Lacks(); lacks != "" {
			standing += ": lacks " + lacks
		}
		if c.ToldAt != "" {
			standing += "; recorded at " + c.ToldAt + ", by the register's word"
		}
	}
	if c.Job != "" {
		standing += "; job " + c.Job
	}
	if c.Away != nil {
		standing += "; sent out " + c.Away.Where
	}
	say(marks.With(mark.Standing(c.Standing), text.Show(standing)))
	lines = append(lines, rule("-", w))
	if c.Damage != nil {
		told("DAMAGED", "not all of it can be read; flutelog ledger verify says what, and what to do")
	}
	if in := c.ToSign; in != nil {
		told("To be signed", in.ID+", read by "+cmp.Or(in.Inspection.Inspector, "nobody named"))
		for _, x := range in.Corrections {
			told("Corrected", marks.With(mark.Corrected, papers.Correction(x.Correction, unit)))
		}
	}
	if now := c.Offsets.Diameter.Now; now != nil {
		words := now.In(unit) + "   radius " + (*now / 2).In(unit)
		if change := c.Offsets.Diameter.Change(); change != nil {
			words += "   change " + c.Offsets.Diameter.Since() + " " + change.In(unit)
		}
		told("Cuts now", words)
	} else {
		told("Cuts now", "not read yet; nominal "+t.Diameter.In(unit))
	}
	if smallest := c.Smallest(); smallest != nil {
		told("Smallest useful", smallest.In(unit)+"   "+c.Basis.Limits[inspect.Diameter].Source)
	}
	told("Elsewhere", c.Elsewhere.Words())
	told("Regrinds left", c.LeftWords())
	told("Life", c.curve())
	if relief := c.Basis.Limits[inspect.ReliefDrop]; relief.Least != nil && relief.Most != nil {
		told("Primary relief", relief.Least.In(unit)+" to "+relief.Most.In(unit))
	}
	var ground []string
	for _, f := range c.SetUp(unit) {
		ground = append(ground, f.Told)
	}
	told("Last grind", strings.Join(ground, ", "))
	for _, o := range c.Half {
		told("Half read", marks.With(mark.Half, fmt.Sprintf("%s, %s: %d of %d read", o.Inspection, o.Stage.Words(), o.Answered, o.Of)))
	}
	for _, r := range slices.Backward(c.Rulings) {
		told("Last ruling", fmt.Sprintf("%s of %s by %s, %s%s", marks.With(mark.Ruling(r.Word), string(r.Word)), r.Of(), r.By, day(r.At), because(r.Why)))
		break
	}
	for i, n := range slices.Backward(c.Notes) {
		if i < len(c.Notes)-2 {
			break
		}
		told("Note", fmt.Sprintf("%s (%s)", n.Text, day(n.At)))
	}
	for i, l := range lines {
		lines[i] = strings.TrimRight(" "+text.Show(l), " ")
	}
	return lines
}

// Fact is one thing that is known of a tool, by its name, and as it is told in a line with others.
type Fact struct{ Name, Value, Told string }

// Names of the first fact of a set-up, a day: of a grind that was told, and of an inspection that says that there was one.
const (
	Ground      = "Ground"
	AfterAGrind = "Inspected after a grind"
)

// SetUp tells the last grind, as it was told or as the last inspection after one knew it, and what came of it; the first
// fact is its day. It is empty where nothing says that the tool was ground.
func (c Card) SetUp(unit length.Unit) []Fact {
	var facts []Fact
	tell := func(name, value, told string) {
		if value != "" {
			facts = append(facts, Fact{name, value, told})
		}
	}
	if len(c.Grounds) > 0 {
		g := c.Grounds[len(c.Grounds)-1]
		tell(Ground, g.At, day(g.At))
		tell("Wheel", g.Wheel, "wheel "+g.Wheel)
		if g.Divisions > 0 {
			tell("Divisions from first touch", strconv.Itoa(g.Divisions), inspect.Fed(g.Divisions, 0))
		}
		if g.EndsFed > 0 {
			tell("Divisions on the ends", strconv.Itoa(g.EndsFed), inspect.Fed(0, g.EndsFed))
		}
		if len(g.Order) > 0 {
			order := strings.Trim(fmt.Sprint(g.Order), "[]")
			tell("Order of grinding", strings.ReplaceAll(order, " ", ", "), "flutes "+order)
		}
		tell("Ground by", g.By, "by "+g.By)
	}
	for _, h := range slices.Backward(c.Inspections) {
		if !h.Reground || h.Practice {
			continue
		}
		if len(facts) == 0 {
			tell(AfterAGrind, h.Closed, "inspected after a grind, "+day(h.Closed))
			tell("Wheel", h.Wheel, "wheel "+h.Wheel)
			if h.Divisions > 0 {
				tell("Divisions from first touch", strconv.Itoa(h.Divisions), inspect.Fed(h.Divisions, 0))
			}
		}
		if h.Offset != nil {
			tell("Rest below centre", h.Offset.In(unit), "rest "+h.Offset.In(unit)+" below centre")
		}
		if h.TIR != nil {
			tell("TIR then", h.TIR.In(unit), "TIR "+h.TIR.In(unit))
		}
		if h.Share != nil {
			tell("Primary of the land then", h.Share.In(unit), "primary "+h.Share.In(unit)+" of the land")
		}
		tell("Read by", h.Inspector, "read by "+h.Inspector)
		break
	}
	return facts
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return ": " + why
}

// Screen is the card as a screen of height lines, with its keys below.
func (c Card) Screen(unit length.Unit, marks mark.Console, width, height int) []string {
	w := width - 3
	lines := c.Lines(unit, marks, width)
	enter := " Enter  " + marks.With(mark.Next, c.Next().Words)
	foot := []string{
		" " + rule("-", w),
		cut(enter, w),
		cut(" l limits  h history  n TEXT note  p tag  o other stage  g ground  q board", width-1),
		cut(" whole words: "+strings.Join(c.words(), "   "), w),
		" CAUTION  The edges are sharp. Hold the tool by the shank.",
	}
	if room := height - 1 - len(foot); len(lines) > room {
		lines = lines[:max(room, 1)]
	}
	for len(lines) < height-1-len(foot) {
		lines = append(lines, "")
	}
	return append(lines, foot...)
}

// words are the rulings that can be made on the tool as it stands.
func (c Card) words() []string {
	switch c.Standing {
	case record.StandsWithdrawn:
		return []string{"none: withdrawn is for good"}
	case record.StandsLocked:
		return []string{"unlock", "withdraw"}
	case record.StandsToSign:
		return []string{"release", "concession", "withdraw"}
	}
	if c.Standing == record.StandsToGrind || c.Standing == record.StandsRecalled {
		return []string{"concession", "withdraw"}
	}
	return []string{"withdraw"}
}

// FileName is a tool's id as a part of a file's name.
func FileName(id string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '.' {
			return r
		}
		return '_'
	}, id)
}
