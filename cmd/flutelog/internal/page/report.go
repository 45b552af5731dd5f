package page

import (
	"errors"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/export"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
)

// reportPage asks what a report is to be of.
type reportPage struct {
	Form    form
	Fields  []field
	Damage  error // what of it cannot be read
	Damaged bool  // was said, and the rest is wanted
}

// Tables is the address of the same as tables with their metadata.
func (p reportPage) Tables() string {
	for _, of := range [][2]string{{"inspection", "id"}, {"tool", "tool"}, {"job", "job"}} {
		if v := p.Form.Get(of[0]); v != "" && p.Form.Wrong[of[0]] == "" {
			return "/tables.zip?" + url.Values{of[1]: {v}}.Encode()
		}
	}
	return "/tables.zip"
}

// reportLink is the address where a report is asked for, with what is filled in already.
func reportLink(v url.Values) string {
	for name := range v {
		if v.Get(name) == "" {
			v.Del(name)
		}
	}
	if len(v) == 0 {
		return "/report"
	}
	return "/report?" + v.Encode()
}

// reportPage asks what a report is to be of.
func (s *Server) reportPage(w http.ResponseWriter, r *http.Request) {
	r.ParseForm()
	s.askReport(w, r, http.StatusOK, form{Values: r.Form}, nil)
}

func (s *Server) askReport(w http.ResponseWriter, r *http.Request, status int, f form, damage error) {
	var verdicts, standings, stages []option
	for _, v := range report.Verdicts {
		verdicts = append(verdicts, option{string(v), string(v)})
	}
	for _, v := range record.Standings {
		standings = append(standings, option{string(v), string(v)})
	}
	for _, v := range []inspect.Stage{inspect.Before, inspect.Between, inspect.After} {
		stages = append(stages, option{string(v), v.Words()})
	}
	ids, err := s.Ledger.Benches()
	if err != nil {
		s.refuse(w, r, http.StatusInternalServerError, err)
		return
	}
	if f.Get("unit") == "" {
		f.Set("unit", string(s.Unit))
	}
	p := reportPage{Form: f, Damage: damage, Damaged: damage != nil, Fields: []field{
		f.Choice("as", "A row is", "readings=a reading", "inspections=a figure of an inspection, with its limit", "tools=a tool, as it stands"),
		f.Choice("unit", "Lengths in", "in=inches", "mm=millimetres"),
		f.Field("tool", "Tool"), f.Field("job", "Job"), f.Field("inspection", "Inspection"),
		f.anyOf("stage", "Read", stages), f.anyOf("verdict", "Verdict", verdicts), f.anyOf("standing", "The tool stands", standings),
	}}
	if len(ids) > 1 || f.Opened("bench") {
		p.Fields = append(p.Fields, f.anyOf("bench", "Inspected at", s.benches(ids)))
	}
	s.show(w, r, status, "Report", p.html)
}

// report sends a quality report as a file. Of a damaged ledger that is said first, and then what can be read is sent.
func (s *Server) report(w http.ResponseWriter, r *http.Request) {
	r.ParseForm()
	text := func(name string) string { return strings.TrimSpace(r.Form.Get(name)) }
	a := report.Asked{
		As: text("as"), Tool: text("tool"), Job: text("job"), Inspection: text("inspection"), Bench: text("bench"), Stage: text("stage"), Verdict: text("verdict"),
		Standing: text("standing"),
	}
	format := report.Format{Unit: s.Unit, DecimalComma: text("decimal-comma") != ""}
	var errs []error
	var err error
	if a.From, err = aDay(text("since")); err != nil {
		errs = append(errs, at("since", err))
	}
	if a.To, err = aDay(text("until")); err != nil {
		errs = append(errs, at("until", err))
	}
	if unit := text("unit"); unit != "" {
		if format.Unit, err = length.ParseUnit(unit); err != nil {
			errs = append(errs, at("unit", err))
		}
	}
	benches, err := s.Ledger.Benches()
	if err != nil {
		s.refuse(w, r, http.StatusInternalServerError, err)
		return
	}
	kind, filter, err := a.Filter(s.Ledger, benches)
	if refusal := (*report.Refused)(nil); errors.As(err, &refusal) {
		err = at(refusal.Field, err)
	}
	if errs = append(errs, err); errors.Join(errs...) != nil {
		s.askReport(w, r, http.StatusUnprocessableEntity, refused(r.Form, slices.DeleteFunc(errs, func(err error) bool { return err == nil })...), nil)
		return
	}
	name := string(kind)
	for _, of := range []string{filter.Inspection, filter.Tool, filter.Job} {
		if of != "" {
			name = of + "-" + name
			break
		}
	}
	damage := (*ledger.DamageError)(nil)
	err = sendFile(w, export.FileName(name, ".csv"), "text/csv; charset=utf-8", func(to io.Writer) error {
		err := report.Write(to, s.Ledger, kind, filter, format)
		if errors.As(err, &damage) && text("damaged") != "" {
			return nil
		}
		return err
	})
	switch {
	case err != nil && damage != nil:
		s.askReport(w, r, http.StatusUnprocessableEntity, form{Values: r.Form}, err)
	case err != nil:
		s.refuse(w, r, http.StatusInternalServerError, err)
	}
}
