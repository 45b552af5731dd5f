package ledger

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
)

// VerifyReport is what Verify found.
type VerifyReport struct {
	Benches []BenchReport
	Records int      // that read as they were written, of all benches
	Void    []Damage // bytes that the ledger itself declares void, since their write was cut off or failed
	Damage  []Damage
}

// BenchReport is one bench in a VerifyReport.
type BenchReport struct {
	Bench    string
	Label    string // the bench's name in its newest segment
	Segments int
	Records  int
	Head     Head // the last line that can be read
}

// Verify reads a whole ledger and checks every line by itself, every line against the one before, every
// segment against the header of the next, and what else the folder holds. Nothing is written.
//
// A change of any byte is found, as is a cut. What is not found by looking at the ledger alone is a chain
// that was cut off at the end of a line, or written anew: for that, give a head that was printed earlier.
// An empty head is not checked. Progress, unless nil, is told how many bytes of the segments are done.
func Verify(dir, head string, progress func(done, total int64)) (VerifyReport, error) {
	return verify(disk{}, dir, head, progress)
}

func verify(fsys fileSystem, dir, head string, progress func(done, total int64)) (VerifyReport, error) {
	v := verification{fsys: fsys, dir: dir, progress: progress}
	if head != "" {
		var err error
		if v.head, err = ParseHead(head); err != nil {
			return VerifyReport{}, err
		}
	}
	if err := v.run(); err != nil {
		return VerifyReport{}, fmt.Errorf("verifying ledger %q: %w", dir, err)
	}
	return v.report, nil
}

type verification struct {
	fsys        fileSystem
	dir         string
	head        Head
	headBench   bool // the head's bench is in the ledger
	progress    func(done, total int64)
	done, total int64
	report      VerifyReport
}

func (v *verification) damage(file string, line int, format string, args ...any) {
	v.report.Damage = append(v.report.Damage, Damage{file, line, fmt.Sprintf(format, args...)})
}

func (v *verification) run() error {
	chains, err := v.snapshot()
	if err != nil {
		return err
	}
	v.verifyBenchFile(len(chains) > 0)
	for _, c := range chains {
		if err := v.verifyBench(c); err != nil {
			return err
		}
	}
	if v.head.Bench != "" && !v.headBench {
		v.damage(v.head.Bench, 0, "the bench of head %s is not in the ledger", v.head)
	}
	return v.verifyDrafts()
}

