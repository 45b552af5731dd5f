//go:build unix

package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"html"
	"io"
	"maps"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// served is the bench page in a process of its own.
type served struct {
	cmd    *exec.Cmd
	stderr *watched
	at     string // host and port
	cookie string
	token  string
	tool   string // that is inspected
	tools  int    // that were added, where no more could be read of the one before
	id     string // of the inspection in hand
	of     string // the question that it asks
}

var pageAddress = regexp.MustCompile(`the page is at http://(\S+)/`)

// requests sends hostile requests to the page, and returns how often each status came.
func (h *hostile) requests(t *testing.T, binary string, n int) map[int]int {
	t.Helper()
	s := servePage(t, binary)
	answers := map[int]int{}
	inHand := 0
	for i := range n {
		if i%10 == 0 {
			s.goOn(t)
		}
		if s.of != "" {
			inHand++
		}
		request := h.request(s)
		mangled := h.IntN(4) == 0
		if mangled {
			request = h.change(request)
		}
		status, err := s.send(request)
		switch {
		case mangled && (errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, syscall.ECONNRESET)):
			// a request without an end need not be answered
		case err != nil:
			t.Fatalf("%.500q: %v\nsays %q", request, err, s.stderr)
		case mangled && (status == http.StatusNotImplemented || status == http.StatusHTTPVersionNotSupported):
			// are right for a transfer coding or a version of the protocol that is not known (RFC 9110, 15.6)
		case status >= 500:
			t.Errorf("%.500q: status %d", request, status)
		}
		answers[status]++
	}
	if inHand < n/2 {
		t.Errorf("only %d of %d requests found an inspection in hand: they try too little", inHand, n)
	}
	for _, want := range []int{http.StatusOK, http.StatusSeeOther, http.StatusNotFound, http.StatusForbidden, http.StatusBadRequest} {
		if answers[want] == 0 {
			t.Errorf("no request was answered %d: they try too little", want)
		}
	}
	if err := s.cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := s.cmd.Wait(); err != nil || stackTrace.MatchString(s.stderr.String()) {
		t.Errorf("the page ends with %v and says %q", err, s.stderr)
	}
	return answers
}

func servePage(t *testing.T, binary string) *served {
	t.Helper()
	if err := os.CopyFS("page-ledger", os.DirFS("sound")); err != nil {
		t.Fatal(err)
	}
	ready := make(chan struct{})
	s := &served{tool: "EM-1", stderr: &watched{call: func() { close(ready) }}}
	s.cmd = exec.Command(binary, "page", "--listen", "127.0.0.1:0", "--practice", "--ledger", "page-ledger")
	s.cmd.Stderr = s.stderr
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.cmd.Process.Kill() })
	select {
	case <-ready:
	case <-time.After(hostileLimit):
		t.Fatalf("the page does not start: %q", s.stderr)
	}
	s.at = pageAddress.FindStringSubmatch(s.stderr.String())[1]
	return s
}

// renew keeps the session: requests without one may have pushed it out.
func (s *served) renew(t *testing.T) {
	t.Helper()
	s.token = found(s.ask(t, http.MethodGet, "/add", nil), `name="token" value="([^"]+)"`)
}

// goOn sees to it that the page has an inspection in hand, and remembers what it asks.
func (s *served) goOn(t *testing.T) {
	t.Helper()
	s.renew(t)
	for try := range 3 {
		s.id = found(s.get(t, "/tool?id="+s.tool), `tooth-button" href="/inspection\?id=(`+s.tool+`[^"]*)"`)
		if s.of = found(s.get(t, "/inspection?id="+s.id), `name="of" value="([^"]*)"`); s.of != "" {
			return
		}
		if try == 1 { // it was locked or withdrawn by what was sent
			s.tools++
			s.tool = fmt.Sprintf("H-%d", s.tools)
			add := exec.Command(s.cmd.Path, "tool", "add", s.tool, "--diameter", "1/2in", "--flutes", "4", "--material", "hss", "--ledger", "page-ledger")
			if out, err := add.CombinedOutput(); err != nil {
				t.Fatalf("%v: %s", err, out)
			}
		}
		s.post(t, "/close", url.Values{"id": {s.id}})
		s.post(t, "/take-up", url.Values{"id": {s.id}})
		s.post(t, "/begin", url.Values{"tool": {s.tool}, "stage": {"after"}, "repeats": {"2"}, "holding": {"fixture"}})
	}
}

