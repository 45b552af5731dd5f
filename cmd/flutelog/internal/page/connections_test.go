package page

import (
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
)

// flood opens connections from an address, says on each what it is given, and keeps them. What the other side refuses is
// gone.
func flood(t *testing.T, to, from string, n int, say string) {
	t.Helper()
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}, Timeout: 5 * time.Second}
	for range n {
		c, err := d.Dial("tcp", to)
		if err != nil {
			continue // refused while it was being made
		}
		t.Cleanup(func() { c.Close() })
		fmt.Fprint(c, say)
	}
}

// open returns how many connections are open, by where they come from.
func (l *connections) count() (all int, by map[string]int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	by = map[string]int{}
	for c := range l.open {
		by[c.from]++
	}
	return len(l.open), by
}

// 500 connections from one address, which never end their request, leave another's request answered, and all stay under
// the 64 and the 8 that are promised.
func TestOneAddressCannotShutThePage(t *testing.T) {
	r := newRecorder(t, nil)
	flood(t, r.at, "127.0.0.2", 500, "GET / HTTP/1.1\r\nHost: ")
	c := r.clientFrom("127.0.0.3")
	began := time.Now()
	if a := c.get("/"); a.status != http.StatusOK {
		t.Errorf("another's request: status %d", a.status)
	}
	if took := time.Since(began); took > 2*time.Second {
		t.Errorf("another's request took %v", took)
	}
	if all, by := r.server.connections.count(); all > 64 || by["127.0.0.2"] > 8 || by["127.0.0.3"] == 0 {
		t.Errorf("%d are open: %v", all, by)
	}
}

// Strangers from a hundred addresses leave room for the devices that are paired.
func TestManyAddressesCannotShutOutPairedDevices(t *testing.T) {
	r := newRecorder(t, func(c *Config) { c.Paired = true })
	c := r.clientFrom("127.0.0.3")
	if a := c.post("/pair", map[string][]string{"code": {r.code()}}); a.path != "/" {
		t.Fatalf("pairing: status %d at %s", a.status, a.path)
	}
	for i := range 100 {
		flood(t, r.at, fmt.Sprintf("127.0.1.%d", i+1), 8, "GET / HTTP/1.1\r\nHost: ")
	}
	for range 3 {
		if a := c.get("/"); a.status != http.StatusOK {
			t.Errorf("the paired device: status %d", a.status)
		}
	}
	if all, _ := r.server.connections.count(); all > mostByStrangers+mostByAddress {
		t.Errorf("%d are open", all)
	}
}

// A connection that only waits for its next request gives way to a new one of the same address.
func TestWaitingConnectionsGiveWay(t *testing.T) {
	r := newRecorder(t, nil)
	for range mostByAddress {
		c := r.clientFrom("127.0.0.2") // each keeps its connection
		if a := c.get("/"); a.status != http.StatusOK {
			t.Fatalf("status %d", a.status)
		}
	}
	if a := r.clientFrom("127.0.0.2").get("/"); a.status != http.StatusOK {
		t.Errorf("one more: status %d", a.status)
	}
	if _, by := r.server.connections.count(); by["127.0.0.2"] > mostByAddress {
		t.Errorf("%v are open", by)
	}
}

func TestAddressOf(t *testing.T) {
	for remote, want := range map[string]string{
		"192.0.2.7:4711": "192.0.2.7", "[::ffff:192.0.2.7]:1": "192.0.2.7", "[::1]:80": "::1",
		// a host has 64 bits of addresses to itself (RFC 4291, section 2.5.1)
		"[2001:db8:1:2:aaaa::1]:1": "2001:db8:1:2::/64", "[2001:db8:1:2:bbbb::9]:2": "2001:db8:1:2::/64", "[fe80::1%eth0]:1": "fe80::/64",
	} {
		if got := addressOf(remote); got != want {
			t.Errorf("%s: %s, want %s", remote, got, want)
		}
	}
}

// code is the pairing code that stands on the recorder's terminal.
func (r *recorder) code() string {
	shown := r.shown.String()
	_, code, _ := strings.Cut(shown[strings.LastIndex(shown, "next device: "):], "device: ")
	code, _, _ = strings.Cut(code, "\n")
	return code
}

