package device

import (
	"errors"
	"io"
	"net"
	"sync"
	"time"
)

// plug is a practice gauge's end of a pipe inside the program: this system has no pseudo-terminals that open as
// serial ports.
type plug struct {
	mu      sync.Mutex
	end     net.Conn // nil while nobody has opened the other
	out     bool
	removed bool
}

func newPlug() (*plug, error) { return &plug{}, nil }

func (p *plug) name() string { return "" }

func (p *plug) open(Profile) (io.ReadWriteCloser, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.out {
		return nil, errors.New("the practice gauge is unplugged")
	}
	gauge, bench := net.Pipe()
	p.end = gauge
	return benchEnd{bench}, nil
}

// benchEnd is the other end: a pipe that ends is a plug pulled, not the end of a recording.
type benchEnd struct{ net.Conn }

func (e benchEnd) Read(b []byte) (int, error) {
	n, err := e.Conn.Read(b)
	if errors.Is(err, io.EOF) {
		err = errUnplugged
	}
	return n, err
}

func (p *plug) insert() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.out = p.removed
	return nil
}

func (p *plug) pull() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.out = true
	if p.end != nil {
		p.end.Close()
	}
	p.end = nil
}

func (p *plug) remove() error {
	p.pull()
	p.mu.Lock()
	defer p.mu.Unlock()
	p.removed = true
	return nil
}

func (p *plug) inserted() (end net.Conn, removed bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.end, p.removed
}

// Read reads what the bench sends. It waits while nobody has opened the other end.
func (p *plug) Read(b []byte) (int, error) {
	for {
		end, removed := p.inserted()
		if removed {
			return 0, io.EOF
		}
		if end != nil {
			if n, err := end.Read(b); err == nil {
				return n, nil
			}
		}
		time.Sleep(practiceEvery / 5)
	}
}

// send sends bytes to the bench. A gauge does not know whether anybody reads it: what does not get through
// soon is lost.
func (p *plug) send(b []byte) {
	if end, _ := p.inserted(); end != nil {
		end.SetWriteDeadline(time.Now().Add(time.Second))
		end.Write(b)
	}
}
