package words

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// steps are the work as it is done, one line each.
func (t teller) steps() []string {
	var lines []string
	for _, s := range t.j.Steps {
		lines = append(lines, t.step(s))
	}
	return lines
}

func (t teller) step(s inspect.Step) string {
	switch s.Do {
	case inspect.DoLockAway:
		return "Put it down. Red tag, locked box, show it to one who may sign: it can fly apart under the wheel or in the machine."
	case inspect.DoScrap:
		return "Break or paint it, red box, record who."
	case inspect.DoRename:
		return "Say what it becomes: a smaller tool under a new number and tag; or withdraw it."
	case inspect.DoStone:
		return "Wheel stopped. Fine stone round the shank: no collet holds a burr true. Wipe it."
	case inspect.DoSeat:
		return "Wheel stopped and isolated. Take the tool out, wipe collet, shank and nose, seat it; read the run-out only again."
	case inspect.DoReadShank:
		return "Read the shank at two places: a bent shank or a bad collet?"
	case inspect.DoCutBack:
		if s.Amount == nil {
			return "Cut the end back square past the chip: measure how far up it goes. Gash, then the ends as new."
		}
		return "Cut the end back square by " + t.length(*s.Amount) + ": no end grind reaches under a chip. Gash, then the ends as new."
	case inspect.DoFace:
		text := "Grind the face of every flute, all alike"
		if s.Amount != nil {
			text += ", " + t.length(*s.Amount) + " off each"
		}
		return text + "; leave land, relief and crests alone."
	case inspect.DoPrimary:
		return "Primary of the " + string(s.Where) + t.setting(s) + "."
	case inspect.DoLook:
		if s.Sight != "" {
			return "Look for " + strings.ReplaceAll(string(s.Sight), "-", " ") + " again, by name."
		}
		return "Spark out. Stop the wheel, draw the tool back, LOOK: is the wear gone? If not, one division more, and look."
	case inspect.DoBetween:
		return "Leave the tool in the fixture: read primary, land and relief drop between the grinds."
	case inspect.DoSecondary:
		return "Secondary of the " + string(s.Where) + t.setting(s) + ". Stop short of the edge."
	case inspect.DoRead:
		return "Read just these: " + items(s.Items) + "."
	case inspect.DoInspect:
		return "Spark out, then the inspection after the grind."
	case inspect.DoSign:
		return "Sign, tag, sleeve."
	}
	return "Oil it, sleeve it, back to the rack."
}

// setting is how a face is set up and how far it is fed.
func (t teller) setting(s inspect.Step) string {
	text := ""
	if s.Angle != nil {
		text += ", " + s.Angle.Format(2) + " deg of relief"
	}
	switch {
	case s.Touch > 0 && s.Do == inspect.DoSecondary:
		text += fmt.Sprintf("; first touch on the widest primary, flute %d", s.Touch)
	case s.Touch > 0:
		text += fmt.Sprintf("; first touch on flute %d, then all alike", s.Touch)
	}
	if s.Divisions != nil {
		text += ", " + divisions(*s.Divisions)
		if s.Ratio != nil {
			text += fmt.Sprintf(", which leave %.2f of the land", *s.Ratio)
		}
	}
	if s.Amount != nil {
		text += " (" + t.length(*s.Amount) + " on the radius)"
	}
	return text
}

// AssumedFact is the name of the facts that say what a plan took for want of a reading.
const AssumedFact = "Assumed"

// plan is the grind worked out, as facts: of the flutes, and of the ends behind it.
func (t teller) plan() []Fact {
	facts := t.planFacts(t.j.Plan, "")
	if t.j.EndPlan != nil && t.groundOn(inspect.OnEnds) {
		facts = append(facts, t.planFacts(t.j.EndPlan, "Ends: ")...)
	}
	return facts
}

// groundOn says whether the work is on a part.
func (t teller) groundOn(where inspect.Where) bool {
	return slices.ContainsFunc(t.j.Work, func(w inspect.Work) bool { return w.Where == where })
}

// PlanFacts says a grind worked out for its own sake, in the limits it was planned by.
func PlanFacts(p inspect.Grind, limits inspect.Limits, unit length.Unit) []Fact {
	t := teller{in: inspect.Inspection{Basis: inspect.Basis{Limits: limits}}, unit: unit}
	return t.planFacts(&p, "")
}

