package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect/length"
)

// Bounds of a study at the bench.
const (
	mostParts  = 30
	mostTrials = 50
)

// studyQuestion is one reading asked for.
type studyQuestion struct {
	part          string
	trial, trials int
}

func (q studyQuestion) String() string {
	if q.part == masterPart {
		return fmt.Sprintf("Master: reading %d of %d", q.trial, q.trials)
	}
	return fmt.Sprintf("Part %s: reading %d of %d", q.part, q.trial, q.trials)
}

func (q studyQuestion) label() string {
	if q.part == masterPart {
		return q.part
	}
	return "part " + q.part
}

// studyQuestions asks round by round, so that a part is put down and taken up between its readings.
func studyQuestions(parts, trials int, master bool) []studyQuestion {
	var qs []studyQuestion
	for trial := 1; trial <= trials; trial++ {
		for part := 1; part <= parts; part++ {
			qs = append(qs, studyQuestion{fmt.Sprint(part), trial, trials})
		}
		if master {
			qs = append(qs, studyQuestion{masterPart, trial, trials})
		}
	}
	return qs
}

// atBench studies a gauge with the person who reads with it.
func (s *gaugeStudyFlags) atBench(k *studyKeeper, unit length.Unit) error {
	a, err := s.aims(k, unit)
	switch {
	case err != nil:
		return err
	case s.parts < 0 || s.parts > mostParts || s.parts == 0 && a.master == nil:
		return usagef("--parts %d: want 1 to %d, or 0 with a --master", s.parts, mostParts)
	case s.trials < 2 || s.trials > mostTrials:
		return usagef("--trials %d: want 2 to %d", s.trials, mostTrials)
	}
	if err := k.bench.CheckInspector(k.inspector); err != nil {
		return usageError{err} // before anything is read
	}
	gs, err := s.openGauge(k)
	if err != nil {
		return err
	}
	defer gs.Close()
	ctx, cancel := signal.NotifyContext(context.Background(), syscall.SIGTERM, os.Interrupt)
	defer cancel()
	parts, err := s.ask(ctx, k, gs, studyQuestions(s.parts, s.trials, a.master != nil), unit)
	if errors.Is(err, errStopped) {
		return unfinished(k, parts)
	}
	if err != nil {
		return err
	}
	return s.judgeRepeats(k, a, parts, unit)
}

// unfinished prints what was read for a study that was stopped.
func unfinished(k *studyKeeper, parts []studiedPart) error {
	fmt.Fprint(k.env.stderr, "\nstopped; a study that is not finished is not kept\n")
	if len(parts) > 0 {
		fmt.Fprint(k.env.stderr, "What was read; in a file, flutelog gauge study --repeats FILE takes it:\n\n")
		if err := writeRepeats(k.env.stdout, parts); err != nil {
			return err
		}
	}
	return outcome(statusOpen)
}

// openGauge opens the line of the gauge studied; one that is not plugged in is read by eye and typed.
func (s *gaugeStudyFlags) openGauge(k *studyKeeper) (*gauges.Set, error) {
	gs := &gauges.Set{}
	if _, err := os.Stat(k.gauge.Port); err != nil && s.replay == "" {
		fmt.Fprintf(k.env.stderr, "flutelog: gauge %q is not plugged in; its readings are typed\n", k.gauge.Name)
		return gs, nil
	}
	opener, err := openerOf(k.gauge, s.replay)
	if err != nil {
		return gs, err
	}
	return gs, gs.Add(k.gauge, opener)
}

// ask takes the readings, in order. One key takes the last back. With errStopped it returns those taken until then.
func (s *gaugeStudyFlags) ask(ctx context.Context, k *studyKeeper, gs *gauges.Set, qs []studyQuestion, unit length.Unit) ([]studiedPart, error) {
	console, err := openConsole(ctx, k.env, gs, unit)
	if err != nil {
		return nil, err
	}
	defer console.close()
	c := &studyConversation{console}
	c.print(indicatingCautions)
	var values []length.Length
	var stopped error
	for stopped == nil && len(values) < len(qs) {
		q := qs[len(values)]
		c.ask(q.String(), fmt.Sprintf("(%d of %d) %s; r takes the last back, q stops", len(values)+1, len(qs), c.how(c.gauge())), q.label())
		switch v, err := c.reading(); {
		case errors.Is(err, errTakeBack):
			values = values[:max(0, len(values)-1)]
		case errors.Is(err, errStopped):
			stopped = err
		case err != nil:
			return nil, err
		default:
			values = append(values, v)
		}
	}
	var parts []studiedPart
	for i, v := range values {
		parts = addReading(parts, qs[i].part, v)
	}
	return parts, stopped
}

// errTakeBack says that the person takes the last reading back.
var errTakeBack = errors.New("taken back")

// studyConversation takes single readings from a gauge or the keyboard.
type studyConversation struct{ *console }

// gauge returns the gauge studied; nil is read by eye.
func (c *studyConversation) gauge() *gauges.Gauge {
	if len(c.gauges.Open) == 0 {
		return nil
	}
	return c.gauges.Open[0]
}

// reading waits for one reading. It returns errTakeBack or errStopped when the person says so.
func (c *studyConversation) reading() (length.Length, error) {
	for {
		a, err := c.answer(c.gauge())
		if err != nil {
			return 0, err
		}
		f, done := a.frame, a.frame != nil
		if !done {
			if f, done, err = c.enterReading(a.entry); err != nil {
				return 0, err
			}
		}
		if done {
			c.took("taken", *f)
			return f.Value, nil
		}
	}
}

// enterReading takes one entry from the keyboard: a reading, with done, or something to do.
func (c *studyConversation) enterReading(e entry) (f *device.Frame, done bool, err error) {
	switch line := strings.TrimSpace(e.line); {
	case line == "q":
		return nil, false, errStopped
	case e.key == 'r':
		return nil, false, errTakeBack
	case e.key == 0 && startsNumber(line):
		typed, err := c.readTyped(line)
		if err == nil {
			return &typed, true, nil
		}
		c.say("NOT RECORDED: %v", err)
	default:
		c.say("type a number; r takes the last reading back, q stops without keeping the study")
	}
	return nil, false, nil
}
