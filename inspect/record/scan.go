package record

import (
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"strconv"
	"strings"
	"unicode/utf8"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// Where many records are read, bodies are read here and not by encoding/json: it takes longer than all the rest of a
// report, to check again what the ledger has checked and to take apart what is not needed.

// Brief is an inspection in short, as it stands: what its rows in a report begin with.
type Brief struct {
	ID, Tool, Job, Inspector string
	Stage                    inspect.Stage
	Revision                 string // that it was judged by
	Gauges                   map[string]inspect.Instrument
	Verdict                  inspect.Verdict
	Closed                   string
	Practice                 bool
	Amended
	Record ledger.Record // the newest that counts, without its body
}

func parseBrief(body string) (in Brief, err error) {
	s := scanner{body: body}
	for name := range s.members() {
		switch name {
		case "inspection":
			s.inspection(&in)
		case "judgement":
			for name := range s.members() {
				if name == "verdict" {
					in.Verdict = inspect.Verdict(s.text())
				}
			}
		case "closed":
			in.Closed = s.text()
		}
	}
	return in, s.err
}

func (s *scanner) inspection(in *Brief) {
	for name := range s.members() {
		switch name {
		case "id":
			in.ID = s.text()
		case "tool":
			for name := range s.members() {
				if name == "id" {
					in.Tool = s.text()
				}
			}
		case "stage":
			in.Stage = inspect.Stage(s.text())
		case "job":
			in.Job = s.text()
		case "inspector":
			in.Inspector = s.text()
		case "basis":
			s.basis(in)
		}
	}
}

// outline reads as much of a summary as Outlines tells.
func (in *Inspection) outline(summary string) error {
	s := scanner{body: summary}
	for name := range s.members() {
		switch name {
		case "inspection":
			for name := range s.members() {
				switch name {
				case "id":
					in.ID = s.text()
				case "tool":
					s.decode(&in.Tool)
				case "stage":
					in.Stage = inspect.Stage(s.text())
				case "job":
					in.Job = s.text()
				case "inspector":
					in.Inspector = s.text()
				case "grinder":
					in.Grinder = s.text()
				case "wheel":
					in.Wheel = s.text()
				case "divisions":
					in.Divisions = s.integer()
				case "basis":
					for name := range s.members() {
						if name == "revision" {
							in.Basis.Revision = s.text()
						}
					}
				}
			}
		case "judgement":
			for name := range s.members() {
				switch name {
				case "verdict":
					in.Judgement.Verdict = inspect.Verdict(s.text())
				case "work":
					s.decode(&in.Judgement.Work)
				case "findings":
					s.decode(&in.Judgement.Findings)
				}
			}
		case "opened":
			in.Opened = s.text()
		case "closed":
			in.Closed = s.text()
		case "discarded":
			in.Discarded = s.text()
		}
	}
	if s.err != nil {
		return recordError(in.Record, s.err)
	}
	return nil
}

func (s *scanner) basis(in *Brief) {
	for name := range s.members() {
		switch name {
		case "revision":
			in.Revision = s.text()
		case "gauges":
			s.decode(&in.Gauges)
		}
	}
}

// parseOpened reads as much of an opened record as says what is open.
func parseOpened(body string) (Opened, error) {
	var in Brief
	s := scanner{body: body}
	for name := range s.members() {
		if name == "inspection" {
			s.inspection(&in)
		}
	}
	if s.err == nil && (in.ID == "" || in.Tool == "") {
		s.err = errors.New("it does not say what is inspected")
	}
	own := strings.Clone // of the whole body's memory no more is held
	return Opened{Inspection: inspect.Inspection{ID: own(in.ID), Tool: inspect.Tool{ID: own(in.Tool)}, Stage: inspect.Stage(own(string(in.Stage))), Job: own(in.Job)}}, s.err
}

// said is one event of a readings record: an answer, or that one was taken back. Of any other event all is zero.
type said struct {
	to      Question
	reading inspect.Reading
	stands  bool // there is a reading, and it was not taken back
}

// appendSaid appends the events of a readings record, in order.
func appendSaid(events []said, body string) ([]said, error) {
	s := scanner{body: body}
	for name := range s.members() {
		if name != "events" {
			continue
		}
		for range s.elements() {
			events = append(events, said{})
			s.event(&events[len(events)-1])
		}
	}
	return events, s.err
}

func (s *scanner) event(event *said) {
	for name := range s.members() {
		switch name {
		case "reading":
			s.reading(&event.reading)
			event.to.Key = event.reading.Key()
			event.stands = true
		case "question":
			s.decode(&event.to)
		}
	}
}

func parseTaken(body string) (t Taken, err error) {
	s := scanner{body: body}
	for name := range s.members() {
		switch name {
		case "id":
			t.ID = s.text()
		case "events":
			t.Events = nil
			for range s.elements() {
				t.Events = append(t.Events, s.raw())
			}
		}
	}
	return t, s.err
}

// plainEvent reads an event of a readings record that is a reading with nothing about it that this scanner does not read: most
// are. Of any other it says that it is not plain.
func plainEvent(text string) (e Event, plain bool) {
	if !strings.HasPrefix(text, `{"what":"reading","reading":{`) || !utf8.ValidString(text) {
		return e, false
	}
	s := scanner{body: text}
	for name := range s.members() {
		switch name {
		case "what":
			e.What = s.text()
		case "reading":
			s.unknown = s.unknown || e.Reading != nil
			e.Reading = new(inspect.Reading)
			s.reading(e.Reading)
		case "by":
			e.By = s.text()
		default:
			return e, false
		}
	}
	return e, s.err == nil && !s.unknown
}

func (s *scanner) reading(r *inspect.Reading) {
	for name := range s.members() {
		switch name {
		case "feature":
			r.Feature = inspect.Feature(s.text())
		case "flute":
			r.Flute = s.integer()
		case "from_end":
			l := s.length()
			r.FromEnd = &l
		case "repeat":
			r.Repeat = s.integer()
		case "closing":
			r.Closing = s.boolean()
		case "on_shank":
			r.OnShank = s.boolean()
		case "over":
			l := s.length()
			r.Over = &l
		case "value":
			r.Value = s.length()
		case "text":
			r.Text = s.text()
		case "unit":
			r.Unit = length.Unit(s.text())
		case "gauge":
			r.Gauge = s.text()
		case "at":
			r.At = s.text()
		case "how":
			r.How = inspect.How(s.text())
		default:
			s.unknown = true
		}
	}
}

// scanner reads a record's body from front to back. The ledger gives none but JSON without spaces outside strings,
// so that is not checked again: of anything else a scanner makes an error or nonsense, never a panic.
type scanner struct {
	body string
	at   int   // how much of it is read
	err  error // the first; nothing is read after it

	unknown bool // a reading had a member that is not known here, or that no writer gives it twice
}

// members reads an object. It gives the name of each member; the loop reads the value or leaves it.
func (s *scanner) members() iter.Seq[string] {
	return func(yield func(string) bool) {
		s.literal('{')
		for s.more('}') {
			name := s.text()
			s.literal(':')
			value := s.at
			if !yield(name) {
				return
			}
			if s.at == value {
				s.value()
			}
		}
	}
}

// elements reads an array; the loop reads every value.
func (s *scanner) elements() func(func() bool) {
	return func(yield func() bool) {
		s.literal('[')
		for s.more(']') && yield() {
		}
	}
}

// more says whether a value follows before the end of an array or object.
func (s *scanner) more(end byte) bool {
	s.optional(',')
	return !s.optional(end) && s.err == nil
}

// null says whether null stands next, and reads it.
func (s *scanner) null() bool {
	if !strings.HasPrefix(s.body[s.at:], "null") {
		return false
	}
	s.at += len("null")
	return true
}

func (s *scanner) optional(c byte) bool {
	if s.at == len(s.body) || s.body[s.at] != c {
		return false
	}
	s.at++
	return true
}

func (s *scanner) literal(c byte) {
	if !s.optional(c) {
		s.fail(fmt.Errorf("want %q", c))
	}
}

// check ends the reading at an error.
func (s *scanner) check(err error) {
	if err != nil {
		s.fail(err)
	}
}

func (s *scanner) fail(err error) {
	if s.err == nil {
		s.err = fmt.Errorf("byte %d: %w", s.at, err)
	}
	s.at = len(s.body)
}

// value returns the next value as it is spelled.
func (s *scanner) value() string {
	rest := s.body[s.at:]
	end := valueEnd(rest)
	if end == 0 {
		s.fail(errors.New("want a value"))
	}
	s.at += end
	return rest[:end]
}

// valueEnd returns where the value ends that text begins with: where the array or object it stands in goes
// on or ends.
func valueEnd(text string) int {
	depth := 0
	for i := 0; i < len(text); i++ {
		switch text[i] {
		case '"':
			i += stringEnd(text[i:])
		case '{', '[':
			depth++
		case '}', ']':
			depth--
			if depth < 0 {
				return i
			}
		case ',':
			if depth == 0 {
				return i
			}
		}
	}
	return len(text)
}

// stringEnd returns where the closing quote is of the string that text begins with, 0 when there is none.
func stringEnd(text string) int {
	for i := 1; i < len(text); i++ {
		switch text[i] {
		case '"':
			return i
		case '\\':
			i++
		}
	}
	return 0
}

// text reads a string. Without escapes it shares memory with the body.
func (s *scanner) text() string {
	rest := s.body[s.at:]
	end := stringEnd(rest)
	if end == 0 || rest[0] != '"' {
		s.fail(errors.New("want a string"))
		return ""
	}
	s.at += end + 1
	if text := rest[1:end]; strings.IndexByte(text, '\\') < 0 {
		return text
	}
	var text string
	s.check(json.Unmarshal([]byte(rest[:end+1]), &text))
	return text
}

func (s *scanner) boolean() bool {
	value := s.value()
	if value != "true" && value != "false" {
		s.fail(errors.New("want true or false"))
	}
	return value == "true"
}

func (s *scanner) integer() int {
	n, err := strconv.Atoi(s.value())
	s.check(err)
	return n
}

func (s *scanner) unsigned() uint64 {
	n, err := strconv.ParseUint(s.value(), 10, 64)
	s.check(err)
	return n
}

// decodeText reads a string into what reads itself from one.
func (s *scanner) decodeText(v encoding.TextUnmarshaler) { s.check(v.UnmarshalText([]byte(s.text()))) }

// tasks reads what an inspection calls for.
func (s *scanner) tasks() []inspect.Task {
	tasks := []inspect.Task{}
	for range s.elements() {
		tasks = append(tasks, inspect.Task(s.text()))
	}
	return tasks
}

func (s *scanner) length() length.Length {
	l, err := length.Parse(s.text(), length.None)
	s.check(err)
	return l
}

// raw returns the next value as it is spelled, in memory of its own.
func (s *scanner) raw() json.RawMessage { return json.RawMessage(s.value()) }

// decode reads a value that is not worth a scanner of its own.
func (s *scanner) decode(v any) { s.check(json.Unmarshal([]byte(s.value()), v)) }
