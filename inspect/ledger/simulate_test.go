package ledger

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// operation is one thing that a recorder saw.
type operation struct {
	kind   string // create, truncate, write, sync, failed sync, mkdir, rename, remove, sync folder, acknowledge
	path   string
	to     string // rename
	inode  int
	offset int64
	data   []byte
}

// recorder is a memory with a log of all that changes it. What fail refuses does not happen; of a refused
// write the first half does.
type recorder struct {
	*memory
	fail   func(operation) error
	log    []operation
	inodes map[string]int
	sizes  map[int]int64
}

func newRecorder() *recorder {
	never := func(operation) error { return nil }
	return &recorder{memory: newMemory(), fail: never, inodes: map[string]int{}, sizes: map[int]int64{}}
}

func (r *recorder) add(o operation) { r.log = append(r.log, o) }

func (r *recorder) create(path string) int {
	inode, ok := r.inodes[path]
	if !ok {
		inode = len(r.sizes) + 1
		r.inodes[path], r.sizes[inode] = inode, 0
		r.add(operation{kind: "create", path: path, inode: inode})
	}
	return inode
}

func (r *recorder) OpenFile(name string, flag int) (file, error) {
	writing := flag&(os.O_WRONLY|os.O_RDWR) != 0
	if writing {
		if err := r.fail(operation{kind: "open", path: name}); err != nil {
			return nil, err
		}
	}
	f, err := r.memory.OpenFile(name, flag)
	if err != nil || !writing {
		return f, err
	}
	inode := r.create(name)
	if flag&os.O_TRUNC != 0 && r.sizes[inode] > 0 {
		r.sizes[inode] = 0
		r.add(operation{kind: "truncate", inode: inode})
	}
	return &recordedFile{f, r, inode, name}, nil
}

func (r *recorder) Lock(name, holder string) (io.Closer, error) {
	if err := r.fail(operation{kind: "lock", path: name}); err != nil {
		return nil, err
	}
	lock, err := r.memory.Lock(name, holder)
	if err == nil {
		r.create(name)
	}
	return lock, err
}

// do lets one change of a name happen and notes it.
func (r *recorder) do(o operation, change func() error) error {
	if err := r.fail(o); err != nil {
		return err
	}
	err := change()
	if err == nil {
		r.add(o)
	}
	return err
}

func (r *recorder) Mkdir(name string) error {
	return r.do(operation{kind: "mkdir", path: name}, func() error { return r.memory.Mkdir(name) })
}

func (r *recorder) Rename(from, to string) error {
	return r.do(operation{kind: "rename", path: from, to: to}, func() error {
		r.inodes[to] = r.inodes[from]
		delete(r.inodes, from)
		return r.memory.Rename(from, to)
	})
}

func (r *recorder) Remove(name string) error {
	return r.do(operation{kind: "remove", path: name}, func() error {
		delete(r.inodes, name)
		return r.memory.Remove(name)
	})
}

func (r *recorder) SyncDir(name string) error {
	return r.do(operation{kind: "sync folder", path: name}, func() error { return r.memory.SyncDir(name) })
}

type recordedFile struct {
	file
	r     *recorder
	inode int
	path  string
}

func (f *recordedFile) Write(data []byte) (int, error) {
	o := operation{kind: "write", path: f.path, inode: f.inode, offset: f.r.sizes[f.inode], data: bytes.Clone(data)}
	err := f.r.fail(o)
	if err != nil {
		o.data = o.data[:len(data)/2]
	}
	n, _ := f.file.Write(o.data) // memory does not fail
	f.r.sizes[f.inode] += int64(n)
	f.r.add(o)
	return n, err
}

func (f *recordedFile) WriteAt(data []byte, offset int64) (int, error) {
	o := operation{kind: "write", path: f.path, inode: f.inode, offset: offset, data: bytes.Clone(data)}
	err := f.r.fail(o)
	if err != nil {
		o.data = o.data[:len(data)/2]
	}
	n, _ := f.file.WriteAt(o.data, offset) // memory does not fail
	f.r.sizes[f.inode] = max(f.r.sizes[f.inode], offset+int64(n))
	f.r.add(o)
	return n, err
}

func (f *recordedFile) Sync() error {
	o := operation{kind: "sync", path: f.path, inode: f.inode}
	err := f.r.fail(o)
	if err != nil {
		o.kind = "failed sync"
	}
	f.r.add(o)
	return err
}

