package register_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flutelog/inspect/ledger"
	"flutelog/inspect/register"
	"flutelog/inspect/register/registertest"
)

func mustOpen(t testing.TB, dir string) *ledger.Ledger {
	t.Helper()
	l, err := ledger.Open(dir, ledger.Options{Bench: "bench 1"})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// note records something invented of a tool.
func note(t testing.TB, l *ledger.Ledger, tool string, size int) ledger.Record {
	t.Helper()
	body, err := json.Marshal(map[string]string{"text": strings.Repeat("so ", size/3)})
	if err != nil {
		t.Fatal(err)
	}
	r, err := l.Append(ledger.Entry{Kind: "note", Subject: "tool:" + tool, Body: body})
	if err != nil {
		t.Fatal(err)
	}
	return r[0]
}

func head(t testing.TB, l *ledger.Ledger) ledger.Head {
	t.Helper()
	h, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func send(l *ledger.Ledger, r *registertest.Register) (register.Sent, error) {
	return register.Sync(context.Background(), l, r.Enrolment, time.Now)
}

// holds fails unless the register holds the ledger's own chain, byte for byte.
func holds(t testing.TB, r *registertest.Register, l *ledger.Ledger) {
	t.Helper()
	own := head(t, l)
	c := r.Chain(own.Bench)
	if c.Head() != own {
		t.Fatalf("the register ends at %v, want %v", c.Head(), own)
	}
	for line, err := range l.Lines(own.Bench, 0) {
		if err != nil || !bytes.Equal(line.Text, c.Lines[line.Seq-1]) {
			t.Fatalf("number %d: %v, or not the same bytes", line.Seq, err)
		}
	}
}

// copyFolder is a card that was copied.
func copyFolder(t testing.TB, from string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "copy")
	if err := os.CopyFS(to, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	return to
}

// What is recorded is sent once, however often it is sent, over one connection a sending, and whatever becomes of answers.
func TestSend(t *testing.T) {
	r := registertest.New(t)
	dir := t.TempDir()
	l := mustOpen(t, dir)
	for i := range 7 {
		note(t, l, fmt.Sprintf("EM-%d", i%3), 700<<10/(i+1))
	}
	sent, err := send(l, r)
	if err != nil || sent.Lines != int(head(t, l).Seq) {
		t.Fatalf("%+v, %v", sent, err)
	}
	holds(t, r, l)
	if n := r.Asked("lines"); n < 2 {
		t.Errorf("%d bodies for 1.8 MB of lines, want them cut at %d bytes", n, register.Batch)
	}
	bodies := r.Asked("lines")
	if sent, err := send(l, r); err != nil || sent.Lines != 0 || r.Asked("lines") != bodies {
		t.Errorf("sent again: %+v, %v", sent, err)
	}

	r.Lose(1)
	note(t, l, "EM-1", 10)
	sent, err = send(l, r)
	if err != nil {
		t.Fatalf("an answer was lost: %+v, %v", sent, err)
	}
	holds(t, r, l)

	r.Down(true)
	note(t, l, "EM-1", 10)
	var none *register.NoAnswer
	if _, err := send(l, r); !errors.As(err, &none) {
		t.Errorf("%v, want no answer", err)
	}
	own := head(t, l)
	if got := register.ReadStatus(dir).Line(own, time.Now()); !strings.HasPrefix(got, "register: 1 behind since ") {
		t.Errorf("%q", got)
	}
	r.Down(false)
	if _, err := send(l, r); err != nil {
		t.Fatal(err)
	}
	holds(t, r, l)
	if got := register.ReadStatus(dir).Line(own, time.Now()); got != "register: all sent" {
		t.Errorf("%q", got)
	}
	receipts, err := register.Receipts(dir)
	if err != nil || len(receipts) != 3 || receipts[2].Head != own.String() {
		t.Errorf("receipts %v, %v; want one of each sending that brought something", receipts, err)
	}
}

// A register that was set back, as from an old backup, is brought up to date.
func TestSendToAnOldRegister(t *testing.T) {
	r := registertest.New(t)
	l := mustOpen(t, t.TempDir())
	for range 30 {
		note(t, l, "EM-1", 100)
	}
	if _, err := send(l, r); err != nil {
		t.Fatal(err)
	}
	r.Do(func(chains map[string]*registertest.Chain) {
		for bench, c := range chains {
			old := registertest.Chain{Tail: ledger.Tail{Bench: bench}, State: register.Open}
			for i := range 20 {
				if _, err := old.Take(c.Lines[i]); err != nil {
					t.Fatal(err)
				}
			}
			old.Lines, old.Records = c.Lines[:20], c.Records[:20]
			chains[bench] = &old
		}
	})
	if sent, err := send(l, r); err != nil || sent.Lines != 11 {
		t.Fatalf("%+v, %v", sent, err)
	}
	holds(t, r, l)
	r.Do(func(chains map[string]*registertest.Chain) { clear(chains) }) // its database is lost
	if sent, err := send(l, r); err != nil || sent.Lines != 31 {
		t.Fatalf("%+v, %v", sent, err)
	}
	holds(t, r, l)
}

// An old copy on which nothing was recorded is behind, and records nothing before it is brought up to date.
func TestBehind(t *testing.T) {
	r := registertest.New(t)
	dir := t.TempDir()
	l := mustOpen(t, dir)
	note(t, l, "EM-1", 100)
	if _, err := send(l, r); err != nil {
		t.Fatal(err)
	}
	old := copyFolder(t, dir)
	note(t, l, "EM-1", 100)
	note(t, l, "EM-1", 100)
	if _, err := send(l, r); err != nil {
		t.Fatal(err)
	}
	copied := mustOpen(t, old)
	var behind *register.Behind
	if _, err := send(copied, r); !errors.As(err, &behind) || behind.Register != head(t, l) {
		t.Fatalf("%v, want behind %v", err, head(t, l))
	}
	if err := register.Refuses(old, head(t, copied)); err == nil || !strings.Contains(err.Error(), "register recover") {
		t.Errorf("%v, want a refusal that says what to do", err)
	}
	if err := register.Refuses(dir, head(t, l)); err != nil {
		t.Errorf("the true one: %v", err)
	}
	holds(t, r, l)
}

// Lines that another program records and sends between a question and its answer make no old copy of a ledger.
func TestSentMeanwhile(t *testing.T) {
	for name, do := range map[string]func(l *ledger.Ledger, r *registertest.Register) error{
		"send": func(l *ledger.Ledger, r *registertest.Register) error { _, err := send(l, r); return err },
		"ask": func(l *ledger.Ledger, r *registertest.Register) error {
			_, err := register.Ask(context.Background(), l, r.Enrolment, time.Now, "tool:EM-1")
			return err
		},
	} {
		r := registertest.New(t)
		dir := t.TempDir()
		l := mustOpen(t, dir)
		note(t, l, "EM-1", 100)
		if _, err := send(l, r); err != nil {
			t.Fatal(err)
		}
		between := false
		r.Answering(func() {
			if between {
				return
			}
			between = true
			other := mustOpen(t, dir)
			note(t, other, "EM-1", 100)
			if _, err := send(other, r); err != nil {
				t.Error(err)
			}
		})
		if err := do(l, r); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if s := register.ReadStatus(dir); !between || s.Trouble != "" {
			t.Errorf("%s: %v, kept as %q", name, between, s.Trouble)
		}
		holds(t, r, l)
	}
}

// Two copies that both wrote on are a fork, found at its line and left as evidence; the true bench goes on.
func TestFork(t *testing.T) {
	for _, c := range []struct {
		name                  string
		common, theirs, after int // records before the copy, at the true bench behind it, at the copy behind it
	}{
		{"the copy is shorter", 190, 40, 7},
		{"the copy is longer", 190, 4, 70},
		{"as long", 40, 5, 5},
		{"nothing is common but the start", 0, 9, 12},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := registertest.New(t)
			dir := t.TempDir()
			l := mustOpen(t, dir)
			for range c.common {
				note(t, l, "EM-1", 30)
			}
			common := head(t, l)
			copied := mustOpen(t, copyFolder(t, dir))
			for range c.theirs {
				note(t, l, "EM-1", 30)
			}
			if _, err := send(l, r); err != nil {
				t.Fatal(err)
			}
			for range c.after {
				note(t, copied, "EM-2", 30)
			}
			before := r.Asked("head")
			var fork *register.Fork
			if _, err := send(copied, r); !errors.As(err, &fork) || fork.Common != common {
				t.Fatalf("%v: common %v, want %v", err, fork, common)
			}
			if n := r.Asked("head") - before; n > 10 {
				t.Errorf("%d questions for %d lines", n, head(t, copied).Seq)
			}
			evidence := r.Chain(common.Bench).Evidence
			var own []byte
			for line, err := range copied.Lines(common.Bench, common.Seq) {
				if own = bytes.Clone(line.Text); err != nil {
					t.Fatal(err)
				}
				break
			}
			if len(evidence) != 1 || !bytes.Equal(evidence[0], own) {
				t.Errorf("evidence %q, want %q", evidence, own)
			}
			if s := register.ReadStatus(copied.Dir()); s.Trouble != register.TroubleFork || !strings.Contains(s.Warning(), fmt.Sprint("number ", common.Seq+1)) {
				t.Errorf("%+v", s)
			}
			if err := register.Refuses(copied.Dir(), head(t, copied)); err != nil {
				t.Errorf("recording goes on: %v", err)
			}
			before = r.Asked("head")
			note(t, copied, "EM-2", 30)
			if _, err := send(copied, r); !errors.As(err, &fork) || fork.Common != common || r.Asked("head") != before+2 || r.Asked("fork") != 1 {
				t.Errorf("the next time: %v, in %d questions and %d of evidence", err, r.Asked("head")-before, r.Asked("fork"))
			}
			note(t, l, "EM-1", 30)
			if _, err := send(l, r); err != nil {
				t.Errorf("the true bench: %v", err)
			}
			holds(t, r, l)
		})
	}
}

