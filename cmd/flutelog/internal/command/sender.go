package command

import (
	"os"
	"os/exec"
	"sync"
	"sync/atomic"
	"time"
)

// How long after a sending the next one is due while a program keeps sending, where nothing was recorded; after each that
// fails it is twice as long, up to the most.
const (
	sendAgain     = 5 * time.Minute
	sendAgainMost = time.Hour
)

// Sender sends to the register in the background what a command records. Each sending is a program of its own, which
// nobody waits for: whatever becomes of it, the bench goes on. It does nothing where the ledger has joined no register.
type Sender struct {
	start   func(args []string) (wait func() error, err error)
	due     atomic.Bool // something was recorded since the last sending began
	keeping atomic.Bool
	woken   chan struct{}

	mu   sync.Mutex // held while a sending is begun
	args []string   // of a sending; nil where there is none
	over bool
}

// NewSender returns a Sender whose sendings are this program with other arguments.
func NewSender() *Sender { return newSender(startDetached) }

func newSender(start func([]string) (func() error, error)) *Sender {
	return &Sender{start: start, woken: make(chan struct{}, 1)}
}

// startDetached begins this program with arguments, apart from the terminal.
func startDetached(args []string) (wait func() error, err error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	cmd := exec.Cmd{Path: self, Args: append(os.Args[:1:1], args...), SysProcAttr: detached}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	return cmd.Wait, nil
}

// bind says which ledger is sent from.
func (s *Sender) bind(ledger, bench string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.args != nil || s.over {
		return
	}
	s.args = []string{"register", "send", "--ledger", ledger}
	if bench != "" {
		s.args = append(s.args, "--bench", bench)
	}
	go s.work()
}

// sends says whether the ledger has joined a register.
func (s *Sender) sends() bool {
	if s == nil {
		return false
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.args != nil
}

// wake begins a sending soon. It does not wait.
func (s *Sender) wake() {
	s.due.Store(true)
	select {
	case s.woken <- struct{}{}:
	default:
	}
}

// Keep sends at once, and again and again until the command ends.
func (s *Sender) Keep() {
	if s != nil {
		s.keeping.Store(true)
		s.wake()
	}
}

// begin begins a sending where one is due.
func (s *Sender) begin(last bool) (wait func() error, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.over || s.args == nil {
		return nil, nil
	}
	s.over = last
	if !s.due.Swap(false) {
		return nil, nil
	}
	return s.start(s.args)
}

// work begins sendings one after the other, until the program ends.
func (s *Sender) work() {
	pause := sendAgain
	for {
		var again <-chan time.Time
		if s.keeping.Load() {
			again = time.After(pause)
		}
		select {
		case <-s.woken:
		case <-again:
			s.due.Store(true)
		}
		wait, err := s.begin(false)
		switch {
		case err == nil && wait == nil:
			continue
		case err == nil:
			err = wait()
		}
		if pause = min(2*pause, sendAgainMost); err == nil {
			pause = sendAgain
		}
	}
}

// end begins a last sending where one is due, which goes on when this program has ended.
func (s *Sender) end() {
	if s != nil {
		s.begin(true)
	}
}
