package page

import (
	"html"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"flutelog/inspect"
	"flutelog/inspect/record"
)

// What is seen or described and all clear in one is refused, with everything as it was typed and nothing recorded; so is what
// is described and not seen.
func TestPageRefusesWhatIsSeenAndClear(t *testing.T) {
	for _, c := range []struct {
		name, want string
		fields     []string
	}{
		{"a crack, all clear", "all clear, and crack seen", []string{"clear", "yes", "seen", "1", "flute1", "2"}},
		{"a corner, all clear", "all clear, and chipped corner seen", []string{"clear", "yes", "seen", "3", "length3", ".015"}},
		{"described, all clear", "crack is described", []string{"clear", "yes", "flute1", "2"}},
		{"described beside another", "crack is described", []string{"seen", "5", "note1", "at the root"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRecorder(t, nil)
			s := r.sit(inspect.Before)
			s.refused("/look", c.want, c.fields...)
			body := html.UnescapeString(s.post("/look", c.fields...).body)
			for i := 0; i < len(c.fields); i += 2 {
				name, value := c.fields[i], c.fields[i+1]
				switch {
				case name == "seen" && !strings.Contains(body, `name="seen" value="`+value+`" form="look" checked`):
					t.Errorf("that %s was seen is gone", value)
				case name != "seen" && name != "clear" && !strings.Contains(body, `name="`+name+`" value="`+value+`"`):
					t.Errorf("%s %q is gone", name, value)
				}
			}
			if n := r.answered(s.id); n != 0 {
				t.Errorf("%d answers are recorded", n)
			}
		})
	}
}

// defaults are the forms of a page in which Enter, in a field or at a box, sends a button that says more than the form: HTML
// takes the first submit button of the form, in tree order, shown or not (HTML standard, 4.10.22.2 implicit submission).
const defaults = `[...document.forms].filter(f => [...f.elements].some(e => e.matches("input:not([type=hidden])"))).flatMap(f => {
	const first = [...f.elements].find(e => e.type === "submit")
	return first && (first.name || first.hasAttribute("formaction")) ? [f.getAttribute("action") + ": " + first.outerHTML.slice(0, 80)] : []
})`

// Enter in a form sends what is typed in it, and nothing that a finger would have to say: a crack that is seen is recorded as
// seen, with scripts and without.
func TestEnterRecordsWhatIsSeen(t *testing.T) {
	t.Parallel()
	ctx := startBrowser(t)
	for _, scripts := range []bool{true, false} {
		r := newRecorder(t, nil)
		b := newTab(t, ctx, r.at)
		if !scripts {
			b.Do(scriptless())
		}
		harmless := func(where string) {
			t.Helper()
			wrong, err := chromedp.Run(b.Ctx, chromedp.Evaluate[[]string](defaults))
			if err != nil {
				t.Fatal(err)
			}
			for _, w := range wrong {
				t.Errorf("%s: Enter sends %s", where, w)
			}
		}
		r.take(testTool.ID, inspect.Between)
		b.Open(link("/inspection", testTool.ID+".1"))
		b.isAt("#reading")
		harmless("a reading")
		b.Open("/tools") // a page that follows an inspection goes on by itself when that ends
		if err := r.server.hub.discard(testTool.ID+".1", "only looked at"); err != nil {
			t.Fatal(err)
		}
		b.begin(inspect.Before)
		harmless("sights")
		b.click("#seen3")
		b.focus("[name=length3]")
		b.keys(".015")
		b.click("#seen1")
		b.focus("[name=flute1]")
		b.keys("2\r")
		b.shows("rows", "LOCKED")
		harmless("all readings")
		b.click("#close")
		b.isAt("main.closed")
		harmless("closed")
		in, err := record.Find(r.config.Ledger, testTool.ID+".2")
		if err != nil {
			t.Fatal(err)
		}
		seen := map[inspect.Sight]bool{}
		for _, s := range in.Seen {
			seen[s.Sight] = s.Yes
		}
		if !seen[inspect.Cracks] || !seen[inspect.ChippedCorner] || seen[inspect.Burn] {
			t.Errorf("scripts %v: recorded as seen: %v", scripts, seen)
		}
		b.check()
	}
}
