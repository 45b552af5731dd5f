package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"flutelog/cmd/flutelog/internal/cautions"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/session"
)

// errStopped says that the person stopped the inspection; it can be taken up again.
var errStopped = errors.New("stopped")

// bell is what a terminal rings when a reading is on disk.
const bell = "\a"

// indicatingCautions stand before the first reading that brings a hand near the machine.
var indicatingCautions = cautionText("CAUTION", cautions.Indicating)

const keysHelp = `  r     take the last reading back and read it again
  b     go one question back
  s WHY leave this out, with the reason
  f WHY leave out the rest of this feature, with the reason
  q     stop; what is read is kept, and the inspection can be taken up again
  ?     this list
`

// conversation asks a session's questions at a terminal and takes the answers from gauges and keyboard.
type conversation struct {
	s      *session.Session
	out    io.Writer // where prompts go
	unit   length.Unit
	keys   *keyboard
	typed  *device.Decoder // of what is typed
	gauges *gauges.Set
	warned bool // the cautions were shown
}

// run asks until nothing is left to ask. It returns errStopped when the person stops.
func (c *conversation) run(ctx context.Context) error {
	for {
		q, ok := c.s.Next()
		if !ok {
			return nil
		}
		if err := c.ask(ctx, q); err != nil {
			return err
		}
	}
}

func (c *conversation) ask(ctx context.Context, q session.Question) error {
	c.prompt(q)
	if q.Sight != "" {
		return c.look(q)
	}
	if g := c.gauges.Of(q.Key.Feature); g != nil {
		return c.fromGauge(ctx, q, g)
	}
	return c.fromKeyboard(q)
}

func (c *conversation) prompt(q session.Question) {
	if q.Sight == "" && !c.warned {
		c.warned = true
		fmt.Fprint(c.out, "\n"+indicatingCautions)
	}
	done, of := c.s.Progress()
	fmt.Fprintf(c.out, "\n[%d of %d] %s\n", done+1, of, q.Text(c.unit))
	how := "type the reading"
	if q.Sight != "" {
		how = "y or n, and a note if you like"
	} else if g := c.gauges.Of(q.Key.Feature); g != nil {
		how = howToTake(g)
	}
	fmt.Fprintf(c.out, "%s (? for help) > ", how)
}

// look takes the answer to a visual question.
func (c *conversation) look(q session.Question) error {
	for {
		e := <-c.keys.entries
		answer, note, _ := strings.Cut(strings.TrimSpace(e.line), " ")
		switch yes := strings.ToLower(answer); {
		case e.key == 0 && e.err == nil && (yes == "y" || yes == "yes" || yes == "n" || yes == "no"):
			if err := c.s.See(inspect.Seen{Sight: q.Sight, Yes: yes[0] == 'y', Note: strings.TrimSpace(note)}); err != nil {
				return err
			}
			fmt.Fprint(c.out, "recorded\n")
			return nil
		default:
			if done, err := c.act(e, q); done {
				return err
			}
		}
	}
}

// fromKeyboard takes a typed reading, or one from a gauge that types.
func (c *conversation) fromKeyboard(q session.Question) error {
	for {
		e := <-c.keys.entries
		if done, err := c.enter(e, q); done {
			return err
		}
	}
}

// enter takes one entry from the keyboard: a reading, or something to do.
func (c *conversation) enter(e entry, q session.Question) (done bool, err error) {
	if e.err == nil && e.key == 0 && startsNumber(e.line) {
		f, err := c.typed.Decode([]byte(e.line), time.Now())
		if err != nil {
			c.again(err)
			return false, nil
		}
		return c.record(q, c.gauges.TypedAs(q.Key.Feature), f)
	}
	return c.act(e, q)
}

func startsNumber(line string) bool {
	line = strings.TrimSpace(line)
	return line != "" && strings.ContainsAny(line[:1], "+-.,0123456789")
}

// record takes a frame as the answer to a question; a reading that cannot be is said and asked for again.
func (c *conversation) record(q session.Question, gauge string, f device.Frame) (done bool, err error) {
	r := gauges.Reading(q, gauge, f)
	if err := r.Check(c.s.Inspection().Tool); err != nil {
		c.again(err)
		return false, nil
	}
	if err := c.s.Record(r); err != nil {
		return true, err
	}
	fmt.Fprintf(c.out, "%srecorded %s %s\n", bell, f.Text, f.Unit)
	return true, nil
}

func (c *conversation) again(err error) { notRecorded(c.out, err) }

// notRecorded says why a reading was not taken; the question stands.
func notRecorded(out io.Writer, err error) { fmt.Fprintf(out, "\nNOT RECORDED: %v\n> ", err) }

