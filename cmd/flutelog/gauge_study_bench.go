package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect/length"
	"flutelog/inspect/session"
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
		fmt.Fprint(k.env.stderr, "\nstopped; a study that is not finished is not kept\n")
		return outcome(statusOpen)
	}
	if err != nil {
		return err
	}
	return s.judgeRepeats(k, a, parts, unit)
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

// ask takes the readings, in order. One key takes the last back.
func (s *gaugeStudyFlags) ask(ctx context.Context, k *studyKeeper, gs *gauges.Set, qs []studyQuestion, unit length.Unit) ([]session.StudiedPart, error) {
	typed, err := device.NewDecoder(gauges.Typed(unit))
	if err != nil {
		return nil, err
	}
	keys, out := openKeyboard(k.env)
	defer keys.restore()
	c := &studyConversation{out: out, keys: keys, typed: typed, gauges: gs}
	fmt.Fprint(out, indicatingCautions)
	var values []length.Length
	for len(values) < len(qs) {
		fmt.Fprintf(out, "\n[%d of %d] %s\n%s (? for help) > ", len(values)+1, len(qs), qs[len(values)], c.how())
		switch v, err := c.reading(ctx); {
		case errors.Is(err, errTakeBack):
			values = values[:max(0, len(values)-1)]
		case err != nil:
			return nil, err
		default:
			values = append(values, v)
		}
	}
	var parts []session.StudiedPart
	for i, q := range qs {
		parts = addReading(parts, q.part, values[i])
	}
	return parts, nil
}

// errTakeBack says that the person takes the last reading back.
var errTakeBack = errors.New("taken back")

// studyConversation takes single readings from a gauge or the keyboard.
type studyConversation struct {
	out    io.Writer
	keys   *keyboard
	typed  *device.Decoder
	gauges *gauges.Set // one, or none: readings are typed
}

func (c *studyConversation) how() string {
	if len(c.gauges.Open) == 0 {
		return "type the reading"
	}
	return howToTake(c.gauges.Open[0])
}

// reading waits for one reading. It returns errTakeBack or errStopped when the person says so.
func (c *studyConversation) reading(ctx context.Context) (length.Length, error) {
	t := &taking{ctx: ctx, results: make(chan taken)}
	if len(c.gauges.Open) > 0 {
		t.gauge = c.gauges.Open[0]
		defer t.stop(c.out)
		t.startByItself()
	}
	for {
		select {
		case e := <-c.keys.entries:
			f, done, err := c.enter(e, t)
			if err != nil {
				return 0, err
			}
			if done {
				return c.took(f), nil
			}
		case r := <-t.results:
			t.running = false
			if r.err == nil {
				return c.took(r.frame), nil
			}
			t.refused(c.out, r.err)
			t.startByItself()
		case event := <-c.gauges.Events:
			fmt.Fprintf(c.out, "\n%s\n> ", event)
		}
	}
}

// enter takes one entry from the keyboard: a reading, with done, or something to do.
func (c *studyConversation) enter(e entry, t *taking) (f device.Frame, done bool, err error) {
	line := strings.TrimSpace(e.line)
	switch {
	case e.err != nil || line == "q":
		return f, false, errStopped
	case e.key == 'r':
		return f, false, errTakeBack
	case e.key == 0 && line == "" && t.gauge != nil:
		if err := t.enter(c.out); err != nil {
			notRecorded(c.out, err)
		}
	case e.key == 0 && startsNumber(line):
		f, err := c.typed.Decode([]byte(line), time.Now())
		if err == nil {
			return f, true, nil
		}
		notRecorded(c.out, err)
	default:
		fmt.Fprint(c.out, "type a number; r takes the last reading back, q stops without keeping the study\n> ")
	}
	return f, false, nil
}

func (c *studyConversation) took(f device.Frame) length.Length {
	fmt.Fprintf(c.out, "%staken %s %s\n", bell, f.Text, f.Unit)
	return f.Value
}
