package words

import (
	"fmt"
	"strings"

	"flutelog/inspect"
)

// told says a finding that calls for work as it is said across a bench: the flute, the figure, the limit it missed.
func (t teller) told(f inspect.Finding) string {
	plain := f.Why == nil || f.Why.What == inspect.NoRelief || f.Why.What == inspect.MoreRounds || f.Why.What == inspect.TooCoarse
	if f.Value == nil || !plain {
		return t.reason(f)
	}
	flute := ""
	if f.Flute > 0 {
		flute = fmt.Sprintf("flute %d", f.Flute)
	}
	if f.Feature.OnEnds() && f.Flute > 0 {
		flute = fmt.Sprintf("end tooth %d", f.Flute)
	}
	value, missed := t.quantity(f.Value), t.missed(f)
	for _, limit := range []*inspect.Quantity{f.Least, f.Most} {
		if limit != nil && *limit != *f.Value && t.quantity(limit) == value {
			value = trimmed(string(f.Value.Number(t.unit))) + strings.TrimLeft(value, "-0123456789.") // they differ in further digits only
		}
	}
	switch f.Feature {
	case inspect.WearLand:
		return fmt.Sprintf("%s is worn %s%s", flute, value, missed)
	case inspect.PrimaryLand, inspect.EndPrimaryLand:
		return fmt.Sprintf("%s primary is %s of the land%s", flute, value, missed)
	case inspect.PrimaryWidth:
		return fmt.Sprintf("%s primary is %s wide%s", flute, value, missed)
	case inspect.Heel:
		return fmt.Sprintf("the heel of %s rubs: its primary is %s wide, and from %s on it rubs", flute, value, t.quantity(f.Most))
	case inspect.ReliefDrop, inspect.SecondaryDrop, inspect.EndReliefDrop, inspect.EndSecondaryDrop:
		if f.Verdict == inspect.Reject && f.Why != nil {
			return fmt.Sprintf("%s has no %s: it %s", flute, Figure(f.Feature), t.climbs(*f.Drop))
		}
		return fmt.Sprintf("%s has %s of %s%s", flute, value, Figure(f.Feature), missed)
	case inspect.Dish:
		if f.Verdict == inspect.Reject && f.Why != nil {
			return fmt.Sprintf("%s does not fall toward the center: it %s and will rub", flute, t.climbs(*f.Drop))
		}
		return fmt.Sprintf("%s has %s of dish%s", flute, value, missed)
	case inspect.Diameter:
		return "the diameter is " + value + missed
	}
	return Name(f, t.unit) + " is " + value + missed
}

// missed says which limit a rejected figure missed.
func (t teller) missed(f inspect.Finding) string {
	switch {
	case f.Most != nil && f.Value.Over(*f.Most):
		return ", the most is " + t.quantity(f.Most)
	case f.Least != nil && f.Least.Over(*f.Value):
		return ", the least is " + t.quantity(f.Least)
	}
	return ", " + Band(f.Least, f.Most, t.unit)
}

// climbs says a drop that is no fall.
func (t teller) climbs(d inspect.DropTaken) string {
	if d.Drop == 0 {
		return "falls nothing over " + t.length(d.Distance)
	}
	return fmt.Sprintf("climbs %s over %s", t.length(-d.Drop), t.length(d.Distance))
}

func trimmed(number string) string { return strings.TrimRight(strings.TrimRight(number, "0"), ".") }
