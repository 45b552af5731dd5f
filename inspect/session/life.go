package session

import (
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// Life is one inspection in a tool's history.
type Life struct {
	Inspection string            `json:"inspection"`
	Stage      inspect.Stage     `json:"stage"`
	Closed     string            `json:"closed"`
	Verdict    inspect.Verdict   `json:"verdict"`
	Answer     string            `json:"answer"`
	TIR        *inspect.Quantity `json:"tir,omitempty"`
	Share      *inspect.Quantity `json:"primary_share,omitempty"`
	Diameter   *inspect.Quantity `json:"diameter,omitempty"`
	Removed    *length.Length    `json:"stock_removed,omitempty"` // off the diameter since the last one read
	Regrind    int               `json:"regrind"`                 // tools released after a grind so far
}

// Lives turns a tool's closed inspections, newest first, into its history, oldest first. Inspections that were
// given up are left out.
func Lives(all []Closed) []Life {
	var out []Life
	var last *inspect.Quantity
	regrinds := 0
	for _, c := range slices.Backward(all) {
		if c.Discarded != "" {
			continue
		}
		h := newLife(c)
		if h.Diameter != nil {
			if last != nil {
				removed := last.Length() - h.Diameter.Length()
				h.Removed = &removed
			}
			last = h.Diameter
		}
		if c.Judgement.Releases() {
			regrinds++
		}
		h.Regrind = regrinds
		out = append(out, h)
	}
	return out
}

func newLife(c Closed) Life {
	j := c.Judgement
	return Life{
		Inspection: c.Inspection.ID, Stage: c.Inspection.Stage, Closed: c.Closed, Verdict: j.Verdict, Answer: words.Headline(c.Inspection, j, c.Inspection.Basis.Unit),
		TIR: j.Figure(inspect.RadialRunout), Share: j.Figure(inspect.PrimaryLand), Diameter: j.Figure(inspect.Diameter),
	}
}
