package desk

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// foreign are words of libraries and of programs, which no person at a bench should be told.
var foreign = regexp.MustCompile(`(?i)strconv|toml|json|regexp|parse|unmarshal|syntax|int64|float64|utf-8|rune|nil\b|panic|%!|pattern|invalid|struct|\bEOF\b`)

// What a hand, a gauge and a second device may do, drawn at random.
func randomEvent(r *rand.Rand, now *time.Time, d *Desk) Event {
	step := []time.Duration{20 * time.Millisecond, time.Second, 3 * time.Second, 25 * time.Second}[r.IntN(4)]
	*now = now.Add(step)
	lines := []string{"", "", "c", "5", "4 .015", "3 .01 f2", "1 f2 dark line", "2", "u 1", "0", "1", "-1", "3t", "0 -1 1 1 0", "0 -1 1 1", "7 17 70", "17 70", "12 48", ".4962",
		"12.58mm", "27 28 27 26", "-24", "f", "u", "up 4", "d .015", "slide", "turn", "y", "b", "t", "?", "s no flat", "s all no loupe", "n a note", "k", "g", "g micrometer", "q", "x", "ok", "none",
		"2 f3", "14 2", "T.EM-0412", "T.EM-9", ".0001 .0001", "1/2", "1 1/2", "0,0001", "0.0l1", "400", "\x1b[A", "a\u202eb", "\x00", strings.Repeat("9", 300), "R. Osei", "½", "1e9", "-", "+", ".",
		"order 1 4 3 2", "order 1432", "last 3 4 1 2", "rest .0431", "wheel cup 4", "not", "o", "14 order 4 3 2 1", "4 -1 0 1", "0 4 -3 1", "m"}
	gauge := []string{"indicator 2", "micrometer", "loupe", "none such"}[r.IntN(4)]
	switch r.IntN(20) {
	case 0:
		return Key{At: *now, Key: Backspace}
	case 1:
		return Plug{At: *now, Gauge: gauge, In: r.IntN(2) == 0}
	case 2:
		what := []Trouble{SwitchedUnit, LowBattery, OutOfRange, Silent, Garbled, Bounced, TwoNumbers, Stuck, Flood, Late, Unplugged}[r.IntN(11)]
		return Fault{At: *now, Gauge: gauge, What: what, Text: "0.01", Unit: length.Mm, Value: 10 * length.Micrometre}
	case 3:
		return Clock{At: *now}
	case 4, 5, 6, 7:
		v := length.Length(r.IntN(9)-4) * length.Tenth
		return Frame{At: *now, Gauge: gauge, Raw: v.Format(length.In, 4), Text: v.Format(length.In, 4), Unit: length.In, Value: v}
	case 8:
		return Line{At: *now, Text: lines[r.IntN(len(lines))], Of: d.Ticket()}
	case 9:
		return Line{At: *now, Text: lines[r.IntN(len(lines))], Of: "radial-runout flute 2 repeat 1"}
	}
	return Line{At: *now, Text: lines[r.IntN(len(lines))]}
}

func everything(s *Start) {
	withGauge(Button)(s)
	s.Inspection.Stage = inspect.After
	s.Plan = Plan{Sights: true, Rounds: 2, Most: 4, Backward: true, Once: []inspect.Feature{inspect.ReliefDrop, inspect.Diameter}, Features: []inspect.Feature{
		inspect.RadialRunout, inspect.ShankRunout, inspect.PrimaryLand, inspect.Land, inspect.ReliefDrop, inspect.AxialRunout, inspect.EndPrimaryLand, inspect.EndLand, inspect.Diameter}}
	s.Plan.Ground = &Grind{inspect.Ground{Divisions: 1, Order: []int{1, 2, 3, 4}}, "primary of the flutes"}
	s.Plan.DropsAt = []length.Length{length.Inch / 10, length.Inch / 2}
}

// keptLines is what a draft would hold, byte for byte.
func keptLines(t *testing.T, kept []Keep) string {
	t.Helper()
	var b strings.Builder
	for _, k := range kept {
		text, err := json.Marshal(k)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "%s\n", text)
	}
	return b.String()
}

