package web

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"flutelog/cmd/internal/look"
	"flutelog/cmd/internal/look/looktest"
	"flutelog/inspect/paper/printtest"
)

// tab is a page in a browser.
type tab struct{ *looktest.Tab }

// browser starts a browser that takes a certificate which nobody has vouched for.
func browser(t *testing.T) context.Context {
	return printtest.Browser(t, "ignore-certificate-errors")
}

func (r *running) tab(browser context.Context) *tab {
	r.t.Helper()
	return &tab{looktest.NewTab(r.t, browser, r.server.URL)}
}

// type and press as a person does.
func (b *tab) types(selector, text string) {
	b.T.Helper()
	b.Do(chromedp.SendKeys(selector, text))
}

// press presses a button or follows a link, and waits for the page behind it.
func (b *tab) press(selector string) {
	b.T.Helper()
	before := b.Says(`performance.timeOrigin`)
	b.Do(chromedp.Click(selector))
	b.Until(`String(performance.timeOrigin) !== ` + fmt.Sprintf("%q", before) + ` && document.readyState === "complete"`)
}

func (b *tab) signIn(name string) {
	b.T.Helper()
	b.Open("/sign-in")
	b.types("#who", name)
	b.types("#pin", pin)
	b.press("main form button")
	b.Shows("benches")
}

// Every page can be used by everybody, without a script: axe finds nothing, light and dark, narrow and wide; nothing stands
// beyond the edge, and what a hand touches is 44 px or more. In short each page is looked at in one light, at one or two widths.
func TestPagesCanBeUsed(t *testing.T) {
	r, benches := shop(t)
	r.fork(benches[1])
	b := r.tab(browser(t))
	own, err := benches[1].Head()
	must(t, err)
	b.Open("/sign-in")
	pages := []struct{ name, path string }{
		{"signin", ""},
		{"benches", "/"}, {"bench", "/bench?id=" + own.Bench}, {"tools", "/tools"}, {"tools-found", "/tools?q=EM-00&standing=released"}, {"tools-none", "/tools?q=ME-0001"},
		{"tool-moved", "/tool?id=EM-0001"}, {"tool-recalled", "/tool?id=EM-0002"}, {"tool-locked", "/tool?id=SL-0009"}, {"jobs", "/jobs"}, {"job", "/job?id=J-77"},
		{"trends", "/trends"}, {"trend-wheel", "/trends?by=wheel&of=cup+46"}, {"trend-people", "/trends?by=person"}, {"report", "/report"}, {"see-to", "/see-to"},
		{"enrol", "/enrol"}, {"people", "/people"}, {"refused", "/job?id=J-99"},
	}
	widths := []int64{360, 768, 1024, 1440}
	whole := !testing.Short() || os.Getenv("FLUTELOG_TEST_KEEP") != ""
	for n, p := range pages {
		if n == 1 {
			b.signIn("S. Okafor")
		}
		if p.path != "" {
			b.Open(p.path)
		}
		if b.Says(`document.scripts.length`) != "0" {
			t.Errorf("%s has a script", p.name)
		}
		for i, width := range widths {
			if !whole && i != n%2*2 && i != 0 {
				continue // 360, and 1024 for every other page
			}
			b.Do(chromedp.EmulateViewport(width, 800))
			for _, w := range looktest.Crooked(t, b.Ctx) {
				t.Errorf("%s at %d px: %s", p.name, width, w)
			}
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
	}
}

// Ten thousand tools of many benches are found on a telephone: the list has ten of them, nothing stands beyond the edge, and it
// is there within a second.
func TestTenThousandTools(t *testing.T) {
	r, benches := shop(t)
	own, err := benches[0].Head()
	must(t, err)
	sql := fmt.Sprintf(`insert into tool (bench, tool, seq, counter, benches, standing, decided_bench, decided_seq, inspection, work, lacks, job, away, retired, material, flutes, nominal_pm, last_diameter_pm, wheel, unclear)
		select '%s', 'ZX-' || lpad(n::text, 5, '0'), n, n, 1, (array['to grind', 'to inspect', 'to sign', 'released'])[n %% 4 + 1], '', 0, '', '', '', 'J-' || n / 20, '', '', 'HSS', 4, 12700000000, 12650000000, '', '' from generate_series(1, 10000) n`, own.Bench)
	if out, err := exec.Command("psql", "-X", "-q", "-v", "ON_ERROR_STOP=1", r.database, "-c", sql).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	c := r.as("M. Hand")
	for path, want := range map[string]string{"/tools": "tools</h2>", "/tools?q=zx-0777": "10 tools with “zx-0777”", "/tools?q=zx&standing=released": "released 2,500", "/tools?q=zx&shown=500": "9,500 more"} {
		begun := time.Now()
		c.shows(path, want)
		if d := time.Since(begun); d > time.Second {
			t.Errorf("%s took %v", path, d)
		}
	}
	if body := c.get("/tools").body; strings.Count(body, `class="id"`) != look.FirstShown {
		t.Errorf("%d rows at first", strings.Count(body, `class="id"`))
	}
	b := r.tab(browser(t))
	b.Do(chromedp.EmulateViewport(360, 740))
	b.signIn("M. Hand")
	b.Open("/tools?q=zx&shown=500")
	for _, w := range looktest.Crooked(t, b.Ctx) {
		t.Error(w)
	}
	b.Open("/tools")
	b.types("#find", "zx-07777")
	b.press("main form button")
	b.Shows("ZX-07777", "1 tool with", "at north")
}
