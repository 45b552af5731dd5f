package record

import (
	"cmp"
	"fmt"
)

// Whole returns a tool with all its closed inspections as they stand, those given up among them, the oldest first; or
// ErrNoTool. The tool's records are read once. What can be read of a damaged ledger comes with the *ledger.DamageError.
func Whole(l Source, id string) (Tool, []Inspection, error) {
	t, failed := readWhole(l, id)
	if t.Tool.ID == "" {
		return t.Tool, nil, cmp.Or(failed, fmt.Errorf("tool %q: %w", id, ErrNoTool))
	}
	var all []Inspection
	for _, h := range t.inspections {
		in, err := t.inspection(h)
		if err != nil {
			return t.Tool, all, cmp.Or(failed, err)
		}
		all = append(all, in)
	}
	return t.Tool, all, failed
}

// Received returns when the tool came with a job, as it is recorded; "" where it is not.
func (t Tool) Received(job string) string {
	at := ""
	for _, x := range t.facts {
		if r, ok := x.body.(*Received); ok && r.Job == job {
			at = r.At
		}
	}
	return at
}
