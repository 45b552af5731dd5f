package ledger

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// smallLedger returns a ledger in memory with two segments, a draft and heads.json, and its head.
func smallLedger(t *testing.T) (*memory, Head) {
	t.Helper()
	m := newMemory()
	l, err := Open("ledger", Options{Bench: "b", Clock: fixedClock(), fsys: m, segmentSize: 1300})
	if err != nil {
		t.Fatal(err)
	}
	d, err := l.NewDraft("d", entry("opened", "t:1", 0))
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Append([]byte(`{"r":1}`)); err != nil {
		t.Fatal(err)
	}
	d.Release()
	for i := range 3 {
		if _, err := l.Append(entry("tool", "t:1", i)); err != nil {
			t.Fatal(err)
		}
	}
	head, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	delete(m.nodes, "ledger/"+lockName)
	return m, head
}

// files returns the names of the files in a memory that hold anything, sorted.
func (m *memory) files() []string {
	var names []string
	for _, name := range slices.Sorted(maps.Keys(m.nodes)) {
		if len(m.nodes[name].data) > 0 {
			names = append(names, name)
		}
	}
	return names
}

func isSegment(name string) bool { return segmentPattern.MatchString(filepath.Base(name)) }

// found verifies a ledger and says whether damage is found and named: in that file and, where lines are
// counted, in that line.
func found(m *memory, head, name string, line int) error {
	var heads []string
	if head != "" {
		heads = []string{head}
	}
	report, err := verify(m, "ledger", heads, nil)
	if err != nil {
		return err
	}
	if len(report.Damage) == 0 {
		return errors.New("not found")
	}
	for _, d := range report.Damage {
		if "ledger/"+d.Segment == name && (d.Line == line || d.Line == 0) {
			return nil
		}
	}
	return fmt.Errorf("named %v", report.Damage)
}

// readable returns the records that can be read by Scan and by History, which must be the same.
func readable(m *memory, subject string) ([]string, error) {
	l, err := Open("ledger", Options{Clock: fixedClock(), fsys: m})
	if err != nil {
		return nil, err
	}
	var scanned, history []string
	var damaged *DamageError
	err = l.Scan(func(r Record) error {
		scanned = append(scanned, r.Hash)
		return nil
	})
	if err != nil && !errors.As(err, &damaged) {
		return nil, err
	}
	for r, err := range l.History(subject) {
		if err == nil {
			history = append(history, r.Hash)
		} else if !errors.As(err, &damaged) {
			return nil, err
		}
	}
	slices.Reverse(history)
	if !slices.Equal(scanned, history) {
		return nil, fmt.Errorf("Scan reads %d records and History %d", len(scanned), len(history))
	}
	return scanned, nil
}

func TestSoundLedger(t *testing.T) {
	m, head := smallLedger(t)
	report, err := verify(m, "ledger", []string{head.String()}, nil)
	if err != nil || len(report.Damage) > 0 || len(report.Void) > 0 {
		t.Errorf("%v, damage %v, void %v, want none", err, report.Damage, report.Void)
	}
	if want := []BenchReport{{Bench: head.Bench, Label: "b", Own: true, Segments: 2, Records: 4, Head: head, Proven: head.Seq}}; !slices.Equal(report.Benches, want) {
		t.Errorf("benches %v, want %v", report.Benches, want)
	}
}

// stride is how far apart the bytes are that the long tests change: all of them, and some when it must be
// short.
func stride() int {
	if testing.Short() {
		return 11
	}
	return 1
}

