package main

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"text/tabwriter"

	"github.com/spf13/pflag"
	"golang.org/x/term"

	"flutelog/cmd/fluteregister/internal/web"
	"flutelog/cmd/internal/people"
)

// personFlags are what is told of a person.
type personFlags struct {
	places
	role, plant, pinFile string
	asJSON               bool
}

func personCommand() command {
	var x personFlags
	return command{
		name: "person", args: "add|list|end [NAME]", summary: "who may look at the register's pages: add, list, end",
		example: `person add "R. Moss" --role inspector --plant north`,
		flags: func(f *pflag.FlagSet) {
			f.StringVar(&x.role, "role", string(web.Machinist), "what they may do: machinist (look), inspector (rule on forks of the own plant, see the own trends), steward (enrol benches and people, see all)")
			f.StringVar(&x.plant, "plant", "", "the plant that they belong to")
			f.StringVar(&x.pinFile, "pin-file", "", "file with the PIN or password, for scripts (default: it is asked)")
			f.BoolVar(&x.asJSON, "json", false, "list: print the result as JSON")
			f.StringVar(&x.folder, "folder", "", "folder of the register's key and of its own ledger (default: $FLUTEREGISTER_FOLDER, else register in the user's data folder)")
		},
		run: func(e env, args []string) error { return person(e, &x, args) },
	}
}

func person(e env, x *personFlags, args []string) error {
	dir, err := x.dir(e)
	if err != nil {
		return err
	}
	switch what, named := args[0], len(args) == 2; {
	case what == "list" && !named:
		return listPeople(e, dir, x.asJSON)
	case what == "add" && named:
		pin, err := x.pin(e, args[1])
		if err != nil {
			return err
		}
		if err := web.Join(dir, people.Member{Name: args[1], Role: x.role, Plant: x.plant}, pin); err != nil {
			return usageError{err}
		}
		fmt.Fprintf(e.stdout, "%s may look now, as %s\n", args[1], x.role)
	case what == "end" && named:
		if err := web.End(dir, args[1]); err != nil {
			return usageError{err}
		}
		fmt.Fprintf(e.stdout, "%s may not look any more\n", args[1])
	default:
		return hinted{usagef("person %s: want person add NAME, person list or person end NAME", strings.Join(args, " ")), "see fluteregister person --help"}
	}
	return nil
}

// pin returns the PIN of one who is added: from a file, or asked twice.
func (x *personFlags) pin(e env, name string) (string, error) {
	if x.pinFile != "" {
		text, err := os.ReadFile(x.pinFile)
		return strings.TrimRight(string(text), "\r\n"), err
	}
	at := int(os.Stdin.Fd())
	if !term.IsTerminal(at) {
		return "", usagef("the PIN of %s: give --pin-file, or run this at a terminal", name)
	}
	var typed [2]string
	for i, ask := range []string{"PIN or password of " + name + ", six characters or more: ", "Again: "} {
		fmt.Fprint(e.stderr, ask)
		text, err := term.ReadPassword(at)
		fmt.Fprintln(e.stderr)
		if err != nil {
			return "", err
		}
		typed[i] = string(text)
	}
	if typed[0] != typed[1] {
		return "", errors.New("the two differ; nothing is changed")
	}
	return typed[0], nil
}

func listPeople(e env, dir string, asJSON bool) error {
	known, err := people.Read(dir)
	if err != nil {
		return err
	}
	all := known.Members()
	if asJSON {
		return printJSON(e, append([]people.Member{}, all...))
	}
	w := tabwriter.NewWriter(e.stdout, 0, 0, 2, ' ', 0)
	for _, m := range all {
		state := ""
		if m.Ended {
			state = "may no more"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", m.Name, m.Role, m.Plant, state)
	}
	return w.Flush()
}
