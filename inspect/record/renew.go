package record

import (
	"bytes"
	"encoding/json"

	"flutelog/inspect/ledger"
)

// BenchSubject returns the subject that records about a bench stand under.
func BenchSubject(id string) string { return benchPrefix + id }

// Renamed returns the body of a record that is recorded again under another bench's id, with the names in it of records
// that were renamed before. A ruling that knew the newest of those knew the last common line too, which keeps its name.
func Renamed(r ledger.Record, renamed map[ledger.Ref]ledger.Ref, common ledger.Head) (json.RawMessage, error) {
	body, err := decode(r)
	if err != nil {
		return nil, err
	}
	var names []ledger.Ref
	switch b := body.(type) {
	case *Ruling:
		names = append(b.Seen, b.Recalls...)
	case *Correction:
		names = b.After
	}
	text := bytes.Clone(r.Body)
	changed := false
	for _, was := range names {
		now, ok := renamed[was]
		if !ok {
			continue
		}
		from, err := json.Marshal(was)
		if err != nil {
			return nil, err
		}
		to, err := json.Marshal(now)
		if err != nil {
			return nil, err
		}
		text, changed = bytes.ReplaceAll(text, from, to), true
	}
	if _, ruling := body.(*Ruling); ruling && changed && common.Seq > 0 {
		to, err := json.Marshal(ledger.Ref(common))
		if err != nil {
			return nil, err
		}
		text = bytes.Replace(text, []byte(`"seen":[`), append(append([]byte(`"seen":[`), to...), ','), 1)
	}
	return text, nil
}
