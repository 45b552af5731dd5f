package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
)

// tally counts what was tried against a ledger, and what verifying did not find, without a printed head and with one.
type tally struct {
	t    *testing.T
	head Head
	void []Damage           // of the ledger as it was
	rows map[string]*[3]int // tried, undetected without a head, undetected with it
}

// try verifies a changed ledger. Where more than nothing may go undetected without a head, may says so.
func (c *tally) try(what string, m *memory, place string, may bool) {
	c.t.Helper()
	row := c.rows[what]
	if row == nil {
		row = &[3]int{}
		c.rows[what] = row
	}
	row[0]++
	for i, heads := range [][]string{nil, {c.head.String()}} {
		report, err := verify(m, "ledger", heads, nil)
		if err == nil && len(report.Damage) == 0 && slices.Equal(report.Void, c.void) {
			row[1+i]++
			if (i == 1 || !may) && !strings.HasPrefix(what, "void") {
				c.t.Errorf("%s: %s: not found (head given: %v)", what, place, i == 1)
			}
		}
	}
}

// rewritten returns a ledger in which lines have been changed by somebody who can count: every check value, hash, length
// and header behind them is made right again, and the file of heads with them.
func rewritten(t *testing.T, m *memory, bench string, change func(*line)) *memory {
	t.Helper()
	forged := m.copied()
	var last line
	var before []byte
	states := newHeads()
	for _, name := range m.segments("ledger/" + bench) {
		var data []byte
		for text := range bytes.Lines(m.nodes[name].data) {
			l, err := parseLine(bytes.TrimSuffix(text, []byte("\n")))
			if err != nil { // void: it stays
				data = append(data, text...)
				continue
			}
			change(&l)
			if l.previous = last.hash; l.kind == kindSegment {
				h, err := l.header()
				if err != nil {
					t.Fatal(err)
				}
				file := states.file(l.seq)
				h.Heads = digest(sha256.Sum256(file)).String()
				forged.nodes["ledger/"+bench+"/"+headsName] = &node{data: file}
				if h.Previous != nil {
					good, _, _ := bytes.Cut(before, []byte("0badc0de"))
					h.Previous.Length, h.Previous.SHA256 = int64(len(good)), digest(sha256.Sum256(good)).String()
				}
				if l.body, err = json.Marshal(h); err != nil {
					t.Fatal(err)
				}
			}
			l.at = position{0, int64(len(data))}
			if n := len(name); n > 18 {
				fmt.Sscanf(name[n-18:n-6], "%d", &l.at.Segment)
			}
			text = appendLine(nil, l)
			l.hash = sha256.Sum256(text[:len(text)-1])
			data = append(data, text...)
			states.add(l)
			if last = l; l.Opens == "open" {
				rechain(forged.nodes["ledger/open/open.jsonl"], l.hash)
			}
		}
		forged.nodes[name].data = data
		before = data
	}
	return forged
}

// rechain makes a draft follow another record.
func rechain(n *node, opened digest) {
	var data []byte
	for text := range bytes.Lines(n.data) {
		l, err := parseDraftLine(bytes.TrimSuffix(text, []byte("\n")))
		if err != nil {
			return
		}
		if l.number == 1 {
			l.text = bytes.Replace(l.text, []byte(l.previous.String()), []byte(opened.String()), 1)
		}
		start := len(data)
		data = appendDraftLine(data, l.number, l.mark, opened, l.text)
		opened = sha256.Sum256(data[start : len(data)-1])
	}
	n.data = data
}

// TestForgeries tries everything that a card, a hand or a forger may do to a ledger of several segments, benches and
// drafts, and counts what verifying does not find. Nothing may go unfound but what no look at the folder alone can find.
func TestForgeries(t *testing.T) {
	m := newMemory()
	l := longLedger(t, m)
	other := mustOpen(t, m, "other", "other")
	mustAppend(t, other, "tool:1", 3)
	mustMerge(t, l, "other")
	deleteAll(m, "other")
	mustAppend(t, l, "tool:1", 2)
	head, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	delete(m.nodes, "ledger/"+lockName)
	sound, err := verify(m, "ledger", []string{head.String()}, nil)
	if err != nil || len(sound.Damage) > 0 || len(sound.Void) != 1 {
		t.Fatal(err, sound.Damage, sound.Void)
	}
	c := tally{t, head, sound.Void, map[string]*[3]int{}}
	for _, name := range m.files() {
		c.bytes(m, name)
		if isSegment(name) || strings.Contains(name, "/open/") {
			c.lines(m, name, l.own)
		}
	}
	c.segments(m)
	c.rewrites(m, l)
	c.folder(m, l.own)
	for _, what := range slices.Sorted(maps.Keys(c.rows)) {
		row := c.rows[what]
		t.Logf("%-62s tried %6d, not found %4d, with a printed head %d", what, row[0], row[1], row[2])
	}
}

