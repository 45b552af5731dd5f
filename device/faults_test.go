package device

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"flutelog/inspect/length"
)

// faultTable is what the fault tests tried, and how many wrong readings came through. It is printed at the end.
type faultTable struct {
	mu   sync.Mutex
	rows []string
}

func (ft *faultTable) row(t *testing.T, fault string, tried, seen, wrong int) {
	t.Helper()
	if wrong > 0 {
		t.Errorf("%s: %d wrong readings of %d", fault, wrong, tried)
	}
	if seen < tried {
		t.Errorf("%s: %d of %d seen", fault, seen, tried)
	}
	ft.mu.Lock()
	defer ft.mu.Unlock()
	ft.rows = append(ft.rows, fmt.Sprintf("%-44s %8d %8d %8d", fault, tried, seen, wrong))
}

// wrongReading counts a reading that is not want; an error is none.
func wrongReading(f Frame, err error, want length.Length) int {
	if err == nil && f.Value != want {
		return 1
	}
	return 0
}

// anyReading counts a reading where there must be none.
func anyReading(err error) int {
	if err == nil {
		return 1
	}
	return 0
}

// heardEvents collects events.
type heardEvents struct {
	mu   sync.Mutex
	all  []Event
	more chan struct{} // closed when one more comes; nil when nobody waits
}

func (h *heardEvents) tell(e Event) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.all = append(h.all, e)
	if h.more != nil {
		close(h.more)
		h.more = nil
	}
}

// await waits until n events of a kind have come, or ctx ends.
func (h *heardEvents) await(ctx context.Context, kind EventKind, n int) {
	for h.count(kind) < n && ctx.Err() == nil {
		h.mu.Lock()
		if h.more == nil {
			h.more = make(chan struct{})
		}
		more := h.more
		h.mu.Unlock()
		if h.count(kind) >= n {
			return
		}
		select {
		case <-more:
		case <-ctx.Done():
		}
	}
}

func (h *heardEvents) count(kind EventKind) int {
	h.mu.Lock()
	defer h.mu.Unlock()
	n := 0
	for _, e := range h.all {
		if e.Kind == kind {
			n++
		}
	}
	return n
}

// quick is a practice profile with times short enough for tests.
func quick(take Mode) Profile {
	p := PracticeProfile(take, length.In)
	p.QuietTime = Duration(25 * time.Millisecond)
	p.Timeout = Duration(2 * time.Second) // long, for a busy machine; tests of time-outs set their own
	return p
}

// tenths is n ten-thousandths of an inch.
func tenths(n int) length.Length { return length.Length(n) * length.Tenth }

func frameOf(v length.Length) []byte { return practiceFrame(v, length.In, practiceGood) }

// Every way a gauge goes wrong, through a pseudo-terminal and the serial library: each must be seen, and none may
// give a reading other than the value under the contact.
func TestFaults(t *testing.T) {
	t.Parallel()
	table := &faultTable{}
	t.Run("noise, decoder alone", func(t *testing.T) { testNoiseDecoder(t, table) })
	t.Run("wrong speed, decoder alone", func(t *testing.T) { testWrongSpeedDecoder(t, table) })
	var all sync.WaitGroup // these mostly wait: all at once, however few processors there are
	for name, test := range map[string]func(*testing.T, *faultTable){
		"unplug at every byte":     testUnplug,
		"status and unit":          testRefusedSteps,
		"doubled button":           testDoubled,
		"too soon":                 testTooSoon,
		"stuck":                    testStuck,
		"flood":                    testFlood,
		"silence":                  testSilence,
		"late answer":              testLate,
		"backlog in a stream":      testBacklogStream,
		"backlog before a request": testBacklogPoll,
		"frame that never ends":    testEndless,
		"frame that breaks off":    testBreaksOff,
		"noise":                    testNoise,
		"wrong speed":              testWrongSpeed,
		"unit switched unseen":     testDecimals,
	} {
		all.Go(func() { t.Run(name, func(t *testing.T) { test(t, table) }) })
	}
	all.Wait()
	slices.Sort(table.rows)
	t.Logf("\n%-44s %8s %8s %8s\n%s", "fault", "tried", "seen", "wrong", strings.Join(table.rows, "\n"))
}

// socket is a bare pseudo-terminal that a test sends bytes through.
func socket(t *testing.T, p Profile, tell func(Event)) (*plug, *Gauge) {
	t.Helper()
	plug, err := newPlug()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { plug.remove() })
	p.Port = plug.name()
	return plug, gaugeOn(t, OpenSerial(p), p, tell)
}

