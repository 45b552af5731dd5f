package command

import (
	"io"
	"time"
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
