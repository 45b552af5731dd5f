package ledger

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
)

// Line is one line of a chain, as it is given to another ledger or to a register.
type Line struct {
	Text []byte // with its LF; valid until the next one is asked for
	Seq  uint64
	Hash string
	More uint64 // how many lines of the same append follow
}

// Lines gives the lines of a bench's chain behind a number, in order, the headers of segments among them. All of them are
// on the medium, and none will ever be another line: a line that could still be lost or be made void is not given. It
// ends with a DamageError where a line cannot be read, since none behind it could be checked.
func (l *Ledger) Lines(bench string, after uint64) iter.Seq2[Line, error] {
	return func(yield func(Line, error) bool) {
		c, err := l.durable(bench)
		if err != nil {
			yield(Line{}, fmt.Errorf("lines of bench %s: %w", bench, err))
			return
		}
		err = c.pieces(after, func(s segment, lines int) error {
			all, from := s.data, s.from
			return s.lines(func(line line, err error) error {
				if err != nil {
					line.number += lines
					return &DamageError{[]Damage{c.damage(line, err)}}
				}
				if line.seq <= after {
					return nil
				}
				text := all[line.at.Offset-from : line.end-from]
				if !yield(Line{text, line.seq, line.hash.String(), line.More}, nil) {
					return fs.SkipAll
				}
				return nil
			})
		})
		if err != nil && err != fs.SkipAll {
			yield(Line{}, fmt.Errorf("lines of bench %s: %w", bench, err))
		}
	}
}

// piece is about how many bytes of a segment are read at a time where it is given line by line.
const piece = 64 << 10

// pieces is segments in parts of whole lines, each read into the same memory: visit is given a part, and how many lines of
// its segment stand before it. What has no end of line comes last, as it is.
func (c chain) pieces(after uint64, visit func(s segment, lines int) error) error {
	firsts, err := listSegments(c.fsys, c.dir)
	if err != nil {
		return err
	}
	firsts = slices.DeleteFunc(firsts, func(first uint64) bool { return first > c.end.Segment })
	room := make([]byte, piece)
	for i, first := range firsts {
		if i+1 < len(firsts) && firsts[i+1] <= after+1 {
			continue
		}
		good, err := c.good(firsts, i, c.end.Offset)
		if err != nil {
			return err
		}
		if room, err = c.piecesOf(segment{first: first, last: i+1 == len(firsts)}, good, room, visit); err != nil {
			return err
		}
	}
	return nil
}

// good returns how many bytes of firsts[i] count: of the last one end at most, of another what the next one's header says.
func (c *chain) good(firsts []uint64, i int, end int64) (int64, error) {
	size, err := c.sizeOf(firsts[i])
	if err != nil {
		return 0, err
	}
	if size >= tooLarge {
		return 0, fmt.Errorf("%s: %d bytes or more: no ledger has written that", c.segmentFile(firsts[i]), tooLarge)
	}
	if i+1 == len(firsts) {
		return min(size, end), nil
	}
	if h, err := readHeader(c.fsys, c.dir, firsts[i+1]); err == nil && h.Previous != nil && h.Previous.Segment == firsts[i] {
		return min(size, h.Previous.Length), nil
	}
	return size, nil // the next segment's own fault, named when its lines are read
}

// piecesOf is pieces of one segment, of which the first good bytes count. It returns the memory, which may have grown.
func (c chain) piecesOf(s segment, good int64, room []byte, visit func(s segment, lines int) error) ([]byte, error) {
	f, err := c.fsys.OpenFile(c.segmentPath(s.first), os.O_RDONLY)
	if err != nil {
		return room, err
	}
	defer f.Close()
	for lines := 0; s.from < good; {
		n, err := f.ReadAt(room[:min(int64(len(room)), good-s.from)], s.from)
		if err != nil && (err != io.EOF || n == 0) {
			return room, err
		}
		rest := s.from+int64(n) == good
		s.data = room[:n]
		if end := bytes.LastIndexByte(s.data, '\n') + 1; !rest && end > 0 {
			s.data = s.data[:end]
		} else if !rest && len(room) < 2*MaxLine {
			room = make([]byte, 2*len(room))
			continue
		}
		whole := len(s.data)
		if err := visit(s, lines); err != nil {
			return room, err
		}
		lines += bytes.Count(room[:whole], []byte("\n"))
		s.from += int64(whole)
	}
	return room, nil
}

