package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/hand"
	"flutelog/device"
	"flutelog/inspect/length"
)

// onTTY is the program on a pseudo-terminal, as a person has it before them.
type onTTY struct {
	t   *testing.T
	tty *os.File
	cmd *exec.Cmd

	mu    sync.Mutex
	out   bytes.Buffer
	more  sync.Cond // there is more in out
	late  bool      // it did not come in time
	read  int       // bytes of out that the person has seen
	sent  int       // bytes of out when Enter was pressed last
	keys  int       // typed so far
	ended bool      // nothing more comes
	done  chan struct{}
}

// folder returns a new folder with an empty ledger to be, and a tool in it.
func folder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	add := program(dir, "tool", "add", "EM-1", "--diameter", "0.5in", "--flutes", "4", "--material", "hss")
	if out, err := add.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return dir
}

// program returns the program with a folder of its own.
func program(dir string, args ...string) *exec.Cmd {
	cmd := exec.Command("flutelog", args...)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "FLUTELOG_LEDGER="+filepath.Join(dir, "ledger"), "FLUTELOG_BENCH=", "LC_ALL=C.UTF-8", "TERM=xterm")
	return cmd
}

func onTerminal(t *testing.T, columns uint16, dir string, args ...string) *onTTY {
	t.Helper()
	term := &onTTY{t: t, cmd: program(dir, args...), done: make(chan struct{})}
	var err error
	if term.tty, err = pty.StartWithSize(term.cmd, &pty.Winsize{Rows: 24, Cols: columns}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		term.cmd.Process.Kill()
		<-term.done
		term.tty.Close()
	})
	term.more.L = &term.mu
	go term.follow()
	return term
}

func (term *onTTY) follow() {
	defer close(term.done)
	buf := make([]byte, 4096)
	for {
		n, err := term.tty.Read(buf)
		term.mu.Lock()
		term.out.Write(buf[:n])
		term.ended = err != nil
		term.mu.Unlock()
		term.more.Broadcast()
		if err != nil {
			return
		}
	}
}

// shown returns all that the terminal showed so far.
func (term *onTTY) shown() string {
	term.mu.Lock()
	defer term.mu.Unlock()
	return term.out.String()
}

func (term *onTTY) unread() string { return term.shown()[term.read:] }

// see waits until the terminal shows texts, in this order, after what was seen before.
func (term *onTTY) see(texts ...string) {
	term.t.Helper()
	late := time.AfterFunc(60*time.Second, func() {
		term.mu.Lock()
		term.late = true
		term.mu.Unlock()
		term.more.Broadcast()
	})
	defer late.Stop()
	term.mu.Lock()
	defer term.mu.Unlock()
	for _, text := range texts {
		for {
			unread := term.out.String()[term.read:]
			if i := strings.Index(unread, text); i >= 0 {
				term.read += i + len(text)
				break
			}
			if term.late || term.ended {
				term.t.Fatalf("%q did not appear in\n%s\nbefore that:\n%s", text, unread, term.out.String()[max(0, term.read-3000):term.read])
			}
			term.more.Wait()
		}
	}
}

// screen is what stands on the terminal's 24 lines.
func (term *onTTY) screen() string { return lastLines(term.shown()) }

func lastLines(shown string) string {
	lines := strings.Split(strings.ReplaceAll(shown, "\r\n", "\n"), "\n")
	return strings.Join(lines[max(len(lines)-24, 0):], "\n")
}

// send types keys.
func (term *onTTY) send(keys string) {
	term.t.Helper()
	term.keys += len([]rune(keys))
	if strings.HasSuffix(keys, "\r") {
		term.mu.Lock()
		term.sent = term.out.Len()
		term.mu.Unlock()
	}
	if _, err := io.WriteString(term.tty, keys); err != nil {
		term.t.Fatal(err)
	}
}

// prompted waits until a screen stands whole, with a prompt that takes Enter, or the program has ended.
func (term *onTTY) prompted() {
	term.t.Helper()
	late := time.AfterFunc(60*time.Second, func() {
		term.mu.Lock()
		term.late = true
		term.mu.Unlock()
		term.more.Broadcast()
	})
	defer late.Stop()
	term.mu.Lock()
	defer term.mu.Unlock()
	for {
		shown := term.out.String()
		drawn := strings.Contains(shown[term.sent:], "\n") // since Enter was pressed
		stands := strings.HasSuffix(shown, "> ") && !strings.HasSuffix(shown, ".. > ") && !strings.Contains(lastLines(shown), "one moment")
		if term.ended || drawn && stands {
			term.read = len(shown)
			return
		}
		if term.late {
			term.t.Fatalf("no prompt in\n%s", shown[max(0, len(shown)-3000):])
		}
		term.more.Wait()
	}
}

