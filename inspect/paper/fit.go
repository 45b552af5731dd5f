package paper

import (
	"fmt"
	"math"
	"slices"

	"flutelog/inspect/mark"
)

// How much one page holds. Whatever is longer ends in an ellipsis, so that the cut shows; the record holds the whole.
const (
	mostFigures     = 16
	mostReadings    = 40
	mostUnread      = 3
	mostCorrections = 4
	mostWork        = 5
	mostHow         = 6
	mostLine        = 190 // letters of one paragraph
	mostCell        = 14
	wideFlutes      = 6 // with more flutes the readings are set across the whole page
)

// Wide says whether the readings are set across the whole page.
func (s Sheet) Wide() bool { return len(s.Flutes) > wideFlutes }

// fit cuts what is too long for a page.
func (s *Sheet) fit() {
	s.Ruling.Word, s.Ruling.Under = cut(s.Ruling.Word, 200), cut(s.Ruling.Under, 260)
	s.Answer = cut(s.Answer, mostLine)
	s.Corner = shorten(s.Corner, 4, 70)
	s.Unread = shorten(s.Unread, mostUnread, 2*mostLine)
	s.Sights = shorten(s.Sights, 3, mostLine)
	s.Corrections = shorten(s.Corrections, mostCorrections, mostLine)
	s.Work = shorten(s.Work, mostWork, mostLine)
	s.How = shorten(s.How, mostHow, 2*mostLine)
	s.Cautions = shorten(s.Cautions, 3, 2*mostLine)
	s.Proof.Says = cut(s.Proof.Says, 2*mostLine)
	facts := s.Facts
	s.Facts = nil
	for _, f := range facts {
		s.Facts = append(s.Facts, Fact{cut(f.Name, 40), cut(f.Value, 70)})
	}
	signed := s.Signed
	s.Signed = nil
	for _, f := range signed {
		s.Signed = append(s.Signed, Signature{f.What, cut(f.Who, 60)})
	}
	if more := len(s.Figures) - mostFigures; more > 0 {
		s.Figures = append(s.Figures[:mostFigures:mostFigures], Figure{Name: fmt.Sprintf("and %d more, in the record", more)})
	}
	figures := s.Figures
	s.Figures = nil
	for _, f := range figures {
		f.Name, f.Why, f.Limit = cut(f.Name, 60), cut(f.Why, 90), cut(f.Limit, 30)
		s.Figures = append(s.Figures, f)
	}
	readings := s.Readings
	s.Readings = nil
	for _, r := range readings {
		r.Cells = slices.Clone(r.Cells)
		for len(r.Cells) < len(s.Flutes) {
			r.Cells = append(r.Cells, Cell{})
		}
		s.Readings = append(s.Readings, r)
	}
	drawings := s.Drawings
	s.Drawings = nil
	for _, d := range drawings {
		s.Drawings = append(s.Drawings, Drawing{d.SVG, cut(d.Caption, mostLine)})
	}
	for len(s.Readings) > mostReadings {
		s.dropReading()
	}
	for s.high(tightest) > pageHigh && s.drop() {
	}
}

// A least is how much of a sheet stays whatever else is on it.
type least struct{ drawings, how, work, corrections, unread, readings, figures int }

var leasts = []least{{1, 4, 3, 3, 2, 6, 6}, {0, 2, 2, 2, 1, 3, 4}}

// drop leaves out one thing more of a sheet that is too full, what is least missed first; false once nothing is left
// that may be left out.
func (s *Sheet) drop() bool {
	if n := len(s.Drawings); n > 2 {
		s.Drawings = s.Drawings[:n-1]
		return true
	}
	for i := range s.Figures {
		if s.Figures[i].Mark == mark.Accept && s.Figures[i].Why != "" {
			s.Figures[i].Why = ""
			return true
		}
	}
	return slices.ContainsFunc(leasts, s.dropTo)
}

func (s *Sheet) dropTo(l least) bool {
	const more = "More of this stands in the record."
	for _, list := range []struct {
		all   *[]string
		least int
	}{{&s.How, l.how}, {&s.Work, l.work}, {&s.Corrections, l.corrections}, {&s.Unread, l.unread}} {
		n := len(*list.all)
		switch {
		case n > max(list.least, 1):
			*list.all = append((*list.all)[:list.least-1:list.least-1], more)
			return true
		case n == 1 && list.least == 1 && letters((*list.all)[0]) > mostLine:
			(*list.all)[0] = cut((*list.all)[0], mostLine)
			return true
		}
	}
	if left, right := s.columns(tightest); right > left && len(s.Drawings) > l.drawings {
		s.Drawings = s.Drawings[:len(s.Drawings)-1]
		return true
	}
	if len(s.Readings) > l.readings {
		s.dropReading()
		return true
	}
	if n := len(s.Figures); n > l.figures {
		s.Figures = append(s.Figures[:n-2:n-2], Figure{Name: "more figures in the record"})
		return true
	}
	if n := len(s.Drawings); n > l.drawings {
		s.Drawings = s.Drawings[:n-1]
		return true
	}
	return false
}

const moreReadings = "more rows in the record"

// dropReading leaves out a row of readings: a later round, or else the last; one that was corrected stays longest.
func (s *Sheet) dropReading() {
	rows := slices.DeleteFunc(slices.Clone(s.Readings), func(r Round) bool { return r.Name == moreReadings })
	out := len(rows) - 1
	for i, r := range rows {
		if !slices.ContainsFunc(r.Cells, func(c Cell) bool { return c.Corrected }) && (r.Again || !rows[out].Again) {
			out = i
		}
	}
	s.Readings = append(slices.Delete(rows, out, out+1), Round{Name: moreReadings, Cells: make([]Cell, len(s.Flutes))})
}

