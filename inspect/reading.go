package inspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Stage is when in a tool's regrind an inspection is made.
type Stage string

const (
	Before  Stage = "before"  // before the grind
	Between Stage = "between" // between primary and secondary, the tool still held
	After   Stage = "after"   // after the grind
)

// Words returns the stage as a person says it.
func (s Stage) Words() string {
	if s == Between {
		return "between primary and secondary"
	}
	return string(s) + " the grind"
}

// ParseStage reads a stage's name.
func ParseStage(s string) (Stage, error) {
	switch st := Stage(strings.ToLower(strings.TrimSpace(s))); st {
	case Before, Between, After:
		return st, nil
	}
	return "", fmt.Errorf("stage %q: want before, between or after", s)
}

// Feature is what a reading is of.
type Feature string

const (
	ShankRunout      Feature = "shank-runout"     // heights around the shank; flute 1, 2 … are equal steps of a turn
	RadialRunout     Feature = "radial-runout"    // height of each flute's high point at a distance from the end
	AxialRunout      Feature = "axial-runout"     // height of each end tooth near the corner
	PrimaryLand      Feature = "primary-land"     // width of the primary facet
	Land             Feature = "land"             // width of the whole land: primary and secondary
	EndPrimaryLand   Feature = "end-primary-land" // the same on the end teeth
	EndLand          Feature = "end-land"         //
	WearLand         Feature = "wear-land"        // width worn flat behind the edge, the deepest place
	ReliefDrop       Feature = "relief-drop"      // fall of the indicator on the primary over the checking distance
	SecondaryDrop    Feature = "secondary-drop"   // fall on the secondary, from the heel of the primary
	EndReliefDrop    Feature = "end-relief-drop"  // the same on the end teeth
	EndSecondaryDrop Feature = "end-secondary-drop"
	Diameter         Feature = "diameter" // a diameter read outright
	Master           Feature = "master"   // the run-out indicator's reading over the master pin
	Length           Feature = "length"   // length from the shank's reference to the end
	Dish             Feature = "dish"     // fall of an end tooth from the corner toward the axis over the dish distance
)

// Figures that are worked out from readings of another feature, and judged by themselves.
const (
	Concentricity Feature = "concentricity"   // of radial run-out: twice the offset
	PrimaryWidth  Feature = "primary-width"   // of the primary land
	Heel          Feature = "heel"            // of the primary land: whether its heel clears the work
	LandClearance Feature = "land-clearance"  // of the whole land: how far its end lies under the cutting circle
	Taper         Feature = "taper"           // of radial run-out at two places: change of the diameter between them, less the nominal
	RunoutToShank Feature = "runout-to-shank" // of radial run-out: TIR less the offset of the shank
	ShareTarget   Feature = "share-target"    // of the primary land: the share aimed at
)

// A featureTrait says how a feature is read.
type featureTrait struct {
	name     string // as a person reads it
	ends     bool   // of the end teeth
	single   bool   // one place on the tool, not one a flute
	positive bool   // a width or a size: zero or less is impossible
	zero     bool   // of a positive feature, zero is possible
	heights  bool   // a height from an arbitrary zero: only differences mean something
	drop     bool   // a fall of the indicator; zero or a climb is a fault of the tool, not of the reading
}

var featureTraits = map[Feature]featureTrait{
	ShankRunout:      {name: "shank run-out", heights: true},
	RadialRunout:     {name: "radial run-out", heights: true},
	AxialRunout:      {name: "axial run-out", ends: true, heights: true},
	PrimaryLand:      {name: "primary land", positive: true},
	Land:             {name: "whole land", positive: true},
	EndPrimaryLand:   {name: "end primary land", ends: true, positive: true},
	EndLand:          {name: "end whole land", ends: true, positive: true},
	WearLand:         {name: "wear land", positive: true, zero: true},
	ReliefDrop:       {name: "primary relief drop", drop: true},
	SecondaryDrop:    {name: "secondary relief drop", drop: true},
	EndReliefDrop:    {name: "end primary relief drop", ends: true, drop: true},
	EndSecondaryDrop: {name: "end secondary relief drop", ends: true, drop: true},
	Diameter:         {name: "diameter", single: true, positive: true},
	Master:           {name: "master pin", single: true, heights: true},
	Length:           {name: "length", single: true, positive: true},
	Dish:             {name: "dish", ends: true, drop: true},
}

