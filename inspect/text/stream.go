package text

import (
	"bufio"
	"fmt"
	"io"
	"unicode/utf8"
)

// Shown returns a writer that prints to w as Show does, whatever a record holds, and leaves ends of lines and tabs as they
// are. A character that is cut in two between writes is put together again, and a carriage return waits for what follows.
func Shown(w io.Writer) io.Writer { return &shown{w: w} }

type shown struct {
	w    io.Writer
	half []byte // of a character, or of an end of line
}

// Under returns the writer behind: what it is, a terminal or a file, decides how a command speaks.
func (s *shown) Under() io.Writer { return s.w }

func (s *shown) Write(p []byte) (int, error) {
	text := append(s.half, p...)
	whole := len(text)
	for n := 1; n < utf8.UTFMax && n <= len(text); n++ {
		if tail := text[len(text)-n:]; utf8.RuneStart(tail[0]) {
			if !utf8.FullRune(tail) {
				whole -= n
			}
			break
		}
	}
	if whole == len(text) && whole > 0 && text[whole-1] == '\r' {
		whole--
	}
	s.half = append([]byte(nil), text[whole:]...)
	if _, err := io.WriteString(s.w, ShowLines(string(text[:whole]))); err != nil {
		return 0, err
	}
	return len(p), nil
}

// Reader returns a reader of a text file that somebody wrote: it refuses what Check does, but for tabs, ends of lines and a
// mark of the byte order at the start, and files of more than most bytes. Its errors name line and character.
func Reader(r io.Reader, most int64) io.Reader {
	return &reader{in: bufio.NewReader(r), most: most, left: most, line: 1}
}

type reader struct {
	in         *bufio.Reader
	most, left int64
	line, at   int
	read       bool
	rest       []byte
	err        error
}

func (r *reader) Read(p []byte) (int, error) {
	for len(r.rest) == 0 && r.err == nil {
		r.fill()
	}
	if len(r.rest) == 0 {
		return 0, r.err
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

// fill reads some characters on.
func (r *reader) fill() {
	r.rest = r.rest[:0]
	for len(r.rest) < 4096 && r.err == nil {
		c, size, err := r.in.ReadRune()
		if err != nil {
			r.err = err
			return
		}
		r.at++
		first := !r.read
		r.read = true
		if r.left -= int64(size); r.left < 0 {
			r.err = fmt.Errorf("it has more than %s, and no such file is read", sizeOf(r.most))
			return
		}
		switch {
		case c == utf8.RuneError && size == 1:
			r.err = fmt.Errorf("line %d: %w", r.line, &Error{"not a character (not UTF-8)", c, r.at})
		case c == '\n':
			r.line, r.at = r.line+1, 0
		case c == '\t', c == '\r', first && c == '\ufeff':
		default:
			if what := refused(c); what != "" {
				r.err = fmt.Errorf("line %d: %w", r.line, &Error{what, c, r.at})
			}
		}
		if r.err == nil {
			r.rest = utf8.AppendRune(r.rest, c)
		}
	}
}

func sizeOf(bytes int64) string {
	if bytes >= 1<<20 {
		return fmt.Sprintf("%d MB", bytes>>20)
	}
	return fmt.Sprintf("%d bytes", bytes)
}

// CheckAll checks every text in a body of JSON, but for those under the names given, which hold what a machine has sent.
// Its error names the text's own name.
func CheckAll(value any, raw ...string) error { return checkAll("", value, raw) }

func checkAll(name string, value any, raw []string) error {
	switch v := value.(type) {
	case string:
		for _, machine := range raw {
			if name == machine {
				return nil
			}
		}
		if _, err := CheckLong(v); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	case []any:
		for _, item := range v {
			if err := checkAll(name, item, raw); err != nil {
				return err
			}
		}
	case map[string]any:
		for key, item := range v {
			if _, err := CheckLong(key); err != nil {
				return fmt.Errorf("a name: %w", err)
			}
			if err := checkAll(key, item, raw); err != nil {
				return err
			}
		}
	}
	return nil
}
