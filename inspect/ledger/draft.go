package ledger

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
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
	lock   io.Closer // nil once let go
	file   file      // nil before the first write and after a failed one
	size   int64     // of the file, while it is open
	end    int64     // behind the last good line
	next   int       // number of the next line
}

// DraftContent is what a draft holds.
type DraftContent struct {
	Opened Entry    // the record that opened it
	Lines  [][]byte // what was appended
	Torn   []Damage // what was never acknowledged: writes cut off or failed
	Damage []Damage // what else does not read as it was written
}

// draftStart is the first line of a draft.
type draftStart struct {
	After   uint64          `json:"after"` // the number of the last line in the chain before
	Kind    string          `json:"kind"`
	Subject string          `json:"subject"`
	Body    json.RawMessage `json:"body"`
}

// appendDraftLine writes one line of a draft:
//
//	line   = check SP number SP mark SP text LF
//	check  = as in a chain's line
//	number = decimal, from 1, no leading zero
//	mark   = "+" before a text of the caller's; in line 1 the text is a draftStart
//	         "-" before the number of a byte: the bytes from there to this line are void
//
// A line of a real draft:
//
//	4109a04e 2 + {"feature":"land","flute":1,"value":"0.0312in"}
func appendDraftLine(dst []byte, number int, mark byte, text []byte) []byte {
	return append(dst, withCheck(fmt.Appendf(nil, "%d %c %s", number, mark, text))...)
}

// parseDraftLine reads one line, given without its LF.
func parseDraftLine(text []byte) (number int, mark byte, rest []byte, err error) {
	body, err := checked(text)
	if err != nil {
		return 0, 0, nil, err
	}
	digits, rest, _ := bytes.Cut(body, []byte(" "))
	number, err = strconv.Atoi(string(digits))
	if err != nil || number < 1 || strconv.Itoa(number) != string(digits) {
		return 0, 0, nil, fmt.Errorf("line number %q", digits)
	}
	if !bytes.HasPrefix(rest, []byte("+ ")) && !bytes.HasPrefix(rest, []byte("- ")) {
		return 0, 0, nil, fmt.Errorf("mark %.2q, want \"+ \" or \"- \"", rest)
	}
	return number, rest[0], rest[2:], nil
}

// draftLine is a line of a draft as read.
type draftLine struct {
	offset, end int64
	place       int // in the file, from 1
	number      int
	mark        byte
	text        []byte
	err         error
}

// draftFile is a draft as read.
type draftFile struct {
	start   draftStart
	content DraftContent
	end     int64 // behind the last good line
	number  int   // of the last good line
}

// readDraft reads the draft in a file that is named to people as name.
func readDraft(name string, data []byte) draftFile {
	var d draftFile
	var kept []draftLine
	offset := int64(0)
	for place := 1; offset < int64(len(data)); place++ {
		text, _, whole := bytes.Cut(data[offset:], []byte("\n"))
		l := draftLine{offset: offset, end: offset + int64(len(text)) + 1, place: place}
		l.number, l.mark, l.text, l.err = parseDraftLine(text)
		if !whole {
			l.err = fmt.Errorf("torn: no end of line after the last %d bytes", len(text))
		}
		if l.err == nil && l.mark == '-' {
			kept, l.err = void(kept, l.text)
			d.content.Torn = append(d.content.Torn, Damage{name, place, "the bytes from byte " + string(l.text) + " to this line are void: a write was cut off or failed"})
		}
		kept = append(kept, l)
		offset = l.end
	}
	d.take(name, kept)
	return d
}

// void drops the lines that start at a byte or behind it.
func void(lines []draftLine, from []byte) ([]draftLine, error) {
	offset, err := strconv.ParseInt(string(from), 10, 64)
	if err != nil {
		return lines, fmt.Errorf("void from %q", from)
	}
	return slices.DeleteFunc(lines, func(l draftLine) bool { return l.offset >= offset }), nil
}

// take sorts the lines kept into what was appended and what is wrong.
func (d *draftFile) take(name string, kept []draftLine) {
	damage := func(l draftLine, what string) {
		d.content.Damage = append(d.content.Damage, Damage{name, l.place, what})
	}
	for _, l := range kept {
		if l.err != nil {
			damage(l, l.err.Error())
			continue
		}
		if l.number != d.number+1 {
			damage(l, fmt.Sprintf("number %d, want %d: lines before it are missing or damaged", l.number, d.number+1))
		}
		d.end, d.number = l.end, l.number
		switch {
		case l.mark == '-':
		case l.number > 1:
			d.content.Lines = append(d.content.Lines, l.text)
		case json.Unmarshal(l.text, &d.start) != nil:
			damage(l, "not the start of a draft")
		}
	}
	d.content.Opened = Entry{Kind: d.start.Kind, Subject: d.start.Subject, Body: d.start.Body}
}

