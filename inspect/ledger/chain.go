package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
)

// chain is what is known of one bench's lines: where they end, and the heads. It holds no file open; every
// use begins with refresh, which reads what other processes have added.
type chain struct {
	fsys   fileSystem
	dir    string
	bench  string
	heads  heads
	tail   line   // the last good line; seq 0 when there is none
	newest uint64 // the newest segment; 0 when there is none
	size   int64  // bytes in the newest segment
	newer  bool   // holds lines of a later format
	bad    bool   // what stands behind the tail cannot be read
	fault  *fault // of the newest segment
	synced bool   // the names of the folder and of its segments are known to be durable
}

// fault remembers a write or sync of the newest segment that failed: what stands behind Length was never
// acknowledged and may be on the medium or not, so it is void. Size is what the file had then; another
// size says that the fault is past. It is kept in a file so that other processes know it too.
type fault struct {
	Segment uint64 `json:"segment"`
	Length  int64  `json:"length"`
	Size    int64  `json:"size"`
}

const faultName = "fault"

func openChain(fsys fileSystem, ledger, bench string) *chain {
	return &chain{fsys: fsys, dir: filepath.Join(ledger, bench), bench: bench, heads: newHeads()}
}

func (c *chain) segmentPath(first uint64) string { return filepath.Join(c.dir, segmentName(first)) }

// refresh takes in the lines added since the last time, or all when those known are no more part of the
// chain.
func (c *chain) refresh() error {
	newest, size := c.newest, c.size
	firsts, err := c.look()
	voided := c.fault != nil && c.tail.at.Segment == c.fault.Segment && c.tail.end > c.fault.Length
	if err != nil || newest == c.newest && size == c.size && !voided {
		return err
	}
	read := c.extend
	if c.tail.seq == 0 || !slices.Contains(firsts, c.tail.at.Segment) {
		read = c.load
	}
	if err := read(firsts); err != nil {
		c.newest = 0 // look again
		return err
	}
	return nil
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
	c.readFault()
	return firsts, nil
}

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

// readFault takes in the fault that another process has left, and drops one that is past.
func (c *chain) readFault() {
	if c.fault == nil {
		c.fault, _ = parseFault(readFrom(c.fsys, filepath.Join(c.dir, faultName), 0, MaxLine))
	}
	if c.fault != nil && (c.fault.Segment != c.newest || c.fault.Size != c.size) {
		c.fault = nil
	}
}

func parseFault(data []byte, err error) (*fault, error) {
	if err != nil {
		return nil, err
	}
	text, err := checked(bytes.TrimSuffix(data, []byte("\n")))
	if err != nil {
		return nil, err
	}
	f := new(fault)
	return f, json.Unmarshal(text, f)
}

// load starts over: from heads.json where that fits the lines, else from the first line.
func (c *chain) load(firsts []uint64) error {
	c.forget()
	h, hash, err := readHeads(c.fsys, c.dir)
	if errors.Is(err, fs.ErrNotExist) {
		return c.read(firsts, 0)
	}
	covered, lineErr := readLine(c.fsys, c.dir, h.covers)
	if err != nil || lineErr != nil || covered.hash.String() != hash || !slices.Contains(firsts, h.covers.Segment) {
		c.heads.behind = headsEvery // to be written soon
		return c.read(firsts, 0)
	}
	covered.body = nil
	c.heads, c.tail = h, covered
	return c.extend(firsts)
}

func (c *chain) forget() { c.heads, c.tail, c.newer = newHeads(), line{}, false }

// extend reads on behind the tail, unless the tail itself has been voided.
func (c *chain) extend(firsts []uint64) error {
	i := slices.Index(firsts, c.tail.at.Segment)
	s, err := c.segment(firsts, i, c.tail.at.Offset)
	if err != nil {
		return err
	}
	if int64(len(s.data)) < c.tail.end-c.tail.at.Offset {
		c.forget()
		return c.read(firsts, 0)
	}
	return c.read(firsts[i:], c.tail.end)
}

// read takes in the lines from a byte of the first of the segments on.
func (c *chain) read(firsts []uint64, from int64) error {
	c.bad = false
	for i := range firsts {
		s, err := c.segment(firsts, i, from)
		if err != nil {
			return err
		}
		if err := s.lines(c.take); err != nil {
			return err
		}
		from = 0
	}
	return nil
}