// Features lists every feature in the order in which they are read and reported.
var Features = []Feature{
	ShankRunout, RadialRunout, Master, Diameter, WearLand, PrimaryLand, Land, ReliefDrop, SecondaryDrop,
	AxialRunout, EndPrimaryLand, EndLand, EndReliefDrop, EndSecondaryDrop, Dish, Length,
}

// A part is what is read of the two facets on one part of a tool, and of how its teeth stand: flutes and ends are one thing on two
// faces, and what is judged, planned and called for on the one is on the other by these names.
type part struct {
	where                                   Where
	primary, land, relief, secondary, stand Feature
}

var parts = []part{
	{OnFlutes, PrimaryLand, Land, ReliefDrop, SecondaryDrop, RadialRunout},
	{OnEnds, EndPrimaryLand, EndLand, EndReliefDrop, EndSecondaryDrop, AxialRunout},
}

// partOf is the part of a place: the flutes, or the ends.
func partOf(where Where) part {
	return parts[slices.IndexFunc(parts, func(p part) bool { return p.where == where })]
}

// part is the part that a feature is read of.
func (f Feature) part() part {
	if f.OnEnds() {
		return partOf(OnEnds)
	}
	return partOf(OnFlutes)
}

// ParseFeature reads a feature's name, such as wear-land or Wear land.
func ParseFeature(s string) (Feature, error) {
	if f := Feature(hyphened(s)); slices.Contains(Features, f) {
		return f, nil
	}
	return "", fmt.Errorf("feature %q: want one of %v", s, Features)
}

// Drop says whether readings are falls of the indicator.
func (f Feature) Drop() bool { return featureTraits[f].drop }

// Name returns the feature as a person reads it.
func (f Feature) Name() string {
	if t, ok := featureTraits[f]; ok {
		return t.name
	}
	return strings.ReplaceAll(string(f), "-", " ")
}

// OnEnds says whether the feature is of the end teeth.
func (f Feature) OnEnds() bool { return featureTraits[f].ends }

// Single says whether the feature is read at one place on the tool and not once a flute.
func (f Feature) Single() bool { return featureTraits[f].single }

// Width says whether the feature is a width behind the edge of each flute, read with the loupe.
func (f Feature) Width() bool { return featureTraits[f].positive && !featureTraits[f].single }

// Heights says whether readings are heights from an arbitrary zero, of which only differences mean something.
func (f Feature) Heights() bool { return featureTraits[f].heights }

// Reading is one value of one feature, as it was read.
type Reading struct {
	Feature Feature        `json:"feature"`
	Flute   int            `json:"flute,omitempty"`    // from 1; 0 where the feature is not read flute by flute
	FromEnd *length.Length `json:"from_end,omitempty"` // distance from the end of the tool, where stated
	Repeat  int            `json:"repeat,omitempty"`   // from 1; 0 for a closing re-read
	Closing bool           `json:"closing,omitempty"`  // flute 1 read again at the end of its set
	OnShank bool           `json:"on_shank,omitempty"` // read after the tool was taken out and seated on its shank, in a vee or collet
	Over    *length.Length `json:"over,omitempty"`     // of a drop: the checking distance it was read over; nil is the one in force
	DropBy  DropBy         `json:"drop_by,omitempty"`  // of a drop on the flutes: how it was read; empty is as the inspection has it
	How     How            `json:"how,omitempty"`      // of a diameter: how it was read, where it is told
	Value   length.Length  `json:"value"`
	Text    string         `json:"text"`            // the gauge's own digits, or what was typed
	Unit    length.Unit    `json:"unit"`            // the unit they were in
	Gauge   string         `json:"gauge,omitempty"` // the gauge's name in the bench file
	At      string         `json:"at,omitempty"`    // RFC 3339, UTC, microseconds
}

// How is how a diameter was read.
type How string

