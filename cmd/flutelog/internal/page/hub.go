package page

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"strings"
	"sync"
	"time"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/session"
)

var (
	errNotInHand = errors.New("this inspection is not in hand any more")
	errAnswered  = errors.New("that question was dealt with meanwhile; look at what is asked now")
	errBusy      = errors.New("another inspection is in hand; stop or close that one first")
)

// hub holds the inspection in hand: a bench has one set of gauges and one tool under them at a time. Everything
// a viewer or a gauge does comes through it, and every viewer sees what it holds.
type hub struct {
	ledger *ledger.Ledger
	bench  *bench.File
	unit   length.Unit
	now    func() time.Time
	gauges func() (*gauges.Set, []error) // opens the gauges that are there
	known  map[string]inspect.Instrument // gauges beside those of the bench file

	turn sync.Mutex // held over taking in hand and putting down, which wait for gauges

	mu      sync.Mutex
	hand    *hand
	seq     uint64        // counts what happened
	changed chan struct{} // closed when something happens
}

// hand is the inspection in hand with its gauges. The hub's mutex guards it.
type hand struct {
	id      string
	session *session.Session
	typed   *device.Decoder
	set     *gauges.Set
	takers  []*taker
	cancel  context.CancelFunc
	running sync.WaitGroup

	last *inspect.Reading // the last one recorded
	said []line
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
	return &hub{ledger: c.Ledger, bench: c.Bench, unit: c.Unit, now: c.Now, gauges: c.gauges, known: c.known(), changed: make(chan struct{})}
}

// happened wakes every viewer. The caller holds the mutex.
func (h *hub) happened() {
	h.seq++
	close(h.changed)
	h.changed = make(chan struct{})
}

// watch returns the number of what happened last, and a channel that closes when more does.
func (h *hub) watch() (uint64, <-chan struct{}) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.seq, h.changed
}

// say tells everybody who watches. The caller holds the mutex.
func (h *hub) say(text string, recorded bool) {
	h.happened()
	if h.hand == nil {
		return
	}
	h.hand.said = append(h.hand.said, line{h.seq, text, recorded})
	if n := len(h.hand.said); n > mostSaid {
		h.hand.said = h.hand.said[n-mostSaid:]
	}
}

// inHand returns the id of the inspection in hand, "" for none.
func (h *hub) inHand() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.hand == nil {
		return ""
	}
	return h.hand.id
}

// begin opens an inspection of a tool and takes it in hand.
func (h *hub) begin(t inspect.Tool, c bench.Choices) (id string, err error) {
	h.turn.Lock()
	defer h.turn.Unlock()
	if h.inHand() != "" {
		return "", errBusy
	}
	in, plan, err := h.prepare(t, c)
	if err != nil {
		return "", err
	}
	open, _ := record.Open(h.ledger)
	for _, o := range open {
		if o.Inspection.Tool.ID == t.ID {
			return "", fmt.Errorf("inspection %s of this tool is still open; go on with it or give it up", o.Inspection.ID)
		}
	}
	if in.ID, err = record.NextID(h.ledger, t.ID); err != nil {
		return "", err
	}
	s, err := session.Begin(h.ledger, in, plan, h.now)
	if err != nil {
		return "", err
	}
	return in.ID, h.take(s, nil)
}

// prepare puts together what is inspected, with all that the ledger knows of the gauges and the job.
func (h *hub) prepare(t inspect.Tool, c bench.Choices) (inspect.Inspection, session.Plan, error) {
	in, plan, err := h.bench.Inspection(t, c)
	if err != nil {
		return in, plan, err
	}
	maps.Copy(in.Basis.Gauges, h.known)
	if err := record.UseStudies(h.ledger, in.Basis.Gauges); err != nil {
		return in, plan, err
	}
	return in, plan, session.ForJob(h.ledger, in, &plan)
}

// takeUp goes on with an inspection that was stopped or cut off.
func (h *hub) takeUp(id string) error {
	h.turn.Lock()
	defer h.turn.Unlock()
	switch h.inHand() {
	case id:
		return nil
	case "":
	default:
		return errBusy
	}
	s, lost, err := session.Resume(h.ledger, id, h.now)
	if err != nil {
		return err
	}
	return h.take(s, lost)
}

// take takes a session in hand and opens the gauges. A gauge that does not open is said; its readings are typed.
func (h *hub) take(s *session.Session, lost []ledger.Damage) error {
	in := s.Inspection()
	typed, err := device.NewDecoder(gauges.Typed(cmp.Or(in.Basis.Unit, h.unit)))
	if err != nil {
		return errors.Join(err, s.Release())
	}
	set, troubles := h.gauges()
	ctx, cancel := context.WithCancel(context.Background())
	n := &hand{id: in.ID, session: s, typed: typed, set: set, cancel: cancel}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.hand = n
	done, of := s.Progress()
	h.say(fmt.Sprintf("%s in hand: %d of %d are answered and on disk.", in.ID, done, of), false)
	for _, d := range lost {
		h.say(fmt.Sprintf("Damaged, and read as missing: %s.", d), false)
	}
	for _, err := range troubles {
		h.say(fmt.Sprintf("%v. Its readings are typed.", err), false)
	}
	h.startTakers(ctx, n)
	return nil
}

