// Package device reads gauges: it opens a line, cuts its bytes into frames, and makes of each frame an exact
// length or a refusal that says why. It knows serial gauges, recordings and a practice gauge;
// what a reading is for, it does not know.
//
// To use it alone: describe the gauge in a [Profile], choose what opens its line ([OpenSerial], the Open of a [Recording] or of a
// [Practice]), and give both to [New]. [Gauge.Take] waits for one reading, [Gauge.Sweep] takes all that a stream sends. A frame that is no
// reading is an error that says why, a [Refused], and the next Take goes on; an unplugged line gives [ErrDisconnected] until [Gauge.Confirm]
// says that a person has looked. [Listen] shows what a gauge of which nothing is known sends, and advises a profile. [Record] keeps the
// traffic of a line, so that [ReadRecording] plays it later.
//
// Any goroutine may ask; one Take, Sweep or Confirm is served at a time, in order.
package device

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"sync/atomic"
	"time"
)

// What Take returns when there is no frame; a frame that is refused comes as a *Refused.
var (
	// ErrTimeout: a stream or an answer stayed away for the profile's timeout.
	ErrTimeout = errors.New("no answer")
	// ErrDisconnected: the line has gone away since the last reading. Take returns it until Confirm.
	ErrDisconnected = errors.New("the gauge was disconnected; check its setting on the master before going on")
	// ErrStuck: the last readings are equal and the gauge was not seen to move. Take returns it until Confirm.
	ErrStuck = errors.New("the gauge shows the same value again and again; move the contact and see that the digits change")
	// ErrFlood: frames came faster than they were taken, or than a hand presses a button. In button mode Take
	// returns it until Confirm.
	ErrFlood = errors.New("frames come faster than they are taken")
	// ErrClosed: the gauge was closed.
	ErrClosed = errors.New("the gauge is closed")
)

const (
	readEvery  = 20 * time.Millisecond  // how long one read of the line waits
	gapTime    = 500 * time.Millisecond // a frame that pauses so long has broken off
	firstRetry = 100 * time.Millisecond // reopening: first wait,
	lastRetry  = 2 * time.Second        // and the longest
	pressed    = 16                     // presses kept until they are taken
	streamed   = 4096                   // frames kept in a sweep until they are taken,
	floodWait  = 500 * time.Millisecond // and how long the line then goes unread before the sweep ends
	drainQuiet = 2 * time.Millisecond   // a line that brings nothing for so long is drained,
	drainTime  = 100 * time.Millisecond // and one that never pauses, when it is read empty after so long
	drainMost  = 128 << 10              // or has given more bytes than a system's serial buffers hold
)

// Counts says what a gauge has sent since it was opened.
type Counts struct {
	Frames     int64 // good frames, taken or not
	Refused    int64 // frames refused
	Duplicates int64 // identical frames dropped in button mode
}

// Gauge takes readings from one gauge. Its methods may be called from any goroutine; one Take, Sweep or
// Confirm is served at a time, in order.
type Gauge struct {
	profile Profile
	decoder *Decoder
	open    Opener

	asks    chan *ask
	closing chan struct{}
	once    sync.Once
	done    chan struct{}
	// Why the reader ended, and how closing the line went; read only after done.
	err, closeErr error

	frames, refused, duplicates atomic.Int64

	// What follows belongs to the reader goroutine, which alone reads, writes and closes the line.
	teller  *teller
	line    line
	split   splitter
	watch   watch
	ask     *ask      // what is being served
	queue   []Frame   // presses not taken yet
	held    error     // why Take waits for Confirm
	now     time.Time // of the last read
	heard   time.Time // of the last read that brought bytes
	stalled bool
	late    time.Time // until when an answer to an earlier request may still come
}

