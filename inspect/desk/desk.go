// Package desk is one inspection as a conversation with a person who has a tool in the hand. It is a state machine:
// events go in (a line, a key, a frame, a plug, the clock, another device), prompts and effects come out. It knows no
// clock, no screen and no disk: a terminal and a page draw it, and whoever runs it does what it wants done. The same
// events come to the same effects, so that a recording of a conversation plays back.
package desk

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// Start is what is known when a conversation begins, or is taken up again.
type Start struct {
	Inspection inspect.Inspection // with what was read and seen so far
	Skipped    []Skipped
	Told       bool    // how the tool was ground was told already
	Given      []Given // its answers in the order in which they were given; nil is not known
	Plan       Plan
	Known      Known
	Gauges     []Device
	Study      *Study         // it is no inspection but the study of a gauge, the first one
	Sitting    *Sitting       // what was said already at this sitting; nil begins one
	Said       string         // what is told beside the first question
	DropBy     inspect.DropBy // how drops are read from here on; "" is as the inspection has it
	Over       length.Length  // and over which distance; 0 likewise
	Settle     time.Duration  // how long a fresh screen takes no bare Enter; 0 is not at all
	At         time.Time
}

// Skipped is a question that was left out, and why.
type Skipped struct {
	Question Question `json:"question"`
	Reason   string   `json:"reason"`
}

// Given is a question that was answered or left out, and when.
type Given struct {
	Of Question
	At string
}

// Known is what is known of the tool and the bench beside the inspection.
type Known struct {
	About    string                                                 // the tool in a few words: 1/2 in  4 flutes  HSS  square end
	Guide    func(inspect.Inspection, inspect.Key) Guide            // what to tell of a reading before it is taken
	Last     func(inspect.Key) (text string, known bool)            // what was read there the last time, and when
	LastSeen string                                                 // what was seen the last time, and when
	Between  inspect.Ground                                         // what was told, between the grinds, of the grind before
	Dials    func(inspect.Feature) (step length.Length, whole bool) // one division of what is read by eye, and whether bare whole numbers are divisions
	Wheels   []string
}

// Guide is what to tell of a reading before it is taken.
type Guide struct {
	Expect      string         // in words: +-.0005 of flute 1
	Least, Most *length.Length // what is expected, as far as it is known: to catch a slip, not to be matched
	Limit       string         // of the TIR or the figure, for the table
	Distance    length.Length  // the checking distance of a drop, or how far out from the centre
	Turn        string         // that distance as degrees the tool is turned
	Slid        bool           // a drop is read by sliding the table
	FromEnd     string
	Steepest    length.Length // the drop of 40 degrees; 0 is not known
	Further     []string      // what else to say: how wide the primary is there
}

// Device is a gauge of the bench as the desk sees it.
type Device struct {
	Name       string
	Mode       Mode
	Features   []inspect.Feature
	Resolution length.Length
	Unit       length.Unit // that the bench reads it in
	ByEye      bool        // it has no line: its readings are typed
	PastDue    int         // days past its calibration
	Practice   bool
}

// Mode is how a gauge gives a reading.
type Mode string

// How a gauge gives a reading.
const (
	Button Mode = "button" // its own button sends it
	Stream Mode = "stream" // it sends all the time; Enter takes what it shows
	Poll   Mode = "poll"   // Enter asks it
)

// Sitting is what was said once and is not said again: a person's stay at the bench, over several inspections.
type Sitting struct {
	Cautions map[string]bool
	Order    bool // why the flutes are not asked in their order
	MinusIs  int  // of a drop: 1 a fall, -1 a climb, 0 not asked yet
	Due      map[string]bool
}

// state is where the conversation stands.
type state string

const (
	asking   state = "asking"   // there are questions, or all readings are shown for the close
	closing  state = "closing"  // the close is on its way to the disk
	answered state = "answered" // the last screen
	signing  state = "signing"  // a PIN is asked
	left     state = "left"
)

