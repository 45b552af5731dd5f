package page

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strings"
	"unicode/utf8"

	"flutelog/cmd/internal/look"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// place is one of the page's places, which stand at the foot of a telephone and in the bar of a wider screen.
type place struct{ Path, Name string }

var places = []place{{"/", "Board"}, {"/tools", "Tools"}, {"/jobs", "Jobs"}, {"/trends", "Trends"}}

// questionName names a question that was left out.
func questionName(q record.Question) string {
	if q.Sight != "" {
		return strings.ReplaceAll(string(q.Sight), "-", " ")
	}
	return words.Named(q.Key)
}

// formPaths are the forms of the live page, by id, and what each posts to. Their fields stand in the parts that
// change; the forms themselves stay.
var formPaths = map[string]string{"answer": "/read", "look": "/look", "act": "/back", "skip": "/skip", "noting": "/note", "discard": "/discard"}

var unitWords = map[length.Unit]string{length.In: "inches", length.Mm: "millimetres"}

// marks are those of what an answer comes to.
var marks = map[words.Mark]mark.Mark{words.Conforms: mark.Accept, words.Rejected: mark.Reject, words.Undecided: mark.Undecided, words.Unjudged: mark.NotJudged, words.ToGrind: mark.ToGrind}

// day is the day of a stamp.
func day(stamp string) string { return stamp[:min(len(stamp), 10)] }

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(string(r)) + s[n:]
}

// link is the address of what is shown for an id.
func link(path, id string) string { return path + "?" + url.Values{"id": {id}}.Encode() }

type browserKey struct{}

func withBrowser(ctx context.Context, b *browser) context.Context {
	return context.WithValue(ctx, browserKey{}, b)
}

// browserOf returns the browser that a request was let through for.
func browserOf(r *http.Request) *browser {
	b, _ := r.Context().Value(browserKey{}).(*browser)
	return b
}

// framed is what every page shows around its own.
type framed struct {
	Title    string
	Bench    string
	Practice bool
	Who      *signed // at this device; nil for nobody
	Token    string
	Unit     length.Unit
}

// signed is the person at a device. Whoever it is signs as themselves only.
type signed struct {
	Name    string
	MaySign bool // is one who may rule on a tool
}

// signedIn returns who is signed in at the device that a request comes from; nil for nobody.
func (s *Server) signedIn(r *http.Request) *signed {
	b := browserOf(r)
	if b == nil || b.Who == "" {
		return nil
	}
	return &signed{b.Who, s.maySign(b.Who)}
}

// show answers with a page: the template of one of the pages here.
func (s *Server) show(w http.ResponseWriter, r *http.Request, status int, title string, page func(framed) string) {
	f := framed{Title: title, Bench: s.Bench.Name, Practice: s.Practice != nil, Who: s.signedIn(r), Unit: s.Unit}
	if b := browserOf(r); b != nil {
		f.Token = b.token
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	io.WriteString(w, page(f)) // who does not read the answer is gone
}

// refusedPage says why something was not done.
type refusedPage struct{ Why, Back string }

// refuse says why something was not done: in plain text to the page's script, else as a page.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, status int, err error) {
	back := "/"
	if id := r.PostForm.Get("id"); id != "" {
		back = link("/inspection", id)
	}
	s.refuseTo(w, r, back, status, err)
}

// refuseTo does so, and leads back to where it was asked.
func (s *Server) refuseTo(w http.ResponseWriter, r *http.Request, back string, status int, err error) {
	if r.Header.Get("X-Live") != "" {
		http.Error(w, err.Error(), status)
		return
	}
	s.show(w, r, status, "Not done", refusedPage{err.Error(), back}.html)
}

// stylesheet is the style of all pages: it is served once, for all of them.
var stylesheet = func() string {
	live, err := files.ReadFile("files/live.css")
	if err != nil {
		panic(err) // it is embedded
	}
	return look.Style + string(live)
}()

// style serves the stylesheet.
func (s *Server) style(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	io.WriteString(w, stylesheet)
}

// printed answers with a document that has its style in it.
func (s *Server) printed(w http.ResponseWriter, r *http.Request, write func(io.Writer) error) {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	_, rest, _ := strings.Cut(b.String(), "<style>")
	style, _, _ := strings.Cut(rest, "</style>")
	w.Header().Set("Content-Security-Policy", printedPolicy(style))
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	b.WriteTo(w)
}

// statusOf is the status that an error is answered with.
func statusOf(err error) int {
	switch {
	case isAbsent(err):
		return http.StatusNotFound
	case errors.As(err, new(elsewhere)), errors.Is(err, errAnswered), errors.Is(err, errNotInHand), errors.Is(err, errTooMany):
		return http.StatusConflict
	}
	return http.StatusUnprocessableEntity
}