func draftFileName(id string) string { return draftsName + "/" + id + ".jsonl" }

func draftPath(ledger, id string) string { return filepath.Join(ledger, draftsName, id+".jsonl") }

func (l *Ledger) draftPath(id string) string { return draftPath(l.dir, id) }

// maxDraft is the most bytes of a draft.
const maxDraft = 64 << 20

// NewDraft begins a draft and records its opening in the chain, so that a draft thrown away shows. The id
// names the draft's file: letters, digits, ".", "_" and "-". Where there is a draft of that name, even one
// whose beginning has failed, the error is fs.ErrExist, and OpenDraft takes it up.
func (l *Ledger) NewDraft(id string, opened Entry) (*Draft, error) {
	d, err := l.newDraft(id, opened)
	if err != nil {
		return nil, fmt.Errorf("beginning draft %q: %w", id, err)
	}
	return d, nil
}

func (l *Ledger) newDraft(id string, opened Entry) (*Draft, error) {
	if !isID(id) {
		return nil, errors.New("want letters, digits, \".\", \"_\" and \"-\", a letter or digit first")
	}
	checked, err := checkEntries([]Entry{opened})
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	d, err := l.placeDraft(id, checked[0])
	if err != nil {
		return nil, err
	}
	checked[0].opens = id
	if _, err := l.append(checked); err != nil {
		d.Release()
		l.opt.fsys.Remove(l.draftPath(id)) // holds nothing yet, and may stay
		return nil, err
	}
	return d, nil
}

// placeDraft makes the draft's file with its first line.
func (l *Ledger) placeDraft(id string, opened Entry) (*Draft, error) {
	if l.ownError != nil {
		return nil, l.ownError
	}
	unlock, err := l.lock()
	if err != nil {
		return nil, err
	}
	defer unlock.Close()
	if _, err := readFrom(l.opt.fsys, l.draftPath(id), 0, 1); !errors.Is(err, fs.ErrNotExist) {
		return nil, cmp.Or(err, fs.ErrExist)
	}
	c := l.chain(l.own)
	if err := c.refresh(); err != nil {
		return nil, err
	}
	start, err := json.Marshal(draftStart{c.tail.seq, opened.Kind, opened.Subject, opened.Body})
	if err != nil {
		return nil, err
	}
	if err := makeFolder(l.opt.fsys, filepath.Join(l.dir, draftsName)); err != nil {
		return nil, err
	}
	first := appendDraftLine(nil, 1, '+', start)
	if err := putFile(l.opt.fsys, l.draftPath(id), first); err != nil {
		return nil, err
	}
	d := &Draft{ledger: l, id: id, end: int64(len(first)), next: 2}
	return d, d.hold()
}

// hold takes the draft's lock.
func (d *Draft) hold() error {
	lock, err := d.ledger.opt.fsys.Lock(d.ledger.draftPath(d.id))
	if errors.Is(err, errHeld) {
		return ErrLocked
	}
	d.lock = lock
	return err
}

// ReadDraft returns what a draft holds, whoever is writing it.
func (l *Ledger) ReadDraft(id string) (DraftContent, error) {
	f, err := l.readDraft(id)
	return f.content, err
}

func (l *Ledger) readDraft(id string) (draftFile, error) {
	if !isID(id) {
		return draftFile{}, fmt.Errorf("draft %q: no such name", id)
	}
	data, err := readFrom(l.opt.fsys, l.draftPath(id), 0, maxDraft)
	if err != nil {
		return draftFile{}, fmt.Errorf("reading draft %q: %w", id, err)
	}
	return readDraft(draftFileName(id), data), nil
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
	if _, err := l.readDraft(id); err != nil {
		return nil, draftFile{}, err // before the lock makes the file
	}
	d := &Draft{ledger: l, id: id}
	if err := d.hold(); err != nil {
		return nil, draftFile{}, err
	}
	f, err := l.readDraft(id)
	if err == nil {
		err = l.takeUp(id, f)
	}
	if err != nil {
		d.Release()
		return nil, draftFile{}, err
	}
	d.end, d.next = f.end, f.number+1
	return d, f, nil
}

