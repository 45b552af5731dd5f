package session

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv("SESSION_TEST_INSPECT"); dir != "" {
		inspectUntilKilled(dir)
	}
	os.Exit(m.Run())
}

// inspectUntilKilled goes on with the inspection in a ledger, each reading one that was not taken before, and
// prints it once it has been acknowledged.
func inspectUntilKilled(dir string) {
	fail := func(err error) {
		if err != nil {
			fmt.Println("error:", err)
			os.Exit(1)
		}
	}
	l, err := ledger.Open(dir, ledger.Options{})
	fail(err)
	s, _, err := Resume(l, "EM 1/2.1", time.Now)
	fail(err)
	for n := len(s.Inspection().Readings) + 1; ; n++ {
		value := length.Length(rand.Int64N(1_000_000))
		fail(s.Record(inspect.Reading{Feature: inspect.RadialRunout, Flute: n%4 + 1, Repeat: n, Value: value, Text: value.String(), Unit: length.Mm}))
		fmt.Printf("%d=%d\n", n, value)
	}
}

// Processes that inspect are killed at random moments; whatever any of them acknowledged is there when the
// inspection is taken up again.
func TestKillsLoseNothing(t *testing.T) {
	inspections, killsOfEach := 10, 20
	if testing.Short() {
		inspections = 1
	}
	acknowledged := 0
	for range inspections {
		dir := t.TempDir()
		s := begin(t, openLedger(t, dir), inspect.After, Plan{Repeats: 1})
		if err := s.Release(); err != nil {
			t.Fatal(err)
		}
		want := map[int]length.Length{}
		for n := range killsOfEach {
			for _, line := range runAndKill(t, dir, n%2 == 1) {
				var repeat int
				var value length.Length
				if _, err := fmt.Sscanf(line, "%d=%d", &repeat, &value); err != nil {
					t.Fatalf("child said %q", line)
				}
				want[repeat] = value
			}
			check(t, dir, want)
		}
		acknowledged += len(want)
	}
	if kills := inspections * killsOfEach; acknowledged < kills {
		t.Errorf("only %d readings were acknowledged in %d kills: the test tries too little", acknowledged, kills)
	}
	t.Logf("%d kills, %d readings acknowledged, none lost", inspections*killsOfEach, acknowledged)
}

// runAndKill runs a child, kills it after a random while and returns the whole lines that it printed. Of two
// children one is killed whatever it has come to, the other while it records.
func runAndKill(t *testing.T, dir string, recording bool) []string {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "SESSION_TEST_INSPECT="+dir)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	err = cmd.Start()
	if errors.Is(err, syscall.ENOEXEC) {
		t.Skip("an emulator runs this test binary, and the system cannot start it a second time")
	}
	if err != nil {
		t.Fatal(err)
	}
	first, said := "", bufio.NewReader(out)
	if recording {
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

// check takes the inspection up again: every acknowledged reading is there, with its value.
func check(t *testing.T, dir string, want map[int]length.Length) {
	t.Helper()
	s, lost, err := Resume(openLedger(t, dir), "EM 1/2.1", time.Now)
	if err != nil || lost != nil {
		t.Fatal(err, lost)
	}
	defer s.Release()
	got := map[int]length.Length{}
	for _, r := range s.Inspection().Readings {
		got[r.Repeat] = r.Value
	}
	for repeat, v := range want {
		if g, ok := got[repeat]; !ok || g != v {
			t.Fatalf("reading %d was acknowledged as %d and is %d (there: %v)", repeat, v, g, ok)
		}
	}
}
