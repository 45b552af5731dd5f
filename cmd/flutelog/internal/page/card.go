package page

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/export"
	"flutelog/inspect/ledger"
	"flutelog/inspect/mark"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// cardPage is one tool as it stands, for the hand that has it.
type cardPage struct {
	ID, What string
	Standing record.Standing
	Slab     string // what stops it, in a sentence; "" where nothing does
	Ruled    string // of a tool that is let out: on what condition, and who signed
	Next     *step
	Lacks    string
	Told     []string // where it was sent, half-read inspections, its notes, the newest first
	Life     paper.Charted
	Sizes    []board.Fact
	SetUp    []board.Fact
	Limits   []limitRow
	Basis    string
	Changed  []string // what made a released tool be recalled
	Locks    []row
	History  []past
	Earlier  int    // inspections that are not shown
	Sheet    string // the newest inspection
	Asset    bool   // the tool can be handed on as one
	Tables   string
	Acts     []act
	Trends   []paper.Charted
	Damage   error
}

// step is what is done next, and where.
type step struct{ Words, Small, Link string }

// act is something that can be done with a tool, or told of it.
type act struct{ Words, Small, Link string }

// past is one inspection in a tool's history, with what was ruled and corrected since.
type past struct {
	ID, Stage, When string
	Lines           []markedLine
}

// markedLine is a line with its mark.
type markedLine struct {
	Mark mark.HTML
	Text string
}

// limitRow is a limit in force.
type limitRow struct{ Name, Band, Kind, Source string }

// shownPast is how many inspections of a history are shown at first.
const shownPast = 10

// tool shows a tool's card.
func (s *Server) tool(w http.ResponseWriter, r *http.Request) {
	id := r.FormValue("id")
	said, err := s.elsewhere.Look(record.ToolSubject(id))
	if err != nil {
		said = err.Error() // an old copy can still be looked at
	}
	c, err := board.GatherCard(s.Ledger, id, s.Bench.Basis)
	if err != nil && c.ID == "" {
		s.absent(w, r, id, err)
		return
	}
	_, all, err2 := record.Whole(s.Ledger, c.ID)
	if d := (*ledger.DamageError)(nil); err2 != nil && !errors.As(err2, &d) && c.Damage == nil {
		c.Damage = err2
	}
	c.Damage = cmp.Or(c.Damage, err)
	p := s.cardPage(c, all, r.FormValue("all") != "")
	if said != "" {
		p.Told = append(p.Told, capital(said)+".")
	}
	s.show(w, r, http.StatusOK, "Tool "+c.ID, p.html)
}

