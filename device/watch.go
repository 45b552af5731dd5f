package device

import (
	"errors"
	"fmt"
	"time"

	"flutelog/inspect/length"
)

// watch knows what a gauge sent before, and sees from it what one frame cannot show.
type watch struct {
	profile  Profile
	last     string // the last frame, good or not
	lastAt   time.Time
	rushed   int                 // frames in a row that came too soon
	decimals map[length.Unit]int // of the first frame in each unit
	taken    string              // the last reading taken
	equal    int                 // readings equal to it, itself included
	moved    bool                // another frame was seen since
}

// rushedMost is the number of different frames in a row, each within the quiet time of the one before, that are no
// longer a restless hand but a gauge that sends all the time.
const rushedMost = 3

// bounce says, in button mode, whether raw is the same press again, or another reading so soon after the last
// that one hand cannot have meant both.
func (w *watch) bounce(raw string, at time.Time) (again bool, err error) {
	soon := w.last != "" && at.Sub(w.lastAt) < time.Duration(w.profile.QuietTime)
	again = soon && raw == w.last
	w.last, w.lastAt = raw, at
	switch {
	case again:
		return true, nil
	case !soon:
		w.rushed = 0
		return false, nil
	}
	if w.rushed++; w.rushed >= rushedMost {
		return false, fmt.Errorf("%w: a hand does not press so often; a gauge that sends all the time is taken by stream", ErrFlood)
	}
	return false, fmt.Errorf("%w of %v: keep the contact still and press once", ErrTooSoon, w.profile.QuietTime)
}

// sameDecimals refuses a frame with other decimals than the first had: a character lost on the line, or a gauge
// without a unit in its frames switched from one unit to the other.
func (w *watch) sameDecimals(f Frame) error {
	n := decimalsOf(f.Text)
	if w.decimals == nil {
		w.decimals = map[length.Unit]int{}
	}
	first, known := w.decimals[f.Unit]
	if !known {
		w.decimals[f.Unit] = n
		return nil
	}
	if n != first {
		return fmt.Errorf("%w from %d to %d: see whether the gauge was switched to another unit", ErrDecimals, first, n)
	}
	return nil
}

// equalWith returns how many readings in a row are equal if f is taken too, without another value seen between.
func (w *watch) equalWith(f Frame) int {
	if f.Raw != w.taken || w.moved {
		return 1
	}
	return w.equal + 1
}

// take notes a reading taken.
func (w *watch) take(f Frame) {
	w.equal = w.equalWith(f)
	w.taken, w.moved = f.Raw, false
}

// pass notes a frame that nobody takes.
func (w *watch) pass(f Frame) { w.moved = w.moved || f.Raw != w.taken }

// restart forgets the readings taken, but not the decimals: a unit switched while the line was away is still
// a unit switched.
func (w *watch) restart() { w.taken, w.equal, w.moved, w.last, w.rushed = "", 0, false, "", 0 }

// frame takes one frame from the splitter. tail says that it began before it could count.
func (g *Gauge) frame(raw []byte, tail bool, err error) {
	switch {
	case err != nil:
		g.refuse(&Refused{Raw: string(raw), At: g.now, Err: err})
		return
	case tail && g.profile.Take == Stream:
		return
	case tail:
		g.refuseUnasked(&Refused{Raw: string(raw), At: g.now, Err: ErrUnfinished})
		return
	}
	if g.profile.Take == Button {
		again, err := g.watch.bounce(string(raw), g.now)
		if again {
			g.duplicates.Add(1)
			g.event(Duplicate, nil, fmt.Sprintf("gauge %q sent %q twice within %v: taken once", g.profile.Name, raw, g.profile.QuietTime))
			return
		}
		if errors.Is(err, ErrFlood) {
			g.hold(err)
		}
		if err != nil {
			g.refuse(&Refused{Raw: string(raw), At: g.now, Err: err})
			return
		}
	}
	f, err := g.decoder.Decode(raw, g.now)
	if err == nil {
		if err = g.watch.sameDecimals(f); err != nil {
			err = &Refused{Raw: f.Raw, At: f.At, Err: err}
		}
	}
	if err != nil {
		g.refuse(err)
		return
	}
	g.good(f)
}

