package ledger

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"regexp"
	"strings"
	"testing"
)

//go:embed line.go
var lineSource []byte

//go:embed draft.go
var draftSource []byte

// documented returns the line that a comment shows as one of a real file.
func documented(t testing.TB, source []byte) []byte {
	t.Helper()
	found := regexp.MustCompile(`(?m)^//\t([0-9a-f]{8} [0-9]+ .*)$`).FindAllSubmatch(source, -1)
	if len(found) != 1 {
		t.Fatalf("%d lines shown, want 1", len(found))
	}
	return found[0][1]
}

// TestDocumentedLine reads the line that is written down beside the code, field by field, and with nothing
// but a general JSON reader.
func TestDocumentedLine(t *testing.T) {
	text := documented(t, lineSource)
	l, err := parseLine(text)
	if err != nil {
		t.Fatal(err)
	}
	want := envelope{
		UTC: "2026-11-12T08:15:32.000000Z", SinceBoot: 2_000_000, Boot: "boot-1", Synchronised: true,
		Subject: "tool:EM-0412", Opens: "i-7", More: 1,
	}
	got := l.envelope
	if got.Earlier == nil || *got.Earlier != (position{1, 247}) {
		t.Errorf("earlier %v, want segment 1, offset 247", got.Earlier)
	}
	if got.About == nil || got.About.Bench != "c3f17c2da90490f3" || got.About.Seq != 2 || !strings.HasPrefix(got.About.Hash, "5ecc38b3") {
		t.Errorf("about %v, want number 2 of bench c3f17c2da90490f3", got.About)
	}
	if got.Earlier, got.About = nil, nil; got != want {
		t.Errorf("envelope %+v, want %+v", got, want)
	}
	if l.seq != 3 || l.counter != 5 || l.kind != "opened" || string(l.body) != `{"stage":"before"}` {
		t.Errorf("number %d, kind %q, body %s", l.seq, l.kind, l.body)
	}
	var plain struct {
		Format  int
		Subject string
		Body    struct{ Stage string }
	}
	if err := json.Unmarshal(bytes.SplitN(text, []byte(" "), 6)[5], &plain); err != nil {
		t.Fatal(err)
	}
	if plain.Format != 2 || plain.Subject != "tool:EM-0412" || plain.Body.Stage != "before" {
		t.Errorf("a JSON reader finds %+v", plain)
	}
}

func TestDocumentedDraftLine(t *testing.T) {
	l, err := parseDraftLine(documented(t, draftSource))
	if err != nil || l.number != 2 || l.mark != '+' || string(l.text) != `{"feature":"land","flute":1,"value":"0.0312in"}` {
		t.Errorf("number %d, mark %c, text %s, %v", l.number, l.mark, l.text, err)
	}
}

// TestCheckValue compares the check value with the published ones of CRC-32C: RFC 3720, appendix B.4, and
// the check value of CRC-32/ISCSI in the catalogue of parametrised CRC algorithms.
func TestCheckValue(t *testing.T) {
	ascending := make([]byte, 32)
	for i := range ascending {
		ascending[i] = byte(i)
	}
	tests := []struct {
		text []byte
		want uint32
	}{
		{make([]byte, 32), 0x8a9136aa},
		{bytes.Repeat([]byte{0xff}, 32), 0x62a8ab43},
		{ascending, 0x46dd794e},
		{[]byte("123456789"), 0xe3069283},
	}
	for _, test := range tests {
		if got := crcOf(test.text); got != test.want {
			t.Errorf("%q: %08x, want %08x", test.text, got, test.want)
		}
	}
}

// respelled returns the documented line with a piece of it replaced and the check value set right.
func respelled(t *testing.T, old, new string) []byte {
	t.Helper()
	text := documented(t, lineSource)
	changed := bytes.Replace(text[9:], []byte(old), []byte(new), 1)
	if bytes.Equal(changed, text[9:]) {
		t.Fatalf("%q is not in the line", old)
	}
	return bytes.TrimSuffix(withCheck(changed), []byte("\n"))
}

