// Package draw makes the drawings that page and papers share, as inline SVG: the tool from its end, a land in section,
// charts, the life of a tool, and the square symbol. They need no script and no network, set no colour but that of
// the letters around them, and name themselves for those who do not see them.
package draw

import (
	_ "embed"
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"

	"flutelog/inspect/mark"
)

// Style is how the drawings look. A document that holds drawings puts it into its style element once.
//
//go:embed draw.css
var Style string

// width of every drawing, in px: as wide as the narrowest telephone shows without shrinking the letters.
const width = 340

// px is a place or a size in a drawing, printed with two decimals at most.
type px float64

func (p px) String() string {
	s := strconv.FormatFloat(float64(p), 'f', 2, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// point is a place in a drawing, x to the right and y down.
type point struct{ x, y px }

// polar returns the place at a distance from a centre, at an angle clockwise from twelve o'clock.
func (p point) polar(radius, radians float64) point {
	return point{p.x + px(radius*math.Sin(radians)), p.y - px(radius*math.Cos(radians))}
}

func (p point) String() string { return p.x.String() + " " + p.y.String() }

// path joins the places by straight lines, as the d of an SVG path.
func path(ps ...point) string {
	var b strings.Builder
	for i, p := range ps {
		b.WriteByte("ML"[min(i, 1)])
		b.WriteString(p.String())
	}
	return b.String()
}

// svg is a drawing that is being made.
type svg struct{ strings.Builder }

// newSVG begins a drawing of a class, a height, and a name for those who do not see it.
func newSVG(class string, wide, high px, name string) *svg {
	s := new(svg)
	fmt.Fprintf(s, `<svg class="drawing %s" viewBox="0 0 %v %v" role="img" aria-label="%s" xmlns="http://www.w3.org/2000/svg">`, class, wide, high, html.EscapeString(name))
	return s
}

func (s *svg) path(class, d string) { fmt.Fprintf(s, `<path class="%s" d="%s"/>`, class, d) }

func (s *svg) circle(class string, at point, radius px) {
	fmt.Fprintf(s, `<circle class="%s" cx="%v" cy="%v" r="%v"/>`, class, at.x, at.y, radius)
}

// text sets letters at a place; anchor is start, middle or end.
func (s *svg) text(class, anchor string, at point, text string) {
	fmt.Fprintf(s, `<text class="%s" x="%v" y="%v" text-anchor="%s">%s</text>`, class, at.x, at.y, anchor, html.EscapeString(text))
}

// shape places one of the marks, whose inside is given in a square of 24, with its middle at a place.
func (s *svg) shape(class, inside string, middle point, size px) {
	fmt.Fprintf(s, `<g class="mark %s" transform="translate(%v) scale(%v)">%s</g>`, class, point{middle.x - size/2, middle.y - size/2}, size/24, inside)
}

func (s *svg) done() mark.HTML {
	s.WriteString("</svg>")
	return mark.HTML(s.String())
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

// roundUp returns the smallest of 1, 2 and 5 times a power of ten that is not under f.
func roundUp(f float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(f)))
	for _, step := range []float64{1, 2, 5} {
		if step*power >= f {
			return step * power
		}
	}
	return 10 * power
}

// plain prints a number without an exponent and without trailing zeros.
func plain(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }
