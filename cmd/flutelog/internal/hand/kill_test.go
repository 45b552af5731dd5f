package hand

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/ledger/processtest"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv("HAND_TEST_INSPECT"); dir != "" {
		inspectUntilKilled(dir)
	}
	os.Exit(m.Run())
}

const killed = "EM 1/2.1"

// testTool is invented; its id holds what no file name may.
func testTool() inspect.Tool {
	return inspect.Tool{
		ID: "EM 1/2", Diameter: length.Inch / 2, Flutes: 12, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
}

// manyRounds asks for more readings than any child comes to.
func manyRounds() desk.Plan {
	return desk.Plan{Features: []inspect.Feature{inspect.RadialRunout, inspect.AxialRunout, inspect.ReliefDrop}, Rounds: 20, Most: 20}
}

// inspectUntilKilled types at the desk of the inspection in a ledger, each value once, in rows and alone, and prints each
// reading once it has been acknowledged.
func inspectUntilKilled(dir string) {
	fail := func(err error) {
		if err != nil {
			fmt.Println("error:", err)
			os.Exit(1)
		}
	}
	l, err := ledger.Open(dir, ledger.Options{})
	fail(err)
	c := Config{Ledger: l, Now: time.Now}
	h, _, err := TakeUp(c, killed)
	if errors.Is(err, fs.ErrNotExist) { // whoever was killed had nothing on disk yet
		tool := testTool()
		h, err = Begin(c, inspect.Inspection{ID: killed, Tool: tool, Stage: inspect.After, Basis: inspect.DefaultBasis(tool)}, manyRounds())
	}
	fail(err)
	for {
		in, q, asked := h.Inspection()
		if !asked {
			fail(errors.New("everything is read: more rounds are needed"))
		}
		n := len(in.Readings)
		text := fmt.Sprintf(".00%02d%03d", 10+rand.IntN(10), n%1000) // within what a drop and a height can be
		row := 1
		again := slices.ContainsFunc(in.Readings, func(r inspect.Reading) bool { return r.Key() == q.Key })
		if again { // a reading that stood apart
			fmt.Printf("again %s\n", q.Key)
		}
		if rand.IntN(3) == 0 && !q.Key.Closing && q.Key.Flute == 1 && !again {
			row = in.Tool.Flutes
			text = strings.TrimSpace(strings.Repeat(text+" ", row))
		}
		h.Do(desk.Line{At: time.Now(), Text: text})
		if p := h.Prompt(); p.Refused != "" {
			if strings.Contains(p.Refused, "Flute 1 was") { // read again last, and far off: then as before
				for _, r := range in.Readings {
					if r.Flute == 1 && r.Feature == q.Key.Feature && !r.Closing {
						text = r.Text
					}
				}
				h.Do(desk.Line{At: time.Now(), Text: text})
			}
			if p = h.Prompt(); p.Refused != "" {
				fail(errors.New(text + ": " + p.Refused))
			}
		}
		after, _, _ := h.Inspection()
		for _, r := range after.Readings {
			if !slices.ContainsFunc(in.Readings, func(old inspect.Reading) bool { return old.Key() == r.Key() && old.Value == r.Value }) || r.Key() == q.Key {
				fmt.Printf("%s=%d\n", r.Key(), r.Value)
			}
		}
	}
}

// Processes that inspect are killed at random moments; whatever any of them acknowledged is there when the inspection is taken
// up again, and nothing is there that nobody typed.
func TestKillsLoseNothing(t *testing.T) {
	inspections, killsOfEach := 10, 20
	if testing.Short() {
		inspections = 1
	}
	acknowledged := 0
	for range inspections {
		dir := t.TempDir()
		l, err := ledger.Open(dir, ledger.Options{Bench: "test"})
		if err != nil {
			t.Fatal(err)
		}
		tool := testTool()
		if _, err := record.SaveTool(l, tool); err != nil {
			t.Fatal(err)
		}
		want := map[string]int64{}
		inFlight := 0
		for n := range killsOfEach {
			again := map[string]bool{} // asked again: either value may stand until one is acknowledged
			for _, line := range runAndKill(t, dir, n%2 == 1) {
				if key, ok := strings.CutPrefix(line, "again "); ok {
					again[key] = true
					continue
				}
				key, value, ok := strings.Cut(line, "=")
				var v int64
				if _, err := fmt.Sscan(value, &v); err != nil || !ok {
					t.Fatalf("child said %q", line)
				}
				want[key] = v
				delete(again, key)
			}
			w, lost, err := record.Resume(l, killed, nil, time.Now)
			if errors.Is(err, fs.ErrNotExist) && len(want) == 0 {
				continue
			}
			// A write that the kill cut off is named until the next one makes it void; what is acknowledged is held below.
			lost = slices.DeleteFunc(lost, func(d ledger.Damage) bool { return strings.HasPrefix(d.What, "torn: no end of line") })
			if err != nil || len(lost) > 0 {
				t.Fatal(err, lost)
			}
			got := map[string]int64{}
			for _, r := range w.Inspection.Readings {
				got[r.Key().String()] = int64(r.Value)
			}
			if err := w.Release(); err != nil {
				t.Fatal(err)
			}
			for key, v := range want {
				if g, ok := got[key]; !ok || g != v && !again[key] {
					t.Fatalf("%s was acknowledged as %d and is %d (there: %v)", key, v, g, ok)
				}
			}
			inFlight += len(got) - len(want) // on disk, and killed before it was said
			want = got
		}
		if most := killsOfEach * tool.Flutes; inFlight > most {
			t.Errorf("%d readings that nobody was told of, in %d kills", inFlight, killsOfEach)
		}
		acknowledged += len(want) - inFlight
	}
	if kills := inspections * killsOfEach; acknowledged < kills {
		t.Errorf("only %d readings were acknowledged in %d kills: the test tries too little", acknowledged, kills)
	}
	t.Logf("%d kills, %d readings acknowledged, none lost", inspections*killsOfEach, acknowledged)
}

// runAndKill runs a child, kills it after a random while and returns the whole lines that it printed. Of two children one
// is killed whatever it has come to, the other while it records.
func runAndKill(t *testing.T, dir string, recording bool) []string {
	t.Helper()
	cmd, out := processtest.Start(t, "HAND_TEST_INSPECT="+dir)
	first, said := "", bufio.NewReader(out)
	if recording {
		var err error
		if first, err = said.ReadString('\n'); err != nil {
			t.Fatalf("child: %s%v", first, err)
		}
	}
	time.AfterFunc(time.Duration(rand.Int64N(int64(50*time.Millisecond))), func() { cmd.Process.Kill() })
	rest, err := io.ReadAll(said)
	if err != nil {
		t.Fatal(err)
	}
	cmd.Wait()
	text := first + string(rest)
	if strings.Contains(text, "error:") {
		t.Fatalf("child: %s", text)
	}
	whole := strings.Split(text, "\n")
	return whole[:len(whole)-1] // what follows the last line end is not a whole line
}
