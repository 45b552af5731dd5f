package record

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/text"
)

// Summary is the body of the record that closes an inspection: what it came to and what that rests on.
type Summary struct {
	Inspection inspect.Inspection `json:"inspection"` // without its readings
	Judgement  inspect.Judgement  `json:"judgement"`
	Readings   int                `json:"readings"`
	Hash       string             `json:"readings_sha256"` // of the body of the readings record
	Opened     string             `json:"opened"`
	Closed     string             `json:"closed"`
	Skipped    []Skipped          `json:"skipped,omitempty"`
	Discarded  string             `json:"discarded,omitempty"` // why, when the inspection was given up
}

// Inspected is one inspection made for a job.
type Inspected struct {
	Inspection string        `json:"inspection"`
	Tool       string        `json:"tool"`
	Stage      inspect.Stage `json:"stage"`
}

// Study is what a study of a gauge came to.
type Study struct {
	Date   string  `json:"date"` // YYYY-MM-DD, UTC
	Who    string  `json:"who,omitempty"`
	SD     float64 `json:"sd_um"`            // of one reading; of a holding, per axis of seating the tool
	DF     int     `json:"df"`               // degrees of freedom of SD
	Detail any     `json:"detail,omitempty"` // all that it came to, as the study prints it; nothing here reads it back
}

// Dress is one dress of a wheel: what wore is gone, and its wear is counted anew.
type Dress struct {
	Date string `json:"date"` // YYYY-MM-DD, UTC
	Who  string `json:"who,omitempty"`
	Note string `json:"note,omitempty"`
}

// FixedLimits are the limits of one chart of some inspections, held until they are fixed anew.
type FixedLimits struct {
	Date   string          `json:"date"`           // YYYY-MM-DD, UTC
	Chart  string          `json:"chart"`          // which chart of which inspections, in words
	Unit   string          `json:"unit,omitempty"` // of the limits: in, mm, deg, or 1 for a share
	By     string          `json:"by,omitempty"`
	Limits json.RawMessage `json:"limits"` // as the chart writes them; null: let go
}

// kinds says what the body of each kind is, and how it is told to be whole. Nil where nothing but JSON is wanted.
var kinds = map[string]func() any{
	KindOpened: func() any { return new(Opened) }, KindReadings: func() any { return new(Taken) }, KindSummary: func() any { return new(Summary) },
	KindFigures: func() any { return new(Figures) }, KindTool: func() any { return new(inspect.Tool) }, KindLock: func() any { return new(Lock) },
	KindUnlock: func() any { return new(Unlocking) }, KindRuling: func() any { return new(Ruling) }, KindCorrection: func() any { return new(Correction) },
	KindRecall: func() any { return new(Recall) }, KindGround: func() any { return new(Ground) }, KindAway: func() any { return new(Away) },
	KindNote: func() any { return new(Note) }, KindJob: func() any { return new(Job) }, KindInspected: func() any { return new(Inspected) },
	KindStudy: func() any { return new(Study) }, KindLimits: func() any { return new(FixedLimits) }, KindDress: func() any { return new(Dress) },
	KindLeaveOut: func() any { return new(LeaveOut) },
}

// decode takes a record's body apart; nil for a kind that is not known to this version.
func decode(r ledger.Record) (any, error) {
	make := kinds[r.Kind]
	if r.Kind == KindJob && strings.HasPrefix(r.Subject, toolPrefix) {
		make = func() any { return new(Received) }
	}
	if make == nil {
		return nil, nil
	}
	body := make()
	var err error
	switch b := body.(type) {
	case *Figures:
		*b, err = ReadFigures(r.Body)
	case *Opened:
		*b, err = parseOpened(string(r.Body))
	case *Taken:
		if *b, err = parseTaken(string(r.Body)); err != nil { // it is odd, but may be read
			err = json.Unmarshal(r.Body, b)
		}
	case *Summary:
		err = unmarshal(r.Body, b)
	case *Ruling:
		err = unmarshal(r.Body, b)
	default:
		err = json.Unmarshal(r.Body, body)
	}
	if err == nil {
		err = whole(r, body)
	}
	if err != nil {
		return nil, recordError(r, err)
	}
	return body, nil
}

