package record

import (
	"cmp"
	"iter"
	"reflect"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Listed is a tool in a list or on a board: as it stands, in short.
type Listed struct {
	inspect.Tool
	Standing    Standing       `json:"standing"`
	What        []inspect.Task `json:"what,omitempty"`       // what the deciding inspection calls for
	Inspection  string         `json:"inspection,omitempty"` // that decides
	NotReground bool           `json:"not_reground,omitempty"`
	Since       Place          `json:"since"` // the record that the standing rests on
	Open        []string       `json:"open,omitempty"`
	Away        *Away          `json:"away,omitempty"`
	Job         string         `json:"job,omitempty"`
	Last        *length.Length `json:"last_diameter,omitempty"` // that was read last
	Wheel       string         `json:"wheel,omitempty"`         // that it was ground with last
	Damaged     string         `json:"damaged,omitempty"`       // what of it cannot be read
	ToldAt      string         `json:"told_at,omitempty"`       // the bench that recorded what the standing rests on, where that is a register's word
}

// row spells the tool as a line of an index: what most tools have in an array, id and standing first, and the rest by
// name, null for none.
func (t Listed) row() string {
	rest := t
	rest.ID, rest.Tool.Diameter, rest.Flutes, rest.Material, rest.Helix, rest.Hand, rest.Ends, rest.Teeth, rest.Duty = "", 0, 0, "", 0, "", "", "", ""
	rest.Standing, rest.What, rest.Inspection, rest.Since, rest.Job, rest.Last, rest.Wheel = "", nil, "", Place{}, "", nil, ""
	cells := []any{
		t.ID, t.Standing, rest, t.Tool.Diameter, t.Flutes, t.Material, t.Helix, t.Hand, t.Ends, t.Teeth, t.Duty,
		t.What, t.Inspection, t.Since.Bench, t.Since.Seq, t.Since.Hash, t.Since.Counter, t.Since.Time, t.Job, t.Last, t.Wheel,
	}
	if reflect.DeepEqual(rest, Listed{}) {
		cells[2] = nil
	}
	return string(stored(cells))
}

// listedOf takes a row apart. The texts share its memory.
func listedOf(row string) (t Listed, err error) {
	s := scanner{body: row}
	cell := func() *scanner { s.optional(','); return &s }
	s.literal('[')
	id, standing := cell().text(), Standing(cell().text())
	if !cell().null() {
		s.decode(&t)
	}
	t.ID, t.Standing = id, standing
	t.Tool.Diameter, t.Flutes, t.Material = cell().length(), cell().integer(), inspect.Material(cell().text())
	cell().decodeText(&t.Helix)
	t.Hand, t.Ends, t.Teeth, t.Duty = inspect.Hand(cell().text()), inspect.Ends(cell().text()), inspect.Teeth(cell().text()), inspect.Duty(cell().text())
	if !cell().null() {
		t.What = s.tasks()
	}
	t.Inspection = cell().text()
	t.Since.Bench, t.Since.Seq, t.Since.Hash, t.Since.Counter, t.Since.Time = cell().text(), cell().unsigned(), cell().text(), cell().unsigned(), cell().text()
	t.Job = cell().text()
	if !cell().null() {
		last := s.length()
		t.Last = &last
	}
	t.Wheel = cell().text()
	return t, s.err
}

// standingOf reads of a row how the tool stands.
func standingOf(row string) Standing {
	s := scanner{body: row}
	s.literal('[')
	s.text()
	s.literal(',')
	return Standing(s.text())
}

// List gives every tool as it stands, in short: ids that end in numbers by those numbers. A *ledger.DamageError comes
// last.
func List(l Source) iter.Seq2[Listed, error] {
	return func(yield func(Listed, error) bool) {
		ix, err := readIndex(l)
		if err != nil && !damaged(err) {
			yield(Listed{}, err)
			return
		}
		for _, id := range ix.sorted() {
			e, wrong := listedOf(ix.rows[id])
			if wrong == nil && e.Flutes == 0 {
				continue // recorded of, and never added
			}
			if !yield(e, wrong) {
				return
			}
		}
		if err != nil {
			yield(Listed{}, err)
		}
	}
}

// Natural compares ids as people sort them: A-2 comes before A-10.
func Natural(a, b string) int {
	for a != "" && b != "" {
		da, ra := digits(a)
		db, rb := digits(b)
		if da != "" && db != "" {
			na, nb := strings.TrimLeft(da, "0"), strings.TrimLeft(db, "0")
			if c := cmp.Or(cmp.Compare(len(na), len(nb)), strings.Compare(na, nb), cmp.Compare(len(da), len(db))); c != 0 {
				return c
			}
			a, b = ra, rb
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

// digits cuts the digits off that text begins with.
func digits(text string) (number, rest string) {
	n := 0
	for n < len(text) && '0' <= text[n] && text[n] <= '9' {
		n++
	}
	return text[:n], text[n:]
}
