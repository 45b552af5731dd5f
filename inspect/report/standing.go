package report

import (
	"fmt"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/record"
)

// leads is what a paper says first: how the tool stands. Nothing that is not signed looks released.
type leads struct {
	Mark verdictMark
	Line string // in capitals, and what it rests on
	Past bool   // a later record decides how the tool stands, not this inspection
}

// standing says how the tool stands, as far as this inspection decides it.
func (in SheetInput) standing() leads {
	l := leads{Mark: verdictMark{standingShapes[in.Standing], string(in.Standing)}, Line: strings.ToUpper(string(in.Standing)), Past: !in.Decides}
	ruling := in.ruling()
	switch {
	case in.Practice:
		return leads{Mark: verdictMark{"unjudged", "practice"}, Line: "PRACTICE: invented readings, for nothing but practice"}
	case in.Standing == record.StandsWithdrawn:
		l.Line = "WITHDRAWN: not to be used"
	case in.Standing == record.StandsLocked:
		l.Line = "LOCKED: " + in.Locked
	case in.Standing == record.StandsRecalled:
		l.Line = "RECALLED: take it out of use"
	case in.Standing == record.StandsRetired:
		l.Line = "OUT OF USE"
	case l.Past:
		l.Line = fmt.Sprintf("NOT THE NEWEST INSPECTION: the tool stands %s now", in.Standing)
	case in.Standing == record.StandsConceded:
		l.Line = "USE ONLY AS CONCEDED"
		if ruling != nil && ruling.Why != "" {
			l.Line = "USE ONLY: " + ruling.Why
		}
	case in.Standing == record.StandsReleased && in.NotReground:
		l.Line = "RELEASED, NOT REGROUND: no grind was needed"
	case in.Standing == record.StandsToSign && in.NotReground:
		l.Line = "NOT SIGNED, NOT REGROUND: no grind was needed"
	case in.Standing == record.StandsToSign:
		l.Line = "NOT SIGNED"
	case in.Standing == record.StandsToFinish:
		l.Line = "NOT FINISHED"
	case in.Standing == record.StandsToInspect:
		l.Line = "NOT INSPECTED TO THE END"
	}
	signed := in.Standing == record.StandsReleased || in.Standing == record.StandsToSign
	if in.Judgement.TrueIn == inspect.InFixture && signed && !l.Past {
		l.Line += ": TRUE IN THE FIXTURE ONLY"
	}
	return l
}

// ruling returns the newest ruling, nil for none.
func (in SheetInput) ruling() *Ruled {
	if len(in.Rulings) == 0 {
		return nil
	}
	return &in.Rulings[len(in.Rulings)-1]
}

// standingShapes are the marks of the standings.
var standingShapes = map[record.Standing]string{
	record.StandsReleased: "accept", record.StandsConceded: "accept",
	record.StandsLocked: "reject", record.StandsRecalled: "reject", record.StandsWithdrawn: "reject", record.StandsRetired: "reject",
	record.StandsToGrind: "work", record.StandsToFinish: "work", record.StandsReceived: "unjudged", record.StandsToInspect: "unjudged", record.StandsToSign: "undecided",
}
