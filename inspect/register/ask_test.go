package register_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"flutelog/inspect/ledger"
	"flutelog/inspect/register"
	"flutelog/inspect/register/registertest"
)

func ask(l *ledger.Ledger, r *registertest.Register, subjects ...string) (int, error) {
	return register.Ask(context.Background(), l, r.Enrolment, time.Now, subjects...)
}

// What other benches recorded of many subjects is asked in a few questions, each of a few of them, and each answer is kept
// as it comes. A register that does not answer changes nothing.
func TestAsk(t *testing.T) {
	r := registertest.New(t)
	there, here := mustOpen(t, t.TempDir()), mustOpen(t, t.TempDir())
	var subjects []string
	for i := range 40 {
		subjects = append(subjects, fmt.Sprintf("tool:EM-%d", i))
		note(t, there, fmt.Sprintf("EM-%d", i), 200)
	}
	if _, err := send(there, r); err != nil {
		t.Fatal(err)
	}
	fresh, err := ask(here, r, subjects...)
	if err != nil || fresh != 40 || r.Asked("subjects") != 3 {
		t.Fatalf("%d, %v in %d questions, want 40 in 3", fresh, err, r.Asked("subjects"))
	}
	note(t, there, "EM-7", 100)
	if _, err := send(there, r); err != nil {
		t.Fatal(err)
	}
	r.Down(true)
	var none *register.NoAnswer
	if _, err := ask(here, r, subjects...); !errors.As(err, &none) {
		t.Errorf("%v, want no answer", err)
	}
	n := 0
	for rec, err := range here.History("tool:EM-7") {
		if err != nil || !rec.Told {
			t.Fatalf("%v, %v", rec, err)
		}
		n++
	}
	if n != 1 {
		t.Errorf("%d records, want the one that was told", n)
	}
	r.Down(false)
	if fresh, err := ask(here, r, subjects...); err != nil || fresh != 1 {
		t.Errorf("%d, %v, want the one that is new", fresh, err)
	}
}

// A ledger that is asked for while it is an old copy says so, and records nothing from then on.
func TestAskAsAnOldCopy(t *testing.T) {
	r := registertest.New(t)
	l := mustOpen(t, t.TempDir())
	note(t, l, "EM-1", 10)
	old := copyFolder(t, l.Dir())
	note(t, l, "EM-1", 10)
	if _, err := send(l, r); err != nil {
		t.Fatal(err)
	}
	copied := mustOpen(t, old)
	var behind *register.Behind
	if _, err := ask(copied, r, "tool:EM-1"); !errors.As(err, &behind) {
		t.Fatalf("%v, want behind", err)
	}
	if err := register.Refuses(old, head(t, copied)); err == nil {
		t.Error("it may record")
	}
	r.Down(true) // which takes nothing back
	if _, err := send(copied, r); err == nil {
		t.Error("sent")
	}
	if err := register.Refuses(old, head(t, copied)); err == nil {
		t.Error("it may record once the register does not answer")
	}
	r.Down(false)
	if came, err := register.Recover(context.Background(), copied, r.Enrolment, time.Now); err != nil || came != 1 {
		t.Fatalf("%d, %v", came, err)
	}
	if err := register.Refuses(old, head(t, copied)); err != nil || head(t, copied) != head(t, l) {
		t.Errorf("%v at %v, want %v", err, head(t, copied), head(t, l))
	}
}

// A lost bench's ledger is made anew and recorded on; its old disk, put back, is an old copy. An answer that is cut off
// leaves an old copy too, which recovering completes.
func TestRestore(t *testing.T) {
	r := registertest.New(t)
	l := mustOpen(t, t.TempDir())
	for range 30 {
		note(t, l, "EM-1", 40_000)
	}
	if _, err := send(l, r); err != nil {
		t.Fatal(err)
	}
	lost, own := l.Dir(), head(t, l)
	dir := t.TempDir()
	if tail, err := register.Restore(context.Background(), dir, own.Bench, r.Enrolment); err != nil || tail.Head() != own {
		t.Fatalf("%v, %v, want %v", tail, err, own)
	}
	if _, err := register.Restore(context.Background(), dir, own.Bench, r.Enrolment); err == nil {
		t.Error("restored over a ledger")
	}
	back := mustOpen(t, dir)
	if v, err := ledger.Verify(dir, []string{own.String()}, nil); err != nil || len(v.Damage) > 0 || v.Benches[0].Proven != own.Seq {
		t.Errorf("%+v, %v", v, err)
	}
	note(t, back, "EM-1", 10)
	if sent, err := send(back, r); err != nil || sent.Lines != 1 {
		t.Fatalf("%+v, %v", sent, err)
	}
	var behind *register.Behind
	if _, err := send(mustOpen(t, lost), r); !errors.As(err, &behind) {
		t.Errorf("the old disk: %v, want behind", err)
	}

	var whole [][]byte
	r.Do(func(chains map[string]*registertest.Chain) {
		whole = chains[own.Bench].Lines
		chains[own.Bench].Lines = append(whole[:12:12], []byte("cut o")) // as an answer ends that breaks off
	})
	half := t.TempDir()
	if _, err := register.Restore(context.Background(), half, own.Bench, r.Enrolment); err == nil {
		t.Fatal("what was cut off looks whole")
	}
	r.Do(func(chains map[string]*registertest.Chain) { chains[own.Bench].Lines = whole })
	again := mustOpen(t, half)
	if at := head(t, again); at.Bench != own.Bench || at.Seq != 12 {
		t.Fatalf("%v, want the twelve lines that came", at)
	}
	if _, err := register.Recover(context.Background(), again, r.Enrolment, time.Now); err != nil || head(t, again) != head(t, back) {
		t.Errorf("%v at %v, want %v", err, head(t, again), head(t, back))
	}
}

