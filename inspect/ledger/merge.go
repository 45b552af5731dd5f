package ledger

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"slices"
)

// MergeOptions says how a ledger is merged.
type MergeOptions struct {
	DryRun bool               // only say what would come
	Check  func(Record) error // says what keeps a record from being understood; nil takes all
}

// MergeReport is what Merge did, or would do.
type MergeReport struct {
	Benches     []MergedBench
	Forks       []Fork
	DamageThere []Damage // in the ledger merged in; of that bench what stands before the damage was merged
	DamageHere  []Damage // where a line here is damaged; of that bench nothing was merged from there on
	Fenced      []Damage // records that came and cannot be understood, with whose they are
}

// Short says whether something did not come, or cannot be understood.
func (m MergeReport) Short() bool {
	return len(m.Forks)+len(m.DamageThere)+len(m.DamageHere)+len(m.Fenced) > 0
}

// MergedBench is one bench of the ledger that was merged in.
type MergedBench struct {
	Bench   string
	Label   string
	Records int            // that were new
	Kinds   map[string]int // of those, by kind
	First   Time           // of those: when the first was made, by that bench's clock
	Last    Time
	Own     bool // it is this bench: nothing is taken of it
	Ahead   int  // of this bench: records that are there and not here
}

// Fork is a place where two ledgers hold different lines with one number of one bench: a card was copied
// and both copies were written to. Nothing is merged of a bench from its fork on.
type Fork struct {
	Bench   string
	Seq     uint64
	Segment string // the file, as a slash-separated path in this ledger's folder
	Line    int
}

func (f Fork) String() string {
	return fmt.Sprintf("%s:%d: fork: number %d of bench %s is not the same in both ledgers", f.Segment, f.Line, f.Seq, f.Bench)
}

// furthestCounter is how much more than all counters known one may be for a bench to be believed: no bench makes so
// many records, and a bench that forged one could use the counter up.
const furthestCounter = 1 << 40

// Merge copies the chains of the ledger in a folder into this one, bench by bench, as far as they verify. What is there
// already is compared; merging again changes nothing. This bench's own chain is never extended. A chain comes as it
// is or not at all, so a record that cannot be understood comes with it, and is named. Drafts are not copied. The lock
// is only held while a segment is written.
func (l *Ledger) Merge(from string, opt MergeOptions) (MergeReport, error) {
	m := merging{ledger: l, opt: opt, source: verification{fsys: l.opt.fsys, dir: from, hashes: map[string][]uint64{}, indexes: map[string]index{}}}
	if err := m.run(); err != nil {
		return MergeReport{}, fmt.Errorf("merging ledger %q into %q: %w", from, l.dir, err)
	}
	return m.report, nil
}

type merging struct {
	ledger  *Ledger
	opt     MergeOptions
	source  verification
	counter uint64 // the most that is known
	report  MergeReport
}

func (m *merging) run() error {
	if m.ledger.ownError != nil {
		return m.ledger.ownError
	}
	from, err := m.source.snapshot()
	if err != nil {
		return err
	}
	if len(from) == 0 {
		return errors.New("no bench's chain there")
	}
	m.ledger.mu.Lock()
	chains, err := m.ledger.view()
	for _, c := range chains {
		m.counter = max(m.counter, c.tail.counter)
	}
	m.ledger.mu.Unlock()
	if err != nil {
		return err
	}
	for _, c := range from {
		if err := m.bench(c); err != nil {
			return err
		}
	}
	m.report.DamageThere = m.source.report.Damage
	return nil
}

// bench merges one bench's chain.
func (m *merging) bench(from *chain) error {
	b := newBenchVerification(&m.source, from)
	from.end = position{from.newest, from.size}
	counter := m.counter
	check := func(s segment) error {
		before := len(m.source.report.Damage)
		if err := b.segment(s); err != nil || len(m.source.report.Damage) > before {
			return err
		}
		return s.lines(func(l line, err error) error {
			if err == nil && l.counter > counter+furthestCounter && b.clean() {
				b.damage(b.file(l.at.Segment), l.number, "counter %d, where the most known is %d: no bench makes so many records", l.counter, counter)
				b.sound = position{l.at.Segment, l.at.Offset}
			}
			counter = max(counter, l.counter)
			return nil
		})
	}
	if err := from.segments(0, check); err != nil {
		return err
	}
	if b.torn { // it is being written, or was cut off: it is no part of the chain yet
		m.source.report.Damage = m.source.report.Damage[:len(m.source.report.Damage)-1]
	}
	m.counter = counter
	merged := MergedBench{Bench: from.bench, Label: b.report.Label, Kinds: map[string]int{}, Own: from.bench == m.ledger.own}
	to := openChain(m.ledger.opt.fsys, m.ledger.dir, from.bench)
	err := from.segments(0, func(s segment) error {
		if s.first > b.sound.Segment {
			return fs.SkipAll
		}
		if s.first == b.sound.Segment {
			s.cut(b.sound.Offset)
			s.last = true
		}
		return m.segment(to, s, &merged)
	})
	if err != nil && err != fs.SkipAll {
		return err
	}
	m.report.Benches = append(m.report.Benches, merged)
	return nil
}