// refuse gives a refusal to who waits for a frame, or tells it as an event.
func (g *Gauge) refuse(err error) {
	if a := g.ask; a != nil && a.armed && a.kind == takeOne {
		g.refused.Add(1)
		if g.profile.Take == Poll && garbled(err) {
			g.late = g.now.Add(time.Duration(g.profile.Timeout)) // the answer itself may still come
		}
		g.answer(Frame{}, err)
		return
	}
	g.refuseUnasked(err)
}

// garbled says whether what was refused may have been noise, not what the gauge meant to say.
func garbled(err error) bool {
	for _, why := range []error{ErrNoMatch, ErrTooLong, ErrUnfinished, ErrDecimals, ErrNumber} {
		if errors.Is(err, why) {
			return true
		}
	}
	return false
}

func (g *Gauge) refuseUnasked(err error) {
	g.refused.Add(1)
	g.event(Rejected, err, fmt.Sprintf("gauge %q: %v", g.profile.Name, err))
}

// good takes a frame that is a reading if somebody asked for it.
func (g *Gauge) good(f Frame) {
	if g.frames.Add(1) == 1 && g.profile.Resolution == 0 {
		g.event(ResolutionSeen, nil, fmt.Sprintf("gauge %q: resolution taken from the decimals seen: %s %s", g.profile.Name, f.Resolution.Format(f.Unit, decimalsOf(f.Text)), f.Unit))
	}
	a := g.ask
	switch {
	case g.profile.Take == Button:
		g.press(f)
	case a != nil && a.armed && a.kind == sweep:
		g.stream(f)
	case a != nil && a.armed:
		g.give(f)
	case g.profile.Take == Poll: // nobody waits: it answers a request that timed out, or is one of two to the same
		g.event(LateAnswer, nil, fmt.Sprintf("gauge %q: %q came when nothing was asked: not taken", g.profile.Name, f.Raw))
		if g.ask != nil {
			g.ask.deadline = g.now // the late answer is here: what is waiting need not wait longer
		}
	default:
		g.watch.pass(f)
	}
}

// give answers a Take with f, unless it shows the gauge to be stuck. It returns false if f was not taken.
func (g *Gauge) give(f Frame) bool {
	if n := g.watch.equalWith(f); n >= g.profile.StuckAfter {
		g.hold(fmt.Errorf("%w: %d times %s", ErrStuck, n, f.Text))
		return false
	}
	given := g.answer(f, nil)
	if given {
		g.watch.take(f)
	}
	return given
}

// press keeps a press until it is taken.
func (g *Gauge) press(f Frame) {
	if g.held != nil {
		return
	}
	if len(g.queue) >= pressed {
		g.hold(fmt.Errorf("%w: %d presses were not taken", ErrFlood, pressed+1))
		return
	}
	g.queue = append(g.queue, f)
	if g.ask != nil {
		g.giveQueued()
	}
}

// giveQueued answers a Take with the oldest press. One that shows the gauge to be stuck is told by that, not as dropped.
func (g *Gauge) giveQueued() {
	if len(g.queue) == 0 {
		return
	}
	f := g.queue[0]
	g.queue = g.queue[1:]
	if !g.give(f) && g.held == nil {
		g.queue = append([]Frame{f}, g.queue...) // whom it was for has gone; the next Take gets it
	}
}

// stream hands a frame to a sweep.
func (g *Gauge) stream(f Frame) {
	g.watch.pass(f)
	a := g.ask
	a.deadline = g.now.Add(time.Duration(g.profile.Timeout))
	select {
	case a.frames <- f:
		return
	default:
	}
	select {
	case a.frames <- f:
	case <-a.ctx.Done():
	case <-time.After(floodWait):
		g.answer(Frame{}, ErrFlood)
	}
}
