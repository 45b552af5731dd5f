package page

import (
	"html"
	"strings"
	"testing"

	"flutelog/inspect"
	table "flutelog/inspect/answers"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// The page of a closed inspection says all that package words says of it, in either unit, for every inspection of the
// table; the live page says the same headline.
func TestPageSaysTheSameAnswer(t *testing.T) {
	cases, err := table.Read("../../../../testdata/answers.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cases {
		j := inspect.Judge(c.Inspection)
		in := &record.Inspection{Inspection: c.Inspection, Judgement: j, Closed: "2026-11-12T08:15:30.000000Z"}
		for _, unit := range []length.Unit{length.In, length.Mm} {
			a := words.Of(c.Inspection, j, unit)
			v := view{Inspection: c.Inspection, Unit: unit}
			data := closedPage{Inspection: in, View: v, Answer: a, Head: "head"}
			text := html.UnescapeString(data.html(framed{Unit: unit}))
			want := []string{a.Headline, a.NotAsked, a.Held}
			want = append(append(append(want, a.Open...), a.Causes...), a.Notes...)
			for _, w := range a.Work {
				want = append(want, w.String())
			}
			for _, f := range a.Findings {
				want = append(want, f.Name, f.Value, f.Limit, f.Sure)
				if f.Why != "" {
					want = append(want, f.Reason)
				}
			}
			for _, f := range a.Plan {
				want = append(want, f.Name, f.Value)
			}
			want = append(want, a.Steps...)
			for _, w := range want {
				if !strings.Contains(text, w) && !strings.Contains(text, capital(w + " ")[:len(w)]) {
					t.Errorf("%s in %s: no %q", c.Name, unit, w)
				}
			}
			if got := v.Answer().Headline; got != a.Headline {
				t.Errorf("%s: the live page says %q, want %q", c.Name, got, a.Headline)
			}
		}
	}
}
