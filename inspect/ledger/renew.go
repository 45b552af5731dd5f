package ledger

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
)

// KindAgain is the kind of the records that end what was recorded again under a new id. Their body is an Again.
const KindAgain = "again"

// Again says which records of this chain another bench's were, under whose id they were recorded first. They stand as they
// stood there, but for the names of records that changed with them.
type Again struct {
	Bench string `json:"bench"`
	Was   []Was  `json:"was"`
}

// Was is the number and the hash that a record had, and the number that it has.
type Was struct {
	Seq  uint64 `json:"seq"`
	Hash string `json:"sha256"`
	Now  uint64 `json:"now"`
}

// mostWas is how many records one Again names: it must fit into a line.
const mostWas = 5000

// Renewal is how a bench goes on under a new id.
type Renewal struct {
	Common Head // the last line of the old chain that stays as it is; number 0 for none
	Old    Head // where the old chain ended
	New    Head // where the new one ends
	Again  int  // how many records were recorded again
	Folder string
}

// renewal is what is left to do of one: the old id and the new one. All else is decided by what is in its place.
type renewal struct {
	Old string `json:"old"`
	New string `json:"new"`
}

const (
	renewalName  = "renewal"  // the file that says that one has begun
	renewingName = "renewing" // the folder in which it is prepared
	forkedName   = "forked"   // the folder of chains that others took the place of
)

// Renew lets this bench go on under a new id, where its chain cannot go on: what stands behind the last common line is
// recorded again in a chain of the new id, in the same appends, with the time and, so that nothing changes its place
// among what other benches recorded, with the counter that it had. The chain begins with first and ends with records of
// KindAgain. The old chain stays up to the common line; all of it, unchanged, goes
// to a ledger's folder of its own under forked, where its printed heads still prove it. Body gives the body of a record
// that is recorded again, and is told what names changed; a record that one is about is renamed without it.
//
// An inspection that is half read must be closed first. Other programs that have the ledger open must be started anew.
func (l *Ledger) Renew(common Head, first Entry, body func(r Record, renamed map[Ref]Ref) (json.RawMessage, error)) (Renewal, error) {
	n, err := l.renew(common, first, body)
	if err != nil {
		return n, fmt.Errorf("renewing bench %s in ledger %q: %w", n.Old.Bench, l.dir, err)
	}
	return n, nil
}

