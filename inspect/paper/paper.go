// Package paper makes what is printed: the certificate of a job, the sheet of an inspection, tags, and charts. Each is
// one HTML document that needs nothing beside it and prints in black and white on A4 and on Letter. It takes words and
// drawings that are made already; which of them look like a release follows from the mark of the ruling alone.
package paper

import (
	"embed"
	"fmt"
	"io"
	"strings"
	"unicode"

	"flutelog/inspect/draw"
	"flutelog/inspect/mark"
)

//go:embed *.css
var files embed.FS

// style is the style element of a paper.
func style(name string) mark.HTML {
	all := mark.Style + draw.Style
	for _, file := range []string{"paper.css", name + ".css"} {
		css, err := files.ReadFile(file)
		if err != nil {
			panic(err) // it is embedded
		}
		all += string(css)
	}
	return mark.HTML(all)
}

// write writes a paper with its style. Where it takes more pages than one, each after the first is headed with a title.
func write(w io.Writer, name, title string, html func(style mark.HTML) string) error {
	if _, err := io.WriteString(w, html(style(name)+running(title))); err != nil {
		return fmt.Errorf("writing %s: %w", name, err)
	}
	return nil
}

// isolated sets what people wrote apart from the direction of the text around it, where no element can do so.
func isolated(text string) string {
	if strings.IndexFunc(text, func(r rune) bool { return r > unicode.MaxASCII }) < 0 {
		return text
	}
	return "\u2068" + text + "\u2069"
}

// running is the style of what stands at the head and the foot of pages; "" is that nothing does. A title stands in it as
// the numbers of its characters.
func running(title string) mark.HTML {
	if title == "" {
		return ""
	}
	const font = `font: 8.5pt system-ui, "DejaVu Sans", sans-serif`
	var escaped strings.Builder
	for _, r := range title {
		fmt.Fprintf(&escaped, `\%06x`, r)
	}
	return mark.HTML(`
@page { margin: 14mm 10mm 11mm; @top-left { content: "` + escaped.String() + `"; ` + font + `; vertical-align: middle; } @bottom-left { content: "Page " counter(page) " of " counter(pages); ` + font + `; vertical-align: middle; } }
@page :first { margin-top: 9mm; @top-left { content: none; } }
`)
}

// Ruling is how a tool stands, as a mark, a headline and what stands under it.
type Ruling struct {
	Mark  mark.Mark
	Word  string // the headline; of a concession its condition
	Short string // the same for the cell of a table, where the headline is too long for one
	Under string // who, when, and what the headline leaves open
}

// Go says whether the paper looks like a release: only the one mark does.
func (r Ruling) Go() bool { return r.Mark == mark.Released }

// Usable says whether a diameter may be printed to be cut with: of a release, or of a concession under its condition.
func (r Ruling) Usable() bool { return r.Go() || r.Mark == mark.Conceded }

// Cell is the headline for a cell of a table.
func (r Ruling) Cell() string {
	if r.Short != "" {
		return r.Short
	}
	return r.Word
}

// Size is the class of the headline: the longer it is, the smaller.
func (r Ruling) Size() string { return size(r.Word, 24, 70) }

func size(text string, long, longest int) string {
	switch n := letters(text); {
	case n > longest:
		return "longest"
	case n > long:
		return "long"
	}
	return ""
}

// Fact is a name with a value.
type Fact struct{ Name, Value string }

// Drawing is a drawing with what is said under it.
type Drawing struct {
	Name    string // in a few words, said where a page has no room for it
	SVG     mark.HTML
	Caption string
}

// Signature is a line to sign: by hand, or with who signed.
type Signature struct{ What, Who string }

// Proof is where the paper is recorded, and what that proves.
type Proof struct {
	Where string // bench and record
	Head  string // of the ledger when the paper was made
	Says  string
}

// letters measures a text in letters of usual width; capitals and the signs of wide scripts count for more.
func letters(text string) int {
	n := 0.0
	for _, r := range text {
		n += spread(r)
	}
	return int(n + 0.5)
}

func spread(r rune) float64 {
	const wideScripts = 0x1100 // Hangul and all that follows
	switch {
	case r >= wideScripts && !unicode.IsPunct(r) && unicode.IsLetter(r):
		return 2
	case r == 'W' || r == 'M' || r == '@' || r == 'm' || r == 'w':
		return 1.8
	case unicode.IsUpper(r):
		return 1.3
	}
	return 1
}
