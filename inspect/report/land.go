package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// LandSection is one land in section, square to its edge and to scale: the cutting circle, the primary and
// the secondary at their angles, the half of the land and its first quarter, and what is worn.
type LandSection struct {
	Title           string
	Flute           int
	Diameter        length.Length
	Helix, Rake     length.Angle
	Primary, Land   length.Length  // square to the edge, the land whole
	Wear            *length.Length // nil is not read
	PrimaryRelief   *length.Angle  // radial; nil draws what is usual for the diameter, and says so
	SecondaryRelief *length.Angle
	Unit            length.Unit
}

// Sizes of the section.
const (
	edgeX, edgeY = 58, 56
	landLength   = 232 // the most that the land may take
	landDrop     = 62
	toothDepth   = 26 // of the tooth drawn under the heel
)

type sectionDrawing struct {
	Title, Desc        string
	Body               string // outline of the tooth
	Primary, Secondary string
	Circle             string // the cutting circle
	Wear               string
	Marks              []mark // half and quarter
	Labels             []label
	Scale              scaleBar
	Captions           []label
	Height             px
}

// A mark is a tick across the land with a name over it.
type mark struct {
	Kind     string
	From, To point
	Name     label
}

type scaleBar struct {
	From, To point
	Name     label
}

// Draw returns the section as an inline SVG.
func (l LandSection) Draw() template.HTML { return l.figure().SVG }

func (l LandSection) figure() figure {
	s := l.scaled()
	bottom := s.at(1).Y + toothDepth
	d := sectionDrawing{
		Title:     l.Title,
		Body:      s.body(bottom),
		Primary:   path(s.primary...),
		Secondary: path(s.secondary...),
		Circle:    s.circle(),
		Marks:     []mark{s.mark("quarter", "end", 0.25), s.mark("half", "start", 0.5)},
		Labels: []label{
			{point{s.edge.X + 4, s.edge.Y - 8}, "edge", "end"},
			{point{s.edge.X + 16, s.heel.Y + 18}, "primary", "start"},
		},
		Scale: s.bar(l.Unit, bottom),
	}
	if l.Primary < l.Land {
		d.Labels = append(d.Labels, label{point{s.back.X, bottom - 7}, "secondary", "end"})
	}
	if s.worn != nil {
		d.Wear = path(s.worn...)
	}
	words := l.words(s)
	d.Captions, d.Height = captions(bottom+34, words...)
	for _, w := range words {
		d.Desc += w + ". "
	}
	return draw("section", d.Height, d)
}

// landScale is how a land is laid out, in pixels. Square to the edge of a helix L the ways back are those of the section
// square to the axis times cos L, those down are the same; the cutting circle is there of radius R / cos^2 L.
type landScale struct {
	pxPerMicron              float64
	edge, heel, back         point // the edge before it wore
	worn, primary, secondary []point
	share                    float64 // of the primary
	radius                   float64 // of the cutting circle, px
	first, second            length.Angle
	typical                  string // which of the angles are only the usual ones
}

// scaled lays the tooth in section out; what cannot be one is drawn as a flat line.
func (l LandSection) scaled() landScale {
	s := landScale{share: geometry.Ratio{Primary: l.Primary, Land: l.Land}.Value(), edge: point{edgeX, edgeY}}
	s.first, s.second, s.typical = l.reliefs()
	t := geometry.Teeth{
		Diameter: l.Diameter, Helix: l.Helix, Rake: l.Rake, PrimaryRelief: s.first, SecondaryRelief: s.second,
		Primary: []length.Length{l.Primary}, Land: []length.Length{l.Land},
	}
	if l.Wear != nil {
		t.Wear = []length.Length{*l.Wear}
	}
	section, err := t.Section()
	if err != nil {
		s.heel, s.back = s.edge, s.edge
		s.primary, s.secondary = []point{s.edge, s.edge}, []point{s.edge, s.edge}
		s.pxPerMicron = 1
		return s
	}
	o := section.Outline(1)
	cosHelix := math.Cos(l.Helix.Radians())
	s.pxPerMicron = min(landLength/(o.End.Back*cosHelix), landDrop/o.End.Down)
	at := func(p geometry.Place) point {
		return point{s.edge.X + px(p.Back*cosHelix*s.pxPerMicron), s.edge.Y + px(p.Down*s.pxPerMicron)}
	}
	all := func(ps []geometry.Place) []point {
		var points []point
		for _, p := range ps {
			points = append(points, at(p))
		}
		return points
	}
	s.radius = o.Radius / (cosHelix * cosHelix) * s.pxPerMicron
	s.heel, s.back = at(o.Heel), at(o.End)
	s.worn, s.primary, s.secondary = all(o.Worn), all(o.Primary), all(o.Secondary)
	if s.secondary == nil {
		s.secondary = []point{s.heel, s.back}
	}
	return s
}

