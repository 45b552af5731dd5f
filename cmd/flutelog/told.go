package main

import (
	"fmt"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
)

// toldFlags are the flags of what is told of a tool: that it was ground, sent out, or a note.
type toldFlags struct {
	places
	by, order, lastRound, wheel, where string
	divisions                          int
}

// toldCommands are tool ground, away, back and note.
func toldCommands() []command {
	var ground, away, back, note toldFlags
	return []command{
		{
			name: "ground", args: "TOOL", summary: "tell that a tool was ground, and how: it is to inspect now",
			example: "tool ground EM-0412 --wheel cup --divisions 3",
			flags: func(f *flags) {
				f.StringVar(&ground.wheel, "wheel", "", "the wheel, by name")
				f.IntVar(&ground.divisions, "divisions", 0, "divisions of the feed dial since the wheel's first touch")
				f.StringVar(&ground.order, "order", "", "the flutes in the order in which they came to the wheel: 1,2,3,4")
				f.StringVar(&ground.lastRound, "last-round", "", "how the last round was gone")
				ground.flags(f)
			},
			run: func(e env, f *flags) error { return ground.ground(e, f.args[0]) },
		},
		{
			name: "away", args: "TOOL", summary: "tell that a tool was sent out",
			example: `tool away EM-0412 --to "coating"`,
			flags: func(f *flags) {
				f.StringVar(&away.where, "to", "", "where to")
				away.flags(f)
			},
			run: func(e env, f *flags) error { return away.away(e, f.args[0], false) },
		},
		{
			name: "back", args: "TOOL", summary: "tell that a tool that was sent out is back",
			example: "tool back EM-0412",
			flags:   back.flags,
			run:     func(e env, f *flags) error { return back.away(e, f.args[0], true) },
		},
		{
			name: "note", args: "TOOL TEXT", summary: "note anything worth knowing of a tool",
			example: `tool note EM-0412 "flute 2 chipped at the corner before it came"`,
			flags:   note.flags,
			run:     func(e env, f *flags) error { return note.note(e, f.args[0], f.args[1]) },
		},
	}
}

func (t *toldFlags) flags(f *flags) {
	f.StringVar(&t.by, "by", "", "who tells it")
	t.places.flags(f)
}

// tell opens the ledger, records what is told, and prints how the tool stands then.
func (t *toldFlags) tell(e env, tool string, put func(l *ledger.Ledger, at string) (ledger.Record, error)) error {
	b, l, err := t.open(e)
	if err != nil {
		return err
	}
	if err := b.CheckInspector(t.by); err != nil && t.by != "" {
		return usage(err)
	}
	if t.wheel != "" {
		if err := b.CheckWheel(t.wheel); err != nil {
			return usage(err)
		}
	}
	r, err := put(l, e.now().UTC().Format("2006-01-02T15:04:05.000000Z"))
	if err != nil {
		return err
	}
	now, err := record.FindTool(l, tool)
	if err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "%s: %s\n", now.ID, standingLine(now.State))
	printHead(e, r)
	return nil
}

func (t *toldFlags) ground(e env, tool string) error {
	g := record.Ground{Wheel: t.wheel, Divisions: t.divisions, By: t.by}
	if t.divisions < 0 {
		return usagef("--divisions %d: want 1 or more", t.divisions)
	}
	for _, field := range parts(t.order) {
		n, err := strconv.Atoi(strings.TrimSpace(field))
		if err != nil || n < 1 || n > inspect.MostFlutes {
			return usagef("--order %q: want the numbers of the flutes with commas between", t.order)
		}
		g.Order = append(g.Order, n)
	}
	var err error
	if g.LastRound, err = text.Check(t.lastRound); err != nil {
		return usage(fmt.Errorf("--last-round: %w", err))
	}
	return t.tell(e, tool, func(l *ledger.Ledger, at string) (ledger.Record, error) {
		g.At = at
		return record.RecordGround(l, tool, g)
	})
}

func (t *toldFlags) away(e env, tool string, back bool) error {
	where, err := text.Check(t.where)
	if err != nil {
		return usage(fmt.Errorf("--to: %w", err))
	}
	return t.tell(e, tool, func(l *ledger.Ledger, at string) (ledger.Record, error) {
		return record.RecordAway(l, tool, record.Away{Back: back, Where: where, By: t.by, At: at})
	})
}

func (t *toldFlags) note(e env, tool, words string) error {
	words, err := text.Check(words)
	if err != nil {
		return usage(fmt.Errorf("note: %w", err))
	}
	return t.tell(e, tool, func(l *ledger.Ledger, at string) (ledger.Record, error) {
		return record.RecordNote(l, tool, record.Note{Text: words, By: t.by, At: at})
	})
}
