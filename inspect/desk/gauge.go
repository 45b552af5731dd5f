package desk

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// gauge is a gauge with what is the matter with it.
type gauge struct {
	Device
	trouble *trouble
	away    bool
	awayAt  time.Time
	gone    bool
	shown   string // what a stream shows
	bounced int
	garbled int

	bouncedAt time.Time // when a frame was dropped for the same as the one before, last
}

// trouble is what is wrong, in shop words, until its cause is gone.
type trouble struct {
	what Trouble
	at   time.Time
	says string
	do   string // what to press
}

// held says whether the gauge gives nothing more until the person has seen to it and pressed Enter.
func (t *trouble) held() bool {
	switch t.what {
	case LowBattery, OutOfRange, Stuck, Flood:
		return true
	}
	return false
}

// Times of a hand at a gauge.
const (
	silentAfter = 20 * time.Second       // without a press, and it is said
	onePress    = 300 * time.Millisecond // two different readings within it are no two presses
	manyGarbled = 3
)

func (d *Desk) gaugeNamed(name string) *gauge {
	for _, g := range d.gauges {
		if g.Name == name {
			return g
		}
	}
	return nil
}

// gaugeReading returns the gauge that a feature is read with, by eye or by its line; nil for none.
func (d *Desk) gaugeReading(f inspect.Feature) *gauge {
	if d.study != nil && len(d.gauges) > 0 && !d.gauges[0].gone {
		return d.gauges[0]
	}
	if name, ok := d.reads[f]; ok {
		return d.gaugeNamed(name)
	}
	for _, byEye := range []bool{false, true} {
		for _, g := range d.gauges {
			if g.ByEye == byEye && !g.gone && slices.Contains(g.Features, f) {
				return g
			}
		}
	}
	return nil
}

// gaugeAsked returns the gauge with a line that the question is read with; nil for none.
func (d *Desk) gaugeAsked() *gauge {
	if d.state != asking || !d.asked || d.at.Sight != "" || d.at.Ground {
		return nil
	}
	if g := d.gaugeReading(d.at.Key.Feature); g != nil && !g.ByEye {
		return g
	}
	return nil
}

// typedAs returns the name that a typed reading of a feature stands under: that of the gauge read by eye, and else the
// keyboard. What is typed in place of a gauge with a line is the keyboard's.
func (d *Desk) typedAs(f inspect.Feature) string {
	if g := d.gaugeReading(f); g != nil && g.ByEye {
		return g.Name
	}
	return "keyboard"
}

// frame takes a reading that a gauge sent.
func (d *Desk) frame(f Frame) []Effect {
	g := d.gaugeNamed(f.Gauge)
	if g == nil || d.state != asking {
		return nil
	}
	asked := d.gaugeAsked()
	notTaken := fmt.Sprintf("%s %s", f.Text, f.Unit)
	switch {
	case d.wrong != "":
		return d.refuse("%s was not taken: %s was scanned, and %s is in hand. Scan the right tag, or y.", notTaken, d.wrong, d.tool().ID)
	case d.overlay != none:
		d.overlay = none
	case d.sweep != nil:
		return nil
	}
	if g.Unit.Metric() != f.Unit.Metric() && g.Unit != length.None {
		return d.fault(Fault{At: f.At, Gauge: f.Gauge, What: SwitchedUnit, Text: f.Text, Unit: f.Unit, Value: f.Value})
	}
	d.offer = nil
	switch {
	case !d.asked:
		return d.refuse("%s from %s was not taken: nothing is asked. Enter closes.", notTaken, g.Name)
	case asked != g:
		what := "nothing to read is asked"
		if d.at.Sight == "" {
			what = d.named(d.at) + " is asked"
		}
		g.trouble = &trouble{what: wrongGauge, at: f.At, says: fmt.Sprintf("That was %s; %s. Not taken.", g.Name, what), do: "the right one's button; g makes it so for this feature"}
		return d.refuse("That was %s; %s. %s was not taken.", g.Name, what, notTaken)
	}
	if d.last != nil && d.last.Gauge == f.Gauge && g.Mode == Button && f.At.Sub(d.last.At) < onePress && f.At.Sub(d.last.At) >= 0 {
		return d.twoInOnePress(g, f)
	}
	if g.trouble != nil && !g.trouble.held() {
		g.trouble = nil // it sends again
	}
	if g.trouble != nil {
		return d.refuse("%s was not taken. %s", notTaken, g.trouble.do)
	}
	g.garbled = 0
	d.waiting = d.now
	q := d.at
	effects := d.accept(Line{}, []length.Typed{{Value: f.Value, Unit: f.Unit, Text: f.Text}}, &f, true)
	for _, e := range effects {
		if _, kept := e.(Keep); kept {
			d.last, d.lastOf = &f, q
			if !g.bouncedAt.Before(f.At) { // told of before the reading was
				d.bounce(g, 0)
			}
			break
		}
	}
	return effects
}

