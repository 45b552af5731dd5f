package inspect

import (
	"flutelog/inspect/length"
)

// Limit is what a figure is held against, bounds included; a nil bound is none.
type Limit struct {
	Least  *Quantity `json:"least,omitempty"`
	Most   *Quantity `json:"most,omitempty"`
	Judged bool      `json:"judged"`           // else it is advice, which calls for no work and bars no release
	Source string    `json:"source,omitempty"` // where the bounds come from; for people, nothing hangs on it
}

// Set says whether there is a bound at all.
func (l Limit) Set() bool { return l.Least != nil || l.Most != nil }

// Lengths returns the bounds of a limit on a length.
func (l Limit) Lengths() (least, most *length.Length) {
	as := func(q *Quantity) *length.Length {
		if q == nil {
			return nil
		}
		v := q.Length()
		return &v
	}
	return as(l.Least), as(l.Most)
}

// MostLength returns the upper bound of a limit on a length, nil where there is none.
func (l Limit) MostLength() *length.Length {
	_, most := l.Lengths()
	return most
}

// Angles returns the bounds of a limit on an angle.
func (l Limit) Angles() (least, most *length.Angle) {
	as := func(q *Quantity) *length.Angle {
		if q == nil {
			return nil
		}
		v := q.Angle()
		return &v
	}
	return as(l.Least), as(l.Most)
}

// Limits says what conforms, by what is limited.
type Limits map[Feature]Limit

// Of returns the limit of a feature. The end teeth share the limits of the flutes' lands, and run-out to the shank that
// of radial run-out.
func (l Limits) Of(f Feature) Limit {
	switch f {
	case EndPrimaryLand:
		f = PrimaryLand
	case RunoutToShank:
		f = RadialRunout
	}
	return l[f]
}

// Set puts a limit in the place of the one in force.
func (l Limits) Set(f Feature, limit Limit) { l[f] = limit }

// MostShare returns the share of the land over which a secondary is needed.
func (l Limits) MostShare() Share { return shareOr(l[PrimaryLand].Most, Half) }

// LeastShare returns the share under which the primary has vanished.
func (l Limits) LeastShare() Share { return shareOr(l[PrimaryLand].Least, Share{0, 1}) }

// Target returns the shares between which the primary is aimed right after a secondary.
func (l Limits) Target() (least, most Share) {
	return shareOr(l[ShareTarget].Least, Share{15, 100}), shareOr(l[ShareTarget].Most, Share{35, 100})
}

func shareOr(q *Quantity, other Share) Share {
	if q == nil {
		return other
	}
	return q.Share()
}

// LimitKind is what a limit's bounds are, and how they are written in a bench file.
type LimitKind string

const (
	MostLengthKind LimitKind = "length"            // one length: the most
	LengthBandKind LimitKind = "two lengths"       // the least and the most
	SpreadKind     LimitKind = "length either way" // one length: as much less, and as much more
	AngleBandKind  LimitKind = "two angles"
	MostShareKind  LimitKind = "share"         // the most, as a fraction
	LeastShareKind LimitKind = "least share"   // the least, as a fraction
	ShareBandKind  LimitKind = "two shares"    // the least and the most, as fractions
	PercentKind    LimitKind = "percent of it" // of the nominal diameter: the least
)

// LimitRow is one limit: everything that the program knows of it stands here and nowhere else.
type LimitRow struct {
	Key     string // in the bench file
	Feature Feature
	About   string // in the words of the trade
	Kind    LimitKind
	Judged  bool // by default; what a bench states is judged
	Aim     bool // never judged: what is aimed at
	Default func(Tool) Limit
}

const (
	commonPractice = "common practice, no source"
	fromHandbook   = "from memory of handbook indicator-drop tables for high-speed steel"
)

