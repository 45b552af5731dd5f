package main

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect"
	"flutelog/inspect/text"
)

func benchCommands() command.Command {
	return command.Command{Name: "bench", Summary: "the bench file: make one by questions, print an example with every key, check one", Sub: []command.Command{
		{
			Name: "start", Args: "FILE", Summary: "make a bench file by questions: gauge, dials, how a drop is read, wheels, who may sign",
			Example: "bench start new-bench.toml",
			Run:     func(e command.Env, f *command.Flags) error { return startBench(e, f.Args[0]) },
		},
		{
			Name: "example", Summary: "print a bench file with every key, its default and what it is for",
			Example: "bench example",
			Run: func(e command.Env, f *command.Flags) error {
				_, err := fmt.Fprint(e.Stdout, bench.Example)
				return err
			},
		},
		{
			Name: "check", Args: "FILE", Summary: "read a bench file and say what is in force",
			Example: "bench check bench.toml",
			Run:     func(e command.Env, f *command.Flags) error { return checkBench(e, f.Args[0]) },
		},
	}}
}

func checkBench(e command.Env, path string) error {
	p := command.Places{Bench: path}
	b, err := p.ReadBench(e)
	if err != nil {
		return err
	}
	var facts bytes.Buffer
	const named = 15 // columns of the names
	w := tabwriter.NewWriter(&facts, named, 0, 2, ' ', 0)
	fmt.Fprintf(w, "bench\t%s\nlengths\t%s where no unit is given\n", b.Name, b.Unit)
	fmt.Fprintf(w, "revision\t%s\n", b.Revision)
	fmt.Fprintf(w, "signs\t%s\n", cmp.Or(strings.Join(b.Inspectors, ", "), "anyone (inspectors)"))
	fmt.Fprintf(w, "rules\t%s at the bench, %s for release\n", b.WorkRule, b.ReleaseRule)
	fmt.Fprintf(w, "indicated\t%s\n", listed("in the "+string(b.Holding), "turned "+b.Turning, "drops by "+map[inspect.DropBy]string{inspect.ByTurning: "turning", inspect.BySliding: "sliding"}[b.DropBy],
		map[bool]string{true: "edges read to the shank for a release"}[b.Tie == inspect.TieShank]))
	fmt.Fprintf(w, "whole numbers\t%s\n", map[bool]string{true: "divisions of what is read with", false: "refused"}[b.BareNumbers == bench.Divisions])
	feed := "not stated: plans are in lengths (grinder.division)"
	if b.Grinder.Division > 0 {
		feed = b.Grinder.Division.In(b.Unit) + " a division, reading " + b.Grinder.Reads
	}
	fmt.Fprintf(w, "feed\t%s\nlast round\t%s\n", feed, map[bool]string{true: "begins on flute 1", false: "begins half a turn on"}[b.LastRound == "first"])
	for _, g := range b.Gauges {
		p := g.Profile.WithDefaults()
		line := p.Port + ", " + string(p.Take)
		if p.Port == "" {
			line = "read by eye and typed"
		}
		due := ""
		if g.CalibrationDue != "" {
			due = "calibrated till " + g.CalibrationDue
		}
		fmt.Fprintf(w, "gauge\t%s\n", p.Name+": "+listed(line, "resolution "+resolution(g, b), due))
	}
	for _, wheel := range b.Wheels {
		var materials string
		if wheel.Materials != nil {
			materials = "for " + strings.Trim(fmt.Sprint(wheel.Materials), "[]")
		}
		fmt.Fprintf(w, "wheel\t%s\n", wheel.Name+": "+listed(wheel.Diameter.In(b.Unit), wheel.Abrasive, wheel.Bond, materials, wheel.Rotation, fmt.Sprintf("at most %d turns a minute", wheel.MarkedRPM)))
	}
	for _, l := range b.Sets {
		fmt.Fprintf(w, "limits\tdiameters %s to %s, %s\n", l.From.In(b.Unit), upTo(l, b), materials(l.Materials))
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for line := range strings.Lines(facts.String()) {
		fmt.Fprintln(e.Stdout, line[:named]+command.Wrapped(line[named:], command.LineWidth-named, strings.Repeat(" ", named)))
	}
	serials := map[string]string{}
	for _, g := range b.Gauges {
		if g.Serial == "" {
			continue
		}
		output.WarnSpreadsheet(e, "serial", g.Serial)
		becomes, _ := text.Spreadsheet(g.Serial)
		if other := serials[becomes]; other != "" && other != g.Serial {
			return command.Usagef("gauge %q: serial %q and %q are one to a spreadsheet, %s; write one with letters, such as IND-%s", g.Profile.Name, g.Serial, other, becomes, g.Serial)
		}
		serials[becomes] = g.Serial
	}
	return nil
}

// listed puts commas between what there is to say.
func listed(parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(p string) bool { return p == "" }), ", ")
}

func resolution(g bench.GaugeTable, b *bench.File) string {
	if g.Resolution == 0 {
		return "from the decimals it shows"
	}
	return g.Resolution.In(cmp.Or(g.Profile.Unit, b.Unit))
}

func upTo(l bench.LimitSet, b *bench.File) string {
	if l.To == 0 {
		return "any"
	}
	return l.To.In(b.Unit)
}

func materials(ms []inspect.Material) string {
	if ms == nil {
		return "every material"
	}
	return strings.Trim(fmt.Sprint(ms), "[]")
}
