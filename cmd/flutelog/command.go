package main

import (
	"fmt"
	"io"
	"slices"
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
	example string // arguments after the program's name; tests run it
	run     func(e env, f *flags) error
	flags   func(f *flags) // declares the command's own flags
	sub     []command
}

// dispatch finds the command that args begin with and runs it.
func dispatch(e env, table []command, path string, args []string) error {
	top := path == "flutelog"
	if len(args) == 0 && top && atTerminal(e) {
		args = []string{"board"}
	}
	if len(args) == 0 {
		listCommands(e.stderr, table, path)
		return usagef("no command given: %s COMMAND", path)
	}
	if args[0] == "-h" || args[0] == "--help" || args[0] == "help" && len(args) == 1 {
		listCommands(e.stdout, table, path)
		return nil
	}
	if args[0] == "help" && top {
		return dispatch(e, table, path, append(slices.Clone(args[1:]), "--help"))
	}
	for i := range table {
		c := &table[i]
		if c.name != args[0] {
			continue
		}
		if c.sub != nil {
			return dispatch(e, c.sub, path+" "+c.name, args[1:])
		}
		return c.start(e, path, args[1:])
	}
	if top && !strings.HasPrefix(args[0], "-") {
		// No command: a tool's id, a part of it, or what its tag says.
		return dispatch(e, table, path, append([]string{"board"}, args...))
	}
	return hint(usagef("%s %q: no such command", path, args[0]), "see "+path+" --help")
}

func listCommands(w io.Writer, table []command, path string) {
	fmt.Fprintf(w, "usage: %s COMMAND …\n\n", path)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, c := range table {
		fmt.Fprintf(tw, "  %s\t%s\n", c.name, c.summary)
	}
	tw.Flush()
	fmt.Fprintf(w, "\n%s COMMAND --help shows a command's flags and an example.\n", path)
}

// flags is a command's flag set with its positional arguments.
type flags struct {
	*pflag.FlagSet
	args []string
	path string
}

func (c *command) start(e env, path string, args []string) error {
	f := &flags{FlagSet: pflag.NewFlagSet(c.name, pflag.ContinueOnError), path: path + " " + c.name}
	f.SortFlags = false
	f.SetOutput(e.stdout)
	f.Usage = func() { c.help(e.stdout, f) }
	if c.flags != nil {
		c.flags(f)
	}
	if err := f.Parse(args); err != nil {
		if err == pflag.ErrHelp {
			return err
		}
		return hint(usage(fmt.Errorf("%s: %w", f.path, err)), "see "+f.path+" --help")
	}
	f.args = f.FlagSet.Args()
	if err := f.checkTexts(); err != nil {
		return usage(fmt.Errorf("%s: %w", f.path, err))
	}
	if err := c.checkArgs(f); err != nil {
		return err
	}
	return c.run(e, f)
}

// personal names the flags whose value is what a person writes, and is recorded as it is.
var personal = map[string]bool{
	"by": true, "why": true, "note": true, "inspector": true, "customer": true, "reference": true, "authority": true, "reason": true, "discard": true, "wheel": true,
}

// checkTexts checks all that a person has written on the command line: the one door for it. Names and notes, and what is
// given without a flag and names no file, are taken as they are recorded.
func (f *flags) checkTexts() (err error) {
	f.Visit(func(flag *pflag.Flag) {
		values := []string{flag.Value.String()}
		if several, ok := flag.Value.(pflag.SliceValue); ok {
			values = several.GetSlice()
		}
		for _, value := range values {
			check := text.CheckLong
			if personal[flag.Name] {
				check = text.Check
			}
			clean, wrong := check(value)
			if wrong != nil && err == nil {
				err = fmt.Errorf("--%s: %w", flag.Name, wrong)
			}
			if personal[flag.Name] && wrong == nil && flag.Value.Type() == "string" {
				flag.Value.Set(clean)
			}
		}
	})
	for i, arg := range f.args {
		clean, wrong := text.CheckLong(arg)
		if wrong != nil && err == nil {
			err = fmt.Errorf("argument %d: %w", i+1, wrong)
		}
		if wrong == nil && !strings.ContainsAny(arg, `/\`) && strings.TrimSpace(arg) == arg {
			f.args[i] = clean
		}
	}
	return err
}

// checkArgs holds the positional arguments against how help shows them: NAME is needed, [NAME] may be
// left out, NAME… may be repeated.
func (c *command) checkArgs(f *flags) error {
	least, most := 0, 0
	for _, a := range strings.Fields(c.args) {
		most++
		if !strings.HasPrefix(a, "[") {
			least++
		}
		if strings.HasSuffix(a, "…") {
			most = 1 << 20
		}
	}
	if n := len(f.args); n < least || n > most {
		want := c.args
		if want == "" {
			want = "no arguments"
		}
		return hint(usagef("%s: %d arguments given, want %s", f.path, n, want), "see "+f.path+" --help")
	}
	return nil
}

func (c *command) help(w io.Writer, f *flags) {
	usage := strings.Fields(f.path + " " + c.args + " [flags]")
	fmt.Fprintf(w, "%s: %s\n\nusage: %s\n", f.path, c.summary, strings.Join(usage, " "))
	if all := f.FlagUsages(); all != "" {
		const switched = "[=true|false]" // pflag's; nobody needs to know
		fmt.Fprintf(w, "\n%s", strings.ReplaceAll(all, switched, strings.Repeat(" ", len(switched))))
	}
	if c.example != "" {
		fmt.Fprintf(w, "\nexample:\n  flutelog %s\n", c.example)
	}
}