// Pulled after each byte of a frame: what came of it is dropped, what still comes of it after the plug is back too,
// and nothing is read before the person confirms.
func testUnplug(t *testing.T, table *faultTable) {
	cut, next := frameOf(tenths(3)), frameOf(tenths(4))
	for _, take := range []Mode{Button, Stream, Poll} {
		var mu sync.Mutex
		var all sync.WaitGroup
		seen, wrong := 0, 0
		for at := range len(cut) { // with its last byte the frame is whole
			all.Go(func() {
				s, w := unplugAt(t, take, cut, next, at)
				mu.Lock()
				defer mu.Unlock()
				seen, wrong = seen+s, wrong+w
			})
		}
		all.Wait()
		table.row(t, "unplugged at each byte, "+string(take), len(cut), seen, wrong)
	}
}

func unplugAt(t *testing.T, take Mode, cut, next []byte, at int) (seen, wrong int) {
	var events heardEvents
	plug, err := newPlug()
	if err != nil {
		t.Error(err)
		return 0, 0
	}
	defer plug.remove()
	p := quick(take)
	p.Port, p.Timeout = plug.name(), Duration(time.Second)
	g, err := New(OpenSerial(p), p, events.tell)
	if err != nil {
		t.Error(err)
		return 0, 0
	}
	defer g.Close()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	go func() {
		time.Sleep(60 * time.Millisecond)
		plug.send(cut[:at])
		time.Sleep(10 * time.Millisecond)
		plug.pull()
		time.Sleep(10 * time.Millisecond)
		plug.insert()
	}()
	if f, err := g.Take(ctx); !errors.Is(err, ErrDisconnected) {
		t.Errorf("%s, cut at %d: got %+v, %v, want ErrDisconnected", take, at, f, err)
		return 0, 1
	}
	if _, err := g.Take(ctx); !errors.Is(err, ErrDisconnected) {
		t.Errorf("%s, cut at %d: a reading before the person confirmed: %v", take, at, err)
		wrong++
	}
	events.await(ctx, Reconnected, 1)
	plug.send(cut[at:])
	if err := g.Confirm(ctx); err != nil {
		t.Errorf("%s, cut at %d: %v", take, at, err)
	}
	defer again(func() { plug.send(next) })()
	f, err := g.Take(ctx)
	if err != nil || f.Value != tenths(4) {
		t.Errorf("%s, cut at %d: got %s, %v, want %s", take, at, f.Value, err, tenths(4))
		wrong += wrongReading(f, err, tenths(4))
	}
	return min(1, events.count(Disconnected)), wrong
}

// Frames that say themselves that they are no readings, in each way of taking.
func testRefusedSteps(t *testing.T, table *faultTable) {
	for fault, want := range map[Fault]error{OverRange: ErrOverRange, LowBattery: ErrLowBattery, WrongUnit: ErrUnit} {
		for _, take := range []Mode{Button, Stream, Poll} {
			const n = 4
			var steps []Step
			for i := range n {
				steps = append(steps, Step{tenths(2*i + 1), fault}, Step{tenths(2*i + 2), NoFault})
			}
			p := quick(take)
			gauge := practice(t, p, steps)
			g := gaugeOn(t, gauge.Open, p, nil)
			seen, wrong := 0, 0
			for i := range 2 * n {
				press(gauge, take)
				f, err := g.Take(inTime(t))
				switch {
				case i%2 == 0 && errors.Is(err, want):
					seen++
				case i%2 == 0:
					t.Errorf("%s, %s: got %s, %v, want %v", fault, take, f.Value, err, want)
					wrong += anyReading(err)
				case f.Value != steps[i].Value:
					t.Errorf("%s, %s: got %s, %v, want %s", fault, take, f.Value, err, steps[i].Value)
					wrong += wrongReading(f, err, steps[i].Value)
				}
			}
			table.row(t, string(fault)+", "+string(take), n, seen, wrong)
		}
	}
}

// await waits until something is so.
func await(t *testing.T, otherwise string, is func() bool) {
	t.Helper()
	for late := inTime(t); !is(); {
		select {
		case <-late.Done():
			t.Error(otherwise)
			return
		case <-time.After(time.Millisecond):
		}
	}
}

