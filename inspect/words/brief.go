package words

import (
	"strings"

	"flutelog/inspect"
)

const (
	briefOdd   = "Not two anvils: in the vee for {n} flutes, over the master, or in a ring."
	briefOne   = "Not a micrometer: over the master, twice the radius."
	briefNext  = "Slide to {from_end} and follow the same edge round. Do not touch the dial."
	briefSlide = "Point on the edge at its highest, dial to 0. Slide the table {distance}, tool still. Read the fall."
	briefFrom  = ", {from_end} from the end"
)

// Brief is what Ask says of where a reading is taken, in a few words for a screen that draws it too.
func Brief(k inspect.Key, flutes, place int, slid bool, s Slots) string {
	text := prompts[k.Feature].brief
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

// Does says what a reading of a feature does, in a sentence.
func Does(f inspect.Feature) string { return prompts[f].does }

// looks are where each sight is looked for, in as few words as stand beside a button.
var looks = map[inspect.Sight]string{
	inspect.Cracks: "clean it, wet it, wipe", inspect.Burn: "blue, straw or brown", inspect.ChippedCorner: "at the end: how far up",
	inspect.ChippedEdge: "up the flute: how long", inspect.BluntCorner: "worn round or bright",
	inspect.BentShank: "rolls unevenly on a plate", inspect.BurredShank: "by thumbnail round it",
}

// LooksBrief says in a few words where a sight is looked for.
func LooksBrief(s inspect.Sight) string { return looks[s] }
