//go:build linux

package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/creack/pty"

	"flutelog/cmd/internal/look/looktest"
	"flutelog/inspect/paper/printtest"
)

// The readings and the bench file of the shop, invented.
const (
	shopGood    = "feature,flute,from_end,repeat,value,unit\nradial-runout,1,,1,0,in\nradial-runout,2,,1,0.0001,in\nradial-runout,1,,2,0,in\nradial-runout,2,,2,0.0001,in\nradial-runout,1,,3,0.00001,in\nradial-runout,2,,3,0.0001,in\n"
	shopWorn    = "feature,flute,from_end,repeat,value,unit\nradial-runout,1,,1,0,in\nradial-runout,2,,1,0.0020,in\nradial-runout,1,,2,0,in\nradial-runout,2,,2,0.0020,in\nradial-runout,1,,3,0.00001,in\nradial-runout,2,,3,0.0020,in\n"
	shopCracked = "feature,flute,from_end,repeat,value,unit\ncracks,,,,yes,\n"
	shopBench   = "[stage.before]\nrequired = []\n[stage.between]\nrequired = []\n[stage.after]\nrequired = []\n"
)

// terminal is a bench at whose terminal a person works.
type terminal struct {
	t       *testing.T
	program string
	home    string
}

// types runs a command at the terminal and returns what stands there afterwards.
func (b *terminal) types(status int, args ...string) string {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.t.Context(), time.Minute)
	defer cancel()
	c := exec.CommandContext(ctx, b.program, append(args, "--ledger", filepath.Join(b.home, "ledger"))...)
	c.Env, c.Dir = append(os.Environ(), "HOME="+b.home, "TERM=xterm", "LC_ALL=C.UTF-8", "FLUTELOG_BENCH="+filepath.Join(b.home, "bench.toml")), b.home
	f, err := pty.StartWithSize(c, &pty.Winsize{Rows: 200, Cols: 200})
	must(b.t, err)
	defer f.Close()
	var out bytes.Buffer
	io.Copy(&out, f) // ends with an error when the program does
	if err := c.Wait(); c.ProcessState.ExitCode() != status {
		b.t.Fatalf("flutelog %v: %v, want status %d\n%s", args, err, status, out.String())
	}
	return regexp.MustCompile("\x1b\\[[0-9;?]*[a-zA-Z]").ReplaceAllString(strings.ReplaceAll(out.String(), "\r", ""), "")
}

func (b *terminal) shows(status int, args []string, wants ...string) {
	b.t.Helper()
	said := b.types(status, args...)
	for _, want := range wants {
		if !strings.Contains(said, want) {
			b.t.Errorf("flutelog %v does not show %q:\n%s", args, want, said)
		}
	}
}