// reliefs returns the angles to draw. Where the tool's are not known, the middle of the default limits for
// its diameter stands in.
func (l LandSection) reliefs() (first, second length.Angle, typical string) {
	usual := inspect.DefaultLimits(inspect.Tool{Diameter: l.Diameter})
	middle := func(f inspect.Feature) length.Angle {
		least, most := usual[f].Angles()
		return (*least + *most) / 2
	}
	first, second = middle(inspect.ReliefDrop), middle(inspect.SecondaryDrop)
	switch {
	case l.PrimaryRelief != nil && l.SecondaryRelief != nil:
		return *l.PrimaryRelief, *l.SecondaryRelief, ""
	case l.PrimaryRelief != nil:
		return *l.PrimaryRelief, max(second, *l.PrimaryRelief+5*length.Degree), "secondary typical, not known"
	case l.SecondaryRelief != nil:
		return min(first, *l.SecondaryRelief-5*length.Degree), *l.SecondaryRelief, "primary typical, not known"
	}
	return first, second, "typical, not known"
}

// at returns the place on the land at a share of it behind the edge.
func (s landScale) at(share float64) point {
	from, to, part := s.edge, s.heel, share/s.share
	if share > s.share {
		from, to, part = s.heel, s.back, (share-s.share)/(1-s.share)
	}
	return point{from.X + px(part)*(to.X-from.X), from.Y + px(part)*(to.Y-from.Y)}
}

func (s landScale) body(bottom px) string {
	top := slices.Concat(s.worn, s.primary, s.secondary)
	return path(append(top, point{s.back.X + 8, bottom}, point{s.edge.X + 12, bottom})...) + "Z"
}

// circle returns the arc that the edge runs on, from a little ahead of it to the end of the land.
func (s landScale) circle() string {
	var ps []point
	end := min(float64(s.back.X-s.edge.X)+10, 0.98*s.radius)
	for x := max(-24, -0.98*s.radius); x <= end; x += 2 {
		ps = append(ps, point{s.edge.X + px(x), s.edge.Y + px(s.radius-math.Sqrt(s.radius*s.radius-x*x))})
	}
	return path(ps...)
}

func (s landScale) mark(kind, anchor string, share float64) mark {
	p := s.at(share)
	return mark{kind, point{p.X, 34}, point{p.X, p.Y + 6}, label{point{p.X, 31}, kind, anchor}}
}

// bar returns a bar of a round length.
func (s landScale) bar(u length.Unit, bottom px) scaleBar {
	unit := 1000.0 // micrometres
	if !u.Metric() {
		unit, u = 25400, length.In
	} else {
		u = length.Mm
	}
	size := roundDown(90 / (unit * s.pxPerMicron))
	from := point{edgeX, bottom + 12}
	to := point{from.X + px(size*unit*s.pxPerMicron), from.Y}
	return scaleBar{from, to, label{point{to.X + 6, to.Y + 4}, plain(size) + " " + string(u), "start"}}
}