// bounce tells of frames that were dropped for the same as the one before.
func (d *Desk) bounce(g *gauge, more int) []Effect {
	g.bounced += more
	return d.tell("The button sent it twice within 0.3 s: taken once (%d so far).", g.bounced)
}

// twoInOnePress is a second frame that came sooner than a hand presses: the same again is a bounce, and of two different
// ones neither is believed.
func (d *Desk) twoInOnePress(g *gauge, f Frame) []Effect {
	if f.Text == d.last.Text {
		return d.bounce(g, 1)
	}
	was := d.last.Text
	d.last = nil
	d.refuse("Two numbers in one press, %s and %s. Neither taken. Hold still, press once.", was, f.Text)
	return []Effect{Keep{What: TakenBack, Question: d.lastOf, Reason: "two numbers in one press", At: d.now}, Ring{Refused: true}}
}

// fault takes what a gauge sent that is no reading.
func (d *Desk) fault(f Fault) []Effect {
	g := d.gaugeNamed(f.Gauge)
	if g == nil || d.state != asking {
		return nil
	}
	t := &trouble{what: f.What, at: f.At}
	name := strings.ToUpper(g.Name[:1]) + g.Name[1:]
	waits := d.gaugeAsked() == g
	switch f.What {
	case SwitchedUnit:
		t.says = fmt.Sprintf("%s shows %s now; this bench reads it in %s. %s %s was not taken.", name, f.Unit, unitWord(g.Unit), f.Text, f.Unit)
		t.do = "its unit button, then send again"
		if waits {
			t.do += fmt.Sprintf("; y takes this one as %s", f.Unit)
			frame := Frame{At: f.At, Gauge: f.Gauge, Raw: f.Raw, Text: f.Text, Unit: f.Unit, Value: f.Value}
			d.offer = &offer{of: d.at, values: []length.Typed{{Value: f.Value, Unit: f.Unit, Text: f.Text}}, frame: &frame}
		}
	case LowBattery:
		t.says, t.do = "Low battery: its numbers may wander. Not taken.", "change it, set zero, Enter"
	case OutOfRange:
		t.says, t.do = name+" is past its end. Too much or too little pressed.", "move the stand to mid-travel, Enter: the round starts again"
	case Silent:
		if !waits {
			return nil
		}
		t.says, t.do = "Nothing came. Is the gauge on, the lead in?", "again; k type by eye; g another"
	case Garbled:
		t.says, t.do = "That came garbled: part of it is missing. Not taken.", "its button again"
		if g.garbled++; g.garbled >= manyGarbled {
			t.says = fmt.Sprintf("Garbled %d times. Lead near the motor? Wrong speed of the line?", g.garbled)
			t.do = "its button again; flutelog gauge listen shows what comes"
		}
	case Bounced:
		g.bouncedAt = f.At
		return d.bounce(g, max(f.Count, 1))
	case TwoNumbers:
		t.says, t.do = "Two numbers in one press. Neither taken.", "hold still, press once"
	case Stuck:
		t.says, t.do = "The same again and again. Is the contact touching, the spindle free?", "move it, see the digits change, Enter"
	case Flood:
		t.says, t.do = "More comes than a hand sends. Is the gauge set to send all the time?", "see to it, Enter"
	case Late:
		t.says, t.do = "It came when nobody waited for it. Not taken.", "its button again"
	case Unplugged:
		return d.plug(Plug{At: f.At, Gauge: f.Gauge})
	case Gone:
		g.gone, g.trouble = true, nil
		d.grouped = nil
		return d.tell("%s gives nothing more; type its readings.", name)
	default:
		return nil
	}
	if held := g.trouble; held != nil && (held.held() || g.away) && !t.held() {
		return nil // what must be seen to stands; a press that was dropped meanwhile is no news beside it
	}
	g.trouble = t
	d.said, d.refused = "", ""
	return []Effect{Ring{Refused: true}}
}