// soon does something when the Take that follows is waiting.
func soon(do func()) { time.AfterFunc(100*time.Millisecond, do) }

// again does something soon and then again and again, until it is stopped.
func again(do func()) (stop func()) {
	stopped := make(chan struct{})
	var running sync.WaitGroup
	running.Go(func() {
		for {
			select {
			case <-time.After(100 * time.Millisecond):
				do()
			case <-stopped:
				return
			}
		}
	})
	return func() {
		close(stopped)
		running.Wait()
	}
}

// press plays a step of the script as a hand does: a button when the reading is waited for and not within the quiet
// time of the last, a stream's before the key. A request plays its own.
func press(g *Practice, take Mode) {
	switch take {
	case Button:
		soon(func() { g.Press() })
	case Stream:
		g.Press()
	}
}

// A bouncing button gives one reading; the same value pressed again later is another reading.
func testDoubled(t *testing.T, table *faultTable) {
	const n = 16
	var steps []Step
	for i := range n {
		steps = append(steps, Step{tenths(i / 2), Doubled})
	}
	p := quick(Button)
	gauge := practice(t, p, steps)
	g := gaugeOn(t, gauge.Open, p, nil)
	wrong := 0
	for _, s := range steps {
		press(gauge, Button)
		if f, err := g.Take(inTime(t)); err != nil || f.Value != s.Value {
			t.Errorf("got %s, %v, want %s", f.Value, err, s.Value)
			wrong += wrongReading(f, err, s.Value)
		}
	}
	none, cancel := context.WithTimeout(context.Background(), 50*time.Millisecond)
	defer cancel()
	if f, err := g.Take(none); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("got %s, %v: one reading too many", f.Value, err)
		wrong++
	}
	table.row(t, "doubled button", n, int(g.Counts().Duplicates), wrong)
}

// Two different frames within the quiet time cannot both be meant.
func testTooSoon(t *testing.T, table *faultTable) {
	plug, g := socket(t, quick(Button), nil)
	const n = 10
	seen, wrong := 0, 0
	for i := range n {
		soon(func() { plug.send(append(frameOf(tenths(i)), frameOf(tenths(i+1))...)) })
		if f, err := g.Take(inTime(t)); err != nil || f.Value != tenths(i) {
			t.Errorf("got %s, %v, want %s", f.Value, err, tenths(i))
			wrong += wrongReading(f, err, tenths(i))
		}
	}
	soon(func() { plug.send(frameOf(tenths(2 * n))) }) // with it all before has been seen
	if f, err := g.Take(inTime(t)); err != nil || f.Value != tenths(2*n) {
		t.Errorf("got %s, %v, want %s", f.Value, err, tenths(2*n))
		wrong += wrongReading(f, err, tenths(2*n))
	}
	seen = int(g.Counts().Refused)
	table.row(t, "two values in one press", n, seen, wrong)
}

// In a stream a gauge that does not move between two readings is asked about at the second; else at the fifth
// equal one. After the person confirms it goes on.
func testStuck(t *testing.T, table *faultTable) {
	for take, limit := range map[Mode]int{Stream: 2, Poll: 5, Button: 5} {
		const n = 3
		seen, wrong := 0, 0
		steps := []Step{{tenths(3), NoFault}}
		for range n * limit {
			steps = append(steps, Step{tenths(7), Stuck})
		}
		p := quick(take)
		gauge := practice(t, p, steps)
		var events heardEvents
		g := gaugeOn(t, gauge.Open, p, events.tell)
		for range n {
			for i := range limit - 1 {
				press(gauge, take)
				if f, err := g.Take(inTime(t)); err != nil {
					t.Errorf("%s, reading %d: got %s, %v", take, i+1, f.Value, err)
				}
			}
			press(gauge, take)
			if _, err := g.Take(inTime(t)); errors.Is(err, ErrStuck) {
				seen++
			}
			if _, err := g.Take(inTime(t)); !errors.Is(err, ErrStuck) {
				t.Errorf("%s: a reading before the person confirmed: %v", take, err)
				wrong++
			}
			if err := g.Confirm(inTime(t)); err != nil {
				t.Error(err)
			}
		}
		if err := g.Close(); err != nil { // every event is told before it returns
			t.Error(err)
		}
		if told := events.count(Dropped); told > 0 {
			t.Errorf("%s: the press that shows the gauge to be stuck is told %d times as dropped too", take, told)
		}
		table.row(t, fmt.Sprintf("stuck value, %s, at equal reading %d", take, limit), n, seen, wrong)
	}
}

