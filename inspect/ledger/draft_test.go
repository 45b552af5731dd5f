package ledger

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"syscall"
	"testing"
)

func mustDraft(t *testing.T, l *Ledger, id string, lines ...string) *Draft {
	t.Helper()
	d, err := l.NewDraft(id, entry("opened", "tool:EM-1", 0))
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range lines {
		if err := d.Append([]byte(line)); err != nil {
			t.Fatal(err)
		}
	}
	return d
}

func texts(lines [][]byte) []string {
	var s []string
	for _, line := range lines {
		s = append(s, string(line))
	}
	return s
}

// TestDraftDamage takes up drafts that were torn or changed. What can be read is given, what cannot is
// named, and the draft goes on.
func TestDraftDamage(t *testing.T) {
	const path = "ledger/open/i-1.jsonl"
	tests := []struct {
		name   string
		damage func(data []byte) []byte
		left   []string
		line   int // named
	}{
		{"torn in the last line", func(d []byte) []byte { return d[:len(d)-3] }, []string{"one", "two"}, 4},
		{"cut before the last end of line", func(d []byte) []byte { return d[:len(d)-1] }, []string{"one", "two", "three"}, 0},
		{"zeros behind", func(d []byte) []byte { return append(d, make([]byte, 700)...) }, []string{"one", "two", "three"}, 5},
		{"a line without sense behind", func(d []byte) []byte { return append(d, "xyz\n"...) }, []string{"one", "two", "three"}, 5},
		{"one changed in the middle", func(d []byte) []byte {
			return []byte(strings.Replace(string(d), "two", "twe", 1))
		}, []string{"one", "three"}, 3},
		{"one taken out", func(d []byte) []byte {
			lines := strings.SplitAfter(string(d), "\n")
			return []byte(lines[0] + lines[1] + lines[3])
		}, []string{"one", "three"}, 3},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			m := newMemory()
			l := mustOpen(t, m, "ledger", "b")
			mustDraft(t, l, "i-1", "one", "two", "three").Release()
			m.nodes[path].data = test.damage(m.nodes[path].data)
			before := string(m.nodes[path].data)
			d, content, err := l.OpenDraft("i-1")
			if err != nil {
				t.Fatal(err)
			}
			if got := texts(content.Lines); !slices.Equal(got, test.left) {
				t.Errorf("lines %q, want %q", got, test.left)
			}
			if test.line == 0 {
				if len(content.Damage) > 0 {
					t.Errorf("damage %v, want none", content.Damage)
				}
			} else if len(content.Damage) == 0 || content.Damage[0].Line != test.line || content.Damage[0].Segment != "open/i-1.jsonl" {
				t.Errorf("damage %v, want line %d named", content.Damage, test.line)
			}
			if err := d.Append([]byte("next")); err != nil {
				t.Fatal(err)
			}
			if content, err = l.ReadDraft("i-1"); err != nil || !slices.Equal(texts(content.Lines), append(test.left, "next")) {
				t.Errorf("then lines %q, %v, want %q and next", texts(content.Lines), err, test.left)
			}
			if !strings.HasPrefix(string(m.nodes[path].data), before) {
				t.Error("what was in the file has been changed")
			}
			if _, err := d.Close(entry("summary", "tool:EM-1", 1)); err != nil {
				t.Error(err)
			}
		})
	}
}

// TestDraftTorn names a torn line once it is void among what was never acknowledged, and no more among the
// damage.
func TestDraftTorn(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	mustDraft(t, l, "i-1", "one", "two").Release()
	n := m.nodes["ledger/open/i-1.jsonl"]
	n.data = n.data[:len(n.data)-2]
	d, content, err := l.OpenDraft("i-1")
	if err != nil || len(content.Damage) != 1 || len(content.Torn) != 0 {
		t.Fatalf("%v, damage %v, torn %v, want one place damaged", err, content.Damage, content.Torn)
	}
	if err := d.Append([]byte("three")); err != nil {
		t.Fatal(err)
	}
	d.Release()
	_, content, err = l.OpenDraft("i-1")
	if err != nil || len(content.Damage) != 0 || len(content.Torn) != 1 {
		t.Errorf("%v, damage %v, torn %v, want one place torn", err, content.Damage, content.Torn)
	}
	if got := texts(content.Lines); !slices.Equal(got, []string{"one", "three"}) {
		t.Errorf("lines %q, want one and three", got)
	}
}

// TestDraftLeft finds a draft whose deletion was cut off, and deletes it; one that is open stays.
func TestDraftLeft(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	mustDraft(t, l, "open", "one").Release()
	d := mustDraft(t, l, "closed", "one")
	left := m.nodes["ledger/open/closed.jsonl"]
	if _, err := d.Close(entry("summary", "tool:EM-1", 1)); err != nil {
		t.Fatal(err)
	}
	m.nodes["ledger/open/closed.jsonl"] = left
	if _, _, err := l.OpenDraft("closed"); err == nil || !strings.Contains(err.Error(), "closed") {
		t.Errorf("OpenDraft gave %v, want that it is closed", err)
	}
	if ids, err := l.Drafts(); err != nil || !slices.Equal(ids, []string{"open"}) {
		t.Errorf("drafts %v, %v, want the open one", ids, err)
	}
	mustOpen(t, m, "ledger", "b")
	if m.nodes["ledger/open/closed.jsonl"] != nil || m.nodes["ledger/open/open.jsonl"] == nil {
		t.Errorf("files %v, want the open draft only", m.files())
	}
}

