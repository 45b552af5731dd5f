package desk

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strings"
)

// A recording of a conversation is text, a line an event in the order in which they happened, each with its time:
//
//	flutelog desk recording 1
//	line {"at":"2026-11-27T08:14:02.25Z","text":"0 -1 1 1"}
//	key {"at":"2026-11-27T08:14:04Z","key":"backspace"}
//	frame {"at":"2026-11-27T08:14:09.5Z","gauge":"indicator","raw":"+0.0001in","text":"+0.0001","unit":"in","value":"0.00254mm"}
//
// Lines that begin with # say what it is a recording of. Frames carry the gauge's bytes, so that they can be taken apart
// again. A PIN is not recorded. Later versions may add kinds of events; one that is not known is an error, never passed over.
const recordingHead = "flutelog desk recording 1"

// kinds names the events of a recording.
var kinds = map[string]func() Event{
	"line": func() Event { return new(Line) }, "key": func() Event { return new(Key) }, "again": func() Event { return new(Again) }, "frame": func() Event { return new(Frame) },
	"shown": func() Event { return new(Shown) }, "fault": func() Event { return new(Fault) }, "plug": func() Event { return new(Plug) },
	"clock": func() Event { return new(Clock) }, "other": func() Event { return new(Other) }, "swept": func() Event { return new(Swept) },
}

func kindOf(e Event) string {
	switch e.(type) {
	case Line:
		return "line"
	case Key:
		return "key"
	case Again:
		return "again"
	case Frame:
		return "frame"
	case Shown:
		return "shown"
	case Fault:
		return "fault"
	case Plug:
		return "plug"
	case Clock:
		return "clock"
	case Other:
		return "other"
	case Swept:
		return "swept"
	}
	return "" // what the desk was told in return for its effects comes again when they are done again
}

// plain returns the event that a pointer to one holds.
func plain(e Event) Event {
	switch e := e.(type) {
	case *Line:
		return *e
	case *Key:
		return *e
	case *Again:
		return *e
	case *Frame:
		return *e
	case *Shown:
		return *e
	case *Fault:
		return *e
	case *Plug:
		return *e
	case *Clock:
		return *e
	case *Other:
		return *e
	case *Swept:
		return *e
	}
	return e
}

// Recorder writes a recording.
type Recorder struct{ w io.Writer }

// NewRecorder begins a recording of what the notes say, a line each.
func NewRecorder(w io.Writer, notes ...string) (*Recorder, error) {
	text := recordingHead + "\n"
	for _, n := range notes {
		text += "# " + strings.ReplaceAll(n, "\n", " ") + "\n"
	}
	_, err := io.WriteString(w, text)
	return &Recorder{w}, err
}

// Record writes an event that the desk is about to be given. What is secret is not written.
func (r *Recorder) Record(d *Desk, e Event) error {
	kind := kindOf(e)
	if kind == "" {
		return nil
	}
	if l, ok := e.(Line); ok && d.state == signing && !strings.HasPrefix(strings.TrimSpace(l.Text), tagMark) {
		l.Text = "(a PIN)"
		e = l
	}
	text, err := json.Marshal(e)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(r.w, "%s %s\n", kind, text)
	return err
}

// Recording is a recording that was read.
type Recording struct {
	Notes  []string
	Events []Event
}

// ReadRecording reads a recording. Errors begin with the line's number.
func ReadRecording(r io.Reader) (Recording, error) {
	var rec Recording
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, 4<<20)
	if !lines.Scan() || lines.Text() != recordingHead {
		return rec, fmt.Errorf("line 1: want %q, as inspect --record writes it", recordingHead)
	}
	for n := 2; lines.Scan(); n++ {
		kind, text, _ := strings.Cut(lines.Text(), " ")
		if kind == "#" {
			rec.Notes = append(rec.Notes, text)
			continue
		}
		make := kinds[kind]
		if make == nil {
			return rec, fmt.Errorf("line %d: event %q is not known to this version; play it with the one that wrote it", n, kind)
		}
		e := make()
		if err := json.Unmarshal([]byte(text), e); err != nil {
			return rec, fmt.Errorf("line %d: the event cannot be read: it was changed or broke off", n)
		}
		rec.Events = append(rec.Events, plain(e))
	}
	return rec, lines.Err()
}

// Play gives the events to a desk in order, doing each effect with do. It returns how many events were left over when the
// conversation ended before them: a playback that leaves events over is not the same conversation.
func (r Recording) Play(d *Desk, do func(Effect) error) (left int, err error) {
	for i, e := range r.Events {
		if d.Ended() {
			return len(r.Events) - i, nil
		}
		if err := d.Run(e, do); err != nil {
			return len(r.Events) - i - 1, err
		}
	}
	return 0, nil
}
