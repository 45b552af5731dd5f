// Package study judges gauges: how far repeats, inspectors and the gauge's bias blur what is read, and whether
// the gauge is fine enough for the tolerance. Results are in the unit of the values given, and ready
// to be written as JSON.
package study

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Trial is one value of a crossed study: every inspector reads every part in every trial.
type Trial struct {
	Part      string
	Inspector string
	Trial     int // from 1
	Value     float64
}

// Crossed is the result of a crossed gauge study. Standard deviations are of single readings, in the unit
// of the values.
type Crossed struct {
	EquipmentSD   float64 `json:"equipment_sd"` // repeats by one inspector on one part
	AppraiserSD   float64 `json:"appraiser_sd"` // between inspectors
	InteractionSD float64 `json:"interaction_sd"`
	PartSD        float64 `json:"part_sd"`
	GaugeSD       float64 `json:"gauge_sd"` // equipment, appraiser and interaction together
	TotalSD       float64 `json:"total_sd"`

	// Categories is how many classes of parts the gauge can tell apart; five or more is usually asked for.
	Categories int `json:"categories"`
	// PercentOfTolerance is 600 GaugeSD / tolerance; nil when no tolerance was given.
	PercentOfTolerance *float64 `json:"percent_of_tolerance,omitempty"`
	// Pooled says that the interaction was not above the noise and was counted as part of it.
	Pooled bool  `json:"pooled"`
	Anova  []Row `json:"anova"`
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
// takes the place of both; the table keeps the two apart, so that its rows add up. tolerance is the whole
// width of the tolerance in the unit of the values, or 0 when none is given.
//
// It refuses a design that is not balanced, naming what is missing or given twice, fewer than two parts,
// inspectors or trials, and readings whose repeats never differ. Source: NIST/SEMATECH e-Handbook 7.4.3.8 for
// the crossed analysis; six standard deviations, 1.41 and 0.25 are common practice.
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
	if tolerance > 0 {
		percent := 600 * c.GaugeSD / tolerance
		if math.IsInf(percent, 1) {
			return Crossed{}, fmt.Errorf("tolerance %v is too small to compare with", tolerance)
		}
		c.PercentOfTolerance = &percent
	}
	return c, nil
}

// design holds the readings of a balanced study, less the first of them, by part, inspector and trial.
type design struct {
	parts, inspectors []string
	trials            []int
	cells             [][][]float64
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
	if err := d.missing(values); err != nil {
		return d, err
	}
	d.fill(values)
	return d, nil
}

// missing names the first places without a value. It does not walk the rest: a file with one part, inspector
// and trial a line would have as many places as the cube of its lines.
func (d design) missing(values map[place]float64) error {
	missing := int64(len(d.parts))*int64(len(d.inspectors))*int64(len(d.trials)) - int64(len(values))
	if missing == 0 {
		return nil
	}
	var named []string
	for _, part := range d.parts {
		for _, inspector := range d.inspectors {
			for _, trial := range d.trials {
				p := place{part, inspector, trial}
				if _, ok := values[p]; !ok {
					named = append(named, p.String())
				}
				switch n := int64(len(named)); {
				case n == missing:
					return fmt.Errorf("missing: %s", strings.Join(named, "; "))
				case n == 5:
					return fmt.Errorf("missing: %s and %d more", strings.Join(named, "; "), missing-n)
				}
			}
		}
	}
	panic("study: places missing that are not")
}

func (d *design) fill(values map[place]float64) {
	d.cells = make([][][]float64, len(d.parts))
	for p, part := range d.parts {
		d.cells[p] = make([][]float64, len(d.inspectors))
		for i, inspector := range d.inspectors {
			for _, trial := range d.trials {
				d.cells[p][i] = append(d.cells[p][i], values[place{part, inspector, trial}])
			}
		}
	}
}

// table is the analysis of variance of a design, by row.
type table struct {
	part, inspector, interaction, equipment Row
	pooled                                  bool
	noise                                   Row // what repeats scatter by: equipment, with the interaction when pooled
}

func (d design) table() (table, error) {
	p, i, t := len(d.parts), len(d.inspectors), len(d.trials)
	ssPart, ssInspector, ssInteraction, ssEquipment := d.sumsOfSquares()
	a := table{
		part:        newRow("part", p-1, ssPart),
		inspector:   newRow("inspector", i-1, ssInspector),
		interaction: newRow("interaction", (p-1)*(i-1), ssInteraction),
		equipment:   newRow("equipment", p*i*(t-1), ssEquipment),
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

// sumsOfSquares splits the variation of the readings among its sources.
func (d design) sumsOfSquares() (part, inspector, interaction, equipment float64) {
	np, ni, nt := float64(len(d.parts)), float64(len(d.inspectors)), float64(len(d.trials))
	partMeans := make([]float64, len(d.parts))
	inspectorMeans := make([]float64, len(d.inspectors))
	for p, row := range d.cells {
		for i, cell := range row {
			m := mean(cell)
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
	return part, inspector, interaction, equipment
}

func (a table) components(d design) Crossed {
	p, i, t := float64(len(d.parts)), float64(len(d.inspectors)), float64(len(d.trials))
	c := Crossed{Pooled: a.pooled, EquipmentSD: math.Sqrt(a.noise.MS)}
	base := a.noise.MS
	if !a.pooled {
		base = a.interaction.MS
		c.InteractionSD = component(a.interaction.MS, a.equipment.MS, t)
	}
	c.AppraiserSD = component(a.inspector.MS, base, p*t)
	c.PartSD = component(a.part.MS, base, i*t)
	c.GaugeSD = math.Hypot(c.EquipmentSD, math.Hypot(c.AppraiserSD, c.InteractionSD))
	c.TotalSD = math.Hypot(c.GaugeSD, c.PartSD)
	c.Categories = int(1.41 * c.PartSD / c.GaugeSD)
	c.Anova = []Row{a.part, a.inspector, a.interaction, a.equipment, a.total()}
	return c
}

func component(ms, base, n float64) float64 { return math.Sqrt(max(0, ms-base) / n) }

func (a table) total() Row {
	total := newRow("total", 0, 0)
	for _, r := range []Row{a.part, a.inspector, a.interaction, a.equipment} {
		total.DF += r.DF
		total.SS += r.SS
	}
	total.MS = total.SS / float64(total.DF)
	return total
}
