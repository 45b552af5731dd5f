// Package look is the face that the pages of all programs share: the stylesheet, the icon, and marks for their templates.
package look

import (
	_ "embed"
	"net/http"
	"slices"

	"flutelog/inspect/draw"
	"flutelog/inspect/mark"
)

//go:embed files/base.css
var base string

//go:embed files/record.css
var recordStyle string

// Style is the style of every page: of marks and drawings, of what any page has, and of lists, cards and jobs.
var Style = mark.Style + draw.Style + base + recordStyle

//go:embed files/icon.svg
var icon []byte

// ServeIcon answers with the icon of the page.
func ServeIcon(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Cache-Control", "no-cache")
	w.Write(icon)
}

// Mark returns a mark of the table by its name, for a template that writes the word beside it. It panics where there is
// none of that name.
func Mark(name string) mark.HTML {
	i := slices.IndexFunc(mark.All, func(m mark.Mark) bool { return m.Name == name })
	return mark.All[i].SVG()
}
