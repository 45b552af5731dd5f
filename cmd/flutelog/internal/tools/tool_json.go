package tools

import (
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/length"
)

// toolJSON is a tool as it is described, for a program: lengths in the unit in force, angles in degrees.
type toolJSON struct {
	Tool            string            `json:"tool"`
	Unit            length.Unit       `json:"unit"`
	Diameter        length.Number     `json:"diameter"` // nominal
	Flutes          int               `json:"flutes"`
	Material        inspect.Material  `json:"material"`
	Helix           length.Number     `json:"helix_deg"`
	Hand            inspect.Hand      `json:"hand"`
	Cut             inspect.Hand      `json:"cut,omitempty"`
	Angles          []length.Number   `json:"angles_deg,omitempty"`
	Ends            inspect.Ends      `json:"ends"`
	Teeth           inspect.Teeth     `json:"teeth"`
	Duty            inspect.Duty      `json:"duty"`
	Form            inspect.Form      `json:"form,omitempty"`
	Sharpened       inspect.Sharpened `json:"sharpened,omitempty"`
	Taper           length.Number     `json:"taper_deg"` // a side
	AtLeast         *length.Number    `json:"at_least,omitempty"`
	AtMost          *length.Number    `json:"at_most,omitempty"`
	PrimaryRelief   *length.Number    `json:"primary_relief_deg,omitempty"`
	SecondaryRelief *length.Number    `json:"secondary_relief_deg,omitempty"`
	Rake            *length.Number    `json:"rake_deg,omitempty"`
	Note            string            `json:"note,omitempty"`
	OutOfUse        string            `json:"out_of_use,omitempty"`
}

func newToolJSON(t inspect.Tool, unit length.Unit) toolJSON {
	lengthOf := func(l *length.Length) *length.Number {
		if l == nil {
			return nil
		}
		n := l.Number(unit)
		return &n
	}
	angle := func(a *length.Angle) *length.Number {
		if a == nil {
			return nil
		}
		n := command.DegreesNumber(*a)
		return &n
	}
	out := toolJSON{
		Tool: t.ID, Unit: unit, Diameter: t.Diameter.Number(unit), Flutes: t.Flutes, Material: t.Material, Helix: command.DegreesNumber(t.Helix), Hand: t.Hand,
		Cut: t.Cut, Ends: t.Ends, Teeth: t.Teeth, Duty: t.Duty, Form: t.Form, Sharpened: t.Sharpened, Taper: command.DegreesNumber(t.Taper),
		AtLeast: lengthOf(t.AtLeast), AtMost: lengthOf(t.AtMost), PrimaryRelief: angle(t.PrimaryRelief), SecondaryRelief: angle(t.SecondaryRelief),
		Rake: angle(t.Rake), Note: t.Note, OutOfUse: t.Retired,
	}
	for _, a := range t.Angles {
		out.Angles = append(out.Angles, command.DegreesNumber(a))
	}
	return out
}

// limitJSON is one limit in force.
type limitJSON struct {
	Feature inspect.Feature `json:"feature"`
	Least   *length.Number  `json:"least,omitempty"`
	Most    *length.Number  `json:"most,omitempty"`
	Unit    string          `json:"unit"` // in, mm, deg, or 1 for a share
	Judged  bool            `json:"judged"`
	Source  string          `json:"source,omitempty"`
}

// limitsJSON are the limits in force for a tool, and what else it is judged by.
type limitsJSON struct {
	Basis            string        `json:"judged_by"`
	CheckingDistance length.Number `json:"checking_distance"` // over which a relief drop is read
	Limits           []limitJSON   `json:"limits"`
}

// newLimitsJSON takes the widths that were read last, by which the checking distance goes.
func newLimitsJSON(widths inspect.Inspection, b inspect.Basis, unit length.Unit) limitsJSON {
	out := limitsJSON{b.Revision, widths.CheckingDistance().Number(unit), []limitJSON{}}
	shown := map[inspect.Feature]bool{}
	for _, row := range inspect.LimitTable {
		l := b.Limits[row.Feature]
		if !l.Set() || shown[row.Feature] {
			continue
		}
		shown[row.Feature] = true
		one := limitJSON{Feature: row.Feature, Judged: l.Judged, Source: l.Source}
		for _, bound := range []struct {
			to   **length.Number
			from *inspect.Quantity
		}{{&one.Least, l.Least}, {&one.Most, l.Most}} {
			if bound.from != nil {
				n := bound.from.Number(unit)
				*bound.to, one.Unit = &n, bound.from.UnitName(unit)
			}
		}
		out.Limits = append(out.Limits, one)
	}
	return out
}
