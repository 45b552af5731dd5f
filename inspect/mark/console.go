package mark

import (
	"runtime"
	"strings"
	"unicode/utf8"
)

// Console is how marks are written on a console: as characters, or in letters that every console shows.
type Console struct{ Bare bool }

// ConsoleOf decides by the locale, and by the terminal where that shows less than its locale says: the Linux kernel's own
// console draws a few hundred characters, which are not these, and a dumb terminal promises none.
func ConsoleOf(getenv func(string) string) Console {
	if t := getenv("TERM"); t == "linux" || t == "dumb" || strings.HasPrefix(t, "vt") {
		return Console{Bare: true}
	}
	// POSIX.1-2017, Base Definitions, 8.2: the first of these that is set and not empty decides.
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if locale := strings.ToLower(getenv(name)); locale != "" {
			return Console{Bare: !strings.Contains(locale, "utf-8") && !strings.Contains(locale, "utf8")}
		}
	}
	return Console{Bare: runtime.GOOS != "windows" || getenv("WT_SESSION") == ""}
}

// Sign is a mark by itself.
func (c Console) Sign(m Mark) string {
	if c.Bare {
		return m.Bare
	}
	return m.Char
}

// With is a mark before its word.
func (c Console) With(m Mark, word string) string {
	if m.Name == "" {
		return word
	}
	return c.Sign(m) + " " + word
}

// Cell is a mark before its word in a column, in which all words begin under one another; where there is no mark its place is
// left empty.
func (c Console) Cell(m Mark, word string) string {
	sign := ""
	if m.Name != "" {
		sign = c.Sign(m)
	}
	return sign + strings.Repeat(" ", max(c.wide()-utf8.RuneCountInString(sign), 0)) + " " + word
}

// wide is how many columns the widest mark takes.
func (c Console) wide() int {
	if c.Bare {
		return 3
	}
	return 1
}

// Standing returns the mark of a tool's standing by its word. It is none, and has no name, for a word that is no standing.
func Standing[Word ~string](word Word) Mark { return standings[string(word)] }

// Verdict returns the mark of a verdict by its word, as Standing does. What is worth grinding is work, and no release.
func Verdict[Word ~string](word Word) Mark { return verdicts[string(word)] }

// Ruling returns the mark of the standing that a ruling brings, by the ruling's word, as Standing does.
func Ruling[Word ~string](word Word) Mark { return rulings[string(word)] }

var (
	standings = map[string]Mark{
		"received": Received, "to grind": ToGrind, "to finish": ToFinish, "to inspect": ToInspect, "to sign": ToSign, "released": Released,
		"conceded": Conceded, "locked": Locked, "recalled": Recalled, "withdrawn": Withdrawn, "retired": Retired,
	}
	verdicts = map[string]Mark{
		"accept": Accept, "reject": Reject, "undecided": Undecided, "not judged": NotJudged,
		"worth grinding": ToGrind, "no grind needed": Accept, "not worth grinding": Reject,
	}
	rulings = map[string]Mark{"release": Released, "concession": Conceded, "withdraw": Withdrawn}
)
