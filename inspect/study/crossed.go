// Package study judges gauges: how far repeats, inspectors and the gauge's bias blur what is read, and whether
// the gauge is fine enough for the tolerance. Results are in the unit of the values given, and ready
// to be written as JSON.
//
// In the words of gauge studies: [AnalyseCrossed] gives equipment variation (EV, what one person's repeats differ by), appraiser
// variation (AV), part variation (PV), repeatability and reproducibility together (GRR), its share of the tolerance, and the
// number of distinct categories (ndc). [AnalyseRepeats] gives one person's repeatability, [AnalyseBias] the bias on a master,
// [AnalyseHolding] how far off centre a tool comes to sit, and [FineEnough] whether the step divides the tolerance ten to one.
package study

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"flutelog/inspect/statistics"
)

// Trial is one value of a crossed study: every inspector reads every part, most of them in every trial.
type Trial struct {
	Part      string
	Inspector string
	Trial     int // from 1
	Value     float64
}

// Interval is what a standard deviation lies within, 95 %, two-sided.
type Interval struct {
	Lower float64 `json:"lower"`
	Upper float64 `json:"upper"`
}

// Crossed is the result of a crossed gauge study. Standard deviations are of single readings, in the unit
// of the values.
type Crossed struct {
	EquipmentSD   float64 `json:"equipment_sd"` // EV: repeats by one inspector on one part
	AppraiserSD   float64 `json:"appraiser_sd"` // AV: between inspectors
	InteractionSD float64 `json:"interaction_sd"`
	PartSD        float64 `json:"part_sd"`
	GaugeSD       float64 `json:"gauge_sd"` // equipment, appraiser and interaction together
	GaugeDF       int     `json:"gauge_df"` // effective degrees of freedom of GaugeSD
	TotalSD       float64 `json:"total_sd"`

	Equipment   Interval  `json:"equipment_95"`
	Appraiser   Interval  `json:"appraiser_95"`
	Interaction *Interval `json:"interaction_95"` // nil when it is pooled
	Part        Interval  `json:"part_95"`
	Gauge       Interval  `json:"gauge_95"`

	// Categories is ndc: how many classes of parts the gauge can tell apart; five or more is usually asked for.
	Categories int `json:"categories"`
	// PercentOfTolerance is 600 GaugeSD / tolerance; nil when no tolerance was given.
	PercentOfTolerance *float64 `json:"percent_of_tolerance,omitempty"`
	// PercentOfStudy is 100 GaugeSD / TotalSD.
	PercentOfStudy float64 `json:"percent_of_study"`
	// Pooled says that the interaction was not above the noise and was counted as part of it.
	Pooled  bool  `json:"pooled"`
	Missing int   `json:"missing,omitempty"` // readings of the full design that were not taken
	Anova   []Row `json:"anova"`
}

// poolAbove is the probability above which an interaction is taken for noise.
const poolAbove = 0.25

// AnalyseCrossed returns the crossed gauge study of readings by the analysis of variance with parts and
// inspectors both drawn at random. With p parts, i inspectors and t trials:
//
//	equipment^2   = MS_equipment
//	interaction^2 = (MS_interaction - MS_equipment) / t
//	appraiser^2   = (MS_inspector - MS_interaction) / (p t)
//	part^2        = (MS_part - MS_interaction) / (i t)
//	gauge^2       = equipment^2 + appraiser^2 + interaction^2
//	categories    = trunc(1.41 part / gauge)
//
// A difference below zero counts as zero. Parts and inspectors are tested against the interaction. When the
// probability of the interaction is above 0.25 it is pooled with the equipment, whose mean square then
// takes the place of both; the table keeps the two apart. tolerance is the whole width of the tolerance in the unit of
// the values, or 0 when none is given.
//
// Readings may be missing as long as every inspector read every part: means of the cells are then analysed as they are,
// with the harmonic mean of the readings in a cell for t, which changes nothing where none is missing. Intervals are exact
// for the equipment (chi-square), and of modified large samples for the rest (Graybill and Wang 1980, Ting and others
// 1990).
//
// It refuses a part that an inspector did not read, a place given twice, fewer than two parts or inspectors, no repeats, and
// readings whose repeats never differ. Source: NIST/SEMATECH e-Handbook 7.4.3.8 for the crossed analysis; Searle,
// Casella and McCulloch 1992 for unweighted means, Burdick and Graybill 1992 for the intervals, both from memory; six
// standard deviations, 1.41 and 0.25 are common practice.
func AnalyseCrossed(readings []Trial, tolerance float64) (Crossed, error) {
	c, err := analyseCrossed(readings, tolerance)
	if err != nil {
		return Crossed{}, fmt.Errorf("analysing crossed study: %w", err)
	}
	return c, nil
}

