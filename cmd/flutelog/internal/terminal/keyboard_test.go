package terminal

import (
	"bufio"
	"fmt"
	"strings"
	"testing"

	"flutelog/inspect/desk"
)

// What is typed is put right as at any terminal: Backspace takes a character, Ctrl-W a word, Ctrl-U the line. Backspace takes an
// answer back on a line that was empty to begin with; held down to clear a line it stops there.
func TestLineIsPutRight(t *testing.T) {
	for _, test := range []struct{ typed, want, shown string }{
		{"0.01\x7f2\r", "0.02", "0.01\b \b2"},
		{"0 -1 1\x15.5\r", ".5", "0 -1 1" + strings.Repeat("\b \b", 6) + ".5"},
		{"s no ½ flat\x17land\r", "s no ½ land", "s no ½ flat" + strings.Repeat("\b \b", 4) + "land"},
		{"12\x7f\x7f\x7f\x7f\x7f3\r", "3", "12\b \b\b \b3"},
		{"\x15\x17\r", "", ""},
		{"\x7f", "backspace", ""},
		{"1\r\x7f", "1 backspace", "1"},
	} {
		k := &keyboard{came: make(chan typed)}
		var shown strings.Builder
		go k.readKeys(bufio.NewReader(strings.NewReader(test.typed)), func(s string) { shown.WriteString(s) }, func() bool { return false })
		var got []string
		for c := range k.came {
			if c.key == desk.End {
				break
			}
			if !c.pending {
				got = append(got, strings.TrimSpace(fmt.Sprint(c.line, c.key)))
			}
		}
		if strings.Join(got, " ") != test.want || shown.String() != test.shown {
			t.Errorf("%q: %q, shown %q; want %q, %q", test.typed, got, shown.String(), test.want, test.shown)
		}
	}
}
