package tools

import (
	"fmt"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
)

// toldFlags are the flags of what is told of a tool: that it was ground, sent out, or a note.
type toldFlags struct {
	command.Places
	by, order, lastRound, wheel, where string
	divisions, endsFed                 int
}

// toldCommands are tool ground, away, back and note.
func toldCommands() []command.Command {
	var ground, away, back, note toldFlags
	return []command.Command{
		{
			Name: "ground", Args: "TOOL", Summary: "tell that a tool was ground, and how: it is to inspect now",
			Example: "tool ground EM-0412 --wheel cup --divisions 3",
			Flags: func(f *command.Flags) {
				f.StringVar(&ground.wheel, "wheel", "", "the wheel, by name")
				f.IntVar(&ground.divisions, "divisions", 0, "divisions of the feed dial since the wheel's first touch, on the flutes")
				f.IntVar(&ground.endsFed, "end-divisions", 0, "divisions fed to the ends")
				f.StringVar(&ground.order, "order", "", "the flutes in the order in which they came to the wheel: 1,2,3,4")
				f.StringVar(&ground.lastRound, "last-round", "", "how the last round was gone")
				ground.flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error { return ground.ground(e, f.Args[0]) },
		},
		{
			Name: "away", Args: "TOOL", Summary: "tell that a tool was sent out",
			Example: `tool away EM-0412 --to "coating"`,
			Flags: func(f *command.Flags) {
				f.StringVar(&away.where, "to", "", "where to")
				away.flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error { return away.away(e, f.Args[0], false) },
		},
		{
			Name: "back", Args: "TOOL", Summary: "tell that a tool that was sent out is back",
			Example: "tool back EM-0412",
			Flags:   back.flags,
			Run:     func(e command.Env, f *command.Flags) error { return back.away(e, f.Args[0], true) },
		},
		{
			Name: "note", Args: "TOOL TEXT", Summary: "note anything worth knowing of a tool",
			Example: `tool note EM-0412 "flute 2 chipped at the corner before it came"`,
			Flags:   note.flags,
			Run:     func(e command.Env, f *command.Flags) error { return note.note(e, f.Args[0], f.Args[1]) },
		},
	}
}

func (t *toldFlags) flags(f *command.Flags) {
	f.StringVar(&t.by, "by", "", "who tells it")
	t.Places.Flags(f)
}

// tell opens the ledger, records what is told, and prints how the tool stands then.
func (t *toldFlags) tell(e command.Env, tool string, put func(l *ledger.Ledger, at string) (ledger.Record, error)) error {
	b, l, err := t.Open(e)
	if err != nil {
		return err
	}
	if err := b.CheckInspector(t.by); err != nil && t.by != "" {
		return command.Usage(err)
	}
	if t.wheel != "" {
		if err := b.CheckWheel(t.wheel); err != nil {
			return command.Usage(err)
		}
	}
	if err := command.AskElsewhere(e, l, record.ToolSubject(tool)); err != nil {
		return err
	}
	r, err := put(l, record.Stamp(e.Now()))
	if err != nil {
		return err
	}
	now, err := record.FindTool(l, tool)
	if err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "%s: %s\n", now.ID, output.StandingLine(e, now.State))
	output.Head(e, r)
	return nil
}

func (t *toldFlags) ground(e command.Env, tool string) error {
	g := record.Ground{Wheel: t.wheel, Divisions: t.divisions, EndsFed: t.endsFed, By: t.by}
	switch {
	case t.divisions < 0:
		return command.Usagef("--divisions %d: want 1 or more", t.divisions)
	case t.endsFed < 0:
		return command.Usagef("--end-divisions %d: want 1 or more", t.endsFed)
	}
	order, err := inspect.ParseFlutes(t.order)
	if err != nil {
		return command.Usage(fmt.Errorf("--order: %w", err))
	}
	g.Order = order
	if g.LastRound, err = text.Check(t.lastRound); err != nil {
		return command.Usage(fmt.Errorf("--last-round: %w", err))
	}
	return t.tell(e, tool, func(l *ledger.Ledger, at string) (ledger.Record, error) {
		g.At = at
		return record.RecordGround(l, tool, g)
	})
}

func (t *toldFlags) away(e command.Env, tool string, back bool) error {
	where, err := text.Check(t.where)
	if err != nil {
		return command.Usage(fmt.Errorf("--to: %w", err))
	}
	return t.tell(e, tool, func(l *ledger.Ledger, at string) (ledger.Record, error) {
		return record.RecordAway(l, tool, record.Away{Back: back, Where: where, By: t.by, At: at})
	})
}

func (t *toldFlags) note(e command.Env, tool, words string) error {
	words, err := text.Check(words)
	if err != nil {
		return command.Usage(fmt.Errorf("note: %w", err))
	}
	return t.tell(e, tool, func(l *ledger.Ledger, at string) (ledger.Record, error) {
		return record.RecordNote(l, tool, record.Note{Text: words, By: t.by, At: at})
	})
}
