package device

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"time"
)

// A recording is a text file of what passed on a gauge's line, to be read, cut and mended by hand. Its first line
// names the form; then each line is one of
//
//	wait 120ms                 time that passed
//	gauge "+0.0003\r\n"        bytes from the gauge, quoted as Go quotes strings
//	bench "?\r"                bytes to the gauge
//	unplugged                  the line went away; what follows came after it was back
//	# anything                 a remark; empty lines are passed over
const recordingForm = "gauge recording 1"

// Record returns an opener that opens by open and writes all that passes to w, as a recording. What goes wrong in
// writing w comes from the gauge's Close.
func Record(open Opener, w io.Writer) Opener {
	r := &recorder{w: w, last: time.Now()}
	r.write("%s\n", recordingForm)
	opened := false
	return func() (io.ReadWriteCloser, error) {
		rwc, err := open()
		if err != nil {
			return nil, err
		}
		if opened {
			r.write("unplugged\n")
		}
		opened = true
		return &recorded{line: withTimeout(rwc), r: r}, nil
	}
}

// recorder writes a recording. Only the gauge's reading goroutine uses it.
type recorder struct {
	w    io.Writer
	last time.Time
	err  error
}

func (r *recorder) write(format string, args ...any) {
	if r.err == nil {
		_, r.err = fmt.Fprintf(r.w, format, args...)
	}
}

func (r *recorder) bytes(who string, b []byte) {
	if len(b) == 0 {
		return
	}
	now := time.Now()
	if passed := now.Sub(r.last).Round(time.Millisecond); passed > 0 {
		r.write("wait %v\n", passed)
		r.last = now
	}
	r.write("%s %s\n", who, strconv.QuoteToASCII(string(b)))
}

type recorded struct {
	line
	r *recorder
}

func (l *recorded) Read(b []byte) (int, error) {
	n, err := l.line.Read(b)
	l.r.bytes("gauge", b[:n])
	return n, err
}

func (l *recorded) Write(b []byte) (int, error) {
	n, err := l.line.Write(b)
	l.r.bytes("bench", b[:n])
	return n, err
}

func (l *recorded) Close() error {
	err := l.line.Close()
	if l.r.err != nil {
		return fmt.Errorf("writing the recording: %w", l.r.err)
	}
	return err
}

// Recording is a recording that was read, to be played in place of a gauge.
type Recording struct {
	mu    sync.Mutex // a line is closed while it is read
	steps []recordedStep
}

type recordedStep struct {
	what  string // wait, gauge, bench or unplugged
	wait  time.Duration
	bytes []byte
}

// ReadRecording reads a recording. Its errors name the line.
func ReadRecording(r io.Reader) (*Recording, error) {
	var rec Recording
	lines := bufio.NewScanner(r)
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSpace(lines.Text())
		if n == 1 {
			if text != recordingForm {
				return nil, fmt.Errorf("recording:1: %q: want %q", text, recordingForm)
			}
			continue
		}
		if text == "" || text[0] == '#' {
			continue
		}
		step, err := parseStep(text)
		if err != nil {
			return nil, fmt.Errorf("recording:%d: %w", n, err)
		}
		rec.steps = append(rec.steps, step)
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("reading recording: %w", err)
	}
	if len(rec.steps) == 0 {
		return nil, errors.New("reading recording: nothing in it")
	}
	return &rec, nil
}

func parseStep(text string) (recordedStep, error) {
	what, rest, _ := strings.Cut(text, " ")
	step := recordedStep{what: what}
	switch what {
	case "wait":
		d, err := time.ParseDuration(rest)
		if err != nil || d < 0 {
			return step, fmt.Errorf("%q: want a time, as in wait 120ms", text)
		}
		step.wait = d
	case "gauge", "bench":
		s, err := strconv.Unquote(rest)
		if err != nil || rest[0] != '"' || s == "" {
			return step, fmt.Errorf(`%q: want quoted bytes, as in %s "+0.0003\r\n"`, text, what)
		}
		step.bytes = []byte(s)
	case "unplugged":
		if rest != "" {
			return step, fmt.Errorf("%q: want unplugged alone", text)
		}
	default:
		return step, fmt.Errorf("%q: want wait, gauge, bench or unplugged", text)
	}
	return step, nil
}

// Open plays the recording, as an Opener: in its own time, each request before what followed it. Opened again after
// unplugged it goes on from there. After the last step Read returns io.EOF; closed before that, it is ErrLeftOver.
func (r *Recording) Open() (io.ReadWriteCloser, error) {
	return &replay{rec: r, closed: make(chan struct{}), written: make(chan struct{}, 1)}, nil
}

// replay plays a recording. It takes steps from the recording's front.
type replay struct {
	rec     *Recording
	rest    []byte // of the step being read
	written chan struct{}
	closed  chan struct{}
}

var errUnplugged = errors.New("the plug was pulled or the gauge switched off")

// Read waits as the recording says.
func (p *replay) Read(b []byte) (int, error) {
	for len(p.rest) == 0 {
		p.rec.mu.Lock()
		left := p.rec.steps
		p.rec.mu.Unlock()
		if len(left) == 0 {
			return 0, io.EOF
		}
		if err := p.play(left[0]); err != nil {
			return 0, err
		}
	}
	n := copy(b, p.rest)
	p.rest = p.rest[n:]
	return n, nil
}

func (p *replay) play(step recordedStep) error {
	switch step.what {
	case "wait":
		select {
		case <-time.After(step.wait):
		case <-p.closed:
			return ErrClosed
		}
	case "bench":
		select {
		case <-p.written:
		case <-p.closed:
			return ErrClosed
		}
	case "gauge":
		p.rest = step.bytes
	}
	p.rec.mu.Lock()
	p.rec.steps = p.rec.steps[1:]
	p.rec.mu.Unlock()
	if step.what == "unplugged" {
		return errUnplugged
	}
	return nil
}

// Write takes a request: what the recording has after it may come.
func (p *replay) Write(b []byte) (int, error) {
	select {
	case p.written <- struct{}{}:
		return len(b), nil
	case <-p.closed:
		return 0, ErrClosed
	}
}

// ErrLeftOver means that a recording was closed before its end: what was played is not what was recorded.
var ErrLeftOver = errors.New("of the recording left over")

// Close ends the playing. It is ErrLeftOver when the gauge sent more than was taken.
func (p *replay) Close() error {
	close(p.closed)
	p.rec.mu.Lock()
	defer p.rec.mu.Unlock()
	left := 0
	for _, step := range p.rec.steps {
		if step.what == "gauge" {
			left++
		}
	}
	if left > 0 {
		return fmt.Errorf("%d steps %w", left, ErrLeftOver)
	}
	return nil
}
