package words

import (
	"fmt"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

func (t teller) note(n inspect.Note) string {
	name := Figure(n.Feature)
	if n.FromEnd != nil {
		name = t.place(name, *n.FromEnd, true)
	}
	switch n.What {
	case inspect.InTheNoise:
		return name + ": not distinguishable from gauge noise"
	case inspect.TiltSeen:
		return fmt.Sprintf("between the two places the offset changes by %s: the edges stand tilted to the axis by %s", t.quantity(n.Other), t.quantity(n.Value))
	case inspect.ToShank:
		s := fmt.Sprintf("the concentricity to the shank's own axis is %s", t.quantity(n.Value))
		if n.FromEnd != nil {
			s = t.length(*n.FromEnd) + " from the end " + s
		}
		if n.Detail != "" {
			s += "; the shank was read at one place, so its tilt is not seen"
		}
		return s
	case inspect.EndTilted:
		return fmt.Sprintf("the end teeth, read %s from the axis, stand tilted by %s", t.quantity(n.Other), t.quantity(n.Value))
	case inspect.OddDiameter:
		return fmt.Sprintf("how the diameter was read is not told: two anvils read small on %d flutes; it is read in a vee of %s, over a master or in a ring", t.in.Tool.Flutes, t.quantity(n.Value))
	case inspect.MeanDiameter:
		return "in a vee of 60 deg the three flutes read alike at every position: only the mean diameter is known"
	case inspect.NoMasterSize:
		return "the bench file does not say the master's diameter, so the tool's is not worked out from it"
	case inspect.NoCompare:
		return "the tool's diameter was not worked out from the master: it needs every flute's radial run-out at the same setting"
	case inspect.GrewTwice:
		return fmt.Sprintf("the diameter %s is over the %s last read of this tool; it was read twice alike, so it stands and the earlier one is in doubt", t.quantity(n.Value), t.quantity(n.Other))
	case inspect.StepNotStated:
		return fmt.Sprintf("the gauge's step is not stated; taken from what was read: %s: state it in the bench file", t.taken(n))
	case inspect.ErrorNotStated:
		return fmt.Sprintf("the gauge's own error is not stated; half a division was taken: %s: state it in the bench file", t.taken(n))
	case inspect.CalibrationPast:
		return fmt.Sprintf("calibration of gauge %q was due on %s and it was read on %s: have it calibrated, and check what was read with it since", n.Gauge, n.Due, n.Day)
	case inspect.CalibrationUnsure:
		return fmt.Sprintf("calibration of gauge %q was due on %s: have it calibrated before it is trusted; readings of %s do not say which gauge they were taken with", n.Gauge, n.Due, n.Day)
	case inspect.HeelGains:
		return fmt.Sprintf("flute %d primary is wider than %s: at this relief its heel gains no more clearance", n.Flute, t.quantity(n.Value))
	case inspect.OverTarget:
		least, most := t.in.Basis.Limits.Target()
		l, m := least.Quantity(), most.Quantity()
		return fmt.Sprintf("%s is %s; right after a secondary aim for %s to %s", name, t.quantity(n.Value), t.quantity(&l), t.quantity(&m))
	case inspect.NoPlan:
		return "the grind could not be worked out: " + n.Detail
	case inspect.CrestsUnread:
		return "chip-breaker teeth have no run-out in one plane; their crests, read at two places from the end, tell it, and were not read"
	case inspect.BlendBroken:
		return "ground on the flutes only, the blend of the " + string(t.in.Tool.Ends) + " end is broken as the diameter falls: the paper says so, and a concession must take it"
	case inspect.NothingLeft:
		return "clearing the wear would leave nothing of a land: cut the tool back"
	case inspect.TooNarrowDrop:
		return "the primary is too narrow for an indicator to tell its relief: it stands as the rest was set"
	}
	return join(name+" was not worked out", n.Detail)
}

// cause says what may lie behind a run-out and what to try first.
func (t teller) cause(c inspect.Cause) string {
	name := Figure(c.Feature)
	if c.FromEnd != nil {
		name = t.place(name, *c.FromEnd, true)
	}
	return name + ": " + t.causeWords(c)
}

// CannotSettle says before the first round that no number of rounds with this gauge will settle a limit.
func CannotSettle(limit, least length.Length, unit length.Unit) string {
	return fmt.Sprintf("This gauge cannot settle the limit of %s, however often it is read: the least it can is %s. Take a finer one, or study this one.", limit.In(unit), least.In(unit))
}

func (t teller) causeWords(c inspect.Cause) string {
	if len(c.Parts) > 0 {
		var hints []string
		for _, p := range c.Parts {
			hints = append(hints, t.hint(c.Feature, p))
		}
		text := strings.Join(hints, "; and ")
		if len(c.Or) > 0 {
			text += fmt.Sprintf("; or %s, which %d flutes do not tell from it: read the shank", together(c.Or), t.in.Tool.Flutes)
		}
		return text
	}
	switch {
	case c.Few:
		return "no cause is named: with fewer than four flutes an offset, a ramp in grinding order and one bad flute cannot be told apart; read the shank, reseat the tool and read again"
	case c.Mixed && len(c.Likely) > 0:
		return fmt.Sprintf("more than one thing, or perhaps %s; %d flutes cannot tell which: read the shank", named(c.Likely[0]), t.in.Tool.Flutes)
	case c.Mixed:
		return fmt.Sprintf("more than one thing; %d flutes cannot tell which: read the shank", t.in.Tool.Flutes)
	case len(c.Likely) == 0:
		return "no cause is named: the teeth scatter, and no pattern explains the heights"
	}
	var names []string
	for _, p := range c.Likely {
		names = append(names, named(p))
	}
	return "no cause is named: these cannot be told apart, and more repeats may tell: " + strings.Join(names, "; ")
}

// named is a cause as a name.
func named(p inspect.CausePart) string {
	if p.What == inspect.OneFlute {
		return fmt.Sprintf("flute %d alone", p.Flute)
	}
	return string(p.What)
}

// together names causes that are there together; of one alone the other is not known.
func together(parts []inspect.CausePart) string {
	if len(parts) == 1 {
		return named(parts[0]) + " and something else together"
	}
	return named(parts[0]) + " and " + named(parts[1]) + " together"
}

func (t teller) hint(f inspect.Feature, p inspect.CausePart) string {
	switch p.What {
	case inspect.HeldOffCentre:
		if f == inspect.AxialRunout {
			return "perhaps held tilted: clean and reseat the tool, look for a burr on the shank, then read again"
		}
		return "perhaps held off centre: clean and reseat the tool, look for a burr on the shank, then read again"
	case inspect.RisingInOrder:
		return "perhaps the wheel wore while grinding: dress it, and grind all flutes again in light passes"
	case inspect.FallingInOrder:
		return "not wheel wear, which leaves later flutes high: look for slack in the feed or a slide that creeps in"
	case inspect.AlternateFlutes:
		return "perhaps every other flute is indexed or rested differently: check the index and the tooth rest"
	}
	return fmt.Sprintf("flute %d stands alone: look for a chip, dirt under the rest, or a pass missed on it", p.Flute)
}

// taken says what was taken of a gauge, and for what was read with it.
func (t teller) taken(n inspect.Note) string {
	var all []string
	for _, taken := range n.Taken {
		var names []string
		for _, f := range taken.Of {
			names = append(names, f.Name())
		}
		all = append(all, t.quantity(&taken.Value)+" of "+strings.Join(names, ", "))
	}
	return strings.Join(all, "; ")
}
