package main

import (
	"fmt"
	"text/tabwriter"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/trend"
	"flutelog/inspect/words"
)

type stockFlags struct {
	units
	places
	primary, land, primaryAngle, secondaryAngle, rake, helix string
	division, reads, feedAngle, wear, heights, target        string
	diameter, smallest                                       string
	passes                                                   int
	learned                                                  bool
	wheel                                                    string
}

func stockCommand() command {
	var c stockFlags
	return command{
		name:    "stock",
		summary: "the grind worked out: divisions of the feed that clear the wear, and the primary after each",
		example: "stock --unit in --primary 0.02 --land 0.08 --primary-angle 8 --secondary-angle 16 --rake 5 --division 0.002 --wear 0.012 --passes 3",
		flags:   c.flags,
		run:     func(e env, _ *flags) error { return c.run(e) },
	}
}

func (c *stockFlags) flags(f *flags) {
	f.StringVar(&c.primary, "primary", "", "width of the primary, one for all flutes or one each with commas between")
	f.StringVar(&c.land, "land", "", "width of the whole land, one for all or one each")
	f.StringVar(&c.primaryAngle, "primary-angle", "", "primary relief in degrees")
	f.StringVar(&c.secondaryAngle, "secondary-angle", "", "secondary relief in degrees")
	f.StringVar(&c.rake, "rake", "", "radial rake in degrees, positive when the face leans back under the edge")
	f.StringVar(&c.helix, "helix", "0", "helix angle in degrees")
	f.StringVar(&c.division, "division", "", "one division of the feed dial")
	f.StringVar(&c.reads, "reads", "", "what the dial reads: radius or diameter (default radius)")
	f.StringVar(&c.feedAngle, "feed-angle", "0", "angle in degrees between the feed and the face being ground; 0 feeds along the radius")
	f.StringVar(&c.wear, "wear", "", "deepest wear land, the corner included, one for all or one each (default none)")
	f.StringVar(&c.heights, "heights", "", "high point of each flute, read in the grinding fixture; without it uneven teeth will need more")
	f.IntVar(&c.passes, "passes", 0, "divisions to work out, 0 to 200")
	f.StringVar(&c.target, "target", "", "width of the primary that a secondary restores (default a quarter of the land)")
	f.StringVar(&c.diameter, "diameter", "", "cutting diameter now: the diameter left and how the heel clears are shown")
	f.StringVar(&c.smallest, "smallest", "", "smallest useful diameter, with --diameter: the regrinds left are shown")
	f.BoolVar(&c.learned, "learned", false, "say what the divisions will really remove, from the ledger's records of this bench")
	f.StringVar(&c.wheel, "wheel", "", "with --learned: only from grinds with this wheel")
	c.places.flags(f)
	c.units.flags(f)
}

// grinding is the plan of a grind, and what it comes to.
type grinding struct {
	grind              geometry.Grind
	stock              geometry.Stock // steps as far as both the passes and clearing the wear
	passes             int
	target             *length.Length
	diameter, smallest *length.Length

	after           *geometry.Step // the teeth once the wear is cleared, or without any after the passes; nil when nothing is left of a land
	secondaryInfeed *length.Length
	diameterLeft    *length.Length
	regrindsLeft    *int
	heel            *geometry.Heel
	learned         *trend.StockEstimate // what the divisions to after will remove; nil when that is not asked
}

func (c *stockFlags) run(e env) error {
	r := c.reader()
	p := grinding{passes: c.passes}
	p.grind = geometry.Grind{
		Primary:         r.neededLengths("primary", c.primary),
		Land:            r.neededLengths("land", c.land),
		PrimaryRelief:   r.neededAngle("primary-angle", c.primaryAngle),
		SecondaryRelief: r.neededAngle("secondary-angle", c.secondaryAngle),
		Rake:            r.neededAngle("rake", c.rake),
		Helix:           r.neededAngle("helix", c.helix),
		Wear:            r.lengths("wear", c.wear),
		Heights:         r.lengths("heights", c.heights),
	}
	feed := geometry.Feed{
		Division:  r.size("division", c.division),
		Diameter:  r.choice("reads", c.reads, "radius", "diameter") == "diameter",
		FaceAngle: r.neededAngle("feed-angle", c.feedAngle),
	}
	p.target = r.optionalSize("target", c.target)
	p.diameter, p.smallest = r.optionalSize("diameter", c.diameter), r.optionalSize("smallest", c.smallest)
	if p.smallest != nil && p.diameter == nil {
		r.fail("smallest", fmt.Errorf("give --diameter with it"))
	}
	if r.err != nil {
		return r.err
	}
	if err := p.work(feed); err != nil {
		return usageError{err}
	}
	if err := c.learn(e, &p); err != nil {
		return err
	}
	if c.json {
		return printJSON(e, p.json(r.unit))
	}
	p.print(e, r.unit)
	return nil
}

