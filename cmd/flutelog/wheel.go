package main

import (
	"cmp"
	"fmt"
	"slices"
	"text/tabwriter"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// wheelFlags are the flags of a dress.
type wheelFlags struct {
	command.Places
	note, inspector string
}

func wheelCommands() command.Command {
	var w wheelFlags
	var list struct {
		command.Places
		command.Units
	}
	return command.Command{Name: "wheel", Summary: "the grinding wheels: list them, say when one was dressed", Sub: []command.Command{
		{
			Name: "list", Summary: "the wheels of the bench file and those that were dressed, and when they were dressed last",
			Example: "wheel list",
			Flags:   func(f *command.Flags) { list.Places.Flags(f); list.Units.Flags(f) },
			Run:     func(e command.Env, f *command.Flags) error { return listWheels(e, &list.Places, &list.Units) },
		},
		{
			Name: "dress", Args: "NAME", Summary: "record that a wheel was dressed; its wear is counted anew from here",
			Example: "wheel dress cup --note diamond",
			Flags:   w.flags,
			Run:     func(e command.Env, f *command.Flags) error { return w.dress(e, f.Args[0]) },
		},
	}}
}

func (w *wheelFlags) flags(f *command.Flags) {
	f.StringVar(&w.note, "note", "", "anything worth knowing")
	f.StringVar(&w.inspector, "inspector", "", "who dressed it")
	w.Places.Flags(f)
}

func (w *wheelFlags) dress(e command.Env, name string) error {
	b, l, err := w.Open(e)
	if err != nil {
		return err
	}
	if err := inspect.CheckID(name); err != nil {
		return command.Usage(fmt.Errorf("wheel: %w", err))
	}
	if err := b.CheckWheel(name); err != nil {
		return command.Usage(err)
	}
	if err := b.CheckInspector(w.inspector); err != nil {
		return command.Usage(err)
	}
	r, err := record.SaveDress(l, name, record.Dress{Date: e.Now().UTC().Format(time.DateOnly), Who: w.inspector, Note: w.note})
	if err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "wheel %q dressed: its wear is counted anew\n", name)
	output.Head(e, r)
	return nil
}

// listWheels lists the wheels that the bench file describes and those that were ever dressed.
func listWheels(e command.Env, p *command.Places, u *command.Units) error {
	at, err := p.OpenIn(e, u)
	if err != nil {
		return err
	}
	type wheel struct {
		Wheel    string         `json:"wheel"`
		Abrasive string         `json:"abrasive,omitempty"`
		Unit     length.Unit    `json:"unit"`
		Diameter *length.Number `json:"diameter"`
		Marked   int            `json:"marked_rpm,omitempty"` // the speed marked on it
		Dressed  string         `json:"dressed,omitempty"`    // last, YYYY-MM-DD
		Dresses  int            `json:"dresses"`
		across   string
	}
	wheels := []wheel{}
	for _, w := range at.Bench.Wheels {
		one := wheel{Wheel: w.Name, Abrasive: w.Abrasive, Unit: at.Unit, Marked: w.MarkedRPM}
		if w.Diameter > 0 {
			n := w.Diameter.Number(at.Unit)
			one.Diameter, one.across = &n, w.Diameter.In(at.Unit)
		}
		wheels = append(wheels, one)
	}
	dressed, err := record.Wheels(at.Ledger)
	if err != nil {
		return err
	}
	for _, name := range dressed {
		if !slices.ContainsFunc(wheels, func(w wheel) bool { return w.Wheel == name }) {
			wheels = append(wheels, wheel{Wheel: name, Unit: at.Unit})
		}
	}
	for i, w := range wheels {
		rs, err := record.Dresses(at.Ledger, w.Wheel)
		if err != nil {
			return err
		}
		if wheels[i].Dresses = len(rs); len(rs) > 0 {
			wheels[i].Dressed = rs[len(rs)-1].Time.UTC.Format(time.DateOnly)
		}
	}
	if u.JSON {
		return command.PrintJSON(e, wheels)
	}
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "wheel\tabrasive\tdiameter\tmarked\tlast dressed\tdresses")
	for _, one := range wheels {
		marked, last := "-", "never told"
		if one.Marked > 0 {
			marked = fmt.Sprintf("%d rpm", one.Marked)
		}
		if one.Dressed != "" {
			last = one.Dressed
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%d\n", one.Wheel, cmp.Or(one.Abrasive, "-"), cmp.Or(one.across, "-"), marked, last, one.Dresses)
	}
	return w.Flush()
}