// A device must be paired with the code that the recorder shows on its own terminal; a code pairs one device, which stays
// paired, over a new start of the recorder too, until it is shut out.
func TestPairing(t *testing.T) {
	r := newRecorder(t, func(c *Config) { c.Paired = true })
	try := func(c *client, code string) answer {
		return c.post("/pair", map[string][]string{"code": {code}, "name": {"tablet at the bench"}})
	}
	c := r.client()
	for _, path := range []string{"/", "/add", "/devices", "/sign-in", link("/tool", testTool.ID)} {
		if a := c.get(path); a.path != "/pair" {
			t.Errorf("%s without a code: status %d at %s", path, a.status, a.path)
		}
	}
	for _, path := range []string{"/add", "/begin", "/press", "/sign-in", "/shut-out", "/another-code"} {
		if a := c.post(path, nil); a.status != http.StatusForbidden {
			t.Errorf("posting %s without a code: status %d, want 403", path, a.status)
		}
	}
	if a := c.get("/stream?id=x"); a.status != http.StatusForbidden {
		t.Errorf("the stream without a code: status %d, want 403", a.status)
	}
	for _, wrong := range []string{"", "AAAAAAAA", r.code()[1:]} {
		if a := try(c, wrong); a.status != http.StatusForbidden {
			t.Errorf("code %q: status %d, want 403", wrong, a.status)
		}
	}
	first := r.code()
	if a := try(c, strings.ToLower(first)); a.status != http.StatusOK || a.path != "/" {
		t.Fatalf("the right code: status %d at %s", a.status, a.path)
	}
	if a := try(r.client(), first); a.status != http.StatusForbidden {
		t.Errorf("a used code: status %d, want 403", a.status)
	}
	if r.code() == first {
		t.Error("the code was not renewed")
	}
	address := r.at
	r.stop()
	r.serve(address)
	if a := c.get("/"); a.path != "/" {
		t.Errorf("after a new start: at %s", a.path)
	}
	other := r.client()
	if a := try(other, r.code()); a.path != "/" {
		t.Fatalf("a second device: status %d at %s", a.status, a.path)
	}
	form := c.fields("/devices")
	for _, one := range r.server.devices.list() {
		if one.ID != strings.Split(c.cookie(), ".")[0] {
			form.Set("device", one.ID)
		}
	}
	if a := c.post("/shut-out", form); a.path != "/devices" || strings.Count(a.body, "tablet at the bench</b>") != 1 {
		t.Errorf("shutting out: status %d at %s", a.status, a.path)
	}
	if a := other.get("/"); a.path != "/pair" {
		t.Errorf("the device that was shut out: at %s", a.path)
	}
	if a := c.get("/"); a.path != "/" {
		t.Errorf("the device that was not: at %s", a.path)
	}
}

func (c *client) cookie() string {
	c.t.Helper()
	for _, one := range c.Jar.Cookies(c.request(http.MethodGet, "/", "").URL) {
		return one.Value
	}
	return ""
}

// Wrong codes are told on the terminal, and only who gives them waits: the right code of another device works in the
// middle of them. However many there are, the terminal is not flooded.
func TestRightCodeDuringAFlood(t *testing.T) {
	r := newRecorder(t, func(c *Config) { c.Paired = true })
	paired := r.clientFrom("127.0.0.9")
	paired.post("/pair", map[string][]string{"code": {r.code()}})
	bad := r.clientFrom("127.0.0.2")
	wrong := map[string][]string{"code": {"AAAAAAAA"}}
	for i := range 40 {
		want := http.StatusForbidden
		if i >= mostCodes {
			want = http.StatusTooManyRequests
		}
		if a := bad.post("/pair", wrong); a.status != want {
			t.Errorf("wrong code %d: status %d, want %d", i+1, a.status, want)
		}
	}
	for i := range 60 {
		r.clientFrom(fmt.Sprintf("127.0.2.%d", i+1)).post("/pair", wrong)
	}
	if got := r.shown.String(); !strings.Contains(got, "127.0.0.2 gave a wrong pairing code; 4 tries are left") || strings.Count(got, "\n") > mostTold+10 {
		t.Errorf("the terminal shows %d lines: %.400s", strings.Count(got, "\n"), got)
	}
	good := r.clientFrom("127.0.0.3")
	if a := good.post("/pair", map[string][]string{"code": {r.code()}}); a.status != http.StatusOK || a.path != "/" {
		t.Errorf("the right code: status %d at %s", a.status, a.path)
	}
	if a := paired.get("/"); a.path != "/" {
		t.Errorf("the device that was paired before: at %s", a.path)
	}
	r.clock.Turn(codeWait)
	if a := bad.post("/pair", wrong); a.status != http.StatusForbidden {
		t.Errorf("after the wait: status %d, want 403", a.status)
	}
}

// The key that signs the cookies is for nobody but its owner. One that others could read opens nothing any more.
func TestDevicesFileIsPrivate(t *testing.T) {
	r := newRecorder(t, func(c *Config) { c.Paired = true })
	c := r.client()
	c.post("/pair", map[string][]string{"code": {r.code()}})
	path := filepath.Join(r.config.Ledger.Dir(), devicesFile)
	at, err := os.Stat(path)
	if err != nil || at.Mode().Perm() != 0o600 {
		t.Fatalf("%v, mode %v; want 0600", err, at.Mode())
	}
	address := r.at
	r.stop()
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	r.serve(address)
	if a := c.get("/"); a.path != "/pair" {
		t.Errorf("a device of a key that others could read: at %s", a.path)
	}
	if !strings.Contains(r.shown.String(), "could be read by others") {
		t.Errorf("the terminal says %q", r.shown.String())
	}
}

// What the recorder writes on its terminal, which may end in a log, opens nothing: neither the cookie of a device nor the
// token of its forms stands there, nor a code that still pairs once it was used.
func TestTerminalTellsNoSecrets(t *testing.T) {
	r := newRecorder(t, func(c *Config) { c.Paired = true })
	c := r.client()
	if a := c.post("/pair", map[string][]string{"code": {r.code()}}); a.path != "/" {
		t.Fatalf("pairing: status %d at %s", a.status, a.path)
	}
	id := r.begin(c, inspect.After)
	form := c.fields(link("/inspection", id))
	form.Set("reading", "not a number")
	c.post("/read", form)
	c.post("/nowhere", form)
	for _, secret := range []string{form.Get("token"), c.cookie()} {
		if secret == "" || strings.Contains(r.shown.String(), secret) {
			t.Errorf("secret %q, on the terminal: %q", secret, r.shown.String())
		}
	}
}
