package page

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
)

// acts are what can be done to an inspection in hand, by path. Each is the line or key that a hand would type.
func (s *Server) acts() map[string]func(id string, f url.Values) error {
	h := s.hub
	line := func(text string) func(string, url.Values) error {
		return func(id string, f url.Values) error { return h.line(id, f.Get("of"), text) }
	}
	return map[string]func(id string, f url.Values) error{
		"/read": func(id string, f url.Values) error { return h.read(id, f.Get("of"), f.Get("reading")) },
		"/look": func(id string, f url.Values) error {
			return h.look(id, f.Get("of"), f.Get("clear") != "", f["seen"], func(name, n string) string { return f.Get(name + n) })
		},
		"/skip": func(id string, f url.Values) error {
			return h.leaveOut(id, f.Get("of"), f.Get("reason"), f.Get("rest") != "")
		},
		"/again":       func(id string, f url.Values) error { return h.askAgain(id, f.Get("again")) },
		"/say":         func(id string, f url.Values) error { return h.read(id, f.Get("of"), f.Get("line")) },
		"/note":        func(id string, f url.Values) error { return h.line(id, "", "n "+f.Get("note")) },
		"/take":        line(""),
		"/go-on":       line(""),
		"/keep":        line(""),
		"/more":        line("m"),
		"/back":        line("b"),
		"/retake":      func(id string, f url.Values) error { return h.retake(id, f.Get("of")) },
		"/close":       func(id string, f url.Values) error { return h.close(id, f.Get("of")) },
		"/discard":     func(id string, f url.Values) error { return h.discard(id, f.Get("reason")) },
		"/stop":        func(id string, _ url.Values) error { return h.stop(id) },
		"/gauges-here": func(id string, _ url.Values) error { return h.bring(id) },
		"/press":       func(string, url.Values) error { return s.press() },
	}
}

// press presses the practice gauge's button.
func (s *Server) press() error {
	if s.Practice == nil {
		return errors.New("there is no practice gauge")
	}
	if err := s.Practice.Press(); errors.Is(err, io.EOF) {
		return errors.New("the practice gauge has no more invented readings; start the page again")
	} else if err != nil {
		return err
	}
	return nil
}

// elsewhere says that an inspection is in another hand.
type elsewhere struct{ holder string }

func (e elsewhere) Error() string {
	return e.holder + "; take it over first, and they are told. What you typed is not recorded"
}

// holder says who has an inspection in hand, in words; "" for nobody. mine says that it is the device and its person.
func (s *Server) holder(b *browser, id string) (words string, mine bool) {
	one, held := s.devices.holder(id)
	if !held {
		return "", true
	}
	who, name := one.Reads[id], one.Name
	if one.ID == b.ID {
		if who == b.Who {
			return "", true
		}
		return who + " reads it at this device", false
	}
	switch {
	case who == "" && name == "":
		return "another device reads it", false
	case who == "":
		return name + " reads it", false
	case name == "":
		return who + " reads it at another device", false
	}
	return who + " reads it at " + name, false
}

// inHand takes an inspection in hand for a device that has it, where the recorder was started anew since; one that nobody has
// becomes the device's.
func (s *Server) inHand(b *browser, id string) error {
	words, mine := s.holder(b, id)
	switch {
	case !mine:
		return elsewhere{words}
	case b.has(id):
		return s.hub.takeUp(id)
	case !s.hub.holds(id):
		return errNotInHand
	}
	s.devices.holds(id, b)
	return nil
}

// act answers a form that does something to the inspection in hand. What is refused comes back with what was typed, at the
// field that it is about.
func (s *Server) act(path string, do func(id string, f url.Values) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		b, id := browserOf(r), r.PostForm.Get("id")
		err := s.inHand(b, id)
		if err == nil {
			err = do(id, r.PostForm)
		}
		if err == nil && !s.hub.holds(id) {
			s.devices.holds(id, nil) // stopped, closed or given up
		}
		switch {
		case r.Header.Get("X-Live") != "" && err != nil:
			http.Error(w, err.Error(), statusOf(err))
		case r.Header.Get("X-Live") != "":
			w.WriteHeader(http.StatusNoContent)
		case err != nil && s.hub.holds(id):
			s.live(w, r, id, statusOf(err), refusedForm{err, path, r.PostForm})
		case err != nil:
			s.refuse(w, r, statusOf(err), err)
		case path == "/stop":
			http.Redirect(w, r, "/", http.StatusSeeOther)
		default:
			http.Redirect(w, r, link("/inspection", id), http.StatusSeeOther)
		}
	}
}

// takeOver takes an inspection in hand at this device, whoever had it. They are told.
func (s *Server) takeOver(w http.ResponseWriter, r *http.Request) {
	b, id := browserOf(r), r.PostForm.Get("id")
	_, mine := s.holder(b, id)
	if err := s.hub.takeUp(id); err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	s.devices.holds(id, b)
	if !mine {
		name := b.Name
		if name == "" {
			name = "another device"
		}
		s.hub.tell(id, fmt.Sprintf("%s goes on with it at %s.", or(b.Who, "Somebody"), name))
	} else {
		s.hub.wake()
	}
	http.Redirect(w, r, link("/inspection", id), http.StatusSeeOther)
}

