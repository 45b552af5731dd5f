package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/pflag"

	"flutelog/inspect/text"
)

// command is one command: what it is called, what it takes, what it is for, and a working example.
type command struct {
	name    string
	args    string // the positional arguments, as help shows them
	summary string
	example string // arguments after the program's name
	flags   func(f *pflag.FlagSet)
	run     func(e env, args []string) error
}

// commands returns the whole command line, in the order help lists it.
func commands() []command {
	return []command{
		serveCommand(), enrolCommand(), benchesCommand(), forksCommand(), ruleCommand(), endCommand(), closeCommand(), checkCommand(), restoreCommand(), rebuildCommand(), packCommand(), witnessCommand(), schemaCommand(),
		personCommand(), demoCommand(),
	}
}

// dispatch finds the command that args begin with and runs it.
func dispatch(e env, args []string) error {
	if len(args) == 0 {
		list(e.stderr)
		return usagef("no command given: fluteregister COMMAND")
	}
	if args[0] == "-h" || args[0] == "--help" || args[0] == "help" && len(args) == 1 {
		list(e.stdout)
		return nil
	}
	if args[0] == "help" {
		args = []string{args[1], "--help"}
	}
	for _, c := range commands() {
		if c.name == args[0] {
			return c.start(e, args[1:])
		}
	}
	return hinted{usagef("%q: no such command", args[0]), "see fluteregister --help"}
}

func list(w io.Writer) {
	fmt.Fprint(w, "usage: fluteregister COMMAND …\n\n")
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, c := range commands() {
		fmt.Fprintf(tw, "  %s\t%s\n", c.name, c.summary)
	}
	tw.Flush()
	fmt.Fprint(w, "\nfluteregister COMMAND --help shows a command's flags and an example.\n")
}

func (c command) start(e env, args []string) error {
	f := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
	f.SortFlags = false
	f.SetOutput(e.stdout)
	f.Usage = func() {
		usage := strings.Fields("fluteregister " + c.name + " " + c.args + " [flags]")
		fmt.Fprintf(e.stdout, "fluteregister %s: %s\n\nusage: %s\n", c.name, c.summary, strings.Join(usage, " "))
		if all := f.FlagUsages(); all != "" {
			fmt.Fprintf(e.stdout, "\n%s", all)
		}
		if c.example != "" {
			fmt.Fprintf(e.stdout, "\nexample:\n  fluteregister %s\n", c.example)
		}
	}
	if c.flags != nil {
		c.flags(f)
	}
	if err := f.Parse(args); err != nil {
		if err == pflag.ErrHelp {
			return err
		}
		return hinted{usagef("%s: %w", c.name, err), "see fluteregister " + c.name + " --help"}
	}
	least, most := 0, 0
	for _, a := range strings.Fields(c.args) {
		most++
		if !strings.HasPrefix(a, "[") {
			least++
		}
	}
	if n := f.NArg(); n < least || n > most {
		want := c.args
		if want == "" {
			want = "no arguments"
		}
		return hinted{usagef("%s: %d arguments given, want %s", c.name, n, want), "see fluteregister " + c.name + " --help"}
	}
	var wrong error
	f.Visit(func(flag *pflag.Flag) {
		if _, err := text.CheckLong(flag.Value.String()); err != nil && wrong == nil {
			wrong = usagef("--%s: %w", flag.Name, err)
		}
	})
	if wrong != nil {
		return wrong
	}
	return c.run(e, f.Args())
}

func printJSON(e env, v any) error {
	out := json.NewEncoder(e.stdout)
	out.SetIndent("", "  ")
	return out.Encode(v)
}
