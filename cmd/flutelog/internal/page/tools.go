package page

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/cmd/internal/look"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
)

// toolsPage is a list of tools, those that were looked for or all.
type toolsPage struct {
	Query    string
	Heading  string
	Standing record.Standing // only of those that stand so; "" for all
	Chips    []look.Chip
	Rows     []look.Tool
	More     int
	MoreLink string
	Near     []string // ids near to what was looked for, where nothing was found
	Add      string
	Damage   error
}

// toolsLink is the address of a list of tools.
func toolsLink(query string, standing record.Standing, shown int) string {
	return look.ToolsLink(map[string]string{"q": query, "standing": string(standing)}, shown)
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
	p.Chips = append(p.Chips, look.Chip{Words: "all " + look.Count(len(found.Tools)), Link: toolsLink(query, "", 0), Current: p.Standing == ""})
	for _, st := range record.Standings {
		if counts[st] > 0 {
			p.Chips = append(p.Chips, look.Chip{Mark: mark.Standing(st).SVG(), Words: string(st) + " " + look.Count(counts[st]), Link: toolsLink(query, st, 0), Current: st == p.Standing})
		}
	}
	shown, _ := strconv.Atoi(r.FormValue("shown"))
	shown = min(max(shown, look.FirstShown), look.MostShown)
	wanted := slices.DeleteFunc(slices.Clone(found.Tools), func(t record.Listed) bool { return p.Standing != "" && t.Standing != p.Standing })
	for _, t := range wanted[:min(shown, len(wanted))] {
		seen := s.when(t.Since.Time)
		if t.Damaged != "" {
			seen = "part of its record cannot be read"
		}
		p.Rows = append(p.Rows, look.FoundTool(t, s.Unit, query, link("/tool", t.ID), papers.Source{Unit: s.Unit}.Short(t.Tool), seen))
	}
	if p.More = len(wanted) - len(p.Rows); shown < look.MostShown {
		p.MoreLink = toolsLink(query, p.Standing, max(50, shown*5))
	}
	switch {
	case query == "":
		p.Heading = look.Count(found.Of) + " tools"
	case len(found.Tools) == 0:
		p.Heading = "No tool has “" + query + "”"
		p.Near, _ = board.Near(s.Ledger, query)
		p.Add = "/add?" + url.Values{"id": {query}}.Encode()
	default:
		p.Heading = look.Count(len(found.Tools)) + " of " + look.Count(found.Of) + " tools have “" + query + "”"
	}
	s.show(w, r, http.StatusOK, "Tools", p.html)
}
