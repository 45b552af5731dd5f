// Package output prints what several commands print alike: a judgement, how a tool stands and where that is in the
// ledger, in words and for a program.
package output

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/cautions"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// GrindingCautions stand wherever the answer sends a person to the grinder.
var GrindingCautions = cautionText("CAUTION at the grinder", cautions.Grinding)

func cautionText(title string, lines []string) string {
	var b strings.Builder
	fmt.Fprintln(&b, title)
	for _, line := range lines {
		const bullet, indent = "- ", "  "
		fmt.Fprintln(&b, bullet+command.Wrapped(line, command.LineWidth-len(indent), indent))
	}
	return b.String()
}

// ReportJudgement prints what an inspection came to and returns the status that it ends the command with.
func ReportJudgement(e command.Env, in inspect.Inspection, j inspect.Judgement, closed ledger.Record, unit length.Unit, asJSON bool) error {
	if asJSON {
		if err := command.PrintJSON(e, judgementJSON(in, j, closed, unit)); err != nil {
			return err
		}
	} else {
		Judgement(e, in, j, unit)
		Head(e, closed)
	}
	return judgementStatus(j)
}

// judgementStatus is how a command ends by what an inspection calls for.
func judgementStatus(j inspect.Judgement) error {
	switch j.Outcome() {
	case inspect.FallsShort:
		return command.StatusFallsShort
	case inspect.Open:
		return command.StatusOpen
	}
	return nil
}

func Head(e command.Env, r ledger.Record) {
	fmt.Fprintf(e.Stdout, "ledger: record %d, head %s\n", r.Seq, r.Head().String())
}

// Judgement prints what is open first, then the answer, the work, the figures, the likely cause and what to do.
func Judgement(e command.Env, in inspect.Inspection, j inspect.Judgement, unit length.Unit) {
	a := words.Of(in, j, unit)
	fmt.Fprintln(e.Stdout)
	Line(e, "", a.Headline)
	fmt.Fprintln(e.Stdout)
	for _, open := range a.Open {
		Line(e, "open: ", open)
	}
	if a.NotAsked != "" {
		Line(e, "not read at this bench: ", a.NotAsked)
	}
	fmt.Fprintf(e.Stdout, "%s, %s: %s\n", in.ID, in.Stage.Words(), a.Verdict)
	for i, w := range a.Work {
		if i == 0 {
			w.Why = "" // the headline and what is open say it
		}
		Line(e, "work: ", w.String())
	}
	fmt.Fprintln(e.Stdout)
	Findings(e, a.Findings)
	if a.Held != "" {
		Line(e, "run-out: ", a.Held)
	}
	for _, n := range a.Notes {
		Line(e, "note: ", n)
	}
	for _, c := range a.Causes {
		Line(e, "likely cause, ", c)
	}
	for i, s := range a.Steps {
		Line(e, fmt.Sprintf("step %d: ", i+1), s)
	}
	if len(a.Plan) > 0 {
		fmt.Fprintln(e.Stdout, "\nthe grind")
		for _, f := range a.Plan {
			Line(e, "  ", strings.ToLower(f.Name[:1])+f.Name[1:]+": "+f.Value)
		}
	}
	if j.ToGrinder() {
		fmt.Fprintf(e.Stdout, "\n%s\n", GrindingCautions)
	}
}

// Line prints a text of any length after a word that says what it is; its further lines stand in.
func Line(e command.Env, before, text string) {
	const indent = "  "
	if before == indent {
		fmt.Fprintln(e.Stdout, indent+command.Wrapped(text, command.LineWidth-len(indent), indent))
		return
	}
	fmt.Fprintln(e.Stdout, command.Wrapped(before+text, command.LineWidth, indent))
}

// Findings prints a line each, and under it how sure that is and why it is open.
func Findings(e command.Env, fs []words.Finding) {
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
	fmt.Fprint(e.Stdout, lines[0])
	for i, f := range fs {
		fmt.Fprint(e.Stdout, lines[i+1])
		if f.Sure != "" {
			Line(e, "  ", f.Sure)
		}
		if f.Why != "" {
			Line(e, "  ", f.Why)
		}
	}
}

func Flute(n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprint(n)
}

func Quantity(q *inspect.Quantity, unit length.Unit) string {
	if q == nil {
		return "-"
	}
	return q.In(unit)
}
