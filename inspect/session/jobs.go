package session

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// Kinds of the records under a job's subject: the job as it stands, and each inspection made for it.
const (
	KindJob       = "job"
	KindInspected = "inspected"
)

// ErrNoJob says that the ledger holds no job of an id.
var ErrNoJob = errors.New("no such job in the ledger")

// Job is tools that were received together.
type Job struct {
	ID        string `json:"id"`
	Customer  string `json:"customer,omitempty"`
	Reference string `json:"reference,omitempty"` // the customer's own
	Quantity  int    `json:"quantity"`
	Sample    int    `json:"sample"`              // how many are inspected after the grind
	Authority string `json:"authority,omitempty"` // who may release; empty is anyone
	Note      string `json:"note,omitempty"`
	Released  string `json:"released,omitempty"` // by whom, once the job has been released
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

// Inspected is one inspection made for a job.
type Inspected struct {
	Inspection string          `json:"inspection"`
	Tool       string          `json:"tool"`
	Stage      inspect.Stage   `json:"stage"`
	Verdict    inspect.Verdict `json:"verdict"`
}

func jobSubject(id string) string { return "job:" + id }

// SaveJob records a job as it now stands.
func SaveJob(l *ledger.Ledger, j Job) (ledger.Record, error) {
	if err := j.Check(); err != nil {
		return ledger.Record{}, err
	}
	return save(l, KindJob, jobSubject(j.ID), j)
}

// FindJob returns a job as it stands and what was inspected for it, oldest first, or ErrNoJob.
func FindJob(l *ledger.Ledger, id string) (Job, []Inspected, error) {
	var job *Job
	var done []Inspected
	for r, err := range l.History(jobSubject(id)) {
		if err != nil {
			return Job{}, nil, fmt.Errorf("job %q: %w", id, err)
		}
		switch {
		case r.Kind == KindJob && job == nil:
			job = &Job{}
			if err := json.Unmarshal(r.Body, job); err != nil {
				return Job{}, nil, fmt.Errorf("job %q: %w", id, err)
			}
		case r.Kind == KindInspected:
			var i Inspected
			if err := json.Unmarshal(r.Body, &i); err != nil {
				return Job{}, nil, fmt.Errorf("job %q: %w", id, err)
			}
			done = append(done, i)
		}
	}
	if job == nil {
		return Job{}, nil, fmt.Errorf("job %q: %w", id, ErrNoJob)
	}
	slices.Reverse(done)
	return *job, done, nil
}

// Jobs returns every job of the ledger, by id.
func Jobs(l *ledger.Ledger) ([]Job, error) {
	subjects, err := l.Subjects(jobSubject(""))
	if err != nil {
		return nil, err
	}
	var jobs []Job
	for _, subject := range subjects {
		j, _, err := FindJob(l, strings.TrimPrefix(subject, jobSubject("")))
		if err != nil {
			return nil, err
		}
		jobs = append(jobs, j)
	}
	return jobs, nil
}

// ForJob checks the job an inspection is made for, and puts the master check before a job's first tool where
// the bench has a master.
func ForJob(l *ledger.Ledger, in inspect.Inspection, p *Plan) error {
	if in.Job == "" {
		return nil
	}
	j, done, err := FindJob(l, in.Job)
	if err != nil {
		return err
	}
	if j.Released != "" {
		return fmt.Errorf("job %q was released by %s", j.ID, j.Released)
	}
	if len(done) == 0 && in.Basis.MasterDiameter > 0 && !slices.Contains(p.Features, inspect.Master) {
		p.Features = append([]inspect.Feature{inspect.Master}, p.Features...)
	}
	return nil
}

// Finished returns how each tool of a job stands after the grind: the newest of its inspections after, or the
// concession or withdrawal that was decided since.
func Finished(l *ledger.Ledger, done []Inspected) (map[string]Standing, error) {
	stands := map[string]Standing{}
	for _, i := range done {
		if i.Stage != inspect.After {
			continue
		}
		s, err := StandingOf(l, i.Inspection)
		if err != nil {
			return nil, err
		}
		stands[i.Tool] = s
	}
	return stands, nil
}

// ReleaseJob releases a job, once as many tools as are to be inspected have been, and every one of them was
// released, by verdict or by concession, or withdrawn.
func ReleaseJob(l *ledger.Ledger, id, by string) (Job, error) {
	j, done, err := FindJob(l, id)
	if err != nil {
		return j, err
	}
	if strings.TrimSpace(by) == "" || j.Authority != "" && by != j.Authority {
		return j, fmt.Errorf("job %q: released by %q: want %s", id, by, orAnyone(j.Authority))
	}
	stands, err := Finished(l, done)
	if err != nil {
		return j, err
	}
	if len(stands) < j.Sample {
		return j, fmt.Errorf("job %q: %d of %d tools were inspected after the grind", id, len(stands), j.Sample)
	}
	for tool, s := range stands {
		if !s.Settled() {
			return j, fmt.Errorf("job %q: tool %q is not released: %s", id, tool, s)
		}
	}
	j.Released = by
	_, err = SaveJob(l, j)
	return j, err
}

func orAnyone(authority string) string {
	if authority == "" {
		return "the name of who releases it"
	}
	return authority
}
