package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"

	"golang.org/x/term"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/inquiry"
	"flutelog/cmd/flutelog/internal/tools"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/text"
)

// boardFlags are the flags of the board.
type boardFlags struct {
	command.Places
	command.Units
}

func boardCommand() command.Command {
	var b boardFlags
	return command.Command{
		Name: "board", Args: "[TOOL]",
		Summary: "what waits at this bench: locked, half read, to grind, to inspect, to sign, jobs, gauges due; flutelog alone is the same",
		Example: "board --json",
		Flags:   func(f *command.Flags) { b.Places.Flags(f); b.Units.Flags(f) },
		Run:     func(e command.Env, f *command.Flags) error { return b.run(e, f.Args) },
	}
}

func (b *boardFlags) run(e command.Env, args []string) error {
	if len(args) == 1 {
		// A slip of the fingers must not begin a ledger.
		if file, err := b.ReadBench(e); err == nil {
			if dir, err := b.LedgerFolder(e, file); err == nil {
				if _, err := os.Stat(dir); err != nil {
					return command.Hint(command.Usagef("%q: no such command, and there is no ledger at %s yet", args[0], dir), "see flutelog --help")
				}
			}
		}
	}
	at, err := b.OpenIn(e, &b.Units)
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
	if b.JSON {
		return command.PrintJSON(e, waits)
	}
	if !command.AtTerminal(e) {
		for _, l := range waits.Text(b.head(e, at)) {
			fmt.Fprintln(e.Stdout, l)
		}
		return nil
	}
	e.Sender.Keep()
	return b.atTerminal(e, at)
}

// gather reads what waits; damage is said on standard error, and the rest goes on.
func gather(e command.Env, at command.Opened) (board.Board, error) {
	var gauges []board.Calibrated
	for _, g := range at.Bench.Gauges {
		gauges = append(gauges, board.Calibrated{Name: g.Name, CalibrationDue: g.CalibrationDue})
	}
	waits, err := board.Gather(at.Ledger, gauges, e.Now())
	return waits, command.Damaged(e, err)
}

func (b *boardFlags) head(e command.Env, at command.Opened) board.Head {
	h := board.Head{Bench: at.Bench.Name, Now: e.Now().Local(), Unit: at.Unit, Marks: e.Marks()}
	if h.Bench == "" {
		h.Bench = "bench"
	}
	h.Register = register.Line(at.Ledger, h.Now)
	return h
}

// tool shows the card of one tool, by its id, a part of it, or what its tag says; at a terminal its next step is begun
// from there.
func (b *boardFlags) tool(e command.Env, at command.Opened, typed string) error {
	found, err := match(e, at, typed)
	if err != nil {
		return command.Hint(command.Usagef("%q: no such command, and no tool's id holds it", typed), "see flutelog --help, or flutelog tool list for the tools")
	}
	if len(found) > 1 {
		return command.Usagef("%q: %d tools: %s", typed, len(found), strings.Join(found[:min(len(found), 20)], ", "))
	}
	if b.JSON || !command.AtTerminal(e) {
		if err := command.AskElsewhere(e, at.Ledger, record.ToolSubject(found[0])); err != nil {
			return err
		}
	}
	card, err := board.GatherCard(at.Ledger, found[0], at.Bench.Basis)
	if err != nil {
		return err
	}
	if b.JSON {
		return tools.Show(e, card.ID, &b.Places, &b.Units)
	}
	if !command.AtTerminal(e) {
		for _, l := range card.Lines(at.Unit, e.Marks(), command.LineWidth) {
			fmt.Fprintln(e.Stdout, l)
		}
		fmt.Fprintln(e.Stdout, "\n "+e.Marks().With(mark.Next, "Next: "+card.Next().Words))
		return card.Damage
	}
	s := &sitting{e: e, b: b, at: at, in: command.TerminalOf(e)}
	_, err = s.card(found[0])
	return err
}

// match returns the tools that typed text means: those known here, or else the one of that very id that a register knows.
func match(e command.Env, at command.Opened, typed string) ([]string, error) {
	found, err := board.Match(at.Ledger, typed)
	if err == nil {
		return found, nil
	}
	if _, asked := inquiry.New(at.Ledger, e.Now).Look(record.ToolSubject(strings.TrimPrefix(typed, board.TagPrefix))); asked != nil {
		return nil, asked
	}
	return board.Match(at.Ledger, typed)
}

// sitting is a person at the board.
type sitting struct {
	e  command.Env
	b  *boardFlags
	at command.Opened
	in *os.File
}

// line reads one line; false where the input has ended.
func (s *sitting) line(prompt string) (string, bool) {
	fmt.Fprint(s.e.Stdout, prompt)
	typed, err := command.ReadLine(s.in)
	return strings.TrimSpace(typed), err == nil
}

