package calculators

import (
	"cmp"
	"fmt"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/trend"
)

// experience is what the records of this bench say that its settings really did.
type experience struct {
	stock  []trend.StockRecord
	relief []trend.ReliefRecord
	step   length.Length // in which stock removed is read, radially; zero when it is not known
}

// learn reads the regrinds of this bench; with a wheel's name, those that were ground with it.
func learn(e command.Env, p *command.Places, wheel string) (experience, error) {
	b, l, err := p.Open(e)
	if err != nil {
		return experience{}, err
	}
	head, err := l.Head()
	if err != nil {
		return experience{}, err
	}
	var x experience
	if g, err := b.Gauge(gauges.For(b.Gauges, inspect.Diameter)); err == nil { // else none is described
		x.step = g.Resolution / 2
	}
	for r, err := range record.Regrinds(l) {
		if err == nil && r.Bench == head.Bench && r.Stage == inspect.After && (wheel == "" || wheel == r.Wheel) {
			if err = x.add(r.Figures, r.Before); err != nil {
				err = fmt.Errorf("inspection %s: %w", r.Inspection, err)
			}
		}
		if err := command.Damaged(e, err); err != nil {
			return x, err
		}
	}
	return x, nil
}

// add takes what one regrind says: what its divisions removed, where the diameter was read before and after, and the
// relief that its offset gave, that of the flute which decides.
func (x *experience) add(f record.Figures, before *record.Figures) error {
	divisions := f.Divisions
	if before != nil {
		divisions = cmp.Or(divisions, before.Divisions)
	}
	removed, err := record.StockRemoved(f, before)
	if err != nil {
		return err
	}
	if divisions > 0 && removed != nil {
		x.stock = append(x.stock, trend.StockRecord{Divisions: divisions, Removed: removed.Value.Length()})
	}
	relief, err := record.ReadFigure(f.Relief)
	if err != nil || relief == nil || f.Offset == nil {
		return err
	}
	set, err := geometry.OffsetRelief(f.Nominal, *f.Offset)
	x.relief = append(x.relief, trend.ReliefRecord{Geometry: set, Obtained: relief.Value.Angle()})
	return err
}

// learnedStock is what a number of divisions is expected to remove, for a program.
type learnedStock struct {
	Divisions int           `json:"divisions"`
	Removed   length.Number `json:"removed"` // radially
	Lower     length.Number `json:"lower"`
	Upper     length.Number `json:"upper"`
	trend.Footing
}

// stockWords says what a number of divisions is expected to remove, and from what that is known.
func stockWords(divisions int, s trend.StockEstimate, unit length.Unit) string {
	words := fmt.Sprintf("divisions of the feed dial: %d, will remove %s radially", divisions, s.Removed.In(unit))
	if s.FromRecords {
		words += fmt.Sprintf(" (95 %% of grinds %s to %s)", s.Lower.In(unit), s.Upper.In(unit))
	}
	return words + ", " + s.Note
}

// learnedRelief is the relief that a setting is expected to give, for a program.
type learnedRelief struct {
	Relief length.Number `json:"relief_deg"`
	Lower  length.Number `json:"lower_deg"`
	Upper  length.Number `json:"upper_deg"`
	trend.Footing
}

// reliefWords says what relief a setting is expected to give, and from what that is known.
func reliefWords(r trend.ReliefEstimate) string {
	words := fmt.Sprintf("this rest will give %s deg", r.Relief.Format(2))
	if r.FromRecords {
		words += fmt.Sprintf(" (95 %% of tools %s to %s)", r.Lower.Format(2), r.Upper.Format(2))
	}
	return words + ", " + r.Note
}
