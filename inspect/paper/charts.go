package paper

import "io"

// Charts is trends to print, and the lives of tools.
type Charts struct {
	Title    string
	Lead     string // of what, how many, from when to when
	Charts   []Charted
	Proof    Proof
	Practice bool
	Back     string // address of the page it was made on
}

// Charted is one chart: the sentence first, the drawing, what its marks mean, and the points that stand out by name.
type Charted struct {
	Sentence string
	Notes    []string
	Drawing  Drawing // none where a sentence says all
	Heads    []string
	Points   []ChartedPoint
}

// ChartedPoint is a point that stands out.
type ChartedPoint struct {
	Ruling Ruling // its mark, and what the mark says
	Name   string // the inspection
	Cells  []string
}

// WriteCharts writes charts as one document. Errors are those of w.
func WriteCharts(w io.Writer, c Charts) error { return write(w, "charts", isolated(c.Title), c.html) }
