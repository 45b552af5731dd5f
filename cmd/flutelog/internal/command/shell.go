package command

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"
)

// leaf is a command that can be run, with all that names it.
type leaf struct {
	path []string
	*Command
}

// leaves returns every command that can be run, in the order of help.
func leaves(table []Command, path ...string) []leaf {
	var all []leaf
	for i := range table {
		c := &table[i]
		at := append(slices.Clone(path), c.Name)
		if c.Sub != nil {
			all = append(all, leaves(c.Sub, at...)...)
		} else {
			all = append(all, leaf{at, c})
		}
	}
	return all
}

// flagSet returns the command's flags, with their defaults.
func (c *Command) flagSet() *Flags {
	f := &Flags{FlagSet: pflag.NewFlagSet(c.Name, pflag.ContinueOnError)}
	f.SortFlags = false
	if c.Flags != nil {
		c.Flags(f)
	}
	return f
}

func (c *Command) flagNames() []string {
	var names []string
	c.flagSet().VisitAll(func(f *pflag.Flag) { names = append(names, "--"+f.Name) })
	return append(names, "--help")
}

// Completion writes a function that completes by one table: a line for each command, of what can follow it.
func Completion(w io.Writer, table []Command, first string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "# Put into your shell's start: eval \"$(flutelog completion bash)\"\n%s_flutelog() {\n", first)
	b.WriteString("  local words=\"${COMP_WORDS[*]:1:COMP_CWORD-1}\" current=\"${COMP_WORDS[COMP_CWORD]}\" can\n  case \"$words\" in\n")
	var follow func(table []Command, path string)
	follow = func(table []Command, path string) {
		var names []string
		for i := range table {
			c := &table[i]
			names = append(names, c.Name)
			at := strings.TrimSpace(path + " " + c.Name)
			if c.Sub != nil {
				follow(c.Sub, at)
				continue
			}
			fmt.Fprintf(&b, "    %q*) can=%q ;;\n", at, strings.Join(c.flagNames(), " "))
		}
		fmt.Fprintf(&b, "    %q) can=%q ;;\n", path, strings.Join(names, " "))
	}
	follow(table, "")
	b.WriteString("  esac\n  COMPREPLY=($(compgen -W \"$can\" -- \"$current\"))\n  if [ \"${#COMPREPLY[@]}\" = 0 ]; then COMPREPLY=($(compgen -f -- \"$current\")); fi\n}\ncomplete -F _flutelog flutelog\n")
	_, err := io.WriteString(w, b.String())
	return err
}

// Manual writes the manual page as troff with the man macros.
func Manual(w io.Writer, table []Command, now time.Time) error {
	plain := strings.NewReplacer(`\`, `\e`, "-", `\-`, "'", `\(aq`)
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line(`.TH FLUTELOG 1 "%s"`, now.UTC().Format(time.DateOnly))
	line(".SH NAME\nflutelog \\- inspect end mills before and after they are reground, and keep the record")
	line(".SH SYNOPSIS\n.B flutelog\n.I COMMAND\n[flags]\n.br\n.B flutelog\n.I TOOL")
	line(".SH DESCRIPTION\nAlone at a terminal it shows what waits at the bench; with a tool's id, a part of it, or what its tag says, that tool's card.")
	line(".SH COMMANDS")
	for _, l := range leaves(table) {
		line(".SS %s", plain.Replace(strings.TrimSpace("flutelog "+strings.Join(l.path, " ")+" "+l.Args)))
		line("%s.", plain.Replace(strings.ToUpper(l.Summary[:1])+l.Summary[1:]))
		l.flagSet().VisitAll(func(f *pflag.Flag) {
			line(".TP\n.B %s\n%s", plain.Replace("--"+f.Name), plain.Replace(f.Usage))
		})
		line(".PP\nExample:\n.B %s", plain.Replace("flutelog "+l.Example))
	}
	line(".SH EXIT STATUS\n0: done, and nothing asked for falls short. 1: files, devices or the ledger would not do the work. 2: wrong use, or values that cannot be. 3: work is called for, the tool is not released, a limit is not met, or damage was found. 4: undecided, not judged, or stopped before the end.")
	line(".SH SAFETY\nThe wheel is stopped and isolated before anything is indicated. Eye protection; guard on; the edges are sharp; dust of carbide and cobalt is drawn off. Local codes, the machine\\(aqs own instructions and qualified practice come first.")
	_, err := io.WriteString(w, b.String())
	return err
}
