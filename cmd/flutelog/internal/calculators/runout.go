// Package calculators are the commands that answer from figures given on the line: run-out, land, relief, set-up,
// stock, chip load, diameter.
package calculators

import (
	"errors"
	"fmt"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

type runoutFlags struct {
	command.Units
	repeated
	sweeps
	heights, angles, limit string
	how
}

// how are the flags of how heights were read, and of what is known beside them of gauge and holding.
type how struct {
	studySD, holdingSD, order, closing string
	studyDF, holdingDF                 int
	reseated, looks                    bool
}

func (h *how) flags(f *command.Flags) {
	f.StringVar(&h.studySD, "study-sd", "", "standard deviation of one reading, from studies of the gauge")
	f.IntVar(&h.studyDF, "study-df", 0, "degrees of freedom behind --study-sd")
	f.StringVar(&h.holdingSD, "holding-sd", "", "standard deviation per axis of seating the tool, from a study of the holding")
	f.IntVar(&h.holdingDF, "holding-df", 0, "degrees of freedom behind --holding-sd")
	f.BoolVar(&h.reseated, "reseated", false, "the tool was taken out and seated again before each round")
	f.WordVar(&h.order, "order", "", "how the list was read: rounds (every flute once, then again) or flutes (all of flute 1 first) (default rounds)")
	f.StringVar(&h.closing, "closing", "", "flute 1 read once more when all else was read")
	f.BoolVar(&h.looks, "looks", false, "the verdict was tried after each round, and reading stopped when it was sure: the 5 % is spent over all looks")
}

// studied reads a standard deviation with its degrees of freedom; neither or both are given.
func studied(r *command.Reader, name, sd string, df int) statistics.Repeatability {
	size := r.OptionalSize(name+"-sd", sd)
	switch {
	case size == nil && df == 0:
	case size == nil || df < 1:
		r.Fail(name+"-sd", fmt.Errorf("give --%s-sd and --%s-df together, with at least one degree of freedom", name, name))
	default:
		return statistics.Repeatability{Micrometres: size.Micrometres(), DF: df}
	}
	return statistics.Repeatability{}
}

func Runout() command.Command {
	var c runoutFlags
	return command.Command{
		Name:    "runout",
		Summary: "run-out of the edges from one high point per flute: TIR, offset and tooth-to-tooth error",
		Example: "runout --unit in --heights 0,0.0003,0.0001,-0.0002 --limit 0.0005",
		Flags:   c.flags,
		Run:     func(e command.Env, _ *command.Flags) error { return c.run(e) },
	}
}

func (c *runoutFlags) flags(f *command.Flags) {
	f.StringVar(&c.heights, "heights", "", "high point of each flute, flute 1 first, plus is high, with commas between; or give --sweep")
	f.StringVar(&c.angles, "angles", "", "angle of each flute in degrees when they are not equally spaced: 0,88,180,268")
	f.StringVar(&c.limit, "limit", "", "the most the TIR may be; a TIR equal to it conforms (status 3 over it, 4 undecided)")
	c.repeated.flags(f)
	c.how.flags(f)
	c.sweeps.flags(f)
	c.Units.Flags(f)
}

// runout is what the heights come to.
type runout struct {
	geometry.Runout
	heights  []length.Length // mean of each flute's repeats
	limit    *length.Length
	gauge    statistics.Accuracy
	swept    []geometry.Swept // what each trace told, where there are traces
	readings statistics.Readings
	told     statistics.Heights // what the readings tell
	estimate statistics.Estimate
	decision statistics.LengthDecision
	likely   *geometry.Likely // nil where the readings do not tell how good they are
}

func (c *runoutFlags) run(e command.Env) error {
	r := c.Reader()
	var out runout
	if err := c.read(e, r, &out); err != nil {
		return err
	}
	angles := r.Angles("angles", c.angles)
	out.limit = r.OptionalSize("limit", c.limit)
	rule := c.decisionRule(r)
	if r.Err != nil {
		return r.Err
	}
	if err := out.work(angles, rule); err != nil {
		return command.Usage(fmt.Errorf("--heights, --angles: %w", err))
	}
	if c.JSON {
		if err := command.PrintJSON(e, out.json(r.Unit)); err != nil {
			return err
		}
	} else {
		c.print(e, out, r.Unit)
	}
	if out.limit == nil {
		return nil
	}
	return verdictStatus(out.decision.Verdict)
}

// read takes the readings from the list of heights or from traces, and how they were read.
func (c *runoutFlags) read(e command.Env, r *command.Reader, o *runout) error {
	q := &o.readings
	q.Closing = r.Optional("closing", c.closing)
	q.Order = statistics.Order(r.Choice("order", c.order, string(statistics.ByRounds), string(statistics.ByFlutes)))
	q.Reseated, q.Looks = c.reseated, c.looks
	q.Holding = studied(r, "holding", c.holdingSD, c.holdingDF)
	if c.files == nil {
		if q.Order == statistics.ByFlutes {
			q.Flutes = c.byFlutes(r, "heights", c.heights)
		} else {
			q.Flutes = c.rounds(r, "heights", c.heights)
		}
		q.Accuracy = c.gauge(r, c.heights, c.closing)
	} else {
		if c.heights != "" || c.repeats != 1 || c.closing != "" || c.order != "" {
			return command.Usagef("--sweep stands in place of --heights, --repeats, --order and --closing; each trace is a round")
		}
		var err error
		o.swept, q.Accuracy, err = c.sweeps.read(r, &c.repeated)
		if errors.Is(err, geometry.ErrUnclear) {
			fmt.Fprintf(e.Stderr, "flutelog: %v; turn the tool again\n", err)
			return command.StatusOpen
		}
		if err != nil {
			return err
		}
		q.Flutes, q.AtOnce = roundsOf(o.swept), true
	}
	q.Accuracy.Studied = studied(r, "study", c.studySD, c.studyDF)
	o.gauge = q.Accuracy
	return r.Err
}

// work fits the heights and holds their TIR against the limit.
func (o *runout) work(angles []length.Angle, rule statistics.Rule) error {
	for _, a := range angles {
		o.readings.Radians = append(o.readings.Radians, a.Radians())
	}
	if _, err := geometry.FitRunout(means(o.readings.Flutes), angles); err != nil {
		return err
	}
	var err error
	if o.told, err = o.readings.Heights(); err != nil {
		return err
	}
	o.heights = o.told.Corrected()
	if o.Runout, err = geometry.FitRunout(o.heights, angles); err != nil {
		return err
	}
	o.estimate = o.told.TIR()
	o.TIR = o.estimate.Value
	if o.decision, err = statistics.Decide(o.estimate, nil, o.limit, rule); err != nil {
		return err
	}
	if u, df, known := o.told.MeanNoise(); known {
		likely, err := geometry.LikelyCauses(o.heights, angles, geometry.LastRound(nil, len(o.heights)), u, float64(df))
		if err != nil {
			return err
		}
		o.likely = &likely
	}
	return nil
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
		direction = command.AngleNumber(&o.Direction)
	}
	var standard, teeth, drift *length.Number
	var df *int
	if u, degrees, known := o.estimate.StandardUncertainty(); known {
		standard, df = command.Number(&u, unit), degrees
	}
	if e, ok := o.told.ToothError(); ok {
		teeth = command.Number(doubt(e), unit)
	}
	if o.told.Drift.Shown {
		over := o.told.Drift.Over()
		drift = command.Number(&over, unit)
	}
	var suspect *suspectJSON
	if s := o.told.Suspect; s != nil {
		suspect = &suspectJSON{Flute: s.Flute}
		if s.Repeat > 0 {
			suspect.Repeat = &s.Repeat
		}
	}
	causes, hint := []causeJSON{}, ""
	if o.likely != nil {
		hint = o.likely.Hint()
		for _, c := range o.likely.Parts {
			causes = append(causes, causeJSON{c.Cause.String(), c.Size.Number(unit), c.Flute})
		}
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
		Standard      *length.Number     `json:"standard_uncertainty,omitempty"`
		DF            *int               `json:"degrees_of_freedom,omitempty"` // behind it
		OfOffset      *length.Number     `json:"concentricity_uncertainty,omitempty"`
		OfTeeth       *length.Number     `json:"tooth_error_uncertainty,omitempty"`
		decisionJSON
		AsHeld  bool           `json:"as_held"`           // holding is neither in the readings nor studied
		Drift   *length.Number `json:"drift,omitempty"`   // over all readings, where it is above the noise; taken out
		Suspect *suspectJSON   `json:"suspect,omitempty"` // the reading that stands apart
		Causes  []causeJSON    `json:"causes"`            // the one, or the two together, that explain the heights
		Hint    string         `json:"cause_hint,omitempty"`
		Sweeps  []sweptJSON    `json:"sweeps,omitempty"`
	}{
		unit, len(o.heights), o.TIR.Number(unit), o.Eccentricity.Number(unit), o.Concentricity.Number(unit), direction,
		command.Numbers(o.Residuals, unit), o.ResidualTIR.Number(unit), o.decision.Verdict, command.Number(o.limit, unit),
		command.Number(o.uncertainty(), unit), standard, df, command.Number(doubt(o.told.Concentricity()), unit), teeth, newDecisionJSON(o.decision.Decision),
		o.told.AsHeld, drift, suspect, causes, hint, sweptOf(o.swept, unit),
	}
}

