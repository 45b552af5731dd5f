package paper

import (
	"fmt"
	"math"

	"flutelog/inspect/mark"
)

// How much one page holds. Whatever is longer ends in an ellipsis, so that the cut shows; the record holds the whole.
const (
	mostFigures     = 16
	mostReadings    = 22
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
	if more := len(s.Readings) - mostReadings; more > 0 {
		s.Readings = append(s.Readings[:mostReadings:mostReadings], Round{Name: fmt.Sprintf("and %d rows more, in the record", more)})
	}
	drawings := s.Drawings
	s.Drawings = nil
	for _, d := range drawings {
		s.Drawings = append(s.Drawings, Drawing{d.SVG, cut(d.Caption, mostLine)})
	}
	for s.high(tightest) > pageHigh && s.drop() {
	}
}

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
	const more = "More of this stands in the record."
	for _, list := range []struct {
		all   *[]string
		least int
	}{{&s.How, 3}, {&s.Work, 3}, {&s.Corrections, 3}, {&s.Unread, 2}} {
		if n := len(*list.all); n > list.least {
			*list.all = append((*list.all)[:list.least-1:list.least-1], more)
			return true
		}
	}
	if n := len(s.Readings); n > 6 {
		s.Readings = append(s.Readings[:n-2:n-2], Round{Name: "more rows in the record"})
		return true
	}
	if n := len(s.Figures); n > 6 {
		s.Figures = append(s.Figures[:n-2:n-2], Figure{Name: "more figures in the record"})
		return true
	}
	if n := len(s.Drawings); n > 0 {
		s.Drawings = s.Drawings[:n-1]
		return true
	}
	return false
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
	gap    float64 // between parts
}

var densities = []density{
	{"roomy", 1.95, 4.4, 5.6, 3.2},
	{"snug", 1.95, 4.4, 4.9, 2.2},
	{"tight", 1.75, 3.5, 3.9, 1.4},
}

var tightest = densities[len(densities)-1]

// The width of A4 less its margins, and the height of Letter less its margins and what the estimate may be wrong by.
const (
	pageWide = 190
	pageHigh = 252
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
	n := 20 + d.gap
	if s.Ruling.Size() != "" {
		n += d.text(s.Ruling.Word, pageWide*0.5/1.3) + 2
	}
	n += d.text(s.Ruling.Under, pageWide*0.55)
	n += d.part(s.Unread, pageWide-6) + d.part(s.Corrections, pageWide-6)
	n += d.text(s.AllRead, pageWide) + 1.3*d.text(s.Answer, pageWide/1.3) + 2*d.gap
	across, rows := 0.0, 1.0
	for _, f := range s.Facts {
		w := 1.15*d.letter*float64(max(letters(f.Name), letters(f.Value))) + 5
		if across += w; across > pageWide {
			across, rows = w, rows+1
		}
	}
	n += rows*2*d.line + d.gap
	left := 0.0
	if len(s.Figures) > 0 {
		left += 2 * d.row
	}
	for _, f := range s.Figures {
		left += d.row * max(1, d.lines(f.Name, 44), d.lines(f.Limit, 26))
		if f.Why != "" {
			left += d.row - d.line + d.text(f.Why, leftWide-26)
		}
	}
	readings := 0.0
	for _, r := range s.Readings {
		readings += d.row * max(1, d.lines(r.Name, 34))
	}
	if readings > 0 {
		readings += 2*d.row + d.gap
	}
	if s.Wide() {
		n += readings
	} else {
		left += readings
	}
	left += d.part(s.Work, leftWide-5) + d.part(s.Sights, leftWide)
	right := 0.0
	for _, f := range s.Drawings {
		right += drawn + d.text(f.Caption, besides)*1.05 + d.gap
	}
	n += max(left, right) + d.part(s.How, pageWide) + d.gap
	care := ""
	for _, c := range s.Cautions {
		care += c
	}
	wide := float64(pageWide)
	if s.Symbol != "" {
		wide -= 28
	}
	foot := d.text(care, wide) + 2*d.line + 8 + d.text(s.Proof.Where+s.Proof.Head+s.Proof.Says, wide)
	if s.Symbol != "" {
		foot = max(foot, 24)
	}
	return n + foot + 14
}

func (d density) part(all []string, wide float64) float64 {
	if len(all) == 0 {
		return 0
	}
	n := d.line + d.gap + 3
	for _, text := range all {
		n += d.text(text, wide)
	}
	return n
}

func (d density) text(text string, wide float64) float64 { return d.line * d.lines(text, wide) }

func (d density) lines(text string, wide float64) float64 {
	return math.Ceil(d.letter * float64(letters(text)) / wide)
}
