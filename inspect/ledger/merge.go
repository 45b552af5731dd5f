package ledger

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"slices"
)

// MergeReport is what Merge did.
type MergeReport struct {
	Benches []MergedBench
	Forks   []Fork

	DamageThere []Damage // in the ledger merged in; of that bench what stands before the damage was merged
	DamageHere  []Damage // where a line here is damaged; of that bench nothing was merged from there on
}

// MergedBench is one bench of the ledger that was merged in.
type MergedBench struct {
	Bench   string
	Label   string
	Records int // that were new
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

// Merge copies the chains of the ledger in a folder into this one, bench by bench, as far as they verify.
// What is there already is compared; merging again changes nothing. Drafts are not copied.
func (l *Ledger) Merge(from string) (MergeReport, error) {
	unlock, err := l.begin()
	if err != nil {
		return MergeReport{}, fmt.Errorf("merging ledger %q into %q: %w", from, l.dir, err)
	}
	defer unlock()
	l.mu.Lock()
	defer l.mu.Unlock()
	m := merging{ledger: l, source: verification{fsys: l.opt.fsys, dir: from}}
	if err := m.run(); err != nil {
		return MergeReport{}, fmt.Errorf("merging ledger %q into %q: %w", from, l.dir, err)
	}
	return m.report, nil
}

type merging struct {
	ledger *Ledger
	source verification
	report MergeReport
}

func (m *merging) run() error {
	chains, err := m.source.snapshot()
	if err != nil {
		return err
	}
	if len(chains) == 0 {
		return errors.New("no bench's chain there")
	}
	for _, c := range chains {
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
	if err := from.segments(0, b.segment); err != nil {
		return err
	}
	to := m.ledger.chain(from.bench)
	if err := makeFolder(to.fsys, to.dir); err != nil {
		return err
	}
	merged := MergedBench{Bench: from.bench, Label: b.report.Label}
	err := from.segments(0, func(s segment) error {
		if s.first > b.sound.Segment {
			return fs.SkipAll
		}
		if s.first == b.sound.Segment {
			s.cut(b.sound.Offset)
			s.last = true
		}
		records, err := m.segment(to, s)
		merged.Records += records
		return err
	})
	if err != nil && err != fs.SkipAll {
		return err
	}
	m.report.Benches = append(m.report.Benches, merged)
	if err := to.refresh(); err != nil {
		return err
	}
	to.saveHeads()
	return nil
}

// segment brings one verified segment into a chain, and returns how many records were new. It returns
// SkipAll where the two differ.
func (m *merging) segment(to *chain, s segment) (records int, err error) {
	firsts, err := to.look()
	if err != nil {
		return 0, err
	}
	var here segment
	i := slices.Index(firsts, s.first)
	if i >= 0 {
		if here, err = to.segment(firsts, i, 0); err != nil {
			return 0, err
		}
	}
	same := commonLines(s.data, here.data)
	switch {
	case same == len(here.data) && same == len(s.data):
		return 0, nil
	case same == len(here.data) && (i < 0 || here.last && here.void == 0):
		return countRecords(s, same), putFile(to.fsys, to.segmentPath(s.first), s.data)
	case same == len(s.data) && s.last:
		return 0, fs.SkipAll // this ledger holds more
	}
	m.differ(to, s, here, same)
	return 0, fs.SkipAll
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
		l, _ = parseLine(firstLine(s.data[same:]))
	case err != nil || !whole:
		m.report.DamageHere = append(m.report.DamageHere, Damage{name, number, fmt.Sprintf("differs from the ledger merged in: %v", err)})
		return
	}
	m.report.Forks = append(m.report.Forks, Fork{to.bench, l.seq, name, number})
}

func firstLine(data []byte) []byte {
	text, _, _ := bytes.Cut(data, []byte("\n"))
	return text
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

func countRecords(s segment, from int) int {
	s.data = s.data[from:]
	records := 0
	s.lines(func(l line, err error) error {
		if err == nil && l.kind != kindSegment {
			records++
		}
		return nil
	})
	return records
}
