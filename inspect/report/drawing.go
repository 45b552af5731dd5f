// Package report makes what leaves the program: tables of readings, the printable inspection sheet with its
// tag, and the drawings that sheet, page and charts share. Nothing it makes needs a script or a network, and
// no colour carries a meaning.
package report

import (
	"embed"
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"flutelog/inspect/length"
)

//go:embed *.html *.css
var files embed.FS

var templates = template.Must(template.ParseFS(files, "*.html"))

// Style is how the drawings look. A page that holds drawings puts it into its style element once. It sets no
// colour: lines and letters take that of the page, so that they show on light, on dark and on paper.
var Style = style("drawing.css")

func style(name string) template.CSS {
	css, err := files.ReadFile(name)
	if err != nil {
		panic(err) // it is embedded
	}
	return template.CSS(css)
}

// figure is a drawing with its height, in px at the width that all drawings have.
type figure struct {
	SVG    template.HTML
	Height px
}

// draw fills one of the drawing templates.
func draw(name string, height px, data any) figure {
	var b strings.Builder
	if err := templates.ExecuteTemplate(&b, name, data); err != nil {
		panic(fmt.Sprintf("drawing %s: %v", name, err)) // templates and their data are fixed here
	}
	return figure{template.HTML(b.String()), height}
}

// width of every drawing, in px: as wide as the narrowest telephone shows without shrinking the letters.
const width = 340

// px is a place or a size in a drawing, printed with two decimals at most.
type px float64

func (p px) String() string {
	s := strconv.FormatFloat(float64(p), 'f', 2, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// point is a place in a drawing, x to the right and y down.
type point struct{ X, Y px }

// polar returns the place at a distance from a centre, at an angle clockwise from twelve o'clock.
func (p point) polar(radius, radians float64) point {
	return point{p.X + px(radius*math.Sin(radians)), p.Y - px(radius*math.Cos(radians))}
}

// path joins the places by straight lines, as the d of an SVG path.
func path(ps ...point) string {
	var b strings.Builder
	for i, p := range ps {
		b.WriteByte("ML"[min(i, 1)])
		b.WriteString(p.X.String() + " " + p.Y.String())
	}
	return b.String()
}

// label is a piece of text in a drawing.
type label struct {
	point
	Text   string
	Anchor string // start, middle or end
}

// Lines of text under a drawing: how far apart, and how many letters fit the width of a drawing.
const (
	captionRow  = 13
	captionSize = 53
)

// captions sets the texts under a drawing, wrapped to its width, and returns with them where the drawing ends.
func captions(top px, texts ...string) (ls []label, bottom px) {
	for _, t := range texts {
		for _, line := range wrap(t, captionSize) {
			ls = append(ls, label{point{8, top + px(captionRow*len(ls))}, line, "start"})
		}
	}
	return ls, top + px(captionRow*(len(ls)-1)) + 6
}

// wrap breaks a text between words into lines of at most size letters; a longer word has a line of its own.
func wrap(text string, size int) []string {
	var lines []string
	for _, word := range strings.Fields(text) {
		if n := len(lines) - 1; n >= 0 && utf8.RuneCountInString(lines[n]+" "+word) <= size {
			lines[n] += " " + word
		} else {
			lines = append(lines, word)
		}
	}
	return lines
}

// roundDown returns the largest of 1, 2 and 5 times a power of ten that is not above f.
func roundDown(f float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(f)))
	for _, step := range []float64{5, 2} {
		if step*power <= f {
			return step * power
		}
	}
	return power
}

// plain prints a number without an exponent and without trailing zeros.
func plain(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

// number prints a length in a unit with that unit's usual decimals, without its name.
func number(l length.Length, u length.Unit) string { return l.Format(u, u.Decimals()) }
