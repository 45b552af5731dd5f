package words

import (
	"fmt"
	"strconv"

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
