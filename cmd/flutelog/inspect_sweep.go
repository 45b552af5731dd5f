package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/session"
)

// sweeping says whether a question is answered by turning the tool under a stream: run-out of edges is; a shank
// has none to tell one turn's place from another by.
func (c *conversation) sweeping(q session.Question, g *gauges.Gauge) bool {
	edges := q.Key.Feature == inspect.RadialRunout || q.Key.Feature == inspect.AxialRunout
	return c.sweeps && edges && g != nil && g.Mode == device.Stream && c.takingOf(g) != nil
}

// sweep reads all flutes of one round by turning the tool; the closing reading of a set, which is asked for when a sweep
// was taken back, is a sweep of its last round again. A trace that does not tell them apart is refused with
// the reason, and asked for again.
func (c *conversation) sweep(q session.Question, g *gauges.Gauge) error {
	c.warn()
	round := q
	if q.Key.Closing {
		round.Key.Closing, round.Key.Repeat = false, c.s.Plan().Repeats
	}
	for {
		done, of := c.s.Progress()
		c.ask("Sweep: "+sweptSet(round, c.unit), fmt.Sprintf("(%d of %d) set the contact on flute 1 and press Enter; ? for help", done+1, of), "sweep")
		if done, err := c.untilEnter(q); done {
			return err
		}
		trace, err := c.trace(g)
		if err != nil {
			if errors.Is(err, errStopped) {
				return err
			}
			c.tell("NOT RECORDED: %v", err)
			continue
		}
		recorded, err := c.recordSweep(round, g, trace)
		if recorded {
			return err
		}
		c.tell("NOT RECORDED: %v", err)
	}
}

// sweptSet names the readings that one sweep gives.
func sweptSet(q session.Question, unit length.Unit) string {
	q.Key.Flute = 0
	return q.Text(unit) + ", all flutes"
}

func (c *conversation) turning() string {
	if c.s.Plan().Backward {
		return "backwards"
	}
	return "forwards, as it cuts"
}

// untilEnter waits for Enter alone; done says that the person did something else that deals with the question.
func (c *conversation) untilEnter(q session.Question) (done bool, err error) {
	for {
		a, err := c.answer(nil)
		if err != nil {
			return true, err
		}
		if a.entry.key == 0 && strings.TrimSpace(a.entry.line) == "" {
			return false, nil
		}
		if done, err := c.act(a.entry, q); done {
			return true, err
		}
	}
}

// mostSwept bounds a sweep that nobody ends.
const mostSwept = 50_000

// trace takes what the gauge streams until Enter.
func (c *conversation) trace(g *gauges.Gauge) ([]device.Frame, error) {
	ctx, cancel := context.WithCancel(c.ctx)
	defer cancel()
	var frames []device.Frame
	swept := make(chan error, 1)
	go func() {
		swept <- g.Sweep(ctx, func(f device.Frame) error {
			if len(frames) == mostSwept {
				return fmt.Errorf("more than %d values came; end the sweep with Enter", mostSwept)
			}
			frames = append(frames, f)
			return nil
		})
	}()
	c.print("Turn the tool " + c.turning() + ", three times round or more, slowly over each edge. Then press Enter.\n")
	c.label = "turn, then Enter"
	c.showCursor()
	for {
		select {
		case e := <-c.keys.entries:
			c.atStart = c.keys.raw
			cancel()
			if err := <-swept; e.err == nil && strings.TrimSpace(e.line) != "q" {
				return frames, err
			}
			return nil, errStopped
		case err := <-swept:
			if c.ctx.Err() != nil {
				return nil, errStopped
			}
			return nil, err
		case event := <-c.gauges.Events:
			c.say("%s", event)
		}
	}
}

// recordSweep records what a trace comes to. Not recorded, the error says why it comes to nothing.
func (c *conversation) recordSweep(q session.Question, g *gauges.Gauge, trace []device.Frame) (recorded bool, err error) {
	in := c.s.Inspection()
	sweep, values, err := c.newSweep(q, g, trace)
	if err != nil {
		return false, err
	}
	swept, err := geometry.Sweep{Flutes: in.Tool.Flutes, Backwards: sweep.Backward, Resolution: sweep.Resolution}.Read(values)
	if err != nil {
		return false, err
	}
	var readings []inspect.Reading
	decimals := decimalsShown(trace[0].Text)
	for i, height := range swept.Heights {
		text := height.Format(sweep.Unit, decimals)
		value, err := length.Parse(text, sweep.Unit)
		if err != nil {
			return false, err
		}
		q.Key.Flute = i + 1
		readings = append(readings, gauges.Reading(q, g.Name, device.Frame{Value: value, Text: text, Unit: sweep.Unit}))
	}
	if err := c.s.Swept(sweep, readings); err != nil {
		return true, err
	}
	for i, r := range readings {
		c.tell("%srecorded flute %d: %s %s, the mean of %d turns that differ by %s", bell, r.Flute, r.Text, r.Unit, swept.Passes[i], swept.Spread[i].In(c.unit))
	}
	return true, nil
}

// newSweep puts together what is kept of a trace, and its values.
func (c *conversation) newSweep(q session.Question, g *gauges.Gauge, trace []device.Frame) (record.Sweep, []length.Length, error) {
	if len(trace) == 0 {
		return record.Sweep{}, nil, fmt.Errorf("nothing came from %s while the tool was turned", g.Name)
	}
	var values []length.Length
	var millimetres []string
	for _, f := range trace {
		if f.Unit != trace[0].Unit {
			return record.Sweep{}, nil, fmt.Errorf("%s changed its unit from %s to %s", g.Name, trace[0].Unit, f.Unit)
		}
		values = append(values, f.Value)
		millimetres = append(millimetres, strings.TrimSuffix(f.Value.String(), "mm"))
	}
	return record.Sweep{
		Of: q.Key, Gauge: g.Name, Unit: trace[0].Unit, Resolution: trace[0].Resolution, Backward: c.s.Plan().Backward, Trace: strings.Join(millimetres, " "),
	}, values, nil
}

// decimalsShown returns how many decimals a gauge shows.
func decimalsShown(text string) int {
	if i := strings.IndexAny(text, ".,"); i >= 0 {
		return len(text) - i - 1
	}
	return 0
}