// New opens a gauge's line and starts to read it. tell gets each event as it happens, from the reading
// goroutine: it must be quick and must not call the gauge; nil for nobody. New returns what is wrong with the
// profile or why the line does not open.
func New(open Opener, p Profile, tell func(Event)) (*Gauge, error) {
	decoder, err := NewDecoder(p)
	if err != nil {
		return nil, err
	}
	p = p.WithDefaults()
	g := &Gauge{
		profile: p,
		decoder: decoder,
		open:    open,
		asks:    make(chan *ask),
		closing: make(chan struct{}),
		done:    make(chan struct{}),
		teller:  newTeller(tell),
		watch:   watch{profile: p},
		now:     time.Now(),
	}
	g.split = splitter{end: []byte(p.FrameEnd), emit: g.frame}
	if err := g.connect(); err != nil {
		return nil, fmt.Errorf("opening gauge %q: %w", p.Name, err)
	}
	go g.run()
	return g, nil
}

// Take returns the next reading: in button mode the next press not taken yet, in stream mode the next frame
// that begins after the call, in poll mode the answer to a request. It waits for ctx at most. Besides the errors
// above and *Refused it returns io.EOF at the end of a recording. A frame refused while no Take waits comes
// as an event.
func (g *Gauge) Take(ctx context.Context) (Frame, error) {
	f, err := g.submit(&ask{ctx: ctx, kind: takeOne, reply: make(chan answer)})
	if err != nil {
		return Frame{}, fmt.Errorf("reading gauge %q: %w", g.profile.Name, err)
	}
	return f, nil
}

// Confirm says that the person has seen to the gauge and goes on. After ErrDisconnected it waits until the line is
// open again, for ctx at most. What the gauge sent before is dropped.
func (g *Gauge) Confirm(ctx context.Context) error {
	_, err := g.submit(&ask{ctx: ctx, kind: confirm, reply: make(chan answer)})
	if err != nil {
		return fmt.Errorf("going on with gauge %q: %w", g.profile.Name, err)
	}
	return nil
}

// Sweep gives each frame of a stream to f, in order, none twice, until ctx ends, and then returns nil: a tool
// turned by hand under the contact. Begun, where it is not nil, is called once the frames that come count; it must be quick.
// Sweep returns the first error of f, ErrTimeout when the stream stops, ErrFlood when f is so slow that frames are lost.
// Refused frames come as events.
func (g *Gauge) Sweep(ctx context.Context, begun func(), f func(Frame) error) error {
	if g.profile.Take != Stream {
		return fmt.Errorf("sweeping gauge %q: it takes by %s; a sweep needs a stream", g.profile.Name, g.profile.Take)
	}
	inner, cancel := context.WithCancel(ctx)
	defer cancel()
	a := &ask{ctx: inner, kind: sweep, reply: make(chan answer), begun: begun, frames: make(chan Frame, streamed)}
	ended := make(chan error, 1)
	go func() {
		_, err := g.submit(a)
		ended <- err
	}()
	for {
		select {
		case frame := <-a.frames:
			if err := f(frame); err != nil {
				return err
			}
		case err := <-ended:
			if ctx.Err() != nil {
				return nil
			}
			for len(a.frames) > 0 { // the reader sends no more
				if err := f(<-a.frames); err != nil {
					return err
				}
			}
			return fmt.Errorf("sweeping gauge %q: %w", g.profile.Name, err)
		}
	}
}

// Counts returns what the gauge has sent so far.
func (g *Gauge) Counts() Counts {
	return Counts{Frames: g.frames.Load(), Refused: g.refused.Load(), Duplicates: g.duplicates.Load()}
}

// Close ends the reading and closes the line.
func (g *Gauge) Close() error {
	g.once.Do(func() { close(g.closing) })
	<-g.done
	return g.closeErr
}

type askKind int

const (
	takeOne askKind = iota
	sweep
	confirm
)

// ask is what a caller wants of the reader goroutine. The reply is given only while the caller waits for it, so
// that no frame is lost when ctx ends.
type ask struct {
	ctx      context.Context
	kind     askKind
	reply    chan answer
	begun    func()     // for a sweep; may be nil
	frames   chan Frame // likewise
	armed    bool       // frames from now on count
	deadline time.Time
}

type answer struct {
	frame Frame
	err   error
}

func (g *Gauge) submit(a *ask) (Frame, error) {
	select {
	case g.asks <- a:
	case <-a.ctx.Done():
		return Frame{}, a.ctx.Err()
	case <-g.done:
		return Frame{}, g.err
	}
	select {
	case r := <-a.reply:
		return r.frame, r.err
	case <-a.ctx.Done():
		return Frame{}, a.ctx.Err()
	case <-g.done:
		return Frame{}, g.err
	}
}

