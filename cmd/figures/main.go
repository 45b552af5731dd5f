//go:build linux

// Figures measures what DEVELOPERS.md states, each figure beside its yardstick and its bar, in one run on one
// machine, and prints them as a table. All data is invented. It always ends with status 0: it measures, and judges
// nothing but its own table.
//
//	go run ./cmd/figures [--quick] [--only GROUP,...]
//
// Where the machine may be shared, processor time is measured, of one core; waiting for disk and terminal is
// measured by the clock.
package main

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
)

// figure is one row of the table.
type figure struct {
	what, got, yardstick, bar string
	met                       bool
}

// group measures figures that belong together.
type group struct {
	name    string
	measure func(*bench) ([]figure, error)
}

var groups = []group{
	{"readings", readings},
	{"judgement", judgement},
	{"terminal", terminal},
	{"size", size},
	{"ledger", ledgers},
	{"register", registers},
	{"page", page},
}

// bench is what all groups measure on.
type bench struct {
	dir    string // for files that are thrown away
	binary string // the program, as go build makes it
	quick  bool
}

func main() {
	quick := flag.Bool("quick", false, "ledgers of up to 100,000 readings in place of 1,000,000")
	once := flag.Bool("judge-once", false, "print how many nanoseconds the first judgement of this process takes, and end")
	var names []string
	for _, g := range groups {
		names = append(names, g.name)
	}
	only := flag.String("only", strings.Join(names, ","), "which groups of figures are measured")
	flag.Parse()
	if *once {
		fmt.Println(judgeOnce().Nanoseconds())
		return
	}
	chosen := strings.Split(*only, ",")
	for _, name := range chosen {
		if !slices.Contains(names, name) {
			fmt.Fprintf(os.Stderr, "figures: --only %q: there is no such group; there are %s\n", name, strings.Join(names, ", "))
			return
		}
	}
	if err := run(*quick, chosen); err != nil {
		fmt.Fprintln(os.Stderr, "figures:", err)
	}
}

func run(quick bool, only []string) error {
	dir, err := os.MkdirTemp("", "figures-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	b := &bench{dir: dir, binary: filepath.Join(dir, "flutelog"), quick: quick}
	if err := build(b.binary, nil); err != nil {
		return err
	}
	w := tabwriter.NewWriter(os.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "what\tfigure\tyardstick, same run\tbar\t")
	for _, g := range groups {
		if !slices.Contains(only, g.name) {
			continue
		}
		fmt.Fprintf(os.Stderr, "measuring: %s\n", g.name)
		figures, err := g.measure(b)
		for _, f := range figures {
			met := "not met"
			if f.met {
				met = "met"
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", f.what, f.got, f.yardstick, f.bar, met)
		}
		if err != nil {
			fmt.Fprintf(w, "%s\tnot measured: %v\n", g.name, err)
		}
	}
	return w.Flush()
}

// build builds the program stripped, with what is added to the environment and to the flags.
func build(to string, env []string, flags ...string) error {
	args := append([]string{"build", "-trimpath", "-ldflags", "-s -w"}, flags...)
	cmd := exec.Command("go", append(args, "-o", to, "flutelog/cmd/flutelog")...)
	cmd.Env = append(append(os.Environ(), "CGO_ENABLED=0"), env...)
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("building: %v\n%s", err, out)
	}
	return nil
}
