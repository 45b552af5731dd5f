package page

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/internal/look/looktest"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// kept serves the page over a copy of the kept ledger, which has tools on every step of their way and stopped in every
// way.
func kept(t *testing.T) *recorder {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../../../testdata/ledger-2")); err != nil {
		t.Fatal(err)
	}
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := bench.Parse("bench.toml", []byte(`
name = "Tool room"
release-rule = "simple"
inspectors = ["R. Vale", "S. Okafor"]
[[gauge]]
name = "test indicator 2"
calibration-due = "2026-03-20"
`))
	if err != nil {
		t.Fatal(err)
	}
	return newRecorder(t, func(c *Config) { c.Ledger, c.Bench = l, b })
}

// straight fails the test where something is crooked.
func (b *tab) straight(name string) {
	b.T.Helper()
	for _, w := range looktest.Crooked(b.T, b.Ctx) {
		b.T.Errorf("%s: %s", name, w)
	}
}

// recordPages are the pages of the record, by name.
var recordPages = []struct{ name, path string }{
	{"board", "/"},
	{"tools", "/tools"},
	{"tools-none", "/tools?q=ME-12"},
	{"add", "/add"},
	{"card-locked", "/tool?id=EM-1"},
	{"card-recalled", "/tool?id=EM-5"},
	{"closed", "/inspection?id=EM-6.3"},
	{"route", "/route?id=EM-6.3"},
	{"card-to-sign", "/tool?id=MM-12"},
	{"correct-one", "/correct?id=EM-6.3&of=cracks"},
	{"trends", "/trends?wheel=cup"},
	{"report", "/report?job=J-1"},
	{"jobs", "/jobs"},
	{"job", "/job?id=J-1"},
	{"begin", "/begin?tool=EM-6&stage=after"},
	{"deed-release", "/deed?do=release&id=MM-12.1&tool=MM-12"},
	{"deed-unlock", "/deed?do=unlock&id=EM-1&tool=EM-1"},
}

// morePages are others made from the same templates.
var morePages = []struct{ name, path string }{
	{"tools-found", "/tools?q=EM"},
	{"change", "/change?id=EM-2"},
	{"card-conceded", "/tool?id=EM-2"},
	{"card-withdrawn", "/tool?id=EM-4"},
	{"card-to-grind", "/tool?id=EM-6"},
	{"card-received", "/tool?id=EM-7"},
	{"card-retired", "/tool?id=EM-10"},
	{"correct", "/correct?id=EM-6.3"},
	{"trends-before", "/trends?stage=before"},
	{"report-of", "/report?inspection=EM-6.3"},
	{"job-add", "/job/add"},
	{"deed-job-refused", "/deed?do=job&id=J-1"},
	{"deed-withdraw", "/deed?do=withdraw&id=EM-6.3&tool=EM-6"},
	{"deed-ground", "/deed?do=ground&id=EM-6&tool=EM-6"},
	{"deed-retire", "/deed?do=retire&id=EM-6&tool=EM-6"},
}

// Every page of the record can be used by everybody: axe finds nothing, light and dark, narrow and wide; nothing stands
// beyond the edge, and what a hand touches is 44 px or more. In short each page is looked at in one light and one or two
// widths, one for each template.
func TestRecordPagesCanBeUsed(t *testing.T) {
	t.Parallel()
	ctx := startBrowser(t)
	r := kept(t)
	b := newTab(t, ctx, r.at)
	widths := []int64{360, 768, 1024, 1440}
	whole := !testing.Short() || os.Getenv("FLUTELOG_TEST_KEEP") != ""
	pages := recordPages
	if whole {
		pages = slices.Concat(recordPages, morePages)
	}
	for n, p := range pages {
		b.Open(p.path)
		b.Do(chromedp.EmulateViewport(640, 400, chromedp.EmulateScale(2))) // a screen of 1280 at twice the size: WCAG 2.2, 1.4.4
		b.straight(p.name + " at twice the size")
		b.Do(chromedp.EmulateViewport(390, 844), evaluate(`document.documentElement.style.fontSize = "200%"`)) // letters alone: WCAG 2.2, 1.4.4
		b.straight(p.name + " with letters twice as large")
		b.Do(evaluate(`document.documentElement.style.fontSize = ""`))
		for i, width := range widths {
			if !whole && i != n%2*2 && i != 0 {
				continue // 360, and 1024 for every other page
			}
			b.Do(chromedp.EmulateViewport(width, 800))
			b.straight(fmt.Sprintf("%s at %d px", p.name, width))
			for _, dark := range []bool{false, true} {
				if !whole && (i != n%2*2 || dark != (n%4 > 1)) {
					continue
				}
				b.Do(looktest.Darken(dark))
				name := fmt.Sprintf("%s-%d", p.name, width)
				if dark {
					name += "-dark"
				}
				looktest.Keep(t, b.Ctx, name)
				for _, w := range append(looktest.Wrong(t, b.Ctx), looktest.Faint(t, b.Ctx)...) {
					t.Errorf("%s: %s", name, w)
				}
			}
		}
		if strings.HasSuffix(p.name, "-refused") {
			b.forgive() // its status is one that a browser notes as a fault
		}
	}
	b.check()
	if t.Failed() {
		t.Log(strings.TrimSpace("FLUTELOG_TEST_KEEP=FOLDER keeps pictures of them"))
	}
}

