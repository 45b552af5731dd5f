package page

import (
	"bytes"
	"cmp"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"flutelog/cmd/internal/people"
	"flutelog/inspect/text"
)

const (
	cookieName  = "flutelog"
	cookieLife  = 400 * 24 * time.Hour // as long as browsers keep one
	signedLife  = 12 * time.Hour       // a shift
	untouched   = 10 * time.Minute     // then a person is signed off, unless something is in hand
	forgotten   = 90 * 24 * time.Hour  // a paired device that did not come
	mostDevices = 128
	codeLength  = 8 // of 32 letters: 40 bits, which nobody tries out however many addresses they have
	mostCodes   = 5 // wrong ones from an address; then it waits
	codeWait    = time.Minute
	seenEvery   = time.Minute // how fine it is known when a device was here
	writeEvery  = time.Hour   // and kept
)

// devicesFile is the file in the ledger's folder that keeps who was let in, so that a recorder that is started anew knows
// its devices. The first line is the key that the cookies are signed with; then a line a device.
const devicesFile = "devices"

// devicesHead is its first line.
type devicesHead struct {
	Key    []byte            `json:"key"`
	Serves map[string]string `json:"serves,omitempty"` // the inspection that a gauge serves, by the gauge's name
}

// devices are the browsers that came here, each known by a cookie. Where devices must be paired only those that were are
// known; else whoever reaches the recorder is, and nothing is kept of a browser before somebody signs in at it.
type devices struct {
	paired   bool
	path     string
	terminal *teller
	now      func() time.Time
	codes    *people.Tries // by address

	mu      sync.Mutex
	key     []byte
	all     map[string]*station
	code    string
	from    map[string]time.Time // when a device that is known last came from an address
	written time.Time
	serves  map[string]string
}

// station is one device that came here, as it is kept.
type station struct {
	ID     string    `json:"id"`
	Name   string    `json:"name,omitempty"`
	Paired time.Time `json:"paired,omitzero"`
	Seen   time.Time `json:"seen"`
	Who    string    `json:"who,omitempty"` // signed in
	Since  time.Time `json:"since,omitzero"`

	Reads map[string]string `json:"reads,omitempty"` // the inspections that it has in hand, and who reads each
}

// browser is the device that a request comes from, as it stood then.
type browser struct {
	station
	token string // stands in every form that this browser is given
}

// has says whether a device, and the person at it, has an inspection in hand.
func (b *browser) has(inspection string) bool {
	who, holds := b.Reads[inspection]
	return holds && who == b.Who
}

func newDevices(c Config) *devices {
	d := &devices{paired: c.Paired, path: filepath.Join(c.Ledger.Dir(), devicesFile), terminal: newTeller(c.Terminal, c.Now), now: c.Now,
		codes: people.NewTries(mostCodes, codeWait, c.Now), all: map[string]*station{}, from: map[string]time.Time{}}
	if err := d.read(); err != nil {
		d.terminal.say("%v; devices are let in anew", err)
	}
	if d.key == nil {
		d.key = make([]byte, sha256.Size)
		rand.Read(d.key) // never fails
		d.write()
	}
	if c.Paired {
		d.code = rand.Text()[:codeLength]
		d.tellCode(d.code)
	}
	return d
}

// read reads the file; there is none at the first start.
func (d *devices) read() error {
	data, err := os.ReadFile(d.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if at, err := os.Stat(d.path); err == nil && openToOthers(at) {
		return fmt.Errorf("%s could be read by others on this machine, so its key opens nothing any more", d.path)
	}
	lines := bytes.Split(bytes.TrimSpace(data), []byte("\n"))
	var head devicesHead
	if err := json.Unmarshal(lines[0], &head); err != nil || len(head.Key) < 16 {
		return fmt.Errorf("%s:1: no key as this program writes it", d.path)
	}
	d.key, d.serves = head.Key, head.Serves
	for n, line := range lines[1:] {
		one := new(station)
		if err := json.Unmarshal(line, one); err != nil || one.ID == "" {
			d.terminal.say("%s:%d: that device cannot be read; it must be paired again", d.path, n+2)
			continue
		}
		if d.now().Sub(one.Seen) < forgotten && (!d.paired || !one.Paired.IsZero()) {
			d.all[one.ID] = one
		}
	}
	return nil
}

// write writes the file whole, for nobody but its owner to read. What cannot be written is told: the page goes on, and its
// devices are let in anew after the next start.
func (d *devices) write() {
	d.written = d.now()
	var b bytes.Buffer
	w := json.NewEncoder(&b)
	w.Encode(devicesHead{d.key, d.serves})
	for _, one := range d.all {
		if !one.Paired.IsZero() || one.Who != "" || len(one.Reads) > 0 {
			w.Encode(one)
		}
	}
	f, err := os.CreateTemp(filepath.Dir(d.path), devicesFile+"-*") // mode 0600
	if err == nil {
		_, err = f.Write(b.Bytes())
		if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
			err = os.Rename(f.Name(), d.path)
		}
		if err != nil {
			os.Remove(f.Name())
		}
	}
	if err != nil {
		d.terminal.say("which devices are let in is not kept: %v", err)
	}
}

