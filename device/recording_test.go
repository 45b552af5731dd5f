package device

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"

	"flutelog/inspect/length"
)

// A practice gauge recorded, unplugged on the way, and played: the same readings, the same interruption.
func TestRecordAndPlay(t *testing.T) {
	t.Parallel()
	steps := []Step{{tenths(3), NoFault}, {tenths(-2), NoFault}, {0, Unplug}, {tenths(5), NoFault}}
	p := quick(Poll)
	p.Timeout = 0
	session := func(open Opener) (got []string) {
		g := gaugeOn(t, open, p, nil)
		for range steps {
			f, err := g.Take(inTime(t))
			if errors.Is(err, ErrDisconnected) {
				got = append(got, "disconnected")
				if err := g.Confirm(inTime(t)); err != nil {
					t.Fatal(err)
				}
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, f.Text)
		}
		if err := g.Close(); err != nil {
			t.Fatal(err)
		}
		return got
	}
	var file bytes.Buffer
	live := session(Record(practice(t, p, steps).Open, &file))
	if want := "+0.00030 -0.00020 disconnected +0.00050"; strings.Join(live, " ") != want {
		t.Errorf("live: got %s, want %s", live, want)
	}
	rec, err := ReadRecording(bytes.NewReader(file.Bytes()))
	if err != nil {
		t.Fatalf("%v in\n%s", err, file.String())
	}
	if played := session(rec.Open); strings.Join(played, " ") != strings.Join(live, " ") {
		t.Errorf("played: got %s, want %s, from\n%s", played, live, file.String())
	}
}

// What a recording has left over when the gauge is closed is an error: what was played is not what was recorded.
func TestPlayLeftOver(t *testing.T) {
	const recorded = "gauge recording 1\nbench \"?\\r\"\ngauge \"+0.00030 in ok\\r\\n\"\nbench \"?\\r\"\ngauge \"+0.00050 in ok\\r\\n\"\n"
	for taken := range 3 {
		rec, err := ReadRecording(strings.NewReader(recorded))
		if err != nil {
			t.Fatal(err)
		}
		g, err := New(rec.Open, quick(Poll), nil)
		if err != nil {
			t.Fatal(err)
		}
		for range taken {
			if _, err := g.Take(inTime(t)); err != nil {
				t.Error(err)
			}
		}
		want := []string{"2 steps of the recording left over", "1 steps of the recording left over", ""}[taken]
		if got := fmt.Sprint(g.Close()); got != want && (want != "" || got != "<nil>") {
			t.Errorf("%d taken: closing gave %q, want %q", taken, got, want)
		}
	}
}

func TestPlayFile(t *testing.T) {
	f, err := os.Open("../testdata/recordings/button.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rec, err := ReadRecording(f)
	if err != nil {
		t.Fatal(err)
	}
	g := gaugeOn(t, rec.Open, Profile{Unit: length.In, QuietTime: Duration(20_000_000)}, nil)
	var got []string
	for {
		f, err := g.Take(inTime(t))
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, f.Text)
	}
	if want := "+0.0003 -0.0001 +0.0000"; strings.Join(got, " ") != want {
		t.Errorf("got %s, want %s", got, want)
	}
	if n := g.Counts().Duplicates; n != 1 {
		t.Errorf("got %d duplicates, want 1", n)
	}
}

func TestReadRecordingRefuses(t *testing.T) {
	const form = recordingForm + "\n"
	for text, want := range map[string]string{
		"":                            "nothing in it",
		"wait 1s\n":                   "recording:1:",
		form:                          "nothing in it",
		form + "\nwait 12\n":          "recording:3:",
		form + "wait -1s\n":           "recording:2:",
		form + "gauge +0.1\n":         "recording:2:",
		form + "gauge \"\"\n":         "recording:2:",
		form + "gauge 'x'\n":          "recording:2:",
		form + "bench\n":              "recording:2:",
		form + "unplugged again\n":    "recording:2:",
		form + "# remark\nspeak \"\"": "recording:3:",
	} {
		if _, err := ReadRecording(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want an error with %q", text, err, want)
		}
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("disk full") }

// A recording that cannot be written does not stop the readings, but is said in the end.
func TestRecordOnFullDisk(t *testing.T) {
	p := quick(Poll)
	g, err := New(Record(practice(t, p, []Step{{tenths(3), NoFault}}).Open, fullDisk{}), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	if f, err := g.Take(inTime(t)); err != nil || f.Value != tenths(3) {
		t.Errorf("got %s, %v", f.Value, err)
	}
	if err := g.Close(); err == nil || !strings.Contains(err.Error(), "disk full") {
		t.Errorf("closing: got %v, want disk full", err)
	}
}

func TestReadScript(t *testing.T) {
	got, err := ReadScript(strings.NewReader("# invented\n0.0003\n\n-0.0127mm doubled\n0 wrong-speed\n"), length.In)
	want := []Step{{tenths(3), NoFault}, {tenths(-5), Doubled}, {0, WrongSpeed}}
	if err != nil || len(got) != len(want) {
		t.Fatalf("got %v, %v, want %v", got, err, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("step %d: got %v, want %v", i+1, got[i], want[i])
		}
	}
	for _, text := range []string{"\nx\n", "0.1\n0.1 doubble\n"} {
		if _, err := ReadScript(strings.NewReader(text), length.In); err == nil || !strings.Contains(err.Error(), "script:2:") {
			t.Errorf("%q: got %v, want an error at line 2", text, err)
		}
	}
}

func TestPracticeRefusesWhatItCannotShow(t *testing.T) {
	for _, v := range []length.Length{11 * length.Inch, 1} {
		if g, err := StartPractice(PracticeProfile(Poll, length.In), []Step{{v, NoFault}}); err == nil {
			g.Close()
			t.Errorf("%s is taken", v)
		}
	}
}
