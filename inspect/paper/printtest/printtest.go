// Package printtest prints documents in a browser for tests, and reads back what was printed: how many pages, which
// words, which square codes.
package printtest

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

const browserPath = "/usr/bin/chromium" // Debian's

// A Printer is a browser that prints.
type Printer struct{ Context context.Context }

// needs skips the test where a program is missing, unless the environment says that every test must run.
func needs(t *testing.T, programs ...string) {
	t.Helper()
	for _, p := range programs {
		if _, err := exec.LookPath(p); err != nil {
			if os.Getenv("FLUTELOG_TEST_NEEDS_ALL") != "" {
				t.Fatalf("%s is needed: %v", p, err)
			}
			t.Skipf("needs %s: %v", p, err)
		}
	}
}

// New starts a browser for a test and its subtests. Where it or one of the programs that read back is missing the test is
// skipped, unless the environment says that every test must run.
func New(t *testing.T) Printer {
	t.Helper()
	needs(t, "pdfinfo", "pdftotext", "pdftoppm", "zbarimg")
	return Printer{Browser(t)}
}

// Tab opens a tab of the browser for a test that prints beside others, and marks the test as one that may.
func (p Printer) Tab(t *testing.T) Printer {
	t.Parallel()
	ctx, cancel := chromedp.NewContext(p.Context)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("opening a tab: %v", err)
	}
	return Printer{ctx}
}

// Browser starts a browser for a test and its subtests, which have until shortly before the end that go test sets; where there is
// none the test is skipped, unless the environment says that every test must run. Flags are those of the browser, without dashes.
func Browser(t *testing.T, flags ...string) context.Context {
	t.Helper()
	needs(t, browserPath)
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(browserPath), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir())}
	for _, name := range append(flags, "headless", "disable-gpu", "disable-quic", "no-first-run", "disable-background-networking", "disable-component-update", "disable-sync") {
		options = append(options, chromedp.Flag(name, true))
	}
	ctx, cancel := t.Context(), context.CancelFunc(nil)
	if end, ok := t.Deadline(); ok {
		ctx, cancel = context.WithDeadline(ctx, end.Add(-20*time.Second))
		t.Cleanup(cancel)
	}
	ctx, cancel = chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("starting the browser: %v", err)
	}
	return ctx
}

// Sizes are the papers.
var Sizes = map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter}

// Open shows a document.
func (p Printer) Open(t *testing.T, document string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "document.html")
	if err := os.WriteFile(file, []byte(document), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(p.Context, chromedp.Navigate("file://"+file)); err != nil {
		t.Fatal(err)
	}
}

// Print prints the document that is shown, without backgrounds; FLUTELOG_TEST_KEEP names a folder to keep it in.
func (p Printer) Print(t *testing.T, name, paper string) (file string) {
	t.Helper()
	pdf, err := chromedp.Run(p.Context, chromedp.PrintToPDF(chromedp.PDFPaper(Sizes[paper])))
	if err != nil {
		t.Fatal(err)
	}
	folder := os.Getenv("FLUTELOG_TEST_KEEP")
	if folder == "" {
		folder = t.TempDir()
	}
	file = filepath.Join(folder, strings.NewReplacer(" ", "-", ",", "").Replace(name)+"-"+paper+".pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// Tags prints a document of tags, which must fit theirs, on every paper: it must take so many pages and hold the words wanted. more
// looks at each print.
func (p Printer) Tags(t *testing.T, name, document string, pages int, want []string, more func(paper, pdf string)) {
	t.Helper()
	p.Open(t, document)
	for _, f := range p.Evaluate(t, Overfull) {
		t.Errorf("%s: does not fit its tag: %s", name, f)
	}
	for paper := range Sizes {
		pdf := p.Print(t, name, paper)
		if got := Pages(t, pdf); got != pages {
			t.Errorf("%s on %s: %d pages, want %d", name, paper, got, pages)
		}
		text := Words(t, pdf)
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s on %s: no %q", name, paper, w)
			}
		}
		if more != nil {
			more(paper, pdf)
		}
	}
}

func command(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s %s: %v", name, strings.Join(args, " "), err)
	}
	return string(out)
}

var pagesLine = regexp.MustCompile(`(?m)^Pages:\s+(\d+)$`)

