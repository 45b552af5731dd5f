package words

import (
	"fmt"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

var figureNames = map[inspect.Feature]string{
	inspect.ShankRunout:      "shank run-out (TIR)",
	inspect.RadialRunout:     "radial run-out (TIR)",
	inspect.AxialRunout:      "axial run-out (TIR)",
	inspect.RunoutToShank:    "run-out to the shank (TIR)",
	inspect.Concentricity:    "concentricity (twice the offset)",
	inspect.Taper:            "taper on the diameter",
	inspect.PrimaryLand:      "primary share of the land",
	inspect.EndPrimaryLand:   "end primary share of the land",
	inspect.PrimaryWidth:     "primary width",
	inspect.ShareTarget:      "primary share aimed at",
	inspect.Heel:             "primary width at which the heel rubs",
	inspect.LandClearance:    "end of the land under the cutting circle",
	inspect.WearLand:         "wear land",
	inspect.ReliefDrop:       "primary relief",
	inspect.SecondaryDrop:    "secondary relief",
	inspect.EndReliefDrop:    "end primary relief",
	inspect.EndSecondaryDrop: "end secondary relief",
	inspect.Master:           "indicator on the master",
}

// Figure returns the name of the figure that is judged of a feature.
func Figure(f inspect.Feature) string {
	if name := figureNames[f]; name != "" {
		return name
	}
	return f.Name()
}

// Name returns the name of a finding's figure with where it was read.
func Name(f inspect.Finding, unit length.Unit) string {
	t := teller{unit: unit}
	if f.FromEnd == nil {
		return Figure(f.Feature)
	}
	return t.place(Figure(f.Feature), *f.FromEnd, true)
}

// Band returns what a figure is held against: 9.00 deg to 12.00 deg, 0.0005 in at most, – for nothing.
func Band(least, most *inspect.Quantity, unit length.Unit) string {
	t := teller{unit: unit}
	switch {
	case least != nil && most != nil:
		return t.quantity(least) + " to " + t.quantity(most)
	case most != nil:
		return t.quantity(most) + " at most"
	case least != nil:
		return t.quantity(least) + " at least"
	}
	return "-"
}

// FindingReason says a finding as one clause: the figure, what it is held against, and why the verdict is not plain.
func FindingReason(f inspect.Finding, unit length.Unit) string {
	t := teller{unit: unit}
	return t.reason(f)
}

func (t teller) finding(f inspect.Finding) Finding {
	out := Finding{
		Verdict: string(f.Verdict), Name: Name(f, t.unit), Flute: "-", Value: t.quantity(f.Value), Limit: Band(f.Least, f.Most, t.unit),
		Why: t.whyNot(f), Reason: t.reason(f),
	}
	if f.Flute > 0 {
		out.Flute = fmt.Sprint(f.Flute)
	}
	if f.Advice {
		out.Limit += " (usual)"
		out.Verdict = "advice"
	}
	if f.Uncertainty != nil {
		out.Sure = "± " + t.quantity(f.Uncertainty) + " (95 %)"
		if f.Probability != nil {
			out.Sure += ", conforms with " + Percent(*f.Probability)
		}
		if f.Rule != "" {
			out.Sure += ", " + string(f.Rule) + " rule"
		}
	}
	return out
}

// Percent prints a probability, and never as a certainty.
func Percent(p float64) string {
	switch {
	case p > 0.999:
		return "> 99.9 %"
	case p < 0.001:
		return "< 0.1 %"
	}
	return fmt.Sprintf("%.1f %%", 100*p)
}

func (t teller) reason(f inspect.Finding) string {
	text := Name(f, t.unit)
	if f.Value != nil {
		text += " " + t.quantity(f.Value)
	}
	if f.Flute > 0 {
		text = fmt.Sprintf("flute %d %s", f.Flute, text)
	}
	if f.Value != nil && (f.Least != nil || f.Most != nil) {
		text += ", " + Band(f.Least, f.Most, t.unit)
		if f.Advice {
			text += " as usual"
		}
	}
	if f.Drop != nil {
		text += fmt.Sprintf(" (drop %s over %s, %s", t.length(f.Drop.Drop), t.length(f.Drop.Distance), dropBy[f.Drop.By])
		if f.Drop.Turn != nil {
			text += " " + f.Drop.Turn.Format(1) + " deg"
		}
		if f.Drop.Least != nil && f.Drop.Most != nil {
			text += "; " + t.length(*f.Drop.Least) + " to " + t.length(*f.Drop.Most) + " is looked for"
		}
		text += ")"
	}
	if f.Carried {
		text += ", read between the grinds"
	}
	if why := t.whyNot(f); why != "" {
		text += ": " + why
	}
	return text
}

var dropBy = map[inspect.DropBy]string{inspect.ByTurning: "turned", inspect.BySliding: "slid"}

// whyNot says why a verdict is not plain.
func (t teller) whyNot(f inspect.Finding) string {
	r := f.Why
	if r == nil {
		return ""
	}
	switch r.What {
	case inspect.NotRead:
		if len(r.Flutes) == 1 {
			return Flutes(r.Flutes) + " was not read"
		}
		return Flutes(r.Flutes) + " were not read"
	case inspect.NoWholeLand:
		return "the whole land was not read"
	case inspect.NoPrimary:
		return "the primary was not read"
	case inspect.MoreRounds:
		return fmt.Sprintf("the limit lies inside the doubt of the figure; %d rounds would settle it if the value stays", r.Rounds)
	case inspect.TooCoarse:
		return "the limit lies inside the doubt of the figure, and no number of rounds would settle it: the gauge is too coarse"
	case inspect.NoRepeats:
		return "no repeats and no studied repeatability: one reading decides work, never acceptance"
	case inspect.NoResolution:
		return "the readings are all alike and no resolution is known: they do not tell how good they are"
	case inspect.NoClosing:
		return "read flute by flute, where drift looks like run-out: read flute 1 again at the end, or read round by round"
	case inspect.Unsteady:
		return "something moved between the readings, and not evenly: read the set again"
	case inspect.Suspect:
		if r.Rounds == 0 {
			return "the two readings of " + Flutes(r.Flutes) + " lie too far apart: read it again"
		}
		return fmt.Sprintf("reading %d of %s stands apart from its others: read it again", r.Rounds, Flutes(r.Flutes))
	case inspect.Doubted:
		return fmt.Sprintf("%s was last read of this tool, and no grind adds to one: read it again, and see that it is this tool", t.length(*r.Length))
	case inspect.MasterOff:
		return "set the indicator to zero on the master and read the tool again"
	case inspect.PastHeel:
		return fmt.Sprintf("%s is past the heel of %s, which stands %s round the tool: it was not the primary that was read; read it nearer to the edge", t.length(*r.Limit), Flutes(r.Flutes), t.length(*r.Length))
	case inspect.DistanceCoarse:
		text := "turned by eye, the distance is not known well enough for this band: slide it instead"
		if r.Flutes != nil {
			text = Flutes(r.Flutes) + " " + text
		}
		return text
	case inspect.OnePlane:
		return "one plane does not meet every crest of chip-breaker teeth: read them at a second place from the end"
	case inspect.NoRelief:
		return "it does not fall away behind the edge: no relief, the heel drags"
	case inspect.OutsideAdvice:
		return "outside what is usual; it decides nothing"
	}
	return r.Detail
}