// Desk is one conversation.
type Desk struct {
	in      inspect.Inspection
	skipped []Skipped
	given   []Given // in the order in which they were given
	plan    Plan
	study   *Study
	known   Known
	sitting *Sitting
	settle  time.Duration

	state   state
	at      Question  // what is asked; the zero Question when nothing is
	asked   bool      // something is asked
	grouped []group   // cached; nil to be worked out
	now     time.Time // of the last event
	fresh   time.Time // when the screen last changed what it asks
	waiting time.Time // since when a gauge is waited for
	overlay overlay

	said     string   // what was taken last, or told
	refused  string   // why the last line was not
	choices  []Choice // what it may have meant
	offer    *offer   // what y takes
	doubted  Question
	doubtful []length.Typed                    // of the line that was doubted
	wrong    string                            // the tag of another tool that was scanned
	minus    *offer                            // a fall or a climb is asked
	distance map[inspect.Feature]length.Length // set by d for the drops to come
	dropBy   inspect.DropBy                    // how they are read; "" is as the inspection has it
	shown    map[string]string                 // on which question something was told at this desk

	gauges  []*gauge
	reads   map[inspect.Feature]string // by g: which gauge reads a feature
	byEye   bool                       // k: the gauge is away and its readings are typed
	recheck bool                       // flute 1 is read again to prove a zero
	sweep   *Sweep
	sweeps  bool
	last    *Frame // the last frame taken, and for what
	lastOf  Question

	shifted   *movedRound          // what x moves
	suspected *inspect.Key         // asked again, for it stands apart
	reread    map[inspect.Key]bool // asked again already

	onShank bool           // the edges are tied to the shank by a round seated on it, in place of its run-out
	told    bool           // how the tool was ground
	ground  inspect.Ground // what Enter takes of that

	more   map[inspect.Feature]int // rounds asked for by m
	how    inspect.How             // the diameter is read
	over   bool                    // nobody is there to answer any more
	answer Answer
	id     string
	signer string
}

// overlay is a screen over the question.
type overlay string

const (
	none     overlay = ""
	help     overlay = "help"
	readings overlay = "readings"
)

// offer is what a yes takes.
type offer struct {
	of     Question
	values []length.Typed
	frame  *Frame
	do     func() []Effect
}

// New begins a conversation.
func New(s Start) *Desk {
	d := &Desk{in: s.Inspection, skipped: slices.Clone(s.Skipped), plan: s.Plan, known: s.Known, sitting: s.Sitting, settle: s.Settle,
		state: asking, now: s.At, fresh: s.At, waiting: s.At, reads: map[inspect.Feature]string{}, distance: map[inspect.Feature]length.Length{}, shown: map[string]string{}, more: map[inspect.Feature]int{}, reread: map[inspect.Key]bool{}}
	d.study, d.told, d.said, d.dropBy = s.Study, s.Told, s.Said, s.DropBy
	if d.ground = d.in.Ground(); s.Plan.Ground != nil && !s.Told {
		d.ground = s.Plan.Ground.Ground
	}
	if d.sitting == nil {
		d.sitting = &Sitting{}
	}
	if d.sitting.Cautions == nil {
		d.sitting.Cautions, d.sitting.Due = map[string]bool{}, map[string]bool{}
	}
	if d.plan.Most < d.plan.Rounds {
		d.plan.Most = d.plan.Rounds
	}
	d.in.Basis.Looks = d.in.Basis.Looks || d.plan.Most > d.plan.Rounds
	for _, g := range s.Gauges {
		d.gauges = append(d.gauges, &gauge{Device: g})
	}
	d.in.Readings, d.in.Seen = slices.Clone(d.in.Readings), slices.Clone(d.in.Seen)
	d.onShank = slices.ContainsFunc(d.in.Readings, func(r inspect.Reading) bool { return r.OnShank })
	if d.given = slices.Clone(s.Given); d.given == nil {
		d.given = givenIn(s)
	}
	d.readOnAs(s)
	d.goOn()
	return d
}

// givenIn are the answers that an inspection holds, where nothing is known of their order.
func givenIn(s Start) []Given {
	var all []Given
	if s.Told {
		all = append(all, Given{Of: Question{Ground: true}})
	}
	for _, seen := range s.Inspection.Seen {
		all = append(all, Given{Of: Question{Sight: seen.Sight}})
	}
	for _, r := range s.Inspection.Readings {
		all = append(all, Given{Question{Key: r.Key()}, r.At})
	}
	for _, k := range s.Skipped {
		all = append(all, Given{Of: k.Question})
	}
	return all
}

