package web

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// jobRow is one job of the list.
type jobRow struct {
	Link, ID, Customer, Right string
	Lacks                     []lack
	More                      int    // tools that lack something and are not shown
	Under                     string // said where none lacks anything
}

// lack is what a tool lacks, and the bench that recorded of it last.
type lack struct {
	Tool, Link, Lacks, At string
	Standing              record.Standing
}

type jobsPage struct {
	Heading  string
	Open     []jobRow
	Released []jobRow
	More     int // released ones that are not shown
	Damage   string
}

const (
	mostLacks    = 6  // of one job in the list
	mostReleased = 20 // jobs
)

// jobs lists the jobs, open ones first with what each lacks and at which bench.
func (s *Site) jobs(v *visit) error {
	names, err := s.Store.Names(v)
	if err != nil {
		return err
	}
	var p jobsPage
	err = s.Store.Read(v, func(src *store.Source) error {
		var found map[string]store.Tool
		for j, err := range record.OpenJobs(src, func(ids []string) (_ map[string]record.Listed, err error) {
			var listed map[string]record.Listed
			found, listed, err = s.Store.ToolsNamed(v, ids)
			return listed, err
		}) {
			if err != nil {
				p.Damage = err.Error()
				continue
			}
			r := jobRow{Link: link("/job", j.ID), ID: j.ID, Customer: j.Customer, Right: j.Count(), Under: j.Waits()}
			for _, l := range j.Lacking[:min(len(j.Lacking), mostLacks)] {
				t := found[l.Tool]
				r.Lacks = append(r.Lacks, lack{l.Tool, link("/tool", l.Tool), l.Lacks, called(names, t.Bench), t.Standing})
			}
			r.More = len(j.Lacking) - len(r.Lacks)
			p.Open = append(p.Open, r)
		}
		for j, err := range record.ToldJobs(src) {
			switch {
			case err != nil:
				p.Damage = err.Error()
			case j.Released != "":
				p.Released = append(p.Released, jobRow{Link: link("/job", j.ID), ID: j.ID, Customer: j.Customer, Right: "released by " + j.Released})
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	slices.Reverse(p.Released)
	if p.More = len(p.Released) - mostReleased; p.More > 0 {
		p.Released = p.Released[:mostReleased]
	}
	p.Heading = plural(len(p.Open), "open job")
	if len(p.Open) == 0 {
		p.Heading = "No job is open"
	}
	s.show(v, http.StatusOK, "Jobs", p.html)
	return nil
}

type jobPage struct {
	ID, Customer, What string
	Released           string
	Lacks              []string
	Heading            string
	Tools              []jobTool
}

type jobTool struct {
	Tool, Link string
	Standing   record.Standing
	Inspection string
	At         string // the bench that its standing was decided at
	Lacks      string
	Settled    bool
}

// job shows one job: each tool, how it stands, what it lacks, at which bench.
func (s *Site) job(v *visit) error {
	names, err := s.Store.Names(v)
	if err != nil {
		return err
	}
	id := v.value("id")
	var j record.JobStanding
	err = s.Store.Read(v, func(src *store.Source) (err error) {
		j, err = record.FindJob(src, id)
		return err
	})
	var damaged *ledger.DamageError
	switch {
	case errors.Is(err, record.ErrNoJob):
		return &refused{http.StatusNotFound, fmt.Sprintf("No bench has told of a job “%s”.", id)}
	case err != nil && !errors.As(err, &damaged):
		return err
	}
	p := jobPage{ID: j.ID, Customer: j.Customer, Released: j.Released, Lacks: j.Lacks}
	sample := "every tool inspected after the grind"
	if j.Sample < j.Quantity {
		sample = fmt.Sprintf("a sample of %d inspected after the grind", j.Sample)
	}
	p.What = plural(j.Quantity, "tool") + " received, " + sample
	if j.Reference != "" {
		p.What += "; their reference " + j.Reference
	}
	benches := map[string]bool{}
	for _, t := range j.Of {
		at := ""
		if b := t.State.Decided.Bench; b != "" {
			at = called(names, b)
			benches[at] = true
		}
		p.Tools = append(p.Tools, jobTool{t.Tool, link("/tool", t.Tool), t.State.Standing, t.Inspection, at, t.Lacks, t.Settled})
	}
	var at []string
	for b := range benches {
		at = append(at, b)
	}
	slices.Sort(at)
	p.Heading = j.Count()
	if len(at) > 0 {
		p.Heading += "; at " + strings.Join(at, ", ")
	}
	s.show(v, http.StatusOK, "Job "+j.ID, p.html)
	return nil
}