// enter presses Enter alone once the screen stands whole, at a hand's pace.
func (term *onTTY) enter(wants ...string) {
	term.t.Helper()
	term.prompted()
	<-time.After(2 * hand.Settles)
	term.send("\r")
	term.see(wants...)
}

// exchange types each even text and waits for each odd one.
func (term *onTTY) exchange(texts ...string) {
	term.t.Helper()
	for i := 0; i < len(texts); i += 2 {
		term.send(texts[i])
		term.see(texts[i+1])
	}
}

// end waits for the program's end and checks its exit status, and that nothing it wrote moves the cursor or needs
// colour.
func (term *onTTY) end(status command.Status) {
	term.t.Helper()
	select {
	case <-term.done:
	case <-time.After(60 * time.Second):
		term.t.Fatalf("it goes on; unread:\n%s", term.unread())
	}
	if got := exitOf(term.cmd.Wait()); got != status {
		term.t.Errorf("exit status %d, want %d; unread:\n%s", got, status, term.unread())
	}
	if i := strings.IndexByte(term.shown(), '\x1b'); i >= 0 {
		term.t.Errorf("escape sequence %q", term.shown()[i:i+8])
	}
	for line := range strings.Lines(term.shown()) {
		if strings.HasSuffix(line, "\n") && !strings.HasSuffix(line, "\r\n") {
			term.t.Errorf("line %q does not return to the margin", line)
		}
	}
}

func exitOf(err error) command.Status {
	if err == nil {
		return command.StatusDone
	}
	return exitStatus(err)
}

// The bench of the fewest keys: bare whole numbers are divisions of what is read by eye.
const divisionsBench = `
name = "bench 2"
inspectors = ["R. Osei", "M. Ruiz"]
bare-numbers = "divisions"
[[gauge]]
name = "dial indicator"
unit = "in"
resolution = "0.0001in"
[[gauge]]
name = "loupe"
unit = "in"
resolution = "0.001in"
features = ["wear-land", "primary-land", "land", "end-primary-land", "end-land"]
[[gauge]]
name = "micrometer"
unit = "in"
resolution = "0.0001in"
features = ["diameter"]
`

// One plain good four-flute tool before and after the grind, typed: at most 215 keys, each value and sight answered. The
// answer stands last and whole on 80 x 24.
func TestFewestKeys(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	writeBench(t, dir, divisionsBench)
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "before", "--bench", "bench.toml")
	term.see("LOOK at the tool", "c  ALL CLEAR", "> ")
	term.exchange(
		"5\r", "flute 1, divisions of .0001 > ",
		"0 -1 1 1 0\r", "flute 1, divisions of .001 > ",
		"7 12 80\r", "flute 4,",
		"8 12 80\r", "flute 3,",
		"7 12 80\r", "flute 2,",
		"9 13 81\r", "tooth 1,",
		"10 60\r", "tooth 4,",
		"10 60\r", "tooth 3,",
		"10 60\r", "tooth 2,",
		"10 60\r", "diameter,",
		".4962\r", "close > ",
		"\r", "next > ",
	)
	answer := term.screen()
	for _, want := range []string{"wear", "CAUTION", "Guard on", "Enter ground, read it"} {
		if !strings.Contains(answer, want) {
			t.Errorf("%q is not on the answer's screen:\n%s", want, answer)
		}
	}
	if n := strings.Count(answer, "\n"); n != 23 {
		t.Errorf("the answer has %d lines", n+1)
	}
	term.exchange("\r", "HOW WAS IT GROUND?", "", "flutes 1 2 3 4, last round 3 4 1 2", "", "ground > ")
	term.enter("LOOK at the tool", "taken: ground with rest", "> ")
	term.exchange(
		"c\r", "flute 1, divisions of .0001 > ",
		"0 -1 1 1\r", "flute 1,",
		"0 -1 0 1 0\r", "flute 1, divisions of .001 > ",
		"25 79\r", "flute 4,",
		"25 79\r", "flute 3,",
		"26 79\r", "flute 2,",
		"28 80\r", "RELIEF DROP",
		"", "flute 1, divisions of .0001 > ",
		"27 28 27 26\r", "tooth 1, divisions of .0001 > ",
		"0 1 0 1\r", "tooth 1,",
		"0 1 0 1 0\r", "tooth 1, divisions of .001 > ",
		"18 60\r", "tooth 4,",
		"18 60\r", "tooth 3,",
		"10 60\r", "tooth 2,",
		"18 60\r", "diameter,",
		".4954\r", "close > ",
		"\r", "who signs > ",
	)
	if answer := term.screen(); !strings.Contains(answer, "TRUE IN THE FIXTURE ONLY") || !strings.Contains(answer, "1 R. Osei   2 M. Ruiz") {
		t.Errorf("the answer's screen:\n%s", answer)
	}
	term.exchange("2\r", "PIN", "4711\r", "RELEASED, signed M. Ruiz", "", "next > ", "q\r", "EM-1.2")
	term.end(command.StatusDone)
	if term.keys > 215 {
		t.Errorf("%d keys, want 215 at most", term.keys)
	}
	t.Logf("%d keys", term.keys)
	if strings.Contains(term.shown(), "4711") {
		t.Error("the PIN was shown")
	}
	for _, what := range []string{`"what":"reading"`, `"what":"seen"`} {
		if got, want := strings.Count(records(t, dir), what), map[string]int{`"what":"reading"`: 26 + 9 + 8 + 4 + 9 + 8 + 1, `"what":"seen"`: 14}[what]; got != want {
			t.Errorf("%d of %s, want %d", got, what, want)
		}
	}
}

