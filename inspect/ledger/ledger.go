// Package ledger is the append-only record of a bench: kinds and bytes, nothing of what they mean. A
// record is on the medium before it is acknowledged, nothing is ever changed or cut off, and every line
// names the hash of the line before it, so that the last hash, printed on paper, holds the whole ledger
// to its word.
//
// A ledger is one folder, safe to copy and readable with a text editor and a SHA-256 program:
//
//	bench                    the id of the bench that writes here
//	lock                     held while a record is appended
//	open/<draft>.jsonl       readings of an inspection that is not closed yet
//	<bench id>/<seq>.jsonl   the chain of a bench in segments: the own one and those merged in
//	<bench id>/heads.json    the last record of each subject, rebuilt when missing or damaged
//	<bench id>/fault         where a write failed, until the next segment says so
//	elsewhere/               what a register has told of what other benches recorded
//	forked/<bench id>/       a ledger's folder of a chain that this bench goes on in place of
//
// The chain carries no key: who holds the folder can write it anew from the first line. That cannot be
// found from the folder, only with a head (bench, number and hash of a line) that was printed before; see
// Verify.
package ledger

import (
	"bytes"
	"cmp"
	"crypto/rand"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode/utf8"
)

// ErrLocked says that another process holds the ledger or the draft.
var ErrLocked = errors.New("in use by another process")

// patience is how long Append waits for another process to finish its own, and notice after how long it says so.
const (
	patience = 5 * time.Second
	notice   = time.Second
)

// kindClock is the kind of the record that the ledger itself adds once the wall clock is synchronised.
const kindClock = "clock"

// maxBody is the most bytes of a body: a line less the most that its other parts can have.
const maxBody = MaxLine - 6*maxText - 2048

// Options says how a ledger is opened; the zero value does.
type Options struct {
	Bench string      // the bench's name, a label for people
	Clock func() Time // nil: the machine's clocks

	// Holder is what other processes say of this one while they wait for it: "flutelog page". Waiting is called when
	// this one has waited for a second, with what is known of the one it waits for.
	Holder  string
	Waiting func(holder string)

	// Allow is asked before anything is recorded, with the end of the own chain; what it returns is why nothing is. Recorded
	// is called when something was: it must not wait, nor use the ledger.
	Allow    func(own Head) error
	Recorded func()

	fsys        fileSystem // nil: the disk
	segmentSize int64      // 0: segmentSize
	patience    time.Duration
}

// Ledger is an open ledger. It may be used by several goroutines, and its folder by several processes.
type Ledger struct {
	dir string
	opt Options

	turn sync.Mutex // held by the goroutine that appends, before the lock of the folder

	mu       sync.Mutex // guards what follows
	own      string     // the id of this bench
	ownError error      // why that is not known
	chains   map[string]*chain
}

// Entry is what a caller records.
type Entry struct {
	Kind    string          // lower-case letters and "-": "summary"
	Subject string          // what its history is asked by: "tool:EM-0412"; may be empty
	Body    json.RawMessage // any JSON; spaces outside strings are not kept

	// About names the record that this one is about, of any bench. AboutBack n > 0 says instead that it is the
	// record n places before in the same append.
	About     *Ref
	AboutBack int

	opens    string
	closes   *closing
	reserved bool // of a kind that is the ledger's own
}

// Ref names one record, of any bench. Ids are for people; a record that is about another names it so.
type Ref struct {
	Bench string `json:"bench"`
	Seq   uint64 `json:"seq"`
	Hash  string `json:"sha256"` // 64 hex digits
}

// Record is one entry as it stands in the ledger.
type Record struct {
	Bench   string // id of the bench that wrote it
	Seq     uint64 // its number in that bench's chain
	Counter uint64 // more than that of every record, of whatever bench, that the writer could have seen
	Kind    string
	Subject string
	Time    Time
	About   *Ref   // the record that it is about; nil when none
	Opens   string // the draft that began with it
	Closes  string // the draft that ended with it
	Body    json.RawMessage
	Hash    string // SHA-256 of its line without the LF, in hex
	Segment string // its file, as a slash-separated path in the ledger's folder
	Offset  int64  // the byte in that file where its line starts
	Told    bool   // it is a register's word: no chain in this ledger holds it
	Named   string // of one that was told: what the register calls its bench; "" where it did not say
}

