// Package api answers the protocol of a register: benches send their lines and ask for what others have, and programs read
// what stands over all benches.
package api

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/ledger"
	"flutelog/inspect/register"
)

// API answers benches and programs.
type API struct {
	store *store.Store
	book  *book.Book
	now   func() time.Time
	say   func(format string, args ...any) // what a person at the register should know
	ruled func()                           // a person has ruled at a bench: time for a witness
	said  sync.Map                         // forks, by the SHA-256 of their line
	bounds
	mux *http.ServeMux
}

// New returns an API. say is told what a person at the register should know, and ruled that lines came in which a person
// has ruled.
func New(s *store.Store, b *book.Book, now func() time.Time, say func(format string, args ...any), ruled func()) *API {
	a := &API{store: s, book: b, now: now, say: say, ruled: ruled, mux: http.NewServeMux(), bounds: newBounds()}
	for pattern, answer := range map[string]func(*question) error{
		"GET /v1/chains/{bench}/head":   a.head,
		"POST /v1/chains/{bench}/lines": a.take,
		"POST /v1/chains/{bench}/fork":  a.fork,
		"GET /v1/chains/{bench}/lines":  a.lines,
		"GET /v1/subjects":              a.subjects,
		"GET /v1/tools":                 a.tools,
		"GET /v1/tools/{id}":            a.tool,
		"GET /v1/jobs":                  a.jobs,
		"GET /v1/jobs/{id}":             a.job,
		"GET /v1/benches":               a.benches,
		"GET /v1/forks":                 a.forks,
		"GET /v1/unread":                a.unread,
		"GET /v1/report.csv":            a.report,
		"GET /v1/trend":                 a.trend,
	} {
		a.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) { a.answer(w, r, answer) })
	}
	a.mux.HandleFunc("/v1/", func(w http.ResponseWriter, r *http.Request) {
		a.answer(w, r, func(q *question) error {
			return refuse(http.StatusNotFound, register.Nothing, "%s %s: there is nothing of that name", r.Method, r.URL.Path)
		})
	})
	return a
}

func (a *API) ServeHTTP(w http.ResponseWriter, r *http.Request) { a.mux.ServeHTTP(w, r) }

// question is a request of one who may ask.
type question struct {
	context.Context
	http.ResponseWriter
	*http.Request
	who store.Enrolled
}

// refusal is a register.Refusal with its status.
type refusal struct {
	status int
	register.Refusal
	after time.Duration // when to try again
}

func refuse(status int, why register.Why, format string, args ...any) *refusal {
	return &refusal{status: status, Refusal: register.Refusal{Why: why, Text: fmt.Sprintf(format, args...)}}
}

// answer lets one ask who has a token, and answers with what is refused.
func (a *API) answer(w http.ResponseWriter, r *http.Request, answer func(*question) error) {
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("X-Content-Type-Options", "nosniff")
	q := &question{r.Context(), w, r, store.Enrolled{}}
	err := a.admit(q)
	if err == nil {
		err = answer(q)
	}
	if err == nil {
		return
	}
	x := refusalOf(err)
	if x.status == http.StatusInternalServerError || x.status == http.StatusServiceUnavailable {
		a.say("%s %s: %v", r.Method, r.URL.Path, err)
	}
	if x.Head != nil {
		a.date(x.Head)
	}
	if x.after > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(int(x.after/time.Second)+1))
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(x.status)
	json.NewEncoder(w).Encode(x.Refusal)
}

// refusalOf says in the protocol's words what went wrong.
func refusalOf(err error) *refusal {
	var x *refusal
	var damaged *store.DamagedError
	switch {
	case errors.As(err, &x):
		return x
	case errors.As(err, &damaged):
		return refuse(http.StatusUnprocessableEntity, register.Damaged, "%v; nothing of it is kept", err)
	case errors.Is(err, store.ErrMoved):
		return refuse(http.StatusConflict, register.Moved, "%v", err)
	case errors.Is(err, store.ErrParted):
		return refuse(http.StatusConflict, register.Parted, "%v", err)
	case errors.Is(err, store.ErrShut):
		return refuse(http.StatusForbidden, register.Shut, "%v: nothing more is taken of it", err)
	case errors.Is(err, store.ErrStranger):
		return refuse(http.StatusUnauthorized, register.Stranger, "the token is not known, or has ended: enrol the bench again (fluteregister enrol)")
	case errors.Is(err, store.ErrNone):
		return refuse(http.StatusNotFound, register.Nothing, "%v", err)
	case errors.Is(err, store.ErrDown):
		x := refuse(http.StatusServiceUnavailable, register.Down, "the register's database does not answer; what is at the bench stays there, and is sent later")
		x.after = 10 * time.Second
		return x
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return refuse(http.StatusServiceUnavailable, register.Down, "it took too long")
	}
	return refuse(http.StatusInternalServerError, register.Down, "the register could not do it: %v", err)
}

