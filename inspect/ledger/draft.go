package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// draftsName is the folder of the drafts.
const draftsName = "open"

// Draft is an inspection that is not closed yet: a file of lines of which each is on the medium before
// Append returns. One holder at a time writes it, from one goroutine.
type Draft struct {
	ledger *Ledger
	id     string
	opened Record    // the record that began it
	lock   io.Closer // nil once let go
	file   file      // nil before the first write and after a failed one
	size   int64     // of the file, while it is open
	hash   digest    // of the last good line
	next   int       // number of the next line
}

// Opened returns the record that began the draft.
func (d *Draft) Opened() Record { return d.opened }

// DraftContent is what a draft holds.
type DraftContent struct {
	Opened Entry    // the record that opened it
	Lines  [][]byte // what was appended
	Torn   []Damage // what was never acknowledged: writes cut off or failed
	Damage []Damage // what else does not read as it was written
}

// draftStart is the first line of a draft: its id, the record in the chain that opened it, and what that holds.
type draftStart struct {
	Draft   string          `json:"draft"`
	Opened  Ref             `json:"opened"`
	Kind    string          `json:"kind"`
	Subject string          `json:"subject"`
	Body    json.RawMessage `json:"body"`
}

// appendDraftLine writes one line of a draft:
//
//	line     = check SP number SP mark SP previous SP text LF
//	check    = as in a chain's line
//	number   = decimal, from 1, no leading zero
//	mark     = "+" before a text of the caller's; in line 1 the text is a draftStart
//	           "-" before the number of a byte: the bytes from there to this line are void
//	previous = 64 hex digits: SHA-256 of the line before that is not void, without its LF; in line 1 that of the
//	           record which opened the draft
//
// Bytes that read as a line with its place in this order are never void. A line of a real draft:
//
//	3513ea08 2 + 5ecc38b3b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881 {"feature":"land","flute":1,"value":"0.0312in"}
func appendDraftLine(dst []byte, number int, mark byte, previous digest, text []byte) []byte {
	return append(dst, withCheck(fmt.Appendf(nil, "%d %c %s %s", number, mark, previous, text))...)
}

// draftLine is a line of a draft as read.
type draftLine struct {
	offset, end int64
	place       int // in the file, from 1
	number      int
	mark        byte
	previous    digest
	hash        digest
	text        []byte
	err         error
}

// parseDraftLine reads one line, given without its LF.
func parseDraftLine(text []byte) (l draftLine, err error) {
	body, err := checked(text)
	if err != nil {
		return l, err
	}
	digits, rest, _ := bytes.Cut(body, []byte(" "))
	l.number, err = strconv.Atoi(string(digits))
	if err != nil || l.number < 1 || strconv.Itoa(l.number) != string(digits) {
		return l, fmt.Errorf("line number %q", digits)
	}
	if !bytes.HasPrefix(rest, []byte("+ ")) && !bytes.HasPrefix(rest, []byte("- ")) {
		return l, fmt.Errorf("mark %.2q, want \"+ \" or \"- \"", rest)
	}
	l.mark = rest[0]
	previous, text, ok := bytes.Cut(rest[2:], []byte(" "))
	if !ok || !isHash(string(previous)) {
		return l, errors.New("no hash of the line before")
	}
	hex.Decode(l.previous[:], previous)
	l.text = text
	return l, nil
}

// draftFile is a draft as read.
type draftFile struct {
	start   draftStart
	content DraftContent
	begun   int64  // where the last good line begins
	end     int64  // behind it, with its LF
	ended   bool   // that LF is there
	hash    digest // of the last good line
	number  int    // of the last good line
	foreign bool   // line 1 can be read and is not of the record that opened the draft
}