const (
	ByMicrometer How = "micrometer" // two flat anvils: they never meet two edges of an odd number of flutes
	ByVee        How = "vee"        // the vee that fits the flutes
	ByMaster     How = "master"     // over a master pin
	ByRing       How = "ring"
)

// Hows lists how a diameter can be read.
var Hows = []How{ByMicrometer, ByVee, ByMaster, ByRing}

// Key says which reading of a set a reading is: taken again, it has the same key.
type Key struct {
	Feature Feature       `json:"feature"`
	Flute   int           `json:"flute,omitempty"`
	FromEnd length.Length `json:"from_end,omitempty"` // meant only where Stated
	Stated  bool          `json:"stated,omitempty"`
	Repeat  int           `json:"repeat,omitempty"`
	Closing bool          `json:"closing,omitempty"`
	OnShank bool          `json:"on_shank,omitempty"`
}

// Key returns which reading r is.
func (r Reading) Key() Key {
	k := Key{Feature: r.Feature, Flute: r.Flute, Repeat: r.Repeat, Closing: r.Closing, OnShank: r.OnShank}
	if r.FromEnd != nil {
		k.FromEnd, k.Stated = *r.FromEnd, true
	}
	return k
}

// Words names the reading in full, for who was not there: radial run-out, flute 3, 0.5 in from the end, round 1.
func (k Key) Words(unit length.Unit) string {
	name := k.Feature.Name()
	if k.Flute > 0 {
		name += ", " + k.Feature.Spot(k.Flute)
	}
	if k.Stated {
		name += ", " + k.FromEnd.In(unit) + " from the end"
	}
	if k.OnShank {
		name += ", seated on the shank"
	}
	switch {
	case k.Closing:
		name += ", once more"
	case k.Repeat > 0:
		name += fmt.Sprintf(", round %d", k.Repeat)
	}
	return name
}

// Spot names where around the tool a feature is read: flute 3, tooth 3, place 3.
func (f Feature) Spot(n int) string {
	switch {
	case f == ShankRunout:
		return fmt.Sprintf("place %d", n)
	case f.OnEnds():
		return fmt.Sprintf("tooth %d", n)
	}
	return fmt.Sprintf("flute %d", n)
}

// String is the reading's name for a program: "radial-runout flute 3 repeat 2".
func (k Key) String() string {
	s := string(k.Feature)
	if k.Flute > 0 {
		s += fmt.Sprintf(" flute %d", k.Flute)
	}
	if k.Stated {
		s += fmt.Sprintf(" at %s", k.FromEnd)
	}
	if k.OnShank {
		s += " on the shank"
	}
	if k.Closing {
		return s + " closing"
	}
	if k.Repeat > 0 {
		s += fmt.Sprintf(" repeat %d", k.Repeat)
	}
	return s
}

// LastDecimal returns one step of the last decimal of a value as it was read: how finely its gauge shows,
// where that is not stated.
func LastDecimal(text string, unit length.Unit) length.Length {
	_, fraction, _ := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	digits := len(fraction) - len(strings.TrimLeft(fraction, "0123456789"))
	one, err := length.Parse("1", unit)
	for ; err == nil && digits > 0; digits-- {
		one /= 10
	}
	return max(one, length.Picometre)
}