// READ ON asks just what was left open, and comes back to the answer; what was read stands in the inspection that goes on.
func TestReadOnAsksOnlyWhatIsOpen(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	writeBench(t, dir, divisionsBench)
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "after", "--bench", "bench.toml")
	term.see("LOOK at the tool", "> ")
	term.exchange(
		"c\r", "flute 1, divisions of .0001 > ",
		"0 -1 1 1\r", "round 2", "0 -1 1 1 0\r", "flute 1, divisions of .001 > ",
		"25 79\r", "flute 4,", "25 79\r", "flute 3,", "s glare\r", "flute 3,", "79\r", "flute 2,", "28 80\r", "flute 1, divisions of .0001 > ",
		"27 28 27 26\r", "tooth 1,", "0 1 0 1\r", "tooth 1,", "0 1 0 1 0\r", "tooth 1, divisions of .001 > ",
		"18 60\r", "tooth 4,", "18 60\r", "tooth 3,", "10 60\r", "tooth 2,", "18 60\r", "diameter,",
		".4954\r", "close > ",
		"\r", "READ ON", "", "Enter read just these", "", "next > ",
	)
	term.exchange("\r", "how wide is the primary", "", "flute 3, divisions of .001 > ", "26\r", "All is read", "", "close > ", "\r", "TRUE IN THE FIXTURE ONLY", "", "who signs > ", "k\r", "EM-1.2")
	term.end(command.StatusDone)
	if n := strings.Count(records(t, dir), `"continues":"EM-1.1"`); n == 0 {
		t.Error("the inspection does not say which one it goes on with")
	}
}

// With a button gauge for heights and drops the same tool takes at most 30 typed lines.
func TestFewestLinesWithAGauge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	practice := gaugeBench(t, dir, device.Button)
	text, err := os.ReadFile(filepath.Join(dir, "bench.toml"))
	if err != nil {
		t.Fatal(err)
	}
	writeBench(t, dir, strings.Replace(divisionsBench, "[[gauge]]\nname = \"dial indicator\"\nunit = \"in\"\nresolution = \"0.0001in\"\n", string(text)+"resolution = \"0.00001in\"\n", 1))
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "before", "--bench", "bench.toml")
	lines := 0
	typed := func(pairs ...string) {
		t.Helper()
		for i := 0; i < len(pairs); i += 2 {
			lines++
			if pairs[i] == "" {
				term.enter(pairs[i+1])
				continue
			}
			term.exchange(pairs[i]+"\r", pairs[i+1])
		}
	}
	heights := func(next, end string, tenths ...length.Length) {
		t.Helper()
		labels := strings.Fields(next)
		for i, n := range tenths {
			if i == len(tenths)-1 {
				term.press(practice, step(n, device.NoFault), "taken: ", end)
				continue
			}
			term.press(practice, step(n, device.NoFault), "taken: ", labels[2*i]+" "+labels[2*i+1]+",")
		}
	}
	term.see("c  ALL CLEAR", "> ")
	typed("5", "flute 1,")
	heights("flute 4 flute 3 flute 2 flute 1", "how wide is the wear", 0, -1, 1, 1, 0)
	typed("7 12 80", "flute 4,", "8 12 80", "flute 3,", "7 12 80", "flute 2,", "9 13 81", "tooth 1,", "10 60", "tooth 4,", "10 60", "tooth 3,", "10 60", "tooth 2,", "10 60", "diameter,", ".4962", "close > ", "", "next > ", "", "HOW WAS IT GROUND?")
	term.enter("c  ALL CLEAR", "> ")
	lines++
	typed("c", "flute 1,")
	heights("flute 4 flute 3 flute 2 flute 1 flute 4 flute 3 flute 2 flute 1", "how wide is the primary", 0, -1, 1, 1, 0, -1, 1, 1, 0)
	typed("25 79", "flute 4,", "25 79", "flute 3,", "26 79", "flute 2,", "28 80", "flute 1,")
	heights("flute 4 flute 3 flute 2 tooth 1 tooth 4 tooth 3 tooth 2 tooth 1 tooth 4 tooth 3 tooth 2 tooth 1", "how wide is the primary", 27, 28, 27, 26, 0, 1, 0, 1, 0, 1, 0, 1, 0)
	typed("18 60", "tooth 4,", "18 60", "tooth 3,", "10 60", "tooth 2,", "18 60", "diameter,", ".4954", "close > ", "", "who signs > ", "1", "PIN > ", "", "RELEASED")
	term.see("next > ")
	typed("q", "EM-1.2")
	term.end(command.StatusDone)
	if lines > 30 {
		t.Errorf("%d typed lines, want 30 at most", lines)
	}
}

