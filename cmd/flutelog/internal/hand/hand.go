// Package hand is the inspection in hand: a desk with its disk, its gauges and its clock. The terminal and the bench page
// both speak through it; what one of them does, the other sees.
package hand

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// Settles is how long a fresh screen takes no bare Enter: one that was on its way was meant for the screen before.
const Settles = 250 * time.Millisecond

// Config is what an inspection in hand works with.
type Config struct {
	Ledger   *ledger.Ledger
	Now      func() time.Time
	Gauges   *gauges.Set                             // nil is none
	Known    desk.Known                              // of the tool and the bench
	Sitting  *desk.Sitting                           // what was said at this sitting already; nil begins one
	Said     string                                  // what is told beside the first question
	DropBy   inspect.DropBy                          // how drops are read from here on; "" is as the inspection has it
	Over     length.Length                           // and over which distance; 0 likewise
	Settle   time.Duration                           // how long a fresh screen takes no bare Enter
	Sweeps   bool                                    // run-out is read by turning the tool under a stream
	Signers  []string                                // who may sign; none is anyone
	Sign     func(inspection, who, pin string) error // nil: nothing is signed here
	Tell     func(inspect.Inspection, inspect.Judgement) desk.Answer
	Recorder *desk.Recorder // nil records nothing
	AtOnce   bool           // that it begins is recorded before its first answer, so that other devices find it
	Watches  bool           // what other devices and processes do to the tool is told
	Changed  func()         // something changed that a person may see; it must be quick, and must not call the hand
}

// Hand is an inspection in hand. Its methods may be called from any goroutine.
type Hand struct {
	Config
	ctx    context.Context
	cancel context.CancelFunc
	wg     sync.WaitGroup

	mu      sync.Mutex
	desk    *desk.Desk
	w       *record.Writer
	takers  []*taker
	timer   *time.Timer
	outcome Outcome
	closed  ledger.Record
	judged  inspect.Judgement
	err     error
	done    chan struct{}
	ended   bool
	sweep   *sweeping

	study   *studyFile // in place of w, of a study
	studied *desk.Study
	studyOf inspect.Inspection
}

// Outcome is how an inspection left the hand.
type Outcome struct {
	Stopped bool            // it can be taken up again, where anything was recorded
	Nothing bool            // was recorded
	Closed  bool            // it was judged and closed
	Next    inspect.Stage   // the inspection that follows at once; "" for none
	ReadOn  *inspect.Judged // that the next one goes on with: only what it left open is asked
	Shows   []desk.Shows
}

// Begin takes a new inspection in hand, with what it carries of an earlier one. Unless it is to be found by other devices at once,
// nothing of it is recorded before its first answer. Its id must be set.
func Begin(c Config, in inspect.Inspection, p desk.Plan) (*Hand, error) {
	if err := p.Check(in.Tool); err != nil {
		return nil, fmt.Errorf("inspecting %s: %w", in.Tool.ID, err)
	}
	readings, seen := in.Readings, in.Seen
	in.Readings, in.Seen = nil, nil
	var carried []record.Event
	for _, s := range seen {
		carried = append(carried, record.Event{What: "seen", At: stamp(c.Now()), Seen: &s})
	}
	for _, r := range readings {
		carried = append(carried, record.Event{What: "reading", Reading: &r})
	}
	w, err := record.Begin(c.Ledger, in, p, c.Now, carried...)
	if err == nil && c.AtOnce {
		err = w.Open()
	}
	if err != nil {
		return nil, err
	}
	h := &Hand{Config: c, w: w}
	h.start(p)
	return h, nil
}

