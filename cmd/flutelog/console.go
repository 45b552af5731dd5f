package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect/length"
)

// errStopped says that the person stopped; an inspection can be taken up again.
var errStopped = errors.New("stopped")

// bell is what a terminal rings when a reading is taken.
const bell = "\a"

// console is where a person answers. Prompts go out line after line, and nothing moves the cursor, so that a
// serial console or a screen reader can follow; answers are typed or come from gauges.
type console struct {
	ctx     context.Context
	cancel  context.CancelFunc
	out     io.Writer
	width   func() int // columns of the terminal
	keys    *keyboard
	typed   *device.Decoder // of what is typed
	gauges  *gauges.Set
	takings []*taking
	results chan taken
	asked   int    // questions so far
	label   string // stands before the cursor
	atStart bool   // the cursor stands at the start of a line
}

// openConsole opens a console; bare numbers typed at it are in unit. The caller closes it, before the gauges.
func openConsole(ctx context.Context, e env, gs *gauges.Set, unit length.Unit) (*console, error) {
	typed, err := device.NewDecoder(gauges.Typed(unit))
	if err != nil {
		return nil, err
	}
	c := &console{out: e.stderr, width: widthOf(e.stderr), typed: typed, gauges: gs, results: make(chan taken, len(gs.Open))}
	c.ctx, c.cancel = context.WithCancel(ctx)
	c.keys = newKeyboard(e.stdin, crlf{e.stderr})
	if c.keys.raw {
		c.out = crlf{e.stderr}
	}
	for _, g := range gs.Open {
		c.takings = append(c.takings, &taking{gauge: g})
	}
	return c, nil
}

// close gives the terminal back and stops waiting for the gauges.
func (c *console) close() {
	c.cancel()
	c.keys.restore()
}

// ask puts a question: what is asked, how it is answered, and the label that stays before the cursor.
func (c *console) ask(text, how, label string) {
	c.asked++
	c.label = label
	c.print("\n" + text + "\n" + how + "\n")
	c.showCursor()
}

// say says something while the question stands.
func (c *console) say(format string, args ...any) {
	c.tell(format, args...)
	c.showCursor()
}

// tell says something before the next question.
func (c *console) tell(format string, args ...any) {
	if !c.atStart {
		fmt.Fprint(c.out, "\n")
	}
	c.print(fmt.Sprintf(format, args...) + "\n")
	c.atStart = true
}

// showCursor shows the label again, and what is typed already.
func (c *console) showCursor() {
	fmt.Fprintf(c.out, "%s > %s", c.label, c.keys.pending())
	c.atStart = false
}

// print prints lines broken between words where they are longer than the terminal is wide; what follows keeps the
// line's indent.
func (c *console) print(text string) {
	for line := range strings.Lines(text) {
		words := strings.TrimLeft(line, " ")
		if indent := line[:len(line)-len(words)]; len(strings.TrimSpace(line)) > c.width()-len(indent) {
			line = indent + wrapped(words, c.width()-len(indent), indent) + "\n"
		}
		fmt.Fprint(c.out, line)
	}
}

// widthOf returns what tells how wide the terminal is that w writes to.
func widthOf(w io.Writer) func() int {
	return func() int {
		if f, ok := w.(*os.File); ok {
			if width, _, err := term.GetSize(int(f.Fd())); err == nil && width > 0 {
				return width
			}
		}
		return 80
	}
}

// answer is what a person typed, or what a gauge read.
type answer struct {
	entry entry
	frame *device.Frame
}

// answer waits for what is typed, or for a reading of g; nil is no gauge. Enter alone makes g read. It returns
// errStopped when the person or the system ends the work.
func (c *console) answer(g *gauges.Gauge) (answer, error) {
	for {
		c.startByThemselves()
		select {
		case <-c.ctx.Done():
			return answer{}, errStopped
		case e := <-c.keys.entries:
			c.atStart = c.keys.raw
			switch t := c.takingOf(g); {
			case e.err != nil:
				return answer{entry: e}, errStopped
			case t == nil || e.key != 0 || strings.TrimSpace(e.line) != "":
				return answer{entry: e}, nil
			default:
				c.enter(t)
			}
		case r := <-c.results:
			r.of.running = false
			if c.sort(r, g) {
				return answer{frame: &r.frame}, nil
			}
		case event := <-c.gauges.Events:
			if event.Kind != device.Silence || g != nil && g.Mode == device.Button {
				c.say("%s", event)
			}
		}
	}
}