// learn says from the bench's records what the divisions of the plan will remove.
func (c *stockFlags) learn(e env, p *grinding) error {
	if !c.learned {
		if c.wheel != "" {
			return usagef("--wheel goes with --learned")
		}
		return nil
	}
	x, err := learn(e, &c.places, c.wheel)
	if err != nil || p.after == nil || p.after.Divisions == 0 {
		return err
	}
	s, err := trend.EstimateStock(x.stock, p.after.Divisions, x.step, p.after.DiameterLoss/2)
	p.learned = &s
	return err
}

// work plans the passes asked for, and on to the division that clears the wear.
func (p *grinding) work(feed geometry.Feed) error {
	var err error
	if p.stock, err = p.grind.Plan(feed, p.passes); err != nil {
		return err
	}
	last := p.passes
	if n := p.stock.ClearWear; n > 0 {
		last = n
	}
	if last > p.passes {
		// Only a count of divisions that no tool has to give can be refused now; after then stays nil.
		if farther, err := p.grind.Plan(feed, last); err == nil {
			p.stock = farther
		}
	}
	if last >= len(p.stock.Steps) {
		return nil
	}
	p.after = &p.stock.Steps[last]
	return p.afterwards()
}

// afterwards works out what is left of the tool, and the secondary where one is to be planned.
func (p *grinding) afterwards() error {
	worst := p.after.Lands.Worst()
	if worst.OverHalf() || p.target != nil {
		target := worst.Land / 4 // aimed at right after a secondary (common practice, no source)
		if p.target != nil {
			target = *p.target
		}
		infeed, err := p.grind.SecondaryInfeed(worst.Primary, target)
		if err != nil {
			return fmt.Errorf("--target: %w", err)
		}
		p.secondaryInfeed = &infeed
	}
	if p.diameter == nil {
		return nil
	}
	left := *p.diameter - p.after.DiameterLoss
	heel, err := geometry.HeelClearance(left, worst.Primary, p.grind.PrimaryRelief, p.grind.Helix)
	if err != nil {
		return fmt.Errorf("--diameter: %w", err)
	}
	p.diameterLeft, p.heel = &left, &heel
	if p.smallest == nil || p.after.DiameterLoss == 0 {
		return nil
	}
	n, err := geometry.RegrindsLeft(left, *p.smallest, p.after.DiameterLoss)
	p.regrindsLeft = &n
	return err
}

// words is the answer.
func (p *grinding) answer() string {
	clears := p.stock.ClearWear
	switch {
	case p.after == nil && clears > 0:
		return fmt.Sprintf("cut the tool back: divisions that would clear the wear: %d, more than a land has to give", clears)
	case p.after == nil:
		return fmt.Sprintf("nothing would be left of a land after division %d of the feed dial", p.passes)
	case clears > 0:
		return words.Clears(clears, p.after.Lands.Worst().Value(), p.after.Lands.Worst().OverHalf())
	}
	words := fmt.Sprintf("after division %d of the feed dial the primary will be %.2f of the land", p.passes, p.after.Lands.Worst().Value())
	if p.after.Lands.Worst().OverHalf() {
		words += ": plan the secondary"
	}
	return words
}

type stepJSON struct {
	Divisions    int           `json:"divisions"`
	Primary      length.Number `json:"primary"` // of the worst flute, as land and ratio
	Land         length.Number `json:"land"`
	Ratio        float64       `json:"ratio"`
	DiameterLoss length.Number `json:"diameter_loss"`
}

// shown are the steps asked for.
func (p *grinding) shown() []geometry.Step {
	return p.stock.Steps[:min(len(p.stock.Steps), p.passes+1)]
}

