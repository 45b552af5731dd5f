package record

import (
	"bytes"
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Whatever was read, seen, skipped and taken back in an inspection, and in whatever order: the rows have the
// readings that the draft itself comes to.
func FuzzStanding(f *testing.F) {
	f.Add([]byte{0, 8, 16, 12, 5, 0, 6, 7, 64, 72, 69, 64}, "0.0001", "indicator")
	f.Add([]byte{0, 128, 13, 133}, "0.1", "")
	f.Add([]byte{0, 16, 0, 32, 8, 9, 40, 1, 1}, `"\<é`+"\u2028", "")
	f.Fuzz(func(t *testing.T, script []byte, text, gauge string) {
		body := marshal(t, scripted(t, script, text, gauge))
		var readings Taken
		if err := json.Unmarshal(body, &readings); err != nil {
			t.Fatal(err)
		}
		if scanned, err := parseTaken(string(body)); err != nil || cmp.Diff(readings, scanned) != "" {
			t.Errorf("%v in %s\n-json +scanned:\n%s", err, body, cmp.Diff(readings, scanned))
		}
		in, err := readings.Fold()
		if err != nil {
			t.Fatal(err)
		}
		var want Draft
		for _, line := range readings.Events {
			e, err := ReadEvent(line) // by encoding/json
			if err == nil {
				err = want.Take(e)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if diff := cmp.Diff(want.Inspection.Readings, in.Inspection.Readings); diff != "" {
			t.Errorf("%s\n-want +fold:\n%s", body, diff)
		}
		w := standingReadings{later: map[Question]bool{}}
		for range 2 { // a record does not bear on the next
			if w.said, err = appendSaid(w.said[:0], string(body)); err != nil {
				t.Fatalf("%v in %s", err, body)
			}
			w.dropTakenBack()
		}
		var got []inspect.Reading
		for _, said := range w.said {
			if said.stands {
				got = append(got, said.reading)
			}
		}
		if diff := cmp.Diff(in.Inspection.Readings, got); diff != "" {
			t.Errorf("%s\n-fold +rows:\n%s", body, diff)
		}
	})
}

// Whatever is wrong or odd in an event: it is read as encoding/json reads it, and refused where that refuses it.
func FuzzEvent(f *testing.F) {
	const begin = `{"what":"reading","reading":{`
	for _, rest := range []string{
		`"feature":"radial-runout","flute":1,"repeat":1,"value":"0.0030mm","text":"0.0030","unit":"mm","gauge":"dial","at":"2026-11-27T20:44:17.222871Z"},"by":"A. Vale"}`,
		`"feature":"diameter","value":"12.65mm","text":"12.65","unit":"mm","how":"ring","from_end":"5mm","closing":true,"on_shank":false,"over":"1mm"}}`,
		`"value":"1mm","Value":"2mm"}}`, `"closing":null}}`, `"closing":1}}`, `"flute":1.0}}`, `"value":null}}`, `"value":"1"}}`, `"text":"\u0041\ud800"}}`, "\"text\":\"\xff\"}}",
		`"value":"1mm"},"reading":{"flute":2}}`, `"value":"1mm"},"what":"skip"}`, `"value":"1mm"},"question":{}}`, `"new":{"value":"1mm"}}}`, `}}`, `"flute":1}} `, `"flute":1`,
	} {
		f.Add(begin + rest)
	}
	for _, rest := range []string{
		`"at":"2026-11-27T20:44:17.184212Z","seen":{"sight":"cracks","yes":false}}`, `"seen":{"sight":"chipped-corner","yes":true,"unsure":true,"flute":3,"length":"0.2mm","note":"\u00e9"}}`,
		`"seen":{"sight":"burn","yes":null}}`, `"seen":{},"seen":{"yes":true}}`, `"seen":{"where":1}}`, `"seen":null}`,
	} {
		f.Add(`{"what":"seen",` + rest)
	}
	f.Fuzz(func(t *testing.T, text string) {
		var got Event
		err := unmarshal([]byte(text), &got)
		want, wanted := ReadEvent([]byte(text)) // by encoding/json
		if diff := cmp.Diff(want, got); (err == nil) != (wanted == nil) || err == nil && diff != "" {
			t.Errorf("got %v, want %v of %s\n-want +got:\n%s", err, wanted, text, diff)
		}
	})
}

// Events are plain as a bench writes them.
func TestEventsArePlain(t *testing.T) {
	for _, line := range scripted(t, []byte{0, 8, 16, 32, 64, 128, 4, 5, 6, 7}, "0.0001", "indicator").Events {
		if !plain(string(line), new(Event)) {
			t.Errorf("%s is not plain", line)
		}
	}
}

// filled gives all of a value something, down to a depth: in lists and maps one thing each.
func filled(v reflect.Value, depth int) {
	if depth == 0 {
		return
	}
	switch p := v.Addr().Interface().(type) {
	case *inspect.Quantity:
		*p = inspect.AngleQuantity(length.Degree * 19 / 2)
		return
	case *json.RawMessage:
		*p = json.RawMessage(`{"a":[null,1]}`)
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(`é "1"`)
	case reflect.Int, reflect.Int64:
		v.SetInt(-12_700_000)
	case reflect.Float64:
		v.SetFloat(-1.5e-7)
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		filled(v.Elem(), depth)
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		filled(v.Index(0), depth-1)
	case reflect.Map:
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		filled(key, depth)
		filled(value, depth-1)
		v.Set(reflect.MakeMap(v.Type()))
		v.SetMapIndex(key, value)
	case reflect.Struct:
		for i := range v.NumField() {
			filled(v.Field(i), depth-1)
		}
	}
}

func filledSummary(t testing.TB) []byte {
	var s Summary
	filled(reflect.ValueOf(&s).Elem(), 10)
	return marshal(t, s)
}

// A summary is plain as a bench writes it, whatever stands in it.
func TestSummariesArePlain(t *testing.T) {
	in := inspect.Inspection{ID: "EM-1.1", Tool: testTool("EM-1"), Stage: inspect.Between, Basis: inspect.DefaultBasis(testTool("EM-1")), Readings: []inspect.Reading{reading(1, 1, 0), reading(2, 1, 3)}}
	for _, body := range [][]byte{filledSummary(t), marshal(t, Summary{}), marshal(t, Summary{Inspection: in, Judgement: inspect.Judge(in)})} {
		var got, want Summary
		if !plain(string(body), &got) {
			t.Errorf("%s is not plain", body)
		}
		if err := json.Unmarshal(body, &want); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%v in %s\n-want +got:\n%s", err, body, cmp.Diff(want, got))
		}
	}
}

// Whatever is wrong or odd in a summary: it is read as encoding/json reads it, and refused where that refuses it.
func FuzzSummary(f *testing.F) {
	body := string(filledSummary(f))
	for _, x := range []struct{ was, is string }{
		{`"id":`, `"ID":`}, {`"id":`, `"unknown":[{}],"id":`}, {`"id":`, `"id":"a","id":`}, {`"tool":{`, `"tool":null,"t":{`}, {`:true`, `:null`}, {`:true`, `:1`}, {`"9.5deg"`, `null`}, {`"9.5deg"`, `"9.5"`},
		{`"9.5deg"`, `"x"`}, {`"9.5deg"`, `9.5`}, {`-12700000`, `1.0`}, {`-12700000`, `1e400`}, {`-12700000`, `99999999999999999999`}, {`-1.5e-7`, `1e400`}, {`-1.5e-7`, `null`}, {`"findings":[{`, `"findings":[null,{`},
		{`"findings":[{`, `"findings":[{"Feature":"x"},{`}, {`"findings":[{`, `"findings":[],"f":[{`}, {`"findings":[{`, `"findings":null,"f":[{`}, {`"limits":{`, `"limits":{"\u00e9":null,`}, {`"limits":{`, `"limits":null,"l":{`},
		{`"limits":{`, `"limits":{"a":{"least":"1mm"},"a":{"most":"1mm"},`}, {`é`, "\xff"}, {`é`, `\ud800`}, {`"work":[{`, `"work":[[],{`}, {`"flute":`, `"flute":{},"x":`},
		{`,"judgement"`, `"judgement"`}, {`:true`, `: true`}, {`:true`, `:truely`}, {`-12700000`, `+1`}, {`-12700000`, `01`}, {`-1.5e-7`, `0x1p-2`}, {`-1.5e-7`, `inf`}, {`[{`, `[,{`}, {`}`, ``}, {`é`, "\n"},
	} {
		at := strings.Index(body, x.was)
		if at < 0 {
			f.Fatalf("no %s in %s", x.was, body)
		}
		f.Add(uint(at), uint(len(x.was)), x.is)
	}
	f.Fuzz(func(t *testing.T, at, cut uint, put string) {
		at = min(at, uint(len(body)))
		text := []byte(body[:at] + put + body[min(at+min(cut, uint(len(body))), uint(len(body))):])
		var got, want Summary
		err, wanted := unmarshal(text, &got), json.Unmarshal(text, &want)
		if (err == nil) != (wanted == nil) || err == nil && !reflect.DeepEqual(got, want) {
			t.Errorf("got %v, want %v of %s\n-want +got:\n%s", err, wanted, text, cmp.Diff(want, got))
		}
	})
}

func marshal(t testing.TB, v any) json.RawMessage {
	t.Helper()
	text, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// scripted returns the events of an invented inspection, one for each byte of a script: the low bits say what
// happened, the others to which of a few questions.
func scripted(t *testing.T, script []byte, text, gauge string) Taken {
	fromEnd := 5 * length.Millimetre
	begun := inspect.Inspection{ID: "EM-1.1", Basis: inspect.DefaultBasis(inspect.Tool{})}
	event := Event{What: "begun", Inspection: &begun, Plan: json.RawMessage(`{"repeats":2}`)}
	r := Taken{ID: begun.ID, Events: []json.RawMessage{marshal(t, event)}}
	for i, b := range script {
		reading := inspect.Reading{
			Feature: inspect.RadialRunout, Flute: int(b >> 3 & 1), Repeat: int(b >> 4 & 1), Closing: b>>5&1 == 1,
			Value: length.Length(i-1) * length.Tenth, Text: text, Unit: length.In, Gauge: gauge, At: "2026-11-12T08:15:30.000000Z", How: inspect.ByVee, DropBy: "x",
		}
		if b>>6&1 == 1 {
			reading.FromEnd = &fromEnd
		}
		if reading.OnShank = b>>7 == 1; reading.OnShank {
			reading.Over = &fromEnd
		}
		question := Question{Key: reading.Key()}
		switch b & 7 {
		default:
			event = Event{What: "reading", Reading: &reading}
		case 4:
			event = Event{What: "skip", Question: &question, Reason: text}
		case 5:
			event = Event{What: "retake", Question: &question}
		case 6:
			event = Event{What: "seen", Seen: &inspect.Seen{Sight: inspect.Burn, Note: text}}
		case 7:
			event = Event{What: "sweep", Sweep: &Sweep{Gauge: gauge, Trace: "0 0.001"}}
		}
		r.Events = append(r.Events, marshal(t, event))
	}
	return r
}

// What the rows need of a summary is what encoding/json finds in it.
func FuzzBrief(f *testing.F) {
	f.Add("EM-1.1", "J-7", "Vale", "indicator", true)
	f.Add(`"\`, "<&>", "\u2028\x00", "é", false)
	f.Fuzz(func(t *testing.T, id, job, inspector, gauge string, gauges bool) {
		in := inspect.Inspection{ID: id, Tool: inspect.Tool{ID: id + "t"}, Job: job, Stage: inspect.Between, Inspector: inspector}
		in.Basis = inspect.DefaultBasis(in.Tool)
		in.Basis.Revision = job + inspector
		if gauges {
			in.Basis.Gauges = map[string]inspect.Instrument{gauge: {Serial: id, CalibrationDue: "2027-01-01"}}
		}
		body := marshal(t, Summary{
			Inspection: in, Closed: "2026-11-12T08:15:30.000000Z",
			Judgement: inspect.Judgement{Verdict: inspect.Undecided, Notes: []inspect.Note{{What: inspect.NoPlan, Detail: job}}, Findings: []inspect.Finding{{Source: inspector, Verdict: inspect.Reject}}},
		})
		var s Summary
		if err := json.Unmarshal(body, &s); err != nil {
			t.Fatal(err)
		}
		want := Brief{
			ID: s.Inspection.ID, Tool: s.Inspection.Tool.ID, Job: s.Inspection.Job, Inspector: s.Inspection.Inspector,
			Stage: s.Inspection.Stage, Revision: s.Inspection.Basis.Revision, Gauges: s.Inspection.Basis.Gauges,
			Verdict: s.Judgement.Verdict, Closed: s.Closed,
		}
		got, err := parseBrief(string(body))
		if diff := cmp.Diff(want, got); diff != "" || err != nil {
			t.Errorf("%v in %s\n-want +got:\n%s", err, body, diff)
		}
	})
}

// A scanner takes any object apart as encoding/json does. Of what is no JSON it makes anything but a panic or an
// endless loop.
func FuzzScanner(f *testing.F) {
	for _, body := range []string{
		`{"a":1,"b":[1,"]",{"c":"}"}],"d":{"e":{}},"f":"\"","\u0067":null}`, `{}`, `{"a":"\\","b":-1.5e3}`,
		``, `{`, `{"a`, `{"a":`, `{"a":}`, `{"a":1`, `{,,}`, `[`, `{"a\`, `{"":"}`,
	} {
		f.Add(body)
	}
	f.Fuzz(func(t *testing.T, body string) {
		got := map[string]string{}
		s := scanner{body: body}
		for name := range s.members() {
			if len(name)%2 == 0 { // the others are left to members
				got[name] = s.value()
			} else {
				got[name] = s.body[s.at:][:valueEnd(s.body[s.at:])]
			}
		}
		var want map[string]json.RawMessage
		var compact bytes.Buffer
		if json.Compact(&compact, []byte(body)) != nil || compact.String() != body || !utf8.ValidString(body) || json.Unmarshal([]byte(body), &want) != nil || want == nil {
			return
		}
		if s.err != nil || s.at != len(body) || len(got) != len(want) {
			t.Fatalf("%s: read %q to byte %d, %v", body, got, s.at, s.err)
		}
		for name, value := range want {
			if got[name] != string(value) {
				t.Errorf("%s: %q: got %s, want %s", body, name, got[name], value)
			}
		}
	})
}

// A body that is not what it should be is an error.
func TestWrongBodies(t *testing.T) {
	for _, body := range []string{
		``, `[]`, `{"events":{}}`, `{"events":[1]}`, `{"events":[{"reading":[]}]}`, `{"events":[{"reading":{"flute":"1"}}]}`,
		`{"events":[{"reading":{"value":1}}]}`, `{"events":[{"reading":{"value":"1"}}]}`, `{"events":[{"reading":{"text":null}}]}`,
		`{"events":[{"question":"x"}]}`, `{"events":[{"reading":{}}`,
	} {
		if got, err := appendSaid(nil, body); err == nil {
			t.Errorf("%s: got %+v, want an error", body, got)
		}
	}
}