// TakeUp goes on with an inspection that was stopped or cut off. Lost are the lines of its draft that cannot be read any more.
func TakeUp(c Config, inspection string) (h *Hand, lost []ledger.Damage, err error) {
	var p desk.Plan
	w, lost, err := record.Resume(c.Ledger, inspection, &p, c.Now)
	if err != nil {
		return nil, nil, err
	}
	if err := p.Check(w.Inspection.Tool); err != nil {
		return nil, nil, errors.Join(fmt.Errorf("taking up %s: %w", inspection, err), w.Release())
	}
	h = &Hand{Config: c, w: w}
	h.start(p)
	return h, lost, nil
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000Z") }

// start puts the desk up and begins to listen to the gauges.
func (h *Hand) start(p desk.Plan) {
	h.ctx, h.cancel = context.WithCancel(context.Background())
	h.done = make(chan struct{})
	in := h.studyOf
	var skipped []desk.Skipped
	var given []desk.Given
	told := false
	if h.w != nil {
		in, told = h.w.Inspection, h.w.Told
		for _, a := range h.w.Answers() {
			given = append(given, desk.Given{Of: desk.Question(a.Question), At: a.At})
		}
		for _, s := range h.w.Skipped {
			skipped = append(skipped, desk.Skipped{Question: desk.Question(s.Question), Reason: s.Reason})
		}
	}
	h.desk = desk.New(desk.Start{
		Inspection: in, Skipped: skipped, Told: told, Given: given, Said: h.Said, Study: h.studied, Plan: p, Known: h.Known, Gauges: h.deskGauges(), Sitting: h.Sitting, Settle: h.Settle, At: h.Now(),
		DropBy: h.DropBy, Over: h.Over,
	})
	if h.Sweeps {
		h.desk.Sweeps()
	}
	h.timer = time.AfterFunc(time.Hour, func() { h.Do(desk.Clock{At: h.Now()}) })
	h.wake()
	h.listen()
	if h.Watches && h.w != nil {
		inspection, tool := in.ID, in.Tool.ID
		known := h.locks(tool) // before anybody can lock it unseen
		h.wg.Go(func() { h.watch(inspection, tool, known) })
	}
}

// wake sets the timer for when the desk wants to be told the time. The caller holds the mutex, or is alone.
func (h *Hand) wake() {
	h.timer.Stop()
	if at := h.desk.Wake(); !at.IsZero() {
		h.timer.Reset(max(at.Sub(h.Now()), time.Millisecond))
	}
}

// Do gives the desk an event, and does what it wants done.
func (h *Hand) Do(e desk.Event) {
	h.mu.Lock()
	h.do(e)
	h.mu.Unlock()
	if h.Changed != nil {
		h.Changed()
	}
}

func (h *Hand) do(e desk.Event) {
	if h.ended {
		return
	}
	if h.Recorder != nil {
		if err := h.Recorder.Record(h.desk, e); err != nil {
			h.Recorder = nil // a recording that cannot be written must not stop the work
		}
	}
	h.desk.Run(e, h.effect)
	if h.desk.Ended() {
		h.end()
		return
	}
	h.wake()
}

// effect does one thing that the desk wants done. The caller holds the mutex.
func (h *Hand) effect(e desk.Effect) error {
	if h.study != nil {
		switch e := e.(type) {
		case desk.Keep:
			return h.study.keep(e)
		case desk.Close:
			h.outcome.Closed = true
			h.end()
			return nil
		case desk.Stop:
			h.outcome.Stopped = !h.outcome.Closed
			return nil
		}
	}
	switch e := e.(type) {
	case desk.Keep:
		return h.keep(e)
	case desk.Lock:
		return h.w.Lock(e.Seen, e.By, stamp(e.At))
	case desk.Ask:
		h.askGauge(e.Gauge)
	case desk.SeenTo:
		h.seenTo(e.Gauge)
	case desk.Sweep:
		return h.beginSweep(e)
	case desk.EndSweep:
		h.endSweep(e.Drop)
	case desk.Close:
		return h.close()
	case desk.Stop:
		h.outcome.Stopped, h.outcome.Nothing = true, !h.w.Recorded()
		return h.w.Release()
	case desk.Next:
		h.outcome.Next = e.Stage
		if h.judged.Calls(inspect.ReadOn) {
			h.outcome.ReadOn = &inspect.Judged{Inspection: h.w.Inspection, Judgement: h.judged}
		}
	case desk.Show:
		h.outcome.Shows = append(h.outcome.Shows, e.What)
	case desk.Sign:
		signed := desk.Signed{At: h.Now(), Who: e.Who}
		if h.Sign == nil {
			signed.Why = "nothing is signed here"
		} else if err := h.Sign(h.w.Inspection.ID, e.Who, e.PIN); err != nil {
			signed.Why = err.Error()
		}
		h.later(signed)
	}
	return nil
}

// later gives the desk an event once those in hand are done.
func (h *Hand) later(e desk.Event) { h.wg.Go(func() { h.Do(e) }) }

// keep writes one line of the draft, and returns once it is on disk.
func (h *Hand) keep(k desk.Keep) error {
	q, at := record.Question(k.Question), stamp(k.At)
	switch k.What {
	case desk.Read:
		return h.w.Write(record.Event{What: "reading", Reading: k.Reading, By: k.By})
	case desk.Saw:
		return h.w.Saw(*k.Seen, k.By, at)
	case desk.TakenBack:
		return h.w.TakeBack(q, k.Reason, k.By, at)
	case desk.LeftOut:
		return h.w.Skip(q, k.Reason, k.By, at)
	case desk.Ground:
		return h.w.Ground(*k.Ground, k.By, at)
	case desk.Noted:
		_, err := record.RecordNote(h.Ledger, h.w.Inspection.Tool.ID, record.Note{Text: k.Text, By: k.By, At: at})
		return err
	}
	return fmt.Errorf("%s: nothing that is kept", k.What)
}

// close judges the inspection and records what it came to.
func (h *Hand) close() error {
	j, closed, err := h.w.Close()
	if err != nil {
		return err
	}
	h.judged, h.closed, h.outcome.Closed = j, closed, true
	answer := desk.Answer{Headline: "closed"}
	if h.Tell != nil {
		answer = h.Tell(h.w.Inspection, h.judged)
	}
	h.later(desk.Closed{At: h.Now(), ID: h.w.Inspection.ID, Answer: answer})
	return nil
}

// Discard closes an inspection as given up, for a reason that is kept with what was read.
func (h *Hand) Discard(reason string) (ledger.Record, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	r, err := h.w.Discard(reason)
	if err != nil {
		return r, err
	}
	h.outcome.Closed = true
	h.end()
	return r, nil
}

// end lets the gauges go. The caller holds the mutex.
func (h *Hand) end() {
	if h.ended {
		return
	}
	h.ended = true
	h.timer.Stop()
	h.cancel()
	close(h.done)
}

// Recorded says whether anything of the inspection is recorded.
func (h *Hand) Recorded() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.w.Recorded()
}

