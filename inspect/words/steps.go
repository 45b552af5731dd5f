package words

import (
	"fmt"
	"strings"

	"flutelog/inspect"
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
	}
	if s.Amount != nil {
		text += " (" + t.length(*s.Amount) + " on the radius)"
	}
	return text
}

// AssumedFact is the name of the facts that say what a plan took for want of a reading.
const AssumedFact = "Assumed"

// plan is the grind worked out, as facts.
func (t teller) plan() []Fact {
	p := t.j.Plan
	if p == nil {
		return nil
	}
	infeed := t.length(p.Infeed)
	if p.Divisions != nil && p.Division != nil {
		infeed += fmt.Sprintf(", %s of %s on the dial", divisions(*p.Divisions), t.length(*p.Division))
	} else {
		infeed += "; the bench file does not state the dial"
	}
	facts := []Fact{{"Infeed", infeed}}
	add := func(name, value string) { facts = append(facts, Fact{name, value}) }
	if words := t.planWords(); words != "" {
		add("Primary after", words)
	}
	if p.LastWithoutSecondary != nil {
		add("Without a secondary", withoutSecondary(*p.LastWithoutSecondary, t))
	}
	if p.DiameterAfter != nil {
		add("Diameter after", t.length(*p.DiameterAfter)+", from the diameter "+string(p.DiameterFrom))
	}
	if p.SecondaryInfeed != nil {
		add("Secondary infeed", t.length(*p.SecondaryInfeed)+", which brings the primary to the middle of its target")
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
		default:
			lines = append(lines, string(a.What)+" "+t.quantity(a.Value))
		}
	}
	return lines
}

var numberWords = []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

// Clears says what clearing the wear comes to: the divisions of the feed dial, the widest primary's share of the land
// after them, and whether that is over the share that calls for a secondary.
func Clears(n int, share float64, over bool) string {
	text := fmt.Sprintf("%d divisions clear", n)
	switch {
	case n == 1:
		text = "one division clears"
	case n < len(numberWords):
		text = numberWords[n] + " divisions clear"
	}
	text += fmt.Sprintf(" the wear; the primary will then be %.2f of the land", share)
	if over {
		return text + ": plan the secondary"
	}
	return text + ": the primary alone will do"
}