func (s *served) get(t *testing.T, path string) string {
	t.Helper()
	return s.ask(t, http.MethodGet, path, nil)
}

func (s *served) post(t *testing.T, path string, form url.Values) {
	t.Helper()
	form.Set("token", s.token)
	s.ask(t, http.MethodPost, path, form)
}

// ask asks as a browser does, and returns what is shown.
func (s *served) ask(t *testing.T, method, path string, form url.Values) string {
	t.Helper()
	r, err := http.NewRequest(method, "http://"+s.at+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Cookie", s.cookie)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	if cookie, _, _ := strings.Cut(resp.Header.Get("Set-Cookie"), ";"); cookie != "" {
		s.cookie = cookie
	}
	body, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode >= 500 {
		t.Fatalf("%s %s: status %d, %v: %s", method, path, resp.StatusCode, err, body)
	}
	return string(body)
}

// found returns the first group that a pattern finds in a page, as text; "" for none.
func found(page, pattern string) string {
	group := regexp.MustCompile(pattern).FindStringSubmatch(page)
	if group == nil {
		return ""
	}
	return html.UnescapeString(group[1])
}

// send sends a request's bytes and returns the status that they are answered with.
func (s *served) send(request []byte) (int, error) {
	conn, err := net.Dial("tcp", s.at)
	if err != nil {
		return 0, err
	}
	defer conn.Close()
	conn.SetDeadline(time.Now().Add(hostileLimit))
	go func() { // while the answer is read: the page may answer before it has heard all
		conn.Write(request)
		conn.(*net.TCPConn).CloseWrite()
	}()
	resp, err := http.ReadResponse(bufio.NewReader(conn), &http.Request{Method: method(request)})
	if err != nil {
		return 0, err
	}
	if !strings.HasPrefix(resp.Header.Get("Content-Type"), "text/event-stream") { // which has no end
		_, err := io.Copy(io.Discard, resp.Body)
		if err != nil && !(resp.StatusCode >= 400 && errors.Is(err, syscall.ECONNRESET)) { // the page need not hear a refused request out
			return 0, fmt.Errorf("status %d, then %w", resp.StatusCode, err)
		}
	}
	return resp.StatusCode, resp.Body.Close()
}

// method is a request's; the answer to HEAD has no body.
func method(request []byte) string {
	name, _, _ := bytes.Cut(request, []byte(" "))
	return string(name)
}

