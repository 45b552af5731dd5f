package device

import (
	"io"
	"sync"
	"time"
)

// Opener opens a gauge's line: OpenSerial's, a Recording's, a Practice's. The driver calls it again to
// reopen the line. A Read that ends in io.EOF says that no more will ever come; any other error is a
// disconnection.
type Opener func() (io.ReadWriteCloser, error)

// line is an open line whose Read gives up after a while, with 0 and no error, as a serial port's does. A
// time-out of 0 asks for what is there already.
type line interface {
	io.ReadWriteCloser
	SetReadTimeout(time.Duration) error
}

// withTimeout returns rwc itself if its reads can time out, else a line that reads it from a goroutine
// of its own.
func withTimeout(rwc io.ReadWriteCloser) line {
	if l, ok := rwc.(line); ok {
		return l
	}
	p := &pumped{ReadWriteCloser: rwc, chunks: make(chan []byte), closed: make(chan struct{})}
	go p.pump()
	return p
}

type pumped struct {
	io.ReadWriteCloser
	chunks  chan []byte
	closed  chan struct{}
	once    sync.Once
	err     error // why chunks was closed; read only after that
	rest    []byte
	timeout time.Duration
}

func (p *pumped) pump() {
	defer close(p.chunks)
	for {
		buf := make([]byte, 512)
		n, err := p.ReadWriteCloser.Read(buf)
		if n > 0 {
			select {
			case p.chunks <- buf[:n]:
			case <-p.closed:
				return
			}
		}
		if err != nil {
			p.err = err
			return
		}
	}
}

func (p *pumped) SetReadTimeout(d time.Duration) error {
	p.timeout = d
	return nil
}

func (p *pumped) Read(b []byte) (int, error) {
	if len(p.rest) == 0 {
		chunk, open := p.next()
		if !open {
			return 0, p.err
		}
		p.rest = chunk
	}
	n := copy(b, p.rest)
	p.rest = p.rest[n:]
	return n, nil
}

// next returns the next chunk, none when the time-out has passed, and false after the last.
func (p *pumped) next() (chunk []byte, open bool) {
	select {
	case chunk, open = <-p.chunks:
		return chunk, open
	default:
	}
	timer := time.NewTimer(p.timeout)
	defer timer.Stop()
	select {
	case chunk, open = <-p.chunks:
		return chunk, open
	case <-timer.C:
		return nil, true
	}
}

func (p *pumped) Close() error {
	p.once.Do(func() { close(p.closed) })
	return p.ReadWriteCloser.Close()
}
