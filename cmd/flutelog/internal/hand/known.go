package hand

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// Known puts together what the desk is told of a tool and its bench. last is the tool's last inspection, newest first;
// none is nothing known.
func Known(b *bench.File, in inspect.Inspection, last []Before) desk.Known {
	unit := in.Basis.Unit
	wider := widens(in, last)
	k := desk.Known{
		About: About(in.Tool, unit),
		Guide: func(in inspect.Inspection, k inspect.Key) desk.Guide {
			return guide(in, k, b.ReadFromEnd(in.Tool), wider[k.Flute])
		},
		Dials: func(f inspect.Feature) (length.Length, bool) {
			if f == inspect.Diameter || f == inspect.Length {
				return 0, false // sizes have a micrometer's many digits: never divisions
			}
			step := length.Length(0)
			for _, g := range b.Gauges {
				if g.Reads(f) && (step == 0 || g.Port == "") {
					step = g.Resolution
				}
			}
			return step, b.BareNumbers == bench.Divisions
		},
	}
	if in.Stage == inspect.After {
		k.Between = toldBetween(last)
	}
	for _, w := range b.Wheels {
		k.Wheels = append(k.Wheels, w.Name)
	}
	k.Last = func(key inspect.Key) (string, bool) {
		for _, before := range last {
			for _, r := range before.Inspection.Readings {
				o := r.Key()
				if o.Feature == key.Feature && o.Flute == key.Flute && o.Repeat == 1 && !o.Closing && !o.OnShank && (!key.Stated || o.Stated == key.Stated && o.FromEnd == key.FromEnd) {
					text := desk.Figure(r.Value, unit, 4)
					if f := key.Feature; !f.Heights() && !f.Drop() && !f.Single() {
						text = strings.TrimSuffix(text, "0") // a width is read in thou
					}
					if key.Feature.Heights() && r.Value > 0 {
						text = "+" + text
					}
					return fmt.Sprintf("%s (%s, %s)", text, before.When, before.Inspection.Stage), true
				}
			}
		}
		return "", false
	}
	for _, before := range last {
		var seen []string
		for _, s := range before.Inspection.Seen {
			if s.Yes {
				seen = append(seen, strings.ReplaceAll(string(s.Sight), "-", " "))
			}
		}
		if len(before.Inspection.Seen) > 0 {
			k.LastSeen = "all clear"
			if seen != nil {
				k.LastSeen = strings.Join(seen, ", ")
			}
			k.LastSeen += fmt.Sprintf(" (%s, %s)", before.When, before.Inspection.Stage)
			break
		}
	}
	return k
}

// toldBetween is how the tool was told to be ground with the last inspection between the grinds of this regrind; of last the newest is
// first.
func toldBetween(last []Before) inspect.Ground {
	for _, before := range last {
		switch before.Inspection.Stage {
		case inspect.Before:
			return inspect.Ground{}
		case inspect.Between:
			return before.Inspection.Ground()
		}
	}
	return inspect.Ground{}
}

// Before is an earlier inspection as it stands, and the day of it.
type Before struct {
	Inspection inspect.Inspection
	When       string
}

// About is a tool in a few words: 1/2 in  4 flutes  HSS  square end.
func About(t inspect.Tool, unit length.Unit) string {
	size := desk.Figure(t.Diameter, unit, 4)
	size = strings.TrimSuffix(strings.TrimRight(size, "0"), ".")
	if unit != length.Mm && t.Diameter%(length.Inch/64) == 0 {
		n, d := int64(t.Diameter/(length.Inch/64)), int64(64)
		for n%2 == 0 && d > 1 {
			n, d = n/2, d/2
		}
		switch {
		case d == 1:
			size = fmt.Sprint(n)
		case n > d:
			size = fmt.Sprintf("%d %d/%d", n/d, n%d, d)
		default:
			size = fmt.Sprintf("%d/%d", n, d)
		}
	}
	flutes := "flutes"
	if t.Flutes == 1 {
		flutes = "flute"
	}
	material := strings.ToUpper(string(t.Material))
	if t.Material != inspect.HSS {
		material = string(t.Material)
	}
	about := fmt.Sprintf("%s %s  %d %s  %s  %s end", size, unit, t.Flutes, flutes, material, t.Ends)
	if t.LeftCut() {
		about += "  cuts LEFT"
	}
	return about
}

// widens is, flute by flute, between which widths the primary of a tool is to be looked for after the grind that its last inspection
// planned: from what it was there to as much again as the plan makes it grow (common practice, no source). Nothing is said where a
// secondary is ground too, which narrows it.
func widens(in inspect.Inspection, last []Before) map[int][2]length.Length {
	if in.Stage == inspect.Before || len(last) == 0 || last[0].Inspection.Stage != inspect.Before {
		return nil
	}
	j := inspect.Judge(last[0].Inspection)
	steps := j.Grinds()
	if in.Stage == inspect.Between {
		steps = j.Planned()
	}
	ground := func(do inspect.Do) bool {
		return slices.ContainsFunc(steps, func(s inspect.Step) bool { return s.Do == do && s.Where == inspect.OnFlutes })
	}
	if !ground(inspect.DoPrimary) || ground(inspect.DoSecondary) || j.Plan == nil || j.Plan.RatioAfter == nil {
		return nil
	}
	was, land := map[int]length.Length{}, map[int]length.Length{}
	for _, r := range last[0].Inspection.Readings {
		switch r.Feature {
		case inspect.PrimaryLand:
			was[r.Flute] = r.Value
		case inspect.Land:
			land[r.Flute] = r.Value
		}
	}
	var grows length.Length
	for flute, w := range was {
		if after := length.Length(*j.Plan.RatioAfter * float64(land[flute])); grows == 0 || after-w < grows {
			grows = after - w // the widest one's share is planned
		}
	}
	if grows <= 0 {
		return nil
	}
	wider := map[int][2]length.Length{}
	for flute, w := range was {
		wider[flute] = [2]length.Length{w, w + 2*grows}
	}
	return wider
}

