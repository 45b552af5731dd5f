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
	case unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector):
		return "one that cannot be seen"
	case unicode.In(r, unicode.Co, unicode.Cs), !unicode.In(r, unicode.L, unicode.M, unicode.N, unicode.P, unicode.S, unicode.Zs):
		return "not assigned to any script"
	}
	return ""
}

// Show returns a text as it is printed, whatever it holds: what Check would refuse stands as its number in angle
// brackets, and moves no cursor and turns no line.
func Show(s string) string { return show(s, false) }

// ShowLines is Show of several lines: ends of lines, with a carriage return or without, and tabs stay.
func ShowLines(s string) string { return show(s, true) }

func show(s string, lines bool) string {
	var b strings.Builder
	done := 0 // bytes of s that stand in b
	for i := 0; i < len(s); {
		r, size := rune(s[i]), 1
		if r >= ' ' && r < 0x7f { // most of what is printed
			i++
			continue
		}
		if r >= utf8.RuneSelf {
			r, size = utf8.DecodeRuneInString(s[i:])
		}
		number := ""
		switch {
		case r == utf8.RuneError && size == 1:
			number = fmt.Sprintf("<%02X>", s[i])
		case lines && (r == '\n' || r == '\t' || strings.HasPrefix(s[i:], "\r\n")), refused(r) == "":
			i += size
			continue
		default:
			number = fmt.Sprintf("<U+%04X>", r)
		}
		b.WriteString(s[done:i])
		b.WriteString(number)
		i += size
		done = i
	}
	if done == 0 {
		return s
	}
	return b.String() + s[done:]
}

// Fold returns what two spellings of one id have in common: they name the same where their foldings are equal. It looks
// through upper and lower case, wide and narrow forms, and composed and decomposed letters.
func Fold(id string) string {
	if strings.IndexFunc(id, func(r rune) bool { return r >= utf8.RuneSelf }) < 0 {
		return strings.ToUpper(id) // the lowest of its letters, and it is composed
	}
	lowest := func(r rune) rune {
		low := r
		for next := unicode.SimpleFold(r); next != r; next = unicode.SimpleFold(next) {
			low = min(low, next)
		}
		return low
	}
	return norm.NFKC.String(strings.Map(lowest, norm.NFKC.String(id)))
}
