package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"

	"golang.org/x/term"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/inspect"
	"flutelog/inspect/text"
)

// boardFlags are the flags of the board.
type boardFlags struct {
	places
	units
}

func boardCommand() command {
	var b boardFlags
	return command{
		name: "board", args: "[TOOL]",
		summary: "what waits at this bench: locked, half read, to grind, to inspect, to sign, jobs, gauges due; flutelog alone is the same",
		example: "board --json",
		flags:   func(f *flags) { b.places.flags(f); b.units.flags(f) },
		run:     func(e env, f *flags) error { return b.run(e, f.args) },
	}
}

func (b *boardFlags) run(e env, args []string) error {
	if len(args) == 1 {
		// A slip of the fingers must not begin a ledger.
		if file, err := b.readBench(e); err == nil {
			if dir, err := b.ledgerFolder(e, file); err == nil {
				if _, err := os.Stat(dir); err != nil {
					return hint(usagef("%q: no such command, and there is no ledger at %s yet", args[0], dir), "see flutelog --help")
				}
			}
		}
	}
	at, err := b.openIn(e, &b.units)
	if err != nil {
		return err
	}
	if len(args) == 1 {
		return b.tool(e, at, args[0])
	}
	waits, err := gather(e, at)
	if err != nil {
		return err
	}
	if b.json {
		return printJSON(e, waits)
	}
	if !atTerminal(e) {
		for _, l := range waits.Text(b.head(e, at)) {
			fmt.Fprintln(e.stdout, l)
		}
		return nil
	}
	return b.atTerminal(e, at)
}

// atTerminal says whether a person types and reads at a terminal.
func atTerminal(e env) bool {
	out := e.stdout
	if shown, ok := out.(interface{ Under() io.Writer }); ok {
		out = shown.Under()
	}
	f, ok := out.(*os.File)
	return ok && term.IsTerminal(int(f.Fd())) && terminalOf(e) != nil
}

// gather reads what waits; damage is said on standard error, and the rest goes on.
func gather(e env, at opened) (board.Board, error) {
	var gauges []board.Calibrated
	for _, g := range at.bench.Gauges {
		gauges = append(gauges, board.Calibrated{Name: g.Name, CalibrationDue: g.CalibrationDue})
	}
	waits, err := board.Gather(at.Ledger, gauges, e.now())
	return waits, damaged(e, err)
}

func (b *boardFlags) head(e env, at opened) board.Head {
	h := board.Head{Bench: at.bench.Name, Now: e.now().Local(), Unit: at.unit}
	if h.Bench == "" {
		h.Bench = "bench"
	}
	return h
}

// tool shows the card of one tool, by its id, a part of it, or what its tag says; at a terminal its next step is begun
// from there.
func (b *boardFlags) tool(e env, at opened, typed string) error {
	found, err := board.Match(at.Ledger, strings.TrimPrefix(typed, tagPrefix))
	if err != nil {
		return hint(usagef("%q: no such command, and no tool's id holds it", typed), "see flutelog --help, or flutelog tool list for the tools")
	}
	if len(found) > 1 {
		return usagef("%q: %d tools: %s", typed, len(found), strings.Join(found[:min(len(found), 20)], ", "))
	}
	card, err := board.GatherCard(at.Ledger, found[0], at.bench.Basis)
	if err != nil {
		return err
	}
	if b.json {
		return showTool(e, card.ID, &b.places, &b.units)
	}
	if !atTerminal(e) {
		for _, l := range card.Lines(at.unit, lineWidth) {
			fmt.Fprintln(e.stdout, l)
		}
		fmt.Fprintln(e.stdout, "\n Next: "+card.Next().Words)
		return card.Damage
	}
	s := &sitting{e: e, b: b, at: at, in: terminalOf(e)}
	_, err = s.card(found[0])
	return err
}

// tagPrefix begins what the code on a tag says; a tool's id follows.
const tagPrefix = "T."

// sitting is a person at the board.
type sitting struct {
	e  env
	b  *boardFlags
	at opened
	in *os.File
}

// line reads one line; false where the input has ended.
func (s *sitting) line(prompt string) (string, bool) {
	fmt.Fprint(s.e.stdout, prompt)
	typed, err := readLine(s.in)
	return strings.TrimSpace(typed), err == nil
}

func (s *sitting) say(lines ...string) {
	for _, l := range lines {
		fmt.Fprintln(s.e.stdout, l)
	}
}

// run begins another command from here, as a program of its own: it has the terminal to itself, and leaves nothing that
// still reads from it.
func (s *sitting) run(args ...string) {
	for _, place := range []struct{ flag, value string }{{"--ledger", s.b.ledger}, {"--bench", s.b.bench}} {
		if place.value != "" && args[0] != "help" {
			args = append(args, place.flag, place.value)
		}
	}
	self, err := os.Executable()
	if err == nil {
		cmd := exec.Cmd{Path: self, Args: append(os.Args[:1:1], args...), Stdin: s.in, Stdout: os.Stdout, Stderr: os.Stderr}
		err = cmd.Run()
	}
	if exit := new(exec.ExitError); err != nil && !errors.As(err, &exit) {
		fmt.Fprintf(s.e.stderr, "flutelog: %v\n", err)
	}
	s.line(" Enter: back ")
}

// size is the terminal's, or the one that every terminal has.
func (s *sitting) size() (width, height int) {
	if f := terminalOf(s.e); f != nil {
		if w, h, err := term.GetSize(int(f.Fd())); err == nil && w >= 40 && h >= 12 {
			return w, h
		}
	}
	return lineWidth, 24
}

