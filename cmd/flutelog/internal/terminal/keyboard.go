package terminal

import (
	"bufio"
	"io"
	"os"
	"strings"
	"time"
	"unicode"

	"golang.org/x/term"

	"flutelog/inspect/desk"
)

// typed is what came from the keyboard: a line, a key that acts at once, a change of the line that is being typed, or the
// end of the input.
type typed struct {
	line    string
	key     desk.KeyName // "" for a line
	pending bool         // only the line being typed has changed
	err     error        // why no more comes, behind a key End
}

// Keys of a terminal in raw mode.
const (
	ctrlC     = 3
	ctrlD     = 4
	ctrlH     = 8
	ctrlU     = 21 // takes the whole line
	ctrlW     = 23 // takes its last word
	escape    = 27
	backspace = 127
)

// longestTyped bounds what is kept of a line, so that a stuck key cannot fill the memory.
const longestTyped = 1000

// heldFor is the longest time between two keys of one that is held down: what clears a line with Backspace held takes nothing back
// behind it.
const heldFor = 300 * time.Millisecond

// keyboard reads lines and keys from a person. On a terminal it reads key by key: Backspace on an empty line and Ctrl-C act at
// once, all else is a line. From anything else, a pipe or a gauge that types, it reads lines.
type keyboard struct {
	came    chan typed
	raw     bool // key by key: what is printed needs carriage returns
	restore func()
}

func newKeyboard(in io.Reader, echo func(string), secret func() bool) *keyboard {
	if f, ok := in.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		if old, err := term.MakeRaw(int(f.Fd())); err == nil {
			k := &keyboard{came: make(chan typed), raw: true, restore: func() { term.Restore(int(f.Fd()), old) }}
			go k.readKeys(bufio.NewReader(in), echo, secret)
			return k
		}
	}
	k := &keyboard{came: make(chan typed), restore: func() {}}
	go func() {
		lines := bufio.NewScanner(in)
		lines.Buffer(nil, longestTyped)
		for lines.Scan() {
			k.came <- typed{line: strings.TrimRight(lines.Text(), "\r")}
		}
		k.came <- typed{key: desk.End, err: lines.Err()}
	}()
	return k
}

// readKeys reads a terminal in raw mode and echoes it. A line feed behind a carriage return, as some gauges that type send,
// ends nothing more.
func (k *keyboard) readKeys(in *bufio.Reader, echo func(string), secret func() bool) {
	var last rune
	var line []rune
	var erased time.Time // when Backspace took from the line last
	erase := func(to int) {
		gone := len(line) - to
		line, erased = line[:to], time.Now()
		k.came <- typed{line: string(line), pending: true}
		echo(strings.Repeat("\b \b", gone))
	}
	for {
		r, _, err := in.ReadRune()
		switch {
		case err != nil || r == ctrlD && len(line) == 0:
			k.came <- typed{key: desk.End}
			return
		case r == ctrlC:
			k.came <- typed{key: desk.Interrupt}
			line = nil
		case r == '\n' && last == '\r':
		case r == '\r' || r == '\n':
			text := string(line)
			line = nil
			k.came <- typed{line: text}
		case r == ctrlU:
			erase(0)
		case r == ctrlW:
			text := strings.TrimRight(string(line), " ")
			erase(len([]rune(text[:strings.LastIndexByte(text, ' ')+1])))
		case (r == backspace || r == ctrlH) && len(line) > 0:
			erase(len(line) - 1)
		case (r == backspace || r == ctrlH) && last == r && time.Since(erased) < heldFor:
			erased = time.Now()
		case r == backspace || r == ctrlH:
			k.came <- typed{key: desk.Backspace}
		case r == escape:
			skipEscape(in)
		case unicode.IsPrint(r) && len(line) < longestTyped:
			line = append(line, r)
			k.came <- typed{line: string(line), pending: true}
			if secret() {
				r = '*'
			}
			echo(string(r))
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