// run reads until the gauge is closed, and reopens the line when it goes away.
func (g *Gauge) run() {
	defer close(g.done)
	for g.err == nil {
		err := g.serve()
		closeErr := g.line.Close()
		switch {
		case errors.Is(err, ErrClosed):
			g.err, g.closeErr = err, closeErr
		case errors.Is(err, io.EOF):
			g.closeErr = closeErr
			g.serveEnd()
			g.err = ErrClosed
		default: // closing a line that has gone away may fail too: no news
			g.disconnected(err)
			g.err = g.reopen()
		}
	}
}

func (g *Gauge) connect() error {
	rwc, err := g.open()
	if err != nil {
		return err
	}
	g.line = withTimeout(rwc)
	if err := g.line.SetReadTimeout(readEvery); err != nil {
		g.line.Close()
		return err
	}
	g.split.restart(g.profile.Take == Stream)
	return nil
}

// serve reads the line until it fails or the gauge is closed.
func (g *Gauge) serve() error {
	if g.ask != nil { // a Confirm that waited for the line
		if err := g.goOn(); err != nil {
			return err
		}
	}
	buf := make([]byte, 4096)
	for {
		if err := g.nextAsk(); err != nil {
			return err
		}
		if _, err := g.read(buf); err != nil {
			return err
		}
		g.tick()
	}
}

// read reads once, and takes the frames that the bytes end.
func (g *Gauge) read(buf []byte) (n int, err error) {
	n, err = g.line.Read(buf)
	g.now = time.Now()
	if n > 0 {
		g.heard, g.stalled = g.now, false
		g.split.feed(buf[:n])
	}
	return n, err
}

// nextAsk forgets an ask whose caller has gone and takes up the next.
func (g *Gauge) nextAsk() error {
	if g.ask != nil && g.ask.ctx.Err() != nil {
		if g.profile.Take == Poll && g.ask.armed { // an answer already asked for is late from now on
			g.late = g.now.Add(time.Duration(g.profile.Timeout))
		}
		g.ask = nil
	}
	asks := g.asks
	if g.ask != nil {
		asks = nil
	}
	select {
	case a := <-asks:
		return g.begin(a)
	case <-g.closing:
		return ErrClosed
	default:
		return nil
	}
}

func (g *Gauge) begin(a *ask) error {
	g.ask = a
	switch {
	case a.kind == confirm:
		return g.goOn()
	case g.held != nil:
		g.answer(Frame{}, g.held)
	case g.profile.Take == Button:
		a.armed, a.deadline = true, g.now.Add(time.Duration(g.profile.Timeout))
		g.giveQueued()
	case g.profile.Take == Poll && g.now.Before(g.late):
		a.deadline = g.late
	default:
		return g.arm()
	}
	return nil
}

// goOn ends what Take was held for.
func (g *Gauge) goOn() error {
	if err := g.drain(); err != nil {
		return err
	}
	g.held = nil
	g.watch.restart()
	g.answer(Frame{}, nil)
	return nil
}

// arm drops all that came before and makes what comes from now on count.
func (g *Gauge) arm() error {
	a := g.ask
	if err := g.drain(); err != nil {
		return err
	}
	g.late = time.Time{}
	a.armed, a.deadline = true, g.now.Add(time.Duration(g.profile.Timeout))
	if a.begun != nil {
		a.begun()
	}
	if g.profile.Take != Poll {
		return nil
	}
	_, err := g.line.Write([]byte(g.profile.Request))
	return err
}

// drain reads away what the line holds already.
func (g *Gauge) drain() error {
	a := g.ask
	g.ask = nil
	defer func() { g.ask = a }()
	if err := g.line.SetReadTimeout(drainQuiet); err != nil {
		return err
	}
	began, drained := time.Now(), 0
	for buf := make([]byte, 4096); drained < drainMost; {
		n, err := g.read(buf)
		if err != nil {
			return err
		}
		drained += n
		if n == 0 || n < len(buf) && g.now.Sub(began) > drainTime {
			break
		}
	}
	g.split.stale()
	return g.line.SetReadTimeout(readEvery)
}