// Check returns why the reading is impossible on the tool, or nil.
func (r Reading) Check(t Tool) error {
	trait, ok := featureTraits[r.Feature]
	switch {
	case !ok:
		return fmt.Errorf("feature %q is not known", r.Feature)
	case trait.ends && !t.HasEndTeeth():
		return fmt.Errorf("%s: tools with %s ends are inspected on the flutes only", trait.name, t.Ends)
	case r.Feature == RadialRunout && t.Teeth == ChipBreakerTeeth && r.FromEnd == nil:
		return fmt.Errorf("%s: on chip-breaker teeth no one plane meets every tooth at its full height, so no run-out read in one is true; read the crests at two or more places from the end", trait.name)
	case trait.single && r.Flute != 0:
		return fmt.Errorf("%s flute %d: it is not read flute by flute; leave the flute empty", trait.name, r.Flute)
	case !trait.single && r.Flute == 0:
		return fmt.Errorf("%s: on which flute? Tool %s has flutes 1 to %d", trait.name, t.ID, t.Flutes)
	case !trait.single && (r.Flute < 1 || r.Flute > t.Flutes):
		return fmt.Errorf("%s flute %d: tool %s has flutes 1 to %d", trait.name, r.Flute, t.ID, t.Flutes)
	case r.Closing && (!trait.heights || r.Flute > 1):
		return fmt.Errorf("%s flute %d: only flute 1 of a run-out is read again to close", trait.name, r.Flute)
	case !r.Closing && r.Repeat < 1:
		return fmt.Errorf("%s flute %d: repeat %d: repeats are numbered from 1", trait.name, r.Flute, r.Repeat)
	case r.OnShank && r.Feature != RadialRunout:
		return fmt.Errorf("%s: only radial run-out is read again seated on the shank", trait.name)
	case r.How != "" && (r.Feature != Diameter || !slices.Contains(Hows, r.How)):
		return fmt.Errorf("%s, by %q: only a diameter is told how it was read, and by one of %v", trait.name, r.How, Hows)
	case r.How == ByMicrometer && t.Flutes%2 == 1:
		return errAnvils(t.Flutes)
	case r.Over != nil && (!trait.drop || *r.Over <= 0):
		return fmt.Errorf("%s: only a drop is read over a distance, and one of more than zero", trait.name)
	case r.DropBy != "" && (!trait.drop || trait.ends || r.DropBy != ByTurning && r.DropBy != BySliding):
		return fmt.Errorf("%s, by %q: only a drop on the flutes is told how it was read, and by turn or slide", trait.name, r.DropBy)
	case trait.positive && (r.Value < 0 || r.Value == 0 && !trait.zero):
		return fmt.Errorf("%s flute %d: %s: it must be more than zero", trait.name, r.Flute, r.Text)
	}
	return nil
}

// errAnvils says why a micrometer's diameter of an odd number of flutes is not taken, and what would be.
func errAnvils(flutes int) error {
	if vee, ok := geometry.FittingVee(flutes); ok {
		return fmt.Errorf("diameter: two anvils never meet two edges of %d flutes: they read small; read it in the vee of %s degrees, over the master or in a ring", flutes, vee.Format(0))
	}
	return fmt.Errorf("diameter: two anvils never meet two edges of one flute; read it over the master")
}

// Check returns why the reading is impossible in the inspection, or nil: what Reading.Check finds, a width that no
// tool of the diameter has, a diameter far from the tool's, a run-out height far from flute 1's, or a primary wider than the whole land that was
// read of the same flute.
func (in Inspection) Check(r Reading) error {
	if err := r.Check(in.Tool); err != nil {
		return err
	}
	trait := featureTraits[r.Feature]
	if trait.positive && !trait.single && r.Value >= in.Tool.Diameter {
		return fmt.Errorf("%s flute %d: %s %s is as much as the tool's diameter; is a decimal point missing", trait.name, r.Flute, r.Text, r.Unit)
	}
	if arc := in.Tool.toothArc(); trait.positive && !trait.single && r.Value >= arc {
		return fmt.Errorf("%s flute %d: %s %s is as much as the tool has round from one edge to the next, %s (%s); is a decimal point missing", trait.name, r.Flute, r.Text, r.Unit, arc.In(length.In), arc)
	}
	if r.Feature == Length && (r.Value < in.Tool.Diameter/4 || r.Value > mostLength) {
		return fmt.Errorf("length: %s %s cannot be a tool's; is it another unit, or a decimal point missing", r.Text, r.Unit)
	}
	if r.Feature == Diameter && (r.Value < in.Tool.Diameter/2 || r.Value > in.Tool.Diameter*3/2) {
		return fmt.Errorf("diameter: %s %s is far from the tool's %s (%s); is it another unit or tool, or a decimal point missing", r.Text, r.Unit, in.Tool.Diameter, in.Tool.Diameter.In(length.In))
	}
	if trait.drop && r.Value.Abs() >= in.Tool.Diameter/4 {
		return fmt.Errorf("%s flute %d: %s %s is as much as half the tool's radius; is a decimal point missing", trait.name, r.Flute, r.Text, r.Unit)
	}
	if trait.drop {
		if most := in.steepest(r); most > 0 && r.Value.Abs() > most {
			return fmt.Errorf("%s flute %d: %s %s over so short a distance would be more than 40 degrees; is a decimal point missing", trait.name, r.Flute, r.Text, r.Unit)
		}
	}
	if trait.heights && !trait.single {
		if err := in.checkHeight(r); err != nil {
			return err
		}
	}
	p := r.Feature.part()
	narrower := []Feature{p.primary}
	if p.where == OnFlutes {
		narrower = append(narrower, WearLand)
	}
	for _, f := range narrower {
		narrow, land := r, r
		switch r.Feature {
		case f:
			land = in.readingLike(r, p.land)
		case p.land:
			narrow = in.readingLike(r, f)
		}
		if narrow.Feature == f && land.Feature == p.land && narrow.Value > land.Value {
			return fmt.Errorf("flute %d: the %s, %s %s, would be wider than the whole land, %s %s; one of them is wrong", r.Flute, map[bool]string{true: "wear", false: "primary"}[f == WearLand], narrow.Text, narrow.Unit, land.Text, land.Unit)
		}
	}
	return nil
}

