package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/creack/pty"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/device"
	"flutelog/inspect/length"
)

// table waits for a gauge's table and returns it, as a person copies it from the terminal.
func (term *onTTY) table(after string) string {
	term.t.Helper()
	term.see("[[gauge]]\r\n")
	start := term.read
	term.see(after)
	copied := term.shown()[start : term.read-len(after)]
	return "[[gauge]]\n" + strings.ReplaceAll(copied, "\r\n", "\n")
}

func writeBench(t *testing.T, dir, table string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, "bench.toml"), []byte(table), 0o600); err != nil {
		t.Fatal(err)
	}
}

// README's way to wire a gauge, with the practice gauge: its port is listened to, what listening writes is pasted
// into a bench file, and the gauge answers an inspection.
func TestWiringAGauge(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	gauge := onTerminal(t, 200, dir, "gauge", "practice")
	gauge.see("A pretend gauge, with invented readings")
	_, port, _ := strings.Cut(gauge.table("q ends."), "port = ")
	port, _, _ = strings.Cut(strings.TrimPrefix(port, `"`), `"`)

	listen := onTerminal(t, 200, dir, "gauge", "listen", port, "--record", "line.rec")
	listen.see("Listening.")
	gauge.send("\r")
	listen.see("2B 30 2E 30 30 30 30 30 20 69 6E 20 6F 6B 0D 0A", `text     "+0.00000 in ok\r\n"`, "refused", "set pattern = ", "so read  +0.00000 in")
	gauge.send("0.0003 noise\r")
	listen.see("refused", "change")
	gauge.exchange("\r", "> ", "0.0003 hiccup\r", `not sent: fault "hiccup"`, "10.5\r", "not sent: ", "x\r", "not sent")
	listen.see("-0.00010 in ok")
	listen.send("\x03")
	table := listen.table(`unit = "in"`) + `unit = "in"`
	listen.end(command.StatusDone)
	writeBench(t, dir, table)

	inspect := onTerminal(t, 200, dir, "inspect", "EM-1", "--stage", "between", "--features", "radial-runout", "--bench", "bench.toml")
	inspect.see("F L U T E   1", "flute 1, in > ")
	gauge.send("0.0004\r")
	inspect.see("+.0004", "flute 4, in > ")
	inspect.exchange("q\r", "stopped")
	inspect.end(command.StatusOpen)

	replay := onTerminal(t, 200, dir, "gauge", "listen", "indicator", "--bench", "bench.toml", "--replay", "line.rec")
	replay.see("READING  +0.00000 in", "READING  -0.00010 in", "For the bench file")
	replay.end(command.StatusDone)

	gauge.exchange("q\r", "\n")
	gauge.end(command.StatusDone)
}

// Every fault can be played, in every way of taking, whether or not anybody listens.
func TestPracticePlaysEveryFault(t *testing.T) {
	for _, take := range []device.Mode{device.Button, device.Stream, device.Poll} {
		t.Run(string(take), func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			script := "# invented\n0.0100\n"
			for _, fault := range device.Faults {
				script += fmt.Sprintf("0.0200 %s\n", fault)
			}
			if err := os.WriteFile(filepath.Join(dir, "all.script"), []byte(script), 0o600); err != nil {
				t.Fatal(err)
			}
			gauge := onTerminal(t, 200, dir, "gauge", "practice", "--take", string(take), "--unit", "mm", "--script", "all.script")
			writeBench(t, dir, gauge.table("\r\n\r\n"))
			gauge.see("q ends.", "> ")
			listen := onTerminal(t, 200, dir, "gauge", "listen", "practice", "--bench", "bench.toml")
			listen.see("Listening.")
			if take != device.Poll { // which asks
				gauge.send("\r")
			}
			listen.see("READING  +00.0100 mm")
			listen.send("\x03")
			listen.see("For the bench file")
			listen.end(command.StatusDone)
			gauge.send(strings.Repeat("\r", len(device.Faults)))
			for range device.Faults {
				gauge.see("> ")
			}
			if strings.Contains(gauge.shown(), "not sent") {
				t.Error(gauge.shown())
			}
			if take != device.Poll {
				gauge.exchange("\r", "the script is at its end")
			}
			gauge.send("\x04")
			gauge.end(command.StatusDone)
		})
	}
}

// turned is the trace of an invented four-flute tool, turned backwards from flute 1, in hundred-thousandths of an inch: slowly
// up each land to the edge, down at once over the face.
func turned(turns int) []int {
	const low, samples = -2000, 40
	heights := map[int]int{1: 30, 2: -10, 3: 10, 4: 20}
	trace := []int{heights[1], heights[1]}
	for range turns {
		for flute := 4; flute > 0; flute-- {
			for range 6 {
				trace = append(trace, low)
			}
			for i := 1; i <= samples; i++ {
				trace = append(trace, low+((heights[flute]-low)*i+samples/2)/samples) // to the nearest
			}
		}
	}
	return trace
}

// Run-out read by turning the tool under a stream: a trace that tells nothing is refused with the reason; of one that
// does each flute's height is recorded, and the whole trace with it.
func TestInspectBySweep(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	line, port, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	defer port.Close()
	p := device.Profile{Name: "dial", Port: port.Name(), Take: device.Stream, Unit: length.In}
	writeBench(t, dir, "[[gauge]]\n"+p.TOML())
	term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", "between", "--features", "radial-runout", "--sweep", "--bench", "bench.toml")
	stream := func(trace []int) {
		t.Helper()
		term.see("shows     0 values so far", "sweep > ")
		fmt.Fprint(line, "\r") // of a value that began before the line was opened
		for _, height := range trace {
			fmt.Fprintf(line, "%+.5f\r", float64(height)/1e5)
		}
		term.see(fmt.Sprintf("shows     %d values so far", len(trace)), "sweep > ")
		if screen := strings.Split(term.screen(), "\n"); len(screen) != 24 || slices.ContainsFunc(screen, func(l string) bool { return len(l) > 80 }) {
			t.Errorf("not a screen of 80 by 24:\n%s", term.screen())
		}
	}
	term.see("S W E E P", "set the contact on flute 1, then Enter", "sweep > ")
	term.exchange("\r", "three times round or more")
	stream([]int{0, 1, 0, 1, 0, 1, 0})
	term.exchange("\r", "NOT RECORDED: the sweep is unclear", "", "sweep > ", "\r", "three times round or more")
	trace := turned(4)
	stream(trace)
	term.exchange("\r", "flute 1: 0.00030, 3 turns within 0.000000; flute 2: -0.00010, 4 turns", "", "flute 3: 0.00010, 4", "", "All is read", "", "close > ", "\r", "READ ON")
	term.exchange("q\r", "")
	term.end(command.StatusOpen) // lands are not read
	kept := records(t, dir)
	if n := strings.Count(kept, `\"trace_mm\"`) + strings.Count(kept, `"trace_mm"`); n != 1 {
		t.Errorf("%d traces kept, want 1", n)
	}
	_, first, _ := strings.Cut(kept, `"trace_mm":"`)
	first, _, _ = strings.Cut(first, `"`)
	if got := len(strings.Fields(first)); got != len(trace) {
		t.Errorf("%d values kept, want %d", got, len(trace))
	}
}

// A sweep needs a gauge that streams.
func TestSweepWithoutStream(t *testing.T) {
	t.Parallel()
	cmd := program(folder(t), "inspect", "EM-1", "--stage", "between", "--sweep")
	out, err := cmd.CombinedOutput()
	if exitOf(err) != command.StatusUsage || !strings.Contains(string(out), "no gauge that streams is here") {
		t.Errorf("%v\n%s", err, out)
	}
}
