// Package inspect is the domain: tools, features, readings, limits and the judgement of an inspection with
// the work it calls for. It knows nothing of gauges, files or screens.
//
// To use it alone: describe a [Tool], take [DefaultBasis] for what it is judged by, or change its limits, and put the readings and what
// was seen into an [Inspection], by [Reading] and [Seen], or by [ReadCSV] from a file. [Judge] gives the [Judgement] as data: a verdict
// of each feature with its uncertainty, the work that is called for in the order in which it is done, what was not read, and the figures
// behind. Package words says the same in prose. Lengths and angles are exact; a reading equal to its limit conforms, and what was not
// read never passes.
package inspect

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"flutelog/inspect/length"
)

// Material is what a tool is made of; limits, abrasive and rotation depend on it.
type Material string

const (
	HSS     Material = "hss" // high-speed steel
	Cobalt  Material = "cobalt"
	Carbide Material = "carbide"
)

// Materials lists the materials a tool can have.
var Materials = []Material{HSS, Cobalt, Carbide}

// ParseMaterial reads a material's name.
func ParseMaterial(s string) (Material, error) {
	if m := Material(s); slices.Contains(Materials, m) {
		return m, nil
	}
	return "", fmt.Errorf("%q: want one of %v", s, Materials)
}

// Ends is the form of the end of a tool.
type Ends string

const (
	SquareEnd    Ends = "square"
	ChamferedEnd Ends = "chamfered"
	RadiusEnd    Ends = "radius" // large corner radius: flutes only
	BallEnd      Ends = "ball"   // flutes only
)

// Teeth is the form of the teeth along the flutes.
type Teeth string

const (
	PlainTeeth       Teeth = "plain"
	ChipBreakerTeeth Teeth = "chip-breaker" // roughing profile: no single plane tells its run-out
)

// Duty is what a tool is kept for: roughing tools are allowed twice the run-out.
type Duty string

const (
	Finishing Duty = "finishing"
	Roughing  Duty = "roughing"
)

// Hand is the hand of a tool's helix, seen from the side, or the hand in which it cuts.
type Hand string

const (
	RightHand Hand = "right"
	LeftHand  Hand = "left"
)

// Form is the shape of the relief in the section square to the axis.
type Form string

const (
	FlatRelief      Form = "flat"      // a facet
	HollowRelief    Form = "hollow"    // ground on the rim of a disc wheel
	EccentricRelief Form = "eccentric" // of constant angle
)

// Sharpened is the face that is ground to sharpen a tool.
type Sharpened string

const (
	OnPeriphery Sharpened = "periphery" // the lands behind the edges
	OnFace      Sharpened = "face"      // the face in the flute: teeth whose form must be kept
)

// Tool is one end mill. Flutes are numbered from 1 in the order in which they cut.
type Tool struct {
	ID       string         `json:"id"`
	Diameter length.Length  `json:"diameter"` // nominal cutting diameter
	Flutes   int            `json:"flutes"`
	Material Material       `json:"material"`
	Helix    length.Angle   `json:"helix"` // 0 for straight flutes
	Hand     Hand           `json:"hand"`
	Angles   []length.Angle `json:"angles,omitempty"` // where each flute stands; none means equally spaced
	Ends     Ends           `json:"ends"`
	Teeth    Teeth          `json:"teeth"`
	Duty     Duty           `json:"duty"`
	// What is left empty of these is the usual: right, flat, periphery.
	Cut       Hand      `json:"cut,omitempty"` // the hand in which it cuts, apart from that of the helix
	Form      Form      `json:"form,omitempty"`
	Sharpened Sharpened `json:"sharpened,omitempty"`
	// CentreCutting says that end teeth meet over the centre: it is gashed before the ends are ground.
	CentreCutting bool `json:"centre_cutting,omitempty"`

	Taper   length.Angle   `json:"taper,omitempty"`    // nominal, a side: the diameter grows from the end toward the shank; 0 is cylindrical
	Edges   *length.Length `json:"edges,omitempty"`    // how long the edges are along the axis; nil is not known
	AtLeast *length.Length `json:"at_least,omitempty"` // the diameter that this tool must hold; nil is the bench's limit
	AtMost  *length.Length `json:"at_most,omitempty"`  // nil is none

	// Nominal angles, where they are known: stock and setup are worked out from them.
	PrimaryRelief   *length.Angle `json:"primary_relief,omitempty"`
	SecondaryRelief *length.Angle `json:"secondary_relief,omitempty"`
	Rake            *length.Angle `json:"rake,omitempty"` // positive leans back under the edge
	Note            string        `json:"note,omitempty"`
	Retired         string        `json:"retired,omitempty"` // why the tool was taken out of use; empty while in use
}