// mostLength is longer than any end mill (common practice, no source).
const mostLength = 1000 * length.Millimetre

// toothArc is how far it is round the tool from one edge to the next: no land is as wide, for behind it is the flute.
func (t Tool) toothArc() length.Length {
	return length.Length(math.Pi * float64(t.Diameter) / float64(t.Flutes))
}

// steepest is the drop of 40 degrees over the distance that a reading of a drop was taken over, and where none is stated over the
// handbook's, which is the farthest; 0 where it is not known.
func (in Inspection) steepest(r Reading) length.Length {
	in.Basis.DropBy = cmp.Or(r.DropBy, in.Basis.DropBy)
	in.Basis.CheckingDistance = cmp.Or(in.Basis.CheckingDistance, reliefRow(in.Tool.Diameter).distance*length.Thou)
	if r.Over != nil {
		in.Basis.CheckingDistance, in.Basis.DishDistance = *r.Over, *r.Over
	}
	look, _ := in.DropLook(r.Key())
	return look.Steepest
}

// FarthestHeight is how far a run-out height may lie from flute 1's before it is a misreading (common practice, no
// source).
const FarthestHeight = 50 * length.Thou

// checkHeight refuses a height of a run-out farther than FarthestHeight from flute 1's of the same set.
func (in Inspection) checkHeight(r Reading) error {
	for _, other := range in.Readings {
		same := other.Feature == r.Feature && other.OnShank == r.OnShank && (other.FromEnd == nil) == (r.FromEnd == nil) &&
			(r.FromEnd == nil || *r.FromEnd == *other.FromEnd)
		if !same || other.Flute != 1 && r.Flute != 1 || other.Key() == r.Key() {
			continue
		}
		if apart := (other.Value - r.Value).Abs(); apart > FarthestHeight {
			return fmt.Errorf("%s flute %d: %s %s lies %s (%s) from flute %d's %s %s, and more than %s (%s) is a misreading; did the contact drop into the flute, or is a decimal point missing",
				r.Feature.Name(), r.Flute, r.Text, r.Unit, apart.In(length.In), apart, other.Flute, other.Text, other.Unit, FarthestHeight.In(length.In), FarthestHeight)
		}
	}
	return nil
}

// readingLike returns the reading of another feature at the same place, the zero Reading if there is none.
func (in Inspection) readingLike(r Reading, f Feature) Reading {
	k := r.Key()
	k.Feature = f
	for _, other := range in.Readings {
		if other.Key() == k {
			return other
		}
	}
	return Reading{}
}

// Sight is what is looked for with the eye and a loupe.
type Sight string

const (
	Cracks        Sight = "cracks"
	Burn          Sight = "burn"
	ChippedCorner Sight = "chipped-corner"
	ChippedEdge   Sight = "chipped-edge"
	BluntCorner   Sight = "blunt-corner"
	BentShank     Sight = "bent-shank"
	BurredShank   Sight = "burred-shank"
)

