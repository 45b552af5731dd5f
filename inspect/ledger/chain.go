package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
)

// chain is what is known of one bench's lines: where they end, and the heads. It holds no file open; every
// use begins with refresh, which reads what other processes have added.
type chain struct {
	fsys     fileSystem
	dir      string
	bench    string
	heads    heads
	tail     line     // the last good line; seq 0 when there is none
	unread   uint64   // lines behind it that cannot be read
	end      position // behind all lines that count, the unread ones among them
	newest   uint64   // the newest segment; 0 when there is none
	list     bool     // the segments are to be listed, whatever seems to be as it was: something is to be written
	size     int64    // bytes in the newest segment
	newer    bool     // holds lines of a later format
	replaced []Damage // lines that are not those which the next ones follow, each of a subject
	unsaved  []byte   // the heads.json of the newest segment, where that is not in its place
	synced   bool     // the names of the folder and of its segments are known to be durable
	sure     position // the end as this process has synced it
	named    struct { // the segment that was last named to people: most records of one follow each other
		first uint64
		file  string
	}
}

func openChain(fsys fileSystem, ledger, bench string) *chain {
	return &chain{fsys: fsys, dir: filepath.Join(ledger, bench), bench: bench, heads: newHeads()}
}

func (c *chain) segmentPath(first uint64) string { return filepath.Join(c.dir, segmentName(first)) }

// refresh takes in the lines added since the last time, or all when those known are no more part of the
// chain.
func (c *chain) refresh() error {
	if !c.list && (c.asItWas() || c.end == (position{}) && c.open()) {
		return nil
	}
	newest, size := c.newest, c.size
	firsts, err := c.look()
	if err != nil || newest == c.newest && size == c.size {
		c.list = err != nil
		return err
	}
	i := slices.Index(firsts, c.end.Segment)
	if i >= 0 && i+1 < len(firsts) {
		if h, err := readHeader(c.fsys, c.dir, firsts[i+1]); err == nil && h.Previous != nil && h.Previous.Length < c.end.Offset {
			i = -1
		}
	}
	if i < 0 || c.end.Segment == c.newest && c.size < c.end.Offset {
		err = c.load(firsts)
	} else {
		err = c.read(firsts, i, c.end.Offset)
	}
	if err != nil {
		c.newest = 0 // look again
	}
	c.list = err != nil
	return err
}

// asItWas says whether the newest segment ends where it did, and none follows it. Where lines at its end cannot be read that is
// not known.
func (c *chain) asItWas() bool {
	if c.newest == 0 || c.torn() || c.unread > 0 {
		return false
	}
	size, err := c.sizeOf(c.newest)
	if err != nil || size != c.size {
		return false
	}
	follows, err := exists(c.fsys, c.segmentPath(c.next()))
	return err == nil && !follows
}

// look finds the segments and where the newest one ends.
func (c *chain) look() (firsts []uint64, err error) {
	firsts, err = listSegments(c.fsys, c.dir)
	if err != nil || len(firsts) == 0 {
		return nil, err
	}
	newest := firsts[len(firsts)-1]
	size, err := c.sizeOf(newest)
	if err != nil {
		return nil, err
	}
	c.newest, c.size = newest, size
	return firsts, nil
}

// next is the number that a segment behind all lines begins with. Where no line of the newest can be read, that is kept, under its
// name.
func (c *chain) next() uint64 { return max(c.tail.seq+c.unread, c.newest) + 1 }