// putDown ends the inspection in hand by end, which sees it with the mutex held, and lets its gauges go. Where
// end fails the inspection stays in hand.
func (h *hub) putDown(id string, end func(*session.Session) error) error {
	h.turn.Lock()
	defer h.turn.Unlock()
	h.mu.Lock()
	n := h.hand
	if n == nil || n.id != id {
		h.mu.Unlock()
		return errNotInHand
	}
	if err := end(n.session); err != nil {
		h.mu.Unlock()
		return err
	}
	h.hand = nil
	h.happened()
	h.mu.Unlock()
	n.cancel()
	n.running.Wait()
	n.set.Close()
	return nil
}

// stop lets go of an inspection; it can be taken up again.
func (h *hub) stop(id string) error { return h.putDown(id, (*session.Session).Release) }

// close judges an inspection of which everything is answered, and records it.
func (h *hub) close(id string) error {
	return h.putDown(id, func(s *session.Session) error {
		if _, asked := s.Next(); asked {
			return errors.New("something is still asked; answer it, or leave it out with the reason")
		}
		_, _, err := s.Close()
		return err
	})
}

// discard gives an inspection up, for a reason that is kept.
func (h *hub) discard(id, reason string) error {
	return h.putDown(id, func(s *session.Session) error {
		_, err := s.Discard(reason)
		return err
	})
}

// ticket names a question in a form, so that an answer never goes to another one. What is asked when
// nothing is has a ticket too.
func ticket(q session.Question, asked bool) string {
	if !asked {
		return "nothing"
	}
	return cmp.Or(string(q.Sight), q.Key.String())
}

// act does something to the inspection in hand, if it is the one of this id and still asks the question of
// this ticket.
func (h *hub) act(id, of string, do func(*hand, session.Question) error) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.hand == nil || h.hand.id != id {
		return errNotInHand
	}
	q, asked := h.hand.session.Next()
	if ticket(q, asked) != of {
		return errAnswered
	}
	return do(h.hand, q)
}

// record takes a frame as the answer to a question. The caller holds the mutex.
func (h *hub) record(n *hand, q session.Question, gauge string, f device.Frame) error {
	r := gauges.Reading(q, gauge, f)
	if err := n.session.Record(r); err != nil {
		return fmt.Errorf("NOT RECORDED: %w", err)
	}
	n.last = &r
	h.say(fmt.Sprintf("Recorded %s %s: %s. %s", f.Text, f.Unit, q.Text(h.unit), n.next(h.unit)), true)
	return nil
}

// next says what is asked now.
func (n *hand) next(unit length.Unit) string {
	if q, asked := n.session.Next(); asked {
		return "Now: " + q.Text(unit)
	}
	return "Nothing is left to ask."
}

// read takes a typed reading.
func (h *hub) read(id, of, text string) error {
	return h.act(id, of, func(n *hand, q session.Question) error {
		if q.Sight != "" || of == ticket(q, false) {
			return errAnswered
		}
		f, err := n.typed.Decode([]byte(text), h.now())
		if err != nil {
			return fmt.Errorf("NOT RECORDED: %w", err)
		}
		return h.record(n, q, n.set.TypedAs(q.Key.Feature), f)
	})
}

// look takes the answer to a visual question.
func (h *hub) look(id, of string, yes bool, note string) error {
	return h.act(id, of, func(n *hand, q session.Question) error {
		if err := n.session.See(inspect.Seen{Sight: q.Sight, Yes: yes, Note: strings.TrimSpace(note)}); err != nil {
			return err
		}
		h.say(fmt.Sprintf("Recorded %s: %s. %s", yesNo(yes), q.Sight.Question(), n.next(h.unit)), true)
		return nil
	})
}

// retake takes the last answer back and asks for it again.
func (h *hub) retake(id, of string) error {
	return h.act(id, of, func(n *hand, _ session.Question) error {
		q, ok, err := n.session.Retake()
		if err != nil {
			return err
		}
		if !ok {
			return errors.New("nothing to take back yet")
		}
		n.last = nil
		h.say("Taken back: "+q.Text(h.unit)+". "+n.next(h.unit), false)
		return nil
	})
}

// back goes one question back; its answer stands until another replaces it.
func (h *hub) back(id, of string) error {
	return h.act(id, of, func(n *hand, _ session.Question) error {
		if !n.session.Back() {
			return errors.New("this is the first question")
		}
		h.say("One question back. "+n.next(h.unit), false)
		return nil
	})
}

// keep leaves the answer that stands, after going back, and goes on.
func (h *hub) keep(id, of string) error {
	return h.act(id, of, func(n *hand, _ session.Question) error {
		if !n.session.Keep() {
			return errors.New("there is no answer to keep")
		}
		h.say("Kept as it was. "+n.next(h.unit), false)
		return nil
	})
}

// skip leaves a question out, or all that are left of its feature.
func (h *hub) skip(id, of, reason string, rest bool) error {
	return h.act(id, of, func(n *hand, q session.Question) error {
		skip := n.session.Skip
		if rest {
			skip = n.session.SkipRest
		}
		if err := skip(q, strings.TrimSpace(reason)); err != nil {
			return err
		}
		h.say("Left out: "+q.Text(h.unit)+". "+n.next(h.unit), false)
		return nil
	})
}