// answer replies to the ask and ends it. It returns false if the caller has gone.
func (g *Gauge) answer(f Frame, err error) bool {
	a := g.ask
	g.ask = nil
	select {
	case a.reply <- answer{f, err}:
		return true
	case <-a.ctx.Done():
		return false
	}
}

// tick looks at what has not come.
func (g *Gauge) tick() {
	if len(g.split.held) > 0 && !g.stalled && g.now.Sub(g.heard) > gapTime {
		g.stalled = true
		g.split.broken(ErrUnfinished)
	}
	a := g.ask
	if a == nil || g.now.Before(a.deadline) {
		return
	}
	timeout := time.Duration(g.profile.Timeout)
	switch {
	case !a.armed:
		if err := g.arm(); err != nil {
			return // the next read says the same
		}
	case g.profile.Take == Button:
		a.deadline = g.now.Add(timeout)
		g.event(Silence, nil, fmt.Sprintf("nothing from gauge %q for %v", g.profile.Name, timeout))
	default:
		if g.profile.Take == Poll {
			g.late = g.now.Add(timeout)
		}
		g.answer(Frame{}, fmt.Errorf("%w in %v", ErrTimeout, timeout))
	}
}

func (g *Gauge) event(kind EventKind, err error, text string) {
	g.teller.event(Event{Kind: kind, At: g.now, Text: text, Err: err})
}

// disconnected tells that the line went away, and holds Take until the person confirms.
func (g *Gauge) disconnected(err error) {
	g.event(Disconnected, err, fmt.Sprintf("gauge %q is disconnected: %v", g.profile.Name, err))
	g.hold(ErrDisconnected)
}

// hold makes every Take return why until the person confirms, beginning with the one that waits.
func (g *Gauge) hold(why error) {
	g.held = why
	if n := len(g.queue); n > 0 {
		g.event(Dropped, nil, fmt.Sprintf("gauge %q: %d presses not taken yet are dropped", g.profile.Name, n))
	}
	g.queue = nil
	if g.ask != nil && g.ask.kind != confirm {
		g.answer(Frame{}, why)
	}
}

// reopen tries to open the line again, at longer and longer intervals.
func (g *Gauge) reopen() error {
	said := ""
	for wait := firstRetry; ; wait = min(2*wait, lastRetry) {
		if err := g.waitAway(wait); err != nil {
			return err
		}
		err := g.connect()
		g.now = time.Now()
		if err == nil {
			break
		}
		if err.Error() != said {
			said = err.Error()
			g.event(StillAway, err, fmt.Sprintf("gauge %q is still away: %v", g.profile.Name, err))
		}
	}
	g.event(Reconnected, nil, fmt.Sprintf("gauge %q is back", g.profile.Name))
	return nil
}

// waitAway waits and answers asks meanwhile; one that confirms is kept until the line is back.
func (g *Gauge) waitAway(wait time.Duration) error {
	timer := time.NewTimer(wait)
	defer timer.Stop()
	for {
		if g.ask != nil && g.ask.ctx.Err() != nil {
			g.ask = nil
		}
		asks, gone := g.asks, (<-chan struct{})(nil)
		if g.ask != nil {
			asks, gone = nil, g.ask.ctx.Done()
		}
		select {
		case <-timer.C:
			return nil
		case <-g.closing:
			return ErrClosed
		case <-gone:
		case g.ask = <-asks:
			if g.ask.kind != confirm {
				g.answer(Frame{}, ErrDisconnected)
			}
		}
	}
}

// serveEnd gives out what is left after the end of a recording, then io.EOF, until the gauge is closed.
func (g *Gauge) serveEnd() {
	if len(g.split.held) > 0 {
		g.split.broken(ErrUnfinished)
	}
	for {
		if g.ask != nil && g.ask.kind == takeOne {
			g.giveQueued()
		}
		if g.ask != nil {
			g.answer(Frame{}, io.EOF)
		}
		select {
		case g.ask = <-g.asks:
		case <-g.closing:
			return
		}
	}
}
