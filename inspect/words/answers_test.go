package words_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/answers"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

func cases(t *testing.T) []answers.Case {
	t.Helper()
	all, err := answers.Read("../../testdata/answers.txt")
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// lines are all that an answer says.
func lines(a words.Answer) []string {
	all := []string{a.Headline, a.NotAsked, a.Held}
	all = append(append(append(append(all, a.Open...), a.Steps...), a.Causes...), a.Notes...)
	for _, w := range a.Work {
		all = append(all, w.String())
	}
	for _, f := range a.Findings {
		all = append(all, f.Name, f.Value, f.Limit, f.Sure, f.Why, f.Reason)
	}
	for _, f := range a.Plan {
		all = append(all, f.Name+": "+f.Value)
	}
	return all
}

var (
	inInches      = regexp.MustCompile(`\d in\b`)
	inMillimetres = regexp.MustCompile(`\d mm\b`)
)

// What is said is one clean line in the reader's unit and in no other, for every inspection of the table.
func TestEverythingIsSaidInTheReadersUnit(t *testing.T) {
	for _, c := range cases(t) {
		j := inspect.Judge(c.Inspection)
		for unit, foreign := range map[length.Unit]*regexp.Regexp{length.In: inMillimetres, length.Mm: inInches} {
			for _, line := range lines(words.Of(c.Inspection, j, unit)) {
				if foreign.MatchString(line) {
					t.Errorf("%s, in %s: %q", c.Name, unit, line)
				}
				if strings.ContainsAny(line, "\n\r\t") || strings.Contains(line, "%!") || strings.Contains(line, "<nil>") || strings.Contains(line, "  ") || strings.HasSuffix(line, ": ") {
					t.Errorf("%s: %q", c.Name, line)
				}
			}
		}
	}
}

// The headline cries the first work, and names the figure that decided where one did.
func TestHeadlines(t *testing.T) {
	cries := map[string]string{
		"none": "NO GRIND NEEDED", "grind primary": "GRIND PRIMARY", "grind secondary": "SECONDARY NEEDED", "grind primary and secondary": "SECONDARY NEEDED, AFTER THE PRIMARY",
		"grind the face": "GRIND THE FACE", "cut back": "CUT BACK THE END", "stone the shank": "STONE THE SHANK", "reseat": "RESEAT FIRST", "downgrade": "DOWNGRADE",
		"withdraw": "WITHDRAW", "release": "RELEASE", "grind again": "GRIND AGAIN", "read on": "READ ON", "go on": "GO ON",
	}
	for _, c := range cases(t) {
		j := inspect.Judge(c.Inspection)
		a := words.Of(c.Inspection, j, length.In)
		want := ""
		for task, cry := range cries { // the longest task that the first work begins with
			if first := c.Want[0]; first == task || strings.HasPrefix(first, task+" ") {
				if len(cry) > len(want) || want == "" {
					want = cry
				}
			}
		}
		switch {
		case c.Because == inspect.Locked:
			want = "LOCKED: "
			if !strings.HasPrefix(a.Work[0].Why, "locked: ") {
				t.Errorf("%s: why %q, want locked: first", c.Name, a.Work[0].Why)
			}
			if !strings.HasSuffix(a.Headline, "DO NOT GRIND. DO NOT RUN.") {
				t.Errorf("%s: %q", c.Name, a.Headline)
			}
		case c.Want[0] == "cut back ends" && !c.Inspection.Tool.HasEndTeeth():
			want = map[inspect.Ends]string{inspect.BallEnd: "CUT BACK THE BALL", inspect.RadiusEnd: "CUT BACK THE CORNER RADIUS"}[c.Inspection.Tool.Ends] + " 0.02000 in: "
		case c.Want[0] == "release" && c.Inspection.Holding == inspect.InFixture && j.TrueIn == inspect.InFixture:
			want = "TRUE IN THE FIXTURE ONLY"
		}
		if !strings.HasPrefix(a.Headline, want) {
			t.Errorf("%s: %q, want %q first", c.Name, a.Headline, want)
		}
		grinds := func(where string) bool {
			return slices.ContainsFunc(c.Want, func(w string) bool {
				return strings.HasSuffix(w, where) && (strings.HasPrefix(w, "grind primary") || strings.HasPrefix(w, "grind secondary"))
			})
		}
		if strings.HasPrefix(c.Want[0], "grind primary") || strings.HasPrefix(c.Want[0], "grind secondary") { // a grind of both names both
			if both := grinds(" flutes") && grinds(" ends"); both != (strings.Contains(a.Headline, " ON FLUTES AND ENDS: ") || strings.Contains(a.Headline, ", AND ")) {
				t.Errorf("%s: %q of %q", c.Name, a.Headline, c.Want)
			}
		}
		if len(j.Work[0].Findings) == 0 || j.Work[0].What == inspect.ReadOn {
			continue
		}
		f := j.Findings[j.Work[0].Findings[0]]
		figure := f.Value.In(length.In)
		if c.Name == "a hair over the half" {
			figure = "0.500000125 of the land" // as 0.500 it would not be over the limit
		}
		if f.Why != nil && f.Why.What == inspect.NoRelief {
			figure = "falls nothing"
			if f.Drop.Drop < 0 {
				figure = "climbs " + (-f.Drop.Drop).In(length.In)
			}
		}
		if !strings.Contains(a.Headline, figure) {
			t.Errorf("%s: %q does not say %s", c.Name, a.Headline, figure)
		}
	}
}

// An infeed is said where the wear is to be ground out, and nowhere else.
func TestInfeedOnlyWhereItIsGround(t *testing.T) {
	said := map[bool]int{}
	for _, c := range cases(t) {
		j := inspect.Judge(c.Inspection)
		ground := false
		for _, want := range c.Want {
			ground = ground || want == "grind primary flutes" || want == "grind primary and secondary flutes"
		}
		text := strings.Join(lines(words.Of(c.Inspection, j, length.In)), "\n")
		if j.Plan == nil {
			continue
		}
		said[ground]++
		if got := strings.Contains(text, "Infeed: "); got != ground {
			t.Errorf("%s: an infeed is said: %v, want %v", c.Name, got, ground)
		}
		if !ground && strings.Contains(text, "Primary after: ") {
			t.Errorf("%s: it is not ground, and is told of after the grind", c.Name)
		}
	}
	if said[true] < 5 || said[false] < 5 {
		t.Errorf("%v cases with a plan", said)
	}
}

// In the fixture alone the word is not release; tied to the shank, or held on it, it is.
func TestTrueInTheFixtureOnly(t *testing.T) {
	want := map[string]string{
		"after, all in order in the fixture":            "TRUE IN THE FIXTURE ONLY",
		"after, all in order in a vee":                  "RELEASE",
		"after, a bench that ties to the shank, read":   "RELEASE",
		"after, one round seated on its shank":          "RELEASE",
		"after, a bench that ties to the shank, unread": "READ ON",
	}
	seen := 0
	for _, c := range cases(t) {
		if word := want[c.Name]; word != "" {
			seen++
			if got := words.Headline(c.Inspection, inspect.Judge(c.Inspection), length.In); !strings.HasPrefix(got, word) {
				t.Errorf("%s: %q, want %q", c.Name, got, word)
			}
		}
	}
	if seen != len(want) {
		t.Errorf("%d of the cases, want %d", seen, len(want))
	}
}

// What is open is listed first and whole: a line names each thing that was not read, the sights in one line before the
// others.
func TestWhatIsOpenIsNamed(t *testing.T) {
	for _, c := range cases(t) {
		j := inspect.Judge(c.Inspection)
		a := words.Of(c.Inspection, j, length.In)
		text := strings.Join(a.Open, "\n")
		for _, item := range j.Unread {
			if item != inspect.EndForm && !strings.Contains(text, words.Item(item)) {
				t.Errorf("%s: %q is not among what is open:\n%s", c.Name, item, text)
			}
		}
		if len(j.Unread) > 0 && j.Unread[0].Sight() != "" && !strings.HasPrefix(a.Open[0], "not looked at: ") {
			t.Errorf("%s: %q stands first", c.Name, a.Open[0])
		}
		if j.Calls(inspect.ReadOn) && j.Work[0].Because == inspect.ThingsOpen {
			sights := slices.DeleteFunc(slices.Clone(j.Unread), func(i inspect.Item) bool { return i.Sight() == "" })
			want := len(a.Open)
			if len(sights) > 0 {
				want += len(sights) - 1
			}
			past := slices.ContainsFunc(j.Findings, func(f inspect.Finding) bool {
				return !f.Advice && f.Value != nil && f.Most != nil && f.Least == nil && f.Value.Over(*f.Most)
			})
			if past && strings.Contains(a.Headline, "nothing is over a limit") {
				t.Errorf("%s: %q, with a figure past its limit: %v", c.Name, a.Headline, past)
			}
			things := fmt.Sprintf("%d thing", want)
			if !strings.Contains(a.Headline, things) {
				t.Errorf("%s: %q, want %s; open %q", c.Name, a.Headline, things, a.Open)
			}
		}
	}
}

// Of flutes that were read in part nobody knows whether they are within their limit, and the headline does not say so.
func TestHeadlineKnowsWhatWasReadInPart(t *testing.T) {
	seen := false
	for _, c := range cases(t) {
		j := inspect.Judge(c.Inspection)
		part := slices.ContainsFunc(j.Findings, func(f inspect.Finding) bool { return f.Why != nil && f.Why.What == inspect.NotRead })
		if part && j.Calls(inspect.ReadOn) {
			seen = true
			if h := words.Headline(c.Inspection, j, length.In); strings.Contains(h, "nothing is over a limit") {
				t.Errorf("%s: %q", c.Name, h)
			}
		}
	}
	if !seen {
		t.Error("no case is read in part")
	}
}

// Before the grind nothing says accept or reject of the whole.
func TestBeforeTheGrindNothingIsAcceptedOrRejected(t *testing.T) {
	for _, c := range cases(t) {
		if c.Inspection.Stage != inspect.Before {
			continue
		}
		a := words.Of(c.Inspection, inspect.Judge(c.Inspection), length.In)
		if a.Verdict == "accept" || a.Verdict == "reject" {
			t.Errorf("%s: %s", c.Name, a.Verdict)
		}
		for _, line := range append([]string{a.Headline}, a.Steps...) {
			if strings.Contains(line, "accept") || strings.Contains(line, "reject") {
				t.Errorf("%s: %q", c.Name, line)
			}
		}
	}
}