// usualEdges is how many diameters long the edges of a tool are where nobody says (our choice: those of most end mills of
// ordinary length).
const usualEdges = 2

// EdgeLength returns how long the edges are along the axis.
func (t Tool) EdgeLength() length.Length {
	if t.Edges != nil {
		return *t.Edges
	}
	return usualEdges * t.Diameter
}

// Flute counts a tool may have.
const (
	LeastFlutes = 1
	MostFlutes  = 12
)

const (
	smallestTool = length.Inch / 64
	largestTool  = 6 * length.Inch
)

// Check returns what is wrong with the tool as described, or nil.
func (t Tool) Check() error {
	if err := CheckID(t.ID); err != nil {
		return err
	}
	if t.Diameter < smallestTool || t.Diameter > largestTool {
		return fmt.Errorf("tool %q: diameter %s (%s): want %s to %s", t.ID, t.Diameter, t.Diameter.In(length.In), smallestTool.In(length.In), largestTool.In(length.In))
	}
	if t.Flutes < LeastFlutes || t.Flutes > MostFlutes {
		return fmt.Errorf("tool %q: %d flutes: want %d to %d", t.ID, t.Flutes, LeastFlutes, MostFlutes)
	}
	if t.Helix < 0 || t.Helix > 70*length.Degree {
		return fmt.Errorf("tool %q: helix %s: want 0 to 70 degrees; the hand is stated apart", t.ID, t.Helix)
	}
	if err := t.checkWords(); err != nil {
		return err
	}
	if err := t.checkAngles(); err != nil {
		return err
	}
	if t.Edges != nil && (*t.Edges <= 0 || *t.Edges > 20*t.Diameter) {
		return fmt.Errorf("tool %q: edges %s long: want more than zero, and no more than 20 diameters", t.ID, t.Edges.In(length.In))
	}
	if err := t.checkReliefs(); err != nil {
		return err
	}
	return t.checkSizes()
}

// checkSizes checks what the tool must hold, and its taper.
func (t Tool) checkSizes() error {
	if t.Taper < 0 || t.Taper > 45*length.Degree {
		return fmt.Errorf("tool %q: taper %s a side: want 0 to 45 degrees", t.ID, t.Taper)
	}
	for _, b := range []struct {
		name  string
		value *length.Length
	}{{"at-least", t.AtLeast}, {"at-most", t.AtMost}} {
		if b.value != nil && (*b.value < t.Diameter/2 || *b.value > t.Diameter*3/2) {
			return fmt.Errorf("tool %q: %s %s (%s) is far from the diameter %s (%s); is it in another unit", t.ID, b.name, b.value, b.value.In(length.In), t.Diameter, t.Diameter.In(length.In))
		}
	}
	if t.AtLeast != nil && t.AtMost != nil && *t.AtLeast > *t.AtMost {
		return fmt.Errorf("tool %q: at-least %s is more than at-most %s", t.ID, t.AtLeast, t.AtMost)
	}
	return nil
}

// LeftCut says whether the tool cuts left-handed.
func (t Tool) LeftCut() bool { return t.Cut == LeftHand }

// toolWords are the words that say what a tool is: of each its name, those that are known, the usual first, and the tool's own.
var toolWords = []struct {
	name     string
	known    []string
	of       func(Tool) string
	optional bool // left empty it is the usual
}{
	{"material", words(Materials), func(t Tool) string { return string(t.Material) }, false},
	{"ends", []string{string(SquareEnd), string(ChamferedEnd), string(RadiusEnd), string(BallEnd)}, func(t Tool) string { return string(t.Ends) }, false},
	{"teeth", []string{string(PlainTeeth), string(ChipBreakerTeeth)}, func(t Tool) string { return string(t.Teeth) }, false},
	{"duty", []string{string(Finishing), string(Roughing)}, func(t Tool) string { return string(t.Duty) }, false},
	{"hand", []string{string(RightHand), string(LeftHand)}, func(t Tool) string { return string(t.Hand) }, false},
	{"cut", []string{string(RightHand), string(LeftHand)}, func(t Tool) string { return string(t.Cut) }, true},
	{"form", []string{string(FlatRelief), string(HollowRelief), string(EccentricRelief)}, func(t Tool) string { return string(t.Form) }, true},
	{"sharpened", []string{string(OnPeriphery), string(OnFace)}, func(t Tool) string { return string(t.Sharpened) }, true},
}

