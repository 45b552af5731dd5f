package page

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"flutelog/cmd/internal/people"
	"flutelog/inspect/text"
)

const (
	mostPINs = 3 // wrong ones of a person at a device; then it waits for that person
	pinWait  = 5 * time.Minute
)

var (
	errSignIn  = errors.New("nobody is signed in at this device; sign in first")
	errConfirm = errors.New("not signed: tick that you sign it")
)

// person is one who may be at a device.
type person struct {
	Name  string
	PIN   bool // is asked
	Signs bool // may put their name to a ruling
}

// May is what a person may do, in words.
func (p person) May() string {
	if p.Signs {
		return "reads, may sign"
	}
	return "reads"
}

// persons are those that the bench knows: the people of the ledger and those that the bench file lets sign. None is that
// whoever is there says who they are.
func (s *Server) persons() ([]person, *people.People, error) {
	known, err := people.Read(s.Ledger.Dir())
	if err != nil {
		return nil, nil, err
	}
	var all []person
	add := func(name string) {
		if !slices.ContainsFunc(all, func(p person) bool { return text.Fold(p.Name) == text.Fold(name) }) {
			all = append(all, person{name, known.Asks(name), s.maySign(name)})
		}
	}
	for _, name := range known.Names() {
		add(name)
	}
	for _, name := range s.Bench.Inspectors {
		add(name)
	}
	return all, known, nil
}

// maySign says whether the bench lets somebody sign.
func (s *Server) maySign(name string) bool {
	return len(s.Bench.Inspectors) == 0 || slices.ContainsFunc(s.Bench.Inspectors, func(i string) bool { return text.Fold(i) == text.Fold(name) })
}

// pinBy is whose tries of a PIN are counted together. Devices that anybody can make anew count as one.
func (s *Server) pinBy(b *browser, name string) string {
	if !s.Paired {
		return text.Fold(name)
	}
	return b.ID + " " + text.Fold(name)
}

// checkPIN returns why somebody is not who they say, or nil. It tells how many tries are left.
func (s *Server) checkPIN(b *browser, known *people.People, name, pin string) error {
	if !known.Asks(name) {
		return nil
	}
	by := s.pinBy(b, name)
	left, wait := s.pins.Take(by)
	if wait > 0 {
		return fmt.Errorf("this device waits %s for %s only; a forgotten PIN is set anew at the bench's own machine", inWords(wait), name)
	}
	err := known.Check(name, pin)
	if errors.Is(err, people.ErrPIN) {
		s.devices.terminal.say("a wrong PIN for %s at %s; %s", name, cmp.Or(b.Name, "a device"), triesLeft(left, pinWait))
		return fmt.Errorf("that was not the PIN of %s; %s", name, triesLeft(left, pinWait))
	}
	if err == nil {
		s.pins.Right(by)
	}
	return err
}

// signInPage is who may sign in here, and what goes on afterwards.
type signInPage struct {
	People []person
	Who    string // chosen
	Asks   bool   // for the PIN of Who
	Left   int    // tries
	Of     int
	Why    string // it was refused
	Device string
	Now    string // who is signed in
	Then   string // where it goes on
	Kept   string // a form that was sent before somebody was signed in, sent on afterwards
	Typed  string // what of it a person typed, to be seen
}

// signInFor fills the page of who signs in.
func (s *Server) signInFor(r *http.Request, who, why string) (signInPage, error) {
	all, known, err := s.persons()
	b := browserOf(r)
	p := signInPage{People: all, Who: who, Why: why, Device: cmp.Or(b.Name, "this device"), Now: b.Who, Then: localPath(r.Form.Get("then"))}
	if err == nil && who != "" && known.Asks(who) {
		p.Asks, p.Left, p.Of = true, s.pins.Left(s.pinBy(b, who)), mostPINs
	}
	return p, err
}

// localPath is a path of this page; another is left out.
func localPath(path string) string {
	u, err := url.Parse(path)
	if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(path, "//") || strings.ContainsRune(path, '\\') {
		return "/"
	}
	return path
}

func (s *Server) signInPage(w http.ResponseWriter, r *http.Request) {
	p, err := s.signInFor(r, r.Form.Get("who"), "")
	if err != nil {
		s.refuse(w, r, http.StatusInternalServerError, err)
		return
	}
	s.show(w, r, http.StatusOK, "Who is here", p.html)
}