// LimitTable lists every limit. It serves the defaults, and the check, override, print and example of the bench file.
var LimitTable = []LimitRow{
	{Key: "radial-runout", Feature: RadialRunout, About: "radial run-out (TIR)", Kind: MostLengthKind, Judged: true, Default: defaultRunout},
	{Key: "axial-runout", Feature: AxialRunout, About: "axial run-out of the end teeth (TIR)", Kind: MostLengthKind, Judged: true, Default: defaultRunout},
	{Key: "shank-runout", Feature: ShankRunout, About: "run-out of the shank (TIR)", Kind: MostLengthKind, Judged: true, Default: defaultRunout},
	{Key: "concentricity", Feature: Concentricity, About: "concentricity, twice the offset", Kind: MostLengthKind, Judged: true, Default: func(Tool) Limit { return Limit{} }},
	{Key: "taper", Feature: Taper, About: "taper on the diameter over the planes read, less the nominal", Kind: SpreadKind, Judged: true, Default: func(Tool) Limit { return lengths(-length.Thou, length.Thou, commonPractice) }},
	{Key: "wear", Feature: WearLand, About: "wear land", Kind: MostLengthKind, Judged: true, Default: func(t Tool) Limit {
		return Limit{Most: lengthQuantity(sizes(t.Diameter).wear(t.Material)), Source: commonPractice}
	}},
	{Key: "secondary-over", Feature: PrimaryLand, About: "primary share of the land, over which a secondary is needed", Kind: MostShareKind, Judged: true, Default: func(Tool) Limit {
		q := Half.Quantity()
		return Limit{Most: &q, Source: commonPractice}
	}},
	{Key: "least-share", Feature: PrimaryLand, About: "primary share of the land after the grind, under which the primary has vanished", Kind: LeastShareKind, Judged: true, Default: func(Tool) Limit {
		q := Share{10, 100}.Quantity()
		return Limit{Least: &q, Source: commonPractice}
	}},
	{Key: "target", Feature: ShareTarget, About: "primary share aimed at right after a secondary", Kind: ShareBandKind, Aim: true, Default: func(Tool) Limit {
		least, most := Share{15, 100}.Quantity(), Share{35, 100}.Quantity()
		return Limit{Least: &least, Most: &most, Source: commonPractice}
	}},
	{Key: "primary-width", Feature: PrimaryWidth, About: "primary width", Kind: LengthBandKind, Default: func(t Tool) Limit {
		least, most := sizes(t.Diameter).primary()
		return lengths(least, most, commonPractice)
	}},
	{Key: "primary-relief", Feature: ReliefDrop, About: "primary relief", Kind: AngleBandKind, Judged: true, Default: func(t Tool) Limit {
		row := reliefRow(t.Diameter)
		if t.Material == Carbide {
			return degrees(row.least, row.most, "as for high-speed steel; "+commonPractice)
		}
		return degrees(row.least, row.most, fromHandbook)
	}},
	{Key: "secondary-relief", Feature: SecondaryDrop, About: "secondary relief", Kind: AngleBandKind, Default: func(t Tool) Limit {
		row := reliefRow(t.Diameter)
		return degrees(row.least+8, row.most+10, commonPractice)
	}},
	{Key: "end-primary-relief", Feature: EndReliefDrop, About: "end primary relief", Kind: AngleBandKind, Default: func(Tool) Limit { return degrees(5, 7, commonPractice) }},
	{Key: "end-secondary-relief", Feature: EndSecondaryDrop, About: "end secondary relief", Kind: AngleBandKind, Default: func(Tool) Limit { return degrees(12, 15, commonPractice) }},
	{Key: "dish", Feature: Dish, About: "dish of the end", Kind: AngleBandKind, Default: func(Tool) Limit { return degrees(1, 3, commonPractice) }},
	{Key: "smallest-percent", Feature: Diameter, About: "smallest useful diameter", Kind: PercentKind, Judged: true, Default: func(t Tool) Limit {
		l := Limit{Least: lengthQuantity(t.Diameter * 90 / 100), Source: commonPractice}
		if t.Material == Carbide {
			l.Least = lengthQuantity(t.Diameter * 95 / 100)
		}
		return l
	}},
}

// DefaultLimits returns the limits in force for a tool where the bench file states none. Each carries where it comes
// from. What the tool itself must hold stands over the smallest useful diameter.
func DefaultLimits(t Tool) Limits {
	all := Limits{}
	for _, row := range LimitTable {
		l := row.Default(t)
		l.Judged = row.Judged
		all.merge(row.Feature, l)
	}
	all.HoldSize(t)
	return all
}

// merge puts the bounds of a limit over those in force, and leaves the bound it does not have.
func (l Limits) merge(f Feature, limit Limit) {
	if old, ok := l[f]; ok {
		if limit.Least == nil {
			limit.Least = old.Least
		}
		if limit.Most == nil {
			limit.Most = old.Most
		}
	}
	l[f] = limit
}

// HoldSize puts what the tool itself must hold over the limits of the diameter.
func (l Limits) HoldSize(t Tool) {
	limit := l[Diameter]
	if t.AtLeast != nil {
		limit.Least, limit.Source = lengthQuantity(*t.AtLeast), "the tool's own"
	}
	if t.AtMost != nil {
		limit.Most, limit.Source = lengthQuantity(*t.AtMost), "the tool's own"
	}
	l[Diameter] = limit
}

// Override puts a bench's bounds over the limit of a row. What a bench states is judged, but for what is aimed at.
func (l Limits) Override(row LimitRow, bounds Limit) {
	bounds.Judged = !row.Aim
	l.merge(row.Feature, bounds)
}

// A reliefBand is one row of the handbook's table: the relief for a diameter and the distance over which it is checked.
type reliefBand struct {
	diameter    length.Length // thirty-seconds of an inch
	least, most length.Angle  // degrees
	distance    length.Length // thou
}

