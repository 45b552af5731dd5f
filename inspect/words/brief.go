package words

import (
	"strings"

	"flutelog/inspect"
)

// brief is where the contact or loupe goes, in as few words as a screen beside a picture wants.
var brief = map[inspect.Feature]string{
	inspect.ShankRunout:      "Square on the bare shank, {from_end} from the end, off flat and marks. Turn backwards, {turn}° a place.",
	inspect.RadialRunout:     "On the edge, {from_end} from the end. Turn backwards to the highest.",
	inspect.AxialRunout:      "Square on the end tooth, {distance} out from the centre, tool on its stop. Turn backwards to the highest.",
	inspect.PrimaryLand:      "Loupe square to the edge: from the edge to the ridge where the flash ends.",
	inspect.Land:             "Same setting: from the edge to the end of the land, secondary and all.",
	inspect.EndPrimaryLand:   "Loupe straight on the end, {distance} out: from the edge to where the flash ends.",
	inspect.EndLand:          "Same place: from the edge to the end of the land; stop at the gash.",
	inspect.WearLand:         "Loupe on the shiny strip behind the edge: the deepest place, corner too. None is 0.",
	inspect.ReliefDrop:       "Point on the edge at its highest, dial to 0. Turn {turn}° the way it cuts, {distance} back. Read the fall.",
	inspect.SecondaryDrop:    "Point on the heel, dial to 0. Turn {turn}° the way it cuts, {distance} on. Read the fall.",
	inspect.EndReliefDrop:    "Point on the end edge, dial to 0. Slide {distance} square to it, tool still. Read the fall.",
	inspect.EndSecondaryDrop: "Point on the end heel, dial to 0. Slide {distance} square to the edge, tool still. Read the fall.",
	inspect.Dish:             "Just inside the corner, dial to 0. Slide {distance} along the edge to the centre. Read the fall.",
	inspect.Diameter:         "Square over two opposite edges, by the ratchet: the biggest of all pairs. Ease it.",
	inspect.Master:           "Over the wiped pin, at the tool's place: the highest.",
	inspect.Length:           "Shank end on a clean plate; gauge on the highest end tooth. The whole tool.",
}

const (
	briefOdd   = "Not two anvils: in the vee for {n} flutes, over the master, or in a ring."
	briefOne   = "Not a micrometer: over the master, twice the radius."
	briefNext  = "Slide to {from_end} and follow the same edge round. Do not touch the dial."
	briefSlide = "Point on the edge at its highest, dial to 0. Slide the table {distance}, tool still. Read the fall."
	briefFrom  = ", {from_end} from the end"
)

// Brief is what Ask says of where a reading is taken, in a few words for a screen that draws it too.
func Brief(k inspect.Key, flutes, place int, slid bool, s Slots) string {
	text := brief[k.Feature]
	switch {
	case k.Feature == inspect.Diameter && flutes == 1:
		text = briefOne
	case k.Feature == inspect.Diameter && flutes%2 == 1:
		text = briefOdd
	case k.Feature == inspect.RadialRunout && place > 0:
		text = briefNext
	case k.Feature == inspect.ReliefDrop && slid:
		text = briefSlide
	}
	if s.FromEnd == "" {
		text = strings.Replace(text, briefFrom, "", 1)
	}
	return s.fill(text)
}

// does is what a reading of a feature does.
var does = map[inspect.Feature]string{
	inspect.ShankRunout:      "Tells how far off its centre the tool is held, or leans.",
	inspect.RadialRunout:     "Sets the TIR; tells one high tooth from a tool held off.",
	inspect.AxialRunout:      "Sets the TIR of the ends; tells one tooth from a creep.",
	inspect.PrimaryLand:      "With its land it says whether a secondary is needed.",
	inspect.Land:             "With its primary it says whether a secondary is needed.",
	inspect.EndPrimaryLand:   "With its land it says whether the ends need a secondary.",
	inspect.EndLand:          "With its primary it says whether the ends need a secondary.",
	inspect.WearLand:         "Sets how much must come off.",
	inspect.ReliefDrop:       "Comes to the relief angle behind the edge.",
	inspect.SecondaryDrop:    "Comes to the clearance behind the heel.",
	inspect.EndReliefDrop:    "Comes to the relief angle of the end tooth.",
	inspect.EndSecondaryDrop: "Comes to the clearance of the end tooth.",
	inspect.Dish:             "Says that the end is lowest in the middle.",
	inspect.Diameter:         "Goes on the tag, and counts the regrinds that are left.",
	inspect.Master:           "Shows that the gauge still reads what it should.",
	inspect.Length:           "Says how much was cut back.",
}

// Does says what a reading of a feature does, in a sentence.
func Does(f inspect.Feature) string { return does[f] }

// looks are where each sight is looked for, in as few words as stand beside a button.
var looks = map[inspect.Sight]string{
	inspect.Cracks: "clean it, wet it, wipe", inspect.Burn: "blue, straw or brown", inspect.ChippedCorner: "at the end: how far up",
	inspect.ChippedEdge: "up the flute: how long", inspect.BluntCorner: "worn round or bright",
	inspect.BentShank: "rolls unevenly on a plate", inspect.BurredShank: "by thumbnail round it",
}

// LooksBrief says in a few words where a sight is looked for.
func LooksBrief(s inspect.Sight) string { return looks[s] }
