package main

import (
	"fmt"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/record"
)

// wheelFlags are the flags of a dress.
type wheelFlags struct {
	places
	note, inspector string
}

func wheelCommands() command {
	var w wheelFlags
	return command{name: "wheel", summary: "the grinding wheels: say when one was dressed", sub: []command{
		{
			name: "dress", args: "NAME", summary: "record that a wheel was dressed; its wear is counted anew from here",
			example: "wheel dress cup --note diamond",
			flags:   w.flags,
			run:     func(e env, f *flags) error { return w.dress(e, f.args[0]) },
		},
	}}
}

func (w *wheelFlags) flags(f *flags) {
	f.StringVar(&w.note, "note", "", "anything worth knowing")
	f.StringVar(&w.inspector, "inspector", "", "who dressed it")
	w.places.flags(f)
}

func (w *wheelFlags) dress(e env, name string) error {
	b, l, err := w.open(e)
	if err != nil {
		return err
	}
	if err := inspect.CheckID(name); err != nil {
		return usageError{fmt.Errorf("wheel: %w", err)}
	}
	if err := b.CheckWheel(name); err != nil {
		return usageError{err}
	}
	if err := b.CheckInspector(w.inspector); err != nil {
		return usageError{err}
	}
	r, err := record.SaveDress(l, name, record.Dress{Date: e.now().UTC().Format(time.DateOnly), Who: w.inspector, Note: w.note})
	if err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "wheel %q dressed: its wear is counted anew\n", name)
	printHead(e, r)
	return nil
}
