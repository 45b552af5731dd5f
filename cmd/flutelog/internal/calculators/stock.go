package calculators

import (
	"errors"
	"fmt"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/trend"
	"flutelog/inspect/words"
)

type stockFlags struct {
	command.Units
	command.Places
	primary, land, primaryAngle, secondaryAngle, rake, helix string
	form, grindingWheel                                      string
	division, reads, feedAngle, wear, heights, target        string
	diameter, wornDiameter, smallest                         string
	passes                                                   int
	learned                                                  bool
	wheel                                                    string
}

func Stock() command.Command {
	var c stockFlags
	return command.Command{
		Name:    "stock",
		Summary: "the grind worked out: the infeed that clears the wear, in divisions of the feed, and the primary after each",
		Example: "stock --unit in --diameter 0.5 --primary 0.02 --land 0.08 --primary-angle 8 --secondary-angle 16 --rake 5 --division 0.002 --wear 0.015 --passes 3",
		Flags:   c.flags,
		Run:     func(e command.Env, _ *command.Flags) error { return c.run(e) },
	}
}

func (c *stockFlags) flags(f *command.Flags) {
	f.StringVar(&c.primary, "primary", "", "width of the primary, one for all flutes or one each with commas between; worn, from where the edge stood before")
	f.StringVar(&c.land, "land", "", "width of the whole land, one for all or one each")
	f.StringVar(&c.primaryAngle, "primary-angle", "", "primary relief in degrees")
	f.StringVar(&c.secondaryAngle, "secondary-angle", "", "secondary relief in degrees")
	f.StringVar(&c.rake, "rake", "", "radial rake in degrees, positive when the face leans back under the edge")
	f.StringVar(&c.helix, "helix", "0", "helix angle in degrees")
	f.WordVar(&c.form, "form", "", "shape of the relief: flat, hollow (give --grinding-wheel) or eccentric (default flat)")
	f.StringVar(&c.grindingWheel, "grinding-wheel", "", "diameter of the disc wheel whose rim grinds a hollow relief")
	f.StringVar(&c.division, "division", "", "one division of the feed dial; without it the plan is in lengths")
	f.WordVar(&c.reads, "reads", "", "what the dial reads: radius or diameter (default radius)")
	f.StringVar(&c.feedAngle, "feed-angle", "0", "angle in degrees between the feed and the face being ground; 0 feeds along the radius")
	f.StringVar(&c.wear, "wear", "", "deepest wear land, the corner included, one for all or one each (default none)")
	f.StringVar(&c.heights, "heights", "", "high point of each flute as it is, read in the grinding fixture; without it uneven teeth will need more")
	f.IntVar(&c.passes, "passes", 0, "divisions to work out, 0 to 200")
	f.StringVar(&c.target, "target", "", "width of the primary that a secondary restores (default a quarter of the land)")
	f.StringVar(&c.diameter, "diameter", "", "cutting diameter before it wore: that after the last grind, or the nominal; without one the wear follows the tangent")
	f.StringVar(&c.wornDiameter, "worn-diameter", "", "in its place, the diameter read over the worn edges")
	f.StringVar(&c.smallest, "smallest", "", "smallest useful diameter, with a diameter: the regrinds left are shown")
	f.BoolVar(&c.learned, "learned", false, "say what the divisions will really remove, from the ledger's records of this bench")
	f.StringVar(&c.wheel, "wheel", "", "with --learned: only from grinds with this wheel")
	c.Places.Flags(f)
	c.Units.Flags(f)
}

// grinding is the plan of a grind, and the passes asked for.
type grinding struct {
	from     inspect.Grinding
	plan     inspect.Grind
	nothing  bool // clearing the wear would leave nothing of a land
	stated   bool // the division is
	passes   []geometry.Pass
	asked    int
	after    geometry.Section // once the wear is cleared, or without any after the passes
	learned  *trend.StockEstimate
	smallest *length.Length

	recessions []length.Length // of the worn edges
}

