package board

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
)

// Choice is what a number on the board opens: a tool's card, or a job.
type Choice struct{ Tool, Job string }

// Head is what stands above the board.
type Head struct {
	Bench string
	Now   time.Time // in the bench's own zone
	Unit  length.Unit
	Marks mark.Console

	Register string // how the sending to the register stands; "" for none
}

// A section is a heading with lines below it.
type section struct {
	heading string
	lines   []line
}

type line struct {
	text   string
	choice Choice
}

// sections returns all that a board shows, what must not be used first.
func (b Board) sections(marks mark.Console) []section {
	widest := utf8.RuneCountInString(marks.Cell(mark.ToInspect, string(record.StandsToInspect)))
	row := func(id string, m mark.Mark, word, words string) string {
		return fmt.Sprintf("%-10s %-*s %s", text.Show(id), widest, marks.Cell(m, word), text.Show(words))
	}
	var stop, next section
	stop.heading, next.heading = "NOT TO BE USED", "NEXT ON THE BENCH"
	half := section{heading: "HALF READ"}
	for _, o := range b.Open {
		words := fmt.Sprintf("%s: %d of %d read", o.Inspection, o.Answered, o.Of)
		half.lines = append(half.lines, line{row(o.Tool, mark.Half, string(o.Stage), words), Choice{Tool: o.Tool}})
	}
	for _, w := range b.Waiting {
		s := &next
		if !w.Standing.Stops() && slices.ContainsFunc(b.Open, func(o Open) bool { return o.Tool == w.Tool }) {
			continue // it stands among the half read
		}
		name := string(w.Standing)
		if w.Standing.Stops() {
			s, name = &stop, strings.ToUpper(name)
		}
		words := w.What
		if w.Since != "" {
			words += ", " + day(w.Since)
		}
		s.lines = append(s.lines, line{row(w.Tool, mark.Standing(w.Standing), name, words), Choice{Tool: w.Tool}})
	}
	jobs := section{heading: "JOBS"}
	for _, j := range b.Jobs {
		words := j.Count
		if len(j.Lacks) > 0 {
			var ids []string
			for _, t := range j.Lacks {
				ids = append(ids, t.Tool)
			}
			words += "; lacks " + strings.Join(ids, ", ")
		}
		jobs.lines = append(jobs.lines, line{fmt.Sprintf("%-10s %s", text.Show(j.Job), text.Show(words)), Choice{Job: j.Job}})
	}
	gauges := section{heading: "GAUGES"}
	for _, g := range b.Gauges {
		gauges.lines = append(gauges.lines, line{text: fmt.Sprintf("%-10s %s", text.Show(g.Name), marks.With(mark.Due, text.Show(g.Words())))})
	}
	var all []section
	for _, s := range []section{stop, half, next, jobs, gauges} {
		if len(s.lines) > 0 {
			all = append(all, s)
		}
	}
	return all
}

// Words say when the calibration of a gauge is due.
func (g Due) Words() string {
	switch {
	case g.days < 0:
		return fmt.Sprintf("calibration was due %d days ago, %s", -g.days, g.Due)
	case g.days == 0:
		return "calibration due today"
	}
	return fmt.Sprintf("calibration due in %d days, %s", g.days, g.Due)
}

func day(stamp string) string {
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return stamp
	}
	return t.Local().Format("2 Jan")
}

func (w Week) words() string {
	return fmt.Sprintf("7 days: %d released, %d conceded, %d out of use, %d to grind, %d other",
		w.Released, w.Conceded, w.Withdrawn, w.ToGrind, w.Other)
}

// Text is the whole board as lines, for a pipe: nothing is left out.
func (b Board) Text(h Head) []string {
	lines := []string{h.line(76), ""}
	for _, s := range b.sections(h.Marks) {
		lines = append(lines, s.heading)
		for _, l := range s.lines {
			lines = append(lines, "  "+l.text)
		}
	}
	if b.Empty {
		lines = append(lines, "Nothing is on record here yet. flutelog tool add adds the first tool.")
	} else if len(lines) == 2 {
		lines = append(lines, "Nothing waits.")
	}
	lines = append(lines, "", b.Week.words())
	if h.Register != "" {
		lines = append(lines, h.Register)
	}
	return lines
}