// ask shows a screen with what there is to say of the last line, and takes the next: whole, and its first word with the rest.
func (s *sitting) ask(screen []string, said string) (typed, word, rest string, going bool) {
	for _, l := range screen {
		fmt.Fprintln(s.e.Stdout, l)
	}
	prompt := " > "
	if said != "" {
		prompt = " -> " + command.Wrapped(said, command.LineWidth-5, "    ") + "\n > "
	}
	typed, going = s.line(prompt)
	word, rest, _ = strings.Cut(typed, " ")
	return typed, word, rest, going
}

// run begins another command from here, as a program of its own: it has the terminal to itself, and leaves nothing that
// still reads from it.
func (s *sitting) run(args ...string) {
	for _, place := range []struct{ flag, value string }{{"--ledger", s.b.Ledger}, {"--bench", s.b.Bench}} {
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
		fmt.Fprintf(s.e.Stderr, "flutelog: %v\n", err)
	}
	s.line(" Enter: back ")
}

// size is the terminal's, or the one that every terminal has.
func (s *sitting) size() (width, height int) {
	if f := command.TerminalOf(s.e); f != nil {
		if w, h, err := term.GetSize(int(f.Fd())); err == nil && w >= 40 && h >= 12 {
			return w, h
		}
	}
	return command.LineWidth, 24
}

// AtTerminal is a sitting at the board: each round draws it anew and takes one line.
func (b *boardFlags) atTerminal(e command.Env, at command.Opened) error {
	s := &sitting{e: e, b: b, at: at, in: command.TerminalOf(e)}
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
		typed, word, rest, going := s.ask(lines, said)
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
	found, err := match(s.e, s.at, typed)
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
	t := inspect.Tool{ID: id, Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
	if err := t.Check(); err != nil {
		return text.Show(err.Error())
	}
	args := []string{"tool", "add", id}
	for _, ask := range []struct {
		flag, words string
		take        func(typed string) (string, error)
	}{
		{"--diameter", " Its diameter, such as 1/2in or 12mm > ", func(typed string) (string, error) {
			d, err := length.Entry{Unit: s.at.Unit}.Parse(typed)
			if err == nil && d.Whole && d.Bare && s.at.Unit == length.In && d.Value > length.Inch {
				return "", fmt.Errorf("%s inches, or millimetres? Type the unit behind it", typed)
			}
			t.Diameter = d.Value
			return d.Text + string(d.Unit), err
		}},
		{"--flutes", " How many flutes > ", func(typed string) (string, error) {
			n, err := strconv.Atoi(typed)
			if err != nil {
				return "", errors.New("a number, such as 4")
			}
			t.Flutes = n
			return typed, nil
		}},
		{"--material", " " + command.OneOf(inspect.ToolWords("material")...) + " > ", func(typed string) (string, error) {
			t.Material = inspect.Material(strings.ToLower(typed))
			return string(t.Material), nil
		}},
	} {
		words := ask.words
		for {
			typed, ok := s.line(words)
			if !ok || typed == "" {
				return "Nothing was added."
			}
			value, err := ask.take(typed)
			if err == nil {
				err = t.Check()
			}
			if err == nil {
				args = append(args, ask.flag, value)
				break
			}
			words = " -> " + text.Show(err.Error()) + "\n" + ask.words
		}
	}
	s.run(args...)
	return ""
}

// card shows a tool's card and does what is asked there; false when the sitting is left.
func (s *sitting) card(id string) (going bool, err error) {
	said, err := inquiry.New(s.at.Ledger, s.e.Now).Look(record.ToolSubject(id))
	if err != nil {
		return true, err
	}
	for {
		card, err := board.GatherCard(s.at.Ledger, id, s.at.Bench.Basis)
		if err != nil {
			return true, err
		}
		width, height := s.size()
		step := card.Next()
		typed, word, rest, ok := s.ask(card.Screen(s.at.Unit, s.e.Marks(), width, height-1), said)
		said = ""
		switch {
		case !ok:
			return false, nil
		case typed == "q", typed == "b":
			return true, nil
		case typed == "" && step.Back != "":
			// Begun, it is let out no more: an Enter too many does not take a tool off the shelf.
			if yes, _ := s.line(" " + step.Back + " y begins the inspection before the grind, and its tag stands no more > "); strings.EqualFold(strings.TrimSpace(yes), "y") {
				s.inspect(id, step.Stage)
			} else {
				said = "Nothing was begun: it stands as it stood."
			}
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
			if other, err := (papers.Source{Ledger: s.at.Ledger}).ToolID(typed); err == nil {
				return s.card(other) // another tool's number, or its tag
			}
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
	if names := s.at.Bench.Inspectors; len(names) > 0 {
		who += " (" + strings.Join(names, ", ") + ")"
	}
	by, _ := s.line(who + " > ")
	if by == "" {
		return "Nothing was decided."
	}
	args := []string{"tool", word, about, "--by", by}
	if word == string(record.Release) {
		if _, err := inquiry.New(s.at.Ledger, s.e.Now).ToRule("", record.ToolSubject(card.ID)); err != nil {
			fmt.Fprintln(s.e.Stdout, " "+text.Show(err.Error()))
			why = true
		}
	}
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