// TestChangedBits changes every bit of every file. Whatever is changed is found and named, and the records
// on lines that were not changed still read.
func TestChangedBits(t *testing.T) {
	m, _ := smallLedger(t)
	all, err := readable(m.copied(), "t:1")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range m.files() {
		data := m.nodes[name].data
		for i := 0; i < len(data); i += stride() {
			line := bytes.Count(data[:i], []byte("\n")) + 1
			for bit := range 8 {
				changed := m.copied()
				changed.nodes[name].data[i] ^= 1 << bit
				if err := found(changed, "", name, line); err != nil {
					t.Fatalf("%s:%d: byte %d, bit %d: %v", name, line, i, bit, err)
				}
				if bit != i%8 {
					continue // reading on takes longer
				}
				left, err := readable(changed, "t:1")
				if err != nil || len(left) < len(all)-1 || !isSegment(name) && len(left) < len(all) {
					t.Fatalf("%s:%d: byte %d, bit %d: %d of %d records read, %v", name, line, i, bit, len(left), len(all), err)
				}
			}
		}
	}
}

// TestChangedBytes gives every byte of every file a few other values, an end of line among them, and
// verifies, and every byte of every line all other values and reads the line.
func TestChangedBytes(t *testing.T) {
	m, _ := smallLedger(t)
	for _, name := range m.files() {
		data := m.nodes[name].data
		for i := 0; i < len(data); i += stride() {
			was, line := data[i], bytes.Count(data[:i], []byte("\n"))+1
			for _, value := range []byte{0, ' ', '\n', was ^ 0x55, 0xff} {
				if data[i] = value; value == was {
					continue
				}
				if err := found(m, "", name, line); err != nil {
					t.Fatalf("%s:%d: byte %d from %q to %q: %v", name, line, i, was, value, err)
				}
			}
			data[i] = was
		}
		if isSegment(name) {
			changeBytes(t, name, data)
		}
	}
}

func changeBytes(t *testing.T, name string, data []byte) {
	t.Helper()
	for text := range bytes.Lines(data) {
		text = bytes.TrimSuffix(text, []byte("\n"))
		for i := 0; i < len(text); i += stride() {
			for range 255 {
				text[i]++
				if _, err := parseLine(text); err == nil {
					t.Fatalf("%s: byte %d of a line changed to %q is not found: %s", name, i, text[i], text)
				}
			}
			text[i]++
		}
	}
}

// TestCuts cuts every file at every byte. A cut at the end of a line of the last segment or of a draft looks
// like the ledger of an hour before: in a segment it is found with a printed head, which a draft has not.
func TestCuts(t *testing.T) {
	m, head := smallLedger(t)
	for _, name := range m.files() {
		whole := m.nodes[name].data
		for n := 0; n < len(whole); n += stride() {
			cut := m.copied()
			cut.nodes[name].data = whole[:n]
			lineEnd := n == 0 || whole[n-1] == '\n'
			if (lineEnd || whole[n] == '\n') && strings.Contains(name, "/open/") {
				continue // a line that lacks only its end is all there
			}
			line := bytes.Count(whole[:n], []byte("\n")) + 1
			err := found(cut, "", name, line)
			if lineEnd && err != nil && isSegment(name) {
				err = found(cut, head.String(), "ledger/"+head.Bench, 0)
			}
			if err != nil {
				t.Fatalf("%s cut to %d of %d bytes: %v", name, n, len(whole), err)
			}
		}
	}
}

// TestMissingSegments takes whole segments away.
func TestMissingSegments(t *testing.T) {
	m, head := smallLedger(t)
	for _, name := range m.files() {
		if !isSegment(name) {
			continue
		}
		cut := m.copied()
		delete(cut.nodes, name)
		err := found(cut, "", name, 0)
		if name == m.lastSegment() {
			err = found(cut, head.String(), "ledger/"+head.Bench, 0)
		}
		if err != nil {
			t.Errorf("%s taken away: %v", name, err)
		}
	}
}

// lastSegment returns the name of the newest segment of a ledger with one bench.
func (m *memory) lastSegment() string {
	names := slices.DeleteFunc(m.files(), func(name string) bool { return !isSegment(name) })
	return names[len(names)-1]
}