// plug is a plug pulled or put back. Nothing that was taken is lost; the zero may have moved.
func (d *Desk) plug(p Plug) []Effect {
	g := d.gaugeNamed(p.Gauge)
	if g == nil || p.In != g.away {
		return nil
	}
	g.away, g.awayAt = !p.In, p.At
	d.offer = nil
	if g.away {
		g.trouble = &trouble{what: Unplugged, at: p.At,
			says: fmt.Sprintf("%s UNPLUGGED at %s. Nothing is lost.", strings.ToUpper(g.Name), p.At.UTC().Format("15:04:05")),
			do:   "put the plug back, it is found by itself; k read on by eye and type; g another gauge; q stop"}
		if d.gaugeAsked() == g {
			return []Effect{Ring{Refused: true}}
		}
		return nil
	}
	g.trouble, d.byEye = nil, false
	d.proveZero(g)
	return []Effect{SeenTo{g.Name}, Ring{}}
}

// proveZero asks flute 1 of the round again, where its zero may have moved while the gauge was away.
func (d *Desk) proveZero(g *gauge) {
	d.tell("%s is back.", g.Name)
	if d.state != asking || !d.asked || d.at.Sight != "" || d.gaugeReading(d.at.Key.Feature) != g && !d.byEye {
		return
	}
	k := d.at.Key
	if !k.Feature.Heights() || k.Feature.Single() || k.Closing {
		return
	}
	first := d.at
	first.Key.Flute = 1
	if _, read := d.reading(first); !read || first == d.at {
		return
	}
	d.set(first)
	d.recheck = true
	d.tell("%s. Flute 1 again first: it proves the zero. Within %s of before the round goes on; further off it starts afresh.", d.said[:len(d.said)-1], d.figure(d.mayMove(k), 4))
}

// readByEye goes on with typed readings while the gauge is away.
func (d *Desk) readByEye() []Effect {
	g := d.gaugeAsked()
	if g == nil || g.trouble == nil {
		return d.refuse("Type the reading: a number can be typed at any time.")
	}
	d.byEye = true
	d.proveZero(g)
	return d.tell("Read by eye and type: each is marked typed.")
}

// otherGauge makes another gauge the one that the feature is read with.
func (d *Desk) otherGauge(name string) []Effect {
	f := d.at.Key.Feature
	var names []string
	var wrong *gauge
	for _, g := range d.gauges {
		names = append(names, g.Name)
		if g.trouble != nil && g.trouble.what == wrongGauge {
			wrong = g
		}
	}
	if name == "" && wrong != nil {
		name = wrong.Name
	}
	g := d.gaugeNamed(name)
	switch {
	case len(names) == 0:
		return d.refuse("The bench file describes no gauge. Type the reading.")
	case g == nil:
		return d.refuse("g and the gauge's name: %s", strings.Join(names, ", "))
	}
	if g.trouble != nil && g.trouble.what == wrongGauge {
		g.trouble = nil
	}
	d.reads[f] = g.Name
	return d.tell("%s is read with %s from here on", f.Name(), g.Name)
}

// seenTo goes on with a gauge that was held back, after the person has seen to it.
func (d *Desk) seenTo(g *gauge) []Effect {
	effects := []Effect{SeenTo{g.Name}}
	what := g.trouble.what
	g.trouble = nil
	d.waiting = d.now
	switch what {
	case OutOfRange:
		group, _ := d.groupOf(d.at)
		if d.at.Key.Feature.Heights() && !d.at.Key.Feature.Single() {
			for _, box := range slices.Backward(group.boxes) {
				if d.read(box) {
					effects = append(effects, Keep{What: TakenBack, Question: box, Reason: "set aside: the stand was moved", At: d.now})
				}
			}
		}
		d.tell("going on with %s; the round starts again", g.Name)
	case LowBattery:
		d.tell("going on with %s.", g.Name)
		d.proveZero(g)
	default:
		d.tell("going on with %s", g.Name)
	}
	return effects
}

// silence says that nothing has come for a while from the gauge that is waited for.
func (d *Desk) silence() {
	g := d.gaugeAsked()
	if g == nil || g.trouble != nil || g.away || g.Mode != Button || d.now.Sub(d.waiting) < silentAfter {
		return
	}
	g.trouble = &trouble{what: Silent, at: d.now, says: "Nothing came in 20 s. Was the button pressed, the lead in, the gauge on?", do: "its button again; k type by eye; g another"}
}

