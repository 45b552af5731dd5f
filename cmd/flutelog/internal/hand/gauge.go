package hand

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// How often, at the most, is passed on what a stream shows, and how many values of a sweep came.
const (
	showEvery  = 50 * time.Millisecond
	countEvery = 250 * time.Millisecond
)

// taker takes the readings of one gauge: whatever it sends becomes an event of the desk.
type taker struct {
	*gauges.Wired
	wants chan struct{} // a reading of a stream or a polled gauge
	goOn  chan struct{} // the person has seen to the gauge
	swept chan sweepAsk
}

// sweepAsk is a sweep that was begun.
type sweepAsk struct {
	ctx    context.Context
	ended  chan error
	frames *[]device.Frame
}

// listen begins to listen to the gauges. What they send comes as events until the inspection leaves the hand.
func (h *Hand) listen() {
	if h.Gauges == nil {
		return
	}
	for _, g := range h.Gauges.Open {
		t := &taker{Wired: g, wants: make(chan struct{}, 1), goOn: make(chan struct{}, 1), swept: make(chan sweepAsk)}
		h.takers = append(h.takers, t)
		h.wg.Go(func() { h.run(t) })
	}
	if h.Gauges.Events != nil {
		h.wg.Go(h.tellEvents)
	}
}

// tellEvents passes on what happens at the gauges beside their readings.
func (h *Hand) tellEvents() {
	for {
		select {
		case <-h.ctx.Done():
			return
		case e := <-h.Gauges.Events:
			at := e.At
			if at.IsZero() {
				at = h.Now()
			}
			fault := desk.Fault{At: at, Gauge: e.Gauge, Count: e.Count}
			switch e.Kind {
			case device.Disconnected:
				h.Do(desk.Plug{At: at, Gauge: e.Gauge})
				continue
			case device.Reconnected:
				h.Do(desk.Plug{At: at, Gauge: e.Gauge, In: true})
				continue
			case device.Duplicate:
				fault.What = desk.Bounced
			case device.LateAnswer, device.Dropped:
				fault.What = desk.Late
			case device.Rejected:
				fault = faultOf(e.Gauge, at, e.Err)
			default:
				continue // silence the desk tells by its own clock
			}
			h.Do(fault)
		}
	}
}

// faultOf is what a gauge sent that is no reading, or why nothing came.
func faultOf(gauge string, at time.Time, err error) desk.Fault {
	f := desk.Fault{At: at, Gauge: gauge, What: desk.Garbled}
	var refused *device.Refused
	if errors.As(err, &refused) {
		f.Raw = refused.Raw
		if !refused.At.IsZero() {
			f.At = refused.At
		}
	}
	for _, w := range []struct {
		err  error
		what desk.Trouble
	}{
		{device.ErrLowBattery, desk.LowBattery}, {device.ErrOverRange, desk.OutOfRange}, {device.ErrTooSoon, desk.TwoNumbers},
		{device.ErrStuck, desk.Stuck}, {device.ErrFlood, desk.Flood}, {device.ErrTimeout, desk.Silent},
		{device.ErrDisconnected, desk.Unplugged}, {device.ErrClosed, desk.Gone}, {io.EOF, desk.Gone},
	} {
		if errors.Is(err, w.err) {
			f.What = w.what
			return f
		}
	}
	if errors.Is(err, device.ErrUnit) && refused != nil {
		if f.Text, f.Unit = shownIn(refused.Raw); f.Unit != length.None {
			f.What = desk.SwitchedUnit
			f.Value, _ = length.ParsePlain(f.Text, f.Unit)
		}
	}
	return f
}

// shownIn finds a number and a unit in what a gauge sent in a unit that its table does not take.
func shownIn(raw string) (string, length.Unit) {
	end := strings.LastIndexAny(raw, "0123456789")
	if end < 0 {
		return "", length.None
	}
	begin := end
	for begin > 0 && strings.ContainsRune("0123456789.+-", rune(raw[begin-1])) {
		begin--
	}
	word := strings.ToLower(strings.TrimLeft(raw[end+1:], " \t,;"))
	for _, unit := range []length.Unit{length.Mm, length.In, length.Um} {
		if strings.HasPrefix(word, string(unit)) {
			return raw[begin : end+1], unit
		}
	}
	return "", length.None
}

