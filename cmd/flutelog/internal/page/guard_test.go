package page

import (
	"crypto/tls"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/record"
)

// What does not come from a page of this recorder is refused, and changes nothing.
func TestRefused(t *testing.T) {
	r := newRecorder(t, func(c *Config) { c.Names = []string{"bench.example"} })
	c := r.client()
	id := r.begin(c, inspect.Before)
	form := c.fields(link("/inspection", id))
	form.Set("id", id)
	form.Set("clear", "yes")
	_, port, _ := net.SplitHostPort(r.at)

	for _, test := range []struct {
		name   string
		change func(*http.Request)
		body   string // "" for the form that is otherwise taken
		want   int
	}{
		{"another host's name", func(q *http.Request) { q.Host = "attacker.example:" + port }, "", http.StatusMisdirectedRequest},
		{"another address", func(q *http.Request) { q.Host = "192.0.2.1:" + port }, "", http.StatusMisdirectedRequest},
		{"no host", func(q *http.Request) { q.Host = ":" + port }, "", http.StatusMisdirectedRequest},
		{"another origin", func(q *http.Request) { q.Header.Set("Origin", "http://attacker.example") }, "", http.StatusForbidden},
		{"another port of this machine", func(q *http.Request) { q.Header.Set("Origin", "http://127.0.0.1:1") }, "", http.StatusForbidden},
		{"an origin that hides itself", func(q *http.Request) { q.Header.Set("Origin", "null") }, "", http.StatusForbidden},
		{"another site, as the browser says", func(q *http.Request) { q.Header.Set("Sec-Fetch-Site", "cross-site") }, "", http.StatusForbidden},
		{"another origin of this site", func(q *http.Request) { q.Header.Set("Sec-Fetch-Site", "same-site") }, "", http.StatusForbidden},
		{"no session", func(q *http.Request) { q.Header.Set("Cookie", "flutelog=unknown") }, "", http.StatusForbidden},
		{"no token", nil, "id=1&of=sights&clear=yes", http.StatusForbidden},
		{"another's token", nil, "token=AAAAAAAAAAAAAAAAAAAAAAAAAA&id=1&of=sights&clear=yes", http.StatusForbidden},
		{"an oversized body", nil, form.Encode() + "&note=" + strings.Repeat("n", mostBody), http.StatusRequestEntityTooLarge},
		{"a question that is not asked", nil, strings.Replace(form.Encode(), "of=sights", "of=all+readings", 1), http.StatusConflict},
		{"an inspection not in hand", nil, strings.Replace(form.Encode(), "id=", "id=other", 1), http.StatusConflict},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := *c
			if test.change != nil {
				c.Client = &http.Client{Jar: c.Jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
			}
			body := test.body
			if body == "" {
				body = form.Encode()
			}
			q := c.request(http.MethodPost, "/look", body)
			if test.change != nil {
				test.change(q)
			}
			if q.Header.Get("Cookie") != "" {
				c.Client = &http.Client{}
			}
			if got := c.do(q); got.status != test.want {
				t.Errorf("status %d, want %d: %s", got.status, test.want, got.body)
			}
		})
	}
	if done := r.answered(id); done != 0 {
		t.Errorf("%d answers were recorded", done)
	}
	for _, host := range []string{r.at, "localhost:" + port, "bench.example"} {
		q := c.request(http.MethodGet, "/", "")
		q.Host = host
		if got := c.do(q); got.status != http.StatusOK {
			t.Errorf("host %s: status %d, want 200", host, got.status)
		}
	}
	if a := c.post("/look", form); a.status != http.StatusOK {
		t.Errorf("the form itself: status %d: %s", a.status, a.body)
	}
	if done := r.answered(id); done != len(inspect.Sights) {
		t.Errorf("%d answers were recorded, want %d", done, len(inspect.Sights))
	}
}

// answered stops an inspection and returns how many of its questions are answered on the disk; then it goes on.
func (r *recorder) answered(id string) int {
	r.t.Helper()
	c := r.client()
	form := c.fields(link("/inspection", id))
	form.Set("id", id)
	if a := c.post("/stop", form); a.status != http.StatusOK {
		r.t.Fatalf("stop: %d: %s", a.status, a.body)
	}
	w, lost, err := record.Resume(r.config.Ledger, id, nil, time.Now)
	if err != nil || lost != nil {
		r.t.Fatalf("resume: %v, lost %v", err, lost)
	}
	done := len(w.Inspection.Seen) + len(w.Inspection.Readings)
	if err := w.Release(); err != nil {
		r.t.Fatal(err)
	}
	if a := c.post("/take-up", form); a.status != http.StatusOK {
		r.t.Fatalf("take up: %d: %s", a.status, a.body)
	}
	return done
}

func TestPolicy(t *testing.T) {
	r := newRecorder(t, nil)
	for _, path := range []string{"/", "/add", "/page.js", "/page.css", link("/tool", testTool.ID), "/nowhere"} {
		h := r.client().get(path).header
		csp := h.Get("Content-Security-Policy")
		if !strings.HasPrefix(csp, "default-src 'none';") || strings.Contains(csp, "unsafe") || strings.Contains(csp, "http") {
			t.Errorf("%s: policy %q", path, csp)
		}
		if got := h.Get("X-Content-Type-Options"); got != "nosniff" {
			t.Errorf("%s: X-Content-Type-Options %q", path, got)
		}
	}
	q := r.client().request(http.MethodGet, "/", "")
	q.Header.Set("Sec-Fetch-Site", "cross-site")
	q.Header.Set("Sec-Fetch-Mode", "no-cors")
	if got := r.client().do(q); got.status != http.StatusForbidden {
		t.Errorf("embedded by another site: status %d, want 403", got.status)
	}
}

