package paper

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"flutelog/inspect/paper/printtest"
)

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

// All that needs a browser shares one, a tab each.
func TestPrinted(t *testing.T) {
	p := printtest.New(t)
	t.Run("tags", func(t *testing.T) { testTags(t, p.Tab(t)) })
	t.Run("sheets", func(t *testing.T) { testSheets(t, p) })
	t.Run("certificate", func(t *testing.T) { testCertificate(t, p.Tab(t)) })
	t.Run("charts", func(t *testing.T) { testCharts(t, p.Tab(t)) })
	t.Run("screens", func(t *testing.T) { testScreens(t, p.Tab(t)) })
}

// tagSymbols reads the square codes of each tag back, a tag in sight at a time; pages are so high.
func tagSymbols(t *testing.T, p printtest.Printer, pdf string, high float64) []string {
	t.Helper()
	var all []string
	var places []printtest.Place
	if err := chromedp.Do(p.Context, chromedp.EmulateViewport(1280, 900)); err != nil { // two columns, as on paper
		t.Fatal(err)
	}
	page, top := 1, 0.0
	read := func() { all = append(all, printtest.Symbols(t, pdf, page, places...)...) }
	for _, row := range p.Evaluate(t, `[...document.querySelectorAll(".tags")].map(e => (e.getBoundingClientRect().height * 25.4 / 96).toFixed(3))`) {
		tall, err := strconv.ParseFloat(row, 64)
		if err != nil {
			t.Fatal(err)
		}
		if top+tall > high {
			read()
			page, top, places = page+1, 0, nil
		}
		for column := range 2 {
			places = append(places, printtest.Place{Left: 10 + 96*float64(column), Top: 11 + top, Wide: 94, High: tall - 2})
		}
		top += tall
	}
	read()
	return all
}

var release = regexp.MustCompile(`(?i)releas`)

func testTags(t *testing.T, p printtest.Printer) {
	want := []string{"RELEASED", "USE FOR ROUGHING ONLY", "WITHDRAWN", "LOCKED", "RECALLED", "UNDECIDED", "NOT SIGNED", "NOT FINISHED", "NOT REGROUND", "PRACTICE: INVENTED", "INVENTED",
		"0.4817 in", "radius offset 0.2409", "smallest 0.4500", "\u22120.0059 dia., \u22120.0020 long", "Do not use", "SHARP", "EM-0412.13, N. Okafor 24 Nov 2026", "two more rounds settle it"}
	p.Tags(t, "tags", tagsOf(t, tags()...), 4, want, func(paper, pdf string) {
		if testing.Short() && paper != "A4" {
			return
		}
		read := map[string]int{}
		for _, s := range tagSymbols(t, p, pdf, map[string]float64{"A4": 277, "Letter": 259.4}[paper]) {
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
	})
	// As much as people may write, and as a bench may leave out: a tag grows, and holds it whole.
	long := twenty[6].tag()
	long.Ruling.Under = strings.Repeat("wear land 0.0115, 0.0080 at most; ", 6) + "the last of it"
	long.Foot, long.NotRead = "signed by "+strings.Repeat("N. Okafor of the day turn ", 7)+"at noon", "Not read at this bench: "+strings.Repeat("wear land, ", 16)+"length."
	p.Tags(t, "tags that hold much", tagsOf(t, long, twenty[7].tag(), twenty[2].tag()), 1, []string{long.Ruling.Word, long.Ruling.Under, long.Foot, long.NotRead, long.Change}, nil)
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
	p.Open(t, tagsOf(t, held...))
	if text := printtest.Words(t, p.Print(t, "tags held", "A4")); release.MatchString(text) || strings.Count(text, "DO NOT USE")+strings.Count(text, "Do not use") != len(held)-1 { // but the concession
		t.Errorf("tags of what is no release say: %s", text)
	}
	p.Open(t, tagsOf(t, free...))
	if text := printtest.Words(t, p.Print(t, "tags free", "A4")); strings.Count(text, "RELEASED") != 2*len(free) {
		t.Errorf("tags of %d released tools say: %s", len(free), text)
	}
}

func ascii(text string) bool {
	return strings.IndexFunc(text, func(r rune) bool { return r > '~' }) < 0
}

func testSheets(t *testing.T, p printtest.Printer) {
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
			t.Run(s.kind+more, func(t *testing.T) {
				p := p.Tab(t)
				p.Open(t, sheetOf(t, sheet))
				for what, script := range map[string]string{"outside": outside, "covered": covered} {
					for _, f := range p.Evaluate(t, script) {
						t.Errorf("%s: %s: %s", name, what, f)
					}
				}
				for paper := range printtest.Sizes {
					pdf := p.Print(t, name, paper)
					if got, usual := printtest.Pages(t, pdf), more == "" && s.flutes <= 7; usual && got != 1 || got > 3 {
						t.Errorf("%s on %s: %d pages", name, paper, got)
					}
					if covered := printtest.Covered(t, pdf); covered != nil && !s.invents {
						t.Errorf("%s on %s: %q", name, paper, covered)
					}
					if paper != "Letter" {
						continue
					}
					text := printtest.Words(t, pdf)
					if pages := printtest.Pages(t, pdf); strings.Count(text, isolated(sheet.Inspection)+", "+sheet.Ruling.Word) != pages-1 || !strings.Contains(text, fmt.Sprintf("Page %d of %d", pages, pages)) {
						t.Errorf("%s: not each of the further pages is headed: %s", name, text)
					}
					if more != "" {
						whole(t, name, text, sheet)
					}
					if s.looksFree() != strings.Contains(text, "RELEASED") || slices.Contains(noRelease, s.kind) && release.MatchString(text) {
						t.Errorf("%s says: %s", name, text)
					}
					if s.invents && !strings.Contains(text, "INVENTED") {
						t.Errorf("%s does not say that it is invented", name)
					}
					if got := printtest.Symbols(t, pdf, printtest.Pages(t, pdf)); !slices.Equal(got, []string{shortHead}) {
						t.Errorf("%s: square codes %q", name, got)
					}
				}
			})
		}
	}
}

