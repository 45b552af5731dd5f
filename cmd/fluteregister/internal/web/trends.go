package web

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/paper"
)

// option is one choice of a form.
type option struct{ Value, Words string }

// figures are what a trend is of.
var figures = []struct {
	option
	title  string
	skewed bool // never below zero, with its long tail upward
	floor  bool // never below zero
}{
	{option{"tir", "run-out (TIR)"}, "Radial run-out (TIR)", true, true},
	{option{"residual", "tooth-to-tooth error"}, "Tooth-to-tooth error, run-out without the offset", true, true},
	{option{"ratio", "primary share of the land"}, "Primary share of the land, worst flute", false, true},
	{option{"relief", "primary relief"}, "Primary relief", false, false},
	{option{"diameter", "diameter"}, "Diameter", false, false},
}

// groups are what a trend is looked at by. People are not among them for all who look.
var groups = []option{{"wheel", "wheel"}, {"grinder", "grinder"}, {"gauge", "gauge"}, {"plant", "plant"}, {"bench", "bench"}, {"person", "person"}}

var stages = []option{{string(inspect.After), inspect.After.Words()}, {string(inspect.Between), inspect.Between.Words()}, {string(inspect.Before), inspect.Before.Words()}}

// groupRow is what a figure came to in one group.
type groupRow struct {
	Name, Link  string
	Inspections int
	Mean        string
	Least, Most string
	Rejected    int
	Last        string // month
}

// monthRow is what it came to in one month.
type monthRow struct {
	Month       string
	Inspections int
	Mean        string
	Least, Most string
	Rejected    int
}

type trendsPage struct {
	What, By, Of, Stage, Since, Until string
	Whats, Bys, Stages                []option
	Told                              string // why not all is shown
	Heading                           string
	Unit                              string
	ByWord                            string
	Groups                            []groupRow
	Charts                            []paper.Charted
	Months                            []monthRow
	All                               string // where all groups are
	Wrong                             string
}

// valuesAtMost is how many inspections a chart's limits are worked out from.
const valuesAtMost = 10_000

// trends shows a figure over all benches by what it may hang on, month by month.
func (s *Site) trends(v *visit) error {
	role := Role(v.who.Role)
	p := trendsPage{
		What: cmp.Or(v.value("what"), "tir"), By: cmp.Or(v.value("by"), "wheel"), Of: v.value("of"), Stage: cmp.Or(v.value("stage"), string(inspect.After)),
		Since: v.value("since"), Until: v.value("until"), Stages: stages,
	}
	for _, f := range figures {
		p.Whats = append(p.Whats, f.option)
	}
	for _, g := range groups {
		if g.Value != "person" || role.atLeast(Inspector) {
			p.Bys = append(p.Bys, g)
		}
		if g.Value == p.By {
			p.ByWord = g.Words
		}
	}
	if p.By == "person" {
		switch role {
		case Steward:
		case Inspector:
			if p.Of != "" && p.Of != v.who.Name {
				return &refused{http.StatusForbidden, "How others read is for stewards; you see your own."}
			}
			p.Of, p.Told = v.who.Name, "You see what you read yourself; a steward sees all."
		default:
			return &refused{http.StatusForbidden, "How a person reads is shown to that person, where they are an inspector, and to stewards."}
		}
	}
	t := store.Trend{What: p.What, By: p.By, Of: p.Of, Stage: inspect.Stage(p.Stage)}
	for _, d := range []struct {
		name, text string
		to         *time.Time
		add        int
	}{{"From", p.Since, &t.From, 0}, {"Up to", p.Until, &t.To, 1}} {
		if d.text == "" {
			continue
		}
		at, err := time.Parse(time.DateOnly, d.text)
		if err != nil {
			return &refused{http.StatusUnprocessableEntity, fmt.Sprintf("%s “%s”: want a day such as 2026-01-31.", d.name, d.text)}
		}
		*d.to = at.AddDate(0, 0, d.add)
	}
	months, unit, err := s.Store.Months(v, t)
	if errors.Is(err, store.ErrNoTrend) {
		return &refused{http.StatusNotFound, "There is no trend of that; choose a figure, and what it is looked at by."}
	}
	if err != nil {
		return err
	}
	scale := s.scale(unit)
	p.Unit = scale.name
	if p.Of == "" {
		err = s.byGroup(v, &p, months, scale)
	} else {
		err = s.ofGroup(v, &p, t, months, scale)
	}
	if err != nil {
		return err
	}
	s.show(v, http.StatusOK, "Trends", p.html)
	return nil
}

// scale turns a figure as the database has it into the unit that is shown.
type scale struct {
	name     string
	factor   float64
	decimals int
}

