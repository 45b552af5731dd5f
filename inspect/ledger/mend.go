package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
)

// kindMend is the kind of the record by which the ledger says what was mended, by whom and why.
const kindMend = "mend"

// asideName is the folder that what is mended is moved to. Nothing is ever deleted.
const asideName = "aside"

// MendOptions says what a person has chosen.
type MendOptions struct {
	From    string   // a copy of the ledger, or one that this bench was merged into
	Bench   string   // the bench that writes here, where that is not known; "new" for one that begins anew
	GiveUp  []string // drafts to be closed as they are
	By, Why string   // for the record
}

// Mend is one thing that is damaged and what can be done about it.
type Mend struct {
	What string // what is wrong
	How  string // what would be done, or what a person must choose first
	Ask  bool   // nothing is done before that is chosen

	do func() error
}

// Mends returns what is damaged and can be mended, and what would be done. Nothing is changed before Do.
func (l *Ledger) Mends(opt MendOptions) ([]Mend, error) {
	var mends []Mend
	if mend, ok := l.mendBench(opt); ok {
		mends = append(mends, mend)
		if mend.Ask || opt.Bench != "" {
			return mends, nil // the rest once that is known
		}
	}
	benches, err := listFolders(l.opt.fsys, l.dir)
	if err != nil {
		return nil, err
	}
	for _, bench := range benches {
		more, err := l.mendChain(bench, opt)
		if err != nil {
			return nil, err
		}
		mends = append(mends, more...)
	}
	more, err := l.mendDrafts(opt)
	return append(mends, more...), err
}

// Do does what the mends say, but for those where a person must choose first, and records it.
func (l *Ledger) Do(mends []Mend, opt MendOptions) error {
	var done []string
	for _, m := range mends {
		if m.Ask {
			continue
		}
		if err := m.do(); err != nil {
			return fmt.Errorf("mending: %s: %w", m.What, err)
		}
		done = append(done, m.What+": "+m.How)
	}
	if len(done) == 0 {
		return nil
	}
	l.mu.Lock()
	clear(l.chains) // other bytes stand there now
	l.mu.Unlock()
	body, err := json.Marshal(struct {
		Done []string `json:"done"`
		By   string   `json:"by"`
		Why  string   `json:"why"`
	}{done, opt.By, opt.Why})
	if err != nil {
		return err
	}
	_, err = l.Append(Entry{Kind: kindMend, Body: body, reserved: true})
	return err
}

// listFolders returns the benches that have a folder, or what stands in the place of one.
func listFolders(fsys fileSystem, dir string) ([]string, error) {
	entries, err := fsys.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var benches []string
	for _, e := range entries {
		if benchPattern.MatchString(e.Name()) {
			benches = append(benches, e.Name())
		}
	}
	return benches, nil
}

// setAside moves a file of the ledger to the folder for that, under a name that says where it was.
func (l *Ledger) setAside(name string) error {
	fsys := l.opt.fsys
	if err := makeFolder(fsys, filepath.Join(l.dir, asideName)); err != nil {
		return err
	}
	to := filepath.Join(l.dir, asideName, strings.ReplaceAll(name, "/", "_"))
	for n := 1; ; n++ {
		place := to
		if n > 1 {
			place = fmt.Sprintf("%s.%d", to, n)
		}
		if _, err := fsys.Lstat(place); errors.Is(err, fs.ErrNotExist) {
			to = place
			break
		} else if err != nil {
			return err
		}
	}
	if err := fsys.Rename(filepath.Join(l.dir, filepath.FromSlash(name)), to); err != nil {
		return err
	}
	for _, folder := range []string{filepath.Dir(to), filepath.Join(l.dir, filepath.Dir(filepath.FromSlash(name)))} {
		if err := fsys.SyncDir(folder); err != nil {
			return err
		}
	}
	return nil
}

// locked returns what does a thing with the lock.
func (l *Ledger) locked(do func() error) func() error {
	return func() error {
		end, err := l.begin()
		if err != nil {
			return err
		}
		defer end()
		return do()
	}
}

