package calculators

import (
	"fmt"
	"slices"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
	"flutelog/inspect/words"
)

type landFlags struct {
	command.Units
	repeated
	primary, land, primaryAngle, secondaryAngle string
	diameter, helix                             string
	ends, alongRadius                           bool
}

func Land() command.Command {
	var c landFlags
	return command.Command{
		Name:    "land",
		Summary: "the primary's share of the land on each flute, and whether a secondary is needed",
		Example: "land --unit in --primary 0.012,0.013,0.012,0.011 --land 0.048,0.048,0.047,0.048",
		Flags:   c.flags,
		Run:     func(e command.Env, _ *command.Flags) error { return c.run(e) },
	}
}

func (c *landFlags) flags(f *command.Flags) {
	f.StringVar(&c.primary, "primary", "", "width of the primary on each flute, flute 1 first, with commas between")
	f.StringVar(&c.land, "land", "", "width of the whole land on each flute; over half of it a primary needs the secondary (status 3, 4 undecided)")
	f.BoolVar(&c.ends, "ends", false, "the widths are those of the end teeth")
	f.BoolVar(&c.alongRadius, "along-radius", false, "the widths were read looking along the radius, not square to each facet; give both angles")
	f.StringVar(&c.primaryAngle, "primary-angle", "", "primary relief in degrees, with --along-radius or --diameter")
	f.StringVar(&c.secondaryAngle, "secondary-angle", "", "secondary relief in degrees, with --along-radius or --diameter")
	f.StringVar(&c.diameter, "diameter", "", "cutting diameter, with --primary-angle: whether the heel clears the work is judged too")
	f.StringVar(&c.helix, "helix", "", "helix angle in degrees, with --diameter")
	c.repeated.flags(f)
	c.Units.Flags(f)
}

func (c *landFlags) run(e command.Env) error {
	r := c.Reader()
	primary := c.rounds(r, "primary", c.primary)
	land := c.rounds(r, "land", c.land)
	gauge := c.stated(r)
	rule := c.decisionRule(r)
	a1, a2 := c.angles(r, primary, land)
	diameter, helix := r.OptionalSize("diameter", c.diameter), r.Angle("helix", c.helix)
	switch {
	case diameter == nil && helix != nil:
		r.Fail("helix", fmt.Errorf("give --diameter with it"))
	case diameter != nil && (a1 == nil || c.ends):
		r.Fail("diameter", fmt.Errorf("it goes with --primary-angle, on the flutes"))
	}
	if r.Err != nil {
		return r.Err
	}
	if _, err := geometry.JudgeLands(means(primary), means(land)); err != nil {
		return command.Usage(fmt.Errorf("--primary, --land: %w", err))
	}
	in := c.inspection(r, primary, land, gauge, rule)
	if diameter != nil {
		in.Tool.Diameter, in.Tool.PrimaryRelief, in.Tool.SecondaryRelief = *diameter, a1, a2
		if helix != nil {
			in.Tool.Helix = *helix
		}
	}
	j := inspect.Judge(in)
	if len(j.Lands) == 0 {
		return command.Usage(fmt.Errorf("--primary, --land: %s", words.Headline(in, j, r.Unit)))
	}
	out := shares{lands: j.Lands[0], in: in, j: j, tooth: "flute"}
	if c.ends {
		out.tooth = "end tooth"
	}
	for _, f := range j.Findings {
		switch f.Feature {
		case inspect.PrimaryLand, inspect.EndPrimaryLand:
			out.share = f
		case inspect.Heel, inspect.LandClearance:
			out.rubs = append(out.rubs, f)
		}
	}
	if c.JSON {
		if err := command.PrintJSON(e, out.json(r.Unit)); err != nil {
			return err
		}
	} else {
		c.print(e, out, r.Unit)
	}
	return verdictStatus(out.verdict())
}

// inspection is the widths as an inspection between the grinds, which is what asks for a secondary.
func (c *landFlags) inspection(r *command.Reader, primary, land [][]length.Length, g statistics.Accuracy, rule statistics.Rule) inspect.Inspection {
	const gauge = "loupe"
	tool := inspect.Tool{ID: "land", Diameter: 6 * length.Inch, Flutes: len(primary), Material: inspect.HSS, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth}
	in := inspect.Inspection{Tool: tool, Stage: inspect.Between, Basis: inspect.DefaultBasis(tool)}
	in.Basis.WorkRule, in.Basis.Required = rule, []inspect.Item{}
	// An error of the gauge that is not stated is none here: a picometre stands for it.
	in.Basis.Gauges = map[string]inspect.Instrument{gauge: {Resolution: g.Resolution, PermissibleError: max(g.PermissibleError, length.Picometre)}}
	features := [2]inspect.Feature{inspect.PrimaryLand, inspect.Land}
	if c.ends {
		features = [2]inspect.Feature{inspect.EndPrimaryLand, inspect.EndLand}
	}
	texts := [2][]string{command.Parts(c.primary), command.Parts(c.land)} // how finely each was read
	for n, flutes := range [][][]length.Length{primary, land} {
		for i, repeats := range flutes {
			for m, l := range repeats {
				text := texts[n][m*len(flutes)+i]
				_, unit, err := length.ParseWithUnit(text, r.Unit)
				if err != nil {
					unit = r.Unit // said where the list is read
				}
				in.Readings = append(in.Readings, inspect.Reading{Feature: features[n], Flute: i + 1, Repeat: m + 1, Value: l, Text: text, Unit: unit, Gauge: gauge})
			}
		}
	}
	return in
}

