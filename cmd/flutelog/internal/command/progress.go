package command

import (
	"fmt"
	"io"
	"os"
	"time"

	"golang.org/x/term"
)

// Progress says on one line of a terminal how far long work is, once it has taken a second.
type Progress struct {
	w    io.Writer // nil where there is no terminal
	next time.Time
	said bool
}

func NewProgress(e Env) *Progress {
	p := &Progress{next: time.Now().Add(time.Second)}
	if f, ok := e.Stderr.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		p.w = f
	}
	return p
}

func (p *Progress) Say(text func() string) {
	if p.w == nil || time.Now().Before(p.next) {
		return
	}
	p.next = time.Now().Add(200 * time.Millisecond)
	p.said = true
	fmt.Fprintf(p.w, "\r%s ", text())
}

func (p *Progress) End() {
	if p.said {
		fmt.Fprint(p.w, "\r\033[K")
	}
}
