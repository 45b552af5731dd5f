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

// alike refuses a new id that a spreadsheet could not tell from a known one under the prefix: 0412 and 412, MAR 3 and
// 3-Mar, TRUE and true.
func alike(l *ledger.Ledger, prefix, id string) error {
	becomes, changed := text.Spreadsheet(id)
	if !changed && !strings.ContainsAny(id[:1], "+-.,0123456789") {
		return nil // it stays as it is, and nothing becomes such an id
	}
	subjects, err := l.Subjects(prefix)
	if err != nil {
		return err
	}
	var like error
	for _, s := range subjects {
		other := strings.TrimPrefix(s, prefix)
		if other == id {
			return nil
		}
		if b, c := text.Spreadsheet(other); b == becomes && (c || changed) {
			like = fmt.Errorf("id %q: there is %q, and %w, %s; choose one that begins with a letter, such as EM-%s", id, other, ErrAlike, becomes, id)
		}
	}
	return like
}
