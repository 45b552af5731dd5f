package main

import (
	"cmp"
	"fmt"
	"slices"
	"text/tabwriter"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// wheelFlags are the flags of a dress.
type wheelFlags struct {
	places
	note, inspector string
}

func wheelCommands() command {
	var w wheelFlags
	var list struct {
		places
		units
	}
	return command{name: "wheel", summary: "the grinding wheels: list them, say when one was dressed", sub: []command{
		{
			name: "list", summary: "the wheels of the bench file and those that were dressed, and when they were dressed last",
			example: "wheel list",
			flags:   func(f *flags) { list.places.flags(f); list.units.flags(f) },
			run:     func(e env, f *flags) error { return listWheels(e, &list.places, &list.units) },
		},
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
		return usage(fmt.Errorf("wheel: %w", err))
	}
	if err := b.CheckWheel(name); err != nil {
		return usage(err)
	}
	if err := b.CheckInspector(w.inspector); err != nil {
		return usage(err)
	}
	r, err := record.SaveDress(l, name, record.Dress{Date: e.now().UTC().Format(time.DateOnly), Who: w.inspector, Note: w.note})
	if err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "wheel %q dressed: its wear is counted anew\n", name)
	printHead(e, r)
	return nil
}

// listWheels lists the wheels that the bench file describes and those that were ever dressed.
func listWheels(e env, p *places, u *units) error {
	at, err := p.openIn(e, u)
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
	}
	wheels := []wheel{}
	for _, w := range at.bench.Wheels {
		one := wheel{Wheel: w.Name, Abrasive: w.Abrasive, Unit: at.unit, Marked: w.MarkedRPM}
		if w.Diameter > 0 {
			n := w.Diameter.Number(at.unit)
			one.Diameter = &n
		}
		wheels = append(wheels, one)
	}
	dressed, err := record.Wheels(at.Ledger)
	if err != nil {
		return err
	}
	for _, name := range dressed {
		if !slices.ContainsFunc(wheels, func(w wheel) bool { return w.Wheel == name }) {
			wheels = append(wheels, wheel{Wheel: name, Unit: at.unit})
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
	if u.json {
		return printJSON(e, wheels)
	}
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "wheel\tabrasive\tdiameter\tmarked\tlast dressed\tdresses")
	for _, one := range wheels {
		diameter, marked, last := "-", "-", "never told"
		if one.Diameter != nil {
			diameter = shortened(*one.Diameter, at.unit) + " " + string(at.unit)
		}
		if one.Marked > 0 {
			marked = fmt.Sprintf("%d rpm", one.Marked)
		}
		if one.Dressed != "" {
			last = one.Dressed
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%d\n", one.Wheel, cmp.Or(one.Abrasive, "-"), diameter, marked, last, one.Dresses)
	}
	return w.Flush()
}
