package page

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flutelog/cmd/internal/papers"
	"flutelog/inspect/mark"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
)

// jobsPage is the jobs of the ledger: those that are open, with what each lacks, and those that were released.
type jobsPage struct {
	Open, Released []row
	Damage         error
}

// jobs lists the jobs.
func (s *Server) jobs(w http.ResponseWriter, r *http.Request) {
	b, err := s.gather()
	p := jobsPage{Damage: err}
	for _, j := range b.Jobs {
		x := row{ID: j.Job, Word: j.Customer, Right: j.Count, Link: link("/job", j.Job)}
		var lacks []string
		for _, t := range j.Lacks[:min(len(j.Lacks), 8)] {
			lacks = append(lacks, t.Tool+" "+t.What)
		}
		if more := len(j.Lacks) - len(lacks); more > 0 {
			lacks = append(lacks, fmt.Sprintf("%d more", more))
		}
		x.Under = cmp.Or(capital(j.Waits), "Lacks: "+strings.Join(lacks, ", "))
		p.Open = append(p.Open, x)
	}
	for j, err := range record.ToldJobs(s.Ledger) {
		if err == nil && j.Released != "" {
			p.Released = append(p.Released, row{ID: j.ID, Word: j.Customer, Right: "released", Under: "by " + j.Released, Link: link("/job", j.ID)})
		}
	}
	slices.Reverse(p.Released)
	s.show(w, r, http.StatusOK, "Jobs", p.html)
}

// jobPage is one job: a row a tool, and what can be signed.
type jobPage struct {
	Elsewhere string // said where the register did not answer
	Job       record.Job
	Lead      string
	Heading   string
	Lacks     []row
	Rows      []jobRow
	Release   int    // tools that can be released
	Sign      bool   // the job itself can be released
	Waits     string // why the certificate is none yet
	Practice  bool
	Tables    string
}

// jobRow is one tool of a job: how it stands, how it was found and left, and what is said of it.
type jobRow struct {
	Tool        string
	Standing    record.Standing
	Release     string // the inspection that it can be released by; "" for none
	Found, Left string
	Says        string
}

// job shows one job.
func (s *Server) job(w http.ResponseWriter, r *http.Request) {
	id := r.FormValue("id")
	said, _ := s.elsewhere.LookJob(id) // an old copy can still be looked at
	j, err := record.FindJob(s.Ledger, id)
	if errors.Is(err, record.ErrNoJob) {
		s.show(w, r, http.StatusNotFound, "No such job", refusedPage{"no job is “" + id + "”; the jobs that there are stand in the list", "/jobs"}.html)
		return
	}
	var c paper.Certificate
	if err == nil {
		c, err = s.papers("").Certificate(j.ID)
	}
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	p := jobPage{Elsewhere: said, Job: j.Job, Lead: c.Lead, Waits: papers.Lacking(j), Practice: c.Practice, Tables: "/tables.zip?" + url.Values{"job": {j.ID}}.Encode()}
	for i, t := range j.Of {
		x := jobRow{Tool: t.Tool, Standing: t.State.Standing, Says: c.Rows[i].Ruling.Cell()}
		x.Found, x.Left = foundAndLeft(c.Rows[i])
		if at := t.State.ToldAt; at != "" {
			x.Says = listed(x.Says, "recorded at "+at+", by the register’s word")
		}
		lacks := t.Lacks
		if t.State.Standing == record.StandsToSign {
			if err := record.MayRule(s.Ledger, []string{t.State.Inspection}, record.Release); err == nil {
				x.Release, lacks = t.State.Inspection, ""
				p.Release++
			} else {
				lacks = err.Error()
			}
		}
		p.Rows = append(p.Rows, x)
		if lacks != "" {
			p.Lacks = append(p.Lacks, row{Mark: mark.Standing(t.State.Standing).SVG(), ID: t.Tool, Under: "is " + string(t.State.Standing) + ": " + lacks})
		}
	}
	p.Heading = jobHeading(j, len(p.Lacks), p.Release)
	p.Sign = j.Released == "" && len(j.Hinders()) == 0
	s.show(w, r, http.StatusOK, "Job "+j.ID, p.html)
}

func jobHeading(j record.JobStanding, lacking, signs int) string {
	switch {
	case j.Released != "":
		return "Released by " + j.Released
	case len(j.Of) == 0:
		return "None of its tools is told yet"
	case lacking+signs == 0:
		return "Every tool is settled; the job wants a signature"
	}
	waits := "wait"
	if signs == 1 {
		waits = "waits"
	}
	lack := "lack"
	if lacking == 1 {
		lack = "lacks"
	}
	switch {
	case signs == 0:
		return fmt.Sprintf("%d of %d %s something", lacking, len(j.Of), lack)
	case lacking == 0:
		return fmt.Sprintf("%d of %d %s for a signature", signs, len(j.Of), waits)
	}
	return fmt.Sprintf("%d of %d %s something, %d %s for a signature", lacking, len(j.Of), lack, signs, waits)
}

