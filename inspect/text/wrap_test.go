package text

import (
	"slices"
	"testing"
)

func TestWrap(t *testing.T) {
	for _, tt := range []struct {
		text        string
		width, hang int
		want        []string
	}{
		{"", 10, 0, nil},
		{"   ", 10, 0, nil},
		{"ten signs.", 10, 0, []string{"ten signs."}},
		{"eleven sign", 10, 2, []string{"eleven", "  sign"}},
		{"a   b", 10, 0, []string{"a   b"}},
		{"name  one two", 10, 6, []string{"name  one", "  two"}}, // six is more than half
		{"name one two", 12, 5, []string{"name one two"}},
		{"name one two three", 12, 5, []string{"name one two", "     three"}},
		{"abcdefghijkl", 5, 0, []string{"abcde", "fghij", "kl"}},
		{"½ ½ ½ ½", 3, 0, []string{"½ ½", "½ ½"}},
	} {
		if got := Wrap(tt.text, tt.width, tt.hang); !slices.Equal(got, tt.want) {
			t.Errorf("%q in %d, %d: %q, want %q", tt.text, tt.width, tt.hang, got, tt.want)
		}
	}
}
