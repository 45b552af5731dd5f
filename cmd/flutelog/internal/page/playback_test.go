package page

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/cmd/flutelog/internal/hand"
	desktop "flutelog/cmd/flutelog/internal/terminal"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// typedAtRandom is what a hand may type, good and bad, and how long it takes to.
func typedAtRandom(r *rand.Rand) (lines []string) {
	words := []string{"c", "5", "4 .015", "1 f2 dark line", "0", "-1", "0 -1 1 1 0", "0 -1 1 1", "7 17 70", "17 70", "12 48", ".4962", "27 28 27 26", "-24", "f", "up 4", "y", "b", "t", "?",
		"s no flat", "s all no loupe", "x", "3t", "1/2", "0,0001", "400", "T.PL-1", "T.EM-9", "n dry", "2 f3", "14 2", ".0001"}
	for range 30 + r.IntN(30) {
		lines = append(lines, words[r.IntN(len(words))])
	}
	return lines
}

// ledgerFor makes a ledger with one tool and a bench of its own, whose clock the caller moves.
func ledgerFor(t *testing.T, like string, clock func() time.Time) (*ledger.Ledger, string) {
	t.Helper()
	dir := t.TempDir()
	if like != "" {
		if err := os.CopyFS(dir, os.DirFS(like)); err != nil {
			t.Fatal(err)
		}
	}
	l, err := ledger.Open(dir, ledger.Options{Bench: "played", Clock: func() ledger.Time { return ledger.Time{UTC: clock(), Synchronised: true} }})
	if err != nil {
		t.Fatal(err)
	}
	return l, dir
}

