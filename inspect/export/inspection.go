// Package export writes what stands in the record in the open formats that other software reads: measurement results
// by ISO 23952 (QIF 3), cutting-tool assets of MTConnect, and the metadata that W3C's CSV on the Web gives to CSV files.
// The same record gives the same bytes.
//
// It takes one closed inspection as it stands, never a summary alone, and computes no figure of its own: what a file
// says of a tool is decided by the tool's standing first, then by the ruling, then by the judgement.
package export

import (
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// Calls is what kind of work an inspection calls for.
type Calls string

// The kinds of work.
const (
	CallsNothing    Calls = "nothing"     // none, go on, release
	CallsGrind      Calls = "grind"       // the tool goes to the grinder, or is stoned or seated anew
	CallsPerson     Calls = "person"      // downgrade, withdraw: a person's word
	CallsForReading Calls = "for reading" // what was read leaves it open
)

// Inspection is one closed inspection as it stands, with corrections applied.
type Inspection struct {
	ID        string
	Tool      inspect.Tool
	ToolBench string // id of the bench of the tool's first record
	Bench     string // id of the bench that inspected
	Job       string
	Inspector string
	Stage     inspect.Stage
	Holding   inspect.Holding
	Reseated  bool
	Wheel     string // that the tool was ground with, by name
	Divisions int    // of the feed dial, fed to the flutes since the wheel's first touch; 0 is not told
	EndsFed   int    // and to the ends
	GivenUp   bool

	Opened, Closed string // RFC 3339, UTC
	ClockSet       bool   // whether the clock that told them was set
	JudgedBy       string // revision of the bench file, with or without its path

	Verdict  inspect.Verdict
	Answer   string // in words
	Calls    Calls
	TrueIn   inspect.Holding // InFixture: released without the edges being tied to the shank
	Figures  []Figure
	Radial   []length.Length // mean height of each flute, of the run-out that decides; nil where none was read
	Axial    []length.Length
	Readings []inspect.Reading
	Seen     []inspect.Seen
	Gauges   map[string]Instrument

	Standing    record.Standing // of the tool, now
	NotReground bool            // to sign, or released, without having been ground
	Ruling      *Ruling         // on this inspection, the newest
	Corrected   bool

	Head         string   // bench-sequence-sha256 of the newest record that counts
	SummaryHead  string   // the same of the record that closed the inspection
	ReadingsHead string   // and of its readings
	Records      []string // hashes of all records that the file rests on: closing, corrections, ruling, what the standing rests on
	NewestAt     string   // time of the newest of those
	NewestSet    bool     // whether the clock that told it was set
}

// Figure is one finding.
type Figure struct {
	Feature     inspect.Feature
	FromEnd     *length.Length
	Name        string // in the trade, without its place
	Flute       int    // that decides, 0 where none does
	Value       *inspect.Quantity
	Uncertainty *inspect.Quantity // expanded, two-sided, 95 %
	Standard    *inspect.Quantity // standard uncertainty
	DF          *int              // degrees of freedom behind it; nil is unlimited
	Least, Most *inspect.Quantity
	Advice      bool              // the limits are advice, and decide nothing
	Target      *inspect.Quantity // what is aimed at, where that is known
	Source      string            // of the limits
	Verdict     inspect.Verdict
	Rule        string // simple or guarded
	Probability *float64
	GaugeError  *inspect.Quantity // the gauge's own error, taken in full to both sides
	RejectBand  *inspect.Quantity // by how much the value must lie beyond its limit to be rejected, nil where the rule guards nothing
	AcceptBand  *inspect.Quantity // by how much it must lie inside of it to be accepted, where Standard and GaugeError do not say it
	Risk        float64           // share of the 5 % that a look spends, 0 for all of it
	Why         string            // why the verdict is not what the rule alone says, "" where it is
	Carried     bool              // judged between the grinds of the same regrind, and counted here
	Over        *length.Length    // of a relief or dish: the distance over which the drop was read
	Gauge       string            // that it was read with, by name
}

// limited says whether the figure is held against anything.
func (f Figure) limited() bool { return !f.Advice && (f.Least != nil || f.Most != nil) }

// Instrument is what is known of a gauge that was read with.
type Instrument struct {
	Serial           string
	Resolution       length.Length
	PermissibleError length.Length
	CalibrationDue   string // a date, YYYY-MM-DD; "" where it is not known
}

// Ruling is what a person decided of the inspection.
type Ruling struct {
	Word     string // release, concession or withdraw
	By, Why  string
	At       string // RFC 3339, UTC
	ClockSet bool
}

func (in Inspection) ruled(word string) bool { return in.Ruling != nil && in.Ruling.Word == word }

// judgedBy returns the revision without the path of the bench file: that is the shop's own business.
func judgedBy(revision string) string {
	return revision[strings.LastIndexAny(revision, `/\`)+1:]
}

// gaugeNames returns the gauges that anything was read with, in order.
func (in Inspection) gaugeNames() []string {
	var names []string
	for _, r := range in.Readings {
		if r.Gauge != "" && !slices.Contains(names, r.Gauge) {
			names = append(names, r.Gauge)
		}
	}
	for _, f := range in.Figures {
		if f.Gauge != "" && !slices.Contains(names, f.Gauge) {
			names = append(names, f.Gauge)
		}
	}
	slices.Sort(names)
	return names
}

// exact returns a length in millimetres without trailing zeros: lengths are whole picometres, so nine decimals hold
// every one.
func exact(l length.Length) string { return strings.TrimSuffix(l.String(), "mm") }

// number returns a figure as a decimal number without trailing zeros, lengths in millimetres.
func number(q inspect.Quantity) string {
	digits := string(q.Number(length.Mm))
	if !strings.Contains(digits, ".") {
		return digits
	}
	return strings.TrimSuffix(strings.TrimRight(digits, "0"), ".")
}
