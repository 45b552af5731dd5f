package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io/fs"
	"math/bits"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
)

// segmentSize is the most bytes in a segment, unless one append has more: who opens a ledger reads the newest. largestAppend
// is what an append has at most, and tooLarge where reading a segment stops: none is so long, whatever has happened to
// the file.
const (
	segmentSize   = 1 << 20
	largestAppend = 8 << 20
	tooLarge      = 2 * largestAppend
)

// kindSegment is the kind of a segment's first line.
const kindSegment = "segment"

// header is the body of a segment's first line, such as
//
//	{"bench":"c3f17c2da90490f3","label":"bench 1","heads":"5e...","previous":{"segment":1,"length":4194210,"sha256":"78..."}}
type header struct {
	Bench    string    `json:"bench"`
	Label    string    `json:"label"`
	Heads    string    `json:"heads"`              // SHA-256 of the heads.json of all lines before this one
	Previous *previous `json:"previous,omitempty"` // missing in a bench's first segment
}

// previous says what of the segment before belongs to the chain: its first Length bytes, whose SHA-256
// this is.
type previous struct {
	Segment uint64 `json:"segment"`
	Length  int64  `json:"length"`
	SHA256  string `json:"sha256"`
}

var (
	segmentPattern = regexp.MustCompile(`^[0-9]{12}\.jsonl$`)
	benchPattern   = regexp.MustCompile(`^[a-f][0-9a-f]{15}$`)
)

func segmentName(first uint64) string { return fmt.Sprintf("%012d.jsonl", first) }

// listSegments returns the first sequence numbers of a bench's segments in rising order, none when the
// folder is missing.
func listSegments(fsys fileSystem, dir string) ([]uint64, error) {
	entries, err := fsys.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var firsts []uint64
	for _, e := range entries {
		if !segmentPattern.MatchString(e.Name()) {
			continue
		}
		first, err := strconv.ParseUint(e.Name()[:12], 10, 64)
		if err != nil {
			return nil, err
		}
		firsts = append(firsts, first)
	}
	slices.Sort(firsts)
	return firsts, nil
}

// segment is a segment in memory, from one byte on.
type segment struct {
	first uint64
	from  int64    // the byte of the file that data starts with
	data  []byte   // without the void bytes
	void  int      // how many bytes behind data are void
	last  bool     // no segment follows
	short int64    // how many bytes more the next segment says that it has
	only  []string // kinds of the lines that are read; nil is all
}

// readSegment reads firsts[i] up to the good length that the next header gives, into the memory of room where it holds
// enough.
func readSegment(room []byte, fsys fileSystem, dir string, firsts []uint64, i int) (segment, error) {
	s := segment{first: firsts[i], last: i == len(firsts)-1}
	data, err := readInto(room, fsys, filepath.Join(dir, segmentName(s.first)), 0, tooLarge)
	if err != nil {
		return s, err
	}
	if len(data) == tooLarge {
		return s, fmt.Errorf("%s/%s: %d bytes or more: no ledger has written that", filepath.Base(dir), segmentName(s.first), tooLarge)
	}
	s.data = data
	if s.last {
		return s, nil
	}
	h, err := readHeader(fsys, dir, firsts[i+1])
	if err != nil || h.Previous == nil || h.Previous.Segment != s.first {
		return s, nil // the next segment's own fault, named when its lines are read
	}
	s.short = max(h.Previous.Length-int64(len(data)), 0)
	s.cut(h.Previous.Length)
	return s, nil
}

// cut makes void what stands behind the segment's first length bytes.
func (s *segment) cut(length int64) {
	good := min(max(length-s.from, 0), int64(len(s.data)))
	s.void += len(s.data) - int(good)
	s.data = s.data[:good]
}

// readHeader reads the header of one segment.
func readHeader(fsys fileSystem, dir string, first uint64) (header, error) {
	l, err := readLine(fsys, dir, position{Segment: first})
	if err != nil {
		return header{}, err
	}
	return l.header()
}

