package bench

import (
	"fmt"
	"strconv"
	"strings"

	"flutelog/device"
	"flutelog/inspect/length"
)

// Start is a bench file made by questions: one line answers each, Enter takes what stands in brackets. Nothing is written
// until the last yes.
type Start struct {
	Path    string // of the file to be
	answers []string
	gauges  []GaugeTable // that were heard
	refused string
	Ended   bool
	Written bool // the last yes was said: File is to be written
	Listen  bool // the person asked to listen for a gauge; Heard answers
}

// startQuestion is one question of the start.
type startQuestion struct {
	name, ask, bracket, help string
	read                     func(s *Start, text string) (string, error) // what the answer is kept as
}

// notKnown is the bracket of what has no default, because a wrong one would do harm.
const notKnown = "not known"

func startQuestions() []startQuestion {
	return []startQuestion{
		{"name", "Name of the bench?", "bench", "It stands on every paper.", func(_ *Start, t string) (string, error) { return t, checkLine(t) }},
		{"unit", "Inch or millimetre?", "in", "Of bare numbers, and of what is shown: in or mm.", func(_ *Start, t string) (string, error) {
			u, err := length.ParseUnit(t)
			if err != nil || u != length.In && u != length.Mm {
				return "", fmt.Errorf("in or mm")
			}
			return string(u), nil
		}},
		{"inspectors", "Who may sign? (commas; none = anyone)", "none", "Their names as they stand on papers, with commas between.", func(_ *Start, t string) (string, error) { return t, checkLine(t) }},
		{"division", "One division of the feed dial?", notKnown, "Read it off the dial. Until it is known a plan speaks in lengths, not in divisions.", (*Start).length},
		{"reads", "Does that dial read radius or diameter?", "radius", "radius: one division of .001 takes .001 off the radius.", oneOf("radius", "diameter")},
		{"feed", "Does the feed go straight at the tool? (y, or deg)", "y", "y, or the angle between the feed and the face that is ground, in degrees.", func(_ *Start, t string) (string, error) {
			if strings.EqualFold(t, "y") {
				return "y", nil
			}
			a, err := length.ParseAngle(t)
			if err != nil || a < 0 || a >= 90*length.Degree {
				return "", fmt.Errorf("y, or degrees from 0 to under 90")
			}
			return a.String(), nil
		}},
		{"holding", "Held how when indicated: fixture, vee, collet?", "fixture", "How the tool is held while it is indicated.", oneOf("fixture", "vee", "collet")},
		{"tie", "Edges read to the shank before a release? (y/n)", "y", "Read in the fixture alone a tool is true in the fixture only. y: the shank is read too, and a release says so.", oneOf("y", "n")},
		{"turning", "Turned backwards under the contact? (y/n)", "y", "Backwards spares edge and contact; flute 1 is then followed by the last.", oneOf("y", "n")},
		{"drop-by", "A drop is read how: turn the tool, or slide?", "turn", "turn: the tool is turned under the indicator; slide: the table is moved across. They differ by 2 degrees of relief.", oneOf("turn", "slide")},
		{"dial", "One division of the dial indicator?", notKnown, "Read it off the face, as .0001 or 1 tenth. It must be known before a tool can be released: a coarse dial cannot show a fine run-out. .0001 suits a limit of .0005 or more; .0005 does not.", (*Start).length},
		{"loupe", "One division in the loupe?", ".001", "Of its scale, as .001 or .005.", (*Start).length},
		{"bare-numbers", "A bare whole number typed: divisions, or refused?", "refused", "divisions: 3 is three divisions of what it is read with, shown back as a length.", oneOf("divisions", "refused")},
		{"master", "Master pin, its diameter? (none)", "none", "Of the pin that tools are compared with.", orNone((*Start).length)},
		{"wheel", "A wheel: name, diameter, rpm marked on it? (none)", "none", "As cup 4, 4, 5000; and the rpm that the grinder turns it at, where you know it: cup 4, 4, 5000, 3600. The speed marked on it is never exceeded.", (*Start).wheel},
		{"gauge", "A gauge with a lead? listen, or none", "none", "listen: plug it in and press its button; its table is made from what comes.", func(s *Start, t string) (string, error) {
			if strings.EqualFold(t, "listen") {
				s.Listen = true
				return "listen", nil
			}
			if strings.EqualFold(t, "none") {
				return "none", nil
			}
			return "", fmt.Errorf("listen, or none")
		}},
	}
}

