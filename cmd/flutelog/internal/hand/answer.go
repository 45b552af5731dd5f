package hand

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/text"
	"flutelog/inspect/words"
)

const answerWidth = 77

// Answer lays out what an inspection came to for one screen of 80 x 24: what was not looked at, the figures that decide,
// the likely cause, what to do. The rest stands behind d.
func Answer(in inspect.Inspection, j inspect.Judgement, unit length.Unit, marks mark.Console, signers []string) desk.Answer {
	w := words.Of(in, j, unit)
	a := desk.Answer{Headline: w.Headline, Mark: marks.Sign(mark.Verdict(j.Verdict)), Signers: signers}
	if w.Mark == words.ToGrind {
		a.Mark = marks.Sign(mark.ToGrind)
	}
	line := func(spare, indent int, said string) {
		a.Lines = append(a.Lines, desk.AnswerLine{Text: text.Wrap(said, answerWidth, indent), Spare: spare})
	}
	practice := in.Practised()
	if practice {
		line(0, 1, desk.PracticeNote+" The tool stands as it did.")
	}
	if len(w.Open) == 0 {
		line(0, 1, "Not looked at, not read: nothing that this bench asks for.")
	}
	for i, open := range w.Open {
		if i == 4 {
			line(0, 1, fmt.Sprintf("and %d more; d shows them", len(w.Open)-4))
			break
		}
		line(0, 2, fmt.Sprintf("%d %s", i+1, open))
	}
	figures := slices.Clone(w.Findings)
	rank := map[string]int{"reject": 0, "undecided": 1, "not judged": 2}
	slices.SortStableFunc(figures, func(a, b words.Finding) int {
		of := func(f words.Finding) int {
			if n, bad := rank[f.Verdict]; bad {
				return n
			}
			return len(rank)
		}
		return of(a) - of(b)
	})
	most := 7
	if j.ToGrinder() { // what is to be done wants the room
		most = 2
		for _, f := range figures {
			if _, bad := rank[f.Verdict]; bad {
				most++
			}
		}
		most = min(most, 5)
	}
	for i, f := range figures {
		spare := 0
		switch _, bad := rank[f.Verdict]; {
		case !bad:
			spare = spareGood
		case i > 0:
			spare = spareBad
		}
		if i == most && len(figures) > most+1 {
			line(spare, 1, fmt.Sprintf("and %d more figures; d shows them", len(figures)-most))
			break
		}
		text := marks.Cell(mark.Verdict(f.Verdict), fmt.Sprintf("%-34s %-3s %-14s %s", clip(strings.Replace(f.Name, " from the end", " up", 1), 34), f.Flute, f.Value, oneUnit(f.Limit)))
		line(spare, 4, strings.TrimRight(text, " "))
	}
	if w.Held != "" {
		line(0, 1, w.Held)
	}
	unnamed := false
	for i, c := range w.Causes {
		if j.Causes[i].Unnamed() { // why none is fills the screen, and nothing is done about it
			unnamed = true
			continue
		}
		line(0, 2, "Likely cause, "+c)
	}
	if unnamed {
		line(spareCause, 2, "Likely cause: none is named; d says why")
	}
	atMachine, hand := 0, ""
	for _, s := range j.Steps {
		if words.StepBrief(s, unit) != "" {
			atMachine++
			hand = words.StepHand(s)
		}
	}
	if hand != "" && atMachine > 1 {
		line(0, 1, hand)
	}
	for i, s := range w.Steps {
		text := inShort(s, j.Steps[i])
		if brief := words.StepBrief(j.Steps[i], unit); brief != "" && atMachine > 1 && !wrongWheel(j.Steps[i]) {
			text = brief // what is done at the machine stands on the screen whole, face by face
		}
		line(spareStep[j.Steps[i].Do], 2, fmt.Sprintf("%d %s", i+1, text))
	}
	for i, f := range w.Plan {
		if i < 3 {
			line(sparePlan, 2, f.Name+": "+f.Value)
		}
	}
	if j.ToGrinder() {
		a.Caution = []string{words.CareGrinding.Caution(words.Slots{}), words.Deference}
	}
	locked := j.Locks()
	switch {
	case locked:
		a.Caution = []string{"Put it down. Tie the red tag on, and lock it away. Show it to one who may sign."}
	case in.Stage == inspect.After && j.Releases():
		a.Sign = !practice
		a.Caution = []string{"The edges are sharp: sleeve it before it leaves the bench."}
	case j.Calls(inspect.ReadOn) && !j.ReadingSettles(): // it goes on with another gauge, or with one who decides
	case j.Calls(inspect.ReadOn):
		a.Next, a.Doing = in.Stage, "read just these"
	case in.Stage != inspect.After && j.Between():
		a.Next, a.Doing = inspect.Between, "primary ground, read it"
	case in.Stage == inspect.Before && j.ToGrinder(), in.Stage == inspect.Between:
		a.Next, a.Doing = inspect.After, "ground, read it"
	case in.Stage == inspect.After && (j.ToGrinder() || j.Calls(inspect.Reseat) || j.Calls(inspect.StoneShank)):
		a.Next, a.Doing = inspect.After, "done, read it"
	}
	return a
}

