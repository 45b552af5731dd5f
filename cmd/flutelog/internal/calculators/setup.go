package calculators

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/trend"
	"flutelog/inspect/words"
)

type setupFlags struct {
	command.Units
	command.Places
	angle, cutter, wheel, wheelName, material, helix string
	taper, along, dish                               string
	rpm                                              int
	learned, ends                                    bool
}

func Setup() command.Command {
	var c setupFlags
	return command.Command{
		Name:    "setup",
		Summary: "how to set the grinder for a relief angle: tooth rest, wheel centre, surface speed",
		Example: "setup --unit in --angle 7 --cutter 0.5 --wheel 4 --rpm 3600",
		Flags:   c.flags,
		Run:     c.run,
	}
}

func (c *setupFlags) flags(f *command.Flags) {
	f.StringVar(&c.angle, "angle", "", "relief to grind, in degrees")
	f.StringVar(&c.cutter, "cutter", "", "diameter of the cutter: sets the tooth rest of a cup wheel")
	f.StringVar(&c.wheel, "wheel", "", "diameter of the wheel as it is now: sets the centre of a disc wheel (default: that of --wheel-name)")
	f.IntVar(&c.rpm, "rpm", 0, "turns a minute of the wheel: the surface speed is worked out")
	f.StringVar(&c.wheelName, "wheel-name", "", "a wheel of the bench file: its marked speed, abrasive and rotation are shown (status 3 with --rpm over the marked speed)")
	f.WordVar(&c.material, "material", "", command.OneOf(inspect.ToolWords("material")...)+": the wheels of the bench file for it are shown (status 3 when --wheel-name is not for it)")
	f.StringVar(&c.helix, "helix", "", "helix angle in degrees: shows how far a rest off the wheel's contact turns the tooth")
	f.StringVar(&c.taper, "taper", "", "taper in degrees a side, with --along: the rest is set for the middle, and the relief at both ends is shown")
	f.StringVar(&c.along, "along", "", "length of the edges along the axis, from the end where the tool measures --cutter toward the shank")
	f.BoolVar(&c.ends, "ends", false, "the relief is ground on the end teeth: how the fixture is tilted and swivelled")
	f.StringVar(&c.dish, "dish", "", "with --ends: dish in degrees, hollow toward the centre (default 2)")
	f.BoolVar(&c.learned, "learned", false, "say what relief the tooth rest will really give, from the ledger's records of this bench, and of --wheel-name where it is given")
	c.Places.Flags(f)
	c.Units.Flags(f)
}

// setup is how the grinder is set.
type setup struct {
	angle                    length.Angle
	cutter, wheel            *length.Length
	rest, above              *length.Length   // of the tooth rest below the cutter's centre, of the wheel's centre above it
	step                     length.Length    // by which an offset may be off
	perRest, perWheel, twist *length.Angle    // what that step changes
	use                      inspect.WheelUse // the wheel as it would turn; without a name where none was named
	rpm                      int
	named                    *bench.Wheel
	material                 inspect.Material
	wheels                   []bench.Wheel         // of the bench file, for the material
	learned                  *trend.ReliefEstimate // what the tooth rest will give; nil when that is not asked

	normal  *length.Angle         // the relief in the plane square to a helical edge
	tapered *geometry.TaperedRest // what the rest gives at both ends of a taper
	dish    *length.Angle         // of end teeth
}