// takeUp refuses a draft that is closed, and finishes the beginning of one that a power cut has cut short.
func (l *Ledger) takeUp(id string, f draftFile) error {
	if err := l.opt.fsys.SyncDir(filepath.Join(l.dir, draftsName)); err != nil {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.ownError != nil {
		return l.ownError
	}
	opened, closed, err := l.fateOf(id, f)
	switch {
	case err != nil:
		return err
	case closed:
		return errors.New("it is closed")
	case opened || f.start.Kind == "":
		return nil
	}
	entry := f.content.Opened
	entry.opens = id
	_, err = l.append([]Entry{entry})
	return err
}

// fateOf says whether the chain holds the opening and the closing of a draft.
func (l *Ledger) fateOf(id string, f draftFile) (opened, closed bool, err error) {
	c := l.chain(l.own)
	if _, err := l.view(); err != nil {
		return false, false, err
	}
	if _, open := c.heads.open[id]; open {
		return true, false, nil
	}
	err = c.walk(f.start.After, func(line line, err error) error {
		if err != nil || line.seq <= f.start.After {
			return nil
		}
		opened = opened || line.Opens == id
		closed = closed || line.Closes != nil && line.Closes.Draft == id && line.Closes.Lines >= uint64(f.number)
		return nil
	})
	return opened, closed, err
}

// Drafts returns the ids of the drafts that are not closed, sorted.
func (l *Ledger) Drafts() ([]string, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	open, _, err := l.sortDrafts()
	if err != nil {
		return nil, fmt.Errorf("reading ledger %q: %w", l.dir, err)
	}
	return open, nil
}

// sortDrafts tells the drafts that are open from those whose closing is in the chain.
func (l *Ledger) sortDrafts() (open, closed []string, err error) {
	ids, err := listDrafts(l.opt.fsys, l.dir)
	if err != nil {
		return nil, nil, err
	}
	for _, id := range ids {
		f, err := l.readDraft(id)
		if err != nil {
			return nil, nil, err
		}
		_, isClosed, err := l.fateOf(id, f)
		if err != nil {
			return nil, nil, err
		}
		if isClosed {
			closed = append(closed, id)
		} else {
			open = append(open, id)
		}
	}
	return open, closed, nil
}

// listDrafts returns the ids of the drafts in a ledger, sorted.
func listDrafts(fsys fileSystem, ledger string) ([]string, error) {
	entries, err := fsys.ReadDir(filepath.Join(ledger, draftsName))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	var ids []string
	for _, e := range entries {
		if id, ok := strings.CutSuffix(e.Name(), ".jsonl"); ok && isID(id) {
			ids = append(ids, id)
		}
	}
	return ids, nil
}

// deleteClosed deletes the drafts whose deletion a power cut has prevented. One that cannot be deleted does
// no harm: it counts as closed all the same.
func (l *Ledger) deleteClosed() error {
	_, closed, err := l.sortDrafts()
	if err != nil {
		return err
	}
	for _, id := range closed {
		l.opt.fsys.Remove(l.draftPath(id))
	}
	return nil
}

// Append adds one line, without LF, and returns once it is on the medium. After an error the line is not
// acknowledged, and the next Append makes void what of it was written.
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
	buf, next, err := d.mend()
	if err != nil {
		return err
	}
	buf = appendDraftLine(buf, next, '+', text)
	if d.size+int64(len(buf)) > maxDraft {
		return fmt.Errorf("it is full with %d bytes; close it and begin another", d.size)
	}
	if err := writeSynced(d.file, buf); err != nil {
		d.closeFile()
		return err
	}
	d.size += int64(len(buf))
	d.end, d.next = d.size, next+1
	return nil
}

// mend opens the file where that is needed and returns what must stand before the next line, with that
// line's number: where the file goes on behind the last good line, that is made void.
func (d *Draft) mend() (before []byte, next int, err error) {
	if d.file != nil {
		return nil, d.next, nil
	}
	f, err := d.ledger.opt.fsys.OpenFile(d.ledger.draftPath(d.id), os.O_WRONLY|os.O_APPEND)
	if err != nil {
		return nil, 0, err
	}
	info, err := f.Stat()
	if err == nil && info.Size() < d.end {
		err = fmt.Errorf("%d bytes are left of %d acknowledged", info.Size(), d.end)
	}
	if err != nil {
		f.Close()
		return nil, 0, err
	}
	d.file, d.size = f, info.Size()
	if d.size == d.end {
		return nil, d.next, nil
	}
	void := appendDraftLine([]byte("\n"), d.next, '-', strconv.AppendInt(nil, d.end, 10))
	return void, d.next + 1, nil
}

func (d *Draft) closeFile() {
	if d.file != nil {
		d.file.Close() // what matters was synced
		d.file = nil
	}
}

// Close records the entries that end the draft, and deletes it once they are on the medium. After an error
// the draft goes on.
func (d *Draft) Close(entries ...Entry) ([]Record, error) {
	if d.lock == nil {
		return nil, fmt.Errorf("closing draft %q: it has been let go", d.id)
	}
	if len(entries) == 0 {
		return nil, fmt.Errorf("closing draft %q: no record says how it ended", d.id)
	}
	entries = slices.Clone(entries)
	entries[len(entries)-1].closes = &closing{d.id, uint64(d.next - 1)}
	records, err := d.ledger.Append(entries...)
	if err != nil {
		return nil, fmt.Errorf("closing draft %q: %w", d.id, err)
	}
	d.Release()
	d.ledger.opt.fsys.Remove(d.ledger.draftPath(d.id)) // one that stays is deleted by the next Open
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