// readOnAs goes on to read drops as the last ones were read: over the distance that was set for them, turned or slid as was said. What
// was chosen for the inspection stands over it.
func (d *Desk) readOnAs(s Start) {
	var last inspect.Reading // on the flutes
	for _, r := range s.Inspection.Readings {
		if !r.Feature.Drop() {
			continue
		}
		if delete(d.distance, r.Feature); r.Over != nil && *r.Over != d.in.CheckingDistance() {
			d.distance[r.Feature] = *r.Over
		}
		if onFlutes(r.Feature) {
			last = r
		}
	}
	if by := cmp.Or(last.DropBy, d.in.DropBy()); last.Feature != "" && d.dropBy == "" && by != d.asRead(last.Key()).DropBy() {
		d.dropBy = by
	}
	for _, f := range []inspect.Feature{inspect.ReliefDrop, inspect.SecondaryDrop} {
		if s.Over > 0 && s.Over != d.in.Basis.CheckingDistance {
			d.distance[f] = s.Over
		}
	}
}

// Sweeps says that run-out of the edges is read by turning the tool under a gauge that streams.
func (d *Desk) Sweeps() { d.sweeps = true }

func (d *Desk) tool() inspect.Tool { return d.in.Tool }

// Inspection returns the inspection as it stands: what was read and seen so far.
func (d *Desk) Inspection() inspect.Inspection {
	in := d.in
	in.Readings, in.Seen = slices.Clone(in.Readings), slices.Clone(in.Seen)
	return in
}

// Plan returns what the inspection asks for.
func (d *Desk) Plan() Plan { return d.plan }

// Skipped returns what was left out.
func (d *Desk) Skipped() []Skipped { return slices.Clone(d.skipped) }

// Ended says that the conversation is over.
func (d *Desk) Ended() bool { return d.state == left }

// Asked returns what is asked now; false when nothing is.
func (d *Desk) Asked() (Question, bool) { return d.at, d.asked && d.state == asking }

// Wake returns when the desk wants to be told the time; the zero time is never.
func (d *Desk) Wake() time.Time {
	var at time.Time
	sooner := func(t time.Time) {
		if t.After(d.now) && (at.IsZero() || t.Before(at)) {
			at = t
		}
	}
	if d.settle > 0 {
		sooner(d.fresh.Add(d.settle))
	}
	if g := d.gaugeAsked(); g != nil && g.trouble == nil && g.Mode == Button {
		sooner(d.waiting.Add(silentAfter))
	}
	return at
}

// settled says whether a bare Enter counts already: one that was on its way when the screen changed was meant for what
// stood there before.
func (d *Desk) settled() bool { return d.settle == 0 || !d.now.Before(d.fresh.Add(d.settle)) }

// Do takes an event and returns what it wants done.
func (d *Desk) Do(e Event) []Effect {
	if t := e.when(); t.After(d.now) {
		d.now = t
	}
	if d.state == left {
		return nil
	}
	was := d.ticket()
	var effects []Effect
	switch e.(type) {
	case Line, Key, Frame, Again:
		d.refused, d.choices = "", nil
	}
	switch e := e.(type) {
	case Line:
		effects = d.line(e)
	case Key:
		effects = d.key(e)
	case Again:
		effects = d.again(e)
	case Frame:
		effects = d.frame(e)
	case Shown:
		if g := d.gaugeNamed(e.Gauge); g != nil {
			g.shown = e.Text
		}
	case Fault:
		effects = d.fault(e)
	case Plug:
		effects = d.plug(e)
	case Clock:
		d.silence()
	case Other:
		effects = d.other(e)
	case Swept:
		effects = d.swept(e)
	case Closed:
		d.id, d.answer, d.state = e.ID, e.Answer, answered
		d.said, d.refused = "", ""
		if d.over {
			d.state = left
		}
	case Signed:
		effects = d.signed(e)
	}
	if d.ticket() != was {
		d.fresh, d.waiting = d.now, d.now
	}
	return effects
}

// Done says that an effect was done.
func (d *Desk) Done(e Effect) {
	was := d.ticket()
	switch e := e.(type) {
	case Keep:
		d.keep(e)
	case Close:
		d.state = closing
	case Stop, Leave, Next:
		d.state = left
	}
	if d.ticket() != was {
		d.fresh, d.waiting = d.now, d.now
	}
}

