package ledger

import (
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// VerifyReport is what Verify found.
type VerifyReport struct {
	Benches []BenchReport
	Records int      // that read as they were written, of all benches
	Void    []Damage // bytes that were never acknowledged: their append was cut off or failed
	Damage  []Damage
	Open    []OpenDraft // what was opened and not closed
}

// BenchReport is one bench in a VerifyReport.
type BenchReport struct {
	Bench    string
	Label    string // the bench's name in its newest segment
	Own      bool   // it is the bench that writes in this ledger
	Segments int
	Records  int
	Head     Head   // the last line that can be read
	Proven   uint64 // up to this line the heads given prove it; 0 where none of it is proven
	Denied   int    // heads given that name no line of it as it stands: each is a Damage too
}

// OpenDraft is a draft that was opened and not closed.
type OpenDraft struct {
	Opened Record
	Lines  int  // in its file; 0 for another bench's, whose drafts are not here
	Gone   bool // it is this bench's and has no file
}

// Verify reads a whole ledger and checks every line by itself, every line against the one before, every
// segment against the header of the next, every pointer from a record to the one before in its history and to the one
// that it is about, the file of heads against the records, the drafts against the records that opened them, and
// what else the folder holds. Nothing is written, and nobody is kept from writing.
//
// What is not found by looking at the ledger alone is a chain that was cut off at the end of an append, or written anew
// from some line to its end: for that, give the heads that were printed earlier. Of each bench Proven says up to which
// line they prove it; what is behind is as safe as the folder is. Progress, unless nil, is told how many bytes of the
// segments are done.
func Verify(dir string, heads []string, progress func(done, total int64)) (VerifyReport, error) {
	return verify(disk{}, dir, heads, progress)
}

func verify(fsys fileSystem, dir string, heads []string, progress func(done, total int64)) (VerifyReport, error) {
	v := verification{fsys: fsys, dir: dir, progress: progress, hashes: map[string][]uint64{}, indexes: map[string]index{}}
	for _, head := range heads {
		h, err := ParseHead(head)
		if err != nil {
			return VerifyReport{}, err
		}
		v.heads = append(v.heads, h)
	}
	if err := v.run(); err != nil {
		return VerifyReport{}, fmt.Errorf("verifying ledger %q: %w", dir, err)
	}
	return v.report, nil
}

type verification struct {
	fsys        fileSystem
	dir         string
	heads       []Head
	progress    func(done, total int64)
	done, total int64
	report      VerifyReport
	own         string // the bench that writes here
	indexes     map[string]index
	hashes      map[string][]uint64 // by bench and number: the first bytes of each line's hash; 0 where it cannot be read
	abouts      []aboutLine
}

// aboutLine is a line that is about another.
type aboutLine struct {
	Ref
	file  string
	place int
}

func (v *verification) damage(file string, line int, format string, args ...any) {
	v.report.Damage = append(v.report.Damage, Damage{Segment: file, Line: line, What: fmt.Sprintf(format, args...)})
}

func (v *verification) run() error {
	chains, err := v.snapshot()
	if err != nil {
		return err
	}
	v.folder(len(chains) > 0)
	ours := map[string]bool{}
	for _, c := range chains {
		ours[c.bench] = true
		if err := v.bench(c); err != nil {
			return err
		}
	}
	if len(chains) == 0 {
		v.damage(".", 0, "holds no record of any bench")
	}
	for _, h := range v.heads {
		if !ours[h.Bench] {
			v.damage(h.Bench, 0, "the bench of head %s is not in the ledger", h)
		}
	}
	for _, a := range v.abouts {
		hashes := v.hashes[a.Bench]
		if a.Seq > uint64(len(hashes)) || hashes[a.Seq-1] == 0 {
			continue // not merged that far, or named already
		}
		if want, err := strconv.ParseUint(a.Hash[:16], 16, 64); err != nil || hashes[a.Seq-1] != want {
			v.damage(a.file, a.place, "is about number %d of bench %s with the hash %s, which that has not", a.Seq, a.Bench, a.Hash)
		}
	}
	return v.drafts()
}

// snapshot notes where each chain ends.
func (v *verification) snapshot() ([]*chain, error) {
	benches, err := listBenches(v.fsys, v.dir)
	if err != nil {
		return nil, err
	}
	var chains []*chain
	for _, bench := range benches {
		c := openChain(v.fsys, v.dir, bench)
		var in index
		_, in.segment, in.hash, in.err = readHeads(v.fsys, c.dir)
		v.indexes[bench] = in
		firsts, err := c.look()
		if err != nil {
			return nil, err
		}
		for _, first := range firsts {
			size, err := c.sizeOf(first)
			if err != nil {
				return nil, err
			}
			v.total += size
		}
		chains = append(chains, c)
	}
	return chains, nil
}

// folder checks what the ledger's folder holds beside the chains.
func (v *verification) folder(wanted bool) {
	data, err := readFrom(v.fsys, filepath.Join(v.dir, benchName), 0, MaxLine)
	if err == nil {
		v.own, err = parseBench(data)
	}
	if err != nil && (wanted || !errors.Is(err, fs.ErrNotExist)) {
		v.damage(benchName, 1, "%v", err)
	}
	if v.own != "" {
		if firsts, err := listSegments(v.fsys, filepath.Join(v.dir, v.own)); err == nil && len(firsts) == 0 {
			v.damage(v.own, 0, "the records of this bench are gone")
		}
	}
	v.plain(".", func(string) bool { return true })
	v.plain(draftsName, func(name string) bool { return strings.HasSuffix(name, ".jsonl") || name == temporaryName })
}

// plain names what in a folder of the ledger is neither a plain file nor a folder, and what has no part in it.
func (v *verification) plain(folder string, part func(name string) bool) {
	entries, err := v.fsys.ReadDir(filepath.Join(v.dir, folder))
	if err != nil {
		return
	}
	for _, e := range entries {
		name := strings.TrimPrefix(folder+"/"+e.Name(), "./")
		switch {
		case e.Type()&^fs.ModeDir != 0:
			v.damage(name, 0, "%s: no part of a ledger; move it away", typeOf(e.Type()))
		case !part(e.Name()):
			v.damage(name, 0, "no part of a ledger; move it away")
		}
	}
}

// bench checks one chain and what lies beside it.
func (v *verification) bench(c *chain) error {
	b := newBenchVerification(v, c)
	for try := 0; ; try++ {
		firsts, err := listSegments(c.fsys, c.dir)
		if err != nil {
			return err
		}
		firsts = slices.DeleteFunc(firsts, func(first uint64) bool { return first > c.newest })
		var room []byte
		for i := range firsts {
			s, err := readSegment(room, c.fsys, c.dir, firsts, i)
			if err != nil {
				return err
			}
			room = s.data
			if s.last {
				s.data = s.data[:min(int64(len(s.data)), c.size)]
			}
			if err := b.segment(s); err != nil {
				return err
			}
		}
		empty := b.report.Segments == 0 && c.bench != v.own
		if !b.torn && !empty || try == 2 {
			break
		}
		// What is torn may be in the middle of being written, and a bench without records in the middle of being merged: with
		// the lock nobody writes.
		l := &Ledger{dir: v.dir, opt: Options{fsys: v.fsys}.withDefaults()}
		if _, err := readFrom(v.fsys, filepath.Join(v.dir, lockName), 0, 0); err == nil {
			end, err := l.begin()
			if err != nil {
				break
			}
			_, err = c.look()
			end()
			if err != nil {
				return err
			}
		}
		if try == 1 {
			break
		}
		v.forget(b)
		b = newBenchVerification(v, c)
	}
	if b.report.Segments == 0 && c.bench != v.own {
		v.damage(c.bench, 0, "holds no record of its bench: they are gone, or a merge was cut off; merge it again")
	}
	b.checkIndex()
	b.checkHeads()
	v.plain(c.bench, func(name string) bool {
		return segmentPattern.MatchString(name) || name == headsName || name == temporaryName
	})
	b.report.Head = Head{c.bench, b.last.seq, b.last.hash.String()}
	b.report.Own = c.bench == v.own
	v.report.Records += b.report.Records
	v.report.Benches = append(v.report.Benches, b.report)
	return nil
}

// forget takes back what a bench has added to the report.
func (v *verification) forget(b *benchVerification) {
	v.report.Damage = v.report.Damage[:b.found]
	v.report.Void = v.report.Void[:b.voids]
	v.abouts = v.abouts[:b.aboutsBefore]
	v.done = b.doneBefore
	delete(v.hashes, b.chain.bench)
}

// benchVerification follows one chain.
type benchVerification struct {
	*verification
	chain  *chain
	report BenchReport

	last     line // the last good line
	known    bool // the line before the next one is last, or there is none before
	segments []segmentFacts
	sound    position // behind the last whole append before the first damage
	torn     bool     // the newest segment ends in an append that is not whole
	whole    bool     // the last line was the last of its append
	states   heads    // what the lines so far come to
	damaged  map[position]bool
	headAt   map[uint64]line // lines with the numbers of the heads given
	wanted   map[uint64]bool

	index index
	named string // the hash that the header of the index's segment names, once it has been read

	found, voids, aboutsBefore int // what the report had before this chain
	doneBefore                 int64
}

// index is a heads.json as it was before the segments were listed: it is of none that is newer.
type index struct {
	segment uint64
	hash    string
	err     error
}

// segmentFacts is what the next segment's header must say.
type segmentFacts struct {
	first   uint64
	length  int64
	hash    digest
	mended  digest // of the segment with every line repaired that has one wrong byte
	damaged bool
}

func newBenchVerification(v *verification, c *chain) *benchVerification {
	b := &benchVerification{
		verification: v, chain: c, report: BenchReport{Bench: c.bench}, known: true, whole: true, states: newHeads(),
		index: v.indexes[c.bench], damaged: map[position]bool{}, headAt: map[uint64]line{}, wanted: map[uint64]bool{},
		found: len(v.report.Damage), voids: len(v.report.Void), aboutsBefore: len(v.abouts), doneBefore: v.done,
	}
	for _, h := range v.heads {
		if h.Bench == c.bench {
			b.wanted[h.Seq] = true
		}
	}
	return b
}

func (b *benchVerification) file(first uint64) string { return b.chain.segmentFile(first) }

// clean says whether no damage was found in this chain so far.
func (b *benchVerification) clean() bool { return len(b.verification.report.Damage) == b.found }

// segment checks the lines of the next segment, and what its next one's header makes void.
func (b *benchVerification) segment(s segment) error {
	before := len(b.verification.report.Damage)
	b.report.Segments++
	if len(s.data) == 0 {
		b.damage(b.file(s.first), 0, "holds no line")
		b.known = false
	}
	if err := s.lines(b.line); err != nil {
		return err
	}
	if s.void > 0 {
		all := s.data[:len(s.data)+s.void] // the void bytes are behind, in the same memory
		b.void(s.first, len(s.data), all[len(s.data):])
	}
	if s.last && !b.whole && !b.torn {
		b.torn = true
		b.damage(b.file(s.first), 0, "torn: the last append is not whole; the next program that appends goes on behind it")
	}
	if !s.last && !b.whole {
		b.damage(b.file(s.first), 0, "ends in an append that is not whole")
	}
	b.whole = true
	facts := segmentFacts{first: s.first, length: int64(len(s.data)), hash: sha256.Sum256(s.data), damaged: len(b.verification.report.Damage) > before}
	if facts.damaged {
		facts.mended = sha256.Sum256(mended(s.data))
	}
	b.segments = append(b.segments, facts)
	b.done += int64(len(s.data) + s.void)
	if b.progress != nil {
		b.progress(b.done, b.total)
	}
	return nil
}

// void checks bytes that a header makes void: an append that was cut off or failed has no end, so what has one was
// recorded.
func (b *benchVerification) void(first uint64, from int, data []byte) {
	v := segment{first: first, from: int64(from), data: data, last: true}
	last, records, whole := b.last, 0, false
	v.lines(func(l line, err error) error {
		if err != nil {
			if was, ok := repair(l.body); ok && !errors.Is(err, errTorn) {
				was.hash, l, err = sha256.Sum256(l.body), was, nil
				l.hash = was.hash
			}
		}
		if err != nil || l.seq != last.seq+1 {
			return fs.SkipAll
		}
		records++
		last, whole = l, l.More == 0
		if whole {
			return fs.SkipAll
		}
		return nil
	})
	if whole {
		b.damage(b.file(first), 0, "the bytes from byte %d on are made void by the next segment, and read as %d records that follow number %d: they were recorded", from, records, b.last.seq)
		return
	}
	if from == 0 {
		return // no append: the whole segment, and said
	}
	b.verification.report.Void = append(b.verification.report.Void, Damage{Segment: b.file(first),
		What: fmt.Sprintf("%d bytes from byte %d on are void: their append was cut off or failed", len(data), from)})
}

// line checks the next line.
func (b *benchVerification) line(l line, err error) error {
	file := b.file(l.at.Segment)
	if err != nil {
		if b.torn = errors.Is(err, errTorn); b.torn {
			b.damage(file, l.number, "%v; unless it was recorded, and a printed head says so, it was never acknowledged, and the next program that appends goes on behind it", err)
		} else {
			b.damage(file, l.number, "%v", err)
			if was, ok := b.states.addDamaged(l, !b.known); ok {
				b.verification.report.Damage[len(b.verification.report.Damage)-1].Subject = was.Subject
			}
		}
		b.damaged[l.at] = true
		b.known, b.whole = false, true
		return nil
	}
	switch {
	case (l.kind == kindSegment) != (l.number == 1):
		b.damage(file, l.number, "a segment's header, kind %q, must be its first line and no other", kindSegment)
	case l.kind == kindSegment:
		b.header(l)
	default:
		b.report.Records++
	}
	switch {
	case l.seq <= b.last.seq || b.known && l.seq != b.last.seq+1:
		b.damage(file, l.number, "number %d follows %d: lines are missing, repeated or moved", l.seq, b.last.seq)
	case b.known && l.previous != b.last.hash:
		b.damage(file, l.number, "hash of the line before is %s, want %s: it was replaced", b.last.hash, l.previous)
	case l.counter <= b.last.counter:
		b.damage(file, l.number, "counter %d follows %d", l.counter, b.last.counter)
	case b.known && !b.whole && (l.More != b.last.More-1):
		b.damage(file, l.number, "%d lines of its append should follow, and %d of that of the line before", l.More, b.last.More)
	}
	b.pointers(l, file)
	if b.wanted[l.seq] {
		b.headAt[l.seq] = l
	}
	l.body = nil
	b.states.add(l)
	b.last, b.known, b.whole = l, true, l.More == 0
	if b.whole && b.clean() {
		b.sound = position{l.at.Segment, l.end}
	}
	return nil
}

// pointers checks what a line says of the lines before it.
func (b *benchVerification) pointers(l line, file string) {
	var want *position
	if at, ok := b.states.last(l.Subject); ok && l.Subject != "" {
		want = &at
	}
	same := want == nil && l.Earlier == nil || want != nil && l.Earlier != nil && *want == *l.Earlier
	if !same && len(b.states.lost) == 0 && (l.Earlier == nil || !b.damaged[*l.Earlier]) {
		b.damage(file, l.number, "does not lead to the record before it in the history of %q: one is passed over", l.Subject)
	}
	hashes := b.hashes[b.chain.bench]
	if l.seq > uint64(len(hashes)) && l.seq < uint64(len(hashes))+1<<20 {
		hashes = append(hashes, make([]uint64, l.seq-uint64(len(hashes)))...)
		hashes[l.seq-1] = binary.BigEndian.Uint64(l.hash[:8])
		b.hashes[b.chain.bench] = hashes
	}
	if l.About != nil {
		b.abouts = append(b.abouts, aboutLine{*l.About, file, l.number})
	}
}

// header checks a segment's header against its name, the segments before and what the lines before come to.
func (b *benchVerification) header(l line) {
	name := b.file(l.at.Segment)
	h, err := l.header()
	if err != nil {
		b.damage(name, l.number, "%v", err)
		return
	}
	b.report.Label = h.Label
	if l.seq != l.at.Segment || h.Bench != b.chain.bench {
		b.damage(name, l.number, "its header is that of %s", h.Bench+"/"+segmentName(l.seq))
	}
	if l.at.Segment == b.index.segment {
		b.named = h.Heads
	}
	// What readers go by is the newest header, and that of the file's segment: an index is long, and there are many.
	if (l.at.Segment == b.chain.newest || l.at.Segment == b.index.segment) && b.clean() {
		if hash := digest(sha256.Sum256(b.states.file(l.at.Segment))); hash.String() != h.Heads {
			b.damage(name, l.number, "its header names heads of the hash %s, those of the lines before it have %s: records are hidden", h.Heads, hash)
		}
	}
	if (h.Previous == nil) != (len(b.segments) == 0) {
		b.known = false
		if h.Previous == nil {
			b.damage(name, l.number, "its header is that of a first segment")
		} else {
			b.damage(b.file(h.Previous.Segment), 0, "missing: %s follows it", name)
		}
		return
	}
	if h.Previous != nil {
		b.previous(name, *h.Previous)
	}
}

// previous checks what the header of the segment in the file called name says of the one before.
func (b *benchVerification) previous(name string, p previous) {
	before := b.segments[len(b.segments)-1]
	switch {
	case p.Segment > before.first:
		b.damage(b.file(p.Segment), 0, "missing: %s follows it", name)
		b.known = false
	case p.Segment < before.first && !before.damaged:
		b.damage(name, 1, "follows %s and not %s", b.file(p.Segment), b.file(before.first))
		b.known = false
	case p.Segment < before.first:
	case before.length < p.Length:
		b.damage(b.file(p.Segment), 0, "ends at byte %d, the next segment's header says %d", before.length, p.Length)
		b.known = false
	case before.hash.String() != p.SHA256 && !before.damaged:
		b.damage(b.file(p.Segment), 0, "hash %s, the next segment's header says %s", before.hash, p.SHA256)
	}
}

// checkIndex compares heads.json with what the header of its segment names.
func (b *benchVerification) checkIndex() {
	name := b.chain.bench + "/" + headsName
	switch {
	case errors.Is(b.index.err, fs.ErrNotExist):
	case b.index.err != nil:
		b.damage(name, 0, "%v; it is not believed, and made anew from the records when the ledger is next used", b.index.err)
	case b.index.segment > b.chain.newest:
		b.damage(name, 0, "is of segment %d, which is not there: the chain was cut off", b.index.segment)
	case b.named == "" && b.clean():
		b.damage(name, 0, "is of segment %d, which is not there", b.index.segment)
	case b.named != "" && b.named != b.index.hash:
		b.damage(name, 0, "has the hash %s, the header of segment %d names %s: forged or damaged; it is not believed, and made anew from the records when the ledger is next used", b.index.hash, b.index.segment, b.named)
	}
}

// checkHeads looks for the lines that printed heads name.
func (b *benchVerification) checkHeads() {
	for _, h := range b.heads {
		if h.Bench != b.chain.bench {
			continue
		}
		l, read := b.headAt[h.Seq]
		switch {
		case !read && b.last.seq < h.Seq:
			b.damage(b.chain.bench, 0, "ends at number %d: the records up to number %d, whose head was printed, were cut off, or the head was mistyped", b.last.seq, h.Seq)
			b.report.Denied++
		case !read:
			b.damage(b.chain.bench, 0, "number %d, whose head was printed, cannot be read", h.Seq)
		case !strings.HasPrefix(l.hash.String(), h.Hash):
			b.damage(b.file(l.at.Segment), l.number, "hash %s, printed was %s: the chain was written anew, or the head was mistyped", l.hash, h.Hash)
			b.report.Denied++
		default:
			b.report.Proven = max(b.report.Proven, h.Seq)
		}
	}
}

// drafts lists what was opened and not closed, and checks the drafts of this bench against the records that opened
// them. Another process may open and close while it looks.
func (v *verification) drafts() error {
	opt := Options{fsys: v.fsys}.withDefaults()
	l := &Ledger{dir: v.dir, opt: opt, own: v.own, chains: map[string]*chain{}}
	if v.own == "" || len(v.report.Benches) == 0 || !slices.ContainsFunc(v.report.Benches, func(b BenchReport) bool { return b.Own }) {
		l.own = ""
	}
	if _, err := l.view(); err != nil {
		return nil // what keeps it from reading on has been named
	}
	for _, bench := range slices.Sorted(maps.Keys(l.chains)) {
		for _, id := range slices.Sorted(maps.Keys(l.chains[bench].heads.open)) {
			v.openDraft(l, bench, id)
		}
	}
	strays, err := l.strays()
	if err != nil {
		return err
	}
	for _, s := range strays {
		switch s.fate {
		case draftClosed:
			v.report.Void = append(v.report.Void, Damage{Segment: s.file, What: "closed; its deletion was cut off"})
		case draftUnbegun:
			v.report.Void = append(v.report.Void, Damage{Segment: s.file, What: "never begun: its opening was cut off"})
		case draftOpen: // closed in vain: it goes on
			if f, _, err := l.readOpen(s.id); err == nil {
				v.report.Damage = append(v.report.Damage, f.content.Damage...)
			}
		case draftUnknown:
			v.damage(s.file, 0, "a draft of which the record that opened it, or closed it, cannot be read")
		default:
			v.damage(s.file, 0, "a draft that no record of this bench opened")
		}
	}
	return nil
}

func (v *verification) openDraft(l *Ledger, bench, id string) {
	c := l.chains[bench]
	line, err := readLine(c.fsys, c.dir, c.heads.open[id])
	if err != nil {
		return // named already
	}
	draft := OpenDraft{Opened: c.record(line)}
	if bench == l.own {
		f, _, err := l.readOpen(id)
		if errors.Is(err, fs.ErrNotExist) { // or closed meanwhile
			if _, err := l.view(); err != nil {
				return
			}
			if at, open := c.heads.open[id]; !open || at != line.at {
				return
			}
			if _, err := readFrom(l.opt.fsys, l.draftPath(id), 0, 0); errors.Is(err, fs.ErrNotExist) {
				draft.Gone = true
				v.damage(draftFileName(id), 0, "gone: number %d of this bench opened it, and no record closed it", line.seq)
			}
		} else if err != nil {
			v.damage(draftFileName(id), 0, "%v", err)
		}
		draft.Lines = len(f.content.Lines)
		v.report.Void = append(v.report.Void, f.content.Torn...)
		for _, d := range f.content.Damage {
			d.Subject = line.Subject
			v.report.Damage = append(v.report.Damage, d)
		}
	}
	v.report.Open = append(v.report.Open, draft)
}
