// Package look is the face that the pages of all programs share: the stylesheet, the icon, and what their templates share.
package look

import (
	_ "embed"
	"net/http"

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
