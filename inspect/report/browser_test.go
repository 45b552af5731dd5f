package report

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

const browserPath = "/usr/bin/chromium" // Debian's

// browser starts a browser for a test and its subtests. Where none is installed the test is skipped,
// unless the environment says that every test must run.
func browser(t *testing.T) context.Context {
	t.Helper()
	if _, err := os.Stat(browserPath); err != nil {
		if os.Getenv("FLUTELOG_TEST_NEEDS_ALL") != "" {
			t.Fatalf("a browser is needed: %v", err)
		}
		t.Skipf("needs a browser: %v", err)
	}
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(browserPath), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir())}
	for _, name := range []string{"headless", "disable-gpu", "disable-quic", "no-first-run", "disable-background-networking", "disable-component-update", "disable-sync"} {
		options = append(options, chromedp.Flag(name, true))
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("starting the browser: %v", err)
	}
	return ctx
}

// open shows a document.
func open(t *testing.T, ctx context.Context, document string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "document.html")
	if err := os.WriteFile(file, []byte(document), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.Navigate("file://"+file)); err != nil {
		t.Fatal(err)
	}
}

var pageObject = regexp.MustCompile(`/Type\s*/Page[^s]`)

// pages prints the document that is shown and counts the pages of the PDF.
func pages(t *testing.T, ctx context.Context, paper chromedp.PaperSize) int {
	t.Helper()
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper)))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(pdf, []byte("%PDF-")) {
		t.Fatalf("not a PDF: %q", pdf[:min(len(pdf), 20)])
	}
	return len(pageObject.FindAll(pdf, -1))
}

var papers = map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter}

// All that needs a browser shares one.
func TestInABrowser(t *testing.T) {
	ctx := browser(t)
	t.Run("one page on both papers", func(t *testing.T) { testOnePage(t, ctx) })
	t.Run("nothing is cut off or covered", func(t *testing.T) { testNothingIsCutOff(t, ctx) })
	t.Run("hostile text does nothing", func(t *testing.T) { testHostileText(t, ctx) })
}

func testOnePage(t *testing.T, ctx context.Context) {
	open(t, ctx, `<p>first<p style="break-before: page">second`)
	if got := pages(t, ctx, chromedp.PaperA4); got != 2 {
		t.Fatalf("a document of two pages counts %d", got)
	}
	words, wide := strings.Repeat("Wide words without mercy ", 20), strings.Repeat("W", 400)
	documents := map[string]string{
		"hardly anything known":    sheetOf(t, bare()),
		"hostile text":             sheetOf(t, injured()),
		"everything, long words":   sheetOf(t, worst(12, words)),
		"everything, wide letters": sheetOf(t, worst(12, wide)),
		"everything, wide script":  sheetOf(t, worst(2, strings.Repeat("漢", 400))),
		"tag":                      tagOf(t, invented(4)),
		"tag, everything":          tagOf(t, worst(12, wide)),
	}
	most, seeds := 12, uint64(12)
	if testing.Short() {
		most, seeds = 3, 2
	}
	for seed := range seeds {
		documents[fmt.Sprintf("arbitrary %d", seed)] = sheetOf(t, arbitrary(seed))
	}
	for flutes := 2; flutes <= most; flutes++ {
		documents[fmt.Sprintf("%d flutes, before", flutes)] = sheetOf(t, before(flutes))
		documents[fmt.Sprintf("%d flutes, after", flutes)] = sheetOf(t, invented(flutes))
	}
	for name, document := range documents {
		t.Run(name, func(t *testing.T) {
			open(t, ctx, document)
			for paper, size := range papers {
				if got := pages(t, ctx, size); got != 1 {
					t.Errorf("%s: %d pages, want 1", paper, got)
				}
			}
		})
	}
}

// What is drawn must lie inside its drawing, and what is written inside the page.
const outside = `(() => {
	const out = []
	for (const svg of document.querySelectorAll("svg.drawing")) {
		const frame = svg.getBoundingClientRect()
		for (const e of svg.querySelectorAll("text, path, rect, circle")) {
			const r = e.getBoundingClientRect()
			if (r.left < frame.left - 1 || r.right > frame.right + 1 || r.top < frame.top - 1 || r.bottom > frame.bottom + 1)
				out.push(svg.classList + ": " + e.tagName + " " + e.getAttribute("class") + " " + e.textContent)
		}
	}
	if (document.documentElement.scrollWidth > window.innerWidth) out.push("the page is wider than the screen")
	return out
})()`

// Of two texts in one drawing neither may cover the other.
const covered = `(() => {
	const out = []
	for (const svg of document.querySelectorAll("svg.drawing")) {
		const texts = [...svg.querySelectorAll("text")].map(e => [e.textContent, e.getBoundingClientRect()])
		texts.forEach(([a, r], i) => texts.slice(i + 1).forEach(([b, s]) => {
			const wide = Math.min(r.right, s.right) - Math.max(r.left, s.left)
			const high = Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top)
			if (wide > 1 && high > Math.min(r.height, s.height) / 3) out.push(svg.classList + ": " + a + " / " + b)
		}))
	}
	return out
})()`

func testNothingIsCutOff(t *testing.T, ctx context.Context) {
	for name, document := range map[string]string{
		"before":     sheetOf(t, before(3)),
		"after":      sheetOf(t, invented(7)),
		"two":        sheetOf(t, before(2)),
		"twelve":     sheetOf(t, invented(12)),
		"everything": sheetOf(t, worst(12, strings.Repeat("Wide words without mercy ", 20))),
		"tag":        tagOf(t, invented(4)),
	} {
		for _, wide := range []int64{360, 768, 1280} {
			t.Run(fmt.Sprintf("%s at %d px", name, wide), func(t *testing.T) {
				if err := chromedp.Do(ctx, chromedp.EmulateViewport(wide, 900)); err != nil {
					t.Fatal(err)
				}
				open(t, ctx, document)
				for what, script := range map[string]string{"outside": outside, "covered": covered} {
					found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](script))
					if err != nil {
						t.Fatal(err)
					}
					for _, f := range found {
						t.Errorf("%s: %s", what, f)
					}
				}
			})
		}
	}
}

func testHostileText(t *testing.T, ctx context.Context) {
	for name, document := range map[string]string{"sheet": sheetOf(t, injured()), "tag": tagOf(t, injured())} {
		open(t, ctx, document)
		got, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.querySelectorAll("script, img, iframe").length`))
		if err != nil {
			t.Fatal(err)
		}
		if got != 0 {
			t.Errorf("%s: %d elements came out of text", name, got)
		}
	}
}
