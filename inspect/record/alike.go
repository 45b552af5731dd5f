package record

import (
	"errors"
	"fmt"
	"strings"

	"flutelog/inspect/ledger"
	"flutelog/inspect/text"
)

// ErrAlike says that a spreadsheet would make one of an id and of another that is known.
var ErrAlike = errors.New("a spreadsheet would take both for the same")

// ErrSpelled says that an id is another spelling of a known one.
var ErrSpelled = errors.New("is the same but for its spelling")

// alike refuses a new id that a person could not tell from a known one under the prefix, EM-1 and em-1, or a spreadsheet
// could not: 0412 and 412, MAR 3 and 3-Mar, TRUE and true.
func alike(l *ledger.Ledger, prefix, id string) error {
	becomes, changed := text.Spreadsheet(id)
	subjects, err := l.Subjects(prefix)
	if err != nil {
		return err
	}
	var like error
	folded := text.Fold(id)
	for _, s := range subjects {
		other := strings.TrimPrefix(s, prefix)
		if other == id {
			return nil
		}
		if text.Fold(other) == folded {
			like = fmt.Errorf("id %q: there is %q, which %w", id, other, ErrSpelled)
			continue
		}
		if b, c := text.Spreadsheet(other); b == becomes && (c || changed) {
			like = fmt.Errorf("id %q: there is %q, and %w, %s; choose one that begins with a letter, such as EM-%s", id, other, ErrAlike, becomes, id)
		}
	}
	return like
}

// spelled returns how an id under the prefix is spelled in the ledger, where it differs from what was typed in case,
// width or composition only; "" where nothing is known of it, or two are.
func spelled(l Source, prefix, id string) string {
	subjects, err := l.Subjects(prefix)
	if err != nil {
		return "" // what was asked for is not known; the damage is said where it is looked for
	}
	found, folded := "", text.Fold(id)
	for _, s := range subjects {
		other := strings.TrimPrefix(s, prefix)
		if text.Fold(other) == folded {
			if found != "" {
				return ""
			}
			found = other
		}
	}
	return found
}
