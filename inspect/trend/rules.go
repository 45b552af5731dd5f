package trend

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Signal is what chance alone makes once in 500 points.
type Signal struct {
	Rule   string `json:"rule"`
	Spread bool   `json:"spread"` // found among the points of the spread, not of the values
	Points []int  `json:"points"` // numbered from 1
	Text   string `json:"text"`
}

// The rules, by what they say. What to look for is common practice, no source.
const (
	beyondRule = "one point beyond the limits"
	movedRule  = "the average has moved"
	spreadRule = "one spread beyond its limit"
)

// signals finds what passes the outer limit or moves the average, among the points drawn, and spreads of subgroups
// beyond their limit.
func (a *Accumulator) signals(c *Chart, fixed *Fixed) {
	point, average := outer, moved/3.0 // sqrt(w/(2-w)) is a third
	var standard, averages []float64
	if fixed == nil {
		s := a.best()
		standard, averages = s.standardized, s.averages
	} else {
		point, average = fixed.widths()
		s, ewma := scale{power: fixed.Power}, 0.0
		for _, x := range a.values.points {
			d := s.of(x) - fixed.Mean
			ewma += weight * (d - ewma)
			standard, averages = append(standard, d), append(averages, ewma)
		}
	}
	skip := len(standard) - len(c.Points)
	for _, side := range []float64{1, -1} {
		name, is := "upper", "above"
		if side < 0 {
			name, is = "lower", "below"
		}
		if side > 0 || !a.skewed {
			limit := "limit"
			if fixed == nil { // each is judged as it comes; what is drawn is of all, it and those after it among them
				limit = "limit that the values before gave"
			}
			text := "is " + is + " the " + name + " " + limit + ": find out what was different there"
			c.find(beyondRule, false, text, c.First, standard[skip:], func(z float64) bool { return side*z > point })
		}
		text := "have moved the average " + is + " the centre by more than chance: something has shifted or drifts, look what changed before"
		c.find(movedRule, false, text, c.First, averages[skip:], func(z float64) bool { return side*z > average })
	}
	if a.kind != Individuals && c.Spread.Upper > 0 {
		text := "spread more than the upper limit: find out what was different there"
		c.find(spreadRule, true, text, c.Spread.First, c.Spread.Points, func(x float64) bool { return x > c.Spread.Upper })
	}
	slices.SortStableFunc(c.Signals, func(x, y Signal) int { return cmp.Compare(x.Points[0], y.Points[0]) })
}

// find adds a signal for each run of points that pass.
func (c *Chart) find(rule string, spread bool, text string, first int, points []float64, passes func(float64) bool) {
	var run []int
	for i := range len(points) + 1 {
		if i < len(points) && passes(points[i]) {
			run = append(run, first+i)
			continue
		}
		if run != nil {
			words := text
			if rule == beyondRule && len(run) > 1 {
				words = strings.Replace(words, "is ", "are ", 1)
			}
			if rule == movedRule && len(run) == 1 {
				words = strings.Replace(words, "have moved", "has moved", 1)
			}
			c.Signals = append(c.Signals, Signal{Rule: rule, Spread: spread, Points: run, Text: pointsInWords(run) + " " + words})
			run = nil
		}
	}
}

// pointsInWords names points as "point 7", "points 7 and 9" or "points 3 to 11".
func pointsInWords(points []int) string {
	n := len(points)
	switch {
	case n == 1:
		return fmt.Sprintf("point %d", points[0])
	case n > 2 && points[n-1]-points[0] == n-1:
		return fmt.Sprintf("points %d to %d", points[0], points[n-1])
	}
	words := make([]string, n)
	for i, p := range points {
		words[i] = fmt.Sprint(p)
	}
	return "points " + strings.Join(words[:n-1], ", ") + " and " + words[n-1]
}
