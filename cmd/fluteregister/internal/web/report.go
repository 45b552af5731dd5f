package web

import (
	"net/http"

	"flutelog/inspect"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

type reportPage struct {
	Kinds     []option
	Stages    []option
	Standings []option
	Benches   []option
	Verdicts  []option
}

// report asks what a report is to hold. The file is the one that a bench with all the ledgers in it would write.
func (s *Site) report(v *visit) error {
	all, err := s.Store.Benches(v)
	if err != nil {
		return err
	}
	p := reportPage{
		Kinds:  []option{{string(report.ReadingRows), "a row a reading"}, {string(report.InspectionRows), "a row a finding of an inspection"}, {string(report.ToolRows), "a row a tool, as it stands"}},
		Stages: stages,
	}
	for _, st := range record.Standings {
		p.Standings = append(p.Standings, option{string(st), string(st)})
	}
	for _, verdict := range []inspect.Verdict{inspect.Accept, inspect.Reject, inspect.Undecided, inspect.NotJudged} {
		p.Verdicts = append(p.Verdicts, option{string(verdict), string(verdict)})
	}
	for _, b := range all {
		p.Benches = append(p.Benches, option{b.Bench, b.Name})
	}
	s.show(v, http.StatusOK, "Report", p.html)
	return nil
}

func (s *Site) reportCSV(v *visit) error {
	status, err := s.Report(v.w, v.r)
	if err != nil && status != http.StatusInternalServerError {
		return &refused{status, err.Error()}
	}
	return err
}
