// Package bench reads the bench file: the gauges, the grinder and its wheels, the limits and rules, and
// what is asked at each stage. Every key may be left out; what stands for it is said with the key. Example
// is a whole file with every key and its default.
package bench

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
	"flutelog/inspect/text"
)

//go:embed example.toml
var example string

// Example is a commented bench file with every key. Its limits are those of a half-inch tool of high-speed steel.
var Example = strings.NewReplacer(
	"# FEATURES\n", featureLines(),
	"# LIMITS\n", limitLines(inspect.Tool{Diameter: length.Inch / 2, Material: inspect.HSS, Duty: inspect.Finishing}),
).Replace(example)

// featureLines are the names of all features, as the example file has them.
func featureLines() string {
	lines := "#"
	for i, f := range inspect.Features {
		if i > 0 && i%6 == 0 {
			lines += "\n#"
		}
		lines += " " + string(f)
	}
	return lines + "\n"
}

// File is a bench file.
type File struct {
	Name       string        `toml:"name"`       // what the bench is called. Default: bench
	Unit       length.Unit   `toml:"unit"`       // in or mm, of bare numbers and of what is shown. Default: in
	Ledger     string        `toml:"ledger"`     // the ledger's folder
	Inspectors []string      `toml:"inspectors"` // who may sign. Default: anyone
	Master     length.Length `toml:"master"`     // diameter of the master pin

	MasterWithin length.Length   `toml:"master-within"` // how far the master may read from zero before a job's first tool
	WorkRule     statistics.Rule `toml:"work-rule"`     // simple or guarded. Default: simple
	ReleaseRule  statistics.Rule `toml:"release-rule"`  // Default: guarded
	Holding      inspect.Holding `toml:"holding"`       // Default: fixture
	Turning      string          `toml:"turning"`       // forward, or backward: flute 1 is followed by the last. Default: backward
	EndRadius    length.Length   `toml:"end-radius"`    // where end teeth are read. Default: 0.45 of the diameter
	DishDistance length.Length   `toml:"dish-distance"` // over which dish is read. Default: a quarter of the diameter

	Tie           inspect.Tie    `toml:"tie"`            // shank: release wants the edges read to the shank; or none. Default: none
	LastRound     string         `toml:"last-round"`     // half: the last round at the wheel begins half a turn on; first: on flute 1. Default: half
	DropBy        inspect.DropBy `toml:"drop-by"`        // turn or slide: how a drop on the flutes is read. Default: turn
	DistanceError length.Length  `toml:"distance-error"` // half-width of the checking distance as it is set. Default: 0.003 in turned, 0.001 in slid
	ReliefFlutes  int            `toml:"relief-flutes"`  // flutes that a relief drop is read on at release: 2, an opposite pair. Default: all

	FromEnd     length.Length `toml:"from-end"`     // where flutes are read. Default: a fifth of the diameter, in whole steps
	BareNumbers BareNumbers   `toml:"bare-numbers"` // of whole numbers typed without a unit: divisions, or refused. Default: refused

	Gauges  []GaugeTable      `toml:"gauge"`
	Grinder Grinder           `toml:"grinder"`
	Wheels  []Wheel           `toml:"wheel"`
	Limits  []map[string]any  `toml:"limits"` // keys: those of inspect.LimitTable and of a LimitSet
	Stages  map[string]*Stage `toml:"stage"`

	Sets []LimitSet `toml:"-"` // Limits, read

	Revision string `toml:"-"` // the file's name and the beginning of its hash; "defaults" without a file
}

// GaugeTable is a gauge with what the bench knows of it beside how it speaks.
type GaugeTable struct {
	device.Profile
	Features       []inspect.Feature `toml:"features"`                // what is read with it. Default: every run-out and drop
	Serial         string            `toml:"serial"`                  // the number on it
	Due            any               `toml:"calibration-due"`         // as the file has it, a text or a date of its own
	CalibrationDue string            `toml:"-"`                       // YYYY-MM-DD
	LocalError     length.Length     `toml:"permissible-error-local"` // of a difference within ten divisions
	Repeatability  length.Length     `toml:"repeatability"`           // standard deviation, from a study
	Studied        int               `toml:"studied"`                 // degrees of freedom of that study
}

// BareNumbers says what a whole number is that is typed without a unit.
type BareNumbers string

const (
	Divisions    BareNumbers = "divisions" // of the dial or loupe that the feature is read with: its resolution
	RefusedWhole BareNumbers = "refused"
)

