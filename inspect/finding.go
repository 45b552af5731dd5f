package inspect

import (
	"fmt"
	"strings"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Verdict is what a feature, or a whole inspection, comes to.
type Verdict = statistics.Verdict

const (
	Accept    = statistics.Accept
	Reject    = statistics.Reject
	Undecided = statistics.Undecided // inside the guard band
	NotJudged = statistics.NotJudged // too little was read
)

// Quantity is a figure with its kind: a length, an angle or a share of a whole. Decisions are made on exact
// values before they become a Quantity; a share is kept to a billionth.
type Quantity struct {
	kind quantityKind
	n    int64 // picometres, billionths of a degree, billionths
}

type quantityKind byte

const (
	lengthKind quantityKind = iota
	angleKind
	shareKind
)

// LengthQuantity, AngleQuantity and ShareQuantity make a figure of each kind.
func LengthQuantity(l length.Length) Quantity { return Quantity{lengthKind, int64(l)} }

// AngleQuantity is documented with LengthQuantity.
func AngleQuantity(a length.Angle) Quantity { return Quantity{angleKind, int64(a)} }

// ShareQuantity is documented with LengthQuantity; the share is of a whole, 1 at most in most uses.
func ShareQuantity(f float64) Quantity {
	return Quantity{shareKind, int64(length.Angle(f*float64(length.Degree) + 0.5))}
}

// Length returns the figure as a length; zero for an angle or a share.
func (q Quantity) Length() length.Length {
	if q.kind != lengthKind {
		return 0
	}
	return length.Length(q.n)
}

// Angle returns the figure as an angle; zero for a length or a share.
func (q Quantity) Angle() length.Angle {
	if q.kind != angleKind {
		return 0
	}
	return length.Angle(q.n)
}

// In prints the figure for a person: a length in the unit given, an angle in degrees, a share as it is.
func (q Quantity) In(unit length.Unit) string {
	switch q.kind {
	case angleKind:
		return length.Angle(q.n).Format(2) + " deg"
	case shareKind:
		return length.Angle(q.n).Format(3)
	}
	return length.Length(q.n).In(unit)
}

// Number returns the figure as a decimal number of nine decimals, a length in the unit given.
func (q Quantity) Number(unit length.Unit) length.Number {
	if q.kind == lengthKind {
		return length.Length(q.n).Number(unit)
	}
	return length.Number(length.Angle(q.n).Format(9))
}

// UCUM returns the code of the unit that Number is in.
func (q Quantity) UCUM(unit length.Unit) string {
	switch q.kind {
	case angleKind:
		return "deg"
	case shareKind:
		return "1"
	}
	return unit.UCUM()
}

// UnitName returns the name of the unit that Number is in: in, mm, deg, or 1 for a share.
func (q Quantity) UnitName(unit length.Unit) string {
	if q.kind == lengthKind {
		return string(unit)
	}
	return q.UCUM(unit)
}

// MarshalText writes the figure exactly: 0.0127mm, 9.5deg, or a bare share.
func (q Quantity) MarshalText() ([]byte, error) {
	switch q.kind {
	case angleKind:
		return length.Angle(q.n).MarshalText()
	case shareKind:
		return []byte(length.Angle(q.n).Format(9)), nil
	}
	return length.Length(q.n).MarshalText()
}

// UnmarshalText reads what MarshalText writes.
func (q *Quantity) UnmarshalText(text []byte) error {
	s := string(text)
	if strings.HasSuffix(s, "mm") {
		l, err := length.Parse(s, length.None)
		*q = LengthQuantity(l)
		return err
	}
	a, err := length.ParseAngle(s)
	*q = Quantity{shareKind, int64(a)}
	if strings.HasSuffix(s, "deg") {
		q.kind = angleKind
	}
	return err
}

// Finding is what one feature comes to: the figure, how sure it is, what it is held against and why the
// verdict is what it is.
type Finding struct {
	Feature     Feature         `json:"feature"`
	FromEnd     *length.Length  `json:"from_end,omitempty"`
	Name        string          `json:"name"`            // the figure's name in the trade
	Flute       int             `json:"flute,omitempty"` // the flute that decides, where one does
	Value       *Quantity       `json:"value,omitempty"`
	Uncertainty *Quantity       `json:"uncertainty,omitempty"` // expanded, two-sided, 95 %
	Least       *Quantity       `json:"least,omitempty"`
	Most        *Quantity       `json:"most,omitempty"`
	Source      string          `json:"source,omitempty"` // of the limit
	Verdict     Verdict         `json:"verdict"`
	Probability *float64        `json:"probability,omitempty"` // that the true value conforms
	Rule        statistics.Rule `json:"rule,omitempty"`
	Reason      string          `json:"reason,omitempty"`
}

// Work is what an inspection calls for.
type Work struct {
	What  Task   `json:"what"`
	Where string `json:"where,omitempty"` // "flutes" or "ends"
	Why   string `json:"why"`
}

// Task is a thing to be done with a tool.
type Task string

const (
	NoWork         Task = "none"
	GrindPrimary   Task = "grind primary"
	GrindBoth      Task = "grind primary and secondary"
	GrindSecondary Task = "grind secondary"
	CutBack        Task = "cut back the end"
	Downgrade      Task = "downgrade"
	Withdraw       Task = "withdraw"
	Release        Task = "release"
	GrindAgain     Task = "grind again"
	ReadAgain      Task = "read again" // too little was read, or too coarsely, to say
)

// String returns the work in words.
func (w Work) String() string {
	s := string(w.What)
	if w.Where != "" {
		s += " (" + w.Where + ")"
	}
	if w.Why == "" {
		return s
	}
	return fmt.Sprintf("%s: %s", s, w.Why)
}
