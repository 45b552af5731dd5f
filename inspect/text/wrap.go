package text

import (
	"strings"
	"unicode/utf8"
)

// Wrap breaks text between words into lines of at most width characters; those behind the first begin with hang blanks, or with two
// where that would be more than half the width. Runs of blanks stay. A word longer than a line is cut. Nothing is no line.
func Wrap(text string, width, hang int) []string {
	if hang > width/2 {
		hang = 2
	}
	var lines []string
	for utf8.RuneCountInString(text) > width {
		runes := []rune(text)
		cut := width
		for cut > hang && runes[cut] != ' ' {
			cut--
		}
		if cut <= hang || strings.TrimSpace(string(runes[:cut])) == "" {
			cut = width
		}
		lines = append(lines, strings.TrimRight(string(runes[:cut]), " "))
		text = strings.Repeat(" ", hang) + strings.TrimLeft(string(runes[cut:]), " ")
	}
	if strings.TrimSpace(text) != "" {
		lines = append(lines, text)
	}
	return lines
}