// TestOtherSpellings refuses lines that say the same in another way, or what no writer says, though their
// check value is right.
func TestOtherSpellings(t *testing.T) {
	tests := []struct{ name, old, new string }{
		{"leading zero", "3 5 opened", "03 5 opened"},
		{"sign", "3 5 opened", "+3 5 opened"},
		{"number 0", "3 5 opened", "0 5 opened"},
		{"two spaces", "3 5 opened", "3  5 opened"},
		{"no counter", "3 5 opened", "3 opened"},
		{"leading zero of the counter", "3 5 opened", "3 05 opened"},
		{"counter less than the number", "3 5 opened", "3 2 opened"},
		{"counter beyond all reason", "3 5 opened", "3 4611686018427387905 opened"},
		{"upper-case kind", "opened", "Opened"},
		{"upper-case hash", "5ecc", "5ECC"},
		{"short hash", "5ecc", "5ec"},
		{"long hash", "5ecc", "5ecc5"},
		{"format missing", `"format":2,`, ``},
		{"format as text", `"format":2`, `"format":"2"`},
		{"format with zero", `"format":2`, `"format":02`},
		{"format of before", `"format":2`, `"format":1`},
		{"names in another order", `"synchronised":true,"subject":"tool:EM-0412"`, `"subject":"tool:EM-0412","synchronised":true`},
		{"further name", `"opens"`, `"colour":1,"opens"`},
		{"space in JSON", `"opens":`, `"opens": `},
		{"number as 2e6", "2000000", "2e6"},
		{"negative time", "2000000", "-2000000"},
		{"leading zero in JSON", "247", "0247"},
		{"time in another zone", "32.000000Z", "32.000000+00:00"},
		{"time with fewer decimals", "32.000000Z", "32.0Z"},
		{"boot id with a quote", "boot-1", `boot\"1`},
		{"draft without a name", `"opens":"i-7"`, `"opens":""`},
		{"about no bench", `"bench":"c3f17c2da90490f3"`, `"bench":"13f17c2da90490f3"`},
		{"about number 0", `"seq":2`, `"seq":0`},
		{"about with a short hash", `"sha256":"5e`, `"sha256":"5`},
		{"more is 0", `"more":1`, `"more":0`},
		{"no such day", "2026-11-12", "2026-11-31"},
		{"escaped letter in subject", "tool:", `\u0074ool:`},
		{"empty subject", `"subject":"tool:EM-0412",`, `"subject":"",`},
		{"no body", `,"body":{"stage":"before"}`, ``},
		{"something behind", `"before"}}`, `"before"}} `},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if l, err := parseLine(respelled(t, test.old, test.new)); err == nil {
				t.Errorf("read as %+v", l)
			}
		})
	}
	if _, err := parseLine(respelled(t, "before", "between")); err != nil {
		t.Errorf("a line that differs in its body only: %v", err)
	}
}

func TestNewerFormat(t *testing.T) {
	_, err := parseLine(respelled(t, `"format":2,"utc":"2026`, `"format":3,"when":"2026`))
	if !errors.Is(err, errNewer) || !strings.Contains(err.Error(), "format 3, this program reads 2") {
		t.Errorf("%v, want %v", err, errNewer)
	}
}

// TestNewerLedger leaves alone a chain that a later version has gone on with.
func TestNewerLedger(t *testing.T) {
	m, _ := smallLedger(t)
	name := m.lastSegment()
	line := bytes.TrimSuffix(m.nodes[name].data, []byte("\n"))
	line = line[bytes.LastIndexByte(line, '\n')+1:]
	newer := withCheck(bytes.Replace(line[9:], []byte(`"format":2`), []byte(`"format":3`), 1))
	m.nodes[name].data = append(m.nodes[name].data, newer...)
	l, err := Open("ledger", Options{Clock: fixedClock(), fsys: m})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Append(entry("tool", "t:1", 1)); !errors.Is(err, errNewer) {
		t.Errorf("Append gave %v, want %v", err, errNewer)
	}
}

// FuzzParseLine prints whatever it can read, and expects the same bytes.
func FuzzParseLine(f *testing.F) {
	f.Add(documented(f, lineSource)[9:])
	f.Add([]byte(`3 tool 00 {"format":2,"utc":"2026-11-12T08:15:32.000000Z"}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		text = bytes.TrimSuffix(withCheck(text), []byte("\n"))
		l, err := parseLine(text)
		if err != nil {
			return
		}
		if got := appendLine(nil, l); string(got) != string(text)+"\n" {
			t.Errorf("got %q, want %q", got, text)
		}
	})
}

// TestSpelling writes lines with every field at its limits and reads them back.
func TestSpelling(t *testing.T) {
	tests := []line{
		{seq: 1, counter: 1, kind: "a", body: []byte(`null`), envelope: envelope{UTC: "0001-01-01T00:00:00.000000Z"}},
		{seq: 1<<62 - 1, counter: 1 << 62, kind: "concession-by-hand", body: []byte(`"` + strings.Repeat("é", 1000) + `"`), envelope: envelope{
			UTC: "9999-12-31T23:59:59.999999Z", SinceBoot: 1<<63 - 1, Boot: "3f0c2d4e-5a6f", Synchronised: true,
			Subject: `tool:1/2" \ mill <ø & 3>`, Earlier: &position{1<<64 - 1, 1<<63 - 1}, Opens: "Ärger/1", Closes: &closing{"b.c-d", 7, digest{}.String()}, More: 1<<64 - 1,
			About: &Ref{"a0b1c2d3e4f50617", 1<<64 - 1, digest{15}.String()},
		}},
	}
	for _, want := range tests {
		text := bytes.TrimSuffix(appendLine(nil, want), []byte("\n"))
		got, err := parseLine(text)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		if again := appendLine(nil, got); !bytes.Equal(again, append(text, '\n')) {
			t.Errorf("%s printed back as %s", text, again)
		}
		if got.Subject != want.Subject || got.seq != want.seq || got.SinceBoot != want.SinceBoot || !bytes.Equal(got.body, want.body) {
			t.Errorf("got %+v, want %+v", got, want)
		}
		if !json.Valid(bytes.SplitN(text, []byte(" "), 6)[5]) {
			t.Errorf("not JSON: %s", text)
		}
	}
}
