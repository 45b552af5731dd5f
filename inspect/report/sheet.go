package report

import (
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
	"flutelog/inspect/words"
)

// SheetInput is what the sheet and the tag of one inspection are made of.
type SheetInput struct {
	Inspection inspect.Inspection
	Judgement  inspect.Judgement
	Earlier    []EarlierStage // of the same regrind, in the order in which they were inspected
	Unit       length.Unit    // lengths are printed in
	Opened     Moment
	Closed     Moment
	Bench      string // the ledger's label
	Sequence   uint64 // of the newest record that counts
	Head       string // of that record
	Offsets    Offsets

	Standing    record.Standing // of the tool
	Locked      string          // what locked it
	Decides     bool            // the standing rests on this inspection
	NotReground bool            // it stands so without having been ground
	Practice    bool            // read with a practice gauge
	Rulings     []Ruled         // on this inspection, the oldest first
	Corrections []string        // what was put right in it, a line each
}

// EarlierStage is what an earlier inspection of the same regrind came to.
type EarlierStage struct {
	Stage     inspect.Stage
	Judgement inspect.Judgement
}

// Moment is a time as it is printed. A time from a clock that was not synchronised is marked so.
type Moment struct {
	Text     string
	ClockSet bool
}

func (m Moment) String() string {
	switch {
	case m.Text == "":
		return "\u2013"
	case !m.ClockSet:
		return m.Text + " (clock not set)"
	}
	return m.Text
}

// Ruled is what a person decided about the tool: release, concession or withdrawal.
type Ruled struct {
	What string // "released", "concession", "withdrawn"
	Who  string
	Why  string
	When Moment
}

func (d Ruled) String() string {
	s := d.What + " by " + d.Who + ", " + d.When.String()
	if d.Why != "" {
		s += ": " + d.Why
	}
	return s
}

// Offsets is what the machinist enters: the radius and the length, and how both changed since the tool
// was last inspected. What is not known is nil.
type Offsets struct {
	Radius       *length.Length
	RadiusChange *length.Length
	Length       *length.Length
	LengthChange *length.Length
}

// A fact is a name with a value.
type fact struct{ Name, Value string }

// known drops the facts without a value.
func known(all ...fact) []fact {
	return slices.DeleteFunc(all, func(f fact) bool { return f.Value == "" })
}

// A row is one finding in the table.
type row struct {
	Name, Value, Band, Limit string
	Verdict                  string
	Rule, Reason             string
	Figures                  bool // without figures the reason stands in their place
}

type sheet struct {
	Style     template.CSS
	Title     string
	Verdict   verdictMark
	Answer    string
	Work      []string
	Facts     []fact
	Unit      string
	Rows      []row
	More      int // findings left out of the table
	Looked    string
	Drawings  []figure
	Stock     []fact
	Remarks   []fact
	Record    []fact
	Head      string
	Leads     leads
	Rulings   []string
	Corrected []string
	Grinding  bool // cautions for the grind itself are called for
}

// Sheet writes the inspection as one HTML document that needs nothing beside it and prints on one page of A4
// or of Letter. What is too long for the page is cut off visibly; the record holds it whole.
//
// Errors are those of w.
func Sheet(w io.Writer, in SheetInput) error {
	if err := templates.ExecuteTemplate(w, "sheet.html", in.sheet()); err != nil {
		return fmt.Errorf("writing sheet of inspection %q: %w", in.Inspection.ID, err)
	}
	return nil
}

func (in SheetInput) sheet() sheet {
	j := in.Judgement
	a := words.Of(in.Inspection, j, in.Unit)
	s := sheet{
		Style:    Style + style("sheet.css"),
		Title:    "Inspection " + in.Inspection.ID,
		Verdict:  markOf(a),
		Answer:   cut(a.Headline, mostAnswer),
		Work:     work(a),
		Facts:    in.toolFacts(),
		Unit:     unitWord(in.Unit),
		Rows:     in.rows(a),
		More:     max(0, len(j.Findings)-mostRows),
		Looked:   in.looked(),
		Drawings: in.drawings(),
		Remarks:  in.remarks(a),
		Record:   in.record(),
		Head:     in.Head,
		Stock:    stock(a),
		Grinding: in.Inspection.Stage != inspect.After || j.Verdict != inspect.Accept,
	}
	s.Leads = in.standing()
	s.Verdict = s.Leads.Mark
	for _, r := range in.Rulings {
		s.Rulings = append(s.Rulings, cut(r.String(), mostDecision))
	}
	for _, c := range in.Corrections[max(0, len(in.Corrections)-mostCorrections):] {
		s.Corrected = append(s.Corrected, cut(c, mostDecision))
	}
	return s
}

