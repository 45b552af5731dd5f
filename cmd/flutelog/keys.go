package main

import (
	"bufio"
	"cmp"
	"io"
	"os"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/term"
)

// An entry is what came from the keyboard: a line, or one of the keys that act at once.
type entry struct {
	key  rune   // one of actKeys, or 0 for a line
	line string // without its end
	err  error  // io.EOF when the keyboard is gone, interrupted for Ctrl-C
}

// actKeys act without Enter when they come first on a line.
const actKeys = "rb?"

// Keys of a terminal in raw mode.
const (
	ctrlC     = 3
	ctrlD     = 4
	ctrlH     = 8
	escape    = 27
	backspace = 127
)

type interrupted struct{}

func (interrupted) Error() string { return "stopped from the keyboard" }

// keyboard reads lines and keys from a person. On a terminal it reads key by key, so that one key retakes;
// from anything else, a pipe or a wedge gauge's scripted test, it reads lines, and a line of one such key is
// that key. What it echoes goes to echo.
type keyboard struct {
	entries chan entry
	raw     bool // a terminal, read key by key: what is printed needs carriage returns
	restore func()

	mu   sync.Mutex
	line []rune // what is typed of the next line
}

// pending returns what is typed of the next line.
func (k *keyboard) pending() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	return string(k.line)
}

// change makes line what is typed of the next line.
func (k *keyboard) change(line []rune) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.line = line
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
	lines := bufio.NewScanner(in)
	lines.Buffer(nil, longestLine)
	for lines.Scan() {
		text := strings.TrimRight(lines.Text(), "\r")
		e := entry{line: text}
		if len(text) == 1 && strings.Contains(actKeys, text) {
			e = entry{key: rune(text[0])}
		}
		k.entries <- e
	}
	k.entries <- entry{err: cmp.Or(lines.Err(), io.EOF)}
}

// readKeys reads a terminal in raw mode and echoes it: Enter ends a line, Backspace takes back, Ctrl-C and
// Ctrl-D stop. A line feed after a carriage return, as some gauges that type send, ends nothing more.
func (k *keyboard) readKeys(in *bufio.Reader, echo io.Writer) {
	var last rune
	for {
		r, _, err := in.ReadRune()
		line := k.line // which only this goroutine changes
		switch {
		case err != nil || r == ctrlD && len(line) == 0:
			k.entries <- entry{err: io.EOF}
			return
		case r == ctrlC:
			k.entries <- entry{err: interrupted{}}
			return
		case r == '\n' && last == '\r':
		case r == '\r' || r == '\n':
			k.change(nil)
			io.WriteString(echo, "\r\n")
			k.entries <- entry{line: string(line)}
		case r == backspace || r == ctrlH:
			if len(line) > 0 {
				k.change(line[:len(line)-1])
				io.WriteString(echo, "\b \b")
			}
		case len(line) == 0 && strings.ContainsRune(actKeys, r):
			io.WriteString(echo, string(r)+"\r\n")
			k.entries <- entry{key: r}
		case r == escape:
			skipEscape(in)
		case unicode.IsPrint(r) && len(line) < longestLine:
			k.change(append(line, r))
			io.WriteString(echo, string(r))
		}
		last = r
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
