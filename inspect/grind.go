package inspect

import (
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// The rake taken where a tool's is not known (common practice, no source).
const (
	steelRake   = 10 * length.Degree
	carbideRake = 5 * length.Degree
)

// mostDivisions bounds a plan: who needs more should cut the tool back.
const mostDivisions = 200

// plan works out the grind that the wear calls for, where lands and wear were read on every flute.
func (w *judging) plan() {
	wear, ok1 := find(w.sets, WearLand, nil)
	primary, ok2 := find(w.sets, PrimaryLand, nil)
	land, ok3 := find(w.sets, Land, nil)
	if !ok1 || !ok2 || !ok3 || !wear.whole() || !primary.whole() || !land.whole() || w.in.Tool.Sharpened == OnFace {
		return
	}
	g := geometry.Grind{Primary: primary.means(), Land: land.means(), Wear: wear.means(), Helix: w.in.Tool.Helix}
	p := &Grind{}
	w.angles(&g, p)
	w.heights(&g, p)
	stock, err := g.Plan(w.in.Basis.Feed, 0)
	if err == nil && stock.ClearWear <= mostDivisions {
		stock, err = g.Plan(w.in.Basis.Feed, stock.ClearWear)
	}
	switch {
	case err != nil:
		w.note(Note{What: NoPlan, Detail: err.Error()})
		return
	case len(stock.Steps) <= stock.ClearWear:
		w.note(Note{What: NothingLeft})
		return
	}
	p.Infeed, p.Touch = stock.Infeed, highest(g)
	p.Division, p.Divisions = &w.in.Basis.Feed.Division, &stock.ClearWear
	last := lastWithin(stock, w.in.Basis.Limits.MostShare(), g, w.in.Basis.Feed)
	p.LastWithoutSecondary = &last
	w.afterGrind(p, g, stock.Steps[stock.ClearWear])
	w.out.Plan = p
}

// highest returns the flute that the wheel touches first: the highest edge, and of equal ones the most worn.
func highest(g geometry.Grind) int {
	best := 0
	for i := range g.Wear {
		var d length.Length
		if g.Heights != nil {
			d = g.Heights[i] - g.Heights[best]
		}
		if d > 0 || d == 0 && g.Wear[i] > g.Wear[best] {
			best = i
		}
	}
	return best + 1
}

// lastWithin returns the last division that keeps every primary's share at or under a limit; -1 when one is over it
// already.
func lastWithin(stock geometry.Stock, most Share, g geometry.Grind, feed geometry.Feed) int {
	if most == Half {
		return stock.LastUnderHalf
	}
	steps := stock.Steps
	if all, err := g.Plan(feed, mostDivisions); err == nil {
		steps = all.Steps
	}
	last := -1
	for _, step := range steps {
		if over(step.Lands.Worst(), most) {
			break
		}
		last = step.Divisions
	}
	return last
}

func (w *judging) angles(g *geometry.Grind, p *Grind) {
	var assumed bool
	if g.PrimaryRelief, assumed = w.primaryRelief(); assumed {
		p.assume(AssumedPrimaryRelief, angleQuantity(g.PrimaryRelief))
	}
	if g.SecondaryRelief, assumed = w.secondaryRelief(); assumed {
		p.assume(AssumedSecondaryRelief, angleQuantity(g.SecondaryRelief))
	}
	switch {
	case w.in.Tool.Rake != nil:
		g.Rake = *w.in.Tool.Rake
		return
	case w.in.Tool.Material == Carbide:
		g.Rake = carbideRake
	default:
		g.Rake = steelRake
	}
	p.assume(AssumedRake, angleQuantity(g.Rake))
}

// heights takes the run-out into the plan where it was read in the grinding fixture.
func (w *judging) heights(g *geometry.Grind, p *Grind) {
	s, ok := find(w.sets, RadialRunout, nil)
	if ok && s.whole() && w.in.Holding == InFixture {
		g.Heights = s.means()
		return
	}
	p.assume(AssumedEvenTeeth, nil)
}

func (p *Grind) assume(what Assumed, value *Quantity) {
	p.Assumed = append(p.Assumed, Assumption{what, value})
}

// afterGrind fills in what the tool will be once the wear is cleared.
func (w *judging) afterGrind(p *Grind, g geometry.Grind, last geometry.Step) {
	limits := w.in.Basis.Limits
	worst := last.Lands.Worst()
	ratio := worst.Value()
	p.RatioAfter = &ratio
	diameter, from := w.cutting()
	after := diameter - last.DiameterLoss
	p.DiameterAfter, p.DiameterFrom = &after, from
	if from == Nominal {
		p.assume(AssumedDiameter, lengthQuantity(diameter))
	}
	if least, _ := limits[Diameter].Lengths(); least != nil {
		p.SmallAfter = after < *least && from != Nominal
		if n, err := geometry.RegrindsLeft(after, *least, last.DiameterLoss); err == nil && last.DiameterLoss > 0 {
			p.RegrindsLeft = &n
		}
	}
	if w.in.Tool.PrimaryRelief != nil {
		for _, r := range last.Lands.Ratios {
			if h, err := geometry.HeelClearance(after, r.Primary, g.PrimaryRelief, g.Helix); err == nil && r.Primary >= h.Rubs {
				p.RubsAfter = true
			}
		}
	}
	over := over(worst, limits.MostShare())
	p.OverAfter = over || p.RubsAfter
	if !over {
		return
	}
	least, most := limits.Target()
	target := length.Length(float64(worst.Land) * (least.Value() + most.Value()) / 2)
	if infeed, err := g.SecondaryInfeed(worst.Primary, target); err == nil {
		p.SecondaryInfeed = &infeed
	}
}

// over says whether a ratio is more than a share, exactly.
func over(r geometry.Ratio, s Share) bool {
	return r.Compare(geometry.Ratio{Primary: length.Length(s.Num), Land: length.Length(s.Den)}) > 0
}
