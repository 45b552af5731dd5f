package rulings

import (
	"errors"
	"fmt"
	"strings"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect/ledger"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

// jobFlags are the flags that describe a job.
type jobFlags struct {
	command.Places
	job   record.Job
	tools string
	json  bool
}

func (j *jobFlags) flags(f *command.Flags) {
	f.StringVar(&j.job.Customer, "customer", "", "whose tools they are")
	f.StringVar(&j.job.Reference, "reference", "", "the customer's own reference")
	f.IntVar(&j.job.Quantity, "quantity", 1, "how many tools came")
	f.IntVar(&j.job.Sample, "sample", 0, "how many are inspected after the grind (default: all)")
	f.StringVar(&j.job.Authority, "authority", "", "who may release the job (default: anyone)")
	f.StringVar(&j.job.Note, "note", "", "anything worth knowing")
	f.StringVar(&j.tools, "tools", "", "the tools that came, by id, with commas between")
	f.BoolVar(&j.json, "json", false, "print the result as JSON")
	j.Places.Flags(f)
}

func Jobs() command.Command {
	var add, change jobFlags
	var list, show struct {
		command.Places
		json bool
	}
	var release rulingFlags
	return command.Command{Name: "job", Summary: "tools received together: add, change, list, show, release", Sub: []command.Command{
		{
			Name: "add", Args: "ID", Summary: "add a job",
			Example: "job add J-77 --customer \"tool room 2\" --quantity 20 --sample 5 --authority \"R. Vale\"",
			Flags:   add.flags,
			Run:     func(e command.Env, f *command.Flags) error { return add.add(e, f.Args[0]) },
		},
		{
			Name: "change", Args: "ID", Summary: "change what is known of a job; what was known stays in the ledger",
			Example: "job change J-77 --sample 8",
			Flags:   change.flags,
			Run:     func(e command.Env, f *command.Flags) error { return change.change(e, f) },
		},
		{
			Name: "list", Summary: "list the jobs", Example: "job list",
			Flags: func(f *command.Flags) {
				f.BoolVar(&list.json, "json", false, "print the result as JSON")
				list.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error { return listJobs(e, &list.Places, list.json) },
		},
		{
			Name: "show", Args: "ID", Summary: "show a job and how each of its tools stands", Example: "job show J-77",
			Flags: func(f *command.Flags) {
				f.BoolVar(&show.json, "json", false, "print the result as JSON")
				show.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error { return showJob(e, f.Args[0], &show.Places, show.json) },
		},
		{
			Name: "release", Args: "ID", Summary: "release a job once its sample is inspected and every tool of it settled",
			Example: `job release J-77 --by "R. Vale"`,
			Flags:   release.flags,
			Run:     func(e command.Env, f *command.Flags) error { return releaseJob(e, f.Args[0], &release) },
		},
	}}
}

func (j *jobFlags) add(e command.Env, id string) error {
	_, l, err := j.Open(e)
	if err != nil {
		return err
	}
	if old, err := record.FindJob(l, id); err == nil {
		return command.Hint(command.Usagef("job %q is in the ledger already", old.ID), "flutelog job change "+old.ID+" changes it")
	} else if !errors.Is(err, record.ErrNoJob) {
		return err
	}
	job := j.job
	job.ID, job.Tools = id, j.named()
	if job.Sample == 0 {
		job.Sample = job.Quantity
	}
	if err := j.save(e, l, job); err != nil {
		return err
	}
	output.WarnSpreadsheet(e, "job", id)
	return nil
}

func (j *jobFlags) change(e command.Env, f *command.Flags) error {
	_, l, err := j.Open(e)
	if err != nil {
		return err
	}
	s, err := record.FindJob(l, f.Args[0])
	if err != nil {
		return err
	}
	job := s.Job
	for flag, set := range map[string]func(){
		"tools":     func() { job.Tools = j.named() },
		"customer":  func() { job.Customer = j.job.Customer },
		"reference": func() { job.Reference = j.job.Reference },
		"quantity":  func() { job.Quantity = j.job.Quantity },
		"sample":    func() { job.Sample = j.job.Sample },
		"authority": func() { job.Authority = j.job.Authority },
		"note":      func() { job.Note = j.job.Note },
	} {
		if f.Changed(flag) {
			set()
		}
	}
	return j.save(e, l, job)
}

// named returns the tools that came, as they are typed.
func (j *jobFlags) named() []string {
	var tools []string
	for _, tool := range command.Parts(j.tools) {
		tools = append(tools, strings.TrimSpace(tool))
	}
	return tools
}

func (j *jobFlags) save(e command.Env, l *ledger.Ledger, job record.Job) error {
	if err := job.Check(); err != nil {
		return command.Usage(err)
	}
	if _, err := record.SaveJob(l, job, e.Now()); errors.Is(err, record.ErrAlike) || errors.Is(err, record.ErrSpelled) {
		return command.Usage(err)
	} else if err != nil {
		return err
	}
	if j.json {
		return command.PrintJSON(e, job)
	}
	printJob(e, job)
	return nil
}

func printJob(e command.Env, j record.Job) {
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	for _, row := range [][2]string{
		{"job", j.ID}, {"customer", j.Customer}, {"reference", j.Reference}, {"quantity", fmt.Sprint(j.Quantity)},
		{"to inspect after the grind", fmt.Sprint(j.Sample)}, {"released only by", j.Authority}, {"note", j.Note}, {"released by", j.Released},
	} {
		if row[1] != "" {
			fmt.Fprintf(w, "%s\t%s\n", row[0], row[1])
		}
	}
	w.Flush()
}

func listJobs(e command.Env, p *command.Places, asJSON bool) error {
	_, l, err := p.Open(e)
	if err != nil {
		return err
	}
	all := []report.Job{}
	for j, err := range record.Jobs(l) {
		if err != nil {
			return err
		}
		all = append(all, report.NewJob(j))
	}
	if asJSON {
		return command.PrintJSON(e, all)
	}
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "job\tcustomer\treference\tquantity\tto inspect\tsettled\treleased by")
	for _, j := range all {
		fmt.Fprintf(w, "%s\t%s\t%s\t%d\t%d\t%d\t%s\n", j.ID, j.Customer, j.Reference, j.Quantity, j.Sample, j.Settled, j.Released)
	}
	return w.Flush()
}

func showJob(e command.Env, id string, p *command.Places, asJSON bool) error {
	_, l, err := p.Open(e)
	if err != nil {
		return err
	}
	if err := command.AskJob(e, l, id); err != nil {
		return err
	}
	s, err := record.FindJob(l, id)
	if err != nil {
		return err
	}
	j := report.NewJob(s)
	if asJSON {
		return command.PrintJSON(e, j)
	}
	printJob(e, s.Job)
	wants := ""
	if s.Sample < s.Quantity {
		wants = fmt.Sprintf("; the job wants %d at least", s.Sample)
	}
	fmt.Fprintf(e.Stdout, "\n%s: released, conceded or out of use%s\n", s.Count(), wants)
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "tool\tstanding\tinspection\tlacks")
	for _, t := range j.Of {
		standing := e.Marks().Cell(mark.Standing(t.Standing), string(t.Standing))
		if t.Told {
			standing += ", the register's word"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", t.Tool, standing, t.Inspection, t.Lacks)
	}
	return w.Flush()
}

func releaseJob(e command.Env, id string, r *rulingFlags) error {
	l, who, err := r.sign(e, false)
	if err != nil {
		return err
	}
	if err := command.AskToRuleJob(e, l, who.Why, id); err != nil {
		return err
	}
	if _, err := record.ReleaseJob(l, id, who); err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "job %s is released by %s\n", id, who.By)
	return nil
}