// whole looks for all that a sheet was given in what was printed, as often as it was given.
func whole(t *testing.T, name, text string, s Sheet) {
	t.Helper()
	given := map[string]int{}
	for _, r := range s.Readings {
		for _, c := range r.Cells {
			given[c.Text]++
		}
	}
	for _, f := range s.Figures {
		given[f.Name]++
	}
	for _, all := range [][]string{s.Corrections, s.Unread, s.Work, s.How, s.Sights} {
		for _, one := range all {
			given[strings.Join(strings.Fields(one), " ")]++
		}
	}
	for one, n := range given {
		if got := strings.Count(text, one); got < n {
			t.Errorf("%s: %q stands %d times, want %d", name, one, got, n)
		}
	}
}

func testCertificate(t *testing.T, p printtest.Printer) {
	for _, tools := range []int{20, 200} {
		c := certificate(tools)
		p.Open(t, certificateOf(t, c))
		for paper := range printtest.Sizes {
			pdf := p.Print(t, fmt.Sprint("certificate of ", tools), paper)
			n, text := printtest.Pages(t, pdf), printtest.Words(t, pdf)
			for _, f := range printtest.Covered(t, pdf) {
				t.Errorf("%s: %s", paper, f)
			}
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

func testCharts(t *testing.T, p printtest.Printer) {
	p.Open(t, chartsOf(t, charts()))
	for paper := range printtest.Sizes {
		pdf := p.Print(t, "charts", paper)
		if got := printtest.Pages(t, pdf); got != 1 {
			t.Errorf("%s: %d pages", paper, got)
		}
		text := printtest.Words(t, pdf)
		for _, want := range []string{"limit 0.0005", "EM-0390", "1 Oct", "26 Oct", "smallest useful 0.4500 in", "rejected", "too few for a chart"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: no %q", paper, want)
			}
		}
	}
}

// No paper is wider than the screen it is looked at on, and no text makes an element.
func testScreens(t *testing.T, p printtest.Printer) {
	documents := map[string]string{"tags": tagsOf(t, tags()...), "certificate": certificateOf(t, certificate(20)), "charts": chartsOf(t, charts())}
	for _, s := range twenty {
		if s.flutes == 9 || s.flutes == 12 {
			documents["sheet "+s.kind] = sheetOf(t, s.sheet(t, true))
		}
	}
	for name, document := range documents {
		for _, wide := range []int64{390, 1280} {
			if err := chromedp.Do(p.Context, chromedp.EmulateViewport(wide, 900)); err != nil {
				t.Fatal(err)
			}
			p.Open(t, document)
			for what, script := range map[string]string{"outside": outside, "covered": covered, "scripts": elements} {
				for _, f := range p.Evaluate(t, script) {
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

const elements = `[...document.querySelectorAll("script, img, iframe, .id > b")].map(e => e.outerHTML)`