// shorten keeps so many paragraphs of so many letters.
func shorten(all []string, most, size int) []string {
	var kept []string
	for i, text := range all {
		if i == most {
			return append(kept, fmt.Sprintf("And %d more, in the record.", len(all)-most))
		}
		kept = append(kept, cut(text, size))
	}
	return kept
}

// A density is how tightly a sheet is set. Its name is a class of the style, its sizes are those of the style, in mm.
type density struct {
	name   string
	letter float64 // across, of text of usual size
	line   float64
	row    float64 // of a table
	round  float64 // of the table of readings
	gap    float64 // between parts
	head   float64 // of mark and headline
	sign   float64 // of a line to sign
}

var densities = []density{
	{"roomy", 1.85, 4.4, 5.4, 5.4, 3.2, 15.5, 9},
	{"snug", 1.85, 4.4, 4.7, 4.7, 2.2, 15.5, 6},
	{"tight", 1.65, 3.5, 3.95, 3.5, 1.4, 12, 5},
}

var tightest = densities[len(densities)-1]

// The width of A4 less its margins, and the height of Letter less its margins and what the estimate may be wrong by.
const (
	pageWide = 190
	pageHigh = 254
	leftWide = 121
	besides  = 64 // wide are the drawings
	drawn    = 43 // and as high at most
)

// Density names the loosest setting at which the sheet should fit one page.
func (s Sheet) Density() string {
	for _, d := range densities {
		if s.high(d) <= pageHigh {
			return d.name
		}
	}
	return tightest.name
}

// high estimates how high the sheet is, in mm, from how many letters its texts have.
func (s Sheet) high(d density) float64 {
	n := 0.0
	for _, part := range s.parts(d) {
		if part > 0 {
			n += part + d.gap
		}
	}
	return n
}

// parts estimates the height of each part of a sheet, in its order, 0 for one that is not there.
func (s Sheet) parts(d density) []float64 {
	head := max(d.head, d.line*float64(1+len(s.Corner)))
	switch s.Ruling.Size() {
	case "long":
		head = max(head, 6.3*math.Ceil(4.3*float64(letters(s.Ruling.Word))/125))
	case "longest":
		head = max(head, 4.6*math.Ceil(3.1*float64(letters(s.Ruling.Word))/125))
	}
	head += d.text(s.Tool+s.Ruling.Under, 105) - d.line + 3
	unread := d.box(s.Unread)
	if unread == 0 {
		unread = d.text(s.AllRead, pageWide)
	}
	answer := 5.1 * math.Ceil(2.6*float64(letters(s.Answer))/pageWide)
	across, rows := 0.0, 1.0
	for _, f := range s.Facts {
		w := max(0.95*d.letter*float64(letters(f.Name)), 1.2*d.letter*float64(letters(f.Value))) + 5
		if across > 0 && across+w > pageWide+5 {
			across, rows = 0, rows+1
		}
		across += w
	}
	facts := rows * 2.1 * d.line
	left, right := s.columns(d)
	readings := 0.0
	if s.Wide() {
		readings = s.read(d, 34)
	}
	how := d.part(s.How, pageWide)
	beside := float64(pageWide)
	if s.Symbol != "" {
		beside -= 30
	}
	care := "SHARP. Edges are sharp. Local codes, the machine's own instructions and qualified practice come first."
	for _, c := range s.Cautions {
		care += c
	}
	foot := d.text(care, beside) + 4 + 3.9*math.Ceil(1.75*float64(letters(s.Proof.Where+s.Proof.Head+s.Proof.Says))/beside) + 2
	if s.Symbol != "" {
		foot = max(foot, 23)
	}
	return []float64{head, unread, answer, facts, d.box(s.Corrections), max(left, right), readings, how, foot + d.sign + 4.5}
}

// columns estimates the two columns: figures, readings, work and sights, and the drawings beside them.
func (s Sheet) columns(d density) (left, right float64) {
	wide := float64(leftWide)
	if len(s.Drawings) == 0 {
		wide = pageWide
	}
	if len(s.Figures) > 0 {
		left += d.row + d.line + d.gap + 1
	}
	for _, f := range s.Figures {
		left += d.row + d.line*(max(1, d.lines(f.Name, 0.42*wide), d.lines(f.Limit, 0.27*wide))-1)
		if f.Why != "" {
			left += d.row - d.line + d.text(f.Why, wide-24)
		}
	}
	if !s.Wide() && len(s.Readings) > 0 {
		left += s.read(d, 0.36*wide) + d.gap
	}
	left += d.part(s.Work, wide-5) + d.part(s.Sights, wide)
	for _, f := range s.Drawings {
		right += drawn + 3.9*math.Ceil(1.75*float64(letters(f.Caption))/besides) + d.gap
	}
	return left, right
}

// read estimates the table of readings, whose names have some width.
func (s Sheet) read(d density, name float64) float64 {
	if len(s.Readings) == 0 {
		return 0
	}
	n := d.row + d.line + 1
	for _, r := range s.Readings {
		n += d.round + d.line*(max(1, d.lines(r.Name, name))-1)
	}
	return n
}

// box is a part in a frame.
func (d density) box(all []string) float64 {
	if len(all) == 0 {
		return 0
	}
	n := d.line + 4
	for _, text := range all {
		n += d.text(text, pageWide-6) + 0.6
	}
	return n
}

func (d density) part(all []string, wide float64) float64 {
	if len(all) == 0 {
		return 0
	}
	n := d.line + d.gap
	for _, text := range all {
		n += d.text(text, wide) + 0.6
	}
	return n
}

func (d density) text(text string, wide float64) float64 { return d.line * d.lines(text, wide) }

func (d density) lines(text string, wide float64) float64 {
	return math.Ceil(d.letter * float64(letters(text)) / wide)
}
