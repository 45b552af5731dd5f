package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// Teeth is a polar plot of one run-out: each flute at its angle, its height over the lowest flute drawn much
// larger than the tool, against the circle fitted through all of them.
type Teeth struct {
	Title    string
	Diameter length.Length
	Heights  []*length.Length // flute 1 first; nil is not read yet
	Angles   []length.Angle   // where each flute stands; nil is equal pitch
	Limit    *length.Length   // of the TIR; nil draws none
	Unit     length.Unit
}

// Sizes of the plot. The lowest flute lies on the circle of the tool's radius.
const (
	teethCentreX = width / 2
	teethCentreY = 142
	teethHub     = 30
	teethRadius  = 60
	teethSpan    = 30  // the most that a height may take
	teethLabels  = 106 // where the flute numbers stand
)

// A tooth is one flute as drawn.
type tooth struct {
	Flute int
	Read  bool
	Over  bool // higher over the lowest than the limit
	Shape string
	Tip   point
	Name  label
	Value label // height over the lowest
}

type teethDrawing struct {
	Title, Desc string
	Centre      point
	Hub         px
	Teeth       []tooth
	Lowest      px     // radius of the ring through the lowest flute; 0 for none
	Outer       px     // radius of the limit ring; 0 for none
	Fit         string // the fitted circle
	Arrow       string // towards the high side
	Captions    []label
	Height      px
}

// Draw returns the plot as an inline SVG. Flutes that were not read yet are drawn hollow, so that it can be
// shown while readings come in. The fitted circle needs them all.
func (t Teeth) Draw() template.HTML { return t.figure().SVG }

func (t Teeth) figure() figure {
	s := t.scaled()
	d := teethDrawing{Title: t.Title, Centre: s.centre, Hub: teethHub}
	for i := range t.Heights {
		d.Teeth = append(d.Teeth, s.tooth(t, i))
	}
	if s.read > 0 {
		d.Lowest = teethRadius
		if t.Limit != nil {
			d.Outer = px(s.radius(s.lowest + *t.Limit))
		}
	}
	if s.fit != nil {
		d.Fit = s.circle()
		d.Arrow = s.arrow()
	}
	words := t.words(s)
	d.Captions, d.Height = captions(teethCentreY+teethLabels+32, words...)
	d.Desc = t.description(s, words)
	return draw("teeth", d.Height, d)
}

// teethScale is how a run-out is laid out.
type teethScale struct {
	centre       point
	angles       []length.Angle
	lowest       length.Length
	tir          length.Length
	read         int
	exaggeration float64 // of heights against the tool's own scale; 0 when there is nothing to draw
	pxPerMicron  float64
	fit          *geometry.Runout
}

func (t Teeth) scaled() teethScale {
	s := teethScale{centre: point{teethCentreX, teethCentreY}, angles: t.Angles}
	if s.angles == nil {
		s.angles = geometry.EqualAngles(len(t.Heights))
	}
	var read []length.Length
	for _, h := range t.Heights {
		if h != nil {
			read = append(read, *h)
		}
	}
	if s.read = len(read); s.read == 0 {
		return s
	}
	s.lowest, s.tir = slices.Min(read), geometry.TIR(read)
	s.fit = fit(read, s.angles)
	span := s.tir
	if t.Limit != nil {
		span = max(span, *t.Limit)
	}
	if span > 0 {
		toolScale := teethRadius / (t.Diameter.Micrometres() / 2)
		s.exaggeration = roundDown(teethSpan / (span.Micrometres() * toolScale))
		s.pxPerMicron = s.exaggeration * toolScale
	}
	return s
}

// fit returns nil where the circle cannot be fitted: a flute is missing, or the angles are no tool's.
func fit(heights []length.Length, angles []length.Angle) *geometry.Runout {
	run, err := geometry.FitRunout(heights, angles)
	if err != nil {
		return nil
	}
	return &run
}

// radius returns how far from the centre a height is drawn.
func (s teethScale) radius(h length.Length) float64 {
	return teethRadius + (h-s.lowest).Micrometres()*s.pxPerMicron
}

