package answers_test

import (
	"slices"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/answers"
)

func cases(t *testing.T) []answers.Case {
	t.Helper()
	all, err := answers.Read("../../testdata/answers.txt")
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 40 {
		t.Fatalf("%d cases", len(all))
	}
	return all
}

// Every inspection of the table comes to the master's answer: the work, where and in which order; what is open; the
// verdict; the status.
func TestMastersAnswers(t *testing.T) {
	for _, c := range cases(t) {
		t.Run(c.Name, func(t *testing.T) {
			j := inspect.Judge(c.Inspection)
			var got []string
			for _, w := range j.Work {
				got = append(got, strings.TrimSpace(string(w.What)+" "+string(w.Where)))
			}
			if !slices.Equal(got, c.Want) {
				t.Errorf("work %q, want %q", got, c.Want)
			}
			if c.Because != "" && j.Work[0].Because != c.Because {
				t.Errorf("because %q, want %q", j.Work[0].Because, c.Because)
			}
			var unread []string
			for _, i := range j.Unread {
				unread = append(unread, string(i))
			}
			if !slices.Equal(unread, c.Unread) {
				t.Errorf("unread %q, want %q", unread, c.Unread)
			}
			var open []string
			for _, f := range j.Findings {
				if !f.Advice && (f.Verdict == inspect.NotJudged || f.Verdict == inspect.Undecided) && j.Calls(inspect.ReadOn) {
					open = append(open, string(f.Feature))
				}
			}
			if !slices.Equal(open, c.Open) {
				t.Errorf("open %q, want %q", open, c.Open)
			}
			if string(j.Verdict) != c.Verdict {
				t.Errorf("verdict %q, want %q", j.Verdict, c.Verdict)
			}
			status := map[inspect.Outcome]int{inspect.Clear: 0, inspect.FallsShort: 3, inspect.Open: 4}[j.Outcome()]
			if status != c.Status {
				t.Errorf("status %d, want %d", status, c.Status)
			}
			if t.Failed() {
				t.Logf("%s\n%+v", c.Why, j.Findings)
			}
		})
	}
}
