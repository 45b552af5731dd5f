package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// Filter says which inspections are meant, by what stands; an empty field is any.
type Filter struct {
	Tool, Job, Bench string // Bench is a bench's id
	Stage            inspect.Stage
	Verdict          inspect.Verdict
	Standing         Standing
	From, To         time.Time // of closing; To is not included
}

func (f Filter) takes(b *Brief) bool {
	switch {
	case f.Tool != "" && b.Tool != f.Tool,
		f.Job != "" && b.Job != f.Job,
		f.Bench != "" && b.Record.Bench != f.Bench,
		f.Stage != "" && b.Stage != f.Stage,
		f.Verdict != "" && b.Verdict != f.Verdict,
		f.Standing != "" && b.Standing != f.Standing:
		return false
	}
	if f.From.IsZero() && f.To.IsZero() {
		return true
	}
	t, err := time.Parse(time.RFC3339, b.Closed)
	return err == nil && !t.Before(f.From) && (f.To.IsZero() || t.Before(f.To))
}

// Amended is what was recorded of an inspection since it was closed.
type Amended struct {
	Standing  Standing   // of the tool
	Corrected *Corrected // the newest, of all that is corrected or, in a row of one reading, of that
	Ruling    *Ruled     // the newest
}

// amendments are the corrections and rulings of a ledger, by the summary that they are about.
type amendments struct {
	corrections map[ledger.Ref][]fact
	rulings     map[ledger.Ref]fact
	standings   map[string]Standing // by tool
}

func readAmendments(l Source) (amendments, error) {
	a := amendments{map[ledger.Ref][]fact{}, map[ledger.Ref]fact{}, map[string]Standing{}}
	ix, err := readIndex(l)
	if err != nil && !damaged(err) {
		return a, err
	}
	for id, row := range ix.rows {
		a.standings[strings.Clone(id)] = Standing(strings.Clone(string(standingOf(row))))
	}
	if ix.Amended == 0 {
		return a, nil
	}
	err = l.ScanKinds([]string{KindCorrection, KindRuling}, func(r ledger.Record) error {
		body, err := decode(r)
		if err != nil {
			return err
		}
		x := fact{Record: r, body: body}
		x.Body = nil
		if r.Kind == KindRuling {
			return a.rule(l, x)
		}
		if r.About != nil {
			a.corrections[*r.About] = append(a.corrections[*r.About], x)
		}
		return nil
	})
	if damaged(err) {
		err = nil // it is found again, and said, by the scan that follows
	}
	return a, err
}

// rule takes a ruling.
func (a amendments) rule(l Source, x fact) error {
	about := refOf(x.About)
	if x.About == nil { // few are on a tool itself
		_, f, err := readTool(l, strings.TrimPrefix(x.Subject, toolPrefix), nil)
		if err != nil && !damaged(err) {
			return err
		}
		h := f.ruledOn(x)
		if h == nil {
			return nil
		}
		about = h.summary()
	}
	if old, ok := a.rulings[about]; !ok || ledger.Compare(x.Record, old.Record) > 0 {
		a.rulings[about] = x
	}
	return nil
}

func damaged(err error) bool {
	var d *ledger.DamageError
	return errors.As(err, &d)
}

// closing is the readings and the summary that were recorded together when an inspection was closed.
type closing struct {
	readings, summary ledger.Record
}

// closings gives those of all benches in the order of the ledger, without those of benches that are left out. What
// cannot be read of a damaged ledger comes last, as its *ledger.DamageError.
func closings(l Source) iter.Seq2[closing, error] {
	return func(yield func(closing, error) bool) {
		leftOut, _, err := benchesOf(l)
		if err != nil {
			yield(closing{}, err)
			return
		}
		stop := errors.New("enough")
		var readings ledger.Record
		err = l.ScanKinds([]string{KindReadings, KindSummary}, func(r ledger.Record) error {
			if leftOut[r.Bench] {
				return nil
			}
			if r.Kind == KindReadings {
				readings = r
				return nil
			}
			if r.About == nil || *r.About != readings.Ref() { // what was in their place cannot be read; all else goes on
				lost := ledger.Damage{Segment: r.Segment, What: fmt.Sprintf("the readings of summary %d cannot be read", r.Seq), Subject: r.Subject}
				if !yield(closing{}, &ledger.DamageError{Damage: []ledger.Damage{lost}}) {
					return stop
				}
				return nil
			}
			if !yield(closing{readings, r}, nil) {
				return stop
			}
			return nil
		})
		if err != nil && err != stop {
			yield(closing{}, err)
		}
	}
}

