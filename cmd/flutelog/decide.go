package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// rulingFlags are the flags of what a person decides.
type rulingFlags struct {
	places
	signFlags
}

func (r *rulingFlags) flags(f *flags) {
	r.signFlags.flags(f)
	r.places.flags(f)
}

// sign opens the ledger for one who decides.
func (r *rulingFlags) sign(e env, why bool) (*ledger.Ledger, record.Who, error) {
	b, l, err := r.open(e)
	if err != nil {
		return nil, record.Who{}, err
	}
	who, err := r.who(e, b, l, why)
	return l, who, err
}

// rulingCommand is tool release, tool concession or tool withdraw.
func rulingCommand(word record.Word, summary, example string) command {
	var r rulingFlags
	return command{
		name: string(word), args: "INSPECTION…", summary: summary, example: example,
		flags: r.flags,
		run:   func(e env, f *flags) error { return r.rule(e, f.args, word) },
	}
}

func (r *rulingFlags) rule(e env, ids []string, word record.Word) error {
	l, who, err := r.sign(e, word != record.Release)
	if err != nil {
		return err
	}
	records, err := record.Rule(l, ids, word, who)
	if err != nil {
		return err
	}
	for i, rec := range records {
		fmt.Fprintf(e.stdout, "%s: %s by %s\n", ids[i], word, who.By)
		printHead(e, rec)
	}
	return nil
}

func rulingCommands() []command {
	var unlock rulingFlags
	return []command{
		rulingCommand(record.Release, "sign for tools that their inspections after the grind accept, several at once", `tool release EM-0412.3 --by "R. Vale"`),
		rulingCommand(record.Concession, "release tools that do not conform, for a reason", `tool concession EM-0412.4 --by "R. Vale" --why "roughing only"`),
		rulingCommand(record.Withdraw, "withdraw tools for good, for a reason; also by the tool's own id", `tool withdraw EM-0412.1 --by "R. Vale" --why cracked`),
		{
			name: "unlock", args: "TOOL", summary: "lift the lock that a crack, or a burn between or after, has put on a tool, for a reason",
			example: `tool unlock EM-0412 --by "R. Vale" --why "a scratch, no crack: dye penetrant"`,
			flags:   unlock.flags,
			run:     func(e env, f *flags) error { return unlock.unlock(e, f.args[0]) },
		},
	}
}

func (r *rulingFlags) unlock(e env, tool string) error {
	l, who, err := r.sign(e, true)
	if err != nil {
		return err
	}
	lifted, records, err := record.Unlock(l, tool, who)
	if err != nil {
		return err
	}
	for i, lock := range lifted {
		fmt.Fprintf(e.stdout, "%s: lock lifted by %s: %s; lock record %d of bench %s\n", tool, who.By, lock, lock.Ref.Seq, lock.Ref.Bench)
		printHead(e, records[i])
	}
	t, err := record.FindTool(l, tool)
	if err != nil {
		return err
	}
	fmt.Fprintln(e.stdout, standingLine(t.State))
	return nil
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
		summary: "put one reading or one sight of a closed inspection right, as a record of its own; what was read stays in the record",
		example: `correct EM-0412.1 --feature wear-land --flute 2 --value 0.009in --by "R. Vale" --why "misread the loupe"`,
		flags:   c.flags,
		run:     func(e env, f *flags) error { return c.run(e, f.args[0]) },
	}
}

func (c *correctFlags) flags(f *flags) {
	f.StringVar(&c.feature, "feature", "", "which feature was misread, or which sight: cracks, burn …")
	f.IntVar(&c.flute, "flute", 0, "on which flute")
	f.StringVar(&c.fromEnd, "from-end", "", "at which distance from the end, where it was stated")
	f.IntVar(&c.repeat, "repeat", 1, "which repeat")
	f.BoolVar(&c.closing, "closing", false, "the closing re-read of flute 1")
	f.StringVar(&c.value, "value", "", "what it should have been; of a sight yes or no, of a chip also its length")
	c.rulingFlags.flags(f)
	c.units.flags(f)
}

func (c *correctFlags) run(e env, id string) error {
	at, err := c.openIn(e, &c.units)
	if err != nil {
		return err
	}
	who, err := c.who(e, at.bench, at.Ledger, true)
	if err != nil {
		return err
	}
	fix, err := c.fix(at.unit)
	if err != nil {
		return err
	}
	in, err := record.Correct(at.Ledger, id, fix, who)
	if err != nil {
		return err
	}
	if !c.json && in.Stands.Standing == record.StandsRecalled {
		fmt.Fprintf(e.stdout, "RECALL: %s was released and is not what it was released as; find it and take it out of use\n", in.Tool.ID)
	}
	return reportInspection(e, &in, at.unit, c.json)
}

// fix reads what is put right.
func (c *correctFlags) fix(unit length.Unit) (record.Fix, error) {
	if sight := inspect.Sight(c.feature); slices.Contains(inspect.Sights, sight) {
		seen := inspect.Seen{Sight: sight}
		switch strings.ToLower(c.value) {
		case "yes":
			seen.Yes = true
		case "no":
		default:
			if !sight.Chip() {
				return record.Fix{}, usagef("--value %q: %s was seen or not: want yes or no", c.value, strings.ReplaceAll(c.feature, "-", " "))
			}
			r := &reader{unit: unit}
			long := r.needed("value", c.value)
			if r.err != nil {
				return record.Fix{}, r.err
			}
			seen.Yes, seen.Length = true, &long
		}
		return record.Fix{Seen: &seen}, nil
	}
	feature, err := inspect.ParseFeature(c.feature)
	if err != nil {
		return record.Fix{}, usage(errors.Join(fmt.Errorf("--feature: %w, or a sight of %v", err, inspect.Sights)))
	}
	r := &reader{unit: unit}
	reading := inspect.Reading{
		Feature: feature, Flute: c.flute, Closing: c.closing, FromEnd: r.optional("from-end", c.fromEnd),
		Value: r.needed("value", c.value), Text: c.value, Unit: unit,
	}
	if !c.closing {
		reading.Repeat = c.repeat
	}
	return record.Fix{Reading: &reading}, r.err
}
