package page

import (
	"os"
	"testing"

	"github.com/chromedp/chromedp"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

func TestShots(t *testing.T) {
	if os.Getenv("FLUTELOG_TEST_KEEP") == "" {
		t.Skip("keeps pictures where FLUTELOG_TEST_KEEP names a folder")
	}
	r := withPeople(t, func(c *Config) {
		c.Practice = practice(t, heights(0, 1, 2, 1, 3, 1, 1)...)
		c.Bench.Turning = "backward"
		for id, n := range map[string]int{"EM-0412": 4, "EM-0413": 12} {
			tool := testTool
			tool.ID, tool.Flutes = id, n
			record.SaveTool(c.Ledger, tool)
		}
	})
	b := newTab(t, startBrowser(t), r)
	begin := func(tool string, stage inspect.Stage) string {
		found, err := record.FindTool(r.config.Ledger, tool)
		if err != nil {
			t.Fatal(err)
		}
		id, err := r.server.hub.begin(found, bench.Choices{Stage: stage, Unit: length.In}, "Vale")
		if err != nil {
			t.Fatal(err)
		}
		return id
	}
	all := func(name, path string) {
		b.open(path)
		for _, size := range [][2]int64{{390, 844}, {360, 780}, {768, 1024}, {1024, 768}, {1440, 900}} {
			b.do(chromedp.EmulateViewport(size[0], size[1]))
			b.do(chromedp.Sleep(100 * 1e6))
			b.seen(name + "-" + itoa(size[0]))
		}
	}
	b.open("/sign-in")
	all("signin", "/sign-in?who=Okafor")
	b.do(evaluate(`document.querySelector("button[value=Vale]").click()`))
	b.isAt("#pin")
	b.focus("#pin")
	b.keys("2468\r")
	b.isAt("main")
	b.do(chromedp.Sleep(300 * 1e6))
	id := begin("EM-0412", inspect.Before)
	page := link("/inspection", id)
	all("sights", page)
	r.server.hub.line(id, "", "c")
	all("live-first", page)
	r.server.hub.line(id, "", "0")
	r.server.hub.line(id, "", "-.0001")
	all("live", page)
	r.server.hub.read(id, "", "12")
	all("refused", page)
	all("readings-half", link("/readings", id))
	r.server.hub.line(id, "", ".0002 .0001 0")
	all("land", page)
	r.server.hub.line(id, "", ".018 .079")
	all("land2", page)
	for range 3 {
		r.server.hub.line(id, "", ".045 .079")
	}
	all("readings", page)
	r.server.hub.close(id, "")
	all("answer", page)
	all("route2", "/route?id="+id+"&step=2")
	all("route", "/route?id="+id+"&step=1&ground=1.1")
	id = begin("T/1 ä", inspect.After)
	r.server.hub.line(id, "", "c")
	r.server.hub.line(id, "", "0 .0001 0")
	r.server.hub.close(id, "")
	all("answer-after", link("/inspection", id))
	id = begin("EM-0413", inspect.After)
	r.server.hub.line(id, "", "c")
	r.server.hub.line(id, "", ".0001")
	r.server.hub.line(id, "", ".0001")
	r.server.hub.line(id, "", ".0001")
	all("twelve", link("/inspection", id))
	all("devices", "/devices")
}

func itoa(n int64) string {
	s := ""
	for ; n > 0; n /= 10 {
		s = string(rune('0'+n%10)) + s
	}
	return s
}

// seen keeps what the screen shows, without scrolling.
func (b *tab) seen(name string) {
	image, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(os.Getenv("FLUTELOG_TEST_KEEP")+"/"+name+".png", image, 0o600)
	}
	if err != nil {
		b.t.Fatal(err)
	}
	over, err := chromedp.Run(b.ctx, chromedp.Evaluate[float64](`document.scrollingElement.scrollHeight - innerHeight`))
	if err != nil || over > 0 {
		b.t.Logf("%s: %v px over", name, over)
	}
}