// readDraft reads the draft in a file that is named to people as name. A last line that has everything but its
// end of line counts.
func readDraft(name string, data []byte) draftFile {
	d := draftFile{ended: true}
	var kept []draftLine
	offset := int64(0)
	for place := 1; offset < int64(len(data)); place++ {
		text, _, whole := bytes.Cut(data[offset:], []byte("\n"))
		l, err := parseDraftLine(text)
		l.offset, l.end, l.place, l.hash, l.err = offset, offset+int64(len(text))+1, place, sha256.Sum256(text), err
		if !whole && err != nil {
			l.err = fmt.Errorf("torn: no end of line after the last %d bytes", len(text))
		}
		d.ended = whole || l.err != nil
		if l.err == nil && l.mark == '-' {
			kept, l.err = void(kept, l)
			if l.err == nil {
				d.content.Torn = append(d.content.Torn, Damage{Segment: name, Line: place, What: "the bytes from byte " + string(l.text) + " to this line are void: a write was cut off or failed"})
			}
		}
		kept = append(kept, l)
		offset = l.end
	}
	damage := func(l draftLine, what string) {
		d.content.Damage = append(d.content.Damage, Damage{Segment: name, Line: l.place, What: what})
	}
	if len(data) == 0 {
		damage(draftLine{}, "holds nothing")
	}
	for _, l := range kept {
		switch {
		case l.err != nil:
			damage(l, l.err.Error())
			continue
		case l.number != d.number+1:
			damage(l, fmt.Sprintf("number %d, want %d: lines before it are missing or damaged", l.number, d.number+1))
		case d.number > 0 && l.previous != d.hash:
			damage(l, fmt.Sprintf("hash of the line before is %s, want %s: it was replaced", d.hash, l.previous))
		}
		d.begun, d.end, d.number, d.hash = l.offset, l.end, l.number, l.hash
		switch {
		case l.mark == '-':
		case l.number > 1:
			d.content.Lines = append(d.content.Lines, l.text)
		case json.Unmarshal(l.text, &d.start) != nil || d.start.Opened.Hash != l.previous.String():
			d.start = draftStart{}
			damage(l, "not the start of a draft")
		}
	}
	d.content.Opened = Entry{Kind: d.start.Kind, Subject: d.start.Subject, Body: d.start.Body}
	return d
}

// void drops the lines that start at the byte that a mark names, or behind it. It refuses to drop one that reads as
// a line in its place: no write that failed leaves such a one to be dropped.
func void(lines []draftLine, mark draftLine) ([]draftLine, error) {
	offset, err := strconv.ParseInt(string(mark.text), 10, 64)
	if err != nil || offset < 0 {
		return lines, fmt.Errorf("void from %q", mark.text)
	}
	i := slices.IndexFunc(lines, func(l draftLine) bool { return l.offset >= offset })
	if i < 0 {
		return lines, nil
	}
	for _, l := range lines[i:] {
		if l.err == nil && (i == 0 || l.previous == lines[i-1].hash) {
			return lines, fmt.Errorf("makes void what reads as line %d of the draft", l.number)
		}
	}
	return lines[:i], nil
}

// draftFileName is how a draft's file is named, for an id that may hold anything printable: short, and of
// letters that no file system takes for others. An id that is such a name already stands as it is.
func draftFileName(id string) string {
	const plain = lower + digits + ".-"
	if len(id) <= 60 && madeOf(id, plain) && madeOf(id[:1], lower+digits) {
		return draftsName + "/" + id + ".jsonl"
	}
	readable := strings.Map(func(r rune) rune {
		if strings.ContainsRune(plain, r) {
			return r
		}
		return -1
	}, strings.ToLower(id))
	sum := sha256.Sum256([]byte(id))
	return fmt.Sprintf("%s/%.40s_%x.jsonl", draftsName, strings.TrimLeft(readable, ".-"), sum[:8])
}

func (l *Ledger) draftPath(id string) string {
	return filepath.Join(l.dir, filepath.FromSlash(draftFileName(id)))
}

// maxDraft is the most bytes of a draft.
const maxDraft = 64 << 20

// NewDraft begins a draft and records its opening in the chain, so that a draft thrown away shows. The id is any
// printable text. Where there is a draft of that id the error is fs.ErrExist, and OpenDraft takes it up.
func (l *Ledger) NewDraft(id string, opened Entry) (*Draft, error) {
	d, err := l.newDraft(id, opened)
	if err != nil {
		return nil, fmt.Errorf("beginning draft %q: %w", id, err)
	}
	return d, nil
}

