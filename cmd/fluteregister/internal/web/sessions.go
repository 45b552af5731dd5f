package web

import (
	"cmp"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"flutelog/cmd/internal/people"
	"flutelog/inspect/text"
)

const (
	cookie     = "__Host-register"
	idleAtMost = time.Hour      // untouched; then one signs in again
	longest    = 12 * time.Hour // however busy
	mostSigned = 10_000         // at once
)

// Wrong PINs: of a person at an address, of a person at all addresses, and of an address. Behind them is a wait.
const (
	mostOfBoth    = 5
	mostOfPerson  = 20
	mostOfAddress = 30
	pinWait       = 5 * time.Minute
)

// hashesAtOnce is how many PINs are worked out at a time: each takes a tenth of a second of a processor.
const hashesAtOnce = 2

// sessions are who is signed in where. They end with the program.
type sessions struct {
	now func() time.Time

	both, person, address *people.Tries
	hashing               chan struct{}

	mu  sync.Mutex
	all map[[sha256.Size]byte]*session // by the hash of the cookie
}

type session struct {
	who         people.Member // as they were when they signed in
	since, last time.Time
}

func newSessions(now func() time.Time) *sessions {
	return &sessions{
		now: now, all: map[[sha256.Size]byte]*session{}, hashing: make(chan struct{}, hashesAtOnce),
		both: people.NewTries(mostOfBoth, pinWait, now), person: people.NewTries(mostOfPerson, pinWait, now), address: people.NewTries(mostOfAddress, pinWait, now),
	}
}

// begin signs one in, and returns the cookie's value.
func (s *sessions) begin(who people.Member) (string, error) {
	random := make([]byte, 32)
	rand.Read(random) // never fails
	token := base64.RawURLEncoding.EncodeToString(random)
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.now()
	for key, one := range s.all {
		if one.over(now) {
			delete(s.all, key)
		}
	}
	if len(s.all) >= mostSigned {
		return "", errors.New("too many people are signed in; try again later")
	}
	s.all[sha256.Sum256([]byte(token))] = &session{who, now, now}
	return token, nil
}

func (s *session) over(now time.Time) bool {
	return now.Sub(s.last) > idleAtMost || now.Sub(s.since) > longest
}

// find returns who is signed in by a cookie.
func (s *sessions) find(r *http.Request) (people.Member, bool) {
	c, err := r.Cookie(cookie)
	if err != nil {
		return people.Member{}, false
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	key := sha256.Sum256([]byte(c.Value))
	one, now := s.all[key], s.now()
	if one == nil {
		return people.Member{}, false
	}
	if one.over(now) {
		delete(s.all, key)
		return people.Member{}, false
	}
	one.last = now
	return one.who, true
}

func (s *sessions) end(r *http.Request) {
	if c, err := r.Cookie(cookie); err == nil {
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(s.all, sha256.Sum256([]byte(c.Value)))
	}
}

// signedIn returns who a request is from. One who has been ended, or is another than when they signed in (by role, plant or
// PIN), signs in again.
func (s *Site) signedIn(r *http.Request) (people.Member, bool, error) {
	was, ok := s.sessions.find(r)
	if !ok {
		return people.Member{}, false, nil
	}
	known, err := people.Read(s.Folder)
	if err != nil {
		return people.Member{}, false, err
	}
	is, ok := known.Member(was.Name)
	return is, ok && is == was, nil
}

// signing is the page of who signs in.
type signing struct {
	Who, Then, Why string
	Nobody         bool // nobody may yet
}

func (s *Site) signInPage(w http.ResponseWriter, r *http.Request) {
	s.askWho(w, r, http.StatusOK, "")
}

func (s *Site) askWho(w http.ResponseWriter, r *http.Request, status int, why string) {
	known, err := people.Read(s.Folder)
	if err != nil {
		s.Say("%v", err)
		status, why = http.StatusInternalServerError, "The people of this register cannot be read; at the register's own machine: fluteregister person list."
	}
	nobody := err == nil
	if known != nil {
		for _, m := range known.Members() {
			nobody = nobody && (m.Ended || m.Role == "")
		}
	}
	s.show(&visit{r.Context(), w, r, people.Member{}}, status, "Sign in", signing{text.Show(r.Form.Get("who")), localPath(r.Form.Get("then")), why, nobody}.html)
}

// localPath is where it goes on after signing in: a page of this server.
func localPath(path string) string {
	if !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.ContainsAny(path, `\`) {
		return "/"
	}
	return path
}

func (s *Site) signIn(w http.ResponseWriter, r *http.Request) {
	name, pin := strings.TrimSpace(r.PostForm.Get("who")), r.PostForm.Get("pin")
	from, _, _ := net.SplitHostPort(r.RemoteAddr)
	from = cmp.Or(from, r.RemoteAddr)
	who := text.Fold(name)
	left := mostOfBoth
	for _, tries := range []struct {
		of *people.Tries
		by string
	}{{s.sessions.address, from}, {s.sessions.person, who}, {s.sessions.both, from + " " + who}} {
		n, wait := tries.of.Take(tries.by)
		if wait > 0 {
			w.Header().Set("Retry-After", fmt.Sprint(int(wait/time.Second)+1))
			s.askWho(w, r, http.StatusTooManyRequests, fmt.Sprintf("Too many tries were wrong. Wait %s, then try again.", span(wait)))
			return
		}
		left = min(left, n)
	}
	select {
	case s.sessions.hashing <- struct{}{}:
	case <-r.Context().Done():
		return
	}
	known, err := people.Read(s.Folder)
	var m people.Member
	if err == nil {
		m, err = known.SignIn(name, pin)
	}
	<-s.sessions.hashing
	switch {
	case errors.Is(err, people.ErrPIN):
		s.Say("a wrong PIN for %q from %s; %s", name, from, triesLeft(left))
		s.askWho(w, r, http.StatusForbidden, "That is not the name and the PIN of one who may look here; "+triesLeft(left)+".")
		return
	case err != nil:
		s.Say("signing in: %v", err)
		s.askWho(w, r, http.StatusInternalServerError, "The people of this register cannot be read; at the register's own machine: fluteregister person list.")
		return
	}
	s.sessions.address.Right(from)
	s.sessions.person.Right(who)
	s.sessions.both.Right(from + " " + who)
	token, err := s.sessions.begin(m)
	if err != nil {
		s.askWho(w, r, http.StatusServiceUnavailable, err.Error())
		return
	}
	http.SetCookie(w, &http.Cookie{Name: cookie, Value: token, Path: "/", HttpOnly: true, Secure: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, localPath(r.PostForm.Get("then")), http.StatusSeeOther)
}

func (s *Site) signOff(v *visit) error {
	s.sessions.end(v.r)
	http.SetCookie(v.w, &http.Cookie{Name: cookie, Path: "/", HttpOnly: true, Secure: true, SameSite: http.SameSiteStrictMode, MaxAge: -1})
	http.Redirect(v.w, v.r, "/sign-in", http.StatusSeeOther)
	return nil
}

// triesLeft says how many tries there still are.
func triesLeft(left int) string {
	switch left {
	case 0:
		return "no try is left for " + span(pinWait)
	case 1:
		return "1 try is left"
	}
	return fmt.Sprintf("%d tries are left", left)
}
