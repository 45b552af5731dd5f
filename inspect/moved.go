package inspect

import (
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// MovedByOne says whether the round of heights that k is of was read one tooth on from the same edges read before it, as
// geometry.MovedByOne tells: from the round before at the same place, or of a first round at another place from what
// follows from the nearest place that was read. 0 is no, or not to be told.
func (in Inspection) MovedByOne(k Key, step length.Length) int {
	if !k.Feature.Heights() || k.Feature.Single() || k.Closing || k.OnShank || k.Feature == ShankRunout {
		return 0
	}
	read, ok := in.round(k)
	if !ok {
		return 0
	}
	before := k
	if before.Repeat--; before.Repeat > 0 {
		if expected, ok := in.round(before); ok {
			return geometry.MovedByOne(expected, read, step)
		}
		return 0
	}
	if !k.Stated || k.Feature != RadialRunout {
		return 0
	}
	for _, r := range in.Readings {
		near := r.Key()
		if near.Feature != k.Feature || !near.Stated || near.FromEnd == k.FromEnd || near.Closing || near.OnShank || near.Repeat != 1 {
			continue
		}
		heights, ok := in.round(near)
		if !ok {
			return 0
		}
		expected, ok := in.carried(heights, near.FromEnd, k.FromEnd)
		if !ok {
			return 0
		}
		return geometry.MovedByOne(expected, read, step)
	}
	return 0
}

// round returns the heights of a round, false where a flute of it was not read.
func (in Inspection) round(k Key) ([]length.Length, bool) {
	heights := make([]length.Length, in.Tool.Flutes)
	n := 0
	for _, r := range in.Readings {
		o := r.Key()
		flute := o.Flute
		if o.Flute = k.Flute; o == k && flute >= 1 && flute <= len(heights) {
			heights[flute-1] = r.Value
			n++
		}
	}
	return heights, n == len(heights)
}

// carried returns the heights that edges read at one distance from the end have at another, following each along the helix: the
// offset stands under them where they have turned on to, and what each tooth has of its own it keeps.
func (in Inspection) carried(heights []length.Length, near, far length.Length) ([]length.Length, bool) {
	w := judging{in: in, sets: in.sets()}
	diameter, _ := w.cutting()
	at, err1 := geometry.FitEdges(heights, in.Tool.Angles, near, diameter, w.helix())
	there, err2 := geometry.FitEdges(heights, in.Tool.Angles, far, diameter, w.helix())
	if err1 != nil || err2 != nil {
		return nil, false
	}
	under, err := there.Under(at.Offset())
	if err != nil || len(at.Residuals) != len(under) {
		return nil, false
	}
	for i := range under {
		under[i] += at.Residuals[i]
	}
	return under, true
}