func (l *Ledger) newDraft(id string, opened Entry) (*Draft, error) {
	if err := checkDraftID(id); err != nil {
		return nil, err
	}
	unlock, err := l.alone(l.opt.patience)
	if err != nil {
		return nil, err
	}
	defer unlock()
	if _, err := l.view(); err != nil {
		return nil, err
	}
	switch _, fate, err := l.readOpen(id); {
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return nil, err
	case fate == draftOpen || fate == draftUnknown || fate == draftStranger:
		return nil, fs.ErrExist
	}
	if err := makeFolder(l.opt.fsys, filepath.Join(l.dir, draftsName)); err != nil {
		return nil, err
	}
	opened.opens = id
	d := &Draft{ledger: l, id: id, next: 2}
	records, err := l.append([]Entry{opened}, func(lines []line) error {
		first := lines[len(lines)-1]
		ref := Ref{l.own, first.seq, first.hash.String()}
		start, err := json.Marshal(draftStart{id, ref, first.kind, first.Subject, first.body})
		if err != nil {
			return err
		}
		text := appendDraftLine(nil, 1, '+', first.hash, start)
		d.hash = sha256.Sum256(text[:len(text)-1])
		return putFile(l.opt.fsys, l.draftPath(id), text)
	})
	if err != nil {
		return nil, err
	}
	d.opened = records[0]
	return d, d.hold()
}

func checkDraftID(id string) error {
	if id == "" {
		return errors.New("it has no name")
	}
	return checkSubject(id)
}

// hold takes the draft's lock.
func (d *Draft) hold() error {
	lock, err := d.ledger.opt.fsys.Lock(d.ledger.draftPath(d.id), "")
	if errors.Is(err, errHeld) {
		return ErrLocked
	}
	d.lock = lock
	return err
}

// ReadDraft returns what a draft holds, whoever is writing it.
func (l *Ledger) ReadDraft(id string) (DraftContent, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, err := l.view(); err != nil {
		return DraftContent{}, fmt.Errorf("reading draft %q: %w", id, err)
	}
	f, _, err := l.readOpen(id)
	if err != nil {
		err = fmt.Errorf("reading draft %q: %w", id, err)
	}
	return f.content, err
}

// fate is what has become of a draft.
type fate int

const (
	draftMissing  fate = iota // there is no file
	draftOpen                 // the chain says that it was opened and not that it was closed
	draftClosed               // the chain says that it was closed with all its lines
	draftUnbegun              // its opening was never recorded, and it holds nothing else
	draftUnknown              // lines of the chain that would tell cannot be read
	draftStranger             // none of these
)

// readOpen reads a draft and says what has become of it, by what is known of the chain. What its first line should
// hold is filled in from the chain where it cannot be read.
func (l *Ledger) readOpen(id string) (draftFile, fate, error) {
	if err := checkDraftID(id); err != nil {
		return draftFile{}, draftMissing, err
	}
	data, err := readFrom(l.opt.fsys, l.draftPath(id), 0, maxDraft)
	if err != nil {
		return draftFile{}, draftMissing, err
	}
	f := readDraft(draftFileName(id), data)
	c := l.chain(l.own)
	at, open := c.heads.open[id]
	if !open { // when the chain was last looked at; what the file holds now was recorded before now
		if _, err := l.view(); err != nil {
			return f, draftUnknown, err
		}
		at, open = c.heads.open[id]
	}
	if open {
		opened, err := readLine(c.fsys, c.dir, at)
		switch {
		case err != nil:
			f.content.Damage = append(f.content.Damage, Damage{Segment: c.segmentFile(at.Segment), What: fmt.Sprintf("the record at byte %d, which opened it: %v", at.Offset, err)})
		case f.start.Draft == "":
			f.content.Opened = Entry{Kind: opened.kind, Subject: opened.Subject, Body: opened.body}
		case opened.hash.String() != f.start.Opened.Hash:
			f.foreign = true
			f.content.Damage = append(f.content.Damage, Damage{Segment: draftFileName(id), Line: 1, What: "not opened by the record that the chain names"})
		}
		return f, draftOpen, nil
	}
	opened, closed, unknown, err := l.fateOf(id, f)
	switch {
	case err != nil:
		return f, draftStranger, err
	case unknown && !closed:
		return f, draftUnknown, nil
	case closed:
		return f, draftClosed, nil
	case opened: // closed in vain
		return f, draftOpen, nil
	case f.number == 1 && len(f.content.Damage) == 0 && f.start.Draft == id:
		return f, draftUnbegun, nil
	}
	return f, draftStranger, nil
}

