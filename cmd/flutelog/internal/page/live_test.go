package page

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/internal/look/looktest"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// liveBench is a recorder with tools of four and of twelve flutes, people, and a practice gauge that is switched to
// millimetres at its first press. The tools are invented.
func liveBench(t *testing.T) *recorder {
	return withPeople(t, func(c *Config) {
		c.Practice = practice(t, device.Step{Value: 10 * length.Tenth, Fault: device.WrongUnit})
		c.Bench.Turning = "backward"
		for id, n := range map[string]int{"EM-0412": 4, "EM-0413": 12} {
			tool := testTool
			tool.ID, tool.Flutes = id, n
			if _, err := record.SaveTool(c.Ledger, tool); err != nil {
				t.Fatal(err)
			}
		}
	})
}

// signedIn signs a person in, in the browser.
func (b *tab) signedIn(who, pin string) {
	b.T.Helper()
	b.Open("/sign-in")
	b.click(fmt.Sprintf("button[value=%q]", who))
	b.focus("#pin")
	b.keys(pin + "\r")
	b.Until(`document.querySelector(".who")?.innerText.startsWith("` + who + `") ?? false`)
}

// take begins an inspection, and gives it lines as somebody would type them.
func (r *recorder) take(tool string, stage inspect.Stage, lines ...string) string {
	r.t.Helper()
	found, err := record.FindTool(r.config.Ledger, tool)
	if err != nil {
		r.t.Fatal(err)
	}
	id, err := r.server.hub.begin(found, bench.Choices{Stage: stage, Unit: length.In}, "Vale")
	if err != nil {
		r.t.Fatal(err)
	}
	for _, line := range lines {
		r.server.hub.read(id, "", line)
	}
	return id
}

// unfit is what of a page in hand lies under the edge of the screen.
const unfit = `(() => {
	const over = document.scrollingElement.scrollHeight - innerHeight
	const low = [...document.querySelectorAll("main button, main input:not([type=hidden]):not(.unseen), main a.button, main .what, main .where, main .numeral, main .teeth li, main .sofar")]
		.filter(e => e.getClientRects().length && !e.closest(".unseen, .keys[hidden], .more") && e.getBoundingClientRect().bottom > innerHeight)
	return (over > 0 ? ["the page is " + over + " px higher than the screen"] : []).concat(low.map(e => "under the edge: " + e.outerHTML.slice(0, 120)))
})()`

// What is needed while a tool is read lies on the screen of a small telephone, a usual one and a tablet without scrolling, in
// whatever state it is; everybody can use it: axe finds nothing, light and dark, and what a hand touches is 44 px or more.
func TestLiveFitsTheScreen(t *testing.T) {
	t.Parallel()
	r := liveBench(t)
	b := newTab(t, startBrowser(t), r.at)
	b.signedIn("Vale", "2468")
	four := r.take("EM-0412", inspect.Before)
	twelve := r.take("EM-0413", inspect.After, "c", ".0001", ".0001", ".0002")
	do := func(line string) func() { return func() { r.server.hub.read(four, "", line) } }
	sizes := [][2]int64{{360, 780}, {390, 844}, {1024, 768}}
	if os.Getenv("FLUTELOG_TEST_KEEP") != "" {
		sizes = [][2]int64{{360, 780}, {390, 844}, {768, 1024}, {1024, 768}, {1440, 900}}
	}
	for n, state := range []struct {
		name, path string
		before     func()
	}{
		{"sights", link("/inspection", four), func() {}},
		{"first", link("/inspection", four), do("c")},
		{"third", link("/inspection", four), func() { do("0")(); do("-.0001")() }},
		{"refused", link("/inspection", four), do("12")},
		{"trouble", link("/inspection", four), func() {
			b.Open(link("/inspection", four))
			b.click("#press")
			b.isAt("#trouble")
		}},
		{"land", link("/inspection", four), func() { do(".0002")(); do(".0001")(); do("0")() }},
		{"twelve", link("/inspection", twelve), func() {}},
		{"watched", link("/inspection", twelve), func() {
			r.server.devices.holds(twelve, &browser{station: station{ID: "another", Name: "Ruiz's telephone", Who: "Ruiz"}})
		}},
	} {
		state.before()
		b.Open(state.path)
		for i, size := range sizes {
			b.Do(chromedp.EmulateViewport(size[0], size[1]))
			dark := (n+i)%2 == 1
			b.Do(looktest.Darken(dark))
			wrong, err := chromedp.Run(b.Ctx, chromedp.Evaluate[[]string](unfit))
			if err != nil {
				t.Fatal(err)
			}
			wrong = append(wrong, looktest.Crooked(t, b.Ctx)...)
			if size == sizes[n%len(sizes)] || len(sizes) > 3 {
				wrong = append(wrong, looktest.Wrong(t, b.Ctx)...)
			}
			for _, w := range wrong {
				t.Errorf("%s at %d x %d, dark %v: %s", state.name, size[0], size[1], dark, w)
			}
			b.screen(fmt.Sprintf("live-%s-%d", state.name, size[0]))
		}
	}
	b.check()
}