func (p *grinding) json(unit length.Unit) any {
	steps := []stepJSON{}
	for _, s := range p.shown() {
		worst := s.Lands.Worst()
		steps = append(steps, stepJSON{s.Divisions, worst.Primary.Number(unit), worst.Land.Number(unit), worst.Value(), s.DiameterLoss.Number(unit)})
	}
	var clearance *length.Number
	if p.heel != nil {
		clearance = number(&p.heel.Clearance, unit)
	}
	var learned *learnedStock
	if p.learned != nil {
		learned = newLearnedStock(p.after.Divisions, *p.learned, unit)
	}
	return struct {
		Unit                 length.Unit    `json:"unit"`
		Infeed               length.Number  `json:"infeed"`
		ClearWear            int            `json:"clear_wear_divisions"`
		LastWithoutSecondary int            `json:"last_without_secondary"` // -1 when a secondary is needed already
		Steps                []stepJSON     `json:"steps"`
		SecondaryInfeed      *length.Number `json:"secondary_infeed,omitempty"`
		DiameterLeft         *length.Number `json:"diameter_left,omitempty"`
		RegrindsLeft         *int           `json:"regrinds_left,omitempty"`
		HeelClearance        *length.Number `json:"heel_clearance,omitempty"`
		Learned              *learnedStock  `json:"learned,omitempty"`
		Words                string         `json:"words"`
	}{
		unit, p.stock.Infeed.Number(unit), p.stock.ClearWear, p.stock.LastUnderHalf, steps, number(p.secondaryInfeed, unit),
		number(p.diameterLeft, unit), p.regrindsLeft, clearance, learned, p.answer(),
	}
}

func (p *grinding) print(e env, unit length.Unit) {
	fmt.Fprintf(e.stdout, "%s\n\n", p.answer())
	fmt.Fprintf(e.stdout, "infeed that clears the wear on every tooth: %s, divisions of the feed dial: %d\n", p.stock.Infeed.In(unit), p.stock.ClearWear)
	if p.stock.LastUnderHalf < 0 {
		fmt.Fprintln(e.stdout, "a primary is over the half already: the secondary is needed")
	} else {
		fmt.Fprintf(e.stdout, "the last division that leaves the primary at or under the half: %d\n", p.stock.LastUnderHalf)
	}
	if p.grind.Heights == nil {
		fmt.Fprintln(e.stdout, "no heights were given: uneven teeth will need more")
	}
	fmt.Fprintln(e.stdout)
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "divisions\tprimary\twhole land\tprimary / whole land\tdiameter smaller by")
	for _, s := range p.shown() {
		worst := s.Lands.Worst()
		fmt.Fprintf(w, "%d\t%s\t%s\t%.4f\t%s\n", s.Divisions, worst.Primary.In(unit), worst.Land.In(unit), worst.Value(), s.DiameterLoss.In(unit))
	}
	w.Flush()
	p.printAfter(e, unit)
	fmt.Fprintf(e.stdout, "\n%s\n", grindingCautions)
}

// printAfter prints what is left after the grind.
func (p *grinding) printAfter(e env, unit length.Unit) {
	if p.after == nil {
		return
	}
	if p.learned != nil {
		fmt.Fprintf(e.stdout, "\n%s\n", stockWords(p.after.Divisions, *p.learned, unit))
	}
	if p.secondaryInfeed == nil && p.diameterLeft == nil && p.regrindsLeft == nil {
		return
	}
	fmt.Fprintf(e.stdout, "\nafter division %d:\n", p.after.Divisions)
	if p.secondaryInfeed != nil {
		fmt.Fprintf(e.stdout, "  secondary infeed that restores the primary: %s\n", p.secondaryInfeed.In(unit))
	}
	if p.diameterLeft != nil {
		fmt.Fprintf(e.stdout, "  diameter left: %s\n", p.diameterLeft.In(unit))
		fmt.Fprintf(e.stdout, "  heel: %s\n", p.heelWords(unit))
	}
	if p.regrindsLeft != nil {
		fmt.Fprintf(e.stdout, "  regrinds left after this one: %d\n", *p.regrindsLeft)
	}
}

func (p *grinding) heelWords(unit length.Unit) string {
	width := p.after.Lands.Worst().Primary
	switch {
	case width >= p.heel.Rubs:
		return "IT RUBS: the primary is as wide as " + p.heel.Rubs.In(unit) + " or wider"
	case width > p.heel.Gains:
		return p.heel.Clearance.In(unit) + " under the cutting circle; the primary is wider than " + p.heel.Gains.In(unit) + ", past which the heel gains no more clearance"
	}
	return p.heel.Clearance.In(unit) + " under the cutting circle"
}
