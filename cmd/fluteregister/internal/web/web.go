// Package web is the register's pages, for people: the benches and what is wrong with one, any tool's life over all of them,
// jobs with what each lacks, trends, reports. Nothing of a tool is ever recorded here. Whoever looks is signed in, and sees
// what their role may. There is no script; everything served is embedded.
package web

import (
	"context"
	"embed"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strings"
	"time"

	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/cmd/internal/look"
	"flutelog/cmd/internal/people"
	"flutelog/inspect/length"
)

// Config says what the pages show.
type Config struct {
	Store  *store.Store
	Book   *book.Book
	Folder string      // where the people are kept
	Unit   length.Unit // that lengths are shown in
	Now    func() time.Time
	Say    func(format string, args ...any)                               // what a person at the register should know
	Report func(w http.ResponseWriter, r *http.Request) (int, error)      // answers with a report's CSV; else the status and why not
	Enrol  func(ctx context.Context, made store.Enrolled) (string, error) // lets a bench send: returns the line to be pasted there
}

//go:embed files
var files embed.FS

// stylesheet is that of all pages, with what the register's need besides.
var stylesheet = func() string {
	own, err := files.ReadFile("files/register.css")
	if err != nil {
		panic(err) // it is embedded
	}
	return look.Style + string(own)
}()

// Site answers with the pages.
type Site struct {
	Config
	sessions *sessions
	mux      *http.ServeMux
}

// route is a page, or what a form does, and who may at least.
type route struct {
	pattern string
	least   Role
	answer  func(*visit) error
}

// New returns the pages.
func New(c Config) *Site {
	s := &Site{Config: c, sessions: newSessions(c.Now), mux: http.NewServeMux()}
	for _, r := range s.routes() {
		s.mux.Handle(r.pattern, s.admitted(r))
	}
	s.mux.HandleFunc("GET /sign-in", s.signInPage)
	s.mux.HandleFunc("POST /sign-in", s.signIn)
	s.mux.HandleFunc("GET /register.css", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
		w.Header().Set("Cache-Control", "no-cache")
		w.Write([]byte(stylesheet))
	})
	s.mux.HandleFunc("GET /icon.svg", look.ServeIcon)
	return s
}

func (s *Site) routes() []route {
	return []route{
		{"GET /{$}", Machinist, s.benches},
		{"GET /bench", Machinist, s.bench},
		{"GET /tools", Machinist, s.tools},
		{"GET /tool", Machinist, s.tool},
		{"GET /jobs", Machinist, s.jobs},
		{"GET /job", Machinist, s.job},
		{"GET /trends", Machinist, s.trends},
		{"GET /report", Machinist, s.report},
		{"GET /report.csv", Machinist, s.reportCSV},
		{"GET /see-to", Machinist, s.seeTo},
		{"POST /rule", Inspector, s.rule},
		{"GET /enrol", Steward, s.enrolPage},
		{"POST /enrol", Steward, s.enrol},
		{"GET /people", Steward, s.peoplePage},
		{"POST /people", Steward, s.addPerson},
		{"POST /people/end", Steward, s.endPerson},
		{"POST /sign-off", Machinist, s.signOff},
	}
}

// ServeHTTP refuses what comes from another site, and what no form of these pages sends.
func (s *Site) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if look.Admit(w, r) {
		s.mux.ServeHTTP(w, r)
	}
}

// visit is a request of one who is signed in.
type visit struct {
	context.Context
	w   http.ResponseWriter
	r   *http.Request
	who people.Member
}

// value returns a field of the form or the address.
func (v *visit) value(name string) string { return strings.TrimSpace(v.r.Form.Get(name)) }

// refused is why something is not shown or done.
type refused struct {
	status int
	why    string
}

func (r *refused) Error() string { return r.why }

// admitted lets one in who is signed in and may.
func (s *Site) admitted(way route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		who, ok, err := s.signedIn(r)
		v := &visit{r.Context(), w, r, who}
		switch {
		case err != nil:
		case !ok && r.Method == http.MethodGet:
			http.Redirect(w, r, "/sign-in?"+url.Values{"then": {r.URL.RequestURI()}}.Encode(), http.StatusSeeOther)
			return
		case !ok:
			http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
			return
		case !Role(who.Role).atLeast(way.least):
			err = &refused{http.StatusForbidden, "This is for " + way.least.plural() + "; you are signed in as " + Role(who.Role).one() + "."}
		default:
			err = way.answer(v)
		}
		if err != nil {
			s.refuse(v, err)
		}
	})
}

// refuse says why something is not shown or done.
func (s *Site) refuse(v *visit, err error) {
	status, why := http.StatusInternalServerError, err.Error()
	var r *refused
	switch {
	case errors.As(err, &r):
		status = r.status
	case errors.Is(err, store.ErrDown):
		status, why = http.StatusServiceUnavailable, "The register's database does not answer. What benches record stays with them, and comes when it does."
		s.Say("%s: %v", v.r.URL.Path, err)
	case errors.Is(err, context.Canceled):
		return
	default:
		s.Say("%s: %v", v.r.URL.Path, err)
	}
	s.show(v, status, "Not done", refusedPage{why}.html)
}

// refusedPage says why something is not shown or done.
type refusedPage struct{ Why string }

// framed is what every page shows around its own.
type framed struct {
	Title string
	Who   people.Member
	Unit  length.Unit
}

// place is one of the places, which stand at the foot of a telephone and in the bar of a wider screen.
type place struct{ Path, Name string }

var places = []place{{"/", "Benches"}, {"/tools", "Tools"}, {"/jobs", "Jobs"}, {"/trends", "Trends"}, {"/report", "Report"}, {"/see-to", "See to"}}

// show answers with a page: the template of one of the pages here.
func (s *Site) show(v *visit, status int, title string, page func(framed) string) {
	v.w.Header().Set("Content-Type", "text/html; charset=utf-8")
	v.w.WriteHeader(status)
	io.WriteString(v.w, page(framed{title, v.who, s.Unit})) // who does not read the answer is gone
}

// link is the address of what is shown for an id.
func link(path, id string) string { return path + "?" + url.Values{"id": {id}}.Encode() }
