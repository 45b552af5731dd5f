package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"
)

const (
	heartbeat   = 15 * time.Second
	streamEvery = 20 * time.Millisecond // between two events to one viewer, at the least
)

// partNames are the parts of the live page that change, each a template of that name.
var partNames = []string{"ask", "gauge", "drawings", "record"}

// part is one part of the live page as it stands, and when it last changed.
type part struct {
	HTML  template.HTML
	since uint64
}

// feed keeps the parts of the inspection in hand, drawn once for all viewers.
type feed struct {
	mu    sync.Mutex
	id    string
	seq   uint64
	said  []line
	parts map[string]part
	drawn bool
}

// parts returns the parts of the live page of an inspection as they stand; false when it is not in hand.
func (s *Server) parts(id string) (parts map[string]part, said []line, seq uint64, ok bool) {
	f := &s.feed
	f.mu.Lock()
	defer f.mu.Unlock()
	v, said, seq, ok := s.hub.view(id)
	if !ok {
		return nil, nil, seq, false
	}
	if f.drawn && f.id == id && f.seq == seq {
		return f.parts, f.said, f.seq, true
	}
	v.Practice = s.Practice != nil
	now := map[string]part{}
	for _, name := range partNames {
		html := render(name, v)
		p := part{html, seq}
		if before := f.parts[name]; f.id == id && before.HTML == html {
			p = before
		}
		now[name] = p
	}
	f.id, f.seq, f.said, f.parts, f.drawn = id, seq, said, now, true
	return now, said, seq, true
}

// render fills a template whose data is made here.
func render(name string, data any) template.HTML {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name, data); err != nil {
		panic(fmt.Sprintf("page %s: %v", name, err))
	}
	return template.HTML(b.String())
}

// state says how an inspection stands, in this run of the server: a page that shows another state is reloaded.
func (s *Server) state(id string) string {
	if s.hub.inHand() == id {
		return s.run + ".hand"
	}
	return s.run + ".away"
}

// place is where a viewer is in the stream of what happened: <run>.<number>. A number of another run means nothing,
// so the viewer gets everything.
func (s *Server) place(text string) uint64 {
	number, ours := strings.CutPrefix(text, s.run+".")
	n, err := strconv.ParseUint(number, 10, 64)
	if !ours || err != nil {
		return 0
	}
	return n
}

// update is one event of the stream: the parts that changed, and what was said.
type update struct {
	Parts map[string]template.HTML `json:"parts"`
	Said  []line                   `json:"said"`
}

// stream sends a viewer what happens to an inspection, from where the viewer was.
func (s *Server) stream(w http.ResponseWriter, r *http.Request) {
	select {
	case s.streams <- struct{}{}:
		defer func() { <-s.streams }()
	default:
		http.Error(w, "too many pages are open on this recorder", http.StatusServiceUnavailable)
		return
	}
	out := &eventWriter{w: w, control: http.NewResponseController(w)}
	w.Header().Set("Content-Type", "text/event-stream")
	at := r.Header.Get("Last-Event-ID")
	if at == "" {
		at = r.FormValue("at")
	}
	s.follow(r, out, s.place(at))
}

// follow sends events until the viewer leaves, the session ends or what the viewer shows is out of date.
func (s *Server) follow(r *http.Request, out *eventWriter, from uint64) {
	id, shown := r.FormValue("id"), r.FormValue("state")
	out.send("retry: 1000\n\n")
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	for out.err == nil {
		_, changed := s.hub.watch()
		if s.state(id) != shown || s.devices.over(browserOf(r)) {
			out.send("event: reload\ndata: now\n\n")
			return
		}
		from = s.catchUp(out, id, from)
		if !s.pause(r, streamEvery) {
			return
		}
		select {
		case <-changed:
		case <-beat.C:
			out.send(": still here\n\n")
		case <-r.Context().Done():
			return
		case <-s.closing.Done():
			return
		}
	}
}

// pause waits, so that a flood of readings becomes few events. It returns false when the viewer has left.
func (s *Server) pause(r *http.Request, d time.Duration) bool {
	select {
	case <-time.After(d):
		return true
	case <-r.Context().Done():
		return false
	}
}

// catchUp sends what changed since a number, and returns the number that the viewer is at now.
func (s *Server) catchUp(out *eventWriter, id string, from uint64) uint64 {
	parts, said, seq, ok := s.parts(id)
	if !ok {
		return from
	}
	u := update{Parts: map[string]template.HTML{}}
	for name, p := range parts {
		if p.since > from {
			u.Parts[name] = p.HTML
		}
	}
	for _, l := range said {
		if l.Seq > from {
			u.Said = append(u.Said, l)
		}
	}
	if len(u.Parts)+len(u.Said) == 0 {
		return from
	}
	data, err := json.Marshal(u)
	if err != nil {
		panic(fmt.Sprintf("page: event: %v", err)) // its parts are text
	}
	out.send(fmt.Sprintf("id: %s.%d\ndata: %s\n\n", s.run, seq, data))
	return seq
}

// eventWriter writes events; after an error it writes nothing more.
type eventWriter struct {
	w       http.ResponseWriter
	control *http.ResponseController
	err     error
}

func (e *eventWriter) send(text string) {
	if e.err != nil {
		return
	}
	if e.err = e.control.SetWriteDeadline(time.Now().Add(writeWithin)); e.err != nil {
		return
	}
	if _, e.err = e.w.Write([]byte(text)); e.err == nil {
		e.err = e.control.Flush()
	}
}
