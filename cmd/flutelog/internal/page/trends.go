package page

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"flutelog/cmd/flutelog/internal/trends"
	"flutelog/cmd/internal/look"
	"flutelog/inspect"
	"flutelog/inspect/record"
)

// trendsPage is how the bench does over time.
type trendsPage struct {
	Words  string
	Chips  []look.Chip
	Form   form
	Fields []field // what can be chosen beside the stage
	Charts []drawnTrend
	Report string
	Damage error
}

// drawnTrend is a chart with where its limits can be kept or let go.
type drawnTrend struct {
	trends.Drawn
	Limits string
}

// choiceOf reads which inspections trends are of.
func (s *Server) choiceOf(f url.Values) (c trends.Choice, errs []error) {
	text := func(name string) string { return strings.TrimSpace(f.Get(name)) }
	c = trends.Choice{
		Stage: cmp.Or(text("stage"), string(inspect.After)), Tool: text("tool"), Bench: text("bench"), Grinder: text("grinder"), Wheel: text("wheel"),
		Gauge: text("gauge"), Inspector: text("inspector"), Material: text("material"), Since: text("since"), Until: text("until"),
	}
	if _, err := inspect.ParseStage(c.Stage); err != nil {
		errs, c.Stage = append(errs, err), string(inspect.After)
	}
	if c.Material != "" && !slices.Contains(inspect.Materials, inspect.Material(c.Material)) {
		errs, c.Material = append(errs, at("material", fmt.Errorf("%q: want one of %v", c.Material, inspect.Materials))), ""
	}
	for name, d := range map[string]*string{"since": &c.Since, "until": &c.Until} {
		if _, err := aDay(*d); err != nil {
			errs, *d = append(errs, at(name, err)), ""
		}
	}
	if c.Tool != "" {
		t, err := record.FindTool(s.Ledger, c.Tool)
		if err != nil && t.ID == "" {
			errs = append(errs, at("tool", err))
		}
		c.Tool = t.ID
	}
	return c, errs
}

// aDay reads a day as a form sends it, in the bench's own zone; the zero time for none.
func aDay(text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	t, err := time.ParseInLocation(time.DateOnly, text, time.Local)
	if err != nil {
		return t, fmt.Errorf("%q: want a day such as 2026-01-31", text)
	}
	return t, nil
}

// chosen are the values of a choice that are not as usual, for an address.
func chosen(c trends.Choice) url.Values {
	v := url.Values{}
	for name, value := range map[string]string{
		"stage": c.Stage, "tool": c.Tool, "bench": c.Bench, "grinder": c.Grinder, "wheel": c.Wheel, "gauge": c.Gauge, "inspector": c.Inspector, "material": c.Material,
		"since": c.Since, "until": c.Until,
	} {
		if value != "" && (name != "stage" || value != string(inspect.After)) {
			v.Set(name, value)
		}
	}
	return v
}

func trendsLink(c trends.Choice) string {
	if v := chosen(c); len(v) > 0 {
		return "/trends?" + v.Encode()
	}
	return "/trends"
}

// trends shows the trends of what was inspected: at a stage, of a tool, wheel, gauge, person, bench, of some days.
func (s *Server) trends(w http.ResponseWriter, r *http.Request) {
	r.ParseForm()
	c, errs := s.choiceOf(r.Form)
	charts, names, words, err := trends.Charts(s.Ledger, s.Unit, s.Now(), c)
	if err != nil && charts == nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	status := http.StatusOK
	if errs != nil {
		status = http.StatusUnprocessableEntity
		if slices.ContainsFunc(errs, isAbsent) {
			status = http.StatusNotFound
		}
	}
	p := trendsPage{Words: words, Form: refused(r.Form, errs...), Damage: err}
	for _, one := range charts {
		d := drawnTrend{Drawn: one}
		if v := chosen(c); one.Fixed != "" || one.Loose == nil {
			v.Set("what", one.What)
			d.Limits = "/limits?" + v.Encode()
		}
		p.Charts = append(p.Charts, d)
	}
	for _, stage := range []inspect.Stage{inspect.After, inspect.Before} {
		to := c
		to.Stage = string(stage)
		p.Chips = append(p.Chips, look.Chip{Words: stage.Words(), Link: trendsLink(to), Current: c.Stage == to.Stage})
	}
	p.Fields = s.toChoose(p.Form, c, names)
	if all := (trends.Choice{Stage: c.Stage}); c != all {
		p.Chips = append(p.Chips, look.Chip{Words: "all of them", Link: trendsLink(all)})
	}
	p.Report = reportLink(url.Values{"tool": {c.Tool}, "stage": {c.Stage}, "bench": {c.Bench}, "since": {c.Since}, "until": {c.Until}})
	s.show(w, r, status, "Trends", p.html)
}

