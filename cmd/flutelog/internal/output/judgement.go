// Package output prints what several commands print alike: a judgement, how a tool stands and where that is in the
// ledger, in words and for a program.
package output

import (
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"
	"unicode/utf8"

	"flutelog/cmd/flutelog/internal/cautions"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
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
	verdict := mark.Verdict(a.Verdict)
	if a.Mark == words.ToGrind {
		verdict = mark.ToGrind
	}
	fmt.Fprintf(e.Stdout, "%s, %s: %s\n", in.ID, in.Stage.Words(), e.Marks().With(verdict, a.Verdict))
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

// Findings prints a line each, and under it how sure that is and why it is open. Where the table is wider than a terminal
// surely is, the limits stand under their figures.
func Findings(e command.Env, fs []words.Finding) {
	if len(fs) == 0 {
		return
	}
	lines := findingLines(e, fs, true)
	under := slices.ContainsFunc(lines, func(l string) bool { return utf8.RuneCountInString(l) > command.LineWidth+1 })
	if under {
		lines = findingLines(e, fs, false)
	}
	fmt.Fprint(e.Stdout, lines[0])
	for i, f := range fs {
		fmt.Fprint(e.Stdout, lines[i+1])
		if under && f.Limit != "" {
			Line(e, "  ", "limit "+f.Limit)
		}
		if f.Sure != "" {
			Line(e, "  ", f.Sure)
		}
		if f.Why != "" {
			Line(e, "  ", f.Why)
		}
	}
}

// findingLines is the table of findings, its heading first.
func findingLines(e command.Env, fs []words.Finding, limits bool) []string {
	var table strings.Builder
	w := tabwriter.NewWriter(&table, 0, 0, 2, ' ', 0)
	row := func(cells ...string) {
		if !limits {
			cells = cells[:len(cells)-1]
		}
		fmt.Fprintln(w, strings.Join(cells, "\t"))
	}
	row("verdict", "what", "flute", "value", "limit")
	for _, f := range fs {
		row(e.Marks().Cell(mark.Verdict(f.Verdict), f.Verdict), f.Name, f.Flute, f.Value, f.Limit)
	}
	w.Flush()
	return slices.Collect(strings.Lines(table.String()))
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
