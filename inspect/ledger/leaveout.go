package ledger

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
)

// kindLeaveOut is the kind of the record by which a merged bench is left out, or taken in again. All of them stand under
// one subject, its name.
const kindLeaveOut = "leave-out"

// LeftOut is the body of a record by which a merged bench is left out: its records stay where they are, and no history,
// list or report has them any more, until another such record takes it in again.
type LeftOut struct {
	Bench string `json:"bench"`
	By    string `json:"by"`
	Why   string `json:"why"`
	Back  bool   `json:"back,omitempty"` // it is taken in again
}

// LeaveOut records that a merged bench is left out, or taken in again, by whom and why.
func (l *Ledger) LeaveOut(what LeftOut) (Record, error) {
	end, err := l.begin()
	if err != nil {
		return Record{}, fmt.Errorf("leaving out bench %s: %w", what.Bench, err)
	}
	defer end()
	l.mu.Lock()
	defer l.mu.Unlock()
	r, err := l.leaveOut(what)
	if err != nil {
		return Record{}, fmt.Errorf("leaving out bench %s: %w", what.Bench, err)
	}
	return r, nil
}

func (l *Ledger) leaveOut(what LeftOut) (Record, error) {
	if _, err := l.view(); err != nil {
		return Record{}, err
	}
	left, err := l.leftOut()
	if err != nil {
		return Record{}, err
	}
	_, out := left[what.Bench]
	switch {
	case what.Bench == l.own:
		return Record{}, errors.New("it is this bench")
	case l.chains[what.Bench] == nil:
		return Record{}, errors.New("no such bench in this ledger")
	case out && !what.Back:
		return Record{}, errors.New("it is left out already")
	case !out && what.Back:
		return Record{}, errors.New("it is not left out")
	case what.By == "" || what.Why == "":
		return Record{}, errors.New("want who says so, and why")
	}
	body, err := json.Marshal(what)
	if err != nil {
		return Record{}, err
	}
	records, err := l.append([]Entry{{Kind: kindLeaveOut, Subject: kindLeaveOut, Body: body, reserved: true}}, nil)
	if err != nil {
		return Record{}, err
	}
	return records[0], nil
}

// LeftOut returns the benches that are left out, with who said so and why.
func (l *Ledger) LeftOut() (map[string]LeftOut, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, err := l.view(); err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	left, err := l.leftOut()
	return maps.Clone(left), err
}

// leftOut returns the benches that are left out by this bench's records. The chains are up to date.
func (l *Ledger) leftOut() (map[string]LeftOut, error) {
	c := l.chains[l.own]
	if c == nil {
		return nil, nil
	}
	at, ok := c.heads.last(kindLeaveOut)
	if !ok || at == l.leftAt {
		return l.left, nil
	}
	left, seen := map[string]LeftOut{}, map[string]bool{}
	for next := &at; next != nil; {
		line, err := readLine(c.fsys, c.dir, *next)
		if err != nil {
			return nil, fmt.Errorf("%s, the record at byte %d, by which a bench is left out: %w; \"ledger mend\" says what can be done", c.segmentFile(next.Segment), next.Offset, err)
		}
		next = line.Earlier
		var what LeftOut
		if json.Unmarshal(line.body, &what) != nil || line.kind != kindLeaveOut || seen[what.Bench] {
			continue
		}
		if seen[what.Bench] = true; !what.Back {
			left[what.Bench] = what
		}
	}
	l.left, l.leftAt = left, at
	return left, nil
}