// mendBench says which bench writes here where the file for that is missing or damaged, or where its chain is gone.
func (l *Ledger) mendBench(opt MendOptions) (Mend, bool) {
	fsys := l.opt.fsys
	benches, err := listFolders(fsys, l.dir)
	var whole []string
	for _, bench := range benches {
		if firsts, err := listSegments(fsys, filepath.Join(l.dir, bench)); err == nil && len(firsts) > 0 {
			whole = append(whole, bench)
		}
	}
	m := Mend{What: "the file " + benchName + " is missing or damaged, and so which bench writes here"}
	switch {
	case err != nil:
		return m, false
	case l.ownError == nil && slices.Contains(whole, l.own):
		return m, false
	case l.ownError == nil:
		m.What = "the records of this bench, " + l.own + ", are gone"
		if opt.From != "" {
			m.How = fmt.Sprintf("take them from %s, as far as they are there; the drafts that are open stay", opt.From)
			m.do = l.locked(func() error { return l.recover(opt.From) })
			return m, true
		}
	}
	id := opt.Bench
	switch {
	case id == "":
		m.How, m.Ask = fmt.Sprintf("choose: put the folder back from a copy; or take them from a copy with --from FOLDER; or go on as a new bench with --bench new; or as one of those whose records are here with --bench ID: %s", strings.Join(whole, ", ")), true
		return m, true
	case id == "new":
		m.How = "go on as a new bench; the records that are here stay, as another's"
	case slices.Contains(whole, id):
		m.How = "go on as bench " + id
	default:
		m.How, m.Ask = fmt.Sprintf("there are no records of bench %s here; choose one of %s, or new", id, strings.Join(whole, ", ")), true
		return m, true
	}
	m.do = l.locked(func() error {
		name := filepath.Join(l.dir, benchName)
		if _, err := fsys.Lstat(name); err == nil {
			if err := l.setAside(benchName); err != nil {
				return err
			}
		}
		if id == "new" {
			l.own, l.ownError = "", nil
			return l.newBench()
		}
		l.own, l.ownError = id, nil
		return putFile(fsys, name, withCheck([]byte(id)))
	})
	return m, true
}

// recover takes this bench's chain from another ledger.
func (l *Ledger) recover(from string) error {
	other := &Ledger{dir: from, opt: l.opt, chains: map[string]*chain{}}
	_, err := restore(l.opt.fsys, l.dir, l.own, false, func(yield func([]byte, error) bool) {
		for line, err := range other.Lines(l.own, 0) {
			if !yield(line.Text, err) {
				return
			}
		}
	})
	return err
}

// mendChain finds what can be mended of one chain: lines of which one byte was changed, segments that a copy has whole,
// and what has no part in the folder.
func (l *Ledger) mendChain(bench string, opt MendOptions) ([]Mend, error) {
	fsys := l.opt.fsys
	if info, err := fsys.Lstat(filepath.Join(l.dir, bench)); err == nil && !info.IsDir() {
		return []Mend{l.moveAway(bench, typeOf(info.Mode().Type()))}, nil
	}
	entries, err := fsys.ReadDir(filepath.Join(l.dir, bench))
	if err != nil {
		return nil, err
	}
	var mends []Mend
	for _, e := range entries {
		part := segmentPattern.MatchString(e.Name()) || e.Name() == headsName || e.Name() == temporaryName
		if !part || e.Type() != 0 {
			mends = append(mends, l.moveAway(bench+"/"+e.Name(), typeOf(e.Type())))
		}
	}
	if len(mends) > 0 {
		return mends, nil // the rest once that is done
	}
	c := openChain(fsys, l.dir, bench)
	firsts, err := c.look()
	if err != nil {
		return nil, err
	}
	for i := range firsts {
		s, err := readSegment(nil, fsys, c.dir, firsts, i)
		if err != nil {
			return nil, err
		}
		wrong, lost := 0, 0
		s.lines(func(line line, err error) error {
			if err == nil || errors.Is(err, errTorn) {
				return nil
			}
			wrong++
			if _, one := repair(line.body); !one {
				lost++
			}
			return nil
		})
		if wrong > 0 {
			mends = append(mends, l.mendSegment(c, firsts, i, s, wrong, lost, opt))
		}
	}
	return mends, nil
}