func (c *setupFlags) run(e command.Env, f *command.Flags) error {
	r := c.Reader()
	s := setup{angle: r.NeededAngle("angle", c.angle), cutter: r.OptionalSize("cutter", c.cutter), rpm: c.rpm}
	taper, along := r.Angle("taper", c.taper), r.OptionalSize("along", c.along)
	if c.ends {
		two := 2 * length.Degree // common practice, no source
		s.dish = &two
		if dish := r.Angle("dish", c.dish); dish != nil {
			s.dish = dish
		}
	} else if c.dish != "" {
		r.Fail("dish", fmt.Errorf("it goes with --ends"))
	}
	c.fromBench(e, r, &s)
	if wheel := r.OptionalSize("wheel", c.wheel); wheel != nil {
		s.wheel = wheel
	}
	helix := r.Angle("helix", c.helix)
	switch {
	case c.ends && (s.cutter != nil || helix != nil || taper != nil || c.learned):
		r.Fail("ends", fmt.Errorf("end teeth are tilted by the relief itself; --cutter, --helix, --taper and --learned are of the flutes"))
	case (taper == nil) != (along == nil) || taper != nil && s.cutter == nil:
		r.Fail("taper", fmt.Errorf("give --taper, --along and --cutter together"))
	case s.cutter == nil && s.wheel == nil && !c.ends:
		r.Fail("cutter", fmt.Errorf("give it for a cup wheel, --wheel for a disc wheel, or both"))
	case f.Changed("rpm") && c.rpm <= 0:
		r.Fail("rpm", fmt.Errorf("%d: want more than zero", c.rpm))
	case c.rpm > 0 && s.wheel == nil:
		r.Fail("rpm", fmt.Errorf("give the wheel's diameter with --wheel"))
	case helix != nil && s.cutter == nil:
		r.Fail("helix", fmt.Errorf("give the cutter's diameter with --cutter"))
	case c.learned && s.cutter == nil:
		r.Fail("learned", fmt.Errorf("give the cutter's diameter with --cutter: it is about the tooth rest at a cup wheel"))
	}
	if r.Err != nil {
		return r.Err
	}
	unit := r.Unit
	if unit == length.None {
		unit = length.In // the wheel's size came from the bench file
	}
	if err := s.work(helix, unit); err != nil {
		return command.Usage(err)
	}
	if taper != nil {
		rest, err := geometry.RestOfTaper(*s.cutter, *along, *taper, s.angle)
		if err != nil {
			return command.Usage(fmt.Errorf("--taper, --along: %w", err))
		}
		s.tapered, s.rest = &rest, &rest.Rest
	}
	if c.learned {
		x, err := learn(e, &c.Places, c.wheelName)
		if err != nil {
			return err
		}
		relief, err := trend.EstimateRelief(x.relief, 0, s.angle)
		if err != nil {
			return err
		}
		s.learned = &relief
	}
	if c.JSON {
		if err := command.PrintJSON(e, s.json(unit)); err != nil {
			return err
		}
	} else {
		s.print(e, unit)
	}
	if s.use.Wrong() {
		return command.StatusFallsShort
	}
	return nil
}

// fromBench reads what the bench file says of the wheel named, and of the wheels for the material.
func (c *setupFlags) fromBench(e command.Env, r *command.Reader, s *setup) {
	if c.wheelName == "" && c.material == "" {
		return
	}
	b, err := c.ReadBench(e)
	if err != nil {
		r.Fail("bench", err)
		return
	}
	if c.wheelName != "" {
		w, err := b.Wheel(c.wheelName)
		if err != nil {
			r.Fail("wheel-name", err)
			return
		}
		s.named, s.wheel = &w, &w.Diameter
	}
	if c.material == "" {
		return
	}
	if s.material, err = inspect.ParseMaterial(c.material); err != nil {
		r.Fail("material", err)
	}
	for _, w := range b.Wheels {
		if inspect.Wheel(w).Grinds(s.material) {
			s.wheels = append(s.wheels, w)
		}
	}
}

// work works the offsets out, with what an error of one step in them changes.
func (s *setup) work(helix *length.Angle, unit length.Unit) error {
	s.step = length.Thou
	if unit.Metric() {
		s.step = 10 * length.Micrometre
	}
	var err error
	if s.rest, s.perRest, err = s.offset(s.cutter); err != nil {
		return fmt.Errorf("--angle, --cutter: %w", err)
	}
	if s.above, s.perWheel, err = s.offset(s.wheel); err != nil {
		return fmt.Errorf("--angle, --wheel: %w", err)
	}
	if helix != nil {
		twist, err := geometry.HelixTurn(s.step, *s.cutter, *helix)
		if err != nil {
			return fmt.Errorf("--helix: %w", err)
		}
		s.twist = &twist
		normal, err := geometry.NormalRelief(s.angle, *helix)
		if err != nil {
			return fmt.Errorf("--angle, --helix: %w", err)
		}
		s.normal = &normal
	}
	var wheel inspect.Wheel
	if s.named != nil {
		wheel = inspect.Wheel(*s.named)
	}
	if s.wheel != nil {
		wheel.Diameter = *s.wheel // as it is now
	}
	if s.rpm > 0 {
		if _, err := geometry.SurfaceSpeed(wheel.Diameter, float64(s.rpm)); err != nil {
			return fmt.Errorf("--wheel, --rpm: %w", err)
		}
	}
	s.use = wheel.Runs(s.rpm, s.material)
	return nil
}

