package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"flutelog/cmd/flutelog/internal/command"
)

// Every console block of README runs, one after another in one folder, and prints what it says there. A line
// of … stands for any lines, and … in a line for any text; [status N] is the status the command ends with.
func TestReadme(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile("(?s)```console\n(.*?)```").FindAllStringSubmatch(string(text), -1)
	if len(blocks) == 0 {
		t.Fatal("README has no console block")
	}
	readings, err := filepath.Abs("../../testdata/readings")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	if err := os.CopyFS("testdata/readings", os.DirFS(readings)); err != nil { // which the commands name
		t.Fatal(err)
	}
	env := map[string]string{"FLUTELOG_LEDGER": "ledger", "LANG": "C.UTF-8"}
	for _, block := range blocks {
		for _, c := range readCommands(block[1]) {
			c.run(t, env)
		}
	}
}

// readmeCommand is one command of a console block with what it prints.
type readmeCommand struct {
	line, want string
	status     command.Status
}

func readCommands(block string) []readmeCommand {
	var all []readmeCommand
	for line := range strings.Lines(block) {
		switch {
		case strings.HasPrefix(line, "$ "):
			all = append(all, readmeCommand{line: strings.TrimSpace(line[2:])})
		case strings.HasPrefix(line, "[status "):
			all[len(all)-1].status = command.Status(line[len("[status ")] - '0')
		default:
			all[len(all)-1].want += line
		}
	}
	return all
}

func (c readmeCommand) run(t *testing.T, vars map[string]string) {
	t.Helper()
	words := strings.Fields(c.line)
	switch words[0] {
	case "cat":
		text, err := os.ReadFile(words[1])
		if err != nil || !asShown(c.want).Match(text) {
			t.Errorf("%s: %v\n%s\nREADME has\n%s", c.line, err, text, c.want)
		}
		return
	case "flutelog":
	default:
		t.Fatalf("README: %q: neither flutelog nor cat", c.line)
	}
	var out, errs bytes.Buffer
	status := run(command.Env{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Getenv: func(name string) string { return vars[name] }, Now: time.Now}, words[1:])
	if status != c.status {
		t.Errorf("%s: status %d, want %d\n%s", c.line, status, c.status, errs.String())
	}
	if !asShown(c.want).MatchString(out.String()) {
		t.Errorf("%s:\nprints\n%s\nREADME has\n%s", c.line, out.String(), c.want)
	}
}

// asShown turns what a block shows into a pattern.
func asShown(want string) *regexp.Regexp {
	pattern := "(?s)^"
	for line := range strings.Lines(want) {
		if line == "…\n" {
			pattern += ".*"
		} else {
			pattern += strings.ReplaceAll(regexp.QuoteMeta(line), "…", "[^\n]*")
		}
	}
	return regexp.MustCompile(pattern + "$")
}

// README's screens are what the program draws on a terminal of 80 x 24: a block begins with the command that is started, or with the
// lines that are typed at it, and then has the screen as it stands. FLUTELOG_TEST_UPDATE=1 draws them anew.
func TestReadmeScreens(t *testing.T) {
	t.Parallel()
	const readme = "../../README.md"
	text, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	var term *onTTY
	drawn := regexp.MustCompile("(?s)```screen\n(.*?)```").ReplaceAllStringFunc(string(text), func(block string) string {
		given := strings.TrimPrefix(block, "```screen\n")
		var head strings.Builder
		for line := range strings.Lines(given) {
			typed, ok := strings.CutPrefix(line, "> ")
			command, starts := strings.CutPrefix(line, "$ flutelog ")
			if !ok && !starts {
				break
			}
			head.WriteString(line)
			if starts {
				term = onTerminal(t, 80, dir, strings.Fields(command)...)
				term.prompted()
				continue
			}
			term.send(strings.TrimSuffix(strings.TrimSpace(typed), "Enter") + "\r")
			term.prompted()
		}
		var lines []string
		for line := range strings.Lines(term.screen()) {
			lines = append(lines, strings.TrimRight(line, " \r\n"))
		}
		screen := strings.Trim(strings.Join(lines, "\n"), "\n")
		if shown := strings.TrimPrefix(given, head.String()); os.Getenv("FLUTELOG_TEST_UPDATE") == "" && shown != screen+"\n```" {
			t.Errorf("after\n%sthe screen is\n%s\nREADME has\n%s", head.String(), screen, shown)
		}
		return "```screen\n" + head.String() + screen + "\n```"
	})
	if os.Getenv("FLUTELOG_TEST_UPDATE") != "" && drawn != string(text) {
		if err := os.WriteFile(readme, []byte(drawn), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// README's pictures are there, and none that it does not show.
func TestReadmePictures(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	shown := map[string]bool{}
	for _, m := range regexp.MustCompile(`\]\(cmd/flutelog/(pictures/[a-z]+\.png)\)`).FindAllStringSubmatch(string(text), -1) {
		shown[m[1]] = true
	}
	there, err := filepath.Glob("pictures/*")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range there {
		if !shown[filepath.ToSlash(name)] {
			t.Errorf("README does not show %s", name)
		}
		delete(shown, filepath.ToSlash(name))
	}
	for name := range shown {
		t.Errorf("README shows %s, which is not there", name)
	}
}
