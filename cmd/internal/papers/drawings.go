package papers

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/draw"
	"flutelog/inspect/length"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
	"flutelog/inspect/words"
)

// drawings are the run-out and the land that decided, as they were measured: of what the work rests on first, else of
// what came nearest to its limit.
func (s Source) drawings(in *record.Inspection) []paper.Drawing {
	var all []paper.Drawing
	if r, f, ok := in.Judgement.DecidedRunout(); ok {
		all = append(all, s.end(in, r, f))
	}
	for _, l := range in.Judgement.Lands {
		if d, ok := s.section(in, l); ok {
			all = append(all, d)
		}
	}
	return all
}

func (s Source) end(in *record.Inspection, r inspect.RunoutFigures, f inspect.Finding) paper.Drawing {
	e := draw.End{
		Heights: r.Heights, Diameter: in.Tool.Diameter, Limit: in.Basis.Limits.Of(r.Feature).MostLength(),
		Angles: in.Tool.Angles, LeftCut: in.Tool.Cut == inspect.LeftHand,
	}
	if r.Feature == inspect.ShankRunout {
		e.Angles = nil // the shank is read at equal steps of a turn
	}
	high, low := slices.Index(r.Heights, slices.Max(r.Heights))+1, slices.Index(r.Heights, slices.Min(r.Heights))+1
	e.Worst = []int{high}
	if low != high {
		e.Worst = append(e.Worst, low)
		slices.Sort(e.Worst)
	}
	if f.Flute > 0 {
		e.Worst = []int{f.Flute}
	}
	for _, h := range r.Heights {
		text := s.signed(h)
		if !s.Unit.Metric() {
			text = strings.Replace(text, "0.", ".", 1)
		}
		e.Texts = append(e.Texts, text)
	}
	caption := strings.TrimSuffix(sentence(s.name(f)), ".") + ", seen from the end; " + words.Flutes(e.Worst)
	if len(e.Worst) > 1 {
		caption += fmt.Sprintf(", ringed, stand furthest apart: %s.", s.size(r.TIR))
	} else {
		caption += ", ringed, decided."
	}
	if x := e.Exaggeration(); x > 1 {
		caption += fmt.Sprintf(" Heights drawn %.0f times.", x)
	}
	e.Name = caption
	return paper.Drawing{Name: strings.ToLower(words.Figure(f.Feature)), SVG: e.SVG(), Caption: caption}
}

// section draws the land of the flute that decided.
func (s Source) section(in *record.Inspection, l inspect.LandFigures) (paper.Drawing, bool) {
	flute := s.decidingFlute(in, l)
	if flute < 1 || flute > len(l.Primary) {
		return paper.Drawing{}, false
	}
	d := s.Section(in.Inspection, l.Ends, flute, l.Primary[flute-1], l.Land[flute-1])
	return d, d.SVG != ""
}

// Section draws the land of a flute or, on the ends, of an end tooth, from its widths; its reliefs are those that were
// measured on it, and else the tool's nominal ones or what is usual, dashed. It draws nothing of widths that no land has.
func (s Source) Section(in inspect.Inspection, ends bool, flute int, primary, land length.Length) paper.Drawing {
	names := [2]inspect.Feature{inspect.ReliefDrop, inspect.SecondaryDrop}
	nominal := [2]*length.Angle{in.Tool.PrimaryRelief, in.Tool.SecondaryRelief}
	what := "land"
	diameter, _ := in.Cutting()
	d := draw.Section{Diameter: diameter, Helix: in.Tool.Helix, Primary: primary, Land: land, Unit: s.Unit}
	if ends {
		names = [2]inspect.Feature{inspect.EndReliefDrop, inspect.EndSecondaryDrop}
		nominal, what, d.Helix, d.Diameter = [2]*length.Angle{}, "end land", 0, 0
	} else {
		d.Wear = wear(in, flute)
		if in.Tool.Rake != nil {
			d.Rake = *in.Tool.Rake
		}
	}
	var relief [2]draw.Relief
	for i, f := range names {
		measured := in.MeasuredRelief(f, flute)
		switch {
		case measured != nil:
			relief[i] = draw.Relief{Angle: *measured, Measured: true}
		case nominal[i] != nil:
			relief[i] = draw.Relief{Angle: *nominal[i]}
		default:
			relief[i] = draw.Relief{Angle: usual(in, f, i)}
		}
	}
	if relief[1].Angle <= relief[0].Angle && !relief[1].Measured {
		relief[1].Angle = relief[0].Angle + 8*length.Degree
	}
	d.PrimaryRelief, d.SecondaryRelief = relief[0], relief[1]
	// What falls nowhere, or no steeper behind the heel, is drawn as flat as a tooth can be; the caption says what was read.
	const least = length.Degree / 5
	d.PrimaryRelief.Angle = max(d.PrimaryRelief.Angle, least)
	d.SecondaryRelief.Angle = max(d.SecondaryRelief.Angle, d.PrimaryRelief.Angle+least)
	caption := fmt.Sprintf("Flute %d, the %s in section, to scale: primary %s", flute, what, s.size(primary))
	if relief[0].Measured {
		caption += " at " + relief[0].Angle.Format(1) + "\u00b0"
	}
	caption += ", land " + s.size(land)
	if relief[1].Measured {
		caption += ", secondary " + relief[1].Angle.Format(1) + "\u00b0"
	}
	if d.Wear != nil && *d.Wear > 0 {
		caption += ", worn " + s.size(*d.Wear)
	}
	if !relief[0].Measured || !relief[1].Measured {
		caption += "; dashed is not measured"
	}
	d.Name = caption + "."
	svg := d.SVG()
	if svg == "" { // worn past what a land can be
		d.Wear = nil
		svg = d.SVG()
	}
	return paper.Drawing{Name: "the " + what, SVG: svg, Caption: d.Name}
}

// decidingFlute is the flute whose land is drawn: that of a land or relief that the first work rests on, or else the one
// with the largest share.
func (s Source) decidingFlute(in *record.Inspection, l inspect.LandFigures) int {
	j := in.Judgement
	if len(j.Work) > 0 {
		for _, i := range j.Work[0].Findings {
			f := j.Findings[i]
			switch f.Feature {
			case inspect.PrimaryLand, inspect.ReliefDrop, inspect.SecondaryDrop, inspect.WearLand, inspect.EndPrimaryLand, inspect.EndReliefDrop, inspect.EndSecondaryDrop:
				if f.Feature.OnEnds() == l.Ends && f.Flute > 0 {
					return f.Flute
				}
			}
		}
	}
	return l.Worst
}

// usual is the middle of the limits of a relief that nothing is known of, or else what is common.
func usual(in inspect.Inspection, f inspect.Feature, i int) length.Angle {
	least, most := in.Basis.Limits.Of(f).Angles()
	if least != nil && most != nil {
		return (*least + *most) / 2
	}
	return [2]length.Angle{9 * length.Degree, 18 * length.Degree}[i]
}

// wear returns the mean wear land of a flute, nil where none was read.
func wear(in inspect.Inspection, flute int) *length.Length {
	var all []length.Length
	for _, r := range in.Readings {
		if r.Feature == inspect.WearLand && r.Flute == flute {
			all = append(all, r.Value)
		}
	}
	if all == nil {
		return nil
	}
	m := statistics.MeanLength(all)
	return &m
}