// offset returns the offset for a diameter, and by how much the relief changes with one step of it.
func (s *setup) offset(diameter *length.Length) (*length.Length, *length.Angle, error) {
	if diameter == nil || s.dish != nil {
		return nil, nil, nil
	}
	offset, err := geometry.ClearanceOffset(*diameter, s.angle)
	if err != nil {
		return nil, nil, err
	}
	change, err := geometry.OffsetSensitivity(*diameter, s.angle, s.step)
	return &offset, &change, err
}

type wheelJSON struct {
	Name      string             `json:"name"`
	MarkedRPM int                `json:"marked_rpm"`
	Abrasive  string             `json:"abrasive"`
	Bond      string             `json:"bond"`
	Rotation  string             `json:"rotation"`
	Materials []inspect.Material `json:"materials"`
}

func newWheelJSON(w bench.Wheel) wheelJSON {
	return wheelJSON{w.Name, w.MarkedRPM, w.Abrasive, w.Bond, w.Rotation, w.Materials}
}

func (s *setup) json(unit length.Unit) any {
	out := struct {
		Rest         *length.Number `json:"tooth_rest_below"`
		Above        *length.Number `json:"wheel_above"`
		FeetPerMin   *float64       `json:"surface_speed_ft_min"`
		MetresPerSec *float64       `json:"surface_speed_m_s"`
		Unit         length.Unit    `json:"unit"`
		Step         length.Number  `json:"step"` // by which an offset may be off
		PerRest      *length.Number `json:"relief_change_tooth_rest_deg,omitempty"`
		PerWheel     *length.Number `json:"relief_change_wheel_deg,omitempty"`
		Twist        *length.Number `json:"tooth_turns_deg,omitempty"`
		Wheel        *wheelJSON     `json:"wheel,omitempty"`
		Normal       *length.Number `json:"normal_relief_deg,omitempty"`   // square to the helical edge
		SmallEnd     *length.Number `json:"relief_at_end_deg,omitempty"`   // of a taper, at the end of the tool
		BigEnd       *length.Number `json:"relief_at_shank_deg,omitempty"` // and toward the shank
		Tilt         *length.Number `json:"tilt_deg,omitempty"`            // of the fixture, for end teeth
		Swivel       *length.Number `json:"swivel_deg,omitempty"`          // for their dish
		TooFast      bool           `json:"over_marked_speed"`
		OverUsual    bool           `json:"over_usual_speed"`
		WrongWheel   bool           `json:"not_for_material"`
		Wheels       []wheelJSON    `json:"wheels_for_material,omitempty"`
		Learned      *learnedRelief `json:"learned,omitempty"`
	}{
		Rest: command.Number(s.rest, unit), Above: command.Number(s.above, unit), Unit: unit, Step: s.step.Number(unit),
		PerRest: command.AngleNumber(s.perRest), PerWheel: command.AngleNumber(s.perWheel), Twist: command.AngleNumber(s.twist),
		TooFast: s.use.OverMarked, OverUsual: s.use.OverUsual, WrongWheel: s.use.NotFor, Normal: command.AngleNumber(s.normal),
	}
	if s.tapered != nil {
		out.SmallEnd, out.BigEnd = command.AngleNumber(&s.tapered.End), command.AngleNumber(&s.tapered.Shank)
	}
	if s.dish != nil {
		out.Tilt, out.Swivel = command.AngleNumber(&s.angle), command.AngleNumber(s.dish)
	}
	if s.rpm > 0 {
		feet, metres := s.use.Speed.FeetPerMinute(), float64(s.use.Speed)
		out.FeetPerMin, out.MetresPerSec = &feet, &metres
	}
	if s.named != nil {
		w := newWheelJSON(*s.named)
		out.Wheel = &w
	}
	if r := s.learned; r != nil {
		out.Learned = &learnedRelief{command.DegreesNumber(r.Relief), command.DegreesNumber(r.Lower), command.DegreesNumber(r.Upper), r.Footing}
	}
	for _, w := range s.wheels {
		out.Wheels = append(out.Wheels, newWheelJSON(w))
	}
	return out
}

