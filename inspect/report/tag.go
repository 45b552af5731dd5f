package report

import (
	"fmt"
	"html/template"
	"io"

	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// mostTagAnswer letters of the answer fit a tag.
const mostTagAnswer = 90

type tag struct {
	Style    template.CSS
	Title    string
	Tool     string
	Long     bool // the tool's name takes more than a line
	Verdict  verdictMark
	Answer   string
	Facts    []fact
	Leads    leads
	NotRead  string // at this bench
	Decision string
}

// Tag writes a label to be cut out and tied to the tool, as one HTML document that needs nothing beside it:
// tool, diameter, offsets, date and verdict, and that the edges are sharp.
//
// Errors are those of w.
func Tag(w io.Writer, in SheetInput) error {
	i := in.Inspection
	a := words.Of(i, in.Judgement, in.Unit)
	t := tag{
		Style:   style("tag.css"),
		Title:   "Tag of inspection " + i.ID,
		Tool:    i.Tool.ID,
		Long:    letters(i.Tool.ID) > 18,
		Verdict: markOf(a),
		Answer:  cut(a.Headline, mostTagAnswer),
		Facts: known(
			fact{"Nominal diameter", i.Tool.Diameter.In(in.Unit) + ", " + fmt.Sprint(i.Tool.Flutes) + " flutes"},
			fact{"Radius offset", in.offset(in.Offsets.Radius, in.Offsets.RadiusChange)},
			fact{"Length offset", in.offset(in.Offsets.Length, in.Offsets.LengthChange)},
			fact{"Inspected", in.Closed.String()},
		),
	}
	if a.NotAsked != "" {
		t.NotRead = cut("Not read at this bench: "+a.NotAsked, mostTagAnswer)
	}
	t.Leads = in.standing()
	t.Verdict = t.Leads.Mark
	if in.Standing != record.StandsToGrind || t.Leads.Past || in.Practice {
		t.Answer = "" // of what is not to be ground the standing says all, and an answer might say more than was signed
	}
	if r := in.ruling(); r != nil {
		t.Decision = cut(r.What+" by "+r.Who+", "+r.When.String(), mostFact)
	}
	if err := templates.ExecuteTemplate(w, "tag.html", t); err != nil {
		return fmt.Errorf("writing tag of inspection %q: %w", i.ID, err)
	}
	return nil
}

// offset prints an offset with its change; "" when it is not known.
func (in SheetInput) offset(now, change *length.Length) string {
	if now == nil {
		return ""
	}
	s := now.In(in.Unit)
	if change != nil {
		sign := "+"
		if *change < 0 {
			sign = "" // the number has its own
		}
		s += " (" + sign + number(*change, in.Unit) + " since last time)"
	}
	return s
}