// medium is what a disk holds: what is durable, and what is still on its way.
type medium struct {
	random  *rand.Rand
	content map[int][]byte
	data    map[int][]operation // not synced
	folders map[string]map[string]int
	names   map[string][]operation // not synced, by folder
}

const folderInode = -1

func newMedium(random *rand.Rand) *medium {
	return &medium{random, map[int][]byte{}, map[int][]operation{}, map[string]map[string]int{".": {}}, map[string][]operation{}}
}

// run does what a log says.
func (m *medium) run(log []operation) {
	for _, o := range log {
		folder := filepath.Dir(o.path)
		switch o.kind {
		case "create", "mkdir", "rename", "remove":
			m.names[folder] = append(m.names[folder], o)
			if o.kind == "mkdir" {
				m.folders[o.path] = map[string]int{}
			}
		case "write", "truncate":
			m.data[o.inode] = append(m.data[o.inode], o)
		case "sync":
			for _, w := range m.data[o.inode] {
				m.settle(w)
			}
			m.data[o.inode] = nil
		case "failed sync": // the pages count as clean from now on, whatever became of them
			m.lose(o.inode)
		case "sync folder":
			m.settleNames(o.path, len(m.names[o.path]))
		}
	}
}

// cut is the power cut: of what is on its way, some arrives.
func (m *medium) cut() {
	for _, inode := range slices.Sorted(maps.Keys(m.data)) {
		m.lose(inode)
	}
	for _, folder := range slices.Sorted(maps.Keys(m.names)) {
		m.settleNames(folder, m.random.IntN(len(m.names[folder])+1)) // names go through a journal, in order
	}
}

func (m *medium) settle(o operation) {
	if o.kind == "truncate" {
		m.content[o.inode] = nil
		return
	}
	m.extend(o.inode, o.offset+int64(len(o.data)))
	copy(m.content[o.inode][o.offset:], o.data)
}

func (m *medium) extend(inode int, size int64) {
	if short := size - int64(len(m.content[inode])); short > 0 {
		m.content[inode] = append(m.content[inode], make([]byte, short)...)
	}
}

// lose lets each write that is not synced arrive, or not, or only some of its sectors, with a length that
// may have been set without the data.
func (m *medium) lose(inode int) {
	const sector = 512
	for _, o := range m.data[inode] {
		switch m.random.IntN(4) {
		case 0:
			m.settle(o)
		case 1: // dropped
		case 2:
			m.extend(inode, o.offset+int64(len(o.data)))
		case 3:
			for at := int64(0); at < int64(len(o.data)); {
				end := min((o.offset+at)/sector*sector+sector-o.offset, int64(len(o.data)))
				if m.random.IntN(2) == 0 {
					m.settle(operation{inode: inode, offset: o.offset + at, data: o.data[at:end]})
				}
				at = end
			}
		}
	}
	m.data[inode] = nil
}

func (m *medium) settleNames(folder string, n int) {
	here := m.folders[folder]
	for _, o := range m.names[folder][:n] {
		name := filepath.Base(o.path)
		switch o.kind {
		case "create":
			here[name] = o.inode
		case "mkdir":
			here[name] = folderInode
		case "rename":
			here[filepath.Base(o.to)] = here[name]
			delete(here, name)
		case "remove":
			delete(here, name)
		}
	}
	m.names[folder] = m.names[folder][n:]
}

// disk returns what is durable.
func (m *medium) disk() *memory {
	d := newMemory()
	m.unpack(d, ".")
	return d
}

func (m *medium) unpack(d *memory, folder string) {
	for name, inode := range m.folders[folder] {
		path := filepath.Join(folder, name)
		if inode == folderInode {
			d.nodes[path] = &node{folder: true}
			m.unpack(d, path)
		} else {
			d.nodes[path] = &node{data: bytes.Clone(m.content[inode])}
		}
	}
}

// acknowledged is what a ledger has said to be recorded.
type acknowledged struct {
	hashes []string            // of records
	lines  map[string][]string // of drafts that are not closed, by id
	head   Head
}

// shop works through inspections as a person does and notes in the log what was acknowledged.
type shop struct {
	t    *testing.T
	opt  Options
	log  func(acknowledged)
	acks acknowledged
	l    *Ledger

	errors []error // what failed on the way
}

