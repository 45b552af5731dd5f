package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/cautions"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
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
	return judgementStatus(j)
}

// judgementStatus is how a command ends by what an inspection calls for.
func judgementStatus(j inspect.Judgement) error {
	switch j.Outcome() {
	case inspect.FallsShort:
		return statusFallsShort
	case inspect.Open:
		return statusOpen
	}
	return nil
}

func headOf(r ledger.Record) string {
	return ledger.Head{Bench: r.Bench, Seq: r.Seq, Hash: r.Hash}.String()
}

func printHead(e env, r ledger.Record) {
	fmt.Fprintf(e.stdout, "ledger: record %d, head %s\n", r.Seq, headOf(r))
}

// printJudgement prints what is open first, then the answer, the work, the figures, the likely cause and what to do.
func printJudgement(e env, in inspect.Inspection, j inspect.Judgement, unit length.Unit) {
	a := words.Of(in, j, unit)
	fmt.Fprintln(e.stdout)
	printLine(e, "", a.Headline)
	fmt.Fprintln(e.stdout)
	for _, open := range a.Open {
		printLine(e, "open: ", open)
	}
	if a.NotAsked != "" {
		printLine(e, "not read at this bench: ", a.NotAsked)
	}
	fmt.Fprintf(e.stdout, "%s, %s: %s\n", in.ID, in.Stage.Words(), a.Verdict)
	for i, w := range a.Work {
		if i == 0 {
			w.Why = "" // the headline and what is open say it
		}
		printLine(e, "work: ", w.String())
	}
	fmt.Fprintln(e.stdout)
	printFindings(e, a.Findings)
	if a.Held != "" {
		printLine(e, "run-out: ", a.Held)
	}
	for _, n := range a.Notes {
		printLine(e, "note: ", n)
	}
	for _, c := range a.Causes {
		printLine(e, "likely cause, ", c)
	}
	for i, s := range a.Steps {
		printLine(e, fmt.Sprintf("step %d: ", i+1), s)
	}
	if len(a.Plan) > 0 {
		fmt.Fprintln(e.stdout, "\nthe grind")
		for _, f := range a.Plan {
			printLine(e, "  ", strings.ToLower(f.Name[:1])+f.Name[1:]+": "+f.Value)
		}
	}
	if j.ToGrinder() {
		fmt.Fprintf(e.stdout, "\n%s\n", grindingCautions)
	}
}

// printLine prints a text of any length after a word that says what it is; its further lines stand in.
func printLine(e env, before, text string) {
	const indent = "  "
	if before == indent {
		fmt.Fprintln(e.stdout, indent+wrapped(text, lineWidth-len(indent), indent))
		return
	}
	fmt.Fprintln(e.stdout, wrapped(before+text, lineWidth, indent))
}

// printFindings prints a line each, and under it how sure that is and why it is open.
func printFindings(e env, fs []words.Finding) {
	if len(fs) == 0 {
		return
	}
	var table strings.Builder
	w := tabwriter.NewWriter(&table, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "verdict\twhat\tflute\tvalue\tlimit")
	for _, f := range fs {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", f.Verdict, f.Name, f.Flute, f.Value, f.Limit)
	}
	w.Flush()
	lines := strings.SplitAfter(table.String(), "\n")
	fmt.Fprint(e.stdout, lines[0])
	for i, f := range fs {
		fmt.Fprint(e.stdout, lines[i+1])
		if f.Sure != "" {
			printLine(e, "  ", f.Sure)
		}
		if f.Why != "" {
			printLine(e, "  ", f.Why)
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