// askSignIn asks who is there before a form goes on. What was typed into the form is kept, and sent on afterwards.
func (s *Server) askSignIn(w http.ResponseWriter, r *http.Request) {
	if r.Header.Get("X-Live") != "" {
		w.Header().Set("X-Sign-In", "yes")
		http.Error(w, errSignIn.Error(), http.StatusForbidden)
		return
	}
	p, err := s.signInFor(r, "", errSignIn.Error())
	if err != nil {
		s.refuse(w, r, http.StatusInternalServerError, err)
		return
	}
	kept := url.Values{}
	for name, values := range r.PostForm {
		if name != "token" && name != "pin" {
			kept[name] = values
		}
	}
	p.Then, p.Kept, p.Typed = r.URL.Path, kept.Encode(), r.PostForm.Get("reading")
	s.show(w, r, http.StatusForbidden, "Who is here", p.html)
}

// signIn signs a person in at the device.
func (s *Server) signIn(w http.ResponseWriter, r *http.Request) {
	b, f := browserOf(r), r.PostForm
	name := strings.TrimSpace(f.Get("who"))
	all, known, err := s.persons()
	if err != nil {
		s.refuse(w, r, http.StatusInternalServerError, err)
		return
	}
	again := func(status int, who, why string) {
		p, _ := s.signInFor(r, who, why)
		p.Kept, p.Typed = f.Get("kept"), f.Get("typed")
		s.show(w, r, status, "Who is here", p.html)
	}
	i := slices.IndexFunc(all, func(p person) bool { return text.Fold(p.Name) == text.Fold(name) })
	switch {
	case name == "":
		again(http.StatusUnprocessableEntity, "", "who is at this device?")
		return
	case len(all) > 0 && i < 0:
		again(http.StatusUnprocessableEntity, "", fmt.Sprintf("this bench knows no %s; people are added at its own machine: flutelog person add", name))
		return
	case i >= 0:
		name = all[i].Name
	}
	if _, sent := f["pin"]; !sent && i >= 0 && all[i].PIN {
		again(http.StatusOK, name, "")
		return
	}
	if err := s.checkPIN(b, known, name, f.Get("pin")); err != nil {
		again(http.StatusForbidden, name, err.Error())
		return
	}
	s.devices.change(b, func(one *station) { one.Who, one.Since = name, s.Now() })
	then := localPath(f.Get("then"))
	if kept, err := url.ParseQuery(f.Get("kept")); err == nil && f.Get("kept") != "" {
		s.sendOn(w, r, b, then, kept)
		return
	}
	http.Redirect(w, r, then, http.StatusSeeOther)
}

// sendOn does what a form wanted that came before somebody was signed in.
func (s *Server) sendOn(w http.ResponseWriter, r *http.Request, b *browser, path string, form url.Values) {
	on := r.Clone(withBrowser(r.Context(), b))
	on.Method, on.URL = http.MethodPost, &url.URL{Path: path}
	form.Set("token", b.token)
	on.Form, on.PostForm = form, form
	s.inside.ServeHTTP(w, on)
}

func (s *Server) signOff(w http.ResponseWriter, r *http.Request) {
	s.devices.change(browserOf(r), func(one *station) { one.Who = "" })
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
}

// byPerson lets a form through once somebody is signed in, where the bench knows people. Where it knows nobody, who reads
// need not be told.
func (s *Server) byPerson(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if browserOf(r).Who == "" {
			all, _, err := s.persons()
			if err != nil {
				s.refuse(w, r, http.StatusInternalServerError, err)
				return
			}
			if len(all) > 0 {
				s.askSignIn(w, r)
				return
			}
		}
		next(w, r)
	}
}

// signing is what a form that is signed asks for.
type signing struct {
	Who    string   // who signs: the person at the device
	May    bool     // sign
	Others []string // who may instead
	PIN    bool     // is asked once more
	Free   bool     // the bench knows nobody: whoever is there writes a name
	Left   int      // tries of the PIN
}

