package main

import (
	"errors"
	"fmt"
	"text/tabwriter"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/session"
)

func showCommand() command {
	var p places
	var u units
	return command{
		name: "show", args: "INSPECTION",
		summary: "show a closed inspection: what was read, what it came to, and its place in the ledger",
		example: "show EM-0412.1",
		flags:   func(f *flags) { p.flags(f); u.flags(f) },
		run:     func(e env, f *flags) error { return show(e, f.args[0], &p, &u) },
	}
}

func show(e env, id string, p *places, u *units) error {
	at, err := p.openIn(e, u)
	if err != nil {
		return err
	}
	s, err := session.StandingOf(at.Ledger, id)
	if err != nil {
		return err
	}
	if u.json {
		return printJSON(e, struct {
			session.Summary
			Corrections []session.Correction `json:"corrections,omitempty"`
			Decision    *session.Decision    `json:"decision,omitempty"`
			Sequence    uint64               `json:"sequence"`
			Head        string               `json:"head"`
		}{s.Summary, s.Corrections, s.Decision, s.Record.Seq, headOf(s.Record)})
	}
	printInspection(e, s.Closed, at.unit)
	printJudgement(e, s.Inspection, s.Judgement(), at.unit)
	for _, c := range s.Corrections {
		fmt.Fprintf(e.stdout, "corrected %s by %s: %s is %s: %s\n", c.At, c.By, c.Reading.Key(), c.Reading.Value.In(at.unit), c.Why)
	}
	if s.Decision != nil {
		fmt.Fprintf(e.stdout, "decided %s: %s\n", s.Decision.At, s)
	}
	return printReadings(e, s.Inspection, at.unit, s.Record)
}

func printInspection(e env, c session.Closed, unit length.Unit) {
	in := c.Inspection
	printTool(e.stdout, in.Tool, unit)
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	row := func(name, value string) {
		if value != "" {
			fmt.Fprintf(w, "%s\t%s\n", name, value)
		}
	}
	row("inspection", in.ID)
	row("stage", string(in.Stage))
	row("job", in.Job)
	row("inspector", in.Inspector)
	row("held in", string(in.Holding))
	row("opened", c.Opened)
	row("closed", c.Closed+clockNote(c.Record.Time))
	row("judged by", in.Basis.Revision)
	row("given up", c.Discarded)
	for _, s := range c.Skipped {
		row("left out", s.Question.Text(unit)+": "+s.Reason)
	}
	w.Flush()
}

// clockNote says where a time cannot be trusted.
func clockNote(t ledger.Time) string {
	if t.Synchronised {
		return ""
	}
	return " (clock not set by a reference)"
}

func printReadings(e env, in inspect.Inspection, unit length.Unit, r ledger.Record) error {
	fmt.Fprintln(e.stdout)
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	for _, s := range in.Seen {
		answer := "no"
		if s.Yes {
			answer = "YES"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", s.Sight.Question(), answer, s.Note)
	}
	w.Flush()
	w = tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "feature\tflute\tfrom end\trepeat\tvalue\tas read\tgauge\tat")
	for _, d := range in.Readings {
		from, repeat := "-", fmt.Sprint(d.Repeat)
		if d.FromEnd != nil {
			from = d.FromEnd.In(unit)
		}
		if d.Closing {
			repeat = "closing"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s %s\t%s\t%s\n", d.Feature, flute(d.Flute), from, repeat, d.Value.In(unit), d.Text, d.Unit, d.Gauge, d.At)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	printHead(e, r)
	return nil
}

// damaged splits what was read of a damaged ledger from an error that stops the work.
func damaged(e env, err error) error {
	var d *ledger.DamageError
	if errors.As(err, &d) {
		fmt.Fprintf(e.stderr, "flutelog: %v\nflutelog: hint: flutelog ledger verify names every place\n", d)
		return nil
	}
	return err
}
