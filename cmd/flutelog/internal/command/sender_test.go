package command

import (
	"errors"
	"slices"
	"testing"
)

// started is a sending that a test lets end.
type started struct {
	args []string
	end  chan error
}

func testSender() (*Sender, chan started) {
	begun := make(chan started)
	return newSender(func(args []string) (func() error, error) {
		s := started{args, make(chan error)}
		begun <- s
		return func() error { return <-s.end }, nil
	}), begun
}

// What is recorded while a sending goes on begins another one behind it, and only one; nobody waits for either.
func TestSender(t *testing.T) {
	s, begun := testSender()
	s.wake() // joined no register: nothing
	s.bind("a ledger", "a bench")
	first := <-begun
	if want := []string{"register", "send", "--ledger", "a ledger", "--bench", "a bench"}; !slices.Equal(first.args, want) {
		t.Errorf("%q, want %q", first.args, want)
	}
	for range 5 {
		s.wake()
	}
	first.end <- errors.New("the register does not answer")
	second := <-begun
	second.end <- nil
	s.Keep()
	third := <-begun // at once
	go func() { s.wake(); s.end() }()
	last := <-begun // though the one before has not ended
	third.end <- nil
	select {
	case <-begun:
		t.Error("a sending was begun after the last")
	case last.end <- nil: // nobody waits for it
		t.Error("the end was waited for")
	default:
	}
}

// A program that records nothing begins nothing when it ends.
func TestSenderIdle(t *testing.T) {
	s, begun := testSender()
	s.bind("a ledger", "")
	s.end()
	s.wake()
	s.end()
	select {
	case <-begun:
		t.Error("a sending was begun")
	default:
	}
	(*Sender)(nil).end()
	(*Sender)(nil).Keep()
}
