package record

import (
	"cmp"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// Close makes the entries that close an inspection: its readings, its summary, a line to its job's and its figures.
// They belong in one append. events is its whole draft; d is what they come to; discarded says why it was given up.
func Close(d Draft, events []json.RawMessage, j inspect.Judgement, closed, discarded string) ([]ledger.Entry, error) {
	in := d.Inspection
	readings, err := json.Marshal(Taken{ID: in.ID, Events: events})
	if err != nil {
		return nil, err
	}
	sum := Summary{
		Inspection: in, Judgement: j, Readings: len(in.Readings), Hash: fmt.Sprintf("%x", sha256.Sum256(readings)),
		Opened: d.Opened, Closed: closed, Skipped: d.Skipped, Discarded: discarded,
	}
	sum.Inspection.Readings = nil
	figures := figuresOf(in, j, closed)
	figures.Discarded = discarded != ""
	subject := ToolSubject(in.Tool.ID)
	entries := []ledger.Entry{{Kind: KindReadings, Subject: subject, Body: readings}}
	add := func(kind, subject string, body any, back int) {
		e, failed := entry(kind, subject, body)
		err = cmp.Or(err, failed)
		e.AboutBack = back
		entries = append(entries, e)
	}
	add(KindSummary, subject, sum, 1)
	if in.Job != "" && discarded == "" {
		add(KindInspected, jobPrefix+in.Job, Inspected{in.ID, in.Tool.ID, in.Stage}, 1)
	}
	add(KindFigures, subject, figures, len(entries)-1)
	return entries, err
}

// LockNow records that something was seen in an open inspection that locks its tool. It comes before the draft's own
// line, so that no power cut can leave the one without the other.
func LockNow(l *ledger.Ledger, in inspect.Inspection, seen inspect.Seen, opened ledger.Ref, at string) error {
	e, err := entry(KindLock, ToolSubject(in.Tool.ID), Lock{Inspection: in.ID, Stage: in.Stage, Sight: seen.Sight, Flute: seen.Flute, Unsure: seen.Unsure, Note: seen.Note, By: in.Inspector, At: at})
	if err != nil {
		return err
	}
	e.About = &opened
	_, err = l.Append(e)
	return err
}

// LocksTool says whether something seen at a stage locks the tool at once.
func LocksTool(seen inspect.Seen, stage inspect.Stage) bool {
	return seen.Yes && seen.Sight.Locks(stage)
}

// TakenBack notes on the locks of an open inspection that what was seen was a slip. They stand until one who may sign
// lifts them.
func TakenBack(l *ledger.Ledger, in inspect.Inspection, sight inspect.Sight, at string) error {
	t, err := FindTool(l, in.Tool.ID)
	if err != nil {
		return err
	}
	for _, lock := range t.Locks {
		if lock.Inspection != in.ID || lock.Sight != sight || lock.TakenBack {
			continue
		}
		e, err := entry(KindNote, ToolSubject(t.ID), Note{Text: "taken back at once: " + strings.ReplaceAll(string(sight), "-", " "), TakenBack: true, By: in.Inspector, At: at})
		if err != nil {
			return err
		}
		e.About = &lock.Ref
		if _, err := l.Append(e); err != nil {
			return err
		}
	}
	return nil
}

// Open lists the inspections of a ledger that are open here, as far as they are answered. A draft that cannot be read
// does not keep the others from being listed; it comes as an error behind them.
func Open(l *ledger.Ledger) ([]Draft, error) {
	names, err := l.Drafts()
	if err != nil {
		return nil, err
	}
	var open []Draft
	var failed error
	for _, name := range names {
		content, err := l.ReadDraft(name)
		if err == nil {
			var d Draft
			if d, err = foldDraft(content); err == nil {
				open = append(open, d)
				continue
			}
		}
		failed = cmp.Or(failed, fmt.Errorf("draft %q: %w", name, err))
	}
	slices.SortStableFunc(open, func(a, b Draft) int { return Natural(a.Inspection.ID, b.Inspection.ID) })
	return open, failed
}