// A device must be paired with the code that the recorder shows on its own terminal; a code pairs one device, for
// one shift.
func TestPairing(t *testing.T) {
	r := newRecorder(t, func(c *Config) { c.Paired = true })
	code := func() string {
		lines := strings.Split(strings.TrimSpace(r.shown.String()), "\n")
		_, code, _ := strings.Cut(lines[len(lines)-1], "device: ")
		return code
	}
	try := func(c *client, code string) answer {
		r.clock.turn(tryEvery)
		return c.post("/pair", map[string][]string{"code": {code}})
	}
	c := r.client()
	for _, path := range []string{"/", "/add", link("/tool", testTool.ID)} {
		if a := c.get(path); a.path != "/pair" {
			t.Errorf("%s without a code: status %d at %s", path, a.status, a.path)
		}
	}
	for _, path := range []string{"/add", "/begin", "/press"} {
		if a := c.post(path, nil); a.status != http.StatusForbidden {
			t.Errorf("posting %s without a code: status %d, want 403", path, a.status)
		}
	}
	if a := c.get("/stream?id=x"); a.status != http.StatusForbidden {
		t.Errorf("the stream without a code: status %d, want 403", a.status)
	}
	for _, wrong := range []string{"", "AAAAAAAA", code()[1:]} {
		if a := try(c, wrong); a.status != http.StatusForbidden {
			t.Errorf("code %q: status %d, want 403", wrong, a.status)
		}
	}
	if a := c.post("/pair", map[string][]string{"code": {code()}}); a.status != http.StatusTooManyRequests {
		t.Errorf("two tries within a second: status %d, want 429", a.status)
	}
	first := code()
	if a := try(c, strings.ToLower(first)); a.status != http.StatusOK || a.path != "/" {
		t.Fatalf("the right code: status %d at %s", a.status, a.path)
	}
	if a := try(r.client(), first); a.status != http.StatusForbidden {
		t.Errorf("a used code: status %d, want 403", a.status)
	}
	if code() == first {
		t.Error("the code was not renewed")
	}
	r.clock.turn(sessionLife)
	if a := c.get("/"); a.path != "/pair" {
		t.Errorf("after the session's life: status %d at %s, want /pair", a.status, a.path)
	}
}

// What the recorder writes on its terminal, which may end in a log, opens nothing: neither the cookie of a device nor the
// token of its forms stands there, nor a code that still pairs once it was used.
func TestTerminalTellsNoSecrets(t *testing.T) {
	r := newRecorder(t, func(c *Config) { c.Paired = true })
	_, code, _ := strings.Cut(strings.TrimSpace(r.shown.String()), "device: ")
	r.clock.turn(tryEvery)
	c := r.client()
	if a := c.post("/pair", map[string][]string{"code": {code}}); a.path != "/" {
		t.Fatalf("pairing: status %d at %s", a.status, a.path)
	}
	id := r.begin(c, inspect.After)
	form := c.fields(link("/inspection", id))
	form.Set("reading", "not a number")
	c.post("/read", form)
	c.post("/nowhere", form)
	at, err := url.Parse(c.at)
	if err != nil {
		t.Fatal(err)
	}
	secrets := []string{form.Get("token")}
	for _, cookie := range c.Jar.Cookies(at) {
		secrets = append(secrets, cookie.Value)
	}
	if len(secrets) < 2 {
		t.Fatalf("%d secrets, want the token and a cookie", len(secrets))
	}
	for _, secret := range secrets {
		if secret == "" || strings.Contains(r.shown.String(), secret) {
			t.Errorf("secret %q, on the terminal: %q", secret, r.shown.String())
		}
	}
}

func TestTLS(t *testing.T) {
	lender := httptest.NewTLSServer(nil) // of a certificate for this machine
	defer lender.Close()
	r := newRecorder(t, func(c *Config) { c.TLS = &tls.Config{Certificates: lender.TLS.Certificates} })
	c := &client{lender.Client(), t, "https://" + r.at}
	a := c.get("/")
	if a.status != http.StatusOK || !strings.Contains(a.header.Get("Set-Cookie"), "Secure") {
		t.Errorf("over TLS: status %d, cookie %q; want 200 and a secure cookie", a.status, a.header.Get("Set-Cookie"))
	}
	c.at = "http://" + r.at
	if a := c.get("/"); a.status != http.StatusBadRequest {
		t.Errorf("without TLS: status %d, want 400", a.status)
	}
}

// Connections beyond the bound wait, and go on when one ends.
func TestConnectionsAreBounded(t *testing.T) {
	inner, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer inner.Close()
	l := &boundedListener{Listener: inner, free: make(chan struct{}, 1)}
	accepted := make(chan net.Conn)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			accepted <- c
		}
	}()
	for range 2 {
		c, err := net.Dial("tcp", inner.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
	}
	first := <-accepted
	select {
	case <-accepted:
		t.Fatal("a second connection was accepted beyond the bound")
	case <-time.After(100 * time.Millisecond):
	}
	first.Close()
	first.Close() // twice frees one place only
	(<-accepted).Close()
}

// Streams beyond the bound are refused; when one ends there is room again.
func TestStreamsAreBounded(t *testing.T) {
	r := newRecorder(t, nil)
	c := r.client()
	c.get("/")
	query := url.Values{"id": {"x"}, "state": {r.server.state("x")}}
	var leave func()
	for range mostStreams {
		_, leave = c.stream(query, "")
		defer leave()
	}
	if a := c.get("/stream?" + query.Encode()); a.status != http.StatusServiceUnavailable {
		t.Errorf("one more stream: status %d, want 503", a.status)
	}
	leave()
	for len(r.server.streams) == mostStreams {
		time.Sleep(time.Millisecond)
	}
	_, leave = c.stream(query, "")
	leave()
}
