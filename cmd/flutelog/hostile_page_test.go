//go:build unix

package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"regexp"
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
}

var pageAddress = regexp.MustCompile(`the page is at http://(\S+)/`)

// requests sends hostile requests to the page, and returns how often each status came.
func (h *hostile) requests(t *testing.T, binary string, n int) map[int]int {
	t.Helper()
	s := servePage(t, binary)
	answers := map[int]int{}
	for range n {
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
	ready := make(chan struct{})
	s := &served{stderr: &watched{call: func() { close(ready) }}}
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
	resp, err := http.Get("http://" + s.at + "/add")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	s.cookie = strings.Split(resp.Header.Get("Set-Cookie"), ";")[0]
	s.token = regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(string(body))[1]
	return s
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

var (
	pagePaths = []string{
		"/", "/add", "/tool", "/begin", "/inspection", "/stream", "/sheet", "/tag", "/readings.csv", "/page.js", "/page.css", "/pair", "/read", "/look", "/skip", "/take",
		"/go-on", "/retake", "/back", "/stop", "/close", "/discard", "/take-up", "/press", "/nowhere", "//", "/..%2f", "/%00", "/page.js/../../bench",
	}
	pageFields = []string{
		"id", "tool", "stage", "repeats", "holding", "inspector", "job", "reseated", "of", "reading", "seen", "note", "reason", "rest", "state", "at", "diameter", "flutes", "material",
		"helix", "hand", "ends", "teeth", "duty", "primary", "secondary", "rake", "token", "code",
	}
)

// request returns the bytes of a request whose form is that of HTTP.
func (h *hostile) request(s *served) []byte {
	form := h.form(s)
	method, path, body := "POST", one(h, pagePaths), form.Encode()
	switch h.IntN(10) {
	case 0, 1, 2, 3:
		method, path, body = "GET", path+"?"+form.Encode(), ""
	case 4:
		method = one(h, []string{"HEAD", "PUT", "DELETE", "OPTIONS", "TRACE", "PATCH", "FROB"})
	}
	host, cookie := s.at, s.cookie
	if h.IntN(20) == 0 {
		host = one(h, []string{"attacker.example", "", "localhost:1", "[::1]", "127.0.0.1:99999", strings.Repeat("h", 3000)})
	}
	if h.IntN(20) == 0 {
		cookie = one(h, []string{"flutelog=", "flutelog=AAAA", "x", ";;=;", strings.Repeat("c=1; ", 500)})
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s %s HTTP/1.1\r\nHost: %s\r\nCookie: %s\r\nConnection: close\r\n", method, path, host, cookie)
	fmt.Fprintf(&b, "Content-Type: %s\r\nContent-Length: %d\r\n", one(h, []string{"application/x-www-form-urlencoded", "application/x-www-form-urlencoded", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "application/json", "%"}), len(body))
	if h.IntN(10) == 0 {
		fmt.Fprintf(&b, "%s: %s\r\n", one(h, []string{"Origin", "Last-Event-ID", "X-Live", "Sec-Fetch-Site", "Range", "Expect", "If-Modified-Since"}), strconv.QuoteToASCII(one(h, nasty)))
	}
	b.WriteString("\r\n" + body)
	return b.Bytes()
}

// form returns the fields of a form: some of what the page's own forms send, and some that nobody means well by.
func (h *hostile) form(s *served) url.Values {
	form := url.Values{"token": {s.token}}
	if h.IntN(2) == 0 { // enough to add a tool, begin an inspection of it, and answer
		for name, value := range map[string]string{
			"id": "EM-1", "tool": "EM-1", "diameter": "0.5in", "flutes": "4", "material": "hss", "helix": "30", "stage": "after", "repeats": "2", "reading": "0.0001in", "seen": "no",
		} {
			form.Set(name, value)
		}
	}
	for range h.IntN(4) {
		form.Set(one(h, pageFields), one(h, nasty))
	}
	return form
}