// segment brings one verified segment into a chain. It returns SkipAll where the two differ.
func (m *merging) segment(to *chain, s segment, merged *MergedBench) error {
	if !m.opt.DryRun && !merged.Own {
		end, err := m.ledger.begin()
		if err != nil {
			return err
		}
		defer end()
	}
	firsts, err := to.look()
	if err != nil {
		return err
	}
	var here segment
	i := slices.Index(firsts, s.first)
	if i >= 0 {
		if here, err = readSegment(nil, to.fsys, to.dir, firsts, i); err != nil {
			return err
		}
	}
	same := commonLines(s.data, here.data)
	switch {
	case same == len(here.data) && same == len(s.data):
		return nil
	case same == len(here.data) && (i < 0 || here.last && here.void == 0):
	case same == len(s.data) && s.last:
		return fs.SkipAll // this ledger holds more
	default:
		m.differ(to, s, here, same)
		return fs.SkipAll
	}
	fenced, err := m.count(to, s, same, merged)
	if err != nil || m.opt.DryRun || merged.Own {
		return err
	}
	if err := makeFolder(to.fsys, to.dir); err != nil {
		return err
	}
	m.report.Fenced = append(m.report.Fenced, fenced...)
	return putFile(to.fsys, to.segmentPath(s.first), s.data)
}

// count adds up what the lines of a segment from a byte on bring, and names the records that cannot be understood.
func (m *merging) count(to *chain, s segment, from int, merged *MergedBench) (fenced []Damage, err error) {
	number := bytes.Count(s.data[:from], []byte("\n"))
	s.data = s.data[from:]
	err = s.lines(func(l line, err error) error {
		number++
		if err != nil || l.kind == kindSegment {
			return nil
		}
		if merged.Own {
			merged.Ahead++
			return nil
		}
		r := to.record(l)
		cause := l.understood()
		if cause == nil && m.opt.Check != nil {
			cause = m.opt.Check(r)
		}
		if cause != nil {
			fenced = append(fenced, Damage{Segment: to.segmentFile(s.first), Line: number, Subject: l.Subject, What: fmt.Sprintf("%s: cannot be understood: %v", l.kind, cause)})
		}
		if merged.Records++; merged.Records == 1 {
			merged.First = r.Time
		}
		merged.Last = r.Time
		merged.Kinds[l.kind]++
		return nil
	})
	if m.opt.DryRun {
		m.report.Fenced = append(m.report.Fenced, fenced...)
	}
	return fenced, err
}

// understood checks what the ledger itself knows of a body.
func (l line) understood() error {
	if !IsCompactJSON(l.body) {
		return errors.New("not JSON")
	}
	return nil
}

// differ reports why two segments go apart behind their first same bytes: a fork, or damage here.
func (m *merging) differ(to *chain, s, here segment, same int) {
	number := bytes.Count(s.data[:same], []byte("\n")) + 1
	name := to.segmentFile(s.first)
	rest := here.data[same:]
	text, _, whole := bytes.Cut(rest, []byte("\n"))
	l, err := parseLine(text)
	switch {
	case len(rest) == 0:
		theirs, _, _ := bytes.Cut(s.data[same:], []byte("\n"))
		l, _ = parseLine(theirs)
	case err != nil || !whole:
		m.report.DamageHere = append(m.report.DamageHere, Damage{Segment: name, Line: number, What: fmt.Sprintf("differs from the ledger merged in: %v", err)})
		return
	}
	m.report.Forks = append(m.report.Forks, Fork{to.bench, l.seq, name, number})
}

// commonLines returns how many bytes of whole lines two segments begin with alike.
func commonLines(a, b []byte) int {
	n := 0
	for n < len(a) && n < len(b) {
		line := a[n : n+bytes.IndexByte(a[n:], '\n')+1]
		if len(line) == 0 || !bytes.HasPrefix(b[n:], line) {
			break
		}
		n += len(line)
	}
	return n
}