// TestReplacedLines puts another line with a right check value in the place of each. The line behind tells,
// behind the last line only a printed head.
func TestReplacedLines(t *testing.T) {
	m, head := smallLedger(t)
	for _, name := range m.segments("ledger") {
		whole := bytes.Clone(m.nodes[name].data)
		for text := range bytes.Lines(whole) {
			other := bytes.Replace(text[9:len(text)-1], []byte(":true"), []byte(":false"), 1)
			m.nodes[name].data = bytes.Replace(whole, text, withCheck(other), 1)
			report, err := verify(m, "ledger", []string{head.String()}, nil)
			if err != nil || len(report.Damage) == 0 {
				t.Errorf("%s: %v, damage %v after replacing %s", name, err, report.Damage, text)
			}
		}
		m.nodes[name].data = whole
	}
}

// TestNewestSegmentUnreadable goes on behind a segment of which no line can be read, and leaves it alone.
func TestNewestSegmentUnreadable(t *testing.T) {
	m, _ := smallLedger(t)
	name := m.lastSegment()
	rubbish := bytes.Repeat([]byte("rubbish\n"), 40)
	m.nodes[name].data = rubbish
	l := mustOpen(t, m, "ledger", "b")
	mustAppend(t, l, "t:2", 2)
	if !bytes.Equal(m.nodes[name].data, rubbish) {
		t.Error("the segment has been changed")
	}
	n, damage := 0, 0
	for r, err := range mustOpen(t, m.healed(name), "ledger", "b").History("t:2") {
		var damaged *DamageError
		switch {
		case err == nil && r.Subject == "t:2":
			n++
		case errors.As(err, &damaged):
			damage = len(damaged.Damage)
		}
	}
	if n != 2 || damage != 1 {
		t.Errorf("%d new records read, damage in %d places, want 2 and 1: it cannot be told whose the lines were", n, damage)
	}
	if err := found(m, "", name, 1); err != nil {
		t.Error(err)
	}
}

// healed returns a copy without a file.
func (m *memory) healed(without string) *memory {
	c := m.copied()
	delete(c.nodes, without)
	return c
}

// Whoever reads a ledger of which a segment is emptied, turned to noughts or cut short is told, and not only who verifies; what is
// recorded behind it stands, and heals nothing.
func TestReadersFindCutSegments(t *testing.T) {
	m, _ := smallLedger(t)
	for _, name := range m.segments("ledger") {
		whole := m.nodes[name].data
		wrecks := [][]byte{nil, make([]byte, len(whole))}
		for n := range whole {
			if whole[n] == '\n' && n+1 < len(whole) && name != m.lastSegment() {
				wrecks = append(wrecks, whole[:n+1], whole[:n/2])
			}
		}
		for _, data := range wrecks {
			c := m.copied()
			c.nodes[name].data = bytes.Clone(data)
			for _, appended := range []bool{false, true} {
				l := mustOpen(t, c, "ledger", "b")
				if appended {
					mustAppend(t, l, "t:2", 2)
					l = mustOpen(t, c, "ledger", "b")
				}
				var scan, history *DamageError
				if err := l.Scan(func(Record) error { return nil }); !errors.As(err, &scan) || !slices.ContainsFunc(scan.Damage, func(d Damage) bool { return "ledger/"+d.Segment == name }) {
					t.Errorf("%s, %d of %d bytes left, appended %v: Scan gives %v", name, len(data), len(whole), appended, err)
				}
				for _, err := range l.History("t:1") {
					if err != nil && !errors.As(err, &history) {
						t.Fatal(err)
					}
				}
				if history == nil {
					t.Errorf("%s, %d of %d bytes left, appended %v: History finds nothing wrong", name, len(data), len(whole), appended)
				}
				news := 0
				for r := range l.History("t:2") {
					if r.Subject == "t:2" {
						news++
					}
				}
				if want := map[bool]int{true: 2}[appended]; news != want {
					t.Errorf("%s, %d of %d bytes left: %d new records read, want %d", name, len(data), len(whole), news, want)
				}
			}
		}
	}
}
