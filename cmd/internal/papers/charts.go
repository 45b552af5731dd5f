package papers

import (
	"fmt"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/draw"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
	"flutelog/inspect/trend"
)

// Series is values to chart, in the order in which they came.
type Series struct {
	Title    string // what they are of: begins the sentence
	Unit     string // its name, for the caption
	Decimals int
	Values   []Value
	Least    *float64 // that a value can be at all, nil for any
	Limits   *trend.Chart
	First    int  // the number that the first value has in the limits' signals, from 1
	Skewed   bool // never below zero, with its long tail upward: so are run-outs
	Wide     bool // for paper
}

// Value is one value with what it was held to.
type Value struct {
	Number      float64
	Inspection  string
	Closed      string
	Least, Most *float64
	Undecided   bool // against those, by the doubt of its reading
	Rejected    bool // when it was judged, by the limits that it had then
}

func (v Value) over() bool {
	return v.Rejected || v.Most != nil && v.Number > *v.Most || v.Least != nil && v.Number < *v.Least
}

// leastToChart is how many values there are before more than their number is said of them.
const leastToChart = 2

// Chart draws a series: the tolerance, the days, what is over it by its mark, signals ringed; its sentence says what is
// seen. Of too few values the sentence says so, and nothing is drawn.
func (s Series) Chart() paper.Charted {
	number := func(v float64) string { return fmt.Sprintf("%.*f", s.Decimals, v) }
	if len(s.Values) < leastToChart {
		text := s.Title + ": nothing read yet"
		if len(s.Values) == 1 {
			text = s.Title + ": one value, " + number(s.Values[0].Number) + ", too few for a chart"
		}
		return paper.Charted{Sentence: text}
	}
	c := draw.Chart{Name: s.Title, Decimals: s.Decimals, Least: s.Least, Wide: s.Wide}
	over, undecided, ringed := 0, 0, 0
	out := paper.Charted{Heads: []string{"Date", s.Unit}}
	for i, v := range s.Values {
		p := draw.Point{Value: v.Number, At: s.day(v.Closed), Ringed: s.signals(i)}
		what := paper.Ruling{Mark: mark.Trouble, Word: "signal"}
		if v.over() {
			over++
			p.Mark, p.Name = &mark.Reject, v.Inspection
			what = paper.Ruling{Mark: mark.Reject, Word: "over the limit"}
		}
		if v.Undecided && !v.over() {
			undecided++
			p.Mark, p.Name = &mark.Undecided, v.Inspection
			what = paper.Ruling{Mark: mark.Undecided, Word: "undecided"}
		}
		if p.Ringed {
			ringed++
		}
		if (p.Ringed || v.over() || v.Undecided) && v.Inspection != "" && len(out.Points) < mostNamed {
			out.Points = append(out.Points, paper.ChartedPoint{Ruling: what, Name: v.Inspection, Cells: []string{day(v.Closed), number(v.Number)}})
		}
		c.Points = append(c.Points, p)
	}
	last := s.Values[len(s.Values)-1]
	for _, l := range []*float64{last.Least, last.Most} {
		if l != nil {
			c.Tolerance = append(c.Tolerance, draw.Level{Value: *l, Name: "limit " + number(*l)})
		}
	}
	caption := s.Unit + ", by date" + s.year() + ". Dots conform"
	if over > 0 {
		caption += "; crosses are over the limit"
	}
	if undecided > 0 {
		caption += "; diamonds are undecided"
	}
	if s.told() {
		c.Process, c.Centre = &[2]float64{s.Limits.Lower, s.Limits.Upper}, &s.Limits.Center
		caption += "; ringed is a signal; shaded is where such values fall"
	}
	var seen []string
	switch {
	case ringed > 0:
		seen = append(seen, plural(ringed, "point")+" in a signal")
	case s.told():
		seen = append(seen, "no signal")
	}
	if over > 0 {
		seen = append(seen, fmt.Sprintf("%d of %d over the limit", over, len(s.Values)))
	} else if last.Most != nil || last.Least != nil {
		seen = append(seen, fmt.Sprintf("none of %d over the limit", len(s.Values)))
	}
	if undecided > 0 {
		seen = append(seen, fmt.Sprintf("%d undecided", undecided))
	}
	if seen == nil {
		seen = []string{plural(len(s.Values), "value")}
	}
	out.Sentence = s.Title + ": " + strings.Join(seen, "; ")
	c.Name = out.Sentence
	out.Drawing = paper.Drawing{SVG: c.SVG(), Caption: caption + "."}
	return out
}