// Done is closed when the inspection has left the hand.
func (h *Hand) Done() <-chan struct{} { return h.done }

// Wait waits for the gauges to be let go, after Done, and returns how the inspection left the hand.
func (h *Hand) Wait() Outcome {
	<-h.done
	h.wg.Wait()
	return h.outcome
}

// PutDown lets go of the inspection; it can be taken up again.
func (h *Hand) PutDown() error {
	h.mu.Lock()
	if !h.ended {
		h.outcome.Stopped = !h.outcome.Closed
		if !h.outcome.Closed && h.w != nil {
			h.err = h.w.Release()
		}
		h.end()
	}
	h.mu.Unlock()
	h.wg.Wait()
	if h.study != nil {
		return errors.Join(h.err, h.study.f.Close())
	}
	return h.err
}

// Prompt returns what a person sees now.
func (h *Hand) Prompt() desk.Prompt {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.desk.Prompt()
}

// Inspection returns the inspection as it stands, and what is asked of it; false when nothing is.
func (h *Hand) Inspection() (inspect.Inspection, desk.Question, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	q, asked := h.desk.Asked()
	return h.desk.Inspection(), q, asked
}

// Plan returns what is asked.
func (h *Hand) Plan() desk.Plan {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.desk.Plan()
}

// Rows returns everything that was asked, as it stands.
func (h *Hand) Rows() []desk.Row {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.desk.Rows()
}

// SoFar says how far it is: of what its stage requires, and on disk. "" is not begun.
func (h *Hand) SoFar() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	in := h.desk.Inspection()
	n := len(in.Readings) + len(in.Seen)
	if n == 0 && h.study != nil {
		return ""
	}
	done, of := h.desk.Counted()
	answers := "answers"
	if n == 1 {
		answers = "answer"
	}
	return fmt.Sprintf("%d of %d read, %d %s on disk", done, of, n, answers)
}

// Closed returns what the inspection came to, with the record of its close; false while it is open.
func (h *Hand) Closed() (inspect.Inspection, inspect.Judgement, ledger.Record, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.w.Inspection, h.judged, h.closed, h.outcome.Closed
}

// Shows returns what the person asked to be shown since it was last asked.
func (h *Hand) Shows() []desk.Shows {
	h.mu.Lock()
	defer h.mu.Unlock()
	shows := h.outcome.Shows
	h.outcome.Shows = nil
	return shows
}

// pastDue is how many days a calibration is past its date.
func pastDue(due string, now time.Time) int {
	t, err := time.Parse(time.DateOnly, due)
	if err != nil {
		return 0
	}
	return max(int(now.Sub(t).Hours()/24), 0)
}

// unitOf is the unit that a gauge is read in at the bench.
func unitOf(u length.Unit) length.Unit {
	if u.Metric() {
		return length.Mm
	}
	return length.In
}

// deskGauges are the gauges as the desk sees them: those with a line, and those whose readings are typed.
func (h *Hand) deskGauges() []desk.Device {
	if h.Gauges == nil {
		return nil
	}
	var all []desk.Device
	for _, g := range h.Gauges.Open {
		all = append(all, desk.Device{Name: g.Name, Mode: desk.Mode(g.Mode), Features: g.Features, Resolution: g.Resolution, Unit: unitOf(g.Unit), PastDue: pastDue(g.Due, h.Now()), Practice: g.Practice})
	}
	for _, g := range h.Gauges.ByEye {
		if !slices.ContainsFunc(all, func(o desk.Device) bool { return o.Name == g.Name }) {
			all = append(all, desk.Device{Name: g.Name, Features: g.Reading(), Resolution: g.Resolution, Unit: unitOf(g.Unit), ByEye: true})
		}
	}
	return all
}