// A verdictMark is a verdict as a shape and in words.
type verdictMark struct{ Shape, Word string }

func markOf(a words.Answer) verdictMark {
	if a.Mark == words.ToGrind {
		return verdictMark{string(a.Mark), "to grind"}
	}
	return verdictMark{string(a.Mark), a.Verdict}
}

// work lists the work. The headline gives the reason of the first already.
func work(a words.Answer) []string {
	var out []string
	for i, w := range a.Work[:min(len(a.Work), mostWorks)] {
		if i == 0 {
			w.Why = ""
		}
		out = append(out, cut(w.String(), mostWork))
	}
	if more := len(a.Work) - mostWorks; more > 0 {
		out = append(out, fmt.Sprintf("and %d more, in the record", more))
	}
	return out
}

func (in SheetInput) toolFacts() []fact {
	i, t := in.Inspection, in.Inspection.Tool
	helix := "straight"
	if t.Helix > 0 {
		helix = t.Helix.Format(0) + "\u00b0 " + string(t.Hand) + " hand"
	}
	return known(
		fact{"Tool", t.ID},
		fact{"Inspection", "no. " + strings.TrimPrefix(i.ID, t.ID+".")},
		fact{"Stage", string(i.Stage) + " the grind"},
		fact{"Diameter", t.Diameter.In(in.Unit)},
		fact{"Flutes", fmt.Sprint(t.Flutes)},
		fact{"Material", string(t.Material) + ", " + string(t.Duty)},
		fact{"Helix", helix},
		fact{"Ends", string(t.Ends)},
		fact{"Job", cut(i.Job, mostFact)},
	)
}

func unitWord(u length.Unit) string {
	switch u {
	case length.In:
		return "inches"
	case length.Mm:
		return "millimetres"
	}
	return string(u)
}

// figure prints a figure without the name of the unit that the whole table is in; degrees keep theirs.
func (in SheetInput) figure(q *inspect.Quantity) string {
	if q == nil {
		return "\u2013"
	}
	return strings.Replace(strings.TrimSuffix(q.In(in.Unit), " "+string(in.Unit)), " deg", "\u00b0", 1)
}

func (in SheetInput) rows(a words.Answer) []row {
	var rows []row
	for i, f := range in.Judgement.Findings[:min(len(in.Judgement.Findings), mostRows)] {
		said := a.Findings[i]
		r := row{
			Name: said.Name, Value: in.figure(f.Value), Band: in.figure(f.Uncertainty), Limit: in.limit(f),
			Verdict: said.Verdict, Rule: string(f.Rule), Figures: f.Value != nil,
		}
		if !r.Figures || !in.crowded() {
			r.Reason = cut(said.Why, mostReason)
		}
		if f.Flute > 0 {
			r.Name += fmt.Sprintf(", flute %d", f.Flute)
		}
		if f.Uncertainty != nil {
			r.Band = "\u00b1 " + r.Band
		}
		if f.Probability != nil {
			r.Rule += " " + percent(*f.Probability) + "\u00a0%"
		}
		rows = append(rows, r)
	}
	return rows
}

// percent prints a probability as whole percent, and never as a certainty.
func percent(p float64) string {
	switch {
	case p > 0.99:
		return "> 99"
	case p < 0.01:
		return "< 1"
	}
	return fmt.Sprintf("%.0f", 100*p)
}

func (in SheetInput) limit(f inspect.Finding) string {
	switch {
	case f.Least != nil && f.Most != nil:
		return in.figure(f.Least) + " to " + in.figure(f.Most)
	case f.Most != nil:
		return "\u2264 " + in.figure(f.Most)
	case f.Least != nil:
		return "\u2265 " + in.figure(f.Least)
	}
	return "none"
}

