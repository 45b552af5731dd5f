// Package text is the one check of what people write and the one way to print it: names, notes, reasons, ids,
// whether typed, sent from the page, read from a file or merged from another bench.
package text

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Most is the most characters that a text of a person may have.
const Most = 200

// Error says what in a text is refused, and where.
type Error struct {
	What  string // "a control character", "a character that turns the direction of writing"
	Char  rune   // the character; utf8.RuneError where bytes are no character at all
	Place int    // its place among the characters, from 1
}

func (e *Error) Error() string {
	if e.Char == utf8.RuneError {
		return fmt.Sprintf("character %d is %s: write it anew", e.Place, e.What)
	}
	return fmt.Sprintf("character %d is %s (%s): leave it out", e.Place, e.What, name(e.Char))
}

// name is how a character that cannot be shown is named.
func name(r rune) string {
	switch r {
	case 0:
		return "NUL"
	case '\t':
		return "tab"
	case '\n':
		return "end of line"
	case '\r':
		return "carriage return"
	case 0x1b:
		return "escape"
	}
	return fmt.Sprintf("U+%04X", r)
}

// Check returns a text as it is recorded: composed (Unicode normalisation form C), without spaces before and behind. It
// refuses what is not letters, marks, digits, signs and spaces of any script, and more than Most characters.
func Check(s string) (string, error) {
	clean, err := CheckLong(s)
	if n := utf8.RuneCountInString(clean); err == nil && n > Most {
		return "", fmt.Errorf("%d characters, at most %d can be kept", n, Most)
	}
	return clean, err
}

// CheckLong is Check without a bound on the length.
func CheckLong(s string) (string, error) {
	place := 0
	for i, r := range s {
		place++
		if what := refused(r); what != "" {
			return "", &Error{what, r, place}
		}
		if _, size := utf8.DecodeRuneInString(s[i:]); r == utf8.RuneError && size == 1 {
			return "", &Error{"not a character (not UTF-8)", r, place}
		}
	}
	return strings.TrimFunc(norm.NFC.String(s), unicode.IsSpace), nil
}

// refused says what a character is that cannot stand in a text, "" for one that can.
func refused(r rune) string {
	switch {
	case r >= ' ' && r < 0x7f: // most of what is written
		return ""
	case r < ' ' || r >= 0x7f && r <= 0x9f:
		return "a control character"
	case r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || r == 0x200e || r == 0x200f || r == 0x061c:
		return "one that turns the direction of writing"
	case unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp):
		return "one that cannot be seen"
	case unicode.In(r, unicode.Co, unicode.Cs), !unicode.In(r, unicode.L, unicode.M, unicode.N, unicode.P, unicode.S, unicode.Zs):
		return "not assigned to any script"
	}
	return ""
}

// Show returns a text as it is printed, whatever it holds: what Check would refuse stands as its number in angle
// brackets, and moves no cursor and turns no line.
func Show(s string) string {
	if strings.IndexFunc(s, func(r rune) bool { return refused(r) != "" }) < 0 && utf8.ValidString(s) {
		return s
	}
	var b strings.Builder
	for i, r := range s {
		_, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			fmt.Fprintf(&b, "<%02X>", s[i])
		case refused(r) != "":
			fmt.Fprintf(&b, "<U+%04X>", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// Fold returns what two spellings of one id have in common: they name the same where their foldings are equal. It looks
// through upper and lower case, wide and narrow forms, and composed and decomposed letters.
func Fold(id string) string {
	lowest := func(r rune) rune {
		low := r
		for next := unicode.SimpleFold(r); next != r; next = unicode.SimpleFold(next) {
			low = min(low, next)
		}
		return low
	}
	return norm.NFKC.String(strings.Map(lowest, norm.NFKC.String(id)))
}