func (c *stockFlags) run(e command.Env) error {
	r := c.Reader()
	t := geometry.Teeth{
		Primary:         r.NeededLengths("primary", c.primary),
		Land:            r.NeededLengths("land", c.land),
		PrimaryRelief:   r.NeededAngle("primary-angle", c.primaryAngle),
		SecondaryRelief: r.NeededAngle("secondary-angle", c.secondaryAngle),
		Rake:            r.NeededAngle("rake", c.rake),
		Helix:           r.NeededAngle("helix", c.helix),
		Wear:            r.Lengths("wear", c.wear),
		Heights:         r.Lengths("heights", c.heights),
	}
	t.Form, t.Wheel = readForm(r, c.form, c.grindingWheel, "grinding-wheel")
	p := grinding{asked: c.passes, from: inspect.Grinding{
		PrimaryKnown: true, SecondaryKnown: true, Limits: inspect.Limits{}, From: inspect.LastKnown, Target: r.OptionalSize("target", c.target),
	}}
	if division := r.OptionalSize("division", c.division); division != nil {
		p.stated, p.from.Feed.Division = true, *division
	}
	p.from.Feed.Diameter = r.Choice("reads", c.reads, "radius", "diameter") == "diameter"
	p.from.Feed.FaceAngle = r.NeededAngle("feed-angle", c.feedAngle)
	diameter, worn := r.OptionalSize("diameter", c.diameter), r.OptionalSize("worn-diameter", c.wornDiameter)
	switch {
	case diameter != nil && worn != nil:
		r.Fail("worn-diameter", errors.New("give it or --diameter, not both"))
	case worn != nil:
		t.Diameter, t.OverWorn, p.from.From = *worn, t.Wear != nil, inspect.ReadNow
	case diameter != nil:
		t.Diameter = *diameter
	}
	p.from.Teeth = t
	if p.smallest = r.OptionalSize("smallest", c.smallest); p.smallest != nil {
		if t.Diameter == 0 {
			r.Fail("smallest", errors.New("give --diameter with it"))
		}
		least := inspect.LengthQuantity(*p.smallest)
		p.from.Limits.Set(inspect.Diameter, inspect.Limit{Least: &least, Judged: true})
	}
	quarter := inspect.ShareQuantity(0.25) // aimed at right after a secondary (common practice, no source)
	p.from.Limits.Set(inspect.ShareTarget, inspect.Limit{Least: &quarter, Most: &quarter})
	if r.Err != nil {
		return r.Err
	}
	if err := p.work(); err != nil {
		return command.Usage(err)
	}
	if err := c.learn(e, &p); err != nil {
		return err
	}
	if c.JSON {
		return command.PrintJSON(e, p.json(r.Unit))
	}
	p.print(e, r.Unit)
	return nil
}

// learn says from the bench's records what the divisions of the plan will remove.
func (c *stockFlags) learn(e command.Env, p *grinding) error {
	if !c.learned {
		if c.wheel != "" {
			return command.Usagef("--wheel goes with --learned")
		}
		return nil
	}
	if !p.stated {
		return command.Usagef("--learned: give --division with it")
	}
	x, err := learn(e, &c.Places, c.wheel)
	if err != nil || p.nothing || p.divisions() == 0 {
		return err
	}
	loss, err := p.after.DiameterLoss()
	if err != nil {
		return err
	}
	s, err := trend.EstimateStock(x.stock, p.divisions(), x.step, loss/2)
	p.learned = &s
	return err
}

// divisions are those after which the rest is told: that clear the wear, or without any the passes.
func (p *grinding) divisions() int {
	if p.plan.Divisions != nil && *p.plan.Divisions > 0 {
		return *p.plan.Divisions
	}
	return p.asked
}

// work plans the grind, and the passes asked for.
func (p *grinding) work() error {
	s, err := p.from.Section()
	if err != nil {
		return err
	}
	for flute := range s.Flutes() {
		worn, err := s.Worn(flute + 1)
		if err != nil {
			return err
		}
		p.recessions = append(p.recessions, worn.Recession)
	}
	p.plan, err = p.from.Plan()
	if errors.Is(err, inspect.ErrNothingLeft) {
		p.nothing, err = true, nil
		p.plan.Infeed, _ = s.Infeed()
	}
	if err != nil {
		return err
	}
	p.after = s.Ground(p.plan.Infeed)
	if !p.stated {
		return nil
	}
	plan, err := s.Plan(p.from.Feed, geometry.Ratio{Primary: 1, Land: 2}, p.asked)
	if err != nil {
		return err
	}
	if p.nothing {
		p.plan.Divisions, p.plan.LastWithoutSecondary = &plan.ClearWear, &plan.LastUnder
	}
	p.passes = plan.Passes[:min(len(plan.Passes), p.asked+1)]
	n := p.divisions()
	if p.nothing = p.nothing || n >= len(plan.Passes); p.nothing {
		return nil
	}
	p.after = plan.Passes[n].Section
	if plan.ClearWear == 0 && n > 0 { // nothing is worn: what the passes asked for come to
		return p.from.After(&p.plan, plan.Passes[n])
	}
	return nil
}

