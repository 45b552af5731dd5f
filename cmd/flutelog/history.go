package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
)

func historyCommand() command.Command {
	var p command.Places
	var u command.Units
	return command.Command{
		Name: "history", Args: "TOOL",
		Summary: "how a tool stands and its life: diameter, land, run-out, stock removed and regrinds, oldest first",
		Example: "history EM-0412",
		Flags:   func(f *command.Flags) { p.Flags(f); u.Flags(f) },
		Run: func(e command.Env, f *command.Flags) error {
			return command.Paged(e, func(e command.Env) error { return history(e, f.Args[0], &p, &u) })
		},
	}
}

// history prints a tool's life. What can be read of a damaged one is printed, and the command fails: it is not all.
func history(e command.Env, id string, p *command.Places, u *command.Units) error {
	at, err := p.OpenIn(e, u)
	if err != nil {
		return err
	}
	if err := command.AskElsewhere(e, at.Ledger, record.ToolSubject(id)); err != nil {
		return err
	}
	t, err := record.FindTool(at.Ledger, id)
	var d *ledger.DamageError
	if err != nil && !errors.As(err, &d) {
		return err
	}
	if u.JSON {
		err = errors.Join(err, command.PrintJSON(e, historyJSON(t, at.Unit)))
	} else {
		err = errors.Join(err, printHistory(e, t, at.Unit))
	}
	if d != nil {
		return command.Hint(err, "flutelog ledger verify names every place; what is above is not all")
	}
	return err
}

// historyJSON is a tool's life for a program: figures are numbers, lengths in the unit in force.
func historyJSON(t record.Tool, unit length.Unit) any {
	type entry struct {
		Inspection string             `json:"inspection"`
		Stage      inspect.Stage      `json:"stage"`
		Closed     string             `json:"closed"`
		Verdict    inspect.Verdict    `json:"verdict"`
		Work       []inspect.Task     `json:"work"`
		Corrected  bool               `json:"corrected"`
		Practice   bool               `json:"practice,omitempty"`
		Ruling     *output.RulingJSON `json:"ruling"`
		TIR        *length.Number     `json:"tir"`
		Share      *length.Number     `json:"primary_share"`
		Diameter   *length.Number     `json:"diameter"`
		Removed    *length.Number     `json:"stock_removed"` // off the diameter
		Regrind    int                `json:"regrind"`
		Told       bool               `json:"told,omitempty"` // it is a register's word
	}
	number := func(q *inspect.Quantity) *length.Number {
		if q == nil {
			return nil
		}
		n := q.Number(unit)
		return &n
	}
	entries := []entry{}
	for _, h := range t.Inspections {
		one := entry{
			Inspection: h.Inspection, Stage: h.Stage, Closed: h.Closed, Verdict: h.Verdict, Work: h.Work, Corrected: h.Corrected, Practice: h.Practice,
			TIR: number(h.TIR), Share: number(h.Share), Diameter: number(h.Diameter), Regrind: h.Regrind, Told: h.Told,
		}
		if h.Removed != nil {
			n := h.Removed.Number(unit)
			one.Removed = &n
		}
		if h.Ruling != nil {
			one.Ruling = &output.RulingJSON{Ruling: h.Ruling.Word, By: h.Ruling.By, Why: h.Ruling.Why, At: h.Ruling.At}
		}
		entries = append(entries, one)
	}
	return struct {
		Tool     string          `json:"tool"`
		Standing record.Standing `json:"standing"`
		Lacks    string          `json:"lacks,omitempty"`
		Unit     length.Unit     `json:"unit"`
		History  []entry         `json:"history"`

		Elsewhere *output.ElsewhereJSON `json:"elsewhere,omitempty"`
	}{t.ID, t.Standing, t.Lacks(), unit, entries, output.NewElsewhereJSON(t.State)}
}

func printHistory(e command.Env, t record.Tool, unit length.Unit) error {
	fmt.Fprintln(e.Stdout, output.StandingLine(e, t.State))
	if words := t.Elsewhere.Words(); words != "" {
		fmt.Fprintln(e.Stdout, "elsewhere: "+words)
	}
	counted := fmt.Sprintf("%d inspections", len(t.Inspections))
	if len(t.Inspections) == 1 {
		counted = "1 inspection"
	}
	fmt.Fprintf(e.Stdout, "%s: %s, %d flutes, %s; %s\n\n", t.ID, t.Diameter.In(unit), t.Flutes, t.Material, counted)
	if len(t.Inspections) == 0 {
		return nil
	}
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "inspection\tclosed\tstage\tverdict\tTIR\tprimary share\tdiameter\tremoved\tregrinds\truling")
	for _, h := range t.Inspections {
		removed, ruling, verdict := "-", "-", e.Marks().Cell(mark.Verdict(h.Verdict), string(h.Verdict))
		if h.Removed != nil {
			removed = h.Removed.In(unit)
		}
		if h.Ruling != nil {
			ruling = e.Marks().With(mark.Ruling(h.Ruling.Word), string(h.Ruling.Word)) + " by " + h.Ruling.By
		}
		if h.Corrected {
			verdict += ", " + e.Marks().With(mark.Corrected, "corrected")
		}
		if h.Practice {
			verdict += ", " + e.Marks().With(mark.Invented, "PRACTICE")
		}
		if h.Told {
			verdict += ", at " + h.Where + " by the register's word"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%d\t%s\n", t.Named(h.Inspection, h.Bench), output.Day(h.Closed), h.Stage, verdict,
			output.Quantity(h.TIR, unit), output.Quantity(h.Share, unit), output.Quantity(h.Diameter, unit), removed, h.Regrind, ruling)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for _, n := range t.Notes {
		fmt.Fprintf(e.Stdout, "note, %s: %s\n", output.Day(n.At), n.Text)
	}
	printDiameters(e, t, unit)
	return nil
}

// chartWidth is the width of the small chart of a tool's diameters.
const chartWidth = 40

// printDiameters draws the diameters of a tool's life between its smallest and its nominal one.
func printDiameters(e command.Env, t record.Tool, unit length.Unit) {
	low, high := inspect.DefaultLimits(t.Tool)[inspect.Diameter].Least.Length(), t.Diameter
	hs := slices.DeleteFunc(slices.Clone(t.Inspections), func(h record.Life) bool { return h.Diameter == nil || h.Practice })
	if len(hs) == 0 {
		return
	}
	for _, h := range hs {
		low, high = min(low, h.Diameter.Length()), max(high, h.Diameter.Length())
	}
	fmt.Fprintf(e.Stdout, "\ndiameter left, from %s to %s\n", low.In(unit), high.In(unit))
	for _, h := range hs {
		at := int((h.Diameter.Length() - low) * (chartWidth - 1) / (high - low))
		fmt.Fprintf(e.Stdout, "  |%s*%s| %s  %s, %s\n", strings.Repeat("-", at), strings.Repeat(" ", chartWidth-1-at), h.Diameter.Length().In(unit), h.Inspection, h.Stage)
	}
}
