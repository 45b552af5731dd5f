package output

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/answers"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
	"flutelog/inspect/words"
)

// Terminal, JSON and CSV say the same of every inspection of the table, in either unit: what package words
// says, whole where there is room for it and its beginning where there is not.
func TestEverySurfaceSaysTheSameAnswer(t *testing.T) {
	cases, err := answers.Read("../../../../testdata/answers.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range cases {
		j := inspect.Judge(c.Inspection)
		for _, unit := range []length.Unit{length.In, length.Mm} {
			t.Run(c.Name+" in "+string(unit), func(t *testing.T) {
				a := words.Of(c.Inspection, j, unit)
				terminalSays(t, c.Inspection, j, a, unit)
				jsonSays(t, c.Inspection, j, a, unit)
				csvSays(t, c.Inspection, j, a, unit)
			})
		}
	}
}

func terminalSays(t *testing.T, in inspect.Inspection, j inspect.Judgement, a words.Answer, unit length.Unit) {
	t.Helper()
	var out bytes.Buffer
	Judgement(command.Env{Stdout: &out, Getenv: func(string) string { return "" }}, in, j, unit)
	for line := range strings.Lines(out.String()) {
		if n := len([]rune(strings.TrimRight(line, "\n"))); n > command.LineWidth {
			t.Errorf("terminal: %d columns: %q", n, line)
		}
	}
	text := strings.Join(strings.Fields(out.String()), " ")
	want := []string{a.Headline, a.Verdict, a.NotAsked, a.Held}
	want = append(append(append(append(want, a.Open...), a.Steps...), a.Causes...), a.Notes...)
	for i, w := range a.Work {
		if i > 0 {
			want = append(want, w.String())
		}
		want = append(want, w.What)
	}
	for _, f := range a.Findings {
		want = append(want, f.Name, f.Value, f.Limit, f.Sure, f.Why)
	}
	for _, f := range a.Plan {
		want = append(want, f.Value)
	}
	for _, w := range want {
		if !strings.Contains(text, strings.Join(strings.Fields(w), " ")) {
			t.Errorf("terminal: no %q in\n%s", w, text)
		}
	}
	if !strings.HasPrefix(text, a.Headline) {
		t.Errorf("terminal: the answer does not stand first: %.120q", text)
	}
}

// The keys that scripts rely on.
var (
	judgementKeys = []string{"inspection", "tool", "stage", "unit", "verdict", "answer", "work", "findings", "unread", "sequence", "head"}
	findingKeys   = []string{"feature", "name", "flute", "value", "least", "most", "unit", "verdict", "rule", "uncertainty", "standard_uncertainty", "gauge_error", "reject_band", "risk",
		"degrees_of_freedom", "probability", "source", "reason", "from_end", "advice"}
	planKeys = []string{"infeed", "division", "divisions", "ratio_after", "diameter_after", "last_without_secondary", "secondary_infeed", "regrinds_left", "assumed"}
)

func jsonSays(t *testing.T, in inspect.Inspection, j inspect.Judgement, a words.Answer, unit length.Unit) {
	t.Helper()
	text, err := json.Marshal(judgementJSON(in, j, ledger.Record{Seq: 7}, unit))
	if err != nil {
		t.Fatal(err)
	}
	var all map[string]json.RawMessage
	var got struct {
		Verdict, Answer string
		Work            []struct{ What, Where, Why string }
		Findings        []map[string]any
		Unread          []string
		Steps           []string
		Notes, Causes   []string
		Plan            map[string]any
		TrueIn          string `json:"true_in"`
	}
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	for _, key := range judgementKeys {
		if all[key] == nil || string(all[key]) == "null" {
			t.Errorf("JSON: no %q in %s", key, text)
		}
	}
	if got.Answer != a.Headline || got.Verdict != a.Verdict || len(got.Work) != len(a.Work) || len(got.Findings) != len(a.Findings) || len(got.Unread) != len(j.Unread) {
		t.Errorf("JSON: got %s, want %+v", text, a)
		return
	}
	for i, w := range got.Work {
		if w.What != a.Work[i].What || w.Where != a.Work[i].Where || w.Why != a.Work[i].Why {
			t.Errorf("JSON: work %+v, want %+v", w, a.Work[i])
		}
	}
	for i, f := range got.Findings {
		for key := range f {
			if !slices.Contains(findingKeys, key) {
				t.Errorf("JSON: key %q of a finding", key)
			}
		}
		if f["reason"] != a.Findings[i].Reason || f["name"] != a.Findings[i].Name || f["verdict"] != string(j.Findings[i].Verdict) {
			t.Errorf("JSON: finding %v, want %+v", f, a.Findings[i])
		}
	}
	for i, name := range got.Unread {
		if name != string(j.Unread[i]) {
			t.Errorf("JSON: unread %q, want %q", name, j.Unread[i])
		}
	}
	if !slices.Equal(got.Steps, a.Steps) || !slices.Equal(got.Notes, a.Notes) || !slices.Equal(got.Causes, a.Causes) {
		t.Errorf("JSON: steps, notes or causes differ: %s", text)
	}
	if (got.Plan != nil) != (j.Plan != nil) || got.TrueIn != string(j.TrueIn) {
		t.Errorf("JSON: plan %v, true in %q", got.Plan, got.TrueIn)
	}
	for key := range got.Plan {
		if !slices.Contains(planKeys, key) {
			t.Errorf("JSON: key %q of a plan", key)
		}
	}
}

func csvSays(t *testing.T, in inspect.Inspection, j inspect.Judgement, a words.Answer, unit length.Unit) {
	t.Helper()
	one := func(yield func(*record.Inspection, error) bool) {
		yield(&record.Inspection{Inspection: in, Judgement: j, Closed: "2026-11-12T08:15:30.000000Z"}, nil)
	}
	var out bytes.Buffer
	if err := report.InspectionsCSV(&out, one, report.Format{Unit: unit}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil || len(rows) != 1+max(1, len(a.Findings)) {
		t.Fatalf("CSV: %d rows, %v", len(rows), err)
	}
	cell := func(row []string, name string) string {
		return strings.TrimPrefix(row[slices.Index(rows[0], name)], "'")
	}
	var work []string
	for _, w := range a.Work {
		work = append(work, w.String())
	}
	for i, row := range rows[1:] {
		if cell(row, "inspection_verdict") != a.Verdict || cell(row, "answer") != a.Headline || cell(row, "work") != strings.Join(work, "; ") {
			t.Errorf("CSV: %q, want %q, %q, %q", row, a.Verdict, a.Headline, work)
		}
		if i < len(a.Findings) && (cell(row, "figure") != a.Findings[i].Name || cell(row, "in_words") != a.Findings[i].Reason) {
			t.Errorf("CSV: %q, want %+v", row, a.Findings[i])
		}
	}
}
