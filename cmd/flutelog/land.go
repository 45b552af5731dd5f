package main

import (
	"fmt"
	"slices"
	"text/tabwriter"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

type landFlags struct {
	units
	repeated
	primary, land, primaryAngle, secondaryAngle string
	ends, alongRadius                           bool
}

func landCommand() command {
	var c landFlags
	return command{
		name:    "land",
		summary: "the primary's share of the land on each flute, and whether a secondary is needed",
		example: "land --unit in --primary 0.012,0.013,0.012,0.011 --land 0.048,0.048,0.047,0.048",
		flags:   c.flags,
		run:     func(e env, _ *flags) error { return c.run(e) },
	}
}

func (c *landFlags) flags(f *flags) {
	f.StringVar(&c.primary, "primary", "", "width of the primary on each flute, flute 1 first, with commas between")
	f.StringVar(&c.land, "land", "", "width of the whole land on each flute; over half of it a primary needs the secondary (status 3, 4 undecided)")
	f.BoolVar(&c.ends, "ends", false, "the widths are those of the end teeth")
	f.BoolVar(&c.alongRadius, "along-radius", false, "the widths were read looking along the radius, not square to each facet; give both angles")
	f.StringVar(&c.primaryAngle, "primary-angle", "", "primary relief in degrees, with --along-radius")
	f.StringVar(&c.secondaryAngle, "secondary-angle", "", "secondary relief in degrees, with --along-radius")
	c.repeated.flags(f)
	c.units.flags(f)
}

// shares is what the widths come to.
type shares struct {
	geometry.Lands
	tooth    string // flute or end tooth
	ratio    statistics.Ratio
	decision statistics.RatioDecision
}

func (c *landFlags) run(e env) error {
	r := c.reader()
	primary := c.rounds(r, "primary", c.primary)
	land := c.rounds(r, "land", c.land)
	gauge := c.gauge(r, enoughWidths, c.primary, c.land)
	rule := c.decisionRule(r)
	c.squared(r, primary, land)
	if r.err != nil {
		return r.err
	}
	out := shares{tooth: "flute"}
	if c.ends {
		out.tooth = "end tooth"
	}
	if err := out.work(primary, land, gauge, rule); err != nil {
		return usageError{fmt.Errorf("--primary, --land: %w", err)}
	}
	if c.json {
		if err := printJSON(e, out.json()); err != nil {
			return err
		}
	} else {
		c.print(e, out, gauge, r.unit)
	}
	return verdictStatus(out.decision.Verdict)
}

// squared takes widths read along the radius to widths square to their facets.
func (c *landFlags) squared(r *reader, primary, land [][]length.Length) {
	switch {
	case !c.alongRadius && c.primaryAngle+c.secondaryAngle != "":
		r.fail("along-radius", fmt.Errorf("the angles are needed only with it"))
	case !c.alongRadius || r.err != nil:
		return
	}
	a1, a2 := r.neededAngle("primary-angle", c.primaryAngle), r.neededAngle("secondary-angle", c.secondaryAngle)
	if len(primary) != len(land) || r.err != nil {
		return // JudgeLands refuses counts that differ
	}
	for i := range primary {
		for m := range primary[i] {
			square, err := geometry.SquareToFacets(geometry.Ratio{Primary: primary[i][m], Land: land[i][m]}, a1, a2)
			if err != nil {
				r.fail("along-radius", fmt.Errorf("flute %d: %w", i+1, err))
				return
			}
			primary[i][m], land[i][m] = square.Primary, square.Land
		}
	}
}

// work holds the worst flute's share against the half: it decides for the tool, for all are ground alike.
func (o *shares) work(primary, land [][]length.Length, g statistics.Gauge, rule statistics.Rule) error {
	var err error
	if o.Lands, err = geometry.JudgeLands(means(primary), means(land)); err != nil {
		return err
	}
	noise, err := g.Noise(slices.Concat(primary, land)...)
	if err != nil {
		return err
	}
	worst := o.WorstFlute - 1
	if o.ratio, err = statistics.NewRatio(primary[worst], land[worst], noise, g); err != nil {
		return err
	}
	o.decision, err = statistics.DecideRatio(o.ratio, nil, &statistics.Fraction{Num: 1, Den: 2}, rule)
	return err
}

// secondary says whether the secondary is needed.
func (o shares) secondary() string {
	switch o.decision.Verdict {
	case statistics.Accept:
		return "not needed"
	case statistics.Reject:
		return "needed"
	}
	return "undecided"
}

func (o shares) json() any {
	type worst struct {
		Flute int     `json:"flute"`
		Ratio float64 `json:"ratio"`
	}
	var ratios []float64
	for _, r := range o.Ratios {
		ratios = append(ratios, r.Value())
	}
	var uncertainty *float64
	if u, known := o.ratio.Uncertainty(); known {
		uncertainty = &u
	}
	return struct {
		Ratios      []float64 `json:"ratios"`
		Mean        float64   `json:"mean"`
		Worst       worst     `json:"worst"`
		Secondary   string    `json:"secondary"`
		Spread      float64   `json:"spread"`
		Uncertainty *float64  `json:"uncertainty,omitempty"` // of the worst ratio, two-sided, 95 %
		decisionJSON
	}{
		ratios, o.Mean, worst{o.WorstFlute, o.Worst().Value()}, o.secondary(), o.Spread,
		uncertainty, newDecisionJSON(o.decision.Decision),
	}
}

func (c *landFlags) print(e env, o shares, g statistics.Gauge, unit length.Unit) {
	fmt.Fprintf(e.stdout, "%s\n\n", o.answer())
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "%s\tprimary\twhole land\tprimary / whole land\n", o.tooth)
	for i, r := range o.Ratios {
		fmt.Fprintf(w, "%d\t%s\t%s\t%.3f\n", i+1, r.Primary.In(unit), r.Land.In(unit), r.Value())
	}
	fmt.Fprintf(w, "mean\t\t\t%.3f\n", o.Mean)
	fmt.Fprintf(w, "largest less smallest\t\t\t%.3f\n", o.Spread)
	w.Flush()
	fmt.Fprintln(e.stdout)
	if c.alongRadius {
		fmt.Fprintln(e.stdout, "note: the widths were taken from the direction of the radius to square to each facet")
	}
	if u, known := o.ratio.Uncertainty(); known {
		fmt.Fprintf(e.stdout, "%s %d: %.3f ± %.3f (95 %%)\n", o.tooth, o.WorstFlute, o.Worst().Value(), u)
	}
	c.printDecision(e, o.decision.Decision, g, unit)
	if o.decision.Verdict != statistics.Accept {
		fmt.Fprintf(e.stdout, "\n%s\n", grindingCautions)
	}
}

func (o shares) answer() string {
	worst := fmt.Sprintf("%s %d primary is %.3f of the land", o.tooth, o.WorstFlute, o.Worst().Value())
	switch o.decision.Verdict {
	case statistics.Accept:
		return "SECONDARY NOT NEEDED: the widest, " + worst
	case statistics.Reject:
		return "SECONDARY NEEDED: " + worst
	}
	return "UNDECIDED: " + worst + "; grind the secondary: it costs a minute"
}