// Inspections gives the closed inspections of a ledger as they stand, in the order of the ledger. It holds one at a
// time. What cannot be read of a damaged ledger comes last, as an error.
func Inspections(l Source, f Filter) iter.Seq2[*Inspection, error] {
	return func(yield func(*Inspection, error) bool) {
		a, err := readAmendments(l)
		if err != nil {
			yield(nil, err)
			return
		}
		for c, err := range closings(l) {
			if err == nil {
				var b Brief
				if b, err = a.brief(c); err == nil && len(a.corrections[c.summary.Ref()]) == 0 && !f.takes(&b) {
					continue
				}
			}
			var in *Inspection
			if err == nil {
				in, err = a.inspection(c)
			}
			if err == nil && !f.takes(in.Brief()) {
				continue
			}
			if !yield(in, err) {
				return
			}
		}
	}
}

// Row is one reading as it stands, with the inspection it belongs to.
type Row struct {
	*Brief
	inspect.Reading
	Taken     ledger.Record // the record of the readings, without its body
	Corrected *Corrected    // the newest correction of this reading
	First     bool          // of its inspection
}

// Readings gives every reading that stands, in the order of the ledger. It holds the readings of one inspection at a
// time, and the row is the same one each time. What cannot be read of a damaged ledger comes last, as an error.
func Readings(l Source, f Filter) iter.Seq2[*Row, error] {
	return func(yield func(*Row, error) bool) {
		a, err := readAmendments(l)
		if err != nil {
			yield(nil, err)
			return
		}
		w := standingReadings{later: map[Question]bool{}}
		for c, err := range closings(l) {
			if err == nil {
				var goOn bool
				if goOn, err = w.rows(a, c, f, func(r *Row) bool { return yield(r, nil) }); err == nil && !goOn {
					return
				}
			}
			if err != nil && !yield(nil, err) {
				return
			}
		}
	}
}

// standingReadings reads the readings of one inspection after another in the same memory.
type standingReadings struct {
	said  []said            // the events of a readings record
	later map[Question]bool // what is said to later than the event looked at
}

// rows gives the readings of one inspection, and says whether to go on to the next.
func (w *standingReadings) rows(a amendments, c closing, f Filter, yield func(*Row) bool) (bool, error) {
	row := Row{First: true, Taken: c.readings}
	row.Taken.Body = nil
	if len(a.corrections[c.summary.Ref()]) > 0 {
		in, err := a.inspection(c)
		if err != nil {
			return false, err
		}
		return !f.takes(in.Brief()) || in.rows(yield), nil
	}
	b, err := a.brief(c)
	if err != nil {
		return false, err
	}
	if row.Brief = &b; !f.takes(&b) {
		return true, nil
	}
	if w.said, err = appendSaid(w.said[:0], string(c.readings.Body)); err != nil {
		return false, recordError(c.readings, err)
	}
	w.dropTakenBack()
	for i := range w.said {
		b.Practice = b.Practice || w.said[i].stands && inspect.Invents(b.Gauges, w.said[i].reading.Gauge)
	}
	for i := range w.said {
		if !w.said[i].stands {
			continue
		}
		row.Reading = w.said[i].reading
		if !yield(&row) {
			return false, nil
		}
		row.First = false
	}
	return true, nil
}

// Rows gives the readings of one inspection as Readings does.
func (in *Inspection) Rows() iter.Seq2[*Row, error] {
	return func(yield func(*Row, error) bool) {
		in.rows(func(r *Row) bool { return yield(r, nil) })
	}
}

// rows gives the readings of an inspection, and says whether to go on to the next.
func (in *Inspection) rows(yield func(*Row) bool) bool {
	row := Row{First: true, Taken: in.Taken, Brief: in.Brief()}
	for _, r := range in.Readings {
		row.Reading, row.Corrected = r, nil
		for i, x := range in.Corrections {
			if x.Reading != nil && x.Reading.Key() == r.Key() {
				row.Corrected = &in.Corrections[i]
			}
		}
		if !yield(&row) {
			return false
		}
		row.First = false
	}
	return true
}

