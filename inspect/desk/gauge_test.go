package desk

import (
	"slices"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

func withGauge(mode Mode) func(*Start) {
	return func(s *Start) {
		s.Plan.Sights = false
		s.Gauges = []Device{
			{Name: "indicator 2", Mode: mode, Features: []inspect.Feature{inspect.RadialRunout, inspect.ReliefDrop}, Resolution: length.Tenth, Unit: length.In},
			{Name: "micrometer", Mode: Button, Features: []inspect.Feature{inspect.Diameter}, Resolution: length.Tenth, Unit: length.In},
			{Name: "loupe", ByEye: true, Features: []inspect.Feature{inspect.WearLand, inspect.PrimaryLand, inspect.Land}},
		}
	}
}

// press sends a frame of the indicator, a good while after the last event.
func (b *bench) press(tenths int) {
	b.t.Helper()
	b.now = b.now.Add(2 * time.Second)
	b.do(b.frame("indicator 2", tenths))
}

func (b *bench) frame(gauge string, tenths int) Frame {
	v := length.Length(tenths) * length.Tenth
	return Frame{At: b.now, Gauge: gauge, Text: v.Format(length.In, 4), Unit: length.In, Value: v}
}

func (b *bench) fault(what Trouble) {
	b.now = b.now.Add(2 * time.Second)
	b.do(Fault{At: b.now, Gauge: "indicator 2", What: what, Text: "0.013", Unit: length.Mm, Value: 13 * length.Micrometre})
}

func (b *bench) trouble(want ...string) {
	b.t.Helper()
	text := strings.Join(b.d.Prompt().Trouble, " ")
	for _, w := range want {
		if !strings.Contains(text, w) {
			b.t.Errorf("trouble %q, want %q", text, w)
		}
	}
	if len(want) == 0 && text != "" {
		b.t.Errorf("trouble %q, want it gone", text)
	}
}

// A reading carries its gauge and the time of its frame; a typed one the keyboard, or the gauge read by eye.
func TestWhoseReading(t *testing.T) {
	b := newBench(t, withGauge(Button))
	b.press(0)
	frame := b.now
	b.do(Clock{At: b.now.Add(time.Second)})
	b.types("-1")
	b.press(1)
	b.press(1)
	b.press(0)
	b.types("7 17 70")
	r := b.d.Inspection().Readings
	if r[0].Gauge != "indicator 2" || r[0].At != stamp(frame) || r[0].Text != "0.0000" {
		t.Errorf("%+v", r[0])
	}
	if r[1].Gauge != "keyboard" {
		t.Errorf("typed with its gauge there: %+v", r[1])
	}
	if r[5].Gauge != "loupe" {
		t.Errorf("read by eye: %+v", r[5])
	}
}

// Unplugged in the middle: nothing is lost, the prompt stays, flute 1 proves the zero.
func TestUnplugged(t *testing.T) {
	for _, tt := range []struct {
		name   string
		again  int
		stands int
		asks   string
	}{{"zero held", 1, 2, "Flute 3: how high"}, {"zero moved", 9, 1, "Flute 4: how high"}} {
		b := newBench(t, withGauge(Button))
		b.press(0)
		b.press(-1)
		b.do(Plug{At: b.now, Gauge: "indicator 2"})
		b.trouble("INDICATOR 2 UNPLUGGED at 08:00:04", "Nothing is lost")
		if p := b.d.Prompt(); p.Waiting == "" || !strings.Contains(p.Ask, "Flute 3") {
			t.Errorf("asks %q, waiting %q", p.Ask, p.Waiting)
		}
		b.refused(".0001", "The gauge is away")
		b.do(Plug{At: b.now.Add(time.Second), Gauge: "indicator 2", In: true})
		b.trouble()
		b.asks("Flute 1: how high")
		b.press(tt.again)
		b.asks(tt.asks)
		if n := len(b.d.Inspection().Readings); n != tt.stands {
			t.Errorf("%s: %d readings stand, want %d", tt.name, n, tt.stands)
		}
	}
}

// What is typed while the gauge is away is a typed reading, and begins with flute 1 again.
func TestTypedWhileAway(t *testing.T) {
	b := newBench(t, withGauge(Button))
	b.press(0)
	b.press(-1)
	b.do(Plug{At: b.now, Gauge: "indicator 2"})
	b.took("k")
	b.asks("Flute 1: how high")
	b.took("0", "2")
	for _, r := range b.d.Inspection().Readings[1:] {
		if r.Gauge != "keyboard" {
			t.Errorf("%+v is no typed reading", r)
		}
	}
}

// Each trouble is said beside the question in shop words, takes nothing, and is gone with its cause.
func TestTroubles(t *testing.T) {
	for _, tt := range []struct {
		what  Trouble
		says  string
		enter bool // Enter goes on, after the person has seen to it
	}{
		{SwitchedUnit, "shows mm now; this bench reads it in inches. 0.013 mm was not taken", false},
		{LowBattery, "Low battery: its numbers may wander", true},
		{OutOfRange, "past its end", true},
		{Silent, "Nothing came", false},
		{Garbled, "came garbled", false},
		{TwoNumbers, "Two numbers in one press", false},
		{Stuck, "The same again and again", true},
		{Flood, "More comes than a hand sends", true},
	} {
		b := newBench(t, withGauge(Button))
		b.press(0)
		b.fault(tt.what)
		b.trouble(tt.says)
		if n := len(b.d.Inspection().Readings); n != 1 {
			t.Errorf("%s: %d readings, want the one", tt.what, n)
		}
		if tt.enter {
			b.press(1)
			b.trouble(tt.says) // still: it waits for the person
			b.fault(Late)      // what was pressed meanwhile is no news beside it
			b.trouble(tt.says)
			b.took("")
			if !slices.Contains(b.effects, Effect(SeenTo{"indicator 2"})) {
				t.Errorf("%s: the gauge is not told that the person has seen to it", tt.what)
			}
			b.trouble()
			continue
		}
		b.press(1)
		b.trouble()
		if n := len(b.d.Inspection().Readings); n != 2 {
			t.Errorf("%s: %d readings after it sends again, want 2", tt.what, n)
		}
	}
}

// A gauge that shows the other unit can be taken as that on a yes.
func TestSwitchedUnitTaken(t *testing.T) {
	b := newBench(t, withGauge(Button))
	b.fault(SwitchedUnit)
	b.took("y")
	r := b.d.Inspection().Readings
	if len(r) != 1 || r[0].Value != 13*length.Micrometre || r[0].Unit != length.Mm || r[0].Gauge != "indicator 2" {
		t.Errorf("%+v", r)
	}
}

// The same number twice in a press is taken once; of two different ones neither is believed.
func TestBounce(t *testing.T) {
	b := newBench(t, withGauge(Button))
	b.press(0)
	b.now = b.now.Add(100 * time.Millisecond)
	b.do(b.frame("indicator 2", 0))
	if n := len(b.d.Inspection().Readings); n != 1 {
		t.Errorf("%d readings, want 1", n)
	}
	b.press(2)
	b.now = b.now.Add(100 * time.Millisecond)
	b.do(b.frame("indicator 2", 3))
	if n := len(b.d.Inspection().Readings); n != 1 || !strings.Contains(b.d.Prompt().Refused, "Neither taken") {
		t.Errorf("%d readings, refused %q", n, b.d.Prompt().Refused)
	}
	b.asks("Flute 4")
}

// That a press sent its number twice is told whichever comes first, the reading or the word of the frame that was dropped; and
// it is not told again of the next reading.
func TestBounceToldBeforeItsReading(t *testing.T) {
	b := newBench(t, withGauge(Button))
	b.now = b.now.Add(time.Second)
	b.do(Fault{At: b.now, Gauge: "indicator 2", What: Bounced})
	b.do(b.frame("indicator 2", 0))
	if said := b.d.Prompt().Said; !strings.Contains(said, "taken once (1 so far)") {
		t.Errorf("says %q", said)
	}
	b.press(2)
	if said := b.d.Prompt().Said; !strings.Contains(said, "taken: run-out") {
		t.Errorf("of the next reading it says %q", said)
	}
}

// A reading of a gauge that is not asked is said and not kept, and g makes it the one.
func TestWrongGauge(t *testing.T) {
	b := newBench(t, withGauge(Button))
	b.now = b.now.Add(time.Second)
	b.do(b.frame("micrometer", 4962))
	if n := len(b.kept); n != 0 || !strings.Contains(b.d.Prompt().Refused, "That was micrometer; run-out, flute 1 is asked") {
		t.Errorf("kept %d, refused %q", n, b.d.Prompt().Refused)
	}
	b.took("g")
	b.now = b.now.Add(time.Second)
	b.do(b.frame("micrometer", 2))
	if n := len(b.kept); n != 1 {
		t.Errorf("kept %d, want 1", n)
	}
}

// Silence is said after 20 s, once, and gone with the next press.
func TestSilence(t *testing.T) {
	b := newBench(t, withGauge(Button))
	wake := b.d.Wake()
	if want := b.now.Add(20 * time.Second); !wake.Equal(want) {
		t.Fatalf("wakes at %v, want %v", wake, want)
	}
	b.do(Clock{At: wake.Add(-time.Millisecond)})
	b.trouble()
	b.do(Clock{At: wake})
	b.trouble("Nothing came in 20 s")
	b.now = wake
	b.press(0)
	b.trouble()
}

// A stream is read by Enter, a polled gauge is asked by it.
func TestEnterReads(t *testing.T) {
	for _, mode := range []Mode{Stream, Poll} {
		b := newBench(t, withGauge(mode))
		b.took("")
		if e, ok := b.effects[0].(Ask); !ok || e.Gauge != "indicator 2" {
			t.Errorf("%s: %+v", mode, b.effects)
		}
		b.press(0)
		b.asks("Flute 4")
	}
}

// A sweep fills a round; what a trace does not tell is refused with the reason.
func TestSweep(t *testing.T) {
	b := newBench(t, withGauge(Stream))
	b.d.Sweeps()
	b.asks("Sweep, all flutes")
	b.took("")
	if e, ok := b.effects[0].(Sweep); !ok || e.Of.Flute != 1 {
		t.Fatalf("%+v", b.effects)
	}
	b.took("")
	if e, ok := b.effects[1].(EndSweep); !ok || e.Drop {
		t.Fatalf("%+v", b.effects)
	}
	b.do(Swept{At: b.now, Why: "the trace has no four high points"})
	if !strings.Contains(b.d.Prompt().Refused, "NOT RECORDED: the trace") {
		t.Errorf("refused %q", b.d.Prompt().Refused)
	}
	b.took("", "")
	var rs []inspect.Reading
	for flute := 1; flute <= 4; flute++ {
		rs = append(rs, inspect.Reading{Feature: inspect.RadialRunout, Flute: flute, Repeat: 1, Value: length.Length(flute) * length.Tenth, Text: "0.0001", Unit: length.In, Gauge: "indicator 2"})
	}
	b.do(Swept{At: b.now, Readings: rs, Tell: []string{"flute 1: mean of 3 turns"}})
	b.asks("wear") // and nothing more is asked to close
}

// A study of a gauge asks part by part and round by round, keeps each reading as it is read, and is taken up where it stopped.
func TestStudy(t *testing.T) {
	study := func(kept []Keep) func(*Start) {
		return func(s *Start) {
			withGauge(Button)(s)
			s.Study = &Study{Parts: 2, Trials: 2, Master: true}
			for _, k := range kept {
				s.Inspection.Readings = append(s.Inspection.Readings, *k.Reading)
			}
		}
	}
	b := newBench(t, study(nil))
	for _, ask := range []string{"Part 1", "Part 2", "Master", "Part 1"} {
		b.asks(ask + ": what does it read?")
		b.press(4960)
	}
	b.asks("Part 2")
	again := newBench(t, study(b.kept))
	again.asks("Part 2")
	again.refused("ok", "A number is asked")
	again.took(".4961")
	again.now = again.now.Add(time.Second)
	again.do(Key{At: again.now, Key: Backspace})
	again.asks("Part 2")
	again.took(".4961", ".5")
	again.asks("All is read")
}

// While a gauge that Enter reads is away, Enter reads nothing, is not offered, and says how to go on.
func TestEnterWhileTheGaugeIsAway(t *testing.T) {
	for _, mode := range []Mode{Stream, Poll} {
		b := newBench(t, withGauge(mode))
		offered := func() bool {
			return slices.ContainsFunc(b.d.Prompt().Keys, func(k KeyHelp) bool { return k.Key == "Enter" })
		}
		if !offered() {
			t.Errorf("%s: Enter is not offered", mode)
		}
		b.do(Plug{At: b.now.Add(time.Second), Gauge: "indicator 2"})
		if offered() || b.d.Prompt().Enters {
			t.Errorf("%s: Enter is offered, and the gauge is away", mode)
		}
		b.refused("", "The gauge is away. k reads on by eye")
		b.took("k")
		if offered() {
			t.Errorf("%s: Enter is offered, and it is read by eye", mode)
		}
		b.refused("", "A reading is never taken by Enter")
	}
}
