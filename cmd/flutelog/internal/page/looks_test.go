package page

import (
	"context"
	_ "embed"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// axe looks for what keeps people from using a page: axe-core, by WCAG 2.2; its licences lie beside it.
//
//go:embed testdata/axe/axe.min.js
var axe string

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

// darkens makes the browser ask for the dark colours, or for the light ones.
func darkens(dark bool) chromedp.Action[chromedp.Void] {
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}},
		})
		return err
	})
}

// axed returns what axe finds wrong on the page that is shown; a contrast that it cannot decide is
// wrong too, but of the letters of drawings, of which faint decides.
func (b *tab) axed() []string {
	b.t.Helper()
	b.do(evaluate(axe + `;window.axed = undefined; axe.run({runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => {
		const said = v => v.nodes.map(n => v.id + ": " + n.html.slice(0, 160) + " (" + n.target + ") " + (n.any[0]?.message ?? ""))
		window.axed = r.violations.flatMap(said).concat(r.incomplete.filter(v => v.id === "color-contrast").map(v => ({...v, nodes: v.nodes.filter(n => !n.html.startsWith("<text"))})).flatMap(said))
	}); 0`))
	b.until(`window.axed !== undefined`)
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`window.axed`))
	if err != nil {
		b.t.Fatal(err)
	}
	return found
}

// faint is the letters of drawings that stand out too little from what may lie under them: the page, or the tenth of the
// letters' own colour that bands and bodies are filled with. The ratio is that of WCAG 2.2, 1.4.3.
const faint = `(() => {
	const rgb = c => c.match(/[0-9.]+/g).slice(0, 3).map(Number)
	const light = c => { const [r, g, b] = c.map(v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * r + 0.7152 * g + 0.0722 * b }
	const page = rgb(getComputedStyle(document.body).backgroundColor)
	return [...document.querySelectorAll("svg text")].filter(e => {
		const ink = rgb(getComputedStyle(e).fill), under = page.map((v, i) => 0.9 * v + 0.1 * ink[i])
		return [page, under].some(u => { const [a, b] = [light(ink), light(u)].sort((x, y) => y - x); return (a + 0.05) / (b + 0.05) < 4.5 })
	}).map(e => e.outerHTML)
})()`

// crooked is what of a page is too small to be hit, or stands beyond its edge.
const crooked = `(() => {
	const wrong = []
	if (document.documentElement.scrollWidth > innerWidth) {
		const out = [...document.querySelectorAll("main *, header *")].find(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".wide") && !e.closest(".unseen"))
		wrong.push("wider than the screen: " + (out?.outerHTML.slice(0, 200) ?? ""))
	}
	for (const e of document.querySelectorAll("a, button, select, summary, input:not([type=hidden])")) {
		if (e.closest("p:not(.acts), .jump, .unseen, td, th, dd") && e.matches("a:not(.button)") || e.matches(".jump, a.tooth")) continue // the row of teeth is the same target as the teeth of a picture
		const hit = e.matches("[type=checkbox], [type=radio]") ? e.closest("label") ?? e : e
		const box = hit.getBoundingClientRect()
		if (box.height > 0 && (box.height < 43.9 || box.width < 43.9)) wrong.push("smaller than 44 px: " + e.outerHTML.slice(0, 160))
	}
	return wrong
})()`

// straight fails the test where something is crooked.
func (b *tab) straight(name string) {
	b.t.Helper()
	wrong, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](crooked))
	if err != nil {
		b.t.Fatal(err)
	}
	for _, w := range wrong {
		b.t.Errorf("%s: %s", name, w)
	}
}

