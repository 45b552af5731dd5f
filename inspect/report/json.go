package report

import (
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// Tool is a tool in a list, for a program: a bench and a register tell it alike.
type Tool struct {
	Tool       string          `json:"tool"`
	Standing   record.Standing `json:"standing"`
	What       []inspect.Task  `json:"what,omitempty"` // what the inspection that decides calls for
	Inspection string          `json:"inspection,omitempty"`
	Since      string          `json:"since,omitempty"`
	Job        string          `json:"job,omitempty"`
	Open       []string        `json:"open,omitempty"` // half read
	Away       string          `json:"away,omitempty"`
	Unit       length.Unit     `json:"unit"`
	Diameter   length.Number   `json:"diameter"` // nominal
	Last       *length.Number  `json:"last_diameter"`
	Flutes     int             `json:"flutes"`
	Material   string          `json:"material"`
	Ends       string          `json:"ends,omitempty"` // a register keeps neither of these in its list
	Duty       string          `json:"duty,omitempty"`
	OutOfUse   string          `json:"out_of_use,omitempty"`
	Damaged    string          `json:"damaged,omitempty"`
	ToldAt     string          `json:"told_at,omitempty"` // the bench, in words, that recorded what it rests on, by a register's word
}

// NewTool returns a tool as it is told to a program.
func NewTool(t record.Listed, unit length.Unit) Tool {
	one := Tool{
		Tool: t.ID, Standing: t.Standing, What: t.What, Inspection: t.Inspection, Since: t.Since.Time, Job: t.Job, Open: t.Open, Away: AwayWords(t.Away),
		Unit: unit, Diameter: t.Tool.Diameter.Number(unit), Flutes: t.Flutes, Material: string(t.Material), Ends: string(t.Ends), Duty: string(t.Duty),
		OutOfUse: t.Retired, Damaged: t.Damaged, ToldAt: t.ToldAt,
	}
	if t.Last != nil {
		n := t.Last.Number(unit)
		one.Last = &n
	}
	return one
}

// AwayWords says where a tool is out; "" for one that is here.
func AwayWords(a *record.Away) string {
	switch {
	case a == nil:
		return ""
	case a.Where == "":
		return "sent out"
	}
	return "sent out to " + a.Where
}

// Job is a job as it stands, for a program: a bench and a register tell it alike.
type Job struct {
	record.Job
	Settled int       `json:"settled"` // tools of it that are released, conceded or out of use
	Lacks   []string  `json:"lacks"`
	Of      []JobTool `json:"of"`
}

// JobTool is one of its tools.
type JobTool struct {
	Tool       string          `json:"tool"`
	Standing   record.Standing `json:"standing"`
	Inspection string          `json:"inspection,omitempty"` // the newest for this job
	Settled    bool            `json:"settled"`
	Lacks      string          `json:"lacks,omitempty"`
	Told       bool            `json:"told,omitempty"`  // its standing rests on a register's word
	Bench      string          `json:"bench,omitempty"` // of the record that its standing rests on, where a register tells it
}

// NewJob returns a job as it is told to a program.
func NewJob(j record.JobStanding) Job {
	out := Job{Job: j.Job, Settled: j.Settled, Lacks: append([]string{}, j.Lacks...), Of: []JobTool{}}
	for _, t := range j.Of {
		out.Of = append(out.Of, JobTool{Tool: t.Tool, Standing: t.State.Standing, Inspection: t.Inspection, Settled: t.Settled, Lacks: t.Lacks, Told: t.State.ToldAt != ""})
	}
	return out
}