// takingOf returns how g is read, nil when it gives nothing more.
func (c *console) takingOf(g *gauges.Gauge) *taking {
	for _, t := range c.takings {
		if t.gauge == g && !t.gone {
			return t
		}
	}
	return nil
}

// enter is what Enter alone does: it goes on after a gauge held readings back, and else takes a reading.
func (c *console) enter(t *taking) {
	switch {
	case t.running && t.gauge.Mode == device.Button && !t.held:
		c.say("press the button of %s, or type the reading", t.gauge.Name)
	case t.running:
	case t.held:
		t.start(c, func(ctx context.Context) taken { return taken{goOn: true, err: t.gauge.Confirm(ctx)} })
	default:
		t.take(c)
	}
}

// startByThemselves waits for the gauges with a button of their own; others wait for Enter.
func (c *console) startByThemselves() {
	for _, t := range c.takings {
		if t.gauge.Mode == device.Button && !t.running && !t.held && !t.gone {
			t.take(c)
		}
	}
}

// sort says whether what came is the answer to the question in hand, which waits for g, and if not, why.
func (c *console) sort(r taken, g *gauges.Gauge) bool {
	name := r.of.gauge.Name
	switch {
	case c.ctx.Err() != nil:
	case r.goOn && r.err == nil:
		r.of.held = false
		c.say("going on with %s", name)
	case errors.Is(r.err, io.EOF), errors.Is(r.err, device.ErrClosed):
		r.of.gone = true
		c.say("%s gives nothing more; type its readings", name)
	case r.of.gauge.Holds(r.err):
		r.of.held = true
		c.say("NOT RECORDED: %v. Then press Enter, or type the reading", r.err)
	case r.err != nil:
		c.say("NOT RECORDED: %v", r.err)
	case r.of.gauge != g, g.Mode != device.Button && r.asked != c.asked:
		c.say("NOT RECORDED: %s %s came from %s when it was not asked for", r.frame.Text, r.frame.Unit, name)
	default:
		return true
	}
	return false
}

// taking is how one gauge is read while the keyboard is watched.
type taking struct {
	gauge   *gauges.Gauge
	running bool
	held    bool // readings are held back until the person has seen to the gauge
	gone    bool // nothing more comes
}

// taken is what came of it.
type taken struct {
	of    *taking
	asked int // the question that was asked then
	frame device.Frame
	err   error
	goOn  bool // the gauge was seen to
}

func (t *taking) take(c *console) {
	t.start(c, func(ctx context.Context) taken {
		f, err := t.gauge.Take(ctx)
		return taken{frame: f, err: err}
	})
}

func (t *taking) start(c *console, do func(context.Context) taken) {
	t.running = true
	asked := c.asked
	go func() {
		r := do(c.ctx)
		r.of, r.asked = t, asked
		c.results <- r // has room for one of each gauge
	}()
}

// how says what the person does to give a reading that is read with g.
func (c *console) how(g *gauges.Gauge) string {
	switch t := c.takingOf(g); {
	case t == nil:
		return "type the reading"
	case t.held:
		return "see to " + g.Name + " and press Enter, or type the reading"
	case g.Mode == device.Stream:
		return "press Enter to take what " + g.Name + " shows, or type the reading"
	case g.Mode == device.Poll:
		return "press Enter to read " + g.Name + ", or type the reading"
	}
	return "press the button of " + g.Name + ", or type the reading"
}

func startsNumber(line string) bool {
	line = strings.TrimSpace(line)
	return line != "" && strings.ContainsAny(line[:1], "+-.,0123456789")
}
