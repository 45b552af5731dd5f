package words

import (
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Slots are what the words of a prompt are filled with. What is empty is left out with the words around it only where a
// prompt says so: whoever asks fills what it knows.
type Slots struct {
	Flute                                         int
	Distance, Turn, FromEnd                       string
	Expect, Last, Limit, Typed, Was, N, Tool, Who string
}

func (s Slots) fill(text string) string {
	if !strings.Contains(text, "{") {
		return text
	}
	return strings.NewReplacer("{flute}", strconv.Itoa(s.Flute), "{distance}", s.Distance, "{turn}", s.Turn, "{from_end}", s.FromEnd,
		"{expect}", s.Expect, "{last}", s.Last, "{limit}", s.Limit, "{typed}", s.Typed, "{was}", s.Was, "{n}", s.N, "{tool}", s.Tool, "{who}", s.Who).Replace(text)
}

// Care is what a hand is told before it goes near a machine or an edge.
type Care string

// What there is to take care of.
const (
	CareIndicating Care = "indicating"
	CareLoupe      Care = "loupe"
	CareTakenOut   Care = "taken out"
	CareDrop       Care = "drop"
	CareGrinding   Care = "grinding"
)

// Deference stands behind the first caution of a sitting.
const Deference = "Local codes, the machine's own book and qualified practice come first."

var cares = map[Care]string{
	CareIndicating: "Wheel stopped and isolated. Turn the tool backwards. The edges are sharp. No gloves near a running wheel.",
	CareLoupe:      "Wheel stopped. Draw the tool well clear of the wheel before you bring your face to it.",
	CareTakenOut:   "Wheel stopped and isolated before a hand goes to the collet. Hold the shank, never the flutes.",
	CareDrop:       "Here the tool turns the way it cuts, {turn} deg, with the contact already behind the edge. Do not run on to the next tooth.",
	CareGrinding:   "Not over the speed marked on the wheel. Guard on. The wheel must push the tooth onto its rest. Eyes covered, dust and mist drawn off, no gloves, no loose sleeve.",
}

// Caution returns what is said of it.
func (c Care) Caution(s Slots) string { return s.fill(cares[c]) }

// Asked is how a feature is asked for.
type Asked struct {
	Title    string // of the screen: RADIAL RUN-OUT
	Short    string // of a line in the table of readings
	Question string
	Contact  string // what comes to the tool: Contact, Loupe, Micrometer
	Where    string
	Cares    []Care
}

// prompts has all that is said of reading a feature: how it is asked, where the contact or loupe goes in as few words as a screen beside
// a picture wants, and what a reading of it does.
var prompts = map[inspect.Feature]struct {
	Asked
	brief, does string
}{
	inspect.ShankRunout: {Asked{
		"SHANK RUN-OUT", "shank run-out", "Shank, place {flute}: how high is it?", "Contact",
		"square on the bare shank, {from_end} from the end, off the flat and the marks; turn backwards {turn} deg a place, place 1 in line with flute 1.", []Care{CareIndicating},
	}, "Square on the bare shank, {from_end} from the end, off flat and marks. Turn backwards, {turn}° a place.", "Tells how far off its centre the tool is held, or leans."},
	inspect.RadialRunout: {Asked{
		"RADIAL RUN-OUT", "run-out", "Flute {flute}: how high at its highest?", "Contact",
		"on the primary of flute {flute}, {from_end} from the end; turn the tool BACKWARDS: the pointer climbs the land, is highest at the edge, then falls off. Take the highest.", []Care{CareIndicating},
	}, "On the edge, {from_end} from the end. Turn backwards to the highest.", "Sets the TIR; tells one high tooth from a tool held off."},
	inspect.AxialRunout: {Asked{
		"END TEETH, RUN-OUT", "end run-out", "End tooth {flute}: how high is it?", "Contact",
		"square to the end, on the end primary of tooth {flute}, {distance} out from the centre; tool pushed on its end stop, turned BACKWARDS to the highest.", []Care{CareIndicating},
	}, "Square on the end tooth, {distance} out from the centre, tool on its stop. Turn backwards to the highest.", "Sets the TIR of the ends; tells one tooth from a creep."},
	inspect.PrimaryLand: {Asked{
		"PRIMARY", "primary land", "Flute {flute}: how wide is the primary?", "Loupe",
		"square to the edge, lamp low so that the facet flashes; from the edge to the line where the flash ends.", []Care{CareLoupe},
	}, "Loupe square to the edge: from the edge to the ridge where the flash ends.", "With its land it says whether a secondary is needed."},
	inspect.Land: {Asked{
		"WHOLE LAND", "whole land", "Flute {flute}: how wide is the whole land?", "Loupe",
		"same setting, from the edge to where the land ends and the flute begins, secondary and all.", []Care{CareLoupe},
	}, "Same setting: from the edge to the end of the land, secondary and all.", "With its primary it says whether a secondary is needed."},
	inspect.EndPrimaryLand: {Asked{
		"END TEETH, PRIMARY", "end primary", "End tooth {flute}: how wide is the primary?", "Loupe",
		"straight on the end, {distance} out from the centre, square to the end edge; from the edge to where the flash ends.", []Care{CareLoupe},
	}, "Loupe straight on the end, {distance} out: from the edge to where the flash ends.", "With its land it says whether the ends need a secondary."},
	inspect.EndLand: {Asked{
		"END TEETH, WHOLE LAND", "end land", "End tooth {flute}: how wide, whole land?", "Loupe",
		"same place, from the edge to the end of the land; stop at the gash.", []Care{CareLoupe},
	}, "Same place: from the edge to the end of the land; stop at the gash.", "With its primary it says whether the ends need a secondary."},
	inspect.WearLand: {Asked{
		"WEAR", "wear", "Flute {flute}: how wide is the wear?", "Loupe",
		"on the shiny strip behind the edge of flute {flute}, the DEEPEST place, corner included. No wear is a reading: 0.", []Care{CareLoupe},
	}, "Loupe on the shiny strip behind the edge: the deepest place, corner too. None is 0.", "Sets how much must come off."},
	inspect.ReliefDrop: {Asked{
		"RELIEF DROP on the primary", "relief drop", "Flute {flute}: how far does it fall?", "Contact",
		"pointed, on the edge of flute {flute}, {from_end} from the end, at the highest point. Set the dial to 0. Turn the tool {turn} deg THE WAY IT CUTS, so that the contact goes {distance} back on the primary. Read the fall.", []Care{CareIndicating, CareDrop},
	}, "Point on the edge at its highest, dial to 0. Turn {turn}° the way it cuts, {distance} back. Read the fall.", "Comes to the relief angle behind the edge."},
	inspect.SecondaryDrop: {Asked{
		"RELIEF DROP on the secondary", "secondary drop", "Flute {flute}: secondary's fall from the heel?", "Contact",
		"pointed, on the heel of the primary of flute {flute}, the line where the flash ends. Set the dial to 0. Turn the tool {turn} deg THE WAY IT CUTS, {distance} on. Read the fall.", []Care{CareIndicating, CareDrop},
	}, "Point on the heel, dial to 0. Turn {turn}° the way it cuts, {distance} on. Read the fall.", "Comes to the clearance behind the heel."},
	inspect.EndReliefDrop: {Asked{
		"END TEETH, RELIEF DROP", "end relief drop", "End tooth {flute}: how far does it fall?", "Contact",
		"pointed, on the end edge of tooth {flute}, in from the corner. Dial to 0. Slide square to that edge by {distance}, the tool held still. Read the fall.", []Care{CareIndicating},
	}, "Point on the end edge, dial to 0. Slide {distance} square to it, tool still. Read the fall.", "Comes to the relief angle of the end tooth."},
	inspect.EndSecondaryDrop: {Asked{
		"END TEETH, SECONDARY DROP", "end secondary drop", "End tooth {flute}: secondary's fall from heel?", "Contact",
		"pointed, on the end heel of tooth {flute}, in from the corner. Dial to 0. Slide square to that edge by {distance}, the tool held still. Read the fall.", []Care{CareIndicating},
	}, "Point on the end heel, dial to 0. Slide {distance} square to the edge, tool still. Read the fall.", "Comes to the clearance of the end tooth."},
	inspect.Dish: {Asked{
		"DISH", "dish", "End tooth {flute}: fall toward the centre?", "Contact",
		"on the end edge of tooth {flute} just inside the corner. Dial to 0. Slide along the edge toward the centre by {distance}. Read the fall.", []Care{CareIndicating},
	}, "Just inside the corner, dial to 0. Slide {distance} along the edge to the centre. Read the fall.", "Says that the end is lowest in the middle."},
	inspect.Diameter: {Asked{
		"DIAMETER", "diameter", "How big is it, over the edges?", "Micrometer",
		"square across the edges of two opposite flutes, closed by its ratchet, tool eased backwards to the biggest; then the other pairs. Type the biggest. Ease it: anvils dropped on an edge chip the tool.", []Care{CareTakenOut},
	}, "Square over two opposite edges, by the ratchet: the biggest of all pairs. Ease it.", "Goes on the tag, and counts the regrinds that are left."},
	inspect.Master: {Asked{
		"MASTER PIN", "master", "Master pin: what does the indicator read?", "Contact",
		"over the pin, wiped, at the place used for the tool; the highest.", []Care{CareIndicating},
	}, "Over the wiped pin, at the tool's place: the highest.", "Shows that the gauge still reads what it should."},
	inspect.Length: {Asked{
		"LENGTH", "length", "From the shank's end to the tip?", "Gauge",
		"tool on its shank end on a clean plate, height gauge on the highest end tooth. The whole tool, not what stands out of the collet.", []Care{CareTakenOut},
	}, "Shank end on a clean plate; gauge on the highest end tooth. The whole tool.", "Says how much was cut back."},
}

const (
	oddMicrometer = "not two anvils: they never meet two edges of {n} flutes. In the vee made for {n} flutes, or over the master; type the size that it comes to."
	oneEdge       = "not a micrometer: one flute has no edge across from it. Over the master pin, twice the radius; type the size that it comes to."
	nextPlace     = "slide along to {from_end} and follow the SAME edge round: there it has gone on. Do not touch the dial."
	noPlace       = ", {from_end} from the end"
	reseated      = "tool OUT of the fixture; shank, collet or vee wiped; the tool seated on its shank. Then on the primary of flute {flute}, {from_end} from the end; turn it BACKWARDS and take the highest."
	slideHeel     = "pointed, on the heel of the primary of flute {flute}, the line where the flash ends. Set the dial to 0. Slide the table across by {distance}, the tool held still. Read the fall."
	slideDrop     = "pointed, on the edge of flute {flute}, {from_end} from the end, at the highest point. Set the dial to 0. Slide the table across by {distance}, the tool held still. Read the fall."
)

// Ask returns how a reading is asked for. Place counts the distances from the end, from 0; slid says that a drop is read
// by sliding the table.
func Ask(k inspect.Key, flutes, place int, slid bool, s Slots) Asked {
	a := prompts[k.Feature].Asked
	switch {
	case k.Feature == inspect.Diameter && flutes == 1:
		a.Contact, a.Where = "Gauge", oneEdge
	case k.Feature == inspect.Diameter && flutes%2 == 1:
		a.Contact, a.Where = "Gauge", oddMicrometer
	case k.OnShank:
		a.Title, a.Where, a.Cares = "RUN-OUT, SEATED ON THE SHANK", reseated, []Care{CareTakenOut, CareIndicating}
	case k.Feature == inspect.RadialRunout && place > 0:
		a.Question, a.Where = "Same flute {flute}, {from_end} up: how high?", nextPlace
	case k.Feature == inspect.ReliefDrop && slid:
		a.Where, a.Cares = slideDrop, []Care{CareIndicating}
	case k.Feature == inspect.SecondaryDrop && slid:
		a.Where, a.Cares = slideHeel, []Care{CareIndicating}
	}
	if s.FromEnd == "" {
		a.Where = strings.ReplaceAll(a.Where, noPlace, "")
	}
	if k.Closing {
		a.Question = strings.Replace(a.Question, ":", " once more:", 1)
	}
	a.Question, a.Where = s.fill(a.Question), s.fill(a.Where)
	return a
}

// Short names a feature in a line of a table.
func Short(f inspect.Feature) string { return prompts[f].Short }

// Named names a reading for a person: run-out, flute 3, round 2.
func Named(k inspect.Key) string {
	name := Short(k.Feature)
	switch {
	case k.Closing:
		return name + ", " + k.Feature.Spot(1) + " once more"
	case k.Flute > 0:
		name += ", " + k.Feature.Spot(k.Flute)
	}
	if k.OnShank {
		name += ", on the shank"
	}
	if k.Repeat > 1 {
		name += ", round " + strconv.Itoa(k.Repeat)
	}
	return name
}

// BackwardOrder says why flutes are not asked in their order.
func BackwardOrder(order string) string {
	return "Order " + order + ": the tool turns backwards, so the last flute comes after the 1st."
}

// SightAsked is how one sight is asked for.
type SightAsked struct {
	Sight inspect.Sight
	Name  string
	Where string
}

// SightsAsked returns how the sights are asked for, in the order of their numbers.
func SightsAsked() []SightAsked {
	var all []SightAsked
	for _, s := range inspect.Sights {
		all = append(all, sights[s])
	}
	return all
}

var sights = map[inspect.Sight]SightAsked{
	inspect.Cracks:        {inspect.Cracks, "crack", "clean it; flutes, corners, shank; wet it and wipe: a crack stays dark"},
	inspect.Burn:          {inspect.Burn, "burn", "blue, straw or brown on a land, an end or a corner"},
	inspect.ChippedCorner: {inspect.ChippedCorner, "chipped corner", "a piece out of the corner where end and flute meet: how far up, as  3 .015"},
	inspect.ChippedEdge:   {inspect.ChippedEdge, "chipped edge", "a piece out of the edge away from the corner: give its length along the edge, as  4 .015"},
	inspect.BluntCorner:   {inspect.BluntCorner, "blunt corner", "corner rounded or shiny, nothing broken out"},
	inspect.BentShank:     {inspect.BentShank, "bent shank", "roll the shank on a clean flat plate: light under it?"},
	inspect.BurredShank:   {inspect.BurredShank, "burr, score", "run a thumbnail round the shank, never along an edge"},
}

// Like puts what stands in a text as an example into the unit in force: examples are written in inches, as they are typed there.
func Like(text string, unit length.Unit) string {
	if !unit.Metric() {
		return text
	}
	return examples.Replace(text)
}

// examples are what is given as examples in inches, as a metric shop would type it.
var examples = strings.NewReplacer(
	".0431", "1.09", ".4962", "12.60", ".015", "0.4", ".001", "0.02", ".005", "0.1", ".0001", "0.002", ".0005", "0.01",
	"1 tenth", "2um", "3t, 12.7um, 0.5\", 13/32", "12.7um, 0.5in, 13/32in", "Some thou", "Some hundredths", "0.002 in", "0.05 mm", "6 inches", "150 mm", "cup 4, 4,", "cup 100, 100,")

// ChippedRound is where a chip of the end is looked for where end and flute meet in no corner.
const ChippedRound = "a piece out of the round of the end: how far up from its tip, and the flute, as  3 .015 f2"

// TooShort says before a drop is read that turning by eye cannot settle the relief over so short a distance: it is slid, or should be.
func TooShort(distance string, slid bool) string {
	text := "Turned by eye, " + distance + " is too short a way to settle the relief: "
	if slid {
		return text + "the table is slid."
	}
	return text + "what is read stays open.  slide  slides the table instead."
}