// act does what a key or a word asks for. done says that the question has been dealt with.
func (c *conversation) act(e entry, q session.Question) (done bool, err error) {
	word, reason, _ := strings.Cut(strings.TrimSpace(e.line), " ")
	switch {
	case e.err != nil || word == "q" && e.key == 0:
		return true, errStopped
	case e.key == 'r':
		return c.retake()
	case e.key == 'b':
		if !c.s.Back() {
			fmt.Fprint(c.out, "this is the first question\n> ")
			return false, nil
		}
		return true, nil
	case e.key == '?':
		fmt.Fprint(c.out, keysHelp+"> ")
		return false, nil
	case word == "s" || word == "f":
		return c.skip(q, reason, word == "f")
	}
	fmt.Fprintf(c.out, "%q is no answer here; ? for help\n> ", e.line)
	return false, nil
}

func (c *conversation) retake() (done bool, err error) {
	q, ok, err := c.s.Retake()
	if err != nil {
		return true, err
	}
	if !ok {
		fmt.Fprint(c.out, "nothing to take back yet\n> ")
		return false, nil
	}
	fmt.Fprintf(c.out, "taken back: %s\n", q.Text(c.unit))
	return true, nil
}

// skip leaves out a question, or all that are left of its feature.
func (c *conversation) skip(q session.Question, reason string, feature bool) (done bool, err error) {
	if strings.TrimSpace(reason) == "" {
		fmt.Fprint(c.out, "write the reason after it, as in: s no flat left to read on\n> ")
		return false, nil
	}
	if feature {
		return true, c.s.SkipRest(q, reason)
	}
	return true, c.s.Skip(q, reason)
}

// fromGauge takes a reading from a gauge; the keyboard goes on acting, and a reading typed instead is taken
// too.
func (c *conversation) fromGauge(ctx context.Context, q session.Question, g *gauges.Gauge) error {
	t := &taking{gauge: g, ctx: ctx, results: make(chan taken)}
	defer t.stop(c.out)
	t.startByItself()
	for {
		select {
		case e := <-c.keys.entries:
			if e.err == nil && e.key == 0 && strings.TrimSpace(e.line) == "" {
				if err := t.enter(c.out); err != nil {
					c.again(err)
				}
			} else if done, err := c.enter(e, q); done {
				return err
			}
		case r := <-t.results:
			t.running = false
			if r.err != nil {
				t.refused(c.out, r.err)
			} else if done, err := c.record(q, g.Name, r.frame); done {
				return err
			}
			t.startByItself()
		case event := <-c.gauges.Events:
			fmt.Fprintf(c.out, "\n%s\n> ", event)
		}
	}
}

// taken is what one Take came to.
type taken struct {
	frame device.Frame
	err   error
}

// taking waits for a gauge while the keyboard is watched.
type taking struct {
	gauge   *gauges.Gauge
	ctx     context.Context
	cancel  context.CancelFunc
	results chan taken
	running bool
	held    bool // the gauge holds readings back until the person has seen to it
}

func (t *taking) start() {
	if t.running {
		return
	}
	ctx, cancel := context.WithCancel(t.ctx)
	t.cancel, t.running = cancel, true
	go func() {
		f, err := t.gauge.Take(ctx)
		t.results <- taken{f, err}
	}()
}

// startByItself waits for the gauge's own button; other gauges wait for Enter.
func (t *taking) startByItself() {
	if t.gauge.Mode == device.Button && !t.held {
		t.start()
	}
}

// enter is what Enter alone does: it goes on after the gauge held readings back, and else takes a reading.
func (t *taking) enter(out io.Writer) error {
	if !t.held {
		t.start()
		return nil
	}
	if err := t.gauge.Confirm(t.ctx); err != nil {
		return err
	}
	t.held = false
	fmt.Fprint(out, "going on\n> ")
	t.startByItself()
	return nil
}

// refused says why there is no reading and what to do.
func (t *taking) refused(out io.Writer, err error) {
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, device.ErrClosed):
		t.held = true
		fmt.Fprintf(out, "\n%v; type the reading\n> ", err)
	case errors.Is(err, device.ErrDisconnected), errors.Is(err, device.ErrStuck):
		t.held = true
		fmt.Fprintf(out, "\nNOT RECORDED: %v. Then press Enter\n> ", err)
	default:
		notRecorded(out, err)
	}
}

// stop gives up waiting. A reading that comes at that very moment answers no question: it is said.
func (t *taking) stop(out io.Writer) {
	if !t.running {
		return
	}
	t.cancel()
	if r := <-t.results; r.err == nil {
		fmt.Fprintf(out, "NOT RECORDED: %s %s came as the question was left\n", r.frame.Text, r.frame.Unit)
	}
}