// try does one thing again until it works; a fault that stops it must be mended by then.
func (s *shop) try(what func() error) {
	s.t.Helper()
	var err error
	for range 5 {
		if err = what(); err == nil {
			s.log(s.acks)
			return
		}
		s.errors = append(s.errors, err)
	}
	s.t.Fatalf("still after five times: %v", err)
}

// begin begins a draft, or takes it up where its beginning has failed halfway.
func (s *shop) begin(id, subject string) (d *Draft) {
	s.t.Helper()
	s.try(func() (err error) {
		d, err = s.l.NewDraft(id, entry("opened", subject, 0))
		if errors.Is(err, fs.ErrExist) {
			d, _, err = s.l.OpenDraft(id)
		}
		if err == nil {
			s.setLines(id, []string{})
		}
		return err
	})
	return d
}

func (s *shop) open() {
	s.try(func() (err error) {
		s.l, err = Open("ledger", s.opt)
		return err
	})
}

func (s *shop) recorded(records []Record) {
	hashes := slices.Clone(s.acks.hashes)
	for _, r := range records {
		hashes = append(hashes, r.Hash)
		s.acks.head = Head{r.Bench, r.Seq, r.Hash}
	}
	s.acks.hashes = hashes
}

func (s *shop) setLines(id string, lines []string) {
	drafts := map[string][]string{}
	for k, v := range s.acks.lines {
		drafts[k] = v
	}
	if drafts[id] = lines; lines == nil {
		delete(drafts, id)
	}
	s.acks.lines = drafts
}

func (s *shop) record(entries ...Entry) {
	s.try(func() error {
		records, err := s.l.Append(entries...)
		s.recorded(records)
		return err
	})
}

// inspect does one inspection with n readings, interrupted once.
func (s *shop) inspect(id, subject string, n int) {
	d := s.begin(id, subject)
	for i := range n {
		text := fmt.Sprintf(`{"id":%q,"reading":%d,"note":%q}`, id, i, strings.Repeat("x", i*i%700))
		s.try(func() error {
			err := d.Append([]byte(text))
			if err == nil {
				s.setLines(id, append(slices.Clone(s.acks.lines[id]), text))
			}
			return err
		})
		if i == n/2 {
			d.Release()
			s.try(func() (err error) {
				d, _, err = s.l.OpenDraft(id)
				return err
			})
		}
	}
	s.try(func() error {
		records, err := d.Close(entry("readings", subject, n), entry("summary", subject, n))
		if err == nil {
			s.recorded(records)
			s.setLines(id, nil)
		}
		return err
	})
}

// work is a morning at the bench: tools, inspections, new programs, one draft left open.
func (s *shop) work() {
	s.open()
	for i := range 5 {
		subject := fmt.Sprintf("tool:EM-%d", i%3)
		s.record(entry("tool", subject, i))
		s.inspect(fmt.Sprintf("i-%d", i), subject, 4+i)
		if i%2 == 1 {
			s.open()
		}
	}
	s.record(entry("job", "job:J-1", 1), entry("tool", "tool:EM-1", 2), entry("tool", "tool:EM-1", 3))
	s.begin("left", "tool:EM-9").Release()
}

// checkKept opens what a ledger has become and returns what was acknowledged and is lost, or what stops
// the work.
func checkKept(disk fileSystem, want acknowledged) error {
	l, err := Open("ledger", Options{Clock: fixedClock(), fsys: disk, segmentSize: 3000})
	if err != nil {
		return err
	}
	for id, lines := range want.lines {
		if err := checkDraft(l, id, lines); err != nil {
			return err
		}
	}
	if _, err := l.Append(entry("tool", "tool:EM-0", 99)); err != nil {
		return err
	}
	have := map[string]bool{}
	if err := l.Scan(func(r Record) error { have[r.Hash] = true; return nil }); err != nil {
		return err
	}
	for _, hash := range want.hashes {
		if !have[hash] {
			return fmt.Errorf("record %s is lost", hash)
		}
	}
	return checkSound(l, want.head)
}

// checkDraft takes a draft up and compares it with what was acknowledged; one more line may be there.
func checkDraft(l *Ledger, id string, want []string) error {
	closed := false
	l.Scan(func(r Record) error {
		closed = closed || r.Closes == id
		return nil
	})
	if closed {
		return nil // and not said any more
	}
	d, content, err := l.OpenDraft(id)
	if err != nil {
		return err
	}
	for i, line := range want {
		if i >= len(content.Lines) || string(content.Lines[i]) != line {
			return fmt.Errorf("draft %s: line %d of %d is lost", id, i+1, len(want))
		}
	}
	if err := d.Append([]byte(`{"after":"the cut"}`)); err != nil {
		return err
	}
	d.Release()
	if content, err = l.ReadDraft(id); err != nil || len(content.Damage) > 0 {
		return fmt.Errorf("draft %s: %v, damage %v", id, err, content.Damage)
	}
	if d, _, err = l.OpenDraft(id); err != nil {
		return err
	}
	_, err = d.Close(entry("summary", "tool:EM-1", 1))
	return err
}

