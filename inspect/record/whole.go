package record

import (
	"cmp"
	"fmt"

	"flutelog/inspect/ledger"
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

// Outlines is Whole in short, for who makes lists of many inspections: each comes without its readings and sights, with its
// revision in place of its basis, and with what it came to in place of all that was worked out. What is read of the
// readings stands in the summary, unless one of them was corrected. Only those are read that wanted says yes to: it is
// given the summary's record and how many records the inspection is made of, itself, its corrections and its rulings.
func Outlines(l Source, id string, wanted func(summary ledger.Ref, records int) bool) (Tool, []Inspection, error) {
	t, failed := readWhole(l, id)
	if t.Tool.ID == "" {
		return t.Tool, nil, cmp.Or(failed, fmt.Errorf("tool %q: %w", id, ErrNoTool))
	}
	var all []Inspection
	for _, h := range t.inspections {
		in := t.begun(h)
		t.rule(&in, h)
		if !wanted(h.summary(), 1+len(h.corrections)+len(in.Rulings)) {
			continue
		}
		var err error
		if len(h.corrections) > 0 {
			in, err = t.inspection(h)
		} else if err = in.outline(string(t.bodies[h.summary()])); err == nil {
			in.Figures, err = *h.now, h.check(&in)
		}
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