// with returns a ledger with other content of a file.
func (m *memory) with(name string, data []byte) *memory {
	changed := newMemory()
	maps.Copy(changed.nodes, m.nodes)
	changed.nodes[name] = &node{data: data}
	return changed
}

// bytes changes, deletes and doubles every byte of a file, swaps it with the next one and cuts the file there.
func (c *tally) bytes(m *memory, name string) {
	data := m.nodes[name].data
	newest := name == m.newestOf(c.head.Bench)
	theirs := isSegment(name) && !strings.Contains(name, c.head.Bench)
	void := bytes.Index(data, []byte("0badc0de 4 tool"))
	step := stride()
	if testing.Short() {
		step *= 5
	}
	for i := 0; i < len(data); i += step {
		place := fmt.Sprintf("%s, byte %d", name, i)
		if void >= 0 && i >= void { // what was never recorded; that there is more or less of it shows
			changed := bytes.Clone(data)
			changed[i] ^= 1 << (i % 8)
			c.try("void: a bit flipped in bytes that are", m.with(name, changed), place, true)
			c.try("void: cut off behind the last append", m.with(name, data[:i]), place, true)
			continue
		}
		if i == len(data)-1 && strings.Contains(name, "/open/") {
			continue // the end of the last line, without which all of it is there
		}
		flipped := bytes.Clone(data)
		flipped[i] ^= 1 << (i % 8)
		c.try("a bit flipped", m.with(name, flipped), place, false)
		c.try("a byte deleted", m.with(name, slices.Delete(bytes.Clone(data), i, i+1)), place, false)
		c.try("a byte doubled", m.with(name, slices.Insert(bytes.Clone(data), i, data[i])), place, false)
		if i+1 < len(data) && data[i] != data[i+1] {
			swapped := bytes.Clone(data)
			swapped[i], swapped[i+1] = data[i+1], data[i]
			c.try("two bytes swapped", m.with(name, swapped), place, false)
		}
		end := i > 0 && data[i-1] == '\n' || data[i] == '\n' && strings.Contains(name, "/open/")
		if end && theirs || end && strings.Contains(name, "/open/") {
			continue // as it was an hour ago, of what no head given is about: counted by lines
		}
		c.try("cut off", m.with(name, data[:i]), place, end && newest)
	}
}

// newestOf returns a bench's newest segment.
func (m *memory) newestOf(bench string) string {
	names := m.segments("ledger/" + bench)
	return names[len(names)-1]
}

// lines removes, doubles and swaps the lines of a file, and replaces each by another with a right check value.
func (c *tally) lines(m *memory, name, own string) {
	lines := slices.Collect(bytes.Lines(m.nodes[name].data))
	draft := strings.Contains(name, "/open/")
	theirs := isSegment(name) && !strings.Contains(name, own)
	for i, text := range lines {
		place := fmt.Sprintf("%s:%d", name, i+1)
		last := i == len(lines)-1
		what := "a line "
		open := false
		if draft {
			what = "a draft's line "
		}
		if last && draft || last && theirs {
			// Of a draft no head is printed, and none of the other bench is given: what was last in it is as safe as the
			// folder is.
			continue
		}
		if last && name == m.newestOf(own) {
			open = true
		}
		without := bytes.Join(slices.Delete(slices.Clone(lines), i, i+1), nil)
		if bytes.HasPrefix(text, []byte("0badc0de")) {
			continue
		}
		c.try(what+"removed", m.with(name, without), place, open)
		c.try(what+"doubled", m.with(name, bytes.Join(slices.Insert(slices.Clone(lines), i, text), nil)), place, false)
		if !last {
			swapped := slices.Clone(lines)
			swapped[i], swapped[i+1] = lines[i+1], lines[i]
			c.try(what+"swapped with the next", m.with(name, bytes.Join(swapped, nil)), place, false)
		}
		changed := bytes.Replace(text[9:len(text)-1], []byte(`"n":`), []byte(`"n":1`), 1)
		if bytes.Equal(changed, text[9:len(text)-1]) {
			continue
		}
		replaced := slices.Clone(lines)
		replaced[i] = withCheck(changed)
		c.try(what+"replaced, its check value right", m.with(name, bytes.Join(replaced, nil)), place, open)
	}
}

// segments removes and swaps segments.
func (c *tally) segments(m *memory) {
	names := m.segments("ledger")
	for i, name := range names {
		cut := m.copied()
		delete(cut.nodes, name)
		c.try("a segment removed", cut, name, name == m.newestOf(c.head.Bench))
		for _, other := range names[i+1:] {
			swapped := m.copied()
			swapped.nodes[name], swapped.nodes[other] = m.nodes[other], m.nodes[name]
			c.try("two segments swapped", swapped, name+" "+other, false)
		}
	}
}

