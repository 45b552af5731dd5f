package ledger

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Beside the chains stands what a register has told of subjects that were asked for, of lines that no chain here holds:
//
//	elsewhere/<subject>.jsonl   a line that says who was asked when, then a line of each record: its bench, SP, and the line as
//	                            it stands in that bench's chain
//	elsewhere/counter           the most of all their counters
//	elsewhere/names             what the register calls the benches, by their ids
//
// Such a line is whole, by its check value, and by its hash it can be held against its chain wherever that is; here it
// follows no line and leads to no head. So it is a register's word, and every record of it says so. What was told once
// stays, whatever is told later.
const (
	elsewhereName = "elsewhere"
	counterName   = "counter"
	namesName     = "names"
)

// mostTold is the most bytes of what is told of one subject, mostNames of the names of all benches.
const (
	mostTold  = 64 << 20
	mostNames = 1 << 20
)

// Told says of which subject something was asked, whom, and when.
type Told struct {
	Subject string `json:"subject"`
	By      string `json:"by"`    // the register's address
	Asked   string `json:"asked"` // RFC 3339
}

// At returns when it was asked; the zero time where that cannot be read.
func (t Told) At() time.Time {
	at, _ := time.Parse(time.RFC3339, t.Asked)
	return at
}

// toldName is the file of a subject: its name with what a file's name cannot hold spelled as %XX.
func toldName(subject string) (string, error) {
	var name strings.Builder
	for _, b := range []byte(subject) {
		if madeOf(string(rune(b)), digits+lower+upper+"-_.") && b < 0x80 {
			name.WriteByte(b)
		} else {
			fmt.Fprintf(&name, "%%%02X", b)
		}
	}
	if name.Len() > 240 || subject == "" {
		return "", fmt.Errorf("subject %.60q: too long to be asked for elsewhere", subject)
	}
	return name.String() + ".jsonl", nil
}

func subjectOfTold(name string) (string, bool) {
	name, ok := strings.CutSuffix(name, ".jsonl")
	var subject strings.Builder
	for rest := name; ok && rest != ""; {
		before, after, escaped := strings.Cut(rest, "%")
		subject.WriteString(before)
		if rest = after; escaped {
			b, err := strconv.ParseUint(rest[:min(2, len(rest))], 16, 8)
			if err != nil || len(rest) < 2 {
				return "", false
			}
			subject.WriteByte(byte(b))
			rest = rest[2:]
		}
	}
	return subject.String(), ok
}

// KeepTold keeps what a register has told of subjects: lines of any benches, each with its bench and a space before it.
// Asked has one of each subject that was asked for; of one that is known here and that nothing is told of it is kept that it was.
// Every line is checked by itself. It returns how many were not known here. Where the lines end with an error, nothing
// is kept.
func (l *Ledger) KeepTold(asked []Told, lines iter.Seq2[[]byte, error]) (fresh int, err error) {
	told := map[string][]toldLine{}
	for _, t := range asked {
		told[t.Subject] = nil
	}
	for text, err := range lines {
		if err != nil {
			return 0, err
		}
		r, err := readTold(text)
		if err != nil {
			return 0, fmt.Errorf("what the register tells: %w", err)
		}
		if _, ok := told[r.Subject]; !ok {
			return 0, fmt.Errorf("what the register tells: number %d of bench %s is of %q, which was not asked for", r.Seq, r.Bench, r.Subject)
		}
		told[r.Subject] = append(told[r.Subject], r)
	}
	end, err := l.alone(l.opt.patience)
	if err != nil {
		return 0, err
	}
	defer end()
	chains, err := l.view()
	if err != nil {
		return 0, err
	}
	if err := makeFolder(l.opt.fsys, filepath.Join(l.dir, elsewhereName)); err != nil {
		return 0, err
	}
	most, err := l.toldCounter()
	if err != nil {
		return 0, err
	}
	known := most
	for _, c := range chains {
		known = max(known, c.tail.counter)
	}
	for _, t := range asked {
		here := slices.ContainsFunc(chains, func(c *chain) bool { _, is := c.heads.last(t.Subject); return is })
		if !here && len(told[t.Subject]) == 0 {
			continue // nobody knows it: a slip of the fingers
		}
		n, counter, err := l.keepTold(t, told[t.Subject], known)
		if err != nil {
			return fresh, err
		}
		fresh, most = fresh+n, max(most, counter)
	}
	return fresh, nil
}

