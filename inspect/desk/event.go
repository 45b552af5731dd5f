package desk

import (
	"time"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// An Event is something that happens at the desk: a line, a key, a frame, a plug, the clock, another device. Each carries
// its time; the desk knows no other clock.
type Event interface{ when() time.Time }

// Line is a line that was typed and ended with Enter, or that a form sent.
type Line struct {
	At   time.Time `json:"at"`
	Text string    `json:"text"`
	Of   string    `json:"of,omitempty"` // the ticket of the prompt that it answers; "" answers whatever is asked
	By   string    `json:"by,omitempty"` // who is signed in at the device
}

// Again picks a question to be answered again, wherever its answer stands on a screen: a tooth, a value. The answer stands
// until another replaces it.
type Again struct {
	At time.Time `json:"at"`
	Of Question  `json:"of"`
}

// Key is one of the two keys that act at once, on an empty line.
type Key struct {
	At  time.Time `json:"at"`
	Key KeyName   `json:"key"`
	By  string    `json:"by,omitempty"` // who is signed in at the device
}

// KeyName says which.
type KeyName string

// The keys that act at once.
const (
	Backspace KeyName = "backspace" // takes the last answer back
	Interrupt KeyName = "interrupt" // stops, as q does
	End       KeyName = "end"       // the input ends: nobody is there to answer any more
)

// Frame is a reading that a gauge sent.
type Frame struct {
	At    time.Time     `json:"at"` // when its last byte came
	Gauge string        `json:"gauge"`
	Raw   string        `json:"raw,omitempty"` // its bytes
	Text  string        `json:"text"`          // the gauge's own digits
	Unit  length.Unit   `json:"unit"`
	Value length.Length `json:"value"`
}

// Shown is what a stream shows at the moment; it answers nothing.
type Shown struct {
	At    time.Time `json:"at"`
	Gauge string    `json:"gauge"`
	Text  string    `json:"text"`
}

// Fault is something a gauge sent that is no reading, or that it sent nothing.
type Fault struct {
	At    time.Time     `json:"at"`
	Gauge string        `json:"gauge"`
	What  Trouble       `json:"what"`
	Raw   string        `json:"raw,omitempty"`
	Text  string        `json:"text,omitempty"` // of SwitchedUnit: the digits
	Unit  length.Unit   `json:"unit,omitempty"` // and the unit they are in
	Value length.Length `json:"value,omitempty"`
	Count int           `json:"count,omitempty"` // how often, of Bounced
}

// Trouble is what is wrong with a gauge.
type Trouble string

// The troubles, each with its own words and its own cure.
const (
	SwitchedUnit Trouble = "switched unit"
	LowBattery   Trouble = "low battery"
	OutOfRange   Trouble = "out of range"
	Silent       Trouble = "silent"
	Garbled      Trouble = "garbled"
	Bounced      Trouble = "bounced" // an identical frame was dropped
	TwoNumbers   Trouble = "two numbers"
	Stuck        Trouble = "stuck"
	Flood        Trouble = "flood"
	Late         Trouble = "late" // an answer or presses that nobody waited for
	Unplugged    Trouble = "unplugged"
	Gone         Trouble = "gone" // it gives nothing more at all
	wrongGauge   Trouble = "wrong gauge"
)

// Plug is a gauge's plug pulled or put back.
type Plug struct {
	At    time.Time `json:"at"`
	Gauge string    `json:"gauge"`
	In    bool      `json:"in"`
}

// Clock is the time, told when the desk asked to be woken or something else moved it.
type Clock struct {
	At time.Time `json:"at"`
}

// Other is something that another device or process did to the tool in hand.
type Other struct {
	At   time.Time `json:"at"`
	What OtherWhat `json:"what"`
	Who  string    `json:"who,omitempty"`
}

// OtherWhat says what.
type OtherWhat string

// What another device can do.
const (
	LockedElsewhere OtherWhat = "locked" // the tool was locked
	TakenElsewhere  OtherWhat = "taken"  // the inspection goes on at another device
	ClosedElsewhere OtherWhat = "closed" // it was closed or given up there
	BegunElsewhere  OtherWhat = "begun"  // the tool was inspected there, and nothing is recorded here
)

// Swept is what a sweep that was asked for came to.
type Swept struct {
	At       time.Time         `json:"at"`
	Readings []inspect.Reading `json:"readings,omitempty"` // one a flute
	Tell     []string          `json:"tell,omitempty"`     // how they agree, a line a flute
	Why      string            `json:"why,omitempty"`      // it comes to nothing
}

// Closed is what the inspection came to, told once its close is on disk.
type Closed struct {
	At     time.Time `json:"at"`
	ID     string    `json:"id"`
	Answer Answer    `json:"answer"`
}

// Answer is what an inspection came to, for the last screen.
type Answer struct {
	Headline string        `json:"headline"`
	Mark     string        `json:"mark,omitempty"` // of the verdict, as this screen writes it
	Lines    []AnswerLine  `json:"lines"`
	Caution  []string      `json:"caution,omitempty"`
	Next     inspect.Stage `json:"next,omitempty"`    // what Enter begins; "" for nothing
	Doing    string        `json:"doing,omitempty"`   // Enter, in words: ground, read it
	Sign     bool          `json:"sign,omitempty"`    // it waits for a signature
	Signers  []string      `json:"signers,omitempty"` // who may; none is anyone
}

// AnswerLine is something that an answer says, on one line or some that belong together.
type AnswerLine struct {
	Text  []string `json:"text"`
	Spare int      `json:"spare,omitempty"` // dropped first where the screen is too low, the highest first; 0 never
}

// Signed says how a signature went: Why is why it was not taken.
type Signed struct {
	At  time.Time `json:"at"`
	Who string    `json:"who"`
	Why string    `json:"why,omitempty"`
}

func (e Line) when() time.Time   { return e.At }
func (e Again) when() time.Time  { return e.At }
func (e Key) when() time.Time    { return e.At }
func (e Frame) when() time.Time  { return e.At }
func (e Shown) when() time.Time  { return e.At }
func (e Fault) when() time.Time  { return e.At }
func (e Plug) when() time.Time   { return e.At }
func (e Clock) when() time.Time  { return e.At }
func (e Other) when() time.Time  { return e.At }
func (e Swept) when() time.Time  { return e.At }
func (e Closed) when() time.Time { return e.At }
func (e Signed) when() time.Time { return e.At }

// An Effect is something that the desk wants done. Effects are done in order, each before the next; after each that was
// done Done is called with it, and when one fails Failed, and those behind it are left undone.
type Effect interface{ effect() }

// Keep is one line for the draft. It is done once it is on disk.
type Keep struct {
	What     Kept
	Reading  *inspect.Reading
	Seen     *inspect.Seen
	Ground   *inspect.Ground
	Question Question // of TakenBack and LeftOut
	Reason   string   // of LeftOut, and of readings set aside
	Text     string   // of Noted
	At       time.Time
	By       string
}

// Kept says what a line of the draft tells.
type Kept string

// What is kept.
const (
	Read      Kept = "reading"
	Saw       Kept = "seen"
	TakenBack Kept = "retake"
	LeftOut   Kept = "skip"
	Noted     Kept = "note"
	Ground    Kept = "ground" // how the tool was ground
)

// Lock locks the tool. It comes before the line of the draft that it is about.
type Lock struct {
	Seen inspect.Seen
	At   time.Time
	By   string
}

// Ring rings the bell: once for what is taken, twice for what is refused.
type Ring struct{ Refused bool }

// Ask asks a gauge for a reading: what a stream shows, or the answer to a request.
type Ask struct{ Gauge string }

// SeenTo tells a gauge that was held back that the person has seen to it.
type SeenTo struct{ Gauge string }

// Sweep begins to take a stream; EndSweep ends it, and Swept comes back.
type Sweep struct {
	Gauge string
	Of    inspect.Key
}

// EndSweep is documented with Sweep; Drop throws away what came.
type EndSweep struct{ Drop bool }

// Close closes the inspection; Closed comes back.
type Close struct{}

// Stop lets go of the inspection; it can be taken up again.
type Stop struct{}

// Next begins the inspection of a stage of the same tool.
type Next struct{ Stage inspect.Stage }

// Sign signs what the inspection came to; Signed comes back.
type Sign struct{ Who, PIN string }

// Show shows something beside the conversation.
type Show struct{ What Shows }

// Shows says what.
type Shows string

// What can be shown.
const (
	Paper   Shows = "paper"
	Picture Shows = "picture"
	Route   Shows = "route"
	Detail  Shows = "detail"
)

// Leave ends the conversation.
type Leave struct{}

func (Keep) effect()     {}
func (Lock) effect()     {}
func (Ring) effect()     {}
func (Ask) effect()      {}
func (SeenTo) effect()   {}
func (Sweep) effect()    {}
func (EndSweep) effect() {}
func (Close) effect()    {}
func (Stop) effect()     {}
func (Next) effect()     {}
func (Sign) effect()     {}
func (Show) effect()     {}
func (Leave) effect()    {}