// indicated are the features read with a gauge for which the bench file names none: run-outs and drops.
var indicated = []inspect.Feature{
	inspect.ShankRunout, inspect.RadialRunout, inspect.AxialRunout, inspect.Master, inspect.ReliefDrop,
	inspect.SecondaryDrop, inspect.EndReliefDrop, inspect.EndSecondaryDrop, inspect.Dish,
}

// Reading returns what is read with the gauge.
func (g GaugeTable) Reading() []inspect.Feature {
	if g.Features == nil {
		return indicated
	}
	return g.Features
}

// Reads says whether a feature is read with the gauge.
func (g GaugeTable) Reads(f inspect.Feature) bool { return slices.Contains(g.Reading(), f) }

// ReadFromEnd returns how far from the end a tool's flutes are read: what the file says, else a fifth of the diameter in
// whole steps of 0.01 in, or 0.25 mm (common practice, no source). A ball and a corner radius, which is at most half the diameter,
// lie before that: what is read on the form of an end is not the run-out of the flutes.
func (f *File) ReadFromEnd(t inspect.Tool) length.Length {
	step := 10 * length.Thou
	if f.Unit == length.Mm {
		step = 250 * length.Micrometre
	}
	from := f.FromEnd
	if from == 0 {
		from = max(step, t.Diameter/5/step*step)
	}
	if form := (t.Diameter/2 + step - 1) / step * step; !t.HasEndTeeth() && from <= t.Diameter/2 {
		from += form
	}
	return from
}

// Grinder is the feed of the cutter grinder.
type Grinder struct {
	Name      string        `toml:"name"`       // what it is called in records and trends. No default
	Division  length.Length `toml:"division"`   // one graduation of the feed. No default: until it is stated plans speak in lengths
	Reads     string        `toml:"reads"`      // radius, or diameter. Default: radius
	SendsOut  []inspect.Do  `toml:"sends-out"`  // steps of a regrind that are not done here. Default: form
	RPM       int           `toml:"rpm"`        // turns a minute of its wheel. No default: until it is stated no speed is judged
	FeedAngle length.Angle  `toml:"feed-angle"` // between the feed and the face that is ground. Default: 0, the feed runs along the radius
}

// Wheel is a grinding wheel.
type Wheel struct {
	Name      string             `toml:"name"`
	Diameter  length.Length      `toml:"diameter"`
	MarkedRPM int                `toml:"marked-rpm"` // the speed marked on it, never exceeded
	Abrasive  string             `toml:"abrasive"`
	Bond      string             `toml:"bond"` // vitrified wheels are rung before they are mounted
	Materials []inspect.Material `toml:"materials"`
	Rotation  string             `toml:"rotation"` // onto the edge, or off the edge
}

// Stage is what is asked at one stage.
type Stage struct {
	Features []inspect.Feature `toml:"features"`
	Repeats  int               `toml:"repeats"`
	FromEnds []length.Length   `toml:"from-ends"`
	Sights   *bool             `toml:"sights"`
	Required []inspect.Item    `toml:"required"` // what must be read and looked for. Default: the usual list of the stage
}

// Default returns what is in force without a bench file.
func Default() *File {
	f := &File{Revision: "defaults"}
	f.fill()
	return f
}

// mostBytes is the most bytes of a bench file.
const mostBytes = 1 << 20

// Read reads a bench file. An unknown key is an error that names its line; so is a value that cannot be.
func Read(path string) (*File, error) {
	f, err := os.Open(path)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("bench file: %w; flutelog bench start %s makes one by questions", err, path)
		}
		return nil, fmt.Errorf("bench file: %w", err)
	}
	defer f.Close()
	content, err := io.ReadAll(text.Reader(f, mostBytes))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return Parse(path, content)
}

// Parse reads the content of a bench file; name is what errors call it.
func Parse(name string, content []byte) (*File, error) {
	f := &File{}
	dec := toml.NewDecoder(bytes.NewReader(content))
	dec.DisallowUnknownFields()
	if err := dec.Decode(f); err != nil {
		return nil, placed(name, err)
	}
	if err := checkTexts("", reflect.ValueOf(f)); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	f.fill()
	if err := f.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if err := f.readLimits(name, content); err != nil {
		return nil, err
	}
	f.Revision = fmt.Sprintf("%s %.12x", name, sha256.Sum256(content))
	return f, nil
}

