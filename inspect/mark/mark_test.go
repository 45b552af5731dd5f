package mark

import (
	"encoding/xml"
	"testing"
	"unicode/utf8"
)

// No two marks look alike in any form, each is one character wide, and bare forms are plain ASCII.
func TestMarksAreToldApart(t *testing.T) {
	seen := map[string]string{}
	for _, m := range All {
		for form, text := range map[string]string{"name": m.Name, "character": m.Char, "bare": m.Bare, "shape": m.Shape()} {
			if text == "" {
				t.Errorf("%s has no %s", m.Name, form)
			}
			if other, taken := seen[form+text]; taken {
				t.Errorf("%s and %s share the %s %q", m.Name, other, form, text)
			}
			seen[form+text] = m.Name
		}
		if utf8.RuneCountInString(m.Char) != 1 {
			t.Errorf("%s: character %q", m.Name, m.Char)
		}
		for _, r := range m.Bare {
			if r < 0x20 || r > 0x7e {
				t.Errorf("%s: bare form %q", m.Name, m.Bare)
			}
		}
		if m.Says == "" {
			t.Errorf("%s says nothing", m.Name)
		}
		var any struct{}
		if err := xml.Unmarshal([]byte(m.SVG()), &any); err != nil {
			t.Errorf("%s: %v", m.Name, err)
		}
	}
}