// At says in words at which bench a record was made.
func (r Record) At() string { return cmp.Or(r.Named, "bench "+r.Bench) }

// Ref returns the name of the record, for another one to be about it.
func (r Record) Ref() Ref { return Ref{r.Bench, r.Seq, r.Hash} }

// Head returns the head of its bench's chain when the record was its last.
func (r Record) Head() Head { return Head{r.Bench, r.Seq, r.Hash} }

// Compare says which of two records comes first: by counter, then bench, then number, and never by a clock. A
// record that was made with another in sight comes behind it, on whatever benches.
func Compare(a, b Record) int {
	return cmp.Or(cmp.Compare(a.Counter, b.Counter), strings.Compare(a.Bench, b.Bench), cmp.Compare(a.Seq, b.Seq))
}

// Head names the last line of a bench's chain. Printed on paper it proves later that nothing up to that
// line was changed or cut off.
type Head struct {
	Bench string
	Seq   uint64
	Hash  string // 64 hex digits
}

// String returns the head as it is printed: bench, number and hash, joined by "-".
func (h Head) String() string { return fmt.Sprintf("%s-%d-%s", h.Bench, h.Seq, h.Hash) }

// minHash is how many digits of a printed hash must be given: enough that no other line has them by
// chance. All 64 also withstand whoever chose the lines.
const minHash = 16

// ParseHead reads what String prints, in any case. The hash may be cut to its first 16 or more digits.
func ParseHead(s string) (Head, error) {
	wrong := fmt.Errorf("head %q: want bench-number-hash as printed, with at least %d digits of the hash", s, minHash)
	parts := strings.Split(s, "-")
	if len(parts) == 3 {
		parts[0], parts[2] = strings.ToLower(parts[0]), strings.ToLower(parts[2])
	}
	if len(parts) != 3 || !benchPattern.MatchString(parts[0]) {
		return Head{}, wrong
	}
	seq, err := strconv.ParseUint(parts[1], 10, 64)
	if err != nil || seq == 0 || len(parts[2]) < minHash || len(parts[2]) > 64 || !madeOf(parts[2], digits+"abcdef") {
		return Head{}, wrong
	}
	return Head{parts[0], seq, parts[2]}, nil
}

// Damage is a place in a ledger that does not read as it was written.
type Damage struct {
	Segment string // the file, as a slash-separated path in the ledger's folder
	Line    int    // from 1; 0 for the file as a whole
	What    string
	Subject string // whose record it was; "" where that cannot be told
}

func (d Damage) String() string {
	if d.Line == 0 {
		return d.Segment + ": " + d.What
	}
	return fmt.Sprintf("%s:%d: %s", d.Segment, d.Line, d.What)
}

// DamageError says that all records that can be read were given, and what could not be read.
type DamageError struct{ Damage []Damage }

func (e *DamageError) Error() string {
	places := "a place"
	if len(e.Damage) > 1 {
		places = fmt.Sprintf("%d places, first", len(e.Damage))
	}
	return fmt.Sprintf("the ledger is damaged in %s %s; all else was read; \"ledger mend\" says what can be done", places, e.Damage[0])
}

// Open opens the ledger in a folder. On first use it makes the folder and an id for the bench. Drafts
// whose closing record is in the chain already are deleted. A folder that cannot be written to can still
// be read.
func Open(dir string, opt Options) (*Ledger, error) {
	l := &Ledger{dir: dir, opt: opt.withDefaults(), chains: map[string]*chain{}}
	if err := checkSubject(opt.Bench); err != nil {
		return nil, fmt.Errorf("opening ledger %q: bench name: %w", dir, err)
	}
	if err := l.identify(); err != nil {
		return nil, fmt.Errorf("opening ledger %q: %w", dir, err)
	}
	l.tidy()
	return l, nil
}

