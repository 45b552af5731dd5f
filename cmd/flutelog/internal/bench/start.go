package bench

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// Start is a bench file made by questions: one line answers each, Enter takes what stands in brackets. Nothing is written
// until the last yes.
type Start struct {
	Path    string       // of the file to be
	answers []string     // so far; b keeps those behind it
	at      int          // which question is asked
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

// usual is the bracket of what the program has a place for.
const usual = "usual"

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
		{"ledger", "Folder of the records?", usual, "Where readings and rulings are kept, as /home/bench/ledger; usual: flutelog-ledger in the home folder.", func(_ *Start, t string) (string, error) { return t, checkLine(t) }},
		{"inspectors", "Who may sign? (commas; none = anyone)", "none", "Their names as they stand on papers, with commas between.", func(_ *Start, t string) (string, error) { return t, checkLine(t) }},
		{"grinder", "What is the grinder called?", "none", "As it stands in records and trends; none leaves it out.", func(_ *Start, t string) (string, error) { return t, checkLine(t) }},
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
		{"last-round", "Last round at the wheel: half a turn on, or first?", "half", "half: the flutes come 1 2 3 4, in the last round 3 4 1 2, from which a wearing wheel is told; first: each round begins on flute 1.", oneOf("half", "first")},
		{"sends-out", "What is sent out, not done here? (commas)", "form", "Of: cut back, gash, face, corner, form. form is of balls and corner radii; none: all is done here.", sentOut},
		{"holding", "Held how when indicated: fixture, vee, collet?", "fixture", "How the tool is held while it is indicated.", oneOf("fixture", "vee", "collet")},
		{"tie", "Edges read to the shank before a release? (y/n)", "y", "Read in the fixture alone a tool is true in the fixture only. y: the shank is read too, and a release says so.", oneOf("y", "n")},
		{"turning", "Turned backwards under the contact? (y/n)", "y", "Backwards spares edge and contact; flute 1 is then followed by the last.", oneOf("y", "n")},
		{"drop-by", "A drop is read how: turn the tool, or slide?", "turn", "turn: the tool is turned under the indicator; slide: the table is moved across. They differ by 2 degrees of relief.", oneOf("turn", "slide")},
		{"dial", "One division of the dial indicator?", notKnown, "Read it off the face, as .0001 or 1 tenth. It must be known before a tool can be released: a coarse dial cannot show a fine run-out. .0001 suits a limit of .0005 or more; .0005 does not.", (*Start).length},
		{"dial-error", "That indicator's permissible error?", notKnown, "Off its certificate, as .0001: how far it may be wrong. A release reckons with it.", (*Start).length},
		{"dial-due", "That indicator is calibrated till?", notKnown, "A date, as 2027-03-31: the board says when it is due.", orNotKnown(func(_ *Start, t string) (string, error) {
			if _, err := time.Parse(time.DateOnly, t); err != nil {
				return "", fmt.Errorf("a date, as 2027-03-31")
			}
			return t, nil
		})},
		{"micrometer", "One division of the micrometer?", notKnown, "Read it off the thimble, as .0001. The diameter is read with it.", (*Start).length},
		{"loupe", "One division in the loupe?", ".001", "Of its scale, as .001 or .005.", (*Start).length},
		{"bare-numbers", "A bare whole number typed: divisions, or refused?", "refused", "divisions: 3 is three divisions of what it is read with, shown back as a length.", oneOf("divisions", "refused")},
		{"master", "Master pin, its diameter? (none)", "none", "Of the pin that tools are compared with.", orNone((*Start).length)},
		{"wheel", "Wheels: name, diameter, rpm marked on it? (none)", "none", "As cup 4, 4, 5000, hss, aluminium oxide, vitrified; a semicolon before the next. A second speed is what the grinder turns it at. The speed marked on it is never exceeded.", (*Start).wheels},
		{"gauge", "A gauge with a lead? listen, or none", "none", "listen: plug it in and press its button; its table is made from what comes.", func(s *Start, t string) (string, error) {
			if strings.EqualFold(t, "listen") {
				s.Listen = true
				return "listen", nil
			}
			if strings.EqualFold(t, "none") {
				s.gauges = nil
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

func orNotKnown(read func(*Start, string) (string, error)) func(*Start, string) (string, error) {
	return func(s *Start, t string) (string, error) {
		if strings.EqualFold(t, notKnown) {
			return notKnown, nil
		}
		return read(s, t)
	}
}

// parts takes a line apart at commas, or another sign between.
func parts(t, between string) []string {
	var all []string
	for _, part := range strings.Split(t, between) {
		if part = strings.TrimSpace(part); part != "" {
			all = append(all, part)
		}
	}
	return all
}

func sentOut(_ *Start, t string) (string, error) {
	if strings.EqualFold(t, "none") {
		return "none", nil
	}
	var all []string
	for _, part := range parts(t, ",") {
		do := inspect.Do(strings.ToLower(part))
		if !slices.Contains(inspect.CanBeAway, do) {
			return "", fmt.Errorf("some of cut back, gash, face, corner, form, with commas between; or none")
		}
		all = append(all, string(do))
	}
	return strings.Join(all, ", "), nil
}

func checkLine(t string) error {
	if strings.ContainsAny(t, "\"\\\n\r\t") || len([]rune(t)) > 200 {
		return fmt.Errorf("letters, figures and blanks, without quotation marks")
	}
	return nil
}

// length reads a length that must be more than zero.
func (s *Start) length(t string) (string, error) {
	if strings.EqualFold(t, notKnown) {
		return notKnown, nil
	}
	typed, err := length.Entry{Unit: s.Unit()}.Parse(t)
	if err != nil {
		return "", err
	}
	if typed.Value <= 0 || typed.Value > 6*length.Inch {
		return "", errors.New(words.Like("a size of more than 0 and at most 6 inches, as .001", s.Unit()))
	}
	return typed.Text + string(typed.Unit), nil
}

// wheels reads wheels with semicolons between, and keeps them so.
func (s *Start) wheels(t string) (string, error) {
	if strings.EqualFold(t, "none") {
		return "none", nil
	}
	var all []string
	for _, one := range parts(t, ";") {
		w, rpm, err := s.wheel(one)
		if err != nil {
			return "", err
		}
		text := fmt.Sprintf("%s, %s, %d", w.Name, s.size(w.Diameter), w.MarkedRPM)
		if rpm > 0 {
			text += fmt.Sprintf(", %d", rpm)
		}
		for _, m := range w.Materials {
			text += ", " + string(m)
		}
		for _, more := range []string{w.Abrasive, w.Bond, w.Rotation} {
			if more != "" {
				text += ", " + more
			}
		}
		all = append(all, text)
	}
	return strings.Join(all, "; "), nil
}

// size spells a length with its unit and no more decimals than it has.
func (s *Start) size(l length.Length) string {
	return strings.TrimSuffix(strings.TrimRight(l.Format(s.Unit(), 6), "0"), ".") + string(s.Unit())
}

// Bonds of a wheel, and how its rim may come to the edge.
var (
	bonds     = []string{"vitrified", "resin", "metal", "rubber"}
	rotations = []string{"onto the edge", "off the edge"}
)

// wheel reads one wheel: its name, diameter and marked speed, then in any order the speed it is turned at, what it grinds, its
// abrasive, its bond and its rotation.
func (s *Start) wheel(t string) (w Wheel, rpm int, err error) {
	told := parts(t, ",")
	if len(told) < 3 {
		return w, 0, errors.New(words.Like("name, diameter and marked speed with commas between, as cup 4, 4, 5000", s.Unit()))
	}
	d, err := s.length(told[1])
	if err != nil || d == notKnown {
		return w, 0, cmp.Or(err, errors.New(words.Like("its diameter is wanted, as cup 4, 4, 5000", s.Unit())))
	}
	w.Name = told[0]
	w.Diameter, _ = length.Parse(d, length.None)
	if err := checkLine(t); err != nil {
		return w, 0, err
	}
	for i, part := range told[2:] {
		word := strings.ToLower(part)
		n, err := strconv.Atoi(part)
		switch {
		case i == 0 && (err != nil || n < 1):
			return w, 0, fmt.Errorf("the speed is a whole number of turns a minute, as marked on the wheel")
		case i == 0:
			w.MarkedRPM = n
		case err == nil && n > 0 && rpm == 0:
			rpm = n
		case slices.Contains(inspect.ToolWords("material"), word):
			w.Materials = append(w.Materials, inspect.Material(word))
		case slices.Contains(bonds, word):
			w.Bond = word
		case slices.Contains(rotations, word):
			w.Rotation = word
		case err != nil && w.Abrasive == "":
			w.Abrasive = word
		default:
			return w, 0, fmt.Errorf("%s: behind the speeds stand what it grinds (%s), its abrasive, its bond (%s) and %s", part, strings.Join(inspect.ToolWords("material"), ", "), strings.Join(bonds, ", "), strings.Join(rotations, " or "))
		}
	}
	return w, rpm, nil
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
func (s *Start) bracket(q startQuestion) string { return words.Like(q.bracket, s.Unit()) }

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
		if s.at == 0 {
			s.refused = "This is the first question."
			return
		}
		s.at--
		return
	case s.at == len(startQuestions()):
		switch strings.ToLower(text) {
		case "y", "yes":
			s.Ended, s.Written = true, true
		default:
			s.refused = "y writes it; b goes back; q stops, nothing written."
		}
		return
	}
	q := startQuestions()[s.at]
	if text == "" && s.at < len(s.answers) { // b went back over it
		s.at++
		return
	}
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
		s.take(kept)
	}
}

// take keeps an answer and goes on to the next question.
func (s *Start) take(answer string) {
	if s.at == len(s.answers) {
		s.answers = append(s.answers, "")
	}
	s.answers[s.at] = answer
	s.at++
}

// Heard answers the question for a gauge: with its profile, or with why none was made.
func (s *Start) Heard(p device.Profile, err error) {
	s.Listen = false
	if err != nil {
		s.refused = err.Error() + ". listen tries again; none leaves it out."
		return
	}
	s.gauges = []GaugeTable{{Profile: p}}
	s.take(p.Name + ", " + p.Port)
}

// shownAtOnce is how many questions a screen has room for, and shortAnswer how many characters of an answer beside one.
const shownAtOnce, shortAnswer = 13, 19

// Lines are the questions with their brackets and answers, for a screen: those about the one that is asked; Help is about that.
func (s *Start) Lines() (lines []string, help, refused, label string) {
	all := startQuestions()
	from := max(0, min(s.at-shownAtOnce+4, len(all)-shownAtOnce))
	for i, q := range all[from : from+shownAtOnce] {
		i += from
		bracket := s.bracket(q)
		if i < len(s.answers) && i >= s.at {
			bracket = s.answers[i] // what Enter keeps
		}
		line := fmt.Sprintf("%2d %-51s ", i+1, q.ask)
		switch {
		case i < s.at:
			line += inShort(s.answers[i])
		case i == s.at:
			line += "[" + inShort(bracket) + "] _"
		default:
			line += "[" + inShort(bracket) + "]"
		}
		lines = append(lines, strings.TrimRight(line, " "))
	}
	switch {
	case s.Listen:
		return lines, "Listening on every port. Press the gauge's button once or twice.", s.refused, "listening"
	case s.at < len(all):
		return lines, words.Like(all[s.at].help, s.Unit()), s.refused, fmt.Sprintf("%d of %d", s.at+1, len(all))
	}
	return lines, "Write " + s.Path + " here? y. Limits and what is asked at each stage are the usual; flutelog bench example shows how to state others.", s.refused, "y"
}

// inShort is an answer as one line of the screen has room for it beside its question.
func inShort(answer string) string {
	if r := []rune(answer); len(r) > shortAnswer {
		return string(r[:shortAnswer-2]) + ".."
	}
	return answer
}

// Text is the bench file that the answers come to.
func (s *Start) Text() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line("# Made by questions: flutelog bench start. flutelog bench example shows every key.")
	line("name = %q", s.answer("name"))
	line("unit = %q", s.answer("unit"))
	if folder := s.answer("ledger"); folder != usual {
		line("ledger = %q", folder)
	}
	if who := s.answer("inspectors"); !strings.EqualFold(who, "none") {
		line("inspectors = %s", quoted(parts(who, ",")))
	}
	line("holding = %q", s.answer("holding"))
	line("tie = %q", map[string]string{"y": "shank", "n": "none"}[s.answer("tie")])
	line("turning = %q", map[string]string{"y": "backward", "n": "forward"}[s.answer("turning")])
	line("drop-by = %q", s.answer("drop-by"))
	line("last-round = %q", s.answer("last-round"))
	line("bare-numbers = %q", s.answer("bare-numbers"))
	if m := s.answer("master"); m != "none" {
		line("master = %q", m)
	}
	line("\n[grinder]")
	if name := s.answer("grinder"); !strings.EqualFold(name, "none") {
		line("name = %q", name)
	}
	if d := s.answer("division"); d != notKnown {
		line("division = %q", d)
	}
	line("reads = %q", s.answer("reads"))
	if a := s.answer("feed"); a != "y" {
		line("feed-angle = %q", a)
	}
	away := parts(s.answer("sends-out"), ",")
	if s.answer("sends-out") == "none" {
		away = nil
	}
	line("sends-out = %s", quoted(away))
	var wheels []Wheel
	if t := s.answer("wheel"); t != "none" {
		turned := 0
		for _, one := range parts(t, ";") {
			w, rpm, _ := s.wheel(one) // it was read when it was answered
			wheels, turned = append(wheels, w), max(turned, rpm)
		}
		if turned > 0 {
			line("rpm = %d", turned)
		}
	}
	byEye := func(name, division string, features ...string) {
		line("\n# Read by eye and typed: no port.\n[[gauge]]\nname = %q\nunit = %q\nresolution = %q\nfeatures = %s", name, s.answer("unit"), division, quoted(features))
	}
	certificate := func() {
		if e := s.answer("dial-error"); e != notKnown {
			line("permissible-error = %q", e)
		}
		if due := s.answer("dial-due"); due != notKnown {
			line("calibration-due = %q", due)
		}
	}
	var heights []string
	for _, f := range indicated {
		heights = append(heights, string(f))
	}
	for _, g := range s.gauges {
		p := g.Profile
		if d := s.answer("dial"); d != notKnown {
			if r, err := length.Parse(d, length.None); err == nil {
				p.Resolution = r
			}
		}
		line("\n[[gauge]]\n%sfeatures = %s", p.TOML(), quoted(heights))
		certificate()
	}
	if d := s.answer("dial"); d != notKnown && s.gauges == nil {
		byEye("dial indicator", d, heights...)
		certificate()
	}
	byEye("loupe", s.answer("loupe"), "wear-land", "primary-land", "land", "end-primary-land", "end-land")
	if d := s.answer("micrometer"); d != notKnown {
		byEye("micrometer", d, "diameter")
	}
	for _, w := range wheels {
		line("\n[[wheel]]\nname = %q\ndiameter = %q\nmarked-rpm = %d", w.Name, s.size(w.Diameter), w.MarkedRPM)
		var materials []string
		for _, m := range w.Materials {
			materials = append(materials, string(m))
		}
		if materials != nil {
			line("materials = %s", quoted(materials))
		}
		for _, more := range []struct{ key, value string }{{"abrasive", w.Abrasive}, {"bond", w.Bond}, {"rotation", w.Rotation}} {
			if more.value != "" {
				line("%s = %q", more.key, more.value)
			}
		}
	}
	return b.String()
}

// quoted is a list as a bench file spells it.
func quoted(texts []string) string {
	var all []string
	for _, t := range texts {
		all = append(all, strconv.Quote(t))
	}
	return "[" + strings.Join(all, ", ") + "]"
}
