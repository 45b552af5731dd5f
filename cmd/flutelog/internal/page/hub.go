package page

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
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
	"flutelog/inspect/words"
)

var (
	errNotInHand = errors.New("this inspection is not in hand any more")
	errAnswered  = errors.New("that question was dealt with meanwhile; look at what is asked now")
	errTooMany   = errors.New("too many inspections are in hand; stop or close one first")
)

// mostHands is how many inspections one recorder has in hand at once.
const mostHands = 8

// hub holds the inspections in hand. Everything a viewer or a gauge does comes through their desks, and every viewer sees
// what they hold. A gauge serves one inspection at a time: the one that found it free, until it is brought to another.
type hub struct {
	ledger *ledger.Ledger
	bench  *bench.File
	unit   length.Unit
	now    func() time.Time
	gauges func(serves func(gauge string) string) (*gauges.Set, []error) // opens those that serve nothing
	byEye  func() []bench.GaugeTable                                     // those whose readings are typed
	wired  func() []string                                               // the gauges that are there
	known  map[string]inspect.Instrument                                 // gauges beside those of the bench file
	serve  func(gauge, inspection string)                                // keeps which inspection a gauge serves, over a new start
	served func(gauge string) string                                     // what was kept

	turn   sync.Mutex   // held over taking in hand and putting down, which wait for gauges
	moving sync.RWMutex // held for reading while something is done at a desk, so that no desk goes meanwhile

	mu      sync.Mutex
	hands   map[string]*held
	seq     uint64        // counts what happened
	changed chan struct{} // closed when something happens
}