// everyByte is all that a ledger's folder holds.
func everyByte(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasSuffix(path, "lock") {
			return err
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		fmt.Fprintf(&all, "== %s\n%s", name, text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all.String()
}

// oneLine gives a line at each Read, so that none is read before the one before it was dealt with.
type oneLine struct {
	lines []string
	next  chan struct{}
}

func (o *oneLine) Read(p []byte) (int, error) {
	<-o.next
	if len(o.lines) == 0 {
		return 0, io.EOF
	}
	n := copy(p, o.lines[0]+"\n")
	o.lines = o.lines[1:]
	return n, nil
}

// What was typed at a desk and recorded plays back through the terminal and through the page's hub to the same ledger, byte
// for byte.
func TestPlaybackGivesEqualLedgers(t *testing.T) {
	t.Parallel()
	conversations := 25
	if os.Getenv("FLUTELOG_LONG") != "" {
		conversations = 1000
	}
	tool := testTool
	tool.ID, tool.Flutes = "PL-1", 4
	b, err := bench.Parse("b.toml", []byte("bare-numbers = \"divisions\"\n[[gauge]]\nname = \"dial\"\nunit = \"in\"\nresolution = \"0.0001in\"\n[[gauge]]\nname = \"loupe\"\nunit = \"in\"\nresolution = \"0.001in\"\nfeatures = [\"primary-land\", \"land\", \"wear-land\", \"end-primary-land\", \"end-land\"]\n"))
	if err != nil {
		t.Fatal(err)
	}
	began := time.Date(2026, 11, 27, 8, 0, 0, 0, time.UTC)
	now := began
	clock := func() time.Time { return now }
	seed, seedDir := ledgerFor(t, "", clock)
	if _, err := record.SaveTool(seed, tool); err != nil {
		t.Fatal(err)
	}
	before := everyByte(t, seedDir)
	for n := range conversations {
		r := rand.New(rand.NewPCG(uint64(n), 3))
		stage := []inspect.Stage{inspect.Before, inspect.Between, inspect.After}[r.IntN(3)]
		lines := typedAtRandom(r)
		start := func(l *ledger.Ledger) (record.Tool, inspect.Inspection, desk.Plan) {
			now = began
			found, err := record.FindTool(l, tool.ID)
			if err != nil {
				t.Fatal(err)
			}
			in, plan, err := hand.Prepare(l, b, found, bench.Choices{Stage: stage, Unit: length.In})
			if err != nil {
				t.Fatal(err)
			}
			return found, in, plan
		}

		// At a desk, recorded.
		l, dir := ledgerFor(t, seedDir, clock)
		found, in, plan := start(l)
		var file bytes.Buffer
		recorder, err := desk.NewRecorder(&file, "invented")
		if err != nil {
			t.Fatal(err)
		}
		h, err := hand.Begin(hand.Config{Ledger: l, AtOnce: true, Now: clock, Gauges: &gauges.Set{ByEye: b.Gauges}, Known: hand.Known(b, in, nil), Recorder: recorder}, in, plan)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range lines {
			now = now.Add(time.Duration(1+r.IntN(4000)) * time.Millisecond)
			h.Do(desk.Line{At: now, Text: text})
		}
		if err := h.PutDown(); err != nil {
			t.Fatal(err)
		}
		want := everyByte(t, dir)
		if want == before {
			t.Fatalf("conversation %d kept nothing", n)
		}
		recording, err := desk.ReadRecording(&file)
		if err != nil {
			t.Fatal(err)
		}

		// Through the terminal: the recording's lines are typed into it, at their times.
		l, dir = ledgerFor(t, seedDir, clock)
		_, in, plan = start(l)
		h, err = hand.Begin(hand.Config{Ledger: l, AtOnce: true, Now: clock, Gauges: &gauges.Set{ByEye: b.Gauges}, Known: hand.Known(b, in, nil)}, in, plan)
		if err != nil {
			t.Fatal(err)
		}
		typed := &oneLine{next: make(chan struct{}, 1)}
		var times []time.Time
		for _, e := range recording.Events {
			typed.lines, times = append(typed.lines, e.(desk.Line).Text), append(times, e.(desk.Line).At)
		}
		ctx, stop := context.WithCancel(t.Context())
		screen := &desktop.Terminal{In: typed, Out: io.Discard, Now: func() time.Time {
			if len(times) > 0 {
				now, times = times[0], times[1:]
			}
			return now
		}}
		screen.Open()
		over := make(chan struct{})
		asked := &counted{Hand: h, next: typed.next, most: len(recording.Events), all: stop}
		typed.next <- struct{}{}
		go func() { defer close(over); screen.Run(ctx, asked, nil) }()
		<-over
		close(typed.next)
		if err := h.PutDown(); err != nil {
			t.Fatal(err)
		}
		if got := everyByte(t, dir); got != want {
			t.Fatalf("conversation %d: through the terminal the ledger is\n%s\nand was\n%s", n, got, want)
		}

		// Through the page's hub.
		l, dir = ledgerFor(t, seedDir, clock)
		start(l)
		hub := newHub(Config{Ledger: l, Bench: b, Unit: length.In, Now: clock})
		hub.gauges = func(func(string) string) (*gauges.Set, []error) { return &gauges.Set{ByEye: b.Gauges}, nil }
		id, err := hub.begin(found, bench.Choices{Stage: stage, Unit: length.In}, "")
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range recording.Events {
			line := e.(desk.Line)
			now = line.At
			if held := hub.hand(id); held != nil {
				hub.line(id, held.Prompt().Ticket, line.Text)
			}
		}
		if err := hub.stop(id); err != nil {
			t.Fatal(err)
		}
		if got := everyByte(t, dir); got != want {
			t.Fatalf("conversation %d: through the page the ledger is\n%s\nand was\n%s", n, got, want)
		}
	}
}

// counted lets the next line be typed once the one before it was dealt with, and stops behind the last.
type counted struct {
	*hand.Hand
	next chan struct{}
	most int
	all  func()
}

func (c *counted) Do(e desk.Event) {
	if _, line := e.(desk.Line); !line {
		return
	}
	c.Hand.Do(e)
	if c.most--; c.most == 0 {
		c.all()
		return
	}
	c.next <- struct{}{}
}
