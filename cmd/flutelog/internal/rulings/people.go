package rulings

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/internal/people"
	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/text"
)

// SignFlags are the flags of whoever puts their name to something.
type SignFlags struct {
	By, why, PinFile string
}

func (s *SignFlags) flags(f *command.Flags) {
	f.StringVar(&s.By, "by", "", "who decides")
	f.StringVar(&s.why, "why", "", "why")
	f.StringVar(&s.PinFile, "pin-file", "", "file with the PIN of who decides, for scripts (default: it is asked)")
}

// Who returns who decides, once they are known to be who they say: one of those who may sign, where the bench file
// lists them, with their PIN where they have one.
func (s *SignFlags) Who(e command.Env, b *bench.File, l *ledger.Ledger, why bool) (record.Who, error) {
	var err error
	if why && strings.TrimSpace(s.why) == "" {
		return record.Who{}, command.Usagef("--why is needed: the reason")
	}
	by := strings.TrimSpace(s.By)
	if by == "" && len(b.Inspectors) == 0 {
		if by, err = askName(e); err != nil {
			return record.Who{}, err
		}
	}
	if by == "" {
		return record.Who{}, command.Usagef("--by is needed: who decides")
	}
	known, err := people.Read(l.Dir())
	if err != nil {
		return record.Who{}, err
	}
	if by, err = Signer(b, known, by); err != nil {
		return record.Who{}, command.Usage(err)
	}
	if known.Asks(by) {
		pin, err := s.pin(e, by)
		if err != nil {
			return record.Who{}, err
		}
		if err := known.Check(by, pin); err != nil {
			return record.Who{}, command.Usage(err)
		}
	}
	return record.Who{By: by, Why: strings.TrimSpace(s.why), At: e.Now()}, nil
}

// Signers returns who may sign: those whom the bench file lists, or else the people whom the bench knows; none is anyone.
func Signers(b *bench.File, known *people.People) []string {
	if len(b.Inspectors) > 0 {
		return b.Inspectors
	}
	return known.Names()
}

// Signer returns the name of one who may sign, as it is listed.
func Signer(b *bench.File, known *people.People, name string) (string, error) {
	may := Signers(b, known)
	if i := slices.IndexFunc(may, func(one string) bool { return text.Fold(one) == text.Fold(name) }); i >= 0 {
		return may[i], nil
	}
	switch {
	case len(b.Inspectors) > 0:
		return "", b.CheckInspector(name)
	case len(may) > 0:
		return "", command.Hint(fmt.Errorf("%q may not sign here: this bench knows %s", name, strings.Join(may, ", ")), fmt.Sprintf("flutelog person add %q adds who may", name))
	}
	return name, nil
}

// pin returns the PIN of a person who has one.
func (s *SignFlags) pin(e command.Env, name string) (string, error) {
	if s.PinFile != "" {
		text, err := os.ReadFile(s.PinFile)
		return strings.TrimRight(string(text), "\r\n"), err
	}
	pin, ok, err := command.AskHidden(e, "PIN of "+name+": ")
	if err == nil && !ok {
		err = command.Usagef("%s has a PIN: give --pin-file, or run this at a terminal", name)
	}
	return pin, err
}

// askName asks who decides; "" where there is no terminal.
func askName(e command.Env) (string, error) {
	f := command.TerminalOf(e)
	if f == nil {
		return "", nil
	}
	fmt.Fprint(e.Stderr, "Who decides: ")
	line, err := command.ReadLine(f)
	if errors.Is(err, io.EOF) {
		err = nil
	}
	return strings.TrimSpace(line), err
}

// personFlags are the flags of person add.
type personFlags struct {
	command.Places
	pinFile string
}

func People() command.Command {
	var add personFlags
	var list command.Places
	return command.Command{Name: "person", Summary: "who rules: add, list; each may have a PIN that is asked where a ruling is made", Sub: []command.Command{
		{
			Name: "add", Args: "NAME", Summary: "add a person; a PIN is asked at a terminal, and may be left empty",
			Example: `person add "R. Vale"`,
			Flags: func(f *command.Flags) {
				f.StringVar(&add.pinFile, "pin-file", "", "file with the PIN, for scripts (default: it is asked at a terminal, else there is none)")
				add.Places.Flags(f)
			},
			Run: func(e command.Env, f *command.Flags) error { return add.add(e, f.Args[0]) },
		},
		{
			Name: "list", Summary: "list the people", Example: "person list",
			Flags: list.Flags,
			Run:   func(e command.Env, f *command.Flags) error { return listPeople(e, &list) },
		},
	}}
}

func (p *personFlags) add(e command.Env, name string) error {
	b, l, err := p.Open(e)
	if err != nil {
		return err
	}
	if err := b.CheckInspector(name); err != nil {
		return command.Usage(err)
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
			return command.Usagef("--pin-file %s: it is empty", p.pinFile)
		}
	} else if first, ok, err := command.AskHidden(e, "PIN, or Enter for none: "); err != nil {
		return err
	} else if ok && first != "" {
		again, _, err := command.AskHidden(e, "PIN again: ")
		if err != nil {
			return err
		}
		if again != first {
			return errors.New("the two PINs differ; nothing is recorded")
		}
		pin = first
	}
	if err := known.Add(name, pin); err != nil {
		return command.Usage(err)
	}
	with := "without a PIN"
	if pin != "" {
		with = "with a PIN"
	}
	fmt.Fprintf(e.Stdout, "%s is added, %s\n", name, with)
	return nil
}

func listPeople(e command.Env, p *command.Places) error {
	_, l, err := p.Open(e)
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
		fmt.Fprintf(e.Stdout, "%s\t%s\n", name, pin)
	}
	return nil
}
