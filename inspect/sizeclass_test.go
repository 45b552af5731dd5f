package inspect

import (
	"strings"
	"testing"

	"flutelog/inspect/length"
)

// Limits as ISO 286-2:2010 lists them, in millimetres (from memory, unverified).
func TestSizeClass(t *testing.T) {
	for _, tt := range []struct{ nominal, class, least, most string }{
		{"12", "h10", "11.93", "12"},
		{"12", "h6", "11.989", "12"},
		{"3", "h6", "2.994", "3"},
		{"3.001", "h6", "2.993", "3.001"},
		{"10", "e8", "9.953", "9.975"},
		{"20", "d9", "19.883", "19.935"},
		{"16", "js11", "15.945", "16.055"},
		{"25", "f7", "24.959", "24.98"},
		{"50", "g6", "49.975", "49.991"},
	} {
		parse := func(s string) length.Length {
			l, err := length.Parse(s, length.Mm)
			if err != nil {
				t.Fatal(err)
			}
			return l
		}
		least, most, err := SizeClass(tt.class, parse(tt.nominal))
		if err != nil || least != parse(tt.least) || most != parse(tt.most) {
			t.Errorf("%s %s: got %v to %v, %v; want %s to %s", tt.nominal, tt.class, least, most, err, tt.least, tt.most)
		}
	}
	for _, class := range []string{"", "h", "10", "h4", "h13", "H7", "k6", "h6x"} {
		if _, _, err := SizeClass(class, 12*length.Millimetre); err == nil || !strings.Contains(err.Error(), "such as h10") {
			t.Errorf("class %q: got %v", class, err)
		}
	}
	if _, _, err := SizeClass("h10", 81*length.Millimetre); err == nil || !strings.Contains(err.Error(), "up to 80 mm") {
		t.Errorf("81 mm: got %v", err)
	}
}