// A shop's three weeks, at the terminals of three benches and in a browser. A tool moves from north to south, and is released
// there. East, which has no network, had seen a crack in it: its late lock stops the tool everywhere. A copy of south's card
// writes on, and the inspector of its plant settles that on the page.
func TestShop(t *testing.T) {
	if testing.Short() {
		t.Skip("it builds the bench's program")
	}
	r := start(t)
	browser := printtest.Browser(t, "ignore-certificate-errors")
	pin := filepath.Join(t.TempDir(), "pin")
	must(t, os.WriteFile(pin, []byte(demoPIN+"\n"), 0o600))
	for _, args := range [][]string{{"A. Vale", "--role", "inspector", "--plant", "works 1"}, {"M. Hand"}} {
		if status := run(env{t.Context(), r.said, r.said, os.Getenv, time.Now}, append([]string{"person", "add", "--pin-file", pin, "--folder", r.folder}, args...)); status != statusDone {
			t.Fatalf("person add: status %d", status)
		}
	}
	program := filepath.Join(t.TempDir(), "flutelog")
	if out, err := exec.Command("go", "build", "-o", program, "flutelog/cmd/flutelog").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	bench := func() *terminal {
		b := &terminal{t, program, t.TempDir()}
		for name, text := range map[string]string{"bench.toml": shopBench, "good.csv": shopGood, "worn.csv": shopWorn, "cracked.csv": shopCracked} {
			must(t, os.WriteFile(filepath.Join(b.home, name), []byte(text), 0o600))
		}
		return b
	}
	north, south, east := bench(), bench(), bench()
	add := []string{"tool", "add", "EM-1", "--diameter", "0.5in", "--flutes", "2", "--material", "hss"}

	// East sees the tool first, finds a crack, and has no network to say so.
	east.types(0, add...)
	east.shows(3, []string{"inspect", "EM-1", "--stage", "after", "--readings", "cracked.csv"}, "LOCKED")

	// North reads it before the grind, and it goes to south, where it is known at once and released.
	north.types(0, "register", "join", r.enrol("north", "--plant", "works 1").String())
	south.types(0, "register", "join", r.enrol("south", "--plant", "works 1").String())
	north.types(0, add...)
	north.types(0, "inspect", "EM-1", "--stage", "before", "--readings", "worn.csv")
	north.types(0, "register", "send")
	south.shows(0, []string{"tool", "show", "EM-1"}, "EM-1", "recorded at north, by the register's word")
	south.types(0, "tool", "ground", "EM-1", "--by", "A. Vale")
	south.types(0, "inspect", "EM-1", "--stage", "after", "--readings", "good.csv")
	south.types(0, "tool", "release", "EM-1.2", "--by", "A. Vale")
	south.types(0, "register", "send")

	b := &browserTab{looktest.NewTab(t, browser, "https://"+r.address)}
	b.signIn("M. Hand")
	b.Open("/tool?id=EM-1")
	b.Shows("RELEASED", "2 benches have recorded of it", "At north:", "At south:", "released by A. Vale at south")

	// The network comes to east after three weeks: its late lock stops the tool at every bench, and on the page.
	east.types(0, "register", "join", r.enrol("east", "--plant", "works 2").String())
	east.types(0, "register", "send")
	for name, at := range map[string]*terminal{"north": north, "south": south} {
		if said := at.types(0, "tool", "show", "EM-1"); !strings.Contains(said, "LOCKED") || !strings.Contains(said, "at east by the register's word") {
			t.Errorf("at %s the tool is not locked:\n%s", name, said)
		}
	}
	b.Open("/tool?id=EM-1")
	b.Shows("LOCKED", "3 benches have recorded of it", "Locked at east", "At south:")
	b.Open("/see-to")
	b.Shows("EM-1.1", "east, north")

	// A copy of south's card writes on; the inspector of works 1 settles it on the page, and the machinist may not.
	copied := bench()
	must(t, os.CopyFS(filepath.Join(copied.home, "ledger"), os.DirFS(filepath.Join(south.home, "ledger"))))
	south.types(0, "tool", "note", "EM-1", "in the box for locked tools", "--by", "A. Vale")
	south.types(0, "register", "send")
	copied.types(0, "tool", "add", "EM-7", "--diameter", "1/2in", "--flutes", "4", "--material", "hss") // what is told of a tool asks the register first, and a copy would be found out
	copied.shows(1, []string{"register", "send"}, "register renew")
	b.Open("/see-to")
	b.Shows("Forks that are not settled", "An inspector of its plant, or a steward, rules on it")
	b.Do(chromedp.Click("header form button"))
	b.Shows("Who looks?")
	b.signIn("A. Vale")
	b.Open("/see-to")
	b.Do(chromedp.Click("main form input[value=gone]"), chromedp.SendKeys("main form input[name=why]", "an old card was put back; it is destroyed"), chromedp.Click("main form button"))
	b.Shows("A. Vale", "an old card was put back", "UP TO DATE")
	r.does(statusDone, "benches")
	if check := r.does(statusDone, "check", "--bench", filepath.Join(south.home, "ledger")); strings.Contains(check, "WRONG") {
		t.Errorf("check: %s", check)
	}
}

// browserTab is a page in a browser.
type browserTab struct{ *looktest.Tab }

func (b *browserTab) signIn(name string) {
	b.T.Helper()
	b.Open("/sign-in")
	b.Shows("Who looks?")
	b.Do(chromedp.SendKeys("#who", name), chromedp.SendKeys("#pin", demoPIN), chromedp.Click("main form button"))
	b.Shows(fmt.Sprint(name, " "), "Benches")
}
