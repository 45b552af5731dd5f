package inspect

import (
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
	"slices"
	"strings"
)

// Basis is what an inspection is judged by. A copy stays with every inspection, so that an old verdict can
// be worked out again.
type Basis struct {
	Revision         string                `json:"revision"` // of the bench file: its name and a hash, or "defaults"
	Unit             length.Unit           `json:"unit"`     // of the shop: checking distances fall on its steps
	Limits           Limits                `json:"limits"`
	WorkRule         statistics.Rule       `json:"work_rule"`    // before and between
	ReleaseRule      statistics.Rule       `json:"release_rule"` // after
	Gauges           map[string]Instrument `json:"gauges,omitempty"`
	Feed             geometry.Feed         `json:"feed"`                        // one division of the grinder's dial; without a division the bench does not state it
	CheckingDistance length.Length         `json:"checking_distance,omitempty"` // over which a relief drop is read; 0 goes by diameter and width
	DistanceError    length.Length         `json:"distance_error,omitempty"`    // half-width of that distance as it is set; 0 is 0.003 in turned, 0.001 in slid
	DropBy           DropBy                `json:"drop_by,omitempty"`           // empty is turned
	WheelDiameter    length.Length         `json:"wheel_diameter,omitempty"`    // of the disc wheel that grinds hollow reliefs; 0 is not known
	EndRadius        length.Length         `json:"end_radius,omitempty"`
	DishDistance     length.Length         `json:"dish_distance,omitempty"`
	MasterDiameter   length.Length         `json:"master_diameter,omitempty"` // of the pin that master readings are of
	MasterWithin     length.Length         `json:"master_within,omitempty"`   // of zero, that the indicator must read on the master
	Required         []Item                `json:"required"`                  // at the stage; nil is the usual list
	ReliefFlutes     int                   `json:"relief_flutes,omitempty"`   // that a drop is read on at release: 2 is an opposite pair, 0 is all
	Tie              Tie                   `json:"tie,omitempty"`             // empty is none
	Looks            bool                  `json:"looks,omitempty"`           // rounds of run-out are read one by one until the verdict is sure: the 5 % is spent over all looks
	GrindOrder       []int                 `json:"grind_order,omitempty"`     // in which flutes are ground; nil is 1 to N
	FromFirst        bool                  `json:"from_first,omitempty"`      // the last round at the wheel begins on flute 1; else half a turn on
	Wheels           []Wheel               `json:"wheels,omitempty"`          // of the bench
	SpindleRPM       int                   `json:"spindle_rpm,omitempty"`     // turns a minute of the grinder's wheel; 0 is not known
	SendsOut         []Do                  `json:"sends_out,omitempty"`       // steps of a regrind that this bench does not do
	Seatings         map[Holding]Seating   `json:"seatings,omitempty"`        // what studies of the holding found
}

// Seating is what a study of a kind of holding found: how far off centre a tool comes to sit.
type Seating struct {
	SD float64 `json:"sd_um"` // standard deviation per axis, micrometres
	DF int     `json:"df"`
}

// DropBy is how the contact is taken behind the edge for a drop.
type DropBy string

const (
	ByTurning DropBy = "turn"  // the tool is turned under the indicator
	BySliding DropBy = "slide" // the table is moved across, the tool held still
)

// Tie is what release asks of the edges and the shank.
type Tie string

const (
	TieNone  Tie = "none"  // nothing: read in the grinding fixture, a tool is true in the fixture only
	TieShank Tie = "shank" // the edges are read to the shank
)

// Instrument is what is known of a gauge when it is used: the part of its profile that judging rests on.
type Instrument struct {
	Resolution       length.Length `json:"resolution"`
	PermissibleError length.Length `json:"permissible_error"`
	LocalError       length.Length `json:"permissible_error_local,omitempty"` // of a difference within ten divisions
	Repeatability    float64       `json:"repeatability_um,omitempty"`        // standard deviation from a study, micrometres
	RepeatabilityDF  int           `json:"repeatability_df,omitempty"`
	Serial           string        `json:"serial,omitempty"`
	CalibrationDue   string        `json:"calibration_due,omitempty"` // a date, YYYY-MM-DD
	Practice         bool          `json:"practice,omitempty"`        // it plays invented readings
}

// Invents says whether a gauge plays invented readings, so that what is read with it stands for nothing: that is said of it, or its
// name begins with practice, as it had to when nothing else told.
func Invents(gauges map[string]Instrument, name string) bool {
	return gauges[name].Practice || strings.HasPrefix(name, "practice")
}

// Practised says whether anything of the inspection was read with a gauge that plays invented readings.
func (in Inspection) Practised() bool {
	return slices.ContainsFunc(in.Readings, func(r Reading) bool { return Invents(in.Basis.Gauges, r.Gauge) })
}

// DefaultBasis returns what a tool is judged by where the bench file states nothing: the default limits, the simple
// rule for work at the bench and the guarded rule for release, and the usual list of what is required.
func DefaultBasis(t Tool) Basis {
	return Basis{
		Revision:     "defaults",
		Unit:         length.In,
		Limits:       DefaultLimits(t),
		WorkRule:     statistics.Simple,
		ReleaseRule:  statistics.Guarded,
		EndRadius:    t.Diameter * 9 / 20,
		DishDistance: t.Diameter / 4,
		Tie:          TieNone,
		SendsOut:     DefaultSendsOut,
	}
}