// Sights lists the visual questions in the order they are asked.
var Sights = []Sight{Cracks, Burn, ChippedCorner, ChippedEdge, BluntCorner, BentShank, BurredShank}

var sightQuestions = map[Sight]string{
	Cracks:        "any crack, in a flute, a corner or the shank",
	Burn:          "any burn: blue, straw or brown grinding colour",
	ChippedCorner: "any corner broken out",
	ChippedEdge:   "any edge chipped, away from the corner",
	BluntCorner:   "any corner worn round",
	BentShank:     "the shank bent",
	BurredShank:   "a burr or score on the shank",
}

// Question returns what a person is asked to look for.
func (s Sight) Question() string { return sightQuestions[s] }

// Chip says whether the sight is of a piece out of an edge, which has a length.
func (s Sight) Chip() bool { return s == ChippedCorner || s == ChippedEdge }

// Locks says whether the sight, seen at a stage, locks the tool: a crack at any, a burn once it is ground.
func (s Sight) Locks(stage Stage) bool { return s == Cracks || s == Burn && stage != Before }

// Seen is the answer to one visual question.
type Seen struct {
	Sight  Sight          `json:"sight"`
	Yes    bool           `json:"yes"`
	Unsure bool           `json:"unsure,omitempty"` // with Yes: it may be one, and is taken as one until it is looked at
	Flute  int            `json:"flute,omitempty"`  // where, if it is told
	Length *length.Length `json:"length,omitempty"` // of the longest chip: up from the end at a corner, along the edge elsewhere
	Note   string         `json:"note,omitempty"`
}

// Check returns why the answer cannot be, or nil.
func (s Seen) Check(t Tool) error {
	switch {
	case !slices.Contains(Sights, s.Sight):
		return fmt.Errorf("nothing called %q is looked for; want one of %v", s.Sight, Sights)
	case s.Flute < 0 || s.Flute > t.Flutes:
		return fmt.Errorf("%s flute %d: tool %s has flutes 1 to %d", s.Sight, s.Flute, t.ID, t.Flutes)
	case s.Length != nil && !s.Sight.Chip():
		return fmt.Errorf("%s: only a chip has a length", s.Sight)
	case s.Length != nil && (!s.Yes || *s.Length <= 0 || *s.Length >= 4*t.Diameter):
		return fmt.Errorf("%s: a chip %s (%s) long: want more than zero, on this tool less than %s; is a decimal point missing", s.Sight, s.Length.In(length.In), s.Length, (4 * t.Diameter).In(length.In))
	case s.Unsure && !s.Yes:
		return fmt.Errorf("%s: unsure is said of what may be one: answer yes with it", s.Sight)
	}
	return nil
}

// ParseSight reads a sight's name, and says whether it is one.
func ParseSight(s string) (Sight, bool) {
	sight := Sight(hyphened(s))
	return sight, slices.Contains(Sights, sight)
}

// hyphened is a name as it is recorded, however it is spelled.
func hyphened(s string) string {
	return strings.Join(strings.Fields(strings.ToLower(s)), "-")
}

// Holding is how the tool was held while it was indicated.
type Holding string

const (
	InFixture Holding = "fixture" // untouched in the grinding fixture: hides the grind's own error to the shank
	InVee     Holding = "vee"     // on the shank in a vee
	InCollet  Holding = "collet"
)

// Holdings lists how a tool can be held.
var Holdings = []Holding{InFixture, InVee, InCollet}

