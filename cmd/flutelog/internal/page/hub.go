package page

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/cmd/flutelog/internal/hand"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

var (
	errNotInHand = errors.New("this inspection is not in hand any more")
	errAnswered  = errors.New("that question was dealt with meanwhile; look at what is asked now")
	errTooMany   = errors.New("too many inspections are in hand; stop or close one first")
)

// mostHands is how many inspections one recorder has in hand at once.
const mostHands = 8

// hub holds the inspections in hand. Everything a viewer or a gauge does comes through their desks, and every viewer sees
// what they hold. The gauges of the bench serve the inspection that was taken in hand first; the readings of others are
// typed.
type hub struct {
	ledger *ledger.Ledger
	bench  *bench.File
	unit   length.Unit
	now    func() time.Time
	gauges func() (*gauges.Set, []error) // opens the gauges that are there
	known  map[string]inspect.Instrument // gauges beside those of the bench file

	turn sync.Mutex // held over taking in hand and putting down, which wait for gauges

	mu      sync.Mutex
	hands   map[string]*held
	seq     uint64        // counts what happened
	changed chan struct{} // closed when something happens
}

// held is one inspection in hand, and what was said of it. The hub's mutex guards all but the hand.
type held struct {
	*hand.Hand
	set  *gauges.Set
	said []line
	last [3]string // what was said, refused and in trouble
}

// line is one thing that was said to everybody who watches.
type line struct {
	Seq      uint64 `json:"-"`
	Text     string `json:"text"`
	Recorded bool   `json:"recorded"` // a reading went to the disk
}

// mostSaid lines are kept for viewers who were away.
const mostSaid = 60

func newHub(c Config) *hub {
	return &hub{ledger: c.Ledger, bench: c.Bench, unit: c.Unit, now: c.Now, gauges: c.gauges, known: c.known(), hands: map[string]*held{}, changed: make(chan struct{})}
}

// happened wakes every viewer. The caller holds the mutex.
func (h *hub) happened() {
	h.seq++
	close(h.changed)
	h.changed = make(chan struct{})
}

// wake has every viewer look anew at what it may see.
func (h *hub) wake() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.happened()
}

// watch returns the number of what happened last, and a channel that closes when more does.
func (h *hub) watch() (uint64, <-chan struct{}) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.seq, h.changed
}

// say tells everybody who watches an inspection. The caller holds the mutex.
func (h *hub) say(n *held, text string, recorded bool) {
	h.happened()
	n.said = append(n.said, line{h.seq, text, recorded})
	if over := len(n.said) - mostSaid; over > 0 {
		n.said = n.said[over:]
	}
}

// note tells what changed at a desk.
func (h *hub) note(id string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	n := h.hands[id]
	if n == nil {
		return
	}
	p := n.Prompt()
	h.happened()
	now := [3]string{p.Said, p.Refused, strings.Join(p.Trouble, " ")}
	for i, text := range now {
		if text != "" && text != n.last[i] {
			switch i {
			case 0:
				h.say(n, capital(text)+". Now: "+p.Ask, strings.HasPrefix(text, "taken: "))
			case 1:
				h.say(n, "NOT TAKEN: "+text, false)
			default:
				h.say(n, text, false)
			}
		}
	}
	n.last = now
}

// inHand returns the ids of the inspections in hand.
func (h *hub) inHand() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return slices.SortedFunc(maps.Keys(h.hands), record.Natural)
}

func (h *hub) holds(id string) bool { return slices.Contains(h.inHand(), id) }

// begin opens an inspection of a tool and takes it in hand.
func (h *hub) begin(t record.Tool, c bench.Choices) (id string, err error) {
	h.turn.Lock()
	defer h.turn.Unlock()
	open, err := record.Open(h.ledger)
	if err != nil {
		return "", err
	}
	for _, d := range open {
		if d.Inspection.Tool.ID == t.ID {
			return "", fmt.Errorf("inspection %s of this tool is still open; go on with it or give it up", d.Inspection.ID)
		}
	}
	in, plan, err := h.prepare(t, c)
	if err != nil {
		return "", err
	}
	return in.ID, h.take(in, t, func(c hand.Config) (*hand.Hand, []ledger.Damage, error) {
		n, err := hand.Begin(c, in, plan)
		return n, nil, err
	})
}

// prepare puts together what is inspected, with all that the ledger knows of the gauges and the job.
func (h *hub) prepare(t record.Tool, c bench.Choices) (inspect.Inspection, desk.Plan, error) {
	c.AtDesk = true
	in, plan, err := hand.Prepare(h.ledger, h.bench, t, c)
	if err == nil {
		maps.Copy(in.Basis.Gauges, h.known)
	}
	return in, plan, err
}

