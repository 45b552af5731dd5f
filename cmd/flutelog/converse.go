package main

import (
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

// indicatingCautions stand before the first reading that brings a hand near the machine.
var indicatingCautions = cautionText("CAUTION", cautions.Indicating)

const keysHelp = `  r      take the last reading back
         and read it again
  b      go one question back
  k      keep the answer that stands
  s WHY  leave this out, for the reason
  f WHY  leave the rest of this feature
         out, for the reason
  q      stop; what is read is kept, and
         the inspection can be taken up
  ?      this list
`

// conversation asks a session's questions at a console.
type conversation struct {
	*console
	s      *session.Session
	unit   length.Unit
	sweeps bool // run-outs are read by turning the tool
	warned bool // the cautions were shown
}

// run asks until nothing is left to ask and the person agrees to close. It returns errStopped when the person
// stops.
func (c *conversation) run() error {
	for {
		q, ok := c.s.Next()
		var closed bool
		var err error
		if ok {
			err = c.question(q)
		} else {
			closed, err = c.closing()
		}
		if err != nil || closed {
			return err
		}
	}
}

// closing asks before the inspection is closed, as nothing can be taken back from then on. Where answers came
// from a file to its end, there is nobody to ask.
func (c *conversation) closing() (closed bool, err error) {
	text := "All is read and on disk."
	if sight := c.s.Stopped(); sight != "" {
		text = strings.ToUpper(sight) + ": nothing more is read of this tool."
	}
	c.ask(text, "Press Enter to close and judge, or r to take the last answer back.", "close")
	for {
		switch a, err := c.answer(nil); {
		case errors.Is(a.entry.err, io.EOF) && !c.keys.raw:
			return true, nil
		case err != nil:
			return false, err
		case a.entry.key == 0 && strings.TrimSpace(a.entry.line) == "":
			return true, nil
		default:
			if done, err := c.act(a.entry, session.Question{}); done {
				return false, err
			}
		}
	}
}

// question asks one question until it is dealt with.
func (c *conversation) question(q session.Question) error {
	g := c.gaugeOf(q)
	if c.sweeping(q, g) {
		return c.sweep(q, g)
	}
	c.prompt(q, g)
	for {
		a, err := c.answer(g)
		if err != nil {
			return err
		}
		var done bool
		switch {
		case a.frame != nil:
			done, err = c.record(q, g.Name, *a.frame)
		case q.Sight != "":
			done, err = c.look(a.entry, q)
		default:
			done, err = c.enterReading(a.entry, q)
		}
		if done {
			return err
		}
	}
}

// gaugeOf returns the gauge that a question is read with, nil for none.
func (c *conversation) gaugeOf(q session.Question) *gauges.Gauge {
	if q.Sight != "" {
		return nil
	}
	return c.gauges.Of(q.Key.Feature)
}

func (c *conversation) prompt(q session.Question, g *gauges.Gauge) {
	how := "y or n, and a note if you like"
	if q.Sight == "" {
		c.warn()
		how = c.how(g)
	}
	done, of := c.s.Progress()
	text := q.Text(c.unit)
	if stands := c.standing(q); stands != "" {
		text += "\nread already: " + stands + "; a new answer replaces it, k keeps it"
	}
	c.ask(text, fmt.Sprintf("(%d of %d) %s; ? for help", min(done+1, of), of, how), label(q))
}

// warn shows the cautions, once.
func (c *conversation) warn() {
	if !c.warned {
		c.warned = true
		c.print("\n" + indicatingCautions)
	}
}

// label is what stands before the cursor while a question is asked.
func label(q session.Question) string {
	switch {
	case q.Sight != "":
		return "y or n"
	case q.Key.Flute > 0:
		return fmt.Sprintf("Flute %d", q.Key.Flute)
	}
	return q.Key.Feature.Name()
}

// standing returns the answer that a question has already, "" for none.
func (c *conversation) standing(q session.Question) string {
	in := c.s.Inspection()
	for _, seen := range in.Seen {
		if seen.Sight == q.Sight {
			return map[bool]string{true: "yes", false: "no"}[seen.Yes]
		}
	}
	for _, r := range in.Readings {
		if q.Sight == "" && r.Key() == q.Key {
			return r.Text + " " + string(r.Unit)
		}
	}
	return ""
}

// look takes the answer to a visual question.
func (c *conversation) look(e entry, q session.Question) (done bool, err error) {
	word, note, _ := strings.Cut(strings.TrimSpace(e.line), " ")
	switch word = strings.ToLower(word); {
	case e.key == 0 && (word == "y" || word == "yes" || word == "n" || word == "no"):
		if err := c.s.See(inspect.Seen{Sight: q.Sight, Yes: word[0] == 'y', Note: strings.TrimSpace(note)}); err != nil {
			return true, err
		}
		c.tell("recorded")
		return true, nil
	}
	return c.act(e, q)
}

// enterReading takes one entry from the keyboard, or from a gauge that types: a reading, or something to do.
func (c *conversation) enterReading(e entry, q session.Question) (done bool, err error) {
	if e.key != 0 || !startsNumber(e.line) {
		return c.act(e, q)
	}
	f, err := c.readTyped(e.line)
	if err != nil {
		c.say("NOT RECORDED: %v", err)
		return false, nil
	}
	return c.record(q, c.gauges.TypedAs(q.Key.Feature), f)
}

// readTyped reads a number as it was typed.
func (c *console) readTyped(line string) (device.Frame, error) {
	f, err := c.typed.Decode([]byte(line), time.Now())
	var refused *device.Refused
	switch {
	case errors.Is(err, device.ErrUnit):
		return f, fmt.Errorf("%q: the unit is not known; write in, mm, um or thou, or none", line)
	case errors.As(err, &refused):
		return f, fmt.Errorf("%q: %w", line, refused.Err)
	}
	return f, err
}

// record takes a frame as the answer to a question; a reading that cannot be is said and asked for again.
func (c *conversation) record(q session.Question, gauge string, f device.Frame) (done bool, err error) {
	r := gauges.Reading(q, gauge, f)
	if err := c.s.Inspection().Check(r); err != nil {
		c.say("NOT RECORDED: %v", err)
		return false, nil
	}
	if err := c.s.Record(r); err != nil {
		return true, err
	}
	c.took("recorded", f)
	return true, nil
}

// took rings and shows what was taken in the gauge's own digits.
func (c *console) took(word string, f device.Frame) {
	c.tell("%s%s %s %s", bell, word, f.Text, f.Unit)
}

// act does what a key or a word asks for. done says that the question has been dealt with.
func (c *conversation) act(e entry, q session.Question) (done bool, err error) {
	word, reason, _ := strings.Cut(strings.TrimSpace(e.line), " ")
	if e.key != 0 {
		word = string(e.key)
	}
	switch strings.ToLower(word) {
	case "q":
		return true, errStopped
	case "r":
		return c.retake()
	case "b":
		if c.s.Back() {
			return true, nil
		}
		c.say("this is the first question")
	case "k":
		if c.s.Keep() {
			return true, nil
		}
		c.say("there is no answer to keep yet")
	case "?":
		c.say("%s", strings.TrimSuffix(keysHelp, "\n"))
	case "s", "f":
		return c.skip(q, strings.TrimSpace(reason), strings.ToLower(word) == "f")
	case "":
		c.say("nothing was typed; ? for help")
	default:
		c.say("%q is no answer here; ? for help", e.line)
	}
	return false, nil
}

func (c *conversation) retake() (done bool, err error) {
	q, ok, err := c.s.Retake()
	if err != nil {
		return true, err
	}
	if !ok {
		c.say("nothing to take back yet")
		return false, nil
	}
	c.tell("taken back: %s", q.Text(c.unit))
	return true, nil
}

// skip leaves out a question, or all that are left of its feature.
func (c *conversation) skip(q session.Question, reason string, feature bool) (done bool, err error) {
	switch {
	case q == session.Question{}:
		c.say("there is nothing to leave out")
		return false, nil
	case reason == "":
		c.say("write the reason after it, as in: s no flat left to read on")
		return false, nil
	case feature:
		return true, c.s.SkipRest(q, reason)
	}
	return true, c.s.Skip(q, reason)
}