// whole returns why a body cannot be what its kind says, or nil: readers rest on it wherever a record came from.
func whole(r ledger.Record, body any) error {
	of := func(tool string) error {
		if r.Subject != ToolSubject(tool) {
			return fmt.Errorf("it is of tool %q, and stands under %q", tool, r.Subject)
		}
		return nil
	}
	needs := func(about bool) error {
		if about && r.About == nil {
			return errors.New("it does not name the record that it is about")
		}
		return nil
	}
	switch b := body.(type) {
	case *inspect.Tool:
		return cmp.Or(b.Check(), of(b.ID))
	case *Opened:
		return of(b.Inspection.Tool.ID)
	case *Summary:
		return cmp.Or(b.Inspection.Tool.Check(), of(b.Inspection.Tool.ID), needs(true))
	case *Figures:
		return cmp.Or(of(b.Tool), needs(true))
	case *Ruling:
		if b.Word != Release && b.Word != Concession && b.Word != Withdraw {
			return fmt.Errorf("ruling %q is not known", b.Word)
		}
		return needs(b.Word != Withdraw)
	case *Correction:
		if (b.Reading == nil) == (b.Seen == nil) {
			return errors.New("it corrects nothing, or two things")
		}
		return needs(true)
	case *Unlocking, *Recall:
		return needs(true)
	case *Job:
		if err := b.Check(); err != nil {
			return err
		}
		if r.Subject != jobPrefix+b.ID {
			return fmt.Errorf("it is of job %q, and stands under %q", b.ID, r.Subject)
		}
	}
	return nil
}

func recordError(r ledger.Record, err error) error {
	var syntax *json.SyntaxError
	var wrongType *json.UnmarshalTypeError
	switch {
	case errors.As(err, &wrongType) && wrongType.Field != "":
		err = fmt.Errorf("its %s is not of the kind that it must be", wrongType.Field)
	case errors.As(err, &wrongType) || errors.As(err, &syntax):
		err = errors.New("it does not read as what it must be")
	}
	return fmt.Errorf("record %d of bench %s, %s: %w", r.Seq, r.Bench, r.Kind, err)
}

// Check returns why a record that comes from elsewhere cannot be taken for what it says it is, or nil. Kinds that
// this version does not know are passed.
func Check(r ledger.Record) error {
	if r.Kind == KindReadings && folds(r.Body) {
		return nil
	}
	body, err := decode(r)
	if err != nil {
		return err
	}
	switch b := body.(type) {
	case *Opened:
		_, err = Taken{ID: b.Inspection.ID, Events: []json.RawMessage{r.Body}}.Fold()
	case *Taken:
		_, err = b.Fold()
	}
	if err != nil {
		return recordError(r, err)
	}
	return nil
}

// Stamp is a time as records hold it: RFC 3339 in UTC, to the microsecond.
func Stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000Z") }

// entry makes an entry of a body.
func entry(kind, subject string, body any) (ledger.Entry, error) {
	text, err := json.Marshal(body)
	return ledger.Entry{Kind: kind, Subject: subject, Body: text}, err
}

// save records one body under a subject.
func save(l *ledger.Ledger, kind, subject string, body any) (ledger.Record, error) {
	e, err := entry(kind, subject, body)
	if err != nil {
		return ledger.Record{}, err
	}
	records, err := l.Append(e)
	if err != nil {
		return ledger.Record{}, err
	}
	return records[0], nil
}

// quantityOf returns what a stored figure is; nil for none.
func quantityOf(text json.RawMessage) *inspect.Quantity {
	f, err := ReadFigure(text)
	if f == nil || err != nil {
		return nil
	}
	return &f.Value
}

// CheckElsewhere is Check for a record that is about to be taken in: what people wrote in it must be fit to show as well. What a
// gauge sent stands as it came.
func CheckElsewhere(r ledger.Record) error {
	if err := Check(r); err != nil {
		return err
	}
	var body any
	if err := json.Unmarshal(r.Body, &body); err != nil {
		return err
	}
	return text.CheckAll(body, "text", "raw", "frame", "trace")
}
