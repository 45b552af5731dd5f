// Package words puts a judgement into words, in the unit of the person who reads it. It is the one place that does:
// terminal, page, sheet, tag, CSV and JSON all show the Answer that Of returns, so that no two of them differ. Nothing
// is read back out of words.
package words

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Answer is a judgement in words.
type Answer struct {
	Headline string   // the work that comes first, where, and the figure that decided
	Verdict  string   // of the whole: worth grinding, accept, …
	Mark     Mark     // the same as a shape
	Open     []string // what is open, one line each: what was not looked at or read first, then what cannot be decided
	NotAsked string   // what this bench does not read, "" for nothing
	Work     []Work   // all the work, most urgent first
	Steps    []string // the same as it is done
	Findings []Finding
	Causes   []string
	Notes    []string
	Plan     []Fact // the grind worked out
	Held     string // where it bears on the answer, how the tool was held
}

// Mark is the shape that stands beside a verdict, so that it is told without colour.
type Mark string

const (
	Conforms  Mark = "accept"
	Rejected  Mark = "reject"
	Undecided Mark = "undecided"
	Unjudged  Mark = "unjudged"
	ToGrind   Mark = "work"
)

// Work is one thing to be done, in words.
type Work struct{ What, Where, Why string }

// String returns the work as one line: grind primary (flutes): flute 2 …
func (w Work) String() string {
	s := w.What
	if w.Where != "" {
		s += " (" + w.Where + ")"
	}
	if w.Why != "" {
		s += ": " + w.Why
	}
	return s
}

// Finding is one figure in words.
type Finding struct {
	Verdict, Name, Flute, Value, Limit string // Flute is "-" where none decides
	Sure                               string // how sure the figure is, "" where that is not known
	Why                                string // why the verdict is not plain, "" where figure and limit say all
	Reason                             string // all of it as one clause
}

// Fact is a name with a value.
type Fact struct{ Name, Value string }

// Of puts a judgement of an inspection into words, with lengths in the unit given.
func Of(in inspect.Inspection, j inspect.Judgement, unit length.Unit) Answer {
	t := teller{in: in, j: j, unit: unit}
	a := Answer{
		Headline: t.headline(), Verdict: string(j.Verdict), Mark: mark(j), Open: t.open(), NotAsked: items(j.NotAsked),
		Plan: t.plan(), Held: t.held(),
	}
	for _, s := range j.Steps {
		a.Steps = append(a.Steps, t.step(s))
	}
	for _, w := range j.Work {
		a.Work = append(a.Work, Work{string(w.What), string(w.Where), t.why(w)})
	}
	for _, f := range j.Findings {
		a.Findings = append(a.Findings, t.finding(f))
	}
	for _, c := range j.Causes {
		a.Causes = append(a.Causes, t.cause(c))
	}
	for _, k := range j.Suspects {
		a.Notes = append(a.Notes, fmt.Sprintf("%s: reading %d of flute %d stands far from its fellows; it was kept: read it again", t.place(k.Feature.Name(), k.FromEnd, k.Stated), k.Repeat, k.Flute))
	}
	for _, n := range j.Notes {
		a.Notes = append(a.Notes, t.note(n))
	}
	return a
}

// Headline is the first line of an answer.
func Headline(in inspect.Inspection, j inspect.Judgement, unit length.Unit) string {
	t := teller{in: in, j: j, unit: unit}
	return t.headline()
}

// mark: before and between, a tool that is to be ground is not rejected.
func mark(j inspect.Judgement) Mark {
	if j.Stage != inspect.After && j.ToGrinder() && !j.Calls(inspect.Withdraw) && !j.Calls(inspect.Downgrade) {
		return ToGrind
	}
	switch j.Verdict {
	case inspect.Accept, inspect.NoGrindNeeded, inspect.WorthGrinding:
		return Conforms
	case inspect.Reject, inspect.NotWorthGrinding:
		return Rejected
	case inspect.Undecided:
		return Undecided
	}
	return Unjudged
}

