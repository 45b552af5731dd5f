package words

import (
	"fmt"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// stepNames are the steps by name, for a screen that shows one at a time.
var stepNames = map[inspect.Do]string{
	inspect.DoLockAway: "Lock it away", inspect.DoScrap: "Scrap it", inspect.DoRename: "A smaller tool", inspect.DoStone: "Stone the shank",
	inspect.DoSeat: "Wipe and reseat", inspect.DoReadShank: "Read the shank", inspect.DoCutBack: "Cut back the end", inspect.DoGash: "Gash",
	inspect.DoFace: "Faces", inspect.DoPrimary: "Primary", inspect.DoLook: "Look", inspect.DoBetween: "Read between", inspect.DoSecondary: "Secondary",
	inspect.DoCorner: "Corners", inspect.DoForm: "Blend the ends", inspect.DoDeburr: "Burr off", inspect.DoRead: "Read on", inspect.DoFiner: "Another gauge",
	inspect.DoInspect: "Inspect after", inspect.DoSign: "Sign",
}

// StepName names a step.
func StepName(s inspect.Step) string {
	name := stepNames[s.Do]
	if name == "" {
		name = "Put it away"
	}
	if s.Away {
		return name + ": sent out"
	}
	if s.Where != "" {
		name += ", " + string(s.Where)
	}
	return name
}

// StepBrief is a step at a machine of this bench in a line: what it is, what the machine is set to, where it touches first and how far it
// is fed. Of every other step it is "".
func StepBrief(s inspect.Step, unit length.Unit) string {
	var parts []string
	add := func(format string, args ...any) { parts = append(parts, fmt.Sprintf(format, args...)) }
	switch s.Do {
	case inspect.DoCutBack, inspect.DoGash, inspect.DoFace, inspect.DoPrimary, inspect.DoSecondary, inspect.DoCorner, inspect.DoForm:
	default:
		return ""
	}
	if s.Away {
		return ""
	}
	name := StepName(s)
	switch s.Do {
	case inspect.DoCutBack:
		name = stepNames[s.Do]
	case inspect.DoGash:
		add("to the old depth, with a thin wheel")
	}
	if s.Plate {
		add("by the plate")
	}
	switch {
	case s.Tilt != nil && s.Swivel != nil:
		add("tilt %s, swivel %s deg", s.Tilt.Format(1), s.Swivel.Format(1))
	case s.Do == inspect.DoCorner && s.Angle != nil:
		add("%s deg", s.Angle.Format(0))
	case s.Swivel != nil:
		add("swivel %s deg", s.Swivel.Format(1))
	}
	if s.Rest != nil {
		what := "rest %s below centre"
		if s.Do == inspect.DoFace {
			what = "wheel %s off centre"
		}
		add(what, set(*s.Rest, unit))
	}
	if s.Touch > 0 {
		add("first touch %d", s.Touch)
	}
	switch {
	case s.Divisions != nil:
		add("%s", divisions(*s.Divisions))
	case s.Amount != nil && (s.Do == inspect.DoCutBack || s.Do == inspect.DoForm):
		add("%s off the end", set(*s.Amount, unit))
	case s.Amount != nil:
		add("feed %s", set(*s.Amount, unit))
	}
	if parts == nil {
		return name
	}
	return name + ": " + strings.Join(parts, "; ")
}

// StepHand is what holds for all steps at a machine of a tool that does not cut to the right with a helix to match; "" for any other.
func StepHand(s inspect.Step) string {
	var parts []string
	if s.Left {
		parts = append(parts, "LEFT-HAND CUT: the rest on the other side, the thrust tried by hand with the wheel stopped")
	}
	if s.Lock {
		parts = append(parts, "HELIX AGAINST THE CUT: lock it endways")
	}
	return strings.Join(parts, ". ")
}

// set is a length that a machine is set to, to a tenth or a micrometre.
func set(l length.Length, unit length.Unit) string {
	if unit.Metric() {
		return l.Format(length.Mm, 3) + " mm"
	}
	return l.Format(length.In, 4) + " in"
}

// StepFigures are what a machine is set to for a step, to be read with both hands at it.
func StepFigures(s inspect.Step, unit length.Unit) []Fact {
	var all []Fact
	add := func(name, value string) { all = append(all, Fact{name, value}) }
	if s.Rest != nil {
		name := "rest below centre"
		if s.Do == inspect.DoFace {
			name = "wheel off centre"
		}
		add(name, set(*s.Rest, unit))
	}
	if s.Angle != nil {
		name := "relief"
		if s.Do == inspect.DoCorner {
			name = "chamfer"
		}
		add(name, s.Angle.Format(1)+"°")
	}
	if s.Tilt != nil {
		add("tilt", s.Tilt.Format(1)+"°")
	}
	if s.Swivel != nil {
		add("swivel", s.Swivel.Format(1)+"°")
	}
	switch {
	case s.Divisions != nil:
		add("divisions from first touch", strconv.Itoa(*s.Divisions))
	case s.Amount != nil && (s.Do == inspect.DoCutBack || s.Do == inspect.DoForm):
		add("off the end", set(*s.Amount, unit))
	case s.Amount != nil:
		add("in from first touch", set(*s.Amount, unit))
	}
	if s.Touch > 0 {
		add("touches first", fmt.Sprintf("flute %d", s.Touch))
	}
	return all
}