// admit says who asks, by the token.
func (a *API) admit(q *question) error {
	token, ok := strings.CutPrefix(q.Request.Header.Get("Authorization"), "Bearer ")
	if !ok {
		return store.ErrStranger
	}
	sum := sha256.Sum256([]byte(token))
	var err error
	q.who, err = a.store.Token(q, hex.EncodeToString(sum[:]))
	return err
}

// bench returns the bench that a question is about, if it is the asker's own. A token that was never used is from now on
// that of the bench which used it first.
func (a *API) bench(q *question) (string, error) {
	bench := q.PathValue("bench")
	if q.who.Bench == bench && bench != "" {
		return bench, nil
	}
	if q.who.Bench != "" || q.who.Reads {
		return "", refuse(http.StatusForbidden, register.NotYours, "bench %s: the token is not this bench's: enrol it at the register", bench)
	}
	if _, err := ledger.ParseHead(bench + "-1-" + strings.Repeat("0", 64)); err != nil {
		return "", refuse(http.StatusBadRequest, register.Unclear, "%q is no bench's id", bench)
	}
	q.who.Bench = bench
	if err := a.book.Enrol(q, a.store, q.who); err != nil {
		return "", err
	}
	a.say("bench %s is enrolled as %q", bench, q.who.Label)
	return bench, nil
}

// named returns the line that a question names: of a number and, unless that is 0, a hash.
func named(q *question, bench, number string) (ledger.Head, error) {
	h := ledger.Head{Bench: bench}
	query := q.URL.Query()
	if text := query.Get(number); text != "" {
		seq, err := strconv.ParseUint(text, 10, 63)
		if err != nil {
			return h, refuse(http.StatusBadRequest, register.Unclear, "%s %q: want a line's number", number, text)
		}
		h.Seq = seq
	}
	if h.Seq > 0 {
		h.Hash = query.Get("sha256")
	}
	return h, nil
}

// date notes the register's clock and its witness in a head.
func (a *API) date(h *register.Head) {
	h.Date = a.now().UTC().Format(time.RFC3339)
	if witness, err := a.book.Head(); err == nil {
		h.Witness = witness
	}
}

func (a *API) answerHead(q *question, h register.Head) error {
	a.date(&h)
	return answerJSON(q, h)
}

func answerJSON(q *question, v any) error {
	text, err := json.Marshal(v)
	if err != nil {
		return err
	}
	q.ResponseWriter.Header().Set("Content-Type", "application/json")
	q.Write(append(text, '\n'))
	return nil
}

// Write writes the answer.
func (q *question) Write(p []byte) (int, error) { return q.ResponseWriter.Write(p) }

func (a *API) head(q *question) error {
	bench, err := a.bench(q)
	if err != nil {
		return err
	}
	asked := store.Asked{}
	if asked.Own, err = named(q, bench, "seq"); err != nil {
		return err
	}
	if clock, err := time.Parse(time.RFC3339, q.Request.Header.Get(register.HeaderClock)); err == nil {
		asked.Clock = clock
	}
	h, err := a.store.Head(q, bench, asked)
	if err != nil {
		return err
	}
	if asked.Own.Seq <= h.Seq {
		a.caughtUp(bench, a.now())
	}
	return a.answerHead(q, h)
}

// body reads the lines of a question.
func (a *API) body(q *question) ([]byte, error) {
	var plain io.Reader = http.MaxBytesReader(q.ResponseWriter, q.Body, register.MostBody+1<<16)
	switch encoding := q.Request.Header.Get("Content-Encoding"); encoding {
	case "":
	case "gzip":
		zipped, err := gzip.NewReader(plain)
		if err != nil {
			return nil, refuse(http.StatusBadRequest, register.Unclear, "the body is not gzip: %v", err)
		}
		plain = zipped
	default:
		return nil, refuse(http.StatusBadRequest, register.Unclear, "the body is coded as %q: want gzip, or nothing", encoding)
	}
	tooMuch := func(what string, most int) error {
		return refuse(http.StatusRequestEntityTooLarge, register.TooMuch, "%s has at most %d bytes", what, most)
	}
	// Never more is unpacked than may be taken, nor a line's beginning that is longer than a line.
	body := make([]byte, 0, 64<<10)
	for line := 0; ; {
		if len(body) == cap(body) {
			body = append(make([]byte, 0, min(2*len(body), register.MostBody+1)), body...)
		}
		n, err := plain.Read(body[len(body):cap(body)])
		if end := bytes.LastIndexByte(body[len(body):len(body)+n], '\n'); end >= 0 {
			line = len(body) + end + 1
		}
		body = body[:len(body)+n]
		switch {
		case len(body) > register.MostBody || errors.As(err, new(*http.MaxBytesError)):
			return nil, tooMuch("a body of lines", register.MostBody)
		case len(body)-line > ledger.MaxLine:
			return nil, tooMuch("a line", ledger.MaxLine)
		case err == io.EOF:
			return body, nil
		case err != nil:
			return nil, refuse(http.StatusBadRequest, register.Unclear, "the body did not come whole: %v", err)
		}
	}
}

