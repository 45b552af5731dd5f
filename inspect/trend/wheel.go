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
// during the round leaves each flute higher than the one ground before it. The zero Wheel has seen no tool; start
// a new one at each dress.
type Wheel struct {
	tools          int
	few            int     // tools with too few flutes to tell
	mean, sumOfSqs float64 // of the slopes of the tools, micrometres per flute
	floor          float64 // sum of the variances that the resolution alone gives the slopes
	state          WheelState
	at             int // the tool with which the state was found
}

// Add takes one tool: the heights of its flutes, flute 1 first, the numbers of the flutes in the order in which they were
// ground in the last round (nil: 1 to N), and the resolution of the gauge. The slope of height against that order is fitted
// together with the offset that the tool was held at, so that an offset that is always held the same way is not wear:
//
//	height[k] = mean + a cos t[k] + b sin t[k] + slope place[k]
//
// With fewer than four flutes the two are the same, and the tool tells nothing. It refuses fewer than two flutes, an
// order that does not hold each flute once, and a resolution below zero.
func (w *Wheel) Add(heights []length.Length, order []int, resolution length.Length) error {
	n := len(heights)
	if n < 2 {
		return fmt.Errorf("adding tool to wheel: %d flutes, want at least 2: %w", n, statistics.ErrTooFew)
	}
	if resolution < 0 {
		return fmt.Errorf("adding tool to wheel: resolution %v is below zero", resolution)
	}
	place := make([]float64, n)
	seen := make([]bool, n)
	for k := range place {
		flute := k + 1
		if order != nil {
			if len(order) != n {
				return fmt.Errorf("adding tool to wheel: grinding order %v for %d flutes", order, n)
			}
			flute = order[k]
		}
		if flute < 1 || flute > n || seen[flute-1] {
			return fmt.Errorf("adding tool to wheel: grinding order %v does not hold each of %d flutes once", order, n)
		}
		seen[flute-1] = true
		place[flute-1] = float64(k)
	}
	if n < 4 {
		w.few++
		return nil
	}
	// What of the places no offset makes is what the slope is told by. The flutes stand equally round the tool.
	var cos, sin, mean float64
	for k, p := range place {
		angle := 2 * math.Pi * float64(k) / float64(n)
		cos += p * math.Cos(angle) * 2 / float64(n)
		sin += p * math.Sin(angle) * 2 / float64(n)
		mean += p / float64(n)
	}
	var onto, spread float64
	for k, p := range place {
		angle := 2 * math.Pi * float64(k) / float64(n)
		rest := p - mean - cos*math.Cos(angle) - sin*math.Sin(angle)
		onto += rest * (heights[k] - heights[0]).Micrometres()
		spread += rest * rest
	}
	slope := onto / spread
	q := resolution.Micrometres()
	w.tools++
	before := slope - w.mean
	w.mean += before / float64(w.tools)
	w.sumOfSqs += before * (slope - w.mean)
	w.floor += q * q / 12 / spread
	w.look()
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
	Slope Interval   `json:"slope_um_per_flute"` // with the limits of this look; zero when not judged
	Since int        `json:"since,omitempty"`    // the tool, counted from the dress, with which it was first found to wear or fall
}

// risk is the share of the 5 % that is spent on the look after so many tools, for both sides together:
//
//	0.05 leastWheelTools-1 / (tools (tools-1)),  from three tools on
//
// which adds up to 5 % however many tools follow: the wheel is looked at after every tool, and a wheel that does not wear is
// called wearing in at most 5 % of dresses (Bonferroni).
func risk(tools int) float64 {
	n := float64(tools)
	return 0.05 * (leastWheelTools - 1) / (n * (n - 1))
}

// half is half the width of the interval of the mean slope: t(1 - risk/2, tools-1) sqrt(max(s^2, r^2) / tools), with s the
// standard deviation of the slopes and r^2 the mean variance that the resolution gives them.
func (w *Wheel) half() float64 {
	n := float64(w.tools)
	variance := max(w.sumOfSqs/(n-1), w.floor/n)
	const nothing = 1e-9 // micrometres: what arithmetic leaves of tools all alike
	return statistics.TQuantile(1-risk(w.tools)/2, n-1)*math.Sqrt(variance/n) + nothing
}

// look tries the verdict after a tool. What was found stands until the next dress.
func (w *Wheel) look() {
	if w.tools < leastWheelTools || w.state != "" {
		return
	}
	switch half := w.half(); {
	case w.mean > half:
		w.state, w.at = WheelWearing, w.tools
	case -w.mean > half:
		w.state, w.at = WheelFalling, w.tools
	}
}

// Trend judges the wheel by the mean slope of its tools. It is wearing when heights rise in grinding order. Fewer than
// three tools are not judged. Source: e-Handbook 1.3.5.2 for the interval; the reading of a rise as wear is common practice.
func (w *Wheel) Trend() WheelTrend {
	t := WheelTrend{State: WheelNotJudged, Tools: w.tools, Since: w.at}
	if w.tools < leastWheelTools {
		return t
	}
	half := w.half()
	t.Slope = Interval{w.mean, w.mean - half, w.mean + half}
	t.State = WheelSteady
	if w.state != "" {
		t.State = w.state
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
			"the wheel is wearing during the round, dress it; if that changes nothing, look at index and rest",
			t.Tools, step.In(u)), nil
	case WheelFalling:
		return fmt.Sprintf("for the last %d tools each flute came out lower than the one ground before it, by %s on average: "+
			"that is not wear of the wheel; look at the holding and the rest, and whether the grinder was still warming up",
			t.Tools, step.In(u)), nil
	case WheelSteady:
		return fmt.Sprintf("for the last %d tools no wear of the wheel shows above the noise", t.Tools), nil
	}
	return fmt.Sprintf("%d tools of four flutes and more since the last dress: too few to judge the wheel, %d are needed", t.Tools, leastWheelTools), nil
}