// words is the answer.
func (p *grinding) words(unit length.Unit) string {
	switch {
	case p.nothing && p.plan.Divisions != nil && *p.plan.Divisions > 0:
		return fmt.Sprintf("cut the tool back: divisions that would clear the wear: %d, more than a land has to give", *p.plan.Divisions)
	case p.nothing && !p.stated:
		return "cut the tool back: clearing the wear would leave nothing of a land"
	case p.nothing:
		return fmt.Sprintf("nothing would be left of a land after division %d of the feed dial", p.asked)
	case p.plan.Infeed > 0:
		return words.Clears(p.plan, unit)
	case !p.stated:
		return fmt.Sprintf("nothing is worn; the primary is %.2f of the land", *p.plan.RatioAfter)
	}
	text := fmt.Sprintf("after division %d of the feed dial the primary will be %.2f of the land", p.divisions(), *p.plan.RatioAfter)
	if p.plan.OverAfter {
		text += ": plan the secondary"
	}
	return text
}

type stepJSON struct {
	Divisions    int           `json:"divisions"`
	Primary      length.Number `json:"primary"` // of the worst flute, as land and ratio
	Land         length.Number `json:"land"`
	Ratio        float64       `json:"ratio"`
	DiameterLoss length.Number `json:"diameter_loss"`
}

func (p *grinding) json(unit length.Unit) any {
	steps := []stepJSON{}
	for _, s := range p.passes {
		worst := s.Lands.Worst()
		steps = append(steps, stepJSON{s.Divisions, worst.Primary.Number(unit), worst.Land.Number(unit), worst.Value(), s.DiameterLoss.Number(unit)})
	}
	var learned *learnedStock
	if s := p.learned; s != nil {
		learned = &learnedStock{p.divisions(), s.Removed.Number(unit), s.Lower.Number(unit), s.Upper.Number(unit), s.Footing}
	}
	return struct {
		Unit                 length.Unit     `json:"unit"`
		Infeed               length.Number   `json:"infeed"`
		ClearWear            *int            `json:"clear_wear_divisions"`   // null where no division is given, as the next
		LastWithoutSecondary *int            `json:"last_without_secondary"` // -1 when a secondary is needed already
		Steps                []stepJSON      `json:"steps"`
		Recessions           []length.Number `json:"recessions"`  // of each worn edge, along the radius it had
		FirstTouch           int             `json:"first_touch"` // flute
		Uneven               bool            `json:"uneven"`      // the run-out and not the wear sets the infeed
		RatioAfter           *float64        `json:"ratio_after"`
		SecondaryInfeed      *length.Number  `json:"secondary_infeed,omitempty"`
		SecondaryDivisions   *int            `json:"secondary_divisions,omitempty"`
		DiameterLeft         *length.Number  `json:"diameter_left,omitempty"`
		DiameterLeftLeast    *length.Number  `json:"diameter_left_least,omitempty"`
		RegrindsLeft         *int            `json:"regrinds_left,omitempty"`
		HeelClearance        *length.Number  `json:"heel_clearance,omitempty"`
		Learned              *learnedStock   `json:"learned,omitempty"`
		Words                string          `json:"words"`
	}{
		unit, p.plan.Infeed.Number(unit), p.plan.Divisions, p.plan.LastWithoutSecondary, steps, command.Numbers(p.recessions, unit), p.plan.Touch, p.plan.Uneven, p.plan.RatioAfter,
		command.Number(p.plan.SecondaryInfeed, unit), p.plan.SecondaryDivisions, command.Number(p.plan.DiameterAfter, unit), command.Number(p.plan.DiameterAfterLeast, unit),
		p.plan.RegrindsLeft, command.Number(p.plan.HeelAfter, unit), learned, p.words(unit),
	}
}

func (p *grinding) print(e command.Env, unit length.Unit) {
	fmt.Fprintf(e.Stdout, "%s\n\n", p.words(unit))
	if !p.nothing {
		for _, f := range words.PlanFacts(p.plan, p.from.Limits, unit) {
			output.Line(e, "  ", f.Name+": "+f.Value)
		}
	}
	if p.from.Teeth.Heights == nil {
		fmt.Fprintln(e.Stdout, "no heights were given: uneven teeth will need more")
	}
	if p.from.Teeth.Diameter == 0 {
		fmt.Fprintln(e.Stdout, "no diameter was given: the wear is taken along the tangent, which asks for more than the circle does; the heel is not judged")
	}
	if p.learned != nil {
		fmt.Fprintln(e.Stdout, stockWords(p.divisions(), *p.learned, unit))
	}
	if len(p.passes) > 0 {
		fmt.Fprintln(e.Stdout)
		w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "divisions\tprimary\twhole land\tprimary / whole land\tdiameter smaller by")
		for _, s := range p.passes {
			worst := s.Lands.Worst()
			fmt.Fprintf(w, "%d\t%s\t%s\t%.4f\t%s\n", s.Divisions, worst.Primary.In(unit), worst.Land.In(unit), worst.Value(), s.DiameterLoss.In(unit))
		}
		w.Flush()
	}
	fmt.Fprintf(e.Stdout, "\n%s\n", output.GrindingCautions)
}