// checkTexts checks every text in a bench file, by whatever escapes it was written, and leaves it as it is recorded. How a
// gauge is spoken to is no such text: a request may be a control character.
func checkTexts(key string, v reflect.Value) error {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return checkTexts(key, v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).Anonymous {
				if err := checkTexts(key, v.Field(i)); err != nil {
					return err
				}
				continue
			}
			name := v.Type().Field(i).Tag.Get("toml")
			if name == "" || name == "-" || v.Type() == reflect.TypeFor[device.Profile]() && name != "name" {
				continue
			}
			if err := checkTexts(strings.TrimPrefix(key+"."+name, "."), v.Field(i)); err != nil {
				return err
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			if err := checkTexts(fmt.Sprintf("%s, number %d", key, i+1), v.Index(i)); err != nil {
				return err
			}
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			if err := checkTexts(key, k); err != nil {
				return err
			}
			if err := checkTexts(key+"."+text.Show(k.String()), v.MapIndex(k)); err != nil {
				return err
			}
		}
	case reflect.String:
		clean, err := text.Check(v.String())
		if err != nil {
			return fmt.Errorf("%s: %w", key, err)
		}
		if v.CanSet() {
			v.SetString(clean)
		}
	}
	return nil
}

// placed puts name, line and key before what the decoder found.
func placed(name string, err error) error {
	var unknown *toml.StrictMissingError
	if errors.As(err, &unknown) {
		var lines []error
		for _, e := range unknown.Errors {
			row, _ := e.Position()
			lines = append(lines, fmt.Errorf("%s:%d: key %q is not known; flutelog bench example shows every key", name, row, strings.Join(e.Key(), ".")))
		}
		return errors.Join(lines...)
	}
	var bad *toml.DecodeError
	if errors.As(err, &bad) {
		row, _ := bad.Position()
		return fmt.Errorf("%s:%d: %s", name, row, shopWords(strings.Join(bad.Key(), "."), strings.TrimPrefix(bad.Error(), "toml: ")))
	}
	return fmt.Errorf("%s: %w", name, err)
}

// wanted is what a value is, where the file has another kind, by the word that the decoder ends its message with.
var wanted = []struct{ word, says string }{
	{"[]string", `names in brackets and quotation marks, as ["R. Osei", "M. Ruiz"]`}, {"[]", "a list in brackets"}, {"string", "a text in quotation marks"}, {"int", "a whole number"},
	{"bool", "true or false"}, {"float", "a number"}, {"Length", `a length in quotation marks with its unit, as "0.0005in"`}, {"Angle", `degrees in quotation marks, as "9.5"`},
}

// shopWords says what is wrong with a line, in the place of what the decoder says of its own types.
func shopWords(key, text string) string {
	if _, kind, ok := strings.Cut(text, " of type "); ok {
		for _, w := range wanted {
			if strings.HasPrefix(kind, w.word) || strings.HasSuffix(kind, "."+w.word) {
				return key + ": want " + w.says
			}
		}
		return key + ": that is no value for it; flutelog bench example shows one"
	}
	if key != "" && strings.Contains(text, "already defined") {
		return key + ": it stands twice; leave one"
	}
	for _, foreign := range []string{"unexpected character", "expected", "cannot have", "invalid", "unterminated", "incomplete", "table", "array", "UTF-8", "escape"} {
		if strings.Contains(text, foreign) {
			return "this line does not read as  key = value ; text stands in quotation marks, # begins a remark"
		}
	}
	if key == "" {
		return text
	}
	return key + ": " + text
}

func (f *File) fill() {
	f.Name = cmp.Or(f.Name, "bench")
	f.Unit = cmp.Or(f.Unit, length.In)
	f.WorkRule = cmp.Or(f.WorkRule, statistics.Simple)
	f.ReleaseRule = cmp.Or(f.ReleaseRule, statistics.Guarded)
	f.Holding = cmp.Or(f.Holding, inspect.InFixture)
	f.Turning = cmp.Or(f.Turning, "backward")
	f.Tie = cmp.Or(f.Tie, inspect.TieNone)
	f.LastRound = cmp.Or(f.LastRound, "half")
	f.DropBy = cmp.Or(f.DropBy, inspect.ByTurning)
	f.BareNumbers = cmp.Or(f.BareNumbers, RefusedWhole)
	f.MasterWithin = cmp.Or(f.MasterWithin, length.Tenth)
	f.Grinder.Reads = cmp.Or(f.Grinder.Reads, "radius")
}