// A prompt says where and how far, what to expect, what it was last time and the TIR so far; an order other than 1, 2, 3
// is explained once, and a caution once a sitting, over the inspection that follows too.
func TestPromptSaysAll(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	writeBench(t, dir, "turning = \"backward\"\n"+divisionsBench)
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "before", "--bench", "bench.toml", "--features", "radial-runout,wear-land,primary-land,land")
	term.see("LOOK at the tool", "> ")
	const why, isolated = "the tool turns backwards", "Wheel stopped and isolated"
	term.exchange("c\r", "F L U T E   1", "", "on the primary of flute 1, .100 from the end", "", "BACKWARDS", "", "Expect    +-.0005 of flute 1", "", why, "", isolated, "", "> ")
	term.exchange("0\r", "F L U T E   4", "", "flute           1       4       3       2", "", "> ")
	term.exchange("-2\r", "F L U T E   3", "", "TIR so far", "", "-.0002", "", ".0002", "", "limit .0005", "", "> ")
	term.exchange("1 1 0\r", "how wide is the wear", "9 13 80\r", "flute 4,", "9 13 80\r", "flute 3,", "9 13 80\r", "flute 2,", "9 13 80\r", "All is read", "", "close > ",
		"\r", "next > ", "\r", "HOW WAS IT GROUND?")
	term.enter("LOOK at the tool", "Last time all clear", "> ")
	term.exchange("c\r", "F L U T E   1", "", "Last time", "", "before)", "", "> ", "q\r", "stopped")
	term.end(command.StatusOpen)
	for said, next := range map[string]string{why: "how wide is the wear", isolated: "F L U T E   4"} {
		if first, rest, _ := strings.Cut(term.shown(), next); !strings.Contains(first, said) || strings.Contains(rest, said) {
			t.Errorf("%q is not said before %q alone", said, next)
		}
	}
}