// teller is a judgement on its way into words.
type teller struct {
	in   inspect.Inspection
	j    inspect.Judgement
	unit length.Unit
}

func (t teller) length(l length.Length) string { return l.In(t.unit) }

func (t teller) quantity(q *inspect.Quantity) string {
	if q == nil {
		return "-"
	}
	return q.In(t.unit)
}

// place adds to a name where it was read.
func (t teller) place(name string, fromEnd length.Length, stated bool) string {
	if !stated {
		return name
	}
	return name + ", " + t.length(fromEnd) + " from the end"
}

// items lists required things by name.
func items(all []inspect.Item) string {
	var names []string
	for _, i := range all {
		names = append(names, Item(i))
	}
	return strings.Join(names, ", ")
}

// Item returns the name of a required thing.
func Item(i inspect.Item) string { return i.Name() }

// Flutes names some flutes: flute 3, flutes 1, 3 and 4.
func Flutes(ns []int) string {
	switch len(ns) {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf("flute %d", ns[0])
	}
	s := "flutes "
	for i, n := range ns {
		switch {
		case i == 0:
		case i == len(ns)-1:
			s += " and "
		default:
			s += ", "
		}
		s += fmt.Sprint(n)
	}
	return s
}

// gaps says what the stage requires and was not looked at or read, one line each; what is open for another reason is
// among the findings.
func (t teller) gaps() []string {
	var lines []string
	var sights, untold []string
	for _, c := range t.j.Coverage {
		name := Item(c.Item)
		switch {
		case c.Is == inspect.Untied:
			lines = append(lines, name+": read in the grinding fixture and not tied to the shank: read the shank in the fixture, or one round with the tool taken out and seated on its shank")
		case c.Is == inspect.Untold:
			untold = append(untold, "the "+name+" was called for before the grind and is not told as ground: tell it, or look at the wear again")
		case c.Is == inspect.AsItWas:
			untold = append(untold, "the "+name+" was to be ground, and diameter and width are what they were: look at the wear again")
		case c.Is != inspect.Missing:
		case c.Item.Sight() != "":
			sights = append(sights, name)
		case c.Item == inspect.EndForm:
			lines = append(lines, "the form of the end is not looked at here: only a concession can follow")
		case len(c.Flutes) > 0 && len(c.Flutes) < t.in.Tool.Flutes:
			lines = append(lines, name+" was not read on "+Flutes(c.Flutes))
		default:
			lines = append(lines, name+" was not read")
		}
	}
	if sights != nil {
		lines = append([]string{"not looked at: " + strings.Join(sights, ", ")}, lines...)
	}
	return append(untold, lines...)
}

// open is what is open: the gaps, and where nothing is over, what cannot be decided.
func (t teller) open() []string {
	lines := t.gaps()
	for _, w := range t.j.Work {
		if w.Because != inspect.ThingsOpen {
			continue
		}
		for _, i := range w.Findings {
			f := t.j.Findings[i]
			if f.Why == nil || f.Why.What != inspect.NotRead || !t.unread(inspect.Item(f.Feature)) {
				lines = append(lines, t.reason(f))
			}
		}
	}
	return lines
}

// held says how the tool was held where the answer is of its run-out.
func (t teller) held() string {
	if t.j.Stage == inspect.Before || t.in.Holding == "" {
		return ""
	}
	run := slices.ContainsFunc(t.j.Findings, func(f inspect.Finding) bool { return f.Feature == inspect.RadialRunout && f.Value != nil })
	if !run {
		return ""
	}
	held := "in the " + string(t.in.Holding)
	_, studied := t.in.Basis.Seatings[t.in.Holding]
	switch {
	case t.in.Reseated:
		return "seated anew " + held + " before each round"
	case studied:
		return "held " + held + ", whose studied error is in the doubt"
	}
	return "as held " + held
}
