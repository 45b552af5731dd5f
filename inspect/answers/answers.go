// Package answers reads the table of invented inspections that stands in testdata/answers.txt: what was read and seen of
// a tool, the answer that a master grinder gives and why. Tests of several packages hold it against what comes of each.
package answers

import (
	"fmt"
	"os"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
)

// Case is one inspection with the answer to it.
type Case struct {
	Name, Why  string
	Inspection inspect.Inspection
	Want       []string // the work, most urgent first, as "grind primary flutes"
	Because    inspect.Because
	Unread     []string
	Open       []string // features whose findings leave it open
	Verdict    string
	Status     int
}

// Read reads the table. It is a list of cases, each begun by a line "== name" and followed by lines "key: value":
//
//	why      the answer in a master's words, with its arithmetic; may stand in several lines
//	tool     what differs from a half-inch four-flute end mill of high-speed steel, as key=value with spaces between
//	stage    before, between or after
//	read     readings beside those that every case of its stage begins with; see reading
//	seen     what was seen, as "burn" or "chipped-corner .015 f2", with semicolons between; nothing else was; "nothing looked for"
//	basis    what differs from the defaults, as key=value with spaces between
//	known    what is known from before, as key=value with spaces between
//	want     the work, with semicolons between
//	because  the reason of the first work
//	unread   what the stage requires and was not read; none where left out
//	open     features whose findings leave it open; none where left out
//	verdict  of the whole
//	status   that a command ends with
func Read(path string) ([]Case, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var cases []Case
	for _, block := range strings.Split("\n"+string(text), "\n== ")[1:] {
		c, err := read(block)
		if err != nil {
			return nil, fmt.Errorf("%s: case %q: %w", path, strings.SplitN(block, "\n", 2)[0], err)
		}
		cases = append(cases, c)
	}
	return cases, nil
}

// what every inspection of a stage begins with: good in all.
var usual = map[inspect.Stage]string{
	inspect.Before:  "radial-runout 0 .0001 .0002 .0001; diameter .4990; wear-land .002; primary-land .020; land .080; end-primary-land .015; end-land .055",
	inspect.Between: "primary-land .030; land .080",
	inspect.After:   "radial-runout 0 .0001 .0002 .0001 *3; diameter .4960; primary-land .020; land .080; relief-drop .0027; axial-runout 0 .0001 .0001 0 *3; end-primary-land .015; end-land .055",
}

// usualOf leaves out of the usual what the tool has not.
func usualOf(t inspect.Tool, stage inspect.Stage) string {
	all := list(usual[stage], ";")
	return strings.Join(slices.DeleteFunc(all, func(clause string) bool {
		feature := inspect.Feature(strings.Fields(clause)[0])
		r := inspect.Reading{Feature: feature, Flute: 1, Repeat: 1, Value: length.Micrometre}
		if feature.Single() {
			r.Flute = 0
		}
		return r.Check(t) != nil
	}), ";")
}

func read(block string) (Case, error) {
	name, rest, _ := strings.Cut(block, "\n")
	c := Case{Name: name}
	fields := map[string]string{}
	key := ""
	for _, line := range strings.Split(rest, "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		if k, v, ok := strings.Cut(line, ": "); ok && !strings.HasPrefix(line, " ") {
			key = k
			fields[key] = v
		} else if key != "" && strings.TrimSpace(line) != "" {
			fields[key] += " " + strings.TrimSpace(line)
		}
	}
	c.Why = fields["why"]
	c.Because = inspect.Because(fields["because"])
	c.Want, c.Unread, c.Open = list(fields["want"], ";"), list(fields["unread"], " "), list(fields["open"], " ")
	c.Verdict = fields["verdict"]
	if _, err := fmt.Sscan(fields["status"], &c.Status); err != nil {
		return c, fmt.Errorf("status: %w", err)
	}
	in := &c.Inspection
	in.Stage, in.Holding = inspect.Stage(fields["stage"]), inspect.InFixture
	in.Tool = inspect.Tool{
		ID: "EM-1", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Hand: inspect.RightHand, Ends: inspect.SquareEnd,
		Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
	in.ID = "EM-1.1"
	if err := set(fields["tool"], toolKeys(&in.Tool)); err != nil {
		return c, fmt.Errorf("tool: %w", err)
	}
	if err := in.Tool.Check(); err != nil {
		return c, err
	}
	in.Basis = inspect.DefaultBasis(in.Tool)
	in.Basis.Gauges = map[string]inspect.Instrument{"": {Resolution: length.Tenth}} // every reading is of one, to a ten-thousandth
	if err := set(fields["basis"], basisKeys(in)); err != nil {
		return c, fmt.Errorf("basis: %w", err)
	}
	if err := set(fields["known"], knownKeys(in)); err != nil {
		return c, fmt.Errorf("known: %w", err)
	}
	if err := readings(in, usualOf(in.Tool, in.Stage)); err != nil {
		return c, err
	}
	if err := readings(in, fields["read"]); err != nil {
		return c, err
	}
	for _, r := range in.Readings {
		if err := in.Check(r); err != nil {
			return c, err
		}
	}
	return c, look(in, fields["seen"])
}