// openToOthers says whether a file can be read by more than its owner and group.
func openToOthers(at fs.FileInfo) bool { return at.Mode().Perm()&0o007 != 0 }

func (d *devices) tellCode(code string) {
	d.terminal.must("pairing code for the next device: %s %s", code[:4], code[4:])
}

// sign returns what proves that a text comes from this recorder.
func (d *devices) sign(text string) string {
	mac := hmac.New(sha256.New, d.key)
	io.WriteString(mac, text)
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil)[:18])
}

// of returns the browser that a request comes from; nil when it is not let in.
func (d *devices) of(r *http.Request) *browser {
	cookie, err := r.Cookie(cookieName)
	if err != nil {
		return nil
	}
	id, signed, _ := strings.Cut(cookie.Value, ".")
	if subtle.ConstantTimeCompare([]byte(signed), []byte(d.sign("device "+id))) != 1 {
		return nil
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	one := d.all[id]
	if one == nil {
		if d.paired {
			return nil
		}
		one = &station{ID: id} // nothing is kept of it yet
	}
	now := d.now()
	d.from[addressOf(r.RemoteAddr)] = now
	if one.Who != "" && (now.Sub(one.Since) >= signedLife || now.Sub(one.Seen) >= untouched && len(one.Reads) == 0) {
		one.Who = ""
		d.write()
	}
	if d.all[id] != nil && now.Sub(one.Seen) >= seenEvery && r.URL.Path != "/stream" { // a page that only stands open is not touched
		one.Seen = now
		if now.Sub(d.written) >= writeEvery {
			d.write()
		}
	}
	b := &browser{station: *one, token: d.sign("form " + id)}
	b.Reads = maps.Clone(one.Reads)
	return b
}

// knownAddress says whether a device that is let in came from an address within the last shift. Without pairing everybody
// is.
func (d *devices) knownAddress(address string) bool {
	if !d.paired {
		return true
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	at, came := d.from[address]
	return came && d.now().Sub(at) < signedLife
}

// begin lets a browser in.
func (d *devices) begin(w http.ResponseWriter, r *http.Request, name string) *browser {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	one := &station{ID: rand.Text(), Name: name, Seen: now}
	if d.paired {
		one.Paired = now
		d.all[one.ID] = one
		d.from[addressOf(r.RemoteAddr)] = now
		d.write()
	}
	http.SetCookie(w, &http.Cookie{
		Name: cookieName, Value: one.ID + "." + d.sign("device "+one.ID), Path: "/", MaxAge: int(cookieLife / time.Second),
		HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteStrictMode,
	})
	return &browser{station: *one, token: d.sign("form " + one.ID)}
}

// change changes what is kept of a device.
func (d *devices) change(b *browser, do func(*station)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	one := d.all[b.ID]
	if one == nil {
		if d.paired {
			return // it was shut out
		}
		if len(d.all) >= mostDevices {
			d.forgetOne()
		}
		kept := b.station
		one = &kept
		d.all[b.ID] = one
	}
	one.Seen = d.now()
	do(one)
	b.station = *one
	d.write()
}

// forgetOne makes room among devices that are not paired: the one that came longest ago and has nothing in hand is signed
// off. Paired ones are never forgotten for others.
func (d *devices) forgetOne() {
	var oldest *station
	for _, one := range d.all {
		if len(one.Reads) == 0 && (oldest == nil || one.Seen.Before(oldest.Seen)) {
			oldest = one
		}
	}
	if oldest != nil {
		delete(d.all, oldest.ID)
	}
}

// list returns the devices that are kept, those that were here last first.
func (d *devices) list() []station {
	d.mu.Lock()
	defer d.mu.Unlock()
	var all []station
	for _, one := range d.all {
		all = append(all, *one)
	}
	slices.SortFunc(all, func(a, b station) int { return cmp.Or(b.Seen.Compare(a.Seen), cmp.Compare(a.ID, b.ID)) })
	return all
}

// shutOut forgets a device. What it has in hand stays where it is.
func (d *devices) shutOut(id string) (station, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	one := d.all[id]
	if one == nil {
		return station{}, false
	}
	delete(d.all, id)
	d.write()
	return *one, true
}

// holds notes which device has an inspection in hand: no other has it then. With no device nobody has.
func (d *devices) holds(inspection string, b *browser) {
	if b != nil {
		d.change(b, func(one *station) {
			one.Reads = maps.Clone(one.Reads) // others may look at what it was
			if one.Reads == nil {
				one.Reads = map[string]string{}
			}
			one.Reads[inspection] = one.Who
		})
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	changed := false
	for _, one := range d.all {
		if b != nil && one.ID == b.ID {
			continue
		}
		if _, holds := one.Reads[inspection]; holds {
			one.Reads, changed = maps.Clone(one.Reads), true
			delete(one.Reads, inspection)
		}
	}
	if changed {
		d.write()
	}
}

// gaugeServes notes which inspection a gauge serves, so that it comes back to it when the recorder is started anew; "" for none.
func (d *devices) gaugeServes(gauge, inspection string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.serves[gauge] == inspection {
		return
	}
	d.serves = maps.Clone(d.serves)
	if d.serves == nil {
		d.serves = map[string]string{}
	}
	if d.serves[gauge] = inspection; inspection == "" {
		delete(d.serves, gauge)
	}
	d.write()
}

// servedBefore returns the inspection that a gauge served when the recorder was last here, "" for none.
func (d *devices) servedBefore(gauge string) string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.serves[gauge]
}

// holder returns the device that has an inspection in hand.
func (d *devices) holder(inspection string) (station, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, one := range d.all {
		if _, holds := one.Reads[inspection]; holds {
			return *one, true
		}
	}
	return station{}, false
}

var errWrongCode = errors.New("that is not the code on the recorder's terminal")

// waitError says how long somebody must wait.
type waitError struct{ wait time.Duration }

func (e waitError) Error() string {
	return fmt.Sprintf("too many tries; wait %s, then try again", inWords(e.wait))
}

// inWords is a time to wait, in words.
func inWords(d time.Duration) string {
	d = max(d, time.Second)
	if d > 90*time.Second {
		return fmt.Sprintf("%d minutes", int((d+time.Minute-1)/time.Minute))
	}
	return fmt.Sprintf("%d seconds", int((d+time.Second-1)/time.Second))
}

// pair checks a code that was given from an address. The right one is used up; what is wrong is told on the terminal.
// Each address has its own tries, so that nobody else's keep the right code from working.
func (d *devices) pair(code, address string) error {
	left, wait := d.codes.Take(address)
	if wait > 0 {
		d.terminal.say("%s tries pairing codes and must wait", address)
		return waitError{wait}
	}
	code = strings.ToUpper(strings.Join(strings.Fields(code), ""))
	d.mu.Lock()
	right := subtle.ConstantTimeCompare([]byte(code), []byte(d.code)) == 1
	if right {
		d.code = rand.Text()[:codeLength]
	}
	next := d.code
	d.mu.Unlock()
	if !right {
		d.terminal.say("%s gave a wrong pairing code; %s", address, triesLeft(left, codeWait))
		return fmt.Errorf("%w; %s", errWrongCode, triesLeft(left, codeWait))
	}
	d.codes.Right(address)
	d.terminal.must("%s was paired", address)
	d.tellCode(next)
	return nil
}

// newCode replaces the code that pairs the next device.
func (d *devices) newCode() {
	d.mu.Lock()
	d.code = rand.Text()[:codeLength]
	code := d.code
	d.mu.Unlock()
	d.tellCode(code)
}

// current is the code that pairs the next device, as it is read out.
func (d *devices) current() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.code == "" {
		return ""
	}
	return d.code[:4] + " " + d.code[4:]
}

func triesLeft(left int, wait time.Duration) string {
	switch left {
	case 0:
		return "no try is left for " + inWords(wait)
	case 1:
		return "1 try is left"
	}
	return fmt.Sprintf("%d tries are left", left)
}

// known lets through browsers that may use the page. A write must carry the token of the form it came from.
func (s *Server) known(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b := s.devices.of(r)
		if b == nil && !s.Paired && r.Method == http.MethodGet {
			b = s.devices.begin(w, r, "")
		}
		if b == nil {
			s.askPairing(w, r)
			return
		}
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			if subtle.ConstantTimeCompare([]byte(r.PostForm.Get("token")), []byte(b.token)) != 1 {
				s.refuse(w, r, http.StatusForbidden, errors.New("this form does not come from this device's page; open the page again"))
				return
			}
		}
		next.ServeHTTP(w, r.WithContext(withBrowser(r.Context(), b)))
	})
}

// askPairing answers a browser that may not use the page.
func (s *Server) askPairing(w http.ResponseWriter, r *http.Request) {
	if s.Paired && r.Method == http.MethodGet && r.URL.Path != "/stream" {
		http.Redirect(w, r, "/pair", http.StatusSeeOther)
		return
	}
	s.refuse(w, r, http.StatusForbidden, errors.New("this device is not let in here any more; open the page again"))
}

// pairPage asks for the code, and for what the device is called.
type pairPage struct{ Why, Code, Name string }

func (s *Server) pairPage(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "Pair this device", pairPage{}.html)
}

func (s *Server) pair(w http.ResponseWriter, r *http.Request) {
	code, name := r.PostForm.Get("code"), strings.TrimSpace(r.PostForm.Get("name"))
	err := s.devices.pair(code, addressOf(r.RemoteAddr))
	if err == nil {
		s.devices.begin(w, r, name)
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	status := http.StatusForbidden
	if errors.As(err, new(waitError)) {
		status = http.StatusTooManyRequests
	}
	s.show(w, r, status, "Pair this device", pairPage{err.Error(), text.Show(code), name}.html)
}
