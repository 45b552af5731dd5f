package page

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"flutelog/inspect"
)

// That the gauge is to be pressed, and the page looked at again, is said only where a gauge with a line is asked: not at what
// is looked for, not where nothing is left to read, and not where everything is typed.
func TestPageSaysWhereItDoesNotFollow(t *testing.T) {
	const says = "Press the gauge, then"
	follows := func(s *sitting, path string, want bool) {
		t.Helper()
		if got := strings.Contains(s.c.get(path).body, says); got != want {
			t.Errorf("%s: it is said: %v, want %v", path, got, want)
		}
	}
	s := newRecorder(t, func(c *Config) { c.Practice = practice(t, heights(10, 12, 10)...) }).sit(inspect.Before)
	follows(s, s.page, false) // the loupe
	s.post("/look", "clear", "yes")
	follows(s, s.page, true)
	s.takes("0 .0001 0")
	follows(s, s.page, false) // lands are typed
	s.takes(".008 .030", ".008 .030")
	follows(s, s.page, false) // all is read
	s = newRecorder(t, nil).sit(inspect.Before)
	s.post("/look", "clear", "yes")
	follows(s, s.page, false) // no gauge
}

// On a telephone each of the readings that can be read again stands with its flute, whose numbers a wider screen has over the
// columns.
func TestReadingsNameTheirFlutes(t *testing.T) {
	t.Parallel()
	r := newRecorder(t, nil)
	id := r.take(testTool.ID, inspect.Before, "c", "0 .0001 0", ".008 .030", ".009 .030")
	b := newTab(t, startBrowser(t), r.at)
	for _, path := range []string{link("/readings", id), link("/inspection", id)} {
		b.Open(path)
		for width, want := range map[int64]bool{390: true, 1024: false} {
			b.Do(chromedp.EmulateViewport(width, 844))
			for flute, text := range []string{".008", ".009"} {
				key := fmt.Sprintf("primary-land flute %d repeat 1", flute+1)
				got, err := chromedp.Run(b.Ctx, chromedp.Evaluate[string](fmt.Sprintf(`document.querySelector("button[value=\"%s\"]")?.innerText ?? ""`, key)))
				if err != nil {
					t.Fatal(err)
				}
				if named := strings.Contains(got, fmt.Sprintf("%d:", flute+1)); named != want || !strings.Contains(got, text) {
					t.Errorf("%s at %d px: flute %d is %q", path, width, flute+1, got)
				}
			}
		}
	}
	b.check()
}