// Random hands, gauges and devices: no reading is lost or invented, every message is in the words of the shop, what is refused
// keeps nothing, and what was recorded plays back to the same lines.
func TestRandomConversations(t *testing.T) {
	conversations := 60
	if os.Getenv("FLUTELOG_LONG") != "" {
		conversations = 5000
	}
	for seed := range conversations {
		r := rand.New(rand.NewPCG(uint64(seed), 7))
		b := newBench(t, everything)
		var file bytes.Buffer
		recorder, err := NewRecorder(&file, "invented")
		if err != nil {
			t.Fatal(err)
		}
		now := b.now
		recorded := -1                           // lines kept when a disk failed and the recording ended
		stands := map[Question]inspect.Reading{} // what should stand, from the effects alone
		for range 150 {
			e := randomEvent(r, &now, b.d)
			before := len(b.kept)
			if r.IntN(40) == 0 { // the disk fails once
				b.fail = func(Effect) error { b.fail = nil; return fmt.Errorf("no space is left on the disk") }
			} else {
				b.fail = nil
			}
			failed := b.fail != nil
			if failed { // from here on it cannot be played back: the disk of the playback is sound
				recorder = &Recorder{&bytes.Buffer{}}
				if recorded < 0 {
					recorded = len(b.kept)
				}
			}
			if err := recorder.Record(b.d, e); err != nil {
				t.Fatal(err)
			}
			b.do(e)
			p := b.d.Prompt()
			for _, k := range b.kept[before:] {
				switch k.What {
				case Read:
					stands[Question{Key: k.Reading.Key()}] = *k.Reading
				case TakenBack, LeftOut:
					delete(stands, k.Question)
				}
			}
			for _, r := range b.d.Inspection().Readings { // what is judged is shown
				if !slices.ContainsFunc(b.d.Rows(), func(row Row) bool { return slices.Contains(row.Boxes, Question{Key: r.Key()}) }) {
					t.Fatalf("seed %d, %+v: %s is judged and not shown", seed, e, r.Key())
				}
			}
			texts := append([]string{p.Refused, p.Said, p.Ask}, p.Trouble...)
			for _, text := range append(texts, p.Notes...) {
				if w := foreign.FindString(text); w != "" {
					t.Fatalf("seed %d, %+v: %q says %q", seed, e, text, w)
				}
				if !printable(text) {
					t.Fatalf("seed %d, %+v: %q cannot be printed", seed, e, text)
				}
			}
			if p.Said != "" && strings.HasPrefix(p.Said, "taken:") && p.Refused != "" {
				t.Fatalf("seed %d, %+v: taken and refused: %q, %q", seed, e, p.Said, p.Refused)
			}
		}
		in := b.d.Inspection()
		if len(in.Readings) != len(stands) {
			t.Fatalf("seed %d: %d readings stand, the kept lines come to %d", seed, len(in.Readings), len(stands))
		}
		for _, reading := range in.Readings {
			kept := stands[Question{Key: reading.Key()}]
			if kept.Value != reading.Value || kept.Gauge != reading.Gauge || kept.At != reading.At {
				t.Fatalf("seed %d: %+v stands, %+v was kept", seed, reading, kept)
			}
		}
		if recorded < 0 {
			recorded = len(b.kept)
		}
		playback(t, seed, file.Bytes(), b.kept[:recorded])
	}
}

// playback plays a recording to a fresh desk and holds what it keeps against what was kept.
func playback(t *testing.T, seed int, file []byte, kept []Keep) {
	t.Helper()
	rec, err := ReadRecording(bytes.NewReader(file))
	if err != nil {
		t.Fatalf("seed %d: %v", seed, err)
	}
	again := newBench(t, everything)
	for _, e := range rec.Events {
		again.do(e)
	}
	if got, want := keptLines(t, again.kept), keptLines(t, kept); got != want {
		t.Fatalf("seed %d: played back it keeps\n%s\nand it kept\n%s", seed, got, want)
	}
}

