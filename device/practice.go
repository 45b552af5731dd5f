package device

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"flutelog/inspect/length"
)

// Fault is a way in which a practice gauge goes wrong on purpose.
type Fault string

const (
	NoFault    Fault = ""
	Silent     Fault = "silence"     // nothing is sent
	Noise      Fault = "noise"       // bytes of the frame are damaged
	WrongSpeed Fault = "wrong-speed" // the frame as a line set to half the gauge's speed reads it
	Stuck      Fault = "stuck"       // the value before is sent again
	Doubled    Fault = "doubled"     // the frame is sent twice, as by a bouncing button
	OverRange  Fault = "over-range"  // the status says out of range
	LowBattery Fault = "low-battery" // the status says low battery
	WrongUnit  Fault = "wrong-unit"  // the gauge was switched to the other unit
	Flood      Fault = "flood"       // a thousand frames come without a pause
	Late       Fault = "late"        // the frame comes after the profile's timeout
	Backlog    Fault = "backlog"     // frames nobody asked for come after it
	Endless    Fault = "endless"     // bytes come that no frame end follows
	Unplug     Fault = "unplug"      // the plug is pulled in the middle of the frame, and put back
)

// Faults lists the faults a practice gauge can play.
var Faults = []Fault{Silent, Noise, WrongSpeed, Stuck, Doubled, OverRange, LowBattery, WrongUnit, Flood, Late, Backlog, Endless, Unplug}

// Step is one reading of a practice gauge's script: the value under its contact, and what goes wrong.
type Step struct {
	Value length.Length
	Fault Fault
}

// ReadScript reads a practice gauge's script: on each line what ParseStep reads. Empty lines and lines that begin
// with # are passed over. Errors name the line.
func ReadScript(r io.Reader, unit length.Unit) ([]Step, error) {
	var steps []Step
	lines := bufio.NewScanner(r)
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSpace(lines.Text())
		if text == "" || text[0] == '#' {
			continue
		}
		step, err := ParseStep(text, unit)
		if err != nil {
			return nil, fmt.Errorf("script:%d: %w", n, err)
		}
		steps = append(steps, step)
	}
	return steps, lines.Err()
}

// ParseStep reads one step: a value, in unit where it has none, and after it, if something is to go wrong, the
// fault's name.
func ParseStep(text string, unit length.Unit) (Step, error) {
	value, fault, _ := strings.Cut(strings.TrimSpace(text), " ")
	v, err := length.Parse(value, unit)
	if err != nil {
		return Step{}, err
	}
	step := Step{v, Fault(strings.TrimSpace(fault))}
	if step.Fault != NoFault && !slices.Contains(Faults, step.Fault) {
		return Step{}, fmt.Errorf("fault %q: want one of %v", fault, Faults)
	}
	return step, nil
}

// The practice gauge's frames: sign, digits of a fixed number, unit, and a word of how it is.
const (
	practicePattern = `(?P<sign>[+-])(?P<value>\d\.\d{5}|\d\d\.\d{4}) (?P<unit>in|mm) (?P<status>ok|over|weak)`
	practiceGood    = "ok"
	practiceOver    = "over" // out of its range
	practiceWeak    = "weak" // its battery
	practiceRequest = "?\r"
	practiceEnd     = "\r\n"
	practiceEvery   = 50 * time.Millisecond  // between two frames of its stream
	practiceAway    = 300 * time.Millisecond // how long its plug is out
)

// PracticeProfile returns the profile of a practice gauge that shows unit, in or mm, and is taken by take.
func PracticeProfile(take Mode, unit length.Unit) Profile {
	p := Profile{
		Name:             "practice",
		Practice:         true,
		FrameEnd:         practiceEnd,
		Take:             take,
		Pattern:          practicePattern,
		Unit:             unit,
		GoodStatus:       []string{practiceGood},
		OverRangeStatus:  []string{practiceOver},
		LowBatteryStatus: []string{practiceWeak},
	}
	if take == Poll {
		p.Request = practiceRequest
	}
	return p
}