// durable returns a chain as it is now, all of it on the medium.
func (l *Ledger) durable(bench string) (chain, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, err := l.view(); err != nil {
		return chain{}, err
	}
	c := l.chains[bench]
	if c == nil {
		return chain{}, errors.New("no such bench in this ledger")
	}
	if err := c.syncEnd(); err != nil {
		return chain{}, err
	}
	return *c, nil
}

// Tail says where a chain ends, as far as it is known somewhere: enough to check the lines that follow.
type Tail struct {
	Bench   string `json:"bench"`
	Seq     uint64 `json:"seq"` // of the last line; 0 when none is known
	Counter uint64 `json:"counter"`
	Hash    string `json:"sha256"`
	Segment uint64 `json:"segment"` // that the last line stands in
	End     int64  `json:"end"`     // the byte in it behind the last line
	More    uint64 `json:"more"`    // how many lines of the last one's append are to follow
}

// Head returns the last line's name.
func (t Tail) Head() Head { return Head{t.Bench, t.Seq, t.Hash} }

// Take checks that a line, with its LF, follows the tail in every respect that Verify knows of, and moves the tail behind
// it. After an error the tail is as it was. The record of a segment's header has the kind "segment"; of none is its place
// told. The body is not looked at, and shares memory with the line.
func (t *Tail) Take(text []byte) (Record, error) {
	r, err := t.take(text)
	if err != nil {
		return Record{}, fmt.Errorf("bench %s, after number %d: %w", t.Bench, t.Seq, err)
	}
	return r, nil
}

func (t *Tail) take(text []byte) (Record, error) {
	body, whole := bytes.CutSuffix(text, []byte("\n"))
	if !whole || len(text) > MaxLine || bytes.IndexByte(body, '\n') >= 0 {
		return Record{}, fmt.Errorf("want one line of at most %d bytes, with its end", MaxLine)
	}
	l, err := parseLine(body)
	if err != nil {
		return Record{}, err
	}
	l.hash = sha256.Sum256(body)
	var last digest
	if t.Seq > 0 {
		if n, err := hex.Decode(last[:], []byte(t.Hash)); err != nil || n < len(last) {
			return Record{}, fmt.Errorf("hash %q of the tail", t.Hash)
		}
	}
	next := *t
	switch {
	case l.seq != t.Seq+1:
		return Record{}, fmt.Errorf("number %d: lines are missing, repeated or moved", l.seq)
	case l.previous != last:
		return Record{}, fmt.Errorf("follows a line of the hash %s, and that has %s", l.previous, last)
	case l.counter <= t.Counter:
		return Record{}, fmt.Errorf("counter %d follows %d", l.counter, t.Counter)
	case t.More > 0 && (l.More != t.More-1 || l.kind == kindSegment):
		return Record{}, fmt.Errorf("%d lines of its append should follow, and %d of that of the line before", l.More, t.More)
	case l.kind == kindSegment:
		h, err := l.header()
		if err != nil {
			return Record{}, err
		}
		p := h.Previous
		if h.Bench != t.Bench || (p == nil) != (t.Seq == 0) || p != nil && (p.Segment != t.Segment || p.Length != t.End) {
			return Record{}, errors.New("the header of another segment")
		}
		next.Segment, next.End = l.seq, 0
	case t.Seq == 0:
		return Record{}, errors.New("a chain begins with a segment's header")
	}
	next.Seq, next.Counter, next.Hash, next.More = l.seq, l.counter, l.hash.String(), l.More
	next.End += int64(len(text))
	*t = next
	return l.record(t.Bench), nil
}

// ReadLine reads one line of a bench's chain by itself, with its LF: that it reads as it was written, not what it follows. Its
// place is not told, and the body shares memory with the line.
func ReadLine(bench string, text []byte) (Record, error) {
	body, _ := bytes.CutSuffix(text, []byte("\n"))
	l, err := parseLine(body)
	if err != nil {
		return Record{}, fmt.Errorf("bench %s: %w", bench, err)
	}
	l.hash = sha256.Sum256(body)
	return l.record(bench), nil
}