// signing says who would sign at a device, and how.
func (s *Server) signing(r *http.Request) (signing, error) {
	all, known, err := s.persons()
	b := browserOf(r)
	g := signing{Who: b.Who, Free: len(all) == 0, May: b.Who != "" && s.maySign(b.Who)}
	if err != nil {
		return g, err
	}
	if g.Free {
		g.Who = cmp.Or(strings.TrimSpace(r.PostForm.Get("by")), g.Who) // of a form that is refused
	}
	for _, p := range all {
		if p.Signs && p.Name != b.Who {
			g.Others = append(g.Others, p.Name)
		}
	}
	if g.May = g.May || g.Free; g.May {
		g.PIN, g.Left = known.Asks(b.Who), s.pins.Left(s.pinBy(b, b.Who))
	}
	return g, nil
}

// signer returns who signs a form: the person at the device and nobody else, who may sign, says so once more and gives
// their PIN once more. Where the bench knows nobody it is the name in the form, which is then signed in.
func (s *Server) signer(r *http.Request) (string, error) {
	b, f := browserOf(r), r.PostForm
	all, known, err := s.persons()
	if err != nil {
		return "", err
	}
	name := b.Who
	if len(all) == 0 {
		if by, written := f["by"]; written {
			name = strings.TrimSpace(by[0])
		}
		if name == "" {
			return "", errors.New("who signs? A ruling has a name")
		}
	}
	switch {
	case name == "":
		return "", errSignIn
	case !s.maySign(name):
		return "", fmt.Errorf("%s may not sign; %s may. It waits here, with nothing lost", name, strings.Join(s.Bench.Inspectors, " or "))
	case f.Get("confirmed") == "":
		return "", errConfirm
	}
	if err := s.checkPIN(b, known, name, f.Get("pin")); err != nil {
		return "", err
	}
	if len(all) == 0 && b.Who != name {
		s.devices.change(b, func(one *station) { one.Who, one.Since = name, s.Now() })
	}
	return name, nil
}

// devicesPage is the devices that may use this bench.
type devicesPage struct {
	Here   string // the one that asks
	All    []deviceRow
	Paired bool
	Code   string // pairs the next one; told only to who is signed in
}

// deviceRow is one device in words.
type deviceRow struct {
	station
	When string
	Here bool
}

// devicesPage shows the devices that are let in. Only a person who is signed in, where the bench knows people, is told the
// code that lets in another.
func (s *Server) devicesPage(w http.ResponseWriter, r *http.Request) {
	b := browserOf(r)
	p := devicesPage{Here: b.ID, Paired: s.Paired}
	for _, one := range s.devices.list() {
		p.All = append(p.All, deviceRow{one, agoInWords(s.Now().Sub(one.Seen)), one.ID == b.ID})
	}
	if b.Who != "" {
		p.Code = s.devices.current()
	}
	s.show(w, r, http.StatusOK, "Devices", p.html)
}

// agoInWords is how long ago something was, as fine as anybody wants to know.
func agoInWords(d time.Duration) string {
	switch {
	case d < 2*time.Minute:
		return "now"
	case d < 2*time.Hour:
		return fmt.Sprintf("%d minutes ago", int(d/time.Minute))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d hours ago", int(d/time.Hour))
	}
	return fmt.Sprintf("%d days ago", int(d/(24*time.Hour)))
}

// shutOut unpairs a device, or signs it off where devices are not paired.
func (s *Server) shutOut(w http.ResponseWriter, r *http.Request) {
	one, was := s.devices.shutOut(r.PostForm.Get("device"))
	if !was {
		s.refuse(w, r, http.StatusNotFound, errors.New("that device is not let in any more"))
		return
	}
	s.devices.terminal.must("%s was shut out by %s", cmp.Or(one.Name, "a device"), cmp.Or(browserOf(r).Who, "another device"))
	s.hub.wake()
	http.Redirect(w, r, "/devices", http.StatusSeeOther)
}

func (s *Server) anotherCode(w http.ResponseWriter, r *http.Request) {
	s.devices.newCode()
	http.Redirect(w, r, "/devices", http.StatusSeeOther)
}

// pad are the keys for a PIN, as they lie on a telephone.
var pad = []string{"1", "2", "3", "4", "5", "6", "7", "8", "9", "back", "0", "Clear"}
