package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/people"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// signFlags are the flags of whoever puts their name to something.
type signFlags struct {
	by, why, pinFile string
}

func (s *signFlags) flags(f *flags) {
	f.StringVar(&s.by, "by", "", "who decides")
	f.StringVar(&s.why, "why", "", "why")
	f.StringVar(&s.pinFile, "pin-file", "", "file with the PIN of who decides, for scripts (default: it is asked)")
}

// who returns who decides, once they are known to be who they say: one of those who may sign, where the bench file
// lists them, with their PIN where they have one.
func (s *signFlags) who(e env, b *bench.File, l *ledger.Ledger, why bool) (record.Who, error) {
	var err error
	if why && strings.TrimSpace(s.why) == "" {
		return record.Who{}, usagef("--why is needed: the reason")
	}
	by := strings.TrimSpace(s.by)
	if by == "" && len(b.Inspectors) == 0 {
		if by, err = askName(e); err != nil {
			return record.Who{}, err
		}
	}
	if by == "" {
		return record.Who{}, usagef("--by is needed: who decides")
	}
	if err := b.CheckInspector(by); err != nil {
		return record.Who{}, usage(err)
	}
	known, err := people.Read(l.Dir())
	if err != nil {
		return record.Who{}, err
	}
	if known.Asks(by) {
		pin, err := s.pin(e, by)
		if err != nil {
			return record.Who{}, err
		}
		if err := known.Check(by, pin); err != nil {
			return record.Who{}, usage(err)
		}
	}
	return record.Who{By: by, Why: strings.TrimSpace(s.why), At: e.now()}, nil
}

// pin returns the PIN of a person who has one.
func (s *signFlags) pin(e env, name string) (string, error) {
	if s.pinFile != "" {
		text, err := os.ReadFile(s.pinFile)
		return strings.TrimRight(string(text), "\r\n"), err
	}
	pin, ok, err := askHidden(e, "PIN of "+name+": ")
	if err == nil && !ok {
		err = usagef("%s has a PIN: give --pin-file, or run this at a terminal", name)
	}
	return pin, err
}

// terminalOf returns the terminal that a person types at, nil where there is none.
func terminalOf(e env) *os.File {
	f, ok := e.stdin.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	return f
}

// askHidden asks for what nobody should read over a shoulder; false where there is no terminal.
func askHidden(e env, prompt string) (string, bool, error) {
	f := terminalOf(e)
	if f == nil {
		return "", false, nil
	}
	fmt.Fprint(e.stderr, prompt)
	text, err := term.ReadPassword(int(f.Fd()))
	fmt.Fprintln(e.stderr)
	return string(text), true, err
}

// askName asks who decides; "" where there is no terminal.
func askName(e env) (string, error) {
	f := terminalOf(e)
	if f == nil {
		return "", nil
	}
	fmt.Fprint(e.stderr, "Who decides: ")
	line, err := readLine(f)
	if errors.Is(err, io.EOF) {
		err = nil
	}
	return strings.TrimSpace(line), err
}

// personFlags are the flags of person add.
type personFlags struct {
	places
	pinFile string
}

func personCommands() command {
	var add personFlags
	var list places
	return command{name: "person", summary: "who rules: add, list; each may have a PIN that is asked where a ruling is made", sub: []command{
		{
			name: "add", args: "NAME", summary: "add a person; a PIN is asked at a terminal, and may be left empty",
			example: `person add "R. Vale"`,
			flags: func(f *flags) {
				f.StringVar(&add.pinFile, "pin-file", "", "file with the PIN, for scripts (default: it is asked at a terminal, else there is none)")
				add.places.flags(f)
			},
			run: func(e env, f *flags) error { return add.add(e, f.args[0]) },
		},
		{
			name: "list", summary: "list the people", example: "person list",
			flags: list.flags,
			run:   func(e env, f *flags) error { return listPeople(e, &list) },
		},
	}}
}

func (p *personFlags) add(e env, name string) error {
	b, l, err := p.open(e)
	if err != nil {
		return err
	}
	if err := b.CheckInspector(name); err != nil {
		return usage(err)
	}
	known, err := people.Read(l.Dir())
	if err != nil {
		return err
	}
	var pin string
	if p.pinFile != "" {
		text, err := os.ReadFile(p.pinFile)
		if err != nil {
			return err
		}
		if pin = strings.TrimRight(string(text), "\r\n"); pin == "" {
			return usagef("--pin-file %s: it is empty", p.pinFile)
		}
	} else if first, ok, err := askHidden(e, "PIN, or Enter for none: "); err != nil {
		return err
	} else if ok && first != "" {
		again, _, err := askHidden(e, "PIN again: ")
		if err != nil {
			return err
		}
		if again != first {
			return errors.New("the two PINs differ; nothing is recorded")
		}
		pin = first
	}
	if err := known.Add(name, pin); err != nil {
		return usage(err)
	}
	with := "without a PIN"
	if pin != "" {
		with = "with a PIN"
	}
	fmt.Fprintf(e.stdout, "%s is added, %s\n", name, with)
	return nil
}

func listPeople(e env, p *places) error {
	_, l, err := p.open(e)
	if err != nil {
		return err
	}
	known, err := people.Read(l.Dir())
	if err != nil {
		return err
	}
	for _, name := range known.Names() {
		pin := "no PIN"
		if known.Asks(name) {
			pin = "PIN"
		}
		fmt.Fprintf(e.stdout, "%s\t%s\n", name, pin)
	}
	return nil
}