// other is what another device did.
func (d *Desk) other(o Other) []Effect {
	if d.state != asking {
		return nil // what was read is closed
	}
	who := o.Who
	if who == "" {
		who = "another device"
	}
	switch o.What {
	case LockedElsewhere:
		d.refuse("THE TOOL WAS LOCKED by %s. Put it down. What was read here is kept.", who)
	case TakenElsewhere:
		d.refuse("This inspection goes on at another place (%s). What was read here is kept.", who)
	case BegunElsewhere:
		d.refuse("%s was inspected at another place meanwhile. Nothing was recorded here.", d.tool().ID)
	case ClosedElsewhere:
		d.refuse("This inspection was closed by %s. What it came to: flutelog show %s", who, d.in.ID)
	}
	return []Effect{Ring{Refused: true}, Stop{}}
}

// sweepNow says whether Enter begins a sweep: run-out of the edges is swept, and a shank has nothing to tell its places by.
func (d *Desk) sweepNow(g *gauge) bool {
	f := d.at.Key.Feature
	return d.sweeps && g != nil && !g.away && g.Mode == Stream && (f == inspect.RadialRunout || f == inspect.AxialRunout)
}

func (d *Desk) beginSweep(g *gauge) []Effect {
	of := d.at.Key
	of.Flute = 1
	if of.Closing {
		of.Closing, of.Repeat = false, d.lastRound(of)
	}
	d.sweep = &Sweep{Gauge: g.Name, Of: of}
	turning := "forwards, as it cuts"
	if d.plan.Backward {
		turning = "backwards"
	}
	d.tell("Turn the tool %s, three times round or more, slowly over each edge%s. Then Enter.", turning, d.pace())
	return []Effect{*d.sweep}
}

func (d *Desk) lastRound(of inspect.Key) int {
	round := 1
	for _, r := range d.in.Readings {
		if k := r.Key(); samePlace(k, of) && !k.Closing {
			round = max(round, k.Repeat)
		}
	}
	return round
}

// sweeping takes a line while the tool is turned.
func (d *Desk) sweeping(text string) []Effect {
	switch strings.ToLower(text) {
	case "":
		return []Effect{EndSweep{}}
	case "q":
		d.sweep = nil
		return []Effect{EndSweep{Drop: true}, Stop{}}
	}
	return d.refuse("Enter ends the sweep; q stops.")
}

// sweptReason is why flute 1 is not read once more to close a sweep: it was.
const sweptReason = "swept: each turn passed flute 1 again, and drift is taken off"

// swept takes what a sweep came to. A trace that does not tell the flutes apart is refused with the reason.
func (d *Desk) swept(s Swept) []Effect {
	if d.sweep == nil {
		return nil
	}
	of := d.sweep.Of
	d.sweep = nil
	if s.Why != "" {
		return d.refuse("NOT RECORDED: %s. Enter sweeps again.", strings.TrimRight(s.Why, ". "))
	}
	in := d.Inspection()
	var effects []Effect
	for _, r := range s.Readings {
		if err := d.check(in, r); err != nil {
			return d.refuse("NOT RECORDED: %s Enter sweeps again.", sentence(err.Error()))
		}
		in.Readings = append(in.Readings, r)
		effects = append(effects, Keep{What: Read, Reading: &r, At: d.now})
	}
	closing := Question{Key: of}
	closing.Key.Flute, closing.Key.Repeat, closing.Key.Closing = 1, 0, true
	if g, ok := d.groupOf(Question{Key: of}); ok && g.last && slices.Contains(g.boxes, closing) {
		effects = append(effects, Keep{What: LeftOut, Question: closing, Reason: sweptReason, At: d.now})
	}
	d.tell("%s", strings.Join(s.Tell, "; "))
	return append(effects, Ring{})
}

// What the pace of a sweep is worked out for: a gauge of which nothing more is known sends about so many values a second
// (common practice, no source), and the heights of five turns are to be known to one division.
const (
	valuesASecond = 10
	turnsSwept    = 5
)

// pace says how slowly to turn; "" where the gauge's division is not stated.
func (d *Desk) pace() string {
	g := d.gaugeAsked()
	if g == nil {
		return ""
	}
	relief := 8 * length.Degree
	if r := d.tool().PrimaryRelief; r != nil {
		relief = *r
	}
	step := d.in.Basis.Gauges[g.Name].Resolution
	if step == 0 {
		return ""
	}
	turn, err := geometry.SweepPace(d.tool().Diameter, relief, step, valuesASecond, turnsSwept)
	if err != nil {
		return ""
	}
	return fmt.Sprintf(": one turn in %d s or longer, %d turns, for heights to a division; faster is taken, and less sure", max(1, int(turn.Seconds()+0.5)), turnsSwept)
}
