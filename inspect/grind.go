package inspect

import (
	"fmt"

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
	if !ok1 || !ok2 || !ok3 || wear.missing()+primary.missing()+land.missing() != "" {
		return
	}
	g := geometry.Grind{Primary: primary.means(), Land: land.means(), Wear: wear.means(), Helix: w.in.Tool.Helix}
	p := &Grind{Division: w.in.Basis.Feed.Division}
	w.angles(&g, p)
	w.heights(&g, p)
	stock, err := g.Plan(w.in.Basis.Feed, 0)
	if err == nil && stock.ClearWear <= mostDivisions {
		stock, err = g.Plan(w.in.Basis.Feed, stock.ClearWear)
	}
	switch {
	case err != nil:
		w.note("the grind could not be worked out: %v", err)
		return
	case len(stock.Steps) <= stock.ClearWear:
		w.note("%d divisions would clear the wear, and nothing would be left of a land: cut the tool back", stock.ClearWear)
		return
	}
	p.Infeed, p.Divisions, p.LastWithoutSecondary = stock.Infeed, stock.ClearWear, stock.LastUnderHalf
	last := stock.Steps[stock.ClearWear]
	w.afterGrind(p, g, last)
	w.out.Plan = p
}

func (w *judging) angles(g *geometry.Grind, p *Grind) {
	var assumed bool
	if g.PrimaryRelief, assumed = w.primaryRelief(); assumed {
		p.assume("primary relief %s", g.PrimaryRelief)
	}
	if g.SecondaryRelief, assumed = w.secondaryRelief(); assumed {
		p.assume("secondary relief %s", g.SecondaryRelief)
	}
	switch {
	case w.in.Tool.Rake != nil:
		g.Rake = *w.in.Tool.Rake
	case w.in.Tool.Material == Carbide:
		g.Rake = carbideRake
		p.assume("rake %s", g.Rake)
	default:
		g.Rake = steelRake
		p.assume("rake %s", g.Rake)
	}
}

// heights takes the run-out into the plan where it was read in the grinding fixture.
func (w *judging) heights(g *geometry.Grind, p *Grind) {
	s, ok := find(w.sets, RadialRunout, nil)
	if ok && s.missing() == "" && w.in.Holding == InFixture {
		g.Heights = s.means()
		return
	}
	p.assume("even teeth, for no heights were read in the grinding fixture; uneven teeth will need more")
}

func (p *Grind) assume(format string, args ...any) {
	p.Assumed = append(p.Assumed, fmt.Sprintf(format, args...))
}

// afterGrind fills in what the tool will be once the wear is cleared, and says it in words.
func (w *judging) afterGrind(p *Grind, g geometry.Grind, last geometry.Step) {
	limits := w.in.Basis.Limits
	worst := last.Lands.Worst()
	p.RatioAfter = worst.Value()
	after := w.cutting() - last.DiameterLoss
	p.DiameterAfter = &after
	if s, ok := find(w.sets, Diameter, nil); !ok || s.missing() != "" {
		p.assume("nominal diameter %s, for none was read", w.in_(w.in.Tool.Diameter))
	}
	if limits.Diameter.Least != nil && last.DiameterLoss > 0 {
		if n, err := geometry.RegrindsLeft(after, *limits.Diameter.Least, last.DiameterLoss); err == nil {
			p.RegrindsLeft = &n
		}
	}
	p.Words = GrindWords(p.Divisions, worst, limits.SecondaryOver)
	if !over(worst, limits.SecondaryOver) {
		return
	}
	target := length.Length(float64(worst.Land) * (limits.TargetLeast.Value() + limits.TargetMost.Value()) / 2)
	if infeed, err := g.SecondaryInfeed(worst.Primary, target); err == nil {
		p.SecondaryInfeed = &infeed
	}
}

// GrindWords says in words what clearing the wear comes to: the divisions of the feed dial, the widest primary
// after them, and whether it is over the share of the land that calls for a secondary.
func GrindWords(n int, after geometry.Ratio, secondaryOver Share) string {
	words := fmt.Sprintf("%s the wear; the primary will then be %.2f of the land", divisions(n), after.Value())
	if over(after, secondaryOver) {
		return words + ": plan the secondary"
	}
	return words + ": the primary alone will do"
}

// over says whether a ratio is more than a share, exactly.
func over(r geometry.Ratio, s Share) bool {
	return r.Compare(geometry.Ratio{Primary: length.Length(s.Num), Land: length.Length(s.Den)}) > 0
}

var numberWords = []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}

func divisions(n int) string {
	switch {
	case n == 1:
		return "one division clears"
	case n < len(numberWords):
		return numberWords[n] + " divisions clear"
	}
	return fmt.Sprintf("%d divisions clear", n)
}