func (l *Ledger) moveAway(name, what string) Mend {
	return Mend{
		What: fmt.Sprintf("%s: %s that has no part in a ledger", name, what),
		How:  "move it to " + asideName,
		do:   l.locked(func() error { return l.setAside(name) }),
	}
}

func (l *Ledger) mendSegment(c *chain, firsts []uint64, i int, s segment, wrong, lost int, opt MendOptions) Mend {
	name := c.segmentFile(s.first)
	m := Mend{What: fmt.Sprintf("%s: %d lines cannot be read", name, wrong)}
	var want string // the hash that the next segment's header has for it
	if !s.last {
		if h, err := readHeader(l.opt.fsys, c.dir, firsts[i+1]); err == nil && h.Previous != nil {
			want = h.Previous.SHA256
		}
	}
	right := mended(s.data)
	m.How = "set right the one byte in each that was changed, as their check values tell"
	if hash := digest(sha256.Sum256(right)).String(); want != "" && hash == want {
		m.How += "; the next segment's hash of them proves it"
	} else if lost > 0 || want != "" {
		right = nil
	}
	if right == nil && opt.From != "" {
		var err error
		if right, err = l.fromCopy(opt.From, c.bench, s, want); err == nil {
			m.How = fmt.Sprintf("take the segment from %s, where it is whole and agrees with what can be read here", opt.From)
		}
	}
	if right == nil {
		m.How, m.Ask = fmt.Sprintf("%d of them cannot be set right from what is here: give a copy of the ledger, or one that was merged with it, with --from FOLDER; else what they held is lost, and all other records go on", max(lost, 1)), true
		return m
	}
	m.do = l.locked(func() error {
		path := filepath.Join(l.dir, filepath.FromSlash(name))
		whole, err := readFrom(l.opt.fsys, path, 0, tooLarge)
		if err != nil {
			return err
		}
		if !bytes.HasPrefix(whole, s.data) {
			return errors.New("it has changed meanwhile; do this again")
		}
		if err := makeFolder(l.opt.fsys, filepath.Join(l.dir, asideName)); err != nil {
			return err
		}
		if err := l.copyAside(name, whole); err != nil {
			return err
		}
		return putFile(l.opt.fsys, path, append(bytes.Clone(right), whole[len(s.data):]...))
	})
	return m
}

// copyAside keeps what a file held before it was mended.
func (l *Ledger) copyAside(name string, data []byte) error {
	sum := sha256.Sum256(data)
	to := fmt.Sprintf("%s.%x", strings.ReplaceAll(name, "/", "_"), sum[:4])
	return putFile(l.opt.fsys, filepath.Join(l.dir, asideName, to), data)
}

// fromCopy returns a segment as another ledger has it: with the hash wanted or, where none is, with every line following
// the one before and none different that can be read here.
func (l *Ledger) fromCopy(from, bench string, s segment, want string) ([]byte, error) {
	dir := filepath.Join(from, bench)
	firsts, err := listSegments(l.opt.fsys, dir)
	i := slices.Index(firsts, s.first)
	if err != nil || i < 0 {
		return nil, errors.Join(err, fs.ErrNotExist)
	}
	copied, err := readSegment(nil, l.opt.fsys, dir, firsts, i)
	if err != nil {
		return nil, err
	}
	if want != "" {
		if digest(sha256.Sum256(copied.data)).String() != want {
			return nil, errors.New("it is not the same there")
		}
		return copied.data, nil
	}
	theirs := map[uint64]digest{}
	var last line
	err = copied.lines(func(l line, err error) error {
		if err != nil || last.seq > 0 && (l.seq != last.seq+1 || l.previous != last.hash) {
			return errors.New("it is damaged there")
		}
		theirs[l.seq], last = l.hash, l
		return nil
	})
	if err != nil {
		return nil, err
	}
	var lines, beyond int
	s.lines(func(l line, err error) error {
		if lines++; err == nil && theirs[l.seq] != l.hash {
			beyond++
		}
		return nil
	})
	if beyond > 0 || len(theirs) != lines {
		return nil, errors.New("it does not reach as far there, or is another")
	}
	return copied.data, nil
}

