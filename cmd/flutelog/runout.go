package main

import (
	"errors"
	"fmt"
	"text/tabwriter"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

type runoutFlags struct {
	units
	repeated
	sweeps
	heights, angles, limit string
}

func runoutCommand() command {
	var c runoutFlags
	return command{
		name:    "runout",
		summary: "run-out of the edges from one high point per flute: TIR, offset and tooth-to-tooth error",
		example: "runout --unit in --heights 0,0.0003,0.0001,-0.0002 --limit 0.0005",
		flags:   c.flags,
		run:     func(e env, _ *flags) error { return c.run(e) },
	}
}

func (c *runoutFlags) flags(f *flags) {
	f.StringVar(&c.heights, "heights", "", "high point of each flute, flute 1 first, plus is high, with commas between; or give --sweep")
	f.StringVar(&c.angles, "angles", "", "angle of each flute in degrees when they are not equally spaced: 0,88,180,268")
	f.StringVar(&c.limit, "limit", "", "the most the TIR may be; a TIR equal to it conforms (status 3 over it, 4 undecided)")
	c.repeated.flags(f)
	c.sweeps.flags(f)
	c.units.flags(f)
}

// runout is what the heights come to.
type runout struct {
	geometry.Runout
	heights  []length.Length // mean of each flute's repeats
	limit    *length.Length
	gauge    statistics.Gauge
	swept    []geometry.Swept // what each trace told, where there are traces
	estimate statistics.Estimate
	decision statistics.LengthDecision
}

func (c *runoutFlags) run(e env) error {
	r := c.reader()
	var out runout
	flutes, err := c.readings(e, r, &out)
	if err != nil {
		return err
	}
	angles := r.angles("angles", c.angles)
	out.limit = r.optionalSize("limit", c.limit)
	rule := c.decisionRule(r)
	if r.err != nil {
		return r.err
	}
	if err := out.work(flutes, angles, rule); err != nil {
		return usageError{fmt.Errorf("--heights, --angles: %w", err)}
	}
	if c.json {
		if err := printJSON(e, out.json(r.unit)); err != nil {
			return err
		}
	} else {
		c.print(e, out, r.unit)
	}
	if out.limit == nil {
		return nil
	}
	return verdictStatus(out.decision.Verdict)
}

// readings returns the repeats of each flute, from the list of heights or from traces.
func (c *runoutFlags) readings(e env, r *reader, o *runout) ([][]length.Length, error) {
	if c.files == nil {
		flutes := c.rounds(r, "heights", c.heights)
		o.gauge = c.gauge(r, c.heights)
		return flutes, r.err
	}
	if c.heights != "" || c.repeats != 1 {
		return nil, usagef("--sweep stands in place of --heights and --repeats; each trace is a round")
	}
	var err error
	o.swept, o.gauge, err = c.sweeps.read(r, &c.repeated)
	if errors.Is(err, geometry.ErrUnclear) {
		fmt.Fprintf(e.stderr, "flutelog: %v; turn the tool again\n", err)
		return nil, outcome(statusOpen)
	}
	if err != nil {
		return nil, err
	}
	return roundsOf(o.swept), nil
}

// work fits the heights and holds their TIR against the limit.
func (o *runout) work(flutes [][]length.Length, angles []length.Angle, rule statistics.Rule) error {
	var err error
	o.heights = means(flutes)
	if o.Runout, err = geometry.FitRunout(o.heights, angles); err != nil {
		return err
	}
	if o.estimate, err = statistics.TIR(flutes, o.gauge); err != nil {
		return err
	}
	o.decision, err = statistics.Decide(o.estimate, nil, o.limit, rule)
	return err
}

func (o runout) uncertainty() *length.Length {
	if u, known := o.estimate.Uncertainty(); known {
		return &u
	}
	return nil
}

func (o runout) json(unit length.Unit) any {
	var direction *length.Number
	if o.HasDirection {
		direction = angleNumber(&o.Direction)
	}
	return struct {
		Unit          length.Unit        `json:"unit"`
		Flutes        int                `json:"flutes"`
		TIR           length.Number      `json:"tir"`
		Eccentricity  length.Number      `json:"eccentricity"`
		Concentricity length.Number      `json:"concentricity"`
		Direction     *length.Number     `json:"direction_deg"` // null without an offset to point anywhere
		Residuals     []length.Number    `json:"residuals"`
		ResidualTIR   length.Number      `json:"residual_tir"`
		Verdict       statistics.Verdict `json:"verdict"`
		Limit         *length.Number     `json:"limit,omitempty"`
		Uncertainty   *length.Number     `json:"uncertainty,omitempty"` // two-sided, 95 %
		decisionJSON
		Sweeps []sweptJSON `json:"sweeps,omitempty"`
	}{
		unit, len(o.heights), o.TIR.Number(unit), o.Eccentricity.Number(unit), o.Concentricity.Number(unit), direction,
		numbers(o.Residuals, unit), o.ResidualTIR.Number(unit), o.decision.Verdict, number(o.limit, unit),
		number(o.uncertainty(), unit), newDecisionJSON(o.decision.Decision), sweptOf(o.swept, unit),
	}
}

func (c *runoutFlags) print(e env, o runout, unit length.Unit) {
	fmt.Fprintf(e.stdout, "%s\n\n", o.answer(unit))
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "TIR\t%s%s\n", o.TIR.In(unit), plusMinus(o.uncertainty(), unit))
	fmt.Fprintf(w, "eccentricity\t%s\n", o.Eccentricity.In(unit))
	fmt.Fprintf(w, "concentricity (twice the offset)\t%s\n", o.Concentricity.In(unit))
	if o.HasDirection {
		fmt.Fprintf(w, "highest at\t%s deg, flute 1 being 0\n", o.Direction.Format(1))
	}
	fmt.Fprintf(w, "tooth-to-tooth error (TIR about the fitted circle)\t%s\n", o.ResidualTIR.In(unit))
	w.Flush()
	fmt.Fprintln(e.stdout)
	fmt.Fprintln(w, "flute\theight\tover the fitted circle")
	for i, h := range o.heights {
		fmt.Fprintf(w, "%d\t%s\t%s\n", i+1, h.In(unit), o.Residuals[i].In(unit))
	}
	w.Flush()
	fmt.Fprintln(e.stdout)
	printSwept(e, o.swept, unit)
	for _, note := range o.notes() {
		fmt.Fprintf(e.stdout, "note: %s\n", note)
	}
	if o.limit != nil {
		c.printDecision(e, o.decision.Decision, o.gauge, unit)
	}
}