// held is one inspection in hand, and what was said of it. The hub's mutex guards all but the hand.
type held struct {
	*hand.Hand
	set     *gauges.Set
	sitting *desk.Sitting
	said    []line
	last    [3]string // what was said, refused and in trouble
	typed   string    // the line that was refused last, as it was typed
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
	return &hub{ledger: c.Ledger, bench: c.Bench, unit: c.Unit, now: c.Now, gauges: c.gauges, byEye: c.byEye, wired: c.wired, known: c.known(), serve: func(string, string) {}, served: func(string) string { return "" }, hands: map[string]*held{}, changed: make(chan struct{})}
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

// tell tells everybody who watches an inspection.
func (h *hub) tell(id, text string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if n := h.hands[id]; n != nil {
		h.say(n, text, false)
	}
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

// begin opens an inspection of a tool that somebody reads, and takes it in hand.
func (h *hub) begin(t record.Tool, c bench.Choices, reader string) (id string, err error) {
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
	in.Inspector = cmp.Or(reader, in.Inspector)
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
	in, t, err := h.opened(id)
	if err != nil {
		return err
	}
	return h.take(in, t, func(c hand.Config) (*hand.Hand, []ledger.Damage, error) { return hand.TakeUp(c, id) })
}

// opened returns an inspection that is not closed, and its tool.
func (h *hub) opened(id string) (inspect.Inspection, record.Tool, error) {
	open, err := record.Open(h.ledger)
	i := slices.IndexFunc(open, func(d record.Draft) bool { return d.Inspection.ID == id })
	if i < 0 {
		return inspect.Inspection{}, record.Tool{}, cmp.Or(err, errNotInHand)
	}
	in := open[i].Inspection
	t, err := record.FindTool(h.ledger, in.Tool.ID)
	if t.ID == "" {
		return in, t, err
	}
	return in, t, nil
}

// take takes an inspection in hand with the gauges that serve nothing else. One that does not open is said; its readings
// are typed.
func (h *hub) take(in inspect.Inspection, t record.Tool, begin func(hand.Config) (*hand.Hand, []ledger.Damage, error)) error {
	if len(h.inHand()) >= mostHands {
		return errTooMany
	}
	set, troubles := h.gauges(func(gauge string) string {
		if by := h.serves(gauge); by != in.ID {
			return by
		}
		return ""
	})
	kept, lost, err := h.hold(in, t, set, &desk.Sitting{}, begin)
	if err != nil {
		return err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	taken := in.ID + " in hand."
	if len(in.Readings)+len(in.Seen) > 0 { // what is read from here on is counted on the page
		taken = fmt.Sprintf("%s in hand, as it was left: %s.", in.ID, kept.SoFar())
	}
	h.say(kept, taken, false)
	for _, d := range lost {
		h.say(kept, fmt.Sprintf("Damaged, and read as missing: %s.", d), false)
	}
	for _, err := range troubles {
		h.say(kept, fmt.Sprintf("%v. Its readings are typed.", err), false)
	}
	return nil
}

// hold puts a desk up with gauges of its own.
func (h *hub) hold(in inspect.Inspection, t record.Tool, set *gauges.Set, sitting *desk.Sitting, begin func(hand.Config) (*hand.Hand, []ledger.Damage, error)) (*held, []ledger.Damage, error) {
	n, lost, err := begin(hand.Config{
		Ledger: h.ledger, AtOnce: true, Watches: true, Now: h.now, Gauges: set, Sitting: sitting, Known: hand.Known(h.bench, in, hand.Earlier(h.ledger, t)),
		Changed: func() { h.note(in.ID) },
	})
	if err != nil {
		set.Close()
		return nil, nil, err
	}
	kept := &held{Hand: n, set: set, sitting: sitting}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.hands[in.ID] = kept
	h.happened()
	for _, g := range set.Open {
		h.serve(g.Name, in.ID)
	}
	return kept, lost, nil
}

// serves returns the inspection that a gauge serves, or served before the recorder was started anew; "" for none.
func (h *hub) serves(gauge string) string {
	h.mu.Lock()
	defer h.mu.Unlock()
	for id, n := range h.hands {
		if n.has(gauge) {
			return id
		}
	}
	return h.served(gauge)
}

// has says whether a gauge serves an inspection in hand.
func (n *held) has(gauge string) bool {
	return slices.ContainsFunc(n.set.Open, func(g *gauges.Wired) bool { return g.Name == gauge })
}

// bring brings the gauges that are there to an inspection: another that they serve goes on without them, where it is.
func (h *hub) bring(id string) error {
	h.turn.Lock()
	defer h.turn.Unlock()
	if h.hand(id) == nil {
		return errNotInHand
	}
	h.moving.Lock()
	defer h.moving.Unlock()
	for _, other := range h.inHand() {
		if other != id && len(h.hand(other).set.Open) > 0 {
			if err := h.again(other, func() *gauges.Set { return &gauges.Set{ByEye: h.byEye()} }, "The gauges were brought to "+id+". Here readings are typed."); err != nil {
				return err
			}
		}
	}
	return h.again(id, func() *gauges.Set {
		set, _ := h.gauges(func(string) string { return "" })
		return set
	}, "The gauges are here now. If one was moved, see that it still shows what it showed.")
}

// again puts an inspection down and takes it up where it was, with other gauges. The caller holds both locks of moving.
func (h *hub) again(id string, open func() *gauges.Set, tell string) error {
	was := h.hand(id)
	err := was.PutDown()
	was.set.Close()
	h.mu.Lock()
	delete(h.hands, id)
	h.mu.Unlock()
	if err != nil {
		return err
	}
	in, t, err := h.opened(id)
	if err != nil {
		return err
	}
	kept, _, err := h.hold(in, t, open(), was.sitting, func(c hand.Config) (*hand.Hand, []ledger.Damage, error) { return hand.TakeUp(c, id) })
	if err != nil {
		return err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	kept.said, kept.typed = was.said, was.typed
	h.say(kept, tell, false)
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
	h.moving.Lock()
	defer h.moving.Unlock()
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

// stop lets go of an inspection; it can be taken up again. Its gauges are free.
func (h *hub) stop(id string) error {
	n := h.hand(id)
	if n == nil {
		return errNotInHand
	}
	err := h.putDown(id)
	h.free(n)
	return err
}

// free notes that the gauges of an inspection serve nothing any more.
func (h *hub) free(n *held) {
	for _, g := range n.set.Open {
		h.serve(g.Name, "")
	}
	h.wake()
}

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
	return h.stop(id)
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
	return h.stop(id)
}

// do gives the desk of an inspection an event, if it still asks the question of this ticket; "" is whatever it asks. What it
// refuses is an error.
func (h *hub) do(id, of string, e desk.Event) error {
	h.moving.RLock()
	defer h.moving.RUnlock()
	n := h.hand(id)
	switch {
	case n == nil:
		return errNotInHand
	case of != "" && n.Prompt().Ticket != of:
		return errAnswered
	}
	n.Do(e)
	if refused := n.Prompt().Refused; refused != "" {
		return refusal(refused)
	}
	return nil
}

// refusal is what the desk said when it did not take something.
type refusal string

func (r refusal) Error() string { return string(r) }

// line gives it a line, as a hand at a keyboard would.
func (h *hub) line(id, of, text string) error {
	return h.do(id, of, desk.Line{At: h.now(), Text: text, Of: of})
}

// read gives it a reading that was typed. One that is refused stays in its field.
func (h *hub) read(id, of, text string) error {
	err := h.line(id, of, text)
	h.mu.Lock()
	defer h.mu.Unlock()
	if n := h.hands[id]; n != nil {
		n.typed = ""
		if errors.As(err, new(refusal)) {
			n.typed = text
			h.happened()
		}
	}
	return err
}

// again asks a reading again that stands somewhere on the page, by its name.
func (h *hub) askAgain(id, name string) error {
	n := h.hand(id)
	if n == nil {
		return errNotInHand
	}
	for _, row := range n.Rows() {
		for _, q := range row.Boxes {
			if q != (desk.Question{}) && questionKey(q) == name {
				return h.do(id, "", desk.Again{At: h.now(), Of: q})
			}
		}
	}
	return errAnswered
}

// questionKey names a question in a form.
func questionKey(q desk.Question) string {
	switch {
	case q.Sight != "":
		return "sights"
	case q.Ground:
		return "ground"
	}
	return q.Key.String()
}

// take the last answer back and ask for it again.
func (h *hub) retake(id, of string) error {
	return h.do(id, of, desk.Key{At: h.now(), Key: desk.Backspace})
}

// look takes the answer to what is looked for: the form's fields as the line that a hand would type.
func (h *hub) look(id, of string, clear bool, seen []string, field func(name, n string) string) error {
	for i, sight := range words.SightsAsked() {
		n := strconv.Itoa(i + 1)
		described := slices.ContainsFunc([]string{"length", "flute", "note"}, func(name string) bool { return strings.TrimSpace(field(name, n)) != "" })
		switch ticked := slices.Contains(seen, n); {
		case clear && ticked:
			return refusal(fmt.Sprintf("Nothing is recorded: all clear, and %s seen. Record what you see, or tap Seen at %s once more if it was a slip.", sight.Name, sight.Name))
		case described && !ticked:
			return refusal(fmt.Sprintf("Nothing is recorded: %s is described, and Seen is not tapped. Tap Seen at %s, or empty what is typed there.", sight.Name, sight.Name))
		}
	}
	if clear {
		return h.line(id, of, "c")
	}
	var parts []string
	for _, n := range seen {
		part := n
		if l := strings.TrimSpace(field("length", n)); l != "" {
			part += " " + l
		}
		if f := strings.TrimSpace(field("flute", n)); f != "" {
			part += " f" + f
		}
		if note := strings.TrimSpace(strings.ReplaceAll(field("note", n), ";", ",")); note != "" {
			part += " " + note
		}
		parts = append(parts, part)
	}
	if parts == nil {
		return refusal("Say what you see, or that you looked for all of it and saw none: all clear.")
	}
	return h.line(id, of, strings.Join(parts, "; "))
}

// leaveOut leaves a question out, or all that are left of its feature.
func (h *hub) leaveOut(id, of, reason string, rest bool) error {
	reason = strings.TrimSpace(reason)
	if rest {
		reason = "all " + reason
	}
	return h.line(id, of, "s "+reason)
}