// snapshot notes where each chain ends, under the lock where there is one so that no write is seen half.
func (v *verification) snapshot() ([]*chain, error) {
	lock := filepath.Join(v.dir, lockName)
	if _, err := readFrom(v.fsys, lock, 0, 0); err == nil {
		unlock, err := waitForLock(v.fsys, lock, patience)
		if err == nil {
			defer unlock.Close()
		}
	}
	benches, err := listBenches(v.fsys, v.dir)
	if err != nil {
		return nil, err
	}
	var chains []*chain
	for _, bench := range benches {
		c := openChain(v.fsys, v.dir, bench)
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

func (v *verification) verifyBenchFile(wanted bool) {
	data, err := readFrom(v.fsys, filepath.Join(v.dir, benchName), 0, MaxLine)
	if errors.Is(err, fs.ErrNotExist) && !wanted {
		return
	}
	if err == nil {
		_, err = parseBench(data)
	}
	if err != nil {
		v.damage(benchName, 1, "%v", err)
	}
}

func (v *verification) verifyDrafts() error {
	names, err := listDrafts(v.fsys, v.dir)
	if err != nil {
		return err
	}
	for _, name := range names {
		data, err := readFrom(v.fsys, filepath.Join(v.dir, filepath.FromSlash(name)), 0, maxDraft)
		if err != nil {
			return err
		}
		d := readDraft(name, data)
		v.report.Void = append(v.report.Void, d.content.Torn...)
		v.report.Damage = append(v.report.Damage, d.content.Damage...)
	}
	return nil
}

// verifyBench checks one chain and what lies beside it.
func (v *verification) verifyBench(c *chain) error {
	b := newBenchVerification(v, c)
	if err := c.segments(0, b.segment); err != nil {
		return err
	}
	if _, _, err := readHeads(c.fsys, c.dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		v.damage(c.bench+"/"+headsName, 0, "%v", err)
	}
	if _, err := parseFault(readFrom(c.fsys, filepath.Join(c.dir, faultName), 0, MaxLine)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		v.damage(c.bench+"/"+faultName, 1, "%v", err)
	}
	b.checkHead()
	b.report.Head = Head{c.bench, b.last.seq, b.last.hash.String()}
	v.report.Records += b.report.Records
	v.report.Benches = append(v.report.Benches, b.report)
	return nil
}

// benchVerification follows one chain.
type benchVerification struct {
	*verification
	chain  *chain
	report BenchReport

	last     line // the last good line
	known    bool // the line before the next one is last, or there is none before
	segments []segmentFacts
	headLine line     // the line with the head's number
	found    int      // places damaged before this chain
	sound    position // behind the last line before the first damage
}

// segmentFacts is what the next segment's header must say.
type segmentFacts struct {
	first   uint64
	length  int64
	hash    digest
	damaged bool
}

func newBenchVerification(v *verification, c *chain) *benchVerification {
	found := len(v.report.Damage)
	return &benchVerification{verification: v, chain: c, report: BenchReport{Bench: c.bench}, known: true, found: found}
}

func (b *benchVerification) file(first uint64) string { return b.chain.segmentFile(first) }

// segment checks the lines of the next segment.
func (b *benchVerification) segment(s segment) error {
	before := len(b.verification.report.Damage)
	b.report.Segments++
	if len(s.data) == 0 {
		b.damage(b.file(s.first), 0, "holds no line")
		b.known = false
	}
	if s.void > 0 {
		b.verification.report.Void = append(b.verification.report.Void, Damage{b.file(s.first), 0,
			fmt.Sprintf("%d bytes from byte %d on are void: their write was cut off or failed", s.void, len(s.data))})
	}
	if err := s.lines(b.line); err != nil {
		return err
	}
	damaged := len(b.verification.report.Damage) > before
	b.segments = append(b.segments, segmentFacts{s.first, int64(len(s.data)), sha256.Sum256(s.data), damaged})
	b.done += int64(len(s.data) + s.void)
	if b.progress != nil {
		b.progress(b.done, b.total)
	}
	return nil
}

// line checks the next line.
func (b *benchVerification) line(l line, err error) error {
	if err != nil {
		b.damage(b.file(l.at.Segment), l.number, "%v", err)
		b.known = false
		return nil
	}
	switch {
	case (l.kind == kindSegment) != (l.number == 1):
		b.damage(b.file(l.at.Segment), l.number, "a segment's header, kind %q, must be its first line and no other", kindSegment)
	case l.kind == kindSegment:
		b.header(l)
	default:
		b.report.Records++
	}
	b.follows(l)
	if l.seq == b.head.Seq {
		b.headLine = l
	}
	b.last, b.known = l, true
	if len(b.verification.report.Damage) == b.found {
		b.sound = position{l.at.Segment, l.end}
	}
	return nil
}

// follows checks a line's number and the hash of the line before it.
func (b *benchVerification) follows(l line) {
	switch {
	case l.seq <= b.last.seq || b.known && l.seq != b.last.seq+1:
		b.damage(b.file(l.at.Segment), l.number, "number %d follows %d: lines are missing, repeated or moved", l.seq, b.last.seq)
	case b.known && l.previous != b.last.hash:
		b.damage(b.file(l.at.Segment), l.number, "hash of the line before is %s, want %s: it was replaced", b.last.hash, l.previous)
	}
}

// header checks a segment's header against its name and the segments before.
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

// checkHead looks for the line that a printed head names.
func (b *benchVerification) checkHead() {
	if b.head.Bench != b.chain.bench {
		return
	}
	b.headBench = true
	switch {
	case b.headLine.seq != b.head.Seq && b.last.seq < b.head.Seq:
		b.damage(b.chain.bench, 0, "ends at number %d: the records up to number %d, whose head was printed, were cut off", b.last.seq, b.head.Seq)
	case b.headLine.seq != b.head.Seq:
		b.damage(b.chain.bench, 0, "number %d, whose head was printed, cannot be read", b.head.Seq)
	case !strings.HasPrefix(b.headLine.hash.String(), b.head.Hash):
		b.damage(b.file(b.headLine.at.Segment), b.headLine.number, "hash %s, printed was %s: the chain was written anew", b.headLine.hash, b.head.Hash)
	}
}
