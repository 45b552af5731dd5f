package web

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/cmd/internal/look"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect/ledger"
	"flutelog/inspect/mark"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
	"flutelog/inspect/words"
)

type toolsPage struct {
	Query    string
	Heading  string
	Standing record.Standing
	Bench    string
	Chips    []look.Chip
	Rows     []look.Tool
	More     int
	MoreLink string
	Near     []string // ids near to what was looked for, where nothing was found
}

// toolsLink is the address of a list of tools.
func toolsLink(query string, standing record.Standing, bench string, shown int) string {
	return look.ToolsLink(map[string]string{"q": query, "standing": string(standing), "bench": bench}, shown)
}

// tools lists tools: all, those that stand alike, or those of which what was typed is a part. The id of one tool or job, typed
// whole or scanned from a tag, opens it.
func (s *Site) tools(v *visit) error {
	query := v.value("q")
	id := strings.TrimPrefix(query, paper.Scanned)
	p := toolsPage{Query: query, Standing: record.Standing(v.value("standing")), Bench: v.value("bench")}
	if id != "" && p.Standing == "" {
		ok := false
		err := s.Store.Read(v, func(src *store.Source) error {
			if t, err := record.FindTool(src, id); t.ID != "" && !errors.Is(err, record.ErrNoTool) {
				http.Redirect(v.w, v.r, link("/tool", t.ID), http.StatusSeeOther)
				ok = true
				return nil
			}
			if j, err := record.FindJob(src, id); err == nil {
				http.Redirect(v.w, v.r, link("/job", j.ID), http.StatusSeeOther)
				ok = true
			}
			return nil
		})
		if err != nil || ok {
			return err
		}
	}
	counts, err := s.Store.Counted(v, store.Found{Text: id, Bench: p.Bench})
	if err != nil {
		return err
	}
	all := 0
	for _, n := range counts {
		all += n
	}
	p.Chips = append(p.Chips, look.Chip{Words: "all " + look.Count(all), Link: toolsLink(query, "", p.Bench, 0), Current: p.Standing == ""})
	for _, st := range record.Standings {
		if counts[st] > 0 {
			p.Chips = append(p.Chips, look.Chip{Mark: mark.Standing(st).SVG(), Words: string(st) + " " + look.Count(counts[st]), Link: toolsLink(query, st, p.Bench, 0), Current: st == p.Standing})
		}
	}
	shown, _ := strconv.Atoi(v.value("shown"))
	shown = min(max(shown, look.FirstShown), look.MostShown)
	found, of, err := s.Store.Tools(v, store.Found{Text: id, Standing: p.Standing, Bench: p.Bench, Most: shown})
	if err != nil {
		return err
	}
	names, err := s.Store.Names(v)
	if err != nil {
		return err
	}
	for _, t := range found {
		seen := "at " + called(names, t.Bench)
		if t.Benches > 1 {
			seen += fmt.Sprintf(", one of %d", t.Benches)
		}
		if t.Damaged != "" {
			seen += "; part of its record cannot be read"
		}
		what := "nothing says what it is"
		if t.Flutes > 0 {
			what = papers.Source{Unit: s.Unit}.Short(t.Tool)
		}
		p.Rows = append(p.Rows, look.FoundTool(t.Listed, s.Unit, id, link("/tool", t.ID), what, seen))
	}
	if p.More = of - len(found); shown < look.MostShown {
		p.MoreLink = toolsLink(query, p.Standing, p.Bench, max(50, shown*5))
	}
	where := ""
	if p.Bench != "" {
		where = ", seen last at " + called(names, p.Bench)
	}
	switch {
	case query == "":
		p.Heading = plural(all, "tool") + where
	case all == 0:
		p.Heading = "No tool of any bench has “" + query + "”"
		ids, err := s.Store.IDs(v)
		if err != nil {
			return err
		}
		p.Near = text.Near(id, ids)
	default:
		p.Heading = plural(all, "tool") + " with “" + query + "”" + where
	}
	s.show(v, http.StatusOK, "Tools", p.html)
	return nil
}

// past is one inspection in a tool's life, with what was ruled and corrected since.
type past struct {
	ID, Stage, When string
	Lines           []markedLine
}

// markedLine is a line with its mark.
type markedLine struct {
	Mark mark.Mark
	Text string
}

// lineRow is one record of a tool.
type lineRow struct {
	Bench, Name, When string
	Seq               uint64
	Kind              string
}

type toolPage struct {
	ID, What string
	Standing record.Standing
	Lacks    string
	Decides  string // what the standing rests on, and at which bench
	Told     []string
	Benches  []fact // that recorded of it, and how much
	Charts   []paper.Charted
	History  []past
	Lines    []lineRow
	Unclear  string // what of it cannot be told
}

// mostLines is how many of a tool's records are listed.
const mostLines = 200

// tool shows one tool's life over all benches.
func (s *Site) tool(v *visit) error {
	names, err := s.Store.Names(v)
	if err != nil {
		return err
	}
	id := v.value("id")
	var p toolPage
	err = s.Store.Read(v, func(src *store.Source) (err error) {
		p, err = s.life(src, id, names)
		return err
	})
	if errors.Is(err, record.ErrNoTool) {
		ids, err := s.Store.IDs(v)
		if err != nil {
			return err
		}
		s.show(v, http.StatusNotFound, "No such tool", toolsPage{Query: id, Heading: "No tool of any bench is “" + id + "”", Near: text.Near(id, ids)}.html)
		return nil
	}
	if err != nil {
		return err
	}
	s.show(v, http.StatusOK, "Tool "+p.ID, p.html)
	return nil
}