// keepTold keeps what was told of one subject with what was told of it before. The counter comes first: nothing may be
// recorded below one that was seen.
func (l *Ledger) keepTold(t Told, now []toldLine, known uint64) (fresh int, counter uint64, err error) {
	name, err := toldName(t.Subject)
	if err != nil {
		return 0, 0, err
	}
	_, before, err := l.readTold(t.Subject)
	if err != nil && !errors.As(err, new(*DamageError)) { // what is damaged is told anew
		return 0, 0, err
	}
	all := before
	for _, r := range now {
		if r.Counter > known+furthestCounter {
			return 0, 0, fmt.Errorf("what the register tells: number %d of bench %s has the counter %d, where the most known is %d: no bench makes so many records", r.Seq, r.Bench, r.Counter, known)
		}
		counter = max(counter, r.Counter)
		if !slices.ContainsFunc(before, func(b toldLine) bool { return b.Ref() == r.Ref() }) {
			all, fresh = append(all, r), fresh+1
		}
	}
	if most, err := l.toldCounter(); err != nil {
		return 0, 0, err
	} else if counter > most {
		if err := putFile(l.opt.fsys, filepath.Join(l.dir, elsewhereName, counterName), withCheck(strconv.AppendUint(nil, counter, 10))); err != nil {
			return 0, 0, err
		}
	}
	head, err := json.Marshal(t)
	if err != nil {
		return 0, 0, err
	}
	data := withCheck(head)
	for _, r := range all {
		data = append(data, r.text...)
	}
	if len(data) > mostTold {
		return 0, 0, fmt.Errorf("what is told of %q has more than %d bytes", t.Subject, mostTold)
	}
	return fresh, counter, putFile(l.opt.fsys, filepath.Join(l.dir, elsewhereName, name), data)
}

// toldLine is one record as it was told, with the bytes.
type toldLine struct {
	Record
	text []byte // bench, SP, line, LF
}

func readTold(text []byte) (toldLine, error) {
	text = bytes.Clone(text)
	bench, line, ok := bytes.Cut(text, []byte(" "))
	if !ok || !benchPattern.Match(bench) {
		return toldLine{}, fmt.Errorf("%.40q: no bench's id before a line", text)
	}
	r, err := ReadLine(string(bench), line)
	if err != nil {
		return toldLine{}, err
	}
	r.Told = true
	return toldLine{r, text}, nil
}

// readTold returns what was told of a subject; a DamageError comes with what can be read.
func (l *Ledger) readTold(subject string) (Told, []toldLine, error) {
	name, err := toldName(subject)
	if err != nil {
		return Told{}, nil, nil // it was never asked for
	}
	data, err := readFrom(l.opt.fsys, filepath.Join(l.dir, elsewhereName, name), 0, mostTold)
	if errors.Is(err, fs.ErrNotExist) {
		return Told{}, nil, nil
	}
	if err != nil {
		return Told{}, nil, err
	}
	var t Told
	var all []toldLine
	var damage []Damage
	number := 0
	for text := range bytes.Lines(data) {
		number++
		var err error
		if number == 1 {
			var head []byte
			if head, err = checked(bytes.TrimSuffix(text, []byte("\n"))); err == nil {
				if err = json.Unmarshal(head, &t); err == nil && t.Subject != subject {
					err = fmt.Errorf("it is of %q", t.Subject)
				}
			}
		} else {
			var r toldLine
			if r, err = readTold(text); err == nil && r.Subject != subject {
				err = fmt.Errorf("it is of %q", r.Subject)
			}
			if err == nil {
				all = append(all, r)
			}
		}
		if err != nil {
			damage = append(damage, Damage{
				Segment: elsewhereName + "/" + name, Line: number, Subject: subject,
				What: fmt.Sprintf("what the register told: %v; \"flutelog register fetch\" asks it again", err),
			})
		}
	}
	if len(damage) > 0 {
		return t, all, &DamageError{damage}
	}
	return t, all, nil
}

// Told says when a register was last asked for a subject; the zero Told for never.
func (l *Ledger) Told(subject string) (Told, error) {
	t, _, err := l.readTold(subject)
	if errors.As(err, new(*DamageError)) {
		err = nil // a history names it
	}
	return t, err
}