func (a *API) take(q *question) error {
	bench, err := a.bench(q)
	if err != nil {
		return err
	}
	after, err := named(q, bench, "after")
	if err != nil {
		return err
	}
	done, err := a.bounds.body(q)
	if err != nil {
		return err
	}
	defer done()
	body, err := a.body(q)
	if err != nil {
		return err
	}
	if err := a.spend(bench, len(body), a.now()); err != nil {
		return err
	}
	h, ruled, err := a.store.Take(q, bench, after, body)
	if err != nil {
		x := refusalOf(err)
		if h.Bench != "" {
			x.Head = &h
		}
		return x
	}
	if ruled {
		a.ruled()
	}
	return a.answerHead(q, h)
}

func (a *API) fork(q *question) error {
	bench, err := a.bench(q)
	if err != nil {
		return err
	}
	done, err := a.bounds.body(q)
	if err != nil {
		return err
	}
	defer done()
	line, err := a.body(q)
	if err != nil {
		return err
	}
	from, _, _ := net.SplitHostPort(q.RemoteAddr)
	h, err := a.book.Fork(q, a.store, bench, line, from)
	if err != nil {
		return err
	}
	if _, said := a.said.LoadOrStore(sha256.Sum256(line), true); !said { // the copy leaves it again at every try
		a.say("bench %s (%s) is FORKED: two copies of it write on; fluteregister forks says more", bench, q.who.Label)
	}
	return a.answerHead(q, h)
}

func (a *API) lines(q *question) error {
	bench := q.PathValue("bench")
	if !q.who.Reads {
		var err error
		if bench, err = a.bench(q); err != nil {
			return err
		}
	}
	after, err := named(q, bench, "after")
	if err != nil {
		return err
	}
	return a.stream(q, "text/plain; charset=utf-8", a.store.Lines(q, bench, after.Seq))
}

func (a *API) subjects(q *question) error {
	of := q.URL.Query()["of"]
	if len(of) == 0 || len(of) > 10_000 {
		return refuse(http.StatusBadRequest, register.Unclear, "%d subjects: want of=SUBJECT, at most 10000 times", len(of))
	}
	names, err := a.store.NamesOf(q, of)
	if err != nil {
		return err
	}
	benches := url.Values{}
	for bench, name := range names {
		benches.Set(bench, name)
	}
	q.ResponseWriter.Header().Set(register.HeaderBenches, benches.Encode())
	return a.stream(q, "text/plain; charset=utf-8", a.store.SubjectLines(q, of))
}

// stream answers with lines. A stream that breaks off is cut off for who reads it too, so that it never looks whole.
func (a *API) stream(q *question, kind string, lines iter.Seq2[[]byte, error]) error {
	if !q.who.Reads { // each holds a connection to the database, however slowly it is read
		done, err := a.bounds.stream(q)
		if err != nil {
			return err
		}
		defer done()
	}
	return a.streamed(q, kind, func(w io.Writer) error {
		for line, err := range lines {
			if err != nil {
				return err
			}
			if _, err := w.Write(line); err != nil {
				return err
			}
		}
		return nil
	})
}

// begun is how much of a stream is made before its first byte goes out: what goes wrong before that is answered as such.
const begun = 64 << 10

func (a *API) streamed(q *question, kind string, write func(io.Writer) error) error {
	head := q.ResponseWriter.Header()
	head.Set("Content-Type", kind)
	head.Set(register.HeaderDate, a.now().UTC().Format(time.RFC3339))
	if witness, err := a.book.Head(); err == nil {
		head.Set(register.HeaderWitness, witness)
	}
	var out io.Writer = q.ResponseWriter
	close := func() error { return nil }
	w := &late{most: begun}
	w.out = func() io.Writer {
		if strings.Contains(q.Request.Header.Get("Accept-Encoding"), "gzip") {
			head.Set("Content-Encoding", "gzip")
			z, _ := gzip.NewWriterLevel(out, gzip.BestSpeed)
			close = z.Close
			return z
		}
		return out
	}
	err := write(w)
	if err != nil && !w.begun {
		return err
	}
	if err == nil {
		err = w.flush()
	}
	if err == nil {
		err = close()
	}
	if err != nil {
		a.say("%s %s was cut off: %v", q.Method, q.URL.Path, err)
		panic(http.ErrAbortHandler)
	}
	return nil
}

// late is a writer that holds back the first bytes.
type late struct {
	bytes.Buffer
	most  int
	begun bool
	to    io.Writer
	out   func() io.Writer
}

func (l *late) Write(p []byte) (int, error) {
	if l.begun {
		return l.to.Write(p)
	}
	l.Buffer.Write(p)
	if l.Len() < l.most {
		return len(p), nil
	}
	return len(p), l.flush()
}

func (l *late) flush() error {
	if l.begun {
		return nil
	}
	l.begun, l.to = true, l.out()
	_, err := l.to.Write(l.Bytes())
	l.Buffer = bytes.Buffer{}
	return err
}