// checkSound verifies a ledger, with a head, and its histories.
func checkSound(l *Ledger, head Head) error {
	var printed []string
	if head.Seq > 0 {
		printed = []string{head.String()}
	}
	report, err := verify(l.opt.fsys, l.dir, printed, nil)
	if err != nil || len(report.Damage) > 0 {
		return fmt.Errorf("verify: %v, damage %v", err, report.Damage)
	}
	return checkHistories(l)
}

// checkHistories compares every history with the records in the order of the chains.
func checkHistories(l *Ledger) error {
	bySubject := map[string][]string{}
	err := l.Scan(func(r Record) error {
		bySubject[r.Subject] = append(bySubject[r.Subject], r.Hash)
		return nil
	})
	if err != nil {
		return err
	}
	for subject, want := range bySubject {
		var got []string
		for r, err := range l.History(subject) {
			if err != nil {
				return err
			}
			got = append(got, r.Hash)
		}
		slices.Reverse(got)
		if subject != "" && !slices.Equal(got, want) {
			return fmt.Errorf("history of %s has %d records, want %d", subject, len(got), len(want))
		}
	}
	return nil
}

// recordMorning returns the log of a morning's work and what was acknowledged after each operation.
func recordMorning(t *testing.T) ([]operation, []acknowledged) {
	t.Helper()
	r := newRecorder()
	acks := []acknowledged{{}}
	s := shop{t: t, opt: Options{Bench: "bench 1", Clock: fixedClock(), fsys: r, segmentSize: 3000}}
	s.log = func(a acknowledged) {
		acks = append(acks, a)
		r.add(operation{kind: "acknowledge"})
	}
	s.work()
	return r.log, acks
}

// cutPower replays a log to a random point, cuts the power there, and checks what is left.
func cutPower(log []operation, acks []acknowledged, random *rand.Rand) error {
	end := random.IntN(len(log) + 1)
	m := newMedium(random)
	m.run(log[:end])
	m.cut()
	said := 0
	for _, o := range log[:end] {
		if o.kind == "acknowledge" {
			said++
		}
	}
	return checkKept(m.disk(), acks[said])
}

func countCuts(long, short int) int {
	if testing.Short() {
		return short
	}
	return long
}

func TestPowerCuts(t *testing.T) {
	log, acks := recordMorning(t)
	random := rand.New(rand.NewPCG(1, 2))
	for i := range countCuts(3000, 60) {
		if err := cutPower(log, acks, random); err != nil {
			t.Fatalf("cut %d: %v", i, err)
		}
	}
}

// TestPowerCutsWithoutSync proves that the simulation bites: with one kind of sync left out, what was
// acknowledged gets lost.
func TestPowerCutsWithoutSync(t *testing.T) {
	tests := []struct {
		name    string
		removed func(operation) bool
	}{
		{"no sync of drafts", func(o operation) bool {
			return o.kind == "sync" && strings.Contains(o.path, "/open/") && !strings.HasSuffix(o.path, ".tmp")
		}},
		{"no sync of segments", func(o operation) bool {
			return o.kind == "sync" && !strings.Contains(o.path, "/open/") && strings.HasSuffix(o.path, ".jsonl")
		}},
		{"no sync of new files", func(o operation) bool { return o.kind == "sync" && strings.HasSuffix(o.path, ".tmp") }},
		{"no sync of folders", func(o operation) bool { return o.kind == "sync folder" }},
	}
	log, acks := recordMorning(t)
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			kept := slices.DeleteFunc(slices.Clone(log), test.removed)
			if len(kept) == len(log) {
				t.Fatal("nothing was removed")
			}
			random := rand.New(rand.NewPCG(3, 4))
			failed := 0
			for range 60 {
				if cutPower(kept, acks, random) != nil {
					failed++
				}
			}
			t.Logf("%d of 60 cuts lost something", failed)
			if failed == 0 {
				t.Error("no cut lost anything")
			}
		})
	}
}
