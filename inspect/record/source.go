package record

import (
	"iter"

	"flutelog/inspect/ledger"
)

// Source is where records are read from: a ledger, or whatever holds the lines of one or of many. Each method does what
// the ledger's method of that name does.
type Source interface {
	History(subject string, kinds ...string) iter.Seq2[ledger.Record, error]
	Latest(subject, kind string) (ledger.Record, bool, error)
	Subjects(prefix string) ([]string, error)
	ScanKinds(kinds []string, visit func(ledger.Record) error) error
	ScanAfter(after map[string]uint64, kinds []string, visit func(ledger.Record) error) error

	// Again reads a record again that one of these gave: by its bench and number, and where its line stands.
	Again(r ledger.Record) (ledger.Record, error)

	// Where the source is no bench's own, Head fails, Unfinished gives none, and ReadDraft is not asked.
	Unfinished() ([]ledger.Record, error)
	Head() (ledger.Head, error)
	ReadDraft(id string) (ledger.DraftContent, error)

	// Dir is the folder where an index of all tools may be kept; "" for none.
	Dir() string
}
