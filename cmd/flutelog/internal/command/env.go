package command

import (
	"io"
	"time"

	"flutelog/inspect/mark"
)

// Env is the world a command runs in; tests give it their own streams, variables and clock.
type Env struct {
	Stdin  io.Reader
	Stdout io.Writer
	Stderr io.Writer
	Getenv func(string) string
	Now    func() time.Time
	Sender *Sender // nil where nothing is sent in the background
}

// Marks is how marks are written where the command's output is read.
func (e Env) Marks() mark.Console { return mark.ConsoleOf(e.Getenv) }
