package record

import (
	"cmp"
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
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
	Bench                    string // at which it was read
	Amended
	Record ledger.Record // the newest that counts, without its body
}

// opening is as much of an opened record or a summary as says what is inspected.
type opening struct {
	Inspection struct {
		ID   string `json:"id"`
		Tool struct {
			ID string `json:"id"`
		} `json:"tool"`
		Stage     inspect.Stage `json:"stage"`
		Job       string        `json:"job"`
		Inspector string        `json:"inspector"`
		Basis     struct {
			Revision string                        `json:"revision"`
			Gauges   map[string]inspect.Instrument `json:"gauges"`
		} `json:"basis"`
	} `json:"inspection"`
	Judgement struct {
		Verdict inspect.Verdict `json:"verdict"`
	} `json:"judgement"`
	Closed string `json:"closed"`
}

func parseBrief(body string) (Brief, error) {
	var o opening
	s := scanner{body: body}
	s.object(&o)
	in := o.Inspection
	return Brief{
		ID: in.ID, Tool: in.Tool.ID, Job: in.Job, Inspector: in.Inspector, Stage: in.Stage, Revision: in.Basis.Revision, Gauges: in.Basis.Gauges,
		Verdict: o.Judgement.Verdict, Closed: o.Closed,
	}, s.err
}

// parseOpened reads as much of an opened record as says what is open.
func parseOpened(body string) (Opened, error) {
	var o opening
	s := scanner{body: body}
	s.object(&o)
	in := o.Inspection
	if s.err == nil && (in.ID == "" || in.Tool.ID == "") {
		s.err = errors.New("it does not say what is inspected")
	}
	own := strings.Clone // of the whole body's memory no more is held
	return Opened{Inspection: inspect.Inspection{ID: own(in.ID), Tool: inspect.Tool{ID: own(in.Tool.ID)}, Stage: inspect.Stage(own(string(in.Stage))), Job: own(in.Job)}}, s.err
}

// outline reads as much of a summary as Outlines tells.
func (in *Inspection) outline(summary string) error {
	var o struct {
		Inspection struct {
			ID        string        `json:"id"`
			Tool      inspect.Tool  `json:"tool"`
			Stage     inspect.Stage `json:"stage"`
			Job       string        `json:"job"`
			Inspector string        `json:"inspector"`
			Grinder   string        `json:"grinder"`
			Wheel     string        `json:"wheel"`
			Divisions int           `json:"divisions"`
			EndsFed   int           `json:"ends_fed"`
			Basis     struct {
				Revision string `json:"revision"`
			} `json:"basis"`
		} `json:"inspection"`
		Judgement struct {
			Verdict  inspect.Verdict   `json:"verdict"`
			Work     []inspect.Work    `json:"work"`
			Findings []inspect.Finding `json:"findings"`
		} `json:"judgement"`
		Opened    string `json:"opened"`
		Closed    string `json:"closed"`
		Discarded string `json:"discarded"`
	}
	s := scanner{body: summary}
	if s.object(&o); s.err != nil {
		return recordError(in.Record, s.err)
	}
	i := o.Inspection
	in.ID, in.Tool, in.Stage, in.Job, in.Inspector, in.Basis.Revision = i.ID, i.Tool, i.Stage, i.Job, i.Inspector, i.Basis.Revision
	in.Grinder, in.Wheel, in.Divisions, in.EndsFed = i.Grinder, i.Wheel, i.Divisions, i.EndsFed
	in.Judgement.Verdict, in.Judgement.Work, in.Judgement.Findings = o.Judgement.Verdict, o.Judgement.Work, o.Judgement.Findings
	in.Opened, in.Closed, in.Discarded = o.Opened, o.Closed, o.Discarded
	return nil
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
			s.object(&event.reading)
			event.to.Key = event.reading.Key()
			event.stands = true
		case "question":
			s.decode(&event.to)
		}
	}
}

func parseTaken(body string) (t Taken, err error) {
	s := scanner{body: body}
	s.object(&t)
	return t, s.err
}

// plain reads an object that is JSON into the struct that v points to as encoding/json does, and says whether it could: it cannot
// where the object is not spelled as a writer does, or has something in it that is not known here. Then v holds nonsense.
func plain(body string, v any) bool {
	s := scanner{body: body}
	s.object(v)
	return s.err == nil && !s.odd
}

// unmarshal is json.Unmarshal of an object, and mostly takes half the time. It does not rest on the body's being JSON: of lines that
// a register took only the chain is checked.
func unmarshal[T any](body []byte, v *T) error {
	if ledger.IsCompactJSON(body) && plain(string(body), v) {
		return nil
	}
	*v = *new(T)
	return json.Unmarshal(body, v)
}