// What is dropped first where not all of an answer fits on the screen, the highest first.
const (
	spareCause = 1
	spareBad   = 2 // of the figures that decide those behind the first
	spareGood  = 5
	sparePlan  = 9
)

var spareStep = map[inspect.Do]int{inspect.DoBetween: 3, inspect.DoLook: 4, inspect.DoDeburr: 6, inspect.DoInspect: 7, inspect.DoSign: 8}

// Route lays out the work of an inspection a step a page, a sentence a line, with what a hand is told before it goes near a wheel.
func Route(in inspect.Inspection, j inspect.Judgement, unit length.Unit) string {
	w := words.Of(in, j, unit)
	if len(w.Steps) == 0 {
		return "There is nothing to do.\n"
	}
	var pages []string
	for i, step := range w.Steps {
		var page strings.Builder
		fmt.Fprintf(&page, "%s   %s\n\nSTEP %d of %d\n\n", in.Tool.ID, About(in.Tool, unit), i+1, len(w.Steps))
		for _, sentence := range sentences(step) {
			page.WriteString("  " + sentence + "\n")
		}
		switch j.Steps[i].Do {
		case inspect.DoCutBack, inspect.DoGash, inspect.DoFace, inspect.DoPrimary, inspect.DoSecondary, inspect.DoCorner, inspect.DoForm:
			if !j.Steps[i].Away {
				caution(&page, words.CareGrinding.Caution(words.Slots{})+" "+words.Deference)
			}
		case inspect.DoSeat, inspect.DoStone, inspect.DoReadShank, inspect.DoLook, inspect.DoBetween:
			caution(&page, words.CareTakenOut.Caution(words.Slots{}))
		}
		pages = append(pages, page.String())
	}
	return strings.Join(pages, "\f\n")
}

func caution(page *strings.Builder, said string) {
	page.WriteString("\n" + strings.Join(text.Wrap("CAUTION  "+said, answerWidth, 9), "\n") + "\n")
}

// sentences takes a step apart where one thing to do ends and the next begins.
func sentences(text string) []string {
	text = strings.Replace(text, ": ", ":\n", 1)
	for _, end := range []string{". ", "; "} {
		text = strings.ReplaceAll(text, end, strings.TrimRight(end, " ")+"\n")
	}
	return strings.Split(text, "\n")
}

// inShort is the first sentence of a step, for a screen that has the whole route to show, and the next where that says only how one
// stands at the machine; all of one whose wheel must not grind.
func inShort(text string, s inspect.Step) string {
	if wrongWheel(s) {
		return text
	}
	first, rest, _ := strings.Cut(text, ". ")
	if s.Do == inspect.DoStone || s.Do == inspect.DoSeat || s.Do == inspect.DoLockAway {
		next, _, _ := strings.Cut(rest, ". ")
		first += ". " + next
	}
	return strings.TrimSuffix(first, ".") + "."
}

func wrongWheel(s inspect.Step) bool { return s.Wheel != nil && s.Wheel.Wrong() }

// oneUnit leaves out the unit of a band's first end where its other end has it too.
func oneUnit(limit string) string {
	least, most, both := strings.Cut(limit, " to ")
	if i := strings.LastIndexByte(least, ' '); both && i > 0 && strings.Contains(most, least[i:]) {
		return least[:i] + " to " + most
	}
	return limit
}

func clip(text string, n int) string {
	if utf8.RuneCountInString(text) <= n {
		return text
	}
	return string([]rune(text)[:n-1]) + "."
}