// absent answers for a tool that is not there: with the ids that are near to what was asked for.
func (s *Server) absent(w http.ResponseWriter, r *http.Request, id string, err error) {
	if !errors.Is(err, record.ErrNoTool) {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	near, _ := board.Near(s.Ledger, id)
	s.show(w, r, http.StatusNotFound, "No such tool", toolsPage{Query: id, Heading: "No tool is “" + id + "”", Near: near, Add: "/add?" + url.Values{"id": {id}}.Encode()}.html)
}

func (s *Server) cardPage(c board.Card, all []record.Inspection, whole bool) cardPage {
	p := cardPage{
		ID: c.ID, What: papers.Source{Unit: s.Unit}.Full(c.Tool.Tool), Standing: c.Standing, Lacks: c.Lacks(), Damage: c.Damage,
		Life: papers.Source{Unit: s.Unit}.LifeWith(c.Inspections, c.Left, false), SetUp: c.SetUp(s.Unit), Basis: c.Basis.Revision,
		Tables: "/tables.zip?" + url.Values{"tool": {c.ID}}.Encode(),
	}
	for i, f := range p.SetUp {
		if f.Name == board.Ground || f.Name == board.AfterAGrind {
			p.SetUp[i].Value = s.when(f.Value)
		}
	}
	p.Trends = slices.DeleteFunc(papers.Source{Unit: s.Unit}.Lives(c.Inspections, false)[1:], func(x paper.Charted) bool { return x.Sentence == "" })
	switch c.Standing {
	case record.StandsLocked:
		p.Slab = capital(c.Stopped()) + "."
		for _, l := range c.Locks {
			x := row{Mark: mark.Locked.SVG(), ID: l.What(), Right: l.Inspection, Link: link("/inspection", l.Inspection)}
			x.Under = listed(l.By, s.when(l.At), l.Note) + fmt.Sprintf(". Record %d of %s", l.Ref.Seq, l.Where)
			if l.Told {
				x.Under += ", by the register’s word"
			}
			if l.TakenBack {
				x.Under += "; taken back at once"
			}
			p.Locks = append(p.Locks, x)
		}
	case record.StandsRecalled:
		p.Slab = "It is out, and must come back before it cuts again."
		for _, in := range all {
			if in.ID != c.State.Inspection {
				continue
			}
			for _, x := range in.Corrections {
				p.Changed = append(p.Changed, papers.Correction(x.Correction, s.Unit))
			}
			now := words.Of(in.Inspection, in.Judgement, s.Unit)
			p.Changed = append(p.Changed, "Now: "+now.Headline)
			for _, open := range now.Open {
				p.Changed = append(p.Changed, "Open: "+open)
			}
		}
	case record.StandsReleased, record.StandsConceded:
		r := papers.Source{Unit: s.Unit}.Ruling(c.Tool, all)
		p.Ruled = listed(r.Word, r.Under)
	case record.StandsWithdrawn:
		p.Slab = "Out of use for ever."
		for _, x := range c.Rulings {
			if x.Word == record.Withdraw {
				p.Slab = fmt.Sprintf("By %s, %s: %s. For ever.", x.By, s.when(x.At), x.Why)
			}
		}
	}
	if d := c.Offsets.Diameter.Now; d != nil {
		p.Sizes = append(p.Sizes, board.Fact{Name: "Diameter now", Value: d.In(s.Unit)}, board.Fact{Name: "Radius", Value: (*d / 2).In(s.Unit)})
		if change := c.Offsets.Diameter.Change(); change != nil {
			p.Sizes = append(p.Sizes, board.Fact{Name: "Change " + c.Offsets.Diameter.Since(), Value: change.In(s.Unit)})
		}
	}
	if d := c.Smallest(); d != nil {
		p.Sizes = append(p.Sizes, board.Fact{Name: "Smallest useful", Value: d.In(s.Unit)})
	}
	p.Sizes = append(p.Sizes, board.Fact{Name: "Regrinds left", Value: c.LeftWords()})
	for _, row := range inspect.LimitTable {
		limit := c.Basis.Limits[row.Feature]
		name, band := capital(words.Figure(row.Feature)), words.Band(limit.Least, limit.Most, s.Unit)
		if !limit.Set() || slices.ContainsFunc(p.Limits, func(l limitRow) bool { return l.Name == name && l.Band == band }) {
			continue
		}
		kind := "advice"
		if limit.Judged {
			kind = "judged"
		}
		p.Limits = append(p.Limits, limitRow{name, band, kind, limit.Source})
	}
	p.Told = s.told(c)
	p.Next, p.Acts = s.nextStep(c), s.actsOn(c)
	p.History, p.Earlier, p.Sheet = s.history(all, c.Lifted, whole)
	_, err := export.AssetFile(s.Ledger, c.ID, false)
	p.Asset = err == nil
	return p
}

// told is what was told of a tool: where it is, what is half read, its last notes.
func (s *Server) told(c board.Card) []string {
	var all []string
	if c.Job != "" {
		all = append(all, "With job "+c.Job+".")
	}
	if at := c.ToldAt; at != "" {
		all = append(all, "How it stands was recorded at "+at+", by the register’s word.")
	}
	if words := c.Elsewhere.Words(); words != "" {
		all = append(all, "Elsewhere: "+words+".")
	}
	if c.Away != nil {
		all = append(all, capital(strings.TrimSpace(listed("sent out "+s.when(c.Away.At), c.Away.Where, c.Away.By)))+".")
	}
	if r := c.Rulings; len(r) > 0 && c.Standing.Stops() {
		last := r[len(r)-1]
		all = append(all, fmt.Sprintf("Last ruling: %s of %s by %s, %s.", last.Word, last.Of(), last.By, s.when(last.At)))
	}
	for i, n := range slices.Backward(c.Notes) {
		if i < len(c.Notes)-5 {
			break
		}
		all = append(all, fmt.Sprintf("“%s” %s", n.Text, listed(n.By, s.when(n.At))))
	}
	return all
}

// listed puts words that are there behind each other.
func listed(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), ", ")
}

// nextStep is the one next step of a tool; nil where a person must choose between grave things, or nothing is done.
func (s *Server) nextStep(c board.Card) *step {
	next := c.Next()
	if len(c.Half) > 0 && next.Stage != "" {
		h := c.Half[0]
		return &step{"Go on with " + h.Inspection, fmt.Sprintf("%s, %d of %d read", h.Stage.Words(), h.Answered, h.Of), link("/inspection", h.Inspection)}
	}
	if next.Sign {
		return &step{"Sign: release it", "all that was asked of " + c.State.Inspection + " conforms", deedLink("release", c.State.Inspection, c.ID)}
	}
	if next.Stage == "" {
		return nil
	}
	at := "/begin?" + url.Values{"tool": {c.ID}, "stage": {string(next.Stage)}}.Encode()
	small := map[record.Standing]string{
		record.StandsToGrind: "once it is ground", record.StandsRecalled: "settles the recall when it is released again",
		record.StandsReleased: "when it is back, worn", record.StandsConceded: "when it is back, worn",
	}
	text := "Inspect " + next.Stage.Words()
	if c.Standing == record.StandsRecalled {
		text = "It is back: inspect it"
	}
	return &step{text, small[c.Standing], at}
}

