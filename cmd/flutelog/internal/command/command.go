// Package command is the frame that every command stands in: the world that it runs in, the table that it is one
// line of, its flags and what is read by them, where the bench file and the ledger are, and how what it says reaches
// a terminal, a file or a program.
package command

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/pflag"

	"flutelog/inspect/text"
)

// Command is one command: what it is called, what it takes, what it is for, and a working example.
type Command struct {
	Name    string
	Args    string // the positional arguments, as help shows them
	Summary string
	Example string // arguments after the program's name; tests run it
	Run     func(e Env, f *Flags) error
	Flags   func(f *Flags) // declares the command's own flags
	Sub     []Command
}

// dispatch finds the command that args begin with and runs it.
func dispatch(e Env, table []Command, path string, args []string) error {
	top := path == "flutelog"
	if len(args) == 0 && top && AtTerminal(e) {
		args = []string{"board"}
	}
	if len(args) == 0 {
		listCommands(e.Stderr, table, path)
		return Usagef("no command given: %s COMMAND", path)
	}
	if args[0] == "-h" || args[0] == "--help" || args[0] == "help" && len(args) == 1 {
		listCommands(e.Stdout, table, path)
		return nil
	}
	if args[0] == "--version" && top {
		return dispatch(e, table, path, append([]string{"version"}, args[1:]...))
	}
	if args[0] == "help" && top {
		return dispatch(e, table, path, append(slices.Clone(args[1:]), "--help"))
	}
	for i := range table {
		c := &table[i]
		if c.Name != args[0] {
			continue
		}
		if c.Sub != nil {
			return dispatch(e, c.Sub, path+" "+c.Name, args[1:])
		}
		return c.start(e, path, args[1:])
	}
	if top && !strings.HasPrefix(args[0], "-") {
		// No command: a tool's id, a part of it, or what its tag says.
		err := dispatch(e, table, path, append([]string{"board"}, args...))
		if errors.As(err, new(usageError)) {
			return Hint(Usagef("%q: no such command; and if it is a tool's id: %w", args[0], err), named(table, args[0]))
		}
		return err
	}
	return Hint(Usagef("%s %q: no such command", path, args[0]), "see "+path+" --help")
}

// named says where a command of a name is, that stands under another.
func named(table []Command, name string) string {
	var found []string
	for _, c := range table {
		if slices.ContainsFunc(c.Sub, func(s Command) bool { return s.Name == name }) {
			found = append(found, "flutelog "+c.Name+" "+name)
		}
	}
	if found == nil {
		return "see flutelog --help"
	}
	return "there is " + strings.Join(found, ", ")
}

func listCommands(w io.Writer, table []Command, path string) {
	fmt.Fprintf(w, "usage: %s COMMAND …\n\n", path)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, c := range table {
		fmt.Fprintf(tw, "  %s\t%s\n", c.Name, c.Summary)
	}
	tw.Flush()
	fmt.Fprintf(w, "\n%s COMMAND --help shows a command's flags and an example.\n", path)
}

// Flags is a command's flag set with its positional arguments.
type Flags struct {
	*pflag.FlagSet
	Args []string
	Path string
}

// word is one word of a few that a flag takes, whatever its letters' case: HSS is hss.
type word struct{ *string }

func (w word) Set(typed string) error {
	*w.string = strings.ToLower(strings.TrimSpace(typed))
	return nil
}

func (w word) String() string {
	if w.string == nil {
		return ""
	}
	return *w.string
}

func (word) Type() string { return "string" }

// WordVar is StringVar of a flag that takes one word of a few.
func (f *Flags) WordVar(p *string, name, def, usage string) {
	*p = def
	f.Var(word{p}, name, usage)
}

func (c *Command) start(e Env, path string, args []string) error {
	f := &Flags{FlagSet: pflag.NewFlagSet(c.Name, pflag.ContinueOnError), Path: path + " " + c.Name}
	f.SortFlags = false
	f.SetOutput(e.Stdout)
	f.Usage = func() { c.help(e.Stdout, f) }
	if c.Flags != nil {
		c.Flags(f)
	}
	if err := f.Parse(args); err != nil {
		if err == pflag.ErrHelp {
			return err
		}
		return Hint(Usage(fmt.Errorf("%s: %w", f.Path, err)), "see "+f.Path+" --help")
	}
	f.Args = f.FlagSet.Args()
	if err := f.checkTexts(); err != nil {
		return Usage(fmt.Errorf("%s: %w", f.Path, err))
	}
	if err := c.checkArgs(f); err != nil {
		return err
	}
	return c.Run(e, f)
}

// personal names the flags whose value is what a person writes, and is recorded as it is.
var personal = map[string]bool{
	"by": true, "why": true, "note": true, "inspector": true, "customer": true, "reference": true, "authority": true, "reason": true, "discard": true, "wheel": true,
}

// checkTexts checks all that a person has written on the command line: the one door for it. Names and notes, and what is
// given without a flag and names no file, are taken as they are recorded.
func (f *Flags) checkTexts() (err error) {
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
	for i, arg := range f.Args {
		clean, wrong := text.CheckLong(arg)
		if wrong != nil && err == nil {
			err = fmt.Errorf("argument %d: %w", i+1, wrong)
		}
		if wrong == nil && !strings.ContainsAny(arg, `/\`) && strings.TrimSpace(arg) == arg {
			f.Args[i] = clean
		}
	}
	return err
}

// checkArgs holds the positional arguments against how help shows them: NAME is needed, [NAME] may be
// left out, NAME… may be repeated.
func (c *Command) checkArgs(f *Flags) error {
	least, most := 0, 0
	for _, a := range strings.Fields(c.Args) {
		most++
		if !strings.HasPrefix(a, "[") {
			least++
		}
		if strings.HasSuffix(a, "…") {
			most = 1 << 20
		}
	}
	if n := len(f.Args); n < least || n > most {
		want := c.Args
		if want == "" {
			want = "no arguments"
		}
		return Hint(Usagef("%s: %d arguments given, want %s", f.Path, n, want), "see "+f.Path+" --help")
	}
	return nil
}

func (c *Command) help(w io.Writer, f *Flags) {
	usage := strings.Fields(f.Path + " " + c.Args + " [flags]")
	fmt.Fprintf(w, "%s: %s\n\nusage: %s\n", f.Path, c.Summary, strings.Join(usage, " "))
	if all := f.FlagUsagesWrapped(LineWidth - 1); all != "" {
		const switched = "[=true|false]" // pflag's; nobody needs to know
		fmt.Fprintf(w, "\n%s", strings.ReplaceAll(all, switched, strings.Repeat(" ", len(switched))))
	}
	if c.Example != "" {
		fmt.Fprintf(w, "\nexample:\n  flutelog %s\n", c.Example)
	}
}
