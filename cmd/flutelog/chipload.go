package main

import (
	"fmt"
	"text/tabwriter"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

type chiploadFlags struct {
	units
	feed, heights, angles string
}

func chiploadCommand() command {
	var c chiploadFlags
	return command{
		name:    "chipload",
		summary: "the chip each tooth really takes, by its height",
		example: "chipload --unit in --feed-per-tooth 0.001 --heights 0,0.0012,-0.0009,0.0004",
		flags:   c.flags,
		run:     func(e env, _ *flags) error { return c.run(e) },
	}
}

func (c *chiploadFlags) flags(f *flags) {
	f.StringVar(&c.feed, "feed-per-tooth", "", "feed per tooth, the feed of one turn over the number of teeth")
	f.StringVar(&c.heights, "heights", "", "high point of each flute in the order in which they cut, plus is high, with commas between")
	f.StringVar(&c.angles, "angles", "", "angle of each flute in degrees when they are not equally spaced, rising in the order in which they cut")
	c.units.flags(f)
}

func (c *chiploadFlags) run(e env) error {
	r := c.reader()
	feed := r.size("feed-per-tooth", c.feed)
	heights := r.neededLengths("heights", c.heights)
	angles := r.angles("angles", c.angles)
	if r.err != nil {
		return r.err
	}
	load, err := geometry.ChipLoad(feed, heights, angles)
	if err != nil {
		return usage(fmt.Errorf("--heights, --angles: %w", err))
	}
	if c.json {
		return printJSON(e, chipsJSON(load, r.unit))
	}
	printChips(e, load, feed, r.unit)
	return nil
}

func chipsJSON(load geometry.Chips, unit length.Unit) any {
	idle := load.Idle
	if idle == nil {
		idle = []int{}
	}
	return struct {
		Chips     []length.Number `json:"chips"`
		Fractions []float64       `json:"fractions"`
		Idle      []int           `json:"idle"` // flutes that do not cut
		Unit      length.Unit     `json:"unit"`
	}{numbers(load.Chips, unit), load.Shares, idle, unit}
}

func printChips(e env, load geometry.Chips, feed length.Length, unit length.Unit) {
	most := 0
	for i, chip := range load.Chips {
		if chip > load.Chips[most] {
			most = i
		}
	}
	fmt.Fprintf(e.stdout, "flute %d takes the most: %s at a feed per tooth of %s\n", most+1, load.Chips[most].In(unit), feed.In(unit))
	for _, flute := range load.Idle {
		fmt.Fprintf(e.stdout, "flute %d does not cut\n", flute)
	}
	fmt.Fprintln(e.stdout)
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "flute\tchip thickness\tof the whole cut")
	for i, chip := range load.Chips {
		fmt.Fprintf(w, "%d\t%s\t%.1f %%\n", i+1, chip.In(unit), 100*load.Shares[i])
	}
	w.Flush()
}