// angles reads the reliefs, and takes widths read along the radius to widths square to their facets.
func (c *landFlags) angles(r *command.Reader, primary, land [][]length.Length) (a1, a2 *length.Angle) {
	switch {
	case !c.alongRadius && c.diameter == "" && c.primaryAngle+c.secondaryAngle != "":
		r.Fail("along-radius", fmt.Errorf("the angles are needed only with it, or with --diameter"))
	case !c.alongRadius || r.Err != nil:
		return r.Angle("primary-angle", c.primaryAngle), r.Angle("secondary-angle", c.secondaryAngle)
	}
	one, two := r.NeededAngle("primary-angle", c.primaryAngle), r.NeededAngle("secondary-angle", c.secondaryAngle)
	if len(primary) != len(land) || r.Err != nil {
		return nil, nil // JudgeLands refuses counts that differ
	}
	for i := range primary {
		for m := range primary[i] {
			square, err := geometry.SquareToFacets(geometry.Ratio{Primary: primary[i][m], Land: land[i][m]}, one, two)
			if err != nil {
				r.Fail("along-radius", fmt.Errorf("flute %d: %w", i+1, err))
				return nil, nil
			}
			primary[i][m], land[i][m] = square.Primary, square.Land
		}
	}
	return &one, &two
}

// shares is what the widths come to.
type shares struct {
	lands inspect.LandFigures
	share inspect.Finding
	rubs  []inspect.Finding // heels and ends of lands that do
	tooth string            // flute or end tooth
	in    inspect.Inspection
	j     inspect.Judgement
}

// verdict is that of the share, but that a heel that rubs wants the secondary too.
func (o shares) verdict() statistics.Verdict {
	if o.rubs != nil {
		return statistics.Reject
	}
	return o.share.Verdict
}

// secondary says whether the secondary is needed.
func (o shares) secondary() string {
	switch o.verdict() {
	case statistics.Accept:
		return "not needed"
	case statistics.Reject:
		return "needed"
	}
	return "undecided"
}

func (o shares) json(unit length.Unit) any {
	type worst struct {
		Flute int     `json:"flute"`
		Ratio float64 `json:"ratio"`
	}
	spread := slices.Max(o.lands.Ratios) - slices.Min(o.lands.Ratios)
	var uncertainty *length.Number
	if o.share.Uncertainty != nil {
		u := o.share.Uncertainty.Number(unit)
		uncertainty = &u
	}
	settle := 0
	if o.share.Why != nil {
		settle = o.share.Why.Rounds
	}
	var rubs []output.FindingJSON
	said := words.Of(o.in, o.j, unit)
	for i, f := range o.j.Findings {
		if f.Feature == inspect.Heel || f.Feature == inspect.LandClearance {
			rubs = append(rubs, output.NewFindingJSON(f, said.Findings[i], unit))
		}
	}
	return struct {
		Ratios      []float64            `json:"ratios"`
		Mean        float64              `json:"mean"`
		Worst       worst                `json:"worst"`
		Secondary   string               `json:"secondary"`
		Spread      float64              `json:"spread"`
		Uncertainty *length.Number       `json:"uncertainty,omitempty"` // of the worst ratio, two-sided, 95 %
		Heels       []output.FindingJSON `json:"heels,omitempty"`       // that rub
		decisionJSON
	}{
		o.lands.Ratios, o.lands.Mean, worst{o.lands.Worst, o.lands.Ratios[o.lands.Worst-1]}, o.secondary(), spread, uncertainty, rubs,
		decisionJSON{o.share.Probability, o.share.Rule, words.FindingReason(o.share, unit), settle},
	}
}

func (c *landFlags) print(e command.Env, o shares, unit length.Unit) {
	fmt.Fprintf(e.Stdout, "%s\n\n", o.answer(unit))
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "%s\tprimary\twhole land\tprimary / whole land\n", o.tooth)
	for i, ratio := range o.lands.Ratios {
		fmt.Fprintf(w, "%d\t%s\t%s\t%.3f\n", i+1, o.lands.Primary[i].In(unit), o.lands.Land[i].In(unit), ratio)
	}
	fmt.Fprintf(w, "mean\t\t\t%.3f\n", o.lands.Mean)
	fmt.Fprintf(w, "largest less smallest\t\t\t%.3f\n", slices.Max(o.lands.Ratios)-slices.Min(o.lands.Ratios))
	w.Flush()
	fmt.Fprintln(e.Stdout)
	if c.alongRadius {
		fmt.Fprintln(e.Stdout, "note: the widths were taken from the direction of the radius to square to each facet")
	}
	said := words.Of(o.in, o.j, unit)
	output.Findings(e, said.Findings)
	for _, n := range said.Notes {
		output.Line(e, "note: ", n)
	}
	read := o.share.ReadAs()
	primary, land := o.in.Step(read[0]), o.in.Step(read[1])
	resolution := primary.In(unit)
	if land != primary {
		resolution += ", of the land " + land.In(unit)
	}
	c.printBand(e, resolution)
	if o.verdict() != statistics.Accept {
		fmt.Fprintf(e.Stdout, "\n%s\n", output.GrindingCautions)
	}
}

func (o shares) answer(unit length.Unit) string {
	worst := fmt.Sprintf("%s %d primary is %.3f of the land", o.tooth, o.lands.Worst, o.lands.Ratios[o.lands.Worst-1])
	switch {
	case o.rubs != nil && o.share.Verdict != statistics.Reject:
		return "SECONDARY NEEDED: " + words.FindingReason(o.rubs[0], unit)
	case o.share.Verdict == statistics.Accept:
		return "SECONDARY NOT NEEDED: the widest, " + worst
	case o.share.Verdict == statistics.Reject:
		return "SECONDARY NEEDED: " + worst
	}
	return "UNDECIDED: " + worst + "; grind the secondary: it costs a minute"
}