func oneOf(known ...string) func(*Start, string) (string, error) {
	return func(_ *Start, t string) (string, error) {
		for _, k := range known {
			if strings.EqualFold(t, k) || len(known[0]) > 1 && len(t) > 0 && strings.HasPrefix(k, strings.ToLower(t)) {
				return k, nil
			}
		}
		return "", fmt.Errorf("%s", strings.Join(known, " or "))
	}
}

func orNone(read func(*Start, string) (string, error)) func(*Start, string) (string, error) {
	return func(s *Start, t string) (string, error) {
		if strings.EqualFold(t, "none") {
			return "none", nil
		}
		return read(s, t)
	}
}

func checkLine(t string) error {
	if strings.ContainsAny(t, "\"\\\n\r\t") || len([]rune(t)) > 200 {
		return fmt.Errorf("letters, figures and blanks, without quotation marks")
	}
	return nil
}

// length reads a length that must be more than zero.
func (s *Start) length(t string) (string, error) {
	if t == notKnown {
		return t, nil
	}
	typed, err := length.Entry{Unit: s.Unit()}.Parse(t)
	if err != nil {
		return "", err
	}
	if typed.Value <= 0 || typed.Value > 6*length.Inch {
		return "", fmt.Errorf("%s is no such size here", t)
	}
	return typed.Text + string(typed.Unit), nil
}

func (s *Start) wheel(t string) (string, error) {
	if strings.EqualFold(t, "none") {
		return "none", nil
	}
	parts := strings.Split(t, ",")
	if len(parts) != 3 && len(parts) != 4 {
		return "", fmt.Errorf("name, diameter and marked speed with commas between, as cup 4, 4, 5000")
	}
	d, err := s.length(strings.TrimSpace(parts[1]))
	if err != nil {
		return "", err
	}
	speeds := ""
	for _, part := range parts[2:] {
		rpm, err := strconv.Atoi(strings.TrimSpace(part))
		if err != nil || rpm < 1 {
			return "", fmt.Errorf("the speed is a whole number of turns a minute, as marked on the wheel")
		}
		speeds += fmt.Sprintf(", %d", rpm)
	}
	name := strings.TrimSpace(parts[0])
	if err := checkLine(name); err != nil || name == "" {
		return "", fmt.Errorf("the wheel wants a name")
	}
	return name + ", " + d + speeds, nil
}

func (s *Start) answer(name string) string {
	for i, q := range startQuestions() {
		if q.name == name && i < len(s.answers) {
			return s.answers[i]
		}
	}
	return ""
}

// Unit is the unit in force, as far as it is answered.
func (s *Start) Unit() length.Unit {
	if s.answer("unit") == string(length.Mm) {
		return length.Mm
	}
	return length.In
}

// bracket is what Enter takes: the usual in the unit in force.
func (s *Start) bracket(q startQuestion) string {
	if q.name == "loupe" && s.Unit() == length.Mm {
		return "0.02"
	}
	return q.bracket
}

// Answer takes a line.
func (s *Start) Answer(line string) {
	text := strings.TrimSpace(line)
	s.refused = ""
	switch {
	case s.Ended || s.Listen:
		return
	case strings.EqualFold(text, "q"):
		s.Ended = true
		return
	case strings.EqualFold(text, "b"):
		if len(s.answers) > 0 {
			s.answers = s.answers[:len(s.answers)-1]
			return
		}
		s.refused = "This is the first question."
		return
	case len(s.answers) == len(startQuestions()):
		switch strings.ToLower(text) {
		case "y", "yes":
			s.Ended, s.Written = true, true
		default:
			s.refused = "y writes it; b goes back; q stops, nothing written."
		}
		return
	}
	q := startQuestions()[len(s.answers)]
	if text == "" {
		text = s.bracket(q)
	}
	kept, err := q.read(s, text)
	if err != nil {
		why := err.Error()
		if slip, ok := err.(*length.Slip); ok {
			why = slip.Why
		}
		s.refused = fmt.Sprintf("%s: %s.", text, why)
		return
	}
	if !s.Listen {
		s.answers = append(s.answers, kept)
	}
}

