package main

import (
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/session"
)

func historyCommand() command {
	var p places
	var u units
	return command{
		name: "history", args: "TOOL",
		summary: "a tool's life: diameter, land, run-out, stock removed and regrinds, oldest first",
		example: "history EM-0412",
		flags:   func(f *flags) { p.flags(f); u.flags(f) },
		run:     func(e env, f *flags) error { return history(e, f.args[0], &p, &u) },
	}
}

// life is one inspection in a tool's history.
type life struct {
	Inspection string            `json:"inspection"`
	Stage      inspect.Stage     `json:"stage"`
	Closed     string            `json:"closed"`
	Verdict    inspect.Verdict   `json:"verdict"`
	Answer     string            `json:"answer"`
	TIR        *inspect.Quantity `json:"tir,omitempty"`
	Share      *inspect.Quantity `json:"primary_share,omitempty"`
	Diameter   *inspect.Quantity `json:"diameter,omitempty"`
	Removed    *length.Length    `json:"stock_removed,omitempty"` // off the diameter since the last one read
	Regrind    int               `json:"regrind"`                 // tools released after a grind so far

	diameter length.Length
}

// lives turns a tool's closed inspections, newest first, into its history, oldest first.
func lives(all []session.Closed) []life {
	var out []life
	var last length.Length
	regrinds := 0
	for _, c := range slices.Backward(all) {
		if c.Discarded != "" {
			continue
		}
		h := life{Inspection: c.Inspection.ID, Stage: c.Inspection.Stage, Closed: c.Closed, Verdict: c.Judgement.Verdict, Answer: c.Judgement.Answer}
		for _, f := range c.Judgement.Findings {
			switch f.Feature {
			case inspect.RadialRunout:
				h.TIR = f.Value
			case inspect.PrimaryLand:
				h.Share = f.Value
			case inspect.Diameter, inspect.Master:
				h.Diameter = f.Value
			}
		}
		if h.Diameter != nil {
			h.diameter = h.Diameter.Length()
			if last > 0 {
				removed := last - h.diameter
				h.Removed = &removed
			}
			last = h.diameter
		}
		if slices.ContainsFunc(c.Judgement.Work, func(w inspect.Work) bool { return w.What == inspect.Release }) {
			regrinds++
		}
		h.Regrind = regrinds
		out = append(out, h)
	}
	return out
}

func history(e env, id string, p *places, u *units) error {
	b, l, err := p.open(e)
	if err != nil {
		return err
	}
	unit, err := u.unitOr(b.Unit)
	if err != nil {
		return err
	}
	tool, err := session.FindTool(l, id)
	if err != nil {
		return err
	}
	all, err := session.Inspections(l, id, 0)
	if err := damaged(e, err); err != nil {
		return err
	}
	hs := lives(all)
	if u.json {
		return printJSON(e, map[string]any{"tool": tool, "history": hs})
	}
	return printHistory(e, tool, hs, unit)
}

func printHistory(e env, tool inspect.Tool, hs []life, unit length.Unit) error {
	fmt.Fprintf(e.stdout, "%s: %s, %d flutes, %s; %d inspections\n\n", tool.ID, tool.Diameter.In(unit), tool.Flutes, tool.Material, len(hs))
	if len(hs) == 0 {
		return nil
	}
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "inspection\tclosed\tstage\tverdict\tTIR\tprimary share\tdiameter\tremoved\tregrinds")
	for _, h := range hs {
		removed := "-"
		if h.Removed != nil {
			removed = h.Removed.In(unit)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%d\n", h.Inspection, sheetDay(h.Closed), h.Stage, h.Verdict,
			quantity(h.TIR, unit), quantity(h.Share, unit), quantity(h.Diameter, unit), removed, h.Regrind)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	printDiameters(e, tool, hs, unit)
	return nil
}

func sheetDay(stamp string) string { return stamp[:min(len(stamp), 10)] }

// chartWidth is the width of the small chart of a tool's diameters.
const chartWidth = 40

// printDiameters draws the diameters of a tool's life between its smallest and its nominal one.
func printDiameters(e env, tool inspect.Tool, hs []life, unit length.Unit) {
	low, high := *inspect.DefaultLimits(tool).Diameter.Least, tool.Diameter
	hs = slices.DeleteFunc(slices.Clone(hs), func(h life) bool { return h.Diameter == nil })
	if len(hs) == 0 {
		return
	}
	for _, h := range hs {
		low, high = min(low, h.diameter), max(high, h.diameter)
	}
	fmt.Fprintf(e.stdout, "\ndiameter left, from %s to %s\n", low.In(unit), high.In(unit))
	for _, h := range hs {
		at := int((h.diameter - low) * (chartWidth - 1) / (high - low))
		fmt.Fprintf(e.stdout, "  |%s*%s| %s  %s, %s\n", strings.Repeat("-", at), strings.Repeat(" ", chartWidth-1-at), h.diameter.In(unit), h.Inspection, h.Stage)
	}
}