func (s teethScale) tooth(t Teeth, i int) tooth {
	angle := s.angles[i].Radians()
	at := s.centre.polar(teethLabels, angle)
	at.Y -= px(5 * math.Cos(angle)) // two lines of text need more room over and under than beside
	anchor := "middle"
	if side := math.Sin(angle); side > 0.3 {
		anchor = "start"
	} else if side < -0.3 {
		anchor = "end"
	}
	o := tooth{
		Flute: i + 1,
		Name:  label{point{at.X, at.Y - 1}, fmt.Sprint(i + 1), anchor},
		Value: label{point{at.X, at.Y + 12}, "not read", anchor},
	}
	radius := float64(teethRadius)
	if h := t.Heights[i]; h != nil {
		o.Read = true
		o.Over = t.Limit != nil && *h-s.lowest > *t.Limit
		o.Value.Text = number(*h-s.lowest, t.Unit)
		radius = s.radius(*h)
	}
	o.Tip = s.centre.polar(radius, angle)
	o.Shape = s.shape(i, radius)
	return o
}

// shape outlines a tooth: the face from the hub up to the tip, the land falling away behind it, and the back.
func (s teethScale) shape(i int, radius float64) string {
	const turn = 2 * math.Pi
	next := s.angles[(i+1)%len(s.angles)].Radians()
	angle := s.angles[i].Radians()
	gap := math.Mod(next-angle+turn, turn)
	land := min(0.3*gap, 0.5)
	return path(
		s.centre.polar(teethHub-4, angle),
		s.centre.polar(radius, angle),
		s.centre.polar(radius-7, angle+land),
		s.centre.polar((radius+teethHub)/2, angle+1.35*land),
		s.centre.polar(teethHub-4, angle+min(0.8*gap, 1.5)),
	) + "Z"
}

// circle returns the fitted circle. With its heights exaggerated it is drawn as the curve
//
//	r(t) = mean + e cos(t - direction)
//
// so that a tooth without an error of its own lies on it exactly.
func (s teethScale) circle() string {
	const steps = 120
	e, direction := s.fit.Eccentricity.Micrometres(), s.fit.Direction.Radians()
	var ps []point
	for i := range steps {
		t := 2 * math.Pi * float64(i) / steps
		ps = append(ps, s.centre.polar(s.radius(s.fit.Mean)+e*math.Cos(t-direction)*s.pxPerMicron, t))
	}
	return path(ps...) + "Z"
}

// arrow points from the centre to the high side; its length says nothing.
func (s teethScale) arrow() string {
	if !s.fit.HasDirection {
		return ""
	}
	a := s.fit.Direction.Radians()
	const tip = teethHub - 4
	return path(s.centre.polar(tip, a+math.Pi), s.centre.polar(tip, a)) +
		path(s.centre.polar(tip-9, a-0.35), s.centre.polar(tip, a), s.centre.polar(tip-9, a+0.35))
}

// words are the figures of the plot and what its lines mean.
func (t Teeth) words(s teethScale) []string {
	if s.read == 0 {
		return []string{"no flute read yet"}
	}
	tir := "TIR " + s.tir.In(t.Unit)
	if s.read < len(t.Heights) {
		tir = fmt.Sprintf("%d of %d flutes read, TIR so far %s", s.read, len(t.Heights), s.tir.In(t.Unit))
	}
	if t.Limit != nil {
		tir += ", limit " + number(*t.Limit, t.Unit) + " (dashed)"
	}
	words := []string{tir}
	if s.fit != nil {
		offset := "concentricity (twice offset) " + s.fit.Concentricity.In(t.Unit)
		if s.fit.HasDirection {
			offset += ", high at " + s.fit.Direction.Format(0) + "\u00b0"
		}
		words = append(words, offset, "fitted circle dotted; flutes clockwise as they cut")
	}
	if s.exaggeration > 0 {
		words = append(words, fmt.Sprintf("heights drawn at %s times the tool\u2019s scale", plain(s.exaggeration)))
	}
	return words
}

// description says in words what the plot shows, for those who do not see it.
func (t Teeth) description(s teethScale, words []string) string {
	desc := ""
	for _, w := range words {
		desc += w + ". "
	}
	desc += "Height over the lowest flute:"
	for i, h := range t.Heights {
		desc += fmt.Sprintf(" flute %d ", i+1)
		if h == nil {
			desc += "not read,"
		} else {
			desc += number(*h-s.lowest, t.Unit) + ","
		}
	}
	return desc[:len(desc)-1] + "."
}