// A thousand frames without a pause: the press that was meant is taken and none of the others, and the person is
// asked; a stream gives what comes after the key.
func testFlood(t *testing.T, table *faultTable) {
	for _, take := range []Mode{Button, Stream, Poll} {
		p := quick(take)
		p.Timeout = Duration(time.Second)
		const n = 5
		var steps []Step
		for i := range n {
			steps = append(steps, Step{tenths(10 * i), Flood}, Step{tenths(10*i + 5), NoFault})
		}
		gauge := practice(t, p, steps)
		g := gaugeOn(t, gauge.Open, p, nil)
		wrong, sent := 0, int64(0)
		for _, s := range steps {
			if sent++; s.Fault == Flood {
				sent += 1000
			}
			if take == Button && s.Fault == NoFault {
				if f, err := g.Take(inTime(t)); !errors.Is(err, ErrFlood) {
					t.Errorf("got %s, %v, want ErrFlood", f.Value, err)
				}
				if err := g.Confirm(inTime(t)); err != nil {
					t.Error(err)
				}
			}
			press(gauge, take)
			if take == Stream && s.Fault == Flood {
				continue
			}
			f, err := g.Take(inTime(t))
			if err != nil || f.Value != s.Value {
				t.Errorf("%s: got %s, %v, want %s", take, f.Value, err, s.Value)
				wrong += wrongReading(f, err, s.Value)
			}
			await(t, "the flood has not run past", func() bool {
				c := g.Counts()
				return c.Refused+c.Frames+c.Duplicates >= sent
			})
		}
		c := g.Counts()
		table.row(t, "flood, frames, "+string(take), 1000*n, int(c.Refused+c.Frames), wrong)
	}
}

// A gauge that sends nothing: a stream and an answer time out, a button's silence is told.
func testSilence(t *testing.T, table *faultTable) {
	for _, take := range []Mode{Stream, Poll} {
		const n = 5
		steps := slices.Repeat([]Step{{tenths(3), Silent}}, n)
		p := quick(take)
		p.Timeout = Duration(100 * time.Millisecond)
		gauge := practice(t, p, steps)
		g := gaugeOn(t, gauge.Open, p, nil)
		seen := 0
		for range n {
			if f, err := g.Take(inTime(t)); errors.Is(err, ErrTimeout) {
				seen++
			} else {
				t.Errorf("%s: got %s, %v, want ErrTimeout", take, f.Value, err)
			}
		}
		table.row(t, "silence, "+string(take), n, seen, 0)
	}
	var events heardEvents
	p := quick(Button)
	p.Timeout = Duration(100 * time.Millisecond)
	_, g := socket(t, p, events.tell)
	ctx, cancel := context.WithTimeout(context.Background(), 700*time.Millisecond)
	defer cancel()
	if f, err := g.Take(ctx); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("button: got %s, %v", f.Value, err)
	}
	table.row(t, "silence, button", 1, min(1, events.count(Silence)), 0)
}

// An answer that comes after its request timed out is not the answer to the next.
func testLate(t *testing.T, table *faultTable) {
	const n = 4
	var steps []Step
	for i := range n {
		steps = append(steps, Step{tenths(2*i + 1), Late}, Step{tenths(2*i + 2), NoFault})
	}
	p := quick(Poll)
	p.Timeout = Duration(300 * time.Millisecond)
	gauge := practice(t, p, steps)
	g := gaugeOn(t, gauge.Open, p, nil)
	seen, wrong := 0, 0
	for i, s := range steps {
		f, err := g.Take(inTime(t))
		switch {
		case i%2 == 0 && errors.Is(err, ErrTimeout):
			seen++
		case i%2 == 0:
			t.Errorf("request %d: got %s, %v, want ErrTimeout", i+1, f.Value, err)
			wrong += anyReading(err)
		case f.Value != s.Value:
			t.Errorf("request %d: got %s, %v, want %s", i+1, f.Value, err, s.Value)
			wrong += wrongReading(f, err, s.Value)
		}
	}
	table.row(t, "late answer", n, seen, wrong)
}