// guide is what to tell of a reading before it is taken; wider is between which widths the plan makes its primary, if it says so.
func guide(in inspect.Inspection, k inspect.Key, fromEnd length.Length, wider [2]length.Length) desk.Guide {
	unit, limits := in.Basis.Unit, in.Basis.Limits
	fig := func(l length.Length, n int) string { return desk.Figure(l, unit, n) }
	var g desk.Guide
	if fromEnd > 0 && !k.Feature.OnEnds() && k.Feature != inspect.ShankRunout {
		g.FromEnd = fig(fromEnd, 3)
	}
	switch f := k.Feature; f {
	case inspect.RadialRunout, inspect.AxialRunout, inspect.ShankRunout:
		if most := limits.Of(f).MostLength(); most != nil {
			g.Most, g.Expect, g.Limit = most, "+-"+fig(*most, 4)+" of "+f.Spot(1), "limit "+limitFigure(*most, unit)
		}
		if f == inspect.AxialRunout {
			g.Distance = in.Basis.EndRadius
		}
		g.Turn = fmt.Sprintf("%d", 360/max(in.Tool.Flutes, 1))
		if f == inspect.ShankRunout {
			g.FromEnd = "well up"
		}
	case inspect.WearLand:
		if most := limits.Of(f).MostLength(); most != nil {
			g.Most, g.Expect = most, "0 to "+fig(*most, 3)
		}
	case inspect.PrimaryLand:
		if least, most := limits.Of(inspect.PrimaryWidth).Lengths(); least != nil && most != nil {
			if wider[1] > 0 {
				least, most = &wider[0], &wider[1]
			}
			g.Expect = fig(*least, 3) + " to " + fig(*most, 3)
			g.Least, g.Most = least, most
		}
	case inspect.EndPrimaryLand, inspect.EndLand:
		g.Distance = in.Basis.EndRadius
	case inspect.Diameter:
		if in.LastDiameter != nil {
			g.Expect = "not over " + fig(*in.LastDiameter, 4)
		}
	case inspect.Master:
		if in.Basis.MasterWithin > 0 {
			within := in.Basis.MasterWithin
			g.Most, g.Expect = &within, "within "+fig(within, 4)+" of zero"
		}
	case inspect.Dish, inspect.ReliefDrop, inspect.SecondaryDrop, inspect.EndReliefDrop, inspect.EndSecondaryDrop:
		drop(in, &g, k)
	}
	return g
}

// limitFigure is a limit with as many decimals as it takes: rounded it would be another, and a reading equal to it no more within it.
func limitFigure(l length.Length, unit length.Unit) string {
	round, whole := desk.Figure(l, unit, 4), desk.Figure(l, unit, 6)
	return whole[:len(round)] + strings.TrimRight(whole[len(round):], "0")
}

// drop is what to tell of an indicator drop: how far back, how far that is to turn, what to look for, and whether the
// primary of the flute is as wide as that.
func drop(in inspect.Inspection, g *desk.Guide, k inspect.Key) {
	unit := in.Basis.Unit
	look, err := in.DropLook(k)
	g.Distance, g.Slid = look.Distance, look.By == inspect.BySliding && !k.Feature.OnEnds()
	if look.Turn != nil {
		g.Turn = look.Turn.Format(1)
	}
	if err != nil {
		return
	}
	g.Least, g.Most, g.Steepest = look.Least, look.Most, look.Steepest
	if least, most := in.Basis.Limits.Of(k.Feature).Angles(); least != nil && most != nil {
		g.Expect = fmt.Sprintf("%s (%s deg) to %s (%s deg)", desk.Figure(*look.Least, unit, 4), short(*least), desk.Figure(*look.Most, unit, 4), short(*most))
		g.Limit = short(*least) + " to " + short(*most) + " deg"
	}
	for _, r := range in.Readings {
		if r.Feature != inspect.PrimaryLand || r.Flute != k.Flute || k.Feature != inspect.ReliefDrop {
			continue
		}
		round, err := geometry.InSection(r.Value, in.Tool.Helix)
		if err != nil {
			continue
		}
		still := desk.Figure(g.Distance, unit, 3) + " is still on it."
		if g.Distance > round {
			still = "shorter than the distance: d sets another."
		}
		g.Further = append(g.Further, fmt.Sprintf("The primary here is %s wide (%s round the tool): %s", desk.Figure(r.Value, unit, 3), desk.Figure(round, unit, 3), still))
	}
}

func short(a length.Angle) string {
	return strings.TrimSuffix(strings.TrimRight(a.Format(2), "0"), ".")
}
