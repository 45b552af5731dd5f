// Package rulings is the commands by which a person decides: who may, what is released, conceded, withdrawn,
// unlocked or put right, and the jobs that are released as one.
package rulings

import (
	"errors"
	"fmt"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// rulingFlags are the flags of what a person decides.
type rulingFlags struct {
	command.Places
	SignFlags
}

func (r *rulingFlags) flags(f *command.Flags) {
	r.SignFlags.flags(f)
	r.Places.Flags(f)
}

// sign opens the ledger for one who decides.
func (r *rulingFlags) sign(e command.Env, why bool) (*ledger.Ledger, record.Who, error) {
	b, l, err := r.Open(e)
	if err != nil {
		return nil, record.Who{}, err
	}
	who, err := r.Who(e, b, l, why)
	return l, who, err
}

// rulingCommand is tool release, tool concession or tool withdraw.
func rulingCommand(word record.Word, summary, example string) command.Command {
	var r rulingFlags
	return command.Command{
		Name: string(word), Args: "INSPECTION…", Summary: summary, Example: example,
		Flags: r.flags,
		Run:   func(e command.Env, f *command.Flags) error { return r.rule(e, f.Args, word) },
	}
}

func (r *rulingFlags) rule(e command.Env, ids []string, word record.Word) error {
	l, who, err := r.sign(e, word != record.Release)
	if err != nil {
		return err
	}
	if word != record.Withdraw {
		for i, id := range ids { // a tool's own id is its newest inspection, as on its card; what is said then names it
			if t, err := record.FindTool(l, id); err == nil && t.Inspection != "" {
				if _, err := record.Find(l, id); errors.Is(err, record.ErrNoInspection) {
					ids[i] = t.Inspection
				}
			}
		}
		var subjects []string
		for _, id := range ids {
			subjects = append(subjects, record.SubjectOf(id))
		}
		if err := command.AskToRule(e, l, who.Why, subjects...); err != nil {
			return err
		}
	}
	records, err := record.Rule(l, ids, word, who)
	if err != nil {
		return err
	}
	for i, rec := range records {
		fmt.Fprintf(e.Stdout, "%s: %s by %s\n", ids[i], word, who.By)
		output.Head(e, rec)
	}
	return nil
}

func OfTools() []command.Command {
	var unlock rulingFlags
	return []command.Command{
		rulingCommand(record.Release, "sign for tools that their inspections after the grind accept, several at once", `tool release EM-0412.3 --by "R. Vale"`),
		rulingCommand(record.Concession, "release tools that do not conform, for a reason", `tool concession EM-0412.4 --by "R. Vale" --why "roughing only"`),
		rulingCommand(record.Withdraw, "withdraw tools for good, for a reason; also by the tool's own id", `tool withdraw EM-0412.1 --by "R. Vale" --why cracked`),
		{
			Name: "unlock", Args: "TOOL", Summary: "lift the lock that a crack, or a burn between or after, has put on a tool, for a reason",
			Example: `tool unlock EM-0412 --by "R. Vale" --why "a scratch, no crack: dye penetrant"`,
			Flags:   unlock.flags,
			Run:     func(e command.Env, f *command.Flags) error { return unlock.unlock(e, f.Args[0]) },
		},
	}
}

func (r *rulingFlags) unlock(e command.Env, tool string) error {
	l, who, err := r.sign(e, true)
	if err != nil {
		return err
	}
	if err := command.AskElsewhere(e, l, record.ToolSubject(tool)); err != nil {
		return err
	}
	lifted, records, err := record.Unlock(l, tool, who)
	if err != nil {
		return err
	}
	for i, lock := range lifted {
		fmt.Fprintf(e.Stdout, "%s: lock lifted by %s: %s; lock record %d of %s\n", tool, who.By, lock, lock.Ref.Seq, lock.Where)
		output.Head(e, records[i])
	}
	t, err := record.FindTool(l, tool)
	if err != nil {
		return err
	}
	fmt.Fprintln(e.Stdout, output.StandingLine(e, t.State))
	return nil
}

// correctFlags are the flags of a correction.
type correctFlags struct {
	rulingFlags
	command.Units
	feature, fromEnd, value string
	flute, repeat           int
	closing                 bool
}

func Correct() command.Command {
	var c correctFlags
	return command.Command{
		Name: "correct", Args: "INSPECTION",
		Summary: "put one reading or one sight of a closed inspection right, as a record of its own; what was read stays in the record",
		Example: `correct EM-0412.1 --feature wear-land --flute 2 --value 0.009in --by "R. Vale" --why "misread the loupe"`,
		Flags:   c.flags,
		Run:     func(e command.Env, f *command.Flags) error { return c.run(e, f.Args[0]) },
	}
}

func (c *correctFlags) flags(f *command.Flags) {
	f.WordVar(&c.feature, "feature", "", "which feature was misread, or which sight: cracks, burn …")
	f.IntVar(&c.flute, "flute", 0, "on which flute")
	f.StringVar(&c.fromEnd, "from-end", "", "at which distance from the end, where it was stated")
	f.IntVar(&c.repeat, "repeat", 1, "in which round")
	f.BoolVar(&c.closing, "closing", false, "the reading of flute 1 once more, at the end")
	f.StringVar(&c.value, "value", "", "what it should have been; of a sight yes or no, of a chip also its length")
	c.rulingFlags.flags(f)
	c.Units.Flags(f)
}

func (c *correctFlags) run(e command.Env, id string) error {
	at, err := c.OpenIn(e, &c.Units)
	if err != nil {
		return err
	}
	who, err := c.Who(e, at.Bench, at.Ledger, true)
	if err != nil {
		return err
	}
	fix, err := c.fix(at.Unit)
	if err != nil {
		return err
	}
	in, err := record.Correct(at.Ledger, id, fix, who)
	if err != nil {
		return err
	}
	if !c.JSON && in.Stands.Standing == record.StandsRecalled {
		fmt.Fprintf(e.Stdout, "RECALL: %s was released and is not what it was released as; find it and take it out of use\n", in.Tool.ID)
	}
	return output.ReportInspection(e, &in, at.Unit, c.JSON)
}

// fix reads what is put right.
func (c *correctFlags) fix(unit length.Unit) (record.Fix, error) {
	if sight, ok := inspect.ParseSight(c.feature); ok {
		seen, err := record.ReadSeen(sight, c.value, unit)
		if err != nil {
			return record.Fix{}, command.Usage(fmt.Errorf("--value: %w", err))
		}
		seen.Flute = c.flute
		return record.Fix{Seen: &seen}, nil
	}
	feature, err := inspect.ParseFeature(c.feature)
	if err != nil {
		return record.Fix{}, command.Usage(errors.Join(fmt.Errorf("--feature: %w, or a sight of %v", err, inspect.Sights)))
	}
	if c.value == "" {
		return record.Fix{}, command.Usagef("--value is needed: what it should have been")
	}
	typed, err := length.Entry{Unit: unit}.Parse(c.value)
	if err != nil {
		return record.Fix{}, command.Usage(fmt.Errorf("--value: %w", err))
	}
	r := &command.Reader{Unit: unit}
	reading := inspect.Reading{
		Feature: feature, Flute: c.flute, Closing: c.closing, FromEnd: r.Optional("from-end", c.fromEnd),
		Value: typed.Value, Text: typed.Text, Unit: typed.Unit,
	}
	if !c.closing {
		reading.Repeat = c.repeat
	}
	return record.Fix{Reading: &reading}, r.Err
}