func words(ms []Material) []string {
	var ws []string
	for _, m := range ms {
		ws = append(ws, string(m))
	}
	return ws
}

// ToolWords returns the words of which one says what a tool is in one respect: material, ends, teeth, duty, hand, cut, form or
// sharpened. The usual comes first.
func ToolWords(name string) []string {
	for _, w := range toolWords {
		if w.name == name {
			return slices.Clone(w.known)
		}
	}
	panic("a tool has no " + name)
}

func (t Tool) checkWords() error {
	for _, w := range toolWords {
		if value := w.of(t); !slices.Contains(w.known, value) && (value != "" || !w.optional) {
			return fmt.Errorf("tool %q: %s %q: want %s", t.ID, w.name, value, strings.Join(w.known, ", "))
		}
	}
	return nil
}

func (t Tool) checkAngles() error {
	if t.Angles == nil {
		return nil
	}
	if len(t.Angles) != t.Flutes {
		return fmt.Errorf("tool %q: %d flute angles for %d flutes", t.ID, len(t.Angles), t.Flutes)
	}
	for i, a := range t.Angles {
		if a < 0 || a >= 360*length.Degree || i > 0 && a <= t.Angles[i-1] {
			return fmt.Errorf("tool %q: flute %d at %s: flute angles rise from 0 to under 360 degrees", t.ID, i+1, a)
		}
	}
	return nil
}

func (t Tool) checkReliefs() error {
	for _, a := range []struct {
		name        string
		value       *length.Angle
		least, most length.Angle
	}{
		{"primary relief", t.PrimaryRelief, length.Degree, 30 * length.Degree},
		{"secondary relief", t.SecondaryRelief, 2 * length.Degree, 45 * length.Degree},
		{"rake", t.Rake, -30 * length.Degree, 45 * length.Degree},
	} {
		if a.value != nil && (*a.value < a.least || *a.value > a.most) {
			return fmt.Errorf("tool %q: %s %s: want %s to %s", t.ID, a.name, *a.value, a.least, a.most)
		}
	}
	if t.PrimaryRelief != nil && t.SecondaryRelief != nil && *t.SecondaryRelief <= *t.PrimaryRelief {
		return fmt.Errorf("tool %q: secondary relief %s is not steeper than the primary's %s", t.ID, *t.SecondaryRelief, *t.PrimaryRelief)
	}
	return nil
}

// HasEndTeeth says whether end-tooth features can be read: ball and large-radius ends are inspected on
// the flutes only.
func (t Tool) HasEndTeeth() bool { return t.Ends == SquareEnd || t.Ends == ChamferedEnd }

// longestID keeps ids on a label and in a file name.
const longestID = 60

// CheckID returns why an id cannot be used: it must be 1 to 60 printable characters without leading or
// trailing spaces.
func CheckID(id string) error {
	n := 0
	for _, r := range id {
		n++
		if !unicode.IsPrint(r) {
			return fmt.Errorf("id %q: %q cannot be printed", id, r)
		}
	}
	if n == 0 || n > longestID || strings.TrimSpace(id) != id {
		return fmt.Errorf("id %q: want 1 to %d characters without spaces at either end", id, longestID)
	}
	return nil
}

// ParseFlutes reads the numbers of flutes, with commas or spaces between them: 1, 4, 3, 2; none of nothing.
func ParseFlutes(text string) ([]int, error) {
	var flutes []int
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' }) {
		n, err := strconv.Atoi(word)
		if err != nil || n < 1 || n > MostFlutes {
			return nil, fmt.Errorf("%q: want the numbers of the flutes with commas between", text)
		}
		flutes = append(flutes, n)
	}
	return flutes, nil
}
