package words

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// away says what a step that is sent out for wants, and why.
var away = map[inspect.Do]string{
	inspect.DoCutBack: "to be cut back: this grinder does not cut ends back",
	inspect.DoGash:    "to be gashed: the gash is not set here",
	inspect.DoFace:    "to be ground on its faces: no dish wheel down the flutes here",
	inspect.DoCorner:  "to have its corners chamfered",
	inspect.DoForm:    "to have its ends blended: there is no radius or ball fixture here; ground on the flutes only, the blend is broken as the diameter falls, and a concession must take it",
}

// WrongWheel says why a wheel must not grind, a reason a line; none where it may.
func WrongWheel(u inspect.WheelUse) []string {
	var why []string
	of := ""
	if u.Name != "" {
		of = " for " + u.Name
	}
	if u.OverMarked {
		why = append(why, fmt.Sprintf("TOO FAST%s: %d turns a minute, and it is marked %d, which is never exceeded", of, u.RPM, u.MarkedRPM))
	}
	if u.OverUsual {
		why = append(why, fmt.Sprintf("TOO FAST%s: %.0f ft/min; wheels of its bond usually run at %.0f at most, and the speed marked on the wheel always governs", of, u.Speed.FeetPerMinute(), geometry.UsualSpeed(u.Bond).FeetPerMinute()))
	}
	if u.NotFor {
		why = append(why, fmt.Sprintf("WRONG WHEEL: %s is not for this material", u.Name))
	}
	return why
}

// wheelWords says which wheel grinds, and at what speed; of several that may, that it is to be named.
func wheelWords(s inspect.Step) string {
	u := s.Wheel
	switch {
	case u == nil && len(s.Either) > 0:
		var marked []string
		for _, w := range s.Either {
			marked = append(marked, fmt.Sprintf("%s, marked %d", w.Name, w.MarkedRPM))
		}
		turns := ""
		if rpm := s.Either[0].RPM; rpm > 0 {
			turns = fmt.Sprintf(", at %d turns a minute", rpm)
		}
		return " Wheel " + strings.Join(marked, ", or ") + turns + ": say which, once it is ground."
	case u == nil:
		return ""
	case u.RPM == 0:
		return fmt.Sprintf(" Wheel %s, marked %d turns a minute.", u.Name, u.MarkedRPM)
	}
	return fmt.Sprintf(" Wheel %s at %d turns a minute, marked %d.", u.Name, u.RPM, u.MarkedRPM)
}

// step says a step, of one that grinds first why its wheel must not, and at its end which wheel it is.
func (t teller) step(s inspect.Step) string {
	text := ""
	if s.Wheel != nil {
		for _, why := range WrongWheel(*s.Wheel) {
			text += why + ". "
		}
	}
	switch {
	case s.Do == inspect.DoForm && s.Sight != "":
		text += t.formBack(s)
	case s.Away:
		return "Send it out " + away[s.Do] + "; note where it went and when."
	default:
		text += t.work(s)
	}
	text += wheelWords(s)
	if rpm := t.in.Basis.SpindleRPM; s.Do == inspect.DoGash && rpm > 0 {
		text += fmt.Sprintf(" It turns at %d a minute here: never over the speed marked on that thin wheel.", rpm)
	}
	return text + t.rounds(s)
}