// The answer stands last, and what is longer than the screen is paged: no page has more lines than the terminal.
func TestLongOutputIsPaged(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "before")
	term.see("LOOK at the tool", "> ")
	term.exchange("5\r", "flute 1, in > ", "0 -.0001 .0001 .0001 0\r", "how wide is the wear")
	for range 4 {
		term.exchange(".009 .013 .080\r", "taken: flute ", "", " > ")
	}
	for range 4 {
		term.exchange(".010 .060\r", "taken: tooth ", "", " > ")
	}
	term.exchange(".4962\r", "close > ", "\r", "next > ", "d\r", "Enter: more   q back > ", "\r", "Enter: ", "", "> ")
	for range 8 {
		if strings.Contains(term.screen(), "Enter: back") {
			break
		}
		term.exchange("\r", "Enter: ", "", "> ")
	}
	term.exchange("\r", "GRIND PRIMARY", "", "next > ", "w\r", "STEP 1 of ", "", "Guard on", "", "Enter: more   q back > ", "\r", "STEP 2 of", "", "> ")
	for range 8 {
		if strings.Contains(term.screen(), "Enter: back") {
			break
		}
		term.exchange("\r", "STEP", "", "> ")
	}
	term.exchange("\r", "GRIND PRIMARY", "", "next > ", "v\r", "RADIAL RUN-OUT, each over the lowest", "", "x worn", "", "Enter: back > ", "\r", "next > ",
		"p\r", "Written", "", "sheet-EM-1.1.html", "", "tag-EM-1.html", "", "Enter: back > ", "\r", "next > ", "q\r", "EM-1.1")
	term.end(command.StatusDone)
	for _, name := range []string{"sheet-EM-1.1.html", "tag-EM-1.html"} {
		if paper, err := os.ReadFile(filepath.Join(dir, name)); err != nil || !bytes.Contains(paper, []byte("EM-1")) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// What a tool room types is taken, and a slip of a letter is said in shop words; no letter in a line acts by itself, and every
// letter wants Enter.
func TestShopNumbersAtATerminal(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	term := onTerminal(t, 80, dir, "inspect", "em-1", "--stage", "Between", "--features", "radial-runout,diameter")
	term.see("flute 1, in > ")
	term.exchange(
		"0.0l1\r", "letter l", ".00O2\r", "Letter O for nought",
		"rb?\r", "A number is asked here", "qk\r", "A number is asked here",
		"½\r", "0.5 is a long way from nought", // half an inch is read, and is no height
		"3tenths\r", "taken: run-out, flute 1", "-2t\r", "taken: run-out, flute 4", ".5thou\r", "taken: run-out, flute 3", "1.27um\r", "taken: run-out, flute 2", "3t\r", "diameter, in > ",
		"1/2in\r", "taken: diameter", "", "close > ", "1 f1\r", "flute 1, in > ", "b\r", "first question", "q", "q", "\r", "stopped",
	)
	term.end(command.StatusOpen)
}

// What is typed and cannot be is refused with what would be right, and nothing of it is kept.
func TestTypedInspection(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "before", "--features", "radial-runout,primary-land,land,diameter")
	term.see("LOOK at the tool", "> ")
	term.exchange(
		"\x7f", "Nothing to take back yet", "b\r", "This is the first question",
		"\x01", "", // a control key is no text
	)
	term.enter("Not taken: Enter alone")
	term.exchange(
		"maybe\r", "No to all is c", "4\r", "How long along the edge? 4 .015",
		"?\r", "Backspace", "", "back > ",
		"4 .015 f2 small\r", "flute 1, in > ",
	)
	term.enter("A reading is never taken by Enter")
	term.exchange(
		"3\r", "3 what? Bare, it is 3 inches. For 3 divisions type .0003",
		"0,0003\r", "y takes 0.0003 in",
		"0.0003kg\r", "no unit known here",
		"+-3\r", "Two signs",
		"r-12\r", "A number is asked here",
		"0.0004\x7f3\r", "taken: run-out, flute 1  0.0003 in",
		"7.62um\r", "taken: run-out, flute 4  7.62 um",
		"\x7f", "taken back: run-out, flute 4 7.62 um",
		"-.0001\r", "taken: run-out, flute 4  -.0001 in",
		"\x1b[A\x1bOP0\r", "taken: run-out, flute 3  0 in", // a cursor key and a function key are no text
		"1/2\r", "0.5 is not this tool. y takes .0005 in",
		"2t\r", "flute 1, in > ",
		"0.0003\r", "how wide is the primary",
		"-0.02\r", "A width is never minus",
		".03\r", "whole land",
		"T.EM-9\r", "THAT IS EM-9", ".08\r", "Scan the right tag", "T.em-1\r", "that is the tool in hand",
		".02\r", "would be wider",
		".08\r", "flute 4, in > ",
		"s all\r", "Write the reason after it",
		"s all loupe is away\r", "whole land", "s all glare\r", "diameter, in > ",
		"12.58\r", "12.58 mm is .4953", "0.499\r", "close > ",
		"1\r", "LOOK",
	)
	term.enter("close > ")
	term.exchange(
		"s why\r", "Nothing is asked", "what\r", "Enter closes", "\x7f", "taken back: diameter", "0.4985\r", "close > ",
		"\r", "next > ", "q\r", "EM-1.1",
	)
	term.end(command.StatusDone)
	for _, key := range []string{"small", "loupe is away", "glare", "0.4985"} {
		if !strings.Contains(records(t, dir), key) {
			t.Errorf("%q is not in the ledger", key)
		}
	}
}

