package page

import (
	"context"
	_ "embed"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect/ledger"
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

// axed returns what axe finds wrong on the page that is shown; a contrast that it cannot decide is wrong too.
func (b *tab) axed() []string {
	b.t.Helper()
	b.do(evaluate(axe + `;window.axed = undefined; axe.run({runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => {
		const said = v => v.nodes.map(n => v.id + ": " + n.html.slice(0, 160) + " (" + n.target + ") " + (n.any[0]?.message ?? ""))
		window.axed = r.violations.flatMap(said).concat(r.incomplete.filter(v => v.id === "color-contrast").flatMap(said))
	}); 0`))
	b.until(`window.axed !== undefined`)
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`window.axed`))
	if err != nil {
		b.t.Fatal(err)
	}
	return found
}

// crooked is what of a page is too small to be hit, or stands beyond its edge.
const crooked = `(() => {
	const wrong = []
	if (document.documentElement.scrollWidth > innerWidth) {
		const out = [...document.querySelectorAll("main *, header *")].find(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".wide") && !e.closest(".unseen"))
		wrong.push("wider than the screen: " + (out?.outerHTML.slice(0, 200) ?? ""))
	}
	for (const e of document.querySelectorAll("a, button, select, summary, input:not([type=hidden])")) {
		if (e.closest("p:not(.acts), .jump, .unseen, td, th, dd") && e.matches("a:not(.button)") || e.matches(".jump")) continue
		const hit = e.matches("[type=checkbox], [type=radio]") ? e.closest("label") ?? e : e
		const box = hit.getBoundingClientRect()
		if (box.height > 0 && (box.height < 43.9 || box.width < 43.9)) wrong.push("smaller than 44 px: " + e.outerHTML.slice(0, 160))
	}
	return wrong
})()`

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
	{"tools-found", "/tools?q=EM"},
	{"tools-none", "/tools?q=ME-12"},
	{"add", "/add"},
}

// Every page of the record can be used by everybody: axe finds nothing, light and dark, narrow and wide; nothing stands
// beyond the edge, and what a hand touches is 44 px or more.
func TestRecordPagesCanBeUsed(t *testing.T) {
	ctx := startBrowser(t)
	r := kept(t)
	b := newTab(t, ctx, r)
	widths := []int64{360, 1024}
	if os.Getenv("FLUTELOG_TEST_KEEP") != "" {
		widths = []int64{360, 768, 1024, 1440}
	}
	for _, p := range recordPages {
		b.open(p.path)
		for _, width := range widths {
			b.do(chromedp.EmulateViewport(width, 800))
			wrong, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](crooked))
			if err != nil {
				t.Fatal(err)
			}
			for _, w := range wrong {
				t.Errorf("%s at %d px: %s", p.name, width, w)
			}
			for _, dark := range []bool{false, true} {
				if dark == (width == widths[0]) && len(widths) == 2 {
					continue // one of the two at each width
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
			}
		}
	}
	b.check()
	if t.Failed() {
		t.Log(strings.TrimSpace("FLUTELOG_TEST_KEEP=FOLDER keeps pictures of them"))
	}
}