// work says what is done in a step.
func (t teller) work(s inspect.Step) string {
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
		return "Cut the end back square by " + t.length(*s.Amount) + ", the chip and the wear of the corner: no end grind reaches under a chip."
	case inspect.DoGash:
		text := "Gash between the end teeth with a thin wheel, to the old depth"
		if t.in.Tool.CentreCutting {
			text += "; the long tooth over the centre, the short ones stopped short of it"
		}
		return text + ". Index by the plate."
	case inspect.DoFace:
		text := "Grind the face of every flute, all alike"
		if s.Amount != nil {
			text += ", " + t.length(*s.Amount) + " off each"
		}
		if s.Rest != nil {
			text += ": the dish wheel's face " + t.length(*s.Rest) + " off the tool's centre, touching the face only, not the root"
		}
		return text + "; index by the plate, first touch on the tooth with the least face left; leave land, relief and crests alone."
	case inspect.DoPrimary:
		return "Primary of the " + string(s.Where) + t.setting(s) + "."
	case inspect.DoLook:
		switch {
		case s.Sight.Chip() && s.Divisions == nil && !t.in.Tool.HasEndTeeth() && s.Where == inspect.OnEnds:
			return "Wheel stopped, tool drawn back, LOOK by loupe at the " + t.form() + ", flute by flute: is the chip gone? If not, that much further back."
		case s.Sight.Chip():
		case s.Sight != "":
			return "Look for " + strings.ReplaceAll(string(s.Sight), "-", " ") + " again, by name."
		}
		stopped := "Wheel stopped"
		if s.Divisions != nil && *s.Divisions > 0 {
			stopped = "After " + divisions(*s.Divisions) + ": wheel stopped"
		}
		gone := "is the wear gone?"
		if s.Sight.Chip() {
			gone = "are the wear and the chip gone?"
		}
		return stopped + ", tool drawn back, LOOK: " + gone + " If not, one division more, and look: one too many costs a regrind."
	case inspect.DoBetween:
		return "Leave the tool in the fixture: read primary, land and relief drop between the grinds."
	case inspect.DoSecondary:
		return "Secondary of the " + string(s.Where) + t.setting(s) + ". Stop short of the edge."
	case inspect.DoCorner:
		return "Chamfer the corners" + t.setting(s) + Like(", the relief of the primary, equal divisions on all; then the width of each by loupe, alike within 0.002 in.", t.unit)
	case inspect.DoForm:
		return "Blend the ends in the radius fixture, its pivot set to the radius from both faces: no step to feel on the body side."
	case inspect.DoDeburr:
		return "Burr off with a stick of wood or a brass wire along the face, no file."
	case inspect.DoRead:
		const conceded = "The form of the end is not looked at here: one who may sign lets it out by concession, for what work and why."
		read := slices.DeleteFunc(slices.Clone(s.Items), func(i inspect.Item) bool { return i == inspect.EndForm })
		if len(read) == 0 && len(s.Items) > 0 {
			return conceded
		}
		text := "Read just these: " + items(read)
		if slices.ContainsFunc(t.j.Findings, func(f inspect.Finding) bool { return f.Why != nil && f.Why.What == inspect.DistanceCoarse }) {
			text += ", slid and not turned"
		}
		if len(read) < len(s.Items) {
			return text + ". " + conceded
		}
		return text + "."
	case inspect.DoFiner:
		for _, r := range t.in.Readings {
			if slices.Contains(s.Items, inspect.Item(r.Feature)) && t.in.Basis.Gauges[r.Gauge].Resolution == 0 {
				return "Look at the dial: what was read for " + r.Feature.Name() + " tells no division finer than " + t.length(t.in.Step(r.Feature)) + ". If it has one, state it (resolution, in the bench file) and inspect again; if not, another gauge, or one who may sign decides."
			}
		}
		return "Another gauge for " + items(s.Items) + ", finer or studied: no reading with this one settles it. Or one who may sign decides."
	case inspect.DoInspect:
		return "The inspection after the grind, untouched in the fixture."
	case inspect.DoSign:
		return "Sign, tag, sleeve."
	}
	return "Oil it, sleeve it, back to the rack."
}

// form names the form of an end without end teeth.
func (t teller) form() string {
	if t.in.Tool.Ends == inspect.RadiusEnd {
		return "corner radius"
	}
	return string(t.in.Tool.Ends)
}

// formBack says that the form of the end is ground back past a chip.
func (t teller) formBack(s inspect.Step) string {
	back := " ground back by as much as the chip goes up: measure it"
	if s.Amount != nil {
		back = " ground back by " + t.length(*s.Amount) + ", past the chip"
	}
	if s.Away {
		return "Send it out to have its " + t.form() + back + ", and blended into the flutes: there is no radius or ball fixture here, and no grind of the flutes reaches the chip; note where it went and when."
	}
	return "In the radius or ball fixture: the " + t.form() + back + ", all flutes alike, and blended into the flutes: no step to feel on the body side."
}

