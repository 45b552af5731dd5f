package main

import (
	"bytes"
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

	"flutelog/device"
	"flutelog/inspect/length"
)

// onTTY is the program on a pseudo-terminal, as a person has it before them.
type onTTY struct {
	t   *testing.T
	tty *os.File
	cmd *exec.Cmd

	mu   sync.Mutex
	out  bytes.Buffer
	read int // bytes of out that the person has seen
	done chan struct{}
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
	cmd.Env = append(os.Environ(), "FLUTELOG_LEDGER="+filepath.Join(dir, "ledger"), "FLUTELOG_BENCH=")
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
		term.mu.Unlock()
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
	for _, text := range texts {
		for began := time.Now(); ; time.Sleep(2 * time.Millisecond) {
			if i := strings.Index(term.unread(), text); i >= 0 {
				term.read += i + len(text)
				break
			}
			if time.Since(began) > 10*time.Second {
				term.t.Fatalf("%q did not appear in\n%s", text, term.unread())
			}
		}
	}
}

// send types keys.
func (term *onTTY) send(keys string) {
	term.t.Helper()
	if _, err := io.WriteString(term.tty, keys); err != nil {
		term.t.Fatal(err)
	}
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
func (term *onTTY) end(status int) {
	term.t.Helper()
	select {
	case <-term.done:
	case <-time.After(10 * time.Second):
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

func exitOf(err error) int {
	if err == nil {
		return statusDone
	}
	return exitStatus(err)
}

// Every prompt that is typed at, every key, and every refusal of what is typed.
func TestTypedInspection(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	term := onTerminal(t, 200, dir, "inspect", "EM-1", "--stage", "before", "--features", "radial-runout,primary-land,land,diameter")
	term.see("Look: any crack", "(1 of 21) y or n, and a note if you like", "y or n > ")
	term.exchange(
		"r", "nothing to take back yet",
		"b", "this is the first question",
		"k\r", "there is no answer to keep yet",
		"?", "s WHY  leave this out",
		"\r", "nothing was typed",
		"maybe\r", `"maybe" is no answer here`,
		"s\r", "write the reason after it",
		"n\r", "recorded",
		"n\r", "Look: any corner broken out",
		"y flute 2, small\r", "Look: any edge chipped",
		"n\r", "Look: any corner worn round",
		"s loupe away\r", "Look: the shank bent",
		"n\r", "Look: a burr",
	)
	term.exchange(
		"b", "Look: the shank bent",
		"", "read already: no; a new answer replaces it, k keeps it",
		"K\r", "Look: a burr",
		"no\r", "CAUTION",
	)
	term.see("wheel is stopped", "Flute 1: radial run-out", "(8 of 21) type the reading", "Flute 1 > ")
	term.exchange(
		"\r", "nothing was typed",
		"0,0003\r", "NOT RECORDED",
		"", "not a number",
		"0.0003kg\r", "NOT RECORDED",
		"", "the unit is not known",
		"+-3\r", "NOT RECORDED",
		"0.0004\x7f3\r", "\arecorded 0.0003 in",
		"", "Flute 4: radial",
		"7.62um\r", "\arecorded 7.62 um",
		"", "Flute 3: radial",
		"r", "taken back: Flute 4: radial",
		"", "Flute 4 > ",
		"-.0001\r", "\arecorded -.0001 in",
		"\x1b[A\x1bOP0\r", "\arecorded 0 in", // a cursor key and a function key are no text
		"0.0002\r", "flute 1 once more",
		"0.0003\r", "Flute 1: primary land",
	)
	term.exchange(
		"0\r", "NOT RECORDED: primary land flute 1: 0: it must be more than zero",
		"-0.02\r", "must be more than zero",
		"0.5\r", "is a decimal point missing",
		"0.03\r", "Flute 1: whole land",
		"0.02\r", "NOT RECORDED: flute 1: the primary, 0.03 in, would be wider than the whole land, 0.02",
		"r", "Flute 1: primary land",
		"0.02\r", "Flute 1: whole land",
		"0.08\r", "Flute 4: primary land",
		"f\r", "write the reason after it",
		"f loupe is away\r", "Flute 4: whole land",
		"f glare\r", "diameter",
		"0.499\r", "All is read and on disk.",
	)
	term.exchange(
		"s why\r", "nothing to leave out",
		"what\r", "no answer here",
		"r", "taken back: diameter",
		"0.4985\r", "close > ",
		"\r", "EM-1.1",
	)
	term.end(statusFallsShort)
	for _, key := range []string{"yes", "flute 2, small", "loupe away", "loupe is away", "glare", "0.4985"} {
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

// A crack stops the job; the answer can be taken back until the inspection is closed.
func TestCrackStopsTheJob(t *testing.T) {
	t.Parallel()
	term := onTerminal(t, 200, folder(t), "inspect", "EM-1", "--stage", "before")
	term.exchange(
		"y corner of flute 3\r", "CRACKS: nothing more is read of this tool.",
		"r", "taken back: Look: any crack",
		"y\r", "close > ",
		"\r", "LOCKED: crack",
	)
	term.end(statusFallsShort)
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
			term := onTerminal(t, 200, dir, "inspect", "EM-1", "--stage", "between")
			if answered > 0 {
				term.see("taking up EM-1.1 again: " + string(rune('0'+answered)) + " of 16")
			}
			term.see(" > ")
			term.send([]string{"0.02\r", "0.08\r"}[answered%2])
			term.see("recorded", " > ")
			answered++
			stop.do(term)
			term.see("stopped; what was read is kept. Go on with: flutelog inspect EM-1 --stage between")
			term.end(statusOpen)
		})
	}
}

// A gauge that types sends its digits and a carriage return, or that and a line feed, faster than a person does.
func TestKeyboardWedge(t *testing.T) {
	t.Parallel()
	term := onTerminal(t, 200, folder(t), "inspect", "EM-1", "--stage", "between", "--features", "radial-runout")
	term.see("Flute 1 > ")
	term.send("+0.0003\r-0.0001\r\n+0.0001\r\n+0.0000\r+0.0003\r")
	for _, digits := range []string{"+0.0003", "-0.0001", "+0.0001", "+0.0000", "+0.0003"} {
		term.see("\arecorded " + digits + " in")
	}
	if strings.Contains(term.shown(), "nothing was typed") {
		t.Error("a line feed after a carriage return was taken for a second line")
	}
	term.exchange("\r", "EM-1.1")
	term.end(statusOpen) // lands are not read
}

// Without a terminal, as over a serial console with a program at the other end, answers are lines.
func TestPlainPipe(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	pipe := func(lines string, status int, wants ...string) {
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
	pipe("0.0003\r\nr\n0.0002\nx\n", statusOpen, "Flute 1 > ", "taken back", `"x" is no answer here`, "stopped; what was read is kept")
	pipe("-0.0001\n0\n0.0001\n0.0002\n", statusOpen, "1 of 5 questions are answered", "All is read", "EM-1.1")
}

// At forty columns no line is longer, and words stay whole.
func TestNarrowTerminal(t *testing.T) {
	t.Parallel()
	term := onTerminal(t, 40, folder(t), "inspect", "EM-1", "--stage", "between", "--features", "radial-runout")
	term.exchange("?", "the inspection can be taken up", "0,1\r", "not a number", "q\r", "stopped")
	asked, _, _ := strings.Cut(term.shown(), "stopped")
	for line := range strings.Lines(asked) {
		if line = strings.Trim(line, "\r\n\a"); len(line) > 40 {
			t.Errorf("%d columns: %q", len(line), line)
		}
	}
	term.end(statusOpen)
}

// gaugeBench starts a practice gauge and writes a bench file for it.
func gaugeBench(t *testing.T, dir string, take device.Mode, steps ...device.Step) *device.Practice {
	t.Helper()
	p := device.PracticeProfile(take, length.In)
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
	if err := os.WriteFile(filepath.Join(dir, "bench.toml"), []byte(profileTable(p)), 0o600); err != nil {
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
	time.Sleep(30 * time.Millisecond) // over the quiet time
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
	term := onTerminal(t, 200, dir, "inspect", "EM-1", "--stage", "between", "--bench", "bench.toml", "--features", "radial-runout,wear-land", "--repeats", "2")
	term.see("Flute 1: radial run-out", "press the button of dial, or type the reading", "Flute 1 > ")
	term.press(practice, step(3, device.NoFault), "resolution taken from the decimals seen", "\arecorded +0.00030 in", "Flute 4 > ")
	term.exchange("\r", "press the button of dial", "", "Flute 4 > ")
	term.press(practice, step(-1, device.Noise), "NOT RECORDED", "Flute 4 > ")
	term.press(practice, step(-1, device.OverRange), "NOT RECORDED", "out of its range")
	term.press(practice, step(-1, device.LowBattery), "NOT RECORDED", "battery is low")
	term.press(practice, step(-1, device.WrongUnit), "NOT RECORDED", "another unit: \"mm\", not in")
	term.press(practice, step(-1, device.NoFault), "\arecorded -0.00010 in", "Flute 3 > ")
	term.press(practice, step(1, device.Doubled), "\arecorded +0.00010 in", "Flute 2 > ")
	term.exchange("0.00", "0.00")
	term.press(practice, step(2, device.Silent), "nothing from gauge", "Flute 2 > 0.00") // what is typed stays
	term.exchange("02\r", "\arecorded 0.0002 in", "", "reading 2")
	term.press(practice, step(3, device.Unplug), "disconnected", "NOT RECORDED", "Then press Enter, or type the reading")
	term.exchange("\r", "going on with dial", "", "Flute 1 > ")
	term.press(practice, step(3, device.NoFault), "\arecorded +0.00030 in", "Flute 4 > ")
	term.exchange("s cannot reach\r", "Flute 3 > ", "f enough\r", "Flute 1: wear land")
	term.press(practice, step(9, device.NoFault), "NOT RECORDED: +0.00090 in came from dial when it was not asked for", "Flute 1 > ")
	term.exchange("q\r", "stopped")
	term.end(statusOpen)
	if got := strings.Count(records(t, dir), `"what":"reading"`); got != 5 {
		t.Errorf("%d readings in the draft, want 5", got)
	}
}

// A button pressed again and again without a movement is asked about before it goes on.
func TestStuckGauge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	practice := gaugeBench(t, dir, device.Button)
	term := onTerminal(t, 200, dir, "inspect", "EM-1", "--stage", "between", "--bench", "bench.toml", "--features", "radial-runout", "--repeats", "2")
	term.see(" > ")
	for range 4 {
		term.press(practice, step(3, device.NoFault), "\arecorded +0.00030 in", " > ")
	}
	term.press(practice, step(3, device.NoFault), "NOT RECORDED", "same value again and again", "Then press Enter")
	term.press(practice, step(4, device.NoFault)) // while it is held
	term.exchange("\r", "going on with dial")
	term.press(practice, step(2, device.NoFault), "\arecorded +0.00020 in")
	term.cmd.Process.Signal(syscall.SIGTERM)
	term.end(statusOpen)
}

// A gauge that is asked: Enter reads it; an answer that stays away or comes for another question is no reading.
func TestPolledGauge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	gaugeBench(t, dir, device.Poll, step(3, device.NoFault), step(2, device.Silent), step(1, device.Late), step(-1, device.NoFault), step(5, device.Silent), step(6, device.NoFault))
	term := onTerminal(t, 200, dir, "inspect", "EM-1", "--stage", "between", "--bench", "bench.toml", "--features", "radial-runout")
	term.see("press Enter to read dial, or type the reading")
	term.exchange(
		"\r", "\arecorded +0.00030 in",
		"", "Flute 4 > ",
		"\r", "NOT RECORDED: reading gauge \"dial\": no answer in 300ms",
		"\r", "no answer in 300ms",
		"\r", "\arecorded -0.00010 in",
		"", "Flute 3 > ",
		"\r", "no answer",
		"\r", "\arecorded +0.00060 in",
		"q\r", "stopped",
	)
	term.end(statusOpen)
}

// A gauge that streams: Enter takes what it shows; without a movement between, it is asked about.
func TestStreamingGauge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	practice := gaugeBench(t, dir, device.Stream, step(3, device.NoFault))
	practice.Press()
	term := onTerminal(t, 200, dir, "inspect", "EM-1", "--stage", "between", "--bench", "bench.toml", "--features", "radial-runout")
	term.see("press Enter to take what dial shows")
	term.exchange(
		"\r", "\arecorded +0.00030 in",
		"", "Flute 4 > ",
		"\r", "NOT RECORDED",
		"", "same value again and again",
		"\r", "going on with dial",
	)
	term.press(practice, step(-1, device.NoFault))
	time.Sleep(100 * time.Millisecond) // two of its frames
	term.exchange("\r", "\arecorded -0.00010 in", "q\r", "stopped")
	term.end(statusOpen)
}