// fateOf looks in the chain for the opening and the closing of a draft, and says whether it has met lines that cannot be
// read and could be these.
func (l *Ledger) fateOf(id string, f draftFile) (opened, closed, unknown bool, err error) {
	if f.start.Opened.Seq == 0 {
		return false, false, false, nil
	}
	err = l.chain(l.own).walk(f.start.Opened.Seq-1, func(line line, err error) error {
		if err != nil {
			was, ok := repair(line.body)
			if !ok {
				unknown = true
				return nil
			}
			line = was
		}
		switch {
		case line.seq < f.start.Opened.Seq:
			unknown = false
		case line.seq == f.start.Opened.Seq:
			opened, unknown = line.hash.String() == f.start.Opened.Hash, false
		case opened && line.Closes != nil && line.Closes.Draft == id:
			closed = line.Closes.Lines >= uint64(f.number)
			return io.EOF
		}
		return nil
	})
	if err == io.EOF {
		err = nil
	}
	return opened, closed, unknown, err
}

// OpenDraft takes up a draft where it was left and returns what it holds. It returns ErrLocked when
// another process has it.
func (l *Ledger) OpenDraft(id string) (*Draft, DraftContent, error) {
	d, f, err := l.openDraft(id)
	if err != nil {
		return nil, DraftContent{}, fmt.Errorf("resuming draft %q: %w", id, err)
	}
	return d, f.content, nil
}

func (l *Ledger) openDraft(id string) (*Draft, draftFile, error) {
	if err := checkDraftID(id); err != nil {
		return nil, draftFile{}, err
	}
	if _, err := readFrom(l.opt.fsys, l.draftPath(id), 0, 1); err != nil {
		return nil, draftFile{}, err // before the lock makes the file
	}
	d := &Draft{ledger: l, id: id}
	if err := d.hold(); err != nil {
		return nil, draftFile{}, err
	}
	f, err := l.takeUp(d)
	if err != nil {
		d.Release()
		return nil, draftFile{}, err
	}
	return d, f, nil
}

