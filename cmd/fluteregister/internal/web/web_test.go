package web

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"flutelog/cmd/fluteregister/internal/api"
	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/cluster/clustertest"
	"flutelog/cmd/fluteregister/internal/invented"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/cmd/internal/look/looktest"
	"flutelog/cmd/internal/people"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

func TestMain(m *testing.M) { clustertest.Main(m) }

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// running is a register with its pages, of which all in it is invented.
type running struct {
	t        *testing.T
	store    *store.Store
	book     *book.Book
	database string
	folder   string
	site     *Site
	server   *httptest.Server
	clock    looktest.Clock
}

// The PIN of everybody here.
const pin = "274158"

// open returns a register with one person of each role, Vale the inspector of plant works 1.
func open(t *testing.T) *running {
	t.Helper()
	r := &running{t: t, database: clustertest.Database(t), folder: t.TempDir()}
	var err error
	if r.store, err = store.Open(t.Context(), r.database, ""); !errors.Is(err, store.ErrEmpty) {
		t.Fatal(err)
	}
	must(t, r.store.SetUp(t.Context()))
	r.store.Close()
	r.store, err = store.Open(t.Context(), r.database, "")
	must(t, err)
	t.Cleanup(r.store.Close)
	r.book, err = book.Open(filepath.Join(r.folder, "ledger"))
	must(t, err)
	say := func(format string, args ...any) { t.Logf("the register says: "+format, args...) }
	r.site = New(Config{
		Store: r.store, Book: r.book, Folder: r.folder, Unit: length.In, Now: r.clock.Now, Say: say,
		Report: api.New(r.store, r.book, r.clock.Now, say, func() {}).Report,
		Enrol: func(ctx context.Context, made store.Enrolled) (string, error) {
			made.Token = strings.Repeat("ab", 32)
			return "the line to paste", r.book.Enrol(ctx, r.store, made)
		},
	})
	r.server = httptest.NewUnstartedServer(r.site)
	r.server.TLS = &tls.Config{NextProtos: []string{"http/1.1"}}
	r.server.StartTLS()
	t.Cleanup(r.server.Close)
	three, err := members()
	must(t, err)
	must(t, os.WriteFile(filepath.Join(r.folder, "people"), three, 0o600))
	return r
}

// members is the file of one person of each role, which is made once: what is kept of a PIN takes its while.
var members = sync.OnceValues(func() ([]byte, error) {
	folder, err := os.MkdirTemp("", "")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	for _, m := range []people.Member{{Name: "M. Hand", Role: "machinist"}, {Name: "A. Vale", Role: "inspector", Plant: "works 1"}, {Name: "S. Okafor", Role: "steward"}} {
		if err := Join(folder, m, pin); err != nil {
			return nil, err
		}
	}
	return os.ReadFile(filepath.Join(folder, "people"))
})

// enrol enrols a bench, and send takes what it has recorded.
func (r *running) enrol(b *invented.Bench, label, plant string) {
	r.t.Helper()
	own, err := b.Head()
	must(r.t, err)
	must(r.t, r.book.Enrol(r.t.Context(), r.store, store.Enrolled{Token: "token of " + own.Bench, Bench: own.Bench, Label: label, Plant: plant, Since: r.clock.Now()}))
	r.send(b.Ledger)
}

func (r *running) send(l *ledger.Ledger) {
	r.t.Helper()
	own, err := l.Head()
	must(r.t, err)
	h, err := r.store.Head(r.t.Context(), own.Bench, store.Asked{Own: own, Ended: true})
	must(r.t, err)
	var body []byte
	for line, err := range l.Lines(own.Bench, h.Seq) {
		must(r.t, err)
		body = append(body, line.Text...)
	}
	if _, _, err := r.store.Take(r.t.Context(), own.Bench, h.Ledger(), body); err != nil {
		r.t.Fatal(err)
	}
	must(r.t, r.store.Settle(r.t.Context()))
}