// shot keeps a picture of the whole page where FLUTELOG_TEST_KEEP names a folder.
func (b *tab) shot(name string) {
	b.t.Helper()
	folder := os.Getenv("FLUTELOG_TEST_KEEP")
	if folder == "" {
		return
	}
	image, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(filepath.Join(folder, name+".png"), image, 0o600)
	}
	if err != nil {
		b.t.Fatal(err)
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
	{"card-to-sign", "/tool?id=MM-12"},
	{"correct-one", "/correct?id=EM-6.3&of=cracks"},
	{"trends", "/trends"},
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
	{"job-add", "/job/add"},
	{"deed-job", "/deed?do=job&id=J-1"},
	{"deed-withdraw", "/deed?do=withdraw&id=EM-6.3&tool=EM-6"},
	{"deed-ground", "/deed?do=ground&id=EM-6&tool=EM-6"},
	{"deed-retire", "/deed?do=retire&id=EM-6&tool=EM-6"},
}

// Every page of the record can be used by everybody: axe finds nothing, light and dark, narrow and wide; nothing stands
// beyond the edge, and what a hand touches is 44 px or more. In short each page is looked at in one light and one or two
// widths, one for each template.
func TestRecordPagesCanBeUsed(t *testing.T) {
	ctx := startBrowser(t)
	r := kept(t)
	b := newTab(t, ctx, r)
	widths := []int64{360, 768, 1024, 1440}
	whole := !testing.Short() || os.Getenv("FLUTELOG_TEST_KEEP") != ""
	pages := recordPages
	if whole {
		pages = slices.Concat(recordPages, morePages)
	}
	for n, p := range pages {
		b.open(p.path)
		b.do(chromedp.EmulateViewport(640, 400, chromedp.EmulateScale(2))) // a screen of 1280 at twice the size: WCAG 2.2, 1.4.4
		b.straight(p.name + " at twice the size")
		for i, width := range widths {
			if !whole && i != n%2*2 && i != 0 {
				continue // 360, and 1024 for every other page
			}
			b.do(chromedp.EmulateViewport(width, 800))
			b.straight(fmt.Sprintf("%s at %d px", p.name, width))
			for _, dark := range []bool{false, true} {
				if !whole && (i != n%2*2 || dark != (n%4 > 1)) {
					continue
				}
				b.do(darkens(dark))
				name := fmt.Sprintf("%s-%d", p.name, width)
				if dark {
					name += "-dark"
				}
				b.shot(name)
				for _, v := range b.axed() {
					t.Errorf("%s: %s", name, v)
				}
				if texts, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](faint)); err != nil || len(texts) > 0 {
					t.Errorf("%s: letters of a drawing stand out too little: %v %v", name, texts, err)
				}
			}
		}
	}
	b.check()
	if t.Failed() {
		t.Log(strings.TrimSpace("FLUTELOG_TEST_KEEP=FOLDER keeps pictures of them"))
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
	r := kept(t)
	b := newTab(t, startBrowser(t), r)
	b.open("/tools?q=EM-6")
	b.until(`location.pathname === "/tool"`) // the whole id opens the tool
	walk := func(until string) {
		t.Helper()
		for range 60 {
			b.keys("\t")
			at, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](ringed))
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
	b.until(`location.hash === "#main"`)
	walk("Note")
	b.keys("\r")
	b.until(`location.pathname === "/deed"`)
	walk("text")
	b.keys("mill 3 was told")
	b.keys("\r")
	// the bench lists people and nobody is signed in: who is there is asked, and the note goes on
	b.until(`location.pathname === "/deed" && document.querySelector(".people") !== null`)
	walk("R. Vale")
	b.keys("\r")
	b.until(`document.body.innerText.includes("mill 3 was told") && document.querySelector(".history") !== null`)
	b.forgive() // that who is there was asked first
	b.check()
	tool, err := record.FindTool(r.config.Ledger, "EM-6")
	if n := tool.Notes; err != nil || len(n) == 0 || n[len(n)-1].By != "R. Vale" || n[len(n)-1].Text != "mill 3 was told" {
		t.Errorf("in the ledger: %+v, %v", n, err)
	}
}