// tidy finishes what a process that died has left undone, where no other process appends just now: drafts that are
// closed are deleted, and a chain that ends in a torn append gets a new segment, which makes that void.
func (l *Ledger) tidy() {
	if l.ownError != nil || !l.turn.TryLock() {
		return
	}
	defer l.turn.Unlock()
	unlock, err := l.opt.fsys.Lock(filepath.Join(l.dir, lockName), l.opt.Holder)
	if err != nil {
		return
	}
	defer unlock.Close()
	l.mu.Lock()
	defer l.mu.Unlock()
	chains, err := l.view()
	if err != nil {
		return
	}
	for _, c := range chains {
		c.saveHeads()
	}
	l.deleteClosed()
	if c := l.chain(l.own); c.torn() {
		l.append(nil, nil) // one that fails leaves it to the next
	}
}

func (o Options) withDefaults() Options {
	if o.Clock == nil {
		o.Clock = systemTime
	}
	if o.fsys == nil {
		o.fsys = disk{}
	}
	o.segmentSize = cmp.Or(o.segmentSize, segmentSize)
	o.patience = cmp.Or(o.patience, patience)
	return o
}

const benchName = "bench"

// identify reads this bench's id, or gives it one when the folder is new. A new bench's chain has its first segment
// before anything else says that there is one, so that a chain without any is one that is gone.
func (l *Ledger) identify() error {
	if begun, err := exists(l.opt.fsys, filepath.Join(l.dir, renewalName)); err == nil && begun {
		unlock, err := l.begin()
		if err != nil {
			return err
		}
		err = l.finishRenewal()
		unlock()
		if err != nil {
			return err
		}
	}
	err := l.readBench()
	if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := makeFolder(l.opt.fsys, l.dir); err != nil {
		return err
	}
	unlock, err := l.begin()
	if err != nil {
		return err
	}
	defer unlock()
	if err := l.readBench(); !errors.Is(err, fs.ErrNotExist) {
		return err // another process was first
	}
	benches, err := listBenches(l.opt.fsys, l.dir)
	if err != nil {
		return err
	}
	for _, bench := range benches {
		c := openChain(l.opt.fsys, l.dir, bench)
		if err := c.refresh(); err != nil || c.end != (position{}) && c.tail.seq != 1 {
			l.ownError = fmt.Errorf("%s is missing, which says that it is bench %s that writes here, or another: \"ledger mend\" asks which", filepath.Join(l.dir, benchName), strings.Join(benches, " or "))
			return nil
		}
		l.own = bench // begun, and cut off before there was anything in it
	}
	return l.newBench()
}

// newBench makes the chain of a bench that has none, under a new id unless there is one that was begun.
func (l *Ledger) newBench() error {
	if l.own == "" {
		l.own = newID()
	}
	for _, name := range []string{draftsName, l.own} {
		if err := makeFolder(l.opt.fsys, filepath.Join(l.dir, name)); err != nil {
			return err
		}
	}
	c := l.chain(l.own)
	if err := c.refresh(); err != nil {
		return err
	}
	if c.newest == 0 {
		if _, err := c.append(nil, 0, l.opt.Clock().rounded(), l.opt.Bench, l.opt.segmentSize, nil); err != nil {
			return err
		}
	}
	return putFile(l.opt.fsys, filepath.Join(l.dir, benchName), withCheck([]byte(l.own)))
}

// newID returns an id for a bench. A letter comes first, so that no spreadsheet takes it for a number.
func newID() string {
	var random [8]byte
	rand.Read(random[:]) // never fails
	random[0] = 0xa0 + random[0]%0x60
	return hex.EncodeToString(random[:])
}

// readBench reads this bench's id. A file that is damaged keeps nobody from reading the ledger, so what is
// wrong with it is kept for the first Append.
func (l *Ledger) readBench() error {
	data, err := readFrom(l.opt.fsys, filepath.Join(l.dir, benchName), 0, MaxLine)
	if err != nil {
		return err
	}
	if l.own, err = parseBench(data); err != nil {
		l.ownError = fmt.Errorf("%s: %w; \"ledger mend\" asks which bench it is", filepath.Join(l.dir, benchName), err)
	}
	return nil
}