func (h Head) line(width int) string {
	left := "FLUTELOG   " + text.Show(h.Bench)
	right := h.Now.Format("Mon 2 Jan 2006  15:04") + "   " + string(h.Unit)
	return left + strings.Repeat(" ", max(width-len([]rune(left))-len([]rune(right)), 2)) + right
}

// rule is a line across.
func rule(c string, width int) string { return strings.Repeat(c, width) }

// Draw returns the board as a screen of height lines of at most width columns, without its first skip entries, with what
// each number opens. Next is how many to skip for the screen behind this one, 0 where this is the last.
func (b Board) Draw(h Head, skip, width, height int) (lines []string, choices []Choice, next int) {
	w := width - 3
	lines = []string{" " + h.line(w), " " + rule("-", w)}
	foot := []string{
		" " + rule("-", w),
		" " + cut(b.Week.words(), w),
		" Scan a tag, type a tool's number or part of it, or a number from the list.",
		" m more   f WORDS find   a ID add a tool   ? help   q leave",
	}
	if h.Register != "" {
		foot = slices.Insert(foot, 2, " "+cut(h.Register, w))
	}
	room := height - 1 - len(lines) - len(foot)
	entry, shown, more := 0, 0, 0
	for _, s := range b.sections(h.Marks) {
		headed := false
		for _, l := range s.lines {
			numbered := l.choice != (Choice{})
			if numbered {
				choices = append(choices, l.choice)
			}
			entry++
			if entry <= skip {
				continue
			}
			need := 1
			if !headed {
				need = 2
			}
			// The last line of the room is kept for what stands behind.
			if more > 0 || shown+need > room-1 {
				more++
				continue
			}
			if !headed {
				lines, headed = append(lines, " "+s.heading), true
			}
			number := "   "
			if numbered {
				number = fmt.Sprintf("%3d", len(choices))
			}
			lines = append(lines, cut(" "+number+"  "+l.text, width-1))
			shown += need
		}
	}
	if more > 0 {
		lines = append(lines, cut(fmt.Sprintf("      and %d more: m shows them", more), width-1))
	}
	if len(choices) == 0 && shown == 0 {
		lines = append(lines, "", " Nothing waits.")
	}
	for len(lines) < height-1-len(foot) {
		lines = append(lines, "")
	}
	if more > 0 {
		next = entry - more
	}
	return append(lines, foot...), choices, next
}

// cut shortens a line to what fits, and shows that it did.
func cut(s string, width int) string {
	r := []rune(s)
	if len(r) <= width {
		return s
	}
	return string(r[:max(width-2, 0)]) + ".."
}

// First is what Enter opens: the first inspection that is half read, else the first tool that may be worked on.
func (b Board) First(choices []Choice) Choice {
	if len(b.Open) > 0 {
		return Choice{Tool: b.Open[0].Tool}
	}
	for _, w := range b.Waiting {
		if !w.Standing.Stops() {
			return Choice{Tool: w.Tool}
		}
	}
	return choices[0]
}

// FirstRun is the board of a ledger that holds no tool.
func FirstRun(h Head, folder string, width, height int) []string {
	w := width - 3
	lines := []string{
		" " + h.line(w), " " + rule("-", w),
		" Nothing is on record here yet.", "",
		cut("   folder   "+text.Show(folder), w), "",
		" What do you want to do?", "",
		"   a ID                     add the first tool; its size is asked then",
		"   flutelog bench start     set up this bench by questions",
		"   flutelog demo            see the whole job once, invented, apart",
		"   flutelog gauge listen    try a gauge: see what comes", "",
		" Records from another bench, or an old folder?  --ledger FOLDER or",
		" FLUTELOG_LEDGER says where they are, before anything new is begun.",
	}
	foot := []string{
		" " + rule("-", w),
		" CAUTION  This program helps to read and to decide. It does not make a grinder",
		" safe. Local codes, the machine's own instructions and qualified practice first.",
		" ? help   q leave",
	}
	for i, l := range lines {
		lines[i] = cut(l, width-1)
	}
	for len(lines) < height-1-len(foot) {
		lines = append(lines, "")
	}
	return append(lines, foot...)
}