// scanner reads a record's body from front to back. The ledger gives none but JSON without spaces outside strings,
// so that is not checked again: of anything else a scanner makes an error or nonsense, never a panic.
type scanner struct {
	body string
	at   int   // how much of it is read
	err  error // the first; nothing is read after it
	odd  bool  // an object that was read into a struct has a member that this does not know, or one not in its place or twice
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

// object reads an object into the struct that v points to, by the names in its tags; what it has no field for is left out. The
// texts share memory with the body, and what is kept as it is spelled does not.
func (s *scanner) object(v any) { s.structure(reflect.ValueOf(v).Elem()) }

func (s *scanner) structure(v reflect.Value) {
	fields := fieldsOf(v.Type())
	next := 0 // they mostly come in order
	for name := range s.members() {
		named := func(f field) bool { return f.name == name }
		i := next + slices.IndexFunc(fields[next:], named)
		if i < next {
			s.odd = true
			if i = slices.IndexFunc(fields, named); i < 0 {
				continue
			}
		}
		fields[i].read(s, v.Field(fields[i].index))
		next = i + 1
	}
}

// field is by what name a field of a struct stands in JSON, and how it is read.
type field struct {
	name  string
	index int
	read  func(*scanner, reflect.Value)
}

var fields sync.Map // of structs, by type

func fieldsOf(t reflect.Type) []field {
	if known, is := fields.Load(t); is {
		return known.([]field)
	}
	var all []field
	for i := range t.NumField() {
		f := t.Field(i)
		if tag := f.Tag.Get("json"); tag != "-" {
			name, _, _ := strings.Cut(tag, ",")
			all = append(all, field{cmp.Or(name, f.Name), i, readerOf(f.Type)})
		}
	}
	fields.Store(t, all)
	return all
}

// readerOf returns how a value of a type is read. Of those that may be null here, a pointer, a list, a map or what is left to the
// json package, null leaves it as it is.
func readerOf(t reflect.Type) func(*scanner, reflect.Value) {
	switch reflect.New(t).Interface().(type) {
	case *length.Length:
		return func(s *scanner, v reflect.Value) { v.SetInt(int64(s.length())) }
	case *json.RawMessage:
		return func(s *scanner, v reflect.Value) { v.SetBytes([]byte(s.value())) }
	case *[]json.RawMessage:
		return func(s *scanner, v reflect.Value) {
			var all []json.RawMessage
			for range s.elements() {
				all = append(all, json.RawMessage(s.value()))
			}
			v.Set(reflect.ValueOf(all))
		}
	case *[]inspect.Task:
		return func(s *scanner, v reflect.Value) {
			if !s.null() {
				v.Set(reflect.ValueOf(s.tasks()))
			}
		}
	case encoding.TextUnmarshaler:
		return func(s *scanner, v reflect.Value) { s.decodeText(v.Addr().Interface().(encoding.TextUnmarshaler)) }
	}
	switch t.Kind() {
	case reflect.String:
		return func(s *scanner, v reflect.Value) { v.SetString(s.text()) }
	case reflect.Int:
		return func(s *scanner, v reflect.Value) { v.SetInt(int64(s.integer())) }
	case reflect.Bool:
		return func(s *scanner, v reflect.Value) { v.SetBool(s.boolean()) }
	case reflect.Float64:
		return func(s *scanner, v reflect.Value) { v.SetFloat(s.float()) }
	case reflect.Struct:
		if !slices.ContainsFunc(reflect.VisibleFields(t), func(f reflect.StructField) bool { return f.Anonymous || !f.IsExported() }) {
			return (*scanner).structure
		}
	case reflect.Slice:
		read := readerOf(t.Elem())
		return func(s *scanner, v reflect.Value) {
			s.whole(v, func() {
				v.Set(reflect.MakeSlice(t, 0, 0))
				for range s.elements() {
					n := v.Len()
					v.Grow(1)
					v.SetLen(n + 1)
					read(s, v.Index(n))
				}
			})
		}
	case reflect.Map:
		if t.Key().Kind() == reflect.String {
			read := readerOf(t.Elem())
			return func(s *scanner, v reflect.Value) {
				s.whole(v, func() {
					v.Set(reflect.MakeMap(t))
					for name := range s.members() {
						value := reflect.New(t.Elem()).Elem()
						read(s, value)
						v.SetMapIndex(reflect.ValueOf(name).Convert(t.Key()), value)
					}
				})
			}
		}
	case reflect.Pointer:
		read := readerOf(t.Elem())
		return func(s *scanner, v reflect.Value) {
			if !s.null() {
				v.Set(reflect.New(t.Elem()))
				read(s, v.Elem())
			}
		}
	}
	return func(s *scanner, v reflect.Value) { s.decode(v.Addr().Interface()) }
}

// whole reads a list or a map into v; null leaves it as it is. One that is odd, or cannot be read, is left to the json package.
func (s *scanner) whole(v reflect.Value, read func()) {
	if s.null() {
		return
	}
	at, odd := s.at, s.odd
	s.odd = false
	if read(); s.err != nil || s.odd {
		s.at, s.err = at, nil
		v.SetZero()
		s.decode(v.Addr().Interface())
	}
	s.odd = odd
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

// text reads a string. As it mostly is, without escapes, it shares memory with the body.
func (s *scanner) text() string {
	rest := s.body[s.at:]
	if rest != "" && rest[0] == '"' {
		for i := 1; i < len(rest) && rest[i] < utf8.RuneSelf && rest[i] != '\\'; i++ {
			if rest[i] == '"' {
				s.at += i + 1
				return rest[1:i]
			}
		}
	}
	end := stringEnd(rest)
	if end == 0 || rest[0] != '"' {
		s.fail(errors.New("want a string"))
		return ""
	}
	s.at += end + 1
	if text := rest[1:end]; strings.IndexByte(text, '\\') < 0 && utf8.ValidString(text) {
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

func (s *scanner) float() float64 {
	f, err := strconv.ParseFloat(s.value(), 64)
	s.check(err)
	return f
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

// decode reads a value that is not worth a scanner of its own.
func (s *scanner) decode(v any) { s.check(json.Unmarshal([]byte(s.value()), v)) }
