package bench

import (
	"fmt"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Limits is one set of limits over the defaults, for some materials and diameters. Of two that cover a
// tool, what the later one states stands.
type Limits struct {
	Materials []inspect.Material `toml:"materials"` // Default: every material
	From      length.Length      `toml:"from"`      // nominal diameters from
	To        length.Length      `toml:"to"`        // and up to this one. Default: no end
	Source    string             `toml:"source"`    // where the limits come from. Default: bench file

	RadialRunout  *length.Length `toml:"radial-runout"`
	AxialRunout   *length.Length `toml:"axial-runout"`
	ShankRunout   *length.Length `toml:"shank-runout"`
	Concentricity *length.Length `toml:"concentricity"`
	Wear          *length.Length `toml:"wear"`

	PrimaryWidth       []length.Length `toml:"primary-width"` // least and most
	PrimaryRelief      []length.Angle  `toml:"primary-relief"`
	SecondaryRelief    []length.Angle  `toml:"secondary-relief"`
	EndPrimaryRelief   []length.Angle  `toml:"end-primary-relief"`
	EndSecondaryRelief []length.Angle  `toml:"end-secondary-relief"`
	Dish               []length.Angle  `toml:"dish"`

	SmallestPercent  int            `toml:"smallest-percent"` // of the nominal diameter, below which a tool is withdrawn
	SecondaryOver    []int64        `toml:"secondary-over"`   // [1, 2] is one half
	Target           [][]int64      `toml:"target"`           // [[15, 100], [35, 100]]: least and most share aimed at
	CheckingDistance *length.Length `toml:"checking-distance"`
}

func (f *File) checkLimits() error {
	for i, l := range f.Limits {
		if err := l.check(); err != nil {
			return fmt.Errorf("limits, set %d: %w", i+1, err)
		}
	}
	return nil
}

func (l Limits) check() error {
	for _, m := range l.Materials {
		if !slices.Contains(inspect.Materials, m) {
			return fmt.Errorf("material %q: want one of %v", m, inspect.Materials)
		}
	}
	if l.From < 0 || l.To < 0 || l.To > 0 && l.To < l.From {
		return fmt.Errorf("diameters from %s to %s: want from the smaller to the larger", l.From, l.To)
	}
	for key, most := range map[string]*length.Length{"radial-runout": l.RadialRunout, "axial-runout": l.AxialRunout, "shank-runout": l.ShankRunout, "concentricity": l.Concentricity, "wear": l.Wear, "checking-distance": l.CheckingDistance} {
		if most != nil && *most <= 0 {
			return fmt.Errorf("%s %s: want more than zero", key, *most)
		}
	}
	if n := len(l.PrimaryWidth); n != 0 && (n != 2 || l.PrimaryWidth[0] < 0 || l.PrimaryWidth[0] > l.PrimaryWidth[1]) {
		return fmt.Errorf("primary-width: want the least and the most, as in [\"0.015in\", \"0.020in\"]")
	}
	for key, band := range map[string][]length.Angle{"primary-relief": l.PrimaryRelief, "secondary-relief": l.SecondaryRelief, "end-primary-relief": l.EndPrimaryRelief, "end-secondary-relief": l.EndSecondaryRelief, "dish": l.Dish} {
		if n := len(band); n != 0 && (n != 2 || band[0] > band[1]) {
			return fmt.Errorf("%s: want the least and the most in degrees, as in [\"9\", \"12\"]", key)
		}
	}
	if l.SmallestPercent < 0 || l.SmallestPercent > 100 {
		return fmt.Errorf("smallest-percent %d: want 1 to 100", l.SmallestPercent)
	}
	if l.SecondaryOver != nil && !isShare(l.SecondaryOver) {
		return fmt.Errorf("secondary-over: want a share of the land such as [1, 2]")
	}
	if l.Target != nil && (len(l.Target) != 2 || !isShare(l.Target[0]) || !isShare(l.Target[1])) {
		return fmt.Errorf("target: want the least and the most share of the land, as in [[15, 100], [35, 100]]")
	}
	return nil
}

// isShare says whether a pair is a share of a whole with a denominator that keeps comparisons exact.
func isShare(pair []int64) bool {
	return len(pair) == 2 && pair[0] > 0 && pair[0] <= pair[1] && pair[1] <= 1000
}

func (l Limits) covers(t inspect.Tool) bool {
	return t.Diameter >= l.From && (l.To == 0 || t.Diameter <= l.To) &&
		(l.Materials == nil || slices.Contains(l.Materials, t.Material))
}

// override puts what the file's limits say of a tool over the defaults.
func (f *File) override(b *inspect.Basis, t inspect.Tool) {
	for _, l := range f.Limits {
		if l.covers(t) {
			l.over(b, t)
		}
	}
}

func (l Limits) over(b *inspect.Basis, t inspect.Tool) {
	source := l.Source
	if source == "" {
		source = "bench file"
	}
	for _, o := range []struct {
		band *inspect.LengthBand
		most *length.Length
	}{
		{&b.Limits.RadialRunout, l.RadialRunout},
		{&b.Limits.AxialRunout, l.AxialRunout},
		{&b.Limits.ShankRunout, l.ShankRunout},
		{&b.Limits.Concentricity, l.Concentricity},
		{&b.Limits.Wear, l.Wear},
	} {
		if o.most != nil {
			*o.band = inspect.LengthBand{Most: o.most, Source: source}
		}
	}
	for _, o := range []struct {
		band  *inspect.AngleBand
		edges []length.Angle
	}{
		{&b.Limits.PrimaryRelief, l.PrimaryRelief},
		{&b.Limits.SecondaryRelief, l.SecondaryRelief},
		{&b.Limits.EndPrimaryRelief, l.EndPrimaryRelief},
		{&b.Limits.EndSecondaryRelief, l.EndSecondaryRelief},
		{&b.Limits.Dish, l.Dish},
	} {
		if o.edges != nil {
			*o.band = inspect.AngleBand{Least: &o.edges[0], Most: &o.edges[1], Source: source}
		}
	}
	if l.PrimaryWidth != nil {
		b.Limits.PrimaryWidth = inspect.LengthBand{Least: &l.PrimaryWidth[0], Most: &l.PrimaryWidth[1], Source: source}
	}
	if l.SmallestPercent > 0 {
		smallest := t.Diameter * length.Length(l.SmallestPercent) / 100
		b.Limits.Diameter = inspect.LengthBand{Least: &smallest, Source: source}
	}
	if l.SecondaryOver != nil {
		b.Limits.SecondaryOver = inspect.Share{Num: l.SecondaryOver[0], Den: l.SecondaryOver[1]}
		b.Limits.SecondarySource = source
	}
	if l.Target != nil {
		b.Limits.TargetLeast = inspect.Share{Num: l.Target[0][0], Den: l.Target[0][1]}
		b.Limits.TargetMost = inspect.Share{Num: l.Target[1][0], Den: l.Target[1][1]}
	}
	if l.CheckingDistance != nil {
		b.CheckingDistance = *l.CheckingDistance
	}
}