// Taken up again after any number of lines, a conversation asks what it would have asked.
func TestTakenUpAgain(t *testing.T) {
	lines := []string{"", "c", "0 -1 1 1", "0 -1 0 1 0", "0 0 0 0", "0 0 0 0 0", "25 69", "25 69", "26 69", "28 70", "27 28 27 26", "27 28 27 26", "0 1 0 1", "0 1 0 1 0", "13 48", "13 48", "12 48", "13 48", ".4954"}
	plain := func(s *Start) { everything(s); s.Gauges = nil }
	whole := newBench(t, plain)
	whole.took(lines...)
	whole.asks("All is read")
	for cut := range whole.kept {
		b := newBench(t, func(s *Start) {
			plain(s)
			for _, k := range whole.kept[:cut] {
				if k.Reading != nil {
					s.Inspection.Readings = append(s.Inspection.Readings, *k.Reading)
				}
				s.Told = s.Told || k.Ground != nil
				if k.Seen != nil {
					s.Inspection.Seen = append(s.Inspection.Seen, *k.Seen)
				}
			}
		})
		next := whole.kept[cut]
		q, asked := b.d.Asked()
		if next.Ground != nil {
			if !asked || !q.Ground {
				t.Errorf("after %d lines it asks %+v, want how it was ground", cut, q)
			}
			continue
		}
		if next.Seen != nil {
			if !asked || q.Sight == "" {
				t.Errorf("after %d lines it asks %+v, want the sights", cut, q)
			}
			continue
		}
		if !asked || q.Key != next.Reading.Key() {
			t.Errorf("after %d lines it asks %v, want %v", cut, q.Key, next.Reading.Key())
		}
	}
}

func TestRecordingRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":                                    "line 1: want",
		"flutelog desk recording 2\n":         "line 1: want",
		recordingHead + "\nburst {}\n":        `line 2: event "burst" is not known`,
		recordingHead + "\n# a\nline {\"at\"": "line 3: the event cannot be read",
	} {
		if _, err := ReadRecording(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// A PIN never reaches a recording.
func TestPINIsNotRecorded(t *testing.T) {
	b := newBench(t, func(s *Start) { s.Plan.Features, s.Plan.Sights = []inspect.Feature{inspect.Diameter}, false })
	b.took(".4962", "")
	b.do(Closed{At: b.now, ID: "EM-0412.1", Answer: Answer{Headline: "RELEASE", Sign: true, Signers: []string{"R. Osei", "M. Ruiz"}}})
	b.refused("", "Who signs?")
	b.refused("T. Vance", "may not sign here: R. Osei, M. Ruiz may")
	b.took("2")
	b.asks("PIN of M. Ruiz?")
	var file bytes.Buffer
	recorder, _ := NewRecorder(&file)
	pin := Line{At: b.now, Text: "4711"}
	if err := recorder.Record(b.d, pin); err != nil || strings.Contains(file.String(), "4711") {
		t.Errorf("%v, recorded %s", err, file.String())
	}
	b.do(pin)
	if !slices.Contains(b.effects, Effect(Sign{"M. Ruiz", "4711"})) {
		t.Errorf("%+v", b.effects)
	}
	b.do(Signed{At: b.now, Who: "M. Ruiz"})
	if p := b.d.Prompt(); !strings.Contains(p.Said, "RELEASED, signed M. Ruiz") {
		t.Errorf("said %q", p.Said)
	}
}

func FuzzLines(f *testing.F) {
	f.Add("c\n0 -1 1 1 0\n7 17 70")
	f.Add("1 f2 dark; 4 .015\nT.EM\ny\nq")
	f.Add("4 .015in f3 long note 3/16\n\n-24\nf\nup 1/2")
	f.Fuzz(func(t *testing.T, text string) {
		b := newBench(t, everything)
		for i, line := range strings.SplitN(text, "\n", 40) {
			b.do(Line{At: at(i * 1000), Text: line})
			p := b.d.Prompt()
			if w := foreign.FindString(p.Refused); w != "" && !strings.Contains(text, w) {
				t.Errorf("%q: refused %q says %q", line, p.Refused, w)
			}
			if !printable(p.Refused + p.Said + p.Ask) {
				t.Errorf("%q: %q %q cannot be printed", line, p.Refused, p.Said)
			}
		}
	})
}
