package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flutelog/cmd/flutelog/internal/command"
)

const studyBench = `# invented
[[gauge]]
name = "indicator"
unit = "in"
quiet-time = "20ms"
`

// The line of an invented gauge: four presses of its button.
const studyRecording = `gauge recording 1
wait 50ms
gauge "+0.2500\r\n"
wait 400ms
gauge "+0.3000\r\n"
wait 400ms
gauge "+0.2502\r\n"
wait 400ms
gauge "+0.3002\r\n"
`

// pressesEnter is a person who watches what is asked, and presses Enter where all is read.
type pressesEnter struct {
	said bytes.Buffer
	hand io.Writer
	done bool
}

func (p *pressesEnter) Write(text []byte) (int, error) {
	if bytes.Contains(text, []byte("All is read")) && !p.done {
		p.done = true
		go io.WriteString(p.hand, "\n")
	}
	return p.said.Write(text)
}

// A study taken by the button of a gauge, the keyboard touched at the end alone: two parts, two rounds. By hand: two
// parts whose readings differ by 0.0002 in have a standard deviation of 0.0002/sqrt 2.
func TestStudyByTheGaugesButton(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, text := range map[string]string{"bench.toml": studyBench, "line.rec": studyRecording} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	keyboard, hand := io.Pipe() // open to the end, and silent
	defer hand.Close()
	var out bytes.Buffer
	prompts := &pressesEnter{hand: hand}
	e := command.Env{Stdin: keyboard, Stdout: &out, Stderr: prompts, Getenv: func(string) string { return "" }, Now: time.Now}
	status := run(e, []string{"gauge", "study", "indicator", "--bench", filepath.Join(dir, "bench.toml"), "--ledger", filepath.Join(dir, "ledger"),
		"--replay", filepath.Join(dir, "line.rec"), "--parts", "2", "--trials", "2"})
	if status != command.StatusDone {
		t.Fatalf("status %d, want 0: %s", status, prompts.said.String())
	}
	for _, want := range []string{"one reading scatters by 0.00014 in", "from 2 degrees of freedom", `kept for gauge "indicator"`} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("printed %q, want %q in it", out.String(), want)
		}
	}
	if want := "Part 2: what does it read?"; !strings.Contains(prompts.said.String(), want) {
		t.Errorf("asked %q, want %q in it", prompts.said.String(), want)
	}
}
