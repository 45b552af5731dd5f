package output

import (
	"fmt"
	"strings"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/text"
)

// WarnSpreadsheet warns of an id, a job or a serial that a spreadsheet will not leave as it is.
func WarnSpreadsheet(e command.Env, what, given string) {
	switch becomes, changed := text.Spreadsheet(given); {
	case changed:
		fmt.Fprintf(e.Stderr, "flutelog: hint: a spreadsheet will make %s of the %s %q; one that begins with letters and a hyphen, such as EM-%s, stays as it is\n", becomes, what, given, given)
	case strings.ContainsAny(given[:1], "=+-@"):
		fmt.Fprintf(e.Stderr, "flutelog: hint: a spreadsheet will take the %s %q for a formula; one that begins with letters stays as it is\n", what, given)
	}
}
