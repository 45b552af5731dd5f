package record

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flutelog/inspect/ledger"
)

// Elsewhere is what a register has told of a tool, or of a job, that no chain here holds. It counts as all else does:
// what was seen anywhere holds here. But nothing here proves it, and so it is always said whose word it is.
type Elsewhere struct {
	ledger.Told          // when the register was last asked, and which; zero for never
	Records     int      // that only the register told of
	Benches     []string // which recorded them, sorted
}

// count counts the records that were told.
func (e *Elsewhere) count(facts []fact) {
	for _, x := range facts {
		if x.Told {
			e.Records++
			e.Benches = append(e.Benches, x.Bench)
		}
	}
	slices.Sort(e.Benches)
	e.Benches = slices.Compact(e.Benches)
}

// Words says what is known from elsewhere, and since when, in one line.
func (e Elsewhere) Words(now time.Time) string {
	if e.At().IsZero() {
		return "history elsewhere: never asked"
	}
	at := e.At().In(now.Location())
	asked := at.Format("15:04")
	if at.Format(time.DateOnly) != now.Format(time.DateOnly) {
		asked = at.Format("2006-01-02 15:04")
	}
	switch e.Records {
	case 0:
		return "history elsewhere: none that is not here, by the register's word of " + asked
	case 1:
		return fmt.Sprintf("history elsewhere: 1 record at bench %s, by the register's word of %s", e.Benches[0], asked)
	}
	return fmt.Sprintf("history elsewhere: %d records at bench %s, by the register's word of %s", e.Records, strings.Join(e.Benches, ", "), asked)
}

// NotAsked says since when the register has not been asked.
func (e Elsewhere) NotAsked(now time.Time) string {
	if e.At().IsZero() {
		return "history elsewhere: never asked"
	}
	return "history elsewhere not asked since " + e.At().In(now.Location()).Format("2006-01-02 15:04")
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
