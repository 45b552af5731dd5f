package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/cmd/flutelog/internal/tools"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// showFlags are the flags of show.
type showFlags struct {
	command.Places
	command.Units
	again bool
}

func showCommand() command.Command {
	var s showFlags
	return command.Command{
		Name: "show", Args: "INSPECTION",
		Summary: "show a closed inspection as it stands: what was read, what it came to, and its place in the ledger",
		Example: "show EM-0412.1",
		Flags: func(f *command.Flags) {
			f.BoolVar(&s.again, "again", false, "what today's rules would say of the same readings; what stands is what it was judged as")
			s.Places.Flags(f)
			s.Units.Flags(f)
		},
		Run: func(e command.Env, f *command.Flags) error {
			return command.Paged(e, func(e command.Env) error { return s.run(e, f.Args[0]) })
		},
	}
}

func (s *showFlags) run(e command.Env, id string) error {
	at, err := s.OpenIn(e, &s.Units)
	if err != nil {
		return err
	}
	in, err := record.Find(at.Ledger, id)
	if err != nil {
		return err
	}
	if s.again {
		stage := in.Inspection
		stage.Basis = at.Bench.Basis(in.Tool, in.Stage)
		stage.Basis.Gauges = in.Basis.Gauges
		j := inspect.Judge(stage)
		if !s.JSON {
			fmt.Fprintf(e.Stdout, "BY TODAY'S RULES (%s); what stands is what show says without --again\n", stage.Basis.Revision)
		}
		return output.ReportJudgement(e, stage, j, in.Newest, at.Unit, s.JSON)
	}
	if s.JSON {
		text, err := output.InspectionJSON(&in, at.Unit)
		if err == nil {
			text, err = output.JoinedJSON(text, newReadJSON(&in, at.Unit))
		}
		if err == nil {
			err = command.PrintJSON(e, text)
		}
		if err != nil {
			return err
		}
		return output.StandingStatus(&in)
	}
	output.Standing(e, &in, at.Unit)
	printInspection(e, &in, at.Unit)
	output.Judgement(e, in.Inspection, in.Judgement, at.Unit)
	if err := printReadings(e, &in, at.Unit); err != nil {
		return err
	}
	return output.StandingStatus(&in)
}

func printInspection(e command.Env, in *record.Inspection, unit length.Unit) {
	tools.Print(e.Stdout, in.Tool, unit)
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	row := func(name, value string) {
		if value != "" {
			fmt.Fprintf(w, "%s\t%s\n", name, value)
		}
	}
	row("inspection", in.ID)
	row("stage", string(in.Stage))
	row("job", in.Job)
	row("inspector", in.Inspector)
	row("held in", string(in.Holding))
	row("opened", in.Opened)
	closed := in.Closed
	if !in.Record.Time.Synchronised {
		closed += " (clock not set by a reference)"
	}
	row("closed", closed)
	row("judged by", in.Basis.Revision)
	row("given up", in.Discarded)
	for _, s := range in.Skipped {
		what := words.Named(s.Question.Key)
		if s.Question.Sight != "" {
			what = strings.ReplaceAll(string(s.Question.Sight), "-", " ")
		}
		row("left out", what+": "+s.Reason)
	}
	w.Flush()
}

func printReadings(e command.Env, in *record.Inspection, unit length.Unit) error {
	fmt.Fprintln(e.Stdout)
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	for _, s := range in.Seen {
		fmt.Fprintf(w, "%s\t%s\t%s\n", s.Sight.Question(), strings.Replace(words.Answered(s, unit), "yes", "YES", 1), s.Note)
	}
	w.Flush()
	w = tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "feature\tflute\tfrom end\trepeat\tvalue\tas read\tgauge\tat")
	for _, d := range in.Readings {
		from, repeat, mark := "-", fmt.Sprint(d.Repeat), ""
		if d.FromEnd != nil {
			from = d.FromEnd.In(unit)
		}
		if d.Closing {
			repeat = "closing"
		}
		for _, c := range in.Corrections {
			if c.Reading != nil && c.Reading.Key() == d.Key() {
				mark = ", corrected from " + c.Was.Value.In(unit)
			}
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%s %s%s\t%s\t%s\n", d.Feature, output.Flute(d.Flute), from, repeat, d.Value.In(unit), d.Text, d.Unit, mark, d.Gauge, d.At)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	output.Head(e, in.Newest)
	return nil
}

// readJSON is what was read and seen, as it stands, for a program.
type readJSON struct {
	Job       string        `json:"job,omitempty"`
	Inspector string        `json:"inspector,omitempty"`
	Opened    string        `json:"opened"`
	Closed    string        `json:"closed"`
	ClockSet  bool          `json:"clock_set"`
	GivenUp   string        `json:"given_up,omitempty"`
	Seen      []seenJSON    `json:"seen"`
	Readings  []readingJSON `json:"readings"`
}

type seenJSON struct {
	Sight  inspect.Sight  `json:"sight"`
	Yes    bool           `json:"yes"`
	Unsure bool           `json:"unsure,omitempty"` // with yes: it may be one
	Flute  int            `json:"flute,omitempty"`
	Length *length.Number `json:"length,omitempty"` // of a chip
	Note   string         `json:"note,omitempty"`
}

type readingJSON struct {
	Feature    inspect.Feature `json:"feature"`
	Flute      int             `json:"flute,omitempty"`
	FromEnd    *length.Number  `json:"from_end,omitempty"`
	Repeat     int             `json:"repeat,omitempty"`
	Closing    bool            `json:"closing,omitempty"`
	Value      length.Number   `json:"value"`
	Unit       length.Unit     `json:"unit"`
	AsRead     string          `json:"as_read"`
	AsReadUnit length.Unit     `json:"as_read_unit"`
	Gauge      string          `json:"gauge,omitempty"`
	At         string          `json:"at,omitempty"`
}

func newReadJSON(in *record.Inspection, unit length.Unit) readJSON {
	r := readJSON{
		Job: in.Job, Inspector: in.Inspector, Opened: in.Opened, Closed: in.Closed, ClockSet: in.Record.Time.Synchronised, GivenUp: in.Discarded,
		Seen: []seenJSON{}, Readings: []readingJSON{},
	}
	for _, s := range in.Seen {
		one := seenJSON{Sight: s.Sight, Yes: s.Yes, Unsure: s.Unsure, Flute: s.Flute, Note: s.Note}
		if s.Length != nil {
			n := s.Length.Number(unit)
			one.Length = &n
		}
		r.Seen = append(r.Seen, one)
	}
	for _, d := range in.Readings {
		one := readingJSON{
			Feature: d.Feature, Flute: d.Flute, Repeat: d.Repeat, Closing: d.Closing, Value: d.Value.Number(unit), Unit: unit,
			AsRead: d.Text, AsReadUnit: d.Unit, Gauge: d.Gauge, At: d.At,
		}
		if d.FromEnd != nil {
			n := d.FromEnd.Number(unit)
			one.FromEnd = &n
		}
		r.Readings = append(r.Readings, one)
	}
	return r
}