func (f *File) check() error {
	if f.Unit != length.In && f.Unit != length.Mm {
		return fmt.Errorf("unit %q: want in or mm", f.Unit)
	}
	for key, v := range map[string]length.Length{"master": f.Master, "master-within": f.MasterWithin, "distance-error": f.DistanceError, "end-radius": f.EndRadius, "from-end": f.FromEnd, "dish-distance": f.DishDistance, "grinder.division": f.Grinder.Division} {
		if v < 0 {
			return fmt.Errorf("%s %s: it cannot be less than zero; leave it out where it is not known", key, v)
		}
	}
	if f.Grinder.RPM < 0 {
		return fmt.Errorf("grinder.rpm %d: it cannot be less than zero; leave it out where it is not known", f.Grinder.RPM)
	}
	for _, w := range []struct {
		key, value string
		known      []string
	}{
		{"turning", f.Turning, []string{"forward", "backward"}},
		{"holding", string(f.Holding), []string{"fixture", "vee", "collet"}},
		{"tie", string(f.Tie), []string{"shank", "none"}},
		{"last-round", f.LastRound, []string{"half", "first"}},
		{"drop-by", string(f.DropBy), []string{"turn", "slide"}},
		{"bare-numbers", string(f.BareNumbers), []string{"divisions", "refused"}},
		{"grinder.reads", f.Grinder.Reads, []string{"radius", "diameter"}},
		{"work-rule", string(f.WorkRule), []string{"simple", "guarded"}},
		{"release-rule", string(f.ReleaseRule), []string{"simple", "guarded"}},
	} {
		if !slices.Contains(w.known, w.value) {
			return fmt.Errorf("%s %q: want %s", w.key, w.value, strings.Join(w.known, " or "))
		}
	}
	if f.ReliefFlutes != 0 && f.ReliefFlutes != 2 {
		return fmt.Errorf("relief-flutes %d: want 2, an opposite pair, or leave it out for every flute", f.ReliefFlutes)
	}
	for _, do := range f.Grinder.SendsOut {
		if !slices.Contains(inspect.CanBeAway, do) {
			return fmt.Errorf("grinder.sends-out %q: want some of %q", do, inspect.CanBeAway)
		}
	}
	return errors.Join(f.checkGauges(), f.checkWheels(), f.checkStages())
}

func (f *File) checkGauges() error {
	names := map[string]bool{}
	for i, g := range f.Gauges {
		if err := g.Profile.Check(); err != nil {
			return err
		}
		name := g.Profile.WithDefaults().Name
		if names[name] {
			return fmt.Errorf("gauge %q stands twice; give each its own name", name)
		}
		names[name] = true
		f.Gauges[i].Name = name
		f.Gauges[i].Practice = g.Practice || device.Invented(g.Port)
		if inspect.Invents(nil, name) && !g.Practice {
			return fmt.Errorf("gauge %q: a name that begins with practice is of a gauge that plays invented readings: say practice = true, or give it another name", name)
		}
		if g.Due != nil {
			day := fmt.Sprint(g.Due)
			if _, err := time.Parse(time.DateOnly, day); err != nil {
				return fmt.Errorf("gauge %q: calibration-due %s: want a date such as 2027-03-31", name, text.Show(day))
			}
			f.Gauges[i].CalibrationDue = day
		}
		if g.LocalError < 0 {
			return fmt.Errorf("gauge %q: permissible-error-local %s: it cannot be less than zero; leave it out where it is not known", name, g.LocalError)
		}
		if g.Repeatability < 0 || g.Studied < 0 || (g.Repeatability > 0) != (g.Studied > 0) {
			return fmt.Errorf("gauge %q: repeatability %s with studied = %d: give both, the standard deviation and the degrees of freedom it rests on", name, g.Repeatability, g.Studied)
		}
		if err := knownFeatures(g.Features); err != nil {
			return fmt.Errorf("gauge %q: %w", name, err)
		}
	}
	return nil
}

func (f *File) checkWheels() error {
	for _, w := range f.Wheels {
		if w.Name == "" || w.Diameter <= 0 || w.MarkedRPM <= 0 {
			return fmt.Errorf("wheel %q: name, diameter and marked-rpm are needed, as marked on the wheel", w.Name)
		}
		for _, m := range w.Materials {
			if _, err := inspect.ParseMaterial(string(m)); err != nil {
				return fmt.Errorf("wheel %q: material %w", w.Name, err)
			}
		}
	}
	return nil
}

