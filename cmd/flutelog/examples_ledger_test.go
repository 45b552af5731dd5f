//go:build unix

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/register/registertest"
)

// exampleStep is the example of one command, or a line in between that brings the ledger where the next example
// finds what it is about.
type exampleStep struct {
	of     string // the command by its path; "" for a line in between
	line   string // in between: what is run
	status command.Status
}

// examplesInOrder is a bench's day, of invented tools: each command's example in an order in which a hand would come
// to it.
var examplesInOrder = []exampleStep{
	{of: "bench example"},
	{of: "bench check"},
	{of: "bench start", status: command.StatusOpen}, // nobody answers here
	{of: "gauge ports"},
	{of: "gauge practice"},
	{of: "gauge listen"},
	{of: "gauge study"},
	{of: "wheel dress"},
	{of: "wheel list"},
	{of: "person add"},
	{of: "person list"},
	{of: "tool add"},
	{of: "tool change"},
	{of: "tool list"},
	{of: "tool find"},
	{of: "inspect"},
	{of: "show"},
	{of: "tool note"},
	{of: "tool ground"},
	{of: "history"},
	{of: "correct"},
	{line: "inspect EM-0412 --stage between --readings between.csv", status: command.StatusFallsShort},
	{of: "job add"},
	{of: "job change"},
	{of: "job list"},
	{of: "board"},
	{line: "inspect EM-0412 --stage after --job J-77 --readings after.csv"},
	{of: "sheet"},
	{of: "tag"},
	{of: "certificate", status: command.StatusFallsShort},
	{of: "export"},
	{of: "tool release"},
	{line: "inspect EM-0412 --stage after --readings between.csv", status: command.StatusFallsShort},
	{of: "tool concession"},
	{of: "job show"},
	{line: "job change J-77 --sample 1"},
	{of: "job release"},
	{of: "tool away"},
	{of: "tool back"},
	{line: "inspect EM-0412 --stage before --readings cracked.csv", status: command.StatusFallsShort},
	{of: "tool unlock"},
	{of: "tool show"},
	{of: "tool retire"},
	{of: "tool withdraw"},
	{of: "report"},
	{of: "trend"},
	{of: "ledger verify"},
	{of: "ledger merge"},
	{of: "ledger leave-out"},
	{of: "ledger mend"},
	{of: "register join"},
	{of: "register send"},
	{of: "register status"},
	{of: "register fetch"},
	{of: "register recover"},
	{of: "register renew", status: command.StatusUsage}, // it is no fork
	{of: "page"},
	{of: "demo"},
	{of: "runout"},
	{of: "land"},
	{of: "relief"},
	{of: "setup"},
	{of: "stock"},
	{of: "chipload"},
	{of: "diameter"},
	{of: "version"},
	{of: "completion"},
	{of: "man"},
}

// leafCommands returns every command that can be run, by its path.
func leafCommands(table []command.Command, path string) map[string]command.Command {
	leaves := map[string]command.Command{}
	for _, c := range table {
		if c.Sub == nil {
			leaves[path+c.Name] = c
		}
		for name, leaf := range leafCommands(c.Sub, path+c.Name+" ") {
			leaves[name] = leaf
		}
	}
	return leaves
}

// The example in every command's help works as it stands, one after the other on one bench.
func TestEveryExample(t *testing.T) {
	all := leafCommands(commands, "")
	exampleFiles(t)
	shop := registertest.New(t)
	stop := bearInterrupts(t)
	for _, step := range examplesInOrder {
		line := step.line
		if step.of != "" {
			c, ok := all[step.of]
			if !ok {
				t.Fatalf("%s: no such command, or its example has run", step.of)
			}
			delete(all, step.of)
			line = c.Example
		}
		// The stick's folder, its bench's id, the page's port and the register are not this machine's to choose.
		line = strings.NewReplacer("/media/stick", "stick", "a41c98d2e07b56f3", stickBench(t), "127.0.0.1:8480", "127.0.0.1:0", exampleEnrolment, shop.String()).Replace(line)
		a := attempt{args: shellWords(t, line)}
		if runHere(t, &a, stop); a.status != step.status {
			t.Errorf("want status %d: %v", step.status, a)
		}
		if step.of == "bench example" {
			if err := os.WriteFile("bench.toml", []byte(a.stdout), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if step.of != "" {
			help := attempt{args: append(strings.Fields(step.of), "--help")}
			if runHere(t, &help, stop); help.status != command.StatusDone || !strings.Contains(help.stdout, "\nexample:\n  flutelog ") {
				t.Errorf("no example in the help: %v", help)
			}
		}
	}
	for name := range all {
		t.Errorf("%s: its example does not run here", name)
	}
}

// exampleFiles goes to a new folder with the files that the examples name.
func exampleFiles(t *testing.T) {
	t.Helper()
	files := map[string]string{
		"cracked.csv": "feature,flute,from_end,repeat,value,unit\ncracks,,,,yes,\n",
		"tir.txt":     "0.0002\n0.0003\n0.0001\n0.0002\n0.0004\n0.0003\n0.0002\n0.0001\n0.0003\n0.0002\n",
		"repeats.csv": "part,value\npin,0.50000\npin,0.50005\npin,0.50000\npin,0.49995\npin,0.50000\nmaster,0.50005\nmaster,0.50000\nmaster,0.50000\nmaster,0.49995\nmaster,0.50000\n",
	}
	for from, to := range map[string]string{
		"scenario/before.csv": "readings.csv", "scenario/between.csv": "between.csv", "scenario/after.csv": "after.csv",
		"../../testdata/recordings/button.txt": "indicator.rec",
	} {
		text, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		files[to] = string(text)
	}
	t.Chdir(t.TempDir())
	t.Setenv("HOME", ".")
	t.Setenv("TMPDIR", ".")
	t.Setenv("FLUTELOG_LEDGER", "ledger")
	for name, text := range files {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	stick := filepath.Join("stick", "flutelog-ledger")
	if status, _, errs := commandLine(stick, "tool", "add", "EM-9", "--diameter", "0.5in", "--flutes", "2", "--material", "hss"); status != command.StatusDone {
		t.Fatal(errs)
	}
}

// stickBench returns the id of the bench whose ledger is on the stick.
func stickBench(t *testing.T) string {
	t.Helper()
	line, err := os.ReadFile(filepath.Join("stick", "flutelog-ledger", "bench"))
	if err != nil {
		t.Fatal(err)
	}
	return strings.Fields(string(line))[1]
}

// shellWords splits a line as a shell does that knows only spaces and double quotes.
func shellWords(t *testing.T, line string) []string {
	t.Helper()
	var words []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			words = append(words, part)
		} else {
			words = append(words, strings.Fields(part)...)
		}
	}
	return words
}
