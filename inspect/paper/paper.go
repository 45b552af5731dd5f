// Package paper makes what is printed: the certificate of a job, the sheet of an inspection, tags, and charts. Each is
// one HTML document that needs nothing beside it and prints in black and white on A4 and on Letter. It takes words and
// drawings that are made already; which of them look like a release follows from the mark of the ruling alone.
package paper

import (
	"embed"
	"fmt"
	"html/template"
	"io"
	"strings"
	"sync"
	"unicode"

	"flutelog/inspect/draw"
	"flutelog/inspect/mark"
)

//go:embed *.html *.css
var files embed.FS

// templates are taken apart at the first paper, so that no other command waits for them.
var templates = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(template.FuncMap{
		"mark":   func(m mark.Mark) template.HTML { return template.HTML(m.SVG()) },
		"id":     identity,
		"unread": func() mark.Mark { return mark.Unread },
	}).ParseFS(files, "*.html"))
})

// style is the style element of a paper.
func style(name string) template.CSS {
	all := mark.Style + draw.Style
	for _, file := range []string{"paper.css", name + ".css"} {
		css, err := files.ReadFile(file)
		if err != nil {
			panic(err) // it is embedded
		}
		all += string(css)
	}
	return template.CSS(all)
}

// write fills a template; Style is added to what the view gives it. Where the paper takes more pages than one, each
// after the first is headed with a title.
func write(w io.Writer, name, title string, view any) error {
	err := templates().ExecuteTemplate(w, name+".html", struct {
		Style template.CSS
		View  any
	}{style(name) + running(title), view})
	if err != nil {
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
func running(title string) template.CSS {
	if title == "" {
		return ""
	}
	const font = `font: 8.5pt system-ui, "DejaVu Sans", sans-serif`
	var escaped strings.Builder
	for _, r := range title {
		fmt.Fprintf(&escaped, `\%06x`, r)
	}
	return template.CSS(`
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
	SVG     template.HTML
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

// identity sets an id, isolated from the direction of the text around it and never broken at a hyphen unless it is too
// long for a line.
func identity(id string) template.HTML {
	class := "id"
	if letters(id) > 16 {
		class = "id long"
	}
	return template.HTML(`<bdi class="` + class + `">` + template.HTMLEscapeString(id) + `</bdi>`)
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
