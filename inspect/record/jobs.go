package record

import (
	"cmp"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
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
	Why       string   `json:"released_why,omitempty"`

	ReleasedAt string `json:"-"` // a stamp, of the record that released it
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

// JobStanding is a job as it stands: its tools, and what each of them and the whole lack before it can be released.
type JobStanding struct {
	Job
	Of      []JobTool // by id
	Done    []Inspected
	Settled int      // of its tools
	Lacks   []string // of the job as a whole
}

// Count says how many of its tools are settled, in one way wherever a job is shown: of those that were received, or of those
// that are told where these are more.
func (s JobStanding) Count() string { return s.Job.count(s.Settled, len(s.Of)) }

// Count is JobStanding.Count.
func (o OpenJob) Count() string { return o.Job.count(o.Settled, o.Settled+len(o.Lacking)) }

func (j Job) count(settled, told int) string {
	return fmt.Sprintf("%d of %d settled", settled, max(j.Quantity, told))
}

// Waits says what a job waits for of whose tools none lacks anything; "" where one does.
func (o OpenJob) Waits() string {
	switch {
	case len(o.Lacking) > 0:
		return ""
	case o.Settled == 0:
		return "none of its tools is told yet"
	case o.Settled < o.Sample:
		return "the others are not told yet"
	}
	return "every tool is settled; the job wants a signature"
}

// JobTool is one tool of a job.
type JobTool struct {
	Tool       string
	State      State
	Inspection string // the newest for this job, "" for none
	After      bool   // inspected after the grind for this job
	Settled    bool   // released, conceded, or out of use: nothing is left to decide
	Lacks      string // what keeps it from being settled
}

// SaveJob records a job as it now stands, and of tools that are new in it that they were received.
func SaveJob(l *ledger.Ledger, j Job, now time.Time) (ledger.Record, error) {
	if err := j.Check(); err != nil {
		return ledger.Record{}, err
	}
	if err := alike(l, jobPrefix, j.ID); err != nil {
		return ledger.Record{}, err
	}
	records, err := l.Decide(nil, func() ([]ledger.Entry, error) {
		old, _, err := readJob(l, j.ID)
		if err != nil && !errors.Is(err, ErrNoJob) {
			return nil, err
		}
		j.Tools = slices.Clone(j.Tools)
		for i, tool := range j.Tools {
			t, err := FindTool(l, tool)
			if err != nil && (!damaged(err) || t.ID == "") {
				return nil, err
			}
			j.Tools[i] = t.ID
		}
		e, err := entry(KindJob, jobPrefix+j.ID, j)
		if err != nil {
			return nil, err
		}
		entries := []ledger.Entry{e}
		for _, tool := range j.Tools {
			if slices.Contains(old.Tools, tool) {
				continue
			}
			e, err := entry(KindJob, ToolSubject(tool), Received{j.ID, Stamp(now)})
			if err != nil {
				return nil, err
			}
			entries = append(entries, e)
		}
		return entries, nil
	})
	if err != nil {
		return ledger.Record{}, err
	}
	return records[0], nil
}

// readJob reads a job's records.
func readJob(l Source, id string) (Job, []Inspected, error) {
	leftOut, _, err := benchesOf(l)
	if err != nil {
		return Job{}, nil, err
	}
	var job *Job
	var done []Inspected
	for r, err := range l.History(jobPrefix + id) {
		if err != nil {
			return Job{}, nil, fmt.Errorf("job %q: %w", id, err)
		}
		if leftOut[r.Bench] {
			continue
		}
		body, err := decode(r)
		if err != nil {
			return Job{}, nil, fmt.Errorf("job %q: %w", id, err)
		}
		switch b := body.(type) {
		case *Job:
			if job == nil {
				job = b
			}
			if b.Released != "" && b.Released == job.Released { // the records come newest first
				job.ReleasedAt = Stamp(r.Time.UTC)
			}
		case *Inspected:
			done = append(done, *b)
		}
	}
	if job == nil {
		if known := spelled(l, jobPrefix, id); known != "" && known != id {
			return readJob(l, known)
		}
		return Job{}, nil, fmt.Errorf("job %q: %w", id, ErrNoJob)
	}
	slices.Reverse(done)
	return *job, done, nil
}

// ToolsOf returns the tools that came with a job or were inspected for it, by id.
func ToolsOf(l Source, job string) ([]string, error) {
	j, done, err := readJob(l, job)
	return toolsOf(j, done), err
}

func toolsOf(j Job, done []Inspected) []string {
	tools := slices.Clone(j.Tools)
	for _, i := range done {
		tools = append(tools, i.Tool)
	}
	slices.SortFunc(tools, Natural)
	return slices.Compact(tools)
}

// FindJob returns a job as it stands, or ErrNoJob.
func FindJob(l Source, id string) (JobStanding, error) {
	return readStanding(l, id, func(tool string) (Tool, error) { return FindTool(l, tool) })
}

// WholeJob returns the same, and hands each tool with all its closed inspections to each, in the order of the job. Every tool
// is read once.
func WholeJob(l Source, id string, each func(Tool, []Inspection)) (JobStanding, error) {
	return readStanding(l, id, func(tool string) (Tool, error) {
		t, all, err := Whole(l, tool)
		if err == nil {
			each(t, all)
		}
		return t, err
	})
}

func readStanding(l Source, id string, find func(tool string) (Tool, error)) (JobStanding, error) {
	job, done, err := readJob(l, id)
	if err != nil {
		return JobStanding{}, err
	}
	s := JobStanding{Job: job, Done: done}
	for _, id := range toolsOf(job, done) {
		t, err := find(id)
		if err != nil {
			return s, fmt.Errorf("job %q: %w", job.ID, err)
		}
		jt := JobTool{Tool: id, State: t.State}
		for _, i := range done {
			if i.Tool == id {
				jt.Inspection, jt.After = i.Inspection, jt.After || i.Stage == inspect.After
			}
		}
		switch jt.State.Standing {
		case StandsReleased, StandsConceded, StandsWithdrawn, StandsRetired:
			jt.Settled = true
			s.Settled++
		default:
			jt.Lacks = jt.State.Lacks()
		}
		s.Of = append(s.Of, jt)
	}
	s.Lacks = job.wants(s.Settled)
	return s, nil
}

// wants says what a job as a whole lacks of which so many tools are settled.
func (j Job) wants(settled int) []string {
	if settled >= j.Sample {
		return nil
	}
	return []string{fmt.Sprintf("%d of %d tools are released, conceded or out of use", settled, j.Sample)}
}

// Lacks says what is wanting before a tool that stands so is settled; "" for one that is.
func (s State) Lacks() string {
	switch s.Standing {
	case StandsReceived:
		return "an inspection"
	case StandsToGrind:
		return cmp.Or(works(s.What), "a grind")
	case StandsToFinish:
		return "the inspection after the grind"
	case StandsToInspect:
		return "an inspection"
	case StandsToSign:
		return "a signature"
	case StandsLocked:
		return "an unlocking: " + s.Locks[0].String()
	case StandsRecalled:
		return "a ruling on it as it is corrected, or another inspection"
	}
	return ""
}

// Unsettled are the tools that keep a job from being released: those inspected after the grind for it, and those that
// are stopped. The others may go with the sample.
func (s JobStanding) Unsettled() []JobTool {
	return slices.DeleteFunc(slices.Clone(s.Of), func(t JobTool) bool {
		stopped := t.State.Standing == StandsLocked || t.State.Standing == StandsRecalled
		return t.Settled || !t.After && !stopped
	})
}

// eachJob gives what read makes of each job that the ledger holds records of, by id; none of those inspected for and never added.
func eachJob[J any](l Source, read func(id string) (J, error)) iter.Seq2[J, error] {
	return func(yield func(J, error) bool) {
		subjects, err := l.Subjects(jobPrefix)
		if err != nil {
			var none J
			yield(none, err)
			return
		}
		slices.SortFunc(subjects, Natural)
		for _, subject := range subjects {
			j, err := read(strings.TrimPrefix(subject, jobPrefix))
			if !errors.Is(err, ErrNoJob) && !yield(j, err) {
				return
			}
		}
	}
}

// Jobs gives the jobs of the ledger as they stand, by id.
func Jobs(l Source) iter.Seq2[JobStanding, error] {
	return eachJob(l, func(id string) (JobStanding, error) { return FindJob(l, id) })
}

// ToldJobs gives the jobs of the ledger as they are told, by id, without how their tools stand: no tool's records are read.
func ToldJobs(l Source) iter.Seq2[Job, error] {
	return eachJob(l, func(id string) (Job, error) {
		j, _, err := readJob(l, id)
		return j, err
	})
}

// Hinders says what keeps a job from being released, whoever does it: what it lacks as a whole, and each tool with what
// it lacks; none where it can be released.
func (s JobStanding) Hinders() []string {
	lacks, open := slices.Clone(s.Lacks), s.Unsettled()
	if len(s.Lacks) > 0 { // the others could make up the number
		open = append(open, slices.DeleteFunc(slices.Clone(s.Of), func(t JobTool) bool {
			return t.Settled || slices.ContainsFunc(open, func(u JobTool) bool { return u.Tool == t.Tool })
		})...)
	}
	for _, t := range open {
		lacks = append(lacks, fmt.Sprintf("%s is %s, it lacks %s", t.Tool, t.State.Standing, t.Lacks))
	}
	return lacks
}

func (s JobStanding) releasedAlready() error {
	return fmt.Errorf("job %q was released by %s already", s.ID, s.Released)
}

// MayReleaseJob returns why a job cannot be released now, whoever does it, each tool by itself; nil where it can.
func MayReleaseJob(l Source, id string) error {
	s, err := FindJob(l, id)
	if err != nil {
		return err
	}
	if s.Released != "" {
		return s.releasedAlready()
	}
	var all []error
	for _, lacks := range s.Hinders() {
		all = append(all, errors.New(lacks))
	}
	return errors.Join(all...)
}

// ReleaseJob releases a job, once as many tools as are to be inspected are settled and none that was inspected after
// the grind is open. A refusal names each tool and what it lacks.
func ReleaseJob(l *ledger.Ledger, id string, who Who) (Job, error) {
	if err := who.check("job "+id, false); err != nil {
		return Job{}, err
	}
	var job Job
	_, err := l.Decide(nil, func() ([]ledger.Entry, error) {
		s, err := FindJob(l, id)
		if err != nil {
			return nil, err
		}
		if s.Released != "" {
			return nil, s.releasedAlready()
		}
		if s.Authority != "" && who.By != s.Authority {
			return nil, fmt.Errorf("job %q: released by %q: want %s", id, who.By, s.Authority)
		}
		if lacks := s.Hinders(); len(lacks) > 0 {
			return nil, fmt.Errorf("job %q is not released: %s", id, strings.Join(lacks, "; "))
		}
		job = s.Job
		job.Released, job.Why = who.By, who.Why
		e, err := entry(KindJob, jobPrefix+job.ID, job)
		return []ledger.Entry{e}, err
	})
	return job, err
}

// ForJob returns whether an inspection would be the first that is made for its job, or why none can be made for it.
func ForJob(l Source, id string) (first bool, err error) {
	j, done, err := readJob(l, id)
	if err != nil {
		return false, err
	}
	if j.ID != id {
		return false, fmt.Errorf("job %q is spelled %q here: give it so", id, j.ID)
	}
	if j.Released != "" {
		return false, fmt.Errorf("job %q was released by %s", j.ID, j.Released)
	}
	return len(done) == 0, nil
}

// OpenJob is a job that is not released yet, in short: what a board shows of it.
type OpenJob struct {
	Job
	Settled int         // of its tools, released, conceded or out of use
	Lacking []ToolLacks // the others, by id
	Of      []JobTool   // all of them, as far as a list tells how they stand
}

// Standing is the job as it stands, as far as a list tells that.
func (o OpenJob) Standing() JobStanding {
	return JobStanding{Job: o.Job, Of: o.Of, Settled: o.Settled, Lacks: o.Job.wants(o.Settled)}
}

// ToolLacks is what one tool of a job lacks before it is settled.
type ToolLacks struct {
	Tool  string
	Lacks string
}

// OpenJobs gives the jobs that are not released, by id, from their tools as List gives them, of which list is asked for those of
// a job: it reads no tool's records. A job that cannot be read comes as an error in its place.
func OpenJobs(l Source, list func(tools []string) (map[string]Listed, error)) iter.Seq2[OpenJob, error] {
	released := fmt.Errorf("released: %w", ErrNoJob) // as good as none
	return eachJob(l, func(id string) (OpenJob, error) {
		job, done, err := readJob(l, id)
		if err == nil && job.Released != "" {
			return OpenJob{}, released
		}
		open, ids := OpenJob{Job: job}, toolsOf(job, done)
		var tools map[string]Listed
		if err == nil {
			tools, err = list(ids)
		}
		for _, id := range ids {
			t := tools[id]
			lacks := t.Lacks()
			open.Of = append(open.Of, JobTool{Tool: id, State: State{Standing: t.Standing, ToldAt: t.ToldAt}, Settled: lacks == "", Lacks: lacks})
			if lacks != "" {
				open.Lacking = append(open.Lacking, ToolLacks{id, lacks})
			} else {
				open.Settled++
			}
		}
		return open, err
	})
}

// Lacks is State.Lacks of a tool in a list: what locked it is said by its card.
func (t Listed) Lacks() string {
	if t.Standing == StandsLocked {
		return "an unlocking"
	}
	return State{Standing: t.Standing, What: t.What}.Lacks()
}