// pageForms are the requests that the page's own forms and links make. ID and OF stand for the inspection in hand and
// the question that it asks.
var pageForms = []struct{ method, path, fields string }{
	{"GET", "/", ""},
	{"GET", "/add", ""},
	{"POST", "/add", "id=EM-2&diameter=0.5in&flutes=4&material=hss&helix=30&hand=right&ends=square&teeth=plain&duty=finishing&primary=8&secondary=16&rake=5&note=x"},
	{"GET", "/tool", "id=EM-1"},
	{"POST", "/begin", "tool=EM-1&stage=after&repeats=2&holding=fixture&inspector=Vale&job=J-1&reseated=on&wheel=cup&divisions=3&offset=0.039"},
	{"GET", "/inspection", "id=ID"},
	{"GET", "/inspection", "id=EM-1.1"},
	{"GET", "/stream", "id=ID&state=x&at=x.1"},
	{"GET", "/sheet", "id=EM-1.1"},
	{"GET", "/tag", "id=EM-1"},
	{"POST", "/decide", "id=EM-1.1&ruling=concession&by=Vale&why=x"},
	{"GET", "/readings.csv", "id=EM-1.1"},
	{"GET", "/results.qif", "id=EM-1.1"},
	{"GET", "/asset.xml", "id=EM-1.1"},
	{"GET", "/page.js", ""},
	{"GET", "/pair", ""},
	{"POST", "/pair", "code=AAAAAAAA"},
	{"POST", "/read", "id=ID&of=OF&reading=0.0001in"},
	{"POST", "/look", "id=ID&of=OF&seen=no&note=x"},
	{"POST", "/skip", "id=ID&of=OF&reason=x&rest=on"},
	{"POST", "/take", "id=ID&of=OF"},
	{"POST", "/go-on", "id=ID&of=OF"},
	{"POST", "/retake", "id=ID&of=OF"},
	{"POST", "/back", "id=ID&of=OF"},
	{"POST", "/stop", "id=ID"},
	{"POST", "/take-up", "id=ID"},
	{"POST", "/close", "id=ID"},
	{"POST", "/discard", "id=ID&reason=x"},
	{"POST", "/press", "id=ID"},
	{"POST", "/keep", "id=ID&of=OF"},
	{"POST", "/more", "id=ID&of=OF"},
	{"POST", "/again", "id=ID&again=radial-runout flute 1 repeat 1"},
	{"POST", "/say", "id=ID&of=OF&line=y"},
	{"POST", "/note", "id=ID&note=x"},
	{"POST", "/gauges-here", "id=ID"},
	{"GET", "/readings", "id=ID"},
	{"GET", "/route", "id=EM-1.1&step=2&ground=1.1"},
	{"GET", "/sign-in", "who=Vale&then=/add"},
	{"POST", "/sign-in", "who=Vale&pin=1234&then=/add&kept=a&typed=x"},
	{"POST", "/sign-off", ""},
	{"GET", "/devices", ""},
	{"POST", "/shut-out", "device=x"},
	{"POST", "/another-code", ""},
	{"GET", "/nowhere", ""},
	{"GET", "//", ""},
	{"GET", "/..%2f", ""},
	{"GET", "/%00", ""},
}

// request returns the bytes of a request whose form is that of HTTP.
func (h *hostile) request(s *served) []byte {
	ask := one(h, pageForms)
	body := h.form(s, ask.fields).Encode()
	method, path := ask.method, ask.path
	if h.IntN(10) == 0 {
		method = one(h, []string{"GET", "POST", "HEAD", "PUT", "DELETE", "OPTIONS", "TRACE", "FROB"})
	}
	if method == "GET" {
		path, body = path+"?"+body, ""
	}
	host, cookie, kind := s.at, s.cookie, "application/x-www-form-urlencoded"
	if h.IntN(20) == 0 {
		host = one(h, []string{"attacker.example", "", "localhost:1", "[::1]", "127.0.0.1:99999", strings.Repeat("h", 3000)})
	}
	if h.IntN(20) == 0 {
		cookie = one(h, []string{"flutelog=", "flutelog=AAAA", "x", ";;=;", strings.Repeat("c=1; ", 500)})
	}
	if h.IntN(20) == 0 {
		kind = one(h, []string{"multipart/form-data; boundary=x", "application/json", "%"})
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s %s HTTP/1.1\r\nHost: %s\r\nCookie: %s\r\nConnection: close\r\n", method, path, host, cookie)
	fmt.Fprintf(&b, "Content-Type: %s\r\nContent-Length: %d\r\n", kind, len(body))
	if h.IntN(10) == 0 {
		fmt.Fprintf(&b, "%s: %s\r\n", one(h, []string{"Origin", "Last-Event-ID", "X-Live", "Sec-Fetch-Site", "Range", "Expect", "If-Modified-Since"}), strconv.QuoteToASCII(one(h, nasty)))
	}
	b.WriteString("\r\n" + body)
	return b.Bytes()
}

// form returns the fields of a form, mostly one of them such as nobody means well by.
func (h *hostile) form(s *served, fields string) url.Values {
	form, err := url.ParseQuery(strings.NewReplacer("ID", url.QueryEscape(s.id), "OF", url.QueryEscape(s.of)).Replace(fields))
	if err != nil {
		panic(err) // they are all written above
	}
	if names := slices.Sorted(maps.Keys(form)); len(names) > 0 && h.IntN(3) > 0 {
		form.Set(one(h, names), one(h, nasty))
	}
	if h.IntN(10) > 0 {
		form.Set("token", s.token)
	}
	return form
}