func (o runout) answer(unit length.Unit) string {
	tir := "TIR " + o.TIR.In(unit)
	if o.limit == nil {
		return tir + "; no limit was given"
	}
	limit := o.limit.In(unit)
	switch o.decision.Verdict {
	case statistics.Accept:
		return "ACCEPT: " + tir + " is within the limit of " + limit
	case statistics.Reject:
		return "REJECT: " + tir + " is over the limit of " + limit
	case statistics.Undecided:
		return "UNDECIDED: " + tir + " is too near the limit of " + limit
	}
	return "NOT JUDGED: " + tir + ", limit " + limit
}

// notes says what the count of flutes hides, and whether the run-out is more than noise.
func (o runout) notes() []string {
	var notes []string
	switch len(o.heights) {
	case 2:
		notes = append(notes, "two flutes show the offset along the line through both edges only")
	case 3:
		notes = append(notes, "three flutes lie on a circle whatever their heights: an offset cannot be told from an error of the teeth")
	}
	if above, known := o.estimate.AboveNoise(); known && !above {
		notes = append(notes, "the TIR is not distinguishable from gauge noise")
	}
	return notes
}

// plusMinus prints the band of a value where it is known.
func plusMinus(u *length.Length, unit length.Unit) string {
	if u == nil {
		return ""
	}
	return " ± " + u.In(unit) + " (95 %)"
}