// takeUp goes on with an inspection that was stopped or cut off.
func (h *hub) takeUp(id string) error {
	h.turn.Lock()
	defer h.turn.Unlock()
	if h.holds(id) {
		return nil
	}
	open, err := record.Open(h.ledger)
	i := slices.IndexFunc(open, func(d record.Draft) bool { return d.Inspection.ID == id })
	if i < 0 {
		return cmp.Or(err, errNotInHand)
	}
	in := open[i].Inspection
	t, err := record.FindTool(h.ledger, in.Tool.ID)
	if t.ID == "" {
		return err
	}
	return h.take(in, t, func(c hand.Config) (*hand.Hand, []ledger.Damage, error) { return hand.TakeUp(c, id) })
}

// take takes an inspection in hand and opens the gauges. A gauge that does not open is said; its readings are typed.
func (h *hub) take(in inspect.Inspection, t record.Tool, begin func(hand.Config) (*hand.Hand, []ledger.Damage, error)) error {
	hands := h.inHand()
	if len(hands) >= mostHands {
		return errTooMany
	}
	set, troubles := &gauges.Set{ByEye: h.bench.Gauges}, []error(nil)
	if len(hands) == 0 {
		set, troubles = h.gauges()
	} else if len(h.bench.Gauges) > 0 {
		troubles = []error{fmt.Errorf("the gauges serve %s, which was in hand first", hands[0])}
	}
	id := in.ID
	n, lost, err := begin(hand.Config{
		Ledger: h.ledger, Now: h.now, Gauges: set, Known: hand.Known(h.bench, in, hand.Earlier(h.ledger, t)),
		Changed: func() { h.note(id) },
	})
	if err != nil {
		set.Close()
		return err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	kept := &held{Hand: n, set: set}
	h.hands[id] = kept
	done, of := n.Counted()
	h.say(kept, fmt.Sprintf("%s in hand: %d of %d are answered and on disk.", id, done, of), false)
	for _, d := range lost {
		h.say(kept, fmt.Sprintf("Damaged, and read as missing: %s.", d), false)
	}
	for _, err := range troubles {
		h.say(kept, fmt.Sprintf("%v. Its readings are typed.", err), false)
	}
	return nil
}

func (h *hub) hand(id string) *held {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.hands[id]
}

// putDown lets an inspection go, its gauges with it.
func (h *hub) putDown(id string) error {
	h.turn.Lock()
	defer h.turn.Unlock()
	n := h.hand(id)
	if n == nil {
		return errNotInHand
	}
	err := n.PutDown()
	n.set.Close()
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.hands, id)
	h.happened()
	return err
}

// stop lets go of an inspection; it can be taken up again.
func (h *hub) stop(id string) error { return h.putDown(id) }

// close judges an inspection of which everything is answered, and records it.
func (h *hub) close(id, of string) error {
	if err := h.line(id, of, ""); err != nil {
		return err
	}
	n := h.hand(id)
	if n == nil {
		return errNotInHand
	}
	if _, _, _, closed := n.Closed(); !closed {
		return errors.New("something is still asked; answer it, or leave it out with the reason")
	}
	return h.putDown(id)
}

// discard gives an inspection up, for a reason that is kept.
func (h *hub) discard(id, reason string) error {
	n := h.hand(id)
	if n == nil {
		return errNotInHand
	}
	if _, err := n.Discard(reason); err != nil {
		return err
	}
	return h.putDown(id)
}

// do gives the desk of an inspection an event, if it still asks the question of this ticket. What it refuses is an error.
func (h *hub) do(id, of string, e desk.Event) error {
	n := h.hand(id)
	switch {
	case n == nil:
		return errNotInHand
	case n.Prompt().Ticket != of:
		return errAnswered
	}
	n.Do(e)
	if refused := n.Prompt().Refused; refused != "" {
		return errors.New(refused)
	}
	return nil
}

// line gives it a line, as a hand at a keyboard would.
func (h *hub) line(id, of, text string) error {
	return h.do(id, of, desk.Line{At: h.now(), Text: text, Of: of})
}

// take the last answer back and ask for it again.
func (h *hub) retake(id, of string) error {
	return h.do(id, of, desk.Key{At: h.now(), Key: desk.Backspace})
}

// look takes the answer to what is looked for: the form's fields as the line that a hand would type.
func (h *hub) look(id, of string, clear bool, seen []string, length func(string) string, note string) error {
	if clear {
		return h.line(id, of, "c")
	}
	text := ""
	for _, n := range seen {
		text += n + " "
		if l := strings.TrimSpace(length(n)); l != "" {
			text += l + " "
		}
	}
	if text == "" {
		return errors.New("choose what you see, or say that you looked for all of it and saw none")
	}
	return h.line(id, of, strings.TrimSpace(text+strings.TrimSpace(note)))
}

// leaveOut leaves a question out, or all that are left of its feature.
func (h *hub) leaveOut(id, of, reason string, rest bool) error {
	reason = strings.TrimSpace(reason)
	if rest {
		reason = "all " + reason
	}
	return h.line(id, of, "s "+reason)
}
