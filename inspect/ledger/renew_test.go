package ledger

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"testing"
)

// asIs records bodies again as they are.
func asIs(r Record, _ map[Ref]Ref) (json.RawMessage, error) { return r.Body, nil }

// A card was copied, and both copies wrote on. The copy goes on under a new id: what only it holds is recorded again, in
// the same appends, about the same records; the old chain is cut at the last common line, and kept whole beside.
func TestRenew(t *testing.T) {
	m := newMemory()
	l := longLedger(t, m)
	for name := range m.nodes {
		if strings.HasPrefix(name, "ledger/open/") {
			m.Remove(name) // a draft that was thrown away: it keeps nobody
		}
	}
	all := chainLines(t, l, l.own, 0)
	old, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	// A common line at an append's end, by the records themselves.
	common := Head{Bench: l.own}
	tail := Tail{Bench: l.own}
	for _, text := range all[:len(all)/2] {
		if _, err := tail.Take(text); err != nil {
			t.Fatal(err)
		}
		if tail.More == 0 {
			common = tail.Head()
		}
	}
	before := map[string][]Record{}
	for _, subject := range []string{"tool:0", "tool:1", "tool:2"} {
		before[subject] = historyOf(t, l, subject)
	}
	first := Entry{Kind: "continues", Subject: "bench:" + l.own, Body: json.RawMessage(`{}`)}
	n, err := l.Renew(common, first, asIs)
	if err != nil {
		t.Fatal(err)
	}
	if n.Old != old || n.Common != common || n.New.Bench == old.Bench || n.Again == 0 {
		t.Fatalf("%+v", n)
	}
	headers := uint64(0) // that the segments here, which are tiny, need more
	for _, text := range chainLines(t, l, n.New.Bench, 0) {
		if r, err := ReadLine(n.New.Bench, text); err == nil && r.Kind == kindSegment {
			headers++
		}
	}
	// Nothing that was recorded is another thing, or in another place, than it was.
	for subject, was := range before {
		now := historyOf(t, l, subject)
		if len(now) != len(was) {
			t.Fatalf("%s: %d records, there were %d", subject, len(now), len(was))
		}
		for i := range now {
			a, b := was[i], now[i]
			if a.Kind != b.Kind || b.Counter < a.Counter || b.Counter > a.Counter+headers || a.Time != b.Time || a.Opens != b.Opens || a.Closes != b.Closes || !bytes.Equal(a.Body, b.Body) || (a.About == nil) != (b.About == nil) {
				t.Errorf("%s, %d from the newest: %+v, was %+v", subject, i, b, a)
			}
			if b.About != nil {
				if of, err := l.Lookup(*b.About); err != nil || of.Kind != "tool" {
					t.Errorf("%s: about %v: %v, %v", subject, b.About, of.Kind, err)
				}
			}
			if b.Bench == old.Bench && b.Seq > common.Seq || b.Bench == n.New.Bench && a.Seq <= common.Seq {
				t.Errorf("%s: number %d stands as %d of bench %s", subject, a.Seq, b.Seq, b.Bench)
			}
		}
	}
	// What was printed before is proven by what is kept.
	if v, err := verify(m, "ledger/forked/"+old.Bench, []string{old.String()}, nil); err != nil || v.Benches[0].Proven != old.Seq {
		t.Errorf("%+v, %v; want all of the old chain proven", v, err)
	}
	if v, err := verify(m, "ledger", []string{common.String(), n.New.String()}, nil); err != nil || len(v.Damage) != 1 || !v.Open[0].Gone || len(v.Benches) != 2 {
		t.Errorf("%+v, %v", v, err)
	}
	// Each record that was recorded again is named as it was.
	named := 0
	for _, text := range chainLines(t, l, n.New.Bench, 0) {
		r, err := ReadLine(n.New.Bench, text)
		if err != nil {
			t.Fatal(err)
		}
		var a Again
		if r.Kind == KindAgain && json.Unmarshal(r.Body, &a) == nil {
			for _, w := range a.Was {
				was, err := ReadLine(old.Bench, all[w.Seq-1])
				if err != nil || was.Hash != w.Hash {
					t.Errorf("%+v names %v, %v", w, was, err)
				}
				named++
			}
		}
	}
	if named != n.Again {
		t.Errorf("%d named, %d recorded again", named, n.Again)
	}
	mustAppend(t, l, "tool:1", 1)
	if again := mustOpen(t, m, "ledger", "b"); again.own != n.New.Bench {
		t.Errorf("it is bench %s", again.own)
	}
}

// A renewal that is cut off at any moment is whole or has not begun when the ledger is opened the next time; a program that
// had it open records nothing under the old id any more.
func TestRenewCutOff(t *testing.T) {
	for at := 1; at < 200; at++ {
		m := newMemory()
		l := mustOpen(t, m, "ledger", "b")
		other := mustOpen(t, m, "ledger", "b")
		mustAppend(t, l, "tool:1", 3)
		common, err := l.Head()
		if err != nil {
			t.Fatal(err)
		}
		mustAppend(t, l, "tool:1", 2)
		failing := &cutOff{fileSystem: m, left: at}
		l.opt.fsys = failing
		for _, c := range l.chains {
			c.fsys = failing
		}
		_, err = l.Renew(common, Entry{Kind: "continues", Body: json.RawMessage(`{}`)}, asIs)
		again := mustOpen(t, m, "ledger", "b")
		history := historyOf(t, again, "tool:1")
		if len(history) != 5 {
			t.Fatalf("cut off at %d: %d records, want 5", at, len(history))
		}
		if again.own != common.Bench {
			if _, err := other.Append(entry("tool", "tool:1", 1)); err == nil || !strings.Contains(err.Error(), "start it again") {
				t.Errorf("cut off at %d: recorded under the old id: %v", at, err)
			}
		}
		if _, err := again.Append(entry("tool", "tool:1", 1)); err != nil {
			t.Errorf("cut off at %d: %v", at, err)
		}
		if v, verifyErr := verify(m, "ledger", nil, nil); verifyErr != nil || len(v.Damage) > 0 {
			t.Errorf("cut off at %d: %+v, %v", at, v, verifyErr)
		}
		if err == nil {
			if again.own == common.Bench || at < 10 {
				t.Errorf("done at %d: bench %s", at, again.own)
			}
			return
		}
	}
	t.Error("it never ended")
}

// An inspection that is half read is closed first.
func TestRenewHalfRead(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	common, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	mustDraft(t, l, "EM-1.1", "one").Release()
	if _, err := l.Renew(common, Entry{Kind: "continues", Body: json.RawMessage(`{}`)}, asIs); err == nil || !strings.Contains(err.Error(), "EM-1.1 is half read") {
		t.Errorf("%v", err)
	}
}

// cutOff is a disk that fails from its n-th change on.
type cutOff struct {
	fileSystem
	left int
}

var errCutOff = errors.New("cut off")

func (c *cutOff) spend() error {
	if c.left--; c.left <= 0 {
		return errCutOff
	}
	return nil
}

func (c *cutOff) Rename(from, to string) error {
	if err := c.spend(); err != nil {
		return fmt.Errorf("%s: %w", to, err)
	}
	return c.fileSystem.Rename(from, to)
}

func (c *cutOff) Remove(name string) error {
	if _, err := c.Lstat(name); errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := c.spend(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return c.fileSystem.Remove(name)
}

func (c *cutOff) Mkdir(name string) error {
	if err := c.spend(); err != nil {
		return err
	}
	return c.fileSystem.Mkdir(name)
}
