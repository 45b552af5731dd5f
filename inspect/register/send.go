package register

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"

	"flutelog/inspect/ledger"
)

// Sent is what a sending came to.
type Sent struct {
	Lines        int  // that the register has acknowledged
	Acknowledged Head // the last acknowledgement, of a line of the ledger's own; the zero Head for none
	Head         Head // where the chain ends at the register, whosever its lines are
}

// Behind says that a ledger is an old copy: the register has all of its lines, and more.
type Behind struct {
	Own, Register ledger.Head
}

func (b *Behind) Error() string {
	return fmt.Sprintf("this ledger is an old copy: it ends at number %d, and the register has the same chain up to number %d; \"flutelog register recover\" brings the rest back",
		b.Own.Seq, b.Register.Seq)
}

// Fork says that a ledger and the register hold different lines with one number of this bench: two copies of the ledger were
// written to.
type Fork struct {
	Common   ledger.Head // the last line that both have; number 0 for none
	Own      ledger.Head
	Register ledger.Head
}

func (f *Fork) Error() string {
	return fmt.Sprintf("this ledger and the register hold different lines from number %d of bench %s on: another copy of this ledger has recorded, or the past was written anew. Nothing is sent; recording goes on, and nothing is lost. \"flutelog register renew --by NAME --why WHY\" goes on under a new id, for which the register then prints a new line: fluteregister enrol",
		f.Common.Seq+1, f.Own.Bench)
}

// ErrClosed says that the register takes no more of this bench.
var ErrClosed = errors.New("the register has closed this bench's chain and takes no more of it; ask who keeps the register")

// errMoved says that another sender was there first, and where the register's head is now.
type errMoved struct{ Head }

func (errMoved) Error() string { return "the register's head has moved" }

// Send sends all lines of the ledger's own chain that the register does not have, and returns once the register has
// acknowledged the last: it is on its medium then. Sent says what was acknowledged before an error. The ledger is all it
// goes by: it can be cut off anywhere and begun again, and run beside others.
func (c *Conn) Send(ctx context.Context, l *ledger.Ledger) (Sent, error) {
	s := sending{Conn: c, ledger: l}
	err := s.run(ctx)
	return s.sent, err
}

type sending struct {
	*Conn
	ledger *ledger.Ledger
	pack   pack
	sent   Sent
}

func (s *sending) run(ctx context.Context) error {
	own, h, err := s.where(ctx, s.ledger)
	if err != nil {
		return err
	}
	for idle := 0; ; {
		s.sent.Head = h
		switch {
		case h.State == Closed:
			return ErrClosed
		case h.Yours == Other:
			return s.forked(ctx, own, h)
		case h.Seq > own.Seq:
			return &Behind{own, h.Ledger()}
		case h.Seq == own.Seq && h.SHA256 == own.Hash:
			s.sent.Acknowledged = h
			return nil
		}
		before := h.Seq
		h, err = s.post(ctx, own.Bench, h)
		var moved errMoved
		if errors.As(err, &moved) {
			if h, err = moved.Head, nil; h.Seq <= before {
				idle++
			} else {
				idle = 0
			}
		}
		if err != nil {
			return err
		}
		if idle > 8 {
			return &NoAnswer{s.Address, fmt.Errorf("it takes nothing behind number %d and does not say why", before)}
		}
		if own, err = s.ledger.Head(); err != nil {
			return err
		}
		if h.Seq > own.Seq { // its last line is not ours, or we are behind: ask which
			if own, h, err = s.where(ctx, s.ledger); err != nil {
				return err
			}
		}
	}
}

// where returns the ledger's own head and what the register has of it. That another program recorded and sent between the
// two questions does not make the ledger an old copy: then both are asked again.
func (c *Conn) where(ctx context.Context, l *ledger.Ledger) (own ledger.Head, h Head, err error) {
	if own, err = l.Head(); err != nil {
		return own, h, err
	}
	for {
		if h, err = c.Head(ctx, own.Bench, own); err != nil || h.Yours == Other || h.Seq <= own.Seq {
			return own, h, err
		}
		before := own
		if own, err = l.Head(); err != nil || own == before {
			return own, h, err
		}
	}
}

