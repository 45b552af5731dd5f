package trend

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Signal is a pattern that chance alone seldom makes.
type Signal struct {
	Rule   string `json:"rule"`
	Spread bool   `json:"spread"` // found among the points of the spread, not of the values
	Points []int  `json:"points"` // numbered from 1
	Text   string `json:"text"`
}

// rule is one run rule: what of a window of points makes a signal.
type rule struct {
	name   string
	window int
	// hits returns which points of the window w make the signal, nil when they make none.
	hits func(w []float64, l Limits) []int
	text string // says it of the points named before it, and what to look for
}

// The rules are named by what they say. They are the eight of ISO 8258:1991 (from memory), of which
// NIST/SEMATECH e-Handbook 6.3.2 has the first and those with two of three and four of five points; sigma is a
// third of the way from the centre to a limit. What to look for is common practice.
var (
	limitRules = []rule{
		{"one point beyond the limits", 1, outside(+1), "is above the upper limit: find out what was different there"},
		{"one point beyond the limits", 1, outside(-1), "is below the lower limit: find out what was different there"},
	}
	runRules = []rule{
		{"nine in a row on one side", 9, beyond(9, 0, +1), "are all above the centre: something has shifted and stayed"},
		{"nine in a row on one side", 9, beyond(9, 0, -1), "are all below the centre: something has shifted and stayed"},
		{"six in a row rising", 6, steady(+1), "are each higher than the one before: something wears, warms or works loose"},
		{"six in a row falling", 6, steady(-1), "are each lower than the one before: something wears, warms or works loose"},
		{"fourteen in a row up and down in turn", 14, alternating, "go up and down in turn: two conditions follow each other"},
		{"two of three near one limit", 3, beyond(2, 2, +1), "are close to the upper limit or above it: likely a shift, look before it grows"},
		{"two of three near one limit", 3, beyond(2, 2, -1), "are close to the lower limit or below it: likely a shift, look before it grows"},
		{"four of five well to one side", 5, beyond(4, 1, +1), "are well above the centre: likely a small shift"},
		{"four of five well to one side", 5, beyond(4, 1, -1), "are well below the centre: likely a small shift"},
		{"fifteen in a row close to the centre", 15, closeToCentre, "are all close to the centre: limits too wide for what the bench does now, or a gauge too coarse"},
		{"eight in a row with none close to the centre", 8, awayFromCentre, "keep away from the centre on both sides: two conditions are mixed"},
	}
)

// outside compares with the limit itself, so that a point equal to it lies within it.
func outside(side float64) func([]float64, Limits) []int {
	return func(w []float64, l Limits) []int {
		if side > 0 && w[0] > l.Upper || side < 0 && w[0] < l.Lower {
			return []int{0}
		}
		return nil
	}
}

// beyond returns a test for at least need points of the window beyond a number of sigmas on one side. The last
// point must be one of them, so that a signal ends where it is seen.
func beyond(need int, sigmas float64, side float64) func([]float64, Limits) []int {
	return func(w []float64, l Limits) []int {
		var hits []int
		for i, x := range w {
			if side*(x-l.Center) > sigmas*l.sigma(side) {
				hits = append(hits, i)
			}
		}
		if len(hits) < need || hits[len(hits)-1] != len(w)-1 {
			return nil
		}
		return hits
	}
}

// sigma is a third of the way from the centre to the limit on one side; frozen limits need not be symmetric.
func (l Limits) sigma(side float64) float64 {
	if side > 0 {
		return (l.Upper - l.Center) / 3
	}
	return (l.Center - l.Lower) / 3
}

func steady(side float64) func([]float64, Limits) []int {
	return func(w []float64, _ Limits) []int {
		for i := 1; i < len(w); i++ {
			if side*(w[i]-w[i-1]) <= 0 {
				return nil
			}
		}
		return whole(w)
	}
}

func alternating(w []float64, _ Limits) []int {
	for i := 2; i < len(w); i++ {
		if (w[i]-w[i-1])*(w[i-1]-w[i-2]) >= 0 {
			return nil
		}
	}
	return whole(w)
}

func closeToCentre(w []float64, l Limits) []int {
	for _, x := range w {
		if x-l.Center >= l.sigma(+1) || l.Center-x >= l.sigma(-1) {
			return nil
		}
	}
	return whole(w)
}

// awayFromCentre wants points on both sides: on one side they are a run of another kind.
func awayFromCentre(w []float64, l Limits) []int {
	var above, below bool
	for _, x := range w {
		switch {
		case x-l.Center > l.sigma(+1):
			above = true
		case l.Center-x > l.sigma(-1):
			below = true
		default:
			return nil
		}
	}
	if !above || !below {
		return nil
	}
	return whole(w)
}

func whole(w []float64) []int {
	all := make([]int, len(w))
	for i := range all {
		all[i] = i
	}
	return all
}

// signals returns what the rules find, in the order of the first points. The run rules are made for points
// that scatter evenly about the centre, independently; a spread does neither, so it is held to its limits only.
func signals(c Chart) []Signal {
	found := []Signal{}
	for _, r := range slices.Concat(limitRules, runRules) {
		found = append(found, r.scan(c.Series)...)
	}
	for _, r := range limitRules {
		for _, s := range r.scan(c.Spread) {
			s.Spread = true
			s.Text = "spread of " + s.Text
			found = append(found, s)
		}
	}
	slices.SortStableFunc(found, func(a, b Signal) int { return cmp.Compare(a.Points[0], b.Points[0]) })
	return found
}

// scan moves the rule's window over the points. Windows that share points of a signal are one signal.
func (r rule) scan(s Series) []Signal {
	var runs [][]int
	for end := r.window; end <= len(s.Points); end++ {
		start := end - r.window
		for k, i := range r.hits(s.Points[start:end], s.Limits) {
			point, last := s.First+start+i, len(runs)-1
			switch {
			case last >= 0 && point <= runs[last][len(runs[last])-1]:
				// already told by the window before
			case k == 0:
				runs = append(runs, []int{point})
			default:
				runs[last] = append(runs[last], point)
			}
		}
	}
	found := make([]Signal, len(runs))
	for i, run := range runs {
		found[i] = Signal{Rule: r.name, Points: run, Text: pointsInWords(run) + " " + r.text}
	}
	return found
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
