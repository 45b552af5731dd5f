package ledger

import (
	"bytes"
	"strings"
	"testing"
)

// mendAll shows what would be done, sees that nothing is changed by that, and does it.
func mendAll(t *testing.T, m *memory, opt MendOptions) []Mend {
	t.Helper()
	l, err := Open("ledger", Options{Clock: fixedClock(), fsys: m, segmentSize: 1500})
	if err != nil {
		t.Fatal(err)
	}
	before := m.copied()
	mends, err := l.Mends(opt)
	if err != nil {
		t.Fatal(err)
	}
	for name, n := range before.nodes {
		if m.nodes[name] == nil || !bytes.Equal(m.nodes[name].data, n.data) {
			t.Fatalf("%s was changed by looking", name)
		}
	}
	kept := map[string]bool{}
	for _, name := range before.files() {
		kept[string(before.nodes[name].data)] = strings.HasPrefix(name, "ledger/open/") || isSegment(name)
	}
	if err := l.Do(mends, opt); err != nil {
		t.Fatal(err)
	}
	for data, must := range kept {
		found := !must
		for _, name := range m.files() {
			found = found || strings.HasPrefix(string(m.nodes[name].data), data)
		}
		if !found {
			t.Errorf("what was there is nowhere any more: %.80q", data)
		}
	}
	return mends
}

// TestMend damages a ledger in one way after the other, and wants it sound after mending, all records there, and nothing
// deleted.
func TestMend(t *testing.T) {
	whole := newMemory()
	l := longLedger(t, whole)
	first, last := whole.segments("ledger")[0], whole.lastSegment()
	chain := "ledger/" + l.own
	records := func(m *memory) (n int) {
		if err := mustOpen(t, m, "ledger", "b").Scan(func(r Record) error {
			if r.Kind != kindMend {
				n++
			}
			return nil
		}); err != nil {
			t.Error(err)
		}
		return n
	}
	all := records(whole.copied())
	tests := []struct {
		name   string
		damage func(m *memory)
		opt    MendOptions
		lost   int // records
		what   string
	}{
		{"a bit in an old segment", func(m *memory) { m.nodes[first].data[700] ^= 4 }, MendOptions{}, 0, "proves it"},
		{"a bit in the first line", func(m *memory) { m.nodes[first].data[30] ^= 4 }, MendOptions{}, 0, "proves it"},
		{"a byte in the last line", func(m *memory) { d := m.nodes[last].data; d[len(d)-9] ^= 0x55 }, MendOptions{}, 0, "check values tell"},
		{"a digit of a check value", func(m *memory) { m.nodes[last].data[3] ^= 1 }, MendOptions{}, 0, "check values tell"},
		{"an end of line", func(m *memory) { d := m.nodes[first].data; d[bytes.IndexByte(d, '\n')] = 'x' }, MendOptions{}, 0, "proves it"},
		{"many bytes, and a copy", func(m *memory) {
			m.copyFolder("ledger", "copy")
			copy(m.nodes[first].data[500:], "rubbish rubbish")
		}, MendOptions{From: "copy"}, 0, "take the segment from copy"},
		{"many bytes of the newest segment, and a copy", func(m *memory) {
			m.copyFolder("ledger", "copy")
			copy(m.nodes[last].data[500:], "rubbish rubbish")
		}, MendOptions{From: "copy"}, 0, "take the segment from copy"},
		{"a forged fault file", func(m *memory) { m.nodes[chain+"/fault"] = &node{data: []byte("{}")} }, MendOptions{}, 0, "move it to aside"},
		{"a stranger's draft", func(m *memory) { m.nodes["ledger/open/x.jsonl"] = &node{data: []byte("junk")} }, MendOptions{}, 0, "no record of this bench opened"},
		{"a draft that is gone", func(m *memory) { delete(m.nodes, "ledger/open/open.jsonl") }, MendOptions{}, 0, "is gone"},
		{"a draft of junk", func(m *memory) { m.nodes["ledger/open/open.jsonl"].data = []byte("junk") }, MendOptions{GiveUp: []string{"open"}}, 0, "close it, as given up"},
		{"an empty draft", func(m *memory) { m.nodes["ledger/open/open.jsonl"].data = nil }, MendOptions{GiveUp: []string{"open"}}, 0, "close it, as given up"},
		{"the bench file lost", func(m *memory) { delete(m.nodes, "ledger/bench") }, MendOptions{Bench: l.own}, 0, "go on as bench"},
		{"the bench file damaged", func(m *memory) { m.nodes["ledger/bench"].data[12] ^= 1 }, MendOptions{Bench: l.own}, 0, "go on as bench"},
		{"the chain gone, and a copy", func(m *memory) {
			m.copyFolder("ledger", "copy")
			for _, name := range m.segments("ledger") {
				delete(m.nodes, name)
			}
		}, MendOptions{From: "copy"}, 0, "take them from copy"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			m := whole.copied()
			test.damage(m)
			report, err := verify(m, "ledger", nil, nil)
			if err != nil || len(report.Damage) == 0 {
				t.Fatalf("verify gave %v, %v, want damage", report.Damage, err)
			}
			said := ""
			for _, mend := range mendAll(t, m, test.opt) {
				said += mend.What + ": " + mend.How + "\n"
			}
			if !strings.Contains(said, test.what) {
				t.Errorf("said %q, want %q", said, test.what)
			}
			report, err = verify(m, "ledger", nil, nil)
			if err != nil || len(report.Damage) > 0 {
				t.Errorf("after mending: %v, %v", report.Damage, err)
			}
			if n := records(m); n != all-test.lost {
				t.Errorf("%d records, want %d", n, all-test.lost)
			}
		})
	}
}

// TestMendAsks does nothing where a person must choose first.
func TestMendAsks(t *testing.T) {
	whole := newMemory()
	l := longLedger(t, whole)
	first := whole.segments("ledger")[0]
	for name, damage := range map[string]func(m *memory){
		"the bench file lost":  func(m *memory) { delete(m.nodes, "ledger/bench") },
		"a draft of junk":      func(m *memory) { m.nodes["ledger/open/open.jsonl"].data = []byte("junk") },
		"many bytes":           func(m *memory) { copy(m.nodes[first].data[500:], "rubbish rubbish") },
		"the folder gone":      func(m *memory) { deleteAll(m, "ledger/"+l.own) },
		"a copy that differs":  func(m *memory) { copy(m.nodes[first].data[500:], "rubbish rubbish"); m.copyFolder("ledger", "copy") },
		"a line that is twice": func(m *memory) { d := &m.nodes[first].data; *d = append(*d, *d...) },
	} {
		m := whole.copied()
		damage(m)
		before := m.copied()
		mends := mendAll(t, m, MendOptions{From: map[bool]string{true: "copy"}[name == "a copy that differs"]})
		for _, mend := range mends {
			if !mend.Ask {
				t.Errorf("%s: %s: %s: done without asking", name, mend.What, mend.How)
			}
		}
		if len(mends) != 1 && name != "a line that is twice" {
			t.Errorf("%s: %d to mend, want 1", name, len(mends))
		}
		for _, file := range before.files() {
			if m.nodes[file] == nil || !bytes.Equal(m.nodes[file].data, before.nodes[file].data) {
				t.Errorf("%s: %s was changed", name, file)
			}
		}
	}
}

func deleteAll(m *memory, under string) {
	for name := range m.nodes {
		if name == under || strings.HasPrefix(name, under+"/") {
			delete(m.nodes, name)
		}
	}
}
