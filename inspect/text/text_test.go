package text

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"
)

func TestCheck(t *testing.T) {
	good := map[string]string{
		"EM-0412":                        "EM-0412",
		"  two  words ":                  "two  words",
		"Zo\u0065\u0308":                 "Zo\u00eb",                       // e and a diaeresis: composed (UAX 15)
		"\u0416\u0435\u043d\u044f":       "\u0416\u0435\u043d\u044f",       // Cyrillic
		"\u05e9\u05dc\u05d5\u05dd":       "\u05e9\u05dc\u05d5\u05dd",       // Hebrew, without a mark that turns it
		"\u092e\u0941\u0902\u092c\u0908": "\u092e\u0941\u0902\u092c\u0908", // Devanagari with vowel signs
		"1/2\" \u00d8 12 \u00b5m, <b>":   "1/2\" \u00d8 12 \u00b5m, <b>",
		"a\u00a0b\u3000c":                "a\u00a0b\u3000c",
		"":                               "",
		strings.Repeat("é", Most):        strings.Repeat("é", Most),
	}
	for in, want := range good {
		if got, err := Check(in); err != nil || got != want {
			t.Errorf("%q: %q, %v, want %q", in, got, err, want)
		}
	}
	bad := []struct {
		in    string
		place int
		names string // what the error must say
	}{
		{"a\x00b", 2, "NUL"}, {"ab\x1b[2J", 3, "escape"}, {"a\r\nb", 2, "carriage return"}, {"a\nb", 2, "end of line"}, {"a\tb", 2, "tab"},
		{"\x7f", 1, "U+007F"}, {"é\u0085", 2, "U+0085"}, {"\u200eab", 1, "U+200E"}, {"a\u202eb", 2, "U+202E"}, {"a\u2066b", 2, "U+2066"}, {"a\u061cb", 2, "U+061C"},
		{"a\u200bb", 2, "U+200B"}, {"a\ufeffb", 2, "U+FEFF"}, {"a\u2028b", 2, "U+2028"}, {"a\u00adb", 2, "U+00AD"}, {"a\U000e0041b", 2, "U+E0041"},
		{"a\u3164b", 2, "U+3164"}, {"a\u115fb", 2, "U+115F"}, {"\uffa0", 1, "U+FFA0"}, {"a\u034fb", 2, "U+034F"}, {"a\ufe0f", 2, "U+FE0F"}, // letters and marks without a look
		{"a\xffb", 2, "UTF-8"}, {"\xed\xa0\x80", 1, "UTF-8"}, {"a\ue000", 2, "U+E000"}, {"a\U0010ffff", 2, "U+10FFFF"},
	}
	for _, b := range bad {
		_, err := Check(b.in)
		var e *Error
		if !errors.As(err, &e) || e.Place != b.place || !strings.Contains(err.Error(), b.names) {
			t.Errorf("%q: %v, want character %d, %s", b.in, err, b.place, b.names)
		}
	}
	if _, err := Check(strings.Repeat("é", Most+1)); err == nil || !strings.Contains(err.Error(), "201 characters, at most 200") {
		t.Errorf("201 characters: %v", err)
	}
}

func TestShow(t *testing.T) {
	for in, want := range map[string]string{
		"plain é \u05e9": "plain é \u05e9", "a\x1b[31mb": "a<U+001B>[31mb", "a\u202eb": "a<U+202E>b", "a\xffb": "a<FF>b", "\ufffd": "\ufffd", "a\r\nb": "a<U+000D><U+000A>b",
	} {
		if got := Show(in); got != want {
			t.Errorf("%q shows as %q, want %q", in, got, want)
		}
	}
}

func TestFold(t *testing.T) {
	same := [][]string{
		{"EM-1", "em-1", "Em-1", "\uff25\uff2d-1"}, // the last in wide forms
		{"Zo\u00eb", "ZOE\u0308", "zo\u00eb"},
		{"\u03a3", "\u03c3", "\u03c2"}, // sigma, also at the end of a word: CaseFolding.txt of Unicode
		{"K", "k", "\u212a"},           // the sign of the kelvin
		{"\u0416", "\u0436"},
	}
	for i, group := range same {
		for _, id := range group {
			if Fold(id) != Fold(group[0]) {
				t.Errorf("%q and %q name different things", id, group[0])
			}
			if other := same[(i+1)%len(same)][0]; Fold(id) == Fold(other) {
				t.Errorf("%q and %q name the same", id, other)
			}
		}
	}
}

// What is shown can be written, what was checked is shown as it is, and checking again changes nothing.
func FuzzText(f *testing.F) {
	for _, s := range []string{"", "EM-1", "a\u202eb", "\xff\xfe", "e\u0308", "\u0344", "\u1e9b\u0323"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if _, err := CheckLong(Show(s)); err != nil {
			t.Errorf("%q shows as %q: %v", s, Show(s), err)
		}
		clean, err := CheckLong(s)
		if err != nil {
			return
		}
		if Show(clean) != clean || !utf8.ValidString(clean) {
			t.Errorf("%q shows as %q", clean, Show(clean))
		}
		if again, err := CheckLong(clean); err != nil || again != clean {
			t.Errorf("%q becomes %q, %v", clean, again, err)
		}
	})
}