// Restore makes the folder of a bench's chain from its lines, byte for byte as the bench wrote it but for what was void. Each
// line is checked as it comes, and an append that is not whole at the end is left out. Where there is a chain of that
// bench already nothing is changed. With own the ledger becomes that bench's own, unless it is one's already; cut off by
// an error it is an old copy then, which TakeBack brings up to date.
func Restore(dir, bench string, own bool, lines iter.Seq2[[]byte, error]) (Tail, error) {
	t, err := restore(disk{}, dir, bench, own, lines)
	if err != nil {
		return t, fmt.Errorf("restoring bench %s in ledger %q: %w", bench, dir, err)
	}
	return t, nil
}

// TakeBack brings an old copy of a ledger up to date: the lines of the own chain behind its end, as they were given to a
// register, in order, are put where they stood. Each is checked as it comes, and an append that is not whole at the
// end is left out. It returns how many lines came; those before an error are kept.
func (l *Ledger) TakeBack(lines iter.Seq2[[]byte, error]) (came int, err error) {
	end, err := l.alone(l.opt.patience)
	if err != nil {
		return 0, err
	}
	defer end()
	if _, err = l.view(); err == nil {
		err = l.ownError
	}
	if err != nil {
		return 0, err
	}
	c := l.chain(l.own)
	if c.unread > 0 || c.tail.seq == 0 {
		return 0, fmt.Errorf("the last lines of bench %s cannot be read here: \"ledger mend\" first", l.own)
	}
	t := Tail{Bench: l.own, Seq: c.tail.seq, Counter: c.tail.counter, Hash: c.tail.hash.String(), Segment: c.end.Segment, End: c.end.Offset}
	good, err := readFrom(l.opt.fsys, c.segmentPath(t.Segment), 0, t.End)
	if err != nil {
		return 0, err
	}
	whole, err := putLines(l.opt.fsys, c.dir, t, good, lines)
	c.newest = 0 // look again
	came = int(whole.Seq - t.Seq)
	if _, viewErr := l.view(); err == nil {
		err = viewErr
	}
	return came, err
}

// putLines puts lines behind a tail into the segments of a folder, of which the tail's own holds the bytes of good. It
// returns where the last append ends that is whole and in its place.
func putLines(fsys fileSystem, folder string, t Tail, good []byte, lines iter.Seq2[[]byte, error]) (placed Tail, err error) {
	placed = t
	whole := t // behind the last append that is whole
	put := func() error {
		if whole.Seq == placed.Seq {
			return nil
		}
		err := putFile(fsys, filepath.Join(folder, segmentName(whole.Segment)), good[:whole.End])
		if err == nil {
			placed = whole
		}
		return err
	}
	for text, err := range lines {
		if err != nil {
			return placed, errors.Join(err, put())
		}
		r, err := t.Take(text)
		if err != nil {
			return placed, errors.Join(err, put())
		}
		if r.Kind == kindSegment {
			if err := put(); err != nil {
				return placed, err
			}
			good = good[:0]
		}
		if good = append(good, text...); t.More == 0 {
			whole = t
		}
	}
	return placed, put()
}

func restore(fsys fileSystem, dir, bench string, own bool, lines iter.Seq2[[]byte, error]) (Tail, error) {
	t := Tail{Bench: bench}
	folder := filepath.Join(dir, bench)
	if firsts, err := listSegments(fsys, folder); err != nil || len(firsts) > 0 || !benchPattern.MatchString(bench) {
		if err == nil {
			err = errors.New("there is a chain of it already, or it is no bench's id")
		}
		return t, err
	}
	for _, name := range []string{draftsName, bench} {
		if err := makeFolder(fsys, filepath.Join(dir, name)); err != nil {
			return t, err
		}
	}
	whole, failed := putLines(fsys, folder, t, nil, lines)
	if whole.Seq == 0 {
		return t, cmp.Or(failed, errors.New("no line of it came"))
	}
	if !own {
		return whole, failed
	}
	if _, err := readFrom(fsys, filepath.Join(dir, benchName), 0, 0); !errors.Is(err, fs.ErrNotExist) {
		return whole, cmp.Or(failed, err)
	}
	return whole, cmp.Or(failed, putFile(fsys, filepath.Join(dir, benchName), withCheck([]byte(bench))))
}
