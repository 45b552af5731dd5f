package inspect_test

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// testdata/tools.txt is a list of tools, each begun by a line "== name" and followed by lines "key: value":
//
//	why        what is done and its arithmetic
//	tool       key=value with spaces between, as in an inspect.Tool
//	division   of the feed dial in inches, or none
//	read       features with their values in inches, one a flute or one for all, semicolons between
//	seen       what was seen, with the length of a chip; the rest was looked for and not seen
//	want       the work, most urgent first, with its part
//	infeed, divisions, share, diameter
//	           of the flutes' plan: in inches, a count, the widest primary's share of the land, inches
//	steps      the route, each step with its part; "away" for one that is sent out
type kind map[string]string

func kinds(t *testing.T) (names []string, all []kind) {
	t.Helper()
	text, err := os.ReadFile("../testdata/tools.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, block := range strings.Split("\n"+string(text), "\n== ")[1:] {
		lines := strings.Split(block, "\n")
		k := kind{}
		for _, line := range lines[1:] {
			if key, value, ok := strings.Cut(line, ": "); ok {
				k[key] = value
			}
		}
		names, all = append(names, lines[0]), append(all, k)
	}
	return names, all
}

func inches(t *testing.T, s string) length.Length {
	t.Helper()
	l, err := length.Parse(s, length.In)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func (k kind) tool(t *testing.T) inspect.Tool {
	t.Helper()
	tool := inspect.Tool{ID: "T-1", Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing, Hand: inspect.RightHand}
	angle := func(s string) *length.Angle {
		a, err := length.ParseAngle(s)
		if err != nil {
			t.Fatal(err)
		}
		return &a
	}
	for _, pair := range strings.Fields(k["tool"]) {
		key, v, _ := strings.Cut(pair, "=")
		switch key {
		case "flutes":
			tool.Flutes, _ = strconv.Atoi(v)
		case "diameter":
			tool.Diameter = inches(t, v)
		case "material":
			tool.Material = inspect.Material(v)
		case "helix":
			tool.Helix = *angle(v)
		case "primary":
			tool.PrimaryRelief = angle(v)
		case "secondary":
			tool.SecondaryRelief = angle(v)
		case "rake":
			tool.Rake = angle(v)
		case "ends":
			tool.Ends = inspect.Ends(v)
		case "teeth":
			tool.Teeth = inspect.Teeth(v)
		case "sharpened":
			tool.Sharpened = inspect.Sharpened(v)
		case "hand":
			tool.Hand = inspect.Hand(v)
		case "cut":
			tool.Cut = inspect.Hand(v)
		case "taper":
			tool.Taper = *angle(v)
		case "centre-cutting":
			tool.CentreCutting = true
		case "angles":
			for _, a := range strings.Split(v, ",") {
				tool.Angles = append(tool.Angles, *angle(a))
			}
		case "at-least":
			l := inches(t, v)
			tool.AtLeast = &l
		default:
			t.Fatalf("tool key %q is not known", key)
		}
	}
	if err := tool.Check(); err != nil {
		t.Fatal(err)
	}
	return tool
}

func (k kind) inspection(t *testing.T) inspect.Inspection {
	t.Helper()
	tool := k.tool(t)
	in := inspect.Inspection{ID: "T-1.1", Tool: tool, Stage: inspect.Before, Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)}
	if k["division"] != "none" {
		in.Basis.Feed.Division = inches(t, k["division"])
	}
	for _, clause := range strings.Split(k["read"], "; ") {
		words := strings.Fields(clause)
		f, err := inspect.ParseFeature(words[0])
		if err != nil {
			t.Fatal(err)
		}
		values := words[1:]
		if !f.Single() && len(values) == 1 {
			values = slices.Repeat(values, tool.Flutes)
		}
		for i, v := range values {
			r := inspect.Reading{Feature: f, Flute: i + 1, Repeat: 1, Value: inches(t, v), Text: v, Unit: length.In}
			if f.Single() {
				r.Flute = 0
			}
			if err := in.Check(r); err != nil {
				if f == inspect.RadialRunout && tool.Teeth == inspect.ChipBreakerTeeth {
					continue
				}
				t.Fatal(err)
			}
			in.Readings = append(in.Readings, r)
		}
	}
	for _, sight := range inspect.Sights {
		seen := inspect.Seen{Sight: sight}
		if words := strings.Fields(k["seen"]); len(words) > 0 && words[0] == string(sight) {
			seen.Yes = true
			if len(words) > 1 {
				l := inches(t, words[1])
				seen.Length = &l
			}
		}
		in.Seen = append(in.Seen, seen)
	}
	return in
}

func worksOf(j inspect.Judgement) []string {
	var works []string
	for _, w := range j.Work {
		works = append(works, strings.TrimSpace(string(w.What)+" "+string(w.Where)))
	}
	return works
}

func stepsOf(j inspect.Judgement) []string {
	var steps []string
	for _, s := range j.Steps {
		text := strings.TrimSpace(string(s.Do) + " " + string(s.Where))
		if s.Sight != "" {
			text += " " + string(s.Sight)
		}
		if s.Away {
			text += " away"
		}
		steps = append(steps, text)
	}
	return steps
}

// Every kind of tool: the work, its figures to a nanometre or so, and the route.
func TestKinds(t *testing.T) {
	names, all := kinds(t)
	if len(all) < 80 {
		t.Fatalf("%d tools; want 80 at least", len(all))
	}
	for n, k := range all {
		t.Run(names[n], func(t *testing.T) {
			j := inspect.Judge(k.inspection(t))
			if got := strings.Join(worksOf(j), "; "); got != k["want"] {
				t.Errorf("got %q, want %q (%s)", got, k["want"], k["why"])
			}
			if got := strings.Join(stepsOf(j), "; "); got != k["steps"] {
				t.Errorf("route:\ngot  %s\nwant %s", got, k["steps"])
			}
			if k["infeed"] == "" {
				if j.Plan != nil {
					t.Errorf("a plan for the lands of a tool sharpened on the face: %+v", j.Plan)
				}
				return
			}
			p := j.Plan
			if p == nil {
				t.Fatalf("no plan: %+v", j.Notes)
			}
			near := func(what string, got float64, key string, within float64) {
				t.Helper()
				want, err := strconv.ParseFloat(k[key], 64)
				if err != nil {
					t.Fatal(err)
				}
				if math.Abs(got-want) > within {
					t.Errorf("%s: got %.9f, want %.9f", what, got, want)
				}
			}
			of := func(l length.Length) float64 { return l.Micrometres() / 25400 }
			near("infeed", of(p.Infeed), "infeed", 2e-9)
			near("share", *p.RatioAfter, "share", 2e-6)
			near("diameter", of(*p.DiameterAfter), "diameter", 2e-8)
			if got := fmt.Sprint(p.Divisions != nil); k["divisions"] == "" && got != "false" {
				t.Errorf("got %d divisions, and the dial is not stated", *p.Divisions)
			} else if k["divisions"] != "" && strconv.Itoa(*p.Divisions) != k["divisions"] {
				t.Errorf("got %d divisions, want %s", *p.Divisions, k["divisions"])
			}
		})
	}
}
