package page

import (
	"html"
	"net/http"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/record"
)

// A ruling that is refused comes back as it was sent, open, with what was wrong at its field, and nothing is ruled.
func TestARefusedRulingComesBack(t *testing.T) {
	r := newRecorder(t, nil)
	s := r.sit(inspect.Before)
	s.post("/look", "clear", "yes")
	s.takes("0 .0001 0", ".008 .030", ".008 .030")
	s.post("/close")
	for _, c := range []struct {
		name, at, want string
		fields         []string
	}{
		{"not ticked", `name="confirmed"`, "tick that you sign it", []string{"why", "dropped on the floor", "by", "Vale"}},
		{"no name", `name="by"`, "who signs?", []string{"why", "dropped on the floor", "by", " ", "confirmed", "yes"}},
		{"no reason", `name="why"`, "reason", []string{"why", "", "by", "Vale", "confirmed", "yes"}},
	} {
		a := s.post("/decide", append(c.fields, "ruling", "withdraw")...)
		body := html.UnescapeString(a.body)
		_, form, _ := strings.Cut(body, `id="h-other"`)
		before, _, found := strings.Cut(form, c.at)
		if a.status != http.StatusUnprocessableEntity || !found || !strings.Contains(before, c.want) {
			t.Errorf("%s: status %d, and %q does not stand at %s: %s", c.name, a.status, c.want, c.at, body)
		}
		for _, kept := range []string{"<details open>", `value="withdraw" checked`, `name="why" value="` + c.fields[1] + `"`, `name="by" value="` + strings.TrimSpace(c.fields[3]) + `"`} {
			if !strings.Contains(body, kept) {
				t.Errorf("%s: %s is gone", c.name, kept)
			}
		}
	}
	if a := s.post("/decide", "ruling", "release", "by", "Vale", "confirmed", "yes"); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, `role="alert"`) {
		t.Errorf("a release that is not asked: status %d, and no word of it", a.status)
	}
	if in, err := record.Find(r.config.Ledger, s.id); err != nil || in.Ruling() != nil {
		t.Errorf("ruled: %+v, %v", in.Ruling(), err)
	}
}
