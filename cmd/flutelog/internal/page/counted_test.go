package page

import (
	"strings"
	"testing"

	"flutelog/inspect"
)

// How much of an inspection is read is one count: on its own page and on the board. That all is read is said
// only where it is.
func TestPageCountsOnce(t *testing.T) {
	r := newRecorder(t, func(c *Config) {
		var required []inspect.Item
		for _, s := range inspect.Sights { // seven
			required = append(required, inspect.Item(s))
		}
		c.Bench.Stages[string(inspect.Before)].Required = append(required, inspect.Item(inspect.RadialRunout), inspect.Item(inspect.PrimaryLand), inspect.Item(inspect.Land))
	})
	s := r.sit(inspect.Before)
	s.post("/look", "seen", "1", "flute1", "2")
	body := s.shows("LOCKED", `tabindex="-1">Nothing more is asked. 7 of 10 read, and on disk.</h2>`, "<span>Nothing more is asked. 7 of 10 read, and on disk.", "was not read")
	if strings.Contains(body, "All is read") {
		t.Error("all is read, and is not")
	}
	if !strings.Contains(s.c.get("/").body, "7 of 10 read") {
		t.Error("the board counts otherwise")
	}
}