func (s *Site) life(src *store.Source, id string, names map[string]string) (toolPage, error) {
	t, all, err := record.Whole(src, id)
	var damaged *ledger.DamageError
	if err != nil && !errors.As(err, &damaged) {
		return toolPage{}, err
	}
	in := papers.Source{Unit: s.Unit}
	p := toolPage{ID: t.ID, What: in.Full(t.Tool), Standing: t.Standing, Lacks: t.Lacks()}
	if damaged != nil {
		p.Unclear = damaged.Error()
	}
	if t.Decided.Bench != "" {
		p.Decides = "By record " + look.Count(int(t.Decided.Seq)) + " of " + called(names, t.Decided.Bench)
		if t.State.Inspection != "" {
			p.Decides += ", of inspection " + t.State.Inspection
		}
	}
	for _, one := range all {
		if t.Standing == record.StandsToSign && one.ID == t.State.Inspection && one.Record.Bench == t.Decided.Bench && len(one.Rulings) > 0 {
			p.Told = append(p.Told, "It was ruled on at benches that did not know of each other: once one of them has asked the register it is signed for anew.")
		}
	}
	for _, l := range t.Locks {
		p.Told = append(p.Told, fmt.Sprintf("Locked at %s: %s.", called(names, l.Ref.Bench), l))
	}
	if t.State.Job != "" {
		p.Told = append(p.Told, "With job "+t.State.Job+".")
	}
	if t.Away != nil {
		p.Told = append(p.Told, "Sent out "+strings.Join(slices.DeleteFunc([]string{t.Away.Where, day(t.Away.At), t.Away.By}, func(w string) bool { return w == "" }), ", ")+".")
	}
	for _, open := range t.Open {
		p.Told = append(p.Told, "Inspection "+open+" is begun and not closed.")
	}
	for _, n := range t.Notes {
		p.Told = append(p.Told, fmt.Sprintf("“%s” %s, %s.", n.Text, n.By, day(n.At)))
	}
	for _, c := range in.Lives(t.Inspections, false) {
		if c.Drawing.SVG != "" {
			p.Charts = append(p.Charts, c)
		}
	}
	ids := map[string][]string{}
	for _, one := range all {
		ids[one.ID] = append(ids[one.ID], one.Record.Bench)
	}
	for _, one := range slices.Backward(all) {
		p.History = append(p.History, s.past(one, names, ids[one.ID]))
	}
	per := map[string]int{}
	for r, err := range src.History(record.ToolSubject(t.ID)) {
		if err != nil {
			if p.Unclear == "" {
				p.Unclear = err.Error()
			}
			break
		}
		per[r.Bench]++
		if len(p.Lines) < mostLines {
			p.Lines = append(p.Lines, lineRow{r.Bench, called(names, r.Bench), day(r.Time.UTC.Format("2006-01-02T15:04:05Z07:00")), r.Seq, cmp.Or(store.KindWords[r.Kind], r.Kind)})
		}
	}
	for bench, n := range per {
		p.Benches = append(p.Benches, fact{called(names, bench), plural(n, "record")})
	}
	slices.SortFunc(p.Benches, func(a, b fact) int { return strings.Compare(a.Name, b.Name) })
	return p, nil
}

// ruled is the word of a ruling that was made.
var ruled = map[record.Word]string{record.Release: "released", record.Concession: "released on a condition", record.Withdraw: "withdrawn for ever"}

// past tells one inspection, each line with its bench.
func (s *Site) past(in record.Inspection, names map[string]string, benches []string) past {
	at := called(names, in.Record.Bench)
	p := past{ID: in.ID, Stage: in.Stage.Words(), When: day(in.Closed)}
	say := func(m mark.Mark, format string, args ...any) {
		p.Lines = append(p.Lines, markedLine{m, fmt.Sprintf(format, args...)})
	}
	switch {
	case in.Discarded != "":
		say(mark.NotJudged, "At %s, given up: %s", at, in.Discarded)
	case in.Figures.Practice:
		say(mark.Invented, "At %s, practice: %s", at, words.Headline(in.Inspection, in.Judgement, s.Unit))
	default:
		say(mark.Verdict(in.Judgement.Verdict), "At %s: %s", at, words.Headline(in.Inspection, in.Judgement, s.Unit))
	}
	var how []string
	for _, part := range []struct{ before, what string }{{"read by ", in.Inspector}, {"ground with ", in.Wheel}, {"on ", in.Grinder}, {"for job ", in.Job}} {
		if part.what != "" {
			how = append(how, part.before+part.what)
		}
	}
	if how != nil {
		say(mark.Next, "%s", strings.Join(how, ", "))
	}
	for _, c := range in.Corrections {
		say(mark.Corrected, "corrected at %s: %s", called(names, c.Record.Bench), papers.Correction(c.Correction, s.Unit))
	}
	if in.Conflict {
		say(mark.Trouble, "corrected at two benches that did not know of each other: judged with both")
	}
	for _, r := range in.Rulings {
		why := ""
		if r.Why != "" {
			why = ": " + r.Why
		}
		say(mark.Ruling(r.Word), "%s by %s at %s, %s%s", cmp.Or(ruled[r.Word], string(r.Word)), r.By, called(names, r.Ref.Bench), day(r.At), why)
	}
	if others := slices.DeleteFunc(slices.Clone(benches), func(b string) bool { return b == in.Record.Bench }); len(others) > 0 {
		for i, b := range others {
			others[i] = called(names, b)
		}
		say(mark.Trouble, "%s has another inspection of the id %s: this one is record %d of %s", strings.Join(others, ", "), in.ID, in.Record.Seq, at)
	}
	return p
}
