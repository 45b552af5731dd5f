package words

import (
	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Look says how a drop is to be read and what it should come to: 0.0200 in behind the edge, turned 4.6 deg; look for a
// fall of 0.00234 in to 0.00340 in.
func Look(l inspect.Look, unit length.Unit) string {
	text := l.Distance.In(unit) + " behind the edge"
	if l.Feature == inspect.SecondaryDrop || l.Feature == inspect.EndSecondaryDrop {
		text = l.Distance.In(unit) + " behind the heel of the primary"
	}
	if l.Turn != nil {
		text += ", turned " + l.Turn.Format(1) + " deg the way it cuts"
	} else {
		text += ", slid across, the tool held still"
	}
	switch {
	case l.TooNarrow:
		text += "; too narrow for an indicator to tell the band's ends apart: a fall at all is looked for"
	case l.Least != nil && l.Most != nil:
		text += "; look for a fall of " + l.Least.In(unit) + " to " + l.Most.In(unit)
	}
	return text
}
