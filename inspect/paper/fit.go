package paper

import (
	"math"
	"strings"
)

const wideFlutes = 6 // with more flutes the readings are set across the whole page

// Wide says whether the readings are set across the whole page.
func (s Sheet) Wide() bool { return len(s.Flutes) > wideFlutes }

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
	{"roomy", 1.75, 4.4, 5.4, 5.4, 3.2, 15.5, 9},
	{"snug", 1.75, 4.4, 4.7, 4.7, 2.2, 15.5, 6},
	{"tight", 1.54, 3.5, 3.95, 3.5, 1.4, 12, 5},
}

var tightest = densities[len(densities)-1] // names and values of its facts stand on a line

// overPages is the class of a sheet that one page does not hold: it goes on over pages, in one column.
const overPages = "pages"

// The width of A4 less its margins, and the height of Letter less its margins and what the estimate may be wrong by.
const (
	pageWide = 190
	pageHigh = 255
	leftWide = 121
	besides  = 64  // wide are the drawings
	drawn    = 41  // and as high at most
	noteHigh = 3.9 // a line of what is not drawn: it takes that much of what the estimate may be wrong by
)

// A fitting is how a sheet is set.
type fitting struct {
	Sheet
	Density      string
	SightsBeside bool   // under the drawings, which are lower than what stands beside them
	NotDrawn     string // said under the last drawing
}

// fit chooses the loosest setting at which the sheet should fit one page, and how many of its drawings it has then: with
// all of them it is set snug, and those past the second are left out sooner than it is set tight, which is said. What no
// page holds goes on over pages, with all of them.
func (s Sheet) fit() fitting {
	all := s.Drawings
	try := func(n int, densities ...density) (fitting, bool) {
		s.Drawings, s.left = all[:n], all[n:]
		for _, d := range densities {
			for _, beside := range []bool{false, n > 0} {
				if s.high(d, beside) <= pageHigh {
					return fitting{s, d.name, beside, s.notDrawn()}, true
				}
			}
		}
		return fitting{}, false
	}
	if f, fits := try(len(all), densities[:len(densities)-1]...); fits {
		return f
	}
	for _, d := range densities {
		for n := len(all); n >= min(len(all), 2); n-- {
			if f, fits := try(n, d); fits {
				return f
			}
		}
	}
	s.Drawings, s.left = all, nil
	return fitting{Sheet: s, Density: overPages}
}

// notDrawn says which drawings a page has no room for, "" where it has all.
func (s Sheet) notDrawn() string {
	var names []string
	for _, d := range s.left {
		names = append(names, d.Name)
	}
	if names == nil {
		return ""
	}
	return "No room to draw " + strings.Join(names, ", ") + "."
}

// high estimates how high the sheet is, in mm, from how many letters its texts have.
func (s Sheet) high(d density, beside bool) float64 {
	n := 0.0
	for _, part := range s.parts(d, beside) {
		if part > 0 {
			n += part + d.gap
		}
	}
	return n
}

// parts estimates the height of each part of a sheet, in its order, 0 for one that is not there.
func (s Sheet) parts(d density, sightsBeside bool) []float64 {
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
	answer := 5.1 * math.Ceil(2.4*float64(letters(s.Answer))/pageWide)
	across, rows := 0.0, 1.0
	for _, f := range s.Facts {
		name, value := 0.95*d.letter*float64(letters(f.Name)), 1.2*d.letter*float64(letters(f.Value))
		w := max(name, value) + 5
		if d == tightest {
			w = name + value + 5
		}
		if across > 0 && across+w > pageWide+5 {
			across, rows = 0, rows+1
		}
		across += w
	}
	facts := rows * 2.1 * d.line
	if d == tightest {
		facts = rows * (d.line + 0.7)
	}
	left, right := s.columns(d, sightsBeside)
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
	foot := d.text(care, beside) + 4 + 3.9*math.Ceil(1.6*float64(letters(s.Proof.Where+s.Proof.Head+s.Proof.Says))/beside) + 2
	foot += d.sign + 4.5
	if s.Symbol != "" {
		foot = max(foot, 23)
	}
	return []float64{head, unread, answer, facts, d.box(s.Corrections), max(left, right), readings, d.part(s.Work, pageWide-5), how, foot}
}

// columns estimates the two columns: figures, readings and sights, and the drawings beside them.
func (s Sheet) columns(d density, sightsBeside bool) (left, right float64) {
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
	if sightsBeside {
		right += d.part(s.Sights, besides) + d.gap
	} else {
		left += d.part(s.Sights, wide)
	}
	for _, f := range s.Drawings {
		right += drawn + 3.9*math.Ceil(1.75*float64(letters(f.Caption))/besides) + d.gap
	}
	if len(s.left) > 0 {
		right += 3.9*math.Ceil(1.75*float64(letters(s.notDrawn()))/besides) - noteHigh
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