func (t teller) planFacts(p *inspect.Grind, of string) []Fact {
	if p == nil {
		return nil
	}
	infeed := t.length(p.Infeed)
	infeed += " from first touch"
	if p.Touch > 0 {
		infeed += fmt.Sprintf(" on flute %d", p.Touch)
	}
	if p.Divisions != nil && p.Division != nil {
		infeed += fmt.Sprintf(", %s of %s on the dial", divisions(*p.Divisions), t.length(*p.Division))
	} else {
		infeed += "; what a division of the dial does is not stated"
	}
	if p.Uneven {
		infeed += "; the run-out sets it, not the wear"
	}
	var facts []Fact
	add := func(name, value string) {
		if of != "" {
			name = of + strings.ToLower(name[:1]) + name[1:]
		}
		facts = append(facts, Fact{name, value})
	}
	add("Infeed", infeed)
	if words := t.planWords(p); words != "" {
		add("Primary after", words)
	}
	if p.LastWithoutSecondary != nil {
		add("Without a secondary", withoutSecondary(*p.LastWithoutSecondary, t))
	}
	if p.DiameterAfter != nil {
		after := t.length(*p.DiameterAfter) + ", from the diameter " + string(p.DiameterFrom)
		if p.DiameterAfterLeast != nil {
			after = t.length(*p.DiameterAfter) + " where it was read over the deepest wear, " + t.length(*p.DiameterAfterLeast) + " where over none"
		}
		if p.MaySmallAfter {
			after += "; it may fall under the smallest: read it after"
		}
		add("Diameter after", after)
	}
	if p.HeelAfter != nil {
		if p.RubsAfter {
			add("Heel after", "IT RUBS: "+t.length(-*p.HeelAfter)+" proud of the cutting circle")
		} else {
			add("Heel after", t.length(*p.HeelAfter)+" under the cutting circle")
		}
	}
	if p.SecondaryInfeed != nil {
		text := t.length(*p.SecondaryInfeed) + " from first touch"
		if p.SecondaryTouch > 0 {
			text += fmt.Sprintf(" on flute %d, the widest primary", p.SecondaryTouch)
		}
		if p.SecondaryDivisions != nil {
			text += fmt.Sprintf("; %s bring it nearest the target, to %.3f of the land", divisions(*p.SecondaryDivisions), *p.SecondaryRatio)
		}
		add("Secondary infeed", text)
	}
	if p.RegrindsLeft != nil {
		add("Regrinds left", fmt.Sprint(*p.RegrindsLeft))
	}
	for _, a := range t.assumed(p.Assumed) {
		add(AssumedFact, a)
	}
	return facts
}

func withoutSecondary(n int, t teller) string {
	most := t.in.Basis.Limits.MostShare().Quantity()
	switch {
	case n < 0:
		return "none: the share is over " + t.quantity(&most) + " already"
	case n == 0:
		return "no division"
	}
	return fmt.Sprintf("up to division %d the share stays within %s", n, t.quantity(&most))
}

// assumed says what a plan took for want of a reading.
func (t teller) assumed(all []inspect.Assumption) []string {
	var lines []string
	for _, a := range all {
		switch a.What {
		case inspect.AssumedEvenTeeth:
			lines = append(lines, "even teeth, for no heights were read in the grinding fixture; uneven teeth will need more")
		case inspect.AssumedDiameter:
			lines = append(lines, "nominal diameter "+t.quantity(a.Value)+", for none was read")
		case inspect.AssumedEndWear:
			lines = append(lines, "end teeth worn as deep as the deepest place of the flutes")
		default:
			lines = append(lines, string(a.What)+" "+t.quantity(a.Value))
		}
	}
	return lines
}

var numberWords = []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

// Clears says in a line what clearing the wear comes to: the divisions of the feed dial or the infeed, the widest
// primary's share of the land after it, and whether a secondary is to be planned.
func Clears(p inspect.Grind, unit length.Unit) string {
	text := "an infeed of " + p.Infeed.In(unit) + " from first touch clears"
	if p.Divisions != nil {
		switch n := *p.Divisions; {
		case n == 1:
			text = "one division clears"
		case n < len(numberWords):
			text = numberWords[n] + " divisions clear"
		default:
			text = fmt.Sprintf("%d divisions clear", n)
		}
	}
	text += fmt.Sprintf(" the wear; the primary will then be %.2f of the land", *p.RatioAfter)
	switch {
	case p.RubsAfter:
		return text + " and its heel rubs: plan the secondary"
	case p.OverAfter:
		return text + ": plan the secondary"
	}
	return text + ": the primary alone will do"
}