// shop is a register with three benches. Tool EM-0001 was inspected at north, then at south, where it was released; both named
// their inspection EM-0001.1. A copy of south wrote on.
func shop(t *testing.T) (*running, []*invented.Bench) {
	t.Helper()
	r := open(t)
	var benches []*invented.Bench
	for i, label := range []string{"north", "south", "east"} {
		b, err := invented.New(filepath.Join(t.TempDir(), label), label, uint64(i+1))
		must(t, err)
		benches = append(benches, b)
		if i == 0 { // before east has inspected its SL-0006
			must(t, b.Add("EM-0001", "EM-0002", "EM-0003", "SL-0006"))
			must(t, b.Job("J-77", 2, "EM-0002", "EM-0003", "SL-0006"))
			must(t, b.Job("J-78", 1, "EM-0001"))
		}
		prefix := []string{"EM", "BN", "SL"}[i]
		must(t, b.Day(prefix+"-0001", prefix+"-0002", prefix+"-0003", prefix+"-0004", prefix+"-0005", prefix+"-0006"))
	}
	must(t, benches[2].Add("SL-0009"))
	must(t, benches[2].Crack("SL-0009"))
	must(t, benches[1].Add("EM-0001"))
	id, err := benches[1].Inspect("EM-0001", "", inspect.After, 1)
	must(t, err)
	must(t, benches[1].Release("A. Vale", id))
	for i, b := range benches {
		r.enrol(b, []string{"north", "south", "east"}[i], []string{"works 1", "works 1", "works 2"}[i])
	}
	return r, benches
}

// fork leaves evidence of a copy of a bench that wrote on from its line before the last.
func (r *running) fork(b *invented.Bench) {
	r.t.Helper()
	own, err := b.Head()
	must(r.t, err)
	folder := filepath.Join(r.t.TempDir(), "copy")
	var lines [][]byte
	for line, err := range r.store.Lines(r.t.Context(), own.Bench, 0) {
		must(r.t, err)
		lines = append(lines, line)
	}
	_, err = ledger.Restore(folder, own.Bench, true, func(yield func([]byte, error) bool) {
		for _, line := range lines {
			if !yield(line, nil) {
				return
			}
		}
	})
	must(r.t, err)
	other, err := invented.New(folder, "copy", 99)
	must(r.t, err)
	must(r.t, errors.Join(b.Add("FK-0001"), other.Add("FK-0002")))
	r.send(b.Ledger)
	for line, err := range other.Lines(own.Bench, own.Seq) {
		must(r.t, err)
		if _, err := r.store.AddFork(r.t.Context(), own.Bench, line.Text, "192.0.2.7", func(store.Evidence) error { return nil }); err != nil {
			r.t.Fatal(err)
		}
		return
	}
}

// client is a browser without a script.
type client struct {
	t *testing.T
	*http.Client
	at string
}

func (r *running) client() *client {
	r.t.Helper()
	jar, err := cookiejar.New(nil)
	must(r.t, err)
	c := *r.server.Client()
	c.Jar = jar
	c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &client{r.t, &c, r.server.URL}
}

// as returns a client of one who is signed in; of nobody with "".
func (r *running) as(name string) *client {
	r.t.Helper()
	c := r.client()
	if name == "" {
		return c
	}
	if a := c.post("/sign-in", "who", name, "pin", pin); a.status != http.StatusSeeOther || a.to != "/" {
		r.t.Fatalf("%s was not signed in: %d %s", name, a.status, a.body)
	}
	return c
}

type answered struct {
	status   int
	body, to string
	header   http.Header
}

func (c *client) do(req *http.Request) answered {
	c.t.Helper()
	resp, err := c.Do(req)
	must(c.t, err)
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	must(c.t, err)
	return answered{resp.StatusCode, string(body), resp.Header.Get("Location"), resp.Header}
}

func (c *client) get(path string) answered {
	c.t.Helper()
	req, err := http.NewRequest(http.MethodGet, c.at+path, nil)
	must(c.t, err)
	return c.do(req)
}