// screen keeps what the screen shows, without scrolling, where FLUTELOG_TEST_KEEP names a folder.
func (b *tab) screen(name string) {
	b.T.Helper()
	folder := os.Getenv("FLUTELOG_TEST_KEEP")
	if folder == "" {
		return
	}
	image, err := chromedp.Run(b.Ctx, chromedp.CaptureScreenshot())
	if err == nil {
		err = os.WriteFile(folder+"/"+name+".png", image, 0o600)
	}
	if err != nil {
		b.T.Fatal(err)
	}
}

// The pages around an inspection can be used by everybody, too, at twice the size of the letters as well: nothing is cut off
// at the side, and nothing lies over another.
func TestPagesAroundAnInspectionCanBeUsed(t *testing.T) {
	if testing.Short() {
		t.Skip("the short tests look at few pages in a browser")
	}
	r := liveBench(t)
	b := newTab(t, startBrowser(t), r.at)
	b.Open("/sign-in?who=Okafor")
	look := func(name string) {
		t.Helper()
		for i, size := range [][2]int64{{390, 4000}, {512, 4000}} { // the second is as wide as 1024 at twice the size; high, so that no bar lies over what is looked at
			b.Do(chromedp.EmulateViewport(size[0], size[1]))
			b.Do(looktest.Darken(i == 1))
			wrong := looktest.Crooked(t, b.Ctx)
			if i == len(name)%2 {
				wrong = append(wrong, looktest.Wrong(t, b.Ctx)...)
			}
			for _, w := range wrong {
				t.Errorf("%s at %d px: %s", name, size[0], w)
			}
			looktest.Keep(t, b.Ctx, fmt.Sprintf("around-%s-%d", name, size[0]))
		}
	}
	look("sign-in")
	b.signedIn("Okafor", "1357")
	b.Open("/devices")
	look("devices")
	worn := r.take("EM-0412", inspect.Before, "c", "0 .0001 0 .0001 0", ".045 .079", ".045 .079", ".018 .079", ".018 .079")
	b.Open(link("/readings", worn))
	look("readings")
	if err := r.server.hub.close(worn, ""); err != nil {
		t.Fatal(err)
	}
	b.Open(link("/inspection", worn))
	look("answer")
	b.Open("/route?step=1&ground=1.1&id=" + worn)
	look("route")
	after := r.take("EM-0412", inspect.After)
	b.Open(link("/inspection", after)) // how it was ground is asked first
	look("ground")
	for _, line := range []string{"", "c", "0 .0001 0 .0001 0"} {
		r.server.hub.line(after, "", line)
	}
	if err := r.server.hub.close(after, ""); err != nil {
		t.Fatal(err)
	}
	b.Open(link("/inspection", after))
	look("answer-after")
	half := r.take("EM-0413", inspect.After, "c", ".0001")
	if err := r.server.hub.stop(half); err != nil {
		t.Fatal(err)
	}
	b.Open(link("/inspection", half))
	look("stopped")
	live := r.take(testTool.ID, inspect.Before, "c")
	b.Open(link("/inspection", live))
	look("live")
	b.check()
}

