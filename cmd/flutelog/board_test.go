//go:build unix

package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"flutelog/cmd/flutelog/internal/command"
)

// The bench of a short day: wear before the grind, the diameter after it, and the crack both times.
const shortDayBench = `
name = "bench 2"
inspectors = ["R. Osei"]
bare-numbers = "divisions"
[stage.before]
features = ["wear-land"]
required = ["cracks", "wear-land"]
[stage.after]
features = ["diameter"]
required = ["cracks", "diameter"]
repeats = 1
[[gauge]]
name = "loupe"
unit = "in"
resolution = "0.001in"
features = ["wear-land", "diameter"]
`

// screens checks that what the board has drawn last fits the terminal, and returns it.
func (term *onTTY) board() string {
	term.t.Helper()
	term.see("\n > ")
	screen := strings.ReplaceAll(term.shown(), "\r\n", "\n")
	screen = screen[strings.LastIndex(screen, " FLUTELOG   bench 2"):]
	lines := strings.Split(screen, "\n")
	if len(lines) > 24 {
		term.t.Errorf("%d lines on a terminal of 24:\n%s", len(lines), screen)
	}
	for _, l := range lines {
		if utf8.RuneCountInString(l) > 80 {
			term.t.Errorf("%d columns: %q", utf8.RuneCountInString(l), l)
		}
	}
	return screen
}

// A day of twelve invented tools and a job, from the empty board to the last signature, at a terminal of 80 by 24:
// every step is begun from the board.
func TestDayAtTheBoard(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "bench.toml"), []byte(shortDayBench), 0o600); err != nil {
		t.Fatal(err)
	}
	term := onTerminal(t, 80, dir, "board", "--bench", "bench.toml")
	prompt := "\n > "
	back := "Enter: back"
	term.see("Nothing is on record here yet", prompt)
	term.exchange("a EM-1..EM-12\r", "diameter", "1/2in\r", "flutes", "4\r", "carbide", "hss\r", back, "\r", prompt)
	if out, err := program(dir, "job", "add", "J-1", "--quantity", "12", "--tools", "EM-1,EM-2,EM-3,EM-4,EM-5,EM-6,EM-7,EM-8,EM-9,EM-10,EM-11,EM-12", "--bench", "bench.toml").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	term.exchange("m\r", "q leave")
	if b := term.board(); !strings.Contains(b, "NEXT ON THE BENCH\n   1  EM-1 ") || !strings.Contains(b, "12  EM-12") || !strings.Contains(b, "J-1        0 of 12 settled") {
		t.Errorf("of twelve that came:\n%s", b)
	}

	// EM-1 is cracked, EM-2 is left half read, the others are worn but for EM-12.
	term.exchange("1\r", "RECEIVED", "\r", "LOOK at the tool")
	term.exchange("1 f2\r", "LOCKED", "", "close")
	term.enter("DO NOT RUN", "> ")
	term.exchange("q\r", back, "\r", "unlock", "q\r", "q leave")
	term.exchange("em-2\r", "RECEIVED", "\r", "LOOK at the tool", "c\r", "F L U T E", "q\r", back, "\r", "Half read", "T.EM-12\r", "RECEIVED", "em-2\r", "Half read", "q\r", "q leave")
	for n := 3; n <= 12; n++ {
		wear := "9\r"
		if n == 12 {
			wear = "1\r"
		}
		term.exchange(fmt.Sprintf("T.EM-%d\r", n), "RECEIVED", "\r", "LOOK at the tool", "c\r", "F L U T E   1")
		for _, flute := range []string{"F L U T E   4", "F L U T E   3", "F L U T E   2"} {
			term.exchange(wear, flute)
		}
		term.exchange(wear, "close >")
		term.enter("next >")
		term.exchange("q\r", back, "\r", "whole words", "q\r", "q leave")
	}
	b := term.board()
	for _, want := range []string{
		"NOT TO BE USED\n   1  EM-1       ■ LOCKED     crack at flute 2 seen in EM-1.1",
		"HALF READ\n   2  EM-2       ◐ before     EM-2.1: 1 of 2 read",
		"NEXT ON THE BENCH\n   3  EM-3       △ to grind   grind primary",
		"EM-12      ✎ to sign    no grind needed",
	} {
		if !strings.Contains(b, want) {
			t.Errorf("in the afternoon %q is not on the board:\n%s", want, b)
		}
	}

	// EM-3 is ground, read and released by one who may sign; the job says what it still lacks.
	term.exchange("3\r", "TO GRIND", "\r", "HOW WAS IT GROUND?", "", "ground > ")
	term.enter("LOOK at the tool", "> ")
	term.exchange("c\r", "diameter", ".4950in\r", "close >")
	term.enter("TRUE IN THE FIXTURE ONLY", "> ")
	term.exchange("q\r", back, "\r", "TO SIGN", "release\r", "Who decides", "R. Osei\r", back, "\r", "RELEASED", "\r", "Is it back, worn?", "\r", "Nothing was begun", "q\r", "q leave")
	b = term.board()
	term.exchange("m\r", "q leave")
	behind := term.board()
	if strings.Contains(b, "  EM-3 ") || !strings.Contains(b, "7 days: 1 released") || !strings.Contains(behind, "1 of 12 settled; lacks EM-1, EM-2, EM-4") {
		t.Errorf("after the release:\n%s\nand behind it:\n%s", b, behind)
	}
	term.exchange("m\r", "q leave")
	// The locked one is withdrawn for good, with who and why, and the half-read one is what Enter opens.
	term.exchange("nothing of this\r", "no tool's number holds that")
	term.exchange("1\r", "LOCKED", "withdraw\r", "Who decides", "R. Osei\r", "Why", "cracked at the corner\r", back, "\r", "WITHDRAWN", "q\r", "q leave")
	term.exchange("\r", "EM-2 ", "q\r", "q leave", "q\r", "")
	term.end(command.StatusDone)
}
