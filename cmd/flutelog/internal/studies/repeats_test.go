package studies

import (
	"strings"
	"testing"

	"flutelog/inspect/length"
)

// One person's repeats: every part that is read has a reading.
func FuzzReadRepeats(f *testing.F) {
	for _, s := range []string{"part,value\n1,0.1in\n1,0.2in\nmaster,1mm\n", "part,value\n", "value,part\n1,2\n", "part,value\n,\n", "part,value\n\"a\nb\",1in\n", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		parts, err := readRepeats(strings.NewReader(text), length.In)
		if err != nil {
			return
		}
		for _, p := range parts {
			if len(p.Readings) == 0 {
				t.Errorf("part %q has no reading", p.Name)
			}
		}
	})
}
