package inspect

import (
	"encoding/json"
	"fmt"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// LengthBand is what a length must lie in, bounds included; a nil bound is none. Source says where the
// bounds come from.
type LengthBand struct {
	Least  *length.Length `json:"least,omitempty"`
	Most   *length.Length `json:"most,omitempty"`
	Source string         `json:"source,omitempty"`
}

// Set says whether the band has a bound at all.
func (b LengthBand) Set() bool { return b.Least != nil || b.Most != nil }

// AngleBand is what an angle must lie in, bounds included; a nil bound is none.
type AngleBand struct {
	Least  *length.Angle `json:"least,omitempty"`
	Most   *length.Angle `json:"most,omitempty"`
	Source string        `json:"source,omitempty"`
}

// Set says whether the band has a bound at all.
func (b AngleBand) Set() bool { return b.Least != nil || b.Most != nil }

// Share is a part of a whole as a fraction, so that widths are held against it exactly.
type Share struct{ Num, Den int64 }

// Half is the share of the whole land that the primary may have before a secondary pass is needed; exactly
// half is not more (common practice, no source).
var Half = Share{1, 2}

// Value returns the share as a number, for printing.
func (s Share) Value() float64 { return float64(s.Num) / float64(s.Den) }

// MarshalJSON writes the share as [numerator, denominator].
func (s Share) MarshalJSON() ([]byte, error) { return json.Marshal([2]int64{s.Num, s.Den}) }

// UnmarshalJSON reads what MarshalJSON writes.
func (s *Share) UnmarshalJSON(text []byte) error {
	var pair [2]int64
	if err := json.Unmarshal(text, &pair); err != nil {
		return err
	}
	if pair[1] <= 0 {
		return fmt.Errorf("share %s: denominator must be more than zero", text)
	}
	*s = Share{pair[0], pair[1]}
	return nil
}

// Limits says what conforms.
type Limits struct {
	RadialRunout       LengthBand `json:"radial_runout"`
	AxialRunout        LengthBand `json:"axial_runout"`
	ShankRunout        LengthBand `json:"shank_runout"`
	Concentricity      LengthBand `json:"concentricity"` // no default
	PrimaryWidth       LengthBand `json:"primary_width"`
	PrimaryRelief      AngleBand  `json:"primary_relief"`
	SecondaryRelief    AngleBand  `json:"secondary_relief"`
	EndPrimaryRelief   AngleBand  `json:"end_primary_relief"`
	EndSecondaryRelief AngleBand  `json:"end_secondary_relief"`
	Dish               AngleBand  `json:"dish"`
	Wear               LengthBand `json:"wear"`     // regrind when more is worn
	Diameter           LengthBand `json:"diameter"` // withdraw below
	SecondaryOver      Share      `json:"secondary_over"`
	SecondarySource    string     `json:"secondary_source"`
	TargetLeast        Share      `json:"target_least"` // the primary's share aimed at after a secondary
	TargetMost         Share      `json:"target_most"`
}

// Basis is what an inspection is judged by. A copy stays with every inspection, so that an old verdict can
// be worked out again.
type Basis struct {
	Revision         string           `json:"revision"` // of the bench file: its name and a hash, or "defaults"
	Unit             length.Unit      `json:"unit"`     // that reasons and notes are worded in
	Limits           Limits           `json:"limits"`
	WorkRule         statistics.Rule  `json:"work_rule"`    // before and between
	ReleaseRule      statistics.Rule  `json:"release_rule"` // after
	Gauges           map[string]Gauge `json:"gauges,omitempty"`
	Feed             geometry.Feed    `json:"feed"`              // one division of the grinder's dial
	CheckingDistance length.Length    `json:"checking_distance"` // over which a relief drop is read
	EndRadius        length.Length    `json:"end_radius,omitempty"`
	DishDistance     length.Length    `json:"dish_distance,omitempty"`
	MasterDiameter   length.Length    `json:"master_diameter,omitempty"` // of the pin that master readings are of
	MasterWithin     length.Length    `json:"master_within,omitempty"`   // of zero, that the indicator must read on the master
	Required         []Feature        `json:"required,omitempty"`        // release rests on these having been read
}

// Gauge is what is known of a gauge when it is used: the part of its profile that judging rests on.
type Gauge struct {
	Resolution       length.Length `json:"resolution"`
	PermissibleError length.Length `json:"permissible_error"`
	Repeatability    float64       `json:"repeatability_um,omitempty"` // standard deviation from a study, micrometres
	RepeatabilityDF  int           `json:"repeatability_df,omitempty"`
	Serial           string        `json:"serial,omitempty"`
	CalibrationDue   string        `json:"calibration_due,omitempty"` // a date, YYYY-MM-DD
}

const commonPractice = "common practice, no source"

// A sizeRow is one row of the default table: bounds by nominal diameter.
type sizeRow struct {
	diameter                  length.Length
	leastRelief, mostRelief   length.Angle  // degrees
	leastPrimary, mostPrimary length.Length // thou
	distance                  length.Length // checking distance, thou
}

// sizeTable: relief from memory of handbook indicator-drop tables, for high-speed steel (carbide in the same
// bands, unsourced); widths common practice, no source.
var sizeTable = []sizeRow{
	{length.Inch / 8, 15, 19, 5, 8, 5},
	{length.Inch / 4, 10, 14, 7, 12, 7},
	{length.Inch * 3 / 8, 10, 13, 10, 15, 10},
	{length.Inch / 2, 9, 12, 15, 20, 15},
	{length.Inch * 3 / 4, 8, 11, 20, 28, 20},
	{length.Inch, 7, 10, 25, 35, 20},
	{length.Inch * 3 / 2, 6, 9, 30, 45, 20},
}

// sizeRowFor returns the row of the nearest nominal diameter, the larger of two equally near. The last row
// stands for 1 1/4 to 2 inches.
func sizeRowFor(d length.Length) sizeRow {
	if d >= length.Inch*9/8 {
		return sizeTable[len(sizeTable)-1]
	}
	best := sizeTable[0]
	for _, row := range sizeTable[:len(sizeTable)-1] {
		if (row.diameter - d).Abs() <= (best.diameter - d).Abs() {
			best = row
		}
	}
	return best
}

// DefaultLimits returns the limits in force for a tool where the bench file states none. Each carries
// where it comes from.
func DefaultLimits(t Tool) Limits {
	row := sizeRowFor(t.Diameter)
	primaryRelief := degrees(row.leastRelief, row.mostRelief, "from memory of handbook indicator-drop tables for high-speed steel")
	if t.Material == Carbide {
		primaryRelief.Source = "as for high-speed steel; " + commonPractice
	}
	runout := defaultRunout(t)
	return Limits{
		RadialRunout:       runout,
		AxialRunout:        runout,
		ShankRunout:        LengthBand{Source: commonPractice},
		PrimaryWidth:       LengthBand{bound(row.leastPrimary * length.Thou), bound(row.mostPrimary * length.Thou), commonPractice},
		PrimaryRelief:      primaryRelief,
		SecondaryRelief:    degrees(row.leastRelief+8, row.mostRelief+10, commonPractice),
		EndPrimaryRelief:   degrees(5, 7, commonPractice),
		EndSecondaryRelief: degrees(12, 15, commonPractice),
		Dish:               degrees(1, 3, commonPractice),
		Wear:               LengthBand{Most: bound(byMaterial(t, 8*length.Thou, 5*length.Thou)), Source: commonPractice},
		Diameter:           LengthBand{Least: bound(byMaterial(t, t.Diameter*90/100, t.Diameter*95/100)), Source: commonPractice},
		SecondaryOver:      Half,
		SecondarySource:    commonPractice,
		TargetLeast:        Share{15, 100},
		TargetMost:         Share{35, 100},
	}
}

// defaultRunout is the TIR allowed: high-speed steel and cobalt 0.0005 in up to 1/2 in and 0.001 in above,
// carbide 0.0003 and 0.0005 in; a tool kept for roughing twice that.
func defaultRunout(t Tool) LengthBand {
	small, large := byMaterial(t, 5*length.Tenth, 3*length.Tenth), byMaterial(t, 10*length.Tenth, 5*length.Tenth)
	most := small
	if t.Diameter > length.Inch/2 {
		most = large
	}
	if t.Duty == Roughing {
		most *= 2
	}
	return LengthBand{Most: &most, Source: commonPractice}
}

func byMaterial(t Tool, steel, carbide length.Length) length.Length {
	if t.Material == Carbide {
		return carbide
	}
	return steel
}

func bound(l length.Length) *length.Length { return &l }

func degrees(least, most length.Angle, source string) AngleBand {
	least, most = least*length.Degree, most*length.Degree
	return AngleBand{&least, &most, source}
}

// DefaultBasis returns what a tool is judged by where the bench file states nothing: the default limits,
// the simple rule for work at the bench and the guarded rule for release. Release rests on the radial
// run-out having been read, except on teeth where no plane tells it.
func DefaultBasis(t Tool) Basis {
	b := Basis{
		Revision:         "defaults",
		Unit:             length.In,
		Limits:           DefaultLimits(t),
		WorkRule:         statistics.Simple,
		ReleaseRule:      statistics.Guarded,
		Feed:             geometry.Feed{Division: 2 * length.Thou}, // common practice, no source
		CheckingDistance: sizeRowFor(t.Diameter).distance * length.Thou,
		EndRadius:        t.Diameter * 9 / 20,
		DishDistance:     t.Diameter / 4,
	}
	if t.Teeth == PlainTeeth {
		b.Required = []Feature{RadialRunout}
	}
	return b
}

// String prints the share as a fraction: 1/2.
func (s Share) String() string { return fmt.Sprintf("%d/%d", s.Num, s.Den) }