// post sends what stands behind the register's head, batch after batch, from one reading of the chain. While one is on its
// way the next is made.
func (s *sending) post(ctx context.Context, bench string, h Head) (Head, error) {
	type answer struct {
		Head
		error
	}
	var last, sent ledger.Line // the last of the batch that is made, and of the one that is on its way
	var way chan answer        // nil where none is
	arrive := func() error {
		if way == nil {
			return nil
		}
		now := <-way
		way = nil
		var refused Refusal
		switch err := now.error; {
		case errors.As(err, &refused) && refused.Why == Moved && refused.Head != nil:
			return errMoved{*refused.Head}
		case errors.As(err, &refused) && refused.Why == Parted && refused.Head != nil:
			refused.Head.Yours = Other
			return errMoved{*refused.Head}
		case err != nil:
			return err
		case now.Seq != sent.Seq || now.SHA256 != sent.Hash:
			return errMoved{now.Head}
		}
		s.sent.Lines += int(now.Seq - h.Seq)
		s.sent.Acknowledged, s.sent.Head, h = now.Head, now.Head, now.Head
		return nil
	}
	leave := func() error {
		body, err := s.pack.take()
		if failed := arrive(); failed != nil || err != nil {
			return cmp.Or(failed, err)
		}
		sent, way = last, make(chan answer, 1)
		go func(way chan<- answer, path string) {
			now, err := s.head(ctx, http.MethodPost, path, body)
			way <- answer{now, err}
		}(way, LinesPath(bench, h.Ledger()))
		return nil
	}
	for line, err := range s.ledger.Lines(bench, max(h.Seq, 1)-1) {
		if err != nil {
			return h, cmp.Or(arrive(), err)
		}
		if line.Seq == h.Seq {
			if line.Hash != h.SHA256 {
				h.Yours = Other
				return h, nil
			}
			continue
		}
		if s.pack.plain > 0 && s.pack.plain+len(line.Text) > Batch {
			if err := leave(); err != nil {
				return h, err
			}
		}
		if err := s.pack.add(line.Text); err != nil {
			return h, cmp.Or(arrive(), err)
		}
		last.Seq, last.Hash = line.Seq, line.Hash
	}
	if s.pack.plain > 0 {
		if err := leave(); err != nil {
			return h, err
		}
	}
	return h, arrive()
}

// forked finds the first line that differs by halving, and leaves it with the register as evidence.
func (s *sending) forked(ctx context.Context, own ledger.Head, h Head) error {
	f := &Fork{Own: own, Register: h.Ledger()}
	f.Common.Bench = own.Bench
	if known, err := s.forkedThere(ctx, own); err != nil {
		return err
	} else if known {
		f.Common = s.known
		return f
	}
	different, asked := min(own.Seq, h.Seq), uint64(0)
	for different > asked+1 {
		middle := asked + (different-asked)/2
		line, err := s.line(own.Bench, middle)
		if err != nil {
			return err
		}
		at, err := s.Head(ctx, own.Bench, ledger.Head{Bench: own.Bench, Seq: middle, Hash: line.Hash})
		if err != nil {
			return err
		}
		if at.Yours == Other {
			different = middle
			continue
		}
		asked = middle
		if at.Yours == Same {
			f.Common.Seq, f.Common.Hash = middle, line.Hash
		}
	}
	if f.Common.Seq != asked { // it was lost, and has not all lines before yet
		return &NoAnswer{s.Address, fmt.Errorf("it knows another line as number %d of bench %s, and does not have number %d yet: the lines of the bench's other copy are to come first", different, own.Bench, asked)}
	}
	line, err := s.line(own.Bench, different)
	if err != nil {
		return err
	}
	if err := s.pack.add(line.Text); err != nil {
		return err
	}
	body, err := s.pack.take()
	if err != nil {
		return err
	}
	if _, err := s.head(ctx, http.MethodPost, ForkPath(own.Bench), body); err != nil {
		return err
	}
	return f
}

// forkedThere says whether the lines part where they parted the last time: then that is found, and the evidence left.
func (s *sending) forkedThere(ctx context.Context, own ledger.Head) (bool, error) {
	if s.known.Bench != own.Bench || s.known.Seq >= own.Seq {
		return false, nil
	}
	line, err := s.line(own.Bench, s.known.Seq+1)
	if err != nil {
		return false, err
	}
	h, err := s.Head(ctx, own.Bench, ledger.Head{Bench: own.Bench, Seq: line.Seq, Hash: line.Hash})
	return err == nil && h.Yours == Other, err
}

// line returns one line of the own chain.
func (s *sending) line(bench string, seq uint64) (ledger.Line, error) {
	for line, err := range s.ledger.Lines(bench, seq-1) {
		if err == nil {
			line.Text = bytes.Clone(line.Text)
		}
		return line, err
	}
	return ledger.Line{}, fmt.Errorf("number %d of bench %s is not in this ledger any more", seq, bench)
}
