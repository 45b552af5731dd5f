package page

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
)

// toolRow is one tool of a list.
type toolRow struct {
	Before, Match, After string // its id, what was looked for marked in it
	Standing             record.Standing
	Cells                []string // what it is, its diameter now, its job, since when
	Link                 string
}

// toolsPage is a list of tools, those that were looked for or all.
type toolsPage struct {
	Query    string
	Heading  string
	Standing record.Standing // only of those that stand so; "" for all
	Chips    []chip
	Rows     []toolRow
	More     int
	MoreLink string
	Near     []string // ids near to what was looked for, where nothing was found
	Add      string
	Damage   error
}

// chip is a filter of a list with how many it leaves.
type chip struct {
	Mark    mark.HTML
	Words   string
	Link    string
	Current bool
}

const (
	firstShown = 10
	mostShown  = 500 // of a list: who looks for one of more looks by name
)

// toolsLink is the address of a list of tools.
func toolsLink(query string, standing record.Standing, shown int) string {
	v := url.Values{}
	if query != "" {
		v.Set("q", query)
	}
	if standing != "" {
		v.Set("standing", string(standing))
	}
	if shown > firstShown {
		v.Set("shown", strconv.Itoa(shown))
	}
	if len(v) == 0 {
		return "/tools"
	}
	return "/tools?" + v.Encode()
}

// tools lists tools: all, those that stand alike, or those of which what was typed is a part. The id of one tool or job,
// typed whole or scanned, opens it.
func (s *Server) tools(w http.ResponseWriter, r *http.Request) {
	query := strings.TrimSpace(r.FormValue("q"))
	if id := strings.TrimPrefix(query, board.TagPrefix); id != "" && r.FormValue("standing") == "" {
		if t, err := record.FindTool(s.Ledger, id); t.ID != "" && (err == nil || !isAbsent(err)) {
			http.Redirect(w, r, link("/tool", t.ID), http.StatusSeeOther)
			return
		}
		if j, err := record.FindJob(s.Ledger, id); err == nil {
			http.Redirect(w, r, link("/job", j.ID), http.StatusSeeOther)
			return
		}
		s.elsewhere.Look(record.ToolSubject(id)) // another bench may know it
		if t, err := record.FindTool(s.Ledger, id); err == nil {
			http.Redirect(w, r, link("/tool", t.ID), http.StatusSeeOther)
			return
		}
	}
	found, err := board.Find(s.Ledger, strings.Fields(query)...)
	p := toolsPage{Query: query, Standing: record.Standing(r.FormValue("standing")), Damage: err}
	counts := map[record.Standing]int{}
	for _, t := range found.Tools {
		counts[t.Standing]++
	}
	p.Chips = append(p.Chips, chip{Words: "all " + thousands(len(found.Tools)), Link: toolsLink(query, "", 0), Current: p.Standing == ""})
	for _, st := range record.Standings {
		if counts[st] > 0 {
			p.Chips = append(p.Chips, chip{mark.Standing(st).SVG(), string(st) + " " + thousands(counts[st]), toolsLink(query, st, 0), st == p.Standing})
		}
	}
	shown, _ := strconv.Atoi(r.FormValue("shown"))
	shown = min(max(shown, firstShown), mostShown)
	wanted := slices.DeleteFunc(slices.Clone(found.Tools), func(t record.Listed) bool { return p.Standing != "" && t.Standing != p.Standing })
	for _, t := range wanted[:min(shown, len(wanted))] {
		p.Rows = append(p.Rows, s.toolRow(t, query))
	}
	if p.More = len(wanted) - len(p.Rows); shown < mostShown {
		p.MoreLink = toolsLink(query, p.Standing, max(50, shown*5))
	}
	switch {
	case query == "":
		p.Heading = thousands(found.Of) + " tools"
	case len(found.Tools) == 0:
		p.Heading = "No tool has “" + query + "”"
		p.Near, _ = board.Near(s.Ledger, query)
		p.Add = "/add?" + url.Values{"id": {query}}.Encode()
	default:
		p.Heading = thousands(len(found.Tools)) + " of " + thousands(found.Of) + " tools have “" + query + "”"
	}
	s.show(w, r, http.StatusOK, "Tools", p.html)
}

func (s *Server) toolRow(t record.Listed, query string) toolRow {
	r := toolRow{Before: t.ID, Standing: t.Standing, Link: link("/tool", t.ID)}
	if i := strings.Index(strings.ToLower(t.ID), strings.ToLower(query)); i >= 0 && query != "" && len(strings.ToLower(t.ID)) == len(t.ID) {
		r.Before, r.Match, r.After = t.ID[:i], t.ID[i:i+len(query)], t.ID[i+len(query):]
	}
	diameter := "not read"
	if t.Last != nil {
		diameter = t.Last.In(s.Unit)
	}
	job := t.Job
	if t.Away != nil {
		if job = "sent out"; t.Away.Where != "" {
			job += " to " + t.Away.Where
		}
	}
	since := s.when(t.Since.Time)
	if t.Damaged != "" {
		since = "part of its record cannot be read"
	}
	r.Cells = []string{papers.Source{Unit: s.Unit}.Short(t.Tool), diameter, job, since}
	return r
}

// thousands prints a count.
func thousands(n int) string {
	if n < 1000 {
		return strconv.Itoa(n)
	}
	return thousands(n/1000) + "," + strconv.Itoa(1000 + n%1000)[1:]
}