// actsOn are the other things that can be done with a tool as it stands, or told of it.
func (s *Server) actsOn(c board.Card) []act {
	var all []act
	if c.Standing == record.StandsWithdrawn || c.Standing == record.StandsRetired {
		return []act{{"Another takes its place", "", deedLink("succeed", c.ID, c.ID)}, {"Note", "", deedLink("note", c.ID, c.ID)}}
	}
	if in := c.State.Inspection; in != "" {
		if can, err := record.Allowed(s.Ledger, in); err == nil && slices.Contains(can, record.Concession) {
			all = append(all, act{"Concede on a condition", "", deedLink("concession", in, c.ID)})
		}
	}
	if c.Standing != record.StandsLocked {
		all = append(all, act{"Another inspection", "", "/begin?" + url.Values{"tool": {c.ID}}.Encode()}, act{"Ground", "", deedLink("ground", c.ID, c.ID)})
	}
	if c.Away == nil {
		all = append(all, act{"Sent out", "", deedLink("away", c.ID, c.ID)})
	} else {
		all = append(all, act{"Back", "", deedLink("back", c.ID, c.ID)})
	}
	all = append(all, act{"Note", "", deedLink("note", c.ID, c.ID)}, act{"Change what it is", "", link("/change", c.ID)})
	if c.Standing != record.StandsLocked { // there the two stand beside each other
		all = append(all, act{"Withdraw", "", deedLink("withdraw", cmp.Or(c.State.Inspection, c.ID), c.ID)}, act{"Retire", "", deedLink("retire", c.ID, c.ID)})
	}
	return all
}

// history tells the inspections of a tool, the newest first.
func (s *Server) history(all []record.Inspection, lifted []record.Lifted, whole bool) (shown []past, earlier int, sheet string) {
	for _, in := range slices.Backward(all) {
		if len(shown) == shownPast && !whole {
			earlier++
			continue
		}
		if sheet == "" {
			sheet = in.ID
		}
		p := past{ID: in.ID, Stage: in.Stage.Words(), When: listed(s.when(in.Closed), in.Inspector)}
		say := func(m mark.Mark, text string) { p.Lines = append(p.Lines, markedLine{m.SVG(), text}) }
		switch {
		case in.Discarded != "":
			say(mark.NotJudged, "given up: "+in.Discarded)
		case in.Figures.Practice:
			say(mark.Invented, "practice: invented")
		default:
			a := words.Of(in.Inspection, in.Judgement, s.Unit)
			say(marks[a.Mark], a.Headline)
		}
		for _, c := range in.Corrections {
			say(mark.Corrected, papers.Correction(c.Correction, s.Unit))
		}
		for _, l := range lifted {
			if l.Inspection == in.ID {
				say(mark.Accept, listed("Lock for "+l.What()+" lifted by "+l.Unlocking.By, s.when(l.Unlocking.At), l.Unlocking.Why))
			}
		}
		for _, r := range in.Rulings {
			say(rulingMarks[r.Word], listed(ruledWords[r.Word]+" by "+r.By, s.when(r.At), r.Why))
		}
		shown = append(shown, p)
	}
	return shown, earlier, sheet
}

var (
	rulingMarks = map[record.Word]mark.Mark{record.Release: mark.Released, record.Concession: mark.Conceded, record.Withdraw: mark.Withdrawn}
	ruledWords  = map[record.Word]string{record.Release: "Released", record.Concession: "Conceded", record.Withdraw: "Withdrawn"}
)

// beginPage is what is asked before an inspection of a tool is begun.
type beginPage struct {
	Tool, What                   string
	Form                         form
	Holdings, Wheels, Inspectors []string
	Ground                       bool // it was ground, and how is asked nowhere else
}

// beginPage asks how an inspection of a tool is begun.
func (s *Server) beginPage(w http.ResponseWriter, r *http.Request) {
	t, err := record.FindTool(s.Ledger, r.FormValue("tool"))
	if err != nil && t.ID == "" {
		s.absent(w, r, r.FormValue("tool"), err)
		return
	}
	f := form{Values: url.Values{"tool": {t.ID}, "stage": {r.FormValue("stage")}, "job": {t.Job}, "holding": {string(s.Bench.Holding)}}}
	if f.Get("stage") == "" {
		f.Set("stage", string(nextStage(t.Inspections)))
	}
	s.askBegin(w, r, http.StatusOK, t, f)
}

// askBegin shows the form that begins an inspection, as it was sent where it was refused.
func (s *Server) askBegin(w http.ResponseWriter, r *http.Request, status int, t record.Tool, f form) {
	var holdings, wheels []string
	for _, h := range inspect.Holdings {
		holdings = append(holdings, string(h))
	}
	for _, x := range s.Bench.Wheels {
		wheels = append(wheels, x.Name)
	}
	s.show(w, r, status, "Inspect "+t.ID, beginPage{t.ID, papers.Source{Unit: s.Unit}.Full(t.Tool), f, holdings, wheels, s.Bench.Inspectors, t.Standing == record.StandsToInspect}.html)
}

// nextStage is the stage that most likely comes next.
func nextStage(lives []record.Life) inspect.Stage {
	if len(lives) == 0 || lives[len(lives)-1].Stage == inspect.After {
		return inspect.Before
	}
	return inspect.After
}