func parseBench(data []byte) (string, error) {
	text, whole := bytes.CutSuffix(data, []byte("\n"))
	id, err := checked(text)
	switch {
	case err != nil:
		return "", err
	case !whole || !benchPattern.Match(id):
		return "", fmt.Errorf("bench id %q: want one of a to f, 15 hex digits, and the end of the line", id)
	}
	return string(id), nil
}

// makeFolder makes a folder, and those it stands in, unless it is there.
func makeFolder(fsys fileSystem, dir string) error {
	err := fsys.Mkdir(dir)
	if errors.Is(err, fs.ErrNotExist) && filepath.Dir(dir) != dir {
		if err := makeFolder(fsys, filepath.Dir(dir)); err != nil {
			return err
		}
		err = fsys.Mkdir(dir)
	}
	if err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return fsys.SyncDir(filepath.Dir(dir))
}

const lockName = "lock"

// lockSize is the most bytes of the lock's file, which says who holds it.
const lockSize = 120

// view brings all chains up to date and returns them sorted by bench. It needs no lock: what is half written
// does not count. The caller holds mu.
func (l *Ledger) view() ([]*chain, error) {
	benches, err := listBenches(l.opt.fsys, l.dir)
	if err != nil {
		return nil, err
	}
	for _, bench := range benches {
		c := l.chain(bench)
		if err := c.refresh(); err != nil {
			return nil, fmt.Errorf("bench %s: %w", c.bench, err)
		}
	}
	if l.own != "" && l.chain(l.own).newest == 0 {
		return nil, fmt.Errorf("the records of this bench, %s, are gone: put back a copy of the folder %s; \"ledger mend\" says what else can be done", l.own, filepath.Join(l.dir, l.own))
	}
	return slices.SortedFunc(maps.Values(l.chains), func(a, b *chain) int { return cmp.Compare(a.bench, b.bench) }), nil
}

// snapshot returns the chains as they are now, to be read without holding mu.
func (l *Ledger) snapshot() ([]chain, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	all, err := l.view()
	if err != nil {
		return nil, err
	}
	var chains []chain
	for _, c := range all {
		c := *c
		c.heads.recent = maps.Clone(c.heads.recent)
		c.heads.open = maps.Clone(c.heads.open)
		chains = append(chains, c)
	}
	return chains, nil
}

// Benches returns the benches whose records the ledger has, its own among them.
func (l *Ledger) Benches() ([]string, error) {
	chains, err := l.snapshot()
	if err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	var benches []string
	for _, c := range chains {
		if c.tail.seq > 0 {
			benches = append(benches, c.bench)
		}
	}
	return benches, nil
}

// listBenches returns the benches that have a chain in a ledger.
func listBenches(fsys fileSystem, dir string) ([]string, error) {
	entries, err := fsys.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var benches []string
	for _, e := range entries {
		if !benchPattern.MatchString(e.Name()) {
			continue
		}
		if !e.IsDir() {
			return nil, fmt.Errorf("%s: %s, where a folder of a ledger must be", e.Name(), typeOf(e.Type()))
		}
		benches = append(benches, e.Name())
	}
	return benches, nil
}

func (l *Ledger) chain(bench string) *chain {
	if l.chains[bench] == nil {
		l.chains[bench] = openChain(l.opt.fsys, l.dir, bench)
	}
	return l.chains[bench]
}

// Append records entries in this bench's chain, in order, and returns their records once they are on the
// medium. Readers see all of them or none. After an error none of them is acknowledged: they may still stand
// in the chain, all of them, as a power cut may leave them.
func (l *Ledger) Append(entries ...Entry) ([]Record, error) {
	return l.Decide(nil, func() ([]Entry, error) { return entries, nil })
}

