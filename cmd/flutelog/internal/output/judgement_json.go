package output

import (
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// FindingJSON is a finding for a program: figures are numbers, lengths in the unit in force.
type FindingJSON struct {
	Feature     inspect.Feature `json:"feature"`
	FromEnd     *length.Number  `json:"from_end,omitempty"`
	Name        string          `json:"name"`
	Flute       int             `json:"flute,omitempty"`
	Value       *length.Number  `json:"value,omitempty"`
	Uncertainty *length.Number  `json:"uncertainty,omitempty"`
	Standard    *length.Number  `json:"standard_uncertainty,omitempty"`
	DF          *int            `json:"degrees_of_freedom,omitempty"`
	GaugeError  *length.Number  `json:"gauge_error,omitempty"`
	RejectBand  *length.Number  `json:"reject_band,omitempty"`
	Risk        float64         `json:"risk,omitempty"`
	Least       *length.Number  `json:"least,omitempty"`
	Most        *length.Number  `json:"most,omitempty"`
	Advice      bool            `json:"advice,omitempty"`
	Unit        string          `json:"unit,omitempty"` // in, mm, deg, or 1 for a share
	Verdict     inspect.Verdict `json:"verdict"`
	Probability *float64        `json:"probability,omitempty"`
	Rule        string          `json:"rule,omitempty"`
	Source      string          `json:"source,omitempty"`
	Reason      string          `json:"reason,omitempty"`
}

type workJSON struct {
	What  inspect.Task  `json:"what"`
	Where inspect.Where `json:"where,omitempty"`
	Why   string        `json:"why"`
}

func judgementJSON(in inspect.Inspection, j inspect.Judgement, closed ledger.Record, unit length.Unit) any {
	a := words.Of(in, j, unit)
	findings := []FindingJSON{}
	for i, f := range j.Findings {
		findings = append(findings, NewFindingJSON(f, a.Findings[i], unit))
	}
	work := []workJSON{}
	for i, w := range j.Work {
		work = append(work, workJSON{w.What, w.Where, a.Work[i].Why})
	}
	unread := j.Unread
	if unread == nil {
		unread = []inspect.Item{}
	}
	return struct {
		Inspection string          `json:"inspection"`
		Tool       string          `json:"tool"`
		Stage      inspect.Stage   `json:"stage"`
		Unit       length.Unit     `json:"unit"`
		Verdict    inspect.Verdict `json:"verdict"`
		Answer     string          `json:"answer"`
		TrueIn     inspect.Holding `json:"true_in,omitempty"`
		Work       []workJSON      `json:"work"`
		Steps      []string        `json:"steps,omitempty"`
		Findings   []FindingJSON   `json:"findings"`
		Unread     []inspect.Item  `json:"unread"`
		NotAsked   []inspect.Item  `json:"not_asked,omitempty"`
		Notes      []string        `json:"notes,omitempty"`
		Causes     []string        `json:"causes,omitempty"`
		Plan       any             `json:"plan,omitempty"`
		EndPlan    any             `json:"end_plan,omitempty"`
		Sequence   uint64          `json:"sequence"`
		Head       string          `json:"head"`
	}{
		in.ID, in.Tool.ID, in.Stage, unit, j.Verdict, a.Headline, j.TrueIn, work, a.Steps, findings, unread, j.NotAsked, a.Notes, a.Causes,
		planJSON(j.Plan, a.Plan, unit), planJSON(j.EndPlan, nil, unit), closed.Seq, closed.Head().String(),
	}
}

func NewFindingJSON(f inspect.Finding, said words.Finding, unit length.Unit) FindingJSON {
	number := func(q *inspect.Quantity) *length.Number {
		if q == nil {
			return nil
		}
		n := q.Number(unit)
		return &n
	}
	out := FindingJSON{
		Feature: f.Feature, Name: said.Name, Flute: f.Flute, Value: number(f.Value), Uncertainty: number(f.Uncertainty),
		Standard: number(f.Standard), DF: f.DF, GaugeError: number(f.GaugeError), RejectBand: number(f.RejectBand), Risk: f.Risk, Least: number(f.Least), Most: number(f.Most), Advice: f.Advice, Verdict: f.Verdict,
		Probability: f.Probability, Rule: string(f.Rule), Source: f.Source, Reason: said.Reason,
	}
	for _, q := range []*inspect.Quantity{f.Value, f.Least, f.Most} {
		if q != nil {
			out.Unit = q.UnitName(unit)
			break
		}
	}
	if f.FromEnd != nil {
		n := f.FromEnd.Number(unit)
		out.FromEnd = &n
	}
	return out
}

func planJSON(g *inspect.Grind, said []words.Fact, unit length.Unit) any {
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
	assumed := []string{}
	for _, f := range said {
		if f.Name == words.AssumedFact {
			assumed = append(assumed, f.Value)
		}
	}
	return struct {
		Infeed               length.Number  `json:"infeed"`
		Division             *length.Number `json:"division"`
		Divisions            *int           `json:"divisions"`
		LastWithoutSecondary *int           `json:"last_without_secondary"`
		RatioAfter           *float64       `json:"ratio_after"`
		DiameterAfter        *length.Number `json:"diameter_after,omitempty"`
		SecondaryInfeed      *length.Number `json:"secondary_infeed,omitempty"`
		RegrindsLeft         *int           `json:"regrinds_left,omitempty"`
		Assumed              []string       `json:"assumed,omitempty"`
	}{
		g.Infeed.Number(unit), number(g.Division), g.Divisions, g.LastWithoutSecondary, g.RatioAfter,
		number(g.DiameterAfter), number(g.SecondaryInfeed), g.RegrindsLeft, assumed,
	}
}
