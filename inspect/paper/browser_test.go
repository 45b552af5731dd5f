package paper

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

const browserPath = "/usr/bin/chromium" // Debian's

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

// browser starts one for a test and its subtests.
func browser(t *testing.T) context.Context {
	t.Helper()
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(browserPath), chromedp.NoSandbox, chromedp.UserDataDir(t.TempDir())}
	for _, name := range []string{"headless", "disable-gpu", "disable-quic", "no-first-run", "disable-background-networking", "disable-component-update", "disable-sync"} {
		options = append(options, chromedp.Flag(name, true))
	}
	ctx, cancel := context.WithTimeout(t.Context(), 4*time.Minute)
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

var sizes = map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter}

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

// print prints the document that is shown, without backgrounds; FLUTELOG_TEST_KEEP names a folder to keep it in.
func print(t *testing.T, ctx context.Context, name, paper string) (file string) {
	t.Helper()
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(sizes[paper])))
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

func command(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s %s: %v", name, strings.Join(args, " "), err)
	}
	return string(out)
}

var pagesLine = regexp.MustCompile(`(?m)^Pages:\s+(\d+)$`)

// pages counts the pages of a PDF.
func pages(t *testing.T, pdf string) int {
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

// words is the text of a PDF with its spaces folded.
func words(t *testing.T, pdf string) string {
	t.Helper()
	return strings.Join(strings.Fields(command(t, "pdftotext", "-raw", pdf, "-")), " ")
}

// dots an inch at which papers are looked at, coarser than any scanner.
const dots = 150

// symbols reads the square codes of each tag of a PDF back, one tag in sight at a time, or of the whole first page.
func symbols(t *testing.T, pdf string, tags int) []string {
	t.Helper()
	at := filepath.Join(t.TempDir(), "page")
	command(t, "pdftoppm", "-r", strconv.Itoa(dots), "-gray", pdf, at)
	images, err := filepath.Glob(at + "*")
	if err != nil {
		t.Fatal(err)
	}
	if tags == 0 {
		return scan(t, images[0])
	}
	var all []string
	for i := range tags {
		place := i % tagsPage
		mm := func(n float64) int { return int(n * dots / 25.4) }
		page, err := os.ReadFile(images[i/tagsPage])
		if err != nil {
			t.Fatal(err)
		}
		tag := filepath.Join(t.TempDir(), "tag.pgm")
		if err := os.WriteFile(tag, crop(t, page, mm(10+96*float64(place%2)), mm(11+84*float64(place/2)), mm(94), mm(82)), 0o600); err != nil {
			t.Fatal(err)
		}
		all = append(all, scan(t, tag)...)
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

func document(t *testing.T, write func(*bytes.Buffer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func certificateOf(t *testing.T, c Certificate) string {
	return document(t, func(b *bytes.Buffer) error { return WriteCertificate(b, c) })
}
func sheetOf(t *testing.T, s Sheet) string {
	return document(t, func(b *bytes.Buffer) error { return WriteSheet(b, s) })
}
func tagsOf(t *testing.T, tags ...Tag) string {
	return document(t, func(b *bytes.Buffer) error { return WriteTags(b, Tags{Tags: tags}) })
}
func chartsOf(t *testing.T, c Charts) string {
	return document(t, func(b *bytes.Buffer) error { return WriteCharts(b, c) })
}

// All that needs a browser shares one.
func TestPrinted(t *testing.T) {
	needs(t, browserPath, "pdfinfo", "pdftotext", "pdftoppm", "zbarimg")
	ctx := browser(t)
	t.Run("tags", func(t *testing.T) { testTags(t, ctx) })
	t.Run("sheets", func(t *testing.T) { testSheets(t, ctx) })
	t.Run("certificate", func(t *testing.T) { testCertificate(t, ctx) })
	t.Run("charts", func(t *testing.T) { testCharts(t, ctx) })
	t.Run("screens", func(t *testing.T) { testScreens(t, ctx) })
}

// evaluate returns what a script finds wrong.
func evaluate(t *testing.T, ctx context.Context, script string) []string {
	t.Helper()
	found, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](script))
	if err != nil {
		t.Fatal(err)
	}
	return found
}

var release = regexp.MustCompile(`(?i)releas`)

func testTags(t *testing.T, ctx context.Context) {
	open(t, ctx, tagsOf(t, tags()...))
	for _, f := range evaluate(t, ctx, overfull) {
		t.Errorf("does not fit its tag: %s", f)
	}
	for paper := range sizes {
		pdf := print(t, ctx, "tags", paper)
		if got := pages(t, pdf); got != 4 {
			t.Errorf("%s: twenty tags take %d pages, want 4", paper, got)
		}
		text := words(t, pdf)
		for _, want := range []string{"RELEASED", "USE FOR ROUGHING ONLY", "WITHDRAWN", "LOCKED", "RECALLED", "UNDECIDED", "NOT SIGNED", "NOT FINISHED", "NOT REGROUND", "PRACTICE: INVENTED", "INVENTED",
			"0.4817 in", "radius offset 0.2409", "smallest 0.4500", "\u22120.0059 dia., \u22120.0020 long", "Do not use", "SHARP", "EM-0412.13, N. Okafor 24 Nov 2026", "two more rounds settle it"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: no %q on the tags", paper, want)
			}
		}
		read := map[string]int{}
		for _, s := range symbols(t, pdf, len(twenty)) {
			read[s]++
		}
		for _, s := range twenty {
			want := 2 // front and back
			if !ascii(s.tool) {
				want = 0
			}
			if got := read["T."+s.tool]; got != want {
				t.Errorf("%s: the square code of %s is read %d times, want %d", paper, s.tool, got, want)
			}
			delete(read, "T."+s.tool)
		}
		for other := range read {
			t.Errorf("%s: a square code says %q", paper, other)
		}
	}
	var held, free []Tag
	for _, s := range twenty {
		switch {
		case slices.Contains(noRelease, s.kind):
			held = append(held, s.tag())
		case s.looksFree():
			free = append(free, s.tag())
		}
	}
	if len(held) != len(noRelease) {
		t.Fatalf("%d of the %d kinds that are no release", len(held), len(noRelease))
	}
	open(t, ctx, tagsOf(t, held...))
	if text := words(t, print(t, ctx, "tags held", "A4")); release.MatchString(text) || strings.Count(text, "DO NOT USE")+strings.Count(text, "Do not use") != len(held)-1 { // but the concession
		t.Errorf("tags of what is no release say: %s", text)
	}
	open(t, ctx, tagsOf(t, free...))
	if text := words(t, print(t, ctx, "tags free", "A4")); strings.Count(text, "RELEASED") != 2*len(free) {
		t.Errorf("tags of %d released tools say: %s", len(free), text)
	}
}

func ascii(text string) bool {
	return strings.IndexFunc(text, func(r rune) bool { return r > '~' }) < 0
}

func testSheets(t *testing.T, ctx context.Context) {
	for _, s := range twenty {
		documents := map[string]Sheet{"": s.sheet(t, false)}
		if s.flutes > 8 || s.flutes < 2 {
			documents[" with everything"] = s.sheet(t, true)
		}
		if testing.Short() && s.flutes != 12 && !slices.Contains([]string{"released", "conceded, long condition", "before", "received", "practice"}, s.kind) {
			continue
		}
		for more, sheet := range documents {
			name := "sheet " + s.kind + more
			open(t, ctx, sheetOf(t, sheet))
			for what, script := range map[string]string{"outside": outside, "covered": covered} {
				for _, f := range evaluate(t, ctx, script) {
					t.Errorf("%s: %s: %s", name, what, f)
				}
			}
			for paper := range sizes {
				pdf := print(t, ctx, name, paper)
				if got := pages(t, pdf); got != 1 {
					t.Errorf("%s on %s: %d pages", name, paper, got)
				}
				if paper != "Letter" {
					continue
				}
				text := words(t, pdf)
				if s.looksFree() != strings.Contains(text, "RELEASED") || slices.Contains(noRelease, s.kind) && release.MatchString(text) {
					t.Errorf("%s says: %s", name, text)
				}
				if s.invents && !strings.Contains(text, "INVENTED") {
					t.Errorf("%s does not say that it is invented", name)
				}
				if got := symbols(t, pdf, 0); !slices.Equal(got, []string{shortHead}) {
					t.Errorf("%s: square codes %q", name, got)
				}
			}
		}
	}
}

func testCertificate(t *testing.T, ctx context.Context) {
	for _, tools := range []int{20, 200} {
		c := certificate(tools)
		open(t, ctx, certificateOf(t, c))
		for paper := range sizes {
			pdf := print(t, ctx, fmt.Sprint("certificate of ", tools), paper)
			n, text := pages(t, pdf), words(t, pdf)
			if n > 2+tools/15 {
				t.Errorf("%s: %d tools take %d pages", paper, tools, n)
			}
			if got := strings.Count(text, "Job J-77, Harrow Tool Hire"); got < n-1 || got > n { // the last may hold no row
				t.Errorf("%s: the header stands %d times on %d pages", paper, got, n)
			}
			if want := fmt.Sprintf("Page %d of %d", n, n); !strings.Contains(text, want) {
				t.Errorf("%s: no %q", paper, want)
			}
			for _, r := range c.Rows {
				if ascii(r.Tool) && r.Tool != long60 && !strings.Contains(text, r.Tool) {
					t.Errorf("%s: no row of %s", paper, r.Tool)
				}
			}
			for _, want := range []string{"5 released", "Not read or not looked at", "Use for " + condition200, "ON A CONDITION", "Common practice, revision 4", "head 9c41 7be0", "N. Okafor, 24 November 2026, 15:10", "\u00b1 0.0001", "3.2480"} {
				if !strings.Contains(text, want) {
					t.Errorf("%s: no %q", paper, want)
				}
			}
		}
	}
}

func testCharts(t *testing.T, ctx context.Context) {
	open(t, ctx, chartsOf(t, charts()))
	for paper := range sizes {
		pdf := print(t, ctx, "charts", paper)
		if got := pages(t, pdf); got != 1 {
			t.Errorf("%s: %d pages", paper, got)
		}
		text := words(t, pdf)
		for _, want := range []string{"limit 0.0005", "EM-0390", "1 Oct", "26 Oct", "smallest useful 0.4500 in", "rejected", "too few for a chart"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: no %q", paper, want)
			}
		}
	}
}

// No paper is wider than the screen it is looked at on, and no text makes an element.
func testScreens(t *testing.T, ctx context.Context) {
	documents := map[string]string{"tags": tagsOf(t, tags()...), "certificate": certificateOf(t, certificate(20)), "charts": chartsOf(t, charts())}
	for _, s := range twenty {
		if s.flutes == 9 || s.flutes == 12 {
			documents["sheet "+s.kind] = sheetOf(t, s.sheet(t, true))
		}
	}
	for name, document := range documents {
		for _, wide := range []int64{390, 1280} {
			if err := chromedp.Do(ctx, chromedp.EmulateViewport(wide, 900)); err != nil {
				t.Fatal(err)
			}
			open(t, ctx, document)
			for what, script := range map[string]string{"outside": outside, "covered": covered, "scripts": elements} {
				for _, f := range evaluate(t, ctx, script) {
					t.Errorf("%s at %d px: %s: %s", name, wide, what, f)
				}
			}
		}
	}
}

// What is drawn must lie inside its drawing, and what is written inside the page.
const outside = `(() => {
	const out = []
	for (const svg of document.querySelectorAll("svg.drawing")) {
		const frame = svg.getBoundingClientRect()
		for (const e of svg.querySelectorAll("text, path, circle")) {
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

// What a tag has must lie within it.
const overfull = `(() => {
	const out = []
	for (const part of document.querySelectorAll(".band, .body, .behind")) {
		const frame = part.getBoundingClientRect()
		for (const e of part.querySelectorAll("p, h2, dd, svg.symbol")) {
			const r = e.getBoundingClientRect()
			if (r.bottom > frame.bottom + 1 || r.right > frame.right + 1 || r.top < frame.top - 1)
				out.push(part.className + " of " + part.closest(".tag").querySelector(".id").textContent + ": " + e.textContent)
		}
	}
	return out
})()`

const elements = `[...document.querySelectorAll("script, img, iframe, .id > b")].map(e => e.outerHTML)`