// rewrites forges one thing and makes all that follows right again, but for the printed head.
func (c *tally) rewrites(m *memory, l *Ledger) {
	var all []line
	for _, name := range m.segments("ledger/" + l.own) {
		var first uint64
		fmt.Sscanf(name[len(name)-18:len(name)-6], "%d", &first)
		segment{first: first, data: m.nodes[name].data}.lines(func(l line, err error) error {
			if err == nil {
				all = append(all, l)
			}
			return nil
		})
	}
	for _, target := range all {
		place := fmt.Sprintf("number %d", target.seq)
		forge := func(what string, may bool, change func(*line)) {
			forged := rewritten(c.t, m, l.own, func(l *line) {
				if l.seq == target.seq {
					change(l)
				}
			})
			c.try(what, forged, place, may)
		}
		if target.kind != kindSegment {
			forge("a record rewritten, and all behind it", true, func(l *line) { l.body = []byte(strings.ReplaceAll(string(l.body), "n", "m")) })
		}
		if target.Earlier != nil {
			forge("a back-pointer forged, and all behind it rewritten", false, func(l *line) {
				l.Earlier = &position{l.Earlier.Segment, l.Earlier.Offset + 1 - 2*(l.Earlier.Offset%2)}
			})
			forge("a back-pointer taken away, and all behind it rewritten", false, func(l *line) { l.Earlier = nil })
		}
		if target.About != nil {
			forge("a record made to be about another, and all behind it rewritten", false, func(l *line) {
				about := *l.About
				about.Seq--
				l.About = &about
			})
		}
		if target.More > 0 {
			forge("an append's length forged, and all behind it rewritten", false, func(l *line) { l.More++ })
		}
		if target.seq > 1 {
			forge("a counter set back, and all behind it rewritten", false, func(l *line) { l.counter = min(l.seq-1, target.counter-1) })
		}
	}
	for _, name := range m.segments("ledger/" + l.own)[1:] {
		data := bytes.Clone(m.nodes[name].data)
		header := data[:bytes.IndexByte(data, '\n')]
		for _, forged := range [][2]string{{`"length":`, `"length":1`}, {`"segment":1`, `"segment":2`}, {`"heads":"`, `"heads":"0`}, {`"label":"b"`, `"label":"c"`}} {
			changed := bytes.Replace(header[9:], []byte(forged[0]), []byte(forged[1]), 1)
			if bytes.Equal(changed, header[9:]) {
				continue
			}
			c.try("a header forged, its check value right", m.with(name, append(withCheck(changed), data[len(header)+1:]...)), name, false)
		}
	}
	c.voids(m, l)
}

// voids begins a new segment that makes recorded lines void, as if their append had failed.
func (c *tally) voids(m *memory, l *Ledger) {
	name := m.newestOf(l.own)
	data := m.nodes[name].data
	ends := []int{}
	segment{data: data}.lines(func(l line, err error) error {
		if err == nil && l.More == 0 {
			ends = append(ends, int(l.end))
		}
		return nil
	})
	for _, end := range ends[:len(ends)-1] {
		forged := m.with(name, bytes.Clone(data[:end]))
		forged.nodes[name].data = append(forged.nodes[name].data, "torn"...)
		mustAppend(c.t, mustOpen(c.t, forged, "ledger", "b"), "tool:2", 1) // a new segment behind it
		forged.nodes[name].data = bytes.Clone(data)
		delete(forged.nodes, "ledger/"+lockName)
		c.try("recorded lines made void by a new segment", forged, fmt.Sprintf("from byte %d", end), false)
	}
}

// folder forges what lies beside the lines.
func (c *tally) folder(m *memory, own string) {
	chain := "ledger/" + own + "/"
	heads := m.nodes[chain+headsName].data
	for text := range bytes.Lines(heads) {
		if !bytes.HasPrefix(text, []byte(`"`)) {
			continue
		}
		c.try("a subject taken out of the file of heads", m.with(chain+headsName, bytes.Replace(heads, text, nil, 1)), string(text), false)
		moved := bytes.Replace(text, []byte("["), []byte("[1"), 1)
		c.try("a subject's head moved", m.with(chain+headsName, bytes.Replace(heads, text, moved, 1)), string(text), false)
	}
	c.try("a note that records are void", m.with(chain+"fault", withCheck([]byte(`{"segment":1,"length":500,"size":600}`))), "fault", false)
	c.try("a file of a stranger among the drafts", m.with("ledger/open/x.jsonl", []byte("x")), "x", false)
	gone := m.copied()
	delete(gone.nodes, "ledger/open/open.jsonl")
	c.try("a draft deleted", gone, "open", false)
	c.try("a draft emptied", m.with("ledger/open/open.jsonl", nil), "open", false)
	for _, what := range []string{"ledger/" + own, "ledger/bench"} {
		gone := m.copied()
		deleteAll(gone, what)
		c.try("the folder of the chain, or the file of the bench, deleted", gone, what, false)
	}
}