// records returns all that a ledger holds.
func records(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	err := filepath.WalkDir(filepath.Join(dir, "ledger"), func(path string, d os.DirEntry, err error) error {
		if err == nil && filepath.Ext(path) == ".jsonl" {
			text, readErr := os.ReadFile(path)
			all.Write(text)
			err = readErr
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all.String()
}

// A crack is locked before it is drawn, and the answer says so.
func TestCrackStopsTheJob(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "before")
	term.see("> ")
	term.exchange("1 f3 dark line\r", "LOCKED: CRACK seen")
	if !strings.Contains(records(t, dir), `"sight":"cracks"`) {
		t.Error("the lock was not on disk when it was shown")
	}
	term.see("close > ")
	term.exchange("\r", "LOCKED", "", "DO NOT GRIND", "", "next > ", "\r", "EM-1.1")
	term.end(command.StatusFallsShort)
}

// Every way to stop leaves an inspection that can be taken up, with status 4.
func TestStopAndResume(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	answered := 0
	for _, stop := range []struct {
		name string
		do   func(*onTTY)
	}{
		{"q", func(term *onTTY) { term.send("q\r") }},
		{"Ctrl-C", func(term *onTTY) { term.send("\x03") }},
		{"Ctrl-D", func(term *onTTY) { term.send("\x04") }},
		{"SIGTERM", func(term *onTTY) { term.cmd.Process.Signal(syscall.SIGTERM) }},
	} {
		t.Run(stop.name, func(t *testing.T) {
			term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "between", "--features", "primary-land,land")
			if answered > 0 {
				term.see("taking up EM-1.1 again: 0 of 2 read, " + string(rune('0'+answered)) + " answer")
			}
			term.see(" > ")
			term.send([]string{"0.02\r", "0.08\r"}[answered%2])
			term.see("taken: ", " > ")
			answered++
			stop.do(term)
			term.see("stopped; what was read is kept. Go on with: flutelog inspect EM-1 --stage between")
			term.end(command.StatusOpen)
		})
	}
}

// An inspection that is in hand at one terminal is taken over at another, with what was read; a gauge that serves one is said at
// the other, whose readings are typed.
func TestTakenOverAtAnotherTerminal(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	gaugeBench(t, dir, device.Button)
	args := []string{"inspect", "EM-1", "--stage", "between", "--features", "wear-land", "--bench", "bench.toml"}
	here := onTerminal(t, 80, dir, args...)
	here.see("flute 1, in > ")
	here.exchange(".004\r", "taken: wear, flute 1", "", " > ")
	refused := program(dir, args...)
	if out, err := refused.CombinedOutput(); exitOf(err) != command.StatusFailed || !strings.Contains(string(out), "flutelog inspect EM-1 --take") {
		t.Errorf("%v\n%s", err, out)
	}
	there := onTerminal(t, 80, dir, append(args, "--take")...)
	here.see("goes on at another place", "stopped; what was read is kept")
	here.end(command.StatusOpen)
	there.see("flute 4, in > ")
	there.exchange("q\r", "stopped")
	if !strings.Contains(there.shown(), "serves another inspection or program; its readings are typed") {
		t.Error("it is not said that the gauge serves another inspection")
	}
	there.end(command.StatusOpen)
}

// A gauge that types sends its digits and a carriage return, or that and a line feed, faster than a person does.
func TestKeyboardWedge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "between", "--features", "radial-runout")
	term.see("flute 1, in > ")
	term.send("+0.0003\r-0.0001\r\n+0.0001\r\n+0.0000\r+0.0003\r")
	term.see("close > ")
	term.exchange("\r", "next > ", "q\r", "EM-1.1")
	term.end(command.StatusOpen) // lands are not read
	all := records(t, dir)
	for _, digits := range []string{"0.0003", "-0.0001", "0.0001", "0.0000"} {
		if !strings.Contains(all, `"text":"`+digits+`"`) {
			t.Errorf("%s is not kept", digits)
		}
	}
}

// Without a terminal, as over a serial console with a program at the other end, answers are lines.
func TestPlainPipe(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	pipe := func(lines string, status command.Status, wants ...string) {
		t.Helper()
		cmd := program(dir, "inspect", "EM-1", "--stage", "between", "--features", "radial-runout")
		cmd.Stdin = strings.NewReader(lines)
		out, err := cmd.CombinedOutput()
		if got := exitOf(err); got != status {
			t.Errorf("exit status %d, want %d\n%s", got, status, out)
		}
		for _, want := range wants {
			if !strings.Contains(string(out), want) {
				t.Errorf("no %q in\n%s", want, out)
			}
		}
		if bytes.ContainsAny(out, "\r\x1b") {
			t.Errorf("control characters in %q", out)
		}
	}
	pipe("0.0003\r\nb\n0.0002\nx\n", command.StatusOpen, "flute 1, in > ", "Stands: 0.0003 in", "NOT TAKEN: A number is asked", "stopped; what was read is kept")
	pipe("-0.0001\n0\n0.0001\n0.0002\n", command.StatusOpen, "0 of 2 read, 1 answer on disk", "All is read", "EM-1.1")
}

