package page

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
)

// row is one line of a list: what it is, how it stands, what there is to say of it, and where it leads.
type row struct {
	Mark  mark.HTML
	ID    string
	Word  string // behind the id
	Right string
	Under string
	Link  string
}

// group is a heading of the board with the rows under it.
type group struct {
	Place, Name string
	Mark        mark.HTML
	Count       int
	Rows        []row
	All         string // where all of them are listed, when they are more
}

// tally is how many stand alike, and where they are listed.
type tally struct {
	Mark  mark.HTML
	Count int
	Words string
	Link  string
}

// boardPage is what waits at the bench.
type boardPage struct {
	Empty   bool // no tool is on record
	Stop    []row
	Heading string // of what must not cut
	Counts  []tally
	Columns [][]group
	Clear   string // said where nothing waits

	Register string // how the sending to the register stands; "" for none
	Damage   error
}

// mostRows is how many rows of a group the board shows: what is more is listed behind a link.
const mostRows = 5

// gather reads what waits.
func (s *Server) gather() (board.Board, error) {
	var gauges []board.Calibrated
	for _, g := range s.Bench.Gauges {
		gauges = append(gauges, board.Calibrated{Name: g.Name, CalibrationDue: g.CalibrationDue})
	}
	return board.Gather(s.Ledger, gauges, s.Now())
}

// home shows the board.
func (s *Server) home(w http.ResponseWriter, r *http.Request) {
	b, err := s.gather()
	if err != nil && b.Empty && b.Open == nil {
		s.refuse(w, r, http.StatusInternalServerError, err)
		return
	}
	p := s.boardPage(b)
	p.Damage, p.Register = err, register.Line(s.Ledger, s.Now().Local())
	s.show(w, r, http.StatusOK, "Board", p.html)
}

func (s *Server) boardPage(b board.Board) boardPage {
	p := boardPage{Empty: b.Empty && len(b.Open) == 0}
	groups := map[record.Standing]*group{}
	for _, st := range record.Standings {
		groups[st] = &group{Place: strings.ReplaceAll(string(st), " ", "-"), Name: capital(string(st)), Mark: mark.Standing(st).SVG()}
	}
	half := s.halfRead(b.Open)
	for _, x := range b.Waiting {
		g := groups[x.Standing]
		g.Count++
		if x.Standing.Stops() {
			p.Stop = append(p.Stop, row{Mark: g.Mark, ID: x.Tool, Word: string(x.Standing), Right: s.when(x.Since), Under: capital(x.What), Link: link("/tool", x.Tool)})
			continue
		}
		if slices.ContainsFunc(b.Open, func(o board.Open) bool { return o.Tool == x.Tool }) {
			continue // it stands among the half read
		}
		if len(g.Rows) < mostRows {
			right := x.Job
			if right == "" {
				right = s.when(x.Since)
			}
			g.Rows = append(g.Rows, row{ID: x.Tool, Right: right, Under: x.What, Link: link("/tool", x.Tool)})
		}
	}
	for st, g := range groups {
		if g.Count > len(g.Rows) {
			g.All = toolsLink("", st, 0)
		}
	}
	switch n := len(p.Stop); {
	case n == 1:
		p.Heading = "Stop: one tool must not cut"
	case n > 1:
		p.Heading = fmt.Sprintf("Stop: %d tools must not cut", n)
	}
	jobs, due := s.jobGroup(b.Jobs), dueGroup(b.Gauges)
	count := func(g group, words, link string) {
		if g.Count > 0 {
			p.Counts = append(p.Counts, tally{g.Mark, g.Count, words, link})
		}
	}
	count(*groups[record.StandsRecalled], "recalled", toolsLink("", record.StandsRecalled, 0))
	count(*groups[record.StandsLocked], "locked", toolsLink("", record.StandsLocked, 0))
	count(half, "half read", "#half")
	for _, st := range []record.Standing{record.StandsToFinish, record.StandsToGrind, record.StandsToInspect, record.StandsToSign, record.StandsReceived} {
		count(*groups[st], string(st), toolsLink("", st, 0))
	}
	count(due, "calibration due", "#due")
	for _, column := range [][]group{
		{half, *groups[record.StandsToInspect], *groups[record.StandsReceived]},
		{*groups[record.StandsToFinish], *groups[record.StandsToGrind]},
		{*groups[record.StandsToSign], jobs, due},
	} {
		if column = slices.DeleteFunc(column, func(g group) bool { return len(g.Rows) == 0 }); len(column) > 0 {
			p.Columns = append(p.Columns, column)
		}
	}
	if len(p.Columns)+len(p.Stop) == 0 {
		p.Clear = "The board is clear: no tool is recalled, locked or half read, and none waits."
	}
	return p
}

// halfRead are the inspections that were begun and not closed, those in hand among them.
func (s *Server) halfRead(open []board.Open) group {
	g := group{Place: "half", Name: "Half read", Mark: mark.Half.SVG(), Count: len(open)}
	held := s.hub.inHand()
	for _, o := range open {
		x := row{ID: o.Tool, Right: o.By, Under: fmt.Sprintf("%s, %d of %d read", o.Stage.Words(), o.Answered, o.Of), Link: link("/inspection", o.Inspection)}
		if slices.Contains(held, o.Inspection) {
			x.Under += ", in hand now"
		}
		if o.Damaged != "" {
			x.Under += "; part of it cannot be read"
		}
		g.Rows = append(g.Rows, x)
	}
	return g
}

func (s *Server) jobGroup(jobs []board.Job) group {
	g := group{Place: "jobs", Name: "Jobs and what each lacks", Count: len(jobs)}
	for _, j := range jobs[:min(len(jobs), mostRows)] {
		var lacks []string
		for _, t := range j.Lacks[:min(len(j.Lacks), 4)] {
			lacks = append(lacks, t.Tool+" "+t.What)
		}
		if more := len(j.Lacks) - len(lacks); more > 0 {
			lacks = append(lacks, fmt.Sprintf("%d more", more))
		}
		under := cmp.Or(j.Waits, "Lacks: "+strings.Join(lacks, ", "))
		if j.Customer != "" {
			under = j.Customer + ". " + under
		}
		g.Rows = append(g.Rows, row{ID: j.Job, Right: j.Count, Under: under, Link: link("/job", j.Job)})
	}
	if len(jobs) > mostRows {
		g.All = "/jobs"
	}
	return g
}

func dueGroup(gauges []board.Due) group {
	g := group{Place: "due", Name: "Gauges due", Mark: mark.Due.SVG(), Count: len(gauges)}
	for _, d := range gauges {
		g.Rows = append(g.Rows, row{ID: d.Name, Under: d.Words()})
	}
	return g
}

// when says a time of the ledger as a person does: today with the hour, then the day.
func (s *Server) when(stamp string) string {
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return stamp
	}
	now := s.Now().Local()
	t = t.Local()
	begins := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
	switch {
	case !t.Before(begins) && t.Before(begins.AddDate(0, 0, 1)):
		return "today " + t.Format("15:04")
	case !t.Before(begins.AddDate(0, 0, -1)) && t.Before(begins):
		return "yesterday"
	case t.Year() == now.Year():
		return t.Format("2 January")
	}
	return t.Format("2 January 2006")
}