// setting is how a face is set up and how far it is fed.
func (t teller) setting(s inspect.Step) string {
	text := ""
	switch {
	case s.Angle == nil:
	case s.Do == inspect.DoCorner:
		text += " at " + s.Angle.Format(0) + " deg"
	default:
		text += ", " + s.Angle.Format(2) + " deg of relief"
		if s.Normal != nil {
			text += " (" + s.Normal.Format(2) + " square to the edge)"
		}
	}
	if s.Tilt != nil && s.Swivel != nil {
		text += fmt.Sprintf(": tilt %s, swivel %s deg for the dish, the tooth on its rest level with the centre", s.Tilt.Format(2), s.Swivel.Format(2))
	} else if s.Swivel != nil {
		text += ", the table swivelled " + s.Swivel.Format(2) + " deg for the taper"
	}
	if s.Rest != nil {
		text += ": cup wheel, rest " + t.length(*s.Rest) + " under the centre"
	}
	if s.AtEnd != nil && s.AtBack != nil {
		text += fmt.Sprintf(", right in the middle of the taper: %s deg at the end, %s toward the shank, read the drop at both", s.AtEnd.Format(2), s.AtBack.Format(2))
		if t.in.Tool.Edges == nil {
			text += " (edges taken as two diameters long, " + t.length(t.in.Tool.EdgeLength()) + ": not told)"
		}
	}
	if s.Plate {
		text += ", indexed by the plate"
	}
	if s.Left {
		text += ", left-hand cut: the rest on the other side, the thrust tried by hand with the wheel stopped"
	}
	if s.Lock {
		text += ", helix against the cut: lock it endways"
	}
	switch {
	case s.Touch > 0 && s.Do == inspect.DoSecondary:
		text += fmt.Sprintf("; first touch on the widest primary, flute %d", s.Touch)
	case s.Touch > 0 && t.in.Tool.Flutes > 1:
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
		if s.Where == inspect.OnEnds {
			text = strings.TrimSuffix(text, "on the radius)") + "along the axis)"
		}
	}
	return text
}

// rounds says in which order the flutes are ground, how it is sparked out and what is read then.
func (t teller) rounds(s inspect.Step) string {
	if len(s.Order) == 0 {
		return ""
	}
	text := ""
	if len(s.Order) > 1 {
		text = fmt.Sprintf(" Flutes %s, every round", numbers(s.Order))
		if s.SparkOuts > 0 && len(s.Last) > 1 {
			text += fmt.Sprintf("; spark out %s, the last round %s", times(s.SparkOuts), numbers(s.Last))
		}
		text += "."
	} else if s.SparkOuts > 0 {
		text = " Spark out " + times(s.SparkOuts) + "."
	}
	if len(s.Check) > 0 {
		text += " Check: " + items(s.Check) + "."
	}
	return text
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return numberWords[n] + " times"
}

func numbers(ns []int) string {
	var text []string
	for _, n := range ns {
		text = append(text, fmt.Sprint(n))
	}
	return strings.Join(text, " ")
}

// AssumedFact is the name of the facts that say what a plan took for want of a reading.
const AssumedFact = "Assumed"

// plan is the grind worked out, as facts, of each part that is ground so: of the flutes, and of the ends behind it. Where the
// flutes are not, it is said how many regrinds are left.
func (t teller) plan() []Fact {
	var facts []Fact
	if p := t.j.Plan; t.j.FeedsPrimary(inspect.OnFlutes) {
		facts = t.planFacts(p, "")
	} else if p != nil && p.RegrindsLeft != nil {
		facts = []Fact{{"Regrinds left", fmt.Sprint(*p.RegrindsLeft)}}
	}
	if t.j.FeedsPrimary(inspect.OnEnds) {
		facts = append(facts, t.planFacts(t.j.EndPlan, "Ends: ")...)
	}
	return facts
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