// Of many acknowledgements the last two hundred are kept, each with what the register's own ledger ended with; they are
// heads that the ledger can be held against.
func TestReceipts(t *testing.T) {
	r := registertest.New(t)
	l := mustOpen(t, t.TempDir())
	witness := strings.Repeat("a", 16) + "-7-" + strings.Repeat("0", 64)
	r.Witness(witness)
	for range 203 {
		note(t, l, "EM-1", 3)
		if _, err := send(l, r); err != nil {
			t.Fatal(err)
		}
	}
	receipts, err := register.Receipts(l.Dir())
	if err != nil || len(receipts) != 200 {
		t.Fatalf("%d receipts, %v", len(receipts), err)
	}
	var heads []string
	for _, x := range receipts {
		if x.Witness != witness || x.Address != r.Address {
			t.Fatalf("%+v", x)
		}
		heads = append(heads, x.Head)
	}
	if heads[199] != head(t, l).String() {
		t.Errorf("the last is of %s", heads[199])
	}
	if v, err := ledger.Verify(l.Dir(), heads, nil); err != nil || len(v.Damage) > 0 || v.Benches[0].Proven != head(t, l).Seq {
		t.Errorf("%+v, %v", v, err)
	}
}

// Whatever a register refuses is kept in words, and what a person must do something about as a trouble; the ledger is
// recorded in meanwhile.
func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		status int
		why    register.Why
		want   register.Trouble
	}{
		{http.StatusForbidden, register.NotYours, register.TroubleStranger},
		{http.StatusForbidden, register.Shut, register.TroubleClosed},
		{http.StatusUnprocessableEntity, register.Damaged, register.TroubleDamaged},
		{http.StatusTooManyRequests, register.Wait, ""},
		{http.StatusServiceUnavailable, register.Down, ""},
	} {
		r := registertest.New(t)
		l := mustOpen(t, t.TempDir())
		r.Refuse(c.status, register.Refusal{Why: c.why, Text: "no, because"})
		_, err := send(l, r)
		s := register.ReadStatus(l.Dir())
		if err == nil || s.Failure != "no, because" || s.Trouble != c.want || (s.Warning() == "") != (c.want == "") {
			t.Errorf("%s: %v, %+v", c.why, err, s)
		}
		note(t, l, "EM-1", 3)
		r.Refuse(0, register.Refusal{})
		if _, err := send(l, r); err != nil || register.ReadStatus(l.Dir()).Trouble != "" {
			t.Errorf("%s, and then not: %v", c.why, err)
		}
	}
}

// What is kept of the register is for its owner alone.
func TestFilesAreSecret(t *testing.T) {
	r := registertest.New(t)
	l := mustOpen(t, t.TempDir())
	if err := register.Join(l.Dir(), r.Enrolment); err != nil {
		t.Fatal(err)
	}
	note(t, l, "EM-1", 3)
	if _, err := send(l, r); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(l.Dir() + "/register")
	if err != nil || len(entries) < 3 {
		t.Fatalf("%v, %v", entries, err)
	}
	for _, e := range entries {
		if info, err := e.Info(); err != nil || info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: %v, %v", e.Name(), info.Mode(), err)
		}
	}
	if e, ok, err := register.Joined(l.Dir()); err != nil || !ok || e != r.Enrolment {
		t.Errorf("%v, %v, %v", e, ok, err)
	}
	var s register.Status
	text, err := os.ReadFile(l.Dir() + "/register/status")
	if err != nil || json.Unmarshal(text, &s) != nil || strings.Contains(string(text), r.Token) {
		t.Errorf("%v, %s", err, text)
	}
}