func (l *Ledger) renew(common Head, first Entry, body func(r Record, renamed map[Ref]Ref) (json.RawMessage, error)) (n Renewal, err error) {
	end, err := l.begin()
	if err != nil {
		return n, err
	}
	defer end()
	if n.Old, err = l.Head(); err != nil {
		return n, err
	}
	open, err := l.Unfinished()
	if err != nil {
		return n, err
	}
	for _, r := range open {
		if r.Bench == n.Old.Bench && !l.Gone(r) {
			return n, fmt.Errorf("%s is half read: close it or give it up first", r.Opens)
		}
	}
	fsys := l.opt.fsys
	prepared := filepath.Join(l.dir, renewingName)
	if err := removeAll(fsys, prepared); err != nil {
		return n, err
	}
	if err := makeFolder(fsys, prepared); err != nil {
		return n, err
	}
	n.Common, err = l.keepCommon(prepared, common)
	if err != nil {
		return n, err
	}
	if n.New, n.Again, err = l.again(prepared, n, first, body); err != nil {
		return n, err
	}
	plan, err := json.Marshal(renewal{n.Old.Bench, n.New.Bench})
	if err != nil {
		return n, err
	}
	if err := putFile(fsys, filepath.Join(l.dir, renewalName), withCheck(plan)); err != nil {
		return n, err
	}
	n.Folder = filepath.Join(l.dir, forkedName, n.Old.Bench)
	if err := l.finishRenewal(); err != nil {
		return n, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.own, l.chains = n.New.Bench, map[string]*chain{}
	return n, nil
}

// keepCommon prepares what stays of the old chain: its appends up to the common line. It returns the last line of them.
func (l *Ledger) keepCommon(prepared string, common Head) (Head, error) {
	if common.Seq == 0 {
		return Head{Bench: common.Bench}, nil
	}
	t, err := restore(l.opt.fsys, prepared, common.Bench, false, func(yield func([]byte, error) bool) {
		for line, err := range l.Lines(common.Bench, 0) {
			if err == nil && line.Seq == common.Seq && line.Hash != common.Hash {
				err = fmt.Errorf("number %d is not the line that is said to be common", line.Seq)
			}
			if line.Seq > common.Seq || !yield(line.Text, err) {
				return
			}
		}
	})
	return t.Head(), err
}

// again prepares the new chain.
func (l *Ledger) again(prepared string, n Renewal, first Entry, body func(r Record, renamed map[Ref]Ref) (json.RawMessage, error)) (Head, int, error) {
	l.mu.Lock()
	chains, err := l.view()
	if err != nil {
		l.mu.Unlock()
		return Head{}, 0, err
	}
	old := *l.chain(n.Old.Bench)
	var most uint64 // the most counter of all
	for _, c := range chains {
		most = max(most, c.tail.counter)
	}
	l.mu.Unlock()
	id := newID()
	if err := makeFolder(l.opt.fsys, filepath.Join(prepared, id)); err != nil {
		return Head{}, 0, err
	}
	c := openChain(l.opt.fsys, prepared, id)
	put := func(entries []Entry, counter uint64, now Time) ([]line, error) {
		lines, err := c.append(entries, counter, now, l.opt.Bench, l.opt.segmentSize, nil)
		c.saveHeads()
		return lines, err
	}
	now := l.opt.Clock().rounded()
	renamed := map[Ref]Ref{}
	again := []Again{}
	var group []line
	begun := false
	err = old.walk(n.Common.Seq, func(of line, err error) error {
		if err != nil {
			return &DamageError{[]Damage{old.damage(of, err)}}
		}
		if of.seq <= n.Common.Seq || of.kind == kindSegment {
			return nil
		}
		if !begun { // before what follows, behind a segment's header
			begun = true
			if _, err := put([]Entry{first}, max(of.counter, 3)-3, now); err != nil {
				return err
			}
		}
		of.body = slices.Clone(of.body)
		if group = append(group, of); of.More > 0 {
			return nil
		}
		entries, err := old.recordAgain(group, renamed, body)
		if err != nil {
			return err
		}
		lines, err := put(entries, group[0].counter-1, group[0].time())
		if err != nil {
			return err
		}
		for i, was := range group {
			now := lines[i]
			renamed[Ref{old.bench, was.seq, was.hash.String()}] = Ref{id, now.seq, now.hash.String()}
			if len(again) == 0 || len(again[len(again)-1].Was) == mostWas {
				again = append(again, Again{Bench: old.bench})
			}
			last := &again[len(again)-1]
			last.Was = append(last.Was, Was{was.seq, was.hash.String(), now.seq})
		}
		group = group[:0]
		return nil
	})
	if err == nil && !begun {
		_, err = put([]Entry{first}, most, now)
	}
	for _, a := range again {
		var text []byte
		if err == nil {
			text, err = json.Marshal(a)
		}
		if err == nil {
			_, err = put([]Entry{{Kind: KindAgain, Body: text}}, most, now)
		}
	}
	return Head{id, c.tail.seq, c.tail.hash.String()}, len(renamed), err
}

// recordAgain makes the entries of an append that is recorded again.
func (c *chain) recordAgain(group []line, renamed map[Ref]Ref, body func(r Record, renamed map[Ref]Ref) (json.RawMessage, error)) ([]Entry, error) {
	var entries []Entry
	for i, of := range group {
		text, err := body(c.record(of), renamed)
		if err != nil {
			return nil, fmt.Errorf("number %d: %w", of.seq, err)
		}
		e := Entry{Kind: of.kind, Subject: of.Subject, Body: text, About: of.About, opens: of.Opens, closes: of.Closes, reserved: true}
		if of.About != nil {
			if back := slices.IndexFunc(group[:i], func(w line) bool { return *of.About == Ref{c.bench, w.seq, w.hash.String()} }); back >= 0 {
				e.About, e.AboutBack = nil, i-back
			} else if now, ok := renamed[*of.About]; ok {
				e.About = &now
			}
		}
		entries = append(entries, e)
	}
	return entries, nil
}

// finishRenewal puts in its place what a renewal has prepared, from wherever it was cut off. The caller has the lock.
func (l *Ledger) finishRenewal() error {
	fsys := l.opt.fsys
	plan := filepath.Join(l.dir, renewalName)
	data, err := readFrom(fsys, plan, 0, MaxLine)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	text, err := checked(data[:max(len(data)-1, 0)])
	var r renewal
	if err == nil {
		err = json.Unmarshal(text, &r)
	}
	if err == nil && (!benchPattern.MatchString(r.Old) || !benchPattern.MatchString(r.New)) {
		err = errors.New("no benches are named")
	}
	if err != nil {
		return fmt.Errorf("%s: %w", plan, err)
	}
	prepared, kept := filepath.Join(l.dir, renewingName), filepath.Join(l.dir, forkedName, r.Old)
	for _, name := range []string{draftsName, ""} {
		if err := makeFolder(fsys, filepath.Join(kept, name)); err != nil {
			return err
		}
	}
	// The old chain goes first, and is told from what stays of it by where the new one is.
	if there, err := exists(fsys, filepath.Join(kept, r.Old)); err != nil {
		return err
	} else if !there {
		if err := move(fsys, filepath.Join(l.dir, r.Old), filepath.Join(kept, r.Old)); err != nil {
			return err
		}
	}
	if err := putFile(fsys, filepath.Join(kept, benchName), withCheck([]byte(r.Old))); err != nil {
		return err
	}
	for _, bench := range []string{r.Old, r.New} {
		there, err := exists(fsys, filepath.Join(prepared, bench))
		if err != nil {
			return err
		}
		if there {
			if err := move(fsys, filepath.Join(prepared, bench), filepath.Join(l.dir, bench)); err != nil {
				return err
			}
		}
	}
	if err := putFile(fsys, filepath.Join(l.dir, benchName), withCheck([]byte(r.New))); err != nil {
		return err
	}
	if err := removeAll(fsys, prepared); err != nil {
		return err
	}
	if err := fsys.Remove(plan); err != nil {
		return err
	}
	return fsys.SyncDir(l.dir)
}

// move renames a folder, for good.
func move(fsys fileSystem, from, to string) error {
	if err := fsys.Rename(from, to); err != nil {
		return err
	}
	if err := fsys.SyncDir(filepath.Dir(to)); err != nil {
		return err
	}
	return fsys.SyncDir(filepath.Dir(from))
}

func exists(fsys fileSystem, name string) (bool, error) {
	_, err := fsys.Lstat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil, err
}

// removeAll removes a folder that is only a preparation.
func removeAll(fsys fileSystem, name string) error {
	entries, err := fsys.ReadDir(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	for _, e := range entries {
		inner := filepath.Join(name, e.Name())
		if e.IsDir() {
			err = removeAll(fsys, inner)
		} else {
			err = fsys.Remove(inner)
		}
		if err != nil {
			return err
		}
	}
	return fsys.Remove(name)
}
