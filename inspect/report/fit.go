package report

import (
	"math"
	"slices"
	"strings"
	"unicode"
)

// How much of each text one page holds. Whatever is longer ends in an ellipsis, so that the cut shows; the
// record holds the whole.
const (
	mostAnswer      = 150
	mostWorks       = 4
	mostWork        = 130
	mostRows        = 16
	mostReason      = 64
	mostRemarks     = 5
	fewRemarks      = 3 // on a crowded sheet
	mostRemark      = 120
	mostLooked      = 130
	mostAssumed     = 130
	mostFact        = 60
	mostDecision    = 130
	mostCorrections = 4  // corrections on a sheet; the record holds all
	mostGauge       = 16 // of its name, and of its number
	mostGauges      = 3
)

// crowdedRows: with more findings than these, reasons that the work repeats and some remarks are left out.
const crowdedRows = 8

func (in SheetInput) crowded() bool { return len(in.Judgement.Findings) > crowdedRows }

// letters measures a text in letters of usual width; capitals and the signs of wide scripts count as two.
func letters(text string) int {
	n := 0
	for _, r := range text {
		n += spread(r)
	}
	return n
}

func spread(r rune) int {
	const wideScripts = 0x1100 // Hangul and all that follows
	if unicode.IsUpper(r) || r == 'm' || r == 'w' || r == '@' || r >= wideScripts && !unicode.IsPunct(r) {
		return 2
	}
	return 1
}

// cut shortens a text to at most size letters, the last of them an ellipsis where something was cut off.
func cut(text string, size int) string {
	if letters(text) <= size {
		return text
	}
	n := 1
	for i, r := range text {
		if n += spread(r); n > size {
			return strings.TrimSpace(text[:i]) + "\u2026"
		}
	}
	return text
}

// A density is how tightly a sheet is set on paper. Its name is a class of the style, its sizes are those of
// the style, in px.
type density struct {
	name   string
	letter float64 // size of the letters
	row    float64 // from line to line
}

var densities = []density{{"roomy", 11, 14.1}, {"snug", 10, 12.8}, {"tight", 9, 10.8}}

// What there is room for, in px: the width of A4 less the margins, the height of Letter less the margins and
// what the estimate may be wrong by, and the two columns.
const (
	paperWidth  = 733
	paperHeight = 979
	leftWidth   = 440
	rightWidth  = 288
)

// Density names the loosest setting at which the sheet should fit one page. The tightest holds as much as a
// sheet ever has.
func (s sheet) Density() string {
	for _, d := range densities {
		if s.height(d) <= paperHeight {
			return d.name
		}
	}
	return densities[len(densities)-1].name
}

// height estimates the height of the sheet at a density in px, from how many letters its texts have. Its
// factors were fitted to sheets as a browser sets them in DejaVu Sans, which is wider than most, and come out
// rather too high.
func (s sheet) height(d density) float64 {
	const cautionsAndSignatures = 7.6
	return (s.head(d)+cautionsAndSignatures)*d.row + max(s.left(d)*d.row, s.right())
}

// head is the answer with the work, beside the verdict, and the facts of the tool, in lines.
func (s sheet) head(d density) float64 {
	const verdict = 5
	answer := 1.4 * d.lines(s.Answer, (paperWidth-9*d.letter)/1.65)
	for _, w := range s.Work {
		answer += d.lines(w, paperWidth-14*d.letter)
	}
	return max(verdict, answer) + 2.1*s.factRows(d) + 1
}

// factRows sets the facts of the tool beside each other, as many to a row as there is room for.
func (s sheet) factRows(d density) float64 {
	rows, used := 1.0, 0.0
	for _, f := range s.Facts {
		across := d.across(max(letters(f.Name), letters(f.Value))) * 1.12 // the values are bold
		if used > 0 && used+across > paperWidth {
			rows, used = rows+1, 0
		}
		used += across + 1.6*d.letter
	}
	return rows
}

// left is the column of figures, in lines.
func (s sheet) left(d density) float64 {
	feature := leftWidth - 30*d.letter // what the other columns of the table leave
	n := 6 + d.lines(s.Looked, leftWidth)
	for _, r := range s.Rows {
		n += 0.3 + max(2, d.lines(r.Name, feature)+d.lines(r.Reason, feature))
	}
	if len(s.Stock) > 0 {
		n += 2
		for _, f := range s.Stock {
			n += d.lines(f.Name+f.Value, leftWidth)
		}
	}
	for _, list := range [][]fact{s.Remarks, s.Record} {
		n += 2
		for _, f := range list {
			n += d.lines(f.Name+f.Value, leftWidth)
		}
	}
	for _, text := range slices.Concat(s.Rulings, s.Corrected) {
		n += d.lines(text, leftWidth/1.1)
	}
	return n
}

// right is the column of drawings, in px.
func (s sheet) right() float64 {
	h := 0.0
	for _, f := range s.Drawings {
		h += float64(f.Height)*rightWidth/width + 7
	}
	return h
}

// lines returns how many lines a text takes at a width.
func (d density) lines(text string, width float64) float64 {
	return math.Ceil(d.across(letters(text)) / width)
}

// across returns the width of so many letters.
func (d density) across(letters int) float64 { return 0.6 * float64(letters) * d.letter }
