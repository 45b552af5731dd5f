package calculators

import (
	"fmt"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

type reliefFlags struct {
	command.Units
	diameter, distance, drop, angle, form, wheel, motion, tip, lever string
	heel, primaryAngle, helix, uDrop, uDistance                      string
	ends                                                             bool
}

func Relief() command.Command {
	var c reliefFlags
	return command.Command{
		Name:    "relief",
		Summary: "the relief angle for an indicator drop, or the drop to look for",
		Example: "relief --unit in --diameter 0.5 --distance 0.02 --drop 0.0023",
		Flags:   c.flags,
		Run:     func(e command.Env, _ *command.Flags) error { return c.run(e) },
	}
}

func (c *reliefFlags) flags(f *command.Flags) {
	f.StringVar(&c.diameter, "diameter", "", "cutting diameter")
	f.StringVar(&c.distance, "distance", "", "checking distance behind the edge, or behind the heel of the primary with --heel")
	f.StringVar(&c.drop, "drop", "", "fall of the indicator over that distance: the angle is worked out")
	f.StringVar(&c.angle, "angle", "", "relief in degrees: the drop to look for is worked out")
	f.WordVar(&c.form, "form", "", "shape of the primary: flat, hollow (give --wheel) or eccentric, which is also called curved (default flat)")
	f.StringVar(&c.wheel, "wheel", "", "diameter of the disc wheel whose rim ground a hollow land")
	f.WordVar(&c.motion, "motion", "", "turn the tool under the indicator, or slide it along the tangent: turn or slide (default turn)")
	f.BoolVar(&c.ends, "ends", false, "an end tooth, slid along the path of its corner; needs no diameter")
	f.StringVar(&c.tip, "tip", "", "radius of the indicator's ball tip (default pointed)")
	f.StringVar(&c.lever, "lever", "", "angle in degrees between a lever-type indicator's lever and the square to the drop")
	f.StringVar(&c.heel, "heel", "", "width of the primary, when the secondary is checked from its heel")
	f.StringVar(&c.primaryAngle, "primary-angle", "", "primary relief in degrees, with --heel")
	f.StringVar(&c.helix, "helix", "", "helix angle in degrees, with --heel: the width was read square to the edge (default 0: read square to the axis)")
	f.StringVar(&c.uDrop, "u-drop", "", "standard uncertainty of the drop")
	f.StringVar(&c.uDistance, "u-distance", "", "standard uncertainty of the checking distance")
	c.Units.Flags(f)
}

func (c *reliefFlags) run(e command.Env) error {
	r := c.Reader()
	check := c.check(r)
	drop, angle := r.Optional("drop", c.drop), r.Angle("angle", c.angle)
	uDrop, uDistance := r.OptionalSize("u-drop", c.uDrop), r.OptionalSize("u-distance", c.uDistance)
	switch {
	case (drop == nil) == (angle == nil):
		r.Fail("drop", fmt.Errorf("give it, or --angle in its place"))
	case drop == nil && (uDrop != nil || uDistance != nil):
		r.Fail("u-drop", fmt.Errorf("--u-drop and --u-distance are carried through from a drop; give --drop"))
	}
	if r.Err != nil {
		return r.Err
	}
	if angle != nil {
		return c.printDrop(e, check, *angle, r.Unit)
	}
	return c.printAngle(e, check, *drop, orNought(uDrop), orNought(uDistance), r.Unit)
}

func orNought(l *length.Length) length.Length {
	if l == nil {
		return 0
	}
	return *l
}

// check reads how the relief is checked.
func (c *reliefFlags) check(r *command.Reader) geometry.Relief {
	check := geometry.Relief{Distance: r.Size("distance", c.distance)}
	check.Form, check.Wheel = readForm(r, c.form, c.wheel, "wheel")
	if r.Choice("motion", c.motion, "turn", "slide") == "slide" {
		check.Motion = geometry.Slid
	}
	switch {
	case c.ends && (check.Form != geometry.Flat || c.motion == "turn"):
		r.Fail("ends", fmt.Errorf("an end tooth is flat and is slid under the indicator"))
	case c.ends:
		check.Motion = geometry.Slid
	default:
		check.Diameter = r.Size("diameter", c.diameter)
	}
	check.Tip = orNought(r.OptionalSize("tip", c.tip))
	if lever := r.Angle("lever", c.lever); lever != nil {
		check.Lever = *lever
	}
	c.fromHeel(r, &check)
	return check
}

// fromHeel reads where the heel of the primary stands that a secondary is checked from.
func (c *reliefFlags) fromHeel(r *command.Reader, check *geometry.Relief) {
	if c.heel == "" {
		if c.primaryAngle+c.helix != "" {
			r.Fail("heel", fmt.Errorf("give the primary's width when the secondary is checked; --primary-angle and --helix belong to it"))
		}
		return
	}
	heel := r.Size("heel", c.heel)
	check.PrimaryRelief = r.NeededAngle("primary-angle", c.primaryAngle)
	var helix length.Angle
	if a := r.Angle("helix", c.helix); a != nil {
		helix = *a
	}
	var err error
	if check.Heel, err = geometry.InSection(heel, helix); err != nil {
		r.Fail("helix", err)
	}
}

func (c *reliefFlags) facet() string {
	switch {
	case c.heel != "":
		return "secondary relief"
	case c.ends:
		return "relief of the end tooth"
	}
	return "relief"
}

func (c *reliefFlags) printDrop(e command.Env, check geometry.Relief, angle length.Angle, unit length.Unit) error {
	drop, err := check.Drop(angle)
	if err != nil {
		return command.Usage(fmt.Errorf("--angle %s: %w", c.angle, err))
	}
	if c.JSON {
		return command.PrintJSON(e, struct {
			Drop length.Number `json:"drop"`
			Unit length.Unit   `json:"unit"`
		}{drop.Number(unit), unit})
	}
	fmt.Fprintf(e.Stdout, "drop %s over %s for a %s of %s deg\n", drop.In(unit), check.Distance.In(unit), c.facet(), angle.Format(3))
	return nil
}

func (c *reliefFlags) printAngle(e command.Env, check geometry.Relief, drop, uDrop, uDistance length.Length, unit length.Unit) error {
	angle, err := check.Angle(drop)
	if err != nil {
		return command.Usage(fmt.Errorf("--drop %s: %w", c.drop, err))
	}
	var u *geometry.ReliefUncertainty
	if uDrop > 0 || uDistance > 0 {
		carried, err := check.Uncertainty(drop, uDrop, uDistance)
		if err != nil {
			return command.Usage(fmt.Errorf("--drop %s: %w", c.drop, err))
		}
		u = &carried
	}
	held := c.held(check, drop, unit)
	if c.JSON {
		return command.PrintJSON(e, newReliefJSON(angle, u, held, unit))
	}
	fmt.Fprintf(e.Stdout, "%s %s deg from a drop of %s over %s\n", c.facet(), angle.Format(3), drop.In(unit), check.Distance.In(unit))
	if u != nil {
		fmt.Fprintf(e.Stdout, "standard uncertainty %s deg: %s deg from the drop, %s deg from the distance\n", u.Angle.Format(3), u.FromDrop.Format(3), u.FromDistance.Format(3))
	}
	if held != nil {
		output.Line(e, "", fmt.Sprintf("%s: usual at this diameter is %s (%s)", held.Verdict, words.Band(held.Least, held.Most, unit), held.Source))
	}
	return nil
}

// held is the drop as an inspection between the grinds judges it, by the usual limits of the diameter; nil where it is not
// the primary of a flute that was read with a pointed tip.
func (c *reliefFlags) held(check geometry.Relief, drop length.Length, unit length.Unit) *inspect.Finding {
	if c.ends || check.Heel > 0 || check.Tip > 0 || check.Lever > 0 {
		return nil
	}
	tool := inspect.Tool{ID: "relief", Diameter: check.Diameter, Flutes: 1, Material: inspect.HSS, Ends: inspect.BallEnd, Teeth: inspect.PlainTeeth}
	tool.Form = map[geometry.Form]inspect.Form{geometry.Flat: inspect.FlatRelief, geometry.Hollow: inspect.HollowRelief, geometry.Eccentric: inspect.EccentricRelief}[check.Form]
	in := inspect.Inspection{Tool: tool, Stage: inspect.Between, Basis: inspect.DefaultBasis(tool)}
	in.Basis.WheelDiameter, in.Basis.Required = check.Wheel, []inspect.Item{}
	if check.Motion == geometry.Slid {
		in.Basis.DropBy = inspect.BySliding
	}
	in.Readings = []inspect.Reading{{Feature: inspect.ReliefDrop, Flute: 1, Repeat: 1, Over: &check.Distance, Value: drop, Text: drop.Format(unit, 9), Unit: unit}}
	for _, f := range inspect.Judge(in).Findings {
		if f.Feature == inspect.ReliefDrop && f.Value != nil {
			return &f
		}
	}
	return nil
}

type reliefJSON struct {
	Relief       length.Number  `json:"relief_deg"`
	U            *length.Number `json:"u_deg,omitempty"` // standard uncertainty
	FromDrop     *length.Number `json:"u_from_drop_deg,omitempty"`
	FromDistance *length.Number `json:"u_from_distance_deg,omitempty"`

	// How an inspection judges it by the usual limits of the diameter.
	Verdict inspect.Verdict `json:"verdict,omitempty"`
	Least   *length.Number  `json:"least_deg,omitempty"`
	Most    *length.Number  `json:"most_deg,omitempty"`
}

func newReliefJSON(angle length.Angle, u *geometry.ReliefUncertainty, held *inspect.Finding, unit length.Unit) reliefJSON {
	out := reliefJSON{Relief: command.DegreesNumber(angle)}
	if u != nil {
		out.U, out.FromDrop, out.FromDistance = command.AngleNumber(&u.Angle), command.AngleNumber(&u.FromDrop), command.AngleNumber(&u.FromDistance)
	}
	if held != nil {
		out.Verdict = held.Verdict
		if held.Least != nil && held.Most != nil {
			least, most := held.Least.Number(unit), held.Most.Number(unit)
			out.Least, out.Most = &least, &most
		}
	}
	return out
}

// readForm reads the shape of a relief, with the diameter of the disc wheel that grinds a hollow one.
func readForm(r *command.Reader, form, wheel, wheelFlag string) (geometry.Form, length.Length) {
	if form == "curved" { // another word for it
		form = "eccentric"
	}
	shape := geometry.Flat
	switch r.Choice("form", form, "flat", "hollow", "eccentric") {
	case "hollow":
		return geometry.Hollow, r.Size(wheelFlag, wheel)
	case "eccentric":
		shape = geometry.Eccentric
	}
	if wheel != "" {
		r.Fail(wheelFlag, fmt.Errorf("it goes with --form hollow"))
	}
	return shape, 0
}
