package command

import (
	"fmt"
	"io"
	"os"

	"golang.org/x/term"
)

// AtTerminal says whether a person types and reads at a terminal.
func AtTerminal(e Env) bool {
	out := e.Stdout
	if shown, ok := out.(interface{ Under() io.Writer }); ok {
		out = shown.Under()
	}
	f, ok := out.(*os.File)
	return ok && term.IsTerminal(int(f.Fd())) && TerminalOf(e) != nil
}

// ReadLine reads up to the end of a line, and not a byte behind it.
func ReadLine(r io.Reader) (string, error) {
	var line []byte
	for b := make([]byte, 1); ; {
		n, err := r.Read(b)
		if n == 1 && b[0] == '\n' {
			return string(line), nil
		}
		line = append(line, b[:n]...)
		if err != nil {
			return string(line), err
		}
	}
}

// TerminalOf returns the terminal that a person types at, nil where there is none.
func TerminalOf(e Env) *os.File {
	f, ok := e.Stdin.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	return f
}

// AskHidden asks for what nobody should read over a shoulder; false where there is no terminal.
func AskHidden(e Env, prompt string) (string, bool, error) {
	f := TerminalOf(e)
	if f == nil {
		return "", false, nil
	}
	fmt.Fprint(e.Stderr, prompt)
	text, err := term.ReadPassword(int(f.Fd()))
	fmt.Fprintln(e.Stderr)
	return string(text), true, err
}