// Failed says that an effect could not be done: what it was to keep is not kept.
func (d *Desk) Failed(e Effect, err error) {
	d.said = ""
	switch e.(type) {
	case Close:
		d.state = asking
		d.refused = "NOT CLOSED: " + err.Error()
	case Keep, Lock:
		d.refused = "NOT RECORDED: " + err.Error()
	default:
		d.refused = err.Error()
	}
}

// Run does an event with do, which does one effect.
func (d *Desk) Run(e Event, do func(Effect) error) error {
	for _, effect := range d.Do(e) {
		if err := do(effect); err != nil {
			d.Failed(effect, err)
			return err
		}
		d.Done(effect)
	}
	return nil
}

// keep makes a line of the draft part of what the desk knows.
func (d *Desk) keep(k Keep) {
	switch k.What {
	case Read:
		q := Question{Key: k.Reading.Key()}
		d.forget(q)
		d.in.Readings = append(d.in.Readings, *k.Reading)
		d.given = append(d.given, Given{q, k.Reading.At})
		d.grouped = nil
		if d.suspected != nil && *d.suspected == q.Key {
			d.reread[q.Key], d.suspected = true, nil
		}
		d.goOn()
		if s, ok := d.suspect(q.Key); ok {
			d.at, d.asked, d.suspected = s, true, &s.Key
		}
	case Saw:
		q := Question{Sight: k.Seen.Sight}
		d.forget(q)
		d.in.Seen = append(d.in.Seen, *k.Seen)
		d.given = append(d.given, Given{q, stamp(k.At)})
		d.goOn()
	case Ground:
		d.forget(Question{Ground: true})
		d.in.TellGround(*k.Ground)
		d.given = append(d.given, Given{Question{Ground: true}, stamp(k.At)})
		d.told, d.ground = true, *k.Ground
		d.goOn()
	case TakenBack:
		d.forget(k.Question)
		d.grouped = nil
		d.set(k.Question)
	case LeftOut:
		d.forget(k.Question)
		d.skipped = append(d.skipped, Skipped{k.Question, k.Reason})
		d.given = append(d.given, Given{k.Question, stamp(k.At)})
		d.grouped = nil
		d.goOn()
	}
}

// forget takes back whatever was said to a question.
func (d *Desk) forget(q Question) {
	if q.Ground {
		d.told = false
	}
	d.in.Readings = slices.DeleteFunc(d.in.Readings, func(r inspect.Reading) bool { return q == Question{Key: r.Key()} })
	d.in.Seen = slices.DeleteFunc(d.in.Seen, func(s inspect.Seen) bool { return q.Sight != "" && s.Sight == q.Sight })
	d.skipped = slices.DeleteFunc(d.skipped, func(k Skipped) bool { return k.Question == q })
	d.given = slices.DeleteFunc(d.given, func(g Given) bool { return g.Of == q })
}

// goOn asks the first question that is still open.
func (d *Desk) goOn() {
	d.at, d.asked = Question{}, false
	if d.stopped().Sight != "" {
		return
	}
	for _, q := range d.questions() {
		if !d.dealt(q) {
			d.at, d.asked = q, true
			return
		}
	}
}

// set asks a question, answered or not.
func (d *Desk) set(q Question) {
	d.at, d.asked = q, true
	if !slices.Contains(d.questions(), q) { // of a round that is not asked for any more
		d.goOn()
	}
}

// read says whether a reading or a sight was taken. A closing reading is of the rounds before it: a later one wants it
// again.
func (d *Desk) read(q Question) bool {
	if q.Ground {
		return d.told
	}
	if q.Sight != "" {
		return slices.ContainsFunc(d.in.Seen, func(s inspect.Seen) bool { return s.Sight == q.Sight })
	}
	at := slices.IndexFunc(d.in.Readings, func(r inspect.Reading) bool { return r.Key() == q.Key })
	if at < 0 || !q.Key.Closing {
		return at >= 0
	}
	return !slices.ContainsFunc(d.in.Readings[at+1:], func(r inspect.Reading) bool { return samePlace(r.Key(), q.Key) })
}

