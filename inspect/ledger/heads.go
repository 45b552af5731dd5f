package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"sort"
	"strings"
)

const headsName = "heads.json"

// largestHeads is the most bytes of heads.json that are read: two million subjects of usual length.
const largestHeads = 128 << 20

// heads knows the last record of every subject of one bench and the drafts that were opened and not
// closed.
type heads struct {
	old    headLines           // sorted, as they stand in the file
	recent map[string]position // by subject, newer than old
	open   map[string]position // the opening record, by draft
	lost   []position          // lines that cannot be read, of which it cannot be told whose they are
}

// headsFile is heads.json without its subjects. It holds what the lines before a segment come to, and that segment's
// header has the SHA-256 of the file: it is believed when it is the one that the chain names, and rebuilt from the
// lines otherwise. A file:
//
//	{"format":2,"segment":12,"open":{"EM-0412.1":{"segment":1,"offset":310}},"lost":[],"subjects":{
//	"job:J-7":[1,310],
//	"tool:EM-0412":[1,700]
//	}}
//
// Subjects stand one on a line, sorted by bytes, with segment and offset, so that one is found without decoding the
// others.
type headsFile struct {
	Format  int                 `json:"format"`
	Segment uint64              `json:"segment"` // whose header has the hash of this file
	Open    map[string]position `json:"open"`
	Lost    []position          `json:"lost"`
}

// headLines are lines such as "tool:EM-0412":[1,700], each ended by LF, sorted by bytes.
type headLines []byte

// newHeads returns heads of a chain of which nothing has been read.
func newHeads() heads {
	return heads{recent: map[string]position{}, open: map[string]position{}, lost: []position{}}
}

// add takes in a line that follows all lines taken in before.
func (h *heads) add(l line) {
	if l.Subject != "" {
		h.recent[l.Subject] = l.at
	}
	if l.Opens != "" {
		h.open[l.Opens] = l.at
	}
	if l.Closes != nil {
		delete(h.open, l.Closes.Draft)
	}
}

// addDamaged takes in a line that cannot be read, as far as can be told whose it is, and returns what it was where that
// can be told. A subject whose last record it was is led to it, and finds it damaged. Of several that follow each other,
// and of which nothing can be told, the first stands for all.
func (h *heads) addDamaged(l line, follows bool) (was line, ok bool) {
	if was, ok = repair(l.body); ok {
		was.at, was.end, was.number = l.at, l.end, l.number
		h.add(was)
		return was, true
	}
	subject := subjectOf(l.body)
	if _, known := h.last(subject); subject == "" || !known {
		if !follows {
			h.lost = append(h.lost, l.at)
		}
		return line{}, false
	}
	h.recent[subject] = l.at
	return line{}, false
}

// last returns where the last record of a subject starts.
func (h heads) last(subject string) (position, bool) {
	if at, ok := h.recent[subject]; ok {
		return at, true
	}
	key := headKey(subject)
	i := h.old.search(key)
	if !bytes.HasPrefix(h.old[i:], []byte(key)) {
		return position{}, false
	}
	_, at := h.old.entry(i)
	return at, true
}

// subjects returns the subjects that begin with prefix, in no order.
func (h heads) subjects(prefix string) []string {
	var found []string
	begin := strings.TrimSuffix(headKey(prefix), `":`)
	for at := h.old.search(begin); bytes.HasPrefix(h.old[at:], []byte(begin)); at = h.old.next(at) {
		subject, _ := h.old.entry(at)
		if _, newer := h.recent[subject]; !newer {
			found = append(found, subject)
		}
	}
	for subject := range h.recent {
		if strings.HasPrefix(subject, prefix) {
			found = append(found, subject)
		}
	}
	return found
}

// headKey is how a subject is spelled at the start of its line.
func headKey(subject string) string { return quote(subject) + ":" }

// search returns the byte where the first line that is not before key starts.
func (h headLines) search(key string) int {
	// The answer is the same for every byte of one line, so bytes can be searched as if they were lines.
	return sort.Search(len(h), func(i int) bool { return string(h.lineOf(i)) >= key })
}

// lineOf returns the line that holds byte i.
func (h headLines) lineOf(i int) []byte {
	start := bytes.LastIndexByte(h[:i], '\n') + 1
	return h[start:h.next(i)]
}

// next returns the byte behind the LF of the line that holds byte i.
func (h headLines) next(i int) int { return i + bytes.IndexByte(h[i:], '\n') + 1 }

// entry reads the line that starts at a byte.
func (h headLines) entry(at int) (subject string, where position) {
	c := cursor{rest: h[at:]}
	subject = c.text()
	c.literal(":[")
	where.Segment = c.number()
	c.literal(",")
	where.Offset = int64(c.number())
	return subject, where
}

var errHeads = errors.New("not as the program writes it")

// readHeads reads heads.json and returns it with the segment whose header names it, and its hash.
func readHeads(fsys fileSystem, dir string) (h heads, segment uint64, hash string, err error) {
	data, err := readFrom(fsys, filepath.Join(dir, headsName), 0, largestHeads)
	if err != nil {
		return heads{}, 0, "", err
	}
	h, segment, err = parseHeads(data)
	return h, segment, digest(sha256.Sum256(data)).String(), err
}

func parseHeads(data []byte) (h heads, segment uint64, err error) {
	top, lines, ok := bytes.Cut(data, []byte("\n"))
	top, named := bytes.CutSuffix(top, []byte(`,"subjects":{`))
	lines, whole := bytes.CutSuffix(lines, []byte("}}\n"))
	var f headsFile
	if !ok || !named || !whole || json.Unmarshal(append(bytes.Clone(top), '}'), &f) != nil || f.Format != Format || f.Open == nil || f.Lost == nil {
		return heads{}, 0, errHeads
	}
	old := bytes.ReplaceAll(lines, []byte("],\n"), []byte("]\n"))
	return heads{old: old, recent: map[string]position{}, open: f.Open, lost: f.Lost}, f.Segment, nil
}

// file returns heads.json for what has been taken in, to be named by the header of a segment. It works recent into old.
func (h *heads) file(segment uint64) []byte {
	h.old, h.recent = h.merged(), map[string]position{}
	top, err := json.Marshal(headsFile{Format, segment, h.open, h.lost})
	if err != nil {
		panic(err) // it holds nothing that could not be written
	}
	text := append(top[:len(top)-1], `,"subjects":{`+"\n"...)
	if len(h.old) > 0 {
		text = append(text, bytes.ReplaceAll(bytes.TrimSuffix(h.old, []byte("\n")), []byte("]\n"), []byte("],\n"))...)
		text = append(text, '\n')
	}
	return append(text, "}}\n"...)
}

// merged returns old with recent worked in.
func (h heads) merged() headLines {
	recent := map[string]string{}
	for subject, at := range h.recent {
		recent[headKey(subject)] = fmt.Sprintf("[%d,%d]\n", at.Segment, at.Offset)
	}
	var merged headLines
	at := 0
	for _, key := range slices.Sorted(maps.Keys(recent)) {
		to := h.old.search(key)
		merged = append(merged, h.old[at:to]...)
		merged = append(merged, key+recent[key]...)
		if at = to; bytes.HasPrefix(h.old[to:], []byte(key)) {
			at = h.old.next(to)
		}
	}
	return append(merged, h.old[at:]...)
}
