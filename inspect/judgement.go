package inspect

import (
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// Judgement is what an inspection comes to, as data: the work, most urgent first, the figures it rests on, what was not
// read. Package words puts it into words; nothing is read back out of those.
type Judgement struct {
	Stage    Stage     `json:"stage"`
	Verdict  Verdict   `json:"verdict"` // on the whole
	Work     []Work    `json:"work"`    // most urgent first; never empty
	Steps    []Step    `json:"steps,omitempty"`
	Findings []Finding `json:"findings"`
	Coverage []Covered `json:"coverage,omitempty"`  // what the stage requires
	Unread   []Item    `json:"unread,omitempty"`    // required, and not read on every flute or not looked at
	NotAsked []Item    `json:"not_asked,omitempty"` // what this bench leaves out of the usual list of the stage, and was not read all the same
	TrueIn   Holding   `json:"true_in,omitempty"`   // fixture: released without the edges being tied to the shank
	Notes    []Note    `json:"notes,omitempty"`
	Causes   []Cause   `json:"causes,omitempty"`
	Suspects []Key     `json:"suspects,omitempty"` // readings that stand out from their fellows; nothing is dropped
	Plan     *Grind    `json:"plan,omitempty"`     // of the flutes before the grind, where the readings allow it
	EndPlan  *Grind    `json:"end_plan,omitempty"` // the same of the end teeth

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

// DecidedRunout returns the run-out to draw with its finding: one that the first work rests on, or else the largest radial
// one; false where none was read.
func (j Judgement) DecidedRunout() (best RunoutFigures, f Finding, ok bool) {
	rests := map[int]bool{}
	if len(j.Work) > 0 {
		for _, i := range j.Work[0].Findings {
			rests[i] = true
		}
	}
	for i, finding := range j.Findings {
		for _, r := range j.Runouts {
			if r.Feature != finding.Feature || !sameLength(r.FromEnd, finding.FromEnd) || finding.Value == nil {
				continue
			}
			better := !ok || rests[i] || r.Feature == RadialRunout && (best.Feature != RadialRunout || r.TIR > best.TIR)
			if better {
				best, f, ok = r, finding, true
			}
			if rests[i] {
				return best, f, true
			}
		}
	}
	return best, f, ok
}

// PlanOf returns the plan of a face, nil for none.
func (j Judgement) PlanOf(where Where) *Grind {
	if where == OnEnds {
		return j.EndPlan
	}
	return j.Plan
}

// Calls says whether the judgement calls for some work.
func (j Judgement) Calls(what Task) bool {
	return slices.ContainsFunc(j.Work, func(w Work) bool { return w.What == what })
}

// Releases says whether the inspection releases the tool.
func (j Judgement) Releases() bool { return j.Calls(Release) }

// Locks says whether what was seen locks the tool: any crack, and a burn between the grinds or after.
func (j Judgement) Locks() bool {
	return len(j.Work) > 0 && j.Work[0].Because == Locked
}

// Outcome is how a judgement ends a command or stands in a list.
type Outcome int

const (
	Clear      Outcome = iota // what the stage is for may go on: no grind or a plain one before, go on between, release after
	FallsShort                // other work is called for
	Open                      // what was read leaves it open
)

// Outcome returns how the judgement stands.
func (j Judgement) Outcome() Outcome {
	o := Clear
	for _, w := range j.Work {
		switch w.What {
		case NoWork, Release, GoOn:
		case GrindPrimary, GrindFace:
			if j.Stage != Before || j.WrongWheel() {
				return FallsShort
			}
		case ReadOn:
			o = Open
		default:
			return FallsShort
		}
	}
	if len(j.Work) == 0 {
		return Open
	}
	return o
}

// ToGrinder says whether the judgement sends a person to the grinder.
func (j Judgement) ToGrinder() bool {
	return slices.ContainsFunc(j.Work, func(w Work) bool {
		switch w.What {
		case GrindPrimary, GrindBoth, GrindSecondary, GrindFace, CutBack, GrindAgain:
			return true
		}
		return false
	})
}

// FeedsPrimary says whether the judgement calls for an infeed that clears the wear of a part: what was planned is done.
func (j Judgement) FeedsPrimary(where Where) bool {
	return slices.ContainsFunc(j.Work, func(w Work) bool {
		return w.Where == where && (w.What == GrindPrimary || w.What == GrindBoth || w.What == GrindAgain)
	})
}

// Work is what an inspection calls for, and what calls for it.
type Work struct {
	What     Task           `json:"what"`
	Where    Where          `json:"where,omitempty"`
	Because  Because        `json:"because,omitempty"`
	Findings []int          `json:"findings,omitempty"` // those it rests on, by their place in the judgement
	Sights   []Seen         `json:"sights,omitempty"`   // and what was seen
	Amount   *length.Length `json:"amount,omitempty"`   // to cut back, or off the face
}

// Task is a thing to be done with a tool.
type Task string

const (
	NoWork         Task = "none"
	GrindPrimary   Task = "grind primary"
	GrindSecondary Task = "grind secondary"
	GrindBoth      Task = "grind primary and secondary"
	GrindFace      Task = "grind the face"
	CutBack        Task = "cut back"
	StoneShank     Task = "stone the shank"
	Reseat         Task = "reseat"
	Downgrade      Task = "downgrade"
	Withdraw       Task = "withdraw"
	Release        Task = "release"
	GrindAgain     Task = "grind again"
	ReadOn         Task = "read on"
	GoOn           Task = "go on"
)

// urgency is the order in which works are told: the first is the headline.
var urgency = []Task{
	Withdraw, Downgrade, StoneShank, Reseat, CutBack, GrindFace, GrindBoth, GrindSecondary, GrindPrimary, GrindAgain,
	ReadOn, GoOn, NoWork, Release,
}

// Where is the part of a tool that is worked on.
type Where string

const (
	OnFlutes Where = "flutes"
	OnEnds   Where = "ends"
	OnShank  Where = "shank"
)

// Because is what kind of reason a work has.
type Because string

const (
	OverLimit     Because = "over a limit"            // the findings
	SeenSo        Because = "seen"                    // the sights
	Locked        Because = "locked"                  // a sight that locks the tool
	PlanNeedsBoth Because = "secondary after primary" // after the grind planned the share is over, or the heel rubs
	SmallAfter    Because = "small after"             // after the grind planned the diameter is under its limit
	OneOffset     Because = "one offset"              // the run-out is how the tool is held
	ShankOut      Because = "shank out"               // the shank itself runs out
	LooksAlike    Because = "looks alike"             // three flutes: off centre and wheel wear look alike; the shank tells
	ReseatedTwice Because = "reseated twice"          // and still off centre
	CostsAMinute  Because = "costs a minute"          // undecided, so grind the secondary
	Vanished      Because = "vanished"                // the primary has hardly any width left
	StillToGrind  Because = "still to grind"          // called for before the grind, and not told as ground
	NothingRead   Because = "nothing read"
	ThingsOpen    Because = "open"     // something required was not read, or cannot be decided
	AllConform    Because = "conforms" // everything asked was read and is inside its limits
)

// Note is something a reader of the judgement should know that is neither a finding nor work.
type Note struct {
	What    NoteOf         `json:"what"`
	Feature Feature        `json:"feature,omitempty"`
	FromEnd *length.Length `json:"from_end,omitempty"`
	Flute   int            `json:"flute,omitempty"`
	Value   *Quantity      `json:"value,omitempty"`
	Other   *Quantity      `json:"other,omitempty"`
	Gauge   string         `json:"gauge,omitempty"`
	Day     string         `json:"day,omitempty"` // a date, YYYY-MM-DD
	Due     string         `json:"due,omitempty"`
	Detail  string         `json:"detail,omitempty"`
	Taken   []Taken        `json:"taken,omitempty"`
}

// Taken is a length that was taken of a gauge for want of a statement, and what was read with it.
type Taken struct {
	Value Quantity  `json:"value"`
	Of    []Feature `json:"of"`
}

// NoteOf says which note it is.
type NoteOf string

const (
	InTheNoise        NoteOf = "in the noise"       // the run-out cannot be told from the gauge's noise
	TiltSeen          NoteOf = "tilt"               // Value the angle between the planes, Other the shift
	ToShank           NoteOf = "to the shank"       // Value the concentricity to the shank's own axis; Detail "one place" where tilt is not seen
	EndTilted         NoteOf = "end tilted"         // Value the angle, Other the radius
	OddDiameter       NoteOf = "odd diameter"       // of an odd number of flutes, and how it was read is not told; Value the vee that fits
	MeanDiameter      NoteOf = "mean diameter"      // three flutes in a vee of 60 degrees: only the mean is known
	NoMasterSize      NoteOf = "no master size"     // the bench file does not state the master's diameter
	NoCompare         NoteOf = "no comparison"      // a master was read without the run-out at its setting
	GrewTwice         NoteOf = "grew, read twice"   // a diameter over the last one, Other, that stands: it was read twice alike
	CalibrationPast   NoteOf = "calibration past"   // Gauge, Day, Due
	CalibrationUnsure NoteOf = "calibration unsure" // the readings do not say which gauge they were taken with
	HeelGains         NoteOf = "heel gains no more" // Flute; Value the width past which it does not
	OverTarget        NoteOf = "over the target"    // Value the share, Other the most that is aimed at
	NoPlan            NoteOf = "no plan"            // Detail
	CrestsUnread      NoteOf = "crests unread"      // chip-breaker teeth have no run-out in one plane, and their crests were not read in two
	BlendBroken       NoteOf = "blend broken"       // flutes of a ball or radius end are ground: the diameter falls and the form of the end with it
	NothingLeft       NoteOf = "nothing left"       // clearing the wear leaves nothing of a land
	TooNarrowDrop     NoteOf = "too narrow"         // the primary is too narrow for an indicator: the relief stands as the rest was set
	StepNotStated     NoteOf = "step not stated"    // Gauge's step is not stated: as finely as it was read was Taken
	ErrorNotStated    NoteOf = "error not stated"   // Gauge's own error is not stated: half a division was Taken
	OffAxis           NoteOf = "not computed"       // Feature with Detail: a figure that could not be worked out
)

// RunoutFigures is one run-out as it was fitted.
type RunoutFigures struct {
	Feature       Feature         `json:"feature"`
	FromEnd       *length.Length  `json:"from_end,omitempty"`
	OnShank       bool            `json:"on_shank,omitempty"`
	Heights       []length.Length `json:"heights"` // mean of each flute's repeats
	TIR           length.Length   `json:"tir"`
	Concentricity length.Length   `json:"concentricity"` // twice the offset
	Direction     *length.Angle   `json:"direction,omitempty"`
	Residuals     []length.Length `json:"residuals"` // height of each flute over the fitted circle
	Fit           geometry.Runout `json:"-"`

	ConcentricityDoubt *length.Length `json:"concentricity_uncertainty,omitempty"` // two-sided, 95 %; nil where it is not known
	ToothDoubt         *length.Length `json:"tooth_error_uncertainty,omitempty"`   // of the TIR of the residuals
	Drift              *length.Length `json:"drift,omitempty"`                     // over all readings, taken out; nil where none shows above the noise
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

// Cause is what the heights tell of why a run-out is not accepted. It is a hint, never a verdict.
type Cause struct {
	Feature Feature        `json:"feature"`
	FromEnd *length.Length `json:"from_end,omitempty"`
	Parts   []CausePart    `json:"parts,omitempty"`  // the cause, or the two together, where one explanation stands out
	Likely  []CausePart    `json:"likely,omitempty"` // else what cannot be told apart, likeliest first; none where nothing fits
	Or      []CausePart    `json:"or,omitempty"`     // what four flutes do not tell from the one named: an offset with something else, or two other causes
	Mixed   bool           `json:"mixed,omitempty"`  // more than one thing, and the heights do not tell which
	Few     bool           `json:"few,omitempty"`    // so few flutes that causes look alike
}

// Held says whether the cause is the holding alone: one offset, and nothing else.
func (c Cause) Held() bool { return len(c.Parts) == 1 && c.Parts[0].What == HeldOffCentre }

// Unnamed says whether no cause is named.
func (c Cause) Unnamed() bool { return len(c.Parts) == 0 && !c.Mixed }

// CausePart is one pattern in the heights, with its size.
type CausePart struct {
	What  CauseOf       `json:"what"`
	Size  length.Length `json:"size"`
	Flute int           `json:"flute,omitempty"` // of OneFlute
}

// CauseOf is a pattern in the heights of the flutes.
type CauseOf string

const (
	HeldOffCentre   CauseOf = "held off centre" // on the ends: held tilted
	RisingInOrder   CauseOf = "rising in grinding order"
	FallingInOrder  CauseOf = "falling in grinding order"
	AlternateFlutes CauseOf = "alternate flutes"
	OneFlute        CauseOf = "one flute alone"
)

// Grind is the grind worked out from an inspection before it.
type Grind struct {
	Infeed               length.Length  `json:"infeed"`   // along the radius, from the wheel's first touch
	Touch                int            `json:"touch"`    // the flute that it touches first, 0 where their heights were not read
	Division             *length.Length `json:"division"` // of the feed dial; nil where the bench does not state it, as what follows
	Divisions            *int           `json:"divisions"`
	LastWithoutSecondary *int           `json:"last_without_secondary"` // the last division that keeps the share at its limit
	Uneven               bool           `json:"uneven,omitempty"`       // the run-out and not the wear sets the infeed
	RatioAfter           *float64       `json:"ratio_after"`            // the widest primary's share after the divisions
	OverAfter            bool           `json:"over_after"`             // that share is over its limit, or the heel will rub
	RubsAfter            bool           `json:"rubs_after,omitempty"`   // the heel, or the end of the land, will
	HeelAfter            *length.Length `json:"heel_after,omitempty"`   // the least that a heel or the end of a land lies under the cutting circle
	DiameterAfter        *length.Length `json:"diameter_after,omitempty"`
	DiameterAfterLeast   *length.Length `json:"diameter_after_least,omitempty"` // where the edges are not worn where it was read
	DiameterFrom         From           `json:"diameter_from,omitempty"`
	SmallAfter           bool           `json:"small_after,omitempty"`     // the diameter after is under its limit, for certain
	MaySmallAfter        bool           `json:"may_small_after,omitempty"` // it may be: it is read after the grind
	RegrindsLeft         *int           `json:"regrinds_left,omitempty"`
	SecondaryInfeed      *length.Length `json:"secondary_infeed,omitempty"`
	SecondaryDivisions   *int           `json:"secondary_divisions,omitempty"` // whose share comes nearest the target
	SecondaryRatio       *float64       `json:"secondary_ratio,omitempty"`     // the share after them
	SecondaryTouch       int            `json:"secondary_touch,omitempty"`     // the flute that the wheel touches first
	Assumed              []Assumption   `json:"assumed,omitempty"`             // taken from defaults
}

// From is where a figure comes from.
type From string

const (
	ReadNow   From = "read now"
	LastKnown From = "last known"
	Nominal   From = "nominal"
)

// Assumption is something a plan took for want of a reading.
type Assumption struct {
	What  Assumed   `json:"what"`
	Value *Quantity `json:"value,omitempty"`
}

// Assumed says what was taken.
type Assumed string

const (
	AssumedPrimaryRelief   Assumed = "primary relief"
	AssumedSecondaryRelief Assumed = "secondary relief"
	AssumedRake            Assumed = "rake"
	AssumedDiameter        Assumed = "diameter"
	AssumedEndWear         Assumed = "end wear"   // the end teeth are worn as deep as the deepest place of the flutes
	AssumedEvenTeeth       Assumed = "even teeth" // no heights were read in the grinding fixture; uneven teeth need more
)
