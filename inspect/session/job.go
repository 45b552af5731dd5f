package session

import (
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// ForJob checks the job an inspection is made for, and puts the master check before a job's first tool where
// the bench has a master.
func ForJob(l *ledger.Ledger, in inspect.Inspection, p *Plan) error {
	if in.Job == "" {
		return nil
	}
	first, err := record.ForJob(l, in.Job)
	if first && in.Basis.MasterDiameter > 0 && !slices.Contains(p.Features, inspect.Master) {
		p.Features = append([]inspect.Feature{inspect.Master}, p.Features...)
	}
	return err
}
