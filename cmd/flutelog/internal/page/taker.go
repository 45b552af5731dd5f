package page

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect/session"
)

// showEvery is how often, at the most, what a stream shows is passed on to viewers.
const showEvery = 50 * time.Millisecond

// taker takes the readings of one gauge of the inspection in hand.
type taker struct {
	*gauges.Gauge
	hub   *hub
	hand  *hand
	wants chan session.Question // what a stream or a polled gauge is to be read for
	goOn  chan struct{}         // the person has seen to the gauge

	// The hub's mutex guards the rest.
	shown   string // what a stream shows
	shownAt time.Time
	trouble string // why the gauge waits for the person
	gone    bool
}

// startTakers starts to listen to the gauges of an inspection. The caller holds the mutex.
func (h *hub) startTakers(ctx context.Context, n *hand) {
	for _, g := range n.set.Open {
		t := &taker{Gauge: g, hub: h, hand: n, wants: make(chan session.Question, 1), goOn: make(chan struct{}, 1)}
		n.takers = append(n.takers, t)
		n.running.Go(func() { t.run(ctx) })
	}
	n.running.Go(func() { h.tellEvents(ctx, n) })
}

// tellEvents says what happens at the gauges. Silence matters only while a gauge is being waited for.
func (h *hub) tellEvents(ctx context.Context, n *hand) {
	for {
		select {
		case <-ctx.Done():
			return
		case e := <-n.set.Events:
			h.mu.Lock()
			if q, asked := n.session.Next(); e.Kind != device.Silence || asked && n.taker(q) != nil {
				h.say(e.String(), false)
			}
			h.mu.Unlock()
		}
	}
}

// taker returns the taker of the gauge that a question is read with, nil for none.
func (n *hand) taker(q session.Question) *taker {
	if q.Sight != "" {
		return nil
	}
	g := n.set.Of(q.Key.Feature)
	for _, t := range n.takers {
		if t.Gauge == g {
			return t
		}
	}
	return nil
}

func (t *taker) run(ctx context.Context) {
	for ctx.Err() == nil {
		q, err := t.wanted(ctx)
		var f device.Frame
		if err == nil {
			f, err = t.Gauge.Take(ctx)
		}
		switch {
		case ctx.Err() != nil:
			return
		case err == nil:
			t.give(q, f)
		case errors.Is(err, io.EOF), errors.Is(err, device.ErrClosed):
			t.leave(err)
			return
		case t.Holds(err):
			t.wait(ctx, err)
		default:
			t.sayNotRecorded(err)
		}
	}
}

// wanted waits until a reading is to be taken. A gauge with its own button gives one at any time, for whatever is
// asked then; of the others the person asks for one, and while nobody does, a stream is shown.
func (t *taker) wanted(ctx context.Context) (*session.Question, error) {
	switch t.Mode {
	case device.Button:
		return nil, nil
	case device.Stream:
		return t.show(ctx)
	}
	select {
	case q := <-t.wants:
		return &q, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// show passes on what a stream shows, until a reading of it is wanted.
func (t *taker) show(ctx context.Context) (*session.Question, error) {
	sweep, cancel := context.WithCancel(ctx)
	defer cancel()
	asked := make(chan session.Question, 1)
	go func() {
		defer close(asked)
		select {
		case q := <-t.wants:
			asked <- q
			cancel()
		case <-sweep.Done():
		}
	}()
	err := t.Gauge.Sweep(sweep, t.shows)
	cancel()
	if q, ok := <-asked; ok {
		return &q, nil
	}
	if errors.Is(err, device.ErrTimeout) || errors.Is(err, device.ErrFlood) {
		t.showsNothing(err)
		return t.show(ctx)
	}
	return nil, err
}

// shows passes on one frame of a stream.
func (t *taker) shows(f device.Frame) error {
	t.hub.mu.Lock()
	defer t.hub.mu.Unlock()
	if f.At.Sub(t.shownAt) >= showEvery {
		t.shown, t.shownAt = f.Text+" "+string(f.Unit), f.At
		t.hub.happened()
	}
	return nil
}

func (t *taker) showsNothing(err error) {
	t.hub.mu.Lock()
	defer t.hub.mu.Unlock()
	if text := err.Error(); t.shown != text {
		t.shown = text
		t.hub.happened()
	}
}

// give records a frame as the answer to the question it was taken for, nil for whatever is asked now. A frame
// that answers nothing is said, never kept for a later question.
func (t *taker) give(wanted *session.Question, f device.Frame) {
	h := t.hub
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.hand != t.hand {
		return
	}
	q, asked := t.hand.session.Next()
	if !asked || t.hand.taker(q) != t || wanted != nil && *wanted != q {
		h.say(fmt.Sprintf("NOT RECORDED: %s %s came from %s when it was not asked for.", f.Text, f.Unit, t.Name), false)
		return
	}
	if err := h.record(t.hand, q, t.Name, f); err != nil {
		h.say(err.Error(), false)
	}
}

func (t *taker) sayNotRecorded(err error) {
	t.hub.mu.Lock()
	defer t.hub.mu.Unlock()
	t.hub.say(fmt.Sprintf("NOT RECORDED: %v", err), false)
}

// leave says that the gauge gives nothing more.
func (t *taker) leave(err error) {
	t.hub.mu.Lock()
	defer t.hub.mu.Unlock()
	t.gone = true
	t.hub.say(fmt.Sprintf("%v. Its readings are typed.", err), false)
}

// wait holds the gauge until the person has seen to it.
func (t *taker) wait(ctx context.Context, trouble error) {
	select {
	case <-t.goOn: // pressed twice the last time
	default:
	}
	t.setTrouble(trouble.Error())
	select {
	case <-t.goOn:
	case <-ctx.Done():
		return
	}
	t.setTrouble("waiting until " + t.Name + " is back")
	err := t.Gauge.Confirm(ctx)
	t.setTrouble("")
	if err != nil && ctx.Err() == nil {
		t.sayNotRecorded(err)
	}
}

func (t *taker) setTrouble(text string) {
	t.hub.mu.Lock()
	defer t.hub.mu.Unlock()
	t.trouble = text
	if text != "" {
		t.hub.say(text, false)
		return
	}
	t.hub.say("Going on with "+t.Name+".", false)
}

// want asks the gauge of the question in hand for a reading.
func (h *hub) want(id, of string) error {
	return h.act(id, of, func(n *hand, q session.Question) error {
		t := n.taker(q)
		if t == nil || t.Mode == device.Button || t.gone {
			return errors.New("there is no gauge to ask; type the reading")
		}
		select {
		case t.wants <- q:
		default: // it is being read already
		}
		return nil
	})
}

// seenTo says that the person has seen to the gauge of the question in hand.
func (h *hub) seenTo(id, of string) error {
	return h.act(id, of, func(n *hand, q session.Question) error {
		t := n.taker(q)
		if t == nil || t.trouble == "" {
			return errors.New("no gauge is waiting")
		}
		select {
		case t.goOn <- struct{}{}:
		default:
		}
		return nil
	})
}

// how says what the person does to take a reading.
func (t *taker) how() string {
	switch {
	case t == nil || t.gone:
		return "Type the reading."
	case t.Mode == device.Button:
		return "Press the button of " + t.Name + ", or type the reading."
	}
	return "Read " + t.Name + ", or type the reading."
}