// Frames that came before the key are not readings, however many wait.
func testBacklogStream(t *testing.T, table *faultTable) {
	p := quick(Stream)
	p.Timeout = Duration(5 * time.Second)
	plug, g := socket(t, p, nil)
	const n = 22
	wrong := 0
	for i := range n {
		old, now := tenths(2*i+1), tenths(2*i+2)
		var backlog []byte
		for range 100 {
			backlog = append(backlog, frameOf(old)...)
		}
		part := 1 + i%11
		plug.send(append(backlog, frameOf(old)[:part]...)) // the key is pressed in the middle of a frame
		rest := frameOf(old)[part:]
		stop := again(func() {
			plug.send(append(rest, frameOf(now)...))
			rest = nil
		})
		f, err := g.Take(inTime(t))
		stop()
		if err != nil || f.Value != now {
			t.Errorf("got %s, %v, want %s", f.Value, err, now)
			wrong += wrongReading(f, err, now)
		}
	}
	table.row(t, "backlog of 100 frames before the key, stream", n, n, wrong)
}

func testBacklogPoll(t *testing.T, table *faultTable) {
	const n = 20
	var steps []Step
	for i := range n {
		steps = append(steps, Step{tenths(100 * i), Backlog})
	}
	p := quick(Poll)
	gauge := practice(t, p, steps)
	g := gaugeOn(t, gauge.Open, p, nil)
	wrong := 0
	for i, s := range steps {
		f, err := g.Take(inTime(t))
		if err != nil || f.Value != s.Value {
			t.Errorf("got %s, %v, want %s", f.Value, err, s.Value)
			wrong += wrongReading(f, err, s.Value)
		}
		await(t, "the frames that nobody asked for do not come", func() bool { return g.Counts().Frames >= int64(4*(i+1)) })
	}
	table.row(t, "backlog before a request, poll", n, int(g.Counts().Frames)/4, wrong)
}

// Bytes without an end are refused as they pass the longest frame, and once the line has paused, what follows
// them up to the next end is not a reading.
func testEndless(t *testing.T, table *faultTable) {
	plug, g := socket(t, quick(Button), nil)
	const n = 6
	seen, wrong := 0, 0
	for i := range n {
		soon(func() { plug.send([]byte(strings.Repeat("0", maxFrame+i))) })
		if f, err := g.Take(inTime(t)); errors.Is(err, ErrTooLong) {
			seen++
		} else {
			t.Errorf("got %s, %v, want ErrTooLong", f.Value, err)
			wrong += anyReading(err)
		}
		soon(func() {
			plug.send(frameOf(tenths(1))) // glued to the endless one: not a reading
			soon(func() { plug.send(frameOf(tenths(100 + i))) })
		})
		if f, err := g.Take(inTime(t)); err != nil || f.Value != tenths(100+i) {
			t.Errorf("got %s, %v, want %s", f.Value, err, tenths(100+i))
			wrong += wrongReading(f, err, tenths(100+i))
		}
	}
	table.row(t, "frame that never ends", n, seen, wrong)
}

// A frame that pauses has broken off; its rest is not a reading.
func testBreaksOff(t *testing.T, table *faultTable) {
	p := quick(Button)
	p.Pattern = "" // any number: the rest would match
	p.GoodStatus, p.OverRangeStatus, p.LowBatteryStatus = nil, nil, nil
	plug, g := socket(t, p, nil)
	const n = 3
	seen, wrong := 0, 0
	for i := range n {
		soon(func() { plug.send([]byte("+0.0")) })
		if f, err := g.Take(inTime(t)); errors.Is(err, ErrUnfinished) {
			seen++
		} else {
			t.Errorf("got %s, %v, want ErrUnfinished", f.Value, err)
			wrong += anyReading(err)
		}
		soon(func() {
			plug.send([]byte("0123\r\n"))
			soon(func() { plug.send(fmt.Appendf(nil, "+0.%04d\r\n", i)) })
		})
		if f, err := g.Take(inTime(t)); err != nil || f.Value != tenths(i) {
			t.Errorf("got %s, %v, want %s", f.Value, err, tenths(i))
			wrong += wrongReading(f, err, tenths(i))
		}
	}
	table.row(t, "frame that breaks off", n, seen, wrong)
}

