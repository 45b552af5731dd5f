//go:build unix

package device

import (
	"io"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"github.com/creack/pty"
	"go.bug.st/serial"
)

// plug is a practice gauge's end of a pseudo-terminal, and the name that leads to the other end. A new insertion gets
// another pseudo-terminal and the same name, as a gauge plugged in again does.
type plug struct {
	dir string

	mu            sync.Mutex
	master, slave *os.File // nil while the plug is out
	removed       bool
}

func newPlug() (*plug, error) {
	dir, err := os.MkdirTemp("", practiceFolder)
	if err != nil {
		return nil, err
	}
	p := &plug{dir: dir}
	if err := p.insert(); err != nil {
		os.RemoveAll(dir)
		return nil, err
	}
	return p, nil
}

func (p *plug) name() string { return filepath.Join(p.dir, practicePort) }

func (p *plug) open(profile Profile) (io.ReadWriteCloser, error) { return OpenSerial(profile)() }

func (p *plug) insert() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.removed || p.master != nil {
		return nil
	}
	master, slave, err := pty.Open()
	if err != nil {
		return err
	}
	// The library leaves the terminal blocking: then closing it would wait for a Read that never ends, and a
	// deadline would not end a Write.
	err = syscall.SetNonblock(int(master.Fd()), true)
	var port serial.Port
	if err == nil {
		// A new terminal echoes what it gets; once opened as a serial port it no longer does.
		port, err = serial.Open(slave.Name(), &serial.Mode{BaudRate: 9600, DataBits: 8})
	}
	if err == nil {
		err = port.Close()
	}
	if err == nil {
		err = os.Symlink(slave.Name(), p.name())
	}
	if err != nil {
		master.Close()
		slave.Close()
		return err
	}
	p.master, p.slave = master, slave
	return nil
}

func (p *plug) pull() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.master == nil {
		return
	}
	os.Remove(p.name())
	p.master.Close()
	p.slave.Close()
	p.master, p.slave = nil, nil
}

func (p *plug) remove() error {
	p.pull()
	p.mu.Lock()
	defer p.mu.Unlock()
	p.removed = true
	return os.RemoveAll(p.dir)
}

func (p *plug) inserted() (master *os.File, removed bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.master, p.removed
}

// Read reads what the bench sends. It waits while the plug is out, and ends when it is removed for good.
func (p *plug) Read(b []byte) (int, error) {
	for {
		master, removed := p.inserted()
		if removed {
			return 0, io.EOF
		}
		if master != nil {
			if n, err := master.Read(b); err == nil {
				return n, nil
			}
		}
		time.Sleep(practiceEvery / 5)
	}
}

// send sends bytes to the bench. A gauge does not know whether anybody reads it: what does not get through
// soon is lost.
func (p *plug) send(b []byte) {
	if master, _ := p.inserted(); master != nil {
		master.SetWriteDeadline(time.Now().Add(time.Second))
		master.Write(b)
	}
}