// toChoose are the fields by which inspections are chosen: those of which there are several, or one was chosen.
func (s *Server) toChoose(f form, c trends.Choice, names trends.Names) []field {
	wheels, _ := record.Wheels(s.Ledger) // what cannot be read is said already
	for _, wheel := range wheels {
		if !slices.Contains(names.Wheels, wheel) {
			names.Wheels = append(names.Wheels, wheel) // dressed, and not ground with yet
		}
	}
	slices.SortFunc(names.Wheels, record.Natural)
	var fields []field
	for _, x := range []struct {
		name, label, now string
		there            []option
	}{
		{"wheel", "Wheel", c.Wheel, optionsOf(names.Wheels)},
		{"gauge", "Gauge", c.Gauge, optionsOf(names.Gauges)},
		{"inspector", "Read by", c.Inspector, optionsOf(names.Inspectors)},
		{"bench", "Inspected at", c.Bench, s.benches(names.Benches)},
		{"grinder", "Grinder", c.Grinder, optionsOf(names.Grinders)},
		{"material", "Material", c.Material, optionsOf(names.Materials)},
	} {
		if len(x.there) > 1 || x.now != "" || f.Wrong[x.name] != "" {
			fields = append(fields, f.anyOf(x.name, x.label, x.there))
		}
	}
	return fields
}

func optionsOf(values []string) []option {
	var all []option
	for _, v := range values {
		all = append(all, option{v, v})
	}
	return all
}

// benches are benches by their ids, this one called so and others by the first letters, as commands take them.
func (s *Server) benches(ids []string) []option {
	own, _ := s.Ledger.Head() // of a new ledger none is its own
	var all []option
	for _, id := range ids {
		words := "bench " + id[:min(len(id), 6)]
		if id == own.Bench {
			words = "this bench, " + id[:min(len(id), 6)]
		}
		all = append(all, option{id, words})
	}
	return all
}

// anyOf returns a field that is chosen from options or left at any of them; what was sent and is none stays in it.
func (f form) anyOf(name, label string, options []option) field {
	c := f.Field(name, label)
	c.Options = append([]option{{"", "any"}}, options...)
	if !slices.ContainsFunc(c.Options, func(o option) bool { return o.Value == c.Value }) {
		c.Options = append(c.Options, option{c.Value, c.Value})
	}
	return c
}

// limitsPage asks whether the limits of a chart are kept, or let go.
type limitsPage struct {
	Sentence, Words string // what the chart shows, and of what it is
	Fixed           bool   // they are kept already: they can be let go
	Form            form
	Back            string
}

// limits asks whether the limits of a chart are kept as they are, or computed from the inspections again.
func (s *Server) limits(w http.ResponseWriter, r *http.Request) {
	r.ParseForm()
	s.askLimits(w, r, http.StatusOK, form{Values: r.Form})
}

func (s *Server) askLimits(w http.ResponseWriter, r *http.Request, status int, f form) {
	c, errs := s.choiceOf(f.Values)
	charts, _, words, err := trends.Charts(s.Ledger, s.Unit, s.Now(), c)
	i := slices.IndexFunc(charts, func(d trends.Drawn) bool { return d.What == f.Get("what") })
	switch {
	case errs != nil:
		err = errs[0]
	case i < 0 && err == nil:
		err = errors.New("there is no chart of that")
	case i >= 0 && charts[i].Fixed == "" && charts[i].Loose != nil:
		err = charts[i].Loose
	case i >= 0:
		err = nil // what is damaged is told beside the charts
	}
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	s.show(w, r, status, "Limits of a chart", limitsPage{charts[i].Sentence, words, charts[i].Fixed != "", f, trendsLink(c)}.html)
}

// keepLimits keeps the limits of a chart, or lets them go.
func (s *Server) keepLimits(w http.ResponseWriter, r *http.Request) {
	c, errs := s.choiceOf(r.PostForm)
	err := errors.Join(errs...)
	if err == nil {
		err = trends.KeepLimits(s.Ledger, s.Unit, s.Now(), c, r.PostForm.Get("what"), browserOf(r).Who, r.PostForm.Get("let-go") == "")
	}
	if err != nil {
		s.askLimits(w, r, statusOf(err), refused(r.PostForm, err))
		return
	}
	http.Redirect(w, r, trendsLink(c), http.StatusSeeOther)
}