// Inspection is one inspection of one tool at one stage: what was read and what it is judged by.
type Inspection struct {
	ID        string  `json:"id"` // the tool's id, a point and a running number
	Tool      Tool    `json:"tool"`
	Stage     Stage   `json:"stage"`
	Job       string  `json:"job,omitempty"`
	Inspector string  `json:"inspector,omitempty"`
	Holding   Holding `json:"holding,omitempty"`
	Reseated  bool    `json:"reseated"` // taken out and put back between repeats

	// How the tool was ground, where it is told: what the bench's settings really do is learned from it.
	Grinder   string         `json:"grinder,omitempty"`   // by name, as the bench file has it
	Wheel     string         `json:"wheel,omitempty"`     // by name
	Divisions int            `json:"divisions,omitempty"` // of the feed dial, fed to the flutes since the wheel's first touch
	EndsFed   int            `json:"ends_fed,omitempty"`  // of the divisions fed to the ends
	Offset    *length.Length `json:"offset,omitempty"`    // of the tooth rest below the tool's centre, at a cup wheel

	GroundOrder []int `json:"ground_order,omitempty"` // the flutes as they came to the wheel in every round; nil: as the bench file says
	GroundLast  []int `json:"ground_last,omitempty"`  // and in the last round; nil: as the bench file says

	GroundFaces []Face `json:"ground_faces,omitempty"` // that were ground; nil is not told

	Continues    string         `json:"continues,omitempty"`     // the inspection whose readings stand in it, but for those that were left open
	LastDiameter *length.Length `json:"last_diameter,omitempty"` // that was read of the tool before; nil when none was
	Regrind      *Regrind       `json:"regrind,omitempty"`       // nil where nothing is known of an inspection before the grind

	Basis    Basis     `json:"basis"`
	Seen     []Seen    `json:"seen,omitempty"`
	Readings []Reading `json:"readings,omitempty"`
}

// Ground is how a tool was ground, or is to be, as far as it is told.
type Ground struct {
	Wheel     string         `json:"wheel,omitempty"`     // by name
	Divisions int            `json:"divisions,omitempty"` // of the feed dial, fed to the flutes since the wheel's first touch
	EndsFed   int            `json:"ends_fed,omitempty"`  // of the divisions fed to the ends
	Offset    *length.Length `json:"offset,omitempty"`    // of the tooth rest below the tool's centre, at a cup wheel
	Order     []int          `json:"order,omitempty"`     // of the flutes in every round
	Last      []int          `json:"last,omitempty"`      // of the flutes in the last round
	Faces     []Face         `json:"faces,omitempty"`     // that were ground; nil is not told
}

// Check returns why the tool cannot have been ground so, or nil.
func (g Ground) Check(t Tool) error {
	if g.Divisions < 0 || g.EndsFed < 0 {
		return fmt.Errorf("divisions %d: want 1 or more", min(g.Divisions, g.EndsFed))
	}
	if g.Offset != nil && (*g.Offset <= 0 || *g.Offset >= t.Diameter/2) {
		return fmt.Errorf("a rest %s below the centre: want more than zero and less than half the tool's diameter of %s", g.Offset.In(length.Mm), t.Diameter.In(length.Mm))
	}
	for _, order := range [][]int{g.Order, g.Last} {
		if order == nil {
			continue
		}
		sorted := slices.Sorted(slices.Values(order))
		if len(sorted) != t.Flutes || sorted[0] != 1 || sorted[len(sorted)-1] != t.Flutes || len(slices.Compact(sorted)) != t.Flutes {
			return fmt.Errorf("flutes in the order %v: want each of 1 to %d once", order, t.Flutes)
		}
	}
	return nil
}

// Ground returns how the tool was ground, as far as it is told with the inspection.
func (in Inspection) Ground() Ground {
	return Ground{Wheel: in.Wheel, Divisions: in.Divisions, EndsFed: in.EndsFed, Offset: in.Offset, Order: in.GroundOrder, Last: in.GroundLast, Faces: in.GroundFaces}
}

// TellGround tells with the inspection how the tool was ground.
func (in *Inspection) TellGround(g Ground) {
	in.Wheel, in.Divisions, in.EndsFed, in.Offset, in.GroundOrder, in.GroundLast, in.GroundFaces = g.Wheel, g.Divisions, g.EndsFed, g.Offset, g.Order, g.Last, g.Faces
}

// Fed says how many divisions were fed to the flutes and to the ends, each its own; "" where neither is told.
func Fed(flutes, ends int) string {
	var parts []string
	for _, of := range []struct {
		n     int
		where string
	}{{flutes, ""}, {ends, "ends "}} {
		switch {
		case of.n == 1:
			parts = append(parts, of.where+"1 division")
		case of.n > 1:
			parts = append(parts, fmt.Sprintf("%s%d divisions", of.where, of.n))
		}
	}
	return strings.Join(parts, ", ")
}