// run takes the readings of one gauge.
func (h *Hand) run(t *taker) {
	for h.ctx.Err() == nil {
		if !h.wanted(t) {
			return
		}
		f, err := t.Take(h.ctx)
		switch {
		case h.ctx.Err() != nil:
			return
		case err == nil:
			h.Do(desk.Frame{At: f.At, Gauge: t.Name, Raw: f.Raw, Text: f.Text, Unit: f.Unit, Value: f.Value})
		case errors.Is(err, io.EOF), errors.Is(err, device.ErrClosed):
			h.Do(faultOf(t.Name, h.Now(), err))
			return
		case t.Holds(err):
			h.Do(faultOf(t.Name, h.Now(), err))
			select {
			case <-t.goOn:
			case <-h.ctx.Done():
				return
			}
			if err := t.Confirm(h.ctx); err != nil && h.ctx.Err() == nil {
				h.Do(faultOf(t.Name, h.Now(), err))
			}
		default:
			h.Do(faultOf(t.Name, h.Now(), err))
		}
	}
}

// wanted waits until a reading is to be taken; false when the inspection leaves the hand. A gauge with its own button gives
// one at any time. Of the others the person asks for one, and while nobody does, a stream is shown.
func (h *Hand) wanted(t *taker) bool {
	switch t.Mode {
	case device.Button:
		return true
	case device.Stream:
		return h.showStream(t)
	}
	select {
	case <-t.wants:
		return true
	case <-h.ctx.Done():
		return false
	}
}

// showStream passes on what a stream shows, until a reading of it is wanted.
func (h *Hand) showStream(t *taker) bool {
	for {
		ctx, cancel := context.WithCancel(h.ctx)
		asked, swept := make(chan bool, 1), make(chan sweepAsk, 1)
		go func() {
			select {
			case <-t.wants:
				asked <- true
				cancel()
			case s := <-t.swept:
				swept <- s
				cancel()
			case <-ctx.Done():
			}
		}()
		var shown time.Time
		err := t.Sweep(ctx, nil, func(f device.Frame) error {
			if f.At.Sub(shown) >= showEvery {
				shown = f.At
				h.Do(desk.Shown{At: f.At, Gauge: t.Name, Text: f.Text + " " + string(f.Unit)})
			}
			return nil
		})
		cancel()
		select {
		case <-asked:
			return true
		case s := <-swept:
			s.ended <- h.takeSweep(t, s)
			continue
		default:
		}
		if h.ctx.Err() != nil {
			return false
		}
		if errors.Is(err, device.ErrTimeout) || errors.Is(err, device.ErrFlood) {
			h.Do(desk.Shown{At: h.Now(), Gauge: t.Name, Text: "nothing comes"})
			continue
		}
		return true // Take says what is the matter
	}
}

// takeSweep takes the values of a sweep until it ends, and passes on that it has begun and how many came.
func (h *Hand) takeSweep(t *taker, s sweepAsk) error {
	ctx, cancel := context.WithCancel(s.ctx)
	begun := make(chan struct{})
	var came atomic.Int64
	var counting sync.WaitGroup
	defer counting.Wait()
	defer cancel()
	counting.Go(func() {
		tick := time.NewTicker(countEvery)
		defer tick.Stop()
		told := int64(-1)
		for next := (<-chan struct{})(begun); ; {
			select {
			case <-ctx.Done():
				return
			case <-next:
				next = nil
			case <-tick.C:
			}
			if n := came.Load(); next == nil && n != told {
				told = n
				values := map[bool]string{true: "value", false: "values"}[n == 1]
				h.Do(desk.Shown{At: h.Now(), Gauge: t.Name, Text: fmt.Sprintf("%d %s so far", n, values)})
			}
		}
	})
	return t.Sweep(s.ctx, func() { close(begun) }, func(f device.Frame) error {
		if len(*s.frames) == mostSwept {
			return fmt.Errorf("more than %d values came; end the sweep with Enter", mostSwept)
		}
		*s.frames = append(*s.frames, f)
		came.Add(1)
		return nil
	})
}

func (h *Hand) taker(name string) *taker {
	for _, t := range h.takers {
		if t.Name == name {
			return t
		}
	}
	return nil
}

func (h *Hand) askGauge(name string) {
	if t := h.taker(name); t != nil {
		select {
		case t.wants <- struct{}{}:
		default: // it is being read already
		}
	}
}