// segment reads firsts[i] from a byte on, without what is void and what was written since the last look.
func (c *chain) segment(firsts []uint64, i int, from int64) (segment, error) {
	return c.segmentInto(nil, firsts, i, from)
}

// segmentInto is segment into the memory of room, where it holds enough.
func (c *chain) segmentInto(room []byte, firsts []uint64, i int, from int64) (segment, error) {
	s, err := readSegment(room, c.fsys, c.dir, firsts, i, from)
	if s.first == c.newest {
		s.data = s.data[:min(int64(len(s.data)), max(c.size-from, 0))]
	}
	if c.fault != nil && c.fault.Segment == s.first {
		s.cut(c.fault.Length)
	}
	return s, err
}

func (c *chain) take(l line, err error) error {
	if err != nil {
		c.bad = true
		c.newer = c.newer || errors.Is(err, errNewer)
		return nil
	}
	l.body = nil // shares memory with the whole segment
	c.heads.holes = c.heads.holes || c.bad
	c.tail, c.bad = l, false
	c.heads.add(l)
	return nil
}

// segments calls visit with the segments of a snapshot of the chain, from the one on that holds the line
// behind number after. They are read into the same memory, one after the other.
func (c chain) segments(after uint64, visit func(segment) error) error {
	firsts, err := listSegments(c.fsys, c.dir)
	if err != nil {
		return err
	}
	firsts = slices.DeleteFunc(firsts, func(first uint64) bool { return first > c.newest })
	var room []byte
	for i := range firsts {
		if i+1 < len(firsts) && firsts[i+1] <= after+1 {
			continue
		}
		s, err := c.segmentInto(room, firsts, i, 0)
		if err != nil {
			return err
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

// intact says whether the next line can follow the tail in its segment: O_APPEND would glue it onto a torn
// one.
func (c *chain) intact() bool {
	if c.tail.seq == 0 || c.tail.at.Segment != c.newest || c.tail.end != c.size {
		return false
	}
	last, err := readFrom(c.fsys, c.segmentPath(c.newest), c.size-1, 1)
	return err == nil && bytes.Equal(last, []byte("\n"))
}

// append writes entries behind the tail and returns their lines once they are on the medium.
func (c *chain) append(entries []Entry, counter uint64, now Time, label string, size int64, before func([]line) error) ([]line, error) {
	if c.newer {
		return nil, fmt.Errorf("bench %s: %w; use that version", c.bench, errNewer)
	}
	env, err := newEnvelope(now)
	if err != nil {
		return nil, err
	}
	if !c.synced {
		if err := c.syncNames(); err != nil {
			return nil, err
		}
	}
	w := &writer{chain: c, now: env, counter: max(counter, c.tail.counter), label: label, limit: size, last: c.tail, first: c.newest, end: c.size}
	if !c.intact() {
		if err := w.begin(); err != nil {
			return nil, err
		}
	}
	for _, e := range entries {
		if err := w.add(e); err != nil {
			return nil, err
		}
	}
	if before != nil {
		if err := before(w.lines); err != nil {
			return nil, err
		}
	}
	if err := w.flush(); err != nil {
		return nil, err
	}
	return w.done, nil
}

// syncNames makes durable what a process that died may have left undone.
func (c *chain) syncNames() error {
	for _, dir := range []string{c.dir, filepath.Dir(c.dir)} {
		if err := c.fsys.SyncDir(dir); err != nil {
			return err
		}
	}
	c.synced = true
	return nil
}

// writer gathers lines that follow a chain's tail, and writes each segment's with one sync.
type writer struct {
	*chain
	now   envelope
	label string
	limit int64 // the most bytes of a segment

	counter uint64 // of the last line gathered, or of any line in the ledger
	refs    []Ref  // of the entries gathered

	last  line   // the last line gathered
	first uint64 // the segment that it goes to
	fresh bool   // which does not exist yet
	end   int64  // bytes in it with all lines gathered
	buf   []byte
	lines []line // in buf
	done  []line // written and synced, without the headers
}

// begin turns to a new segment. Its header voids what stands behind the last line of the one before.
func (w *writer) begin() error {
	h := header{Bench: w.bench, Label: w.label}
	if w.last.seq > 0 {
		if err := w.syncSegment(w.last.at.Segment); err != nil {
			return err
		}
		good, err := readFrom(w.fsys, w.segmentPath(w.last.at.Segment), 0, w.last.end)
		if err != nil {
			return err
		}
		h.Previous = &previous{w.last.at.Segment, w.last.end, digest(sha256.Sum256(good)).String()}
	}
	body, err := json.Marshal(h)
	if err != nil {
		return err
	}
	if w.last.seq < w.newest {
		w.last.seq = w.newest // no line of the newest segment can be read: keep it, under its name
	}
	w.first, w.fresh, w.end = w.last.seq+1, true, 0
	w.push(w.next(Entry{Kind: kindSegment, Body: body}))
	return nil
}

// syncSegment makes durable what a process that died may have written to a segment and not synced, before
// a new segment builds on it.
func (w *writer) syncSegment(first uint64) error {
	f, err := w.fsys.OpenFile(w.segmentPath(first), os.O_WRONLY)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}

// next returns the line that an entry becomes, and its bytes.
func (w *writer) next(e Entry) (line, []byte) {
	l := line{seq: w.last.seq + 1, counter: max(w.counter, w.last.seq) + 1, kind: e.Kind, previous: w.last.hash, envelope: w.now, body: e.Body}
	l.Subject, l.Opens, l.Closes = e.Subject, e.opens, e.closes
	l.About = e.About
	if e.AboutBack > 0 {
		l.About = &w.refs[len(w.refs)-e.AboutBack]
	}
	if at, ok := w.lastOf(e.Subject); ok {
		l.Earlier = &at
	}
	text := appendLine(nil, l)
	l.hash = sha256.Sum256(text[:len(text)-1])
	l.at, l.end = position{w.first, w.end}, w.end+int64(len(text))
	l.body = bytes.Clone(e.Body)
	return l, text
}

// lastOf returns where the last record of a subject starts, those gathered among them.
func (w *writer) lastOf(subject string) (position, bool) {
	if subject == "" {
		return position{}, false
	}
	for _, l := range slices.Backward(w.lines) {
		if l.Subject == subject {
			return l.at, true
		}
	}
	return w.heads.last(subject)
}

func (w *writer) push(l line, text []byte) {
	w.lines = append(w.lines, l)
	w.buf = append(w.buf, text...)
	w.last, w.end, w.counter = l, l.end, l.counter
	if l.kind != kindSegment {
		w.refs = append(w.refs, Ref{w.bench, l.seq, l.hash.String()})
	}
}

// add gathers one entry, in a new segment when it does not fit.
func (w *writer) add(e Entry) error {
	l, text := w.next(e)
	if l.end > w.limit && w.last.kind != kindSegment {
		if err := w.flush(); err != nil {
			return err
		}
		if err := w.begin(); err != nil {
			return err
		}
		l, text = w.next(e)
	}
	w.push(l, text)
	return nil
}

// flush writes and syncs the lines gathered, and takes them into the chain.
func (w *writer) flush() error {
	if len(w.lines) == 0 {
		return nil
	}
	write := w.extendSegment
	if w.fresh {
		write = w.createSegment
	}
	if err := write(); err != nil {
		w.synced = false
		return err
	}
	for _, l := range w.lines {
		w.tail = l
		w.heads.add(l)
		if l.kind != kindSegment {
			w.done = append(w.done, l)
		}
	}
	w.newest, w.size, w.bad, w.fresh = w.first, w.end, false, false
	w.lines, w.buf = nil, nil
	return nil
}

func (w *writer) createSegment() error {
	if err := putFile(w.fsys, w.segmentPath(w.first), w.buf); err != nil {
		return err
	}
	if w.fault != nil {
		w.fault = nil
		w.fsys.Remove(filepath.Join(w.dir, faultName)) // of no effect any more where it stays
	}
	return nil
}

func (w *writer) extendSegment() error {
	f, err := w.fsys.OpenFile(w.segmentPath(w.first), os.O_WRONLY|os.O_APPEND)
	if err != nil {
		return err
	}
	err = writeSynced(f, w.buf)
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		w.leaveFault()
	}
	return err
}

// leaveFault notes that the bytes behind the tail are void. Its file helps other processes where it can be
// written; this one remembers it anyway.
func (w *writer) leaveFault() {
	size, err := w.sizeOf(w.first)
	if err != nil {
		return
	}
	w.fault = &fault{w.first, w.tail.end, size}
	if data, err := json.Marshal(w.fault); err == nil {
		putFile(w.fsys, filepath.Join(w.dir, faultName), withCheck(data))
	}
}