// looked tells what was looked for by eye, what was seen first.
func (in SheetInput) looked() string {
	var seen, not []string
	for _, s := range in.Inspection.Seen {
		name := strings.ReplaceAll(string(s.Sight), "-", " ")
		switch {
		case !s.Yes:
			not = append(not, name)
		case s.Note != "":
			seen = append(seen, name+" ("+s.Note+")")
		default:
			seen = append(seen, name)
		}
	}
	var parts []string
	if len(seen) > 0 {
		parts = append(parts, cut("seen: "+strings.Join(seen, ", "), mostLooked))
	}
	if len(not) > 0 {
		parts = append(parts, "not seen: "+strings.Join(not, ", "))
	}
	return strings.Join(parts, "; ")
}

// stock is the grind to come in figures.
func stock(a words.Answer) []fact {
	var all []fact
	for _, f := range a.Plan {
		all = append(all, fact{f.Name, cut(f.Value, mostAssumed)})
	}
	return all
}

// remarks are what was not read, the likely causes and the notes.
func (in SheetInput) remarks(a words.Answer) []fact {
	var all []fact
	for _, gap := range a.Open {
		all = append(all, fact{"Open", gap})
	}
	if a.NotAsked != "" {
		all = append(all, fact{"Not read at this bench", a.NotAsked})
	}
	if a.Held != "" {
		all = append(all, fact{"Run-out", a.Held})
	}
	for _, c := range a.Causes {
		all = append(all, fact{"Likely cause", c})
	}
	for _, n := range a.Notes {
		all = append(all, fact{"Note", n})
	}
	for i := range all {
		all[i].Value = cut(all[i].Value, mostRemark)
	}
	most := mostRemarks
	if in.crowded() {
		most = fewRemarks
	}
	if more := len(all) - most; more > 0 {
		all = append(all[:most], fact{"Note", fmt.Sprintf("and %d more, in the record", more)})
	}
	return all
}

// record is what the figures rest on and where they are kept.
func (in SheetInput) record() []fact {
	i := in.Inspection
	holding := string(i.Holding)
	if holding != "" && i.Reseated {
		holding += ", reseated between repeats"
	}
	rule := i.Basis.WorkRule
	if i.Stage == inspect.After {
		rule = i.Basis.ReleaseRule
	}
	ruleWords := string(rule)
	if rule == statistics.Guarded {
		ruleWords += ", at most 5 % risk of deciding wrongly"
	}
	sequence := cut(in.Bench, mostFact-20)
	if in.Sequence > 0 {
		sequence += fmt.Sprintf(", sequence %d", in.Sequence)
	}
	all := []fact{
		{"Inspector", cut(i.Inspector, mostFact)},
		{"Held in", holding},
		{"Opened", in.Opened.String()},
		{"Closed", in.Closed.String()},
		{"Decision rule", ruleWords},
		{"Limits from", cut(i.Basis.Revision, mostFact)},
		{"Bench and ledger", sequence},
	}
	return known(append(all, in.gauges()...)...)
}

// gauges are those that were read with, and how far they can be trusted.
func (in SheetInput) gauges() []fact {
	var names []string
	for _, r := range in.Inspection.Readings {
		names = append(names, r.Gauge)
	}
	slices.Sort(names)
	var all []fact
	for _, name := range slices.Compact(names) {
		all = append(all, fact{"Gauge", in.gauge(name)})
	}
	if more := len(all) - mostGauges; more > 0 {
		all = append(all[:mostGauges], fact{"Gauges", fmt.Sprintf("and %d more, in the record", more)})
	}
	return all
}

func (in SheetInput) gauge(name string) string {
	if name == "" {
		return "not stated"
	}
	text, g := cut(name, mostGauge), in.Inspection.Basis.Gauges[name]
	if g.Serial != "" {
		text += " no. " + cut(g.Serial, mostGauge)
	}
	if g.Resolution > 0 {
		text += ", reads to " + g.Resolution.In(in.Unit)
	}
	if g.CalibrationDue == "" {
		return text + ", calibration not stated"
	}
	return text + ", calibration due " + g.CalibrationDue
}
