package ledger

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

// compactByLibrary is what IsCompactJSON must say, by package encoding/json.
func compactByLibrary(text []byte) bool {
	var buf bytes.Buffer
	return json.Compact(&buf, text) == nil && bytes.Equal(buf.Bytes(), text)
}

var jsonSamples = []string{
	`null`, `true`, `false`, `0`, `-0`, `-1`, `12.5`, `1e9`, `1E-09`, `-1.25e+30`, `""`, `"a b"`, `"\"\\\/\b\f\n\r\t\u00e9"`, `[]`, `{}`,
	`[1,[2,{"a":[]}],""]`, `{"a":1,"b":{"c":null},"":0}`, `"é"`,
	``, ` `, `nul`, `nulls`, `01`, `-`, `+1`, `.5`, `1.`, `1e`, `1e+`, `0x1`, `"`, `"\"`, `"\x"`, `"\u12g4"`, `"\u12`, "\"\n\"", "\"\x7f\"", "\"\x1f\"",
	`[`, `]`, `[1`, `[1,]`, `[,1]`, `[1 ]`, `[1, 2]`, `{`, `{"a"}`, `{"a":}`, `{"a":1,}`, `{a:1}`, `{1:1}`, `{"a" :1}`, `{"a":1}}`, `1 `, ` 1`, `1 2`, `[1}`, `{"a":1]`,
}

func TestCompactJSON(t *testing.T) {
	for _, text := range jsonSamples {
		if got, want := IsCompactJSON([]byte(text)), compactByLibrary([]byte(text)); got != want {
			t.Errorf("%q: %v, want %v", text, got, want)
		}
	}
	for depth, want := range map[int]bool{maxDepth - 1: true, maxDepth: false} {
		if got := IsCompactJSON([]byte(strings.Repeat("[", depth) + "1" + strings.Repeat("]", depth))); got != want {
			t.Errorf("%d arrays in each other: %v, want %v", depth, got, want)
		}
	}
}

// TestCompactJSONChanged changes every sample at every byte.
func TestCompactJSONChanged(t *testing.T) {
	for _, sample := range jsonSamples {
		for i := range sample {
			for _, c := range []byte("\x00 \"\\/,:[]{}-+.eE019utfnb\x7f\xff") {
				text := []byte(sample)
				text[i] = c
				if got, want := IsCompactJSON(text), compactByLibrary(text); got != want {
					t.Errorf("%q: %v, want %v", text, got, want)
				}
			}
		}
	}
}

func FuzzCompactJSON(f *testing.F) {
	for _, text := range jsonSamples {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if got, want := IsCompactJSON(text), compactByLibrary(text); got != want && bytes.Count(text, []byte("[")) < 500 {
			t.Errorf("%q: %v, want %v", text, got, want)
		}
	})
}
