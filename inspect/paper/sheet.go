package paper

import (
	"io"
	"slices"

	"flutelog/inspect/mark"
)

// Sheet is one inspection as it stands: on one page, or over as many as it needs.
type Sheet struct {
	Inspection  string
	Tool        string
	Ruling      Ruling
	Corner      []string // stage, job
	Answer      string   // what the inspection came to; "" where the ruling says it
	Facts       []Fact   // the tool, its diameter, radius offset, what changed, regrinds left
	Unread      []string // what was not read or not looked at
	AllRead     string   // said where nothing is unread
	Figures     []Figure // what decided, the gravest first
	FiguresIn   string   // caption: units, how sure
	Flutes      []string // heads of the readings
	Readings    []Round
	ReadingsIn  string
	Sights      []string // what was looked for by eye, what was seen first
	Corrections []string // each with the value before, who, when and why
	Work        []string // what is to be done
	Drawings    []Drawing
	How         []string // who, when, with what; wheel, rest and divisions; limits and where they come from
	Signed      []Signature
	Cautions    []string
	Proof       Proof
	Symbol      mark.HTML // of the short head
	Practice    bool
	Back        string // address of the page it was made on

	left []Drawing // that the page has no room for
}

// Figure is one finding.
type Figure struct {
	Mark                            mark.Mark
	Verdict                         string
	Name, Value, Uncertainty, Limit string
	Why                             string // what the figures do not say
	Corrected                       bool
}

// Round is one round of one feature: a cell a flute, or one for the tool.
type Round struct {
	Name  string
	Again bool // a later round of the one above it: they stay on one page
	Cells []Cell
}

// Cell is one value as it was read.
type Cell struct {
	Text      string
	Corrected bool
}

// WriteSheet writes the sheet as one document that prints on A4 or Letter: on one page where that holds it, else over
// pages with its inspection and its ruling at the head of each. Nothing of it is left out. Errors are those of w.
func WriteSheet(w io.Writer, s Sheet) error {
	s.Readings = slices.Clone(s.Readings)
	for i, r := range s.Readings {
		if short := len(s.Flutes) - len(r.Cells); short > 0 {
			s.Readings[i].Cells = append(slices.Clip(r.Cells), make([]Cell, short)...)
		}
	}
	return write(w, "sheet", isolated(s.Inspection)+", "+isolated(s.Ruling.Word), s.fit().html)
}
