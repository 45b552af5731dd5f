package main

import (
	"fmt"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/session"
)

// rulingFlags are the flags of what a person decides after an inspection.
type rulingFlags struct {
	places
	by, why string
}

func (r *rulingFlags) flags(f *flags) {
	f.StringVar(&r.by, "by", "", "who decides")
	f.StringVar(&r.why, "why", "", "why")
	r.places.flags(f)
}

// rulingCommand is tool release, tool concession or tool withdraw.
func rulingCommand(ruling session.Ruling, summary, example string) command {
	var r rulingFlags
	return command{
		name: string(ruling), args: "INSPECTION", summary: summary, example: example,
		flags: r.flags,
		run: func(e env, f *flags) error {
			b, l, err := r.open(e)
			if err != nil {
				return err
			}
			if err := b.CheckInspector(r.by); err != nil && r.by != "" {
				return usageError{err}
			}
			record, err := session.Decide(l, f.args[0], ruling, r.by, r.why, e.now())
			if err != nil {
				return err
			}
			fmt.Fprintf(e.stdout, "%s: %s by %s\n", f.args[0], ruling, r.by)
			printHead(e, record)
			return nil
		},
	}
}

func rulingCommands() []command {
	return []command{
		rulingCommand(session.Released, "sign for a tool that its inspection after the grind accepts", `tool release EM-0412.3 --by "R. Vale"`),
		rulingCommand(session.Concession, "release a tool that does not conform, for a reason", `tool concession EM-0412.4 --by "R. Vale" --why "roughing only"`),
		rulingCommand(session.Withdrawn, "withdraw a tool for good, for a reason", `tool withdraw EM-0412.1 --by "R. Vale" --why cracked`),
	}
}

// correctFlags are the flags of a correction.
type correctFlags struct {
	rulingFlags
	units
	feature, fromEnd, value string
	flute, repeat           int
	closing                 bool
}

func correctCommand() command {
	var c correctFlags
	return command{
		name: "correct", args: "INSPECTION",
		summary: "put one reading of a closed inspection right, as a record of its own; the inspection stays as it was closed",
		example: `correct EM-0412.1 --feature wear-land --flute 2 --value 0.009in --by "R. Vale" --why "misread the loupe"`,
		flags:   c.flags,
		run:     func(e env, f *flags) error { return c.run(e, f.args[0]) },
	}
}

func (c *correctFlags) flags(f *flags) {
	f.StringVar(&c.feature, "feature", "", "which feature was misread")
	f.IntVar(&c.flute, "flute", 0, "on which flute")
	f.StringVar(&c.fromEnd, "from-end", "", "at which distance from the end, where it was stated")
	f.IntVar(&c.repeat, "repeat", 1, "which repeat")
	f.BoolVar(&c.closing, "closing", false, "the closing re-read of flute 1")
	f.StringVar(&c.value, "value", "", "what it should have been")
	c.rulingFlags.flags(f)
	c.units.flags(f)
}

func (c *correctFlags) run(e env, id string) error {
	at, err := c.openIn(e, &c.units)
	if err != nil {
		return err
	}
	if err := at.bench.CheckInspector(c.by); err != nil && c.by != "" {
		return usageError{err}
	}
	reading, err := c.reading(at.unit)
	if err != nil {
		return err
	}
	s, err := session.StandingOf(at.Ledger, id)
	if err != nil {
		return err
	}
	j, record, err := session.Correct(at.Ledger, id, reading, c.by, c.why, e.now())
	if err != nil {
		return err
	}
	return reportJudgement(e, s.Inspection, j, record, at.unit, c.json)
}

func (c *correctFlags) reading(unit length.Unit) (inspect.Reading, error) {
	feature, err := inspect.ParseFeature(c.feature)
	if err != nil {
		return inspect.Reading{}, usageError{fmt.Errorf("--feature: %w", err)}
	}
	r := &reader{unit: unit}
	reading := inspect.Reading{
		Feature: feature, Flute: c.flute, Closing: c.closing, FromEnd: r.optional("from-end", c.fromEnd),
		Value: r.needed("value", c.value), Text: c.value, Unit: unit,
	}
	if !c.closing {
		reading.Repeat = c.repeat
	}
	return reading, r.err
}
