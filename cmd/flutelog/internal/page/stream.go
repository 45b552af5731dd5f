package page

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"flutelog/inspect/desk"
	"flutelog/inspect/mark"
)

const (
	heartbeat   = 15 * time.Second
	streamEvery = 20 * time.Millisecond  // between two events to one viewer, at the least
	slowEvery   = 250 * time.Millisecond // between two drawings to one viewer, at the least
)

// The parts of each page of an inspection in hand that change, by name, what takes longer to draw and may come a little later,
// and the template that draws each.
var (
	quickParts = map[desk.Screen][]string{
		desk.ReadingScreen: {"limit", "ask", "where", "gauge", "entry", "sofar", "teeth", "below"}, desk.SightsScreen: {"looked"}, desk.ReadingsScreen: {"rows"},
	}
	slowParts = map[desk.Screen][]string{desk.ReadingScreen: {"picture"}}
	drawnBy   = map[string]func(view) string{
		"limit": view.limitPart, "ask": view.askPart, "where": view.wherePart, "gauge": view.gaugePart, "entry": view.entryPart, "sofar": view.sofarPart,
		"teeth": view.teethPart, "below": view.belowPart, "picture": view.picturePart, "looked": view.lookedPart, "rows": view.rowsPart,
	}
)

func partsOf(s desk.Screen) []string { return slices.Concat(quickParts[s], slowParts[s]) }

// part is one part of the live page: as it was drawn last, and when it changed.
type part struct {
	HTML  mark.HTML
	drawn uint64
	since uint64
}

// feeds keep what there is to see of the inspections in hand, drawn once for all viewers.
type feeds struct {
	mu   sync.Mutex
	byID map[feedKey]*feed
}

// feedKey is an inspection, and whether it is drawn for who has it in hand.
type feedKey struct {
	id   string
	mine bool
}

// feed is one of them.
type feed struct {
	id    string
	seq   uint64
	view  view
	said  []line
	parts map[string]part
}

// shown is what viewers see: some parts as they stand, and what was said, up to a number.
type shown struct {
	view  view
	parts map[string]part
	said  []line
	seq   uint64
}

// see returns parts of the page of an inspection in hand as they stand; false when it is not in hand.
func (s *Server) see(id string, mine bool, names ...string) (shown, bool) {
	s.feeds.mu.Lock()
	defer s.feeds.mu.Unlock()
	key := feedKey{id, mine}
	f := s.feeds.byID[key]
	if f == nil {
		f = &feed{}
	}
	if !f.refresh(s, key) {
		delete(s.feeds.byID, key)
		return shown{}, false
	}
	if s.feeds.byID == nil {
		s.feeds.byID = map[feedKey]*feed{}
	}
	s.feeds.byID[key] = f
	now := shown{f.view, map[string]part{}, f.said, f.seq}
	for _, name := range names {
		now.parts[name] = f.draw(name)
	}
	return now, true
}

// refresh takes over what the hub holds now.
func (f *feed) refresh(s *Server, key feedKey) bool {
	h, id := s.hub, key.id
	if seq, _ := h.watch(); f.id == id && f.seq == seq {
		return true
	}
	v, said, seq, ok := h.view(id)
	if !ok {
		f.id = ""
		return false
	}
	if f.id != id {
		f.parts = map[string]part{}
	}
	v.Practice, v.Mine = s.Practice != nil, key.mine
	if !key.mine {
		v.HolderSays, _ = s.holder(&browser{}, id)
	}
	f.id, f.seq, f.view, f.said = id, seq, v, said
	return true
}

// draw returns a part as it stands.
func (f *feed) draw(name string) part {
	p := f.parts[name]
	if p.drawn == f.seq {
		return p
	}
	p.drawn = f.seq
	if html := mark.HTML(drawnBy[name](f.view)); html != p.HTML || p.since == 0 {
		p.HTML, p.since = html, f.seq
	}
	f.parts[name] = p
	return p
}

// state says how an inspection stands for a device, in this run of the server: a page that shows another state is loaded
// again.
func (s *Server) state(b *browser, id string) string {
	return s.stateOf(b, id, s.screenOf(id), false)
}

// stateOf is state of a page that shows a screen; always says that it shows it whatever is asked.
func (s *Server) stateOf(b *browser, id string, screen desk.Screen, always bool) string {
	if !s.hub.holds(id) {
		return s.run + ".away"
	}
	words := "watched"
	if _, mine := s.holder(b, id); mine {
		words = "mine"
	}
	if always {
		return s.run + "." + words + ".all"
	}
	return s.run + "." + words + "." + string(screen)
}

// at names the place in what happens after a number: <run>.<number>.
func (s *Server) at(seq uint64) string { return s.run + "." + strconv.FormatUint(seq, 10) }

