package mark

import "github.com/valyala/quicktemplate"

// What is made of every template in the tree is made anew by go generate ./...
//
//go:generate go tool qtc -skipLineComments -dir=../..

// HTML is markup that the program made itself, every text of others in it escaped.
type HTML string

// StreamRaw writes markup as it is. A template calls it by {%= mark.Raw(markup) %}: nothing else that a template writes stands
// unescaped.
func StreamRaw(w *quicktemplate.Writer, markup HTML) { w.N().S(string(markup)) }

// StreamSVG writes SVG, for a template that calls it by {%= mark.SVG() %}.
func (m Mark) StreamSVG(w *quicktemplate.Writer) { StreamRaw(w, m.SVG()) }
