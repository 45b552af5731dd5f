package hand

import (
	"fmt"
	"strings"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// Known puts together what the desk is told of a tool and its bench. last is the tool's last inspection, newest first;
// none is nothing known.
func Known(b *bench.File, in inspect.Inspection, last []Before) desk.Known {
	unit := in.Basis.Unit
	k := desk.Known{
		About: About(in.Tool, unit),
		Guide: func(in inspect.Inspection, k inspect.Key) desk.Guide { return guide(in, k, b.ReadFromEnd(in.Tool)) },
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

// guide is what to tell of a reading before it is taken.
func guide(in inspect.Inspection, k inspect.Key, fromEnd length.Length) desk.Guide {
	unit, limits := in.Basis.Unit, in.Basis.Limits
	fig := func(l length.Length, n int) string { return desk.Figure(l, unit, n) }
	var g desk.Guide
	if fromEnd > 0 && !k.Feature.OnEnds() && k.Feature != inspect.ShankRunout {
		g.FromEnd = fig(fromEnd, 3)
	}
	switch f := k.Feature; f {
	case inspect.RadialRunout, inspect.AxialRunout, inspect.ShankRunout:
		if most := limits.Of(f).MostLength(); most != nil {
			g.Most, g.Expect, g.Limit = most, "+-"+fig(*most, 4)+" of "+words.Spot(f, 1), "limit "+fig(*most, 4)
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
			g.Expect = fig(*least, 3) + " to " + fig(*most, 3)
			wide := 2 * *most // a worn primary may be wider; it is there to catch a slip
			g.Least, g.Most = least, &wide
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
