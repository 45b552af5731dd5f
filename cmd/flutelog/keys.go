package main

import (
	"bufio"
	"io"
	"os"
	"strings"
	"unicode"

	"golang.org/x/term"
)

// An entry is what came from the keyboard: a line, or one of the keys that act at once.
type entry struct {
	key  rune   // one of actKeys, or 0 for a line
	line string // without its end
	err  error  // io.EOF when the keyboard is gone, errInterrupted for Ctrl-C
}

// actKeys act without Enter when they come first on a line.
const actKeys = "rb?"

type interrupted struct{}

func (interrupted) Error() string { return "stopped from the keyboard" }

// keyboard reads lines and keys from a person. On a terminal it reads key by key, so that one key retakes;
// from anything else, a pipe or a wedge gauge's scripted test, it reads lines, and a line of one such key is
// that key. What it echoes goes to echo.
type keyboard struct {
	entries chan entry
	raw     bool // a terminal, read key by key: what is printed needs carriage returns
	restore func()
}

// longestLine bounds what is kept of a line, so that a stuck key cannot fill the memory.
const longestLine = 1000

func newKeyboard(in io.Reader, echo io.Writer) *keyboard {
	if f, ok := in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		if old, err := term.MakeRaw(int(f.Fd())); err == nil {
			k := &keyboard{entries: make(chan entry), raw: true, restore: func() { term.Restore(int(f.Fd()), old) }}
			go k.readKeys(bufio.NewReader(in), echo)
			return k
		}
	}
	return newLineKeyboard(in)
}

// newLineKeyboard reads lines, from a terminal too.
func newLineKeyboard(in io.Reader) *keyboard {
	k := &keyboard{entries: make(chan entry), restore: func() {}}
	go k.readLines(bufio.NewReader(in))
	return k
}

func (k *keyboard) readLines(in *bufio.Reader) {
	for {
		text, err := in.ReadString('\n')
		text = strings.TrimRight(text, "\r\n")
		if err == nil || text != "" {
			e := entry{line: text}
			if len(text) == 1 && strings.Contains(actKeys, text) {
				e = entry{key: rune(text[0])}
			}
			k.entries <- e
		}
		if err != nil {
			k.entries <- entry{err: io.EOF}
			return
		}
	}
}

// readKeys reads a terminal in raw mode and echoes it: Enter ends a line, Backspace takes back, Ctrl-C and
// Ctrl-D stop.
func (k *keyboard) readKeys(in *bufio.Reader, echo io.Writer) {
	var line []rune
	for {
		r, _, err := in.ReadRune()
		switch {
		case err != nil || r == 4 && len(line) == 0:
			k.entries <- entry{err: io.EOF}
			return
		case r == 3:
			k.entries <- entry{err: interrupted{}}
			return
		case r == '\r' || r == '\n':
			io.WriteString(echo, "\r\n")
			k.entries <- entry{line: string(line)}
			line = line[:0]
		case r == 127 || r == 8:
			if len(line) > 0 {
				line = line[:len(line)-1]
				io.WriteString(echo, "\b \b")
			}
		case len(line) == 0 && strings.ContainsRune(actKeys, r):
			io.WriteString(echo, string(r)+"\r\n")
			k.entries <- entry{key: r}
		case r == 27:
			skipEscape(in)
		case unicode.IsPrint(r) && len(line) < longestLine:
			line = append(line, r)
			io.WriteString(echo, string(r))
		}
	}
}

// skipEscape drops the rest of a cursor or function key's sequence.
func skipEscape(in *bufio.Reader) {
	for in.Buffered() > 0 {
		r, _, err := in.ReadRune()
		if err != nil || r != '[' && r != 'O' && (unicode.IsLetter(r) || r == '~') {
			return
		}
	}
}

// crlf writes to a terminal in raw mode, where a line feed alone does not return to the margin.
type crlf struct{ w io.Writer }

func (c crlf) Write(p []byte) (int, error) {
	_, err := io.WriteString(c.w, strings.ReplaceAll(strings.ReplaceAll(string(p), "\r\n", "\n"), "\n", "\r\n"))
	return len(p), err
}
