package register

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"net/http"
	"net/url"
	"slices"
	"time"

	"flutelog/inspect/ledger"
)

// askedAtOnce is how many subjects are asked for in one question.
const askedAtOnce = 16

// mostLine is the most bytes of a line in a stream: a bench's id, a space, and a line of its chain.
const mostLine = ledger.MaxLine + 17

// Ask asks the register what all benches have recorded of subjects, and keeps it in the ledger beside the chains. It
// returns how many records were not known here. That a ledger is an old copy comes as *Behind, and is kept in its status.
func Ask(ctx context.Context, l *ledger.Ledger, e Enrolment, now func() time.Time, subjects ...string) (fresh int, err error) {
	c := &Conn{Enrolment: e, Now: now}
	defer c.Close()
	own, h, err := c.where(ctx, l)
	if err != nil {
		return 0, err
	}
	if h.Yours == Same && h.Seq > own.Seq {
		err := &Behind{own, h.Ledger()}
		return 0, errors.Join(err, keep(l, e, Sent{Head: h}, err, now()))
	}
	for some := range slices.Chunk(subjects, askedAtOnce) {
		asked := make([]ledger.Told, len(some))
		for i, subject := range some {
			asked[i] = ledger.Told{Subject: subject, By: e.Address, Asked: now().UTC().Format(time.RFC3339)}
		}
		n, err := l.KeepTold(asked, c.stream(ctx, SubjectsPath(some)))
		fresh += n
		if err != nil {
			return fresh, err
		}
	}
	return fresh, l.KeepNames(c.names)
}

// stream asks for lines and gives each with its LF. An answer that was cut off ends with an error.
func (c *Conn) stream(ctx context.Context, path string) iter.Seq2[[]byte, error] {
	return func(yield func([]byte, error) bool) {
		answer, err := c.ask(ctx, http.MethodGet, path, nil)
		if err != nil {
			yield(nil, err)
			return
		}
		if named, err := url.ParseQuery(answer.Header.Get(HeaderBenches)); err == nil {
			for bench, name := range named {
				if c.names == nil {
					c.names = map[string]string{}
				}
				c.names[bench] = name[0]
			}
		}
		stop := context.AfterFunc(ctx, func() { c.conn.SetDeadline(time.Unix(1, 0)) })
		defer stop()
		lines := bufio.NewReaderSize(answer.Body, 64<<10)
		for {
			line, err := lines.ReadBytes('\n')
			if len(line) > mostLine {
				err = fmt.Errorf("a line of %d bytes", len(line))
			}
			if err == io.EOF && len(line) == 0 {
				return
			}
			if err != nil {
				c.Close()
				if err == io.EOF {
					err = io.ErrUnexpectedEOF
				}
				yield(nil, &NoAnswer{c.Address, err})
				return
			}
			if !yield(line, nil) {
				c.Close() // the rest is not wanted
				return
			}
		}
	}
}
