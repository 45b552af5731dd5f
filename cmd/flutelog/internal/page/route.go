package page

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/draw"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// routePage is one step of the work at the grinder. What is ground already stands in its address: it is kept wherever the
// page is left and opened again, and nothing of it is recorded before the tool is read.
type routePage struct {
	ID, Tool, Title string
	Stage           inspect.Stage
	At, Of          int
	Name, Text      string
	Figures         []words.Fact
	Wheel           string // and the most it may turn
	TooFast         string
	First           string // what is looked at after the first division
	Grinds          bool   // the wheel touches the tool
	Teeth           []groundTooth
	Back, Next      string // addresses
	NextName        string
	Picture         mark.HTML
	Steps           []words.Fact // all of them, by name and address
}

// groundTooth is one tooth of a step, in the order of grinding.
type groundTooth struct {
	Flute  int
	Ground bool
	Link   string // to the same step with it ground, or not
}

// route shows the steps of an inspection's work one at a time.
func (s *Server) route(w http.ResponseWriter, r *http.Request) {
	in, err := record.Find(s.Ledger, r.FormValue("id"))
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	steps, texts := in.Judgement.Steps, words.Of(in.Inspection, in.Judgement, s.Unit).Steps
	if !routed(in) {
		http.Redirect(w, r, link("/inspection", in.Inspection.ID), http.StatusSeeOther)
		return
	}
	at, err := strconv.Atoi(or(r.FormValue("step"), "1"))
	at = min(max(at, 1), len(steps))
	if err != nil {
		at = 1
	}
	step := steps[at-1]
	p := routePage{ID: in.Inspection.ID, Tool: in.Inspection.Tool.ID, Stage: in.Inspection.Stage, At: at, Of: len(steps), Name: words.StepName(step), Text: texts[at-1],
		Figures: words.StepFigures(step, s.Unit), Grinds: grinds(step), Title: fmt.Sprintf("Step %d of %d", at, len(steps))}
	if u := step.Wheel; u != nil && p.Grinds {
		p.Wheel = fmt.Sprintf("%s: at most %d rpm", u.Name, u.MarkedRPM)
		if u.OverMarked || u.OverUsual || u.NotFor {
			p.TooFast, p.Text, _ = strings.Cut(p.Text, ". ")
		}
	}
	ground := strings.FieldsFunc(r.FormValue("ground"), func(c rune) bool { return c == ',' })
	address := func(step int, ground []string) string {
		q := url.Values{"id": {p.ID}, "step": {strconv.Itoa(step)}}
		if len(ground) > 0 {
			q.Set("ground", strings.Join(ground, ","))
		}
		return "/route?" + q.Encode()
	}
	for _, flute := range step.Order {
		key := fmt.Sprintf("%d.%d", at, flute)
		t := groundTooth{Flute: flute, Ground: slices.Contains(ground, key)}
		if t.Ground {
			t.Link = address(at, slices.DeleteFunc(slices.Clone(ground), func(k string) bool { return k == key }))
		} else {
			t.Link = address(at, append(slices.Clone(ground), key))
		}
		p.Teeth = append(p.Teeth, t)
	}
	if at < len(steps) {
		p.Next, p.NextName = address(at+1, ground), words.StepName(steps[at])
		if next := steps[at]; next.Do == inspect.DoLook && p.Grinds {
			p.First = texts[at]
		}
	} else {
		p.Next, p.NextName = link("/tool", p.Tool), p.Tool
	}
	if at > 1 {
		p.Back = address(at-1, ground)
	}
	for i := range steps {
		p.Steps = append(p.Steps, words.Fact{Name: words.StepName(steps[i]), Value: address(i+1, ground)})
	}
	if step.Rest != nil && p.Grinds && step.Do != inspect.DoFace {
		p.Picture = draw.Rest{End: draw.End{Diameter: in.Inspection.Tool.Diameter, LeftCut: in.Inspection.Tool.Cut == inspect.LeftHand, Texts: make([]string, in.Inspection.Tool.Flutes)}, Below: step.Rest.In(s.Unit)}.SVG()
	}
	s.show(w, r, http.StatusOK, p.Title, p.html)
}

// routed says whether the way to the grinder is open: a step of the work is at a wheel of this bench, nobody has ruled
// otherwise, and the tool is neither locked nor out of use.
func routed(in record.Inspection) bool {
	if in.Ruling() != nil || in.Judgement.Locks() || slices.Contains([]record.Standing{record.StandsLocked, record.StandsWithdrawn, record.StandsRetired}, in.Stands.Standing) {
		return false
	}
	return slices.ContainsFunc(in.Judgement.Steps, grinds)
}

// grinds says whether a step brings the tool to a wheel here.
func grinds(step inspect.Step) bool {
	return !step.Away && slices.Contains([]inspect.Do{inspect.DoCutBack, inspect.DoGash, inspect.DoFace, inspect.DoPrimary, inspect.DoSecondary, inspect.DoCorner, inspect.DoForm}, step.Do)
}

// decisive are the verdicts of figures, those that decide first.
var decisive = []inspect.Verdict{inspect.Reject, inspect.Undecided, inspect.NotJudged, inspect.Accept}

// decides are figures in the order in which they decide.
func decides(all []words.Finding) []words.Finding {
	rank := func(f words.Finding) int {
		if i := slices.Index(decisive, inspect.Verdict(f.Verdict)); i >= 0 {
			return i
		}
		return len(decisive)
	}
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b words.Finding) int { return rank(a) - rank(b) })
	return all
}