// TestDraftIDAgain uses the name of a closed draft for another one, which must not count as closed.
func TestDraftIDAgain(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	if _, err := mustDraft(t, l, "i-1", "one").Close(entry("summary", "tool:EM-1", 1)); err != nil {
		t.Fatal(err)
	}
	mustDraft(t, l, "i-1").Release()
	if ids, err := mustOpen(t, m, "ledger", "b").Drafts(); err != nil || !slices.Equal(ids, []string{"i-1"}) {
		t.Errorf("drafts %v, %v, want i-1", ids, err)
	}
	if _, err := l.NewDraft("i-1", entry("opened", "tool:EM-1", 0)); !errors.Is(err, fs.ErrExist) {
		t.Errorf("NewDraft gave %v, want %v", err, fs.ErrExist)
	}
}

// TestDraftBegunHalfway dies between making a draft's file and recording its opening. Nobody was told of the draft: it
// does not count, its name can be used, and the next program clears it away.
func TestDraftBegunHalfway(t *testing.T) {
	r := newRecorder()
	opt := Options{Clock: fixedClock(), fsys: r}
	l, err := Open("ledger", opt)
	if err != nil {
		t.Fatal(err)
	}
	mustAppend(t, l, "tool:EM-1", 1)
	r.fail = func(o operation) error {
		if o.kind == "open" && isSegment(o.path) {
			return syscall.EIO
		}
		return nil
	}
	if _, err := l.NewDraft("i-1", entry("opened", "tool:EM-1", 7)); !errors.Is(err, syscall.EIO) {
		t.Fatalf("NewDraft gave %v, want %v", err, syscall.EIO)
	}
	r.fail = func(operation) error { return nil }
	if r.nodes["ledger/open/i-1.jsonl"] == nil {
		t.Fatal("no file is left of the draft")
	}
	if ids, err := l.Drafts(); err != nil || len(ids) > 0 {
		t.Errorf("drafts %v, %v, want none", ids, err)
	}
	if _, _, err := l.OpenDraft("i-1"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("OpenDraft gave %v, want %v", err, fs.ErrNotExist)
	}
	d, err := l.NewDraft("i-1", entry("opened", "tool:EM-1", 8))
	if err != nil {
		t.Fatal(err)
	}
	if d.Release(); string(d.Opened().Body) != `{"n":8}` {
		t.Errorf("opened by %s", d.Opened().Body)
	}
	r.nodes["ledger/open/i-2.jsonl"] = &node{data: draftOf(fmt.Sprintf(`{"draft":"i-2","opened":{"bench":%q,"seq":99,"sha256":%q},"kind":"opened","subject":"","body":{}}`, l.own, digest{}.String()))}
	if _, err := Open("ledger", opt); err != nil {
		t.Fatal(err)
	}
	if r.nodes["ledger/open/i-2.jsonl"] != nil || r.nodes["ledger/open/i-1.jsonl"] == nil {
		t.Errorf("files %v, want i-1 and not i-2", r.files())
	}
}

// TestUnfinished shows drafts that are open or were thrown away.
func TestUnfinished(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	for i := range 9 {
		d := mustDraft(t, l, fmt.Sprintf("i-%d", i), "one")
		if i%3 == 0 {
			d.Release()
			continue
		}
		if _, err := d.Close(entry("summary", "tool:EM-1", 1)); err != nil {
			t.Fatal(err)
		}
	}
	delete(m.nodes, "ledger/open/i-3.jsonl")
	records, err := mustOpen(t, m, "ledger", "b").Unfinished()
	var ids []string
	for _, r := range records {
		ids = append(ids, r.Opens)
	}
	if err != nil || !slices.Equal(ids, []string{"i-0", "i-3", "i-6"}) {
		t.Errorf("unfinished %v, %v, want i-0, i-3 and i-6", ids, err)
	}
}

// TestDraftRefused gives a draft what it must not take.
func TestDraftRefused(t *testing.T) {
	l := mustOpen(t, newMemory(), "ledger", "b")
	for _, id := range []string{"", "a\nb", "\x1b[2J", "\xff", "a\u202eb", strings.Repeat("x", maxText+1)} {
		if _, err := l.NewDraft(id, entry("opened", "tool:EM-1", 0)); err == nil {
			t.Errorf("a draft of the name %q was begun", id)
		}
		if _, err := l.ReadDraft(id); err == nil {
			t.Errorf("a draft of the name %q was read", id)
		}
	}
	d := mustDraft(t, l, "i-1")
	for name, text := range map[string]string{"two lines": "a\nb", "too long": strings.Repeat("x", MaxLine)} {
		if err := d.Append([]byte(text)); err == nil {
			t.Errorf("%s were taken", name)
		}
	}
	if _, err := d.Close(); err == nil {
		t.Error("it was closed without a record")
	}
	d.Release()
	if err := d.Append([]byte("a")); err == nil {
		t.Error("a line was taken after letting go")
	}
	if _, err := d.Close(entry("summary", "tool:EM-1", 1)); err == nil {
		t.Error("it was closed after letting go")
	}
}