func (h *Hand) seenTo(name string) {
	if t := h.taker(name); t != nil {
		select {
		case t.goOn <- struct{}{}:
		default:
		}
	}
}

// sweeping is a sweep that is being taken.
type sweeping struct {
	of     inspect.Key
	taker  *taker
	cancel context.CancelFunc
	ended  chan error
	frames []device.Frame
}

const (
	mostSwept  = 50_000  // values of a sweep that nobody ends
	mostTraced = 600_000 // bytes of the traces of one inspection, so that the record that holds them stays within a line of the ledger
)

// beginSweep begins to take a stream. The caller holds the mutex.
func (h *Hand) beginSweep(e desk.Sweep) error {
	t := h.taker(e.Gauge)
	if t == nil {
		return fmt.Errorf("%s is not there: put its plug back, or type the heights", e.Gauge)
	}
	ctx, cancel := context.WithCancel(h.ctx)
	s := &sweeping{of: e.Of, taker: t, cancel: cancel, ended: make(chan error, 1)}
	h.sweep = s
	h.wg.Go(func() {
		select {
		case t.swept <- sweepAsk{ctx, s.ended, &s.frames}:
		case <-ctx.Done():
			s.ended <- nil
		}
	})
	return nil
}

// endSweep ends a sweep, and unless it is dropped works out what it came to. The caller holds the mutex.
func (h *Hand) endSweep(drop bool) {
	s := h.sweep
	h.sweep = nil
	if s == nil {
		return
	}
	s.cancel()
	if drop {
		return
	}
	h.wg.Go(func() {
		swept := desk.Swept{}
		if err := <-s.ended; err != nil && h.ctx.Err() == nil {
			swept.Why = err.Error()
		} else {
			h.mu.Lock()
			swept = h.worked(s)
			h.mu.Unlock()
		}
		swept.At = h.Now()
		h.Do(swept)
	})
}

// worked works out what a trace comes to, and keeps it. The caller holds the mutex.
func (h *Hand) worked(s *sweeping) desk.Swept {
	why := func(format string, args ...any) desk.Swept { return desk.Swept{Why: fmt.Sprintf(format, args...)} }
	if len(s.frames) == 0 {
		return why("nothing came from %s while the tool was turned", s.taker.Name)
	}
	first := s.frames[0]
	var values []length.Length
	var millimetres []string
	for _, f := range s.frames {
		if f.Unit != first.Unit {
			return why("%s changed its unit from %s to %s", s.taker.Name, first.Unit, f.Unit)
		}
		values = append(values, f.Value)
		millimetres = append(millimetres, strings.TrimSuffix(f.Value.String(), "mm"))
	}
	trace := strings.Join(millimetres, " ")
	if h.w.Traced+len(trace) > mostTraced {
		return why("with this sweep the traces of the inspection are more than a record holds; turn fewer times round, or read flute by flute")
	}
	backward := h.desk.Plan().Backward
	read, err := geometry.Sweep{Flutes: h.w.Inspection.Tool.Flutes, Backwards: backward, Resolution: first.Resolution}.Read(values)
	if err != nil {
		return why("%v", err)
	}
	if err := h.w.Write(record.Event{What: "sweep", At: stamp(h.Now()), Sweep: &record.Sweep{
		Of: s.of, Gauge: s.taker.Name, Unit: first.Unit, Resolution: first.Resolution, Backward: backward, Trace: trace}}); err != nil {
		return why("%v", err)
	}
	_, fraction, _ := strings.Cut(strings.Replace(first.Text, ",", ".", 1), ".")
	var swept desk.Swept
	for i, height := range read.Heights {
		text := height.Format(first.Unit, len(fraction))
		value, err := length.ParsePlain(text, first.Unit)
		if err != nil {
			return why("%v", err)
		}
		k := s.of
		k.Flute = i + 1
		r := inspect.Reading{Feature: k.Feature, Flute: k.Flute, Repeat: k.Repeat, Value: value, Text: text, Unit: first.Unit, Gauge: s.taker.Name, At: stamp(s.frames[len(s.frames)-1].At)}
		if k.Stated {
			from := k.FromEnd
			r.FromEnd = &from
		}
		swept.Readings = append(swept.Readings, r)
		swept.Tell = append(swept.Tell, fmt.Sprintf("flute %d: %s, %d turns within %s", i+1, text, read.Passes[i], read.Spread[i].Format(first.Unit, len(fraction)+1)))
	}
	return swept
}