// Regrind is what the earlier inspections of the same regrind leave to a later one.
type Regrind struct {
	Before  bool      `json:"before,omitempty"`  // there was an inspection before the grind
	Ends    bool      `json:"ends,omitempty"`    // work on the ends was called for
	Burn    bool      `json:"burn,omitempty"`    // a burn was seen before the grind: it is looked for again by name
	Reseats int       `json:"reseats,omitempty"` // how often a reseat was called for
	Relief  []Finding `json:"relief,omitempty"`  // of the drops read between the grinds, while the primary was wide: they count
	Owed    []Step    `json:"owed,omitempty"`    // called for before the grind, and not told as ground when the inspection began

	Untouched *Untouched `json:"untouched,omitempty"` // where the primary of the flutes alone was called for
}

// Untouched is what was read of the flutes before their primary was to be ground, and stands as it was where it was not.
type Untouched struct {
	Diameter length.Length `json:"diameter"`
	Primary  length.Length `json:"primary"` // mean width over the flutes
	Infeed   length.Length `json:"infeed"`  // that was called for
}

// untouched returns what an inspection before the grind leaves to tell by whether the primary of the flutes was ground; nil where
// it did not call for that alone, or did not read what tells.
func (j Judged) untouched() *Untouched {
	diameter, primary := j.Judgement.Figure(Diameter), j.Inspection.mean(PrimaryLand)
	if diameter == nil || primary == nil {
		return nil
	}
	var u *Untouched
	for _, s := range j.Judgement.Grinds() {
		switch {
		case s.Where != OnFlutes:
		case s.Do != DoPrimary || s.Amount == nil:
			return nil
		default:
			u = &Untouched{diameter.Length(), *primary, *s.Amount}
		}
	}
	return u
}

// mean returns the mean of a feature's readings over all flutes and rounds, at the end; nil for none.
func (in Inspection) mean(f Feature) *length.Length {
	var all []length.Length
	for _, r := range in.Readings {
		if r.Feature == f && r.FromEnd == nil && !r.Closing {
			all = append(all, r.Value)
		}
	}
	if all == nil {
		return nil
	}
	mean := statistics.MeanLength(all)
	return &mean
}

// Judged is an inspection with what it came to.
type Judged struct {
	Inspection Inspection
	Judgement  Judgement
}

// RegrindOf returns what a tool's earlier inspections, newest first, leave to one at a stage: those since the last
// before the grind, and never those of an earlier regrind. It is nil where they leave nothing.
func RegrindOf(earlier []Judged, stage Stage) *Regrind {
	var r Regrind
	if stage == Before {
		return nil
	}
	between := false
	for _, e := range earlier {
		if e.Inspection.Stage == After && (stage != After || between || e.Judgement.Releases()) {
			break // it ended an earlier regrind
		}
		between = between || e.Inspection.Stage == Between
		if e.Inspection.Stage == Before {
			r.Untouched = e.untouched()
		}
		for _, w := range e.Judgement.Work {
			if w.What == Reseat {
				r.Reseats++
			}
			r.Ends = r.Ends || e.Inspection.Stage == Before && w.Where == OnEnds
		}
		if e.Inspection.Stage == Between && r.Relief == nil && e.Judgement.Calls(GrindSecondary) {
			for _, f := range e.Judgement.Findings {
				if f.Feature == ReliefDrop && f.Value != nil {
					r.Relief = append(r.Relief, f)
				}
			}
		}
		if e.Inspection.Stage == Before {
			r.Before = true
			r.Burn = slices.ContainsFunc(e.Inspection.Seen, func(s Seen) bool { return s.Sight == Burn && s.Yes })
			break
		}
	}
	if !r.Before && r.Reseats == 0 && r.Relief == nil {
		return nil
	}
	return &r
}

// Correct replaces the reading of the same feature, flute, place and repeat; false when there is none.
func (in *Inspection) Correct(r Reading) bool {
	i := slices.IndexFunc(in.Readings, func(old Reading) bool { return old.Key() == r.Key() })
	if i < 0 {
		return false
	}
	in.Readings = slices.Clone(in.Readings)
	in.Readings[i] = r
	return true
}
