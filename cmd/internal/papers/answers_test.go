package papers

import (
	"bytes"
	"cmp"
	"html"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/answers"
	"flutelog/inspect/length"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// Sheet and tag say of every inspection of the table, in either unit, what package words says.
func TestPapersSayTheSameAnswer(t *testing.T) {
	cases, err := answers.Read("../../../testdata/answers.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cases {
		j := inspect.Judge(c.Inspection)
		for _, unit := range []length.Unit{length.In, length.Mm} {
			t.Run(c.Name+" in "+string(unit), func(t *testing.T) {
				paperSays(t, c.Inspection, j, words.Of(c.Inspection, j, unit), unit)
			})
		}
	}
}

// paperSays holds sheet and tag against the answer. A paper leads with how the tool stands, so that of a release the answer
// is left out; it leaves out a last nought of a length, and cuts off what is too long, so that beginnings are looked for. A
// tag tells the answer of a tool that is to be ground.
func paperSays(t *testing.T, in inspect.Inspection, j inspect.Judgement, a words.Answer, unit length.Unit) {
	t.Helper()
	in.ID = cmp.Or(in.ID, in.Tool.ID+".1")
	x := record.Inspection{Inspection: in, Judgement: j, Opened: "2026-11-12T08:00:00Z", Closed: "2026-11-12T08:15:30Z"}
	of := record.Tool{Tool: in.Tool, State: record.State{Standing: record.StandsToGrind, Inspection: in.ID}}
	s := Source{Unit: unit}
	document := func(write func(io.Writer) error) string {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		return strings.ToLower(html.UnescapeString(b.String()))
	}
	tags := func(t record.Tool) string {
		return document(func(w io.Writer) error {
			return paper.WriteTags(w, paper.Tags{Tags: []paper.Tag{s.tag(&tool{t, []record.Inspection{x}})}})
		})
	}
	sheet, tag := document(func(w io.Writer) error { return paper.WriteSheet(w, s.sheet(&tool{of, []record.Inspection{x}}, &x)) }), tags(of)
	nought := regexp.MustCompile(`\b(\d+\.\d{3,4})0\b`)
	begin := func(text string, n int) string {
		r := []rune(strings.ToLower(nought.ReplaceAllString(text, "$1")))
		return string(r[:min(n, len(r))])
	}
	for name, document := range map[string]string{"sheet": sheet, "tag": tag} {
		if !j.Releases() && !strings.Contains(document, begin(a.Headline, 30)) {
			t.Errorf("%s: no %q", name, a.Headline)
		}
		if a.NotAsked != "" && !strings.Contains(document, begin(a.NotAsked, 20)) {
			t.Errorf("%s: it does not say what this bench does not read: %q", name, a.NotAsked)
		}
	}
	of.Standing = record.StandsReleased
	if got := strings.Contains(tags(of), "true in the fixture only"); got != (j.TrueIn == inspect.InFixture) {
		t.Errorf("the tag of a released tool says that it is true in the fixture only: %v", got)
	}
	for i, f := range j.Findings {
		if i < 4 && !strings.Contains(sheet, strings.ToLower(words.Figure(f.Feature))) {
			t.Errorf("sheet: no %q", words.Figure(f.Feature))
		}
	}
	if len(a.Open) > 0 {
		open := a.Open[0]
		told := slices.ContainsFunc(a.Findings, func(f words.Finding) bool { return f.Reason == open }) // among the figures
		if !told && !strings.Contains(sheet, begin(open, 50)) {
			t.Errorf("sheet: no %q", open)
		}
	}
}