// dropTakenBack goes through the events from the last to the first: a reading stands unless something is said to its
// question later.
func (w *standingReadings) dropTakenBack() {
	clear(w.later)
	for i := len(w.said) - 1; i >= 0; i-- {
		said := &w.said[i]
		said.stands = said.stands && !w.later[said.to]
		w.later[said.to] = true
	}
}

// brief reads as much of an inspection without corrections as its rows need.
func (a amendments) brief(c closing) (Brief, error) {
	b, err := parseBrief(string(c.summary.Body))
	if err != nil {
		return b, recordError(c.summary, err)
	}
	b.Record, b.Standing = c.summary, a.standings[b.Tool]
	if x, ok := a.rulings[c.summary.Ref()]; ok {
		b.Ruling, b.Record = &Ruled{*x.body.(*Ruling), x.Ref()}, x.Record
	}
	b.Record.Body = nil
	return b, nil
}

// Brief returns the inspection in short.
func (in *Inspection) Brief() *Brief {
	b := &Brief{
		ID: in.ID, Tool: in.Tool.ID, Job: in.Job, Inspector: in.Inspector, Stage: in.Stage, Revision: in.Basis.Revision, Gauges: in.Basis.Gauges,
		Verdict: in.Judgement.Verdict, Closed: in.Closed, Practice: in.Figures.Practice, Record: in.Newest,
		Amended: Amended{Standing: in.Stands.Standing, Ruling: in.Ruling()},
	}
	if n := len(in.Corrections); n > 0 {
		b.Corrected = &in.Corrections[n-1]
	}
	return b
}

// inspection puts an inspection together from its closing and what was recorded of it since.
func (a amendments) inspection(c closing) (*Inspection, error) {
	in := Inspection{Record: c.summary, Taken: c.readings, Newest: c.summary}
	in.Record.Body, in.Taken.Body, in.Newest.Body = nil, nil, nil
	if err := in.read(c.summary.Body, c.readings.Body); err != nil {
		return nil, err
	}
	in.Stands.Standing = a.standings[in.Tool.ID]
	corrections := slices.SortedFunc(slices.Values(a.corrections[c.summary.Ref()]), func(x, y fact) int { return ledger.Compare(x.Record, y.Record) })
	for _, x := range corrections {
		in.correct(Corrected{*x.body.(*Correction), x.Record})
	}
	in.settle(conflicting(corrections))
	if x, ok := a.rulings[c.summary.Ref()]; ok {
		in.Rulings = []Ruled{{*x.body.(*Ruling), x.Ref()}}
		in.newer(x.Record)
	}
	return &in, nil
}

// conflicting says whether the last of some corrections of one inspection does not build on all others.
func conflicting(corrections []fact) bool {
	if len(corrections) == 0 {
		return false
	}
	last := corrections[len(corrections)-1].body.(*Correction)
	return slices.ContainsFunc(corrections[:len(corrections)-1], func(x fact) bool { return !slices.Contains(last.After, x.Ref()) })
}

// read takes summary and readings apart.
func (in *Inspection) read(summary, readings []byte) error {
	var sum Summary
	if err := json.Unmarshal(summary, &sum); err != nil {
		return recordError(in.Record, err)
	}
	var r Taken
	if err := json.Unmarshal(readings, &r); err != nil {
		return recordError(in.Taken, err)
	}
	d, err := r.Fold()
	if err != nil {
		return recordError(in.Taken, err)
	}
	in.Inspection, in.Judgement = d.Inspection, sum.Judgement
	in.Opened, in.Closed, in.Discarded, in.Skipped = sum.Opened, sum.Closed, sum.Discarded, sum.Skipped
	return nil
}

// settle works out what the inspection comes to once its corrections are applied.
func (in *Inspection) settle(conflict bool) {
	if in.Conflict = conflict; conflict {
		in.Judgement = inspect.Judge(in.Inspection)
	}
	in.Figures = figuresOf(in.Inspection, in.Judgement, in.Closed)
	in.Figures.Discarded, in.Figures.Corrects = in.Discarded != "", len(in.Corrections) > 0
}
