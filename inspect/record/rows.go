package record

import (
	"cmp"
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
	Tool, Job, Inspection string
	Bench                 string // the id of the bench at which it was read, whoever ruled on it or put it right since
	Stage                 inspect.Stage
	Verdict               inspect.Verdict
	Standing              Standing
	From, To              time.Time // of closing; To is not included
}

// ofInspections says whether it asks of inspections what a tool without one cannot answer.
func (f Filter) ofInspections() bool {
	return f.Inspection != "" || f.Bench != "" || f.Stage != "" || f.Verdict != "" || !f.From.IsZero() || !f.To.IsZero()
}

func (f Filter) takes(b *Brief) bool {
	switch {
	case f.Tool != "" && b.Tool != f.Tool,
		f.Job != "" && b.Job != f.Job,
		f.Inspection != "" && b.ID != f.Inspection,
		f.Bench != "" && b.Bench != f.Bench,
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

// amendments are where the corrections and rulings of a ledger stand, in the order of the summaries that they are about: a few
// bytes of each, since there may be as many as inspections.
type amendments struct {
	from      Source
	all       []amendment
	names     []string            // of benches and segments
	number    map[string]int32    // of those
	standings map[string]Standing // by tool
}

// amendment is one of them. Benches and segment are numbers in names.
type amendment struct {
	about, seq, counter uint64
	offset              int64
	of, bench, segment  int32 // the bench of what it is about; its own; the segment that it stands in
	ruling              bool
}

func readAmendments(l Source) (amendments, error) {
	a := amendments{from: l, number: map[string]int32{}, standings: map[string]Standing{}}
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
	a.all = make([]amendment, 0, ix.Amended)
	err = l.ScanKinds([]string{KindCorrection, KindRuling}, func(r ledger.Record) error {
		about, err := refOf(r.About), error(nil)
		if r.Kind == KindRuling && r.About == nil { // few are on a tool itself
			about, err = ruledOn(l, r)
		}
		if about.Seq > 0 {
			a.all = append(a.all, amendment{
				about.Seq, r.Seq, r.Counter, r.Offset, a.numberOf(about.Bench), a.numberOf(r.Bench), a.numberOf(r.Segment), r.Kind == KindRuling,
			})
		}
		return err
	})
	slices.SortFunc(a.all, a.compare)
	if damaged(err) {
		err = nil // it is found again, and said, by the scan that follows
	}
	return a, err
}

// compare sorts them by what they are about, and then as ledger.Compare does.
func (a *amendments) compare(x, y amendment) int {
	return cmp.Or(
		cmp.Compare(x.of, y.of), cmp.Compare(x.about, y.about),
		cmp.Compare(x.counter, y.counter), strings.Compare(a.names[x.bench], a.names[y.bench]), cmp.Compare(x.seq, y.seq),
	)
}

func (a *amendments) numberOf(name string) int32 {
	n, known := a.number[name]
	if !known {
		n = int32(len(a.names))
		a.number[name], a.names = n, append(a.names, name)
	}
	return n
}

// ruledOn returns the summary that a ruling on a tool itself is about, none where nothing was closed.
func ruledOn(l Source, r ledger.Record) (ledger.Ref, error) {
	body, err := decode(r)
	if err != nil {
		return ledger.Ref{}, err
	}
	_, f, err := readTool(l, strings.TrimPrefix(r.Subject, toolPrefix), nil)
	if err != nil && !damaged(err) {
		return ledger.Ref{}, err
	}
	h := f.ruledOn(&fact{Record: r, body: body})
	if h == nil {
		return ledger.Ref{}, nil
	}
	return h.summary(), nil
}

// about returns those that are about a summary, in the order of the ledger.
func (a *amendments) about(summary ledger.Record) []amendment {
	of, known := a.number[summary.Bench]
	if !known {
		return nil
	}
	i, _ := slices.BinarySearchFunc(a.all, amendment{of: of, about: summary.Seq}, a.compare)
	j, _ := slices.BinarySearchFunc(a.all, amendment{of: of, about: summary.Seq + 1}, a.compare)
	return a.all[i:j]
}

// read reads into a closing what was recorded of it since.
func (a *amendments) read(c *closing) error {
	for _, x := range a.about(c.summary) {
		r, err := a.from.Again(ledger.Record{Bench: a.names[x.bench], Seq: x.seq, Segment: a.names[x.segment], Offset: x.offset})
		if err != nil {
			return err
		}
		if r.About != nil && *r.About != c.summary.Ref() {
			continue // about another of that number
		}
		body, err := decode(r)
		if err != nil {
			return err
		}
		r.Body = nil
		switch b := body.(type) {
		case *Ruling:
			c.brief.Ruling, c.brief.Record = &Ruled{*b, r.Ref()}, r
		case *Correction:
			c.corrections = append(c.corrections, &fact{Record: r, body: b})
		}
	}
	return nil
}

func damaged(err error) bool {
	var d *ledger.DamageError
	return errors.As(err, &d)
}

// closing is the readings and the summary that were recorded together when an inspection was closed, with what was recorded
// of it since.
type closing struct {
	readings, summary ledger.Record
	brief             Brief   // without its corrections; the newest ruling is in it
	corrections       []*fact // oldest first
}

// closings gives those of all benches that a filter means, in the order of the ledger, without those of benches that are left
// out. One that is corrected it gives whether it is meant or not. What cannot be read of a damaged ledger comes last, as its
// *ledger.DamageError.
func closings(l Source, f Filter) iter.Seq2[closing, error] {
	return func(yield func(closing, error) bool) {
		leftOut, _, err := benchesOf(l)
		var a amendments
		if err == nil {
			a, err = readAmendments(l)
		}
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
			c := closing{readings: readings, summary: r}
			var err error
			if r.About == nil || *r.About != readings.Ref() { // what was in their place cannot be read; all else goes on
				lost := ledger.Damage{Segment: r.Segment, What: fmt.Sprintf("the readings of summary %d cannot be read", r.Seq), Subject: r.Subject}
				err = &ledger.DamageError{Damage: []ledger.Damage{lost}}
			} else if c.brief, err = parseBrief(string(r.Body)); err != nil {
				err = recordError(r, err)
			} else {
				c.brief.Record, c.brief.Bench, c.brief.Standing = r, r.Bench, a.standings[c.brief.Tool]
				corrected := slices.ContainsFunc(a.about(r), func(x amendment) bool { return !x.ruling })
				if !corrected && !f.takes(&c.brief) {
					return nil
				}
				c.brief.Record = r
				c.brief.Record.Body = nil
				err = a.read(&c)
			}
			if !yield(c, err) {
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
		for c, err := range closings(l, f) {
			var in *Inspection
			if err == nil {
				in, err = c.inspection()
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
		w := standingReadings{later: map[Question]bool{}}
		for c, err := range closings(l, f) {
			goOn := true
			if err == nil {
				goOn, err = w.rows(c, f, func(r *Row) bool { return yield(r, nil) })
			}
			if err != nil {
				goOn = yield(nil, err)
			}
			if !goOn {
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
func (w *standingReadings) rows(c closing, f Filter, yield func(*Row) bool) (goOn bool, err error) {
	if len(c.corrections) > 0 {
		in, err := c.inspection()
		if err != nil {
			return false, err
		}
		return !f.takes(in.Brief()) || in.rows(yield), nil
	}
	b := &c.brief
	row := Row{First: true, Taken: c.readings, Brief: b}
	row.Taken.Body = nil
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

// Brief returns the inspection in short.
func (in *Inspection) Brief() *Brief {
	b := &Brief{
		ID: in.ID, Tool: in.Tool.ID, Job: in.Job, Inspector: in.Inspector, Stage: in.Stage, Revision: in.Basis.Revision, Gauges: in.Basis.Gauges,
		Verdict: in.Judgement.Verdict, Closed: in.Closed, Practice: in.Figures.Practice, Bench: in.Record.Bench, Record: in.Newest,
		Amended: Amended{Standing: in.Stands.Standing, Ruling: in.Ruling()},
	}
	if n := len(in.Corrections); n > 0 {
		b.Corrected = &in.Corrections[n-1]
	}
	return b
}

// inspection puts an inspection together from its closing and what was recorded of it since.
func (c *closing) inspection() (*Inspection, error) {
	in := Inspection{Record: c.summary, Taken: c.readings, Newest: c.summary}
	in.Record.Body, in.Taken.Body, in.Newest.Body = nil, nil, nil
	if err := in.read(c.summary.Body, c.readings.Body); err != nil {
		return nil, err
	}
	in.Stands.Standing = c.brief.Standing
	for _, x := range c.corrections {
		in.correct(Corrected{*x.body.(*Correction), x.Record})
	}
	in.settle(conflicting(c.corrections))
	if r := c.brief.Ruling; r != nil {
		in.Rulings = []Ruled{*r}
		in.newer(c.brief.Record)
	}
	return &in, nil
}

// conflicting says whether the last of some corrections of one inspection does not build on all others.
func conflicting(corrections []*fact) bool {
	if len(corrections) == 0 {
		return false
	}
	last := corrections[len(corrections)-1].body.(*Correction)
	return slices.ContainsFunc(corrections[:len(corrections)-1], func(x *fact) bool { return !slices.Contains(last.After, x.Ref()) })
}

// read takes summary and readings apart.
func (in *Inspection) read(summary, readings []byte) error {
	if summary == nil || readings == nil {
		return errors.New("its readings are not to be had: the ledger is damaged, and flutelog ledger verify says where")
	}
	var sum Summary
	if err := unmarshal(summary, &sum); err != nil {
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