func (l line) header() (header, error) {
	if l.kind != kindSegment {
		return header{}, fmt.Errorf("kind %q, want %q", l.kind, kindSegment)
	}
	var h header
	if err := json.Unmarshal(l.body, &h); err != nil {
		return header{}, fmt.Errorf("header: %v", err)
	}
	return h, nil
}

// readLine reads the line that starts at a position.
func readLine(fsys fileSystem, dir string, at position) (line, error) {
	r := lineReader{fsys: fsys, dir: dir}
	defer r.close()
	return r.read(at)
}

// lineReader reads lines one by one. What stands around a line is read with it, and its segment stays open until a line of
// another is asked for. A line shares memory with the reader until the next one is read.
type lineReader struct {
	fsys fileSystem
	dir  string
	only []string // kinds of lines whose bodies and hashes are wanted; nil is all
	back int64    // how many bytes before a line are read with it
	file file     // nil where none is open
	open uint64   // the segment that it is of
	from int64    // the byte that held starts with
	held []byte
}

// firstRead is how many bytes are read at a line: most are shorter.
const firstRead = 16 << 10

func (r *lineReader) read(at position) (line, error) {
	if r.file == nil || r.open != at.Segment {
		r.close()
		f, err := r.fsys.OpenFile(filepath.Join(r.dir, segmentName(at.Segment)), os.O_RDONLY)
		if err != nil {
			return line{}, err
		}
		r.file, r.open, r.held = f, at.Segment, r.held[:0]
	}
	for size := firstRead; ; size = min(8*size, MaxLine) {
		skip := at.Offset - r.from
		if skip >= 0 && skip < int64(len(r.held)) {
			text := r.held[skip:]
			if end := bytes.IndexByte(text, '\n'); end >= 0 {
				l, err := parseLine(text[:end])
				if err == nil && r.only != nil && !slices.Contains(r.only, l.kind) {
					l.body = nil
				} else {
					l.hash = sha256.Sum256(text[:end])
				}
				l.at, l.end = at, at.Offset+int64(end)+1
				return l, err
			}
			if len(text) == MaxLine {
				return line{}, fmt.Errorf("no whole line at byte %d", at.Offset)
			}
		}
		before := max(min(at.Offset, r.back), 0)
		r.from = at.Offset - before
		r.held = slices.Grow(r.held[:0], int(before)+size)[:int(before)+size]
		n, err := r.file.ReadAt(r.held, r.from)
		r.held = r.held[:n]
		if whole := int(before) + size; n < whole && bytes.IndexByte(r.held[min(n, int(before)):], '\n') < 0 {
			return line{}, fmt.Errorf("no whole line at byte %d: %v", at.Offset, err)
		}
	}
}

func (r *lineReader) close() {
	if r.file != nil {
		r.file.Close()
		r.file = nil
	}
}

// errTorn says that bytes at the end of a segment have no end of line, errNoLine that a segment has none that counts: it was put in
// its place with its header, so what it held is gone.
var (
	errTorn   = errors.New("torn")
	errNoLine = errors.New("holds no line: what was recorded in it is gone")
)

// lines calls visit with each line of the segment in turn. For what is not a good line it gives an error
// and a line that has only its place, its bytes for a body, and their hash. The lines share memory with the segment.
func (s segment) lines(visit func(line, error) error) error {
	offset := s.from
	for number := 1; len(s.data) > 0; number++ {
		text, rest, whole := bytes.Cut(s.data, []byte("\n"))
		if whole && s.passesOver(text) {
			offset += int64(len(s.data) - len(rest))
			s.data = rest
			continue
		}
		l, err := parseLine(text)
		if !whole {
			err = fmt.Errorf("%w: no end of line after the last %d bytes", errTorn, len(text))
		}
		if whole && err != nil {
			if end := gluedAt(text); end > 0 {
				err = fmt.Errorf("the byte that ends the line is %q", text[end])
				text, rest = text[:end], s.data[end+1:]
			}
		}
		if err != nil {
			l = line{body: text}
		}
		l.hash = sha256.Sum256(text)
		l.at, l.number = position{s.first, offset}, number
		offset += int64(len(s.data) - len(rest))
		l.end = offset
		s.data = rest
		if err := visit(l, err); err != nil {
			return err
		}
	}
	return nil
}