// Decide calls decide and appends the entries that it returns, all while no other process or goroutine can
// append, so that what decide reads in the ledger is the newest there is. The subjects are those that it
// decides from: each must read without damage, or nothing is decided. An error of decide is returned as
// it is, and nothing is appended; nor is it where decide returns no entries. Decide must not append itself.
func (l *Ledger) Decide(subjects []string, decide func() ([]Entry, error)) ([]Record, error) {
	unlock, err := l.begin()
	if err != nil {
		return nil, fmt.Errorf("recording in ledger %q: %w", l.dir, err)
	}
	defer unlock()
	for _, subject := range subjects {
		for _, err := range l.History(subject) {
			if err != nil {
				return nil, err
			}
		}
	}
	entries, err := decide()
	if err != nil || len(entries) == 0 {
		return nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	records, err := l.append(entries, nil)
	if err != nil {
		return nil, fmt.Errorf("recording in ledger %q: %w", l.dir, err)
	}
	return records, nil
}

// begin waits for the turn to append, and returns what ends it.
func (l *Ledger) begin() (end func(), err error) { return l.wait(l.opt.patience) }

// alone is begin with mu held as well until the end, after so much patience.
func (l *Ledger) alone(patience time.Duration) (end func(), err error) {
	pass, err := l.wait(patience)
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	return func() {
		l.mu.Unlock()
		pass()
	}, nil
}

func (l *Ledger) wait(patience time.Duration) (end func(), err error) {
	l.turn.Lock()
	name := filepath.Join(l.dir, lockName)
	noticed := false
	for start := time.Now(); ; time.Sleep(2 * time.Millisecond) {
		unlock, err := l.opt.fsys.Lock(name, l.opt.Holder)
		if err == nil {
			l.mu.Lock()
			for _, c := range l.chains {
				c.list = true
			}
			l.mu.Unlock()
			return func() {
				unlock.Close()
				l.turn.Unlock()
			}, nil
		}
		held := errors.Is(err, errHeld)
		if waited := time.Since(start); held && waited > min(notice, patience) && !noticed {
			noticed = true
			if l.opt.Waiting != nil {
				l.opt.Waiting(l.holder())
			}
		} else if held && waited > patience {
			err = fmt.Errorf("%s: %w for %v: %s; end that, or wait for it, and do this again", name, ErrLocked, patience, l.holder())
			held = false
		}
		if !held {
			l.turn.Unlock()
			return nil, err
		}
	}
}

// holder returns what the lock's file says of who holds it.
func (l *Ledger) holder() string {
	data, err := readFrom(l.opt.fsys, filepath.Join(l.dir, lockName), 0, lockSize)
	text := strings.TrimSpace(string(data))
	if err != nil || text == "" || checkSubject(text) != nil {
		return "another process"
	}
	return text
}

// append records entries. The caller has the turn and holds mu. Before anything is written, before is given the lines
// that will be.
func (l *Ledger) append(entries []Entry, before func([]line) error) ([]Record, error) {
	if l.ownError != nil {
		return nil, l.ownError
	}
	if data, err := readFrom(l.opt.fsys, filepath.Join(l.dir, benchName), 0, MaxLine); err == nil {
		if own, err := parseBench(data); err == nil && own != l.own {
			return nil, fmt.Errorf("this ledger goes on as bench %s, and no more as %s: end this program and start it again", own, l.own)
		}
	}
	entries, err := checkEntries(entries)
	if err != nil {
		return nil, err
	}
	chains, err := l.view()
	if err != nil {
		return nil, err
	}
	var counter uint64
	for _, c := range chains {
		counter = max(counter, c.tail.counter)
	}
	told, err := l.toldCounter()
	if err != nil {
		return nil, err
	}
	counter = max(counter, told)
	c := l.chain(l.own)
	if l.opt.Allow != nil {
		if err := l.opt.Allow(Head{l.own, c.tail.seq, c.tail.hash.String()}); err != nil {
			return nil, err
		}
	}
	now := l.opt.Clock().rounded()
	own := 0 // entries of the ledger's own
	if set, ok := becameSynchronised(c.tail.time(), now); ok {
		body, err := json.Marshal(set)
		if err != nil {
			return nil, err
		}
		entries = slices.Insert(entries, 0, Entry{Kind: kindClock, Body: body})
		own = 1
	}
	lines, err := c.append(entries, counter, now, l.opt.Bench, l.opt.segmentSize, before)
	if err != nil {
		return nil, err
	}
	c.saveHeads()
	if l.opt.Recorded != nil {
		l.opt.Recorded()
	}
	var records []Record
	for _, line := range lines[own:] {
		records = append(records, c.record(line))
	}
	return records, nil
}

// checkEntries returns the entries as they will stand in the ledger.
func checkEntries(entries []Entry) ([]Entry, error) {
	var checked []Entry
	for i, e := range entries {
		if e.AboutBack < 0 || e.AboutBack > i || e.AboutBack > 0 && e.About != nil {
			return nil, fmt.Errorf("%s for %q: about the record %d places before, of %d in this append", e.Kind, e.Subject, e.AboutBack, i)
		}
		if e.About != nil {
			if err := e.About.check(); err != nil {
				return nil, fmt.Errorf("%s for %q: about %w", e.Kind, e.Subject, err)
			}
		}
		if err := checkKind(e.Kind); err != nil {
			return nil, err
		}
		if !e.reserved && slices.Contains([]string{kindSegment, kindClock, kindMend}, e.Kind) {
			return nil, fmt.Errorf("kind %q is the ledger's own", e.Kind)
		}
		if err := checkSubject(e.Subject); err != nil {
			return nil, fmt.Errorf("%s: subject %w", e.Kind, err)
		}
		var body bytes.Buffer
		if err := json.Compact(&body, e.Body); err != nil {
			return nil, fmt.Errorf("%s for %q: body: %w", e.Kind, e.Subject, err)
		}
		if e.Body = body.Bytes(); !utf8.Valid(e.Body) || !IsCompactJSON(e.Body) {
			return nil, fmt.Errorf("%s for %q: body: not UTF-8, or more than %d arrays in each other", e.Kind, e.Subject, maxDepth)
		}
		if len(e.Body) > maxBody {
			return nil, fmt.Errorf("%s for %q: %d bytes, at most %d; record it in parts", e.Kind, e.Subject, len(e.Body), maxBody)
		}
		checked = append(checked, e)
	}
	return checked, nil
}

func (c *chain) record(l line) Record {
	r := l.record(c.bench)
	r.Body, r.Segment, r.Offset = bytes.Clone(r.Body), c.segmentFile(l.at.Segment), l.at.Offset
	return r
}

// record returns the line of a bench as a record, without its place. The body shares memory with the line.
func (l line) record(bench string) Record {
	r := Record{Bench: bench, Seq: l.seq, Counter: l.counter, Kind: l.kind, Subject: l.Subject, Time: l.time(), About: l.About, Opens: l.Opens, Body: l.body}
	if l.hash != (digest{}) {
		r.Hash = l.hash.String()
	}
	if l.Closes != nil {
		r.Closes = l.Closes.Draft
	}
	return r
}

// segmentFile is how a segment is named to people.
func (c *chain) segmentFile(first uint64) string {
	if c.named.first != first || c.named.file == "" {
		c.named.first, c.named.file = first, c.bench+"/"+segmentName(first)
	}
	return c.named.file
}

// Head returns the last line of this bench's chain; its number is 0 before the first record.
func (l *Ledger) Head() (Head, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.ownError != nil {
		return Head{}, l.ownError
	}
	if _, err := l.view(); err != nil {
		return Head{}, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	tail := l.chain(l.own).tail
	return Head{l.own, tail.seq, tail.hash.String()}, nil
}

// ErrNoRecord says that the ledger holds no record of that name.
var ErrNoRecord = errors.New("no such record in the ledger")

// Dir returns the ledger's folder.
func (l *Ledger) Dir() string { return l.dir }

// Lookup returns the record that a Ref names, ErrNoRecord when there is none, or a DamageError when it cannot
// be read any more.
func (l *Ledger) Lookup(ref Ref) (Record, error) {
	wrong := fmt.Errorf("bench %s, number %d: %w", ref.Bench, ref.Seq, ErrNoRecord)
	if err := ref.check(); err != nil {
		return Record{}, err
	}
	chains, err := l.snapshot()
	if err != nil {
		return Record{}, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	i := slices.IndexFunc(chains, func(c chain) bool { return c.bench == ref.Bench })
	if i < 0 || chains[i].tail.seq+chains[i].unread < ref.Seq {
		return Record{}, wrong
	}
	c := chains[i]
	var found *Record
	var before, damage []Damage
	err = c.walk(ref.Seq-1, func(line line, err error) error {
		switch {
		case err != nil:
			before = append(before, c.damage(line, err))
		case line.seq == ref.Seq && line.hash.String() == ref.Hash:
			r := c.record(line)
			found = &r
			return io.EOF
		case line.seq >= ref.Seq:
			damage = before
			return io.EOF
		default:
			before = nil
		}
		return nil
	})
	if err == nil {
		damage = before // it ends there
	}
	switch {
	case err != nil && err != io.EOF:
		return Record{}, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	case found != nil:
		return *found, nil
	case len(damage) > 0:
		return Record{}, &DamageError{damage}
	}
	return Record{}, wrong
}

// Again reads a record again that was given before: its bench, number, segment and offset say which, and where it stands. It costs
// as much as its line is long.
func (l *Ledger) Again(r Record) (Record, error) {
	l.mu.Lock()
	c := l.chains[r.Bench]
	l.mu.Unlock()
	if c == nil {
		return r, fmt.Errorf("bench %s, number %d: %w", r.Bench, r.Seq, ErrNoRecord)
	}
	first, err := strconv.ParseUint(strings.TrimSuffix(path.Base(r.Segment), path.Ext(r.Segment)), 10, 64)
	if err != nil {
		return r, fmt.Errorf("segment %q: %w", r.Segment, err)
	}
	again, err := readLine(c.fsys, c.dir, position{first, r.Offset})
	if err == nil && again.seq != r.Seq {
		err = fmt.Errorf("number %d stands there, not %d", again.seq, r.Seq)
	}
	if err != nil {
		return r, &DamageError{[]Damage{{Segment: r.Segment, What: fmt.Sprintf("the record at byte %d: %v", r.Offset, err), Subject: r.Subject}}}
	}
	return c.record(again), nil
}

// Scan calls visit with every record of every bench, bench after bench, each in the order of its chain,
// and stops at the first error that visit returns. It holds one segment in memory at a time. Where lines
// cannot be read it gives all others and then returns a DamageError.
func (l *Ledger) Scan(visit func(Record) error) error { return l.ScanKinds(nil, visit) }

// ScanKinds is Scan of records of some kinds only; nil is all. Of the others it reads no more than it takes to find
// damage by their check values, and is the quicker for it.
func (l *Ledger) ScanKinds(kinds []string, visit func(Record) error) error {
	return l.ScanAfter(nil, kinds, visit)
}

// ScanAfter is ScanKinds of what stands behind a number in the chain of each bench; of a bench without one it is all.
// It reads no segment that ends before.
func (l *Ledger) ScanAfter(after map[string]uint64, kinds []string, visit func(Record) error) error {
	chains, err := l.snapshot()
	if err != nil {
		return fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	var damage []Damage
	for _, c := range chains {
		err := c.segments(after[c.bench], func(s segment) error {
			s.only = kinds
			what := ""
			if len(s.data) == 0 {
				what = errNoLine.Error()
			} else if s.short > 0 {
				what = fmt.Sprintf("its last %d bytes are gone", s.short)
			}
			if what != "" {
				damage = append(damage, Damage{Segment: c.segmentFile(s.first), What: what})
			}
			return s.lines(func(line line, err error) error {
				if err != nil {
					d := c.damage(line, err)
					if was, ok := repair(line.body); ok {
						d.Subject = was.Subject
					}
					damage = append(damage, d)
				}
				if err != nil || line.kind == kindSegment || line.seq <= after[c.bench] {
					return nil
				}
				return visit(c.record(line))
			})
		})
		if err != nil {
			return err
		}
	}
	if len(damage) > 0 {
		return &DamageError{damage}
	}
	return nil
}

func (c *chain) damage(l line, err error) Damage {
	return Damage{Segment: c.segmentFile(l.at.Segment), Line: l.number, What: err.Error()}
}
