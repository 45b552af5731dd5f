package page

import (
	"crypto/tls"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"flutelog/cmd/internal/look"
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
		{"an oversized body", nil, form.Encode() + "&note=" + strings.Repeat("n", look.MostBody), http.StatusRequestEntityTooLarge},
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
	if err := r.server.hub.stop(id); err != nil {
		r.t.Fatal(err)
	}
	w, lost, err := record.Resume(r.config.Ledger, id, nil, time.Now)
	if err != nil || lost != nil {
		r.t.Fatalf("resume: %v, lost %v", err, lost)
	}
	done := len(w.Inspection.Seen) + len(w.Inspection.Readings)
	if err := w.Release(); err != nil {
		r.t.Fatal(err)
	}
	if err := r.server.hub.takeUp(id); err != nil {
		r.t.Fatal(err)
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

// Streams beyond the bound are refused; when one ends there is room again.
func TestStreamsAreBounded(t *testing.T) {
	r := newRecorder(t, nil)
	query := url.Values{"id": {"x"}, "state": {r.server.state(&browser{}, "x")}}
	var leave func()
	for i := range mostStreams {
		c := r.clientFrom(fmt.Sprintf("127.0.0.%d", 10+i/(mostByAddress-1)))
		c.get("/")
		_, leave = c.stream(query, "")
		defer leave()
	}
	c := r.client()
	c.get("/")
	if a := c.get("/stream?" + query.Encode()); a.status != http.StatusServiceUnavailable {
		t.Errorf("one more stream: status %d, want 503", a.status)
	}
	leave()
	r.server.streams <- struct{}{} // waits for the room that the one who left makes
	<-r.server.streams
	_, leave = c.stream(query, "")
	leave()
}