func analyseCrossed(readings []Trial, tolerance float64) (Crossed, error) {
	if !(tolerance >= 0) || math.IsInf(tolerance, 0) {
		return Crossed{}, fmt.Errorf("tolerance %v is not a width", tolerance)
	}
	d, err := arrange(readings)
	if err != nil {
		return Crossed{}, err
	}
	a, err := d.table()
	if err != nil {
		return Crossed{}, err
	}
	c := a.components(d)
	c.Missing = d.missing
	if tolerance > 0 {
		percent := 600 * c.GaugeSD / tolerance
		if math.IsInf(percent, 1) {
			return Crossed{}, fmt.Errorf("tolerance %v is too small to compare with", tolerance)
		}
		c.PercentOfTolerance = &percent
	}
	return c, nil
}

// design holds the readings of a study, less the first of them, by part and inspector.
type design struct {
	parts, inspectors []string
	trials            []int
	cells             [][][]float64
	perCell           float64 // harmonic mean of the readings in a cell
	missing           int     // places of the full design without a reading
}

type place struct {
	part, inspector string
	trial           int
}

func (p place) String() string {
	return fmt.Sprintf("part %s, inspector %s, trial %d", p.part, p.inspector, p.trial)
}

// arrange puts the readings in their cells. Parts, inspectors and trials keep the order in which they
// first appear.
func arrange(readings []Trial) (design, error) {
	var d design
	values := make(map[place]float64)
	for _, r := range readings {
		p := place{r.Part, r.Inspector, r.Trial}
		if !(math.Abs(r.Value) <= most) {
			return d, fmt.Errorf("%v: value is %v", p, r.Value)
		}
		if _, twice := values[p]; twice {
			return d, fmt.Errorf("%v is given twice", p)
		}
		values[p] = r.Value - readings[0].Value
		if !slices.Contains(d.parts, r.Part) {
			d.parts = append(d.parts, r.Part)
		}
		if !slices.Contains(d.inspectors, r.Inspector) {
			d.inspectors = append(d.inspectors, r.Inspector)
		}
		if !slices.Contains(d.trials, r.Trial) {
			d.trials = append(d.trials, r.Trial)
		}
	}
	if len(d.parts) < 2 || len(d.inspectors) < 2 || len(d.trials) < 2 {
		return d, fmt.Errorf("%d parts, %d inspectors and %d trials given; at least 2 of each are needed",
			len(d.parts), len(d.inspectors), len(d.trials))
	}
	cells := len(d.parts) * len(d.inspectors)
	if cells > len(readings) {
		return d, d.unread(values)
	}
	d.missing = cells*len(d.trials) - len(readings)
	d.cells = make([][][]float64, len(d.parts))
	inverse := 0.0
	for p, part := range d.parts {
		d.cells[p] = make([][]float64, len(d.inspectors))
		for i, inspector := range d.inspectors {
			for _, trial := range d.trials {
				if v, ok := values[place{part, inspector, trial}]; ok {
					d.cells[p][i] = append(d.cells[p][i], v)
				}
			}
			if len(d.cells[p][i]) == 0 {
				return d, d.unread(values)
			}
			inverse += 1 / float64(len(d.cells[p][i]))
		}
	}
	d.perCell = float64(cells) / inverse
	return d, nil
}