func (f *File) checkStages() error {
	for name, s := range f.Stages {
		if _, err := inspect.ParseStage(name); err != nil {
			return err
		}
		if err := knownFeatures(s.Features); err != nil {
			return fmt.Errorf("stage.%s: %w", name, err)
		}
		for _, item := range s.Required {
			if _, err := inspect.ParseItem(string(item)); err != nil {
				return fmt.Errorf("stage.%s: required: %w", name, err)
			}
		}
		if s.Repeats < 0 {
			return fmt.Errorf("stage.%s: repeats %d: want 1 or more", name, s.Repeats)
		}
	}
	return nil
}

func knownFeatures(fs []inspect.Feature) error {
	for _, f := range fs {
		if _, err := inspect.ParseFeature(string(f)); err != nil {
			return err
		}
	}
	return nil
}

// Gauge returns the gauge of a name.
func (f *File) Gauge(name string) (GaugeTable, error) {
	var names []string
	for _, g := range f.Gauges {
		if g.Name == name {
			return g, nil
		}
		names = append(names, g.Name)
	}
	if names == nil {
		return GaugeTable{}, fmt.Errorf("gauge %q: the bench file describes no gauge; flutelog gauge listen writes a table for it", name)
	}
	return GaugeTable{}, fmt.Errorf("gauge %q: the bench file describes %s; name one of these", name, strings.Join(names, ", "))
}

// Plan returns what is asked of a tool at a stage; r is what the earlier inspections of its regrind left to it.
func (f *File) Plan(t inspect.Tool, stage inspect.Stage, r *inspect.Regrind) desk.Plan {
	p := desk.DefaultPlan(t, stage, r)
	p.Backward = f.Turning == "backward"
	if near := f.ReadFromEnd(t); t.Taper != 0 && t.EdgeLength() > 2*near {
		p.DropsAt = []length.Length{near, t.EdgeLength() - near} // its rest is right in the middle only
	}
	s := f.Stages[string(stage)]
	if s == nil {
		return p
	}
	if s.Features != nil {
		p.Features = s.Features
	}
	if s.Repeats > 0 {
		p.Rounds = s.Repeats
	}
	if s.Sights != nil {
		p.Sights = *s.Sights
	}
	p.FromEnds = s.FromEnds
	return p
}

// Basis returns what a tool is judged by at a stage: the defaults with all that the file says over them.
func (f *File) Basis(t inspect.Tool, stage inspect.Stage) inspect.Basis {
	b := inspect.DefaultBasis(t)
	b.Revision = f.Revision
	b.WorkRule, b.ReleaseRule = f.WorkRule, f.ReleaseRule
	b.Unit = f.Unit
	if f.Grinder.SendsOut != nil {
		b.SendsOut = f.Grinder.SendsOut
	}
	b.SpindleRPM = f.Grinder.RPM
	for _, w := range f.Wheels {
		b.Wheels = append(b.Wheels, inspect.Wheel(w))
	}
	b.Tie, b.DropBy, b.DistanceError, b.ReliefFlutes = f.Tie, f.DropBy, f.DistanceError, f.ReliefFlutes
	b.FromFirst = f.LastRound == "first"
	b.MasterDiameter, b.MasterWithin = f.Master, f.MasterWithin
	b.Feed = geometry.Feed{Division: f.Grinder.Division, Diameter: f.Grinder.Reads == "diameter", FaceAngle: f.Grinder.FeedAngle}
	if t.Form == inspect.HollowRelief {
		b.WheelDiameter = f.wheelFor(t)
	}
	if f.EndRadius > 0 {
		b.EndRadius = f.EndRadius
	}
	if f.DishDistance > 0 {
		b.DishDistance = f.DishDistance
	}
	if s := f.Stages[string(stage)]; s != nil && s.Required != nil {
		b.Required = s.Required
	}
	b.Gauges = map[string]inspect.Instrument{}
	for _, g := range f.Gauges {
		b.Gauges[g.Name] = inspect.Instrument{
			Resolution:       g.Resolution,
			PermissibleError: g.PermissibleError,
			LocalError:       g.LocalError,
			Repeatability:    g.Repeatability.Micrometres(),
			RepeatabilityDF:  g.Studied,
			Serial:           g.Serial,
			CalibrationDue:   g.CalibrationDue,
			Practice:         g.Practice,
		}
	}
	f.override(&b, t)
	return b
}