// suspectJSON is the reading that stands apart; repeat is null where two differ and nothing tells which is wrong.
type suspectJSON struct {
	Flute  int  `json:"flute"`
	Repeat *int `json:"repeat"`
}

type causeJSON struct {
	Cause string        `json:"cause"`
	Size  length.Number `json:"size"`
	Flute int           `json:"flute,omitempty"`
}

// doubt is the two-sided band of an estimate; nil where it is not known.
func doubt(e statistics.Estimate) *length.Length {
	if u, known := e.Uncertainty(); known {
		return &u
	}
	return nil
}

func (c *runoutFlags) print(e command.Env, o runout, unit length.Unit) {
	fmt.Fprintf(e.Stdout, "%s\n\n", o.answer(unit))
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "TIR\t%s%s\n", o.TIR.In(unit), plusMinus(o.uncertainty(), unit))
	fmt.Fprintf(w, "eccentricity\t%s\n", o.Eccentricity.In(unit))
	fmt.Fprintf(w, "concentricity (twice the offset)\t%s%s\n", o.Concentricity.In(unit), plusMinus(doubt(o.told.Concentricity()), unit))
	if o.HasDirection {
		fmt.Fprintf(w, "highest at\t%s deg, flute 1 being 0\n", o.Direction.Format(1))
	}
	var teeth *length.Length
	if e, ok := o.told.ToothError(); ok {
		teeth = doubt(e)
	}
	fmt.Fprintf(w, "tooth-to-tooth error (TIR about the fitted circle)\t%s%s\n", o.ResidualTIR.In(unit), plusMinus(teeth, unit))
	w.Flush()
	fmt.Fprintln(e.Stdout)
	fmt.Fprintln(w, "flute\theight\tover the fitted circle")
	for i, h := range o.heights {
		fmt.Fprintf(w, "%d\t%s\t%s\n", i+1, h.In(unit), o.Residuals[i].In(unit))
	}
	w.Flush()
	fmt.Fprintln(e.Stdout)
	printSwept(e, o.swept, unit)
	for _, note := range o.notes(unit) {
		fmt.Fprintf(e.Stdout, "note: %s\n", note)
	}
	if o.limit != nil {
		c.printDecision(e, o.decision.Decision, o.gauge, unit)
	}
}

func (o runout) answer(unit length.Unit) string {
	tir := "TIR " + o.TIR.In(unit)
	if o.told.AsHeld && o.estimate.Noise.Known() && o.limit != nil {
		tir += ", as held in the fixture,"
	}
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
func (o runout) notes(unit length.Unit) []string {
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
	if o.told.Suspect != nil {
		notes = append(notes, o.told.Suspect.String())
	}
	if d := o.told.Drift; d.Shown && !d.Jumped {
		notes = append(notes, "a drift of "+d.Over().In(unit)+" over the readings was taken out")
	}
	if o.told.Drift.Jumped {
		notes = append(notes, "the level moved between rounds, and not evenly; it was taken out")
	}
	if o.likely != nil && o.decision.Verdict != statistics.Accept {
		notes = append(notes, o.likely.Hint())
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
