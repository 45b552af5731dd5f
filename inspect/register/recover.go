package register

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"flutelog/inspect/ledger"
)

// Recover brings an old copy of a ledger up to date, from what the register has of its own chain, and returns how many
// lines came.
func Recover(ctx context.Context, l *ledger.Ledger, e Enrolment, now func() time.Time) (came int, err error) {
	c := &Conn{Enrolment: e, Now: now}
	defer c.Close()
	own, err := l.Head()
	if err != nil {
		return 0, err
	}
	h, err := c.Head(ctx, own.Bench, own)
	if err != nil {
		return 0, err
	}
	switch {
	case h.Yours == Other:
		_, err := Sync(ctx, l, e, now) // finds where, and keeps it
		return 0, err
	case h.Seq > own.Seq:
		if came, err = l.TakeBack(c.stream(ctx, LinesPath(own.Bench, own))); err != nil {
			return came, err
		}
	}
	_, err = Sync(ctx, l, e, now)
	return came, err
}

// Restore makes the ledger of a lost bench anew in a folder that holds none, from what the register has of its chain.
func Restore(ctx context.Context, dir, bench string, e Enrolment) (ledger.Tail, error) {
	if _, err := os.Lstat(filepath.Join(dir, "bench")); !errors.Is(err, os.ErrNotExist) {
		return ledger.Tail{}, fmt.Errorf("%s holds a ledger already: give another folder with --ledger", dir)
	}
	c := &Conn{Enrolment: e}
	defer c.Close()
	return ledger.Restore(dir, bench, true, c.stream(ctx, LinesPath(bench, ledger.Head{})))
}

// First is the record that a chain begins with which goes on in place of a ledger's own forked one, under the subject of that
// bench.
func First(l *ledger.Ledger, subject string, old, common ledger.Head, by, why string, at time.Time) (ledger.Entry, error) {
	c := Continues{Bench: old.Bench, Seq: common.Seq, SHA256: common.Hash, Head: old.String(), By: by, Why: why, At: at.UTC().Format(time.RFC3339)}
	for line, err := range l.Lines(old.Bench, common.Seq) {
		if err != nil {
			return ledger.Entry{}, err
		}
		c.First = line.Hash
		break
	}
	body, err := json.Marshal(c)
	return ledger.Entry{Kind: KindContinues, Subject: subject, Body: body}, err
}