// takeUp reads a draft that is held, and refuses one that is not open.
func (l *Ledger) takeUp(d *Draft) (draftFile, error) {
	if err := l.opt.fsys.SyncDir(filepath.Join(l.dir, draftsName)); err != nil {
		return draftFile{}, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.ownError != nil {
		return draftFile{}, l.ownError
	}
	if _, err := l.view(); err != nil {
		return draftFile{}, err
	}
	f, fate, err := l.readOpen(d.id)
	switch {
	case err != nil:
		return f, err
	case fate == draftClosed:
		return f, errors.New("it is closed")
	case fate == draftUnbegun:
		return f, fmt.Errorf("it was never begun: %w", fs.ErrNotExist)
	case fate == draftUnknown:
		return f, fmt.Errorf("the record that opened it, or closed it, cannot be read; \"ledger mend\" says what can be done")
	case fate == draftStranger || f.foreign:
		return f, fmt.Errorf("%s: no record of this ledger opened it; \"ledger mend\" says what can be done", draftFileName(d.id))
	}
	c := l.chain(l.own)
	if err := c.syncEnd(); err != nil { // the record that opened it may stand there
		return f, err
	}
	at, open := c.heads.open[d.id]
	if open {
		opened, err := readLine(c.fsys, c.dir, at)
		if err == nil {
			d.opened = c.record(opened)
		}
	}
	if d.hash, d.next = f.hash, f.number+1; f.number == 0 && open && d.opened.Seq == 0 {
		return f, fmt.Errorf("%s and the record that opened it cannot be read; \"ledger mend\" says what can be done", draftFileName(d.id))
	}
	return f, nil
}

// Drafts returns the ids of the drafts that were opened and not closed, sorted; those whose file is gone are not
// among them: see Unfinished.
func (l *Ledger) Drafts() ([]string, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, err := l.view(); err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	open := map[string]bool{}
	for id := range l.chain(l.own).heads.open {
		if _, err := readFrom(l.opt.fsys, l.draftPath(id), 0, 0); err == nil {
			open[id] = true
		}
	}
	strays, err := l.strays()
	if err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	for _, s := range strays {
		if s.fate == draftOpen {
			open[s.id] = true
		}
	}
	return slices.Sorted(maps.Keys(open)), nil
}

// stray is a file among the drafts that no draft known to be open accounts for.
type stray struct {
	file string // slash-separated, in the ledger's folder
	id   string // "" when that cannot be read
	fate fate
}

// strays returns the files among the drafts that no draft known to be open accounts for: closed ones whose deletion was
// cut off, ones never begun, ones closed in vain, and what was put there.
func (l *Ledger) strays() ([]stray, error) {
	files, err := listDrafts(l.opt.fsys, l.dir)
	if err != nil {
		return nil, err
	}
	known := map[string]bool{}
	for id := range l.chain(l.own).heads.open {
		known[draftFileName(id)] = true
	}
	var strays []stray
	for _, name := range files {
		if known[name] {
			continue
		}
		data, err := readFrom(l.opt.fsys, filepath.Join(l.dir, filepath.FromSlash(name)), 0, maxDraft)
		if errors.Is(err, fs.ErrNotExist) {
			continue // closed by another process meanwhile
		}
		s := stray{file: name, fate: draftStranger}
		if id := readDraft(name, data).start.Draft; err == nil && id != "" && draftFileName(id) == name {
			s.id = id
			_, s.fate, err = l.readOpen(id)
			if s.fate == draftMissing {
				continue
			}
			if err != nil {
				return nil, err
			}
		}
		strays = append(strays, s)
	}
	return strays, nil
}

// listDrafts returns the files of the drafts in a ledger, sorted.
func listDrafts(fsys fileSystem, ledger string) ([]string, error) {
	entries, err := fsys.ReadDir(filepath.Join(ledger, draftsName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ".jsonl") && e.Type() == 0 {
			names = append(names, draftsName+"/"+e.Name())
		}
	}
	return names, nil
}

// deleteClosed deletes the drafts whose deletion was cut off, and those that were never begun. The caller has the
// lock. One that cannot be deleted does no harm: it counts as closed all the same.
func (l *Ledger) deleteClosed() error {
	strays, err := l.strays()
	if err != nil {
		return err
	}
	for _, s := range strays {
		if s.fate == draftClosed || s.fate == draftUnbegun {
			l.opt.fsys.Remove(l.draftPath(s.id))
		}
	}
	return nil
}

// Append adds one line, without LF, and returns once it is on the medium. After an error the line is not
// acknowledged; it may yet stand in the draft, as a whole.
func (d *Draft) Append(text []byte) error {
	if err := d.append(text); err != nil {
		return fmt.Errorf("recording in draft %q: %w", d.id, err)
	}
	return nil
}

func (d *Draft) append(text []byte) error {
	if d.lock == nil {
		return errors.New("it has been let go")
	}
	if bytes.IndexByte(text, '\n') >= 0 || len(text) > maxBody {
		return fmt.Errorf("want one line of at most %d bytes", maxBody)
	}
	buf, hash, next, err := d.mend()
	if err != nil {
		return err
	}
	start := len(buf)
	buf = appendDraftLine(buf, next, '+', hash, text)
	hash = sha256.Sum256(buf[start : len(buf)-1])
	if d.size+int64(len(buf)) > maxDraft {
		return fmt.Errorf("it is full with %d bytes; close it and begin another", d.size)
	}
	if err := writeSynced(d.file, buf); err != nil {
		d.closeFile()
		return err
	}
	d.size += int64(len(buf))
	d.hash, d.next = hash, next+1
	return nil
}

// mend opens the file where it was left, and returns what must stand before the next line, with that line's number and
// the hash of the one before: the end of a line that lacks it, a mark that makes void what is torn, or the first line
// where that is lost. What stands at the end of the file is written again, as it is: a sync of it may have failed, and
// the system then holds it for done.
func (d *Draft) mend() (before []byte, hash digest, next int, err error) {
	if d.file != nil {
		return nil, d.hash, d.next, nil
	}
	fsys, name := d.ledger.opt.fsys, d.ledger.draftPath(d.id)
	data, err := readFrom(fsys, name, 0, maxDraft)
	if err != nil {
		return nil, hash, 0, err
	}
	f := readDraft(draftFileName(d.id), data)
	if f.number < d.next-1 {
		return nil, hash, 0, fmt.Errorf("%d lines can be read of %d acknowledged", f.number, d.next-1)
	}
	hash, next = f.hash, f.number+1
	switch {
	case f.number == 0: // nothing of it can be read
		start, err := json.Marshal(draftStart{d.id, d.opened.Ref(), d.opened.Kind, d.opened.Subject, d.opened.Body})
		if err != nil {
			return nil, hash, 0, err
		}
		if len(data) > 0 {
			before = []byte("\n")
		}
		from := len(before)
		hex.Decode(hash[:], []byte(d.opened.Hash))
		before = appendDraftLine(before, 1, '+', hash, start)
		hash, next = sha256.Sum256(before[from:len(before)-1]), 2
	case !f.ended:
		before = []byte("\n")
	case int64(len(data)) > f.end:
		before = appendDraftLine([]byte("\n"), next, '-', hash, strconv.AppendInt(nil, f.end, 10))
		hash, next = sha256.Sum256(before[1:len(before)-1]), next+1
	}
	if f.number > 0 {
		if err := writeAgain(fsys, name, f.begun, data); err != nil {
			return nil, hash, 0, err
		}
	}
	d.size = int64(len(data))
	d.file, err = fsys.OpenFile(name, os.O_WRONLY|os.O_APPEND)
	return before, hash, next, err
}

func (d *Draft) closeFile() {
	if d.file != nil {
		d.file.Close() // what matters was synced
		d.file = nil
	}
}

// Close records the entries that end the draft, and deletes it once they are on the medium. It waits for its turn as
// long as it takes. After an error the draft goes on.
func (d *Draft) Close(entries ...Entry) ([]Record, error) {
	records, err := d.close(entries)
	if err != nil {
		return nil, fmt.Errorf("closing draft %q: %w", d.id, err)
	}
	return records, nil
}

func (d *Draft) close(entries []Entry) ([]Record, error) {
	if d.lock == nil {
		return nil, errors.New("it has been let go")
	}
	if len(entries) == 0 {
		return nil, errors.New("no record says how it ended")
	}
	if d.file == nil && d.next > 1 { // a line that was not acknowledged may stand there
		if data, err := readFrom(d.ledger.opt.fsys, d.ledger.draftPath(d.id), 0, maxDraft); err == nil {
			if f := readDraft(draftFileName(d.id), data); f.number >= d.next {
				d.hash, d.next = f.hash, f.number+1
			}
		}
	}
	entries = slices.Clone(entries)
	entries[len(entries)-1].closes = &closing{d.id, uint64(d.next - 1), d.hash.String()}
	l := d.ledger
	unlock, err := l.alone(1 << 62) // as long as it takes
	if err != nil {
		return nil, err
	}
	defer unlock()
	records, err := l.append(entries, nil)
	if err != nil {
		return nil, err
	}
	l.opt.fsys.Remove(l.draftPath(d.id)) // one that stays is deleted by the next Open
	d.Release()
	return records, nil
}

// Release lets go of the draft without closing it: it can be taken up again.
func (d *Draft) Release() error {
	d.closeFile()
	if d.lock == nil {
		return nil
	}
	err := d.lock.Close()
	d.lock = nil
	return err
}