// place reads what at writes. A number of another run of the server means nothing: what was then is gone.
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
	Parts map[string]mark.HTML `json:"parts"`
	Said  []line               `json:"said"`
}

// viewer is one open stream, with the numbers up to which it was told and shown.
type viewer struct {
	id, state         string
	screen            desk.Screen
	mine              bool
	told, quick, slow uint64
	slowAt            time.Time
	w                 http.ResponseWriter
	control           *http.ResponseController
	err               error // nothing more is sent after it
}

// stream sends a viewer what happens to an inspection, from where the viewer was: a page just loaded shows everything
// up to a number; one that was cut off was told up to a number, and is shown everything anew.
func (s *Server) stream(w http.ResponseWriter, r *http.Request) {
	select {
	case s.streams <- struct{}{}:
		defer func() { <-s.streams }()
	default:
		http.Error(w, "too many pages are open on this recorder", http.StatusServiceUnavailable)
		return
	}
	v := &viewer{id: r.FormValue("id"), state: r.FormValue("state"), w: w, control: http.NewResponseController(w)}
	_, screen, _ := strings.Cut(strings.TrimPrefix(v.state, s.run+"."), ".")
	if v.screen = desk.Screen(screen); screen == "all" {
		v.screen = desk.ReadingsScreen
	}
	if last := cmp.Or(r.Header.Get("Last-Event-ID"), r.FormValue("told")); last != "" {
		v.told = s.place(last)
	} else {
		v.told = s.place(r.FormValue("at"))
		v.quick, v.slow = v.told, v.told
	}
	w.Header().Set("Content-Type", "text/event-stream")
	s.follow(r, v)
}

// follow sends events until the viewer leaves, the session ends or what the viewer shows is out of date.
func (s *Server) follow(r *http.Request, v *viewer) {
	v.send("retry: 1000\n\n")
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	for v.err == nil {
		_, changed := s.hub.watch()
		b := s.devices.of(r)
		if b == nil || s.stateOf(b, v.id, s.screenOf(v.id), strings.HasSuffix(v.state, ".all")) != v.state {
			if s.closing.Err() == nil { // else there is nothing to load any more
				v.send("event: reload\ndata: now\n\n")
			}
			return
		}
		var more <-chan time.Time
		_, v.mine = s.holder(b, v.id)
		if rest := s.catchUp(v); rest > 0 {
			more = time.After(rest)
		}
		select { // a flood of readings becomes few events
		case <-time.After(streamEvery):
		case <-r.Context().Done():
			return
		}
		select {
		case <-changed:
		case <-more:
		case <-beat.C:
			v.send(": still here\n\n")
		case <-r.Context().Done():
			return
		case <-s.closing.Done():
			return
		}
	}
}

// catchUp sends a viewer what is new to it. It returns how long what is slow to draw must wait, 0 for no need.
func (s *Server) catchUp(v *viewer) (rest time.Duration) {
	quick, slow := quickParts[v.screen], slowParts[v.screen]
	names := quick
	if rest = slowEvery - time.Since(v.slowAt); rest <= 0 {
		names = partsOf(v.screen)
	}
	now, ok := s.see(v.id, v.mine, names...)
	if !ok {
		return 0
	}
	u := update{Parts: map[string]mark.HTML{}}
	v.changed(&u, now, quick, &v.quick)
	if rest <= 0 {
		v.changed(&u, now, slow, &v.slow)
		v.slowAt = time.Now()
	}
	for _, l := range now.said {
		if l.Seq > v.told {
			u.Said = append(u.Said, l)
		}
	}
	v.told = now.seq
	if len(u.Parts)+len(u.Said) > 0 {
		v.update(s.at(now.seq), u)
	}
	if v.slow == now.seq {
		return 0
	}
	return rest
}

// changed adds to an update the parts that changed after a number, and sets the number.
func (v *viewer) changed(u *update, now shown, names []string, from *uint64) {
	for _, name := range names {
		if p := now.parts[name]; p.since > *from {
			u.Parts[name] = p.HTML
		}
	}
	*from = now.seq
}

func (v *viewer) update(at string, u update) {
	data, err := json.Marshal(u)
	if err != nil {
		panic(fmt.Sprintf("page: event: %v", err)) // its parts are text
	}
	v.send(fmt.Sprintf("id: %s\ndata: %s\n\n", at, data))
}

// send writes text of the stream. A viewer that does not take it in time is let go.
func (v *viewer) send(text string) {
	if v.err != nil {
		return
	}
	if v.err = v.control.SetWriteDeadline(time.Now().Add(writeWithin)); v.err != nil {
		return
	}
	if _, v.err = v.w.Write([]byte(text)); v.err == nil {
		v.err = v.control.Flush()
	}
}