// From the keyboard alone: the focus goes from the question on in the order in which things stand, is always seen and never
// caught, and a whole inspection is read without a pointer.
func TestKeyboardAlone(t *testing.T) {
	if testing.Short() {
		t.Skip("the short tests look at few pages in a browser")
	}
	r := withPeople(t, nil)
	b := newTab(t, startBrowser(t), r.at)
	b.signedIn("Vale", "2468")
	id := r.take(testTool.ID, inspect.Between)
	b.Open(link("/inspection", id))
	at := func() string {
		t.Helper()
		got, err := chromedp.Run(b.Ctx, chromedp.Evaluate[string](`(() => {
			const e = document.activeElement, s = getComputedStyle(e)
			if (e !== document.body && (s.outlineStyle === "none" || parseFloat(s.outlineWidth) < 2)) return "no ring: " + e.outerHTML.slice(0, 100)
			if (e !== document.body && s.outlineColor === getComputedStyle(document.querySelector(".refusal") ?? e).borderLeftColor && document.querySelector(".refusal:not([hidden])")) return "a ring in the colour of refusals"
			return e.getAttribute("id") || e.getAttribute("name") || e.innerText.trim().split("\n")[0]
		})()`))
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if got := at(); got != "reading" {
		t.Errorf("the keyboard begins at %q, want the field", got)
	}
	var order []string
	for range 12 {
		b.keys("\t")
		order = append(order, at())
	}
	path := strings.Join(order, " ")
	if strings.Contains(path, "no ring") || strings.Contains(path, "colour of refusals") {
		t.Errorf("the focus is not seen: %s", path)
	}
	for _, want := range []string{"Record", "again", "stop", "all", "To what is asked"} {
		if !strings.Contains(path, want) {
			t.Errorf("the focus does not come to %q: %s", want, path)
		}
	}
	b.focus("#reading")
	b.keys("0,03\r") // refused: what was meant is offered, and a key takes it
	b.isAt(".choose button")
	b.shows("refused", "A comma in inches")
	if got := at(); got != "reading" {
		t.Errorf("after a refusal the keyboard is at %q", got)
	}
	b.keys("\t\t\r")
	b.shows("question", "how wide is the whole land")
	for _, v := range []string{"0.031", "0.02", "0.03"} {
		b.typed(v)
	}
	b.isAt("#close")
	b.focus("#close")
	b.keys("\r")
	b.isAt("main.closed")
	b.forgive() // what was refused
	b.check()
}

// scriptless turns scripts off in a tab.
func scriptless() chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	})
}

// Without a script the same pages work by their forms and links: a person signs in, looks, reads, is refused with what was
// typed in its field, reads a value again, and closes.
func TestWithoutScript(t *testing.T) {
	if testing.Short() {
		t.Skip("the short tests look at few pages in a browser")
	}
	r := withPeople(t, nil)
	b := newTab(t, startBrowser(t), r.at)
	b.Do(scriptless())
	b.signedIn("Vale", "2468")
	id := r.take(testTool.ID, inspect.Before)
	b.Open(link("/inspection", id))
	b.click("#clear")
	type_ := func(value string) {
		t.Helper()
		b.focus("#reading")
		b.Do(evaluate(`document.querySelector("#reading").value = ""`))
		b.keys(value + "\r")
	}
	b.shows("question", "Flute 1: how high")
	type_("12")
	b.shows("refused", "12 what?")
	b.Until(`document.querySelector("#reading").value === "12"`)
	b.click(".choose button")
	b.shows("question", "Flute 2")
	b.click(`#teeth button[value="radial-runout flute 1 repeat 1"]`)
	b.shows("question", "Flute 1")
	type_("0")
	b.shows("question", "Flute 2")
	type_(".0001 0")
	b.shows("question", "how wide is the primary")
	type_(".008 .03")
	b.shows("question", "Flute 2")
	b.Do(evaluate(`document.querySelector(".further").open = true`))
	b.focus("#reason")
	b.keys("no loupe today\r")
	b.shows("question", "whole land")
	type_(".03")
	b.isAt("#close")
	b.click("#close")
	b.isAt("main.closed")
	in, err := record.Find(r.config.Ledger, id)
	if err != nil || len(in.Readings) != 6 || len(in.Skipped) != 1 || in.Inspection.Inspector != "Vale" {
		t.Errorf("in the ledger: %d readings, left out %v, read by %q, %v", len(in.Readings), in.Skipped, in.Inspection.Inspector, err)
	}
}
