package main

import (
	"errors"
	"fmt"
	"text/tabwriter"

	"flutelog/inspect/ledger"
	"flutelog/inspect/session"
)

// jobFlags are the flags that describe a job.
type jobFlags struct {
	places
	job  session.Job
	json bool
}

func (j *jobFlags) flags(f *flags) {
	f.StringVar(&j.job.Customer, "customer", "", "whose tools they are")
	f.StringVar(&j.job.Reference, "reference", "", "the customer's own reference")
	f.IntVar(&j.job.Quantity, "quantity", 1, "how many tools came")
	f.IntVar(&j.job.Sample, "sample", 0, "how many are inspected after the grind (default: all)")
	f.StringVar(&j.job.Authority, "authority", "", "who may release the job (default: anyone)")
	f.StringVar(&j.job.Note, "note", "", "anything worth knowing")
	f.BoolVar(&j.json, "json", false, "print the result as JSON")
	j.places.flags(f)
}

func jobCommands() command {
	var add, change jobFlags
	var list, show, release struct {
		places
		json bool
		by   string
	}
	return command{name: "job", summary: "tools received together: add, change, list, show, release", sub: []command{
		{
			name: "add", args: "ID", summary: "add a job",
			example: "job add J-77 --customer \"tool room 2\" --quantity 20 --sample 5 --authority \"R. Vale\"",
			flags:   add.flags,
			run:     func(e env, f *flags) error { return add.add(e, f.args[0]) },
		},
		{
			name: "change", args: "ID", summary: "change what is known of a job; what was known stays in the ledger",
			example: "job change J-77 --sample 8",
			flags:   change.flags,
			run:     func(e env, f *flags) error { return change.change(e, f) },
		},
		{
			name: "list", summary: "list the jobs", example: "job list",
			flags: func(f *flags) { f.BoolVar(&list.json, "json", false, "print the result as JSON"); list.places.flags(f) },
			run:   func(e env, f *flags) error { return listJobs(e, &list.places, list.json) },
		},
		{
			name: "show", args: "ID", summary: "show a job and how each of its tools stands", example: "job show J-77",
			flags: func(f *flags) { f.BoolVar(&show.json, "json", false, "print the result as JSON"); show.places.flags(f) },
			run:   func(e env, f *flags) error { return showJob(e, f.args[0], &show.places, show.json) },
		},
		{
			name: "release", args: "ID", summary: "release a job once its sample is inspected and every tool of it settled",
			example: `job release J-77 --by "R. Vale"`,
			flags: func(f *flags) {
				f.StringVar(&release.by, "by", "", "who releases it")
				release.places.flags(f)
			},
			run: func(e env, f *flags) error { return releaseJob(e, f.args[0], &release.places, release.by) },
		},
	}}
}

func (j *jobFlags) add(e env, id string) error {
	_, l, err := j.open(e)
	if err != nil {
		return err
	}
	if _, _, err := session.FindJob(l, id); err == nil {
		return hinted{usagef("job %q is in the ledger already", id), "flutelog job change " + id + " changes it"}
	} else if !errors.Is(err, session.ErrNoJob) {
		return err
	}
	job := j.job
	job.ID = id
	if job.Sample == 0 {
		job.Sample = job.Quantity
	}
	warnMangled(e, id)
	return j.save(e, l, job)
}

func (j *jobFlags) change(e env, f *flags) error {
	_, l, err := j.open(e)
	if err != nil {
		return err
	}
	job, _, err := session.FindJob(l, f.args[0])
	if err != nil {
		return err
	}
	for flag, set := range map[string]func(){
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

func (j *jobFlags) save(e env, l *ledger.Ledger, job session.Job) error {
	if err := job.Check(); err != nil {
		return usageError{err}
	}
	if _, err := session.SaveJob(l, job); err != nil {
		return err
	}
	if j.json {
		return printJSON(e, job)
	}
	printJob(e, job)
	return nil
}

func printJob(e env, j session.Job) {
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
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

func listJobs(e env, p *places, asJSON bool) error {
	_, l, err := p.open(e)
	if err != nil {
		return err
	}
	jobs, err := session.Jobs(l)
	if err != nil {
		return err
	}
	if asJSON {
		return printJSON(e, jobs)
	}
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "job\tcustomer\treference\tquantity\tto inspect\treleased by")
	for _, j := range jobs {
		fmt.Fprintf(w, "%s\t%s\t%s\t%d\t%d\t%s\n", j.ID, j.Customer, j.Reference, j.Quantity, j.Sample, j.Released)
	}
	return w.Flush()
}

func showJob(e env, id string, p *places, asJSON bool) error {
	_, l, err := p.open(e)
	if err != nil {
		return err
	}
	job, done, err := session.FindJob(l, id)
	if err != nil {
		return err
	}
	stands, err := session.Finished(l, done)
	if err != nil {
		return err
	}
	if asJSON {
		return printJSON(e, map[string]any{"job": job, "inspected": done, "finished": len(stands)})
	}
	printJob(e, job)
	fmt.Fprintf(e.stdout, "\n%d of %d tools inspected after the grind\n", len(stands), job.Sample)
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "tool\tinspection\tstage\tverdict\tstands")
	for _, i := range done {
		stand := ""
		if s, ok := stands[i.Tool]; ok && s.Inspection.ID == i.Inspection {
			stand = s.String()
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", i.Tool, i.Inspection, i.Stage, i.Verdict, stand)
	}
	return w.Flush()
}

func releaseJob(e env, id string, p *places, by string) error {
	_, l, err := p.open(e)
	if err != nil {
		return err
	}
	if _, err := session.ReleaseJob(l, id, by); err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "job %s is released by %s\n", id, by)
	return nil
}
