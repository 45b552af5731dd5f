package record

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect/ledger"
)

// Elsewhere is what a register has told of a tool, or of a job, that no chain here holds. It counts as all else does:
// what was seen anywhere holds here. But nothing here proves it, and so it is always said whose word it is.
type Elsewhere struct {
	ledger.Told          // when the register was last asked, and which; zero for never
	Records     int      // that only the register told of
	Benches     []string // the ids of those which recorded them, sorted
	Names       []string // the same, in words
}

// count counts the records that were told.
func (e *Elsewhere) count(facts []*fact) {
	for _, x := range facts {
		if x.Told {
			e.Records++
			e.Benches, e.Names = append(e.Benches, x.Bench), append(e.Names, x.At())
		}
	}
	for _, all := range []*[]string{&e.Benches, &e.Names} {
		slices.Sort(*all)
		*all = slices.Compact(*all)
	}
}

// Words says what is known from elsewhere, whose word it is and of when; "" where no register was ever asked.
func (e Elsewhere) Words() string {
	if e.At().IsZero() {
		return ""
	}
	asked := "the register's word, asked " + e.At().Local().Format("2006-01-02 15:04") + ": "
	switch e.Records {
	case 0:
		return asked + "nothing that is not here"
	case 1:
		return asked + "1 record, of " + e.Names[0]
	}
	return fmt.Sprintf("%s%d records, of %s", asked, e.Records, strings.Join(e.Names, ", "))
}

// NotAsked says since when a register has not been asked.
func NotAsked(t ledger.Told) string {
	if t.At().IsZero() {
		return "history elsewhere was never asked"
	}
	return "history elsewhere not asked since " + t.At().Local().Format("2006-01-02 15:04")
}

// told is a source that a register may have told something.
type told interface {
	Told(subject string) (ledger.Told, error)
	AllTold() (map[string]string, error)
}

func toldOf(l Source, subject string) (ledger.Told, error) {
	if t, ok := l.(told); ok {
		return t.Told(subject)
	}
	return ledger.Told{}, nil
}

func allTold(l Source) (map[string]string, error) {
	if t, ok := l.(told); ok {
		return t.AllTold()
	}
	return nil, nil
}