// Practice is a pretend gauge on a pseudo-terminal, which other programs open as they open a serial port; on Windows,
// which has none, on a pipe inside this program. It plays a script: in button mode each Press sends the next reading,
// in stream mode each Press changes the value that is sent all the time, in poll mode each request gets the next.
type Practice struct {
	profile Profile
	decoder *Decoder // of its own frames
	plug    *plug
	closing chan struct{}
	running sync.WaitGroup

	mu      sync.Mutex
	steps   []Step
	current []byte // what a stream repeats
	last    length.Length
	noise   noise
}

// StartPractice starts a practice gauge with a profile such as PracticeProfile gives; the times in it may be
// changed. It refuses values that it cannot show: in to five decimals below 10, mm to four below 100.
func StartPractice(p Profile, steps []Step) (*Practice, error) {
	if p.Unit != length.In && p.Unit != length.Mm {
		return nil, fmt.Errorf("practice gauge: unit %q: want in or mm", p.Unit)
	}
	decoder, err := NewDecoder(p)
	if err != nil {
		return nil, err
	}
	for i, s := range steps {
		if !shows(decoder, s.Value) {
			return nil, fmt.Errorf("practice gauge: reading %d, %s: it cannot be shown in %s", i+1, s.Value, p.Unit)
		}
	}
	plug, err := newPlug()
	if err == nil && p.Practice && plug.name() != "" {
		err = os.WriteFile(filepath.Join(filepath.Dir(plug.name()), inventedMark), nil, 0o600)
	}
	if err != nil {
		return nil, fmt.Errorf("practice gauge: %w", err)
	}
	g := &Practice{profile: p.WithDefaults(), decoder: decoder, plug: plug, closing: make(chan struct{}), steps: steps, noise: 1}
	g.running.Go(g.answer)
	if p.Take == Stream {
		g.running.Go(g.stream)
	}
	return g, nil
}

// inventedMark lies beside the port of a gauge that plays invented readings.
const inventedMark = "invented-readings"

// Invented says whether on a port, by its own name or by that of its pseudo-terminal, a practice gauge of this machine plays
// invented readings: what is read there stands for nothing, whatever a profile says of it.
func Invented(port string) bool {
	real, err := filepath.EvalSymlinks(port)
	if err != nil {
		return false
	}
	marks, _ := filepath.Glob(filepath.Join(os.TempDir(), practiceFolder+"*", inventedMark))
	for _, mark := range append(marks, filepath.Join(filepath.Dir(port), inventedMark)) {
		if _, err := os.Stat(mark); err != nil {
			continue
		}
		if at, err := filepath.EvalSymlinks(filepath.Join(filepath.Dir(mark), practicePort)); err == nil && at == real {
			return true
		}
	}
	return false
}

// Where a practice gauge is found: a folder of its own in that for temporary files, and in it the name of its port.
const (
	practiceFolder = "practice-gauge-"
	practicePort   = "port"
)

// shows says whether a practice gauge whose frames decoder reads can show v.
func shows(decoder *Decoder, v length.Length) bool {
	raw := bytes.TrimSuffix(practiceFrame(v, decoder.profile.Unit, practiceGood), []byte(practiceEnd))
	f, err := decoder.Decode(raw, time.Time{})
	return err == nil && f.Value == v
}

// Put puts a step before the rest of the script. It refuses a value that the gauge cannot show.
func (g *Practice) Put(s Step) error {
	if !shows(g.decoder, s.Value) {
		return fmt.Errorf("practice gauge: %s cannot be shown in %s", s.Value, g.profile.Unit)
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	g.steps = slices.Insert(g.steps, 0, s)
	return nil
}

// Port returns the name other programs open the gauge's port by; it stays the same when the gauge is unplugged. On
// Windows it is empty.
func (g *Practice) Port() string { return g.plug.name() }

// Open opens the gauge's port, as an Opener.
func (g *Practice) Open() (io.ReadWriteCloser, error) {
	p := g.profile
	p.Port = g.plug.name()
	return g.plug.open(p)
}

// Pull pulls the gauge's plug, until Insert.
func (g *Practice) Pull() { g.plug.pull() }

// Insert puts the plug back. It returns why the port cannot be made again.
func (g *Practice) Insert() error { return g.plug.insert() }

// Close unplugs the gauge for good.
func (g *Practice) Close() error {
	close(g.closing)
	err := g.plug.remove()
	g.running.Wait()
	return err
}

// Press plays the next step of the script. It returns io.EOF when there is none left.
func (g *Practice) Press() error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if len(g.steps) == 0 {
		return io.EOF
	}
	step := g.steps[0]
	g.steps = g.steps[1:]
	if g.profile.Take == Stream && step.Fault != Stuck {
		g.plug.send(g.frame(g.last-length.Millimetre/2, practiceGood)) // off the land, on the way to the next edge
	}
	g.play(step)
	if step.Fault != Stuck {
		g.last = step.Value
	}
	return nil
}