func or(text, other string) string {
	if text == "" {
		return other
	}
	return text
}

// refusedForm is a form that was not taken, as it was sent.
type refusedForm struct {
	err  error
	path string
	sent url.Values
}

// inspection shows an inspection: live while it is in hand, else where it was stopped, else what it came to.
func (s *Server) inspection(w http.ResponseWriter, r *http.Request) {
	id := r.FormValue("id")
	b := browserOf(r)
	if b.has(id) && !s.hub.holds(id) {
		if err := s.hub.takeUp(id); err != nil && !errors.Is(err, errNotInHand) {
			s.refuse(w, r, statusOf(err), err)
			return
		}
	}
	if s.hub.holds(id) {
		s.live(w, r, id, http.StatusOK, refusedForm{})
		return
	}
	open, _ := record.Open(s.Ledger)
	if i := slices.IndexFunc(open, func(d record.Draft) bool { return d.Inspection.ID == id }); i >= 0 {
		words, mine := s.holder(b, id)
		if mine {
			words = ""
		}
		s.show(w, r, http.StatusOK, id, stoppedPage{s.state(b, id), open[i].Inspection, words}.html)
		return
	}
	s.closed(w, r, id, http.StatusOK, form{})
}

// stoppedPage is an inspection that is in nobody's hand, or in that of a device that has not come back.
type stoppedPage struct {
	State      string
	Inspection inspect.Inspection
	Holder     string
}

// livePage is what the page of an inspection in hand shows. Its parts change as it is read.
type livePage struct {
	ID, State, At string
	Screen        desk.Screen // of the page: another is another page
	View          view
	Parts         map[string]part
	Said          []line
	Why           string     // what was sent was not taken
	Sent          url.Values // as it was sent
}

// Field is what was sent and not taken in a field.
func (p livePage) Field(name string, n int) string { return p.Sent.Get(fmt.Sprint(name, n)) }

// Seen says whether a sight was ticked in what was sent and not taken.
func (p livePage) Seen(n int) bool { return slices.Contains(p.Sent["seen"], fmt.Sprint(n)) }

// live shows an inspection in hand.
func (s *Server) live(w http.ResponseWriter, r *http.Request, id string, status int, f refusedForm) {
	b := browserOf(r)
	screen := s.screenOf(id)
	if r.URL.Path == "/readings" {
		screen = desk.ReadingsScreen
	}
	state := s.stateOf(b, id, screen, r.URL.Path == "/readings")
	_, mine := s.holder(b, id)
	now, ok := s.see(id, mine, partsOf(screen)...)
	if !ok {
		s.refuse(w, r, http.StatusConflict, errNotInHand)
		return
	}
	p := livePage{ID: id, State: state, At: s.at(now.seq), Screen: screen, View: now.view, Parts: now.parts, Said: now.said, Sent: f.sent}
	if f.err != nil && (now.view.Refused == "" || !errors.As(f.err, new(refusal))) { // the desk's own stands where it is about already
		if f.sent.Has("reading") && screen == desk.ReadingScreen {
			v := now.view
			v.Refused, v.Typed = f.err.Error(), f.sent.Get("reading")
			p.Parts["entry"] = part{HTML: mark.HTML(v.entryPart())}
		} else {
			p.Why = f.err.Error()
		}
	}
	title := now.view.Title
	if now.view.Flute > 0 {
		title = fmt.Sprintf("Flute %d, %s", now.view.Flute, now.view.What())
	}
	s.show(w, r, status, title, p.page())
}

// page is the template of the screen that it shows.
func (p livePage) page() func(framed) string {
	switch p.Screen {
	case desk.ReadingScreen:
		return p.reading
	case desk.SightsScreen:
		return p.sights
	}
	return p.readings
}

// screenOf is the screen that the page of an inspection in hand shows.
func (s *Server) screenOf(id string) desk.Screen {
	n := s.hub.hand(id)
	if n == nil {
		return desk.ReadingsScreen
	}
	switch p := n.Prompt().Screen; p {
	case desk.ReadingScreen, desk.SightsScreen:
		return p
	}
	return desk.ReadingsScreen
}

// readingsPage shows all readings of an inspection in hand, in the middle of it too.
func (s *Server) readingsPage(w http.ResponseWriter, r *http.Request) {
	id := r.FormValue("id")
	if !s.hub.holds(id) {
		http.Redirect(w, r, link("/inspection", id), http.StatusSeeOther)
		return
	}
	s.live(w, r, id, http.StatusOK, refusedForm{})
}

// keys are those for a reading, where a telephone's own would hide what is asked.
var keys = []string{"7", "8", "9", "back", "4", "5", "6", "minus", "1", "2", "3", "tenths", "0", ".", "in", "mm"}
