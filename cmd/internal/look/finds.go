package look

import (
	"net/url"
	"strconv"
	"strings"

	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
)

// Chip is a filter of a list, with how many it leaves.
type Chip struct {
	Mark    mark.HTML
	Words   string
	Link    string
	Current bool
}

// Tool is one tool of a list.
type Tool struct {
	Before, Match, After string // its id, what was looked for marked in it
	Standing             record.Standing
	Link                 string
	Cells                []string // what it is, its diameter now, its job or where it was sent, and when or where it was seen last
}

// FoundTool is a tool that was found by what was looked for.
func FoundTool(l record.Listed, unit length.Unit, query, link, what, seen string) Tool {
	diameter := "not read"
	if l.Last != nil {
		diameter = l.Last.In(unit)
	}
	job := l.Job
	if l.Away != nil {
		if job = "sent out"; l.Away.Where != "" {
			job += " to " + l.Away.Where
		}
	}
	t := Tool{Before: l.ID, Standing: l.Standing, Link: link, Cells: []string{what, diameter, job, seen}}
	if i := strings.Index(strings.ToLower(l.ID), strings.ToLower(query)); i >= 0 && query != "" && len(strings.ToLower(l.ID)) == len(l.ID) {
		t.Before, t.Match, t.After = l.ID[:i], l.ID[i:i+len(query)], l.ID[i+len(query):]
	}
	return t
}

// How many tools of a list are shown at first, and at most: who looks for one of more looks by name.
const (
	FirstShown = 10
	MostShown  = 500
)

// ToolsLink is the address of a list of tools: of those that all of some questions mean, "" for one that is not asked.
func ToolsLink(questions map[string]string, shown int) string {
	v := url.Values{}
	for name, value := range questions {
		if value != "" {
			v.Set(name, value)
		}
	}
	if shown > FirstShown {
		v.Set("shown", strconv.Itoa(shown))
	}
	if len(v) == 0 {
		return "/tools"
	}
	return "/tools?" + v.Encode()
}

// Count prints a count.
func Count(n int) string {
	if n < 1000 {
		return strconv.Itoa(n)
	}
	return Count(n/1000) + "," + strconv.Itoa(1000 + n%1000)[1:]
}
