package trend

import (
	"fmt"
	"math"

	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// leastWheelTools is how many tools a statement about the wheel rests on at least.
const leastWheelTools = 3

// Wheel gathers what the tools ground since the last dress say about the wear of the wheel. A wheel that wears
// during the round leaves each flute higher than the one before it. The zero Wheel has seen no tool; start
// a new one at each dress.
type Wheel struct {
	tools          int
	mean, sumOfSqs float64 // of the slopes of the tools, micrometres per flute
	floor          float64 // sum of the variances that the resolution alone gives the slopes
}

// Add takes one tool: the heights of its flutes in the order in which they were ground, read with a gauge of the
// resolution given. Its slope is that of the least squares line of height against order. What the tool
// was held off-centre by goes into the slope as scatter from tool to tool; taking the offset out of each
// tool first would take most of the ramp with it (with four flutes four fifths). It refuses fewer than two
// flutes and a resolution below zero.
func (w *Wheel) Add(heights []length.Length, resolution length.Length) error {
	n := float64(len(heights))
	if len(heights) < 2 {
		return fmt.Errorf("adding tool to wheel: %d flutes, want at least 2: %w", len(heights), statistics.ErrTooFew)
	}
	if resolution < 0 {
		return fmt.Errorf("adding tool to wheel: resolution %v is below zero", resolution)
	}
	var sum float64
	for i, h := range heights {
		sum += (float64(i) - (n-1)/2) * (h - heights[0]).Micrometres()
	}
	spread := n * (n*n - 1) / 12 // sum of the squares of the orders about their mean
	slope := sum / spread
	q := resolution.Micrometres()
	w.tools++
	before := slope - w.mean
	w.mean += before / float64(w.tools)
	w.sumOfSqs += before * (slope - w.mean)
	w.floor += q * q / 12 / spread
	return nil
}

// WheelState is what the tools since the last dress say about the wheel.
type WheelState string

const (
	WheelNotJudged WheelState = "not judged" // too few tools
	WheelSteady    WheelState = "steady"     // no slope above the noise
	WheelWearing   WheelState = "wearing"    // heights rise in grinding order
	WheelFalling   WheelState = "falling"    // heights fall in grinding order; never wear
)

// WheelTrend is the slope of the heights against grinding order, pooled over the tools since the last dress.
type WheelTrend struct {
	State WheelState `json:"state"`
	Tools int        `json:"tools"`
	Slope Interval   `json:"slope_um_per_flute"` // zero when not judged
}

// Trend judges the wheel by the mean slope of its tools:
//
//	mean b ± t(0.975, tools-1) sqrt(max(s^2, r^2) / tools)
//
// with s the standard deviation of the slopes b and r^2 the mean variance that a resolution q gives them,
// q^2/12 over the sum of squares of the orders. It is wearing when the lower limit is above zero. Fewer than
// three tools are not judged. Source: e-Handbook 1.3.5.2 for the interval; the reading of a rise as
// wear is common practice.
func (w *Wheel) Trend() WheelTrend {
	t := WheelTrend{State: WheelNotJudged, Tools: w.tools}
	if w.tools < leastWheelTools {
		return t
	}
	n := float64(w.tools)
	variance := max(w.sumOfSqs/(n-1), w.floor/n)
	half := statistics.TQuantile(0.975, n-1) * math.Sqrt(variance/n)
	t.Slope = Interval{w.mean, w.mean - half, w.mean + half}
	switch {
	case t.Slope.Lower > 0:
		t.State = WheelWearing
	case t.Slope.Upper < 0:
		t.State = WheelFalling
	default:
		t.State = WheelSteady
	}
	return t
}

// Text says t in words, with lengths in unit u.
func (t WheelTrend) Text(u length.Unit) (string, error) {
	step, err := length.FromMicrometres(math.Abs(t.Slope.Value))
	if err != nil {
		return "", fmt.Errorf("slope of the wheel: %w", err)
	}
	switch t.State {
	case WheelWearing:
		return fmt.Sprintf("for the last %d tools each flute came out higher than the one ground before it, by %s on average: "+
			"the wheel is wearing during the round, dress it; if that changes nothing, look whether every tool is held off-centre the same way",
			t.Tools, step.In(u)), nil
	case WheelFalling:
		return fmt.Sprintf("for the last %d tools each flute came out lower than the one ground before it, by %s on average: "+
			"that is not wear of the wheel; look at the holding and the rest, and whether the grinder was still warming up",
			t.Tools, step.In(u)), nil
	case WheelSteady:
		return fmt.Sprintf("for the last %d tools no wear of the wheel shows above the noise", t.Tools), nil
	}
	return fmt.Sprintf("%d tools since the last dress: too few to judge the wheel, %d are needed", t.Tools, leastWheelTools), nil
}
