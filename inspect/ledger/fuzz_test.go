package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"slices"
	"strings"
	"testing"
)

// A head that is read prints as it was read.
func FuzzParseHead(f *testing.F) {
	for _, s := range []string{"a0b1c2d3e4f50617-12-0123456789abcdef", "", "--", "a0b1c2d3e4f50617-0-0123456789abcdef", "a0b1c2d3e4f50617-18446744073709551616-0123456789abcdef", "A0B1C2D3E4F50617-1-0123456789abcdef"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		h, err := ParseHead(s)
		if err == nil && h.String() != strings.ToLower(s) {
			t.Errorf("%q prints as %q", s, h)
		}
	})
}

// A draft's line that is read is spelled in one way only.
func FuzzParseDraftLine(f *testing.F) {
	for _, s := range []string{"2 + H {\"value\":1}", "1 - H 40", "01 + H x", "0 + H x", "2 +H x", "-1 + H x", "2 * H x", "2 + x", ""} {
		f.Add([]byte(strings.Replace(s, "H", strings.Repeat("0a", 32), 1)))
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		text := bytes.TrimSuffix(withCheck(body), []byte("\n"))
		l, err := parseDraftLine(text)
		if err != nil {
			return
		}
		if got := appendDraftLine(nil, l.number, l.mark, l.previous, l.text); !bytes.Equal(got, append(text, '\n')) {
			t.Errorf("%q prints as %q", text, got)
		}
	})
}

// draftOf returns a draft of lines that follow each other.
func draftOf(lines ...string) []byte {
	var data []byte
	var previous digest
	for i, text := range lines {
		start := len(data)
		data = appendDraftLine(data, i+1, '+', previous, []byte(text))
		previous = sha256.Sum256(data[start : len(data)-1])
	}
	return data
}

// Whatever a draft's file holds, every line that is given was appended so, and what is wrong is named.
func FuzzReadDraft(f *testing.F) {
	whole := draftOf(`{"draft":"i-1","opened":{"bench":"a0b1c2d3e4f50617","seq":1,"sha256":"`+digest{}.String()+`"},"kind":"opened","subject":"","body":{}}`, "one", "two")
	f.Add(whole)
	f.Add(whole[:len(whole)-3])
	f.Add(appendDraftLine(slices.Clone(whole), 3, '-', digest{}, []byte("60")))
	f.Add(appendDraftLine(slices.Clone(whole), 1, '-', digest{}, []byte("-9")))
	f.Add(appendDraftLine(slices.Clone(whole), 9, '-', digest{}, []byte("0")))
	f.Add(bytes.Repeat([]byte{0}, 512))
	f.Fuzz(func(t *testing.T, data []byte) {
		d := readDraft("draft", data)
		for i, text := range d.content.Lines {
			if !bytes.Contains(data, text) {
				t.Errorf("line %d, %q, is not in %q", i, text, data)
			}
		}
		if len(data) > 0 && d.number == 0 && len(d.content.Damage)+len(d.content.Torn) == 0 {
			t.Errorf("nothing is read of %q, and nothing is named", data)
		}
	})
}

// A bench's id with the right check value is read or refused.
func FuzzSmallFiles(f *testing.F) {
	f.Add([]byte("a0b1c2d3e4f50617"))
	f.Add([]byte("null"))
	f.Fuzz(func(t *testing.T, body []byte) {
		data := withCheck(body)
		if id, err := parseBench(data); err == nil && !bytes.Equal(withCheck([]byte(id)), data) {
			t.Errorf("%q is read as bench %q", data, id)
		}
	})
}

// A segment's header with any body is read or refused.
func FuzzHeader(f *testing.F) {
	f.Add([]byte(`{"format":1,"previous":{"segment":1,"length":700,"sha256":""}}`))
	f.Add([]byte(`{"previous":{"length":-1}}`))
	f.Add([]byte(`null`))
	f.Fuzz(func(t *testing.T, body []byte) {
		h, err := (line{kind: kindSegment, body: body}).header()
		if err != nil {
			return
		}
		if h.Previous != nil {
			s := segment{data: make([]byte, 10), from: 5}
			if s.cut(h.Previous.Length); len(s.data)+s.void != 10 {
				t.Errorf("cut at %d leaves %d bytes and %d void", h.Previous.Length, len(s.data), s.void)
			}
		}
		if text, err := json.Marshal(h); err != nil {
			t.Errorf("%s: %v", text, err)
		}
	})
}

// Whatever heads.json holds, it is refused, or every question to it has an end.
func FuzzParseHeads(f *testing.F) {
	const top = `{"format":2,"segment":9,"open":{},"lost":[],"subjects":{`
	for _, lines := range []string{
		"\n}}\n", "\n\"job:J-7\":[1,310],\n\"tool:EM-1\":[1,700]\n}}\n", "\n\"tool:EM-1\":[1,700]}}\n", "\n\"tool:EM-1\":[99999999999999999999,-1]\n}}\n", "\n\"tool:\n}}\n", "\nx\n}}\n", "\n\n\n}}\n",
	} {
		f.Add([]byte(top + lines))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		h, _, err := parseHeads(data)
		if err != nil {
			return
		}
		h.recent["tool:EM-2"] = position{1, 1}
		h.last("tool:EM-1")
		h.subjects("tool:")
		h.subjects("")
		h.file(1)
	})
}
