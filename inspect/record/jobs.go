package record

import (
	"errors"
	"fmt"

	"flutelog/inspect"
)

// ErrNoJob says that the ledger holds no job of an id.
var ErrNoJob = errors.New("no such job in the ledger")

// Job is tools that were received together.
type Job struct {
	ID        string   `json:"id"`
	Customer  string   `json:"customer,omitempty"`
	Reference string   `json:"reference,omitempty"` // the customer's own
	Quantity  int      `json:"quantity"`
	Sample    int      `json:"sample"`              // how many are inspected after the grind
	Authority string   `json:"authority,omitempty"` // who may release; empty is anyone
	Note      string   `json:"note,omitempty"`
	Tools     []string `json:"tools,omitempty"`    // that came with it, as far as they are told
	Released  string   `json:"released,omitempty"` // by whom, once the job has been released
}

// Check returns what is wrong with the job as described, or nil.
func (j Job) Check() error {
	if err := inspect.CheckID(j.ID); err != nil {
		return err
	}
	if j.Quantity < 1 || j.Quantity > 100_000 {
		return fmt.Errorf("job %q: quantity %d: want 1 to 100000", j.ID, j.Quantity)
	}
	if j.Sample < 1 || j.Sample > j.Quantity {
		return fmt.Errorf("job %q: %d to inspect of %d: want 1 to all", j.ID, j.Sample, j.Quantity)
	}
	return nil
}
