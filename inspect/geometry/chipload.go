package geometry

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
)

// Chips is what each tooth takes of the cut.
type Chips struct {
	Chips  []length.Length // thickness, per flute
	Shares []float64       // of the whole cut of one turn; they sum to 1
	Idle   []int           // flutes that do not cut
}

// ChipLoad returns the chip that each tooth takes at a feed per tooth f, by its height:
//
//	h[k] = max(0, min over j = 1..N of (j f + r[k] - r[k-j]))
//
// With unequal pitch j f is the feed over the angle between the teeth, N f (t[k] - t[k-j]) / 360. The chips
// of one turn sum to N f, whatever the heights. heights holds 1 to 12 flutes in the order in which they cut;
// angles, nil for equal pitch, rise in that order. Errors: a feed that is not positive, angles out of order.
// Source: each tooth cuts down to the lowest surface any tooth has left in the last turn.
func ChipLoad(feedPerTooth length.Length, heights []length.Length, angles []length.Angle) (Chips, error) {
	n := len(heights)
	if err := checkFlutes(n, 1); err != nil {
		return Chips{}, fmt.Errorf("chip load: %w", err)
	}
	if err := checkPitch(n, angles); err != nil && n > 1 {
		return Chips{}, fmt.Errorf("chip load: %w", err)
	}
	if err := checkOrder(angles); err != nil {
		return Chips{}, fmt.Errorf("chip load: %w", err)
	}
	if feedPerTooth <= 0 {
		return Chips{}, fmt.Errorf("chip load: feed per tooth is %v; want more than zero", feedPerTooth)
	}
	var c Chips
	whole := length.Length(n) * feedPerTooth
	for k, r := range heights {
		chip := whole
		for j := 1; j < n; j++ {
			before := (k - j + n) % n
			feed := length.Length(j) * feedPerTooth
			if angles != nil {
				feed = length.Length(math.Round(float64(whole) * turned(angles[k]-angles[before]).Degrees() / 360))
			}
			chip = min(chip, feed+r-heights[before])
		}
		chip = max(chip, 0)
		c.Chips = append(c.Chips, chip)
		c.Shares = append(c.Shares, float64(chip)/float64(whole))
		if chip == 0 {
			c.Idle = append(c.Idle, k+1)
		}
	}
	return c, nil
}

// checkOrder refuses angles that do not go once round in the order of the flutes.
func checkOrder(angles []length.Angle) error {
	var round length.Angle
	for i := 1; i < len(angles); i++ {
		round += turned(angles[i] - angles[i-1])
		if round >= 360*length.Degree {
			return fmt.Errorf("flute %d at %v does not follow flute %d at %v; number the flutes in the order in which they cut", i+1, angles[i], i, angles[i-1])
		}
	}
	return nil
}