func (c *client) post(path string, fields ...string) answered {
	c.t.Helper()
	form := url.Values{}
	for i := 0; i < len(fields); i += 2 {
		form.Set(fields[i], fields[i+1])
	}
	req, err := http.NewRequest(http.MethodPost, c.at+path, strings.NewReader(form.Encode()))
	must(c.t, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return c.do(req)
}

// shows fails the test unless a page shows all of some texts.
func (c *client) shows(path string, texts ...string) string {
	c.t.Helper()
	a := c.get(path)
	if a.status != http.StatusOK {
		c.t.Errorf("%s: status %d: %s", path, a.status, a.body)
	}
	for _, text := range texts {
		if !strings.Contains(a.body, text) {
			c.t.Errorf("%s does not show %q:\n%s", path, text, a.body)
		}
	}
	return a.body
}

// Every page and every deed, tried by nobody and by each role: what is not for one is not shown or done, and a new page is in
// this table or the test fails.
func TestAccess(t *testing.T) {
	r, benches := shop(t)
	r.fork(benches[0])
	own, err := benches[0].Head()
	must(t, err)
	const no, ok, moved = http.StatusForbidden, http.StatusOK, http.StatusSeeOther
	table := map[string]struct {
		fields                        []string
		machinist, inspector, steward int
	}{
		"GET /{$}":         {nil, ok, ok, ok},
		"GET /bench":       {[]string{"id", own.Bench}, ok, ok, ok},
		"GET /tools":       {nil, ok, ok, ok},
		"GET /tool":        {[]string{"id", "EM-0001"}, ok, ok, ok},
		"GET /jobs":        {nil, ok, ok, ok},
		"GET /job":         {[]string{"id", "J-77"}, ok, ok, ok},
		"GET /trends":      {nil, ok, ok, ok},
		"GET /report":      {nil, ok, ok, ok},
		"GET /report.csv":  {nil, ok, ok, ok},
		"GET /see-to":      {nil, ok, ok, ok},
		"POST /rule":       {[]string{"bench", own.Bench, "found", "gone", "why", "an old card; it is destroyed"}, no, moved, http.StatusUnprocessableEntity}, // the inspector has settled it
		"GET /enrol":       {nil, no, no, ok},
		"POST /enrol":      {[]string{"label", "bench 9"}, no, no, ok},
		"GET /people":      {nil, no, no, ok},
		"POST /people":     {[]string{"name", "N. New", "role", "machinist", "pin", pin}, no, no, ok},
		"POST /people/end": {[]string{"name", "N. New"}, no, no, ok},
		"POST /sign-off":   {nil, moved, moved, moved},
	}
	clients := []*client{r.as(""), r.as("M. Hand"), r.as("A. Vale"), r.as("S. Okafor")}
	for _, way := range r.site.routes() {
		want, told := table[way.pattern]
		if !told {
			t.Errorf("%s is not tried", way.pattern)
			continue
		}
		method, path, _ := strings.Cut(strings.TrimSuffix(way.pattern, "{$}"), " ")
		for i, status := range []int{moved, want.machinist, want.inspector, want.steward} {
			c := clients[i]
			var a answered
			if method == http.MethodPost {
				a = c.post(path, want.fields...)
			} else {
				form := url.Values{}
				for f := 0; f < len(want.fields); f += 2 {
					form.Set(want.fields[f], want.fields[f+1])
				}
				a = c.get(path + "?" + form.Encode())
			}
			if a.status != status || i == 0 && !strings.HasPrefix(a.to, "/sign-in") {
				t.Errorf("%s as %q: status %d to %q, want %d: %.300s", way.pattern, []string{"nobody", "machinist", "inspector", "steward"}[i], a.status, a.to, status, a.body)
			}
			if i == 0 && strings.Contains(a.body, "<main") {
				t.Errorf("%s shows something to nobody", way.pattern)
			}
		}
	}
	forks, err := r.store.Forks(t.Context(), own.Bench)
	must(t, err)
	if len(forks) != 1 || forks[0].RuledBy != "A. Vale" {
		t.Errorf("the fork was ruled on by %+v, want A. Vale: the machinist may not, and the steward came later", forks)
	}
	known, err := people.Read(r.folder)
	must(t, err)
	if _, there := known.Member("N. New"); there {
		t.Error("N. New was not ended by the steward")
	}
}

// An inspector rules on forks of the own plant alone, and sees how nobody else reads.
func TestInspectors(t *testing.T) {
	r, benches := shop(t)
	r.fork(benches[2]) // of works 2
	own, err := benches[2].Head()
	must(t, err)
	vale := r.as("A. Vale")
	if a := vale.post("/rule", "bench", own.Bench, "found", "here", "why", "mine"); a.status != http.StatusForbidden {
		t.Errorf("an inspector of works 1 ruled on a fork of works 2: %d", a.status)
	}
	if body := vale.get("/see-to").body; !strings.Contains(body, "An inspector of its plant, or a steward, rules on it") || strings.Contains(body, `action="/rule"`) {
		t.Error("the form is shown to one who may not")
	}
	if body := r.as("S. Okafor").get("/see-to").body; !strings.Contains(body, `action="/rule"`) {
		t.Error("the form is not shown to the steward")
	}
	for what, fields := range map[string][]string{"without a reason": {"found", "here"}, "that does not say which copy is the bench": {"why", "an old card"}, "of no copy": {"why", "an old card", "found", "both"}} {
		if a := r.as("S. Okafor").post("/rule", append(fields, "bench", own.Bench)...); a.status != http.StatusUnprocessableEntity {
			t.Errorf("a ruling %s: %d", what, a.status)
		}
	}
	steward := r.as("S. Okafor")
	if a := steward.post("/rule", "bench", own.Bench, "found", "here", "why", "an old card was put back"); a.status != http.StatusSeeOther {
		t.Errorf("a steward's ruling: %d", a.status)
	}
	steward.shows("/see-to", "Forks that are not settled", "an old card was put back", "The bench is the copy whose lines are here.", "has not gone on under a new id yet")
	steward.shows("/", "forked")
	if a := steward.post("/rule", "bench", own.Bench, "found", "gone", "why", "it is destroyed"); a.status != http.StatusSeeOther {
		t.Errorf("a steward's second ruling: %d", a.status)
	}
	if body := steward.shows("/see-to", "Forks that are settled", "it is destroyed", "The refused copy is gone."); strings.Contains(body, `action="/rule"`) {
		t.Error("what is settled is asked for again")
	}
	for _, one := range []struct {
		who, path string
		status    int
		shows     string
		never     []string
	}{
		{"M. Hand", "/trends?by=person", http.StatusForbidden, "shown to that person", []string{"R. Moss", "T. Hill"}},
		{"M. Hand", "/trends?by=person&of=M.+Hand", http.StatusForbidden, "shown to that person", nil},
		{"A. Vale", "/trends?by=person", http.StatusOK, "person A. Vale", []string{"R. Moss", "T. Hill"}},
		{"A. Vale", "/trends?by=person&of=R.+Moss", http.StatusForbidden, "How others read", []string{"T. Hill"}},
		{"S. Okafor", "/trends?by=person", http.StatusOK, "R. Moss", nil},
		{"S. Okafor", "/trends?by=person&of=R.+Moss", http.StatusOK, "person R. Moss", nil},
	} {
		a := r.as(one.who).get(one.path)
		if a.status != one.status || !strings.Contains(a.body, one.shows) {
			t.Errorf("%s for %s: %d, want %d with %q: %s", one.path, one.who, a.status, one.status, one.shows, a.body)
		}
		for _, name := range one.never {
			if strings.Contains(a.body, name) {
				t.Errorf("%s shows %s to %s", one.path, name, one.who)
			}
		}
	}
}

// Who tries PINs waits; who is ended, or gets another role or PIN, is out at once; a session ends untouched.
func TestSignIn(t *testing.T) {
	r := open(t)
	c := r.client()
	if a := c.get("/tools?q=EM"); a.status != http.StatusSeeOther || a.to != "/sign-in?then=%2Ftools%3Fq%3DEM" {
		t.Errorf("nobody was sent to %q", a.to)
	}
	a := c.post("/sign-in", "who", "a. vale", "pin", pin, "then", "/tools?q=EM")
	if a.status != http.StatusSeeOther || a.to != "/tools?q=EM" {
		t.Fatalf("signing in: %d to %q", a.status, a.to)
	}
	set := a.header.Get("Set-Cookie")
	for _, want := range []string{"__Host-register=", "HttpOnly", "Secure", "SameSite=Strict", "Path=/"} {
		if !strings.Contains(set, want) {
			t.Errorf("the cookie %q lacks %s", set, want)
		}
	}
	for _, elsewhere := range []string{"https://elsewhere.example/", "//elsewhere.example/", `/\elsewhere.example/`} {
		if a := r.client().post("/sign-in", "who", "A. Vale", "pin", pin, "then", elsewhere); a.to != "/" {
			t.Errorf("after signing in it goes on to %q", a.to)
		}
	}
	r.clock.Turn(50 * time.Minute)
	if a := c.get("/"); a.status != http.StatusOK {
		t.Errorf("after 50 minutes: %d", a.status)
	}
	r.clock.Turn(61 * time.Minute)
	if a := c.get("/"); a.status != http.StatusSeeOther {
		t.Errorf("after an hour untouched: %d", a.status)
	}
	for what, change := range map[string]func() error{
		"another PIN": func() error {
			return Join(r.folder, people.Member{Name: "A. Vale", Role: "inspector", Plant: "works 1"}, pin)
		},
		"another role": func() error { return Join(r.folder, people.Member{Name: "A. Vale", Role: "machinist"}, pin) },
		"ended":        func() error { return End(r.folder, "A. Vale") },
	} {
		must(t, Join(r.folder, people.Member{Name: "A. Vale", Role: "inspector", Plant: "works 1"}, pin))
		c := r.as("A. Vale")
		must(t, change())
		if a := c.get("/"); a.status != http.StatusSeeOther {
			t.Errorf("%s, and still signed in: %d", what, a.status)
		}
	}
	if err := End(r.folder, "S. Okafor"); err == nil {
		t.Error("the last steward was ended")
	}
	c = r.client()
	for i := range mostOfBoth {
		if a := c.post("/sign-in", "who", "M. Hand", "pin", fmt.Sprint("00000", i)); a.status != http.StatusForbidden {
			t.Fatalf("a wrong PIN: %d", a.status)
		}
	}
	if a := c.post("/sign-in", "who", "M. Hand", "pin", pin); a.status != http.StatusTooManyRequests || a.header.Get("Retry-After") == "" {
		t.Errorf("the right PIN behind %d wrong ones: %d", mostOfBoth, a.status)
	}
	r.clock.Turn(pinWait)
	if a := c.post("/sign-in", "who", "M. Hand", "pin", pin); a.status != http.StatusSeeOther {
		t.Errorf("the right PIN after the wait: %d", a.status)
	}
	for i := range mostOfAddress {
		c.post("/sign-in", "who", fmt.Sprint("nobody ", i), "pin", pin)
	}
	if a := c.post("/sign-in", "who", "S. Okafor", "pin", pin); a.status != http.StatusTooManyRequests {
		t.Errorf("an address that tries one name after the other: %d", a.status)
	}
}

// A form of another site is refused, whoever is signed in.
func TestOtherSites(t *testing.T) {
	r := open(t)
	c := r.as("S. Okafor")
	req, err := http.NewRequest(http.MethodPost, c.at+"/people/end", strings.NewReader("name=M.+Hand"))
	must(t, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Origin", "https://elsewhere.example")
	req.Header.Set("Sec-Fetch-Site", "cross-site")
	if a := c.do(req); a.status != http.StatusForbidden {
		t.Errorf("status %d", a.status)
	}
	known, err := people.Read(r.folder)
	must(t, err)
	if _, there := known.Member("M. Hand"); !there {
		t.Error("another site has ended what a person may")
	}
	for _, path := range []string{"/tools?q=%00", "/tools?q=a%1bb", "/tool?id=%E2%80%AE"} {
		if a := c.get(path); a.status != http.StatusBadRequest {
			t.Errorf("%s: %d", path, a.status)
		}
	}
}

// A tool that moves has one life: each inspection with its bench, who ruled there, and that both benches gave the same id.
func TestOneLife(t *testing.T) {
	r, benches := shop(t)
	c := r.as("M. Hand")
	body := c.shows("/tool?id=EM-0001", "2 benches have recorded of it", "ruled on at benches that did not know of each other", "released by A. Vale at south", "released by A. Vale at north", "north has another inspection of the id EM-0001.1", "south has another inspection of the id EM-0001.1", "With job J-78")
	if south, north := strings.Index(body, "At south: RELEASE"), strings.Index(body, "At north: RELEASE"); south < 0 || north < 0 || south > north {
		t.Errorf("the newest inspection is not first: south at %d, north at %d", south, north)
	}
	c.shows("/tool?id=EM-0002", "corrected at north", "T. Hill", "misread", "recalled")
	c.shows("/tool?id=SL-0009", "locked", "Locked at east", "At east, given up: cracked")
	if a := c.get("/tool?id=EM-0091"); a.status != http.StatusNotFound || !strings.Contains(a.body, "<main") {
		t.Errorf("a tool that is not there: %d, and near ones are not offered: %s", a.status, a.body)
	}
	if a := c.get("/tools?q=T.EM-0001"); a.to != "/tool?id=EM-0001" {
		t.Errorf("a scanned tag leads to %q", a.to)
	}
	if a := c.get("/tools?q=J-77"); a.to != "/job?id=J-77" {
		t.Errorf("a job's id leads to %q", a.to)
	}
	c.shows("/tools?q=em-00", "6 tools with “em-00”", "<mark>EM-00</mark>", ", one of 2")
	c.shows("/jobs", "2 open jobs", "J-77", "at north")
	c.shows("/jobs", "0 of 3 settled")
	c.shows("/job?id=J-77", "0 of 3 settled; at north", "EM-0002", "recalled", "another inspection")
	c.shows("/see-to", "One id, inspections of several benches", "EM-0001.1", "north, south")
	c.shows("/trends?by=wheel", "cup 46", "cup 60", "Radial run-out")
	c.shows("/trends?by=wheel&of=cup+46", "wheel cup 46", "limit 0.0005", "By month", "2026-09")
	c.shows("/trends?by=plant", "works 1", "works 2")
	c.shows("/", "3 benches", "north", "works 2", "all lines are here")
	r.clock.Turn(5 * 24 * time.Hour)
	c = r.as("M. Hand")
	c.shows("/", "silent for 5 days", "3 to see to")
	r.fork(benches[0])
	c.shows("/", "Stop: two copies of a bench wrote on", "forked")
	c.shows("/see-to", "Forks that are not settled", "192.0.2.7", "FK-0002")
}

// A job of which not all tools are told is counted alike in the list, on its page, and at the bench.
func TestJobsAreCountedAlike(t *testing.T) {
	r := open(t)
	b, err := invented.New(t.TempDir(), "north", 1)
	must(t, err)
	must(t, b.Add("EM-0001"))
	_, err = record.SaveJob(b.Ledger, record.Job{ID: "J-2", Quantity: 2, Sample: 2, Tools: []string{"EM-0001"}}, r.clock.Now())
	must(t, err)
	r.enrol(b, "north", "")
	const want = "0 of 2 settled"
	if j, err := record.FindJob(b.Ledger, "J-2"); err != nil || j.Count() != want {
		t.Errorf("at the bench: %s, %v", j.Count(), err)
	}
	c := r.as("M. Hand")
	c.shows("/jobs", want, "lacks an inspection", "at north")
	c.shows("/job?id=J-2", want)
}

// Benches of one label are told apart by a part of their ids, wherever they are named.
func TestBenchesOfOneLabel(t *testing.T) {
	r := open(t)
	var names []string
	for i := range 3 {
		label := []string{"bench 2", "Bench 2", "bench 3"}[i]
		b, err := invented.New(t.TempDir(), label, uint64(i+1))
		must(t, err)
		must(t, b.Day("EM-0001"))
		r.enrol(b, label, "works 1")
		own, err := b.Head()
		must(t, err)
		if names = append(names, label); i < 2 {
			names[i] += " (" + own.Bench[:6] + ")"
		}
	}
	c := r.as("M. Hand")
	for _, path := range []string{"/", "/tool?id=EM-0001", "/see-to", "/report", "/trends?by=bench"} {
		body := c.shows(path, names...)
		if strings.Contains(body, "bench 3 (") {
			t.Errorf("%s shows a part of an id where no other bench has the label", path)
		}
	}
	if body := c.shows("/tools?q=em-00", ", one of 3"); !strings.Contains(body, "at "+names[0]) && !strings.Contains(body, "at "+names[1]) && !strings.Contains(body, "at "+names[2]) {
		t.Errorf("the tool is at none of %q: %s", names, body)
	}
	// one more of a label is enrolled only once that is said
	steward := r.as("S. Okafor")
	for _, x := range []struct {
		fields []string
		status int
		shows  string
	}{
		{[]string{"label", "BENCH 3", "plant", "works 4"}, http.StatusUnprocessableEntity, "“BENCH 3” is taken: no line was made"},
		{[]string{"label", "bench 3", "more", "yes"}, http.StatusOK, "bench 3 may send now"},
		{[]string{"label", "bench 4"}, http.StatusOK, "bench 4 may send now"},
	} {
		a := steward.post("/enrol", x.fields...)
		if a.status != x.status || !strings.Contains(a.body, x.shows) {
			t.Errorf("enrolling %q: status %d: %s", x.fields, a.status, a.body)
		}
		if refused := x.status != http.StatusOK; refused != strings.Contains(a.body, `name="more"`) || refused != strings.Contains(a.body, "plant works 1, enrolled") || refused && !strings.Contains(a.body, `value="works 4"`) {
			t.Errorf("enrolling %q does not say what is called so: %s", x.fields, a.body)
		}
	}
}

// The report is, byte for byte, that of a ledger into which all benches were merged.
func TestReportIsTheBenches(t *testing.T) {
	r, benches := shop(t)
	all, err := ledger.Open(filepath.Join(t.TempDir(), "all"), ledger.Options{Bench: "all"})
	must(t, err)
	for _, b := range benches {
		_, err := all.Merge(b.Dir(), ledger.MergeOptions{Check: record.Check})
		must(t, err)
	}
	c := r.as("M. Hand")
	for kind, write := range map[report.Kind]func(w io.Writer) error{
		report.ReadingRows: func(w io.Writer) error {
			return report.ReadingsCSV(w, record.Readings(all, record.Filter{}), report.Format{Unit: length.In})
		},
		report.InspectionRows: func(w io.Writer) error {
			return report.InspectionsCSV(w, record.Inspections(all, record.Filter{}), report.Format{Unit: length.In})
		},
		report.ToolRows: func(w io.Writer) error {
			return report.ToolsCSV(w, record.Tools(all, record.Filter{}), report.Format{Unit: length.In})
		},
	} {
		var want bytes.Buffer
		must(t, write(&want))
		a := c.get("/report.csv?tool=&job=&of-bench=&stage=&verdict=&standing=&since=&until=&unit=in&as=" + string(kind))
		if a.status != http.StatusOK || a.body != want.String() || strings.Count(a.body, "\r\n") < 10 {
			t.Errorf("%s: status %d, %d bytes, want %d", kind, a.status, len(a.body), want.Len())
		}
	}
	if a := c.get("/report.csv?since=soon"); a.status != http.StatusBadRequest || !strings.Contains(a.body, "soon") || a.header.Get("Content-Disposition") != "" {
		t.Errorf("a wrong day: %d %v", a.status, a.header)
	}
}