func (l LandSection) words(s landScale) []string {
	angles := fmt.Sprintf("relief %s\u00b0 and %s\u00b0", s.first.Format(1), s.second.Format(1))
	if s.typical != "" {
		angles += " (" + s.typical + ")"
	}
	words := []string{
		fmt.Sprintf("flute %d: primary %s of %s: %.3f", l.Flute, number(l.Primary, l.Unit), l.Land.In(l.Unit), s.share),
		angles,
	}
	if l.Wear != nil {
		words = append(words, "wear land "+l.Wear.In(l.Unit)+" (heavy line)")
	}
	return append(words, "to scale, square to the edge; cutting circle dashed")
}

// LandBars is a row of bars, one a flute: the primary's share of the whole land against the half, over which
// a secondary is needed, and the band aimed at.
type LandBars struct {
	Title       string
	Ratios      []*geometry.Ratio // flute 1 first; nil is not read yet
	Worst       int               // flute; 0 for none
	TargetLeast inspect.Share
	TargetMost  inspect.Share
}

// Sizes of the bars.
const (
	barsLeft, barsTop = 40, 20
	barsWidth         = width - barsLeft - 4
	barsHeight        = 54
	barsBottom        = barsTop + barsHeight
)

// A bar is one flute's share.
type bar struct {
	Flute     int
	Read      bool
	Over      bool
	X, Y      px
	Width     px
	Height    px
	Value     label
	Name      label
	Highlight bool // the flute that decides
}

type barsDrawing struct {
	Title, Desc string
	Left, Right px
	Bottom      px
	Half        px
	HalfName    label
	BandTop     px
	BandWidth   px
	BandHeight  px
	BandName    label
	Bars        []bar
	Captions    []label
	Height      px
}

// shareY returns how high a share of the land is drawn.
func shareY(share float64) px { return px(barsBottom - barsHeight*share) }

// Draw returns the bars as an inline SVG. Flutes that were not read yet have none.
func (l LandBars) Draw() template.HTML { return l.figure().SVG }

func (l LandBars) figure() figure {
	d := barsDrawing{
		Title: l.Title, Left: barsLeft, Right: width - 4, Bottom: barsBottom,
		Half:       shareY(inspect.Half.Value()),
		HalfName:   label{point{barsLeft - 4, shareY(0.5) + 4}, "half", "end"},
		BandWidth:  barsWidth,
		BandTop:    shareY(l.TargetMost.Value()),
		BandHeight: shareY(l.TargetLeast.Value()) - shareY(l.TargetMost.Value()),
		BandName:   label{point{barsLeft - 4, shareY(0.25) + 4}, "aim", "end"},
	}
	d.Captions, d.Height = captions(barsBottom+42, "primary as a share of the land; solid: over the half")
	pitch := float64(barsWidth) / float64(len(l.Ratios))
	for i, r := range l.Ratios {
		d.Bars = append(d.Bars, l.bar(i, r, px(barsLeft+pitch*(float64(i)+0.5)), px(min(0.6*pitch, 30))))
	}
	d.Desc = l.description()
	return draw("bars", d.Height, d)
}

func (l LandBars) bar(i int, r *geometry.Ratio, middle, thick px) bar {
	b := bar{
		Flute: i + 1, X: middle - thick/2, Width: thick, Highlight: i+1 == l.Worst,
		Name:  label{point{middle, barsBottom + 13}, fmt.Sprint(i + 1), "middle"},
		Value: label{point{middle, barsBottom + 27}, "\u2013", "middle"},
	}
	if r != nil {
		b.Read, b.Over = true, r.OverHalf()
		b.Y, b.Height = shareY(r.Value()), px(barsHeight*r.Value())
		b.Value.Text = fmt.Sprintf("%.2f", r.Value())
	}
	return b
}

func (l LandBars) description() string {
	desc := "Primary as a share of the whole land:"
	for i, r := range l.Ratios {
		switch {
		case r == nil:
			desc += fmt.Sprintf(" flute %d not read,", i+1)
		case r.OverHalf():
			desc += fmt.Sprintf(" flute %d %.3f, over the half,", i+1, r.Value())
		default:
			desc += fmt.Sprintf(" flute %d %.3f,", i+1, r.Value())
		}
	}
	return desc[:len(desc)-1] + "."
}