// Damaged frames on the line, each followed by a good one.
func testNoise(t *testing.T, table *faultTable) {
	const n = 25
	var steps []Step
	for i := range 2 * n {
		fault := NoFault
		if i%2 == 0 {
			fault = Noise
		}
		steps = append(steps, Step{tenths(i), fault})
	}
	p := quick(Poll)
	p.Timeout = Duration(150 * time.Millisecond)
	gauge := practice(t, p, steps)
	g := gaugeOn(t, gauge.Open, p, nil)
	seen, wrong, good := 0, 0, 0
	for _, s := range steps {
		f, err := g.Take(inTime(t))
		switch {
		case err == nil && f.Value != s.Value:
			t.Errorf("got %s, want %s", f.Value, s.Value)
			wrong++
		case s.Fault == Noise:
			seen++ // refused, timed out, or damaged only where it does no harm
		case err == nil:
			good++
		}
	}
	if good < n/2 {
		t.Errorf("%d of %d good frames between the noise were read", good, n)
	}
	table.row(t, "noise in every other frame, poll", n, seen, wrong)
}

func testNoiseDecoder(t *testing.T, table *faultTable) {
	d, err := NewDecoder(PracticeProfile(Stream, length.In))
	if err != nil {
		t.Fatal(err)
	}
	const n = 50_000
	random := noise(7)
	var now length.Length
	refused, wrong, good := 0, 0, 0
	s := splitter{end: []byte(practiceEnd)}
	s.emit = func(raw []byte, _ bool, err error) {
		if err != nil {
			refused++
			return
		}
		switch f, err := d.Decode(raw, time.Time{}); {
		case err != nil:
			refused++
		case f.Value != now:
			wrong++
		default:
			good++
		}
	}
	for i := range n {
		now = tenths(i % 90_000)
		s.feed(random.damage(frameOf(now)))
	}
	if refused == 0 || good == 0 {
		t.Errorf("%d refused, %d good: the noise does nothing, or too much", refused, good)
	}
	table.row(t, "noise in every frame, decoder alone", n, n, wrong)
}

func testWrongSpeed(t *testing.T, table *faultTable) {
	const n = 20
	var steps []Step
	for i := range n {
		steps = append(steps, Step{tenths(i), WrongSpeed})
	}
	p := quick(Poll)
	p.Timeout = Duration(40 * time.Millisecond)
	gauge := practice(t, p, steps)
	g := gaugeOn(t, gauge.Open, p, nil)
	seen, wrong := 0, 0
	for range n {
		if f, err := g.Take(inTime(t)); err == nil {
			t.Errorf("got %s of a line at the wrong speed", f.Value)
			wrong++
		} else {
			seen++
		}
	}
	table.row(t, "wrong speed, poll", n, seen, wrong)
}

func testWrongSpeedDecoder(t *testing.T, table *faultTable) {
	d, err := NewDecoder(PracticeProfile(Stream, length.In))
	if err != nil {
		t.Fatal(err)
	}
	speeds := []int{1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200}
	tried, wrong := 0, 0
	for _, from := range speeds {
		for _, to := range speeds {
			var sent []byte
			for i := range 300 {
				sent = append(sent, frameOf(tenths(i*7))...)
			}
			read := 0
			s := splitter{emit: func(raw []byte, _ bool, err error) {
				if _, decodeErr := d.Decode(raw, time.Time{}); err == nil && decodeErr == nil {
					read++
				}
			}}
			s.feed(misread(sent, from, to))
			if from == to && read != 300 {
				t.Errorf("at the right speed %d: %d of 300 read", from, read)
			}
			if from != to {
				tried += 300
				wrong += read
			}
		}
	}
	table.row(t, "wrong speed, 56 pairs, decoder alone", tried, tried, wrong)
}

// A gauge whose frames carry no unit is switched to the other: the decimals give it away.
func testDecimals(t *testing.T, table *faultTable) {
	p := Profile{Unit: length.In, Take: Button, QuietTime: quick(Button).QuietTime}
	plug, g := socket(t, p, nil)
	const n = 6
	seen, wrong := 0, 0
	for i := range n {
		soon(func() { plug.send(fmt.Appendf(nil, "+0.%04d\r\n", i)) })
		if f, err := g.Take(inTime(t)); err != nil || f.Value != tenths(i) {
			t.Errorf("got %s, %v, want %s", f.Value, err, tenths(i))
			wrong += wrongReading(f, err, tenths(i))
		}
		soon(func() { plug.send(fmt.Appendf(nil, "+0.%03d\r\n", i)) })
		if f, err := g.Take(inTime(t)); errors.Is(err, ErrDecimals) {
			seen++
		} else {
			t.Errorf("got %s, %v, want ErrDecimals", f.Value, err)
			wrong += anyReading(err)
		}
	}
	table.row(t, "unit switched, frames without a unit", n, seen, wrong)
}
