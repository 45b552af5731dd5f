package page

import (
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"sync"
	"time"
)

const (
	cookieName  = "flutelog"
	sessionLife = 12 * time.Hour // a shift
	mostDevices = 128
	tryEvery    = time.Second // a pairing code, at the most
	codeLength  = 8           // of 32 letters: 40 bits
)

// devices are the browsers that came here, each known by a cookie until its session ends.
type devices struct {
	terminal io.Writer
	now      func() time.Time

	mu    sync.Mutex
	known map[string]*browser
	code  string
	tried time.Time
}

// browser is one session of one browser.
type browser struct {
	token string // stands in every form that this browser is given
	begun time.Time
}

func newDevices(c Config) *devices {
	d := &devices{terminal: c.Terminal, now: c.Now, known: map[string]*browser{}}
	if c.Paired {
		d.newCode()
	}
	return d
}

// newCode shows a fresh code on the recorder's own terminal. A code pairs one device.
func (d *devices) newCode() {
	d.code = rand.Text()[:codeLength]
	fmt.Fprintf(d.terminal, "flutelog: pairing code for the next device: %s %s\n", d.code[:4], d.code[4:])
}

// of returns the browser that a request comes from; nil when its session is not known, or over.
func (d *devices) of(r *http.Request) *browser {
	cookie, err := r.Cookie(cookieName)
	if err != nil {
		return nil
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	b := d.known[cookie.Value]
	if b == nil || d.over(b) {
		return nil
	}
	return b
}

// over says whether a browser's session has ended.
func (d *devices) over(b *browser) bool { return d.now().Sub(b.begun) >= sessionLife }

// begin gives a browser a session.
func (d *devices) begin(w http.ResponseWriter, r *http.Request) *browser {
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.known) >= mostDevices {
		d.forgetOne()
	}
	id := rand.Text()
	b := &browser{token: rand.Text(), begun: d.now()}
	d.known[id] = b
	http.SetCookie(w, &http.Cookie{
		Name: cookieName, Value: id, Path: "/", MaxAge: int(sessionLife / time.Second),
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode,
	})
	return b
}

// forgetOne makes room: it ends the oldest session.
func (d *devices) forgetOne() {
	oldest := ""
	for id, b := range d.known {
		if o := d.known[oldest]; o == nil || b.begun.Before(o.begun) {
			oldest = id
		}
	}
	delete(d.known, oldest)
}

var (
	errWrongCode = errors.New("that is not the code on the recorder's terminal")
	errTooSoon   = errors.New("one try a second; try again")
)

// pair checks a code. The right one is used up.
func (d *devices) pair(code string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	if now.Sub(d.tried) < tryEvery {
		return errTooSoon
	}
	d.tried = now
	code = strings.ToUpper(strings.Join(strings.Fields(code), ""))
	if subtle.ConstantTimeCompare([]byte(code), []byte(d.code)) != 1 {
		return errWrongCode
	}
	d.newCode()
	return nil
}

// known lets through browsers that may use the page. A write must carry the token of the form it came from.
func (s *Server) known(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b := s.devices.of(r)
		if b == nil && !s.Paired && r.Method == http.MethodGet {
			b = s.devices.begin(w, r)
		}
		if b == nil {
			s.askPairing(w, r)
			return
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			if err := r.ParseForm(); err != nil {
				s.refuse(w, r, formStatus(err), err)
				return
			}
			if subtle.ConstantTimeCompare([]byte(r.PostForm.Get("token")), []byte(b.token)) != 1 {
				s.refuse(w, r, http.StatusForbidden, errors.New("this form is from before the recorder was started anew; open the page again"))
				return
			}
		}
		next.ServeHTTP(w, r.WithContext(withBrowser(r.Context(), b)))
	})
}

func formStatus(err error) int {
	if errors.As(err, new(*http.MaxBytesError)) {
		return http.StatusRequestEntityTooLarge
	}
	return http.StatusBadRequest
}

// askPairing answers a browser that may not use the page.
func (s *Server) askPairing(w http.ResponseWriter, r *http.Request) {
	if s.Paired && r.Method == http.MethodGet && r.URL.Path != "/stream" {
		http.Redirect(w, r, "/pair", http.StatusSeeOther)
		return
	}
	s.refuse(w, r, http.StatusForbidden, errors.New("this device's session is over; open the page again"))
}

func (s *Server) pairPage(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, "pair.html", http.StatusOK, "Pair this device", "")
}

func (s *Server) pair(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		s.refuse(w, r, formStatus(err), err)
		return
	}
	switch err := s.devices.pair(r.PostForm.Get("code")); err {
	case nil:
		s.devices.begin(w, r)
		http.Redirect(w, r, "/", http.StatusSeeOther)
	case errTooSoon:
		s.show(w, r, "pair.html", http.StatusTooManyRequests, "Pair this device", err.Error())
	default:
		s.show(w, r, "pair.html", http.StatusForbidden, "Pair this device", err.Error())
	}
}
