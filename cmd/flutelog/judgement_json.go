package main

import (
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// findingJSON is a finding for a program: figures are numbers, lengths in the unit in force.
type findingJSON struct {
	Feature     inspect.Feature `json:"feature"`
	FromEnd     *length.Number  `json:"from_end,omitempty"`
	Name        string          `json:"name"`
	Flute       int             `json:"flute,omitempty"`
	Value       *length.Number  `json:"value,omitempty"`
	Uncertainty *length.Number  `json:"uncertainty,omitempty"`
	Least       *length.Number  `json:"least,omitempty"`
	Most        *length.Number  `json:"most,omitempty"`
	Unit        string          `json:"unit,omitempty"` // in, mm, deg, or 1 for a share
	Verdict     inspect.Verdict `json:"verdict"`
	Probability *float64        `json:"probability,omitempty"`
	Rule        string          `json:"rule,omitempty"`
	Source      string          `json:"source,omitempty"`
	Reason      string          `json:"reason,omitempty"`
}

func judgementJSON(in inspect.Inspection, j inspect.Judgement, closed ledger.Record, unit length.Unit) any {
	findings := []findingJSON{}
	for _, f := range j.Findings {
		findings = append(findings, newFindingJSON(f, unit))
	}
	work := j.Work
	if work == nil {
		work = []inspect.Work{}
	}
	return struct {
		Inspection string            `json:"inspection"`
		Tool       string            `json:"tool"`
		Stage      inspect.Stage     `json:"stage"`
		Unit       length.Unit       `json:"unit"`
		Verdict    inspect.Verdict   `json:"verdict"`
		Answer     string            `json:"answer"`
		Work       []inspect.Work    `json:"work"`
		Findings   []findingJSON     `json:"findings"`
		Unread     []inspect.Feature `json:"unread,omitempty"`
		Notes      []string          `json:"notes,omitempty"`
		Causes     []inspect.Cause   `json:"causes,omitempty"`
		Plan       any               `json:"plan,omitempty"`
		Sequence   uint64            `json:"sequence"`
		Head       string            `json:"head"`
	}{
		in.ID, in.Tool.ID, in.Stage, unit, j.Verdict, j.Answer, work, findings, j.Unread, j.Notes, j.Causes,
		planJSON(j.Plan, unit), closed.Seq, headOf(closed),
	}
}

func newFindingJSON(f inspect.Finding, unit length.Unit) findingJSON {
	number := func(q *inspect.Quantity) *length.Number {
		if q == nil {
			return nil
		}
		n := q.Number(unit)
		return &n
	}
	out := findingJSON{
		Feature: f.Feature, Name: f.Name, Flute: f.Flute, Value: number(f.Value), Uncertainty: number(f.Uncertainty),
		Least: number(f.Least), Most: number(f.Most), Verdict: f.Verdict, Probability: f.Probability,
		Rule: string(f.Rule), Source: f.Source, Reason: f.Reason,
	}
	if f.Value != nil {
		out.Unit = f.Value.UnitName(unit)
	}
	if f.FromEnd != nil {
		n := f.FromEnd.Number(unit)
		out.FromEnd = &n
	}
	return out
}

func planJSON(g *inspect.Grind, unit length.Unit) any {
	if g == nil {
		return nil
	}
	number := func(l *length.Length) *length.Number {
		if l == nil {
			return nil
		}
		n := l.Number(unit)
		return &n
	}
	return struct {
		Infeed               length.Number  `json:"infeed"`
		Division             length.Number  `json:"division"`
		Divisions            int            `json:"divisions"`
		LastWithoutSecondary int            `json:"last_without_secondary"`
		RatioAfter           float64        `json:"ratio_after"`
		DiameterAfter        *length.Number `json:"diameter_after,omitempty"`
		SecondaryInfeed      *length.Number `json:"secondary_infeed,omitempty"`
		RegrindsLeft         *int           `json:"regrinds_left,omitempty"`
		Assumed              []string       `json:"assumed,omitempty"`
		Words                string         `json:"words"`
	}{
		g.Infeed.Number(unit), g.Division.Number(unit), g.Divisions, g.LastWithoutSecondary, g.RatioAfter,
		number(g.DiameterAfter), number(g.SecondaryInfeed), g.RegrindsLeft, g.Assumed, g.Words,
	}
}
