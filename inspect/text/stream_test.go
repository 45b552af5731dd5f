package text

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

func TestShown(t *testing.T) {
	const in = "id\té \u05e9\r\nesc \x1b[2J\x00\u202eend\xff\n"
	const want = "id\té \u05e9\r\nesc <U+001B>[2J<U+0000><U+202E>end<FF>\n"
	for _, size := range []int{1, 2, 3, 5, 1000} {
		var b bytes.Buffer
		w := Shown(&b)
		for rest := []byte(in); len(rest) > 0; rest = rest[min(size, len(rest)):] {
			piece := rest[:min(size, len(rest))]
			if n, err := w.Write(piece); err != nil || n != len(piece) {
				t.Fatal(n, err)
			}
		}
		if got := b.String(); got != want {
			t.Errorf("in pieces of %d: %q, want %q", size, got, want)
		}
	}
}

func TestReader(t *testing.T) {
	tests := []struct{ in, wrong string }{
		{"\ufeffa,b\r\n1,é\t2\n", ""},
		{"", ""},
		{strings.Repeat("x", 100), ""},
		{strings.Repeat("x", 101), "more than 100 bytes"},
		{"a\nb\x1bc", "line 2: character 2 is a control character (escape)"},
		{"a\n\n\xff", "line 3: character 1 is not a character"},
		{"a\ufeff", "line 1: character 2"},
		{"a\u202e", "turns the direction of writing (U+202E)"},
	}
	for _, test := range tests {
		for _, r := range []io.Reader{strings.NewReader(test.in), iotest.OneByteReader(strings.NewReader(test.in)), iotest.DataErrReader(strings.NewReader(test.in))} {
			got, err := io.ReadAll(Reader(r, 100))
			if test.wrong == "" && (err != nil || string(got) != test.in) {
				t.Errorf("%q: %q, %v", test.in, got, err)
			}
			if test.wrong != "" && (err == nil || !strings.Contains(err.Error(), test.wrong)) {
				t.Errorf("%q: %v, want %q", test.in, err, test.wrong)
			}
		}
	}
	if _, err := io.ReadAll(Reader(endless{}, 1<<20)); err == nil || !strings.Contains(err.Error(), "more than 1 MB") {
		t.Errorf("without end: %v", err)
	}
}

// endless is a file without end.
type endless struct{}

func (endless) Read(p []byte) (int, error) { return copy(p, "0.001\n"), nil }

func TestCheckAll(t *testing.T) {
	body := map[string]any{"by": "Person A", "seen": []any{map[string]any{"note": "a\u202eb", "text": "\x02+1.5"}}}
	if err := CheckAll(body, "text"); err == nil || !strings.Contains(err.Error(), "note: character 2") {
		t.Errorf("%v, want the note", err)
	}
	body["seen"].([]any)[0].(map[string]any)["note"] = "ab"
	if err := CheckAll(body, "text"); err != nil {
		t.Error(err)
	}
	if err := CheckAll(body); err == nil {
		t.Error("the raw text was taken")
	}
}