func (c *chain) sizeOf(first uint64) (int64, error) {
	f, err := c.fsys.OpenFile(c.segmentPath(first), os.O_RDONLY)
	if err != nil {
		return 0, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

// open reads the segment that heads.json is of, and says whether the chain ends with it. Then the others need not be listed.
func (c *chain) open() bool {
	segment, ok := c.startOver()
	if !ok {
		return false
	}
	size, err := c.sizeOf(segment)
	if err == nil {
		c.newest, c.size = segment, size
		err = c.read([]uint64{segment}, 0, 0)
	}
	if err == nil && c.asItWas() {
		return true
	}
	c.newest, c.end = 0, position{}
	return false
}

// load starts over: from heads.json where it is the one that a segment's header names, else from the first line.
func (c *chain) load(firsts []uint64) error {
	segment, ok := c.startOver()
	if i := slices.Index(firsts, segment); ok && i >= 0 {
		return c.read(firsts, i, 0)
	}
	return c.rebuild(firsts)
}

// startOver forgets all lines but those that heads.json comes from, and returns the segment behind them. Where it is not
// the file that the segment's header names, no line is known.
func (c *chain) startOver() (segment uint64, ok bool) {
	c.heads, c.tail, c.end, c.unread = newHeads(), line{}, position{}, 0
	c.newer, c.replaced, c.unsaved = false, nil, nil
	h, segment, hash, err := readHeads(c.fsys, c.dir)
	if err != nil {
		return 0, false
	}
	header, err := readHeader(c.fsys, c.dir, segment)
	if err != nil || header.Heads != hash {
		return 0, false
	}
	c.heads = h
	return segment, true
}

// rebuild reads all lines. Where some before the newest segment cannot be read, its header tells whether the heads are what
// they were before the damage: then nothing is lost to anyone but where the subjects' own trails lead. Else none of
// those lines may be taken for another subject's.
func (c *chain) rebuild(firsts []uint64) error {
	if len(firsts) < 2 {
		return c.read(firsts, 0, 0)
	}
	last := len(firsts) - 1
	var damaged []position
	for i := range last {
		if err := c.takeSegment(firsts, i, 0, func(l line) { damaged = append(damaged, l.at) }); err != nil {
			return err
		}
	}
	header, err := readHeader(c.fsys, c.dir, firsts[last])
	for _, lost := range [][]position{{}, c.heads.lost, damaged} {
		c.heads.lost = lost
		file := c.heads.file(firsts[last])
		if err == nil && header.Heads == digest(sha256.Sum256(file)).String() {
			c.unsaved = file
			break
		}
	}
	return c.read(firsts, last, 0)
}

// read takes in the lines from a byte of firsts[i] on.
func (c *chain) read(firsts []uint64, i int, from int64) error {
	for ; i < len(firsts); i++ {
		if i > 0 && i+1 == len(firsts) && from == 0 && c.unsaved == nil {
			c.headsOf(firsts[i])
		}
		if err := c.takeSegment(firsts, i, from, func(line) {}); err != nil {
			return err
		}
		from = 0
	}
	return nil
}

// headsOf makes the heads.json of a segment, before whose lines the chain has been read, unless it is in its place.
func (c *chain) headsOf(segment uint64) {
	if _, is, _, err := readHeads(c.fsys, c.dir); err == nil && is == segment {
		return
	}
	file := c.heads.file(segment)
	header, err := readHeader(c.fsys, c.dir, segment)
	if err == nil && header.Heads == digest(sha256.Sum256(file)).String() {
		c.unsaved = file
	}
}

// takeSegment takes in the lines of firsts[i] from a byte on, and gives those that cannot be read to damaged. At the end of the newest
// segment an append that is not whole does not count: lines of which more should follow, and torn bytes. An append
// is only ever given its last byte when all others are on the medium, so what ends there with an end of line was
// recorded, whatever has become of it.
func (c *chain) takeSegment(firsts []uint64, i int, from int64, damaged func(line)) error {
	good, err := c.good(firsts, i, c.size)
	if err != nil {
		return err
	}
	type found struct {
		line
		err error
	}
	var waiting []found
	take := func(n int) {
		for _, f := range waiting[:n] {
			if f.err == nil {
				c.take(f.line)
				continue
			}
			damaged(f.line)
			c.takeDamaged(f.line, f.err)
		}
		waiting = append(waiting[:0], waiting[n:]...)
	}
	s := segment{first: firsts[i], from: from, last: i+1 == len(firsts)}
	_, err = c.piecesOf(s, good, make([]byte, piece), func(s segment, lines int) error {
		return s.lines(func(l line, err error) error {
			l.number += lines
			if err != nil {
				l.body = bytes.Clone(l.body) // it shares memory with the piece
			} else {
				l.body = nil
			}
			waiting = append(waiting, found{l, err})
			if err == nil && l.More == 0 {
				take(len(waiting))
			}
			return nil
		})
	})
	if err != nil {
		return err
	}
	if !s.last {
		take(len(waiting))
	}
	for n := len(waiting); n > 0; n-- {
		f := waiting[n-1]
		if f.err == nil || errors.Is(f.err, errTorn) {
			continue
		}
		if _, one := repair(f.body); one || n == len(waiting) {
			take(n)
			break
		}
	}
	if c.end.Segment < s.first {
		l := line{at: position{Segment: s.first}}
		damaged(l)
		c.takeDamaged(l, errNoLine)
	}
	return nil
}

func (c *chain) take(l line) {
	if c.tail.seq+1 == l.seq && c.unread == 0 && c.tail.seq > 0 && l.previous != c.tail.hash {
		d := c.damage(c.tail, fmt.Errorf("hash %s, the line behind it follows %s: it was replaced", c.tail.hash, l.previous))
		d.Subject = c.tail.Subject
		c.replaced = append(c.replaced, d)
	}
	c.tail, c.unread = l, 0
	c.end = position{l.at.Segment, l.end}
	c.heads.add(l)
}

func (c *chain) takeDamaged(l line, err error) {
	c.newer = c.newer || errors.Is(err, errNewer)
	c.end = position{l.at.Segment, l.end}
	if was, ok := c.heads.addDamaged(l, c.unread > 0); ok {
		was.body = nil
		c.tail, c.unread = was, 0
		return
	}
	c.unread++
}

// segments calls visit with the segments of a snapshot of the chain, from the one on that holds the line
// behind number after. They are read into the same memory, one after the other.
func (c chain) segments(after uint64, visit func(segment) error) error {
	firsts, err := listSegments(c.fsys, c.dir)
	if err != nil {
		return err
	}
	firsts = slices.DeleteFunc(firsts, func(first uint64) bool { return first > c.end.Segment })
	var room []byte
	for i := range firsts {
		if i+1 < len(firsts) && firsts[i+1] <= after+1 {
			continue
		}
		s, err := readSegment(room, c.fsys, c.dir, firsts, i)
		if err != nil {
			return err
		}
		if s.last {
			s.data = s.data[:min(int64(len(s.data)), c.end.Offset)]
		}
		if err := visit(s); err != nil {
			return err
		}
		room = s.data
	}
	return nil
}

// walk calls visit with every line of those segments, as segment.lines does.
func (c chain) walk(after uint64, visit func(line, error) error) error {
	return c.segments(after, func(s segment) error { return s.lines(visit) })
}

// append writes entries behind the tail and returns their lines once they are on the medium. Before anything is written,
// before is given the lines that will be.
func (c *chain) append(entries []Entry, counter uint64, now Time, label string, size int64, before func([]line) error) ([]line, error) {
	if c.newer {
		return nil, fmt.Errorf("bench %s: %w; use that version", c.bench, errNewer)
	}
	if max(counter, c.tail.counter)+uint64(len(entries)) >= maxCounter {
		return nil, fmt.Errorf("bench %s: the counter of records has come to its end: a merged bench has forged it", c.bench)
	}
	env, err := newEnvelope(now)
	if err != nil {
		return nil, err
	}
	if !c.synced {
		for _, dir := range []string{c.dir, filepath.Dir(c.dir)} { // what a process that died may have left undone
			if err := c.fsys.SyncDir(dir); err != nil {
				return nil, err
			}
		}
		c.synced = true
	}
	w := writer{chain: c, now: env, label: label, counter: max(counter, c.tail.counter), first: c.newest, end: c.size}
	w.last = c.tail
	w.last.seq += c.unread
	fits := c.newest > 0 && !c.torn() && c.tail.at.Segment == c.newest
	if fits {
		w.gather(entries)
		fits = w.end <= size
	}
	if !fits {
		w.lines, w.buf, w.refs = nil, nil, nil
		w.last, w.counter = c.tail, max(counter, c.tail.counter)
		w.last.seq += c.unread
		if err := w.begin(); err != nil {
			return nil, err
		}
		w.gather(entries)
		if w.end > largestAppend {
			return nil, fmt.Errorf("%d bytes in one append, at most %d; record it in parts", w.end, largestAppend)
		}
	}
	if before != nil {
		if err := before(w.lines); err != nil {
			return nil, err
		}
	}
	return w.flush()
}

// writer gathers lines that follow a chain's tail, and writes them at once.
type writer struct {
	*chain
	now   envelope
	label string

	last    line   // the last line gathered
	counter uint64 // of that, or of any line in the ledger
	first   uint64 // the segment that they go to
	end     int64  // bytes in it with all lines gathered
	fresh   []byte // heads.json for that segment, when it does not exist yet
	buf     []byte
	lines   []line // in buf
	refs    []Ref  // of those that are entries
}

// begin turns to a new segment. Its header voids what stands behind the last line of the one before.
func (w *writer) begin() error {
	h := header{Bench: w.bench, Label: w.label}
	if w.chain.end.Segment > 0 {
		if err := w.syncEnd(); err != nil {
			return err
		}
		good, err := readFrom(w.fsys, w.segmentPath(w.chain.end.Segment), 0, w.chain.end.Offset)
		if err != nil {
			return err
		}
		h.Previous = &previous{w.chain.end.Segment, w.chain.end.Offset, digest(sha256.Sum256(mended(good))).String()}
	}
	w.first, w.end = w.next(), 0
	w.last.seq = w.first - 1
	w.fresh = w.heads.file(w.first)
	h.Heads = digest(sha256.Sum256(w.fresh)).String()
	body, err := json.Marshal(h)
	if err != nil {
		return err
	}
	w.add(Entry{Kind: kindSegment, Body: body}, 0)
	return nil
}

// mended returns a segment's bytes with every line repaired of which one byte was changed.
func mended(data []byte) []byte {
	var whole []byte
	segment{data: data, last: true}.lines(func(l line, err error) error {
		text := data[l.at.Offset:l.end]
		if err != nil && !errors.Is(err, errTorn) {
			if was, ok := repair(l.body); ok {
				text = appendLine(nil, was)
			}
		}
		whole = append(whole, text...)
		return nil
	})
	return whole
}

// syncEnd makes durable what another process may have written at the end of the chain and not synced, before anything
// builds on it.
func (c *chain) syncEnd() error {
	if c.sure == c.end {
		return nil
	}
	name := c.segmentPath(c.end.Segment)
	if err := c.endAgain(name); err != nil {
		return err
	}
	f, err := c.fsys.OpenFile(name, os.O_WRONLY)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := f.Sync(); err != nil {
		return err
	}
	c.sure = c.end
	return nil
}

// endAgain writes the last byte of the chain once more, as it is, unless this process has synced it: that is the byte
// whose sync another may have seen fail, and which the system then holds for written.
func (c *chain) endAgain(name string) error {
	if c.sure == c.end || c.end.Offset == 0 {
		return nil
	}
	last, err := readFrom(c.fsys, name, c.end.Offset-1, 1)
	if err != nil {
		return err
	}
	f, err := c.fsys.OpenFile(name, os.O_WRONLY)
	if err != nil {
		return err
	}
	_, err = f.WriteAt(last, c.end.Offset-1)
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	return err
}

func (w *writer) gather(entries []Entry) {
	for i, e := range entries {
		w.add(e, uint64(len(entries)-1-i))
	}
}

// add gathers one entry, with so many of the same append behind it.
func (w *writer) add(e Entry, more uint64) {
	l := line{seq: w.last.seq + 1, counter: max(w.counter, w.last.seq) + 1, kind: e.Kind, previous: w.last.hash, envelope: w.now, body: e.Body}
	l.Subject, l.Opens, l.Closes, l.About, l.More = e.Subject, e.opens, e.closes, e.About, more
	if e.AboutBack > 0 {
		l.About = &w.refs[len(w.refs)-e.AboutBack]
	}
	if e.Subject != "" {
		at, ok := w.heads.last(e.Subject)
		for i := len(w.lines) - 1; i >= 0; i-- {
			if w.lines[i].Subject == e.Subject {
				at, ok = w.lines[i].at, true
				break
			}
		}
		if ok {
			l.Earlier = &at
		}
	}
	text := appendLine(nil, l)
	l.hash = sha256.Sum256(text[:len(text)-1])
	l.at, l.end = position{w.first, w.end}, w.end+int64(len(text))
	w.lines = append(w.lines, l)
	w.buf = append(w.buf, text...)
	w.last, w.end, w.counter = l, l.end, l.counter
	if l.kind != kindSegment {
		w.refs = append(w.refs, Ref{w.bench, l.seq, l.hash.String()})
	}
}

// flush writes and syncs the lines gathered, takes them into the chain, and returns them without the header. In a segment
// that exists the last byte is written when all others are on the medium: before, nobody reads the append as whole, and
// where the disk is full or fails, or the power goes, it is torn and never was. With that byte it stands, whatever
// comes: nothing that anybody has read is ever replaced.
func (w *writer) flush() ([]line, error) {
	w.newest = 0 // look again after a failure
	if w.fresh != nil {
		if err := putFile(w.fsys, w.segmentPath(w.first), w.buf); err != nil {
			w.synced = false
			return nil, err
		}
	} else if err := w.extend(); err != nil {
		return nil, err
	}
	for _, l := range w.lines {
		l.body = nil
		w.take(l)
	}
	w.newest, w.size, w.sure = w.first, w.end, w.chain.end
	if w.fresh != nil {
		w.unsaved = w.fresh
		w.saveHeads()
	}
	return slices.DeleteFunc(w.lines, func(l line) bool { return l.kind == kindSegment }), nil
}

func (w *writer) extend() error {
	name := w.segmentPath(w.first)
	if err := w.endAgain(name); err != nil {
		return err
	}
	f, err := w.fsys.OpenFile(name, os.O_WRONLY|os.O_APPEND)
	if err != nil {
		return err
	}
	last := len(w.buf) - 1
	err = writeSynced(f, w.buf[:last])
	if err == nil {
		err = writeSynced(f, w.buf[last:])
	}
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	return err
}

// torn says whether bytes stand behind the chain's end that do not count.
func (c *chain) torn() bool { return c.newest > 0 && c.end != (position{c.newest, c.size}) }

// saveHeads puts the heads.json in its place that was made from the lines, since there was none or another. A failure
// costs only the reading of more lines next time.
func (c *chain) saveHeads() {
	if c.unsaved != nil && putFile(c.fsys, filepath.Join(c.dir, headsName), c.unsaved) == nil {
		c.unsaved = nil
	}
}
