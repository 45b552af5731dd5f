package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"
)

// progress says on one line of a terminal how far long work is, once it has taken a second.
type progress struct {
	w    io.Writer // nil where there is no terminal
	next time.Time
	said bool
}

func newProgress(e env) *progress {
	p := &progress{next: time.Now().Add(time.Second)}
	if f, ok := e.stderr.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		p.w = f
	}
	return p
}

func (p *progress) say(text func() string) {
	if p.w == nil || time.Now().Before(p.next) {
		return
	}
	p.next = time.Now().Add(200 * time.Millisecond)
	p.said = true
	fmt.Fprintf(p.w, "\r%s ", text())
}

func (p *progress) end() {
	if p.said {
		fmt.Fprint(p.w, "\r\033[K")
	}
}
