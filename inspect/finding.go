package inspect

import (
	"fmt"
	"math"
	"strconv"
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

// What a whole inspection before the grind comes to: being worn is no fault.
const (
	WorthGrinding    Verdict = "worth grinding"
	NotWorthGrinding Verdict = "not worth grinding"
	NoGrindNeeded    Verdict = "no grind needed"
)

// Quantity is a figure with its kind: a length, an angle or a share of a whole. Decisions are made on exact
// values; a share that was worked out is kept to a billionth, one that is a limit exactly.
type Quantity struct {
	kind quantityKind
	n    int64 // picometres, billionths of a degree, or the numerator of a share
	den  int64 // of a share
}

type quantityKind byte

const (
	lengthKind quantityKind = iota
	angleKind
	shareKind
)

const billion = 1_000_000_000

// LengthQuantity, AngleQuantity and ShareQuantity make a figure of each kind.
func LengthQuantity(l length.Length) Quantity { return Quantity{kind: lengthKind, n: int64(l)} }

// AngleQuantity is documented with LengthQuantity.
func AngleQuantity(a length.Angle) Quantity { return Quantity{kind: angleKind, n: int64(a)} }

// ShareQuantity is documented with LengthQuantity; the share is of a whole, 1 at most in most uses.
func ShareQuantity(f float64) Quantity {
	return Quantity{shareKind, int64(math.Round(f * billion)), billion}
}

// Share is a part of a whole as a fraction, so that widths are held against it exactly.
type Share struct{ Num, Den int64 }

// Half is the share of the whole land that the primary may have before a secondary pass is needed; exactly
// half is not more (common practice, no source).
var Half = Share{1, 2}

// Value returns the share as a number, for printing.
func (s Share) Value() float64 { return float64(s.Num) / float64(s.Den) }

// Over says whether the share is more than another, exactly.
func (s Share) Over(o Share) bool { return s.Num*o.Den > o.Num*s.Den }

// Quantity returns the share as a figure, exactly.
func (s Share) Quantity() Quantity { return Quantity{shareKind, s.Num, s.Den} }

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

// Share returns the figure as a share; 0/1 for a length or an angle.
func (q Quantity) Share() Share {
	if q.kind != shareKind {
		return Share{0, 1}
	}
	return Share{q.n, q.den}
}

// Over says whether a figure is more than another of its kind. Shares are compared to a billionth.
func (q Quantity) Over(o Quantity) bool {
	if q.kind == shareKind {
		return q.decimal() > o.decimal()
	}
	return q.n > o.n
}

// decimal is a share with nine decimals, as an angle so that it prints.
// Past says whether the value itself lies beyond a limit, however sure it is.
func (f Finding) Past() bool {
	return f.Value != nil && (f.Most != nil && f.Value.Over(*f.Most) || f.Least != nil && f.Least.Over(*f.Value))
}

func (q Quantity) decimal() length.Angle {
	if q.den == billion {
		return length.Angle(q.n)
	}
	return length.Angle((2*q.n*billion + q.den) / (2 * q.den))
}

// In prints the figure for a person: a length in the unit given, an angle in degrees, a share as it is.
func (q Quantity) In(unit length.Unit) string {
	switch q.kind {
	case angleKind:
		return length.Angle(q.n).Format(2) + " deg"
	case shareKind:
		return q.decimal().Format(3)
	}
	return length.Length(q.n).In(unit)
}

// Number returns the figure as a decimal number of nine decimals, a length in the unit given.
func (q Quantity) Number(unit length.Unit) length.Number {
	switch q.kind {
	case lengthKind:
		return length.Length(q.n).Number(unit)
	case angleKind:
		return length.Number(length.Angle(q.n).Format(9))
	}
	return length.Number(q.decimal().Format(9))
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

// MarshalText writes the figure exactly: 0.0127mm, 9.5deg, a bare share, or the fraction 1/2 that is a limit.
func (q Quantity) MarshalText() ([]byte, error) {
	switch {
	case q.kind == angleKind:
		return length.Angle(q.n).MarshalText()
	case q.kind == shareKind && q.den == billion:
		return []byte(length.Angle(q.n).Format(9)), nil
	case q.kind == shareKind:
		return fmt.Appendf(nil, "%d/%d", q.n, q.den), nil
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
	if num, den, ok := strings.Cut(s, "/"); ok {
		n, err1 := strconv.ParseInt(num, 10, 64)
		d, err2 := strconv.ParseInt(den, 10, 64)
		if err1 != nil || err2 != nil || d < 1 || d > mostShare || n < 0 || n > mostShare {
			return fmt.Errorf("share %q: want a fraction such as 1/2", s)
		}
		*q = Share{n, d}.Quantity()
		return nil
	}
	a, err := length.ParseAngle(s)
	if strings.HasSuffix(s, "deg") {
		*q = AngleQuantity(a)
	} else {
		*q = Quantity{shareKind, int64(a), billion}
	}
	return err
}

// mostShare keeps a share's fraction where comparisons are exact.
const mostShare = 1000

// Finding is what one feature comes to: the figure, how sure it is, what it is held against and why the
// verdict is what it is.
type Finding struct {
	Feature Feature        `json:"feature"`
	FromEnd *length.Length `json:"from_end,omitempty"`
	Flute   int            `json:"flute,omitempty"` // the flute that decides, where one does
	Value   *Quantity      `json:"value,omitempty"`

	Uncertainty *Quantity `json:"uncertainty,omitempty"`          // expanded, two-sided, 95 %
	Standard    *Quantity `json:"standard_uncertainty,omitempty"` // nil where the readings do not tell it
	DF          *int      `json:"degrees_of_freedom,omitempty"`   // behind Standard; nil is unlimited

	Least  *Quantity `json:"least,omitempty"`
	Most   *Quantity `json:"most,omitempty"`
	Advice bool      `json:"advice,omitempty"` // the limits are advice: they call for no work and bar no release
	Source string    `json:"source,omitempty"` // of the limits

	Verdict     Verdict         `json:"verdict"`
	Rule        statistics.Rule `json:"rule,omitempty"`
	GaugeError  *Quantity       `json:"gauge_error,omitempty"` // the gauge's own error in the value, taken in full to both sides
	RejectBand  *Quantity       `json:"reject_band,omitempty"` // by how much the value must lie beyond its limit to be rejected by the guarded rule
	AcceptBand  *Quantity       `json:"accept_band,omitempty"` // and inside of it to be accepted, where Standard and GaugeError do not say it: of a share and a relief
	Risk        float64         `json:"risk,omitempty"`        // share of the 5 % spent on this look, where the verdict is tried after each round
	Probability *float64        `json:"probability,omitempty"` // that the true value conforms
	Why         *Reason         `json:"why,omitempty"`         // nil where figure and limit say all

	Drop    *DropTaken `json:"drop,omitempty"`    // of a relief or dish: how it was read
	Carried bool       `json:"carried,omitempty"` // judged between the grinds of the same regrind, and counted here
}

// DropTaken is how an indicator drop was taken.
type DropTaken struct {
	Drop     length.Length `json:"drop"`     // of the flute that decides, below zero is a climb
	Distance length.Length `json:"distance"` // behind the edge
	By       DropBy        `json:"by"`

	Turn  *length.Angle  `json:"turn,omitempty"`  // that distance as degrees the tool is turned; nil where it is slid
	Least *length.Length `json:"least,omitempty"` // the drops of the band's two ends, that were looked for
	Most  *length.Length `json:"most,omitempty"`
}

// Reason is why a verdict is not plain, as data.
type Reason struct {
	What   What           `json:"what"`
	Flutes []int          `json:"flutes,omitempty"` // that were not read
	Length *length.Length `json:"length,omitempty"` // what differed, or what would do: see What
	Limit  *length.Length `json:"limit,omitempty"`  // what was allowed
	Rounds int            `json:"rounds,omitempty"` // that would settle it if the value stays
	Detail string         `json:"detail,omitempty"` // of Impossible
}

// What says which reason it is.
type What string

const (
	NotRead        What = "not read"        // Flutes
	NoWholeLand    What = "no whole land"   // the primary was read and the whole land was not
	NoPrimary      What = "no primary"      // the whole land, or a secondary's drop, was read without the primary
	MoreRounds     What = "more rounds"     // the limit lies inside the guard band: Rounds
	TooCoarse      What = "too coarse"      // the same, and no number of rounds would do
	NoRepeats      What = "no repeats"      // one reading decides work, never acceptance
	NoResolution   What = "no resolution"   // the readings do not tell how good they are
	NoClosing      What = "no closing"      // read flute by flute, and flute 1 was not read again at the end
	Unsteady       What = "unsteady"        // flute 1 read again, or a round, does not fit the rest: something moved
	Suspect        What = "suspect"         // a reading of Flutes in round Rounds stands apart (0: two differ), and the verdict hangs on it
	Doubted        What = "doubted"         // a diameter over the last one read, Length
	MasterOff      What = "master off"      // the indicator was not at zero on the master
	PastHeel       What = "past the heel"   // a drop read at a distance where the primary has ended, Length
	DistanceCoarse What = "distance coarse" // turned by eye, the distance is not known well enough: slide it; Flutes where it is not the one that decides
	OnePlane       What = "one plane"       // the crests of chip-breaker teeth were read in one plane, which meets not all of them
	NoRelief       What = "no relief"       // a drop of zero or a climb
	OutsideAdvice  What = "outside advice"  // outside what is usual; it decides nothing
	Impossible     What = "impossible"      // Detail
)
