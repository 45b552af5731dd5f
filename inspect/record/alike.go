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

// KnownError says that a tool that was to be added is in the ledger.
type KnownError struct{ ID string }

func (e *KnownError) Error() string { return fmt.Sprintf("tool %q is in the ledger already", e.ID) }

// ids are the ids that are known under a prefix, by what a person and what a spreadsheet makes of them.
type ids struct {
	known            map[string]bool
	folded, becoming map[string]string
}

func readIDs(l Source, prefix string) (ids, error) {
	subjects, err := l.Subjects(prefix)
	all := ids{make(map[string]bool, len(subjects)), make(map[string]string, len(subjects)), make(map[string]string, len(subjects))}
	for _, s := range subjects {
		all.take(strings.TrimPrefix(s, prefix))
	}
	return all, err
}

func (all ids) take(id string) {
	becomes, _ := text.Spreadsheet(id)
	all.known[id], all.folded[text.Fold(id)], all.becoming[becomes] = true, id, id
}

// alike refuses a new id that a person could not tell from a known one, EM-1 and em-1, or a spreadsheet could not: 0412 and
// 412, MAR 3 and 3-Mar, TRUE and true.
func (all ids) alike(id string) error {
	if all.known[id] {
		return nil
	}
	if other, is := all.folded[text.Fold(id)]; is {
		return fmt.Errorf("id %q: there is %q, which %w", id, other, ErrSpelled)
	}
	becomes, _ := text.Spreadsheet(id)
	if other, is := all.becoming[becomes]; is {
		return fmt.Errorf("id %q: there is %q, and %w, %s; choose one that begins with a letter, such as EM-%s", id, other, ErrAlike, becomes, id)
	}
	return nil
}

// alike is ids.alike of the ids under a prefix.
func alike(l *ledger.Ledger, prefix, id string) error {
	all, err := readIDs(l, prefix)
	if err != nil {
		return err
	}
	return all.alike(id)
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
