package page

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
)

// A tool is offered as an asset only where it can be given; else the page says why it is not.
func TestPageOffersTheAssetThatItCanGive(t *testing.T) {
	offered := map[bool]int{}
	look := func(r *recorder, id string) {
		t.Helper()
		c := r.client()
		a := c.get(link("/inspection", id))
		if a.status != http.StatusOK {
			t.Fatalf("%s: status %d", id, a.status)
		}
		offers, given := strings.Contains(a.body, `href="/asset.xml?`), c.get(link("/asset.xml", id)).status == http.StatusOK
		if offers != given || offers == strings.Contains(a.body, "No asset (MTConnect): ") {
			t.Errorf("%s: offered %v, given %v, or no word of why not", id, offers, given)
		}
		if card := c.get(link("/tool", id[:strings.LastIndex(id, ".")])).body; strings.Contains(card, `href="/asset.xml?`) != given || !strings.Contains(card, `href="/results.qif?`) {
			t.Errorf("%s: its tool's card offers the asset where it is not given, or does not where it is", id)
		}
		offered[offers]++
	}
	r := kept(t)
	for _, id := range []string{"EM-1.1", "EM-6.1", "MM-12.1"} {
		look(r, id)
	}
	r = newRecorder(t, func(c *Config) { c.Practice = practice(t, heights(10, 12, 10)...) }) // nothing that is invented is handed on
	s := r.sit(inspect.Before)
	s.post("/look", "seen", "1")
	s.post("/close")
	look(r, s.id)
	r = newRecorder(t, func(c *Config) { c.Now = func() time.Time { return time.Unix(0, 0) } }) // a clock that is not set
	s = r.sit(inspect.Before)
	s.post("/look", "seen", "1")
	s.post("/close")
	look(r, s.id)
	if offered[true] == 0 || offered[false] == 0 {
		t.Errorf("offered %v: one of the two is not looked at", offered)
	}
}
