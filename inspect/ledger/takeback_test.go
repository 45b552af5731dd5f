package ledger

import (
	"bytes"
	"errors"
	"testing"
)

// An old copy is brought up to date from lines in as many halves as they come, and is the true one byte for byte then: also
// where what was copied ends in a torn append.
func TestTakeBack(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	mustAppend(t, l, "tool:1", 2)
	m.copyFolder("ledger", "old")
	names := m.segments("old")
	torn := m.nodes[names[len(names)-1]]
	torn.data = append(torn.data, "0badc0de 4 to"...)
	for i := range 12 {
		e := []Entry{entry("tool", "tool:1", i), entry("note", "", i), entry("ruling", "tool:1", i)}
		if _, err := l.Append(e[:1+i%3]...); err != nil {
			t.Fatal(err)
		}
	}
	want, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	old := &Ledger{dir: "old", opt: Options{Bench: "b", fsys: m, segmentSize: 1 << 10, Clock: l.opt.Clock}.withDefaults(), chains: map[string]*chain{}}
	if err := old.identify(); err != nil { // not tidied: the torn bytes are there yet
		t.Fatal(err)
	}
	cut := errors.New("cut off")
	for tries := 0; ; tries++ {
		if tries > 40 {
			t.Fatal("it never came to an end")
		}
		own, err := old.Head()
		if err != nil {
			t.Fatal(err)
		}
		if own == want {
			break
		}
		behind := chainLines(t, l, l.own, own.Seq)
		_, err = old.TakeBack(func(yield func([]byte, error) bool) {
			for i, text := range behind {
				if i == 4 { // an append has three lines at most
					yield(nil, cut)
					return
				}
				if !yield(text, nil) {
					return
				}
			}
		})
		if err != nil && !errors.Is(err, cut) {
			t.Fatal(err)
		}
		if now, err := old.Head(); err != nil || now.Seq <= own.Seq {
			t.Fatalf("still at %v, %v", now, err)
		}
	}
	for _, name := range m.segments("ledger") {
		there := m.nodes["old"+name[len("ledger"):]]
		if there == nil || !bytes.Equal(there.data, m.nodes[name].data) {
			t.Errorf("%s is not the same", name)
		}
	}
	if v, err := verify(m, "old", []string{want.String()}, nil); err != nil || len(v.Damage) > 0 || v.Benches[0].Proven != want.Seq {
		t.Errorf("%+v, %v", v, err)
	}
	again := mustOpen(t, m, "old", "b")
	mustAppend(t, again, "tool:1", 1)
	if _, err := old.TakeBack(given([][]byte{[]byte("hello\n")})); err == nil {
		t.Error("what is no line was taken")
	}
	other := mustOpen(t, m, "other", "c")
	mustAppend(t, other, "tool:1", int(want.Seq)+3)
	if came, err := again.TakeBack(given(chainLines(t, other, other.own, want.Seq+1))); err == nil || came > 0 {
		t.Errorf("%d lines of another bench were taken", came)
	}
}