// mostNamed is how many points are named under a chart.
const mostNamed = 12

// year is the one that all values are of, for the caption; "" where they are of several, which their days then say.
func (s Series) year() string {
	first := stamped(s.Values[0].Closed, ", 2006")
	for _, v := range s.Values {
		if stamped(v.Closed, ", 2006") != first || v.Closed == first {
			return ""
		}
	}
	return first
}

// day is a day for the axis, with its year where the caption does not say it.
func (s Series) day(closed string) string {
	if s.year() != "" {
		return stamped(closed, "2 Jan")
	}
	return shortDay(closed)
}

// told says whether there are values enough to say that there is no signal, and where those of this bench fall.
func (s Series) told() bool { return s.Limits != nil && s.Limits.Told() }

// signals says whether a value is part of a signal.
func (s Series) signals(i int) bool {
	if s.Limits == nil {
		return false
	}
	for _, x := range s.Limits.Signals {
		for _, p := range x.Points {
			if !x.Spread && p == s.First+i {
				return true
			}
		}
	}
	return false
}

// Life draws the diameter of a tool over its regrinds, down to the smallest useful one, and how far its own regrinds say
// that it goes.
func (s Source) Life(lives []record.Life, wide bool) paper.Charted {
	return s.life(lives, wide, lifeLeft)
}

// LifeWith is Life with what is known otherwise of the regrinds that are left; nil is that nothing is.
func (s Source) LifeWith(lives []record.Life, left *trend.LifeLeft, wide bool) paper.Charted {
	return s.life(lives, wide, func([]draw.LifePoint, length.Length) *trend.LifeLeft { return left })
}

func (s Source) life(lives []record.Life, wide bool, leaves func([]draw.LifePoint, length.Length) *trend.LifeLeft) paper.Charted {
	l := draw.Life{Unit: s.Unit, Wide: wide}
	var points []record.Life
	for _, x := range lives {
		if x.Diameter == nil || x.Practice {
			continue
		}
		if n := len(l.Points); n > 0 && l.Points[n-1].Regrind == x.Regrind {
			l.Points, points = l.Points[:n-1], points[:len(points)-1]
		}
		l.Points, points = append(l.Points, draw.LifePoint{Regrind: x.Regrind, Diameter: x.Diameter.Length()}), append(points, x)
	}
	if len(points) == 0 {
		return paper.Charted{Sentence: "Life: no diameter read yet"}
	}
	last := points[len(points)-1]
	text := fmt.Sprintf("Life: %s %s after %s", s.size(last.Diameter.Length()), s.Unit, plural(last.Regrind, "released regrind"))
	if f, err := record.ReadFigure(last.Figures.Diameter); err == nil && f != nil && f.Least != nil {
		least := f.Least.Length()
		l.Smallest, l.SmallestName = &least, "smallest useful "+s.size(least)
		text += ", smallest useful " + s.size(least)
		if left := leaves(l.Points, least); left != nil {
			if left.FromRecords {
				l.Left = &[2]int{left.Least, left.Most}
				text += fmt.Sprintf("; %s left, %d to %d", plural(left.Regrinds, "regrind"), left.Least, left.Most)
			} else {
				text += fmt.Sprintf("; about %s left, by too few for more than that", plural(left.Regrinds, "regrind"))
			}
		}
	}
	l.Name = text
	return paper.Charted{Sentence: text, Drawing: paper.Drawing{SVG: l.SVG(), Caption: "Diameter, " + string(s.Unit) + ", by regrind."}}
}