// passesOver says whether a line is whole and of a kind that is not read.
func (s segment) passesOver(text []byte) bool {
	if s.only == nil {
		return false
	}
	rest, err := checked(text)
	if err != nil {
		return false // damage is named, whatever the line was
	}
	for range 2 { // number, counter
		_, rest, _ = bytes.Cut(rest, []byte(" "))
	}
	kind, _, _ := bytes.Cut(rest, []byte(" "))
	return !slices.Contains(s.only, string(kind))
}

// gluedAt returns where the first of two lines ends whose LF has become another byte, so that the second
// is not lost with it; 0 when text is no such thing.
func gluedAt(text []byte) int {
	if len(text) < 10 {
		return 0
	}
	check, err := strconv.ParseUint(string(text[:8]), 16, 32)
	if err != nil {
		return 0
	}
	sum := uint32(0)
	for i := 9; i < len(text); i++ {
		if sum == uint32(check) {
			if _, err := parseLine(text[:i]); err == nil {
				return i
			}
		}
		sum = crc32.Update(sum, castagnoli, text[i:i+1])
	}
	return 0
}

// repair returns what a line was before one of its bytes was changed, and whether there is such a line: the only one
// that agrees with the check value. Of twenty thousand lines that have more wrong with them, one is taken for such.
//
// The check value of a text with one byte changed by v, k bytes before its end, differs from that of the text by what the
// CRC's table makes of v in k further steps, whatever the text is. Going back step by step from the difference, a
// change of one byte shows as an entry of the table.
func repair(text []byte) (line, bool) {
	if len(text) < 10 || text[8] != ' ' {
		return line{}, false
	}
	fixed := bytes.Clone(text)
	whole := func() (line, bool) {
		l, err := parseLine(fixed)
		l.hash = sha256.Sum256(fixed)
		return l, err == nil
	}
	want, err := strconv.ParseUint(string(text[:8]), 16, 32)
	sum := crcOf(text[9:])
	if err != nil || bits.OnesCount32(sum^uint32(want)) <= 4 { // the check value itself, perhaps
		copy(fixed, fmt.Sprintf("%08x", sum))
		wrong := 0
		for i := range 8 {
			if fixed[i] != text[i] {
				wrong++
			}
		}
		if l, ok := whole(); ok && wrong == 1 {
			return l, true
		}
		copy(fixed, text)
	}
	if err != nil {
		return line{}, false
	}
	state := sum ^ uint32(want)
	for i := len(text) - 1; i > 8; i-- {
		v := lastStep[state>>24]
		if castagnoli[v] == state {
			fixed[i] ^= v
			if l, ok := whole(); ok {
				return l, true
			}
			fixed[i] ^= v
		}
		state = (state^castagnoli[v])<<8 | uint32(v)
	}
	return line{}, false
}

// lastStep gives, by the highest byte of a check value's state, the entry of the table that the last step took: no two
// entries have the same highest byte.
var lastStep = func() (entry [256]byte) {
	for v, state := range castagnoli {
		entry[state>>24] = byte(v)
	}
	return entry
}()

// subjectOf guesses whose line it was that cannot be read nor repaired, by the subject that can be read in it; "" where
// none can.
func subjectOf(text []byte) string {
	_, rest, found := bytes.Cut(text, []byte(`,"subject":`))
	if !found {
		return ""
	}
	c := cursor{rest: rest[:min(len(rest), 2*maxText+2)]}
	subject := c.text()
	if c.wrong || checkSubject(subject) != nil {
		return ""
	}
	return subject
}
