package report

import (
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// drawings are the run-out, the land that decides, the shares of the lands and the stages beside each other.
func (in SheetInput) drawings() []figure {
	var all []figure
	if r, ok := in.runout(in.Judgement); ok {
		all = append(all, in.teeth(r))
	}
	stages := in.beforeAfter()
	for _, l := range in.Judgement.Lands {
		if !l.Ends {
			all = append(all, in.section(l))
		}
		if l.Ends || !stages.shows() {
			all = append(all, in.bars(l)) // else the stages show these bars too
		}
	}
	if stages.shows() {
		all = append(all, stages.figure())
	}
	return all
}

// runout returns the run-out that is drawn: the radial one with the largest TIR, or else the first.
func (in SheetInput) runout(j inspect.Judgement) (best inspect.RunoutFigures, ok bool) {
	for _, r := range j.Runouts {
		radial := r.Feature == inspect.RadialRunout
		if !ok || radial && (best.Feature != inspect.RadialRunout || r.TIR > best.TIR) {
			best, ok = r, true
		}
	}
	return best, ok
}

// radialTIR returns the TIR of the radial run-out that is drawn, as it was at another stage: at the same
// distance from the end, nil where it was not read.
func (in SheetInput) radialTIR(j inspect.Judgement) *length.Length {
	drawn, _ := in.runout(in.Judgement)
	for _, r := range j.Runouts {
		same := drawn.FromEnd == nil && r.FromEnd == nil || drawn.FromEnd != nil && r.FromEnd != nil && *drawn.FromEnd == *r.FromEnd
		if r.Feature == inspect.RadialRunout && drawn.Feature == r.Feature && same {
			return &r.TIR
		}
	}
	return nil
}

// heading returns what a run-out is called over its drawing, and the most that its TIR may be, nil where
// nothing is said.
func (in SheetInput) heading(f inspect.Feature) (title string, limit *length.Length) {
	name := f.Name()
	return strings.ToUpper(name[:1]) + name[1:], in.Inspection.Basis.Limits[f].MostLength()
}

func (in SheetInput) teeth(r inspect.RunoutFigures) figure {
	t := Teeth{Diameter: in.Inspection.Tool.Diameter, Angles: in.Inspection.Tool.Angles, Unit: in.Unit}
	t.Title, t.Limit = in.heading(r.Feature)
	if r.FromEnd != nil {
		t.Title += ", " + r.FromEnd.In(in.Unit) + " from the end"
	}
	if r.Feature == inspect.ShankRunout {
		t.Angles = nil // the shank is read at equal steps of a turn
	}
	for i := range r.Heights {
		t.Heights = append(t.Heights, &r.Heights[i])
	}
	return t.figure()
}

func (in SheetInput) section(l inspect.LandFigures) figure {
	t := in.Inspection.Tool
	i := max(l.Worst-1, 0)
	primary, secondary := in.Inspection.Reliefs(i + 1)
	diameter, _ := in.Inspection.Cutting()
	return LandSection{
		Title:           "The land in section",
		Flute:           i + 1,
		Diameter:        diameter,
		Helix:           t.Helix,
		Primary:         l.Primary[i],
		Land:            l.Land[i],
		Wear:            in.wear(i + 1),
		PrimaryRelief:   in.relief(inspect.ReliefDrop, primary),
		SecondaryRelief: in.relief(inspect.SecondaryDrop, secondary),
		Unit:            in.Unit,
	}.figure()
}

// relief returns the angle that a drop was found to mean, be it between the grinds, or else what is known of the flute.
func (in SheetInput) relief(drop inspect.Feature, known *length.Angle) *length.Angle {
	for _, f := range in.Judgement.Findings {
		if f.Feature != drop || f.Value == nil || f.Value.UCUM(in.Unit) != "deg" {
			continue
		}
		if a, err := length.ParseAngle(string(f.Value.Number(in.Unit))); err == nil {
			return &a
		}
	}
	return known
}

// wear returns the widest wear land read on a flute, nil where none was read.
func (in SheetInput) wear(flute int) *length.Length {
	var most *length.Length
	for _, r := range in.Inspection.Readings {
		if r.Feature == inspect.WearLand && r.Flute == flute && (most == nil || r.Value > *most) {
			most = &r.Value
		}
	}
	return most
}

func ratios(l inspect.LandFigures) []geometry.Ratio {
	var rs []geometry.Ratio
	for i := range l.Primary {
		rs = append(rs, geometry.Ratio{Primary: l.Primary[i], Land: l.Land[i]})
	}
	return rs
}

func (in SheetInput) bars(l inspect.LandFigures) figure {
	least, most := in.Inspection.Basis.Limits.Target()
	b := LandBars{Title: "Lands of the flutes", Worst: l.Worst, TargetLeast: least, TargetMost: most}
	if l.Ends {
		b.Title = "Lands of the end teeth"
	}
	for _, r := range ratios(l) {
		b.Ratios = append(b.Ratios, &r)
	}
	return b.figure()
}

func (in SheetInput) beforeAfter() BeforeAfter {
	stages := append(slices.Clone(in.Earlier), EarlierStage{in.Inspection.Stage, in.Judgement})
	b := BeforeAfter{Title: "Before beside after", Unit: in.Unit, Limit: in.Inspection.Basis.Limits[inspect.RadialRunout].MostLength()}
	for _, s := range stages {
		f := StageFigures{Stage: s.Stage}
		for _, l := range s.Judgement.Lands {
			if !l.Ends {
				f.Ratios = ratios(l)
			}
		}
		f.TIR = in.radialTIR(s.Judgement)
		b.Stages = append(b.Stages, f)
	}
	return b
}
