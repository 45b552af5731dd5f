// Package looktest tries in a browser whether everybody can use a page, for tests of every program's pages.
package looktest

import (
	"context"
	_ "embed"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// axe looks for what keeps people from using a page: axe-core, by WCAG 2.2; its licences lie beside it.
//
//go:embed axe/axe.min.js
var axe string

// Darken makes the browser ask for the dark colours, or for the light ones.
func Darken(dark bool) chromedp.Action[chromedp.Void] {
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

// asked returns what a script says is wrong.
func asked(t testing.TB, ctx context.Context, script string, how ...chromedp.EvaluateOption) []string {
	t.Helper()
	found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](script, how...))
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// Wrong returns what axe finds that keeps people from using the page that is shown. A contrast that it cannot decide is wrong too,
// but of the letters of drawings, of which Faint decides.
func Wrong(t testing.TB, ctx context.Context) []string {
	t.Helper()
	return asked(t, ctx, axe+`;axe.run({runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => {
		const said = v => v.nodes.map(n => v.id + ": " + n.html.slice(0, 160) + " (" + n.target + ") " + (n.any[0]?.message ?? ""))
		return r.violations.flatMap(said).concat(r.incomplete.filter(v => v.id === "color-contrast").map(v => ({...v, nodes: v.nodes.filter(n => !n.html.startsWith("<text"))})).flatMap(said))
	})`, chromedp.EvalAwaitPromise)
}

// Faint returns the letters of the drawings that are shown which stand out too little.
func Faint(t testing.TB, ctx context.Context) []string {
	t.Helper()
	return asked(t, ctx, faint)
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
	}).map(e => "letters of a drawing stand out too little: " + e.outerHTML)
})()`

// Crooked returns what of the page that is shown is too small to be hit, or stands beyond its edge.
func Crooked(t testing.TB, ctx context.Context) []string {
	t.Helper()
	return asked(t, ctx, crooked)
}

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

// Keep keeps a picture of the whole page where FLUTELOG_TEST_KEEP names a folder.
func Keep(t testing.TB, ctx context.Context, name string) {
	t.Helper()
	folder := os.Getenv("FLUTELOG_TEST_KEEP")
	if folder == "" {
		return
	}
	image, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.WriteFile(filepath.Join(folder, name+".png"), image, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}
