package text

import "testing"

// How far apart what was typed is from an id, counted by hand: letters left out, put in, changed, swapped.
func TestApart(t *testing.T) {
	for _, c := range []struct {
		typed, id string
		want      int
	}{
		{"em-0412", "em-0412", 0}, {"0412", "em-0412", 0}, {"4012", "em-0412", 1}, {"4012", "em-0401", 1},
		{"me-12", "mm-12", 1}, {"em0412", "em-0412", 1}, {"em-00412", "em-0412", 1}, {"xyz", "em-0412", 3}, {"me-0421", "em-0412", 2},
	} {
		if got := apart([]rune(c.typed), []rune(c.id)); got != c.want {
			t.Errorf("%s from %s: %d, want %d", c.typed, c.id, got, c.want)
		}
	}
}
