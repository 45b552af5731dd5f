package main

import (
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"flutelog/cmd/fluteregister/internal/api"
	"flutelog/cmd/fluteregister/internal/cluster/clustertest"
	"flutelog/cmd/fluteregister/internal/invented"
	"flutelog/cmd/fluteregister/internal/web"
	"flutelog/cmd/internal/people"
	"flutelog/inspect"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
)

// shopClock is the clock of a whole shop, which a test moves on: the register and all benches go by it.
type shopClock struct {
	mu sync.Mutex
	at time.Time
}

func (c *shopClock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *shopClock) add(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

// looks returns what a page shows to a person who signs in for it.
func (r *running) looks(who, path string) string {
	r.t.Helper()
	jar, err := cookiejar.New(nil)
	must(r.t, err)
	c := client(register.Enrolment{Address: r.address, Key: r.key})
	c.Jar = jar
	defer c.CloseIdleConnections()
	a, err := c.PostForm("https://"+r.address+"/sign-in", url.Values{"who": {who}, "pin": {demoPIN}, "then": {path}})
	must(r.t, err)
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	must(r.t, err)
	if a.StatusCode != http.StatusOK || a.Request.URL.RequestURI() != path {
		r.t.Fatalf("%s for %s: %d at %s", path, who, a.StatusCode, a.Request.URL)
	}
	return string(text)
}

// A bench works three weeks without a network while the clock of the whole shop goes on: it says all along since when it has
// not been heard and how much waits, and so does the register. On the fifth day it finds a crack in a tool that the other
// bench releases on the tenth. When the network is back all that it recorded comes, and its late lock stops that tool
// everywhere.
func TestThreeWeeksWithoutANetwork(t *testing.T) {
	clock := &shopClock{at: time.Date(2026, 3, 2, 8, 0, 0, 0, time.Local)}
	r := startAt(t, clustertest.Database(t), filepath.Join(t.TempDir(), "register"), clock.now)
	must(t, web.Join(r.folder, people.Member{Name: "M. Hand", Role: string(web.Machinist)}, demoPIN))
	bench := func(label string, seed uint64) (*invented.Bench, register.Enrolment) {
		b, err := invented.NewAt(filepath.Join(t.TempDir(), label), label, seed, clock.now)
		must(t, err)
		e := r.enrol(label)
		must(t, register.Join(b.Dir(), e))
		return b, e
	}
	north, northLine := bench("north", 1)
	east, eastLine := bench("east", 2)
	away, err := net.Listen("tcp", "127.0.0.1:0") // where nobody answers
	must(t, err)
	eastAway := eastLine
	eastAway.Address = away.Addr().String()
	must(t, away.Close())
	sync := func(b *invented.Bench, e register.Enrolment) {
		t.Helper()
		_, err := register.Sync(t.Context(), b.Ledger, e, clock.now)
		must(t, err)
	}
	line := func(b *invented.Bench) string { return register.Line(b.Ledger, clock.now()) }
	says := func(what, got string, wants ...string) {
		t.Helper()
		for _, want := range wants {
			if !strings.Contains(got, want) {
				t.Errorf("%s does not say %q:\n%s", what, want, got)
			}
		}
	}

	must(t, north.Add("EM-1"))
	_, err = north.Inspect("EM-1", "", inspect.Before, 9)
	must(t, err)
	sync(north, northLine)
	must(t, east.Day("EM-2"))
	sync(east, eastLine)
	_, err = register.Ask(t.Context(), east.Ledger, eastLine, clock.now, record.ToolSubject("EM-1"))
	must(t, err)
	says("the bench, on the first day", line(east), "register: all sent")
	last := head(t, east).Seq

	reads := r.enrol("a program", "--read")
	standing := func() record.Standing {
		t.Helper()
		status, text := ask(t, reads, http.MethodGet, "/v1/tools/EM-1", nil)
		if status != http.StatusOK {
			t.Fatalf("EM-1: %d, %s", status, text)
		}
		return decoded[api.Life](t, text).Standing
	}
	for day := 1; day <= 21; day++ {
		clock.add(24 * time.Hour)
		must(t, east.Day(fmt.Sprintf("EM-%d", 10+day)))
		if day == 5 {
			must(t, east.Crack("EM-1"))
		}
		if day == 10 {
			id, err := north.Inspect("EM-1", "", inspect.After, 1)
			must(t, err)
			must(t, north.Release("A. Vale", id))
		}
		sync(north, northLine)
		var none *register.NoAnswer
		if _, err := register.Sync(t.Context(), east.Ledger, eastAway, clock.now); !errors.As(err, &none) {
			t.Fatalf("day %d: %v, want no answer", day, err)
		}
		says(fmt.Sprintf("the bench, on day %d", day), line(east), fmt.Sprintf("register: %d behind since 2026-03-02 08:00", head(t, east).Seq-last))
	}
	if s := standing(); s != record.StandsReleased {
		t.Errorf("before the network is back the tool stands %s", s)
	}
	says("benches", r.does(statusDone, "benches"), "21 days ago")
	says("the page", r.looks("M. Hand", "/"), "silent for 3 weeks", "1 to see to")

	// The network is back. The bench asks what is had of it first, and the register knows how much is to come.
	own := head(t, east)
	c := &register.Conn{Enrolment: eastLine, Now: clock.now}
	defer c.Close()
	_, err = c.Head(t.Context(), own.Bench, own)
	must(t, err)
	behind := int(own.Seq - last)
	says("benches", r.does(statusDone, "benches"), fmt.Sprintf("%d lines behind", behind))
	page := r.looks("M. Hand", "/")
	says("the page", page, fmt.Sprintf("%d lines behind", behind), "heard today", "nothing to see to")
	if strings.Contains(page, "clock") {
		t.Errorf("clocks that are alike are said to differ:\n%s", page)
	}
	sync(east, eastLine)
	r.settled()
	says("the bench", line(east), "register: all sent")
	says("benches", r.does(statusDone, "benches"), "well")
	if all := r.does(statusDone, "benches"); strings.Contains(all, "behind") || strings.Contains(all, "ago") {
		t.Errorf("benches, when all is sent: %s", all)
	}

	// The late lock holds at the register, and at the bench that released the tool once it asks.
	if s := standing(); s != record.StandsLocked {
		t.Errorf("with the late lock the tool stands %s", s)
	}
	says("the tool's page", r.looks("M. Hand", "/tool?id=EM-1"), "Locked at east: cracks seen", "released by A. Vale at north", "7 March 2026", "12 March 2026")
	if tool, err := record.FindTool(north.Ledger, "EM-1"); err != nil || tool.Standing != record.StandsReleased {
		t.Errorf("at north, before it asks: %s, %v", tool.Standing, err)
	}
	_, err = register.Ask(t.Context(), north.Ledger, northLine, clock.now, record.ToolSubject("EM-1"))
	must(t, err)
	tool, err := record.FindTool(north.Ledger, "EM-1")
	if err != nil || tool.Standing != record.StandsLocked || tool.ToldAt != "east" {
		t.Errorf("at north, once it has asked: %s by %q, %v", tool.Standing, tool.ToldAt, err)
	}
	if can, err := record.Allowed(north.Ledger, tool.Inspections[len(tool.Inspections)-1].Inspection); err == nil && slices.Contains(can, record.Release) {
		t.Error("at north the locked tool can be released")
	}
}