// At forty columns no line is longer, and words stay whole.
func TestNarrowTerminal(t *testing.T) {
	t.Parallel()
	term := onTerminal(t, 40, folder(t), "inspect", "EM-1", "--stage", "between", "--features", "radial-runout")
	term.see("flute 1, in > ")
	term.exchange("?\r", "back > ", "0,1\r", "A comma in inches", "q\r", "stopped")
	asked, _, _ := strings.Cut(term.shown(), "stopped")
	for line := range strings.Lines(asked) {
		if line = strings.Trim(line, "\r\n\a"); len(line) > 40 {
			t.Errorf("%d columns: %q", len(line), line)
		}
	}
	term.end(command.StatusOpen)
}

// gaugeBench starts a practice gauge and writes a bench file for it.
func gaugeBench(t *testing.T, dir string, take device.Mode, steps ...device.Step) *device.Practice {
	t.Helper()
	p := device.PracticeProfile(take, length.In)
	p.Practice = false // it stands for a gauge of the bench
	p.Name = "dial"
	p.QuietTime = device.Duration(20 * time.Millisecond)
	p.Timeout = device.Duration(300 * time.Millisecond)
	if take == device.Button {
		p.Timeout = device.Duration(500 * time.Millisecond)
	}
	practice, err := device.StartPractice(p, steps)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { practice.Close() })
	p.Port = practice.Port()
	if err := os.WriteFile(filepath.Join(dir, "bench.toml"), []byte("[[gauge]]\n"+p.TOML()), 0o600); err != nil {
		t.Fatal(err)
	}
	return practice
}

func step(tenths length.Length, fault device.Fault) device.Step {
	return device.Step{Value: tenths * length.Tenth, Fault: fault}
}

// press sends a reading and waits for what the terminal shows of it.
func (term *onTTY) press(practice *device.Practice, s device.Step, wants ...string) {
	term.t.Helper()
	<-time.After(350 * time.Millisecond) // as fast as a hand presses twice
	if err := practice.Put(s); err != nil {
		term.t.Fatal(err)
	}
	if err := practice.Press(); err != nil {
		term.t.Fatal(err)
	}
	term.see(wants...)
}

// A gauge with a button, with everything going wrong that is said and asked about.
func TestButtonGauge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	practice := gaugeBench(t, dir, device.Button)
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "between", "--bench", "bench.toml", "--features", "radial-runout,wear-land", "--repeats", "2")
	term.see("flute 1, in > ")
	term.press(practice, step(3, device.NoFault), "taken: run-out, flute 1  +0.00030 in", "flute 4, in > ")
	term.enter("Press the button of dial, or type the reading")
	term.press(practice, step(-1, device.Noise), "garbled", "flute 4, in > ")
	term.press(practice, step(-1, device.OverRange), "past its end", "flute 4, in > ")
	term.exchange("\r", "going on with dial; the round starts again", "", "flute 1, in > ")
	term.press(practice, step(3, device.NoFault), "taken: run-out, flute 1", "flute 4, in > ")
	term.press(practice, step(-1, device.LowBattery), "Low battery", "flute 4, in > ")
	term.exchange("\r", "flute 1, in > ") // proves the zero
	term.press(practice, step(3, device.NoFault), "taken: run-out, flute 1", "flute 4, in > ")
	term.press(practice, step(-1, device.WrongUnit), "shows mm now; this bench reads it in inches", "flute 4, in > ")
	term.press(practice, step(-1, device.NoFault), "taken: run-out, flute 4  -0.00010 in", "flute 3, in > ")
	term.press(practice, step(1, device.Doubled), "+.00030 -.00010 +.00010", "taken once (1 so far)", "flute 2, in > ")
	term.exchange("0.00", "0.00")
	term.exchange("02\r", "round 2")
	practice.Pull()
	term.see("UNPLUGGED")
	if err := practice.Insert(); err != nil {
		t.Fatal(err)
	}
	term.see("is back", "flute 1, in > ")
	term.press(practice, step(3, device.NoFault), "taken: run-out, flute 1, round 2", "flute 4, in > ")
	term.exchange("s cannot reach\r", "flute 3, in > ", "s all enough\r", "how wide is the wear")
	term.press(practice, step(9, device.NoFault), "That was dial; wear, flute 1 is asked", "flute 1, in > ")
	term.exchange("q\r", "stopped")
	term.end(command.StatusOpen)
}