// play sends what a step sends; a stream goes on sending it.
func (g *Practice) play(step Step) {
	frame := g.shown(step)
	g.current = frame
	switch step.Fault {
	case Silent:
		g.current = nil
	case Doubled:
		g.plug.send(append(frame, frame...))
	case Flood:
		g.plug.send(append(frame, g.others(step.Value, 1000)...))
	case Backlog:
		g.plug.send(append(frame, g.others(step.Value, 3)...))
	case Late:
		g.later(time.Duration(g.profile.Timeout)*3/2, func() { g.plug.send(frame) })
	case Endless:
		g.plug.send(bytes.Repeat([]byte("0"), 4*maxFrame))
	case Unplug:
		g.plug.send(frame[:len(frame)/2])
		time.Sleep(practiceEvery) // pulling drops what is unread
		g.plug.pull()
		g.later(practiceAway, func() { g.plug.insert() })
	default:
		g.plug.send(frame)
	}
}

// shown returns the frame of a step, as its fault changes it.
func (g *Practice) shown(step Step) []byte {
	frame := g.frame(step.Value, practiceGood)
	switch step.Fault {
	case Noise:
		return g.noise.damage(frame)
	case WrongSpeed:
		return misread(frame, g.profile.Baud, g.profile.Baud/2)
	case Stuck:
		return g.frame(g.last, practiceGood)
	case OverRange:
		return g.frame(step.Value, practiceOver)
	case LowBattery:
		return g.frame(step.Value, practiceWeak)
	case WrongUnit:
		other := length.In
		if g.profile.Unit == length.In {
			other = length.Mm
		}
		return practiceFrame(step.Value, other, practiceGood)
	}
	return frame
}

// others returns n frames of values that are all different, and none v.
func (g *Practice) others(v length.Length, n int) []byte {
	var all []byte
	for i := range n {
		all = append(all, g.frame(v+length.Length(i+1)*length.Micrometre, practiceGood)...)
	}
	return all
}

func (g *Practice) frame(v length.Length, status string) []byte {
	return practiceFrame(v, g.profile.Unit, status)
}

// practiceFrame shows v as the practice gauge does: +0.00030 in ok or -00.0076 mm ok, and the frame's end.
func practiceFrame(v length.Length, unit length.Unit, status string) []byte {
	whole := 1
	if unit == length.Mm {
		whole = 2
	}
	sign := byte('+')
	digits := v.Abs().Format(unit, unit.Decimals())
	if v < 0 {
		sign = '-'
	}
	frame := append([]byte{sign}, strings.Repeat("0", max(0, whole+1+unit.Decimals()-len(digits)))...)
	return fmt.Appendf(frame, "%s %s %s%s", digits, unit, status, practiceEnd)
}

// answer presses at each request, in poll mode.
func (g *Practice) answer() {
	request := []byte(g.profile.Request)
	var heard []byte
	buf := make([]byte, maxFrame)
	for {
		n, err := g.plug.Read(buf)
		if err != nil {
			return
		}
		heard = append(heard, buf[:n]...)
		for g.profile.Take == Poll {
			_, rest, found := bytes.Cut(heard, request)
			if !found {
				break
			}
			heard = rest
			g.Press() // at the end of the script there is no answer
		}
		heard = heard[max(0, len(heard)-maxFrame):]
	}
}

// stream repeats the current frame.
func (g *Practice) stream() {
	tick := time.NewTicker(practiceEvery)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
			g.mu.Lock()
			g.plug.send(g.current)
			g.mu.Unlock()
		case <-g.closing:
			return
		}
	}
}

// later does something after a while, unless the gauge is closed before.
func (g *Practice) later(d time.Duration, do func()) {
	g.running.Go(func() {
		select {
		case <-time.After(d):
			do()
		case <-g.closing:
		}
	})
}