// Pages counts the pages of a PDF.
func Pages(t *testing.T, pdf string) int {
	t.Helper()
	m := pagesLine.FindStringSubmatch(command(t, "pdfinfo", pdf))
	if m == nil {
		t.Fatalf("pdfinfo counts no pages of %s", pdf)
	}
	n, err := strconv.Atoi(m[1])
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// Words is the text of a PDF with its spaces folded.
func Words(t *testing.T, pdf string) string {
	t.Helper()
	return strings.Join(strings.Fields(command(t, "pdftotext", "-raw", pdf, "-")), " ")
}

// dots an inch at which papers are looked at, coarser than any scanner.
const dots = 150

// Place is a part of a page, in mm.
type Place struct{ Left, Top, Wide, High float64 }

// Symbols reads the square codes of a page of a PDF back, numbered from 1, one place in sight at a time; no place is the
// whole page.
func Symbols(t *testing.T, pdf string, page int, places ...Place) []string {
	t.Helper()
	at := filepath.Join(t.TempDir(), "page")
	n := strconv.Itoa(page)
	command(t, "pdftoppm", "-r", strconv.Itoa(dots), "-gray", "-singlefile", "-f", n, "-l", n, pdf, at)
	if len(places) == 0 {
		return scan(t, at+".pgm")
	}
	image, err := os.ReadFile(at + ".pgm")
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	mm := func(n float64) int { return int(n * dots / 25.4) }
	for _, p := range places {
		part := filepath.Join(t.TempDir(), "part.pgm")
		if err := os.WriteFile(part, crop(t, image, mm(p.Left), mm(p.Top), mm(p.Wide), mm(p.High)), 0o600); err != nil {
			t.Fatal(err)
		}
		all = append(all, scan(t, part)...)
	}
	return all
}

func scan(t *testing.T, image string) []string {
	t.Helper()
	out, err := exec.Command("zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", image).Output()
	if err != nil && len(out) > 0 {
		t.Fatalf("zbarimg: %v", err) // it ends so where nothing is found, too, and prints nothing then
	}
	return strings.Fields(string(out))
}

// crop cuts a part out of a grey image as pdftoppm writes it.
func crop(t *testing.T, image []byte, left, top, wide, high int) []byte {
	t.Helper()
	var across, down, most int
	if _, err := fmt.Fscanf(bytes.NewReader(image), "P5\n%d %d\n%d", &across, &down, &most); err != nil {
		t.Fatal(err)
	}
	pixels := image[len(image)-across*down:]
	part := fmt.Appendf(nil, "P5\n%d %d\n%d\n", wide, high, most)
	for y := top; y < top+high; y++ {
		part = append(part, pixels[y*across+left:][:wide]...)
	}
	return part
}

// box is a word on a page.
type box struct {
	page                   int
	left, top, right, down float64
	text                   string
}

var (
	pageTag = regexp.MustCompile(`<page `)
	wordTag = regexp.MustCompile(`<word xMin="([0-9.-]+)" yMin="([0-9.-]+)" xMax="([0-9.-]+)" yMax="([0-9.-]+)">(.*)</word>`)
)

// Covered finds words that lie on each other, as they were printed.
func Covered(t *testing.T, pdf string) []string {
	t.Helper()
	var words []box
	page := 0
	for line := range strings.Lines(command(t, "pdftotext", "-bbox", pdf, "-")) {
		if pageTag.MatchString(line) {
			page++
		}
		m := wordTag.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		n := func(i int) float64 {
			f, err := strconv.ParseFloat(m[i], 64)
			if err != nil {
				t.Fatal(err)
			}
			return f
		}
		words = append(words, box{page, n(1), n(2), n(3), n(4), m[5]})
	}
	var all []string
	for i, a := range words {
		for _, b := range words[i+1:] {
			wide, high := min(a.right, b.right)-max(a.left, b.left), min(a.down, b.down)-max(a.top, b.top)
			if a.page == b.page && wide > 1 && high > 0.5*min(a.down-a.top, b.down-b.top) {
				all = append(all, fmt.Sprintf("page %d: %q and %q", a.page, a.text, b.text))
			}
		}
	}
	return all
}

// Evaluate returns what a script finds.
func (p Printer) Evaluate(t *testing.T, script string) []string {
	t.Helper()
	found, err := chromedp.Run(p.Context, chromedp.Evaluate[[]string](script))
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// Overfull is a script that finds what does not lie within its tag.
const Overfull = `(() => {
	const out = []
	for (const part of document.querySelectorAll(".band, .body, .behind, .front > footer")) {
		const frame = part.getBoundingClientRect()
		for (const e of part.querySelectorAll("p, h2, dd, svg.symbol")) {
			const r = e.getBoundingClientRect()
			if (r.bottom > frame.bottom + 1 || r.right > frame.right + 1 || r.top < frame.top - 1)
				out.push(part.className + " of " + part.closest(".tag").querySelector(".id").textContent + ": " + e.textContent)
		}
	}
	return out
})()`
