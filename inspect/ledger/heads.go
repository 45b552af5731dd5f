package ledger

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"sort"
	"strings"
)

const headsName = "heads.json"

// headsEvery is after how many bytes of new lines heads.json is written again: at most so much is read at
// the start of a program.
const headsEvery = 256 << 10

// heads knows the last record of every subject of one bench and the drafts that were opened and not
// closed. Nothing depends on its file: it is rebuilt from the lines when missing, damaged or of another
// ledger.
type heads struct {
	old    headLines           // sorted, as read from the file
	recent map[string]position // by subject, newer than old
	open   map[string]position // the opening record, by draft
	covers position            // the last line that the file knows
	behind int64               // bytes of the lines that it does not know
	holes  bool                // lines that cannot be read stand before others that can
}

// headsFile is heads.json without its subjects. A file:
//
//	{"check":"1f2e3d4c","format":1,"covers":{"segment":1,"offset":700},"sha256":"...","open":{},"holes":false,"subjects":{
//	"job:J-7":[1,310],
//	"tool:EM-0412":[1,700]
//	}}
//
// The check value is the CRC-32C of all that follows its comma. Subjects stand one on a line, sorted by
// bytes, with segment and offset, so that one is found without decoding the others.
type headsFile struct {
	Format int                 `json:"format"`
	Covers position            `json:"covers"`
	SHA256 string              `json:"sha256"` // of the line covered last
	Open   map[string]position `json:"open"`
	Holes  bool                `json:"holes"`
}

const headsCheck = `{"check":"` // then eight hex digits, a quote and a comma

// headLines are lines such as "tool:EM-0412":[1,700], each ended by LF, sorted by bytes.
type headLines []byte

// newHeads returns heads of a chain of which nothing has been read.
func newHeads() heads {
	return heads{recent: map[string]position{}, open: map[string]position{}}
}

// add takes in a line that follows all lines taken in before.
func (h *heads) add(l line) {
	h.behind += l.end - l.at.Offset
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

var errHeads = errors.New("heads.json is damaged; it is written anew when the ledger is next used")

// readHeads reads heads.json and returns it with the hash of the line it covers last.
func readHeads(fsys fileSystem, dir string) (heads, string, error) {
	data, err := readFrom(fsys, filepath.Join(dir, headsName), 0, math.MaxInt32)
	if err != nil {
		return heads{}, "", err
	}
	top, lines, ok := bytes.Cut(data, []byte("\n"))
	top, named := bytes.CutSuffix(top, []byte(`,"subjects":{`))
	lines, whole := bytes.CutSuffix(lines, []byte("}}\n"))
	start := len(headsCheck) + len(`01234567",`)
	if !ok || !named || !whole || len(top) < start || string(data[:start]) != headsStart(data[start:]) {
		return heads{}, "", errHeads
	}
	var f headsFile
	if json.Unmarshal(slices.Concat([]byte("{"), top[start:], []byte("}")), &f) != nil || f.Format != Format || f.Open == nil {
		return heads{}, "", errHeads
	}
	old := bytes.ReplaceAll(lines, []byte("],\n"), []byte("]\n"))
	return heads{old: old, recent: map[string]position{}, open: f.Open, covers: f.Covers, holes: f.Holes}, f.SHA256, nil
}

func headsStart(rest []byte) string {
	return fmt.Sprintf(`%s%08x",`, headsCheck, crcOf(rest))
}

// write puts heads.json in its place, covering everything up to the line given, and moves recent to old.
func (h *heads) write(fsys fileSystem, dir string, last line) error {
	old := h.merged()
	f := headsFile{Format, last.at, last.hash.String(), h.open, h.holes}
	top, err := json.Marshal(f)
	if err != nil {
		return err
	}
	lines := bytes.ReplaceAll(bytes.TrimSuffix(old, []byte("\n")), []byte("]\n"), []byte("],\n"))
	rest := slices.Concat(top[1:len(top)-1], []byte(`,"subjects":{`+"\n"), lines)
	if len(lines) > 0 {
		rest = append(rest, '\n')
	}
	rest = append(rest, "}}\n"...)
	if err := putFile(fsys, filepath.Join(dir, headsName), append([]byte(headsStart(rest)), rest...)); err != nil {
		return err
	}
	*h = heads{old: old, recent: map[string]position{}, open: h.open, covers: last.at, holes: h.holes}
	return nil
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

// saveHeads writes heads.json when it has fallen far behind. A failure costs only the reading of more lines
// next time.
func (c *chain) saveHeads() {
	if c.heads.behind > headsEvery {
		c.heads.write(c.fsys, c.dir, c.tail)
	}
}