func list(text, by string) []string {
	var all []string
	for _, part := range strings.Split(text, by) {
		if part = strings.TrimSpace(part); part != "" {
			all = append(all, part)
		}
	}
	return all
}

func set(text string, keys map[string]func(string) error) error {
	for _, pair := range strings.Fields(text) {
		key, value, _ := strings.Cut(pair, "=")
		f := keys[key]
		if f == nil {
			return fmt.Errorf("key %q is not known", key)
		}
		if err := f(value); err != nil {
			return fmt.Errorf("%s: %w", pair, err)
		}
	}
	return nil
}

func toolKeys(t *inspect.Tool) map[string]func(string) error {
	angle := func(to **length.Angle) func(string) error {
		return func(v string) error {
			a, err := length.ParseAngle(v)
			*to = &a
			return err
		}
	}
	size := func(to **length.Length) func(string) error {
		return func(v string) error {
			l, err := length.Parse(v, length.In)
			*to = &l
			return err
		}
	}
	return map[string]func(string) error{
		"flutes":    func(v string) error { _, err := fmt.Sscan(v, &t.Flutes); return err },
		"diameter":  func(v string) (err error) { t.Diameter, err = length.Parse(v, length.In); return err },
		"material":  func(v string) error { t.Material = inspect.Material(v); return nil },
		"ends":      func(v string) error { t.Ends = inspect.Ends(v); return nil },
		"sharpened": func(v string) error { t.Sharpened = inspect.Sharpened(v); return nil },
		"helix":     func(v string) (err error) { t.Helix, err = length.ParseAngle(v); return err },
		"primary":   angle(&t.PrimaryRelief),
		"secondary": angle(&t.SecondaryRelief),
		"rake":      angle(&t.Rake),
		"at-least":  size(&t.AtLeast),
		"at-most":   size(&t.AtMost),
	}
}

func basisKeys(in *inspect.Inspection) map[string]func(string) error {
	b := &in.Basis
	band := func(f inspect.Feature) func(string) error {
		return func(v string) error {
			low, high, _ := strings.Cut(v, "-")
			l := b.Limits[f]
			l.Judged, l.Source = true, "common practice, no source" // nothing hangs on the words of the source
			for _, side := range []struct {
				text string
				to   **inspect.Quantity
			}{{low, &l.Least}, {high, &l.Most}} {
				v, err := length.Parse(side.text, length.In)
				if err != nil {
					return err
				}
				q := inspect.LengthQuantity(v)
				*side.to = &q
			}
			b.Limits[f] = l
			return nil
		}
	}
	return map[string]func(string) error{
		"holding":       func(v string) error { in.Holding = inspect.Holding(v); return nil },
		"tie":           func(v string) error { b.Tie = inspect.Tie(v); return nil },
		"drop-by":       func(v string) error { b.DropBy = inspect.DropBy(v); return nil },
		"work-rule":     func(v string) error { b.WorkRule = statistics.Rule(v); return nil },
		"relief-flutes": func(v string) error { _, err := fmt.Sscan(v, &b.ReliefFlutes); return err },
		"primary-width": band(inspect.PrimaryWidth),
		"secondary-over": func(v string) error {
			var s inspect.Share
			_, err := fmt.Sscanf(v, "%d/%d", &s.Num, &s.Den)
			q := s.Quantity()
			l := b.Limits[inspect.PrimaryLand]
			l.Most = &q
			b.Limits[inspect.PrimaryLand] = l
			return err
		},
		"required": func(v string) error {
			b.Required = []inspect.Item{}
			for _, name := range list(v, ",") {
				item, err := inspect.ParseItem(name)
				if err != nil {
					return err
				}
				b.Required = append(b.Required, item)
			}
			return nil
		},
		"studied": func(v string) error {
			l, err := length.Parse(v, length.In)
			b.Gauges = map[string]inspect.Instrument{"": {Resolution: length.Tenth, Repeatability: l.Micrometres(), RepeatabilityDF: 50}}
			return err
		},
	}
}