// foundAndLeft are the figures of a tool before the grind and after it, those that there are.
func foundAndLeft(c paper.CertificateRow) (found, left string) {
	figures := func(named ...string) string {
		var all []string
		for i := 0; i < len(named); i += 2 {
			if v := named[i+1]; v != "" && v != "\u2013" {
				all = append(all, strings.TrimSpace(named[i]+" "+v))
			}
		}
		return strings.Join(all, ", ")
	}
	return figures("wear", c.FoundWear, "TIR", c.FoundTIR), figures("", c.Diameter, "TIR", c.TIR, "primary", c.Share)
}

// certificate shows the certificate of a job, to print.
func (s *Server) certificate(w http.ResponseWriter, r *http.Request) {
	id := r.FormValue("id")
	c, err := s.papers(link("/job", id)).Certificate(id)
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	s.printed(w, r, func(w io.Writer) error { return paper.WriteCertificate(w, c) })
}

// jobTags shows the tags of all tools of a job, to print.
func (s *Server) jobTags(w http.ResponseWriter, r *http.Request) {
	j, err := record.FindJob(s.Ledger, r.FormValue("id"))
	var tags paper.Tags
	if err == nil {
		var ids []string
		for _, t := range j.Of {
			ids = append(ids, t.Tool)
		}
		tags, err = s.papers(link("/job", j.ID)).Tags(ids)
	}
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	s.printed(w, r, func(w io.Writer) error { return paper.WriteTags(w, tags) })
}

// jobForm shows the form that describes a job, a new one or one that is changed.
func (s *Server) jobForm(w http.ResponseWriter, r *http.Request) {
	f := form{Values: url.Values{}}
	if id := r.FormValue("id"); id != "" {
		j, err := record.FindJob(s.Ledger, id)
		if err != nil {
			s.refuse(w, r, statusOf(err), err)
			return
		}
		f.Values = url.Values{
			"was": {j.ID}, "id": {j.ID}, "customer": {j.Customer}, "reference": {j.Reference}, "quantity": {strconv.Itoa(j.Quantity)}, "sample": {strconv.Itoa(j.Sample)},
			"authority": {j.Authority}, "tools": {strings.Join(j.Tools, ", ")}, "note": {j.Note},
		}
	}
	s.show(w, r, http.StatusOK, "Job", f.describeJob)
}

// saveJob records a job as the form describes it.
func (s *Server) saveJob(w http.ResponseWriter, r *http.Request) {
	f := r.PostForm
	j, errs := jobOf(f)
	was := f.Get("was")
	if errs == nil {
		old, err := record.FindJob(s.Ledger, j.ID)
		switch {
		case was == "" && err == nil:
			errs = append(errs, at("id", fmt.Errorf("job %q is in the ledger already; its page changes it", old.ID)))
		case was != "" && err != nil:
			errs = append(errs, err)
		case was != "":
			j.Released = old.Released
		}
	}
	if errs == nil {
		if _, err := record.SaveJob(s.Ledger, j, s.Now()); errors.Is(err, record.ErrNoTool) {
			errs = append(errs, at("tools", err))
		} else if err != nil {
			errs = append(errs, err)
		}
	}
	if errs != nil {
		s.show(w, r, http.StatusUnprocessableEntity, "Job", refused(f, errs...).describeJob)
		return
	}
	http.Redirect(w, r, link("/job", j.ID), http.StatusSeeOther)
}

// jobOf reads the form that describes a job. How many came is at least how many are named, and all of them are inspected
// unless it says otherwise.
func jobOf(f url.Values) (j record.Job, errs []error) {
	text := func(name string) string { return strings.TrimSpace(f.Get(name)) }
	j = record.Job{ID: text("id"), Customer: text("customer"), Reference: text("reference"), Authority: text("authority"), Note: text("note")}
	for _, t := range strings.Split(f.Get("tools"), ",") {
		if t = strings.TrimSpace(t); t != "" {
			j.Tools = append(j.Tools, t)
		}
	}
	count := func(name string, usual int) int {
		if text(name) == "" {
			return usual
		}
		n, err := strconv.Atoi(text(name))
		if err != nil || n < 1 {
			errs = append(errs, at(name, fmt.Errorf("%q: want a whole number, 1 or more", text(name))))
		}
		return n
	}
	j.Quantity = count("quantity", max(1, len(j.Tools)))
	j.Sample = count("sample", j.Quantity)
	if errs == nil {
		if err := j.Check(); err != nil {
			errs = append(errs, err)
		}
	}
	return j, errs
}
