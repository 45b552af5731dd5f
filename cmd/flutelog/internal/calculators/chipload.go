package calculators

import (
	"fmt"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

type chiploadFlags struct {
	command.Units
	feed, heights, angles string
}

func Chipload() command.Command {
	var c chiploadFlags
	return command.Command{
		Name:    "chipload",
		Summary: "the chip each tooth really takes, by its height",
		Example: "chipload --unit in --feed-per-tooth 0.001 --heights 0,0.0012,-0.0009,0.0004",
		Flags:   c.flags,
		Run:     func(e command.Env, _ *command.Flags) error { return c.run(e) },
	}
}

func (c *chiploadFlags) flags(f *command.Flags) {
	f.StringVar(&c.feed, "feed-per-tooth", "", "feed per tooth, the feed of one turn over the number of teeth")
	f.StringVar(&c.heights, "heights", "", "high point of each flute in the order in which they cut, plus is high, with commas between")
	f.StringVar(&c.angles, "angles", "", "angle of each flute in degrees when they are not equally spaced, rising in the order in which they cut")
	c.Units.Flags(f)
}

func (c *chiploadFlags) run(e command.Env) error {
	r := c.Reader()
	feed := r.Size("feed-per-tooth", c.feed)
	heights := r.NeededLengths("heights", c.heights)
	angles := r.Angles("angles", c.angles)
	if r.Err != nil {
		return r.Err
	}
	load, err := geometry.ChipLoad(feed, heights, angles)
	if err != nil {
		return command.Usage(fmt.Errorf("--heights, --angles: %w", err))
	}
	if c.JSON {
		return command.PrintJSON(e, chipsJSON(load, r.Unit))
	}
	printChips(e, load, feed, r.Unit)
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
	}{command.Numbers(load.Chips, unit), load.Shares, idle, unit}
}

func printChips(e command.Env, load geometry.Chips, feed length.Length, unit length.Unit) {
	most := 0
	for i, chip := range load.Chips {
		if chip > load.Chips[most] {
			most = i
		}
	}
	fmt.Fprintf(e.Stdout, "flute %d takes the most: %s at a feed per tooth of %s\n", most+1, load.Chips[most].In(unit), feed.In(unit))
	for _, flute := range load.Idle {
		fmt.Fprintf(e.Stdout, "flute %d does not cut\n", flute)
	}
	fmt.Fprintln(e.Stdout)
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "flute\tchip thickness\tof the whole cut")
	for i, chip := range load.Chips {
		fmt.Fprintf(w, "%d\t%s\t%.1f %%\n", i+1, chip.In(unit), 100*load.Shares[i])
	}
	w.Flush()
}