func (s *setup) print(e command.Env, unit length.Unit) {
	for _, why := range words.WrongWheel(s.use) {
		fmt.Fprintln(e.Stdout, why)
	}
	fmt.Fprintf(e.Stdout, "to grind %s deg of relief:\n", s.angle.Format(2))
	if s.dish != nil {
		fmt.Fprintf(e.Stdout, "  end teeth: tilt the fixture %s deg, swivel it %s deg so that the end is hollow toward the centre; the tooth on its rest, level with the centre\n", s.angle.Format(2), s.dish.Format(2))
	}
	if s.rest != nil {
		fmt.Fprintf(e.Stdout, "  cup wheel: tooth rest %s below the cutter's centre\n", s.rest.In(unit))
	}
	if s.above != nil {
		fmt.Fprintf(e.Stdout, "  disc wheel: wheel's centre %s above the cutter's centre\n", s.above.In(unit))
	}
	if s.tapered != nil {
		fmt.Fprintf(e.Stdout, "  the rest is right in the middle of the taper: %s deg at the end of the tool, %s deg toward the shank; read the drop at both\n", s.tapered.End.Format(2), s.tapered.Shank.Format(2))
	}
	if s.normal != nil {
		fmt.Fprintf(e.Stdout, "  square to the helical edge the relief stands at %s deg\n", s.normal.Format(2))
	}
	if s.learned != nil {
		fmt.Fprintln(e.Stdout, reliefWords(*s.learned))
	}
	s.printSensitivity(e, unit)
	if s.rpm > 0 {
		fmt.Fprintf(e.Stdout, "surface speed %.0f ft/min, %.1f m/s at %d turns a minute: hold it against the speed marked on the wheel\n", s.use.Speed.FeetPerMinute(), float64(s.use.Speed), s.rpm)
	}
	s.printWheels(e, unit)
	fmt.Fprintf(e.Stdout, "\n%s\n", output.GrindingCautions)
}

func (s *setup) printSensitivity(e command.Env, unit length.Unit) {
	step := s.step.In(unit)
	if s.perRest != nil {
		fmt.Fprintf(e.Stdout, "%s of the tooth rest changes the relief by %s deg\n", step, s.perRest.Format(3))
	}
	if s.perWheel != nil {
		fmt.Fprintf(e.Stdout, "%s of the wheel's centre changes the relief by %s deg\n", step, s.perWheel.Format(3))
	}
	if s.twist != nil {
		fmt.Fprintf(e.Stdout, "%s between a rest fixed to the wheelhead and the wheel's contact, along the axis, turns the tooth by %s deg\n", step, s.twist.Format(3))
	}
}

func (s *setup) printWheels(e command.Env, unit length.Unit) {
	wheels := s.wheels
	if s.named != nil {
		wheels = []bench.Wheel{*s.named}
	}
	if wheels == nil {
		if s.material != "" {
			fmt.Fprintf(e.Stdout, "the bench file lists no wheel for %s\n", s.material)
		}
		return
	}
	fmt.Fprintln(e.Stdout)
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "wheel\tdiameter\tmarked, turns a minute\tabrasive\tbond\tfor\trotation")
	for _, wheel := range wheels {
		var materials []string
		for _, m := range wheel.Materials {
			materials = append(materials, string(m))
		}
		fmt.Fprintf(w, "%s\t%s\t%d\t%s\t%s\t%s\t%s\n", wheel.Name, wheel.Diameter.In(unit), wheel.MarkedRPM, wheel.Abrasive, wheel.Bond, strings.Join(materials, ", "), wheel.Rotation)
	}
	w.Flush()
}