// A button pressed again and again without a movement is asked about before it goes on.
func TestStuckGauge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	practice := gaugeBench(t, dir, device.Button)
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "between", "--bench", "bench.toml", "--features", "radial-runout", "--repeats", "2")
	term.see(" > ")
	for range 4 {
		term.press(practice, step(3, device.NoFault), "taken: ", " > ")
	}
	term.press(practice, step(3, device.NoFault), "The same again and again", " > ")
	term.exchange("\r", "going on with dial", "", " > ")
	term.press(practice, step(2, device.NoFault), "+0.00020 in", " > ")
	term.cmd.Process.Signal(syscall.SIGTERM)
	term.end(command.StatusOpen)
}

// A gauge that is asked: Enter reads it; an answer that stays away is no reading.
func TestPolledGauge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	gaugeBench(t, dir, device.Poll, step(3, device.NoFault), step(2, device.Silent), step(-1, device.NoFault))
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "between", "--bench", "bench.toml", "--features", "radial-runout")
	term.see("Enter read the gauge", "flute 1, in > ")
	term.exchange(
		"\r", "taken: run-out, flute 1  +0.00030 in",
		"", "flute 4, in > ",
		"\r", "Nothing came",
		"", "flute 4, in > ",
		"\r", "taken: run-out, flute 4  -0.00010 in",
		"", "flute 3, in > ",
		"q\r", "stopped",
	)
	term.end(command.StatusOpen)
}

// A gauge that streams: Enter takes what it shows; without a movement between, it is asked about.
func TestStreamingGauge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	practice := gaugeBench(t, dir, device.Stream, step(3, device.NoFault))
	practice.Press()
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "between", "--bench", "bench.toml", "--features", "radial-runout")
	term.see("Enter take what it shows", "flute 1, in > ")
	term.exchange(
		"\r", "taken: run-out, flute 1  +0.00030 in",
		"", "flute 4, in > ",
		"\r", "The same again and again",
		"", "flute 4, in > ",
		"\r", "going on with dial",
	)
	term.press(practice, step(-1, device.NoFault), "shows     -0.00010 in")
	term.exchange("\r", "taken: run-out, flute 4  -0.00010 in", "q\r", "stopped")
	term.end(command.StatusOpen)
}

// The gauge of the first inspection of a sitting is let go and reads the second one too, in each way of taking, once a press.
func TestGaugeOfTheSecondInspection(t *testing.T) {
	t.Parallel()
	for _, take := range []device.Mode{device.Button, device.Stream, device.Poll} {
		t.Run(string(take), func(t *testing.T) {
			t.Parallel()
			dir := folder(t)
			practice := gaugeBench(t, dir, take, step(0, device.NoFault), step(2, device.NoFault), step(-1, device.NoFault))
			reads := func(term *onTTY, n length.Length, wants ...string) {
				t.Helper()
				switch take {
				case device.Button:
					term.press(practice, step(n, device.NoFault), wants...)
				case device.Stream:
					if err := practice.Put(step(n, device.NoFault)); err != nil {
						t.Fatal(err)
					}
					practice.Press()
					term.see(fmt.Sprintf("shows     %+.5f in", float64(n)/1e4), " > ")
					fallthrough
				case device.Poll:
					term.enter(wants...)
				}
			}
			term := onTerminal(t, 80, dir, "inspect", "EM-1", "--bench", "bench.toml")
			term.see("c  ALL CLEAR", "> ")
			term.exchange("c\r", "flute 1, in > ")
			reads(term, 0, "taken: run-out, flute 1", "flute 4, in > ")
			term.exchange("-.0001 .0001 .0001 0\r", "how wide is the wear")
			for range 4 {
				term.exchange(".009 .013 .080\r", "taken: flute ", "", " > ")
			}
			for range 4 {
				term.exchange(".010 .060\r", "taken: tooth ", "", " > ")
			}
			term.exchange(".4962\r", "close > ")
			term.enter("GRIND PRIMARY", "next > ")
			term.enter("HOW WAS IT GROUND?", "ground > ")
			term.enter("c  ALL CLEAR", "> ")
			term.exchange("c\r", "flute 1, in > ")
			reads(term, 2, "taken: run-out, flute 1", "flute 4, in > ")
			reads(term, -1, "taken: run-out, flute 4", "flute 3, in > ")
			term.exchange("q\r", "stopped")
			term.end(command.StatusOpen)
			for _, text := range []string{"serves another", "typed here", "UNPLUGGED"} {
				if strings.Contains(term.shown(), text) {
					t.Errorf("%q was said", text)
				}
			}
			if n := strings.Count(records(t, dir), `"gauge":"dial"`); n != 3 {
				t.Errorf("%d readings of the gauge, want 3", n)
			}
		})
	}
}