// mendDrafts finds what can be mended of the drafts.
func (l *Ledger) mendDrafts(opt MendOptions) ([]Mend, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, err := l.view(); err != nil {
		return nil, nil // which bench that is comes first
	}
	var mends []Mend
	entries, err := l.opt.fsys.ReadDir(filepath.Join(l.dir, draftsName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	for _, e := range entries {
		if e.Type() != 0 || !strings.HasSuffix(e.Name(), ".jsonl") && e.Name() != temporaryName {
			mends = append(mends, l.moveAway(draftsName+"/"+e.Name(), typeOf(e.Type())))
		}
	}
	if len(mends) > 0 {
		return mends, nil
	}
	strays, err := l.strays()
	if err != nil {
		return nil, err
	}
	for _, s := range strays {
		if s.fate == draftStranger {
			m := l.moveAway(s.file, "a draft")
			m.What = s.file + ": a draft that no record of this bench opened"
			mends = append(mends, m)
		}
	}
	for id, at := range l.chain(l.own).heads.open {
		m := Mend{What: fmt.Sprintf("draft %q", id), How: "close it, as given up"}
		f, _, err := l.readOpen(id)
		chosen := slices.Contains(opt.GiveUp, id)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			m.What += " is gone: it was opened and not closed, and has no file"
		case err != nil:
			return nil, err
		case !chosen && len(f.content.Damage) == 0:
			continue
		case !chosen:
			m.What += fmt.Sprintf(" is damaged: %s; %d of its lines can be read", f.content.Damage[0], len(f.content.Lines))
			m.How, m.Ask = "choose: go on with what can be read of it, by inspecting the tool at the same stage; or close it as given up, with --give-up "+id, true
		default:
			m.What += fmt.Sprintf(", of which %d lines can be read", len(f.content.Lines))
			m.How += ", and move its file to " + asideName
		}
		lines := uint64(f.number)
		m.do = func() error { return l.giveUp(id, at, lines, opt) }
		mends = append(mends, m)
	}
	slices.SortFunc(mends, func(a, b Mend) int { return strings.Compare(a.What, b.What) })
	return mends, nil
}

// giveUp closes a draft by a record, and moves its file away.
func (l *Ledger) giveUp(id string, at position, lines uint64, opt MendOptions) error {
	end, err := l.alone(l.opt.patience)
	if err != nil {
		return err
	}
	defer end()
	if _, err := l.view(); err != nil {
		return err
	}
	c := l.chain(l.own)
	if c.heads.open[id] != at {
		return errors.New("it is closed meanwhile")
	}
	_, gone := l.opt.fsys.Lstat(l.draftPath(id))
	if gone == nil {
		lock, err := l.opt.fsys.Lock(l.draftPath(id), "")
		if errors.Is(err, errHeld) {
			return ErrLocked
		}
		if err != nil {
			return err
		}
		defer lock.Close()
	}
	body, err := json.Marshal(map[string]string{"given_up": id, "by": opt.By, "why": opt.Why})
	if err != nil {
		return err
	}
	e := Entry{Kind: kindMend, Body: body, reserved: true, closes: &closing{id, lines, digest{}.String()}}
	if opened, err := readLine(c.fsys, c.dir, at); err == nil {
		e.Subject, e.About = opened.Subject, &Ref{l.own, opened.seq, opened.hash.String()}
	}
	if _, err := l.append([]Entry{e}, nil); err != nil || gone != nil {
		return err
	}
	return l.setAside(draftFileName(id))
}
