package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/cautions"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// grindingCautions stand wherever the answer sends a person to the grinder.
var grindingCautions = cautionText("CAUTION at the grinder", cautions.Grinding)

func cautionText(title string, lines []string) string {
	var b strings.Builder
	fmt.Fprintln(&b, title)
	for _, line := range lines {
		const bullet, indent = "- ", "  "
		fmt.Fprintln(&b, bullet+wrapped(line, lineWidth-len(indent), indent))
	}
	return b.String()
}

// reportJudgement prints what an inspection came to and returns the status that it ends the command with.
func reportJudgement(e env, in inspect.Inspection, j inspect.Judgement, closed ledger.Record, unit length.Unit, asJSON bool) error {
	if asJSON {
		if err := printJSON(e, judgementJSON(in, j, closed, unit)); err != nil {
			return err
		}
	} else {
		printJudgement(e, in, j, unit)
		printHead(e, closed)
	}
	switch {
	case j.FallsShort(in.Stage):
		return outcome(statusFallsShort)
	case j.Open():
		return outcome(statusOpen)
	}
	return nil
}

func headOf(r ledger.Record) string {
	return ledger.Head{Bench: r.Bench, Seq: r.Seq, Hash: r.Hash}.String()
}

func printHead(e env, r ledger.Record) {
	fmt.Fprintf(e.stdout, "ledger: record %d, head %s\n", r.Seq, headOf(r))
}

// printJudgement prints the answer first, then the work, the figures, the likely cause and what to do.
func printJudgement(e env, in inspect.Inspection, j inspect.Judgement, unit length.Unit) {
	fmt.Fprintf(e.stdout, "\n%s\n\n", j.Answer)
	fmt.Fprintf(e.stdout, "%s, %s: %s\n", in.ID, in.Stage.Words(), verdictWords(in.Stage, j.Verdict))
	for _, w := range j.Work {
		fmt.Fprintf(e.stdout, "work: %s\n", w)
	}
	fmt.Fprintln(e.stdout)
	printFindings(e, j.Findings, unit)
	for _, f := range j.Unread {
		fmt.Fprintf(e.stdout, "not read: %s\n", f.Name())
	}
	for _, n := range j.Notes {
		fmt.Fprintf(e.stdout, "note: %s\n", n)
	}
	for _, c := range j.Causes {
		fmt.Fprintf(e.stdout, "likely cause (%s): %s\n", c.Feature.Name(), c.Try)
	}
	printGrind(e, j, unit)
	if cautions.AtGrinder(j) {
		fmt.Fprintf(e.stdout, "\n%s\n", grindingCautions)
	}
}

// verdictWords says what a verdict on the whole means at a stage.
func verdictWords(stage inspect.Stage, v inspect.Verdict) string {
	if stage == inspect.Before {
		switch v {
		case inspect.Accept:
			return "worth grinding"
		case inspect.Reject:
			return "not worth grinding"
		}
	}
	return string(v)
}

// printFindings prints a line each, and under it how sure that is and why it is open.
func printFindings(e env, fs []inspect.Finding, unit length.Unit) {
	if len(fs) == 0 {
		return
	}
	var table strings.Builder
	w := tabwriter.NewWriter(&table, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "verdict\twhat\tflute\tvalue\tlimit")
	for _, f := range fs {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", f.Verdict, f.Name, flute(f.Flute), quantity(f.Value, unit), limits(f, unit))
	}
	w.Flush()
	lines := strings.SplitAfter(table.String(), "\n")
	fmt.Fprint(e.stdout, lines[0])
	for i, f := range fs {
		fmt.Fprint(e.stdout, lines[i+1])
		const indent = "  "
		if f.Uncertainty != nil {
			fmt.Fprintf(e.stdout, indent+"± %s (95 %%), conforms with %s, %s rule\n", quantity(f.Uncertainty, unit), probability(f.Probability), f.Rule)
		}
		if f.Verdict == inspect.Undecided || f.Verdict == inspect.NotJudged {
			fmt.Fprintln(e.stdout, indent+wrapped(f.Reason, lineWidth-len(indent), indent))
		}
	}
}

func flute(n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprint(n)
}

func quantity(q *inspect.Quantity, unit length.Unit) string {
	if q == nil {
		return "-"
	}
	return q.In(unit)
}

func limits(f inspect.Finding, unit length.Unit) string {
	if f.Least == nil && f.Most == nil {
		return "-"
	}
	text := func(q *inspect.Quantity) string {
		if q == nil {
			return ""
		}
		return q.In(unit)
	}
	return span(text(f.Least), text(f.Most))
}

func probability(p *float64) string {
	if p == nil {
		return "-"
	}
	return fmt.Sprintf("%.1f %%", *p*100)
}

func printGrind(e env, j inspect.Judgement, unit length.Unit) {
	g := j.Plan
	if g == nil {
		return
	}
	fmt.Fprintln(e.stdout, "\nthe grind")
	if !strings.Contains(j.Answer, g.Words) {
		fmt.Fprintf(e.stdout, "  %s\n", g.Words)
	}
	fmt.Fprintf(e.stdout, "  infeed %s: %d divisions of the feed dial at %s\n", g.Infeed.In(unit), g.Divisions, g.Division.In(unit))
	fmt.Fprintf(e.stdout, "  the last division that leaves the primary at or under the half: %d\n", g.LastWithoutSecondary)
	if g.DiameterAfter != nil {
		fmt.Fprintf(e.stdout, "  diameter left: %s\n", g.DiameterAfter.In(unit))
	}
	if g.RegrindsLeft != nil {
		fmt.Fprintf(e.stdout, "  regrinds left after this one: %d\n", *g.RegrindsLeft)
	}
	if g.SecondaryInfeed != nil {
		fmt.Fprintf(e.stdout, "  secondary infeed that brings the primary back to a quarter: %s\n", g.SecondaryInfeed.In(unit))
	}
	if len(g.Assumed) > 0 {
		fmt.Fprintf(e.stdout, "  assumed: %s\n", strings.Join(g.Assumed, "; "))
	}
}
