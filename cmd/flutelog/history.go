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

func history(e env, id string, p *places, u *units) error {
	at, err := p.openIn(e, u)
	if err != nil {
		return err
	}
	tool, err := session.FindTool(at.Ledger, id)
	if err != nil {
		return err
	}
	all, err := session.Inspections(at.Ledger, id, 0)
	if err := damaged(e, err); err != nil {
		return err
	}
	hs := session.Lives(all)
	if u.json {
		return printJSON(e, map[string]any{"tool": tool, "history": hs})
	}
	return printHistory(e, tool, hs, at.unit)
}

func printHistory(e env, tool inspect.Tool, hs []session.Life, unit length.Unit) error {
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
func printDiameters(e env, tool inspect.Tool, hs []session.Life, unit length.Unit) {
	low, high := inspect.DefaultLimits(tool)[inspect.Diameter].Least.Length(), tool.Diameter
	hs = slices.DeleteFunc(slices.Clone(hs), func(h session.Life) bool { return h.Diameter == nil })
	if len(hs) == 0 {
		return
	}
	for _, h := range hs {
		low, high = min(low, h.Diameter.Length()), max(high, h.Diameter.Length())
	}
	fmt.Fprintf(e.stdout, "\ndiameter left, from %s to %s\n", low.In(unit), high.In(unit))
	for _, h := range hs {
		at := int((h.Diameter.Length() - low) * (chartWidth - 1) / (high - low))
		fmt.Fprintf(e.stdout, "  |%s*%s| %s  %s, %s\n", strings.Repeat("-", at), strings.Repeat(" ", chartWidth-1-at), h.Diameter.Length().In(unit), h.Inspection, h.Stage)
	}
}