// reliefTable: relief of high-speed steel by indicator drop, from memory of handbook tables, unverified; the drops
// remembered with them agree with the geometry of a flat facet within 0.00009 in. Past 1 1/4 in the last row stands
// (common practice, no source).
var reliefTable = []reliefBand{
	{2, 20, 25, 5}, {3, 16, 20, 5}, {4, 15, 19, 10}, {5, 13, 17, 10}, {6, 12, 16, 10}, {7, 11, 15, 10},
	{8, 10, 14, 15}, {9, 10, 14, 15}, {10, 10, 13, 15}, {11, 10, 13, 15}, {12, 10, 13, 15}, {13, 9, 12, 20},
	{14, 9, 12, 20}, {15, 9, 12, 20}, {16, 9, 12, 20}, {18, 9, 12, 20}, {20, 8, 11, 20}, {22, 8, 11, 30},
	{24, 8, 11, 30}, {26, 8, 11, 30}, {28, 8, 11, 30}, {30, 7, 10, 30}, {32, 7, 10, 30}, {36, 7, 10, 30}, {40, 6, 9, 30},
}

// reliefRow returns the row of the nearest diameter, by ratio: between two rows a and b the larger from the square
// root of a b up.
func reliefRow(d length.Length) reliefBand {
	const nm = 1000 * length.Picometre
	row := reliefTable[0]
	for _, next := range reliefTable[1:] {
		a, b := row.diameter*length.Inch/32/nm, next.diameter*length.Inch/32/nm
		if (d/nm)*(d/nm) < a*b {
			break
		}
		row = next
	}
	return row
}

// A sizeBand is one row of the widths by diameter (common practice, no source).
type sizeBand struct {
	diameter                     length.Length // thirty-seconds of an inch
	leastPrimary, mostPrimary    length.Length // thou
	wearSteelTenths, wearCarbide length.Length // ten-thousandths of an inch, and hundred-thousandths
}

// sizeTable: under the first row the widths keep their share of the diameter, past the last they stay.
var sizeTable = []sizeBand{
	{4, 3, 8, 20, 125},
	{8, 7, 12, 40, 250},
	{12, 10, 15, 60, 400},
	{16, 15, 20, 80, 500},
	{24, 20, 28, 80, 500},
	{32, 25, 35, 100, 600},
	{40, 30, 45, 120, 800},
}

// A size is where a diameter lies between two rows of the sizeTable.
type size struct {
	low, high sizeBand
	part, of  length.Length
}

func sizes(d length.Length) size {
	first, last := sizeTable[0], sizeTable[len(sizeTable)-1]
	at := func(row sizeBand) length.Length { return row.diameter * length.Inch / 32 }
	switch {
	case d <= at(first):
		return size{sizeBand{}, first, d, at(first)}
	case d >= at(last):
		return size{last, last, 0, 1}
	}
	for i, high := range sizeTable[1:] {
		if d <= at(high) {
			low := sizeTable[i]
			return size{low, high, d - at(low), at(high) - at(low)}
		}
	}
	return size{last, last, 0, 1}
}

// between is linear between two rows.
func (s size) between(low, high length.Length) length.Length { return low + (high-low)*s.part/s.of }

func (s size) primary() (least, most length.Length) {
	return s.between(s.low.leastPrimary*length.Thou, s.high.leastPrimary*length.Thou),
		s.between(s.low.mostPrimary*length.Thou, s.high.mostPrimary*length.Thou)
}

func (s size) wear(m Material) length.Length {
	if m == Carbide {
		return s.between(s.low.wearCarbide*length.Tenth/10, s.high.wearCarbide*length.Tenth/10)
	}
	return s.between(s.low.wearSteelTenths*length.Tenth, s.high.wearSteelTenths*length.Tenth)
}

// defaultRunout is the TIR allowed, by steps: 0.0003 in up to a diameter of 0.111 in, 0.0005 in up to 1/2 in, 0.001 in
// above; carbide 0.0003 in up to 1/2 in and 0.0005 in above; a tool kept for roughing twice that, and 0.001 in at least.
func defaultRunout(t Tool) Limit {
	most := 10 * length.Tenth
	switch {
	case t.Diameter <= 111*length.Thou, t.Material == Carbide && t.Diameter <= length.Inch/2:
		most = 3 * length.Tenth
	case t.Diameter <= length.Inch/2, t.Material == Carbide:
		most = 5 * length.Tenth
	}
	if t.Duty == Roughing {
		most = max(2*most, length.Thou)
	}
	return Limit{Most: lengthQuantity(most), Source: commonPractice}
}

func lengthQuantity(l length.Length) *Quantity {
	q := LengthQuantity(l)
	return &q
}

func angleQuantity(a length.Angle) *Quantity {
	q := AngleQuantity(a)
	return &q
}

func lengths(least, most length.Length, source string) Limit {
	return Limit{Least: lengthQuantity(least), Most: lengthQuantity(most), Source: source}
}

func degrees(least, most length.Angle, source string) Limit {
	return Limit{Least: angleQuantity(least * length.Degree), Most: angleQuantity(most * length.Degree), Source: source}
}
