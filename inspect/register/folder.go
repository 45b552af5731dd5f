package register

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"flutelog/inspect/ledger"
)

// What a bench keeps of its register stands in a folder of the ledger's:
//
//	register/enrolment   the line that fluteregister enrol printed; secret
//	register/receipts    the last acknowledgements, a Receipt each
//	register/status      how the last sending went, a Status
//	register/lock        held while a receipt is added
//
// Only the enrolment is needed to go on.
const (
	folderName    = "register"
	enrolmentName = "enrolment"
	receiptsName  = "receipts"
	statusName    = "status"
	lockName      = "lock"
)

// mostReceipts is how many receipts are kept.
const mostReceipts = 200

// Join keeps an enrolment in a ledger's folder, in place of any there. The ledger need not be there yet.
func Join(dir string, e Enrolment) error {
	if err := put(dir, enrolmentName, []byte(e.String()+"\n")); err != nil {
		return err
	}
	return Forget(dir)
}

// Forget lets go of how the last sending went: the bench has another id.
func Forget(dir string) error { return put(dir, statusName, nil) }

// Joined returns the enrolment that a ledger's folder holds, and whether there is one.
func Joined(dir string) (Enrolment, bool, error) {
	text, err := os.ReadFile(filepath.Join(dir, folderName, enrolmentName))
	if errors.Is(err, fs.ErrNotExist) {
		return Enrolment{}, false, nil
	}
	var e Enrolment
	if err == nil {
		e, err = ParseEnrolment(string(text))
	}
	if err != nil {
		return e, false, fmt.Errorf("%s: %w", filepath.Join(dir, folderName, enrolmentName), err)
	}
	return e, true, nil
}

// Joins says whether a ledger's folder holds an enrolment, whatever it reads as.
func Joins(dir string) bool {
	_, err := os.Lstat(filepath.Join(dir, folderName, enrolmentName))
	return err == nil
}

// put puts a file in its place, whole or not at all.
func put(dir, name string, data []byte) error {
	if err := os.MkdirAll(filepath.Join(dir, folderName), 0o700); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Join(dir, folderName), name+"-*") // mode 0600
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err == nil {
		err = os.Rename(f.Name(), filepath.Join(dir, folderName, name))
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}

// Receipt is one acknowledgement: what the register had of the own chain, and where its own ledger ended then.
type Receipt struct {
	Date    string // by the register's clock, RFC 3339, UTC
	Address string // the register's
	Head    string // of the own chain, a ledger.Head in print
	Witness string // the last line of the register's ledger, a ledger.Head in print; "" for none
}

// Receipts returns the receipts that a ledger's folder holds, the oldest first.
func Receipts(dir string) ([]Receipt, error) {
	text, err := os.ReadFile(filepath.Join(dir, folderName, receiptsName))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var all []Receipt
	for line := range strings.Lines(string(text)) {
		f := strings.Fields(line)
		if len(f) != 4 {
			return all, fmt.Errorf("%s: %q is no receipt: want a date, an address, a head and a witness", filepath.Join(dir, folderName, receiptsName), line)
		}
		r := Receipt{f[0], f[1], f[2], strings.TrimPrefix(f[3], "-")}
		if _, err := ledger.ParseHead(r.Head); err != nil {
			return all, fmt.Errorf("%s: %w", filepath.Join(dir, folderName, receiptsName), err)
		}
		all = append(all, r)
	}
	return all, err
}

// addReceipt keeps a receipt, unless the newest is of the same line and witness.
func addReceipt(dir string, r Receipt) error {
	lock, err := ledger.Hold(filepath.Join(dir, folderName, lockName))
	if err != nil {
		return nil // another sender keeps its own; the next acknowledgement is of more
	}
	defer lock.Close()
	all, err := Receipts(dir)
	if err != nil {
		return err
	}
	if n := len(all); n > 0 && all[n-1].Head == r.Head && all[n-1].Witness == r.Witness {
		return nil
	}
	all = append(all, r)
	var text bytes.Buffer
	for _, r := range all[max(0, len(all)-mostReceipts):] {
		witness := r.Witness
		if witness == "" {
			witness = "-"
		}
		fmt.Fprintf(&text, "%s %s %s %s\n", r.Date, r.Address, r.Head, witness)
	}
	return put(dir, receiptsName, text.Bytes())
}

// Trouble is what keeps a bench's lines from its register until a person does something.
type Trouble string

// The troubles.
const (
	TroubleFork     Trouble = "fork"
	TroubleBehind   Trouble = "behind"
	TroubleClosed   Trouble = "closed"
	TroubleStranger Trouble = "not known" // the token is not known any more, or another bench's
	TroubleKey      Trouble = "other key"
	TroubleDamaged  Trouble = "damaged" // a line is not taken
)

// Status is how the last sending went. It is what boards and pages show; nothing is decided from it but that an old copy
// records nothing.
type Status struct {
	Register string      `json:"register"`         // its address
	Tried    string      `json:"tried"`            // by this machine's clock, RFC 3339, as the next ones
	Answered string      `json:"answered"`         // when the register answered last; "" for never
	Failure  string      `json:"failure"`          // why the last sending did not end well; "" when it did
	Trouble  Trouble     `json:"trouble"`          // "" for none
	Words    string      `json:"words"`            // what the trouble is, and what to do
	Sent     ledger.Head `json:"sent"`             // what the register has of the own chain, as far as that is known
	Common   ledger.Head `json:"common,omitempty"` // of a fork: the last line that both have
}