// A row that is refused leaves a telephone's page as wide as its screen, and stays in its box to be put right.
func TestARefusedRowOnATelephone(t *testing.T) {
	t.Parallel()
	ctx := startBrowser(t)
	r := newRecorder(t, nil)
	s := r.sit(inspect.Before)
	s.post("/look", "clear", "yes")
	s.takes("0 .0001 0", ".008 .030", ".008 .030")
	s.post("/close")
	b := newTab(t, ctx, r.at)
	for _, screen := range [][2]int64{{390, 844}, {360, 780}} {
		b.Do(chromedp.EmulateViewport(screen[0], screen[1], chromedp.EmulateMobile))
		if screen[0] == 390 {
			b.begin(inspect.Before)
			b.look()
			b.isAt("#reading")
			b.Until(`document.querySelector(".expect").innerText.includes("last time")`)
			b.focus("#reading")
			b.keys("0 .0001 .0001 0 0 0 0 0 0\r")
			b.Until(`document.querySelector("#refused:not([hidden])")?.innerText.includes("None taken") ?? false`)
		}
		b.Until(fmt.Sprintf("innerWidth === %d && document.documentElement.scrollWidth === %d", screen[0], screen[0]))
		b.Until(`document.querySelector("#reading").value.startsWith("0 .0001")`)
	}
}

// ringed names what has the keyboard, and whether the ring round it can be seen.
const ringed = `(() => {
	const e = document.activeElement
	if (e === document.body) return ""
	const s = getComputedStyle(e)
	return (s.outlineStyle === "none" || parseFloat(s.outlineWidth) < 3 ? "NO RING " : "") + e.tagName + " " + (e.innerText || e.getAttribute("aria-label") || e.name || e.id).slice(0, 40)
})()`

// From the keyboard alone a tool is found, its card opened and a note kept: every stop has its ring, in the order of the
// page, and the first leads past the bar.
func TestRecordByKeyboard(t *testing.T) {
	t.Parallel()
	r := kept(t)
	b := newTab(t, startBrowser(t), r.at)
	b.Open("/tools?q=EM-6")
	b.Until(`location.pathname === "/tool"`) // the whole id opens the tool
	walk := func(until string) {
		t.Helper()
		for range 60 {
			b.keys("\t")
			at, err := chromedp.Run(b.Ctx, chromedp.Evaluate[string](ringed))
			if err != nil {
				t.Fatal(err)
			}
			if strings.HasPrefix(at, "NO RING") {
				t.Errorf("%s", at)
			}
			if strings.Contains(at, until) {
				return
			}
		}
		t.Fatalf("the keyboard never comes to %q", until)
	}
	walk("To what is asked")
	b.keys("\r")
	b.Until(`location.hash === "#main"`)
	walk("Note")
	b.keys("\r")
	b.Until(`location.pathname === "/deed"`)
	walk("text")
	b.keys("mill 3 was told")
	b.keys("\r")
	// the bench lists people and nobody is signed in: who is there is asked, and the note goes on
	b.Until(`location.pathname === "/deed" && document.querySelector(".people") !== null`)
	walk("R. Vale")
	b.keys("\r")
	b.Until(`document.body.innerText.includes("mill 3 was told") && document.querySelector(".history") !== null`)
	b.forgive() // that who is there was asked first
	b.check()
	tool, err := record.FindTool(r.config.Ledger, "EM-6")
	if n := tool.Notes; err != nil || len(n) == 0 || n[len(n)-1].By != "R. Vale" || n[len(n)-1].Text != "mill 3 was told" {
		t.Errorf("in the ledger: %+v, %v", n, err)
	}
}