// unread names the first parts that an inspector did not read. It does not walk the rest: a file with one part and
// inspector a line would have as many places as the square of its lines.
func (d design) unread(values map[place]float64) error {
	var named []string
	for _, part := range d.parts {
		for _, inspector := range d.inspectors {
			read := slices.ContainsFunc(d.trials, func(trial int) bool { _, ok := values[place{part, inspector, trial}]; return ok })
			if read {
				continue
			}
			if len(named) == 5 {
				return fmt.Errorf("not read: %s and more; every inspector reads every part at least once", strings.Join(named, "; "))
			}
			named = append(named, fmt.Sprintf("part %s by %s", part, inspector))
		}
	}
	return fmt.Errorf("not read: %s; every inspector reads every part at least once", strings.Join(named, "; "))
}

// table is the analysis of variance of a design, by row.
type table struct {
	part, inspector, interaction, equipment Row
	pooled                                  bool
	noise                                   Row // what repeats scatter by: equipment, with the interaction when pooled
}

func (d design) table() (table, error) {
	p, i := len(d.parts), len(d.inspectors)
	ssPart, ssInspector, ssInteraction, ssEquipment, n := d.sumsOfSquares()
	if n == p*i {
		return table{}, errors.New("no part was read twice by one inspector; repeats are needed to know the noise")
	}
	a := table{
		part:        newRow("part", p-1, ssPart),
		inspector:   newRow("inspector", i-1, ssInspector),
		interaction: newRow("interaction", (p-1)*(i-1), ssInteraction),
		equipment:   newRow("equipment", n-p*i, ssEquipment),
	}
	if err := a.interaction.against(a.equipment); err != nil {
		return table{}, err
	}
	a.noise = a.equipment
	against := a.interaction
	if *a.interaction.P > poolAbove {
		a.pooled = true
		a.noise = newRow("pooled", a.equipment.DF+a.interaction.DF, ssEquipment+ssInteraction)
		against = a.noise
	}
	if err := a.part.against(against); err != nil {
		return table{}, err
	}
	return a, a.inspector.against(against)
}

// sumsOfSquares splits the variation of the readings among its sources; n is how many readings there are.
func (d design) sumsOfSquares() (part, inspector, interaction, equipment float64, n int) {
	np, ni, nt := float64(len(d.parts)), float64(len(d.inspectors)), d.perCell
	partMeans := make([]float64, len(d.parts))
	inspectorMeans := make([]float64, len(d.inspectors))
	for p, row := range d.cells {
		for i, cell := range row {
			m := mean(cell)
			n += len(cell)
			equipment += squares(cell, m)
			partMeans[p] += m / ni
			inspectorMeans[i] += m / np
		}
	}
	centre := mean(partMeans)
	part = ni * nt * squares(partMeans, centre)
	inspector = np * nt * squares(inspectorMeans, centre)
	for p, row := range d.cells {
		for i, cell := range row {
			rest := mean(cell) - partMeans[p] - inspectorMeans[i] + centre
			interaction += nt * rest * rest
		}
	}
	return part, inspector, interaction, equipment, n
}

func (a table) components(d design) Crossed {
	p, i, t := float64(len(d.parts)), float64(len(d.inspectors)), d.perCell
	c := Crossed{Pooled: a.pooled, EquipmentSD: math.Sqrt(a.noise.MS), Equipment: ofVariance(a.noise.MS, float64(a.noise.DF))}
	base := a.noise
	// What mean squares count in the gauge's variance.
	shares := []share{{1 - 1/(p*t), a.noise}}
	if !a.pooled {
		base = a.interaction
		var interval Interval
		c.InteractionSD, interval = component(a.interaction, a.equipment, t)
		c.Interaction = &interval
		shares = []share{{1 - 1/t, a.equipment}, {1/t - 1/(p*t), a.interaction}}
	}
	shares = append(shares, share{1 / (p * t), a.inspector})
	c.AppraiserSD, c.Appraiser = component(a.inspector, base, p*t)
	c.PartSD, c.Part = component(a.part, base, i*t)
	c.GaugeSD = math.Hypot(c.EquipmentSD, math.Hypot(c.AppraiserSD, c.InteractionSD))
	c.GaugeDF, c.Gauge = sum(shares)
	c.TotalSD = math.Hypot(c.GaugeSD, c.PartSD)
	c.PercentOfStudy = 100 * c.GaugeSD / c.TotalSD
	c.Categories = int(1.41 * c.PartSD / c.GaugeSD)
	c.Anova = []Row{a.part, a.inspector, a.interaction, a.equipment, a.total()}
	return c
}