// ReadStatus returns how the last sending went; the zero Status where there was none.
func ReadStatus(dir string) Status {
	var s Status
	text, err := os.ReadFile(filepath.Join(dir, folderName, statusName))
	if err != nil || json.Unmarshal(text, &s) != nil {
		return Status{}
	}
	return s
}

// Refuses says why a ledger must not record: it is an old copy, and whatever it recorded would be a fork. It is nil
// otherwise, for a fork too.
func Refuses(dir string, own ledger.Head) error {
	s := ReadStatus(dir)
	if s.Trouble != TroubleBehind || s.Sent.Bench != own.Bench || own.Seq >= s.Sent.Seq {
		return nil
	}
	return fmt.Errorf("%w first. Where the register is gone for good, \"flutelog register renew --by NAME --why WHY\" goes on under a new id, for which the register then prints a new line: fluteregister enrol", &Behind{own, s.Sent})
}

// Line says in one line how the sending stands, for boards and pages.
func (s Status) Line(own ledger.Head, now time.Time) string {
	switch s.Trouble {
	case TroubleFork:
		return fmt.Sprintf("register: FORK from number %d on: nothing is sent; see flutelog register status", s.Common.Seq+1)
	case TroubleBehind:
		return "register: this ledger is an OLD COPY: flutelog register recover"
	case TroubleClosed, TroubleStranger, TroubleKey, TroubleDamaged:
		return "register: nothing is taken; see flutelog register status"
	}
	since := ""
	if at, err := time.Parse(time.RFC3339, s.Answered); err == nil {
		at = at.In(now.Location())
		if since = " since " + at.Format("15:04"); now.Sub(at) > 20*time.Hour {
			since = " since " + at.Format("2006-01-02 15:04")
		}
	}
	behind := own.Seq
	if s.Sent.Bench == own.Bench {
		behind -= min(s.Sent.Seq, own.Seq)
	}
	switch {
	case behind == 0 && s.Failure == "":
		return "register: all sent"
	case behind == 0:
		return "register: all sent, not heard" + since
	case since == "":
		return fmt.Sprintf("register: nothing sent yet, %d lines wait", behind)
	}
	return fmt.Sprintf("register: %d behind%s", behind, since)
}

// Line says how the sending of a ledger stands, as Status.Line does; "" where it has joined no register.
func Line(l *ledger.Ledger, now time.Time) string {
	own, err := l.Head()
	if err != nil || !Joins(l.Dir()) {
		return ""
	}
	return ReadStatus(l.Dir()).Line(own, now)
}

// Warning says in words what a person must know at every start; "" for nothing.
func (s Status) Warning() string {
	return s.Words
}

// Sync sends what the register does not have, and keeps receipts and how it went in the ledger's folder.
func Sync(ctx context.Context, l *ledger.Ledger, e Enrolment, now func() time.Time) (Sent, error) {
	c := &Conn{Enrolment: e, Now: now}
	defer c.Close()
	if s := ReadStatus(l.Dir()); s.Trouble == TroubleFork {
		c.known = s.Common
	}
	sent, err := c.Send(ctx, l)
	if keepErr := keep(l, e, sent, err, now()); err == nil {
		err = keepErr
	}
	return sent, err
}

func keep(l *ledger.Ledger, e Enrolment, sent Sent, failed error, now time.Time) error {
	own, err := l.Head()
	if err != nil {
		return err
	}
	s := ReadStatus(l.Dir())
	s.Register, s.Tried, s.Failure = e.Address, now.Format(time.RFC3339), ""
	if s.Sent.Bench != own.Bench {
		s.Sent, s.Common = ledger.Head{}, ledger.Head{}
	}
	var none *NoAnswer
	var fork *Fork
	var behind *Behind
	var refused Refusal
	answered := !errors.As(failed, &none) && !errors.Is(failed, context.Canceled)
	if answered {
		s.Trouble, s.Words = "", ""
	}
	switch {
	case failed == nil:
	case errors.As(failed, &fork):
		s.Trouble, s.Common = TroubleFork, fork.Common
	case errors.As(failed, &behind):
		s.Trouble = TroubleBehind
	case errors.Is(failed, ErrClosed):
		s.Trouble = TroubleClosed
	case errors.Is(failed, ErrKey):
		s.Trouble = TroubleKey
	case errors.As(failed, &refused):
		switch refused.Why {
		case Stranger, NotYours:
			s.Trouble = TroubleStranger
		case Shut:
			s.Trouble = TroubleClosed
		case Damaged:
			s.Trouble = TroubleDamaged
		}
	}
	if failed != nil {
		s.Failure = failed.Error()
	}
	if answered && s.Trouble != "" {
		s.Words = s.Failure
	}
	if answered && s.Trouble != TroubleKey {
		s.Answered = s.Tried
	}
	if sent.Head.Date != "" {
		s.Answered, s.Sent = s.Tried, sent.Head.Ledger()
	}
	if a := sent.Acknowledged; a.Seq > 0 {
		if err := addReceipt(l.Dir(), Receipt{a.Date, e.Address, a.Ledger().String(), a.Witness}); err != nil {
			return err
		}
	}
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	return put(l.Dir(), statusName, append(text, '\n'))
}
