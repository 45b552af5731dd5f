package geometry

import (
	"math"

	"flutelog/inspect/length"
)

// MovedByOne says whether heights were read one tooth on from where they belong: 1 where what stands at flute k is that of flute
// k+1, -1 where it is that of flute k-1, 0 where they belong where they are or nothing tells. expected are the heights of the same
// edges as they were read before, or as they follow from another place; the level of either does not count. Moved they must fit
// three times as well, and as they are be off by more than two steps of the gauge, in the root of the mean square over the flutes (our
// choice). Two flutes tell nothing: the level taken off, either is the other's mirror image.
func MovedByOne(expected, read []length.Length, step length.Length) int {
	n := len(expected)
	if n < 3 || len(read) != n {
		return 0
	}
	off := func(by int) float64 {
		var mean, square float64
		for k := range n {
			mean += float64(read[k]-expected[(k+by+n)%n]) / float64(n)
		}
		for k := range n {
			d := float64(read[k]-expected[(k+by+n)%n]) - mean
			square += d * d / float64(n)
		}
		return math.Sqrt(square)
	}
	here := off(0)
	if here <= 2*float64(step) {
		return 0
	}
	by := 1
	if off(-1) < off(1) {
		by = -1
	}
	if 3*off(by) > here {
		return 0
	}
	return by
}