func samePlace(a, b inspect.Key) bool {
	return a.Feature == b.Feature && a.Stated == b.Stated && a.FromEnd == b.FromEnd && a.OnShank == b.OnShank
}

// dealt says whether a question needs nothing more: it was answered or left out.
func (d *Desk) dealt(q Question) bool {
	return d.read(q) || slices.ContainsFunc(d.skipped, func(k Skipped) bool { return k.Question == q })
}

func (d *Desk) reading(q Question) (inspect.Reading, bool) {
	i := slices.IndexFunc(d.in.Readings, func(r inspect.Reading) bool { return r.Key() == q.Key })
	if i < 0 || q.Sight != "" || q.Ground {
		return inspect.Reading{}, false
	}
	return d.in.Readings[i], true
}

// stopped returns what was seen that ends the inspection: a crack at any stage, a burn between or after; empty for nothing.
func (d *Desk) stopped() inspect.Seen {
	for _, s := range d.in.Seen {
		if s.Yes && d.locks(s.Sight) {
			return s
		}
	}
	return inspect.Seen{}
}

func (d *Desk) locks(s inspect.Sight) bool {
	return s == inspect.Cracks || s == inspect.Burn && d.in.Stage != inspect.Before
}

// Progress returns how many features are read in full, and of how many; the sights are one of them.
func (d *Desk) Progress() (at, of int) {
	var names []string
	for _, g := range d.groups() {
		name := "sights"
		if g.ground {
			continue
		}
		if !g.sights {
			name = string(g.boxes[0].Key.Feature)
			if width(g.boxes[0].Key.Feature) {
				name = fmt.Sprint("widths ", g.boxes[0].Key.Feature.OnEnds())
			}
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
		if d.asked && slices.Contains(g.boxes, d.at) {
			at = len(names)
		}
	}
	if d.asked && d.at.Ground {
		return 0, len(names)
	}
	return cmp.Or(at, len(names)), len(names)
}

// Counted returns how much of it is read, and of how much: of an inspection as Counted has it, of a study its readings.
func (d *Desk) Counted() (done, of int) {
	if d.study == nil {
		return Counted(d.in)
	}
	return len(d.in.Readings), len(d.questions())
}

// Counted returns how much was read of what an inspection's stage requires, and of how much that can be read: the one count of
// how far an inspection is.
func Counted(in inspect.Inspection) (read, of int) {
	for _, c := range inspect.Judge(in).Coverage {
		if c.Is == inspect.NotApplicable || c.Item == inspect.EndForm {
			continue
		}
		of++
		if c.Is == inspect.Read || c.Is == inspect.Untied {
			read++
		}
	}
	return read, of
}

// refuse says why something was not taken. Nothing typed at a refusal is kept.
func (d *Desk) refuse(format string, args ...any) []Effect {
	d.refused, d.said, d.choices = fmt.Sprintf(d.likeHere(format), args...), "", nil
	return []Effect{Ring{Refused: true}}
}

// likeHere puts the figures that stand in a text as examples into the unit that is typed.
func (d *Desk) likeHere(text string) string { return words.Like(text, d.in.Basis.Unit) }

// mayMean adds what the refused line may have meant, for whoever offers it.
func (d *Desk) mayMean(line, text, says string) {
	d.choices = append(d.choices, Choice{line, text, says})
}

// tell says something beside the question.
func (d *Desk) tell(format string, args ...any) []Effect {
	d.said, d.refused = fmt.Sprintf(format, args...), ""
	return nil
}

// ticket names what the screen asks, so that an answer never goes to another question.
func (d *Desk) ticket() string {
	switch {
	case d.state != asking:
		return string(d.state) + d.signer
	case !d.asked:
		return "all readings"
	case d.at.Ground:
		return "ground"
	case d.at.Sight != "":
		return "sights"
	}
	t := d.at.Key.String()
	if d.sweep != nil {
		t += " sweep"
	}
	return t
}

// printable says whether text can be shown as it is: no control, format or bidirectional characters.
func printable(text string) bool {
	return strings.IndexFunc(text, func(r rune) bool {
		return r != ' ' && !unicode.IsPrint(r) && r != '\u00a0' && r != '\u2009' && r != '\u202f' || r == unicode.ReplacementChar
	}) < 0
}