// share is a mean square and what it counts in a sum.
type share struct {
	counts float64
	row    Row
}

// sum returns the effective degrees of freedom of a sum of mean squares (Welch and Satterthwaite), and the interval of its
// root (Graybill and Wang 1980):
//
//	lower = sum - sqrt(sum (G c MS)^2),  upper = sum + sqrt(sum (H c MS)^2)
func sum(shares []share) (df int, interval Interval) {
	var total, fourths, below, above float64
	for _, s := range shares {
		nu := float64(s.row.DF)
		x := s.counts * s.row.MS
		g, h := 1-1/statistics.FQuantile(0.975, nu, math.Inf(1)), 1/statistics.FQuantile(0.025, nu, math.Inf(1))-1
		total += x
		fourths += x * x / nu
		below += g * g * x * x
		above += h * h * x * x
	}
	return max(1, int(total*total/fourths)), Interval{math.Sqrt(max(0, total-math.Sqrt(below))), math.Sqrt(total + math.Sqrt(above))}
}

// ofVariance returns the interval of a standard deviation from its variance with nu degrees of freedom.
func ofVariance(variance, nu float64) Interval {
	return Interval{math.Sqrt(variance * nu / statistics.ChiSquareQuantile(0.975, nu)), math.Sqrt(variance * nu / statistics.ChiSquareQuantile(0.025, nu))}
}

// component returns the standard deviation that is the root of (large - base)/n, with its interval: with F the upper
// quantiles at 2.5 and 97.5 % of both mean squares,
//
//	lower = d - sqrt(G1^2 L^2 + H2^2 B^2 + G12 L B),  upper = d + sqrt(H1^2 L^2 + G2^2 B^2 + H12 L B)
//
// where d = L - B, G = 1 - 1/F(0.975; nu, inf), H = 1/F(0.025; nu, inf) - 1.
func component(large, base Row, n float64) (float64, Interval) {
	l, b := large.MS, base.MS
	n1, n2, inf := float64(large.DF), float64(base.DF), math.Inf(1)
	g1, g2 := 1-1/statistics.FQuantile(0.975, n1, inf), 1-1/statistics.FQuantile(0.975, n2, inf)
	h1, h2 := 1/statistics.FQuantile(0.025, n1, inf)-1, 1/statistics.FQuantile(0.025, n2, inf)-1
	high, low := statistics.FQuantile(0.975, n1, n2), statistics.FQuantile(0.025, n1, n2)
	g12 := ((high-1)*(high-1) - g1*g1*high*high - h2*h2) / high
	h12 := ((1-low)*(1-low) - h1*h1*low*low - g2*g2) / low
	root := func(x float64) float64 { return math.Sqrt(max(0, x)) }
	return root((l - b) / n), Interval{
		root((l - b - root(g1*g1*l*l+h2*h2*b*b+g12*l*b)) / n),
		root((l - b + root(h1*h1*l*l+g2*g2*b*b+h12*l*b)) / n),
	}
}

func (a table) total() Row {
	total := newRow("total", 0, 0)
	for _, r := range []Row{a.part, a.inspector, a.interaction, a.equipment} {
		total.DF += r.DF
		total.SS += r.SS
	}
	total.MS = total.SS / float64(total.DF)
	return total
}