func (s *Site) scale(unit string) scale {
	switch unit {
	case "mm":
		return scale{string(s.Unit), float64(length.Mm.Size()) / float64(s.Unit.Size()), s.Unit.Decimals()}
	case "deg":
		return scale{"degrees", 1, 2}
	}
	return scale{"of the land", 1, 3}
}

func (c scale) print(v float64) string {
	return strings.Replace(strconv.FormatFloat(v*c.factor, 'f', c.decimals, 64), "-", "\u2212", 1)
}

// group names one group in words.
func (p *trendsPage) group(of string, names map[string]string) string {
	switch {
	case of == "":
		return "not told"
	case p.By == "bench":
		return called(names, of)
	}
	return of
}

func (p *trendsPage) link(of string) string {
	v := url.Values{"what": {p.What}, "by": {p.By}, "stage": {p.Stage}}
	for name, value := range map[string]string{"of": of, "since": p.Since, "until": p.Until} {
		if value != "" {
			v.Set(name, value)
		}
	}
	return "/trends?" + v.Encode()
}

// byGroup says of each group what the figure came to over all months.
func (s *Site) byGroup(v *visit, p *trendsPage, months []store.Month, scale scale) error {
	names, err := s.Store.Names(v)
	if err != nil {
		return err
	}
	all := 0
	for len(months) > 0 {
		of := months[0].Of
		n := slices.IndexFunc(months, func(m store.Month) bool { return m.Of != of })
		if n < 0 {
			n = len(months)
		}
		r := groupRow{Name: p.group(of, names), Last: months[n-1].Month}
		if of != "" {
			r.Link = p.link(of)
		}
		sum, least, most := 0.0, months[0].Least, months[0].Most
		for _, m := range months[:n] {
			r.Inspections += m.Inspections
			r.Rejected += m.Rejected
			sum += m.Mean * float64(m.Inspections)
			least, most = min(least, m.Least), max(most, m.Most)
		}
		r.Mean, r.Least, r.Most = scale.print(sum/float64(r.Inspections)), scale.print(least), scale.print(most)
		p.Groups = append(p.Groups, r)
		months = months[n:]
		all += r.Inspections
	}
	slices.SortStableFunc(p.Groups, func(a, b groupRow) int { return cmp.Compare(b.Inspections, a.Inspections) })
	p.Heading = fmt.Sprintf("%s of %s, by %s", figureOf(p.What), plural(all, "inspection"), p.ByWord)
	if all == 0 {
		p.Heading = figureOf(p.What) + ": nothing read yet that counts"
	}
	return nil
}

func figureOf(what string) string {
	for _, f := range figures {
		if f.Value == what {
			return f.title
		}
	}
	return what
}

// ofGroup draws the figure of one group: its last inspections, with where its values fall, and its months.
func (s *Site) ofGroup(v *visit, p *trendsPage, t store.Trend, months []store.Month, scale scale) error {
	names, err := s.Store.Names(v)
	if err != nil {
		return err
	}
	values, _, err := s.Store.Values(v, t, valuesAtMost)
	if err != nil {
		return err
	}
	group := p.group(p.Of, names)
	title := figureOf(p.What) + ", " + p.ByWord + " " + group
	each := papers.Series{Title: title, Unit: scale.name, Decimals: scale.decimals}
	for _, f := range figures {
		if f.Value == p.What {
			each.Skewed = f.skewed
			if f.floor {
				each.Least = new(float64)
			}
		}
	}
	for _, x := range values {
		value := papers.Value{Number: x.Value * scale.factor, Inspection: x.Inspection, Closed: x.Closed}
		for _, l := range []struct{ from, to **float64 }{{&x.Least, &value.Least}, {&x.Most, &value.Most}} {
			if *l.from != nil {
				limit := **l.from * scale.factor
				*l.to = &limit
			}
		}
		each.Values = append(each.Values, value)
	}
	if p.What == "diameter" {
		p.Told = listed(p.Told, "A diameter only shrinks, and differs from tool to tool: no limits are worked out from it.")
	} else {
		each = each.Limited()
	}
	byMonth := papers.Series{Title: "The same, mean by month", Unit: scale.name, Decimals: scale.decimals, Least: each.Least}
	for _, m := range months {
		byMonth.Values = append(byMonth.Values, papers.Value{Number: m.Mean * scale.factor, Closed: m.Month + "-01T00:00:00Z"})
		p.Months = append(p.Months, monthRow{m.Month, m.Inspections, scale.print(m.Mean), scale.print(m.Least), scale.print(m.Most), m.Rejected})
	}
	p.Charts = append(p.Charts, each.Chart())
	if len(byMonth.Values) > 1 {
		p.Charts = append(p.Charts, byMonth.Chart())
	}
	slices.Reverse(p.Months)
	p.Heading = title
	if p.By != "person" || Role(v.who.Role) == Steward {
		p.All = p.link("")
	}
	return nil
}

// listed puts sentences that are there behind each other.
func listed(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), " ")
}
