package answers_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/answers"
	"flutelog/inspect/length"
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

// What is over its limit calls for something, in every inspection of the table that is not locked or withdrawn for what was seen.
func TestNothingOverCallsForNothing(t *testing.T) {
	over := 0
	for _, c := range cases(t) {
		j := inspect.Judge(c.Inspection)
		for i, f := range j.Findings {
			if f.Verdict != inspect.Reject || f.Advice || j.Calls(inspect.Withdraw) {
				continue
			}
			over++
			if !slices.ContainsFunc(j.Work, func(w inspect.Work) bool { return slices.Contains(w.Findings, i) }) {
				t.Errorf("%s: %s is over its limit and calls for nothing: %+v", c.Name, f.Feature, j.Work)
			}
		}
	}
	if over < 40 {
		t.Errorf("%d figures over their limits in the table", over)
	}
}

// A size that a bench sets a limit for, and that no grind mends, is for a lesser job: 3.2 in of a tool that may be 2.9 to 3.1 long.
func TestLimitOfASizeThatNoGrindMends(t *testing.T) {
	for _, c := range cases(t) {
		if len(c.Want) != 1 || c.Want[0] != string(inspect.NoWork) && c.Want[0] != string(inspect.Release) {
			continue
		}
		in := c.Inspection
		least, most := inspect.LengthQuantity(2900*length.Thou), inspect.LengthQuantity(3100*length.Thou)
		in.Basis.Limits = maps.Clone(in.Basis.Limits)
		in.Basis.Limits.Set(inspect.Length, inspect.Limit{Least: &least, Most: &most, Judged: true})
		for _, l := range []length.Length{2900, 3100, 3200} {
			in.Readings = append(slices.Clone(c.Inspection.Readings), inspect.Reading{Feature: inspect.Length, Repeat: 1, Value: l * length.Thou, Text: "3", Unit: length.In})
			want := c.Want[0]
			if l > 3100 {
				want = string(inspect.Downgrade)
			}
			if j := inspect.Judge(in); string(j.Work[0].What) != want || (j.Verdict == inspect.Accept) != (want == string(inspect.Release)) {
				t.Errorf("%s, %d thou long: %s, %+v, want %s", c.Name, l, j.Verdict, j.Work, want)
			}
		}
	}
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