// Heard answers the question for a gauge: with its profile, or with why none was made.
func (s *Start) Heard(p device.Profile, err error) {
	s.Listen = false
	if err != nil {
		s.refused = err.Error() + ". listen tries again; none leaves it out."
		return
	}
	s.gauges = []GaugeTable{{Profile: p}}
	s.answers = append(s.answers, p.Name+", "+p.Port)
}

// Lines are the questions with their brackets and answers, for a screen; Help is about the one that is asked.
func (s *Start) Lines() (lines []string, help, refused, label string) {
	for i, q := range startQuestions() {
		line := fmt.Sprintf("%2d %-52s %-13s", i+1, q.ask, "["+s.bracket(q)+"]")
		if i < len(s.answers) {
			line += s.answers[i]
		} else if i == len(s.answers) {
			line += "_"
		}
		lines = append(lines, strings.TrimRight(line, " "))
	}
	switch n := len(s.answers); {
	case s.Listen:
		return lines, "Listening on every port. Press the gauge's button once or twice.", s.refused, "listening"
	case n < len(startQuestions()):
		return lines, startQuestions()[n].help, s.refused, strconv.Itoa(n + 1)
	}
	return lines, "Write " + s.Path + " here? y", s.refused, "y"
}

// Text is the bench file that the answers come to.
func (s *Start) Text() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("# Made by questions: flutelog bench start. flutelog bench example shows every key.")
	line("name = %q", s.answer("name"))
	line("unit = %q", s.answer("unit"))
	if who := s.answer("inspectors"); !strings.EqualFold(who, "none") {
		var names []string
		for _, name := range strings.Split(who, ",") {
			if name = strings.TrimSpace(name); name != "" {
				names = append(names, strconv.Quote(name))
			}
		}
		line("inspectors = [%s]", strings.Join(names, ", "))
	}
	line("holding = %q", s.answer("holding"))
	line("tie = %q", map[string]string{"y": "shank", "n": "none"}[s.answer("tie")])
	line("turning = %q", map[string]string{"y": "backward", "n": "forward"}[s.answer("turning")])
	line("drop-by = %q", s.answer("drop-by"))
	line("bare-numbers = %q", s.answer("bare-numbers"))
	if m := s.answer("master"); m != "none" {
		line("master = %q", m)
	}
	line("\n[grinder]")
	if d := s.answer("division"); d != notKnown {
		line("division = %q", d)
	}
	line("reads = %q", s.answer("reads"))
	if a := s.answer("feed"); a != "y" {
		line("feed-angle = %q", a)
	}
	wheel := strings.Split(s.answer("wheel"), ", ")
	if len(wheel) == 4 {
		line("rpm = %s", wheel[3])
	}
	heights := `"radial-runout", "axial-runout", "shank-runout", "master", "relief-drop", "secondary-drop", "end-relief-drop", "end-secondary-drop", "dish"`
	for _, g := range s.gauges {
		p := g.Profile
		if d := s.answer("dial"); d != notKnown {
			if r, err := length.Parse(d, length.None); err == nil {
				p.Resolution = r
			}
		}
		line("\n[[gauge]]\n%sfeatures = [%s]", p.TOML(), heights)
	}
	if d := s.answer("dial"); d != notKnown && s.gauges == nil {
		line("\n# Read by eye and typed: no port.\n[[gauge]]\nname = \"dial indicator\"\nunit = %q\nresolution = %q\nfeatures = [%s]", s.answer("unit"), d, heights)
	}
	line("\n# Read by eye and typed: no port.\n[[gauge]]\nname = \"loupe\"\nunit = %q\nresolution = %q\nfeatures = [\"wear-land\", \"primary-land\", \"land\", \"end-primary-land\", \"end-land\"]", s.answer("unit"), s.answer("loupe"))
	if len(wheel) > 1 {
		line("\n[[wheel]]\nname = %q\ndiameter = %q\nmarked-rpm = %s", wheel[0], wheel[1], wheel[2])
	}
	return b.String()
}