// A chain that was written anew from its first line is a fork at that line.
func TestForkFromTheStart(t *testing.T) {
	r := registertest.New(t)
	dir := t.TempDir()
	l := mustOpen(t, dir)
	own := head(t, l).Bench
	old := copyFolder(t, dir)
	for range 5 {
		note(t, l, "EM-1", 30)
	}
	if _, err := send(l, r); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(old, own)); err != nil {
		t.Fatal(err)
	}
	other := mustOpen(t, t.TempDir())
	note(t, other, "EM-1", 30)
	if err := os.CopyFS(filepath.Join(old, own), os.DirFS(filepath.Join(other.Dir(), head(t, other).Bench))); err != nil {
		t.Fatal(err)
	}
	var fork *register.Fork
	if _, err := send(mustOpen(t, old), r); !errors.As(err, &fork) || fork.Common.Seq != 0 {
		t.Errorf("%v, want a fork from number 1", err)
	}
}

// Another key than the one that was pinned is sent nothing; another token is refused.
func TestStrangers(t *testing.T) {
	r := registertest.New(t)
	l := mustOpen(t, t.TempDir())
	for name, c := range map[string]struct {
		change func(*register.Enrolment)
		want   register.Trouble
	}{
		"key":   {func(e *register.Enrolment) { e.Key = strings.Repeat("0f", 32) }, register.TroubleKey},
		"token": {func(e *register.Enrolment) { e.Token = strings.Repeat("A", 43) }, register.TroubleStranger},
	} {
		e := r.Enrolment
		c.change(&e)
		if _, err := register.Sync(context.Background(), l, e, time.Now); err == nil {
			t.Errorf("%s: sent", name)
		}
		if s := register.ReadStatus(l.Dir()); s.Trouble != c.want {
			t.Errorf("%s: %+v, want %q", name, s, c.want)
		}
	}
	if c := r.Chain(head(t, l).Bench); c.Seq > 0 || r.Asked("lines") > 0 {
		t.Error("lines were sent to a stranger")
	}
}