func knownKeys(in *inspect.Inspection) map[string]func(string) error {
	regrind := func() *inspect.Regrind {
		if in.Regrind == nil {
			in.Regrind = &inspect.Regrind{Before: true}
		}
		return in.Regrind
	}
	return map[string]func(string) error{
		"diameter": func(v string) error {
			l, err := length.Parse(v, length.In)
			in.LastDiameter = &l
			return err
		},
		"ends":    func(v string) error { regrind().Ends = v == "yes"; return nil },
		"burn":    func(v string) error { regrind().Burn = v == "yes"; return nil },
		"reseats": func(v string) error { _, err := fmt.Sscan(v, &regrind().Reseats); return err },
		"relief": func(v string) error { // degrees, judged between the grinds
			a, err := length.ParseAngle(v)
			q := inspect.AngleQuantity(a)
			limit := in.Basis.Limits[inspect.ReliefDrop]
			regrind().Relief = []inspect.Finding{{Feature: inspect.ReliefDrop, Flute: 1, Value: &q, Least: limit.Least, Most: limit.Most, Verdict: inspect.Accept}}
			return err
		},
	}
}

// readings takes clauses with semicolons between:
//
//	FEATURE VALUE…       inches, one a flute or one for all; - is a flute that was not read; *3 behind them reads all three times over
//	FEATURE @.100 …      at a distance from the end
//	FEATURE over .030 …  a drop over a distance
//	FEATURE seated …     with the tool seated on its shank
//	FEATURE close VALUE  flute 1 read again last
//	-FEATURE             what was read of it is dropped
//	nothing              everything read so far is dropped
//
// What is read of a feature replaces what the stage began with.
func readings(in *inspect.Inspection, text string) error {
	begun := map[inspect.Feature]bool{}
	for _, r := range in.Readings {
		begun[r.Feature] = true
	}
	for _, clause := range list(text, ";") {
		words := strings.Fields(clause)
		if words[0] == "nothing" {
			in.Readings, begun = nil, map[inspect.Feature]bool{}
			continue
		}
		feature := inspect.Feature(strings.TrimPrefix(words[0], "-"))
		if _, err := inspect.ParseFeature(string(feature)); err != nil {
			return err
		}
		if begun[feature] {
			in.Readings = slices.DeleteFunc(in.Readings, func(r inspect.Reading) bool { return r.Feature == feature })
			begun[feature] = false
		}
		if strings.HasPrefix(words[0], "-") {
			continue
		}
		if err := clauseOf(in, feature, words[1:]); err != nil {
			return fmt.Errorf("%s: %w", clause, err)
		}
	}
	return nil
}

func clauseOf(in *inspect.Inspection, feature inspect.Feature, words []string) error {
	r := inspect.Reading{Feature: feature, Unit: length.In}
	rounds := 1
	var values []string
	for i := 0; i < len(words); i++ {
		w := words[i]
		switch {
		case w == "seated":
			r.OnShank = true
		case w == "close":
			r.Closing = true
		case w == "over":
			i++
			l, err := length.Parse(words[i], length.In)
			if err != nil {
				return err
			}
			r.Over = &l
		case strings.HasPrefix(w, "@"):
			l, err := length.Parse(w[1:], length.In)
			if err != nil {
				return err
			}
			r.FromEnd = &l
		case strings.HasPrefix(w, "*"):
			if _, err := fmt.Sscan(w[1:], &rounds); err != nil {
				return err
			}
		default:
			values = append(values, w)
		}
	}
	n := in.Tool.Flutes
	if feature.Single() || r.Closing {
		n = 1
	}
	if len(values) == 1 && n > 1 {
		values = slices.Repeat(values, n)
	}
	if len(values) > n {
		values = values[:n]
	}
	for round := 1; round <= rounds; round++ {
		for i, v := range values {
			if v == "-" {
				continue
			}
			one := r
			one.Flute, one.Repeat, one.Text = i+1, round, v
			if feature.Single() {
				one.Flute = 0
			}
			if r.Closing {
				one.Repeat = 0
			}
			var err error
			if one.Value, err = length.Parse(v, length.In); err != nil {
				return err
			}
			in.Readings = append(in.Readings, one)
		}
	}
	return nil
}

// look takes what was seen; everything else was looked for and not seen.
func look(in *inspect.Inspection, text string) error {
	if text == "nothing looked for" || in.Stage == inspect.Between && text == "" {
		return nil
	}
	seen := map[inspect.Sight]inspect.Seen{}
	for _, clause := range list(text, ";") {
		words := strings.Fields(clause)
		s := inspect.Seen{Sight: inspect.Sight(words[0]), Yes: true}
		for _, w := range words[1:] {
			switch {
			case strings.HasPrefix(w, "f"):
				if _, err := fmt.Sscan(w[1:], &s.Flute); err != nil {
					return err
				}
			case w == "unsure":
				s.Unsure = true
			default:
				l, err := length.Parse(w, length.In)
				if err != nil {
					return err
				}
				s.Length = &l
			}
		}
		if err := s.Check(in.Tool); err != nil {
			return err
		}
		seen[s.Sight] = s
	}
	for _, sight := range inspect.Sights {
		s, yes := seen[sight]
		if !yes {
			s = inspect.Seen{Sight: sight}
		}
		in.Seen = append(in.Seen, s)
	}
	return nil
}
