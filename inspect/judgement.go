package inspect

import (
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// Judgement is what an inspection comes to: the answer first, then the work, then the figures it rests on.
type Judgement struct {
	Verdict  Verdict   `json:"verdict"`
	Answer   string    `json:"answer"` // in words: "SECONDARY NEEDED: flute 3 primary is 0.583 of the land"
	Work     []Work    `json:"work"`
	Findings []Finding `json:"findings"`
	Unread   []Feature `json:"unread,omitempty"` // what release rests on and was not read
	Notes    []string  `json:"notes,omitempty"`
	Causes   []Cause   `json:"causes,omitempty"`
	Plan     *Grind    `json:"plan,omitempty"` // before the grind, where the readings allow it

	// The figures behind the findings, for drawing and for the record.
	Runouts []RunoutFigures `json:"runouts,omitempty"`
	Lands   []LandFigures   `json:"lands,omitempty"`
}

// Figure returns the value of the last finding of a feature, nil for none.
func (j Judgement) Figure(f Feature) *Quantity {
	var q *Quantity
	for _, finding := range j.Findings {
		if finding.Feature == f && finding.Value != nil {
			q = finding.Value
		}
	}
	return q
}

// Releases says whether the inspection releases the tool.
func (j Judgement) Releases() bool {
	return slices.ContainsFunc(j.Work, func(w Work) bool { return w.What == Release })
}

// RunoutFigures is one run-out as it was fitted.
type RunoutFigures struct {
	Feature       Feature         `json:"feature"`
	FromEnd       *length.Length  `json:"from_end,omitempty"`
	Heights       []length.Length `json:"heights"` // mean of each flute's repeats
	TIR           length.Length   `json:"tir"`
	Concentricity length.Length   `json:"concentricity"` // twice the offset
	Direction     *length.Angle   `json:"direction,omitempty"`
	Residuals     []length.Length `json:"residuals"` // height of each flute over the fitted circle
	Fit           geometry.Runout `json:"-"`
}

// LandFigures is the lands of the flutes or of the end teeth.
type LandFigures struct {
	Ends    bool            `json:"ends,omitempty"`
	Primary []length.Length `json:"primary"`
	Land    []length.Length `json:"land"`
	Ratios  []float64       `json:"ratios"`
	Mean    float64         `json:"mean"`
	Worst   int             `json:"worst_flute"`
}

// Cause is a likely cause of what was found, with what to try first. It is a hint, never a verdict.
type Cause struct {
	Feature Feature        `json:"feature"`
	FromEnd *length.Length `json:"from_end,omitempty"`
	What    string         `json:"what"`
	Try     string         `json:"try"`
}

// Grind is the grind worked out from an inspection before it.
type Grind struct {
	Infeed               length.Length  `json:"infeed"`
	Division             length.Length  `json:"division"` // of the feed dial
	Divisions            int            `json:"divisions"`
	LastWithoutSecondary int            `json:"last_without_secondary"`
	RatioAfter           float64        `json:"ratio_after"`
	DiameterAfter        *length.Length `json:"diameter_after,omitempty"`
	RegrindsLeft         *int           `json:"regrinds_left,omitempty"`
	SecondaryInfeed      *length.Length `json:"secondary_infeed,omitempty"`
	Assumed              []string       `json:"assumed,omitempty"` // angles and sizes taken from defaults
	Words                string         `json:"words"`
}