// atTerminal is a sitting at the board: each round draws it anew and takes one line.
func (b *boardFlags) atTerminal(e env, at opened) error {
	s := &sitting{e: e, b: b, at: at, in: terminalOf(e)}
	skip, said := 0, ""
	for {
		waits, err := gather(e, at)
		if err != nil {
			return err
		}
		width, height := s.size()
		var lines []string
		var choices []board.Choice
		next := 0
		if waits.Empty {
			lines = board.FirstRun(b.head(e, at), at.Dir(), width, height-1)
		} else {
			lines, choices, next = waits.Draw(b.head(e, at), skip, width, height-1)
		}
		s.say(lines...)
		prompt := " > "
		if said != "" {
			prompt = " -> " + said + "\n > "
		}
		typed, going := s.line(prompt)
		word, rest, _ := strings.Cut(typed, " ")
		said = ""
		switch {
		case !going || typed == "q":
			return nil
		case typed == "m":
			skip = next
		case typed == "?":
			s.run("help", "board")
		case typed == "" && len(choices) == 0:
			said = "Nothing typed."
		case typed == "":
			said, going = s.open(waits.First(choices))
		case word == "f" && rest != "":
			s.run("tool", "find", rest)
		case word == "a" && rest != "":
			said = s.add(rest)
		default:
			said, going = s.chosen(typed, choices)
		}
		if !going {
			return nil
		}
	}
}

// chosen opens what a number, a part of an id or a scan means; it says what it could not.
func (s *sitting) chosen(typed string, choices []board.Choice) (said string, going bool) {
	if n, err := strconv.Atoi(typed); err == nil && n >= 1 && n <= len(choices) {
		return s.open(choices[n-1])
	}
	found, err := board.Match(s.at.Ledger, strings.TrimPrefix(typed, tagPrefix))
	switch {
	case err != nil:
		return fmt.Sprintf("%s: no tool's number holds that, and the list has no such number.", text.Show(typed)), true
	case len(found) > 1:
		return fmt.Sprintf("%s: %d tools: %s. Type more of it.", text.Show(typed), len(found), strings.Join(found[:min(len(found), 8)], ", ")), true
	}
	return s.open(board.Choice{Tool: found[0]})
}

func (s *sitting) open(c board.Choice) (said string, going bool) {
	if c.Job != "" {
		s.run("job", "show", c.Job)
		return "", true
	}
	going, err := s.card(c.Tool)
	if err != nil {
		return text.Show(err.Error()), true
	}
	return "", going
}

// add asks what a new tool is.
func (s *sitting) add(id string) string {
	args := []string{"tool", "add", id}
	for _, ask := range []struct{ flag, words string }{
		{"--diameter", " Its diameter, such as 1/2in or 12mm > "},
		{"--flutes", " How many flutes > "},
		{"--material", " hss, cobalt or carbide > "},
	} {
		typed, ok := s.line(ask.words)
		if !ok || typed == "" {
			return "Nothing was added."
		}
		args = append(args, ask.flag, typed)
	}
	s.run(args...)
	return ""
}

// card shows a tool's card and does what is asked there; false when the sitting is left.
func (s *sitting) card(id string) (going bool, err error) {
	said := ""
	for {
		card, err := board.GatherCard(s.at.Ledger, id, s.at.bench.Basis)
		if err != nil {
			return true, err
		}
		width, height := s.size()
		step := card.Next()
		s.say(card.Screen(s.at.unit, width, height-1)...)
		prompt := " > "
		if said != "" {
			prompt = " -> " + said + "\n > "
		}
		typed, ok := s.line(prompt)
		word, rest, _ := strings.Cut(typed, " ")
		said = ""
		switch {
		case !ok:
			return false, nil
		case typed == "q", typed == "b":
			return true, nil
		case typed == "" && step.Stage != "":
			s.inspect(id, step.Stage)
		case typed == "" && step.Sign:
			said = s.rule(card, "release", false)
		case typed == "":
			said = "Nothing to begin: " + step.Words + "."
		case typed == "o":
			stage, _ := s.line(" before, between or after > ")
			if stage, err := inspect.ParseStage(stage); err == nil {
				s.inspect(id, stage)
			} else {
				said = err.Error()
			}
		case typed == "l":
			s.run("tool", "show", id)
		case typed == "h":
			s.run("history", id)
		case typed == "p":
			s.run("tag", id, "-o", "tag-"+board.FileName(id)+".html")
		case word == "n" && rest != "":
			s.run("tool", "note", id, rest)
		case typed == "g":
			s.run("tool", "ground", id)
		case typed == "release", typed == "concession", typed == "withdraw":
			said = s.rule(card, typed, typed != "release")
		case typed == "unlock":
			said = s.rule(card, typed, true)
		default:
			said = text.Show(typed) + ": not a key of this card."
		}
	}
}

func (s *sitting) inspect(id string, stage inspect.Stage) {
	s.run("inspect", id, "--stage", string(stage))
}

// rule asks who decides and, where it is wanted, why; the PIN is asked where that person has one.
func (s *sitting) rule(card board.Card, word string, why bool) string {
	about := card.Inspection
	switch {
	case word == "unlock" || about == "" && word == "withdraw":
		about = card.ID
	case about == "":
		return "No inspection of it is closed: there is nothing to rule on."
	}
	who := " Who decides"
	if names := s.at.bench.Inspectors; len(names) > 0 {
		who += " (" + strings.Join(names, ", ") + ")"
	}
	by, _ := s.line(who + " > ")
	if by == "" {
		return "Nothing was decided."
	}
	args := []string{"tool", word, about, "--by", by}
	if why {
		reason, _ := s.line(" Why > ")
		if reason == "" {
			return "Nothing was decided: a reason is wanted."
		}
		args = append(args, "--why", reason)
	}
	s.run(args...)
	return ""
}
