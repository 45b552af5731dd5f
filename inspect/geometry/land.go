package geometry

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"

	"flutelog/inspect/length"
)

// Ratio is the primary's share of the whole land, both measured square to the edge. It keeps the two
// widths, so that it is compared exactly.
type Ratio struct{ Primary, Land length.Length }

// Value returns primary / land, for printing and statistics; decisions use Compare.
func (r Ratio) Value() float64 { return float64(r.Primary) / float64(r.Land) }

// Compare returns -1, 0 or 1 as r is less than, equal to or more than o, exactly, by
//
//	r.Primary o.Land <=> o.Primary r.Land
//
// in 128 bits. Both ratios are of positive widths.
func (r Ratio) Compare(o Ratio) int {
	h1, l1 := bits.Mul64(uint64(r.Primary), uint64(o.Land))
	h2, l2 := bits.Mul64(uint64(o.Primary), uint64(r.Land))
	return cmp.Or(cmp.Compare(h1, h2), cmp.Compare(l1, l2))
}

func (r Ratio) check() error {
	switch {
	case r.Land <= 0:
		return fmt.Errorf("land is %v; want more than zero", r.Land)
	case r.Primary <= 0:
		return fmt.Errorf("primary is %v; want more than zero", r.Primary)
	case r.Primary > r.Land:
		return fmt.Errorf("primary %v is wider than the whole land %v", r.Primary, r.Land)
	}
	return nil
}

// Lands is the primary's share of the land on every flute, or on every end tooth.
type Lands struct {
	Ratios     []Ratio
	Mean       float64
	Spread     float64 // largest ratio less smallest
	WorstFlute int     // flute of the largest ratio, the first of equals
}

// Worst returns the largest ratio, which decides for the tool: all flutes are ground alike.
func (l Lands) Worst() Ratio { return l.Ratios[l.WorstFlute-1] }

// JudgeLands returns the ratio primary / land of each flute with mean, spread and worst flute. primary and
// land hold the widths of the same flutes in the same order, square to the edge, 1 to 12 of them. Input no
// tool can have, a primary wider than its land or a width of zero or less, is an error naming the flute.
func JudgeLands(primary, land []length.Length) (Lands, error) {
	if len(primary) != len(land) {
		return Lands{}, fmt.Errorf("lands: %d primary widths and %d land widths; want one of each per flute", len(primary), len(land))
	}
	if err := checkFlutes(len(primary), 1); err != nil {
		return Lands{}, fmt.Errorf("lands: %w", err)
	}
	all := Lands{WorstFlute: 1}
	least := Ratio{primary[0], land[0]}
	for i := range primary {
		r := Ratio{primary[i], land[i]}
		if err := r.check(); err != nil {
			return Lands{}, fmt.Errorf("lands: flute %d: %w", i+1, err)
		}
		all.Ratios = append(all.Ratios, r)
		all.Mean += r.Value() / float64(len(primary))
		if r.Compare(all.Worst()) > 0 {
			all.WorstFlute = i + 1
		}
		if r.Compare(least) < 0 {
			least = r
		}
	}
	all.Spread = all.Worst().Value() - least.Value()
	return all, nil
}

// SquareToFacets returns the widths square to each facet of a land that was read looking along the radius,
// where a facet shows its width times the cosine of its relief:
//
//	primary = seen / cos a1,  land = primary + (seen land - seen primary) / cos a2
//
// Read so, a land at exactly one half shows more: 0.507 with reliefs of 8 and 16 degrees, 0.521 with 10
// and 25. Errors: input no tool can have, reliefs outside 0 to 90 degrees. Source: projection.
func SquareToFacets(seen Ratio, primaryRelief, secondaryRelief length.Angle) (Ratio, error) {
	if err := seen.check(); err != nil {
		return Ratio{}, fmt.Errorf("widths seen along the radius: %w", err)
	}
	if !between0and90(primaryRelief) || !between0and90(secondaryRelief) {
		return Ratio{}, fmt.Errorf("widths seen along the radius: reliefs are %v and %v; want between 0 and 90 degrees", primaryRelief, secondaryRelief)
	}
	var out results
	primary := out.length(seen.Primary.Micrometres() / math.Cos(primaryRelief.Radians()))
	secondary := out.length((seen.Land - seen.Primary).Micrometres() / math.Cos(secondaryRelief.Radians()))
	return Ratio{primary, primary + secondary}, out.err
}