// lifeLeft says how many more regrinds a tool is good for, by what those so far took off it; nil where they are too few.
func lifeLeft(points []draw.LifePoint, smallest length.Length) *trend.LifeLeft {
	var losses []length.Length
	for i, p := range points[1:] {
		for range p.Regrind - points[i].Regrind {
			losses = append(losses, (points[i].Diameter-p.Diameter)/length.Length(p.Regrind-points[i].Regrind))
		}
	}
	if losses == nil {
		return nil
	}
	left, err := trend.EstimateLife(losses, points[len(points)-1].Diameter, smallest, statistics.MeanLength(losses))
	if err != nil {
		return nil
	}
	return &left
}

// leastForLimits is how many values a chart of one tool has before limits are worked out from them (common practice, no
// source); fewer say little of what is usual.
const leastForLimits = 8

// mostCharted is how many of the last values a chart of one tool shows.
const mostCharted = 30

// Lives charts what a tool's life has of each figure: its diameter, the run-out after each grind, the primary's share
// before it. Readings of a practice gauge count in none.
func (s Source) Lives(lives []record.Life, wide bool) []paper.Charted {
	tir := Series{Title: "Radial run-out (TIR) after the grind", Unit: string(s.Unit), Decimals: s.Unit.Decimals(), Least: new(float64), Skewed: true, Wide: wide}
	share := Series{Title: "Primary share of the land before the grind", Unit: "of the land", Decimals: 2, Least: new(float64), Wide: wide}
	for _, x := range lives {
		if x.Practice {
			continue
		}
		if x.TIR != nil && x.Stage == inspect.After {
			tir.Values = append(tir.Values, s.value(x, x.Figures.TIR))
		}
		if x.Share != nil && x.Stage == inspect.Before {
			share.Values = append(share.Values, s.value(x, x.Figures.Ratio))
		}
	}
	all := []paper.Charted{s.Life(lives, wide)}
	for _, one := range []Series{tir, share} {
		if len(one.Values) > 0 {
			all = append(all, one.Limited().Chart())
		}
	}
	return all
}

// value takes a stored figure apart for a chart.
func (s Source) value(x record.Life, stored []byte) Value {
	v := Value{Inspection: x.Inspection, Closed: x.Closed}
	f, err := record.ReadFigure(stored)
	if err != nil || f == nil {
		return v
	}
	v.Number, v.Undecided = s.plain(f.Value), f.Verdict == inspect.Undecided
	for _, b := range []struct {
		from *inspect.Quantity
		to   **float64
	}{{f.Least, &v.Least}, {f.Most, &v.Most}} {
		if b.from != nil {
			n := s.plain(*b.from)
			*b.to = &n
		}
	}
	return v
}

// plain is a figure as a number, a length in the unit of the paper, for a place in a drawing.
func (s Source) plain(q inspect.Quantity) float64 {
	v, err := strconv.ParseFloat(string(q.Number(s.Unit)), 64)
	if err != nil {
		panic(err) // a figure is a number
	}
	return v
}

// Limited keeps the last values, with the limits of all of them once there are enough.
func (s Series) Limited() Series {
	first := max(0, len(s.Values)-mostCharted)
	if len(s.Values) >= leastForLimits {
		a, err := trend.NewAccumulator(trend.Individuals, 1, mostCharted)
		if s.Skewed {
			a, err = trend.NewSkewed(mostCharted)
		}
		for _, v := range s.Values {
			if err == nil {
				err = a.Add(v.Number)
			}
		}
		if err == nil {
			if c, err := a.Chart(nil); err == nil {
				s.Limits = &c
			}
		}
	}
	s.Values, s.First = s.Values[first:], first+1
	return s
}
