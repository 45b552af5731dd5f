// Package record is what the ledger's records mean: the only code that decodes a body. It gives tools, jobs and
// inspections as they stand, and records what people rule, correct, lock and tell of them. A record is never
// changed; what is told later stands beside it, and what is given here has all of it applied.
package record

import (
	"encoding/json"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// Kinds of the records under a tool's subject.
const (
	KindOpened     = "opened"     // an inspection begins; a draft follows
	KindReadings   = "readings"   // its whole draft
	KindSummary    = "summary"    // what it came to when it was closed; about its opened record
	KindFigures    = "figures"    // its figures in short; about the summary, or about a correction
	KindTool       = "tool"       // the tool is added, changed or retired
	KindLock       = "lock"       // a crack, or a burn between or after, was seen; about the opened record, or a correction
	KindUnlock     = "unlock"     // about the lock that it lifts
	KindRuling     = "ruling"     // about the summary that is ruled on
	KindCorrection = "correction" // about the summary
	KindRecall     = "recall"     // about the correction that it follows from
	KindGround     = "ground"     // the tool was ground
	KindAway       = "away"       // it was sent out, or is back
	KindNote       = "note"
)

// Kinds of the records under other subjects.
const (
	KindJob       = "job"       // under a job: as it now stands; under a tool: it was received with the job
	KindInspected = "inspected" // under a job: an inspection made for it; about its summary
	KindStudy     = "study"     // under a gauge
	KindLimits    = "limits"    // under a trend
	KindDress     = "wheel"     // under a wheel: it was dressed
	KindLeaveOut  = "leave-out" // under a bench: what came from it is left out of what stands
	KindContinues = "continues" // under a bench: the bench that recorded this goes on in its place
)

// Prefixes of subjects.
const (
	toolPrefix  = "tool:"
	jobPrefix   = "job:"
	gaugePrefix = "gauge:"
	trendPrefix = "trend:"
	wheelPrefix = "wheel:"
	benchPrefix = "bench:"

	holdingPrefix = "holding:"
)

// ToolSubject returns the subject that all records of a tool stand under.
func ToolSubject(id string) string { return toolPrefix + id }

// JobSubject returns the subject that all records of a job stand under.
func JobSubject(id string) string { return jobPrefix + id }

// Figures is what lists, boards and trends are made of: one inspection in short, as it was closed or as a correction
// left it. It is a record of its own, so that many years are read without decoding whole inspections.
type Figures struct {
	Inspection string           `json:"inspection"`
	Tool       string           `json:"tool"`
	Stage      inspect.Stage    `json:"stage"`
	Job        string           `json:"job,omitempty"`
	Closed     string           `json:"closed"`
	Discarded  bool             `json:"discarded,omitempty"` // given up: nothing in it counts
	Corrects   bool             `json:"corrects,omitempty"`  // as a correction left it
	Practice   bool             `json:"practice,omitempty"`  // read with a practice gauge: it can stand for nothing
	Verdict    inspect.Verdict  `json:"verdict"`
	Work       []inspect.Task   `json:"work"`
	Locks      inspect.Sight    `json:"locks,omitempty"` // what was seen that locks the tool
	Nominal    length.Length    `json:"nominal"`         // diameter
	Material   inspect.Material `json:"material"`
	Inspector  string           `json:"inspector,omitempty"`
	Grinder    string           `json:"grinder,omitempty"` // by name, as the next two
	Wheel      string           `json:"wheel,omitempty"`
	Gauge      string           `json:"gauge,omitempty"` // that the run-out was read with
	Divisions  int              `json:"divisions,omitempty"`
	Offset     *length.Length   `json:"offset,omitempty"` // of the tooth rest

	// A Figure each, as it is written: a trend asks for one of them, and only that is taken apart.
	TIR      json.RawMessage `json:"tir,omitempty"`      // radial run-out, at the distance where it is largest
	Residual json.RawMessage `json:"residual,omitempty"` // tooth-to-tooth error: what is left of that without the offset, from four flutes up
	Ratio    json.RawMessage `json:"ratio,omitempty"`    // primary share of the land on the flutes, the worst
	Diameter json.RawMessage `json:"diameter,omitempty"`
	Relief   json.RawMessage `json:"relief,omitempty"` // primary, of the flute that decides
	Edges    json.RawMessage `json:"edges,omitempty"`  // Edges
}

// Lock is the body of the record that stops a tool the moment a crack is recorded, or a burn between or after.
type Lock struct {
	Inspection string        `json:"inspection"`
	Stage      inspect.Stage `json:"stage"`
	Sight      inspect.Sight `json:"sight"`
	Flute      int           `json:"flute,omitempty"` // where, if it is told
	Unsure     bool          `json:"unsure,omitempty"`
	Note       string        `json:"note,omitempty"`
	By         string        `json:"by,omitempty"` // who inspects
	At         string        `json:"at"`
}

// Unlocking lifts the one lock that its record is about.
type Unlocking struct {
	By  string `json:"by"`
	Why string `json:"why"`
	At  string `json:"at"`
}

// Word is what a person can rule.
type Word string

// The rulings.
const (
	Release    Word = "release"    // the inspector signs what the answer says
	Concession Word = "concession" // released although it does not conform, for a reason
	Withdraw   Word = "withdraw"   // out of use for good
)

// Ruling is what a person decides of a tool by one of its inspections.
type Ruling struct {
	Inspection string       `json:"inspection"`
	Word       Word         `json:"ruling"`
	By         string       `json:"by"`
	Why        string       `json:"why,omitempty"`
	At         string       `json:"at"`
	Seen       []ledger.Ref `json:"seen"`              // the newest record of the tool from each bench that was known: what came from elsewhere without being seen is not ruled on
	Recalls    []ledger.Ref `json:"recalls,omitempty"` // that it settles, though it is of the same inspection
}

// Correction puts one reading or one sight of a closed inspection right. The inspection itself stays as it was closed.
type Correction struct {
	Inspection string            `json:"inspection"`
	Was        *inspect.Reading  `json:"was,omitempty"` // as it stood before
	Reading    *inspect.Reading  `json:"reading,omitempty"`
	WasSeen    *inspect.Seen     `json:"was_seen,omitempty"`
	Seen       *inspect.Seen     `json:"seen,omitempty"`
	By         string            `json:"by"`
	Why        string            `json:"why"`
	At         string            `json:"at"`
	After      []ledger.Ref      `json:"after,omitempty"` // the corrections of the same inspection that it knew and builds on
	Worse      bool              `json:"worse,omitempty"` // some verdict is worse for it
	Judgement  inspect.Judgement `json:"judgement"`       // with all of them applied, by what the inspection was judged by
}

// Recall says that a tool that was released is not what it was released as.
type Recall struct {
	Inspection string `json:"inspection"`
	Why        string `json:"why"`
	At         string `json:"at"`
}

// Ground says that a tool was ground, and how, as far as it is told.
type Ground struct {
	Order     []int  `json:"order,omitempty"`      // of the flutes, as they came to the wheel
	LastRound string `json:"last_round,omitempty"` // how the last round was gone: without feed, or half a turn on
	Wheel     string `json:"wheel,omitempty"`
	Divisions int    `json:"divisions,omitempty"` // of the feed dial, fed to the flutes since the wheel's first touch
	EndsFed   int    `json:"ends_fed,omitempty"`  // of the divisions fed to the ends

	Offset *length.Length `json:"offset,omitempty"` // of the tooth rest below the tool's centre, at a cup wheel
	Last   []int          `json:"last,omitempty"`   // of the flutes in the last round
	By     string         `json:"by,omitempty"`
	At     string         `json:"at"`

	Faces []inspect.Face `json:"faces,omitempty"` // that were ground; nil is all that was called for
}

// Away says that a tool was sent out, or is back.
type Away struct {
	Back  bool   `json:"back,omitempty"`
	Where string `json:"where,omitempty"`
	By    string `json:"by,omitempty"`
	At    string `json:"at"`
}

// Note is anything worth knowing of a tool, or of the lock that its record is about.
type Note struct {
	Text      string `json:"text"`
	TakenBack bool   `json:"taken_back,omitempty"` // the answer that locked the tool was a slip; the lock stands until it is lifted
	By        string `json:"by,omitempty"`
	At        string `json:"at"`
}

// LeaveOut leaves what came from a bench out of what stands. What keeps a tool out of use stays.
type LeaveOut struct {
	Bench string `json:"bench"`
	By    string `json:"by"`
	Why   string `json:"why"`
	At    string `json:"at"`
}

// Received says that a tool came with a job.
type Received struct {
	Job string `json:"job"`
	At  string `json:"at"`
}