// KeepNames keeps what a register calls benches, by their ids, in place of what it called them before.
func (l *Ledger) KeepNames(names map[string]string) error {
	end, err := l.alone(l.opt.patience)
	if err != nil {
		return err
	}
	defer end()
	known := l.names()
	all := maps.Clone(known)
	for bench, name := range names {
		if benchPattern.MatchString(bench) && checkSubject(name) == nil {
			all[bench] = name
		}
	}
	if maps.Equal(all, known) {
		return nil
	}
	text, err := json.Marshal(all)
	if err != nil {
		return err
	}
	if err := makeFolder(l.opt.fsys, filepath.Join(l.dir, elsewhereName)); err != nil {
		return err
	}
	return putFile(l.opt.fsys, filepath.Join(l.dir, elsewhereName, namesName), withCheck(text))
}

// names returns what the register calls benches. Where that cannot be read they are told by their ids, until it is told again.
func (l *Ledger) names() map[string]string {
	names := map[string]string{}
	data, err := readFrom(l.opt.fsys, filepath.Join(l.dir, elsewhereName, namesName), 0, mostNames)
	if err == nil {
		data, err = checked(bytes.TrimSuffix(data, []byte("\n")))
	}
	if err != nil || json.Unmarshal(data, &names) != nil {
		return map[string]string{}
	}
	return names
}

// AllTold returns the subjects that a register was asked for, each with a mark that changes when more of it is told, or benches get other
// names.
func (l *Ledger) AllTold() (map[string]string, error) {
	entries, err := l.opt.fsys.ReadDir(filepath.Join(l.dir, elsewhereName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	all, names := map[string]string{}, ""
	if info, err := l.opt.fsys.Lstat(filepath.Join(l.dir, elsewhereName, namesName)); err == nil {
		names = fmt.Sprintf(" %d", info.ModTime().UnixNano())
	}
	for _, e := range entries {
		subject, ok := subjectOfTold(e.Name())
		if !ok {
			continue
		}
		info, err := l.opt.fsys.Lstat(filepath.Join(l.dir, elsewhereName, e.Name()))
		if err != nil {
			return nil, err
		}
		all[subject] = fmt.Sprintf("%d %d%s", info.ModTime().UnixNano(), info.Size(), names)
	}
	return all, nil
}

// toldSubjects returns the subjects that begin with prefix and of which records were told.
func (l *Ledger) toldSubjects(prefix string) ([]string, error) {
	entries, err := l.opt.fsys.ReadDir(filepath.Join(l.dir, elsewhereName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var subjects []string
	for _, e := range entries {
		subject, ok := subjectOfTold(e.Name())
		if !ok || !strings.HasPrefix(subject, prefix) {
			continue
		}
		top, err := readFrom(l.opt.fsys, filepath.Join(l.dir, elsewhereName, e.Name()), 0, 2048)
		if err != nil {
			return nil, err
		}
		if _, records, _ := bytes.Cut(top, []byte("\n")); len(records) > 0 {
			subjects = append(subjects, subject)
		}
	}
	return subjects, nil
}

// toldCounter returns the most counter that was told.
func (l *Ledger) toldCounter() (uint64, error) {
	name := filepath.Join(l.dir, elsewhereName, counterName)
	data, err := readFrom(l.opt.fsys, name, 0, 64)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	text, err := checked(bytes.TrimSuffix(data, []byte("\n")))
	if err != nil {
		return 0, fmt.Errorf("%s: %w; delete it, and ask the register again", name, err)
	}
	return strconv.ParseUint(string(text), 10, 64)
}

// toldOf returns the records that were told of a subject and that stand in no chain here, newest first. What stands here
// under the same number of the same bench counts, and not what was told.
func (l *Ledger) toldOf(subject string, chains []chain) ([]Record, error) {
	_, all, err := l.readTold(subject)
	var records []Record
	names := map[string]string{}
	if len(all) > 0 {
		names = l.names()
	}
	for _, r := range all {
		r.Named = names[r.Bench]
		if !slices.ContainsFunc(chains, func(c chain) bool { return c.bench == r.Bench && c.tail.seq+c.unread >= r.Seq }) {
			records = append(records, r.Record)
		}
	}
	slices.SortFunc(records, func(a, b Record) int { return Compare(b, a) })
	return records, err
}
